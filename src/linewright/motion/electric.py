"""The electrical side of one move: thrust, copper loss and electrical power of the coils under one carrier.

Thrust, speed and acceleration count positive in the direction of the move, so that a braking thrust is negative and
the power that goes back into the supply is too. The current follows from the thrust alone, I = F/k.
"""

from __future__ import annotations

import math
from typing import Final, overload

import numpy as np
import numpy.typing as npt

from linewright.figures import positive
from linewright.motion.profile import Move

FloatArray = npt.NDArray[np.float64]

__all__ = [
    "COPPER_PER_K",
    "copper_loss_W",
    "electrical_power_W",
    "hot_resistance_ohm",
    "move_thrust_N",
]

COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of the resistance of copper at 20 °C, from memory. [1/K]"""

_COLD_DEGC: Final = 20.0


def hot_resistance_ohm(resistance_ohm: float, winding_degC: float) -> float:
    """Resistance of a copper winding or conductor at its temperature at work.

    Parameters
    ----------
    resistance_ohm : at 20 °C. [ohm], > 0
    winding_degC : temperature at work. [°C], above that at which the straight line reaches nought, -234.45 °C

    Returns
    -------
    float   [ohm]

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      R = R20 (1 + 0.00393 (θ − 20 °C)); of use between about -50 °C and 200 °C.
    Source     textbook; the coefficient from memory.
    Examples
    --------
    >>> round(hot_resistance_ohm(2.0, 120.0), 6)
    2.786
    """
    positive("resistance_ohm", resistance_ohm)
    share = 1.0 + COPPER_PER_K * (winding_degC - _COLD_DEGC)
    if not 0.0 < share < math.inf:
        raise ValueError(f"winding_degC is {winding_degC}; it must be finite and above -234.45 °C")
    return resistance_ohm * share


def move_thrust_N(move: Move, mass_kg: float, friction_N: float, time_s: FloatArray) -> FloatArray:
    """Thrust that one carrier needs over its move.

    Parameters
    ----------
    move : its profile
    mass_kg : all that moves. [kg], > 0
    friction_N : drag at any speed, against the motion. [N], >= 0
    time_s : any shape, from departure. [s]

    Returns
    -------
    float64, the same shape   Positive in the direction of the move, negative where the drive brakes. [N]

    Raises
    ------
    ValueError   The mass is not positive, the friction is negative, or a figure is not a number.

    Notes      F = m a + friction from 0 on until it stands (time_s < move.duration_s); 0 before and after.
    Source     Newton; friction as the sheet's drag at any speed.
    Examples
    --------
    >>> from linewright.motion import Limits, plan_move
    >>> move = plan_move(1.0, Limits(1.0, 10.0, float("inf")))
    >>> move_thrust_N(move, 2.0, 3.0, np.array([0.05, 0.5, 1.05, 2.0])).round(9).tolist()
    [23.0, 3.0, -17.0, 0.0]
    """
    positive("mass_kg", mass_kg)
    if not 0.0 <= friction_N < math.inf:
        raise ValueError(f"friction_N is {friction_N}; it must be finite and not negative")
    times = np.asarray(time_s, dtype=np.float64)
    moves = (times >= 0.0) & (times < move.duration_s)
    thrust: FloatArray = mass_kg * move.acceleration_m_s2(times) + np.where(moves, friction_N, 0.0)
    return thrust


@overload
def copper_loss_W(thrust_N: float, force_constant_N_A: float, resistance_ohm: float) -> float: ...
@overload
def copper_loss_W(thrust_N: FloatArray, force_constant_N_A: float, resistance_ohm: float) -> FloatArray: ...
def copper_loss_W(thrust_N: float | FloatArray, force_constant_N_A: float, resistance_ohm: float) -> float | FloatArray:
    """Heat in the coils that make a thrust.

    Parameters
    ----------
    thrust_N : one number or an array of any shape; its sign does not matter. [N]
    force_constant_N_A : thrust per current of the coil group. [N/A], > 0
    resistance_ohm : of the coil group at its temperature; :func:`hot_resistance_ohm`. [ohm], > 0

    Returns
    -------
    float or float64, the same shape   [W]

    Raises
    ------
    ValueError   A constant is not positive, or a figure is not a number.

    Notes      I²R with I = F/k. One coil group makes the whole thrust; that the next one takes over part of it where
               the carrier lies over both is not looked at: the loss is then a little less.
    Source     textbook.
    Examples
    --------
    >>> copper_loss_W(20.0, 10.0, 3.2)
    12.8
    """
    positive("force_constant_N_A", force_constant_N_A)
    positive("resistance_ohm", resistance_ohm)
    _numbers("thrust_N", thrust_N)
    current_A = thrust_N / force_constant_N_A
    return current_A * current_A * resistance_ohm


@overload
def electrical_power_W(
    thrust_N: float, speed_m_s: float, force_constant_N_A: float, resistance_ohm: float
) -> float: ...
@overload
def electrical_power_W(
    thrust_N: FloatArray, speed_m_s: FloatArray | float, force_constant_N_A: float, resistance_ohm: float
) -> FloatArray: ...
def electrical_power_W(
    thrust_N: float | FloatArray, speed_m_s: float | FloatArray, force_constant_N_A: float, resistance_ohm: float
) -> float | FloatArray:
    """Power that the coils draw from the supply; negative where braking gives some back.

    Parameters
    ----------
    thrust_N, speed_m_s : numbers or arrays that go together, positive in the direction of the move. [N], [m/s]
    force_constant_N_A : thrust per current. [N/A], > 0
    resistance_ohm : of the coil group at its temperature. [ohm], > 0

    Returns
    -------
    float or float64, the same shape   [W]

    Raises
    ------
    ValueError   A constant is not positive, or a figure is not a number.

    Notes      P = F v + I²R, I = F/k. Iron loss and the loss of the drive's own electronics are not in it.
    Source     textbook; checked in tests/reference/data/electrical.json.
    Examples
    --------
    >>> electrical_power_W(20.0, 1.5, 10.0, 3.2), electrical_power_W(-20.0, 1.5, 10.0, 3.2)
    (42.8, -17.2)
    """
    _numbers("speed_m_s", speed_m_s)
    loss_W = copper_loss_W(thrust_N, force_constant_N_A, resistance_ohm)
    return thrust_N * speed_m_s + loss_W


def _numbers(name: str, values: float | FloatArray) -> None:
    if not np.isfinite(values).all():
        raise ValueError(f"{name} holds a value that is not a finite number")
