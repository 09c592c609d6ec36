"""Small invented tracks as traffic plans: ring, to and fro, branches and merges, platforms of several places.

Places are whole millimetres, so that ways of one length are of one length. Moves and delays are those of the motion
room. `plan_of_track` gives a plan with plain tools and no failure; `loop_of_line` gives the plan of a random line, with
every leg on it, and `as_track` the same loop written as a track in general.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from agree.random_lines import random_line
from linewright.layout import lay_out
from linewright.motion.gaps import profile_table, start_delays_us
from linewright.motion.profile import Limits, Move, plan_move, to_microseconds
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import NO_WAY, General, Platform, Track
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    FIXED,
    NO_BOUND,
    NO_LEG,
    STATION,
    WAITING,
    Chance,
    Law,
    TrafficPlan,
)

PITCH: Final = 200
HALF: Final = 90
GAP: Final = 20
HALF_PLATFORM: Final = 120
LIMITS: Final = (Limits(1.2, 8.0, 120.0), Limits(0.7, 4.0, 60.0), Limits(2.0, 10.0, 200.0), Limits(0.9, 3.0, 300.0))


@dataclass(frozen=True)
class LaneSketch:
    """A lane: its stations as (place, number), its length in mm and the level of its docks."""

    stations: tuple[tuple[int, int], ...]
    length: int
    level: int = 0


@dataclass(frozen=True)
class TransferSketch:
    """A transfer: lanes that it takes from and gives to, its places, how it returns."""

    takes: tuple[int, ...]
    gives: tuple[int, ...]
    places: int = 1
    at_once: bool = True


@dataclass(frozen=True)
class Sketch:
    """A track before its stops are laid: lanes, transfers, the steps' stations and how fast carriers go."""

    lanes: tuple[LaneSketch, ...]
    transfers: tuple[TransferSketch, ...]
    steps: tuple[tuple[int, ...], ...]
    carriers: int
    empty: Limits
    loaded: Limits
    two_way: bool = False

    @property
    def is_ring(self) -> bool:
        """One lane closed on itself."""
        return not self.transfers and not self.two_way


@dataclass(frozen=True)
class Leg:
    """A move from stop to stop, by its places on the lane on which it runs; `against` its stated direction."""

    start: int
    end: int
    lane: int
    start_mm: int
    end_mm: int
    against: bool = False

    @property
    def distance_mm(self) -> int:
        """How far it is."""
        return abs(self.end_mm - self.start_mm)


@dataclass
class Stops:
    """The stops of a sketch, by rank."""

    kind: list[int] = field(default_factory=list)
    station: list[int] = field(default_factory=list)
    transfer: list[int] = field(default_factory=list)
    lane: list[int] = field(default_factory=list)
    place: list[int] = field(default_factory=list)
    of_lane: list[list[int]] = field(default_factory=list)
    aboard: dict[int, list[int]] = field(default_factory=dict)

    def add(self, kind: int, lane: int, place: int, station: int = -1, transfer: int = -1) -> int:
        """One stop more; its rank."""
        rows = (self.kind, self.station, self.transfer, self.lane, self.place)
        for row, value in zip(rows, (kind, station, transfer, lane, place), strict=True):
            row.append(value)
        return len(self.kind) - 1


def lay_stops(sketch: Sketch) -> Stops:
    """Lay stations, waiting stops, docks and places aboard as docs/semantics.md has it."""
    stops = Stops()
    for number, lane in enumerate(sketch.lanes):
        marks = [(place, STATION, station) for place, station in sorted(lane.stations)]
        if sketch.transfers:
            marks.append((lane.length - HALF, DOCK, -1))
        before = marks[-1][0] - lane.length + PITCH if sketch.is_ring else HALF
        here: list[tuple[int, int, int]] = []
        for mark in marks:
            waits = range(mark[0] - PITCH, before - 1, -PITCH)
            here += [(place, WAITING, -1) for place in reversed(waits)]
            here.append(mark)
            before = mark[0] + PITCH
        shift = -min(0, here[0][0] - HALF)
        here = [(place + shift, kind, station) for place, kind, station in here]
        stops.of_lane.append([stops.add(kind, number, place, station) for place, kind, station in here])
        for transfer, sketched in enumerate(sketch.transfers):
            if sketched.takes[0] == number:
                first = lane.length + GAP + HALF_PLATFORM
                stops.aboard[transfer] = [
                    stops.add(ABOARD, number, first + PITCH * place, transfer=transfer)
                    for place in range(sketched.places)
                ]
    return stops


