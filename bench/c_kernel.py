"""The event kernel in C (`kernel.c`): compiled into a temporary folder, given the arrays of the Python side."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linewright.flow.kernel.draws import Luck
from linewright.flow.kernel.events import LONGEST_US, new_events
from linewright.flow.kernel.run import FEW_MARKS, KEPT_MARKS
from linewright.flow.kernel.state import (
    EVENTS,
    FAULT,
    LAST_GOOD,
    MARKS,
    Tables,
    Totals,
    new_state,
    new_totals,
    new_trace,
)
from linewright.traffic.plan import OF_RUNNING, TrafficPlan

SOURCE = Path(__file__).with_name("kernel.c")
# Products and sums are not contracted: the draws have to be equal to the last bit.
FLAGS = ("-O3", "-march=native", "-ffp-contract=off", "-shared", "-fPIC")


@dataclass(frozen=True, eq=False)
class CReplication:
    """One replication of the C kernel; its marks, the last ones of the ring, are overwritten by the next.

    Parameters
    ----------
    last_good : pointer to the end of the last good part
    marks : shape (marks, 2)
    """

    totals: Totals
    events: int
    last_good: int
    marks: NDArray[np.int64]


class CKernel:
    """The compiled C kernel."""

    def __init__(self, function: Any) -> None:
        self._function = function
        self._marks = np.zeros((KEPT_MARKS, 2), np.int64)
        self._few_marks = np.zeros((FEW_MARKS, 2), np.int64)

    def run_once(
        self, plan: TrafficPlan, tables: Tables, luck: Luck, horizon_us: int, bin_us: int, keep_marks: bool = False
    ) -> CReplication:
        """One replication, as `linewright.flow.kernel.run.run_once` without a trace; its marks are kept or go into a
        small ring.

        ValueError for failures of clock and jams, which the C kernel does not know.
        """
        if any(failure.of != OF_RUNNING for failure in plan.failures):
            raise ValueError("the C kernel knows failures of running time alone")
        totals = new_totals(plan, horizon_us, bin_us)
        ring = self._marks if keep_marks else self._few_marks
        trace = new_trace(LONGEST_US, 0, ring)
        state = new_state(plan, new_events(plan.carriers + len(plan.transfer_names)))
        sizes = (
            plan.leg.shape[1],
            plan.delay_us.shape[1],
            len(ring),
            state.events.size // 2,
            horizon_us,
            bin_us,
            len(plan.failures),
        )
        words = [_word(value) for record in (tables, state, totals, trace, luck.laws, sizes) for value in record]
        self._function((ctypes.c_int64 * len(words))(*words))
        if state.counters[FAULT]:
            raise RuntimeError(f"the C kernel stopped with fault {state.counters[FAULT]}")
        last, marks = state.counters[LAST_GOOD], int(state.counters[MARKS])
        return CReplication(totals, int(state.counters[EVENTS]), int(last), ring[:marks])


def _word(value: Any) -> int:
    """A number, or the address of an array; every field of the C structures is one word of 64 bits."""
    if not isinstance(value, np.ndarray):
        return int(value)
    if not value.flags.c_contiguous:
        raise ValueError("the C kernel reads contiguous arrays only")
    return value.ctypes.data


def compiler() -> str | None:
    """The C compiler's path, None where there is none."""
    return shutil.which("gcc") or shutil.which("cc")


def compile_c(path: str) -> CKernel:
    """Compile the C kernel with the compiler at this path."""
    with tempfile.TemporaryDirectory(prefix="linewright-bench-") as folder:
        library = Path(folder) / "kernel.so"
        subprocess.run([path, *FLAGS, str(SOURCE), "-o", str(library), "-lm"], check=True)
        function = ctypes.CDLL(str(library)).run_replication
    function.restype = None
    return CKernel(function)
