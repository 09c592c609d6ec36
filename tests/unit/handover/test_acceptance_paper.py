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
from linewright.findings import Finding
from linewright.handover.document.blocks import Caution, Document, Facts, Grid, Heading, Points, SignHere, Tag, Words
from linewright.handover.document.pdf import pdf_of
from linewright.handover.papers.acceptance import ROW_MM, acceptance_document, files_of
from linewright.handover.papers.acceptance_agreed import AGREED_MM, MISSING_MM
from linewright.handover.papers.material import NOT_ASKED, Material, NothingToWrite
from linewright.planning.run_off import RunOff, plan_run_off

ROOT = Path(__file__).parents[3]


@functools.cache
def material(for_customer: bool = False) -> Material:
    if for_customer:
        return replace(material(), for_customer=True)
    answer = lw.evaluate(lw.load(ROOT / "examples/charts/fourteen.yaml"), hours=1, runs=3, workers=1)
    nothing: Any = NOT_ASKED
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
                case Heading(text) | Words(text) | Caution(text):
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
    """The grids of its third part: the rows with their blanks."""
    return [block for block in document.parts[2].blocks if isinstance(block, Grid) and block.row_mm > 0.0]


def agreements(document: Document) -> Grid:
    """The fields of its second part."""
    (fields,) = (block for block in document.parts[1].blocks if isinstance(block, Grid) and block.row_mm == AGREED_MM)
    return fields


def missing(document: Document) -> list[tuple[Any, ...]]:
    """The fields of its second part for what is open."""
    grids = [block for block in document.parts[1].blocks if isinstance(block, Grid) and block.row_mm == MISSING_MM]
    return [row for grid in grids for row in grid.rows]


def with_later_rate() -> RunOff:
    """The plan, its rate counted in production, and a day's row that shows less."""
    plan = run_off(material())
    (rate,) = plan.of("rate")
    day = replace(rate, code="rate-in-a-day", what="a day", hours=24.0, limit=1200.0, pass_value=1220.0, count=29_280)
    later = replace(rate, phase="later", hours=303.0, count=380_000)
    tests = [one for one in plan.tests if one.planned_for and one is not rate]
    return replace(plan, tests=(*tests, day, later))


def front(document: Document) -> str:
    return words_of(replace(document, parts=document.parts[:1]))


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
    grids = [block for block in document.parts[0].blocks if isinstance(block, Grid)]
    told = [cell for grid in grids[1:] for cell in cells(grid)]
    hidden = [test for test in run_off(material()).tests if test.phase == "not to be shown"]
    assert hidden
    assert all(test.where in told and test.how_long in told for test in hidden)
    assert told.count("fails") == sum(test.falls_short for test in hidden)
    assert all(one.why in told for one in run_off(material()).not_planned)
    assert isinstance(document.parts[1].blocks[-1], SignHere)


def test_methods_tell_of_every_row_once() -> None:
    document = paper(material())
    methods = document.parts[3].blocks[1]
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
    assert "planned" not in table(True)[0]
    assert "refused_if_planned" not in table(True)[0]


def test_both_sign_the_same_numbers() -> None:
    mine, theirs = paper(material()), paper(material(for_customer=True))
    *same, own = mine.parts
    assert tuple(same) == theirs.parts
    assert (mine.title, mine.foot) == (theirs.title, theirs.foot)
    assert own.blocks[0] == Heading("For the builder alone: what is planned")
    for row, test in zip((row for form in forms(mine) for row in form.rows), shown_tests(), strict=True):
        chance = test.refused_if_planned
        assert (row[5] == "at most 5.0\u00a0%") == (chance is not None), row


def shown_tests() -> list[Any]:
    return [test for test in run_off(material()).tests if test.planned_for]


def test_a_chance_above_the_risk_is_told_to_both() -> None:
    plan = run_off(material())
    tests = tuple(replace(one, refused_if_planned=0.21) if one.code == "rate" else one for one in plan.tests)
    for for_customer in (False, True):
        document = acceptance_document(material(for_customer), replace(plan, tests=tests))
        rows = {row[1]: row for form in forms(document) for row in form.rows}
        assert rows[plan.of("rate")[0].what][5] == "21.0\u00a0%"
        row = next(row[0] for row in rows.values() if row[5] == "21.0\u00a0%")
        assert f"row {row} bears more" in front(document)


