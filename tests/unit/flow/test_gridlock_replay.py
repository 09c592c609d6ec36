"""The kernel led by a script: luck as it is written down, ways as they are told, and no jam where there is none."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from agree.small_plans import Small, plan_of
from agree.small_routes import RING, Shape
from linewright.flow.gridlock.replay import PAUSE_US, Ended, bare, placement_of, replay_placement, replay_way, state_of
from linewright.flow.kernel.general.run import GeneralResult, general_tables_of, run_general
from linewright.flow.kernel.general.script import VISITS, Script, scripted_luck
from linewright.traffic.general import Break, CarrierChange, General, Pool, Rework, Variant
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.errands import NO_VARIANT, Errand
from linewright.traffic.gridlock.ring import Post
from linewright.traffic.gridlock.settled import WayIn, settle, settled_steps
from linewright.traffic.gridlock.system import Happening, State, System
from linewright.traffic.plan import FIXED, FailureKind, Law, TrafficPlan

SECOND_US = 1_000_000
EMPTY, LOADED = Errand(0, NO_VARIANT, False, 0, 0), Errand(1, NO_VARIANT, True, 0, 0)


def ring(count: int, stations: dict[int, int], carriers: int, general: General | None = None, **more: object) -> Small:
    """A ring of stops; stations: the step of the station on each stop that has one."""
    shape = Shape((count,), RING)
    return Small("ring", shape, tuple(stations.items()), carriers, general=general, **more)  # type: ignore[arg-type]


# 0 and 2 wait, 1 is the station of step 0, 3 that of step 1. Three carriers begin empty on 1, 0 and 2.
FULL = ring(4, {1: 0, 3: 1}, 3)


def run(plan: TrafficPlan, script: Script, horizon_us: int) -> GeneralResult:
    luck = scripted_luck(plan, script, 100)
    return run_general(plan, general_tables_of(plan), luck, horizon_us, horizon_us, trace_from_us=0)


# ---- scripted luck ---------------------------------------------------------------------------------------------------


def test_times_are_told_by_station_serial_and_visit() -> None:
    plan = plan_of(FULL)
    told = {(0, 0, 0): 5, (0, 3, 0): 7, (0, 3, 1): 8, (1, 2, VISITS + 4): 9}
    luck = scripted_luck(plan, Script(1, work_us=told), 10)
    assert [luck.work_us(0, 0, serial, 0) for serial in range(5)] == [5, 1, 1, 7, 1]
    assert [luck.work_us(0, 0, 3, visit) for visit in range(3)] == [7, 8, 1]
    # Visits beyond those told apart go as the last one.
    assert luck.work_us(1, 0, 2, VISITS - 1) == 9
    assert luck.work_us(1, 0, 2, 0) == 1
    # Later parts have the luck of the first again.
    assert luck.work_us(0, 0, 10, 7) == 5


def test_outcomes_are_told_and_nothing_else_happens() -> None:
    plan = plan_of(ring(4, {0: 0, 1: 1, 2: 2}, 1, exit=(0, 2), rework=(1, 0)))
    script = Script(1, flagged={(0, 2, 0)}, sent_back={(1, 3, 0)}, missed={(0, 4, 0)})
    luck = scripted_luck(plan, script, 10)
    assert [serial for serial in range(10) if luck.flagged(0, serial, 0)] == [2]
    assert [serial for serial in range(10) if luck.reworked(0, serial, 0)] == [3]
    assert not luck.reworked(0, 3, 1)
    assert [serial for serial in range(10) if luck.missed(0, serial)] == [4]
    assert not any(luck.flagged(station, serial, 0) for station in (1, 2) for serial in range(10))


def test_variants_are_told_by_load() -> None:
    variants = (Variant("red", 1.0), Variant("blue", 0.0, (1,)))
    plan = plan_of(ring(4, {0: 0, 1: 1, 2: 2}, 1, General(variants=variants)))
    luck = scripted_luck(plan, Script(1, variants=(1, 0, 0, 1)), 10)
    assert [luck.variant(load, 0) for load in range(4)] == [1, 0, 0, 1]


def test_a_script_tells_no_luck_of_failures() -> None:
    second = Law(FIXED, 1_000_000.0)
    plan = dataclasses.replace(plan_of(FULL), failures=(FailureKind(0, second, second),))
    with pytest.raises(ValueError, match="neither failures nor machines outside"):
        scripted_luck(plan, Script(1), 10)


def test_the_kernel_works_as_long_as_the_script_says() -> None:
    # One carrier on the ring of four: 5 s at the first station, then 7 s at the second, then the usual second.
    plan = plan_of(ring(4, {1: 0, 3: 1}, 1))
    told = {(0, 0, 0): 5 * SECOND_US, (1, 0, 0): 7 * SECOND_US}
    works = run(plan, Script(SECOND_US, work_us=told), 30 * SECOND_US).works
    lengths = [int(row[4] - row[3]) for row in works[:4]]
    assert lengths == [5 * SECOND_US, 7 * SECOND_US, SECOND_US, SECOND_US]
    assert works[:4, 2].tolist() == [0, 0, 1, 1]


def test_what_only_takes_time_is_left_out() -> None:
    general = General(
        pools=(Pool("one", 1, (0,), ((0,),)),),
        manual=(True, False),
        release_us=(1, -1),
        breaks=(Break((0,), 1, 1, 10),),
        carrier_changes=(CarrierChange(0, 5, 1),),
    )
    kept = bare(plan_of(ring(4, {1: 0, 3: 1}, 1, general)))
    assert (kept.general.pools, kept.general.manual, kept.general.breaks, kept.failures) == ((), (), (), ())
    assert [one.count for one in kept.general.carrier_changes] == [1]
    assert kept.general.carrier_changes[0].at_us > 10**13  # never


# ---- ways ------------------------------------------------------------------------------------------------------------


def way(system: System, *stops: int) -> WayIn:
    """The ends of work at these stops, one after the other, everybody having gone on in between."""
    state = settle(system, system.start())
    steps: list[tuple[State, Happening, State]] = []
    for stop in stops:
        happening, after = next((one, left) for one, left in settled_steps(system, state) if one.start == stop)
        steps.append((state, happening, after))
        state = after
    return WayIn(tuple(steps), state, shortest=False)


def test_one_end_of_work_into_a_jam() -> None:
    system = Prover(plan_of(FULL)).system
    replay = replay_way(system, way(system, 1))
    assert replay is not None
    # Carrier 0 began on the station, 1 behind it, 2 before it; nobody can go anywhere once it is loaded.
    assert replay.ended == (Ended(PAUSE_US, 0, 1, LOADED),)
    assert replay.jam_us == 2 * PAUSE_US
    assert replay.stuck == frozenset({0, 1, 2})
    assert replay.carrier_at == (1, 0, 2, -1)
    assert len(replay.moves) == 0
    assert replay.worked == frozenset()


# On five stops 3 and 4 are stations of step 0, 2 that of step 1; carriers begin on 4, 1 and 0. Carrier 1 goes on to 3,
# carrier 2 to 1 behind it. When both works have ended, 2 waits for a station, 1 for stop 0, and 0 for the way past 2.
TWO_ENDS = ring(5, {2: 1, 3: 0, 4: 0}, 3)


def test_ends_of_work_come_when_the_way_says() -> None:
    system = Prover(plan_of(TWO_ENDS)).system
    assert system.plan.first_stops.tolist() == [4, 1, 0]
    replay = replay_way(system, way(system, 3, 4))
    assert replay is not None
    assert replay.ended == (Ended(PAUSE_US, 1, 3, LOADED), Ended(2 * PAUSE_US, 0, 4, LOADED))
    assert replay.moves[:, :4].tolist() == [[1, 0, 1, 3], [2, 20_000, 0, 1], [0, 2 * PAUSE_US, 4, 0]]
    assert replay.carrier_at == (0, 2, -1, 1, -1)
    assert replay.stuck == frozenset({0, 1, 3})
    # Ended the other way round they lock as well, and carrier 0 moves first.
    other = replay_way(system, way(system, 4, 3))
    assert other is not None
    assert [(one.carrier, one.time_us) for one in other.ended] == [(0, PAUSE_US), (1, 2 * PAUSE_US)]
    assert other.moves[-1, :4].tolist() == [0, PAUSE_US, 4, 0]


def test_a_pause_is_as_long_as_it_is_asked_for() -> None:
    system = Prover(plan_of(TWO_ENDS)).system
    replay = replay_way(system, way(system, 3, 4), pause_us=5 * SECOND_US)
    assert replay is not None
    assert [one.time_us for one in replay.ended] == [5 * SECOND_US, 10 * SECOND_US]


def test_a_way_without_a_jam_gives_nothing() -> None:
    # Two carriers on the ring of four never lock from the planned start.
    system = Prover(plan_of(ring(4, {1: 0, 3: 1}, 2))).system
    assert replay_way(system, way(system, 1)) is None
    assert replay_way(system, way(system, 1, 3)) is None


def test_a_way_that_cannot_happen_gives_nothing() -> None:
    system = Prover(plan_of(FULL)).system
    start = system.start()
    loaded = system.number(Post(LOADED))
    nobody = Happening("work ends", 3, 3, loaded)  # nobody is at the second station
    assert replay_way(system, WayIn(((start, nobody, start),), start, shortest=False)) is None
    # At the first one no work ends so: the carrier cannot stay empty.
    stays = Happening("work ends", 1, 1, system.number(Post(EMPTY)))
    assert replay_way(system, WayIn(((start, stays, start),), start, shortest=False)) is None


def test_flagged_parts_are_flagged_in_the_kernel() -> None:
    # 0 waits, 1 flags, 2 works, 3 is the exit.
    plan = plan_of(ring(4, {1: 0, 2: 1, 3: 2}, 1, exit=(0, 2)))
    system = Prover(plan).system
    for happening, after in settled_steps(system, system.start()):
        errand = system.post(happening.post).errand
        tape_way = WayIn(((system.start(), happening, after),), after, shortest=False)
        assert replay_way(system, tape_way) is None  # one carrier never locks
        # The kernel's own run, luck by hand: flagged at the first work it goes to the exit, else to the work.
        flagged = bool(errand.exits)
        script = Script(SECOND_US, flagged={(0, 0, 0)} if flagged else set())
        stations = run(plan, script, 6 * SECOND_US).works[:2, 0].tolist()
        assert stations == [0, 2 if flagged else 1]


# ---- placements ------------------------------------------------------------------------------------------------------


def test_a_placement_is_put_into_the_kernel_and_read_again() -> None:
    system = Prover(plan_of(FULL)).system
    number = system.number
    state = State((number(Post(LOADED)), -1, number(Post(EMPTY)), number(Post(LOADED))))
    placement, variants = placement_of(system, state)
    assert (placement.stops, placement.steps) == ((0, 2, 3), (1, 0, 1))
    assert (placement.loads, placement.present) == ((0, -1, 1), (1, 0, 1))
    assert placement.next_load == 2
    assert len(variants) > 2
    plan = dataclasses.replace(
        bare(system.plan),
        first_stops=np.array(placement.stops, np.int64),
        general=dataclasses.replace(system.plan.general, start=placement),
    )
    found = run(plan, Script(SECOND_US), 1)
    assert state_of(system, found.snapshot, ()) == state


def test_two_that_hold_each_other_after_a_stop() -> None:
    # A loaded one on 0 needs 1 and 2, an empty one on 2 needs 3 and 0.
    prover = Prover(plan_of(ring(4, {1: 0, 3: 1}, 2)))
    number = prover.system.number
    jam = State((number(Post(LOADED)), -1, number(Post(EMPTY)), -1))
    replay = replay_placement(prover, jam, prover.plan)
    assert replay is not None
    assert replay.stuck == frozenset({0, 2})
    assert replay.carrier_at == (0, -1, 1, -1)
    # The other way round each goes on.
    free = State((number(Post(EMPTY)), -1, number(Post(LOADED)), -1))
    assert replay_placement(prover, free, prover.plan) is None


def test_worked_on_and_coming_again_is_led_through_its_work() -> None:
    # One station, one step: after its work a carrier is at the station of its next step again. Three on a ring of three
    # cannot move: the one on the station ends its work first.
    prover = Prover(plan_of(ring(3, {2: 0}, 3)))
    number = prover.system.number
    jam = State((number(Post(EMPTY)), number(Post(EMPTY)), number(Post(EMPTY, worked=True))))
    placed, steps = prover.before_work(jam)
    assert prover.system.is_in_work(2, placed.posts[2])
    assert [one.kind for _, one, _ in steps] == ["work ends"]
    replay = replay_placement(prover, jam, prover.plan)
    assert replay is not None
    assert [one.time_us for one in replay.ended] == [PAUSE_US]
    assert replay.stuck == frozenset({0, 1, 2})


def test_rework_is_sent_back_in_the_kernel() -> None:
    plan = plan_of(ring(4, {1: 0, 2: 1, 3: 2}, 1, exit=(0, 2), rework=(1, 0)))
    assert plan.general.rework == (Rework(1, 0.3, 0, 1),)
    script = Script(SECOND_US, sent_back={(1, 0, 0)})
    works = run(plan, script, 12 * SECOND_US).works
    # First station, second, back to the first with the same part, second again.
    assert works[:4, 0].tolist() == [0, 1, 0, 1]
    assert works[:4, 2].tolist() == [0, 0, 0, 0]
