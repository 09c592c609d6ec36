"""The tables of a handover: ``tables.xlsx`` with formulas, and every table in SI units as CSV."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from linewright.handover.files import csv_bytes
from linewright.handover.papers.rows import foot_of
from linewright.handover.workbook.book import MOST_FOOTER_SIGNS, book_bytes
from linewright.handover.workbook.bus import bus_sheet
from linewright.handover.workbook.buying import parts_sheet
from linewright.handover.workbook.cables import cables_sheet
from linewright.handover.workbook.electrical import electrical_sheet
from linewright.handover.workbook.found import causes_by_place_sheet, causes_sheet, findings_sheet, upkeep_sheet
from linewright.handover.workbook.front import front_sheet
from linewright.handover.workbook.payback import payback_sheet
from linewright.handover.workbook.planned import answer_sheet, demand_sheet
from linewright.handover.workbook.track import moves_sheet, states_sheet, stations_sheet, stops_sheet
from linewright.quantities import KEEP

if TYPE_CHECKING:
    from linewright.handover.files import Content
    from linewright.handover.papers.material import Material
    from linewright.handover.workbook.cells import Sheet

_SHEETS: Final[tuple[Callable[[Material], Sheet], ...]] = (
    answer_sheet,
    findings_sheet,
    parts_sheet,
    demand_sheet,
    payback_sheet,
    stations_sheet,
    states_sheet,
    stops_sheet,
    moves_sheet,
    causes_sheet,
    causes_by_place_sheet,
    electrical_sheet,
    cables_sheet,
    bus_sheet,
    upkeep_sheet,
)
_BUILDER_ALONE: Final = (payback_sheet,)


def files_of(material: Material) -> Mapping[str, Content]:
    """The files of this paper: the workbook and its CSV files.

    Parameters
    ----------
    material : of the line; its customer's edition has no prices, no payback and no margins
    """
    sheets = sheets_of(material)
    files: dict[str, Content] = {"tables.xlsx": partial(_workbook, material, sheets)}
    for sheet in sheets:
        for name, table in sheet.tables:
            files[f"tables-{name}.csv"] = partial(csv_bytes, table)
    return files


def sheets_of(material: Material) -> tuple[Sheet, ...]:
    """All sheets, Read me first."""
    kept = [make for make in _SHEETS if not (material.for_customer and make in _BUILDER_ALONE)]
    sheets = tuple(make(material) for make in kept)
    return (front_sheet(material, sheets), *sheets)


def _workbook(material: Material, sheets: tuple[Sheet, ...]) -> bytes:
    line = material.evaluation.line
    told = [one.strip().replace(KEEP, " ") for one in foot_of(material)]
    # The foot of a page holds few signs: of a long one what everything was made from stands on Read me.
    footer = " ".join(told) if len(" ".join(told)) <= MOST_FOOTER_SIGNS else told[-1]
    return book_bytes(sheets, line.name, footer, line.units)
