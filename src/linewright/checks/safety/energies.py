"""Gaps that crush, and energies that hurt: single formulas. None of them is a limit of what a person stands."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.motion.limits import STANDARD_GRAVITY_M_S2

CRUSH_GAPS_M: Final[dict[str, float]] = {
    "body": 0.5,
    "head": 0.3,
    "leg": 0.18,
    "foot": 0.12,
    "arm": 0.12,
    "hand": 0.1,
    "toes": 0.05,
    "finger": 0.025,
}
"""Least gap at which a part of the body is not crushed, ISO 13854; a hand with wrist and fist. [m]"""
_SAME_M: Final = 1e-12


@dataclass(frozen=True, slots=True)
class CrushGap:
    """What a gap that closes does; the result of :func:`crush_gap`.

    Parameters
    ----------
    gap_m : what is left where it is narrowest. [m]
    spared, crushed : parts of the body, in the order of :data:`CRUSH_GAPS_M`
    """

    gap_m: float
    spared: tuple[str, ...]
    crushed: tuple[str, ...]


def crush_gap(gap_m: float) -> CrushGap:
    """Which parts of the body a gap spares that closes to no less than this.

    Parameters
    ----------
    gap_m : float   What is left where it is narrowest. [m], ≥ 0

    Returns
    -------
    CrushGap

    Raises
    ------
    ValueError   The gap is negative, infinite or not a number.

    Notes      A part is spared where the gap is at least its value. Whether a gap is too narrow for anything to get in
               is another question (ISO 13857), not asked here: a gap that closes was wider before.
    Source     ISO 13854 (formerly EN 349), the table as an accident insurer prints it (read).

    Examples
    --------
    >>> crush_gap(0.06).spared
    ('toes', 'finger')
    """
    if not 0.0 <= gap_m < math.inf:
        raise ValueError(f"gap_m is {gap_m}; it must be finite and not negative")
    spared = tuple(part for part, least_m in CRUSH_GAPS_M.items() if gap_m >= least_m - _SAME_M)
    return CrushGap(gap_m, spared, tuple(part for part in CRUSH_GAPS_M if part not in spared))


def kinetic_energy_J(mass_kg: float, speed_m_s: float) -> float:
    """Energy of a moving mass, ½ m v². [J]

    Parameters
    ----------
    mass_kg : float     [kg], > 0
    speed_m_s : float   [m/s], ≥ 0

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Source     general physics texts.

    Examples
    --------
    >>> kinetic_energy_J(4.0, 2.0)
    8.0
    """
    if not 0.0 < mass_kg < math.inf:
        raise ValueError(f"mass_kg is {mass_kg}; it must be positive and finite")
    if not 0.0 <= speed_m_s < math.inf:
        raise ValueError(f"speed_m_s is {speed_m_s}; it must be finite and not negative")
    return 0.5 * mass_kg * speed_m_s * speed_m_s


def stored_energy_J(capacitance_F: float, voltage_V: float) -> float:
    """Energy of a charged capacitor, ½ C U². [J]

    Parameters
    ----------
    capacitance_F : float   [F], ≥ 0
    voltage_V : float       [V], ≥ 0

    Raises
    ------
    ValueError   A figure is negative, infinite or not a number.

    Source     general physics texts.

    Examples
    --------
    >>> stored_energy_J(0.01, 50.0)
    12.5
    """
    for name, value in (("capacitance_F", capacitance_F), ("voltage_V", voltage_V)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and not negative")
    return 0.5 * capacitance_F * voltage_V * voltage_V


def fall_speed_m_s(height_m: float) -> float:
    """Speed after a free fall from a height, √(2 g h). [m/s]

    Parameters
    ----------
    height_m : float   [m], ≥ 0

    Raises
    ------
    ValueError   The height is negative, infinite or not a number.

    Notes      g is the standard acceleration of free fall. Whatever rubs only slows it.
    Source     general physics texts.

    Examples
    --------
    >>> round(fall_speed_m_s(0.32), 3)
    2.505
    """
    if not 0.0 <= height_m < math.inf:
        raise ValueError(f"height_m is {height_m}; it must be finite and not negative")
    return math.sqrt(2.0 * STANDARD_GRAVITY_M_S2 * height_m)


def greatest_V(trip_V: float, feeder_V: float | None) -> float:
    """The highest voltage that a feeder comes to: where its supply trips, or what braking gives if that is more. [V]

    Parameters
    ----------
    trip_V : float             [V], ≥ 0
    feeder_V : float or None   As carriers brake; None where it is not known. [V], ≥ 0

    Raises
    ------
    ValueError   A figure is negative, infinite or not a number.

    Notes      A supply that trips stops feeding; it does not hold down what carriers give back.

    Examples
    --------
    >>> greatest_V(55.0, 58.5), greatest_V(55.0, None)
    (58.5, 55.0)
    """
    for name, value in (("trip_V", trip_V), ("feeder_V", 0.0 if feeder_V is None else feeder_V)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and not negative")
    return trip_V if feeder_V is None else max(trip_V, feeder_V)
