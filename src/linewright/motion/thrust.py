"""What the thrust-speed curve allows, and the peak speed that makes a move quickest under it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from linewright.errors import LinewrightError
from linewright.motion.profile import Limits, plan_move
from linewright.motion.ramp import ramp_time

__all__ = ["THRUST_SHARE", "BestPeak", "DriveFigures", "ThrustCurveError", "ThrustLine", "best_peak", "usable_thrust"]

THRUST_SHARE = 0.8
"""Share of the stated thrust that a plan uses; a reserve of 20 % is common practice."""


class ThrustCurveError(LinewrightError):
    """The sheet's thrust-speed curve or its voltages cannot be used."""


@dataclass(frozen=True, slots=True)
class DriveFigures:
    """What the drive of one carrier may use: the conveyor sheet's figures, or less where the line states so.

    `thrust` holds (speed, force) points; `own` names the quantities, of speed, acceleration and jerk, that the line's
    own ceiling sets.
    """

    speed_m_s: float
    acceleration_m_s2: float
    jerk_m_s3: float
    thrust: tuple[tuple[float, float], ...]
    friction_N: float = 0.0
    cogging_N: float = 0.0
    nominal_voltage_V: float = 1.0
    lowest_voltage_V: float = 1.0
    own: tuple[str, ...] = ()

    def name(self, quantity: str) -> str:
        """What sets a quantity: ``drive speed``, or ``own speed`` where the line's ceiling does; ``jerk`` likewise."""
        if quantity in self.own:
            return f"own {quantity}"
        return quantity if quantity == "jerk" else f"drive {quantity}"

    def source(self, quantity: str) -> str:
        """Where it is stated."""
        return "line file, move_limits" if quantity in self.own else "conveyor sheet"


@dataclass(frozen=True, slots=True)
class ThrustLine:
    """A straight piece of the curve a(p) = acceleration - fall (p - start): what thrust allows at peak speed p.

    `start_speed_m_s` ≤ p ≤ `end_speed_m_s`; `acceleration_m_s2` at the start; `fall_per_s` ≥ 0 in (m/s²)/(m/s).
    """

    start_speed_m_s: float
    end_speed_m_s: float
    acceleration_m_s2: float
    fall_per_s: float

    def at(self, speed_m_s: float) -> float:
        """The acceleration allowed at a peak speed. [m/s²]"""
        return self.acceleration_m_s2 - self.fall_per_s * (speed_m_s - self.start_speed_m_s)


@dataclass(frozen=True, slots=True)
class BestPeak:
    """The result of :func:`best_peak`: a speed limit, the acceleration allowed, and what thrust alone would allow."""

    speed_limit_m_s: float
    acceleration_m_s2: float
    thrust_acceleration_m_s2: float


def usable_thrust(drive: DriveFigures, moving_mass_kg: float) -> tuple[ThrustLine, ...]:
    """The acceleration that thrust allows over the peak speed, piece by piece.

    Parameters
    ----------
    drive : DriveFigures      Its curve must begin at 0 m/s, its speeds rise and its forces not rise.
    moving_mass_kg : float    [kg], > 0

    Returns
    -------
    tuple of ThrustLine   At least one; ends where the curve ends, at lowest voltage.

    Raises
    ------
    ThrustCurveError   The curve or a voltage cannot be used; the text says why.

    Notes      a = (0.8 F - friction - cogging)/mass; curve speeds times lowest over nominal voltage (the no-load speed
               of a motor is proportional to its voltage).
    Source     the project's rule, docs/theory.md, "Limits of a move"; reserve: common practice.
    """
    points = drive.thrust
    if len(points) < 2 or points[0][0] != 0.0:
        raise ThrustCurveError(f"the thrust-speed curve is {points}; it needs at least two points, the first at 0 m/s")
    if not 0.0 < drive.lowest_voltage_V <= drive.nominal_voltage_V < math.inf:
        raise ThrustCurveError(
            f"the lowest voltage is {drive.lowest_voltage_V} V and the nominal one "
            f"{drive.nominal_voltage_V} V; they must be positive, the lowest not above the nominal"
        )
    lines = []
    share = drive.lowest_voltage_V / drive.nominal_voltage_V
    for (v0, f0), (v1, f1) in pairwise(points):
        if not v1 > v0 or not f1 <= f0:
            raise ThrustCurveError(
                f"the thrust-speed curve goes from {f0} N at {v0} m/s to {f1} N at {v1} m/s; "
                "speeds must rise and forces must not"
            )
        start = (THRUST_SHARE * f0 - drive.friction_N - drive.cogging_N) / moving_mass_kg
        fall = THRUST_SHARE * (f0 - f1) / moving_mass_kg / (share * (v1 - v0))
        lines.append(ThrustLine(share * v0, share * v1, start, fall))
    return tuple(lines)


