"""A plain recomputation of the newer rows of motion, from docs/limits/motion.md alone.

The legs and their profiles are those of the traffic plan; everything on top of them is done by other means: waves by
quadrature of the driven oscillator, squares of thrust by Gauss points, heat group by group and instant by instant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from agree.limits_rows import Row, verdict_of
from linewright.flow.duty import Duty
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.line.surroundings import Liquid
from linewright.motion.curves import leg_limits
from linewright.motion.limits import moving_mass_kg, ride_move
from linewright.motion.profile import Move, plan_move
from linewright.traffic.compile import compile_plan
from linewright.traffic.referee.frames import Frames
from linewright.traffic.track import track_of

Floats = NDArray[np.float64]

G_M_S2: Final = 9.80665
SAFETY: Final = 1.5
COPPER_1_K: Final = 0.00393
UNCHECKED: Final = "not checked"
GAUSS: Final = np.polynomial.legendre.leggauss(5)

ROWS: Final = (
    "part-hold",
    "emergency-hold",
    "emergency-thrust",
    "slosh",
    "slosh-emergency",
    "peak-thrust",
    "rms-thrust",
    "coil-heat",
    "coil-warming",
)


@dataclass(frozen=True)
class Leg:
    """A move that carriers may make."""

    loaded: bool
    curved: bool
    mass_kg: float
    move: Move


def legs_of(line: Line, layout: Layout) -> list[Leg]:
    """Every move that the traffic plan knows, each kind of profile once."""
    track, frames = track_of(compile_plan(line, layout)), Frames(line, layout)
    kinds: dict[tuple[bool, float, bool], None] = {}
    for start, end in zip(*np.nonzero(track.leg >= 0), strict=True):
        way = frames.run(int(start), int(end))
        if way is None:
            continue
        for loaded in (False, True):
            if track.leg_us[2 * track.leg[start, end] + loaded] >= 0:
                kinds[loaded, round(way.length_m, 12), frames.is_curved(way)] = None
    masses = {loaded: moving_mass_kg(line, loaded) for loaded in (False, True)}
    return [
        Leg(loaded, curved, masses[loaded], plan_move(way_m, leg_limits(line, loaded, way_m, curved).limits))
        for loaded, way_m, curved in kinds
    ]


def limited(code: str, value: float, limit: float, stations: tuple[str, ...] = ()) -> Row:
    """A row with a limit; what agrees to a billionth has a margin of nought."""
    margin = 1.0 - value / limit if limit != 0.0 else -math.inf
    margin = 0.0 if abs(margin) <= 1e-9 else margin
    return Row(code, verdict_of(margin), value, limit, margin, stations)


def curve_N(line: Line, speed_m_s: float | Floats) -> Floats:
    """The whole thrust-speed curve at lowest voltage."""
    drive = line.conveyor.drive
    share = drive.lowest_voltage_V / drive.nominal_voltage_V
    speeds, forces = zip(*drive.thrust, strict=True)
    return np.interp(speed_m_s, np.array(speeds) * share, forces)


def holds_m_s2(line: Line) -> list[float | None]:
    """What the part stands: a pocket or clamp one figure, friction two, slip and tip; None where one is not stated."""
    part = line.part
    if part is None or part.held is None:
        return [None]
    friction = part.held.friction
    if friction is None:
        return [part.held.acceleration_m_s2]
    tip = None if part.mass_height_m is None else friction.half_base_m / part.mass_height_m * G_M_S2 / SAFETY
    return [friction.coefficient * G_M_S2 / SAFETY, tip]


# ---- emergency stop ------------------------------------------------------------------------------------------------


def emergency_rows(line: Line, legs: list[Leg]) -> list[Row]:
    stopping, rows = line.conveyor.stopping, []
    if stopping is None:
        return [Row("emergency-hold", UNCHECKED)]
    braking = stopping.deceleration_m_s2
    pull = braking
    fast = [leg.move.peak_speed_m_s for leg in legs if leg.loaded and leg.curved]
    if fast and line.conveyor.curve is not None:
        pull = math.sqrt(braking**2 + (max(fast) ** 2 / line.conveyor.curve.radius_m) ** 2)
    # Of a hold that is not stated the row part-hold says what is missing.
    rows += [limited("emergency-hold", pull, hold) for hold in holds_m_s2(line) if hold is not None]
    speeds = [leg.move.peak_speed_m_s for leg in legs if leg.loaded]
    if speeds:
        needed = moving_mass_kg(line, True) * braking + line.conveyor.drive.cogging_N
        rows.append(limited("emergency-thrust", needed, float(curve_N(line, max(speeds)))))
    return rows


# ---- liquid --------------------------------------------------------------------------------------------------------


def wave_of(liquid: Liquid) -> tuple[float, float, float]:
    """Angular frequency of the first mode, its share of the plane, rise of the plane per unit of acceleration."""
    if liquid.length_m is not None:
        k, share, across_m = math.pi / liquid.length_m, 8.0 / math.pi**2, liquid.length_m
    else:
        assert liquid.diameter_m is not None
        root = 1.8411837813406593
        k, share, across_m = root / (liquid.diameter_m / 2.0), 2.0 / (root**2 - 1.0), liquid.diameter_m
    return math.sqrt(G_M_S2 * k * math.tanh(k * liquid.depth_m)), share, across_m / (2.0 * G_M_S2)


def rise_m(liquid: Liquid, move: Move | Braking) -> float:
    """Greatest rise of the wave by quadrature: w' + i o w = e^(i o t) times the integral of e^(-i o s) o² c a(s)."""
    omega, share, plane = wave_of(liquid)
    breaks = [segment.start_s for segment in move.segments] + [move.duration_s]
    panels = [max(8, math.ceil((b - a) * omega / 0.02)) for a, b in pairwise(breaks)]
    edges = np.concatenate(
        [np.linspace(a, b, n, endpoint=False) for (a, b), n in zip(pairwise(breaks), panels, strict=True)]
    )
    edges = np.append(edges, move.duration_s)
    half, middle = np.diff(edges)[:, None] / 2.0, (edges[1:] + edges[:-1])[:, None] / 2.0
    at = middle + half * GAUSS[0]
    pushed = np.asarray(move.acceleration_m_s2(at)) * share * plane * omega**2
    parts = (np.exp(-1j * omega * at) * pushed * GAUSS[1]).sum(axis=1) * half[:, 0]
    state = np.exp(1j * omega * edges) * np.concatenate(([0.0], np.cumsum(parts)))
    w, rate = state.imag / omega, state.real
    inside = np.abs(w).max()
    # Between two edges the extremum lies where the rate changes sign: a cubic through both ends and rates.
    for i in np.flatnonzero(rate[:-1] * rate[1:] < 0.0):
        h = edges[i + 1] - edges[i]
        u = np.linspace(0.0, 1.0, 201)
        cubic = (
            (2 * u**3 - 3 * u**2 + 1) * w[i]
            + (u**3 - 2 * u**2 + u) * h * rate[i]
            + (3 * u**2 - 2 * u**3) * w[i + 1]
            + (u**3 - u**2) * h * rate[i + 1]
        )
        inside = max(inside, float(np.abs(cubic).max()))
    greatest = max(move.peak_acceleration_m_s2, move.peak_deceleration_m_s2)
    return max(float(inside), abs(state[-1]) / omega, plane * greatest)


