"""The track chart by its structure: what stands in the SVG, how often and where."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from types import SimpleNamespace
from typing import Any

import altair
import pytest

from linewright.evaluation import evaluate
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.pictures import ROWS, Picture, Shown, Text, track_chart
from unit.pictures.drawn import all_rows, labelled, layers, rows_of, texts, views
from unit.pictures.hand_made import as_run, evaluation, line_text

ALONE = Shown(("track", "string-line"))


@pytest.fixture(scope="module")
def five() -> Any:
    return evaluation(stations=5, carriers=4)


@pytest.fixture(scope="module")
def five_chart(five: Any) -> Picture:
    return track_chart(five, shown=ALONE)


@pytest.fixture(scope="module")
def five_svg(five_chart: Picture) -> str:
    return five_chart.svg()


@pytest.mark.parametrize("stations", [5, pytest.param(14, marks=pytest.mark.long), 40])
def test_every_station_stands_in_the_strip_once(stations: int) -> None:
    e = evaluation(stations=stations, carriers=3)
    svg = track_chart(e, shown=Shown(("track",))).svg()
    said = texts(svg)
    for station in e.line.stations:
        assert said.count(station.name) == 1
        assert len(labelled(svg, f"station {station.name} at .* on lane {station.lane}")) == 1


def test_one_thread_and_one_outline_a_carrier(five: Any, five_svg: str) -> None:
    numbers = range(five.line.carriers)
    assert sorted(labelled(five_svg, r"carrier \d+")) == [f"carrier {number}" for number in numbers]
    assert sorted(labelled(five_svg, r"carrier \d+ at .*")) == [f"carrier {number} at 0\u00a0s" for number in numbers]


def test_carriers_in_the_strip_are_to_scale_and_where_their_threads_begin(five: Any, five_chart: Picture) -> None:
    threads = [*rows_of(five_chart, "threads"), *rows_of(five_chart, "bold-thread")]
    first = {row["carrier"]: row["x"][0] for row in threads}
    for row in rows_of(five_chart, "carriers"):
        assert row["x2"] - row["x"] == pytest.approx(five.layout.body_m * 1000, abs=0.02)
        assert (row["x"] + row["x2"]) / 2 == pytest.approx(first[row["name"].split(" at ")[0]], abs=1.0)


def test_works_are_drawn_once(five: Any, five_svg: str) -> None:
    shown = [row for row in five.run.works.rows() if row["start_s"] < 120.0]
    drawn = labelled(five_svg, r"work at [\w-]+: carrier \d+, part \d+.*")
    names = {re.match(r"work at [\w-]+: carrier \d+, part \d+", name)[0] for name in drawn}  # type: ignore[index]
    assert len(names) == len(shown)


def test_all_rows_share_one_axis() -> None:
    line = load_line("examples/charts/five.yaml")
    picture = track_chart(evaluate(line, hours=0.6, runs=2))
    track = picture.spec["vconcat"][0]
    assert track["resolve"] == {"scale": {"x": "shared"}}
    found = views(track)
    assert tuple(found) == ("head", *ROWS, "ruler")
    assert picture.rows == ROWS
    assert len({view["width"] for view in found.values()}) == 1
    for name, view in found.items():
        if name == "head":  # words alone
            continue
        scaled = [layer for layer in view["layer"] if layer["encoding"]["x"].get("scale")]
        assert scaled, f"{name} does not stand on the axis"
        scales = [layer["encoding"]["x"]["scale"] for layer in scaled]
        assert all(scale == scales[0] for scale in scales)
        assert scales[0]["domainMin"] == {"expr": "near_x"}
        assert all(layer["mark"].get("clip") for layer in scaled), f"a mark of {name} would leave the plot on zooming"


def test_the_axis_shows_the_whole_track_and_a_margin(five: Any, five_chart: Picture) -> None:
    ends = {one["name"]: one["value"] for one in five_chart.spec["params"]}
    assert ends["near_x"] == pytest.approx(-0.012 * five.layout.loop_m * 1000, abs=0.02)
    assert ends["far_x"] == pytest.approx(1.012 * five.layout.loop_m * 1000, abs=0.02)


def test_a_station_s_pin_its_line_and_its_work_stand_at_one_place(five: Any, five_chart: Picture) -> None:
    for station in five.line.stations:
        at_mm = round(five.layout.stop_of(station.name).axis_m * 1000, 2)
        named = [row for row in all_rows(five_chart) if isinstance(row.get("name"), str)]
        pin = {row["x"] for row in named if row["name"].startswith(f"station {station.name} ")}
        works = {row["x"] for row in named if row["name"].startswith(f"work at {station.name}:") and "x2" not in row}
        assert pin == {at_mm}
        assert works <= {at_mm}


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("stations", [5, *(pytest.param(many, marks=pytest.mark.long) for many in (14, 27)), 40])
def test_names_do_not_overlap(stations: int, size: float) -> None:
    e = evaluation(stations=stations, carriers=2)
    picture = track_chart(e, shown=Shown(("track",), text=Text(size)))
    ends = {one["name"]: one["value"] for one in picture.spec["params"]}
    width_px = views(picture.spec)["track"]["width"]
    boxes = []
    for layer in views(picture.spec)["track"]["layer"]:
        mark = layer["mark"]
        if mark["type"] != "text" or "fontStyle" not in mark:
            continue
        assert mark["fontSize"] == 12.0 * size
        for row in rows_of(picture, layer["data"]["name"]):
            centre = (row["label_x"] - ends["near_x"]) / (ends["far_x"] - ends["near_x"]) * width_px
            long, high = 0.56 * mark["fontSize"] * len(row["label"]), 1.15 * mark["fontSize"]
            wide = high if mark["angle"] == 270 else long
            boxes.append((centre - wide / 2, centre + wide / 2))
    assert len(boxes) == stations + 2, "stations and transfers"
    boxes.sort()
    assert all(before[1] <= after[0] for before, after in itertools.pairwise(boxes))
    assert boxes[0][0] >= 0
    assert boxes[-1][1] <= width_px


def test_the_title_says_what_the_picture_is(five: Any, five_svg: str) -> None:
    whole = " ".join(texts(five_svg)).replace("\u00a0", " ")
    assert five.line.name in whole
    assert "No rate: it is written by hand." in whole
    assert "0 of 0. linewright check --run tells each with its limit." in whole
    assert "Simulated, not measured: 3 runs of 0.5 h, seed 7;" in whole
    assert "The conveyor sheet demo-heavy is invented" in whole


def test_the_head_says_what_fails_though_no_row_shows_it() -> None:
    line = load_line("examples/charts/five.yaml")
    e = evaluate(line, hours=0.6, runs=2)
    failing = Counter(finding.subject for finding in e.findings if finding.verdict == "fails")
    assert failing["safety"] > 0, "what no row shows"
    picture = track_chart(e, shown=Shown(("track",)))
    said = " ".join(row["words"] for row in rows_of(picture, "head")).replace("\u00a0", " ")
    assert f"{sum(failing.values())} of {len(e.findings)}: " in said
    for finding in e.findings:
        assert (finding.code in said) == (finding.verdict != "holds") or finding.verdict == "holds"
    assert e.run is not None
    assert e.run.rate is not None
    assert f"{e.run.rate.mean:,.1f} good parts an hour".replace(",", " ") in said
    tags = texts(picture.svg())
    assert "FAILS" in tags
    assert "NOT CHECKED" in tags


def test_the_name_of_a_place_at_which_something_fails_stands_white_on_dark() -> None:
    e = evaluate(load_line("examples/charts/five.yaml"), hours=0.6, runs=2)
    picture = track_chart(e, shown=Shown(("track",)))
    dark = {row["label"]: row["name"] for row in rows_of(picture, "station-names-failing")}
    assert set(dark) == {"load"}, "its guard and its motor zone are too near"
    assert "fails: coast-in" in dark["load"]
    assert "fails: safety-distance" in dark["load"]
    assert {row["label"] for row in rows_of(picture, "station-names")} == {"press", "leak", "scrap", "unload"}


def test_a_sheet_of_a_maker_is_not_called_invented(five: Any) -> None:
    sheet = five.line.conveyor.model_copy(update={"invented": False})
    other = SimpleNamespace(**{**vars(five), "line": five.line.model_copy(update={"conveyor": sheet})})
    assert "invented" not in " ".join(track_chart(other, shown=ALONE).spec["title"]["subtitle"])


def test_the_units_are_those_of_the_file() -> None:
    e = evaluation(units="inch", carriers=2)
    said = texts(track_chart(e, shown=ALONE).svg())
    length_in = round(e.layout.lanes[0].length_m / 0.0254, 2)
    assert f"lane upper, {length_in:g} in, west → east" in said
    assert any(text.endswith("(in)") for text in said)
    assert not any("mm" in text for text in said)


def test_the_strip_counts_the_floor_from_the_west_on_every_lane(five: Any, five_chart: Picture) -> None:
    ticks = {(row["x"], float(row["label"])) for row in rows_of(five_chart, "floor") if row["label"]}
    upper, lower = five.layout.lanes
    places = {(round(lane.travel_to_axis(lane.floor_to_travel(1.0)) * 1000, 2), 1000.0) for lane in (upper, lower)}
    assert places <= ticks


def test_every_section_joint_and_stop_is_drawn(five: Any, five_chart: Picture, five_svg: str) -> None:
    waiting = [stop for stop in five.layout.stops if stop.kind == "waiting"]
    assert len(labelled(five_svg, "waiting stop .*")) == len(waiting)
    assert len(labelled(five_svg, "dock of .*")) == 2
    axis = [lane.start_axis_m + at_m for lane in five.layout.lanes for at_m in lane.joints_travel_m]
    assert [row["x"] for row in rows_of(five_chart, "joints")] == [round(at_m * 1000, 2) for at_m in axis]
    assert len(labelled(five_svg, r"section \d+ of lane .*")) == len(axis) + len(five.layout.lanes)
    assert sorted(labelled(five_svg, "lift .*")) == ["lift east-lift", "lift west-lift"]


def test_the_bold_carrier_can_be_chosen(five: Any) -> None:
    picture = track_chart(five, shown=Shown(ALONE.rows, carrier=2))
    assert {row["carrier"] for row in rows_of(picture, "bold-thread")} == {"carrier 2"}
    with pytest.raises(ValueError, match="no thread of carrier 9"):
        track_chart(five, shown=Shown(carrier=9))


@pytest.mark.parametrize("rows", [(), ("track", "speed")])
def test_rows_that_do_not_exist_are_refused(rows: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="it must name one or more of track, time"):
        Shown(rows)


def test_rows_stand_in_their_order_whatever_the_order_in_which_they_are_asked_for(five: Any) -> None:
    picture = track_chart(five, shown=Shown(("string-line", "track")))
    assert tuple(views(picture.spec["vconcat"][0])) == ("head", "track", "string-line", "ruler")


def test_without_a_run_the_rows_that_need_one_say_so() -> None:
    line = line_text(5).line()
    e: Any = SimpleNamespace(line=line, layout=lay_out(line), run=None, limits=None, takt=None, findings=(), duty=None)
    said = texts(track_chart(e).svg())
    assert any("No run was simulated" in text for text in said)
    assert any(text.startswith("String line: not known, no run") for text in said)
    assert "press" in said
    assert "work on it" not in said


def test_carriers_that_are_not_drawn_are_named(five: Any) -> None:
    rows = [tuple(row.values()) for row in five.run.moves.rows() if row["carrier"] == 1 and row["departure_s"] > 20.0]
    run = as_run(rows, [], until_s=130.0, from_s=20.0)
    other = SimpleNamespace(**{**vars(five), "run": run})
    assert any("carriers 0, 2, 3" in text for text in texts(track_chart(other, shown=ALONE).svg()))


def test_the_same_evaluation_gives_the_same_bytes(five: Any, five_svg: str) -> None:
    again = track_chart(five, shown=ALONE)
    assert again.svg() == five_svg
    assert again.svg() == five_svg, "drawn a second time"
    assert again.html() == track_chart(five, shown=ALONE).html()


def test_a_picture_of_dots_can_be_had(five_chart: Picture) -> None:
    assert five_chart.png().startswith(b"\x89PNG\r\n")
    with pytest.raises(ValueError, match="scale is 0"):
        five_chart.png(0.0)


def test_a_notebook_shows_it(five_chart: Picture, five_svg: str) -> None:
    assert five_chart._repr_svg_() == five_svg


def test_the_specification_is_in_the_grammar(five_chart: Picture) -> None:
    """Altair checks it against the published schema of the grammar when it reads it."""
    chart = five_chart.chart()
    assert isinstance(chart, altair.VConcatChart)
    assert len(layers(chart.to_dict())) == len(layers(five_chart.spec))


def test_the_page_holds_everything_and_cannot_be_broken_by_a_name(five: Any) -> None:
    line = five.line.model_copy(update={"name": "</script><script>alert(1)</script> & co"})
    page = track_chart(SimpleNamespace(**{**vars(five), "line": line}), shown=ALONE).html()
    assert "<script>alert(1)" not in page
    frame = re.sub(r"(<script[^>]*>).*?</script>", r"\1", page, flags=re.DOTALL)
    assert "alert(1)</" not in frame
    assert re.search(r"(?:src|href)=\"(?!data:)|https?:(?!//www.w3.org/)", frame) is None
