"""The string line: place along the track, time down the page, one thread a carrier.

Failures and jams are areas in place and time: a failure as wide as its station's bar or a carrier, a jam as wide as the
carriers that stand in it. In a long window threads are drawn finer, so that those of one carrier's next round do not
close up with this round's.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.pictures.grammar import Spec, as_is, end, field, layer, told
from linewright.pictures.key import Glyph, KeyEntry, box, box_glyph, fill_entry, stroke
from linewright.pictures.style import BAND, FILLS, HUE, INK, LIGHT, PAPER, QUIET
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.string_frame import Frame
from linewright.pictures.track.string_labels import is_large, name_layers, names_of, words_in_plot
from linewright.pictures.track.string_words import failure_name, heading_words, jam_name, work_name
from linewright.pictures.track.thinned import kept_points
from linewright.pictures.track.threads import Seen, Thread
from linewright.pictures.track.time_scale import is_compressed, plot_height_px, seconds
from linewright.pictures.track.works import DrawnFailure
from linewright.quantities import KEEP

Floats = NDArray[np.float64]

TITLE: Final = "String line"
THIN_PX: Final = 0.3  # with the curves of moves and the rounding of numbers less than half a pixel together
FINE_PX: Final = 0.1
CROWDED_PX: Final = 0.8  # where threads lie so close that no eye tells them apart: less than a pixel together
GRAIN_PX: Final = 0.1  # numbers are rounded to a step that is no larger
THREAD_PX: Final = 0.9
BOLD_PX: Final = 2.2
CASED_PX: Final = 4.6
CORE_PX: Final = 2.2
"""The thread to follow has two edges and a white core, so that it is not taken for work; where rounds are too close for
that it is one stroke."""
BOLD_SHARE: Final = 0.15
SHARE: Final = 0.18
"""No more of the way down from one round of a carrier to its next is the bold carrier's stroke, and those of all others
together."""
WORK_PX: Final = 3.4
MOST_AT_ONCE_PX: Final = 900.0  # of a higher plot nobody sees the top and the foot at once
LEAST_FAILURE_PX: Final = 3.0
SHORT_SIGN: Final[Spec] = {"shape": "M2,0L9,-4V4Z", "size": 4, "fill": INK, "strokeWidth": 0, "opacity": 1}
"""Points from the right at a failure that is too short for words; a path's own size is a size of 4."""


def string_line(sheet: Sheet, seen: Seen | None) -> Row:
    """The string line as one row."""
    if seen is None:
        return sheet.missing("string-line", TITLE, "no run was simulated")
    heading, top = sheet.heading(TITLE, heading_words(sheet, seen))
    followed = next((thread for thread in seen.threads if thread.carrier == seen.bold), None)
    over = names_of(sheet, followed, 0)
    top += over.height_px
    frame = Frame(sheet, seen, top, top + plot_height_px(seen.window.end_s - seen.window.start_s))
    half_m = max(sheet.bar_m(), sheet.layout.body_m) / 2
    layers = [
        *heading,
        *name_layers(sheet, over, top, above=True),
        *sheet.ground(top, frame.foot),
        *_jams(frame),
        *_failures(frame, half_m),
        *_threads(frame),
        *_works(frame),
        *words_in_plot(frame, half_m),
    ]
    height = frame.foot
    if frame.foot - frame.top > MOST_AT_ONCE_PX:
        under = names_of(sheet, followed, -1)
        layers += name_layers(sheet, under, frame.foot, above=False)
        height += under.height_px
    return sheet.row("string-line", layers, height, _key(frame))


def _stroke_px(frame: Frame) -> tuple[float, float]:
    """Widths of a thread and of the one to follow: finer where rounds follow one another closely. [px]"""
    threads, round_px = frame.seen.threads, frame.round_px
    cased = BOLD_SHARE * round_px >= CASED_PX
    bold_px = CASED_PX if cased else min(BOLD_PX, BOLD_SHARE * round_px)
    return min(THREAD_PX, SHARE * round_px / max(len(threads), 1)), bold_px


def _threads(frame: Frame) -> list[Spec]:
    """The threads, the one to follow last so that it lies on top: two edges with white between."""
    layers = []
    thread_px, bold_px = _stroke_px(frame)
    for is_bold, width_px in ((False, thread_px), (True, bold_px)):
        some = [thread for thread in frame.seen.threads if (thread.carrier == frame.seen.bold) == is_bold]
        look: Spec = {"color": HUE if is_bold else QUIET, "strokeWidth": round(width_px, 3)}
        rows = [{"carrier": f"carrier {thread.carrier}", **_thinned(frame, thread)} for thread in some]
        data = frame.sheet.data.named(rows, "bold-thread" if is_bold else "threads")
        way = {"x": frame.sheet.x("x"), "y": frame.y("t"), "detail": field("carrier", "nominal")}
        look |= {"strokeJoin": "round", "clip": True}
        layers.append(_paths(data, look, {**way, **told("carrier")}))
        if width_px == CASED_PX:
            layers.append(_paths(data, {**look, "color": PAPER, "strokeWidth": CORE_PX}, way))
    return layers


