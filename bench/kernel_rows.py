"""The event kernel against SimPy and against C, its time an event, and two threads against one."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import Any, Final

import numpy as np

from bench.c_kernel import CReplication, compile_c, compiler
from bench.given import GivenLuck, draw_all
from bench.lines import ROOT, Planned
from bench.timing import Row, alternate, ratio
from bench.tuned import TunedLine, TunedResult
from bench.without_causes import run_without_causes
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import Replication, _scratch, run_once
from linewright.flow.run import run_plan

HOUR_US: Final = 3_600_000_000
SHIFT_US: Final = 8 * HOUR_US
# SimPy takes about a minute for a shift; what is compared is the time of the same simulated stretch.
SIMPY_US: Final = HOUR_US // 2
STATE_NAMES: Final = (
    "down",
    "work",
    "clear",
    "done handshake",
    "blocked",
    "partner",
    "settling and start handshake",
    "prepare",
    "exchange",
    "starved",
)


def kernel_run(planned: Planned, horizon_us: int, trace_from_us: int | None = None) -> Replication:
    """One replication by the kernel, all good parts in one bin."""
    return run_once(planned.plan, planned.tables, planned.luck, horizon_us, horizon_us, trace_from_us)


def simpy_rows(planned: Planned, repeats: int = 3) -> list[Row]:
    """The kernel against the plain and the hand-tuned SimPy model, both with the same output."""
    kernel = kernel_run(planned, SIMPY_US)
    luck = draw_all(planned.plan, 1, parts=int(kernel.totals.parts.max()) + 100)
    plain = _plain_model(planned, luck)
    tuned = partial(_run_tuned, planned, luck)
    _same_as_plain(planned, kernel, plain())
    _same_as_tuned(kernel, tuned())
    jobs: list[Callable[[], object]] = [lambda: kernel_run(planned, SIMPY_US), tuned, plain]
    fast, hand, slow = alternate(jobs, repeats, rounds=(20, 1, 1))
    good, moves = int(kernel.totals.good.sum()), int(kernel.totals.moves.sum())
    same = f"{good} good parts, {moves} moves, all state times equal"
    per_event = 1e6 / kernel.events
    return [
        Row("kernel against SimPy, idiomatic", ratio(slow, fast), "x", 100, True, same),
        Row("  the SimPy model, a kernel's event", median(slow) * per_event, "µs"),
        Row("kernel against SimPy, tuned by hand", ratio(hand, fast), "x", 35, True, "and the number of events equal"),
        Row("  the SimPy model, an event", median(hand) * per_event, "µs"),
    ]


def _plain_model(planned: Planned, luck: GivenLuck) -> Callable[[], Any]:
    """The tests' reference model on this plan: a process a carrier, written from docs/semantics.md."""
    sys.path.insert(0, str(ROOT / "tests"))
    from agree.reference_model import from_plan, run

    return lambda: run(from_plan(planned.plan, luck, SIMPY_US))


def _run_tuned(planned: Planned, luck: GivenLuck) -> TunedResult:
    return TunedLine(planned.plan, planned.tables, luck, SIMPY_US).run()


def _same_as_plain(planned: Planned, kernel: Replication, model: Any) -> None:
    assert len(model.good) == kernel.totals.good.sum()
    assert len(model.moves) == kernel.totals.moves.sum()
    for station, name in enumerate(planned.plan.station_names):
        states = [model.states[name][state] for state in STATE_NAMES]
        assert states == kernel.totals.state_us[station].tolist(), name


def _same_as_tuned(kernel: Replication, model: TunedResult) -> None:
    assert model.good == kernel.totals.good.sum()
    assert model.moves == kernel.totals.moves.sum()
    assert model.events == kernel.events
    assert model.state_us == kernel.totals.state_us.tolist()


