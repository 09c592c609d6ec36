"""Rows strength, accuracy and heat of the track chart: every station, group and verdict, traced to the evaluation."""

from __future__ import annotations

import dataclasses
import math
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.checks.motion.coils import coil_track
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.line.load import read_line
from linewright.pictures.grammar import Spec
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import INK, PAPER, Text
from linewright.pictures.track.accuracy_row import PLOT_PX as ACCURACY_PX
from linewright.pictures.track.accuracy_row import accuracy_row, axis_uses, index_words
from linewright.pictures.track.heat_row import PLOT_PX as HEAT_PX
from linewright.pictures.track.heat_row import group_heats, heat_row, scale_top_W
from linewright.pictures.track.limit_bars import MOST_SHARE, PLOT_PX
from linewright.pictures.track.sheet import Row, Sheet, sheet_of
from linewright.pictures.track.strength_row import StationUse, station_uses, strength_row
from linewright.tables import Column, Table

EXAMPLES = Path(__file__).parents[3] / "examples"
STRENGTH, ACCURACY = "limits/strength", "limits/accuracy"


@cache
def evaluated(name: str, *changes: tuple[str, str]) -> Evaluation:
    """An example without a run, some of its text replaced."""
    text = (EXAMPLES / f"{name}.yaml").read_text()
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return evaluate_without_run(read_line(text, file="test.yaml"))


def on_sheet(evaluation: Evaluation, size: float = 1.0) -> Sheet:
    return sheet_of(evaluation, None, Text(size))


def marks(sheet: Sheet, row: Row, kind: str, fill: str | None = None, aria: bool = True) -> list[dict[str, Any]]:
    """The rows of all marks of a kind that tell what they are; without `aria` of those that leave it to another."""
    found = []
    for one in row.chart["layer"]:
        mark, channels = one["mark"], one["encoding"]
        if mark["type"] != kind or (mark.get("aria", True) is not aria):
            continue
        if (aria and "description" not in channels) or (fill is not None and mark.get("color") != fill):
            continue
        found += sheet.data.rows[one["data"]["name"]]
    return found


def bars(sheet: Sheet, row: Row) -> list[dict[str, Any]]:
    """The bars from the foot up: boxes behind numbers are filled with ink, bars never are as a whole."""
    behind = [id(one) for one in marks(sheet, row, "rect", INK)]
    return [one for one in marks(sheet, row, "rect") if id(one) not in behind]


def hollow(sheet: Sheet, row: Row) -> list[str]:
    """What the dashed bars tell."""
    dashed = [one for one in row.chart["layer"] if one["mark"]["type"] == "rect" and "strokeDash" in one["mark"]]
    return [one["name"] for layer in dashed for one in sheet.data.rows[layer["data"]["name"]]]


def all_words(sheet: Sheet) -> str:
    """Whatever is written on a sheet."""
    return " ".join(
        str(value)
        for rows in sheet.data.rows.values()
        for row in rows
        for value in row.values()
        if isinstance(value, str)
    )


def values(sheet: Sheet, row: Row) -> dict[str, tuple[str, bool]]:
    """Station or place -> the number over it, and whether it stands white on dark."""
    return {
        one["name"].partition(",")[0].partition(":")[0]: (one["words"], one["colour"] == PAPER)
        for one in marks(sheet, row, "text")
    }


def heights(found: list[dict[str, Any]]) -> dict[str, float]:
    return {one["name"].partition(",")[0]: one["y2"] - one["y"] for one in found}


def uses_of(evaluation: Evaluation) -> dict[str, StationUse]:
    return {use.station: use for use in station_uses(evaluation)}


