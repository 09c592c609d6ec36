"""The drawing grammar (Vega-Lite) in plain dictionaries, as far as the pictures use it.

A picture is one specification in that grammar; Altair reads it back as an object (`Picture.chart`), and its schema
checks every picture in the tests. Two hundred layers built through Altair's objects take some seconds, plain
dictionaries a hundredth of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

Spec = dict[str, Any]

Rows = Sequence[dict[str, Any]]


class Datasets:
    """The rows that a specification draws, gathered while it is built, so that each stands in it once."""

    def __init__(self) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {}

    def named(self, rows: Rows, name: str | None = None) -> str:
        """A name for these rows, to give to a layer as its data.

        Parameters
        ----------
        rows : plain values
        name : what they are called in the specification; by default a number

        Raises
        ------
        ValueError   Other rows have that name already.
        """
        name = f"rows-{len(self.rows) + 1}" if name is None else name
        if name in self.rows:
            raise ValueError(f"rows of the name {name!r} stand already")
        self.rows[name] = list(rows)
        return name


def field(name: str, kind: str = "quantitative", **more: Any) -> Spec:
    """A channel that a field of the rows feeds."""
    return {"field": name, "type": kind, **more}


def pixels(name: str) -> Spec:
    """A place whose field holds pixels already, from the upper left corner of its view."""
    return {"field": name, "type": "quantitative", "scale": None, "axis": None}


def as_is(name: str, kind: str = "nominal") -> Spec:
    """A look whose field holds the colour, the width ... itself."""
    return {"field": name, "type": kind, "scale": None, "legend": None}


def end(name: str) -> Spec:
    """The second end of a bar or a rule, on the scale of the first."""
    return {"field": name}


def told(name: str = "name") -> Spec:
    """What a pointer tells of a mark, and what a reader hears who cannot see it."""
    text = field(name, "nominal")
    return {"description": text, "tooltip": {**text, "title": " "}}


def layer(data: str, mark: str, look: Spec, channels: Spec) -> Spec:
    """One kind of mark over one set of rows.

    Parameters
    ----------
    data : the rows' name
    mark : ``rect``, ``rule``, ``line``, ``area``, ``point``, ``tick`` or ``text``
    look : how it is drawn: fill, stroke, fontSize ...
    channels : x, y, x2, y2, text ... fed by fields; without `told` the mark is hidden from who listens to the page, or
        a number for each of its channels would be read out
    """
    heard = {} if "description" in channels else {"aria": False}
    return {"data": {"name": data}, "mark": {"type": mark, **heard, **look}, "encoding": channels}


def layered(layers: Sequence[Spec], width_px: float, height_px: float, name: str = "") -> Spec:
    """Layers over one another in one view, the first at the bottom."""
    view: Spec = {"layer": list(layers), "width": width_px, "height": height_px}
    return {"name": name, **view} if name else view


def stacked(views: Sequence[Spec], spacing_px: float, share_x: bool = False) -> Spec:
    """Views under one another; with `share_x` on one horizontal scale."""
    spec: Spec = {"vconcat": list(views), "spacing": spacing_px}
    return {**spec, "resolve": {"scale": {"x": "shared"}}} if share_x else spec


NEAR, FAR = "near_x", "far_x"
"""Names of the two parameters of a specification between which its horizontal axis is drawn; the page moves them."""
SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v6.json"
GRAMMAR: Final = "6.4"
"""The version of the grammar, as the converter counts it."""
