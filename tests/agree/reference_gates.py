"""The general reference model's stations: their gates, the operators, breaks and outside machines that hold them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from agree.reference_case import StationTimes
from agree.reference_causes import Wait
from agree.reference_events import Happening, Kind
from agree.reference_states import Visit
from agree.reference_station import Tool
from linewright.traffic.general import FEED, Break

if TYPE_CHECKING:
    from agree.reference_carrier import Carrier
    from agree.reference_general import Line
    from linewright.traffic import general

GATES: Final = ("clock failure", "changeover", "outside", "break", "operator", "changeover", "clock failure")
"""What a station waits for at each of its gates: up, run-out, outside, break, operator, changeover, up."""


def in_break(breaks: Sequence[Break], time_us: int) -> bool:
    """Whether any of these breaks holds at a time."""
    for one in breaks:
        since_us = time_us - one.begin_us
        if any(
            0 <= since_us - n * one.shift_us < one.length_us
            for n in range(max((since_us - one.length_us) // one.shift_us, 0), max(since_us // one.shift_us, 0) + 1)
        ):
            return True
    return False


def break_bounds(breaks: Sequence[Break], begin_us: int, end_us: int) -> list[int]:
    """The times between two at which a break begins or ends."""
    bounds = set()
    for one in breaks:
        for bound_us in (one.begin_us, one.begin_us + one.length_us):
            first = max(-(-(begin_us - bound_us) // one.shift_us), 0)
            bounds |= set(range(bound_us + first * one.shift_us, end_us, one.shift_us))
    return sorted(bound_us for bound_us in bounds if begin_us < bound_us < end_us)


@dataclass
class Call:
    """A station's call for an operator: broken off by breaks until he is assigned; then it lasts until he is there, or
    has released the part."""

    breaks: Sequence[Break]
    begin_us: int
    assigned_us: int | None = None

    def waits(self, until_us: int) -> list[Wait]:
        """What the station waited for, up to a time where nobody is assigned before it."""
        open_until_us = until_us if self.assigned_us is None else self.assigned_us
        begins = [self.begin_us, *break_bounds(self.breaks, self.begin_us, open_until_us)]
        waits = [Wait("break" if in_break(self.breaks, begin_us) else "operator", begin_us) for begin_us in begins]
        if self.assigned_us is not None:
            waits.append(Wait("operator", self.assigned_us))
        return waits


class Station:
    """A station: the gates before its work, and the operator who works or releases there."""

    def __init__(self, line: Line, number: int, times: StationTimes) -> None:
        plan, general = line.plan, line.plan.general
        self.line, self.number, self.times, self.stop = line, number, times, times.stop
        self.tool = Tool(line, number, times)
        self.is_first = int(plan.station_step[number]) == 0
        self.exit_step = int(plan.station_step[number]) if plan.step_exit[int(plan.station_step[number])] else None
        self.pool = next((pool for pool in line.pools if number in pool.stations), None)
        self.is_manual = self.pool is not None and number < len(general.manual) and general.manual[number]
        release_us = general.release_us[number] if number < len(general.release_us) else -1
        self.release_us = release_us if self.pool is not None and release_us >= 0 else None
        self.breaks = [one for one in general.breaks if number in one.stations]
        self.feed = next((one for one in line.outside if one.is_feed and one.station == number), None)
        self.take_away = next((one for one in line.outside if not one.is_feed and one.station == number), None)
        self.changeover_us = next((one.us for one in general.changeovers if one.station == number), None)
        self.last_variant: int | None = None
        self.carrier: Carrier | None = None
        self.gate = 0
        self.call: Call | None = None
        self.operator: Operator | None = None
        self.operator_is_here = False
        self.changed_us: int | None = None
        self.released: Happening | None = None

    # ---- before work ----

    def settles(self, carrier: Carrier, visit: Visit) -> None:
        """A carrier is settled: it goes to the first gate as soon as the tool is ready."""
        self.carrier, self.visit, self.gate = carrier, visit, 0

    def pass_gates(self) -> bool:
        """Pass every gate that can be passed now; whether any was."""
        carrier, now_us = self.carrier, self.line.clock.now
        if carrier is None or not self.tool.ready.processed:
            return False
        before = self.gate
        if self.gate == 0:
            self._reach(1)
        if self.gate == 1 and not carrier.parts and self.line.takes_out(self):
            self.carrier, self.visit.departed_us = None, now_us
            carrier.is_taken_out()
            return True
        gates = (
            self._is_up, self._has_run_out, self._has_outside, self._is_in_no_break, self._has_operator,
            self._has_changed_over, self._is_up,
        )  # fmt: skip
        while self.gate <= len(gates) and gates[self.gate - 1]():
            self._reach(self.gate + 1)
        if self.gate > len(gates):
            self.carrier, self.last_variant = None, carrier.variant
            carrier.starts_work()
        return self.gate != before

    def _reach(self, gate: int) -> None:
        self.gate = gate
        now_us = self.line.clock.now
        if gate == 5 and self.is_manual:
            self.call = Call(self.breaks, now_us)
            self.visit.waits.append(self.call)
        elif gate <= len(GATES):
            self.visit.waits.append(Wait(GATES[gate - 1], now_us))
        if gate == 6:
            self.changed_us = now_us + self._changeover_us()
            if self.changed_us > now_us:
                self.line.at(self.changed_us, Kind.CHANGEOVER_ENDS, self.stop)

    def _is_up(self) -> bool:
        return not self.tool.is_down

    def _has_run_out(self) -> bool:
        """The run-out gate; passing it, a carrier without a part takes the next load."""
        carrier, line = self.carrier, self.line
        assert carrier is not None
        if carrier.parts:
            return True
        if self.is_first and line.plan.general.run_out:
            variant = line.luck.variant(line.loads, carrier.number)
            if any(other.parts and other.variant != variant for other in line.carriers):
                return False
        carrier.takes_load(line.next_load())
        return True

    def _has_outside(self) -> bool:
        """Parts from the feed and room in the take-away, both together."""
        assert self.carrier is not None
        parts, nests = len(self.carrier.parts_to_work_on(self)), self.line.nests
        if self.feed is not None and self.feed.held < parts:
            return False
        if self.take_away is not None and self.take_away.room < nests:
            return False
        if self.feed is not None:
            self.feed.held -= parts
        if self.take_away is not None:
            self.take_away.kept += nests
        return True

    def is_in_break(self) -> bool:
        """Whether it is in a break now."""
        return in_break(self.breaks, self.line.clock.now)

    def _is_in_no_break(self) -> bool:
        return not self.is_in_break()

    def _has_operator(self) -> bool:
        return not self.is_manual or self.operator_is_here

    def _changeover_us(self) -> int:
        assert self.carrier is not None
        if self.last_variant is None or self.changeover_us is None:
            return 0
        return int(self.changeover_us[self.last_variant][self.carrier.variant])

    def _has_changed_over(self) -> bool:
        assert self.changed_us is not None
        return self.changed_us <= self.line.clock.now

    # ---- after work ----

    def work_ends(self, parts_that_leave: int) -> Happening | None:
        """Parts go into the take-away; an operator goes, stays for the release or is called for it. The release."""
        if self.take_away is not None:
            self.take_away.kept -= self.line.nests
            self.take_away.held += parts_that_leave
        released = None
        if self.release_us is not None:
            self.released = released = Happening(self.line.clock, Kind.RELEASE_ENDS, self.stop)
            if self.operator is not None:
                self.call = Call(self.breaks, self.line.clock.now, self.line.clock.now)
                self._release()
            else:
                self.call = Call(self.breaks, self.line.clock.now)
            self.visit.release_call = self.call
        elif self.operator is not None:
            self._let_go()
        return released

    def _release(self) -> None:
        assert self.released is not None
        assert self.release_us is not None
        self.released.callbacks.insert(0, lambda _: self._let_go())
        self.released.due(self.line.clock.now + self.release_us)

    def _let_go(self) -> None:
        assert self.operator is not None
        self.operator.is_free = True
        self.operator, self.operator_is_here, self.call, self.released = None, False, None, None

    # ---- its operator ----

    def calls(self) -> bool:
        """Whether it calls for an operator."""
        return self.call is not None and self.call.assigned_us is None and not self.is_in_break()

    def gets(self, operator: Operator, walk_us: int) -> None:
        """An operator is assigned and walks there."""
        assert self.call is not None
        self.operator, self.call.assigned_us = operator, self.line.clock.now
        arrives = self.line.at(self.line.clock.now + walk_us, Kind.OPERATOR_ARRIVES, self.stop)
        arrives.callbacks.append(lambda _: self._operator_arrives())

    def _operator_arrives(self) -> None:
        self.operator_is_here = True
        if self.released is not None:
            self._release()


@dataclass
class Operator:
    """An operator, free or bound, and where he is or goes: the number of the station in his pool's list."""

    number: int
    place: int = 0
    is_free: bool = True


