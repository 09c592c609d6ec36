"""Sums for a first look, before there is a run: a motor's power, one stop a cycle, a capacitor that is charged."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linewright.checks.power.storage import capacitance_that_holds_F, capacitor_voltage_V, held_J
from linewright.figures import not_negative, positive


@dataclass(frozen=True)
class Regeneration:
    """One stop with a stated efficiency into a capacitor; the result of :func:`regeneration`.

    Parameters
    ----------
    kinetic_J, back_J, held_J : of the mass, given back, and what the capacitor holds up to the highest voltage. [J]
    absorbed_V : voltage if it takes all. [V]
    resistor_needed : it cannot hold all
    capacitance_F : that would just hold it. [F]
    """

    kinetic_J: float
    back_J: float
    held_J: float
    absorbed_V: float
    resistor_needed: bool
    capacitance_F: float


@dataclass(frozen=True)
class ResistorDuty:
    """What a braking resistor gets from one stop a cycle; the result of :func:`resistor_duty`. [J], [W], [ohm]"""

    energy_J: float
    peak_W: float
    braking_mean_W: float
    mean_W: float
    largest_ohm: float


@dataclass(frozen=True)
class Precharge:
    """A capacitor charged through a resistor; the result of :func:`precharge`. [A], [s], [s], [V], [J], [J]"""

    peak_A: float
    time_constant_s: float
    charged_s: float
    charged_V: float
    capacitor_J: float
    resistor_J: float


@dataclass(frozen=True)
class MotorPower:
    """Power of a motor at one instant; the result of :func:`motor_power`. [W]; efficiency None unless it drives."""

    electrical_W: float
    mechanical_W: float
    copper_W: float
    efficiency: float | None


def motor_power(thrust_N: float, speed_m_s: float, current_A: float, resistance_ohm: float) -> MotorPower:
    """Power of a motor whose current is known.

    Parameters
    ----------
    thrust_N, speed_m_s : positive in one direction; their product negative where it brakes. [N], [m/s]
    current_A : [A]
    resistance_ohm : at its temperature. [ohm], > 0

    Returns
    -------
    MotorPower   F v + I²R, F v, I²R, and F v over the sum where F v > 0.

    Raises
    ------
    ValueError   A figure is not a number, or the resistance is not positive.

    Source     textbook; checked in tests/reference/data/electrical.json.
    Examples
    --------
    >>> round(motor_power(-68.0, 1.0, 1.5, 3.2).electrical_W, 9)
    -60.8
    """
    if not (math.isfinite(thrust_N) and math.isfinite(speed_m_s) and math.isfinite(current_A)):
        raise ValueError(f"thrust_N, speed_m_s or current_A is no number: {thrust_N}, {speed_m_s}, {current_A}")
    positive("resistance_ohm", resistance_ohm)
    mechanical_W, copper_W = thrust_N * speed_m_s, current_A * current_A * resistance_ohm
    electrical_W = mechanical_W + copper_W
    return MotorPower(electrical_W, mechanical_W, copper_W, mechanical_W / electrical_W if mechanical_W > 0.0 else None)


def regeneration(
    mass_kg: float, speed_m_s: float, efficiency: float, capacitance_F: float, start_V: float, highest_V: float
) -> Regeneration:
    """One stop of which a stated share comes back, and a capacitor that is to hold it: a sum for a first look.

    Parameters
    ----------
    mass_kg, speed_m_s : [kg], [m/s], > 0
    efficiency : share of the kinetic energy that comes back, over 0 to 1
    capacitance_F, start_V, highest_V : [F], [V], [V]

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes      The check itself takes no efficiency but friction and copper loss: :func:`braking_return`.
    Source     a resistor is due where more comes back than the capacitor holds: a maker's manual, read.
    Examples
    --------
    >>> regeneration(10.0, 2.0, 0.8, 0.01, 48.0, 56.0).resistor_needed
    True
    """
    positive("mass_kg", mass_kg)
    positive("speed_m_s", speed_m_s)
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"efficiency is {efficiency}; it must be over 0 and at most 1")
    kinetic_J = 0.5 * mass_kg * speed_m_s**2
    back_J, hold_J = efficiency * kinetic_J, held_J(start_V, highest_V, capacitance_F)
    absorbed_V = capacitor_voltage_V(start_V, back_J, capacitance_F)
    needed_F = capacitance_that_holds_F(start_V, highest_V, back_J)
    return Regeneration(kinetic_J, back_J, hold_J, absorbed_V, back_J > hold_J, needed_F)


def resistor_duty(
    kinetic_J: float, efficiency: float, braking_s: float, cycle_s: float, held_energy_J: float, on_V: float
) -> ResistorDuty:
    """What a braking resistor gets from one stop with constant deceleration in each cycle.

    Parameters
    ----------
    kinetic_J : of the stop. [J], > 0
    efficiency : share that comes back, over 0 to 1
    braking_s, cycle_s : length of the stop, and from one stop to the next. [s], > 0
    held_energy_J : what the capacitors take. [J], >= 0
    on_V : voltage at which it conducts. [V], > 0

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes      Peak power at the start of the stop, twice the mean of the stop; largest resistance U²/P of that peak.
    Source     the forms R <= U²/P and mean = energy per cycle: read; the rest: physics.
    Examples
    --------
    >>> resistor_duty(120.0, 0.8, 0.25, 2.0, 4.16, 56.0).mean_W
    45.92
    """
    for name, value in {"kinetic_J": kinetic_J, "braking_s": braking_s, "cycle_s": cycle_s, "on_V": on_V}.items():
        positive(name, value)
    not_negative("held_energy_J", held_energy_J)
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"efficiency is {efficiency}; it must be over 0 and at most 1")
    back_J = efficiency * kinetic_J
    energy_J, mean_W = max(0.0, back_J - held_energy_J), back_J / braking_s
    return ResistorDuty(energy_J, 2.0 * mean_W, mean_W, energy_J / cycle_s, on_V**2 / (2.0 * mean_W))


def precharge(supply_V: float, resistance_ohm: float, capacitance_F: float) -> Precharge:
    """A capacitor charged from nothing through a resistor.

    Parameters
    ----------
    supply_V : [V], > 0
    resistance_ohm : [ohm], > 0
    capacitance_F : [F], > 0

    Raises
    ------
    ValueError   A figure is not positive.

    Notes      I = U/R at the start; time constant R C; taken as charged after five of them; the resistor turns as
               much into heat as the capacitor holds, C U²/2.
    Source     U/R and five time constants: two makers' notes, read; the rest: textbook.
    Examples
    --------
    >>> precharge(48.0, 10.0, 0.01).peak_A, precharge(48.0, 10.0, 0.01).charged_s
    (4.8, 0.5)
    """
    positive("supply_V", supply_V)
    positive("resistance_ohm", resistance_ohm)
    positive("capacitance_F", capacitance_F)
    constant_s, energy_J = resistance_ohm * capacitance_F, 0.5 * capacitance_F * supply_V**2
    charged_V = supply_V * -math.expm1(-5.0)
    return Precharge(supply_V / resistance_ohm, constant_s, 5.0 * constant_s, charged_V, energy_J, energy_J)
