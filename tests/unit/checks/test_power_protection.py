"""Rows on fuses, circuit-breakers and braking resistors, and what is told where a figure of the sheet is missing."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from linewright.checks.power import check_power
from linewright.checks.power.cable_rows import with_areas
from linewright.checks.power.feeders import find_powers
from linewright.checks.power.resistor import proposed_resistor
from linewright.layout import Layout
from linewright.line.electrics import BrakingResistor
from linewright.line.model import Line
from unit.checks.test_power_check import by_code, duty_of, feeders_with, number_of, read, sheet_with


@pytest.fixture(scope="module")
def demo() -> tuple[Line, Layout]:
    return read("demo/line.yaml")


@pytest.fixture(scope="module")
def failing() -> tuple[Line, Layout]:
    return read("limits/power.yaml")


def upper_with(line: Line, **values: Any) -> Line:
    return line.model_copy(update={"feeders": (line.feeders[0].model_copy(update=values), *line.feeders[1:])})


def cable_with(line: Line, rating_A: float) -> Line:
    cable = line.feeders[0].cable
    assert cable is not None
    return upper_with(line, cable=cable.model_copy(update={"rating_A": rating_A}))


def test_a_fuse_as_large_as_its_cable_fails_where_a_breaker_holds(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    fuse = by_code(check_power(upper_with(cable_with(line, 32.0), fuse_A=32.0), layout), "fuse-cable", "upper")
    assert (fuse.verdict, fuse.limit) == ("fails", 32.0)
    assert fuse.value == pytest.approx(32.0 * 1.6 / 1.45)
    assert "51.2 A of 46.4 A allowed" in fuse.where
    assert fuse.remedy.startswith("write fuse: 29 A, or the next smaller one")
    breaker = upper_with(cable_with(line, 32.0), fuse_A=None, breaker_A=32.0)
    row = by_code(check_power(breaker, layout), "fuse-cable", "upper")
    assert (row.verdict, row.value) == ("tight", 32.0)
    assert row.remedy.startswith("write breaker: 28.7 A, or less")
    larger = upper_with(cable_with(line, 32.0), fuse_A=None, breaker_A=40.0)
    rows = check_power(larger, layout, duty_of(line, layout))
    row = by_code(rows, "fuse-cable", "upper")
    assert (row.verdict, row.remedy.split(",")[0]) == ("fails", "write breaker: 32 A")
    assert "breaker" in by_code(rows, "design-current", "upper").where
    assert "58 A" in by_code(rows, "fuse-supply", "upper").where  # 1.45 · 40 A
    assert not [f for f in rows.findings if f.verdict == "not checked"]


@pytest.mark.parametrize("rating_A", [3.0, 5.5, 6.0, 17.0, 17.7, 30.0])
def test_the_fuse_that_a_remedy_names_holds_and_a_larger_one_does_not(
    demo: tuple[Line, Layout], rating_A: float
) -> None:
    line, layout = demo
    cable = cable_with(line, rating_A)
    told_A = number_of(by_code(check_power(upper_with(cable, fuse_A=60.0), layout), "fuse-cable", "upper").remedy)
    for fuse_A, verdict in ((told_A, "tight"), (told_A * 1.12, "fails")):
        row = by_code(check_power(upper_with(cable, fuse_A=fuse_A), layout), "fuse-cable", "upper")
        assert row.verdict == verdict


def test_no_larger_fuse_is_named_for_one_that_is_too_large(demo: tuple[Line, Layout]) -> None:
    """15.6 A needs a cable of 20.4 A, 16 A one of 17.7 A: a larger fuse would do, but nobody is sent there."""
    line, layout = demo
    cable = cable_with(line, 19.5)
    row = by_code(check_power(upper_with(cable, fuse_A=15.6), layout), "fuse-cable", "upper")
    assert (row.verdict, number_of(row.remedy)) == ("fails", 14.8)
    assert by_code(check_power(upper_with(cable, fuse_A=14.8), layout), "fuse-cable", "upper").verdict == "tight"


def test_how_many_times_its_current_a_fuse_carries_in_a_restart_is_told(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    restart_A = by_code(check_power(line, layout), "all-restart", "upper").value
    assert restart_A is not None
    for key, times, words in (
        ("fuse_A", 0.9, "no overload of it"),
        ("fuse_A", 8.0, "8 times its rated current while all carriers restart: only its maker's curve"),
        ("breaker_A", 2.9, "no circuit-breaker trips at once below 3 times; only its maker's curve"),
        ("breaker_A", 3.1, "one of curve B may trip at once"),
        ("breaker_A", 12.0, "one of curve B, C, D may trip at once"),
    ):
        changed = upper_with(line, **{"fuse_A": None, key: restart_A / times})
        row = by_code(check_power(changed, layout), "restart-protection", "upper")
        assert words in row.where
        assert (row.verdict, row.value, row.limit, row.margin) == ("holds", restart_A, None, None)


@pytest.mark.parametrize("part", ["motor", "supply"])
def test_a_fuse_is_held_against_its_cable_without_figures_of_the_sheet(demo: tuple[Line, Layout], part: str) -> None:
    line, layout = demo
    bare = sheet_with(upper_with(cable_with(line, 20.0), fuse_A=60.0), part)
    result = check_power(bare, layout)
    assert by_code(result, "fuse-cable", "upper").verdict == "fails"
    assert len([f for f in result.findings if f.code == "fuse-supply"]) == (2 if part == "motor" else 0)
    assert result.highest_V is None
    thin = line.model_copy(update={"feeders": tuple(with_areas(one, None, 4.0) for one in line.feeders)})
    assert by_code(check_power(sheet_with(thin, part), layout), "link-area").verdict == "not checked"
    unstated = check_power(sheet_with(feeders_with(line, cable=None, fuse_A=None), part), layout)
    assert by_code(unstated, "far-end-voltage").verdict == "not checked"
    assert by_code(unstated, "fuse-cable").remedy.startswith("state the key fuse (class gG) or the key breaker")


def test_the_highest_voltage_is_that_of_the_worst_feeder(failing: tuple[Line, Layout]) -> None:
    line, layout = failing
    result = check_power(line, layout)
    assert result.highest_V == by_code(result, "braking-voltage", "lower").value
    assert result.highest_V == by_code(result, "extra-low-voltage").value
    assert check_power(line.model_copy(update={"feeders": ()}), layout).highest_V is None


def test_the_voltage_without_a_resistor_is_told(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    result = check_power(line, layout)
    bare = check_power(feeders_with(line, braking_resistor=None), layout)
    assert bare.without_resistor_V is None
    assert bare.highest_V is not None
    assert result.highest_V is not None
    assert result.without_resistor_V == pytest.approx(bare.highest_V, rel=1e-12)
    assert bare.highest_V > result.highest_V
    told = f"without its braking resistor, a single fault, a feeder comes to {bare.highest_V:.4g} V"
    assert told in by_code(result, "extra-low-voltage").where
    assert "without its" not in by_code(bare, "extra-low-voltage").where


def test_without_coasting_no_drag_helps_to_brake(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    plain = sheet_with(line, "coasting")
    kinetic_J = 24 * 0.5 * 0.705 * 1.85**2
    result = check_power(plain, layout)
    assert next(iter(result.feeders))["braking_J"] == pytest.approx(kinetic_J)
    assert kinetic_J > next(iter(check_power(line, layout).feeders))["braking_J"]
    assert by_code(result, "braking-voltage", "upper").where.endswith("; without drag: coasting is not stated")
    assert "without drag" not in by_code(check_power(line, layout), "braking-voltage", "upper").where


def test_the_resistor_that_is_proposed_holds_in_every_row(failing: tuple[Line, Layout]) -> None:
    line, layout = failing
    duty = duty_of(line, layout)
    assert line.feeders[1].braking_resistor is None
    result = check_power(line, layout, duty)
    for code in ("braking-voltage", "extra-low-voltage"):
        text = by_code(result, code, "lower").remedy
        found = re.search(r"\{resistance: (\S+) ohm, power: (\S+) W, on: (\S+) V\}", text)
        assert found is not None
        ohm, watts, volts = (float(one) for one in found.groups())
        resistor = BrakingResistor(resistance_ohm=ohm, power_W=watts, on_V=volts)
        feeders = (line.feeders[0], line.feeders[1].model_copy(update={"braking_resistor": resistor}))
        mended = check_power(line.model_copy(update={"feeders": feeders}), layout, duty)
        for row in mended.findings:
            if row.code in ("resistor-on", "resistor-resistance", "resistor-power") and "lower" in row.where:
                assert row.verdict == "holds", row
        assert by_code(mended, "braking-voltage", "lower").verdict != "fails"
        assert by_code(mended, "extra-low-voltage").verdict != "fails"
    assert "pulses of" in text


def test_a_proposed_resistor_by_hand(failing: tuple[Line, Layout]) -> None:
    """On halfway in ratio, a tenth of resistance left; power of a stop a minute or of the run, whichever is more."""
    line, layout = failing
    result = check_power(line, layout, duty_of(line, layout))
    assert result.electrics is not None
    (power,) = [
        one
        for one in find_powers(line, layout, result.electrics, duty_of(line, layout))
        if one.feeder.braking_resistor is None
    ]
    found = proposed_resistor(result.electrics, power, 55.0)
    assert found is not None
    assert found.on_V == pytest.approx(math.sqrt(42.84 * 55.0), rel=2e-3)
    assert found.resistance_ohm == pytest.approx(0.9 * found.on_V**2 / power.back_peak_W, rel=1e-2)
    held_J = 0.5 * result.electrics.capacitance_F * (found.on_V**2 - 42.84**2)
    assert found.pulse_J == pytest.approx(power.back_J - held_J)
    assert found.power_W == pytest.approx(found.pulse_J / 60.0 / 0.9, rel=1e-2)
    assert power.run is not None
    busy = replace(power, run=replace(power.run, need_J=np.tile([-2.0, 0.0], 100), span_s=2.0))
    often = proposed_resistor(result.electrics, busy, 55.0)
    assert often is not None
    assert often.power_W == pytest.approx((200.0 - held_J) / 2.0 / 0.9, rel=1e-2)
    assert proposed_resistor(result.electrics, power, 42.84) is None


def test_resistor_rows_name_one_figure(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    resistor = line.feeders[0].braking_resistor
    assert resistor is not None
    large = upper_with(line, braking_resistor=resistor.model_copy(update={"resistance_ohm": 20.0}))
    rows = check_power(large, layout)
    told = [by_code(rows, code, "upper") for code in ("braking-voltage", "resistor-resistance")]
    assert [row.verdict for row in told] == ["fails", "fails"]
    assert {number_of(row.remedy) for row in told} == {9.37}


def test_a_resistor_that_conducts_for_ever_counts_everywhere(demo: tuple[Line, Layout]) -> None:
    """On at 42.1 V, the supply up to 42.84 V: 42.84² / 6.8 = 270 W and 6.3 A all day."""
    line, layout = demo
    duty, high_V = duty_of(line, layout), 42.0 * 1.02
    resistor = line.feeders[0].braking_resistor
    assert resistor is not None
    always = upper_with(line, braking_resistor=resistor.model_copy(update={"on_V": 42.1}))
    for run in (None, duty):
        row = by_code(check_power(always, layout, run), "resistor-power", "upper")
        assert (row.verdict, row.remedy.split(" first")[0]) == ("fails", "see the row resistor-on")
        assert row.value is not None
        assert row.value >= high_V**2 / 6.8
    edge = upper_with(line, braking_resistor=resistor.model_copy(update={"on_V": high_V * (1.0 + 1e-12)}))
    before, after = check_power(edge, layout, duty), check_power(always, layout, duty)
    for code in ("feeder-peak", "all-restart"):
        more = by_code(after, code, "upper").value - by_code(before, code, "upper").value  # type: ignore[operator]
        assert more == pytest.approx(high_V / 6.8)
    assert after.feeders["mean_W"][0] - before.feeders["mean_W"][0] == pytest.approx(high_V**2 / 6.8)


def test_a_cable_without_links_resists_too(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    whole, part, none = (
        by_code(check_power(one, layout), "all-restart", "upper").value
        for one in (line, upper_with(line, link=None), upper_with(line, cable=None))
    )
    assert whole is not None
    assert part is not None
    assert none is not None
    assert none < part < whole


def test_one_carrier_is_one(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    rows = check_power(line.model_copy(update={"carriers": 1}), layout)
    assert "1 carrier starts on 5 sections" in by_code(rows, "all-restart", "upper").where
    assert "1 carrier brakes from full speed and gives back" in by_code(rows, "braking-voltage", "upper").where


def test_nine_tenths_of_a_limit_hold_whatever_the_floats_say(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    assert line.conveyor.supply is not None
    assert line.cabinet is not None
    tight = 0
    for width_mm in range(500, 530):
        supply = line.conveyor.supply.model_copy(update={"width_m": 0.45 * width_mm / 1e3})
        one = line.model_copy(
            update={
                "cabinet": line.cabinet.model_copy(update={"width_m": width_mm / 1e3}),
                "conveyor": line.conveyor.model_copy(update={"supply": supply}),
            }
        )
        tight += by_code(check_power(one, layout), "cabinet-width").verdict == "tight"
    assert tight == 0
