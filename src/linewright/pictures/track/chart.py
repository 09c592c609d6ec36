"""The track chart: rows that all stand on one horizontal axis, the track unrolled.

Lane, platform, lane, platform ... from left to right in travel; time runs down the page in the string line at the
bottom. A reader's eye goes straight up or down from a problem to its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from linewright.pictures.grammar import stacked
from linewright.pictures.key import KeyEntry, once
from linewright.pictures.nothing import why_no_run
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import Text
from linewright.pictures.track.accuracy_row import accuracy_row
from linewright.pictures.track.feeder_row import feeder_row
from linewright.pictures.track.head import head_view
from linewright.pictures.track.heat_row import heat_row
from linewright.pictures.track.help_row import help_row
from linewright.pictures.track.sheet import Row, Sheet, sheet_of
from linewright.pictures.track.states_row import states_row
from linewright.pictures.track.strength_row import strength_row
from linewright.pictures.track.string_line import string_line
from linewright.pictures.track.strip import strip_row
from linewright.pictures.track.threads import Seen, what_is_seen
from linewright.pictures.track.time_row import time_row
from linewright.pictures.wording import invented
from linewright.quantities import KEEP

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.planning.gains import Gains

ROWS: Final = ("track", "time", "states", "help", "strength", "accuracy", "heat", "feeder", "string-line")
"""All rows, from top to bottom."""


@dataclass(frozen=True)
class Shown:
    """What of a run the track chart shows.

    Parameters
    ----------
    rows : names out of ROWS
    start_s : where the string line starts; by default at the end of the warm-up, or so that it ends with the log. [s]
    span_s : how long a stretch it shows; by default two minutes. [s], > 0
    carrier : the one that is drawn bold; by default the one that travels farthest in it
    text : sizes of letters
    """

    rows: tuple[str, ...] = ROWS
    start_s: float | None = None
    span_s: float | None = None
    carrier: int | None = None
    text: Text = field(default_factory=Text)

    def __post_init__(self) -> None:
        wrong = [row for row in self.rows if row not in ROWS]
        if wrong or not self.rows:
            raise ValueError(f"rows is {self.rows}; it must name one or more of {', '.join(ROWS)}")


def track_chart(evaluation: Evaluation, gains: Gains | None = None, shown: Shown | None = None) -> Picture:
    """The track chart of an evaluation.

    Parameters
    ----------
    evaluation : without a run the rows that need one say so
    gains : what would help, where it was tried
    shown : which rows, what stretch of time, which carrier, how large the letters

    Raises
    ------
    ValueError   Nothing was logged from ``start_s`` on, or there is no such carrier.
    """
    shown = Shown() if shown is None else shown
    sheet = sheet_of(evaluation, gains, shown.text)
    seen = what_is_seen(evaluation, shown.start_s, shown.span_s, shown.carrier)
    draw: dict[str, Callable[[], Row]] = {
        "track": lambda: strip_row(sheet, seen),
        "time": lambda: time_row(sheet),
        "states": lambda: states_row(sheet),
        "help": lambda: help_row(sheet),
        "strength": lambda: strength_row(sheet),
        "accuracy": lambda: accuracy_row(sheet),
        "heat": lambda: heat_row(sheet),
        "feeder": lambda: feeder_row(sheet),
        "string-line": lambda: string_line(sheet, seen),
    }
    rows = [draw[name]() for name in ROWS if name in shown.rows]
    return _put_together(sheet, rows, _said(evaluation, seen))


def _put_together(sheet: Sheet, rows: Sequence[Row], said: Sequence[str]) -> Picture:
    track = stacked([head_view(sheet), *(row.chart for row in rows), sheet.ruler()], 10, share_x=True)
    key: list[KeyEntry] = [entry for row in rows for entry in row.key]
    return picture_of(
        "track-chart",
        sheet.line.name,
        said,
        [track],
        once(key),
        sheet.data,
        sheet.text,
        sheet.width_px,
        [row.name for row in rows],
        sheet.ends,
    )


def _said(evaluation: Evaluation, seen: Seen | None) -> list[str]:
    """What the reader must know of the data: simulated, of which run, and that a sheet is invented."""
    run = evaluation.run
    if run is None or seen is None:
        why = why_no_run(evaluation)
        said = [f"{why[:1].upper()}{why[1:]}. Here stand the track, and what of its limits needs no run."]
    else:
        runs = f"{run.runs} runs of {run.hours:g}{KEEP}h, seed{KEEP}{run.seed}"
        said = [f"Simulated, not measured: {runs}; the string line shows run 1 from {seen.window.words}."]
    said += invented(evaluation.line)
    return said
