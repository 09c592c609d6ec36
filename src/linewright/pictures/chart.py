"""The track chart: the track strip over the string line of two minutes, on one horizontal axis.

The track is unrolled (lane, platform, lane, platform ...) from left to right in travel; time runs down the page. One
thread a carrier: vertical where it rests, thick where work is done on it, flat where it moves; a ride keeps its place on
the axis and is vertical too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from linewright.layout import Layout
from linewright.pictures.key import REPAIR_CROSS, key_chart
from linewright.pictures.strip import strip_chart
from linewright.pictures.style import BAND, FONT, FONT_PX, GREY, HUE, INK, PALE, PLOT_WIDTH_PX, QUIET, Scale, Datasets
from linewright.pictures.threads import DrawnWork, Thread, Window, carrier_threads, choose_window, drawn_works

if TYPE_CHECKING:
    import altair as alt

    from linewright.evaluation import Evaluation

PX_A_SECOND: Final = 5.5


def track_chart(evaluation: Evaluation, start_s: float | None = None, carrier: int | None = None) -> alt.VConcatChart:
    """The track chart of an evaluation as one Altair specification.

    Parameters
    ----------
    evaluation : without a run (no traffic possible, or none asked for) the strip stands alone and the title says so
    start_s : where the two minutes start; by default so that they end with the run's move log. [s]
    carrier : the one that is drawn bold; by default the one that travels farthest in the two minutes

    Raises
    ------
    ValueError   Nothing was logged from `start_s` on, or there is no such carrier.
    """
    import altair as alt

    line, layout = evaluation.line, evaluation.layout
    scale, data = Scale(line.units, layout.loop_m), Datasets()
    rows: list[Any] = [strip_chart(line, layout, scale, data)]
    window = None
    if evaluation.run is not None:
        window = choose_window(evaluation.run, start_s)
        threads = carrier_threads(line, layout, evaluation.run, window)
        bold = _bold_carrier(threads, carrier)
        works = drawn_works(layout, evaluation.run, window)
        rows.append(_string_line(layout, scale, threads, works, window, bold, data))
    track = alt.vconcat(*rows, spacing=4).resolve_scale(x="shared")
    whole = alt.vconcat(track, key_chart(window is not None, data), spacing=14)
    whole = (
        whole.properties(title=_title(evaluation, window), padding=14, background="white")
        .configure(font=FONT)
        .configure_view(stroke=None)
        .configure_axis(labelColor=INK, titleColor=INK, domainColor=GREY, tickColor=GREY, gridColor=BAND)
    )
    whole.datasets = data.rows
    return whole


def _title(evaluation: Evaluation, window: Window | None) -> alt.TitleParams:
    import altair as alt

    line, run = evaluation.line, evaluation.run
    said = []
    if run is None or window is None:
        said.append("The track alone: no run was simulated.")
    else:
        said.append(
            f"Simulated data, not measured: run 1 of {run.runs}, seed {run.seed}, from {window.start_s:g} s to "
            f"{window.end_s:g} s after time zero."
        )
    if line.conveyor.invented:
        said.append(f"The conveyor sheet {line.conveyor.name} is invented: do not buy or build from this picture.")
    return alt.TitleParams(
        text=line.name, subtitle=said, anchor="start", fontSize=17, subtitleFontSize=12, color=INK, subtitleColor=INK,
        offset=10,
    )  # fmt: skip


def _bold_carrier(threads: tuple[Thread, ...], carrier: int | None) -> int:
    if carrier is None:
        return max(threads, key=lambda thread: (round(thread.travel_m, 6), -thread.carrier)).carrier
    if carrier not in {thread.carrier for thread in threads}:
        raise ValueError(f"there is no carrier {carrier}; there are 0 to {len(threads) - 1}")
    return carrier


def _string_line(
    layout: Layout,
    scale: Scale,
    threads: tuple[Thread, ...],
    works: tuple[DrawnWork, ...],
    window: Window,
    bold: int,
    data: Datasets,
) -> alt.LayerChart:
    import altair as alt

    y_scale = alt.Scale(domain=[window.end_s, window.start_s], nice=False, zero=False)
    ticks = list(range(math.ceil(window.start_s / 10) * 10, math.floor(window.end_s) + 1, 10))
    y = alt.Y("t:Q", scale=y_scale, axis=alt.Axis(title="time after the start, s", values=ticks, grid=True, format="d"))
    return alt.layer(
        *_ground_layers(layout, scale, window, y_scale, data),
        *_thread_layers(scale, threads, bold, y, data),
        *_work_layers(scale, works, bold, y_scale, data),
        _bold_label(scale, threads, bold, y, data),
    ).properties(width=PLOT_WIDTH_PX, height=PX_A_SECOND * (window.end_s - window.start_s))


def _ground_layers(layout: Layout, scale: Scale, window: Window, y_scale: alt.Scale, data: Datasets) -> list[alt.Chart]:
    """Behind the threads: a band under each platform and its gaps, and a thin line under each station."""
    import altair as alt

    start, end = window.start_s, window.end_s
    bands = [
        {
            "from": scale.value(transfer.start_axis_m),
            "to": scale.value(transfer.aboard_axis_m + transfer.off_m),
            "t": start,
            "end": end,
        }
        for transfer in layout.transfers
    ]
    stations = [
        {"x": scale.value(stop.axis_m), "t": start, "end": end} for stop in layout.stops if stop.kind == "station"
    ]
    unit = scale.short
    x = alt.X(
        "from",
        type="quantitative",
        scale=scale.alt_scale(),
        axis=alt.Axis(
            title=f"place on the unrolled track, {unit} in travel from the start of lane {layout.lanes[0].name}",
            grid=False,
            format=",d",
            tickCount=14,
        ),
    )
    y = alt.Y("t:Q", scale=y_scale)
    return [
        alt.Chart(data.named(bands)).mark_rect(color=BAND).encode(x=x, x2=alt.X2("to"), y=y, y2=alt.Y2("end")),
        alt.Chart(data.named(stations))
        .mark_rule(color=PALE, strokeWidth=0.8)
        .encode(x=scale.x("x", axis), y=y, y2=alt.Y2("end")),
    ]


def _thread_layers(scale: Scale, threads: tuple[Thread, ...], bold: int, y: alt.Y, data: Datasets) -> list[alt.Chart]:
    """The threads, the bold one last so that it lies on top."""
    import altair as alt

    layers = []
    for is_bold in (False, True):
        rows = [
            {
                "carrier": thread.carrier,
                "n": number,
                "t": round(float(time_s), 4),
                "x": None if math.isnan(axis_m) else scale.value(float(axis_m)),
                "name": f"carrier {thread.carrier}",
            }
            for thread in threads
            if (thread.carrier == bold) == is_bold
            for number, (axis_m, time_s) in enumerate(zip(thread.axis_m, thread.time_s, strict=True))
        ]
        mark: dict[str, Any] = {"color": HUE, "strokeWidth": 2.2} if is_bold else {"color": QUIET, "strokeWidth": 0.9}
        chart = alt.Chart(data.named(rows)).mark_line(**mark, strokeJoin="round", clip=True)
        layers.append(
            chart.encode(x=scale.x("x", axis), y=y, detail="carrier:N", order="n:Q", description="name:N", tooltip=["name:N"])
        )
    return layers


def _work_layers(
    scale: Scale, works: tuple[DrawnWork, ...], bold: int, y_scale: alt.Scale, data: Datasets
) -> list[alt.Chart]:
    """Work as a thick stroke on the rest; a work with a repair is broken into dashes and crossed."""
    import altair as alt

    rows = [
        {
            "x": scale.value(work.axis_m),
            "t": round(work.start_s, 4),
            "end": round(work.end_s, 4),
            "middle": round((work.start_s + work.end_s) / 2, 4),
            "name": f"{work.station}: carrier {work.carrier}, part {work.serial}"
            + (f", {work.repair_s:.3g} s of repair" if work.repair_s > 0 else ""),
            "repair": work.repair_s > 0,
            "bold": work.carrier == bold,
        }
        for work in works
    ]
    layers = []
    for repair in (False, True):
        for is_bold in (False, True):
            some = [row for row in rows if row["repair"] == repair and row["bold"] == is_bold]
            stroke: dict[str, Any] = {"color": HUE if is_bold else INK, "strokeWidth": 5.0 if is_bold else 3.4}
            if repair:
                stroke["strokeDash"] = [4, 3]
            layers.append(
                alt.Chart(data.named(some))
                .mark_rule(**stroke)
                .encode(x=scale.x("x", axis), y=alt.Y("t:Q", scale=y_scale), y2=alt.Y2("end"), tooltip=["name:N"])
            )
    crossed = alt.Chart(data.named([row for row in rows if row["repair"]]))
    for colour, width in (("white", 5.0), (INK, 2.2)):
        layers.append(
            crossed.mark_point(shape=REPAIR_CROSS, size=130, stroke=colour, strokeWidth=width, opacity=1)
            .encode(x=scale.x("x", axis), y=alt.Y("middle:Q", scale=y_scale), description="name:N", tooltip=["name:N"])
        )  # fmt: skip
    return layers


def _bold_label(scale: Scale, threads: tuple[Thread, ...], bold: int, y: alt.Y, data: Datasets) -> alt.Chart:
    """The bold carrier's number over the top of its thread."""
    import altair as alt

    thread = next(one for one in threads if one.carrier == bold)
    row = {"x": scale.value(float(thread.axis_m[0])), "t": float(thread.time_s[0]), "name": f"carrier {bold}"}
    return (
        alt.Chart(data.named([row]))
        .mark_text(dy=-6, fontSize=FONT_PX, fontWeight="bold", color=HUE, baseline="bottom")
        .encode(x=scale.x("x", axis), y=y, text="name:N")
    )
