"""The explorer against naive fixpoints, its bound, its ways, and who can never move again."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import count

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from linewright.traffic.explore import explore, never_moves

System = dict[int, list[tuple[str, int]]]


def random_system(seed: int, states: int = 14, labels: str = "abcd") -> System:
    """Few transitions a state, some given twice, some back to the same state, some states with none."""
    luck = random.Random(seed)
    degree = luck.choice([1, 2, 3])
    return {
        state: [(luck.choice(labels), luck.randrange(states)) for _ in range(luck.randint(0, degree))]
        for state in range(states)
    }


def naive_reach(system: System, starts: set[int]) -> set[int]:
    reached = set(starts)
    while True:
        more = {after for state in reached for _, after in system[state]} - reached
        if not more:
            return reached
        reached |= more


# ---- counts ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_random_systems_against_a_naive_fixpoint(seed: int) -> None:
    system = random_system(seed)
    starts = [0] if seed % 2 else [0, 5, 0]
    found = explore(starts, system.__getitem__)
    reached = naive_reach(system, set(starts))
    assert found.complete
    assert found.expanded == found.states
    assert set(found.reached) == reached
    assert found.states == len(reached)
    edges = {(state, label, after) for state in reached for label, after in system[state]}
    assert found.edges == len(edges)
    assert sorted(found.transitions()) == sorted(edges)
    assert set(found.dead) == {state for state in reached if not system[state]}
    assert found.safe == sum(1 for state in reached if naive_reach(system, {state}) & set(starts))


def test_a_transition_counts_once_and_two_labels_are_two() -> None:
    found = explore(0, {0: [("a", 1), ("a", 1), ("b", 1), ("a", 0)], 1: []}.__getitem__)
    assert (found.states, found.edges, found.dead) == (2, 3, (1,))


def test_each_state_is_asked_about_once() -> None:
    asked = []

    def successors(state: int) -> Iterator[tuple[str, int]]:
        asked.append(state)
        return iter(random_system(3)[state])

    found = explore(0, successors)
    assert asked == list(found.reached)


# ---- starts ----------------------------------------------------------------------------------------------------------


def test_a_tuple_is_one_state_and_a_list_a_set_or_an_iterator_several() -> None:
    assert explore((1, 2), lambda _: ()).reached == ((1, 2),)
    assert explore(frozenset({1}), lambda _: ()).reached == (frozenset({1}),)
    for several in ([1, 2], {1, 2}, iter([1, 2]), (state for state in (1, 2, 1))):
        found = explore(several, lambda _: ())
        assert (found.reached, found.starts, found.safe) == ((1, 2), 2, 2)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="no state to start from"):
        explore([], lambda _: ())
    for most in (0, -1, 2**31):
        with pytest.raises(ValueError, match="most_states must be from 1 to 2147483647, not"):
            explore(0, lambda _: (), most_states=most)


# ---- the bound -------------------------------------------------------------------------------------------------------


class Held:
    """A state that knows how many of its kind are alive."""

    alive = most = 0

    def __init__(self, number: int) -> None:
        self.number = number
        Held.alive += 1
        Held.most = max(Held.most, Held.alive)

    def __del__(self) -> None:
        Held.alive -= 1

    def __hash__(self) -> int:
        return self.number

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Held) and other.number == self.number


@pytest.mark.parametrize("bound", [1, 2, 50, 300])
def test_the_bound_ends_a_search_without_end_and_no_more_is_held(bound: int) -> None:
    Held.alive = Held.most = 0
    found = explore(Held(0), lambda state: ((k, Held(2 * state.number + k)) for k in (1, 2)), most_states=bound)
    assert (found.states, found.complete, found.found) == (bound, False, None)
    # One more is on the way in: it is looked at and let go.
    assert Held.most <= bound + 1
    # All transitions that are told are known to their end.
    assert found.expanded == (bound - 1) // 2
    assert found.edges == 2 * found.expanded
    assert found.deadlocks == 0


def test_the_bound_counts_the_starts() -> None:
    found = explore(count(), lambda _: (), most_states=7)
    assert (found.reached, found.complete, found.expanded) == (tuple(range(7)), False, 0)
    assert explore([0, 1, 0], lambda _: (), most_states=2).complete


def test_a_bound_that_just_suffices_is_not_met() -> None:
    def countdown(state: int) -> list[tuple[str, int]]:
        return [("down", state - 1)] if state else []

    assert explore(9, countdown, most_states=10).complete
    assert not explore(9, countdown, most_states=9).complete


def test_nothing_is_said_of_all_states_after_a_search_that_ended_early() -> None:
    for found in (explore(count(), lambda _: (), most_states=3), explore(0, lambda _: (), stop_at=lambda _: True)):
        with pytest.raises(ValueError, match="not complete"):
            _ = found.safe
        with pytest.raises(ValueError, match="not complete"):
            never_moves(found, lambda _: (), lambda _: ())


# ---- ways ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_ways_are_as_short_as_those_of_another_library(seed: int) -> None:
    system = random_system(seed, states=300)
    system[0] = [("a", state) for state in range(1, 300, 30)]
    rows = [state for state, steps in system.items() for _ in steps]
    columns = [after for steps in system.values() for _, after in steps]
    matrix = csr_array((np.ones(len(rows)), (rows, columns)), shape=(300, 300))
    distances = dijkstra(matrix, indices=[0, 7], unweighted=True, min_only=True)
    found = explore([0, 7], system.__getitem__)
    assert found.states == np.isfinite(distances).sum() > 10
    lengths = []
    for state in found.reached:
        way = found.way_to(state)
        at = way.start
        assert at in (0, 7)
        for label, after in way.steps:
            assert (label, after) in system[at]
            at = after
        assert at == state
        assert len(way.steps) == distances[state]
        lengths.append(len(way.steps))
    assert lengths == sorted(lengths)


@pytest.mark.parametrize("seed", range(20))
def test_the_state_found_is_a_nearest_one(seed: int) -> None:
    system = random_system(seed, states=40)
    all_of_it = explore(0, system.__getitem__)
    wanted = [state for state in all_of_it.reached if state % 5 == 3]
    found = explore(0, system.__getitem__, stop_at=lambda state: state % 5 == 3)
    if not wanted:
        assert (found.complete, found.found) == (True, None)
        return
    assert not found.complete
    assert found.found is not None
    least = min(len(all_of_it.way_to(state).steps) for state in wanted)
    assert len(found.way_to(found.found).steps) == least
    assert [state for state in found.reached if state % 5 == 3] == [found.found]


def test_a_start_may_be_what_is_searched_for() -> None:
    found = explore([4, 5], lambda state: [("on", state + 1)], stop_at=lambda state: state == 5)
    assert (found.found, found.way_to(5).start, found.way_to(5).steps) == (5, 5, ())


def test_there_is_no_way_to_what_was_not_met() -> None:
    with pytest.raises(ValueError, match="this state was not met: 1"):
        explore(0, lambda _: ()).way_to(1)


# ---- who never moves again -------------------------------------------------------------------------------------------

Place = frozenset[int]
# The stop that is left, the stop that is reached or None where a carrier is taken off; (None, None) where work ends.
Move = tuple[int | None, int | None]
Traffic = dict[Place, list[tuple[Move, Place]]]


def random_traffic(seed: int) -> Traffic:
    """Stops 0 to 4; in each state some carriers may go to some empty stops, be taken off, or work end."""
    luck = random.Random(seed)
    steps: Traffic = {}
    for number in range(32):
        place = frozenset(stop for stop in range(5) if number >> stop & 1)
        steps[place] = []
        for before in place:
            for after in set(range(5)) - place:
                if luck.random() < 0.12:
                    steps[place].append(((before, after), place - {before} | {after}))
            if luck.random() < 0.03:
                steps[place].append(((before, None), place - {before}))
        if luck.random() < 0.2:
            steps[place].append(((None, None), place))
    return steps


def who_leaves(move: Move) -> tuple[int, ...]:
    return () if move[0] is None else (move[0],)


def can_move_again(steps: Traffic) -> set[tuple[Place, int]]:
    """Naive: the carrier on a stop moves in the next transition, or is on the same stop after it and moves later."""
    can: set[tuple[Place, int]] = set()
    while True:
        more = {
            (place, stop)
            for place in steps
            for stop in place
            for (before, _), after in steps[place]
            if before == stop or (after, stop) in can
        } - can
        if not more:
            return can
        can |= more


@pytest.mark.parametrize("seed", range(40))
def test_who_never_moves_against_a_naive_double_loop(seed: int) -> None:
    steps = random_traffic(seed)
    found = explore(list(steps), steps.__getitem__)
    can = can_move_again(steps)
    expected = {place: tuple(stop for stop in sorted(place) if (place, stop) not in can) for place in found.reached}
    stuck = never_moves(found, who_leaves, sorted)
    assert stuck == {place: stops for place, stops in expected.items() if stops}
    assert list(stuck) == [place for place in found.reached if expected[place]]


@pytest.mark.parametrize("seed", range(6))
def test_a_stop_stands_for_the_carrier_on_it(seed: int) -> None:
    """With names of their own, every carrier followed wherever it goes, just as many can never move again."""
    steps = random_traffic(seed)
    stuck = never_moves(explore(list(steps), steps.__getitem__), who_leaves, sorted)
    assert stuck

    def named(state: tuple[int | None, ...]) -> Iterator[tuple[Move, tuple[int | None, ...]]]:
        for (before, after), _ in steps[frozenset(stop for stop in state if stop is not None)]:
            yield (before, after), state if before is None else tuple(after if s == before else s for s in state)

    for place in steps:
        start = tuple(sorted(place))
        reached = explore(start, named).reached
        still = {carrier for state in reached for carrier, stop in enumerate(state) if stop != start[carrier]}
        assert stuck.get(place, ()) == tuple(stop for carrier, stop in enumerate(start) if carrier not in still)


@pytest.mark.parametrize("seed", range(40))
def test_who_never_moves_in_random_systems(seed: int) -> None:
    """Who moves is the label; strong components of every shape."""
    system = random_system(seed, states=25)
    found = explore(0, system.__getitem__)
    expected = {}
    for state in found.reached:
        still = {label for after in naive_reach(system, {state}) for label, _ in system[after]}
        if set("abcd") - still:
            expected[state] = tuple(sorted(set("abcd") - still))
    assert never_moves(found, lambda label: (label,), lambda _: "abcd") == expected


def test_a_carrier_that_nobody_ever_moves_and_two_that_move_at_once() -> None:
    found = explore("x", {"x": [((0, 1), "y")], "y": []}.__getitem__)
    assert never_moves(found, lambda who: who, lambda _: (0, 1, 2)) == {"x": (2,), "y": (0, 1, 2)}


def test_a_long_way_needs_no_deep_recursion() -> None:
    last = 20_000
    found = explore(0, lambda state: [(0, state + 1)] if state < last else [(1, 0)])
    assert never_moves(found, lambda label: (label,), lambda _: (0, 1)) == {}
    assert found.safe == last + 1
    assert len(found.way_to(last).steps) == last
