"""The track strip: lanes, sections, joints, transfers, stops, stations, keep-clear stretches, motor zones, carriers.

All heights are pixels from the top of the strip; along the track everything stands in the file's unit on the axis that
the rows below share.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.layout import LaneLayout
from linewright.pictures.grammar import FAR, NEAR, Spec, as_is, end, field, layer, pixels, told
from linewright.pictures.key import KeyEntry, box, box_glyph, point, stroke
from linewright.pictures.labels import LabelRow, fitting, place_labels, spread, text_width_px
from linewright.pictures.style import CURVE, FILLS, GREY, HUE, INK, PALE, PAPER, QUIET
from linewright.pictures.track.head import failing_at
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.time_scale import seconds
from linewright.pictures.track.values import dark_boxes

if TYPE_CHECKING:
    from linewright.pictures.track.threads import Seen

LEADER_PX: Final = 24.0  # between the labels and the pins
PIN_PX: Final = 9.0
TRACK_PX: Final = 14.0
CARRIER_PX: Final = 20.0
CLEAR_PX: Final = 5.0
TICKS_APART: Final = 5.2  # in sizes of the floor's numbers
FINER: Final = 5


@dataclass(frozen=True)
class StripPlan:
    """Where the rows of the strip lie, from the top of the strip. [px]"""

    labels: LabelRow
    bracket: float
    label_foot: float
    pin: float
    track_top: float
    track_foot: float
    clear: float
    zones: float
    zone_words: float
    floor: float
    height: float


def strip_row(sheet: Sheet, seen: Seen | None) -> Row:
    """The track itself; with a run also its carriers at the instant at which the string line begins."""
    named = _named_places(sheet)
    plan = _plan(sheet, named)
    layers = [
        *_lanes(sheet, plan),
        *_track(sheet, plan),
        *_stretches(sheet, plan),
        *_stops(sheet, plan),
        *([] if seen is None else _carriers(sheet, plan, seen)),
        *_labels(sheet, plan, named),
        *_floor(sheet, plan),
    ]
    return sheet.row("track", layers, plan.height, _key(sheet, seen))


def _plan(sheet: Sheet, named: list[dict[str, Any]]) -> StripPlan:
    text = sheet.text
    labels = place_labels(
        [row["label"] for row in named], [sheet.to_px(row["axis_m"]) for row in named], sheet.width_px, text.px
    )
    bracket = text.line_px + 3.0
    label_foot = bracket + 10.0 + labels.height_px
    pin = label_foot + LEADER_PX
    top = pin + PIN_PX + 3.0
    foot = top + TRACK_PX
    clear = foot + 6.0
    zones = clear + (CLEAR_PX + 4.0 if _cleared(sheet) else 0.0)
    zone_words = zones + 4.0
    floor = zone_words + _zone_names(sheet).height_px + 6.0 if sheet.line.motor_zones else zones
    return StripPlan(labels, bracket, label_foot, pin, top, foot, clear, zones, zone_words, floor, floor + 36.0)


def _cleared(sheet: Sheet) -> bool:
    return any(station.keep_clear_m > 0.0 for station in sheet.line.stations)


def _named_places(sheet: Sheet) -> list[dict[str, Any]]:
    """Stations and transfers along the axis, with what a reader calls them and what a pointer tells."""
    layout = sheet.layout
    rows: list[dict[str, Any]] = []
    for stop in layout.stops:
        if stop.kind == "station":
            place = {"axis_m": stop.axis_m, "at_m": stop.floor_m, "on": stop.lane}
            rows.append({"label": stop.station, "kind": "station", **place})
        if stop.kind == "aboard" and stop.index == layout.transfer_of(stop).aboard:
            axis_m = layout.transfer_of(stop).platform_axis_m
            rows.append({"label": stop.transfer, "axis_m": axis_m, "kind": "transfer", "at_m": None, "on": ""})
    return rows


def _lanes(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    """Over each lane its name, its length and which way on the floor it runs."""
    lanes, px = sheet.layout.lanes, sheet.text.px
    rooms = [sheet.to_px(lane.length_m) - 8.0 for lane in lanes]
    words = [fitting(_headings(sheet, lane), room, px) for lane, room in zip(lanes, rooms, strict=True)]
    middles = [sheet.to_px(lane.start_axis_m + lane.length_m / 2) for lane in lanes]
    sizes = [text_width_px(one, px) + px for one in words]
    if sum(sizes) <= sheet.width_px:
        middles = list(spread(middles, sizes, sheet.width_px))
    rows = [
        {
            "x": sheet.value(lane.start_axis_m),
            "x2": sheet.value(lane.end_axis_m),
            "middle": sheet.value(sheet.to_m(middle)),
            "y": plan.bracket,
            "words_y": plan.bracket - 4.0,
            "words": said,
            "name": _headings(sheet, lane)[0],
        }
        for lane, middle, said in zip(lanes, middles, words, strict=True)
    ]
    data, across = sheet.data.named(rows, "lanes"), {"x2": end("x2"), "y": pixels("y"), "tooltip": told()["tooltip"]}
    words_at = {"x": sheet.x("middle"), "y": pixels("words_y"), "text": field("words", "nominal")}
    heading = {"fontSize": px, "color": INK, "fontWeight": "bold", "baseline": "bottom", "clip": True}
    return [
        layer(data, "rule", {"color": GREY, "strokeWidth": 1, "clip": True}, {"x": sheet.x("x"), **across}),
        layer(data, "text", heading, {**words_at, "tooltip": told()["tooltip"]}),
    ]


def _headings(sheet: Sheet, lane: LaneLayout) -> list[str]:
    """What may stand over a lane, the longest first: ``lane upper, 4620 mm, west → east``; where its platform is drawn
    elsewhere, which one it leads to."""
    length = sheet.lengths.text(lane.length_m)
    if lane.is_ring:
        return [f"ring {lane.name}, {length}, curves darker", f"ring {lane.name}, {length}", lane.name]
    way = f"{lane.from_} {'↔' if lane.two_way else '→'} {lane.to}"
    after = [transfer for transfer in sheet.layout.transfers if lane.name in transfer.takes[1:]]
    leads = f", to {after[0].name}" if after else ""
    return [
        f"lane {lane.name}, {length}, {way}{leads}",
        f"{lane.name}, {length}, {way}",
        f"{lane.name}, {way}",
        lane.name,
    ]


def _track(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    """Sections with a gap at every joint, curves darker, platforms dashed."""
    top, foot = plan.track_top, plan.track_foot
    sections, joints, platforms = [], [], []
    for lane in sheet.layout.lanes:
        starts, ends = [0.0, *lane.joints_travel_m], [*lane.joints_travel_m, lane.length_m]
        for number, (start_m, end_m) in enumerate(zip(starts, ends, strict=True), start=1):
            row = sheet.span(lane.start_axis_m + start_m, lane.start_axis_m + end_m, top, foot)
            length = sheet.lengths.text(lane.sections[number - 1])
            sections.append({**row, "name": f"section {number} of lane {lane.name}, {length}"})
        joints += [{"x": sheet.value(lane.start_axis_m + at_m), "y": top, "y2": foot} for at_m in lane.joints_travel_m]
    for transfer in sheet.layout.transfers:
        half_m = transfer.platform_m / 2
        row = sheet.span(transfer.platform_axis_m - half_m, transfer.platform_axis_m + half_m, top, foot)
        name = f"{transfer.kind} {transfer.name}"
        if len(transfer.takes) + len(transfer.gives) > 2:
            name += f", from {' and '.join(transfer.takes)} to {' and '.join(transfer.gives)}"
        platforms.append({**row, "name": name})
    curves = [
        sheet.span(lane.start_axis_m + piece.from_m, lane.start_axis_m + piece.to_m, top, foot)
        for lane in sheet.layout.lanes
        for piece in lane.pieces
        if piece.is_curved
    ]
    named, told_box = sheet.data.named, sheet.box(**told())
    platform = {"fill": PAPER, "stroke": INK, "strokeDash": [3, 2], "clip": True}
    joint = {"x": sheet.x("x"), "y": pixels("y"), "y2": end("y2")}
    drawn = [layer(named(sections, "sections"), "rect", {"color": PALE, "clip": True}, told_box)]
    if curves:
        drawn.append(layer(named(curves, "curves"), "rect", {"color": CURVE, "clip": True}, sheet.box()))
    drawn.append(layer(named(joints, "joints"), "rule", {"color": PAPER, "strokeWidth": 2, "clip": True}, joint))
    drawn.append(layer(named(platforms, "platforms"), "rect", platform, told_box))
    return drawn


def _stretches(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    """Under the track: stretches to be kept clear of waiting carriers, and motor zones."""
    layers = []
    clear = []
    for station in sheet.line.stations:
        if station.keep_clear_m > 0.0:
            at_m, half_m = sheet.station_m(station.name), station.keep_clear_m
            row = sheet.span(at_m - half_m, at_m + half_m, plan.clear, plan.clear + CLEAR_PX)
            said = f"kept clear about {station.name}: {sheet.lengths.text(half_m)} on each side"
            clear.append({**row, "name": said})
    if clear:
        look = {"fill": FILLS["blocked"].paint, "stroke": HUE, "strokeWidth": 0.6, "clip": True}
        layers.append(layer(sheet.data.named(clear, "keep-clear"), "rect", look, sheet.box(**told())))
    return [*layers, *_zones(sheet, plan)] if sheet.line.motor_zones else layers


def _zones(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    rows, size = [], sheet.text.small_px
    for zone in sheet.line.motor_zones:
        lane = sheet.layout.lane(zone.lane)
        ends = sorted(lane.travel_to_axis(lane.floor_to_travel(at_m)) for at_m in (zone.from_m, zone.to_m))
        said = f"motor zone {zone.name}, {sheet.lengths.text(ends[1] - ends[0])}"
        rows.append(
            {**sheet.span(ends[0], ends[1], plan.zones, plan.zones), "name": said, "label": f"zone {zone.name}"}
        )
    names = _zone_names(sheet)
    upright = names.direction == "upright"
    foot = plan.zone_words + names.height_px
    for row, centre in zip(rows, names.centres_px, strict=True):
        row |= {"middle": sheet.value(sheet.to_m(centre)), "words_y": foot if upright else plan.zone_words}
    data = sheet.data.named(rows, "motor-zones")
    bar = {"x": sheet.x("x"), "x2": end("x2"), "y": pixels("y"), **told()}
    words = {
        "fontSize": size,
        "color": INK,
        "angle": 270 if upright else 0,
        "align": "left" if upright else "center",
        "baseline": "middle" if upright else "top",
        "clip": True,
    }
    at = {"x": sheet.x("middle"), "y": pixels("words_y"), "text": field("label", "nominal")}
    return [
        layer(data, "rule", {"color": HUE, "strokeWidth": 3.0, "clip": True}, bar),
        layer(data, "text", words, {**at, "tooltip": told()["tooltip"]}),
    ]


def _zone_names(sheet: Sheet) -> LabelRow:
    """The motor zones' names, under their middles."""
    zones = sheet.line.motor_zones
    middles = []
    for zone in zones:
        lane = sheet.layout.lane(zone.lane)
        middles.append(sheet.to_px(lane.travel_to_axis(lane.floor_to_travel((zone.from_m + zone.to_m) / 2))))
    return place_labels([f"zone {zone.name}" for zone in zones], middles, sheet.width_px, sheet.text.small_px)


