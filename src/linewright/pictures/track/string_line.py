"""The string line: place along the track, time down the page, one thread a carrier.

Failures and jams are areas in place and time: a failure as wide as its station's bar or a carrier, a jam as wide as the
carriers that stand in it. In a long window threads are drawn finer, so that those of one carrier's next round do not
close up with this round's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.pictures.grammar import Spec, as_is, end, field, layer, pixels, told
from linewright.pictures.key import KeyEntry, box, fill_entry, stroke
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import BAND, FILLS, HUE, INK, LIGHT, QUIET
from linewright.pictures.track.jams import Jam
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.thinned import kept_points
from linewright.pictures.track.threads import Seen, Thread
from linewright.pictures.track.time_scale import is_compressed, plot_height_px, time_scale
from linewright.pictures.track.works import DrawnFailure, DrawnWork

Floats = NDArray[np.float64]

TITLE: Final = "String line"
THIN_PX: Final = 0.3  # with the curves of moves and the rounding of numbers less than half a pixel together
FINE_PX: Final = 0.1
GRAIN_PX: Final = 0.1  # numbers are rounded to a step that is no larger
THREAD_PX: Final = 0.9
BOLD_PX: Final = 2.2
BOLD_SHARE: Final = 0.15
SHARE: Final = 0.18
"""No more of the way down from one round of a carrier to its next is the bold carrier's stroke, and those of all others
together."""
WORK_PX: Final = 3.4


@dataclass(frozen=True, eq=False)
class _Frame:
    """The sheet and where time runs on it. [px]"""

    sheet: Sheet
    seen: Seen
    top: float
    foot: float

    @property
    def s_a_px(self) -> float:
        """How long a pixel is. [s]"""
        return (self.seen.window.end_s - self.seen.window.start_s) / (self.foot - self.top)

    def y(self, name: str) -> Spec:
        """Time down the page."""
        start_s, end_s = self.seen.window.start_s, self.seen.window.end_s
        counted = time_scale(start_s, end_s, self.sheet.text.small_px)
        axis = {
            "title": f"time after the start ({counted.unit})",
            "values": list(counted.ticks_s),
            "grid": True,
            "labelExpr": f"format(datum.value / {counted.unit_s:g}, '~g')",
        }
        scale = {"domain": [start_s, end_s], "range": [self.top, self.foot], "nice": False, "zero": False}
        return field(name, scale=scale, axis=axis)

    def instant(self, time_s: float) -> float:
        """An instant cut to the window, as a row holds it. [s]"""
        return round(min(max(time_s, self.seen.window.start_s), self.seen.window.end_s), 4)


def string_line(sheet: Sheet, seen: Seen | None) -> Row:
    """The string line as one row."""
    if seen is None:
        return sheet.missing("string-line", TITLE, "no run was simulated")
    words = "Time runs down the page; a carrier is upright while it rests or rides, flat while it moves."
    heading, top = sheet.heading(TITLE, words + _not_drawn(sheet, seen))
    top += sheet.text.line_px + 4.0  # the bold carrier's number
    frame = _Frame(sheet, seen, top, top + plot_height_px(seen.window.end_s - seen.window.start_s))
    areas = [*_jams(frame), *_failures(frame)]
    layers = [*heading, *sheet.ground(top, frame.foot), *areas, *_threads(frame), *_works(frame), *_bold_label(frame)]
    return sheet.row("string-line", layers, frame.foot, _key(sheet, seen))


def _not_drawn(sheet: Sheet, seen: Seen) -> str:
    """What the reader must not look for in vain."""
    drawn = {thread.carrier for thread in seen.threads}
    missing = [str(number) for number in range(sheet.line.carriers) if number not in drawn]
    words = f" Not drawn, because the log shows no move of them: carriers {', '.join(missing)}." if missing else ""
    by_clock = [one.name for one in sheet.line.stations if any(failure.of == "clock" for failure in one.failures)]
    if by_clock:
        words += f" Failures by the clock are drawn only where they come in a work: at {', '.join(by_clock)}."
    return words


def _stroke_px(frame: _Frame) -> tuple[float, float]:
    """Widths of a thread and of the bold one: finer where rounds follow one another closely. [px]"""
    threads = frame.seen.threads
    rounds = max((thread.travel_m for thread in threads), default=0.0) / frame.sheet.layout.loop_m
    round_px = (frame.foot - frame.top) / max(rounds, 1.0)
    return min(THREAD_PX, SHARE * round_px / max(len(threads), 1)), min(BOLD_PX, BOLD_SHARE * round_px)


def _threads(frame: _Frame) -> list[Spec]:
    """The threads, the bold one last so that it lies on top."""
    layers = []
    for is_bold, width_px in zip((False, True), _stroke_px(frame), strict=True):
        some = [thread for thread in frame.seen.threads if (thread.carrier == frame.seen.bold) == is_bold]
        look: Spec = {"color": HUE if is_bold else QUIET, "strokeWidth": round(width_px, 3)}
        rows = [{"carrier": f"carrier {thread.carrier}", **_thinned(frame, thread)} for thread in some]
        data = frame.sheet.data.named(rows, "bold-thread" if is_bold else "threads")
        way = {"x": frame.sheet.x("x"), "y": frame.y("t"), "detail": field("carrier", "nominal")}
        look |= {"strokeJoin": "round", "clip": True}
        layers.append(_paths(data, look, {**way, **told("carrier")}))
    return layers


def _paths(data: str, look: Spec, channels: Spec) -> Spec:
    """A line for each row, whose fields x and t hold all its places and instants, in their order."""
    drawn = layer(data, "line", {**look, "order": False}, channels)
    return {**drawn, "transform": [{"flatten": ["x", "t"]}]}


def _thinned(frame: _Frame, thread: Thread) -> dict[str, list[float | None]]:
    """The points of a thread that can be seen, rounded to what can be seen."""
    seen_s = frame.seen.window.end_s - frame.seen.window.start_s
    most_px = THIN_PX if is_compressed(seen_s) else FINE_PX
    kept = kept_points(thread.axis_m / frame.sheet.m_a_px, thread.time_s / frame.s_a_px, most_px)
    return {
        "x": _rounded(thread.axis_m[kept] / frame.sheet.lengths.to_SI(1.0), frame.sheet.value(frame.sheet.m_a_px)),
        "t": _rounded(thread.time_s[kept], frame.s_a_px),
    }


def _rounded(values: Floats, a_px: float) -> list[float | None]:
    """Numbers rounded to a tenth of a pixel or finer, in as few letters as that takes; None for a break."""
    digits = max(0, math.ceil(-math.log10(GRAIN_PX * a_px)))
    factor = 10**digits
    whole = np.round(np.nan_to_num(values) * factor)
    numbers: list[float | None] = (whole.astype(np.int64) if digits == 0 else whole / factor).tolist()
    for at in np.flatnonzero(np.isnan(values)).tolist():
        numbers[at] = None
    return numbers


def _works(frame: _Frame) -> list[Spec]:
    """Work as a thick stroke on the rest."""
    layers = []
    for is_bold, colour, width_px in ((False, INK, WORK_PX), (True, HUE, 5.0)):
        rows = [
            {
                "x": frame.sheet.value(work.axis_m),
                "t": frame.instant(work.start_s),
                "end": frame.instant(work.end_s),
                "name": _work_name(work),
            }
            for work in frame.seen.works
            if (work.count == 1 and work.carrier == frame.seen.bold) == is_bold
        ]
        down = {"x": frame.sheet.x("x"), "y": frame.y("t"), "y2": end("end"), **told()}
        look = {"color": colour, "strokeWidth": width_px, "clip": True}
        layers.append(layer(frame.sheet.data.named(rows, "bold-works" if is_bold else "works"), "rule", look, down))
    return layers


def _work_name(work: DrawnWork) -> str:
    if work.count > 1:
        return f"work at {work.station}: {work.count} parts one after the other, {_span(work.start_s, work.end_s)}"
    return f"work at {work.station}: carrier {work.carrier}, part {work.serial}"


def _span(start_s: float, end_s: float) -> str:
    return f"{start_s:,.0f} s to {end_s:,.0f} s"


def _failures(frame: _Frame) -> list[Spec]:
    """Each failure as an area over the stretch of its station, from the begin to the end of the repair."""
    half_m = max(frame.sheet.bar_m(), frame.sheet.layout.body_m) / 2
    rows = [
        {
            "x": frame.sheet.value(one.axis_m - half_m),
            "x2": frame.sheet.value(one.axis_m + half_m),
            "t": frame.instant(one.start_s),
            "end": frame.instant(one.end_s),
            "name": _failure_name(one),
        }
        for one in frame.seen.failures
    ]
    area = {"x": frame.sheet.x("x"), "x2": end("x2"), "y": frame.y("t"), "y2": end("end"), **told()}
    look = {"fill": FILLS["down"].paint, "stroke": INK, "strokeWidth": 1.0, "clip": True}
    return [layer(frame.sheet.data.named(rows, "failures"), "rect", look, area)]


def _failure_name(one: DrawnFailure) -> str:
    said = f"failure at {one.station}: {one.repair_s:.3g} s repair"
    if one.is_exact:
        return f"{said}, {_span(one.start_s, one.end_s)}"
    return f"{said} within the work from {_span(one.start_s, one.end_s)}; the log does not keep when in it"


def _jams(frame: _Frame) -> list[Spec]:
    """Each jam as one area under the threads; those of empty carriers paler and without an outline."""
    rows = [
        {
            "name": _jam_name(jam),
            "number": number,
            "fill": BAND if jam.is_empty else LIGHT,
            "line": BAND if jam.is_empty else QUIET,
            "x": [None if math.isnan(at_m) else frame.sheet.value(at_m) for at_m in jam.outline_m.tolist()],
            "t": [None if math.isnan(at_s) else frame.instant(at_s) for at_s in jam.outline_s.tolist()],
        }
        for number, jam in enumerate(frame.seen.jams)
    ]
    looks = {"fill": as_is("fill"), "stroke": as_is("line"), "detail": field("number", "nominal")}
    way = {"x": frame.sheet.x("x"), "y": frame.y("t"), **looks, **told()}
    look = {"strokeWidth": 1.0, "strokeJoin": "miter", "clip": True}
    return [_paths(frame.sheet.data.named(rows, "jams"), look, way)]


def _jam_name(jam: Jam) -> str:
    kind = "standing empty" if jam.is_empty else "standing"
    longer = "" if jam.is_over else " and longer"
    return (
        f"{kind}: {jam.carriers} carriers {jam.before}, up to {jam.longest_s:,.0f} s{longer}, "
        f"{_span(jam.start_s, jam.end_s)}"
    )


def _bold_label(frame: _Frame) -> list[Spec]:
    """The bold carrier's number over the plot, as near the top of its thread as it is not cut, with a line to it."""
    bold = [thread for thread in frame.seen.threads if thread.carrier == frame.seen.bold]
    if not bold:
        return []
    sheet, words, size = frame.sheet, f"carrier {bold[0].carrier}", frame.sheet.text.px
    axis_m, half_px = float(bold[0].axis_m[0]), text_width_px(words, 1.1 * size) / 2
    centre_px = min(max(sheet.to_px(axis_m), half_px), sheet.width_px - half_px)
    places = {"x": sheet.value(sheet.to_m(centre_px)), "place": sheet.value(axis_m)}
    data = sheet.data.named([{**places, "y": frame.top - 6.0, "foot": frame.top, "name": words}], "bold-carrier")
    look = {"fontSize": size, "fontWeight": "bold", "color": HUE, "baseline": "bottom", "align": "center", "clip": True}
    at = {"x": sheet.x("x"), "y": pixels("y"), "text": field("name", "nominal")}
    lead = {"x": sheet.x("x"), "x2": end("place"), "y": pixels("y"), "y2": end("foot")}
    return [
        layer(data, "rule", {"color": HUE, "strokeWidth": 1.2, "clip": True}, lead),
        layer(data, "text", look, at),
    ]


def _key(sheet: Sheet, seen: Seen) -> list[KeyEntry]:
    """What is drawn; a failure and the kinds of jam only where there are some."""
    way = ((2.0, 1.0), (2.0, 8.0), (26.0, 11.0), (26.0, 19.0))
    joined = any(work.count > 1 for work in seen.works)
    work = "work; works too close to be told apart are one stroke" if joined else "work on it"
    key = [
        stroke("one carrier", *way, color=QUIET, strokeWidth=THREAD_PX),
        stroke(work, (14, 2), (14, 18), color=INK, strokeWidth=WORK_PX),
        stroke("the carrier to follow", *way, color=HUE, strokeWidth=BOLD_PX),
    ]
    if seen.failures:
        exact = all(one.is_exact for one in seen.failures)
        key.append(fill_entry("down") if exact else fill_entry("down", "down: the work in which the repair lies"))
    least = f"longer than {seen.standing_s:.3g} s"
    if any(not jam.is_empty for jam in seen.jams):
        key.append(box(f"carriers stand behind one another, {least}", 14, 22, fill=LIGHT, stroke=QUIET))
    if any(jam.is_empty for jam in seen.jams):
        key.append(box(f"the same, all empty and free to stand: {least}", 14, 22, fill=BAND))
    return key
