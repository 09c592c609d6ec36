"""The feeder row of the track chart and the picture of the currents: their numbers are those of the evaluation."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pytest

from linewright.checks.power import check_power
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.pictures import NothingToDraw, Picture, Shown, Text, track_chart
from linewright.pictures.charts.current import amount, current_trace
from linewright.pictures.labels import text_width_px
from linewright.pictures.track.feeder_limits import SHORT
from linewright.pictures.track.feeder_row import feeder_row
from linewright.pictures.track.sheet import Row, Sheet, sheet_of
from unit.checks.test_power_check import EXAMPLES, duty_of, feeders_with, sheet_with

RUN: Any = SimpleNamespace(runs=3, hours=0.5, seed=7)


def with_run(e: Evaluation) -> Evaluation:
    """The same with made-up moves, of which the power alone is known."""
    assert e.limits is not None
    duty = duty_of(e.line, e.layout)
    power = check_power(e.line, e.layout, duty)
    return replace(e, run=RUN, duty=duty, limits=replace(e.limits, power=power))


def altered(e: Evaluation, line: Line) -> Evaluation:
    """The same limits but for the power of a line that is fed otherwise."""
    assert e.limits is not None
    return replace(e, line=line, limits=replace(e.limits, power=check_power(line, e.layout, e.duty)))


@pytest.fixture(scope="module")
def bare() -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / "demo/line.yaml"))


@pytest.fixture(scope="module")
def demo(bare: Evaluation) -> Evaluation:
    return with_run(bare)


@pytest.fixture(scope="module")
def failing() -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / "limits/power.yaml"))


def rows_of(sheet: Sheet) -> list[dict[str, Any]]:
    return [row for rows in sheet.data.rows.values() for row in rows]


def drawn(e: Evaluation, size: float = 1.0) -> tuple[Sheet, Row]:
    sheet = sheet_of(e, None, Text(size))
    return sheet, feeder_row(sheet)


def told(rows: list[dict[str, Any]], pattern: str) -> list[dict[str, Any]]:
    return [row for row in rows if re.fullmatch(pattern, str(row.get("name", "")))]


def picture_rows(picture: Picture) -> list[dict[str, Any]]:
    return [row for rows in picture.spec["datasets"].values() for row in rows]


def said(rows: list[dict[str, Any]]) -> list[str]:
    return [str(row["words"]) for row in rows if "words" in row]


def keyed(rows: list[dict[str, Any]]) -> list[str]:
    return [str(row["text"]) for row in rows if "text" in row]


def power(e: Evaluation) -> Any:
    assert e.limits is not None
    return e.limits.power


# ---- the row of the track chart --------------------------------------------------------------------------------------


def test_every_section_stands_on_the_axis_once_and_next_to_the_other(bare: Evaluation) -> None:
    sheet, _ = drawn(bare)
    for lane in bare.layout.lanes:
        boxes = told(rows_of(sheet), rf"section \d+ of lane {lane.name}, .*")
        names = [re.match(r"section (\d+)", row["name"])[1] for row in boxes]  # type: ignore[index]
        assert sorted(map(int, names)) == list(range(1, len(lane.joints_travel_m) + 2))
        ends = sorted((row["x"], row["x2"]) for row in boxes)
        assert ends[0][0] == sheet.value(lane.start_axis_m)
        assert ends[-1][1] == sheet.value(lane.end_axis_m)
        assert [end for _, end in ends[:-1]] == [start for start, _ in ends[1:]]


def test_numbers_of_a_section_are_those_of_the_table(failing: Evaluation) -> None:
    sheet, _ = drawn(failing)
    for one in power(failing).sections:
        place = f"section {one['number']} of lane {one['lane']}, feeder {one['feeder']}: "
        (row,) = [row for row in rows_of(sheet) if str(row.get("name", "")).startswith(place)]
        assert f"{amount(one['voltage_V'], 'V')}, lowest 38 V" in row["name"]
        assert f"; {amount(one['current_A'], 'A')} in the " in row["name"]
        assert (": fails, " in row["name"]) == (one["voltage_V"] < 38.0)
        assert row["name"].endswith(one["case"])


@pytest.mark.parametrize("enters", ["west", "east"])
def test_the_line_goes_from_the_entry_outward_and_never_up(bare: Evaluation, enters: str) -> None:
    e = altered(bare, feeders_with(bare.line, enters=enters))
    sheet, _ = drawn(e)
    for feeder in e.line.feeders:
        points = told(rows_of(sheet), f"feeder {feeder.name}: voltage along it, all carriers restart")
        lane = e.layout.lane(feeder.lane)
        rises = lane.from_ == enters
        heads = lane.start_axis_m, lane.end_axis_m
        assert points[0]["x"] == sheet.value(heads[0 if rises else 1])
        assert points[-1]["x"] == sheet.value(heads[1 if rises else 0])
        falls = [row["y"] for row in points]
        assert falls == sorted(falls)
        assert falls[0] < falls[-1]
        (entry,) = [row for row in rows_of(sheet) if str(row.get("name")).startswith(f"entry of feeder {feeder.name}:")]
        assert entry["x"] == pytest.approx(sheet.to_px(sheet.lengths.to_SI(points[0]["x"])), abs=4.0)
        assert entry["words"].startswith("→ ") if rises else entry["words"].endswith(" ←")


def test_heights_of_voltages_and_currents_follow_the_table(failing: Evaluation) -> None:
    """Both scales are straight: heights of the steps, of the lines and of the bars go as the figures do."""
    sheet, _ = drawn(failing)
    result = power(failing)
    points = told(rows_of(sheet), "feeder upper: voltage along it, .*")
    sections = [row for row in result.sections if row["feeder"] == "upper"]
    supply_px, first_px, last_px = points[0]["y"], points[1]["y"], points[-1]["y"]
    low_V, first_V, last_V = result.electrics.low_V, sections[0]["voltage_V"], sections[-1]["voltage_V"]
    assert (last_px - supply_px) / (first_px - supply_px) == pytest.approx((low_V - last_V) / (low_V - first_V))
    levels = [row["y"] for row in rows_of(sheet) if row.get("x") == 0.0 and row.get("x2") == sheet.width_px]
    lowest_px = supply_px + (last_px - supply_px) * (low_V - 38.0) / (low_V - last_V)
    assert any(y_px == pytest.approx(lowest_px) for y_px in levels)
    foot_px = max(levels)
    bars = [row for row in rows_of(sheet) if row.get("y2") == foot_px and "name" not in row and row["y"] > last_px]
    heights = sorted(foot_px - row["y"] for row in bars if row["x2"] > row["x"])
    currents = sorted(row["current_A"] for row in result.sections)
    for row in result.feeders:
        (given,) = told(rows_of(sheet), f"feeder {row['feeder']}: its supplies give {amount(row['supplies_A'], 'A')}")
        assert (foot_px - given["y"]) / heights[-1] == pytest.approx(row["supplies_A"] / currents[-1])
    assert [one / heights[-1] for one in heights] == pytest.approx([one / currents[-1] for one in currents])


def test_what_fails_stands_white_on_dark_and_thick(failing: Evaluation, bare: Evaluation) -> None:
    sheet, row = drawn(failing)
    far = told(rows_of(sheet), "far end of feeder upper: fails; .*")
    assert {one["words"] for one in far if "words" in one} == {"upper: fails 35.8 V at the far end"}
    assert len(far) == 2
    assert len(told(rows_of(sheet), "far end of feeder lower: holds; .*")) == 1
    assert "fails: below the lowest voltage" in [entry.words for entry in row.key]
    fine, other = drawn(bare)
    assert "fails: below the lowest voltage" not in [entry.words for entry in other.key]
    assert not [one for one in said(rows_of(fine)) if "fails" in one]
    assert "upper: 40.1 V at the far end" in said(rows_of(fine))


def rated(e: Evaluation, **row: Any) -> Evaluation:
    """The same with other figures in the row ``all-restart`` of the upper feeder."""
    changed = tuple(
        replace(one, **row) if one.code == "all-restart" and one.where.startswith("feeder upper:") else one
        for one in e.findings
    )
    return replace(e, findings=changed)


def labels_of(sheet: Sheet) -> dict[str, bool]:
    """What does not hold, as it stands over the row, and whether it is white on dark."""
    rows = [
        row for row in rows_of(sheet) if re.match(r"feeder \w+: (fails|tight|not checked)", str(row.get("name", "")))
    ]
    dark = {row["name"] for row in rows if "words" not in row}
    assert all(row["name"] == f"feeder {row['words']}" for row in rows if "words" in row)
    return {row["words"]: row["name"] in dark for row in rows if "words" in row}


def test_every_row_of_a_feeder_that_does_not_hold_stands_over_it(bare: Evaluation) -> None:
    """Of five examples, against the findings: nothing that fails, is tight or is not checked is left out."""
    for e in (bare, *(evaluate_without_run(load_line(EXAMPLES / f"charts/{name}.yaml")) for name in ("five", "forty"))):
        due = set()
        for one in e.findings:
            for feeder in e.line.feeders:
                if (
                    one.subject == "power"
                    and one.verdict != "holds"
                    and re.match(rf"feeders? .*\b{feeder.name}\b", one.where)
                ):
                    due.add((feeder.name, one.code, one.verdict))
        sheet, _ = drawn(e)
        shown = labels_of(sheet)
        for feeder, code, verdict in due:
            if code == "far-end-voltage":
                assert told(rows_of(sheet), f"far end of feeder {feeder}: {verdict}; .*")
            else:
                mark = f"{feeder}: {verdict}"
                assert any(words.startswith(mark) and SHORT[code] in words for words in shown), (feeder, code)
        assert len(shown) == len([one for one in due if one[1] != "far-end-voltage"])
        assert all(dark == (": tight" not in words) for words, dark in shown.items())


def test_a_row_that_fails_has_its_figures_and_check_s_current_is_explained(bare: Evaluation) -> None:
    sheet, _ = drawn(rated(bare, verdict="fails", value=39.96, limit=24.0))
    assert labels_of(sheet)["upper: fails restart 40 A of 24 A"]
    assert any("all-restart of check" in one for one in said(rows_of(sheet)))
    sheet, _ = drawn(rated(bare, verdict="tight", value=23.2, limit=24.0))
    assert not labels_of(sheet)["upper: tight restart 23.2 A of 24 A"]
    sheet, _ = drawn(rated(bare, verdict="fails", value=24.001, limit=24.0))
    assert "upper: fails restart 24.001 A of 24 A" in labels_of(sheet)
    sheet, _ = drawn(bare)
    assert not any("all-restart of check" in one for one in said(rows_of(sheet)))


def test_supplies_far_above_the_currents_are_an_arrow(bare: Evaluation) -> None:
    strong = feeders_with(bare.line, supplies=20)
    sheet, row = drawn(altered(bare, strong))
    assert "supply 480 A ↑" in said(rows_of(sheet))
    assert not told(rows_of(sheet), "feeder .*: its supplies give .*")
    assert "what a feeder's supplies give" not in [entry.words for entry in row.key]


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_both_ends_bear_the_name_of_their_feeder(failing: Evaluation, size: float) -> None:
    sheet, _ = drawn(failing, size)
    for end in ("entry", "far end"):
        for name in ("upper", "lower"):
            ends = told(rows_of(sheet), f"{end} of feeder {name}: .*")
            assert all(name in one["words"] for one in ends if "words" in one)
            assert any("words" in one for one in ends)


def test_a_voltage_that_rounds_to_the_lowest_but_fails_is_told_finer(bare: Evaluation) -> None:
    e = altered(bare, sheet_with(bare.line, "drive", lowest_voltage_V=40.137))
    sheet, _ = drawn(e)
    assert "upper: fails 40.14 V at the far end" in said(rows_of(sheet))


def test_what_is_not_known_is_named(bare: Evaluation) -> None:
    first, second = bare.line.feeders
    mixed = bare.line.model_copy(update={"feeders": (first, second.model_copy(update={"cable": None}))})
    sheet, _ = drawn(altered(bare, mixed))
    assert "lower: not checked: cable or link not known ←" in said(rows_of(sheet))
    assert not told(rows_of(sheet), "feeder lower: voltage along it.*")
    one = bare.line.model_copy(update={"feeders": (first,)})
    sheet, _ = drawn(altered(bare, one))
    assert "not checked: no feeder" in said(rows_of(sheet))
    assert told(rows_of(sheet), "sections 1 to 5 of lane lower: not checked, no feeder")
    cable = first.cable.model_copy(update={"length_m": 900.0})  # type: ignore[union-attr]
    long = bare.line.model_copy(update={"feeders": (first.model_copy(update={"cable": cable}), second)})
    sheet, _ = drawn(altered(bare, long))
    assert "→ upper: fails: the power does not get there" in said(rows_of(sheet))
    assert len(told(rows_of(sheet), "section . of lane upper, .* its power does not get there at all")) == 5


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda line: line.model_copy(update={"feeders": ()}), "no feeders are stated"),
        (lambda line: feeders_with(line, cable=None), "state the key cable under the feeder in the line file"),
        (lambda line: sheet_with(line, "supply"), "state the key supply in the conveyor sheet"),
    ],
)
def test_a_row_of_which_nothing_is_known_says_why(bare: Evaluation, change: Any, why: str) -> None:
    sheet, row = drawn(altered(bare, change(bare.line)))
    assert said(rows_of(sheet)) == [f"Feeder voltage and current: not known, {why}"]
    assert row.name == "feeder"
    assert row.key == ()


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_labels_of_many_feeders_keep_apart(bare: Evaluation, size: float) -> None:
    first = bare.line.feeders[0]
    parts = [
        first.model_copy(update={"name": f"{lane}-{k}", "lane": lane, "from_m": 0.736 * k, "to_m": 0.736 * (k + 1)})
        for lane in ("upper", "lower")
        for k in range(5)
    ]
    sheet, row = drawn(altered(bare, bare.line.model_copy(update={"feeders": tuple(parts)})), size)
    small = sheet.text.small_px
    boxes = []
    for spec in row.chart["layer"]:
        if spec["mark"]["type"] != "text" or "x" not in spec["encoding"]:
            continue
        for one in sheet.data.rows[spec["data"]["name"]]:
            if not re.match("(entry|far end) of", str(one.get("name"))):
                continue
            wide, x_px = text_width_px(one["words"], small), one["x"]
            left = {"left": x_px, "right": x_px - wide, "center": x_px - wide / 2}[spec["mark"]["align"]]
            boxes.append((one["y"], left, left + wide))
    assert len(boxes) == 20
    boxes.sort()
    for (y, _, right), (next_y, left, _) in pairwise(boxes):
        assert next_y - y >= 1.4 * small or left > right
    assert min(left for _, left, _ in boxes) >= 0.0
    assert max(right for _, _, right in boxes) <= sheet.width_px


def test_the_row_in_the_svg(failing: Evaluation) -> None:
    root = ElementTree.fromstring(track_chart(failing, None, Shown(rows=("feeder",))).svg())
    labels = [node.get("aria-label", "") for node in root.iter()]
    sections = [one for one in labels if one.startswith("section ")]
    assert len(sections) == len(set(sections)) == len(power(failing).sections)
    assert [one for one in labels if re.fullmatch("feeder .*: voltage along it, .*", one)] == [
        "feeder upper: voltage along it, all carriers restart",
        "feeder lower: voltage along it, all carriers restart",
    ]
    texts = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert texts.count("lowest 38 V") == 1


# ---- the currents ----------------------------------------------------------------------------------------------------


def test_each_feeder_has_its_trace_and_its_peak(demo: Evaluation) -> None:
    rows = picture_rows(current_trace(demo))
    trace, feeders = power(demo).trace, power(demo).feeders.rows()
    for one in feeders:
        of = trace["feeder"] == one["feeder"]
        currents, times = trace["current_A"][of], trace["time_s"][of]
        most_A, when_s = float(currents.max()), float(times[currents.argmax()])
        curve = told(rows, rf"feeder {one['feeder']}: current from its supplies, .*; at most .*")
        assert f"at most {amount(most_A, 'A')} at {when_s:.6g} s" in curve[0]["name"]
        assert f"{times[0]:.6g} s to {times[-1] + 0.01:.6g} s" in curve[0]["name"]
        what = "peak" if most_A == one["peak_A"] else "greatest here"
        dots = told(rows, rf"feeder {one['feeder']}: {what} .*")
        (dot,) = dots
        words = f"{what} {amount(most_A, 'A')} at {when_s:.6g} s"
        assert dot["name"] == f"feeder {one['feeder']}: {words}, of 24 A of its supplies"
        assert dot["y"] == min(row["y"] for row in curve)
        assert dot["x"] == pytest.approx(next(row["x"] for row in curve if row["y"] == dot["y"]), abs=1.0)
    assert sum(bool(told(rows, rf"feeder {one['feeder']}: peak .*")) for one in feeders) >= 1


def test_steps_stand_as_high_as_their_bins_on_one_scale(demo: Evaluation) -> None:
    rows = picture_rows(current_trace(demo))
    trace = power(demo).trace
    shares = []
    for one in power(demo).feeders:
        curve = told(rows, rf"feeder {one['feeder']}: current from its supplies, .*")
        of = trace["feeder"] == one["feeder"]
        currents = trace["current_A"][of]
        heights = [row["y"] for row in curve]
        foot = max(heights)
        assert currents.min() == pytest.approx(0.0, abs=0.02)
        shares.append((foot - min(heights)) / currents.max())
        left, right = curve[0]["x"], curve[-1]["x"]
        for place in (0.1, 0.37, 0.8):
            at_px = left + place * (right - left) + 1e-6
            y = [row["y"] for row in curve if row["x"] <= at_px][-1]
            near = currents[int(place * len(currents)) - 2 : int(place * len(currents)) + 3]
            assert (foot - y) / shares[-1] == pytest.approx(near.mean(), abs=0.5 * (near.max() - near.min()) + 0.05)
    assert shares[0] == pytest.approx(shares[1], rel=0.01)


def test_levels_are_named_and_one_far_above_is_an_arrow(demo: Evaluation) -> None:
    words = said(picture_rows(current_trace(demo)))
    rms = [amount(one["rms_A"], "A") for one in power(demo).feeders]
    assert [one for one in words if one.startswith("effective")] == [f"effective {one}" for one in rms]
    peak_A = float(power(demo).feeders["peak_A"].max())
    assert peak_A * 2.5 < 24.0
    assert "effective current of what was searched" in keyed(picture_rows(current_trace(demo)))
    assert words.count("↑ supply 24 A") == words.count("↑ fuse 25 A") == 2
    near = altered(demo, feeders_with(demo.line, fuse_A=None, breaker_A=round(1.5 * peak_A, 1)))
    rows = picture_rows(current_trace(near))
    assert f"breaker {amount(round(1.5 * peak_A, 1), 'A')}" in said(rows)
    levels = told(rows, r"feeder upper: breaker .*")
    assert len(levels) == 1


def test_cases_say_the_figures_of_the_feeders(failing: Evaluation) -> None:
    e = with_run(failing)
    bars = {row["name"]: row for row in picture_rows(current_trace(e)) if ": all " in str(row.get("name"))}
    result = power(e)
    for one in result.feeders:
        name, all_of = f"feeder {one['feeder']}", f"all {one['carriers']} carriers"
        restart = next(row for told_, row in bars.items() if told_.startswith(f"{name}: {all_of} restart"))
        assert (
            restart["name"]
            == f"{name}: {all_of} restart at once: {amount(one['restart_A'], 'A')} of 24 A of its supply: holds"
        )
        brake = next(row for told_, row in bars.items() if told_.startswith(f"{name}: {all_of} brake"))
        assert f"give back {amount(one['braking_J'], 'J')}" in brake["name"]
        assert f"{amount(one['braking_V'], 'V')} of 55 V trip" in brake["name"]
        assert ("into the braking resistor" in brake["name"]) == (one["resistor_J"] > 0.0)
        verdict = "fails" if one["braking_V"] > 55.0 else "tight" if one["braking_V"] > 49.5 else "holds"
        assert brake["name"].endswith(f": {verdict}")
        wide = restart["x2"] - restart["x"], brake["x2"] - brake["x"]
        if one["braking_V"] < 55.0:
            shares = one["restart_A"] / 24.0, one["braking_V"] / 55.0
            assert wide[0] / wide[1] == pytest.approx(shares[0] / shares[1])


def test_without_the_resistor_the_bar_trips(failing: Evaluation) -> None:
    rows = picture_rows(current_trace(failing))
    upper = next(one for one in power(failing).feeders if one["feeder"] == "upper")
    (bar,) = told(rows, "feeder .*: for information, the same were its braking resistor gone: .*")
    volts = amount(upper["unaided_V"], "V")
    gone = "for information, the same were its braking resistor gone"
    assert bar["name"] == f"feeder upper: {gone}: {volts} of 55 V trip: would trip"
    (brake,) = told(rows, "feeder upper: all .* brake at once .*")
    assert (bar["x2"] - bar["x"]) / (brake["x2"] - brake["x"]) == pytest.approx(upper["unaided_V"] / upper["braking_V"])


def test_the_far_end_is_that_of_the_finding(failing: Evaluation) -> None:
    names = [row["name"] for row in told(picture_rows(current_trace(failing)), "feeder upper: far end, .*")]
    found = next(row for row in power(failing).findings if row.code == "far-end-voltage" and " upper:" in row.where)
    volts = power(failing).feeders["restart_V"][0]
    lost = f"lost {amount(found.value, 'V')} of {amount(found.limit, 'V')}"
    assert names == [f"feeder upper: far end, all carriers restart: {amount(volts, 'V')}, lowest 38 V; {lost}: fails"]


def test_without_a_run_only_the_cases_stand(bare: Evaluation) -> None:
    picture = current_trace(bare)
    rows = picture_rows(picture)
    assert not told(rows, "feeder .*: current from its supplies.*")
    assert not told(rows, "feeder .*: worst 10 ms of the .* searched.*")
    assert len(told(rows, "feeder .*: all 24 carriers restart at once: .*")) == 2
    assert any("needs a run" in line for line in picture.spec["title"]["subtitle"])
    assert "effective current of what was searched" not in keyed(rows)


def test_a_power_beyond_the_cable_has_no_number(demo: Evaluation) -> None:
    cable = demo.line.feeders[0].cable.model_copy(update={"length_m": 6000.0})  # type: ignore[union-attr]
    rows = picture_rows(current_trace(altered(demo, feeders_with(demo.line, cable=cable))))
    words = said(rows)
    assert not [one for one in words if re.search(r"\b(inf|nan)\b", one)]
    assert len(told(rows, r"feeder .*: worst 10 ms of the \d+ s searched: cable and links cannot carry .*: fails")) == 2
    assert "goes on beyond the scale" in keyed(rows)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda line: line.model_copy(update={"feeders": ()}), "no feeders are stated: state the key feeders"),
        (lambda line: sheet_with(line, "supply"), "supply is not stated; state the key supply in the conveyor sheet"),
    ],
)
def test_nothing_to_draw_says_what_would_give_something(bare: Evaluation, change: Any, why: str) -> None:
    with pytest.raises(NothingToDraw, match=why):
        current_trace(altered(bare, change(bare.line)))


def test_no_number_is_parted_from_its_unit(demo: Evaluation) -> None:
    words = said(picture_rows(current_trace(demo, Text(2.0))))
    assert not [one for one in words if re.search(r"\d$", one) and " " in one]
    assert not [one for one in words if re.match(r"(A|V|J|ms) ", one)]


@pytest.mark.parametrize("size", [1.0, pytest.param(2.0, marks=pytest.mark.long)])
def test_the_picture_of_the_currents_in_the_svg(demo: Evaluation, size: float) -> None:
    picture = current_trace(demo, Text(size))
    assert picture.name == "current"
    root = ElementTree.fromstring(picture.svg())
    labels = [node.get("aria-label", "") for node in root.iter()]
    for name in ("upper", "lower"):
        assert len([one for one in labels if one.startswith(f"feeder {name}: current from its supplies")]) == 1
    assert {float(node.get("font-size", "0px")[:-2]) for node in root.iter() if node.get("font-size")} <= {
        10.5 * size,
        12.0 * size,
        17.0 * size,
    }


def test_an_amount_has_three_digits_and_no_power_of_ten() -> None:
    assert [amount(*one) for one in ((1290.4, "W"), (0.05432, "A"), (41.16, "V"), (0.0, "A"))] == [
        "1290 W",
        "0.0543 A",
        "41.2 V",
        "0 A",
    ]
