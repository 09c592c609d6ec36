"""Small tracks with every route on them, told by a few numbers, and the traffic plans made of them.

A plan is told by a `Small`, which is cheap; `plan_of` makes the plan. Families: ``ring`` (every ring of stops with
every route), ``loop`` (one or two transfers), ``track`` (transfers that take from or give to two lanes) and
``two-way``. All works last one second; whatever may be flagged or sent back is so by chance, so that a script can have
it either way.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from agree.random_tracks import HALF, PITCH, Base, LaneSketch, Sketch, TransferSketch, plan_of_track
from linewright.motion.profile import Limits
from linewright.traffic.general import General, Rework
from linewright.traffic.plan import ABOARD, DOCK, FIXED, NO_LEG, STATION, WAITING, Chance, Law, TrafficPlan

SECOND: Final = Law(FIXED, 1_000_000.0)
RIDE_US: Final = 300_000
LIMITS: Final = Limits(1.2, 8.0, 120.0)

Docks = tuple[tuple[tuple[int, ...], tuple[int, ...], int], ...]
"""Of each transfer the lanes that it takes from, those it gives to, and its places."""

RING: Final[Docks] = ()
ONE: Final[Docks] = (((0,), (0,), 1),)
TWO: Final[Docks] = (((0,), (1,), 1), ((1,), (0,), 1))
SPUR: Final[Docks] = (((0, 1), (0, 1), 1),)
SIDE: Final[Docks] = (((0,), (1, 2), 1), ((1, 2), (0,), 1))
SPUR_ON_LOOP: Final[Docks] = (((0, 2), (1, 2), 1), ((1,), (0,), 1))
TRACKS: Final = (SPUR, SIDE, SPUR_ON_LOOP)


@dataclass(frozen=True)
class Shape:
    """A track: the stops of each lane (dock included), its transfers, whether it is two-way."""

    lanes: tuple[int, ...]
    docks: Docks
    two_way: bool = False


@dataclass(frozen=True)
class Small:
    """All that tells a small plan.

    Parameters
    ----------
    family : see above
    shape : the track
    stations : (rank of the stop, step), ascending; the stations are numbered in this order
    carriers : K
    exit : (step that flags, step that is the exit), if any
    rework : (step that sends back, step to which), if any
    as_loop : written as a plain loop, not as a track in general
    general : what else the line has beyond the plain loop
    """

    family: str
    shape: Shape
    stations: tuple[tuple[int, int], ...]
    carriers: int
    exit: tuple[int, int] | None = None
    rework: tuple[int, int] | None = None
    as_loop: bool = False
    general: General | None = None

    @property
    def steps(self) -> int:
        """How many steps the route has."""
        return 1 + max(step for _, step in self.stations)

    @property
    def name(self) -> str:
        """The plan in one line, for messages."""
        steps = " ".join(f"{stop}:{step}" for stop, step in self.stations)
        more = "".join(
            (
                f" exit {self.exit}" if self.exit else "",
                f" rework {self.rework}" if self.rework else "",
                " loop" if self.as_loop else "",
                f" {_told(self.general)}" if self.general else "",
            )
        )
        return f"{self.family} {self.shape.lanes} {self.shape.docks} [{steps}] K={self.carriers}{more}"


def _told(general: General) -> str:
    """What a line has beyond the plain loop, as far as it is not the default."""
    usual = General()
    fields = (one.name for one in dataclasses.fields(general))
    return ", ".join(
        f"{name}={getattr(general, name)}" for name in fields if getattr(general, name) != getattr(usual, name)
    )


# ---- families ----


def rings(most_stops: int) -> Iterator[Small]:
    """Every ring of at most so many stops, each a waiting stop or a station, with every route; with a step that flags
    and its exit; with rework. Rings that are turns of each other count once."""
    for count in range(1, most_stops + 1):
        shape = Shape((count,), RING)
        for marks in itertools.product(range(-1, count), repeat=count):
            used = {mark for mark in marks if mark >= 0}
            turns = [marks[n:] + marks[:n] for n in range(count)]
            # A ring's last stop is a station; of its turns that do, the first in order stands for all.
            if used and used == set(range(len(used))) and marks == min(one for one in turns if one[-1] >= 0):
                yield from _with_product("ring", shape, stations_of(marks), 1 if count < 5 else 4)


def loops(most_stops: int) -> Iterator[Small]:
    """Loops with one or two transfers and at most so many stops, places aboard included; every third with two transfers
    is written as a plain loop."""
    shapes = [Shape((count,), ONE) for count in range(1, most_stops)]
    shapes += [
        Shape((one, other), TWO)
        for one in range(1, most_stops)
        for other in range(1, most_stops)
        if one + other + 2 <= most_stops
    ]
    for shape in shapes:
        for number, marks in enumerate(routes_of(shape)):
            for small in _with_product("loop", shape, stations_of(marks), 3):
                yield dataclasses.replace(small, as_loop=len(shape.docks) == 2 and number % 3 == 0)


def tracks(most_stops: int) -> Iterator[Small]:
    """Tracks with a transfer that takes from or gives to two lanes, at most so many stops."""
    for docks in TRACKS:
        lanes = 1 + max(lane for takes, gives, _ in docks for lane in (*takes, *gives))
        for sizes in itertools.product(range(1, most_stops), repeat=lanes):
            if sum(sizes) + len(docks) <= most_stops:
                shape = Shape(sizes, docks)
                for marks in routes_of(shape):
                    yield from _with_product("track", shape, stations_of(marks), 2)


def two_way_lanes(most_stops: int) -> Iterator[Small]:
    """Two-way lanes of at most so many stops, the last of them a station."""
    for count in range(1, most_stops + 1):
        shape = Shape((count,), RING, two_way=True)
        for marks in routes_of(shape):
            if marks[-1] >= 0:
                yield from _with_product("two-way", shape, stations_of(marks), 3)


def routes_of(shape: Shape) -> Iterator[tuple[int, ...]]:
    """The step of the station on each stop, -1 for none, in every way: each step from 0 on has a station."""
    free = [kind == WAITING for kind in kinds_of(shape)]
    for marks in itertools.product(*(range(-1, sum(free)) if one else (-1,) for one in free)):
        used = {mark for mark in marks if mark >= 0}
        if used and used == set(range(len(used))):
            yield marks


def stations_of(marks: Sequence[int]) -> tuple[tuple[int, int], ...]:
    return tuple((stop, step) for stop, step in enumerate(marks) if step >= 0)


def _with_product(family: str, shape: Shape, stations: tuple[tuple[int, int], ...], every: int) -> Iterator[Small]:
    """A route with every number of carriers that may stand at time zero: with good parts alone, with an exit and with
    an exit and rework; of the last two one in `every`."""
    steps = Small(family, shape, stations, 1).steps
    exits = [(flags, exit_at) for exit_at in range(1, steps) for flags in range(exit_at)]
    reworks = [(pair, (flags, back)) for pair in exits for flags in range(pair[1]) for back in range(flags + 1)]
    luck = random.Random(f"{shape} {stations}")
    for carriers in range(1, room_for(shape, stations) + 1):
        yield Small(family, shape, stations, carriers)
        for pair in exits:
            if luck.random() * every < 1:
                yield Small(family, shape, stations, carriers, pair)
        for pair, rework in reworks:
            if luck.random() * every * len(exits) < 1:
                yield Small(family, shape, stations, carriers, pair, rework)


# ---- plans ----


def plan_of(small: Small) -> TrafficPlan:
    """The plan that a `Small` tells."""
    base = _geometry(small.shape)
    stations, steps = len(small.stations), small.steps
    kinds = kinds_of(small.shape)
    station_at = np.full(base.stops, -1, np.int64)
    for number, (stop, _) in enumerate(small.stations):
        kinds[stop], station_at[stop] = STATION, number
    step_of = [step for _, step in small.stations]
    general = dataclasses.replace(
        small.general or General(), track=base.general.track, platforms=base.general.platforms
    )
    if general.going_on:
        general = dataclasses.replace(general, differs_us=_differs_us(small.shape))
    if small.rework is not None:
        sent = [number for number, step in enumerate(step_of) if step == small.rework[0]]
        general = dataclasses.replace(general, rework=tuple(Rework(k, 0.3, small.rework[1], 1) for k in sent))
    plan = dataclasses.replace(
        base,
        stop_kind=np.array(kinds, np.int64),
        stop_station=station_at,
        station_names=tuple(f"s{k}" for k in range(stations)),
        station_stop=np.array([stop for stop, _ in small.stations], np.int64),
        station_step=np.array(step_of, np.int64),
        step_names=tuple(f"p{p}" for p in range(steps)),
        step_stations=tuple(tuple(k for k, step in enumerate(step_of) if step == p) for p in range(steps)),
        step_exit=tuple(small.exit is not None and p == small.exit[1] for p in range(steps)),
        first_stops=np.array(first_stops_of(small.shape, small.stations)[: small.carriers], np.int64),
        follow_us=20_000,
        start_handshake_us=0,
        done_handshake_us=0,
        settling_us=np.zeros(stations, np.int64),
        clear_us=np.zeros(stations, np.int64),
        prepare_us=np.zeros(stations, np.int64),
        work=(SECOND,) * stations,
        reject=tuple(Chance(0.3 if small.exit is not None and step == small.exit[0] else 0.0) for step in step_of),
        general=general,
    )
    return _as_loop(plan) if small.as_loop else plan


def kinds_of(shape: Shape) -> list[int]:
    """The kind of each stop before stations are laid, in the order of ranks: a lane, then the places aboard of the
    transfers that take from it first."""
    kinds: list[int] = []
    for number, count in enumerate(shape.lanes):
        kinds += [WAITING] * (count - 1) + [DOCK if shape.docks else WAITING]
        kinds += [ABOARD] * sum(places for takes, _, places in shape.docks if takes[0] == number)
    return kinds


@functools.cache
def _laid(shape: Shape) -> Base:
    """The stops, ways and legs of a track, stops a pitch apart, with one station that others are laid in the place of.

    Of a lane with a dock it is the first stop, else the last: waiting stops fill the rest.
    """
    marked = next(number for number, count in enumerate(shape.lanes) if count > 1 or not shape.docks)
    place = HALF if shape.docks else HALF + PITCH * (shape.lanes[0] - 1)
    closed = not shape.docks and not shape.two_way
    lanes = tuple(
        LaneSketch(
            ((place, 0),) if number == marked else (),
            PITCH * count if closed else 2 * HALF + PITCH * (count - 1),
            300 * number,
        )
        for number, count in enumerate(shape.lanes)
    )
    transfers = tuple(TransferSketch(takes, gives, places) for takes, gives, places in shape.docks)
    return plan_of_track(Sketch(lanes, transfers, ((0,),), 1, LIMITS, LIMITS, shape.two_way), random.Random(0))


@functools.cache
def _differs_us(shape: Shape) -> np.ndarray:
    """When the profiles of legs that begin at one stop first differ, for going on."""
    return _laid(shape).differs()


@functools.cache
def _geometry(shape: Shape) -> TrafficPlan:
    """The plan of a track before stations are laid, its platforms' rides of one length and returning at once."""
    plan = _laid(shape).plan
    assert len(plan.stop_kind) == len(kinds_of(shape))
    platforms = tuple(
        dataclasses.replace(one, at_once=True, ride_us=_rides(len(one.ride_us))) for one in plan.general.platforms
    )
    return dataclasses.replace(plan, general=dataclasses.replace(plan.general, platforms=platforms))


