"""The currents of the feeders in the worst stretch of a run, and the cases that a run never shows, as bars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.checks.power.trace import LONGEST_S
from linewright.findings import Finding
from linewright.line.electrics import Feeder
from linewright.pictures.charts.comb import kept, kept_lines
from linewright.pictures.grammar import Datasets, Spec, end, field, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, box, point, stroke
from linewright.pictures.labels import spread, text_width_px
from linewright.pictures.nothing import NothingToDraw, why_no_run
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import GREY, HUE, INK, LIGHT, MIDDLE, PAPER, QUIET, Text, round_step
from linewright.pictures.wording import invented

if TYPE_CHECKING:
    from linewright.checks.power import PowerResult
    from linewright.evaluation import Evaluation

WIDTH_PX: Final = 980.0
PLOT_HIGH: Final = 12.0  # of the plot of a trace, in sizes of the small letters
MOST_ABOVE: Final = 2.5  # a limit more than so many times above all traces is told by an arrow, not drawn to scale
MOST_SHARE: Final = 1.25  # how far the bars' scale goes, in limits
LEAD_PX: Final = 12.0
TOO_MUCH: Final = "cable and links cannot carry the power that is drawn"


def amount(value: float, unit: str) -> str:
    """A number with its unit, to three digits, never as a power of ten.

    Examples
    --------
    >>> amount(1290.4, "W"), amount(50.0, "V"), amount(0.9812, "A")
    ('1290 W', '50 V', '0.981 A')
    """
    return f"{float(f'{value:.3g}'):.10g} {unit}"


@dataclass(frozen=True, eq=False)
class _Sheet:
    """What all parts of the picture read."""

    power: PowerResult
    feeders: dict[str, Feeder]
    text: Text
    data: Datasets
    searched_s: float

    def row(self, code: str, feeder: str) -> Finding | None:
        """The finding of a feeder; None where there is none."""
        rows = (row for row in self.power.findings if row.code == code)
        return next((row for row in rows if row.where.startswith(f"feeder {feeder}: ")), None)

    def words(self, rows: Sequence[dict[str, Any]], **look: Any) -> Spec:
        """Text in pixels: fields x, y, words, and name where a pointer is told something."""
        at = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
        drawn = {"align": "left", "baseline": "middle", "fontSize": self.text.small_px, "color": INK, **look}
        return layer(self.data.named(rows), "text", drawn, {**at, **(told() if rows and "name" in rows[0] else {})})

    def boxes(self, rows: Sequence[dict[str, Any]], **look: Any) -> Spec:
        """Rectangles in pixels: fields x, x2, y, y2, and name where a pointer is told something."""
        at = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
        return layer(self.data.named(rows), "rect", look, {**at, **(told() if rows and "name" in rows[0] else {})})

    def rules(self, rows: Sequence[dict[str, Any]], **look: Any) -> Spec:
        """Straight strokes in pixels: fields x, x2, y, y2."""
        at = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
        return layer(self.data.named(rows), "rule", look, at)


def current_trace(evaluation: Evaluation, text: Text | None = None) -> Picture:
    """The currents of all feeders about the worst 10 ms of the run; under them all carriers starting and braking.

    Parameters
    ----------
    evaluation : without a run only the cases that need none are drawn
    text : sizes of letters

    Raises
    ------
    NothingToDraw   No feeder is stated, or the sheet lacks a figure without which no current is known.
    """
    limits, line = evaluation.limits, evaluation.line
    if not line.feeders:
        raise NothingToDraw("no feeders are stated: state the key feeders in the line file")
    if limits is None:
        raise NothingToDraw("no carrier can be moved, so that no current is known: see the row on thrust first")
    if not len(limits.power.feeders):
        rows = [row for row in limits.power.findings if row.code in ("feeders", "feeder-ends")]
        why = next((row for row in rows if row.verdict == "not checked"), None)
        raise NothingToDraw("no current is known" if why is None else f"no current is known: {why.where}; {why.remedy}")
    feeders = {one.name: one for one in line.feeders}
    text = Text() if text is None else text
    sheet = _Sheet(limits.power, feeders, text, Datasets(), searched_s(evaluation))
    parts, key = [], []
    if len(limits.power.trace):
        parts += _panels(sheet)
        key += _trace_key()
    groups = [(row, _cases_of(sheet, row, evaluation.duty is not None)) for row in limits.power.feeders.rows()]
    parts.append(_cases(sheet, groups, evaluation.duty is not None))
    key += _case_key([case for _, cases in groups for case in cases])
    title = f"{line.name}: current of the feeders"
    return picture_of(
        "current", title, [kept(words) for words in _said(evaluation)], parts, key, sheet.data, sheet.text, WIDTH_PX
    )


def searched_s(evaluation: Evaluation) -> float:
    """How much of the run the checks of the power look at, from the end of the warm-up on; 0 without a run. [s]"""
    return 0.0 if evaluation.duty is None else min(evaluation.duty.span_s, LONGEST_S)


def _searched(evaluation: Evaluation) -> list[str]:
    """Where in the run the peak was looked for, on the time that the traces show."""
    if evaluation.duty is None:
        return []
    from_s, long_s = evaluation.duty.from_s, searched_s(evaluation)
    said = (
        f"Peaks and effective currents are those of {from_s:.0f} s to {from_s + long_s:.0f} s of run 1: of the first "
        f"{long_s:.0f} s after its warm-up of {from_s:.0f} s, which check calls the first {long_s:.0f} s; what comes "
        "later is not looked at."
    )
    return [said]


def _said(evaluation: Evaluation) -> list[str]:
    run, limits = evaluation.run, evaluation.limits
    if run is None or limits is None or not len(limits.power.trace):
        said = [f"The trace of the currents needs a run: {why_no_run(evaluation)}. What stands here needs none."]
    else:
        times = limits.power.trace["time_s"]
        stretch = f"{times.max() - times.min() + 0.01:.3g} s about the worst 10 ms of all feeders"
        runs = f"run 1 of {run.runs}, {run.hours:g} h each, seed {run.seed}"
        said = [f"Simulated, not measured: {runs}; {stretch}, in means over 10 ms. All panels have one scale."]
        said += _searched(evaluation)
    drawn = ("feeder-peak", "all-restart", "far-end-voltage", "braking-voltage")
    failing = [row.code for row in evaluation.findings if row.subject == "power" and row.verdict == "fails"]
    left = [code for code in dict.fromkeys(failing) if code not in drawn]
    said += [f"FAILS too, and is not drawn here: {', '.join(left)}; linewright check tells it."] if left else []
    said += invented(evaluation.line)
    return said


# ---- the traces ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Trace:
    """One feeder in the stretch: its row of the table, times and currents, and its levels with their names."""

    row: dict[str, Any]
    times_s: list[float]
    currents_A: list[float]
    levels: tuple[tuple[float, str, str], ...]

    @property
    def name(self) -> str:
        """Of the feeder."""
        return str(self.row["feeder"])

    @property
    def most(self) -> tuple[float, float]:
        """The greatest current of the stretch, and when. [A], [s]"""
        most_A = max(self.currents_A)
        return most_A, self.times_s[self.currents_A.index(most_A)]


@dataclass(frozen=True)
class _Plot:
    """Where a trace is drawn. [px], [A], [s]"""

    left: float
    right: float
    top: float
    foot: float
    most_A: float
    from_s: float
    to_s: float

    def x(self, time_s: float) -> float:
        """Of an instant. [px]"""
        return round(self.left + (time_s - self.from_s) / (self.to_s - self.from_s) * (self.right - self.left), 2)

    def y(self, current_A: float) -> float:
        """Of a current; one beyond the scale lies on its upper edge. [px]"""
        share = min(current_A / self.most_A, 1.0)
        return round(self.foot - share * (self.foot - self.top), 2)


def _traces(sheet: _Sheet) -> list[_Trace]:
    """All feeders with a trace, in the order of the line file."""
    trace, found = sheet.power.trace, []
    for row in sheet.power.feeders.rows():
        of = trace["feeder"] == row["feeder"]
        if not of.any():
            continue
        feeder = sheet.feeders[row["feeder"]]
        levels = [(row["supplies_A"], "supply" if feeder.supplies == 1 else "supplies", "limit")]
        if feeder.fuse_A is not None:
            levels.append((feeder.fuse_A, "fuse", "limit"))
        if feeder.breaker_A is not None:
            levels.append((feeder.breaker_A, "breaker", "limit"))
        if math.isfinite(row["rms_A"]):
            levels.append((row["rms_A"], "effective", "mean"))
        found.append(_Trace(row, trace["time_s"][of].tolist(), trace["current_A"][of].tolist(), tuple(levels)))
    return found


def _most_A(traces: Sequence[_Trace]) -> float:
    """The end of the scale: above every trace, and above each limit that is not too far off."""
    most_A = max((one for trace in traces for one in trace.currents_A if math.isfinite(one)), default=0.0) or 1.0
    near = [level_A for trace in traces for level_A, _, _ in trace.levels if level_A <= MOST_ABOVE * most_A]
    return 1.04 * max([most_A, *near])


def _panels(sheet: _Sheet) -> list[Spec]:
    traces, text = _traces(sheet), sheet.text
    most_A, size = _most_A(traces), text.small_px
    step_A = round_step(most_A / 4.0)
    ticks = [step_A * number for number in range(math.floor(most_A / step_A + 1e-9) + 1)]
    left = max(text_width_px(amount(tick, "A"), size) for tick in ticks) + 8.0
    words = [_level_words(level, most_A) for trace in traces for level in trace.levels]
    right = WIDTH_PX - LEAD_PX - 4.0 - max(text_width_px(one, size) for one in words)
    panels: list[Spec] = []
    for number, trace in enumerate(traces):
        lines = kept_lines(_panel_words(trace), WIDTH_PX, 1.1 * text.px)  # bold letters are wider
        top = len(lines) * text.line_px + 2.0 * size
        foot = top + PLOT_HIGH * size
        plot = _Plot(left, right, top, foot, most_A, trace.times_s[0], trace.times_s[-1] + 0.01)
        is_last = number == len(traces) - 1
        heading = [{"x": 0.0, "y": (n + 0.5) * text.line_px, "words": one} for n, one in enumerate(lines)]
        layers = [
            sheet.words(heading, fontSize=text.px, fontWeight="bold"),
            *_axes(sheet, plot, ticks, is_last),
            *_levels(sheet, plot, trace),
            *_curve(sheet, plot, trace),
            *_peak(sheet, plot, trace),
        ]
        height = foot + 2.0 * size + (text.line_px if is_last else 0.0)
        panels.append(layered(layers, WIDTH_PX, height, f"trace-{len(panels) + 1}"))
    return panels


def _panel_words(trace: _Trace) -> str:
    most_A, _ = trace.most
    peak_A, words = trace.row["peak_A"], f"Feeder {trace.name}, lane {trace.row['lane']}"
    if not math.isfinite(peak_A):
        return f"{words}: fails, {TOO_MUCH}"
    if most_A == peak_A:
        return f"{words}: the peak of all that was searched, {amount(most_A, 'A')}, is in this stretch"
    peak = f"the peak of all that was searched, {amount(peak_A, 'A')}, comes at another time"
    return f"{words}: at most {amount(most_A, 'A')} here; {peak}"


def _level_words(level: tuple[float, str, str], most_A: float) -> str:
    level_A, name, _ = level
    return f"{'↑ ' if level_A > most_A else ''}{name} {amount(level_A, 'A')}"


def _axes(sheet: _Sheet, plot: _Plot, ticks_A: Sequence[float], is_last: bool) -> list[Spec]:
    size = sheet.text.small_px
    grid = [{"x": plot.left, "x2": plot.right, "y": plot.y(tick), "y2": plot.y(tick)} for tick in ticks_A]
    names = [{"x": plot.left - 5.0, "y": plot.y(tick), "words": amount(tick, "A")} for tick in ticks_A]
    step_s = round_step((plot.to_s - plot.from_s) / 8.0)
    first = math.ceil(plot.from_s / step_s - 1e-9)
    times = [step_s * number for number in range(first, math.floor(plot.to_s / step_s + 1e-9) + 1)]
    marks = [{"x": plot.x(time_s), "x2": plot.x(time_s), "y": plot.foot, "y2": plot.foot + 4.0} for time_s in times]
    seconds = [
        {"x": plot.x(time_s), "y": plot.foot + 5.0 + 0.6 * size, "words": f"{round(time_s, 6):.10g}"}
        for time_s in times
    ]
    layers = [
        sheet.rules(grid, color=GREY, strokeWidth=0.6),
        sheet.words(names, align="right"),
        sheet.rules(marks, color=GREY, strokeWidth=1),
        sheet.words(seconds, align="center"),
    ]
    if is_last:
        title = {"x": (plot.left + plot.right) / 2, "y": plot.foot + 2.0 * size + 0.4 * sheet.text.line_px}
        layers.append(sheet.words([{**title, "words": "time of run 1 (s)"}], align="center", fontSize=sheet.text.px))
    return layers


def _levels(sheet: _Sheet, plot: _Plot, trace: _Trace) -> list[Spec]:
    """Level lines, each named at the right; a limit above the scale is named there with an arrow."""
    size = sheet.text.small_px
    room = [1.3 * size] * len(trace.levels)
    top = plot.top - size
    places = spread([plot.y(one[0]) - top for one in trace.levels], room, plot.foot + size - top)
    inside = [one for one in trace.levels if one[0] <= plot.most_A]
    layers = []
    for kind, look in (("limit", {"color": INK, "strokeWidth": 1.2}), ("mean", {"color": QUIET, "strokeDash": [5, 3]})):
        rows = [
            {"x": plot.left, "x2": plot.right, "y": plot.y(level_A), "y2": plot.y(level_A)}
            for level_A, _, this in inside
            if this == kind
        ]
        if rows:
            layers.append(sheet.rules(rows, **look))
    leads = [
        {"x": plot.right, "x2": plot.right + LEAD_PX, "y": plot.y(level[0]), "y2": top + y_px}
        for level, y_px in zip(trace.levels, places, strict=True)
        if level in inside
    ]
    names = [
        {
            "x": plot.right + LEAD_PX + 3.0,
            "y": top + y_px,
            "words": _level_words(level, plot.most_A),
            "name": f"feeder {trace.name}: {level[1]} {amount(level[0], 'A')}",
        }
        for level, y_px in zip(trace.levels, places, strict=True)
    ]
    return [*layers, *([sheet.rules(leads, color=GREY, strokeWidth=0.8)] if leads else []), sheet.words(names)]


def _curve(sheet: _Sheet, plot: _Plot, trace: _Trace) -> list[Spec]:
    """The current as steps; of bins that follow one another alike only the first is a point."""
    rows: list[dict[str, Any]] = []
    most_A, when_s = trace.most
    most = f"at most {amount(most_A, 'A')}" if math.isfinite(most_A) else TOO_MUCH
    stretch = f"{trace.times_s[0]:.6g} s to {plot.to_s:.6g} s of run 1"
    name = f"feeder {trace.name}: current from its supplies, {stretch}; {most} at {when_s:.6g} s"
    for time_s, current_A in zip(trace.times_s, trace.currents_A, strict=True):
        y = plot.y(current_A)
        if not rows or rows[-1]["y"] != y:
            rows.append({"n": len(rows), "x": plot.x(time_s), "y": y, "name": name})
    rows.append({"n": len(rows), "x": plot.right, "y": rows[-1]["y"], "name": name})
    way = {"x": pixels("x"), "y": pixels("y"), "order": field("n"), "detail": field("name", "nominal"), **told()}
    look = {"color": HUE, "strokeWidth": 1.3, "interpolate": "step-after", "strokeJoin": "miter"}
    return [layer(sheet.data.named(rows), "line", look, way)]


def _peak(sheet: _Sheet, plot: _Plot, trace: _Trace) -> list[Spec]:
    """The greatest current of the stretch, named at its instant, on paper so that no line runs through the words."""
    most_A, when_s = trace.most
    size = sheet.text.small_px
    what = "peak" if most_A == trace.row["peak_A"] else "greatest here"
    most = amount(most_A, "A") if math.isfinite(most_A) else "beyond what the cable carries"
    words = f"{what} {most} at {when_s:.6g} s"
    wide, x, y = text_width_px(words, size), plot.x(when_s + 0.005), plot.y(most_A)
    is_left = x + wide + 8.0 <= plot.right
    ends = (x + 5.0, x + 9.0 + wide) if is_left else (x - 9.0 - wide, x - 5.0)
    middle = y - 0.8 * size
    if ends[0] < plot.left:  # no room on either side: over the point
        ends, middle = (plot.left + 2.0, plot.left + 6.0 + wide), y - 1.4 * size
    name = f"feeder {trace.name}: {words}, of {amount(trace.row['supplies_A'], 'A')} of its supplies"
    behind = {"x": ends[0], "x2": ends[1], "y": middle - 0.65 * size, "y2": middle + 0.65 * size}
    dot = [{"x": x, "y": y, "name": name}]
    look = {
        "shape": "circle",
        "size": 34 * sheet.text.size,
        "fill": PAPER,
        "stroke": INK,
        "strokeWidth": 1.6,
        "opacity": 1,
    }
    return [
        sheet.boxes([behind], color=PAPER, opacity=0.9),
        layer(sheet.data.named(dot), "point", look, {"x": pixels("x"), "y": pixels("y"), **told()}),
        sheet.words([{"x": ends[0] + 2.0, "y": middle, "words": words}]),
    ]


def _trace_key() -> list[KeyEntry]:
    steps = ((0.0, 15.0), (6.0, 15.0), (6.0, 5.0), (14.0, 5.0), (14.0, 12.0), (28.0, 12.0))
    return [
        stroke("current from the supplies", *steps, color=HUE, strokeWidth=1.3),
        point("its greatest here", shape="circle", size=34, fill=PAPER, stroke=INK, strokeWidth=1.6),
        stroke("effective current of what was searched", (0, 10), (28, 10), color=QUIET, strokeDash=[5, 3]),
        stroke("limit", (0, 10), (28, 10), color=INK, strokeWidth=1.2),
    ]


# ---- the cases that no run shows -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Case:
    """One bar.

    Parameters
    ----------
    words : what it says, with number and limit
    value, limit : in one unit
    verdict : ``holds``, ``tight`` or ``fails``; empty where it is for information
    base : so much of the value is there anyway, drawn lighter
    """

    words: str
    value: float
    limit: float
    verdict: str
    base: float = 0.0

    @property
    def is_cut(self) -> bool:
        """Whether its bar goes on beyond the scale."""
        return self.value / self.limit > MOST_SHARE


def _cases_of(sheet: _Sheet, row: dict[str, Any], with_run: bool) -> list[_Case]:
    name, feeder = row["feeder"], sheet.feeders[row["feeder"]]
    electrics = sheet.power.electrics
    assert electrics is not None  # else the table of feeders is empty
    several = "1 carrier" if row["carriers"] == 1 else f"all {row['carriers']} carriers"
    supply = "its supply" if feeder.supplies == 1 else f"its {feeder.supplies} supplies"
    start, brake = ("starts", "brakes") if row["carriers"] == 1 else ("restart at once", "brake at once")
    gives = "gives" if row["carriers"] == 1 else "give"
    cases = []
    of = f"of {amount(row['supplies_A'], 'A')} of {supply}"
    if with_run:
        most = f"{amount(row['peak_A'], 'A')} {of}" if math.isfinite(row["peak_A"]) else TOO_MUCH
        words = f"worst 10 ms of the {sheet.searched_s:.0f} s searched: {most}"
        cases.append(_Case(words, row["peak_A"], row["supplies_A"], _verdict(sheet, "feeder-peak", name)))
    words = f"{several} {start}: {amount(row['restart_A'], 'A')} {of}"
    if not math.isfinite(row["restart_A"]):
        words = f"{several} {start}: {TOO_MUCH}"
    cases.append(_Case(words, row["restart_A"], row["supplies_A"], _verdict(sheet, "all-restart", name)))
    cases += _lost_case(sheet, row)
    taken = f", {amount(row['resistor_J'], 'J')} of it into the braking resistor" if row["resistor_J"] > 0.0 else ""
    trip = f"of {amount(electrics.trip_V, 'V')} trip"
    given = f"{gives} back {amount(row['braking_J'], 'J')}{taken}"
    words = f"{several} {brake} and {given}: {amount(row['braking_V'], 'V')} {trip}"
    verdict = _verdict(sheet, "braking-voltage", name)
    cases.append(_Case(words, row["braking_V"], electrics.trip_V, verdict, electrics.high_V))
    if feeder.braking_resistor is not None:
        words = f"for information, the same were its braking resistor gone: {amount(row['unaided_V'], 'V')} {trip}"
        words += ": would trip" if row["unaided_V"] > electrics.trip_V else ": would not trip"
        cases.append(_Case(words, row["unaided_V"], electrics.trip_V, "", electrics.high_V))
    return cases


def _verdict(sheet: _Sheet, code: str, feeder: str) -> str:
    row = sheet.row(code, feeder)
    return "" if row is None else row.verdict


def _lost_case(sheet: _Sheet, row: dict[str, Any]) -> list[_Case]:
    """The voltage lost on the way to the far end, in the feeder's worst case; none where cable or links are unknown."""
    found = sheet.row("far-end-voltage", row["feeder"])
    sections = [one for one in sheet.power.sections.rows() if one["feeder"] == row["feeder"]]
    electrics = sheet.power.electrics
    if found is None or found.limit is None or electrics is None or not sections[-1]["case"]:
        return []
    case = sections[-1]["case"]
    if found.value is None:
        return [_Case(f"far end, {case}: the power does not get there at all", math.inf, 1.0, found.verdict)]
    words = (
        f"far end, {case}: {amount(sections[-1]['voltage_V'], 'V')}, lowest {amount(electrics.lowest_V, 'V')}; lost "
        f"{amount(found.value, 'V')} of {amount(found.limit, 'V')}"
    )
    return [_Case(words, found.value, found.limit, found.verdict)]


