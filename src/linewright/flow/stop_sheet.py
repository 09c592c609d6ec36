"""The recovery sheet's figures: the line stopped once at each station and each transfer, and how it goes on.

One scenario of one instant a place; docs/semantics.md, "After a stop".
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from linewright.errors import SimulationError
from linewright.flow.restart import AFTER_S, SPEED_M_S, go_on, refuse_to_stop
from linewright.flow.stopping import BY_HAND, REJECTED, Stopped, aftermath, stopping_plan
from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.traffic.plan import LOADED, TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.draws import Luck
    from linewright.flow.kernel.general.run import Snapshot
    from linewright.flow.kernel.run import Replication

__all__ = ["NotStopped", "PlaceKind", "PlaceStop", "StopSheet", "stop_sheet"]

PlaceKind = Literal["station", "transfer"]

FIRST_LOOK_S: Final = 900.0
"""How long the line is run at first for instants, and looked at for a good part after it goes on. [s]"""
LONGEST_RUN_S: Final = 32 * FIRST_LOOK_S
"""How long it is run at most where some place is seldom at work, such as a reject exit. [s]"""
ROUNDS: Final = 2
"""Good parts for each nest on the line after which it counts as filled and running evenly."""
TRIES: Final = 32
"""Works or rides of a place that are tried."""
MS_US: Final = 1000
"""Instants are whole milliseconds, so that they can be typed in again. [us]"""


@dataclass(frozen=True)
class PlaceStop:
    """A stop at one place, in the middle of a work or a ride, and what follows it.

    Parameters
    ----------
    place, kind : name of the station or transfer; which of the two
    at_s : when the stop comes, from the begin of the run, to the millisecond. [s]
    since_s : how long the work or the ride had gone on then. [s]
    there : the carrier in work there, or that rides; of several that ride a loaded one
    riding : transfers whose platforms are under way; they finish their rides, and no carrier's times wait for them
    carriers : by the stop they stand on or go to, downstream first
    recovery_s : from the begin of the recovery until the line goes on. [s]
    rejected, by_hand : unverified parts that leave at a reject exit, or are taken out by hand
    first_good_s : from the begin of the recovery to the first good part; None if none comes within `looked_s`. [s]
    looked_s : how long the line was looked at after it goes on. [s]
    """

    place: str
    kind: PlaceKind
    at_s: float
    since_s: float
    there: Stopped
    riding: tuple[str, ...]
    carriers: tuple[Stopped, ...]
    recovery_s: float
    rejected: int
    by_hand: int
    first_good_s: float | None
    looked_s: float

    @property
    def order(self) -> tuple[Stopped, ...]:
        """The carriers that are moved before the line goes on, in the order in which they are: downstream first."""
        return tuple(one for one in self.carriers if one.recovery_begin_s is not None)

    @property
    def ride_s(self) -> float:
        """What the recovery has after the last slow move: the slowest ride of any platform, where a carrier stands on
        one or goes to one; else 0. [s]"""
        return self.recovery_s - max((one.recovery_end_s or 0.0 for one in self.order), default=0.0)


@dataclass(frozen=True)
class NotStopped:
    """A place at which the line could not be stopped, and why."""

    place: str
    kind: PlaceKind
    why: str


@dataclass(frozen=True)
class StopSheet:
    """A stop at each place of a line.

    Parameters
    ----------
    places : stations and transfers in the order of travel
    not_stopped : those without, in that order
    settled_s : from when on the line counts as filled and running evenly; no stop comes before. [s]
    run_s : how long it was run for instants. [s]
    speed_m_s : at which carriers go on during a recovery. [m/s]
    seed : of the run
    """

    places: tuple[PlaceStop, ...]
    not_stopped: tuple[NotStopped, ...]
    settled_s: float
    run_s: float
    speed_m_s: float
    seed: int


@dataclass(frozen=True)
class _Instant:
    """A work or a ride in whose middle the line may be stopped [us]; whether the carrier that rides is empty."""

    begin_us: int
    at_us: int
    empty: bool = False


@dataclass(frozen=True)
class _Place:
    """A station or a transfer by its number, the stops where its carriers are, and its instants, the wanted first."""

    name: str
    kind: PlaceKind
    number: int
    stops: tuple[int, ...]
    instants: tuple[_Instant, ...]


@dataclass(frozen=True, eq=False)
class _Stopping:
    """What all stops of a sheet share."""

    line: Line
    layout: Layout
    plan: TrafficPlan
    luck: Luck
    speed_m_s: float
    seed: int


def stop_sheet(line: Line, seed: int = 1, workers: int | None = None) -> StopSheet:
    """Stop a line once at each station and each transfer and let it go on.

    Parameters
    ----------
    line : a valid line
    seed : of the run up to the stops, >= 0
    workers : threads; None for one a core. The result does not depend on it.

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track; it has carriers taken out or put in; or it makes too few good
                      parts to have a steady state.
    ValueError        An argument is out of range.

    Notes
    -----
    One run of the line gives the instants, to the millisecond: for a station the middle of a work without a repair in
    it; for a transfer the middle of a ride with a loaded carrier, or where none comes with an empty one. They lie
    apart: of n places, in the order of travel, place k (from 0) has the first that fits from settled + k * window / n
    on, where the window is the run from when the line is filled, FIRST_LOOK_S of it at most; where none fits any more,
    the first before. Filled means that twice as many good parts are finished as there are nests on the line. The run
    is as long as it must be for that, and at least twice as long as the filling, up to LONGEST_RUN_S. What follows each
    stop is exactly what :func:`linewright.flow.restart.restart` gives for that instant and seed, at its usual speed or
    the drives' where that is less.

    Source     docs/semantics.md, "After a stop".
    """
    if seed < 0 or (workers is not None and workers < 1):
        raise ValueError(f"seed {seed}, workers {workers}: at least 0 and 1 are due")
    speed_m_s = min(SPEED_M_S, line.conveyor.drive.speed_m_s)
    refuse_to_stop(line, speed_m_s)
    layout = lay_out(line)
    from linewright.flow.kernel.draws import luck_of

    plan = stopping_plan(line, layout)
    stopping = _Stopping(line, layout, plan, luck_of(plan, seed, 0), speed_m_s, seed)
    log, settled_us, run_us = _log(stopping)
    places = _places(stopping, log, settled_us, run_us)
    threads = min(len(places), workers or os.cpu_count() or 1)
    if threads <= 1:
        found = [_stop(stopping, place, run_us) for place in places]
    else:
        with ThreadPoolExecutor(threads) as pool:
            found = list(pool.map(lambda place: _stop(stopping, place, run_us), places))
    return StopSheet(
        places=tuple(one for one in found if isinstance(one, PlaceStop)),
        not_stopped=tuple(one for one in found if isinstance(one, NotStopped)),
        settled_s=settled_us / 1e6,
        run_s=run_us / 1e6,
        speed_m_s=speed_m_s,
        seed=seed,
    )


def _log(stopping: _Stopping) -> tuple[Replication, int, int]:
    """A run in which every place is at work after the line is filled, if it comes to that; when it is filled, and how
    long the run is. [us]"""
    from linewright.flow.kernel.run import run_beyond

    plan = stopping.plan
    needed = ROUNDS * plan.carriers * plan.general.nests
    run_us, most_us = round(FIRST_LOOK_S * 1e6), round(LONGEST_RUN_S * 1e6)
    while True:
        log = run_beyond(plan, stopping.luck, run_us, run_us, trace_from_us=0)
        ends_us = np.sort(log.good[:, 1])
        if len(ends_us) >= needed:
            settled_us = int(ends_us[needed - 1])
            apart = run_us >= 2 * settled_us
            if run_us >= most_us or (apart and all(one.instants for one in _places(stopping, log, settled_us, run_us))):
                return log, settled_us, run_us
        elif run_us >= most_us:
            raise SimulationError(
                f"{len(ends_us)} good parts in {run_us / 3.6e9:g} h are too few to stop the line while it runs evenly; "
                f"{needed} are due"
            )
        run_us = min(2 * run_us, most_us)


def _places(stopping: _Stopping, log: Replication, settled_us: int, run_us: int) -> tuple[_Place, ...]:
    """Stations and transfers in the order of travel, each with its instants, the wanted first."""
    plan = stopping.plan
    found = [
        _Place(name, "station", k, (int(plan.station_stop[k]),), _works(log, k, settled_us, run_us))
        for k, name in enumerate(plan.station_names)
    ]
    for t, name in enumerate(plan.transfer_names):
        aboard = tuple(np.flatnonzero(plan.stop_transfer == t).tolist())
        aboard = tuple(stop for stop in aboard if stopping.layout.stops[stop].kind == "aboard")
        found.append(_Place(name, "transfer", t, aboard, _rides(plan, log, t, aboard, settled_us, run_us)))
    found.sort(key=lambda place: min(place.stops))
    window_us = min(run_us - settled_us, round(FIRST_LOOK_S * 1e6))
    wanted_us = [settled_us + k * window_us // len(found) for k in range(len(found))]
    return tuple(
        replace(place, instants=_from(place.instants, from_us)) for place, from_us in zip(found, wanted_us, strict=True)
    )


def _from(instants: tuple[_Instant, ...], from_us: int) -> tuple[_Instant, ...]:
    """Those that are tried: of loaded carriers before empty ones, and of each from an instant on, then those before.

    Notes      Empty ones are kept too, for the case that no loaded one can be used.
    """
    tried: list[_Instant] = []
    for empty in (False, True):
        some = sorted((one for one in instants if one.empty == empty), key=lambda one: (one.at_us < from_us, one.at_us))
        tried += some[:TRIES]
    return tuple(tried)


def _middle(begin_us: int, length_us: int, empty: bool = False) -> _Instant:
    """The instant in the middle of a work or a ride, in whole milliseconds where one lies inside it."""
    at_us = begin_us + length_us // 2
    whole_us = round(at_us / MS_US) * MS_US
    return _Instant(begin_us, whole_us if begin_us < whole_us < begin_us + length_us else at_us, empty)


def _works(log: Replication, station: int, settled_us: int, run_us: int) -> tuple[_Instant, ...]:
    """The middles of the works of a station that are done without a repair."""
    rows = log.works[log.works[:, 0] == station]
    begin, end = rows[:, 3], rows[:, 4]
    rows = rows[(begin >= settled_us) & (end < run_us) & (end - begin > 1) & (rows[:, 5] == 0)]
    return tuple(_middle(b, e - b) for b, e in rows[:, 3:5].tolist())


def _rides(
    plan: TrafficPlan, log: Replication, transfer: int, aboard: tuple[int, ...], settled_us: int, run_us: int
) -> tuple[_Instant, ...]:
    """The middles of the rides of a transfer."""
    moves = log.moves[np.argsort(log.moves[:, 1], kind="stable")]
    found: list[_Instant] = []
    for stop in aboard:
        boards = moves[(moves[:, 3] == stop) & (moves[:, 4] >= settled_us) & (moves[:, 4] < run_us)]
        leaves = moves[moves[:, 2] == stop]
        after = np.searchsorted(leaves[:, 1], boards[:, 4])
        for row, i in zip(boards.tolist(), after.tolist(), strict=True):
            # What ends a ride, its lock, is not logged: the carrier leaves when it is done, or later.
            if i < len(leaves):
                ride_us = min(_ride_us(plan, transfer, row[2], int(leaves[i, 3])), int(leaves[i, 1]) - row[4])
                if ride_us > 1:
                    found.append(_middle(row[4], ride_us, row[5] != LOADED))
    return tuple(found)


def _ride_us(plan: TrafficPlan, transfer: int, origin: int, target: int) -> int:
    """From unlocking to locked, for a carrier that boards from one stop and leaves for another; where a lane does
    not tell the dock, the slowest of those that it may be. [us]"""
    track = plan.general.track
    if track is None:
        return int(plan.aboard_us[transfer])
    platform = plan.general.platforms[transfer]
    takes, gives = len(platform.takes), len(platform.gives)
    comes, goes = int(track.stop_lane[origin]), int(track.stop_lane[target])
    froms = [platform.takes.index(comes)] if comes in platform.takes else list(range(takes))
    tos = [takes + platform.gives.index(goes)] if goes in platform.gives else list(range(takes, takes + gives))
    return max(platform.ride_us[a][b] for a in froms for b in tos)


def _stop(stopping: _Stopping, place: _Place, run_us: int) -> PlaceStop | NotStopped:
    """The stop at a place, at its first instant at which a carrier is in work or rides there, best a loaded one."""
    from linewright.flow.kernel.run import run_beyond

    found: tuple[_Instant, Snapshot, int] | None = None
    for instant in place.instants:
        before = run_beyond(stopping.plan, stopping.luck, instant.at_us, instant.at_us)
        assert before.beyond is not None  # of the general loop
        snapshot = before.beyond.snapshot
        there = [k for k in _there(place, snapshot) if snapshot.departed_us[k] < instant.at_us]
        if there:
            one = max(there, key=lambda k: (snapshot.present[k] != 0, -k))
            found = found or (instant, snapshot, one)
            # Empty carriers may be at work too, where loads are missed; of rides the loaded ones come first anyhow.
            if snapshot.present[one] or place.kind == "transfer":
                found = (instant, snapshot, one)
                break
    if found is not None:
        return _gone_on(stopping, place, *found)
    doing = "work" if place.kind == "station" else "ride"
    return NotStopped(place.name, place.kind, f"no {doing} there in {run_us / 3.6e9:g} h of simulation")


def _there(place: _Place, snapshot: Snapshot) -> Iterator[int]:
    """The carriers in work at a station, or aboard a platform that rides."""
    for k in np.flatnonzero(snapshot.on_line & snapshot.at_rest & np.isin(snapshot.stop, place.stops)).tolist():
        if snapshot.in_work[k] if place.kind == "station" else not snapshot.platform_locked[place.number]:
            yield k


def _gone_on(stopping: _Stopping, place: _Place, instant: _Instant, snapshot: Snapshot, there: int) -> PlaceStop:
    plan, at_us = stopping.plan, instant.at_us
    left = aftermath(stopping.line, stopping.layout, plan, snapshot, at_us, stopping.speed_m_s)
    looked_s = FIRST_LOOK_S
    going = go_on(plan, left, at_us, stopping.seed, looked_s)
    while going.first_s is None and looked_s < AFTER_S:
        looked_s = min(2.0 * looked_s, AFTER_S)
        going = go_on(plan, left, at_us, stopping.seed, looked_s)
    parts = {fate: sum(one.parts for one in left.carriers if one.fate == fate) for fate in (REJECTED, BY_HAND)}
    return PlaceStop(
        place=place.name,
        kind=place.kind,
        at_s=at_us / 1e6,
        since_s=(at_us - instant.begin_us) / 1e6,
        there=next(one for one in left.carriers if one.carrier == there),
        riding=tuple(
            name for name, locked in zip(plan.transfer_names, snapshot.platform_locked, strict=True) if not locked
        ),
        carriers=left.carriers,
        recovery_s=left.recovery_s,
        rejected=parts[REJECTED],
        by_hand=parts[BY_HAND],
        first_good_s=None if going.first_s is None else left.recovery_s + going.first_s,
        looked_s=looked_s,
    )
