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


def follow(path: Path, advice: tuple[str, str, str], hours: float, runs: int) -> Path:
    """The file with the advice followed; the rate rises by what the gain's interval promises."""
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
    assert promised.effect == "gains"
    assert promised.confirmed
    gained_per_h = after.run.rate.mean - before.run.rate.mean
    # Each rate judges its own warm-up, so the two may leave out a little more or less.
    slack_per_h = 0.002 * before.run.rate.mean
    assert promised.per_h.low - slack_per_h <= gained_per_h <= promised.per_h.high + slack_per_h
    return changed


def test_the_first_advice_for_the_demo_line_brings_what_it_promises(tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    path.write_text(DEMO.read_text("utf-8"), "utf-8")
    follow(path, CLOSER, HOURS, RUNS)


@pytest.mark.long
def test_two_pieces_of_advice_for_the_demo_line_bring_what_they_promise(tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    path.write_text(DEMO.read_text("utf-8"), "utf-8")
    follow(follow(path, CLOSER, 8.0, 20), REPAIRS, 8.0, 20)
