"""Accuracy shares: what the error at each tool point is made of, the largest contributor first.

One bar a station and axis, all bars of one length: the whole of a bar is the root sum of squares of that budget, bias
and three standard deviations together. Spreads stand left of the gap in a bar, biases right of it. A contributor whose
name finds no room in the bar is named, in the order of the bar, in the line under it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.checks.accuracy import words
from linewright.checks.accuracy.result import AxisBudget
from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST
from linewright.pictures.charts.comb import kept_lines
from linewright.pictures.grammar import Datasets, Spec, as_is, end, field, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, box
from linewright.pictures.labels import text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import HUE, INK, LIGHT, PAPER, Text
from linewright.pictures.track.accuracy_row import AxisUse, axis_uses, index_words
from linewright.pictures.wording import invented

WIDTH_PX: Final = 1180.0
BAR_SIZES: Final = 2.5  # height of a bar, in sizes of its letters: a name, and under it its share
LINE_SIZES: Final = 1.35  # from one line of small letters to the next
GAP_PX: Final = 8.0  # between spreads and biases
SPREAD_FILL, BIAS_FILL = LIGHT, PAPER
LEAST_HALVED: Final = 0.0495
"""What halving a smaller share brings only a pointer tells; so much reads 5 %."""
LEAST_WORDS: Final = "under 0.1 %"
_COUNTED: Final = {"fails": "failing", "not checked": "not checked", "tight": "tight", "holds": "holding"}


@dataclass(frozen=True)
class Share:
    """One contributor in the bar of its budget.

    Parameters
    ----------
    number : rank in the bar, from 1
    name : what errs
    is_bias : the same for all parts; else it differs from part to part
    share : of the root sum of squares, > 0
    percent : the same in words
    halved : ``(1.96)``, Cpk with it halved; empty where it is small, or where there is no index
    told : the whole sentence
    """

    number: int
    name: str
    is_bias: bool
    share: float
    percent: str
    halved: str
    told: str

    @property
    def said(self) -> str:
        """``nest 26 % (1.96)``"""
        return f"{self.name} {self.percent} {self.halved}".strip()


@dataclass(frozen=True)
class Placed:
    """A share where it is drawn, with what stands in it. [px]

    Parameters
    ----------
    share : which
    left, right : its ends. [px]
    inside : name and share, beside or under one another; its number alone; or nothing
    """

    share: Share
    left: float
    right: float
    inside: tuple[str, ...]

    @property
    def under(self) -> str:
        """What of it has to stand under the bar; empty where all stands inside."""
        if self.share.name not in " ".join(self.inside):
            return f"{self.share.number} {self.share.said}"
        return "" if self.inside[-1].endswith(self.share.halved) else f"{self.share.name} {self.share.halved}"


def accuracy_shares(evaluation: Evaluation, text: Text | None = None) -> Picture:
    """What the error budget of each station and axis with a tolerance is made of.

    Parameters
    ----------
    evaluation : of a line; no run is needed
    text : sizes of letters

    Raises
    ------
    NothingToDraw   No station states a tolerance, or no carrier can move on the track.
    """
    text = Text() if text is None else text
    if evaluation.limits is None:
        raise NothingToDraw("there is no error budget: no carrier can move on this track, see the findings on layout")
    uses = axis_uses(evaluation)
    if not uses:
        raise NothingToDraw("no station states a tolerance: write the key tolerance at a station to see its budget")
    data = Datasets()
    axes: dict[tuple[str, str], AxisBudget] = {(one.station, one.axis): one for one in evaluation.limits.accuracy.axes}
    views = [_budget(evaluation, use, axes.get((use.station, use.axis)), data, text) for use in uses]
    return picture_of(
        "accuracy",
        f"{evaluation.line.name}: what the error at each tool is made of",
        _said(evaluation, uses),
        views,
        _key(),
        data,
        text,
        WIDTH_PX,
    )


def ranked_shares(evaluation: Evaluation, one: AxisBudget) -> tuple[Share, ...]:
    """The contributors of one budget that have a share: spreads, then biases, of each the largest first."""
    assert evaluation.limits is not None
    rows = [
        row
        for row in evaluation.limits.accuracy.budgets.rows()
        if (row["station"], row["axis"]) == (one.station, one.axis) and row["share"] > 0.0
    ]
    rows.sort(key=lambda row: (row["kind"] == "bias", -row["share"]))
    return tuple(_share(evaluation, one, number, row) for number, row in enumerate(rows, 1))


def _share(evaluation: Evaluation, one: AxisBudget, number: int, row: dict[str, Any]) -> Share:
    line, is_bias = evaluation.line, row["kind"] == "bias"
    percent = _percent(row["share"])
    gain = row["gain_cpk"]
    halved = "" if math.isnan(gain) else f"halved: {index_words(one.budget.cpk + gain, one.asked_cpk)}"
    kind = "bias, the same for all parts" if is_bias else f"spread, {row['law']}"
    ends = f"{words.signed(line, row['low_m'])} to {words.signed(line, row['high_m'])}"
    less = f"worst case {words.length(line, row['gain_worst_case_m'])} less"
    sentence = [f"{one.station}, {words.where(one.station, one.axis).partition(', ')[2]}, {row['contributor']}: {kind}"]
    sentence += [f"{percent} of the root sum of squares", ends, f"{halved}, {less}" if halved else f"halved: {less}"]
    sentence.append(f"from {row['source']}")
    short = f"({one.budget.cpk + gain:.2f})" if halved else ""
    short = short if row["share"] >= LEAST_HALVED else ""
    return Share(number, str(row["contributor"]), is_bias, row["share"], percent, short, "; ".join(sentence))


def _percent(share: float) -> str:
    """``24 %``, ``6.5 %``, ``under 0.1 %``"""
    value = 100.0 * share
    if value < 0.1:
        return LEAST_WORDS
    return f"{value:.0f} %" if value >= 9.95 else f"{value:.2g} %"


# ---- one budget --------------------------------------------------------------------------------------------------


def _budget(evaluation: Evaluation, use: AxisUse, one: AxisBudget | None, data: Datasets, text: Text) -> Spec:
    """Its verdict and figures, the bar, and what of the bar found no room in it."""
    name = f"{use.station}, {words.where(use.station, use.axis).partition(', ')[2]}"
    title = f"{name}: {use.index or 'no index'}, {use.verdict}"
    layers, y = _title(title, use, data, text)
    said = "a tolerance of ±0, which nothing meets" if one is None else _figures(evaluation, one)
    beside = title_px(title, text)
    if beside + text_width_px(said, text.small_px) <= WIDTH_PX:
        layers += _lines([said], 0.5 * (y - LINE_SIZES * text.small_px), data, text, beside)[0]
    else:
        more, y = _lines(kept_lines(said, WIDTH_PX, text.small_px), y, data, text)
        layers += more
    shares = () if one is None else ranked_shares(evaluation, one)
    if one is not None and shares:
        placed = place_shares(shares, text)
        more, y = _bar(placed, y + 2.0, data, text)
        layers += more
        none = [c.contributor.name for i, c in enumerate(one.counted) if one.budget.shares[i] == 0.0]
        more, y = _lines(under_bar(placed, none, text.small_px), y + 2.0, data, text)
        layers += more
    return layered(layers, WIDTH_PX, y)


def _figures(evaluation: Evaluation, one: AxisBudget) -> str:
    """What a budget amounts to, and what is missing in it; the rest is in what a pointer tells of its title."""
    line, budget = evaluation.line, one.budget
    both = f"bias {words.bias(line, one)}, 3 σ {words.length(line, 3.0 * budget.sigma_m)}"
    said = [f"±{words.length(line, budget.tolerance_m)} allowed"]
    said.append(f"{both}, together ±{words.length(line, budget.rss_m)}")
    said.append(f"worst case ±{words.length(line, budget.worst_case_m)}")
    if one.missing:
        lacking = [f"{lack.key} under {lack.under}" if lack.under else lack.key for lack in one.missing]
        said.append(f"not stated, so not counted: {', '.join(lacking)}")
    return "; ".join(said)


def under_bar(placed: Sequence[Placed], none: Sequence[str], size_px: float) -> list[str]:
    """Lines that stand under a bar: what found no room in it, last what is next to nothing.

    Parameters
    ----------
    placed : the parts of the bar
    none : names of what has no share at all
    size_px : of the letters

    Returns
    -------
    list[str]   What is next to nothing is but counted where its names would take one more line.
    """
    small = [part.share.name for part in placed if part.share.percent == LEAST_WORDS]
    entries = [part.under for part in placed if part.under and part.share.percent != LEAST_WORDS]
    tiny = [*small, *none]
    if not tiny:
        return joined(entries, size_px)
    named = joined([*entries, f"{LEAST_WORDS}: {', '.join(tiny)}"], size_px)
    counted = joined([*entries, f"{len(tiny)} {LEAST_WORDS}"], size_px)
    return named if len(named) <= len(counted) else counted


def place_shares(shares: Sequence[Share], text: Text) -> tuple[Placed, ...]:
    """Where each share is drawn, in proportion, and the most that can stand in it."""
    gap = GAP_PX if len({share.is_bias for share in shares}) > 1 else 0.0
    whole, left, found = WIDTH_PX - gap, 0.0, []
    total = sum(share.share for share in shares)
    for rank, share in enumerate(shares):
        if rank and share.is_bias and not shares[rank - 1].is_bias:
            left += gap
        wide = whole * share.share / total
        found.append(Placed(share, left, left + wide, _inside(share, wide - 6.0, text.small_px)))
        left += wide
    return tuple(found)


def _inside(share: Share, width_px: float, size_px: float) -> tuple[str, ...]:
    """The most of name, share and number that finds room in a part of a bar. [px]"""
    both = f"{share.percent} {share.halved}".strip()
    for form in ((share.said,), (share.name, both), (share.name, share.percent), (str(share.number),)):
        if max(text_width_px(one, size_px) for one in form) <= width_px:
            return form
    return ()


def joined(entries: Sequence[str], size_px: float) -> list[str]:
    """Entries in lines no wider than the picture, none broken. [px]

    Examples
    --------
    >>> joined(["4 grip 8 %", "5 pitch 2 %"], 10.0)
    ['4 grip 8 % · 5 pitch 2 %']
    """
    lines: list[str] = []
    for entry in entries:
        longer = f"{lines[-1]} · {entry}" if lines else entry
        if lines and text_width_px(longer, size_px) <= WIDTH_PX:
            lines[-1] = longer
        else:
            lines.append(entry)
    return lines


def _bar(placed: Sequence[Placed], top: float, data: Datasets, text: Text) -> tuple[list[Spec], float]:
    """The bar with what finds room in it, and where it ends. [px]"""
    size = text.small_px
    foot = top + BAR_SIZES * size
    rows = [
        {
            "x": part.left,
            "x2": part.right,
            "y": top,
            "y2": foot,
            "fill": BIAS_FILL if part.share.is_bias else SPREAD_FILL,
            "name": part.share.told,
        }
        for part in placed
    ]
    inside = []
    for part in placed:
        first = (top + foot) / 2 - 0.55 * size * (len(part.inside) - 1)
        inside += [
            {"x": part.left + 4.0, "y": first + 1.1 * size * number, "words": one}
            for number, one in enumerate(part.inside)
        ]
    place = {"x": pixels("x"), "y": pixels("y")}
    channels = {**place, "x2": end("x2"), "y2": end("y2"), "fill": as_is("fill"), **told()}
    layers = [layer(data.named(rows), "rect", {"stroke": HUE, "strokeWidth": 0.8}, channels)]
    if inside:
        look = {"fontSize": size, "baseline": "middle", "align": "left", "color": INK}
        layers.append(layer(data.named(inside), "text", look, {**place, "text": field("words", "nominal")}))
    return layers, foot


def title_px(title: str, text: Text) -> float:
    """Where what stands beside a budget's title begins: its letters are bold. [px]"""
    return 1.1 * text_width_px(title, text.px) + 20.0


