"""Small plans written out by hand for the general reference model, and luck that is written down.

Stops are 0.1 m apart; a move over n of them takes 200 n + 20 ms, the rear has left a platform after 110 ms, δ is the
same for all pairs. Settling 30 ms, start handshake 10 ms, done handshake 20 ms, reaction 5 ms, no clear, no prepare.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from linewright.traffic.general import NO_WAY, General, Platform, Track
from linewright.traffic.plan import ABOARD, DOCK, FIXED, NO_LEG, STATION, WAITING, Chance, Law, TrafficPlan

MS: Final = 1000
SETTLING_US, START_US, DONE_US, FOLLOW_US = 30 * MS, 10 * MS, 20 * MS, 5 * MS


@dataclass
class WrittenLuck:
    """Luck written down: works take their station's time, and nothing else happens, but where it is stated.

    works_us : of each station; work_us_of : (station, variant, serial, visit) -> its own time
    flags : (station, serial, visit); reworks : (rework, serial, visit); misses : (station, serial)
    variants : of each load, repeated
    failures, outside_failures : (time or works, repair) of each failure of each kind, of each machine of each kind
    outside_times_us : of each machine
    """

    works_us: Sequence[int]
    work_us_of: dict[tuple[int, int, int, int], int] = field(default_factory=dict)
    flags: frozenset[tuple[int, int, int]] = frozenset()
    reworks: frozenset[tuple[int, int, int]] = frozenset()
    misses: frozenset[tuple[int, int]] = frozenset()
    variants: Sequence[int] = (0,)
    failures: Sequence[Sequence[tuple[int, int]]] = ()
    outside_times_us: Sequence[int] = ()
    outside_failures: Sequence[Sequence[Sequence[tuple[int, int]]]] = ()

    def work_us(self, station: int, variant: int, serial: int, visit: int) -> int:
        return self.work_us_of.get((station, variant, serial, visit), self.works_us[station])

    def flagged(self, station: int, serial: int, visit: int) -> bool:
        return (station, serial, visit) in self.flags

    def reworked(self, rework: int, serial: int, visit: int) -> bool:
        return (rework, serial, visit) in self.reworks

    def missed(self, station: int, serial: int) -> bool:
        return (station, serial) in self.misses

    def variant(self, load: int, carrier: int) -> int:
        return self.variants[load % len(self.variants)]

    def running_us(self, failure: int, number: int) -> int | None:
        times = self.failures[failure]
        return times[number][0] if number < len(times) else None

    def repair_us(self, failure: int, number: int) -> int:
        return self.failures[failure][number][1]

    def outside_us(self, outside: int, number: int) -> int:
        return self.outside_times_us[outside]

    def outside_running_us(self, outside: int, kind: int, number: int) -> int | None:
        times = self.outside_failures[outside][kind]
        return times[number][0] if number < len(times) else None

    def outside_repair_us(self, outside: int, kind: int, number: int) -> int:
        return self.outside_failures[outside][kind][number][1]


@dataclass(frozen=True)
class Transfer:
    """A transfer: the lanes it takes from and gives to, its rides by dock in ms, its places."""

    takes: tuple[int, ...]
    gives: tuple[int, ...]
    ride_ms: tuple[tuple[int, ...], ...]
    places: int = 1
    at_once: bool = True


@dataclass
class _Stops:
    """Stops in the order of lanes, the places aboard after the first lane that their transfer takes from."""

    kinds: list[int] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    lanes: list[int] = field(default_factory=list)
    transfers: list[int] = field(default_factory=list)

    def add(self, kind: int, name: str, lane: int, transfer: int = -1) -> int:
        self.kinds.append(kind)
        self.names.append(name)
        self.lanes.append(lane)
        self.transfers.append(transfer)
        return len(self.kinds) - 1


def plan_on(
    lanes: Sequence[str],
    transfers: Sequence[Transfer],
    route: Sequence[str],
    first_stops: Sequence[int],
    exits: Sequence[str] = (),
    closed: bool = False,
    two_way: bool = False,
    delay_ms: int = 0,
    general: General | None = None,
) -> TrafficPlan:
    """A plan on a track of its own.

    Parameters
    ----------
    lanes : the stops of each, as "wait press dock"; what is neither is a station
    route : the stations of each step, as "press" or "test-1 test-2"; exits : steps that are exits
    closed : one lane that is a ring
    general : what else is beyond the plain loop
    """
    stops, on_lane, aboard = _lay(lanes, transfers)
    after = _neighbours(stops, on_lane, aboard, transfers, closed, two_way)
    way, way_m = _ways(after)
    n = len(stops.kinds)
    leg = np.full((n, n), NO_LEG, np.int64)
    pairs = [(i, j) for i in range(n) for j in range(n) if i != j and way[i, j] != NO_WAY]
    for number, (i, j) in enumerate(pairs):
        leg[i, j] = number
    over = [round(way_m[i, j] / 0.1) for i, j in pairs]
    leg_us = np.repeat(np.array([(200 * r + 20) * MS for r in over], np.int64), 2)
    rear_us = np.repeat(np.array([110 * MS if stops.kinds[i] == ABOARD else 0 for i, _ in pairs], np.int64), 2)
    onward = np.array([next(iter(following), NO_WAY) for following in after], np.int64)
    if two_way:
        onward = np.array([*range(1, n), NO_WAY], np.int64)
    against = np.array([[two_way and j < i for j in range(n)] for i in range(n)])
    track = Track(
        len(lanes), np.array(stops.lanes, np.int64), onward, way, way_m, leg, leg_us, rear_us, two_way, against
    )
    platforms = tuple(
        Platform(
            tuple(aboard[t]),
            transfer.takes,
            transfer.gives,
            tuple(tuple(ms * MS for ms in row) for row in transfer.ride_ms),
            transfer.at_once,
        )
        for t, transfer in enumerate(transfers)
    )
    differs = np.repeat(np.repeat(_differs(pairs, over), 2, axis=0), 2, axis=1)
    more = dataclasses.replace(general or General(), track=track, platforms=platforms, differs_us=differs)
    return _plan(stops, route, exits, first_stops, len(pairs), delay_ms, len(transfers), more)


def _lay(lanes: Sequence[str], transfers: Sequence[Transfer]) -> tuple[_Stops, list[list[int]], dict[int, list[int]]]:
    stops, on_lane, aboard = _Stops(), [], {}
    kinds = {"wait": WAITING, "dock": DOCK}
    for lane, text in enumerate(lanes):
        on_lane.append([stops.add(kinds.get(name, STATION), name, lane) for name in text.split()])
        for t, transfer in enumerate(transfers):
            if transfer.takes[0] == lane:
                aboard[t] = [stops.add(ABOARD, f"transfer {t}", lane, t) for _ in range(transfer.places)]
    return stops, on_lane, aboard


def _neighbours(
    stops: _Stops,
    on_lane: list[list[int]],
    aboard: dict[int, list[int]],
    transfers: Sequence[Transfer],
    closed: bool,
    two_way: bool,
) -> list[list[int]]:
    """The stops that may follow each, straight on first."""
    after: list[list[int]] = [[] for _ in stops.kinds]
    chains = [*on_lane, *aboard.values()]
    for chain in chains:
        for before, following in itertools.pairwise(chain):
            after[before].append(following)
            if two_way:
                after[following].append(before)
    if closed:
        after[on_lane[0][-1]].append(on_lane[0][0])
    for t, transfer in enumerate(transfers):
        for lane in transfer.takes:
            after[on_lane[lane][-1]].append(aboard[t][0])
        after[aboard[t][-1]] += [on_lane[lane][0] for lane in transfer.gives]
    return after


def _ways(after: list[list[int]]) -> tuple[np.ndarray, np.ndarray]:
    n = len(after)
    way, way_m = np.full((n, n), NO_WAY, np.int64), np.full((n, n), np.inf)
    for goal in range(n):
        steps = {goal: 0}
        queue = [goal]
        for stop in queue:
            for before in range(n):
                if stop in after[before] and before not in steps:
                    steps[before] = steps[stop] + 1
                    queue.append(before)
        for start in range(n):
            near = [following for following in after[start] if following in steps]
            if near:
                way[start, goal] = min(near, key=lambda following: steps[following])
                way_m[start, goal] = 0.1 * (steps[int(way[start, goal])] + 1)
    return way, way_m


def _differs(pairs: list[tuple[int, int]], over: list[int]) -> np.ndarray:
    """A longer move first differs 100 ms before the shorter one has run its way at full speed."""
    table = [
        [(200 * r - 100) * MS if start == other else -(2**31) for other, _ in pairs]
        for (start, _), r in zip(pairs, over, strict=True)
    ]
    return np.array(table, np.int32)


def _plan(
    stops: _Stops,
    route: Sequence[str],
    exits: Sequence[str],
    first_stops: Sequence[int],
    legs: int,
    delay_ms: int,
    transfers: int,
    general: General,
) -> TrafficPlan:
    names = [name for step in route for name in step.split()]
    count = len(names)
    at = [stops.names.index(name) for name in names]
    step_of = [p for p, step in enumerate(route) for _ in step.split()]
    empty = np.zeros((2, len(stops.kinds), 0), np.int64)

    def each(value: int) -> np.ndarray:
        return np.full(count, value, np.int64)

    return TrafficPlan(
        stop_kind=np.array(stops.kinds, np.int64),
        stop_station=np.array([names.index(name) if name in names else -1 for name in stops.names], np.int64),
        stop_transfer=np.array(stops.transfers, np.int64),
        stop_axis_m=np.arange(len(stops.kinds)) * 0.1,
        loop_m=0.1 * len(stops.kinds),
        pitch_m=0.1,
        station_names=tuple(names),
        station_stop=np.array(at, np.int64),
        station_step=np.array(step_of, np.int64),
        step_names=tuple(route),
        step_stations=tuple(tuple(names.index(name) for name in step.split()) for step in route),
        step_exit=tuple(step in exits for step in route),
        transfer_names=tuple(f"transfer {t}" for t in range(transfers)),
        first_stops=np.array(first_stops, np.int64),
        follow_us=FOLLOW_US,
        start_handshake_us=START_US,
        done_handshake_us=DONE_US,
        settling_us=each(SETTLING_US),
        clear_us=each(0),
        prepare_us=each(0),
        move_us=empty,
        leg=np.zeros((len(stops.kinds), 0), np.int64),
        delay_us=np.full((2 * legs, 2 * legs), delay_ms * MS, np.int32),
        aboard_us=np.zeros(transfers, np.int64),
        rear_us=empty,
        home_us=np.zeros(transfers, np.int64),
        work=(Law(FIXED, 0.0),) * count,
        reject=(Chance(),) * count,
        failures=(),
        general=general,
    )
