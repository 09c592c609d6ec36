"""The hazard list: a start for the risk assessment, as a form with blanks for what people have to decide."""

from __future__ import annotations

from typing import Final

from linewright.checks.safety.hazards import CAUTION
from linewright.evaluation import Limits
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Document,
    GridColumn,
    Heading,
    Part,
    Points,
    SignHere,
    Words,
    grid,
)
from linewright.handover.files import Content, rows_csv_bytes
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import document_of, finding_grid, pages_of

BLANKS: Final = ("risk_estimated", "estimated_by", "measure_decided", "verified_by", "date")
"""Columns that people fill in."""
ROW_MM: Final = 17.0
"""Least height of a row, to write in by hand. [mm]"""
_KNOWN: Final = ("heading", "hazard", "where", "known", "first_measure", "left_to_decide")
_HOW: Final = (
    "Headings are those of ISO 12100:2010, annex B, from memory: hold them against the standard itself.",
    "Every heading stands in the list. That the files have nothing on one does not mean that there is no hazard.",
    "Go through all ways of work: running, set-up, clearing a jam, cleaning, repair, taking carriers off.",
    "For each row: estimate the risk without any measure, decide on a measure, estimate again, verify on the machine.",
    "Measures in this order: a safe design, then guards, then warnings.",
    "“Usually done first” is common practice and no recommendation for this line.",
    "Figures come from the conveyor sheet and the line file; a change of either asks for a new list.",
)
_PEOPLE: Final = ("who assessed the risk", "builder", "owner of the line")


def files_of(material: Material) -> dict[str, Content]:
    """``hazards.pdf``, ``.html`` and ``.csv``.

    Raises
    ------
    NothingToWrite   No carrier can move at all, so that the figures of the list cannot be found.
    """
    limits = material.evaluation.limits
    if limits is None:
        raise NothingToWrite("no carrier of this line can be accelerated: see the findings of linewright check")
    return {
        **pages_of("hazards", lambda: _document(material, limits)),
        "hazards.csv": lambda: _csv(limits),
    }


def _document(material: Material, limits: Limits) -> Document:
    first: tuple[Block, ...] = (
        Heading("Hazard list, a start for the risk assessment"),
        Caution(CAUTION),
        Words(
            "The list holds what the line file and its conveyor sheet know of. It is not the whole: whoever assesses "
            "the risk adds what a look at the machine shows, and what people do at it.",
            strong=True,
        ),
        Points(_HOW),
        SignHere(_PEOPLE),
        Heading("What was checked about people at the line", 2),
        finding_grid(limits.safety.findings, material),
    )
    return document_of("Hazard list", material, [Part(first), Part(_form(limits), "wide")])


def _form(limits: Limits) -> tuple[Block, ...]:
    columns = [
        GridColumn("no.", "right", 0.0),
        GridColumn("kind (ISO 12100)", share=1.1),
        GridColumn("hazard", share=2.0),
        GridColumn("where", share=1.5),
        GridColumn("figures that the files have", share=1.8),
        GridColumn("usually done first", share=1.8),
        GridColumn("left to decide", share=1.8),
        GridColumn("risk estimated, by", share=1.5),
        GridColumn("measure decided", share=2.2),
        GridColumn("verified by", share=1.1),
        GridColumn("date", share=0.9),
    ]
    rows = [
        (str(i), *(str(row[name]) for name in _KNOWN), "", "", "", "")
        for i, row in enumerate(limits.safety.hazards.rows(), 1)
    ]
    rows += [(str(len(rows) + i), *([""] * 10)) for i in range(1, 4)]
    return (
        Heading("The list"),
        Words("Rows at the end are left for what this list does not know of; go on on further sheets."),
        grid(columns, rows, ROW_MM),
    )


def _csv(limits: Limits) -> bytes:
    rows = [(*(row[name] for name in _KNOWN), *([None] * len(BLANKS))) for row in limits.safety.hazards.rows()]
    return rows_csv_bytes((*_KNOWN, *BLANKS), rows)
