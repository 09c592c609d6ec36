"""The general event loop against the reference model on random plans with every feature: move by move, to the
microsecond; and against the fast event loop on plain lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import zip_longest

import pytest

from agree.agreed_cases import as_logs
from agree.coarse_general import coarsen_general
from agree.random_general import random_plan
from agree.random_sketches import SMALL_LINES
from agree.random_tracks import as_track, loop_of_line
from agree.reference_causes import causes_of
from agree.reference_general import GeneralRun, run_general
from agree.test_kernel import as_mapping
from linewright.flow.causes import find_causes
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.flow.kernel.run import Replication, run_beyond, run_once
from linewright.flow.kernel.state import tables_of
from linewright.traffic.plan import TrafficPlan

MINUTE_US = 60_000_000
BIN_US = 20_000_000
CUT_BINS = 3
SHORT = range(1, 61)
LONG = range(1001, 1501)
STATES = (
    "down", "work", "clear", "done handshake", "blocked", "partner", "settling and start handshake", "prepare",
    "exchange", "starved", "changeover", "operator", "outside", "break",
)  # fmt: skip


def plan_of(number: int, grain_us: int = 1) -> TrafficPlan:
    """A random plan, its times rounded up to a grain."""
    plan = random_plan(number).plan
    return plan if grain_us == 1 else coarsen_general(plan, grain_us)


def horizon_us(number: int) -> int:
    """Three to six minutes."""
    return (3 + number % 4) * MINUTE_US


def both(number: int, grain_us: int = 1) -> tuple[TrafficPlan, Replication, GeneralRun]:
    """A random plan and what the general event loop and the reference model make of it under the same luck."""
    plan = plan_of(number, grain_us)
    luck = general_luck_of(plan, number, 0)
    horizon = horizon_us(number)
    kernel = run_beyond(plan, luck, horizon, BIN_US, trace_from_us=0, with_chain=True)
    return plan, kernel, run_general(plan, luck, horizon)


def check_same_rows(found: Sequence[object], expected: Sequence[object], what: str) -> None:
    """Fails at the first row that differs and tells that one alone; telling two long lists apart takes minutes."""
    for row, (one, other) in enumerate(zip_longest(found, expected)):
        if one != other:
            pytest.fail(f"{what}, row {row}: {one} is not {other}")


def check_same_entries(found: Mapping[str, object], expected: Mapping[str, object], what: str) -> None:
    """Fails with the entries that differ alone."""
    names = [name for name in {**found, **expected} if found.get(name) != expected.get(name)]
    if names:
        pytest.fail(f"{what}: " + ", ".join(f"{name}: {found.get(name)} is not {expected.get(name)}" for name in names))


def check_agreement(number: int, grain_us: int = 1) -> None:
    plan, kernel, reference = both(number, grain_us)
    logs, expected = as_logs(kernel, list(range(plan.stops)), plan.station_names), reference.logs()
    for name in ("moves", "works", "good"):
        check_same_rows(logs[name], expected[name], f"random plan {number}, grain {grain_us}: {name}")
    for station, name in enumerate(plan.station_names):
        times = dict(zip(STATES, kernel.totals.state_us[station].tolist(), strict=True))
        check_same_entries(times, reference.states[name], f"random plan {number}, grain {grain_us}: states of {name}")
    assert kernel.totals.good.sum() == len(reference.good)
    assert kernel.totals.moves.sum() == len(reference.moves)
    assert kernel.beyond is not None
    halts = kernel.beyond.short_halts, kernel.beyond.short_halts_lost_us
    assert halts == (reference.halts, reference.halts_cost_us), f"random plan {number}: short halts"
    for cut_bins in (0, CUT_BINS):
        causes, window_us, parts = causes_of(reference.history, cut_bins * BIN_US, horizon_us(number))
        found = find_causes(plan, [kernel], cut_bins, BIN_US)
        assert (found.parts, found.window_us) == (parts, window_us), f"random plan {number}: window"
        check_same_entries(as_mapping(found), causes, f"random plan {number}, grain {grain_us}: causes")


@pytest.mark.parametrize("number", SMALL_LINES[:6])
def test_a_plain_line_run_in_general_gives_the_same_also_written_as_a_track(number: int) -> None:
    plan = loop_of_line(number).plan
    luck, horizon = luck_of(plan, 3, 0), 3 * MINUTE_US
    fast = run_once(plan, tables_of(plan), luck, horizon, BIN_US, trace_from_us=0, with_chain=True)
    log = as_logs(fast, list(range(plan.stops)), plan.station_names)
    for written in (plan, as_track(plan)):
        general = run_beyond(written, general_luck_of(written, 3, 0), horizon, BIN_US, trace_from_us=0, with_chain=True)
        general_log = as_logs(general, list(range(plan.stops)), plan.station_names)
        assert general_log.keys() == log.keys()
        for name in log:
            check_same_rows(general_log[name], log[name], f"random line {number}: {name}")
        states = fast.totals.state_us.shape[1]
        assert (general.totals.state_us[:, :states] == fast.totals.state_us).all()
        assert not general.totals.state_us[:, states:].any()
        causes = [find_causes(plan, [one], CUT_BINS, BIN_US) for one in (fast, general)]
        assert as_mapping(causes[0]) == as_mapping(causes[1])


@pytest.mark.parametrize("first", SHORT[::10])
def test_general_event_loop_equals_the_reference_model(first: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number)


@pytest.mark.parametrize("first", SHORT[:20:10])
def test_general_event_loop_equals_the_reference_model_where_many_events_fall_together(first: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number, grain_us=100_000)


@pytest.mark.long
@pytest.mark.parametrize("grain_us", [10_000, 100_000, 500_000])
@pytest.mark.parametrize("first", SHORT[::10])
def test_general_event_loop_equals_the_reference_model_on_many_grains(first: int, grain_us: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number, grain_us)


@pytest.mark.long
@pytest.mark.parametrize("first", LONG[::25])
def test_general_event_loop_equals_the_reference_model_on_many_plans(first: int) -> None:
    for number in range(first, first + 25):
        check_agreement(number)
