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
    cut_us : what is left out of each run where shifts say it, a whole number of bins; None where it is judged. [us]
    """

    horizon_us: int
    bin_us: int
    runs: int
    seed: int
    cut_us: int | None = None


def run_length(line: Line, hours: float, runs: int, seed: int) -> RunLength:
    """The length of a run in whole microseconds.

    With a calendar a run has as many whole shifts as hold the hours. Where each ends with a run-down the next begins
    with an empty line, as the first does, and nothing is left out; else one shift more is run first and left out.

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
    cut_us = None
    if line.calendar is not None:
        shift_us = round(line.calendar.shift_s * 1e6)
        cut_us = shift_us if line.calendar.run_down_s is None else 0
        horizon_us = -(-horizon_us // shift_us) * shift_us + cut_us
        bin_us = _part_of(shift_us, bin_us)
    if horizon_us < 1:
        raise SimulationError("a run must be at least one microsecond long")
    if horizon_us // bin_us > MOST_BINS:
        raise SimulationError(
            f"a run of {hours:g} h has {horizon_us // bin_us} bins of ten takts, at most {MOST_BINS} may be: "
            "run shorter, or state a demand that a line can meet"
        )
    return RunLength(horizon_us, bin_us, runs, seed, cut_us)


def _part_of(shift_us: int, bin_us: int) -> int:
    """The longest time, at most a bin's and about half of one at least, that divides a shift; else the whole shift."""
    first = max(1, -(-shift_us // bin_us))
    parts = next((n for n in range(first, min(2 * first + 1, shift_us) + 1) if shift_us % n == 0), 1)
    return shift_us // parts


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
