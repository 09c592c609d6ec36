"""The string line: its time axis, works, failures and jams as areas, what it leaves out and what it says."""

from __future__ import annotations

import json
import re
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.evaluation import Evaluation, evaluate
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.pictures import Picture, Shown, Text, track_chart
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import HUE, PAPER
from linewright.pictures.track.jams import Jam, find_jams
from linewright.pictures.track.logs import long_logs, run_logs
from linewright.pictures.track.sheet import Sheet, sheet_of
from linewright.pictures.track.string_line import string_line
from linewright.pictures.track.threads import Seen, Window, threads_of, what_is_seen
from linewright.pictures.track.time_scale import KEEP, is_compressed, plot_height_px, time_scale
from linewright.pictures.track.works import DrawnWork, drawn_works, merged_works
from unit.layout.layout_lines import LineText
from unit.pictures.drawn import SVG, labelled, layers, texts
from unit.pictures.hand_made import as_run, evaluation
from unit.pictures.test_threads import farthest, polyline

EXAMPLES = Path(__file__).parents[3] / "examples"
ALONE = Shown(("string-line",))


def made(
    moves: list[tuple[Any, ...]],
    works: list[tuple[Any, ...]],
    until_s: float = 120.0,
    carriers: int = 4,
    failures: str = "",
    line_cycle_s: float | None = 2.0,
) -> Any:
    """An evaluation of a line of three stations, a, b and c, with these logs; b fails."""
    fails = f", failures: [{failures}]" if failures else ""
    stations = (("a", "upper", 430.0, ""), ("b", "upper", 2200.0, fails), ("c", "lower", 1900.0, ""))
    line = LineText(stations, carriers=carriers).line()
    run = as_run(moves, works, until_s)
    run.line_cycle_s = line_cycle_s
    return SimpleNamespace(
        line=line, layout=lay_out(line), run=run, duty=None, findings=(), plan=None, takt=None, gains=None
    )


def drawn(e: Any, shown: Shown = ALONE) -> Picture:
    return track_chart(e, None, shown)


