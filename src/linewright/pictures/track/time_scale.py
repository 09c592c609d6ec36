"""Time down the page: how high a stretch of time is drawn, and at which round instants it is told."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.quantities import KEEP

PX_A_SECOND: Final = 5.5
LEAST_PX: Final = 400.0
MOST_PX: Final = 1600.0
"""A longer stretch is compressed, a shorter one stretched."""

MOST_IN_S: Final = 300.0
MOST_IN_MIN: Final = 3.0 * 3600.0
TICK_ROOM: Final = 3.2  # between two ticks, in sizes of their numbers
TICKS_S: Final = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)


@dataclass(frozen=True)
class TimeScale:
    """The unit in which the time axis counts, and its ticks.

    Parameters
    ----------
    unit : ``s``, ``min`` or ``h``
    unit_s : how long that is. [s]
    ticks_s : round instants within the stretch, after the start of the run. [s]
    """

    unit: str
    unit_s: float
    ticks_s: tuple[int, ...]


def plot_height_px(span_s: float) -> float:
    """Height of a stretch of time: 5.5 px a second, no less than 400 px and no more than 1,600 px."""
    return min(MOST_PX, max(LEAST_PX, PX_A_SECOND * span_s))


def is_compressed(span_s: float) -> bool:
    """Whether a stretch is so long that it takes less than 5.5 px a second."""
    return PX_A_SECOND * span_s > MOST_PX


def counted_in(span_s: float) -> tuple[str, float]:
    """The unit in which the axis of a stretch counts, and how long that is. [s]"""
    if span_s > MOST_IN_MIN:
        return "h", 3600.0
    return ("min", 60.0) if span_s > MOST_IN_S else ("s", 1.0)


def seconds(time_s: float) -> str:
    """A time with its unit: whole seconds where it is long, else to three digits.

    Examples
    --------
    >>> [seconds(one).replace(KEEP, " ") for one in (4340.2, 240.0, 6.9312)]
    ['4 340 s', '240 s', '6.93 s']
    """
    number = f"{time_s:,.0f}" if time_s >= 100.0 else f"{time_s:.3g}"
    return f"{number.replace(',', KEEP)}{KEEP}s"


def from_to(start_s: float, end_s: float, span_s: float) -> str:
    """Two instants in whole seconds, and in the unit of the axis where that is another.

    Parameters
    ----------
    start_s, end_s : the instants. [s]
    span_s : of the stretch that the axis shows. [s]

    Examples
    --------
    >>> from_to(4340.2, 4581.0, 420.0).replace(KEEP, " ")
    '4 340 s to 4 581 s (72.3 min to 76.3 min)'
    >>> from_to(4340.2, 4341.0, 420.0).replace(KEEP, " ")
    '4 340 s to 4 341 s (72.3 min)'
    >>> from_to(20.0, 41.0, 120.0).replace(KEEP, " ")
    '20 s to 41 s'
    """
    first, last = (f"{at_s:,.0f}".replace(",", KEEP) for at_s in (start_s, end_s))
    words = f"{first}{KEEP}s to {last}{KEEP}s"
    unit, unit_s = counted_in(span_s)
    if unit == "s":
        return words
    digits = 1 if unit == "min" else 2
    first, last = (f"{at_s / unit_s:,.{digits}f}".replace(",", KEEP) for at_s in (start_s, end_s))
    return f"{words} ({first}{KEEP}{unit})" if first == last else f"{words} ({first}{KEEP}{unit} to {last}{KEEP}{unit})"


def time_scale(start_s: float, end_s: float, size_px: float) -> TimeScale:
    """The time axis of a stretch.

    Parameters
    ----------
    start_s, end_s : of the stretch. [s]
    size_px : of the letters at the ticks. [px]

    Examples
    --------
    >>> time_scale(113.0, 143.0, 10.5)
    TimeScale(unit='s', unit_s=1.0, ticks_s=(115, 120, 125, 130, 135, 140))
    """
    span_s = end_s - start_s
    least_s = TICK_ROOM * size_px * span_s / plot_height_px(span_s)
    unit, unit_s = counted_in(span_s)
    first = {"s": 1, "min": 60, "h": 900}[unit]
    step_s = next((step for step in TICKS_S if step >= max(least_s, first)), TICKS_S[-1])
    numbers = range(math.ceil(start_s / step_s - 1e-9), math.floor(end_s / step_s + 1e-9) + 1)
    return TimeScale(unit, unit_s, tuple(number * step_s for number in numbers))
