"""Who stands behind a guard, doors that stay locked, end stops that would shorten a stop, the voltage of braking."""

from __future__ import annotations

import math
import re

import pytest

from linewright.checks.safety import check_safety, hazard_list
from linewright.checks.safety.guard_times import needed_distance
from linewright.findings import Finding
from linewright.layout import lay_out
from linewright.line.model import Line
from unit.checks.safety_lines import FULL, GUARD, KEYS, codes, on_sheet, result, row, safety_line

COAST_S = math.sqrt(2.0 * 0.1 * 0.7 / 0.6)
TOTAL_S = 0.010 + 0.015 + 0.009 + COAST_S
LOCKED = (
    "{kind: locked, distance: 200 mm, device: 10 ms, logic: 15 ms, unlocks_after: 800 ms, seen_behind: true, "
    "others_out_of_reach: true}"
)
SCANNER = "{kind: scanner, height: 300 mm, distance: 3 m, device: 10 ms, logic: 15 ms}"
DOOR = "{kind: interlocked, distance: 1 m, device: 10 ms, logic: 15 ms}"


def guarded(guard: str, keys: str = KEYS) -> Line:
    return safety_line(keys.replace(GUARD, guard))


def number(text: str, pattern: str) -> float:
    found = re.search(pattern, text)
    assert found, text
    return float(found[1])


# ---- who stands behind -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("guard", "is_asked"),
    [
        (GUARD.replace(", seen_behind: true", ""), True),
        (GUARD.replace(", seen_behind: true", "").replace("1000 mm", "300 mm"), False),
        (GUARD.replace(", seen_behind: true", "").replace("1000 mm", "301 mm"), True),
        (DOOR, True),
        (DOOR.replace("1 m", "250 mm"), False),
        (SCANNER, False),
        (SCANNER.replace("300 mm", "310 mm"), True),
        (LOCKED.replace(", seen_behind: true", ""), True),
        (LOCKED.replace(", seen_behind: true", "").replace("200 mm", "20 mm"), True),
    ],
)
def test_who_is_behind_is_asked_where_there_is_room(guard: str, is_asked: bool) -> None:
    line = guarded(guard)
    found = [one for one in result(line).findings if one.code == "standing-behind"]
    assert [one.verdict for one in found] == (["not checked"] if is_asked else [])
    if is_asked:
        assert "seen_behind" in found[0].remedy
        assert "load" in found[0].where
        assert "crush gaps" in found[0].where
        assert "crush-gap" not in [one.code for one in result(line).findings]


def test_who_is_not_seen_fails_the_guard_and_its_gaps() -> None:
    found = row(guarded(GUARD.replace("seen_behind: true", "seen_behind: false")), "standing-behind")
    assert (found.verdict, found.value, found.limit, found.margin) == ("fails", 1.0, None, None)
    assert found.remedy.startswith("guarded: ")
    assert "reset" in found.remedy
    assert codes(guarded(GUARD.replace("seen_behind: true", "seen_behind: false")), "fails") == [
        "standing-behind",
        "crush-gap",
    ]
    near = guarded(GUARD.replace("seen_behind: true", "seen_behind: false").replace("1000 mm", "200 mm"))
    assert row(near, "standing-behind").verdict == "fails"  # stated, so there is room
    field = row(guarded(SCANNER.replace("300 mm", "310 mm").replace("}", ", seen_behind: false}")), "standing-behind")
    assert (field.verdict, field.value) == ("fails", 0.31)
    assert "crawl under" in field.where


def test_of_several_guards_one_row_asks() -> None:
    line = safety_line()
    own = line.station("load").guard
    assert own is not None
    bare = own.model_copy(update={"seen_behind": None})
    line = line.model_copy(
        update={
            "stations": tuple(
                one if one.name == "press" else one.model_copy(update={"guard": bare}) for one in line.stations
            )
        }
    )
    (found,) = [one for one in result(line).findings if one.code == "standing-behind"]
    assert found.where.startswith("stations load, unload: ")


def test_hazards_tell_of_who_is_behind() -> None:
    for guard, told in (
        (GUARD, "yes"),
        (GUARD.replace("seen_behind: true", "seen_behind: false"), "no"),
        (DOOR, "not stated"),
    ):
        known = [one["known"] for one in hazard_list(guarded(guard)).rows() if "behind the guard" in one["hazard"]]
        assert len(known) == 1
        assert known[0].endswith(f"is seen: {told}")


# ---- doors that stay locked ------------------------------------------------------------------------------------------


