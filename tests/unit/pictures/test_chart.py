"""The track chart by its structure: what stands in the SVG, how often and where."""

from __future__ import annotations

import itertools
import re
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pytest

from linewright.layout import lay_out
from linewright.pictures import track_chart, track_chart_html, track_chart_png, track_chart_svg
from linewright.pictures.style import PLOT_WIDTH_PX
from unit.pictures.hand_made import as_run, evaluation, line_text

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def labelled(svg: str, pattern: str) -> list[str]:
    """The names that marks give to a reader who cannot see them, those that match."""
    nodes = ElementTree.fromstring(svg).iter()
    names = [node.get("aria-label", "") for node in nodes]
    return [name for name in names if re.fullmatch(pattern, name)]


@pytest.fixture(scope="module")
def five() -> Any:
    return evaluation(stations=5, carriers=4)


@pytest.fixture(scope="module")
def five_svg(five: Any) -> str:
    return track_chart_svg(five)


@pytest.mark.parametrize("stations", [5, pytest.param(14, marks=pytest.mark.long), 40])
def test_every_station_stands_in_the_strip_once(stations: int) -> None:
    e = evaluation(stations=stations, carriers=3)
    svg = track_chart_svg(e)
    said = texts(svg)
    for station in e.line.stations:
        assert said.count(station.name) == 1
        assert len(labelled(svg, f"station {station.name} at .* on lane {station.lane}")) == 1


def test_one_thread_a_carrier(five: Any, five_svg: str) -> None:
    threads = labelled(five_svg, r"carrier \d+")
    assert sorted(threads) == [f"carrier {number}" for number in range(five.line.carriers)]


def test_a_thread_that_goes_round_the_loop_is_still_one() -> None:
    e = evaluation(stations=5, carriers=1)
    svg = track_chart_svg(e)
    assert labelled(svg, r"carrier \d+") == ["carrier 0"]
    path = next(node for node in ElementTree.fromstring(svg).iter() if node.get("aria-label") == "carrier 0")
    moved = sum(row["departure_s"] < 120.0 for row in e.run.moves.rows())
    laps = (e.layout.stop_of("load").index + moved) // len(e.layout.stops)
    assert laps >= 1
    assert path.get("d", "").count("M") == laps + 1


def test_works_are_drawn_and_repairs_are_crossed(five: Any, five_svg: str) -> None:
    shown = [row for row in five.run.works.rows() if row["start_s"] < 120.0]
    plain = labelled(five_svg, r"work at [\w-]+: carrier \d+, part \d+")
    hollow = labelled(five_svg, r"work at .* with 0.5 s of repair")
    repaired = [row for row in shown if row["repair_s"] > 0]
    assert len(repaired) == 1
    # A repaired work is drawn as a work, then its dark rim and its white core over it.
    assert len(plain) == len(shown) - 1
    assert len(hollow) == 3


def test_strip_and_string_line_share_one_axis(five: Any) -> None:
    spec = track_chart(five).to_dict()
    track = spec["vconcat"][0]
    assert track["resolve"] == {"scale": {"x": "shared"}}
    strip, string_line = track["vconcat"]
    assert strip["width"] == string_line["width"] == PLOT_WIDTH_PX
    domains = {
        tuple(layer["encoding"]["x"]["scale"]["domain"])
        for layer in [*strip["layer"], *string_line["layer"]]
        if "scale" in layer["encoding"]["x"]
    }
    assert domains == {(0, round(five.layout.loop_m * 1000, 2))}


def test_a_station_s_pin_its_line_and_its_work_stand_at_one_place(five: Any) -> None:
    spec = track_chart(five).to_dict()
    rows = [row for some in spec["datasets"].values() for row in some if isinstance(row.get("name"), str)]
    for station in five.line.stations:
        at_mm = round(five.layout.stop_of(station.name).axis_m * 1000, 2)
        pin = {row["x"] for row in rows if row["name"].startswith(f"station {station.name} ")}
        works = {row["x"] for row in rows if row["name"].startswith(f"work at {station.name}:")}
        assert pin == {at_mm}
        assert works <= {at_mm}


@pytest.mark.parametrize("stations", [5, *(pytest.param(many, marks=pytest.mark.long) for many in (14, 27)), 40])
def test_labels_do_not_overlap(stations: int) -> None:
    e = evaluation(stations=stations, carriers=2)
    spec = track_chart(e).to_dict()
    strip = spec["vconcat"][0]["vconcat"][0]
    boxes = []
    for layer in strip["layer"]:
        mark = layer["mark"]
        if mark["type"] != "text" or "fontStyle" not in mark:
            continue
        for row in spec["datasets"][layer["data"]["name"]]:
            centre = row["label_x"] / (e.layout.loop_m * 1000) * PLOT_WIDTH_PX
            long, high = 0.56 * 11 * len(row["label"]), 1.15 * 11
            wide = high if mark["angle"] == 270 else long
            boxes.append((centre - wide / 2, centre + wide / 2))
            if mark["angle"] == 270:
                assert row["y_label"] - long > 20, "clear of the lane's heading"
    assert len(boxes) == stations + 2, "stations and transfers"
    boxes.sort()
    assert all(before[1] <= after[0] for before, after in itertools.pairwise(boxes))