def _rides(docks: int) -> tuple[tuple[int, ...], ...]:
    """Rides of one length from every dock to every other."""
    return tuple(tuple(RIDE_US * (one != other) for other in range(docks)) for one in range(docks))


@functools.lru_cache(maxsize=4096)
def first_stops_of(shape: Shape, stations: tuple[tuple[int, int], ...]) -> tuple[int, ...]:
    """The stops on which carriers may stand at time zero, the first one first: the stop of the first station (of
    parallel ones the farthest downstream), then the waiting and dock stops upstream of it, the nearest first."""
    track = _geometry(shape).general.track
    assert track is not None
    homes = [stop for stop, step in stations if step == 0]
    taken = {stop for stop, _ in stations}
    rests = [stop for stop, kind in enumerate(kinds_of(shape)) if kind != ABOARD and stop not in taken]
    if shape.two_way:
        home = max(homes)
        return (home, *(stop for stop in reversed(rests) if stop < home))
    home = max(homes, key=lambda one: (min((track.way_m[one, o] for o in homes if o != one), default=0.0), one))
    near = sorted((float(track.way_m[stop, home]), stop) for stop in rests)
    return (home, *(stop for length_m, stop in near if np.isfinite(length_m)))


def room_for(shape: Shape, stations: tuple[tuple[int, int], ...]) -> int:
    """How many carriers may stand at time zero."""
    return len(first_stops_of(shape, stations))


