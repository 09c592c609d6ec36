"""Luck in general: the same as that of a plain line where there is nothing more, and variants as they are stated."""

from __future__ import annotations

import dataclasses

from agree.test_kernel import plan_of_random_line
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.traffic.general import FixtureSet, General, Rework, Variant, deal
from linewright.traffic.plan import FIXED, Law, TrafficPlan


def with_general(general: General) -> TrafficPlan:
    return dataclasses.replace(plan_of_random_line(1), general=general)


def test_a_plain_plan_has_the_luck_of_the_plain_loop() -> None:
    plan = plan_of_random_line(1)
    plain, general = luck_of(plan, 7, 3), general_luck_of(plan, 7, 3)
    for station in range(len(plan.station_names)):
        for serial in (0, 1, 500):
            assert general.work_us(station, 0, serial, 0) == plain.work_us(station, serial)
            assert general.flagged(station, serial, 0) == plain.flagged(station, serial)
    for failure in range(len(plan.failures)):
        assert general.running_us(failure, 2) == plain.running_us(failure, 2)
        assert general.repair_us(failure, 2) == plain.repair_us(failure, 2)


def test_a_sequence_is_repeated() -> None:
    variants = (Variant("a", 0.0), Variant("b", 0.0))
    luck = general_luck_of(with_general(General(variants=variants, sequence=(0, 0, 1))), 1, 0)
    assert [luck.variant(load, 0) for load in range(7)] == [0, 0, 1, 0, 0, 1, 0]


def test_shares_are_met_and_those_of_a_fixture_set_are_scaled() -> None:
    variants = (Variant("a", 0.2), Variant("b", 0.5), Variant("c", 0.3))
    luck = general_luck_of(with_general(General(variants=variants)), 1, 0)
    drawn = [luck.variant(load, 0) for load in range(4000)]
    assert [round(drawn.count(v) / 4000, 1) for v in range(3)] == [0.2, 0.5, 0.3]
    sets = (FixtureSet("red", 1, (0, 2)), FixtureSet("blue", 1, (1,)))
    luck = general_luck_of(with_general(General(variants=variants, fixture_sets=sets)), 1, 0)
    red = [luck.variant(load, 0) for load in range(4000)]
    assert (round(red.count(0) / 4000, 1), red.count(1)) == (0.4, 0)
    assert {luck.variant(load, 1) for load in range(100)} == {1}


def test_carriers_are_dealt_by_largest_remainder() -> None:
    assert deal((2, 2)) == (0, 1, 0, 1)
    assert deal((1, 3)) == (1, 0, 1, 1)


def test_a_variant_draws_its_own_law_from_the_stations_stream() -> None:
    own = Variant("b", 0.5, work=((0, Law(FIXED, 77.0)),))
    luck = general_luck_of(with_general(General(variants=(Variant("a", 0.5), own))), 1, 0)
    plain = luck_of(plan_of_random_line(1), 1, 0)
    assert luck.work_us(0, 0, 5, 0) == plain.work_us(0, 5)
    assert luck.work_us(0, 1, 5, 0) == 77
    assert luck.work_us(1, 1, 5, 0) == plain.work_us(1, 5)


def test_rework_is_drawn_anew_at_each_visit() -> None:
    luck = general_luck_of(with_general(General(rework=(Rework(0, 0.5, 0, 3),))), 1, 0)
    drawn = {tuple(luck.reworked(0, serial, visit) for visit in range(3)) for serial in range(200)}
    assert len(drawn) == 8