def _cases(sheet: _Sheet, groups: Sequence[tuple[dict[str, Any], list[_Case]]], with_run: bool) -> Spec:
    """Under each feeder its cases: words, verdict, and a bar against its limit, all limits on one upright line."""
    text = sheet.text
    size, gap = text.small_px, 0.5 * text.small_px
    verdicts = {case.verdict for _, cases in groups for case in cases}
    chip_px = max(text_width_px(one, size) for one in verdicts) + 10.0
    words_px = 0.48 * WIDTH_PX
    left = words_px + chip_px + 2.0 * gap
    y = 1.4 * text.line_px
    layers: list[Spec] = []
    top = y
    for row, cases in groups:
        heading = {"x": 0.0, "y": y + 0.5 * text.line_px, "words": f"Feeder {row['feeder']}, lane {row['lane']}"}
        layers.append(sheet.words([heading], fontSize=text.px, fontWeight="bold"))
        y += text.line_px
        for case in cases:
            lines = kept_lines(case.words, words_px - gap, size)
            height = len(lines) * 1.4 * size + gap
            layers += _case(sheet, row["feeder"], case, lines, (y, height, words_px, left))
            y += height
        y += gap
    at_px = left + (WIDTH_PX - left) / MOST_SHARE
    limit = {"x": at_px, "x2": at_px, "y": top, "y2": y - gap}
    bold = [{"x": 0.0, "y": 0.5 * text.line_px, "words": _case_heading(with_run)}]
    named = [{"x": at_px, "y": top - 0.6 * size, "words": "limit"}]
    return layered(
        [
            sheet.words(bold, fontSize=text.px, fontWeight="bold"),
            *layers,
            sheet.rules([limit], color=INK, strokeWidth=1.2),
            sheet.words(named, align="center"),
        ],
        WIDTH_PX,
        y,
        "cases",
    )


