"""Stopwatches that alternate between the sides of a comparison, and the table they fill."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

Result = TypeVar("Result")


def stopwatch(job: Callable[[], Result], clock: Callable[[], float] = time.perf_counter) -> tuple[float, Result]:
    """How long a job took by a clock, and what it gave. [s]"""
    begun = clock()
    result = job()
    return clock() - begun, result


def alternate(
    jobs: list[Callable[[], object]],
    repeats: int,
    rounds: tuple[int, ...] = (),
    clock: Callable[[], float] = time.thread_time,
) -> list[list[float]]:
    """Time each job in turn, so often; the times of each job. [s]

    Parameters
    ----------
    jobs : called in order, then again, so that a busy moment of the machine falls on all of them
    repeats : how often
    rounds : how many calls of each job make one time, which is divided by them; one each by default
    clock : processor time of this thread, which does not run while another process has the core; for work in more than
        one thread or process, `time.perf_counter`
    """
    times: list[list[float]] = [[] for _ in jobs]
    for _ in range(repeats):
        for number, job in enumerate(jobs):
            calls = rounds[number] if rounds else 1
            begun = clock()
            for _ in range(calls):
                job()
            times[number].append((clock() - begun) / calls)
    return times


def ratio(slow: list[float], fast: list[float]) -> float:
    """Median over the repeats of one side's time over the other's."""
    return statistics.median(a / b for a, b in zip(slow, fast, strict=True))


@dataclass(frozen=True)
class Row:
    """A row of the bench's table.

    Parameters
    ----------
    name : what was measured
    figure : what came out, in `unit`
    unit : "x" for a ratio
    budget : what it may be, None where nothing is asked
    least : the figure has to reach its budget; else it may not exceed it
    note : what a reader has to know beside it
    """

    name: str
    figure: float
    unit: str
    budget: float | None = None
    least: bool = False
    note: str = ""

    @property
    def verdict(self) -> str:
        """met, missed, or nothing where there is no budget."""
        if self.budget is None:
            return ""
        return "met" if (self.figure >= self.budget if self.least else self.figure <= self.budget) else "missed"


def print_rows(title: str, rows: list[Row]) -> None:
    """Print a part of the table."""
    print(f"\n{title}")
    for row in rows:
        bound = "" if row.budget is None else f"{'>=' if row.least else '<='} {row.budget:g} {row.unit}"
        print(
            f"  {row.name:<46} {row.figure:>11,.4g} {row.unit:<3} {bound:>13}  {row.verdict:<7} {row.note}", flush=True
        )
