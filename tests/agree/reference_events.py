"""The reference model's clock: its events and their order within one microsecond."""

from __future__ import annotations

from collections.abc import Generator
from enum import IntEnum
from typing import Any

import simpy

Life = Generator[simpy.Event, Any, None]


class Kind(IntEnum):
    """The kinds of event in their order within one microsecond: first all that changes the state, then the asks."""

    FAILURE = 0
    REPAIR_ENDS = 1
    WORK_ENDS = 2
    TOOL_READY = 3
    LOCKED_AT_TAKING_DOCK = 4
    LOCKED_AT_GIVING_DOCK = 5
    REAR_HAS_LEFT = 6
    ARRIVAL = 7
    CARRIER_READY = 8
    WORK_STARTS = 9
    ASK = 10
    DEPARTURE = 11


class Clock(simpy.Environment):
    """SimPy's heap orders by (time, priority, order of scheduling); here the priority is (kind, rank, carrier).

    So the order of scheduling never decides between two happenings. SimPy's own urgent events (a process starts, the
    run ends) come before every kind, its normal ones (a process ends) after.
    """

    def schedule(self, event: simpy.Event, priority: Any = simpy.events.NORMAL, delay: Any = 0) -> None:
        if not isinstance(priority, tuple):
            priority = (-1 if priority == simpy.events.URGENT else len(Kind), 0, 0)
        super().schedule(event, priority, delay)


class Happening(simpy.Event):
    """An event of one kind at a stop, perhaps of a carrier. Asks go downstream first, all others upstream first."""

    def __init__(self, clock: Clock, kind: Kind, rank: int, carrier: int = -1) -> None:
        super().__init__(clock)
        self.place = (kind, -rank if kind is Kind.ASK else rank, carrier)

    def due(self, time_us: int) -> Happening:
        """The same event, scheduled for a microsecond."""
        if self.triggered:
            raise RuntimeError(f"{self.place} is due already")
        self._ok, self._value = True, None
        self.env.schedule(self, self.place, time_us - self.env.now)
        return self
