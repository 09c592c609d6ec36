"""What a document is made of. A paper is put together from these; how they look is for `pdf` and `html` alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linewright.findings import Verdict

Side = Literal["left", "right"]
PageShape = Literal["tall", "wide", "large"]


@dataclass(frozen=True)
class Heading:
    """A heading of a chapter (level 1) or of a part of it (level 2)."""

    text: str
    level: Literal[1, 2] = 1


@dataclass(frozen=True)
class Words:
    """A paragraph.

    Parameters
    ----------
    text : plain
    strong : in bold letters, for the one sentence that a reader must not miss
    """

    text: str
    strong: bool = False


@dataclass(frozen=True)
class Points:
    """Short paragraphs, each with a dash before it."""

    rows: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Labels and what belongs to them, one under another."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Tag:
    """A verdict as a cell of a grid: what fails and what is not checked stands white on dark."""

    verdict: Verdict


Cell = str | Tag
"""Of a grid; an empty text is a field to be filled in by hand where the grid is a form."""


@dataclass(frozen=True)
class GridColumn:
    """A column of a grid.

    Parameters
    ----------
    heading : with the unit, where all cells share one: ``time (s)``
    side : to which its cells are set; numbers stand to the right
    share : of the width, beside the other columns' shares; 0 for as narrow as its longest word
    """

    heading: str
    side: Side = "left"
    share: float = 1.0


@dataclass(frozen=True)
class Grid:
    """A table of words.

    Parameters
    ----------
    columns : from left to right
    rows : from top to bottom, each as long as `columns`
    row_mm : least height of a row, for forms that are filled in by hand; 0 for as high as its words. [mm]
    width : share of the page's width, above 0 and up to 1

    Raises
    ------
    ValueError   A row is not as long as the columns, or the width is no share.
    """

    columns: tuple[GridColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]
    row_mm: float = 0.0
    width: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.width <= 1.0:
            raise ValueError(f"a width of {self.width}; it lies above 0 and up to 1")
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"a row of {len(row)} cells under {len(self.columns)} columns: {row}")


@dataclass(frozen=True)
class Drawn:
    """A picture, as wide as the page or as high as what is left of it.

    Parameters
    ----------
    svg : text of the drawing
    told : what it shows, for who cannot see it; stands under it too
    share : of the page's height that it may take at most, above 0 and up to 1
    """

    svg: str
    told: str
    share: float = 1.0


@dataclass(frozen=True)
class Caution:
    """A warning in a frame."""

    text: str


@dataclass(frozen=True)
class SignHere:
    """Lines to sign on: name, date and signature of each of these people.

    Parameters
    ----------
    people : such as ``builder``, ``customer``
    """

    people: tuple[str, ...]


@dataclass(frozen=True)
class Kept:
    """Blocks that stand on one page together; no more of them than a page holds."""

    blocks: tuple[Heading | Words | Points | Facts | Grid | Caution, ...]


Block = Heading | Words | Points | Facts | Grid | Drawn | Caution | SignHere | Kept


@dataclass(frozen=True)
class Part:
    """Blocks that begin a new page.

    Parameters
    ----------
    blocks : from top to bottom; they go on over as many pages as they need
    shape : of its pages: tall, wide and twice as large, or large: tall again and four times as large
    letters : size of its letters beside the usual one, for what hangs at a machine
    """

    blocks: tuple[Block, ...]
    shape: PageShape = "tall"
    letters: float = 1.0


@dataclass(frozen=True)
class Document:
    """A whole paper.

    Parameters
    ----------
    title : what it is: ``Dossier``
    line : name of the line; stands at the head of every page beside the title
    foot : at the foot of every page, beside its number: what it rests on, and whose word it is not
    parts : from the first page to the last
    units : ``mm`` for sheets of ISO 216, ``inch`` for those of ANSI
    """

    title: str
    line: str
    foot: tuple[str, ...]
    parts: tuple[Part, ...]
    units: Literal["mm", "inch"]


def grid(
    headings: Sequence[str | GridColumn], rows: Sequence[Sequence[Cell]], row_mm: float = 0.0, width: float = 1.0
) -> Grid:
    """A grid from plain headings.

    Parameters
    ----------
    headings : one that begins with ``>`` is narrow and stands to the right, as numbers do, one that begins with ``=``
        is narrow and stands to the left, as verdicts do
    rows, row_mm, width : of the :class:`Grid`

    Examples
    --------
    >>> grid(["station", ">time (s)"], [["press", "1.4"]]).columns[1]
    GridColumn(heading='time (s)', side='right', share=0.0)
    """
    columns = tuple(one if isinstance(one, GridColumn) else _column(one) for one in headings)
    return Grid(columns, tuple(tuple(row) for row in rows), row_mm, width)


def _column(heading: str) -> GridColumn:
    sides: dict[str, Side] = {">": "right", "=": "left"}
    side = sides.get(heading[:1])
    return GridColumn(heading) if side is None else GridColumn(heading[1:], side, 0.0)


def opened(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """The blocks, those that are kept together one by one.

    Examples
    --------
    >>> [one.text for one in opened([Words("a"), Kept((Words("b"), Words("c")))])]
    ['a', 'b', 'c']
    """
    return tuple(one for block in blocks for one in (block.blocks if isinstance(block, Kept) else (block,)))
