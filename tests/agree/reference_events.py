"""The reference model's clock: its events and their order within one microsecond."""

from __future__ import annotations

from collections.abc import Generator
from enum import IntEnum
from typing import Any

import simpy

Life = Generator[simpy.Event, Any, None]


class Kind(IntEnum):
    """The kinds of event in their order within one microsecond: first all that changes the state, then the rest.

    The general model puts carriers in, lets stations pass their gates (work starts among them) and lets carriers ask
    in one happening each; the plain one has a happening for every work that starts and every carrier that asks.
    """

    FAILURE = 0
    REPAIR_ENDS = 1
    BREAK = 2
    OUTSIDE = 3
    WORK_ENDS = 4
    RELEASE_ENDS = 5
    CHANGEOVER_ENDS = 6
    OPERATOR_ARRIVES = 7
    TOOL_READY = 8
    LOCKED_AT_TAKING_DOCK = 9
    LOCKED_AT_GIVING_DOCK = 10
    REAR_HAS_LEFT = 11
    ARRIVAL = 12
    CARRIER_READY = 13
    CARRIERS_PUT_IN = 14
    WORK_STARTS = 15
    ASK = 16
    DEPARTURE = 17


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
