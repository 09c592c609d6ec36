"""The kernel's failures and causes of the line cycle on the small line of `test_reference_causes`, whose figures are
derived there by hand."""

from __future__ import annotations

import dataclasses
from typing import Any

from agree.agreed_cases import plan_of
from agree.test_kernel import as_mapping
from agree.test_reference_causes import ONE_ROUND, fails, small_case
from linewright.flow.causes import CycleCauses, find_causes
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.traffic.plan import GIVEN, OF_CLOCK, OF_CYCLES, OF_RUNNING, FailureKind, Law, TrafficPlan

TEST = 1
BIN_US = 5_000_000
OF = {"running": OF_RUNNING, "clock": OF_CLOCK, "jam": OF_CYCLES}


def plan_with(case: dict[str, Any]) -> TrafficPlan:
    """The plan of a small case with the failures of its station test."""
    failures = tuple(
        FailureKind(
            TEST,
            Law(GIVEN, given_us=tuple(every for every, _ in kind["times"])),
            Law(GIVEN, given_us=tuple(repair_us for _, repair_us in kind["times"])),
            OF[kind["of"]],
        )
        for kind in case["stations"]["test"]["kinds"] or ()
    )
    return dataclasses.replace(plan_of(case), failures=failures)


def run_case(case: dict[str, Any], cut_bins: int = 0) -> tuple[Replication, CycleCauses]:
    plan = plan_with(case)
    one = run_once(
        plan, tables_of(plan), luck_of(plan, 0, 0), case["horizon_us"], BIN_US, trace_from_us=0, with_chain=True
    )
    return one, find_causes(plan, [one], cut_bins, BIN_US)


def works_at_test(one: Replication) -> list[tuple[int, int]]:
    return [(start_us, end_us) for station, _, _, start_us, end_us, _ in one.works.tolist() if station == TEST]


def test_one_carrier_alone_is_all_its_own_cause() -> None:
    one, found = run_case(small_case(1, 14_000_000))
    assert sorted(end_us for _, end_us in one.good.tolist()) == [3_770_000, 8_770_000, 13_770_000]
    assert (found.parts, found.window_us) == (2, 10_000_000)
    assert as_mapping(found) == {key: 2 * time_us for key, time_us in ONE_ROUND.items()}


def test_the_window_begins_with_the_first_good_part_after_the_warm_up() -> None:
    _, found = run_case(small_case(1, 14_000_000), cut_bins=1)
    assert (found.parts, found.window_us) == (1, 5_000_000)
    assert as_mapping(found) == ONE_ROUND


def test_tie_of_tool_and_carrier_goes_to_the_carrier() -> None:
    _, found = run_case(small_case(3, 60_000_000, prepare_us=285_000), cut_bins=4)
    assert found.parts >= 15
    assert found.window_us == found.parts * 2_325_000
    assert as_mapping(found) == {
        key: found.parts * time_us
        for key, time_us in {
            ("work", "test"): 2_000_000,
            ("start handshake", "test"): 10_000,
            ("settling", "test"): 30_000,
            ("exchange move", "test"): 220_000,
            ("reaction", "test"): 5_000,
            ("done handshake", "test"): 20_000,
            ("clear", "test"): 40_000,
        }.items()
    }


def test_failures_of_clock() -> None:
    times = ((1_770_000, 50_000), (1_000_000, 200_000), (1_000_000, 30_000), (1_000, 100_000), (2_849_000, 100_000))
    one, found = run_case(small_case(1, 9_200_000, [fails("clock", *times)]))
    assert works_at_test(one) == [(1_820_000, 4_050_000), (7_100_000, 9_100_000)]
    assert one.totals.failures.tolist() == [5]
    assert as_mapping(found) == {**ONE_ROUND, ("clock failure", "test"): 50_000}
    # Down, work, clear, done handshake, blocked, partner, settling, prepare, exchange, starved.
    assert one.totals.state_us[TEST].tolist() == [
        480_000, 4_000_000, 41_000, 20_000, 0, 0, 40_000, 0, 830_000, 3_789_000,
    ]  # fmt: skip


def test_jams_come_between_failures_of_clock_and_of_running() -> None:
    """And a failure of running that is due when the first work ends comes at the start of the next."""
    kinds = [
        fails("running", (2_000_000, 70_000)),
        fails("jam", (1, 100_000), (1, 60_000)),
        fails("clock", (6_900_000, 5_000)),
    ]
    one, found = run_case(small_case(1, 10_000_000, kinds))
    assert works_at_test(one) == [(1_770_000, 3_870_000), (6_870_000, 9_005_000)]
    assert as_mapping(found) == {**ONE_ROUND, ("repair", "test"): 130_000, ("clock failure", "test"): 5_000}


def test_a_jam_counts_works_from_the_end_of_its_repair() -> None:
    kinds = [fails("jam", (2, 100_000), (2, 100_000)), fails("jam", (3, 10_000), (9, 0))]
    one, _ = run_case(small_case(1, 20_000_000, kinds))
    assert works_at_test(one) == [
        (1_770_000, 3_770_000),
        (6_770_000, 8_870_000),
        (11_870_000, 13_880_000),
        (16_880_000, 18_980_000),
    ]
