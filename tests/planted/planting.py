"""Plants a fault in a copy of the package and runs tests of the suite on it.

The copy runs without numba's compiler: to interpret some small cases takes less time than to compile the kernel anew.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import linewright
from planted.faults import Fault

ROOT: Final = Path(__file__).parents[2]
PACKAGE: Final = Path(linewright.__file__).parent
OPTIONS: Final = ("-q", "--tb=short", "--color=no", "-p", "no:cacheprovider", "-p", "no:xdist")
# A product of two 64-bit words is meant to overflow; only without the compiler does numpy warn of it.
OVERFLOW: Final = ("-W", "ignore:overflow encountered:RuntimeWarning")

ALL_PASSED: Final = 0
SOME_FAILED: Final = 1


@dataclass(frozen=True)
class Outcome:
    """How pytest ended, and what it printed."""

    code: int
    output: str


def plant(fault: Fault | None, folder: Path) -> Path:
    """A copy of the package in a folder, with the fault planted; gives the folder to import from.

    Raises
    ------
    ValueError   The line does not stand in the file once: the program has changed, and the fault must follow.
    """
    copy = folder / PACKAGE.name
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    if fault is not None:
        file = copy / fault.file
        source = file.read_text("utf-8")
        if source.count(fault.line) != 1:
            raise ValueError(f"{fault.file} has {source.count(fault.line)} times, not once: {fault.line}")
        file.write_text(source.replace(fault.line, fault.becomes), "utf-8")
    return folder


def run_tests(imports: Path, tests: Sequence[str]) -> Outcome:
    """Run tests of this suite with the package from another folder."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    environment |= {"PYTHONPATH": str(imports), "NUMBA_DISABLE_JIT": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", *OPTIONS, *OVERFLOW, *(f"tests/{test}" for test in tests)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=300)
    return Outcome(done.returncode, done.stdout + done.stderr)