def test_the_title_says_what_the_picture_is(five: Any, five_svg: str) -> None:
    whole = " ".join(texts(five_svg))
    assert five.line.name in whole
    assert "Simulated data, not measured: run 1 of 3, seed 7, 0 s to 120 s after the start." in whole
    assert "The conveyor sheet demo-heavy is invented" in whole


def test_a_sheet_of_a_maker_is_not_called_invented(five: Any) -> None:
    sheet = five.line.conveyor.model_copy(update={"invented": False})
    other = SimpleNamespace(**{**vars(five), "line": five.line.model_copy(update={"conveyor": sheet})})
    assert "invented" not in " ".join(track_chart(other).to_dict()["title"]["subtitle"])


def test_the_units_are_those_of_the_file() -> None:
    e = evaluation(units="inch", carriers=2)
    said = texts(track_chart_svg(e))
    length_in = round(e.layout.lanes[0].length_m / 0.0254, 2)
    assert f"lane upper, {length_in:g} in, west → east" in said
    assert any(text.endswith("(in)") for text in said)
    assert not any("mm" in text for text in said)


def test_the_strip_counts_the_floor_from_the_west_on_every_lane(five: Any) -> None:
    spec = track_chart(five).to_dict()
    rows = [row for some in spec["datasets"].values() for row in some if set(row) == {"x", "label"}]
    ticks = {(row["x"], float(row["label"])) for row in rows if row["label"].replace(".", "").isdigit()}
    upper, lower = five.layout.lanes
    places = {(round(lane.travel_to_axis(lane.floor_to_travel(1.0)) * 1000, 2), 1000.0) for lane in (upper, lower)}
    assert places <= ticks


def test_every_section_joint_and_stop_is_drawn(five: Any, five_svg: str) -> None:
    waiting = [stop for stop in five.layout.stops if stop.kind == "waiting"]
    assert len(labelled(five_svg, ".*name: waiting stop .*")) == len(waiting)
    assert len(labelled(five_svg, ".*name: dock of .*")) == 2
    joints = [joint for lane in five.layout.lanes for joint in lane.joints_travel_m]
    datasets = track_chart(five).to_dict()["datasets"]
    drawn = [[row["x"] for row in rows] for rows in datasets.values() if all(set(row) == {"x"} for row in rows)]
    axis = [lane.start_axis_m + at_m for lane in five.layout.lanes for at_m in lane.joints_travel_m]
    assert drawn == [[round(at_m * 1000, 2) for at_m in axis]]
    boxes = [row for rows in datasets.values() for row in rows if {"from", "to", "top"} <= set(row)]
    sections = [row for row in boxes if "name" not in row]
    assert len(sections) == len(joints) + len(five.layout.lanes)
    assert {row["name"] for row in boxes if "name" in row} == {"lift east-lift", "lift west-lift"}


def test_the_bold_carrier_can_be_chosen(five: Any) -> None:
    subset = track_chart(five, carrier=2).to_dict()["datasets"]
    labels = [row for some in subset.values() for row in some if row.get("name") == "carrier 2"]
    assert len(labels) == 1
    with pytest.raises(ValueError, match="no thread of carrier 9"):
        track_chart(five, carrier=9)


def test_without_a_run_the_strip_stands_alone() -> None:
    line = line_text(5).line()
    e: Any = SimpleNamespace(line=line, layout=lay_out(line), run=None)
    said = texts(track_chart_svg(e))
    assert any(text.startswith("The track alone: no run was simulated.") for text in said)
    assert "work" not in said
    assert "press" in said


def test_carriers_that_are_not_drawn_are_named(five: Any) -> None:
    rows = [tuple(row.values()) for row in five.run.moves.rows() if row["carrier"] == 1 and row["departure_s"] > 20.0]
    run = as_run(rows, [], until_s=130.0, from_s=20.0)
    other = SimpleNamespace(**{**vars(five), "run": run})
    assert any("carriers 0, 2, 3" in text for text in texts(track_chart_svg(other)))


def test_the_same_evaluation_gives_the_same_bytes(five: Any, five_svg: str) -> None:
    assert track_chart_svg(five) == five_svg
    assert track_chart_html(five) == track_chart_html(five)


def test_a_picture_of_dots_can_be_had(five: Any) -> None:
    assert track_chart_png(five).startswith(b"\x89PNG\r\n")


def test_the_page_holds_everything_and_cannot_be_broken_by_a_name(five: Any) -> None:
    line = five.line.model_copy(update={"name": "</script><script>alert(1)</script> & co"})
    page = track_chart_html(SimpleNamespace(**{**vars(five), "line": line}))
    assert page.count("</script>") == 2
    assert "<title>&lt;/script&gt;" in page
    frame = re.sub(r"(<script[^>]*>).*?</script>", r"\1", page, flags=re.DOTALL)
    assert re.search(r"(?:src|href)=\"(?!data:)|https?:", frame) is None
