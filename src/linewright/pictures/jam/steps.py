"""A jam, step by step: one strip of the unrolled track a step, then who holds whom, and what cures it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from linewright.evaluation import Evaluation
from linewright.layout import Layout, Ways, ways_of
from linewright.line.model import Line
from linewright.pictures.grammar import Spec, as_is, end, field, layer, layered, pixels, stacked, told
from linewright.pictures.jam.words import (
    LAST_DRAWN,
    MOST_DRAWN,
    At,
    cure_words,
    deed,
    held_words,
    jam_words,
    place_words,
    said_of,
    steps_before,
)
from linewright.pictures.key import Glyph, KeyEntry, box, once, point
from linewright.pictures.labels import spread, text_width_px, wrapped
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import BAND, GREY, HUE, INK, LIGHT, PALE, PAPER, QUIET, Text
from linewright.pictures.track.sheet import Sheet, sheet_of
from linewright.pictures.track.strip import strip_row
from linewright.pictures.track.unrolled import axis_stretches
from linewright.pictures.track.values import Value, value_height, value_layers
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, Answer, GridlockResult, Jam, Standing, WayStep

BOX_PX: Final = 14.0
JAM_BOX_PX: Final = 20.0
ABOVE_PX: Final = 14.0  # room of arrows and signs over the boxes of a step
LEAD_PX: Final = 5.0  # from a box to its number
LEVEL_PX: Final = 12.0  # from an arrow of the ring to one over it
CROSS: Final = "M-.5,-.5L.5,.5M-.5,.5L.5,-.5"

# On an arrow of the ring; where the place itself is taken none stands there.
REASONS: Final = {
    "stretch": "no more admitted",
    "platform": "platform away",
    "direction": "against the direction",
    "together": "lane moves together",
    "run-out": "run-out",
}

_Marks = defaultdict[str, list[dict[str, Any]]]

"""Rows of each kind of mark of one view, gathered strip by strip, so that each kind is one layer."""


@dataclass(frozen=True)
class _Strip:
    """One strip: ``when`` (such as ``step 3``), the ``words`` over it, where all are ``at``, the ``step`` into it."""

    when: str
    words: str
    at: tuple[At, ...]
    step: WayStep | None = None


def jam_steps(line: Line, layout: Layout, found: GridlockResult, text: Text | None = None) -> Picture:
    """How a line locks up: from its planned start where it can, else from another placement of its carriers.

    Parameters
    ----------
    line, layout : the line and its layout
    found : the proof's answer
    text : sizes of letters

    Raises
    ------
    NothingToDraw   No jam was shown.
    """
    answer = _told_answer(found)
    jam = answer.jam
    assert jam is not None
    sheet = sheet_of(Evaluation(line, layout, None, None, None, ()), None, Text() if text is None else text)
    head = strip_row(sheet, None)
    strips, summary = _strips(sheet, answer)
    views = [head.chart, *([_steps_view(sheet, strips, summary)] if strips else [])]
    at = places_by_step(answer)[-1]
    track = stacked([*views, _jam_view(sheet, at, jam)], 12, share_x=True)
    words = _words_view(sheet, [*jam_words(line, layout, jam), *cure_words(line, found)])
    key = once([*head.key, *_key(jam, strips, at)])
    title, said, parts = f"{line.name}: a jam, step by step", said_of(line, found, answer), [track, words]
    return picture_of("jam", title, said, parts, key, sheet.data, sheet.text, sheet.width_px, (), sheet.ends)


def _told_answer(found: GridlockResult) -> Answer:
    """The answer that is drawn."""
    for answer in (found.from_start, found.from_any_placement):
        if answer.outcome == CAN_LOCK and answer.jam is not None:
            return answer
    if found.from_start.outcome == found.from_any_placement.outcome == NEVER_LOCKS:
        raise NothingToDraw("the line never locks: there is no jam to draw, neither from the planned start nor another")
    raise NothingToDraw("whether the line locks is undecided: no jam was shown, and none was ruled out")


def places_by_step(answer: Answer) -> tuple[tuple[At, ...], ...]:
    """Where everybody stands before the first step and after each, by carrier.

    Parameters
    ----------
    answer : with a jam; what its carriers stand on closes the last

    Returns
    -------
    tuple   One more than there are steps.
    """
    now = {one.carrier: At(one.carrier, one.stop, one.carries) for one in answer.start}
    states = [dict(now)]
    for step in answer.way:
        if step.kind == "taken out":
            now.pop(step.carrier, None)
        else:
            now[step.carrier] = At(step.carrier, step.stop, step.carries)
        states.append(dict(now))
    if answer.jam is not None:
        held = (*answer.jam.ring, *answer.jam.others)
        states[-1] |= {one.carrier: At(one.carrier, one.stop, one.carries) for one in held}
    return tuple(tuple(state[carrier] for carrier in sorted(state)) for state in states)


def _strips(sheet: Sheet, answer: Answer) -> tuple[list[_Strip], str]:
    """The strips from top to bottom; and in words the steps between the first and the second, where they are many."""
    way, states = answer.way, places_by_step(answer)
    if not way:
        return [], ""
    strips = [_Strip("at the beginning", "At the beginning:", states[0])]
    left_out = len(way) - LAST_DRAWN if len(way) > MOST_DRAWN else 0
    summary = steps_before(sheet.layout, way[:left_out], states[0]) if left_out else ""
    if left_out:
        strips.append(_Strip(f"after step {left_out}", f"So they stand after step {left_out}:", states[left_out]))
    for number, step in enumerate(way[left_out:], start=left_out + 1):
        words = f"{number}: {deed(sheet, step)}"
        strips.append(_Strip(f"step {number}", words, states[number], step))
    return strips, summary


def _steps_view(sheet: Sheet, strips: Sequence[_Strip], summary: str) -> Spec:
    """All strips under one another, each with its words above."""
    marks: _Marks = defaultdict(list)
    high, y = sheet.text.line_px, 0.0
    ways = None if sheet.layout.is_closed else ways_of(sheet.layout)
    for number, strip in enumerate(strips):
        said = [summary, strip.words] if number == 1 and summary else [strip.words]
        for count, words in enumerate(said):
            bold = count == len(said) - 1
            for row in wrapped(words, sheet.width_px, sheet.text.px):
                marks["bold" if bold else "plain"].append({"x": 0.0, "y": y + high / 2, "words": row})
                y += high
        top = y + ABOVE_PX
        _ground(sheet, marks, top, BOX_PX)
        acts = -1 if strip.step is None else strip.step.carrier
        weights = {one.carrier: "bold" if one.carrier == acts else "plain" for one in strip.at}
        for one in strip.at:
            name = f"{strip.when}: {_stands(sheet, one)}"
            _carrier(sheet, marks, one, name, top, BOX_PX, weights[one.carrier])
        y = _numbers(sheet, marks, strip.at, weights, top + BOX_PX) + 8.0
        if strip.step is not None:
            _happening(sheet, marks, strip, ways, top - 6.0)
    return layered(_layers(sheet, marks), sheet.width_px, y, "steps")


def _stands(sheet: Sheet, one: At) -> str:
    return f"carrier {one.carrier} {place_words(sheet.layout, one.stop)}, carries {one.carries}"


def _ground(sheet: Sheet, marks: _Marks, top: float, high: float, above_px: float = 5.0) -> None:
    """The track behind the carriers of a strip: platforms, stations, lanes."""
    layout, middle = sheet.layout, top + high / 2
    reach = (top - above_px, top + high + 5.0)
    for transfer in layout.transfers:
        marks["platform"].append(sheet.span(transfer.start_axis_m, transfer.end_axis_m, *reach))
    for stop in layout.stops:
        if stop.kind == "station":
            marks["station"].append(sheet.span(stop.axis_m, stop.axis_m, *reach))
    for lane in layout.lanes:
        marks["lane"].append(sheet.span(lane.start_axis_m, lane.end_axis_m, middle - 3.0, middle + 3.0))


def _carrier(sheet: Sheet, marks: _Marks, one: At, name: str, top: float, high: float, weight: str) -> None:
    """One carrier as a box as long as its body, ``bold``, ``plain`` or ``pale``, and in it what it carries."""
    at_m, half_m = sheet.layout.stops[one.stop].axis_m, sheet.layout.body_m / 2
    bold, colour = weight == "bold", GREY if weight == "pale" else INK
    look = {"stroke": HUE if bold else colour, "wide": 2.6 if bold else 1.1, "fill": LIGHT if bold else PAPER}
    marks["box"].append({**sheet.span(at_m - half_m, at_m + half_m, top, top + high), **look, "name": name})
    if one.carries != "nothing":
        size = min(0.55 * high, 0.55 * sheet.layout.body_m / sheet.m_a_px) ** 2
        place = {"x": sheet.value(at_m), "y": top + high / 2, "size": size}
        marks["cross" if "flagged" in one.carries else "dot"].append({**place, "colour": colour})


def _numbers(sheet: Sheet, marks: _Marks, at: Sequence[At], weights: dict[int, str], foot: float) -> float:
    """The number of each carrier under its box, with a thin line from one to the other; where they end. [px]"""
    size = sheet.text.small_px
    order = sorted(at, key=lambda one: sheet.layout.stops[one.stop].axis_m)
    places = [sheet.to_px(sheet.layout.stops[one.stop].axis_m) for one in order]
    said = [str(one.carrier) for one in order]
    widths = [text_width_px(words, size) + 0.35 * size for words in said]
    rows, centres = _in_rows(places, widths, sheet.width_px, 1.2 * size)
    for number, (one, centre, words) in enumerate(zip(order, centres, said, strict=True)):
        y = foot + LEAD_PX + size * (0.62 + 1.2 * (number % rows))
        ends = {"x": sheet.value(sheet.to_m(places[number])), "centre": sheet.value(sheet.to_m(centre))}
        marks[f"number-{weights[one.carrier]}"].append({**ends, "y": y, "words": words})
        marks["lead"].append({"x": ends["x"], "x2": ends["centre"], "y": foot + 1.0, "y2": y - 0.55 * size})
    return foot + LEAD_PX + size * (1.24 + 1.2 * (rows - 1))


def _in_rows(
    places: Sequence[float], widths: Sequence[float], width_px: float, shift_px: float
) -> tuple[int, list[float]]:
    """Centres of labels in so many rows in turn, up to four, that none is shifted farther than that, if it can be."""
    centres = list(places)
    for rows in range(1, 5):
        if max(sum(widths[row::rows]) for row in range(rows)) <= width_px:
            for row in range(rows):
                centres[row::rows] = spread(places[row::rows], widths[row::rows], width_px)
            if all(abs(centre - place) <= shift_px for centre, place in zip(centres, places, strict=True)):
                break
    return rows, centres


def _happening(sheet: Sheet, marks: _Marks, strip: _Strip, ways: Ways | None, y: float) -> None:
    """What happens in a step, over the boxes: an arrow, or a sign."""
    step = strip.step
    assert step is not None
    name = f"{strip.when}: {deed(sheet, step)}"
    here_m, there_m = (sheet.layout.stops[rank].axis_m for rank in (step.start, step.stop))
    if step.kind != "moves":
        marks[step.kind].append({"x": sheet.value(there_m), "y": y, "name": name})
        return
    pieces = axis_stretches(sheet.layout, ways, step.start, step.stop)
    marks["tail"].append({"x": sheet.value(here_m), "y": y})
    for number, piece in enumerate(pieces):
        end_m, last = piece.at_m(piece.length_m), number == len(pieces) - 1
        marks["shaft"].append({**sheet.span(piece.from_m, end_m, y, y)})
        # A stretch that goes on elsewhere ends in an open head.
        tip = {"x": sheet.value(end_m), "y": y, "angle": 90 if piece.sign > 0 else 270}
        marks["head" if last else "open-head"].append({**tip, "name": name})


def _layers(sheet: Sheet, marks: _Marks) -> list[Spec]:
    """The marks gathered, each kind one layer, from the ground up."""
    place = {"x": sheet.x("x"), "y": pixels("y")}
    down, across, named = {**place, "y2": end("y2")}, {**place, "x2": end("x2")}, {**place, **told()}
    outline = {"stroke": as_is("stroke"), "strokeWidth": as_is("wide", "quantitative"), "fill": as_is("fill")}
    sized = {**place, "size": as_is("size", "quantitative")}
    turned = {**named, "angle": as_is("angle", "quantitative")}
    joined = {**place, "detail": field("arrow", "nominal"), "order": field("n")}
    text = {"y": pixels("y"), "text": field("words", "nominal")}
    words, number = {"x": pixels("x"), **text}, {"x": sheet.x("centre"), **text}
    thin = {"color": GREY, "strokeWidth": 0.8}
    open_head = {"shape": "triangle-up", "size": 50, "stroke": HUE, "fill": PAPER}
    sign = {"filled": True, "size": 60, "color": INK}
    letters = {"align": "left", "baseline": "middle", "fontSize": sheet.text.px, "color": INK}
    small = {"baseline": "middle", "fontSize": sheet.text.small_px, "color": INK, "clip": True}
    kinds: dict[str, tuple[str, Spec, Spec]] = {
        "platform": ("rect", {"color": BAND}, sheet.box()),
        "station": ("rule", thin, down),
        "lane": ("rect", {"color": PALE}, sheet.box()),
        "lead": ("rule", thin, sheet.box()),
        "box": ("rect", {"cornerRadius": 2}, sheet.box(**outline, **told())),
        "dot": ("point", {"filled": True}, {**sized, "color": as_is("colour")}),
        "cross": ("point", {"shape": CROSS, "strokeWidth": 1.6}, {**sized, "stroke": as_is("colour")}),
        "shaft": ("rule", {"color": HUE, "strokeWidth": 2.0}, across),
        "tail": ("point", {"size": 22, "stroke": HUE, "fill": PAPER}, place),
        "open-head": ("point", open_head, turned),
        "head": ("point", {**sign, "shape": "triangle-up", "color": HUE}, turned),
        "work ends": ("point", {**sign, "shape": "diamond", "color": HUE}, named),
        "taken out": ("point", {**sign, "shape": "triangle-up"}, named),
        "put in": ("point", {**sign, "shape": "triangle-down"}, named),
        "reason-lead": ("rule", {"color": QUIET, "strokeWidth": 0.8}, down),
        "ring-line": ("line", {"stroke": HUE, "strokeWidth": 1.6, "strokeJoin": "round"}, joined),
        "ring-head": ("point", {**sign, "shape": "triangle-down", "size": 42, "color": HUE}, named),
        "number-plain": ("text", small, number),
        "number-pale": ("text", {**small, "color": QUIET}, number),
        "number-bold": ("text", {**small, "fontWeight": "bold"}, number),
        "plain": ("text", letters, words),
        "bold": ("text", {**letters, "fontWeight": "bold"}, words),
    }
    kept: dict[str, Spec] = {"point": {"opacity": 1, "clip": True}, "text": {}}
    return [
        layer(sheet.data.named(marks[kind]), mark, {**kept.get(mark, {"clip": True}), **look}, channels)
        for kind, (mark, look, channels) in kinds.items()
        if kind in marks
    ]


@dataclass(frozen=True)
class _Arrow:
    """From a carrier of the ring to who holds it, in pixels along the axis; level 0 is the lowest."""

    one: Standing
    from_px: float
    to_px: float
    level: int = 0

    def is_over(self, other: _Arrow) -> bool:
        """Whether both pass over the same track."""
        ends = sorted((self.from_px, self.to_px)), sorted((other.from_px, other.to_px))
        return ends[0][0] < ends[1][1] - 1e-6 and ends[0][1] > ends[1][0] + 1e-6


def _jam_view(sheet: Sheet, at: Sequence[At], jam: Jam) -> Spec:
    """The jam, larger: stations by name, who holds whom as arrows, everybody else paler."""
    marks: _Marks = defaultdict(list)
    held = {one.carrier: one for one in (*jam.ring, *jam.others)}
    weights = dict.fromkeys((one.carrier for one in at), "pale") | dict.fromkeys(held, "plain")
    weights |= dict.fromkeys((one.carrier for one in jam.ring), "bold")
    bold = "The jam" if len(jam.ring) < 2 else f"The jam: {len(jam.ring)} carriers hold each other in a ring"
    layers, y = sheet.heading(bold, "An arrow leads from each carrier of the ring to the one that holds it.")
    arrows = _arrows(sheet, at, jam)
    reasons = [(arrow, REASONS[arrow.one.reason]) for arrow in arrows if arrow.one.reason in REASONS]
    middles = [sheet.to_m((arrow.from_px + arrow.to_px) / 2) for arrow, _ in reasons]
    stations = _station_values(sheet, jam)
    because = [
        Value(at_m, words, f"{words}: {held_words(sheet.layout, arrow.one, held)}")
        for at_m, (arrow, words) in zip(middles, reasons, strict=True)
    ]
    names_foot = y + value_height(sheet, stations)
    arrows_top = names_foot + value_height(sheet, because)
    layers += value_layers(sheet, stations, y) + value_layers(sheet, because, names_foot)
    top = arrows_top + LEVEL_PX * (1 + max((arrow.level for arrow in arrows), default=0)) + 12.0
    _ground(sheet, marks, top, JAM_BOX_PX, top - arrows_top)
    # Other arrows may lie between a reason and its own.
    for at_m, (arrow, _) in zip(middles, reasons, strict=True):
        marks["reason-lead"].append(sheet.span(at_m, at_m, arrows_top - 3.0, _level_y(arrow, top - 2.0)))
    for one in at:
        more = f"; {held_words(sheet.layout, held[one.carrier], held)}" if one.carrier in held else ""
        name = f"the jam: {_stands(sheet, one)}{more}"
        _carrier(sheet, marks, one, name, top, JAM_BOX_PX, weights[one.carrier])
    for arrow in arrows:
        _draw_arrow(sheet, marks, arrow, held, top - 2.0)
    foot = _numbers(sheet, marks, at, weights, top + JAM_BOX_PX)
    return layered([*_layers(sheet, marks), *layers], sheet.width_px, foot + 6.0, "jam")


def _station_values(sheet: Sheet, jam: Jam) -> list[Value]:
    """The names of the stations, in white on dark those that never work again."""
    values = []
    for number, station in enumerate(sheet.line.stations):
        lost = number in jam.stations
        words = f"station {station.name} {'never works again' if lost else 'may work again'}"
        values.append(Value(sheet.station_m(station.name), station.name, words, lost))
    return values


def _arrows(sheet: Sheet, at: Sequence[At], jam: Jam) -> list[_Arrow]:
    """The ring's arrows, none on the level of another over the same track."""
    place = {one.carrier: sheet.to_px(sheet.layout.stops[one.stop].axis_m) for one in at}
    held = [(one, place[one.carrier], place[one.held_by]) for one in jam.ring if one.held_by is not None]
    # An arrow leaves a box on one side of its middle and comes to the next on the other.
    rightward = sum(to_px >= from_px for _, from_px, to_px in held)
    aside = max(2.0, 0.25 * sheet.layout.body_m / sheet.m_a_px) * (1 if 2 * rightward >= len(held) else -1)
    found = [_Arrow(one, from_px + aside, to_px - aside) for one, from_px, to_px in held]
    arrows: list[_Arrow] = []
    for arrow in sorted(found, key=lambda arrow: (abs(arrow.to_px - arrow.from_px), arrow.one.carrier)):
        taken = {other.level for other in arrows if arrow.is_over(other)}
        arrows.append(replace(arrow, level=min(set(range(len(taken) + 1)) - taken)))
    return arrows


