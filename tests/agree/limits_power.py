"""The rows of power reckoned anew from docs/limits/power.md alone, by plain means.

Where the program has a closed form this has a search, where it repeats this shoots, where it sums exact energies this
takes Simpson's rule between all cuts. It reads the line, the layout and the duty, never the check.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from agree.limits_power_base import (
    Fed,
    Figures,
    Row,
    bounds_m,
    carriers_on,
    fed_by,
    figures_of,
    hot,
    judged,
    mass_kg,
    restart_load_W,
)
from linewright.motion.limits import carrier_limits

if TYPE_CHECKING:
    from linewright.flow.duty import Duty, DutyLeg
    from linewright.layout import Layout
    from linewright.layout.lanes import LaneLayout
    from linewright.line.electrics import Feeder
    from linewright.line.model import Line

BIN_S: Final = 0.010
LOOKED_AT_S: Final = 720.0
SIZES: Final = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0)
OHM_PER_KM: Final = {
    "stranded": (36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727, 0.524, 0.387),
    "flexible": (39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21, 0.780, 0.554, 0.386),
}


def greatest_power_W(line: Line, layout: Layout, figures: Figures) -> float:
    """P1: the cubic of each stretch of constant jerk, at its ends and where its slope is nothing."""
    longest_m = max(lane.length_m for lane in layout.lanes)
    most_W = 0.0
    for loaded in (False, True):
        m = mass_kg(line, loaded)
        for i in range(24):
            distance_m = layout.pitch_m * (longest_m / layout.pitch_m) ** (i / 23.0)
            for one in carrier_limits(line, loaded, distance_m).move.segments:
                v = np.polynomial.Polynomial([one.speed_m_s, one.acceleration_m_s2, 0.5 * one.jerk_m_s3])
                force = np.polynomial.Polynomial([m * one.acceleration_m_s2 + figures.friction_N, m * one.jerk_m_s3])
                power = force * v + force**2 * (figures.hot_ohm / figures.k**2)
                roots = power.deriv().roots()
                inside = [r.real for r in roots if abs(r.imag) < 1e-12 and 0.0 < r.real < one.duration_s]
                most_W = max(most_W, *(float(power(t)) for t in (0.0, one.duration_s, *inside)))
    return most_W


def conductor_ohm_per_m(area_mm2: float, conductor: str, temperature_degC: float) -> float:
    return hot(OHM_PER_KM[conductor][SIZES.index(area_mm2)] * 1e-3, temperature_degC)


def runs_ohm(fed: Fed) -> list[float] | None:
    """Cable and links, go and return, from the head on; None where they are not known."""
    cable, link = fed.feeder.cable, fed.feeder.link
    if cable is None or (link is None and len(fed.numbers) > 1):
        return None
    if cable.area_mm2 not in SIZES or (link is not None and link.area_mm2 not in SIZES):
        return None
    runs = [2.0 * cable.length_m * conductor_ohm_per_m(cable.area_mm2, cable.conductor, cable.temperature_degC)]
    if link is not None:
        one = 2.0 * link.length_m * conductor_ohm_per_m(link.area_mm2, cable.conductor, cable.temperature_degC)
        runs += [one] * (len(fed.numbers) - 1)
    return runs


def known_ohm(fed: Fed) -> float:
    """Cable and links as far as they are stated and of a size of the table."""
    cable, link = fed.feeder.cable, fed.feeder.link
    ohm = 0.0
    for wire, times in ((cable, 1), (link, len(fed.numbers) - 1)):
        if cable is not None and wire is not None and wire.area_mm2 in SIZES:
            per_m = conductor_ohm_per_m(wire.area_mm2, cable.conductor, cable.temperature_degC)
            ohm += times * 2.0 * wire.length_m * per_m
    return ohm


def current_A(power_W: np.ndarray, low_V: float, ohm: float) -> np.ndarray:
    """Formula 4, out of U_ I - R I² = P; infinite where that has no solution."""
    inside = low_V * low_V - 4.0 * power_W * ohm
    with np.errstate(invalid="ignore"):
        found = 2.0 * power_W / (low_V + np.sqrt(inside))
    return np.where(inside < 0.0, np.inf, found)


def far_V(head_V: float, runs: list[float], load_W: np.ndarray) -> float | None:
    """The far end's voltage by shooting from there to the head; None where no voltage there gives the head's."""

    def head_of(far: float) -> float:
        u, current = far, 0.0
        for ohm, power in zip(reversed(runs), load_W[::-1], strict=True):
            current += power / u
            u += ohm * current
        return u - head_V

    if not load_W.any():
        return head_V
    grid = head_V * np.linspace(1.0, 1e-3, 4000)
    values = np.array([head_of(u) for u in grid])
    below = np.flatnonzero(values <= 0.0)
    if len(below) == 0:
        least = int(values.argmin())
        window = (float(grid[min(least + 1, len(grid) - 1)]), float(grid[max(least - 1, 0)]))
        lowest = minimize_scalar(head_of, bounds=window, method="bounded", options={"xatol": 1e-13})
        if lowest.fun > 0.0:
            return None
        return float(brentq(head_of, lowest.x, window[1], xtol=1e-13))
    if below[0] == 0:
        return head_V
    return float(brentq(head_of, float(grid[below[0]]), float(grid[below[0] - 1]), xtol=1e-13))


# ---- braking ----


def braking(line: Line, figures: Figures) -> tuple[float, float]:
    """E1 and P1 of one carrier by trying decelerations: a fine grid, then a bounded search about the best."""
    sheet = line.conveyor
    m, v, c = mass_kg(line, True), sheet.drive.speed_m_s, figures.cold_ohm / figures.k**2
    f = min(figures.friction_N, sheet.coasting.least_drag_N) if sheet.coasting else 0.0
    most = max([sheet.drive.acceleration_m_s2, *([sheet.stopping.deceleration_m_s2] if sheet.stopping else [])])
    if m * most <= f:
        return 0.0, 0.0

    def energy(a: Any) -> Any:
        b = m * a - f
        return b * np.maximum(v - c * b, 0.0) ** 2 / (2.0 * a)

    def peak(a: Any) -> Any:
        b = m * a - f
        return b * np.maximum(v - c * b, 0.0)

    found = []
    least = f / m
    grid = least + (most - least) * np.geomspace(1e-24, 1.0, 30001)[1:]
    grid[-1] = most
    for form in (energy, peak):
        best = int(np.argmax(form(grid)))
        low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, len(grid) - 1)])
        polished = minimize_scalar(
            lambda a, form=form: -form(a), bounds=(low, high), method="bounded", options={"xatol": 1e-15}
        )
        found.append(max(float(form(grid[best])), -float(polished.fun), 0.0))
    return found[0], found[1]


def braking_V(figures: Figures, energy_J: float, peak_W: float, feeder: Feeder) -> float:
    alone = math.sqrt(figures.high_V**2 + 2.0 * energy_J / figures.capacitance_F)
    resistor = feeder.braking_resistor
    if resistor is None:
        return alone
    return min(alone, max(figures.high_V, resistor.on_V, math.sqrt(peak_W * resistor.resistance_ohm)))


def standing_A(figures: Figures, feeder: Feeder) -> float:
    """What a resistor that conducts below the supply's highest voltage takes for ever."""
    resistor = feeder.braking_resistor
    if resistor is None or figures.high_V <= resistor.on_V * (1.0 + 1e-9):
        return 0.0
    return figures.high_V / resistor.resistance_ohm


