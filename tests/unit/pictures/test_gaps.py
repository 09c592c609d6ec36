"""What planted faults got past the other tests: fills, letters, units of time, bars and track in their places."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.line.load import load_line
from linewright.pictures.charts.carriers import rate_against_carriers
from linewright.pictures.grammar import Datasets
from linewright.pictures.key import KeyEntry, fill_entry, key_chart
from linewright.pictures.labels import text_width_px
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import FILL_WORDS, FILLS, Text
from linewright.pictures.track.accuracy_row import accuracy_row
from linewright.pictures.track.chart import Shown, track_chart
from linewright.pictures.track.sheet import Row, Sheet, sheet_of
from linewright.pictures.track.strength_row import strength_row
from linewright.pictures.track.thinned import kept_points
from linewright.pictures.track.threads import what_is_seen
from linewright.pictures.track.time_scale import time_scale
from unit.pictures import test_floor as floor
from unit.pictures.drawn import rows_of, views
from unit.pictures.hand_made import evaluation
from unit.pictures.test_carriers import count, sizing

EXAMPLES = Path(__file__).parents[3] / "examples"
INCH_M = 0.0254
# What the words of each fill must say and no others may, written down once more: two that change places must fail.
ALONE = {
    "work": "work",
    "tool": "tool prepares or clears",
    "change": "move in, settle, shake hands",
    "travel": "travel and transfer",
    "down": "repair",
    "blocked": "the carrier cannot leave",
    "starved": "no carrier comes",
    "waits": "people, parts outside, changeover, a break",
}


@pytest.fixture(scope="module")
def five() -> Evaluation:
    return evaluate_without_run(load_line(str(EXAMPLES / "charts" / "five.yaml")))


def test_every_fill_is_named_by_what_it_stands_for() -> None:
    assert FILL_WORDS.keys() == ALONE.keys() == FILLS.keys()
    for name, words in ALONE.items():
        assert [one for one, said in FILL_WORDS.items() if words in said] == [name]


def words_of(
    entries: list[KeyEntry], size: float, width_px: float
) -> tuple[dict[str, Any], list[dict[str, Any]], float]:
    """Look and rows of a key's words, and the key's height."""
    data = Datasets()
    view = key_chart(entries, data, Text(size), width_px)
    (words,) = [one for one in view["layer"] if one["mark"]["type"] == "text"]
    return words["mark"], data.rows["key"], view["height"]


@pytest.mark.parametrize(("size", "letters_px"), [(1.0, 12.0), (1.5, 18.0), (2.0, 24.0)])
def test_the_letters_of_the_key_grow_and_keep_apart(size: float, letters_px: float) -> None:
    """No two entries of a row meet, no two rows either."""
    look, rows, height_px = words_of([fill_entry(name) for name in FILLS], size, 900.0)
    assert look["fontSize"] == letters_px
    lines = sorted({row["y"] for row in rows})
    assert all(after - before >= 1.2 * letters_px for before, after in pairwise(lines))
    assert height_px >= lines[-1] + 0.6 * letters_px
    for y in lines:
        here = sorted((row["x"], row["x"] + text_width_px(row["text"], letters_px)) for row in rows if row["y"] == y)
        assert all(before[1] < after[0] for before, after in pairwise(here))
        assert here[-1][1] <= 900.0


def bars_of(sheet: Sheet, row: Row) -> list[dict[str, Any]]:
    """All rectangles of a row of the chart that tell what they are."""
    rects = [one for one in row.chart["layer"] if one["mark"]["type"] == "rect" and "description" in one["encoding"]]
    return [bar for one in rects for bar in sheet.data.rows[one["data"]["name"]] if bar.get("name")]


def test_bars_of_strength_and_accuracy_stand_at_the_places_of_their_stations(five: Evaluation) -> None:
    """In inches along the axis, as the layout places the stations, not as the sheet says."""
    sheet = sheet_of(five, None, Text())
    for row, apart_in in ((strength_row(sheet), 0.01), (accuracy_row(sheet), None)):
        seen = set()
        for stop in five.layout.stops:
            if stop.kind != "station":
                continue
            bars = [one for one in bars_of(sheet, row) if one["name"].startswith(f"{stop.station},") and "fill" in one]
            for bar in bars:
                at_in = (bar["x"] + bar["x2"]) / 2
                wide_in = bar["x2"] - bar["x"]
                # The axes of a station stand side by side about its place.
                limit_in = 1.01 * wide_in if apart_in is None else apart_in
                assert at_in == pytest.approx(stop.axis_m / INCH_M, abs=limit_in)
                seen.add(stop.station)
        assert seen == ({"load", "press", "leak"} if apart_in else {"press"})


@pytest.mark.parametrize(("span_s", "unit", "unit_s"), [(20.0, "s", 1), (1200.0, "min", 60), (28800.0, "h", 3600)])
def test_the_unit_of_the_axis_of_time_is_as_long_as_it_is_called(span_s: float, unit: str, unit_s: int) -> None:
    counted = time_scale(600.0, 600.0 + span_s, 10.5)
    assert (counted.unit, counted.unit_s) == (unit, unit_s)


@pytest.mark.parametrize(
    "file", ["charts/five", "charts/fourteen", "ways/branch", "ways/four-decks", "ways/repair-loop"]
)
def test_lanes_and_platforms_lie_where_their_stations_do(file: str) -> None:
    """Each lane from its west end to its east end and at its across, each platform its gap beyond the lane's end."""
    layout, picture, px_m = floor.evaluation(file).layout, floor.drawn(file), floor.scale(file)
    for level_m, view in floor.plans(file):
        boxes, rules = floor.marks(picture, view, "rect"), floor.marks(picture, view, "rule")
        stops = [one for one in layout.stops if one.kind == "station" and layout.lane(one.lane).level_m == level_m]
        if not stops:
            continue
        x_m, across_m = layout.lane(stops[0].lane).floor_point(stops[0].travel_m)
        (centre,) = floor.named(rules, f"centre line of {stops[0].station}")
        left_px, foot_px = centre["x"] - x_m * px_m, (centre["y"] + centre["y2"]) / 2 + across_m * px_m
        for lane in layout.lanes:
            if lane.level_m != level_m:
                continue
            here = [one for one in floor.starting(boxes, "section ") if one["name"].endswith(f" of lane {lane.name}")]
            west_px = left_px + lane.west_end_m * px_m
            ends = min(one["x"] for one in here), max(one["x2"] for one in here)
            assert ends == pytest.approx((west_px, west_px + lane.length_m * px_m), abs=0.01)
            for one in here:
                assert (one["y"] + one["y2"]) / 2 == pytest.approx(foot_px - lane.across_m * px_m, abs=0.01)
            for transfer in layout.transfers:
                takes = lane.name in transfer.takes
                if not takes and lane.name not in transfer.gives:
                    continue
                at_east = (lane.to == "east") == takes
                near_px = ends[1] + transfer.gap_m * px_m if at_east else ends[0] - transfer.gap_m * px_m
                name = f"platform of {transfer.kind} {transfer.name} at lane {lane.name}"
                platforms = floor.named(boxes, name)
                assert any(one["x" if at_east else "x2"] == pytest.approx(near_px, abs=0.01) for one in platforms)


