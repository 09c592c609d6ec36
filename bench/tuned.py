"""A SimPy model of a line, tuned by hand: plain lists, one generator a carrier, no resource, the decisions written out.

It schedules only what decides something: an ask, a start of work that nothing else fixes, a platform back at its dock.
Each is one event, put on SimPy's heap with its kind and rank as priority; a carrier that waits is woken by its event.
Output as the kernel's: good parts, time of each station in each state, moves, and the number of events.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from heapq import heappush
from types import SimpleNamespace
from typing import Any

import simpy

from bench.given import GivenLuck
from linewright.flow.kernel.events import KIND_ASK, KIND_LOCKED_TAKING, KIND_WORK_STARTS, LAST_RANK, RANK_BITS
from linewright.flow.kernel.state import (
    BLOCKED,
    CLEAR,
    DONE_HANDSHAKE,
    DOWN,
    EXCHANGE,
    PARTNER,
    PREPARE,
    SETTLING,
    STARVED,
    STATES,
    WORK,
    Tables,
)
from linewright.traffic.plan import ABOARD, NO_BOUND, STATION, TrafficPlan

ASK = (KIND_ASK << RANK_BITS) + LAST_RANK
LOCKED = KIND_LOCKED_TAKING << RANK_BITS
STARTS = KIND_WORK_STARTS << RANK_BITS


@dataclass(frozen=True)
class TunedResult:
    """What a run of the tuned model gives; shapes as in the kernel's totals."""

    good: int
    state_us: list[list[int]]
    moves: int
    events: int


def _lists(plan: TrafficPlan, tables: Tables) -> Any:
    """The kernel's tables as plain lists, each field of a record one list."""
    lists = {name: value if isinstance(value, int) else value.tolist() for name, value in tables._asdict().items()}
    for prefix, records in (("stop_", tables.stop), ("", tables.station), ("", tables.step), ("", tables.transfer)):
        lists |= {f"{prefix}{name}": records[name].tolist() for name in records.dtype.names or ()}
    lists["station_step"] = tables.station["step"].tolist()
    lists["step_first"] = [0, *tables.step["last"].tolist()]
    lists["failure_first"] = [0, *tables.station["last_failure"].tolist()]
    lists["first_stops"] = plan.first_stops.tolist()
    return SimpleNamespace(**lists)


