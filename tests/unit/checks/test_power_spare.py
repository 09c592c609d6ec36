"""What rows on power name where they are tight, at the ends of zones, and where a supply is out of the ordinary."""

from __future__ import annotations

import re

import pytest

from linewright.checks.power import check_power
from linewright.layout import Layout
from linewright.line.electrics import MotorZone
from linewright.line.model import Line
from unit.checks.test_power_check import by_code, duty_of, feeders_with, number_of, read, sheet_with


@pytest.fixture(scope="module")
def demo() -> tuple[Line, Layout]:
    return read("demo/line.yaml")


def test_the_end_of_a_zone_is_rounded_away_from_the_body_and_stays_on_the_lane(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    zone = line.motor_zones[0]
    (station,) = [one for one in line.stations if one.motor_zone == zone.name]
    for at_m, units, told in ((0.46013, "mm", "write from: 418 mm"), (0.46013, "inch", "write from: 16.4 in")):
        moved = station.model_copy(update={"at_m": at_m})
        others = tuple(moved if one is station else one for one in line.stations)
        short = zone.model_copy(update={"from_m": 0.43, "to_m": 0.9})
        one = line.model_copy(update={"motor_zones": (short,), "stations": others, "units": units})
        row = by_code(check_power(one, layout), "zone-reach")
        assert (row.verdict, row.remedy) == ("fails", told)
        end_m = number_of(row.remedy) * (0.0254 if units == "inch" else 1e-3)
        wide = short.model_copy(update={"from_m": end_m})
        assert (
            by_code(check_power(one.model_copy(update={"motor_zones": (wide,)}), layout), "zone-reach").verdict
            == "tight"
        )
    near = MotorZone(name="next", lane=zone.lane, from_m=0.2, to_m=0.43)
    row = by_code(check_power(one.model_copy(update={"motor_zones": (short, near)}), layout), "zone-reach")
    assert row.remedy.startswith("the lane or the next zone leaves no room")


def test_what_is_tight_is_told_the_figure_that_leaves_a_tenth(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    duty = duty_of(line, layout)
    base = check_power(line, layout, duty)

    def value(code: str) -> float:
        found = by_code(base, code, "" if code.startswith("cabinet") else "feeder upper").value
        assert found is not None
        return found

    def tight(changed: Line, code: str, word: str = "feeder upper") -> str:
        row = by_code(check_power(changed, layout, duty), code, word)
        assert (row.verdict, bool(row.remedy)) == ("tight", True), row
        return row.remedy

    def holds(changed: Line, code: str, word: str = "feeder upper") -> None:
        assert by_code(check_power(changed, layout, duty), code, word).verdict == "holds"

    def resistor(**values: float) -> Line:
        one = line.feeders[0].braking_resistor
        assert one is not None
        return feeders_with(line, braking_resistor=one.model_copy(update=values))

    near = feeders_with(line, fuse_A=value("design-current") / 0.95)
    holds(feeders_with(near, fuse_A=number_of(tight(near, "design-current"))), "design-current")
    bare = feeders_with(line, braking_resistor=None)
    back_J = next(iter(base.feeders))["braking_J"]
    supply = line.conveyor.supply
    assert supply is not None
    high_V = by_code(base, "resistor-on", "feeder upper").value
    assert high_V is not None
    least_F = 2.0 * back_J / ((0.95 * supply.trip_V) ** 2 - high_V**2)
    near = sheet_with(bare, "supply", capacitance_F=least_F)
    larger = re.search(r"capacitance: ([\d.]+) mF", tight(near, "braking-voltage"))
    assert larger is not None
    larger_F = float(larger[1]) / 1e3
    assert larger_F > least_F
    holds(sheet_with(bare, "supply", capacitance_F=larger_F), "braking-voltage")
    largest_ohm = by_code(base, "resistor-resistance", "feeder upper").limit
    assert largest_ohm is not None
    ohm = number_of(tight(resistor(resistance_ohm=0.95 * largest_ohm), "resistor-resistance"))
    assert ohm < 0.95 * largest_ohm
    holds(resistor(resistance_ohm=ohm), "resistor-resistance")
    assert line.cabinet is not None
    width = line.cabinet.model_copy(update={"width_m": value("cabinet-width") / 0.95})
    near = line.model_copy(update={"cabinet": width})
    wider = width.model_copy(update={"width_m": number_of(tight(near, "cabinet-width", "")) / 1e3})
    holds(line.model_copy(update={"cabinet": wider}), "cabinet-width", "")
    restart = by_code(base, "all-restart", "feeder upper")
    assert restart.value is not None
    near = sheet_with(line, "supply", current_A=restart.value / line.feeders[0].supplies / 0.95)
    holds(feeders_with(near, supplies=round(number_of(tight(near, "all-restart")))), "all-restart")


def test_no_feeder_is_lower_than_its_supply(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    resistor = line.feeders[0].braking_resistor
    assert resistor is not None
    early = feeders_with(line, braking_resistor=resistor.model_copy(update={"on_V": 30.0, "resistance_ohm": 0.1}))
    result = check_power(early, layout)
    assert by_code(result, "braking-voltage", "feeder upper").value == pytest.approx(42.0 * 1.02)
    assert by_code(result, "extra-low-voltage").value == pytest.approx(42.0 * 1.02)


def test_a_supply_that_may_give_nothing_is_told_and_not_raised(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    row = by_code(check_power(sheet_with(line, "supply", tolerance=1.0, trip_V=90.0), layout), "feeders")
    assert row.verdict == "not checked"
    assert "tolerance" in row.remedy


def test_a_gentle_line_gives_nothing_back(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    drive = line.conveyor.drive.model_copy(update={"acceleration_m_s2": 0.5})
    line = line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"drive": drive})})
    result = check_power(sheet_with(line, "stopping", deceleration_m_s2=0.5), layout)
    assert next(iter(result.feeders))["braking_J"] == 0.0
    held = 42.0 * 1.02
    assert held <= by_code(result, "braking-voltage", "feeder upper").value  # type: ignore[operator]
