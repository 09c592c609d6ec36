"""The general reference model's rules of where a carrier may go: its stops, and what a line adds to hold it back."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from agree.reference_causes import Arrives, BecomesReady, Event, Ready

if TYPE_CHECKING:
    from agree.reference_carrier import Carrier
    from agree.reference_general import Line
    from linewright.traffic import general


@dataclass
class Admission:
    """A stretch, the carriers on it, and how the last one that left it arrived beyond: of several in one microsecond
    the one at the highest rank."""

    stretch: general.Stretch
    carriers: list[Carrier] = field(default_factory=list)
    left_us: int = -1
    left_at: int = -1
    left_by: Event | None = None

    def admits(self, carrier: Carrier, stop: int) -> bool:
        """Whether a carrier's way may lead to a stop."""
        is_full = len(self.carriers) >= self.stretch.most
        return stop not in self.stretch.stops or carrier in self.carriers or not is_full


class Limits:
    """The limits of all ways: stretches, lanes that move together, and the direction of a two-way lane."""

    def __init__(self, line: Line) -> None:
        self.line, self.track = line, line.track
        general = line.plan.general
        self.stretches = [Admission(stretch) for stretch in general.admission]
        self.together = general.together
        self.held_lanes: set[int] = set()
        self.last_ready: dict[int, tuple[int, Ready]] = {}
        self.runs_against = False

    # ---- what happens ----

    def stands(self, carrier: Carrier) -> None:
        """A carrier is there without having come by a move."""
        for one in self.stretches:
            if carrier.stop in one.stretch.stops:
                one.carriers.append(carrier)

    def enters(self, carrier: Carrier, goal: int) -> None:
        """A carrier reserves a stop: it is on the stretches on its way, and the direction is that of its leg."""
        crossed = self.crossed(carrier, goal)
        for one in self.stretches:
            if carrier not in one.carriers and any(stop in one.stretch.stops for stop in [*crossed, goal]):
                one.carriers.append(carrier)
        carrier.crosses = [carrier.stop, *crossed]
        if self.track.two_way:
            self.runs_against = self.track.runs_against(carrier.stop, goal)

    def crossed(self, carrier: Carrier, goal: int) -> list[int]:
        """The stops between the one it leaves and the one it reserves."""
        stops, _ = carrier.path(carrier.stop)
        return list(stops[: stops.index(goal)])

    def arrives(self, carrier: Carrier) -> None:
        """A carrier arrives: it leaves the stretches that its stop lies beyond."""
        carrier.crosses = []
        for one in self.stretches:
            if carrier in one.carriers and carrier.stop not in one.stretch.stops:
                one.carriers.remove(carrier)
                assert carrier.move is not None
                one.left_us, one.left_at, one.left_by = self.line.clock.now, carrier.stop, Arrives(carrier.move)

    def leaves(self, carrier: Carrier) -> None:
        """A carrier is taken off."""
        for one in self.stretches:
            if carrier in one.carriers:
                one.carriers.remove(carrier)

    def admit(self, carrier: Carrier, stop: int) -> bool:
        """Whether no full stretch ends a carrier's way before a stop."""
        return all(one.admits(carrier, stop) for one in self.stretches)

    # ---- together ----

    def judge(self) -> None:
        """The asks of an instant begin: which lanes that move together are in no index instant."""
        self.held_lanes, self.last_ready = set(), {}
        for lane in self.together:
            for carrier in sorted(self.line.carriers, key=lambda carrier: carrier.stop):
                if carrier.is_under_way() and self._lane(carrier.reserved) == lane:
                    self.held_lanes.add(lane)
                if carrier.is_under_way() or self._lane(carrier.stop) != lane:
                    continue
                if not carrier.waits:
                    self.held_lanes.add(lane)
                before = self.last_ready.get(lane)
                if before is None or carrier.ready.at_us >= before[1].at_us:
                    self.last_ready[lane] = carrier.stop, carrier.ready

    def _lane(self, stop: int) -> int | None:
        """The lane that a stop is on; a place aboard is on none."""
        return None if self.track.kind[stop] == "aboard" else self.track.lane[stop]

    # ---- to and fro ----

    def holds_direction(self, carrier: Carrier) -> bool:
        """Whether a carrier holds the direction of its lane."""
        if not carrier.waits:
            return True
        stops, _ = carrier.path(carrier.stop)
        return not stops or (stops[0] < carrier.stop) == self.runs_against

    def _may_turn(self, carrier: Carrier) -> bool:
        return not any(self.holds_direction(other) for other in self.line.carriers if other is not carrier)

    # ---- the stops that it may reserve ----

    def goals(self, carrier: Carrier) -> list[int]:
        """The stops that a carrier may reserve from the one it rests on or has left, the farthest last."""
        if self._lane(carrier.stop) in self.held_lanes:
            return []
        goals = [stop for stop in self._within_reach(carrier) if self._lane(stop) not in self.held_lanes]
        if self.track.two_way:
            against = [self.track.runs_against(carrier.stop, stop) for stop in goals]
            if any(one != self.runs_against for one in against) and not self._may_turn(carrier):
                return []
        return goals

    def _walk(self, carrier: Carrier) -> list[int]:
        """Its way and straight on beyond, over places aboard too, to before a stop of another or a full stretch."""
        walked: list[int] = []
        for stop in carrier.path(carrier.stop)[0]:
            if self.line.holder(stop) not in (None, carrier) or not self.admit(carrier, stop):
                break
            walked.append(stop)
        return walked

    def _within_reach(self, carrier: Carrier) -> list[int]:
        """The stops at which it may rest: free ones of its step and, before the first of its step, all others; where
        its goal, the farthest free station of its step, lies beyond a place aboard, all up to that place."""
        track, goals = self.track, []
        walked = self._walk(carrier)
        met = [n for n, stop in enumerate(walked) if stop in carrier.stops_of_step]
        may_be_reserved = [n for n in met if not self.line.is_kept(walked[n])]
        boards_at, boards = self._boards(carrier, walked)
        is_goal_beyond = bool(may_be_reserved) and may_be_reserved[-1] > boards_at
        if met and met[0] < boards_at and not is_goal_beyond:
            boards_at, boards = len(walked), None
        for n, stop in enumerate(walked[:boards_at]):
            is_before_stations = is_goal_beyond or not met or n < met[0]
            if n in may_be_reserved or (track.kind[stop] in ("waiting", "dock") and is_before_stations):
                goals.append(stop)
        if boards is not None:
            lane = track.lane[walked[boards_at - 1] if boards_at > 0 else carrier.stop]
            if self.line.platforms[boards].takes_from(lane):
                places = self._places_of(boards, walked[boards_at:])
                goals += [place for place in places if self._leads_shortest(carrier, walked, place)]
        return goals

    def _leads_shortest(self, carrier: Carrier, walked: list[int], place: int) -> bool:
        """Whether a carrier may reserve a place aboard by its walk: from aboard only along the shortest way there,
        since a leg is named by its ends alone."""
        if self.track.kind[carrier.stop] != "aboard":
            return True
        return tuple(walked[: walked.index(place) + 1]) == self.track.way_from(carrier.stop, place, None)

    def _boards(self, carrier: Carrier, walked: list[int]) -> tuple[int, int | None]:
        """Where on its walk the first place aboard is, and of which transfer; the places beside it are passed by."""
        own = self.track.transfer[carrier.stop]
        for n, stop in enumerate(walked):
            transfer = self.track.transfer[stop]
            if transfer is None:
                own = None
            elif transfer != own:
                return n, transfer
        return len(walked), None

    def _places_of(self, transfer: int, stops: list[int]) -> list[int]:
        """The stops that begin a list, as long as they are places of a transfer."""
        return list(itertools.takewhile(lambda stop: self.track.transfer[stop] == transfer, stops))

    def goals_beyond(self, carrier: Carrier) -> list[int]:
        """The stops at which a carrier that is under way may be re-aimed, the farthest last."""
        track, line = self.track, self.line
        stops, _ = carrier.path(carrier.stop)
        if carrier.reserved not in stops:
            return []
        farther = stops[stops.index(carrier.reserved) + 1 :]
        leader = carrier.leader(carrier.stop)
        goals = []
        for stop in self.goals(carrier):
            leg = (carrier.stop, stop, carrier.leg[2])
            if stop not in farther or not track.has_leg(leg):
                continue
            if line.clock.now + line.plan.follow_us > carrier.departed_us + track.differs_us(carrier.leg, leg):
                continue
            if leader is not None and leader.committed_us is not None:
                delay_us = track.delay_us(leader.leg, leg)
                if delay_us is not None and carrier.departed_us < leader.departed_us + delay_us:
                    continue
            goals.append(stop)
        return goals

    # ---- what opened a way ----

    def opening(self, carrier: Carrier, goal: int) -> Event | None:
        """The event of this microsecond that opened a way that such a limit had barred: of several the one at the
        highest rank."""
        found = self._openings(carrier, goal)
        return max(found, key=lambda one: one[0])[1] if found else None

    def _openings(self, carrier: Carrier, goal: int) -> list[tuple[int, Event]]:
        """Each with its rank."""
        now_us = self.line.clock.now
        found: list[tuple[int, Event]] = []
        for lane in {self._lane(carrier.stop), self._lane(goal)}.intersection(self.last_ready):
            rank, ready = self.last_ready[lane]
            if ready.at_us == now_us:
                found.append((rank, BecomesReady(ready)))
        found += self._admissions([*self.crossed(carrier, goal), goal])
        if self.track.two_way:
            found += [
                (other.stop, BecomesReady(other.ready))
                for other in self.line.carriers
                if other is not carrier and other.ready.at_us == now_us
            ]
        return found + self._taken_out()

    def _admissions(self, way: Sequence[int]) -> list[tuple[int, Event]]:
        """The last arrival in this microsecond beyond each of the stretches that a way crosses, with its rank."""
        return [
            (one.left_at, one.left_by)
            for one in self.stretches
            if one.left_us == self.line.clock.now and one.left_by and not set(way).isdisjoint(one.stretch.stops)
        ]

    def _taken_out(self) -> list[tuple[int, Event]]:
        """The last carrier that was taken out in this microsecond, with its rank."""
        taken_out = self.line.taken_out
        return [taken_out] if taken_out is not None and taken_out[1].at_us == self.line.clock.now else []

    def admission_to(self, carrier: Carrier, place: int) -> Event | None:
        """The event of this microsecond by which stretches before a place aboard, or one that it belongs to, admit a
        carrier: of several the one at the highest rank."""
        start, goal = carrier.reserved, carrier.heads_for(carrier.reserved)
        assert goal is not None
        way = carrier.way_ahead(start, goal)
        found = [*self._admissions(way[: way.index(place) + 1]), *self._taken_out()]
        return max(found, key=lambda one: one[0])[1] if found else None
