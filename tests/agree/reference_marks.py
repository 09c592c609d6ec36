"""What the general reference model writes down of a move so that the causes of the line cycle can be found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from agree.reference_causes import Commits, Event, GoesOn, Lock, Locks, Move, NothingBefore

if TYPE_CHECKING:
    from agree.reference_carrier import Carrier
    from agree.reference_general import Line


class Marks:
    """The records of commitments, made before the reservation is changed; the last of them."""

    def __init__(self, line: Line) -> None:
        self.line = line
        self.last: Commits | None = None

    def move_of(self, carrier: Carrier, goal: int, leader: Carrier | None) -> Move:
        """The record of a move to which a carrier commits now."""
        now_us = self.line.clock.now
        move = Move(
            now_us,
            carrier.departed_us,
            carrier.arrival_us,
            self.line.plan.follow_us,
            self.place_of(carrier, goal),
            self.line.track.kind[goal] in ("station", "aboard"),
            carrier.ready,
            self.lock_before(carrier),
            None if leader is None else leader.move,
            leader_committed=None if leader is None else leader.goes_on,
        )
        is_locked_now = move.lock is not None and move.lock.at_us == now_us
        if move.waited and not is_locked_now and (leader is None or leader.committed_us != now_us):
            move.opened_by = self._opening(carrier, goal)
        return move

    def goes_on(self, carrier: Carrier, goal: int) -> GoesOn:
        """The record of a carrier that is re-aimed now."""
        now_us, leader = self.line.clock.now, carrier.leader(carrier.stop)
        lock = self.lock_before(carrier)
        if lock is not None and lock.at_us == now_us:
            return GoesOn(now_us, Locks(lock))
        if leader is not None and leader.committed_us == now_us and leader.move is not None:
            return GoesOn(now_us, leader.goes_on or Commits(leader.move))
        return GoesOn(now_us, self._opening(carrier, goal))

    def _opening(self, carrier: Carrier, goal: int) -> Event:
        """What opened a way that neither its own readiness, a lock nor its leader's commitment did."""
        now_us = self.line.clock.now
        opening = self.line.limits.opening(carrier, goal)
        if opening is None:
            self.line.unexplained.append(("commitment", carrier.number, now_us))
        return opening or NothingBefore(now_us)

    def lock_before(self, carrier: Carrier) -> Lock | None:
        """The last lock, at the dock of its lane, of the platform of its next place aboard, if nobody is between."""
        track = self.line.track
        own, lane = track.transfer[carrier.stop], track.lane[carrier.stop]
        for stop in carrier.path(carrier.stop)[0]:
            transfer = track.transfer[stop]
            if transfer is not None and transfer != own:
                platform = self.line.platforms[transfer]
                return platform.lock if platform.takes_from(lane) else None
            if self.line.holder(stop) not in (None, carrier):
                return None
            if transfer is None:
                lane, own = track.lane[stop], None
        return None

    def place_of(self, carrier: Carrier, goal: int) -> str:
        """The first place aboard or station of its next step at or after a stop, on its way."""
        track, plan = self.line.track, self.line.plan
        heads_for = carrier.heads_for(carrier.stop)
        assert heads_for is not None
        way = () if goal in carrier.stops_of_step else track.way_from(goal, heads_for, None)
        for stop in (goal, *way):
            transfer, station = track.transfer[stop], track.station[stop]
            if transfer is not None:
                return plan.transfer_names[transfer]
            if station is not None and stop in carrier.stops_of_step:
                return plan.station_names[station]
        raise RuntimeError(f"no place on the way from stop {goal}")
