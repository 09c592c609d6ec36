"""The accuracy check on lines: which contributors count, what is told, remedies that hold when followed."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Final

import pytest

from linewright.checks.accuracy import AccuracyResult, AxisBudget, check_accuracy
from linewright.checks.accuracy.check import CHECK_DRAWS
from linewright.checks.accuracy.sources import joints_between_blocks_m
from linewright.findings import Finding
from linewright.layout import lay_out
from linewright.line.load import load_line, read_line, read_sheet
from linewright.line.model import Line

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
TEXT: Final = """
linewright: 1
name: Accuracy
conveyor: demo-light
part: {mass: 60 g, tolerance: ±30 µm}
fixture: {mass: 200 g, nest: ±20 µm}
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 6
stations:
  load: {lane: upper, at: 400 mm, time: 1 s}
  press:
    lane: upper
    at: 1100 mm
    time: 1 s
    force: {down: 50 N, along: 5 N, at: [10 mm, 20 mm, 42 mm]}
    tolerance: {x: ±0.3 mm, y: ±0.3 mm, z: ±0.3 mm}
    tool: {repeatability: ±10 µm, drift: ±12 µm, grip: ±15 µm, at: [5 mm, 4 mm, 52 mm]}
  unload: {lane: lower, at: 700 mm, time: 1 s}
