"""What became of every promise as a line was changed: its rate, its size, and every finding that moved."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding
from linewright.flow.statistics import Interval, paired_comparison
from linewright.layout.footprint import footprint
from linewright.line.demand import HOUR_S, parts_per_year
from linewright.planning.file_changes import FileChange, file_changes
from linewright.planning.same_rows import match_findings

if TYPE_CHECKING:
    from linewright.flow.run import Run

Floats = NDArray[np.float64]
Answer = float | str | None
"""A figure, words, or None where it is not known."""
Became = Literal["now fails", "no longer checked", "now tight", "now holds", "new", "gone", "moved"]

BECAME: Final[tuple[Became, ...]] = (
    "now fails",
    "no longer checked",
    "now tight",
    "now holds",
    "new",
    "gone",
    "moved",
)
"""What may become of a finding, in the order in which a reader wants to know."""
SHOWN_DIGITS: Final = 4
"""Digits of a figure on a page: what is the same in all of them did not move."""
SAME_SHARE: Final = 1e-6
"""Figures that differ by less than this share of the greater are the same, whatever their digits."""


@dataclass(frozen=True)
class AnswerRow:
    """A promise of the line as a whole.

    Parameters
    ----------
    what : ``takt``, ``line cycle``, ``track length`` ...
    before, after : figures in `unit`, or words; None where it is not known
    unit : SI; None for counts and words
    """

    what: str
    before: Answer
    after: Answer
    unit: str | None


@dataclass(frozen=True)
class RateChange:
    """The simulated rate before and after.

    Parameters
    ----------
    before, after : good parts an hour; None where there is no interval. [1/h]
    difference : after less before, with its interval; None where it has none. [1/h]
    paired : both were run under the same luck, and compared run by run
    why : why there is no interval of the difference, in words; empty where there is one
    """

    before: Interval | None
    after: Interval | None
    difference: Interval | None
    paired: bool
    why: str

    @property
    def is_told_from_zero(self) -> bool:
        """Whether the interval of the difference leaves out zero."""
        found = self.difference
        return found is not None and (found.low > 0.0 or found.high < 0.0)


@dataclass(frozen=True)
class MovedFinding:
    """A finding that moved.

    Parameters
    ----------
    became : what became of it
    before, after : the finding; None where there was or is no such row
    """

    became: Became
    before: Finding | None
    after: Finding | None

    @property
    def row(self) -> Finding:
        """The finding as it is, or as it was where it is gone."""
        found = self.after if self.after is not None else self.before
        assert found is not None
        return found


@dataclass(frozen=True)
class Promises:
    """Every promise that moved; of what did not move the number alone.

    Parameters
    ----------
    changed : what stands otherwise in the files
    rate : the simulated rate
    answer : promises of the line as a whole that moved, the rate apart
    findings : those that moved, what fails now first
    stayed : findings that did not move
    answers_stayed : promises of the line as a whole that did not move, the rate apart
    """

    changed: tuple[FileChange, ...]
    rate: RateChange
    answer: tuple[AnswerRow, ...]
    findings: tuple[MovedFinding, ...]
    stayed: int
    answers_stayed: int

    def of(self, became: Became) -> tuple[MovedFinding, ...]:
        """The findings of which this became."""
        return tuple(one for one in self.findings if one.became == became)


def compare_promises(before: Evaluation, after: Evaluation) -> Promises:
    """Before and after of every promise that moved between two lines.

    Parameters
    ----------
    before : of the line as it was
    after : of the line as it is

    Notes      Findings are matched by subject, code and the place that they speak of, not by their words, which hold
               figures; a row of the worst place of a line stays the same row when another place becomes the worst. A
               figure moved where its first four digits did, as they stand on a page.
    """
    answers = _answers(before, after)
    moved = [one for one in answers if _moved_answer(one)]
    pairs = match_findings(before.findings, after.findings, (before.line, after.line))
    found = [one for pair in pairs if (one := _moved_finding(*pair)) is not None]
    found.sort(key=lambda one: (BECAME.index(one.became), WORST_FIRST.index(one.row.verdict)))
    return Promises(
        changed=file_changes(before.line, after.line),
        rate=_rate_change(before.run, after.run),
        answer=tuple(moved),
        findings=tuple(found),
        stayed=len(pairs) - len(found),
        answers_stayed=len(answers) - len(moved),
    )


# The rate -------------------------------------------------------------------------------------------------------------


def unpaired_comparison(
    first: Sequence[float] | Floats, second: Sequence[float] | Floats, confidence: float = 0.95
) -> Interval:
    """By how much the mean of the second of two independent sets of runs lies above that of the first.

    Parameters
    ----------
    first, second : shapes (n,) and (m,), n, m >= 2, finite; the sets need not be of one length
    confidence : between 0 and 1

    Returns
    -------
    Interval   of second less first; the values' unit

    Raises
    ------
    ValueError   Fewer than two values, one that is not finite, or a confidence outside (0, 1).

    Notes
    -----
    d ± t(1 − (1 − confidence)/2, f) · √(a + b), a = s₁²/n, b = s₂²/m, f = (a + b)² / (a²/(n − 1) + b²/(m − 1)). For
    values close to normal; their variances may differ.

    Source     B. L. Welch (1947), from memory; held to another program in tests/unit/planning/test_promises.py.

    Examples
    --------
    >>> i = unpaired_comparison([10.0, 12.0, 14.0], [13.0, 15.0, 17.0, 19.0])
    >>> round(i.mean, 3), round(i.low, 3), round(i.high, 3)
    (4.0, -0.463, 8.463)
    """
    from scipy.special import stdtrit

    sets = [np.asarray(one, dtype=np.float64) for one in (first, second)]
    if any(one.ndim != 1 or len(one) < 2 for one in sets):
        raise ValueError("an interval needs at least two values in each of two rows")
    if not all(np.isfinite(one).all() for one in sets):
        raise ValueError("a value is not finite")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"the confidence lies between 0 and 1, not at {confidence}")
    parts = [float(one.var(ddof=1)) / len(one) for one in sets]
    mean = float(sets[1].mean() - sets[0].mean())
    if sum(parts) == 0.0:
        return Interval(mean, mean, mean, confidence)
    freedom = sum(parts) ** 2 / sum(part**2 / (len(one) - 1) for part, one in zip(parts, sets, strict=True))
    half = float(stdtrit(freedom, 0.5 + 0.5 * confidence)) * math.sqrt(sum(parts))
    return Interval(mean, mean - half, mean + half, confidence)


def _rate_change(before: Run | None, after: Run | None) -> RateChange:
    was, becomes = (None if run is None else run.rate for run in (before, after))
    if before is None or after is None:
        which = "neither line" if before is after else "the line as it was" if before is None else "the line as it is"
        return RateChange(was, becomes, None, False, f"{which} {'was' if before is after else 'was not'} simulated")
    reasons = [
        f"the line as it {word} has none: {run.reason}"
        for word, run in (("was", before), ("is", after))
        if run.rate is None
    ]
    if reasons:
        return RateChange(was, becomes, None, False, "; ".join(reasons))
    paired = (before.seed, before.runs, before.hours) == (after.seed, after.runs, after.hours)
    compare = paired_comparison if paired else unpaired_comparison
    return RateChange(was, becomes, compare(before.rates_per_h, after.rates_per_h, after.confidence), paired, "")


# The line as a whole --------------------------------------------------------------------------------------------------


def _answers(before: Evaluation, after: Evaluation) -> list[AnswerRow]:
    rows: tuple[tuple[str, str | None, Callable[[Evaluation], Answer]], ...] = (
        ("takt", "s", lambda one: None if one.takt is None else one.takt.takt_s),
        ("required rate", "1/h", lambda one: None if one.takt is None else HOUR_S / one.takt.takt_s),
        ("line cycle", "s", lambda one: None if one.run is None else one.run.line_cycle_s),
        ("good parts at the simulated rate", "1/year", _parts_a_year),
        ("limiting step", None, lambda one: _limiting(one.run)),
        ("carriers", None, lambda one: float(one.line.carriers)),
        ("stations", None, lambda one: float(len(one.line.stations))),
        ("transfers", None, lambda one: float(len(one.layout.transfers))),
        ("sections", None, lambda one: float(sum(len(lane.sections) for lane in one.layout.lanes))),
        ("length of all lanes", "m", lambda one: math.fsum(lane.length_m for lane in one.layout.lanes)),
        ("footprint of the track, length", "m", lambda one: footprint(one.line, one.layout).length_m),
        ("footprint of the track, width", "m", lambda one: footprint(one.line, one.layout).width_m),
    )
    found = [AnswerRow(what, read(before), read(after), unit) for what, unit, read in rows]
    old, new = ([station.name for station in one.line.stations] for one in (before, after))
    added, removed = [name for name in new if name not in old], [name for name in old if name not in new]
    if added:
        found.append(AnswerRow("stations added", None, ", ".join(added), None))
    if removed:
        found.append(AnswerRow("stations removed", ", ".join(removed), None, None))
    return found


def _limiting(run: Run | None) -> str | None:
    return None if run is None or run.limiting is None else run.limiting.step


def _parts_a_year(evaluation: Evaluation) -> float | None:
    run, takt, demand = evaluation.run, evaluation.takt, evaluation.line.demand
    if run is None or run.line_cycle_s is None or takt is None or demand is None:
        return None
    return parts_per_year(run.line_cycle_s, takt.planned_time_s, demand.losses_not_modelled)


def _moved_answer(row: AnswerRow) -> bool:
    if isinstance(row.before, float) and isinstance(row.after, float):
        return has_moved(row.before, row.after)
    return row.before != row.after


def has_moved(before: float | None, after: float | None) -> bool:
    """Whether a figure changed in what a page shows of it: its first four digits.

    Examples
    --------
    >>> has_moved(1.00001, 1.00002), has_moved(1.0, 1.002), has_moved(None, 0.0), has_moved(0.0, 0.0)
    (False, True, True, False)
    """
    if before is None or after is None:
        return before is not after
    if not (math.isfinite(before) and math.isfinite(after)):
        return not (before == after or (math.isnan(before) and math.isnan(after)))
    if abs(before - after) <= SAME_SHARE * max(abs(before), abs(after)):
        return False
    return float(f"{before:.{SHOWN_DIGITS}g}") != float(f"{after:.{SHOWN_DIGITS}g}")


# Findings -------------------------------------------------------------------------------------------------------------


def _moved_finding(before: Finding | None, after: Finding | None) -> MovedFinding | None:
    if before is None or after is None:
        return MovedFinding("gone" if after is None else "new", before, after)
    if before.verdict != after.verdict:
        words: dict[str, Became] = {
            "fails": "now fails",
            "not checked": "no longer checked",
            "tight": "now tight",
            "holds": "now holds",
        }
        return MovedFinding(words[after.verdict], before, after)
    same_unit = before.unit == after.unit
    if same_unit and not has_moved(before.value, after.value) and not has_moved(before.limit, after.limit):
        return None
    return MovedFinding("moved", before, after)
