"""The duty of a run: which moves its carriers really made, how often and when, for heat, wear, current and life."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.limits import moving_mass_kg
from linewright.motion.profile import Move, plan_move
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee.frames import Frames

if TYPE_CHECKING:
    from linewright.flow.run import Run

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

LONGEST_S: Final = 8 * 3600.0
"""At most so long a part of the run is kept. [s]"""


@dataclass(frozen=True)
class DutyLeg:
    """One kind of move that was made.

    Parameters
    ----------
    start, end : ranks of the stops
    loaded : a part is aboard
    lane : number of the lane on which it runs
    start_m, end_m : in the lane's stated direction, 0 at its start; beyond its ends on a platform; on a ring the end
        lies beyond the start. The end is less than the start on the way against the direction. [m]
    curved : it is planned within a curve's limits
    mass_kg : all that moves. [kg]
    move : its profile
    """

    start: int
    end: int
    loaded: bool
    lane: int
    start_m: float
    end_m: float
    curved: bool
    mass_kg: float
    move: Move


@dataclass(frozen=True, eq=False)
class DutyLog:
    """What else the log says of each move and work of a duty, in the same order: for pictures of its whole length.

    Parameters
    ----------
    arrival_us : int64[R]        When each move ends. [us]
    work_carrier, work_serial : int64[W]   Carrier of each work, serial of its part
    work_repair_us : int64[W]    Repairs within each work. [us]
    """

    arrival_us: Ints
    work_carrier: Ints
    work_serial: Ints
    work_repair_us: Ints


@dataclass(frozen=True, eq=False)
class Duty:
    """What the carriers of the first replication did from the end of the warm-up on, for 8 h at most.

    Parameters
    ----------
    from_s, to_s : of the run. [s]
    carriers : how many the line has
    legs : the kinds of moves, L of them
    carrier : int64[R]        Of each move
    departure_us : int64[R]   When it departs, ascending. [us]
    leg : int64[R]            Its kind
    work_station : int64[W]   Of each work, number of the station in the line file
    work_start_us, work_end_us : int64[W]   [us]
    log : the rest of the log; None of a duty that no run made
    """

    from_s: float
    to_s: float
    carriers: int
    legs: tuple[DutyLeg, ...]
    carrier: Ints
    departure_us: Ints
    leg: Ints
    work_station: Ints
    work_start_us: Ints
    work_end_us: Ints
    log: DutyLog | None = None

    @property
    def span_s(self) -> float:
        """How long it is. [s]"""
        return self.to_s - self.from_s

    def counts(self, bin_s: float) -> Ints:
        """How often each kind of move departs in each bin; the last bin may be cut short.

        Parameters
        ----------
        bin_s : length of a bin, > 0. [s]

        Returns
        -------
        int64[L, bins]   At least one bin.

        Raises
        ------
        ValueError   The bin is not positive.
        """
        if not bin_s > 0.0:
            raise ValueError(f"bin_s is {bin_s}; it must be positive")
        bins = max(1, int(np.ceil(self.span_s / bin_s - 1e-9)))
        number = np.minimum(((self.departure_us / 1e6 - self.from_s) / bin_s).astype(np.int64), bins - 1)
        flat = np.bincount(self.leg * bins + number, minlength=len(self.legs) * bins)
        return flat.reshape(len(self.legs), bins).astype(np.int64)

    def travel_m(self) -> Floats:
        """Travel of each carrier in the whole duty, float64[carriers], by number. [m]"""
        lengths_m = np.array([leg.move.distance_m for leg in self.legs])
        known = max(self.carriers, int(self.carrier.max(initial=-1)) + 1)
        return np.bincount(self.carrier, weights=lengths_m[self.leg], minlength=known).astype(np.float64)


def find_duty(line: Line, layout: Layout, plan: TrafficPlan, run: Run) -> Duty:
    """Run the first replication once more and keep its moves and works from the end of the warm-up on.

    Parameters
    ----------
    line, layout, plan : what was run
    run : of them; its seed, length and warm-up are taken

    Returns
    -------
    Duty   The same luck as in the run's own first replication.
    """
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of

    from_us = round(run.warm_up_s * 1e6)
    to_us = min(round(run.hours * 3600e6), from_us + round(LONGEST_S * 1e6))
    traced = run_once(plan, tables_of(plan), luck_of(plan, run.seed, 0), to_us, to_us, trace_from_us=from_us)
    moves = traced.moves[(traced.moves[:, 1] >= from_us) & (traced.moves[:, 1] < to_us)]
    moves = moves[np.argsort(moves[:, 1], kind="stable")]
    works = traced.works[np.argsort(traced.works[:, 3], kind="stable")]
    stops = len(layout.stops)
    keys = (moves[:, 2] * stops + moves[:, 3]) * 2 + moves[:, 5]
    made = np.flatnonzero(np.bincount(keys, minlength=1))
    numbers = np.zeros(2 * stops * stops, np.int64)
    numbers[made] = np.arange(len(made))
    kinds = np.stack((made // 2 // stops, made // 2 % stops, made % 2), axis=1)
    return Duty(
        from_s=from_us / 1e6,
        to_s=to_us / 1e6,
        carriers=plan.carriers,
        legs=_legs(line, layout, kinds),
        carrier=moves[:, 0].copy(),
        departure_us=moves[:, 1].copy(),
        leg=numbers[keys],
        work_station=works[:, 0].copy(),
        work_start_us=works[:, 3].copy(),
        work_end_us=works[:, 4].copy(),
        log=DutyLog(moves[:, 4].copy(), works[:, 1].copy(), works[:, 2].copy(), works[:, 5].copy()),
    )


def _legs(line: Line, layout: Layout, kinds: Ints) -> tuple[DutyLeg, ...]:
    """The way and the profile of each kind of move."""
    frames = Frames(line, layout)
    masses = {loaded: moving_mass_kg(line, loaded) for loaded in (False, True)}
    profiles: dict[tuple[bool, float, bool], Move] = {}
    legs = []
    for start, end, load in kinds.tolist():
        way, loaded = frames.run(start, end), load == 1
        if way is None:
            raise RuntimeError(f"the run has a move from stop {start} to stop {end}, between which there is no way")
        curved = frames.is_curved(way)
        key = loaded, round(way.length_m, 12), curved
        if key not in profiles:
            profiles[key] = plan_move(key[1], leg_limits(line, *key).limits)
        legs.append(
            DutyLeg(start, end, loaded, way.lane, way.start_m, way.end_m, curved, masses[loaded], profiles[key])
        )
    return tuple(legs)
