"""What the reference model is told about a line: a neutral record, and its two builders.

Nothing here knows the rule core or the kernel: the record holds places, durations and luck, no rule of traffic.
Stops are named by their rank, stations and steps by their number in the case's own tuples.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Literal, Protocol

from agree.given_moves import GivenLimits, covered_us, duration_us
from linewright.traffic.plan import OF_CLOCK, OF_CYCLES, OF_RUNNING, TrafficPlan

Leg = tuple[int, int, int]
StopKind = Literal["waiting", "station", "dock", "aboard"]
FailureSort = Literal["clock", "jam", "running"]
KINDS_OF_A_PLAN: Final[tuple[StopKind, ...]] = ("waiting", "station", "dock", "aboard")
SORTS_OF_A_PLAN: Final[dict[int, FailureSort]] = {OF_CLOCK: "clock", OF_CYCLES: "jam", OF_RUNNING: "running"}
KINDS_OF_A_CASE: Final[dict[str, StopKind]] = {"wait": "waiting", "station": "station", "dock": "dock"}


@dataclass(frozen=True)
class StopPlace:
    """A stop of rank `rank`, at `axis_m` along the loop; `number` is its name in logs.

    `station` is the station there, `transfer` the one it is aboard.
    """

    rank: int
    number: int
    kind: StopKind
    axis_m: float
    station: int | None = None
    transfer: int | None = None


@dataclass(frozen=True)
class TransferTimes:
    """Arrival aboard to carrier ready at the giving dock; rear has left to platform locked at its taking dock."""

    name: str
    aboard: int
    aboard_us: int
    home_us: int


@dataclass(frozen=True)
class StationTimes:
    """A station: the rank of its stop, its tool's times and the sorts of its kinds of failure as they are written."""

    name: str
    stop: int
    settling_us: int
    clear_us: int
    prepare_us: int
    failures: tuple[FailureSort, ...]


@dataclass(frozen=True)
class RouteStep:
    """A step: its stations by number, and whether it is a reject exit."""

    name: str
    stations: tuple[int, ...]
    reject_exit: bool


@dataclass(frozen=True)
class ReferenceCase:
    """A line in whole microseconds, with its luck.

    Stops stand in rank order, steps in route order. Load class 0 is empty, 1 loaded.

    move_us(load, from, to)             duration of a move
    rear_us(load, from, to)             from departure until the rear has left the platform
    delay_us(leader's leg, own leg)     δ, a leg being (from, to, load); None where it gives no bound
    work_us(station, serial)            work time of a part
    flagged(station, serial)            whether that work flags it
    failure(station, kind, n)           (time or number of works to it, repair) of the n-th failure, None after the last
    """

    stops: tuple[StopPlace, ...]
    loop_m: float
    transfers: tuple[TransferTimes, ...]
    stations: tuple[StationTimes, ...]
    route: tuple[RouteStep, ...]
    carriers: int
    follow_us: int
    start_handshake_us: int
    done_handshake_us: int
    horizon_us: int
    move_us: Callable[[int, int, int], int]
    delay_us: Callable[[Leg, Leg], int | None]
    rear_us: Callable[[int, int, int], int]
    work_us: Callable[[int, int], int]
    flagged: Callable[[int, int], bool]
    failure: Callable[[int, int, int], tuple[int, int] | None]

    def first_stops(self) -> tuple[int, ...]:
        """Ranks of the stops of time zero, carrier 0 first: the first station's, then waiting and dock stops upstream.

        Raises
        ------
        ValueError   More carriers than such stops.
        """
        homes = [self.stops[self.stations[station].stop] for station in self.route[0].stations]

        def way_to_next_m(stop: StopPlace) -> float:
            return min(
                ((other.axis_m - stop.axis_m) % self.loop_m for other in homes if other is not stop), default=0.0
            )

        home = max(homes, key=lambda stop: (way_to_next_m(stop), stop.rank)).rank
        upstream = [self.stops[home - n] for n in range(1, len(self.stops))]
        places = [home, *(stop.rank for stop in upstream if stop.kind in ("waiting", "dock"))]
        if self.carriers > len(places):
            raise ValueError(f"{self.carriers} carriers, {len(places)} stops where one may stand at time zero")
        return tuple(places[: self.carriers])


class Luck(Protocol):
    """The luck of one replication of a plan; luck is no rule of traffic, so it may be the kernel's own."""

    def work_us(self, station: int, serial: int) -> int:
        """Work time of a part at a station. [µs]"""

    def flagged(self, station: int, serial: int) -> bool:
        """Whether that work flags the part."""

    def failure(self, index: int, n: int) -> tuple[int, int] | None:
        """Time or number of works to the n-th failure of the plan's failure number `index`, and its repair. [µs]"""


