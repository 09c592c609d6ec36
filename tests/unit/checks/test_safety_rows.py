"""The safety rows of whole lines: verdicts, figures reckoned by hand, what is missing, remedies that hold."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from linewright.checks.safety import CAUTION, HEADINGS, check_safety, hazard_list, operator_stations
from linewright.checks.safety.line_rows import falling_platform_row
from linewright.checks.safety.place import nearest_free_stop, station_place
from linewright.checks.safety.stops import _comes_near
from linewright.errors import Place
from linewright.findings import Finding
from linewright.layout import lay_out
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.line.tooling import ToolForce
from linewright.traffic.legs import Leg
from unit.checks.safety_lines import DRY, FULL, GUARD, KEYS, ZONE, codes, on_sheet, result, row, safety_line

EXAMPLES = Path(__file__).parents[3] / "examples"
COAST_S = math.sqrt(2.0 * 0.1 * 0.7 / 0.6)
TOTAL_S = 0.010 + 0.015 + 0.009 + COAST_S


def number(text: str, unit: str) -> float:
    """The first number with that unit in a text."""
    found = re.search(rf"([\d.]+) {re.escape(unit)}(?!\w)", text)
    assert found, text
    return float(found[1])


def test_a_line_that_states_all_holds() -> None:
    line = safety_line()
    assert codes(line, "fails") == codes(line, "not checked") == []
    assert codes(line, "tight") == ["extra-low-voltage"]
    assert codes(line, "holds") == [
        "stop-time",
        "safety-distance",
        "standing-behind",
        "other-lane",
        "end-stop-place",
        "end-stop-speed",
        "zone",
        "coast-in",
        "crush-gap",
        "energy",
        "stored-charge",
        "magnets",
        "falling-platform",
    ]
    for finding in result(line).findings:
        assert finding.subject == "safety"
        assert isinstance(finding.place, Place)
        assert finding.source
        assert (finding.remedy == "") == (finding.verdict == "holds" or finding.code == "extra-low-voltage")


def test_figures_by_hand() -> None:
    line = safety_line()
    assert row(line, "stop-time").value == pytest.approx(0.009 + COAST_S)
    distance = row(line, "safety-distance")
    assert distance.value == pytest.approx(1.6 * TOTAL_S)
    assert distance.limit == 1.0
    assert distance.margin == pytest.approx(1.0 - 1.6 * TOTAL_S)
    stop = row(line, "end-stop-place")
    assert (stop.value, stop.limit) == (pytest.approx(0.050), pytest.approx(0.042))
    speed = row(line, "end-stop-speed")
    assert (speed.value, speed.limit, speed.margin) == (1.85, 2.2, pytest.approx(1.0 - 1.85 / 2.2))
    zone = row(line, "coast-in")
    assert (zone.value, zone.limit) == (pytest.approx(0.160), pytest.approx(0.134))
    assert row(line, "crush-gap").value == pytest.approx(0.008)
    assert row(line, "energy").value == pytest.approx(0.5 * 0.7 * 1.85**2)
    charge = row(line, "stored-charge")
    assert charge.value == 4.0
    assert charge.limit is None
    assert "15.1 J" in charge.where
    voltage = row(line, "extra-low-voltage")
    assert (voltage.value, voltage.limit) == (55.0, 60.0)
    assert row(line, "magnets").margin == pytest.approx(1.0 / 0.25 - 1.0)
    assert row(line, "falling-platform").value == pytest.approx(math.sqrt(2.0 * 9.80665 * 0.32))


def test_a_guard_that_is_too_near_fails_and_both_remedies_hold() -> None:
    line = safety_line(KEYS.replace("1000 mm", "600 mm"))
    found = row(line, "safety-distance")
    assert found.verdict == "fails"
    assert str(found.place).startswith("test.yaml:14:")
    assert row(line, "crush-gap").verdict == "fails"
    farther_mm = number(found.remedy, "mm")
    assert row(safety_line(KEYS.replace("1000 mm", f"{farther_mm:.0f} mm")), "safety-distance").verdict == "tight"
    assert row(safety_line(KEYS.replace("1000 mm", f"{farther_mm - 1:.0f} mm")), "safety-distance").verdict == "fails"
    slower = number(found.remedy, "m/s")
    assert row(on_sheet(line, drive={"speed_m_s": slower}), "safety-distance").verdict == "tight"
    assert row(on_sheet(line, drive={"speed_m_s": slower * 1.01}), "safety-distance").verdict == "fails"
    assert f"kind: locked, unlocks_after: {math.ceil(TOTAL_S * 1000) / 1000} s or longer" in found.remedy


def test_no_remedy_touches_a_stated_friction_time_or_limit() -> None:
    bad = safety_line("guard: " + GUARD.replace("1000", "200") + ", end_stops: 75 mm, motor_zone: hands")
    bad = on_sheet(bad, coasting={"end_stop_speed_m_s": 1.0}, supply={"separate_logic_supply": False, "trip_V": 75.0})
    failing = [one for one in result(bad).findings if one.verdict == "fails"]
    assert {one.code for one in failing} == {
        "safety-distance",
        "end-stop-place",
        "end-stop-speed",
        "zone",
        "coast-in",
        "crush-gap",
        "extra-low-voltage",
        "magnets",
    }
    for finding in failing:
        ways = finding.remedy.split("; or ")
        assert all(way.startswith(("slower:", "farther:", "guarded:")) for way in ways), finding.remedy
        assert not re.search(r"drag|reaction|deceleration|discharge|trip", finding.remedy), finding.remedy


def test_end_stops_that_do_not_hold_are_not_counted_on() -> None:
    line = on_sheet(safety_line(), coasting={"end_stop_speed_m_s": 1.2})
    assert row(line, "end-stop-speed").verdict == "fails"
    assert number(row(line, "end-stop-speed").remedy, "m/s") == 1.2
    assert row(line, "stop-time").value == pytest.approx(0.009 + 0.7 * 1.85 / 0.6)
    assert "the end stops do not count" in row(line, "stop-time").where
    assert row(line, "coast-in").verdict == "fails"
    slow = on_sheet(line, drive={"speed_m_s": 1.2})
    assert row(slow, "end-stop-speed").verdict == "tight"
    assert row(slow, "stop-time").value == pytest.approx(0.009 + COAST_S)


def test_a_carrier_that_waits_across_an_end_stop_keeps_it_up() -> None:
    # Without keep_clear the next carrier waits 92 mm off: its body reaches from 50 to 134 mm.
    line = safety_line(KEYS.replace("keep_clear: 60 mm, ", "").replace("end_stops: 50 mm", "end_stops: 70 mm"))
    found = row(line, "end-stop-place")
    assert (found.verdict, found.value) == ("fails", pytest.approx(0.022))
    assert "50 mm" in found.remedy
    assert "keep_clear of at least 70 mm" in found.remedy
    assert row(line, "stop-time").value == pytest.approx(0.009 + 0.7 * 1.85 / 0.6)
    mended = safety_line(KEYS.replace("keep_clear: 60 mm, ", "").replace("end_stops: 50 mm", "end_stops: 50 mm"))
    assert row(mended, "end-stop-place").verdict != "fails"
    wider = safety_line(KEYS.replace("60 mm", "70 mm").replace("end_stops: 50 mm", "end_stops: 70 mm"))
    assert row(wider, "end-stop-place").verdict != "fails"


def test_a_zone_that_ends_at_the_end_stops_lets_a_carrier_be_driven_in() -> None:
    line = safety_line(further=FULL.replace("540", "650").replace("860", "800"))
    found = row(line, "coast-in")
    assert (found.verdict, found.value, found.limit) == ("fails", pytest.approx(0.05), pytest.approx(0.134))
    assert number(found.remedy, "mm") == 134
    assert row(line, "crush-gap").verdict == "fails"
    wide = safety_line(further=FULL.replace("540", "566").replace("860", "834"))
    assert row(wide, "coast-in").verdict == "tight"


def test_without_end_stops_the_zone_must_be_longer_than_the_coast() -> None:
    keys = KEYS.replace("end_stops: 50 mm, ", "")
    found = row(safety_line(keys), "coast-in")
    coast_m = 0.7 * 1.85**2 / (2.0 * 0.6)
    assert "farther" not in found.remedy  # the lane ends 700 mm before the station
    assert found.verdict == "fails"
    assert found.value == pytest.approx(0.084 + coast_m)
    assert found.limit == pytest.approx(0.160 - 0.042)
    slower = number(found.remedy, "m/s")
    assert slower == pytest.approx(math.sqrt(2.0 * 0.6 * (0.118 - 0.084) / 0.7), rel=5e-3)
    assert row(on_sheet(safety_line(keys), drive={"speed_m_s": slower}), "coast-in").verdict == "tight"


def test_a_zone_is_made_longer_only_as_far_as_lane_and_other_zones_let_it() -> None:
    keys = KEYS.replace("end_stops: 50 mm, ", "")
    line = on_sheet(safety_line(keys), drive={"speed_m_s": 0.6})
    least_mm = math.ceil((0.084 + 0.7 * 0.36 / 1.2 + 0.042) * 1000)
    found = row(line, "coast-in")
    assert f"let the zone reach at least {least_mm} mm" in found.remedy
    wide = FULL.replace("540", f"{700 - least_mm}").replace("860", f"{700 + least_mm}")
    assert row(on_sheet(safety_line(keys, wide), drive={"speed_m_s": 0.6}), "coast-in").verdict == "tight"
    for beside in (f"from: 10 mm, to: {700 - least_mm + 1} mm", f"from: {700 + least_mm - 1} mm, to: 1200 mm"):
        crowded = ZONE.replace("}}", "}, other: {lane: upper, " + beside + "}}") + DRY
        found = row(on_sheet(safety_line(keys, crowded), drive={"speed_m_s": 0.6}), "coast-in")
        assert (found.verdict, "farther" in found.remedy) == ("fails", False)


def test_without_a_guard_nothing_switches_a_zone_off() -> None:
    line = safety_line(KEYS.replace(f", guard: {GUARD}", ""))
    found = [one.code for one in result(line).findings]
    assert "zone" not in found
    assert "coast-in" not in found
    assert "motor zone, what coasts in" in row(line, "guard").where


def test_coasting_in_hangs_on_coasting_alone() -> None:
    narrow = FULL.replace("540", "650").replace("860", "800")
    for line in (
        on_sheet(safety_line(further=narrow), stopping=None),
        on_sheet(safety_line(further=narrow), carrier={"payload_kg": 0.25}),
    ):
        assert row(line, "stop-time").verdict == "not checked"
        assert "coasts in" not in row(line, "stop-time").where
        assert (row(line, "coast-in").verdict, row(line, "coast-in").value) == ("fails", pytest.approx(0.05))
    bare = on_sheet(safety_line(further=narrow), coasting=None)
    assert "what coasts in" in row(bare, "stop-time").where
    assert "coast-in" not in [one.code for one in result(bare).findings]


TIGHT = [
    ("safety-distance", KEYS.replace("1000 mm", "DISTANCE mm"), FULL, {}),
    ("coast-in", KEYS, FULL.replace("540", "560").replace("860", "840"), {}),
    ("end-stop-speed", KEYS, FULL, {"coasting": {"end_stop_speed_m_s": 2.0}}),
    ("magnets", KEYS, FULL, {"magnets": {"implant_distance_m": 0.95}}),
    ("end-stop-place", KEYS.replace("end_stops: 50 mm", "end_stops: 45 mm"), FULL, {}),
]


@pytest.mark.parametrize(("code", "keys", "further", "sheet"), TIGHT, ids=[one[0] for one in TIGHT])
def test_a_tight_row_names_a_figure_that_leaves_a_tenth(
    code: str, keys: str, further: str, sheet: dict[str, Any]
) -> None:
    keys = keys.replace("DISTANCE", f"{1.6 * TOTAL_S / 0.95 * 1000:.1f}")
    found = row(on_sheet(safety_line(keys, further), **sheet), code)
    assert found.verdict == "tight"
    ways = found.remedy.split("; or ")
    assert all(way.startswith(("slower:", "farther:", "guarded:")) for way in ways)
    named = 0
    for way in ways:
        if "m/s" in way:
            line = on_sheet(safety_line(keys, further), **sheet, drive={"speed_m_s": number(way, "m/s")})
        elif "a guard at least" in way:
            line = on_sheet(
                safety_line(re.sub(r"distance: [\d.]+", f"distance: {number(way, 'mm'):g}", keys), further), **sheet
            )
        elif "let the zone reach" in way:
            reach = number(way, "mm")
            wide = re.sub(r"from: \d+ mm, to: \d+", f"from: {700 - reach:g} mm, to: {700 + reach:g}", further)
            line = on_sheet(safety_line(keys, wide), **sheet)
        elif "end stops at" in way:
            line = on_sheet(
                safety_line(re.sub(r"end_stops: \d+", f"end_stops: {number(way, 'mm'):g}", keys), further), **sheet
            )
        else:
            continue
        named += 1
        assert row(line, code).verdict == "holds", way
    assert named >= 1


def test_coasting_in_that_is_tight_names_a_lower_speed() -> None:
    keys = KEYS.replace("end_stops: 50 mm, ", "")
    room_m = 0.118 * 0.95 - 0.084
    line = on_sheet(safety_line(keys), drive={"speed_m_s": math.sqrt(2.0 * 0.6 * room_m / 0.7)})
    found = row(line, "coast-in")
    assert found.verdict == "tight"
    assert row(on_sheet(line, drive={"speed_m_s": number(found.remedy, "m/s")}), "coast-in").verdict == "holds"
    reach = number(found.remedy, "mm")
    wide = safety_line(keys, FULL.replace("540", f"{700 - reach:g}").replace("860", f"{700 + reach:g}"))
    assert row(on_sheet(wide, drive={"speed_m_s": line.conveyor.drive.speed_m_s}), "coast-in").verdict == "holds"


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_the_place_of_end_stops_is_told_rounded_away_from_the_body(units: str) -> None:
    for at in ("60 mm", "70.3 mm", "66.667 mm"):
        keys = KEYS.replace("keep_clear: 60 mm, ", "").replace("end_stops: 50 mm", f"end_stops: {at}")
        found = row(safety_line(keys).model_copy(update={"units": units}), "end-stop-place")
        assert found.verdict == "fails"
        told = re.search(r"end stops at ([\d.]+ (?:mm|in))", found.remedy)
        assert told, found.remedy
        mended = safety_line(keys.replace(f"end_stops: {at}", f"end_stops: {told[1]}"))
        assert row(mended, "end-stop-place").verdict != "fails"
        assert len(told[1].split()[0].partition(".")[2]) <= 1


def test_a_narrow_free_place_is_told_with_the_digits_that_it_needs() -> None:
    place = station_place(safety_line(), lay_out(safety_line()), safety_line().station("load"))
    # Free from 80.15 to 80.35 mm alone: half a body from its own centre, and from that of the next one.
    narrow = replace(place, body_m=0.1603, resting_m=(0.1605,), waiting_m=(), end_stops_m=0.079, room_m=1.0)
    assert nearest_free_stop(narrow, "mm") == (pytest.approx(0.0802), "80.2 mm")
    none = replace(narrow, resting_m=(0.1602,), room_m=0.2)
    assert nearest_free_stop(none, "mm") is None


def test_keep_clear_is_proposed_only_where_it_moves_what_is_in_the_way() -> None:
    line = safety_line(KEYS.replace("end_stops: 50 mm", "end_stops: 70 mm"), work="manual")
    place = station_place(line, lay_out(line), line.station("load"))
    assert place.keep_clear_helps == all(
        abs(one - 0.07) >= 0.0462 or one in place.waiting_m for one in (0.0, *place.resting_m)
    )
    own = replace(place, end_stops_m=0.03)
    assert not own.keep_clear_helps


def test_end_stops_off_the_lane_do_not_count() -> None:
    text = (EXAMPLES / "limits" / "safety.yaml").read_text("utf-8")
    text = text.replace(
        "    at: 700 mm\n    work: manual\n    time: {mean: 2.1",
        "    at: 2163 mm\n    work: manual\n    time: {mean: 2.1",
    )
    text = text.replace(
        "unload: {lane: lower, from: 650 mm, to: 750 mm}", "unload: {lane: lower, from: 2000 mm, to: 2208 mm}"
    )
    on_lane, off = (
        text.replace("end_stops: 50 mm", "end_stops: 45 mm"),
        text.replace("end_stops: 50 mm", "end_stops: 60 mm"),
    )

    def unload(source: str, code: str) -> Finding:
        (found,) = [
            one
            for one in result(read_line(source, file="s.yaml")).findings
            if one.code == code and "unload" in one.where
        ]
        return found

    found = unload(off, "end-stop-place")
    assert (found.verdict, found.value, found.limit) == ("fails", pytest.approx(0.045), pytest.approx(0.06))
    assert found.margin == pytest.approx(0.045 / 0.06 - 1.0)
    assert "off its lane" in found.where
    assert "keep_clear" not in found.remedy
    assert number(found.remedy, "mm") <= 45
    assert unload(off, "stop-time").value == pytest.approx(
        unload(off.replace("end_stops: 60 mm", ""), "stop-time").value
    )
    assert unload(on_lane, "end-stop-place").verdict != "fails"


def test_a_zone_shorter_than_a_body_leaves_no_way() -> None:
    keys = KEYS.replace("end_stops: 50 mm, ", "")
    found = row(safety_line(keys, FULL.replace("540", "670").replace("860", "730")), "coast-in")
    assert (found.limit, found.margin, found.verdict) == (0.0, -1.0, "fails")
    assert "slower" not in found.remedy


def test_without_drag_nothing_stops_a_carrier() -> None:
    line = on_sheet(safety_line(), coasting={"least_drag_N": 0.0})
    for code in ("stop-time", "safety-distance"):
        found = row(line, code)
        assert (found.verdict, found.value, found.margin) == ("fails", None, None)
    without = on_sheet(safety_line(KEYS.replace("end_stops: 50 mm, ", "")), coasting={"least_drag_N": 0.0})
    assert (row(without, "coast-in").verdict, row(without, "coast-in").value) == ("fails", None)
    for finding in result(without).findings:
        assert finding.value is None or math.isfinite(finding.value)


@pytest.mark.parametrize(
    ("guard", "needed_m"),
    [
        ("{kind: scanner, height: 300 mm, distance: 3 m, device: 10 ms, logic: 15 ms}", 1.6 * TOTAL_S + 1.08),
        ("{kind: interlocked, distance: 3 m, device: 10 ms, logic: 15 ms}", 1.6 * TOTAL_S),
        ("{kind: light-curtain, resolution: 30 mm, distance: 3 m, device: 10 ms, logic: 15 ms}", 1.6 * TOTAL_S + 0.128),
    ],
)
def test_each_kind_of_guard(guard: str, needed_m: float) -> None:
    found = row(safety_line(KEYS.replace(GUARD, guard)), "safety-distance")
    assert (found.value, found.limit) == (pytest.approx(needed_m), 3.0)


@pytest.mark.parametrize(
    ("guard", "key"),
    [
        ("{kind: scanner, height: 1200 mm, distance: 3 m, device: 10 ms, logic: 15 ms}", "height"),
        ("{kind: light-curtain, resolution: 70 mm, distance: 3 m, device: 10 ms, logic: 15 ms}", "resolution"),
    ],
)
def test_forms_that_are_not_held_are_not_checked(guard: str, key: str) -> None:
    line = safety_line(KEYS.replace(GUARD, guard))
    found = row(line, "safety-distance")
    assert (found.verdict, found.value) == ("not checked", None)
    assert key in found.remedy
    assert "crush-gap" not in [one.code for one in result(line).findings]
    assert "crush gaps" in found.where


MISSING = [
    ("guard", safety_line(KEYS.replace(f", guard: {GUARD}", "")), "guard", "the key guard"),
    ("zone", safety_line(KEYS.replace(", motor_zone: hands", ""), DRY), "zone", "the key motor_zone"),
    ("stopping", on_sheet(safety_line(), stopping=None), "stop-time", "the key stopping in"),
    ("coasting", on_sheet(safety_line(), coasting=None), "stop-time", "the key coasting in"),
    ("supply", on_sheet(safety_line(), supply=None), "supply", "the key supply in"),
    ("discharge", on_sheet(safety_line(), supply={"discharge_s": None}), "stored-charge", "the key discharge under"),
    ("magnets", on_sheet(safety_line(), magnets=None), "magnets", "the key magnets in"),
    ("dry", safety_line(further=ZONE), "extra-low-voltage", "the key dry under environment"),
]


@pytest.mark.parametrize(("code", "line", "of", "key"), MISSING, ids=[one[0] for one in MISSING])
def test_a_missing_figure_makes_one_row_that_says_what_to_state(code: str, line: Line, of: str, key: str) -> None:
    assert codes(line, "not checked") == [of]
    assert codes(line, "fails") == []
    found = row(line, of)
    assert key in found.remedy
    assert found.place is not None
    if code in ("guard", "zone", "stopping", "coasting"):
        assert "load" in found.where
        assert "crush gaps" in found.where
        assert "crush-gap" not in [one.code for one in result(line).findings]


def test_where_it_is_wet_no_limit_is_held() -> None:
    found = row(safety_line(further=ZONE + "environment: {dry: false}\n"), "extra-low-voltage")
    assert found.verdict == "not checked"
    assert "licensed" in found.remedy


def test_a_line_that_states_nothing_has_few_rows() -> None:
    line = on_sheet(safety_line("", ""), stopping=None, coasting=None, supply=None, magnets=None)
    assert codes(line, "not checked") == ["guard", "stop-time", "supply", "magnets"]
    assert codes(line, "fails") == []
    assert "stopping and coasting" in row(line, "stop-time").remedy


def test_without_an_operator_station_all_that_hangs_on_none_is_there() -> None:
    line = safety_line("", DRY, work="automatic")
    found = row(line, "operator-stations")
    assert (found.verdict, found.limit) == ("holds", None)
    assert "nobody may reach carriers anywhere while they can move: guard the whole line" in found.where
    assert [one.code for one in result(line).findings] == [
        "operator-stations",
        "energy",
        "stored-charge",
        "extra-low-voltage",
        "magnets",
        "falling-platform",
    ]
    assert row(line, "energy").value == pytest.approx(0.5 * 0.7 * 1.85**2)
    assert row(line, "energy").where.startswith("anywhere: ")
    magnets = row(line, "magnets")
    assert (magnets.verdict, magnets.value, magnets.limit) == ("holds", 0.25, None)
    assert "away from all of the track" in magnets.where
    assert codes(on_sheet(line, supply={"trip_V": 80.0, "discharge_s": 6.0}), "fails") == [
        "stored-charge",
        "extra-low-voltage",
    ]
    assert codes(on_sheet(line, supply=None, magnets=None), "not checked") == ["supply", "magnets"]
    assert len(result(line).stops) == 0
    assert len(result(line).hazards) > 8


def test_a_guarded_station_counts_though_it_is_automatic() -> None:
    line = safety_line(work="automatic")
    assert codes(line, "fails") == []
    assert "safety-distance" in codes(line, "holds")


def test_more_than_the_payload_is_not_checked() -> None:
    line = on_sheet(safety_line(), carrier={"payload_kg": 0.25})
    found = row(line, "stop-time")
    assert found.verdict == "not checked"
    assert "0.32 kg" in found.where
    assert {one["case"] for one in result(line).stops.rows()} == {"coast"}
    assert "safety-distance" not in [one.code for one in result(line).findings]


def test_a_supply_without_separate_logic_fails_its_zone() -> None:
    line = on_sheet(safety_line(), supply={"separate_logic_supply": False})
    assert row(line, "zone").verdict == "fails"
    assert row(line, "crush-gap").verdict == "fails"


def test_a_guard_nearer_than_implants_may_come_fails() -> None:
    line = on_sheet(safety_line(), magnets={"implant_distance_m": 1.2})
    found = row(line, "magnets")
    assert found.verdict == "fails"
    assert number(found.remedy, "mm") == 1200


def test_inches_are_printed_for_a_line_in_inches() -> None:
    line = safety_line(KEYS.replace("1000 mm", "600 mm")).model_copy(update={"units": "inch"})
    found = row(line, "safety-distance")
    assert found.value is not None
    assert found.value <= number(found.remedy, "in") * 0.0254 < found.value + 0.00254


def test_the_example_fails_as_it_says() -> None:
    line = load_line(EXAMPLES / "limits" / "safety.yaml")
    failing = [(one.code, one.where.split()[1].strip(",:")) for one in result(line).findings if one.verdict == "fails"]
    assert failing == [
        ("safety-distance", "load"),
        ("crush-gap", "load"),
        ("coast-in", "unload"),
        ("crush-gap", "unload"),
    ]
    assert codes(line, "not checked") == []


@pytest.mark.parametrize("path", ["ways/ring.yaml", "ways/to-and-fro.yaml", "ways/four-decks.yaml"])
def test_other_tracks(path: str) -> None:
    line = load_line(EXAMPLES / path)
    found = check_safety(line, lay_out(line))
    assert "guard" in [one.code for one in found.findings]
    assert {one["cause"] for one in found.stops.rows()} == {"plan", "fault"}


# ---- hazards ---------------------------------------------------------------------------------------------------------


def test_hazards_are_this_lines_own() -> None:
    line = safety_line()
    press = line.station("press").model_copy(update={"force": (ToolForce(down_N=85.0, greatest_N=125.0),)})
    line = line.model_copy(update={"stations": tuple(press if one.name == "press" else one for one in line.stations)})
    table = hazard_list(line)
    rows = table.rows()
    assert set(table["heading"]) == set(HEADINGS)
    order = [HEADINGS.index(one["heading"]) for one in rows]
    assert order == sorted(order)
    where = " ".join(one["where"] for one in rows)
    for name in ("east-lift", "west-lift", "station press", "load"):
        assert name in where
    known = " ".join(one["known"] for one in rows)
    coasts = f"{0.7 * 1.85**2 / 1.2 * 1000:.1f} mm in 2.16 s"
    for figure in ("118 N", "320 mm", "85 N set, up to 125 N", "250 mm", "15.1 J", coasts, "dry: yes"):
        assert figure in known
    assert all(all(text for text in one.values()) for one in rows)


def test_hazards_without_figures_say_so() -> None:
    line = on_sheet(safety_line("", ""), stopping=None, coasting=None, supply=None, magnets=None)
    known = [one["known"] for one in hazard_list(line).rows()]
    assert "the sheet states no least drag" in known
    assert "the sheet states no supply" in known
    assert "the sheet states no distance" in known
    never = hazard_list(on_sheet(safety_line(), coasting={"least_drag_N": 0.0})).rows()
    assert any("never stands" in one["known"] for one in never)


def test_no_text_claims_conformity() -> None:
    texts = [CAUTION.lower()]
    for line in (safety_line(), load_line(EXAMPLES / "limits" / "safety.yaml")):
        found = result(line)
        texts += [" ".join(map(str, one.as_dict().values())).lower() for one in found.findings]
        texts += [" ".join(one.values()).lower() for one in found.hazards.rows()]
    assert "a competent, licensed person decides" in texts[0]
    for text in texts[1:]:
        assert not re.search(r"\bpl [a-e]\b|performance level|category [0-4b]|complies|conform|\bsafe\b", text), text


# ---- several stations, other tracks ----------------------------------------------------------------------------------


def test_of_several_guards_the_nearest_counts_for_the_magnets() -> None:
    line = safety_line()
    near = line.station("load").guard
    assert near is not None
    second = line.station("unload").model_copy(update={"guard": near.model_copy(update={"distance_m": 0.3})})
    line = line.model_copy(update={"stations": tuple(second if one.name == "unload" else one for one in line.stations)})
    found = row(line, "magnets")
    assert (found.value, found.margin) == (0.3, pytest.approx(0.2))
    assert found.where.startswith("station unload")
    assert codes(line, "not checked") == ["zone"]
    assert "station unload:" in row_of(line, "zone", "not checked").where


def row_of(line: Line, code: str, verdict: str) -> Finding:
    (found,) = [one for one in result(line).findings if (one.code, one.verdict) == (code, verdict)]
    return found


def test_who_releases_carriers_works_there_too() -> None:
    further = "operators: {pool: {operators: 1, stations: [load]}}\n"
    line = safety_line("release: 1 s", further, work="automatic")
    assert [one.name for one in operator_stations(line)] == ["load"]
    assert "load" in row(line, "guard").where


def test_on_a_ring_the_nearest_resting_carrier_may_be_round_its_start() -> None:
    text = (EXAMPLES / "ways" / "ring.yaml").read_text("utf-8")
    assert "along: 400 mm" in text
    line = read_line(text.replace("along: 400 mm", "along: 60 mm"), file="ring.yaml")
    place = station_place(line, lay_out(line), line.station("load"))
    assert place.gap_m is not None
    assert place.resting_m[0] < 0.2
    assert place.resting_m[-1] <= line.lane_length_m("round") / 2


def test_a_leg_against_the_lanes_direction_lies_where_it_runs() -> None:
    layout = lay_out(safety_line())
    back = Leg(0, 0, 0, 0, distance_m=0.5, lane=0, start_m=-2.0, against=True)  # from 2.0 m down to 1.5 m
    assert _comes_near(layout, back, (1.7, 1.8))
    assert not _comes_near(layout, back, (0.9, 1.4))
    assert not _comes_near(layout, back, (-1.8, -1.7))
    there = Leg(0, 0, 0, 0, distance_m=0.5, lane=0, start_m=1.5)
    assert _comes_near(layout, there, (2.02, 2.1))  # its front reaches half a body beyond its end
    assert not _comes_near(layout, there, (2.05, 2.1))


def test_a_lift_of_several_docks_falls_from_the_highest() -> None:
    line = safety_line()
    deep = line.lane("lower").model_copy(update={"name": "deep", "level_m": -0.9})
    lift = line.transfers[0].model_copy(update={"gives_all": ("lower", "deep")})
    line = line.model_copy(update={"lanes": (*line.lanes, deep), "transfers": (lift, line.transfers[1])})
    found = falling_platform_row(line)
    assert found is not None
    assert found.value == pytest.approx(math.sqrt(2.0 * 9.80665 * 0.9))
    assert "900 mm" in " ".join(one["known"] for one in hazard_list(line).rows())
