"""One chain of stops: the line runs, is stopped, goes on from where the recovery leaves it, and so on.

docs/semantics.md, "After a stop" and "Gridlock", "The recovery".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.flow.allowance import Allowance, look_us
from linewright.flow.stopping import Stopped, aftermath, moved_break, place_words, plan_from
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.general.luck import GeneralLuck
    from linewright.flow.kernel.general.run import GeneralResult, Snapshot

TAIL: Final = 2
"""Bins at the end of a run, the last of them not a whole one, in which a good part must have come."""
CHAINS: Final = 8
"""Chains that begin with an empty line, each for itself; a constant, so that the result does not depend on workers."""
PURPOSE_STOP: Final = 9
"""Of the draws between two stops; the purposes before it are the kernel's."""
SEEDS_APART: Final = 1000
"""Between the seeds of two beginnings, so that neighbouring seeds share none."""


@dataclass(frozen=True)
class PartCount:
    """What has become of all parts since a chain began with an empty line.

    Parameters
    ----------
    loaded : parts of all loads taken so far
    good : have left the line as good
    flagged : flagged by a station or because a stop left them unverified
    by_hand : taken out by hand after a stop
    aboard : neither, and on a carrier when the line goes on
    """

    loaded: int
    good: int
    flagged: int
    by_hand: int
    aboard: int

    @property
    def missing(self) -> int:
        """Loaded parts that turned out not to be there; 0 on a line without misses."""
        return self.loaded - self.good - self.flagged - self.by_hand - self.aboard


@dataclass(frozen=True)
class Still:
    """A carrier that stands still at the end of a look in which no more good parts came.

    Parameters
    ----------
    carrier : its number
    stop : rank of the stop where it stands, or that it has reserved
    where : in words
    moved : it has moved since the line went on
    parts : parts aboard
    next_step : name of its next step
    """

    carrier: int
    stop: int
    where: str
    moved: bool
    parts: int
    next_step: str


@dataclass(frozen=True)
class StopOutcome:
    """One stop of a chain, and what came of it.

    Parameters
    ----------
    chain, number : which chain; which of its stops, from 0
    seed : of the run; `restart` with this seed shows the same stop where `from_empty` is true
    at_s : when it comes, from when the chain last began with an empty line. [s]
    since_s : from when the line last went on. [s]
    from_empty : no stop came before it since the line began empty
    good_before : good parts from when the line last went on, or began, to the stop
    stood_before : none of them came shortly before the stop
    under_way : carriers that go to the stops kept for them
    rejected, by_hand : unverified parts not flagged before, flagged for an exit or taken out by hand
    recovery_s : from the begin of the recovery until the line goes on. [s]
    good_after_s : from then to the first good part; None if none comes within `looked_s`. [s]
    before_next : it comes before the next stop does
    next_s : from when the line goes on to the next stop. [s]
    looked_s : how long the line is looked at: to the next stop, or farther where no good part came shortly before that,
        then as if that stop did not come. [s]
    good : good parts in that time
    holds : good parts come, and go on coming
    parts : see `PartCount`
    carriers : where everybody stood; empty if the stop holds
    still : carriers that stand still at the end of the look, those first that have never moved; empty likewise
    """

    chain: int
    number: int
    seed: int
    at_s: float
    since_s: float
    from_empty: bool
    good_before: int
    stood_before: bool
    under_way: int
    rejected: int
    by_hand: int
    recovery_s: float
    good_after_s: float | None
    before_next: bool
    next_s: float
    looked_s: float
    good: int
    holds: bool
    parts: PartCount
    carriers: tuple[Stopped, ...]
    still: tuple[Still, ...]


@dataclass(frozen=True, eq=False)
class Stopping:
    """What all chains share.

    Parameters
    ----------
    line, layout : a line and its own layout
    plan : see `linewright.flow.stopping.stopping_plan`
    allowed : see `linewright.flow.allowance.allowance_of`
    speed_m_s : at which carriers under way go to the stops kept for them. [m/s]
    """

    line: Line
    layout: Layout
    plan: TrafficPlan
    allowed: Allowance
    speed_m_s: float

    @property
    def bin_us(self) -> int:
        """Time over which good parts are counted together. [us]"""
        return max(1, round(self.allowed.least_s * 1e6))


