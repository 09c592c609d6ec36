"""The rows on power: what a line states is judged, what it does not state is named, and a remedy makes the row hold."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.checks.power import PowerResult, check_power, voltage_drop_V
from linewright.checks.power.cable_rows import proposed_areas, with_areas
from linewright.checks.power.energy import move_energy
from linewright.checks.power.feeders import find_powers, most_carriers
from linewright.checks.power.trace import BIN_S, feeder_bins, feeder_track
from linewright.findings import Finding
from linewright.flow.duty import Duty, DutyLeg
from linewright.layout import Layout, lay_out
from linewright.line.electrics import Feeder, MotorZone
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.limits import moving_mass_kg
from linewright.motion.profile import plan_move
from linewright.traffic.referee.frames import Frames

EXAMPLES = Path(__file__).parents[3] / "examples"


def read(name: str) -> tuple[Line, Layout]:
    line = load_line(EXAMPLES / name)
    return line, lay_out(line)


@pytest.fixture(scope="module")
def demo() -> tuple[Line, Layout]:
    return read("demo/line.yaml")


@pytest.fixture(scope="module")
def failing() -> tuple[Line, Layout]:
    return read("limits/power.yaml")


def duty_of(line: Line, layout: Layout, span_s: float = 60.0, moves: int = 400, seed: int = 5) -> Duty:
    """Moves from each stop to the next, at random instants: no real traffic, but real ways and profiles."""
    frames, legs = Frames(line, layout), []
    for start, end in ((a.index, b.index) for a, b in pairwise(layout.stops)):
        way = frames.run(start, end)
        if way is None:
            continue
        for loaded in (False, True):
            curved = frames.is_curved(way)
            move = plan_move(way.length_m, leg_limits(line, loaded, way.length_m, curved).limits)
            mass_kg = moving_mass_kg(line, loaded)
            legs.append(DutyLeg(start, end, loaded, way.lane, way.start_m, way.end_m, curved, mass_kg, move))
    rng = np.random.default_rng(seed)
    departures = np.sort(rng.integers(100_000_000, 100_000_000 + round((span_s - 3.0) * 1e6), moves))
    works = np.arange(1.0, span_s, 2.0)
    return Duty(
        from_s=100.0,
        to_s=100.0 + span_s,
        carriers=line.carriers,
        legs=tuple(legs),
        carrier=rng.integers(0, line.carriers, moves),
        departure_us=departures,
        leg=rng.integers(0, len(legs), moves),
        work_station=np.full(len(works), len(line.stations) - 1),
        work_start_us=((100.0 + works - 1.0) * 1e6).astype(np.int64),
        work_end_us=((100.0 + works) * 1e6).astype(np.int64),
    )


def by_code(result: PowerResult, code: str, word: str = "") -> Finding:
    (found,) = [f for f in result.findings if f.code == code and word in f.where]
    return found


def sheet_with(line: Line, part: str, **values: Any) -> Line:
    """The same line with other figures in a group of its sheet, or without the group."""
    sheet = line.conveyor
    if part == "motor":
        motor = sheet.drive.motor
        assert motor is not None
        drive = sheet.drive.model_copy(update={"motor": motor.model_copy(update=values) if values else None})
        return line.model_copy(update={"conveyor": sheet.model_copy(update={"drive": drive})})
    group = getattr(sheet, part)
    new = group.model_copy(update=values) if values else None
    return line.model_copy(update={"conveyor": sheet.model_copy(update={part: new})})


def feeders_with(line: Line, **values: Any) -> Line:
    return line.model_copy(update={"feeders": tuple(one.model_copy(update=values) for one in line.feeders)})


# ---- what is judged --------------------------------------------------------------------------------------------------


def test_the_demo_line_holds(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    result = check_power(line, layout, duty_of(line, layout))
    assert {f.verdict for f in result.findings} <= {"holds", "tight"}
    assert {f.subject for f in result.findings} == {"power"}
    assert all(f.place is not None for f in result.findings)
    without = check_power(line, layout)
    assert [f.code for f in without.findings if f.verdict == "not checked"] == ["feeder-peak"]
    assert by_code(without, "feeder-peak").remedy.startswith("linewright check --run")


def test_the_example_fails_where_it_says(failing: tuple[Line, Layout]) -> None:
    line, layout = failing
    result = check_power(line, layout, duty_of(line, layout))
    failed = sorted(f.code for f in result.findings if f.verdict == "fails")
    expected = ["braking-voltage", "cabinet-width", "extra-low-voltage", "far-end-voltage", "fuse-cable", "zone-reach"]
    assert failed == expected
    assert all(f.remedy for f in result.findings if f.verdict == "fails")
    assert not [f for f in result.findings if f.verdict == "not checked"]


def test_figures_by_hand(demo: tuple[Line, Layout]) -> None:
    """42 V ± 2 %, 24 carriers of 0.705 kg; friction 1.1 N, least drag 0.6 N; k 5.2 N/A, R 1.9 ohm; 10 mF; 1.85 m/s."""
    line, layout = demo
    result = check_power(line, layout)
    c, f, v, m = 1.9 / 5.2**2, 0.6, 1.85, 0.705
    b = (math.sqrt(9.0 * (c * f) ** 2 + 8.0 * c * f * v) - 3.0 * c * f) / (4.0 * c)
    energy_J = 24 * b * (v - c * b) ** 2 / (2.0 * (b + f) / m)
    row = next(iter(result.feeders))
    assert row["braking_J"] == pytest.approx(energy_J)
    b = min(m * 14.0 - f, v / (2.0 * c))
    largest_ohm = 50.0**2 / (24 * b * (v - c * b))
    assert by_code(result, "resistor-resistance", "upper").limit == pytest.approx(largest_ohm)
    assert row["braking_V"] == 50.0
    r = 3.30e-3 * (1.0 + 0.00393 * 30.0)
    cable = next(iter(result.schedule))
    assert cable["drop_V"] == pytest.approx(voltage_drop_V(cable["current_A"], 6.0, r))
    watts = result.electrics.restart_W * 24  # type: ignore[union-attr]
    drops = [one["drop_V"] for one in result.schedule if one["feeder"] == "upper"]
    losses = [one["loss_W"] for one in result.schedule if one["feeder"] == "upper"]
    assert cable["current_A"] * 42.0 * 0.98 == pytest.approx(watts + sum(losses))
    assert by_code(result, "far-end-voltage", "upper").value == pytest.approx(sum(drops))
    assert by_code(result, "far-end-voltage", "upper").limit == pytest.approx(42.0 * 0.98 - 38.0)


@pytest.mark.parametrize("name", ["demo/line.yaml", "ways/ring.yaml", "ways/to-and-fro.yaml"])
def test_bins_hold_exactly_the_energy_on_the_lane(name: str) -> None:
    """Bins of two feeders that share each lane against the closed form: the energy of each way on the lane."""
    line, layout = read(name)
    duty = duty_of(line, layout, moves=60)
    energies = {
        i: move_energy(leg.move, leg.mass_kg, line.conveyor.drive.friction_N, 5.2, 2.5)
        for i, leg in enumerate(duty.legs)
    }
    net_J = back_J = 0.0
    for number, lane in enumerate(layout.lanes):
        middle = lane.length_m / 3
        ends = sorted(lane.travel_to_floor(x) for x in (0.0, middle, lane.length_m))
        for i, (low, high) in enumerate(pairwise(ends)):
            enters = ("west", "east")[i]
            feeder = Feeder(name=f"f{i}", lane=lane.name, from_m=low, to_m=high, enters=enters)  # type: ignore[arg-type]
            here = {k: e for k, e in energies.items() if duty.legs[k].lane == number}
            bins = feeder_bins(duty, feeder_track(feeder, layout), lane, here)
            net_J, back_J = net_J + bins.net_J.sum(), back_J + bins.back_J
    expected_net = expected_back = 0.0
    for kind in duty.leg.tolist():
        leg, energy = duty.legs[kind], energies[kind]
        lane = layout.lanes[leg.lane]
        low, high = (0.0, math.inf) if lane.is_ring else (0.0, lane.length_m)
        forward = leg.end_m > leg.start_m
        on, off = (low - leg.start_m, high - leg.start_m) if forward else (leg.start_m - high, leg.start_m - low)
        way_m = leg.move.distance_m
        times = np.array([leg.move.time_to_cover_s(min(max(x, 0.0), way_m)) for x in (on, off)])
        expected_net += float(np.diff(energy.net_until_J(times))[0])
        expected_back += float(np.diff(energy.back_until_J(times))[0])
    assert net_J == pytest.approx(expected_net, rel=1e-9)
    assert back_J == pytest.approx(expected_back, rel=1e-9)
    assert expected_back > 0.0


def test_one_move_lands_in_its_bins(demo: tuple[Line, Layout]) -> None:
    """A single move against a fine sum of its power, bin by bin and section by section."""
    line, layout = demo
    duty = duty_of(line, layout, moves=1, seed=11)
    kind = max(range(len(duty.legs)), key=lambda i: duty.legs[i].move.distance_m)
    duty.leg[0] = kind
    leg = duty.legs[kind]
    energy = move_energy(leg.move, leg.mass_kg, 1.1, 5.2, 2.5)
    lane = layout.lanes[leg.lane]
    feeder = next(one for one in line.feeders if one.lane == lane.name)
    track = feeder_track(feeder, layout)
    bins = feeder_bins(duty, track, lane, {kind: energy})
    steps = 100_000
    ends_s = np.linspace(0.0, leg.move.duration_s, steps + 1)
    parts_J = np.diff(energy.net_until_J(ends_s))
    middles_s = 0.5 * (ends_s[:-1] + ends_s[1:])
    place_m = leg.start_m + (1.0 if leg.end_m > leg.start_m else -1.0) * leg.move.position_m(middles_s)
    at = ((duty.departure_us[0] / 1e6 - duty.from_s + middles_s) / BIN_S).astype(int)
    expected = np.zeros_like(bins.net_J)
    for rank, (low, high) in enumerate(zip(track.low_m, track.high_m, strict=True)):
        on = (place_m >= low) & (place_m < high)
        np.add.at(expected[rank], at[on], parts_J[on])
    np.testing.assert_allclose(bins.net_J, expected, atol=2e-4)
    assert np.count_nonzero(expected) > 10


# ---- sections of a feeder --------------------------------------------------------------------------------------------


def test_a_feeder_feeds_whole_sections(demo: tuple[Line, Layout]) -> None:
    line, layout = demo  # five sections of 736 mm; the lower lane runs east to west
    west = feeder_track(Feeder(name="w", lane="lower", from_m=0.0, to_m=1.9), layout)
    assert west.sections == (4, 3, 2)
    assert west.is_snapped
    assert west.fed_m == (1.472, 3.68)
    east = feeder_track(Feeder(name="e", lane="lower", from_m=2.208, to_m=3.68, enters="east"), layout)
    assert east.sections == (0, 1)
    assert not east.is_snapped
    rows = check_power(
        line.model_copy(update={"feeders": (Feeder(name="w", lane="lower", from_m=0.0, to_m=1.9),)}), layout
    )
    assert by_code(rows, "feeder-ends").value == pytest.approx(2.208)
    bare = [f.where for f in rows.findings if f.code == "feeders"]
    assert bare == ["lane upper: 5 of 5 sections have no feeder", "lane lower: 2 of 5 sections have no feeder"]
    nothing = Feeder(name="n", lane="upper", from_m=0.0, to_m=0.1)
    alone = check_power(line.model_copy(update={"feeders": (nothing,)}), layout)
    assert by_code(alone, "feeder-ends").verdict == "not checked"


# ---- what is not stated ----------------------------------------------------------------------------------------------


def test_a_line_that_states_nothing_of_it_gets_two_rows() -> None:
    line, layout = read("ways/branch.yaml")
    result = check_power(line, layout)
    assert [(f.code, f.verdict) for f in result.findings] == [("motor-zone", "not checked"), ("feeders", "not checked")]
    assert [len(t) for t in (result.feeders, result.trace, result.schedule, result.sections)] == [0, 0, 0, 0]
    assert len(result.zones) == 0


@pytest.mark.parametrize(
    ("part", "values", "word"),
    [
        ("supply", {}, "state the key supply"),
        ("supply", {"tolerance": None}, "state the key tolerance under supply"),
        ("motor", {}, "state the key motor under drive"),
        ("motor", {"hottest_degC": None}, "state the key hottest under motor"),
    ],
)
def test_a_missing_figure_of_the_sheet(
    demo: tuple[Line, Layout], part: str, values: dict[str, None], word: str
) -> None:
    line, layout = demo
    result = check_power(sheet_with(line, part, **values), layout, duty_of(line, layout))
    (row,) = [f for f in result.findings if f.code == "feeders"]
    assert row.verdict == "not checked"
    assert row.remedy.startswith(word)
    assert len(result.feeders) == 0


@pytest.mark.parametrize(
    ("part", "values", "code", "word"),
    [
        ("supply", {"efficiency": None}, "cabinet-heat", "state the key efficiency under supply"),
        ("supply", {"width_m": None}, "cabinet-width", "state the key width under supply"),
        ("logic", {}, "logic-current", "state the key logic"),
    ],
)
def test_a_missing_figure_of_the_cabinet(
    demo: tuple[Line, Layout], part: str, values: dict[str, None], code: str, word: str
) -> None:
    line, layout = demo
    row = by_code(check_power(sheet_with(line, part, **values), layout), code)
    assert row.verdict == "not checked"
    assert row.remedy.startswith(word)


@pytest.mark.parametrize(
    ("values", "code", "word"),
    [
        ({"cable": None}, "far-end-voltage", "cable is not stated"),
        ({"link": None}, "far-end-voltage", "link is not stated"),
        ({"fuse_A": None}, "fuse-cable", "neither fuse nor breaker is stated"),
    ],
)
def test_a_missing_figure_of_the_feeders_gets_one_row(
    demo: tuple[Line, Layout], values: dict[str, None], code: str, word: str
) -> None:
    line, layout = demo
    result = check_power(feeders_with(line, **values), layout)
    missing = [f for f in result.findings if f.verdict == "not checked" and f.code == code]
    assert len(missing) == 1
    assert word in missing[0].where
    assert "upper, lower" in missing[0].where
    assert by_code(result, "all-restart", "upper").verdict == "holds"


def test_odd_areas_and_thin_links_are_told(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    odd = line.model_copy(update={"feeders": tuple(with_areas(one, 6.3, None) for one in line.feeders)})
    assert by_code(check_power(odd, layout), "cable-size", "upper").verdict == "not checked"
    thin = line.model_copy(update={"feeders": tuple(with_areas(one, None, 4.0) for one in line.feeders)})
    assert by_code(check_power(thin, layout), "link-area").verdict == "not checked"


def test_dry_wet_or_not_stated(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    assert line.environment is not None
    wet = line.model_copy(update={"environment": line.environment.model_copy(update={"dry": False})})
    assert by_code(check_power(wet, layout), "extra-low-voltage").limit == 15.0
    assert by_code(check_power(wet, layout), "extra-low-voltage").verdict == "fails"
    unknown = line.model_copy(update={"environment": None})
    assert by_code(check_power(unknown, layout), "extra-low-voltage").verdict == "not checked"


def test_no_cabinet_is_one_row(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    row = by_code(check_power(line.model_copy(update={"cabinet": None}), layout), "cabinet-heat")
    assert row.verdict == "not checked"


def test_a_small_cabinet_waits_for_the_run(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    assert line.cabinet is not None
    small = line.model_copy(update={"cabinet": line.cabinet.model_copy(update={"heat_W": 100.0})})
    assert by_code(check_power(small, layout), "cabinet-heat").remedy.startswith("linewright check --run")
    ran = by_code(check_power(small, layout, duty_of(line, layout)), "cabinet-heat")
    assert ran.verdict == "holds"
    assert "mean of the run" in ran.where


# ---- zones -----------------------------------------------------------------------------------------------------------


def test_a_zone_needs_logic_of_its_own_and_room_for_a_carrier(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    one = sheet_with(line, "supply", separate_logic_supply=False)
    assert by_code(check_power(one, layout), "zone-logic").verdict == "fails"
    assert not [f for f in check_power(one, layout).findings if f.code == "logic-current"]
    assert by_code(check_power(sheet_with(line, "supply"), layout), "zone-logic").verdict == "not checked"
    zone = MotorZone(name="load", lane="upper", from_m=0.43, to_m=0.6)
    short = line.model_copy(update={"motor_zones": (zone,)})
    row = by_code(check_power(short, layout), "zone-reach")
    assert (row.verdict, row.remedy) == ("fails", "write from: 418 mm")
    assert next(iter(check_power(line, layout).zones))["feeders"] == "upper"


def test_an_operator_station_without_a_zone_is_named(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    stations = tuple(s.model_copy(update={"motor_zone": None}) if s.name == "load" else s for s in line.stations)
    row = by_code(check_power(line.model_copy(update={"stations": stations}), layout), "motor-zone")
    assert row.verdict == "not checked"
    assert "load" in row.where


def test_where_operators_release_and_where_carriers_are_put_in_a_zone_is_asked_for() -> None:
    line, layout = read("ways/operators.yaml")
    assert [s.name for s in line.stations if s.release_s is not None and s.work != "manual"] == ["print"]
    assert "print" in by_code(check_power(line, layout), "motor-zone").where
    line, layout = read("ways/carrier-changes.yaml")
    stations = tuple(s.model_copy(update={"work": "automatic"}) for s in line.stations)
    automatic = line.model_copy(update={"stations": stations})
    row = by_code(check_power(automatic, layout), "motor-zone")
    assert row.where.startswith("operator stations load: ")
    unchanged = automatic.model_copy(update={"carrier_changes": ()})
    assert all(f.code != "motor-zone" for f in check_power(unchanged, layout).findings)


def test_carriers_that_are_put_in_later_count() -> None:
    line, layout = read("ways/carrier-changes.yaml")
    assert most_carriers(line) == max(
        line.carriers,
        *(
            line.carriers + sum((c.in_ or 0) - (c.out or 0) for c in line.carrier_changes if c.time_s <= one.time_s)
            for one in line.carrier_changes
        ),
    )
    fed = line.model_copy(update={"feeders": (Feeder(name="f", lane=line.lanes[0].name),)})
    assert check_power(fed, layout).feeders["carriers"][0] <= most_carriers(line)


# ---- remedies --------------------------------------------------------------------------------------------------------


def number_of(text: str) -> float:
    found = re.search(r"[\d.]+", text)
    assert found is not None
    return float(found[0])


def again(line: Line, layout: Layout, lane: str, **values: Any) -> PowerResult:
    feeders = tuple(one.model_copy(update=values) if one.name == lane else one for one in line.feeders)
    return check_power(line.model_copy(update={"feeders": feeders}), layout, duty_of(line, layout))


def test_the_remedies_of_the_example_make_it_hold(failing: tuple[Line, Layout]) -> None:
    line, layout = failing
    before = check_power(line, layout)
    fuse_A = number_of(by_code(before, "fuse-cable", "upper").remedy)
    assert fuse_A == 18.1  # 1.45 · 20 A / 1.6
    assert by_code(again(line, layout, "upper", fuse_A=fuse_A), "fuse-cable", "upper").verdict == "tight"
    milli = number_of(by_code(before, "braking-voltage", "lower").remedy.split("capacitance")[1])
    larger = sheet_with(line, "supply", capacitance_F=milli / 1e3)
    assert by_code(check_power(larger, layout), "braking-voltage", "lower").verdict != "fails"
    smaller = sheet_with(line, "supply", capacitance_F=milli / 1e3 * 0.99)
    assert by_code(check_power(smaller, layout), "braking-voltage", "lower").verdict == "fails"
    assert by_code(before, "far-end-voltage", "upper").remedy == "write area: 4 mm² under cable and 4 mm² under link"
    feeder = with_areas(line.feeders[0], 4.0, 4.0)
    thicker = line.model_copy(update={"feeders": (feeder, line.feeders[1])})
    assert by_code(check_power(thicker, layout), "far-end-voltage", "upper").verdict != "fails"
    thinner = line.model_copy(update={"feeders": (with_areas(feeder, 2.5, 2.5), line.feeders[1])})
    assert by_code(check_power(thinner, layout), "far-end-voltage", "upper").verdict == "fails"
    width = number_of(by_code(before, "cabinet-width").remedy)
    assert line.cabinet is not None
    wide = line.model_copy(update={"cabinet": line.cabinet.model_copy(update={"width_m": width / 1e3})})
    assert by_code(check_power(wide, layout), "cabinet-width").verdict == "tight"
    schedule = {(row["feeder"], row["from"]): row["proposed_mm2"] for row in before.schedule}
    assert schedule["upper", "supply"] == 4.0
    assert schedule["lower", "supply"] == 10.0


def test_supplies_and_resistor_are_solved_for(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    weak = sheet_with(line, "supply", current_A=5.0)
    remedy = by_code(check_power(weak, layout), "all-restart", "upper").remedy
    assert remedy == "write supplies: 4"
    assert by_code(check_power(feeders_with(weak, supplies=4), layout), "all-restart", "upper").verdict != "fails"
    assert by_code(check_power(feeders_with(weak, supplies=3), layout), "all-restart", "upper").verdict == "fails"
    resistor = line.feeders[0].braking_resistor
    assert resistor is not None
    large = feeders_with(line, braking_resistor=resistor.model_copy(update={"resistance_ohm": 14.0}))
    rows = check_power(large, layout)
    assert by_code(rows, "resistor-resistance", "upper").verdict == "fails"
    most = number_of(by_code(rows, "resistor-resistance", "upper").remedy)
    fits = feeders_with(line, braking_resistor=resistor.model_copy(update={"resistance_ohm": most}))
    assert by_code(check_power(fits, layout), "resistor-resistance", "upper").verdict == "tight"
    assert by_code(rows, "braking-voltage", "upper").value == pytest.approx(math.sqrt(14.0 * 2500.0 / 9.3748), rel=1e-4)


def test_a_resistor_that_always_conducts_fails(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    resistor = line.feeders[0].braking_resistor
    assert resistor is not None
    low = feeders_with(line, braking_resistor=resistor.model_copy(update={"on_V": 42.5}))
    assert (
        by_code(check_power(low, layout), "resistor-on", "upper").remedy == "write on: 42.9 V or more, below the trip"
    )


def test_a_supply_that_may_give_too_little_needs_no_thicker_cable(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    loose = sheet_with(line, "supply", tolerance=0.1)
    row = by_code(check_power(loose, layout), "far-end-voltage", "upper")
    assert row.verdict == "fails"
    assert "tolerance" in row.remedy


def test_no_size_may_do(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    cable = line.feeders[0].cable
    assert cable is not None
    long = feeders_with(line, cable=cable.model_copy(update={"length_m": 5000.0}))
    result = check_power(long, layout, duty_of(line, layout))
    row = by_code(result, "far-end-voltage", "upper")
    assert (row.value, row.margin, row.verdict) == (None, -1.0, "fails")
    assert row.remedy.startswith("shorter feeders")
    assert by_code(result, "all-restart", "upper").value is None
    electrics = result.electrics
    assert electrics is not None
    assert proposed_areas(electrics, find_powers(long, layout, electrics, None)[0]) is None


def test_thicker_links_alone_where_they_lose_most(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    link = line.feeders[0].link
    assert link is not None
    lossy = feeders_with(line, link=link.model_copy(update={"length_m": 9.0}))
    row = by_code(check_power(lossy, layout), "far-end-voltage", "upper")
    assert (row.verdict, row.remedy) == ("fails", "write area: 10 mm² under link")


def test_energy_per_part(demo: tuple[Line, Layout]) -> None:
    line, layout = demo
    duty = duty_of(line, layout)
    result = check_power(line, layout, duty)
    row = by_code(result, "energy-per-part")
    parts = len(duty.work_station)
    assert row.value == pytest.approx(result.feeders["mean_W"].sum() * 60.0 / 0.91 / parts)
    assert (row.limit, row.margin, row.verdict) == (None, None, "holds")


@pytest.mark.long
def test_a_real_run_of_the_demo_line_holds(demo: tuple[Line, Layout]) -> None:
    from linewright.flow.duty import find_duty
    from linewright.flow.run import run_plan
    from linewright.traffic.compile import compile_plan

    line, layout = demo
    plan = compile_plan(line, layout)
    duty = find_duty(line, layout, plan, run_plan(line, plan, 1.0, 2, 1))
    result = check_power(line, layout, duty)
    assert {f.verdict for f in result.findings} <= {"holds", "tight"}
    # Carriers rarely start together: the run draws less than half of what a restart would.
    assert (result.feeders["peak_A"] < 0.5 * result.feeders["restart_A"]).all()
    # What the supplies deliver is what the moves on the lanes draw, less what comes back, capacitors left out.
    assert (result.feeders["mean_W"] > result.feeders["given_back_W"]).all()