def test_threads_and_carriers_of_an_inch_file_stand_in_inches() -> None:
    e = evaluation(stations=5, carriers=4, units="inch")
    picture = track_chart(e, shown=Shown(("track", "string-line")))
    seen = what_is_seen(e)
    assert seen is not None
    drawn = {row["carrier"]: row["x"] for name in ("threads", "bold-thread") for row in rows_of(picture, name)}
    outlines = {row["name"].split(" at ")[0]: (row["x"] + row["x2"]) / 2 for row in rows_of(picture, "carriers")}
    grain_in = 0.2 / INCH_M * e.layout.loop_m / 1180.0  # of a pixel
    for thread in seen.threads:
        places = [at_in for at_in in drawn[f"carrier {thread.carrier}"] if at_in is not None]
        assert places[0] == pytest.approx(thread.axis_m[0] / INCH_M, abs=grain_in)
        assert places[-1] == pytest.approx(thread.axis_m[-1] / INCH_M, abs=grain_in)
        assert outlines[f"carrier {thread.carrier}"] == pytest.approx(places[0], abs=grain_in)


def test_each_step_of_the_bound_lies_over_its_own_count() -> None:
    """Its middle is where the count's point stands, and neighbours meet half way."""
    line = load_line(EXAMPLES / "charts" / "five.yaml")
    picture = rate_against_carriers(sizing(line, [count(carriers) for carriers in range(3, 9)]))
    named = [row for row in rows_of_view(picture, "carriers") if isinstance(row.get("name"), str)]
    for carriers in range(3, 9):
        (step,) = [row for row in named if row["name"].startswith(f"{carriers} carriers: at most")]
        (dot,) = [row for row in named if re.match(rf"{carriers} carriers: .* 95 % interval", row["name"])]
        assert (step["x"] + step["x2"]) / 2 == pytest.approx(dot["x"])
    steps = sorted((row["x"], row["x2"]) for row in named if "carriers: at most" in row["name"])
    assert all(before[1] == pytest.approx(after[0]) for before, after in pairwise(steps))


def rows_of_view(picture: Picture, view: str) -> list[dict[str, Any]]:
    """The rows of all layers of one view."""
    found = views(picture.spec)[view]["layer"]
    return [row for one in found for row in picture.spec["datasets"][one["data"]["name"]]]


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_title_head_and_axes_grow_with_the_letters(size: float) -> None:
    """No line of the head is longer than the picture."""
    said, width_px = ["word " * 60, "and more"], 700.0
    spec = picture_of("name", "A title " * 12, said, [], [], Datasets(), Text(size), width_px).spec
    head, axis = spec["title"], spec["config"]["axis"]
    assert (head["fontSize"], head["subtitleFontSize"]) == (17.0 * size, 12.0 * size)
    assert head["subtitleLineHeight"] >= 1.2 * head["subtitleFontSize"]
    assert (axis["titleFontSize"], axis["labelFontSize"]) == (12.0 * size, 10.5 * size)
    for lines, letters_px in ((head["text"], 17.0 * size), (head["subtitle"], 12.0 * size)):
        assert len(lines) > 1
        assert all(text_width_px(line, letters_px) <= width_px for line in lines)


@pytest.mark.parametrize("tolerance_px", [0.1, 0.3, 2.0])
def test_no_place_of_a_wave_is_farther_from_its_thinned_line_than_told(tolerance_px: float) -> None:
    """Laws in random lines may miss a factor; a wave of many bends does not. And most of its points are left out."""
    x_px = np.arange(0.0, 600.0, 0.25)
    y_px = 40.0 * np.sin(x_px / 11.0) + x_px / 3.0
    kept = kept_points(x_px, y_px, tolerance_px)
    apart_px = np.abs(np.interp(x_px, x_px[kept], y_px[kept]) - y_px)  # along y, of which across is no more
    slopes = np.repeat(np.diff(y_px[kept]) / np.diff(x_px[kept]), np.diff(kept))
    across_px = apart_px[:-1] / np.sqrt(1.0 + slopes**2)
    assert 0.2 * tolerance_px < across_px.max() <= tolerance_px + 1e-9
    assert len(kept) < len(x_px) / 5