def _stops(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    """Ticks where a carrier may wait, squares at docks."""
    middle = (plan.track_top + plan.track_foot) / 2
    rows = [
        {"x": sheet.value(stop.axis_m), "y": middle, "name": stop.label, "kind": stop.kind}
        for stop in sheet.layout.stops
    ]
    place = {"x": sheet.x("x"), "y": pixels("y"), **told()}
    tick = {"color": QUIET, "thickness": 1.2, "size": 7, "orient": "vertical", "clip": True}
    dock = {"shape": "square", "size": 26, "stroke": INK, "fill": PAPER, "strokeWidth": 1.2, "opacity": 1, "clip": True}
    waiting = [row for row in rows if row["kind"] == "waiting"]
    docks = [row for row in rows if row["kind"] == "dock"]
    return [
        layer(sheet.data.named(waiting, "waiting-stops"), "tick", tick, place),
        layer(sheet.data.named(docks, "docks"), "point", dock, place),
    ]


def _carriers(sheet: Sheet, plan: StripPlan, seen: Seen) -> list[Spec]:
    """Every carrier whose place is known, as long as its body, at the first instant of the string line."""
    half_m, middle = sheet.layout.body_m / 2, (plan.track_top + plan.track_foot) / 2
    rows = [
        {
            **sheet.span(at_m - half_m, at_m + half_m, middle - CARRIER_PX / 2, middle + CARRIER_PX / 2),
            "name": f"carrier {thread.carrier} at {seconds(seen.window.start_s)}",
            "stroke": HUE if thread.carrier == seen.bold else INK,
            "wide": 2.4 if thread.carrier == seen.bold else 1.0,
        }
        for thread in seen.threads
        for at_m in (float(thread.axis_m[0]),)
    ]
    look = {"fill": None, "cornerRadius": 2, "clip": True}
    outline = {"stroke": as_is("stroke"), "strokeWidth": as_is("wide", "quantitative")}
    return [layer(sheet.data.named(rows, "carriers"), "rect", look, sheet.box(**outline, **told()))]


def _labels(sheet: Sheet, plan: StripPlan, named: list[dict[str, Any]]) -> list[Spec]:
    """A pin at each station, its label above, and a thin line from one to the other."""
    rows = []
    for row, centre_px in zip(named, plan.labels.centres_px, strict=True):
        station = row["kind"] == "station"
        at = "" if row["at_m"] is None else f" at {sheet.lengths.text(row['at_m'])} on lane {row['on']}"
        failing = failing_at(sheet.evaluation, row["kind"], row["label"])
        told_of = "".join(f"; fails: {finding.code}" for finding in failing)
        rows.append(
            {
                "x": sheet.value(row["axis_m"]),
                "fails": bool(failing),
                "label_x": sheet.value(sheet.to_m(centre_px)),
                "label": row["label"],
                "kind": row["kind"],
                "name": f"{row['kind']} {row['label']}{at}{told_of}",
                "y_label": plan.label_foot,
                "y_lead": plan.label_foot + 3,
                "y_pin": plan.pin - 1 if station else plan.track_top,
                "y_point": plan.pin + 3,
            }
        )
    stations = [row for row in rows if row["kind"] == "station"]
    upright = plan.labels.direction == "upright"
    lead = {"x": sheet.x("label_x"), "x2": end("x"), "y": pixels("y_lead"), "y2": end("y_pin")}
    pin = {"shape": "triangle-down", "filled": True, "size": 55, "color": INK, "opacity": 1, "clip": True}
    layers = [
        layer(sheet.data.named(rows, "leaders"), "rule", {"color": GREY, "strokeWidth": 0.8, "clip": True}, lead),
        layer(sheet.data.named(stations, "pins"), "point", pin, {"x": sheet.x("x"), "y": pixels("y_point"), **told()}),
    ]
    look = {
        "fontSize": sheet.text.px,
        "color": INK,
        "angle": 270 if upright else 0,
        "align": "left" if upright else "center",
        "baseline": "middle" if upright else "bottom",
        "clip": True,
    }
    place = {"x": sheet.x("label_x"), "y": pixels("y_label"), "text": field("label", "nominal")}
    layers += _dark(sheet, [row for row in rows if row["fails"]], upright)
    # Stations upright letters, transfers slanted ones: they are no places of work. White where something fails there.
    for kind, slant in (("station", "normal"), ("transfer", "italic")):
        for fails, colour in ((False, INK), (True, PAPER)):
            chosen = [row for row in rows if (row["kind"], row["fails"]) == (kind, fails)]
            if chosen or not fails:
                name = f"{kind}-names{'-failing' if fails else ''}"
                words = {**look, "fontStyle": slant, "color": colour}
                some = sheet.data.named(chosen, name)
                layers.append(layer(some, "text", words, {**place, "tooltip": told()["tooltip"]}))
    return layers


def _dark(sheet: Sheet, rows: list[dict[str, Any]], upright: bool) -> list[Spec]:
    """Dark boxes behind the names of places at which something fails."""
    if not rows:
        return []
    size = sheet.text.px
    boxes = []
    for row in rows:
        long_px, half_px = text_width_px(row["label"], size) + 6.0, 0.6 * size
        half_wide, high = (half_px, long_px) if upright else (long_px / 2, 1.35 * size)
        at = {"x": row["label_x"], "y": row["y_label"], "name": row["name"]}
        boxes.append((at, -half_wide, half_wide, 2.0 - high, 2.0))
    return dark_boxes(sheet, boxes, "failing-places", heard=False)


def _floor(sheet: Sheet, plan: StripPlan) -> list[Spec]:
    """Under the track the floor's own scale, lane by lane, of a ring the way along it: `at` or `along` of the line
    file is read here."""
    size, lengths = sheet.text.small_px, sheet.lengths
    step = lengths.round_step(sheet.to_m(TICKS_APART * size) + sheet.margin_m)
    rows: list[dict[str, Any]] = []
    taken_px = 0.0
    for axis_m, said in _ticks(sheet, step):
        half_px, at_px = text_width_px(said, size) / 2, sheet.to_px(axis_m)
        shown = at_px - half_px >= taken_px
        taken_px = at_px + half_px + 0.5 * size if shown else taken_px
        row = sheet.span(axis_m, axis_m, plan.floor + 2, plan.floor + 7)
        rows.append({**row, "words_y": plan.floor + 9, "label": said if shown else ""})
    data = sheet.data.named(rows, "floor")
    name = "along" if sheet.layout.lanes[0].is_ring else "floor"
    unit = sheet.data.named([{"x": -8.0, "y": plan.floor + 9, "label": f"{name} ({lengths.short})"}])
    look: Spec = {"fontSize": size, "color": INK, "baseline": "top"}
    words: Spec = {"text": field("label", "nominal")}
    tick = {"x": sheet.x("x"), "y": pixels("y"), "y2": end("y2")}
    return [
        layer(data, "rule", {"color": GREY, "strokeWidth": 1, "clip": True}, tick),
        layer(data, "text", {**look, "clip": True}, {"x": sheet.x("x"), "y": pixels("words_y"), **words}),
        layer(unit, "text", {**look, "align": "right"}, {"x": pixels("x"), "y": pixels("y"), **words}),
        *_finer(sheet, plan, step),
    ]


def _ticks(sheet: Sheet, step: float) -> list[tuple[float, str]]:
    """Where the multiples of a step lie on the axis, in its order, with their number on the floor. [m]"""
    ticks, value = [], sheet.lengths.value
    for lane in sheet.layout.lanes:
        west, east = sorted((lane.travel_to_floor(0.0), lane.travel_to_floor(lane.length_m)))
        number = -int(-value(west) // step)
        while number * step <= value(east) + 1e-6:
            travel_m = lane.floor_to_travel(sheet.lengths.to_SI(number * step))
            ticks.append((lane.travel_to_axis(travel_m), f"{number * step:g}"))
            number += 1
    return sorted(ticks)


def _finer(sheet: Sheet, plan: StripPlan, step: float) -> list[Spec]:
    """Numbers between those of the whole view, from the zoom on at which there is room for them."""
    here = {axis_m for axis_m, _ in _ticks(sheet, step)}
    rows = [
        {**sheet.span(at_m, at_m, plan.floor + 2, plan.floor + 5), "words_y": plan.floor + 9, "label": said}
        for at_m, said in _ticks(sheet, step / FINER)
        if at_m not in here
    ]
    near = f"{FAR} - {NEAR} < {(sheet.ends[FAR] - sheet.ends[NEAR]) / (0.6 * FINER):.6g}"
    shown = {"condition": {"test": near, **field("label", "nominal")}, "value": ""}
    look = {"fontSize": sheet.text.small_px, "color": INK, "baseline": "top", "clip": True}
    words = {"x": sheet.x("x"), "y": pixels("words_y"), "text": shown}
    return [layer(sheet.data.named(rows, "finer-floor"), "text", look, words)]


def _key(sheet: Sheet, seen: Seen | None) -> list[KeyEntry]:
    joint = KeyEntry("two sections and their joint", (box_glyph(10, 26, color=PALE), box_glyph(10, 2, color=PAPER)))
    key = [point("station", shape="triangle-down", filled=True, size=55, color=INK)]
    if any(stop.kind == "waiting" for stop in sheet.layout.stops):
        key.append(stroke("waiting stop", (14, 6.5), (14, 13.5), color=QUIET, strokeWidth=1.2))
    if sheet.layout.transfers:
        key.append(point("dock stop", shape="square", size=26, stroke=INK, fill=PAPER, strokeWidth=1.2))
        key.append(box("platform of a transfer", 12, 22, fill=PAPER, stroke=INK, strokeDash=[3, 2]))
    key.append(joint)
    if _cleared(sheet):
        key.append(box("kept clear of waiting carriers", CLEAR_PX, 22, fill=FILLS["blocked"].paint, stroke=HUE))
    if sheet.line.motor_zones:
        key.append(stroke("motor zone", (3, 10), (25, 10), color=HUE, strokeWidth=3))
    places = [("station", one.name) for one in sheet.line.stations]
    places += [("transfer", one.name) for one in sheet.layout.transfers]
    if any(failing_at(sheet.evaluation, *one) for one in places):
        key.append(box("name in white on dark: something fails there", 14, 24, fill=INK))
    if seen is not None:
        said = f"carrier at {seconds(seen.window.start_s)}, to scale"
        key.append(box(said, 14, 16, fill=PAPER, stroke=INK, cornerRadius=2))
    return key
