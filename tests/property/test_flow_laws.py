"""Laws that every run of every line keeps: nothing is lost, nobody overtakes, time runs forward, luck alone decides."""

from __future__ import annotations

import functools
import json
import os
import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from agree.agreed_cases import load_case, plan_of
from agree.random_lines import random_line
from agree.test_kernel import plan_of_random_line
from agree.test_reference_cases import AGREED
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.flow.run import Run, run_plan
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import (
    EXPONENTIAL,
    FIXED,
    GIVEN,
    LOGNORMAL,
    NO_BOUND,
    OF_CLOCK,
    TRIANGULAR,
    Chance,
    FailureKind,
    Law,
    TrafficPlan,
)

Ints = NDArray[np.int64]

TESTS: Final = Path(__file__).parents[1]
HORIZON_US: Final = 300_000_000
BIN_US: Final = 7_000_000
LINES: Final = 40
SOME: Final = settings(max_examples=30)
FEW: Final = settings(max_examples=8)

numbers = st.integers(1, LINES)
seeds = st.integers(0, 2**63)


@dataclass(frozen=True)
class Subject:
    """A random line and its plan."""

    line: Line
    plan: TrafficPlan


@functools.cache
def subject(number: int) -> Subject:
    """The random line of a number, read once."""
    return Subject(random_line(number).read(), plan_of_random_line(number))


def run_logged(plan: TrafficPlan, seed: int, horizon_us: int = HORIZON_US, at_once: bool = True) -> Replication:
    """One replication with all its moves, works and good parts logged."""
    return run_once(plan, tables_of(plan, at_once), luck_of(plan, seed, 0), horizon_us, BIN_US, trace_from_us=0)


def in_order(log: Ints, time: int) -> Ints:
    """The rows of a log by the time in that column, then by the columns from the first on."""
    keys = [log[:, column] for column in reversed(range(log.shape[1]))]
    return log[np.lexsort((*keys, log[:, time]))]


def same_logs(one: Replication, other: Replication) -> bool:
    """Whether two replications logged the same moves, works and good parts and added up the same totals."""
    logs = [(one.moves, other.moves, 1), (one.works, other.works, 3), (one.good, other.good, 1)]
    totals = zip(one.totals, other.totals, strict=True)
    return all(np.array_equal(in_order(a, t), in_order(b, t)) for a, b, t in logs) and all(
        np.array_equal(a, b) for a, b in totals
    )


# ---- carriers --------------------------------------------------------------------------------------------------------


def moves_of(plan: TrafficPlan, moves: Ints) -> list[Ints]:
    """The moves of each carrier by departure."""
    ordered = in_order(moves, 1)
    return [ordered[ordered[:, 0] == carrier] for carrier in range(plan.carriers)]


@SOME
@given(numbers, seeds)
def test_each_carrier_goes_on_from_where_it_arrived_and_later(number: int, seed: int) -> None:
    plan = subject(number).plan
    for carrier, moves in enumerate(moves_of(plan, run_logged(plan, seed).moves)):
        _, departure, start, end, arrival, load = moves.T
        assert (arrival > departure).all()
        assert (departure[1:] >= arrival[:-1]).all()
        assert np.array_equal(start[1:], end[:-1])
        assert not len(start) or start[0] == plan.first_stops[carrier]
        durations = [plan.move_time_us(int(c), int(a), int(b)) for c, a, b in zip(load, start, end, strict=True)]
        assert np.array_equal(arrival - departure, durations)


@SOME
@given(numbers, seeds)
def test_no_carrier_is_lost_doubled_or_overtaken(number: int, seed: int) -> None:
    """When a carrier arrives anywhere, its leader has departed for a stop farther ahead."""
    plan = subject(number).plan
    moves = moves_of(plan, run_logged(plan, seed).moves)
    assert len(set(plan.first_stops.tolist())) == plan.carriers
    # Stops counted on from round to round, carrier 0 the farthest; each next carrier stands upstream of the one before.
    upstream = (plan.first_stops[0] - plan.first_stops) % plan.stops
    assert (np.diff(upstream) > 0).all()
    for carrier in range(plan.carriers) if plan.carriers > 1 else ():
        leader = carrier - 1 if carrier else plan.carriers - 1
        ahead = -upstream[leader] + (0 if carrier else plan.stops)
        reserved = np.concatenate(
            [[ahead], ahead + np.cumsum((moves[leader][:, 3] - moves[leader][:, 2]) % plan.stops)]
        )
        reached = -upstream[carrier] + np.cumsum((moves[carrier][:, 3] - moves[carrier][:, 2]) % plan.stops)
        departed = np.searchsorted(moves[leader][:, 1], moves[carrier][:, 4], side="right")
        assert (reached < reserved[departed]).all()


