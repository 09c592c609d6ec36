"""The ceiling of one's own, `move_limits`, with which a row holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from linewright.checks.motion.words import figure_text
from linewright.line.model import Line
from linewright.line.spoken import unit_of
from linewright.line.surroundings import MoveLimits
from linewright.motion.curves import leg_limits
from linewright.motion.limits import Unit, drive_figures
from linewright.remedies import rounded_away

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

Quantity = Literal["acceleration", "jerk"]
LEAST_SHARE: Final = 0.02
_LOOKS: Final = 16
_HALVINGS: Final = 10


def ceiling_that_holds(margin: Callable[[float], float], now: float, unit_si: float = 1.0) -> float | None:
    """The greatest ceiling at which a row holds, as it does at all lower ones that are looked at; three digits.

    Parameters
    ----------
    margin : of the row under a ceiling; it holds where that is 0 or more
    now : what the moves may use at present
    unit_si : the unit in which the ceiling has its three digits

    Returns
    -------
    float or None   None where it does not hold at a fiftieth of the present figure either.

    Notes      A wave can be lower under a higher ceiling, where the jerk lasts about its period, so the ceilings are
               looked at from below, 16 of them, evenly in ratio; between the last that holds and the first that does
               not the answer is found by halving.

    Examples
    --------
    >>> ceiling_that_holds(lambda one: 3.14159 - one, 10.0), ceiling_that_holds(lambda one: -one, 10.0)
    (3.14, None)
    """
    holds, fails = None, now
    for look in range(_LOOKS):
        ceiling = now * LEAST_SHARE ** (1.0 - look / (_LOOKS - 1))
        if margin(ceiling) < 0.0:
            fails = ceiling
            break
        holds = ceiling
    if holds is None:
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (holds + fails)
        holds, fails = (middle, fails) if margin(middle) >= 0.0 else (holds, middle)
    told = rounded_away(holds / unit_si, now / unit_si) * unit_si
    return told if margin(told) >= 0.0 else None


def with_ceiling(line: Line, quantity: Quantity, value: float) -> Line:
    """The same line with one of the figures of `move_limits` as given."""
    stated = line.move_limits
    figures = {
        "speed_m_s": None if stated is None else stated.speed_m_s,
        "acceleration_m_s2": None if stated is None else stated.acceleration_m_s2,
        "jerk_m_s3": None if stated is None else stated.jerk_m_s3,
    }
    figures["acceleration_m_s2" if quantity == "acceleration" else "jerk_m_s3"] = value
    return line.model_copy(update={"move_limits": MoveLimits.model_construct(None, **figures)})


def present_figure(line: Line, quantity: Quantity) -> float:
    """What the moves may use at present, of the drive or of a ceiling that is there."""
    figures = drive_figures(line)
    return figures.acceleration_m_s2 if quantity == "acceleration" else figures.jerk_m_s3


def ceiling_words(quantity: Quantity, value: float, units: str) -> str:
    """``move_limits: {acceleration: 3.2 m/s²}``"""
    name, size = unit_of(Unit[quantity], units)
    return f"move_limits: {{{quantity}: {figure_text(value / size)} {name}}}"


def ceiling_unit(quantity: Quantity, units: str) -> float:
    """The unit in which a file has a ceiling, in SI."""
    return unit_of(Unit[quantity], units)[1]


def duty_under(line: Line, duty: Duty, acceleration_m_s2: float) -> Duty:
    """A duty with its moves planned under a ceiling, departing as they did."""
    slower = with_ceiling(line, "acceleration", acceleration_m_s2)
    legs = tuple(
        replace(leg, move=leg_limits(slower, leg.loaded, leg.move.distance_m, leg.curved).move) for leg in duty.legs
    )
    return replace(duty, legs=legs)
