"""The change report: what was changed of a line, and what it does to every promise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.evaluation import Evaluation
from linewright.handover.document.blocks import (
    Block,
    Document,
    Facts,
    Grid,
    Heading,
    Kept,
    Part,
    Words,
    grid,
)
from linewright.handover.dossier.answer import known_when_signed, not_for_real, sign_lines
from linewright.handover.files import Content, rows_csv_bytes
from linewright.handover.papers.changes_words import (
    figure_in_words,
    opening,
    rate_with_interval,
    signed_per_h,
    signed_share,
)
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.moved_rows import changed_verdicts, is_internal, other_rows, told_finding, worse_by
from linewright.handover.papers.rows import document_of, pages_of
from linewright.planning.file_changes import FileChange
from linewright.planning.promises import AnswerRow, MovedFinding, Promises, RateChange, compare_promises
from linewright.quantities import counted

ASK: Final = "name the line as it was: --against LINE"
HEADER: Final = (
    "part", "became", "what", "where_before", "where_after", "unit", "verdict_before", "verdict_after", "value_before",
    "value_after", "limit_before", "limit_after", "margin_before", "margin_after",
)  # fmt: skip
_PRICES: Final = ("price", "prices", "baseline")


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
    worse = [one for one in promises.findings if worse_by(one) > 0]
    better = [one for one in promises.findings if worse_by(one) < 0]
    apart = {id(one) for one in (*worse, *better)}
    others = [one for one in promises.findings if id(one) not in apart]
    first: list[Block] = [
        Heading("What changed, and what it does"),
        *(Words(text, strong=strong) for text, strong in opening(material, before, promises, worse, better)),
        Heading("What was changed in the line file and its conveyor sheet", 2),
        *_changed(promises.changed, material.for_customer),
        *changed_verdicts("Worse than before: fails, not checked, tight, or a row that was not there", worse, material),
        *changed_verdicts("Better than before", better, material),
    ]
    hidden = [one for one in others if material.for_customer and is_internal(one)]
    if hidden:
        first.append(Words(f"{counted(len(hidden), 'row')} that held and still hold moved in value alone."))
    # The lines to sign on stand with the promises that are signed for, never on a page of their own.
    promised = (Heading("Promises of the whole line", 2), *_answers(material, promises))
    shown = [one for one in others if one not in hidden]
    first.append(Kept((*promised, *_signing(material, before, bool(shown)))))
    pages = [tuple(first), *([other_rows(shown, material)] if shown else [])]
    return document_of("Change report", material, [Part(page) for page in pages])


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


def _signing(material: Material, before: Evaluation, goes_on: bool) -> list[Facts | Words | Grid]:
    """What is signed, and where."""
    now = material.evaluation
    lines = [(label, f"{one.line.name}, input {one.line.input_hash}") for label, one in (("From", before), ("To", now))]
    rows = "this report, with the rows that moved on the pages behind it," if goes_on else "this report"
    meaning = (
        f"Signed: both have read {rows} as what the change does to the line{known_when_signed(now.findings)} in the "
        "line as it is. The proof of the traffic is not signed here. It is no acceptance; that is the acceptance "
        "plan's."
    )
    return [Facts(tuple(lines)), Words(meaning + not_for_real(material)), sign_lines()]


def _answers(material: Material, promises: Promises) -> list[Words | Grid]:
    rows = [_rate_row(promises.rate)] if promises.rate.before != promises.rate.after else []
    rows += [_answer_row(one, material.evaluation.line.units) for one in promises.answer]
    stayed = promises.answers_stayed
    told = Words(f"{counted(stayed, 'more promise')} of the whole line did not move.")
    if not rows:
        return [Words("None moved.")]
    table = grid(["what", ">before", ">after", ">moved"], rows)
    blocks: list[Words | Grid] = [table, told] if stayed else [table]
    if promises.rate.difference is not None and not promises.rate.is_told_from_zero:
        blocks.append(Words("Figures that follow from the rate move with its luck: read them with the sentence above."))
    return blocks


def _rate_row(rate: RateChange) -> tuple[str, ...]:
    moved = "" if rate.difference is None else f"{signed_per_h(rate.difference.mean)}"
    if rate.difference is not None and not rate.is_told_from_zero:
        moved += ", not told from 0"
    return ("simulated rate, good parts", rate_with_interval(rate.before), rate_with_interval(rate.after), moved)


def _answer_row(one: AnswerRow, units: str) -> tuple[str, ...]:
    before, after = (_answer(value, other, one.unit, units) for value, other in _both(one.before, one.after))
    moved = ""
    if isinstance(one.before, float) and isinstance(one.after, float):
        difference = one.after - one.before
        sign = "+" if difference > 0 else "-"
        moved = f"{sign}{figure_in_words(abs(difference), one.unit, units)}"
        if one.before and one.unit is not None:
            moved += f" ({signed_share(sign, abs(difference / one.before))})"
    return (one.what, before, after, moved)


def _both(before: float | str | None, after: float | str | None) -> tuple[tuple[float | str | None, ...], ...]:
    return ((before, after), (after, before))


def _answer(value: float | str | None, beside: float | str | None, unit: str | None, units: str) -> str:
    if value is None:
        return "–"
    if isinstance(value, str):
        return value
    return figure_in_words(value, unit, units, beside if isinstance(beside, float) else None)


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
    rows += [_csv_row(one, material) for one in promises.findings if not (secret and is_internal(one))]
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
        *(None if row is None else told_finding(row, material).where for row in sides),
        one.row.unit,
        *(None if row is None else row.verdict for row in sides),
        *values,
        *(None if row is None else row.limit for row in sides),
        *margins,
    )
