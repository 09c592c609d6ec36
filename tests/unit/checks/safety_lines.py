"""Small invented lines for the tests of the safety rows, on the built-in sheet demo-light.

Its figures used here: body 84 mm, full speed 1.85 m/s, jerk 260 m/s³, reaction 9 ms, deceleration 14 m/s², least drag
0.6 N, end stops hold 2.2 m/s, trip 55 V, implants 250 mm. A loaded carrier has 0.38 + 0.24 + 0.08 = 0.7 kg.
"""

from __future__ import annotations

from typing import Any

from linewright.checks.safety import SafetyResult, check_safety
from linewright.findings import Finding
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line

GUARD = (
    "{kind: light-curtain, resolution: 14 mm, distance: 1000 mm, device: 10 ms, logic: 15 ms, seen_behind: true, "
    "others_out_of_reach: true}"
)
KEYS = f"keep_clear: 60 mm, guard: {GUARD}, end_stops: 50 mm, motor_zone: hands"
TEXT = """\
linewright: 1
name: Test line (invented)
conveyor: demo-light
part: {{mass: 80 g, held: {{pocket: 20 m/s²}}}}
fixture: {{mass: 240 g, envelope: [82 mm, 110 mm, 60 mm]}}
lanes:
  upper: {{length: 2208 mm, from: west, to: east}}
  lower: {{length: 2208 mm, from: east, to: west, level: -320 mm}}
transfers:
  east-lift: {{kind: lift, takes: upper, gives: lower}}
  west-lift: {{kind: lift, takes: lower, gives: upper}}
carriers: 6
stations:
  load: {{lane: upper, at: 700 mm, work: {work}, time: 2 s{keys}}}
  press: {{lane: upper, at: 1500 mm, time: 1 s}}
  unload: {{lane: lower, at: 900 mm, time: 1 s}}
route: [load, press, unload]
{further}
"""
ZONE = "motor_zones: {hands: {lane: upper, from: 540 mm, to: 860 mm}}\n"
DRY = "environment: {dry: true}\n"
FULL = ZONE + DRY


def safety_line(keys: str = KEYS, further: str = FULL, work: str = "manual") -> Line:
    """The line; with its keys as they are every row holds but the extra-low voltage, which is tight."""
    text = TEXT.format(work=work, keys=f", {keys}" if keys else "", further=further)
    return read_line(text, file="test.yaml")


def on_sheet(line: Line, **changed: Any) -> Line:
    """The line with other figures in its sheet: groups by name, None for what is not stated, a dict for some keys."""
    update = {}
    for name, value in changed.items():
        update[name] = getattr(line.conveyor, name).model_copy(update=value) if isinstance(value, dict) else value
    return line.model_copy(update={"conveyor": line.conveyor.model_copy(update=update)})


def result(line: Line) -> SafetyResult:
    return check_safety(line, lay_out(line))


def row(line: Line, code: str) -> Finding:
    """The one row of that code."""
    (found,) = [finding for finding in result(line).findings if finding.code == code]
    return found


def codes(line: Line, verdict: str) -> list[str]:
    return [finding.code for finding in result(line).findings if finding.verdict == verdict]
