"""How numbers, places and findings read on a page for a person: plain text, 100 columns, no colour needed."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterable
from typing import Final

from linewright.findings import WORST_FIRST, Finding, Verdict

WIDTH: Final = 100
# Keeps a number and its unit on one line; becomes a plain space when the page is put together.
KEEP: Final = "\u00a0"

TAGS: Final[dict[Verdict, str]] = {"fails": "FAILS", "not checked": "NOT CHECKED", "tight": "TIGHT", "holds": "holds"}
_TAG_WIDTH: Final = 13

# Unit of a finding -> unit and factor for printing, by the line's own `units`.
_PRINTED: Final[dict[str, dict[str, tuple[str, float]]]] = {
    "mm": {"m": ("mm", 1e3), "1/h": ("per hour", 1.0)},
    "inch": {
        "m": ("in", 1 / 0.0254),
        "m/s": ("in/s", 1 / 0.0254),
        "m/s²": ("in/s²", 1 / 0.0254),
        "m/s³": ("in/s³", 1 / 0.0254),
        "1/h": ("per hour", 1.0),
    },
}


def number(value: float, decimals: int | None = None) -> str:
    """A number for a person: groups of three by spaces, four digits unless told how many decimals.

    A space cannot be taken for a decimal sign, whatever the reader's country.

    Examples
    --------
    >>> [number(v).replace(KEEP, " ") for v in (5_500_000, 1150.23, 2.0, 0.01234, float("nan"))]
    ['5 500 000', '1 150', '2', '0.01234', '-']
    >>> number(2.0, 1), number(0.004, 1)
    ('2.0', '0.0')
    """
    if not math.isfinite(value):
        return "-"
    if decimals is None:
        leading = math.floor(math.log10(abs(value))) if value else 0
        text = f"{value:,.{max(0, 3 - leading)}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value:,.{decimals}f}"
    return text.replace(",", KEEP)


def quantity(value: float, unit: str | None, units: str = "mm") -> str:
    """A value with its unit, lengths in the unit that the line file asks for.

    Examples
    --------
    >>> quantity(0.2, "m").replace(KEEP, " "), quantity(0.0254, "m", "inch").replace(KEEP, " ")
    ('200 mm', '1 in')
    """
    shown, factor = _PRINTED[units].get(unit or "", (unit or "", 1.0))
    return f"{number(value * factor)}{KEEP}{shown}".rstrip(KEEP)


def percent(share: float, decimals: int = 1) -> str:
    """A share in per cent.

    Examples
    --------
    >>> percent(0.9559).replace(KEEP, " ")
    '95.6 %'
    """
    return f"{number(100 * share, decimals)}{KEEP}%"


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


def counts_sentence(findings: tuple[Finding, ...]) -> str:
    """How many findings stand under each verdict, those that were not checked in capitals.

    Examples
    --------
    >>> counts_sentence(()).replace(KEEP, " ")
    'Findings: 0 fail, 0 NOT CHECKED, 0 tight, 0 hold.'
    """
    counts = Counter(finding.verdict for finding in findings)
    words = {"fails": "fail", "not checked": "NOT CHECKED", "tight": "tight", "holds": "hold"}
    return "Findings: " + ", ".join(f"{counts[v]}{KEEP}{words[v]}" for v in WORST_FIRST) + "."


def finding_lines(finding: Finding, units: str = "mm") -> list[str]:
    """A finding for a page: verdict, what and where, the figures, and what to do."""
    blank = " " * _TAG_WIDTH
    place = "" if finding.place is None else f"  ({finding.place})"
    lines = paragraph(f"{finding.code}: {finding.where}{place}", f"{TAGS[finding.verdict]:<{_TAG_WIDTH}}", blank)
    figures = _figures(finding, units)
    if figures:
        lines += paragraph(figures, blank)
    if finding.remedy and finding.verdict != "holds":
        lines += paragraph(finding.remedy, f"{blank}-> ", f"{blank}   ")
    return lines


def _figures(finding: Finding, units: str) -> str:
    words = []
    if finding.value is not None:
        words.append(quantity(finding.value, finding.unit, units))
    if finding.limit is not None:
        words.append(f"limit {quantity(finding.limit, finding.unit, units)}")
    if finding.margin is not None:
        words.append(f"{'margin' if finding.margin >= 0 else 'short by'} {percent(abs(finding.margin))}")
    return ", ".join(words)
