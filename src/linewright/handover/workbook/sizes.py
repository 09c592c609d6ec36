"""How wide the columns and how high the rows of a sheet must be for what stands in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from linewright.handover.workbook.cells import Cell, Entry, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.places import ENTRY, LABEL, NOTE, UNIT

ROW_POINTS: Final = 13.5
SMALL_POINTS: Final = 10.5
NARROWEST: Final = 9.0
_WIDEST_LABEL: Final = 44.0
# A column of width 10 holds ten digits; words in the same letters are narrower.
_SIGNS_PER_WIDTH: Final = 1.18
_SMALL_PER_WIDTH: Final = 1.45


def note_of(row: Named) -> str:
    """What stands beside a labelled figure: whether it is an input, and its note."""
    is_input = isinstance(row.entry, Cell) and row.entry.is_input
    return "; ".join(words for words in ("input" if is_input else "", row.note) if words)


def text_of(entry: Entry) -> str | None:
    """The text of an entry that is one, of a formula what it comes to; None for a number or a blank."""
    if isinstance(entry, Cell):
        return entry.value if isinstance(entry.value, str) else None
    return entry


def is_figures(column: Listed) -> bool:
    """Whether numbers stand in a column: they and their heading stand on its right."""
    return any(isinstance(one, Cell) and not isinstance(one.value, str) for one in column.entries)


def has_notes_alone(sheet: Sheet) -> bool:
    """Whether no list reaches the column of the notes, so that it can be as wide as they are."""
    return all(isinstance(block, Labelled) or len(block.columns) <= NOTE for block in sheet.blocks)


def lines_of_text(text: str | None, width: float, small: bool = False) -> int:
    """Into how many lines a text breaks; a word that does not fit begins a new one.

    Parameters
    ----------
    text : None for none
    width : of its column
    small : in small letters

    Examples
    --------
    >>> lines_of_text("two words", 20.0), lines_of_text("two words", 6.0), lines_of_text(None, 5.0)
    (1, 2, 1)
    """
    most = width * (_SMALL_PER_WIDTH if small else _SIGNS_PER_WIDTH) - 1.0
    lines, used = 1, 0
    for word in (text or "").split():
        if used and used + 1 + len(word) > most:
            lines, used = lines + 1, 0
        used += len(word) + (1 if used else 0)
    return lines


def row_points(texts: Iterable[tuple[str | None, float]], small: bool = False) -> float:
    """The height of a row of texts, each in its column of some width."""
    lines = max((lines_of_text(text, width, small) for text, width in texts), default=1)
    return lines * (SMALL_POINTS if small else ROW_POINTS) + 2.0


def widths_of(sheet: Sheet) -> list[float]:
    """Of each column, in digits: a number fits, a text up to the widest that a column may be and then breaks."""
    wide: dict[int, list[float]] = {LABEL: [NARROWEST]}
    for block in sheet.blocks:
        if isinstance(block, Lines):
            for column, one in enumerate(block.columns):
                wide.setdefault(column, []).extend(_column_widths(one))
            continue
        for row in block.rows:
            wide[LABEL].append(min(len(row.label) + 2.0, _WIDEST_LABEL))
            wide.setdefault(ENTRY, []).append(_figure_width(row.entry))
            wide.setdefault(UNIT, []).append(len(row.unit) + 2.0)
            if has_notes_alone(sheet):
                wide.setdefault(NOTE, []).append(len(note_of(row)) + 2.0)
    count = max(wide) + 1
    return [min(sheet.widest, max(NARROWEST, *wide.get(column, [NARROWEST]))) for column in range(count)]


def _column_widths(column: Listed) -> Sequence[float]:
    words = (len(word) + 3.0 for word in column.heading.split())
    texts = (len(text) + 2.0 for text in map(text_of, column.entries) if text is not None)
    return [*words, *texts, *map(_figure_width, column.entries), _figure_width(column.total)]


def _figure_width(entry: Entry) -> float:
    if not isinstance(entry, Cell) or entry.value is None or isinstance(entry.value, str):
        return 0.0
    decimals = len(entry.form.partition(".")[2])
    return len(f"{entry.value:,.{decimals}f}") + 3.0
