"""A drawing board: marks at places in pixels, gathered by look and turned into layers."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from linewright.pictures import grammar as g
from linewright.pictures.grammar import Datasets, Spec
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import INK, PAPER

GROUND: Final = 0
LINES: Final = 1
CARRIERS: Final = 2
CENTRES: Final = 3
BACKS: Final = 4
WORDS: Final = 5
"""Heights of marks over the paper: what is higher covers what is lower."""


@dataclass
class Board:
    """Marks of one view, whose upper left corner is 0, 0.

    Parameters
    ----------
    marks : rows of each kind of mark, by height, kind, look and whether they tell what they are
    """

    marks: dict[tuple[int, str, str, bool], list[dict[str, Any]]] = field(default_factory=dict)

    def box(self, x: float, y: float, x2: float, y2: float, look: Spec, name: str = "", over: int = GROUND) -> None:
        """A rectangle between two corners. [px]"""
        self._put(over, "rect", look, {"x": x, "y": y, "x2": x2, "y2": y2}, name)

    def rule(self, x: float, y: float, x2: float, y2: float, look: Spec, name: str = "", over: int = LINES) -> None:
        """A straight line. [px]"""
        self._put(over, "rule", look, {"x": x, "y": y, "x2": x2, "y2": y2}, name)

    def point(self, x: float, y: float, look: Spec, name: str = "", over: int = CENTRES) -> None:
        """A sign at a place. [px]"""
        self._put(over, "point", {"opacity": 1, **look}, {"x": x, "y": y}, name)

    def path(self, points: Sequence[tuple[float, float]], look: Spec, name: str, over: int = GROUND) -> None:
        """A line through points; its name tells it from the other paths. [px]"""
        for number, (x, y) in enumerate(points):
            self._put(over, "line", look, {"x": x, "y": y, "n": number}, name)

    def words(self, x: float, y: float, text: str, size_px: float, look: Spec, name: str = "") -> None:
        """Words at a place, on paper of their own, so that lines break at them. [px]

        Parameters
        ----------
        x, y, text, size_px : where, what, how large
        look : ``align``, ``baseline``, ``angle`` (0, or 270 for reading upwards), ``fontWeight`` ...
        name : what they tell; by default nothing
        """
        look = {"align": "left", "baseline": "middle", **look}
        left, top, right, foot = words_box(x, y, text, size_px, look)
        self.box(left - 1, top, right + 1, foot, {"color": PAPER}, over=BACKS)
        self._put(WORDS, "text", {"fontSize": size_px, "color": INK, **look}, {"x": x, "y": y, "words": text}, name)

    def view(self, name: str, width_px: float, height_px: float, data: Datasets) -> Spec:
        """All marks as a view, called by the words of its name."""
        layers = []
        for (_, kind, look, tells), rows in sorted(self.marks.items(), key=lambda item: item[0][0]):
            place: Spec = {"x": g.pixels("x"), "y": g.pixels("y"), **(g.told() if tells else {})}
            if kind in ("rect", "rule"):
                place |= {"x2": g.end("x2"), "y2": g.end("y2")}
            elif kind == "line":
                place |= {"order": g.field("n"), "detail": g.field("name", "nominal")}
            elif kind == "text":
                place |= {"text": g.field("words", "nominal")}
            layers.append(g.layer(data.named(rows), kind, json.loads(look), place))
        return g.layered(layers, width_px, height_px, "-".join(re.findall(r"\w+", name.lower())))

    def _put(self, over: int, kind: str, look: Spec, row: dict[str, Any], name: str) -> None:
        key = (over, kind, json.dumps(look, sort_keys=True), bool(name))
        places = {field: round(value, 3) if isinstance(value, float) else value for field, value in row.items()}
        self.marks.setdefault(key, []).append({**places, **({"name": name} if name else {})})


def words_box(x: float, y: float, text: str, size_px: float, look: Spec) -> tuple[float, float, float, float]:
    """Left, top, right and foot of words, rather too large than too small. [px]"""
    long_px, high_px = text_width_px(text, size_px), 1.1 * size_px
    align = {"left": 0.0, "center": 0.5, "right": 1.0}[look["align"]]
    base = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[look["baseline"]]
    if look.get("angle"):  # reading upwards: along is up the page, the letters' top is on the left
        return x - base * high_px, y - (1.0 - align) * long_px, x + (1.0 - base) * high_px, y + align * long_px
    return x - align * long_px, y - base * high_px, x + (1.0 - align) * long_px, y + (1.0 - base) * high_px
