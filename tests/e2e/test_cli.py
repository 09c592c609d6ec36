"""The command line as a user meets it: pages, JSON, exit codes, files, pipes and poor terminals."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import linewright.evaluation
import linewright.planning.gains
from e2e.commands import Call, Done
from linewright import cli
from linewright.errors import SimulationError
from linewright.evaluation import Evaluation
from linewright.findings import Finding, Verdict
from linewright.flow.statistics import Interval
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.line.patterns import PATTERNS
from linewright.planning.changes import Change
from linewright.planning.gains import Gain, Gains
from linewright.traffic.compile import compile_plan
from linewright.version import __version__
from unit.handover.stand_in_run import stand_in_run, with_run, written_line

FINDING_KEYS = {"code", "subject", "verdict", "where", "place", "value", "limit", "unit", "margin", "source", "remedy"}


@pytest.fixture
def line_file(tmp_path: Path) -> Path:
    return written_line(tmp_path)


@pytest.fixture
def fake_run(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Evaluate with an invented run; the list gathers what was asked for."""
    asked: list[dict[str, Any]] = []

    def evaluate(line: Line, progress: Callable[[int], None] | None = None, **options: Any) -> Evaluation:
        if progress is not None:  # on a terminal
            progress(20)
        asked.append(options)
        return with_run(line, stand_in_run(line))

    monkeypatch.setattr(linewright.evaluation, "evaluate", evaluate)
    monkeypatch.setitem(sys.modules, "linewright.pictures", FakePictures)
    return asked


class FakePictures:
    """In place of the pictures, which have tests of their own."""

    class Picture:
        @staticmethod
        def svg() -> str:
            return "<svg/>"

        @staticmethod
        def html() -> str:
            return "<html/>"

    @staticmethod
    def track_chart(evaluation: Evaluation, gains: Gains | None = None) -> FakePictures.Picture:
        return FakePictures.Picture()