@dataclass(frozen=True)
class Stretch:
    """When a stretch of constant jerk begins, and how long it lasts."""

    start_s: float
    duration_s: float


class Braking:
    """A stop: the deceleration grows with the jerk, stays, and fades; less of it where the speed is soon gone."""

    def __init__(self, speed_m_s: float, deceleration_m_s2: float, jerk_m_s3: float) -> None:
        ramp_s = min(deceleration_m_s2 / jerk_m_s3, math.sqrt(speed_m_s / jerk_m_s3))
        self.peak_deceleration_m_s2 = jerk_m_s3 * ramp_s
        self.peak_acceleration_m_s2 = 0.0
        hold_s = max(0.0, speed_m_s / self.peak_deceleration_m_s2 - ramp_s)
        self.corners_s = [0.0, ramp_s, ramp_s + hold_s, 2.0 * ramp_s + hold_s]
        self.duration_s = self.corners_s[-1]
        self.segments = [Stretch(a, b - a) for a, b in pairwise(self.corners_s) if b > a]

    def acceleration_m_s2(self, time_s: Floats) -> Floats:
        return np.interp(time_s, self.corners_s, -self.peak_deceleration_m_s2 * np.array([0.0, 1.0, 1.0, 0.0]))


def slosh_rows(line: Line, layout: Layout, legs: list[Leg]) -> list[Row]:
    liquid = None if line.part is None else line.part.liquid
    if liquid is None:
        return []
    moves = [leg.move for leg in legs if leg.loaded]
    stopping, rows = line.conveyor.stopping, [Row("slosh", UNCHECKED, None, liquid.freeboard_m)]
    if stopping is not None and moves:
        fastest = max(move.peak_speed_m_s for move in moves)
        braking = Braking(fastest, stopping.deceleration_m_s2, line.conveyor.drive.jerk_m_s3)
        rows.append(wave_row("slosh-emergency", liquid, rise_m(liquid, braking)))
    if liquid.diameter_m is not None:
        moves += [ride for _, ride in rides_of(line, layout, "cross-transfer") if ride.distance_m > 0.0]
    if moves:
        rows[0] = wave_row("slosh", liquid, max(rise_m(liquid, move) for move in moves))
    return rows


def wave_row(code: str, liquid: Liquid, rise_m: float) -> Row:
    """Small waves only: what is higher than the depth has no number, and holds nowhere."""
    if rise_m <= liquid.depth_m:
        return limited(code, rise_m, liquid.freeboard_m)
    return Row(code, "fails" if rise_m > liquid.freeboard_m else UNCHECKED, None, liquid.freeboard_m)


