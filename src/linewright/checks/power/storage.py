"""What braking gives back, and where it goes: into capacitors, or as heat into a braking resistor."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.figures import not_negative, positive

DRY_LIMIT_V: Final = 60.0
"""Extra-low voltage, direct current without ripple, in dry places: EN 60204-1, 6.4.1, read in a quotation. [V]"""

OTHER_LIMIT_V: Final = 15.0
"""The same in all other places. [V]"""


@dataclass(frozen=True)
class BrakingReturn:
    """What one carrier gives back while it brakes: energy in all and greatest power. [J], [W]"""

    energy_J: float
    peak_W: float


@dataclass(frozen=True)
class WorstReturn:
    """The most that one carrier can give back, and at which deceleration. Results of :func:`worst_braking_return`.

    Parameters
    ----------
    energy_J, energy_at_m_s2 : greatest energy; 0 m/s² where it grows the gentler the stop
    peak_W, peak_at_m_s2 : greatest power
    """

    energy_J: float
    energy_at_m_s2: float
    peak_W: float
    peak_at_m_s2: float


def braking_return(
    mass_kg: float,
    speed_m_s: float,
    deceleration_m_s2: float,
    friction_N: float,
    force_constant_N_A: float,
    resistance_ohm: float,
) -> BrakingReturn:
    """What one carrier gives back in a stop with constant deceleration.

    Parameters
    ----------
    mass_kg : all that moves. [kg], > 0
    speed_m_s : at the start of the stop. [m/s], > 0
    deceleration_m_s2 : [m/s²], > 0
    friction_N : drag, which brakes too and gives nothing back. [N], >= 0
    force_constant_N_A : [N/A], > 0
    resistance_ohm : of the coil group. [ohm], > 0

    Returns
    -------
    BrakingReturn

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes      The drive brakes with b = m a − friction. At the speed w it gives back b w − c b², c = R/k²: something
               down to w0 = c b, nothing below. Energy b (v − w0)²/(2 a), peak power b (v − w0) at the start.
    Source     derived; compared with integration in the tests.
    Examples
    --------
    >>> braking_return(2.0, 2.0, 5.0, 2.0, 8.0, 4.0)
    BrakingReturn(energy_J=1.8, peak_W=12.0)
    """
    positive("deceleration_m_s2", deceleration_m_s2)
    loss = _constants(mass_kg, speed_m_s, friction_N, force_constant_N_A, resistance_ohm)
    force_N = mass_kg * deceleration_m_s2 - friction_N
    left_m_s = speed_m_s - loss * force_N
    if force_N <= 0.0 or left_m_s <= 0.0:
        return BrakingReturn(0.0, 0.0)
    return BrakingReturn(force_N * left_m_s**2 / (2.0 * deceleration_m_s2), force_N * left_m_s)


def worst_braking_return(
    mass_kg: float,
    speed_m_s: float,
    greatest_m_s2: float,
    friction_N: float,
    force_constant_N_A: float,
    resistance_ohm: float,
) -> WorstReturn:
    """The most that one carrier can give back at any deceleration up to the greatest.

    Parameters
    ----------
    mass_kg, speed_m_s, friction_N, force_constant_N_A, resistance_ohm : as of :func:`braking_return`
    greatest_m_s2 : greatest deceleration. [m/s²], > 0

    Returns
    -------
    WorstReturn   Its energy and its power are those of different stops.

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    With b = m a − f and c = R/k² the energy b (v − c b)²/(2 a) rises up to 2 c b² + 3 c f b − f v = 0, that is
    b = 2 v √f/(√(9 c² f + 8 c v) + 3 c √f), and falls beyond; the power b (v − c b) rises up to b = v/(2 c). Without
    friction the energy grows the gentler the stop, towards m v²/2.

    Source     derived; compared with a search over decelerations in the tests.
    Examples
    --------
    >>> worst_braking_return(2.0, 2.0, 5.0, 0.0, 8.0, 4.0).energy_J
    4.0
    """
    positive("greatest_m_s2", greatest_m_s2)
    c = _constants(mass_kg, speed_m_s, friction_N, force_constant_N_A, resistance_ohm)
    most_N = mass_kg * greatest_m_s2 - friction_N
    if most_N <= 0.0:
        return WorstReturn(0.0, 0.0, 0.0, 0.0)
    peak_N = min(most_N, 0.5 * speed_m_s / c)
    peak_W, peak_at = peak_N * (speed_m_s - c * peak_N), (peak_N + friction_N) / mass_kg
    root = math.sqrt(9.0 * c * c * friction_N + 8.0 * c * speed_m_s)
    best_N = 2.0 * speed_m_s * math.sqrt(friction_N) / (root + 3.0 * c * math.sqrt(friction_N))
    energy_N = min(most_N, best_N)
    share = energy_N / (energy_N + friction_N) if energy_N > 0.0 else 1.0
    energy_J = 0.5 * mass_kg * (speed_m_s - c * energy_N) ** 2 * share
    return WorstReturn(energy_J, (energy_N + friction_N) / mass_kg, peak_W, peak_at)


def capacitor_voltage_V(start_V: float, energy_J: float, capacitance_F: float) -> float:
    """Voltage of a capacitor that takes an energy: √(U1² + 2 E/C).

    Parameters
    ----------
    start_V : [V], >= 0
    energy_J : [J], >= 0
    capacitance_F : [F], > 0

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Source     textbook; checked in tests/reference/data/electrical.json.
    Examples
    --------
    >>> capacitor_voltage_V(40.0, 4.5, 0.01)
    50.0
    """
    not_negative("start_V", start_V)
    not_negative("energy_J", energy_J)
    positive("capacitance_F", capacitance_F)
    return math.sqrt(start_V * start_V + 2.0 * energy_J / capacitance_F)


def held_J(start_V: float, highest_V: float, capacitance_F: float) -> float:
    """Energy that a capacitor takes from one voltage up to another: C (U2² − U1²)/2; 0 where there is no rise. [J]

    Source     textbook.

    Examples
    --------
    >>> held_J(40.0, 50.0, 0.01)
    4.5
    """
    not_negative("start_V", start_V)
    not_negative("highest_V", highest_V)
    positive("capacitance_F", capacitance_F)
    return max(0.0, 0.5 * capacitance_F * (highest_V * highest_V - start_V * start_V))


def capacitance_that_holds_F(start_V: float, highest_V: float, energy_J: float) -> float:
    """The least capacitance that takes an energy without rising above a voltage: 2 E/(U2² − U1²). [F]

    Raises
    ------
    ValueError   The highest voltage is not above the first, or a figure is out of its bounds.

    Source     textbook.

    Examples
    --------
    >>> capacitance_that_holds_F(40.0, 50.0, 4.5)
    0.01
    """
    not_negative("start_V", start_V)
    not_negative("energy_J", energy_J)
    if not start_V < highest_V < math.inf:
        raise ValueError(f"highest_V is {highest_V}; it must be finite and above start_V, {start_V}")
    return 2.0 * energy_J / (highest_V * highest_V - start_V * start_V)


def braking_voltage_V(
    start_V: float,
    energy_J: float,
    peak_W: float,
    capacitance_F: float,
    on_V: float | None = None,
    resistance_ohm: float | None = None,
) -> float:
    """The highest voltage that a feeder can reach while its carriers brake.

    Parameters
    ----------
    start_V : before they brake. [V], >= 0
    energy_J, peak_W : given back, in all and at most. [J], [W], >= 0
    capacitance_F : [F], > 0
    on_V, resistance_ohm : a braking resistor's voltage and resistance; neither without one. [V], [ohm], > 0

    Returns
    -------
    float   [V]

    Raises
    ------
    ValueError   A figure is out of its bounds, or one of the resistor's two is missing.

    Notes      The capacitor alone: √(U1² + 2 E/C). With a resistor no more than max(U1, U_on, √(P R)): once that
               conducts, the voltage rises only while more comes back than U²/R, and the supply holds its own. The least
               of the two.
    Source     derived; compared with the integrated circuit in the tests.
    Examples
    --------
    >>> braking_voltage_V(40.0, 8.0, 200.0, 0.01, 50.0, 10.0), braking_voltage_V(40.0, 4.5, 200.0, 0.01, 55.0, 10.0)
    (50.0, 50.0)
    """
    alone_V = capacitor_voltage_V(start_V, energy_J, capacitance_F)
    not_negative("peak_W", peak_W)
    if (on_V is None) != (resistance_ohm is None):
        raise ValueError("on_V and resistance_ohm of a braking resistor go together")
    if on_V is None or resistance_ohm is None:
        return alone_V
    positive("on_V", on_V)
    positive("resistance_ohm", resistance_ohm)
    return min(alone_V, max(start_V, on_V, math.sqrt(peak_W * resistance_ohm)))


def _constants(
    mass_kg: float, speed_m_s: float, friction_N: float, force_constant_N_A: float, resistance_ohm: float
) -> float:
    """c = R/k², once every figure is found possible. [W/N²]"""
    positive("mass_kg", mass_kg)
    positive("speed_m_s", speed_m_s)
    not_negative("friction_N", friction_N)
    positive("force_constant_N_A", force_constant_N_A)
    positive("resistance_ohm", resistance_ohm)
    return resistance_ohm / force_constant_N_A**2
