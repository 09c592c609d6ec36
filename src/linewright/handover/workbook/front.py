"""The sheet Read me: what the others hold, what may be changed, and what all of it was made from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.findings import counts_sentence
from linewright.handover.assumptions import CAUTION, sheet_sentence
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import proof_counted
from linewright.handover.workbook.cells import Lines, Listed, Sheet
from linewright.quantities import KEEP
from linewright.version import __version__

_UNITS: Final = {
    "mm": "lengths in mm, greater ones in m; the unit stands in the heading",
    "inch": "lengths in inches, greater ones in feet; forces in lbf; the unit stands in the heading",
}
_ABOUT: Final = "What stands where, which cells may be changed, and what everything was made from."


def _counted(material: Material) -> str:
    """How many rows hold and how many do not, of the proof apart."""
    words = counts_sentence(material.evaluation.findings).removeprefix("Findings: ")
    return f"{words} {proof_counted(material)} What is not checked nobody has looked at.".replace(KEEP, " ")


def front_sheet(material: Material, sheets: Sequence[Sheet]) -> Sheet:
    """The first sheet.

    Parameters
    ----------
    material : of the line
    sheets : all others, in their order
    """
    line, run = material.evaluation.line, material.evaluation.run
    rows = [
        ("line", line.name),
        ("made by", f"Linewright {__version__}"),
        ("hash of the input", line.input_hash),
        ("simulated", "no" if run is None else f"{run.runs} runs of {run.hours:g} h, seed {run.seed}"),
        ("conveyor sheet", sheet_sentence(line)),
        ("rows checked", _counted(material)),
        ("units", _UNITS[line.units]),
    ]
    if material.for_customer:
        rows.append(("edition", "for the customer: without prices and without margins"))
    inputs = [sheet.name for sheet in sheets if sheet.has_inputs]
    rows += [
        (
            "cells that may be changed",
            "shaded, with a border, and named input; what depends on them by formula follows",
        ),
        ("they stand on", ", ".join(inputs) if inputs else "none of the sheets"),
        ("what does not follow", "everything simulated or checked: change the line file and run again"),
        (
            "CSV files",
            "the same figures in SI units, as the names of their columns say: s, m, kg, N, A, V, W; shares of one",
        ),
        ("CAUTION", CAUTION),
    ]
    files = tuple(", ".join(f"tables-{name}.csv" for name, _ in sheet.tables) or "none" for sheet in sheets)
    listing = Lines(
        (
            Listed("sheet", "sheet", tuple(sheet.name for sheet in sheets)),
            Listed("holds", "what it holds", tuple(sheet.about for sheet in sheets)),
            Listed("files", "the same as CSV", files),
        ),
        "Sheets",
    )
    told = Lines(
        (
            Listed("what", "what", tuple(label for label, _ in rows)),
            Listed("says", "is", tuple(text for _, text in rows)),
        )
    )
    return Sheet("Read me", _ABOUT, (told, listing), widest=90.0)
