"""Power: what the feeders of a line deliver, in a run and in the cases that a run never shows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.checks.power.braking_rows import braking_rows, extra_low_row, without_resistor_V
from linewright.checks.power.cabinet import cabinet_rows, energy_row, logic_rows
from linewright.checks.power.cable_rows import missing_rows, proposed_areas, voltage_rows
from linewright.checks.power.chain import ChainVoltages
from linewright.checks.power.feeders import Electrics, FeederPower, find_electrics, find_powers, is_size
from linewright.checks.power.protection_rows import protection_rows
from linewright.checks.power.rows import PAGE, RUN_REMEDY, counted, current_rows, named, not_checked, told
from linewright.checks.power.trace import BIN_S, FeederTrack, feeder_track
from linewright.checks.power.zones import zone_rows, zones_table
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.motion.limits import NoAccelerationError
from linewright.tables import Column, Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

Floats = NDArray[np.float64]

TRACE_S: Final = 20.0
"""So much of the run the trace holds, about the worst bin of all feeders. [s]"""


@dataclass(frozen=True, eq=False)
class PowerResult:
    """What :func:`check_power` found.

    Parameters
    ----------
    findings : the rows, of the subject ``power``
    feeders : one row a feeder: currents, voltages, energies; a figure that is not known is not a number
    trace : current of the feeder with the worst bin, in bins of 10 ms, at most 20 s about it; empty without a run
    schedule : one row a run of cable or link, in the feeder's worst case, with the area that is proposed
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
    if not line.feeders:
        where = "no motor supply of any lane is stated: supplies, cables, fuses and cabinet"
        remedy = "state the key feeders in the line file"
        findings.append(not_checked("feeders", where, ("feeders",), line, PAGE, remedy))
    else:
        tracks = tuple(feeder_track(feeder, layout) for feeder in line.feeders)
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
        _feeders_table(layout, powers),
        _trace_table(powers, duty),
        _schedule_table(electrics, powers),
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


def _end_V(chain: ChainVoltages | None) -> float | None:
    return None if chain is None else chain.far_end_V


def _feeders_table(layout: Layout, powers: tuple[FeederPower, ...]) -> Table:
    def floats(name: str, unit: str, values: list[float | None], meaning: str) -> Column:
        return Column(name, unit, np.array([np.nan if one is None else one for one in values], np.float64), meaning)

    def names(name: str, values: list[str], meaning: str) -> Column:
        return Column(name, None, np.array(values, dtype=np.str_), meaning)

    def counts(name: str, values: list[int], meaning: str) -> Column:
        return Column(name, None, np.array(values, dtype=np.int64), meaning)

    runs = [power.run for power in powers]
    return Table(
        (
            names("feeder", [p.feeder.name for p in powers], "feeder"),
            names("lane", [layout.lanes[p.track.lane].name for p in powers], "lane"),
            counts("sections", [len(p.track.sections) for p in powers], "sections fed"),
            counts("carriers", [p.carriers for p in powers], "carriers on it at once"),
            floats("supplies_A", "A", [p.limit_A for p in powers], "current of its supplies together"),
            floats("peak_A", "A", [None if r is None else r.peak_A for r in runs], "worst bin of the run"),
            floats("rms_A", "A", [None if r is None else r.rms_A for r in runs], "effective current of the run"),
            floats("mean_A", "A", [None if r is None else r.mean_A for r in runs], "mean current of the run"),
            floats("mean_W", "W", [None if r is None else r.power_W for r in runs], "mean power of the run"),
            floats(
                "given_back_W", "W", [None if r is None else r.back_W for r in runs], "mean power given back in the run"
            ),
            floats(
                "resistor_W",
                "W",
                [None if r is None else r.resistor_W for r in runs],
                "mean power of the resistor in the run",
            ),
            floats("restart_A", "A", [p.restart_A for p in powers], "all carriers start at once"),
            floats("braking_J", "J", [p.back_J for p in powers], "given back when all brake at once"),
            floats("braking_V", "V", [p.braking_V for p in powers], "highest voltage then"),
            floats("restart_V", "V", [_end_V(p.restart) for p in powers], "far end, all start at once"),
            floats(
                "coinciding_V",
                "V",
                [_end_V(p.coinciding) for p in powers],
                "far end, worst bins of all sections at once",
            ),
        )
    )


def _trace_table(powers: tuple[FeederPower, ...], duty: Duty | None) -> Table:
    """The feeder with the worst bin as a share of its limit, about that bin."""
    ran = [(power, power.run) for power in powers if power.run is not None]
    name = ""
    times: Floats = np.zeros(0)
    currents: Floats = np.zeros(0)
    if ran and duty is not None:
        power, run = max(ran, key=lambda pair: pair[1].peak_A / pair[0].limit_A)
        bins = min(len(run.current_A), round(TRACE_S / BIN_S))
        first = min(max(int(run.current_A.argmax()) - bins // 2, 0), len(run.current_A) - bins)
        times = duty.from_s + np.arange(first, first + bins, dtype=np.float64) * BIN_S
        name, currents = power.feeder.name, run.current_A[first : first + bins].copy()
    return Table(
        (
            Column("time_s", "s", times, "start of the bin, time of the run"),
            Column("feeder", None, np.full(len(times), name, dtype=np.dtype(f"U{max(1, len(name))}")), "feeder"),
            Column("current_A", "A", currents, "current from its supplies"),
        )
    )


def _schedule_table(electrics: Electrics | None, powers: tuple[FeederPower, ...]) -> Table:
    """Every run of cable and link of which resistance and currents are known."""
    rows: list[tuple[str, str, str, float, float, str, float, float, float, float]] = []
    for power in powers:
        worst, cable, link = power.worst, power.feeder.cable, power.feeder.link
        if electrics is None or worst is None or cable is None:
            continue
        chain, areas = worst[1], proposed_areas(electrics, power)
        for i, section in enumerate(power.track.sections):
            run = cable if i == 0 else link
            assert run is not None and is_size(run.area_mm2)  # noqa: PT018  the chain is known
            proposed = np.nan if areas is None else areas[0 if i == 0 else 1]
            rows.append(
                (
                    power.feeder.name,
                    "supply" if i == 0 else f"section {power.track.sections[i - 1] + 1}",
                    f"section {section + 1}",
                    run.length_m,
                    run.area_mm2,
                    cable.conductor,
                    float(chain.link_A[i]),
                    float(chain.drop_V[i]),
                    float(chain.loss_W[i]),
                    np.nan if proposed is None else float(proposed),
                )
            )
    texts = {0: "feeder", 1: "from", 2: "to", 5: "conductor"}
    numbers = {
        3: ("length_m", "m", "one way"),
        4: ("area_mm2", "mm2", "of one conductor, as stated"),
        6: ("current_A", "A", "in the feeder's worst case"),
        7: ("drop_V", "V", "then, go and return"),
        8: ("loss_W", "W", "then, go and return"),
        9: ("proposed_mm2", "mm2", "area with which the far end keeps its voltage"),
    }
    columns = []
    for at in range(10):
        values = [row[at] for row in rows]
        if at in texts:
            columns.append(Column(texts[at], None, np.array(values, dtype=np.str_), texts[at]))
        else:
            name, unit, meaning = numbers[at]
            columns.append(Column(name, unit, np.array(values, dtype=np.float64), meaning))
    return Table(tuple(columns))
