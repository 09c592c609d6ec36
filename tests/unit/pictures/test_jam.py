"""A jam, step by step: every step, every carrier and every holder is drawn, at its place."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from linewright.flow.gridlock import gridlock
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.pictures.jam.steps import LAST_DRAWN, MOST_DRAWN, REASONS, jam_steps, places_by_step
from linewright.pictures.labels import text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import Text
from linewright.traffic.gridlock.result import Answer, Cure, GridlockResult, Jam, Standing, WayStep
from unit.pictures.hand_made import line_text

LOCKS = Path(__file__).parents[3] / "examples" / "locks"
NEVER = Answer("never locks", "room", 9, 0, "there are too few")
BODY_MM = 236.0


@cache
def track(carriers: int = 4, units: str = "mm") -> tuple[Line, Layout]:
    """An invented two-deck line of five stations."""
    line = line_text(5, carriers, units).line()
    return line, lay_out(line)


def standing(carrier: int, stop: int, held_by: int | None = None, **more: Any) -> Standing:
    return Standing(carrier, stop, 0, True, more.pop("carries", "nothing"), held_by, **more)


def moved(carrier: int, start: int, stop: int, carries: str = "a part") -> WayStep:
    return WayStep("moves", 0, carrier, start, stop, 1, carries)


RING = Jam(
    ring=(
        standing(0, 4, 1, wants=5, reason="way", carries="a part"),
        standing(1, 5, 2, wants=6, reason="platform", carries="a flagged part"),
        standing(2, 8, 0, wants=9, reason="way"),
    ),
    others=(),
    free=(3,),
    stations=(1, 3),
)
WAY = (
    moved(2, 7, 8, "nothing"),
    WayStep("work ends", 0, 1, 4, 4, 1, "a part"),
    moved(1, 4, 5, "a flagged part"),
    moved(0, 3, 4),
)
START = (standing(0, 3), standing(1, 4), standing(2, 7), standing(3, 10))


def answer(way: tuple[WayStep, ...] = WAY, start: tuple[Standing, ...] = START, jam: Jam = RING) -> Answer:
    return Answer("can lock", "jam", 3, 10, "it was led into it", start, way, jam=jam)


def result(told: Answer, **more: Any) -> GridlockResult:
    return GridlockResult(4, told, told, 3, 3, 9, **more)


def drawn(told: Answer, size: float = 1.0, **more: Any) -> Picture:
    return jam_steps(*track(), result(told, **more), Text(size))


def rows(picture: Picture) -> list[dict[str, Any]]:
    """All rows that the picture draws."""
    return [row for some in picture.spec["datasets"].values() for row in some]


def boxes(picture: Picture) -> dict[str, dict[int, float]]:
    """Strip -> carrier -> middle of its box on the axis; a carrier drawn twice in one strip is an error."""
    found: dict[str, dict[int, float]] = {}
    for row in rows(picture):
        match = re.match(
            r"(at the beginning|after step \d+|step \d+|the jam): carrier (\d+) .*carries", row.get("name", "")
        )
        if match and "fill" in row:
            strip = found.setdefault(match[1], {})
            assert int(match[2]) not in strip
            strip[int(match[2])] = (row["x"] + row["x2"]) / 2
    return found


def words(picture: Picture) -> list[str]:
    """All lines of words at the left end, from top to bottom of their view."""
    return [row["words"] for row in rows(picture) if row.get("x") == 0.0 and "words" in row]


def axis_mm(stop: int) -> float:
    return 1e3 * track()[1].stops[stop].axis_m


def test_each_step_is_drawn_once_and_in_order() -> None:
    picture = drawn(answer())
    over = [row for row in rows(picture) if re.match(r"\d+: ", row.get("words", ""))]
    assert [row["words"].split(":")[0] for row in over] == ["1", "2", "3", "4"]
    assert [row["y"] for row in over] == sorted({row["y"] for row in over})
    labels = [track()[1].stops[stop].label for stop in (7, 8)]
    assert over[0]["words"] == f"1: carrier 2 moves from {labels[0]} to {labels[1]}"
    assert over[1]["words"].startswith("2: work ends at ")


def test_carriers_stand_where_start_and_way_put_them() -> None:
    at = {0: 3, 1: 4, 2: 7, 3: 10}
    strips = boxes(drawn(answer()))
    assert list(strips) == ["at the beginning", "step 1", "step 2", "step 3", "step 4", "the jam"]
    for number, change in enumerate(({}, {2: 8}, {}, {1: 5}, {0: 4}, {})):
        at |= change
        strip = strips[list(strips)[number]]
        assert strip == pytest.approx({carrier: axis_mm(stop) for carrier, stop in at.items()}, abs=0.02)


def test_a_move_ends_where_its_strip_shows_the_carrier_and_begins_where_the_one_before_does() -> None:
    picture = drawn(answer())
    strips = boxes(picture)
    heads = [row for row in rows(picture) if "angle" in row]
    tails = [row for row in rows(picture) if set(row) == {"x", "y"}]
    for head, (number, carrier) in zip(heads, ((1, 2), (3, 1), (4, 0)), strict=True):
        assert head["name"].startswith(f"step {number}: carrier {carrier} moves")
        assert head["x"] == pytest.approx(strips[f"step {number}"][carrier], abs=0.02)
        before = strips["at the beginning" if number == 1 else f"step {number - 1}"][carrier]
        assert [tail["x"] for tail in tails if tail["y"] == head["y"]] == pytest.approx([before], abs=0.02)


def test_a_move_over_the_end_of_the_axis_is_broken_there() -> None:
    layout = track()[1]
    last = len(layout.stops) - 1
    way = (moved(3, last, 1),)
    picture = drawn(answer(way, (*START[:3], standing(3, last))))
    shafts = [row for row in rows(picture) if set(row) == {"x", "x2", "y", "y2"} and row["y"] == row["y2"]]
    y = next(row["y"] for row in rows(picture) if "angle" in row)
    spans = [(row["x"], row["x2"]) for row in shafts if row["y"] == y]
    assert spans == [
        pytest.approx((axis_mm(last), 1e3 * layout.loop_m), abs=0.02),
        pytest.approx((0.0, axis_mm(1)), abs=0.02),
    ]
    assert sum("angle" in row for row in rows(picture)) == 2


def test_what_a_carrier_carries_is_drawn_in_it() -> None:
    picture = drawn(answer())
    sizes = [row for row in rows(picture) if "size" in row and "colour" in row]
    # Dots and crosses of the strips after the steps 2, 3, 4 and of the jam.
    by_kind: dict[str, list[float]] = {}
    for view in _layers_of(picture):
        mark = view["mark"]
        if mark["type"] == "point" and "size" in view["encoding"]:
            kind = "cross" if "shape" in mark else "dot"
            data = picture.spec["datasets"][view["data"]["name"]]
            by_kind.setdefault(kind, []).extend(row["x"] for row in data)
    assert len(sizes) == sum(map(len, by_kind.values()))
    assert sorted(by_kind["dot"]) == pytest.approx([axis_mm(4)] * 3, abs=0.02)
    assert sorted(by_kind["cross"]) == pytest.approx([axis_mm(5)] * 3, abs=0.02)


def _layers_of(picture: Picture) -> list[dict[str, Any]]:
    return [one for view in picture.spec["vconcat"][0]["vconcat"] for one in view["layer"]]


def test_each_of_the_ring_has_one_arrow_to_its_holder() -> None:
    picture = drawn(answer())
    jam = boxes(picture)["the jam"]
    heads = picture.spec["datasets"]
    arrows = [row for some in heads.values() for row in some if " is held by carrier " in row.get("name", "")]
    found = {}
    for row in arrows:
        match = re.match(r"carrier (\d+) is held by carrier (\d+): ", row["name"])
        assert match is not None
        assert int(match[1]) not in found
        found[int(match[1])] = int(match[2])
        assert abs(row["x"] - jam[int(match[2])]) < BODY_MM / 2
        line = sorted((r for r in rows(picture) if r.get("arrow") == int(match[1])), key=lambda r: r["n"])
        assert abs(line[0]["x"] - jam[int(match[1])]) < BODY_MM / 2
        assert line[-1]["x"] == row["x"]
    assert found == {0: 1, 1: 2, 2: 0}


def test_arrows_over_the_same_track_lie_on_different_levels() -> None:
    ring = tuple(standing(k, 3 * k + 1, (k + 2) % 5, wants=0, reason="way") for k in (0, 2, 4, 1, 3))
    told = answer((), ring, Jam(ring, (), (), ()))
    lines: dict[int, list[dict[str, Any]]] = {}
    for row in rows(drawn(told)):
        if "arrow" in row:
            lines.setdefault(row["arrow"], []).append(row)
    spans = {(line[1]["y"], *sorted((line[1]["x"], line[2]["x"]))) for line in lines.values()}
    assert len(spans) == 5
    for first in spans:
        for other in spans - {first}:
            assert first[0] != other[0] or first[2] <= other[1] + 0.1 or other[2] <= first[1] + 0.1


@pytest.mark.parametrize("reason", [*REASONS, "way"])
def test_why_a_carrier_is_held_stands_at_its_arrow_and_in_words(reason: Any) -> None:
    ring = (replace(RING.ring[0], reason=reason), replace(RING.ring[1], reason="way"), RING.ring[2])
    picture = drawn(answer(jam=replace(RING, ring=ring)))
    over = [row["words"] for row in rows(picture) if row.get("words") in REASONS.values()]
    assert over == ([REASONS[reason]] if reason in REASONS else [])
    told = {
        "stretch": "no more are admitted there: carrier 1",
        "platform": "the platform is away with carrier 1",
        "direction": "against the direction that carrier 1",
        "together": "its lane moves together, and carrier 1",
        "run-out": "while a flagged part is on the line: carrier 1",
        "way": "taken by carrier 1",
    }
    assert told[reason] in " ".join(words(picture))


def test_stations_that_never_work_again_stand_in_white_and_are_named() -> None:
    picture = drawn(answer())
    lost = {row["words"] for row in rows(picture) if "never works again" in row.get("name", "") and "words" in row}
    assert lost == {"press", "leak-1"}
    assert {row["colour"] for row in rows(picture) if row.get("words") in lost and "colour" in row} == {"#ffffff"}
    assert "Stations that never work again: press, leak-1." in words(picture)
    assert "Still able to move: carrier 3." in words(picture)


def test_of_a_long_way_the_end_is_drawn_and_the_rest_summed_up() -> None:
    round_ = [*range(10, 24), *range(8)]
    way = (*(moved(3, *pair, "nothing") for pair in pairwise(round_)), *WAY[:1], *WAY[2:])
    assert len(way) > MOST_DRAWN
    picture = drawn(answer(way))
    first = len(way) - LAST_DRAWN + 1
    drawn_steps = [row["words"].split(":")[0] for row in rows(picture) if re.match(r"\d+: ", row.get("words", ""))]
    assert drawn_steps == [str(number) for number in range(first, len(way) + 1)]
    layout = track()[1]
    text = " ".join(words(picture))
    ends = [layout.stops[stop].label for stop in (10, round_[first - 1])]
    assert f"{first - 1} steps, not drawn: carrier 3 from {ends[0]} to {ends[1]} in {first - 1} moves." in text
    strips = boxes(picture)
    assert strips[f"after step {first - 1}"][3] == pytest.approx(axis_mm(round_[first - 1]), abs=0.02)
    subtitle = " ".join(picture.spec["title"]["subtitle"])
    assert f"The first {first - 1} steps are summed up, the last {LAST_DRAWN} are drawn." in subtitle


def test_as_many_steps_as_may_be_are_all_drawn() -> None:
    way = tuple(moved(3, 9 + k, 10 + k, "nothing") for k in range(MOST_DRAWN))
    picture = drawn(answer(way))
    assert len(boxes(picture)) == MOST_DRAWN + 2
    assert "not drawn" not in " ".join(words(picture))


def test_carriers_put_in_and_taken_out_come_and_go() -> None:
    way = (WayStep("put in", 0, 4, 1, 1, 0, "nothing"), WayStep("taken out", 0, 3, 10, 10, 0, "nothing"))
    told = answer(way, jam=replace(RING, free=(4,)))
    assert [[one.carrier for one in state] for state in places_by_step(told)] == [
        [0, 1, 2, 3],
        [0, 1, 2, 3, 4],
        [0, 1, 2, 4],
    ]
    picture = drawn(told)
    strips = boxes(picture)
    assert (set(strips["step 1"]), set(strips["step 2"])) == ({0, 1, 2, 3, 4}, {0, 1, 2, 4})
    signs = [row["name"] for row in rows(picture) if re.search(r"is (put in|taken out) at", row.get("name", ""))]
    assert [sign.split(" at ")[0] for sign in signs] == [
        "step 2: carrier 3 is taken out",
        "step 1: carrier 4 is put in",
    ]


def test_a_jam_without_a_way_is_drawn_alone() -> None:
    told = answer((), tuple(replace(one, held_by=None) for one in (*RING.ring, START[3])))
    picture = jam_steps(*track(), replace(result(told), from_start=NEVER))
    assert list(boxes(picture)) == ["the jam"]
    subtitle = " ".join(picture.spec["title"]["subtitle"])
    assert "Begun as planned, this line never locks; once hands moved carriers, it can lock up" in subtitle
    assert "Put back like this" in subtitle


def test_the_planned_start_is_told_where_it_can_lock() -> None:
    other = answer((), START)
    picture = jam_steps(*track(), replace(result(answer()), from_any_placement=other))
    assert "step 4" in boxes(picture)


def test_a_carrier_that_nobody_holds_has_no_arrow() -> None:
    alone = standing(0, 4)
    picture = drawn(answer(jam=Jam((alone,), (), (1, 2, 3), ())))
    assert not [row for row in rows(picture) if "arrow" in row]
    assert any("has no way to where it is to go" in line for line in words(picture))


def test_no_jam_no_picture() -> None:
    with pytest.raises(NothingToDraw, match="never locks"):
        drawn(NEVER)
    with pytest.raises(NothingToDraw, match="undecided"):
        drawn(replace(NEVER, outcome="undecided"))


def test_the_cure_is_told_in_the_units_of_the_file() -> None:
    line, layout = track(units="inch")
    cure = Cure(("upper",), (), 0.254, 0.508, 2, from_any_placement=False)
    text = " ".join(words(jam_steps(line, layout, result(answer(), cure=cure))))
    assert "with at most 2 admitted to lane upper from 10 in to 20 in" in text
    assert "once hands moved carriers it still can" in text
    assert "Or fewer carriers: with at most 3 it never locks, however they stand." in text


def test_without_a_rule_it_says_why() -> None:
    assert "What cures it: 36 rules of admission were tried; none does." in words(drawn(answer(), cures_tried=36))


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_the_numbers_of_many_carriers_keep_apart(size: float) -> None:
    line, layout = track()
    start = tuple(standing(k, k) for k in range(len(layout.stops)))
    ring = tuple(replace(one, held_by=(one.carrier + 1) % len(start), reason="way", wants=0) for one in start)
    picture = jam_steps(line, layout, result(answer((), start, Jam(ring, (), (), ()))), Text(size))
    numbers = [row for row in rows(picture) if "centre" in row]
    assert sorted(int(row["words"]) for row in numbers) == list(range(len(start)))
    m_a_px = layout.loop_m * 1.024 / picture.spec["vconcat"][0]["vconcat"][0]["width"]
    by_row: dict[float, list[tuple[float, float]]] = {}
    for row in numbers:
        width = text_width_px(row["words"], Text(size).small_px)
        by_row.setdefault(row["y"], []).append((row["centre"] / 1e3 / m_a_px, width))
    for some in by_row.values():
        some.sort()
        for (before, wide), (after, other) in pairwise(some):
            assert after - before >= (wide + other) / 2


def test_two_carriers_face_to_face() -> None:
    """A line that locks, from its file to the picture."""
    line = load_line(LOCKS / "to-and-fro.yaml")
    found = gridlock(line)
    svg = jam_steps(line, lay_out(line), found).svg()
    steps = re.findall(r'aria-label="step (\d+): (carrier \d+ moves|work ends)', svg)
    assert sorted({int(number) for number, _ in steps}) == list(range(1, len(found.from_start.way) + 1))
    assert len(steps) == len(found.from_start.way)
    for strip in ("at the beginning", "step 1", "step 6", "the jam"):
        for carrier in (0, 1):
            assert len(re.findall(rf'aria-label="{strip}: carrier {carrier} at [^"]* carries', svg)) == 1
    assert len(re.findall(r'aria-label="carrier \d is held by carrier \d', svg)) == 2


@pytest.mark.long
@pytest.mark.parametrize("name", ["ring", "run-out", "spur"])
@pytest.mark.parametrize("size", [1.0, 2.0])
def test_every_line_that_locks_is_drawn(name: str, size: float) -> None:
    line = load_line(LOCKS / f"{name}.yaml")
    found = gridlock(line)
    picture = jam_steps(line, lay_out(line), found, Text(size))
    told = found.from_start if found.from_start.jam is not None else found.from_any_placement
    strips = boxes(picture)
    assert all(set(strip) == set(range(line.carriers)) for strip in strips.values())
    assert len(strips) == (min(len(told.way), LAST_DRAWN + 1) + 2 if told.way else 1)
    assert told.jam is not None
    assert sum(" is held by carrier " in row.get("name", "") for row in rows(picture)) == len(told.jam.ring)
    assert picture.svg().startswith("<svg")