def test_rows_of_luck_are_counted_with_those_of_production() -> None:
    plan = with_later_rate()
    said = front(acceptance_document(material(), plan))
    lucky = [i for i, one in enumerate(plan.tests, 1) if one.passed_at_limit is not None]
    known = [i for i, one in enumerate(plan.tests, 1) if one.refused_if_planned is not None]
    assert lucky[-1] == known[-1] == len(plan.tests)
    assert f"{len(lucky)} rows are decided by luck as well (" in said
    assert f"{len(known)} of them (" in said
    total = sum(one.refused_if_planned or 0.0 for one in plan.tests)
    most = int(said.split(" at least one of these with ")[1].split("\u00a0%")[0]) / 100.0
    assert total <= most <= min(total + 0.1, 0.05 * len(known) + 1e-9)


def test_what_a_day_does_not_show_stands_on_page_one() -> None:
    plan = with_later_rate()
    document = acceptance_document(material(), plan)
    (told,) = (block.text for block in document.parts[0].blocks if isinstance(block, Caution))
    day, later = (
        next(i for i, one in enumerate(plan.tests, 1) if one.code == code) for code in ("rate-in-a-day", "rate")
    )
    plain = told.replace("\u00a0", " ")
    assert f"is row {later}. " in plain
    assert "counted in production from the day of handing over, at least 380 000 good parts in 303 h" in plain
    assert f"Row {day} is not the required rate: it passes with 1 220 an hour counted over 24 h" in plain
    assert "shows 1 200 an hour" in plain
    assert any(f"What follows if row {later}, " in str(row[1]) for row in agreements(document).rows)
    none = tuple(
        replace(one, phase="not to be shown", pass_line="") if one.code == "rate" else one for one in plan.tests
    )
    open_paper = acceptance_document(material(), replace(plan, tests=none))
    assert "is shown by no row of this form" in front(open_paper)
    assert any("since no row shows it" in str(row[1]) for row in agreements(open_paper).rows)


def test_the_run_off_is_signed_before_production_is_counted() -> None:
    def signed(plan: RunOff) -> list[str]:
        blocks = acceptance_document(material(), plan).parts[2].blocks
        return [
            block.people[0] if isinstance(block, SignHere) else block.text
            for block in blocks
            if isinstance(block, SignHere | Heading)
        ]

    assert signed(run_off(material()))[-1] == "builder, to the results of the run-off"
    assert signed(with_later_rate())[-3:] == [
        "builder, to the results of the run-off",
        "Counted in production",
        "builder, to what was counted in production",
    ]


def test_fields_for_what_a_refusal_leads_to() -> None:
    fields = agreements(paper(material()))
    assert fields.row_mm == AGREED_MM
    assert [row[0] for row in fields.rows] == list("ABCDEF")
    assert all(row[-1] == "" for row in fields.rows)
    asked = [str(row[1]) for row in fields.rows]
    for words in (
        "refused row leads to",
        "How often",
        "Who pays",
        "Until when",
        "fail in the plan",
        "no run-off can show",
    ):
        assert sum(words in one for one in asked) == 1, words
    assert "Without a cause found and mended nothing is repeated" in str(fields.rows[0][2])
    assert "10\u00a0% at most; with 19\u00a0% if" in str(fields.rows[1][2])


def failing_rows(of: Material) -> list[tuple[str, str, str]]:
    grid = next(block for block in paper(of).parts[0].blocks if isinstance(block, Grid))
    return [(tag.verdict, str(what), str(told)) for tag, what, told in grid.rows if isinstance(tag, Tag)]


def test_what_fails_in_the_plan_stands_on_page_one() -> None:
    told, found = failing_rows(material()), material().evaluation.findings
    fails = [one for one in found if one.verdict == "fails"]
    left = [one for one in found if one.verdict == "not checked" and one.subject in ("strength", "power", "safety")]
    assert len(fails) > 1
    assert left
    assert sorted(verdict for verdict, _, _ in told) == ["fails"] * len(fails) + ["not checked"] * (len(left) + 1)
    for one in left:
        assert ("not checked", f"{one.code}: {one.where}") in [row[:2] for row in told]
    for one in fails:
        assert any(what.startswith(f"{one.code}: ") and what[len(one.code) + 2 :] in one.where for _, what, _ in told)
    assert "These checks fail in the plan; the run-off does not replace them." in front(paper(material()))
    assert ("fails", "braking-voltage: feeder lower") in [row[:2] for row in told]
    assert next(value for _, what, value in told if "braking-v" in what).endswith("at most 55\u00a0V")


