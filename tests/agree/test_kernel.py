"""The kernel against the agreed cases and, on random lines, against the reference model: move by move, to the
microsecond."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

import pytest

from agree.agreed_cases import as_logs, run
from agree.given_luck import coarsen
from agree.random_lines import random_line
from agree.reference_causes import causes_of
from agree.reference_model import ReferenceRun, from_plan
from agree.reference_model import run as run_reference
from agree.test_reference_cases import AGREED, BY_HAND, read_case
from linewright.flow.causes import KINDS, CycleCauses, find_causes
from linewright.flow.kernel.draws import Luck, luck_of
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

TEN_MINUTES_US = 600_000_000
BIN_US = 20_000_000
CUT_BINS = 6
SHORT = range(1, 61)
LONG = range(1001, 3001)
KERNEL_STATES = (
    "down", "work", "clear", "done handshake", "blocked", "partner", "settling and start handshake", "prepare",
    "exchange",
    "starved",
)  # fmt: skip


@dataclass(frozen=True)
class SharedLuck:
    """The kernel's luck as the reference model asks for it."""

    luck: Luck

    def work_us(self, station: int, serial: int) -> int:
        return self.luck.work_us(station, serial)

    def flagged(self, station: int, serial: int) -> bool:
        return self.luck.flagged(station, serial)

    def failure(self, index: int, n: int) -> tuple[int, int] | None:
        running = self.luck.running_us(index, n)
        return None if running is None else (running, self.luck.repair_us(index, n))


@functools.lru_cache(maxsize=128)
def plan_of_random_line(number: int) -> TrafficPlan:
    """The plan of a random line, which many tests share: what is changed in it is changed in a copy."""
    line = random_line(number).read()
    return compile_plan(line, lay_out(line))


def both(number: int, horizon_us: int, grain_us: int) -> tuple[TrafficPlan, Replication, ReferenceRun]:
    """A random line's plan, all its times rounded up to grains, and what the kernel and the reference model make of it
    under the same luck."""
    plan = coarsen(plan_of_random_line(number), grain_us) if grain_us > 1 else plan_of_random_line(number)
    luck = luck_of(plan, number, 0)
    kernel = run_once(plan, tables_of(plan), luck, horizon_us, BIN_US, trace_from_us=0, with_chain=True)
    return plan, kernel, run_reference(from_plan(plan, SharedLuck(luck), horizon_us))


def check_agreement(number: int, horizon_us: int, grain_us: int = 1) -> None:
    plan, kernel, reference = both(number, horizon_us, grain_us)
    logs = as_logs(kernel, list(range(plan.stops)), plan.station_names)
    for name in ("moves", "works", "good"):
        assert logs[name] == reference.logs()[name], f"random line {number}: {name}"
    for station, name in enumerate(plan.station_names):
        times = dict(zip(KERNEL_STATES, kernel.totals.state_us[station].tolist(), strict=True))
        assert times == reference.states[name], f"random line {number}: states of {name}"
    assert kernel.totals.good.sum() == len(reference.good)
    assert kernel.totals.moves.sum() == len(reference.moves)
    for cut_bins in (0, CUT_BINS):
        causes, window_us, parts = causes_of(reference.history, cut_bins * BIN_US, horizon_us)
        found = find_causes(plan, [kernel], cut_bins, BIN_US)
        assert (found.parts, found.window_us) == (parts, window_us), f"random line {number}: window"
        assert as_mapping(found) == causes, f"random line {number}: causes"


def as_mapping(found: CycleCauses) -> dict[tuple[str, str], int]:
    """Times of causes by kind and place, those that took none left out. [us]"""
    return {
        (kind, place): int(time_us)
        for kind, row in zip(KINDS, found.time_us, strict=True)
        for place, time_us in zip(found.places, row, strict=True)
        if time_us
    }


@pytest.mark.parametrize("path", AGREED + BY_HAND, ids=lambda path: path.name.split(".")[0])
def test_kernel_reproduces_the_agreed_cases(path: Path) -> None:
    record = read_case(path)
    logs = run(record["case"])
    for name in ("moves", "works", "good"):
        assert logs[name] == record["expected"][name], name


@pytest.mark.parametrize("first", SHORT[::10])
def test_kernel_equals_the_reference_model(first: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number, TEN_MINUTES_US)


@pytest.mark.parametrize("first", SHORT[:20:10])
def test_kernel_equals_the_reference_model_where_many_events_fall_together(first: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number, TEN_MINUTES_US, grain_us=100_000)


@pytest.mark.long
@pytest.mark.parametrize("grain_us", [10_000, 100_000, 500_000])
@pytest.mark.parametrize("first", SHORT[::10])
def test_kernel_equals_the_reference_model_on_many_grains(first: int, grain_us: int) -> None:
    for number in range(first, first + 10):
        check_agreement(number, TEN_MINUTES_US, grain_us)


@pytest.mark.long
@pytest.mark.parametrize("first", LONG[::50])
def test_kernel_equals_the_reference_model_on_many_lines(first: int) -> None:
    for number in range(first, first + 50):
        check_agreement(number, TEN_MINUTES_US)


@pytest.mark.parametrize("number", SHORT[::6])
def test_reckoning_work_at_once_changes_nothing(number: int) -> None:
    plan = plan_of_random_line(number)
    runs = [
        run_once(
            plan,
            tables_of(plan, at_once),
            luck_of(plan, 5, 0),
            TEN_MINUTES_US,
            BIN_US,
            trace_from_us=0,
            with_chain=True,
        )
        for at_once in (True, False)
    ]
    logs = [as_logs(one, list(range(plan.stops)), plan.station_names) for one in runs]
    assert logs[0] == logs[1]
    assert (runs[0].totals.state_us == runs[1].totals.state_us).all()
    causes = [find_causes(plan, [one], CUT_BINS, BIN_US) for one in runs]
    assert (causes[0].parts, causes[0].window_us) == (causes[1].parts, causes[1].window_us)
    assert as_mapping(causes[0]) == as_mapping(causes[1])
