"""The line on the floor: to scale, everything named once a view, dimensions as the layout has them, words apart."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.layout import resting_order
from linewright.line.load import load_line, read_line
from linewright.pictures.floor import floor_plan
from linewright.pictures.floor.board import words_box
from linewright.pictures.floor.ground import docks, levels_of
from linewright.pictures.picture import Picture
from linewright.pictures.style import Text

EXAMPLES = Path(__file__).parents[3] / "examples"
FILES = (
    "charts/five",
    "charts/fourteen",
    "charts/forty",
    "ways/ring",
    "ways/branch",
    "ways/four-decks",
    "ways/to-and-fro",
    "ways/two-place-lift",
    "ways/together",
    "ways/spur-admission",
    "ways/repair-loop",
    "locks/spur",
)
NEAR = 1e-3  # pixels are written to a thousandth


@cache
def evaluation(file: str) -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / f"{file}.yaml"))


@cache
def drawn(file: str, size: float = 1.0) -> Picture:
    return floor_plan(evaluation(file), Text(size))


def made(*rows: str, carriers: int = 1) -> Evaluation:
    head = ["linewright: 1", "name: Test line (invented)", "conveyor: demo-light", f"carriers: {carriers}"]
    return evaluate_without_run(read_line("\n".join([*head, *rows]) + "\n", file="test.yaml"))


def views(picture: Picture) -> list[dict[str, Any]]:
    """Plans from the highest deck down, then the side view."""
    found: list[dict[str, Any]] = picture.spec["vconcat"][0]["vconcat"]
    return found


def marks(picture: Picture, view: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    """Rows of all marks of a kind, each with its look."""
    return [
        {**layer["mark"], **row}
        for layer in view["layer"]
        if layer["mark"]["type"] == kind
        for row in picture.spec["datasets"][layer["data"]["name"]]
    ]


def named(rows: list[dict[str, Any]], name: str) -> list[dict[str, Any]]:
    return [row for row in rows if row.get("name", "") == name]


def starting(rows: list[dict[str, Any]], start: str) -> list[dict[str, Any]]:
    return [row for row in rows if row.get("name", "").startswith(start)]


def plans(file: str) -> Iterator[tuple[float, dict[str, Any]]]:
    """Level and view of each deck."""
    yield from zip(levels_of(evaluation(file).layout), views(drawn(file))[:-1], strict=True)


def scale(file: str) -> float:
    """Pixels of one metre, from the overall dimension and the layout alone."""
    layout, picture = evaluation(file).layout, drawn(file)
    (line,) = starting(marks(picture, views(picture)[-1], "rule"), "overall length")
    half_m = 0.112 / 2  # of the sheet demo-light, which is as wide as the fixtures or wider
    ends = [end for dock in docks(layout) for end in (dock.west_m, dock.east_m)]
    for lane in layout.lanes:
        if lane.radius_m is None:
            ends += [lane.west_end_m, lane.west_end_m + lane.length_m]
        else:
            ends += [piece.x_m + side for piece in lane.pieces for side in (-half_m, half_m)]
    return float((line["x2"] - line["x"]) / (max(ends) - min(ends)))


# --- to scale ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("file", FILES)
def test_along_every_section_and_platform_has_one_scale(file: str) -> None:
    layout, picture, px_m = evaluation(file).layout, drawn(file), scale(file)
    seen = 0
    for level_m, view in plans(file):
        boxes = marks(picture, view, "rect")
        for lane in layout.lanes:
            if abs(lane.level_m - level_m) > 1e-6 or lane.is_ring:
                continue
            sections = starting(boxes, "section ")
            here = [row for row in sections if row["name"].endswith(f"of lane {lane.name}")]
            assert sum(row["x2"] - row["x"] for row in here) / px_m == pytest.approx(lane.length_m, abs=1e-4)
            assert len(here) == len(lane.sections)
            seen += 1
        for dock in docks(layout):
            for row in named(boxes, f"platform of {dock.transfer.kind} {dock.transfer.name} at lane {dock.lane.name}"):
                assert (row["x2"] - row["x"]) / px_m == pytest.approx(dock.transfer.platform_m, abs=1e-4)
    assert seen == sum(not lane.is_ring for lane in layout.lanes)


@pytest.mark.parametrize("file", FILES)
def test_across_and_upwards_have_the_scale_of_along(file: str) -> None:
    e, picture, px_m = evaluation(file), drawn(file), scale(file)
    for level_m, view in plans(file):
        rules = marks(picture, view, "rule")
        places = []
        for stop in e.layout.stops:
            lane = e.layout.lane(stop.lane)
            if stop.kind != "station" or abs(lane.level_m - level_m) > 1e-6:
                continue
            x_m, across_m = lane.floor_point(stop.travel_m)
            (centre,) = named(rules, f"centre line of {stop.station}")
            places.append((x_m, across_m, centre["x"], (centre["y"] + centre["y2"]) / 2))
        for one, other in itertools.pairwise(places):
            assert other[2] - one[2] == pytest.approx((other[0] - one[0]) * px_m, abs=0.01)
            assert one[3] - other[3] == pytest.approx((other[1] - one[1]) * px_m, abs=0.01)
    side = marks(picture, views(picture)[-1], "rect")
    heights = {lane.level_m: named(side, f"lane {lane.name}, from the side")[0]["y"] for lane in e.layout.lanes}
    for (one_m, one_px), (other_m, other_px) in itertools.combinations(heights.items(), 2):
        assert one_px - other_px == pytest.approx((other_m - one_m) * px_m, abs=0.01)


def test_carriers_are_to_scale_at_their_planned_start() -> None:
    for file in ("charts/fourteen", "ways/ring", "ways/branch"):
        e, picture, px_m = evaluation(file), drawn(file), scale(file)
        body, seen = e.line.conveyor.carrier, 0
        for level_m, view in plans(file):
            origin = _origin(file, view)
            for number, rank in enumerate(resting_order(e.line, e.layout)):
                stop = e.layout.stops[rank]
                lane = e.layout.lane(stop.lane)
                points = starting(marks(picture, view, "line"), f"carrier {number} at ")
                assert bool(points) == (abs(lane.level_m - level_m) < 1e-6), f"carrier {number} on its own deck alone"
                if not points:
                    continue
                seen += 1
                corners = [(row["x"], row["y"]) for row in points[:4]]
                assert math.dist(corners[0], corners[1]) / px_m == pytest.approx(body.length_m, abs=1e-4)
                assert math.dist(corners[1], corners[2]) / px_m == pytest.approx(body.width_m, abs=1e-4)
                x_m, across_m = lane.floor_point(stop.travel_m)
                middle = [sum(place) / 4 for place in zip(*corners, strict=True)]
                assert (middle[0] - origin[0]) / px_m == pytest.approx(x_m, abs=1e-3)
                assert (origin[1] - middle[1]) / px_m == pytest.approx(across_m, abs=1e-3)
        assert seen == e.line.carriers


def _origin(file: str, view: dict[str, Any]) -> tuple[float, float]:
    """Where floor distance 0 and across 0 are drawn, from the first station here."""
    e, picture = evaluation(file), drawn(file)
    for stop in e.layout.stops:
        found = named(marks(picture, view, "rule"), f"centre line of {stop.station}")
        if found:
            x_m, across_m = e.layout.lane(stop.lane).floor_point(stop.travel_m)
            middle = (found[0]["y"] + found[0]["y2"]) / 2
            return found[0]["x"] - x_m * scale(file), middle + across_m * scale(file)
    raise AssertionError("no station in this view")


def test_the_curves_of_a_ring_have_the_sheets_radius() -> None:
    file = "ways/ring"
    e, picture, px_m = evaluation(file), drawn(file), scale(file)
    view, lane = views(picture)[0], e.layout.lanes[0]
    assert e.line.conveyor.curve is not None
    radius_m = e.line.conveyor.curve.radius_m
    curves = starting(marks(picture, view, "rule"), "curve of lane round, radius 240 mm")
    assert len(curves) == sum(piece.is_curved for piece in lane.pieces) == 4
    paths = starting(marks(picture, view, "line"), "section ")
    on_curves = 0
    for number, points in itertools.groupby(paths, key=lambda row: row["name"]):
        places = [(row["x"], row["y"]) for row in points]
        if len(places) == 2:
            continue
        on_curves += 1
        centre = min(curves, key=lambda row: math.dist((row["x"], row["y"]), places[0]))
        for place in places:
            assert math.dist((centre["x"], centre["y"]), place) / px_m == pytest.approx(radius_m, abs=1e-4), number
        step = max(math.dist(one, other) for one, other in itertools.pairwise(places))
        assert step < 6.0, "drawn as an arc, not as corners"
    assert on_curves == 4
    assert {row["strokeWidth"] for row in paths} == {round(0.112 * px_m, 3)}


def test_a_fixture_stands_as_high_as_its_envelope() -> None:
    file = "charts/fourteen"
    e, picture = evaluation(file), drawn(file)
    rows = starting(marks(picture, views(picture)[-1], "rect"), "fixture of carrier")
    assert len(rows) == e.line.carriers
    assert {round((row["y2"] - row["y"]) / scale(file), 3) for row in rows} == {0.06}


# --- names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("file", FILES)
def test_stations_lanes_and_transfers_are_named_once_a_view(file: str, size: float) -> None:
    e, picture = evaluation(file), drawn(file, size)
    *decks, side = views(picture)
    for level_m, view in zip(levels_of(e.layout), decks, strict=True):
        words = marks(picture, view, "text")
        here = {lane.name for lane in e.layout.lanes if abs(lane.level_m - level_m) < 1e-6}
        stations = [row["words"] for row in starting(words, "station ")]
        assert sorted(stations) == sorted(one.name for one in e.line.stations if one.lane in here)
        lanes = [row["words"] for row in words if row.get("fontWeight") == "bold" and row.get("name")]
        assert sorted(said.replace("lane ", "").replace("ring ", "").split(",")[0] for said in lanes) == sorted(here)
        transfers = [row["words"] for row in words if row.get("fontStyle") == "italic"]
        assert sorted(transfers) == sorted(one.name for one in e.layout.transfers if here & {*one.takes, *one.gives})
    words = marks(picture, side, "text")
    assert sorted(row["words"] for row in words if row.get("fontStyle") == "italic") == sorted(
        one.name for one in e.layout.transfers
    )
    beside = " ".join(row["words"] for row in words if row["align"] == "right")
    listed = [one for line in beside.replace(",", "").split() for one in [line]]
    assert all(listed.count(lane.name) == 1 for lane in e.layout.lanes)
    ticks = [row for row in marks(picture, side, "rule") if row.get("name", "").startswith("station ")]
    assert len(ticks) == len({row["name"] for row in ticks}) == len(e.line.stations)


# --- dimensions -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("file", FILES)
def test_a_chain_adds_up_to_its_lane(file: str, size: float) -> None:
    e, picture = evaluation(file), drawn(file, size)
    unit_m = 0.0254 if e.line.units == "inch" else 0.001
    words = [row for view in views(picture)[:-1] for row in marks(picture, view, "text")]
    for lane in e.layout.lanes:
        places = [stop.travel_m for stop in e.layout.stops if stop.lane == lane.name and stop.kind == "station"]
        chain = [row for row in starting(words, f"{lane.name}: ") if row["words"].replace(".", "").isdigit()]
        total_m = sum(float(row["words"]) for row in chain) * unit_m
        if lane.is_ring:
            assert total_m == pytest.approx(2 * 1.84), "both long straights have stations"
            continue
        if not places:
            assert not chain
            continue
        assert total_m == pytest.approx(lane.length_m, abs=0.005 * 0.0254 * len(chain) + 1e-9)
        inner = sorted(lane.travel_to_floor(place) for place in places)
        between = [(after - before) / unit_m for before, after in itertools.pairwise(inner)]
        ordered = sorted(chain, key=lambda row: row["x"])
        assert [float(row["words"]) for row in ordered][1:-1] == pytest.approx(between, abs=0.006)


@pytest.mark.parametrize("file", FILES)
def test_lengths_spacings_and_levels_are_the_layouts(file: str) -> None:
    e, picture = evaluation(file), drawn(file)
    unit_m, short = (0.0254, "in") if e.line.units == "inch" else (0.001, "mm")

    def said(length_m: float) -> str:
        return f"{round(length_m / unit_m, 2 if short == 'in' else 1):.10g} {short}"

    words = [row["words"] for view in views(picture) for row in marks(picture, view, "text")]
    above = [row["words"] for view in views(picture)[:-1] for row in marks(picture, view, "text")]
    for lane in e.layout.lanes:
        kind = "ring" if lane.is_ring else "lane"
        own = [one for one in above if one.startswith((f"{kind} {lane.name}, ", f"{lane.name}, "))]
        assert len(own) == 1
        assert said(lane.length_m) in own[0]
    levels = levels_of(e.layout)
    for one, other in itertools.pairwise(levels):
        assert words.count(said(one - other)) >= 1
    for level_m in levels:
        across = sorted({lane.across_m for lane in e.layout.lanes if abs(lane.level_m - level_m) < 1e-6})
        for one, other in itertools.pairwise(across):
            assert said(other - one) in words
    first_m = min(lane.west_end_m for lane in e.layout.lanes)
    rules = [row for view in views(picture) for row in marks(picture, view, "rule")]
    for lane in e.layout.lanes:
        offset = starting(rules, f"west end of lane {lane.name}: ")
        led = any(
            (one.across_m, one.level_m) == (lane.across_m, lane.level_m) and one.west_end_m < lane.west_end_m
            for one in e.layout.lanes
        )
        assert len(offset) == (lane.west_end_m > first_m and not led)
        for row in offset:
            assert f"{said(lane.west_end_m - first_m)} east" in row["name"]
            assert (row["x2"] - row["x"]) / scale(file) == pytest.approx(lane.west_end_m - first_m, abs=1e-3)


def test_the_footprint_counts_the_track_and_says_what_it_leaves_out() -> None:
    said = drawn("ways/branch").spec["title"]["subtitle"]
    # 2208 mm of lane, 118 + 2 x 3 mm of platform at each end less the outer gap; 2 x 400 mm and one carrier across
    assert "2450 mm by 912 mm" in said[0]
    assert "Access, guards and machines are not in it" in " ".join(said)
    ring = drawn("ways/ring").spec["title"]["subtitle"][0]
    assert "2432 mm by 960 mm" in ring, "1840 + 2 x 240 and 368 + 2 x 240, and a carrier more each way"


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    for file in FILES:
        picture = drawn(file)
        side = views(picture)[-1]
        (half,) = starting(marks(picture, side, "rect"), "scale bar of ")
        number, unit = half["name"].removeprefix("scale bar of ").split()
        length_m = float(number) * (0.0254 if unit == "in" else 0.001)
        assert 2 * (half["x2"] - half["x"]) / scale(file) == pytest.approx(length_m, abs=1e-4)
        assert any(row["words"].startswith(f"{number} {unit}, ") for row in marks(picture, side, "text"))


def test_zones_and_clear_stretches_are_where_the_file_has_them() -> None:
    file = "charts/fourteen"
    e, picture, px_m = evaluation(file), drawn(file), scale(file)
    view = views(picture)[0]
    origin, _ = _origin(file, view)
    (zone,) = e.line.motor_zones
    (bar,) = starting(marks(picture, view, "rule"), f"motor zone {zone.name} ")
    assert [(bar[end] - origin) / px_m for end in ("x", "x2")] == pytest.approx([zone.from_m, zone.to_m], abs=1e-3)
    assert [row["words"] for row in starting(marks(picture, view, "text"), "motor zone")] == [f"zone {zone.name}"]
    for station in e.line.stations:
        clear = starting(marks(picture, view, "rect"), f"kept clear about {station.name}: ")
        assert len(clear) == (station.keep_clear_m > 0.0)
        for row in clear:
            at_m = e.layout.stop_of(station.name).floor_m
            ends = [at_m - station.keep_clear_m, at_m + station.keep_clear_m]
            assert [(row[end] - origin) / px_m for end in ("x", "x2")] == pytest.approx(ends, abs=1e-3)


# --- words ------------------------------------------------------------------------------------------------------------


def assert_apart(picture: Picture) -> None:
    for view in views(picture):
        boxes = []
        for row in marks(picture, view, "text"):
            box = words_box(row["x"], row["y"], row["words"], row["fontSize"], row)
            boxes.append((row["words"], *box))
            assert box[0] > -1.0, row
            assert box[2] < view["width"] + 1.0, row
            assert box[1] > -1.0, row
            assert box[3] < view["height"] + 1.0, row
        for one, other in itertools.combinations(boxes, 2):
            apart = one[1] >= other[3] or other[1] >= one[3] or one[2] >= other[4] or other[2] >= one[4]
            assert apart, (view["name"], one, other)


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("file", FILES)
def test_words_stand_apart(file: str, size: float) -> None:
    assert_apart(drawn(file, size))


def crowded(stations: int, pitch_mm: float = 92.0, name: str = "s") -> Evaluation:
    """A lane to and fro on which the stations stand as near as carriers can."""
    length_mm = 92.0 * math.ceil((stations * pitch_mm + 400.0) / 92.0 / 4) * 4
    return made(
        f"lanes: {{bed: {{length: {length_mm:g} mm, from: west, to: east, two_way: true}}}}",
        "stations:",
        *(f"  {name}{k}: {{lane: bed, at: {200 + pitch_mm * k:g} mm, time: 1 s}}" for k in range(stations)),
        f"route: [{', '.join(f'{name}{k}' for k in range(stations))}]",
    )


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_forty_stations_on_one_lane_keep_apart(size: float) -> None:
    assert_apart(floor_plan(crowded(40), Text(size)))


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_a_station_on_a_short_straight_says_how_far_along_it_stands(size: float) -> None:
    e = made(
        "lanes: {round: {ring: {long: 1472 mm, short: 736 mm}}}",
        "stations:",
        "  load: {lane: round, along: 500 mm, time: 1 s}",
        "  east-low: {lane: round, along: 2000 mm, time: 1 s}",
        "  east-high: {lane: round, along: 2500 mm, time: 1 s}",
        "  west-high: {lane: round, along: 4950 mm, time: 1 s}",
        "route: [load, east-low, east-high, west-high]",
    )
    picture = floor_plan(e, Text(size))
    words = [row["words"] for row in marks(picture, views(picture)[0], "text")]
    assert {"load", "east-low, 2000 mm along", "east-high, 2500 mm along", "west-high, 4950 mm along"} <= set(words)
    assert_apart(picture)


# --- lines that cannot run --------------------------------------------------------------------------------------------


def test_a_blocked_track_is_drawn_and_says_so() -> None:
    e = made(
        "lanes: {bed: {length: 1840 mm, from: west, to: east, two_way: true}}",
        "stations:",
        "  a: {lane: bed, at: 300 mm, time: 1 s}",
        "  b: {lane: bed, at: 340 mm, time: 1 s}",
        "route: [a, b]",
    )
    assert e.layout.blocking
    picture = floor_plan(e)
    assert any("No traffic can be planned on this track" in line for line in picture.spec["title"]["subtitle"])
    assert len(starting(marks(picture, views(picture)[0], "point"), "station ")) == 2
    assert_apart(picture)


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_zones_and_clear_stretches_go_round_the_curves_of_a_ring(size: float) -> None:
    e = made(
        "lanes: {round: {ring: {long: 1472 mm, short: 736 mm}}}",
        "stations:",
        "  load: {lane: round, along: 1400 mm, time: 1 s, keep_clear: 150 mm}",
        "  unload: {lane: round, along: 3100 mm, time: 1 s}",
        "route: [load, unload]",
        "motor_zones:",
        "  loading: {lane: round, from: 1300 mm, to: 1700 mm}",
        "  curve: {lane: round, from: 1860 mm, to: 2500 mm}",
    )
    picture = floor_plan(e, Text(size))
    view = views(picture)[0]
    words = [row["words"] for row in marks(picture, view, "text")]
    assert (words.count("zone loading"), words.count("zone curve")) == (1, 1)
    (straight,) = starting(marks(picture, view, "rule"), "ring round, ")
    px_m = (straight["x2"] - straight["x"]) / 1.472
    lines = marks(picture, view, "line")
    for name, long_m in (("motor zone curve", 0.64), ("motor zone loading", 0.4), ("kept clear about load", 0.3)):
        points = [(row["x"], row["y"]) for row in starting(lines, name)]
        way_m = sum(math.dist(one, other) for one, other in itertools.pairwise(points)) / px_m
        assert 0.7 * long_m < way_m <= long_m + 1e-3, "shorter within a curve, as long on a straight"
    assert_apart(picture)


def test_the_picture_is_in_the_grammar_and_draws() -> None:
    picture = drawn("charts/five")
    svg = picture.svg()
    assert picture.name == "floor"
    assert svg.count('aria-label="station press at ') >= 1
    for station in evaluation("charts/five").line.stations:
        assert f">{station.name}</text>" in svg