def best_peak(
    distance_m: float, usable: tuple[ThrustLine, ...], cap_m_s2: float, speed_m_s: float, jerk_m_s3: float
) -> BestPeak:
    """The peak speed that makes a move quickest, where thrust allows less acceleration at more speed.

    Parameters
    ----------
    distance_m : float               [m], ≥ 0
    usable : tuple of ThrustLine     From :func:`usable_thrust`; the first allows some acceleration at rest.
    cap_m_s2 : float                 The acceleration that everything but thrust allows. [m/s²], > 0
    speed_m_s, jerk_m_s3             What the drive allows.

    Returns
    -------
    BestPeak

    Notes
    -----
    With A(p) = min(cap, a_T(p)) and t(p) the ramp time to p (see `plan_ramp`), a move with peak p needs p t(p) ≤ d and
    lasts T(p) = d/p + t(p). p t(p) rises with p, so p is bounded by p*, where it equals d; there the move has no
    cruise. Where thrust does not govern, T falls up to p*. On a straight piece a = α - β p of the curve T falls while
    the acceleration is not reached (a² > p j), and is convex beyond, with T' = -d/p² + α/a² - β/j; T' is continuous
    where the two meet. So each piece has one least T, at its end or at the root of T', found by halving to machine
    precision; the least over the pieces is the answer.

    Source     derived; tests compare it with a search over a dense grid of peak speeds.
    """
    top = min(speed_m_s, usable[-1].end_speed_m_s)
    if distance_m == 0.0:
        allowed = usable[0].acceleration_m_s2
        return BestPeak(top, min(cap_m_s2, allowed), allowed)
    quickest, best = math.inf, BestPeak(top, cap_m_s2, cap_m_s2)
    for line in _pieces(usable, cap_m_s2, top):
        low, high = line.start_speed_m_s, line.end_speed_m_s
        without_cruise = _travel(line, high, jerk_m_s3) >= distance_m  # p* lies on this piece
        if without_cruise:
            high = _peak_without_cruise(line, distance_m, jerk_m_s3)
        peak = high
        if line.fall_per_s > 0.0 and _slope(line, high, distance_m, jerk_m_s3) > 0.0:
            peak = _root(lambda p, line=line: _slope(line, p, distance_m, jerk_m_s3), low, high)  # type: ignore[misc]
        acceleration = line.at(peak)
        duration = distance_m / peak + ramp_time(peak, acceleration, jerk_m_s3)
        if duration <= quickest:
            # A move without cruise ends on p* by itself; the speed limit stays the general one, well conditioned.
            limit = top if without_cruise and peak == high else peak
            quickest, best = duration, BestPeak(limit, acceleration, _allowed(usable, peak))
        if without_cruise:
            break
    return best


def _peak_without_cruise(line: ThrustLine, distance_m: float, jerk_m_s3: float) -> float:
    if line.fall_per_s == 0.0:
        level = Limits(line.end_speed_m_s, line.acceleration_m_s2, jerk_m_s3)
        return plan_move(distance_m, level).peak_speed_m_s
    return _root(lambda p: _travel(line, p, jerk_m_s3) - distance_m, line.start_speed_m_s, line.end_speed_m_s)


def _pieces(usable: tuple[ThrustLine, ...], cap: float, speed_m_s: float) -> list[ThrustLine]:
    """min(cap, thrust) as straight pieces from rest up to the speed limit or to where nothing is left."""
    pieces = []
    for line in usable:
        start, end = line.start_speed_m_s, min(line.end_speed_m_s, speed_m_s)
        if start >= end or line.acceleration_m_s2 <= 0.0:
            break
        knee = start
        if line.acceleration_m_s2 >= cap:
            knee = end if line.at(end) >= cap else start + (line.acceleration_m_s2 - cap) / line.fall_per_s
            pieces.append(ThrustLine(start, knee, cap, 0.0))
        if knee < end:
            if line.at(end) <= 0.0:  # the move must end short of the speed at which nothing is left
                end = start + line.acceleration_m_s2 / line.fall_per_s * (1.0 - 1e-9)
            pieces.append(ThrustLine(knee, end, line.at(knee), line.fall_per_s))
    return pieces


def _allowed(usable: tuple[ThrustLine, ...], speed_m_s: float) -> float:
    return next(line.at(speed_m_s) for line in usable if speed_m_s <= line.end_speed_m_s)


def _travel(line: ThrustLine, p: float, j: float) -> float:
    """Way of the two ramps to and from p."""
    return p * ramp_time(p, line.at(p), j)


def _slope(line: ThrustLine, p: float, d: float, j: float) -> float:
    """dT/dp on a piece; α of the docstring is a + β p."""
    a, beta = line.at(p), line.fall_per_s
    if p >= a * (a / j):
        return -d / (p * p) + (a + beta * p) / (a * a) - beta / j
    return -d / (p * p) + 1.0 / math.sqrt(p * j)


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Root of a rising function between two places, by halving down to neighbouring numbers; never asks the ends."""
    while True:
        middle = 0.5 * (low + high)
        if not low < middle < high:
            return high
        if rising(middle) >= 0.0:
            high = middle
        else:
            low = middle