def _paths(data: str, look: Spec, channels: Spec) -> Spec:
    """A line for each row, whose fields x and t hold all its places and instants, in their order."""
    drawn = layer(data, "line", {**look, "order": False}, channels)
    return {**drawn, "transform": [{"flatten": ["x", "t"]}]}


def _thinned(frame: Frame, thread: Thread) -> dict[str, list[float | None]]:
    """The points of a thread that can be seen, rounded to what can be seen."""
    most_px = CROWDED_PX if frame.is_crowded else THIN_PX if is_compressed(frame.span_s) else FINE_PX
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


def _works(frame: Frame) -> list[Spec]:
    """Work as a thick stroke on the rest."""
    rows = [
        {
            "x": frame.sheet.value(work.axis_m),
            "t": frame.instant(work.start_s),
            "end": frame.instant(work.end_s),
            "name": work_name(work, frame.span_s),
        }
        for work in frame.seen.works
    ]
    down = {"x": frame.sheet.x("x"), "y": frame.y("t"), "y2": end("end"), **told()}
    look = {"color": INK, "strokeWidth": WORK_PX, "clip": True}
    return [layer(frame.sheet.data.named(rows, "works"), "rule", look, down)]


def _failures(frame: Frame, half_m: float) -> list[Spec]:
    """Each failure as an area over the stretch of its station, from the begin to the end of the repair; a sign beside
    those that are too short for words."""
    rows = []
    for one in frame.seen.failures:
        start_s, end_s = _seen_of(frame, one)
        rows.append(
            {
                "x": frame.sheet.value(one.axis_m - half_m),
                "x2": frame.sheet.value(one.axis_m + half_m),
                "t": start_s,
                "end": end_s,
                "middle": round((start_s + end_s) / 2, 4),
                "name": failure_name(one, frame.span_s),
                "short": not is_large(frame, one),
            }
        )
    area = {"x": frame.sheet.x("x"), "x2": end("x2"), "y": frame.y("t"), "y2": end("end"), **told()}
    look = {"fill": FILLS["down"].paint, "stroke": INK, "strokeWidth": 1.0, "clip": True}
    short = frame.sheet.data.named([row for row in rows if row["short"]], "short-failures")
    beside = {"x": frame.sheet.x("x2"), "y": frame.y("middle")}
    return [
        layer(frame.sheet.data.named(rows, "failures"), "rect", look, area),
        layer(short, "point", {**SHORT_SIGN, "clip": True}, beside),
    ]


def _seen_of(frame: Frame, one: DrawnFailure) -> tuple[float, float]:
    """From when to when a failure is drawn: its extent cut to the window, and no less than can be seen. [s]"""
    start_s, end_s = frame.instant(one.start_s), frame.instant(one.end_s)
    least_s = LEAST_FAILURE_PX * frame.s_a_px
    if end_s - start_s >= least_s:
        return start_s, end_s
    middle_s = (start_s + end_s) / 2
    first_s = min(max(middle_s - least_s / 2, frame.seen.window.start_s), frame.seen.window.end_s - least_s)
    return frame.instant(first_s), frame.instant(first_s + least_s)


def _jams(frame: Frame) -> list[Spec]:
    """Each jam as one area under the threads; those of empty carriers paler and without an outline."""
    rows = [
        {
            "name": jam_name(jam, frame.span_s),
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


def _key(frame: Frame) -> list[KeyEntry]:
    """What is drawn; a failure and the kinds of jam only where there are some."""
    seen = frame.seen
    way = ((2.0, 1.0), (2.0, 8.0), (26.0, 11.0), (26.0, 19.0))
    joined = any(work.count > 1 for work in seen.works)
    work = "work; works too close to be told apart are one stroke" if joined else "work on it"
    bold_px = _stroke_px(frame)[1]
    followed = stroke("the carrier to follow", *way, color=HUE, strokeWidth=max(bold_px, 1.6))
    if bold_px == CASED_PX:
        core = Glyph("path", way, (("color", PAPER), ("strokeWidth", CORE_PX)))
        followed = KeyEntry(followed.words, (*followed.glyphs, core))
    key = [
        stroke("one carrier", *way, color=QUIET, strokeWidth=THREAD_PX),
        stroke(work, (14, 2), (14, 18), color=INK, strokeWidth=WORK_PX),
        followed,
    ]
    if seen.failures:
        exact = all(one.is_exact for one in seen.failures)
        key.append(fill_entry("down") if exact else fill_entry("down", "down: the work in which the repair lies"))
    if any(not is_large(frame, one) for one in seen.failures):
        area = box_glyph(LEAST_FAILURE_PX, 14, fill=FILLS["down"].paint, stroke=INK)
        sign = Glyph("point", ((21.0, 10.0),), tuple(SHORT_SIGN.items()))
        key.append(KeyEntry(f"a short one, drawn at least {LEAST_FAILURE_PX:g}{KEEP}px high", (area, sign)))
    least = f"longer than {seconds(seen.standing_s)}, {seen.standing_why}"
    if any(not jam.is_empty for jam in seen.jams):
        key.append(box(f"carriers stand behind one another, {least}", 14, 22, fill=LIGHT, stroke=QUIET))
    if any(jam.is_empty for jam in seen.jams):
        key.append(box(f"the same, all empty and free to stand: {least}", 14, 22, fill=BAND))
    return key