temperature: {least: 16 °C, most: 26 °C, set_up: 22 °C}
base: {expansion: 23.5 µm/m/K, fixed_at: 100 mm}
route: [load, press, unload]
"""


def checked(*edits: tuple[str, str]) -> tuple[Line, AccuracyResult]:
    text = TEXT
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    line = read_line(text)
    return line, check_accuracy(line, lay_out(line))


def axis_of(result: AccuracyResult, axis: str, station: str = "press") -> AxisBudget:
    (found,) = (one for one in result.axes if (one.axis, one.station) == (axis, station))
    return found


def ends_um(result: AccuracyResult, axis: str, station: str = "press") -> dict[str, tuple[float, float]]:
    return {
        c.contributor.name: (c.contributor.low_m * 1e6, c.contributor.high_m * 1e6)
        for c in axis_of(result, axis, station).counted
    }


def row(result: AccuracyResult, code: str, axis: str = "") -> Finding:
    (found,) = (f for f in result.findings if f.code == code and f", {axis}" in f.where)
    return found


def both(value: float) -> tuple[float, float]:
    return pytest.approx((-value, value))


def test_contributors_along_by_hand() -> None:
    _, result = checked()
    found = ends_um(result, "x")
    height = 38.0 + 52.0  # mm, tool point over the blocks
    assert found["stop repeatability"] == both(18.0)
    assert found["carriers' spread"] == both(45.0)
    # 1.0 m from where track and base are fixed; the scale grows by 12 µm/m/K less than the base.
    assert found["thermal growth"] == pytest.approx((-12.0 * 4.0, 12.0 * 6.0))
    assert found["guide play"] == both(6.0 * 2.0 * (4.0 + height) / 62.0)
    assert found["yaw by its lever"] == both(90e-6 * 4e3)
    assert found["pitch by its lever"] == both(80e-6 * height * 1e3)
    assert found["servo under force"] == pytest.approx((0.0, 5.0 / 2.5))
    # 50 N down, 10 mm before the middle and 20 mm left of it, and 5 N along 86 mm over the thrust: the plate pitches.
    pitch = ((80e-3 + 6e-3) * 5.0 + 10e-3 * 50.0) / (65e6 * 62e-3**2)
    yaw = -20e-3 * 5.0 / (45e6 * 62e-3**2)
    assert found["deflection under force"] == pytest.approx((0.0, (pitch * (90e-3 + 6e-3) - yaw * 4e-3) * 1e6))
    for name, half in {"nest": 20, "part": 30, "tool repeatability": 10, "tool drift": 12, "grip": 15}.items():
        assert found[name] == both(half), name
    assert len(found) == 13
    laws = {c.contributor.name: (c.contributor.kind, c.contributor.law) for c in axis_of(result, "x").counted}
    assert laws["tool drift"] == laws["thermal growth"] == ("bias", None)
    assert laws["nest"] == laws["guide play"] == ("spread", "uniform")
    assert laws["part"] == laws["stop repeatability"] == ("spread", "normal")


def test_contributors_across_and_up_by_hand() -> None:
    _, result = checked()
    across, up = ends_um(result, "y"), ends_um(result, "z")
    assert across["straightness"] == both(20.0)
    assert across["guide play"] == both(6.0 * (1.0 + 2.0 * 90.0 / 74.0))
    assert across["yaw by its lever"] == both(90e-6 * 5e3)
    assert across["roll by its lever"] == both(110e-6 * 90e3)
    assert up["flatness"] == both(25.0)
    assert up["guide play"] == both(6.0)
    assert up["pitch by its lever"] == both(80e-6 * 5e3)
    assert up["roll by its lever"] == both(110e-6 * 4e3)
    assert up["deflection under force"][0] < -50.0 / (4.0 * 65.0)
    assert up["deflection under force"][1] == 0.0
    assert not {"stop repeatability", "thermal growth", "servo under force", "carriers' spread"} & (
        set(across) | set(up)
    )


def test_the_lane_turns_the_sign_of_growth() -> None:
    _, result = checked(("lane: upper\n    at: 1100 mm", "lane: lower\n    at: 1100 mm"))
    assert ends_um(result, "x")["thermal growth"] == pytest.approx((-12.0 * 6.0, 12.0 * 4.0))
    _, same = checked(("expansion: 23.5", "expansion: 11.5"))
    assert ends_um(same, "x")["thermal growth"] == (0.0, 0.0)


def test_compensation_and_vibration_and_errors_of_ones_own() -> None:
    _, result = checked(
        ("carriers: 6", "carriers: 6\ncompensated: true"),
        (
            "grip: ±15 µm,",
            "grip: ±15 µm, errors: {frame: {x: ±7 µm, kind: bias}, ram: {x: ±6 µm, z: ±1 µm, law: triangular}},",
        ),
    )
    found = ends_um(result, "x")
    assert found["carriers' spread, compensated"] == both(8.0)
    assert "carriers' spread" not in found
    assert found["frame"] == both(7.0)
    assert found["ram"] == both(6.0)
    kinds = {c.contributor.name: (c.contributor.kind, c.contributor.law) for c in axis_of(result, "x").counted}
    assert (kinds["frame"], kinds["ram"]) == (("bias", None), ("spread", "triangular"))
    _, shaken = checked(
        ("nest: ±20 µm", "nest: ±20 µm, natural_frequency: 40 Hz, damping: 5 %"),
        ("time: 1 s\n    force", "time: 1 s\n    window: 9 µm\n    force"),
    )
    assert ends_um(shaken, "x")["vibration left"] == both(9.0)
    assert "vibration left" not in ends_um(shaken, "y")


def test_a_joint_counts_where_it_lies_between_the_blocks() -> None:
    # Sections of 736 mm: joints at 736 and 1472 mm; the blocks stand 31 mm to each side of the carrier's middle.
    for at, there in ((1440, False), (1442, True), (1503, True), (1504, False)):
        _, result = checked(("at: 1100 mm", f"at: {at} mm"))
        assert ("joint step" in ends_um(result, "x")) is there, at
    _, result = checked(("at: 1100 mm", "at: 1480 mm"))
    assert ends_um(result, "x")["joint step"] == both(12.0 * (4.0 + 90.0) / 62.0)
    assert ends_um(result, "y")["joint step"] == ends_um(result, "z")["joint step"] == both(12.0 * (31.0 + 5.0) / 62.0)


RING: Final = """
linewright: 1
name: Ring
conveyor: demo-light
lanes: {round: {ring: {long: 1840 mm, short: 368 mm}}}
carriers: 6
stations:
  load: {lane: round, along: 400 mm, time: 1 s}
  first: {lane: round, along: ALONG, time: 1 s, force: none, tolerance: {x: ±0.3 mm}, tool: {at: [5 mm, 4 mm, 52 mm]}}
  unload: {lane: round, along: 3300 mm, time: 1 s}