def legs_on(sketch: Sketch, stops: Stops) -> list[Leg]:
    """Every leg that a carrier could make: within a lane, from aboard onto it and from it aboard."""
    legs: list[Leg] = []
    for number, lane in enumerate(sketch.lanes):
        marks = [(rank, stops.place[rank]) for rank in stops.of_lane[number]]
        for transfer, sketched in enumerate(sketch.transfers):
            aboard = stops.aboard[transfer]
            if number in sketched.gives:
                back = -GAP - HALF_PLATFORM - PITCH * (len(aboard) - 1)
                marks = [(rank, back + PITCH * place) for place, rank in enumerate(aboard)] + marks
        onto = [
            (rank, lane.length + GAP + HALF_PLATFORM + PITCH * place)
            for transfer, sketched in enumerate(sketch.transfers)
            if number in sketched.takes
            for place, rank in enumerate(stops.aboard[transfer])
        ]
        for i, (start, at) in enumerate(marks):
            for end, to in marks[i + 1 :] + onto:
                if stops.kind[start] != ABOARD or stops.transfer[start] != stops.transfer[end]:
                    legs.append(Leg(start, end, number, at, to))
            if sketch.is_ring:
                legs += [Leg(start, end, number, at, to + lane.length) for end, to in marks[: i + 1]]
            if sketch.two_way:
                legs += [Leg(start, end, number, at, to, against=True) for end, to in marks[:i]]
    return legs


def ways_on(sketch: Sketch, stops: Stops) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The stop straight on from each, the next on the shortest way from each to each, and that way's length in mm."""
    count = len(stops.kind)
    onward = np.full(count, NO_WAY, np.int64)
    follow: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for number, ranks in enumerate(stops.of_lane):
        for one, other in itertools.pairwise(ranks):
            follow[one].append((other, stops.place[other] - stops.place[one]))
            if sketch.two_way:
                follow[other].append((one, stops.place[other] - stops.place[one]))
            onward[one] = other
        if sketch.is_ring:
            length = sketch.lanes[number].length
            follow[ranks[-1]].append((ranks[0], length - stops.place[ranks[-1]] + stops.place[ranks[0]]))
            onward[ranks[-1]] = ranks[0]
    for transfer, sketched in enumerate(sketch.transfers):
        aboard = stops.aboard[transfer]
        for lane in sketched.takes:
            follow[stops.of_lane[lane][-1]].append((aboard[0], HALF + GAP + HALF_PLATFORM))
            onward[stops.of_lane[lane][-1]] = aboard[0]
        for one, other in itertools.pairwise(aboard):
            follow[one].append((other, PITCH))
            onward[one] = other
        for lane in sorted(sketched.gives):
            first = stops.of_lane[lane][0]
            follow[aboard[-1]].append((first, HALF_PLATFORM + GAP + stops.place[first]))
        onward[aboard[-1]] = stops.of_lane[sketched.gives[0]][0]
    way, length_mm = _shortest(follow)
    if sketch.two_way:
        np.fill_diagonal(way, NO_WAY)  # nothing leads round
    return onward, way, length_mm


def _shortest(follow: Sequence[Sequence[tuple[int, int]]]) -> tuple[np.ndarray, np.ndarray]:
    """The next stop on the shortest way and its length, of equals that by the lane named first; from a stop to itself
    once round."""
    count = len(follow)
    far = 1 << 40
    between = np.full((count, count), far, np.int64)
    np.fill_diagonal(between, 0)
    for one, followers in enumerate(follow):
        for other, length in followers:
            between[one, other] = length
    for middle in range(count):
        between = np.minimum(between, between[:, middle, None] + between[None, middle, :])
    way = np.full((count, count), NO_WAY, np.int64)
    length_mm = np.full((count, count), far, np.int64)
    for one, followers in enumerate(follow):
        for other, length in followers:
            better = length + between[other] < length_mm[one]
            way[one, better] = other
            length_mm[one, better] = (length + between[other])[better]
    way[length_mm >= far] = NO_WAY
    return way, length_mm


