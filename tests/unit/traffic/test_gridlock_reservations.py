"""Which stops a carrier may reserve: small tracks against lists by hand, plain loops against the plain loop's rules."""

from __future__ import annotations

import numpy as np

from agree.small_plans import Small, family, plan_of
from agree.small_routes import ONE, RING, SPUR, TWO, Docks, Shape
from linewright.traffic.general import General, Stretch
from linewright.traffic.gridlock.errands import Errands
from linewright.traffic.gridlock.reservations import STRAIGHT_ON, Asking, Reservations
from linewright.traffic.gridlock.ring import Post
from linewright.traffic.gridlock.system import State, System
from linewright.traffic.plan import ABOARD, DOCK, WAITING, TrafficPlan
from linewright.traffic.rules import NO_STOP, destination, farthest

Told = list[tuple[int, set[int]]]


def track(
    lanes: tuple[int, ...],
    docks: Docks,
    stations: dict[int, int],
    general: General | None = None,
    two_way: bool = False,
) -> Reservations:
    """A small track; stations: the step of the station on each stop that has one."""
    small = Small("track", Shape(lanes, docks, two_way), tuple(stations.items()), 1, general=general)
    return Reservations(plan_of(small))


def told(of: Reservations, stop: int, step: int, onto: int = NO_STOP, **more: int) -> Told:
    """What may be reserved by the way that is preferred: the stop, and all that must be free for it."""
    head = of.heads(stop, step, onto)[0]
    options = of.options(Asking(stop, step, onto, head, **more))  # type: ignore[arg-type]
    return [(one.target, {s for s in range(of.plan.stops) if one.need >> s & 1}) for one in options]


def moves(system: System, state: State) -> set[tuple[int, int]]:
    """Every move that may come next."""
    return {(one.start, one.stop) for one, _ in system.happenings(state) if one.kind == "moves"}


# ---- rings -----------------------------------------------------------------------------------------------------------

# Stops 0, 2 and 4 wait; 1 and 3 are stations of step 0, 5 is the station of step 1.
PARALLEL = {1: 0, 3: 0, 5: 1}


def test_parallel_stations_and_waiting_stops_of_a_ring() -> None:
    of = track((6,), RING, PARALLEL)
    assert not of.forks
    assert of.heads(0, 0, NO_STOP) == (STRAIGHT_ON,)
    # The near station, or the far one where nobody is before it; never stop 2, beyond a station of its step.
    assert told(of, 0, 0) == [(1, {1}), (3, {1, 2, 3})]
    # From the near one the waiting stop is in between.
    assert told(of, 1, 0) == [(2, {2}), (3, {2, 3})]
    assert told(of, 1, 1) == [(2, {2}), (4, {2, 3, 4}), (5, {2, 3, 4, 5})]
    assert told(of, 2, 1) == [(4, {3, 4}), (5, {3, 4, 5})]
    assert told(of, 4, 0) == [(0, {5, 0}), (1, {5, 0, 1}), (3, {5, 0, 1, 2, 3})]


def test_the_walk_ends_before_its_own_stop() -> None:
    of = track((6,), RING, PARALLEL)
    assert of.walk(4, NO_STOP, STRAIGHT_ON) == (5, 0, 1, 2, 3)


def test_the_only_stop_of_its_step_is_its_own() -> None:
    # Worked at the one station of the route, the next part is loaded there too: up to the stop before it.
    assert told(track((3,), RING, {2: 0}), 2, 0) == [(0, {0}), (1, {0, 1})]
    # With one stop there is nowhere to go.
    assert told(track((1,), RING, {0: 0}), 0, 0) == []


def test_a_full_stretch_ends_the_way() -> None:
    of = track((6,), RING, PARALLEL, General(admission=(Stretch("hood", (2, 3), 1),)))
    assert of.stretches == [0, 0, 1, 1, 0, 0]
    assert told(of, 0, 0, closed=1) == [(1, {1})]
    assert told(of, 1, 1, closed=1) == []
    assert told(of, 4, 0, closed=1) == [(0, {5, 0}), (1, {5, 0, 1})]
    assert told(of, 4, 0) == told(track((6,), RING, PARALLEL), 4, 0)


