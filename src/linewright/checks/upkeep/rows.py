"""Upkeep of a line: what is greased, changed and kept in stock, and when; what its surroundings ask for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.checks.upkeep.environment import SUBJECT, environment_rows
from linewright.checks.upkeep.formulas import (
    COMMON_MONTHS,
    MOST_DEMAND,
    Interval,
    Spares,
    relubrication_interval,
    spares_for,
)
from linewright.checks.upkeep.wear import (
    StationFailure,
    Wear,
    failure_table,
    station_failures,
    wear_of,
    wear_table,
    weeks_of,
)
from linewright.errors import Place
from linewright.findings import Finding
from linewright.flow.yearly_use import Unknown, YearlyUse, yearly_use
from linewright.layout import Layout
from linewright.line.demand import HOUR_S, TaktResult, find_takt
from linewright.line.model import Line
from linewright.line.ratings import UpkeepSheet, WearPart
from linewright.line.spoken import rounded, travel_in_words
from linewright.tables import Column, Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

PAGE: Final = "docs/limits/upkeep.md"
MONTHS_PER_YEAR: Final = 12.0
_OWNERS: Final = {"carrier": "carriers", "transfer": "transfers", "section": "sections", "line": "line"}


@dataclass(frozen=True, eq=False)
class UpkeepResult:
    """What is known of the upkeep of a line.

    Parameters
    ----------
    findings : the rows
    use : what the line does in a year; None where that is not known
    calendar : what, per, interval_weeks, reason, per_year: what is due after a travel, a number of cycles or a time,
        of one of them, the most used; shortest interval first
    wear : part, per, units, life_years, per_year, reason: all wear parts whose use is known
    spares : part, expected_per_year, lead_time_months, stock, service_level; empty where no spares are planned
    failures : station, measure, per_year, repair_s, repairs_s
    """

    findings: tuple[Finding, ...]
    use: YearlyUse | None
    calendar: Table
    wear: Table
    spares: Table
    failures: Table


def check_upkeep(line: Line, layout: Layout, takt: TaktResult | None = None, duty: Duty | None = None) -> UpkeepResult:
    """What has to be greased, changed and kept in stock, when, and what the surroundings ask for.

    Parameters
    ----------
    line, layout : a line and its own layout
    takt : from its demand; None: found here where the line file states one
    duty : what its carriers did in a run; None without one

    Returns
    -------
    UpkeepResult   Findings ``yearly-use``, ``relubrication``, ``wear-part``, ``wear-parts``, ``spares``,
                   ``section-swap``, ``station-failures``, ``environment``, ``iron-chips``, ``spatter``, ``wash-down``,
                   ``static-electricity``.

    Notes      Formulas, codes and remedies stand in docs/limits/upkeep.md.
    Source     docs/limits/upkeep.md.
    """
    if takt is None and line.demand is not None:
        takt = find_takt(line.demand)
    sheet = line.conveyor.upkeep
    parts = _worn_here(line, layout)
    use = yearly_use(line, layout, takt, duty)
    found = tuple(one for part in parts if (one := wear_of(line, layout, part, use, takt)) is not None)
    interval = None
    if sheet is not None and isinstance(use, YearlyUse):
        interval = relubrication_interval(use.travel_m, sheet.relubrication_travel_m, sheet.relubrication_months)
    failures = station_failures(line, use, takt)
    spares = _spares(line, found)
    findings = [*_use_row(line, sheet, parts, found, use, failures), *_grease_row(line, sheet, interval)]
    findings += [_wear_row(line, one) for one in found]
    findings += [*_no_parts_row(line, sheet), *_spares_row(line, found, spares), *_swap_row(line, sheet, found, takt)]
    findings += [*_failure_row(line, failures), *environment_rows(line)]
    return UpkeepResult(
        findings=tuple(findings),
        use=use if isinstance(use, YearlyUse) else None,
        calendar=_calendar(interval, found),
        wear=wear_table(found),
        spares=_spares_table(line, found, spares),
        failures=failure_table(failures or ()),
    )


def _worn_here(line: Line, layout: Layout) -> tuple[WearPart, ...]:
    """The sheet's wear parts, but those of transfers where the line has none."""
    sheet = line.conveyor.upkeep
    parts = () if sheet is None else sheet.wear_parts
    return tuple(part for part in parts if part.per != "transfer" or layout.transfers)


