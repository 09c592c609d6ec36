"""The rate over the number of carriers: every count drawn once, at its rate, and what it means in words."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import altair
import pytest

import linewright as lw
from linewright.flow.statistics import Interval
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.pictures.charts.carriers import rate_against_carriers, rate_words
from linewright.pictures.charts.comb import KEEP
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import Text
from linewright.planning.choices import Choices, Plateau, SmallestNear
from linewright.planning.size import CountRow, Sizing
from unit.pictures.drawn import all_rows, labelled, texts, views
from unit.pictures.test_causes import overlapping

MOST = 900.0


@pytest.fixture(scope="module")
def line() -> Line:
    return lw.load("examples/charts/five.yaml")


def count(carriers: int, rated: bool = True, most: float = MOST, a_carrier: float = 200.0) -> CountRow:
    """A row of a line whose rate rises by so much a carrier up to what its slowest step allows. [1/h]"""
    bound = min(most, a_carrier * carriers)
    rate = Interval(0.97 * bound, 0.95 * bound, 0.99 * bound, 0.95) if rated else None
    return CountRow(
        carriers=carriers,
        rate=rate,
        reason=None if rated else "the runs are too short",
        upper_bound_per_h=bound,
        bound="carriers" if bound < most else "press",
        of_bound=0.97,
        above_bounds=False,
        blocked_share=0.01 * carriers,
        limiting_step="press",
        limiting_blocked_share=0.0,
        round_s=None,
        loop_s=None,
        stalled_runs=0,
    )


def sizing(line: Line, counts: list[CountRow], required: float | None = 700.0, fit: int = 21) -> Sizing:
    """The same with what follows, as far as the picture reads it."""
    rated = {row.carriers: row.rate for row in counts if row.rate is not None}
    zero = Interval(0.0, 0.0, 0.0, 0.95)
    best = max(rated, key=lambda one: (rated[one].mean, -one), default=None)
    good = tuple(one for one in rated if best is not None and rated[one].mean == rated[best].mean)
    meets = None if required is None else next((one for one in rated if rated[one].low >= required), None)
    choices = Choices(
        reason=None if rated else "no run has an interval",
        plateau=None if best is None else Plateau(best, rated[best], good, False),
        smallest_near=None if best is None else SmallestNear(best, zero, best),
        smallest_meeting_takt=meets,
        smallest_meeting_takt_one_out=None if meets is None or meets + 1 not in rated else meets + 1,
        all_fail=meets is None and required is not None and all(one.high < required for one in rated.values()),
        one_out=None,
        onset_of_blocking=None,
        lower=(),
    )
    return Sizing(
        line, lay_out(line), tuple(counts), fit, 44, required, choices, None, None, 60.0, hours=1.0, runs=4, seed=1
    )


def points(picture: Picture) -> dict[str, list[dict[str, Any]]]:
    """Rows of the points by view, in the order of their counts."""
    found = {}
    for name, view in views(picture.spec).items():
        rows = []
        for one in view["layer"]:
            if one["mark"]["type"] == "point" and "shape" not in one["mark"]:
                rows += picture.spec["datasets"][one["data"]["name"]]
        found[name] = rows
    return found


def level(picture: Picture, view: str, name: str) -> float:
    """Height of a named level line in a view. [px]"""
    for one in views(picture.spec)[view]["layer"]:
        for row in picture.spec["datasets"][one["data"]["name"]]:
            if one["mark"]["type"] == "rule" and row.get("name", "").startswith(name):
                return float(row["y"])
    raise AssertionError(f"no level line {name}")


@pytest.fixture(scope="module")
def sized(line: Line) -> Sizing:
    return sizing(line, [count(carriers) for carriers in range(1, 12)])


@pytest.fixture(scope="module")
def picture(sized: Sizing) -> Picture:
    return rate_against_carriers(sized)


@pytest.fixture(scope="module")
def svg(picture: Picture) -> str:
    return picture.svg()


def test_every_count_stands_once_in_the_whole_view_with_its_rate(sized: Sizing, picture: Picture, svg: str) -> None:
    found, labels = points(picture)["carriers"], labelled(svg, ".*good parts an hour, 95 % .*")
    assert len(found) == len(sized.counts)
    for row, drawn in zip(sized.counts, found, strict=True):
        assert row.rate is not None
        low, high = rate_words(row.rate.low), rate_words(row.rate.high)
        said = f"{row.carriers} carriers: {rate_words(row.rate.mean)} good parts an hour, 95 % interval {low} to {high}"
        assert drawn["name"].startswith(said)
        assert sum(one.startswith(said) for one in labels) == (1 if row.carriers < 4 else 2)
    steps = [after["x"] - before["x"] for before, after in pairwise(found)]
    assert steps == pytest.approx([steps[0]] * len(steps))


def test_the_whole_view_begins_at_zero_and_all_stands_on_one_scale(sized: Sizing, picture: Picture) -> None:
    found = points(picture)["carriers"]
    rates = [row.rate.mean for row in sized.counts if row.rate is not None]
    px_per = (found[0]["y"] - found[-1]["y"]) / (rates[-1] - rates[0])
    zero = found[0]["y"] + px_per * rates[0]
    assert level(picture, "carriers", "required rate") == pytest.approx(zero - px_per * 700.0)
    assert level(picture, "carriers", "11 carriers: at most") == pytest.approx(zero - px_per * MOST)
    frame = next(row for row in all_rows(picture) if {"x", "x2", "y", "y2"} == set(row) and row["y2"] - row["y"] == 300)
    assert zero == pytest.approx(frame["y2"])


def test_whiskers_are_the_interval(sized: Sizing, picture: Picture) -> None:
    found = points(picture)["carriers"]
    whiskers = [row for row in all_rows(picture) if set(row) == {"x", "y", "y2"} and row["x"] == found[4]["x"]]
    rate = sized.counts[4].rate
    assert rate is not None
    px_per = (found[0]["y"] - found[4]["y"]) / (rate.mean - 194.0)
    assert any(row["y"] - row["y2"] == pytest.approx(px_per * (rate.high - rate.low)) for row in whiskers)


def test_the_close_up_says_that_it_does_not_begin_at_zero_and_what_it_leaves_out(picture: Picture, svg: str) -> None:
    said = texts(svg)
    assert sum("THIS SCALE DOES NOT BEGIN AT ZERO" in one for one in said) == 1
    left_out = labelled(svg, ".*below this scale")
    shown = points(picture)["close-up"]
    assert len(left_out) + len(shown) == 11
    assert left_out
    assert any(one.startswith(f"below this scale, arrows at its edge: 1 to {len(left_out)} carriers") for one in said)
    ends = level(picture, "close-up", "required rate")
    assert ends > shown[-1]["y"]


def test_marks_say_what_a_count_means(picture: Picture, svg: str) -> None:
    said = texts(svg)
    for words in (
        "4: the fewest that meet the takt",
        "5: the fewest that meet the takt with one out, the fewest surely within 0.5 % of the most, most rate",
        "11: in the line file",
    ):
        assert said.count(words) == 1
    above = " ".join(picture.spec["title"]["subtitle"])
    assert "4 carriers are the fewest of those looked at" in above
    assert "Not among the counts looked at: 21: most that fit; 44: most that the sheet allows." in above
    x = {row["name"]: row["x"] for row in all_rows(picture) if row.get("name", "").startswith("11: in the line file")}
    assert points(picture)["carriers"][-1]["x"] == pytest.approx(x["11: in the line file carriers"], abs=20.0)


def test_both_rules_of_as_good_and_the_length_of_the_runs_are_said(line: Line) -> None:
    made = replace(sizing(line, [count(carriers) for carriers in range(1, 12)]), hours=2.03151)
    made = replace(made, choices=replace(made.choices, onset_of_blocking=1))
    said = " ".join(rate_against_carriers(made).spec["title"]["subtitle"]).replace(KEEP, " ")
    assert "on the plateau is every count that may be as good as the 5 with most rate" in said
    assert "5 are the fewest that are surely within 0.5 % of the most" in said
    assert "Blocking begins where more than 1 % of all stations' time is blocked" in said
    assert "4 runs of 2.03 h for each count" in said


def test_anything_but_a_sizing_is_refused_in_words(line: Line) -> None:
    with pytest.raises(TypeError, match=r"a Sizing is due, not Line: linewright\.planning\.size\.size_line"):
        rate_against_carriers(line)  # type: ignore[arg-type]


def test_most_that_fit_is_marked_where_the_counts_reach_it(line: Line) -> None:
    found = rate_against_carriers(sizing(line, [count(carriers) for carriers in range(1, 12)], fit=9))
    assert [row.get("words") for row in all_rows(found)].count("9: most that fit") == 1


def test_what_sets_the_bound_and_the_plateau_are_named_along_the_counts(svg: str) -> None:
    assert labelled(svg, "1 to 4 carriers: the upper bound is set by the carriers on their way round")
    assert labelled(svg, "5 to 11 carriers: the upper bound is set by press")
    assert labelled(svg, r"5 to 11 carriers: as good as the most \(plateau\)")


def test_counts_without_a_rate_stand_at_the_foot(line: Line) -> None:
    found = rate_against_carriers(
        sizing(line, [count(carriers, carriers not in (1, 2, 6)) for carriers in range(1, 9)])
    )
    svg = found.svg()
    assert sorted(labelled(svg, ".*no rate, the runs are too short")) == [
        f"{carriers} carriers: no rate, the runs are too short" for carriers in (1, 2, 6)
    ]
    assert texts(svg).count("no rate") == 2 + 1  # two runs of counts, and the key
    assert len(points(found)["carriers"]) == 5


def test_no_rate_at_all_is_said_and_has_no_close_up(line: Line) -> None:
    found = rate_against_carriers(sizing(line, [count(carriers, rated=False) for carriers in (3, 4)]))
    assert "NOT CHECKED" in found.spec["title"]["subtitle"][0]
    assert "close-up" not in views(found.spec)
    with pytest.raises(NothingToDraw):
        rate_against_carriers(sizing(line, []))


@pytest.mark.parametrize(
    ("required", "words"), [(None, "No takt to judge by"), (2000.0, "FAILS: no number"), (860.0, "NOT DECIDED")]
)
def test_the_answer_stands_above(line: Line, required: float | None, words: str) -> None:
    found = rate_against_carriers(sizing(line, [count(carriers) for carriers in range(1, 9)], required))
    assert words in found.spec["title"]["subtitle"][0]
    drawn = [row for row in all_rows(found) if row.get("name", "").startswith("required rate")]
    assert bool(drawn) == (required is not None)


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize(("first", "last"), [(1, 1), (1, 12), (1, 60), (40, 99)])
def test_words_keep_apart(line: Line, size: float, first: int, last: int) -> None:
    for a_carrier, required in ((200.0, 700.0), (15.0, 899.0), (15.0, None)):
        counts = [count(carriers, carriers != 5, a_carrier=a_carrier) for carriers in range(first, last + 1)]
        assert overlapping(rate_against_carriers(sizing(line, counts, required), Text(size))) == []


@pytest.mark.long
def test_it_is_in_the_grammar(picture: Picture) -> None:
    assert isinstance(picture.chart(), altair.VConcatChart)