def test_a_locked_door_is_held_by_time_and_not_by_distance() -> None:
    line = guarded(LOCKED)
    assert "safety-distance" not in [one.code for one in result(line).findings]
    found = row(line, "unlock-time")
    assert (found.value, found.limit, found.unit) == (pytest.approx(TOTAL_S), 0.8, "s")
    assert (found.verdict, found.margin) == ("holds", pytest.approx(1.0 - TOTAL_S / 0.8))
    assert row(line, "crush-gap").verdict == "holds"
    assert needed_distance(line.station("load"), TOTAL_S) is None


@pytest.mark.parametrize(("time", "verdict", "after"), [("400 ms", "fails", "tight"), ("540 ms", "tight", "holds")])
def test_a_door_that_unlocks_too_soon(time: str, verdict: str, after: str) -> None:
    line = guarded(LOCKED.replace("800 ms", time))
    found = row(line, "unlock-time")
    assert found.verdict == verdict
    longer_s = number(found.remedy, r"unlocks_after: ([\d.]+) s")
    assert row(guarded(LOCKED.replace("800 ms", f"{longer_s} s")), "unlock-time").verdict == after
    if verdict == "fails":
        less = row(guarded(LOCKED.replace("800 ms", f"{longer_s - 0.002} s")), "unlock-time")
        assert less.verdict == "fails"
        assert row(line, "crush-gap").verdict == "fails"
    slower = number(found.remedy, r"faster than ([\d.]+) m/s")
    assert row(on_sheet(line, drive={"speed_m_s": slower}), "unlock-time").verdict == after


def test_no_time_is_enough_where_nothing_stops_a_carrier() -> None:
    line = on_sheet(guarded(LOCKED, KEYS.replace("end_stops: 50 mm, ", "")), coasting={"least_drag_N": 0.0})
    found = row(line, "unlock-time")
    assert (found.verdict, found.value, found.limit, found.margin) == ("fails", None, 0.8, None)
    assert "goes on failing" in found.remedy


def test_the_locked_door_that_a_remedy_names_holds() -> None:
    line = safety_line(KEYS.replace("1000 mm", "600 mm"))
    time_s = number(row(line, "safety-distance").remedy, r"unlocks_after: ([\d.]+) s")
    assert row(guarded(LOCKED.replace("800 ms", f"{time_s} s")), "unlock-time").verdict == "tight"


# ---- end stops that are not there ------------------------------------------------------------------------------------

BARE = KEYS.replace("end_stops: 50 mm, ", "")
WITH = r"end_stops: ([\d.]+) mm\), with which a guard (\d+) mm"


def test_where_end_stops_are_missing_they_are_proposed_with_the_distance_that_they_make() -> None:
    line = safety_line(BARE)
    found = row(line, "safety-distance")
    assert (found.verdict, found.value) == ("fails", pytest.approx(1.6 * (0.034 + 0.7 * 1.85 / 0.6)))
    told = re.search(WITH, found.remedy)
    assert told, found.remedy
    stops_mm, guard_mm = float(told[1]), int(told[2])
    assert stops_mm == 47  # 1.1 times half a body of 84 mm, rounded up
    fitted = KEYS.replace("end_stops: 50 mm", f"end_stops: {stops_mm:g} mm")
    for distance_mm, verdict in ((guard_mm, "tight"), (guard_mm - 1, "fails")):
        after = safety_line(fitted.replace("1000 mm", f"{distance_mm} mm"))
        assert row(after, "safety-distance").verdict == verdict
        assert row(after, "end-stop-place").verdict == "holds"
    tight = safety_line(BARE.replace("1000 mm", f"{(found.value or 0.0) / 0.95 * 1000:.0f} mm"))
    told = re.search(WITH, row(tight, "safety-distance").remedy)
    assert told
    after = safety_line(fitted.replace("1000 mm", f"{told[2]} mm"))
    assert row(after, "safety-distance").verdict == "holds"


def test_a_locked_door_is_told_the_time_with_end_stops() -> None:
    found = row(guarded(LOCKED, BARE), "unlock-time")
    told = re.search(r"end_stops: ([\d.]+) mm\), with which unlocks_after: ([\d.]+) s", found.remedy)
    assert told, found.remedy
    keys = KEYS.replace("end_stops: 50 mm", f"end_stops: {told[1]} mm")
    assert row(guarded(LOCKED.replace("800 ms", f"{told[2]} s"), keys), "unlock-time").verdict == "tight"


