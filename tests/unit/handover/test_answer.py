"""The answer as data, and the folder of files."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

import linewright.handover.pages.answer
from linewright.evaluation import evaluate_without_run
from linewright.flow.line_bounds import RateBounds, rate_bounds
from linewright.flow.statistics import Interval
from linewright.handover.files import json_text
from linewright.handover.pages.answer import answer, check_answer
from linewright.handover.pages.rate_folder import rate_files
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.model import Line
from linewright.planning.changes import Change
from linewright.planning.gains import Gain, Gains
from linewright.tables import Column, Table
from linewright.traffic.compile import compile_plan
from linewright.version import __version__
from unit.handover.stand_in_run import CAUSES, CYCLE_S, demo_line, stand_in_run, with_run

KEYS = [
    "format_version", "program_version", "line", "file", "input_hash", "seed", "hours", "runs", "warm_up_s", "takt_s",
    "required_rate_per_h", "line_cycle_s", "rate_per_h", "short_halts", "rate_reason", "verdict", "limiting",
    "causes_cycle_s", "causes", "gains_tried", "gains", "gains_not_tried", "bounds", "stations", "steps",
    "runs_rate_per_h", "subjects", "findings", "assumptions", "caution",
]  # fmt: skip
FINDING_KEYS = ["code", "subject", "verdict", "where", "place", "value", "limit", "unit", "margin", "source", "remedy"]


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def test_answer_has_these_keys_in_this_order(line: Line) -> None:
    assert list(answer(with_run(line))) == KEYS
    assert list(answer(evaluate_without_run(line))) == KEYS


def test_answer_is_what_was_found(line: Line) -> None:
    run = stand_in_run(line)
    data = json.loads(json_text(answer(with_run(line, run))))
    assert data["program_version"] == __version__
    assert data["input_hash"] == line.input_hash
    assert (data["seed"], data["hours"], data["runs"], data["warm_up_s"]) == (1, 8.0, 4, 600.0)
    assert line.demand is not None
    assert data["takt_s"] == find_takt(line.demand).takt_s
    assert run.rate is not None
    assert data["rate_per_h"] == {
        "mean": run.rate.mean, "low": run.rate.low, "high": run.rate.high, "confidence": 0.95
    }  # fmt: skip
    assert data["verdict"] == "holds"
    assert data["limiting"] == {
        "step": "press",
        "time_s": 4.5,
        "next_step": "unload",
        "by_s": 0.5,
        "slower_transfers": [],
    }
    assert [row["station"] for row in data["stations"]] == [station.name for station in line.stations]
    assert data["stations"][0]["work_share"] == 0.4
    assert data["stations"][0]["oee_index"] is None  # not a number has no place in JSON
    assert list(data["findings"][0]) == FINDING_KEYS
    assert data["runs_rate_per_h"] == [798.0, 800.0, 801.0, 801.0]


def test_answer_without_interval_says_why(line: Line) -> None:
    data = answer(with_run(line, rate=None, reason="there is one run"))
    assert data["rate_per_h"] is None
    assert data["rate_reason"] == "there is one run"
    assert data["verdict"] == "not checked"


def test_findings_come_worst_first(line: Line) -> None:
    verdicts = [finding["verdict"] for finding in check_answer(evaluate_without_run(line))["findings"]]
    order = ["fails", "not checked", "tight", "holds"]
    assert verdicts == sorted(verdicts, key=order.index)
    assert len(set(verdicts)) > 1


def test_subjects_stand_worst_first_with_their_counts(line: Line) -> None:
    bare = evaluate_without_run(line)
    bad = replace(bare.findings[0], subject="invented", verdict="fails", margin=-0.5)
    data = check_answer(replace(bare, findings=(*bare.findings, bad)))
    assert data["subjects"][0] == {
        "subject": "invented", "verdict": "fails", "fails": 1, "not_checked": 0, "tight": 0, "holds": 0
    }  # fmt: skip
    counted = sum(row[verdict] for row in data["subjects"] for verdict in ("fails", "not_checked", "tight", "holds"))
    assert counted == len(data["findings"]) == len(bare.findings) + 1
    assert {row["subject"] for row in data["subjects"]} == {finding["subject"] for finding in data["findings"]}


def test_check_answer_has_the_hazards_that_were_found(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    table = Table((Column("heading", None, np.array(["mechanical"])), Column("hazard", None, np.array(["crushing"]))))
    monkeypatch.setattr(linewright.handover.pages.answer, "hazards_of", lambda evaluation: table)
    data = json.loads(json_text(check_answer(evaluate_without_run(line))))
    assert data["hazards"] == [{"heading": "mechanical", "hazard": "crushing"}]
    monkeypatch.setattr(linewright.handover.pages.answer, "hazards_of", lambda evaluation: None)
    assert check_answer(evaluate_without_run(line))["hazards"] == []


def test_same_input_same_bytes(line: Line) -> None:
    assert json_text(answer(with_run(line))) == json_text(answer(with_run(line)))


def test_folder_holds_the_answer_the_tables_and_the_picture(line: Line) -> None:
    files = rate_files(with_run(line))
    assert sorted(files) == [
        "answer.json", "causes-by-place.csv", "causes.csv", "findings.csv", "moves.csv", "page.txt", "stations.csv",
        "steps.csv", "track-chart.html", "track-chart.svg", "works.csv",
    ]  # fmt: skip
    assert sorted(rate_files(evaluate_without_run(line))) == ["answer.json", "findings.csv", "page.txt"]
    assert json.loads(files["answer.json"]())["format_version"] == 1
    assert files["page.txt"]().decode("utf-8").startswith(line.name)


def test_tables_read_back(line: Line) -> None:
    evaluation = with_run(line)
    files = rate_files(evaluation)
    stations = list(csv.DictReader(io.StringIO(files["stations.csv"]().decode("utf-8"), newline="")))
    assert [row["station"] for row in stations] == [station.name for station in line.stations]
    assert float(stations[1]["work_share"]) == 0.4
    assert stations[0]["oee_index"] == ""
    findings = list(csv.DictReader(io.StringIO(files["findings.csv"]().decode("utf-8"), newline="")))
    assert len(findings) == len(evaluation.findings)
    rate = next(row for row in findings if row["code"] == "rate")
    place = line.place("demand")
    assert place is not None
    assert (rate["file"], rate["line"], rate["column"]) == (place.file, str(place.line), str(place.column))


def some_gains(line: Line) -> Gains:
    faster = Gain(Change("less work", "press", line, same_track=True), Interval(5.0, 4.0, 6.0, 0.95), True, "gains")
    fewer = Gain(Change("one fewer", None, line, same_track=False), Interval(-2.0, -3.0, -1.0, 0.95), False, "loses")
    return Gains((faster, fewer), (("more", "no room"),), Interval(800.0, 799.0, 801.0, 0.95), 8, 2.0, 20, 8.0)


def test_answer_has_the_causes_and_what_would_help(line: Line) -> None:
    evaluation = replace(with_run(line), bounds=rate_bounds(compile_plan(line, lay_out(line))))
    data = json.loads(json_text(answer(evaluation, some_gains(line))))
    assert data["causes_cycle_s"] == CYCLE_S
    assert [list(row) for row in data["causes"]] == [["kind", "place", "time_s", "share"]] * len(CAUSES)
    assert [(row["kind"], row["place"], row["share"]) for row in data["causes"]] == list(CAUSES)
    assert sum(row["time_s"] for row in data["causes"]) == pytest.approx(CYCLE_S)
    assert data["gains"] == [
        {
            "change": "less work", "place": "press", "gain_per_h": 5.0, "low": 4.0, "high": 6.0, "confirmed": True,
            "effect": "gains",
        },
        {
            "change": "one fewer", "place": "whole line", "gain_per_h": -2.0, "low": -3.0, "high": -1.0,
            "confirmed": False, "effect": "loses",
        },
    ]  # fmt: skip
    assert data["gains_not_tried"] == [{"change": "more", "reason": "no room"}]
    assert list(data["bounds"]) == [field.name for field in fields(RateBounds)]
    assert data["bounds"]["worst_per_h"] < data["rate_per_h"]["mean"] < data["bounds"]["upper_per_h"]
    assert len(data["assumptions"]) == len(answer(evaluation)["assumptions"]) + 1


def test_answer_without_run_or_trials_has_empty_rows(line: Line) -> None:
    for data in (answer(evaluate_without_run(line)), answer(with_run(line))):
        assert (data["gains"], data["gains_not_tried"], data["bounds"]) == ([], [], None)
    bare = json.loads(json_text(answer(evaluate_without_run(line))))
    assert (bare["causes"], bare["causes_cycle_s"], bare["stations"], bare["rate_per_h"]) == ([], None, [], None)


def test_causes_and_gains_read_back(line: Line) -> None:
    def rows(name: str) -> list[dict[str, str]]:
        text = rate_files(with_run(line), some_gains(line))[name]().decode("utf-8")
        return list(csv.DictReader(io.StringIO(text, newline="")))

    assert [(row["kind"], row["place"], float(row["share"])) for row in rows("causes.csv")] == list(CAUSES)
    assert sum(float(row["time_s"]) for row in rows("causes.csv")) == pytest.approx(CYCLE_S)
    by_place = {row["place"]: float(row["work_s"]) for row in rows("causes-by-place.csv")}
    assert by_place["press"] == pytest.approx(0.6 * CYCLE_S)
    assert sum(by_place.values()) == by_place["press"]
    gains = rows("gains.csv")
    assert [row["change"] for row in gains] == ["less work", "one fewer"]
    assert [float(row["gain_per_h"]) for row in gains] == [5.0, -2.0]
    assert [row["confirmed"] for row in gains] == ["True", "False"]
    assert "gains.csv" not in rate_files(with_run(line))


def test_every_key_stands_on_the_page_of_results(tmp_path: Path) -> None:
    page = (Path(__file__).parents[3] / "docs" / "results.md").read_text("utf-8")
    evaluation = with_run(demo_line(tmp_path))
    missing = [key for key in answer(evaluation) | check_answer(evaluation) if f"`{key}`" not in page]
    missing += [name for name in rate_files(evaluation) if name.endswith(".csv") and f"`{name}`" not in page]
    assert missing == []
