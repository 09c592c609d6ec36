"""Gains are paired differences of runs that anybody can make again, and the words about them are right at the edges."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from agree.random_lines import random_line
from linewright.flow.bins import RunLength, run_length
from linewright.flow.replications import replicate
from linewright.flow.run import Run, run_plan
from linewright.flow.statistics import Interval, paired_comparison
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.planning import gains as gains_module
from linewright.planning.changes import Change, find_changes
from linewright.planning.counts import difference, run_plans
from linewright.planning.gains import NOTHING, Gains, find_gains
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan
from unit.planning.test_changes import IN_LINE

HOURS: Final = 0.6
RUNS: Final = 3
SEED: Final = 4
LINES: Final = (6, 12, 31, 34, 36, 39)


@functools.cache
def planned(number: int) -> tuple[Line, Layout, TrafficPlan]:
    """A random line; 0 is that of two testers in line."""
    line = read_line(IN_LINE) if number == 0 else random_line(number).read()
    layout = lay_out(line)
    return line, layout, compile_plan(line, layout)


def run_of(line: Line, plan: TrafficPlan, hours: float = HOURS, runs: int = RUNS) -> Run:
    return run_plan(line, plan, hours, runs, SEED, workers=1)


@functools.cache
def tried(number: int) -> tuple[Run, Gains]:
    line, layout, plan = planned(number)
    run = run_of(line, plan)
    found = find_gains(line, layout, plan, run, workers=1)
    assert found is not None
    return run, found


@functools.cache
def changed_plan(change: Change, plan: TrafficPlan) -> TrafficPlan:
    """The plan of the changed line, compiled from nothing; its steps keep their names and so their luck."""
    return replace(compile_plan(change.line, lay_out(change.line)), step_names=plan.step_names)


def bins_of(plan: TrafficPlan, length: RunLength) -> NDArray[np.int64]:
    """Good parts in each bin of each run, from runs of one plan alone."""
    runs = replicate(plan, length.seed, length.runs, length.horizon_us, length.bin_us, workers=1)
    return np.array([run.totals.good for run in runs])


def rates_of(bins: NDArray[np.int64], length: RunLength, cut_bins: int) -> NDArray[np.float64]:
    """Good parts an hour of each run after a cut."""
    hours = (length.horizon_us - cut_bins * length.bin_us) / 3600e6
    return np.asarray(bins[:, cut_bins:].sum(axis=1) / hours)


def common_cut(found: Gains, bins: NDArray[np.int64], length: RunLength) -> int:
    """The cut that all trials share: the one with which the line as it is has the base's rate."""
    means = [float(rates_of(bins, length, cut).mean()) for cut in range(length.horizon_us // length.bin_us)]
    return means.index(pytest.approx(found.base.mean, rel=1e-12))


def test_gains_are_paired_differences_of_runs_made_again() -> None:
    """Every one exactly, with runs of each plan alone and the cut that all trials share."""
    compared = 0
    for number in LINES:
        found = tried(number)[1]
        line, _, plan = planned(number)
        assert (found.runs, found.hours) == (RUNS, HOURS)
        assert len(found.gains) >= 5
        length = run_length(line, HOURS, RUNS, SEED)
        bins = bins_of(plan, length)
        cut_bins = common_cut(found, bins, length)
        as_it_is = rates_of(bins, length, cut_bins)
        for gain in found.gains:
            changed = rates_of(bins_of(changed_plan(gain.change, plan), length), length, cut_bins)
            again = paired_comparison(as_it_is, changed)
            assert (again.mean, again.low, again.high) == pytest.approx(
                (gain.per_h.mean, gain.per_h.low, gain.per_h.high), rel=1e-9, abs=1e-9
            ), gain.change.words
            compared += 1
    assert compared >= 60


def test_gains_are_differences_of_public_runs_where_the_warm_up_is_the_same() -> None:
    """`run_plan` cuts each run's own warm-up, the trials one for all: only where both are one can they be compared."""
    compared = 0
    for number in LINES:
        base, found = tried(number)
        line, _, plan = planned(number)
        length = run_length(line, HOURS, RUNS, SEED)
        cut_us = common_cut(found, bins_of(plan, length), length) * length.bin_us
        if round(base.warm_up_s * 1e6) != cut_us:
            continue
        for gain in found.gains:
            again = run_of(gain.change.line, changed_plan(gain.change, plan))
            if round(again.warm_up_s * 1e6) == cut_us:
                per_h = paired_comparison(base.rates_per_h, again.rates_per_h)
                assert (per_h.mean, per_h.low) == pytest.approx((gain.per_h.mean, gain.per_h.low), rel=1e-9, abs=1e-9)
                compared += 1
    assert compared >= 8


def test_gains_are_in_order_and_the_table_says_the_same() -> None:
    _, found = tried(6)
    rows = found.table().rows()
    assert [row["gain_per_h"] for row in rows] == sorted((row["gain_per_h"] for row in rows), reverse=True)
    for row, gain in zip(rows, found.gains, strict=True):
        assert row == {
            "change": gain.change.words,
            "place": " and ".join(gain.change.places) or "whole line",
            "gain_per_h": gain.per_h.mean,
            "low": gain.per_h.low,
            "high": gain.per_h.high,
            "confirmed": True,  # the trial is as long as the run itself
            "effect": gain.effect,
        }
    assert "whole line" in {row["place"] for row in rows}


def test_the_greatest_gains_are_confirmed_by_runs_as_many_as_the_rate_rests_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Trials of two runs each; the three that gain most again, by three, as if all had been run so often."""
    line, _, plan = planned(6)
    monkeypatch.setattr(gains_module, "MOST_RUNS", 2)
    base, found = tried.__wrapped__(6)
    assert (found.runs, found.full_runs, found.full_hours) == (2, RUNS, HOURS)
    confirmed = [gain for gain in found.gains if gain.confirmed]
    assert len(confirmed) == 3
    run = run_of(line, plan)
    length = run_length(line, HOURS, RUNS, SEED)
    cut_bins = round(run.warm_up_s * 1e6 / length.bin_us)
    plans = [plan, *(changed_plan(gain.change, plan) for gain in confirmed)]
    first, *others = run_plans(plans, length, workers=1, cut_bins=cut_bins)
    assert first.rates_per_h.tolist() == run.rates_per_h.tolist()
    for gain, other in zip(confirmed, others, strict=True):
        assert gain.per_h == difference(first, other)
    trial = {gain.change.words: gain.per_h.mean for gain in found.gains if not gain.confirmed}
    assert base.rate is not None
    assert len(trial) == len(found.gains) - 3


def test_gains_do_not_depend_on_workers() -> None:
    line, layout, plan = planned(12)
    run = run_of(line, plan)
    one, many = (find_gains(line, layout, plan, run, workers=workers) for workers in (1, 3))
    assert one is not None
    assert many is not None
    assert one.table().rows() == many.table().rows()


def test_a_station_more_meets_the_same_works() -> None:
    """Its step bears another name, and luck goes by that: the plan that is tried keeps the old one."""
    line, layout, plan = planned(0)
    found = find_gains(line, layout, plan, run_of(line, plan), workers=1)
    assert found is not None
    (change,) = (gain.change for gain in found.gains if gain.change.words.startswith("a station more"))
    assert [step.name for step in change.line.route] == ["load", "test-1-2/test-1/test-2", "unload"]
    planned_again = gains_module.plan_change(change, plan)
    assert isinstance(planned_again, TrafficPlan)
    assert planned_again.step_names == plan.step_names == ("load", "test-1/test-2", "unload")
    assert planned_again.station_names == ("load", "test-1-2", "test-1", "test-2", "unload")


def test_one_carrier_too_many_is_told() -> None:
    line, layout, _ = planned(0)
    most = 1 + sum(stop.kind in ("waiting", "dock") for stop in layout.stops)
    full = line.model_copy(update={"carriers": most})
    layout = lay_out(full)
    plan = compile_plan(full, layout)
    found = find_gains(full, layout, plan, run_of(full, plan), workers=1)
    assert found is not None
    ((words, why),) = found.not_tried
    assert words == "one carrier more"
    assert f"{most + 1} carriers; at most {most}" in why
    assert "one carrier fewer" in {gain.change.words for gain in found.gains}


def test_what_cannot_be_built_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A track on which two places are too near, more carriers than a track takes, and one change that can be tried."""
    line, layout, plan = planned(0)

    def moved(at_m: float) -> Line:
        stations = tuple(
            one.model_copy(update={"at_m": at_m}) if one.name == "test-2" else one for one in line.stations
        )
        return line.model_copy(update={"stations": stations})

    crowd = line.model_copy(update={"carriers": 500})
    changes = (
        Change("too near", "test-2", moved(1.25), False),
        Change("a crowd", None, crowd, False),
        Change("farther", "test-2", moved(1.45), False),
    )
    monkeypatch.setattr(gains_module, "find_changes", lambda *_: changes)
    found = find_gains(line, layout, plan, run_of(line, plan), workers=1)
    assert found is not None
    assert [gain.change.words for gain in found.gains] == ["farther"]
    reasons = dict(found.not_tried)
    assert list(reasons) == ["too near", "a crowd"]
    assert "test-2" in reasons["too near"]
    assert "500 carriers; at most" in reasons["a crowd"]


def test_nothing_is_tried_without_a_rate_or_with_one_run() -> None:
    line, layout, plan = planned(12)
    one = run_of(line, plan, runs=1)
    assert find_gains(line, layout, plan, one) is None
    short = run_of(line, plan, hours=0.01)
    assert short.rate is None
    assert find_gains(line, layout, plan, short) is None


RATE: Final = 1000.0
EDGE: Final = NOTHING * RATE


@pytest.mark.parametrize(
    ("low", "high", "effect"),
    [
        (0.001, 5.0, "gains"),
        (0.0, 5.0, "cannot be told"),
        (-5.0, -0.001, "loses"),
        (-5.0, 0.0, "cannot be told"),
        (-5.0, 5.0, "cannot be told"),
        (0.0, 0.0, "does nothing"),
        (-0.999 * EDGE, 0.999 * EDGE, "does nothing"),
        (0.1, 0.999 * EDGE, "does nothing"),
        (0.1, EDGE, "gains"),
        (-EDGE, -0.1, "loses"),
        (-EDGE, 0.0, "cannot be told"),
        (-0.1, EDGE, "cannot be told"),
    ],
)
def test_words_at_the_edges(low: float, high: float, effect: str) -> None:
    line = planned(12)[0]
    per_h = Interval(0.5 * (low + high), low, high, 0.95)
    assert gains_module._gain(Change("any", None, line, True), per_h, False, RATE).effect == effect


@pytest.mark.long
def test_the_demo_line_s_figures_on_the_page() -> None:
    """docs/causes.md: what loses gains once no carrier can wait between the testers; 40 runs of 8 h."""
    root = Path(__file__).parents[3]
    page = " ".join((root / "docs" / "causes.md").read_text("utf-8").split())
    line = load_line(root / "examples" / "demo" / "line.yaml")
    length = run_length(line, 8.0, 40, 1)
    words = ("work at rotor 0.1 s", "prepare at rotor", "repairs at label")
    rates, gained = [], []
    for _ in range(2):
        layout = lay_out(line)
        plan = compile_plan(line, layout)
        changes = find_changes(line, layout, run_plan(line, plan))
        chosen = [next(change for change in changes if change.words.startswith(begin)) for begin in words]
        base, *others = run_plans([plan, *(changed_plan(change, plan) for change in chosen)], length)
        assert base.rate is not None
        rates.append(base.rate.mean)
        gained.append([difference(base, other) for other in others])
        line = next((change.line for change in changes if change.words.startswith("test-2 138 mm")), line)
    assert [f"{rate:.1f}" for rate in rates] == ["1610.3", "1668.2"]
    assert all(per_h.high < 0.0 for per_h in gained[0])
    assert all(per_h.low > 0.0 for per_h in gained[1])
    rotor, _, label = gained[0]
    assert f"(−{-rotor.mean:.1f} good parts an hour, 95 % interval −{-rotor.low:.1f} to −{-rotor.high:.1f}" in page
    assert f"lose 0.17 % (−{-label.low:.1f} to −{-label.high:.1f})" in page
    first, second, third = gained[1]
    assert f"+{first.mean:.1f} good parts an hour ({first.low:.1f} to {first.high:.1f})" in page
    assert f"overlapped +{second.mean:.1f}, repairs at `label` halved +{third.mean:.1f}" in page
