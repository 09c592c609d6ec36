"""Bounds of a line: by hand where nothing takes time but work, and attained by runs of lines without luck."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from linewright.flow import bounds
from linewright.flow.line_bounds import RateBounds, mean_us, rate_bounds, transfer_cycle_us
from linewright.line.model import TimeLaw
from linewright.traffic.compile import law_of
from linewright.traffic.plan import (
    EMPIRICAL,
    EMPTY,
    FIXED,
    GAMMA,
    GEOMETRIC,
    GIVEN,
    LOADED,
    OF_CLOCK,
    STATION,
    Chance,
    Law,
)
from unit.flow.bound_lines import bound_line, plan_of, run_of

NEXT_TO_NOTHING = 2e-3
"""What moves, rides and reactions of the ideal sheet may be of the work here."""


def ideal(*keys: str, carriers: int = 6, route: str = "a, b, c") -> RateBounds:
    return rate_bounds(plan_of(bound_line("ideal-sheet.yaml", keys, carriers, route)))


# ---- laws ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("law", "mean"),
    [
        (law_of(TimeLaw.fixed(1.5)), 1.5e6),
        (law_of(TimeLaw.exponential(2.0)), 2.0e6),
        (law_of(TimeLaw.lognormal(2.6, 0.8)), 2.6e6),
        (law_of(TimeLaw.triangular(1.0, 1.2, 2.0)), 1.4e6),
        (Law(GAMMA, 4.0, 5e5), 2.0e6),
        (Law(EMPIRICAL, given_us=(1_000_000, 1_000_000, 4_000_000)), 2.0e6),
        (Law(GIVEN, given_us=(5, 1, 3)), 3.0),
        (Law(GEOMETRIC, 800.0), 800.0),
    ],
)
def test_means_of_laws(law: Law, mean: float) -> None:
    assert mean_us(law) == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize("law", [Law(GIVEN), Law(99, 1.0)])
def test_a_law_without_a_mean_is_refused(law: Law) -> None:
    with pytest.raises(ValueError, match="has no mean"):
        mean_us(law)


# ---- by hand ---------------------------------------------------------------------------------------------------------


def test_work_alone() -> None:
    found = ideal("time: 10 s", "time: 30 s", "time: 20 s")
    assert found.loop_s == pytest.approx(60.0, rel=NEXT_TO_NOTHING)
    assert found.step_per_h == pytest.approx(120.0, rel=NEXT_TO_NOTHING)
    assert found.carriers_per_h == pytest.approx(6 * 60.0, rel=NEXT_TO_NOTHING)
    assert found.worst_per_h == pytest.approx(60.0, rel=NEXT_TO_NOTHING)
    assert (found.limiting_step, found.limit, found.carriers) == ("b", "step", 6)
    assert found.upper_per_h == found.step_per_h
    practical = bounds.practical_worst_case(1.0 / 30.0, 60.0, 6).rate_per_s * 3600.0
    assert found.practical_worst_per_h == pytest.approx(practical, rel=NEXT_TO_NOTHING)
    balanced = bounds.balanced_job_bounds([10.0, 30.0, 20.0], 6)
    assert found.balanced_low_per_h == pytest.approx(balanced.low_per_s * 3600.0, rel=NEXT_TO_NOTHING)
    assert found.balanced_high_per_h == pytest.approx(balanced.high_per_s * 3600.0, rel=NEXT_TO_NOTHING)


def test_tool_times_and_prepare_beside_the_exchange() -> None:
    found = ideal("time: 10 s", "time: 30 s, prepare: 5 s, clear: 5 s", "time: 20 s")
    assert found.step_per_h == pytest.approx(3600.0 / 40.0, rel=NEXT_TO_NOTHING)
    assert found.loop_s == pytest.approx(65.0, rel=NEXT_TO_NOTHING)
    assert found.worst_per_h == pytest.approx(3600.0 / 70.0, rel=NEXT_TO_NOTHING)


def test_flagged_parts_take_time_and_make_nothing() -> None:
    """A fifth of the parts is flagged at a, and goes from there to d instead of b and c."""
    keys = ("time: 10 s, rejects: 20 %", "time: 30 s", "time: 20 s", "time: 5 s, reject_exit: true")
    found = ideal(*keys, route="a, b, c, d")
    assert found.loop_s == pytest.approx((0.8 * 60.0 + 0.2 * 15.0) / 0.8, rel=NEXT_TO_NOTHING)
    assert found.step_per_h == pytest.approx(120.0, rel=NEXT_TO_NOTHING)  # only good parts come to b
    slow_a = ideal("time: 30 s, rejects: 20 %", "time: 20 s", *keys[2:], route="a, b, c, d")
    assert slow_a.step_per_h == pytest.approx(0.8 * 120.0, rel=NEXT_TO_NOTHING)
    slow_exit = ideal(*keys[:3], "time: 200 s, reject_exit: true", route="a, b, c, d")
    assert slow_exit.limiting_step == "d"
    assert slow_exit.step_per_h == pytest.approx(3600.0 / 200.0 * 0.8 / 0.2, rel=NEXT_TO_NOTHING)


def test_parallel_stations_share_the_step() -> None:
    found = ideal("time: 10 s", "time: 30 s", "time: 30 s", "time: 20 s", route="a, [b, c], d")
    assert found.loop_s == pytest.approx(60.0, rel=NEXT_TO_NOTHING)
    assert (found.limiting_step, found.step_per_h) == ("d", pytest.approx(180.0, rel=NEXT_TO_NOTHING))


@pytest.mark.parametrize(
    ("failure", "per_work_s"),
    [
        ("{every: 80 s, repair: 20 s}", 2.5),
        ("{one_in: 8 cycles, repair: {mean: 20 s, cv: 50 %}}", 2.5),
        ("{every: 80 s, of: clock, repair: 20 s}", 2.5),
    ],
)
def test_repairs_lengthen_the_step(failure: str, per_work_s: float) -> None:
    found = ideal("time: 1 s", f"time: 10 s, failures: [{failure}]", "time: 1 s")
    assert found.step_per_h == pytest.approx(3600.0 / (10.0 + per_work_s), rel=NEXT_TO_NOTHING)
    assert found.loop_s == pytest.approx(12.0 + per_work_s, rel=NEXT_TO_NOTHING)


def test_a_clock_failure_within_an_exchange_costs_nothing_for_sure() -> None:
    """Its time is regular, so it may always come between two works; a repair longer than prepare costs the rest."""

    def found(repair_s: float) -> RateBounds:
        failure = f"{{every: {{law: gamma, mean: 100 s, cv: 1 %}}, of: clock, repair: {repair_s} s}}"
        return ideal("time: 1 s", f"time: 10 s, prepare: 8 s, failures: [{failure}]", "time: 1 s")

    assert found(7.0).step_per_h == pytest.approx(3600.0 / 18.0, rel=NEXT_TO_NOTHING)
    lost = (20.0 - 8.0) / 120.0
    assert found(20.0).step_per_h == pytest.approx(3600.0 / 18.0 * (1.0 - lost), rel=NEXT_TO_NOTHING)


def test_two_clock_failures_may_wait_for_each_other() -> None:
    one, two = "{every: 80 s, of: clock, repair: 20 s}", "{every: 150 s, of: clock, repair: 50 s}"
    found = [ideal("time: 1 s", f"time: 10 s, failures: [{f}]", "time: 1 s") for f in (one, two, f"{one}, {two}")]
    assert found[2].step_per_h < min(found[0].step_per_h, found[1].step_per_h)
    assert found[2].worst_per_h < min(found[0].worst_per_h, found[1].worst_per_h)


def test_given_failures_end_and_given_flags_are_used_up() -> None:
    plan = plan_of(bound_line("ideal-sheet.yaml", ("time: 10 s", "time: 30 s, failures: [{every: 80 s, repair: 20 s}]",
                                                   "time: 20 s"), 6))  # fmt: skip
    (kind,) = plan.failures
    none = rate_bounds(replace(plan, failures=()))
    for of in (kind.of, OF_CLOCK):
        ended = replace(kind, every=Law(GIVEN, given_us=(5, 6)), repair=Law(FIXED, 1e7), of=of)
        assert rate_bounds(replace(plan, failures=(ended,))) == none
    flags = tuple(Chance(given=(0, 3)) for _ in plan.reject)
    assert rate_bounds(replace(plan, failures=(), reject=flags)) == none


def test_where_no_part_becomes_good() -> None:
    keys = ("time: 10 s, rejects: 20 %", "time: 30 s", "time: 20 s", "time: 5 s, reject_exit: true")
    plan = plan_of(bound_line("ideal-sheet.yaml", keys, 6, "a, b, c, d"))
    found = rate_bounds(replace(plan, reject=(Chance(1.0), *plan.reject[1:])))
    assert (found.upper_per_h, found.worst_per_h, found.loop_s) == (0.0, 0.0, math.inf)
    with pytest.raises(ValueError, match="no exit follows"):
        rate_bounds(replace(plan, reject=(*plan.reject[:3], Chance(0.1)), step_exit=(False,) * 4))


def test_carriers_count_until_a_step_limits() -> None:
    plan = plan_of(bound_line("demo-heavy", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 8))
    found = [rate_bounds(plan, carriers) for carriers in (1, 2, 3, 4, 8)]
    assert found[4] == rate_bounds(plan)
    assert found[1].carriers_per_h == pytest.approx(2 * found[0].carriers_per_h)
    assert [one.limit for one in found] == ["carriers", "carriers", "carriers", "step", "step"]
    upper = [one.upper_per_h for one in found]
    assert upper == sorted(upper)
    common = int((plan.stop_kind != STATION).sum())
    assert rate_bounds(plan, common - 1).worst_holds
    assert not rate_bounds(plan, common).worst_holds
    with pytest.raises(ValueError, match="at least one carrier"):
        rate_bounds(plan, 0)


def test_the_station_cycle_of_a_demo_line_by_hand() -> None:
    plan = plan_of(bound_line("demo-heavy", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 8))
    stop = int(plan.station_stop[1])
    cycle_us = (
        3_000_000 + plan.done_handshake_us + plan.follow_us + plan.move_time_us(LOADED, stop - 1, stop)
        + int(plan.settling_us[1]) + plan.start_handshake_us
    )  # fmt: skip
    assert rate_bounds(plan).step_per_h == pytest.approx(3.6e9 / cycle_us, rel=1e-12)


def test_the_quickest_cycle_of_a_transfer_is_none_of_the_slower_class() -> None:
    plan = plan_of(bound_line("demo-heavy", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 8))
    for transfer in range(2):
        assert transfer_cycle_us(plan, transfer, quickest=True) == transfer_cycle_us(plan, transfer)
    # Let both load classes pass the first transfer: then the slower one's cycle is the longer.
    aboard = int(plan.stop_transfer.tolist().index(0))
    slower = plan.move_us.copy()
    slower[EMPTY, aboard - 1, 0] = slower[LOADED, aboard - 1, 0] + 1000
    mixed = replace(plan, move_us=slower)
    assert transfer_cycle_us(mixed, 0) == transfer_cycle_us(mixed, 0, quickest=True) + 1000


# ---- attained --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sheet", ["demo-light", "demo-heavy"])
@pytest.mark.parametrize(
    ("keys", "carriers", "limit"),
    [
        (("time: 1.5 s", "time: 3 s", "time: 1 s"), 2, "carriers"),
        (("time: 1.5 s", "time: 3 s", "time: 1 s"), 8, "step"),
        (("time: 1 s", "time: 1.2 s, prepare: 2 s", "time: 1 s"), 8, "step"),
        (("time: 0.1 s", "time: 0.1 s", "time: 0.1 s"), 8, "transfer"),
    ],
)
def test_a_line_without_luck_attains_its_bound(sheet: str, keys: tuple[str, ...], carriers: int, limit: str) -> None:
    line = bound_line(sheet, keys, carriers)
    found = rate_bounds(plan_of(line))
    assert found.limit == limit
    run = run_of(line, hours=2.0)
    assert run.rate is not None
    assert run.rate.mean == pytest.approx(found.upper_per_h, rel=1e-3)


@pytest.mark.parametrize(
    "failure",
    ["{every: 80 s, repair: 20 s}", "{one_in: 8 cycles, repair: 20 s}", "{every: 80 s, of: clock, repair: 20 s}"],
)
def test_a_step_with_repairs_attains_its_bound(failure: str) -> None:
    line = bound_line("ideal-sheet.yaml", ("time: 1 s", f"time: 10 s, failures: [{failure}]", "time: 1 s"), 8)
    run = run_of(line, hours=40.0, runs=6)
    assert run.rate is not None
    upper = rate_bounds(plan_of(line)).upper_per_h
    assert run.rate.half_width < 0.01 * upper
    assert run.rate.low <= upper <= run.rate.high * 1.001


def test_one_carrier_attains_the_worst_case_where_moves_take_no_time() -> None:
    line = bound_line("ideal-sheet.yaml", ("time: 1.5 s", "time: 3 s", "time: 1 s"), 1)
    found = rate_bounds(plan_of(line))
    assert found.worst_per_h == pytest.approx(found.upper_per_h, rel=0.01)
    run = run_of(line, hours=1.0)
    assert found.worst_per_h * 0.999 <= float(np.mean(run.rates_per_h)) <= found.upper_per_h * 1.001
