"""Going through all states of small plans, held against what can be reckoned by hand; and against the kernel as a black
box: it makes no move that is no transition, and stands still for good only where a jam can be reached."""

from __future__ import annotations

import dataclasses
from math import comb

import numpy as np
import pytest

from agree.brute_gridlock import BruteVerdict, brute_from_any_placement, brute_from_start
from agree.brute_model import State
from agree.brute_product import Errand, Product
from agree.small_plans import Small, family, long_plans, plan_of, short_plans
from agree.small_routes import ONE, RING, SPUR, Shape
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.flow.kernel.run import run_beyond
from linewright.traffic.general import CarrierChange, General, Placement, Stretch, Variant
from linewright.traffic.plan import EXPONENTIAL, Law, TrafficPlan

ENOUGH = 100_000
EMPTY, LOADED = Errand(), Errand(1, -1, unflagged=True)
RED_AND_BLUE = (Variant("red", 0.0), Variant("blue", 0.0))


def ring(count: int, stations: dict[int, int], carriers: int, general: General | None = None) -> TrafficPlan:
    """A ring of stops; stations: the step of the station on each stop that has one."""
    return plan_of(Small("ring", Shape((count,), RING), tuple(stations.items()), carriers, general=general))


def told(verdict: BruteVerdict) -> list[tuple[str, int, int]]:
    """The way into a jam without the states."""
    return [change[:3] for change in verdict.way]


# ---- rings ----


@pytest.mark.parametrize(("count", "carriers"), [(n, k) for n in range(1, 7) for k in range(1, n + 1)])
def test_a_ring_with_one_station_has_as_many_states_as_there_are_ways_to_stand(count: int, carriers: int) -> None:
    # One step, one station: a carrier is empty whenever it stands, so that carriers differ by their stops alone. With
    # nobody on the station there are C(N - 1, K) states. With somebody there he is worked on or not: 2 C(N - 1, K - 1).
    # With going on moves are of every length, so that carriers come into every order of places from time zero too.
    states = comb(count - 1, carriers) + 2 * comb(count - 1, carriers - 1)
    plan, going_on = (ring(count, {count - 1: 0}, carriers, General(going_on=one)) for one in (False, True))
    for verdict in (
        brute_from_any_placement(plan, ENOUGH),
        brute_from_any_placement(going_on, ENOUGH),
        brute_from_start(going_on, ENOUGH),
    ):
        assert (verdict.states, verdict.complete) == (states, True)
        # With every stop taken nobody moves; the end of work is no move.
        assert verdict.jams == (carriers == count)
        assert verdict.stuck == (tuple(range(count)) if carriers == count else ())
        assert verdict.way == ()


@pytest.mark.parametrize(("count", "carriers"), [(n, k) for n in range(2, 7) for k in range(1, n)])
def test_with_two_steps_each_carrier_doubles_the_placements(count: int, carriers: int) -> None:
    # Two errands: empty to step 0, loaded to step 1. On a waiting stop either; on a station its own step's errand not
    # yet worked on, or the other one afterwards: two on every stop, so C(N, K) 2^K placements, from which no other
    # state is reached.
    plan = ring(count, {count - 1: 0, count - 2: 1}, carriers)
    assert brute_from_any_placement(plan, ENOUGH).states == comb(count, carriers) * 2**carriers


def test_a_ring_of_two_stations_by_hand() -> None:
    # Empty at station 0, loaded there, loaded at station 1, empty there.
    verdict = brute_from_start(ring(2, {0: 0, 1: 1}, 1), ENOUGH)
    assert (verdict.states, verdict.jams, verdict.moves) == (4, False, frozenset({(0, 1), (1, 0)}))


