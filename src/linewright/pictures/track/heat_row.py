"""Row heat: what every coil group gives off, against what it may give off for ever.

The bar of a group is the greater of its two loads, the greatest hourly mean and the greatest heat as the winding
follows it: both have the same limit. Where all is far below the limit, the scale ends a little above the hottest group
and is broken under the limit line, so that both are seen: that it is far below, and where it is hottest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any, Final

from linewright.checks.accuracy.words import figure_text
from linewright.checks.motion.coil_heat import PLATFORM
from linewright.findings import Verdict, judge, margin_below
from linewright.layout import Layout
from linewright.pictures.grammar import Spec, end, field, layer, pixels
from linewright.pictures.key import KeyEntry
from linewright.pictures.style import GREY, INK, PAPER, QUIET
from linewright.pictures.track.limit_bars import (
    ARROW_PX,
    MOST_SHARE,
    LimitBar,
    bar_layers,
    limit_key,
    percent,
)
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.values import Value, value_height, value_layers

PLOT_PX: Final = 56.0
FAR_BELOW: Final = 0.5
"""Where the hottest group stays under this share of the limit, the scale is broken."""
WARMEST, HOURLY = "warmest", "hourly mean"
"""The two heats of a group: as the winding follows it, and in the mean of an hour."""
_ROUND: Final = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_STROKE_PX: Final = 0.4  # many narrow bars stand side by side


@dataclass(frozen=True)
class GroupHeat:
    """One coil group.

    Parameters
    ----------
    from_m, to_m : where it lies on the axis. [m]
    warmest_W : the greatest heat as the winding follows it, as row ``coil-warming`` of ``check`` judges it. [W]
    hourly_W : the greatest hourly mean, as row ``coil-heat`` does. [W]
    limit_W : what it may give off for ever. [W]
    where : ``upper, under a waiting stop, 92 mm to 184 mm``, or ``west-lift, on the platform``
    told : the whole sentence
    """

    from_m: float
    to_m: float
    warmest_W: float
    hourly_W: float
    limit_W: float
    where: str
    told: str

    @property
    def load_W(self) -> float:
        """The greater of the two, which the bar shows. [W]"""
        return max(self.warmest_W, self.hourly_W)

    @property
    def which(self) -> str:
        """Which of the two that is."""
        return WARMEST if self.warmest_W >= self.hourly_W else HOURLY

    @property
    def share(self) -> float:
        """Of the limit that is used."""
        return self.load_W / self.limit_W

    @property
    def verdict(self) -> Verdict:
        """As the findings judge the hottest."""
        return judge(margin_below(self.load_W, self.limit_W))


def heat_row(sheet: Sheet) -> Row:
    """One bar a coil group, as wide as the group."""
    motor = sheet.line.conveyor.drive.motor
    if sheet.evaluation.limits is None or sheet.evaluation.limits.motion.coil_heat is None:
        if motor is None or motor.group_length_m is None or motor.hottest_degC is None:
            return sheet.missing("heat", "Coil heat", "the sheet's motor is not stated in full")
        return sheet.missing("heat", "Coil heat", "it takes a simulated run: linewright check --run, rate or draw")
    groups = group_heats(sheet)
    hottest = max(groups, key=lambda one: one.load_W)
    broken = 0.0 < hottest.share < FAR_BELOW
    heading, top = sheet.heading("Coil heat (W)", _heading(groups, hottest))
    values = _values(groups, hottest)
    short = [replace(one, words=one.words.replace(f"{HOURLY} ", "").replace(f"{WARMEST} ", "")) for one in values]
    if value_height(sheet, short) < value_height(sheet, values):  # upright they would take far more room
        values = short
    above = top + value_height(sheet, values)
    plot = _broken_plot if broken else _plot
    layers, foot, key = plot(sheet, groups, hottest, above)
    layers = [*heading, *layers, *value_layers(sheet, values, top)]
    return sheet.row("heat", layers, foot + max(2.0, 0.7 * sheet.text.small_px), key)


def group_heats(sheet: Sheet) -> tuple[GroupHeat, ...]:
    """Every coil group in the order of the axis."""
    assert sheet.evaluation.limits is not None
    table = sheet.evaluation.limits.motion.coil_heat
    assert table is not None
    return tuple(sorted((_group(sheet, row) for row in table.rows()), key=lambda one: one.from_m))


def _group(sheet: Sheet, row: Mapping[str, Any]) -> GroupHeat:
    ends_m = sorted(_axis_m(sheet.layout, row["lane"], row[key]) for key in ("from_m", "to_m"))
    over = row["under"]
    at = f"{sheet.lengths.text(row['from_m'])} to {sheet.lengths.text(row['to_m'])}"
    # A platform has no floor places of its own.
    where = f"{row['lane']}, on {over}" if over == PLATFORM else f"{row['lane']}, under {over}, {at}"
    warmest_W, hourly_W, limit_W = row["filtered_W"], row["worst_hour_W"], row["limit_W"]
    verdict = judge(margin_below(max(warmest_W, hourly_W), limit_W))
    told = (
        f"coil group of {where}: {verdict}; {figure_text(row['filtered_W'])} W at its warmest, greatest hourly mean "
        f"{figure_text(row['worst_hour_W'])} W; it may give off {figure_text(limit_W)} W for ever"
    )
    return GroupHeat(ends_m[0], ends_m[1], warmest_W, hourly_W, limit_W, where, told)


def _axis_m(layout: Layout, name: str, floor_m: float) -> float:
    """Axis place of a floor place on a lane, or on a platform, which prolongs the first lane it takes from. [m]"""
    taken = next((one.takes[0] for one in layout.transfers if one.name == name), name)
    lane = layout.lane(name if any(one.name == name for one in layout.lanes) else taken)
    return lane.travel_to_axis(lane.floor_to_travel(floor_m))


def _heading(groups: Sequence[GroupHeat], hottest: GroupHeat) -> str:
    limit = figure_text(hottest.limit_W)
    loads = {
        WARMEST: f"{figure_text(hottest.warmest_W)} W at its warmest (coil-warming)",
        HOURLY: f"{figure_text(hottest.hourly_W)} W in its greatest hourly mean (coil-heat)",
    }
    first = loads.pop(hottest.which)
    (other,) = loads.values()
    share = f"{percent(hottest.share)} of its limit of {limit} W"
    said = [f"Hottest: {hottest.where}: {first}, {share}; {other}. A bar is the greater of the two."]
    for verdict, word in (("fails", "Fails"), ("tight", "Tight")):
        count = sum(one.verdict == verdict for one in groups)
        said += [f"{word}: {count} of {len(groups)} coil groups."] if count else []
    return " ".join(said)


def _values(groups: Sequence[GroupHeat], hottest: GroupHeat) -> list[Value]:
    """The hottest group, and the hottest of every stretch that fails or is tight."""
    marked = [hottest]
    for verdict, some in groupby(groups, key=lambda one: one.verdict):
        stretch = max(some, key=lambda one: one.load_W)
        if verdict != "holds" and stretch is not hottest:
            marked.append(stretch)
    return [
        Value(
            (one.from_m + one.to_m) / 2,
            f"{'' if one.verdict == 'holds' else f'{one.verdict} '}{one.which} {figure_text(one.load_W)} W",
            one.told,
            one.verdict == "fails",
        )
        for one in marked
    ]


def _plot(
    sheet: Sheet, groups: Sequence[GroupHeat], hottest: GroupHeat, above: float
) -> tuple[list[Spec], float, list[KeyEntry]]:
    """Bars on a scale up to a little over the limit; layers, foot [px], key."""
    ceiling = above + (ARROW_PX if hottest.share > MOST_SHARE else 0.0)
    foot = ceiling + PLOT_PX
    limit = foot - PLOT_PX / MOST_SHARE
    bars = [LimitBar(one.from_m, one.to_m, one.share, True, one.told) for one in groups]
    layers = [*sheet.ground(above, foot), *bar_layers(sheet, bars, foot, limit, ceiling, _STROKE_PX)]
    layers += sheet.level(foot, "0", color=GREY, strokeWidth=0.8)
    layers += sheet.level(limit, f"limit {figure_text(hottest.limit_W)} W")
    return layers, foot, limit_key(bars)


def scale_top_W(hottest_W: float) -> float:
    """Where the scale of a broken plot ends: a round figure no less than the hottest group. [W]

    Examples
    --------
    >>> scale_top_W(0.178), scale_top_W(12.0), scale_top_W(0.00051)
    (0.2, 12.0, 0.0006)
    """
    power = 10.0 ** math.floor(math.log10(hottest_W))
    return float(f"{next(digit * power for digit in _ROUND if digit * power >= hottest_W * (1.0 - 1e-12)):.6g}")


def _broken_plot(
    sheet: Sheet, groups: Sequence[GroupHeat], hottest: GroupHeat, above: float
) -> tuple[list[Spec], float, list[KeyEntry]]:
    """Bars on a scale of their own, the limit line above a break; layers, foot [px], no key."""
    limit, gap = above + 2.0, 2.2 * sheet.text.small_px
    ceiling, top_W = limit + gap, scale_top_W(hottest.load_W)
    foot = ceiling + PLOT_PX - 14.0
    bars = [LimitBar(one.from_m, one.to_m, one.load_W / top_W, True, one.told) for one in groups]
    layers = [*sheet.ground(above, foot), *_break(sheet, limit + gap / 2, hottest)]
    layers += bar_layers(sheet, bars, foot, ceiling, ceiling, _STROKE_PX)
    layers += sheet.level(foot, "0", color=GREY, strokeWidth=0.8)
    layers += sheet.level(ceiling, f"{figure_text(top_W)} W", color=GREY, strokeWidth=0.8)
    layers += sheet.level(limit, f"limit {figure_text(hottest.limit_W)} W")
    return layers, foot, []


def _break(sheet: Sheet, y: float, hottest: GroupHeat) -> list[Spec]:
    """Two dashed lines across the row, and between them how much the scale leaves out there. [px]"""
    half, times = 0.75 * sheet.text.small_px, figure_text(1.0 / hottest.share)
    words = f"scale broken: the limit is {times} times as high as the hottest bar"
    gap = sheet.data.named([{"x": 0.0, "x2": sheet.width_px, "y": y - half, "y2": y + half}])
    lines = sheet.data.named([{"x": 0.0, "x2": sheet.width_px, "y": at} for at in (y - half, y + half)])
    said = sheet.data.named([{"x": sheet.width_px / 2, "y": y, "words": words}])
    place = {"x": pixels("x"), "y": pixels("y")}
    look = {"fontSize": sheet.text.small_px, "baseline": "middle", "align": "center", "color": INK}
    return [
        layer(gap, "rect", {"color": PAPER}, {**place, "x2": end("x2"), "y2": end("y2")}),
        layer(lines, "rule", {"color": QUIET, "strokeWidth": 1, "strokeDash": [7, 5]}, {**place, "x2": end("x2")}),
        layer(said, "text", look, {**place, "text": field("words", "nominal")}),
    ]
