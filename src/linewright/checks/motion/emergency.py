"""An emergency stop at full load: does the part stand it, and has the drive the thrust for it."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from linewright.checks.motion.legs import LegOfLine, curve_thrust_N
from linewright.checks.motion.moves import straight_distances
from linewright.checks.motion.words import figure_text
from linewright.findings import Finding, judge, margin_below
from linewright.layout import Layout
from linewright.layout.placing import INCH_M
from linewright.line.model import Line
from linewright.line.spoken import in_words, to_write
from linewright.motion.curves import curve_limits, leg_limits, pull_m_s2
from linewright.motion.limits import (
    HOLD_SAFETY,
    STANDARD_GRAVITY_M_S2,
    Candidate,
    carrier_limits,
    drive_figures,
    hold_limits,
    moving_mass_kg,
)
from linewright.remedies import rounded_away, spare_for, value_that_holds

_MOST_FRICTION: Final = 0.5  # more is not proposed, for no dry seat has it for sure: common practice
HOLD_RULE: Final = "docs/limits/motion.md, Emergency stop"
THRUST_RULE: Final = "docs/limits/motion.md, Emergency stop; the conveyor sheet's thrust-speed curve at lowest voltage"


def braking_thrust_N(mass_kg: float, deceleration_m_s2: float, cogging_N: float) -> float:
    """Thrust that braking takes, without the help of friction.

    Parameters
    ----------
    mass_kg : all that moves. [kg], > 0
    deceleration_m_s2 : positive. [m/s²], > 0
    cogging_N : greatest cogging force, taken to push forward. [N], >= 0

    Returns
    -------
    float   [N]

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      m a + cogging. Friction helps to brake; that help is not used.
    Source     Newton; leaving friction out is common practice.
    Examples
    --------
    >>> braking_thrust_N(2.0, 10.0, 1.5)
    21.5
    """
    for name, value in (("mass_kg", mass_kg), ("deceleration_m_s2", deceleration_m_s2)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and positive")
    if not 0.0 <= cogging_N < math.inf:
        raise ValueError(f"cogging_N is {cogging_N}; it must be finite and not negative")
    return mass_kg * deceleration_m_s2 + cogging_N


def check_emergency(line: Line, layout: Layout, legs: tuple[LegOfLine, ...]) -> tuple[Finding, ...]:
    """Whether part and thrust stand the emergency stop that the sheet states.

    Parameters
    ----------
    line, layout : a line and its own layout, on which the thrust suffices for moves
    legs : its moves; without any the straight distances of the track count

    Returns
    -------
    tuple of Finding   ``emergency-hold``, one for each stated way in which the part may come loose: the deceleration,
                       on a ring with the side pull, against what the hold stands [m/s²]. ``emergency-thrust``: thrust
                       to brake the loaded carrier from its greatest speed against the curve there [N]. One row
                       ``not checked`` where the sheet states no stopping; none for a hold that is not stated: the row
                       ``part-hold`` says so.

    Source     docs/limits/motion.md, Emergency stop; the conveyor sheet's stopping.
    """
    stopping = line.conveyor.stopping
    if stopping is None:
        where = "emergency stop: its deceleration is not stated"
        remedy = "state the key stopping in the conveyor sheet: {reaction: ..., deceleration: ...}"
        place = line.conveyor.place()
        return (
            Finding(
                "emergency-hold", "motion", "not checked", where, place, None, None, "m/s²", None, HOLD_RULE, remedy
            ),
        )
    speed = greatest_speed_m_s(line, layout, legs)
    return (
        *_hold_rows(line, legs, stopping.deceleration_m_s2),
        _thrust_row(line, layout, legs, stopping.deceleration_m_s2, speed),
    )


def greatest_speed_m_s(line: Line, layout: Layout, legs: tuple[LegOfLine, ...]) -> float:
    """Greatest speed of a loaded carrier; of the straight distances of the track where no move is known. [m/s]"""
    speeds = [leg.limits.move.peak_speed_m_s for leg in legs if leg.loaded]
    return max(speeds or [carrier_limits(line, True, way).move.peak_speed_m_s for way in straight_distances(layout)])


def _hold_rows(line: Line, legs: tuple[LegOfLine, ...], deceleration_m_s2: float) -> list[Finding]:
    curve = line.conveyor.curve
    curved = [leg.limits.move.peak_speed_m_s for leg in legs if leg.loaded and leg.curved]
    used, on = deceleration_m_s2, "emergency stop"
    if curve is not None and curved:
        used = pull_m_s2(deceleration_m_s2, max(curved), curve.radius_m)
        on = f"emergency stop in a curve at {in_words(max(curved), 'm/s', line.units)}, side pull included"
    findings = []
    for hold in hold_limits(line.part):
        if hold.value is None:
            continue
        margin = margin_below(used, hold.value)
        verdict = judge(margin)
        remedy = ""
        if verdict != "holds":
            # A firmer hold lets carriers go faster through the curves, which pulls more.
            others = tuple(one for one in hold_limits(line.part) if one.name != hold.name)
            asked = [_pull(line, legs, deceleration_m_s2, kept) / (1.0 - spare_for(verdict)) for kept in (others, ())]
            remedy = _firmer(line, hold, asked[0], asked[1])
        if verdict == "tight":
            remedy = f"little is left for the part in an emergency stop: {remedy}, with a tenth to spare"
        where = f"{on}: {hold.name}"
        place, figures = line.place("part", "held"), (used, hold.value, "m/s²", margin)
        source = f"{HOLD_RULE}; the conveyor sheet's stopping; {hold.source}"
        findings.append(Finding("emergency-hold", "motion", verdict, where, place, *figures, source, remedy))
    return findings


def _pull(line: Line, legs: tuple[LegOfLine, ...], deceleration_m_s2: float, holds: tuple[Candidate, ...]) -> float:
    """Deceleration, on a ring with the side pull at the speed that a carrier has in the curves with these holds."""
    curve, figures, mass = line.conveyor.curve, drive_figures(line), moving_mass_kg(line, True)
    ways = {leg.distance_m for leg in legs if leg.loaded and leg.curved}
    if curve is None or not ways:
        return deceleration_m_s2
    moves = (curve_limits(way, figures, mass, holds, curve.speed_m_s, curve.radius_m).move for way in ways)
    return pull_m_s2(deceleration_m_s2, max(move.peak_speed_m_s for move in moves), curve.radius_m)


def _firmer(line: Line, hold: Candidate, used_m_s2: float, free_m_s2: float) -> str:
    """The hold that stands it, in the figure that the line file states; `free_m_s2` is asked of a pocket or clamp."""
    assert line.part is not None
    assert line.part.held is not None
    held, in_g = line.part.held, HOLD_SAFETY * used_m_s2 / STANDARD_GRAVITY_M_S2
    if held.kind != "friction":
        assert held.acceleration_m_s2 is not None
        firmer = to_write(free_m_s2, "m/s²", line.units, held.acceleration_m_s2)
        return f"a {held.kind} that stands {firmer} holds the part in it"
    if "slip" in hold.name:
        assert held.coefficient is not None
        needed = rounded_away(in_g, held.coefficient)
        if needed > _MOST_FRICTION:
            stands = to_write(free_m_s2, "m/s²", line.units, 0.0)
            return f"no dry seat holds it for sure: a pocket or clamp that stands {stands} holds the part in it"
        now = figure_text(held.coefficient)
        return f"with a coefficient of friction of {figure_text(needed)} instead of {now} it does not slip"
    assert held.half_base_m is not None
    assert line.part.mass_height_m is not None
    unit_m, unit = (INCH_M, "in") if line.units == "inch" else (1e-3, "mm")
    half = held.half_base_m / unit_m
    needed = rounded_away(in_g * line.part.mass_height_m / unit_m, half)
    return f"with half a base of {figure_text(needed)} {unit} instead of {figure_text(half)} {unit} it does not tip"


def _thrust_row(
    line: Line, layout: Layout, legs: tuple[LegOfLine, ...], deceleration_m_s2: float, speed_m_s: float
) -> Finding:
    mass = moving_mass_kg(line, True)
    value, limit = _braking(line, mass, deceleration_m_s2, speed_m_s)
    margin = margin_below(value, limit)
    verdict = judge(margin)
    where = (
        f"emergency stop of a loaded carrier of {in_words(mass, 'kg', line.units)} from "
        f"{in_words(speed_m_s, 'm/s', line.units)}: thrust to brake with"
    )
    remedy = ""
    if verdict != "holds":
        remedy = "the sheet states a harder stop than its thrust gives: ask the maker which of the two is so"
        if verdict == "tight":
            remedy = "little thrust is left: the stop may take longer than the sheet says"
        kept = _lighter(line, layout, legs, deceleration_m_s2, spare_for(verdict))
        if kept is not None:
            left = "" if verdict == "fails" else " with a tenth to spare"
            remedy = (
                f"with {to_write(kept, 'kg', line.units, mass)} of carrier, fixture and part instead of "
                f"{in_words(mass, 'kg', line.units)} it holds{left}; else {remedy}"
            )
    place = line.conveyor.place("stopping", "deceleration")
    return Finding("emergency-thrust", "motion", verdict, where, place, value, limit, "N", margin, THRUST_RULE, remedy)


def _braking(line: Line, mass_kg: float, deceleration_m_s2: float, speed_m_s: float) -> tuple[float, float]:
    """Thrust that braking takes, and what the curve gives at that speed. [N]"""
    drive = drive_figures(line)
    # A rounding above the curve's last point would find no thrust at all.
    limit = float(curve_thrust_N(drive, np.array(speed_m_s * (1.0 - 1e-12))))
    return braking_thrust_N(mass_kg, deceleration_m_s2, drive.cogging_N), limit


def _lighter(
    line: Line, layout: Layout, legs: tuple[LegOfLine, ...], deceleration_m_s2: float, spare: float
) -> float | None:
    """The mass that moves with which it holds, its moves planned anew; None below the bare carrier's. [kg]"""
    mass, bare = moving_mass_kg(line, True), line.conveyor.carrier.mass_kg
    ways = {(leg.distance_m, leg.curved) for leg in legs if leg.loaded}
    ways |= set() if ways else {(way, False) for way in straight_distances(layout)}

    def margin(mass_kg: float) -> float:
        carrier = line.conveyor.carrier.model_copy(update={"mass_kg": bare - mass + mass_kg})
        lighter = line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"carrier": carrier})})
        speed = max(leg_limits(lighter, True, *way).move.peak_speed_m_s for way in ways)
        return margin_below(*_braking(line, mass_kg, deceleration_m_s2, speed)) - spare

    most = value_that_holds(margin, mass, bare) if bare < mass else None
    return None if most is None or most >= mass else most
