"""The reference model's failures and causes of the line cycle against small cases derived by hand.

The line: two lanes of three stops, 0.1 m from stop to stop, moves at 0.5 m/s with ramps of 0.02 s, so r stops take
0.2 r + 0.02 s, and the rear has left a platform after 110 ms (half of the first stop's way).

    rank  0 waiting  1 load  2 dock  3 aboard east  4 waiting  5 test  6 dock  7 aboard west

Settling 30 ms, start handshake 10 ms, done handshake 20 ms, reaction 5 ms; both rides take 330 ms with their locks.
Work is 500 ms at load and 2000 ms at test; test clears for 40 ms, load at once. δ is 0.
"""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any, Final

import pytest

from agree.given_luck import GivenLuck, write_down
from agree.random_lines import random_line
from agree.reference_case import from_json_case
from agree.reference_causes import (
    KINDS,
    Commits,
    Departs,
    Down,
    History,
    Lock,
    Locks,
    Move,
    Piece,
    Ready,
    Work,
    causes_of,
)
from agree.reference_model import Line, ReferenceRun, from_plan, run, run_json_case
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan

Causes = dict[tuple[str, str], int]

# One carrier alone goes round in 5000 ms; it never waits, so all its moves are `travel`, and each link follows the
# other: work, start handshake and settling at test; 3 to 5; the ride east; 1 to 3; done handshake, work, start
# handshake and settling at load; 7 to 1; the ride west; 5 to 7; done handshake and clear at test.
ONE_ROUND: Final[Causes] = {
    ("work", "test"): 2_000_000,
    ("start handshake", "test"): 10_000,
    ("settling", "test"): 30_000,
    ("travel", "test"): 420_000,
    ("transfer", "east"): 330_000,
    ("travel", "east"): 420_000,
    ("done handshake", "load"): 20_000,
    ("work", "load"): 500_000,
    ("start handshake", "load"): 10_000,
    ("settling", "load"): 30_000,
    ("travel", "load"): 420_000,
    ("transfer", "west"): 330_000,
    ("travel", "west"): 420_000,
    ("done handshake", "test"): 20_000,
    ("clear", "test"): 40_000,
}


def lane(first: int, station: str) -> dict[str, Any]:
    stops = [
        {"id": first, "x": 0.1, "kind": "wait"},
        {"id": first + 1, "x": 0.2, "kind": "station", "station": station},
        {"id": first + 2, "x": 0.3, "kind": "dock"},
    ]
    return {"name": station, "length": 0.35, "stops": stops}


def transfer(name: str, aboard: int, ride_us: int) -> dict[str, Any]:
    return {
        "name": name, "aboard": aboard, "on_m": 0.1, "off_m": 0.0, "rear_m": 0.05,
        "unlock_us": 10_000, "ride_us": ride_us, "back_us": ride_us, "lock_us": 20_000,
    }  # fmt: skip


def small_case(
    carriers: int,
    horizon_us: int,
    kinds: list[dict[str, Any]] | None = None,
    prepare_us: int = 0,
    west_us: int = 300_000,
) -> dict[str, Any]:
    """The line of this file as an agreed case (`data/README.md`); `kinds` are the failures of test."""
    return {
        "limits": {"v": 0.5, "a": 50.0, "j": 5000.0},
        "start_handshake_us": 10_000,
        "done_handshake_us": 20_000,
        "settling_us": 30_000,
        "reaction_us": 5_000,
        "lanes": [lane(0, "load"), lane(4, "test")],
        "transfers": [transfer("east", 3, 300_000), transfer("west", 7, west_us)],
        "stations": {
            "load": {"stop": 1, "clear_us": 0, "prepare_us": 0, "failures": []},
            "test": {"stop": 5, "clear_us": 40_000, "prepare_us": prepare_us, "failures": [], "kinds": kinds},
        },
        "route": [
            {"step": "load", "stations": ["load"], "reject_exit": False},
            {"step": "test", "stations": ["test"], "reject_exit": False},
        ],
        "work_us": {"load": [500_000], "test": [2_000_000]},
        "rejects": {},
        "carriers": carriers,
        "horizon_us": horizon_us,
    }


def works_at_test(result: ReferenceRun) -> list[tuple[int, int]]:
    return [(start_us, end_us) for station, _, _, start_us, end_us in result.works if station == "test"]


def fails(of: str, *times: tuple[int, int]) -> dict[str, Any]:
    return {"of": of, "times": times}


# ---- causes ----


def test_one_carrier_alone_is_all_its_own_cause() -> None:
    result = run_json_case(small_case(1, 14_000_000))
    assert result.good == [[0, 3_770_000], [1, 8_770_000], [2, 13_770_000]]
    assert causes_of(result.history, 0, 14_000_000) == (
        {key: 2 * time_us for key, time_us in ONE_ROUND.items()},
        10_000_000,
        2,
    )
    assert causes_of(result.history, 3_770_001, 13_770_001) == (ONE_ROUND, 5_000_000, 1)
    assert causes_of(result.history, 3_770_001, 13_770_000) == ({}, 0, 0)