def _use_row(
    line: Line,
    sheet: UpkeepSheet | None,
    parts: tuple[WearPart, ...],
    found: tuple[Wear, ...],
    use: YearlyUse | Unknown,
    failures: tuple[StationFailure, ...] | None,
) -> tuple[Finding, ...]:
    """How far carriers travel, or why that is not known and what is not known for it."""
    if isinstance(use, YearlyUse):
        how = "counted in a run" if use.basis == "run" else "reckoned from the demand"
        where = f"each carrier travels {travel_in_words(use.travel_m, 'm/year', line.units)}, {how}"
        return (_info("yearly-use", where, line.place("carriers"), use.travel_m, "m/year", f"{PAGE}, Use of a year"),)
    known = {one.part.name for one in found}
    lacking = ([] if sheet is None else ["relubrication"]) + [part.name for part in parts if part.name not in known]
    if failures is None:
        lacking.append("failures of stations")
    if not lacking:
        return ()
    where = f"{use.why}; not known for it: {', '.join(lacking)}"
    place = line.place("demand") if line.demand is None else line.place("carriers")
    return (_unchecked("yearly-use", where, place, use.remedy),)


def _grease_row(line: Line, sheet: UpkeepSheet | None, interval: Interval | None) -> tuple[Finding, ...]:
    place = line.conveyor.place("upkeep")
    if sheet is None:
        remedy = (
            "state the key upkeep in the conveyor sheet: relubrication_travel, relubrication_after, section_swap and "
            f"wear_parts. Common practice, where a maker states nothing, is to grease every {COMMON_MONTHS:g} months"
        )
        return (_unchecked("relubrication", "the sheet states no upkeep", place, remedy),)
    if interval is None:
        return ()  # the row yearly-use says why
    travel = travel_in_words(sheet.relubrication_travel_m, "m", line.units)
    stated = f"{travel} or {sheet.relubrication_months:g} months"
    where = (
        f"each carrier: greased every {_weeks(interval.weeks)}, {rounded(interval.per_year, 3)} times a year, "
        f"by {interval.reason} ({stated})"
    )
    key = "relubrication_travel" if interval.reason == "travel" else "relubrication_after"
    source = f"sheet {line.conveyor.name}, upkeep.{key}; whichever comes first: common practice"
    months = MONTHS_PER_YEAR / interval.per_year
    return (_info("relubrication", where, line.conveyor.place("upkeep", key), months, "months", source),)


def _wear_row(line: Line, one: Wear) -> Finding:
    part = one.part
    each = "" if part.count == 1 else f"{part.count} on each of " if part.per != "line" else f"{part.count} in "
    of = f"{one.owners} {_OWNERS[part.per]}" if part.per != "line" else "the line"
    lasts = "one fails in" if one.reason == "random" else "worn after"
    years = "never worn" if math.isinf(one.life_years) else f"{lasts} {rounded(one.life_years, 3)} years"
    where = f"{part.name}, {each}{of}: {years}; {rounded(one.per_year, 3)} a year are expected"
    source = f"sheet {line.conveyor.name}, upkeep.wear_parts.{part.name}; {PAGE}, Wear parts"
    place = line.conveyor.place("upkeep", "wear_parts", part.name)
    return _info("wear-part", where, place, one.per_year, "1/year", source)


def _no_parts_row(line: Line, sheet: UpkeepSheet | None) -> tuple[Finding, ...]:
    if sheet is None or sheet.wear_parts:
        return ()  # without a sheet's upkeep the row relubrication names it
    remedy = "state the key wear_parts under upkeep in the conveyor sheet: what wears, on what, after what"
    return (_unchecked("wear-parts", "the sheet states no wear parts", line.conveyor.place("upkeep"), remedy),)


def _spares(line: Line, found: tuple[Wear, ...]) -> tuple[Spares | None, ...]:
    """Of each wear part; None where more are worn than the formula of the spares is for."""
    if line.upkeep is None:
        return ()
    plan = line.upkeep
    demands = [one.per_year * plan.lead_time_months / MONTHS_PER_YEAR for one in found]
    return tuple(spares_for(one, plan.service_level) if one <= MOST_DEMAND else None for one in demands)


def _spares_row(line: Line, found: tuple[Wear, ...], spares: tuple[Spares | None, ...]) -> tuple[Finding, ...]:
    if not found:
        return ()
    if line.upkeep is None:
        remedy = "state the key upkeep in the line file: service_level and lead_time, such as 98 % and 2 months"
        where = "the line file states neither service_level nor lead_time"
        return (_unchecked("spares", where, line.place("upkeep"), remedy),)
    beyond = [one.part for one, kept in zip(found, spares, strict=True) if kept is None]
    if beyond:
        where = (
            f"more than {MOST_DEMAND:g} within the lead time are expected of {', '.join(part.name for part in beyond)}"
        )
        remedy = "see what the conveyor sheet states of it under wear_parts: count, and travel, cycles, after or every"
        place = line.conveyor.place("upkeep", "wear_parts", beyond[0].name)
        return (_unchecked("spares", where, place, remedy),)
    known = [one for one in spares if one is not None]
    listed = ", ".join(f"{one.part.name} {kept.stock}" for one, kept in zip(found, known, strict=True))
    where = (
        f"on the shelf, for {line.upkeep.lead_time_months:g} months at "
        f"{100.0 * line.upkeep.service_level:.10g} % each: {listed}"
    )
    total = float(sum(kept.stock for kept in known))
    return (_info("spares", where, line.place("upkeep"), total, "parts", f"{PAGE}, Spares"),)


