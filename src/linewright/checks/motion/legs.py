"""The legs of a line: what governs each, what that costs, and the thrust that each takes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from linewright.checks.motion.words import figure_text
from linewright.layout import Layout, ways_of
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.electric import FloatArray, move_thrust_N
from linewright.motion.heat import rms_thrust_N
from linewright.motion.limits import Candidate, CarrierLimits, Quantity, drive_figures
from linewright.motion.profile import Limits, plan_move
from linewright.motion.thrust import DriveFigures
from linewright.tables import Column, Table
from linewright.traffic.compile import KINDS
from linewright.traffic.compile_track import track_legs
from linewright.traffic.legs import loop_legs
from linewright.traffic.plan import LOADED
from linewright.traffic.route_ways import route_ways

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

EASED_SHARE = 0.1
"""By how much the governing limit is eased to tell what it costs."""
_INSTANTS = 129


@dataclass(frozen=True)
class LegOfLine:
    """One move that carriers make or can make.

    Parameters
    ----------
    start, end : ranks of the stops
    loaded : a part is aboard
    lane : number of the lane on which it runs
    distance_m : along the centre line. [m]
    curved : it is planned within a curve's limits
    limits : what it may use, what governs it, and its move
    made : how often it was made in the duty; 0 without one
    """

    start: int
    end: int
    loaded: bool
    lane: int
    distance_m: float
    curved: bool
    limits: CarrierLimits
    made: int


@dataclass(frozen=True)
class GoverningCost:
    """What the figure that governs a move costs in time.

    Parameters
    ----------
    quantity : ``speed``, ``acceleration`` or ``jerk``
    next : the figure of the same quantity that would bind next; empty where there is none
    eased_s : saved if it were 10 % higher, the other two limits unchanged. [s]
    lifted_s : saved if it were lifted to the next figure, the other two limits unchanged. [s]
    """

    quantity: Quantity
    next: str
    eased_s: float
    lifted_s: float


@dataclass(frozen=True)
class LegThrust:
    """The thrust of one move.

    Parameters
    ----------
    peak_N : at the instant at which least of the curve is left: size of m a + friction, and cogging. [N]
    speed_m_s : then. [m/s]
    curve_N : what the sheet's curve gives at that speed and lowest voltage. [N]
    rms_N : root mean square over the move, without cogging. [N]
    """

    peak_N: float
    speed_m_s: float
    curve_N: float
    rms_N: float


def find_legs(line: Line, layout: Layout, duty: Duty | None) -> tuple[LegOfLine, ...]:
    """The legs that carriers can make by the plan of the traffic, and how often each was made in the duty.

    Parameters
    ----------
    line, layout : a line and its own layout
    duty : of a run; None without one

    Returns
    -------
    tuple of LegOfLine   By start, end and load; legs of the duty that the plan does not have follow. Empty where the
                         track allows no traffic.

    Raises
    ------
    NoAccelerationError   Thrust leaves nothing to move a carrier with.
    """
    known: dict[tuple[bool, float, bool], CarrierLimits] = {}

    def limits_of(loaded: bool, distance_m: float, curved: bool) -> CarrierLimits:
        key = loaded, distance_m, curved
        if key not in known:
            known[key] = leg_limits(line, *key)
        return known[key]

    made: dict[tuple[int, int, bool], int] = {}
    rows = _planned(line, layout)
    if duty is not None:
        counts = np.bincount(duty.leg, minlength=len(duty.legs)).tolist()
        made = {(one.start, one.end, one.loaded): times for one, times in zip(duty.legs, counts, strict=True)}
        planned = {row[:3] for row in rows}
        rows += [
            (one.start, one.end, one.loaded, one.lane, one.move.distance_m, one.curved)
            for one in duty.legs
            if (one.start, one.end, one.loaded) not in planned
        ]
    return tuple(LegOfLine(*row, limits_of(row[2], row[4], row[5]), made.get(row[:3], 0)) for row in rows)


def _planned(line: Line, layout: Layout) -> list[tuple[int, int, bool, int, float, bool]]:
    """Start, end, loaded, lane, distance and whether it is curved of every leg of the plan."""
    if layout.blocking:
        return []
    kinds, ways = np.array([KINDS[stop.kind] for stop in layout.stops], np.int64), route_ways(line, layout)
    plain = layout.is_plain
    found = loop_legs(layout, kinds, ways) if plain else track_legs(layout, kinds, ways, ways_of(layout))
    return [(one.start, one.end, one.load == LOADED, one.lane, one.distance_m, one.curved) for one in found]


def governing_cost(found: CarrierLimits) -> GoverningCost:
    """What the figure that governs a move costs.

    Parameters
    ----------
    found : the limits of the move

    Returns
    -------
    GoverningCost

    Notes      The move is planned again with the governing limit 10 % higher, and with it at the least figure of the
               same quantity that lies above it; where none does, with no such limit at all. The other two limits stay.
               Thrust counts with what it allows at the peak speed of the move as it is.
    Source     docs/limits/motion.md, Legs.
    """
    move, limits = found.move, found.limits
    set_by: dict[Quantity, str] = {
        "acceleration": found.acceleration_set_by,
        "speed": found.speed_set_by,
        "jerk": found.jerk_set_by,
    }
    times = {
        quantity: plan_move(move.distance_m, _with(limits, quantity, (1.0 + EASED_SHARE) * _value(limits, quantity)))
        for quantity, name in set_by.items()
        if name == found.governs
    }
    quantity = min(times, key=lambda one: times[one].duration_s)
    now = _value(limits, quantity)
    above = [
        (one.value or 0.0, one.name)
        for one in found.candidates
        if one.quantity == quantity
        and one.name != "side pull"
        and one.value is not None
        and one.value > now * (1 + 1e-9)
    ]
    value, name = min(above, default=(math.inf, ""))
    lifted = plan_move(move.distance_m, _with(limits, quantity, min(value, _boundless(found, quantity))))
    return GoverningCost(
        quantity,
        name,
        max(0.0, move.duration_s - times[quantity].duration_s),
        max(0.0, move.duration_s - lifted.duration_s),
    )


def _value(limits: Limits, quantity: Quantity) -> float:
    values = {
        "speed": limits.speed_m_s, "acceleration": limits.acceleration_m_s2, "jerk": limits.jerk_m_s3,
    }  # fmt: skip
    return values[quantity]


def _with(limits: Limits, quantity: Quantity, value: float) -> Limits:
    if quantity == "speed":
        return replace(limits, speed_m_s=value)
    return replace(limits, acceleration_m_s2=value) if quantity == "acceleration" else replace(limits, jerk_m_s3=value)


def _boundless(found: CarrierLimits, quantity: Quantity) -> float:
    """A limit that the move never reaches, the others as they are."""
    limits, distance_m = found.limits, found.move.distance_m
    if quantity == "speed":
        return max(limits.speed_m_s, 2.0 * math.sqrt(distance_m * limits.acceleration_m_s2))
    if quantity == "acceleration" and math.isfinite(limits.jerk_m_s3):
        return max(limits.acceleration_m_s2, 2.0 * math.cbrt(distance_m * limits.jerk_m_s3**2))
    return 1e9 if quantity == "acceleration" else math.inf


def curve_thrust_N(drive: DriveFigures, speed_m_s: FloatArray) -> FloatArray:
    """Peak thrust at a speed and the lowest voltage; 0 beyond the end of the curve.

    Parameters
    ----------
    drive : its curve, whose speeds shrink with the voltage
    speed_m_s : any shape. [m/s], >= 0

    Notes      Linear between the points of the sheet, their speeds times lowest over nominal voltage.
    Source     docs/theory.md, Limits of a move.
    Examples
    --------
    >>> points = (0.0, 30.0), (2.0, 10.0)
    >>> drive = DriveFigures(2.0, 10.0, 100.0, points, nominal_voltage_V=40.0, lowest_voltage_V=20.0)
    >>> curve_thrust_N(drive, np.array([0.0, 0.5, 1.0, 1.1])).tolist()
    [30.0, 20.0, 10.0, 0.0]
    """
    share = drive.lowest_voltage_V / drive.nominal_voltage_V
    speeds = np.array([speed * share for speed, _ in drive.thrust])
    forces = np.array([force for _, force in drive.thrust])
    return np.asarray(np.interp(speed_m_s, speeds, forces, right=0.0), np.float64)


def leg_thrust(found: CarrierLimits, drive: DriveFigures) -> LegThrust:
    """Peak and root mean square of the thrust of one move.

    Parameters
    ----------
    found : limits of the move, its mass and the move itself
    drive : curve, friction and cogging

    Returns
    -------
    LegThrust

    Notes      Looked at where the jerk changes and at 128 instants between; F = m a + friction, its size and cogging.
    Source     docs/limits/motion.md, Thrust.
    """
    move = found.move
    joints = [segment.start_s for segment in move.segments]
    times = np.unique(np.concatenate((np.linspace(0.0, move.duration_s, _INSTANTS)[:-1], joints)))
    thrust = np.abs(move_thrust_N(move, found.moving_mass_kg, drive.friction_N, times)) + drive.cogging_N
    # At the very end of a speed-up the speed may lie a rounding above the curve's last point.
    speeds = np.minimum(move.speed_m_s(times), move.peak_speed_m_s * (1.0 - 1e-12))
    curve = curve_thrust_N(drive, speeds)
    used = np.divide(thrust, curve, out=np.full_like(thrust, np.inf), where=curve > 0.0)
    at = int(np.argmax(used))
    rms = rms_thrust_N(move, found.moving_mass_kg, drive.friction_N)
    return LegThrust(float(thrust[at]), float(speeds[at]), float(curve[at]), rms)


def legs_table(layout: Layout, legs: tuple[LegOfLine, ...]) -> Table:
    """What governs each leg and what it costs.

    Parameters
    ----------
    layout : the track
    legs : its moves

    Returns
    -------
    Table   One row a leg, in their order; lengths in [m], times in [s].

    Source     docs/limits/motion.md, Legs.
    """
    costs: dict[int, GoverningCost] = {}
    for leg in legs:
        if id(leg.limits) not in costs:
            costs[id(leg.limits)] = governing_cost(leg.limits)
    cost = [costs[id(leg.limits)] for leg in legs]
    return Table(
        (
            *_ways(layout, legs),
            _floats("time_s", "s", (leg.limits.move.duration_s for leg in legs)),
            _floats("peak_speed_m_s", "m/s", (leg.limits.move.peak_speed_m_s for leg in legs)),
            _floats("peak_acceleration_m_s2", "m/s²", (leg.limits.move.peak_acceleration_m_s2 for leg in legs)),
            _words("governs", (leg.limits.governs for leg in legs), "the figure whose easing shortens it most"),
            _words("quantity", (one.quantity for one in cost), "what that figure bounds"),
            _words("candidates", (_candidates(leg.limits.candidates) for leg in legs), "all figures that bound it"),
            _words("next", (one.next for one in cost), "the figure that would bind next"),
            _floats("eased_s", "s", (one.eased_s for one in cost), "saved if the governing limit were 10 % higher"),
            _floats("lifted_s", "s", (one.lifted_s for one in cost), "saved if it were lifted to the next figure"),
            Column("made", None, np.array([leg.made for leg in legs], np.int64), "how often, in the duty"),
        )
    )


def thrust_table(line: Line, layout: Layout, legs: tuple[LegOfLine, ...]) -> Table:
    """Peak and root mean square of the thrust of each leg.

    Parameters
    ----------
    line, layout : a line and its own layout
    legs : its moves

    Returns
    -------
    Table   One row a leg, in their order; thrusts in [N], speeds in [m/s].

    Source     docs/limits/motion.md, Thrust.
    """
    drive = drive_figures(line)
    known: dict[int, LegThrust] = {}
    for leg in legs:
        if id(leg.limits) not in known:
            known[id(leg.limits)] = leg_thrust(leg.limits, drive)
    thrust = [known[id(leg.limits)] for leg in legs]
    return Table(
        (
            *_ways(layout, legs),
            _floats("peak_N", "N", (one.peak_N for one in thrust), "where least of the curve is left, with cogging"),
            _floats("speed_m_s", "m/s", (one.speed_m_s for one in thrust), "at that instant"),
            _floats("curve_N", "N", (one.curve_N for one in thrust), "what the curve gives at that speed"),
            _floats("rms_N", "N", (one.rms_N for one in thrust), "root mean square over the move"),
            Column("made", None, np.array([leg.made for leg in legs], np.int64), "how often, in the duty"),
        )
    )


def _ways(layout: Layout, legs: tuple[LegOfLine, ...]) -> tuple[Column, ...]:
    stops, lanes = layout.stops, layout.lanes
    return (
        _words("start", (stops[leg.start].label for leg in legs), "stop left"),
        _words("end", (stops[leg.end].label for leg in legs), "stop reached"),
        _words("lane", (lanes[leg.lane].name for leg in legs), "on which it runs"),
        Column("loaded", None, np.array([leg.loaded for leg in legs], np.bool_), "a part is aboard"),
        _floats("distance_m", "m", (leg.distance_m for leg in legs)),
    )


def _candidates(found: tuple[Candidate, ...]) -> str:
    return ", ".join(f"{one.name} {figure_text(one.value)} {one.unit}" for one in found if one.value is not None)


def _floats(name: str, unit: str, values: Iterable[float], meaning: str = "") -> Column:
    return Column(name, unit, np.array(list(values), np.float64), meaning)


def _words(name: str, values: Iterable[str], meaning: str = "") -> Column:
    return Column(name, None, np.array(list(values), np.str_), meaning)
