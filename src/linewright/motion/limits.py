"""What one carrier may use for one move, and which figure governs it.

The limits are the least of what the drive allows, what the thrust can do with the moving mass, and what the part on
the carrier stands. All accelerations hold for speeding up and for slowing down alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from linewright.errors import LinewrightError
from linewright.motion.profile import Limits, Move, plan_move
from linewright.motion.thrust import THRUST_SHARE, DriveFigures, best_peak, usable_thrust

if TYPE_CHECKING:
    from linewright.line.model import Line, Part
    from linewright.line.sheet import TransferSheet

__all__ = [
    "STANDARD_GRAVITY_M_S2",
    "Candidate",
    "CarrierLimits",
    "NoAccelerationError",
    "carrier_limits",
    "drive_figures",
    "governing_limits",
    "hold_limits",
    "moving_mass_kg",
    "platform_limits",
    "ride_move",
]

STANDARD_GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall, 3rd CGPM 1901. [m/s²]"""

HOLD_SAFETY = 1.5
"""Safety on a part held by friction, against slip and against tipping: common practice."""

Quantity = Literal["speed", "acceleration", "jerk"]
Unit = {"speed": "m/s", "acceleration": "m/s²", "jerk": "m/s³"}


class NoAccelerationError(LinewrightError):
    """The thrust that the sheet states leaves nothing to accelerate the carrier with."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One figure that bounds a move: what it is called, what it bounds, how far it allows, where it comes from.

    `value` is in SI; None where the figure is not stated, so that this bound is not checked.
    """

    name: str
    quantity: Quantity
    value: float | None
    source: str

    @property
    def unit(self) -> str:
        """The unit of the value, for printing."""
        return Unit[self.quantity]


@dataclass(frozen=True, slots=True)
class CarrierLimits:
    """The limits of one carrier over one distance; the result of :func:`governing_limits`.

    Attributes
    ----------
    limits, move               What the move may use, and the move planned with it.
    governs                    The candidate whose easing by the same share shortens the move most.
    speed_set_by, acceleration_set_by, jerk_set_by   The candidate that sets each limit.
    candidates                 All of them, with what each allows.
    moving_mass_kg             Carrier, fixture and, where loaded, the part. [kg]
    saved_per_m_s2_s           What one more m/s² of acceleration would save, the peak speed unchanged. [s]
    """

    limits: Limits
    move: Move
    governs: str
    speed_set_by: str
    acceleration_set_by: str
    jerk_set_by: str
    candidates: tuple[Candidate, ...]
    moving_mass_kg: float
    saved_per_m_s2_s: float