def text_boxes(sheet: Sheet, charts: list[Spec]) -> list[tuple[str, float, float, float, float]]:
    """Estimated boxes of all texts of views under one another: words, left, top, right, foot."""
    found, down = [], 0.0
    for chart in charts:
        for one in chart["layer"]:
            if one["mark"]["type"] != "text":
                continue
            look, channels = one["mark"], one["encoding"]
            size, key = look["fontSize"], channels["x"]["field"]
            for row in sheet.data.rows[one["data"]["name"]]:
                x = row[key] if channels["x"]["scale"] is None else sheet.to_px(sheet.lengths.to_SI(row[key]))
                words, x = row[channels["text"]["field"]], x + look.get("dx", 0)
                wide = 0.9 * text_width_px(words, size)  # the estimate is rather too wide
                y = row["y"] + down
                if look.get("angle"):
                    found.append((words, x - 0.45 * size, y - wide, x + 0.45 * size, y))
                    continue
                left = x - {"left": 0.0, "center": 0.5, "right": 1.0}[look["align"]] * wide
                top = y - (0.9 if look["baseline"] == "bottom" else 0.45) * size
                found.append((words, left, top, left + wide, top + 0.9 * size))
        down += chart["height"] + 10
    return found


def clashes(boxes: list[tuple[str, float, float, float, float]]) -> list[tuple[str, str]]:
    return [
        (one[0], other[0])
        for one, other in combinations(boxes, 2)
        if one[1] < other[3] and other[1] < one[3] and one[2] < other[4] and other[2] < one[4]
    ]


# ---- strength ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [STRENGTH, "charts/fourteen", "charts/forty"])
def test_every_station_stands_once_in_the_row_strength(name: str) -> None:
    e = evaluated(name)
    sheet = on_sheet(e)
    row = strength_row(sheet)
    stations = [station.name for station in e.line.stations]
    assert sorted(one["name"].split(",")[0].split(":")[0] for one in marks(sheet, row, "text")) == sorted(stations)
    with_force = [station.name for station in e.line.stations if station.force]
    assert [one["name"].split(",")[0] for one in bars(sheet, row)] == with_force
    for one in bars(sheet, row):
        at = sheet.station_m(one["name"].split(",")[0])
        assert (one["x"] + one["x2"]) / 2 == pytest.approx(sheet.value(at), abs=0.02)
        assert one["x2"] - one["x"] == pytest.approx(sheet.value(sheet.bar_m()), abs=0.02)
    assert {name for name, (words, _) in values(sheet, row).items() if words == "no force"} == set(stations) - {
        *with_force
    }


def test_heights_of_bars_are_the_greatest_shares_of_the_table() -> None:
    e = evaluated("charts/fourteen")
    sheet = on_sheet(e)
    drawn = heights(bars(sheet, strength_row(sheet)))
    assert e.limits is not None
    for row in e.limits.strength.stations.rows():
        safety_share = 2.5 / row["static_safety"]  # the sheet asks for 2.5
        shares = [row["down_share"], row["across_share"], row["along_share"], row["holding_share"], safety_share]
        assert drawn[row["station"]] == pytest.approx(max(shares) * PLOT_PX / MOST_SHARE), row["station"]
    assert drawn["press"] == pytest.approx(139 / 150 * PLOT_PX / 1.3)


def test_what_fails_in_the_findings_says_so_and_nothing_else_does() -> None:
    e = evaluated(STRENGTH)
    sheet = on_sheet(e)
    shown = values(sheet, strength_row(sheet))
    for verdict in ("fails", "tight"):
        found = [one for one in e.findings if one.subject == "strength" and one.verdict == verdict]
        named = {one.where.removeprefix("station ").partition(",")[0] for one in found}
        assert {name for name, (words, _) in shown.items() if words.startswith(verdict)} == named
        assert named
    assert {name for name, (_, strong) in shown.items() if strong} == {"press", "bearing", "pull", "unload"}
    assert shown["bearing"] == ("fails 138 %", True)  # 60 N of 43.4 N
    assert shown["seal"] == ("tight 92 %", False)
    assert shown["unload"] == ("fails off body", True)


