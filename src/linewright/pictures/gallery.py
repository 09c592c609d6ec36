"""All pictures of a line, by name: what each is drawn from, and which of them there is nothing to draw of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.pictures.charts.accuracy import accuracy_shares
from linewright.pictures.charts.carriers import rate_against_carriers
from linewright.pictures.charts.causes import cycle_causes
from linewright.pictures.charts.current import current_trace
from linewright.pictures.charts.move import move_limits
from linewright.pictures.floor import floor_plan
from linewright.pictures.jam.steps import jam_steps
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.track.chart import Shown, track_chart
from linewright.traffic.gridlock.result import GridlockResult

if TYPE_CHECKING:
    from linewright.planning.gains import Gains
    from linewright.planning.size import Sizing

PICTURES: Final = ("track-chart", "floor", "causes", "carriers", "move", "accuracy", "current", "jam")
"""All pictures, in the order in which a reader wants them."""


@dataclass(frozen=True, eq=False)
class Material:
    """What the pictures of a line are drawn from.

    Parameters
    ----------
    evaluation : of the line
    gains : what would help, for a row of the track chart; None where nothing was tried
    sizing : the rate over the number of carriers, for ``carriers``; or why there is none, in words
    locks : the proof of the line's traffic, for ``jam``; or why there is none, in words
    shown : rows, stretch of time and letters of the track chart; of the other pictures the letters alone
    """

    evaluation: Evaluation
    gains: Gains | None
    sizing: Sizing | str
    locks: GridlockResult | str
    shown: Shown


def draw(name: str, material: Material) -> Picture:
    """One picture by its name.

    Parameters
    ----------
    name : one of PICTURES
    material : what it is drawn from

    Raises
    ------
    NothingToDraw   There is nothing to show; the text says why.
    ValueError      There is no such picture, or what `material.shown` asks for is not there.
    """
    evaluation, text = material.evaluation, material.shown.text
    drawn: dict[str, Callable[[], Picture]] = {
        "track-chart": lambda: track_chart(evaluation, material.gains, material.shown),
        "floor": lambda: floor_plan(evaluation, text),
        "causes": lambda: cycle_causes(evaluation, text),
        "carriers": lambda: _carriers(material),
        "move": lambda: move_limits(evaluation, text=text),
        "accuracy": lambda: accuracy_shares(evaluation, text),
        "current": lambda: current_trace(evaluation, text),
        "jam": lambda: _jam(material),
    }
    if name not in drawn:
        raise ValueError(f"there is no picture {name!r}; there are {', '.join(PICTURES)}")
    return drawn[name]()


def _carriers(material: Material) -> Picture:
    if isinstance(material.sizing, str):
        raise NothingToDraw(material.sizing)
    return rate_against_carriers(material.sizing, material.shown.text)


def _jam(material: Material) -> Picture:
    if isinstance(material.locks, str):
        raise NothingToDraw(material.locks)
    evaluation = material.evaluation
    return jam_steps(evaluation.line, evaluation.layout, material.locks, material.shown.text)