def governing_limits(
    distance_m: float, drive: DriveFigures, moving_mass_kg: float, holds: tuple[Candidate, ...] = ()
) -> CarrierLimits:
    """The limits of one move: the least of drive, thrust and hold, for the quickest move that obeys them all.

    Parameters
    ----------
    distance_m : float          How far. [m], ≥ 0
    drive : DriveFigures        Speed, acceleration, jerk, thrust over speed, friction, cogging, voltages.
    moving_mass_kg : float      Everything that moves. [kg], > 0
    holds : tuple of Candidate  What the part on the carrier stands (:func:`hold_limits`); none for an empty carrier.

    Returns
    -------
    CarrierLimits

    Raises
    ------
    NoAccelerationError   Thrust at rest less reserve, friction and cogging leaves nothing.
    ValueError            A figure is out of its range.

    Notes
    -----
    Thrust allows a_T(p) = (0.8 F(p) - friction - cogging)/mass at the move's own peak speed p, F read from the curve
    with its speeds scaled by lowest over nominal voltage; no move is faster than the curve's last point so scaled.
    A lower peak speed leaves more acceleration: the peak speed taken is the one that gives the shortest move, found
    exactly (:func:`linewright.motion.thrust.best_peak`). Friction would help to slow down; that help is not used.

    Source     the rule: docs/theory.md, "Limits of a move"; the reserve of 20 %: common practice.
    """
    if not 0.0 < moving_mass_kg < math.inf:
        raise ValueError(f"moving_mass_kg is {moving_mass_kg}; it must be positive and finite")
    name, source = drive.name("acceleration"), drive.source("acceleration")
    own = Candidate(name, "acceleration", drive.acceleration_m_s2, source)
    least_name, cap = min(((c.name, c.value) for c in (own, *holds) if c.value is not None), key=lambda pair: pair[1])
    if not cap > 0.0:
        raise NoAccelerationError(f"nothing is left to accelerate with: {least_name} allows {cap:.4g} m/s²")
    usable = usable_thrust(drive, moving_mass_kg)
    if usable[0].acceleration_m_s2 <= 0.0:
        raise NoAccelerationError(_no_acceleration(drive, moving_mass_kg))
    peak = best_peak(distance_m, usable, cap, drive.speed_m_s, drive.jerk_m_s3)
    limits = Limits(peak.speed_limit_m_s, peak.acceleration_m_s2, drive.jerk_m_s3)
    move = plan_move(distance_m, limits)
    set_by: dict[Quantity, str] = {
        "speed": "thrust" if peak.speed_limit_m_s < drive.speed_m_s else drive.name("speed"),
        "acceleration": "thrust" if peak.acceleration_m_s2 < cap * (1.0 - 1e-12) else least_name,
        "jerk": drive.name("jerk"),
    }
    candidates = (
        Candidate(drive.name("speed"), "speed", drive.speed_m_s, drive.source("speed")),
        Candidate("thrust", "speed", usable[-1].end_speed_m_s, "end of the thrust-speed curve at lowest voltage"),
        own,
        Candidate(
            "thrust",
            "acceleration",
            peak.thrust_acceleration_m_s2,
            f"thrust-speed curve at {move.peak_speed_m_s:.4g} m/s and lowest voltage, 20 % reserve (common "
            f"practice), less friction and cogging, over {moving_mass_kg:.4g} kg",
        ),
        *holds,
        Candidate(drive.name("jerk"), "jerk", drive.jerk_m_s3, drive.source("jerk")),
    )
    saved_s = move.duration_s - plan_move(distance_m, _eased(limits, 0.0, 1.0, 0.0)).duration_s
    return CarrierLimits(
        limits,
        move,
        set_by[_most_felt(distance_m, limits)],
        set_by["speed"],
        set_by["acceleration"],
        set_by["jerk"],
        candidates,
        moving_mass_kg,
        saved_s,
    )


def _eased(limits: Limits, speed_m_s: float, acceleration_m_s2: float, jerk_m_s3: float) -> Limits:
    return Limits(
        limits.speed_m_s + speed_m_s, limits.acceleration_m_s2 + acceleration_m_s2, limits.jerk_m_s3 + jerk_m_s3
    )


def _most_felt(distance_m: float, limits: Limits) -> Quantity:
    """The limit whose easing by one part in a thousand shortens the move most; the acceleration where none does."""
    share = 1e-3
    durations: dict[Quantity, float] = {
        "acceleration": plan_move(distance_m, _eased(limits, 0.0, share * limits.acceleration_m_s2, 0.0)).duration_s,
        "speed": plan_move(distance_m, _eased(limits, share * limits.speed_m_s, 0.0, 0.0)).duration_s,
        "jerk": plan_move(distance_m, _eased(limits, 0.0, 0.0, share * limits.jerk_m_s3)).duration_s,
    }
    return min(durations, key=lambda quantity: durations[quantity])


def _no_acceleration(drive: DriveFigures, moving_mass_kg: float) -> str:
    force_N, lost_N = drive.thrust[0][1], drive.friction_N + drive.cogging_N
    return (
        f"nothing is left to accelerate {moving_mass_kg:.4g} kg: the thrust at rest, {force_N:.4g} N, less 20 % "
        f"reserve is {THRUST_SHARE * force_N:.4g} N; friction {drive.friction_N:.4g} N and cogging "
        f"{drive.cogging_N:.4g} N take {lost_N:.4g} N; more thrust or less friction in the sheet is due"
    )


