"""Laws of the track: cuts against every possible row of sections, stops against the rule read word by word."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from linewright.errors import LineFileError
from linewright.layout import Layout, SectionCutError, cut_sections, lay_out, resting_order, ways_of
from linewright.line.model import Line
from unit.layout.layout_lines import LineText
from unit.layout.track_lines import line_of, ring_line

HAIR_M = 1e-9
TENTHS = 10_000


# ---- sections --------------------------------------------------------------------------------------------------------


@st.composite
def cuts(draw: st.DrawFn) -> tuple[int, dict[int, int], list[tuple[int, int]]]:
    """A lane, stock lengths with prices, and places that joints keep away from; all in tenths of a millimetre."""
    unit = draw(st.sampled_from([1, 7, 85, 3850]))
    stock = draw(st.dictionaries(st.integers(2, 13), st.integers(0, 5), min_size=1, max_size=3))
    length = draw(st.integers(1, 34)) * unit + draw(st.integers(0, unit - 1))
    barred = st.tuples(st.integers(0, length), st.integers(0, 3 * unit))
    return length, {one * unit: price for one, price in stock.items()}, draw(st.lists(barred, max_size=3))


def best_row(length: int, stock: dict[int, int], barred: list[tuple[int, int]]) -> tuple[object, ...] | None:
    """The best of all rows, found by trying every one: (total, pieces, kinds, cost, sections)."""
    best: tuple[object, ...] | None = None

    def extend(row: list[int]) -> None:
        nonlocal best
        total = sum(row)
        if total >= length:
            aims = (total, len(row), len(set(row)), sum(stock[one] for one in row), [-one for one in row])
            best = aims if best is None else min(best, aims)
            return
        for one in stock:
            end = total + one
            if end >= length or not any(abs(end - at) < distance for at, distance in barred):
                extend([*row, one])

    extend([])
    return best


@given(cuts())
def test_no_row_of_sections_is_better(case: tuple[int, dict[int, int], list[tuple[int, int]]]) -> None:
    length, stock, barred = case
    best = best_row(length, stock, barred)
    off = tuple((at / TENTHS, distance / TENTHS) for at, distance in barred)
    lengths_m = tuple(one / TENTHS for one in stock)
    if best is None:
        with pytest.raises(SectionCutError):
            cut_sections(length / TENTHS, lengths_m, off, tuple(stock.values()))
        return
    cut = cut_sections(length / TENTHS, lengths_m, off, tuple(stock.values()))
    sections = [-round(one * TENTHS) for one in cut.sections_m]
    assert (round(cut.total_m * TENTHS), cut.pieces, cut.kinds, cut.cost, sections) == best
    assert cut.surplus_m == pytest.approx((round(cut.total_m * TENTHS) - length) / TENTHS, abs=1e-12)
    assert len(cut.joints_m) == cut.pieces - 1


# ---- stops -----------------------------------------------------------------------------------------------------------


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """A two-deck line on which nothing blocks: up to six stations a lane, keep-clear stretches, long fixtures."""
    length_mm = 385.0 * draw(st.integers(6, 20))
    fixture_mm = draw(st.sampled_from([None, 190.0, 280.0]))
    body_mm = max(236.0, fixture_mm or 0.0)
    pitch_mm = max(265.0, body_mm + 8.0)
    last_mm = length_mm - body_mm / 2 - pitch_mm
    over_mm = st.one_of(st.just(0.0), st.integers(0, 14000).map(lambda tenths: tenths / 10))
    stations = []
    for lane in ("upper", "lower"):
        travel_mm = body_mm / 2 + draw(over_mm)
        for number in range(draw(st.integers(1, 6))):
            if travel_mm <= last_mm:
                at_mm = travel_mm if lane == "upper" else length_mm - travel_mm
                clear_mm = draw(st.sampled_from([0, 0, 0, 100, 180, 260, 420, 900]))
                keep = f", keep_clear: {clear_mm} mm" if clear_mm else ""
                stations.append((f"{lane}-{number}", lane, at_mm, keep))
            travel_mm += pitch_mm + draw(over_mm)
    assume(stations)
    return LineText(tuple(stations), length_mm=length_mm, carriers=1, fixture_mm=fixture_mm).line()


def stops_by_the_words(line: Line, layout: Layout, lane: str) -> set[float]:
    """The waiting stops of a lane by asking of every place on every grid whether the text allows it; 1e-6 m rounded."""
    track = layout.lane(lane)
    half_m, pitch_m = layout.body_m / 2, layout.pitch_m
    stations = [(track.floor_to_travel(one.at_m), one.keep_clear_m) for one in line.stations if one.lane == lane]
    found = set()
    for target_m, keep_m in [*stations, (track.length_m - half_m, 0.0)]:
        is_dock = (target_m, keep_m) not in stations
        before = [at_m for at_m, _ in stations if (at_m < target_m or is_dock) and at_m != target_m]
        for number in range(400):
            place_m = target_m - max(pitch_m, keep_m + half_m if keep_m else 0.0) - number * pitch_m
            room = place_m - max(before) >= pitch_m - HAIR_M if before else place_m >= half_m - HAIR_M
            clear = all(abs(place_m - at_m) >= clear_m + half_m - HAIR_M for at_m, clear_m in stations if clear_m > 0)
            if room and clear:
                found.add(round(place_m, 6))
    return found


@given(lines())
def test_stops_stand_where_the_text_puts_them(line: Line) -> None:
    layout = lay_out(line)
    assert layout.blocking == ()
    for lane in layout.lanes:
        laid = [round(stop.travel_m, 6) for stop in layout.stops if stop.lane == lane.name and stop.kind == "waiting"]
        assert sorted(stops_by_the_words(line, layout, lane.name)) == laid


@given(lines())
def test_a_layout_without_blocking_keeps_the_pitch_everywhere(line: Line) -> None:
    layout = lay_out(line)
    assert layout.blocking == ()
    places = [stop.axis_m for stop in layout.stops]
    nexts = [*places[1:], places[0] + layout.loop_m]
    assert all(after - before >= layout.pitch_m - HAIR_M for before, after in zip(places, nexts, strict=True))
    lengths = [lane.length_m for lane in layout.lanes]
    links = [2 * transfer.gap_m + transfer.platform_m for transfer in layout.transfers]
    assert layout.loop_m == pytest.approx(sum(lengths) + sum(links), abs=1e-9)


@given(lines())
def test_carriers_rest_in_order_round_the_loop(line: Line) -> None:
    layout = lay_out(line)
    fit = 1 + sum(stop.kind in ("waiting", "dock") for stop in layout.stops)
    order = resting_order(line.model_copy(update={"carriers": fit}), layout)
    assert len(set(order)) == fit
    back = [(order[0] - index) % len(layout.stops) for index in order]
    assert back == sorted(back)
    assert {layout.stops[index].kind for index in order[1:]} <= {"waiting", "dock"}
    with pytest.raises(LineFileError, match=f"at most {fit}"):
        resting_order(line.model_copy(update={"carriers": fit + 1}), layout)


# ---- ways and rings --------------------------------------------------------------------------------------------------


@st.composite
def branches(draw: st.DrawFn) -> Line:
    """Two or three lanes side by side from one cross transfer to another, and a lane back; stations anywhere."""
    lengths = draw(st.lists(st.integers(4, 12), min_size=2, max_size=3))
    names = ["main", "side", "third"][: len(lengths)]
    lanes = [
        f"  {name}: {{length: {276 * units} mm, from: west, to: east, across: {300 * number} mm}}"
        for number, (name, units) in enumerate(zip(names, lengths, strict=True))
    ]
    order = draw(st.permutations(names))
    at = [draw(st.integers(200, 276 * units - 200)) for units in lengths]
    return line_of(
        "lanes:",
        *lanes,
        f"  back: {{length: {276 * lengths[0]} mm, from: east, to: west, across: 1200 mm}}",
        "transfers:",
        f"  west: {{kind: cross-transfer, takes: back, gives: [{', '.join(order)}]}}",
        f"  east: {{kind: cross-transfer, takes: [{', '.join(names)}], gives: back}}",
        "stations:",
        "  load: {lane: back, at: 500 mm, time: 1 s}",
        *(f"  on-{name}: {{lane: {name}, at: {mm} mm, time: 1 s}}" for name, mm in zip(names, at, strict=True)),
        f"route: [load, [{', '.join('on-' + name for name in names)}]]",
        carriers=1,
    )


@settings(max_examples=8)
@given(branches())
def test_no_way_is_shorter_than_the_one_taken(line: Line) -> None:
    layout = lay_out(line)
    ways = ways_of(layout)
    for start in range(0, len(layout.stops), 11):
        apart = {hop.to: hop.length_m for hop in ways.hops[start]}
        ahead = sorted((length, rank) for rank, length in apart.items())
        while ahead:  # by the nearest first, over a plain list
            length_m, rank = ahead.pop(0)
            if length_m > apart[rank]:
                continue
            for hop in ways.hops[rank]:
                further_m = length_m + hop.length_m
                if further_m < apart.get(hop.to, float("inf")) - 1e-12:
                    apart[hop.to] = further_m
                    ahead = sorted([*ahead, (further_m, hop.to)])
        for end in range(len(layout.stops)):
            assert ways.length_m[start, end] == pytest.approx(apart[end])
            passed = [start, *ways.stops(start, end)]
            assert sum(
                next(hop.length_m for hop in ways.hops[a] if hop.to == b) for a, b in pairwise(passed)
            ) == pytest.approx(apart[end])


@st.composite
def rings(draw: st.DrawFn) -> Line:
    """A ring with one to five stations on its long straights, keep-clear stretches on some."""
    long_mm = 276.0 * draw(st.integers(3, 9))
    turn_mm = 240.0 * math.pi
    places: list[float] = []
    for begin_mm in (0.0, long_mm + turn_mm):
        at_mm = begin_mm + 42 + draw(st.integers(0, 300))
        while at_mm <= begin_mm + long_mm - 42 and len(places) < 5:
            places.append(at_mm)
            at_mm += 116 + draw(st.integers(0, 900))
    assume(places)
    clear_mm = draw(st.sampled_from([0, 0, 120, 400]))
    return ring_line(*places, long_mm=long_mm, carriers=1, keys=f", keep_clear: {clear_mm} mm" if clear_mm else "")


@settings(max_examples=25)
@given(rings())
def test_stops_of_a_ring_stand_where_the_text_puts_them(line: Line) -> None:
    layout = lay_out(line)
    assert layout.blocking == ()
    round_m, pitch_m, half_m = layout.loop_m, layout.pitch_m, layout.body_m / 2
    stations = sorted((one.along_m or 0.0, one.keep_clear_m) for one in line.stations)
    expected = set()
    for target_m, keep_m in stations:
        before_m = max(at_m if at_m < target_m else at_m - round_m for at_m, _ in stations)
        for number in range(400):
            place_m = target_m - max(pitch_m, keep_m + half_m if keep_m else 0.0) - number * pitch_m
            apart = [(abs(place_m - at_m + n * round_m), clear_m) for at_m, clear_m in stations for n in (-1, 0, 1)]
            clear = all(apart_m >= clear_m + half_m - HAIR_M for apart_m, clear_m in apart if clear_m > 0)
            if place_m - before_m >= pitch_m - HAIR_M and clear:
                expected.add(round(place_m % round_m, 6))
    laid = [round(stop.travel_m, 6) for stop in layout.stops if stop.kind == "waiting"]
    assert sorted(expected) == laid
    places = [stop.travel_m for stop in layout.stops]
    assert min(after - before for before, after in pairwise([*places, places[0] + round_m])) >= pitch_m - HAIR_M
