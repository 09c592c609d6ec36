"""Advice followed: a change that the page proposes, written into the line file, brings what was promised."""

from __future__ import annotations

from pathlib import Path

import pytest

from linewright.evaluation import Evaluation, evaluate
from linewright.line.load import load_line
from linewright.planning.gains import Gain, find_gains

DEMO = Path(__file__).parents[2] / "examples" / "demo" / "line.yaml"
HOURS, RUNS, SEED = 2.0, 8, 1

# The words of the advice -> what stands in the file, and what is to stand there.
CLOSER = (
    "test-2 138 mm after test-1: no waiting stop between",
    "test-2: {lane: upper, at: 2560 mm",
    "test-2: {lane: upper, at: 2468 mm",
)
REPAIRS = (
    "repairs at screw halved",
    "[{every: 40 min, repair: 35 s}, {every: 2 h, repair: 4 min}]",
    "[{every: 40 min, repair: 17.5 s}, {every: 2 h, repair: 2 min}]",
)


def rated(path: Path, hours: float, runs: int) -> Evaluation:
    return evaluate(load_line(str(path)), hours=hours, runs=runs, seed=SEED)


def gain_of(evaluation: Evaluation, words: str) -> Gain:
    assert evaluation.plan is not None
    assert evaluation.run is not None
    gains = find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run)
    assert gains is not None
    (found,) = [gain for gain in gains.gains if gain.change.words == words]
    return found


def follow(path: Path, advice: tuple[str, str, str], hours: float, runs: int) -> tuple[Gain, float, Path]:
    """What the advice promises, by how much the rate rises when it is followed in the file, and that file. [1/h]"""
    words, old, new = advice
    before = rated(path, hours, runs)
    promised = gain_of(before, words)
    text = path.read_text("utf-8")
    assert text.count(old) == 1
    changed = path.with_name(f"{path.stem}-next.yaml")
    changed.write_text(text.replace(old, new), "utf-8")
    after = rated(changed, hours, runs)
    assert before.run is not None
    assert after.run is not None
    assert before.run.rate is not None
    assert after.run.rate is not None
    return promised, after.run.rate.mean - before.run.rate.mean, changed


def keeps_its_promise(promised: Gain, gained_per_h: float) -> bool:
    """The rise lies in the interval, widened by what the two rates' own warm-ups may leave out more or less."""
    slack_per_h = 1.5
    low, high = promised.per_h.low - slack_per_h, promised.per_h.high + slack_per_h
    return promised.effect == "gains" and promised.confirmed and low <= gained_per_h <= high


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    path = tmp_path / "line.yaml"
    path.write_text(DEMO.read_text("utf-8"), "utf-8")
    return path


def test_the_first_advice_for_the_demo_line_brings_what_it_promises(demo: Path) -> None:
    promised, gained_per_h, _ = follow(demo, CLOSER, HOURS, RUNS)
    assert keeps_its_promise(promised, gained_per_h)


@pytest.mark.long
def test_two_pieces_of_advice_for_the_demo_line_bring_what_they_promise(demo: Path) -> None:
    first, gained_per_h, changed = follow(demo, CLOSER, 8.0, 20)
    assert keeps_its_promise(first, gained_per_h)
    second, gained_per_h, _ = follow(changed, REPAIRS, 8.0, 20)
    assert keeps_its_promise(second, gained_per_h)
