"""What stands in a picture: reading its SVG and its specification back."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

from linewright.pictures import Picture

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    """All words, in the order in which they are drawn."""
    return ["".join(node.itertext()) for node in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def labelled(svg: str, pattern: str) -> list[str]:
    """The names that marks give to a reader who cannot see them, those that match."""
    names = [node.get("aria-label", "") for node in ElementTree.fromstring(svg).iter()]
    return [name for name in names if re.fullmatch(pattern, name)]


def rows_of(picture: Picture, name: str) -> list[dict[str, Any]]:
    """The rows of one set of data of the specification."""
    rows: list[dict[str, Any]] = picture.spec["datasets"][name]
    return rows


def all_rows(picture: Picture) -> list[dict[str, Any]]:
    """The rows of all sets."""
    return [row for rows in picture.spec["datasets"].values() for row in rows]


def views(spec: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The named views of a specification, at whatever depth."""
    found = {spec["name"]: spec} if "name" in spec else {}
    for part in spec.get("vconcat", []):
        found |= views(part)
    return found


def layers(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """All layers of a specification, at whatever depth."""
    if "mark" in spec:
        return [spec]
    return [layer for part in [*spec.get("layer", []), *spec.get("vconcat", [])] for layer in layers(part)]
