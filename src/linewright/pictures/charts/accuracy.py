"""Accuracy shares: what the error at each tool point is made of, the largest contributor first.

One bar a station and axis, all bars of one length: the whole of a bar is the root sum of squares of that budget, bias
and three standard deviations together. Spreads stand left of the gap in a bar, biases right of it. A contributor too
narrow for its name has a number, which the line under the bar explains.
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
from linewright.pictures.grammar import Datasets, Spec, as_is, end, field, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, box
from linewright.pictures.labels import fitting, spread, text_width_px, wrapped
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import GREY, HUE, INK, LIGHT, PAPER, Text
from linewright.pictures.track.accuracy_row import AxisUse, axis_uses, index_words

WIDTH_PX: Final = 1180.0
BAR_SIZES: Final = 1.9  # height of a bar, in sizes of its letters
GAP_PX: Final = 8.0  # between spreads and biases
SPREAD_FILL, BIAS_FILL = LIGHT, PAPER
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
    said : ``nest 26 % (1.96)``: its share, and Cpk with it halved
    told : the whole sentence
    """

    number: int
    name: str
    is_bias: bool
    share: float
    said: str
    told: str


@dataclass(frozen=True)
class Placed:
    """A share where it is drawn, with what stands in it. [px]"""

    share: Share
    left: float
    right: float
    inside: str


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
    short = f" ({one.budget.cpk + gain:.2f})" if halved else ""
    name = str(row["contributor"])
    return Share(number, name, is_bias, row["share"], f"{name} {percent}{short}", "; ".join(sentence))


def _percent(share: float) -> str:
    """``24 %``, ``6.5 %``, ``under 0.1 %``"""
    value = 100.0 * share
    if value < 0.1:
        return "under 0.1 %"
    return f"{value:.0f} %" if value >= 9.95 else f"{value:.2g} %"


# ---- one budget --------------------------------------------------------------------------------------------------


def _budget(evaluation: Evaluation, use: AxisUse, one: AxisBudget | None, data: Datasets, text: Text) -> Spec:
    """Two lines of words, the bar, the numbers of what is too narrow for a name, and what they mean."""
    name = f"{use.station}, {words.where(use.station, use.axis).partition(', ')[2]}"
    layers, y = _title(f"{name}: {use.index or 'no index'}, {use.verdict}", use, data, text)
    if one is None:
        more, y = _lines(["a tolerance of ±0, which nothing meets"], y, data, text)
        return layered([*layers, *more], WIDTH_PX, y)
    more, y = _lines(wrapped(_figures(evaluation, use, one), WIDTH_PX, text.px), y, data, text)
    layers += more
    shares = ranked_shares(evaluation, one)
    if shares:
        placed = place_shares(shares, text)
        more, y = _bar(placed, y + 3.0, data, text)
        layers += more
        hidden = [part for part in placed if part.share.name not in part.inside]
        listed = joined([f"{part.share.number} {part.share.said}" for part in hidden], text.small_px)
        more, y = _lines(listed, y + 2.0, data, text, text.small_px)
        layers += more
    return layered(layers, WIDTH_PX, y)


def _figures(evaluation: Evaluation, use: AxisUse, one: AxisBudget) -> str:
    """What a budget amounts to, what halving the largest brings, and what has no share."""
    line, budget = evaluation.line, one.budget
    said = [f"tolerance ±{words.length(line, budget.tolerance_m)}"]
    said.append(f"bias {words.bias(line, one)} and 3 σ {words.length(line, 3.0 * budget.sigma_m)}")
    said[-1] += f", together ±{words.length(line, budget.rss_m)}"
    if use.index:
        said.append(f"Cp {words.figure_text(budget.cp)}")
    said.append(f"worst case ±{words.length(line, budget.worst_case_m)}")
    gains = [(cpk, i) for i, cpk in enumerate(budget.halved_cpk) if math.isfinite(cpk) and budget.shares[i] > 0.0]
    if use.index and gains:
        best, i = max(gains, key=lambda gain: (gain[0], -gain[1]))
        said.append(f"halving {one.counted[i].contributor.name} brings {index_words(best, one.asked_cpk)}")
    none = [c.contributor.name for i, c in enumerate(one.counted) if budget.shares[i] == 0.0]
    said += [f"no share: {', '.join(none)}"] if none else []
    if one.missing:
        lacking = [f"{lack.key} under {lack.under}" if lack.under else lack.key for lack in one.missing]
        said.append(f"not stated, so not counted: {', '.join(lacking)}")
    return "; ".join(said)


def place_shares(shares: Sequence[Share], text: Text) -> tuple[Placed, ...]:
    """Where each share is drawn, in proportion, and the most that can stand in it."""
    gap = GAP_PX if len({share.is_bias for share in shares}) > 1 else 0.0
    whole, left, found = WIDTH_PX - gap, 0.0, []
    total = sum(share.share for share in shares)
    for rank, share in enumerate(shares):
        if rank and share.is_bias and not shares[rank - 1].is_bias:
            left += gap
        wide = whole * share.share / total
        texts = [f"{share.number} {share.said}", f"{share.number}", ""]
        inside = fitting(texts, wide - 6.0, text.small_px)
        found.append(Placed(share, left, left + wide, inside))
        left += wide
    return tuple(found)


