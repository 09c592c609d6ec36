"""The acceptance form says what was planned, leaves the blanks, and tells a customer no margin."""

from __future__ import annotations

import csv
import functools
import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import linewright as lw
from linewright.handover.document.blocks import Document, Facts, Grid, Heading, Points, SignHere, Tag, Words
from linewright.handover.document.pdf import pdf_of
from linewright.handover.papers.acceptance import ROW_MM, acceptance_document, files_of
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.planning.run_off import RunOff, plan_run_off

ROOT = Path(__file__).parents[3]


@functools.cache
def material(for_customer: bool = False) -> Material:
    if for_customer:
        return replace(material(), for_customer=True)
    answer = lw.evaluate(lw.load(ROOT / "examples/charts/fourteen.yaml"), hours=1, runs=3, workers=1)
    nothing: Any = "not asked for"
    return Material(answer, None, (), nothing, nothing, nothing, nothing, plan_run_off(answer), None, for_customer)


def run_off(of: Material) -> RunOff:
    assert not isinstance(of.run_off, str)
    return of.run_off


def paper(of: Material) -> Document:
    return acceptance_document(of, run_off(of))


def cells(grid: Grid) -> list[str]:
    return [cell.verdict if isinstance(cell, Tag) else cell for row in grid.rows for cell in row]


def words_of(document: Document) -> str:
    """Everything that it says."""
    told: list[str] = []
    for part in document.parts:
        for block in part.blocks:
            match block:
                case Heading(text) | Words(text):
                    told.append(text)
                case Points(rows):
                    told += rows
                case Facts(rows):
                    told += [word for row in rows for word in row]
                case Grid():
                    told += cells(block)
                case _:
                    pass
    return "\n".join(told)


def forms(document: Document) -> list[Grid]:
    return [block for part in document.parts for block in part.blocks if isinstance(block, Grid) and block.row_mm > 0.0]


def test_every_row_stands_in_the_form_with_its_pass_line_and_blanks() -> None:
    plan = run_off(material())
    rows = [row for form in forms(paper(material())) for row in form.rows]
    shown = [test for test in plan.tests if test.phase != "not to be shown"]
    assert [row[1] for row in rows] == [test.what for test in shown]
    assert [row[4] for row in rows] == [test.pass_line for test in shown]
    assert all(row[-5:] == ("", "", "", "", "") for row in rows)
    assert [row[0] for row in rows] == [str(i) for i in range(1, len(rows) + 1)]
    assert all(form.row_mm == ROW_MM for form in forms(paper(material())))


def test_form_rows_fit_their_height() -> None:
    """A row is as high as three lines of print; forty signs and more fill a line of the narrowest of these columns."""
    for form in forms(paper(material())):
        for row in form.rows:
            assert all(len(cell) <= 3 * 36 for cell in row[1:5] if isinstance(cell, str)), row


def test_what_cannot_be_shown_stands_on_page_one() -> None:
    document = paper(material())
    front = [block for block in document.parts[0].blocks if isinstance(block, Grid)]
    told = [cell for grid in front for cell in cells(grid)]
    hidden = [test for test in run_off(material()).tests if test.phase == "not to be shown"]
    assert hidden
    assert all(test.where in told and test.how_long in told for test in hidden)
    assert told.count("fails") == sum(test.falls_short for test in hidden)
    assert all(one.why in told for one in run_off(material()).not_planned)
    assert isinstance(document.parts[0].blocks[-1], SignHere)


def test_methods_tell_of_every_row_once() -> None:
    document = paper(material())
    methods = document.parts[2].blocks[1]
    assert isinstance(methods, Grid)
    numbers: list[int] = []
    for row in methods.rows:
        assert isinstance(row[0], str)
        for piece in row[0].split(", "):
            low, _, high = piece.partition(" to ")
            numbers += range(int(low), int(high or low) + 1)
    assert sorted(numbers) == list(range(1, len(numbers) + 1))
    assert len(numbers) == sum(len(form.rows) for form in forms(document))


def test_the_customer_reads_pass_lines_but_no_margin() -> None:
    mine, theirs = paper(material()), paper(material(for_customer=True))
    plan = run_off(material())
    shown = [test for test in plan.tests if test.phase != "not to be shown"]
    assert len(theirs.parts) == len(mine.parts) - 1
    said = words_of(theirs)
    for test in shown:
        assert test.pass_line in said
        for inside in test.internal:
            assert inside[1:] not in said, inside
            assert inside[1:] in words_of(mine)
    rate = next(test for test in plan.tests if test.code == "rate")
    row = next(row for form in forms(theirs) for row in form.rows if row[1] == rate.what)
    assert row[5] == "at most 5.0\u00a0%"
    assert "planned" not in table(True)[0]
    assert "refused_if_planned" not in table(True)[0]


def table(for_customer: bool) -> list[dict[str, str]]:
    content = files_of(material(for_customer))["acceptance.csv"]
    data = content() if callable(content) else content
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"))))


def test_the_table_holds_the_same_rows() -> None:
    rows, plan = table(False), run_off(material())
    assert [row["code"] for row in rows] == [test.code for test in plan.tests]
    for row, test in zip(rows, plan.tests, strict=True):
        assert row["pass_line"] == test.pass_line.replace("\u00a0", " ")
        assert (float(row["pass_value"]) if row["pass_value"] else None) == test.pass_value
        assert (float(row["planned"]) if row["planned"] else None) == test.planned
        assert row["measured"] == row["by"] == row["date"] == row["file_sha256"] == ""


def test_chances_in_words_are_those_agreed() -> None:
    plan = replace(run_off(material()), confidence=0.8, builder_risk=0.1, stated=True)
    said = words_of(acceptance_document(material(), plan))
    assert "80\u00a0% or more" in said
    assert "20\u00a0% at most" in said
    assert "10\u00a0% at most" in said
    assert "as agreed in the line file" in said


def test_without_a_plan_nothing_is_written() -> None:
    with pytest.raises(NothingToWrite, match="no run was simulated"):
        files_of(replace(material(), run_off="no run was simulated"))


def test_the_same_form_is_the_same_file() -> None:
    document = paper(material())
    assert pdf_of(document) == pdf_of(paper(material()))
    assert set(files_of(material())) == {"acceptance.pdf", "acceptance.html", "acceptance.csv"}
