"""Findings: the verdict of a margin, the order on the page, the keys in JSON."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.errors import Place
from linewright.findings import TIGHT_MARGIN, WORST_FIRST, Finding, judge, worst_first

GAP = Finding(
    code="station-centres",
    subject="layout",
    verdict="holds",
    where="stations press and leak",
    place=Place("line.yaml", 20, 3),
    value=0.30,
    limit=0.265,
    unit="m",
    margin=0.13,
    source="semantics, least pitch",
    remedy="",
)


@pytest.mark.parametrize(
    ("margin", "verdict"),
    [
        (-1.0, "fails"),
        (-1e-12, "fails"),
        (0.0, "tight"),
        (0.0999999, "tight"),
        (0.10, "holds"),
        (float("inf"), "holds"),
    ],
)
def test_the_verdict_of_a_margin(margin: float, verdict: str) -> None:
    assert judge(margin) == verdict


@given(st.floats(allow_nan=False), st.floats(allow_nan=False))
def test_a_larger_margin_never_gets_a_worse_verdict(one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert WORST_FIRST.index(judge(less)) <= WORST_FIRST.index(judge(more))


def test_tight_is_under_ten_percent() -> None:
    assert TIGHT_MARGIN == 0.10


def test_the_worst_comes_first_and_equals_sort_by_subject_code_and_place() -> None:
    rows = (
        GAP,
        replace(GAP, verdict="tight"),
        replace(GAP, verdict="not checked", subject="motion"),
        replace(GAP, verdict="not checked", code="overhang"),
        replace(GAP, verdict="not checked", where="a"),
        replace(GAP, verdict="fails"),
    )
    assert [(f.verdict, f.subject, f.code, f.where) for f in worst_first(rows)] == [
        ("fails", "layout", "station-centres", GAP.where),
        ("not checked", "layout", "overhang", GAP.where),
        ("not checked", "layout", "station-centres", "a"),
        ("not checked", "motion", "station-centres", GAP.where),
        ("tight", "layout", "station-centres", GAP.where),
        ("holds", "layout", "station-centres", GAP.where),
    ]


@given(st.permutations([replace(GAP, code=f"code-{i}", verdict=WORST_FIRST[i % 4]) for i in range(8)]))
def test_the_order_does_not_depend_on_the_order_of_the_checks(rows: list[Finding]) -> None:
    expected = [f"code-{i}" for i in (0, 4, 1, 5, 2, 6, 3, 7)]
    assert [f.code for f in worst_first(tuple(rows))] == expected


def test_a_finding_in_json_has_exactly_the_documented_keys() -> None:
    text = json.dumps(GAP.as_dict())
    assert json.loads(text) == {
        "code": "station-centres",
        "subject": "layout",
        "verdict": "holds",
        "where": "stations press and leak",
        "place": {"file": "line.yaml", "line": 20, "column": 3},
        "value": 0.30,
        "limit": 0.265,
        "unit": "m",
        "margin": 0.13,
        "source": "semantics, least pitch",
        "remedy": "",
    }


def test_a_finding_about_a_line_made_in_python_has_no_place() -> None:
    assert replace(GAP, place=None).as_dict()["place"] is None


def test_a_finding_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        GAP.verdict = "fails"  # type: ignore[misc]
