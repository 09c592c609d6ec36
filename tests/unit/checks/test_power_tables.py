"""The tables behind the rows on power: trace of all feeders, sections with voltage and current, all-brake figures."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.checks.power import capacitor_voltage_V, check_power
from linewright.checks.power.feeders import find_powers
from linewright.layout import Layout
from linewright.line.electrics import Feeder
from linewright.line.model import Line
from unit.checks.test_power_check import by_code, duty_of, feeders_with, read


@pytest.fixture(scope="module")
def demo() -> tuple[Line, Layout]:
    return read("demo/line.yaml")


@pytest.fixture(scope="module")
def failing() -> tuple[Line, Layout]:
    return read("limits/power.yaml")


def test_the_trace_holds_all_feeders_about_the_worst_bin_of_all(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    duty = duty_of(line, layout)
    result = check_power(line, layout, duty)
    trace, peaks = result.trace, dict(zip(result.feeders["feeder"], result.feeders["peak_A"], strict=True))
    worst = max(peaks, key=lambda name: peaks[name])
    assert trace.names == ("time_s", "feeder", "current_A")
    assert list(dict.fromkeys(trace["feeder"].tolist())) == [worst, *(name for name in peaks if name != worst)]
    of = {name: trace["feeder"] == name for name in peaks}
    assert [int(rows.sum()) for rows in of.values()] == [2000, 2000]
    times = [trace["time_s"][rows] for rows in of.values()]
    assert np.array_equal(*times)
    assert np.diff(times[0]) == pytest.approx(0.01)
    assert trace["current_A"][of[worst]].max() == peaks[worst]
    assert result.electrics is not None
    first = round((times[0][0] - duty.from_s) / 0.01)
    for power in find_powers(line, layout, result.electrics, duty):
        assert power.run is not None
        stretch = power.run.current_A[first : first + 2000]
        assert np.array_equal(trace["current_A"][of[power.feeder.name]], stretch)
    assert len(check_power(line, layout).trace) == 0


def test_a_shorter_run_is_held_whole(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    trace = check_power(line, layout, duty_of(line, layout, span_s=12.0, moves=80)).trace
    assert len(trace) == 2 * 1200
    assert trace["time_s"][0] == 100.0


@pytest.mark.parametrize("enters", ["west", "east"])
def test_sections_lie_side_by_side_from_the_head_on(demo: tuple[Line, Layout], enters: str) -> None:
    line, layout = demo
    line = feeders_with(line, enters=enters)
    result = check_power(line, layout)
    for feeder in line.feeders:
        rows = [row for row in result.sections if row["feeder"] == feeder.name]
        lane = layout.lane(feeder.lane)
        assert {row["lane"] for row in rows} == {feeder.lane}
        numbers = [row["number"] for row in rows]
        from_start = enters == lane.from_
        assert numbers == (list(range(1, len(rows) + 1)) if from_start else list(range(len(rows), 0, -1)))
        along = sorted(rows, key=lambda row: row["number"])
        borders = [0.0, *lane.joints_travel_m, lane.length_m]
        assert [row["from_m"] for row in along] == borders[:-1]
        assert [row["to_m"] for row in along] == borders[1:]
        assert [row["head_m"] for row in along] == (borders[:-1] if from_start else borders[1:])


def test_voltages_and_currents_are_those_of_the_schedule_and_the_rows(failing: tuple[Line, Layout]) -> None:
    line, layout = failing
    result = check_power(line, layout)
    assert result.electrics is not None
    low_V = result.electrics.low_V
    for feeder in line.feeders:
        sections = [row for row in result.sections if row["feeder"] == feeder.name]
        runs = [row for row in result.schedule if row["feeder"] == feeder.name]
        assert [row["current_A"] for row in sections] == [row["current_A"] for row in runs]
        lost = np.cumsum([row["drop_V"] for row in runs])
        assert low_V - np.array([row["voltage_V"] for row in sections]) == pytest.approx(lost)
        row = by_code(result, "far-end-voltage", f"feeder {feeder.name}:")
        assert row.value == pytest.approx(low_V - sections[-1]["voltage_V"])
        assert {one["case"] for one in sections} == {"all carriers restart"}


def test_sections_stand_even_where_their_voltage_is_not_known(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    bare = check_power(feeders_with(line, cable=None, link=None), layout).sections
    assert len(bare) == len(check_power(line, layout).sections) == 10
    assert np.isnan(bare["voltage_V"]).all()
    assert np.isnan(bare["current_A"]).all()
    assert set(bare["case"].tolist()) == {""}


def test_a_power_that_no_cable_carries_leaves_no_voltage(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    thin = feeders_with(line, cable=line.feeders[0].cable.model_copy(update={"length_m": 900.0}))  # type: ignore[union-attr]
    sections = check_power(thin, layout).sections
    assert set(sections["voltage_V"].tolist()) == {0.0}
    assert np.isinf(sections["current_A"]).all()


def test_what_braking_comes_to_without_the_resistor(failing: tuple[Line, Layout]) -> None:
    """The upper feeder has a braking resistor, the lower has none."""
    line, layout = failing
    result = check_power(line, layout)
    assert result.electrics is not None
    high_V, capacitance_F = result.electrics.high_V, result.electrics.capacitance_F
    for feeder, row in zip(line.feeders, result.feeders, strict=True):
        alone_V = capacitor_voltage_V(high_V, row["braking_J"], capacitance_F)
        if feeder.braking_resistor is None:
            assert row["resistor_J"] == 0.0
            assert np.isnan(row["unaided_V"])
            assert row["braking_V"] == pytest.approx(alone_V)
        else:
            on_V = feeder.braking_resistor.on_V
            held_J = 0.5 * capacitance_F * (on_V**2 - high_V**2)
            assert row["resistor_J"] == pytest.approx(row["braking_J"] - held_J)
            assert row["unaided_V"] == pytest.approx(alone_V)
            assert row["unaided_V"] > row["braking_V"]


def test_a_feeder_of_no_whole_section_has_no_row(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    nothing = Feeder(name="n", lane="upper", from_m=0.0, to_m=0.1)
    assert len(check_power(line.model_copy(update={"feeders": (nothing,)}), layout).sections) == 0
