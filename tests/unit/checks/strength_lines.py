"""A small invented line for the tests of strength, whose stations and sheet are changed at will."""

from __future__ import annotations

from typing import Any

from linewright.checks.strength import StrengthResult, check_strength
from linewright.findings import Finding
from linewright.flow.duty import Duty
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.load import read_line
from linewright.line.model import Line

HEAD = """linewright: 1
name: Test line (invented)
conveyor: demo-light
carriers: 4
demand: {good_parts_per_year: 1000000, shifts_per_day: 2, paid_time_per_shift: 7 h, days_per_year: 200}
part: {mass: 100 g, held: {pocket: 20 m/s²}, mass_height: 20 mm}
fixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}
lanes:
  upper: {length: 1472 mm, from: west, to: east}
  lower: {length: 1472 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
route: [a, b]
stations:
"""
NONE = "force: none"
# Figures of the built-in sheet demo-light used below.
SPACING_M, GAUGE_M, PLATE_M, THRUST_M = 0.062, 0.074, 0.038, -0.006
STATIC_N, DYNAMIC_N, MAGNETS_N = 1900.0, 1150.0, 118.0


def line_of(first: str, second: str = NONE, **sheet: Any) -> Line:
    """A line with two stations; keys of the sheet replaced, ``guides={"stiffness_N_m": None}`` within one."""
    line = read_line(
        f"{HEAD}  a: {{lane: upper, at: 700 mm, time: 1 s{', ' if first else ''}{first}}}\n"
        f"  b: {{lane: lower, at: 700 mm, time: 1 s{', ' if second else ''}{second}}}\n",
        file="test.yaml",
    )
    changes = {}
    for key, value in sheet.items():
        old = getattr(line.conveyor, key)
        changes[key] = old.model_copy(update=value) if isinstance(value, dict) else value
    return line.model_copy(update={"conveyor": line.conveyor.model_copy(update=changes)})


def checked(line: Line, duty: Duty | None = None) -> StrengthResult:
    takt = None if line.demand is None else find_takt(line.demand)
    return check_strength(line, lay_out(line), takt, duty)


def rows(line: Line, code: str, duty: Duty | None = None) -> list[Finding]:
    return [finding for finding in checked(line, duty).findings if finding.code == code]


def one(line: Line, code: str, duty: Duty | None = None) -> Finding:
    (found,) = rows(line, code, duty)
    return found