def test_what_governs_is_the_limit_that_the_findings_name() -> None:
    governs = {name: use.governs for name, use in uses_of(evaluated(STRENGTH)).items()}
    assert governs == {
        "press": "force-down",
        "bearing": "holding-lasting",
        "seal": "force-across",
        "pull": "carrier-lift",
        "rivet": "support",
        "unload": "force-off-carrier",
    }
    uses = uses_of(evaluated(STRENGTH))
    assert "weight and magnets against lifting 119 % (900 N of 755 N)" in uses["pull"].told
    assert uses["rivet"].share == pytest.approx(4000 / 6000)
    assert "static safety 12 % (20.9, at least 2.5)" in uses["press"].told


def test_a_lift_that_holds_counts_at_every_station() -> None:
    # Of several stations that hold, the findings tell the worst alone; the table tells what all limits allow at each.
    changes = (
        ("{down: -300 N, greatest: 900 N", "{down: -300 N, greatest: 600 N"),
        ("{across: 300 N, greatest: 480 N", "{down: -100 N, greatest: 200 N"),
    )
    e = evaluated(STRENGTH, *changes)
    assert [one.where[:13] for one in e.findings if one.code == "carrier-lift"] == ["station pull,"]
    for name, lift_N in (("pull", 600.0), ("seal", 200.0)):
        use = uses_of(e)[name]
        assert (use.governs, use.verdict) == ("carrier-lift", "holds")
        assert use.share == pytest.approx(lift_N / 754.72389, rel=1e-6)


def test_static_safety_governs_as_asked_over_found() -> None:
    e = evaluated(STRENGTH)
    guides = e.line.conveyor.guides
    assert guides is not None
    weak = guides.model_copy(update={"static_rating_N": 1000.0})
    sheet = e.line.conveyor.model_copy(update={"guides": weak})
    use = uses_of(evaluate_without_run(e.line.model_copy(update={"conveyor": sheet})))["press"]
    found = 20.914319 * 1000.0 / guides.static_rating_N
    assert (use.governs, use.verdict) == ("static-safety", "fails")
    assert use.share == pytest.approx(2.5 / found, rel=1e-6)


def test_a_bar_far_beyond_its_limit_is_cut_and_marked() -> None:
    sheet = on_sheet(evaluated(STRENGTH))
    row = strength_row(sheet)
    drawn = heights(bars(sheet, row))
    assert drawn["bearing"] == pytest.approx(PLOT_PX)
    assert drawn["press"] == pytest.approx(1600 / 1350 * PLOT_PX / MOST_SHARE)
    assert [one["name"].split(",")[0] for one in marks(sheet, row, "point", aria=False)] == ["bearing"]
    over = marks(sheet, row, "rect", INK, aria=False)
    assert [one["name"].split(",")[0] for one in over] == ["press", "bearing", "pull"]
    level = next(one for rows in sheet.data.rows.values() for one in rows if one.get("words") == "limit 100 %")
    assert {one["y2"] for one in over} == {level["y"]}
    assert any("cut at 130 %" in entry.words for entry in row.key)


def test_a_force_that_is_not_stated_is_told_apart_from_none() -> None:
    changes = ((", force: {across: 300 N, greatest: 480 N, at: [30 mm, 0 mm, 120 mm]}", ""),)
    sheet = on_sheet(evaluated(STRENGTH, *changes))
    row = strength_row(sheet)
    assert values(sheet, row)["seal"] == ("not checked", True)
    assert values(sheet, row)["load"] == ("no force", False)
    assert "seal" not in heights(bars(sheet, row))


def test_a_station_without_its_greatest_force_is_not_checked_unless_it_fails_already() -> None:
    changes = (
        ("{across: 300 N, greatest: 480 N,", "{across: 300 N,"),
        ("{along: 35 N, greatest: 60 N,", "{along: 60 N,"),
    )
    e = evaluated(STRENGTH, *changes)
    sheet = on_sheet(e)
    row = strength_row(sheet)
    assert values(sheet, row)["seal"] == ("not checked 58 %", True)
    assert values(sheet, row)["bearing"] == ("fails 138 %", True)
    assert [told.split(",")[0] for told in hollow(sheet, row)] == ["seal"]
    assert "its greatest is not stated" in hollow(sheet, row)[0]


