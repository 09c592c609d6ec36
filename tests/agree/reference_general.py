"""The general reference model: any traffic plan in SimPy, from `docs/semantics.md` alone, beyond the plain loop too.

Carriers, tools, outside machines and failures live their lives as in SimPy; what the semantics lays down for an instant
(carriers put in, gates, asks) is done once all changes of state that are due in its microsecond are.

    run = run_general(plan, luck, horizon_us)
    causes, window_us, parts = causes_of(run.history, cut_us, horizon_us)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import simpy

from agree.reference_carrier import Carrier, Part
from agree.reference_case import SORTS_OF_A_PLAN, StationTimes
from agree.reference_causes import History, IsTakenOut
from agree.reference_events import Clock, Happening, Kind
from agree.reference_gates import OutsideMachine, Pool, Station
from agree.reference_limits import Limits
from agree.reference_marks import Marks
from agree.reference_platform import Platform
from agree.reference_states import StationTimesOf, Visit, general_station_times
from agree.reference_track import Track
from linewright.traffic.plan import TrafficPlan


class GeneralLuck(Protocol):
    """The luck of one replication; luck is no rule of traffic, so it may be the compiled event loop's own. Times in µs,
    serials of parts or, with one draw a carrier, of its first."""

    def work_us(self, station: int, variant: int, serial: int, visit: int) -> int: ...
    def flagged(self, station: int, serial: int, visit: int) -> bool: ...
    def reworked(self, rework: int, serial: int, visit: int) -> bool: ...
    def missed(self, station: int, serial: int) -> bool: ...
    def variant(self, load: int, carrier: int) -> int: ...
    def running_us(self, failure: int, number: int) -> int | None: ...
    def repair_us(self, failure: int, number: int) -> int: ...
    def outside_us(self, outside: int, number: int) -> int: ...
    def outside_running_us(self, outside: int, kind: int, number: int) -> int | None: ...
    def outside_repair_us(self, outside: int, kind: int, number: int) -> int: ...


@dataclass(frozen=True)
class GeneralRun:
    """What happened before the horizon, sorted as the agreed cases are.

    moves : [carrier, departure_us, from stop, to stop, arrival_us]
    works : [station, carrier, serial, start_us, end_us, repairs in it in µs]
    good : [serial, end_us]
    states : station name -> state -> time in it up to the horizon [µs]
    history : what went before each finish, for `reference_causes.causes_of`
    halts, halts_cost_us : short halts and what they cost [µs]
    unexplained : commitments and calls for which the semantics names no event that let them be
    """

    moves: list[list[int]]
    works: list[list[Any]]
    good: list[list[int]]
    states: dict[str, StationTimesOf]
    history: History
    halts: int
    halts_cost_us: int
    unexplained: list[tuple[str, Any, int]]

    def logs(self) -> dict[str, list[list[Any]]]:
        """The three logs in the form of an agreed case's `expected`."""
        return {"moves": self.moves, "works": [work[:5] for work in self.works], "good": self.good}


class InstantClock(Clock):
    """A clock that tells of every change of state that is due."""

    def __init__(self, changes: Callable[[simpy.Event], None]) -> None:
        super().__init__(0)
        self.changes = changes

    def schedule(self, event: simpy.Event, priority: Any = simpy.events.NORMAL, delay: Any = 0) -> None:
        if isinstance(priority, tuple) and priority[0] < Kind.CARRIERS_PUT_IN:
            assert event.callbacks is not None
            event.callbacks.append(self.changes)
        super().schedule(event, priority, delay)