def _title(title: str, use: AxisUse, data: Datasets, text: Text) -> tuple[list[Spec], float]:
    """The budget's name and its index in bold; white on dark where it fails or is not checked."""
    strong, size, high = use.verdict in ("fails", "not checked"), text.px, text.line_px
    place = {"x": pixels("x"), "y": pixels("y")}
    layers = []
    if strong:
        wide = title_px(title, text) - 10.0
        ground = data.named([{"x": 0.0, "x2": wide, "y": 0.0, "y2": high, "name": use.told}])
        channels = {**place, "x2": end("x2"), "y2": end("y2"), **told()}
        layers.append(layer(ground, "rect", {"color": INK}, channels))
    row = data.named([{"x": 5.0 if strong else 0.0, "y": high / 2, "words": title, "name": use.told}])
    look = {"fontSize": size, "fontWeight": "bold", "baseline": "middle", "align": "left"}
    colour = {"color": PAPER if strong else INK}
    layers.append(layer(row, "text", {**look, **colour}, {**place, "text": field("words", "nominal"), **told()}))
    return layers, high


def _lines(lines: Sequence[str], top: float, data: Datasets, text: Text, left: float = 0.0) -> tuple[list[Spec], float]:
    """Lines of small words from `top` down. [px]"""
    high = LINE_SIZES * text.small_px
    if not lines:
        return [], top
    rows = [{"x": left, "y": top + high * (number + 0.5), "words": one} for number, one in enumerate(lines)]
    look = {"fontSize": text.small_px, "baseline": "middle", "align": "left", "color": INK}
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    return [layer(data.named(rows), "text", look, place)], top + high * len(lines)


# ---- around them -------------------------------------------------------------------------------------------------


def _said(evaluation: Evaluation, uses: Sequence[AxisUse]) -> list[str]:
    whole = "A whole bar is bias and three standard deviations of that tool point together."
    rest = "In brackets the Cpk with one of 5 % or more halved. What has but a number is named under the bar."
    said = [f"{whole} {rest}"]
    counts = {verdict: sum(use.verdict == verdict for use in uses) for verdict in WORST_FIRST}
    counted = ", ".join(f"{count} {_COUNTED[verdict]}" for verdict, count in counts.items() if count)
    said.append(f"Tool points and axes with a tolerance: {counted}.")
    said += invented(evaluation.line)
    return said


def _key() -> list[KeyEntry]:
    outline = {"stroke": HUE, "strokeWidth": 0.8}
    return [
        box("spread: differs from part to part", 14, 22, fill=SPREAD_FILL, **outline),
        box("bias, right of the gap: the same for all parts", 14, 22, fill=BIAS_FILL, **outline),
    ]
