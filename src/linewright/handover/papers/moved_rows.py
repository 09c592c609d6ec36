"""The findings that moved, as tables of the change report."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from linewright.findings import Finding
from linewright.handover.document.blocks import Block, Cell, GridColumn, Heading, Tag, Words, grid
from linewright.handover.papers.changes_words import figure_in_words, signed_share
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import told_to
from linewright.handover.wording import bound_of, margin_in_words
from linewright.planning.promises import MovedFinding

WORSE: Final = ("fails", "not checked", "tight", "holds")
NO_ROW: Final = "no row"
_WHAT: Final = GridColumn("what and where", share=3.2)
_LIMIT: Final = GridColumn("limit", share=1.0)


def worse_by(one: MovedFinding) -> int:
    """Above 0 where a promise is worse than it was, below 0 where it is better; a new row that holds is neither."""
    ranks = [3 if row is None else WORSE.index(row.verdict) for row in (one.before, one.after)]
    return ranks[0] - ranks[1]


def is_internal(one: MovedFinding) -> bool:
    """Whether a row tells the customer nothing: it held, it holds, and its limit is as it was."""
    if one.before is None or one.after is None:
        return False
    return one.after.verdict == one.before.verdict == "holds" and one.before.limit == one.after.limit


def told_finding(row: Finding, material: Material) -> Finding:
    """A finding in the words that the reader gets.

    Parameters
    ----------
    row : of either line
    material : says whose the paper is
    """
    (told,) = told_to([row], material)
    return told


def changed_verdicts(title: str, found: Iterable[MovedFinding], material: Material) -> list[Block]:
    """A table of rows whose verdict changed, under its heading; nothing where there is none.

    Parameters
    ----------
    title : of the heading
    found : the rows
    material : of the line as it is
    """
    rows = [_verdict_row(one, material) for one in found]
    if not rows:
        return []
    headings: list[str | GridColumn] = ["=before", "=now", _WHAT, ">before", ">now", _LIMIT]
    return [Heading(title, 2), grid(headings, rows)]


def _verdict_row(one: MovedFinding, material: Material) -> tuple[Cell, ...]:
    told = told_finding(one.row, material)
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
    return figure_in_words(row.value, row.unit, material.evaluation.line.units, beside)


def _limits(one: MovedFinding, material: Material) -> str:
    """The limit, and the former one where it moved."""
    was, becomes = ("" if row is None else _limit(row, material) for row in (one.before, one.after))
    if one.after is None or was == becomes:
        return was
    return f"{becomes or 'none'} (was {was})" if was else becomes


def _limit(row: Finding, material: Material) -> str:
    if row.limit is None:
        return ""
    return f"{bound_of(row)} {figure_in_words(row.limit, row.unit, material.evaluation.line.units, row.value)}"


def other_rows(found: list[MovedFinding], material: Material) -> tuple[Block, ...]:
    """Rows that moved under the same verdict, and new and gone rows that hold.

    Parameters
    ----------
    found : the rows
    material : of the line as it is
    """
    headings: list[str | GridColumn] = ["=", _WHAT, ">before", ">now", ">moved", _LIMIT]
    if not material.for_customer:
        headings.append(">margin")
    order = sorted(found, key=lambda one: (WORSE.index(one.row.verdict), -_relative(one)))
    return (
        Heading("What else moved, with the same verdict as before"),
        Words(
            "Rows that fail stand first, then the greatest share. Figures from the simulated time move a little with "
            "any change, for the luck of the runs falls otherwise."
        ),
        grid(headings, [_moved_row(one, material) for one in order]),
    )


def _moved_row(one: MovedFinding, material: Material) -> tuple[Cell, ...]:
    before, after = one.before, one.after
    where = f"{one.row.code}: {told_finding(one.row, material).where}"
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
    sign = "+" if new > old else "-"
    if old == 0.0:
        return f"{sign}{figure_in_words(abs(new), one.row.unit, material.evaluation.line.units)}"
    return signed_share(sign, abs((new - old) / old))


def _relative(one: MovedFinding) -> float:
    """The greater share by which value or limit moved; of new and gone rows more than any."""
    if one.before is None or one.after is None:
        return float("inf")
    shares = [0.0]
    for old, new in ((one.before.value, one.after.value), (one.before.limit, one.after.limit)):
        if old is not None and new is not None and old != new:
            shares.append(abs(new - old) / max(abs(old), abs(new)))
    return max(shares)