def _delays(
    lane: np.ndarray, start_m: np.ndarray, moves: Sequence[Move], pitch_m: float, ring_m: float = 0.0
) -> np.ndarray:
    """Delay of every leg behind every other on its lane and in its direction.

    lane : of each row, two rows a leg, empty and loaded; a number of its own for each direction
    start_m : place of the leg's start on the lane in its direction; ring_m : length of a ring, else 0
    """
    delays = np.full((len(moves), len(moves)), NO_BOUND, np.int32)
    way = np.array([move.distance_m for move in moves])
    lead = start_m[:, None] - start_m[None, :]
    if ring_m:
        ends = (start_m + way)[:, None] - start_m[None, :]
        lead = ends - ring_m * (np.ceil(np.round(ends / ring_m, 9)) - 1) - way[:, None]
    there = lane[:, None] == lane[None, :]
    there &= way[None, :] <= lead + way[:, None] - pitch_m + 5e-10
    there &= way[None, :] > lead - pitch_m
    leader, follower = np.nonzero(there)
    profiles = list(dict.fromkeys(moves))
    known = {move: n for n, move in enumerate(profiles)}
    number = np.array([known[move] for move in moves])
    _, leads = np.unique(np.round(lead[leader, follower], 9), return_inverse=True)
    keys = (number[leader] * len(profiles) + number[follower]) * (int(leads.max(initial=0)) + 1) + leads
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    found = start_delays_us(
        profile_table(profiles),
        number[leader][first],
        number[follower][first],
        lead[leader, follower][first],
        pitch_m,
    )
    delays[leader, follower] = found[inverse]
    return delays


@functools.cache
def _move(distance_mm: float, limits: Limits) -> Move:
    return plan_move(distance_mm / 1000, limits)


