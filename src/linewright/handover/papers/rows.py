"""What all papers have in common: the foot of their pages, and how findings stand in a grid."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final

from linewright.findings import Finding, counts_sentence
from linewright.handover.document.blocks import Cell, Document, Grid, GridColumn, Part, Tag
from linewright.handover.document.html import html_of
from linewright.handover.document.pdf import pdf_of
from linewright.handover.papers.material import Material
from linewright.handover.wording import bound_of, margin_in_words
from linewright.quantities import KEEP, quantity
from linewright.version import __version__

# Subjects whose rows tell in their words how near they come to their limits.
_INNER: Final = ("rate", "layout", "motion", "strength", "accuracy", "power", "bus")
# What would help, within the words of a finding and of its remedy.
_HALVED: Final = re.compile(r" \(halved: [^)]*\)")
_WOULD_HELP: Final = re.compile(r" \(the page of `?rate`? shows what would help\)")
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


def proof_findings(material: Material) -> tuple[Finding, ...]:
    """The findings of the proof of the traffic; none where there is no proof."""
    return () if isinstance(material.proof, str) else material.proof.findings


def all_findings(material: Material) -> tuple[Finding, ...]:
    """Every finding of the line, those of the proof of its traffic last."""
    return (*material.evaluation.findings, *proof_findings(material))


def proof_counted(material: Material) -> str:
    """How many rows of the proof fail, are not checked, are tight and hold, or why there are none: a sentence."""
    if isinstance(material.proof, str):
        return f"The proof of the traffic is NOT CHECKED: {material.proof}."
    return counts_sentence(material.proof.findings).replace("Findings:", "And of the proof of the traffic:")


def told_to(findings: Iterable[Finding], material: Material) -> tuple[Finding, ...]:
    """The findings in the words that the reader gets.

    Parameters
    ----------
    findings : of any subject
    material : says whose the paper is

    Notes      To a customer what holds is told without its inner figures: of such a row stands what comes before its
               first colon or semicolon. Rows of safety, upkeep and traffic are told to everybody in full: whoever
               works at the line needs them. What to do he is told of what fails and of what is not checked, never what
               would better a row that is kept.
    """
    return tuple(_told_to_customer(one) if material.for_customer else _plain(one) for one in findings)


def _plain(finding: Finding) -> Finding:
    """Names of commands stand on paper without the marks of a terminal."""
    return replace(finding, remedy=finding.remedy.replace("`", ""))


def _told_to_customer(finding: Finding) -> Finding:
    where, remedy = finding.where, _WOULD_HELP.sub("", finding.remedy)
    if finding.verdict == "holds" and finding.subject in _INNER:
        where = re.split("[:;] ", where, maxsplit=1)[0]
    if finding.verdict in ("holds", "tight"):
        where, remedy = _HALVED.sub("", where), ""
    return _plain(replace(finding, where=where, remedy=remedy))


def finding_grid(findings: Iterable[Finding], material: Material) -> Grid:
    """Findings as a grid: verdict, what and where, value, limit, margin, source.

    Parameters
    ----------
    findings : in the order in which they are to stand
    material : of the line; for its customer a row that holds tells its limit, but neither value nor margin

    Notes      Under a row that does not hold stands what to do about it; see `told_to` for what a customer is told.
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
