"""Heat of each coil group over the duty of a run, against what it may give off for ever."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.checks.motion.ceilings import (
    ceiling_that_holds,
    ceiling_unit,
    ceiling_words,
    duty_under,
    present_figure,
)
from linewright.checks.motion.coils import CoilTrack, coil_sums, coil_track, thrust_shares
from linewright.checks.motion.held import net_along_N, stations_with_unstated_force
from linewright.checks.motion.words import figure_text
from linewright.errors import Place
from linewright.findings import Finding, judge, margin_below
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.ratings import MotorSheet
from linewright.line.spoken import in_words, rounded, temperature_in_words, to_write
from linewright.motion.electric import FloatArray, copper_loss_W, hot_resistance_ohm
from linewright.motion.heat import filtered_heat_W, window_means_W
from linewright.remedies import rounded_away, spare_for, value_that_holds
from linewright.tables import Column, Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

BIN_S: Final = 60.0
HOUR_BINS: Final = 60
PLATFORM: Final = "the platform"
RULE: Final = "docs/limits/motion.md, Heat of the coils; the conveyor sheet's motor figures"
_RUN: Final = "linewright check --run: heat follows from what the carriers do in a run"


@dataclass(frozen=True, eq=False)
class CoilHeat:
    """Heat of every coil group, and how it changes with the load.

    Parameters
    ----------
    track : the groups
    bin_s : shape (bins,)         Length of each minute of the duty; the last may be shorter. [s]
    power_W : shape (bins, groups)   Mean heat in each minute. [W]
    per_kg_W, per_kg2_W : the same shape   With d kg less on every carrier the heat is
        power_W - d per_kg_W + d² per_kg2_W. [W/kg], [W/kg²]
    """

    track: CoilTrack
    bin_s: FloatArray
    power_W: FloatArray
    per_kg_W: FloatArray
    per_kg2_W: FloatArray

    def mean_W(self) -> FloatArray:
        """Mean of each group over the whole duty. [W]"""
        return np.asarray(self.bin_s @ self.power_W / self.bin_s.sum(), np.float64)


def find_coil_heat(line: Line, layout: Layout, duty: Duty, motor: MotorSheet) -> CoilHeat:
    """Heat of every coil group in every minute of a duty.

    Parameters
    ----------
    line, layout, duty : what ran
    motor : the sheet's motor; group_length and hottest are stated

    Notes      docs/limits/motion.md, Heat of the coils. A move's heat falls into the minute in which it departs.
    Source     I²R; the sharing between groups is this program's own model.
    """
    assert motor.group_length_m is not None
    assert motor.hottest_degC is not None
    track = coil_track(layout, motor.group_length_m)
    ohm = hot_resistance_ohm(motor.resistance_ohm, motor.hottest_degC)
    per_N2 = copper_loss_W(1.0, motor.force_constant_N_A, ohm)
    friction, carrier_m = line.conveyor.drive.friction_N, line.conveyor.carrier.length_m
    shape = (len(duty.legs), track.groups)
    energy, per_kg, per_kg2 = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for row, leg in enumerate(duty.legs):
        sums, mass = coil_sums(track, leg, carrier_m), leg.mass_kg
        energy[row] = mass**2 * sums.squares_m2_s3 + 2.0 * mass * friction * sums.speed_m_s + friction**2 * sums.time_s
        per_kg[row] = 2.0 * mass * sums.squares_m2_s3 + 2.0 * friction * sums.speed_m_s
        per_kg2[row] = sums.squares_m2_s3
    counts = duty.counts(BIN_S).astype(np.float64)
    bins = counts.shape[1]
    edges = np.minimum(np.arange(bins + 1) * BIN_S, duty.span_s)
    bin_s = np.diff(edges)
    held = _held_s(duty, len(line.stations), edges).T @ _held_N2(line, layout, track, carrier_m)
    scale = per_N2 / bin_s[:, None]
    return CoilHeat(
        track, bin_s, (counts.T @ energy + held) * scale, counts.T @ per_kg * scale, counts.T @ per_kg2 * scale
    )


def _held_s(duty: Duty, stations: int, edges_s: FloatArray) -> FloatArray:
    """How long each station works in each bin, shape (stations, bins). [s]"""
    worked = np.zeros((stations, len(edges_s) - 1))
    for station in range(stations):
        mine = duty.work_station == station
        starts, ends = (np.sort(at[mine] / 1e6 - duty.from_s) for at in (duty.work_start_us, duty.work_end_us))
        worked[station] = np.diff(_time_since(starts, edges_s) - _time_since(ends, edges_s))
    return worked


def _time_since(instants_s: FloatArray, at_s: FloatArray) -> FloatArray:
    """Sum over the instants of the time since each of them, 0 for those still to come. [s]"""
    sums = np.concatenate(((0.0,), np.cumsum(instants_s)))
    before = np.searchsorted(instants_s, at_s, side="right")
    return np.asarray(before * at_s - sums[before], np.float64)


def _held_N2(line: Line, layout: Layout, track: CoilTrack, carrier_m: float) -> FloatArray:
    """Square of each group's thrust while a station works, shape (stations, groups). [N²]"""
    found = np.zeros((len(line.stations), track.groups))
    lanes = [lane.name for lane in layout.lanes]
    for row, station in enumerate(line.stations):
        along = net_along_N(station)
        if along > 0.0:
            stop = layout.stop_of(station.name)
            shares = thrust_shares(track, lanes.index(stop.lane), np.array([stop.travel_m]), carrier_m)
            found[row] = (along * shares[0]) ** 2
    return found


