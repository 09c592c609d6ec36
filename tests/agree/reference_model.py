"""The reference model: carriers on a closed loop of lanes and transfers, in SimPy, from `docs/semantics.md` alone.

It is slow and plain on purpose, and shares nothing with the rule core and the kernel. Every carrier is a process that
goes from rest to rest; a platform is one that rides home; a tool is worked by the carrier that stands under it; a kind
of failure of clock is one that comes and is repaired. Time is an integer of microseconds.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

import simpy

from agree.reference_case import Leg, ReferenceCase, RouteStep, from_json_case, from_plan
from agree.reference_causes import History, Lock, Move, Ready, Work
from agree.reference_events import Clock, Happening, Kind, Life
from agree.reference_states import StationTimesOf, Visit, station_times
from agree.reference_station import Tool

__all__ = ["ReferenceRun", "from_json_case", "from_plan", "run", "run_json_case"]


@dataclass(frozen=True)
class ReferenceRun:
    """What happened before the horizon, sorted as the agreed cases are.

    moves : [carrier, departure_us, from stop, to stop, arrival_us]
    works : [station, carrier, serial, start_us, end_us]
    good : [serial, end_us]
    states : station name -> state -> time in it up to the horizon [µs]
    history : what went before each finish, for `reference_causes.causes_of`
    """

    moves: list[list[int]]
    works: list[list[Any]]
    good: list[list[int]]
    states: dict[str, StationTimesOf]
    history: History

    def logs(self) -> dict[str, list[list[Any]]]:
        """The three logs in the form of an agreed case's `expected`."""
        return {"moves": self.moves, "works": self.works, "good": self.good}


@dataclass
class Logs:
    """What the line writes down as it runs."""

    moves: list[list[int]] = field(default_factory=list)
    works: list[list[Any]] = field(default_factory=list)
    good: list[list[int]] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)
    history: History = field(default_factory=History)
    reservations: list[list[tuple[int, int]]] = field(default_factory=list)


class Line:
    """The line of one case: its clock, platforms, tools and carriers."""

    def __init__(self, case: ReferenceCase) -> None:
        self.case = case
        self.clock = Clock(0)
        self.logs = Logs()
        self.serials = 0
        self.platforms = [Platform(self, t) for t in range(len(case.transfers))]
        self.tools = [Tool(self, s, times) for s, times in enumerate(case.stations)]
        self.carriers = [Carrier(self, number, rank) for number, rank in enumerate(case.first_stops())]
        for number, carrier in enumerate(self.carriers):
            carrier.leader = self.carriers[number - 1]
            carrier.leader.follower = carrier

    def at(self, time_us: int, kind: Kind, rank: int, carrier: int = -1) -> Happening:
        """A happening due at a time."""
        return Happening(self.clock, kind, rank, carrier).due(time_us)

    def failure(self, station: int, kind: int, n: int) -> tuple[int, int] | None:
        """Time or number of works to the n-th failure of a kind, and its repair; None after the last."""
        return self.case.failure(station, kind, n)

    def ahead(self, origin: int, goal: int) -> int:
        """Stops from one to the other in travel; a whole round if they are the same."""
        return (goal - origin) % len(self.case.stops) or len(self.case.stops)

    def run(self) -> ReferenceRun:
        """Run to the horizon; works begun before it are run to their end, so that the log has it."""
        horizon = self.case.horizon_us
        self.clock.run(until=horizon)
        while any(tool.begun_us is not None and tool.begun_us < horizon for tool in self.tools):
            self.clock.step()
        logs = self.logs
        return ReferenceRun(
            sorted((m for m in logs.moves if m[1] < horizon), key=lambda m: (m[1], m[0])),
            sorted((w for w in logs.works if w[3] < horizon), key=lambda w: (w[3], w[0])),
            sorted((g for g in logs.good if g[1] < horizon), key=lambda g: (g[1], g[0])),
            station_times(self.case, logs.visits, [tool.downs for tool in self.tools], logs.reservations),
            logs.history,
        )


class Platform:
    """A transfer's platform with one place that returns at once."""

    def __init__(self, line: Line, transfer: int) -> None:
        self.line = line
        self.times = line.case.transfers[transfer]
        self.free_at_taking_dock = True
        self.left: Move | None = None
        self.lock: Lock | None = None
        self.rear_has_left = self._next_leaving()
        line.clock.process(self._life())

    def _next_leaving(self) -> Happening:
        return Happening(self.line.clock, Kind.REAR_HAS_LEFT, self.times.aboard)

    def _life(self) -> Life:
        line, aboard = self.line, self.times.aboard
        while True:
            yield self.rear_has_left
            self.rear_has_left = self._next_leaving()
            clear_us = line.clock.now
            yield line.at(line.clock.now + self.times.home_us, Kind.LOCKED_AT_TAKING_DOCK, aboard)
            self.free_at_taking_dock = True
            assert self.left is not None
            self.lock = Lock(line.clock.now, self.times.name, clear_us, self.left)
            for carrier in line.carriers:
                if carrier.next_platform() is self:
                    carrier.ask_again()


