"""What must be stated for every limit to be answered: the reference page's passage, and the starting patterns."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from linewright.checks.accuracy import check_accuracy
from linewright.checks.bus import check_bus
from linewright.checks.motion import check_motion
from linewright.checks.power import check_power
from linewright.checks.safety import check_safety
from linewright.checks.strength import check_strength
from linewright.checks.upkeep import check_upkeep
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.patterns import PATTERNS, pattern_text

PAGE = (Path(__file__).parents[3] / "docs" / "line-file.md").read_text(encoding="utf-8")
BLOCK = "# `linewright check` also judges"
REST_OF_A_LINE = """\
linewright: 1
name: The rest of the line
conveyor: demo-light
carriers: 6
route: [load, press, mark]
lanes:
  upper: {length: 3312 mm, from: west, to: east}
  lower: {length: 3312 mm, from: east, to: west, level: -400 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
demand: {good_parts_per_year: 1000000, shifts_per_day: 2, paid_time_per_shift: 8 h, days_per_year: 240}
"""


def verdicts(line: Line) -> dict[str, list[str]]:
    """The rows of every subject without a run, by verdict; those that a run alone can tell stand by themselves."""
    assert line.demand is not None
    layout, takt = lay_out(line), find_takt(line.demand)
    rows = [
        *check_motion(line, layout).findings,
        *check_strength(line, layout, takt).findings,
        *check_accuracy(line, layout).findings,
        *check_power(line, layout).findings,
        *check_bus(line, layout).findings,
        *check_safety(line, layout).findings,
        *check_upkeep(line, layout, takt).findings,
    ]
    found: dict[str, list[str]] = {}
    for row in rows:
        by_run = row.verdict == "not checked" and row.remedy.startswith("linewright check --run")
        found.setdefault("by a run" if by_run else row.verdict, []).append(f"{row.code}: {row.where}")
    return found


def uncommented(text: str) -> str:
    """A pattern with its last block of comments made live: three lines of words, then groups."""
    begin = text.index(BLOCK)
    lines = text[begin:].splitlines()
    assert all(line.startswith("# ") for line in lines)
    return text[:begin] + "\n".join([*lines[:3], *(line.removeprefix("# ") for line in lines[3:])]) + "\n"


def answered(text: str) -> dict[str, list[str]]:
    """The rows of a line file that nothing keeps from an answer."""
    return {key: rows for key, rows in verdicts(read_line(text)).items() if key in ("fails", "not checked")}


def test_the_passage_of_the_page_leaves_no_row_unanswered() -> None:
    _, passage = re.findall(r"^```yaml\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
    assert answered(REST_OF_A_LINE + passage) == {}
    without = passage.replace("controls: {scan: 2 ms, bus_cycle: 2 ms}\n", "")
    assert list(answered(REST_OF_A_LINE + without)) == ["not checked"]


def test_the_first_pattern_states_everything_and_nothing_fails() -> None:
    assert answered(pattern_text("two-deck")) == {}
    assert BLOCK not in pattern_text("two-deck")


@pytest.mark.parametrize("name", [name for name in PATTERNS if name != "two-deck"])
def test_the_groups_at_the_end_of_a_pattern_hold_once_they_are_live(name: str) -> None:
    text = pattern_text(name)
    line = read_line(uncommented(text))
    groups = ("feeders", "motor_zones", "cabinet", "controls", "temperature", "base", "environment", "upkeep")
    assert [group for group in groups if not getattr(line, group)] == []
    assert {feeder.lane for feeder in line.feeders} == {lane.name for lane in line.lanes}
    assert [group for group in groups if getattr(read_line(text), group)] == []
    before, after = verdicts(read_line(text)), verdicts(line)
    assert "fails" not in before
    assert "fails" not in after
    assert len(after["not checked"]) < len(before["not checked"])
