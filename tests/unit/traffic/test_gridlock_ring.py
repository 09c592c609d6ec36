"""The fewest carriers that can hold each other: counted by hand on small tracks, by the stops on plain loops, and never
more than a jam needs that is built."""

from __future__ import annotations

import random

import numpy as np
import pytest

from agree.random_lines import random_line
from agree.small_plans import Small, plan_of, short_plans
from agree.small_routes import ONE, RING, SPUR, Docks, Shape
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import General, Stretch, Variant
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.ring import Graph, Post, Ring
from linewright.traffic.gridlock.system import ALONG, State
from linewright.traffic.plan import ABOARD, DOCK, WAITING, TrafficPlan
from linewright.traffic.rules import NO_STOP


def prover(
    lanes: tuple[int, ...], docks: Docks, stations: dict[int, int], carriers: int = 1, general: General | None = None
) -> Prover:
    """Of a small track; stations: the step of the station on each stop that has one."""
    return Prover(plan_of(Small("track", Shape(lanes, docks), tuple(stations.items()), carriers, general=general)))


def stretches(*told: tuple[tuple[int, ...], int]) -> General:
    return General(admission=tuple(Stretch(f"stretch {n}", stops, most) for n, (stops, most) in enumerate(told)))


def carriers(ring: Ring | None) -> int | None:
    return None if ring is None else ring.carriers


def stops(ring: Ring | None) -> set[int]:
    assert ring is not None
    return {node.stop for node in ring.nodes}


def rest_stops(plan: TrafficPlan) -> list[int]:
    return np.flatnonzero(np.isin(plan.stop_kind, (WAITING, DOCK, ABOARD))).tolist()


# ---- rings by hand ---------------------------------------------------------------------------------------------------


def test_a_ring_of_four_stops() -> None:
    # 0 and 2 wait, 1 is the station of step 0, 3 that of step 1. A loaded one on 0 needs 1 and 2, an empty one on 2
    # needs 3 and 0: two hold each other. That comes after a stop only.
    of = prover((4,), RING, {1: 0, 3: 1}, 2)
    assert carriers(of.ring_of_placements) == 2
    assert stops(of.ring_of_placements) == {0, 2}
    # By the rules 0 has empty ones alone, which go on to 1, and 2 loaded ones alone, which go on to 3.
    assert carriers(of.ring_of_start) == 4
    # A third carrier begins on 2, empty: it needs 0, whose carrier needs 1, whose carrier needs 2.
    three = prover((4,), RING, {1: 0, 3: 1}, 3)
    assert carriers(three.ring_of_start) == 3
    assert stops(three.ring_of_start) == {0, 1, 2}


def test_each_is_held_by_the_next() -> None:
    of = prover((4,), RING, {1: 0, 3: 1}, 2)
    ring = of.ring_of_placements
    assert ring is not None
    assert len(ring.nodes) == len(ring.edges)
    assert [edge.to for edge in ring.edges] == [*ring.nodes[1:], ring.nodes[0]]
    assert {node.stop: edge.post.errand.step for node, edge in zip(ring.nodes, ring.edges, strict=True)} == {0: 1, 2: 0}


def test_one_step_sends_everybody_to_every_station() -> None:
    # The way from 0 ends at the station on 1, so the one there is in the ring too: more than the three that wait.
    of = prover((4,), RING, {1: 0})
    assert carriers(of.ring_of_placements) == 4
    assert of.from_any_placement().jams is False


def test_without_waiting_stops_each_holds_the_other() -> None:
    of = prover((2,), RING, {0: 0, 1: 1}, 1)
    assert carriers(of.ring_of_placements) == 2


@pytest.mark.parametrize("count", range(2, 7))
def test_one_more_where_no_way_leads_past_the_stations(count: int) -> None:
    # The two stations are side by side, all other stops wait. From the last waiting stop everybody, empty or loaded,
    # has the station of its step before the next waiting stop, so one on a station is in the ring too. With no
    # waiting stop or one the two stations hold each other, or one of them and the waiting stop.
    of = prover((count,), RING, {count - 2: 0, count - 1: 1})
    assert carriers(of.ring_of_placements) == max(count - 1, 2)


# ---- plain loops -----------------------------------------------------------------------------------------------------


def passing_post(of: Prover, stop: int) -> Post | None:
    """A way to stand at a stop from which the next stop to be taken is one at which everybody may rest."""
    plan = of.plan
    rests, ahead = set(rest_stops(plan)), stop
    passed = set()
    while True:
        ahead = (ahead + 1) % plan.stops
        if ahead in rests:
            break
        passed.add(int(plan.station_step[plan.stop_station[ahead]]))
    return next((post for post in of.posts[stop] if post.errand.step not in passed), None)


