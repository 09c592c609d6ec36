"""The time over which good parts are counted together when the warm-up is judged."""

from __future__ import annotations

from typing import Final

from linewright.line.demand import takt_s
from linewright.line.model import Line

CYCLES: Final = 10


def bin_length_s(line: Line) -> float:
    """Length of a bin: ten takts, or, without a demand, ten of the slowest station's cycles.

    Parameters
    ----------
    line : the line

    Returns
    -------
    float   [s], > 0

    Notes
    -----
    The slowest cycle is estimated as the largest over the steps of (work on average + tool clear + the larger of
    prepare and (done handshake + settling + start handshake)) / parallel stations; a bin only has to be about ten
    cycles long.

    Source
    ------
    docs/semantics.md, "Words of a result"; the estimate is common practice.
    """
    if line.demand is not None:
        return CYCLES * takt_s(line.demand)
    return CYCLES * max(_cycle_s(line, step.stations) for step in line.route)


def _cycle_s(line: Line, names: tuple[str, ...]) -> float:
    reaction = line.conveyor.reaction
    cycles = []
    for name in names:
        station = line.station(name)
        settling_s = line.conveyor.settling_s if station.settling_s is None else station.settling_s
        exchange_s = reaction.done_handshake_s + settling_s + reaction.start_handshake_s
        cycles.append(station.time.mean_s + station.clear_s + max(station.prepare_s, exchange_s))
    return sum(cycles) / len(cycles) ** 2