# ---- the run ----


def span_of(duty: Duty) -> float:
    """Whole bins alone."""
    return BIN_S * math.floor(min(LOOKED_AT_S, duty.span_s) / BIN_S + 1e-9)


def section_energies_J(line: Line, layout: Layout, figures: Figures, duty: Duty) -> list[np.ndarray]:
    """Of each lane, sections by bins. Simpson's rule is exact between cuts, where the power is a cubic."""
    bins = round(span_of(duty) / BIN_S)
    found = [np.zeros((len(lane.sections), bins)) for lane in layout.lanes]
    for number, leg in enumerate(duty.legs):
        departs = duty.departure_us[duty.leg == number] / 1e6 - duty.from_s
        departs = departs[departs < span_of(duty)]
        if len(departs) and leg.move.segments:
            _add_leg(found[leg.lane], layout.lanes[leg.lane], leg, departs, figures, mass_kg(line, leg.loaded))
    return found


def _add_leg(
    energy: np.ndarray, lane: LaneLayout, leg: DutyLeg, departs: np.ndarray, figures: Figures, m: float
) -> None:
    move, sign = leg.move, 1.0 if leg.end_m > leg.start_m else -1.0
    segments = move.segments
    starts = np.array([one.start_s for one in segments])
    table = np.array([(one.speed_m_s, one.acceleration_m_s2, one.jerk_m_s3) for one in segments])
    at = np.array(bounds_m(lane))
    rounds = np.arange(0, 3) * lane.length_m if lane.is_ring else np.zeros(1)
    places = (at[None, :] + rounds[:, None]).ravel()
    ways = (places - leg.start_m) * sign
    cuts = [move.time_to_cover_s(float(way)) for way in ways if 0.0 < way < move.distance_m]
    fixed = np.concatenate((starts, [move.duration_s], cuts))
    c = figures.hot_ohm / figures.k**2
    for depart in departs:
        first, last = math.ceil(depart / BIN_S), math.floor((depart + move.duration_s) / BIN_S)
        edges = np.unique(np.concatenate((fixed, np.arange(first, last + 1) * BIN_S - depart)))
        edges = edges[(edges >= 0.0) & (edges <= move.duration_s)]
        low, high = edges[:-1], edges[1:]
        middle = 0.5 * (low + high)
        which = np.searchsorted(starts, middle, side="right") - 1
        v0, a0, j0 = table[which].T

        def power(t: np.ndarray, which: Any = which, v0: Any = v0, a0: Any = a0, j0: Any = j0) -> np.ndarray:
            s = t - starts[which]
            force = m * (a0 + j0 * s) + figures.friction_N
            return np.asarray(force * (v0 + a0 * s + 0.5 * j0 * s * s) + c * force * force)

        joules = (high - low) / 6.0 * (power(low) + 4.0 * power(middle) + power(high))
        travel = leg.start_m + sign * np.asarray(move.position_m(middle))
        travel = np.mod(travel, lane.length_m) if lane.is_ring else travel
        section = np.clip(np.searchsorted(at, travel, side="right") - 1, 0, len(at) - 2)
        number = ((depart + middle) / BIN_S).astype(int)
        kept = (travel >= 0.0) & (travel <= lane.length_m) & (number < energy.shape[1])
        np.add.at(energy, (section[kept], number[kept]), joules[kept])


