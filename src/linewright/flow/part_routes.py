"""Where carriers go with their loads: the stays at steps, their chances, the parts worked on and the good ones made."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from linewright.traffic.general import NO_WAY, Rework, Variant
from linewright.traffic.plan import Chance, TrafficPlan

END: Final = -1
"""In place of a stay: the load is over, and the carrier goes to the first step without a part."""

State = tuple[int, int, int, int, tuple[int, ...]]
"""Reworks so far, step, variant, parts that are not flagged, parts flagged for each exit."""


@dataclass(frozen=True)
class Stay:
    """A carrier's stay at a step, of one kind.

    Parameters
    ----------
    step, variant : numbers; variant 0 where there are none
    parts : that are worked on there
    reached : mean number of such stays per load
    leaving : mean number of parts that leave the carrier there
    after : what follows: (chance, number of the stay or END)
    """

    step: int
    variant: int
    parts: int
    reached: float
    leaving: float
    after: tuple[tuple[float, int], ...]


@dataclass(frozen=True, eq=False)
class Journey:
    """Where carriers of one kind go with a load.

    Parameters
    ----------
    carriers : of this kind
    stays : in an order in which what follows stands behind
    first : how a load begins: (chance, number of the stay)
    good : mean number of good parts per load
    """

    carriers: int
    stays: tuple[Stay, ...]
    first: tuple[tuple[float, int], ...]
    good: float

    def visits(self, step: int) -> float:
        """Mean stays at a step per load."""
        return sum(stay.reached for stay in self.stays if stay.step == step)


def journeys(plan: TrafficPlan, carriers: int) -> tuple[Journey, ...]:
    """Where a plan's carriers go: one journey, or one for each fixture set.

    Parameters
    ----------
    plan : a traffic plan
    carriers : how many there are, where there are no fixture sets

    Raises
    ------
    ValueError   A step flags parts and no exit follows, parallel stations treat parts differently (which no line file
        may say), or nests and rework together.

    Notes
    -----
    A part's fate at a step: missing (at the first), flagged, sent back or good, each nest for itself.
    """
    general = plan.general
    if not general.variants:
        return (_journey(plan, carriers, [1.0]),)
    if general.sequence:
        shares = [general.sequence.count(v) / len(general.sequence) for v in range(len(general.variants))]
        return (_journey(plan, carriers, shares),)
    shares = [variant.share for variant in general.variants]
    if not general.fixture_sets:
        return (_journey(plan, carriers, _to_one(shares)),)
    return tuple(
        _journey(plan, each.carriers, _to_one([s if v in each.variants else 0.0 for v, s in enumerate(shares)]))
        for each in general.fixture_sets
        if each.carriers > 0
    )


def _to_one(shares: Sequence[float]) -> list[float]:
    total = math.fsum(shares)
    if total <= 0.0:
        raise ValueError("no variant has a share")
    return [share / total for share in shares]


def _journey(plan: TrafficPlan, carriers: int, shares: Sequence[float]) -> Journey:
    fates = _Fates(plan)
    begin = {fates.begin(v): share for v, share in enumerate(shares) if share > 0.0}
    reached: dict[State, float] = dict(begin)
    ways: dict[State, list[tuple[float, State | None]]] = {}
    gone: dict[State, tuple[float, float]] = {}
    waiting = list(begin)
    heapq.heapify(waiting)
    # A state's followers have more reworks or a later step: by ascending order each is met when all before it are.
    while waiting:
        state = heapq.heappop(waiting)
        if state in ways:
            continue
        ways[state], good, leaving = [], 0.0, 0.0
        for chance, after, good_parts, parts in fates.after(state):
            ways[state].append((chance, after))
            good += chance * good_parts
            leaving += chance * parts
            if after is not None:
                if after not in reached:
                    heapq.heappush(waiting, after)
                reached[after] = reached.get(after, 0.0) + reached[state] * chance
        gone[state] = good, leaving
    order = sorted(ways)
    number = {state: k for k, state in enumerate(order)}
    stays = tuple(
        Stay(
            step=state[1],
            variant=state[2],
            parts=fates.worked(state),
            reached=reached[state],
            leaving=gone[state][1],
            after=tuple((chance, END if after is None else number[after]) for chance, after in ways[state]),
        )
        for state in order
    )
    good = math.fsum(reached[state] * gone[state][0] for state in order)
    return Journey(carriers, stays, tuple((share, number[state]) for state, share in begin.items()), good)


class _Fates:
    """What the parts of a carrier may become at a step, and where it goes then."""

    def __init__(self, plan: TrafficPlan) -> None:
        general = plan.general
        self._plan = plan
        self._nests = general.nests
        self._exits = [p for p, is_exit in enumerate(plan.step_exit) if is_exit]
        self._variants = general.variants or (Variant("", 1.0),)
        for p in range(len(plan.step_names)):
            self._check_alike(p)
        self._missing = general.misses[plan.step_stations[0][0]] if general.misses else 0.0
        self._rework = [self._rework_at(stations[0]) for stations in plan.step_stations]
        if self._nests > 1 and any(self._rework):
            raise ValueError("a carrier with several nests has no rework")

    def _rework_at(self, station: int) -> Rework | None:
        return next((rework for rework in self._plan.general.rework if rework.station == station), None)

    def _check_alike(self, step: int) -> None:
        """What becomes of parts must not hang on the station where they are worked: who works on how many is not
        known."""
        general = self._plan.general

        def fate(station: int) -> tuple[object, ...]:
            rework = self._rework_at(station)
            return (
                _share(self._plan.reject[station]),
                general.misses[station] if general.misses else 0.0,
                general.exits[station] if general.exits else NO_WAY,
                None if rework is None else (rework.share, rework.step, rework.at_most),
            )

        if len({fate(station) for station in self._plan.step_stations[step]}) > 1:
            raise ValueError(f"the parallel stations of step {self._plan.step_names[step]} treat parts differently")

    def begin(self, variant: int) -> State:
        return (0, 0, variant, self._nests, (0,) * len(self._exits))

    def worked(self, state: State) -> int:
        """Parts worked on: at an exit those flagged for it, elsewhere those not flagged."""
        return state[4][self._exits.index(state[1])] if self._plan.step_exit[state[1]] else state[3]

    def after(self, state: State) -> Iterator[tuple[float, State | None, int, int]]:
        """(chance, state that follows or None, good parts, parts that leave)"""
        visit, step, variant, good, flagged = state
        if self._plan.step_exit[step]:
            place = self._exits.index(step)
            rest = (*flagged[:place], 0, *flagged[place + 1 :])
            yield 1.0, self._next(visit, step, variant, good, rest), 0, flagged[place]
            return
        rework = self._rework[step]
        for chance, kept, bad in self._drawn(step, good, visit):
            if rework is None or kept == 0 or rework.share <= 0.0:
                yield self._going(chance, state, kept, bad)
                continue
            if rework.share < 1.0:
                yield self._going(chance * (1.0 - rework.share), state, kept, bad)
            if visit < rework.at_most:
                yield chance * rework.share, (visit + 1, rework.step, variant, kept, flagged), 0, 0
            else:
                yield self._going(chance * rework.share, state, 0, kept)

    def _drawn(self, step: int, good: int, visit: int) -> Iterator[tuple[float, int, int]]:
        """(chance, good parts, flagged parts) of those worked on."""
        flag = _share(self._plan.reject[self._plan.step_stations[step][0]])
        missing = self._missing if step == 0 and visit == 0 else 0.0
        for absent in range(good + 1):
            there = _binomial(good, absent, missing)
            for bad in range(good - absent + 1):
                chance = there * _binomial(good - absent, bad, flag) if there > 0.0 else 0.0
                if chance > 0.0:
                    yield chance, good - absent - bad, bad

    def _going(self, chance: float, state: State, kept: int, bad: int) -> tuple[float, State | None, int, int]:
        visit, step, variant, _, flagged = state
        if bad:
            place = self._exits.index(self._exit_from(step))
            flagged = (*flagged[:place], flagged[place] + bad, *flagged[place + 1 :])
        leaving = kept if not any(self._does(variant, p) for p in range(step + 1, len(self._plan.step_names))) else 0
        return chance, self._next(visit, step, variant, kept - leaving, flagged), leaving, leaving

    def _exit_from(self, step: int) -> int:
        given = self._plan.general.exits
        named = given[self._plan.step_stations[step][0]] if given else NO_WAY
        found = named if named >= 0 else next((p for p in self._exits if p > step), NO_WAY)
        if found <= step:
            raise ValueError("a step flags parts, but no exit follows")
        return found

    def _does(self, variant: int, step: int) -> bool:
        """Whether good parts of a variant come to a step in the course of the route."""
        alone = step in self._plan.general.rework_alone
        return not (self._plan.step_exit[step] or alone or step in self._variants[variant].skips)

    def _next(self, visit: int, step: int, variant: int, good: int, flagged: tuple[int, ...]) -> State | None:
        for p in range(step + 1, len(self._plan.step_names)):
            if (p in self._exits and flagged[self._exits.index(p)]) or (good and self._does(variant, p)):
                return (visit, p, variant, good, flagged)
        return None


def _share(chance: Chance) -> float:
    # Serials that are given to be flagged are used up in the long run.
    return 0.0 if chance.given is not None else chance.share


def _binomial(total: int, hits: int, share: float) -> float:
    return math.comb(total, hits) * share**hits * (1.0 - share) ** (total - hits)
