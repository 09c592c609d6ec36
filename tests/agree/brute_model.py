"""The states and transitions of a small traffic plan, with time forgotten; see `agree.brute_gridlock`.

Written from the section "Gridlock" of docs/semantics.md and what it refers to, apart from the prover.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple, TypeVar

from agree.brute_product import Errand, Product, fixture_sets_of
from agree.reference_track import Track
from linewright.traffic.plan import TrafficPlan

T = TypeVar("T")
NOBODY: Final = -1


class State(NamedTuple):
    """One state of a line.

    stops : the errand of the carrier on each stop, None for nobody
    lanes : of each transfer that gives to several lanes the stop by which the one aboard leaves, -1 before unlocking
    unlocked : of each transfer with several places whether it has unlocked with those aboard
    against : a two-way lane's direction is against the stated one
    place : with run-out that of the next load in the sequence, else -1
    come : how many of the changes of carriers have come; left : carriers still to be taken out or put in by each
    """

    stops: tuple[Errand | None, ...]
    lanes: tuple[int, ...]
    unlocked: tuple[bool, ...]
    against: bool
    place: int
    come: int
    left: tuple[int, ...]


class Change(NamedTuple):
    """One transition: what happens, the stop from which a carrier goes (-1: none does), the one it concerns, and the
    state after it."""

    what: str
    start: int
    stop: int
    after: State


class Model:
    """The states and transitions of a plan."""

    def __init__(self, plan: TrafficPlan) -> None:
        self.plan, self.track, self.product = plan, Track(plan), Product(plan)
        self.platforms = self.track.platforms
        self.stretches = [frozenset(one.stops) for one in plan.general.admission]
        self.step_stops = [[int(plan.station_stop[k]) for k in step] for step in plan.step_stations]
        self._known: dict[tuple[object, ...], list[int]] = {}

    def changes(self, state: State) -> Iterator[Change]:
        """Every transition of a state."""
        for stop in occupied(state):
            yield from self._works(state, stop)
            yield from self._reservations(state, stop)
        yield from self._unlocks(state)
        yield from self._carrier_changes(state)

    # ---- reservations ----

    def _reservations(self, state: State, stop: int) -> Iterator[Change]:
        if not self._is_ready(state, stop):
            return
        for target in self._targets(state, stop):
            against = target < stop if self.track.two_way else False
            if against != state.against and any(
                self._holds_direction(state, other) for other in occupied(state) if other != stop
            ):
                continue
            yield Change("moves", stop, target, self._moved(state, stop, target)._replace(against=against))

    def _is_ready(self, state: State, stop: int) -> bool:
        """At a station of its step it has been worked on; aboard the platform has unlocked with it."""
        errand, transfer = state.stops[stop], self.track.transfer[stop]
        assert errand is not None
        if transfer is None:
            return errand.worked or stop not in self.step_stops[errand.step]
        if len(self.platforms[transfer].gives) > 1:
            return state.lanes[transfer] >= 0
        return len(self.platforms[transfer].aboard) == 1 or state.unlocked[transfer]

    def _holds_direction(self, state: State, stop: int) -> bool:
        if not self._is_ready(state, stop):
            return True
        path = self.path(state, stop)
        return not path or (path[0] < stop) == state.against

    def path(self, state: State, stop: int) -> tuple[int, ...]:
        """Its way to where it heads and straight on beyond."""
        errand = state.stops[stop]
        assert errand is not None
        first = self._first(state, stop)
        near = [
            (round(self.track.distance_m(stop, goal, first), 9), goal)
            for goal in self.step_stops[errand.step]
            if self.track.way_from(stop, goal, first)
        ]
        if not near:
            return ()
        free = [way for way in near if state.stops[way[1]] is None]
        return self.track.path(stop, min(free or near)[1], first)[0]

    def _first(self, state: State, stop: int) -> int | None:
        """The stop with which its way must begin: aboard, after unlocking, the first of the lane chosen."""
        transfer = self.track.transfer[stop]
        return None if transfer is None or state.lanes[transfer] < 0 else state.lanes[transfer]

    def _targets(self, state: State, stop: int) -> list[int]:
        """The stops that it may take: the one that it would reserve, the platform ahead being at its dock or not; with
        going on or admission also those that it would with somebody on its way nearer than its leader."""
        errand = state.stops[stop]
        assert errand is not None
        full = tuple(self._is_full(state, number) for number in range(len(self.stretches)))
        kept = frozenset(self._kept(state))
        where = tuple(errand is not None for errand in state.stops)
        key = (stop, errand.step, where, full, kept, state.lanes, state.unlocked)
        if key not in self._known:
            walk: list[int] = []
            for onward in self.path(state, stop):
                if state.stops[onward] is not None or self._is_barred(stop, onward, full):
                    break
                walk.append(onward)
            least = 0 if self.plan.general.going_on or self.stretches else len(walk)
            found = (
                self._reserves(state, stop, walk[:met], kept, is_away)
                for met in range(least, len(walk) + 1)
                for is_away in (False, True)
            )
            self._known[key] = sorted({target for target in found if target is not None})
        return self._known[key]

    def _is_full(self, state: State, number: int) -> bool:
        there = sum(state.stops[stop] is not None for stop in self.stretches[number])
        return there >= self.plan.general.admission[number].most

    def _is_barred(self, stop: int, onward: int, full: tuple[bool, ...]) -> bool:
        """Whether a full stretch on which it is not ends its way before a stop."""
        return any(
            is_full and onward in stops and stop not in stops
            for is_full, stops in zip(full, self.stretches, strict=True)
        )

    def _reserves(self, state: State, stop: int, walk: list[int], kept: frozenset[int], is_away: bool) -> int | None:
        """The stop that it reserves when its walk ends there; None if it stays.

        Where the platform is away the place aboard cannot be reserved. Where its goal lies beyond that place and
        another station of its step before, it passes that one and waits at the dock.
        """
        errand = state.stops[stop]
        assert errand is not None
        met = [n for n, onward in enumerate(walk) if onward in self.step_stops[errand.step]]
        goals = [n for n in met if walk[n] not in kept]
        boards = self._boards(stop, walk)
        if goals and goals[-1] < boards:
            return walk[goals[-1]]
        # Its goal lies beyond the place aboard, or it has none: then it goes no farther than before its stations.
        limit = boards if goals else min([boards, *met])
        if limit == boards < len(walk) and not is_away:
            place = self._place(state, stop, walk, boards)
            if place is not None:
                return place
        may_rest = [
            onward
            for n, onward in enumerate(walk[:limit])
            if self.track.kind[onward] in ("waiting", "dock") or n in goals
        ]
        return may_rest[-1] if may_rest else None

    def _boards(self, stop: int, walk: list[int]) -> int:
        """Where on its walk the first place aboard is; those beside its own are passed by."""
        own = self.track.transfer[stop]
        for n, onward in enumerate(walk):
            transfer = self.track.transfer[onward]
            if transfer is not None and transfer != own:
                return n
            own = own if transfer is not None else None
        return len(walk)

    def _place(self, state: State, stop: int, walk: list[int], boards: int) -> int | None:
        """The farthest place aboard that it can reserve on its walk."""
        transfer = self.track.transfer[walk[boards]]
        assert transfer is not None
        if state.unlocked[transfer] or self.track.transfer[stop] == transfer:
            return None
        found = None
        for n in range(boards, len(walk)):
            if self.track.transfer[walk[n]] != transfer:
                break
            is_shortest = tuple(walk[: n + 1]) == self.track.way_from(stop, walk[n], None)
            if self.track.transfer[stop] is None or is_shortest:
                found = walk[n]
        return found

    def _moved(self, state: State, stop: int, target: int) -> State:
        """A carrier has left a stop for another; what its platform had chosen for it is forgotten."""
        errand = state.stops[stop]
        assert errand is not None
        stops = list(state.stops)
        stops[stop], stops[target] = None, errand._replace(worked=False)
        lanes, unlocked = list(state.lanes), list(state.unlocked)
        transfer = self.track.transfer[stop]
        if transfer is not None:
            lanes[transfer] = -1
            unlocked[transfer] &= any(stops[place] is not None for place in self.platforms[transfer].aboard)
        return state._replace(stops=tuple(stops), lanes=tuple(lanes), unlocked=tuple(unlocked))

    # ---- work ----

    def _works(self, state: State, stop: int) -> Iterator[Change]:
        errand, station = state.stops[stop], self.track.station[stop]
        assert errand is not None
        if station is None or errand.worked or stop not in self.step_stops[errand.step]:
            return
        if errand.is_empty and self.product.run_out:
            if self._has_run_out(state):
                variant = self.product.loaded_at(state.place)
                loaded = with_errand(state, stop, errand._replace(variant=variant, unflagged=True))
                place = (state.place + 1) % self.product.places
                yield Change("takes its load", NOBODY, stop, loaded._replace(place=place))
            return
        for after in self.product.after_any_work(errand, station):
            yield Change("work ends", NOBODY, stop, with_errand(state, stop, after))

    def _has_run_out(self, state: State) -> bool:
        """No part of another variant than that of the next load is aboard any carrier."""
        variant = self.product.loaded_at(state.place)
        return all(one is None or one.is_empty or one.variant == variant for one in state.stops)

    # ---- platforms ----

    def _unlocks(self, state: State) -> Iterator[Change]:
        for transfer, platform in enumerate(self.platforms):
            aboard = [place for place in platform.aboard if state.stops[place] is not None]
            if not aboard:
                continue
            if len(platform.gives) > 1 and state.lanes[transfer] < 0:
                following = [stop for stop in self.path(state, aboard[0]) if self.track.transfer[stop] is None]
                if following:
                    lanes = at_place(state.lanes, transfer, following[0])
                    yield Change("unlocks", NOBODY, aboard[0], state._replace(lanes=lanes))
            if len(platform.aboard) > 1 and not state.unlocked[transfer]:
                yield Change(
                    "unlocks", NOBODY, aboard[0], state._replace(unlocked=at_place(state.unlocked, transfer, True))
                )

    # ---- carriers taken out and put in ----

    def _kept(self, state: State) -> list[int]:
        """The stops kept for carriers to be put in."""
        changes = self.plan.general.carrier_changes[: state.come]
        return [
            int(self.plan.station_stop[one.station])
            for number, one in enumerate(changes)
            if one.count > 0 and state.left[number] > 0
        ]

    def _carrier_changes(self, state: State) -> Iterator[Change]:
        changes = self.plan.general.carrier_changes
        if state.come < len(changes):
            yield Change("comes", NOBODY, state.come, state._replace(come=state.come + 1))
        for number, one in enumerate(changes[: state.come]):
            if not state.left[number]:
                continue
            stop = int(self.plan.station_stop[one.station])
            errand = state.stops[stop]
            left = at_place(state.left, number, state.left[number] - 1)
            if one.count > 0 and errand is None:
                new = Errand(fixtures=self._fixtures_of(state.left))
                yield Change("put in", NOBODY, stop, with_errand(state, stop, new)._replace(left=left))
            if one.count < 0 and errand is not None and errand.is_empty and not self._is_ready(state, stop):
                yield Change("taken out", stop, stop, with_errand(state, stop, None)._replace(left=left))

    def _fixtures_of(self, left: tuple[int, ...]) -> int:
        """The fixture set of the next carrier put in."""
        changes = self.plan.general.carrier_changes
        put_in = sum(one.count - left[number] for number, one in enumerate(changes) if one.count > 0)
        return fixture_sets_of(self.plan, self.plan.carriers + put_in + 1)[-1]


def with_errand(state: State, stop: int, errand: Errand | None) -> State:
    """The state with a carrier of that errand, or nobody, on a stop."""
    return state._replace(stops=at_place(state.stops, stop, errand))


def at_place(row: tuple[T, ...], place: int, value: T) -> tuple[T, ...]:
    """The row with another value at a place."""
    return (*row[:place], value, *row[place + 1 :])


def occupied(state: State) -> list[int]:
    """The stops on which carriers stand."""
    return [stop for stop, errand in enumerate(state.stops) if errand is not None]