def _draw_arrow(sheet: Sheet, marks: _Marks, arrow: _Arrow, held: dict[int, Standing], foot: float) -> None:
    """Up from a carrier, across, and down to the one that holds it."""
    begin, goal = (sheet.value(sheet.to_m(px)) for px in (arrow.from_px, arrow.to_px))
    y, carrier = _level_y(arrow, foot), arrow.one.carrier
    corners = ((begin, foot), (begin, y), (goal, y), (goal, foot - 3.0))
    marks["ring-line"] += [{"arrow": carrier, "n": n, "x": x, "y": at_y} for n, (x, at_y) in enumerate(corners)]
    name = f"carrier {carrier} is held by carrier {arrow.one.held_by}: {held_words(sheet.layout, arrow.one, held)}"
    marks["ring-head"].append({"x": goal, "y": foot - 3.0, "name": name})


def _level_y(arrow: _Arrow, foot: float) -> float:
    return foot - 12.0 - LEVEL_PX * arrow.level


def _words_view(sheet: Sheet, words: Sequence[str]) -> Spec:
    """Sentences under one another, each broken into lines."""
    high, size = sheet.text.line_px, sheet.text.px
    lines = [row for one in words for row in wrapped(one, sheet.width_px, size)]
    rows = [{"x": 0.0, "y": high * (number + 0.5), "words": row} for number, row in enumerate(lines)]
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    look = {"align": "left", "baseline": "middle", "fontSize": size, "color": INK}
    return layered([layer(sheet.data.named(rows, "words"), "text", look, place)], sheet.width_px, high * len(lines))


