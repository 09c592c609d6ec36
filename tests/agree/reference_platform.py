"""The general reference model's platforms: they ride with carriers, return, and follow calls."""

from __future__ import annotations

from typing import TYPE_CHECKING

from agree.reference_causes import BecomesReady, Commits, Event, Lock, Locks, Move, NothingBefore
from agree.reference_events import Happening, Kind

if TYPE_CHECKING:
    from agree.reference_carrier import Carrier
    from agree.reference_general import Line
    from linewright.traffic import general


class Platform:
    """A transfer's platform: the dock where it is or goes, and the carriers that have reserved a place or are aboard.

    Docks are numbered as the plan does: those it takes from first, by priority, then those it gives to. It is `open`
    from its lock at a dock that it takes from until it unlocks.
    """

    def __init__(self, line: Line, name: str, platform: general.Platform) -> None:
        self.line, self.name, self.platform = line, name, platform
        self.rank = platform.aboard[0]
        self.dock, self.rides, self.open = 0, False, True
        self.carriers: list[Carrier] = []
        self.lock: Lock | None = None
        self.left: Move | None = None
        self.rear_left_us = -1
        self.goes_home = False
        self.ride_reason: tuple[int, Move | None, Event | None] = (-1, None, None)

    def takes_from(self, lane: int) -> bool:
        """Whether a place aboard may be reserved from a lane now."""
        return self.open and self.platform.takes.index(lane) == self.dock

    # ---- with carriers ----

    def has_arrived(self, carrier: Carrier) -> None:
        """A carrier has arrived aboard: when all have who reserved a place, the platform unlocks and rides."""
        if not all(aboard.is_at_rest for aboard in self.carriers):
            return
        self._ride(self.dock_ahead(carrier), Kind.LOCKED_AT_GIVING_DOCK)

    def dock_ahead(self, carrier: Carrier) -> int:
        """The dock on the way of a carrier aboard, chosen once: it and all others aboard leave there."""
        following = carrier.way_from_aboard()
        if len(self.platform.gives) > 1:
            carrier.leaves_to = following
        return len(self.platform.takes) + self.platform.gives.index(self.line.track.lane[following])

    def stands_with(self, carrier: Carrier) -> None:
        """At time zero it stands locked with a carrier aboard, at the dock on its way."""
        self.carriers.append(carrier)
        self.dock, self.open = self.dock_ahead(carrier), False

    def _ride(self, dock: int, kind: Kind) -> None:
        ride_us = self.platform.ride_us[self.dock][dock]
        self.rides, self.open, self.dock = True, False, dock
        locked = self.line.at(self.line.clock.now + ride_us, kind, self.rank)
        locked.callbacks.append(lambda _: self._locks())

    def _locks(self) -> None:
        self.rides = False
        if self.dock < len(self.platform.takes):
            self.open = True
            begun_us, left, called_by = self.ride_reason
            self.lock = Lock(self.line.clock.now, self.name, begun_us, left, called_by)
        for carrier in self.carriers:
            carrier.locked.due(self.line.clock.now)

    def rear_has_left(self, carrier: Carrier, rear: Happening) -> None:
        """The rear of a carrier has left it, unless that was re-timed."""
        if carrier.rear is not rear:
            return
        self.carriers.remove(carrier)
        if not self.carriers:
            self.left, self.rear_left_us, self.goes_home = carrier.move, self.line.clock.now, self.platform.at_once

    # ---- empty ----

    def follow_calls(self) -> bool:
        """At rest and empty, ride to the first dock that is called, else home where that is due; whether it rides."""
        if self.rides or self.carriers:
            return False
        callers: dict[int, Carrier] = {}
        for carrier in self.line.carriers:
            lane = carrier.calls(self)
            if lane is not None:
                callers.setdefault(self.platform.takes.index(lane), carrier)
        goes_home, self.goes_home = self.goes_home, False
        if not callers and not goes_home:
            return False
        dock = min(callers, default=0)
        if dock == self.dock:
            return False
        self.ride_reason = self._reason(callers.get(dock))
        self._ride(dock, Kind.LOCKED_AT_TAKING_DOCK)
        return True

    def _reason(self, caller: Carrier | None) -> tuple[int, Move | None, Event | None]:
        """When its ride begins, and the move that left it or the event that let it be called."""
        now_us = self.line.clock.now
        if self.rear_left_us == now_us:
            return now_us, self.left, None
        assert caller is not None
        event: Event = NothingBefore(now_us)
        if caller.waits and caller.ready.at_us == now_us:
            event = BecomesReady(caller.ready)
        elif caller.committed_us == now_us and caller.move is not None:
            event = caller.goes_on or Commits(caller.move)
        elif self.lock is not None and self.lock.at_us == now_us:
            event = Locks(self.lock)
        else:
            event = self._admission(caller)
        return now_us, None, event

    def _admission(self, caller: Carrier) -> Event:
        """What let a stretch admit a caller, or made one that came before it call no more."""
        now_us, last = self.line.clock.now, self.line.marks.last
        event = self.line.limits.admission_to(caller, self.platform.aboard[0])
        if event is not None:
            return event
        if last is not None and last.at_us == now_us and self.line.limits.stretches:
            return last
        self.line.unexplained.append(("call", self.name, now_us))
        return NothingBefore(now_us)
