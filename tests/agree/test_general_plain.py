"""The general event loop gives on plain lines what the loop for plain lines gives: the same log, states and causes."""

from __future__ import annotations

import numpy as np
import pytest

from agree.agreed_cases import as_logs
from agree.given_luck import coarsen
from agree.test_general import check_same_entries, check_same_rows
from agree.test_kernel import BIN_US, CUT_BINS, TEN_MINUTES_US, as_mapping, plan_of_random_line
from linewright.flow.causes import find_causes
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import run_beyond, run_once
from linewright.flow.kernel.state import STATES, tables_of

SHORT = range(1, 11)
LONG = range(2001, 2501)


def check_same(number: int, grain_us: int = 1) -> None:
    plan = plan_of_random_line(number)
    if grain_us > 1:
        plan = coarsen(plan, grain_us)
    luck = luck_of(plan, number, 0)
    fast = run_once(plan, tables_of(plan), luck, TEN_MINUTES_US, BIN_US, trace_from_us=0, with_chain=True)
    slow = run_beyond(plan, luck, TEN_MINUTES_US, BIN_US, trace_from_us=0, with_chain=True)
    logs = [as_logs(one, list(range(plan.stops)), plan.station_names) for one in (fast, slow)]
    assert logs[0].keys() == logs[1].keys()
    for name in logs[0]:
        check_same_rows(logs[1][name], logs[0][name], f"random line {number}, grain {grain_us}: {name}")
    for name in ("parts", "rejected", "failures", "good", "first_us", "moves"):
        assert np.array_equal(getattr(fast.totals, name), getattr(slow.totals, name)), f"random line {number}: {name}"
    assert np.array_equal(fast.totals.state_us, slow.totals.state_us[:, :STATES]), f"random line {number}: states"
    assert not slow.totals.state_us[:, STATES:].any()
    for cut_bins in (0, CUT_BINS):
        causes = [find_causes(plan, [one], cut_bins, BIN_US) for one in (fast, slow)]
        assert (causes[0].parts, causes[0].window_us) == (causes[1].parts, causes[1].window_us)
        expected, found = as_mapping(causes[0]), as_mapping(causes[1])
        check_same_entries(found, expected, f"random line {number}, grain {grain_us}: causes")


@pytest.mark.parametrize("first", SHORT[::10])
def test_general_loop_equals_the_plain_loop(first: int) -> None:
    for number in range(first, first + 10):
        check_same(number)


@pytest.mark.parametrize("first", SHORT[:10:10])
def test_general_loop_equals_the_plain_loop_where_many_events_fall_together(first: int) -> None:
    for number in range(first, first + 10):
        check_same(number, grain_us=100_000)


@pytest.mark.long
@pytest.mark.parametrize("first", LONG[::50])
def test_general_loop_equals_the_plain_loop_on_many_lines(first: int) -> None:
    for number in range(first, first + 50):
        check_same(number)
        check_same(number, grain_us=50_000)