def _case_heading(with_run: bool) -> str:
    return "The worst of what was searched, and what no run shows" if with_run else "What needs no run"


def _case(
    sheet: _Sheet, feeder: str, case: _Case, lines: Sequence[str], place: tuple[float, float, float, float]
) -> list[Spec]:
    """One row of the bars. `place`: its top, its height, where the verdict stands, where the bar begins. [px]"""
    top, height, chip, left = place
    size = sheet.text.small_px
    middle = top + height / 2
    first = middle - 0.7 * size * (len(lines) - 1)
    name = f"feeder {feeder}: {case.words}{f': {case.verdict}' if case.verdict else ''}"
    rows = [{"x": 0.0, "y": first + number * 1.4 * size, "words": one} for number, one in enumerate(lines)]
    strong = case.verdict == "fails"
    layers = [sheet.words(rows)]
    if strong:
        ends = {"x": chip, "x2": chip + text_width_px(case.verdict, size) + 8.0}
        layers.append(sheet.boxes([{**ends, "y": middle - 0.7 * size, "y2": middle + 0.7 * size}], color=INK))
    if case.verdict:
        chips = [{"x": chip + 4.0, "y": middle, "words": case.verdict}]
        layers.append(sheet.words(chips, color=PAPER if strong else INK))
    a_limit = (WIDTH_PX - left) / MOST_SHARE
    # What is cut off ends in an arrow head; its number stands in the words at the left.
    reach = WIDTH_PX - 0.9 * size if case.is_cut else left + case.value / case.limit * a_limit
    low, foot = middle - 0.45 * size, middle + 0.45 * size
    bar = {"x": left, "x2": reach, "y": low, "y2": foot, "name": name}
    layers.append(sheet.boxes([bar], fill=MIDDLE, stroke=HUE, strokeWidth=0.8))
    if case.base > 0.0:
        base = {"x": left, "x2": left + case.base / case.limit * a_limit, "y": low, "y2": foot}
        layers.append(sheet.boxes([base], fill=LIGHT, stroke=HUE, strokeWidth=0.8))
    if case.is_cut:
        head = [
            {"n": number, "x": x, "y": y}
            for number, (x, y) in enumerate(((reach, low - 2.0), (WIDTH_PX - 1.0, middle), (reach, foot + 2.0)))
        ]
        look = {"fill": INK, "filled": True, "stroke": INK, "strokeWidth": 1}
        way = {"x": pixels("x"), "y": pixels("y"), "order": field("n")}
        layers.append(layer(sheet.data.named(head), "line", look, way))
    return layers


def _case_key(cases: Sequence[_Case]) -> list[KeyEntry]:
    head = ((6.0, 5.0), (24.0, 10.0), (6.0, 15.0))
    cut = [stroke("goes on beyond the scale", *head, fill=INK, filled=True, stroke=INK, strokeWidth=1)]
    return [
        box("value against its limit", fill=MIDDLE, stroke=HUE, strokeWidth=0.8),
        box("of it the supply's highest voltage, before any braking", fill=LIGHT, stroke=HUE, strokeWidth=0.8),
        *(cut if any(case.is_cut for case in cases) else []),
    ]