class TunedLine:
    """One line, ready to run once."""

    def __init__(self, plan: TrafficPlan, tables: Tables, luck: GivenLuck, horizon_us: int) -> None:
        self.t = _lists(plan, tables)
        self.luck, self.horizon = luck, horizon_us
        self.env = simpy.Environment()
        self.queue, self.count = self.env._queue, 0
        carriers, stations = self.t.carriers, len(plan.station_names)
        self.stop = list(self.t.first_stops)
        self.step, self.serial, self.flagged = [0] * carriers, [-1] * carriers, [False] * carriers
        self.committed: list[int | None] = [None] * carriers
        self.departed, self.row = [0] * carriers, [-1] * carriers
        self.sleeper: list[simpy.Event | None] = [None] * carriers
        self.tool_ready, self.vacated = [0] * stations, [0] * stations
        self.occupant: list[int | None] = [None] * stations
        self.stood: list[tuple[int, int] | None] = [None] * carriers
        self.platform_waits = [True] * self.t.transfers
        aboard = [self.t.stop_transfer.index(k) for k in range(self.t.transfers)]
        nearest = [[(at - stop) % self.t.stops for stop in self.stop] for at in aboard]
        self.boards_next = [ways.index(min(ways)) for ways in nearest]
        self.states = [[0] * STATES for _ in range(stations)]
        self.to_failure = [times[0] for times in luck.running]
        self.failed = [0] * len(luck.running)
        self.good = self.serials = self.moved = self.events = 0
        for carrier in range(carriers):
            self.env.process(self._carry(carrier))

    def run(self) -> TunedResult:
        """Run to the horizon and close the books."""
        self.env.run(until=self.horizon)
        for station, carrier in enumerate(self.occupant):
            if carrier is None:
                self._spend(station, STARVED, self.vacated[station], self.horizon)
            elif self.stood[carrier] is not None:
                since, state = self.stood[carrier]  # type: ignore[misc]
                self._spend(station, state, since, self.horizon)
        return TunedResult(self.good, self.states, self.moved, self.events)

    def _at(self, time_us: int, priority: int) -> simpy.Event:
        """An event due at a time; the heap is SimPy's, without its call for each event."""
        event = simpy.Event(self.env)
        event._ok, event._value = True, None
        self.count += 1
        heappush(self.queue, (time_us, priority, self.count, event))
        return event

    def _spend(self, station: int, state: int, begin: int, end: int) -> None:
        if begin < self.horizon and end > begin:
            self.states[station][state] += (end if end < self.horizon else self.horizon) - begin

    def _carry(self, c: int) -> Generator[simpy.Event, Any, None]:
        """The life of a carrier: ask, perhaps wait, go, and be worked at a station."""
        t = self.t
        leader, follower = c - 1 if c else t.carriers - 1, c + 1 if c + 1 < t.carriers else 0
        stop = self.stop[c]
        station = t.stop_station[stop]
        if station >= 0:
            self.occupant[station] = c
            start = self._enter(station, 0, 0)
            yield self._at(start, STARTS + stop)
            self.events += 1
            yield self._at(self._work(c, station, start), ASK - stop)
        else:
            yield self._at(0, ASK - stop)
        while True:
            self.events += 1
            now = self.env._now
            reach = self._reach(c, stop, leader)
            while reach == 0:
                self._stand(c, station, leader, now)
                sleeper = self.sleeper[c] = simpy.Event(self.env)
                yield sleeper
                self.events += 1
                now = self.env._now
                if station >= 0:
                    since, state = self.stood[c]  # type: ignore[misc]
                    self._spend(station, state, since, now)
                    self.stood[c] = None
                reach = self._reach(c, stop, leader)
            arrives = self._commit(c, leader, stop, station, reach, now)
            stop = self.stop[c]
            station = t.stop_station[stop]
            if self.sleeper[follower] is not None:
                self._wake(follower, now)
            kind = t.stop_kind[stop]
            if kind == STATION:
                self.occupant[station] = c
                start = self._enter(station, now, arrives)
                if not t.at_once[station]:
                    yield self._at(start, STARTS + stop)
                    self.events += 1
                yield self._at(self._work(c, station, start), ASK - stop)
            elif kind == ABOARD:
                transfer = t.stop_transfer[stop]
                self.platform_waits[transfer] = False
                self.boards_next[transfer] = follower
                yield self._at(arrives + t.aboard_us[transfer], ASK - stop)
            else:
                yield self._at(arrives, ASK - stop)

    def _wake(self, c: int, now: int) -> None:
        event = self.sleeper[c]
        self.sleeper[c] = None
        event._ok, event._value = True, None  # type: ignore[union-attr]
        self.count += 1
        heappush(self.queue, (now, ASK - self.stop[c], self.count, event))  # type: ignore[misc]

    def _locked(self, transfer: int) -> None:
        self.events += 1
        self.platform_waits[transfer] = True
        carrier = self.boards_next[transfer]
        if self.sleeper[carrier] is not None:
            self._wake(carrier, self.env._now)

    def _stand(self, c: int, station: int, leader: int, now: int) -> None:
        if station >= 0:
            ahead = self.t.stop_station[self.stop[leader]]
            alike = ahead >= 0 and self.t.station_step[ahead] == self.t.station_step[station] and leader != c
            self.stood[c] = (now, PARTNER if alike else BLOCKED)

    def _reach(self, c: int, stop: int, leader: int) -> int:
        """How many stops it may go."""
        t = self.t
        free = (self.stop[leader] - stop - 1) % t.stops
        step, goal = self.step[c], 0
        for i in range(t.step_first[step], t.step_first[step + 1]):
            ahead = (t.step_stop[i] - stop) % t.stops or t.stops
            if goal < ahead <= free:
                goal = ahead
        reach, aboard = goal or free, t.next_aboard[stop]
        if reach >= aboard:
            if self.platform_waits[t.stop_transfer[(stop + aboard) % t.stops]]:
                return aboard
            reach = aboard - 1
        elif goal:
            return goal
        reach -= t.back[(stop + reach) % t.stops]
        return reach if reach > 0 else 0

    def _commit(self, c: int, leader: int, stop: int, station: int, reach: int, now: int) -> int:
        """Reserve and depart; gives the arrival."""
        t = self.t
        load = 1 if self.serial[c] >= 0 else 0
        row = 2 * t.leg[stop][reach - 1] + load
        departs = now
        if self.committed[leader] is not None:
            departs = max(now, self.committed[leader] + t.follow_us)  # type: ignore[operator]
            delay = t.delay_us[self.row[leader]][row]
            if delay != NO_BOUND and self.departed[leader] + delay > departs:
                departs = self.departed[leader] + delay
        self.stop[c] = (stop + reach) % t.stops
        self.committed[c], self.departed[c], self.row[c] = now, departs, row
        if departs < self.horizon:
            self.moved += 1
        if station >= 0:
            self._spend(station, BLOCKED, now, departs)
            self.vacated[station] = departs
            self.occupant[station] = None
        transfer = t.stop_transfer[stop]
        if transfer >= 0:
            home = departs + t.rear_us[load][transfer][reach - 1] + t.home_us[transfer]
            self._at(home, LOCKED + stop).callbacks.append(lambda _, transfer=transfer: self._locked(transfer))
        return int(departs + t.move_us[load][stop][reach - 1])

    def _enter(self, station: int, reserved: int, arrival: int) -> int:
        vacated = self.vacated[station]
        self._spend(station, STARVED, vacated, reserved)
        self._spend(station, EXCHANGE, max(vacated, reserved), arrival)
        settled = arrival + self.t.settling_us[station] + self.t.arrive_us
        start = max(settled, self.tool_ready[station])
        self._spend(station, SETTLING, arrival, settled)
        self._spend(station, PREPARE, settled, start)
        return int(start)

    def _work(self, c: int, station: int, start: int) -> int:
        """Work with its failures; gives when the carrier is ready."""
        t = self.t
        if self.serial[c] < 0:
            self.serial[c] = self.serials
            self.serials += 1
        serial = self.serial[c]
        left, now = self.luck.work[station][serial], start
        kinds = range(t.failure_first[station], t.failure_first[station + 1])
        while True:
            due = min(kinds, key=self.to_failure.__getitem__, default=-1)
            run = left if due < 0 or self.to_failure[due] >= left else self.to_failure[due]
            self._spend(station, WORK, now, now + run)
            now += run
            failed = run < left
            left -= run
            for kind in kinds:
                self.to_failure[kind] -= run
            if not failed:
                break
            repaired = now + self.luck.repair[due][self.failed[due]]
            self._spend(station, DOWN, now, repaired)
            now = repaired
            self.failed[due] += 1
            self.to_failure[due] = self.luck.running[due][self.failed[due]]
        cleared = now + t.clear_us[station]
        ready = cleared + t.done_us
        self._spend(station, CLEAR, now, cleared)
        self._spend(station, DONE_HANDSHAKE, cleared, ready)
        self.tool_ready[station] = cleared + t.prepare_us[station]
        self._go_on(c, station, serial, now)
        return int(ready)

    def _go_on(self, c: int, station: int, serial: int, end: int) -> None:
        if self.luck.flags[station][serial]:
            self.flagged[c] = True
        step = self.t.station_step[station]
        following = self.t.next_flagged[step] if self.flagged[c] else self.t.next_good[step]
        if following < 0:
            if end < self.horizon and not self.flagged[c]:
                self.good += 1
            self.serial[c], self.flagged[c], following = -1, False, 0
        self.step[c] = following