def test_without_the_sheet_s_figures_nothing_holds() -> None:
    e = evaluated(STRENGTH)
    bare = e.line.conveyor.model_copy(update={"allowed_force": None, "guides": None})
    found = uses_of(evaluate_without_run(e.line.model_copy(update={"conveyor": bare})))
    assert {name for name, use in found.items() if use.verdict == "holds"} == set()
    assert found["press"].verdict == "not checked"  # not "0 %": holding alone is known of it
    assert found["bearing"].verdict == "fails"


def test_rows_without_anything_say_why() -> None:
    e = evaluated("ways/ring")
    for row, why in ((strength_row, "no station states the key force"), (accuracy_row, "the key tolerance")):
        sheet = on_sheet(e)
        row(sheet)
        assert why in all_words(sheet)
    blocked = dataclasses.replace(e, limits=None)
    for row in (strength_row, accuracy_row, heat_row):
        assert row(on_sheet(blocked)).chart["height"] < 30


# ---- accuracy ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["charts/fourteen", "charts/forty", ACCURACY, STRENGTH])
def test_every_axis_with_a_tolerance_has_one_bar_of_asked_over_found(name: str) -> None:
    e = evaluated(name)
    sheet = on_sheet(e)
    drawn = bars(sheet, accuracy_row(sheet))
    assert e.limits is not None
    rows = e.limits.accuracy.summary.rows()
    assert [one["name"][: one["name"].index(" (")] for one in drawn] == [f"{r['station']}, {r['axis']}" for r in rows]
    for one, row in zip(drawn, rows, strict=True):
        share = min(row["asked_cpk"] / row["cpk"], MOST_SHARE)
        assert one["y2"] - one["y"] == pytest.approx(share * ACCURACY_PX / MOST_SHARE)
        axes = sorted({str(other["axis"]) for other in rows})
        wide_m = max(sheet.bar_m() / len(axes), 4.0 * sheet.m_a_px)
        left_m = sheet.station_m(row["station"]) + (axes.index(row["axis"]) - len(axes) / 2) * wide_m
        assert one["x"] == pytest.approx(sheet.value(left_m), abs=0.02)
        assert one["x2"] == pytest.approx(sheet.value(left_m + wide_m), abs=0.02)


def test_the_number_over_a_station_is_that_of_its_worst_axis() -> None:
    sheet = on_sheet(evaluated("charts/fourteen"))
    shown = values(sheet, accuracy_row(sheet))
    assert shown["solder"] == ("fails 0.97 of 1.33", True)
    assert shown["press"] == ("tight 1.35 of 1.33", False)
    sheet = on_sheet(evaluated(ACCURACY))
    assert values(sheet, accuracy_row(sheet))["nozzle"] == ("fails x Cpk 1.12 of 1.33", True)


def test_verdicts_of_axes_are_those_of_the_findings() -> None:
    wide = (("{x: ±0.15 mm, z: ±0.1 mm}", "{x: ±0.5 mm, y: ±0 mm, z: ±0.1 mm}"),)
    e = evaluated(STRENGTH, *wide)
    found = {use.axis: use for use in axis_uses(e)}
    assert {axis: use.verdict for axis, use in found.items()} == {"x": "not checked", "y": "fails", "z": "fails"}
    assert found["y"].share == math.inf
    sheet = on_sheet(e)
    row = accuracy_row(sheet)
    assert len(bars(sheet, row)) == 3
    assert values(sheet, row)["rivet"][1]
    assert len(hollow(sheet, row)) == 1
    assert hollow(sheet, row)[0].startswith("rivet, x (along): not checked")


def test_an_index_is_never_rounded_across_what_is_asked() -> None:
    assert index_words(1.3299, 1.33) == "Cpk under 1.33 of 1.33"
    assert index_words(1.3301, 1.33) == "Cpk 1.33 of 1.33"