def shared(need_J: np.ndarray, holds_J: float) -> tuple[np.ndarray, float]:
    """What the supply delivers bin by bin, and what goes into the resistor in all."""
    held = resistor = 0.0
    supply = np.zeros(len(need_J))
    for i, need in enumerate(need_J.tolist()):
        held -= need
        if held < 0.0:
            supply[i], held = -held, 0.0
        elif held > holds_J:
            resistor, held = resistor + held - holds_J, holds_J
    return supply, resistor


@dataclass(frozen=True)
class Traced:
    """Of one feeder in the run."""

    peak_A: float
    effective_A: float
    supply_J: float
    resistor_J: float
    span_s: float
    section_peak_W: np.ndarray


def traced(figures: Figures, fed: Fed, energies: list[np.ndarray], layout: Layout, span_s: float) -> Traced:
    lane = [one.name for one in layout.lanes].index(fed.feeder.lane)
    mine = energies[lane][list(fed.numbers)]
    resistor = fed.feeder.braking_resistor
    holds_J = math.inf
    if resistor is not None:
        holds_J = max(0.0, 0.5 * figures.capacitance_F * (resistor.on_V**2 - figures.high_V**2))
    supply_J, resistor_J = shared(mine.sum(axis=0), holds_J)
    more_A = standing_A(figures, fed.feeder)
    amps = current_A(supply_J / BIN_S, figures.low_V, known_ohm(fed)) + more_A
    more_J = figures.high_V * more_A * span_s
    effective = math.sqrt(float(np.mean(amps**2)))
    peaks = np.maximum(mine.max(axis=1), 0.0) / BIN_S
    return Traced(float(amps.max()), effective, float(supply_J.sum()) + more_J, resistor_J + more_J, span_s, peaks)


# ---- rows ----


