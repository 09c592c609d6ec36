"""What follows from the rates of several numbers of carriers: plateau, smallest counts that do, blocking, one out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from linewright.flow.statistics import Interval
from linewright.planning.counts import PlanRuns, difference

NEAR: Final = 0.005
"""Share of the plateau's rate within which a count is as good."""
BLOCKED_FROM: Final = 0.01
"""Share of all stations' time that must be blocked for blocking to have begun."""
CONFIDENCE: Final = 0.95


@dataclass(frozen=True)
class Plateau:
    """The most rate that any of the counts gives.

    Parameters
    ----------
    carriers : the count with the largest mean rate; of equal ones the fewest
    rate : of that count. [1/h]
    counts : all counts that are as good: the difference to that count is within 0.5 % of its rate in the mean, or its
        95 % interval holds zero
    at_end : the largest mean is that of the last count, so that more carriers might give more
    """

    carriers: int
    rate: Interval
    counts: tuple[int, ...]
    at_end: bool


@dataclass(frozen=True)
class SmallestNear:
    """The fewest carriers that are shown to lie within 0.5 % of the plateau's rate.

    Parameters
    ----------
    carriers : the fewest for which the whole 95 % interval of the difference lies above −0.5 % of the plateau's rate
    difference : its rate less the plateau's, paired. [1/h]
    by_mean : the fewest for which the mean of the difference alone does; more runs may confirm them
    """

    carriers: int
    difference: Interval
    by_mean: int


@dataclass(frozen=True)
class OneOut:
    """The line's own number of carriers with one taken out.

    Parameters
    ----------
    carriers : that are left
    rate : with them. [1/h]
    difference : that rate less the rate with all, paired. [1/h]
    meets_takt : the whole interval of `rate` is at or above the required rate; None without a demand
    """

    carriers: int
    rate: Interval
    difference: Interval
    meets_takt: bool | None


@dataclass(frozen=True)
class Lower:
    """A count that gives less than a smaller one.

    Parameters
    ----------
    carriers : the count
    than : the smaller count with the largest mean rate
    difference : its rate less that one's, paired, wholly below zero at the confidence it carries. [1/h]
    """

    carriers: int
    than: int
    difference: Interval


@dataclass(frozen=True)
class Choices:
    """The named results of a range of counts.

    Parameters
    ----------
    reason : why no count has an interval, in words; None where at least one has. Without one only `onset_of_blocking`
        is known
    plateau : None without an interval
    smallest_near : the fewest within 0.5 % of the plateau; None without an interval
    smallest_meeting_takt : the fewest whose whole 95 % interval is at or above the required rate; None where none is or
        the line file states no demand
    smallest_meeting_takt_one_out : the fewest that do and still do with one carrier out; None where none is known
    all_fail : with a demand, every count's whole interval lies below the required rate
    one_out : of the line's own number of carriers; None where that is 1 or has no interval
    onset_of_blocking : the fewest with which more than 1 % of all stations' time is blocked; None where none is
    lower : counts that give less than a smaller count, ascending
    """

    reason: str | None
    plateau: Plateau | None
    smallest_near: SmallestNear | None
    smallest_meeting_takt: int | None
    smallest_meeting_takt_one_out: int | None
    all_fail: bool
    one_out: OneOut | None
    onset_of_blocking: int | None
    lower: tuple[Lower, ...]


def choose(
    asked: tuple[PlanRuns, ...], known: Mapping[int, PlanRuns], carriers: int, required_per_h: float | None
) -> Choices:
    """The named results.

    Parameters
    ----------
    asked : runs of the counts that may be chosen, ascending
    known : runs of these and other counts, by count
    carriers : the line's own number
    required_per_h : good parts an hour that the demand asks for; None without a demand. [1/h]
    """
    rated = tuple(one for one in asked if one.rate is not None)
    onset = next((one.carriers for one in asked if one.blocked_share > BLOCKED_FROM), None)
    meeting = [one.carriers for one in rated if _meets(one, required_per_h)]
    fails = [one.rate is not None and required_per_h is not None and one.rate.high < required_per_h for one in asked]
    return Choices(
        reason=None if rated else next((one.reason for one in asked if one.reason), "no count was run"),
        plateau=_plateau(rated, asked[-1].carriers) if rated else None,
        smallest_near=_smallest_near(rated) if rated else None,
        smallest_meeting_takt=min(meeting, default=None),
        smallest_meeting_takt_one_out=_with_one_out(meeting, known, required_per_h),
        all_fail=all(fails),
        one_out=_one_out(known, carriers, required_per_h),
        onset_of_blocking=onset,
        lower=_lower(rated),
    )


def _meets(one: PlanRuns, required_per_h: float | None) -> bool:
    return one.rate is not None and required_per_h is not None and one.rate.low >= required_per_h


def _with_one_out(meeting: list[int], known: Mapping[int, PlanRuns], required_per_h: float | None) -> int | None:
    for count in meeting:
        fewer = known.get(count - 1)
        if fewer is not None and _meets(fewer, required_per_h):
            return count
    return None


def _best(rated: tuple[PlanRuns, ...]) -> PlanRuns:
    return max(rated, key=lambda one: (_mean(one), -one.carriers))


def _mean(one: PlanRuns) -> float:
    assert one.rate is not None
    return one.rate.mean


def _plateau(rated: tuple[PlanRuns, ...], last: int) -> Plateau:
    best = _best(rated)
    assert best.rate is not None
    near = NEAR * best.rate.mean
    counts = []
    for one in rated:
        apart = difference(best, one, CONFIDENCE)
        if apart.mean >= -near or apart.low <= 0.0 <= apart.high:
            counts.append(one.carriers)
    return Plateau(best.carriers, best.rate, tuple(counts), at_end=best.carriers == last)


def _smallest_near(rated: tuple[PlanRuns, ...]) -> SmallestNear:
    """The best count itself is within 0.5 % of itself, so there always is one."""
    best = _best(rated)
    near = NEAR * _mean(best)
    apart = {one.carriers: difference(best, one, CONFIDENCE) for one in rated}
    shown = next(count for count, one in apart.items() if one.low >= -near)
    by_mean = next(count for count, one in apart.items() if one.mean >= -near)
    return SmallestNear(shown, apart[shown], by_mean)


def _one_out(known: Mapping[int, PlanRuns], carriers: int, required_per_h: float | None) -> OneOut | None:
    whole, fewer = known.get(carriers), known.get(carriers - 1)
    if whole is None or fewer is None or whole.rate is None or fewer.rate is None:
        return None
    meets = None if required_per_h is None else _meets(fewer, required_per_h)
    return OneOut(carriers - 1, fewer.rate, difference(whole, fewer, CONFIDENCE), meets)


def _lower(rated: tuple[PlanRuns, ...]) -> tuple[Lower, ...]:
    """Each count against the best of the smaller ones; the confidence is raised so that 95 % holds for all together.

    Source     Bonferroni's inequality, common practice.
    """
    pairs = max(1, len(rated) - 1)
    found = []
    for i in range(1, len(rated)):
        best = _best(rated[:i])
        apart = difference(best, rated[i], 1.0 - (1.0 - CONFIDENCE) / pairs)
        if apart.high < 0.0:
            found.append(Lower(rated[i].carriers, best.carriers, apart))
    return tuple(found)