# ---- parts -----------------------------------------------------------------------------------------------------------


@SOME
@given(numbers, seeds)
def test_no_part_is_lost(number: int, seed: int) -> None:
    """Parts begun = good ones + those taken out + those aboard, and each of these is on a carrier of its own."""
    plan = subject(number).plan
    run = run_logged(plan, seed)
    works, good = in_order(run.works, 3), run.good[:, 0]
    begun = set(works[:, 2].tolist())
    assert begun == set(range(len(begun)))
    exits = [plan.step_exit[plan.station_step[k]] for k in works[:, 0]]
    out = works[np.array(exits, bool) & (works[:, 4] < HORIZON_US), 2]
    assert len(set(good.tolist())) == len(good) == run.totals.good.sum()
    assert len(set(out.tolist())) == len(out)
    assert not set(good.tolist()) & set(out.tolist())
    aboard = begun - set(good.tolist()) - set(out.tolist())
    carriers = {int(works[works[:, 2] == serial, 1][-1]) for serial in aboard}
    assert len(carriers) == len(aboard) == len(begun) - len(good) - len(out) <= plan.carriers
    for serial in begun:
        assert len(set(works[works[:, 2] == serial, 1].tolist())) == 1


@SOME
@given(numbers, seeds)
def test_a_part_is_worked_at_each_step_in_turn(number: int, seed: int) -> None:
    """A good part at every step but the exits; a flagged one at none between the flagging step and the next exit."""
    plan = subject(number).plan
    run, luck = run_logged(plan, seed), luck_of(plan, seed, 0)
    works = in_order(run.works, 3)
    good = set(run.good[:, 0].tolist())
    for serial in set(works[:, 2].tolist()):
        rows = works[works[:, 2] == serial]
        assert list(plan.station_step[rows[:, 0]]) == expected_steps(plan, luck_flags(plan, luck, serial))[: len(rows)]
        assert (rows[1:, 3] >= rows[:-1, 4]).all()
        if serial in good:
            assert len(rows) == plan.step_exit.count(False)


def luck_flags(plan: TrafficPlan, luck: object, serial: int) -> list[bool]:
    """At which steps a part would be flagged."""
    flagged = luck.flagged  # type: ignore[attr-defined]
    return [any(flagged(k, serial) for k in stations) for stations in plan.step_stations]


def expected_steps(plan: TrafficPlan, flags: list[bool]) -> list[int]:
    """The steps at which a part with these flags is worked."""
    steps, flagged = [], False
    for step, is_exit in enumerate(plan.step_exit):
        if is_exit != flagged:
            continue
        steps.append(step)
        if is_exit:
            break
        flagged = flags[step]
    return steps


# ---- time ------------------------------------------------------------------------------------------------------------


@SOME
@given(numbers, seeds, st.integers(1, HORIZON_US))
def test_the_shares_of_a_station_sum_to_one(number: int, seed: int, horizon_us: int) -> None:
    run = run_logged(subject(number).plan, seed, horizon_us)
    assert (run.totals.state_us >= 0).all()
    assert (run.totals.state_us.sum(axis=1) == horizon_us).all()


@SOME
@given(numbers, seeds)
def test_time_at_work_and_down_is_that_of_the_works(number: int, seed: int) -> None:
    plan = subject(number).plan
    run = run_logged(plan, seed)
    for station in range(len(plan.station_names)):
        works = run.works[(run.works[:, 0] == station) & (run.works[:, 4] <= HORIZON_US)]
        others = run.works[(run.works[:, 0] == station) & (run.works[:, 4] > HORIZON_US)]
        assert len(others) <= 1
        ended = (works[:, 4] - works[:, 3]).sum()
        busy = run.totals.state_us[station, :2].sum()
        in_works = ended + (HORIZON_US - others[:, 3]).sum()
        # A clock failure also comes while the station does not work.
        by_clock = any(kind.station == station and kind.of == OF_CLOCK for kind in plan.failures)
        assert busy >= in_works if by_clock else busy == in_works