def power_rows(line: Line, layout: Layout, duty: Duty | None = None) -> list[Row]:
    """All rows of power."""
    rows = zone_rows(line, layout)
    figures = figures_of(line)
    if not line.feeders:
        rows.append(Row("feeders", "not checked"))
    else:
        rows += missing_rows(line)
    reckoned: list[tuple[Fed, Traced | None]] = []
    fed = [fed_by(one, layout) for one in line.feeders]
    if fed:
        rows += [row for one in fed for row in end_rows(one)] + unfed_rows(layout, fed)
        rows += lack_rows([one for one in fed if one.numbers])
        rows += [row for one in fed if one.numbers for row in protection_rows(line, one)]
    if figures is not None and fed:
        runs = None if duty is None else (section_energies_J(line, layout, figures, duty), span_of(duty))
        reckoned += [
            (one, None if runs is None else traced(figures, one, runs[0], layout, runs[1]))
            for one in fed
            if one.numbers
        ]
        rows += feeder_rows(line, layout, figures, reckoned)
    rows += cabinet_rows(line, layout, reckoned, None if duty is None else span_of(duty))
    if duty is not None and reckoned:
        rows += energy_rows(line, duty, [run for _, run in reckoned if run is not None])
    return rows


def missing_rows(line: Line) -> list[Row]:
    """Figures of the sheet without which no feeder is reckoned."""
    supply, motor = line.conveyor.supply, line.conveyor.drive.motor
    rows = []
    if supply is None:
        rows.append(Row("feeders", "not checked", words=("supply",)))
    elif supply.tolerance is None:
        rows.append(Row("feeders", "not checked", words=("tolerance",)))
    if motor is None:
        rows.append(Row("feeders", "not checked", words=("motor",)))
    elif motor.hottest_degC is None:
        rows.append(Row("feeders", "not checked", words=("hottest",)))
    return rows


def end_rows(fed: Fed) -> list[Row]:
    if not fed.numbers:
        return [Row("feeder-ends", "not checked", words=(fed.feeder.name,))]
    return [Row("feeder-ends", "holds", fed.length_m, None, None, "m", (fed.feeder.name,))] if fed.ends_within else []


def unfed_rows(layout: Layout, fed: list[Fed]) -> list[Row]:
    rows = []
    for lane in layout.lanes:
        held = {i for one in fed if one.lane.name == lane.name for i in one.numbers}
        without = len(lane.sections) - len(held)
        if without:
            words = (f"lane {lane.name}", f"{without} of {len(lane.sections)}")
            rows.append(Row("feeders", "not checked", words=words))
    return rows


def feeder_rows(line: Line, layout: Layout, figures: Figures, reckoned: list[tuple[Fed, Traced | None]]) -> list[Row]:
    """The rows of each feeder, and those of all together."""
    rows: list[Row] = []
    supply = line.conveyor.supply
    assert supply is not None
    one_E, one_P = braking(line, figures)
    start_W = greatest_power_W(line, layout, figures) if reckoned else 0.0
    highest = 0.0
    for fed, run in reckoned:
        feeder, name = fed.feeder, fed.feeder.name
        carriers, whole_A = carriers_on(line, layout, fed), feeder.supplies * supply.current_A
        if run is not None:
            rows.append(judged("feeder-peak", run.peak_A, whole_A, "A", name))
        amps = float(current_A(np.array([carriers * start_W]), figures.low_V, known_ohm(fed))[0])
        amps += standing_A(figures, feeder)
        rows.append(judged("all-restart", amps, whole_A, "A", name))
        energy_J, peak_W = carriers * one_E, carriers * one_P
        volts = braking_V(figures, energy_J, peak_W, feeder)
        highest = max(highest, volts)
        rows.append(judged("braking-voltage", volts, figures.trip_V, "V", name))
        resistor = feeder.braking_resistor
        if resistor is not None:
            rows.append(judged("resistor-on", figures.high_V, resistor.on_V, "V", name))
            if peak_W > 0.0:
                most = resistor.on_V**2 / peak_W
                rows.append(judged("resistor-resistance", resistor.resistance_ohm, most, "ohm", name))
        rows += run_rows(fed, figures, run)
        rows += far_rows(line, layout, figures, fed, start_W, run)
        rated = rated_of(feeder)
        if rated is not None and math.isfinite(amps):
            words = (name, f"{amps / rated[1]:.3g} times", rated[0])
            rows.append(Row("restart-protection", "holds", amps, None, None, "A", words))
    if reckoned:
        dry = None if line.environment is None else line.environment.dry
        if dry is None:
            rows.append(Row("extra-low-voltage", "not checked"))
        else:
            rows.append(judged("extra-low-voltage", highest, 60.0 if dry else 15.0, "V"))
        if reckoned[0][1] is None:
            rows.append(Row("feeder-peak", "not checked"))
    return rows


