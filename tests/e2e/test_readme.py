"""The run that the README shows is the one that the program makes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from linewright.evaluation import evaluate
from linewright.handover.pages.rate_page import rate_page
from linewright.line.load import load_line
from linewright.planning.gains import find_gains

ROOT = Path(__file__).parents[2]


def shown() -> list[str]:
    """The lines of the page that the README quotes."""
    section = (ROOT / "README.md").read_text("utf-8").split("## One run")[1].split("\n## ")[0]
    rows = [row.strip() for row in section.splitlines() if row.startswith("    ")]
    return [row for row in rows if not row.startswith("linewright ")]


def stands_in(quoted: str, row: str) -> bool:
    """Whether the words of a quotation stand in a row in their order; columns may be left out."""
    words = iter(row.split())
    return all(word in words for word in quoted.split() if word != "...")


def test_a_quotation_is_found_in_its_own_row_alone() -> None:
    assert stands_in("load 77.8 ... 0.6", "load 0.0 77.8 0.0 0.6 100.0")
    assert not stands_in("load 77.8 0.6", "load 0.0 0.6 77.8")
    assert not stands_in("load 77.9", "load 0.0 77.8 0.0 0.6 100.0")


@pytest.mark.long  # every trial of what would help
def test_the_readme_quotes_the_page_of_the_demo_line() -> None:
    evaluation = evaluate(load_line(ROOT / "examples" / "demo" / "line.yaml"))
    assert evaluation.plan is not None
    assert evaluation.run is not None
    gains = find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run)
    rows = rate_page(evaluation, gains).splitlines()
    assert len(shown()) > 20
    assert [quoted for quoted in shown() if not any(stands_in(quoted, row) for row in rows)] == []


def test_the_readme_quotes_the_rate_of_the_demo_line() -> None:
    """The same without the trials, which take longest."""
    rows = rate_page(evaluate(load_line(ROOT / "examples" / "demo" / "line.yaml"))).splitlines()
    quoted = [row for row in shown() if not re.search(r"gains|does nothing|\bgain\b", row)]
    assert len(quoted) > 15
    assert [row for row in quoted if not any(stands_in(row, other) for other in rows)] == []
