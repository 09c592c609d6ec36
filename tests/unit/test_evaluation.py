"""The one path where no run is made: not asked for, or the track allows none."""

from __future__ import annotations

from pathlib import Path

import pytest

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.findings import Finding
from linewright.flow.line_bounds import rate_bounds
from linewright.line.demand import find_takt
from linewright.line.load import load_line
from unit.handover.stand_in_run import demo_line, written_line


def rate(evaluation: Evaluation) -> Finding:
    (found,) = [finding for finding in evaluation.findings if finding.code == "rate"]
    return found


def test_without_a_run_everything_else_is_there(tmp_path: Path) -> None:
    line = demo_line(tmp_path)
    evaluation = evaluate_without_run(line)
    assert evaluation.line is line
    assert (evaluation.plan, evaluation.run, evaluation.bounds) == (None, None, None)
    assert line.demand is not None
    assert evaluation.takt == find_takt(line.demand)
    subjects = {"motion", "strength", "accuracy", "power", "bus", "safety", "upkeep"}
    assert {finding.subject for finding in evaluation.findings} == {"rate", "layout"} | subjects
    assert evaluation.limits is not None
    assert set(evaluation.limits.findings) < set(evaluation.findings)
    assert evaluation.duty is None
    assert rate(evaluation).verdict == "not checked"
    assert "linewright rate" in rate(evaluation).remedy


def test_with_a_run_its_bounds_stand_beside_it_and_are_judged(tmp_path: Path) -> None:
    evaluation = evaluate(demo_line(tmp_path), hours=4.0, runs=2)
    assert evaluation.plan is not None
    assert evaluation.run is not None
    assert evaluation.bounds == rate_bounds(evaluation.plan)
    (judged,) = [finding for finding in evaluation.findings if finding.code == "rate-bounds"]
    assert judged.verdict == "holds"
    causes = evaluation.run.cycle_causes
    assert sum(causes["time_s"]) == pytest.approx(evaluation.run.causes_cycle_s, rel=1e-12)


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("line.yaml", "at: 1600 mm", "at: 900 mm", "station-centres: station load and station press"),
        ("sheet.yaml", "friction: ", "friction: 900 N  # ", "thrust: empty carrier"),
    ],
)
def test_track_without_traffic_is_not_run_and_says_why(
    tmp_path: Path, file: str, old: str, new: str, words: str
) -> None:
    path = written_line(tmp_path)
    text = (tmp_path / file).read_text("utf-8")
    assert old in text
    (tmp_path / file).write_text(text.replace(old, new), "utf-8")
    evaluation = evaluate(load_line(path))
    assert (evaluation.plan, evaluation.run) == (None, None)
    assert rate(evaluation).verdict == "not checked"
    assert words in rate(evaluation).remedy
    assert any(finding.verdict == "fails" for finding in evaluation.findings)
    assert not any(finding.remedy.startswith("linewright check --run") for finding in evaluation.findings)
    if evaluation.limits is not None:
        assert any("mend the track first" in finding.remedy for finding in evaluation.findings)
    assert rate(evaluate_without_run(load_line(path))).remedy == rate(evaluation).remedy
