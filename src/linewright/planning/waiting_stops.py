"""Which waiting stops earn their place: how far each queue reaches, and what its farthest stop gives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from linewright.errors import LineFileError
from linewright.flow.bins import RunLength
from linewright.flow.statistics import Interval
from linewright.layout import Layout, Stop
from linewright.line.model import Line
from linewright.planning.counts import PlanRuns, difference, run_plans
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

Ints = NDArray[np.int64]
Worth = Literal["earns its place", "lowers the rate", "does nothing", "not shown", "not tried"]

# A run for this is shorter than the others, but never under so many hours or bins (the warm-up is judged on 40).
LEAST_HOURS: Final = 2.0
LEAST_BINS: Final = 100
NOTHING: Final = 0.005
CONFIDENCE: Final = 0.95


@dataclass(frozen=True)
class WaitingStops:
    """The waiting stops before one station or dock.

    Parameters
    ----------
    before : the station or dock, such as ``station press``
    lane : on which they lie
    stops : their ranks, nearest to the station or dock first
    occupied_share : for each, the share of time in which a carrier rests there, the halts of no length not counted
    visits_per_h : for each, carriers that halt there in an hour. [1/h]
    used : how many of them any carrier halts at
    gain_per_h : rate with all of them less rate without the farthest, paired; None where that was not tried. The
        confidence is raised so that 95 % holds for all groups together. [1/h]
    worth : ``earns its place`` (the whole interval is above 0), ``lowers the rate`` (wholly below 0), ``does nothing``
        (within 0.5 % of the rate on both sides), else ``not shown``; ``not tried`` for the reason in `why`
    why : in words why the farthest stop was not taken out; empty where it was
    """

    before: str
    lane: str
    stops: tuple[int, ...]
    occupied_share: tuple[float, ...]
    visits_per_h: tuple[float, ...]
    used: int
    gain_per_h: Interval | None
    worth: Worth
    why: str


@dataclass(frozen=True)
class Group:
    """Waiting stops before one station or dock, nearest first."""

    before: str
    lane: str
    stops: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class WaitingStopRuns:
    """What has to be run to judge the waiting stops.

    Parameters
    ----------
    groups : all groups of the layout
    plans : the line as it is, then without each group's farthest stop where that can be
    tried : for each further plan the number of its group
    why : group number -> why it was not tried
    length : of the runs
    """

    groups: tuple[Group, ...]
    plans: tuple[TrafficPlan, ...]
    tried: tuple[int, ...]
    why: dict[int, str]
    length: RunLength


def waiting_groups(layout: Layout) -> tuple[Group, ...]:
    """The waiting stops before each station and dock that has any, in travel order."""
    groups: list[Group] = []
    held: list[Stop] = []
    for stop in layout.stops:
        if stop.kind == "waiting":
            held.append(stop)
            continue
        if held:
            groups.append(Group(stop.label, stop.lane, tuple(one.index for one in reversed(held))))
        held = []
    return tuple(groups)


def without_stop(layout: Layout, rank: int) -> Layout:
    """The layout without one waiting stop; the ranks behind it go down by one.

    Raises
    ------
    ValueError   The stop is no waiting stop.
    """
    if layout.stops[rank].kind != "waiting":
        raise ValueError(f"{layout.stops[rank].label} is no waiting stop")
    kept = [stop for stop in layout.stops if stop.index != rank]
    stops = tuple(replace(stop, index=number) for number, stop in enumerate(kept))
    transfers = tuple(replace(one, aboard=one.aboard - (one.aboard > rank)) for one in layout.transfers)
    return replace(layout, stops=stops, transfers=transfers)


def waiting_stop_runs(line: Line, layout: Layout, length: RunLength) -> WaitingStopRuns:
    """Compile the line as it is and without each group's farthest stop.

    Parameters
    ----------
    line, layout : a line and its layout, on which nothing blocks the traffic
    length : of the runs of the counts; these here are shortened to 2 h or 100 bins if that is less
    """
    groups = waiting_groups(layout)
    plans, tried, why = [compile_plan(line, layout)], [], {}
    for number, group in enumerate(groups):
        try:
            plans.append(compile_plan(line, without_stop(layout, group.stops[-1])))
        except LineFileError:
            why[number] = f"the {line.carriers} carriers need it to stand on at time zero"
        else:
            tried.append(number)
    least_us = max(round(LEAST_HOURS * 3600e6), LEAST_BINS * length.bin_us)
    if length.cut_us is not None:
        least_us = length.horizon_us  # whole shifts
    return WaitingStopRuns(
        groups, tuple(plans), tuple(tried), why, replace(length, horizon_us=min(length.horizon_us, least_us))
    )


def judge_waiting_stops(
    jobs: WaitingStopRuns, workers: int | None = None, progress: Callable[[int], None] | None = None
) -> tuple[WaitingStops, ...]:
    """Run what has to be run and judge each group.

    Parameters
    ----------
    jobs : see `waiting_stop_runs`
    workers : threads; None for one a core
    progress : called with the number of finished runs, from any thread
    """
    base, *others = run_plans(jobs.plans, jobs.length, workers, progress)
    changed = dict(zip(jobs.tried, others, strict=True))
    rest_us, visits = _rests(jobs.plans[0], base)
    window_us = base.length.runs * (base.length.horizon_us - base.cut_bins * base.length.bin_us)
    confidence = 1.0 - (1.0 - CONFIDENCE) / max(1, len(changed))
    rows = []
    for number, group in enumerate(jobs.groups):
        at = list(group.stops)
        gain, worth, why = _worth(base, changed.get(number), confidence, jobs.why.get(number, ""))
        rows.append(
            WaitingStops(
                before=group.before,
                lane=group.lane,
                stops=group.stops,
                occupied_share=tuple(float(share) for share in rest_us[at] / window_us),
                visits_per_h=tuple(float(count) for count in visits[at] / (window_us / 3600e6)),
                used=int((visits[at] > 0).sum()),
                gain_per_h=gain,
                worth=worth,
                why=why,
            )
        )
    return tuple(rows)


def _worth(base: PlanRuns, without: PlanRuns | None, confidence: float, why: str) -> tuple[Interval | None, Worth, str]:
    if without is None:
        return None, "not tried", why
    if base.rate is None or without.rate is None:
        return None, "not tried", base.reason or f"without it: {without.reason}"
    gain = difference(without, base, confidence)
    slack = NOTHING * base.rate.mean
    if gain.low > 0.0:
        return gain, "earns its place", ""
    if gain.high < 0.0:
        return gain, "lowers the rate", ""
    return gain, "does nothing" if -slack <= gain.low and gain.high <= slack else "not shown", ""


def _rests(plan: TrafficPlan, base: PlanRuns) -> tuple[Ints, Ints]:
    """Time at rest on each stop and number of halts there, over all runs, after the warm-up. [us]"""
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of

    length = base.length
    begin_us = base.cut_bins * length.bin_us
    rest_us, visits = np.zeros(plan.stops, np.int64), np.zeros(plan.stops, np.int64)
    tables = tables_of(plan)
    for replication in range(length.runs):
        luck = luck_of(plan, length.seed, replication)
        run = run_once(plan, tables, luck, length.horizon_us, length.horizon_us, trace_from_us=begin_us)
        rested, halts = rests_of(run.moves, plan.stops, begin_us, length.horizon_us)
        rest_us += rested
        visits += halts
    return rest_us, visits


def rests_of(moves: Ints, stops: int, begin_us: int, end_us: int) -> tuple[Ints, Ints]:
    """Time at rest on each stop and halts there, from a log of moves.

    Parameters
    ----------
    moves : shape (rows, 6)   Carrier, departure, stop left, stop reached, arrival, load class; all moves that lie, even
        in part, between begin and end. [us]
    stops : how many there are
    begin_us, end_us : what is looked at. [us]

    Returns
    -------
    rest_us, halts : int64[stops]   A carrier without a move in that time rests at a stop that the log does not tell.
    """
    rest_us, halts = np.zeros(stops, np.int64), np.zeros(stops, np.int64)
    ordered = moves[np.lexsort((moves[:, 1], moves[:, 0]))]
    same = ordered[1:, 0] == ordered[:-1, 0]
    firsts = ordered[np.concatenate(([True], ~same))] if len(ordered) else ordered
    lasts = ordered[np.concatenate((~same, [True]))] if len(ordered) else ordered
    # Before its first move, between two, and after its last.
    where = np.concatenate((firsts[:, 2], ordered[:-1][same, 3], lasts[:, 3]))
    begins = np.concatenate((np.full(len(firsts), begin_us), ordered[:-1][same, 4], lasts[:, 4]))
    ends = np.concatenate((firsts[:, 1], ordered[1:][same, 1], np.full(len(lasts), end_us)))
    spent = np.clip(np.minimum(ends, end_us) - np.maximum(begins, begin_us), 0, None)
    np.add.at(rest_us, where, spent)
    arrived = ordered[(ordered[:, 4] >= begin_us) & (ordered[:, 4] < end_us)]
    np.add.at(halts, arrived[:, 3], 1)
    return rest_us, halts