def from_plan(plan: TrafficPlan, luck: Luck, horizon_us: int) -> ReferenceCase:
    """The reference case of a TrafficPlan.

    Raises
    ------
    ValueError   The plan's stops of time zero are not those of the semantics.
    """
    transfer_of = [int(t) for t in plan.stop_transfer]
    station_of = [int(s) for s in plan.stop_station]
    stops = tuple(
        StopPlace(
            rank,
            rank,
            KINDS_OF_A_PLAN[int(kind)],
            float(plan.stop_axis_m[rank]),
            station_of[rank] if station_of[rank] >= 0 else None,
            transfer_of[rank] if transfer_of[rank] >= 0 else None,
        )
        for rank, kind in enumerate(plan.stop_kind)
    )
    transfers = tuple(
        TransferTimes(name, transfer_of.index(t), int(plan.aboard_us[t]), int(plan.home_us[t]))
        for t, name in enumerate(plan.transfer_names)
    )
    kinds: list[list[int]] = [[] for _ in plan.station_names]
    for index, failure in enumerate(plan.failures):
        kinds[failure.station].append(index)
    stations = tuple(
        StationTimes(
            name,
            int(plan.station_stop[s]),
            int(plan.settling_us[s]),
            int(plan.clear_us[s]),
            int(plan.prepare_us[s]),
            tuple(SORTS_OF_A_PLAN[plan.failures[index].of] for index in kinds[s]),
        )
        for s, name in enumerate(plan.station_names)
    )
    route = tuple(
        RouteStep(name, tuple(int(s) for s in plan.step_stations[p]), bool(plan.step_exit[p]))
        for p, name in enumerate(plan.step_names)
    )
    case = ReferenceCase(
        stops,
        float(plan.loop_m),
        transfers,
        stations,
        route,
        carriers=len(plan.first_stops),
        follow_us=int(plan.follow_us),
        start_handshake_us=int(plan.start_handshake_us),
        done_handshake_us=int(plan.done_handshake_us),
        horizon_us=horizon_us,
        move_us=plan.move_time_us,
        delay_us=plan.delay,
        rear_us=plan.rear_time_us,
        work_us=luck.work_us,
        flagged=luck.flagged,
        failure=lambda station, kind, n: luck.failure(kinds[station][kind], n),
    )
    planned = tuple(int(rank) for rank in plan.first_stops)
    if case.first_stops() != planned:
        raise ValueError(f"stops of time zero: {planned} in the plan, {case.first_stops()} by the semantics")
    return case


def from_json_case(case: dict[str, Any]) -> ReferenceCase:
    """The reference case of an agreed case (`data/README.md`): given times, δ = 0 for all pairs.

    A case written here may give a station's failures by their sorts, `kinds: [{"of": "clock", "times": [[time, repair],
    ...]}, ...]` in the place of `failures`, which are of running time.
    """
    numbers = {name: n for n, name in enumerate(case["stations"])}
    stops, loop_m = _stops_of(case, numbers)
    limits = GivenLimits(case["limits"]["v"], case["limits"]["a"], case["limits"]["j"])
    rank_of = {stop.number: stop.rank for stop in stops}
    step_of = {name: step["step"] for step in case["route"] for name in step["stations"]}
    flags = [frozenset(case["rejects"].get(step_of[name], ())) for name in case["stations"]]
    works = [case["work_us"][step_of[name]] for name in case["stations"]]
    kinds = [
        station.get("kinds") or [{"of": "running", "times": station["failures"]}]
        for station in case["stations"].values()
    ]

    def metres(origin: int, goal: int) -> float:
        return round((stops[goal].axis_m - stops[origin].axis_m) % loop_m, 9)

    @functools.cache
    def move_us(load: int, origin: int, goal: int) -> int:
        return duration_us(metres(origin, goal), limits)

    @functools.cache
    def rear_us(load: int, origin: int, goal: int) -> int:
        sheet = case["transfers"][stops[origin].transfer]
        return covered_us(metres(origin, goal), sheet["rear_m"], limits)

    def failure(station: int, kind: int, n: int) -> tuple[int, int] | None:
        times = kinds[station][kind]["times"]
        return tuple(times[n]) if n < len(times) else None

    return ReferenceCase(
        stops,
        loop_m,
        tuple(
            TransferTimes(
                t["name"],
                rank_of[t["aboard"]],
                t["unlock_us"] + t["ride_us"] + t["lock_us"],
                t["unlock_us"] + t["back_us"] + t["lock_us"],
            )
            for t in case["transfers"]
        ),
        tuple(
            StationTimes(
                name,
                rank_of[s["stop"]],
                case["settling_us"],
                s["clear_us"],
                s["prepare_us"],
                tuple(kind["of"] for kind in kinds[numbers[name]]),
            )
            for name, s in case["stations"].items()
        ),
        tuple(RouteStep(s["step"], tuple(numbers[n] for n in s["stations"]), s["reject_exit"]) for s in case["route"]),
        carriers=case["carriers"],
        follow_us=case["reaction_us"],
        start_handshake_us=case["start_handshake_us"],
        done_handshake_us=case["done_handshake_us"],
        horizon_us=case["horizon_us"],
        move_us=move_us,
        delay_us=lambda leader, follower: 0,
        rear_us=rear_us,
        work_us=lambda station, serial: works[station][serial % len(works[station])],
        flagged=lambda station, serial: serial in flags[station],
        failure=failure,
    )


def _stops_of(case: dict[str, Any], numbers: dict[str, int]) -> tuple[tuple[StopPlace, ...], float]:
    """All stops in loop order, and the loop's length."""
    stops: list[StopPlace] = []
    start_m = 0.0
    for t, (lane, transfer) in enumerate(zip(case["lanes"], case["transfers"], strict=True)):
        for stop in lane["stops"]:
            station = numbers[stop["station"]] if stop["kind"] == "station" else None
            kind = KINDS_OF_A_CASE[stop["kind"]]
            stops.append(StopPlace(len(stops), stop["id"], kind, start_m + stop["x"], station))
        aboard_m = stops[-1].axis_m + transfer["on_m"]
        stops.append(StopPlace(len(stops), transfer["aboard"], "aboard", aboard_m, transfer=t))
        start_m = aboard_m + transfer["off_m"]
    return tuple(stops), start_m
