"""The causes of the line cycle as one bar: every second drawn once, at its length, with its name."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, pairwise
from types import SimpleNamespace
from typing import Any

import altair
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import linewright as lw
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.pictures.charts.causes import cycle_causes
from linewright.pictures.charts.comb import KEEP, MARK_ROOM_PX, Mark, comb, kept
from linewright.pictures.grammar import Datasets
from linewright.pictures.labels import text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import CAUSE_FILLS, FILLS, INK, Text
from linewright.tables import Column, Table
from unit.pictures.drawn import all_rows, labelled, texts

FIVE = "examples/charts/five.yaml"


def overlapping(picture: Picture) -> list[tuple[str, str]]:
    """Words that lie over one another, by the estimate of their widths, view by view."""
    found = []
    for view in picture.spec["vconcat"]:
        boxes = [box for one in view["layer"] if one["mark"]["type"] == "text" for box in _boxes(picture, one)]
        for (a, *one), (b, *other) in combinations(boxes, 2):
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            if not apart:
                found.append((a, b))
    return found


def _boxes(picture: Picture, layer: dict[str, Any]) -> list[tuple[str, float, float, float, float]]:
    mark, place = layer["mark"], layer["encoding"]
    boxes = []
    for row in picture.spec["datasets"][layer["data"]["name"]]:
        words, x, y = (row[place[name]["field"]] for name in ("text", "x", "y"))
        wide, high = text_width_px(words, mark["fontSize"]), mark["fontSize"]
        if mark.get("angle"):
            boxes.append((words, x - high / 2, y - wide, x + high / 2, y))
            continue
        left = x - {"left": 0.0, "center": wide / 2, "right": wide}[mark["align"]]
        boxes.append((words, left, y - high / 2, left + wide, y + high / 2))
    return boxes


def of_causes(rows: list[tuple[str, str, float]], takt_s: float | None = None, rate_s: float | None = None) -> Any:
    """What the picture reads of an evaluation whose line cycle is made of these rows."""
    cycle_s = sum(time_s for *_, time_s in rows)
    table = Table(
        (
            Column("kind", None, np.array([row[0] for row in rows], np.str_)),
            Column("place", None, np.array([row[1] for row in rows], np.str_)),
            Column("time_s", "s", np.array([row[2] for row in rows])),
            Column("share", None, np.array([row[2] / cycle_s for row in rows])),
        )
    )
    line_cycle_s = cycle_s if rate_s is None else rate_s
    figures = {"causes_cycle_s": cycle_s, "line_cycle_s": line_cycle_s, "runs": 2, "hours": 1.0, "seed": 1}
    run = SimpleNamespace(cycle_causes=table, **figures)
    takt = None if takt_s is None else SimpleNamespace(takt_s=takt_s)
    line = SimpleNamespace(name="Made up", conveyor=SimpleNamespace(name="demo-light", invented=True))
    return SimpleNamespace(run=run, takt=takt, line=line, findings=())


def bars(picture: Picture) -> list[list[dict[str, Any]]]:
    """The stretches of each bar, from left to right."""
    rows = [row for row in all_rows(picture) if "paint" in row]
    heights = sorted({row["y"] for row in rows})
    return [sorted((row for row in rows if row["y"] == y), key=lambda row: row["x"]) for y in heights]


def at_mark(picture: Picture, name: str) -> float:
    """Pixel of an upright line that goes through a bar."""
    return float(next(row["x"] for row in all_rows(picture) if row.get("name", "").startswith(name) and "y2" in row))


@pytest.fixture(scope="module")
def five() -> Evaluation:
    return lw.evaluate(lw.load(FIVE), hours=0.75, runs=2)


@pytest.fixture(scope="module")
def picture(five: Evaluation) -> Picture:
    return cycle_causes(five)


def test_both_bars_are_whole_and_end_at_their_sum(five: Evaluation, picture: Picture) -> None:
    both = bars(picture)
    assert five.run is not None
    assert five.run.causes_cycle_s is not None
    assert five.run.line_cycle_s is not None
    px_per_s = at_mark(picture, "line cycle") / five.run.line_cycle_s
    assert len(both) == 2
    for bar in both:
        assert bar[0]["x"] == 0.0
        assert all(before["x2"] == pytest.approx(after["x"]) for before, after in pairwise(bar))
        assert bar[-1]["x2"] == pytest.approx(px_per_s * five.run.causes_cycle_s, abs=0.01)


def test_lengths_are_seconds_on_the_scale_of_the_takt(five: Evaluation, picture: Picture) -> None:
    assert five.run is not None
    assert five.takt is not None
    px_per_s = at_mark(picture, "takt") / five.takt.takt_s
    first = five.run.cycle_causes.rows()[0]
    largest = bars(picture)[0][0]
    assert largest["x2"] - largest["x"] == pytest.approx(px_per_s * first["time_s"])
    assert largest["name"].startswith(f"{first['kind']} at {first['place']}, {first['time_s']:.3f} s")
    assert largest["paint"] == FILLS[CAUSE_FILLS[first["kind"]]].paint


def test_every_cause_is_named_once_or_counted_in_the_rest(five: Evaluation, picture: Picture) -> None:
    assert five.run is not None
    rows, svg = five.run.cycle_causes.rows(), picture.svg()
    named = [row for row in rows if row["share"] >= 0.005]
    for row in named:
        words = f"{row['kind']} at {row['place']}, {row['time_s']:.3f} s, {100 * row['share']:.1f} %"
        assert texts(svg).count(words) == 1
        assert labelled(svg, f"{words} of the line cycle".replace(".", r"\."))
    rest_s = sum(row["time_s"] for row in rows if row not in named)
    assert sum(one.startswith(f"{len(rows) - len(named)} more, {rest_s:.3f} s") for one in texts(svg)) == 1
    assert picture.spec["datasets"] == cycle_causes(five).spec["datasets"]


def test_kinds_are_sums_over_places() -> None:
    found = cycle_causes(of_causes([("work", "a", 1.0), ("settling", "a", 0.5), ("work", "b", 0.25)]))
    kinds = bars(found)[1]
    assert [row["name"] for row in kinds] == [
        "work, 1.250 s, 71.4 % of the line cycle",
        "settling, 0.500 s, 28.6 % of the line cycle",
    ]


@pytest.mark.parametrize(("takt_s", "words"), [(2.0, "0.250 s (12.5 %) below"), (1.4, "0.350 s (25.0 %) ABOVE")])
def test_the_takt_says_on_which_side_the_line_cycle_lies(takt_s: float, words: str) -> None:
    found = cycle_causes(of_causes([("work", "a", 1.5), ("travel", "b", 0.25)], takt_s))
    said = " ".join(found.spec["title"]["subtitle"]).replace(KEEP, " ")
    assert words in said
    assert at_mark(found, "takt") / at_mark(found, "line cycle") == pytest.approx(takt_s / 1.75)


def test_the_takt_is_held_against_the_line_cycle_of_the_rate_and_both_are_said() -> None:
    found = cycle_causes(of_causes([("work", "a", 1.5), ("travel", "b", 0.25)], 2.0, 1.8))
    said = " ".join(found.spec["title"]["subtitle"]).replace(KEEP, " ")
    assert "1.750 s from one good part to the next" in said
    assert "the line cycle of the rate counts the whole time: 1.800 s" in said
    assert "the line cycle of the rate lies 0.200 s (10.0 %) below it" in said
    assert at_mark(found, "takt") / at_mark(found, "line cycle") == pytest.approx(2.0 / 1.8)
    assert bars(found)[0][-1]["x2"] / at_mark(found, "line cycle") == pytest.approx(1.75 / 1.8)


def test_every_tick_has_its_number_and_no_leader_begins_at_a_mark() -> None:
    rows = [("work", "a", 4.4), *((kind, "b", 0.004) for kind in CAUSE_FILLS)]
    found = cycle_causes(of_causes(rows, 4.48))
    layers = found.spec["vconcat"][0]["layer"]
    rules = [one for one in layers if one["mark"]["type"] == "rule" and one["mark"].get("strokeWidth") == 0.8]
    ticks = [row["x"] for one in rules for row in found.spec["datasets"][one["data"]["name"]]]
    numbers = [one for one in texts(found.svg()) if re.fullmatch(r"[\d.]+ s", one)]
    assert len(ticks) == len(numbers) > 10
    leads = [one for one in layers if one["mark"]["type"] == "line"]
    starts = [row["x"] for one in leads[1:] for row in found.spec["datasets"][one["data"]["name"]] if row["k"] == 0]
    assert starts
    assert min(abs(x - at_mark(found, name)) for x in starts for name in ("takt", "line cycle")) >= MARK_ROOM_PX


def test_without_a_demand_that_is_said(picture: Picture) -> None:
    found = cycle_causes(of_causes([("work", "a", 1.5)]))
    assert "No takt to judge by" in " ".join(found.spec["title"]["subtitle"])
    assert not labelled(found.svg(), "takt.*")


def test_what_is_below_zero_counts_in_the_rest_and_a_negative_rest_is_said() -> None:
    found = cycle_causes(of_causes([("work", "a", 1.5), ("travel", "b", 0.02), ("reaction", "b", -0.01)]))
    first = bars(found)[0]
    assert first[-1]["name"].startswith("travel at b, 0.020 s")
    assert first[-1]["x2"] > at_mark(found, "line cycle")
    assert "The rest is below zero" in " ".join(found.spec["title"]["subtitle"])
    shorter = cycle_causes(of_causes([("work", "a", 1.5), *[("travel", f"b{n}", 0.004) for n in range(9)]]))
    assert bars(shorter)[0][-1]["name"].startswith("9 more, 0.036 s")
    assert "below zero" not in " ".join(shorter.spec["title"]["subtitle"])


def test_without_a_run_there_is_nothing_to_draw(five: Evaluation) -> None:
    with pytest.raises(NothingToDraw, match="no run"):
        cycle_causes(evaluate_without_run(five.line))
    assert five.run is not None
    with pytest.raises(NothingToDraw, match="two good parts"):
        cycle_causes(replace(five, run=replace(five.run, causes_cycle_s=None)))
    no_rate = cycle_causes(replace(five, run=replace(five.run, line_cycle_s=None)))
    assert "no rate is known to judge by it" in " ".join(no_rate.spec["title"]["subtitle"])
    assert not [row for row in all_rows(no_rate) if row.get("name", "").startswith("line cycle")]


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("spread", [1.0, 0.5, 0.05])
def test_words_keep_apart_however_the_cycle_is_split(size: float, spread: float) -> None:
    kinds = list(CAUSE_FILLS)
    rows = [(kind, f"a station of a long name {number}", spread**number) for number, kind in enumerate(kinds)]
    for takt_s in (0.3, sum(row[2] for row in rows), 60.0):
        assert overlapping(cycle_causes(of_causes(rows, takt_s), Text(size))) == []


@pytest.mark.long
def test_it_is_in_the_grammar_and_grows_with_its_letters(five: Evaluation, picture: Picture) -> None:
    assert isinstance(picture.chart(), altair.VConcatChart)
    large = cycle_causes(five, Text(2.0))
    heights = [one.spec["vconcat"][0]["height"] for one in (picture, large)]
    assert heights[1] > 1.5 * heights[0]
    assert large.spec["title"]["fontSize"] == 2.0 * picture.spec["title"]["fontSize"]


@given(st.lists(st.tuples(st.floats(0.0, 800.0), st.integers(1, 40)), min_size=1, max_size=9))
def test_a_comb_s_leaders_meet_no_name(places: list[tuple[float, int]]) -> None:
    data = Datasets()
    marks = [Mark(at, "x" * letters, f"{number}") for number, (at, letters) in enumerate(places)]
    (lead, name), _ = comb(marks, 0.0, 800.0, data, Text())
    names = data.rows[name["data"]["name"]]
    side = -1.0 if name["mark"]["align"] == "right" else 1.0
    upright = [row for row in data.rows[lead["data"]["name"]] if row["k"] == 2]
    for row in names:
        ends = sorted((row["x"], row["x"] + side * text_width_px(row["words"], 12.0)))
        assert ends[0] >= -1e-6
        assert ends[1] <= 800.0 + 1e-6
        passing = [one["x"] for one in upright if one["y"] > row["y"] - 9.0 and one["y"] != row["y"]]
        assert not [at for at in passing if ends[0] - 1.0 < at < ends[1] + 1.0]
    assert name["mark"]["color"] == INK


def test_numbers_keep_their_units() -> None:
    said = kept("0.008 / s of 12 mm, 3 σ 0.06 in, 10 % more in 20 runs of 2 h").replace(KEEP, "_")
    assert said == "0.008_/_s of 12_mm, 3_σ_0.06_in, 10_% more in 20_runs of 2_h"


def test_a_comb_refuses_a_name_longer_than_its_row() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        comb([Mark(5.0, "a very long name", "")], 0.0, 50.0, Datasets(), Text())