def rows(picture: Picture, name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = picture.spec["datasets"].get(name, [])
    return [{**row, "name": plain(row["name"])} if "name" in row else row for row in found]


def plain(words: str) -> str:
    """With usual spaces."""
    return words.replace(KEEP, " ")


def said_in(picture: Picture) -> str:
    """All its words: those of rows and key, without the drawing, which takes longer."""
    some = [row for all_of in picture.spec["datasets"].values() for row in all_of]
    return plain(" ".join(str(row[name]) for row in some for name in ("words", "text") if name in row))


def plain_svg(picture: Picture) -> str:
    return plain(picture.svg())


def sheet_and_seen(e: Any, **shown: Any) -> tuple[Sheet, Seen]:
    seen = what_is_seen(e, **shown)
    assert seen is not None
    return sheet_of(e, None, Text()), seen


def numbers(path: str) -> list[float]:
    return [float(one) for one in re.findall(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", path)]


def path_of(svg: str, name: str) -> str:
    """How the one mark of a name is drawn."""
    (node,) = [node for node in ElementTree.fromstring(svg).iter(f"{SVG}path") if node.get("aria-label") == name]
    return node.attrib["d"]


# Time


@pytest.mark.parametrize(
    ("span_s", "height_px"), [(30.0, 400.0), (120.0, 660.0), (290.0, 1595.0), (291.0, 1600.0), (28800.0, 1600.0)]
)
def test_a_second_is_five_and_a_half_pixels_as_far_as_the_page_goes(span_s: float, height_px: float) -> None:
    assert plot_height_px(span_s) == pytest.approx(height_px)
    assert is_compressed(span_s) == (span_s > 290.9)


@given(st.floats(0.0, 30000.0), st.floats(1.0, 30000.0), st.sampled_from([10.5, 21.0]))
@settings(max_examples=50, deadline=None)
def test_ticks_are_round_inside_and_far_enough_apart(start_s: float, span_s: float, size_px: float) -> None:
    end_s = start_s + span_s
    counted = time_scale(start_s, end_s, size_px)
    unit = "s" if end_s - start_s <= 300.0 else "min" if end_s - start_s <= 10800.0 else "h"
    assert counted.unit == unit
    ticks = counted.ticks_s
    assert all(start_s - 1e-3 <= tick <= end_s + 1e-3 for tick in ticks)
    steps = set(np.diff(ticks).tolist())
    assert len(steps) <= 1
    for step in steps:
        assert step * plot_height_px(span_s) / span_s >= 2.5 * size_px
        assert all(tick % step == 0 for tick in ticks)
        assert (step * 4) % counted.unit_s == 0
    assert len(ticks) >= 3 or span_s < 6.0


def test_the_axis_says_what_it_counts() -> None:
    e = made([], [], until_s=4000.0)
    for span_s, unit in ((120.0, "s"), (600.0, "min")):
        picture = drawn(e, Shown(("string-line",), span_s=span_s))
        assert f"time after the start ({unit})" in texts(picture.svg())
    assert {"0", "1", "2", "10"} <= set(texts(picture.svg())), "minutes, not seconds"


# Works


def test_works_are_cut_to_the_window_and_named_once() -> None:
    e = made([], [("a", 0, 7, 3.0, 5.0, 0.0), ("a", 0, 8, 130.0, 131.0, 0.0)], until_s=140.0)
    logs = run_logs(e.line, e.layout, e.run)
    (work,) = drawn_works(e.line, e.layout, logs, Window(3.5, 4.5))
    assert (work.start_s, work.end_s, work.serial, work.count) == (3.5, 4.5, 7, 1)
    assert work.axis_m == e.layout.stop_of("a").axis_m
    assert drawn_works(e.line, e.layout, logs, Window(5.0, 6.0)) == ()
    assert labelled(drawn(e).svg(), "work at .*") == ["work at a: carrier 0, part 7"]


def test_only_what_nobody_could_tell_apart_is_joined() -> None:
    works = [DrawnWork("a", 1, number, 0.4, at, at + 2.0) for number, at in enumerate((0.0, 3.0, 7.0, 30.0))]
    works.append(DrawnWork("b", 1, 9, 2.2, 32.5, 33.0))
    merged = merged_works(tuple(works), s_a_px=1.2)
    assert [(one.station, one.start_s, one.end_s, one.count) for one in merged] == [
        ("a", 0.0, 5.0, 2),
        ("a", 7.0, 9.0, 1),
        ("a", 30.0, 32.0, 1),
        ("b", 32.5, 33.0, 1),
    ]
    assert sum(one.count for one in merged) == len(works)
    short = [DrawnWork("a", 1, number, 0.4, at, at + 0.2) for number, at in enumerate((0.0, 3.5, 7.2))]
    assert [one.count for one in merged_works(tuple(short), s_a_px=1.2)] == [2, 1]


# Failures


BY_CYCLES = "{one_in: 50 cycles, repair: 20 s}"
BY_TIME = "{every: 4 h, repair: 20 s}"
FAILED = [("a", 0, 0, 1.0, 2.0, 0.0), ("b", 1, 0, 20.0, 41.0, 20.0), ("b", 2, 1, 100.0, 130.0, 29.0)]


@pytest.mark.parametrize(("failures", "end_s", "works"), [(BY_CYCLES, 40.0, 2), (BY_TIME, 41.0, 1)])
def test_a_failure_stands_once_at_the_right_pixels(failures: str, end_s: float, works: int) -> None:
    e = made([], FAILED, until_s=140.0, failures=failures)
    picture = drawn(e)
    svg = plain_svg(picture)
    assert len(labelled(svg, "failure at .*")) == 2
    name = labelled(svg, "failure at b: 20 s repair.*")[0]
    assert name.startswith("failure at b: 20 s repair, 20 s to 40 s") == (failures == BY_CYCLES)
    if failures == BY_TIME:
        assert "within the work from 20 s to 41 s; the log does not keep when in it" in name
    left, top, wide, high = numbers(path_of(svg, name))[:4]
    sheet = sheet_of(e, None, Text())
    half_m = max(sheet.bar_m(), e.layout.body_m) / 2
    assert left == pytest.approx(sheet.to_px(e.layout.stop_of("b").axis_m - half_m), abs=0.05)
    assert wide == pytest.approx(2 * half_m / sheet.m_a_px, abs=0.05)
    plot_top = rows(picture, "station-over-string-line")[0]["edge"]
    assert top == pytest.approx(plot_top + 20.0 * 5.5, abs=0.05)
    assert high == pytest.approx((end_s - 20.0) * 5.5, abs=0.05)
    assert len(labelled(svg, "work at .*")) == works


def test_a_failure_that_the_window_cuts_is_told_whole_and_drawn_to_its_edge() -> None:
    e = made([], FAILED, until_s=140.0, failures=BY_CYCLES)
    row = rows(drawn(e), "failures")[1]
    assert (row["t"], row["end"], row["name"]) == (100.0, 120.0, "failure at b: 29 s repair, 100 s to 129 s")
    late = drawn(e, Shown(("string-line",), start_s=39.5, span_s=10.0))
    assert [(one["t"], one["end"]) for one in rows(late, "failures")] == [(39.5, 40.0)]
    after = drawn(e, Shown(("string-line",), start_s=40.5, span_s=10.0))
    assert rows(after, "failures") == []
    assert [(one["t"], one["end"]) for one in rows(after, "works")] == [(40.5, 41.0)], "the work after the repair"


def test_failures_by_the_clock_are_said_to_be_drawn_in_works_alone() -> None:
    said = "Failures by the clock are drawn only where they come in a work: at b."
    clock = made([], FAILED, 140.0, failures="{every: 8 h, of: clock, repair: 20 s}")
    assert said in said_in(drawn(clock))
    assert said not in said_in(drawn(made([], FAILED, 140.0, failures=BY_TIME)))


# Jams


def stops_before(e: Any, station: str, count: int) -> list[int]:
    """Ranks of the stops before a station, the nearest first."""
    rank = e.layout.stop_of(station).index
    return [rank - number for number in range(1, count + 1)]


def queue(loaded: bool = True, spans: tuple[tuple[float, float], ...] = ((10.0, 40.0), (12.0, 42.0))) -> Any:
    """Carriers that stand one behind the other before b, each from and until told; all else moves on."""
    e = made([], [], until_s=120.0, carriers=len(spans))
    b, moves = e.layout.stop_of("b").index, []
    for carrier, (stop, (start_s, end_s)) in enumerate(zip(stops_before(e, "b", len(spans)), spans, strict=True)):
        moves.append((carrier, start_s - 0.5, stop - 1, stop, start_s, loaded))
        moves.append((carrier, end_s, stop, b, end_s + 1.0, loaded))
        moves.append((carrier, end_s + 2.0, b, b + 1, end_s + 3.0, loaded))
        moves += [(carrier, at_s, b + 1 + n, b + 2 + n, at_s + 0.4, loaded) for n, at_s in later(end_s + 4.0)]
        moves += [(carrier, at_s, stop - 2, stop - 1, at_s + 0.4, loaded) for _, at_s in before(start_s - 1.0)]
    return made(moves, [], until_s=120.0, carriers=len(spans))


def quick() -> Any:
    """Empty carriers that wait on a line whose cycle is short."""
    e = queue(loaded=False)
    e.run.line_cycle_s = 1.5
    return e


def later(from_s: float) -> list[tuple[int, float]]:
    """Moves by one stop after another, every two seconds up to the end."""
    return [(number, from_s + 2.0 * number) for number in range(3)]


def before(until_s: float) -> list[tuple[int, float]]:
    return [(0, until_s)]


def jams_of(e: Any, standing_s: float = 6.0, window: Window | None = None) -> tuple[Jam, ...]:
    logs = run_logs(e.line, e.layout, e.run)
    return find_jams(e.line, e.layout, logs, Window(5.0, 60.0) if window is None else window, standing_s)


def area(jam: Jam) -> float:
    """Of its outline, holes subtracted. [m s]"""
    total, start = 0.0, 0
    for stop in [*np.flatnonzero(np.isnan(jam.outline_m)).tolist(), len(jam.outline_m)]:
        x, y = jam.outline_m[start:stop], jam.outline_s[start:stop]
        assert (x[0], y[0]) == (x[-1], y[-1]), "closed"
        total += float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) / 2
        start = stop + 1
    return abs(total)


def inside(jam: Jam, axis_m: float, time_s: float) -> bool:
    """Whether a place and instant lie within the outline: strokes to its right are crossed an odd number of times."""
    crossed = 0
    for x, y, x2, y2 in zip(jam.outline_m[:-1], jam.outline_s[:-1], jam.outline_m[1:], jam.outline_s[1:], strict=True):
        if not np.isnan(x + x2) and x == x2 and x > axis_m and min(y, y2) < time_s < max(y, y2):
            crossed += 1
    return crossed % 2 == 1


def test_carriers_behind_one_another_are_one_jam() -> None:
    e = queue()
    (jam,) = [one for one in jams_of(e) if one.start_s >= 10.0]
    near, far = stops_before(e, "b", 2)
    assert [(rest.carrier, rest.stop, rest.start_s, rest.end_s) for rest in jam.rests] == [
        (0, near, 10.0, 40.0),
        (1, far, 12.0, 42.0),
    ]
    assert (jam.carriers, jam.before, jam.longest_s, jam.is_empty) == (2, "before b", 30.0, False)
    first, second = e.layout.stops[near].axis_m, e.layout.stops[far].axis_m
    assert set(jam.outline_m) == {
        second - e.layout.body_m / 2,
        (first + second) / 2,
        first + e.layout.body_m / 2,
    }
    name = "standing: 2 carriers before b, up to 30 s, 10 s to 42 s"
    svg = plain_svg(drawn(e))
    assert labelled(svg, "standing: .* 10 s to 42 s") == [name]
    assert path_of(svg, name).count("M") == 1


@given(st.lists(st.tuples(st.floats(6.0, 40.0), st.floats(6.5, 30.0)), min_size=2, max_size=5))
@settings(max_examples=10, deadline=None)
def test_the_areas_cover_exactly_the_rests_that_they_name(spans: list[tuple[float, float]]) -> None:
    e = queue(spans=tuple((round(start_s, 2), round(start_s + long_s, 2)) for start_s, long_s in spans))
    window = Window(8.0, 45.0)
    jams = jams_of(e, window=window)
    named = [rest for jam in jams for rest in jam.rests]
    assert len(named) == len({(rest.carrier, rest.stop, rest.start_s) for rest in named}), "each in one jam"
    half_m = e.layout.body_m / 2
    for jam in jams:
        places = sorted({e.layout.stops[rest.stop].axis_m for rest in jam.rests})
        edges = [places[0] - half_m, *((a + b) / 2 for a, b in pairwise(places)), places[-1] + half_m]
        covered = 0.0
        for number, place in enumerate(places):
            # Logs by hand may have two carriers at one stop: what both cover counts once.
            until_s = window.start_s
            for rest in sorted(jam.rests, key=lambda one: one.start_s):
                if e.layout.stops[rest.stop].axis_m == place:
                    start_s, end_s = max(rest.start_s, until_s), min(rest.end_s, window.end_s)
                    covered += (edges[number + 1] - edges[number]) * max(end_s - start_s, 0.0)
                    until_s = max(until_s, end_s)
                    middle_s = (max(rest.start_s, window.start_s) + end_s) / 2
                    assert inside(jam, place, middle_s + 1.234e-5)
        assert area(jam) == pytest.approx(covered, rel=1e-9)


def test_those_whose_times_do_not_meet_make_no_jam() -> None:
    assert [one for one in jams_of(queue(spans=((10.0, 20.0), (20.5, 40.0)))) if one.start_s >= 10.0] == []
    assert [one for one in jams_of(queue(spans=((10.0, 15.0), (10.0, 40.0)))) if one.start_s >= 10.0] == []
    assert [one.carriers for one in jams_of(queue(spans=((10.0, 17.0), (10.0, 40.0)))) if one.start_s >= 10.0] == [2]


def test_empty_carriers_that_wait_are_told_apart() -> None:
    picture = drawn(queue(loaded=False))
    (row,) = [one for one in rows(picture, "jams") if "10 s to 42 s" in one["name"]]
    (other,) = [one for one in rows(drawn(queue()), "jams") if "10 s to 42 s" in one["name"]]
    assert row["name"] == "standing empty: 2 carriers before b, up to 30 s, 10 s to 42 s"
    assert row["line"] == row["fill"] != other["fill"] != other["line"]
    assert "the same, all empty and free to stand: longer than 6 s, three line cycles" in said_in(picture)
    least = "the same, all empty and free to stand: longer than 5 s, the least that counts"
    assert least in said_in(drawn(quick()))


def test_a_line_that_stands_still_does_not_pass_for_idle_stock() -> None:
    (jam,) = jams_of(made([], [], until_s=90.0, carriers=4))
    assert not jam.is_empty
    assert not jam.is_over
    assert [row["name"] for row in rows(drawn(made([], [], until_s=130.0)), "jams")] == [
        f"standing: {jam.carriers} carriers {jam.before}, up to 130 s and longer, 0 s to 130 s"
    ]


def test_a_station_holds_its_carrier_until_it_is_ready_and_blocks_it_from_then_on() -> None:
    e = queue(loaded=False)
    b = e.layout.stop_of("b").index
    (near,) = stops_before(e, "b", 1)
    moves = [
        (0, 8.0, near, b, 9.0, True),
        (0, 60.0, b, b + 1, 61.0, False),
        (1, 9.0, near - 1, near, 10.0, False),
        (1, 62.0, near, b, 63.0, False),
    ]
    works = [("b", 0, 0, 10.0, 30.0, 0.0)]
    held = made(moves, works, carriers=2)
    (jam,) = [one for one in jams_of(held) if one.before.startswith("at b")]
    reaction = held.line.conveyor.reaction
    ready_s = 30.0 + held.line.station("b").clear_s + reaction.done_handshake_s
    at_b = [rest for rest in jam.rests if rest.stop == b]
    assert [(rest.start_s, rest.end_s) for rest in at_b] == [(pytest.approx(ready_s), 60.0)]
    assert not jam.is_empty, "a carrier that cannot leave its station is held, whatever it carries"
    assert not inside(jam, held.layout.stops[b].axis_m, 20.0)
    assert inside(jam, held.layout.stops[b].axis_m, 50.0)


# The whole


@pytest.mark.parametrize("size", [1.0, 2.0])
def test_names_stand_over_the_plot_and_the_carrier_to_follow_over_its_thread(size: float) -> None:
    e, text = made([], []), Text(size)
    for carrier in range(4):
        picture = drawn(e, Shown(("string-line",), carrier=carrier, text=text))
        (row,) = rows(picture, "carrier-over-string-line")
        assert row["words"] == f"carrier {carrier}"
        thread = rows(picture, "bold-thread")[0]
        assert (thread["carrier"], thread["x"][0]) == (row["words"], pytest.approx(row["x"], abs=0.2))
        stations = rows(picture, "station-over-string-line")
        assert {one["words"]: one["x"] for one in stations} == {
            name: sheet_of(e, None, text).value(e.layout.stop_of(name).axis_m) for name in ("a", "b", "c")
        }
        some = [one for one in layers(picture.spec) if one["data"]["name"] == "carrier-over-string-line"]
        upright = some[1]["mark"]["angle"] == 270
        sheet, boxes = sheet_of(e, None, text), []
        for one in [row, *stations, *rows(picture, "transfer-over-string-line")]:
            centre_px = sheet.to_px(sheet.lengths.to_SI(one["label_x"]))
            half_px = 0.6 * text.small_px if upright else text_width_px(one["words"], text.small_px) / 2
            boxes.append((centre_px - half_px, centre_px + half_px))
            assert one["y"] < one["lead"] < one["edge"]
        boxes.sort()
        assert all(before[1] < after[0] for before, after in pairwise(boxes))
        assert boxes[0][0] >= 0.0
        assert boxes[-1][1] <= sheet.width_px


def test_a_plot_higher_than_a_screen_is_named_at_its_foot_too() -> None:
    e = made([], [], until_s=200.0)
    for span_s, named in ((120.0, []), (165.0, ["a", "b", "c"])):
        picture = drawn(e, Shown(("string-line",), span_s=span_s))
        assert [row["words"] for row in rows(picture, "station-under-string-line")] == named
    assert (
        rows(picture, "station-under-string-line")[0]["y"] > rows(picture, "station-over-string-line")[0]["edge"] + 900
    )


def beside(picture: Picture, name: str) -> list[tuple[str, float, float, float]]:
    """Words, place, height and half their height of what stands beside marks."""
    some = [*rows(picture, f"{name}-right"), *rows(picture, f"{name}-left")]
    found = []
    for row in some:
        left, top, right, foot, back = numbers(row["ground"])
        assert (left, foot) == (back, -top), "about its place"
        found.append((plain(row["words"]), row["x"], row["y"], min(abs(left), abs(right))))
    return found


def test_a_failure_large_enough_carries_its_words_and_a_short_one_a_sign() -> None:
    e = made([], FAILED, until_s=140.0, failures=BY_CYCLES)
    sheet = sheet_of(e, None, Text())
    half_m, at_m = max(sheet.bar_m(), e.layout.body_m) / 2, e.layout.stop_of("b").axis_m
    picture = drawn(e)
    (first, second) = sorted(beside(picture, "failure-words"))
    assert (first[0], second[0]) == ("b down 20 s", "b down 29 s")
    assert first[1] == pytest.approx(sheet.value(at_m + half_m), abs=0.02)
    assert rows(picture, "short-failures") == []
    shift = drawn(made([], FAILED, until_s=28000.0, failures=BY_CYCLES), Shown(("string-line",), span_s=14000.0))
    assert beside(shift, "failure-words") == []
    assert [row["name"] for row in rows(shift, "short-failures")] == [
        "failure at b: 20 s repair, 20 s to 40 s (0.01 h)",
        "failure at b: 29 s repair, 100 s to 129 s (0.03 h to 0.04 h)",
    ]
    for row in rows(shift, "failures"):
        assert (row["end"] - row["t"]) * plot_height_px(14000.0) / 14000.0 >= 2.99
    assert "a short one, drawn at least 3 px high" in said_in(shift)
    assert "a short one, drawn at least 3 px high" not in said_in(picture)


def test_failures_side_by_side_do_not_write_over_one_another() -> None:
    works = [("b", 0, 0, 20.0, 41.0, 20.0), ("b", 1, 1, 41.5, 44.0, 2.0), ("b", 2, 2, 44.2, 46.5, 2.0)]
    found = beside(drawn(made([], works, 140.0, failures=BY_CYCLES)), "failure-words")
    assert len(found) == 3
    for one, other in pairwise(sorted(found, key=lambda row: row[2])):
        assert other[2] - one[2] >= 1.3 * 10.5 or one[1] != other[1]


def test_the_carrier_to_follow_has_a_white_core_and_its_number_again_and_again() -> None:
    e = evaluation(carriers=2, until_s=1300.0)
    e.run.line_cycle_s, e.duty = None, None
    picture = drawn(e, Shown(("string-line",), span_s=240.0))
    some = [one["mark"] for one in layers(picture.spec) if one["data"]["name"] == "bold-thread"]
    looks = [(one["color"], one["strokeWidth"]) for one in some]
    assert looks == [(HUE, 4.6), (PAPER, 2.2)]
    (thread,) = rows(picture, "bold-thread")
    plot_top, found = rows(picture, "station-over-string-line")[0]["edge"], beside(picture, "followed-words")
    assert len(found) >= 3
    for words, x, y_px, _ in found:
        assert words == thread["carrier"]
        at_s = thread["t"][0] + (y_px - plot_top) / 5.5
        near = [
            place for place, time_s in zip(thread["x"], thread["t"], strict=True) if place and abs(time_s - at_s) < 12.0
        ]
        assert min(abs(place - x) for place in near) < 1.0, "beside the thread"
    middles = sorted(one[2] for one in found)
    assert all(180.0 <= after - before <= 620.0 for before, after in pairwise(middles))


def test_a_compressed_stretch_says_what_is_left_out() -> None:
    e = made([], [("a", 0, n, n + 1.0, n + 1.4, 0.0) for n in range(200)], until_s=4000.0)
    short, long = (said_in(drawn(e, Shown(("string-line",), span_s=span_s))) for span_s in (120.0, 3600.0))
    said = "points that a pixel cannot show are left out; works too close to be told apart are one stroke."
    assert said in long
    assert "left out" not in short


def test_times_are_told_in_groups_and_in_the_unit_of_the_axis() -> None:
    e = made([], [("b", 0, 0, 4340.0, 4582.0, 240.0)], until_s=9000.0, failures=BY_CYCLES)
    told = {
        span_s: plain(rows(drawn(e, Shown(("string-line",), start_s=4200.0, span_s=span_s)), "failures")[0]["name"])
        for span_s in (290.0, 600.0)
    }
    assert told == {
        290.0: "failure at b: 240 s repair, 4 340 s to 4 580 s",
        600.0: "failure at b: 240 s repair, 4 340 s to 4 580 s (72.3 min to 76.3 min)",
    }
    assert plain(Window(3600.0, 3600.0 * 8).words) == "3 600 s to 28 800 s (1.00 h to 8.00 h)"


def test_carriers_of_unknown_place_are_named() -> None:
    e = made([(1, 30.0, 2, 3, 31.0, True)], [], until_s=140.0, carriers=3)
    e.run.trace_from_s = 20.0
    words = said_in(drawn(e))
    assert "Not drawn, because the log shows no move of them: carriers 0, 2." in words


@pytest.fixture(scope="module")
def demo() -> Evaluation:
    """A shift of the demo line."""
    return evaluate(load_line(EXAMPLES / "demo" / "line.yaml"), hours=8, runs=1, workers=1)


@pytest.mark.long
def test_a_shift_is_small_whole_and_nowhere_half_a_pixel_off(demo: Evaluation) -> None:
    assert demo.duty is not None
    span_s = demo.duty.to_s - demo.duty.from_s
    picture = drawn(demo, Shown(("string-line",), start_s=demo.duty.from_s, span_s=span_s))
    assert len(json.dumps(picture.spec)) < 1.8e6
    seen = what_is_seen(demo, demo.duty.from_s, span_s)
    assert seen is not None
    assert len(seen.threads) == demo.line.carriers
    assert len(rows(picture, "failures")) == len(seen.failures) > 0
    named = [row["name"] for row in rows(picture, "jams")]
    assert len(named) == len(set(named)) == len(seen.jams) > 0
    drawn_works_ = sum(work.count for work in seen.works)
    repaired = demo.duty.log.work_repair_us > 0 if demo.duty.log is not None else np.zeros(0)
    assert drawn_works_ + int(repaired.sum()) == len(demo.duty.work_station)


def thread_error_px(e: Evaluation, start_s: float, span_s: float) -> float:
    """How far any instant of the bold carrier's full line is from what is drawn of it. [px]"""
    assert e.run is not None
    sheet, seen = sheet_and_seen(e, start_s=start_s, span_s=span_s)
    string_line(sheet, seen)
    (row,) = sheet.data.rows["bold-thread"]
    s_a_px = span_s / plot_height_px(span_s)
    places = np.array([np.nan if x is None else sheet.lengths.to_SI(x) for x in row["x"]])
    shown = polyline(places / sheet.m_a_px, np.array([np.nan if t is None else t for t in row["t"]]) / s_a_px)
    logs = run_logs(e.line, e.layout, e.run)
    if e.duty is not None:
        logs = long_logs(e.line, e.layout, e.run, e.duty)
    (full,) = [one for one in threads_of(e.line, e.layout, logs, seen.window) if one.carrier == seen.bold]
    return farthest(polyline(full.axis_m / sheet.m_a_px, full.time_s / s_a_px), shown)


@pytest.mark.parametrize("span_s", [9.0, 120.0, 1200.0])
def test_what_is_drawn_is_nowhere_half_a_pixel_off(span_s: float) -> None:
    e = evaluation(carriers=2, until_s=1300.0)
    e.run.line_cycle_s, e.duty = None, None
    assert thread_error_px(e, 21.3, span_s) < 0.5


@pytest.mark.long
@pytest.mark.parametrize("span_s", [120.0, 3000.0, 28000.0])
def test_a_real_shift_is_nowhere_a_pixel_off_and_half_of_one_where_threads_keep_apart(
    demo: Evaluation, span_s: float
) -> None:
    assert thread_error_px(demo, 700.0, span_s) < (1.0 if span_s > 2000.0 else 0.5)
