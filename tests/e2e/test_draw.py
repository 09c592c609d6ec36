"""`linewright draw`: what it writes, what it says, what it refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import linewright
from e2e.commands import Call
from linewright.evaluation import Evaluation, evaluate
from linewright.line.model import Line
from linewright.pictures import PICTURES, ROWS

ROOT = Path(__file__).parents[2]
FIVE = ROOT / "examples" / "charts" / "five.yaml"
QUICK = ("--hours", "0.3", "--runs", "2")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def once(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Evaluations as asked for, but with little to simulate; the list gathers what was asked for."""
    asked: list[dict[str, Any]] = []

    def quick(line: Line, **options: Any) -> Evaluation:
        asked.append(options)
        return evaluate(line, hours=0.3, runs=2, seed=options["seed"])

    monkeypatch.setattr(linewright.evaluation, "evaluate", quick)
    return asked


def test_draw_writes_every_picture_and_says_what_there_is_nothing_to_draw_of(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "pictures"
    done = call("draw", FIVE, "--out", out, *QUICK)
    assert (done.code, done.err) == (0, "")
    drawn = [name for name in PICTURES if name != "jam"]
    assert names(out) == sorted(
        [f"{name}.{kind}" for name in drawn for kind in ("svg", "png")] + ["contents.json", "track-chart.html"]
    )
    for name in drawn:
        ElementTree.fromstring((out / f"{name}.svg").read_text("utf-8"))
        assert (out / f"{name}.png").read_bytes().startswith(b"\x89PNG\r\n")
    assert re.search(r"^  jam +not drawn: the line never locks", done.out, re.MULTILINE)
    assert f"Open {out}/track-chart.html in a browser." in done.out


def test_draw_only_what_is_asked_for(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "pictures"
    done = call("draw", FIVE, "--out", out, *QUICK, "--only", "track-chart", "--rows", "string-line,track")
    assert done.code == 0
    assert names(out) == ["contents.json", "track-chart.html", "track-chart.png", "track-chart.svg"]
    svg = (out / "track-chart.svg").read_text("utf-8")
    assert "String line" in svg
    assert "Coil heat" not in svg


def test_letters_stretch_and_carrier_can_be_chosen(call: Call, tmp_path: Path) -> None:
    words = ("--only", "track-chart", "--rows", "track,string-line")
    usual, other = tmp_path / "usual", tmp_path / "other"
    assert call("draw", FIVE, "--out", usual, *QUICK, *words).code == 0
    chosen = ("--text-size", "200 %", "--start", "5 min", "--span", "90 s", "--carrier", "3")
    assert call("draw", FIVE, "--out", other, *QUICK, *words, *chosen).code == 0
    small, large = ((folder / "track-chart.svg").read_text("utf-8") for folder in (usual, other))
    assert 'font-size="24px"' in large
    assert 'font-size="24px"' not in small
    assert "shows run 1 from 300 s to 390 s." in " ".join(re.sub(r"<[^>]*>", " ", large).split())
    assert ">carrier 3<" in large


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--only", "chart"), "--only: chart stands here; write one or more of track-chart, floor, "),
        (("--only", ""), "--only: nothing stands here"),
        (("--rows", "track,speed"), f"--rows: speed stands here; write one or more of {', '.join(ROWS)}"),
        (("--text-size", "250 %"), "--text-size: 250 % stands here; write a share from 100% to 200%"),
        (("--text-size", "1.5"), "--text-size: 1.5 has no unit"),
        (("--start", "90"), "--start: "),
        (("--span", "0 s"), "--span: 0 s stands here; write a time above 0"),
        (("--only", "floor", "--rows", "time"), "--rows: it is for the track chart alone; add track-chart to --only"),
    ],
)
def test_what_cannot_be_drawn_is_refused_before_the_work(
    call: Call, tmp_path: Path, once: list[dict[str, Any]], words: tuple[str, ...], said: str
) -> None:
    done = call("draw", FIVE, "--out", tmp_path / "out", *words)
    assert done.code == 2
    assert said in done.err
    assert once == []
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--start", "50 h"), "--start: 50 h stands here; a run lasts 0.3 h, see --hours"),
        (("--span", "20 min"), "--span: 20 min stands here; a run lasts 0.3 h, see --hours"),
        (("--start", "17 min", "--span", "5 min"), "--start is 1020 s and --span is 300 s; moves are known from "),
        (("--carrier", "77"), "--carrier: 77 stands here; write one from 0 to 10"),
        (("--start", "-5 s"), "--start: -5 s stands here; write a time of 0 or more"),
    ],
)
def test_what_the_run_does_not_show_is_refused_in_words(
    call: Call, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    done = call("draw", FIVE, "--out", tmp_path / "out", *QUICK, "--only", "track-chart", "--rows", "track", *words)
    assert done.code == 2
    assert said in done.err
    assert "Traceback" not in done.err
    assert not (tmp_path / "out").exists()


def test_a_jam_is_drawn_where_the_line_locks(call: Call, tmp_path: Path) -> None:
    line = ROOT / "examples" / "locks" / "ring.yaml"
    done = call("draw", line, "--out", tmp_path / "out", *QUICK, "--only", "jam")
    assert done.code == 0
    assert names(tmp_path / "out") == ["contents.json", "jam.html", "jam.png", "jam.svg"]


def test_a_former_folder_is_written_anew_and_what_is_gone_is_told(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert call("draw", FIVE, "--out", out, *QUICK, "--only", "floor,move").code == 0
    done = call("draw", FIVE, "--out", out, *QUICK, "--only", "floor")
    assert "gone from it: move.png, move.svg" in done.out
    assert names(out) == ["contents.json", "floor.png", "floor.svg"]
    assert "gone" not in call("draw", FIVE, "--out", out, *QUICK, "--only", "floor,move").out


def test_nothing_at_all_to_draw_writes_nothing(call: Call, tmp_path: Path) -> None:
    done = call("draw", FIVE, "--out", tmp_path / "out", *QUICK, "--only", "jam")
    assert done.code == 0
    assert f"Nothing to draw; {tmp_path / 'out'} is as it was:" in done.out
    assert "jam  not drawn: the line never locks" in done.out
    assert not (tmp_path / "out").exists()


def test_a_blocked_track_is_drawn_without_its_traffic(call: Call, tmp_path: Path) -> None:
    text = FIVE.read_text("utf-8").replace("at: 110 in", "at: 84 in")  # nearer to scrap than a carrier is long
    line = tmp_path / "line.yaml"
    line.write_text(text, "utf-8")
    done = call("draw", line, "--out", tmp_path / "out", *QUICK)
    assert done.code == 0
    assert {"track-chart.svg", "floor.svg"} <= set(names(tmp_path / "out"))
    assert "carriers     not drawn: no traffic can be planned on this track" in done.out


def test_the_same_line_gives_the_same_files(call: Call, tmp_path: Path) -> None:
    words = ("--only", "track-chart,floor,causes", "--seed", "5")
    for folder in ("one", "two"):
        assert call("draw", FIVE, "--out", tmp_path / folder, *QUICK, *words).code == 0
    for name in names(tmp_path / "one"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name
    listed = json.loads((tmp_path / "one" / "contents.json").read_text("utf-8"))
    assert set(names(tmp_path / "one")) - {"contents.json"} <= set(re.findall(r"[\w-]+\.(?:svg|png|html)", str(listed)))


def test_size_writes_its_picture_too(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "size"
    done = call("size", FIVE, "--out", out, "--from", "9", "--to", "11", "--hours", "0.3", "--runs", "2")
    assert done.code in (0, 1)
    assert "carriers.svg" in names(out)
    assert (out / "carriers.png").read_bytes().startswith(b"\x89PNG\r\n")