def cold(*words: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own."""
    command = [sys.executable, "-m", "linewright", *map(str, words)]
    options = {"stdout": subprocess.PIPE, **options}
    return subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False, timeout=120, **options)


# ---- start -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pattern", PATTERNS)
def test_start_prints_a_line_file_that_can_be_checked(call: Call, tmp_path: Path, pattern: str) -> None:
    printed = call("start", pattern)
    assert printed.code == 0
    assert printed.err == ""
    path = tmp_path / "line.yaml"
    written = call("start", pattern, "--out", path)
    assert (written.code, written.out) == (0, "")
    assert path.read_text("utf-8") == printed.out
    # A pattern to begin from fails nowhere as it stands; what it does not state is not checked.
    assert "fails" not in {finding["verdict"] for finding in json.loads(call("check", path, "--json").out)["findings"]}


def test_start_never_overwrites(call: Call, tmp_path: Path) -> None:
    (tmp_path / "line.yaml").write_text("mine", "utf-8")
    done = call("start", "two-deck", "--out", tmp_path / "line.yaml")
    assert done.code == 2
    assert "exists already and is not overwritten" in done.err
    assert (tmp_path / "line.yaml").read_text("utf-8") == "mine"


def test_start_with_an_unknown_pattern_names_those_there_are(call: Call) -> None:
    done = call("start", "three-deck")
    assert done.code == 2
    assert done.err == "there is no pattern 'three-deck'; write one of two-deck, two-lane, ring, to-and-fro, branch\n"


# ---- schema ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [("schema",), ("schema", "line"), ("schema", "sheet")])
def test_schema_is_a_json_schema(call: Call, words: tuple[str, ...]) -> None:
    done = call(*words)
    assert done.code == 0
    schema = json.loads(done.out)
    jsonschema.validators.validator_for(schema).check_schema(schema)
    assert ("conveyor_sheet" if "sheet" in words else "linewright") in schema["properties"]


def test_schema_out_writes_what_it_prints(call: Call, tmp_path: Path) -> None:
    assert call("schema", "--out", tmp_path / "s.json").code == 0
    assert (tmp_path / "s.json").read_text("utf-8") == call("schema").out


# ---- check -----------------------------------------------------------------------------------------------------------


def due_code(findings: list[dict[str, Any]]) -> int:
    """With what check has to exit, from the rows as they stand in its JSON."""
    binding = [one for one in findings if one["subject"] in ("strength", "power", "safety")]
    bad = [one for one in findings if one["verdict"] == "fails"]
    return 1 if bad or any(one["verdict"] == "not checked" for one in binding) else 0


def test_check_prints_a_page_and_exits_by_its_findings(call: Call, line_file: Path) -> None:
    done = call("check", line_file)
    assert done.code == due_code(json.loads(call("check", line_file, "--json").out)["findings"])
    assert done.err == ""
    assert done.out.startswith("Valve body, two decks\n")


def test_check_json_has_the_findings_with_their_keys(call: Call, line_file: Path) -> None:
    done = call("check", line_file, "--json")
    findings = json.loads(done.out)["findings"]
    assert done.code == due_code(findings)
    assert len(findings) > 10
    assert all(set(finding) == FINDING_KEYS for finding in findings)
    rate = next(finding for finding in findings if finding["code"] == "rate")
    assert rate["verdict"] == "not checked"
    assert set(rate["place"]) == {"file", "line", "column"}
    assert rate["place"]["file"] == str(line_file)


def test_check_with_a_run_judges_the_rate(call: Call, line_file: Path, fake_run: list[dict[str, Any]]) -> None:
    done = call("check", line_file, "--run", "--json")
    assert fake_run == [{"hours": 8.0, "runs": 20, "seed": 1}]
    verdicts = {finding["code"]: finding["verdict"] for finding in json.loads(done.out)["findings"]}
    assert verdicts["rate"] == "holds"


def test_check_runs_as_long_as_it_is_told(call: Call, line_file: Path, fake_run: list[dict[str, Any]]) -> None:
    call("check", line_file, "--run", "--hours", "27", "--runs", "3", "--seed", "0")
    assert fake_run == [{"hours": 27.0, "runs": 3, "seed": 0}]
    done = call("check", line_file, "--hours", "27")
    assert (done.code, done.err) == (2, "--hours: nothing is simulated without --run; add --run, or leave it out\n")
    assert len(fake_run) == 1


def test_check_of_a_line_that_fails_exits_with_1(call: Call, line_file: Path) -> None:
    text = line_file.read_text("utf-8")
    assert "at: 1600 mm" in text
    line_file.write_text(text.replace("at: 1600 mm", "at: 900 mm"), "utf-8")  # 100 mm from the station before
    done = call("check", line_file)
    assert done.code == 1
    assert "NO: " in done.out
    assert "station-centres" in done.out


@pytest.mark.parametrize(
    ("subject", "verdict", "code"),
    [
        ("layout", "holds", 0),
        ("layout", "tight", 0),
        ("layout", "not checked", 0),
        ("rate", "not checked", 0),
        ("layout", "fails", 1),
        ("strength", "not checked", 1),
        ("power", "not checked", 1),
        ("safety", "not checked", 1),
        ("safety", "tight", 0),
    ],
)
def test_exit_code_of_a_finding(subject: str, verdict: Verdict, code: int) -> None:
    finding = Finding("x", subject, verdict, "w", None, None, None, None, None, "s", "")
    assert cli.exit_code((finding,)) == code
    assert cli.exit_code((finding,), unchecked_binds=False) == (1 if verdict == "fails" else 0)


@pytest.mark.parametrize("verdict", ["holds", "not checked", "fails"])
@pytest.mark.parametrize("subject", ["safety", "accuracy"])
def test_unchecked_safety_binds_check_but_not_rate(
    call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch, subject: str, verdict: Verdict
) -> None:
    """Rate answers whether the line makes its takt; it tells of what is not checked on its page."""
    row = Finding("x", subject, verdict, "magnets", None, None, None, None, None, "s", "state it")

    def evaluate(line: Line, progress: Callable[[int], None] | None = None, **options: Any) -> Evaluation:
        made = with_run(line)
        held = tuple(finding for finding in made.findings if finding.verdict == "holds")
        return replace(made, findings=(*held, row))

    monkeypatch.setattr(linewright.evaluation, "evaluate", evaluate)
    checked, rated = call("check", line_file, "--run"), call("rate", line_file, "--no-gains")
    fails, binds = verdict == "fails", verdict == "not checked" and subject == "safety"
    assert (checked.code, rated.code) == (int(fails or binds), int(fails))
    assert ("COULD NOT BE MADE" in checked.out) == binds
    assert ("Of strength, power and safety that is 1 row" in " ".join(rated.out.split())) == binds


# ---- wrong input -----------------------------------------------------------------------------------------------------


@pytest.fixture
def faulty(line_file: Path) -> Path:
    text = line_file.read_text("utf-8")
    line_file.write_text(text.replace("at: 800 mm", "at: 800").replace("carriers: 14", "cariers: 14"), "utf-8")
    return line_file


@pytest.mark.parametrize("command", ["check", "rate"])
def test_faulty_file_is_told_fault_by_fault(call: Call, faulty: Path, command: str) -> None:
    done = call(command, faulty)
    assert (done.code, done.out) == (2, "")
    rows = done.err.splitlines()
    assert len(rows) >= 2
    assert all(row.startswith(f"{faulty}:") for row in rows)
    assert any("800" in row for row in rows)
    assert any("cariers" in row for row in rows)


@pytest.mark.parametrize("command", ["check", "rate"])
def test_faulty_file_with_json_is_told_as_json(call: Call, faulty: Path, command: str) -> None:
    done = call(command, faulty, "--json")
    assert (done.code, done.err) == (2, "")
    errors = json.loads(done.out)["errors"]
    assert len(errors) >= 2
    assert all(set(error) == {"file", "line", "column", "found", "allowed"} for error in errors)
    assert all(error["file"] == str(faulty) and error["line"] >= 1 for error in errors)


def test_absent_file(call: Call, tmp_path: Path) -> None:
    done = call("check", tmp_path / "none.yaml")
    assert done.code == 2
    assert "no such file" in done.err
    assert json.loads(call("check", tmp_path / "none.yaml", "--json").out)["errors"][0]["line"] == 1


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("fly",),
        ("check",),
        ("check", "LINE", "--wrong"),
        ("rate", "LINE", "--hours", "0"),
        ("rate", "LINE", "--hours", "nan"),
        ("rate", "LINE", "--hours", "inf"),
        ("rate", "LINE", "--hours", "-3"),
        ("rate", "LINE", "--hours", "1e300"),
        ("rate", "LINE", "--hours", "long"),
        ("rate", "LINE", "--runs", "0"),
        ("rate", "LINE", "--runs", "2.5"),
        ("rate", "LINE", "--seed", "-1"),
        ("rate", "LINE", "--seed", str(2**64)),
        ("rate", "LINE", "--workers", "0"),
        ("rate", "LINE", "--runs", "1000000000"),
        ("schema", "both"),
        ("start",),
    ],
)
def test_wrong_words_exit_with_2(call: Call, line_file: Path, words: tuple[str, ...]) -> None:
    done = call(*(line_file if word == "LINE" else word for word in words))
    assert done.code == 2
    assert done.out == "" or not words  # without any word the help is printed
    assert "Traceback" not in done.err
    assert "Input should" not in done.err  # a library's words


def test_closed_streams_are_told_where_that_can_be(
    call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python has no stream where the descriptor was closed before it began."""
    monkeypatch.setattr(sys, "stdout", None)
    for words in (("check", line_file), ("check", line_file, "--json"), ("start", "ring")):
        done = call(*words)
        assert (done.code, done.err) == (2, "cannot write the output: standard output is closed\n")
    monkeypatch.setattr(sys, "stderr", None)
    assert call("check", line_file).code == 2
    assert call("check", line_file.with_name("absent.yaml")).code == 2


def test_numbers_of_the_command_are_told_in_the_programs_words(call: Call, line_file: Path) -> None:
    assert "x is no whole number; write one from 1 to 100000" in call("prove", line_file, "--stops", "x").err
    assert "0 is out of range; write one from 1 to 100000" in call("prove", line_file, "--stops", "0").err
    assert "long is no number; write hours, such as 8" in call("rate", line_file, "--hours", "long").err


def test_run_that_cannot_be_made_is_told(call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(line: Line, **options: Any) -> Evaluation:
        raise SimulationError("a run of 1e9 h is too long")

    monkeypatch.setattr(linewright.evaluation, "evaluate", refuse)
    done = call("rate", line_file)
    assert (done.code, done.err) == (2, "a run of 1e9 h is too long\n")
    error = json.loads(call("rate", line_file, "--json").out)["errors"][0]
    assert error == {"file": None, "line": None, "column": None, "found": "a run of 1e9 h is too long", "allowed": None}


# ---- rate ------------------------------------------------------------------------------------------------------------


def test_rate_hands_its_options_on(call: Call, line_file: Path, fake_run: list[dict[str, Any]]) -> None:
    assert call("rate", line_file).code == 0
    assert call("rate", line_file, "--hours", "2.5", "--runs", "7", "--seed", "42", "--workers", "2").code == 0
    assert fake_run == [
        {"hours": 8.0, "runs": 20, "seed": 1, "workers": None},
        {"hours": 2.5, "runs": 7, "seed": 42, "workers": 2},
    ]


@pytest.mark.usefixtures("fake_run")
def test_rate_page_and_json(call: Call, line_file: Path) -> None:
    page = call("rate", line_file)
    assert "YES: THE LINE MAKES ITS TAKT." in page.out
    assert page.err == ""
    data = json.loads(call("rate", line_file, "--json").out)
    assert data["verdict"] == "holds"
    assert set(data["rate_per_h"]) == {"mean", "low", "high", "confidence"}


@pytest.mark.usefixtures("fake_run")
def test_rate_out_writes_a_whole_folder_and_again(call: Call, line_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "results" / "today"
    for _ in range(2):
        done = call("rate", line_file, "--out", out)
        assert done.code == 0
        assert (out / "page.txt").read_text("utf-8") == done.out
        assert sorted(path.name for path in out.iterdir()) == [
            "answer.json", "causes-by-place.csv", "causes.csv", "contents.json", "findings.csv", "moves.csv",
            "page.txt", "stations.csv", "steps.csv", "track-chart.html", "track-chart.svg", "works.csv",
        ]  # fmt: skip
    assert [path.name for path in out.parent.iterdir()] == ["today"]


@pytest.mark.parametrize(
    ("words", "asked"), [((), [None]), (("--gains", "--workers", "2"), [2]), (("--no-gains",), [])]
)
def test_rate_tries_what_would_help_unless_told_not_to(
    call: Call,
    line_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    asked: list[int | None],
) -> None:
    tried: list[int | None] = []

    def evaluate(line: Line, **options: Any) -> Evaluation:
        return replace(with_run(line), plan=compile_plan(line, lay_out(line)))

    def find_gains(line: Line, layout: Layout, plan: Any, run: Any, workers: int | None) -> Gains:
        tried.append(workers)
        gain = Gain(Change("less work", "press", line, same_track=True), Interval(5.0, 4.0, 6.0, 0.95), True, "gains")
        return Gains((gain,), (), Interval(800.0, 799.0, 801.0, 0.95), 8, 2.0, 20, 8.0)

    monkeypatch.setattr(linewright.evaluation, "evaluate", evaluate)
    monkeypatch.setattr(linewright.planning.gains, "find_gains", find_gains)
    monkeypatch.setitem(sys.modules, "linewright.pictures", FakePictures)
    done = call("rate", line_file, "--json", "--out", tmp_path / "out", *words)
    assert (done.code, done.err) == (0, "")
    assert tried == asked
    assert [row["change"] for row in json.loads(done.out)["gains"]] == ["less work"] * len(asked)
    assert (tmp_path / "out" / "gains.csv").exists() == bool(asked)
    assert ("WHAT WOULD HELP" in (tmp_path / "out" / "page.txt").read_text("utf-8")) == bool(asked)


def test_rate_out_is_refused_before_the_work(
    call: Call, line_file: Path, tmp_path: Path, fake_run: list[dict[str, Any]]
) -> None:
    done = call("rate", line_file, "--out", tmp_path)  # it holds the line file
    assert done.code == 2
    assert "did not write" in done.err
    assert fake_run == []
    assert call("rate", line_file, "--out", line_file / "x").code == 2
    assert call("rate", line_file, "--out", "/proc/none/x").code == 2


@pytest.mark.usefixtures("fake_run")
def test_rate_out_broken_off_in_the_middle_leaves_the_former(
    call: Call, line_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    assert call("rate", line_file, "--out", out).code == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def interrupt(evaluation: Evaluation, gains: Gains | None = None) -> FakePictures.Picture:
        raise KeyboardInterrupt

    monkeypatch.setattr(FakePictures, "track_chart", staticmethod(interrupt))
    done = call("rate", line_file, "--out", out)
    assert (done.code, done.out, done.err) == (130, "", "interrupted\n")
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["line.yaml", "out", "sheet.yaml"]


# ---- no traceback, whatever happens ----------------------------------------------------------------------------------


@pytest.mark.parametrize("debug", ["0", "1"])
def test_our_own_fault_is_one_line_that_asks_for_a_report(
    call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch, debug: str
) -> None:
    def stumble(line: Line, **options: Any) -> Evaluation:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr(linewright.evaluation, "evaluate", stumble)
    monkeypatch.setenv("LINEWRIGHT_DEBUG", debug)
    done = call("rate", line_file)
    assert (done.code, done.out) == (3, "")
    last = done.err.splitlines()[-1]
    assert "ZeroDivisionError: two lines; please report it" in last
    assert ("Traceback" in done.err) == (debug == "1")
    assert (len(done.err.splitlines()) == 1) == (debug == "0")


def test_interrupt_is_told_in_one_word(call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(line: Line, **options: Any) -> Evaluation:
        raise KeyboardInterrupt

    monkeypatch.setattr(linewright.evaluation, "evaluate", interrupt)
    assert call("rate", line_file) == Done(130, "", "interrupted\n")


@pytest.mark.usefixtures("fake_run")
def test_sign_of_life_on_a_terminal_stays_off_the_page(
    call: Call, line_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quiet = call("rate", line_file)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("FORCE_COLOR", "1")
    told = call("rate", line_file)
    assert told.out == quiet.out
    assert "Simulating 20 runs of 8 h" in told.err


# ---- in a process of its own -----------------------------------------------------------------------------------------


def test_version() -> None:
    done = cold("--version")
    assert (done.returncode, done.stdout, done.stderr) == (0, f"linewright {__version__}\n", "")


def test_faults_in_a_process_of_their_own(faulty: Path) -> None:
    done = cold("check", faulty)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"{faulty}:")


def test_check_does_not_wait_for_heavy_libraries(line_file: Path) -> None:
    code = (
        "import sys\nfrom linewright import cli\nsys.argv = ['linewright', 'check', sys.argv[1]]\n"
        "try:\n    cli.main()\nexcept SystemExit as left:\n    assert left.code in (0, 1)\n"
        "slow = {'numba', 'scipy', 'pandas', 'altair', 'pint'} & set(sys.modules)\nassert not slow, slow"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(line_file)], capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr


def test_terminal_that_knows_ascii_alone(line_file: Path) -> None:
    text = line_file.read_text("utf-8")
    line_file.write_text(text.replace("name: Valve body, two decks", "name: Ventilkörper 阀体"), "utf-8")
    environment = {**os.environ, "LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = cold("check", line_file, env=environment)
    assert (done.returncode in (0, 1), done.stderr) == (True, "")
    assert done.stdout.isascii()
    assert done.stdout.startswith("Ventilk?rper ??\n")
    assert "m/s2" in done.stdout
    data = cold("check", line_file, "--json", env=environment)
    assert data.stdout.isascii()
    assert json.loads(data.stdout)["line"] == "Ventilkörper 阀体"  # JSON loses nothing


def test_reader_that_has_gone_away(line_file: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = cold("check", line_file, stdout=writer)
    finally:
        os.close(writer)
    assert (done.returncode, done.stderr) == (141, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
def test_full_disk_behind_a_redirection(line_file: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = cold("check", line_file, stdout=full)
    assert (done.returncode, done.stderr) == (2, "cannot write the output: No space left on device\n")


def test_rate_from_file_to_folder(line_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = cold("rate", line_file, "--hours", "1", "--runs", "2", "--no-gains", "--json", "--out", out)
    assert done.stderr == ""
    data = json.loads(done.stdout)
    assert json.loads((out / "answer.json").read_text("utf-8")) == data
    line = load_line(line_file)
    assert (data["hours"], data["runs"], data["seed"], data["input_hash"]) == (1.0, 2, 1, line.input_hash)
    assert [row["station"] for row in data["stations"]] == [station.name for station in line.stations]
    for row in data["stations"]:
        assert sum(value for key, value in row.items() if key.endswith("_share")) == pytest.approx(1.0)
    assert data["rate_per_h"]["low"] <= data["rate_per_h"]["mean"] <= data["rate_per_h"]["high"]
    assert done.returncode == (1 if data["verdict"] == "fails" else 0)
    assert sum(row["time_s"] for row in data["causes"]) == pytest.approx(data["causes_cycle_s"])
    assert data["bounds"]["worst_per_h"] < data["rate_per_h"]["mean"] < data["bounds"]["upper_per_h"]
    assert (data["gains"], (out / "gains.csv").exists()) == ([], False)
    assert (out / "track-chart.svg").read_text("utf-8").lstrip().startswith("<svg")
    assert (out / "moves.csv").read_bytes().count(b"\r\n") > 100
