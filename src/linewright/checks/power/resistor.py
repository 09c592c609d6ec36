"""A braking resistor that a feeder lacks: what it would have to be like."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.checks.power.feeders import Electrics, FeederPower
from linewright.checks.power.rows import down, up
from linewright.checks.power.storage import held_J
from linewright.checks.power.trace import supply_bins
from linewright.line.spoken import plain, rounded
from linewright.remedies import spare_for

STOPS_APART_S: Final = 60.0
"""A resistor that is proposed stands all carriers braking at once so often. An assumption. [s]"""

_LEFT: Final = 1.0 - spare_for("tight")


@dataclass(frozen=True)
class ProposedResistor:
    """A braking resistor as a line file states it; the result of :func:`proposed_resistor`. [V], [ohm], [W], [J]

    Parameters
    ----------
    on_V : voltage above which it conducts
    resistance_ohm : at most
    power_W : at least
    pulse_J : what it takes where all carriers brake at once
    """

    on_V: float
    resistance_ohm: float
    power_W: float
    pulse_J: float

    @property
    def text(self) -> str:
        """As it stands in a line file."""
        ohm, watts, volts = (plain(one) for one in (self.resistance_ohm, self.power_W, self.on_V))
        return f"{{resistance: {ohm} ohm, power: {watts} W, on: {volts} V}}"

    @property
    def pulse_text(self) -> str:
        """What its maker must be asked for besides."""
        return f"of a make that stands pulses of {rounded(self.pulse_J, 3)} J"


def proposed_resistor(electrics: Electrics, power: FeederPower, highest_V: float) -> ProposedResistor | None:
    """A braking resistor with which a feeder stays below a voltage.

    Parameters
    ----------
    electrics, power : what all feeders share, and the feeder
    highest_V : that voltage

    Returns
    -------
    ProposedResistor or None   None where the supply itself reaches that voltage, or nothing comes back.

    Notes
    -----
    It conducts above on = √(U+ highest), as far in ratio from the one as from the other, so that neither is near. Its
    resistance leaves a tenth of on²/P. Its power is the greater of the mean of the run at that voltage (with a run) and
    of all carriers braking at once each minute, a tenth of it left.

    Source     docs/limits/power.md, Braking.
    """
    on_V = _between(electrics.high_V, highest_V)
    if on_V is None or power.back_peak_W <= 0.0:
        return None
    held = held_J(electrics.high_V, on_V, electrics.capacitance_F)
    pulse_J = max(0.0, power.back_J - held)
    mean_W = pulse_J / STOPS_APART_S
    if power.run is not None:
        mean_W = max(mean_W, supply_bins(power.run.need_J, held).resistor_J / power.run.span_s)
    ohm = down(_LEFT * on_V**2 / power.back_peak_W)
    return ProposedResistor(on_V, ohm, max(up(mean_W / _LEFT), 0.001), pulse_J)


def _between(low_V: float, high_V: float) -> float | None:
    """Their geometric mean with as few digits, three at least, as lie between the two."""
    if not low_V < high_V:
        return None
    middle_V = math.sqrt(low_V * high_V)
    near = (float(f"{middle_V:.{digits}g}") for digits in range(3, 16))
    return next((one for one in near if low_V < one < high_V), None)
