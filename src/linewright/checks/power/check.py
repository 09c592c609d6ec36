"""Power: what the feeders of a line deliver, in a run and in the cases that a run never shows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from linewright.checks.power.braking_rows import braking_rows, extra_low_row, without_resistor_V
from linewright.checks.power.cabinet import cabinet_rows, energy_row, logic_rows
from linewright.checks.power.cable_rows import missing_rows, voltage_rows
from linewright.checks.power.feeders import Electrics, FeederPower, find_electrics, find_powers
from linewright.checks.power.protection_rows import protection_rows
from linewright.checks.power.result_tables import feeders_table, schedule_table, sections_table, trace_table
from linewright.checks.power.rows import PAGE, RUN_REMEDY, counted, current_rows, named, not_checked, told
from linewright.checks.power.trace import FeederTrack, feeder_track
from linewright.checks.power.zones import zone_rows, zones_table
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.motion.limits import NoAccelerationError
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty


@dataclass(frozen=True, eq=False)
class PowerResult:
    """What :func:`check_power` found.

    Parameters
    ----------
    findings : the rows, of the subject ``power``
    feeders : one row a feeder: currents, voltages, energies; a figure that is not known is not a number
    trace : current of all feeders in bins of 10 ms, at most 20 s about the worst bin of all; first the feeder with that
        bin; empty without a run
    schedule : one row a run of cable or link, in the feeder's worst case, with the area that is proposed
    sections : one row a section that a feeder feeds, from its head on: voltage, and current of the run before it, in
        the feeder's worst case
    zones : one row a motor zone
    electrics : the figures that all feeders share; None where one is missing
    highest_V : the highest voltage that any feeder comes to, all carriers braking; None where that is not known. [V]
    without_resistor_V : the highest that a feeder with a braking resistor would come to without it; None where that is
        not known or no feeder has one. [V]
    """

    findings: tuple[Finding, ...]
    feeders: Table
    trace: Table
    schedule: Table
    sections: Table
    zones: Table
    electrics: Electrics | None
    highest_V: float | None
    without_resistor_V: float | None


def check_power(line: Line, layout: Layout, duty: Duty | None = None) -> PowerResult:
    """Supplies, capacitors, resistors, cables, fuses, cabinet and motor zones of a line.

    Parameters
    ----------
    line, layout : a line and its own layout
    duty : of a run of that line; without it what needs a run is not checked

    Returns
    -------
    PowerResult   Its codes stand in docs/limits/power.md.

    Source     docs/limits/power.md.
    """
    findings = zone_rows(line, layout)
    electrics: Electrics | None = None
    powers: tuple[FeederPower, ...] = ()
    tracks = tuple(feeder_track(feeder, layout) for feeder in line.feeders)
    if not line.feeders:
        where = "no motor supply of any lane is stated: supplies, cables, fuses and cabinet"
        remedy = "state the key feeders in the line file"
        findings.append(not_checked("feeders", where, ("feeders",), line, PAGE, remedy))
    else:
        findings += _track_rows(line, layout, tracks)
        electrics, missing = _electrics(line, layout)
        findings += missing
        if electrics is not None:
            powers = find_powers(line, layout, electrics, duty)
            findings += _feeder_rows(line, electrics, powers, duty)
        else:
            findings += _protection_alone(line, tracks)
        findings += missing_rows(line, tracks)
    supply = line.conveyor.supply
    if line.feeders and supply is not None:
        findings += cabinet_rows(line, supply, powers)
        findings += logic_rows(line, layout, supply)
        if duty is not None:
            findings += energy_row(line, powers, duty, supply.efficiency)
    return PowerResult(
        tuple(findings),
        feeders_table(layout, electrics, powers),
        trace_table(powers, duty),
        schedule_table(electrics, powers),
        sections_table(layout, tracks, powers),
        zones_table(line, layout),
        electrics,
        max((power.braking_V for power in powers), default=None),
        None if electrics is None else without_resistor_V(electrics, powers),
    )


def _electrics(line: Line, layout: Layout) -> tuple[Electrics | None, list[Finding]]:
    """The figures that all feeders share, or a row for each that is missing."""
    supply, motor = line.conveyor.supply, line.conveyor.drive.motor
    lacks: list[tuple[str, tuple[str, ...]]] = []
    if supply is None:
        lacks.append(("supply", ("supply",)))
    elif supply.tolerance is None:
        lacks.append(("tolerance under supply", ("supply", "tolerance")))
    if motor is None:
        lacks.append(("motor under drive", ("drive", "motor")))
    elif motor.hottest_degC is None:
        lacks.append(("hottest under motor", ("drive", "motor", "hottest")))
    source, rows = f"{PAGE}, Figures", []
    for key, path in lacks:
        where = f"all feeders: {' of '.join(key.split(' under '))} is not stated"
        row = not_checked("feeders", where, (), line, source, f"state the key {key} in the conveyor sheet")
        rows.append(replace(row, place=line.conveyor.place(*path)))
    if supply is None or motor is None or rows:
        return None, rows
    if supply.tolerance is not None and supply.tolerance >= 1.0:
        where = "all feeders: by its tolerance the supply may deliver no voltage at all, so that no current is known"
        row = not_checked("feeders", where, (), line, source, "state the key tolerance under supply, below 100 %")
        return None, [replace(row, place=line.conveyor.place("supply", "tolerance"))]
    try:
        return find_electrics(line, layout, supply, motor), []
    except NoAccelerationError:
        where = "all feeders: the thrust leaves nothing to move a carrier with, so that no move has a power"
        row = not_checked("feeders", where, (), line, source, "see the row on thrust first")
        return None, [replace(row, place=line.conveyor.place("drive", "thrust"))]


def _feeder_rows(line: Line, electrics: Electrics, powers: tuple[FeederPower, ...], duty: Duty | None) -> list[Finding]:
    rows: list[Finding] = []
    for power in powers:
        rows += current_rows(line, electrics, power)
        rows += braking_rows(line, electrics, power)
        rows += voltage_rows(line, electrics, power)
        rows += protection_rows(line, power.feeder, power.limit_A, power)
    if powers:
        rows.append(extra_low_row(line, electrics, powers))
    if powers and duty is None:
        names = named([power.feeder for power in powers])
        where = f"{names}: currents of the run, mean power of the braking resistors"
        source = f"{PAGE}, Current of the run"
        rows.append(not_checked("feeder-peak", where, ("feeders",), line, source, RUN_REMEDY))
    return rows


def _protection_alone(line: Line, tracks: tuple[FeederTrack, ...]) -> list[Finding]:
    """What is known of fuses and breakers where a figure of the sheet is missing, without which no current is."""
    supply, fed = line.conveyor.supply, {track.name for track in tracks if track.sections}
    rows: list[Finding] = []
    for feeder in line.feeders:
        if feeder.name in fed:
            supplies_A = None if supply is None else feeder.supplies * supply.current_A
            rows += protection_rows(line, feeder, supplies_A, None)
    return rows


def _track_rows(line: Line, layout: Layout, tracks: tuple[FeederTrack, ...]) -> list[Finding]:
    """Sections that no feeder feeds, and feeders whose ends lie within a section."""
    rows, source = [], f"{PAGE}, Sections of a feeder"
    for track in tracks:
        place = ("feeders", track.name, "from")
        if not track.sections:
            where = f"feeder {track.name}: the middle of no section lies on its stretch"
            rows.append(not_checked("feeder-ends", where, place, line, source, "write from and to at joints"))
        elif track.is_snapped:
            where = f"feeder {track.name}: an end lies within a section; whole sections are fed, {_ends(track, line)}"
            length_m = track.fed_m[1] - track.fed_m[0]
            rows.append(replace(told("feeder-ends", where, place, line, length_m, "m"), source=source))
    for number, lane in enumerate(layout.lanes):
        fed = {section for track in tracks if track.lane == number for section in track.sections}
        bare = len(lane.joints_travel_m) + 1 - len(fed)
        if bare:
            have = "has" if bare == 1 else "have"
            where = f"lane {lane.name}: {bare} of {counted(len(lane.joints_travel_m) + 1, 'section')} {have} no feeder"
            remedy = "state a feeder of these sections under feeders in the line file"
            rows.append(not_checked("feeders", where, ("feeders",), line, source, remedy))
    return rows


def _ends(track: FeederTrack, line: Line) -> str:
    low, high = (length_text(end_m, line.units) for end_m in track.fed_m)
    return f"{low} to {high} in travel"