def test_last_link_is_clipped() -> None:
    # The first finish is put off to 7770: the window begins in the second work, which lasts from 6770 to 8770.
    result = run_json_case(small_case(1, 9_000_000))
    first, second = result.history.finishes
    later = dataclasses.replace(first, start_us=first.start_us + 4_000_000, end_us=first.ended_us + 4_000_000)
    assert causes_of(History([later, second]), 0, 9_000_000) == ({("work", "test"): 1_000_000}, 1_000_000, 1)


def test_an_unbalanced_line_waits_on_its_slowest_station_alone() -> None:
    # A work at test ends at 0: clear to 40, done handshake to 60, the carrier leaves. The follower on 4 commits with
    # it, departs a reaction later at 65, arrives at 285, has settled at 315 and shaken hands at 325; work ends at 2325.
    # It is back on 4 in time: 2700 after its own departure, and the second of three departs two cycles later.
    result = run_json_case(small_case(3, 60_000_000))
    causes, window_us, parts = causes_of(result.history, 20_000_000, 60_000_000)
    assert parts >= 15
    assert window_us == parts * 2_325_000
    assert {key: time_us / parts for key, time_us in causes.items()} == {
        ("work", "test"): 2_000_000,
        ("start handshake", "test"): 10_000,
        ("settling", "test"): 30_000,
        ("exchange move", "test"): 220_000,
        ("reaction", "test"): 5_000,
        ("done handshake", "test"): 20_000,
        ("clear", "test"): 40_000,
    }


def test_a_slow_tool_is_the_cause_and_not_the_carrier_before_it() -> None:
    # prepare of 1000: the tool is ready at 1040 after the end of work, the carrier at 325.
    result = run_json_case(small_case(3, 60_000_000, prepare_us=1_000_000))
    causes, window_us, parts = causes_of(result.history, 20_000_000, 60_000_000)
    assert parts >= 10
    assert window_us == parts * 3_040_000
    assert {key: time_us / parts for key, time_us in causes.items()} == {
        ("work", "test"): 2_000_000,
        ("prepare", "test"): 1_000_000,
        ("clear", "test"): 40_000,
    }


def test_tie_of_tool_and_carrier_goes_to_the_carrier() -> None:
    # prepare of 285: the tool too is ready at 325.
    result = run_json_case(small_case(3, 60_000_000, prepare_us=285_000))
    causes, window_us, parts = causes_of(result.history, 20_000_000, 60_000_000)
    assert window_us == parts * 2_325_000
    assert ("prepare", "test") not in causes
    assert causes["exchange move", "test"] == 220_000 * parts


def test_a_slow_platform_is_the_cause() -> None:
    # The ride west takes 3000 each way. The platform locks at 0, the carrier on dock 6, which waits for it, commits
    # and is aboard at 220 (an exchange move); locked at the other side at 3250 it departs at once; its rear is clear
    # at 3360 (exchange move), and the platform locks at 6390. One cycle more in the window adds just that.
    result = run_json_case(small_case(4, 90_000_000, west_us=3_000_000))
    ends = [end_us for _, end_us in result.good if end_us > 25_000_000]
    more = [causes_of(result.history, 25_000_000, end_us + 1) for end_us in ends[3:6]]
    for (before, before_us, _), (after, after_us, _) in itertools.pairwise(more):
        assert after_us - before_us == 6_390_000
        added = {key: after[key] - before.get(key, 0) for key in after if after[key] != before.get(key, 0)}
        assert added == {("transfer", "west"): 6_060_000, ("exchange move", "west"): 330_000}


def move(committed_us: int, departed_us: int, ready_us: int, leader: Move | None, lock: Lock | None = None) -> Move:
    ready = Ready(ready_us, None)
    return Move(committed_us, departed_us, departed_us + 1000, 5, "test", True, ready, lock, leader)


def test_the_next_to_board_is_the_one_with_nobody_before_it() -> None:
    # At time zero the three stand on 1, 0 and 6; all three go to load next.
    first, second, third = Line(from_json_case(small_case(3, 1))).carriers
    assert [carrier.is_next_to_board() for carrier in (first, second, third)] == [True, False, True]
    first.reserved = 3
    assert not second.is_next_to_board()  # the place aboard is spoken for
    first.reserved = 4
    assert second.is_next_to_board()


def test_place_of_a_move_is_the_next_place_aboard_or_station_of_its_step() -> None:
    carrier = Line(from_json_case(small_case(3, 1))).carriers[0]
    assert [carrier.place_of(stop) for stop in range(8)] == ["load"] * 2 + ["east"] * 2 + ["west"] * 4
    carrier.step = 1
    assert [carrier.place_of(stop) for stop in range(8)] == ["east"] * 4 + ["test"] * 2 + ["west"] * 2


