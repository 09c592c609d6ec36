"""Sheets written as one XLSX file. The same sheets give the same bytes."""

from __future__ import annotations

import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

from linewright.handover.workbook.cells import Cell, Entry, Labelled, Lines, Sheet
from linewright.handover.workbook.places import ENTRY, LABEL, NOTE, UNIT, Placed, body_row, place_all, resolve
from linewright.handover.workbook.sizes import (
    has_notes_alone,
    is_figures,
    note_of,
    row_points,
    text_of,
    widths_of,
)

# The library that writes the file has no types.
Workbook: TypeAlias = Any
Worksheet: TypeAlias = Any
Format: TypeAlias = Any

# A file carries a date of creation; the clock's would make every file another one.
_CREATED: Final = datetime.datetime(2000, 1, 1)
_A4, _LETTER = 9, 1
_FROM_ROWS: Final = 12
"""A list of so many rows or more can be filtered."""
# Light enough to print white; the word "input" says the same.
_INPUT_FILL: Final = "#F3EEDD"
_ON_ONE_PAGE: Final = 55
"""A sheet of fewer rows is printed on one page."""
# Head and foot hold 255 signs at most, commands included.
MOST_FOOTER_SIGNS: Final = 250
_TITLE_SIGNS: Final = 120
_FONT: Final = {"font_name": "Liberation Sans", "font_size": 10, "valign": "vcenter"}


