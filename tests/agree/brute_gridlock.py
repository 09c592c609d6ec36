"""Every state of a small traffic plan, gone through one by one: whether it can lock up.

Written from the section "Gridlock" of docs/semantics.md and what it refers to, apart from the prover. Slow and plain on
purpose: states are tuples, the whole graph is kept, and of every state it is reckoned which of the carriers in it can
leave their stops in some continuation.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from agree.brute_model import NOBODY, Change, Model, State, occupied
from agree.brute_starts import placements, planned_starts
from linewright.traffic.plan import TrafficPlan


@dataclass(frozen=True)
class BruteVerdict:
    """What going through all states says.

    Parameters
    ----------
    jams : some state that can be reached has a carrier that can never leave its stop; None if not all were gone through
    states : how many states can be reached, as far as they were gone through
    complete : all were gone through
    first : where the shortest way into a jam begins; None without one
    way : its transitions, the last into the state of the jam; () where the first is one already
    stuck : the stops on which carriers stand that can never leave, in that state
    moves : every (stop left, stop reserved) that some reservation made
    """

    jams: bool | None
    states: int
    complete: bool
    first: State | None = None
    way: tuple[Change, ...] = ()
    stuck: tuple[int, ...] = ()
    moves: frozenset[tuple[int, int]] = frozenset()


def brute_from_start(plan: TrafficPlan, most_states: int) -> BruteVerdict:
    """Go through every state that can be reached from the planned start.

    Parameters
    ----------
    most_states : beyond so many states the search is given up; the verdict is not complete then

    Raises
    ------
    ValueError   What the plan combines has no meaning in the text.
    """
    model = Model(plan)
    return _gone_through(model, planned_starts(model), most_states)


def brute_from_any_placement(plan: TrafficPlan, most_states: int) -> BruteVerdict:
    """Go through every state that can be reached from any placement of the carriers; see `brute_from_start`."""
    model = Model(plan)
    return _gone_through(model, placements(model), most_states)


# ---- the graph ----


def _gone_through(model: Model, starts: Iterable[State], most_states: int) -> BruteVerdict:
    """All states in breadth, then which of them are jams."""
    number: dict[State, int] = {}
    states: list[State] = []
    came_by: list[tuple[int, Change] | None] = []

    def found(state: State, by: tuple[int, Change] | None) -> int:
        if state not in number:
            number[state] = len(states)
            states.append(state)
            came_by.append(by)
        return number[state]

    for state in starts:
        found(state, None)
        if len(states) > most_states:
            return BruteVerdict(None, len(states), complete=False)
    edges: list[list[tuple[int, int]]] = []
    moves = set()
    for here, state in enumerate(states):  # grows meanwhile
        edges.append([])
        for change in model.changes(state):
            edges[here].append((change.start, found(change.after, (here, change))))
            if change.what == "moves":
                moves.add((change.start, change.stop))
        if len(states) > most_states:
            return BruteVerdict(None, len(states), complete=False)
    free = _who_can_leave(states, edges)
    for here, state in enumerate(states):
        stuck = tuple(stop for stop in occupied(state) if not free[here] & 1 << stop)
        if stuck:
            first, way = _way_to(here, states, came_by)
            return BruteVerdict(True, len(states), True, first, way, stuck, frozenset(moves))
    return BruteVerdict(False, len(states), True, moves=frozenset(moves))


def _who_can_leave(states: list[State], edges: list[list[tuple[int, int]]]) -> list[int]:
    """Of each state the stops whose carriers can leave in some continuation, as bits.

    A carrier can leave if it does so by a transition of the state, or if after a transition by which another one or
    none leaves, it still can; it stands on the same stop then, so that the stop names it.
    """
    standing = [sum(1 << stop for stop in occupied(state)) for state in states]
    before: list[list[tuple[int, int]]] = [[] for _ in states]
    for here, out in enumerate(edges):
        for start, there in out:
            before[there].append((start, here))
    free = [0] * len(states)
    for here, out in enumerate(edges):
        for start, _ in out:
            if start != NOBODY:
                free[here] |= 1 << start
    to_do = deque(range(len(states)))
    waiting = [True] * len(states)
    while to_do:
        there = to_do.popleft()
        waiting[there] = False
        for start, here in before[there]:
            gained = free[there] & standing[here]
            if start != NOBODY:
                gained &= ~(1 << start)  # after it leaves, another may have come to its stop
            if gained & ~free[here]:
                free[here] |= gained
                if not waiting[here]:
                    waiting[here] = True
                    to_do.append(here)
    return free


def _way_to(
    here: int, states: list[State], came_by: list[tuple[int, Change] | None]
) -> tuple[State, tuple[Change, ...]]:
    """Where the shortest way to a state begins, and its transitions."""
    way: list[Change] = []
    by = came_by[here]
    while by is not None:
        here, change = by
        way.append(change)
        by = came_by[here]
    return states[here], tuple(reversed(way))
