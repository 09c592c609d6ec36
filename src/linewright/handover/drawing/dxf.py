"""A drawing as DXF: blocks, plain words and true dimensions, which every reader measures anew."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.drawing.shapes import (
    LAYERS,
    PATTERNS,
    Arc,
    Drawing,
    Measure,
    Radius,
    Shape,
    Stroke,
    Words,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.base import BaseLayout

INCH_MM: Final = 25.4
STYLE: Final = "LINE"
# The names under which readers know their own patterns.
LINE_TYPES: Final = {"full": "CONTINUOUS", "centre": "CENTER", "dashed": "DASHED", "hidden": "HIDDEN"}
_WEIGHT: Final = 100.0  # a DXF counts hundredths of a millimetre
# When and by which run a file was written; the same input gives the same bytes, so that a fixed day stands there.
_DAY: Final = "2451545.0"
_STAMPS: Final = re.compile(r"(\$TDU?(?:CREATE|UPDATE)\n\s*40\n)[^\n]*")
_GUIDS: Final = re.compile(r"(\$(?:FINGERPRINT|VERSION)GUID\n\s*2\n)[^\n]*")
_MADE: Final = re.compile(r"(\n[\d.]+\w*) @ \d{4}-\d\d-\d\dT[^\n]*")


def dxf_of(drawing: Drawing) -> bytes:
    """A drawing as a DXF file of the year 2010, in UTF-8; the same drawing gives the same bytes."""
    document = _document(drawing)
    for name, shapes in drawing.blocks.items():
        block = document.blocks.new(name)
        for shape in shapes:
            _add(block, drawing, shape, "0")
    space = document.modelspace()
    for shape in drawing.shapes:
        _add(space, drawing, shape, shape.layer)
    west, foot, east, top = drawing.frame
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (west, foot, 0.0), (east, top, 0.0)
    document.header["$LIMMIN"], document.header["$LIMMAX"] = (west, foot), (east, top)
    document.set_modelspace_vport(height=top - foot, center=((west + east) / 2, (foot + top) / 2))
    for kind in sorted(document.entitydb.dxf_types_in_use()):  # by themselves they come in the order of a set
        document.classes.add_class(kind)
    stream = io.StringIO()
    document.write(stream)
    return _without_clock(stream.getvalue(), drawing.mark).encode("utf-8")


def _without_clock(text: str, mark: str) -> str:
    guid = "-".join((mark[:8], mark[8:12], mark[12:16], mark[16:20], mark[20:32])).upper()
    text = _STAMPS.sub(rf"\g<1>{_DAY}", text)
    text = _GUIDS.sub(rf"\g<1>{{{guid}}}", text)
    return _MADE.sub(r"\g<1>", text)


def _document(drawing: Drawing) -> Document:
    """An empty document in millimetres with the layers, the line types and the dimension style."""
    from ezdxf import units
    from ezdxf.colors import RGB
    from ezdxf.filemanagement import new

    document = new("R2010")
    document.units = units.MM
    document.header["$LUNITS"], document.header["$LUPREC"], document.header["$MEASUREMENT"] = 2, 1, 1
    document.header["$LTSCALE"] = 1.0
    for name, pattern in PATTERNS.items():
        lengths = [step * drawing.scale for step in pattern]
        document.linetypes.add(LINE_TYPES[name], [sum(abs(one) for one in lengths), *lengths], description=name)
    document.styles.new("PLAIN", dxfattribs={"font": "arial.ttf"})
    for layer in LAYERS.values():
        kind = LINE_TYPES[layer.line]
        entry = document.layers.add(layer.name, linetype=kind, lineweight=round(layer.weight_mm * _WEIGHT))
        entry.rgb = RGB.from_hex(layer.colour)
        entry.description = layer.holds
    _dimension_style(document, drawing)
    return document


def _dimension_style(document: Document, drawing: Drawing) -> None:
    """Numbers in the unit of the line file, over the line, with oblique ticks; in the header too, which some readers
    heed alone."""
    height = 2.5 * drawing.scale
    inch = drawing.units == "inch"
    values: dict[str, Any] = {
        "dimlfac": 1.0 / INCH_MM if inch else 1.0,
        "dimscale": 1.0,
        "dimtxt": height,
        "dimasz": 0.6 * height,
        "dimtsz": 0.4 * height,
        "dimexe": 0.5 * height,
        "dimexo": 0.3 * height,
        "dimgap": 0.4 * height,
        "dimdec": 3 if inch else 1,
        "dimzin": 8,
        "dimlunit": 2,
        "dimdsep": ord("."),
        "dimtad": 1,
        "dimtih": 0,
        "dimtoh": 0,
        "dimtix": 1,
        "dimtmove": 2,
    }
    style = document.dimstyles.new(STYLE)
    for key, value in values.items():
        style.dxf.set(key, value)
        document.header[f"${key.upper()}"] = value
    style.dxf.dimtxsty = "PLAIN"
    document.header["$DIMSTYLE"], document.header["$DIMTXSTY"] = STYLE, "PLAIN"


def _add(space: BaseLayout, drawing: Drawing, shape: Shape, layer: str) -> None:
    look = {"layer": layer}
    if isinstance(shape, Stroke) and len(shape.points) == 2:
        space.add_line(*shape.points, dxfattribs=look)
    elif isinstance(shape, Stroke):
        space.add_lwpolyline(shape.points, close=shape.closed, dxfattribs=look)
    elif isinstance(shape, Arc):
        space.add_arc(shape.centre, shape.radius, shape.from_deg, shape.to_deg, dxfattribs=look)
    elif isinstance(shape, Words):
        _add_words(space, shape, look)
    elif isinstance(shape, Measure):
        dimension = space.add_linear_dim(
            base=shape.line[0],
            p1=shape.start,
            p2=shape.end,
            angle=90.0 if shape.upright else 0.0,
            dimstyle=STYLE,
            location=shape.middle,
            dxfattribs=look,
        )
        dimension.render()
    elif isinstance(shape, Radius):
        radius = space.add_radius_dim(center=shape.centre, mpoint=shape.at, dimstyle=STYLE, dxfattribs=look)
        radius.render()
        radius.dimension.dxf.text = "R<>"  # what is drawn here has its R; readers that measure anew need it said
    else:
        space.add_blockref(shape.block, shape.at, dxfattribs={**look, "rotation": shape.turn_deg})


def _add_words(space: BaseLayout, words: Words, look: dict[str, str]) -> None:
    from ezdxf.enums import TextEntityAlignment as To

    base = {"foot": "", "middle": "MIDDLE", "top": "TOP"}[words.base]
    side = {"left": "LEFT", "centre": "CENTER", "right": "RIGHT"}[words.align]
    text = space.add_text(
        plain(words.text), height=words.height, rotation=words.turn_deg, dxfattribs={**look, "style": "PLAIN"}
    )
    text.set_placement(words.at, align=To[f"{base}_{side}" if base else side])


def plain(text: str) -> str:
    """Words in which a reader finds no sign that steers it: ``%%d`` would be a degree, ``^J`` a new line."""
    shown = "".join(sign if sign.isprintable() else " " for sign in text)
    while "%%" in shown:
        shown = shown.replace("%%", "% %")
    return shown.replace("^", "^ ")