def theorem(number: int) -> bool:
    """Hold a random plain line to the theorem; whether there is a way past the stations from every stop."""
    line = random_line(number).read()
    of = Prover(compile_plan(line, lay_out(line)))
    rests = rest_stops(of.plan)
    ring = of.ring_of_placements
    assert ring is not None
    assert ring.carriers >= len(rests)
    passing = {stop: passing_post(of, stop) for stop in rests}
    if any(post is None for post in passing.values()):
        return False
    # The least ring is that of all stops at which everybody may rest.
    assert ring.carriers == len(rests)
    assert stops(ring) == set(rests)
    # A jam of so many, built by hand: each wants the next of these stops.
    posts = [-1] * of.plan.stops
    for stop, post in passing.items():
        assert post is not None
        posts[stop] = of.system.number(post)
    assert of.system.stuck(State(tuple(posts))) == frozenset(rests)
    return True


def test_the_theorem_on_random_plain_loops() -> None:
    # Lines whose plans are quick to compile.
    assert sum(theorem(number) for number in (2, 6, 9, 12, 18, 31, 36, 39)) >= 6


@pytest.mark.long
def test_the_theorem_on_many_random_plain_loops() -> None:
    assert sum(theorem(number) for number in range(1, 401)) >= 300


# ---- admission -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("most", "least"), [(None, 4), (1, 3), (2, 4), (3, 4)])
def test_a_full_stretch_is_a_place_in_the_ring(most: int | None, least: int) -> None:
    # 0, 2, 3 and 5 wait. Where 2 and 3 admit one alone, that one stands for both: 0 is held by it, it by 5, 5 by 0.
    general = None if most is None else stretches(((2, 3), most))
    assert carriers(prover((6,), RING, {1: 0, 4: 1}, general=general).ring_of_placements) == least


def test_whoever_waits_before_the_stretch_is_held_by_one_in_it() -> None:
    ring = prover((6,), RING, {1: 0, 4: 1}, general=stretches(((2, 3), 1))).ring_of_placements
    assert ring is not None
    assert {node.stop: edge.reason for node, edge in zip(ring.nodes, ring.edges, strict=True)} == {
        0: "stretch",
        3: "way",
        5: "way",
    }


# Two rounds with one place aboard in common: 0 is the station of step 0, 1 waits, 2 is its lane's dock, 3 is aboard; 4
# is the station of step 1, 5 waits, 6 is its dock.
EIGHT: dict[int, int] = {0: 0, 4: 1}


def test_a_ring_inside_a_part_that_admits_fewer_cannot_be() -> None:
    assert carriers(prover((3, 3), SPUR, EIGHT).ring_of_placements) == 4
    one = prover((3, 3), SPUR, EIGHT, general=stretches(((0, 1, 2, 3), 3)))
    assert carriers(one.ring_of_placements) == 4
    assert stops(one.ring_of_placements) == {3, 4, 5, 6}
    both = prover((3, 3), SPUR, EIGHT, general=stretches(((0, 1, 2, 3), 3), ((3, 4, 5, 6), 3)))
    # Now both rounds are full and each waits for the other. They share the place aboard, so that only one carrier of
    # each is sure to be counted once: a bound that is too low, and never too high.
    assert carriers(both.ring_of_placements) == 2
    assert stops(both.ring_of_placements) == {2, 6}


def test_a_stretch_that_admits_as_many_as_it_holds_changes_nothing() -> None:
    of = prover((3, 3), SPUR, EIGHT, general=stretches(((0, 1, 2, 3), 4)))
    assert carriers(of.ring_of_placements) == 4


def test_stretches_that_overlap_do_not_count_a_carrier_twice() -> None:
    # Six on 0, 11, 9, 8, 7 and 6. The one on 0 waits before the long stretch, full with the five others; the one on 9
    # before the short one, full with 0 and 11; 11 is held by 0, and 8, 7 and 6 by those before them.
    overlap = stretches((tuple(range(1, 12)), 5), ((10, 11, 0), 2))
    of = prover((12,), RING, {2: 0, 4: 1}, 6, overlap)
    posts = [-1] * 12
    for stop in (0, 11, 9, 8, 7, 6):
        posts[stop] = of.system.number(Post(of.errands.empty(0)))
    assert of.system.stuck(State(tuple(posts))) == frozenset({0, 11, 9, 8, 7, 6})
    least = carriers(of.ring_of_placements)
    assert least is not None
    assert least <= 6


# ---- transfers and run-out -------------------------------------------------------------------------------------------


def test_of_several_places_aboard_one_is_in_the_ring() -> None:
    # 0 and 1 are stations, 2 is the dock, 3 and 4 are aboard: 3 leaves past 4 if nobody is there, so 4 is not needed;
    # a loaded one on station 1 waits for the dock, an empty one aboard for station 0 or, worked there, for 1.
    of = prover((3,), (((0,), (0,), 2),), {0: 0, 1: 1})
    assert carriers(of.ring_of_placements) == 3


