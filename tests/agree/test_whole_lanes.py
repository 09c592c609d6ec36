"""Admission over whole lanes and transfers: the reference model and the general event loop on cases by hand; and never
more carriers on a stretch than it admits."""

from __future__ import annotations

import pytest

from agree.general_cases import causes, moves, run_ms
from agree.random_general import random_plan
from agree.reference_plans import MS, WrittenLuck
from agree.whole_lane_cases import (
    MERGE_AT_ONCE,
    MERGE_WHEN_CALLED,
    SPUR_OF_THREE,
    SPUR_OF_TWO,
    merge,
    spur,
)
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.flow.kernel.run import run_beyond
from linewright.traffic.general import Stretch
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.track import track_of

SPURS = [(2, SPUR_OF_TWO, 4500), (3, SPUR_OF_THREE, 2900)]
MERGES = [(True, MERGE_AT_ONCE, 2500), (False, MERGE_WHEN_CALLED, 2800)]


def with_whole_lanes(numbers: range) -> list[int]:
    """Those with whole lanes; carriers that are put in and taken out come and go without a move."""
    found = [random_plan(number) for number in numbers]
    return [
        one.number for one in found if "admission over lanes" in one.features and not one.plan.general.carrier_changes
    ]


def kernel_moves(plan: TrafficPlan, horizon_us: int, number: int = 1) -> list[list[int]]:
    """[carrier, departure, from, to, arrival], in the order of departures. [µs]"""
    run = run_beyond(plan, general_luck_of(plan, number, 0), horizon_us, horizon_us, trace_from_us=0)
    found = [[c, departed, start, goal, arrived] for c, departed, start, goal, arrived, _ in run.moves.tolist()]
    return sorted(found, key=lambda move: (move[1], move[0]))


def in_ms(found: list[list[int]]) -> list[list[int]]:
    return [[c, departed // MS, start, goal, arrived // MS] for c, departed, start, goal, arrived in found]


@pytest.mark.parametrize("most, expected, until_ms", SPURS)
def test_the_third_waits_before_the_transfer_of_a_full_spur(
    most: int, expected: list[list[int]], until_ms: int
) -> None:
    assert in_ms(kernel_moves(spur(most), until_ms * MS)) == expected
    assert moves(run_ms(spur(most), WrittenLuck([500 * MS, 2000 * MS]), until_ms)) == expected


@pytest.mark.parametrize("returns_at_once, expected, until_ms", MERGES)
def test_who_may_not_board_calls_no_platform(returns_at_once: bool, expected: list[list[int]], until_ms: int) -> None:
    plan = merge(returns_at_once)
    assert in_ms(kernel_moves(plan, until_ms * MS)) == expected
    assert moves(run_ms(plan, WrittenLuck([500 * MS, 1000 * MS, 100 * MS]), until_ms)) == expected


def test_a_call_goes_back_to_the_arrival_that_opened_the_stretch() -> None:
    # Good parts at 2540 and 3780; the second boards at 2700, when the gate has ridden 300 since the arrival at pack.
    plan = merge(returns_at_once=False)
    later = run_ms(plan, WrittenLuck([500 * MS, 1000 * MS, 100 * MS]), 3800)
    assert causes(later, 3800) == {
        ("work", "pack"): 100,
        ("start handshake", "pack"): 10,
        ("settling", "pack"): 30,
        ("travel", "pack"): 420,
        ("transfer", "transfer 0"): 300 + 2700 - 2540,
        ("exchange move", "transfer 0"): 220,
    }


def test_nobody_comes_to_a_full_stretch() -> None:
    numbers = with_whole_lanes(range(1, 41))
    assert len(numbers) >= 6
    for number in numbers[:6]:
        check_stretches(number)


@pytest.mark.long
@pytest.mark.parametrize("first", range(2001, 2201, 50))
def test_nobody_comes_to_a_full_stretch_on_many_plans(first: int) -> None:
    numbers = with_whole_lanes(range(first, first + 50))
    assert len(numbers) >= 3
    for number in numbers:
        check_stretches(number)


def check_stretches(number: int) -> None:
    """Nobody comes to a stretch on which so many are; by the log of moves alone."""
    plan = random_plan(number).plan
    found = kernel_moves(plan, 120_000_000, number)
    for stretch in plan.general.admission:
        assert most_at_once(plan, stretch, found) <= stretch.most, (number, stretch.name)


def most_at_once(plan: TrafficPlan, stretch: Stretch, found: list[list[int]]) -> int:
    """The most carriers at a time on a stretch, from their departure to it until they arrive outside; only instants at
    which one comes count, since more may stand there at time zero."""
    start = plan.general.start
    stands = plan.first_stops.tolist() if start is None else start.stops
    on = {carrier for carrier, stop in enumerate(stands) if stop in stretch.stops}
    events = []
    for carrier, departed, begin, goal, arrived in found:
        comes = crosses(plan, stretch, begin, goal)
        if comes and begin not in stretch.stops:
            events.append((departed, 1, carrier))
        if goal not in stretch.stops and (comes or begin in stretch.stops):
            events.append((arrived, 0, carrier))
    most = 0
    for _, comes, carrier in sorted(events):
        on = on | {carrier} if comes else on - {carrier}
        most = max(most, len(on) if comes else 0)
    return most


def crosses(plan: TrafficPlan, stretch: Stretch, begin: int, goal: int) -> bool:
    """Whether a move's way, its end included, comes to a stop of a stretch."""
    here, way = begin, track_of(plan).way
    while here != goal or here == begin:
        here = int(way[here, goal])
        if here in stretch.stops:
            return True
    return False
