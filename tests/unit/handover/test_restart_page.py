"""The page of a stop: the answer first, carriers in the order in which they go, what is rejected and why."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linewright.flow.restart import Restart, Stopped
from linewright.handover.pages.restart_page import restart_answer, restart_page
from linewright.handover.wording import WIDTH
from linewright.line.model import Line
from unit.handover.stand_in_run import demo_line

CARRIERS = (
    Stopped(4, 17, "on the way to dock of west-lift", 0.3, 0, "none aboard", "", 0.1, 3.1),
    Stopped(2, 9, "at station press, in work", 0.0, 1, "rejected", "work interrupted", None, None),
    Stopped(0, 3, "at station load", 0.0, 1, "taken out by hand", "within reach of a person", None, None),
)


def found(first_good_s: float | None) -> Restart:
    return Restart(1800.0, 0.1, CARRIERS, 3.1, 2, first_good_s, 410, 420.0, 3600.0, 7)


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def test_the_answer_stands_first_and_the_page_fits(line: Line) -> None:
    text = restart_page(line, found(12.5))
    assert "THE FIRST GOOD PART COMES 12.5 s AFTER THE RECOVERY BEGINS." in text.splitlines()[2]
    assert max(len(row) for row in text.splitlines()) <= WIDTH
    assert "2 parts: 1 at a reject exit, 1 by hand" in text
    assert "Power's return never starts motion" in " ".join(text.split())
    assert "CAUTION" in text


def test_a_line_that_does_not_come_again_says_so(line: Line) -> None:
    assert "NO GOOD PART COMES WITHIN 1 H" in restart_page(line, found(None))


def test_every_carrier_has_its_row_with_what_becomes_of_its_parts(line: Line) -> None:
    rows = restart_page(line, found(12.5)).splitlines()
    row = next(row for row in rows if row.startswith(f"{4:>7}  "))
    assert row.split("lift")[1].split() == ["300", "mm", "0.1", "s", "3.1", "s", "none", "aboard"]
    at = next(i for i, row in enumerate(rows) if row.startswith(f"{2:>7}  "))
    assert rows[at].endswith("1 rejected")
    assert rows[at + 1].strip() == "work interrupted"


def test_the_data_can_be_written_as_json(line: Line) -> None:
    data = json.loads(json.dumps(restart_answer(line, found(12.5))))
    assert data["restart"]["carriers"][1]["why"] == "work interrupted"
    assert data["restart"]["recovery_s"] == 3.1
