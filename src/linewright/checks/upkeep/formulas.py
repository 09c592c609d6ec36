"""Intervals of upkeep, lives of what wears, and how many spares lie on the shelf."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from linewright.figures import not_negative, positive

DAYS_PER_YEAR: Final = 365.25
WEEKS_PER_YEAR: Final = DAYS_PER_YEAR / 7.0
MONTHS_PER_YEAR: Final = 12.0
COMMON_MONTHS: Final = 6.0
"""Common practice where nothing is stated: grease after so many months at the latest. [months]"""
_FAR: Final = 40.0
"""So many standard deviations below its mean a Poisson demand is left out: less than 1e-300 lies there."""
MOST_DEMAND: Final = 1e9
"""Up to so many within the lead time spares are reckoned."""

Reason = Literal["travel", "cycles", "calendar"]


@dataclass(frozen=True)
class Interval:
    """How often something is due.

    Parameters
    ----------
    weeks : from one time to the next. [weeks]
    reason : ``travel``, ``cycles`` or ``calendar``, whichever comes first
    per_year : [1/year]
    """

    weeks: float
    reason: Reason
    per_year: float


@dataclass(frozen=True)
class Spares:
    """Spares on the shelf.

    Parameters
    ----------
    stock : the fewest that serve
    service_level : chance that the demand over the lead time is not above them
    """

    stock: int
    service_level: float


def relubrication_interval(travel_per_year_m: float, interval_m: float, interval_months: float) -> Interval:
    """When a carrier is greased: after so much travel or so much time, whichever comes first.

    Parameters
    ----------
    travel_per_year_m : of the carrier. [m/year], >= 0
    interval_m : travel from one greasing to the next. [m], > 0
    interval_months : time from one greasing to the next. [months], > 0

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      years = min(interval / travel a year, months / 12); a year has 365.25 days, 52.18 weeks.
    Source     common practice: whichever comes first; where nothing is stated six months.
    Examples
    --------
    >>> relubrication_interval(2.6e6, 1.3e6, 14.0)
    Interval(weeks=26.089285714285715, reason='travel', per_year=2.0)
    >>> relubrication_interval(0.1e6, 1.3e6, 6.0).reason
    'calendar'
    """
    not_negative("travel_per_year_m", travel_per_year_m)
    positive("interval_m", interval_m)
    positive("interval_months", interval_months)
    by_travel = travel_per_year_m / interval_m
    by_calendar = MONTHS_PER_YEAR / interval_months
    if by_travel > by_calendar:
        return Interval(WEEKS_PER_YEAR / by_travel, "travel", by_travel)
    return Interval(WEEKS_PER_YEAR / by_calendar, "calendar", by_calendar)


def travel_per_day_m(stroke_m: float, cycles_per_min: float, hours_per_day: float) -> float:
    """Travel of what goes out and back, in a day.

    Parameters
    ----------
    stroke_m : one way. [m], >= 0
    cycles_per_min : out and back. [1/min], >= 0
    hours_per_day : 0 to 24. [h]

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      2 · stroke · cycles · 60 · hours.
    Source     arithmetic; checked in tests/reference/test_upkeep.py.
    Examples
    --------
    >>> travel_per_day_m(0.8, 20.0, 16.0)
    30720.0
    """
    not_negative("stroke_m", stroke_m)
    not_negative("cycles_per_min", cycles_per_min)
    if not 0.0 <= hours_per_day <= 24.0:
        raise ValueError(f"hours_per_day is {hours_per_day}; it must lie from 0 to 24")
    return 2.0 * stroke_m * cycles_per_min * 60.0 * hours_per_day


def operations_per_year(days_per_year: float, hours_per_day: float, cycle_s: float) -> float:
    """How often something that works once a cycle works in a year.

    Parameters
    ----------
    days_per_year : 0 to 366
    hours_per_day : 0 to 24. [h]
    cycle_s : [s], > 0

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      n = days · hours · 3600 / cycle.
    Source     ISO 13849-1, Annex C, from memory; checked in tests/reference/test_upkeep.py.
    Examples
    --------
    >>> operations_per_year(220.0, 16.0, 5.0)
    2534400.0
    """
    if not 0.0 <= days_per_year <= 366.0:
        raise ValueError(f"days_per_year is {days_per_year}; it must lie from 0 to 366")
    if not 0.0 <= hours_per_day <= 24.0:
        raise ValueError(f"hours_per_day is {hours_per_day}; it must lie from 0 to 24")
    positive("cycle_s", cycle_s)
    return days_per_year * hours_per_day * 3600.0 / cycle_s


def wear_life_years(until_worn: float, used_per_year: float) -> float:
    """How long a part lasts that wears with use.

    Parameters
    ----------
    until_worn : travel, cycles or hours until it is worn, > 0
    used_per_year : the same in a year, >= 0

    Returns
    -------
    float   Infinite where it is not used. [years]

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      life / use a year.
    Source     arithmetic; of cycles it is T10d = B10d / n of ISO 13849-1, Annex C, from memory; checked in
               tests/reference/test_upkeep.py.
    Examples
    --------
    >>> round(wear_life_years(60e6, 2534400.0), 2)
    23.67
    """
    positive("until_worn", until_worn)
    not_negative("used_per_year", used_per_year)
    return math.inf if used_per_year == 0.0 else until_worn / used_per_year


def spares_for(mean_demand: float, service_level: float) -> Spares:
    """The fewest spares that cover the demand over the lead time with the wanted chance.

    Parameters
    ----------
    mean_demand : expected demand over the lead time, 0 to 1e9
    service_level : wanted chance that none is missing, above 0 and below 1

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      The smallest s with Σ_{k=0..s} e^{-m} m^k / k! >= service level. Parts that wear out at the same use come
               more evenly than that: then it is on the safe side, but for parts that all began new on one day.
    Source     Poisson demand over the lead time, textbook; checked against a drawn demand in
               tests/unit/checks/test_upkeep_formulas.py.
    Examples
    --------
    >>> found = spares_for(2.0, 0.95)
    >>> found.stock, round(found.service_level, 6)
    (5, 0.983436)
    >>> spares_for(0.0, 0.98).stock
    0
    """
    if not 0.0 <= mean_demand <= MOST_DEMAND:
        raise ValueError(f"mean_demand is {mean_demand}; it must lie from 0 to {MOST_DEMAND:g}")
    if not 0.0 < service_level < 1.0:
        raise ValueError(f"service_level is {service_level}; it must lie above 0 and below 1")
    if mean_demand == 0.0:
        return Spares(0, 1.0)
    stock = max(0, math.floor(mean_demand - _FAR * math.sqrt(mean_demand)))
    # In logarithms, for e^-m alone is nought from m = 745 on.
    chance = math.exp(stock * math.log(mean_demand) - mean_demand - math.lgamma(stock + 1.0))
    total = chance
    while total < service_level:
        before, stock = total, stock + 1
        chance = math.exp(stock * math.log(mean_demand) - mean_demand - math.lgamma(stock + 1.0))
        total += chance
        if total == before and stock > mean_demand:
            break  # what is left is below the last digit of the wanted chance
    return Spares(stock, min(total, 1.0))


def failures_per_year(every_s: float, in_operation_s: float) -> float:
    """Expected failures at random of something that fails once in a mean time in operation.

    Parameters
    ----------
    every_s : mean time in operation between failures. [s], > 0
    in_operation_s : in a year. [s], >= 0

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      in operation / every.
    Source     definition of the mean time between failures.
    Examples
    --------
    >>> failures_per_year(180000.0 * 3600.0, 6000.0 * 3600.0)
    0.03333333333333333
    """
    positive("every_s", every_s)
    not_negative("in_operation_s", in_operation_s)
    return in_operation_s / every_s