def test_what_a_carrier_may_take_where_two_stations_do_the_same() -> None:
    # Stops 0 and 2 wait, 1 and 3 work, K = 1, from 3 on. It takes the farthest free station of its step: from 3 the one
    # on 1, from 1 the one on 3. With going on it may take what it would with somebody on its way: from 0 station 3 or,
    # with somebody on 2 or 3, station 1; never stop 2, beyond a station of its step. From 2 it takes 3 or, farther, 1.
    # From station 1 it takes 3, or 2 if somebody stands on 3; from 3 likewise 1 or 0.
    def moves(going_on: bool) -> frozenset[tuple[int, int]]:
        return brute_from_start(ring(4, {1: 0, 3: 0}, 1, General(going_on=going_on)), ENOUGH).moves

    assert moves(going_on=False) == {(1, 3), (3, 1)}
    assert moves(going_on=True) == {(0, 1), (0, 3), (1, 2), (1, 3), (2, 1), (2, 3), (3, 0), (3, 1)}


def test_all_rings_of_three_stops() -> None:
    # Necklaces: W0 00 01 of two stops, on three W, W, 0; W and two of 00 01 10; 000 and (13 - 1) / 3 others. With
    # K up to (waiting stops + 1): 1 + (2 + 1 + 1) + (3 + 3 * 2 + 5) = 19 without exits; by the same count of four stops
    # 4 + 5 * 3 + 13 * 2 + 20 = 65 more.
    def plain(size: int) -> int:
        return sum(one.exit is None for one in family("ring", size))

    assert (plain(3), plain(4)) == (19, 84)


# ---- tracks ----


def test_a_platform_that_is_away_makes_a_carrier_wait_at_the_dock() -> None:
    # A lane with stations of steps 0, 1, 0 and a dock, one transfer back onto it. From station 1 its goal is the
    # station of step 0 beyond the platform: it takes the place aboard (4) or, where the platform is away, the dock (3);
    # with going on also the station before them (2), as if somebody stood on its way.
    def stops(going_on: bool) -> set[int]:
        general = General(going_on=going_on)
        plan = plan_of(Small("loop", Shape((4,), ONE), ((0, 0), (1, 1), (2, 0)), 1, general=general))
        return {stop for start, stop in brute_from_start(plan, ENOUGH).moves if start == 1}

    assert stops(going_on=False) == {3, 4}
    assert stops(going_on=True) == {2, 3, 4}


def test_a_loop_locks_when_every_common_stop_is_taken() -> None:
    # Station 0, waiting stop 1, station 2 of the next step, dock 3, place aboard 4. Everybody may rest on 1, 3 and 4.
    # Empty ones on 1 and on station 2, one for step 1 at the dock: it can still come aboard, the second to the dock;
    # then the first is held by the second, that one by the third, which must past stop 1 to station 2. So the first
    # never moves. From time zero nobody is ever for step 1 on the platform: it comes from station 0, before stop 1.
    plan = plan_of(Small("loop", Shape((4,), ONE), ((0, 0), (2, 1)), 3))
    assert brute_from_start(plan, ENOUGH).jams is False
    verdict = brute_from_any_placement(plan, ENOUGH)
    assert (verdict.jams, verdict.way, verdict.stuck) == (True, (), (1,))
    assert verdict.first is not None
    assert verdict.first.stops == (None, EMPTY, EMPTY, LOADED, None)
    fewer = plan_of(Small("loop", Shape((4,), ONE), ((0, 0), (2, 1)), 2))
    assert brute_from_any_placement(fewer, ENOUGH).jams is False


def test_a_spur_closed_on_its_own_transfer() -> None:
    # Lane 0: station 0 and dock 1; place aboard 2; spur: station 3 of step 1 and dock 4. The platform takes from both
    # lanes and gives to both. Three carriers begin on 0, 1 and 4. The one from 4 comes aboard: it must onto station 0,
    # which its carrier cannot leave with 1 taken, whose carrier cannot come aboard. Two carriers leave a stop free.
    def plan(carriers: int) -> TrafficPlan:
        return plan_of(Small("track", Shape((2, 2), SPUR), ((0, 0), (3, 1)), carriers))

    assert plan(3).first_stops.tolist() == [0, 1, 4]
    verdict = brute_from_start(plan(3), ENOUGH)
    assert (told(verdict), verdict.stuck) == ([("moves", 4, 2)], (0, 1, 2))
    for brute in (brute_from_start, brute_from_any_placement):
        assert brute(plan(2), ENOUGH).jams is False
        assert brute(plan(3), ENOUGH).jams is True