def _swap_row(
    line: Line, sheet: UpkeepSheet | None, found: tuple[Wear, ...], takt: TaktResult | None
) -> tuple[Finding, ...]:
    """Time in which sections are changed, of the planned time of a year."""
    of_sections = [one for one in found if one.part.per == "section"]
    if sheet is None or takt is None or not of_sections:
        return ()
    per_year = math.fsum(one.per_year for one in of_sections)
    down_s = per_year * sheet.section_swap_s
    where = (
        f"sections: {rounded(per_year, 3)} are changed a year, {sheet.section_swap_s / 60.0:g} min each: "
        f"{rounded(down_s / HOUR_S, 3)} h of {takt.planned_time_s / HOUR_S:.0f} h planned"
    )
    source = f"sheet {line.conveyor.name}, upkeep.section_swap"
    return (_info("section-swap", where, line.conveyor.place("upkeep", "section_swap"), down_s, "s/year", source),)


def _failure_row(line: Line, failures: tuple[StationFailure, ...] | None) -> tuple[Finding, ...]:
    if not failures:
        return ()  # of what is not known the row yearly-use says why
    total = math.fsum(one.per_year for one in failures)
    repairs_s = math.fsum(one.per_year * one.repair_s for one in failures)
    by_station: dict[str, float] = {}
    for one in failures:
        by_station[one.station] = by_station.get(one.station, 0.0) + one.per_year * one.repair_s
    worst = max(by_station, key=lambda name: by_station[name])
    where = (
        f"stations: {total:.0f} failures a year, {repairs_s / HOUR_S:.0f} h of repairs; "
        f"most at {worst}, {by_station[worst] / HOUR_S:.0f} h"
    )
    place = line.place("stations", worst, "failures")
    return (_info("station-failures", where, place, total, "1/year", f"{PAGE}, Failures of stations"),)


def _calendar(interval: Interval | None, found: tuple[Wear, ...]) -> Table:
    rows: list[tuple[str, str, float, str, float]] = []
    if interval is not None:
        rows.append(("relubrication", "carrier", interval.weeks, interval.reason, interval.per_year))
    rows += [
        (one.part.name, one.part.per, weeks_of(one), one.reason, 1.0 / one.life_years)
        for one in found
        if one.reason != "random" and math.isfinite(one.life_years)
    ]
    rows.sort(key=lambda row: (row[2], row[0]))
    return Table(
        (
            Column("what", None, np.array([row[0] for row in rows], dtype=np.str_), "relubrication, or a wear part"),
            Column(
                "per", None, np.array([row[1] for row in rows], dtype=np.str_), "carrier, transfer, section or line"
            ),
            Column("interval_weeks", "weeks", np.array([row[2] for row in rows], dtype=np.float64), "calendar time"),
            Column("reason", None, np.array([row[3] for row in rows], dtype=np.str_), "travel, cycles or calendar"),
            Column("per_year", "1/year", np.array([row[4] for row in rows], dtype=np.float64), "times a year, of one"),
        )
    )


def _spares_table(line: Line, found: tuple[Wear, ...], spares: tuple[Spares | None, ...]) -> Table:
    kept = [(one, of) for one, of in zip(found, spares, strict=False) if of is not None]
    lead = [] if line.upkeep is None else [line.upkeep.lead_time_months] * len(kept)
    per_year = [one.per_year for one, _ in kept]
    attained = [of.service_level for _, of in kept]
    return Table(
        (
            Column("part", None, np.array([one.part.name for one, _ in kept], dtype=np.str_), "name in the sheet"),
            Column("expected_per_year", "1/year", np.array(per_year, dtype=np.float64), "replacements of all"),
            Column("lead_time_months", "months", np.array(lead, dtype=np.float64), "from order to delivery"),
            Column("stock", None, np.array([of.stock for _, of in kept], dtype=np.int64), "fewest that serve"),
            Column("service_level", None, np.array(attained, dtype=np.float64), "chance that none is missing"),
        )
    )


def _weeks(weeks: float) -> str:
    return f"{rounded(weeks, 3)} weeks"


def _info(code: str, where: str, place: Place | None, value: float, unit: str, source: str) -> Finding:
    """A row for information: a number without a limit."""
    return Finding(code, SUBJECT, "holds", where, place, value, None, unit, None, source, "")


def _unchecked(code: str, where: str, place: Place | None, remedy: str) -> Finding:
    return Finding(code, SUBJECT, "not checked", where, place, None, None, None, None, PAGE, remedy)
