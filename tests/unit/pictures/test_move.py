"""One move with its governing limits: the curves are the planned move's, the lines its limits."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import altair
import pytest

import linewright as lw
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.pictures.charts.comb import KEEP
from linewright.pictures.charts.move import move_limits
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import HUE, Text
from unit.pictures.drawn import labelled, texts, views
from unit.pictures.test_causes import overlapping

INCH_M = 0.0254


@pytest.fixture(scope="module")
def five() -> Evaluation:
    return lw.evaluate(lw.load("examples/charts/five.yaml"), hours=0.75, runs=2)


@pytest.fixture(scope="module")
def fourteen() -> Evaluation:
    return evaluate_without_run(lw.load("examples/charts/fourteen.yaml"))


@pytest.fixture(scope="module")
def picture(fourteen: Evaluation) -> Picture:
    return move_limits(fourteen)


@pytest.fixture(scope="module")
def svg(picture: Picture) -> str:
    return picture.svg()


def rows_of_legs(evaluation: Evaluation) -> list[dict[str, Any]]:
    assert evaluation.limits is not None
    return evaluation.limits.motion.legs.rows()


def curve(picture: Picture, quantity: str) -> list[tuple[float, float]]:
    """Points of the curve of a panel. [px]"""
    for one in views(picture.spec)[quantity]["layer"]:
        if one["mark"]["type"] == "line" and one["mark"]["color"] == HUE:
            return [(row["x"], row["y"]) for row in picture.spec["datasets"][one["data"]["name"]]]
    raise AssertionError("no curve")


def lines(picture: Picture, quantity: str) -> dict[str, list[float]]:
    """Heights of the limits of a panel by their names. [px]"""
    found: dict[str, list[float]] = {}
    for one in views(picture.spec)[quantity]["layer"]:
        for row in picture.spec["datasets"][one["data"]["name"]]:
            if one["mark"]["type"] == "rule" and "name" in row:
                found.setdefault(row["name"], []).append(row["y"])
    return found


def longest(evaluation: Evaluation) -> dict[str, Any]:
    between = [
        row for row in rows_of_legs(evaluation) if row["start"].startswith("station") and row["end"].startswith("stat")
    ]
    return max(between, key=lambda row: row["distance_m"])


def test_without_a_run_it_is_the_longest_move_between_stations(fourteen: Evaluation, picture: Picture) -> None:
    row = longest(fourteen)
    first = picture.spec["title"]["subtitle"][0].replace(KEEP, " ")
    assert f", {1000 * row['distance_m']:.4g} mm, " in first
    assert f"{row['time_s']:.3f} s: {row['governs']} governs" in first
    said = " ".join(picture.spec["title"]["subtitle"]).replace(KEEP, " ")
    assert f"10 % more of it would save {row['eased_s']:.3f} s" in said
    assert "No run" in said


def test_with_a_run_it_is_the_move_into_the_limiting_station(five: Evaluation) -> None:
    assert five.run is not None
    assert five.run.limiting is not None
    into = [row for row in rows_of_legs(five) if row["end"] == f"station {five.run.limiting.step}"]
    most = max(into, key=lambda row: row["made"])
    said = " ".join(move_limits(five).spec["title"]["subtitle"]).replace(KEEP, " ")
    stop = next(stop for stop in five.layout.stops if stop.label == most["start"])
    start = f"{most['start']} ({stop.travel_m / INCH_M:.2f} in along lane {stop.lane})"
    assert stop.kind == "waiting"
    assert said.startswith(f"{start} to {five.run.limiting.step}, {most['distance_m'] / INCH_M:.2f} in, ")
    assert f"{move_mass(five, most):.3g} kg move" in said
    assert f"Made {most['made']} times" in said


def move_mass(evaluation: Evaluation, leg: dict[str, Any]) -> float:
    """What moves: the carrier, its fixture, and the part where it is aboard. [kg]"""
    line = evaluation.line
    parts = [line.fixture, line.part if leg["loaded"] else None]
    return line.conveyor.carrier.mass_kg + sum(one.mass_kg for one in parts if one is not None)


def test_the_peak_of_the_speed_panel_is_that_of_the_leg(fourteen: Evaluation, picture: Picture, svg: str) -> None:
    row, points = longest(fourteen), curve(picture, "speed")
    ends = lines(picture, "speed")
    limit = next(name for name in ends if "drive speed" in name)
    foot = points[0][1]
    drawn = fourteen.line.conveyor.drive.speed_m_s * (foot - min(y for _, y in points)) / (foot - ends[limit][0])
    assert drawn == pytest.approx(row["peak_speed_m_s"], rel=1e-3)
    assert any(f"reaches {row['peak_speed_m_s']:.3g} m/s" in one for one in texts(svg))


def test_acceleration_and_jerk_keep_their_limits_on_both_sides(five: Evaluation) -> None:
    found = move_limits(five, loaded=True, end="press")
    for quantity in ("acceleration", "jerk"):
        heights = [y for _, y in curve(found, quantity)]
        kept = [ys for name, ys in lines(found, quantity).items() if len(ys) == 2]
        least = min(kept, key=lambda ys: abs(ys[0] - ys[1]))
        assert min(heights) >= min(least) - 0.01
        assert max(heights) <= max(least) + 0.01
    assert min(y for _, y in curve(found, "jerk")) == pytest.approx(min(lines(found, "jerk").popitem()[1]))


def test_the_governing_limit_is_bold_and_all_candidates_are_named(five: Evaluation) -> None:
    found = move_limits(five, "load", loaded=True)
    row = max(
        (row for row in rows_of_legs(five) if row["start"] == "station load" and row["loaded"]),
        key=lambda row: (row["made"], row["distance_m"]),
    )
    said = texts(found.svg())
    assert sum(one.startswith(f"governs: {row['governs']} ") for one in said) == 1
    for candidate in row["candidates"].split(", "):
        name, figure, unit = candidate.rsplit(" ", 2)
        inches = float(figure) / INCH_M
        words = f"{inches:,.0f}" if inches >= 1000 else f"{inches:.3g}"
        shown = f"{name} {words.replace(',', ' ')} {unit.replace('m/', 'in/', 1)}"
        assert any(shown in one.replace(chr(160), " ") for one in said), shown


def test_a_limit_beyond_the_scale_is_told_by_an_arrow_with_its_number(five: Evaluation) -> None:
    svg = move_limits(five).svg()
    beyond = labelled(svg, ".*; beyond this scale")
    assert any("thrust" in one and "in/s²" in one for one in beyond)
    for one in beyond:
        assert one.split(": ")[-1].split(";")[0] in texts(svg)


def test_all_panels_share_the_axis_of_time(picture: Picture, svg: str) -> None:
    ends = {(curve(picture, one)[0][0], curve(picture, one)[-1][0]) for one in ("position", "speed", "jerk")}
    assert len(ends) == 1
    assert list(views(picture.spec)) == ["position", "speed", "acceleration", "jerk"]
    assert texts(svg).count("time from departure (s)") == 1


def test_a_hold_that_is_not_stated_is_not_checked(fourteen: Evaluation) -> None:
    assert fourteen.line.part is not None
    loose = fourteen.line.model_copy(update={"part": fourteen.line.part.model_copy(update={"held": None})})
    said = " ".join(move_limits(evaluate_without_run(loose), loaded=True).spec["title"]["subtitle"])
    assert "NOT CHECKED: part hold" in said
    assert "NOT CHECKED" not in " ".join(move_limits(fourteen, loaded=True).spec["title"]["subtitle"])


def test_wrong_names_say_what_exists(five: Evaluation) -> None:
    with pytest.raises(ValueError, match=r"no station or stop 'pres'; there are .*press"):
        move_limits(five, "pres", "load")
    with pytest.raises(ValueError, match=r"no carrier makes a move from station load to station load; there are"):
        move_limits(five, "load", "load")
    with pytest.raises(ValueError, match=r"from station load without a part; there are load to .*, loaded"):
        move_limits(five, "load", loaded=False)


def test_where_nothing_moves_there_is_nothing_to_draw(fourteen: Evaluation) -> None:
    with pytest.raises(NothingToDraw, match="no carrier can be accelerated"):
        move_limits(replace(fourteen, limits=None))


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_words_keep_apart(five: Evaluation, fourteen: Evaluation, size: float) -> None:
    for found in (
        move_limits(five, text=Text(size)),
        move_limits(five, loaded=True, text=Text(size)),
        move_limits(fourteen, loaded=True, text=Text(size)),
    ):
        assert overlapping(found) == []


@pytest.mark.long
def test_it_is_in_the_grammar(picture: Picture) -> None:
    assert isinstance(picture.chart(), altair.VConcatChart)