@dataclass(frozen=True, eq=False)
class _Moment:
    """A line that goes on: its plan and its luck from there; when that is, and how many stops came, since it began
    empty; the numbers of its carriers, and of the next that is put in; what has become of parts before."""

    plan: TrafficPlan
    luck: GeneralLuck
    on_us: int
    stops: int
    numbers: tuple[int, ...]
    next_number: int
    good: int = 0
    flagged: int = 0
    by_hand: int = 0


def run_chain(stopping: Stopping, seed: int, chain: int, share: int) -> Iterator[StopOutcome]:
    """The stops of one chain, one after the other.

    Parameters
    ----------
    stopping : what all chains share
    seed, chain : of the instants; the luck is that of seed + SEEDS_APART (chain + CHAINS times begun anew)
    share : how many stops
    """
    gaps_us = _gaps_us(stopping.allowed, seed, chain, share + 1)
    life, moment, result = 0, None, None
    for number in range(share):
        life_seed = seed + SEEDS_APART * (chain + CHAINS * life)
        if moment is None or result is None:
            moment = _begin(stopping, life_seed)
            result = _run(stopping, moment, gaps_us[number])
        outcome, moment, result = _stop(stopping, moment, result, gaps_us, (chain, number, life_seed))
        yield outcome
        if not outcome.holds:
            life, moment, result = life + 1, None, None


def _stop(
    stopping: Stopping, before: _Moment, result: GeneralResult, gaps_us: list[int], which: tuple[int, int, int]
) -> tuple[StopOutcome, _Moment, GeneralResult]:
    """One stop at the end of a run, and the run that follows it."""
    chain, number, life_seed = which
    since_us, next_us = gaps_us[number], gaps_us[number + 1]
    left = aftermath(stopping.line, stopping.layout, before.plan, result.snapshot, since_us, stopping.speed_m_s)
    run_us = since_us + round(left.recovery_s * 1e6)
    known = _numbers(before, left.known)
    numbers = tuple(known[k] for k in sorted(one.carrier for one in left.carriers))
    after = _Moment(
        plan=plan_from(stopping.plan, left, before.on_us + run_us, run_us),
        luck=_luck_after(stopping.plan, life_seed, before.stops + 1),
        on_us=before.on_us + run_us,
        stops=before.stops + 1,
        numbers=numbers,
        next_number=max(before.next_number, known[-1] + 1),
        good=before.good + int(result.totals.good.sum()),
        flagged=before.flagged + int(result.totals.rejected.sum()) + left.newly_flagged,
        by_hand=before.by_hand + left.by_hand,
    )
    follows = _run(stopping, after, next_us)
    looked_us, looked, holds = _look(stopping, after, next_us, follows)
    first_us = _first_good_us(looked)
    start = left.start
    clean = sum((p & ~f).bit_count() for p, f in zip(start.present, start.flagged, strict=True))
    loaded = start.next_load * stopping.plan.general.nests
    outcome = StopOutcome(
        chain=chain,
        number=number,
        seed=life_seed,
        at_s=(before.on_us + since_us) / 1e6,
        since_s=since_us / 1e6,
        from_empty=before.stops == 0,
        good_before=int(result.totals.good.sum()),
        stood_before=not result.totals.good[-TAIL:].any(),
        under_way=sum(one.recovery_end_s is not None for one in left.carriers),
        rejected=left.newly_flagged,
        by_hand=left.by_hand,
        recovery_s=left.recovery_s,
        good_after_s=None if first_us is None else first_us / 1e6,
        before_next=first_us is not None and first_us < next_us,
        next_s=next_us / 1e6,
        looked_s=looked_us / 1e6,
        good=int(looked.totals.good.sum()),
        holds=holds,
        parts=PartCount(loaded, after.good, after.flagged, after.by_hand, clean),
        carriers=() if holds else tuple(replace(one, carrier=known[one.carrier]) for one in left.carriers),
        still=() if holds else _still(stopping, after, looked.snapshot, looked_us),
    )
    return outcome, after, follows


