"""The general reference model's track: how stops follow one another, and the legs from stop to stop.

Where the plan has no track of its own, it is a loop of lanes and transfers in the order of ranks.
"""

from __future__ import annotations

import math
from functools import cache

from agree.reference_case import KINDS_OF_A_PLAN, Leg
from linewright.traffic.general import NO_WAY, Platform
from linewright.traffic.plan import NO_BOUND, NO_LEG, TrafficPlan


class Track:
    """The track of a plan. A stop is named by its rank; a leg is (from, to, load class)."""

    def __init__(self, plan: TrafficPlan) -> None:
        self.plan, self.stops = plan, len(plan.stop_kind)
        self.kind = [KINDS_OF_A_PLAN[int(kind)] for kind in plan.stop_kind]
        self.station = [int(station) if station >= 0 else None for station in plan.stop_station]
        self.transfer = [int(transfer) if transfer >= 0 else None for transfer in plan.stop_transfer]
        self.given = plan.general.track
        if self.given is None:
            self.lane = self._lanes_of_a_loop()
            self.platforms = self._platforms_of_a_loop()
        else:
            self.lane = [int(lane) for lane in self.given.stop_lane]
            self.platforms = plan.general.platforms
        self.two_way = self.given is not None and self.given.two_way
        self.way_from = cache(self._way_from)
        self.path = cache(self._path)

    # ---- the loop of ranks ----

    def _lanes_of_a_loop(self) -> list[int]:
        """Each lane ends in a place aboard, which counts with it; what follows the last belongs to the first lane."""
        aboard = [stop for stop in range(self.stops) if self.kind[stop] == "aboard"]
        return [sum(end < stop for end in aboard) % max(len(aboard), 1) for stop in range(self.stops)]

    def _platforms_of_a_loop(self) -> tuple[Platform, ...]:
        platforms = []
        for transfer in range(len(self.plan.transfer_names)):
            aboard = self.transfer.index(transfer)
            following = self.lane[(aboard + 1) % self.stops]
            out_us, home_us = int(self.plan.aboard_us[transfer]), int(self.plan.home_us[transfer])
            ride_us = ((0, out_us), (home_us, 0))
            platforms.append(Platform((aboard,), (self.lane[aboard],), (following,), ride_us))
        return tuple(platforms)

    # ---- ways ----

    def onward(self, stop: int) -> int | None:
        """The stop that follows straight on; None at the track's end."""
        following = (stop + 1) % self.stops if self.given is None else int(self.given.onward[stop])
        return None if following == NO_WAY else following

    def way(self, stop: int, goal: int) -> int | None:
        """The next stop on the way from one stop to another; None if nothing leads there."""
        if self.given is None:
            return (stop + 1) % self.stops
        following = int(self.given.way[stop, goal])
        return None if following == NO_WAY else following

    def way_m(self, stop: int, goal: int) -> float:
        """Length of that way, once round from a stop to itself; infinite if there is none. [m]"""
        if self.given is not None:
            return float(self.given.way_m[stop, goal])
        way_m = float((self.plan.stop_axis_m[goal] - self.plan.stop_axis_m[stop]) % self.plan.loop_m)
        return way_m if stop != goal else float(self.plan.loop_m)

    def first_of_lane(self, lane: int) -> int:
        """The first stop of a lane in travel."""
        return next(stop for stop in range(self.stops) if self.lane[stop] == lane and self.kind[stop] != "aboard")

    def _way_from(self, start: int, goal: int, first: int | None) -> tuple[int, ...]:
        """The stops on the way from one stop to another, the goal last; `first` if it must begin so; () without way."""
        stops: list[int] = []
        stop = start
        if first is not None:
            stops, stop = [first], first
            if first == goal:
                return (first,)
        while not stops or stop != goal:
            following = self.way(stop, goal)
            if following is None or len(stops) > self.stops:
                return ()
            stops.append(following)
            stop = following
        return tuple(stops)

    def distance_m(self, start: int, goal: int, first: int | None) -> float:
        """Length of the way, from the stop with which it must begin where there is one. [m]"""
        if first is None:
            return self.way_m(start, goal)
        return 0.0 if first == goal else self.way_m(first, goal)

    def _path(self, start: int, goal: int, first: int | None) -> tuple[tuple[int, ...], bool]:
        """The way to a goal and beyond it straight on; and whether it comes back to the stop where it starts, which is
        no part of it. It ends where the track ends or where it comes to a stop that it has passed."""
        stops = list(self.way_from(start, goal, first))
        if not stops:
            return (), False
        if start in stops[:-1]:
            return tuple(stops[: stops.index(start)]), True
        against = self.two_way and (stops[0] < start)
        while stops[-1] != start:
            following = self.onward(stops[-1]) if not against else stops[-1] - 1
            if following is None or following < 0 or following in stops:
                return tuple(stops), False
            stops.append(following)
        return tuple(stops[:-1]), True

    def runs_against(self, start: int, goal: int) -> bool:
        """Whether the leg from one stop to another runs against its lane's stated direction."""
        if self.given is None or self.given.against is None:
            return False
        return bool(self.given.against[start, goal])

    # ---- legs ----

    def has_leg(self, leg: Leg) -> bool:
        """Whether the plan has a leg."""
        try:
            return self.move_us(leg) != NO_LEG
        except KeyError:
            return False

    def move_us(self, leg: Leg) -> int:
        """Duration of a leg. [µs] Raises KeyError where there is none."""
        start, goal, load = leg
        if self.given is None:
            return self.plan.move_time_us(load, start, goal)
        time_us = int(self.given.leg_us[self._number(leg)])
        if time_us == NO_LEG:
            raise KeyError(f"no leg from stop {start} to stop {goal} for load class {load}")
        return time_us

    def rear_us(self, leg: Leg) -> int:
        """From departure from a place aboard until the rear has left the platform. [µs]"""
        start, goal, load = leg
        if self.given is None:
            return self.plan.rear_time_us(load, start, goal)
        return int(self.given.rear_us[self._number(leg)])

    def delay_us(self, leader: Leg, follower: Leg) -> int | None:
        """δ; None where the leader's leg gives no bound. [µs]"""
        if self.runs_against(leader[0], leader[1]) != self.runs_against(follower[0], follower[1]):
            return None
        if self.given is None:
            return self.plan.delay(leader, follower)
        delay_us = int(self.plan.delay_us[self._number(leader), self._number(follower)])
        return None if delay_us == NO_BOUND else delay_us

    def differs_us(self, under_way: Leg, longer: Leg) -> float:
        """From departure until the longer leg's profile first differs; infinite below if they begin apart. [µs]"""
        differs = self.plan.general.differs_us
        assert differs is not None
        time_us = int(differs[self._number(under_way), self._number(longer)])
        return -math.inf if time_us == NO_BOUND else time_us

    def _number(self, leg: Leg) -> int:
        """2 leg + load class, as the plan's arrays of legs are laid."""
        start, goal, load = leg
        if self.given is None:
            number = int(self.plan.leg[start, self.plan.ahead(start, goal) - 1])
        else:
            number = int(self.given.leg[start, goal])
        if number == NO_LEG:
            raise KeyError(f"no leg from stop {start} to stop {goal}")
        return 2 * number + load