@SOME
@given(numbers, seeds, st.integers(1, HORIZON_US - 1))
def test_a_shorter_run_is_the_beginning_of_a_longer_one(number: int, seed: int, horizon_us: int) -> None:
    plan = subject(number).plan
    long, short = run_logged(plan, seed), run_logged(plan, seed, horizon_us)
    for name, time in (("moves", 1), ("works", 3), ("good", 1)):
        whole = getattr(long, name)
        assert np.array_equal(in_order(whole[whole[:, time] < horizon_us], time), in_order(getattr(short, name), time))
    full_bins = horizon_us // BIN_US
    assert np.array_equal(long.totals.good[:full_bins], short.totals.good[:full_bins])
    for name in ("state_us", "parts", "rejected", "failures", "moves"):
        assert (getattr(short.totals, name) <= getattr(long.totals, name)).all()
    assert short.totals.good.sum() <= long.totals.good.sum()
    assert short.totals.good.sum() == (long.good[:, 1] < horizon_us).sum()


# ---- the same luck, the same run -------------------------------------------------------------------------------------


@SOME
@given(numbers, seeds)
def test_the_same_seed_gives_the_same_run_and_work_at_once_changes_nothing(number: int, seed: int) -> None:
    plan = subject(number).plan
    first = run_logged(plan, seed)
    assert same_logs(first, run_logged(plan, seed))
    assert same_logs(first, run_logged(plan, seed, at_once=False))


def as_bytes(run: Run) -> list[bytes]:
    """All figures of a run."""
    tables = [
        column for table in (run.stations, run.steps, run.failures, run.moves, run.works) for column in table.columns
    ]
    figures = [run.rate, run.line_cycle_s, run.warm_up_s, run.limiting, run.trace_from_s, run.trace_to_s, run.events]
    return [
        *(np.ascontiguousarray(column.values).tobytes() for column in tables),
        run.rates_per_h.tobytes(),
        run.good_per_run.tobytes(),
        repr(figures).encode(),
    ]


@FEW
@given(numbers, seeds)
def test_the_result_does_not_depend_on_the_workers(number: int, seed: int) -> None:
    line, plan = subject(number).line, subject(number).plan
    alone, *others = (as_bytes(run_plan(line, plan, 0.3, 6, seed, workers)) for workers in (1, 2, 5))
    assert others == [alone, alone]


def test_another_seed_gives_another_run() -> None:
    plan = next(one.plan for one in map(subject, range(1, LINES)) if any(law.kind != FIXED for law in one.plan.work))
    assert not same_logs(run_logged(plan, 1), run_logged(plan, 2))


WITHOUT_COMPILER: Final = """
import json, sys
import numpy as np
np.seterr(over="ignore")  # a product of two 64-bit words is meant to overflow; only without the compiler numpy warns
from property_logs import logs
json.dump([logs(int(number)) for number in sys.argv[1:]], sys.stdout)
"""
BY_INTERPRETER: Final = range(0, 20, 4)
INTERPRETED_US: Final = 60_000_000
LAWS: Final = (Law(FIXED, 900_000), Law(TRIANGULAR, 5e5, 8e5, 2e6), Law(LOGNORMAL, 13.5, 0.4), Law(EXPONENTIAL, 1e6))


def drawn_plan(number: int) -> TrafficPlan:
    """The track of an agreed case, with works, rejects and failures that are drawn instead of given.

    Its legs need no compiling: the delays of a line's legs are too much for the interpreter.
    """
    plan = plan_of(load_case(AGREED[number])["case"])
    return replace(
        plan,
        work=tuple(LAWS[(number + step) % len(LAWS)] for step in plan.station_step),
        reject=tuple(Chance(0.1 if any(plan.step_exit[step:]) else 0.0) for step in plan.station_step),
        failures=tuple(replace(one, every=Law(EXPONENTIAL, 2e7), repair=LAWS[number % 4]) for one in plan.failures),
    )


def logs(number: int) -> list[list[list[int]]]:
    """Moves, works and good parts of a minute of a case."""
    run = run_logged(drawn_plan(number), number, INTERPRETED_US)
    return [in_order(run.moves, 1).tolist(), in_order(run.works, 3).tolist(), in_order(run.good, 1).tolist()]