def test_a_stop_kept_for_a_carrier_is_passed_but_not_reserved() -> None:
    of = track((6,), RING, PARALLEL)
    assert told(of, 0, 0, barred=1 << 1) == [(3, {1, 2, 3})]
    assert told(of, 4, 0, barred=1 << 3) == [(0, {5, 0}), (1, {5, 0, 1})]


def test_with_other_rules_of_admission_nothing_stale_is_kept() -> None:
    plain = track((6,), RING, PARALLEL)
    assert told(plain, 0, 0, closed=1) == told(plain, 0, 0)  # no stretch: nothing is closed
    hood = track((6,), RING, PARALLEL, General(admission=(Stretch("hood", (2, 3), 1),)))
    late = plain.with_rules_of(hood.plan)
    assert told(late, 0, 0, closed=1) == [(1, {1})]
    assert told(late, 0, 0) == told(plain, 0, 0)


# ---- transfers -------------------------------------------------------------------------------------------------------


def test_parallel_stations_before_and_beyond_a_place_aboard() -> None:
    # A ring with one transfer: stations of step 0 on 0 and 2, of step 1 on 1; 3 waits, 4 is the dock, 5 is aboard.
    of = track((5,), ONE, {0: 0, 1: 1, 2: 0})
    # Both stations free: it heads for the far one, and takes the place aboard before it.
    assert told(of, 1, 0) == [(2, {2}), (5, {2, 3, 4, 5, 0})]
    # The platform is away: it passes the near one all the same and rests at the dock.
    assert told(of, 1, 0, away=True) == [(2, {2}), (4, {2, 3, 4, 5, 0})]
    assert told(of, 4, 0) == [(5, {5})]
    assert told(of, 4, 0, away=True) == []
    assert told(of, 5, 0) == [(0, {0}), (2, {0, 1, 2})]
    assert [of.next_transfer(stop, NO_STOP, STRAIGHT_ON) for stop in (1, 4, 5)] == [0, 0, -1]


def test_beyond_the_place_aboard_nothing_is_reserved_from_before_it() -> None:
    # Two lanes: stops 0 and 1 wait, 2 is the dock, 3 aboard; 4 is the only station, 5 its lane's dock, 6 aboard.
    of = track((3, 2), TWO, {4: 0})
    assert told(of, 0, 0) == [(1, {1}), (2, {1, 2}), (3, {1, 2, 3})]
    assert told(of, 0, 0, away=True) == [(1, {1}), (2, {1, 2})]
    assert told(of, 3, 0) == [(4, {4})]
    # From aboard one transfer the next one's place may be reserved.
    assert told(of, 6, 0) == [(0, {0}), (1, {0, 1}), (2, {0, 1, 2}), (3, {0, 1, 2, 3})]


def test_of_several_places_the_foremost_free_one() -> None:
    # 0 is the station, 1 waits, 2 is the dock, 3 and 4 are aboard.
    of = track((3,), (((0,), (0,), 2),), {0: 0})
    assert told(of, 2, 0) == [(3, {3}), (4, {3, 4})]
    assert told(of, 2, 0, away=True) == []
    # Aboard its own places do not count: it leaves for the lane, past those before it.
    assert told(of, 3, 0) == [(0, {4, 0})]


def test_aboard_with_its_lane_chosen_it_goes_on_along_that_lane() -> None:
    # A transfer that takes from two lanes and gives to both: 0 is the station of step 0, 1 waits, 2 is the dock; 3 is
    # aboard; of the other lane 4 is the station of step 1, 5 waits, 6 is the dock.
    of = track((3, 3), SPUR, {0: 0, 4: 1})
    assert of.forks
    assert of.heads(3, 1, NO_STOP) == (4, 4)
    assert told(of, 3, 1) == [(4, {4})]
    # Unlocked at the wrong lane it goes once round it: past the station there, which is not its own.
    assert told(of, 3, 1, onto=0) == [(1, {0, 1}), (2, {0, 1, 2})]
    assert told(of, 0, 1) == [(1, {1}), (2, {1, 2}), (3, {1, 2, 3})]
    assert of.is_aboard(3)
    assert [of.step_at(stop) for stop in (0, 1, 4)] == [0, -1, 1]


