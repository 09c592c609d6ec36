"""A picture as one HTML page that asks nothing of any server: specification, drawing library, style and script."""

from __future__ import annotations

import html
import json
from collections.abc import Mapping, Set
from functools import cache
from importlib.resources import files
from string import Template
from typing import Any, Final

from linewright.pictures.grammar import FAR, GRAMMAR, NEAR, Rows, Spec
from linewright.pictures.picture import Picture
from linewright.pictures.style import hatch_defs

LETTERS: Final = 14.0 / 12.0
"""Letters of the controls, in letters of the picture."""
LEAST_SHARE: Final = 0.01
"""Shortest stretch that a page shows of a picture without carriers, as a share of the whole."""
BETTER_COUNTED: Final = 20
"""From so many rows on they are written column by column, which is a third as long."""


def page_of(picture: Picture) -> str:
    """One HTML page that draws the picture; its rows and the stretch of track it shows can be chosen there.

    Parameters
    ----------
    picture : any; where it zooms, its specification has the parameters NEAR and FAR
    """
    datasets: Mapping[str, Rows] = picture.spec.get("datasets", {})
    empty = {name for name, rows in datasets.items() if not rows}
    spec = _without(empty, {key: value for key, value in picture.spec.items() if key != "datasets"})
    drawn = {
        "name": picture.name,
        "rows": picture.rows,
        "along": _along(picture.spec["params"], datasets) if picture.zooms else None,
        "spec": spec,
        "datasets": {name: packed(rows) for name, rows in datasets.items() if rows},
    }
    written = json.dumps(drawn, separators=(",", ":"), ensure_ascii=False)
    return Template(_asset("page.html")).substitute(
        title=html.escape(picture.title),
        letters_px=f"{LETTERS * picture.spec['config']['axis']['titleFontSize']:g}",
        hatches=hatch_defs(written),
        picture=_inert(written),
        library=_library(),
        script=_asset("page.js"),
    )


def _without(empty: Set[str], view: Spec) -> Spec:
    """A view without the layers that draw nothing: the library in the page warns of them."""
    kept = dict(view)
    for parts in {"vconcat", "hconcat", "layer"} & view.keys():
        kept[parts] = [_without(empty, one) for one in view[parts] if one.get("data", {}).get("name") not in empty]
    return kept


def packed(rows: Rows) -> Any:
    """Rows column by column: ``all`` where a column holds one value, ``of`` and ``at`` where it holds few words.

    Rows that are few, or that have not all the same fields, stay as they are.
    """
    if len(rows) < BETTER_COUNTED or any(row.keys() != rows[0].keys() for row in rows):
        return rows
    return {"count": len(rows), "columns": {name: _column([row[name] for row in rows]) for name in rows[0]}}


def _column(values: list[Any]) -> Any:
    first = values[0]
    if all(type(value) is type(first) and value == first for value in values):
        return {"all": first}
    if all(isinstance(value, str) for value in values):
        words = {word: number for number, word in enumerate(dict.fromkeys(values))}
        if 2 * len(words) < len(values):
            return {"of": list(words), "at": [words[value] for value in values]}
    return values


def _along(params: list[dict[str, Any]], datasets: Mapping[str, Rows]) -> dict[str, Any]:
    """What a page needs for the track: its ends, the shortest stretch worth seeing, and the places to go to."""
    ends = {param["name"]: float(param["value"]) for param in params}
    carriers = [row["x2"] - row["x"] for row in datasets.get("carriers", ())]
    return {
        "near": NEAR,
        "far": FAR,
        "from": ends[NEAR],
        "to": ends[FAR],
        "least": max(carriers) if carriers else LEAST_SHARE * (ends[FAR] - ends[NEAR]),
        "places": _places(datasets),
    }


def _places(datasets: Mapping[str, Rows]) -> list[dict[str, Any]]:
    """Stations, transfers and lanes, each in travel order."""
    stations = sorted(datasets.get("pins", ()), key=lambda row: row["x"])
    transfers = sorted(datasets.get("transfer-names", ()), key=lambda row: row["x"])
    lanes = [
        {"name": str(row["name"]).split(",", 1)[0], "from": row["x"], "to": row["x2"]}
        for row in datasets.get("lanes", ())
    ]
    return [
        *({"name": f"station {row['label']}", "from": row["x"], "to": row["x"]} for row in stations),
        *({"name": f"transfer {row['label']}", "from": row["x"], "to": row["x"]} for row in transfers),
        *lanes,
    ]


def _inert(written: str) -> str:
    """JSON for a script element, which only these three could end or turn into a comment."""
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


@cache
def _asset(name: str) -> str:
    return (files("linewright.pictures") / name).read_text(encoding="utf-8")


@cache
def _library() -> str:
    """The drawing library as one module script; it sets window.vegaEmbed."""
    import vl_convert

    library: str = vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;", GRAMMAR)
    return library.replace("</script", "<\\/script").replace("<!--", "\\x3c!--")
