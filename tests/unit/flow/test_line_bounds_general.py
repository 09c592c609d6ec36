"""Bounds of lines beyond the plain loop: by hand where nothing takes time but work, each feature alone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from agree.random_general import random_plan
from linewright.flow import bounds
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.flow.kernel.run import run_beyond
from linewright.flow.line_bounds import RateBounds, laps_per_part, least_gap_us, rate_bounds, transfer_cycle_us
from linewright.flow.part_routes import END, journeys
from linewright.flow.part_ways import least_ways_us
from linewright.line.model import TimeLaw
from linewright.traffic.compile import law_of
from linewright.traffic.general import (
    FEED,
    TAKE_AWAY,
    Break,
    CarrierChange,
    FixtureSet,
    General,
    Outside,
    Platform,
    Pool,
    Rework,
    Track,
    Variant,
)
from linewright.traffic.plan import EMPTY, LOADED, NO_LEG, Chance, Law, TrafficPlan
from unit.flow.bound_lines import bound_line, plan_of

NEXT_TO_NOTHING = 2e-3
"""What moves, rides and reactions of the ideal sheet may be of the work here."""

WORKS = ("time: 10 s", "time: 30 s", "time: 20 s")
WITH_EXIT = (*WORKS, "time: 5 s, reject_exit: true")


def about(value: float) -> object:
    return pytest.approx(value, rel=NEXT_TO_NOTHING)


def seconds(mean_s: float) -> Law:
    return law_of(TimeLaw.fixed(mean_s))


def plain_plan(keys: tuple[str, ...] = WORKS, route: str = "a, b, c", carriers: int = 6) -> TrafficPlan:
    """A plan of the ideal sheet with a leg of next to no time wherever its own route needs none."""
    plan = plan_of(bound_line("ideal-sheet.yaml", keys, carriers, route))
    return replace(plan, move_us=np.where(plan.move_us == NO_LEG, 1000, plan.move_us))


def twin_plan() -> TrafficPlan:
    """Stations b (30 s) and c (20 s) share a step; one of them suffices."""
    plan = plain_plan(("time: 10 s", "time: 30 s", "time: 30 s", "time: 20 s"), "a, [b, c], d")
    return replace(plan, work=(plan.work[0], plan.work[1], plan.work[3], plan.work[3]))


def exit_plan(chances: tuple[float, ...] = (0.0, 0.0, 0.0)) -> TrafficPlan:
    """Stations a, b, c with these rejects, exit d; of a route whose parts may be flagged anywhere."""
    keys = ("time: 10 s, rejects: 20 %", *WITH_EXIT[1:])
    plan = plain_plan(keys, "a, b, c, d")
    return replace(plan, reject=(*(Chance(chance) for chance in chances), Chance()))


def per_good_s(found: RateBounds) -> float:
    return 3600.0 / found.step_per_h


def with_general(plan: TrafficPlan, general: General) -> RateBounds:
    found = rate_bounds(replace(plan, general=general))
    assert found.upper_per_h <= min(x for x in (found.carriers_per_h, found.step_per_h, found.transfer_per_h) if x)
    return found


# ---- what is left out ------------------------------------------------------------------------------------------------


def test_a_plain_plan_leaves_out_only_operators() -> None:
    found = rate_bounds(plain_plan())
    assert [name for name, _ in found.left_out] == ["operators_per_h"]
    assert (found.operators_per_h, found.limiting_pool, found.binding) == (None, "", "b")


def test_worst_and_yardsticks_are_left_out_beyond_the_plain_loop() -> None:
    found = with_general(plain_plan(), General(going_on=True))
    names = ("operators_per_h", "worst_per_h", "practical_worst_per_h", "balanced_low_per_h", "balanced_high_per_h")
    assert tuple(name for name, _ in found.left_out) == names
    assert all(getattr(found, name) is None for name in names)
    assert not found.worst_holds


# ---- nests and missing parts -----------------------------------------------------------------------------------------


def test_nests_part_by_part_and_carrier_by_carrier() -> None:
    found = with_general(plain_plan(), General(nests=3, each_part=(True, True, False)))
    assert found.step_per_h == about(120.0)  # b, 30 s a part
    assert found.loop_s == about((30.0 + 90.0 + 20.0) / 3)
    quick = with_general(plain_plan(), General(nests=3, each_part=(True, False, False)))
    assert (quick.limiting_step, quick.step_per_h) == ("a", about(360.0))
    assert quick.loop_s == about((30.0 + 30.0 + 20.0) / 3)


def test_nests_with_rejects() -> None:
    """Of three parts each is flagged at a with 0.2; 2.4 are good."""
    plan = exit_plan((0.2, 0.0, 0.0))
    found = with_general(plan, General(nests=3, each_part=(True, True, False, True)))
    some_good, some_bad = 1.0 - 0.2**3, 1.0 - 0.8**3
    load_s = 30.0 + 2.4 * 30.0 + some_good * 20.0 + 0.6 * 5.0
    assert found.loop_s == about(load_s / 2.4)
    assert found.step_per_h == about(120.0)
    (journey,) = journeys(replace(plan, general=General(nests=3, each_part=(True, True, False, True))), 6)
    assert journey.good == pytest.approx(2.4)
    assert [journey.visits(p) for p in range(4)] == pytest.approx([1.0, some_good, some_good, some_bad])
    each_carrier = with_general(plan, General(nests=3, each_part=(False, False, False, False)))
    assert each_carrier.step_per_h == about(2.4 * 3600.0 / (30.0 * some_good))


def test_missing_parts() -> None:
    found = with_general(plain_plan(), General(misses=(0.2, 0.0, 0.0)))
    assert found.loop_s == about((10.0 + 0.8 * 50.0) / 0.8)
    assert found.step_per_h == about(120.0)
    slow = plain_plan(("time: 30 s", "time: 20 s", "time: 20 s"))
    assert with_general(slow, General(misses=(0.2, 0.0, 0.0))).step_per_h == about(0.8 * 120.0)
    nests = with_general(slow, General(nests=2, each_part=(False,) * 3, misses=(0.2, 0.0, 0.0)))
    assert nests.loop_s == about((30.0 + (1.0 - 0.04) * 40.0) / 1.6)


# ---- variants --------------------------------------------------------------------------------------------------------

TWO = (Variant("x", 0.75, (), ((1, seconds(40.0)),)), Variant("y", 0.25, (2,), ((1, seconds(8.0)),)))


def test_variants_by_share_and_by_sequence() -> None:
    found = with_general(plain_plan(), General(variants=TWO))
    mean_s = 0.75 * 40.0 + 0.25 * 8.0
    assert per_good_s(found) == about(mean_s)
    assert found.loop_s == about(10.0 + mean_s + 0.75 * 20.0)
    turned = with_general(plain_plan(), General(variants=TWO, sequence=(0, 1, 1, 1)))
    assert per_good_s(turned) == about(0.25 * 40.0 + 0.75 * 8.0)
    # y leaves the line at b, and its carriers go to a from there.
    assert turned.loop_s == about(10.0 + 16.0 + 0.25 * 20.0)


def test_a_step_that_few_come_to() -> None:
    slow = plain_plan(("time: 10 s", "time: 30 s", "time: 100 s"))
    found = with_general(slow, General(variants=TWO))
    assert (found.limiting_step, per_good_s(found)) == ("c", about(75.0))


def test_fixture_sets() -> None:
    """Four carriers for x, two for y: each makes its own; which mix comes out is not said."""
    sets = (FixtureSet("red", 4, (0,)), FixtureSet("blue", 2, (1,)))
    found = with_general(plain_plan(), General(variants=TWO, fixture_sets=sets))
    assert found.carriers_per_h == about(4 * 3600.0 / 70.0 + 2 * 3600.0 / 18.0)
    assert per_good_s(found) == about(10.0)  # at a; only y could come to b
    assert found.carriers_per_h is not None
    assert found.loop_s == pytest.approx(6 * 3600.0 / found.carriers_per_h)
    more = rate_bounds(replace(plain_plan(), general=General(variants=TWO, fixture_sets=sets)), carriers=12)
    assert more.carriers_per_h == about(12 * 3600.0 / 18.0)


def best_mix_per_s(times: np.ndarray, shares: np.ndarray) -> float:
    """The most works per time at parallel stations, by linear programming."""
    from scipy.optimize import linprog

    stations, kinds = times.shape
    # Variables: works of each kind at each station, and the number of works in all, per time.
    goal = np.zeros(stations * kinds + 1)
    goal[-1] = -1.0
    room = np.zeros((stations, len(goal)))
    for s in range(stations):
        room[s, s * kinds : (s + 1) * kinds] = times[s]
    mix = np.zeros((kinds, len(goal)))
    for v in range(kinds):
        mix[v, v : stations * kinds : kinds] = 1.0
        mix[v, -1] = -shares[v]
    return -float(linprog(goal, room, np.ones(stations), mix, np.zeros(kinds)).fun)


@pytest.mark.parametrize("seed", range(6))
def test_parallel_stations_with_unlike_times(seed: int) -> None:
    """Never under the best sharing of the works, and equal to it where the times are in proportion."""
    luck = np.random.default_rng(seed)
    keys = ("time: 1 s", "time: 30 s", "time: 30 s", "time: 1 s")
    plan = plain_plan(keys, "a, [b, c], d")
    times = luck.uniform(20.0, 90.0, (2, 2))
    if seed % 2:
        times[1] = times[0] * luck.uniform(0.5, 2.0)
    share = float(luck.uniform(0.2, 0.8))
    variants = tuple(
        Variant(name, s, (), ((1, seconds(times[0, v])), (2, seconds(times[1, v]))))
        for v, (name, s) in enumerate((("x", share), ("y", 1.0 - share)))
    )
    found = with_general(plan, General(variants=variants))
    best = 3600.0 * best_mix_per_s(times, np.array([share, 1.0 - share]))
    assert found.step_per_h >= best * (1.0 - NEXT_TO_NOTHING)
    if seed % 2:
        assert found.step_per_h == about(best)
    else:
        assert found.step_per_h < 1.6 * best


# ---- rework ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("at_most", [0, 1, 3])
def test_rework_is_the_geometric_count(at_most: int) -> None:
    general = General(rework=(Rework(1, 0.25, 0, at_most),))
    plan = replace(exit_plan(), general=general)
    (journey,) = journeys(plan, 6)
    counted = bounds.rework_visits(0.25, at_most)
    assert journey.good == pytest.approx(1.0 - counted.scrapped_share)
    visits = [journey.visits(p) for p in range(4)]
    assert visits == pytest.approx([counted.visits, counted.visits, journey.good, counted.scrapped_share])
    found = rate_bounds(plan)
    assert per_good_s(found) == about(30.0 / 0.75)
    work_s = counted.visits * 40.0 + journey.good * 20.0 + counted.scrapped_share * 5.0
    assert found.loop_s == about(work_s / journey.good)


def test_rework_at_a_step_of_its_own() -> None:
    """Step b is for rework alone: c sends a tenth there, once; they come to c again after it."""
    general = General(rework=(Rework(2, 0.1, 1, 1),), rework_alone=(1,))
    plan = replace(exit_plan(), general=general)
    (journey,) = journeys(plan, 6)
    assert [journey.visits(p) for p in range(4)] == pytest.approx([1.0, 0.1, 1.1, 0.01])
    assert journey.good == pytest.approx(0.99)
    assert rate_bounds(plan).loop_s == about((10.0 + 0.1 * 30.0 + 1.1 * 20.0 + 0.01 * 5.0) / 0.99)
    assert laps_per_part(plan) == 1


def test_rejects_in_a_rework_loop_by_a_chain() -> None:
    """Flagged at a with 0.1, sent back from b to a with 0.3, twice at most: the chain solved as a linear system."""
    general = General(rework=(Rework(1, 0.3, 0, 2),))
    (journey,) = journeys(replace(exit_plan((0.1, 0.05, 0.02)), general=general), 6)
    # States (reworks, step) a and b, then c; rows to columns.
    chain = np.zeros((7, 7))
    for visit in range(3):
        chain[2 * visit, 2 * visit + 1] = 0.9
        chain[2 * visit + 1, 6] = 0.95 * 0.7
        if visit < 2:
            chain[2 * visit + 1, 2 * visit + 2] = 0.95 * 0.3
    stays = np.linalg.inv(np.eye(7) - chain)[0]
    visits = [stays[[0, 2, 4]].sum(), stays[[1, 3, 5]].sum(), stays[6], 1.0 - stays[6] * 0.98]
    assert [journey.visits(p) for p in range(4)] == pytest.approx(visits)
    assert journey.good == pytest.approx(stays[6] * 0.98)


def test_parts_go_to_the_exit_that_is_named() -> None:
    keys = ("time: 10 s, rejects: 20 %", "time: 5 s, reject_exit: true", "time: 20 s, rejects: 10 %", WITH_EXIT[3])
    plan = plain_plan(keys, "a, b, c, d")
    (near,) = journeys(replace(plan, general=General(exits=(1, -1, -1, -1))), 6)
    assert [near.visits(p) for p in range(4)] == pytest.approx([1.0, 0.2, 0.8, 0.08])
    (far,) = journeys(replace(plan, general=General(exits=(3, -1, -1, -1))), 6)
    assert [far.visits(p) for p in range(4)] == pytest.approx([1.0, 0.0, 0.8, 0.28])
    assert all(k >= 0 or k == END for stay in far.stays for _, k in stay.after)
    with pytest.raises(ValueError, match="no exit follows"):
        journeys(replace(plan, general=General(exits=(0, -1, -1, -1))), 6)


def test_what_has_no_journey_is_refused() -> None:
    plan = exit_plan()
    with pytest.raises(ValueError, match="nests has no rework"):
        journeys(replace(plan, general=General(nests=2, rework=(Rework(1, 0.1, 0, 1),))), 6)
    twins = twin_plan()
    with pytest.raises(ValueError, match="differently"):
        journeys(replace(twins, general=General(rework=(Rework(1, 0.1, 0, 1),))), 6)
    with pytest.raises(ValueError, match="differently"):
        journeys(replace(twins, general=General(misses=(0.0, 0.1, 0.2, 0.0))), 6)
    with pytest.raises(ValueError, match="differently"):
        journeys(replace(twins, reject=(Chance(), Chance(0.1), Chance(), Chance())), 6)
    with pytest.raises(ValueError, match="share"):
        journeys(replace(plan, general=General(variants=(Variant("x", 0.0),))), 6)


# ---- people and the calendar -----------------------------------------------------------------------------------------


def test_operators_bound_the_line() -> None:
    pool = Pool("floor", 1, (0, 1), ((0, 0), (0, 0)))
    general = General(pools=(pool,), manual=(True, True, False), release_us=(-1, 5_000_000, -1))
    found = with_general(plain_plan(), general)
    assert found.operators_per_h == about(3600.0 / 45.0)
    assert (found.limit, found.limiting_pool, found.binding) == ("operators", "floor", "floor")
    # The release holds the carrier, and the step, too.
    assert per_good_s(found) == about(35.0)
    assert found.loop_s == about(65.0)
    two = with_general(plain_plan(), replace(general, pools=(replace(pool, operators=2),)))
    assert two.operators_per_h == about(7200.0 / 45.0)
    assert two.limit == "step"
    released = with_general(plain_plan(), replace(general, manual=()))
    assert released.operators_per_h == about(3600.0 / 5.0)


def test_an_operator_at_one_of_two_stations_may_be_left_out() -> None:
    plan = twin_plan()
    pool = Pool("floor", 1, (1, 3), ((0, 0), (0, 0)))
    found = with_general(plan, General(pools=(pool,), manual=(False, True, False, True)))
    assert found.operators_per_h == about(3600.0 / 20.0)  # c works without him


SHIFT_US = 8 * 3_600_000_000
HOUR_US = 3_600_000_000


def breaks(*stretches: tuple[float, float], stations: tuple[int, ...] = (0, 1, 2)) -> General:
    return General(
        breaks=tuple(Break(stations, int(at * HOUR_US), int(length * HOUR_US), SHIFT_US) for at, length in stretches)
    )


def test_breaks_take_what_is_longer_than_the_work_in_hand() -> None:
    found = with_general(plain_plan(), breaks((2.0, 0.25), (4.0, 0.5)))
    open_h = 8.0 - 0.75 + 2 * 30.0 / 3600.0
    assert found.step_per_h == about(120.0 * open_h / 8.0)
    assert found.step_per_h > 120.0 * 7.25 / 8.0
    # Those that overlap are one; a short one costs nothing for certain.
    over = with_general(plain_plan(), breaks((2.0, 0.5), (2.25, 0.5)))
    assert over.step_per_h == about(120.0 * (8.0 - 0.75 + 30.0 / 3600.0) / 8.0)
    assert with_general(plain_plan(), breaks((2.0, 0.005))).step_per_h == about(120.0)
    elsewhere = with_general(plain_plan(), breaks((2.0, 0.25), stations=(0, 2)))
    assert elsewhere.step_per_h == about(120.0)


@pytest.mark.parametrize(
    ("key", "in_hand_s"),
    [
        ("time: {law: triangular, least: 20 s, likely: 30 s, most: 40 s}", 30.0),
        ("time: {law: exponential, mean: 30 s}", 30.0),
        ("time: {law: gamma, mean: 30 s, cv: 50 %}", 30.0),
        ("time: {law: gamma, mean: 30 s, cv: 200 %}", math.inf),
        ("time: {mean: 30 s, cv: 10 %}", math.inf),
        ("time: 30 s, failures: [{every: 60 s, repair: 40 s}]", 50.0 + 40.0),
        ("time: 30 s, failures: [{one_in: 2 cycles, repair: 40 s}]", 30.0 + 40.0),
        ("time: 30 s, failures: [{every: 60 s, repair: {mean: 40 s, cv: 20 %}}]", math.inf),
    ],
)
def test_what_may_go_on_in_a_break_depends_on_the_law(key: str, in_hand_s: float) -> None:
    plan = plain_plan(("time: 1 s", key, "time: 1 s"))
    without, within = rate_bounds(plan), with_general(plan, breaks((2.0, 0.25)))
    assert without.limiting_step == "b"
    lost_s = max(900.0 - in_hand_s, 0.0)
    assert within.step_per_h == about(without.step_per_h * (1.0 - lost_s / 28_800.0))


def test_a_clock_failure_may_fall_into_a_break() -> None:
    """What breaks take and what failures take is not added up: a repair in a break costs nothing."""
    plan = plain_plan(("time: 1 s", "time: 30 s, failures: [{every: 7 h, of: clock, repair: 1 h}]", "time: 1 s"))
    alone, within = rate_bounds(plan).step_per_h, with_general(plan, breaks((2.0, 0.25))).step_per_h
    assert within == pytest.approx(alone)
    long = with_general(plan, breaks((2.0, 3.0))).step_per_h
    assert long == about(120.0 * (5.0 + 30.0 / 3600.0) / 8.0)


# ---- outside ---------------------------------------------------------------------------------------------------------


def test_feed_and_take_away_bound_their_step() -> None:
    failing = ((seconds(400.0), seconds(100.0)),)
    feed = Outside(0, FEED, seconds(40.0), 20, 10, failing)
    found = with_general(plain_plan(), General(outside=(feed,)))
    assert (found.limiting_step, per_good_s(found)) == ("a", about(50.0))
    steady = with_general(plain_plan(), General(outside=(replace(feed, failures=()),)))
    assert per_good_s(steady) == about(40.0)
    taking = with_general(plain_plan(), General(outside=(Outside(2, TAKE_AWAY, seconds(60.0), 20, 0),)))
    assert (taking.limiting_step, per_good_s(taking)) == ("c", about(60.0))
    # A part is fed at b only to those that come there; one in five of the parts is flagged before.
    at_b = Outside(1, FEED, seconds(60.0), 20, 10)
    assert per_good_s(with_general(exit_plan((0.2, 0.0, 0.0)), General(outside=(at_b,)))) == about(60.0)
    at_a = replace(at_b, station=0)
    assert per_good_s(with_general(exit_plan((0.2, 0.0, 0.0)), General(outside=(at_a,)))) == about(75.0)
    nests = General(nests=3, each_part=(False,) * 3, outside=(feed,))
    assert per_good_s(with_general(plain_plan(), nests)) == about(50.0)


def test_a_feed_at_one_of_two_stations_bounds_nothing() -> None:
    plan = twin_plan()
    feed = Outside(1, FEED, seconds(500.0), 20, 10)
    both = General(outside=(feed, replace(feed, station=2, time=seconds(250.0))))
    assert with_general(plan, General(outside=(feed,))).step_per_h == rate_bounds(plan).step_per_h
    assert per_good_s(with_general(plan, both)) == about(500.0 / 3.0)


# ---- carriers and traffic --------------------------------------------------------------------------------------------


def test_the_most_carriers_there_ever_are_count() -> None:
    changes = (CarrierChange(0, 1, -2), CarrierChange(0, 2, 5), CarrierChange(0, 3, -4))
    found = with_general(plain_plan(), General(carrier_changes=changes))
    assert found.carriers == 9
    assert found.carriers_per_h == about(9 * 60.0)


def test_going_on_counts_no_move_before_a_work_or_a_ride() -> None:
    plan = plan_of(bound_line("demo-heavy", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 8))
    going = replace(plan, general=General(going_on=True))
    before, after = (least_gap_us(one, 1, LOADED, 8) for one in (plan, going))
    stop = int(plan.station_stop[1])
    assert before - after == plan.move_time_us(LOADED, stop - 1, stop)
    found = rate_bounds(going)
    assert found.step_per_h > rate_bounds(plan).step_per_h
    assert found.transfer_per_h is not None
    on_us = plan.move_time_us(EMPTY if plan.move_us[EMPTY, 0, 0] > 0 else LOADED, 0, 1)
    assert on_us > 0
    assert 3600.0 / found.transfer_per_h < transfer_cycle_us(plan, 0, quickest=True) * 1e-6


def test_rework_to_the_first_step_may_come_loaded() -> None:
    plan = replace(exit_plan(), move_us=exit_plan().move_us.copy())
    plan.move_us[EMPTY][plan.move_us[EMPTY] != NO_LEG] += 40_000_000
    loaded = rate_bounds(replace(plan, general=General(rework=(Rework(1, 0.25, 0, 2),)))).step_per_h
    elsewhere = rate_bounds(replace(plan, general=General(rework=(Rework(2, 0.25, 1, 2),)))).step_per_h
    assert loaded == about(3600.0 * 0.75 / 30.0)
    assert elsewhere == about(3600.0 * (1.0 - 0.25**3) / 50.0)  # at a, where carriers come empty


# ---- random plans ----------------------------------------------------------------------------------------------------


def alike(plan: TrafficPlan) -> TrafficPlan:
    """Parallel stations treat parts as the first of them does, as a line file has it."""
    general = plan.general
    first = {station: stations[0] for stations in plan.step_stations for station in stations}
    sent_back = {rework.station: rework for rework in general.rework}
    numbers = range(len(plan.station_names))
    return replace(
        plan,
        reject=tuple(plan.reject[first[k]] for k in numbers),
        general=replace(
            general,
            misses=tuple(general.misses[first[k]] for k in numbers) if general.misses else (),
            exits=tuple(general.exits[first[k]] for k in numbers) if general.exits else (),
            rework=tuple(replace(sent_back[first[k]], station=k) for k in numbers if first[k] in sent_back),
        ),
    )


@pytest.mark.long
@pytest.mark.parametrize("number", range(0, 200, 2))
def test_random_plans_stay_under_their_bound(number: int) -> None:
    """Six hours, of which the second half counts; failures at their long-term mean and four standard errors apart."""
    plan = alike(random_plan(number).plan)
    upper, rates = rate_bounds(plan).upper_per_h, []
    horizon_us = 6 * HOUR_US
    for replication in range(4):
        luck = general_luck_of(plan, number, replication)
        good = np.asarray(run_beyond(plan, luck, horizon_us, horizon_us // 40).totals.good)
        rates.append(float(good[20:].sum()) / 3.0)
    apart = 4.0 * float(np.std(rates, ddof=1)) / 2.0 + plan.carriers * plan.general.nests / 3.0
    assert float(np.mean(rates)) <= upper * 1.001 + apart


# ---- tracks ----------------------------------------------------------------------------------------------------------


def as_track(plan: TrafficPlan) -> tuple[Track, tuple[Platform, ...]]:
    """The plain loop of a plan written as a track in general."""
    count, reach = plan.stops, plan.move_us.shape[2]
    lane = np.cumsum(plan.stop_kind == 3)  # a place aboard ends a lane
    lane[plan.stop_kind == 3] -= 1
    lane %= 2
    leg, leg_us = np.full((count, count), NO_LEG), [NO_LEG] * (2 * (int(plan.leg.max()) + 1))
    for start in range(count):
        for back in range(reach):
            if plan.leg[start, back] != NO_LEG:
                leg[start, (start + back + 1) % count] = plan.leg[start, back]
                for load in (EMPTY, LOADED):
                    leg_us[2 * plan.leg[start, back] + load] = int(plan.move_us[load, start, back])
    onward = (np.arange(count) + 1) % count
    way = np.tile(onward[:, None], (1, count))
    track = Track(
        2, lane, onward, way, np.zeros((count, count)), leg, np.array(leg_us), np.zeros(len(leg_us), np.int64)
    )
    platforms = tuple(
        Platform((int(aboard),), (t,), (1 - t,), ((0, int(plan.aboard_us[t])), (int(plan.home_us[t]), 0)))
        for t, aboard in enumerate(np.flatnonzero(plan.stop_kind == 3))
    )
    return track, platforms


@pytest.mark.parametrize("sheet", ["demo-light", "demo-heavy"])
def test_a_loop_written_as_a_track_has_the_same_ways(sheet: str) -> None:
    plan = plan_of(bound_line(sheet, ("time: 1.5 s", "time: 3 s", "time: 1 s"), 5))
    track, platforms = as_track(plan)
    written = replace(plan, general=General(track=track, platforms=platforms))
    plain, general = least_ways_us(plan), least_ways_us(written)
    for start in range(3):
        end = (start + 1) % 3
        load = EMPTY if end == 0 else LOADED
        assert general(load, start, end) == plain(load, start, end)
    before, after = rate_bounds(plan), rate_bounds(written)
    assert after.carriers_per_h == pytest.approx(before.carriers_per_h)
    assert after.loop_s == pytest.approx(before.loop_s)
    # Who comes next may follow somebody else: the reaction between them is not counted.
    assert before.step_per_h < after.step_per_h < 1.05 * before.step_per_h
    assert after.transfer_per_h is None
    assert "transfer_per_h" in dict(after.left_out)
    with pytest.raises(ValueError, match="plain loop only"):
        transfer_cycle_us(written, 0)


def test_a_track_without_a_way_back_leaves_the_carriers_bound_out() -> None:
    plan = plan_of(bound_line("demo-heavy", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 5))
    track, platforms = as_track(plan)
    cut = track.leg.copy()
    cut[:, int(plan.station_stop[0])] = NO_LEG
    found = rate_bounds(replace(plan, general=General(track=replace(track, leg=cut), platforms=platforms)))
    assert (found.carriers_per_h, found.loop_s, found.limit) == (None, None, "step")
    assert {"carriers_per_h", "loop_s"} <= set(dict(found.left_out))
