"""The track chart: rows that all stand on one horizontal axis, the track unrolled.

Lane, platform, lane, platform ... from left to right in travel; time runs down the page in the string line at the
bottom. A reader's eye goes straight up or down from a problem to its place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from linewright.findings import counts_sentence
from linewright.pictures.grammar import stacked
from linewright.pictures.key import KeyEntry, once
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import Text
from linewright.pictures.track.accuracy_row import accuracy_row
from linewright.pictures.track.feeder_row import feeder_row
from linewright.pictures.track.heat_row import heat_row
from linewright.pictures.track.help_row import help_row
from linewright.pictures.track.sheet import Row, Sheet, sheet_of
from linewright.pictures.track.states_row import states_row
from linewright.pictures.track.strength_row import strength_row
from linewright.pictures.track.string_line import string_line
from linewright.pictures.track.strip import strip_row
from linewright.pictures.track.threads import Seen, what_is_seen
from linewright.pictures.track.time_row import time_row

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.planning.gains import Gains

ROWS: Final = ("track", "time", "states", "help", "strength", "accuracy", "heat", "feeder", "string-line")
"""All rows, from top to bottom."""
KEEP: Final = "\u00a0"
"""Between what no line break may part."""


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
    track = stacked([*(row.chart for row in rows), sheet.ruler()], 10, share_x=True)
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
    """The answer in two lines, then what the reader must know of the data: simulated, of which run, invented."""
    run = evaluation.run
    said = [] if run is None else [_rate_words(evaluation)]
    counts = counts_sentence(evaluation.findings).removesuffix(".")
    said.append(f"{counts}{_failing(evaluation)}. linewright check{'' if run is None else ' --run'} lists them.")
    if run is None or seen is None:
        said.append("No run was simulated: the track, and what of its limits needs none.")
    else:
        runs = f"{run.runs} runs of {run.hours:g}{KEEP}h, seed{KEEP}{run.seed}"
        stretch = f"from {seen.window.start_s:.6g}{KEEP}s to {seen.window.end_s:.6g}{KEEP}s after the start"
        said.append(f"Simulated, not measured: {runs}; the string line is a stretch of run 1, {stretch}.")
    if evaluation.line.conveyor.invented:
        name = evaluation.line.conveyor.name
        said.append(f"The conveyor sheet {name} is invented: do not buy or build from this picture.")
    return said


def _rate_words(evaluation: Evaluation) -> str:
    """Whether the line makes its takt, with what confidence."""
    run, takt = evaluation.run, evaluation.takt
    assert run is not None
    verdict = next((finding.verdict for finding in evaluation.findings if finding.code == "rate"), "not checked")
    shown = {"fails": "FAILS", "not checked": "NOT CHECKED", "tight": "tight", "holds": "holds"}[verdict]
    if run.rate is None:
        return f"Rate: {shown}: {run.reason or 'the runs give none'}."
    low, high = _per_h(run.rate.low), _per_h(run.rate.high)
    interval = f"{100.0 * run.rate.confidence:g}{KEEP}% interval {low} to {high}"
    required = "no demand is stated" if takt is None else f"{_per_h(takt.required_rate_per_h)} required"
    return f"Rate: {shown}: {_per_h(run.rate.mean)} good parts an hour, {interval}; {required}."


def _per_h(rate_per_h: float) -> str:
    return f"{rate_per_h:,.1f}".replace(",", KEEP)


def _failing(evaluation: Evaluation) -> str:
    """What fails and what of it is not checked, by subject."""
    words = []
    for verdict, name in (("fails", "fails"), ("not checked", "NOT CHECKED")):
        counts = Counter(finding.subject for finding in evaluation.findings if finding.verdict == verdict)
        if counts:
            words.append(f"{name}: " + ", ".join(f"{subject}{KEEP}{number}" for subject, number in counts.items()))
    return f" ({'; '.join(words)})" if words else ""