def coil_table(line: Line, layout: Layout, heat: CoilHeat, motor: MotorSheet) -> Table:
    """Mean, worst hour and filtered heat of every coil group, with what lies over it.

    Parameters
    ----------
    line, layout : a line and its own layout
    heat : of its coil groups
    motor : the sheet's motor

    Returns
    -------
    Table   One row a group; heat in [W], ends in [m].

    Source     docs/limits/motion.md, Heat of the coils.
    """
    hourly = window_means_W(heat.power_W, heat.bin_s, HOUR_BINS).max(axis=0)
    low, high, names = [], [], []
    for stretch in heat.track.stretches:
        for one, other in zip(stretch.floor_m[:-1], stretch.floor_m[1:], strict=True):
            low.append(min(one, other))
            high.append(max(one, other))
            names.append(stretch.name)
    return Table(
        (
            Column("lane", None, np.array(names, np.str_), "lane, or transfer of a platform"),
            Column("from_m", "m", np.array(low), "floor distance; of a ring travel"),
            Column("to_m", "m", np.array(high), "floor distance; of a ring travel"),
            Column("mean_W", "W", heat.mean_W(), "over the duty"),
            Column("worst_hour_W", "W", hourly, "greatest hourly mean"),
            Column("filtered_W", "W", _filtered(heat, heat.power_W, motor), "greatest, as the winding follows it"),
            Column("limit_W", "W", np.full(len(low), motor.continuous_loss_W), "for ever"),
            Column("under", None, np.array(_under(line, layout, heat.track), np.str_), "what lies over it"),
        )
    )


def _filtered(heat: CoilHeat, power_W: FloatArray, motor: MotorSheet) -> FloatArray:
    """Greatest value of each group as the winding follows its heat; at the start the mean of the duty. [W]"""
    return np.asarray(_course(heat, power_W, motor).max(axis=0), np.float64)


def _course(heat: CoilHeat, power_W: FloatArray, motor: MotorSheet) -> FloatArray:
    start = heat.bin_s @ power_W / heat.bin_s.sum()
    after = filtered_heat_W(power_W, heat.bin_s, motor.thermal_time_s, start)
    return np.concatenate((start[None, :], after))


