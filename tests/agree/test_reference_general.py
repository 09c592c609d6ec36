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

from agree.general_cases import (
    ANY,
    LOAD,
    ROUND,
    SCRAP,
    TEST,
    causes,
    good,
    loop,
    luck,
    moves,
    run_ms,
    state,
    works,
)
from agree.given_luck import GivenLuck, coarsen, write_down
from agree.random_lines import random_line
from agree.reference_causes import causes_of
from agree.reference_general import run_general
from agree.reference_model import from_plan, run
from agree.reference_plans import MS, WrittenLuck
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import (
    FEED,
    TAKE_AWAY,
    Break,
    Changeover,
    Outside,
    Pool,
    Rework,
    Variant,
)
from linewright.traffic.plan import OF_CLOCK, FailureKind

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
