"""What every station does with its time: one bar of 100 % a station."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.pictures.grammar import Spec, as_is, layer, told
from linewright.pictures.key import fill_entry
from linewright.pictures.nothing import why_no_run
from linewright.pictures.style import FILL_WORDS, FILLS, GREY, HUE, STATE_FILLS
from linewright.pictures.track.sheet import Row, Sheet
from linewright.shares import rounded_shares

TITLE: Final = "What stations do (% of the time)"
FILL_ORDER: Final = ("work", "tool", "change", "waits", "down", "blocked", "starved")
"""From the foot of a bar to its top, in every row that stacks states: those above `down` are its neighbours' doing."""
PLOT_PX: Final = 60.0


@dataclass(frozen=True)
class Piece:
    """One fill of one bar.

    Parameters
    ----------
    axis_m : the middle of the bar. [m]
    fill : name of one of `style.FILLS`
    amount : how much it adds to the bar, >= 0
    told : what a pointer tells of it
    """

    axis_m: float
    fill: str
    amount: float
    told: str


def states_row(sheet: Sheet) -> Row:
    """Each station as one bar: what it does itself at the foot, then repairs, then what its neighbours keep it from."""
    run = sheet.evaluation.run
    if run is None:
        return sheet.missing("states", TITLE, why_no_run(sheet.evaluation))
    rows = run.stations.rows()
    if not all(math.isfinite(float(row[name])) for row in rows for name in STATE_FILLS):
        return sheet.missing("states", TITLE, "the runs are no longer than their warm-up; run longer: --hours")
    heading, top = sheet.heading(TITLE, _words(run.warm_up_s))
    top += 0.5 * sheet.text.small_px  # half of the letters at the highest level
    foot = top + PLOT_PX
    pieces = [piece for row in rows for piece in _pieces(sheet, row)]
    used = {piece.fill for piece in pieces}
    layers = [
        *heading,
        *sheet.ground(top, foot),
        stack_layer(sheet, pieces, foot, PLOT_PX, "states"),
        *sheet.level(top, "100 %", color=GREY, strokeWidth=0.6),
        *sheet.level(foot, "0 %", color=GREY, strokeWidth=0.6),
    ]
    key = [fill_entry(name) for name in FILL_ORDER if name in used]
    return sheet.row("states", layers, foot + 0.5 * sheet.text.small_px, key)


def _words(warm_up_s: float) -> str:
    after = "of all runs" if warm_up_s == 0.0 else f"of all runs after their first {warm_up_s / 60.0:.3g} min"
    return f"In the time {after}. From the foot up: {', '.join(FILL_ORDER)}."


def _pieces(sheet: Sheet, row: Mapping[str, Any]) -> list[Piece]:
    station = str(row["station"])
    shares = fill_shares(row, STATE_FILLS)
    per_cent = rounded_shares([shares[name] for name in FILL_ORDER])
    return [
        Piece(
            sheet.station_m(station),
            name,
            shares[name],
            f"{station}: {said:.1f} % of the time {FILL_WORDS[name]}",
        )
        for name, said in zip(FILL_ORDER, per_cent, strict=True)
        if shares[name] > 0.0
    ]


def fill_shares(row: Mapping[str, Any], columns: Mapping[str, str]) -> dict[str, float]:
    """The shares of a station's states added up by how they are filled; 0 where none is filled so.

    Parameters
    ----------
    row : of a run's stations
    columns : which of its columns count, and the fill of each
    """
    sums = dict.fromkeys(FILL_ORDER, 0.0)
    for column, fill in columns.items():
        sums[fill] += float(row[column])
    return sums


def stack_layer(sheet: Sheet, pieces: Sequence[Piece], foot: float, px_a_unit: float, name: str) -> Spec:
    """Bars of pieces upon one another, the first of each place at the foot.

    Parameters
    ----------
    sheet : takes the rows
    pieces : of all bars; those of one place in the order in which they are stacked
    foot : where bars begin, from the top of the row. [px]
    px_a_unit : height of one unit of an amount. [px]
    name : of the rows
    """
    half_m = 0.5 * sheet.bar_m()
    reached: dict[float, float] = {}
    rows = []
    for piece in pieces:
        low = reached.get(piece.axis_m, 0.0)
        high = reached[piece.axis_m] = low + piece.amount
        place = sheet.span(
            piece.axis_m - half_m, piece.axis_m + half_m, foot - px_a_unit * high, foot - px_a_unit * low
        )
        rows.append({**place, "paint": FILLS[piece.fill].paint, "fill": piece.fill, "name": piece.told})
    look = {"stroke": HUE, "strokeWidth": 0.8, "clip": True}
    return layer(sheet.data.named(rows, name), "rect", look, sheet.box(fill=as_is("paint"), **told()))