def event_rows(planned: Planned, repeats: int = 15) -> list[Row]:
    """Nanoseconds an event, without and with a log of everything, and the same algorithm in C."""
    jobs: list[Callable[[], object]] = [
        lambda: kernel_run(planned, SHIFT_US),
        lambda: kernel_run(planned, SHIFT_US, 0),
        lambda: kernel_run(planned, HOUR_US // 12, 0),
    ]
    kernel, short = kernel_run(planned, SHIFT_US), kernel_run(planned, HOUR_US // 12)
    path = compiler()
    if path is not None:
        in_c = partial(compile_c(path).run_once, planned.plan, planned.tables, planned.luck, SHIFT_US, SHIFT_US)
        _same_as_c(planned, in_c(keep_marks=True))
        jobs.append(in_c)
    for job in jobs:
        job()
    times = alternate(jobs, repeats)
    core, logged, log_short = (
        [1e9 * t / n for t in some]
        for some, n in zip(times[:3], (kernel.events, kernel.events, short.events), strict=True)
    )
    rows = [
        Row("one event, no log", median(core), "ns", 60, note=f"least {min(core):.1f}; {kernel.events} events, 8 h"),
        Row("one event, everything logged", median(logged), "ns", note=f"least {min(logged):.1f}; 8 h"),
        Row("one event, everything logged", median(log_short), "ns", note=f"least {min(log_short):.1f}; 5 min"),
    ]
    if path is None:
        print("no C compiler (gcc or cc) on the path: the row of the C kernel is left out")
        return rows
    c_event = [1e9 * t / kernel.events for t in times[3]]
    note = (
        f"C: {median(c_event):.1f} ns an event, least {min(c_event):.1f}; of the least {min(core) / min(c_event):.2f}"
    )
    return [*rows, Row("kernel against C", ratio(times[0], times[3]), "x", 1.25, note=note)]


def _same_as_c(planned: Planned, other: CReplication) -> None:
    """The C kernel does the same work: equal events, totals and marks."""
    kernel = run_once(planned.plan, planned.tables, planned.luck, SHIFT_US, SHIFT_US, with_chain=True)
    assert other.events == kernel.events
    assert all(np.array_equal(a, b) for a, b in zip(other.totals, kernel.totals, strict=True))
    assert np.array_equal(other.marks, _scratch.marks[: len(other.marks)])


def causes_rows(planned: Planned, repeats: int = 25) -> list[Row]:
    """What the causes cost: a kernel without them, one whose marks are not kept, and one that walks the chain back."""
    job = (planned.plan, planned.tables, planned.luck, SHIFT_US, SHIFT_US)
    with tempfile.TemporaryDirectory(prefix="linewright-bench-") as folder:
        without = run_without_causes(Path(folder))
        bare, kernel = without(*job), run_once(*job)
        assert bare.events == kernel.events
        assert np.array_equal(bare.totals.state_us, kernel.totals.state_us)
        jobs: list[Callable[[], object]] = [
            lambda: without(*job),
            lambda: run_once(*job),
            lambda: run_once(*job, with_chain=True),
        ]
        jobs[2]()
        plain, marked, walked = alternate(jobs, repeats)
    least = [100.0 * (min(times) / min(plain) - 1.0) for times in (marked, walked)]
    note = f"of the least times {least[0]:.1f} % and {least[1]:.1f} %"
    return [
        Row(
            "causes: marks set, not kept",
            100.0 * (ratio(marked, plain) - 1.0),
            "%",
            note="over a kernel without them, 8 h",
        ),
        Row("causes: marks kept, the chain walked back", 100.0 * (ratio(walked, plain) - 1.0), "%", 10, note=note),
    ]


def thread_rows(planned: Planned, repeats: int = 7) -> list[Row]:
    """Two threads against one: 20 replications of 8 h, and all that `simulate` does with them."""
    plan, tables = planned.plan, planned.tables

    def one(replication: int) -> int:
        return run_once(plan, tables, luck_of(plan, 1, replication), SHIFT_US, SHIFT_US).events

    def threads(count: int) -> int:
        with ThreadPoolExecutor(count) as pool:
            return sum(pool.map(one, range(20)))

    jobs: list[Callable[[], object]] = [
        lambda: threads(1),
        lambda: threads(2),
        lambda: run_plan(planned.line, plan, workers=1),
        lambda: run_plan(planned.line, plan, workers=2),
    ]
    assert threads(1) == threads(2)
    single, double, all_single, all_double = alternate(jobs, repeats, clock=perf_counter)
    used, used_by_two = alternate(jobs[:2], repeats, clock=process_time)
    load = f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
    return [
        Row("two threads against one, 20 replications", ratio(single, double), "x", 1.9, True, load),
        Row("  the same with statistics and trace", ratio(all_single, all_double), "x"),
        Row("  processor time, two threads over one", ratio(used_by_two, used), "x"),
    ]
