"""The page of check: an overview, then what asks for something, then all that holds; nothing is left out."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import linewright.handover.pages.check_page
from linewright.errors import Place
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.findings import Finding, Verdict
from linewright.handover.pages.check_page import check_page
from linewright.handover.wording import WIDTH, figures
from linewright.line.model import Line
from linewright.quantities import percent
from linewright.tables import Column, Table
from unit.handover.stand_in_run import demo_line

HEAD = "=" * WIDTH


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def row(
    subject: str,
    verdict: Verdict,
    where: str = "station press",
    margin: float | None = None,
    value: float | None = None,
    limit: float | None = None,
    remedy: str = "",
    code: str = "",
    source: str = "a book",
) -> Finding:
    place = Place("line.yaml", 7, 3)
    return Finding(code or f"{subject}-row", subject, verdict, where, place, value, limit, "N", margin, source, remedy)


def page_of(line: Line, *rows: Finding) -> str:
    bare = evaluate_without_run(line)
    return check_page(replace(bare, findings=rows))


def answer_of(text: str) -> str:
    return " ".join(text.split(HEAD)[1].split("OVERVIEW")[0].split())


def part(text: str, heading: str) -> list[str]:
    """The lines under a heading, up to the next."""
    rows = text.splitlines()
    begin = rows.index(heading) + 2
    ends = [at for at, under in enumerate(rows) if under and set(under) == {"-"} and at > begin]
    return rows[begin : ends[0] - 1]


HOLDS = row("bus", "holds", margin=0.5, value=1.0, limit=2.0)
FAILS = row("strength", "fails", margin=-0.5, value=3.0, limit=2.0, remedy="press with less")
BLIND = row("safety", "not checked", where="magnets: no implant_distance", remedy="state the key implant_distance")
WAITS = row("power", "not checked", remedy="linewright check --run simulates the line")
TIGHT = row("accuracy", "tight", margin=0.05, value=1.9, limit=2.0, remedy="pin it")


@pytest.mark.parametrize(
    ("rows", "first", "unchecked"),
    [
        ((HOLDS, HOLDS), "ALL 2 CHECKS HOLD. Findings: 0 fail, 0 NOT CHECKED, 0 tight, 2 hold.", ""),
        ((HOLDS, TIGHT), "NOTHING FAILS; 1 OF 2 CHECKS IS TIGHT. Findings:", ""),
        ((HOLDS, FAILS), "NO: 1 OF 2 CHECKS FAILS. Findings: 1 fail,", ""),
        ((FAILS, FAILS, HOLDS), "NO: 2 OF 3 CHECKS FAIL. Findings:", ""),
        (
            (HOLDS, BLIND),
            "NOT YET: NOTHING FAILS, BUT 1 CHECK OF SAFETY COULD NOT BE MADE.",
            "1 NOT CHECKED: nobody has looked at it. What is not checked of strength, power and safety (1) counts",
        ),
        (
            (HOLDS, BLIND, WAITS),
            "NOT YET: NOTHING FAILS, BUT 2 CHECKS OF POWER AND SAFETY COULD NOT BE MADE.",
            "2 NOT CHECKED: nobody has looked at them. What is not checked of strength, power and safety (2) counts",
        ),
        (
            (HOLDS, HOLDS, row("rate", "not checked")),
            "NOTHING THAT WAS CHECKED FAILS (2 checks).",
            "1 NOT CHECKED: nobody has looked at it. Findings:",
        ),
        (
            (FAILS, BLIND),
            "NO: 1 OF 2 CHECKS FAILS.",
            "1 NOT CHECKED: nobody has looked at it. What is not checked of strength, power and safety (1) counts",
        ),
    ],
)
def test_the_answer_comes_first(line: Line, rows: tuple[Finding, ...], first: str, unchecked: str) -> None:
    told = answer_of(page_of(line, *rows))
    assert told.startswith(f"{first} {unchecked}".strip())
    assert ("NOT CHECKED:" in told) == bool(unchecked)
    assert ("For 1 unchecked row a run suffices: linewright check LINE --run." in told) == (WAITS in rows)


def test_overview_has_a_line_for_each_subject_the_worst_first(line: Line) -> None:
    lines = part(page_of(line, HOLDS, TIGHT, BLIND, FAILS, HOLDS), "OVERVIEW")
    assert lines[0].split() == ["subject", "fail", "unchecked", "tight", "hold", "worst", "row"]
    assert [" ".join(one.split()) for one in lines[1:5]] == [
        "FAILS strength 1 - - - strength-row (-50.0 %): station press",
        "NOT CHECKED safety - 1 - - safety-row: magnets: no implant_distance",
        "TIGHT accuracy - - 1 - accuracy-row (5.0 %): station press",
        "holds bus - - - 2 bus-row (50.0 %): station press",
    ]


def test_what_is_too_long_for_the_overview_stands_whole_below(line: Line) -> None:
    where = "station " + "very-" * 40 + "long, " * 20 + "at its end"
    text = page_of(line, replace(FAILS, where=where))
    assert max(len(one) for one in text.splitlines()) <= WIDTH
    assert part(text, "OVERVIEW")[1].endswith(" ...")
    assert "at its end (line.yaml:7:3)" in " ".join(text.split())


def test_rows_that_ask_for_something_stand_together_with_what_to_do(line: Line) -> None:
    text = page_of(line, HOLDS, TIGHT, BLIND, FAILS)
    lines = [one for one in part(text, "WHAT FAILS, IS NOT CHECKED OR TIGHT") if one]
    assert lines == [
        "STRENGTH (1)",
        "FAILS        strength-row: station press  (line.yaml:7:3)",
        "             3 N, at most 2 N, over by 50.0 %  [a book]",
        "             -> press with less",
        "SAFETY (1)",
        "NOT CHECKED  safety-row: magnets: no implant_distance  (line.yaml:7:3)",
        "             [a book]",
        "             -> state the key implant_distance",
        "ACCURACY (1)",
        "TIGHT        accuracy-row: station press  (line.yaml:7:3)",
        "             1.9 N, at most 2 N, margin 5.0 %  [a book]",
        "             -> pin it",
    ]
    assert text.index("-> pin it") < text.index("WHAT HOLDS")
    assert "WHAT FAILS" not in page_of(line, HOLDS)
    assert "WHAT HOLDS" not in page_of(line, FAILS)


def test_rows_that_hold_take_a_line_each_and_name_their_source_by_number(line: Line) -> None:
    rows = (
        HOLDS,
        row("bus", "holds", margin=0.2, value=1.6, limit=2.0, code="frame", source="a standard"),
        row("layout", "holds", where="lane upper", margin=0.5, value=1.0, limit=2.0),
        row("layout", "holds", where="lane lower", margin=0.5, value=1.0, limit=2.0),
        row("safety", "holds", value=1.2, code="energy"),
    )
    assert [one for one in part(page_of(line, *rows), "WHAT HOLDS") if one] == [
        "   margin",
        "BUS (2)",
        "   20.0 %  frame: station press: 1.6 N, at most 2 N  [1]",
        "   50.0 %  bus-row: station press: 1 N, at most 2 N  [2]",
        "LAYOUT (2)",
        "   50.0 %  layout-row: lane lower; lane upper: 1 N, at most 2 N  [2]",
        "SAFETY (1)",
        "        -  energy: station press: 1.2 N, no limit  [2]",
        "SOURCES of what holds",
        "  [1]  a standard",
        "  [2]  a book",
    ]


def test_rows_that_do_not_fit_into_one_line_stand_apart(line: Line) -> None:
    wheres = [f"{name}, {'and so on ' * 5}" for name in ("one", "two")]
    rows = [row("layout", "holds", where=where, margin=0.5, value=1.0, limit=2.0) for where in wheres]
    found = part(page_of(line, *rows), "WHAT HOLDS")
    assert sum(1 for one in found if one.startswith("   50.0 %  layout-row: ")) == 2


def test_every_finding_of_a_line_stands_on_its_page(line: Line) -> None:
    evaluation: Evaluation = evaluate_without_run(line)
    text = check_page(evaluation)
    assert max(len(one) for one in text.splitlines()) <= WIDTH
    whole = " ".join(text.replace("\n", " ").split())
    for finding in evaluation.findings:
        for words in (finding.where, figures(finding, with_margin=False).replace("\u00a0", " "), finding.source):
            assert " ".join(words.split()) in whole, finding
    for finding in evaluation.findings:
        if finding.verdict == "holds" and finding.margin is not None:
            assert f" {percent(finding.margin, 1 if finding.margin < 1 else 0)} ".replace("\u00a0", " ") in whole
    opened = text.split("IS NOT CHECKED OR TIGHT")[1].split("WHAT HOLDS")[0]
    assert all(one.code in opened for one in evaluation.findings if one.verdict != "holds")
    # A long path may be broken at the page's edge.
    assert f"({evaluation.line.place('demand')})" in "".join(text.split())


def test_hazards_stand_under_their_headings(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = (
        ("mechanical", "crushing", "station load", "1.2 J", "a guard", "who reaches round it"),
        ("mechanical", "magnets", "every carrier", "", "keep iron away.", "implants"),
        ("mechanical", "shearing", "lift one", "gap 3 mm", "a cover", "access"),
        ("mechanical", "shearing", "lift two", "gap 3 mm", "a cover", "access"),
        ("mechanical", "tools", "press", "85 N", "a door", "its power"),
        ("mechanical", "tools", "screw", "32 N", "a door", "its power"),
        ("electrical", "charge", "feeder upper", "12 mF at 58 V", "wait", "who opens it"),
    )
    names = ("heading", "hazard", "where", "known", "first_measure", "left_to_decide")
    table = Table(tuple(Column(n, None, np.array(c)) for n, c in zip(names, zip(*rows, strict=True), strict=True)))
    monkeypatch.setattr(linewright.handover.pages.check_page, "hazards_of", lambda evaluation: table)
    lines = part(page_of(line, HOLDS), "HAZARDS: A START FOR THE RISK ASSESSMENT")
    told = " ".join(itertools.chain.from_iterable(one.split() for one in lines))
    assert "no risk assessment: a competent, licensed person makes that." in told
    assert [one for one in lines if one in ("mechanical", "electrical")] == ["mechanical", "electrical"]
    assert "- crushing: station load. Known: 1.2 J. First: a guard. To decide: who reaches round it." in told
    assert "- magnets: every carrier. First: keep iron away. To decide: implants." in told
    # Alike ones share an entry, what is known of each told beside it where it differs.
    assert "- shearing: lift one; lift two. Known: gap 3 mm. First: a cover. To decide: access." in told
    assert "- tools: press (85 N); screw (32 N). First: a door. To decide: its power." in told
    monkeypatch.setattr(linewright.handover.pages.check_page, "hazards_of", lambda evaluation: None)
    assert "HAZARDS" not in page_of(line, HOLDS)