def hold_limits(part: Part | None) -> tuple[Candidate, ...]:
    """What the part on the carrier stands, by how it is held.

    Parameters
    ----------
    part : Part or None   `.held` is a pocket, a clamp or friction; `.mass_height_m` is the height of its mass centre.

    Returns
    -------
    tuple of Candidate   Pocket or clamp: the stated limit. Friction: against slip μ g/S, against tipping g b/(h S),
                         half base b, mass height h, S = 1.5. A value None where a figure is not stated: not checked.

    Source     statics of a block on a plate (references: slip a = μ g, tip a = g b/h); S: common practice.
    """
    held = None if part is None else part.held
    if part is None or held is None:
        return (Candidate("part hold", "acceleration", None, "how the part is held is not stated"),)
    if held.kind in ("pocket", "clamp"):
        return (Candidate(f"part hold ({held.kind})", "acceleration", held.acceleration_m_s2, "line file, part held"),)
    g_over_s = STANDARD_GRAVITY_M_S2 / HOLD_SAFETY
    slip, tip, why = None, None, "height of the mass centre or half base is not stated"
    if held.coefficient is not None:
        slip = held.coefficient * g_over_s
    if part.mass_height_m is not None and held.half_base_m is not None:
        tip, why = held.half_base_m / part.mass_height_m * g_over_s, "g b/(h S), S = 1.5 (common practice)"
    return (
        Candidate("part hold (friction, slip)", "acceleration", slip, "μ g/S, S = 1.5 (common practice)"),
        Candidate("part hold (friction, tip)", "acceleration", tip, why),
    )


def carrier_limits(line: Line, loaded: bool, distance_m: float) -> CarrierLimits:
    """The limits of a line's carrier over one distance, empty or with the part aboard.

    The moving mass is carrier, fixture and, where loaded, the part; the hold counts only where loaded.
    Raises what :func:`governing_limits` raises. It does not remember: who asks often keeps the answers.
    """
    holds = hold_limits(line.part) if loaded else ()
    return governing_limits(distance_m, drive_figures(line), moving_mass_kg(line, loaded), holds)


def moving_mass_kg(line: Line, loaded: bool) -> float:
    """Mass of a carrier with its fixture and, where loaded, a part in each of its nests. [kg]"""
    mass = line.conveyor.carrier.mass_kg
    mass += 0.0 if line.fixture is None else line.fixture.mass_kg
    if loaded and line.part is not None:
        mass += line.part.mass_kg * (1 if line.fixture is None else line.fixture.nests)
    return mass


def drive_figures(line: Line) -> DriveFigures:
    """What the drive may use, as the moves take it: the sheet's figures, or the line's own ceiling where that is less.

    Parameters
    ----------
    line : with its sheet; `line.move_limits` is the ceiling
    """
    drive, ceiling = line.conveyor.drive, line.move_limits
    figures = {"speed": drive.speed_m_s, "acceleration": drive.acceleration_m_s2, "jerk": drive.jerk_m_s3}
    least = dict(figures)
    if ceiling is not None:
        stated = {"speed": ceiling.speed_m_s, "acceleration": ceiling.acceleration_m_s2, "jerk": ceiling.jerk_m_s3}
        least |= {name: value for name, value in stated.items() if value is not None and value < figures[name]}
    return DriveFigures(
        least["speed"],
        least["acceleration"],
        least["jerk"],
        tuple((speed, force) for speed, force in drive.thrust),
        drive.friction_N,
        drive.cogging_N,
        drive.nominal_voltage_V,
        drive.lowest_voltage_V,
        tuple(name for name, value in least.items() if value < figures[name]),
    )


def platform_limits(transfer: TransferSheet) -> Limits:
    """The limits of a transfer's platform, as its sheet states them. They hold empty and loaded."""
    return Limits(transfer.speed_m_s, transfer.acceleration_m_s2, transfer.jerk_m_s3)


def ride_move(transfer: TransferSheet, ride_m: float) -> Move:
    """The platform's own move between its two docks, loaded or empty; `.duration_s` is the ride time."""
    return plan_move(ride_m, platform_limits(transfer))
