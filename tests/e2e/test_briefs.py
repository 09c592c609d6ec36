"""The three customer briefs: each is a line file with its brief at the head, runs, and makes its takt."""

from __future__ import annotations

from pathlib import Path

import pytest

import linewright as lw

BRIEFS = Path(__file__).parents[2] / "examples" / "briefs"
NAMES = ("medical-cell", "to-and-fro-cell", "two-lane-three-operators")


def test_these_are_all() -> None:
    assert tuple(sorted(path.stem for path in BRIEFS.glob("*.yaml"))) == NAMES


@pytest.mark.parametrize("name", [pytest.param(NAMES[0], marks=pytest.mark.long), *NAMES[1:]])
def test_the_line_of_a_brief_makes_its_takt(name: str) -> None:
    path = BRIEFS / f"{name}.yaml"
    assert "invented" in path.read_text(encoding="utf-8").lower()
    evaluation = lw.evaluate(lw.load(path), hours=2.0, runs=2)
    assert not [finding for finding in evaluation.findings if finding.verdict == "fails"]
    assert evaluation.run is not None
    assert evaluation.run.rate is not None
    assert evaluation.takt is not None
    assert evaluation.run.rate.mean > evaluation.takt.required_rate_per_h
