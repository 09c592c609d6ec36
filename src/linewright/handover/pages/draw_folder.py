"""The folder that ``draw`` writes: each picture as SVG and PNG, the track chart also as a page to open in a browser."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from linewright.errors import SimulationError
from linewright.evaluation import Evaluation
from linewright.pictures.nothing import NothingToDraw, why_no_run

if TYPE_CHECKING:
    from linewright.pictures.picture import Picture
    from linewright.pictures.track.chart import Shown
    from linewright.planning.gains import Gains
    from linewright.planning.size import Sizing
    from linewright.traffic.gridlock.result import GridlockResult


SIZE_RUNS: Final = 10
"""As many runs of each count as ``size`` makes where it is told nothing else."""


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

    def page(self, out: str, removed: Sequence[str] = ()) -> str:
        """What is said of it: a line a picture, what could not be drawn, and what of a former folder is gone.

        Parameters
        ----------
        out : the folder
        removed : names of files that stood there and stand there no more
        """
        names = [*(picture.name for picture in self.pictures), *(name for name, _ in self.not_drawn)]
        width = max(len(name) for name in names)
        lines = [f"Written to {out}:" if self.pictures else f"Nothing to draw; {out} is as it was:"]
        kinds = {True: "svg, png, html", False: "svg, png"}
        lines += [f"  {picture.name:<{width}}  {kinds[picture.zooms]}" for picture in self.pictures]
        lines += [f"  {name:<{width}}  not drawn: {why}" for name, why in self.not_drawn]
        if removed:
            lines.append(f"The folder was written anew; gone from it: {', '.join(removed)}")
        pages = [f"{out.rstrip('/')}/{picture.name}.html" for picture in self.pictures if picture.zooms]
        return "\n".join([*lines, *(f"Open {page} in a browser." for page in pages)]) + "\n"


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
    """The rate over the number of carriers as ``size`` finds it, or why there is none.

    Parameters
    ----------
    evaluation : with the run whose seed is used, and whose hours and runs are not exceeded
    workers : threads; None for one a core
    progress_of_all : called with finished runs and all runs, from any thread

    Notes      Each count is run as ``size`` runs it by default, so that the two say the same.
    """
    from linewright.planning.size import size_line

    line, run = evaluation.line, evaluation.run
    if run is None:
        return why_no_run(evaluation)
    try:
        return size_line(
            line,
            hours=run.hours,
            runs=min(run.runs, SIZE_RUNS),
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
        return why_no_run(evaluation)
    try:
        return gridlock(evaluation.line)
    except SimulationError as problem:
        return str(problem)


def _text(written: Callable[[], str]) -> bytes:
    return written().encode("utf-8")
