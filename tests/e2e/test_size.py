"""``linewright size`` as a user meets it: the page, JSON, files and exit codes."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from e2e.commands import Call
from unit.handover.stand_in_run import written_line

SHORT = ("--hours", "0.75", "--runs", "2")


@pytest.fixture
def line_file(tmp_path: Path) -> Path:
    return written_line(tmp_path)


def test_size_says_how_many_to_buy(call: Call, line_file: Path) -> None:
    done = call("size", line_file, "--from", "6", "--to", "10", *SHORT, "--stops")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Valve body, two decks\n")
    assert "CARRIERS" in done.out.splitlines()[2]
    assert "RATE OVER CARRIERS" in done.out
    assert "dock of west-lift" in done.out


def test_the_same_seed_gives_the_same_bytes_and_the_folder_holds_them(
    call: Call, line_file: Path, tmp_path: Path
) -> None:
    words = (line_file, "--from", "6", "--to", "7", *SHORT, "--json")
    one = call("size", *words, "--workers", "1", "--out", tmp_path / "out")
    other = call("size", *words, "--workers", "3")
    assert one.code == other.code == 0
    assert one.out == other.out
    data = json.loads(one.out)
    assert [row["carriers"] for row in data["counts"]] == [6, 7]
    assert data["smallest_meeting_takt"] == 6
    assert data["waiting_stops"] is None
    assert (tmp_path / "out" / "answer.json").read_text("utf-8") == one.out
    assert {"page.txt", "counts.csv"} <= {path.name for path in (tmp_path / "out").iterdir()}


def test_it_exits_with_1_only_where_every_count_surely_fails(call: Call, line_file: Path) -> None:
    failing = call("size", line_file, "--from", "1", "--to", "2", *SHORT)
    assert failing.code == 1
    assert "NO NUMBER OF CARRIERS FROM 1 TO 2 MEETS THE TAKT." in failing.out
    unknown = call("size", line_file, "--from", "1", "--to", "2", "--hours", "0.1", "--runs", "1")
    assert unknown.code == 0
    assert "NOT CHECKED: how many carriers are enough is not known; at least 2 runs are needed" in unknown.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "9", "--to", "3"), "from 9 to 3 carriers is no range: write two counts, the smaller first"),
        (("--to", "25"), "25 carriers do not fit: at most 24 do"),
    ],
)
def test_a_wrong_range_is_answered_in_words(call: Call, line_file: Path, words: tuple[str, ...], said: str) -> None:
    done = call("size", line_file, *words)
    assert (done.code, done.out) == (2, "")
    assert said in done.err
    assert "Traceback" not in done.err
    as_json = call("size", line_file, *words, "--json")
    assert as_json.code == 2
    assert said in json.loads(as_json.out)["errors"][0]["found"]


@pytest.mark.parametrize(
    "words", [("--from", "0"), ("--hours", "0"), ("--runs", "0"), ("--to", "two"), ("--step", "2")]
)
def test_a_wrong_option_is_refused(call: Call, line_file: Path, words: tuple[str, ...]) -> None:
    assert call("size", line_file, *words).code == 2


def test_a_faulty_file_is_answered_with_its_faults(call: Call, line_file: Path) -> None:
    line_file.write_text(line_file.read_text("utf-8").replace("carriers: 14", "carriers: none"), "utf-8")
    done = call("size", line_file)
    assert (done.code, done.out) == (2, "")
    assert f"{line_file}:" in done.err


def test_a_track_without_traffic_is_answered_in_words(call: Call, line_file: Path) -> None:
    text = line_file.read_text("utf-8")
    line_file.write_text(text.replace("at: 2900 mm", "at: 2700 mm"), "utf-8")
    done = call("size", line_file)
    assert done.code == 2
    assert "no traffic can be planned on this track: station-centres" in done.err


def test_a_terminal_sees_a_bar(call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    done = call("size", line_file, "--from", "6", "--to", "6", *SHORT)
    assert done.code == 0
    assert "Simulating 2 runs of 0.75 h for each count" in done.err
