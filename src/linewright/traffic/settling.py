"""How long a carrier stands still before work may start: the file's word, else the sheet's or the fixture's vibration.

The rule is that of docs/semantics.md, "Settling". Only at a station that states a window is there a vibration to wait
for; everywhere else nothing is computed.
"""

from __future__ import annotations

from dataclasses import dataclass

from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.motion.profile import Move
from linewright.motion.settling import Residual, residual_vibration
from linewright.traffic.legs import Leg, MoveOver

__all__ = ["Arrival", "StationSettling", "find_settling", "settling_time_s"]


@dataclass(frozen=True)
class Arrival:
    """One move that ends at a station, and what vibration it leaves.

    Parameters
    ----------
    load : EMPTY or LOADED
    start : rank of the stop from which it comes
    move : the carrier's move
    residual : the vibration of the fixture after it
    settling_s : until its envelope is within the station's window. [s]
    """

    load: int
    start: int
    move: Move
    residual: Residual
    settling_s: float


@dataclass(frozen=True)
class StationSettling:
    """What settling the vibration needs at one station with a window.

    Parameters
    ----------
    station : its name
    window_m : half-width. [m]
    arrivals : the moves that end there, at least one
    """

    station: str
    window_m: float
    arrivals: tuple[Arrival, ...]

    @property
    def worst(self) -> Arrival:
        """The move after which the fixture is still last; of equals the one that leaves most."""
        return max(self.arrivals, key=lambda arrival: (arrival.settling_s, arrival.residual.amplitude_m))

    @property
    def shortest(self) -> Arrival:
        """The quickest move that ends there: that of the exchange at its best."""
        return min(self.arrivals, key=lambda arrival: arrival.move.duration_s)


def find_settling(line: Line, layout: Layout, legs: list[Leg], move_over: MoveOver) -> tuple[StationSettling, ...]:
    """The vibration at every station that states a window, over all moves that end there.

    Parameters
    ----------
    line, layout : a line and its own layout
    legs : all that its carriers make
    move_over : the move of a load class over a distance, in a curve or not

    Returns
    -------
    tuple of StationSettling   In the order of the stations; a station to which no carrier ever goes has none.
    """
    windows = {layout.stop_of(s.name).index: (s.name, s.window_m) for s in line.stations if s.window_m is not None}
    if not windows:
        return ()
    fixture = line.fixture
    # a line file with a window and without these is refused
    assert fixture is not None and fixture.natural_frequency_hz is not None and fixture.damping is not None  # noqa: PT018
    arrivals: dict[int, list[Arrival]] = {}
    known: dict[tuple[int, float, bool], Residual] = {}
    for leg in sorted(legs, key=lambda one: (one.load, one.start, one.reach, one.end)):
        if leg.end not in windows:
            continue
        key = (leg.load, leg.distance_m, leg.curved)
        move = move_over(*key)
        if key not in known:
            known[key] = residual_vibration(move, fixture.natural_frequency_hz, fixture.damping)
        settling_s = known[key].settling_s(windows[leg.end][1])
        arrivals.setdefault(leg.end, []).append(Arrival(leg.load, leg.start, move, known[key], settling_s))
    return tuple(StationSettling(*windows[end], tuple(arrivals[end])) for end in windows if end in arrivals)


def settling_time_s(line: Line, station: Station, found: tuple[StationSettling, ...]) -> float:
    """The settling of one station that the plan uses. [s]

    Parameters
    ----------
    line, station : a line and one of its stations
    found : of the stations with a window, as :func:`find_settling` gives them

    Source     docs/semantics.md, Settling.
    """
    if station.settling_s is not None:
        return station.settling_s
    return max([line.conveyor.settling_s] + [one.worst.settling_s for one in found if one.station == station.name])
