"""The track chart on a large page, and the floor plan with its dimensions on a wide one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from linewright.handover.document.blocks import Block, Drawn, Heading, PageShape, Part, Words
from linewright.handover.papers.material import Material
from linewright.pictures import NothingToDraw, Picture, Shown, floor_plan, track_chart

_UNDER_HEADING: Final = 0.94
"""What a chapter's heading leaves of a page's height."""

_TOLD: Final = (
    "The track unrolled from left to right in travel; everything stands under its place, so that the eye goes straight "
    "up or down from a problem to where it is. At the foot the carriers in time: time runs down the page, each thread "
    "is a carrier; a thread that runs straight down is one that stands, or rides on a platform."
)
_BARE: Final = "The track unrolled from left to right in travel; no run was simulated."
# The others tell margins, or what would help: they are the builder's.
_FOR_CUSTOMER: Final = ("track", "time", "states", "string-line")


def track_part(material: Material) -> tuple[Part, ...]:
    """The track chart, whole on one large page: rows that all stand under the track.

    Parameters
    ----------
    material : of the line; for its customer without what would help, and without the rows of margins
    """
    if material.evaluation.run is None:
        rows = ("track",) if material.for_customer else ("track", "strength", "accuracy", "feeder")
        return (_page("Track chart", _BARE, lambda: track_chart(material.evaluation, None, Shown(rows)), "wide"),)
    if material.for_customer:
        chosen = Shown(_FOR_CUSTOMER)
        return (_page("Track chart", _TOLD, lambda: track_chart(material.evaluation, None, chosen), "large"),)
    return (_page("Track chart", _TOLD, lambda: track_chart(material.evaluation, material.gains, Shown()), "large"),)


def layout_part(material: Material) -> tuple[Part, ...]:
    """The floor plan: every deck from above with its dimensions, and the line from the side.

    Parameters
    ----------
    material : of the line
    """
    told = (
        "Each deck from above: in a chain from the west end of a lane, or of a ring's straight, to the centre of the "
        "first station, from centre to centre, and from the last to the east end; beside it the length of the lane. "
        "Then the line from the side with its overall length. How far a centre is from the west end of the floor, the "
        "page of its station says. Not to be scaled off: the figures hold."
    )
    return (_page("Layout with dimensions", told, lambda: floor_plan(material.evaluation), "wide"),)


def _page(heading: str, told: str, draw: Callable[[], Picture], shape: PageShape) -> Part:
    """A picture on a page of its own under its heading, or why there is none."""
    try:
        block: Block = Drawn(draw().svg(), told, _UNDER_HEADING)
    except NothingToDraw as nothing:
        return Part((Heading(heading), Words(f"Not drawn: {nothing}.")))
    return Part((Heading(heading), block), shape)
