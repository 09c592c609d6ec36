"""The general reference model against the plain one, and against small cases derived by hand from `docs/semantics.md`.

All times in the cases are in ms. The loop is

    rank  0 waiting  1 load  2 dock  3 aboard  4 waiting  5 test  6 waiting  7 scrap  8 dock  9 aboard

with rides of 330 ms and the times of `reference_plans`. One carrier alone: work at load from 40 to 540, 1 to 3 from 560
to 980, ready at 1310, 3 to 5 until 1730, work at test (2000) from 1770 to 3770, 5 to 9 from 3790 to 4610, ready at
4940, 9 to 1 until 5360. So all comes again after 5360.
"""

from __future__ import annotations

import dataclasses
from typing import Any, Final

import pytest

from agree.given_luck import GivenLuck, coarsen, write_down
from agree.random_lines import random_line
from agree.reference_causes import causes_of
from agree.reference_general import GeneralRun, run_general
from agree.reference_model import from_plan, run
from agree.reference_plans import MS, Transfer, WrittenLuck, plan_on
from agree.reference_track import Track
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import (
    FEED,
    TAKE_AWAY,
    Break,
    CarrierChange,
    Changeover,
    General,
    Outside,
    Placement,
    Pool,
    Rework,
    Stretch,
    Variant,
)
from linewright.traffic.plan import FIXED, OF_CLOCK, FailureKind, Law, TrafficPlan

LOAD, TEST, SCRAP = 0, 1, 2
ROUND: Final = 5360
BOTH_330: Final = ((0, 330), (330, 0))
ANY: Final = Law(FIXED, 0.0)


def loop(carriers: int = 1, **general: Any) -> TrafficPlan:
    """The loop of this file, with what it has beyond a plain one."""
    transfers = [Transfer((0,), (1,), BOTH_330), Transfer((1,), (0,), BOTH_330)]
    return plan_on(
        ["wait load dock", "wait test wait scrap dock"],
        transfers,
        ["load", "test", "scrap"],
        [1, 0, 8][:carriers],
        exits=["scrap"],
        general=General(**general),
    )


def luck(**written: Any) -> WrittenLuck:
    """Works of 500 at load, 2000 at test, 100 at scrap, and what else is written down."""
    return WrittenLuck([500 * MS, 2000 * MS, 100 * MS], **written)


def run_ms(plan: TrafficPlan, given: WrittenLuck, horizon_ms: int) -> GeneralRun:
    """The run; all states of each station fill the time, and no event of its causes is without its reason."""
    result = run_general(plan, given, horizon_ms * MS)
    for station, times in result.states.items():
        assert sum(times.values()) == horizon_ms * MS, station
    assert result.unexplained == []
    causes_of(result.history, 0, horizon_ms * MS)
    return result


