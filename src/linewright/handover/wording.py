"""How numbers, places and findings read on a page for a person: plain text, 100 columns, no colour needed."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable
from typing import Final

from linewright.findings import Finding, Verdict

WIDTH: Final = 100
# Keeps a number and its unit on one line; becomes a plain space when the page is put together.
KEEP: Final = "\u00a0"

TAGS: Final[dict[Verdict, str]] = {"fails": "FAILS", "not checked": "NOT CHECKED", "tight": "TIGHT", "holds": "holds"}
TAG_WIDTH: Final = 13

_Scale = tuple[tuple[float, str, float], ...]


def _prefixed(unit: str, from_size: dict[str, float]) -> _Scale:
    """A scale of decimal prefixes: the prefix, and from what size on it is used."""
    powers = {"µ": 1e6, "m": 1e3, "": 1.0, "k": 1e-3, "M": 1e-6}
    return tuple((size, f"{prefix}{unit}", powers[prefix]) for prefix, size in from_size.items())


# Unit of a finding -> from which size on it is printed in which unit, and the factor; the smallest first.
_METRIC: Final[dict[str, _Scale]] = {
    "m": ((0.0, "µm", 1e6), (1e-4, "mm", 1e3), (100.0, "m", 1.0), (1e4, "km", 1e-3)),
    "m²": ((0.0, "mm²", 1e6), (0.01, "m²", 1.0)),
    "m/s": ((0.0, "mm/s", 1e3), (0.01, "m/s", 1.0)),
    "s": ((0.0, "µs", 1e6), (1e-4, "ms", 1e3), (0.1, "s", 1.0), (1e4, "h", 1 / 3600), (1e6, "days", 1 / 86400)),
    "kg": ((0.0, "g", 1e3), (0.1, "kg", 1.0)),
    "N/m": ((0.0, "N/m", 1.0), (1e4, "N/mm", 1e-3), (1e6, "N/µm", 1e-6)),
    "Pa": ((0.0, "Pa", 1.0), (1e5, "MPa", 1e-6)),
    "rad": ((0.0, "µrad", 1e6), (1e-4, "mrad", 1e3), (0.1, "rad", 1.0)),
    "A": _prefixed("A", {"m": 0.0, "": 0.1}),
    "V": _prefixed("V", {"m": 0.0, "": 0.1}),
    "W": _prefixed("W", {"m": 0.0, "": 0.1, "k": 1e4}),
    "J": _prefixed("J", {"m": 0.0, "": 0.1, "k": 1e4}),
    "F": _prefixed("F", {"µ": 0.0, "m": 1e-3, "": 1.0}),
    "ohm": _prefixed("ohm", {"m": 0.0, "": 0.1}),
    "Hz": _prefixed("Hz", {"": 0.0, "k": 1e4}),
    "bit/s": _prefixed("bit/s", {"": 0.0, "k": 1e3, "M": 1e6}),
    "1/h": ((0.0, "per hour", 1.0),),
    "1/year": ((0.0, "a year", 1.0),),
    "degC": ((0.0, "°C", 1.0),),
    "1": ((0.0, "", 1.0),),
}
_INCH: Final[dict[str, _Scale]] = {
    "m": ((0.0, "in", 1 / 0.0254), (100.0, "ft", 1 / 0.3048), (1e4, "miles", 1 / 1609.344)),
    "m²": ((0.0, "in²", 1 / 0.0254**2), (1.0, "ft²", 1 / 0.3048**2)),
    "m/s": ((0.0, "in/s", 1 / 0.0254),),
    "m/s²": ((0.0, "in/s²", 1 / 0.0254),),
    "m/s³": ((0.0, "in/s³", 1 / 0.0254),),
    "kg": ((0.0, "lb", 1 / 0.45359237),),
    "N": ((0.0, "lbf", 1 / 4.4482216152605),),
    "N·m": ((0.0, "lbf·in", 1 / (4.4482216152605 * 0.0254)),),
    "N/m": ((0.0, "lbf/in", 0.0254 / 4.4482216152605),),
    "Pa": ((0.0, "psi", 0.0254**2 / 4.4482216152605),),
}
_PRINTED: Final[dict[str, dict[str, _Scale]]] = {"mm": _METRIC, "inch": _METRIC | _INCH}


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


def quantity(value: float, unit: str | None, units: str = "mm", beside: float | None = None) -> str:
    """A value with its unit, in the units that the line file asks for and in a size that reads well.

    Parameters
    ----------
    value : in `unit`
    unit : of a finding, SI; None where there is none, ``1`` for a ratio
    units : ``mm`` or ``inch``
    beside : another value of the same row: the greater of the two chooses the size, so that both read alike

    Examples
    --------
    >>> quantity(0.2, "m").replace(KEEP, " "), quantity(0.0254, "m", "inch").replace(KEEP, " ")
    ('200 mm', '1 in')
    >>> quantity(0.00003, "m").replace(KEEP, " "), quantity(0.00003, "m", beside=0.12).replace(KEEP, " ")
    ('30 µm', '0.03 mm')
    >>> quantity(100.0, "N", "inch").replace(KEEP, " "), quantity(0.012, "s").replace(KEEP, " ")
    ('22.48 lbf', '12 ms')
    """
    sizes = [abs(one) for one in (value, beside) if one is not None and math.isfinite(one) and one != 0.0]
    size = max(sizes, default=1.0)
    scale = _PRINTED[units].get(unit or "", ((0.0, unit or "", 1.0),))
    _, shown, factor = next(step for step in reversed(scale) if size >= step[0])
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
