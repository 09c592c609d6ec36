"""The random plans with features beyond the plain loop: every feature often enough, and only what can be combined."""

from __future__ import annotations

import numpy as np
import pytest

from agree.random_general import FEATURES, RandomPlan, coverage, random_plan
from agree.random_tracks import as_track, loop_of_line
from linewright.traffic.general import FEED, NO_WAY, TAKE_AWAY
from linewright.traffic.plan import ABOARD, DOCK, NO_BOUND, NO_LEG, STATION, WAITING

SHORT = range(1, 61)
LONG = range(1001, 1501)


def plans(numbers: range) -> list[RandomPlan]:
    return [random_plan(number) for number in numbers]


def test_no_feature_is_in_under_a_tenth_of_the_plans() -> None:
    rare = {feature: share for feature, share in coverage(plans(SHORT)).items() if share < 0.1}
    assert not rare
    assert set().union(*(plan.features for plan in plans(SHORT))) <= set(FEATURES)


@pytest.mark.long
def test_no_feature_is_in_under_a_tenth_of_many_plans() -> None:
    assert not {feature: share for feature, share in coverage(plans(LONG)).items() if share < 0.1}


def test_a_number_always_gives_the_same_plan() -> None:
    before, after = random_plan(17), random_plan.__wrapped__(17)
    assert before.features == after.features
    for name in ("pools", "breaks", "outside", "variants", "rework", "admission", "start"):
        assert getattr(before.plan.general, name) == getattr(after.plan.general, name)
    assert (before.plan.delay_us == after.plan.delay_us).all()
    assert before.plan.work == after.plan.work


@pytest.mark.parametrize("first", SHORT[::10])
def test_only_what_can_be_combined_is(first: int) -> None:
    for random in plans(range(first, first + 10)):
        check_combinations(random)
        check_route(random)
        if random.plan.general.track is not None:
            check_track(random)


def check_combinations(random: RandomPlan) -> None:
    plan, general, number = random.plan, random.plan.general, random.number
    assert not general.is_plain or random.features & {"plain loop"}
    wide = any(len(one.takes) + len(one.gives) > 2 or len(one.aboard) > 1 for one in general.platforms)
    two_way = general.track is not None and general.track.two_way
    if general.going_on:
        assert not any((two_way, general.together, wide)), number
        assert general.differs_us is not None
        assert general.differs_us.shape == plan.delay_us.shape
    assert general.nests == 1 or not general.rework, number
    assert not (general.fixture_sets and (general.sequence or general.carrier_changes)), number
    assert general.sequence or not general.run_out, number
    assert not any(len(one.aboard) > 1 and len(one.gives) > 1 for one in general.platforms), number
    if two_way:
        assert not any((general.platforms, general.together, general.admission, general.carrier_changes)), number
    assert sum(one.carriers for one in general.fixture_sets) in (0, plan.carriers)
    assert sum(min(one.count, 0) for one in general.carrier_changes) > -plan.carriers
    members = [station for pool in general.pools for station in pool.stations]
    assert len(members) == len(set(members)), number
    for station, manual in enumerate(general.manual):
        assert (manual or general.release_us[station] >= 0) == (station in members), number
    for machine in general.outside:
        assert machine.capacity >= general.nests
        assert machine.kind in (FEED, TAKE_AWAY)
    assert all(one.begin_us + one.length_us <= one.shift_us for one in general.breaks), number


def check_route(random: RandomPlan) -> None:
    """A flagged part always finds an exit; carriers stand where they may."""
    plan, general = random.plan, random.plan.general
    assert not plan.step_exit[0]
    back = {one.station for one in general.rework}
    for station, chance in enumerate(plan.reject):
        step = int(plan.station_step[station])
        if chance.share > 0.0 or station in back:
            assert any(plan.step_exit[step + 1 :]), random.number
            named = general.exits[station] if general.exits else -1
            assert named < 0 or (named > step and plan.step_exit[named]), random.number
    stops = general.start.stops if general.start is not None else tuple(plan.first_stops.tolist())
    assert len(set(stops)) == plan.carriers == len(stops)
    if general.start is None:
        homes = [int(plan.station_stop[k]) for k in plan.step_stations[0]]
        assert all(plan.stop_kind[stop] in (WAITING, DOCK) or stop in homes for stop in stops)


def check_track(random: RandomPlan) -> None:
    """Every stop can be reached from everywhere, each step of a way brings it nearer; legs have times."""
    plan, track = random.plan, random.plan.general.track
    assert track is not None
    there = np.ones_like(track.leg, np.bool_)
    if track.two_way:
        np.fill_diagonal(there, val=False)
    assert ((track.way != NO_WAY) == there).all()
    left_m = track.way_m.copy()
    np.fill_diagonal(left_m, 0.0)
    start, goal = np.nonzero(there)
    assert (left_m[track.way[start, goal], goal] < track.way_m[start, goal] - 1e-6).all()
    starts, ends = np.nonzero(track.leg != NO_LEG)
    assert (track.leg_us.reshape(-1, 2)[track.leg[starts, ends]].max(axis=1) > 0).all()
    assert (track.rear_us >= 0).all()
    assert (track.rear_us <= np.maximum(track.leg_us, 0)).all()
    held = plan.delay_us[plan.delay_us != NO_BOUND]
    assert held.size == 0 or (held.min() < 0 and abs(held).max() < 20_000_000)
    for transfer, platform in enumerate(random.plan.general.platforms):
        assert (plan.stop_kind[list(platform.aboard)] == ABOARD).all()
        assert (plan.stop_transfer[list(platform.aboard)] == transfer).all()
    assert {int(kind) for kind in plan.stop_kind} <= {WAITING, STATION, DOCK, ABOARD}


def test_a_loop_is_the_same_written_as_a_track() -> None:
    plan = loop_of_line(7).plan
    track = as_track(plan).general.track
    assert track is not None
    for start in range(plan.stops):
        for reach in range(plan.leg.shape[1]):
            end = (start + reach + 1) % plan.stops
            if plan.leg[start, reach] != NO_LEG:
                for load in (0, 1):
                    assert track.leg_us[2 * track.leg[start, end] + load] == plan.move_us[load, start, reach]
