"""One move with its governing limits: position, speed, acceleration and jerk over one axis of time."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from linewright.evaluation import Evaluation
from linewright.motion.limits import CarrierLimits
from linewright.pictures.charts.comb import caution, kept, kept_lines, words_layer
from linewright.pictures.grammar import Datasets, Spec, end, field, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, stroke
from linewright.pictures.labels import spread, text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import GREY, HUE, INK, PALE, QUIET, Lengths, Text, round_step
from linewright.quantities import KEEP

PLOT_PX: Final = 660.0
LABEL_PX: Final = 300.0
PANEL_PX: Final = 104.0
INSTANTS: Final = 241
CUT_FROM: Final = 2.0
"""A limit of more than so many times the peak is not drawn to scale: an arrow and its number tell it."""
HEAD_ROOM: Final = 1.15
_QUANTITIES: Final = ("position", "speed", "acceleration", "jerk")
_UNITS: Final = {
    "mm": {"position": "mm", "speed": "m/s", "acceleration": "m/s²", "jerk": "m/s³"},
    "inch": {"position": "in", "speed": "in/s", "acceleration": "in/s²", "jerk": "in/s³"},
}
_INCHES: Final = 1.0 / 0.0254


def move_limits(
    evaluation: Evaluation,
    start: str | None = None,
    end: str | None = None,
    loaded: bool | None = None,
    text: Text | None = None,
) -> Picture:
    """One move as it is planned, with the limits that it keeps and the one that governs it.

    Parameters
    ----------
    evaluation : of a line whose carriers can be accelerated
    start, end : names of stations, or of stops as the checks of the moves call them; by default the move by which the
        next carrier comes to the limiting station, and without a run the longest from station to station
    loaded : with the part aboard; None: as the carrier makes that move most often
    text : sizes of letters

    Returns
    -------
    Picture   Named ``move``.

    Raises
    ------
    NothingToDraw   No carrier can move.
    ValueError      There is no such stop, or no such move; the text says which there are.
    """
    text = Text() if text is None else text
    if evaluation.limits is None:
        raise NothingToDraw("no carrier can be accelerated; linewright check says why")
    if not len(evaluation.limits.motion.legs):
        raise NothingToDraw("no carrier has anywhere to go: the track allows no traffic, or there is one stop alone")
    rows = evaluation.limits.motion.legs.rows()
    number = _chosen(evaluation, rows, start, end, loaded)
    found = evaluation.limits.motion.limits[number]
    units = evaluation.line.units
    panels = [_panel(quantity, found, str(rows[number]["quantity"]), units) for quantity in _QUANTITIES]
    data = Datasets()
    left = 0.6 * text.small_px + max(text_width_px(_figure(one.high), text.small_px) + text.small_px for one in panels)
    room = 44.0 + 22.0 * text.size
    longest = max(text_width_px(level.words, 1.06 * text.px) for one in panels for level in one.levels)
    width_px = left + PLOT_PX + min(longest, LABEL_PX * text.size) + room
    views = [_view(panel, found, left, width_px, data, text, last=panel is panels[-1]) for panel in panels]
    title = f"{evaluation.line.name}: one move and what limits it"
    said = [kept(words) for words in _said(evaluation, rows[number], found)]
    return picture_of("move", title, said, views, _key(), data, text, width_px)


# ---- which move ------------------------------------------------------------------------------------------------------


def _chosen(
    evaluation: Evaluation, rows: list[dict[str, Any]], start: str | None, end: str | None, loaded: bool | None
) -> int:
    """Number of the row of the move that is asked for."""
    labels = {stop.label for stop in evaluation.layout.stops}
    wanted = {side: _label(name, labels) for side, name in (("start", start), ("end", end)) if name is not None}
    fits = [
        number
        for number, row in enumerate(rows)
        if all(row[side] == label for side, label in wanted.items()) and loaded in (None, row["loaded"])
    ]
    if not fits:
        raise ValueError(_no_move(rows, wanted, loaded))
    if not wanted:
        fits = _usual(evaluation, rows, fits)
    return max(fits, key=lambda number: (rows[number]["made"], rows[number]["distance_m"], -number))


def _label(name: str, labels: set[str]) -> str:
    for label in (f"station {name}", name):
        if label in labels:
            return label
    known = ", ".join(sorted(label.removeprefix("station ") for label in labels))
    raise ValueError(f"there is no station or stop {name!r}; there are {known}")


def _no_move(rows: list[dict[str, Any]], wanted: dict[str, str], loaded: bool | None) -> str:
    """What is asked for and what there is instead."""
    load = {None: "", True: " with a part aboard", False: " without a part"}[loaded]
    asked = " ".join(f"{'from' if side == 'start' else 'to'} {label}" for side, label in wanted.items())
    near = [row for row in rows if any(row[side] == label for side, label in wanted.items())]
    names = dict.fromkeys(f"{_name(row['start'])} to {_name(row['end'])}, {_load(row)}" for row in near)
    return f"no carrier makes a move {asked}{load}; there are {'; '.join(names) if names else 'none like it'}"


def _usual(evaluation: Evaluation, rows: list[dict[str, Any]], fits: list[int]) -> list[int]:
    """The moves into the limiting station that were made; else the longest from station to station; else all."""
    limiting = None if evaluation.run is None else evaluation.run.limiting
    if limiting is not None:
        stations = next((step.stations for step in evaluation.line.route if step.name == limiting.step), ())
        ends = {f"station {station}" for station in stations}
        into = [number for number in fits if rows[number]["end"] in ends and rows[number]["made"]]
        if into:
            return into
    between = [number for number in fits if all(rows[number][side].startswith("station ") for side in ("start", "end"))]
    longest = max((rows[number]["distance_m"] for number in between), default=0.0)
    return [number for number in between if rows[number]["distance_m"] == longest] or fits


def _name(label: str) -> str:
    return label.removeprefix("station ")


def _place(evaluation: Evaluation, label: str) -> str:
    """The name of a stop; that of a waiting stop, which no other picture names, with where it lies."""
    stop = next((one for one in evaluation.layout.stops if one.label == label), None)
    if stop is None or stop.kind != "waiting":
        return _name(label)
    return f"{label} ({Lengths(evaluation.line.units).text(stop.travel_m)} along lane {stop.lane})"


def _load(row: dict[str, Any]) -> str:
    return "loaded" if row["loaded"] else "empty"


# ---- numbers and words -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Level:
    """A limit of one quantity, in the file's unit.

    Parameters
    ----------
    value : the limit
    words, told : its name beside the panel, and what a pointer tells
    role : ``governs``, ``sets`` (it is the limit that the move keeps) or ``other``
    """

    value: float
    words: str
    told: str
    role: str


@dataclass(frozen=True, eq=False)
class _Panel:
    """One quantity over time, in the file's unit.

    Parameters
    ----------
    quantity, unit : what it is
    times_s, values : the curve
    peak : its greatest size
    levels : limits, the greatest first
    high : the greatest value that the panel shows
    signed : it shows as much below zero
    """

    quantity: str
    unit: str
    times_s: list[float]
    values: list[float]
    peak: float
    levels: tuple[_Level, ...]
    high: float
    signed: bool


def _figure(value: float) -> str:
    """Three digits, or all that stand before the point; never an exponent.

    Examples
    --------
    >>> [_figure(value).replace(chr(160), " ") for value in (1234.6, 92.52, 0.8189, 0.0, 14.0)]
    ['1 235', '92.5', '0.819', '0', '14']
    """
    if value == 0.0 or not math.isfinite(value):
        return "0" if value == 0.0 else "no limit"
    decimals = max(0, 2 - math.floor(math.log10(abs(value))))
    words = f"{value:,.{decimals}f}"
    words = words.rstrip("0").rstrip(".") if "." in words else words
    return words.replace(",", KEEP)


def _scale(quantity: str, units: str) -> float:
    if units == "inch":
        return _INCHES
    return 1000.0 if quantity == "position" else 1.0


def _panel(quantity: str, found: CarrierLimits, governed: str, units: str) -> _Panel:
    scale, unit = _scale(quantity, units), _UNITS[units][quantity]
    times, values = _curve(quantity, found)
    values = [scale * value for value in values]
    peak = max(abs(value) for value in values)
    levels = _levels(quantity, found, governed, units, peak)
    drawn = [level.value for level in levels if level.value <= CUT_FROM * peak]
    return _Panel(
        quantity, unit, times, values, peak, levels, HEAD_ROOM * max([peak, *drawn]), quantity in _QUANTITIES[2:]
    )


def _curve(quantity: str, found: CarrierLimits) -> tuple[list[float], list[float]]:
    """Times and values of a quantity, SI; corners are met exactly. [s]"""
    move = found.move
    if quantity == "jerk":
        times, values = [0.0], [0.0]
        for one in move.segments:
            times += [one.start_s, one.start_s + one.duration_s]
            values += [one.jerk_m_s3] * 2
        return [*times, move.duration_s], [*values, 0.0]
    corners = [one.start_s for one in move.segments]
    instants = np.unique(np.concatenate((np.linspace(0.0, move.duration_s, INSTANTS), corners)))
    form = {"position": move.position_m, "speed": move.speed_m_s, "acceleration": move.acceleration_m_s2}[quantity]
    return instants.tolist(), np.asarray(form(instants)).tolist()


def _levels(quantity: str, found: CarrierLimits, governed: str, units: str, peak: float) -> tuple[_Level, ...]:
    """The limits of one quantity, the greatest first; the one that the move keeps stands once."""
    scale, unit = _scale(quantity, units), _UNITS[units][quantity]
    if quantity == "position":
        way = Lengths(units).text(found.move.distance_m)
        return (_Level(peak, f"way: {way}", f"the whole way, {way}", "other"),)
    kept, name = {
        "speed": (found.limits.speed_m_s, found.speed_set_by),
        "acceleration": (found.limits.acceleration_m_s2, found.acceleration_set_by),
        "jerk": (found.limits.jerk_m_s3, found.jerk_set_by),
    }[quantity]
    governs = quantity == governed
    limits = [(kept, name, "governs" if governs else "sets")]
    for one in found.candidates:
        if one.quantity != quantity or one.value is None:
            continue
        if one.name != name or not math.isclose(one.value, kept, rel_tol=1e-9):
            label = "side pull, across the track" if one.name == "side pull" else one.name
            limits.append((one.value, label, "other"))
    levels = []
    for value, label, role in sorted(limits, key=lambda limit: -limit[0]):
        shown, size = scale * value, _figure(scale * value)
        words = f"{label} {size} {unit}" if math.isfinite(shown) else f"{label}: no limit"
        if role == "governs":
            words = f"governs: {words}"
        elif role == "sets" and peak < shown * (1.0 - 1e-6):
            words += ", not reached"
        levels.append(_Level(shown, words, f"{quantity}, limit: {words}", role))
    return tuple(levels)


def _said(evaluation: Evaluation, row: dict[str, Any], found: CarrierLimits) -> list[str]:
    way = Lengths(evaluation.line.units).text(float(row["distance_m"]))
    further = ""
    if row["lifted_s"] > 0.0:
        until = f"up to the next limit, {row['next']}," if row["next"] else "without it, the other limits as they are,"
        further = f"; {until} {row['lifted_s']:.3f} s"
    ends = f"{_place(evaluation, row['start'])} to {_place(evaluation, row['end'])}"
    first = (
        f"{ends}, {way}, {_load(row)}, {row['time_s']:.3f} s: {row['governs']} governs; 10 % more of it would save "
        f"{row['eased_s']:.3f} s{further}."
    )
    said = [first]
    unknown = [one.name for one in found.candidates if one.value is None]
    if unknown:
        said.append(f"NOT CHECKED: {', '.join(unknown)}; the line file does not state what is needed.")
    said.append(f"{_figure(found.moving_mass_kg)} kg move. {_made(evaluation, int(row['made']))}")
    return said + caution(evaluation.line, "")


def _made(evaluation: Evaluation, made: int) -> str:
    if evaluation.duty is None:
        return "No run: how often this move is made is not known."
    return f"Made {made} {'time' if made == 1 else 'times'} in run 1."


# ---- one panel -------------------------------------------------------------------------------------------------------


def _view(
    panel: _Panel, found: CarrierLimits, left: float, width_px: float, data: Datasets, text: Text, last: bool
) -> Spec:
    duration_s = found.move.duration_s
    lines = [kept_lines(level.words, LABEL_PX * text.size, 1.06 * text.px) for level in panel.levels]
    heights = [1.2 * text.px * len(one) for one in lines]
    high = max(PANEL_PX * (0.5 + 0.5 * text.size), sum(heights))
    top = 1.2 * text.line_px
    low = -panel.high if panel.signed else 0.0

    def x(time_s: float) -> float:
        return left + PLOT_PX * time_s / duration_s

    def y(value: float) -> float:
        return top + high * (panel.high - value) / (panel.high - low)

    heading = f"{panel.quantity} ({panel.unit})"
    if panel.quantity in ("speed", "acceleration"):
        heading += f": reaches {_figure(panel.peak)} {panel.unit}"
    layers = [words_layer([(0.0, 0.5 * text.line_px, heading)], data, text.px, fontWeight="bold")]
    layers += _grid(panel, [x(one.start_s) for one in found.move.segments], left, top, high, data)
    layers += _values_at_left(panel, y, left, high, data, text)
    layers += _level_lines(panel, y, left, data)
    layers.append(_curve_layer(panel, x, y, data))
    layers += _level_names(panel, lines, heights, y, left + PLOT_PX, top, high, data, text)
    foot = top + high + 6.0
    if last:
        layers += _seconds(duration_s, x, top + high, data, text)
        foot += 2.2 * text.small_px + text.line_px
    return layered(layers, width_px, foot, panel.quantity)


def _grid(panel: _Panel, corners: Sequence[float], left: float, top: float, high: float, data: Datasets) -> list[Spec]:
    """The frame, zero, and an upright line wherever the jerk changes. [px]"""
    upright = [{"x": at, "y": top, "y2": top + high} for at in corners]
    zero = top + (high / 2 if panel.signed else high)
    across = [{"x": left, "x2": left + PLOT_PX, "y": zero}]
    frame = [{"x": left, "x2": left + PLOT_PX, "y": top, "y2": top + high}]
    place = {"x": pixels("x"), "y": pixels("y")}
    box = {**place, "x2": end("x2"), "y2": end("y2")}
    return [
        layer(data.named(upright), "rule", {"color": PALE, "strokeWidth": 0.8}, {**place, "y2": end("y2")}),
        layer(data.named(frame), "rect", {"fill": None, "stroke": GREY, "strokeWidth": 0.8}, box),
        layer(data.named(across), "rule", {"color": GREY, "strokeWidth": 1}, {**place, "x2": end("x2")}),
    ]


def _values_at_left(
    panel: _Panel, y: Callable[[float], float], left: float, high: float, data: Datasets, text: Text
) -> list[Spec]:
    """A few values of the quantity at the left edge."""
    span = panel.high * (2.0 if panel.signed else 1.0)
    step = round_step(span * max(0.17, 1.3 * text.small_px / high))
    number = -math.floor(panel.high / step) if panel.signed else 0
    names, ticks = [], []
    while number * step <= panel.high:
        at = y(number * step)
        names.append((left - 8.0, at, _figure(number * step).replace("-", "−")))
        ticks.append({"x": left - 4.0, "x2": left, "y": at})
        number += 1
    across = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y")}
    return [
        layer(data.named(ticks), "rule", {"color": GREY, "strokeWidth": 0.8}, across),
        words_layer(names, data, text.small_px, align="right"),
    ]


_LOOKS: Final[dict[str, dict[str, Any]]] = {
    "governs": {"color": INK, "strokeWidth": 3},
    "sets": {"color": INK, "strokeWidth": 1.2},
    "other": {"color": QUIET, "strokeWidth": 0.8, "strokeDash": [5, 3]},
}


def _level_lines(panel: _Panel, y: Callable[[float], float], left: float, data: Datasets) -> list[Spec]:
    """Limits within the panel as level lines, on both sides of zero where the quantity has both."""
    layers = []
    place = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), **told()}
    for role, look in _LOOKS.items():
        rows = [
            {"x": left, "x2": left + PLOT_PX, "y": y(side * level.value), "name": level.told}
            for level in panel.levels
            if level.role == role and level.value <= panel.high
            for side in ((1.0, -1.0) if panel.signed else (1.0,))
        ]
        if rows:
            layers.append(layer(data.named(rows), "rule", look, place))
    return layers


def _curve_layer(panel: _Panel, x: Callable[[float], float], y: Callable[[float], float], data: Datasets) -> Spec:
    name = f"{panel.quantity} over time, greatest size {_figure(panel.peak)} {panel.unit}"
    rows = [
        {"n": number, "x": x(time_s), "y": y(value), "name": name}
        for number, (time_s, value) in enumerate(zip(panel.times_s, panel.values, strict=True))
    ]
    place = {"x": pixels("x"), "y": pixels("y"), "order": field("n"), "detail": field("name", "nominal"), **told()}
    return layer(data.named(rows), "line", {"color": HUE, "strokeWidth": 2.2}, place)


def _level_names(
    panel: _Panel,
    lines: Sequence[Sequence[str]],
    heights: Sequence[float],
    y: Callable[[float], float],
    edge: float,
    top: float,
    high: float,
    data: Datasets,
    text: Text,
) -> list[Spec]:
    """Names of the limits right of the panel, each with a line to its height; an arrow up where it lies beyond."""
    beyond = [level.value > panel.high for level in panel.levels]
    places = [0.0 if out else y(level.value) - top for level, out in zip(panel.levels, beyond, strict=True)]
    centres = spread(places, heights, high)
    leads: list[dict[str, Any]] = []
    arrows: list[dict[str, Any]] = []
    names: dict[bool, list[tuple[float, float, str]]] = {True: [], False: []}
    for level, out, at, centre, words in zip(panel.levels, beyond, places, centres, lines, strict=True):
        if out:
            told_words = f"{level.told}; beyond this scale"
            arrows.append({"x": edge + 14.0 + 12.0 * text.size, "y": top + centre, "name": told_words})
        else:
            leads.append({"x": edge, "x2": edge + 20.0, "y": top + at, "y2": top + centre})
        for number, line in enumerate(words):
            down = (number - (len(words) - 1) / 2) * 1.2 * text.px
            names[level.role == "governs"].append(
                (edge + (14.0 + 22.0 * text.size if out else 24.0), top + centre + down, line)
            )
    place = {"x": pixels("x"), "y": pixels("y")}
    arrow = {"shape": "arrow", "size": 150 * text.size**2, "filled": True, "color": INK, "opacity": 1}
    layers = [
        layer(
            data.named(leads), "rule", {"color": QUIET, "strokeWidth": 0.8}, {**place, "x2": end("x2"), "y2": end("y2")}
        )
    ]
    if arrows:
        layers.append(layer(data.named(arrows), "point", arrow, {**place, **told()}))
    for bold, rows in names.items():
        if rows:
            layers.append(words_layer(rows, data, text.px, fontWeight="bold" if bold else "normal"))
    return layers


def _seconds(duration_s: float, x: Callable[[float], float], foot: float, data: Datasets, text: Text) -> list[Spec]:
    """The axis of time under the last panel. [px]"""
    widest = text_width_px("0.00", text.small_px) + text.small_px
    step = round_step(max(duration_s / 10.0, duration_s * widest / PLOT_PX))
    times = [number * step for number in range(int(duration_s / step + 1e-9) + 1)]
    ticks = [{"x": x(time_s), "y": foot, "y2": foot + 5.0} for time_s in times]
    names = [(x(time_s), foot + 5.0 + 0.9 * text.small_px, f"{time_s:.6g}") for time_s in times]
    under = foot + 2.2 * text.small_px + 0.6 * text.line_px
    upright = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
    return [
        layer(data.named(ticks), "rule", {"color": GREY, "strokeWidth": 0.8}, upright),
        words_layer(names, data, text.small_px, align="center"),
        words_layer([(x(duration_s / 2), under, "time from departure (s)")], data, text.px, align="center"),
    ]


def _key() -> tuple[KeyEntry, ...]:
    ends = (2.0, 10.0), (26.0, 10.0)
    return (
        stroke("the move", *ends, color=HUE, strokeWidth=2.2),
        stroke("limit that governs: 10 % more of it saves most time", *ends, **_LOOKS["governs"]),
        stroke("the least limit of that quantity", *ends, **_LOOKS["sets"]),
        stroke("other limits", *ends, **_LOOKS["other"]),
    )
