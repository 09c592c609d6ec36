"""Findings by subject: nothing is lost, the worst comes first."""

from __future__ import annotations

import itertools
import random

from linewright.findings import WORST_FIRST, Finding, Verdict
from linewright.handover.subjects import by_subject, must_be_checked, wait_for_run


def row(subject: str, verdict: Verdict, margin: float | None = None, remedy: str = "") -> Finding:
    return Finding(f"{verdict} {margin}", subject, verdict, "w", None, 1.0, 2.0, "m", margin, "s", remedy)


def test_every_finding_stands_in_one_group_whatever_the_order() -> None:
    rows = [
        row(subject, verdict, margin)
        for subject, verdict, margin in itertools.product("abcd", WORST_FIRST, (None, -0.2, 0.3))
    ]
    wanted = by_subject(tuple(rows))
    assert sorted(f.subject + f.code for one in wanted for f in one.findings) == sorted(
        r.subject + r.code for r in rows
    )
    shuffled = list(rows)
    random.Random(3).shuffle(shuffled)
    assert by_subject(tuple(shuffled)) == wanted
    for one in wanted:
        assert [one.count(verdict) for verdict in WORST_FIRST] == [3, 3, 3, 3]
        ranks = [WORST_FIRST.index(finding.verdict) for finding in one.findings]
        assert ranks == sorted(ranks)


def test_rows_of_one_verdict_stand_by_their_margins() -> None:
    rows = (
        row("a", "holds", 0.5),
        row("a", "holds"),
        row("a", "fails", -0.1),
        row("a", "fails"),
        row("a", "holds", 0.2),
    )
    (one,) = by_subject(rows)
    assert [(finding.verdict, finding.margin) for finding in one.findings] == [
        ("fails", None), ("fails", -0.1), ("holds", 0.2), ("holds", 0.5), ("holds", None)
    ]  # fmt: skip
    assert one.worst is one.findings[0]


def test_subjects_stand_by_their_worst_row() -> None:
    rows = (
        row("accuracy", "not checked"),
        row("bus", "tight", 0.01),
        row("layout", "holds", 0.5),
        row("motion", "holds", 0.1),
        row("power", "fails", -0.1),
        row("rate", "fails", -0.4),
        row("safety", "not checked"),
    )
    assert [one.subject for one in by_subject(rows)] == [
        "rate", "power", "safety", "accuracy", "bus", "motion", "layout"
    ]  # fmt: skip
    assert by_subject(()) == ()


def test_rows_that_bind_and_rows_that_wait_for_a_run() -> None:
    rows = (
        row("strength", "not checked"),
        row("accuracy", "not checked", remedy="linewright check --run simulates it"),
        row("safety", "holds", 0.5, "linewright check --run"),
        row("power", "not checked", remedy="linewright check --run simulates it"),
    )
    assert [finding.subject for finding in must_be_checked(rows)] == ["strength", "power"]
    assert wait_for_run(rows) == 2
