"""The rules of the track in general on small tracks, expectations by hand."""

from __future__ import annotations

import numpy as np

from linewright.traffic.plan import ABOARD, DOCK, STATION, WAITING
from linewright.traffic.rules import NO_STOP, NOBODY, heading, look_ahead

# Waiting, station of step 0, station of step 0, dock, aboard, station of step 1: a loop.
KINDS = (WAITING, STATION, STATION, DOCK, ABOARD, STATION)
STEPS = (-1, 0, 0, -1, -1, 1)


def loop(occupied: dict[int, int], stop: int, step: int, boardable: int = -1, closed: int = 0) -> tuple[int, int, int]:
    count = len(KINDS)
    stops = np.zeros((count, 6), np.int64)
    stops[:, 0], stops[:, 1], stops[:, 3] = KINDS, STEPS, (np.arange(count) + 1) % count
    stops[:, 2] = [0, 0, 0, 0, 0, 1]
    stops[:, 4] = [0 if kind == ABOARD else -1 for kind in KINDS]
    stops[2, 5] = 1
    way = np.repeat(stops[:, 3][:, None], count, axis=1)
    occupant = np.full(count, NOBODY)
    for place, carrier in occupied.items():
        occupant[place] = carrier
    first = int(stops[stop, 3])
    return look_ahead(
        stop,
        first,
        9,
        NO_STOP,
        step,
        False,
        closed,
        stops,
        way,
        occupant,
        np.zeros(count, np.int64),
        np.array([boardable], np.int64),
        np.zeros(count, np.int64),
        1,
    )


def test_the_farthest_free_station_short_of_the_leader_is_the_goal() -> None:
    assert loop({0: 9, 3: 4}, 0, 0) == (2, 4, NO_STOP)
    assert loop({0: 9, 2: 4}, 0, 0) == (1, 4, NO_STOP)
    assert loop({0: 9, 1: 4}, 0, 0) == (NO_STOP, 4, NO_STOP)


def test_a_goal_beyond_a_transfer_leads_aboard_or_to_the_dock() -> None:
    assert loop({0: 9}, 0, 1, boardable=0) == (4, 9, 4)
    assert loop({0: 9}, 0, 1, boardable=1) == (3, 9, 4)
    assert loop({0: 9, 4: 2}, 0, 1, boardable=0) == (3, 2, 4)


def test_a_closed_stretch_ends_the_way_but_hides_neither_leader_nor_place_aboard() -> None:
    assert loop({0: 9, 5: 3}, 0, 0, closed=1) == (1, 3, 4)


def test_one_that_has_reserved_the_stop_that_a_carrier_under_way_has_left_leads_it() -> None:
    assert loop({2: 9}, 0, 0) == (2, 9, 4)
    assert loop({2: 9, 0: 3}, 0, 0) == (2, 3, 4)


def test_a_walk_ends_at_a_stop_passed_already_and_meets_no_leader_beyond_it() -> None:
    # From 0 the way to the station at 2 leads over 1; straight on leads 0 1 4 5 and 2 3 1, so that 1 comes twice.
    stops = np.zeros((6, 6), np.int64)
    stops[:, 0], stops[:, 1], stops[:, 3], stops[:, 4] = WAITING, -1, [1, 4, 3, 1, 5, 0], -1
    stops[2, :2] = STATION, 0
    way = np.repeat(stops[:, 3][:, None], 6, axis=1)
    way[1, 2] = 2
    occupant = np.array([9, NOBODY, NOBODY, NOBODY, 5, NOBODY])
    passed = np.zeros(6, np.int64)
    for walk in (1, 2):
        found = look_ahead(
            0, 1, 9, 2, 0, False, 0, stops, way, occupant, np.zeros(6, np.int64), np.full(1, -1), passed, walk
        )
        assert found == (2, NOBODY, NO_STOP)


def test_from_aboard_the_next_place_aboard_is_reserved_along_the_shortest_way_alone() -> None:
    # Aboard at 0; lanes 1 2 and 3 4, each a waiting stop and a dock, lead to the place aboard at 5.
    stops = np.zeros((6, 6), np.int64)
    stops[:, 0], stops[:, 1] = [ABOARD, WAITING, DOCK, WAITING, DOCK, ABOARD], -1
    stops[:, 2], stops[:, 3], stops[:, 4] = [1, 0, 0, 1, 1, 0], [1, 2, 5, 4, 5, NO_STOP], [0, -1, -1, -1, -1, 1]
    way = np.repeat(stops[:, 3][:, None], 6, axis=1)
    free, none = np.full(6, NOBODY), np.zeros(6, np.int64)
    for first, lane, expected in ((1, 0, 5), (3, 1, 4)):
        boardable = np.array([-1, lane])
        found = look_ahead(0, first, 9, 5, 0, False, 0, stops, way, free, none, boardable, np.zeros(6, np.int64), 1)
        assert found == (expected, NOBODY, 5)


def test_a_carrier_heads_for_the_nearest_free_station_else_for_the_nearest() -> None:
    step_stop = np.array([1, 2, 5])
    way_m = np.array([[0.0, 1.0, 2.0, 3.0, 4.0, 5.0]] * 6)
    occupant = np.full(6, NOBODY)
    assert heading(0, NO_STOP, 9, 0, 2, step_stop, way_m, occupant) == 1
    occupant[1] = 4
    assert heading(0, NO_STOP, 9, 0, 2, step_stop, way_m, occupant) == 2
    occupant[2] = 5
    assert heading(0, NO_STOP, 9, 0, 2, step_stop, way_m, occupant) == 1
    assert heading(0, NO_STOP, 9, 0, 0, step_stop, way_m, occupant) == NO_STOP
