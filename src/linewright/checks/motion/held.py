"""Carriers that a station's tool pushes along the track: only thrust holds them, for as long as the tool works."""

from __future__ import annotations

from linewright.line.model import Line, Station


def net_along_N(station: Station) -> float:
    """Force along the track that the thrust has to hold at a station, either way, at the stated force of its tools.

    Parameters
    ----------
    station : its forces and what carries them

    Returns
    -------
    float   [N]; 0 where no force is stated or none acts along the track

    Notes      The size of the sum of the forces along, less what the support takes along, but not below 0.
    Source     docs/limits/motion.md, Held carriers.
    """
    most_N = abs(sum(force.along_N for force in station.force or ()))
    carried = 0.0 if station.support is None or station.support.along_N is None else station.support.along_N
    return max(0.0, most_N - carried)


def stations_with_unstated_force(line: Line) -> list[str]:
    """Stations of which it is not stated whether they push on the carrier."""
    return [station.name for station in line.stations if station.force is None]
