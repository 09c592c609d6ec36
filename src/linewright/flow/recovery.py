"""Recovery: the line is stopped again and again, and must make good parts again each time.

docs/semantics.md, "After a stop" and "Gridlock", "The recovery".
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import count
from statistics import median

from linewright.errors import SimulationError
from linewright.flow.allowance import allowance_of
from linewright.flow.replications import Progress
from linewright.flow.restart import SPEED_M_S
from linewright.flow.stop_chain import CHAINS, PartCount, Still, StopOutcome, Stopping, run_chain
from linewright.flow.stopping import stopping_plan
from linewright.layout import lay_out
from linewright.line.model import Line

__all__ = ["PartCount", "Recovery", "Still", "StopOutcome", "recover"]


@dataclass(frozen=True)
class Recovery:
    """A line stopped again and again.

    Parameters
    ----------
    stops : how many
    failed : after how many no good part came, or none after some time
    worst_recovery_s, mean_recovery_s : from the begin of a recovery until the line goes on. [s]
    worst_good_after_s, median_good_after_s : from then to the first good part, of the stops that hold; None where none
        does. [s]
    rejected_per_stop, by_hand_per_stop : unverified parts, mean
    least_next_s, mean_next_s : the least and the mean time from going on to the next stop, of the law drawn from. [s]
    speed_m_s : at which carriers go on during a recovery. [m/s]
    seed, chains : of all; how many chains
    failing : the stops that fail, with their story
    outcomes : all stops, chain by chain
    """

    stops: int
    failed: int
    worst_recovery_s: float
    mean_recovery_s: float
    worst_good_after_s: float | None
    median_good_after_s: float | None
    rejected_per_stop: float
    by_hand_per_stop: float
    least_next_s: float
    mean_next_s: float
    speed_m_s: float
    seed: int
    chains: int
    failing: tuple[StopOutcome, ...]
    outcomes: tuple[StopOutcome, ...]


def recover(
    line: Line, stops: int = 200, seed: int = 1, workers: int | None = None, progress: Progress | None = None
) -> Recovery:
    """Stop a line at random instants again and again, without a fresh start in between.

    Parameters
    ----------
    line : a valid line
    stops : how many, >= 1
    seed : of the instants and of all luck, >= 0
    workers : threads; None for one a core. The result does not depend on it.
    progress : called with the number of stops that are done, from any thread

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track.
    ValueError        An argument is out of range.

    Notes
    -----
    Chains are independent. Each begins with an empty line and runs to its first stop; the line goes on from where the
    recovery leaves it, runs to the next stop, and so on. The time from going on to the next stop is `Allowance.least_s`
    plus an exponential time, so that it has no memory of the line's cycles; all are drawn before anything is run. A
    stop holds if good parts come before the next one and still come shortly before it, in the last one or two times
    `least_s`. Where none do, the same run is looked at longer, by `look_us`, as if the next stop did not come, since
    that may have fallen into a break or a long repair; the stop fails if none come then either: one good part that was
    past the place of a jam is no recovery. After a stop that fails a chain begins anew with an empty line and another
    seed: what follows a jam says nothing more.

    A load keeps its luck through all stops of a chain; failures and the machines outside draw anew after each stop but
    the first, since their running time begins anew. So `restart` with the seed of a stop that is the first since its
    chain began empty shows the same stop. Carriers go at the speed of `restart`, or at the drives' where that is less.

    Source     docs/semantics.md, "After a stop" and "The recovery".
    """
    if stops < 1 or seed < 0 or (workers is not None and workers < 1):
        raise ValueError(f"stops {stops}, seed {seed}, workers {workers}: at least 1, 0 and 1 are due")
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    plan = stopping_plan(line, layout)
    allowed = allowance_of(line, plan)
    speed_m_s = min(SPEED_M_S, line.conveyor.drive.speed_m_s)
    chains = min(CHAINS, stops)
    finished = count(1)
    stopping = Stopping(line, layout, plan, allowed, speed_m_s)

    def chain(number: int) -> list[StopOutcome]:
        share = stops // chains + (number < stops % chains)
        found = []
        for outcome in run_chain(stopping, seed, number, share):
            found.append(outcome)
            if progress is not None:
                progress(next(finished))
        return found

    threads = min(chains, workers or os.cpu_count() or 1)
    if threads <= 1:
        done = [chain(number) for number in range(chains)]
    else:
        with ThreadPoolExecutor(threads) as pool:
            done = list(pool.map(chain, range(chains)))
    return _summed(tuple(one for found in done for one in found), stopping, seed, chains)


def _summed(outcomes: tuple[StopOutcome, ...], stopping: Stopping, seed: int, chains: int) -> Recovery:
    failing = tuple(one for one in outcomes if not one.holds)
    after_s = [one.good_after_s for one in outcomes if one.holds and one.good_after_s is not None]
    recovery_s = [one.recovery_s for one in outcomes]
    stops = len(outcomes)
    return Recovery(
        stops=stops,
        failed=len(failing),
        worst_recovery_s=max(recovery_s),
        mean_recovery_s=sum(recovery_s) / stops,
        worst_good_after_s=max(after_s, default=None),
        median_good_after_s=median(after_s) if after_s else None,
        rejected_per_stop=sum(one.rejected for one in outcomes) / stops,
        by_hand_per_stop=sum(one.by_hand for one in outcomes) / stops,
        least_next_s=stopping.allowed.least_s,
        mean_next_s=stopping.allowed.mean_s,
        speed_m_s=stopping.speed_m_s,
        seed=seed,
        chains=chains,
        failing=failing,
        outcomes=outcomes,
    )