def test_end_stops_are_not_proposed_where_they_would_not_hold_or_are_there() -> None:
    weak = on_sheet(safety_line(BARE), coasting={"end_stop_speed_m_s": 1.2})
    assert "end stops" not in row(weak, "safety-distance").remedy
    there = safety_line(KEYS.replace("1000 mm", "600 mm"))
    assert "end stops" not in row(there, "safety-distance").remedy
    idle = safety_line("guard: " + GUARD + ", end_stops: 70 mm, motor_zone: hands")  # a carrier waits across them
    told = re.search(WITH, row(idle, "safety-distance").remedy)
    assert told
    free = safety_line(f"guard: {GUARD}, end_stops: {told[1]} mm, motor_zone: hands")
    assert row(free, "end-stop-place").verdict != "fails"
    assert row(free, "safety-distance").value == pytest.approx(int(told[2]) / 1000, abs=1e-3)


# ---- the voltage of braking ------------------------------------------------------------------------------------------


def of(line: Line, code: str, feeder_V: float | None) -> Finding:
    (found,) = [one for one in check_safety(line, lay_out(line), feeder_V).findings if one.code == code]
    return found


def test_the_voltage_of_braking_counts_where_it_is_above_the_trip() -> None:
    line = on_sheet(safety_line(), supply={"discharge_s": 6.0})
    assert line.conveyor.supply is not None
    joule = 0.5 * line.conveyor.supply.capacitance_F * 175.0**2
    charge = of(line, "stored-charge", 175.0)
    assert (charge.verdict, charge.value, charge.limit) == ("fails", 6.0, 5.0)
    assert f"{joule:.3g} J" in charge.where
    assert "175 V that braking gives" in charge.where
    unstated = "the time is stated for no voltage; above the trip measure before you touch"
    assert charge.where.endswith(unstated)
    assert of(line, "stored-charge", 58.0).where.endswith(unstated)  # above the trip of 55 V, below 60 V
    assert unstated not in of(line, "stored-charge", 55.0).where
    voltage = of(line, "extra-low-voltage", 175.0)
    assert (voltage.verdict, voltage.value) == ("fails", 175.0)
    for lower in (None, 40.0):
        assert of(line, "stored-charge", lower).verdict == "holds"
        assert of(line, "extra-low-voltage", lower).value == 55.0
        assert ("is not reckoned" in of(line, "stored-charge", lower).where) == (lower is None)
    known = " ".join(one["known"] for one in check_safety(line, lay_out(line), 175.0).hazards.rows())
    assert f"{joule:.3g} J at what braking gives, 175 V" in known


@pytest.mark.parametrize("feeder_V", [-1.0, math.nan, math.inf])
def test_a_voltage_that_cannot_be_is_refused(feeder_V: float) -> None:
    line = safety_line()
    with pytest.raises(ValueError, match="feeder_V"):
        check_safety(line, lay_out(line), feeder_V)


def test_where_it_is_not_dry_the_voltage_is_told_all_the_same() -> None:
    line = safety_line(further=FULL.replace("dry: true", "dry: false"))
    found = of(line, "extra-low-voltage", 70.0)
    assert (found.verdict, found.value) == ("not checked", 70.0)


def test_above_extra_low_voltage_the_discharge_has_a_limit() -> None:
    line = on_sheet(safety_line(), supply={"trip_V": 80.0, "discharge_s": 6.0})
    assert row(line, "extra-low-voltage").verdict == "fails"
    charge = row(line, "stored-charge")
    assert (charge.verdict, charge.limit, charge.margin) == ("fails", 5.0, pytest.approx(-0.2))


# ---- words -----------------------------------------------------------------------------------------------------------


def test_gaps_that_a_guard_covers_say_first_that_it_must_work() -> None:
    assert row(safety_line(), "crush-gap").where.startswith("station load: only while the guard works: ")
    failing = row(safety_line(KEYS.replace("1000 mm", "600 mm")), "crush-gap")
    assert "only while" not in failing.where


def test_a_way_that_this_program_cannot_judge_says_so() -> None:
    narrow = FULL.replace("540", "650").replace("860", "800")
    assert "this row then goes on failing" in row(safety_line(further=narrow), "coast-in").remedy
    bare = on_sheet(safety_line(), supply={"separate_logic_supply": False})
    assert "this row then goes on failing" in row(bare, "zone").remedy
    tight = row(safety_line(further=FULL.replace("540", "560").replace("860", "840")), "coast-in")
    assert (tight.verdict, "failing" in tight.remedy) == ("tight", False)
