"""The last chapter: all that the dossier rests on, and every source that a finding cites."""

from __future__ import annotations

from linewright.handover.assumptions import CAUTION, assumptions
from linewright.handover.document.blocks import Caution, Facts, Heading, Part, Points, Words
from linewright.handover.dossier.chapter import sources_of
from linewright.handover.papers.material import Material
from linewright.line.model import Line
from linewright.quantities import KEEP


def rests_on_part(material: Material) -> tuple[Part, ...]:
    """What the dossier rests on: assumptions, versions, the conveyor sheet, and the sources by number.

    Parameters
    ----------
    material : of the line
    """
    evaluation = material.evaluation
    tried = material.gains is not None and not material.for_customer
    proved = not isinstance(material.proof, str)
    return (
        Part(
            (
                Heading("What this rests on"),
                Caution(CAUTION),
                Points(assumptions(evaluation, tried, proved)),
                Heading("Versions", 2),
                Facts(tuple(_versions(evaluation.line))),
                Heading("Sources", 2),
                Words("Where the limits and formulas of the findings come from; the findings name them by number."),
                Points(_grouped(sources_of(material))),
            )
        ),
    )


def _grouped(sources: dict[str, int]) -> tuple[str, ...]:
    """The numbered sources, those on one page of the documentation together, all others last."""
    groups: dict[str, list[str]] = {}
    for source, number in sources.items():
        page, _, rest = source.partition(", ")
        together = bool(rest) and page.startswith("docs/")
        groups.setdefault(page if together else "", []).append(f"[{number}]{KEEP}{rest if together else source}")
    return tuple(
        f"{page or 'Others'}: {'; '.join(groups[page])}." for page in sorted(groups, key=lambda page: (not page, page))
    )


def _versions(line: Line) -> list[tuple[str, str]]:
    sheet = line.conveyor
    kind = "invented, matches no maker's conveyor" if sheet.invented else "as typed in, not confirmed"
    note = f"; {sheet.maker_note}" if sheet.maker_note else ""
    return [
        ("line file", f"{line.name}, format {line.version}"),
        ("conveyor sheet", f"{sheet.name}, format {sheet.version}: {kind}{note}"),
    ]