temperature: {least: 12 °C, most: 22 °C, set_up: 22 °C}
base: {expansion: 1.5 µm/m/K, fixed_at: 0 mm}
route: [load, first, unload]
"""


def on_ring(along: str) -> tuple[float, dict[str, tuple[float, float]]]:
    line = read_line(RING.replace("ALONG", along))
    layout = lay_out(line)
    result = check_accuracy(line, layout)
    return line.station("first").at_m, ends_um(result, "x", "first")


def test_a_ring_is_closed_by_a_joint_and_comes_back_the_other_way() -> None:
    (lane,) = lay_out(read_line(RING.replace("ALONG", "600 mm"))).lanes
    assert joints_between_blocks_m(lane, 0.02, 0.062) == (0.0,)
    assert joints_between_blocks_m(lane, lane.length_m - 0.02, 0.062) == (lane.length_m,)
    assert joints_between_blocks_m(lane, 0.04, 0.062) == ()
    out_m, out = on_ring("600 mm")
    assert out["thermal growth"] == pytest.approx((-10.0 * out_m * 10.0, 0.0))
    back_m, back = on_ring("4200 mm")  # on the second long straight
    assert back["thermal growth"] == pytest.approx((0.0, 10.0 * back_m * 10.0))


def test_a_support_takes_its_share_of_the_force() -> None:
    _, bare = checked()
    _, held = checked(("time: 1 s\n    force", "time: 1 s\n    support: {down: 200 N}\n    force"))
    _, partly = checked(("time: 1 s\n    force", "time: 1 s\n    support: {along: 5 N}\n    force"))
    sag = [ends_um(result, "z")["deflection under force"][0] for result in (bare, held, partly)]
    assert sag[1] > sag[0]  # what is left of it is the pitch under the force along
    assert sag[2] < -50.0 / (4.0 * 65.0)
    assert "servo under force" not in ends_um(partly, "x")


def test_several_forces_give_way_between_none_and_all_that_push_that_way() -> None:
    _, result = checked(
        (
            "force: {down: 50 N, along: 5 N, at: [10 mm, 20 mm, 42 mm]}",
            "force: [{along: 5 N, at: [0 mm, 0 mm, 0 mm]}, {along: -2 N, at: [0 mm, 0 mm, 0 mm]}]",
        )
    )
    assert ends_um(result, "x")["servo under force"] == pytest.approx((-0.8, 2.0))


# ---- what is not stated ----------------------------------------------------------------------------------------------


def test_a_line_without_tolerances_says_so_in_one_row() -> None:
    line, result = checked(("    tolerance: {x: ±0.3 mm, y: ±0.3 mm, z: ±0.3 mm}\n", ""))
    finding, note = result.findings
    assert note.code == "mounting"
    assert (finding.code, finding.verdict, finding.subject) == ("accuracy-tolerance", "not checked", "accuracy")
    assert "state the key tolerance" in finding.remedy
    assert finding.place == line.place("stations")
    assert len(result.budgets) == len(result.summary) == 0


def test_missing_figures_are_told_in_three_rows_and_left_out() -> None:
    sheet = (EXAMPLES.parent / "src/linewright/line/sheets/demo-light.yaml").read_text("utf-8")
    bare = re.sub(r"accuracy:\n  \{.*?\}\n", "", re.sub(r"repeatability: .*\n", "", sheet), flags=re.DOTALL)
    assert "accuracy" not in bare.split("invented: true")[1]
    line, _ = checked(
        ("nest: ±20 µm", "mass_height: 10 mm"),
        ("base: {expansion: 23.5 µm/m/K, fixed_at: 100 mm}\n", ""),
        ("drift: ±12 µm, ", ""),
    )
    poorer = line.model_copy(update={"conveyor": read_sheet(bare)})
    result = check_accuracy(poorer, lay_out(poorer))
    unchecked = [finding for finding in result.findings if finding.verdict == "not checked"]
    rows = [finding for finding in unchecked if finding.code != "capability"]
    assert [finding.code for finding in rows] == ["accuracy-figures"] * 3
    sheet_row, line_row, station_row = rows
    for key in ("repeatability", "carrier_spread", "straightness", "flatness", "yaw", "pitch", "roll", "expansion"):
        assert key in sheet_row.remedy, key
    assert "nest under fixture; base" in line_row.remedy or "base; nest under fixture" in line_row.remedy
    assert station_row.remedy == "state at the station what is missing: drift under tool at press"
    thought = poorer.model_copy(update={"compensated": True})
    sheet_too = next(f for f in check_accuracy(thought, lay_out(thought)).findings if "conveyor sheet" in f.where)
    assert "compensated_spread under accuracy" in sheet_too.remedy
    assert station_row.place == line.place("stations", "press", "tool")
    assert "stop repeatability" not in ends_um(result, "x")
    assert "; without 8 figures that are not stated" in row(result, "capability", "x").where


def test_an_index_that_is_met_for_want_of_figures_is_not_checked() -> None:
    for gone in (("nest: ±20 µm", "mass_height: 10 mm"), ("drift: ±12 µm, ", ""), (", tolerance: ±30 µm", "")):
        _, result = checked(gone)
        found, one = row(result, "capability", "x"), axis_of(result, "x")
        assert (found.verdict, found.value, found.limit, found.margin) == ("not checked", one.budget.cpk, 1.33, None)
        assert found.value is not None
        assert found.value > 1.33
        assert "parts per million" not in found.where
        assert "1 figure that is not stated" in found.where
        assert one.pinning == "not known"
        assert found.remedy.startswith("state the figures that accuracy-figures names")
        _, worse = checked(gone, ("x: ±0.3 mm", "x: ±0.15 mm"))
        assert row(worse, "capability", "x").verdict == "fails"


def test_all_that_is_missing_of_a_force_is_told_at_once() -> None:
    _, result = checked(
        (", at: [5 mm, 4 mm, 52 mm]", ""), ("    force: {down: 50 N, along: 5 N, at: [10 mm, 20 mm, 42 mm]}\n", "")
    )
    assert "at under tool at press; force at press" in row(result, "accuracy-figures").remedy
    _, pushed = checked((", at: [5 mm, 4 mm, 52 mm]", ""), ("at: [10 mm, 20 mm, 42 mm]", "greatest: 60 N"))
    assert ends_um(pushed, "x")["servo under force"] == pytest.approx((0.0, 2.0))  # the servo takes no lever
    assert "at under force" in row(pushed, "accuracy-figures").remedy


def test_stations_stand_in_the_order_of_the_line() -> None:
    text = "unload: {lane: lower, at: 700 mm, time: 1 s"
    _, result = checked((text, text + ", tolerance: {z: ±1 mm}"), ("grip: ±15 µm, ", ""), (", nest: ±20 µm", ""))
    found = [f.where for f in result.findings if f.code == "accuracy-figures"]
    assert [one.split(":")[0] for one in found] == ["stations press, unload"] * 2


def test_a_force_that_is_not_stated_is_told_and_none_is_an_answer() -> None:
    force = "    force: {down: 50 N, along: 5 N, at: [10 mm, 20 mm, 42 mm]}\n"
    _, unsaid = checked((force, ""))
    assert row(unsaid, "accuracy-figures").remedy.endswith("force at press")
    _, none = checked((force, "    force: none\n"))
    assert all(finding.code != "accuracy-figures" for finding in none.findings)
    assert "deflection under force" not in ends_um(none, "z")


def test_without_a_tool_point_there_is_no_lever() -> None:
    _, result = checked((", at: [5 mm, 4 mm, 52 mm]", ""), (", at: [10 mm, 20 mm, 42 mm]", ""))
    assert "at under tool" in row(result, "accuracy-figures").remedy
    assert not {"guide play", "yaw by its lever", "deflection under force"} & set(ends_um(result, "x"))
    _, by_force = checked((", at: [5 mm, 4 mm, 52 mm]", ""))
    assert ends_um(by_force, "x")["pitch by its lever"] == both(80e-6 * 80e3)


# ---- verdicts and remedies -------------------------------------------------------------------------------------------


def test_rows_that_hold() -> None:
    line, result = checked()
    assert [finding.code for finding in result.findings] == [*["capability", "worst-case"] * 3, "mounting"]
    capability, worst = row(result, "capability", "x"), row(result, "worst-case", "x")
    budget = axis_of(result, "x").budget
    assert (capability.value, capability.limit, capability.unit) == (budget.cpk, 1.33, None)
    assert capability.margin == pytest.approx(budget.cpk / 1.33 - 1.0)
    assert capability.source.endswith("common practice")
    assert (worst.value, worst.limit, worst.unit) == (budget.worst_case_m, None, "m")
    assert "more than the tolerance" not in worst.where
    assert capability.place == line.place("stations", "press", "tolerance", "x")
    assert f"of {CHECK_DRAWS} drawn (seed 1)" in capability.where
    assert capability.remedy == worst.remedy == ""
    assert "pinning not needed" in capability.where


def test_figures_in_inches_on_request() -> None:
    _, result = checked(("conveyor: demo-light", "conveyor: demo-light\nunits: inch"), ("x: ±0.3 mm", "x: ±0.1 mm"))
    failing = row(result, "capability", "x")
    assert "±0.00394 in" in failing.where
    assert " mm" not in failing.where + failing.remedy


def test_the_worst_case_alone_never_fails() -> None:
    _, result = checked(("x: ±0.3 mm", "x: ±0.22 mm"))
    worst, capability = row(result, "worst-case", "x"), row(result, "capability", "x")
    assert worst.value is not None
    assert worst.value > 2.2e-4
    assert (worst.verdict, worst.margin) == ("holds", None)
    assert f"{100 * (worst.value / 2.2e-4 - 1):.0f} % more than the tolerance" in worst.where
    assert capability.verdict != "fails"


TIGHTER: Final = (("x: ±0.3 mm", "x: ±0.21 mm"), ("z: ±0.3 mm", "z: ±0.3 mm, cpk: 1.5"))


def test_each_single_remedy_holds_when_it_is_followed_and_not_much_before() -> None:
    _, result = checked(*TIGHTER)
    failing = row(result, "capability", "x")
    assert failing.verdict == "fails"
    assert failing.source.endswith("as the line file asks")
    wide = float(re.findall(r"a tolerance of ±([\d.]+) mm", failing.remedy)[0])
    for tolerance, verdict in ((wide, "tight"), (wide - 0.001, "fails")):
        _, changed = checked(("x: ±0.3 mm", f"x: ±{tolerance:.4f} mm"), TIGHTER[1])
        assert row(changed, "capability", "x").verdict == verdict, tolerance
    assert "compensated: true" in failing.remedy
    _, compensated = checked(*TIGHTER, ("carriers: 6", "carriers: 6\ncompensated: true"))
    assert row(compensated, "capability", "x").verdict != "fails"
    departure = float(re.findall(r"under temperature in the line file ±([\d.]+) K instead of ±6 K", failing.remedy)[0])
    for size, verdict in ((departure, {"tight", "holds"}), (departure * 1.02, {"fails"})):
        hall = f"least: {22 - size:.4f} °C, most: {22 + size * 4 / 6:.4f} °C"
        _, changed = checked(*TIGHTER, ("least: 16 °C, most: 26 °C", hall))
        assert row(changed, "capability", "x").verdict in verdict, size


def test_a_pin_with_the_play_that_is_told_just_holds() -> None:
    _, result = checked(*TIGHTER)
    one = axis_of(result, "x")
    assert one.pinning == "needed"
    assert one.pin_play_m > 0.0
    told = re.search(
        r"pin the fixture at the station, pin: ±([\d.]+) mm or less", row(result, "capability", "x").remedy
    )
    assert told is not None
    for play, verdict in ((float(told[1]), "tight"), (1.01 * float(told[1]), "fails")):
        _, held = checked(*TIGHTER, ("time: 1 s\n    force", f"time: 1 s\n    pin: ±{play:.6f} mm\n    force"))
        assert row(held, "capability", "x").verdict == verdict, play
    assert {c.contributor.owner for c in one.counted} == {"carrier", "force", "fixture", "part", "tool"}
    # What stays: nest uniform, part, tool and grip normal; drift and the give of the blocks as biases.
    sigma = math.sqrt(20.0**2 / 3.0 + (30.0**2 + 10.0**2 + 15.0**2) / 9.0)
    give = ends_um(result, "x")["deflection under force"][1]
    assert one.pinned.sigma_m * 1e6 == pytest.approx(sigma)
    assert one.pinned.bias_m * 1e6 == pytest.approx(12.0 + give)
    assert one.pinned.worst_case_m * 1e6 == pytest.approx(12.0 + give + 20.0 + 30.0 + 10.0 + 15.0)
    _, narrow = checked(("x: ±0.3 mm", "x: ±0.05 mm"))
    assert axis_of(narrow, "x").pinning == "not enough"
    assert row(narrow, "capability", "x").remedy.startswith("a pin is not enough; a tolerance of ±")


def test_of_a_pinned_station_nothing_is_counted_or_asked_of_carriers_track_and_drive() -> None:
    pin = ("time: 1 s\n    force", "time: 1 s\n    pin: ±14 µm\n    force")
    line, free = checked()
    _, result = checked(pin)
    for axis in "xyz":
        one, before = axis_of(result, axis), axis_of(free, axis)
        stays = {c.contributor.name for c in before.counted if c.contributor.owner != "carrier"}
        assert {c.contributor.name for c in one.counted} == stays | {"pin"}
        assert ends_um(result, axis)["pin"] == both(14.0)
        assert one.pinning == "stated"
        assert one.budget.sigma_m == pytest.approx(math.hypot(before.pinned.sigma_m, 14e-6 / math.sqrt(3.0)))
        assert one.pinned.cpk == pytest.approx(before.pinned.cpk)
    assert "pinning stated, ±0.014 mm, lifted onto stops" in row(result, "capability", "z").where
    assert "lifted" not in row(result, "capability", "x").where
    bare = line.conveyor.model_copy(update={"accuracy": None, "repeatability_m": None})
    stations = tuple(one.model_copy(update={"pin_m": 14e-6}) if one.name == "press" else one for one in line.stations)
    held = line.model_copy(update={"conveyor": bare, "stations": stations, "temperature": None, "base": None})
    assert {f.verdict for f in check_accuracy(held, lay_out(held)).findings} == {"holds"}


def test_two_axes_that_fail_get_one_answer_for_both() -> None:
    edits = (("x: ±0.3 mm, y: ±0.3 mm", "x: ±0.2 mm, y: ±0.1 mm"),)
    _, result = checked(*edits)
    for axis in "xy":
        assert row(result, "capability", axis).verdict == "fails"
        remedy = row(result, "capability", axis).remedy
        (way,) = [one for one in remedy.split("; ") if "for x and y" in one]
        assert way.removeprefix("one of: ").startswith("together, for x and y, ")
        assert 2 <= way.count(" instead of ") <= 4
    assert "the hall's departure" in way


def test_the_play_of_a_pin_serves_all_axes() -> None:
    tight = (("x: ±0.3 mm, y: ±0.3 mm, z: ±0.3 mm", "x: ±0.21 mm, y: ±0.3 mm, z: ±0.09 mm"),)
    _, result = checked(*tight)
    told = re.search(r"pin: ±([\d.]+) mm or less", row(result, "capability", "x").remedy)
    assert told is not None
    assert float(told[1]) * 1e-3 <= axis_of(result, "z").pin_play_m < axis_of(result, "x").pin_play_m
    pin = ("time: 1 s\n    force", f"time: 1 s\n    pin: ±{told[1]} mm\n    force")
    _, held = checked(*tight, pin)
    assert "fails" not in {finding.verdict for finding in held.findings}


def test_one_figure_that_helps_both_axes_is_told_alone() -> None:
    edits = (("nest: ±20 µm", "nest: ±90 µm"), ("x: ±0.3 mm, y: ±0.3 mm", "x: ±0.29 mm, y: ±0.24 mm"))
    _, result = checked(*edits)
    remedy = row(result, "capability", "y").remedy
    found = re.search(
        r"for x and y at once nest under fixture in the line file ±([\d.]+) mm instead of ±0.09 mm", remedy
    )
    assert found is not None, remedy
    for size, fails in ((float(found[1]), 0), (1.02 * float(found[1]), 1)):
        _, changed = checked(("nest: ±20 µm", f"nest: ±{size:.6f} mm"), edits[1])
        assert [row(changed, "capability", axis).verdict for axis in "xy"].count("fails") == fails


def test_no_number_is_told_with_an_exponent() -> None:
    _, tiny = checked(("x: ±0.3 mm", "x: ±0.001 µm"))
    _, huge = checked(("x: ±0.3 mm", "x: ±900 mm"), ("drift: ±12 µm", "drift: ±100 mm"))
    for result in (tiny, huge):
        for finding in result.findings:
            assert not re.search(r"\d[eE][-+]?\d", finding.where + finding.remedy), finding


def test_a_joint_that_decides_is_moved_away_from() -> None:
    edits = (("at: 1100 mm", "at: 1480 mm"), ("y: ±0.3 mm", "y: ±0.123 mm"))
    _, result = checked(*edits)
    failing = row(result, "capability", "y")
    assert failing.verdict == "fails"
    (there,) = re.findall(r"at: ([\d.]+) mm instead of 1480 mm, so that no joint", failing.remedy)
    assert float(there) > 1480.0
    _, moved = checked(("at: 1100 mm", f"at: {there} mm"), edits[1])
    assert "joint step" not in ends_um(moved, "y")
    assert row(moved, "capability", "y").verdict != "fails"


def test_a_joint_that_decides_is_cut_away() -> None:
    edits = (("at: 1100 mm", "at: 1480 mm"), ("y: ±0.3 mm", "y: ±0.123 mm"))
    _, result = checked(*edits)
    (off,) = re.findall(r"no_joint: ([\d.]+) mm at the station", row(result, "capability", "y").remedy)
    assert off == "32"  # the blocks stand 31 mm to each side, and a joint at 31 mm lies under one
    _, cut = checked(("at: 1100 mm", f"at: 1480 mm\n    no_joint: {off} mm"), edits[1])
    assert "joint step" not in ends_um(cut, "y")
    assert row(cut, "capability", "y").verdict != "fails"


def test_a_tolerance_of_nought_fails_and_is_no_exception() -> None:
    line = load_line(EXAMPLES / "demo" / "line.yaml")
    stated = line.station("press").tolerance
    assert stated is not None
    nought = stated.model_copy(update={"x_m": 0.0, "y_m": 0.001, "z_m": None})
    stations = tuple(
        one.model_copy(update={"tolerance": nought if one.name == "press" else None}) for one in line.stations
    )
    line = line.model_copy(update={"stations": stations})
    found = [row for row in check_accuracy(line, lay_out(line)).findings if row.code == "capability"]
    assert [row.verdict for row in found if "±0," in row.where] == ["fails"]
    assert len(found) == 2


def test_a_bias_alone_has_no_index() -> None:
    zero = (
        ("tolerance: ±30 µm", "tolerance: ±0 µm"),
        ("nest: ±20 µm", "nest: ±0 µm"),
        ("repeatability: ±10 µm", "repeatability: ±0 µm"),
        ("grip: ±15 µm", "grip: ±0 µm"),
        ("z: ±0.3 mm", "z: ±0.3 mm"),
    )
    line, _ = checked(*zero)
    sheet = line.conveyor
    assert sheet.guides is not None
    assert sheet.accuracy is not None
    still = sheet.model_copy(
        update={
            "guides": sheet.guides.model_copy(update={"play_m": 0.0}),
            "accuracy": sheet.accuracy.model_copy(update={"pitch_rad": 0.0, "roll_rad": 0.0, "yaw_rad": 0.0}),
        }
    )
    exact = line.model_copy(update={"conveyor": still})
    result = check_accuracy(exact, lay_out(exact))
    found = row(result, "capability", "z")
    assert (found.verdict, found.value, found.margin) == ("not checked", None, None)
    assert math.isnan(result.summary["cpk"][2])
    assert axis_of(result, "z").pinning == "not known"


# ---- tables and examples ---------------------------------------------------------------------------------------------


def test_the_tables_hold_what_the_rows_say() -> None:
    _, result = checked()
    assert len(result.summary) == 3
    assert len(result.budgets) == sum(len(one.counted) for one in result.axes)
    for record, one in zip(result.summary.rows(), result.axes, strict=True):
        assert (record["cpk"], record["worst_case_m"], record["ppm"]) == (
            one.budget.cpk,
            one.budget.worst_case_m,
            one.budget.parts_per_million,
        )
        mine = [r for r in result.budgets.rows() if r["axis"] == one.axis]
        assert math.fsum(r["share"] for r in mine) == pytest.approx(1.0)
        best = sorted(mine, key=lambda r: -r["share"])[:3]
        assert record["largest"] == ", ".join(r["contributor"] for r in best)
        assert all(r["gain_worst_case_m"] >= -1e-12 for r in mine)


def test_the_demo_line_is_accurate_enough() -> None:
    line = load_line(EXAMPLES / "demo" / "line.yaml")
    result = check_accuracy(line, lay_out(line))
    assert {finding.verdict for finding in result.findings} <= {"holds", "tight"}
    assert check_accuracy(line, lay_out(line)).findings == result.findings


def test_the_example_made_to_fail_fails() -> None:
    line = load_line(EXAMPLES / "limits" / "accuracy.yaml")
    result = check_accuracy(line, lay_out(line))
    failing = [finding for finding in result.findings if finding.verdict == "fails"]
    assert [finding.code for finding in failing] == ["capability"] * 3
    assert all(finding.remedy for finding in failing)
    assert not [finding for finding in result.findings if finding.verdict == "not checked"]


# ---- the base and the mounted track ----------------------------------------------------------------------------------


def with_accuracy(line: Line, **figures: float | None) -> AccuracyResult:
    """The check with other figures in the sheet's group `accuracy`."""
    sheet = line.conveyor
    assert sheet.accuracy is not None
    other = sheet.model_copy(update={"accuracy": sheet.accuracy.model_copy(update=figures)})
    changed = line.model_copy(update={"conveyor": other})
    return check_accuracy(changed, lay_out(changed))


