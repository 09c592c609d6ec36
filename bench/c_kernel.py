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

from linewright.flow.kernel.draws import Luck
from linewright.flow.kernel.events import new_events
from linewright.flow.kernel.state import EVENTS, FAULT, Tables, Totals, new_state, new_totals
from linewright.traffic.plan import OF_RUNNING, TrafficPlan

SOURCE = Path(__file__).with_name("kernel.c")
# Products and sums are not contracted: the draws have to be equal to the last bit.
FLAGS = ("-O3", "-march=native", "-ffp-contract=off", "-shared", "-fPIC")


@dataclass(frozen=True, eq=False)
class CReplication:
    """One replication of the C kernel."""

    totals: Totals
    events: int


class CKernel:
    """The compiled C kernel."""

    def __init__(self, function: Any) -> None:
        self._function = function

    def run_once(self, plan: TrafficPlan, tables: Tables, luck: Luck, horizon_us: int, bin_us: int) -> CReplication:
        """One replication, as `linewright.flow.kernel.run.run_once` without a trace.

        ValueError for failures of clock and jams, which the C kernel does not know.
        """
        if any(failure.of != OF_RUNNING for failure in plan.failures):
            raise ValueError("the C kernel knows failures of running time alone")
        totals = new_totals(plan, horizon_us, bin_us)
        state = new_state(plan, new_events(plan.carriers + len(plan.transfer_names)))
        sizes = (
            plan.leg.shape[1],
            plan.delay_us.shape[1],
            len(plan.station_names),
            len(plan.failures),
            state.events.size // 2,
            horizon_us,
            bin_us,
        )
        words = [_word(value) for record in (tables, state, totals, *luck, sizes) for value in record]
        self._function((ctypes.c_int64 * len(words))(*words))
        if state.counters[FAULT]:
            raise RuntimeError(f"the C kernel stopped with fault {state.counters[FAULT]}")
        return CReplication(totals, int(state.counters[EVENTS]))


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