def rated_of(feeder: Feeder) -> tuple[str, float, float] | None:
    """Fuse or breaker, its rated current, and what it ends for sure."""
    if feeder.breaker_A is not None:
        return "breaker", feeder.breaker_A, 1.45 * feeder.breaker_A
    if feeder.fuse_A is None:
        return None
    bands = [share for share, holds in ((1.6, feeder.fuse_A >= 16.0), (1.9, feeder.fuse_A > 4.0), (2.1, True)) if holds]
    return "fuse", feeder.fuse_A, bands[0] * feeder.fuse_A


def protection_rows(line: Line, fed: Fed) -> list[Row]:
    """What needs no current of the carriers."""
    feeder, rows, supply = fed.feeder, [], line.conveyor.supply
    rated = rated_of(feeder)
    if rated is None:
        return []
    device, fuse_A, ends_A = rated
    if feeder.cable is not None and feeder.cable.rating_A is not None:
        row = judged("fuse-cable", max(fuse_A, ends_A / 1.45), feeder.cable.rating_A, "A", feeder.name, device)
        rows.append(row)
    if supply is not None:
        whole_A = feeder.supplies * supply.current_A
        ends = f"the {device} ends" if whole_A >= ends_A else f"not the {device}"
        rows.append(Row("fuse-supply", "holds", whole_A, None, None, "A", (feeder.name, ends)))
    return rows


def run_rows(fed: Fed, figures: Figures, run: Traced | None) -> list[Row]:
    """What needs a run: fuse or breaker, and the resistor; one that conducts for ever needs none."""
    feeder, rows = fed.feeder, []
    if run is None:
        always_W = figures.high_V * standing_A(figures, feeder)
        if feeder.braking_resistor is None or always_W == 0.0:
            return []
        return [judged("resistor-power", always_W, feeder.braking_resistor.power_W, "W", feeder.name)]
    rated = rated_of(feeder)
    if rated is not None:
        rows.append(judged("design-current", run.effective_A, rated[1], "A", feeder.name, rated[0]))
    if feeder.braking_resistor is not None:
        most_W = feeder.braking_resistor.power_W
        rows.append(judged("resistor-power", run.resistor_J / run.span_s, most_W, "W", feeder.name))
    return rows


def far_rows(line: Line, layout: Layout, figures: Figures, fed: Fed, start_W: float, run: Traced | None) -> list[Row]:
    runs = runs_ohm(fed)
    if runs is None:
        return []
    loads = [restart_load_W(line, layout, fed, start_W)]
    if run is not None:
        loads.append(run.section_peak_W)
    ends = [far_V(figures.low_V, runs, load) for load in loads]
    lost = math.inf if None in ends else figures.low_V - min(end for end in ends if end is not None)
    limit = figures.low_V - line.conveyor.drive.lowest_voltage_V
    return [judged("far-end-voltage", lost, limit, "V", fed.feeder.name)]


def lack_rows(fed: list[Fed]) -> list[Row]:
    """One row for each figure that feeders lack, whichever they are."""
    without = {
        ("far-end-voltage", "cable"): [one for one in fed if one.feeder.cable is None],
        ("far-end-voltage", "link"): [one for one in fed if one.feeder.link is None and len(one.numbers) > 1],
        ("fuse-cable", "fuse"): [one for one in fed if rated_of(one.feeder) is None],
        ("fuse-cable", "rating"): [one for one in fed if one.feeder.cable and one.feeder.cable.rating_A is None],
    }
    without["cable-size", ""] = [
        one for one in fed if any(wire and wire.area_mm2 not in SIZES for wire in (one.feeder.cable, one.feeder.link))
    ]
    without["link-area", ""] = [
        one
        for one in fed
        if len(one.numbers) > 1
        and one.feeder.cable
        and one.feeder.link
        and one.feeder.link.area_mm2 < one.feeder.cable.area_mm2
    ]
    return [
        Row(code, "not checked", words=tuple(one.feeder.name for one in those))
        for (code, _), those in without.items()
        if those
    ]