def test_the_mounting_of_the_track_is_told_and_becomes_rows_of_acceptance() -> None:
    line, result = checked()
    note = row(result, "mounting")
    assert (note.verdict, note.value, note.limit, note.margin) == ("holds", None, None, None)
    assert note.place == line.conveyor.place("accuracy")
    # 2208 mm are three sections of 736 mm on each lane.
    assert "straight across within ±0.02 mm, flat within ±0.025 mm" in note.where
    assert "a step of more than ±0.012 mm at each of its 4 joints" in note.where
    rows = [(r["what"], r["lane"], r["limit_m"], r["places"]) for r in result.mounting.rows()]
    assert rows == [
        ("straightness", "upper", 20e-6, 1),
        ("straightness", "lower", 20e-6, 1),
        ("flatness", "upper", 25e-6, 1),
        ("flatness", "lower", 25e-6, 1),
        ("joint_step", "upper", 12e-6, 2),
        ("joint_step", "lower", 12e-6, 2),
    ]


def test_what_the_sheet_does_not_state_of_the_mounting_is_named_and_nothing_is_told_where_nothing_is_stated() -> None:
    line, _ = checked()
    some = with_accuracy(line, flatness_m=None)
    assert row(some, "mounting").where.endswith("; not stated in the sheet: flatness")
    assert "flat within" not in row(some, "mounting").where
    assert {r["what"] for r in some.mounting.rows()} == {"straightness", "joint_step"}
    none = with_accuracy(line, flatness_m=None, straightness_m=None, joint_step_m=None)
    assert all(finding.code != "mounting" for finding in none.findings)
    assert len(none.mounting) == 0


def test_a_ring_has_one_joint_more_where_it_closes() -> None:
    ring = load_line(EXAMPLES / "ways" / "ring.yaml")
    layout = lay_out(ring)
    steps = [r for r in check_accuracy(ring, layout).mounting.rows() if r["what"] == "joint_step"]
    assert [r["places"] for r in steps] == [len(layout.lanes[0].sections)]
