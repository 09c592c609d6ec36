"""A document as PDF, typeset with the fonts that stand beside this file, so that it looks alike on every machine."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from typing import Final

from linewright.handover.document.blocks import (
    Block,
    Caution,
    Cell,
    Document,
    Drawn,
    Facts,
    Grid,
    Heading,
    Kept,
    PageShape,
    Part,
    Points,
    SignHere,
    Tag,
    Words,
)
from linewright.handover.wording import TAGS

FONTS: Final = Path(__file__).parent / "fonts"
FONT: Final = "Liberation Sans"
# Width and height of a tall, a wide and a large sheet: A4, A3 and A2; ANSI A, B and C. [mm]
SHEETS: Final[dict[str, dict[PageShape, tuple[float, float]]]] = {
    "mm": {"tall": (210.0, 297.0), "wide": (420.0, 297.0), "large": (420.0, 594.0)},
    "inch": {"tall": (215.9, 279.4), "wide": (431.8, 279.4), "large": (431.8, 558.8)},
}
MARGIN_MM: Final = 14.0
TOP_MM: Final = 18.0
FOOT_MM: Final = 19.0
LETTERS_PT: Final = 9.0

_INK: Final = 'rgb("#1d2733")'
_SETTINGS: Final = f"""\
#set text(font: "{FONT}", size: {LETTERS_PT}pt, fill: {_INK}, lang: "en", hyphenate: false)
#set par(leading: 0.5em, spacing: 0.75em, justify: false)
#set list(marker: [–], indent: 0pt, body-indent: 0.6em, spacing: 0.55em)
#set table(stroke: none, inset: (x: 3pt, y: 2.6pt))
#set table.cell(breakable: false)
#set table.hline(stroke: 0.4pt + rgb("#9aa4af"))
#show heading.where(level: 1): set text(size: 1.19em)
#show heading.where(level: 2): set text(size: 0.98em)
#show heading.where(level: 1): set block(below: 0.8em)
#show heading.where(level: 2): set block(above: 1.3em, below: 0.6em)
#show table.cell.where(y: 0): set text(weight: "bold")
#let tag(dark, words) = if dark {{
  box(fill: {_INK}, outset: (x: 2pt, y: 1.5pt), text(fill: white, weight: "bold", size: 0.94em, words))
}} else {{ text(size: 0.94em, words) }}
"""


def pdf_of(document: Document) -> bytes:
    """A document as PDF; the same document gives the same bytes.

    Parameters
    ----------
    document : any

    Returns
    -------
    bytes   With its text as text, so that it can be searched and copied.
    """
    import typst

    with tempfile.TemporaryDirectory(prefix="linewright-") as folder:
        drawings: list[str] = []
        source = typst_of(document, drawings)
        for i, svg in enumerate(drawings):
            (Path(folder) / f"{i}.svg").write_text(_own_font(svg), encoding="utf-8")
        main = Path(folder) / "main.typ"
        main.write_text(source, encoding="utf-8")
        written: bytes = typst.compile(str(main), root=folder, font_paths=[str(FONTS)], ignore_system_fonts=True)
    return written


def typst_of(document: Document, drawings: list[str]) -> str:
    """The document in the language of the typesetter.

    Parameters
    ----------
    document : any
    drawings : gets the drawings in their order; in the text they are ``0.svg``, ``1.svg`` ...
    """
    title = f"{document.title}: {document.line}"
    lines = [f"#set document(title: {_quoted(title)}, date: none)", _SETTINGS]
    lines += [_page(document, part, drawings) for part in document.parts]
    return "\n".join(lines)


def _page(document: Document, part: Part, drawings: list[str]) -> str:
    width, height = SHEETS[document.units][part.shape]
    foot = "; linebreak(); ".join(_quoted(row) for row in document.foot)
    head = (
        f"grid(columns: (1fr, auto), text(size: 8pt, {_quoted(document.line)}), "
        f"text(size: 8pt, {_quoted(document.title)}))"
    )
    feet = (
        f"grid(columns: (1fr, auto), column-gutter: 6mm, text(size: 6.5pt, {{ {foot} }}), "
        "text(size: 8pt, context [#counter(page).display() of #counter(page).final().first()]))"
    )
    blocks = "\n".join(_block(block, height, drawings) for block in part.blocks)
    return (
        f"#page(width: {width}mm, height: {height}mm, "
        f"margin: (x: {MARGIN_MM}mm, top: {TOP_MM}mm, bottom: {FOOT_MM}mm), "
        f"header: {head}, footer: {feet})[\n#set text(size: {LETTERS_PT * part.letters:g}pt)\n{blocks}\n]"
    )


def _block(block: Block, height_mm: float, drawings: list[str]) -> str:
    match block:
        case Heading(text, level):
            return f"#heading(level: {level}, {_quoted(text)})"
        case Words(text, strong):
            weight = ', weight: "bold", size: 1.17em' if strong else ""
            return f"#par(text({_quoted(text)}{weight}))"
        case Points(rows):
            return "#list(" + ", ".join(_quoted(row) for row in rows) + ")" if rows else ""
        case Facts(rows):
            cells = ", ".join(f'text(weight: "bold", {_quoted(label)}), {_quoted(words)}' for label, words in rows)
            return f"#grid(columns: (auto, 1fr), column-gutter: 5mm, row-gutter: 2mm, {cells})"
        case Grid():
            return _grid(block)
        case Drawn(svg, told, share):
            drawings.append(svg)
            free_mm = (height_mm - TOP_MM - FOOT_MM - 8.0) * share
            return (
                f'#block(breakable: false, {{ image("{len(drawings) - 1}.svg", width: 100%, height: {free_mm:.1f}mm, '
                f'fit: "contain", alt: {_quoted(told)}); text(size: 7.5pt, {_quoted(told)}) }})'
            )
        case Caution(text):
            return (
                f"#block(width: 100%, stroke: 0.8pt + {_INK}, inset: 5pt, breakable: false, "
                f'{{ text(weight: "bold", "CAUTION. "); text({_quoted(text)}) }})'
            )
        case Kept(blocks):
            return "#block(breakable: false)[\n" + "\n".join(_block(one, height_mm, drawings) for one in blocks) + "\n]"
        case SignHere(people):
            cells = ", ".join(
                f"[], [], [], text(size: 7.5pt, {_quoted(f'{who}: name')}), "
                'text(size: 7.5pt, "date"), text(size: 7.5pt, "signature")'
                for who in people
            )
            rule = f"stroke: (x, y) => if calc.rem(y, 2) == 0 {{ (bottom: 0.5pt + {_INK}) }}"
            return (
                "#block(breakable: false, grid(columns: (3fr, 1fr, 2fr), column-gutter: 4mm, "
                f"rows: (12mm, 5mm), inset: (y: 1mm), {rule}, {cells}))"
            )


def _grid(block: Grid) -> str:
    if not block.rows:
        return ""
    widths = ", ".join("auto" if one.share == 0.0 else f"{one.share:g}fr" for one in block.columns)
    sides = ", ".join(one.side for one in block.columns)
    rule = 'bottom: 0.4pt + rgb("#9aa4af")'
    lines = f"stroke: (x, y) => ({rule})" if block.row_mm == 0.0 else 'stroke: 0.4pt + rgb("#9aa4af")'
    heads = ", ".join(_quoted(one.heading) for one in block.columns)
    rows = ",\n  ".join(
        ", ".join(_cell(cell, 0.0 if i else block.row_mm) for i, cell in enumerate(row)) for row in block.rows
    )
    table = f"table(columns: ({widths},), align: ({sides},), {lines},\n  table.header({heads}),\n  {rows})"
    if block.width < 1.0:
        table = f"block(width: {100.0 * block.width:g}%, {table})"
    return f"#text(size: 0.89em, {table})"


def _cell(cell: Cell, least_mm: float) -> str:
    """A cell; where it has a least height a post of no width stands beside its words."""
    if isinstance(cell, Tag):
        dark = cell.verdict in ("fails", "not checked")
        return f"tag({str(dark).lower()}, {_quoted(TAGS[cell.verdict])})"
    if least_mm == 0.0:
        return _quoted(cell)
    return f"grid(columns: (0pt, auto), box(width: 0pt, height: {least_mm:g}mm), {_quoted(cell)})"


@cache
def _signs() -> frozenset[int]:
    """The signs that every font beside this file has."""
    from fontTools.ttLib import TTFont

    known = []
    for path in sorted(FONTS.glob("*.ttf")):
        with TTFont(path, lazy=True) as font:
            known.append(frozenset(font.getBestCmap()))
    return frozenset.intersection(*known)


_ESCAPED: Final = str.maketrans({"\\": "\\\\", '"': '\\"', "\n": " ", "\r": " ", "\t": " "})


def _quoted(text: str) -> str:
    """A text as a string of the typesetter; signs that the fonts do not have become a question mark."""
    plain = "".join(sign if ord(sign) in _signs() or sign in "\n\r\t" else "?" for sign in text)
    return f'"{plain.translate(_ESCAPED)}"'


def _own_font(svg: str) -> str:
    """The drawing with its words in the font that stands beside this file; pictures ask for any sans-serif."""
    return svg.replace('font-family="sans-serif"', f'font-family="{FONT}"')