# ---- heat --------------------------------------------------------------------------------------------------------


def heated(name: str, peak_W: float, limit_W: float = 12.0) -> Evaluation:
    """An example as if a run had warmed its coil groups: each a little more than the one before it, up to a peak."""
    e = evaluated(name)
    assert e.limits is not None
    motor = e.line.conveyor.drive.motor
    assert motor is not None
    assert motor.group_length_m is not None
    track = coil_track(e.layout, motor.group_length_m)
    ends = [
        (stretch.name, *sorted(pair))
        for stretch in track.stretches
        for pair in zip(stretch.floor_m, stretch.floor_m[1:], strict=False)
    ]
    load = peak_W * np.arange(1, len(ends) + 1) / len(ends)
    table = Table(
        (
            Column("lane", None, np.array([one[0] for one in ends])),
            Column("from_m", "m", np.array([one[1] for one in ends])),
            Column("to_m", "m", np.array([one[2] for one in ends])),
            Column("mean_W", "W", 0.5 * load),
            Column("worst_hour_W", "W", np.where(np.arange(len(ends)) % 2, load, 0.8 * load)),
            Column("filtered_W", "W", np.where(np.arange(len(ends)) % 2, 0.9 * load, load)),
            Column("limit_W", "W", np.full(len(ends), limit_W)),
            Column("under", None, np.array(["no stop"] * len(ends))),
        )
    )
    motion = dataclasses.replace(e.limits.motion, coil_heat=table)
    return dataclasses.replace(e, limits=dataclasses.replace(e.limits, motion=motion))


@pytest.mark.parametrize("name", ["demo/line", "ways/ring", "ways/branch", "ways/four-decks"])
def test_coil_groups_fill_their_lanes_and_platforms_on_the_axis(name: str) -> None:
    e = heated(name, 0.5)
    groups = group_heats(on_sheet(e))
    assert e.limits is not None
    assert e.limits.motion.coil_heat is not None
    assert len(groups) == len(e.limits.motion.coil_heat)
    stretches = [(lane.start_axis_m, lane.end_axis_m) for lane in e.layout.lanes]
    for one in e.layout.transfers:
        start_m = one.start_axis_m + one.gap_m
        stretches.append((start_m, start_m + one.platform_m))
    for start_m, end_m in stretches:
        mine = [one for one in groups if start_m - 1e-9 <= one.from_m and one.to_m <= end_m + 1e-9]
        assert mine[0].from_m == pytest.approx(start_m)
        assert mine[-1].to_m == pytest.approx(end_m)
        for one, after in pairwise(mine):
            assert one.to_m == pytest.approx(after.from_m, abs=1e-9)
    assert sum(one.to_m - one.from_m for one in groups) == pytest.approx(sum(b - a for a, b in stretches))


def test_far_below_the_limit_the_scale_is_broken_and_says_so() -> None:
    sheet = on_sheet(heated("demo/line", 0.47))
    drawn = bars(sheet, heat_row(sheet))
    levels = {one["words"]: one["y"] for rows in sheet.data.rows.values() for one in rows if "words" in one}
    foot, top, limit = levels["0"], levels["0.5 W"], levels["limit 12 W"]
    assert limit < levels["scale broken: the limit is 25.5 times as high as the hottest bar"] < top < foot
    for one, group in zip(sorted(drawn, key=lambda row: row["x"]), group_heats(sheet), strict=True):
        assert one["name"] == group.told
        assert one["y2"] - one["y"] == pytest.approx(group.load_W / 0.5 * (foot - top))
        assert one["x"] == pytest.approx(sheet.value(group.from_m), abs=1e-9)
        assert one["x2"] == pytest.approx(sheet.value(group.to_m), abs=1e-9)


def test_the_bar_of_a_group_is_the_greater_of_its_two_loads() -> None:
    e = heated("demo/line", 0.47)
    assert e.limits is not None
    assert e.limits.motion.coil_heat is not None
    loads = sorted(max(row["worst_hour_W"], row["filtered_W"]) for row in e.limits.motion.coil_heat.rows())
    assert sorted(group.load_W for group in group_heats(on_sheet(e))) == pytest.approx(loads)