def rides_of(line: Line, layout: Layout, kind: str) -> list[tuple[str, Move]]:
    """Each transfer of a kind with the longest ride that it makes from a lane it takes from to one it gives to."""
    found = []
    for transfer in layout.transfers:
        if transfer.kind != kind:
            continue
        sheet = line.conveyor.transfers[kind]
        for takes in transfer.takes:
            for gives in transfer.gives:
                one, other = layout.lane(takes), layout.lane(gives)
                apart = one.level_m - other.level_m if kind == "lift" else one.across_m - other.across_m
                found.append((transfer.name, ride_move(sheet, abs(apart))))
    return found


# ---- thrust --------------------------------------------------------------------------------------------------------


def force_N(line: Line, leg: Leg, time_s: Floats) -> Floats:
    return leg.mass_kg * np.asarray(leg.move.acceleration_m_s2(time_s)) + line.conveyor.drive.friction_N


def squares_N2s(line: Line, leg: Leg) -> float:
    """The integral of the squared thrust over a move, by Gauss points on each stretch of constant jerk."""
    total = 0.0
    for one in leg.move.segments:
        at = one.start_s + one.duration_s * (GAUSS[0] + 1.0) / 2.0
        total += float((force_N(line, leg, at) ** 2 * GAUSS[1]).sum()) * one.duration_s / 2.0
    return total


def peak_rows(line: Line, legs: list[Leg]) -> list[Row]:
    worst, row = -1.0, None
    for leg in legs:
        times = np.union1d([s.start_s for s in leg.move.segments], np.linspace(0.0, leg.move.duration_s, 129))
        asked = np.abs(force_N(line, leg, times)) + line.conveyor.drive.cogging_N
        used = asked / curve_N(line, np.asarray(leg.move.speed_m_s(times)))
        i = int(np.argmax(used))
        if used[i] > worst:
            worst = float(used[i])
            row = limited("peak-thrust", float(asked[i]), float(asked[i] / used[i]))
    return [] if row is None else [row]


def rms_rows(line: Line, legs: list[Leg], duty: Duty | None) -> list[Row]:
    most = line.conveyor.drive.continuous_thrust_N
    if duty is None:
        hardest = max((math.sqrt(squares_N2s(line, leg) / leg.move.duration_s) for leg in legs), default=None)
        if hardest is None:
            return []
        hardest = max([hardest, *(net_along_N(station) for station in line.stations)])
        return [
            limited("rms-thrust", hardest, most) if hardest <= most else Row("rms-thrust", UNCHECKED, hardest, most)
        ]
    each = np.array([squares_N2s(line, Leg(one.loaded, one.curved, one.mass_kg, one.move)) for one in duty.legs])
    if not len(duty.leg):
        return rms_rows(line, legs, None)
    sums = np.zeros(max(duty.carriers, int(duty.carrier.max()) + 1))
    np.add.at(sums, duty.carrier, each[duty.leg])
    for number, station in enumerate(line.stations):
        worked = worked_s(duty, number).sum()
        sums += net_along_N(station) ** 2 * worked / duty.carriers
    return [limited("rms-thrust", math.sqrt(sums.max() / duty.span_s), most)]


def worked_s(duty: Duty, station: int) -> Floats:
    """Time of each work of a station that lies in the duty."""
    mine = duty.work_station == station
    start = np.maximum(duty.work_start_us[mine] / 1e6, duty.from_s)
    return np.maximum(np.minimum(duty.work_end_us[mine] / 1e6, duty.to_s) - start, 0.0)


def net_along_N(station: Station) -> float:
    """Size of the sum of the stated forces along, less what a support takes along."""
    size = abs(sum(force.along_N for force in station.force or ()))
    return max(0.0, size - (station.support.along_N or 0.0 if station.support is not None else 0.0))


def hold_rows(line: Line, layout: Layout, legs: list[Leg]) -> list[Row]:
    """What the part stands along the track, and on each platform that rides."""
    along = max((leg.move.peak_acceleration_m_s2 for leg in legs if leg.loaded), default=None)
    stated = [hold for hold in holds_m_s2(line) if hold is not None]
    rows = [Row("part-hold", UNCHECKED, along) for hold in holds_m_s2(line) if hold is None]
    if along is not None:
        rows += [limited("part-hold", along, hold) for hold in stated]
    if not stated:
        return rows
    friction = line.part is not None and line.part.held is not None and line.part.held.friction is not None
    for kind in ("lift", "cross-transfer"):
        hardest: dict[str, float] = {}
        for name, ride in rides_of(line, layout, kind):
            hardest[name] = max(hardest.get(name, 0.0), ride.peak_acceleration_m_s2)
        limits = [G_M_S2] if friction and kind == "lift" else stated
        rows += [limited("part-hold", value, limit) for value in hardest.values() for limit in limits if value > 0.0]
    return rows


def motion_rows(line: Line, layout: Layout, duty: Duty | None = None) -> list[Row]:
    """The rows named in ROWS, save those of the coils."""
    legs = legs_of(line, layout)
    return [
        *hold_rows(line, layout, legs),
        *emergency_rows(line, legs),
        *slosh_rows(line, layout, legs),
        *peak_rows(line, legs),
        *rms_rows(line, legs, duty),
    ]
