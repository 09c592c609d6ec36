"""Open liquid in the part: its first frequencies, how high it rises at the wall in a move, and the freeboard."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.checks.motion.ceilings import (
    Quantity,
    ceiling_that_holds,
    ceiling_unit,
    ceiling_words,
    present_figure,
    with_ceiling,
)
from linewright.checks.motion.emergency import greatest_speed_m_s
from linewright.checks.motion.legs import LegOfLine
from linewright.checks.motion.words import figure_text
from linewright.findings import TIGHT_MARGIN, Finding, Verdict, judge, margin_below
from linewright.layout import Layout
from linewright.layout.placing import INCH_M, length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words
from linewright.line.surroundings import Liquid
from linewright.motion.curves import leg_limits
from linewright.motion.limits import STANDARD_GRAVITY_M_S2, ride_move
from linewright.motion.profile import Move, Segment
from linewright.remedies import spare_for

BESSEL_ZEROS: Final = (1.8411837813406593, 5.331442773525032, 8.536316366346286)
"""Zeros of the derivative of the Bessel function J1; the formula that they stand in is from memory."""
RULE: Final = "docs/limits/motion.md, Liquid; linear waves, first mode, no damping"


@dataclass(frozen=True)
class Sloshing:
    """How high the liquid rises at the wall in one move.

    Parameters
    ----------
    mode_m : greatest rise of the first mode, in the move or after it. [m]
    after_m : rise with which it goes on swinging after the move. [m]
    plane_m : rise of the plane surface at the move's greatest acceleration, held for ever. [m]
    """

    mode_m: float
    after_m: float
    plane_m: float

    @property
    def rise_m(self) -> float:
        """The larger of mode and plane. [m]"""
        return max(self.mode_m, self.plane_m)


def slosh_frequency_hz(liquid: Liquid, mode: int = 1, gravity_m_s2: float = STANDARD_GRAVITY_M_S2) -> float:
    """Natural frequency of a wave along the track in a box or a round cup.

    Parameters
    ----------
    liquid : box with length, or round cup with diameter, and its depth
    mode : 1, 2, 3 ...; the accelerated box stirs the odd ones; of a round cup 1 to 3
    gravity_m_s2 : free fall. [m/s²], > 0

    Returns
    -------
    float   [Hz]

    Raises
    ------
    ValueError   No such mode, or the gravity is not positive.

    Notes      f = √(g k tanh(k h))/(2 π), h the depth; box: k = n π/L; cup of radius R: k = ξn/R, J1'(ξn) = 0.
    Source     box: read in the verification manual of a finite-element program; cup: from memory.
    Examples
    --------
    >>> round(slosh_frequency_hz(Liquid(length_m=0.1, depth_m=0.05, freeboard_m=0.02), gravity_m_s2=9.81), 6)
    2.675779
    """
    if not 0.0 < gravity_m_s2 < math.inf:
        raise ValueError(f"gravity_m_s2 is {gravity_m_s2}; it must be finite and positive")
    if liquid.length_m is not None:
        if mode < 1:
            raise ValueError(f"mode is {mode}; it must be at least 1")
        k = mode * math.pi / liquid.length_m
    else:
        assert liquid.diameter_m is not None  # held by the model
        if not 1 <= mode <= len(BESSEL_ZEROS):
            raise ValueError(f"mode is {mode}; of a round cup it must be 1, 2 or 3")
        k = BESSEL_ZEROS[mode - 1] / (liquid.diameter_m / 2.0)
    return math.sqrt(gravity_m_s2 * k * math.tanh(k * liquid.depth_m)) / (2.0 * math.pi)


def plane_rise_m(liquid: Liquid, acceleration_m_s2: float) -> float:
    """Rise at the wall of the plane surface under a constant acceleration. [m]

    Notes      The surface is at right angles to gravity and acceleration together: a L/(2 g), L length or diameter.
    Source     statics.
    Examples
    --------
    >>> round(plane_rise_m(Liquid(length_m=0.1, depth_m=0.05, freeboard_m=0.02), 1.961330), 9)
    0.01
    """
    width_m = liquid.length_m if liquid.length_m is not None else liquid.diameter_m
    assert width_m is not None  # held by the model
    return acceleration_m_s2 * width_m / (2.0 * STANDARD_GRAVITY_M_S2)


def mode_share(liquid: Liquid) -> float:
    """Share of the plane's rise that the first mode has at the wall under a constant acceleration.

    Notes      The plane taken apart into the modes: box 8/π²; round cup 2/(ξ1² - 1).
    Source     derived (Fourier series; series of Bessel functions); the shares of all modes add up to 1.
    Examples
    --------
    >>> round(mode_share(Liquid(length_m=0.1, depth_m=0.05, freeboard_m=0.02)), 4)
    0.8106
    """
    if liquid.length_m is not None:
        return 8.0 / math.pi**2
    return 2.0 / (BESSEL_ZEROS[0] ** 2 - 1.0)


def sloshing(liquid: Liquid, move: Move) -> Sloshing:
    """How high a liquid at rest rises at the wall when its carrier makes a move.

    Parameters
    ----------
    liquid, move : what stands on the carrier, and its move

    Returns
    -------
    Sloshing

    Notes      The rise w of the first mode at the rear wall obeys w'' + ω² w = ω² c a(t) with c a the first mode's
               share of the plane's rise; at the front wall it is -w. On a stretch of constant jerk
               w = c a + A cos ωt + B sin ωt, exactly; its extremes lie at the stretch's ends and where w' = 0.
    Source     linear theory of waves, derived; held to an ODE solver in tests/reference/test_motion_limits.py.
    Examples
    --------
    >>> from linewright.motion import Limits, plan_move
    >>> box = Liquid(length_m=0.1, depth_m=0.05, freeboard_m=0.02)
    >>> gentle = Limits(2.0, 2.0, 2.0 * slosh_frequency_hz(box))  # the jerk lasts one period: no swing is left
    >>> found = sloshing(box, plan_move(6.0, gentle))
    >>> round(found.plane_m, 6), round(found.mode_m / found.plane_m, 6), round(found.after_m, 9)
    (0.010197, 0.810569, 0.0)
    """
    return response(liquid, move.segments)


def response(liquid: Liquid, segments: tuple[Segment, ...]) -> Sloshing:
    """The same for stretches of constant jerk one after the other, the liquid at rest against its vessel before."""
    omega = 2.0 * math.pi * slosh_frequency_hz(liquid)
    gain = mode_share(liquid) * plane_rise_m(liquid, 1.0)
    rise, rate, greatest = 0.0, 0.0, 0.0
    for segment in segments:
        greatest = max(greatest, _greatest(segment, gain, omega, rise, rate))
        rise, rate = _after(segment, gain, omega, rise, rate)
    after_m = math.hypot(rise, rate / omega)
    ends = ((one.acceleration_m_s2, one.acceleration_m_s2 + one.jerk_m_s3 * one.duration_s) for one in segments)
    strongest = max((abs(end) for pair in ends for end in pair), default=0.0)
    return Sloshing(max(greatest, after_m), after_m, plane_rise_m(liquid, strongest))


def _swing(segment: Segment, gain: float, omega: float, rise: float, rate: float) -> tuple[float, float]:
    """A and B of a stretch."""
    return rise - gain * segment.acceleration_m_s2, (rate - gain * segment.jerk_m_s3) / omega


def _after(segment: Segment, gain: float, omega: float, rise: float, rate: float) -> tuple[float, float]:
    """Rise and its rate at the end of a stretch."""
    a, b = _swing(segment, gain, omega, rise, rate)
    angle = omega * segment.duration_s
    last = segment.acceleration_m_s2 + segment.jerk_m_s3 * segment.duration_s
    c, s = math.cos(angle), math.sin(angle)
    return gain * last + a * c + b * s, gain * segment.jerk_m_s3 + omega * (b * c - a * s)


def _greatest(segment: Segment, gain: float, omega: float, rise: float, rate: float) -> float:
    """Greatest size of the rise in a stretch."""
    a, b = _swing(segment, gain, omega, rise, rate)
    size, slope = math.hypot(a, b), gain * segment.jerk_m_s3 / omega
    angles = [0.0, omega * segment.duration_s]
    if size > 0.0 and abs(slope) <= size:
        # w' = 0 where sin(θ - φ) = slope/size, φ the angle of (A, B)
        turn, lean = math.atan2(b, a), math.asin(slope / size)
        for base in (turn + lean, turn + math.pi - lean):
            first = base + 2.0 * math.pi * math.ceil(-base / (2.0 * math.pi))
            while first < angles[1]:
                angles.append(first)
                first += 2.0 * math.pi
    rises = (
        gain * (segment.acceleration_m_s2 + segment.jerk_m_s3 * angle / omega)
        + a * math.cos(angle)
        + b * math.sin(angle)
        for angle in angles
    )
    return max(abs(one) for one in rises)


def braking_segments(speed_m_s: float, deceleration_m_s2: float, jerk_m_s3: float) -> tuple[Segment, ...]:
    """A stop from a speed: the deceleration grows and fades at the drive's jerk, as far as the speed lets it grow.

    Parameters
    ----------
    speed_m_s : > 0. [m/s]
    deceleration_m_s2 : > 0. [m/s²]
    jerk_m_s3 : > 0, infinite where nothing bounds it. [m/s³]

    Raises
    ------
    ValueError   A figure is not positive.

    Source     Kinematics of constant jerk.
    Examples
    --------
    >>> [round(one.duration_s, 6) for one in braking_segments(1.0, 10.0, 200.0)]
    [0.05, 0.05, 0.05]
    """
    figures = {"speed_m_s": speed_m_s, "deceleration_m_s2": deceleration_m_s2, "jerk_m_s3": jerk_m_s3}
    for name, value in figures.items():
        if not value > 0.0:
            raise ValueError(f"{name} is {value}; it must be positive")
    peak = min(deceleration_m_s2, math.sqrt(speed_m_s * jerk_m_s3))
    ramp_s = 0.0 if math.isinf(jerk_m_s3) else peak / jerk_m_s3
    hold_s = max(0.0, speed_m_s / peak - ramp_s)
    rate = 0.0 if math.isinf(jerk_m_s3) else jerk_m_s3
    found, at_s, way_m, speed = [], 0.0, 0.0, speed_m_s
    for duration_s, start, jerk in ((ramp_s, 0.0, -rate), (hold_s, -peak, 0.0), (ramp_s, -peak, rate)):
        if duration_s > 0.0:
            found.append(Segment(at_s, duration_s, way_m, speed, start, jerk))
        way_m += (speed + (0.5 * start + jerk * duration_s / 6.0) * duration_s) * duration_s
        speed += (start + 0.5 * jerk * duration_s) * duration_s
        at_s += duration_s
    return tuple(found)


def check_slosh(line: Line, layout: Layout, legs: tuple[LegOfLine, ...]) -> tuple[Finding, ...]:
    """Whether an open liquid stays in the part.

    Parameters
    ----------
    line, layout : a line and its own layout
    legs : its moves; the loaded ones count

    Returns
    -------
    tuple of Finding   Empty where no liquid is stated. ``slosh``: greatest rise at the wall in any loaded move, against
                       the freeboard [m]; ``not checked`` on a track that allows no traffic. ``slosh-emergency``: the
                       same in an emergency stop from the greatest speed, where the sheet states its deceleration. A
                       wave higher than the liquid is deep has no value: it spills, or, below the rim, is not checked.

    Source     docs/limits/motion.md, Liquid.
    """
    liquid = None if line.part is None else line.part.liquid
    if liquid is None:
        return ()
    rows = [_moves_row(line, layout, liquid, legs)]
    stopping = line.conveyor.stopping
    if stopping is not None:
        speed = greatest_speed_m_s(line, layout, legs)
        segments = braking_segments(speed, stopping.deceleration_m_s2, line.conveyor.drive.jerk_m_s3)
        on = f"an emergency stop from {in_words(speed, 'm/s', line.units)}"
        rows.append(_row(line, liquid, "slosh-emergency", on, response(liquid, segments), ""))
    return tuple(rows)


def _moves_row(line: Line, layout: Layout, liquid: Liquid, legs: tuple[LegOfLine, ...]) -> Finding:
    """The row of the moves, and for a round cup of the rides across."""
    rides = []
    if liquid.diameter_m is not None:
        platforms, crossing = line.conveyor.transfers, [one for one in layout.transfers if one.kind == "cross-transfer"]
        rides = [(f"a ride on {one.name}", ride_move(platforms[one.kind], one.ride_m)) for one in crossing]
    kinds = sorted({(leg.distance_m, leg.curved) for leg in legs if leg.loaded})
    moves = {(leg.distance_m, leg.curved): leg.limits.move for leg in legs if leg.loaded}
    named = [(f"a move of {length_text(kind[0], line.units)}", moves[kind]) for kind in kinds] + rides
    place = line.place("part", "liquid", "freeboard")
    if not named:
        where, remedy = "liquid in the part: no loaded move is known", "mend first what the rows on layout say"
        figures = (None, liquid.freeboard_m, "m", None)
        return Finding("slosh", "motion", "not checked", where, place, *figures, RULE, remedy)
    found = [(sloshing(liquid, move), name) for name, move in named]
    worst, name = max(found, key=lambda one: one[0].rise_m)

    def slower(spare: float) -> str:
        for quantity in ("acceleration", "jerk"):
            told = _gentler(line, liquid, quantity, kinds, [move for _, move in rides], spare)
            if told is not None:
                return ceiling_words(quantity, told, line.units)
        return ""

    verdict = _judged(worst.rise_m, liquid)[0]
    return _row(line, liquid, "slosh", name, worst, "" if verdict == "holds" else slower(spare_for(verdict)))


def _gentler(
    line: Line,
    liquid: Liquid,
    quantity: Quantity,
    kinds: list[tuple[float, bool]],
    rides: list[Move],
    spare: float,
) -> float | None:
    """The ceiling of acceleration or jerk with which all moves leave so much of the freeboard."""
    limit_m = (1.0 - spare) * min(liquid.freeboard_m, liquid.depth_m)

    def margin(ceiling: float) -> float:
        changed = with_ceiling(line, quantity, ceiling)
        moves = [leg_limits(changed, True, *kind).move for kind in kinds] + rides
        return limit_m - max(sloshing(liquid, move).rise_m for move in moves)

    return ceiling_that_holds(margin, present_figure(line, quantity), ceiling_unit(quantity, line.units))


def _judged(rise_m: float, liquid: Liquid) -> tuple[Verdict, float | None, float | None]:
    """Verdict, value and margin; no number where the wave is higher than the liquid is deep."""
    if rise_m <= liquid.depth_m:
        margin = margin_below(rise_m, liquid.freeboard_m)
        return judge(margin), rise_m, margin
    return ("fails" if rise_m > liquid.freeboard_m else "not checked"), None, None


def _row(line: Line, liquid: Liquid, code: str, on: str, found: Sloshing, slower: str) -> Finding:
    verdict, value, margin = _judged(found.rise_m, liquid)
    words = (
        f"its first wave rises {length_text(found.mode_m, line.units)} at the wall, "
        f"{length_text(found.after_m, line.units)} after the stop; the plane surface "
        f"{length_text(found.plane_m, line.units)}"
    )
    if verdict == "fails":
        words = "it spills" if value is None else f"it spills: {words}"
    elif value is None:
        words = "the wave is as high as the liquid is deep or higher: small waves do not tell how high"
    where = f"liquid in the part, {figure_text(slosh_frequency_hz(liquid), 3)} Hz: in {on} {words}"
    remedy = "" if verdict == "holds" else _remedy(line, liquid, verdict, found.rise_m, slower)
    place, limit_m = line.place("part", "liquid", "freeboard"), liquid.freeboard_m
    return Finding(code, "motion", verdict, where, place, value, limit_m, "m", margin, RULE, remedy)


def _remedy(line: Line, liquid: Liquid, verdict: Verdict, rise_m: float, slower: str) -> str:
    least_m = rise_m / (1.0 - TIGHT_MARGIN) if verdict == "tight" else rise_m
    why = "a tenth of it is left" if verdict == "tight" else "it stays in"
    ways = []
    if rise_m <= liquid.depth_m:
        ways.append(f"with a freeboard of {_length_up(least_m, line.units)} {why}: fill less, or raise the rim")
    if slower:
        ways.append(f"with a ceiling of one's own, {slower}, {why}")
    ways.append("a lid keeps it in" if not slower else "a lid or a vessel shorter along the track helps too")
    if verdict == "not checked":
        ways.append("else try it")
    return "; ".join(ways)


def _length_up(length_m: float, units: str) -> str:
    """A length as printed, rounded up there."""
    step_m = 1e-3 * INCH_M if units == "inch" else 1e-4
    return length_text(math.ceil(length_m / step_m - 1e-6) * step_m, units)
