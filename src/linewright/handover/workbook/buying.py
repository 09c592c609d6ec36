"""The sheet Parts: what is to be bought, with prices that the reader may type in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.handover.drawing.failing import part_note
from linewright.handover.papers.material import Material
from linewright.handover.workbook.cells import Cell, Entry, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import column_of, figure
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.planning.money.parts_list import PartRow, PartsList

MONEY: Final = "#,##0.00"
NO_CURRENCY: Final = "currency not stated"
_MOST_NAMED: Final = 60
"""A formula that names the items without a price grows with them; of a longer list it only counts them."""


def parts_sheet(material: Material) -> Sheet:
    """The parts list; for the customer without prices."""
    parts = material.parts
    checks = tuple(part_note(material.evaluation, row) for row in parts.rows)
    told = Listed("check", "check", checks, "which check of the electrical side fails; see Findings")
    tables = (("parts", _table(parts, checks, material.for_customer)),)
    if material.for_customer:
        columns = *_columns(parts), told
        return Sheet("Parts", "What the line is made of. Spares: see Upkeep.", (Lines(columns),), tables)
    currency = parts.currency or NO_CURRENCY
    blocks = (Lines((*_columns(parts), *_prices(parts, currency), told)), Labelled(_sums(parts, currency), "Sum"))
    notes = ("A currency is not stated: state the key prices.currency in the conveyor sheet.",)
    return Sheet(
        "Parts",
        "What is to be bought: type a price in, or change one, and price and total follow. Spares: see Upkeep.",
        blocks,
        tables,
        () if parts.currency is not None else notes,
    )


def _columns(parts: PartsList) -> tuple[Listed, ...]:
    rows = parts.rows
    counts = tuple(figure(row.count, "#,##0" if row.count == round(row.count) else "#,##0.00") for row in rows)
    return (
        Listed("item", "item", tuple(row.item for row in rows)),
        Listed("number", "part number", tuple(row.part_number for row in rows), "of the conveyor sheet"),
        Listed("count", "count", counts),
        Listed("unit", "unit", tuple(row.unit for row in rows)),
    )


def _prices(parts: PartsList, currency: str) -> tuple[Listed, ...]:
    rows = parts.rows
    price = '=IF({each}="","",{count}*{each})'
    missing = '=IF({each}="","price missing","")'
    return (
        Listed(
            "each",
            f"price each [{currency}], input",
            tuple(figure(row.price_each, MONEY, is_input=True) for row in rows),
            "of one unit; blank where no file states it",
        ),
        Listed(
            "price",
            f"price [{currency}]",
            tuple(Cell(_price(row), MONEY, price) for row in rows),
            "count times price each",
        ),
        Listed(
            "missing",
            "missing",
            tuple(Cell("" if row.price_each is not None else "price missing", formula=missing) for row in rows),
        ),
        Listed(
            "compared",
            "in the comparison, input",
            tuple(Cell("yes" if row.key is not None else "no", is_input=True) for row in rows),
            "yes: its price counts on the sheet Payback",
        ),
        Listed("source", "source", tuple(row.source for row in rows), "where count and price come from"),
    )


def _price(row: PartRow) -> float | str:
    return "" if row.price is None else row.price


def _sums(parts: PartsList, currency: str) -> tuple[Named, ...]:
    return (
        Named("total of what has a price", Cell(parts.total, MONEY, "=SUM({price:})"), currency, key="total"),
        Named("items without a price", Cell(len(parts.missing), "0", "=COUNTBLANK({each:})"), key="open"),
        Named("complete", _complete(parts)),
    )


def _complete(parts: PartsList) -> Entry:
    """Says in words whether the total is one; names what is missing, and follows the prices that are typed in."""
    count = len(parts.missing)
    begins = f"NOT COMPLETE: {count} {'price' if count == 1 else 'prices'} missing"
    words = '"NOT COMPLETE: "&{open}&IF({open}=1," price"," prices")&" missing"'
    if len(parts.rows) > _MOST_NAMED:
        value = begins
    else:
        value = begins + "".join(f"; {row.item}" for row in parts.rows if row.price_each is None)
        # Row by row: a function that joins cells by a condition is missing in older programs.
        words += "".join(f'&IF({{each+{i}}}="","; "&{{item+{i}}},"")' for i in range(len(parts.rows)))
    return Cell(value if count else "complete", formula=f'=IF({{open}}=0,"complete",{words})')


def _table(parts: PartsList, checks: tuple[str, ...], for_customer: bool) -> Table:
    rows = parts.rows
    columns = [
        column_of("item", None, [row.item for row in rows]),
        column_of("part_number", None, [row.part_number or "" for row in rows]),
        column_of("count", None, [float(row.count) for row in rows]),
        column_of("unit", None, [row.unit for row in rows]),
    ]
    if not for_customer:
        columns += [
            column_of("price_each", parts.currency, [row.price_each for row in rows]),
            column_of("price", parts.currency, [row.price for row in rows]),
            column_of("currency", None, [parts.currency or "" for _ in rows]),
            column_of("source", None, [row.source for row in rows]),
        ]
    columns.append(column_of("check", None, checks))
    return Table(tuple(columns))