def _under(line: Line, layout: Layout, track: CoilTrack) -> list[str]:
    """What stands over each group: stations first, then docks and platforms, else waiting stops, else nothing."""
    half_m = 0.5 * line.conveyor.carrier.length_m
    found = []
    for number, stretch in enumerate(track.stretches):
        is_lane = number < len(layout.lanes)
        here = [stop for stop in layout.stops if is_lane and stop.lane == stretch.name and stop.kind != "aboard"]
        here.sort(key=lambda stop: ("station", "dock", "waiting").index(stop.kind))
        for low, high in zip(stretch.edges_m[:-1], stretch.edges_m[1:], strict=True):
            over = [stop for stop in here if _covers(stop.travel_m, half_m, low, high, stretch.edges_m[-1])]
            best = [stop.label for stop in over if stop.kind == over[0].kind]
            named = "a waiting stop" if over and over[0].kind == "waiting" else " and ".join(best) or "no stop"
            found.append(named if is_lane else PLATFORM)
    return found


def _covers(centre_m: float, half_m: float, low_m: float, high_m: float, round_m: float) -> bool:
    """Whether a carrier there reaches over a group; on a ring also past its start."""
    rear, front = low_m + 1e-9 - half_m, high_m - 1e-9 + half_m
    return any(rear < centre_m + shift < front for shift in (-round_m, 0.0, round_m))


def check_coil_heat(line: Line, layout: Layout, duty: Duty | None) -> tuple[tuple[Finding, ...], Table | None]:
    """Whether every coil group stands the duty.

    Parameters
    ----------
    line, layout : a line and its own layout
    duty : of a run; None without one

    Returns
    -------
    tuple of Finding, Table or None   ``coil-heat``: the greatest mean of any hour; ``coil-warming``: the greatest heat
                                      as the winding follows it; each against the sheet's continuous loss [W]. One row
                                      ``not checked`` where a figure or the duty is missing; then there is no table.

    Source     docs/limits/motion.md, Heat of the coils; the conveyor sheet's motor figures.
    """
    motor = line.conveyor.drive.motor
    missing = _missing(line)
    if missing is not None or duty is None or motor is None:
        loss = line.conveyor.place("drive", "motor", "continuous_loss")
        where, place, remedy = missing or ("heat of the coil groups: no run was asked for", loss, _RUN)
        if missing is None and layout.blocking:  # no run is possible
            where, remedy = "heat of the coil groups: no traffic is possible", "mend first what the rows on layout say"
        limit = None if motor is None else motor.continuous_loss_W
        return (
            Finding("coil-heat", "motion", "not checked", where, place, None, limit, "W", None, RULE, remedy),
        ), None
    heat = find_coil_heat(line, layout, duty, motor)
    table = coil_table(line, layout, heat, motor)
    hour = (
        "in its worst hour" if len(heat.bin_s) >= HOUR_BINS else f"in the mean of {rounded(duty.span_s / 60.0, 4)} min"
    )
    slower = _Slower(line, layout, duty, motor)
    rows = (
        _row(line, heat, slower, table, "coil-heat", "worst_hour_W", hour),
        _row(line, heat, slower, table, "coil-warming", "filtered_W", "at its warmest"),
    )
    return rows, table


def _missing(line: Line) -> tuple[str, Place | None, str] | None:
    """Which figures of the motor are not stated, where they would stand, and what to write."""
    motor, sheet = line.conveyor.drive.motor, line.conveyor
    if motor is None:
        remedy = "state the key motor under drive in the conveyor sheet"
        return "heat of the coil groups: the motor is not stated", sheet.place("drive"), remedy
    stated = {"group_length": motor.group_length_m, "hottest": motor.hottest_degC}
    unstated = [key for key, value in stated.items() if value is None]
    if not unstated:
        return None
    keys = " and ".join(unstated)
    remedy = f"state the key{'s' if len(unstated) > 1 else ''} {keys} under motor in the conveyor sheet"
    return f"heat of the coil groups: {keys} of the motor not stated", sheet.place("drive", "motor"), remedy


