"""The line as the program itself moves it, all ends of work apart: each time one work ends, and everybody goes as far
as the rules let them, downstream first, before the next one does.

What may happen so is a small part of what may happen at all, and the kernel can be led through it: it is where ways
into a jam are looked for.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from linewright.traffic.explore import explore
from linewright.traffic.gridlock.ring import Ring
from linewright.traffic.gridlock.system import Happening, State, System
from linewright.traffic.rules import NO_STOP

MOST_KNOWN: Final = 20_000
"""States whose steps are kept while ways are tried."""
PULL: Final = 4
"""Ends of work that are thought to be saved by each stop of the ring that is filled."""
NEARLY: Final = 3
"""A jam is looked for once no more stops of the ring than this are free."""


@dataclass(frozen=True)
class WayIn:
    """A way into a jam by ends of work.

    Parameters
    ----------
    steps : what ends or comes, and the settled state before it
    last : the state of the jam
    shortest : no way of fewer steps exists
    """

    steps: tuple[tuple[State, Happening, State], ...]
    last: State
    shortest: bool


def settle(system: System, state: State) -> State:
    """Everybody goes as far as the rules let them, until nobody can, or until they come round and would for ever."""
    passed = {state}
    while True:
        after = _settle_once(system, state)
        if after is state or after in passed:
            return state
        passed.add(after)
        state = after


def _settle_once(system: System, state: State) -> State:
    begin, occupied = state, system.occupied(state)
    still = system.still_lanes(state) if system.plan.general.together else frozenset()
    for stop in range(len(state.posts) - 1, -1, -1):
        number = state.posts[stop]
        if number < 0 or system.is_in_work(stop, number) or not system.may_leave(state, stop):
            continue
        if system.must_unlock(state, stop):
            _, state = system.unlocked(state, stop)
        options = system.options(state, stop, occupied)
        target = options[-1].target if options else NO_STOP
        if still and options and still & system.lanes_of_move(stop, target):
            continue
        if options and not system.gives_way(state, stop, target, occupied):
            _, state = system.moved(state, stop, target)
            occupied += (1 << target) - (1 << stop)
    if state is begin:
        for stop, number in enumerate(state.posts):
            if number >= 0 and system.must_load(stop, number):
                state = next((after for _, after in system.loads(state, stop)), state)
    if state is begin:
        for _, after in system.of_platforms(state):
            return after
        for happening, after in system.changes(state, occupied):
            if happening.kind != "change comes":
                return after
    return state


def settled_steps(system: System, state: State) -> Iterator[tuple[Happening, State]]:
    """What may end or come next, and where everybody has gone then."""
    for happening, after in next_ends(system, state):
        yield happening, settle(system, after)


def next_ends(system: System, state: State) -> Iterator[tuple[Happening, State]]:
    """The works that may end, and the change of carriers that may come; nobody has gone on then."""
    for stop, number in enumerate(state.posts):
        if number >= 0 and system.is_in_work(stop, number):
            yield from system.ends_of_work(state, stop)
    for happening, after in system.changes(state, system.occupied(state)):
        if happening.kind == "change comes":
            yield happening, after


def shortest_way_in(system: System, starts: list[State], most_states: int) -> tuple[WayIn | None, bool]:
    """The way into a jam with the fewest ends of work, and whether the search went to the end."""
    found = explore(
        list(dict.fromkeys(settle(system, start) for start in starts)),
        lambda state: settled_steps(system, state),
        most_states,
        lambda state: bool(system.stuck(state)),
    )
    if found.found is None:
        return None, found.complete
    way = found.way_to(found.found)
    states = (way.start, *(state for _, state in way.steps))
    steps = tuple((states[i], label, state) for i, (label, state) in enumerate(way.steps))
    return WayIn(steps, found.found, shortest=True), True


def guided_way_in(system: System, starts: list[State], ring: Ring, most_states: int) -> WayIn | None:
    """A way into a jam, looked for where the stops of a ring are filled first."""
    wanted = {node.stop for node in ring.nodes}

    def missing(state: State) -> int:
        return sum(state.posts[stop] < 0 or system.is_in_work(stop, state.posts[stop]) for stop in wanted)

    came: dict[State, tuple[State, Happening] | None] = {settle(system, start): None for start in starts}
    queue = [(missing(first), 0, count, first) for count, first in enumerate(came)]
    heapq.heapify(queue)
    count = len(queue)
    while queue:
        _, depth, _, state = heapq.heappop(queue)
        if missing(state) <= NEARLY and system.stuck(state):
            steps = []
            last = state
            while (before := came[state]) is not None:
                steps.append((before[0], before[1], state))
                state = before[0]
            return WayIn(tuple(reversed(steps)), last, shortest=False)
        for happening, after in settled_steps(system, state):
            if after not in came:
                if len(came) == most_states:
                    return None
                came[after] = state, happening
                count += 1
                heapq.heappush(queue, (depth + 1 + PULL * missing(after), depth + 1, count, after))
    return None


def any_way_in(system: System, starts: list[State], tries: int, most_steps: int, seed: int) -> WayIn | None:
    """A way into a jam, looked for by letting some stations be slow and others flag much, in many ways; the shortest of
    those found."""
    luck = random.Random(seed)
    settled = [settle(system, start) for start in starts]
    known: dict[State, list[tuple[Happening, State]]] = {}
    best: WayIn | None = None
    for _ in range(tries):
        found = _one_way(system, luck.choice(settled), most_steps, luck, known)
        if found is not None:
            best, most_steps = found, len(found.steps) - 1
            if most_steps < 1:
                break
    return best


def _one_way(
    system: System,
    state: State,
    most_steps: int,
    luck: random.Random,
    known: dict[State, list[tuple[Happening, State]]],
) -> WayIn | None:
    """One random way: each station and each outcome has a weight of its own."""
    rank = [luck.random() ** 3 for _ in state.posts]
    taste: dict[int, float] = {}
    steps: list[tuple[State, Happening, State]] = []
    for _ in range(most_steps + 1):
        if system.stuck(state):
            return WayIn(_without_rounds(steps), state, shortest=False)
        if state not in known:
            if len(known) > MOST_KNOWN:
                known.clear()
            known[state] = list(settled_steps(system, state))
        if not known[state]:
            break
        weights = [
            (rank[one.start] if one.start >= 0 else 0.05) * taste.setdefault(one.post, luck.random()) + 1e-6
            for one, _ in known[state]
        ]
        happening, after = luck.choices(known[state], weights)[0]
        steps.append((state, happening, after))
        state = after
    return None


def _without_rounds(steps: list[tuple[State, Happening, State]]) -> tuple[tuple[State, Happening, State], ...]:
    """The same way, cut where it comes to a state again."""
    last = {state: i for i, (state, _, _) in enumerate(steps)}
    found, i = [], 0
    while i < len(steps):
        i = last[steps[i][0]]
        found.append(steps[i])
        i += 1
    return tuple(found)
