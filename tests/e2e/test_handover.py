"""`linewright handover`: what it writes, that it is the same each time, what it leaves out for a customer, what it
refuses."""

from __future__ import annotations

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from e2e.commands import Call
from linewright.handover.papers import aside
from linewright.handover.papers.catalogue import PAPERS
from linewright.line.load import load_line

ROOT = Path(__file__).parents[2]
FIVE = ROOT / "examples" / "charts" / "five.yaml"
DEMO = ROOT / "examples" / "demo" / "line.yaml"
QUICK = ("--hours", "0.5", "--runs", "3")
# Those that need no trials and no proof.
SOON = "drawing,tables,acceptance,upkeep,hazards"


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def digest(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def written_anew(folder: Path, *words: str, hash_seed: str) -> dict[str, str]:
    """The files of a run in a process of its own, under another hash seed, home and place."""
    home = folder.parent / "home"
    home.mkdir(exist_ok=True)
    compiled = os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))
    told = os.environ | {"PYTHONHASHSEED": hash_seed, "HOME": str(home), "XDG_CACHE_HOME": compiled}
    done = subprocess.run(
        [sys.executable, "-m", "linewright", "handover", *words, "--out", str(folder)],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder.parent,
        env=told,
        timeout=300,
    )
    assert (done.returncode, done.stderr) == (0, "")
    return digest(folder)


def test_it_writes_every_paper_and_lists_it(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "papers"
    done = call("handover", FIVE, "--out", out, *QUICK, "--against", ROOT / "examples" / "charts" / "fourteen.yaml")
    assert (done.code, done.err) == (0, "")
    for paper in PAPERS:
        assert re.search(rf"^  {paper} +(?!not written)", done.out, re.MULTILINE), paper
    record = json.loads((out / "contents.json").read_text("utf-8"))
    listed = record["sha256"]
    assert listed == {name: value for name, value in digest(out).items() if name != "contents.json"}
    assert (record["line"], record["hours"], record["runs"], record["seed"]) == (
        "Garden-hose coupling, five stations",
        0.5,
        3,
        1,
    )
    assert record["for_customer"] is False
    assert len(record["input_hash"]) == len(record["input_hash_before"]) == 64
    for paper in ("dossier", "changes", "acceptance", "recovery", "upkeep", "hazards"):
        assert (out / f"{paper}.pdf").read_bytes().startswith(b"%PDF-")
        assert (out / f"{paper}.html").read_text("utf-8").startswith("<!doctype html>")
    assert (out / "tables.xlsx").read_bytes().startswith(b"PK")
    assert (out / "drawing.dxf").read_text("utf-8").lstrip().startswith("0\nSECTION")


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    words = (str(FIVE), *QUICK, "--only", SOON)
    one = written_anew(tmp_path / "one", *words, hash_seed="1")
    assert len(one) > 12
    assert one == written_anew(tmp_path / "two", *words, hash_seed="2")


@pytest.mark.long
def test_the_same_input_gives_the_same_bytes_of_all_papers(tmp_path: Path) -> None:
    words = (str(DEMO), "--against", str(FIVE))
    one = written_anew(tmp_path / "one", *words, hash_seed="1")
    two = written_anew(tmp_path / "two", *words, "--workers", "1", hash_seed="2")
    assert one == two


def test_only_what_is_asked_for_and_what_is_gone_is_told(call: Call, tmp_path: Path) -> None:
    out = tmp_path / "papers"
    assert call("handover", FIVE, "--out", out, *QUICK, "--only", "drawing,hazards").code == 0
    first = names(out)
    assert first == ["contents.json", "drawing.dxf", "drawing.svg", "hazards.csv", "hazards.html", "hazards.pdf"]
    done = call("handover", FIVE, "--out", out, *QUICK, "--only", "drawing")
    assert names(out) == ["contents.json", "drawing.dxf", "drawing.svg"]
    assert "gone from it: hazards.csv, hazards.html, hazards.pdf" in done.out


@pytest.mark.parametrize(
    "words, told",
    [
        (("--only", "letter"), "--only: letter stands here; write one or more of dossier, changes, drawing"),
        (("--only", "changes"), "--against: name the line as it was"),
        (("--only", "drawing", "--against", str(DEMO)), "--against: name the line as it was"),
        (("--for", "nobody"), "nobody"),
        (("--against", "nowhere.yaml"), "nowhere.yaml"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_nothing_is_written(
    words: tuple[str, ...], told: str, call: Call, tmp_path: Path
) -> None:
    out = tmp_path / "papers"
    done = call("handover", FIVE, "--out", out, *QUICK, *words)
    assert done.code == 2
    assert told in done.err
    assert not out.exists()


def test_a_folder_of_someone_else_is_left_alone(call: Call, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    done = call("handover", FIVE, "--out", tmp_path, *QUICK, "--only", "hazards")
    assert done.code == 2
    assert names(tmp_path) == ["mine.txt"]


def test_a_failure_on_the_way_leaves_the_former_folder(
    call: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "papers"
    assert call("handover", FIVE, "--out", out, *QUICK, "--only", "hazards").code == 0
    before = digest(out)

    def broken(*_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("linewright.handover.papers.rows.pdf_of", broken)
    done = call("handover", FIVE, "--out", out, *QUICK, "--only", "hazards")
    assert done.code == 2
    assert "No space left on device" in done.err
    assert digest(out) == before
    assert names(tmp_path) == ["papers"]


def test_who_interrupts_it_finds_nothing_written_and_nothing_running(tmp_path: Path) -> None:
    out = tmp_path / "papers"
    begin = "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    begin += "from linewright.cli import main; sys.exit(main())"
    running = subprocess.Popen(
        [sys.executable, "-c", begin, "handover", str(DEMO), "--out", str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(2.0)
    os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to all processes of the command
    told = running.communicate(timeout=60)
    assert (running.returncode, *told) == (130, "", "interrupted\n")
    assert list(tmp_path.iterdir()) == []
    assert any(_is_gone(running.pid) for _ in range(100))


def _is_gone(group: int) -> bool:
    """Whether no process of a group is there any more; waits a moment."""
    time.sleep(0.1)
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return True
    return False


def test_a_proof_whose_process_is_gone_is_made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    line = load_line(FIVE)
    monkeypatch.setattr(aside, "proof_or_why", lambda line, seed: f"made here, seed {seed}")
    proving = aside.ProofAside(line, 3)
    proving._ours.close()
    assert proving.result() == proving.result() == "made here, seed 3"
