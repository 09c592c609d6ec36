"""The general reference model's carriers: from rest to rest, what they bear, and where they may go."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import simpy

from agree.reference_case import Leg
from agree.reference_causes import Commits, GoesOn, Move, Ready, Work
from agree.reference_events import Happening, Kind, Life
from agree.reference_states import Visit, flat_waits

if TYPE_CHECKING:
    from agree.reference_gates import Station
    from agree.reference_general import Line
    from agree.reference_platform import Platform


@dataclass
class Part:
    """A part aboard, and the exit step for which it is flagged."""

    serial: int
    exit_step: int | None = None


class Carrier:
    """A carrier: the stop that it rests on or has left, the one it has reserved, its parts and its next step.

    It `waits` while it is at rest, ready and without a reservation.
    """

    def __init__(self, line: Line, number: int, stop: int) -> None:
        self.line, self.number = line, number
        self.stop = self.reserved = stop
        self.is_at_rest, self.waits, self.departed = True, False, False
        self.committed_us: int | None = None
        self.departed_us = self.arrival_us = 0
        self.leg: Leg = (stop, stop, 0)
        self.step, self.load, self.variant, self.visits = 0, -1, 0, 0
        self.parts: list[Part] = []
        self.leaves_to: int | None = None
        self.crosses: list[int] = []
        self.put_in, self.is_work_done = False, False
        self.move: Move | None = None
        self.goes_on: GoesOn | None = None
        self.ready = Ready(0, None)
        self.visit: Visit | None = None
        self.logged: list[int] = []
        self._interrupted = False

    def start(self) -> None:
        """Begin its life at rest on its stop."""
        if self.line.track.station[self.stop] is not None and self.visit is None:
            self.visit = self.line.new_visit(self, self.stop)
        self.life = self.line.clock.process(self._life())

    # ---- from rest to rest ----

    def _life(self) -> Life:
        line, clock = self.line, self.line.clock
        while True:
            if self.visit is not None:
                self.visit.arrived_us, self.visit.is_work_done = clock.now, self.is_work_done
            if self.visit is not None and not self.is_work_done:
                self.ready = yield from self._be_worked(line.stations[self.visit.station], self.visit)
            elif line.track.kind[self.stop] == "aboard" and not self.is_work_done:
                self.ready = yield from self._ride()
            else:
                self.ready = Ready(clock.now, self.move)
            if self.visit is not None:
                self.visit.ready_us = clock.now
            self.is_work_done = False
            self.go = Happening(clock, Kind.DEPARTURE, self.stop, self.number)
            self.waits = True
            line.stir()
            yield self.go
            if self.visit is not None:
                self.visit.departed_us = clock.now
            self.visit, self.departed = self.next_visit, True
            yield from self._travel()
            self._arrive()

    def _travel(self) -> Life:
        """On its way until its arrival, which going on puts off."""
        while True:
            try:
                yield self.line.at(self.arrival_us, Kind.ARRIVAL, self.reserved, self.number)
                return
            except simpy.Interrupt:
                self._interrupted = False

    def _arrive(self) -> None:
        self.stop, self.is_at_rest, self.departed = self.reserved, True, False
        self.line.limits.arrives(self)

    def _ride(self) -> Generator[simpy.Event, Any, Ready]:
        platform = self.line.platform_at(self.stop)
        self.locked = Happening(self.line.clock, Kind.CARRIER_READY, self.stop, self.number)
        platform.has_arrived(self)
        yield self.locked
        return Ready(self.line.clock.now, self.move, transfer=platform.name)

    def _be_worked(self, station: Station, visit: Visit) -> Generator[simpy.Event, Any, Ready]:
        line, clock, times, plan = self.line, self.line.clock, station.times, self.line.plan
        yield line.at(
            clock.now + times.settling_us + plan.start_handshake_us, Kind.CARRIER_READY, self.stop, self.number
        )
        visit.settled_us = clock.now
        self.work_starts = Happening(clock, Kind.WORK_STARTS, self.stop, self.number)
        station.settles(self, visit)
        yield self.work_starts
        work = self._work_of(station, visit)
        visit.started_us = clock.now
        worked_on = self.parts_to_work_on(station)
        first_serial = self.load * line.nests
        yield from station.tool.work(self, self._work_us(station, worked_on))
        visit.ended_us = work.end_us = clock.now
        work.downs = [down for down in station.tool.downs if work.start_us <= down.begin_us]
        station.tool.last_work = work
        repairs_us = sum(min(down.end_us, clock.now) - down.begin_us for down in work.downs)
        line.works.append([times.name, self.number, first_serial, work.start_us, clock.now, repairs_us])
        before = len(self.parts)
        missing = self._finish(station, work, worked_on)
        released = station.work_ends(before - missing - len(self.parts))
        waits: tuple[Any, ...] = ()
        clear_us = clock.now + times.clear_us
        if released is not None:
            yield released
            visit.released_us = clock.now
            if clock.now > clear_us:
                assert visit.release_call is not None
                waits = flat_waits([visit.release_call], clock.now)
        ready_us = max(clock.now, clear_us) + plan.done_handshake_us
        yield line.at(ready_us, Kind.CARRIER_READY, self.stop, self.number)
        return Ready(clock.now, self.move, work=work, waits=waits)

    def starts_work(self) -> None:
        """It has passed the last gate."""
        self.work_starts.due(self.line.clock.now)

    def is_taken_out(self) -> None:
        """It is taken off the line."""
        self.line.take_out(self)

    def _work_of(self, station: Station, visit: Visit) -> Work:
        """The record of a work that starts now."""
        plan, times = self.line.plan, station.times
        assert visit.arrived_us is not None
        return Work(
            times.name,
            times.stop,
            self.move,
            visit.arrived_us,
            times.settling_us,
            plan.start_handshake_us,
            times.prepare_us,
            times.clear_us,
            plan.done_handshake_us,
            station.tool.last_work,
            self.line.clock.now,
            waits=flat_waits(visit.waits, self.line.clock.now),
            put_in=self.put_in and self.move is None,
        )

    # ---- parts and steps ----

    def takes_load(self, load: int) -> None:
        """The next load: a part in each nest."""
        self.load, self.visits = load, 0
        self.variant = self.line.luck.variant(load, self.number)
        self.parts = [Part(load * self.line.nests + nest) for nest in range(self.line.nests)]

    def parts_to_work_on(self, station: Station) -> list[Part]:
        """Those not flagged; at an exit those flagged for it."""
        return [part for part in self.parts if part.exit_step == station.exit_step]

    def _work_us(self, station: Station, parts: list[Part]) -> int:
        each_part = self.line.plan.general.each_part
        serials = [self.load * self.line.nests]
        if each_part and each_part[station.number]:
            serials = [part.serial for part in parts]
        luck = self.line.luck
        return sum(luck.work_us(station.number, self.variant, serial, self.visits) for serial in serials)

    def _finish(self, station: Station, work: Work, worked_on: list[Part]) -> int:
        """A work has ended: parts miss, are flagged, sent back or leave; the next step. How many turned out missing."""
        line, luck = self.line, self.line.luck
        missing = [part for part in worked_on if station.is_first and luck.missed(station.number, part.serial)]
        self.parts = [part for part in self.parts if part not in missing]
        for part in worked_on:
            if part not in missing and luck.flagged(station.number, part.serial, self.visits):
                part.exit_step = part.exit_step if station.exit_step is not None else line.exit_after(station.number)
        sent_back_to = self._rework(station, worked_on) if station.exit_step is None else None
        if sent_back_to is not None:
            self.step = sent_back_to
            return len(missing)
        if station.exit_step is not None:
            self.parts = [part for part in self.parts if part not in worked_on]
        if not any(self._passes(step) for step in self._steps_after() if not line.plan.step_exit[step]):
            good = [part for part in self.parts if part.exit_step is None]
            self.parts = [part for part in self.parts if part.exit_step is not None]
            for part in good:
                line.good.append([part.serial, line.clock.now])
                line.history.finishes.append(work)
        self.step = next((step for step in self._steps_after() if self._has_to_do(step)), 0)
        if self.parts and self.step == 0:
            raise RuntimeError(f"load {self.load} has flagged parts and no exit follows")
        return len(missing)

    def _rework(self, station: Station, worked_on: list[Part]) -> int | None:
        """The step to which its part is sent back; one that has had all its reworks is flagged."""
        for number, rework in enumerate(self.line.plan.general.rework):
            for part in worked_on:
                if rework.station != station.number or part not in self.parts or part.exit_step is not None:
                    continue
                if not self.line.luck.reworked(number, part.serial, self.visits):
                    continue
                if self.visits < rework.at_most:
                    self.visits += 1
                    return rework.step
                part.exit_step = self.line.exit_after(station.number)
        return None

    def _steps_after(self) -> range:
        return range(self.step + 1, len(self.line.plan.step_names))

    def _passes(self, step: int) -> bool:
        """Whether a part of its variant that is not flagged is worked on at a step that is no exit."""
        general = self.line.plan.general
        skips = general.variants[self.variant].skips if general.variants else ()
        return step not in skips and step not in general.rework_alone

    def _has_to_do(self, step: int) -> bool:
        if self.line.plan.step_exit[step]:
            return any(part.exit_step == step for part in self.parts)
        return any(part.exit_step is None for part in self.parts) and self._passes(step)

    # ---- where it goes ----

    def is_under_way(self) -> bool:
        """Whether it has reserved a stop where it is not yet."""
        return not self.is_at_rest

    @property
    def stops_of_step(self) -> list[int]:
        """The stops of its next step's stations."""
        plan = self.line.plan
        return [int(plan.station_stop[station]) for station in plan.step_stations[self.step]]

    def _first(self, start: int) -> int | None:
        """The stop with which its way must begin: aboard, of the lane to which the platform has unlocked."""
        return self.leaves_to if self.line.track.kind[start] == "aboard" and start == self.stop else None

    def heads_for(self, start: int) -> int | None:
        """From a stop, the nearest free station of its step, else the nearest; None if no way leads to any. The stop on
        which it stands is not free."""
        track, first = self.line.track, self._first(start)
        near = [
            (round(track.distance_m(start, stop, first), 9), stop)
            for stop in self.stops_of_step
            if track.way_from(start, stop, first)
        ]
        own = self.stop if self.is_at_rest else None
        free = [way for way in near if way[1] != own and self.line.holder(way[1]) in (None, self)]
        return min(free or near)[1] if near else None

    def way_ahead(self, start: int, goal: int) -> tuple[int, ...]:
        """The stops of its way from a stop to where it heads."""
        return self.line.track.way_from(start, goal, self._first(start))

    def path(self, start: int) -> tuple[tuple[int, ...], bool]:
        """Its way from a stop and straight on beyond; whether that closes."""
        goal = self.heads_for(start)
        return ((), False) if goal is None else self.line.track.path(start, goal, self._first(start))

    def way_from_aboard(self) -> int:
        """The stop at which it will leave the platform that it is aboard of."""
        for stop in self.path(self.stop)[0]:
            if self.line.track.kind[stop] != "aboard":
                return stop
        raise RuntimeError(f"carrier {self.number} has no way from stop {self.stop}")

    def leader(self, start: int) -> Carrier | None:
        """The first carrier met on its way from a stop; itself if that leads back, None where the track ends.

        The stop where it starts is that of a carrier under way no more, so that it may meet another there.
        """
        stops, closed = self.path(start)
        for stop in stops:
            other = self.line.holder(stop)
            if other is not None and other is not self:
                return other
        behind = self.line.holder(start)
        return behind if closed and behind is not None else self if closed else None

    def calls(self, platform: Platform) -> int | None:
        """The lane at whose dock it calls a platform; None if it does not, as where a full stretch ends its way."""
        track = self.line.track
        under_way_to_wait = self.is_under_way() and track.kind[self.reserved] in ("waiting", "dock")
        if not (self.waits or under_way_to_wait):
            return None
        goal = self.heads_for(self.reserved)
        lane = track.lane[self.reserved]
        own_platform = track.transfer[self.reserved]
        for stop in () if goal is None else self.way_ahead(self.reserved, goal):
            if self.line.holder(stop) not in (None, self) or not self.line.limits.admit(self, stop):
                return None
            transfer = track.transfer[stop]
            if transfer is None:
                lane, own_platform = track.lane[stop], None
            elif transfer != own_platform:
                return lane if self.line.platforms[transfer] is platform else None
        return None

    # ---- reserving ----

    def reserve(self, goal: int) -> None:
        """Reserve a stop: its departure and its arrival are fixed from now on."""
        line, now_us = self.line, self.line.clock.now
        line.count_halt(self, goal)
        leader = self.leader(self.stop)
        leg = (self.stop, goal, int(bool(self.parts)))
        bounds = [now_us]
        if leader is not None and leader.committed_us is not None:
            bounds.append(leader.committed_us + line.plan.follow_us)
            delay_us = line.track.delay_us(leader.leg, leg)
            if delay_us is not None:
                bounds.append(leader.departed_us + delay_us)
        self.departed_us = max(bounds)
        self.arrival_us = self.departed_us + line.track.move_us(leg)
        self.move = line.marks.move_of(self, goal, leader)
        line.marks.last = Commits(self.move)
        self.leg, self.committed_us, self.goes_on = leg, now_us, None
        self.logged = [self.number, self.departed_us, self.stop, goal, self.arrival_us]
        line.moves.append(self.logged)
        line.limits.enters(self, goal)
        self._hold(goal)
        self.waits, self.is_at_rest, self.departed = False, False, False
        if self.visit is not None:
            self.visit.committed_us = now_us
        if line.track.kind[self.stop] == "aboard":
            self.leaves_to = None
            self._rear_leaves()
        self.go.due(self.departed_us)

    def go_on(self, goal: int) -> None:
        """Be re-aimed at a farther stop, which counts as a commitment: the departure stays, the arrival is re-timed."""
        line = self.line
        assert self.move is not None
        self.goes_on, self.committed_us = line.marks.goes_on(self, goal), line.clock.now
        self.move.place = line.marks.place_of(self, goal)
        self.leg = (self.stop, goal, self.leg[2])
        self.arrival_us = self.move.arrival_us = self.departed_us + line.track.move_us(self.leg)
        self.logged[3:] = [goal, self.arrival_us]
        line.limits.enters(self, goal)
        self._hold(goal)
        if line.track.kind[self.stop] == "aboard" and not self.rear.processed:
            self._rear_leaves()
        if self.departed:
            self.visit = self.next_visit
            if not self._interrupted:
                self._interrupted = True
                self.life.interrupt()

    def _hold(self, goal: int) -> None:
        """Have a stop reserved, in the place of the one before."""
        line = self.line
        line.hold(self, goal)
        self.next_visit = line.new_visit(self, goal) if line.track.station[goal] is not None else None
        if line.track.kind[goal] == "aboard":
            line.platform_at(goal).carriers.append(self)

    def _rear_leaves(self) -> None:
        """When its rear has left the platform by its profile; it tells the platform."""
        due_us = self.departed_us + self.line.track.rear_us(self.leg)
        platform, rear = self.line.platform_at(self.stop), Happening(self.line.clock, Kind.REAR_HAS_LEFT, self.stop)
        self.rear = rear
        rear.callbacks.append(lambda _: platform.rear_has_left(self, rear))
        rear.due(due_us)
