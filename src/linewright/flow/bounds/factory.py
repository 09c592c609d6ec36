"""The laws of a line with a fixed number of jobs in it: best, worst and practical worst case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class LineCharacter:
    """What the laws need of a line.

    Parameters
    ----------
    bottleneck_per_s : rate of its slowest step when never starved. [1/s]
    raw_time_s : time of one job alone through the line. [s]
    critical_jobs : jobs with which a line without variation reaches the bottleneck rate at the raw time
    """

    bottleneck_per_s: float
    raw_time_s: float
    critical_jobs: float


@dataclass(frozen=True)
class LineState:
    """Rate and time through the line with a given number of jobs in it; their product is that number (Little's law)."""

    rate_per_s: float
    time_s: float


@dataclass(frozen=True)
class InterruptedTime:
    """A process time with outages in it.

    Parameters
    ----------
    availability : share of the time in which the machine is up
    mean_s : effective mean. [s]
    squared_cv : variance over the mean squared
    """

    availability: float
    mean_s: float
    squared_cv: float


def line_character(process_s: Sequence[float], machines: Sequence[int]) -> LineCharacter:
    """Bottleneck rate, raw time and critical number of jobs of a line.

    Parameters
    ----------
    process_s : > 0    Mean time of a job at each step. [s]
    machines : >= 1    Machines at each step, each with a job of its own

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      r_b = min m / t, T_0 = Σ t, W_0 = r_b T_0.
    Source     Hopp and Spearman, Factory Physics, 3rd ed., ch. 7; records of tests/reference/data/factory_physics.json.
    Examples   >>> line_character([2.0, 5.0, 10.0, 3.0], [1, 2, 6, 2])
               LineCharacter(bottleneck_per_s=0.4, raw_time_s=20.0, critical_jobs=8.0)
    """
    if not process_s or len(process_s) != len(machines) or min(process_s) <= 0.0 or min(machines) < 1:
        raise ValueError("every step has a time above 0 and at least one machine")
    rate = min(m / t for t, m in zip(process_s, machines, strict=True))
    raw_s = sum(process_s)
    return LineCharacter(rate, raw_s, rate * raw_s)


def best_case(bottleneck_per_s: float, raw_time_s: float, carriers: int) -> LineState:
    """The most that a line can do with a number of jobs: nothing varies.

    Parameters
    ----------
    bottleneck_per_s : rate of the slowest step, > 0. [1/s]
    raw_time_s : time of one job alone through the line, > 0, at least 1 / bottleneck_per_s. [s]
    carriers : jobs in the line, >= 1

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      rate = min(w / T_0, r_b), time = max(T_0, w / r_b).
    Source     Hopp and Spearman, Factory Physics, 3rd ed., ch. 7; Table 7.2 in tests/reference.
    Examples   >>> best_case(0.5, 8.0, 6)
               LineState(rate_per_s=0.5, time_s=12.0)
    """
    _check(bottleneck_per_s, raw_time_s, carriers)
    return LineState(min(carriers / raw_time_s, bottleneck_per_s), max(raw_time_s, carriers / bottleneck_per_s))


def worst_case(raw_time_s: float, carriers: int) -> LineState:
    """The least that a line can do whose stations never idle together: all jobs travel in one heap.

    Parameters
    ----------
    raw_time_s, carriers : as in `best_case`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      rate = 1 / T_0, time = w T_0.
    Source     Hopp and Spearman, Factory Physics, 3rd ed., ch. 7, s. 7.3.2.
    Examples   >>> worst_case(8.0, 4)
               LineState(rate_per_s=0.125, time_s=32.0)
    """
    _check(1.0 / raw_time_s if raw_time_s > 0.0 else 0.0, raw_time_s, carriers)
    return LineState(1.0 / raw_time_s, carriers * raw_time_s)


def practical_worst_case(bottleneck_per_s: float, raw_time_s: float, carriers: int) -> LineState:
    """The rate of a balanced line of single machines whose states are all equally likely: a usual yardstick, no bound.

    Parameters
    ----------
    bottleneck_per_s, raw_time_s, carriers : as in `best_case`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      rate = w / (W_0 + w − 1) · r_b, time = T_0 + (w − 1) / r_b, with W_0 = r_b T_0.
    Source     Hopp and Spearman, Factory Physics, 3rd ed., ch. 7, s. 7.3.3.
    Examples   >>> practical_worst_case(0.5, 8.0, 5)
               LineState(rate_per_s=0.3125, time_s=16.0)
    """
    _check(bottleneck_per_s, raw_time_s, carriers)
    time_s = raw_time_s + (carriers - 1) / bottleneck_per_s
    return LineState(carriers / time_s, time_s)


def interrupted_time(
    process_s: float, squared_cv: float, up_s: float, repair_s: float, repair_cv: float = 1.0
) -> InterruptedTime:
    """Mean and variation of a process time into which outages fall.

    Parameters
    ----------
    process_s : mean without outages, > 0. [s]
    squared_cv : variance over mean squared without outages, >= 0
    up_s : mean time in operation between outages, exponential, > 0. [s]
    repair_s : mean length of an outage, >= 0. [s]
    repair_cv : standard deviation over mean of an outage's length, >= 0

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    A = m_f / (m_f + m_r), t_e = t_0 / A, c_e² = c_0² + (1 + c_r²) A (1 − A) m_r / t_0.

    Source
    ------
    Hopp and Spearman, Factory Physics, 3rd ed., ch. 8, s. 8.4, read second-hand; derivable.

    Examples
    --------
    >>> interrupted_time(15.0, 0.05, 744.0, 248.0)
    InterruptedTime(availability=0.75, mean_s=20.0, squared_cv=6.25)
    """
    if process_s <= 0.0 or up_s <= 0.0 or min(squared_cv, repair_s, repair_cv) < 0.0:
        raise ValueError("process and up times are above 0; variation and repair are not under 0")
    share = up_s / (up_s + repair_s)
    more = (1.0 + repair_cv**2) * share * (1.0 - share) * repair_s / process_s
    return InterruptedTime(share, process_s / share, squared_cv + more)


def _check(rate_per_s: float, raw_time_s: float, carriers: int) -> None:
    if rate_per_s <= 0.0 or raw_time_s <= 0.0 or carriers < 1:
        raise ValueError(f"rate {rate_per_s}/s, raw time {raw_time_s} s, {carriers} jobs: above 0, above 0, at least 1")
    if rate_per_s * raw_time_s < 1.0 - 1e-9:
        raise ValueError(
            f"a line of raw time {raw_time_s} s cannot have a step as slow as {rate_per_s}/s: it takes longer alone"
        )