def test_two_carriers_face_each_other_on_a_lane_to_and_fro() -> None:
    # Station of step 1 on stop 0, stop 1 waits, station of step 0 on stop 2. Alone a carrier goes up and down: empty on
    # 2, loaded on 2, then against the direction loaded on 0 and empty on 0: four states. With a second one on stop 1
    # neither ever passes.
    shape, stations = Shape((3,), RING, two_way=True), ((0, 1), (2, 0))
    alone = brute_from_start(plan_of(Small("two-way", shape, stations, 1)), ENOUGH)
    assert (alone.states, alone.jams, alone.moves) == (4, False, frozenset({(2, 0), (0, 2)}))
    facing = brute_from_start(plan_of(Small("two-way", shape, stations, 2)), ENOUGH)
    assert (facing.jams, facing.way, facing.stuck) == (True, (), (1, 2))


def test_a_carrier_at_the_only_station_of_its_step_stays_on_a_lane_to_and_fro() -> None:
    plan = plan_of(Small("two-way", Shape((2,), RING, two_way=True), ((1, 0),), 1))
    assert (brute_from_start(plan, ENOUGH).stuck, brute_from_start(plan, ENOUGH).states) == ((1,), 2)


# ---- beyond the plain loop ----


def test_run_out_with_a_part_behind_the_gate() -> None:
    # On the ring 0: step 2, 1: step 1, 2 to 4: waiting, 5: step 0 a part passes station 0 between steps 1 and 2. The
    # first carrier loads red and goes from 5 to 1; the second comes to 5 for the next load, which is blue: it waits for
    # red to leave, and red must pass it. The red one may still move as far as 4, so one carrier alone is stuck then.
    # Without run-out two carriers cannot take all of the three common stops.
    def plan(run_out: bool) -> TrafficPlan:
        return ring(6, {0: 2, 1: 1, 5: 0}, 2, General(variants=RED_AND_BLUE, sequence=(0, 1), run_out=run_out))

    verdict = brute_from_start(plan(run_out=True), ENOUGH)
    load = ("takes its load", -1, 5)
    assert told(verdict) == [load, ("work ends", -1, 5), ("moves", 5, 1), ("moves", 4, 5)]
    assert verdict.stuck == (5,)
    assert brute_from_start(plan(run_out=False), ENOUGH).jams is False
    assert brute_from_any_placement(plan(run_out=False), ENOUGH).jams is False


def test_a_placement_may_put_the_part_behind_the_gate() -> None:
    # On the ring 0: step 1, 1 to 3: waiting, 4: step 0 a part has left before anybody comes to station 0 behind it;
    # only a placement puts it on stop 1 behind an empty carrier at the gate, where that one waits for ever.
    plan = ring(5, {0: 1, 4: 0}, 2, General(variants=RED_AND_BLUE, sequence=(0, 1), run_out=True))
    assert brute_from_start(plan, ENOUGH).jams is False
    verdict = brute_from_any_placement(plan, ENOUGH)
    assert (verdict.jams, verdict.way, verdict.stuck) == (True, (), (4,))
    assert verdict.first is not None
    behind, at_gate = verdict.first.stops[1], verdict.first.stops[4]
    assert behind is not None
    assert (behind.step, at_gate) == (1, EMPTY)
    assert behind.variant != (0, 1)[verdict.first.place]


def test_a_stretch_is_never_overfull() -> None:
    # As the ring of one station above with N = 4, K = 2: 3 + 2 * 3 = 9 states, less the one with both on stops 0 and 1.
    plan = ring(4, {3: 0}, 2, General(admission=(Stretch("zone", (0, 1), 1),)))
    assert brute_from_any_placement(plan, ENOUGH).states == 8
    assert brute_from_start(plan, ENOUGH).states == 8


