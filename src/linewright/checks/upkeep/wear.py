"""Wear parts of a line: how many there are, how long they last, how many are needed in a year."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linewright.checks.upkeep.formulas import MONTHS_PER_YEAR, WEEKS_PER_YEAR, failures_per_year, wear_life_years
from linewright.flow.yearly_use import Unknown, YearlyUse
from linewright.layout import Layout
from linewright.line.demand import TaktResult
from linewright.line.model import Failure, Line
from linewright.line.ratings import WearPart
from linewright.tables import Column, Table


@dataclass(frozen=True)
class Wear:
    """One kind of wear part in a line.

    Parameters
    ----------
    part : as the sheet states it
    owners : carriers, transfers or sections that have it; 1 for the line
    units : of it in the line
    life_years : until it is worn where it is used most, or the mean time between failures; may be infinite. [years]
    per_year : expected replacements of all of them. [1/year]
    reason : ``travel``, ``cycles``, ``calendar`` or ``random``
    """

    part: WearPart
    owners: int
    units: int
    life_years: float
    per_year: float
    reason: str


def wear_of(
    line: Line, layout: Layout, part: WearPart, use: YearlyUse | Unknown, takt: TaktResult | None
) -> Wear | None:
    """A wear part in this line; None where what it wears by is not known."""
    sections = sum(len(lane.sections) for lane in layout.lanes)
    owners = {"carrier": line.carriers, "transfer": len(layout.transfers), "section": sections, "line": 1}[part.per]
    units = owners * part.count
    if part.months is not None:
        years = part.months / MONTHS_PER_YEAR
        return Wear(part, owners, units, years, units / years, "calendar")
    if part.every_s is not None:
        if takt is None:
            return None
        each = failures_per_year(part.every_s, takt.planned_time_s)
        return Wear(part, owners, units, 1.0 / each, units * each, "random")
    if isinstance(use, Unknown):
        return None
    if part.travel_m is not None:
        years = wear_life_years(part.travel_m, use.travel_m)
        return Wear(part, owners, units, years, units * use.mean_travel_m / part.travel_m, "travel")
    assert part.cycles is not None  # held by the validator
    years = wear_life_years(part.cycles, max(use.transfer_cycles, default=0.0))
    per_year = part.count * math.fsum(use.transfer_cycles) / part.cycles
    return Wear(part, owners, units, years, per_year, "cycles")


def wear_table(found: tuple[Wear, ...]) -> Table:
    """Wear parts: part, per, units, life_years, per_year, reason."""
    return Table(
        (
            Column("part", None, np.array([one.part.name for one in found], dtype=np.str_), "name in the sheet"),
            Column("per", None, np.array([one.part.per for one in found], dtype=np.str_), "what it belongs to"),
            Column("units", None, np.array([one.units for one in found], dtype=np.int64), "in the line"),
            Column("life_years", "years", _floats([one.life_years for one in found]), "until worn, where used most"),
            Column("per_year", "1/year", _floats([one.per_year for one in found]), "expected replacements of all"),
            Column("reason", None, np.array([one.reason for one in found], dtype=np.str_), "what it wears by"),
        )
    )


def weeks_of(one: Wear) -> float:
    """Calendar time until it is worn. [weeks]"""
    return one.life_years * WEEKS_PER_YEAR


@dataclass(frozen=True)
class StationFailure:
    """One kind of failure of a station.

    Parameters
    ----------
    station : its name
    measure : ``running``, ``clock`` or ``cycles``
    per_year : expected. [1/year]
    repair_s : mean of one repair. [s]
    """

    station: str
    measure: str
    per_year: float
    repair_s: float


def station_failures(
    line: Line, use: YearlyUse | Unknown, takt: TaktResult | None
) -> tuple[StationFailure, ...] | None:
    """Expected failures of the stations in a year, by kind; None where one of them is not known.

    Notes      Of running: time in work / mean time; of clock: usable time / (mean time + mean repair), since the next
               is counted from the repair's end; of cycles: works / mean number.
    """
    found = []
    for number, station in enumerate(line.stations):
        for failure in station.failures:
            per_year = _per_year(failure, number, use, takt)
            if per_year is None:
                return None
            found.append(StationFailure(station.name, _measure(failure), per_year, failure.repair.mean_s))
    return tuple(found)


def _measure(failure: Failure) -> str:
    return "cycles" if failure.one_in is not None else failure.of


def _per_year(failure: Failure, number: int, use: YearlyUse | Unknown, takt: TaktResult | None) -> float | None:
    if failure.of == "clock":
        assert failure.mean_every_s is not None  # held by the validator
        return None if takt is None else takt.usable_time_s / (failure.mean_every_s + failure.repair.mean_s)
    if isinstance(use, Unknown):
        return None
    if failure.one_in is not None:
        return use.works[number] / failure.one_in
    assert failure.mean_every_s is not None
    return use.work_s[number] / failure.mean_every_s


def failure_table(found: tuple[StationFailure, ...]) -> Table:
    """Failures of stations: station, measure, per_year, repair_s, repairs_s."""
    per_year = _floats([one.per_year for one in found])
    repair_s = _floats([one.repair_s for one in found])
    return Table(
        (
            Column("station", None, np.array([one.station for one in found], dtype=np.str_), "name"),
            Column(
                "measure", None, np.array([one.measure for one in found], dtype=np.str_), "running, clock or cycles"
            ),
            Column("per_year", "1/year", per_year, "expected failures"),
            Column("repair_s", "s", repair_s, "mean of one repair"),
            Column("repairs_s", "s/year", per_year * repair_s, "all repairs of a year"),
        )
    )


def _floats(values: list[float]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array(values, dtype=np.float64)
