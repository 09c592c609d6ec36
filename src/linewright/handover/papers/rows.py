"""What all papers have in common: the foot of their pages, and how findings stand in a grid."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final

from linewright.findings import Finding
from linewright.handover.document.blocks import Cell, Document, Grid, GridColumn, Part, Tag
from linewright.handover.document.html import html_of
from linewright.handover.document.pdf import pdf_of
from linewright.handover.papers.material import Material
from linewright.handover.wording import bound_of, margin_in_words
from linewright.quantities import KEEP, quantity
from linewright.version import __version__

# Subjects whose rows tell in their words how near they come to their limits.
_INNER: Final = ("rate", "layout", "motion", "strength", "accuracy", "power", "bus")
AN_AID: Final = (
    "An aid to planning, no conformity and no risk assessment. Follow local codes; a competent, licensed person "
    "decides."
)


def document_of(title: str, material: Material, parts: Sequence[Part]) -> Document:
    """A paper with the head and foot that all papers have.

    Parameters
    ----------
    title : of the paper
    material : of the line
    parts : of the paper
    """
    line = material.evaluation.line
    return Document(title, line.name, foot_of(material), tuple(parts), line.units)


def foot_of(material: Material) -> tuple[str, ...]:
    """What stands at the foot of every page: what it was made from, and that local codes rule."""
    line, run = material.evaluation.line, material.evaluation.run
    simulated = "not simulated" if run is None else f"{run.runs} runs of {run.hours:g}{KEEP}h, seed{KEEP}{run.seed}"
    sheet = line.conveyor
    invented = f"The conveyor sheet {sheet.name} is invented: build nothing from it. " if sheet.invented else ""
    return (f"Linewright {__version__}, {simulated}, input {line.input_hash[:16]}. {invented}", AN_AID)


def pages_of(name: str, write: Callable[[], Document]) -> dict[str, Callable[[], bytes]]:
    """A document's two files: ``NAME.pdf`` and ``NAME.html``; it is put together when the first is asked for."""
    kept: list[Document] = []

    def document() -> Document:
        if not kept:
            kept.append(write())
        return kept[0]

    return {
        f"{name}.pdf": lambda: pdf_of(document()),
        f"{name}.html": lambda: html_of(document()).encode("utf-8"),
    }


def told_to(findings: Iterable[Finding], material: Material) -> tuple[Finding, ...]:
    """The findings in the words that the reader gets: what holds is told to a customer without its inner figures.

    Parameters
    ----------
    findings : of any subject
    material : says whose the paper is

    Notes      Of such a row stands what comes before its first colon or semicolon. Rows of safety, upkeep and traffic
               are told to everybody in full: whoever works at the line needs them.
    """
    return tuple(
        replace(one, where=re.split("[:;] ", one.where, maxsplit=1)[0])
        if material.for_customer and one.verdict == "holds" and one.subject in _INNER
        else one
        for one in findings
    )


def finding_grid(findings: Iterable[Finding], material: Material) -> Grid:
    """Findings as a grid: verdict, what and where, value, limit, margin, source.

    Parameters
    ----------
    findings : in the order in which they are to stand
    material : of the line; for its customer a row that holds tells its limit, but neither value nor margin

    Notes      Under a row that does not hold stands what to do about it.
    """
    units = material.evaluation.line.units
    columns = (
        GridColumn("", share=0.0),
        GridColumn("what and where", share=4.0),
        GridColumn("value", "right", 0.0),
        GridColumn("limit", "right", 0.0),
        GridColumn("margin", "right", 0.0),
        GridColumn("source", share=2.0),
    )
    rows = [_row(finding, units, material.for_customer) for finding in told_to(findings, material)]
    if material.for_customer:
        keep = (0, 1, 2, 3, 5)
        return Grid(tuple(columns[i] for i in keep), tuple(tuple(row[i] for i in keep) for row in rows))
    return Grid(columns, tuple(rows))


def _row(finding: Finding, units: str, for_customer: bool) -> tuple[Cell, ...]:
    value, limit, margin = finding.value, finding.limit, finding.margin
    hidden = for_customer and finding.verdict == "holds"
    what = f"{finding.code}: {finding.where}"
    if finding.remedy and finding.verdict != "holds":
        what += f" → {finding.remedy}"
    return (
        Tag(finding.verdict),
        what,
        "" if value is None or hidden else quantity(value, finding.unit, units, limit),
        "" if limit is None else f"{bound_of(finding)} {quantity(limit, finding.unit, units, value)}",
        "" if margin is None or hidden else margin_in_words(margin),
        finding.source,
    )
