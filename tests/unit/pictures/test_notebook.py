"""A notebook shows an Evaluation by itself: asked of that part of IPython which asks objects how to show them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pytest
from IPython.core.formatters import DisplayFormatter

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.line.load import load_line
from unit.pictures.drawn import labelled

LINE = "examples/charts/five.yaml"


@pytest.fixture(scope="module")
def shown() -> tuple[Evaluation, dict[str, Any]]:
    evaluation = evaluate(load_line(LINE), hours=0.6, runs=2)
    data, _ = DisplayFormatter().format(evaluation)
    return evaluation, data


def test_a_notebook_shows_the_track_chart(shown: tuple[Evaluation, dict[str, Any]]) -> None:
    evaluation, data = shown
    assert set(data) == {"text/plain", "image/svg+xml"}
    svg = data["image/svg+xml"]
    ElementTree.fromstring(svg)
    for station in evaluation.line.stations:
        assert len(labelled(svg, f"station {station.name} at .*")) == 1


def test_beside_it_stands_a_line_of_words(shown: tuple[Evaluation, dict[str, Any]]) -> None:
    evaluation, data = shown
    assert data["text/plain"].startswith("<Evaluation of 'Garden-hose coupling, five stations'. Findings: ")
    assert len(data["text/plain"]) < 160
    fails = sum(finding.verdict == "fails" for finding in evaluation.findings)
    assert f"{fails}\u00a0fail," in data["text/plain"]


def test_without_a_run_too() -> None:
    data, _ = DisplayFormatter().format(evaluate_without_run(load_line(LINE)))
    assert "No run was simulated" in data["image/svg+xml"]


def test_what_is_no_picture_is_not_shown_as_one() -> None:
    data, _ = DisplayFormatter().format(SimpleNamespace(line=1))
    assert "image/svg+xml" not in data