def test_a_full_stretch_can_lock_the_line() -> None:
    # Stations of steps 0 and 1 on stops 2 and 3 of a ring of four. With one admitted to 2 and 3 the other waits before
    # them until the first has left both. With one admitted to 0, 1 and 2, one of them there and the other on 3: this
    # one cannot come onto the stretch, and that one cannot leave it, since beyond it lies stop 3 alone.
    alone = ring(4, {2: 0, 3: 1}, 2, General(admission=(Stretch("zone", (2, 3), 1),)))
    assert brute_from_start(alone, ENOUGH).jams is False
    facing = ring(4, {2: 0, 3: 1}, 2, General(admission=(Stretch("zone", (0, 1, 2), 1),)))
    verdict = brute_from_any_placement(facing, ENOUGH)
    assert (verdict.jams, verdict.way, verdict.stuck) == (True, (), (3,))
    assert verdict.first is not None
    assert [stop for stop, errand in enumerate(verdict.first.stops) if errand is not None] == [0, 3]


def test_a_carrier_is_taken_out_before_its_work_alone() -> None:
    # A full ring of two stops. Taken out before its work the first leaves the other room; once it is worked on it
    # stands at the gate no more, and both stay.
    plan = ring(2, {1: 0}, 2, General(carrier_changes=(CarrierChange(0, 10_000_000, -1),)))
    verdict = brute_from_start(plan, ENOUGH)
    assert (told(verdict), verdict.stuck) == ([("work ends", -1, 1)], (0, 1))
    # Both there and the change to come or come, the first worked on or not: 4; then one alone, on 0 or on 1 and worked
    # on or not: 3.
    assert verdict.states == 7


def test_a_carrier_is_put_in_where_nobody_rests() -> None:
    # One carrier on a ring of two stops, and one put in at the station: both stops are taken then. The first jam is
    # where the change comes while the one is on the waiting stop: the station is kept, then taken for good.
    plan = ring(2, {1: 0}, 1, General(carrier_changes=(CarrierChange(0, 10_000_000, 1),)))
    verdict = brute_from_start(plan, ENOUGH)
    assert (verdict.jams, verdict.stuck) == (True, (0,))
    assert sorted(told(verdict)) == [("comes", -1, 0), ("moves", 1, 0), ("work ends", -1, 1)]
    # Before the change 3 states, after it 3, with both 2.
    assert verdict.states == 8


def test_a_search_that_is_given_up_has_no_answer() -> None:
    plan = ring(4, {3: 0}, 2)
    for brute in (brute_from_start, brute_from_any_placement):
        states = brute(plan, ENOUGH).states
        assert (brute(plan, states).jams, brute(plan, states).complete) == (False, True)
        assert (brute(plan, states - 1).jams, brute(plan, states - 1).complete) == (None, False)


# ---- the product ----


def test_what_may_follow_a_work() -> None:
    # Steps 0 and 1, then the exit. After step 0 the part is good, flagged, or sent back to step 0, where it stands.
    small = Small("ring", Shape((4,), RING), ((0, 0), (1, 1), (2, 2)), 1, (0, 2), (0, 0))
    product = Product(plan_of(small))
    back = Errand(0, -1, unflagged=True, worked=True)
    flagged = Errand(2, -1, exits=(2,))
    assert set(product.after_any_work(EMPTY, 0)) == {LOADED, back, flagged}
    assert product.after_any_work(LOADED, 1) == [EMPTY]
    assert product.after_any_work(flagged, 2) == [EMPTY]
    assert set(product.all_errands({0})) == {EMPTY, LOADED, back._replace(worked=False), flagged}


def test_what_may_follow_a_work_on_two_nests() -> None:
    small = Small("ring", Shape((4,), RING), ((0, 0), (1, 1), (2, 2)), 1, (0, 2), general=General(nests=2))
    plan = plan_of(dataclasses.replace(small, general=General(nests=2, misses=(0.2, 0.0, 0.0))))
    both = Errand(1, -1, unflagged=True, exits=(2,))
    all_flagged = Errand(2, -1, exits=(2,))
    found = Product(plan_of(small)).after_any_work(EMPTY, 0)
    assert set(found) == {LOADED, both, all_flagged}
    # With both missing it goes to step 0 again, where it stands.
    assert set(Product(plan).after_any_work(EMPTY, 0)) == {LOADED, both, all_flagged, Errand(worked=True)}
    # The good part leaves after step 1, the flagged one at the exit.
    assert Product(plan).after_any_work(both, 1) == [all_flagged]