def _as_loop(plan: TrafficPlan) -> TrafficPlan:
    """A loop of two lanes and two transfers written as a plain loop, its legs by how many stops farther they end."""
    track = plan.general.track
    assert track is not None
    count = plan.stops
    leg = np.full((count, count - 1), NO_LEG, np.int64)
    move_us = np.full((2, count, count - 1), NO_LEG, np.int64)
    rear_us = np.zeros((2, len(plan.transfer_names), count - 1), np.int64)
    for start, end in zip(*np.nonzero(track.leg != NO_LEG), strict=True):
        number, reach = int(track.leg[start, end]), (end - start) % count - 1
        leg[start, reach] = number
        for load in (0, 1):
            move_us[load, start, reach] = track.leg_us[2 * number + load]
            if plan.stop_kind[start] == ABOARD:
                rear_us[load, plan.stop_transfer[start], reach] = track.rear_us[2 * number + load]
    transfers = len(plan.transfer_names)
    return dataclasses.replace(
        plan,
        leg=leg,
        move_us=move_us,
        rear_us=rear_us,
        aboard_us=np.full(transfers, RIDE_US, np.int64),
        home_us=np.full(transfers, RIDE_US, np.int64),
        general=dataclasses.replace(plan.general, track=None, platforms=()),
    )
