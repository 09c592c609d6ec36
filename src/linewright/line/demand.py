"""Demand and takt: from good parts a year to seconds a part, and back.

Planned time = shifts a day x paid time a shift x days a year; required rate = good parts / (planned time x
(1 - losses that the simulation does not show)); takt = its inverse. Losses that are simulated (failures, repairs,
rejects) are never subtracted here: they would count twice.

Source: takt as available time over demand is common practice; worked figures of textbooks are held in
``tests/reference/test_demand.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.line.model import Demand

HOUR_S: Final = 3600.0


@dataclass(frozen=True)
class TaktResult:
    """What a demand asks of a line.

    Parameters
    ----------
    planned_time_s : paid time a year
    usable_time_s : planned time less the losses that the simulation does not show
    required_rate_per_h : good parts per usable hour
    takt_s : usable time per good part
    clock_share : planned time over the clock hours of the days worked; the rest is no one's
    """

    planned_time_s: float
    usable_time_s: float
    required_rate_per_h: float
    takt_s: float
    clock_share: float


def takt_of(available_time_s: float, parts: float) -> float:
    """Takt = available time / parts demanded in it. [s]

    Parameters
    ----------
    available_time_s : time in which the parts are to be made [s], > 0
    parts : parts demanded in that time, > 0

    Raises
    ------
    ValueError   One of them is not positive.

    Notes      T = A / D.
    Source     common practice; checked in tests/reference/test_demand.py.
    Examples   >>> takt_of(820 * 60.0, 80) / 60
               10.25
    """
    if not available_time_s > 0.0 or not parts > 0.0:
        raise ValueError(f"time and parts must be positive, not {available_time_s} s and {parts}")
    return available_time_s / parts


def planned_time_s(demand: Demand) -> float:
    """Paid time a year: shifts a day x paid time a shift x days a year. [s]"""
    return demand.shifts_per_day * demand.paid_time_per_shift_s * demand.days_per_year


def takt_s(demand: Demand) -> float:
    """Usable time per good part. [s]

    Examples
    --------
    >>> takt_s(Demand(good_parts_per_year=3600, shifts_per_day=1, paid_time_per_shift_s=7200, days_per_year=100))
    200.0
    """
    return takt_of(planned_time_s(demand) * (1.0 - demand.losses_not_modelled), demand.good_parts_per_year)


def required_rate_per_h(demand: Demand) -> float:
    """Good parts per usable hour. [1/h]"""
    return HOUR_S / takt_s(demand)


def find_takt(demand: Demand) -> TaktResult:
    """Everything a demand asks of a line, as one record."""
    planned = planned_time_s(demand)
    return TaktResult(
        planned_time_s=planned,
        usable_time_s=planned * (1.0 - demand.losses_not_modelled),
        required_rate_per_h=required_rate_per_h(demand),
        takt_s=takt_s(demand),
        clock_share=planned / (demand.days_per_year * 24.0 * HOUR_S),
    )


def parts_per_year(takt_s: float, planned_time_s: float, losses_not_modelled: float = 0.0) -> float:
    """Good parts a year that a line makes at a takt; the inverse of :func:`takt_s`.

    Parameters
    ----------
    takt_s : time per good part [s], > 0
    planned_time_s : paid time a year [s], > 0
    losses_not_modelled : share, 0 to under 1

    Raises
    ------
    ValueError   A value is out of its range.

    Notes      N = A (1 - v) / T.
    Source     common practice: 2 s in three shifts of 7.33 h on 260 days are about 10.3 million parts a year.
    Examples   >>> round(parts_per_year(2.0, 3 * 7.33 * 3600 * 260) / 1e6, 2)
               10.29
    """
    if not takt_s > 0.0 or not planned_time_s > 0.0 or not 0.0 <= losses_not_modelled < 1.0:
        raise ValueError("takt and time must be positive, losses a share from 0 to under 1")
    return planned_time_s * (1.0 - losses_not_modelled) / takt_s