def _begin(stopping: Stopping, life_seed: int) -> _Moment:
    """The line as it begins, empty; the luck is that of `restart` with this seed."""
    plan = stopping.plan
    numbers = tuple(range(plan.carriers))
    return _Moment(plan, _luck_after(plan, life_seed, 0), 0, 0, numbers, plan.carriers)


def _numbers(moment: _Moment, known: int) -> tuple[int, ...]:
    """The number of each carrier of a run, those put in meanwhile included, as it had been in a run without stops."""
    put_in = known - len(moment.numbers)
    return (*moment.numbers, *range(moment.next_number, moment.next_number + put_in))


def _run(stopping: Stopping, moment: _Moment, horizon_us: int) -> GeneralResult:
    """The line from a moment on, its good parts counted in bins of `least_s`."""
    from linewright.flow.kernel.general.run import general_tables_of, run_general

    bin_us = min(stopping.bin_us, horizon_us)
    return run_general(moment.plan, general_tables_of(moment.plan), moment.luck, horizon_us, bin_us)


def _look(stopping: Stopping, moment: _Moment, next_us: int, follows: GeneralResult) -> tuple[int, GeneralResult, bool]:
    """The run that follows a stop, looked at farther where no good part came shortly before the next one, with its
    length and whether good parts go on coming. [us]"""
    good = follows.totals.good
    if good[-TAIL:].any():
        return next_us, follows, True
    breaks = tuple(moved for one in moment.plan.general.breaks for moved in moved_break(one, next_us))
    farther_us = next_us + look_us(stopping.allowed, breaks)
    looked = _run(stopping, moment, farther_us)
    return farther_us, looked, bool(looked.totals.good[max(len(good) - TAIL, 0) :].any())


def _first_good_us(result: GeneralResult) -> int | None:
    """When the first good part came. [us]"""
    return int(result.totals.first_us.min()) if result.totals.good.any() else None


def _luck_after(plan: TrafficPlan, life_seed: int, stops: int) -> GeneralLuck:
    """The luck of a line after so many stops. After the first, failures and the machines outside have that of another
    replication; after that it is as in `restart`, which so shows the same."""
    from linewright.flow.kernel.general.run import general_luck_of

    luck = general_luck_of(plan, life_seed, 0)
    if stops <= 1:
        return luck
    other, at = general_luck_of(plan, life_seed, stops), luck.streams
    key = luck.laws.key.copy()
    for part in (slice(at.running, at.rework), slice(at.outside, at.variant)):
        key[part] = other.laws.key[part]
    return replace(luck, laws=luck.laws._replace(key=key))


def _still(stopping: Stopping, moment: _Moment, snapshot: Snapshot, looked_us: int) -> tuple[Still, ...]:
    """The carriers that stand still at the end of a look and have stood for half of it, those first that have never
    moved since the line went on."""
    known = int(np.flatnonzero(snapshot.on_line).max(initial=-1)) + 1
    numbers = _numbers(moment, max(known, len(moment.numbers)))
    found = []
    for k in np.flatnonzero(snapshot.on_line & snapshot.at_rest).tolist():
        moved = int(snapshot.departed_us[k]) >= 0
        if moved and int(snapshot.arrives_us[k]) > looked_us // 2:
            continue
        stop, parts = int(snapshot.stop[k]), int(snapshot.present[k]).bit_count()
        where = place_words(stopping.layout.stops[stop], True)
        next_step = stopping.plan.step_names[int(snapshot.step[k])]
        found.append(Still(numbers[k], stop, where, moved, parts, next_step))
    return tuple(sorted(found, key=lambda one: (one.moved, one.carrier)))


def _gaps_us(allowed: Allowance, seed: int, chain: int, number: int) -> list[int]:
    """Times from going on to the next stop, rounded up. [us]"""
    from linewright.flow.kernel.draws import stream_key, uniform

    key = np.uint64(stream_key(seed, chain, "stops", PURPOSE_STOP))
    beyond_s = allowed.mean_s - allowed.least_s
    return [int(1e6 * (allowed.least_s - beyond_s * log(float(uniform(key, i, 0))))) + 1 for i in range(number)]