def test_what_a_commitment_goes_back_to() -> None:
    leader = move(100, 100, 100, None)
    left = move(10, 10, 10, None)
    lock = Lock(100, "west", 50, left)
    assert Commits(move(100, 105, 100, leader, lock)).back() == ([], None)  # its own readiness, at time zero here
    assert Commits(move(100, 105, 90, leader, lock)).back() == ([], Locks(lock))
    older = dataclasses.replace(lock, at_us=99)
    assert Commits(move(100, 105, 90, leader, older)).back() == ([], Commits(leader))
    assert move(100, 105, 90, leader).kind == "exchange move"
    assert move(100, 105, 100, leader).kind == "travel"
    assert dataclasses.replace(move(100, 105, 90, leader), ends_at_place=False).kind == "travel"


def test_what_a_departure_goes_back_to() -> None:
    leader = move(100, 200, 100, None)
    at_once = move(105, 105, 105, leader)  # the leader's reaction ends then too: the tie goes to its own commitment
    by_reaction = move(104, 105, 104, leader)
    by_delay = move(150, 230, 150, leader)
    assert Departs(at_once).back() == ([], Commits(at_once))
    pieces, event = Departs(by_reaction).back()
    assert pieces == [Piece("reaction", "test", 100)]
    assert event == Commits(leader)
    pieces, event = Departs(by_delay).back()
    assert pieces == [Piece("travel", "test", 200)]
    assert event == Departs(leader)


def test_a_delay_below_zero_is_a_link_of_negative_length() -> None:
    # Follower departs at 1000, 300 before its leader at 1300, which departs 1150 after its own at 150. The follower's
    # move counts 1000 - 300, the leader's 1150 are clipped to 1300 - 160.
    first = Work("test", 5, None, 0, 0, 0, 0, 0, 0, None, 100, 160)
    second_leader = move(150, 150, 150, None)
    leader = dataclasses.replace(move(160, 1300, 160, second_leader), place="west", ends_at_place=False)
    follower = move(170, 1000, 170, leader)
    last = Work("test", 5, follower, 2000, 30, 10, 0, 0, 0, first, 2040, 2500)
    assert causes_of(History([first, last]), 0, 3000) == (
        {
            ("work", "test"): 460,
            ("start handshake", "test"): 10,
            ("settling", "test"): 30,
            ("travel", "test"): 1000 - 300,
            ("travel", "west"): 1300 - 160,
        },
        2340,
        1,
    )


def test_a_hole_in_the_chain_is_told() -> None:
    result = run_json_case(small_case(1, 9_000_000))
    first, second = result.history.finishes
    broken = dataclasses.replace(second, arrived_us=second.arrived_us + 1, settling_us=second.settling_us - 1)
    with pytest.raises(AssertionError):
        causes_of(History([first, broken]), 0, 9_000_000)


# ---- failures ----


def test_failures_of_clock() -> None:
    # One carrier: work at test would start at 1770. The first failure, due then, comes first: start at 1820. The
    # second, 1000 after that repair, finds 1000 of the work done and lasts from 2820 to 3020. The third is due when
    # the work would end, at 4020, and comes first: end at 4050. The fourth, 1 later, lasts to 4151: clear and done
    # handshake go on, and the carrier departs at 4110. All is 280 later than without failures: arrival at 7010. The
    # fifth lasts from 7000 to 7100: work that would start at 7050 waits, and ends at 9100.
    times = ((1_770_000, 50_000), (1_000_000, 200_000), (1_000_000, 30_000), (1_000, 100_000), (2_849_000, 100_000))
    result = run_json_case(small_case(1, 9_200_000, [fails("clock", *times)]))
    assert works_at_test(result) == [(1_820_000, 4_050_000), (7_100_000, 9_100_000)]
    assert [departure_us for _, departure_us, stop, _, _ in result.moves if stop == 5] == [4_110_000, 9_160_000]
    assert result.states["test"] == {
        "down": 480_000,
        "work": 4_000_000,
        "clear": 1_000 + 40_000,  # all but 1 of the first is in the fourth repair, and all of its done handshake
        "done handshake": 20_000,
        "blocked": 0,
        "partner": 0,
        "settling and start handshake": 40_000,  # the second time the station is down
        "prepare": 0,
        "exchange": 420_000 + 410_000,
        "starved": 1_310_000 + 2_439_000 + 40_000,
    }
    causes, window_us, _ = causes_of(result.history, 0, 9_200_000)
    assert (causes, window_us) == ({**ONE_ROUND, ("clock failure", "test"): 50_000}, 5_050_000)


