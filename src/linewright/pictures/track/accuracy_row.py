"""Row accuracy: at each station with a tolerance the Cpk that is asked for, as a share of the one that is found.

As in the row strength less is better and 100 % is just held. In the width of a bar those of x, y and z stand side by
side, as far as any station has a tolerance there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.checks.accuracy import words
from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Verdict
from linewright.pictures.key import MARK_PX, KeyEntry
from linewright.pictures.labels import place_labels, text_width_px
from linewright.pictures.style import GREY, HUE, PALE, PAPER, QUIET
from linewright.pictures.track.limit_bars import LimitBar, bar_glyph, limit_key, limit_plot, named
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.strength_row import findings_of
from linewright.pictures.track.values import Value

PLOT_PX: Final = 60.0
LEAST_PX: Final = 4.0  # width of the bar of one axis, where stations stand close
AXIS_FILLS: Final = {"x": QUIET, "y": GREY, "z": PALE}
AXIS_WORDS: Final = {"x": "x (along)", "y": "y (across)", "z": "z (up)"}


@dataclass(frozen=True)
class AxisUse:
    """One station on one axis.

    Parameters
    ----------
    station, axis : which
    share : asked Cpk over found Cpk; infinite where none can be reached; not a number where none is known
    index : ``Cpk 1.68 of 1.33``; empty where there is no index
    verdict : of the finding ``capability``
    told : the whole sentence
    """

    station: str
    axis: str
    share: float
    index: str
    verdict: Verdict
    told: str


def accuracy_row(sheet: Sheet) -> Row:
    """Beside one another in each bar its axes; over it the index of the worst of them."""
    if sheet.evaluation.limits is None:
        return sheet.missing("accuracy", "Accuracy", "no carrier can move here: see the findings")
    uses = axis_uses(sheet.evaluation)
    if not uses:
        return sheet.missing("accuracy", "Accuracy", "no station states the key tolerance")
    heading, top = sheet.heading("Accuracy (asked Cpk, as % of the found Cpk)", _heading(uses))
    known_axes = axes_of(uses)
    each_m = max(LEAST_PX * sheet.m_a_px, sheet.bar_m() / len(known_axes))
    bars = []
    for use in uses:
        left_m = sheet.station_m(use.station) + (known_axes.index(use.axis) - len(known_axes) / 2) * each_m
        known, fill = use.verdict != "not checked", AXIS_FILLS[use.axis]
        bars.append(LimitBar(left_m, left_m + each_m, use.share, known, use.told, fill))
    layers, height = limit_plot(sheet, _values(sheet, uses), bars, top, PLOT_PX)
    return sheet.row("accuracy", [*heading, *layers], height, [*_key(uses), *limit_key(bars)])


def axes_of(uses: tuple[AxisUse, ...]) -> str:
    """The axes on which any station has a tolerance, such as ``xy``."""
    return "".join(axis for axis in "xyz" if any(use.axis == axis for use in uses))


def axis_uses(evaluation: Evaluation) -> tuple[AxisUse, ...]:
    """Every station and axis with a tolerance, a tolerance of ±0 too, in the order of the line."""
    assert evaluation.limits is not None
    summary = {(row["station"], row["axis"]): row for row in evaluation.limits.accuracy.summary.rows()}
    found: list[AxisUse] = []
    for station in evaluation.line.stations:
        if station.tolerance is None:
            continue
        asked = {"x": station.tolerance.x_m, "y": station.tolerance.y_m, "z": station.tolerance.z_m}
        found += [
            _use(evaluation, station.name, axis, summary.get((station.name, axis)))
            for axis, asked_m in asked.items()
            if asked_m is not None
        ]
    return tuple(found)


def _use(evaluation: Evaluation, station: str, axis: str, row: dict[str, float] | None) -> AxisUse:
    line, start = evaluation.line, words.where(station, axis)
    rows = [one for one in findings_of(evaluation, "accuracy", f"{start}:") if one.code == "capability"]
    verdict: Verdict = rows[0].verdict if rows else "not checked"
    said = f"{station}, {AXIS_WORDS[axis]}: {verdict}"
    if row is None:
        return AxisUse(station, axis, math.inf, "", verdict, f"{said}; a tolerance of ±0, which nothing meets")
    asked, cpk = row["asked_cpk"], row["cpk"]
    index = "" if math.isnan(cpk) else index_words(cpk, asked)
    if math.isnan(cpk):  # without a spread there is no index; the bias alone may be too much
        share = math.inf if verdict == "fails" else math.nan
        told = [said, "no spread is stated, so there is no index"]
    else:
        share = asked / cpk if cpk > 0.0 else math.inf
        told = [said, f"{index} asked", f"Cp {words.figure_text(row['cp'])}"]
    told.append(f"tolerance ±{words.length(line, row['tolerance_m'])}")
    told.append(f"worst case ±{words.length(line, row['worst_case_m'])}")
    told += [f"largest: {row['largest']}"] if row["largest"] else []
    told += [f"{row['not_stated']:.0f} figures are not stated and not counted"] if row["not_stated"] else []
    return AxisUse(station, axis, share, index, verdict, "; ".join(told))


def index_words(cpk: float, asked: float) -> str:
    """``Cpk 1.68 of 1.33``, rounded for reading but never across what is asked.

    Examples
    --------
    >>> index_words(1.6797, 1.33), index_words(1.329, 1.33)
    ('Cpk 1.68 of 1.33', 'Cpk under 1.33 of 1.33')
    """
    limit = words.figure_text(asked)
    found = f"{cpk:.2f}"
    if cpk < asked and float(found) >= asked:
        found = f"under {limit}"
    return f"Cpk {found} of {limit}"


def worst_of(uses: tuple[AxisUse, ...]) -> AxisUse:
    """The one whose verdict is worst, of several the one with the greatest share."""
    return min(uses, key=lambda use: (WORST_FIRST.index(use.verdict), 0.0 if math.isnan(use.share) else -use.share))


def _heading(uses: tuple[AxisUse, ...]) -> str:
    worst = worst_of(uses)
    said = [f"Worst: {worst.station} {worst.axis}, {worst.index or 'no index'}{_unless_held(worst)}."]
    for verdict, word in (("fails", "Fails"), ("tight", "Tight"), ("not checked", "Not checked in full")):
        names = list(dict.fromkeys(f"{use.station} {use.axis}" for use in uses if use.verdict == verdict))
        said += [f"{word}: {named(names)}."] if names else []
    return " ".join(said)


def _unless_held(use: AxisUse) -> str:
    return "" if use.verdict == "holds" else f" ({use.verdict})"


def _values(sheet: Sheet, uses: tuple[AxisUse, ...]) -> list[Value]:
    """Over each station the worst of its axes, which axis too where there is room."""
    worst = [
        worst_of(tuple(use for use in uses if use.station == station))
        for station in dict.fromkeys(use.station for use in uses)
    ]
    places = [sheet.to_px(sheet.station_m(use.station)) for use in worst]
    size, texts = sheet.text.small_px, []
    for form in ("{verdict}{axis} {index}", "{verdict}{number}"):
        texts = [
            form.format(
                verdict="" if use.verdict == "holds" else f"{use.verdict} ",
                axis=use.axis,
                index=use.index,
                number=use.index.removeprefix("Cpk "),
            ).strip()
            for use in worst
        ]
        wide = sum(text_width_px(text, size) + size for text in texts)
        if wide <= sheet.width_px and place_labels(texts, places, sheet.width_px, size).direction == "level":
            break
    return [
        Value(sheet.station_m(use.station), text, use.told, use.verdict in ("fails", "not checked"))
        for use, text in zip(worst, texts, strict=True)
    ]


def _key(uses: tuple[AxisUse, ...]) -> list[KeyEntry]:
    """The bars of one station side by side, and among them the one that is meant, filled."""
    axes, outline = axes_of(uses), {"stroke": HUE, "strokeWidth": 0.8}
    key = []
    for axis in axes:
        left = [(MARK_PX - 6.0) / 2 + (number - len(axes) / 2) * 8.0 for number in range(len(axes))]
        bars = tuple(
            bar_glyph(0.0, 14.0, at, at + 8.0, fill=AXIS_FILLS[axis] if one == axis else PAPER, **outline)
            for one, at in zip(axes, left, strict=True)
        )
        key.append(KeyEntry(f"accuracy in {AXIS_WORDS[axis]}", bars))
    return key