def test_nobody_boards_a_platform_that_has_unlocked_with_another() -> None:
    # 0 is the station, 1 waits, 2 is the dock, 3 and 4 are aboard.
    of = track((3,), (((0,), (0,), 2),), {0: 0})
    system = System(Errands(of.plan), of)
    empty = system.number(Post(system.errands.empty(0)))
    here = State((-1, -1, empty, -1, empty))
    assert moves(system, here) == {(2, 3)}
    # Unlocked, the one aboard leaves for the station; until then the other stays at the dock.
    assert moves(system, here._replace(away=1)) == {(4, 0)}
    left = next(after for one, after in system.happenings(here._replace(away=1)) if one.kind == "moves")
    assert left.away == 0
    assert moves(system, left) == {(2, 4)}


def test_a_platform_of_one_place_may_be_away_or_not() -> None:
    # As above with stations before and beyond the place aboard: the carrier on 1 takes that place or rests at the dock.
    of = track((5,), ONE, {0: 0, 1: 1, 2: 0})
    system = System(Errands(of.plan), of)
    worked = system.number(Post(system.errands.empty(0)))
    assert moves(system, State((-1, worked, -1, -1, -1, -1))) == {(1, 5), (1, 4)}


# ---- two-way ---------------------------------------------------------------------------------------------------------


def test_a_two_way_lane_is_gone_both_ways() -> None:
    of = track((5,), RING, {0: 0, 4: 1}, two_way=True)
    assert told(of, 2, 1) == [(3, {3}), (4, {3, 4})]
    assert told(of, 2, 0) == [(1, {1}), (0, {1, 0})]
    assert told(of, 4, 0) == [(3, {3}), (2, {3, 2}), (1, {3, 2, 1}), (0, {3, 2, 1, 0})]


def test_of_two_stations_equally_far_the_lower_rank_is_preferred() -> None:
    of = track((5,), RING, {0: 1, 2: 0, 4: 1}, two_way=True)
    # First 0, with somebody there 4, with somebody on both 0 again.
    assert of.heads(2, 1, NO_STOP) == (0, 4, 0)
    # The nearer one comes first.
    assert of.heads(3, 1, NO_STOP) == (4, 0, 4)


# ---- against the rules of the plain loop -----------------------------------------------------------------------------


def by_plain_rules(plan: TrafficPlan, stop: int, step: int) -> Told:
    """The same, reckoned by `destination` and `farthest` with a leader at each place in turn."""
    count, kinds = plan.stops, plan.stop_kind.tolist()
    goals = np.array([plan.station_stop[k] for k in plan.step_stations[step]], np.int64)
    ahead = [next(d for d in range(1, count + 1) if kinds[(s + d) % count] == ABOARD) for s in range(count)]
    back = [next(d for d in range(count) if kinds[(s - d) % count] in (WAITING, DOCK)) for s in range(count)]
    found: Told = []
    for free in range(count):
        goal = destination(stop, free, 0, len(goals), goals, count)
        reach = farthest(stop, free, goal, True, np.array(ahead), np.array(back), count)
        target = (stop + reach) % count
        if reach > 0 and (not found or found[-1][0] != target):
            found.append((target, {(stop + d) % count for d in range(1, free + 1)}))
    return found


def test_plain_loops_by_the_rules_of_the_plain_loop() -> None:
    loops = [one for one in family("loop", 7) if len(one.shape.docks) == 2][::17]
    assert len(loops) >= 40
    for small in loops:
        plan = plan_of(small)
        of = Reservations(plan)
        for stop in range(plan.stops):
            for step in range(len(plan.step_names)):
                assert told(of, stop, step) == by_plain_rules(plan, stop, step), (small.name, stop, step)
