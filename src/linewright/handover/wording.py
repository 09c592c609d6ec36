"""How numbers, places and findings read on a page for a person: plain text, 100 columns, no colour needed."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable
from typing import Final

from linewright.findings import Finding, Verdict
from linewright.quantities import KEEP, percent, quantity

WIDTH: Final = 100
TAGS: Final[dict[Verdict, str]] = {"fails": "FAILS", "not checked": "NOT CHECKED", "tight": "TIGHT", "holds": "holds"}
TAG_WIDTH: Final = 13


def paragraph(text: str, indent: str = "", hang: str | None = None) -> list[str]:
    """Text wrapped to the page; further lines begin with ``hang`` (default: the indent)."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
    )


def fields(rows: Iterable[tuple[str, str]], width: int = 22) -> list[str]:
    """Lines of a label and its text, the texts one under another."""
    lines = []
    for label, text in rows:
        lines += paragraph(text, f"  {label:<{width}}  ", " " * (width + 4))
    return lines


def heading(text: str) -> list[str]:
    """A heading of a part of the page, after an empty line."""
    return ["", text.upper(), "-" * len(text)]


def page(lines: Iterable[str]) -> str:
    """Lines as one text. Anything that could steer a terminal (from a name in a file, say) becomes a question mark."""
    text = "\n".join(line.replace(KEEP, " ").rstrip() for line in lines) + "\n"
    return "".join(sign if sign == "\n" or sign.isprintable() else "?" for sign in text)


def finding_lines(finding: Finding, units: str = "mm", with_source: bool = False) -> list[str]:
    """A finding for a page: verdict, what and where, the figures, and what to do.

    Parameters
    ----------
    finding : of any verdict
    units : ``mm`` or ``inch``
    with_source : whether to say where the limit or the formula comes from
    """
    blank = " " * TAG_WIDTH
    place = "" if finding.place is None else f"  ({finding.place})"
    lines = paragraph(f"{finding.code}: {finding.where}{place}", f"{TAGS[finding.verdict]:<{TAG_WIDTH}}", blank)
    source = f"[{finding.source}]" if with_source else ""
    told = "  ".join(words for words in (figures(finding, units), source) if words)
    lines += paragraph(told, blank) if told else []
    if finding.remedy and finding.verdict != "holds":
        lines += paragraph(finding.remedy, f"{blank}-> ", f"{blank}   ")
    return lines


def figures(finding: Finding, units: str = "mm", with_margin: bool = True) -> str:
    """Value, limit and margin of a finding in words; empty where it has none of them.

    Parameters
    ----------
    finding : of any verdict
    units : ``mm`` or ``inch``
    with_margin : whether the margin is told too

    Notes
    -----
    Whether the limit is the most or the least that may be follows from the sign of the margin.

    Examples
    --------
    >>> row = Finding("pitch", "layout", "holds", "dock", None, 0.3, 0.2, "m", 0.5, "sheet", "")
    >>> figures(row).replace(KEEP, " ")
    '300 mm, at least 200 mm, margin 50.0 %'
    """
    value, limit, margin = finding.value, finding.limit, finding.margin
    words = []
    if value is not None:
        words.append(quantity(value, finding.unit, units, limit))
    bound = bound_of(finding)
    if limit is not None:
        words.append(f"{bound} {quantity(limit, finding.unit, units, value)}")
    elif value is not None and finding.verdict == "holds":
        words.append("no limit")
    if margin is not None and with_margin:
        short = "over by" if bound == "at most" else "short by"
        words.append(f"{'margin' if margin >= 0 else short} {margin_in_words(abs(margin))}")
    return ", ".join(words)


def margin_in_words(margin: float) -> str:
    """A margin in per cent; tenths tell nothing where it is more than the limit itself.

    Examples
    --------
    >>> margin_in_words(-0.035).replace(KEEP, " "), margin_in_words(9.952).replace(KEEP, " ")
    ('-3.5 %', '995 %')
    """
    return percent(margin, 1 if abs(margin) < 1.0 else 0)


def bound_of(finding: Finding) -> str:
    """Whether its limit is the most or the least that may be; ``limit`` where value and limit do not tell."""
    value, limit, margin = finding.value, finding.limit, finding.margin
    # Figures that differ by rounding alone tell nothing of the side.
    if value is None or limit is None or margin is None or math.isclose(value, limit, rel_tol=1e-6):
        return "limit"
    return "at most" if (margin >= 0.0) == (value < limit) else "at least"
