"""Everything that is checked of the moves of a line, in one result."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewright.checks.motion.coil_heat import check_coil_heat
from linewright.checks.motion.curves import check_curves
from linewright.checks.motion.emergency import check_emergency
from linewright.checks.motion.hold import check_part_hold, check_payload
from linewright.checks.motion.legs import find_legs, legs_table, thrust_table
from linewright.checks.motion.moves import check_move_limits
from linewright.checks.motion.slosh import check_slosh
from linewright.checks.motion.thrust import check_thrust
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.motion.limits import CarrierLimits
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty


@dataclass(frozen=True, eq=False)
class MotionResult:
    """The moves of a line, held against what drive, part and coils stand.

    Parameters
    ----------
    findings : the rows
    legs : what governs each leg of the plan, what that costs, and how often it was made in the duty
    coil_heat : heat of every coil group; None without a duty or where a figure of the motor is missing
    thrust : peak and root mean square of the thrust of each leg, in the order of `legs`
    limits : what each leg may use, and its profile, in the order of `legs`
    """

    findings: tuple[Finding, ...]
    legs: Table
    coil_heat: Table | None
    thrust: Table
    limits: tuple[CarrierLimits, ...]


def check_motion(line: Line, layout: Layout, duty: Duty | None = None) -> MotionResult:
    """Check the moves of a line's carriers.

    Parameters
    ----------
    line, layout : a line and its own layout
    duty : what the carriers did in a run; None without one, then what needs it is ``not checked``

    Returns
    -------
    MotionResult   All findings are of the subject ``motion``. Where no thrust is left to move a carrier with, only
                   ``thrust`` and ``payload`` are there, and the tables are empty. The thrust that holds a carrier
                   against a tool is a row of strength.

    Source
    ------
    docs/limits/motion.md; docs/theory.md, "Limits of a move", "Moves in a curve"; the conveyor sheet.
    """
    findings = [*check_move_limits(line, layout, loaded=False), *check_move_limits(line, layout, loaded=True)]
    if any(finding.code == "thrust" for finding in findings):
        rows = (*findings, check_payload(line))
        return MotionResult(rows, legs_table(layout, ()), None, thrust_table(line, layout, ()), ())
    legs = find_legs(line, layout, duty)
    thrust = thrust_table(line, layout, legs)
    heat_rows, coil_heat = check_coil_heat(line, layout, duty)
    findings += check_part_hold(line, layout)
    findings += check_curves(line, layout)
    findings.append(check_payload(line))
    findings += check_emergency(line, layout, legs)
    findings += check_slosh(line, layout, legs)
    findings += check_thrust(line, layout, legs, thrust, duty)
    findings += heat_rows
    limits = tuple(leg.limits for leg in legs)
    return MotionResult(tuple(findings), legs_table(layout, legs), coil_heat, thrust, limits)