def works(result: GeneralRun, station: str) -> list[tuple[int, int, int]]:
    """(serial, start, end) of the works at a station. [ms]"""
    return [(serial, start // MS, end // MS) for name, _, serial, start, end, _ in result.works if name == station]


def moves(result: GeneralRun) -> list[list[int]]:
    """[carrier, departure, from, to, arrival]. [ms]"""
    return [[c, departed // MS, start, goal, arrived // MS] for c, departed, start, goal, arrived in result.moves]


def good(result: GeneralRun) -> list[tuple[int, int]]:
    return [(serial, time // MS) for serial, time in result.good]


def state(result: GeneralRun, station: str, name: str) -> int:
    return result.states[station][name] // MS


def causes(result: GeneralRun, horizon_ms: int) -> dict[tuple[str, str], int]:
    """The causes of the whole run, which fill their window. [ms]"""
    found, window_us, _ = causes_of(result.history, 0, horizon_ms * MS)
    assert sum(found.values()) == window_us
    return {key: time_us // MS for key, time_us in found.items()}


# ---- the plain loop ----


def general_luck(given: GivenLuck) -> Any:
    """The luck of a plain line as the general model asks for it."""

    class Plain(WrittenLuck):
        def work_us(self, station: int, variant: int, serial: int, visit: int) -> int:
            return given.work_us(station, serial)

        def flagged(self, station: int, serial: int, visit: int) -> bool:
            return given.flagged(station, serial)

        def running_us(self, failure: int, number: int) -> int | None:
            drawn = given.failure(failure, number)
            return None if drawn is None else drawn[0]

        def repair_us(self, failure: int, number: int) -> int:
            drawn = given.failure(failure, number)
            assert drawn is not None
            return drawn[1]

    return Plain(())


def check_plain(number: int, horizon_us: int, grain_us: int) -> None:
    line = random_line(number).read()
    plan = write_down(compile_plan(line, lay_out(line)), seed=number)
    plan = coarsen(plan, grain_us) if grain_us > 1 else plan
    plain = run(from_plan(plan, GivenLuck(plan), horizon_us))
    general = run_general(plan, general_luck(GivenLuck(plan)), horizon_us)
    assert general.logs() == plain.logs(), number
    for station, times in plain.states.items():
        assert {name: time_us for name, time_us in general.states[station].items() if name in times} == times, number
    cut_us = horizon_us // 5
    assert causes_of(general.history, cut_us, horizon_us) == causes_of(plain.history, cut_us, horizon_us), number
    assert general.unexplained == []


@pytest.mark.parametrize("number", [3, 6])
def test_it_is_the_plain_model_on_plain_lines(number: int) -> None:
    check_plain(number, 60_000_000, grain_us=1 if number % 2 else 100_000)


@pytest.mark.long
@pytest.mark.parametrize("first", range(1, 201, 20))
def test_it_is_the_plain_model_on_many_plain_lines(first: int) -> None:
    for number in range(first, first + 20):
        for grain_us in (1, 100_000):
            check_plain(number, 300_000_000, grain_us)


def test_a_plain_loop_on_a_track_of_its_own() -> None:
    result = run_ms(loop(), luck(), 12_000)
    assert good(result) == [(0, 3770), (1, 3770 + ROUND)]
    assert moves(result)[:4] == [
        [0, 560, 1, 3, 980],
        [0, 1310, 3, 5, 1730],
        [0, 3790, 5, 9, 4610],
        [0, 4940, 9, 1, 5360],
    ]


# ---- variants, changeover, rework, misses, exits, nests, next step ----


TWO: Final = (Variant("a", 0.5), Variant("b", 0.5))


def test_variants_have_their_times_and_changeovers() -> None:
    # The third load is b: its work at test takes 1000 and waits 300 for the changeover, the one after it 200.
    changeover = Changeover(TEST, ((0, 300 * MS), (200 * MS, 0)))
    given = luck(variants=(0, 0, 1), work_us_of={(TEST, 1, 2, 0): 1000 * MS})
    result = run_ms(loop(variants=TWO, sequence=(0, 0, 1), changeovers=(changeover,)), given, 22_000)
    third, fourth = 1770 + 2 * ROUND, 1770 + 3 * ROUND - 700
    assert works(result, "test")[2:] == [(2, third + 300, third + 1300), (3, fourth + 200, fourth + 2200)]
    assert state(result, "test", "changeover") == 500
    assert causes(result, 22_000)["changeover", "test"] == 500


def test_a_skipped_step_is_passed_by() -> None:
    # The second load skips test: its part is good at the end of load. 3 to 9 in one move of six stops, 1220.
    variants = (Variant("a", 0.5), Variant("b", 0.5, skips=(TEST,)))
    result = run_ms(loop(variants=variants, sequence=(0, 1)), luck(variants=(0, 1)), 10_000)
    assert good(result) == [(0, 3770), (1, ROUND + 540)]
    assert moves(result)[5:7] == [[0, ROUND + 1310, 3, 9, ROUND + 2530], [0, ROUND + 2860, 9, 1, ROUND + 3280]]


def test_run_out_waits_until_no_part_of_another_variant_is_aboard() -> None:
    # The follower is settled at load at 825 and waits for the end of test at 3770; its own part, from load at 4270, is
    # good at 7480: ready at 4290, aboard at 4710, ready at 5040, at test at 5460.
    result = run_ms(loop(2, variants=TWO, sequence=(0, 1), run_out=True), luck(variants=(0, 1)), 8000)
    assert works(result, "load") == [(0, 40, 540), (1, 3770, 4270), (2, 7500, 8000)]
    assert good(result) == [(0, 3770), (1, 7500)]
    assert state(result, "load", "changeover") == (3770 - 825) + (7500 - 5400)
    # Back from 7480: work at test from 5480, at load from 3770, the end of the first part at test opened the gate, but
    # the chain goes gate by gate to when its own carrier was settled: all but 0 of it is after 3770.


def test_rework_goes_back_a_bounded_number_of_times() -> None:
    # Sent back to load at 3770; at the second end of test it has had its one rework and is flagged.
    given = luck(reworks=frozenset({(0, 0, 0), (0, 0, 1)}), work_us_of={(LOAD, 0, 0, 1): 300 * MS})
    result = run_ms(loop(rework=(Rework(TEST, 0.1, LOAD, 1),)), given, 14_000)
    second = ROUND - 200
    assert works(result, "load")[:2] == [(0, 40, 540), (0, ROUND + 40, ROUND + 340)]
    assert works(result, "test")[1] == (0, second + 1770, second + 3770)
    # 5 to 7 from 3790 to 4210, work of 100 from 4250.
    assert works(result, "scrap") == [(0, second + 4250, second + 4350)]
    assert good(result) == []
    assert works(result, "load")[2][0] == 1


def test_a_step_for_rework_alone() -> None:
    # Scrap stands for a repair here: only the part sent there from test goes, and is good at its end.
    plan = dataclasses.replace(
        loop(rework=(Rework(TEST, 0.1, SCRAP, 2),), rework_alone=(SCRAP,)), step_exit=(False, False, False)
    )
    result = run_ms(plan, luck(reworks=frozenset({(0, 1, 0)})), 2 * ROUND)
    assert works(result, "scrap") == [(1, ROUND + 4250, ROUND + 4350)]
    assert good(result) == [(0, 3770), (1, ROUND + 4350)]


def test_a_part_that_misses_is_none() -> None:
    # The carrier goes on without a part, past test, to the first step: 3 to 9 in one move.
    result = run_ms(loop(misses=(0.1, 0.0, 0.0)), luck(misses=frozenset({(LOAD, 0)})), 8000)
    assert works(result, "load") == [(0, 40, 540), (1, 3320, 3820)]
    assert [serial for serial, _, _ in works(result, "test")] == [1]


def test_nests_and_exits() -> None:
    # Two nests, load draws once a carrier, test once a part: 1100 + 2000. Part 1 is flagged: part 0 leaves at test.
    given = luck(flags=frozenset({(TEST, 1, 0)}), work_us_of={(TEST, 0, 0, 0): 1100 * MS})
    plan = loop(nests=2, each_part=(False, True, False))
    result = run_ms(plan, given, ROUND + 3000)
    assert works(result, "test")[0] == (0, 1770, 4870)
    assert works(result, "scrap") == [(0, 5350, 5450)]
    assert good(result) == [(0, 4870)]
    # 7 to 9 from 5470 (two stops), ready at 6220, load from 6680.
    assert works(result, "load")[1] == (2, 6680, 7180)


# ---- gates ----


def test_a_break_holds_the_start_of_work() -> None:
    # Each 9000 a break from 1000 to 4000: the first part waits, the second (settled at 9360) is in the work when it
    # begins again at 10000 and is finished.
    result = run_ms(loop(breaks=(Break((TEST,), 1000 * MS, 3000 * MS, 9000 * MS),)), luck(), 12_000)
    assert works(result, "test") == [(0, 4000, 6000), (1, 9360, 11360)]
    assert state(result, "test", "break") == 2230
    assert ("break", "test") not in causes(result, 12_000)


def test_a_feed_makes_one_part_after_another() -> None:
    # Of 3000 each, none at the start; a failure after 4000 of running takes 700, so the second is there at 6700.
    feed = Outside(LOAD, FEED, ANY, 1, 0, ((ANY, ANY),))
    given = luck(outside_times_us=[3000 * MS], outside_failures=[[[(4000 * MS, 700 * MS)]]])
    result = run_ms(loop(2, outside=(feed,)), given, 14_000)
    assert works(result, "load") == [(0, 3000, 3500), (1, 6700, 7200), (2, 9700, 10_200), (3, 12_700, 13_200)]
    # Settled at 40, 3785, 8360 and 12060.
    assert state(result, "load", "outside") == 2960 + 2915 + 1340 + 640
    # The window is that from the first part's end at test, 6730, to the third's, 13430.
    assert causes(result, 14_000)["outside", "load"] == 1340


def test_a_take_away_must_have_room() -> None:
    # Taking lasts 20 000 and there is room for one: the first is taken at once, the second goes into the buffer, the
    # third waits until the taking ends at 23770.
    take_away = Outside(TEST, TAKE_AWAY, ANY, 1, 0)
    result = run_ms(loop(outside=(take_away,)), luck(outside_times_us=[20_000 * MS], outside_failures=[[]]), 26_000)
    assert works(result, "test") == [(0, 1770, 3770), (1, 1770 + ROUND, 3770 + ROUND), (2, 23_770, 25_770)]
    assert state(result, "test", "outside") == 23_770 - 1770 - 2 * ROUND
    assert causes(result, 26_000)["outside", "test"] == 23_770 - 1770 - 2 * ROUND


def pool(operators: int) -> Pool:
    return Pool("floor", operators, (LOAD, TEST), ((0, 400 * MS), (400 * MS, 0)))


def test_an_operator_walks_works_and_releases() -> None:
    # He is at load until 540 and called to test at 1770; after the work he stays 300 to release.
    plan = loop(pools=(pool(1),), manual=(True, True, False), release_us=(-1, 300 * MS, -1))
    result = run_ms(plan, luck(), 14_000)
    assert works(result, "test")[0] == (0, 2170, 4170)
    assert moves(result)[2] == [0, 4490, 5, 9, 5310]
    # Load calls at 6100, he walks back.
    assert works(result, "load")[1] == (1, 6500, 7000)
    assert state(result, "test", "operator") == 2 * (400 + 300)
    assert state(result, "load", "operator") == 2 * 400
    found = causes(result, 14_000)
    assert (found["operator", "test"], found["operator", "load"]) == (700, 400)


def test_a_release_without_an_operator_at_work_calls_one() -> None:
    # Test is worked by its tool and released by the operator, who comes from load: called at 3770, there at 4170,
    # released at 4470.
    plan = loop(pools=(pool(1),), manual=(False, False, False), release_us=(-1, 300 * MS, -1))
    result = run_ms(plan, luck(), 6000)
    assert moves(result)[2] == [0, 4490, 5, 9, 5310]
    assert state(result, "test", "operator") == 700


def test_a_break_breaks_a_call_off() -> None:
    # The only operator is at load from 825 to 5825; test calls at 1770, has its break from 3000 to 7000 and calls anew.
    plan = loop(
        2, pools=(pool(1),), manual=(True, True, False), breaks=(Break((TEST,), 3000 * MS, 4000 * MS, 100_000 * MS),)
    )
    given = luck(work_us_of={(LOAD, 0, 1, 0): 5000 * MS})
    result = run_ms(plan, given, 14_000)
    assert works(result, "load")[:2] == [(0, 40, 540), (1, 825, 5825)]
    assert works(result, "test")[0] == (0, 7400, 9400)
    assert state(result, "test", "break") == 4000
    assert state(result, "test", "operator") >= 1230 + 400


def test_a_clock_failure_makes_down_and_the_changeover_goes_on() -> None:
    # Changeover from 7130 to 7430, down from 7330 to 7630: 200 of changeover, 300 down, then work.
    changeover = Changeover(TEST, ((0, 300 * MS), (200 * MS, 0)))
    plan = dataclasses.replace(
        loop(variants=TWO, sequence=(0, 1), changeovers=(changeover,)),
        failures=(FailureKind(TEST, ANY, ANY, OF_CLOCK),),
    )
    result = run_ms(plan, luck(variants=(0, 1), failures=[[(7330 * MS, 300 * MS)]]), 10_000)
    assert works(result, "test")[1] == (1, 7630, 9630)
    assert (state(result, "test", "changeover"), state(result, "test", "down")) == (200, 300)
    found = causes(result, 10_000)
    assert (found["changeover", "test"], found["clock failure", "test"]) == (300, 200)


# ---- transfers with several docks ----


def branch(returns_at_once: bool) -> TrafficPlan:
    """Two tests, each on a lane of its own.

    rank  0 waiting  1 load  2 dock  3 aboard  4 test-1  5 dock  6 aboard  7 test-2  8 dock
    """
    out = Transfer((0,), (1, 2), ((0, 300, 500), (300, 0, 200), (500, 200, 0)), at_once=returns_at_once)
    back = Transfer((1, 2), (0,), ((0, 200, 300), (200, 0, 500), (300, 500, 0)), at_once=returns_at_once)
    return plan_on(["wait load dock", "test-1 dock", "test-2 dock"], [out, back], ["load", "test-1 test-2"], [1, 0])


BRANCH_UNTIL_3700: Final = [
    [0, 560, 1, 3, 980],
    [1, 565, 0, 1, 785],
    [0, 1280, 3, 4, 1500],  # both tests are as near; the lane named first
    [1, 1345, 1, 2, 1565],  # calls the platform, whose rear is clear at 1390 and which is back at 1690
    [1, 1690, 2, 3, 1910],
    [1, 2410, 3, 7, 2630],  # test-1 is not free: 500 to the other lane
    [0, 2560, 4, 6, 2980],
    [0, 3280, 6, 1, 3700],  # rear clear at 3390
    [1, 3690, 7, 8, 3910],  # ready at 3690, calls the dock of its lane
]


def test_a_platform_with_several_docks_returns_at_once() -> None:
    # At 3390 nobody calls: home, locked at 3690, where the call sends it on, 200. Its lock at 3890 is before 3910.
    result = run_ms(branch(True), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 4200)
    assert moves(result) == [*BRANCH_UNTIL_3700, [1, 3910, 8, 6, 4130]]


def test_a_platform_that_stays_until_it_is_called() -> None:
    # At 3390 it stays at the first lane's dock; called at 3690 it rides 500.
    result = run_ms(branch(False), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 4200)
    assert moves(result) == [*BRANCH_UNTIL_3700, [1, 4190, 8, 6, 4410]]
    # Good parts at 2540 and, again at test-1, at 6540. Back from there: work to 5540; settled; 3 to 4 from 5280; the
    # ride from 4980; aboard from 4760, where the platform locked. It had been called at 4260 by the carrier that left
    # load then: its work from 3740; settled; 6 to 1 from 3280; the ride from 2980; 4 to 6 from 2560.
    later = run_ms(branch(False), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 6600)
    assert causes(later, 6600) == {
        ("work", "test-1"): 1000,
        ("start handshake", "test-1"): 10,
        ("settling", "test-1"): 30,
        ("travel", "test-1"): 220,
        ("transfer", "transfer 0"): 300 + 500,
        ("exchange move", "transfer 0"): 220,
        ("done handshake", "load"): 20,
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("travel", "load"): 420,
        ("transfer", "transfer 1"): 300,
        ("travel", "transfer 1"): 420,
        ("done handshake", "test-1"): 20,
    }


def test_a_way_ends_at_its_own_stop_and_at_one_that_it_has_passed() -> None:
    track = Track(branch(True))
    assert track.path(3, 7, 4) == ((4, 5, 6, 0, 1, 2), True)
    assert track.path(8, 0, None) == ((6, 0, 1, 2, 3, 4, 5), False)


def test_a_station_is_passed_by_for_one_beyond_a_platform() -> None:
    # rank  0 waiting  1 load  2 waiting  3 test-1  4 dock  5 aboard  6 waiting  7 test-2  8 dock  9 aboard. The first
    # passes test-1 and is aboard until 1710; the second, ready at 1345, has that before it.
    transfers = [Transfer((0,), (1,), BOTH_330), Transfer((1,), (0,), BOTH_330)]
    plan = plan_on(["wait load wait test-1 dock", "wait test-2 dock"], transfers, ["load", "test-1 test-2"], [1, 0])
    result = run_ms(plan, WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 2500)
    assert moves(result) == [
        [0, 560, 1, 5, 1380],
        [1, 565, 0, 1, 785],
        [1, 1345, 1, 3, 1765],
        [0, 1710, 5, 7, 2130],
    ]


def test_a_platform_with_two_places_waits_for_all_who_have_reserved() -> None:
    # rank  0 waiting  1 dock  2, 3 aboard  4 load  5 dock  6 aboard. The first is aboard at 420, the second at 425;
    # locked at 725. The second leaves when load is free, its rear is clear at 1620, home at 1920.
    transfers = [Transfer((0,), (1,), ((0, 300), (300, 0)), places=2), Transfer((1,), (0,), BOTH_330)]
    plan = plan_on(["wait dock", "load dock"], transfers, ["load"], [1, 0])
    result = run_ms(plan, WrittenLuck([500 * MS]), 2400)
    assert moves(result) == [
        [0, 0, 1, 3, 420],
        [1, 5, 0, 2, 425],
        [0, 725, 3, 4, 945],
        [0, 1505, 4, 6, 1925],
        [1, 1510, 2, 4, 1930],
        [0, 2255, 6, 3, 3075],
    ]


# ---- rules of traffic that a line may add ----


def ring(**general: Any) -> TrafficPlan:
    """rank  0 press  1 waiting  2 pack  3 waiting, closed; two carriers, on 0 and 3."""
    return plan_on(["press wait pack wait"], [], ["press", "pack"], [0, 3], closed=True, general=General(**general))


PRESS_PACK: Final = WrittenLuck([500 * MS, 1000 * MS])


def test_carriers_move_together() -> None:
    result = run_ms(ring(together=(0,)), PRESS_PACK, 3600)
    assert moves(result) == [
        [0, 560, 0, 2, 980],
        [1, 565, 3, 0, 785],
        [0, 2040, 2, 3, 2260],
        [1, 2045, 0, 2, 2465],  # ready at 1345
        [0, 3525, 3, 0, 3745],  # the press has been free since 2045
        [1, 3530, 2, 3, 3750],
    ]
    # Good parts at 2020, 3505 and 5765. The last was at the press from 3745; its carrier left 3 at 3525, when the other
    # was ready at the pack, last on the lane. That one had come from the press a reaction after 2040.
    later = run_ms(ring(together=(0,)), PRESS_PACK, 5800)
    assert causes(later, 5800) == {
        ("work", "pack"): 2000,
        ("start handshake", "pack"): 20,
        ("settling", "pack"): 60,
        ("travel", "pack"): 420,
        ("done handshake", "press"): 20,
        ("work", "press"): 500,
        ("start handshake", "press"): 10,
        ("settling", "press"): 30,
        ("exchange move", "press"): 220,
        ("done handshake", "pack"): 40,
        ("exchange move", "pack"): 420,
        ("reaction", "pack"): 5,
    }


def test_a_stretch_admits_so_many() -> None:
    # The second is ready at 1345 and might go to 1; the first is on the stretch until it arrives at 3.
    result = run_ms(ring(admission=(Stretch("zone", (1, 2), 1),)), PRESS_PACK, 2600)
    assert moves(result) == [
        [0, 560, 0, 2, 980],
        [1, 565, 3, 0, 785],
        [0, 2040, 2, 3, 2260],
        [1, 2260, 0, 2, 2680],
        [0, 2265, 3, 0, 2485],
    ]
    # Good parts at 2020 and 3720. The second left the press when the first had arrived at 3.
    later = run_ms(ring(admission=(Stretch("zone", (1, 2), 1),)), PRESS_PACK, 3800)
    assert causes(later, 3800) == {
        ("work", "pack"): 1000,
        ("start handshake", "pack"): 10,
        ("settling", "pack"): 30,
        ("exchange move", "pack"): 420,
        ("travel", "press"): 220,
        ("done handshake", "pack"): 20,
    }


def test_a_lane_to_and_fro_turns_when_nobody_holds_its_direction() -> None:
    # rank  0 load-1  1 load-2  2 waiting  3 pack-1  4 pack-2. At 2240 the one on 4 is ready, the one on 3 at 2245: it
    # goes to the farthest free station first.
    plan = plan_on(["load-1 load-2 wait pack-1 pack-2"], [], ["load-1 load-2", "pack-1 pack-2"], [1, 0], two_way=True)
    result = run_ms(plan, WrittenLuck([500 * MS, 500 * MS, 1000 * MS, 1000 * MS]), 3500)
    assert moves(result) == [
        [0, 560, 1, 4, 1180],
        [1, 565, 0, 3, 1185],
        [1, 2245, 3, 0, 2865],
        [0, 2250, 4, 1, 2870],
        [0, 3430, 1, 4, 4050],
        [1, 3435, 0, 3, 4055],
    ]
    # Good parts at 2220, 2225, 5090 and 5095: back from the last over load-2 to pack-1, whose carrier turned the lane.
    later = run_ms(plan, WrittenLuck([500 * MS, 500 * MS, 1000 * MS, 1000 * MS]), 5200)
    assert causes(later, 5200) == {
        ("work", "pack-1"): 1000 + 5,
        ("start handshake", "pack-1"): 10,
        ("settling", "pack-1"): 30,
        ("exchange move", "pack-1"): 620,
        ("reaction", "pack-1"): 5,
        ("done handshake", "load-2"): 20,
        ("work", "load-2"): 500,
        ("start handshake", "load-2"): 10,
        ("settling", "load-2"): 30,
        ("exchange move", "load-2"): 620,
        ("reaction", "load-2"): 5,
        ("done handshake", "pack-1"): 20,
    }


def going_on(follow_ms: int) -> GeneralRun:
    """rank  0 press  1, 2 waiting  3 pack  4 waiting, closed. The second is ready at the press at 2145."""
    plan = plan_on(
        ["press wait wait pack wait"],
        [],
        ["press", "pack"],
        [0, 4],
        closed=True,
        delay_ms=-200,
        general=General(going_on=True),
    )
    given = WrittenLuck([500 * MS, 1000 * MS], work_us_of={(0, 0, 1, 0): 1300 * MS - (follow_ms - 5) * MS})
    return run_ms(dataclasses.replace(plan, follow_us=follow_ms * MS), given, 2700)


def test_a_carrier_under_way_goes_on() -> None:
    # At 2240 the pack's carrier reserves the press. The longer move first differs at 2145 + 300.
    result = going_on(5)
    assert moves(result)[2:] == [[1, 2145, 0, 3, 2765], [0, 2240, 3, 0, 2660]]
    assert (result.halts, result.halts_cost_us) == (0, 0)
    assert state(result, "pack", "exchange") == 620 + (2700 - 2240)


def test_the_reaction_to_a_re_aiming_is_due() -> None:
    # rank  0 a  1 b  2 waiting  3 c  4 waiting, closed. The third load skips b: its carrier is ready at a at 1730. The
    # second leaves b for 2 at 1925 and is re-aimed at 1960, when c's carrier leaves for 4, and then for a.
    variants = (Variant("u", 0.5), Variant("v", 0.5, skips=(1,)))
    plan = plan_on(
        ["a b wait c wait"],
        [],
        ["a", "b", "c"],
        [0, 4, 2],
        closed=True,
        delay_ms=-200,
        general=General(going_on=True, variants=variants, sequence=(0, 0, 1)),
    )
    given = WrittenLuck([500 * MS, 300 * MS, 340 * MS], work_us_of={(0, 1, 2, 0): 100 * MS}, variants=(0, 0, 1))
    result = run_ms(plan, given, 2100)
    assert moves(result)[-3:] == [[1, 1925, 1, 3, 2345], [0, 1960, 3, 0, 2380], [2, 1965, 0, 2, 2385]]


def test_it_halts_where_it_is_too_late_to_go_on() -> None:
    # 2240 + 250 is later than 2445: it arrives at 2565 and starts anew at once.
    result = going_on(250)
    assert moves(result)[2:] == [[1, 2145, 0, 2, 2565], [0, 2395, 3, 0, 2815], [1, 2565, 2, 3, 2785]]
    assert (result.halts, result.halts_cost_us) == (1, 20 * MS)


# ---- carriers taken out and put in, time zero ----


def test_carriers_are_taken_out_and_put_in() -> None:
    changes = (CarrierChange(LOAD, 4000 * MS, -1), CarrierChange(LOAD, 8000 * MS, 1))
    result = run_ms(loop(carrier_changes=changes), luck(), 10_000)
    assert works(result, "load") == [(0, 40, 540), (1, 8040, 8540)]
    assert [carrier for name, carrier, *_ in result.works if name == "load"] == [0, 1]
    assert moves(result)[4] == [1, 8560, 1, 3, 8980]


def test_a_stop_is_kept_for_a_carrier_to_be_put_in() -> None:
    # From 500 on nobody else may reserve load. The first leaves it at 560 and is aboard at 980; then the new one stands
    # there.
    result = run_ms(loop(2, carrier_changes=(CarrierChange(LOAD, 500 * MS, 1),)), luck(), 3000)
    assert works(result, "load") == [(0, 40, 540), (1, 1020, 1520), (2, 1805, 2305)]
    assert [carrier for name, carrier, *_ in result.works if name == "load"] == [0, 2, 1]
    # The platform is back at 1750.
    assert moves(result)[2:4] == [[2, 1540, 1, 2, 1760], [1, 1545, 0, 1, 1765]]
    assert state(result, "load", "exchange") == 980 - 560 + 1765 - 1540


def test_what_a_carrier_put_in_goes_back_to() -> None:
    # Good parts at 3770 and 7770: put in at 4000, aboard at 4980, at test at 5730.
    result = run_ms(loop(carrier_changes=(CarrierChange(LOAD, 4000 * MS, 1),)), luck(), 7800)
    assert causes(result, 7800) == {
        ("work", "test"): 2000,
        ("start handshake", "test"): 10,
        ("settling", "test"): 30,
        ("travel", "test"): 420,
        ("transfer", "transfer 0"): 330,
        ("travel", "transfer 0"): 420,
        ("done handshake", "load"): 20,
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("outside", "load"): 230,
    }


def test_what_a_way_goes_back_to_that_one_taken_out_opened() -> None:
    # rank  0 load  1, 2, 3 waiting, closed. Taken out when settled, at 825; the next leaves 3 then.
    changes = (CarrierChange(LOAD, 700 * MS, -1),)
    plan = plan_on(
        ["load wait wait wait"], [], ["load"], [0, 3, 2], closed=True, general=General(carrier_changes=changes)
    )
    result = run_ms(plan, WrittenLuck([500 * MS]), 1600)
    assert works(result, "load") == [(0, 40, 540), (1, 1085, 1585)]
    assert causes(result, 1600) == {
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("exchange move", "load"): 220,
        ("outside", "load"): 285,
    }


def test_a_run_may_begin_on_a_line_that_is_not_empty() -> None:
    # One stands at test with a flagged part of load 7 whose work there is done, one aboard with a part of load 8.
    start = Placement(
        stops=(5, 3),
        steps=(SCRAP, TEST),
        loads=(7, 8),
        present=(1, 1),
        flagged=(1, 0),
        exits=(SCRAP, -1),
        visits=(0, 0),
        next_load=9,
    )
    result = run_ms(loop(2, start=start), luck(), 4000)
    assert moves(result)[:2] == [[0, 0, 5, 7, 420], [1, 5, 3, 5, 425]]
    assert works(result, "scrap") == [(7, 460, 560)]
    assert works(result, "test")[0] == (8, 465, 2465)
    assert good(result) == [(8, 2465)]
    assert works(result, "load")[0][0] == 9
