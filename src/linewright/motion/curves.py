"""One carrier's move on a leg that reaches into a curve: the curve's speed, and the side pull on the part.

In a curve of radius r the part is pulled outwards as if by an acceleration v²/r. It adds, at right angles, to the
acceleration along the track; the two together must stay within what holds the part.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from linewright.motion.limits import (
    Candidate,
    CarrierLimits,
    carrier_limits,
    drive_figures,
    governing_limits,
    hold_limits,
    moving_mass_kg,
)
from linewright.motion.profile import Limits, plan_move
from linewright.motion.ramp import ramp_time
from linewright.motion.thrust import DriveFigures, ThrustLine, usable_thrust

if TYPE_CHECKING:
    from linewright.line.model import Line

__all__ = ["curve_limits", "leg_limits", "pull_m_s2", "side_pull_m_s2"]

GRID = 160
"""Peak speeds that are tried before the search narrows; the time over them has at most a few minima."""
NARROWINGS = 72
"""Golden sections: they leave 1e-15 of a bracket."""
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


def side_pull_m_s2(speed_m_s: float, radius_m: float) -> float:
    """Acceleration towards the centre of a curve. [m/s²]

    Notes      v²/r, uniform motion on a circle.
    Source     general physics texts; tests/reference/data/curves.json.

    Examples
    --------
    >>> round(side_pull_m_s2(1.2, 0.24), 9)
    6.0
    """
    return speed_m_s * speed_m_s / radius_m


def pull_m_s2(acceleration_m_s2: float, speed_m_s: float, radius_m: float) -> float:
    """Acceleration along the track and side pull together: the length of the vector. [m/s²]

    Examples
    --------
    >>> round(pull_m_s2(8.0, 1.2, 0.24), 9)
    10.0
    """
    return math.hypot(acceleration_m_s2, side_pull_m_s2(speed_m_s, radius_m))


def leg_limits(line: Line, loaded: bool, distance_m: float, curved: bool) -> CarrierLimits:
    """The limits of a line's carrier over one leg.

    Parameters
    ----------
    line : the line; with `curved` its sheet states a curve
    loaded : with the part aboard
    distance_m : length of the leg along the centre line. [m], >= 0
    curved : the carrier's body reaches into a curve at some instant of the leg

    Raises
    ------
    NoAccelerationError   as :func:`linewright.motion.limits.governing_limits`.
    ValueError            A curved leg on a sheet without a curve.
    """
    if not curved:
        return carrier_limits(line, loaded, distance_m)
    curve = line.conveyor.curve
    if curve is None:
        raise ValueError("a leg in a curve, but the conveyor sheet states none")
    figures, mass = drive_figures(line), moving_mass_kg(line, loaded)
    holds = hold_limits(line.part) if loaded else ()
    return curve_limits(distance_m, figures, mass, holds, curve.speed_m_s, curve.radius_m)


def curve_limits(
    distance_m: float,
    drive: DriveFigures,
    moving_mass_kg: float,
    holds: tuple[Candidate, ...],
    curve_speed_m_s: float,
    radius_m: float,
) -> CarrierLimits:
    """The limits of one move that reaches into a curve: those of a straight, the curve's speed, and the side pull.

    Parameters
    ----------
    distance_m, drive, moving_mass_kg, holds : as for :func:`linewright.motion.limits.governing_limits`
    curve_speed_m_s : the sheet's greatest speed in a curve. [m/s], > 0
    radius_m : of the centre line, on which the part stands. [m], > 0

    Returns
    -------
    CarrierLimits   `.speed_set_by` is ``curve speed`` or ``side pull`` where that is so, `.acceleration_set_by`
                    ``side pull`` where the hold, less the side pull, sets it.

    Raises
    ------
    NoAccelerationError   as there.

    Notes
    -----
    Such a leg keeps the curve's speed, and its hold against the side pull, over its whole length, and its greatest
    acceleration and its greatest speed v are taken to coincide: √(a² + (v²/r)²) ≤ hold. That is on the safe side. What
    a straight would allow is taken where it meets this; else a(v) = min(drive, thrust at v, √(hold² - (v²/r)²)) falls
    with v, and the peak speed v that makes the move quickest is searched on a fixed grid and then by golden sections.

    Source     docs/theory.md, "Moves in a curve".
    """
    slow = replace(drive, speed_m_s=min(drive.speed_m_s, curve_speed_m_s))
    straight = governing_limits(distance_m, slow, moving_mass_kg, holds)
    speed = Candidate("curve speed", "speed", curve_speed_m_s, "conveyor sheet, curve")
    if curve_speed_m_s < drive.speed_m_s:
        straight = _renamed(straight, drive.name("speed"), "curve speed")
    own = Candidate(drive.name("speed"), "speed", drive.speed_m_s, drive.source("speed"))
    others = tuple(one for one in straight.candidates if one.quantity != "speed" or one.name == "thrust")
    move = straight.move
    pull = side_pull_m_s2(move.peak_speed_m_s, radius_m)
    side = Candidate("side pull", "acceleration", pull, f"v²/r at {move.peak_speed_m_s:.4g} m/s, r = {radius_m:.4g} m")
    stated = [hold.value for hold in holds if hold.value is not None]
    if not stated or math.hypot(move.peak_acceleration_m_s2, pull) <= min(stated) * (1.0 + 1e-12):
        return replace(straight, candidates=(own, speed, *others, side))
    return _held(distance_m, slow, moving_mass_kg, min(stated), radius_m, (own, speed, *others))


@dataclass(frozen=True)
class _Pull:
    """What a leg may use at a peak speed, where the hold takes the side pull too."""

    drive: DriveFigures
    usable: tuple[ThrustLine, ...]
    hold_m_s2: float
    radius_m: float

    def allowed_m_s2(self, speed_m_s: float) -> float:
        """Greatest acceleration at a peak speed, 0 or less where none is left."""
        side = speed_m_s * speed_m_s / self.radius_m
        if side >= self.hold_m_s2:
            return 0.0
        along = math.sqrt((self.hold_m_s2 - side) * (self.hold_m_s2 + side))
        thrust = next((one.at(speed_m_s) for one in self.usable if speed_m_s <= one.end_speed_m_s), 0.0)
        return min(along, thrust, self.drive.acceleration_m_s2)

    def time_s(self, distance_m: float, speed_m_s: float, jerk_m_s3: float | None = None) -> float:
        """Time of the move that reaches just this peak speed; infinite where it is not reached."""
        jerk = self.drive.jerk_m_s3 if jerk_m_s3 is None else jerk_m_s3
        acceleration = self.allowed_m_s2(speed_m_s)
        if acceleration <= 0.0:
            return math.inf
        ramp_s = ramp_time(speed_m_s, acceleration, jerk)
        return math.inf if speed_m_s * ramp_s > distance_m else distance_m / speed_m_s + ramp_s


def _held(
    distance_m: float,
    drive: DriveFigures,
    moving_mass_kg: float,
    hold_m_s2: float,
    radius_m: float,
    candidates: tuple[Candidate, ...],
) -> CarrierLimits:
    """The quickest move where the side pull takes part of the hold."""
    usable = usable_thrust(drive, moving_mass_kg)
    pull = _Pull(drive, usable, hold_m_s2, radius_m)
    most = min(drive.speed_m_s, usable[-1].end_speed_m_s)
    reached = _last_reached(lambda v: math.isfinite(pull.time_s(distance_m, v)), most)
    peak = _quickest(lambda v: pull.time_s(distance_m, v), reached)
    acceleration = pull.allowed_m_s2(peak)
    limits = Limits(peak, acceleration, drive.jerk_m_s3)
    move = plan_move(distance_m, limits)
    side = side_pull_m_s2(peak, radius_m)
    by_side = acceleration < min(
        drive.acceleration_m_s2, next(one.at(peak) for one in usable if peak <= one.end_speed_m_s)
    )
    names = {
        "speed": "curve speed" if peak >= most * (1.0 - 1e-9) else "side pull",
        "acceleration": "side pull" if by_side else drive.name("acceleration"),
        "jerk": drive.name("jerk"),
    }
    eased = {
        "acceleration": replace(pull, hold_m_s2=1.001 * hold_m_s2).time_s(distance_m, peak),
        "speed": pull.time_s(distance_m, min(1.001 * peak, most)) if peak < most else move.duration_s,
        "jerk": pull.time_s(distance_m, peak, 1.001 * drive.jerk_m_s3),
    }
    governs = min(eased, key=lambda quantity: eased[quantity])
    more = plan_move(distance_m, replace(limits, acceleration_m_s2=acceleration + 1.0))
    source = f"v²/r at {peak:.4g} m/s, r = {radius_m:.4g} m"
    return CarrierLimits(
        limits,
        move,
        names[governs],
        names["speed"],
        names["acceleration"],
        names["jerk"],
        (*candidates, Candidate("side pull", "acceleration", side, source)),
        moving_mass_kg,
        move.duration_s - more.duration_s,
    )


def _last_reached(reached: Callable[[float], bool], most: float) -> float:
    """The greatest speed up to `most` that the move reaches, by halving down to neighbouring numbers."""
    if reached(most):
        return most
    low, high = 0.0, most
    while True:
        middle = 0.5 * (low + high)
        if not low < middle < high:
            return low
        if reached(middle):
            low = middle
        else:
            high = middle


def _quickest(time: Callable[[float], float], most: float) -> float:
    """The speed up to `most` at which the time is least."""
    speeds = [most * (k + 1) / GRID for k in range(GRID)]
    times = [time(speed) for speed in speeds]
    best = min(range(GRID), key=lambda k: (times[k], k))
    low, high = speeds[best - 1] if best else 0.0, speeds[min(best + 1, GRID - 1)]
    a, b = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_a, at_b = time(a), time(b)
    for _ in range(NARROWINGS):
        if at_a <= at_b:
            high, b, at_b = b, a, at_a
            a = high - GOLDEN * (high - low)
            at_a = time(a)
        else:
            low, a, at_a = a, b, at_b
            b = low + GOLDEN * (high - low)
            at_b = time(b)
    return min((a, b, speeds[best]), key=time)


def _renamed(limits: CarrierLimits, old: str, new: str) -> CarrierLimits:
    """The same limits with one name of a candidate for another."""
    governs = new if limits.governs == old else limits.governs
    return replace(limits, governs=governs, speed_set_by=new if limits.speed_set_by == old else limits.speed_set_by)