def _key(jam: Jam, strips: Sequence[_Strip], at: Sequence[At]) -> list[KeyEntry]:
    """What the marks mean that are there."""
    kinds = {strip.step.kind for strip in strips if strip.step is not None}
    carried = {one.carries for state in (at, *(strip.at for strip in strips)) for one in state}
    key = [box("carrier, empty", 14, 16, fill=PAPER, stroke=INK, cornerRadius=2)]
    if any(one != "nothing" and "flagged" not in one for one in carried):
        key.append(point("it carries a part", shape="circle", filled=True, size=45, color=INK))
    if any("flagged" in one for one in carried):
        key.append(point("it carries a flagged part", shape=CROSS, size=60, stroke=INK, strokeWidth=1.6))
    bold = "it moves or its work ends in this step; in the jam: it is in the ring" if strips else "it is in the ring"
    key.append(box(bold, 14, 16, fill=LIGHT, stroke=HUE, strokeWidth=2.6, cornerRadius=2))
    if "moves" in kinds:
        shaft = Glyph("path", ((3, 10), (23, 10)), (("color", HUE), ("strokeWidth", 2.0)))
        tail = Glyph("point", ((3, 10),), (("size", 22), ("stroke", HUE), ("fill", PAPER)))
        look = (("shape", "triangle-right"), ("filled", True), ("size", 60), ("color", HUE))
        glyphs = (shaft, tail, Glyph("point", ((24, 10),), look))
        key.append(KeyEntry("its move; with an open head it goes on elsewhere", glyphs))
    signs = (("work ends", "diamond", HUE), ("taken out", "triangle-up", INK), ("put in", "triangle-down", INK))
    key += [
        point(kind, shape=shape, filled=True, size=60, color=paint) for kind, shape, paint in signs if kind in kinds
    ]
    if jam.free:
        key.append(box("can still move", 14, 16, fill=PAPER, stroke=GREY, cornerRadius=2))
    if jam.stations:
        key.append(box("name in white on dark: a station that never works again", 14, 22, fill=INK))
    return key
