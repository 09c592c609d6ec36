"""Peak thrust of every move on the thrust-speed curve, and the root mean square of a carrier's over its duty."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.checks.motion.ceilings import (
    ceiling_that_holds,
    ceiling_unit,
    ceiling_words,
    duty_under,
    present_figure,
)
from linewright.checks.motion.held import net_along_N
from linewright.checks.motion.legs import LegOfLine
from linewright.findings import Finding, Verdict, judge, margin_below
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words, rounded, to_write
from linewright.motion.heat import squared_acceleration_m2_s3
from linewright.remedies import spare_for, value_that_holds
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty, DutyLeg

PEAK_RULE: Final = "docs/limits/motion.md, Thrust; the conveyor sheet's thrust-speed curve at lowest voltage"
RMS_RULE: Final = "docs/limits/motion.md, Thrust; the conveyor sheet's continuous thrust"


def check_thrust(
    line: Line, layout: Layout, legs: tuple[LegOfLine, ...], table: Table, duty: Duty | None
) -> tuple[Finding, ...]:
    """Whether the thrust suffices at every instant of every move, and for ever.

    Parameters
    ----------
    line, layout : a line and its own layout
    legs, table : its moves, and the thrust of each in the same order
    duty : of a run; None without one

    Returns
    -------
    tuple of Finding   ``peak-thrust``: the thrust where least of the curve is left, against the curve there [N].
                       ``rms-thrust``: root mean square of the carrier with the greatest, against the continuous thrust
                       [N]; without a duty that of the hardest move made again and again without rest, more than any
                       duty asks: where that is too much the row is ``not checked``. Empty without legs.

    Source     docs/limits/motion.md, Thrust; the conveyor sheet's thrust-speed curve.
    """
    if not legs:
        return ()
    return _peak_row(line, layout, legs, table), _rms_row(line, layout, legs, table, duty)


def _peak_row(line: Line, layout: Layout, legs: tuple[LegOfLine, ...], table: Table) -> Finding:
    left = 1.0 - np.divide(
        table["peak_N"], table["curve_N"], out=np.full(len(legs), math.inf), where=table["curve_N"] > 0
    )
    at = int(np.argmin(left))
    value, limit, margin = float(table["peak_N"][at]), float(table["curve_N"][at]), float(left[at])
    verdict = judge(margin)
    speed = in_words(float(table["speed_m_s"][at]), "m/s", line.units)
    where = f"peak thrust, {_leg_text(line, layout, legs[at])}, at {speed}"
    remedy = "" if verdict == "holds" else "a lighter load or a slower move leaves more of the curve"
    place = line.conveyor.place("drive", "thrust")
    return Finding("peak-thrust", "motion", verdict, where, place, value, limit, "N", margin, PEAK_RULE, remedy)


def _rms_row(line: Line, layout: Layout, legs: tuple[LegOfLine, ...], table: Table, duty: Duty | None) -> Finding:
    limit = line.conveyor.drive.continuous_thrust_N
    place = line.conveyor.place("drive", "continuous_thrust")
    if duty is not None and len(duty.leg):
        value, number = _duty_rms(line, duty, 0.0)
        where = (
            f"root mean square of the thrust of carrier {number} over {rounded(duty.span_s / 3600.0, 3)} h of the run"
        )
    else:
        at = int(np.argmax(table["rms_N"]))
        value = float(table["rms_N"][at])
        where = f"root mean square of the thrust, {_leg_text(line, layout, legs[at])}, again and again without rest"
        pushed = max(line.stations, key=net_along_N)
        if net_along_N(pushed) > value:
            value = net_along_N(pushed)
            where = f"root mean square of the thrust, held against the tool of station {pushed.name} without rest"
    margin = margin_below(value, limit)
    if margin < 0.0 and duty is None:
        remedy = "linewright check --run: how long carriers rest between their moves follows from a run"
        return Finding("rms-thrust", "motion", "not checked", where, place, value, limit, "N", None, RMS_RULE, remedy)
    verdict = judge(margin)
    remedy = "" if verdict == "holds" else "a lighter load leaves more"
    if verdict != "holds" and duty is not None and len(duty.leg):
        remedy = _lighter(line, duty, (1.0 - spare_for(verdict)) * limit, verdict)
    return Finding("rms-thrust", "motion", verdict, where, place, value, limit, "N", margin, RMS_RULE, remedy)


def duty_rms_N(line: Line, duty: Duty) -> float:
    """Root mean square of the thrust of the carrier with the greatest, over the whole duty. [N]

    Parameters
    ----------
    line, duty : a line and what its carriers did

    Notes      F = m a + friction in the moves, 0 at rest; while a station pushes along the track what no support takes,
               shared evenly by all carriers.
    Source     docs/limits/motion.md, Thrust; read in a motor maker's calculator.
    """
    return _duty_rms(line, duty, 0.0)[0]


def _duty_rms(line: Line, duty: Duty, less_kg: float) -> tuple[float, int]:
    """The greatest root mean square, and whose, with so much less mass on every carrier."""
    squares = np.array([_squares_N2_s(line, leg, less_kg) for leg in duty.legs])
    each = np.bincount(duty.carrier, weights=squares[duty.leg], minlength=duty.carriers) / duty.span_s
    ends_us = np.clip((duty.work_start_us, duty.work_end_us), duty.from_s * 1e6, duty.to_s * 1e6)
    worked_s = np.bincount(duty.work_station, weights=(ends_us[1] - ends_us[0]) / 1e6, minlength=len(line.stations))
    held = sum(net_along_N(one) ** 2 * time_s for one, time_s in zip(line.stations, worked_s.tolist(), strict=True))
    most = int(np.argmax(each))
    return math.sqrt(float(each[most]) + held / duty.span_s / max(1, duty.carriers)), most


def _squares_N2_s(line: Line, leg: DutyLeg, less_kg: float) -> float:
    """Integral of the squared thrust over one move."""
    friction = line.conveyor.drive.friction_N
    moving = leg.mass_kg - less_kg
    return moving**2 * squared_acceleration_m2_s3(leg.move) + friction**2 * leg.move.duration_s


def _lighter(line: Line, duty: Duty, limit_N: float, verdict: Verdict) -> str:
    left = ", with a tenth to spare" if verdict == "tight" else ""
    fixture_kg = 0.0 if line.fixture is None else line.fixture.mass_kg
    less = None
    if fixture_kg > 0.0:
        less = value_that_holds(lambda less_kg: 1.0 - _duty_rms(line, duty, less_kg)[0] / limit_N, 0.0, fixture_kg)
    ceiling = ceiling_that_holds(
        lambda one: 1.0 - _duty_rms(line, duty_under(line, duty, one), 0.0)[0] / limit_N,
        present_figure(line, "acceleration"),
        ceiling_unit("acceleration", line.units),
    )
    words = ceiling_words("acceleration", ceiling, line.units) if ceiling else ""
    slower = f"; or with {words}, departures as in the run" if words else ""
    if less is None:
        needed_N = duty_rms_N(line, duty) * line.conveyor.drive.continuous_thrust_N / limit_N
        return f"a drive with a continuous thrust of {to_write(needed_N, 'N', line.units, limit_N)} holds{left}{slower}"
    kept, now = to_write(fixture_kg - less, "kg", line.units, fixture_kg), in_words(fixture_kg, "kg", line.units)
    return f"with a fixture of {kept} instead of {now}, moves as they are, it holds{left}{slower}"


def _leg_text(line: Line, layout: Layout, leg: LegOfLine) -> str:
    load = "loaded" if leg.loaded else "empty"
    way = length_text(leg.distance_m, line.units)
    return f"{load}, {way} from {layout.stops[leg.start].label} to {layout.stops[leg.end].label}"
