"""The reference model's stations: their tools, their works and their failures."""

from __future__ import annotations

import contextlib
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any, Protocol

import simpy

from agree.reference_case import FailureSort, StationTimes
from agree.reference_causes import Down, Work
from agree.reference_events import Clock, Happening, Kind, Life


class Line(Protocol):
    """What a tool must know of the line it is in: its clock and its luck."""

    @property
    def clock(self) -> Clock:
        """The clock of the line."""

    def at(self, time_us: int, kind: Kind, rank: int, carrier: int = -1) -> Happening:
        """A happening due at a time."""

    def failure(self, station: int, kind: int, n: int) -> tuple[int, int] | None:
        """Time or number of works to the n-th failure of a kind, and its repair; None after the last."""


class Carrier(Protocol):
    """What a tool must know of the carrier under it."""

    @property
    def number(self) -> int:
        """Its number."""

    @property
    def life(self) -> simpy.Process:
        """The process that a failure of clock interrupts."""


@dataclass
class FailureClock:
    """One kind of failure of a station: what is left until it comes, None after the last.

    `left` is a time or, of a jam, a number of works; of a failure of clock it is what there is from the end of its last
    repair on. `comes` is due when one that had to wait for the end of another repair begins.
    """

    line: Line
    station: int
    times: StationTimes
    kind: int
    sort: FailureSort
    count: int = 0

    def __post_init__(self) -> None:
        self.draw()

    def draw(self) -> None:
        """Look up the next failure of this kind."""
        drawn = self.line.failure(self.station, self.kind, self.count)
        self.left, self.repair_us = (None, 0) if drawn is None else drawn
        self.count += 1
        self.comes = self.coming()

    def coming(self) -> Happening:
        """The failure itself, not due yet: of clock before all others, of one sort as they are written."""
        kinds = len(self.times.failures)
        number = self.kind - kinds if self.sort == "clock" else self.kind
        return Happening(self.line.clock, Kind.FAILURE, self.times.stop, number)


class Tool:
    """The tool of one station, with the station's failures."""

    def __init__(self, line: Line, station: int, times: StationTimes) -> None:
        self.line, self.station, self.times = line, station, times
        self.failures = [FailureClock(line, station, times, kind, sort) for kind, sort in enumerate(times.failures)]
        self.ready = line.at(0, Kind.TOOL_READY, self.times.stop)
        self.last_work: Work | None = None
        self.begun_us: int | None = None
        self.is_down = False
        self.downs: list[Down] = []
        self.waiting: list[FailureClock] = []
        self.running: Carrier | None = None
        self._is_up = self._next_up()
        for failure in self._of("clock"):
            line.clock.process(self._fail_by_clock(failure))

    def work(self, carrier: Carrier, duration_us: int) -> Life:
        """Work on a carrier's part, with the failures that come and their repairs; then the tool gets ready again."""
        line, stop, clock = self.line, self.times.stop, self.line.clock
        self.begun_us = clock.now
        for jam in self._of("jam"):
            if jam.left is not None:
                jam.left -= 1
        left_us = duration_us
        while True:
            failure = self._first_failure(left_us)
            if failure is None:
                due_us, end = left_us, Happening(clock, Kind.WORK_ENDS, stop, carrier.number)
            else:
                due_us, end = failure.left if failure.sort == "running" else 0, failure.coming()
            worked_us = yield from self._run(carrier, end, due_us)
            self._run_down(worked_us)
            left_us -= worked_us
            if self.is_down:
                yield from self.until_up()
            elif failure is None:
                break
            else:
                self.is_down = True
                yield from self._repair(failure)
                yield from self.until_up()
        self.begun_us = None
        self.ready = line.at(clock.now + self.times.clear_us + self.times.prepare_us, Kind.TOOL_READY, stop)

    def until_up(self) -> Life:
        """Wait while the station is down."""
        while self.is_down:
            yield self._is_up

    def _run(self, carrier: Carrier, end: Happening, due_us: int) -> Generator[simpy.Event, Any, int]:
        """Work until an end that is due, or until a failure of clock makes it stand still; how long it worked. [µs]"""
        begun_us, self.running = self.line.clock.now, carrier
        with contextlib.suppress(simpy.Interrupt):
            yield end.due(begun_us + due_us)
        self.running = None
        return int(self.line.clock.now - begun_us)

    def _fail_by_clock(self, failure: FailureClock) -> Life:
        """A failure of clock: it comes whatever the station does, unless the station is down already."""
        while failure.left is not None:
            yield failure.coming().due(self.line.clock.now + failure.left)
            if self.is_down:
                self.waiting.append(failure)
                yield failure.comes
            self.is_down = True
            if self.running is not None:
                self.running.life.interrupt()
            yield from self._repair(failure)

    def _repair(self, failure: FailureClock) -> Life:
        """The repair of a station that is down; at its end a failure of clock that came due meanwhile begins."""
        now_us = self.line.clock.now
        end_us = now_us + failure.repair_us
        self.downs.append(Down(now_us, end_us, failure.sort))
        yield self.line.at(end_us, Kind.REPAIR_ENDS, self.times.stop)
        failure.draw()
        if self.waiting:
            following = min(self.waiting, key=lambda waiting: waiting.kind)
            self.waiting.remove(following)
            following.comes.due(end_us)
        else:
            self.is_down = False
            up, self._is_up = self._is_up, self._next_up()
            up.due(end_us)

    def _next_up(self) -> Happening:
        return Happening(self.line.clock, Kind.REPAIR_ENDS, self.times.stop)

    def _of(self, sort: FailureSort) -> list[FailureClock]:
        return [failure for failure in self.failures if failure.sort == sort]

    def _first_failure(self, left_us: int) -> FailureClock | None:
        """The failure that comes first before the work's end: a jam, else one of running time; of several at once the
        one written first."""
        for jam in self._of("jam"):
            if jam.left == 0:
                return jam
        due = [failure for failure in self._of("running") if failure.left is not None and failure.left < left_us]
        return min(due, key=lambda failure: failure.left, default=None)

    def _run_down(self, running_us: int) -> None:
        for failure in self._of("running"):
            if failure.left is not None:
                failure.left -= running_us