class Line:
    """The line of one plan: its track, platforms, stations and carriers, and what it writes down."""

    def __init__(self, plan: TrafficPlan, luck: GeneralLuck, horizon_us: int) -> None:
        self.plan, self.luck, self.horizon_us = plan, luck, horizon_us
        self.moves: list[list[int]] = []
        self.works: list[list[Any]] = []
        self.good: list[list[int]] = []
        self.visits: list[Visit] = []
        self.history = History()
        self.halts = self.halts_cost_us = 0
        self.unexplained: list[tuple[str, Any, int]] = []
        self.due: set[Kind] = set()
        self.clock = InstantClock(lambda _: self.stir())
        self.track = Track(plan)
        self.nests, self.loads = plan.general.nests, 0
        self.failures: list[list[int]] = [[] for _ in plan.station_names]
        for index, failure in enumerate(plan.failures):
            self.failures[failure.station].append(index)
        self.outside = [OutsideMachine(self, n, machine) for n, machine in enumerate(plan.general.outside)]
        self.pools = [Pool(pool) for pool in plan.general.pools]
        self.stations = [Station(self, s, self._times_of(s)) for s in range(len(plan.station_names))]
        self.by_rank = sorted(self.stations, key=lambda station: station.stop)
        self.platforms = [
            Platform(self, name, platform)
            for name, platform in zip(plan.transfer_names, self.track.platforms, strict=True)
        ]
        self.limits, self.marks = Limits(self), Marks(self)
        self.held: dict[int, Carrier] = {}
        self.carriers: list[Carrier] = []
        self.comes: list[Carrier] = []
        self.changes = [[change, abs(change.count)] for change in plan.general.carrier_changes]
        self.taken_out: tuple[int, IsTakenOut] | None = None
        self._place_carriers()
        self._wake_at_changes()
        self.stir()

    # ---- time zero ----

    def _times_of(self, station: int) -> StationTimes:
        plan = self.plan
        return StationTimes(
            plan.station_names[station],
            int(plan.station_stop[station]),
            int(plan.settling_us[station]),
            int(plan.clear_us[station]),
            int(plan.prepare_us[station]),
            tuple(SORTS_OF_A_PLAN[plan.failures[index].of] for index in self.failures[station]),
        )

    def _place_carriers(self) -> None:
        start = self.plan.general.start
        stops = [int(stop) for stop in (self.plan.first_stops if start is None else start.stops)]
        for number, stop in enumerate(stops):
            carrier = Carrier(self, number, stop)
            self.carriers.append(carrier)
            self.hold(carrier, stop)
            self.limits.stands(carrier)
            if start is not None:
                self._place_parts(carrier)
        self.next_number = len(stops)
        for carrier in self.carriers:
            if start is not None:
                carrier.is_work_done = carrier.stop not in carrier.stops_of_step
            if self.track.kind[carrier.stop] == "aboard":
                self.platform_at(carrier.stop).stands_with(carrier)
            carrier.start()

    def _place_parts(self, carrier: Carrier) -> None:
        """What a carrier bears where a run does not begin with an empty line."""
        start, n = self.plan.general.start, carrier.number
        assert start is not None
        self.loads = start.next_load
        carrier.step, carrier.load, carrier.visits = start.steps[n], start.loads[n], start.visits[n]
        if carrier.load < 0:
            return
        carrier.variant = self.luck.variant(carrier.load, n)
        for nest in range(self.nests):
            if start.present[n] >> nest & 1:
                exit_step = start.exits[n] if start.flagged[n] >> nest & 1 else None
                carrier.parts.append(Part(carrier.load * self.nests + nest, exit_step))

    def _wake_at_changes(self) -> None:
        """Something may happen when a break begins or ends, or carriers are to be put in or taken out."""
        for number, one in enumerate(self.plan.general.breaks):
            for bound_us in (one.begin_us, one.begin_us + one.length_us):
                for time_us in range(bound_us, 2 * self.horizon_us, one.shift_us):
                    self.at(time_us, Kind.BREAK, number)
        for change, _ in self.changes:
            self.at(change.at_us, Kind.CARRIERS_PUT_IN, -1).callbacks.append(lambda _: self.stir())

    # ---- what its parts ask of it ----

    def at(self, time_us: int, kind: Kind, rank: int, carrier: int = -1) -> Happening:
        """A happening due at a time."""
        return Happening(self.clock, kind, rank, carrier).due(time_us)

    def failure(self, station: int, kind: int, n: int) -> tuple[int, int] | None:
        """Time or number of works to the n-th failure of a kind, and its repair; None after the last."""
        index = self.failures[station][kind]
        running = self.luck.running_us(index, n)
        return None if running is None else (running, self.luck.repair_us(index, n))

    def holder(self, stop: int) -> Carrier | None:
        """The carrier that rests on a stop without a reservation or has reserved it."""
        return self.held.get(stop)

    def hold(self, carrier: Carrier, stop: int) -> None:
        """A carrier has reserved a stop, and no other any more."""
        if self.held.get(carrier.reserved) is carrier:
            del self.held[carrier.reserved]
        self.held[stop], carrier.reserved = carrier, stop

    def is_kept(self, stop: int) -> bool:
        """Whether carriers are to be put in on a stop, so that no other may reserve it."""
        return any(
            what.count > 0
            and left > 0
            and what.at_us <= self.clock.now
            and self.plan.station_stop[what.station] == stop
            for what, left in self.changes
        )

    def platform_at(self, stop: int) -> Platform:
        """The platform of a place aboard."""
        transfer = self.track.transfer[stop]
        assert transfer is not None
        return self.platforms[transfer]

    def exit_after(self, station: int) -> int:
        """The exit for which a station flags parts."""
        exits, step = self.plan.general.exits, int(self.plan.station_step[station])
        if exits and exits[station] >= 0:
            return exits[station]
        return next(later for later in range(step + 1, len(self.plan.step_exit)) if self.plan.step_exit[later])

    def next_load(self) -> int:
        """The number of the next load."""
        self.loads += 1
        return self.loads - 1

    def new_visit(self, carrier: Carrier, stop: int) -> Visit:
        """The visit that begins with the reservation of a station's stop."""
        station = self.track.station[stop]
        assert station is not None
        self.visits.append(Visit(station, carrier.number, self.clock.now))
        return self.visits[-1]

    def count_halt(self, carrier: Carrier, goal: int) -> None:
        """A carrier reserves: a short halt if it has arrived at a waiting or dock stop in this microsecond."""
        move, now_us = carrier.move, self.clock.now
        is_short = self.track.kind[carrier.stop] in ("waiting", "dock") and carrier.ready.at_us == now_us
        if not is_short or move is None or now_us >= self.horizon_us:
            return
        self.halts += 1
        start, _, load = carrier.leg
        both_us = move.arrival_us - move.departed_us + self.track.move_us((carrier.stop, goal, load))
        if self.track.has_leg((start, goal, load)):
            self.halts_cost_us += both_us - self.track.move_us((start, goal, load))

    # ---- an instant ----

    def stir(self) -> None:
        """Something has changed in this microsecond: once no change of state is left, do what may come of it."""
        for kind, part in (
            (Kind.CARRIERS_PUT_IN, self._put_in), (Kind.WORK_STARTS, self._pass_gates), (Kind.ASK, self._ask),
        ):  # fmt: skip
            if kind not in self.due:
                self.due.add(kind)
                self.at(self.clock.now, kind, 0).callbacks.append(lambda _, kind=kind, part=part: self._do(kind, part))

    def _do(self, kind: Kind, part: Callable[[], bool]) -> None:
        self.due.remove(kind)
        if part():
            self.stir()

    def takes_out(self, station: Station) -> bool:
        """Whether a carrier is to be taken out at a station now; then it is one less."""
        for change in self.changes:
            what, left = change
            if what.count < 0 < left and what.station == station.number and what.at_us <= self.clock.now:
                change[1] -= 1
                return True
        return False

    def take_out(self, carrier: Carrier) -> None:
        """A carrier is taken off; its stop is free."""
        self.carriers.remove(carrier)
        del self.held[carrier.stop]
        self.limits.leaves(carrier)
        station = self.track.station[carrier.stop]
        assert station is not None
        before = self.taken_out
        if before is None or before[1].at_us != self.clock.now or before[0] < carrier.stop:
            self.taken_out = carrier.stop, IsTakenOut(self.clock.now, self.plan.station_names[station])

    def _put_in(self) -> bool:
        changed = False
        for change in self.changes:
            what, left = change
            stop = int(self.plan.station_stop[what.station])
            if what.count > 0 and left > 0 and what.at_us <= self.clock.now and self.holder(stop) is None:
                carrier = Carrier(self, self.next_number, stop)
                self.next_number, change[1], carrier.put_in = self.next_number + 1, left - 1, True
                self.carriers.append(carrier)
                self.hold(carrier, stop)
                self.limits.stands(carrier)
                carrier.visit = self.new_visit(carrier, stop)
                self.comes.append(carrier)
                changed = True
        for carrier in list(self.comes):
            if not any(carrier.stop in other.crosses for other in self.carriers):
                self.comes.remove(carrier)
                carrier.start()
                changed = True
        return changed

    def _pass_gates(self) -> bool:
        changed = False
        while True:
            for machine in self.outside:
                machine.begin()
            passed = [station.pass_gates() for station in self.by_rank]
            for machine in self.outside:
                machine.begin()
            assigned = [pool.assign(self) for pool in self.pools]
            if not any(passed) and not any(assigned):
                return changed
            changed = True

    def _ask(self) -> bool:
        self.limits.judge()
        changed = False
        while self._reserve_one():
            changed = True
        for platform in sorted(self.platforms, key=lambda platform: platform.rank):
            changed |= platform.follow_calls()
        self._mark_partners()
        return changed

    def _reserve_one(self) -> bool:
        """The first, downstream first, that can reserve a stop does; whether any could."""
        for carrier in sorted(self.carriers, key=lambda carrier: -carrier.reserved):
            if carrier.waits:
                goals = self.limits.goals(carrier)
                if goals:
                    carrier.reserve(goals[-1])
                    return True
            elif (
                self.plan.general.going_on
                and carrier.is_under_way()
                and self.track.kind[carrier.reserved] in ("waiting", "dock")
            ):
                goals = self.limits.goals_beyond(carrier)
                if goals:
                    carrier.go_on(goals[-1])
                    return True
        return False

    def _mark_partners(self) -> None:
        """Which carriers wait at a station for a leader that has reserved a station of the same step."""
        for carrier in self.carriers:
            if not carrier.waits or carrier.visit is None:
                continue
            leader = carrier.leader(carrier.stop)
            step = int(self.plan.station_step[carrier.visit.station])
            partner = (
                leader is not None
                and leader is not carrier
                and self.track.station[leader.reserved] in self.plan.step_stations[step]
            )
            carrier.visit.partner.append((self.clock.now, partner))

    # ---- the run ----

    def run(self) -> GeneralRun:
        """Run to the horizon; works begun before it are run to their end, so that the log has it."""
        horizon_us = self.horizon_us
        self.clock.run(until=horizon_us)
        moves = [list(move) for move in self.moves if move[1] < horizon_us]
        tools = [station.tool for station in self.stations]
        while any(tool.begun_us is not None and tool.begun_us < horizon_us for tool in tools):
            self.clock.step()
        return GeneralRun(
            sorted(moves, key=lambda m: (m[1], m[0])),
            sorted((w for w in self.works if w[3] < horizon_us), key=lambda w: (w[3], w[0])),
            sorted((g for g in self.good if g[1] < horizon_us), key=lambda g: (g[1], g[0])),
            general_station_times(
                [tool.times for tool in tools], self.visits, [tool.downs for tool in tools], horizon_us
            ),
            self.history,
            self.halts,
            self.halts_cost_us,
            self.unexplained,
        )


def run_general(plan: TrafficPlan, luck: GeneralLuck, horizon_us: int) -> GeneralRun:
    """Run a plan from time zero to its horizon."""
    return Line(plan, luck, horizon_us).run()
