"""The change report: what was changed of a line, and what it does to every promise."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from linewright.evaluation import Evaluation
from linewright.findings import Finding
from linewright.flow.statistics import Interval
from linewright.handover.document.blocks import (
    Block,
    Cell,
    Document,
    GridColumn,
    Heading,
    Part,
    SignHere,
    Tag,
    Words,
    grid,
)
from linewright.handover.files import Content, rows_csv_bytes
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of, told_to
from linewright.handover.wording import bound_of, margin_in_words
from linewright.planning.file_changes import FileChange
from linewright.planning.promises import AnswerRow, MovedFinding, Promises, RateChange, compare_promises
from linewright.quantities import KEEP, number, percent, quantity

ASK: Final = "name the line as it was: --against LINE"
HEADER: Final = (
    "part", "became", "what", "where_before", "where_after", "unit", "verdict_before", "verdict_after", "value_before",
    "value_after", "limit_before", "limit_after", "margin_before", "margin_after",
)  # fmt: skip
_PRICES: Final = ("price", "prices", "baseline")
_WORSE: Final = ("fails", "not checked", "tight", "holds")
NO_ROW: Final = "no row"
_WHAT: Final = GridColumn("what and where", share=3.2)
_LIMIT: Final = GridColumn("limit", share=1.0)
_TENTH: Final = 0.05
_SMALL: Final = 0.001
"""Shares under it are told as such, not as nought."""


def files_of(material: Material) -> dict[str, Content]:
    """``changes.pdf``, ``.html`` and ``.csv``.

    Raises
    ------
    NothingToWrite   No line as it was is named.
    """
    if material.before is None:
        raise NothingToWrite(ASK)
    before, promises = material.before, compare_promises(material.before, material.evaluation)
    return {
        **pages_of("changes", lambda: _document(material, before, promises)),
        "changes.csv": lambda: _csv(material, promises),
    }


def _document(material: Material, before: Evaluation, promises: Promises) -> Document:
    worse = [one for one in promises.findings if _step(one) > 0]
    better = [one for one in promises.findings if _step(one) < 0]
    apart = {id(one) for one in (*worse, *better)}
    others = [one for one in promises.findings if id(one) not in apart]
    first: list[Block] = [
        Heading("What changed, and what it does"),
        *(Words(text, strong=strong) for text, strong in _opening(material, before, promises, worse, better)),
        Heading("What was changed in the line file and its conveyor sheet", 2),
        *_changed(promises.changed, material.for_customer),
        Heading("Promises of the whole line", 2),
        *_answers(material, promises),
        *_rows("Worse than before: fails, not checked, tight, or a row that was not there", worse, material),
        *_rows("Better than before", better, material),
    ]
    hidden = [one for one in others if material.for_customer and _is_internal(one)]
    if hidden:
        first.append(Words(f"{_count(len(hidden), 'row')} that held and still hold moved in value alone."))
    shown = [one for one in others if one not in hidden]
    pages = [tuple(first), *([_others(shown, material)] if shown else [])]
    pages[-1] = (*pages[-1], SignHere(("builder", "customer")))
    return document_of("Change report", material, [Part(page) for page in pages])


def _step(one: MovedFinding) -> int:
    """Above 0 where a promise is worse than it was, below 0 where it is better; a new row that holds is neither."""
    ranks = [3 if row is None else _WORSE.index(row.verdict) for row in (one.before, one.after)]
    return ranks[0] - ranks[1]


def _opening(
    material: Material, before: Evaluation, promises: Promises, worse: list[MovedFinding], better: list[MovedFinding]
) -> list[tuple[str, bool]]:
    """Sentences, each with whether it stands in bold letters."""
    now = material.evaluation
    fails = [one for one in worse if one.row.verdict == "fails"]
    still = sum(one.verdict == "fails" for one in now.findings) - len(fails)
    told = [(_headline(promises, fails, still), True)]
    counts = (
        f"{_rows_words(len(worse))} worse than before, {len(better)} better; of all others "
        f"{_moved_words(len(promises.findings) - len(worse) - len(better))} and {promises.stayed} stayed as they were. "
        "What did not move is not listed."
    )
    told.append((counts, False))
    told.append((rate_sentence(promises.rate), False))
    told.append((f"Line as it was: {before.line.name}, input {before.line.input_hash[:16]}{_how_run(before)}.", False))
    if _how_run(before) != _how_run(now):
        told.append((f"The line as it is was looked at otherwise{_how_run(now)}: runs cannot be paired.", False))
    return told


def _headline(promises: Promises, fails: list[MovedFinding], still: int) -> str:
    if not promises.changed and not promises.findings:
        return "Nothing was changed, and no promise moved."
    if fails:
        start = f"{_count(len(fails), 'row')} {'fails' if len(fails) == 1 else 'fail'} that did not fail before"
    else:
        start = "No row fails that did not fail before"
    ends = "none failed before" if not still and fails else "none fails now" if not still else f"{still} fail as before"
    return f"{start}; {ends}."


def _count(number_of: int, what: str) -> str:
    return f"{number_of}{KEEP}{what}{'' if number_of == 1 else 's'}"


def _rows_words(number_of: int) -> str:
    return f"{_count(number_of, 'row')} {'is' if number_of == 1 else 'are'}"


def _moved_words(number_of: int) -> str:
    return "none moved" if number_of == 0 else f"{number_of} moved under the same verdict"


def _how_run(evaluation: Evaluation) -> str:
    run = evaluation.run
    return ", not simulated" if run is None else f", {run.runs} runs of {run.hours:g}{KEEP}h, seed {run.seed}"


def rate_sentence(rate: RateChange) -> str:
    """What the change does to the rate, and whether that can be told from the luck of the runs.

    Parameters
    ----------
    rate : of both lines
    """
    found = rate.difference
    if found is None:
        return f"What it does to the simulated rate cannot be told: {rate.why}."
    how = "run by run under the same luck" if rate.paired else "between independent runs"
    unit = "good parts an hour"
    if found.low == found.high == 0.0:
        return f"The simulated rate is the same in every run, {how}: good parts {_interval(rate.after)}."
    certain = f"{percent(found.confidence, 0)} confidence"
    if not rate.is_told_from_zero:
        range_ = f"{_signed(found.low)} to {_signed(found.high)} {unit}, {certain}"
        return f"The difference of the simulated rate cannot be told from zero ({range_}), {how}."
    return (
        f"The simulated rate {'rises' if found.mean > 0 else 'falls'} by {_per_h(abs(found.mean))} {unit} "
        f"({_signed(found.low)} to {_signed(found.high)}, {certain}, {how})."
    )


def _signed(value: float) -> str:
    """A difference of rates. [1/h]"""
    return f"{'+' if value > 0 else '−' if value < 0 else ''}{_per_h(abs(value))}"


def _per_h(value: float) -> str:
    """A rate to a tenth, as every paper tells it beside its interval; less than that to four digits. [1/h]"""
    return number(value, 1) if value == 0.0 or value >= _TENTH else number(value)


def _figure(value: float, unit: str | None, units: str, beside: float | None = None) -> str:
    """A figure with its unit, a rate as `_per_h` has it: the same figure is told alike all over the paper."""
    return f"{_per_h(value)} per hour" if unit == "1/h" else quantity(value, unit, units, beside)


# Tables ---------------------------------------------------------------------------------------------------------------


def _changed(changed: Sequence[FileChange], for_customer: bool) -> list[Block]:
    shown = [one for one in changed if not (for_customer and _tells_a_price(one))]
    left_out: list[Block] = [Words("Changes of prices are left out.")] if len(shown) < len(changed) else []
    if not shown:
        return left_out or [Words("Nothing: both files mean the same.")]
    rows = [(one.key, one.before, one.after) for one in shown]
    return [grid(["key", "before", "after"], rows), *left_out]


def _tells_a_price(change: FileChange) -> bool:
    in_text = any(f"{word}:" in text for word in _PRICES for text in (change.before, change.after))
    return in_text or any(word in change.key.split(".") for word in _PRICES)


def _answers(material: Material, promises: Promises) -> list[Block]:
    rows = [_rate_row(promises.rate)] if promises.rate.before != promises.rate.after else []
    rows += [_answer_row(one, material.evaluation.line.units) for one in promises.answer]
    stayed = promises.answers_stayed
    told = Words(f"{_count(stayed, 'more promise')} of the whole line did not move.")
    if not rows:
        return [Words("None moved.")]
    table = grid(["what", ">before", ">after", ">moved"], rows)
    blocks: list[Block] = [table, told] if stayed else [table]
    if promises.rate.difference is not None and not promises.rate.is_told_from_zero:
        blocks.append(Words("Figures that follow from the rate move with its luck: read them with the sentence above."))
    return blocks


def _rate_row(rate: RateChange) -> tuple[str, ...]:
    moved = "" if rate.difference is None else f"{_signed(rate.difference.mean)}"
    if rate.difference is not None and not rate.is_told_from_zero:
        moved += ", not told from 0"
    return ("simulated rate, good parts", _interval(rate.before), _interval(rate.after), moved)


def _interval(found: Interval | None) -> str:
    if found is None:
        return "not known"
    return f"{_per_h(found.mean)} per hour ({_per_h(found.low)} to {_per_h(found.high)})"


def _answer_row(one: AnswerRow, units: str) -> tuple[str, ...]:
    before, after = (_answer(value, other, one.unit, units) for value, other in _both(one.before, one.after))
    moved = ""
    if isinstance(one.before, float) and isinstance(one.after, float):
        difference = one.after - one.before
        sign = "+" if difference > 0 else "−"
        moved = f"{sign}{_figure(abs(difference), one.unit, units)}"
        if one.before and one.unit is not None:
            moved += f" ({_share(sign, abs(difference / one.before))})"
    return (one.what, before, after, moved)


def _both(before: float | str | None, after: float | str | None) -> tuple[tuple[float | str | None, ...], ...]:
    return ((before, after), (after, before))


def _answer(value: float | str | None, beside: float | str | None, unit: str | None, units: str) -> str:
    if value is None:
        return "–"
    if isinstance(value, str):
        return value
    return _figure(value, unit, units, beside if isinstance(beside, float) else None)


def _rows(title: str, found: Iterable[MovedFinding], material: Material) -> list[Block]:
    """Rows whose verdict changed."""
    rows = [_verdict_row(one, material) for one in found]
    if not rows:
        return []
    headings: list[str | GridColumn] = ["=before", "=now", _WHAT, ">before", ">now", _LIMIT]
    return [Heading(title, 2), grid(headings, rows)]


def _verdict_row(one: MovedFinding, material: Material) -> tuple[Cell, ...]:
    told = _told(one.row, material)
    what = f"{told.code}: {told.where}"
    if one.after is not None and told.remedy and told.verdict != "holds":
        what += f" → {told.remedy}"
    return (
        NO_ROW if one.before is None else Tag(one.before.verdict),
        NO_ROW if one.after is None else Tag(one.after.verdict),
        what,
        _value(one.before, one.after, material),
        _value(one.after, one.before, material),
        _limits(one, material),
    )


def _value(row: Finding | None, other: Finding | None, material: Material) -> str:
    """A finding's value, in the size in which the other's is told; for the customer not of a row that holds."""
    if row is None or row.value is None or (material.for_customer and row.verdict == "holds"):
        return ""
    sizes = [abs(one) for one in (row.limit, None if other is None else other.value) if one is not None]
    beside = max(sizes, default=None)
    return _figure(row.value, row.unit, material.evaluation.line.units, beside)


def _limits(one: MovedFinding, material: Material) -> str:
    """The limit, and the former one where it moved."""
    was, becomes = ("" if row is None else _limit(row, material) for row in (one.before, one.after))
    if one.after is None or was == becomes:
        return was
    return f"{becomes or 'none'} (was {was})" if was else becomes


def _limit(row: Finding, material: Material) -> str:
    if row.limit is None:
        return ""
    return f"{bound_of(row)} {_figure(row.limit, row.unit, material.evaluation.line.units, row.value)}"


def _others(found: list[MovedFinding], material: Material) -> tuple[Block, ...]:
    """Rows that moved under the same verdict, and new and gone rows that hold."""
    headings: list[str | GridColumn] = ["=", _WHAT, ">before", ">now", ">moved", _LIMIT]
    if not material.for_customer:
        headings.append(">margin")
    order = sorted(found, key=lambda one: (_WORSE.index(one.row.verdict), -_relative(one)))
    return (
        Heading("What else moved, with the same verdict as before"),
        Words(
            "Rows that fail stand first, then the greatest share. Figures from the simulated time move a little with "
            "any change, for the luck of the runs falls otherwise."
        ),
        grid(headings, [_moved_row(one, material) for one in order]),
    )


def _is_internal(one: MovedFinding) -> bool:
    """Whether a row tells the customer nothing: it held, it holds, and its limit is as it was."""
    if one.before is None or one.after is None:
        return False
    return one.after.verdict == one.before.verdict == "holds" and one.before.limit == one.after.limit


def _relative(one: MovedFinding) -> float:
    """The greater share by which value or limit moved; of new and gone rows more than any."""
    if one.before is None or one.after is None:
        return float("inf")
    shares = [0.0]
    for old, new in ((one.before.value, one.after.value), (one.before.limit, one.after.limit)):
        if old is not None and new is not None and old != new:
            shares.append(abs(new - old) / max(abs(old), abs(new)))
    return max(shares)


def _told(row: Finding, material: Material) -> Finding:
    """A finding in the words that the reader gets."""
    (told,) = told_to([row], material)
    return told


def _moved_row(one: MovedFinding, material: Material) -> tuple[Cell, ...]:
    before, after = one.before, one.after
    where = f"{one.row.code}: {_told(one.row, material).where}"
    if before is None or after is None:
        where += " (new row)" if before is None else " (row is gone)"
    values = [_value(before, after, material), _value(after, before, material)]
    cells: tuple[Cell, ...] = (Tag(one.row.verdict), where, *values, _by(one, material), _limits(one, material))
    if material.for_customer:
        return cells
    margin = "" if after is None or after.margin is None else margin_in_words(after.margin)
    return (*cells, margin)


def _by(one: MovedFinding, material: Material) -> str:
    """By how much of itself the value moved."""
    old, new = (None if row is None else row.value for row in (one.before, one.after))
    if old is None or new is None or old == new or (material.for_customer and one.row.verdict == "holds"):
        return ""
    sign = "+" if new > old else "−"
    if old == 0.0:
        return f"{sign}{_figure(abs(new), one.row.unit, material.evaluation.line.units)}"
    return _share(sign, abs((new - old) / old))


def _share(sign: str, share: float) -> str:
    return f"{sign}{percent(share)}" if share >= _SMALL else f"under 0.1{KEEP}%"


def _csv(material: Material, promises: Promises) -> bytes:
    secret = material.for_customer
    rows: list[tuple[object, ...]] = [
        ("file", "", one.key, *[""] * 5, one.before, one.after, *[""] * 4)
        for one in promises.changed
        if not (secret and _tells_a_price(one))
    ]
    rates = [None if one is None else one.mean for one in (promises.rate.before, promises.rate.after)]
    if rates[0] != rates[1]:
        rows.append(("line", "moved", "simulated rate", "", "", "1/h", "", "", *rates, *[""] * 4))
    for answer in promises.answer:
        figures = (answer.unit, "", "", answer.before, answer.after)
        rows.append(("line", "moved", answer.what, "", "", *figures, *[""] * 4))
    rows += [_csv_row(one, material) for one in promises.findings if not (secret and _is_internal(one))]
    return rows_csv_bytes(HEADER, rows)


def _csv_row(one: MovedFinding, material: Material) -> tuple[object, ...]:
    secret = material.for_customer
    sides = (one.before, one.after)
    values = [None if row is None or (secret and row.verdict == "holds") else row.value for row in sides]
    margins = [None if row is None or (secret and row.verdict == "holds") else row.margin for row in sides]
    return (
        one.row.subject,
        one.became,
        one.row.code,
        *(None if row is None else _told(row, material).where for row in sides),
        one.row.unit,
        *(None if row is None else row.verdict for row in sides),
        *values,
        *(None if row is None else row.limit for row in sides),
        *margins,
    )