def book_bytes(sheets: Sequence[Sheet], title: str, footer: str, units: str) -> bytes:
    """The bytes of a workbook.

    Parameters
    ----------
    sheets : in the order of their tabs
    title : of the line
    footer : at the foot of every printed page
    units : ``mm`` prints on A4, ``inch`` on letter
    """
    import xlsxwriter

    data = io.BytesIO()
    options = {"in_memory": True, "strings_to_numbers": False, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(data, options)
    book.set_properties({"title": title, "comments": footer, "created": _CREATED})
    # Programs that can are to work every formula out when they open the file.
    book.set_calc_mode("auto")
    pen = _Pen(book)
    placed = place_all(sheets)
    for sheet in sheets:
        out = _Page(book.add_worksheet(sheet.name), sheet, placed, pen, widths_of(sheet))
        _write_sheet(out, title)
        _print_setup(out, title, footer, _A4 if units == "mm" else _LETTER)
    book.close()
    return data.getvalue()


@dataclass(frozen=True, eq=False)
class _Pen:
    """The formats of a workbook, each made once."""

    book: Workbook
    made: dict[tuple[tuple[str, Any], ...], Format] = field(default_factory=dict)

    def format(self, **look: Any) -> Format:
        key = tuple(sorted(look.items()))
        if key not in self.made:
            self.made[key] = self.book.add_format({**_FONT, **look})
        return self.made[key]

    def of(self, entry: Entry, bold: bool = False, indent: int = 0) -> Format:
        look: dict[str, Any] = {"bold": True, "top": 1} if bold else {}
        if isinstance(entry, Cell):
            look["num_format"] = entry.form
            if entry.is_input:
                look |= {"bg_color": _INPUT_FILL, "border": 1}
        if text_of(entry) is not None:
            look |= {"align": "left", "text_wrap": True, "indent": indent}
        return self.format(**look)


@dataclass(frozen=True, eq=False)
class _Page:
    """A sheet that is being written: where it is written to, where all cells lie, and how wide its columns are."""

    page: Worksheet
    sheet: Sheet
    placed: dict[str, Placed]
    pen: _Pen
    widths: Sequence[float]

    def put(self, row: int, column: int, entry: Entry, look: Format) -> None:
        """Write one cell; what is blank is written too, for its look."""
        page = self.page
        value = entry.value if isinstance(entry, Cell) else entry
        if isinstance(entry, Cell) and entry.formula:
            formula = resolve(entry.formula, self.sheet.name, row, self.placed)
            page.write_formula(row, column, formula, look, "" if value is None else value)
        elif value is None:
            page.write_blank(row, column, None, look)
        elif isinstance(value, str):
            page.write_string(row, column, value, look)
        else:
            page.write_number(row, column, value, look)

    def put_long(self, row: int, column: int, entry: Entry) -> None:
        """Write a text that runs on to the right; where it does not fit there, in as many lines as it takes."""
        last = len(self.widths) - 1
        points = row_points([(text_of(entry), sum(self.widths[column:]))])
        breaks = points > row_points([])
        look = self.pen.format(align="left", text_wrap=breaks)
        if breaks:
            self.page.set_row(row, points)
            if column < last:
                self.page.merge_range(row, column, row, last, "", look)
        self.put(row, column, entry, look)


def _write_sheet(out: _Page, title: str) -> None:
    page, sheet, pen = out.page, out.sheet, out.pen
    for column, width in enumerate(out.widths):
        page.set_column(column, column, width)
    page.write_string(0, 0, f"{sheet.name}: {title}", pen.format(bold=True, font_size=14))
    for row, text in enumerate((sheet.about, *sheet.notes), 1):
        out.put_long(row, 0, text)
    for block, top in zip(sheet.blocks, out.placed[sheet.name].tops, strict=True):
        if block.heading:
            page.write_string(top, 0, block.heading, pen.format(bold=True, font_size=12))
        if isinstance(block, Labelled):
            _write_labelled(out, block, body_row(block, top))
        else:
            _write_lines(out, block, body_row(block, top))


def _write_labelled(out: _Page, block: Labelled, first: int) -> None:
    pen = out.pen
    wraps = has_notes_alone(out.sheet)
    for row, one in enumerate(block.rows, first):
        note = note_of(one)
        out.page.write_string(row, LABEL, one.label, pen.format(text_wrap=True))
        if text_of(one.entry) is not None and not one.unit and not note:
            out.put_long(row, ENTRY, one.entry)
            continue
        out.put(row, ENTRY, one.entry, pen.of(one.entry))
        out.page.write_string(row, UNIT, one.unit, pen.format(align="left", indent=1))
        if note:
            out.page.write_string(row, NOTE, note, pen.format(align="left", indent=1, text_wrap=wraps))
        texts = [(one.label, out.widths[LABEL]), (text_of(one.entry), out.widths[ENTRY])]
        texts += [(note, out.widths[-1])] if wraps and note else []
        out.page.set_row(row, row_points(texts))


def _write_lines(out: _Page, block: Lines, first: int) -> None:
    page, pen = out.page, out.pen
    small = pen.format(italic=True, text_wrap=True, font_size=8, valign="bottom")
    for column, one in enumerate(block.columns):
        side = {"align": "right"} if is_figures(one) else {"align": "left", "indent": 1 if column else 0}
        page.write_string(first - 2, column, one.meaning, small)
        page.write_string(first - 1, column, one.heading, pen.format(bold=True, text_wrap=True, bottom=1, **side))
        for row, entry in enumerate(one.entries, first):
            if entry is not None:
                out.put(row, column, entry, pen.of(entry, indent=1 if column else 0))
        if any(other.total is not None for other in block.columns):
            out.put(first + max(len(block), 1), column, one.total, pen.of(one.total, bold=True))
    if not len(block):
        page.write_string(first, 0, "none", pen.format())
    paired = list(zip(block.columns, out.widths, strict=False))
    page.set_row(first - 2, row_points([(one.meaning, width) for one, width in paired], small=True))
    page.set_row(first - 1, row_points([(one.heading, 0.85 * width) for one, width in paired]))
    for row in range(len(block)):
        page.set_row(first + row, row_points([(text_of(one.entries[row]), width) for one, width in paired]))


def _print_setup(out: _Page, title: str, footer: str, paper: int) -> None:
    page, sheet = out.page, out.sheet
    page.set_landscape()
    page.set_paper(paper)
    page.set_margins(left=0.5, right=0.5, top=0.8, bottom=0.8)
    last = out.placed[sheet.name].last_row
    page.fit_to_pages(1, 1 if last < _ON_ONE_PAGE else 0)
    page.set_header(f"&L{_plain(title[:_TITLE_SIGNS])}&C{_plain(sheet.name)}&R&P / &N")
    page.set_footer(f"&L&8{_plain(footer[:MOST_FOOTER_SIGNS])}")
    first, *others = sheet.blocks
    # Headings that stay in sight must not stand over the columns of another list.
    if not isinstance(first, Lines) or any(isinstance(one, Lines) and len(one) >= _FROM_ROWS for one in others):
        page.freeze_panes(1, 0)
        return
    row = body_row(first, out.placed[sheet.name].tops[0])
    page.freeze_panes(row, 1)
    page.repeat_rows(row - 1)
    if len(first) >= _FROM_ROWS:
        page.autofilter(row - 1, 0, row + len(first) - 1, len(first.columns) - 1)


def _plain(text: str) -> str:
    """A text for the head or foot of a page, in which an ampersand begins a command unless it is doubled."""
    return text.replace("&", "&&")
