"""The track strip: lanes, sections, joints, transfers, stops and laid-out labels, in pixels above one axis.

All heights are pixels from the top of the strip; along the track everything stands in the file's unit on the axis that
the rows below share.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.layout import LaneLayout, Layout
from linewright.pictures.labels import LabelRow, place_labels
from linewright.pictures.style import (
    CURVE,
    FONT_PX,
    GREY,
    INK,
    PALE,
    PLOT_WIDTH_PX,
    QUIET,
    Datasets,
    Scale,
)

if TYPE_CHECKING:
    import altair as alt

HEADING_PX: Final = 14.0
LEADER_PX: Final = 26.0  # between the labels and the pins
PIN_PX: Final = 9.0
TRACK_PX: Final = 14.0
FLOOR_PX: Final = 34.0
TICKS_APART_PX: Final = 62.0


@dataclass(frozen=True)
class StripPlan:
    """Where the rows of the strip lie. [px]"""

    labels: LabelRow
    label_foot: float
    pin: float
    track_top: float
    track_foot: float
    height: float


def strip_chart(layout: Layout, scale: Scale, data: Datasets) -> alt.LayerChart:
    """The strip as one layered chart on the shared axis."""
    import altair as alt

    named = _named_places(layout)
    labels = place_labels(
        [row["label"] for row in named], [scale.to_px(row["axis_m"]) for row in named], PLOT_WIDTH_PX, FONT_PX
    )
    label_foot = 2 * HEADING_PX + labels.height_px
    pin = label_foot + LEADER_PX
    track_top = pin + PIN_PX
    plan = StripPlan(labels, label_foot, pin, track_top, track_top + TRACK_PX, track_top + TRACK_PX + FLOOR_PX)
    layers = [
        *_lane_layers(layout, scale, plan, data),
        *_track_layers(layout, scale, plan, data),
        *_label_layers(named, scale, plan, data),
        *_floor_layers(layout, scale, plan, data),
    ]
    return alt.LayerChart(layer=layers, width=PLOT_WIDTH_PX, height=plan.height)


def _named_places(layout: Layout) -> list[dict[str, Any]]:
    """Stations and transfers along the axis, with what a reader calls them and what a pointer tells."""
    rows: list[dict[str, Any]] = []
    for stop in layout.stops:
        if stop.kind == "station":
            rows.append(
                {
                    "label": stop.station,
                    "axis_m": stop.axis_m,
                    "kind": "station",
                    "at_m": stop.floor_m,
                    "on": stop.lane,
                }
            )
        if stop.kind == "aboard" and stop.index == layout.transfer_of(stop).aboard:
            axis_m = layout.transfer_of(stop).platform_axis_m
            rows.append({"label": stop.transfer, "axis_m": axis_m, "kind": "transfer", "at_m": None, "on": ""})
    return rows


def _y(name: str, height: float) -> alt.Y:
    import altair as alt

    return alt.Y(name, type="quantitative", scale=alt.Scale(domain=[height, 0], nice=False), axis=None)


def _lane_layers(layout: Layout, scale: Scale, plan: StripPlan, data: Datasets) -> list[alt.Chart]:
    """Over each lane its name, its length and which way on the floor it runs."""
    import altair as alt

    rows = [
        {
            "from": scale.value(lane.start_axis_m),
            "to": scale.value(lane.end_axis_m),
            "middle": scale.value(lane.start_axis_m + lane.length_m / 2),
            "y": HEADING_PX + 6,
            "text_y": HEADING_PX - 4,
            "label": _heading(layout, lane, scale),
        }
        for lane in layout.lanes
    ]
    base = alt.Chart(data.named(rows))
    bracket = base.mark_rule(color=GREY, strokeWidth=1).encode(
        x=scale.x("from"), x2=alt.X2("to"), y=_y("y", plan.height)
    )
    heading = base.mark_text(fontSize=FONT_PX, color=INK, fontWeight="bold", baseline="bottom").encode(
        x=scale.x("middle"), y=_y("text_y", plan.height), text="label:N"
    )
    return [bracket, heading]


def _heading(layout: Layout, lane: LaneLayout, scale: Scale) -> str:
    """``lane upper, 4620 mm, west → east``; where its platform is drawn elsewhere, which one it leads to."""
    if lane.is_ring:
        return f"ring {lane.name}, {scale.text(lane.length_m)}, curves darker"
    way = f"{lane.from_} {'↔' if lane.two_way else '→'} {lane.to}"
    after = [transfer for transfer in layout.transfers if lane.name in transfer.takes[1:]]
    leads = f", to {after[0].name}" if after else ""
    return f"lane {lane.name}, {scale.text(lane.length_m)}, {way}{leads}"


def _track_layers(layout: Layout, scale: Scale, plan: StripPlan, data: Datasets) -> list[alt.Chart]:
    """Sections with a gap at every joint, platforms dashed, and ticks where a carrier may wait."""
    import altair as alt

    sections, joints, platforms = [], [], []
    for lane in layout.lanes:
        ends = [*lane.joints_travel_m, lane.length_m]
        for start_m, end_m in zip([0.0, *lane.joints_travel_m], ends, strict=True):
            sections.append(_span(scale, plan, lane.start_axis_m + start_m, lane.start_axis_m + end_m))
        joints += [{"x": scale.value(lane.start_axis_m + at_m)} for at_m in lane.joints_travel_m]
    for transfer in layout.transfers:
        half_m = transfer.platform_m / 2
        row = _span(scale, plan, transfer.platform_axis_m - half_m, transfer.platform_axis_m + half_m)
        name = f"{transfer.kind} {transfer.name}"
        if len(transfer.takes) + len(transfer.gives) > 2:
            name += f", from {' and '.join(transfer.takes)} to {' and '.join(transfer.gives)}"
        platforms.append({**row, "name": name})
    curves = [
        _span(scale, plan, lane.start_axis_m + piece.from_m, lane.start_axis_m + piece.to_m)
        for lane in layout.lanes
        for piece in lane.pieces
        if piece.is_curved
    ]
    stops = [{"x": scale.value(stop.axis_m), "name": stop.label, "kind": stop.kind} for stop in layout.stops]
    middle = (plan.track_top + plan.track_foot) / 2
    y, y2 = _y("top", plan.height), alt.Y2("foot")
    box = {"x": scale.x("from"), "x2": alt.X2("to"), "y": y, "y2": y2}
    return [
        alt.Chart(data.named(sections)).mark_rect(color=PALE, stroke=None).encode(**box),
        *([alt.Chart(data.named(curves)).mark_rect(color=CURVE, stroke=None).encode(**box)] if curves else []),
        alt.Chart(data.named(joints)).mark_rule(color="white", strokeWidth=2).encode(
            x=scale.x("x"), y=alt.value(plan.track_top), y2=alt.value(plan.track_foot)
        ),
        alt.Chart(data.named(platforms)).mark_rect(fill="white", stroke=INK, strokeDash=[3, 2]).encode(
            **box, tooltip=["name:N"]
        ),
        alt.Chart(data.named([row for row in stops if row["kind"] == "waiting"]))
        .mark_tick(color=QUIET, thickness=1.2, size=7, orient="vertical")
        .encode(x=scale.x("x"), y=alt.value(middle), tooltip=["name:N"]),
        alt.Chart(data.named([row for row in stops if row["kind"] == "dock"]))
        .mark_point(shape="square", size=26, stroke=INK, fill="white", strokeWidth=1.2)
        .encode(x=scale.x("x"), y=alt.value(middle), tooltip=["name:N"]),
    ]  # fmt: skip


def _span(scale: Scale, plan: StripPlan, from_m: float, to_m: float) -> dict[str, Any]:
    return {"from": scale.value(from_m), "to": scale.value(to_m), "top": plan.track_top, "foot": plan.track_foot}


def _label_layers(named: list[dict[str, Any]], scale: Scale, plan: StripPlan, data: Datasets) -> list[alt.Chart]:
    """A pin at each station, its label above, and a thin line from one to the other."""
    import altair as alt

    rows = []
    for row, centre_px in zip(named, plan.labels.centres_px, strict=True):
        station = row["kind"] == "station"
        at = "" if row["at_m"] is None else f" at {scale.text(row['at_m'])} on lane {row['on']}"
        rows.append(
            {
                "x": scale.value(row["axis_m"]),
                "label_x": scale.value(scale.to_m(centre_px)),
                "label": row["label"],
                "kind": row["kind"],
                "name": f"{row['kind']} {row['label']}{at}",
                "y_label": plan.label_foot,
                "y_lead": plan.label_foot + 3,
                "y_pin": plan.pin - 1 if station else plan.track_top,
            }
        )
    stations = [row for row in rows if row["kind"] == "station"]
    height = plan.height
    upright = plan.labels.direction == "upright"
    layers = [
        alt.Chart(data.named(rows)).mark_rule(color=GREY, strokeWidth=0.8).encode(
            x=scale.x("label_x"), x2=alt.X2("x"), y=_y("y_lead", height), y2=alt.Y2("y_pin")
        ),
        alt.Chart(data.named(stations))
        .mark_point(shape="triangle-down", filled=True, size=55, color=INK, opacity=1)
        .encode(x=scale.x("x"), y=alt.value(plan.pin + 3), description="name:N", tooltip=["name:N"]),
    ]  # fmt: skip
    # Stations upright letters, transfers slanted ones: they are no places of work.
    for kind, slant in (("station", "normal"), ("transfer", "italic")):
        layers.append(
            alt.Chart(data.named([row for row in rows if row["kind"] == kind]))
            .mark_text(
                fontSize=FONT_PX,
                fontStyle=slant,
                color=INK,
                angle=270 if upright else 0,
                align="left" if upright else "center",
                baseline="middle" if upright else "bottom",
            )
            .encode(x=scale.x("label_x"), y=_y("y_label", height), text="label:N", tooltip=["name:N"])
        )
    return layers


def _floor_layers(layout: Layout, scale: Scale, plan: StripPlan, data: Datasets) -> list[alt.Chart]:
    """Under the track the floor's own scale, lane by lane, of a ring the way along it: `at` or `along` of the line
    file is read here."""
    import altair as alt

    step = scale.floor_step(TICKS_APART_PX)
    rows = []
    for lane in layout.lanes:
        west, east = sorted((lane.travel_to_floor(0.0), lane.travel_to_floor(lane.length_m)))
        number = -int(-scale.value(west) // step)
        while number * step <= scale.value(east) + 1e-6:
            travel_m = lane.floor_to_travel(scale.to_SI(number * step))
            rows.append({"x": scale.value(lane.travel_to_axis(travel_m)), "label": f"{number * step:g}"})
            number += 1
    foot = plan.track_foot
    base = alt.Chart(data.named(rows))
    ticks = base.mark_rule(color=GREY, strokeWidth=1).encode(
        x=scale.x("x"), y=alt.value(foot + 2), y2=alt.value(foot + 7)
    )
    numbers = base.mark_text(fontSize=FONT_PX - 2, color=INK, baseline="top").encode(
        x=scale.x("x"), y=alt.value(foot + 9), text="label:N"
    )
    name = "along" if layout.lanes[0].is_ring else "floor"
    said = alt.Chart(data.named([{"label": f"{name} ({scale.short})"}])).mark_text(
        fontSize=FONT_PX - 2, color=INK, baseline="top", align="right"
    ).encode(x=alt.value(-6), y=alt.value(foot + 9), text="label:N")  # fmt: skip
    return [ticks, numbers, said]
