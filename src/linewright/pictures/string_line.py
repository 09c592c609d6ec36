"""The string line: place along the track, time down the page, one thread a carrier."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.layout import Layout
from linewright.pictures.style import (
    BAND,
    FONT_PX,
    HUE,
    INK,
    PALE,
    PLOT_WIDTH_PX,
    QUIET,
    REPAIR_CROSS,
    REPAIR_CROSS_PX2,
    Datasets,
    Scale,
)
from linewright.pictures.threads import DrawnWork, Thread, Window

if TYPE_CHECKING:
    import altair as alt

PX_A_SECOND: Final = 5.5
TICK_S: Final = 10


@dataclass(frozen=True, eq=False)
class _Sheet:
    """The two axes that all layers of the string line stand on, and where their rows go."""

    layout: Layout
    scale: Scale
    window: Window
    data: Datasets

    def x(self, field: str) -> alt.X:
        import altair as alt

        first = self.layout.lanes[0].name
        title = f"along the unrolled track, in travel from the start of lane {first} ({self.scale.short})"
        axis = alt.Axis(title=title, grid=False, format="d", tickCount=14)
        return alt.X(field, type="quantitative", scale=self.scale.shared(), axis=axis)

    def y(self, field: str) -> alt.Y:
        import altair as alt

        start_s, end_s = self.window.start_s, self.window.end_s
        ticks = list(range(math.ceil(start_s / TICK_S) * TICK_S, math.floor(end_s) + 1, TICK_S))
        axis = alt.Axis(title="time after the start (s)", values=ticks, grid=True, format="d")
        scale = alt.Scale(domain=[end_s, start_s], nice=False, zero=False)
        return alt.Y(field, type="quantitative", scale=scale, axis=axis)


def string_line(
    layout: Layout,
    scale: Scale,
    window: Window,
    threads: tuple[Thread, ...],
    works: tuple[DrawnWork, ...],
    bold: int,
    data: Datasets,
) -> alt.LayerChart:
    """The string line as one layered chart on the shared axis.

    Parameters
    ----------
    threads, works : what happened in the window
    bold : the carrier to follow
    data : takes the rows
    """
    import altair as alt

    sheet = _Sheet(layout, scale, window, data)
    layers = [*_ground(sheet), *_threads(sheet, threads, bold), *_works(sheet, works, bold)]
    layers.append(_bold_label(sheet, next(thread for thread in threads if thread.carrier == bold)))
    height = PX_A_SECOND * (window.end_s - window.start_s)
    return alt.LayerChart(layer=layers, width=PLOT_WIDTH_PX, height=height)


def _ground(sheet: _Sheet) -> list[alt.Chart]:
    """Behind the threads: a band under each platform and its gaps, and a thin line under each station."""
    import altair as alt

    value, span = sheet.scale.value, {"t": sheet.window.start_s, "end": sheet.window.end_s}
    bands = [
        {"x": value(transfer.start_axis_m), "to": value(transfer.end_axis_m), **span}
        for transfer in sheet.layout.transfers
    ]
    stations = [{"x": value(stop.axis_m), **span} for stop in sheet.layout.stops if stop.kind == "station"]
    down = {"x": sheet.x("x"), "y": sheet.y("t"), "y2": alt.Y2("end")}
    return [
        alt.Chart(sheet.data.named(bands)).mark_rect(color=BAND).encode(x2=alt.X2("to"), **down),
        alt.Chart(sheet.data.named(stations)).mark_rule(color=PALE, strokeWidth=0.8).encode(**down),
    ]


def _threads(sheet: _Sheet, threads: tuple[Thread, ...], bold: int) -> list[alt.Chart]:
    """The threads, the bold one last so that it lies on top."""
    import altair as alt

    layers = []
    for is_bold in (False, True):
        rows = [
            {
                "carrier": f"carrier {thread.carrier}",
                "n": number,
                "t": round(float(time_s), 4),
                "x": None if math.isnan(axis_m) else sheet.scale.value(float(axis_m)),
            }
            for thread in threads
            if (thread.carrier == bold) == is_bold
            for number, (axis_m, time_s) in enumerate(zip(thread.axis_m, thread.time_s, strict=True))
        ]
        stroke: dict[str, Any] = {"color": HUE, "strokeWidth": 2.2} if is_bold else {"color": QUIET, "strokeWidth": 0.9}
        mark = alt.Chart(sheet.data.named(rows)).mark_line(strokeJoin="round", **stroke)
        layers.append(
            mark.encode(
                x=sheet.x("x"),
                y=sheet.y("t"),
                detail="carrier:N",
                order="n:Q",
                description="carrier:N",
                tooltip=["carrier:N"],
            )
        )
    return layers


def _works(sheet: _Sheet, works: tuple[DrawnWork, ...], bold: int) -> list[alt.Chart]:
    """Work as a thick stroke on the rest; one with a repair in it is hollow and crossed."""
    import altair as alt

    rows = [
        {
            "x": sheet.scale.value(work.axis_m),
            "t": round(work.start_s, 4),
            "end": round(work.end_s, 4),
            "middle": round((work.start_s + work.end_s) / 2, 4),
            "name": _work_name(work),
            "repair": work.repair_s > 0.0,
            "bold": work.carrier == bold,
        }
        for work in works
    ]
    repaired = [row for row in rows if row["repair"]]
    strokes: list[tuple[list[dict[str, Any]], str, float]] = [
        ([row for row in rows if not row["bold"]], INK, 3.4),
        ([row for row in rows if row["bold"]], HUE, 5.0),
        (repaired, INK, 6.0),
        (repaired, "white", 3.0),
    ]
    layers = [
        alt.Chart(sheet.data.named(some))
        .mark_rule(color=colour, strokeWidth=width)
        .encode(x=sheet.x("x"), y=sheet.y("t"), y2=alt.Y2("end"), description="name:N", tooltip=["name:N"])
        for some, colour, width in strokes
    ]
    for colour, width in (("white", 5.0), (INK, 2.2)):
        cross = alt.Chart(sheet.data.named(repaired)).mark_point(
            shape=REPAIR_CROSS, size=REPAIR_CROSS_PX2, stroke=colour, strokeWidth=width, opacity=1
        )
        layers.append(cross.encode(x=sheet.x("x"), y=sheet.y("middle"), tooltip=["name:N"]))
    return layers


def _work_name(work: DrawnWork) -> str:
    repair = f", with {work.repair_s:.3g} s of repair" if work.repair_s > 0.0 else ""
    return f"work at {work.station}: carrier {work.carrier}, part {work.serial}{repair}"


def _bold_label(sheet: _Sheet, thread: Thread) -> alt.Chart:
    """The bold carrier's number over the top of its thread."""
    import altair as alt

    axis_m, top_s = float(thread.axis_m[0]), float(thread.time_s[0])
    row = {"x": sheet.scale.value(axis_m), "t": top_s, "name": f"carrier {thread.carrier}"}
    mark = alt.Chart(sheet.data.named([row])).mark_text(
        dy=-5,
        fontSize=FONT_PX,
        fontWeight="bold",
        color=HUE,
        baseline="bottom",
        align="left" if axis_m < sheet.scale.loop_m / 2 else "right",
    )
    label: alt.Chart = mark.encode(x=sheet.x("x"), y=sheet.y("t"), text="name:N")
    return label
