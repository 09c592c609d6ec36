"""What the dossier's chapters have in common: figures with their unit, the findings of a subject, why nothing is
known."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewright.findings import counts_sentence
from linewright.handover.document.blocks import Block, Cell, Grid, GridColumn, Heading, Part, Words, grid
from linewright.handover.papers.rows import all_findings, finding_grid
from linewright.handover.subjects import by_subject
from linewright.quantities import KEEP, number, percent, quantity

if TYPE_CHECKING:
    from linewright.findings import Finding
    from linewright.handover.papers.material import Material

UNKNOWN: Final = "-"
"""Stands where a figure is not known."""
NO_LIMITS: Final = (
    "Nothing more is known here: no carrier can be accelerated on this track, so neither forces nor currents nor wear "
    "follow. See the row on thrust in the chapter on motion."
)
# Most letters of the words of a row that holds, on the page of a place: a line and a half.
_SHORT: Final = 80
Column = tuple[str, bool, Sequence[Cell]]
"""Heading as for `grid`, whether it is for the builder alone, and the cells."""


def shown(value: float | None, unit: str | None, material: Material, beside: float | None = None) -> str:
    """A figure with its unit as the line's findings show it; a dash where it is not known.

    Parameters
    ----------
    value : in `unit`, SI; None or not a number where it is not known
    unit : of a finding
    material : of the line, for the units of its file
    beside : see `linewright.quantities.quantity`
    """
    if value is None or not math.isfinite(value):
        return UNKNOWN
    return quantity(value, unit, material.evaluation.line.units, beside)


def plus_minus(value: float | None, material: Material) -> str:
    """A length plus and minus; a dash where it is not known. [m]"""
    text = shown(value, "m", material)
    return text if text == UNKNOWN else f"±{text}"


def plain(value: float | None) -> str:
    """A figure without a unit; a dash where it is not known."""
    return UNKNOWN if value is None or not math.isfinite(value) else number(value)


def seconds(value: float | None) -> str:
    """A time per good part, to the millisecond, as the page of the rate has it. [s]"""
    return UNKNOWN if value is None or not math.isfinite(value) else f"{number(value, 3)}{KEEP}s"


def share(value: float | None) -> str:
    """A share in per cent; a dash where it is not known."""
    return UNKNOWN if value is None or not math.isfinite(value) else percent(value)


def columns(material: Material, described: Iterable[Column]) -> Grid:
    """A grid put together column by column, those for the builder alone left out of the customer's.

    Parameters
    ----------
    material : says whose the paper is
    described : from left to right
    """
    kept = [one for one in described if not (one[1] and material.for_customer)]
    return grid([heading for heading, _, _ in kept], list(zip(*(cells for _, _, cells in kept), strict=True)))


def pairs(heads: tuple[str, str], left: Sequence[tuple[str, str]], right: Sequence[tuple[str, str]]) -> Grid:
    """Two lists of labels and words, side by side under a heading each."""
    rows = max(len(left), len(right))
    padded = [[*one, *[("", "")] * (rows - len(one))] for one in (left, right)]
    cells = [(a, b, c, d) for (a, b), (c, d) in zip(*padded, strict=True)]
    heading = (GridColumn(heads[0], share=0.0), GridColumn("", share=1.0), GridColumn(heads[1], share=0.0))
    return grid((*heading, GridColumn("", share=1.0)), cells)


def findings_of(material: Material, subject: str) -> tuple[Finding, ...]:
    """The findings of a subject, the worst first.

    Parameters
    ----------
    material : of the line
    subject : such as ``power``
    """
    found = (one.findings for one in by_subject(material.evaluation.findings) if one.subject == subject)
    return next(found, ())


def sources_of(material: Material) -> dict[str, int]:
    """Each source that a finding cites -> its number in the list of the last chapter, counted from 1.

    Parameters
    ----------
    material : of the line; the findings of its proof cite sources too
    """
    cited = dict.fromkeys(one.source for one in all_findings(material) if one.source)
    return {source: number for number, source in enumerate(cited, start=1)}


def finding_blocks(
    findings: tuple[Finding, ...],
    material: Material,
    counted: tuple[Finding, ...] | None = None,
    subject: str = "Findings",
) -> tuple[Block, ...]:
    """Findings under a heading that counts them, the number of the source of each behind its words.

    Parameters
    ----------
    findings : in the order in which they are to stand
    material : of the line
    counted : what the heading counts, where several of them stand in one row
    subject : what the heading begins with
    """
    if not findings:
        return Heading(subject, 2), Words("There is no row.")
    counts = counts_sentence(findings if counted is None else counted).removesuffix(".").replace("Findings", subject)
    return Heading(counts, 2), _with_sources(finding_grid(findings, material), sources_of(material))


def _with_sources(found: Grid, sources: Mapping[str, int]) -> Grid:
    """The same rows in fewer lines: the last column, the source, as a number in brackets behind what the row is
    about."""
    rows = tuple((tag, f"{what}{_cited(source, sources)}", *figures) for tag, what, *figures, source in found.rows)
    return Grid(found.columns[:-1], rows)


def _cited(source: Cell, sources: Mapping[str, int]) -> str:
    number = sources.get(source) if isinstance(source, str) else None
    return "" if number is None else f"{KEEP}[{number}]"


def chapter(title: str, subject: str, blocks: Sequence[Block], material: Material) -> tuple[Part, ...]:
    """A chapter: its heading, what it tells, and the findings of its subject.

    Parameters
    ----------
    title : of the chapter
    subject : of the findings
    blocks : between the heading and the findings
    material : of the line
    """
    findings = finding_blocks(findings_of(material, subject), material)
    return (Part((Heading(title), *blocks, *findings)),)


def place_finding_blocks(findings: tuple[Finding, ...], material: Material) -> tuple[Block, ...]:
    """Findings of one place on its own page: what does not hold in full, what holds in short.

    Parameters
    ----------
    findings : in the order in which they are to stand, and in the words that the reader gets
    material : of the line

    Notes      The words of a row that holds end with ``...`` where they are cut off.
    """
    if not findings:
        return Heading("Findings", 2), Words("No finding is about this place alone.")
    wrong = tuple(one for one in findings if one.verdict != "holds")
    held = tuple(replace(one, where=in_short(one.where)) for one in findings if one.verdict == "holds")
    blocks: list[Block] = [Heading(counts_sentence(findings).removesuffix("."), 2)]
    blocks += [_without_sources(finding_grid(wrong, material), "what and where")] if wrong else []
    blocks += [_without_sources(finding_grid(held, material), "what holds, in short")] if held else []
    return (*blocks, Words("In full, with their sources, these rows stand in the chapters of their subjects."))


def _without_sources(found: Grid, heading: str) -> Grid:
    """The same rows without their last column, the source, and with another heading over what they are about."""
    tag, what, *figures = found.columns[:-1]
    return Grid((tag, replace(what, heading=heading), *figures), tuple(row[:-1] for row in found.rows))


def in_short(where: str) -> str:
    """The first words of a finding, up to a place where a clause ends.

    Examples
    --------
    >>> in_short("only while the guard works"), in_short("a carrier; " + 30 * "and so on, ")
    ('only while the guard works', 'a carrier; and so on, and so on, and so on, and so on, and so on, and so on ...')
    """
    if len(where) <= _SHORT:
        return where
    ends = [match.start() for match in re.finditer(r"[,;:]? \(|[,;:] ", where[: _SHORT + 2])]
    end = ends[-1] if ends and ends[-1] >= _SHORT // 2 else where.rindex(" ", 0, _SHORT)
    return f"{where[:end]} ..."
