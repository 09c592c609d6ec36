"""The command prove as a user types it."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest

from e2e.commands import Call
from linewright.handover.pages.prove_page import prove_page
from linewright.handover.wording import WIDTH
from linewright.line.load import load_line, read_line
from linewright.proof import Proof, prove

EXAMPLES = Path(__file__).parents[2] / "examples"
DEMO = EXAMPLES / "demo" / "line.yaml"
LOCKS = sorted((EXAMPLES / "locks").glob("*.yaml"))
WAYS = sorted((EXAMPLES / "ways").glob("*.yaml"))
# Outcome from the planned start and from every placement.
EXPECTED = {
    "ring": ("never locks", "can lock"),
    "run-out": ("can lock", "can lock"),
    "spur": ("can lock", "can lock"),
    "to-and-fro": ("can lock", "can lock"),
}


@pytest.fixture
def short_shift(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the referee judges of a shift it judges of two minutes."""
    monkeypatch.setattr("linewright.proof.SHIFT_S", 120.0)


@pytest.mark.usefixtures("short_shift")
def test_the_demo_line_is_proven(call: Call) -> None:
    done = call("prove", DEMO, "--stops", "8", "--json")
    data = json.loads(done.out)
    assert (data["gridlock"]["outcome"], data["gridlock"]["from_any_placement"]) == ("never locks", "never locks")
    assert data["referee"]["holds"] is True
    assert data["referee"]["looked"]["moves"] > 1000
    assert (data["recovery"]["stops"], data["recovery"]["failed"]) == (8, 0)
    assert data["findings"]
    assert done.code == 0
    assert done.err == ""


@pytest.mark.usefixtures("short_shift")
def test_a_line_that_locks_is_told_step_by_step(call: Call) -> None:
    done = call("prove", EXAMPLES / "locks" / "to-and-fro.yaml", "--stops", "2")
    assert done.code == 1
    assert done.out.splitlines()[2] == "NO: DO NOT RUN THIS LINE AS IT IS. BEGUN AS PLANNED IT CAN LOCK UP."
    assert "station load -> station balance" in done.out
    assert "wants station balance, taken by carrier" in done.out
    assert max(len(row) for row in done.out.splitlines()) <= WIDTH


def test_a_faulty_file_is_answered_as_everywhere(call: Call, tmp_path: Path) -> None:
    path = tmp_path / "line.yaml"
    path.write_text(DEMO.read_text("utf-8").replace("carriers: ", "carries: "), "utf-8")
    done = call("prove", path, "--json")
    assert done.code == 2
    assert {"file", "line", "column", "found", "allowed"} == set(json.loads(done.out)["errors"][0])
    assert call("prove", path).code == 2
    assert call("prove", DEMO, "--stops", "0").code == 2


def test_the_examples_that_lock_are_those_expected() -> None:
    assert {path.stem for path in LOCKS} == set(EXPECTED)
    for path in LOCKS:
        load_line(path)


# ---- the whole of it, in make test-long ------------------------------------------------------------------------------


@cache
def proof_of(path: Path) -> Proof:
    return prove(load_line(path))


@pytest.mark.long
@pytest.mark.parametrize("path", LOCKS, ids=lambda path: path.stem)
def test_the_lines_made_to_lock_do(path: Path) -> None:
    proof = proof_of(path)
    locks = proof.gridlock
    assert (locks.outcome, locks.from_any_placement.outcome) == EXPECTED[path.stem]
    assert not proof.holds
    assert proof.referee.holds
    assert max(len(row) for row in prove_page(proof).splitlines()) <= WIDTH


@pytest.mark.long
@pytest.mark.parametrize("path", [DEMO, *WAYS], ids=lambda path: path.stem)
def test_no_example_locks_as_planned(path: Path) -> None:
    proof = proof_of(path)
    assert proof.gridlock.outcome == "never locks"
    assert proof.referee.holds
    assert max(len(row) for row in prove_page(proof).splitlines()) <= WIDTH


@pytest.mark.long
def test_the_cure_of_the_spur_cures_it() -> None:
    path = EXAMPLES / "locks" / "spur.yaml"
    cure = prove_page(proof_of(path))
    text = "\n".join(row for row in cure.splitlines() if row == "admission:" or row.startswith("  keep-free: "))
    assert text.startswith("admission:\n  keep-free: ")
    cured = prove(read_line(f"{path.read_text('utf-8')}{text}\n"))
    assert cured.never_locks
