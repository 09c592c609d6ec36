"""Replications of a plan on all cores, each with its own luck."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import count
from typing import TYPE_CHECKING

from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.run import Replication

Progress = Callable[[int], None]


def replicate(
    plan: TrafficPlan,
    seed: int,
    runs: int,
    horizon_us: int,
    bin_us: int,
    workers: int | None = None,
    progress: Progress | None = None,
    with_chain: bool = False,
) -> list[Replication]:
    """All replications of a plan, in order, whatever the number of threads.

    Parameters
    ----------
    plan : a compiled plan
    seed, runs : the luck of replication i is that of (seed, i), 0 <= i < runs
    horizon_us, bin_us : length of a run and of one bin of good parts. [us]
    workers : threads; None for one a core
    progress : called with the number of finished replications, from any thread
    with_chain : each with its chain of causes

    Raises
    ------
    SimulationError   The plan is too large or the run too long for the kernel.
    """
    return replicate_all((plan,), seed, runs, horizon_us, bin_us, workers, progress, with_chain)[0]


def replicate_all(
    plans: Sequence[TrafficPlan],
    seed: int,
    runs: int,
    horizon_us: int,
    bin_us: int,
    workers: int | None = None,
    progress: Progress | None = None,
    with_chain: bool = False,
) -> list[list[Replication]]:
    """All replications of several plans through one set of threads, in the order of the plans; see `replicate`."""
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of

    tables = [tables_of(plan) for plan in plans]
    finished = count(1)

    def one(job: tuple[int, int]) -> Replication:
        number, replication = job
        luck = luck_of(plans[number], seed, replication)
        done = run_once(plans[number], tables[number], luck, horizon_us, bin_us, with_chain=with_chain)
        if progress is not None:
            progress(next(finished))
        return done

    # The most carriers take longest; begun first they leave no thread idle at the end.
    order = sorted(range(len(plans)), key=lambda number: -plans[number].carriers)
    jobs = [(number, replication) for number in order for replication in range(runs)]
    threads = min(len(jobs), workers or os.cpu_count() or 1)
    if threads <= 1:
        done = dict(zip(jobs, map(one, jobs), strict=True))
    else:
        with ThreadPoolExecutor(threads) as pool:
            done = dict(zip(jobs, pool.map(one, jobs), strict=True))
    return [[done[number, replication] for replication in range(runs)] for number in range(len(plans))]
