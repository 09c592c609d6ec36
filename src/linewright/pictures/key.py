"""The key of the track chart: every mark once more, beside what it means."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.labels import text_width_px
from linewright.pictures.style import (
    FONT_PX,
    HUE,
    INK,
    PALE,
    PLOT_WIDTH_PX,
    QUIET,
    REPAIR_CROSS,
    REPAIR_CROSS_PX2,
    Datasets,
)

if TYPE_CHECKING:
    import altair as alt

ROW_PX: Final = 24.0
MARK_PX: Final = 34.0  # room for a mark before its words

TRACK_WORDS: Final = ("station", "waiting stop", "dock stop", "two sections and their joint", "platform of a transfer")
THREAD_WORDS: Final = (
    "one carrier: upright while it rests or rides, flat while it moves",
    "work",
    "work with a repair in it",
    "the carrier to follow",
)


def key_chart(with_threads: bool, data: Datasets) -> alt.LayerChart:
    """The key: a row for the track and, where threads are drawn, a row for them."""
    import altair as alt

    rows = [TRACK_WORDS, THREAD_WORDS] if with_threads else [TRACK_WORDS]
    words: list[dict[str, Any]] = []
    starts: list[list[tuple[float, float]]] = []
    for number, texts in enumerate(rows):
        x = 0.0
        y = ROW_PX * (number + 0.5)
        starts.append([])
        for text in texts:
            starts[-1].append((x + MARK_PX / 2, y))
            words.append({"x": x + MARK_PX, "y": y, "text": text})
            x += MARK_PX + 0.8 * text_width_px(text, FONT_PX) + 14
    layers = [
        alt.Chart(data.named(words))
        .mark_text(align="left", baseline="middle", fontSize=FONT_PX, color=INK)
        .encode(x=_pixels("x"), y=_pixels("y"), text="text:N"),
        *_track_marks(starts[0], data),
    ]
    if with_threads:
        layers += _thread_marks(starts[1], data)
    return alt.LayerChart(layer=layers, width=PLOT_WIDTH_PX, height=ROW_PX * len(rows))


def _pixels(field: str) -> Any:
    """A field that is a pixel already."""
    import altair as alt

    kind: Any = alt.X if field.startswith("x") else alt.Y
    return kind(field, type="quantitative", scale=None, axis=None)


def _point(data: Datasets, at: tuple[float, float], **mark: Any) -> alt.Chart:
    import altair as alt

    chart: alt.Chart = (
        alt.Chart(data.named([{"x": at[0], "y": at[1]}]))
        .mark_point(opacity=1, **mark)
        .encode(x=_pixels("x"), y=_pixels("y"))
    )
    return chart


def _box(data: Datasets, from_x: float, to_x: float, middle: float, height: float, **mark: Any) -> alt.Chart:
    import altair as alt

    row = {"x": from_x, "x2": to_x, "y": middle - height / 2, "y2": middle + height / 2}
    chart: alt.Chart = (
        alt.Chart(data.named([row]))
        .mark_rect(**mark)
        .encode(x=_pixels("x"), x2=alt.X2("x2"), y=_pixels("y"), y2=alt.Y2("y2"))
    )
    return chart


def _path(data: Datasets, points: list[tuple[float, float]], **mark: Any) -> alt.Chart:
    import altair as alt

    rows = [{"n": number, "x": x, "y": y} for number, (x, y) in enumerate(points)]
    line = alt.Chart(data.named(rows)).mark_line(**mark)
    chart: alt.Chart = line.encode(x=_pixels("x"), y=_pixels("y"), order="n:Q")
    return chart


def _track_marks(at: list[tuple[float, float]], data: Datasets) -> list[alt.Chart]:
    joint_x, joint_y = at[3]
    return [
        _point(data, at[0], shape="triangle-down", filled=True, size=55, color=INK),
        _path(data, [(at[1][0], at[1][1] - 3.5), (at[1][0], at[1][1] + 3.5)], color=QUIET, strokeWidth=1.2),
        _point(data, at[2], shape="square", size=26, stroke=INK, fill="white", strokeWidth=1.2),
        _box(data, joint_x - 14, joint_x - 1, joint_y, 10, color=PALE),
        _box(data, joint_x + 1, joint_x + 14, joint_y, 10, color=PALE),
        _box(data, at[4][0] - 11, at[4][0] + 11, at[4][1], 12, fill="white", stroke=INK, strokeDash=[3, 2]),
    ]


def _thread_marks(at: list[tuple[float, float]], data: Datasets) -> list[alt.Chart]:
    x, y = at[0]
    thread = [(x - 12, y - 9), (x - 12, y - 2), (x + 12, y + 1), (x + 12, y + 9)]
    follow = [(at[3][0] - 12, at[3][1] - 9), (at[3][0] - 12, at[3][1] - 2), (at[3][0] + 12, at[3][1] + 1)]
    return [
        _path(data, thread, color=QUIET, strokeWidth=0.9),
        _path(data, [(at[1][0], y - 8), (at[1][0], y + 8)], color=INK, strokeWidth=3.4),
        _path(data, [(at[2][0], y - 11), (at[2][0], y + 11)], color=INK, strokeWidth=6.0),
        _path(data, [(at[2][0], y - 11), (at[2][0], y + 11)], color="white", strokeWidth=3.0),
        _point(data, at[2], shape=REPAIR_CROSS, size=REPAIR_CROSS_PX2, stroke="white", strokeWidth=5),
        _point(data, at[2], shape=REPAIR_CROSS, size=REPAIR_CROSS_PX2, stroke=INK, strokeWidth=2.2),
        _path(data, [*follow, (at[3][0] + 12, at[3][1] + 9)], color=HUE, strokeWidth=2.2),
    ]
