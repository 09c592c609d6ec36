"""Where carriers stand at the planned start."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linewright.layout import LaneLayout, Layout, resting_order
from linewright.line.model import Line


@dataclass(frozen=True)
class Standing:
    """A carrier at rest.

    Parameters
    ----------
    carrier : its number
    travel_m : on its lane. [m]
    stop : what it stands on
    """

    carrier: int
    lane: LaneLayout
    travel_m: float
    stop: str

    def outlines(self, line: Line) -> Iterator[tuple[float, float, str, str]]:
        """Length along the track and width across it, ``carrier`` or ``fixture``, and what is told of it. [m]"""
        body = line.conveyor.carrier
        yield body.length_m, body.width_m, "carrier", f"carrier {self.carrier} at {self.stop}"
        envelope = None if line.fixture is None else line.fixture.envelope_m
        if envelope is not None:
            yield envelope[0], envelope[1], "fixture", f"fixture of carrier {self.carrier} at {self.stop}"


def standing_carriers(line: Line, layout: Layout) -> tuple[Standing, ...]:
    """The carriers at time zero."""
    stops = [layout.stops[rank] for rank in resting_order(line, layout)]
    return tuple(
        Standing(number, layout.lane(stop.lane), stop.travel_m, stop.label) for number, stop in enumerate(stops)
    )
