"""Which stops a carrier may reserve, asked of the rule core once for each place of its leader.

The rules themselves stand in `linewright.traffic.rules` alone: here they are put to a track on which one other carrier
rests, at every place in turn.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from linewright.traffic.general import NO_WAY, Platform, Track
from linewright.traffic.plan import ABOARD, Ints, TrafficPlan
from linewright.traffic.rules import NO_STOP, NOBODY, STOP_LANE, STOP_STEP, STOP_TRANSFER, heading, look_ahead
from linewright.traffic.track import platforms_of, track_of

OWN: Final = 0
OTHER: Final = 1
STRAIGHT_ON: Final = NO_STOP


class Option(NamedTuple):
    """A stop that a carrier may reserve.

    Parameters
    ----------
    target : rank of the stop
    need : the stops that must be free for it (bits)
    """

    target: int
    need: int


class Asking(NamedTuple):
    """What a carrier's reservations depend on, other carriers apart.

    Parameters
    ----------
    stop : where it rests
    step : its next step
    onto : aboard a transfer that gives to several lanes the first stop of the chosen one, else NO_STOP
    head : where it heads, STRAIGHT_ON where ways do not fork
    closed : stretches that do not admit it (bits)
    away : the next transfer cannot be boarded although a place aboard may be free
    barred : stops kept for carriers to be put in (bits)
    """

    stop: int
    step: int
    onto: int
    head: int
    closed: int = 0
    away: bool = False
    barred: int = 0


@dataclass(frozen=True, eq=False)
class Reservations:
    """The reservations of a plan's carriers, reckoned when they are first asked for.

    Parameters
    ----------
    plan : the plan
    """

    plan: TrafficPlan
    _options: dict[Asking, tuple[Option, ...]] = field(default_factory=dict)
    _first: dict[Asking, Option | None] = field(default_factory=dict)
    _walks: dict[tuple[int, int, int], tuple[int, ...]] = field(default_factory=dict)
    _heads: dict[tuple[int, int, int], tuple[int, ...]] = field(default_factory=dict)

    def with_rules_of(self, plan: TrafficPlan) -> Reservations:
        """Those of a plan that differs in its admission alone; what does not depend on that is known already."""
        return Reservations(
            plan,
            {asking: found for asking, found in self._options.items() if not asking.closed},
            {asking: found for asking, found in self._first.items() if not asking.closed},
            self._walks,
            self._heads,
        )

    @cached_property
    def track(self) -> Track:
        """The track."""
        return track_of(self.plan)

    @cached_property
    def platforms(self) -> tuple[Platform, ...]:
        """The transfers."""
        return platforms_of(self.plan)

    @cached_property
    def forks(self) -> bool:
        """Whether ways fork or merge, so that carriers head for a station instead of straight on."""
        count, track = self.plan.stops, self.track
        after: list[set[int]] = [
            set(np.unique(row[row != NO_WAY]).tolist()) | ({int(on)} - {NO_WAY})
            for row, on in zip(track.way, track.onward, strict=True)
        ]
        before = [sum(stop in one for one in after) for stop in range(count)]
        return track.two_way or any(len(one) > 1 for one in after) or any(number != 1 for number in before)

    @cached_property
    def stretches(self) -> list[int]:
        """The stretches of each stop (bits)."""
        found = [0] * self.plan.stops
        for bit, stretch in enumerate(self.plan.general.admission):
            for stop in stretch.stops:
                found[stop] |= 1 << bit
        return found

    @cached_property
    def _table(self) -> Ints:
        plan, track = self.plan, self.track
        steps = np.append(plan.station_step, -1)
        columns = (
            plan.stop_kind, steps[plan.stop_station], track.stop_lane, track.onward, plan.stop_transfer, self.stretches,
        )  # fmt: skip
        return _Rows([list(row) for row in np.column_stack(columns).tolist()])  # type: ignore[return-value]

    @cached_property
    def _way(self) -> Ints:
        return _Rows(self.track.way.tolist())  # type: ignore[return-value]

    @cached_property
    def _way_m(self) -> Ints:
        return _Rows(self.track.way_m.tolist())  # type: ignore[return-value]

    @cached_property
    def step_stops(self) -> tuple[tuple[int, ...], ...]:
        """The stops of the stations of each step."""
        return tuple(tuple(int(self.plan.station_stop[k]) for k in stations) for stations in self.plan.step_stations)

    def heads(self, stop: int, step: int, onto: int) -> tuple[int, ...]:
        """Where a carrier heads, in the order of preference: the first of these stations that is free, else the last
        entry, which is the nearest; (STRAIGHT_ON,) where ways do not fork; () where no way leads to any."""
        if not self.forks:
            return (STRAIGHT_ON,)
        key = stop, step, onto
        if key not in self._heads:
            self._heads[key] = self._find_heads(stop, step, onto)
        return self._heads[key]

    def _find_heads(self, stop: int, step: int, onto: int) -> tuple[int, ...]:
        goals = list(self.step_stops[step])
        occupant = [NOBODY] * self.plan.stops
        order: list[int] = []
        while True:
            head = heading(stop, onto, OWN, 0, len(goals), goals, self._way_m, occupant)  # type: ignore[arg-type]
            if head == NO_STOP:
                return ()
            if head in order or head == stop:
                break
            order.append(head)
            occupant[head] = OTHER
        for goal in goals:
            occupant[goal] = OTHER
        nearest = heading(stop, onto, OWN, 0, len(goals), goals, self._way_m, occupant)  # type: ignore[arg-type]
        return (*order, nearest)

    def first(self, stop: int, onto: int, head: int) -> int:
        """The stop that comes next on a way; NO_STOP for none."""
        if onto != NO_STOP:
            return onto
        return int(self.track.onward[stop]) if head == STRAIGHT_ON else int(self.track.way[stop, head])

    def walk(self, stop: int, onto: int, head: int) -> tuple[int, ...]:
        """The stops that a carrier passes on its way and beyond, up to and without its own or the first that it has
        passed already."""
        key = stop, onto, head
        if key not in self._walks:
            way, passed = [], set()
            before, here = stop, self.first(stop, onto, head)
            past = head == STRAIGHT_ON
            while here not in (NO_STOP, stop) and here not in passed:
                way.append(here)
                passed.add(here)
                past = past or here == head
                after = int(self.track.onward[here]) if past else int(self.track.way[here, head])
                if past and self.track.two_way and before > here:
                    after = here - 1
                before, here = here, after
            self._walks[key] = tuple(way)
        return self._walks[key]

    def options(self, asking: Asking) -> tuple[Option, ...]:
        """All stops that a carrier may reserve, nearest leader first; the last whose need is met is what the program
        itself takes."""
        if asking not in self._options:
            self._options[asking] = self._find(asking, only_first=False)
        return self._options[asking]

    def first_option(self, asking: Asking) -> Option | None:
        """The option that needs the fewest free stops; None where there is none at all."""
        if asking not in self._first:
            found = self._find(asking, only_first=True)
            self._first[asking] = found[0] if found else None
        return self._first[asking]

    def _find(self, asking: Asking, only_first: bool) -> tuple[Option, ...]:
        farthest = self._target(asking, NO_STOP)
        found: list[Option] = []
        need, last = 0, NO_STOP
        for leader in (*self.walk(asking.stop, asking.onto, asking.head), NO_STOP):
            target = self._target(asking, leader)
            if target not in (NO_STOP, last):
                found.append(Option(target, need))
                last = target
            if last == farthest or (only_first and found):
                break
            need |= 1 << leader
        return tuple(found)

    def _target(self, asking: Asking, leader: int) -> int:
        """What the rule core lets a carrier reserve if its leader rests at a stop, or nobody does."""
        stop, step, onto, head, closed, away, kept = asking
        first = self.first(stop, onto, head)
        if first == NO_STOP:
            return NO_STOP
        occupant, count = [NOBODY] * self.plan.stops, self.plan.stops
        if leader != NO_STOP:
            occupant[leader] = OTHER
        table = self._table
        here, lane = first, table[stop, STOP_LANE]
        while table[here, STOP_TRANSFER] >= 0 and table[stop, STOP_TRANSFER] >= 0:
            if table[here, STOP_TRANSFER] != table[stop, STOP_TRANSFER]:
                break
            here = table[here, 3]
        if table[stop, STOP_TRANSFER] >= 0:
            lane = table[here, STOP_LANE]
        boardable = [NOBODY if away else lane] * max(len(self.platforms), 1)
        target, _, _ = look_ahead(
            stop, first, OWN, head, step, self.track.two_way, closed, table, self._way, occupant,  # type: ignore[arg-type]
            [kept >> one & 1 for one in range(count)] if kept else [0] * count, boardable, [0] * count, 1,  # type: ignore[arg-type]
        )  # fmt: skip
        return int(target)

    def next_transfer(self, stop: int, onto: int, head: int) -> int:
        """The first transfer ahead of a carrier, -1 for none; its own does not count."""
        own = int(self.plan.stop_transfer[stop])
        for here in self.walk(stop, onto, head):
            transfer = int(self.plan.stop_transfer[here])
            if transfer >= 0 and transfer != own:
                return transfer
        return -1

    def lane(self, stop: int) -> int:
        """The lane of a stop; a place aboard is on none: -1."""
        return -1 if self.is_aboard(stop) else int(self.track.stop_lane[stop])

    def is_aboard(self, stop: int) -> bool:
        """Whether a stop is a place aboard."""
        return bool(self.plan.stop_kind[stop] == ABOARD)

    def step_at(self, stop: int) -> int:
        """The step of the station at a stop, -1 for none."""
        return int(self._table[stop, STOP_STEP])


class _Rows:
    """A table of two dimensions as lists: the rule core reads single entries, which arrays give slowly."""

    def __init__(self, rows: list[list[int]]) -> None:
        self.rows = rows

    def __getitem__(self, at: tuple[int, int]) -> int:
        return self.rows[at[0]][at[1]]