@pytest.mark.parametrize("of", ["filtered_W", "worst_hour_W"])
def test_which_of_the_two_heats_the_hottest_bar_is_stands_there(of: str) -> None:
    e = heated("demo/line", 0.47)
    assert e.limits is not None
    table = e.limits.motion.coil_heat
    assert table is not None
    hot = Table(tuple(replace_values(one, 0.6) if one.name == of else one for one in table.columns))
    motion = dataclasses.replace(e.limits.motion, coil_heat=hot)
    sheet = on_sheet(dataclasses.replace(e, limits=dataclasses.replace(e.limits, motion=motion)))
    row = heat_row(sheet)
    (shown,) = [one["words"] for one in marks(sheet, row, "text")]
    assert shown in {"filtered_W": ("warmest 0.6 W", "0.6 W"), "worst_hour_W": ("hourly mean 0.6 W", "0.6 W")}[of]
    words = {"filtered_W": "0.6 W at its warmest", "worst_hour_W": "0.6 W in its greatest hourly mean"}[of]
    assert f": {words} (coil-" in all_words(sheet)


def replace_values(column: Column, value: float) -> Column:
    return Column(column.name, column.unit, np.full(len(column.values), value))


def test_groups_that_fail_stand_over_the_limit_line_and_are_named() -> None:
    sheet = on_sheet(heated("demo/line", 15.0))
    row = heat_row(sheet)
    groups = group_heats(sheet)
    levels = {one["words"]: one["y"] for rows in sheet.data.rows.values() for one in rows if "words" in one}
    assert levels["0"] - levels["limit 12 W"] == pytest.approx(HEAT_PX / MOST_SHARE)
    over = [one["name"] for one in marks(sheet, row, "rect", INK, aria=False)]
    assert sorted(over) == sorted(group.told for group in groups if group.load_W > 12.0)
    assert over
    shown = [(one["words"], one["colour"] == PAPER) for one in marks(sheet, row, "text")]
    assert ("fails hourly mean 15 W", True) in shown
    assert {words.split()[1] for words, _ in shown if words.startswith("tight")} == {"warmest"}
    failing = [strong for words, strong in shown if words.startswith("fails")]
    tight = [strong for words, strong in shown if words.startswith("tight")]
    assert all(failing)
    assert tight
    assert not any(tight)


def test_without_a_run_or_figures_the_row_heat_says_what_it_takes() -> None:
    e = evaluated("demo/line")
    drive = e.line.conveyor.drive
    silent = e.line.conveyor.model_copy(update={"drive": drive.model_copy(update={"motor": None})})
    unstated = dataclasses.replace(e, line=e.line.model_copy(update={"conveyor": silent}))
    for one, why in (
        (e, "it takes a simulated run: linewright check --run, rate or draw"),
        (unstated, "motor is not stated"),
    ):
        sheet = on_sheet(one)
        heat_row(sheet)
        assert why in all_words(sheet)


def test_the_scale_ends_at_a_round_figure_that_is_no_less() -> None:
    for hottest_W in (0.1, 0.100001, 0.47, 0.99, 1.0, 3.7, 9.99):
        top_W = scale_top_W(hottest_W)
        assert hottest_W <= top_W <= 1.34 * hottest_W


# ---- words -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("name", ["charts/five", "charts/fourteen", "charts/forty", STRENGTH])
def test_no_words_lie_over_others(name: str, size: float) -> None:
    for peak_W in (0.4, 14.0):
        sheet = on_sheet(heated(name, peak_W), size)
        rows = [strength_row(sheet), accuracy_row(sheet), heat_row(sheet)]
        boxes = text_boxes(sheet, [row.chart for row in rows])
        assert len(boxes) > 15
        assert clashes(boxes) == []
        assert max(one[3] for one in boxes) <= sheet.width_px + 1.0
