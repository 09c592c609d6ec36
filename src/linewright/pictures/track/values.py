"""Numbers over the bars of a row: laid out so that none lies over another, what fails in white on dark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.pictures.grammar import Spec, as_is, end, field, layer, pixels, told
from linewright.pictures.labels import place_labels, text_width_px
from linewright.pictures.style import GREY, INK, PAPER
from linewright.pictures.track.sheet import Sheet

LEAD_PX: Final = 8.0
SHAPE_AS_IS: Final = 4
"""Size at which a point's own shape is drawn pixel for pixel."""
UPRIGHT: Final = 1.26
"""Room of an upright number along the track, in sizes of its letters."""


@dataclass(frozen=True)
class Value:
    """A number at a place of the track.

    Parameters
    ----------
    axis_m : its place. [m]
    words : what stands there, such as ``83 %`` or ``fails 112 %``
    told : what a pointer tells: the whole sentence, with place, number, limit and unit
    strong : white on dark: what fails or is not checked
    """

    axis_m: float
    words: str
    told: str
    strong: bool = False


def value_height(sheet: Sheet, values: Sequence[Value]) -> float:
    """Height that `value_layers` takes. [px]"""
    values = _that_fit(sheet, values)
    return _laid_out(sheet, values).height_px + LEAD_PX + 6.0 if values else 0.0


def _that_fit(sheet: Sheet, values: Sequence[Value]) -> list[Value]:
    """All of them, or of more than stand side by side upright the strong ones first; the last then counts the rest."""
    most = int(sheet.width_px / (UPRIGHT * sheet.text.small_px))
    if len(values) <= most:
        return list(values)
    ranked = sorted(range(len(values)), key=lambda number: (not values[number].strong, number))
    kept = [values[number] for number in sorted(ranked[: most - 1])]
    left = [values[number] for number in sorted(ranked[most - 1 :])]
    words = f"and {len(left)} more"
    return [*kept, Value(sheet.layout.loop_m, words, f"{words}: {'; '.join(one.told for one in left)}", left[0].strong)]


def _laid_out(sheet: Sheet, values: Sequence[Value]) -> Any:
    places = [sheet.to_px(value.axis_m) for value in values]
    return place_labels([value.words for value in values], places, sheet.width_px, sheet.text.small_px)


def value_layers(sheet: Sheet, values: Sequence[Value], top: float) -> list[Spec]:
    """The numbers in a row of their own from `top` down, each with a thin line to its place below. [px]"""
    if not values:
        return []
    values = _that_fit(sheet, values)
    row, size = _laid_out(sheet, values), sheet.text.small_px
    upright, foot = row.direction == "upright", top + row.height_px + 3.0
    rows: list[dict[str, Any]] = []
    dark: list[tuple[dict[str, Any], float, float, float, float]] = []
    for value, centre_px in zip(values, row.centres_px, strict=True):
        place = {"x": sheet.value(value.axis_m), "label_x": sheet.value(sheet.to_m(centre_px))}
        heights = {"y": foot, "lead": foot + 2.0, "lead_end": foot + LEAD_PX + 3.0}
        colour = PAPER if value.strong else INK
        rows.append({**place, **heights, "words": value.words, "name": value.told, "colour": colour})
        if value.strong:
            long_px, half_px = text_width_px(value.words, size) + 4.0, 0.56 * size
            half_wide, high = (half_px, long_px) if upright else (long_px / 2, 1.3 * size)
            row_of = {"x": place["label_x"], "y": foot, "name": value.told}
            dark.append((row_of, -half_wide, half_wide, 1.5 - high, 1.5))
    data = sheet.data.named(rows)
    lead = {"x": sheet.x("label_x"), "x2": end("x"), "y": pixels("lead"), "y2": end("lead_end")}
    look = {
        "fontSize": size,
        "angle": 270 if upright else 0,
        "align": "left" if upright else "center",
        "baseline": "middle" if upright else "bottom",
        "clip": True,
    }
    at = {"x": sheet.x("label_x"), "y": pixels("y"), "text": field("words", "nominal"), "color": as_is("colour")}
    layers = [layer(data, "rule", {"color": GREY, "strokeWidth": 0.8, "clip": True}, lead)]
    layers += dark_boxes(sheet, dark)
    layers.append(layer(data, "text", look, {**at, **told()}))
    return layers


def dark_boxes(
    sheet: Sheet,
    boxes: Sequence[tuple[dict[str, Any], float, float, float, float]],
    name: str | None = None,
    heard: bool = True,
) -> list[Spec]:
    """Dark boxes behind words, as large as these however far the page is zoomed.

    Parameters
    ----------
    boxes : of each a row with x on the shared axis, y in pixels and name; left, right, top and foot from there. [px]
    name : of their rows
    heard : they say what they are to who listens to the page; not where another mark does
    """
    if not boxes:
        return []
    rows = [{**row, "shape": rectangle(left, right, top, foot)} for row, left, right, top, foot in boxes]
    look = {"filled": True, "color": INK, "opacity": 1, "size": SHAPE_AS_IS, "strokeWidth": 0, "clip": True}
    at = {
        "x": sheet.x("x"),
        "y": pixels("y"),
        "shape": as_is("shape"),
        **(told() if heard else {"tooltip": told()["tooltip"]}),
    }
    return [layer(sheet.data.named(rows, name), "point", look, at)]


def rectangle(left: float, right: float, top: float, foot: float) -> str:
    """A rectangle about a place, as a path. [px]"""
    return f"M{left:.1f},{top:.1f}H{right:.1f}V{foot:.1f}H{left:.1f}Z"
