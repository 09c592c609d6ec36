"""Parts that are worked again: how often they come, how many are given up, what it costs in time and capacity."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ReworkVisits:
    """How often a part comes to a station that may send it round again.

    Parameters
    ----------
    visits : mean visits of a part, the first counted
    variance : of the number of visits
    reworks : mean number of times it is sent back
    scrapped_share : parts that fail at their last visit too
    visits_per_good : mean visits per part that is not scrapped; infinite where all are
    """

    visits: float
    variance: float
    reworks: float
    scrapped_share: float
    visits_per_good: float


@dataclass(frozen=True)
class ReworkTime:
    """Time of a part at a station that may send it round again, all its visits together.

    Parameters
    ----------
    mean_s : per started part. [s]
    squared_cv : variance over the mean squared
    good_per_s : good parts a second of a station that always has work. [1/s]
    """

    mean_s: float
    squared_cv: float
    good_per_s: float


def rework_visits(chance: float, at_most: int | None = None) -> ReworkVisits:
    """Visits of a part that fails with a given chance each time and is worked again, so many times at most.

    Parameters
    ----------
    chance : p, 0 to 1, of failing at one visit; under 1 without a limit
    at_most : m >= 0, reworks of one part; None: no limit

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    Visits V = min(geometric, m + 1): E V = (1 - p^(m+1)) / (1 - p), E V² = Σ_(k ≤ m) (2k + 1) p^k; scrapped p^(m+1).
    Without a limit E V = 1 / (1 - p), variance p / (1 - p)². E V over the good share is 1 / (1 - p) with every limit.

    Source
    ------
    The geometric law cut off, textbook material; derivable. Held to enumeration, to a linear system and to printed
    values in tests/reference/test_rework.py.

    Examples
    --------
    >>> found = rework_visits(0.2, at_most=2)
    >>> round(found.visits, 12), round(found.scrapped_share, 12), round(found.visits_per_good, 12)
    (1.24, 0.008, 1.25)
    """
    if not 0.0 <= chance <= 1.0 or (at_most is not None and at_most < 0) or (at_most is None and chance == 1.0):
        raise ValueError(
            f"a chance of {chance} and {at_most} reworks at most: 0 to 1 (under 1 without a limit), 0 or more"
        )
    if at_most is None:
        visits = 1.0 / (1.0 - chance)
        return ReworkVisits(visits, chance * visits**2, visits - 1.0, 0.0, visits)
    reached = [chance**k for k in range(at_most + 1)]
    visits = sum(reached)
    square = sum((2 * k + 1) * share for k, share in enumerate(reached))
    scrapped = chance ** (at_most + 1)
    per_good = visits / (1.0 - scrapped) if scrapped < 1.0 else float("inf")
    return ReworkVisits(visits, square - visits**2, visits - 1.0, scrapped, per_good)


def rework_time(process_s: float, squared_cv: float, chance: float, at_most: int | None = None) -> ReworkTime:
    """Mean and variation of a part's time at a station with rework, and the station's capacity in good parts.

    Parameters
    ----------
    process_s : mean time of one visit, > 0. [s]
    squared_cv : its variance over its mean squared, >= 0
    chance, at_most : as in `rework_visits`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    A sum of V independent times: E = E V t, variance = E V σ² + Var V t². Capacity = (1 - scrapped) / E = (1 - p) / t
    with every limit: a limit saves work on parts that are lost in return.

    Source
    ------
    Wald's identities; derivable.

    Examples
    --------
    >>> found = rework_time(10.0, 0.0, 0.2, at_most=2)
    >>> round(found.mean_s, 9), round(found.good_per_s, 9)
    (12.4, 0.08)
    """
    if process_s <= 0.0 or squared_cv < 0.0:
        raise ValueError("process time is above 0, variation not under 0")
    found = rework_visits(chance, at_most)
    variance = found.visits * squared_cv + found.variance
    mean_s = found.visits * process_s
    return ReworkTime(mean_s, variance / found.visits**2, (1.0 - found.scrapped_share) / mean_s)
