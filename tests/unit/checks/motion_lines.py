"""Lines for the tests of motion, and how their rows are found."""

from __future__ import annotations

from typing import Any

from linewright.checks.motion import check_motion
from linewright.findings import Finding
from linewright.flow.duty import Duty
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line

HEAD = "linewright: 1\nname: Test line (invented)\nconveyor: demo-light\ncarriers: 3\n"
LOOP = """
lanes:
  upper: {length: 1472 mm, from: west, to: east}
  lower: {length: 1472 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
stations:
  a: {lane: upper, at: 300 mm, time: 1 s, force: none}
  b: {lane: upper, at: 800 mm, time: 1 s, force: FORCE}
  c: {lane: lower, at: 700 mm, time: 1 s, force: none}
route: [a, b, c]
fixture: {mass: 240 g, envelope: [82 mm, 110 mm, 60 mm]}
"""
PART = "part: {mass: 85 g, held: {pocket: 20 m/s²}, mass_height: 18 mm}\n"


def loop(part: str = PART, force: str = "none") -> Line:
    return read_line(HEAD + LOOP.replace("FORCE", force) + part)


def with_sheet(line: Line, **update: Any) -> Line:
    return line.model_copy(update={"conveyor": line.conveyor.model_copy(update=update)})


def with_motor(line: Line, **update: Any) -> Line:
    drive = line.conveyor.drive
    assert drive.motor is not None
    return with_sheet(line, drive=drive.model_copy(update={"motor": drive.motor.model_copy(update=update)}))


def rows(line: Line, code: str, duty: Duty | None = None) -> list[Finding]:
    return [one for one in check_motion(line, lay_out(line), duty).findings if one.code == code]
