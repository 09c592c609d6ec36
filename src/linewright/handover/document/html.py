"""A document as one HTML page that asks nothing of any server."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from itertools import chain, count
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
    Part,
    Points,
    SignHere,
    Tag,
    Words,
    opened,
)
from linewright.handover.wording import TAGS

_STYLE: Final = """\
body { font: 15px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #1d2733; background: #fff;
  max-width: 1320px; margin: 0 auto; padding: 0 24px 40px; }
header { border-bottom: 1px solid #9aa4af; padding: 14px 0 8px; display: flex; justify-content: space-between; }
footer { border-top: 1px solid #9aa4af; margin-top: 40px; padding-top: 8px; font-size: 12px; }
section { border-top: 2px solid #d3d9df; margin-top: 32px; padding-top: 4px; }
header + nav + section { border-top: none; margin-top: 8px; }
nav { font-size: 13px; padding-top: 8px; }
nav a { color: #15527d; margin-right: 1.2em; white-space: nowrap; display: inline-block; }
p, ul, dl, h2 { max-width: 900px; }
ul { list-style: none; padding-left: 1.1em; } li { text-indent: -1.1em; margin: 4px 0; }
li::before { content: "\\2013\\00a0\\00a0"; }
dl { display: grid; grid-template-columns: minmax(9em, max-content) 1fr; gap: 4px 20px; }
dt { font-weight: bold; } dd { margin: 0; }
.strong { font-weight: bold; font-size: 1.13em; }
.scrolls { overflow-x: auto; }
table { border-collapse: collapse; font-size: 0.9em; margin: 8px 0; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 3px 8px 3px 0; border-bottom: 1px solid #d3d9df; }
th.right, td.right { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
table.form td, table.form th { border: 1px solid #9aa4af; padding: 4px 6px; }
.tag { font-size: 0.85em; white-space: nowrap; padding: 1px 4px; }
.dark { background: #1d2733; color: #fff; font-weight: bold; }
.caution { border: 1.5px solid #1d2733; padding: 8px 10px; margin: 12px 0; max-width: 900px; }
figure { margin: 12px 0; } figure svg { width: 100%; height: auto; } figcaption { font-size: 12.5px; }
.sign { display: grid; grid-template-columns: 3fr 1fr 2fr; gap: 36px 20px; margin-top: 40px; font-size: 12.5px; }
.sign span { border-top: 1px solid #1d2733; padding-top: 2px; }
@media print { nav { display: none; } section { break-before: page; }
  tr, figure, .caution, .kept { break-inside: avoid; } }
"""


def html_of(document: Document) -> str:
    """A document as one HTML page, the same words in the same order as in its PDF.

    Parameters
    ----------
    document : any
    """
    title = escape(f"{document.title}: {document.line}")
    chapters = _chapters(document)
    links = " ".join(f'<a href="#{anchor}">{escape(text)}</a>' for anchor, text in chapters)
    anchors = iter([anchor for anchor, _ in chapters])
    parts = "\n".join(_part(part, anchors) for part in document.parts)
    foot = "<br>".join(escape(row) for row in document.foot)
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<link rel="icon" href="data:,">\n'
        f"<style>\n{_STYLE}</style>\n</head>\n<body>\n"
        f"<header><span>{escape(document.line)}</span><span>{escape(document.title)}</span></header>\n"
        f"<nav>{links if len(chapters) > 1 else ''}</nav>\n{parts}\n<footer>{foot}</footer>\n</body>\n</html>\n"
    )


def _chapters(document: Document) -> list[tuple[str, str]]:
    """Every chapter in its order: where it stands on the page, and its heading.

    Notes      The place is named after the words of the heading, so that a link to a chapter goes on leading there when
               others come before it; of chapters with the same words the second ends with ``-2``.
    """
    blocks = (block for part in document.parts for block in opened(part.blocks))
    texts = [block.text for block in blocks if isinstance(block, Heading) and block.level == 1]
    taken: set[str] = set()
    found = []
    for text in texts:
        name = "chapter-" + (re.sub(r"[^0-9a-z]+", "-", text.lower()).strip("-") or "untitled")
        numbered = (f"{name}-{i}" for i in count(2))
        anchor = next(one for one in chain([name], numbered) if one not in taken)
        taken.add(anchor)
        found.append((anchor, text))
    return found


def _part(part: Part, anchors: Iterator[str]) -> str:
    size = "" if part.letters == 1.0 else f' style="font-size:{15.0 * part.letters:g}px"'
    return f"<section{size}>\n" + "\n".join(_block(block, anchors) for block in part.blocks) + "\n</section>"


def _block(block: Block, anchors: Iterator[str]) -> str:
    """A block; of a chapter's heading the next of the anchors, which stand in the order of the chapters."""
    match block:
        case Heading(text, 1):
            return f'<h1 id="{next(anchors)}">{escape(text)}</h1>'
        case Heading(text, level):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Words(text, strong):
            return f"<p{' class=strong' if strong else ''}>{escape(text)}</p>"
        case Points(rows):
            return "<ul>" + "".join(f"<li>{escape(row)}</li>" for row in rows) + "</ul>"
        case Facts(rows):
            return (
                "<dl>" + "".join(f"<dt>{escape(label)}</dt><dd>{escape(words)}</dd>" for label, words in rows) + "</dl>"
            )
        case Grid():
            return _grid(block)
        case Drawn(svg, told, _):
            return (
                f'<figure role="img" aria-label="{escape(told)}">{svg}<figcaption>{escape(told)}</figcaption></figure>'
            )
        case Caution(text):
            return f'<div class="caution"><b>CAUTION.</b> {escape(text)}</div>'
        case Kept(blocks):
            return '<div class="kept">\n' + "\n".join(_block(one, anchors) for one in blocks) + "\n</div>"
        case SignHere(people):
            cells = "".join(
                f"<span>{escape(who)}: name</span><span>date</span><span>signature</span>" for who in people
            )
            return f'<div class="sign">{cells}</div>'


def _grid(block: Grid) -> str:
    if not block.rows:
        return ""
    heads = "".join(f'<th class="{one.side}">{escape(one.heading)}</th>' for one in block.columns)
    height = f' style="height:{block.row_mm:g}mm"' if block.row_mm else ""
    rows = "\n".join(
        f"<tr{height}>"
        + "".join(
            f'<td class="{column.side}">{_cell(cell)}</td>' for cell, column in zip(row, block.columns, strict=True)
        )
        + "</tr>"
        for row in block.rows
    )
    form = ' class="form"' if block.row_mm else ""
    wide = "" if block.width == 1.0 else f' style="width:{100.0 * block.width:g}%"'
    table = f"<table{form}{wide}><thead><tr>{heads}</tr></thead><tbody>\n{rows}\n</tbody></table>"
    return f'<div class="scrolls">{table}</div>'


def _cell(cell: Cell) -> str:
    if isinstance(cell, Tag):
        dark = " dark" if cell.verdict in ("fails", "not checked") else ""
        return f'<span class="tag{dark}">{escape(TAGS[cell.verdict])}</span>'
    return escape(cell)
