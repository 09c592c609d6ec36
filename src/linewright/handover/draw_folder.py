"""The folder that ``draw`` writes: each picture as SVG and PNG, the track chart also as a page to open in a browser."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from linewright.errors import SimulationError
from linewright.evaluation import Evaluation
from linewright.pictures.nothing import NothingToDraw

if TYPE_CHECKING:
    from linewright.pictures.picture import Picture
    from linewright.pictures.track.chart import Shown
    from linewright.planning.gains import Gains
    from linewright.planning.size import Sizing
    from linewright.traffic.gridlock.result import GridlockResult


NO_TRAFFIC: Final = "no traffic can be planned on this track"


@dataclass(frozen=True, eq=False)
class Drawing:
    """What ``draw`` writes.

    Parameters
    ----------
    pictures : those that could be drawn
    not_drawn : name of each of the others, and why
    """

    pictures: tuple[Picture, ...]
    not_drawn: tuple[tuple[str, str], ...]

    def files(self) -> dict[str, Callable[[], bytes]]:
        """File name -> a function that gives its bytes."""
        files: dict[str, Callable[[], bytes]] = {}
        for picture in self.pictures:
            files[f"{picture.name}.svg"] = partial(_text, picture.svg)
            files[f"{picture.name}.png"] = picture.png
            if picture.zooms:
                files[f"{picture.name}.html"] = partial(_text, picture.html)
        return files

    def page(self, out: str) -> str:
        """What is said of it: a line a picture, and what could not be drawn."""
        width = max(len(name) for name in (*(one.name for one in self.pictures), *(name for name, _ in self.not_drawn)))
        lines = []
        for picture in self.pictures:
            kinds = "svg, png, html" if picture.zooms else "svg, png"
            lines.append(f"{picture.name:<{width}}  {kinds}")
        lines += [f"{name:<{width}}  not drawn: {why}" for name, why in self.not_drawn]
        pages = [f"{out.rstrip('/')}/{picture.name}.html" for picture in self.pictures if picture.zooms]
        opened = [f"Open {page} in a browser." for page in pages]
        return "\n".join([f"Written to {out}:", *(f"  {line}" for line in lines), *opened]) + "\n"


def drawing_of(
    evaluation: Evaluation,
    names: Sequence[str],
    shown: Shown,
    gains: Gains | None,
    sizing: Sizing | str,
    locks: GridlockResult | str,
) -> Drawing:
    """Draw pictures of a line.

    Parameters
    ----------
    evaluation, gains, sizing, locks, shown : see `linewright.pictures.gallery.Material`
    names : which pictures, out of `linewright.pictures.gallery.PICTURES`

    Raises
    ------
    ValueError   What `shown` asks for is not there.
    """
    from linewright.pictures.gallery import PICTURES, Material, draw

    material = Material(evaluation, gains, sizing, locks, shown)
    pictures, not_drawn = [], []
    for name in PICTURES:
        if name in names:
            try:
                pictures.append(draw(name, material))
            except NothingToDraw as nothing:
                not_drawn.append((name, str(nothing)))
    return Drawing(tuple(pictures), tuple(not_drawn))


def sizing_of(
    evaluation: Evaluation, workers: int | None, progress_of_all: Callable[[int, int], None] | None = None
) -> Sizing | str:
    """A first look at the rate over the number of carriers, or why there is none.

    Parameters
    ----------
    evaluation : with the run whose seed is used, and whose hours and runs are not exceeded
    workers : threads; None for one a core
    progress_of_all : called with finished runs and all runs, from any thread

    Notes      Each count is run as long and as often as `linewright.planning.gains` tries a change at first; ``size``
               runs them for as long as it is told.
    """
    from linewright.planning.gains import MOST_RUNS, trial_hours
    from linewright.planning.size import size_line

    line, run = evaluation.line, evaluation.run
    if run is None:
        return NO_TRAFFIC
    try:
        return size_line(
            line,
            hours=trial_hours(line, run),
            runs=min(run.runs, MOST_RUNS),
            seed=run.seed,
            workers=workers,
            progress_of_all=progress_of_all,
        )
    except SimulationError as problem:
        return str(problem)


def locks_of(evaluation: Evaluation) -> GridlockResult | str:
    """Whether the line can lock up and how, or why that cannot be looked at."""
    from linewright.flow.gridlock import gridlock

    if evaluation.run is None:
        return NO_TRAFFIC
    try:
        return gridlock(evaluation.line)
    except SimulationError as problem:
        return str(problem)


def _text(written: Callable[[], str]) -> bytes:
    return written().encode("utf-8")
