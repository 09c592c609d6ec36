"""What the limits are checked by, as the line has it: attributes, units, signs, what is none and what is not stated."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest
from pydantic import ValidationError

from linewright.errors import LineFileError
from linewright.line.electrics import BrakingResistor, Cable, Feeder, Link, MotorZone
from linewright.line.load import load_sheet, read_line
from linewright.line.model import Line
from linewright.line.ratings import SupplySheet, WearPart
from linewright.line.surroundings import Liquid, TemperatureRange
from linewright.line.tooling import ErrorSource, Guard, Support, Tolerance, ToolForce

FAULTY = Path(__file__).parents[2] / "e2e" / "faulty"
TEXT = (FAULTY / "limits.yaml").read_text(encoding="utf-8")
RING = (FAULTY / "ring.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def line() -> Line:
    return read_line(TEXT)


def messages(text: str) -> list[str]:
    with pytest.raises(LineFileError) as caught:
        read_line(text, "x.yaml", folder=FAULTY)
    return [f"{fault.place.line}:{fault.place.column}: {fault.found}" for fault in caught.value.faults]


def test_forces_with_their_signs(line: Line) -> None:
    press = ToolForce(down_N=620.0, across_N=-20.0, greatest_N=900.0, at_m=(0.012, 0.0, 0.065))
    assert line.station("press").force == line.station("press-2").force == (press,)
    assert press.size_N == pytest.approx(620.3225, abs=1e-4)
    assert line.station("unload").force == (ToolForce(down_N=5.0), ToolForce(along_N=2.0))


def test_no_force_is_not_the_same_as_none_stated(line: Line) -> None:
    assert line.station("check").force == ()
    assert line.station("load").force is None
    silent = read_line(TEXT.replace("force: none, ", ""))
    assert silent.station("check").force is None
    assert silent.input_hash != line.input_hash


def test_plus_and_minus_stands_with_or_without_its_sign(line: Line) -> None:
    for text in ("0.08 mm", "± 0.08 mm", "±80µm", '" ±0.08 mm"'):
        assert read_line(TEXT.replace("±0.08 mm", text)) == line
    assert line.station("press").tolerance == Tolerance(x_m=80e-6)
    assert line.station("press").tolerance == Tolerance(x_m=80e-6, y_m=None, z_m=None, cpk=1.33)


def test_tool_and_its_further_errors(line: Line) -> None:
    tool = line.station("press").tool
    assert tool is not None
    assert (tool.repeatability_m, tool.drift_m, tool.grip_m, tool.at_m) == (20e-6, None, None, None)
    assert tool.errors == (ErrorSource(name="reach", x_m=15e-6, law="uniform"),)
    assert (tool.errors[0].y_m, tool.errors[0].kind) == (0.0, "spread")


def test_guard_end_stops_and_zone(line: Line) -> None:
    load = line.station("load")
    curtain = Guard(kind="light-curtain", distance_m=0.72, device_s=0.013, logic_s=0.012, resolution_m=0.014)
    assert (load.guard, load.end_stops_m, load.motor_zone) == (curtain, 0.15, "load")
    assert line.motor_zones[0] == MotorZone(name="load", lane="upper", from_m=0.6, to_m=1.0)


def test_feeders(line: Line) -> None:
    west, east, lower = line.feeders
    assert west.cable == Cable(length_m=6.0, area_mm2=6.0, temperature_degC=50.0, rating_A=38.0)
    assert (west.cable.conductor, west.link) == ("flexible", Link(length_m=0.8, area_mm2=6.0))
    assert (west.from_m, west.to_m, west.enters, west.supplies, west.fuse_A) == (0.0, 2.31, "west", 1, 25.0)
    assert (east.enters, east.cable, east.link, east.fuse_A) == ("east", None, None, None)
    assert (lower.from_m, lower.to_m, lower.supplies) == (None, None, 2)
    assert lower.braking_resistor == BrakingResistor(resistance_ohm=6.8, power_W=60.0, on_V=57.5)


def test_part_fixture_and_surroundings(line: Line) -> None:
    assert line.part is not None
    assert line.fixture is not None
    assert line.base is not None
    assert line.environment is not None
    assert line.upkeep is not None
    assert line.part.liquid == Liquid(diameter_m=0.06, depth_m=0.04, freeboard_m=0.015)
    assert line.part.tolerance_m == 30e-6
    assert (line.fixture.mass_height_m, line.fixture.seat_height_m, line.fixture.nest_m) == (0.017, 0.022, 20e-6)
    assert line.compensated
    assert line.temperature == TemperatureRange(least_degC=18.0, most_degC=27.0, set_up_degC=200.0 / 9.0)
    assert (line.base.expansion_1_K, line.base.fixed_at_m) == (11.5e-6, 0.0)
    assert vars(line.environment) == {"dry": True, "chips": False, "spatter": None, "wash_down": None, "static": None}
    assert (line.upkeep.service_level, line.upkeep.lead_time_months) == (0.98, 2.0)


def test_a_sheet_states_its_ratings() -> None:
    sheet = load_sheet("demo-heavy")
    assert sheet.guides is not None
    assert sheet.accuracy is not None
    assert sheet.image is not None
    assert sheet.upkeep is not None
    assert (sheet.carrier.mass_height_m, sheet.drive.servo_stiffness_N_m) == (-0.022, 7e6)
    assert (sheet.guides.stiffness_N_m, sheet.guides.thrust_height_m, sheet.guides.kind) == (2.4e8, -0.010, "ball")
    assert (sheet.accuracy.yaw_rad, sheet.accuracy.expansion_1_K) == (60e-6, 11.5e-6)
    assert sheet.image.bit_rate_bit_s == 1e8
    assert sheet.upkeep.wear_parts[0] == WearPart(name="scraper", per="carrier", count=4, travel_m=1.4e7)
    assert sheet.upkeep.wear_parts[2].every_s == 150_000 * 3600.0


def test_what_nobody_states_is_nothing() -> None:
    plain = read_line((FAULTY / "base.yaml").read_text(encoding="utf-8"))
    assert not plain.compensated
    assert (plain.feeders, plain.motor_zones) == ((), ())
    keys = ("temperature", "base", "environment", "cabinet", "controls", "upkeep")
    assert [getattr(plain, key) for key in keys] == [None] * len(keys)
    own = ("force", "support", "tolerance", "tool", "guard", "end_stops_m", "motor_zone")
    assert {getattr(station, key) for station in plain.stations for key in own} == {None}


def test_a_line_with_all_of_it_can_be_sent_to_another_process(line: Line) -> None:
    copy = pickle.loads(pickle.dumps(line))
    assert copy == line
    assert copy.input_hash == line.input_hash


def test_like_copies_all_but_the_place_and_the_motor_zone() -> None:
    text = TEXT.replace("like: press}", "like: load}").replace("[press, press-2]", "press, press-2")
    copy, source = read_line(text).station("press-2"), read_line(text).station("load")
    assert (copy.guard, copy.end_stops_m) == (source.guard, source.end_stops_m)
    assert (copy.motor_zone, source.motor_zone) == (None, "load")


def test_a_copied_key_that_does_not_fit_is_told_at_like() -> None:
    wide = (FAULTY / "wide.yaml").read_text(encoding="utf-8")
    old = "look: {lane: lower, at: 5000 mm, time: 1 s, rejects: 1 %}"
    assert old in wide
    found = messages(wide.replace(old, "look: {lane: lower, at: 5000 mm, like: print, rejects: 1 %}"))
    why = "release with no pool that names the station: nobody would come to release the carrier"
    assert found == [f"21:36: 'release' is copied: {why}"]


def test_zones_and_feeders_of_a_ring_are_stated_in_travel() -> None:
    zone = "motor_zones: {press: {lane: round, from: 900 mm, to: 1100 mm}}\n"
    sound = RING.replace("along: 1000 mm,", "along: 1000 mm, motor_zone: press,")
    assert read_line(sound + zone).motor_zones[0].to_m == 1.1
    assert messages(sound + zone.replace("900", "1050")) == ["10:40: the station at 1000 mm is outside 'press'"]
    off = zone.replace("1100 mm", "6 m") + "feeders: {a: {lane: round}, b: {lane: round, from: 5 m, to: 5.1 m}}\n"
    assert messages(sound + off) == [
        "13:50: 6000 mm is off the lane 'round'",
        "14:29: 'b' and 'a' both lie from 5000 mm to 5100 mm",
    ]


def test_a_resistor_is_not_judged_without_a_supply(tmp_path: Path) -> None:
    sheet = Path(load_sheet.__code__.co_filename).parent / "sheets" / "demo-heavy.yaml"
    text = sheet.read_text(encoding="utf-8")
    begin, end = text.index("supply:\n"), text.index("logic:")
    (tmp_path / "bare.yaml").write_text(text[:begin] + text[end:], encoding="utf-8")
    bare = TEXT.replace("conveyor: demo-heavy", "conveyor: bare.yaml").replace("on: 57.5 V", "on: 90 V")
    assert read_line(bare, folder=tmp_path).feeders[2].braking_resistor is not None
    assert messages(TEXT.replace("on: 57.5 V", "on: 90 V")) == ["25:90: a voltage at which it never works or always"]


def test_in_python_the_same_is_refused() -> None:
    with pytest.raises(ValidationError, match="no force is stated"):
        ToolForce(at_m=(0.0, 0.0, 0.0))
    with pytest.raises(ValidationError, match="less than the force that is stated"):
        ToolForce(down_N=-50.0, greatest_N=40.0)
    with pytest.raises(ValidationError, match="nothing is stated"):
        Support()
    with pytest.raises(ValidationError, match="from stands alone"):
        Feeder(name="a", lane="upper", from_m=1.0)
    with pytest.raises(ValidationError, match="no size of IEC 60228"):
        Link(length_m=1.0, area_mm2=5.0)
    with pytest.raises(ValidationError, match="out of range"):
        Tolerance(x_m=-1e-6)
    with pytest.raises(ValidationError, match="with its tolerance"):
        SupplySheet(
            voltage_V=48.0, current_A=20.0, trip_V=50.0, capacitance_F=0.01, separate_logic_supply=True, tolerance=0.05
        )
    both = {"name": "a", "per": "carrier", "travel": "9 km", "cycles": "9 cycles"}
    with pytest.raises(ValidationError, match="travel and cycles are stated"):
        WearPart.model_validate(both)