def differs_us(moves: Sequence[Move], legs: Sequence[tuple[int, int]]) -> np.ndarray:
    """From departure until the longer profile first differs from the shorter one, for legs that begin at one stop.

    moves : two a leg, empty and loaded; legs : (start, end) of each
    """
    table = np.full((len(moves), len(moves)), NO_BOUND, np.int32)
    by_start: dict[tuple[int, int], list[int]] = {}
    for row in range(len(moves)):
        by_start.setdefault((legs[row // 2][0], row % 2), []).append(row)
    for rows in by_start.values():
        for row in rows:
            for column in rows:
                short, long = moves[row], moves[column]
                if short.distance_m < long.distance_m:
                    table[row, column] = _differs_us(short, long)
    return table


def _differs_us(short: Move, long: Move) -> int:
    for one, other in zip(short.segments, long.segments, strict=False):
        if abs(one.jerk_m_s3 - other.jerk_m_s3) > 1e-6 or abs(one.speed_m_s - other.speed_m_s) > 1e-9:
            return math.floor(one.start_s * 1e6)
        if abs(one.duration_s - other.duration_s) > 1e-9:
            return math.floor((one.start_s + min(one.duration_s, other.duration_s)) * 1e6)
    return math.floor(short.duration_s * 1e6)


@dataclass(frozen=True)
class Base:
    """A plan with a track and a route and nothing else beyond the plain loop, and its table for going on, made when it
    is asked for."""

    plan: TrafficPlan
    differs: Callable[[], np.ndarray]


def plan_of_track(sketch: Sketch, luck: random.Random) -> Base:
    """The plan of a sketch; times of drive and tools are drawn."""
    stops = lay_stops(sketch)
    legs = legs_on(sketch, stops)
    count = len(stops.kind)
    leg = np.full((count, count), NO_LEG, np.int64)
    against = np.zeros((count, count), np.bool_)
    moves: list[Move] = []
    rear_us = np.zeros(2 * len(legs), np.int64)
    for number, one in enumerate(legs):
        leg[one.start, one.end] = number
        against[one.start, one.end] = one.against
        for load, limits in enumerate((sketch.empty, sketch.loaded)):
            moves.append(_move(one.distance_mm, limits))
            if stops.kind[one.start] == ABOARD:
                rear = HALF - GAP - one.start_mm
                rear_us[2 * number + load] = to_microseconds(moves[-1].time_to_cover_s(rear / 1000))
    onward, way, way_mm = ways_on(sketch, stops)
    way_m = np.where(way == NO_WAY, np.inf, way_mm / 1000)
    track = Track(
        lanes=len(sketch.lanes),
        stop_lane=np.array(stops.lane, np.int64),
        onward=onward,
        way=way,
        way_m=way_m,
        leg=leg,
        leg_us=np.array([to_microseconds(move.duration_s) for move in moves], np.int64),
        rear_us=rear_us,
        two_way=sketch.two_way,
        against=against if sketch.two_way else None,
    )
    platforms = tuple(_platform(sketch, transfer, stops, luck) for transfer in range(len(sketch.transfers)))
    rows = [one for one in legs for _ in (0, 1)]
    delay_us = _delays(
        np.array([2 * one.lane + one.against for one in rows]),
        np.array([-one.start_mm if one.against else one.start_mm for one in rows]) / 1000,
        moves,
        PITCH / 1000,
        sketch.lanes[0].length / 1000 if sketch.is_ring else 0.0,
    )
    plan = _plan(sketch, stops, General(track=track, platforms=platforms), delay_us, luck)
    return Base(plan, lambda: differs_us(moves, [(one.start, one.end) for one in legs]))


def _platform(sketch: Sketch, transfer: int, stops: Stops, luck: random.Random) -> Platform:
    """A platform with its rides: nothing between docks of one level, else a time by their distance."""
    sketched = sketch.transfers[transfer]
    levels = [sketch.lanes[lane].level for lane in (*sketched.takes, *sketched.gives)]
    fixed_us, per_mm_us = luck.randint(20, 60) * 10_000, luck.randint(300, 900)
    ride_us = tuple(
        tuple(0 if one == other else fixed_us + per_mm_us * abs(one - other) for other in levels) for one in levels
    )
    return Platform(tuple(stops.aboard[transfer]), sketched.takes, sketched.gives, ride_us, sketched.at_once)


def _plan(sketch: Sketch, stops: Stops, general: General, delay_us: np.ndarray, luck: random.Random) -> TrafficPlan:
    stations = sum(len(step) for step in sketch.steps)
    transfers, count = len(sketch.transfers), len(stops.kind)
    starts = np.cumsum([0, *(lane.length + 1000 for lane in sketch.lanes)])
    axis = [starts[lane] + place for lane, place in zip(stops.lane, stops.place, strict=True)]

    def up_to(most: int, chance: float) -> np.ndarray:
        return np.array([luck.randint(1, most) * 10_000 * (luck.random() < chance) for _ in range(stations)], np.int64)

    return TrafficPlan(
        stop_kind=np.array(stops.kind, np.int64),
        stop_station=np.array(stops.station, np.int64),
        stop_transfer=np.array(stops.transfer, np.int64),
        stop_axis_m=np.array(axis) / 1000,
        loop_m=float(starts[-1]) / 1000,
        pitch_m=PITCH / 1000,
        station_names=tuple(f"s{k}" for k in range(stations)),
        station_stop=np.array([stops.station.index(k) for k in range(stations)], np.int64),
        station_step=np.array(
            [next(p for p, step in enumerate(sketch.steps) if k in step) for k in range(stations)], np.int64
        ),
        step_names=tuple("/".join(f"s{k}" for k in step) for step in sketch.steps),
        step_stations=sketch.steps,
        step_exit=(False,) * len(sketch.steps),
        transfer_names=tuple(f"t{t}" for t in range(transfers)),
        first_stops=_first_stops(sketch, stops, general),
        follow_us=luck.choice((0, 20_000, 60_000)),
        start_handshake_us=luck.choice((0, 30_000)),
        done_handshake_us=luck.choice((0, 30_000)),
        settling_us=up_to(15, 0.7),
        clear_us=up_to(30, 0.3),
        prepare_us=up_to(200, 0.3),
        move_us=np.zeros((2, count, 0), np.int64),
        leg=np.zeros((count, 0), np.int64),
        delay_us=delay_us,
        aboard_us=np.zeros(transfers, np.int64),
        rear_us=np.zeros((2, transfers, 0), np.int64),
        home_us=np.zeros(transfers, np.int64),
        work=(Law(FIXED, 1_000_000.0),) * stations,
        reject=(Chance(),) * stations,
        failures=(),
        general=general,
    )


def _first_stops(sketch: Sketch, stops: Stops, general: General) -> np.ndarray:
    """The first station's stop, then the waiting and dock stops nearest upstream of it, as time zero has it; on a lane
    to and fro upstream in its stated direction, farther ones downstream if there are not enough."""
    assert general.track is not None
    way_m = general.track.way_m
    homes = [stops.station.index(station) for station in sketch.steps[0]]
    rests = [rank for rank, kind in enumerate(stops.kind) if kind in (WAITING, DOCK)]
    if sketch.two_way:
        home = max(homes)
        order = sorted(rests, key=lambda rank: (rank > home, abs(rank - home)))
    else:
        home = max(homes, key=lambda one: (min((way_m[one, o] for o in homes if o != one), default=0.0), one))
        order = sorted(rests, key=lambda rank: (way_m[rank, home], rank))
    return np.array([home, *order][: sketch.carriers], np.int64)


def loop_of_line(number: int) -> Base:
    """The plan of a random line with all legs up to the next place aboard, of invented limits."""
    luck = random.Random(f"limits of loop {number}")
    limits = luck.choice(LIMITS), luck.choice(LIMITS)
    line = random_line(number).read()
    plan = compile_plan(line, lay_out(line))
    count = plan.stops
    aboard = np.flatnonzero(plan.stop_kind == ABOARD)
    reach = [int(min((aboard - i - 1) % count)) + 1 for i in range(count)]
    leg = np.full((count, max(reach)), NO_LEG, np.int64)
    move_us = np.full((2, count, max(reach)), NO_LEG, np.int64)
    rear_us = np.zeros((2, len(aboard), max(reach)), np.int64)
    legs: list[tuple[int, int]] = []
    moves: list[Move] = []
    lane, start_m = [], []
    for start in range(count):
        onto = (start + reach[start]) % count
        for stops in range(1, reach[start] + 1):
            end = (start + stops) % count
            leg[start, stops - 1] = len(legs)
            legs.append((start, end))
            for load in (0, 1):
                moves.append(_move(_ahead_m(plan, start, end) * 1000, limits[load]))
                move_us[load, start, stops - 1] = to_microseconds(moves[-1].duration_s)
                lane.append(onto)
                start_m.append(-_ahead_m(plan, start, onto))
                if plan.stop_kind[start] == ABOARD:
                    rear_m = 0.9 * _ahead_m(plan, start, (start + 1) % count)
                    rear_us[load, plan.stop_transfer[start], stops - 1] = to_microseconds(
                        moves[-1].time_to_cover_s(rear_m)
                    )
    delay_us = _delays(np.array(lane), np.array(start_m), moves, plan.pitch_m)
    plan = dataclasses.replace(plan, move_us=move_us, leg=leg, rear_us=rear_us, delay_us=delay_us)
    return Base(plan, lambda: differs_us(moves, legs))


def _ahead_m(plan: TrafficPlan, start: int, end: int) -> float:
    """From stop to stop in travel."""
    return float(round((plan.stop_axis_m[end] - plan.stop_axis_m[start]) % plan.loop_m, 9))


def as_track(plan: TrafficPlan) -> TrafficPlan:
    """The plan of a loop of lanes and transfers, written as a track in general."""
    count = plan.stops
    ranks = np.arange(count)
    aboard = [int(rank) for rank in np.flatnonzero(plan.stop_kind == ABOARD)]
    lane = np.searchsorted(np.array(aboard), ranks)
    leg = np.full((count, count), NO_LEG, np.int64)
    leg_us = np.full(len(plan.delay_us), NO_LEG, np.int64)
    rear_us = np.zeros(len(plan.delay_us), np.int64)
    for start, reach in zip(*np.nonzero(plan.leg != NO_LEG), strict=True):
        number = int(plan.leg[start, reach])
        leg[start, (start + reach + 1) % count] = number
        for load in (0, 1):
            leg_us[2 * number + load] = plan.move_us[load, start, reach]
            if start in aboard:
                rear_us[2 * number + load] = plan.rear_us[load, plan.stop_transfer[start], reach]
    way_m = (plan.stop_axis_m[None, :] - plan.stop_axis_m[:, None]) % plan.loop_m
    np.fill_diagonal(way_m, plan.loop_m)
    following = (ranks + 1) % count
    track = Track(
        len(aboard), lane, following, np.repeat(following[:, None], count, axis=1), way_m, leg, leg_us, rear_us
    )
    by_transfer = sorted(aboard, key=lambda rank: int(plan.stop_transfer[rank]))
    platforms = tuple(
        Platform(
            (rank,),
            (int(lane[rank]),),
            (int(lane[following[rank]]),),
            ((0, int(plan.aboard_us[t])), (int(plan.home_us[t]), 0)),
        )
        for t, rank in enumerate(by_transfer)
    )
    return dataclasses.replace(
        plan,
        move_us=np.zeros((2, count, 0), np.int64),
        leg=np.zeros((count, 0), np.int64),
        rear_us=np.zeros((2, len(aboard), 0), np.int64),
        general=dataclasses.replace(plan.general, track=track, platforms=platforms),
    )