def test_a_platform_that_is_away_with_another_holds_who_is_at_the_dock() -> None:
    # As above: an empty one on station 1, worked on, needs the dock; the empty one there needs the platform, which has
    # unlocked with a loaded one aboard; that one needs station 1. Place 3 is free all the time.
    of = prover((3,), (((0,), (0,), 2),), {0: 0, 1: 1})
    empty, loaded = of.errands.empty(0), of.errands.after_work(0, of.errands.empty(0))[0]
    number = of.system.number
    state = State((-1, number(Post(empty)), number(Post(empty)), -1, number(Post(loaded))), away=1)
    assert of.system.stuck(state) == frozenset({1, 2, 4})
    assert [of.system.held(state, stop, {1, 2, 4})[:2] for stop in (1, 2, 4)] == [
        (2, "way"),
        (4, "platform"),
        (1, "way"),
    ]
    assert of.system.stuck(state._replace(away=0)) == frozenset()
    graph = Graph(of.errands, of.reservations, of.posts)
    by_platform = {
        (node.stop, edge.to.stop) for node in graph.nodes for edge in graph.nodes[node] if edge.reason == "platform"
    }
    assert (2, 4) in by_platform


def test_at_the_gate_of_run_out_two_hold_each_other() -> None:
    variants = (Variant("red", 0.5), Variant("blue", 0.5))
    of = prover((6,), RING, {1: 0, 4: 1}, general=General(variants=variants, run_out=True))
    ring = of.ring_of_placements
    assert carriers(ring) == 2
    assert ring is not None
    # The one at the gate holds the one behind it, and waits for its part.
    assert {(node.stop, node.gate) for node in ring.nodes} == {(0, False), (1, True)}


# ---- never too large -------------------------------------------------------------------------------------------------


def random_placement(of: Prover, count: int, luck: random.Random) -> State | None:
    """So many carriers anywhere, stretches not overfull, everything else as it may be."""
    plan, system = of.plan, of.system
    free = [stop for stop in range(plan.stops) if of.posts.get(stop)]
    if count > len(free):
        return None
    posts = [-1] * plan.stops
    for stop in luck.sample(free, count):
        posts[stop] = system.number(luck.choice(of.posts[stop]))
    if any(sum(posts[stop] >= 0 for stop in one.stops) > one.most for one in plan.general.admission):
        return None
    place = luck.randrange(len(of.errands.sequence)) if of.errands.sequence else -1
    away = 0
    for number, platform in enumerate(of.reservations.platforms):
        if len(platform.aboard) > 1 and any(posts[stop] >= 0 for stop in platform.aboard):
            away |= luck.getrandbits(1) << number
    return State(tuple(posts), ALONG, place, away)


def nobody_is_stuck_below(small: Small, luck: random.Random, tries: int) -> int:
    """Whether fewer carriers than the least ring are ever stuck; how many placements were looked at."""
    of = Prover(plan_of(small))
    if not of.has_rings:
        return 0
    least = carriers(of.ring_of_placements)
    looked = 0
    for _ in range(tries):
        most = of.plan.stops if least is None else least - 1
        state = random_placement(of, luck.randint(1, most), luck) if most else None
        if state is not None:
            looked += 1
            assert not of.system.stuck(state), (small.name, state)
    return looked


def test_fewer_than_the_least_ring_are_never_stuck() -> None:
    luck = random.Random(20)
    assert sum(nobody_is_stuck_below(small, luck, 12) for small in short_plans(31)) > 500


@pytest.mark.long
def test_fewer_than_the_least_ring_are_never_stuck_in_many() -> None:
    luck = random.Random(21)
    assert sum(nobody_is_stuck_below(small, luck, 60) for small in short_plans()) > 50_000


def ring_with_stretches(luck: random.Random) -> Small:
    """A ring of 7 to 12 stops with two or three stretches, most of which overlap."""
    count = luck.randint(7, 12)
    first, second = luck.sample(range(count), 2)
    parts = []
    for _ in range(luck.choice((2, 2, 3))):
        begin, length = luck.randrange(count), luck.randint(2, count - 1)
        parts.append((tuple((begin + n) % count for n in range(length)), luck.randint(1, max(length - 1, 1))))
    return Small("ring", Shape((count,), RING), ((first, 0), (second, 1)), 1, general=stretches(*parts))


@pytest.mark.long
def test_fewer_than_the_least_ring_are_never_stuck_where_stretches_overlap_at_random() -> None:
    luck = random.Random(22)
    looked = sum(nobody_is_stuck_below(ring_with_stretches(luck), luck, 150) for _ in range(1500))
    assert looked > 20_000


def test_lanes_are_chosen_only_where_there_is_a_choice() -> None:
    one = prover((4,), ONE, {0: 0, 1: 1})
    assert {post.onto for here in one.posts.values() for post in here} == {NO_STOP}
    eight = prover((3, 3), SPUR, EIGHT)
    assert {post.onto for post in eight.posts[3]} == {0, 4}
    assert {(post.errand.step, post.onto) for post in eight.posts[3]} == {(0, 0), (1, 4)}
