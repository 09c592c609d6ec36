"""The rate of a line over its number of carriers, with its bounds, the takt and the counts that matter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.charts.comb import (
    LEAD_GAP_PX,
    Mark,
    Stretch,
    caution,
    comb,
    kept,
    kept_lines,
    named_bar,
    words_layer,
)
from linewright.pictures.grammar import Datasets, Spec, end, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, point, stroke
from linewright.pictures.labels import spread, text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import GREY, HUE, INK, PALE, PAPER, QUIET, Text, round_step
from linewright.quantities import KEEP

if TYPE_CHECKING:
    from linewright.planning.size import CountRow, Sizing

PLOT_PX: Final = 820.0
SLOT_PX: Final = 9.0  # least width of a count
HIGH_PX: Final = 300.0
CLOSE_PX: Final = 230.0
HEAD_ROOM: Final = 1.06
CLOSE_SHARE: Final = 0.12
"""Rates that lie within this share of the required rate, or of the greatest, are drawn once more in the close-up."""
SETTER_PX: Final = 20.0
NEAR_WORDS: Final = "the fewest surely within 0.5 % of the most"
PLATEAU_WORDS: Final = "Plateau: as good as the most, as far as these runs tell"


@dataclass(frozen=True)
class _Panel:
    """Where counts and rates lie in a view.

    Parameters
    ----------
    first, last : counts at its ends
    low_per_h, high_per_h : rates at its foot and at its top. [1/h]
    left, top, width, high : of the plot. [px]
    """

    first: int
    last: int
    low_per_h: float
    high_per_h: float
    left: float
    top: float
    width: float
    high: float

    @property
    def slot(self) -> float:
        return self.width / (self.last - self.first + 1)

    @property
    def foot(self) -> float:
        return self.top + self.high

    def x(self, carriers: float) -> float:
        return self.left + (carriers - self.first + 0.5) * self.slot

    def y(self, rate_per_h: float) -> float:
        share = (rate_per_h - self.low_per_h) / (self.high_per_h - self.low_per_h)
        return self.foot - share * self.high

    def holds(self, rate_per_h: float) -> bool:
        return self.low_per_h <= rate_per_h <= self.high_per_h


def rate_against_carriers(sizing: Sizing, text: Text | None = None) -> Picture:
    """Good parts an hour over the number of carriers: what was simulated, what no line can exceed, what is required.

    Parameters
    ----------
    sizing : of a line, as `linewright.planning.size.size_line` finds it
    text : sizes of letters

    Returns
    -------
    Picture   Named ``carriers``. One view from zero, which shows the shape; under it, on the same counts, a close-up of
              the rates near the takt and the greatest, which says that it does not begin at zero.

    Raises
    ------
    TypeError       It is no Sizing.
    NothingToDraw   No count was asked for.
    """
    from linewright.planning.size import Sizing as Sized

    if not isinstance(sizing, Sized):
        raise TypeError(f"a Sizing is due, not {type(sizing).__name__}: linewright.planning.size.size_line makes one")
    text = Text() if text is None else text
    if not sizing.counts:
        raise NothingToDraw("rate against carriers: no count was simulated; linewright size makes them")
    data = Datasets()
    first, last = sizing.counts[0].carriers, sizing.counts[-1].carriers
    left = 5.2 * text.px
    plot = max(PLOT_PX, SLOT_PX * (last - first + 1))
    marks = _marks(sizing)
    widest = max((text_width_px(mark[1], text.px) for mark in marks), default=0.0)
    plot = max(plot, widest + LEAD_GAP_PX * (len(marks) + 1) - left)
    right = max((text_width_px(words, text.px) for words, _ in _levels(sizing)), default=0.0) + 26.0
    width_px = left + plot + right
    top_per_h = HEAD_ROOM * _most(sizing)
    whole = _Panel(first, last, 0.0, top_per_h, left, 0.0, plot, HIGH_PX)
    parts = [_view(sizing, whole, marks, width_px, data, text)]
    close = _close_up(sizing, whole)
    if close is not None:
        parts.append(_view(sizing, close, (), width_px, data, text))
    title = f"{sizing.line.name}: good parts an hour over the number of carriers"
    said = [kept(words) for words in _said(sizing)]
    return picture_of("carriers", title, said, parts, _key(sizing), data, text, width_px)


def _most(sizing: Sizing) -> float:
    rates = [row.rate.high for row in sizing.counts if row.rate is not None]
    bounds = [row.upper_bound_per_h for row in sizing.counts if math.isfinite(row.upper_bound_per_h)]
    return max([*rates, *bounds, sizing.required_rate_per_h or 0.0, 1.0])


def _close_up(sizing: Sizing, whole: _Panel) -> _Panel | None:
    """A view of the rates near the required and the greatest one; None where there is nothing to see nearer."""
    rated = [row.rate for row in sizing.counts if row.rate is not None]
    if not rated:
        return None
    aims = [max(rate.mean for rate in rated)]
    if sizing.required_rate_per_h is not None:
        aims.append(sizing.required_rate_per_h)
    near = [rate for rate in rated if any(abs(rate.mean - aim) <= CLOSE_SHARE * aim for aim in aims)]
    low = min([*aims, *(rate.low for rate in near)])
    high = max([*aims, *(rate.high for rate in near)])
    high = max(high, *(min(row.upper_bound_per_h, high * (1.0 + CLOSE_SHARE)) for row in sizing.counts))
    edge = 0.08 * max(high - low, 0.01 * high)
    if low - edge < 0.35 * whole.high_per_h:
        return None
    return _Panel(whole.first, whole.last, low - edge, high + edge, whole.left, 0.0, whole.width, CLOSE_PX)


# ---- words -----------------------------------------------------------------------------------------------------------


def rate_words(rate_per_h: float) -> str:
    """A rate to the whole part, in groups of three; to a tenth under 100. [1/h]

    Examples
    --------
    >>> rate_words(1234.5).replace(chr(160), " "), rate_words(42.04)
    ('1 234', '42')
    """
    words = f"{rate_per_h:,.0f}" if abs(rate_per_h) >= 100.0 else f"{rate_per_h:.1f}".removesuffix(".0")
    return words.replace(",", KEEP)


def _said(sizing: Sizing) -> list[str]:
    choices, required = sizing.choices, sizing.required_rate_per_h
    said = []
    if choices.plateau is None:
        said.append(f"NOT CHECKED: how many carriers are enough is not known; {choices.reason}.")
    elif required is None:
        said.append("No takt to judge by: the line file states no demand.")
    elif choices.smallest_meeting_takt is not None:
        said.append(
            f"{choices.smallest_meeting_takt} carriers are the fewest of those looked at whose whole 95 % interval "
            f"lies at or above the required {rate_words(required)} an hour."
        )
    elif choices.all_fail:
        said.append(f"FAILS: no number of carriers looked at makes the required {rate_words(required)} an hour.")
    else:
        said.append(
            f"NOT DECIDED: no number of carriers looked at is shown to make the required {rate_words(required)} an "
            "hour; longer or more runs may decide it."
        )
    said += _rules(sizing)
    beyond = [words for carriers, words in _all_marks(sizing) if sizing.row(carriers) is None]
    if beyond:
        said.append(f"Not among the counts looked at: {'; '.join(beyond)}.")
    stalled = [row for row in sizing.counts if row.stalled_runs]
    if stalled:
        counts = ", ".join(str(row.carriers) for row in stalled)
        said.append(f"STANDS STILL: with {counts} carriers some runs finish no good part in their last quarter.")
    runs = f"{sizing.runs} runs of {sizing.hours:.3g} h for each count, seed {sizing.seed}, all under the same luck"
    return said + caution(sizing.line, runs)


def _rules(sizing: Sizing) -> list[str]:
    """By which two rules counts are called as good as the most, which are not the same."""
    choices = sizing.choices
    if choices.plateau is None or choices.smallest_near is None:
        return []
    most, near = choices.plateau.carriers, choices.smallest_near.carriers
    said = (
        f"Two rules: on the plateau is every count that may be as good as the {most} with most rate in the mean (its "
        f"difference to them is under 0.5 % in the mean, or its 95 % interval holds zero); {near} are the fewest that "
        "are surely within 0.5 % of the most (the whole interval of the difference lies above −0.5 %)."
    )
    if choices.onset_of_blocking is not None:
        said += " Blocking begins where more than 1 % of all stations' time is blocked."
    return [said]


def _onset_words(sizing: Sizing) -> str:
    """Of the first count looked at it is not known whether fewer would do."""
    first = sizing.counts[0].carriers
    return f"blocking begins{' here or before' if sizing.choices.onset_of_blocking == first > 1 else ''}"


def _all_marks(sizing: Sizing) -> list[tuple[int, str]]:
    """Counts that matter with their names, one name for each count."""
    choices = sizing.choices
    found: list[tuple[int | None, str]] = [
        (sizing.line.carriers, "in the line file"),
        (choices.smallest_meeting_takt, "the fewest that meet the takt"),
        (choices.smallest_meeting_takt_one_out, "the fewest that meet the takt with one out"),
        (
            None if choices.smallest_near is None else choices.smallest_near.carriers,
            NEAR_WORDS,
        ),
        (None if choices.plateau is None else choices.plateau.carriers, "most rate"),
        (choices.onset_of_blocking, _onset_words(sizing)),
        (sizing.most_fit, "most that fit"),
        (sizing.most_on_sheet, "most that the sheet allows"),
    ]
    names: dict[int, list[str]] = {}
    for carriers, words in found:
        if carriers is not None:
            names.setdefault(carriers, []).append(words)
    return [(carriers, f"{carriers}: {', '.join(names[carriers])}") for carriers in sorted(names)]


def _marks(sizing: Sizing) -> list[tuple[int, str]]:
    """Those of them that the picture holds."""
    return [one for one in _all_marks(sizing) if sizing.row(one[0]) is not None]


def _levels(sizing: Sizing) -> list[tuple[str, float]]:
    """Rates that are named at the right of the plot. [1/h]"""
    levels = []
    if sizing.required_rate_per_h is not None:
        levels.append((f"required {rate_words(sizing.required_rate_per_h)}", sizing.required_rate_per_h))
    if sizing.choices.plateau is not None:
        mean = sizing.choices.plateau.rate.mean
        levels.append((f"most simulated {rate_words(mean)}", mean))
    bound = sizing.counts[-1].upper_bound_per_h
    if math.isfinite(bound):
        levels.append((f"upper bound {rate_words(bound)} at the last count", bound))
    return levels


# ---- one view --------------------------------------------------------------------------------------------------------


def _view(
    sizing: Sizing, panel: _Panel, marks: Sequence[tuple[int, str]], width_px: float, data: Datasets, text: Text
) -> Spec:
    whole = panel.low_per_h == 0.0
    layers: list[Spec] = []
    top = 1.2 * text.line_px
    words = "Good parts an hour"
    if not whole:
        low, high = rate_words(panel.low_per_h), rate_words(panel.high_per_h)
        words = f"Close-up of the same: from {low} to {high} good parts an hour; THIS SCALE DOES NOT BEGIN AT ZERO"
    layers.append(words_layer([(0.0, 0.5 * text.line_px, words)], data, text.px, fontWeight="bold"))
    for line in [] if whole else kept_lines(_beyond_words(sizing, panel), width_px, text.px):
        layers.append(words_layer([(0.0, top + 0.3 * text.line_px, line)], data, text.px))
        top += text.line_px
    if marks:
        named = [Mark(panel.x(carriers), words, f"{words} carriers") for carriers, words in marks]
        drawn, taken = comb(named, top, width_px, data, text, upwards=True)
        layers, top = layers + drawn, top + taken
    placed = _Panel(
        panel.first, panel.last, panel.low_per_h, panel.high_per_h, panel.left, top, panel.width, panel.high
    )
    layers += _frame(placed, data) + _scales(placed, data, text) + _mark_lines(sizing, placed, data)
    layers += _bound(sizing, placed, data) + _required(sizing, placed, data) + _rates(sizing, placed, data)
    layers += _level_names(sizing, placed, data, text)
    layers += _no_rates(sizing, placed, data, text) if whole else _beyond(sizing, placed, data)
    height = placed.foot + 2.0 * text.small_px + 1.6 * text.line_px
    if whole:
        for heading, stretches in (
            ("What sets the upper bound", _setters),
            (PLATEAU_WORDS, _plateau),
        ):
            drawn, taken = _strip(heading, stretches(sizing, placed), height, width_px, data, text)
            layers, height = layers + drawn, height + taken
    return layered(layers, width_px, height, "carriers" if whole else "close-up")


def _frame(panel: _Panel, data: Datasets) -> list[Spec]:
    area = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
    frame = {"x": panel.left, "x2": panel.left + panel.width, "y": panel.top, "y2": panel.foot}
    return [layer(data.named([frame]), "rect", {"fill": None, "stroke": GREY, "strokeWidth": 0.8}, area)]


def _scales(panel: _Panel, data: Datasets, text: Text) -> list[Spec]:
    """Rates at the left, counts at the foot, with what they are."""
    step = round_step((panel.high_per_h - panel.low_per_h) * max(1.8 * text.small_px / panel.high, 0.14))
    number = math.ceil(panel.low_per_h / step - 1e-9)
    lines, names = [], []
    while number * step <= panel.high_per_h:
        y = panel.y(number * step)
        lines.append({"x": panel.left, "x2": panel.left + panel.width, "y": y})
        names.append((panel.left - 6.0, y, rate_words(number * step) if step >= 0.1 else f"{number * step:g}"))
        number += 1
    widest = text_width_px(str(panel.last), text.small_px) + 6.0
    every = max(1, int(round_step(max(1.0, widest / panel.slot)) + 1e-9))
    counts = [one for one in range(panel.first, panel.last + 1) if one % every == 0 or panel.last == panel.first]
    feet = [(panel.x(one), panel.foot + 1.2 * text.small_px, str(one)) for one in counts]
    under = panel.foot + 2.0 * text.small_px + 0.6 * text.line_px
    across = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y")}
    return [
        layer(data.named(lines), "rule", {"color": PALE, "strokeWidth": 0.7}, across),
        words_layer(names, data, text.small_px, align="right"),
        words_layer(feet, data, text.small_px, align="center"),
        words_layer([(panel.left + panel.width / 2, under, "carriers")], data, text.px, align="center"),
    ]


def _mark_lines(sizing: Sizing, panel: _Panel, data: Datasets) -> list[Spec]:
    """Upright lines at the counts that matter; that of the line file is bold."""
    layers = []
    place = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2"), **told()}
    for mine in (False, True):
        rows = [
            {"x": panel.x(carriers), "y": panel.top, "y2": panel.foot, "name": f"{words} carriers"}
            for carriers, words in _marks(sizing)
            if (carriers == sizing.line.carriers) == mine
        ]
        look: dict[str, Any] = {"color": INK, "strokeWidth": 2} if mine else {"color": QUIET, "strokeDash": [2, 3]}
        if rows:
            layers.append(layer(data.named(rows), "rule", look, place))
    return layers


def _bound(sizing: Sizing, panel: _Panel, data: Datasets) -> list[Spec]:
    """The upper bound as steps, as far as the view reaches; each step tells what sets it."""
    rows, risers = [], []
    before: CountRow | None = None
    for row in sizing.counts:
        if not math.isfinite(row.upper_bound_per_h):
            before = None
            continue
        name = f"{row.carriers} carriers: at most {rate_words(row.upper_bound_per_h)} an hour, set by {_setter(row)}"
        if panel.holds(row.upper_bound_per_h):
            ends = {"x": panel.x(row.carriers - 0.5), "x2": panel.x(row.carriers + 0.5)}
            rows.append({**ends, "y": panel.y(row.upper_bound_per_h), "name": name})
        if before is not None:
            low, high = sorted((before.upper_bound_per_h, row.upper_bound_per_h))
            if low <= panel.high_per_h and high >= panel.low_per_h:
                heights = panel.y(max(low, panel.low_per_h)), panel.y(min(high, panel.high_per_h))
                risers.append({"x": panel.x(row.carriers - 0.5), "y": heights[0], "y2": heights[1]})
        before = row
    look = {"color": HUE, "strokeWidth": 2.4}
    across = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), **told()}
    upright = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
    return [layer(data.named(risers), "rule", look, upright), layer(data.named(rows), "rule", look, across)]


def _setter(row: CountRow) -> str:
    return "the carriers on their way round" if row.bound == "carriers" else row.bound


def _required(sizing: Sizing, panel: _Panel, data: Datasets) -> list[Spec]:
    required = sizing.required_rate_per_h
    if required is None or not panel.holds(required):
        return []
    name = f"required rate, {rate_words(required)} good parts an hour"
    row = {"x": panel.left, "x2": panel.left + panel.width, "y": panel.y(required), "name": name}
    across = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), **told()}
    return [layer(data.named([row]), "rule", {"color": INK, "strokeWidth": 1.4, "strokeDash": [7, 3]}, across)]


def _rates(sizing: Sizing, panel: _Panel, data: Datasets) -> list[Spec]:
    """Points with whiskers; a whisker that leaves the view is cut at its edge, and its cap is then left out."""
    points, whiskers, caps = [], [], []
    half = min(4.0, 0.3 * panel.slot)
    for row in sizing.counts:
        if row.rate is None or row.rate.high < panel.low_per_h or row.rate.low > panel.high_per_h:
            continue
        x, rate = panel.x(row.carriers), row.rate
        if not panel.holds(rate.mean):
            continue
        name = (
            f"{row.carriers} carriers: {rate_words(rate.mean)} good parts an hour, 95 % interval "
            f"{rate_words(rate.low)} to {rate_words(rate.high)}; stations blocked {100 * row.blocked_share:.1f} %"
        )
        points.append({"x": x, "y": panel.y(rate.mean), "name": name})
        ends = max(rate.low, panel.low_per_h), min(rate.high, panel.high_per_h)
        whiskers.append({"x": x, "y": panel.y(ends[0]), "y2": panel.y(ends[1])})
        caps += [{"x": x - half, "x2": x + half, "y": panel.y(one)} for one in (rate.low, rate.high) if one in ends]
    rule = {"color": INK, "strokeWidth": 1.2}
    across = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y")}
    upright = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
    dot = {"filled": True, "color": INK, "opacity": 1, "size": 34, "stroke": PAPER, "strokeWidth": 0.8}
    return [
        layer(data.named(whiskers), "rule", rule, upright),
        layer(data.named(caps), "rule", rule, across),
        layer(data.named(points), "point", dot, {"x": pixels("x"), "y": pixels("y"), **told()}),
    ]


def _level_names(sizing: Sizing, panel: _Panel, data: Datasets, text: Text) -> list[Spec]:
    """Rates named at the right of the plot, kept apart, each with a line to its height."""
    levels = [(words, panel.y(rate)) for words, rate in _levels(sizing) if panel.holds(rate)]
    if not levels:
        return []
    edge = panel.left + panel.width
    size = 1.15 * text.px
    centres = spread([y - panel.top + size / 2 for _, y in levels], [size] * len(levels), panel.high + size)
    rows = [
        {"x": edge, "x2": edge + 18.0, "y": y, "y2": panel.top - size / 2 + centre}
        for (_, y), centre in zip(levels, centres, strict=True)
    ]
    names = [(row["x2"] + 4.0, row["y2"], words) for row, (words, _) in zip(rows, levels, strict=True)]
    lead = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
    return [
        layer(data.named(rows), "rule", {"color": QUIET, "strokeWidth": 0.9}, lead),
        words_layer(names, data, text.px),
    ]


def _no_rates(sizing: Sizing, panel: _Panel, data: Datasets, text: Text) -> list[Spec]:
    """Counts without an interval: a cross at the foot of each, and the words over each run of them."""
    rows = [
        {"x": panel.x(row.carriers), "y": panel.foot - 6.0, "name": f"{row.carriers} carriers: no rate, {row.reason}"}
        for row in sizing.counts
        if row.rate is None
    ]
    if not rows:
        return []
    place = {"x": pixels("x"), "y": pixels("y")}
    look = {"shape": "cross", "angle": 45, "size": 60, "filled": True, "color": INK, "opacity": 1}
    words = []
    for missing, group in groupby(sizing.counts, key=lambda row: row.rate is None):
        if missing:
            counts = [row.carriers for row in group]
            words.append((panel.x((counts[0] + counts[-1]) / 2), panel.foot - 14.0, "no rate"))
    long, high = text_width_px("no rate", text.small_px), 1.2 * text.small_px
    grounds = [{"x": x - high / 2, "x2": x + high / 2, "y": y - long, "y2": y + 2.0} for x, y, _ in words]
    area = {**place, "x2": end("x2"), "y2": end("y2")}
    return [
        layer(data.named(grounds), "rect", {"color": PAPER}, area),
        layer(data.named(rows), "point", look, {**place, **told()}),
        words_layer(words, data, text.small_px, angle=270),
    ]


def _beyond(sizing: Sizing, panel: _Panel, data: Datasets) -> list[Spec]:
    """Rates that the close-up does not hold: an arrow at its edge for each, which tells the number."""
    layers = []
    place = {"x": pixels("x"), "y": pixels("y"), **told()}
    for side, shape in (("below", "triangle-down"), ("above", "triangle-up")):
        rows = []
        for row in sizing.counts:
            if row.rate is None or panel.holds(row.rate.mean) or (row.rate.mean < panel.low_per_h) != (side == "below"):
                continue
            name = f"{row.carriers} carriers: {rate_words(row.rate.mean)} good parts an hour, {side} this scale"
            y = panel.foot - 5.0 if side == "below" else panel.top + 5.0
            rows.append({"x": panel.x(row.carriers), "y": y, "name": name})
        if rows:
            look = {"shape": shape, "size": 46, "filled": True, "color": INK, "opacity": 1}
            layers.append(layer(data.named(rows), "point", look, place))
    return layers


def _beyond_words(sizing: Sizing, panel: _Panel) -> str:
    """Which counts the close-up does not hold, and their rates; empty where it holds all."""
    words = []
    for side in ("below", "above"):
        out = [
            (row.carriers, row.rate.mean)
            for row in sizing.counts
            if row.rate is not None
            and (row.rate.mean < panel.low_per_h if side == "below" else row.rate.mean > panel.high_per_h)
        ]
        if out:
            counts = _counts([carriers for carriers, _ in out])
            low, high = (rate_words(pick(rate for _, rate in out)) for pick in (min, max))
            rates = low if low == high else f"{low} to {high} an hour"
            words.append(f"{side} this scale, arrows at its edge: {counts}, {rates}")
    return "; ".join(words)


def _counts(counts: Sequence[int]) -> str:
    """Counts in words, runs of them as their ends.

    Examples
    --------
    >>> _counts([1, 2, 3, 7])
    '1 to 3, 7 carriers'
    """
    spans = ", ".join(str(first) if first == last else f"{first} to {last}" for first, last in _spans(counts))
    return f"{spans} carrier{'' if list(counts) == [1] else 's'}"


def _spans(counts: Sequence[int]) -> list[tuple[int, int]]:
    spans: list[tuple[int, int]] = []
    for count in counts:
        if spans and count == spans[-1][1] + 1:
            spans[-1] = spans[-1][0], count
        else:
            spans.append((count, count))
    return spans


def _strip(
    heading: str, stretches: Sequence[Stretch], top: float, width_px: float, data: Datasets, text: Text
) -> tuple[list[Spec], float]:
    """A named bar along the counts with a heading, and the height it takes; nothing without stretches."""
    if not stretches:
        return [], 0.0
    bold = words_layer([(0.0, top + 0.5 * text.line_px, heading)], data, text.px, fontWeight="bold")
    drawn, taken = named_bar(stretches, top + 1.2 * text.line_px, SETTER_PX * text.size, width_px, data, text)
    return [bold, *drawn], 1.6 * text.line_px + taken


def _setters(sizing: Sizing, panel: _Panel) -> list[Stretch]:
    """What sets the upper bound, along the counts."""
    stretches = []
    for setter, group in groupby(sizing.counts, key=_setter):
        counts = [row.carriers for row in group]
        ends = panel.x(counts[0] - 0.5), panel.x(counts[-1] + 0.5)
        told_words = f"{_counts(counts)}: the upper bound is set by {setter}"
        stretches.append(Stretch(*ends, setter, told_words, "starved"))
    return stretches


def _plateau(sizing: Sizing, panel: _Panel) -> list[Stretch]:
    """The counts that are as good as the one with the greatest mean, along the counts."""
    plateau = sizing.choices.plateau
    if plateau is None:
        return []
    stretches = []
    for first, last in _spans([count for count in plateau.counts if panel.first <= count <= panel.last]):
        words = _counts(range(first, last + 1))
        ends = panel.x(first - 0.5), panel.x(last + 0.5)
        stretches.append(Stretch(*ends, words, f"{words}: as good as the most (plateau)", "tool"))
    return stretches


def _key(sizing: Sizing) -> tuple[KeyEntry, ...]:
    entries = [
        point("simulated, with its 95 % interval", shape="circle", filled=True, color=INK, size=34),
        stroke(
            "upper bound: in the long term no order of moves gives more",
            (2.0, 10.0),
            (26.0, 10.0),
            color=HUE,
            strokeWidth=2.4,
        ),
    ]
    if sizing.required_rate_per_h is not None:
        look = {"color": INK, "strokeWidth": 1.4, "strokeDash": [7, 3]}
        entries.append(stroke("required rate", (2.0, 10.0), (26.0, 10.0), **look))
    entries.append(stroke("carriers in the line file", (14.0, 1.0), (14.0, 19.0), color=INK, strokeWidth=2))
    if any(row.rate is None for row in sizing.counts):
        entries.append(point("no rate", shape="cross", angle=45, filled=True, color=INK, size=60))
    return tuple(entries)
