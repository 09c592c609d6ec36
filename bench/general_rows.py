"""The general event loop: against the SimPy model on lines with features, and against the fast loop on a plain one."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from statistics import median
from typing import Any, Final

from bench.kernel_rows import HOUR_US, kernel_run
from bench.lines import ROOT, Planned
from bench.timing import Row, alternate, ratio
from linewright.flow.kernel.general.run import general_luck_of
from linewright.flow.kernel.run import Replication, run_beyond
from linewright.traffic.plan import TrafficPlan

# Random plans with features of every kind; no single line can have all of them.
PLANS: Final = range(1001, 1021)
TEN_MINUTES_US: Final = HOUR_US // 6


def general_rows(planned: Planned, repeats: int = 5) -> list[Row]:
    """Nanoseconds an event of the general loop, and how it compares."""
    sys.path.insert(0, str(ROOT / "tests"))
    from agree.random_general import random_plan

    plans = [random_plan(number).plan for number in PLANS]
    lucks = [general_luck_of(plan, number, 0) for number, plan in zip(PLANS, plans, strict=True)]
    work = list(zip(plans, lucks, strict=True))
    kernel = partial(_run_all, work, TEN_MINUTES_US)
    events = sum(one.events for one in kernel())
    parts = sum(int(one.totals.good.sum()) for one in kernel())
    model = partial(_model_all, work, TEN_MINUTES_US)
    assert sum(len(one.good) for one in model()) == parts
    fast, slow = alternate([kernel, model], repeats, rounds=(20, 1))
    shift: list[Callable[[], object]] = [
        lambda: run_beyond(planned.plan, planned.luck, HOUR_US, HOUR_US),
        lambda: kernel_run(planned, HOUR_US),
    ]
    general, plain = alternate(shift, repeats, rounds=(2, 20))
    same = f"{len(plans)} random lines with every feature among them, {parts} good parts, as many in both"
    return [
        Row("general loop against SimPy, idiomatic", ratio(slow, fast), "x", 60, True, same),
        Row("  one event of the general loop", 1e9 * median(fast) / events, "ns"),
        Row("  the SimPy model, such an event", 1e6 * median(slow) / events, "µs"),
        Row("  a plain line in the general loop, against the fast loop", ratio(general, plain), "x"),
    ]


def _run_all(work: list[tuple[TrafficPlan, Any]], horizon_us: int) -> list[Replication]:
    return [run_beyond(plan, luck, horizon_us, horizon_us) for plan, luck in work]


def _model_all(work: list[tuple[TrafficPlan, Any]], horizon_us: int) -> list[Any]:
    from agree.reference_general import run_general

    return [run_general(plan, luck, horizon_us) for plan, luck in work]