def cabinet_rows(
    line: Line, layout: Layout, reckoned: list[tuple[Fed, Traced | None]], span_s: float | None
) -> list[Row]:
    rows: list[Row] = []
    supply, cabinet = line.conveyor.supply, line.cabinet
    feeders = line.feeders
    if feeders and cabinet is None and supply is not None:
        rows.append(Row("cabinet-heat", "not checked", words=("cabinet",)))
    if feeders and cabinet is not None and supply is not None:
        if supply.efficiency is None:
            rows.append(Row("cabinet-heat", "not checked", words=("efficiency",)))
        else:
            rows.append(heat_row(line, supply, cabinet.heat_W, reckoned, span_s))
        if supply.width_m is None:
            rows.append(Row("cabinet-width", "not checked", words=("width",)))
        else:
            width = sum(one.supplies for one in feeders) * supply.width_m
            rows.append(judged("cabinet-width", width, cabinet.width_m, "m"))
    if feeders and supply is not None and supply.separate_logic_supply:
        if line.conveyor.logic is None:
            rows.append(Row("logic-current", "not checked"))
        else:
            sections = sum(len(lane.sections) for lane in layout.lanes)
            amps = sections * line.conveyor.logic.section_current_A
            rows.append(Row("logic-current", "holds", amps, None, None, "A"))
    return rows


def heat_row(
    line: Line, supply: Any, most_W: float, reckoned: list[tuple[Fed, Traced | None]], span_s: float | None
) -> Row:
    share = 1.0 / supply.efficiency - 1.0
    full = sum(one.supplies for one in line.feeders) * supply.current_A * supply.voltage_V * share
    full += sum(one.braking_resistor.power_W for one in line.feeders if one.braking_resistor is not None)
    if full <= most_W:
        return judged("cabinet-heat", full, most_W, "W")
    runs = [run for _, run in reckoned if run is not None]
    if span_s is None or len(runs) < len(line.feeders):
        return Row("cabinet-heat", "not checked")
    return judged("cabinet-heat", sum(one.supply_J * share + one.resistor_J for one in runs) / span_s, most_W, "W")


def energy_rows(line: Line, duty: Duty, runs: list[Traced]) -> list[Row]:
    last = [step for step in line.route if not step.reject_exit][-1]
    numbers = [i for i, station in enumerate(line.stations) if station.name in last.stations]
    ends_s = duty.work_end_us / 1e6 - duty.from_s
    works = int((np.isin(duty.work_station, numbers) & (ends_s >= 0.0) & (ends_s < span_of(duty))).sum())
    parts = works * (line.fixture.nests if line.fixture else 1)
    if not parts:
        return []
    supply = line.conveyor.supply
    efficiency = 1.0 if supply is None or supply.efficiency is None else supply.efficiency
    joules = sum(one.supply_J for one in runs) / efficiency / parts
    return [Row("energy-per-part", "holds", joules, None, None, "J")]


def zone_rows(line: Line, layout: Layout) -> list[Row]:
    rows: list[Row] = []
    without = [one.name for one in line.stations if is_operators(line, one) and one.motor_zone is None]
    if without:
        rows.append(Row("motor-zone", "not checked", words=tuple(without)))
    zones = {zone.name: zone for zone in line.motor_zones}
    named = []
    for station in line.stations:
        if station.motor_zone is None:
            continue
        zone = zones[station.motor_zone]
        at_m = station.along_m if layout.lane(station.lane).is_ring else station.at_m
        assert at_m is not None
        named.append(zone.name)
        reach = min(at_m - zone.from_m, zone.to_m - at_m)
        rows.append(judged("zone-reach", 0.5 * layout.body_m, reach, "m", zone.name, station.name))
    if named:
        supply = line.conveyor.supply
        verdict = "not checked" if supply is None else "holds" if supply.separate_logic_supply else "fails"
        rows.append(Row("zone-logic", verdict, margin=-1.0 if verdict == "fails" else None, words=tuple(named)))
    return rows


def is_operators(line: Line, station: Any) -> bool:
    changed = {change.station for change in line.carrier_changes}
    by_hand = station.work == "manual" or station.release_s is not None or station.name in changed
    return by_hand or station.guard is not None