class Carrier:
    """A carrier: where it rests, what it has reserved, what part it bears and which step comes next."""

    leader: Carrier
    follower: Carrier

    def __init__(self, line: Line, number: int, stop: int) -> None:
        self.line, self.number, self.stop = line, number, stop
        self.reserved = stop
        self.committed_us: int | None = None
        self.departed_us = 0
        self.leg: Leg = (stop, stop, 0)
        self.serial: int | None = None
        self.flagged = False
        self.step = 0
        self.woken: Happening | None = None
        self.move: Move | None = None
        self.ready = Ready(0, None)
        line.logs.reservations.append([(0, stop)])
        self.life = line.clock.process(self._life())

    # ---- from rest to rest ----

    def _life(self) -> Life:
        line, clock = self.line, self.line.clock
        visit = self._visit(self.stop)
        while True:
            stop = line.case.stops[self.stop]
            if visit is not None:
                visit.arrived_us = clock.now
                work = yield from self._be_worked(visit)
                visit.ready_us = clock.now
                self.ready = Ready(clock.now, self.move, work=work)
            elif stop.kind == "aboard":
                aboard_us = line.case.transfers[stop.transfer].aboard_us
                yield line.at(clock.now + aboard_us, Kind.LOCKED_AT_GIVING_DOCK, self.stop, self.number)
                yield line.at(clock.now, Kind.CARRIER_READY, self.stop, self.number)
                self.ready = Ready(clock.now, self.move, transfer=line.case.transfers[stop.transfer].name)
            else:
                self.ready = Ready(clock.now, self.move)
            goal = yield from self._ask(line.at(clock.now, Kind.ASK, self.stop, self.number))
            arrival_us = self._commit(goal)
            next_visit = self._visit(goal)
            yield line.at(self.departed_us, Kind.DEPARTURE, self.stop, self.number)
            if visit is not None:
                visit.departed_us = clock.now
            yield line.at(arrival_us, Kind.ARRIVAL, goal, self.number)
            self.stop, visit = goal, next_visit

    def _visit(self, rank: int) -> Visit | None:
        """The visit that begins with the reservation of a station's stop; None for any other stop."""
        station = self.line.case.stops[rank].station
        if station is None:
            return None
        visit = Visit(station, self.number, self.line.clock.now)
        self.line.logs.visits.append(visit)
        return visit

    def _be_worked(self, visit: Visit) -> Generator[simpy.Event, Any, Work]:
        line, clock, case = self.line, self.line.clock, self.line.case
        tool = line.tools[visit.station]
        shaken_us = clock.now + tool.times.settling_us + case.start_handshake_us
        yield line.at(shaken_us, Kind.CARRIER_READY, self.stop, self.number)
        yield tool.ready
        yield line.at(clock.now, Kind.WORK_STARTS, self.stop, self.number)
        while tool.is_down:
            yield from tool.until_up()
            yield line.at(clock.now, Kind.WORK_STARTS, self.stop, self.number)
        if self.serial is None:
            self.serial = line.serials
            line.serials += 1
        work = self._work_of(tool, visit.arrived_us)
        visit.started_us = clock.now
        yield from tool.work(self, case.work_us(visit.station, self.serial))
        visit.ended_us = work.end_us = clock.now
        tool.last_work = work
        line.logs.works.append([tool.times.name, self.number, self.serial, work.start_us, clock.now])
        work.downs = [down for down in tool.downs if work.start_us <= down.begin_us]
        self._go_on_in_route(visit.station, work)
        ready_us = clock.now + tool.times.clear_us + case.done_handshake_us
        yield line.at(ready_us, Kind.CARRIER_READY, self.stop, self.number)
        return work

    def _work_of(self, tool: Tool, arrived_us: int | None) -> Work:
        """The record of a work that starts now."""
        case, times = self.line.case, tool.times
        assert arrived_us is not None
        return Work(
            times.name,
            times.stop,
            self.move,
            arrived_us,
            times.settling_us,
            case.start_handshake_us,
            times.prepare_us,
            times.clear_us,
            case.done_handshake_us,
            tool.last_work,
            self.line.clock.now,
        )

    def _go_on_in_route(self, station: int, work: Work) -> None:
        """A work has ended: flag, count and unload the part; then the next step."""
        line, case = self.line, self.line.case
        self.flagged |= case.flagged(station, self.serial)
        later = [n for n in range(self.step + 1, len(case.route)) if case.route[n].reject_exit == self.flagged]
        if self._step.reject_exit or not later:
            if self.flagged and not self._step.reject_exit:
                raise RuntimeError(f"part {self.serial} is flagged and no reject exit follows")
            if not self.flagged:
                line.logs.good.append([self.serial, line.clock.now])
                line.logs.history.finishes.append(work)
            self.serial, self.flagged, later = None, False, [0]
        self.step = later[0]

    @property
    def _step(self) -> RouteStep:
        return self.line.case.route[self.step]

    # ---- where it may go ----

    def _ask(self, asked: Happening) -> Generator[simpy.Event, Any, int]:
        """Ask until a stop can be reserved; its rank."""
        while True:
            yield asked
            goal = self._farthest()
            if goal is not None:
                self.woken = None
                return goal
            self.woken = asked = Happening(self.line.clock, Kind.ASK, self.stop, self.number)

    def ask_again(self) -> None:
        """What it waits for may have come: ask in this microsecond, once."""
        if self.woken is not None and not self.woken.triggered:
            self.woken.due(self.line.clock.now)

    def _farthest(self) -> int | None:
        """The farthest stop at which it may rest, up to its destination, short of its leader's reservation."""
        case = self.line.case
        room = self.line.ahead(self.stop, self.leader.reserved)
        destination = self._destination(room)
        best = None
        for n in range(1, min(destination + 1, room)):
            rank = (self.stop + n) % len(case.stops)
            stop = case.stops[rank]
            if stop.kind == "aboard":
                return rank if self.line.platforms[stop.transfer].free_at_taking_dock else best
            if stop.kind in ("waiting", "dock") or n == destination:
                best = rank
        return best

    def _destination(self, room: int) -> int:
        """How many stops ahead its destination is: of several stations the farthest one free, else the nearest.

        On a lane nobody passes: a station short of the leader's reservation is one on which nobody stands and that
        nobody has reserved. Where none is, the leader's reservation is not beyond the nearest station, so being short
        of it is to have the last stop before that station as the limit.
        """
        stops = [self.line.case.stations[station].stop for station in self._step.stations]
        away = sorted(self.line.ahead(self.stop, stop) for stop in stops)
        free = [n for n in away if n < room]
        return free[-1] if free else away[0]

    def next_platform(self) -> Platform:
        """The platform of the next transfer on its way."""
        case = self.line.case
        aboard = min((t.aboard for t in case.transfers), key=lambda rank: self.line.ahead(self.stop, rank))
        return next(platform for platform in self.line.platforms if platform.times.aboard == aboard)

    # ---- reserving ----

    def _commit(self, goal: int) -> int:
        """Reserve a stop: its departure and its arrival are fixed from now on. Returns the arrival."""
        line, case, leader = self.line, self.line.case, self.leader
        now, origin = line.clock.now, self.stop
        leg = (origin, goal, int(self.serial is not None))
        bounds = [now]
        if leader.committed_us is not None:
            bounds.append(leader.committed_us + case.follow_us)
            delay_us = case.delay_us(leader.leg, leg)
            if delay_us is not None:
                bounds.append(leader.departed_us + delay_us)
        departed_us = max(bounds)
        arrival_us = departed_us + case.move_us(leg[2], origin, goal)
        self.move = self._move_of(goal, departed_us, arrival_us)
        self.leg, self.reserved, self.committed_us, self.departed_us = leg, goal, now, departed_us
        line.logs.moves.append(
            [self.number, self.departed_us, case.stops[origin].number, case.stops[goal].number, arrival_us]
        )
        line.logs.reservations[self.number].append((now, goal))
        if case.stops[goal].kind == "aboard":
            line.platforms[case.stops[goal].transfer].free_at_taking_dock = False
        if case.stops[origin].kind == "aboard":
            rear_us = case.rear_us(leg[2], origin, goal)
            line.platforms[case.stops[origin].transfer].left = self.move
            line.platforms[case.stops[origin].transfer].rear_has_left.due(self.departed_us + rear_us)
        self.follower.ask_again()
        return arrival_us

    def _move_of(self, goal: int, departed_us: int, arrival_us: int) -> Move:
        """The record of the move that it commits to now, before the reservation is changed."""
        case = self.line.case
        return Move(
            self.line.clock.now,
            departed_us,
            arrival_us,
            case.follow_us,
            self.place_of(goal),
            case.stops[goal].kind in ("station", "aboard"),
            self.ready,
            self.lock_before(),
            self.leader.move,
        )

    def is_next_to_board(self) -> bool:
        """Whether it is the next to board its next platform: its leader has reserved beyond the place aboard."""
        aboard = self.next_platform().times.aboard
        return self.line.ahead(self.stop, self.leader.reserved) > self.line.ahead(self.stop, aboard)

    def lock_before(self) -> Lock | None:
        """The last lock of its next platform, if nobody stands or has reserved between it and the place aboard: it is
        the next to board, or its leader has reserved that very place."""
        platform = self.next_platform()
        is_next = self.is_next_to_board() or self.leader.reserved == platform.times.aboard
        return platform.lock if is_next else None

    def place_of(self, goal: int) -> str:
        """The first place aboard or station of its next step at or after a stop."""
        case, rank = self.line.case, goal
        while True:
            stop = case.stops[rank % len(case.stops)]
            if stop.transfer is not None:
                return case.transfers[stop.transfer].name
            if stop.station in self._step.stations:
                return case.stations[stop.station].name
            rank += 1


def run(case: ReferenceCase) -> ReferenceRun:
    """Run a case from time zero to its horizon."""
    return Line(case).run()


def run_json_case(case: dict[str, Any]) -> ReferenceRun:
    """Run an agreed case (`data/README.md`)."""
    return run(from_json_case(case))