def test_a_repair_splits_a_work() -> None:
    # Second work, 6770 to 8770 without failures: one of clock from 7000 to 7300, one of running when 1000 of its work
    # are done, at 8070, to 8170. The running time of the first work, 2000, counts.
    result = run_json_case(
        small_case(1, 10_000_000, [fails("running", (3_000_000, 100_000)), fails("clock", (7_000_000, 300_000))])
    )
    assert works_at_test(result) == [(1_770_000, 3_770_000), (6_770_000, 9_170_000)]
    causes, window_us, _ = causes_of(result.history, 0, 10_000_000)
    expected = {**ONE_ROUND, ("clock failure", "test"): 300_000, ("repair", "test"): 100_000}
    assert (causes, window_us) == (expected, 5_400_000)
    assert result.history.finishes[1].downs == [
        Down(7_000_000, 7_300_000, "clock"),
        Down(8_070_000, 8_170_000, "running"),
    ]


def test_jams_come_between_failures_of_clock_and_of_running() -> None:
    # The failure of running is due when the first work ends and comes at the start of the next. The jam comes at
    # every work. First work: jam from 1770 to 1870, then 2000. Second: would start at 6870; jam to 6930. The failure
    # of clock, due at 6900, begins then and lasts to 6935; after it that of running, to 7005.
    kinds = [
        fails("running", (2_000_000, 70_000)),
        fails("jam", (1, 100_000), (1, 60_000)),
        fails("clock", (6_900_000, 5_000)),
    ]
    result = run_json_case(small_case(1, 10_000_000, kinds))
    assert works_at_test(result) == [(1_770_000, 3_870_000), (6_870_000, 9_005_000)]
    assert result.history.finishes[1].downs == [
        Down(6_870_000, 6_930_000, "jam"),
        Down(6_930_000, 6_935_000, "clock"),
        Down(6_935_000, 7_005_000, "running"),
    ]
    causes, _, _ = causes_of(result.history, 0, 10_000_000)
    assert causes == {**ONE_ROUND, ("repair", "test"): 130_000, ("clock failure", "test"): 5_000}


def test_a_jam_counts_works_from_the_end_of_its_repair() -> None:
    # Of two kinds, one at every second work, one at the third: works start at 1770, 6770 (jam of 100), 11870 (jam of
    # 10), 16880 (jam of 100).
    kinds = [fails("jam", (2, 100_000), (2, 100_000)), fails("jam", (3, 10_000), (9, 0))]
    result = run_json_case(small_case(1, 20_000_000, kinds))
    assert works_at_test(result) == [
        (1_770_000, 3_770_000),
        (6_770_000, 8_870_000),
        (11_870_000, 13_880_000),
        (16_880_000, 18_980_000),
    ]


def test_failures_of_clock_that_wait_go_by_the_order_in_which_they_are_written() -> None:
    # The one written last is due first and is repaired from 1800 to 1810; at its end two wait, due at 1807 and at 1803:
    # the one written first comes first.
    kinds = [
        fails("clock", (1_807_000, 2_000)),
        fails("clock", (1_803_000, 1_000)),
        fails("clock", (1_800_000, 10_000)),
    ]
    result = run_json_case(small_case(1, 5_000_000, kinds))
    assert result.history.finishes[0].downs == [
        Down(1_800_000, 1_810_000, "clock"),
        Down(1_810_000, 1_812_000, "clock"),
        Down(1_812_000, 1_813_000, "clock"),
    ]
    assert works_at_test(result) == [(1_770_000, 3_783_000)]


def test_a_failure_of_clock_comes_before_one_of_running_that_is_due_at_once() -> None:
    # Both are due at 2770, when 1000 are worked. One of clock due as the repair of running ends begins in that very
    # microsecond.
    kinds = [fails("running", (1_000_000, 40_000)), fails("clock", (2_770_000, 30_000), (40_000, 7_000))]
    result = run_json_case(small_case(1, 5_000_000, kinds))
    assert result.history.finishes[0].downs == [
        Down(2_770_000, 2_800_000, "clock"),
        Down(2_800_000, 2_840_000, "running"),
        Down(2_840_000, 2_847_000, "clock"),
    ]
    assert works_at_test(result) == [(1_770_000, 3_847_000)]


# ---- random lines ----


def test_the_chains_of_random_lines_have_no_holes() -> None:
    seen: set[str] = set()
    for number in range(6, 14):
        line = random_line(number).read()
        plan = write_down(compile_plan(line, lay_out(line)), seed=number)
        result = run(from_plan(plan, GivenLuck(plan), 300_000_000))
        causes, window_us, parts = causes_of(result.history, 100_000_000, 300_000_000)
        assert sum(causes.values()) == window_us, number
        assert (parts > 0) == (window_us > 0), number
        seen |= {kind for kind, _ in causes}
    assert seen == set(KINDS)
