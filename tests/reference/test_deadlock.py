"""The explorer against published and derived counts of states, transitions, deadlocks and safe states.

The nets are in `nets.py`; the systems that the records state by a rule are here. The slotted ring's net is written out
from the model file that its record cites.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from math import comb
from pathlib import Path
from typing import Any, Final

import pytest

from linewright.traffic.explore import Exploration, explore, never_moves
from reference import nets

DATA: Final = Path(__file__).parent / "data" / "deadlock.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}


def explored(made: tuple[nets.Net, int]) -> Exploration[int, str]:
    net, marking = made
    found = explore(marking, net.successors)
    assert found.complete
    return found


def counts(found: Exploration[Any, Any]) -> list[int]:
    return [found.states, found.edges, found.deadlocks, found.safe]


# ---- nets ------------------------------------------------------------------------------------------------------------


def kanban_states(cards: int) -> int:
    """P1² P2, the formula of the record."""
    n = cards
    one, rest = divmod(n**3 + 6 * n**2 + 11 * n + 6, 6)
    two, rest_of_two = divmod(3 * n**5 + 30 * n**4 + 115 * n**3 + 210 * n**2 + 182 * n + 60, 60)
    assert rest == rest_of_two == 0
    return one**2 * two


@pytest.mark.parametrize("cards", [1, 2, pytest.param(3, marks=pytest.mark.long)])
def test_kanban(cards: int) -> None:
    expected = RECORDS["kanban_net"]["expected"]
    found = explored(nets.kanban(cards))
    assert [found.states, found.edges] == expected[f"N{cards}"]
    assert found.deadlocks == expected["deadlocks"]
    assert found.states == kanban_states(cards) == found.safe


def test_kanban_by_the_formula() -> None:
    expected = RECORDS["kanban_net"]["expected"]
    assert [kanban_states(4), kanban_states(5)] == [expected["N4_states"], expected["N5_states"]]


@pytest.mark.long
def test_kanban_of_four_cards() -> None:
    expected = RECORDS["kanban_net"]["expected"]
    found = explored(nets.kanban(4))
    assert [found.states, found.deadlocks] == [expected["N4_states"], expected["deadlocks"]]
    assert found.safe == found.states


def test_a_bound_of_one_state_too_few_is_met() -> None:
    net, marking = nets.kanban(2)
    states = RECORDS["kanban_net"]["expected"]["N2"][0]
    short = explore(marking, net.successors, most_states=states - 1)
    assert (short.states, short.complete, short.found) == (states - 1, False, None)
    assert explore(marking, net.successors, most_states=states).complete


def test_dining_philosophers() -> None:
    record = RECORDS["dining_philosophers"]
    found = [explored(nets.philosophers(number)) for number in record["inputs"]["N"]]
    assert [each.states for each in found] == record["expected"]["states"]
    assert [each.edges for each in found] == record["expected"]["edges"]
    assert [each.deadlocks for each in found] == record["expected"]["deadlocks"]
    fib = [0, 1]
    while len(fib) < 20:
        fib.append(fib[-1] + fib[-2])
    assert [each.states for each in found] == [fib[3 * n + 1] + fib[3 * n - 1] for n in record["inputs"]["N"]]


def test_robot_and_machine() -> None:
    record = RECORDS["robot_machine_li"]
    expected = record["expected"]
    for at, parts in enumerate(record["inputs"]["parts"]):
        found = explored(nets.robot_and_machine(parts))
        assert counts(found) == [expected[key][at] for key in ("states", "edges", "deadlocks", "safe")]
        net = nets.robot_and_machine(parts)[0]
        for marking in found.dead:
            tokens = net.tokens(marking)
            assert tokens["loading"] == tokens["machining"] == 1
            assert "robot" not in tokens
            assert "machine" not in tokens


def test_the_remedy_of_robot_and_machine() -> None:
    for parts in RECORDS["robot_machine_li"]["inputs"]["parts"]:
        assert explored(nets.robot_and_machine(parts, remedy=True)).deadlocks == 0


def test_slotted_ring() -> None:
    record = RECORDS["slotted_ring"]
    # Five nodes are in the long suite.
    for at, nodes in enumerate(record["inputs"]["N"][:4]):
        found = explored(nets.slotted_ring(nodes))
        assert [found.states, found.edges] == [record["expected"][key][at] for key in ("states", "edges")]
        assert found.deadlocks == record["expected"]["deadlocks"]


@pytest.mark.long
def test_slotted_ring_of_five_nodes() -> None:
    expected = RECORDS["slotted_ring"]["expected"]
    found = explored(nets.slotted_ring(5))
    assert counts(found) == [expected["states"][4], expected["edges"][4], expected["deadlocks"], expected["states"][4]]


# ---- two resources ---------------------------------------------------------------------------------------------------

Jobs = tuple[int, int, int, int]


def opposed_routes(state: Jobs, capacities: tuple[int, int], policy: bool = False) -> Iterator[tuple[str, Jobs]]:
    """A goes over R1 to R2, B over R2 to R1: how many of A are on R1 and on R2, of B on R2 and on R1."""
    a1, a2, b1, b2 = state
    room_1, room_2 = capacities[0] - a1 - b2, capacities[1] - a2 - b1
    steps = (
        ("A comes", room_1 > 0, (a1 + 1, a2, b1, b2)),
        ("A changes", a1 > 0 and room_2 > 0, (a1 - 1, a2 + 1, b1, b2)),
        ("A leaves", a2 > 0, (a1, a2 - 1, b1, b2)),
        ("B comes", room_2 > 0, (a1, a2, b1 + 1, b2)),
        ("B changes", b1 > 0 and room_1 > 0, (a1, a2, b1 - 1, b2 + 1)),
        ("B leaves", b2 > 0, (a1, a2, b1, b2 - 1)),
    )
    for label, may, after in steps:
        if may and not (policy and after[0] == capacities[0] and after[2] == capacities[1]):
            yield label, after


def test_two_resources_on_opposed_routes() -> None:
    record = RECORDS["two_resource_opposed_routes"]
    expected = record["expected"]["states_edges_dead_safe"]
    for (c1, c2), numbers in zip(record["inputs"]["caps"], expected, strict=True):
        found = explore((0, 0, 0, 0), lambda state, c1=c1, c2=c2: opposed_routes(state, (c1, c2)))
        assert counts(found) == numbers
        assert found.states == comb(c1 + 2, 2) * comb(c2 + 2, 2) - 1
        # Exactly one: R1 full of A that want R2, R2 full of B that want R1.
        assert found.dead == ((c1, 0, c2, 0),)
        assert len(found.way_to(found.dead[0]).steps) == c1 + c2


def test_the_maximally_permissive_policy_keeps_all_safe_states() -> None:
    record = RECORDS["two_resource_opposed_routes"]
    for c1, c2 in record["inputs"]["caps"]:
        free = explore((0, 0, 0, 0), lambda state, c1=c1, c2=c2: opposed_routes(state, (c1, c2)))
        held = explore((0, 0, 0, 0), lambda state, c1=c1, c2=c2: opposed_routes(state, (c1, c2), policy=True))
        assert (held.states, held.deadlocks, held.safe) == (free.safe, 0, free.safe)


# ---- a single track --------------------------------------------------------------------------------------------------


def single_track(state: tuple[int, int], length: int) -> Iterator[tuple[str, tuple[int, int]]]:
    """One goes east over places 1 to L, one west over L to 1; 0 is outside, where each comes in again."""
    east, west = state
    east_next = (east + 1) % (length + 1)
    west_next = (west or length + 1) - 1
    if east_next == 0 or east_next != west:
        yield "east", (east_next, west)
    if west_next == 0 or west_next != east:
        yield "west", (east, west_next)


def test_single_track_head_on() -> None:
    record = RECORDS["single_track_head_on"]
    expected = record["expected"]["states_edges_dead_safe"]
    for length, numbers in zip(record["inputs"]["L"], expected, strict=True):
        found = explore((0, 0), lambda state, length=length: single_track(state, length))
        assert counts(found) == numbers
        assert [found.states, found.deadlocks, found.safe] == [
            (length + 1) * (length + 2) // 2,
            length - 1,
            2 * length + 1,
        ]
        stuck = never_moves(found, lambda label: (label,), lambda state: ("east", "west"))
        assert set(stuck) == set(found.dead)
        assert set(stuck.values()) <= {("east", "west")}


# ---- rings -----------------------------------------------------------------------------------------------------------


def ring_of_alike(state: frozenset[int], stops: int) -> Iterator[tuple[int, frozenset[int]]]:
    """The occupied stops; a carrier may go on to the next stop if that is empty. The label is the stop it leaves."""
    for stop in sorted(state):
        after = (stop + 1) % stops
        if after not in state:
            yield stop, state - {stop} | {after}


def ring_of_named(state: tuple[int, ...], stops: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """The stop of each carrier; the label is who moves."""
    for carrier, stop in enumerate(state):
        after = (stop + 1) % stops
        if after not in state:
            yield carrier, (*state[:carrier], after, *state[carrier + 1 :])


def test_ring_of_indistinguishable_carriers() -> None:
    record = RECORDS["ring_indistinguishable"]
    keys = ("states", "moves", "deadlocked")
    for at, (stops, carriers) in enumerate(record["inputs"]["cases"]):
        found = explore(frozenset(range(carriers)), lambda state, stops=stops: ring_of_alike(state, stops))
        assert [found.states, found.edges, found.deadlocks] == [record["expected"][key][at] for key in keys]
        assert found.safe == found.states
        if carriers < stops:
            assert [found.states, found.edges] == [comb(stops, carriers), stops * comb(stops - 2, carriers - 1)]
        stuck = never_moves(found, lambda stop: (stop,), sorted)
        assert stuck == ({found.reached[0]: tuple(range(stops))} if carriers == stops else {})


def test_ring_of_labelled_carriers() -> None:
    record = RECORDS["ring_labelled"]
    for (stops, carriers), reachable in zip(record["inputs"]["cases"], record["expected"]["reachable"], strict=True):
        found = explore(tuple(range(carriers)), lambda state, stops=stops: ring_of_named(state, stops))
        assert found.states == reachable == carriers * comb(stops, carriers)
        assert found.deadlocks == 0
        assert never_moves(found, lambda carrier: (carrier,), lambda state: range(len(state))) == {}