class Pool:
    """Operators who share stations."""

    def __init__(self, pool: general.Pool) -> None:
        self.stations, self.walk_us = pool.stations, pool.walk_us
        self.operators = [Operator(number) for number in range(pool.operators)]

    def assign(self, line: Line) -> bool:
        """Give the calling stations, in the order of the list, the free operators who are nearest; whether any got."""
        assigned = False
        for place, number in enumerate(self.stations):
            free = [operator for operator in self.operators if operator.is_free]
            if not free or not line.stations[number].calls():
                continue
            nearest = min(free, key=lambda operator: (self.walk_us[operator.place][place], operator.number))
            walk_us = self.walk_us[nearest.place][place]
            nearest.is_free, nearest.place = False, place
            line.stations[number].gets(nearest, walk_us)
            assigned = True
        return assigned


@dataclass
class OutsideMachine:
    """A machine outside the line with its buffer: the parts that it holds and the room that is kept in it."""

    line: Line
    number: int
    machine: general.Outside
    held: int = 0
    kept: int = 0
    count: int = 0
    is_busy: bool = False
    failures: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.station, self.is_feed = self.machine.station, self.machine.kind == FEED
        self.held = self.machine.start if self.is_feed else 0
        self.failures = [0 for _ in self.machine.failures]
        luck = self.line.luck
        self.left_us = [luck.outside_running_us(self.number, kind, 0) for kind in range(len(self.failures))]

    @property
    def room(self) -> int:
        """How many parts more its buffer takes."""
        return self.machine.capacity - self.held - self.kept

    def begin(self) -> None:
        """Make or take the next part if it can."""
        if self.is_busy or (self.held >= self.machine.capacity if self.is_feed else self.held == 0):
            return
        self.is_busy = True
        if not self.is_feed:
            self.held -= 1
        stop = int(self.line.plan.station_stop[self.station])
        ends = self.line.at(self.line.clock.now + self._time_us(), Kind.OUTSIDE, 2 * stop + (not self.is_feed))
        ends.callbacks.append(lambda _: self._end())

    def _end(self) -> None:
        self.is_busy = False
        if self.is_feed:
            self.held += 1

    def _time_us(self) -> int:
        """How long this part takes with the failures of running that come meanwhile."""
        luck = self.line.luck
        left_us = luck.outside_us(self.number, self.count)
        self.count += 1
        time_us = left_us
        while True:
            due = [
                (due_us, kind) for kind, due_us in enumerate(self.left_us) if due_us is not None and due_us < left_us
            ]
            if not due:
                break
            worked_us, kind = min(due)
            left_us -= worked_us
            self._run_down(worked_us)
            time_us += luck.outside_repair_us(self.number, kind, self.failures[kind])
            self.failures[kind] += 1
            self.left_us[kind] = luck.outside_running_us(self.number, kind, self.failures[kind])
        self._run_down(left_us)
        return time_us

    def _run_down(self, running_us: int) -> None:
        self.left_us = [None if due_us is None else due_us - running_us for due_us in self.left_us]
