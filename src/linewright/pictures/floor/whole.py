"""The line on the floor, to scale: each deck seen from above, and all of it from the side.

Decks that lie over one another get a plan each, the highest first, so that their names never meet.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.pictures.floor.ground import Ground, ground_of, levels_of, width_m
from linewright.pictures.floor.plan import plan_view
from linewright.pictures.floor.side import side_view
from linewright.pictures.floor.standing import standing_carriers
from linewright.pictures.floor.track import CENTRE, CLEAR, FIXTURE, PLATFORM, RIDE
from linewright.pictures.grammar import Datasets, stacked
from linewright.pictures.key import KeyEntry, box, box_glyph, point, stroke
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import HUE, INK, PALE, PAPER, Text
from linewright.pictures.wording import invented

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation

WORDS: Final = {"mm": "mm", "inch": "inches"}


def floor_plan(evaluation: Evaluation, text: Text | None = None) -> Picture:
    """The line on the floor, to scale: a plan of each deck and a side view, with dimensions.

    Parameters
    ----------
    evaluation : of the line; its track alone is drawn, so that a run is not needed
    text : sizes of letters
    """
    text = Text() if text is None else text
    ground, data = ground_of(evaluation, text), Datasets()
    standing = standing_carriers(evaluation.line, evaluation.layout)
    levels = levels_of(evaluation.layout)
    views = [
        plan_view(ground, level_m, _heading(ground, number, len(levels)), standing, data)
        for number, level_m in enumerate(levels)
    ]
    views.append(side_view(ground, "From the side", standing, data))
    name = f"{evaluation.line.name}: on the floor"
    return picture_of(
        "floor",
        name,
        _said(ground),
        [stacked(views, 16)],
        _key(ground),
        data,
        text,
        ground.width_px,
    )


def _heading(ground: Ground, number: int, decks: int) -> str:
    if decks == 1:
        return "Seen from above"
    if decks == 2:
        return f"{('Upper', 'Lower')[number]} deck, seen from above"
    return f"Deck {number + 1} of {decks} from the top, seen from above"


def _said(ground: Ground) -> list[str]:
    """What a reader must know: what the footprint leaves out, which way is which, what is not known."""
    evaluation, lengths = ground.evaluation, ground.lengths
    long, wide = lengths.text(ground.east_m - ground.west_m), lengths.text(width_m(evaluation))
    said = [
        (
            f"Footprint of the track itself with its platforms and carriers: {long} by {wide}. "
            "Access, guards and machines are not in it."
        ),
        (
            f"To scale; dimensions in {WORDS[lengths.units]}. West is at the left, across grows upwards. "
            "Heights of track and carriers are not stated, so that the side view shows none."
        ),
    ]
    if evaluation.layout.blocking:
        said.append(f"No traffic can be planned on this track: {'; '.join(evaluation.layout.blocking)}.")
    said += invented(evaluation.line)
    return said


def _key(ground: Ground) -> list[KeyEntry]:
    line = ground.line
    joint = KeyEntry("two sections and their joint", (box_glyph(12, 26, color=PALE), box_glyph(12, 2, color=PAPER)))
    key = [
        point("station", shape="triangle-down", filled=True, size=45, color=INK),
        stroke("its centre line", (14, 0), (14, 20), **CENTRE),
        joint,
    ]
    if ground.layout.transfers:
        key += [box("platform of a transfer at a lane", 12, 22, **PLATFORM), box("its way", 12, 22, **RIDE)]
    if any(station.keep_clear_m > 0.0 for station in line.stations):
        key.append(box("kept clear of waiting carriers", 5, 22, **CLEAR))
    if line.motor_zones:
        key.append(stroke("motor zone", (3, 10), (25, 10), color=HUE, strokeWidth=3))
    key.append(box("carrier at the planned start", 14, 18, fill=None, stroke=INK, strokeWidth=1.2))
    if line.fixture is not None and line.fixture.envelope_m is not None:
        dashed = {"stroke": FIXTURE["color"], "strokeWidth": 0.8, "strokeDash": FIXTURE["strokeDash"]}
        key.append(box("envelope of its fixture", 12, 16, fill=None, **dashed))
    return key