# ---- against the kernel ----

HORIZON_US = 300_000_000


def check_against_the_kernel(small: Small, seeds: tuple[int, ...]) -> None:
    """The kernel makes only moves that are transitions; if all stand still for good a jam can be reached."""
    plan = plan_of(small)
    verdict = brute_from_start(plan, ENOUGH)
    assert verdict.complete, small.name
    assert not verdict.jams or brute_from_any_placement(plan, ENOUGH).jams is not False, small.name
    lucky = dataclasses.replace(plan, work=tuple(Law(EXPONENTIAL, 1e6) for _ in plan.work))
    for seed in seeds:
        run = run_beyond(lucky, general_luck_of(lucky, seed, 0), HORIZON_US, 20_000_000, trace_from_us=0)
        moves = np.asarray(run.moves).reshape(-1, 6)
        made = {(int(start), int(stop)) for start, stop in moves[:, 2:4]}
        # A move that goes on is logged as one and is two reservations here.
        assert plan.general.going_on or made <= verdict.moves, f"{small.name}: {sorted(made - verdict.moves)}"
        stands_still = len(moves) == 0 or moves[:, 1].max() < HORIZON_US // 2
        assert not stands_still or verdict.jams, f"{small.name}, seed {seed}"


def placement_of(state: State) -> Placement | None:
    """The placement that starts the kernel in a state; None where none does."""
    standing = [(stop, errand) for stop, errand in enumerate(state.stops) if errand is not None]
    if any(state.unlocked) or max(state.lanes, default=-1) >= 0 or any(errand.worked for _, errand in standing):
        return None
    present = tuple(int(not errand.is_empty) for _, errand in standing)
    return Placement(
        tuple(stop for stop, _ in standing),
        tuple(errand.step for _, errand in standing),
        tuple(number if there else -1 for number, there in enumerate(present)),
        present,
        tuple(int(bool(errand.exits)) for _, errand in standing),
        tuple(errand.exits[0] if errand.exits else -1 for _, errand in standing),
        (0,) * len(standing),
        len(standing),
    )


def check_that_stuck_carriers_stay(small: Small) -> bool:
    """The kernel, started in the first placement that is a jam, moves none of those stuck; whether there is one."""
    plan = plan_of(small)
    verdict = brute_from_any_placement(plan, ENOUGH)
    if small.general is not None or not verdict.jams or verdict.way:
        return False
    assert verdict.first is not None
    start = placement_of(verdict.first)
    if start is None or verdict.first.against:
        return False
    plan = dataclasses.replace(plan, general=dataclasses.replace(plan.general, start=start))
    run = run_beyond(plan, general_luck_of(plan, 1, 0), HORIZON_US, 20_000_000, trace_from_us=0)
    moved = {start.stops[int(carrier)] for carrier in np.asarray(run.moves).reshape(-1, 6)[:, 0]}
    assert not moved & set(verdict.stuck), f"{small.name}: {start}"
    return True


def test_the_kernel_meets_no_jam_that_was_not_found() -> None:
    for small in short_plans(61):
        check_against_the_kernel(small, (1,))


def test_carriers_that_are_stuck_stay_in_the_kernel() -> None:
    assert sum(check_that_stuck_carriers_stay(small) for small in short_plans(43)) > 8


@pytest.mark.long
@pytest.mark.parametrize("part", range(8))
def test_the_kernel_meets_no_jam_that_was_not_found_on_many_plans(part: int) -> None:
    for small in long_plans(11)[part::8]:
        check_against_the_kernel(small, (1, 2))


@pytest.mark.long
def test_carriers_that_are_stuck_stay_in_the_kernel_on_many_plans() -> None:
    assert sum(check_that_stuck_carriers_stay(small) for small in long_plans(17)) > 200
