"""What a sheet of the workbook is made of: cells, lists of columns, labelled figures. Nothing here writes a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.tables import Table

PLAIN: Final = "General"
SHARE: Final = "0.0%"
NO_TRACK: Final = "not known: no carrier can be accelerated on this track; see the sheet Findings"


@dataclass(frozen=True)
class Cell:
    """One cell with more than a text in it.

    Parameters
    ----------
    value : a number or a text; of a formula what it comes to; None for a cell left blank
    form : number format
    formula : begins with ``=``; names other cells as ``{key}``, a whole column of a list as ``{key:}``, a row of it
        from 0 on as ``{key+2}``, and those of another sheet as ``{Sheet!key}``; empty for a plain value
    is_input : the reader may type another value
    """

    value: float | int | str | None
    form: str = PLAIN
    formula: str = ""
    is_input: bool = False


Entry = Cell | str | None
"""What stands in a place of a sheet; None leaves it blank."""


@dataclass(frozen=True)
class Named:
    """A labelled figure.

    Parameters
    ----------
    label : what it is
    entry : the figure or text
    unit : empty where it has none
    note : what to know of it
    key : by which formulas name it; empty where none does
    """

    label: str
    entry: Entry
    unit: str = ""
    note: str = ""
    key: str = ""


@dataclass(frozen=True)
class Labelled:
    """Figures one under another, each with label, unit and note.

    Parameters
    ----------
    rows : the figures
    heading : over them
    """

    rows: tuple[Named, ...]
    heading: str = ""


@dataclass(frozen=True)
class Listed:
    """A column of a list.

    Parameters
    ----------
    key : by which formulas name it; unique within its sheet
    heading : with its unit
    entries : one a row
    meaning : what stands in it, in a few words
    total : under the column; None for none
    """

    key: str
    heading: str
    entries: tuple[Entry, ...]
    meaning: str = ""
    total: Entry = None


@dataclass(frozen=True)
class Lines:
    """A list: columns of one length under their headings.

    Parameters
    ----------
    columns : from left to right
    heading : over the list
    """

    columns: tuple[Listed, ...]
    heading: str = ""

    def __post_init__(self) -> None:
        if len({len(column.entries) for column in self.columns}) != 1:
            raise ValueError(f"columns of different lengths: {[(c.key, len(c.entries)) for c in self.columns]}")

    def __len__(self) -> int:
        return len(self.columns[0].entries)


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet.

    Parameters
    ----------
    name : on its tab
    about : what it holds, one sentence
    blocks : from top to bottom
    tables : name of a CSV file without folder and ending -> the figures in SI units
    notes : what to know of it, a sentence each
    widest : a column with texts, in digits; longer ones break
    """

    name: str
    about: str
    blocks: tuple[Labelled | Lines, ...]
    tables: tuple[tuple[str, Table], ...] = ()
    notes: tuple[str, ...] = ()
    widest: float = 60.0

    @property
    def has_inputs(self) -> bool:
        """Whether the reader may change anything on it."""
        return any(isinstance(entry, Cell) and entry.is_input for entry in self.entries())

    def entries(self) -> list[Entry]:
        """Everything that stands in its blocks."""
        found: list[Entry] = []
        for block in self.blocks:
            if isinstance(block, Labelled):
                found += [row.entry for row in block.rows]
            else:
                found += [entry for column in block.columns for entry in (*column.entries, column.total)]
        return found
