"""The duty of a run: the same moves as the run's own log, counted right, each over its own way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from linewright.flow.duty import Duty, find_duty
from linewright.flow.run import Run, run_plan
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan

EXAMPLES = Path(__file__).parents[3] / "examples"


def dutied(name: str, hours: float = 0.5) -> tuple[Line, Layout, Run, Duty]:
    line = load_line(EXAMPLES / name)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours, 2, 1)
    return line, layout, run, find_duty(line, layout, plan, run)


@pytest.fixture(scope="module")
def demo() -> tuple[Line, Layout, Run, Duty]:
    return dutied("demo/line.yaml")


def test_its_moves_are_those_of_the_runs_own_log(demo: tuple[Line, Layout, Run, Duty]) -> None:
    _, _, run, duty = demo
    logged = {
        (int(row["carrier"]), round(row["departure_s"] * 1e6)): (row["from_stop"], row["to_stop"], row["loaded"])
        for row in run.moves.rows()
        if duty.from_s <= row["departure_s"] < duty.to_s
    }
    until_us = run.trace_to_s * 1e6
    mine = {
        (int(c), int(t)): (duty.legs[k].start, duty.legs[k].end, duty.legs[k].loaded)
        for c, t, k in zip(duty.carrier, duty.departure_us, duty.leg, strict=True)
        if t < until_us
    }
    assert len(mine) > 1000
    assert mine == logged


@pytest.mark.parametrize("name", ["demo/line.yaml", "ways/ring.yaml", "ways/branch.yaml", "ways/to-and-fro.yaml"])
def test_each_leg_is_driven_in_the_time_that_the_run_took(name: str) -> None:
    _, layout, run, duty = dutied(name)
    legs = {(leg.start, leg.end, leg.loaded): leg for leg in duty.legs}
    assert legs
    for row in run.moves.rows():
        leg = legs.get((row["from_stop"], row["to_stop"], row["loaded"]))
        if leg is None:  # made before the warm-up had ended alone
            continue
        assert row["arrival_s"] - row["departure_s"] == pytest.approx(leg.move.duration_s, abs=2e-6)
        assert abs(leg.end_m - leg.start_m) == pytest.approx(leg.move.distance_m, abs=1e-9)
        here = layout.stops[leg.start]
        if here.kind != "aboard":
            assert layout.lanes[leg.lane].name == here.lane
            assert leg.start_m == pytest.approx(here.travel_m)


def test_counts_and_travel_add_up(demo: tuple[Line, Layout, Run, Duty]) -> None:
    line, _, _, duty = demo
    assert np.all(np.diff(duty.departure_us) >= 0)
    for bin_s in (60.0, 7.0, 1e6):
        counts = duty.counts(bin_s)
        assert counts.sum() == len(duty.leg)
        assert np.array_equal(counts.sum(axis=1), np.bincount(duty.leg, minlength=len(duty.legs)))
    first_minute = duty.counts(60.0)[:, 0].sum()
    assert first_minute == np.sum(duty.departure_us < duty.from_s * 1e6 + 60e6)
    travel_m = duty.travel_m()
    assert len(travel_m) == line.carriers
    assert travel_m.sum() == pytest.approx(sum(duty.legs[k].move.distance_m for k in duty.leg))
    with pytest.raises(ValueError, match="bin_s is 0"):
        duty.counts(0.0)


def test_carriers_that_are_put_in_travel_too() -> None:
    line, _, _, duty = dutied("ways/carrier-changes.yaml", hours=4.0)
    assert len(duty.travel_m()) >= line.carriers
    assert duty.travel_m().sum() > 0