@dataclass(frozen=True, eq=False)
class _Slower:
    """The heat of the same duty under ceilings of acceleration, each reckoned once."""

    line: Line
    layout: Layout
    duty: Duty
    motor: MotorSheet
    known: dict[float, CoilHeat] = field(default_factory=dict)

    def words(self, code: str, limit_W: float) -> str:
        """The ceiling with which the row holds; empty where there is none."""

        def margin(ceiling: float) -> float:
            if ceiling not in self.known:
                duty = duty_under(self.line, self.duty, ceiling)
                self.known[ceiling] = find_coil_heat(self.line, self.layout, duty, self.motor)
            heat = self.known[ceiling]
            if code == "coil-warming":
                return limit_W - float(_filtered(heat, heat.power_W, self.motor).max())
            return limit_W - float(window_means_W(heat.power_W, heat.bin_s, HOUR_BINS).max())

        units = self.line.units
        now = present_figure(self.line, "acceleration")
        found = ceiling_that_holds(margin, now, ceiling_unit("acceleration", units))
        words = "" if found is None else ceiling_words("acceleration", found, units)
        return f"; or with {words}, departures as in the run" if words else ""


def _row(line: Line, heat: CoilHeat, slower: _Slower, table: Table, code: str, column: str, when: str) -> Finding:
    values, at, motor = table[column], int(np.argmax(table[column])), slower.motor
    low, high = (length_text(float(table[key][at]), line.units) for key in ("from_m", "to_m"))
    value, limit = float(values[at]), motor.continuous_loss_W
    margin = margin_below(value, limit)
    verdict = judge(margin)
    over = str(table["under"][at])
    above = f"on {over}" if over == PLATFORM else f"under {over}"
    hall = "" if line.temperature is None else f" (the hall reaches {temperature_in_words(line.temperature.most_degC)})"
    where = f"hottest coil group, {when}: {table['lane'][at]} {low} to {high}, {above}; at the sheet's ambient{hall}"
    unstated = stations_with_unstated_force(line)
    if unstated:
        where += f"; without the forces of {', '.join(unstated)}, which are not stated"
    remedy = ""
    if verdict != "holds":
        remedy = _lighter(line, heat, motor, code, spare_for(verdict))
        remedy += " with a tenth to spare" if verdict == "tight" else ""
        remedy += slower.words(code, (1.0 - spare_for(verdict)) * motor.continuous_loss_W)
    if verdict == "tight":
        remedy = f"little is left, a faster or heavier duty overheats it: {remedy}"
    place = line.conveyor.place("drive", "motor", "continuous_loss")
    return Finding(code, "motion", verdict, where, place, value, limit, "W", margin, RULE, remedy)


def _lighter(line: Line, heat: CoilHeat, motor: MotorSheet, code: str, spare: float) -> str:
    """By how much lighter fixtures would have to be, all moves as they are; else what the motor would have to bear."""
    fixture_kg = 0.0 if line.fixture is None else line.fixture.mass_kg
    parts = [heat.power_W, heat.per_kg_W, heat.per_kg2_W]
    if code == "coil-warming":
        courses = [_course(heat, part, motor) for part in parts]
    else:
        courses = [window_means_W(part, heat.bin_s, HOUR_BINS) for part in parts]
    limit = (1.0 - spare) * motor.continuous_loss_W

    def margin(less_kg: float) -> float:
        return float(1.0 - (courses[0] - less_kg * courses[1] + less_kg**2 * courses[2]).max() / limit)

    worst = (1.0 - margin(0.0)) * motor.continuous_loss_W
    less = value_that_holds(margin, 0.0, fixture_kg) if fixture_kg > 0.0 else None
    if less is None:
        return f"with a motor whose coil groups give off {figure_text(rounded_away(worst, limit))} W for ever it holds"
    kept, now = to_write(fixture_kg - less, "kg", line.units, fixture_kg), in_words(fixture_kg, "kg", line.units)
    return f"with a fixture of {kept} instead of {now}, moves as they are, it holds"
