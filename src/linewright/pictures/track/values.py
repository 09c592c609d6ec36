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
    return _laid_out(sheet, values).height_px + LEAD_PX + 6.0 if values else 0.0


def _laid_out(sheet: Sheet, values: Sequence[Value]) -> Any:
    places = [sheet.to_px(value.axis_m) for value in values]
    return place_labels([value.words for value in values], places, sheet.width_px, sheet.text.small_px)


def value_layers(sheet: Sheet, values: Sequence[Value], top: float) -> list[Spec]:
    """The numbers in a row of their own from `top` down, each with a thin line to its place below. [px]"""
    if not values:
        return []
    row, size = _laid_out(sheet, values), sheet.text.small_px
    upright, foot = row.direction == "upright", top + row.height_px + 3.0
    rows, boxes = [], []
    for value, centre_px in zip(values, row.centres_px, strict=True):
        place = {"x": sheet.value(value.axis_m), "label_x": sheet.value(sheet.to_m(centre_px))}
        heights = {"y": foot, "lead": foot + 2.0, "lead_end": foot + LEAD_PX + 3.0}
        colour = PAPER if value.strong else INK
        rows.append({**place, **heights, "words": value.words, "name": value.told, "colour": colour})
        if value.strong:
            long_px, half_px = text_width_px(value.words, size) + 4.0, 0.56 * size
            half_wide, high = (half_px, long_px) if upright else (long_px / 2, 1.3 * size)
            ends = [sheet.to_m(centre_px - half_wide), sheet.to_m(centre_px + half_wide)]
            boxes.append({**sheet.span(ends[0], ends[1], foot + 1.5 - high, foot + 1.5), "name": value.told})
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
    if boxes:
        layers.append(layer(sheet.data.named(boxes), "rect", {"color": INK, "clip": True}, sheet.box(**told())))
    layers.append(layer(data, "text", look, {**at, **told()}))
    return layers
