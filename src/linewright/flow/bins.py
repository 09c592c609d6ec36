"""How long a run is, and the time over which its good parts are counted together when the warm-up is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.errors import SimulationError
from linewright.line.demand import takt_s
from linewright.line.model import Line

CYCLES: Final = 10
MOST_BINS: Final = 1_000_000


@dataclass(frozen=True)
class RunLength:
    """How long and how often every plan is run, and with which luck.

    Parameters
    ----------
    horizon_us : length of one run. [us]
    bin_us : time over which good parts are counted together. [us]
    runs, seed : runs of each plan; run r of every plan meets the luck of (seed, r)
    """

    horizon_us: int
    bin_us: int
    runs: int
    seed: int


def run_length(line: Line, hours: float, runs: int, seed: int) -> RunLength:
    """The length of a run in whole microseconds.

    Raises
    ------
    ValueError        hours is not above 0, runs under 1 or seed under 0.
    SimulationError   A run would be too short or have too many bins.
    """
    if not (math.isfinite(hours) and hours > 0.0):
        raise ValueError(f"hours is {hours}; it must be above 0")
    if runs < 1 or seed < 0:
        raise ValueError(f"runs {runs}, seed {seed}: at least 1 and 0 are due")
    horizon_us = round(hours * 3600e6)
    bin_us = max(1, round(bin_length_s(line) * 1e6))
    if horizon_us < 1:
        raise SimulationError("a run must be at least one microsecond long")
    if horizon_us // bin_us > MOST_BINS:
        raise SimulationError(
            f"a run of {hours:g} h has {horizon_us // bin_us} bins of ten takts, at most {MOST_BINS} may be: "
            "run shorter, or state a demand that a line can meet"
        )
    return RunLength(horizon_us, bin_us, runs, seed)


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