def joined(entries: Sequence[str], size_px: float) -> list[str]:
    """Entries in lines no wider than the picture, none broken. [px]"""
    lines: list[str] = []
    for entry in entries:
        longer = f"{lines[-1]} · {entry}" if lines else entry
        if lines and text_width_px(longer, size_px) <= WIDTH_PX:
            lines[-1] = longer
        else:
            lines.append(entry)
    return lines


def _bar(placed: Sequence[Placed], top: float, data: Datasets, text: Text) -> tuple[list[Spec], float]:
    """The bar, and under it the numbers of what is too narrow for one."""
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
    inside = [{"x": p.left + 4.0, "y": (top + foot) / 2, "words": p.inside} for p in placed if p.inside]
    place = {"x": pixels("x"), "y": pixels("y")}
    look = {"fontSize": size, "baseline": "middle", "color": INK}
    channels = {**place, "x2": end("x2"), "y2": end("y2"), "fill": as_is("fill"), **told()}
    layers = [layer(data.named(rows), "rect", {"stroke": HUE, "strokeWidth": 0.8}, channels)]
    if inside:
        said = {**place, "text": field("words", "nominal")}
        layers.append(layer(data.named(inside), "text", {**look, "align": "left"}, said))
    narrow = [part for part in placed if not part.inside]
    if not narrow:
        return layers, foot
    middles = [(part.left + part.right) / 2 for part in narrow]
    wide = [text_width_px(str(part.share.number), size) + 0.5 * size for part in narrow]
    centres = spread(middles, wide, WIDTH_PX)
    below = foot + 7.0
    leads = [
        {"x": middle, "x2": centre, "y": foot, "y2": below} for middle, centre in zip(middles, centres, strict=True)
    ]
    numbers = [
        {"x": centre, "y": below + 0.6 * size, "words": str(part.share.number)}
        for part, centre in zip(narrow, centres, strict=True)
    ]
    rule = {"color": GREY, "strokeWidth": 0.8}
    layers.append(layer(data.named(leads), "rule", rule, {**place, "x2": end("x2"), "y2": end("y2")}))
    said = {**place, "text": field("words", "nominal")}
    layers.append(layer(data.named(numbers), "text", {**look, "align": "center"}, said))
    return layers, below + 1.2 * size


def _title(title: str, use: AxisUse, data: Datasets, text: Text) -> tuple[list[Spec], float]:
    """The budget's name and its index in bold; white on dark where it fails or is not checked."""
    strong, size, high = use.verdict in ("fails", "not checked"), text.px, text.line_px
    place = {"x": pixels("x"), "y": pixels("y")}
    layers = []
    if strong:
        wide = 1.1 * text_width_px(title, size) + 10.0
        ground = data.named([{"x": 0.0, "x2": wide, "y": 0.0, "y2": high, "name": use.told}])
        channels = {**place, "x2": end("x2"), "y2": end("y2"), **told()}
        layers.append(layer(ground, "rect", {"color": INK}, channels))
    row = data.named([{"x": 5.0 if strong else 0.0, "y": high / 2, "words": title, "name": use.told}])
    look = {"fontSize": size, "fontWeight": "bold", "baseline": "middle", "align": "left"}
    colour = {"color": PAPER if strong else INK}
    layers.append(layer(row, "text", {**look, **colour}, {**place, "text": field("words", "nominal"), **told()}))
    return layers, high


def _lines(
    lines: Sequence[str], top: float, data: Datasets, text: Text, size: float | None = None
) -> tuple[list[Spec], float]:
    """Lines of words from `top` down."""
    size = text.px if size is None else size
    high = 1.5 * size
    if not lines:
        return [], top
    rows = [{"x": 0.0, "y": top + high * (number + 0.5), "words": one} for number, one in enumerate(lines)]
    look = {"fontSize": size, "baseline": "middle", "align": "left", "color": INK}
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    return [layer(data.named(rows), "text", look, place)], top + high * len(lines)


# ---- around them -------------------------------------------------------------------------------------------------


def _said(evaluation: Evaluation, uses: Sequence[AxisUse]) -> list[str]:
    whole = "The whole of a bar is bias and three standard deviations of that tool point together, however large"
    said = [f"{whole}; its line says how much of the tolerance that is. In brackets: the Cpk with that one halved."]
    counts = {verdict: sum(use.verdict == verdict for use in uses) for verdict in WORST_FIRST}
    counted = ", ".join(f"{count} {_COUNTED[verdict]}" for verdict, count in counts.items() if count)
    said.append(f"Tool points and axes with a tolerance: {counted}.")
    sheet = evaluation.line.conveyor
    if sheet.invented:
        said.append(f"The conveyor sheet {sheet.name} is invented: do not buy or build from this picture.")
    return said


def _key() -> list[KeyEntry]:
    outline = {"stroke": HUE, "strokeWidth": 0.8}
    return [
        box("spread: differs from part to part", 14, 22, fill=SPREAD_FILL, **outline),
        box("bias, right of the gap: the same for all parts", 14, 22, fill=BIAS_FILL, **outline),
    ]