def test_the_proof_of_the_traffic_is_among_what_fails() -> None:
    assert "was not proven with this form" in failing_rows(material())[-1][1]
    assert (
        failing_rows(replace(material(), proving="the track has a gap"))[-1][1]
        == "traffic: not proven: the track has a gap"
    )
    lock = Finding("gridlock", "traffic", "fails", "from the planned start", None, 11.0, 9.0, "carriers", -0.2, "", "")
    unseen = replace(
        lock, code="dead-section", verdict="not checked", where="leader", value=None, limit=None, margin=None
    )
    proof: Any = type("AProof", (), {"findings": (lock, unseen), "recovery": None})()
    rows = failing_rows(replace(material(), proving=proof))
    assert ("fails", "gridlock: from the planned start", "11\u00a0carriers, at most 9\u00a0carriers") in rows
    assert ("not checked", "dead-section: leader", "") in rows
    assert not any("not proven" in what for _, what, _ in rows)


def test_a_plan_that_holds_says_so() -> None:
    proof: Any = type("AProof", (), {"findings": (), "recovery": None})()
    sound = tuple(one for one in material().evaluation.findings if one.verdict in ("holds", "tight"))
    holding = replace(material(), evaluation=replace(material().evaluation, findings=sound), proving=proof)
    said = front(paper(holding))
    assert "No check fails in the plan." in said
    assert "does not replace" not in said
    assert not any("fail in the plan" in str(row[1]) for row in agreements(paper(holding)).rows)


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


def test_what_is_not_testable_carries_no_verdict() -> None:
    grids = [block for block in paper(material()).parts[0].blocks if isinstance(block, Grid)]
    first = {row[0] if isinstance(row[0], str) else row[0].verdict for grid in grids[1:] for row in grid.rows}
    assert "not testable" in first
    assert "not checked" not in first


def test_all_that_is_not_checked_or_not_tested_has_a_field() -> None:
    document = paper(material())
    left = {one.code for one in material().evaluation.findings if one.verdict == "not checked"}
    assert "reaction-time" in left  # of the bus: told by its code alone
    assert left <= {str(row[1]).split(":")[0] for row in missing(document)}
    assert {one.what for one in run_off(material()).not_planned} <= {row[1] for row in missing(document)}
    assert all(row[2:] == ("", "") for row in missing(document))
    said = front(document)
    assert "nobody could check: a figure or a limit is missing" in said
    besides = said.split("Not checked besides: ")[1].split("\n")[0]
    assert "reaction-time" in besides
    assert "cabinet-heat" not in besides


def test_an_energy_without_a_limit_says_so() -> None:
    found = Finding("dead-section", "traffic", "not checked", "leader", None, 0.5, None, "J", None, "", "")
    proof: Any = type("AProof", (), {"findings": (found,), "recovery": None})()
    rows = failing_rows(replace(material(), proving=proof))
    assert ("not checked", "dead-section: leader", "0.5\u00a0J; what is allowed is missing") in rows


def test_the_recovery_is_held_to_the_proof() -> None:
    def row_of(proving: Any) -> tuple[Any, ...]:
        rows = [row for form in forms(paper(replace(material(), proving=proving))) for row in form.rows]
        return next(row for row in rows if row[1] == "time of the recovery after an emergency stop")

    assert row_of(NOT_ASKED)[4:7] == ("only recorded, the longest: ________", "no luck in it", "no luck in it")
    recovery = type("ARecovery", (), {"stops": 200, "failed": 0, "worst_recovery_s": 43.46})()
    proven = row_of(type("AProof", (), {"findings": (), "recovery": recovery})())
    # 22 stops beside the 200 of the proof: 22/222.
    assert proven[4:7] == ("each at most 43.5\u00a0s", "9.9\u00a0%", "not known")
    recovery.failed = 1
    assert row_of(type("AProof", (), {"findings": (), "recovery": recovery})())[4].startswith("only recorded")
