"""The verdict of the rate, and when the run was too short."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from linewright.checks.rate import check_rate, check_run_length, check_standstill, check_step_times, judge_rate
from linewright.checks.transfers import check_transfers, laps_per_part, transfer_cycle_us
from linewright.flow.run import run_plan
from linewright.flow.statistics import Interval
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.tables import Column, Table
from linewright.traffic.compile import compile_plan
from unit.handover.stand_in_run import causes_table, demo_line, stand_in_run, with_run


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def required(line: Line) -> float:
    assert line.demand is not None
    return find_takt(line.demand).required_rate_per_h


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (90.0, 99.9, "fails"),
        (90.0, 100.0, "tight"),
        (99.0, 101.0, "tight"),
        (99.99, 300.0, "tight"),
        (100.0, 101.0, "holds"),
        (130.0, 131.0, "holds"),
    ],
)
def test_the_interval_decides_not_the_margin(low: float, high: float, verdict: str) -> None:
    assert judge_rate(Interval((low + high) / 2, low, high, 0.95), 100.0) == verdict


def test_rate_finding_carries_figures_and_place(line: Line) -> None:
    finding = with_run(line).findings[0]
    assert finding.code == "rate"
    assert finding.verdict == "holds"
    assert finding.value == 800.0
    assert finding.limit == pytest.approx(required(line))
    assert finding.unit == "1/h"
    assert finding.margin == pytest.approx(800.0 / required(line) - 1.0)
    assert finding.remedy == ""
    assert finding.place == line.place("demand")
    assert finding.place is not None


def test_failing_rate_names_the_step_to_speed_up(line: Line) -> None:
    rates = (700.0, 700.5, 701.0)
    finding = with_run(line, stand_in_run(line, rates)).findings[0]
    assert finding.verdict == "fails"
    assert "speed up step press: it takes 4.500 s per good part, 0.500 s more" in finding.remedy


def test_failing_rate_names_the_place_where_most_of_the_line_cycle_passes(line: Line) -> None:
    causes = causes_table((("work", "leak-1", 0.4), ("exchange move", "leak-2", 0.3), ("work", "press", 0.3)))
    finding = with_run(line, stand_in_run(line, (700.0, 700.5, 701.0)), cycle_causes=causes).findings[0]
    assert "relieve leak-1/leak-2, where 70 % of the line cycle passes" in finding.remedy
    assert "press" not in finding.remedy


def test_undecided_rate_says_how_many_runs_would_decide(line: Line) -> None:
    need = required(line)
    finding = with_run(line, stand_in_run(line, (need - 8.0, need + 12.0, need - 8.0, need + 12.0))).findings[0]
    assert finding.verdict == "tight"
    half = 3.182446 * (20.0 / np.sqrt(3.0)) / 2.0  # t(0.975, 3) * s / sqrt(4), s = 20 / sqrt(3)
    assert f"--runs {int(np.ceil(1.1 * 4 * (half / 2.0) ** 2))})" in finding.remedy


def test_rate_at_the_requirement_is_not_sent_for_a_thousand_runs(line: Line) -> None:
    need = required(line)
    finding = with_run(line, stand_in_run(line, (need - 10.0, need + 10.0))).findings[0]
    assert finding.verdict == "tight"
    assert "--runs" not in finding.remedy


def test_no_interval_is_not_checked_and_says_why(line: Line) -> None:
    finding = with_run(line, rate=None, reason="there is one run").findings[0]
    assert finding.verdict == "not checked"
    assert finding.remedy == "no interval: there is one run"


def test_no_run_and_no_demand_are_not_checked(line: Line) -> None:
    assert check_rate(line, None, None, "because").remedy == "because"
    run = cast(Any, stand_in_run(line))
    finding = check_rate(line, run, None)
    assert finding.verdict == "not checked"
    assert "demand" in finding.remedy
    assert finding.value == 800.0


def test_long_enough_run_has_nothing_to_say(line: Line) -> None:
    assert check_run_length(line, cast(Any, stand_in_run(line))) == ()


def test_warm_up_past_half_asks_for_a_longer_run(line: Line) -> None:
    found = [f for f in with_run(line, warm_up_past_half=True).findings if f.code == "run-longer"]
    assert [f.verdict for f in found] == ["not checked"]
    assert "--hours 16" in found[0].remedy
    silent = with_run(line, warm_up_past_half=True, rate=None, reason="one run").findings
    assert not [f for f in silent if f.code == "run-longer"]  # without an interval no cut was judged


@pytest.mark.parametrize(("seen", "asked"), [(10, 0), (9, 1), (0, 1)])
def test_failure_seen_under_ten_times_asks_for_a_longer_run(line: Line, seen: int, asked: int) -> None:
    failures = Table(
        (
            Column("station", None, np.array(["press", "unload"])),
            Column("failure", None, np.array([1, 1])),
            Column("seen", None, np.array([seen, 50])),
        )
    )
    found = [f for f in with_run(line, failures=failures).findings if f.code == "run-longer"]
    assert len(found) == asked
    for finding in found:
        assert finding.verdict == "not checked"
        assert finding.value == seen
        assert "station press, failure 1" in finding.where
        assert finding.place == line.place("stations", "press", "failures", 0)
        assert "--runs" in finding.remedy


def test_a_transfer_slower_than_the_takt_fails() -> None:
    text = pattern_text("two-deck")
    for wanted, verdict in ((1_000_000, "holds"), (9_000_000, "fails")):
        line = read_line(text.replace("good_parts_per_year: 2600000", f"good_parts_per_year: {wanted}"))
        assert line.demand is not None
        takt = find_takt(line.demand)
        findings = check_transfers(line, compile_plan(line, lay_out(line)), takt)
        assert [finding.where for finding in findings] == ["transfer east-lift", "transfer west-lift"]
        assert {finding.verdict for finding in findings} == {verdict}
        cycle_s = transfer_cycle_us(compile_plan(line, lay_out(line)), 0) * 1e-6
        assert findings[0].value == pytest.approx(cycle_s / 0.99, rel=1e-12)  # the step of the two testers flags 1 %


def test_the_cycle_of_a_transfer_is_what_a_queue_in_front_of_it_attains() -> None:
    line = read_line(pattern_text("two-deck"))
    plan = compile_plan(line, lay_out(line))
    cycle_s = transfer_cycle_us(plan, 0) * 1e-6
    stops = {stop.transfer: stop.index for stop in lay_out(line).stops if stop.kind == "aboard"}
    run = run_plan(line, plan, hours=1.0, runs=2)
    boards = run.moves["departure_s"][run.moves["to_stop"] == stops["east-lift"]]
    assert (boards[1:] - boards[:-1]).min() >= cycle_s - 1e-9


def test_a_route_against_the_loop_takes_more_laps_and_the_transfers_time() -> None:
    text = pattern_text("two-deck")
    there, back = (
        read_line(text.replace("[load, press, ", f"[{first}, {second}, "))
        for first, second in (("load", "press"), ("press", "load"))
    )
    plans = [compile_plan(line, lay_out(line)) for line in (there, back)]
    assert [laps_per_part(plan) for plan in plans] == [1, 2]
    assert back.demand is not None
    findings = check_transfers(back, plans[1], find_takt(back.demand))
    assert [finding.code for finding in findings] == ["transfer-cycle", "transfer-cycle", "route-laps"]
    assert findings[0].value == pytest.approx(2 * transfer_cycle_us(plans[1], 0) * 1e-6 / 0.99, rel=1e-12)


def test_a_line_of_which_no_part_is_good_has_no_transfer_cycle() -> None:
    line = read_line(pattern_text("two-deck").replace("rejects: 1 %", "rejects: 100 %"))
    assert line.demand is not None
    assert check_transfers(line, compile_plan(line, lay_out(line)), find_takt(line.demand)) == ()


def test_a_line_that_stands_still_fails(line: Line) -> None:
    run = stand_in_run(line)
    assert check_standstill(line, cast(Any, run)) == ()
    (finding,) = check_standstill(line, cast(Any, replace(run, stalled_runs=3)))
    assert (finding.code, finding.verdict, finding.value) == ("standstill", "fails", 3.0)
    assert "linewright prove LINE" in finding.remedy


def test_a_line_that_stands_from_the_first_part_on_fails_too() -> None:
    """Two carriers that face each other on a lane to and fro: no good part is ever made."""
    to_and_fro = load_line(Path(__file__).parents[3] / "examples" / "locks" / "to-and-fro.yaml")
    plan = compile_plan(to_and_fro, lay_out(to_and_fro))
    run = run_plan(to_and_fro, plan, hours=2.0, runs=2)
    assert not run.good_per_run.any()
    (finding,) = check_standstill(to_and_fro, run)
    assert (finding.verdict, finding.value) == ("fails", 2.0)
    assert run_plan(to_and_fro, plan, hours=0.02, runs=2).stalled_runs == 0  # too short to tell


def test_work_alone_is_held_against_the_takt(line: Line) -> None:
    assert line.demand is not None
    takt = find_takt(line.demand)
    (held,) = check_step_times(line, takt)
    assert (held.code, held.verdict) == ("step-time", "holds")
    longest = max(sum(line.station(name).time.mean_s for name in s.stations) / len(s.stations) ** 2 for s in line.route)
    assert held.value == pytest.approx(longest)
    slow = replace(takt, takt_s=0.5 * longest)
    told = check_step_times(line, slow)
    assert {one.verdict for one in told} == {"fails"}
    assert max(one.value or 0.0 for one in told) == pytest.approx(longest)
    assert check_step_times(line, None) == ()


def test_work_of_variants_is_their_mean_and_nests_share_what_is_done_at_once() -> None:
    text = """\
linewright: 1
name: Two variants, invented
conveyor: demo-light
demand: {good_parts_per_year: 1000, shifts_per_day: 1, paid_time_per_shift: 1 h, days_per_year: 1}
fixture: {nests: 2}
variants: {a: {share: 75 %, times: {press: 4 s}}, b: {share: 25 %, skips: [oven]}}
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -420 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 2
stations:
  press: {lane: upper, at: 700 mm, time: 2 s}
  oven: {lane: upper, at: 1400 mm, time: 12 s, each: carrier}
  unload: {lane: lower, at: 700 mm, time: 1 s}
route: [press, oven, unload]
"""
    line = read_line(text)
    assert line.demand is not None
    takt = replace(find_takt(line.demand), takt_s=0.1)
    works = {one.where: one.value for one in check_step_times(line, takt)}
    assert works["step press, work alone"] == pytest.approx(0.75 * 4.0 + 0.25 * 2.0)
    assert works["step oven, work alone"] == pytest.approx(0.75 * 12.0 / 2)
    assert works["step unload, work alone"] == pytest.approx(1.0)
