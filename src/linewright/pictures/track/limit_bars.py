"""Bars of how much of a limit is used: what rows of margins share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.checks.accuracy.words import figure_text
from linewright.pictures.grammar import Spec, as_is, field, layer, pixels, told
from linewright.pictures.key import MARK_HEIGHT_PX, MARK_PX, Glyph, KeyEntry, point
from linewright.pictures.style import GREY, HUE, INK, PAPER
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.track.values import Value, value_height, value_layers

PLOT_PX: Final = 68.0
MOST_SHARE: Final = 1.3
"""A bar that uses more of its limit is cut there, and marked."""
ARROW_PX: Final = 9.0
_MOST_NAMED: Final = 4


@dataclass(frozen=True)
class LimitBar:
    """How much of a limit is used at a stretch of the track.

    Parameters
    ----------
    from_m, to_m : the stretch on the axis. [m]
    share : 1 at the limit; infinite where nothing would be allowed; not a number where it is not known
    is_known : else it is drawn hollow and dashed: something of it is not checked
    told : the whole sentence
    fill : of what is within the limit
    """

    from_m: float
    to_m: float
    share: float
    is_known: bool
    told: str
    fill: str = GREY


def percent(share: float) -> str:
    """A share in per cent, rounded for reading but never across the limit.

    Examples
    --------
    >>> percent(0.0423), percent(0.791), percent(1.002), percent(0.9999), percent(math.inf)
    ('4.2 %', '79 %', 'over 100 %', 'under 100 %', 'of nothing')
    """
    if not math.isfinite(share):
        return "of nothing"
    value = 100.0 * share
    text = f"{value:.0f}" if value >= 9.95 else f"{value:.2g}"
    text = figure_text(value) if value >= 1000.0 else text
    if text == "100" and abs(value - 100.0) > 1e-6:
        text = "over 100" if value > 100.0 else "under 100"
    return f"{text} %"


# ---- the words over the row --------------------------------------------------------------------------------------


def named(names: Sequence[str]) -> str:
    """Names, the first few of many."""
    more = len(names) - _MOST_NAMED
    return ", ".join(names) if more <= 0 else f"{', '.join(names[:_MOST_NAMED])} and {more} more"


def limit_plot(
    sheet: Sheet, values: Sequence[Value], bars: Sequence[LimitBar], top: float, plot_px: float = PLOT_PX
) -> tuple[list[Spec], float]:
    """Numbers, bars and the limit line under a heading.

    Parameters
    ----------
    values : numbers over the bars
    bars : shares of a limit
    top : where the heading ends. [px]
    plot_px : height from nothing to MOST_SHARE. [px]

    Returns
    -------
    layers, height   [px]
    """
    above = top + value_height(sheet, values)
    ceiling = above + (ARROW_PX if any(bar.share > MOST_SHARE for bar in bars) else 0.0)
    foot = ceiling + plot_px
    limit = foot - plot_px / MOST_SHARE
    layers = sheet.ground(above, foot)
    layers += bar_layers(sheet, bars, foot, limit, ceiling)
    layers += [*sheet.level(foot, "0", color=GREY, strokeWidth=0.8), *sheet.level(limit, "limit 100 %")]
    layers += value_layers(sheet, values, top)
    return layers, foot + max(2.0, 0.7 * sheet.text.small_px)


def bar_layers(
    sheet: Sheet, bars: Sequence[LimitBar], foot: float, limit: float, ceiling: float, stroke_px: float = 0.8
) -> list[Spec]:
    """Bars from `foot` up; `limit` is the height of a share of 1, `ceiling` where a bar is cut and marked. [px]"""
    rows: dict[bool, list[dict[str, Any]]] = {True: [], False: []}
    over, cut = [], []
    for bar in bars:
        share = 0.0 if math.isnan(bar.share) else bar.share
        y = max(ceiling, foot - share * (foot - limit))
        rows[bar.is_known].append({**sheet.span(bar.from_m, bar.to_m, y, foot), "name": bar.told, "fill": bar.fill})
        if y < limit:
            over.append({**sheet.span(bar.from_m, bar.to_m, y, limit), "name": bar.told})
        if foot - share * (foot - limit) < ceiling - 1e-9:
            middle = sheet.value((bar.from_m + bar.to_m) / 2)
            cut.append({"x": middle, "y": ceiling - ARROW_PX / 2, "name": bar.told})
    outline = {"stroke": HUE, "strokeWidth": stroke_px, "clip": True}
    layers = []
    if rows[True]:
        channels = sheet.box(fill=as_is("fill"), **told())
        layers.append(layer(sheet.data.named(rows[True]), "rect", outline, channels))
    if rows[False]:
        hollow = {**outline, "fill": PAPER, "strokeDash": [3, 2]}
        layers.append(layer(sheet.data.named(rows[False]), "rect", hollow, sheet.box(**told())))
    tip = {"tooltip": field("name", "nominal", title=" ")}
    if over:  # the bar itself tells what it is; this is its upper part once more
        look = {"color": INK, "clip": True, "aria": False}
        layers.append(layer(sheet.data.named(over), "rect", look, sheet.box(**tip)))
    if cut:
        look = {"shape": "triangle-up", "filled": True, "color": INK, "size": 42, "opacity": 1, "clip": True}
        place = {"x": sheet.x("x"), "y": pixels("y"), **tip}
        layers.append(layer(sheet.data.named(cut), "point", {**look, "aria": False}, place))
    return layers


def bar_glyph(low: float, high: float, left: float = 8.0, right: float = 20.0, **mark: Any) -> Glyph:
    """Part of a bar in the key, from `low` to `high` over its foot. [px]"""
    foot = MARK_HEIGHT_PX - 2.0
    return Glyph("box", ((left, foot - high), (right, foot - low)), tuple(mark.items()))


LIMIT_GLYPH: Final = Glyph(
    "path",
    ((2.0, MARK_HEIGHT_PX - 10.0), (MARK_PX - 8.0, MARK_HEIGHT_PX - 10.0)),
    (("color", INK), ("strokeWidth", 1.2)),
)
"""The limit line across a bar in the key."""


def limit_key(bars: Sequence[LimitBar]) -> list[KeyEntry]:
    """What the looks of these bars mean, as far as they come."""
    key = []
    if any(bar.share > 1.0 for bar in bars):
        foot = bar_glyph(0.0, 8.0, fill=GREY, stroke=HUE, strokeWidth=0.8)
        key.append(KeyEntry("beyond the limit, the line across", (foot, bar_glyph(8.0, 16.0, fill=INK), LIMIT_GLYPH)))
    if any(bar.share > MOST_SHARE for bar in bars):
        words = f"bar cut at {percent(MOST_SHARE)} of the limit: its number stands over it"
        key.append(point(words, shape="triangle-up", filled=True, size=42, color=INK))
    if any(not bar.is_known for bar in bars):
        bar = bar_glyph(0.0, 6.0, fill=PAPER, stroke=HUE, strokeWidth=0.8, strokeDash=[3, 2])
        key.append(KeyEntry("not checked in full: a figure is missing", (bar, LIMIT_GLYPH)))
    return key
