"""Each planted fault is caught: the tests named with it fail on the faulty program, and pass on the sound one."""

from __future__ import annotations

from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet

from planted.faults import FAULTS as PROGRAM_FAULTS
from planted.faults import Fault
from planted.paper_faults import PAPER_FAULTS
from planted.picture_faults import PICTURE_FAULTS
from planted.planting import ALL_PASSED, SOME_FAILED, plant, run_tests

README = Path(__file__).parent / "README.md"
FAULTS = (*PROGRAM_FAULTS, *PICTURE_FAULTS, *PAPER_FAULTS)


def test_ten_faults_and_all_listed() -> None:
    assert len([fault for fault in FAULTS if not fault.long]) >= 10
    text = README.read_text("utf-8")
    for fault in FAULTS:
        row = next((line for line in text.splitlines() if f"| {fault.name} |" in line), "")
        assert f"`{fault.file}`" in row, fault.name
        for test in fault.caught_by:
            assert f"`{test}`" in row, fault.name


def marked(fault: Fault) -> ParameterSet:
    return pytest.param(fault, id=fault.name.replace(" ", "-"), marks=[pytest.mark.long] if fault.long else [])


@pytest.mark.parametrize("long", [False, pytest.param(True, marks=pytest.mark.long)])
def test_without_a_fault_all_pass(long: bool, tmp_path: Path) -> None:
    tests = sorted({test for fault in FAULTS for test in fault.caught_by if fault.long == long})
    outcome = run_tests(plant(None, tmp_path), tests)
    assert outcome.code == ALL_PASSED, outcome.output


@pytest.mark.parametrize("fault", [marked(fault) for fault in FAULTS])
def test_the_fault_is_caught(fault: Fault, tmp_path: Path) -> None:
    """Every test named with the fault fails, and by what it asserts."""
    outcome = run_tests(plant(fault, tmp_path), fault.caught_by)
    assert outcome.code == SOME_FAILED, outcome.output
    for test in fault.caught_by:
        assert f"FAILED tests/{test}" in outcome.output, outcome.output
    assert "AssertionError" in outcome.output or "assert " in outcome.output, outcome.output