def test_the_interpreter_gives_what_the_compiler_gives() -> None:
    code = WITHOUT_COMPILER.replace("property_logs", Path(__file__).stem)
    paths = [str(TESTS), str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")]
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(filter(None, paths))}
    interpreted = subprocess.run(
        [sys.executable, "-c", code, *map(str, BY_INTERPRETER)],
        env=environment, capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    compiled = [logs(number) for number in BY_INTERPRETER]
    assert json.loads(interpreted.stdout) == compiled
    assert min(len(log) for one in compiled for log in one) > 0


# ---- what a result is made of ----------------------------------------------------------------------------------------

TWO_STATIONS: Final = """\
linewright: 1
name: Two stations (invented)
conveyor: demo-heavy
lanes:
  out: {length: 1155 mm, from: west, to: east}
  back: {length: 1155 mm, from: east, to: west, level: -520 mm}
transfers:
  east: {kind: lift, takes: out, gives: back}
  west: {kind: lift, takes: back, gives: out}
carriers: 4
stations:
  first: {lane: out, at: 700 mm, time: 1 s}
  second: {lane: back, at: 400 mm, time: {mean: 4 s, cv: 30 %}}
route: [first, second]
"""


def test_the_warm_up_is_left_out_of_rate_and_shares() -> None:
    line = read_line(TWO_STATIONS, "two stations")
    plan = compile_plan(line, lay_out(line))
    hours, runs, seed = 0.5, 2, 9  # a seed whose luck makes MSER-5 cut
    run = run_plan(line, plan, hours, runs, seed)
    cut_us, horizon_us = round(run.warm_up_s * 1e6), round(hours * 3600e6)
    assert 0 < cut_us < horizon_us // 2
    logged = [
        run_once(plan, tables_of(plan), luck_of(plan, seed, one), horizon_us, BIN_US, trace_from_us=0)
        for one in range(runs)
    ]
    after = np.array([(one.good[:, 1] >= cut_us).sum() for one in logged])
    assert run.good_per_run.tolist() == after.tolist()
    assert run.rates_per_h == pytest.approx(after / ((horizon_us - cut_us) / 3600e6), rel=1e-12)
    assert run.rate is not None
    assert run.rate.mean == pytest.approx(run.rates_per_h.mean(), rel=1e-12)
    for station in range(2):
        clipped = [np.maximum(one.works[one.works[:, 0] == station, 3:5], cut_us) for one in logged]
        at_work_us = sum(int((np.minimum(times[:, 1], horizon_us) - times[:, 0]).sum()) for times in clipped)
        assert run.stations["work_share"][station] == pytest.approx(
            at_work_us / (runs * (horizon_us - cut_us)), rel=1e-12
        )
    shares = [column.values for column in run.stations.columns if column.name.endswith("_share")]
    assert np.sum(shares, axis=0) == pytest.approx(1.0, abs=1e-12)


def test_a_failure_due_as_work_ends_comes_at_the_start_of_the_next() -> None:
    plan = drawn_plan(0)
    first = plan.step_stations[0][0]
    failure = FailureKind(first, Law(GIVEN, given_us=(2_000_000,)), Law(GIVEN, given_us=(5_000_000,)))
    plan = replace(plan, work=(Law(FIXED, 1_000_000),) * len(plan.work), failures=(failure,))
    works = in_order(run_logged(plan, 1, 60_000_000).works, 3)
    repairs = works[works[:, 0] == first, 5].tolist()
    assert repairs[:4] == [0, 0, 5_000_000, 0]
    assert not any(repairs[4:])


@pytest.mark.parametrize("delay_us", [NO_BOUND, 5_000, 30_000], ids=["no-bound", "5-ms", "30-ms"])
def test_a_follower_minds_its_leaders_last_departure(delay_us: int) -> None:
    """The queue of time zero: all commit at 0; each departs a reaction later, or the delay after the one before it."""
    plan = drawn_plan(4)
    plan = replace(plan, delay_us=np.full_like(plan.delay_us, delay_us))
    moves = moves_of(plan, run_logged(plan, 1).moves)
    leaving = [int(each[0, 1]) for each in moves[2:]]  # carriers 0 and 1 stand at the first station and behind it
    expected = [0]
    for _ in leaving[1:]:
        expected.append(plan.follow_us if delay_us == NO_BOUND else max(plan.follow_us, expected[-1] + delay_us))
    assert len(leaving) == 8
    assert leaving == expected
