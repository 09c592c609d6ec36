"""What is told of a jam: who stands where, every step of the way, who holds whom, and what never works again."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from agree.small_plans import Small, plan_of
from agree.small_routes import RING, SPUR, Shape
from linewright.flow.gridlock import gridlock_of_plan
from linewright.flow.gridlock.replay import PAUSE_US, Ended, Replay
from linewright.flow.gridlock.story import carries, jam_of, standings, start_of, way_of
from linewright.traffic.general import General, Stretch, Variant
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.errands import NO_VARIANT, Errand
from linewright.traffic.gridlock.result import Standing, WayStep
from linewright.traffic.gridlock.ring import Post
from linewright.traffic.gridlock.system import State, System

EMPTY, LOADED = Errand(0, NO_VARIANT, False, 0, 0), Errand(1, NO_VARIANT, True, 0, 0)


def system_of(count: int, stations: dict[int, int], carriers: int, general: General | None = None) -> System:
    """A ring of stops; stations: the step of the station on each stop that has one."""
    return Prover(
        plan_of(Small("ring", Shape((count,), RING), tuple(stations.items()), carriers, general=general))
    ).system


@functools.cache
def two_ends() -> tuple[System, Replay]:
    """On five stops 3 and 4 are stations of step 0, 2 that of step 1; carriers begin on 4, 1 and 0. The jam that comes
    when both works have ended, written by hand as the kernel makes it."""
    system = system_of(5, {2: 1, 3: 0, 4: 0}, 3)
    empty, loaded = system.number(Post(EMPTY)), system.number(Post(LOADED))
    moves = [[1, 0, 1, 3, 0, 0], [2, 20_000, 0, 1, 0, 0], [0, 2 * PAUSE_US, 4, 0, 0, 0]]
    return system, Replay(
        jam_us=3 * PAUSE_US,
        moves=np.array(moves, np.int64),
        ended=(Ended(PAUSE_US, 1, 3, LOADED), Ended(2 * PAUSE_US, 0, 4, LOADED)),
        stuck=frozenset({0, 1, 3}),
        state=State((loaded, empty, -1, loaded, -1)),
        carrier_at=(0, 2, -1, 1, -1),
        worked=frozenset(),
    )


# ---- words -----------------------------------------------------------------------------------------------------------


def test_what_is_aboard_in_words() -> None:
    plain = system_of(4, {1: 0, 3: 1}, 1)
    assert carries(plain, EMPTY) == "nothing"
    assert carries(plain, LOADED) == "a part"
    assert carries(plain, Errand(1, NO_VARIANT, False, 2, 0)) == "a flagged part"
    assert carries(plain, Errand(1, NO_VARIANT, True, 2, 0)) == "parts, some flagged"
    variants = General(variants=(Variant("red", 0.5), Variant("blue", 0.5, (1,))))
    coloured = system_of(4, {1: 0, 2: 1, 3: 2}, 1, variants)
    assert carries(coloured, Errand(1, 0, True, 0, 0)) == "a part of red"
    assert carries(coloured, Errand(2, 1, False, 4, 0)) == "a flagged part of blue"


# ---- the way ---------------------------------------------------------------------------------------------------------


def test_everybody_at_the_start() -> None:
    system, _ = two_ends()
    told, at = start_of(system)
    assert at == (2, 1, -1, -1, 0)
    assert [(one.carrier, one.stop, one.worked) for one in told] == [(2, 0, True), (1, 1, True), (0, 4, False)]
    assert {(one.step, one.carries, one.held_by, one.reason) for one in told} == {(0, "nothing", None, "")}


def test_the_way_in_the_order_of_time() -> None:
    system, replay = two_ends()
    assert way_of(system, replay, start_of(system)[0]) == (
        WayStep("moves", 0, 1, 1, 3, 0, "nothing"),
        WayStep("moves", 20_000, 2, 0, 1, 0, "nothing"),
        WayStep("work ends", PAUSE_US, 1, 3, 3, 1, "a part"),
        WayStep("work ends", 2 * PAUSE_US, 0, 4, 4, 1, "a part"),
        # It moves in the microsecond in which its work ends, and that is told first.
        WayStep("moves", 2 * PAUSE_US, 0, 4, 0, 1, "a part"),
    )


def test_a_change_of_carriers_is_no_step_of_a_carrier() -> None:
    system, replay = two_ends()
    changed = dataclasses.replace(replay, ended=(Ended(5, -1, -1, None), *replay.ended))
    assert way_of(system, changed, start_of(system)[0]) == way_of(system, replay, start_of(system)[0])


# ---- the jam ---------------------------------------------------------------------------------------------------------


def test_who_holds_whom() -> None:
    system, replay = two_ends()
    jam = jam_of(system, replay)
    # Loaded on 0 it needs 1, where an empty one stands that needs station 3; the one there is loaded and needs 0.
    assert jam.ring == (
        Standing(0, 0, 1, True, "a part", held_by=2, wants=1, reason="way"),
        Standing(2, 1, 0, True, "nothing", held_by=1, wants=3, reason="way"),
        Standing(1, 3, 1, True, "a part", held_by=0, wants=0, reason="way"),
    )
    assert (jam.others, jam.free, jam.stations) == ((), (), (0, 1, 2))


def test_each_is_held_by_the_next_of_the_ring() -> None:
    system, replay = two_ends()
    ring = jam_of(system, replay).ring
    assert [one.held_by for one in ring] == [*(one.carrier for one in ring[1:]), ring[0].carrier]


def test_who_can_still_move_and_what_never_works_again() -> None:
    system = system_of(6, {1: 0, 4: 1}, 5)
    number = system.number
    empty, loaded, working = number(Post(EMPTY)), number(Post(LOADED)), number(Post(LOADED))
    # 0, 2, 3 and 5 wait. The loaded one on 0 needs 2, the empty ones on 2 and 3 need 3 and 5, the loaded one on 5 needs
    # 0: a ring of four. On 4 one is in work: when it has ended it is empty and wants 5 or 0.
    state = State((loaded, -1, empty, empty, working, loaded))
    assert system.stuck(state) == frozenset({0, 2, 3, 5})
    replay = Replay(
        jam_us=0,
        moves=np.zeros((0, 6), np.int64),
        ended=(),
        stuck=frozenset({0, 2, 3, 5}),
        state=state,
        carrier_at=(10, -1, 12, 13, 14, 15),
        worked=frozenset({1}),
    )
    jam = jam_of(system, replay)
    assert [one.carrier for one in jam.ring] == [10, 12, 13, 15]
    assert jam.free == (14,)
    assert jam.stations == (0,)


def test_who_stands_behind_the_ring() -> None:
    # Two rounds with one place aboard in common: 0 is the station of step 0, 1 waits, 2 is the dock there, 3 is aboard;
    # 4 is the station of step 1, 5 waits, 6 is its dock. The second round is full: the one aboard wants station 4, the
    # others, worked on there, want to go back by the platform. The one on dock 2 wants to board it too.
    system = Prover(plan_of(Small("track", Shape((3, 3), SPUR), ((0, 0), (4, 1)), 5))).system
    number = system.number
    empty = number(Post(EMPTY))
    state = State((-1, -1, number(Post(LOADED)), number(Post(LOADED, onto=4)), empty, empty, empty))
    stuck = frozenset({2, 3, 4, 5, 6})
    assert system.stuck(state) == stuck
    replay = Replay(0, np.zeros((0, 6), np.int64), (), stuck, state, (-1, -1, 2, 3, 4, 5, 6), frozenset())
    jam = jam_of(system, replay)
    assert {(one.carrier, one.held_by) for one in jam.ring} == {(3, 4), (4, 5), (5, 6), (6, 3)}
    assert [(one.carrier, one.held_by, one.reason, one.wants) for one in jam.others] == [(2, 3, "way", 3)]


def test_a_full_stretch_is_told_as_the_reason() -> None:
    # 0, 2, 3 and 5 wait, 2 and 3 admit one: 0 is held by the one on 3, that by 5, that by 0.
    general = General(admission=(Stretch("hood", (2, 3), 1),))
    system = system_of(6, {1: 0, 4: 1}, 3, general)
    number = system.number
    state = State((number(Post(LOADED)), -1, -1, number(Post(EMPTY)), -1, number(Post(EMPTY))))
    assert system.stuck(state) == frozenset({0, 3, 5})
    replay = Replay(0, np.zeros((0, 6), np.int64), (), frozenset({0, 3, 5}), state, (0, -1, -1, 1, -1, 2), frozenset())
    told = {one.carrier: (one.held_by, one.reason, one.wants) for one in jam_of(system, replay).ring}
    assert told == {0: (1, "stretch", 2), 1: (2, "way", 5), 2: (0, "way", 0)}


# ---- the whole -------------------------------------------------------------------------------------------------------


def test_the_story_of_a_plan_fits_together() -> None:
    plan = plan_of(Small("ring", Shape((5,), RING), ((2, 1), (3, 0), (4, 0)), 3))
    answer = gridlock_of_plan(plan).from_start
    assert answer.outcome == "can lock"
    assert answer.shortest
    assert answer.jam is not None
    at = {one.carrier: one.stop for one in answer.start}
    for step in answer.way:
        assert at[step.carrier] == step.start
        at[step.carrier] = step.stop
    stuck = (*answer.jam.ring, *answer.jam.others)
    assert {one.carrier: one.stop for one in stuck} == at
    assert sum(step.kind == "work ends" for step in answer.way) == 2
    assert [step.time_us for step in answer.way] == sorted(step.time_us for step in answer.way)


def test_who_is_not_on_the_line_is_not_told() -> None:
    system, replay = two_ends()
    gone = (0, -1, -1, 1, -1)
    assert [one.carrier for one in standings(system, replay.state, gone)] == [0, 1]
