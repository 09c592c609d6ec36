"""The traffic of a line without its times: who stands where with what errand, and what may happen next.

The abstraction of docs/semantics.md, "Gridlock". Carriers have no numbers here: a state says what stands on each stop.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple

from linewright.traffic.general import deal
from linewright.traffic.gridlock.errands import Errands
from linewright.traffic.gridlock.reservations import STRAIGHT_ON, Asking, Option, Reservations
from linewright.traffic.gridlock.ring import Post
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.rules import NO_STOP

Kind = Literal["moves", "loads", "work ends", "unlocks", "change comes", "taken out", "put in"]

ALONG = 0
AGAINST = 1


class State(NamedTuple):
    """A state of the line.

    Parameters
    ----------
    posts : for each stop the number of the post there, -1 for nobody
    direction : of a two-way lane
    place : with run-out the place of the next load in the sequence, else -1
    away : transfers of several places that have unlocked with those aboard (bits)
    come : how many of the changes of carriers have come
    left : of each change the carriers still to be taken out or put in
    """

    posts: tuple[int, ...]
    direction: int = ALONG
    place: int = -1
    away: int = 0
    come: int = 0
    left: tuple[int, ...] = ()


class Happening(NamedTuple):
    """What leads from a state to the next.

    Parameters
    ----------
    kind : what happens
    start, stop : ranks of the stop left and the stop reached, the same where nobody moves; -1 outside the line
    post : the number of the post afterwards, -1 for none
    """

    kind: Kind
    start: int
    stop: int
    post: int


@dataclass(frozen=True, eq=False)
class System:
    """All that can happen to a plan.

    Parameters
    ----------
    errands, reservations : of the plan
    """

    errands: Errands
    reservations: Reservations
    _numbers: dict[Post, int] = field(default_factory=dict)
    _posts: list[Post] = field(default_factory=list)
    _asked: dict[tuple[int, int], tuple[Asking, tuple[int, ...]]] = field(default_factory=dict)

    @property
    def plan(self) -> TrafficPlan:
        """The plan."""
        return self.errands.plan

    def number(self, post: Post) -> int:
        """The number of a post."""
        if post not in self._numbers:
            self._numbers[post] = len(self._posts)
            self._posts.append(post)
        return self._numbers[post]

    def post(self, number: int) -> Post:
        """The post with a number."""
        return self._posts[number]

    @cached_property
    def _chooses(self) -> tuple[bool, ...]:
        """The stops aboard transfers that give to several lanes."""
        transfer = self.plan.stop_transfer.tolist()
        return tuple(one >= 0 and len(self.reservations.platforms[one].gives) > 1 for one in transfer)

    @cached_property
    def _wide(self) -> tuple[int, ...]:
        """The transfers with several places."""
        return tuple(t for t, one in enumerate(self.reservations.platforms) if len(one.aboard) > 1)

    @cached_property
    def _station(self) -> tuple[int, ...]:
        return tuple(self.plan.stop_station.tolist())

    @cached_property
    def _step_at(self) -> tuple[int, ...]:
        steps = self.plan.station_step
        return tuple(int(steps[k]) if k >= 0 else -1 for k in self._station)

    def start(self, place: int = 0) -> State:
        """The planned start; with run-out the sequence begins at some place."""
        plan = self.plan
        posts = [-1] * plan.stops
        sets = self.sets_of_carriers
        for carrier, stop in enumerate(plan.first_stops.tolist()):
            posts[stop] = self.number(Post(self.errands.empty(sets[carrier])))
        changes = tuple(abs(one.count) for one in plan.general.carrier_changes)
        return State(tuple(posts), place=place if self.errands.sequence else -1, left=changes)

    def starts(self) -> list[State]:
        """The planned start with every place of the sequence at which it can begin."""
        return [self.start(place) for place in range(max(len(self.errands.sequence), 1))]

    @cached_property
    def sets_of_carriers(self) -> tuple[int, ...]:
        """The fixture set of each carrier, 0 where sets make no difference."""
        sets = self.plan.general.fixture_sets
        count = self.plan.carriers + sum(max(one.count, 0) for one in self.plan.general.carrier_changes)
        if len(self.errands.sets) < 2:
            return (0,) * count
        return deal(tuple(one.carriers for one in sets))

    # ---- what may happen ---------------------------------------------------------------------------------------------

    def happenings(self, state: State) -> Iterator[tuple[Happening, State]]:
        """Everything that may happen next, and the state that it leads to."""
        occupied = _mask(state.posts)
        for stop, number in enumerate(state.posts):
            if number < 0:
                continue
            if self.is_in_work(stop, number):
                if self.must_load(stop, number):
                    yield from self.loads(state, stop)
                else:
                    yield from self.ends_of_work(state, stop)
            elif self.must_unlock(state, stop):
                yield self.unlocked(state, stop)
            elif self.may_leave(state, stop):
                for target in self._targets(state, stop, occupied):
                    yield self.moved(state, stop, target)
        yield from self.of_platforms(state)
        yield from self.changes(state, occupied)

    def is_in_work(self, stop: int, number: int) -> bool:
        """Whether who stands there so is at a station of its next step and not yet worked on."""
        post = self._posts[number]
        return self._step_at[stop] >= 0 and self._step_at[stop] == post.errand.step and not post.worked

    def must_unlock(self, state: State, stop: int) -> bool:
        """Aboard a transfer that gives to several lanes: whether the lane is still to be chosen."""
        return self._chooses[stop] and self._posts[state.posts[stop]].onto == NO_STOP

    def occupied(self, state: State) -> int:
        """The stops on which somebody stands (bits)."""
        return _mask(state.posts)

    def may_leave(self, state: State, stop: int) -> bool:
        """Aboard a transfer with several places: whether the platform has unlocked with it."""
        transfer = int(self.plan.stop_transfer[stop])
        return transfer not in self._wide or bool(state.away >> transfer & 1)

    def _targets(self, state: State, stop: int, occupied: int) -> list[int]:
        """The stops that a ready carrier may reserve, sooner or later."""
        found = [one.target for one in self.options(state, stop, occupied)]
        if not found or self._any_length:
            return found
        targets = found[-1:]
        if self.reservations.is_aboard(found[-1]):
            asking = self.asking(state, stop, occupied)._replace(away=True)
            short = [one.target for one in self.reservations.options(asking) if not one.need & occupied]
            targets += [target for target in short[-1:] if target != found[-1]]
        return targets

    @cached_property
    def _any_length(self) -> bool:
        return self.plan.general.going_on or bool(self.plan.general.admission)

    def options(self, state: State, stop: int, occupied: int) -> list[Option]:
        """The stops that a ready carrier may reserve, nearest leader first; the last is what the program takes."""
        if not self._usual(stop, state.posts[stop])[1]:
            return []  # no way leads to any station of its next step
        options = self.reservations.options(self.asking(state, stop, occupied))
        found = [one for one in options if not one.need & occupied]
        if found and self.reservations.track.two_way:
            return [one for one in found if self._may_turn(state, stop, one.target, occupied)]
        if found and self._gates_still_lanes:
            return [one for one in found if not self._is_still(state, stop, one.target)]
        return found

    @cached_property
    def _gates_still_lanes(self) -> bool:
        """Whether a carrier at the gate of run-out may keep a lane that moves together from moving."""
        return bool(self.errands.sequence and self.plan.general.together)

    def _is_still(self, state: State, stop: int, target: int) -> bool:
        """Whether a move leaves or comes to a lane that moves together and on which somebody waits at the gate."""
        moves_on = self.lanes_of_move(stop, target)
        return any(self.reservations.lane(gate) in moves_on for gate in self.gated(state))

    def gated(self, state: State) -> list[int]:
        """Stops of lanes that move together at which somebody waits at the gate of run-out and may not pass."""
        together = self.plan.general.together
        return [
            stop
            for stop, number in enumerate(state.posts)
            if number >= 0 and self.reservations.lane(stop) in together and self.is_held_at_gate(state, stop)
        ]

    def still_lanes(self, state: State) -> frozenset[int]:
        """Lanes that move together and on which somebody does not wait to go on."""
        lanes = self.reservations.track.stop_lane
        return frozenset(
            int(lanes[stop])
            for stop, number in enumerate(state.posts)
            if number >= 0 and int(lanes[stop]) in self.plan.general.together and self.is_in_work(stop, number)
        )

    def lanes_of_move(self, stop: int, target: int) -> frozenset[int]:
        """The lanes that a move leaves and comes to; a place aboard is on none."""
        lanes = self.reservations.track.stop_lane
        return frozenset(int(lanes[one]) for one in (stop, target) if not self.reservations.is_aboard(one))

    def gives_way(self, state: State, stop: int, target: int, occupied: int) -> bool:
        """Whether somebody at a dock of higher priority is to board the same platform first."""
        transfer = int(self.plan.stop_transfer[target])
        if transfer < 0 or len(self.reservations.platforms[transfer].takes) < 2:
            return False
        takes, lanes = self.reservations.platforms[transfer].takes, self.reservations.track.stop_lane
        own = takes.index(int(lanes[stop])) if int(lanes[stop]) in takes else 0
        for other, number in enumerate(state.posts):
            lane = int(lanes[other])
            if number < 0 or lane not in takes[:own] or self.plan.stop_transfer[other] >= 0:
                continue
            if not self.is_in_work(other, number):
                options = self.options(state, other, occupied)
                if options and options[-1].target == target:
                    return True
        return False

    def asking(self, state: State, stop: int, occupied: int) -> Asking:
        """What a carrier's reservations depend on now."""
        number = state.posts[stop]
        usual, heads = self._usual(stop, number)
        if self._is_simple and len(heads) < 2:
            return usual
        head = usual.head
        if len(heads) > 1:
            head = next((one for one in heads[:-1] if not occupied >> one & 1), heads[-1])
        away = False
        if self._wide:
            transfer = self.reservations.next_transfer(stop, usual.onto, head)
            away = transfer >= 0 and bool(state.away >> transfer & 1)
        closed = self.closed(state, stop) if self.plan.general.admission else 0
        return Asking(stop, usual.step, usual.onto, head, closed, away, self._barred(state))

    def _usual(self, stop: int, number: int) -> tuple[Asking, tuple[int, ...]]:
        """What a carrier asks where nothing else has a say, and where it heads by preference."""
        key = stop, number
        if key not in self._asked:
            errand, onto, _ = self._posts[number]
            heads = self.reservations.heads(stop, errand.step, onto)
            self._asked[key] = Asking(stop, errand.step, onto, heads[0] if heads else STRAIGHT_ON), heads
        return self._asked[key]

    @cached_property
    def _is_simple(self) -> bool:
        return not (self._wide or self.plan.general.admission or self.plan.general.carrier_changes)

    def _barred(self, state: State) -> int:
        """The stops kept for carriers that are to be put in (bits)."""
        found = 0
        for number, change in enumerate(self.plan.general.carrier_changes[: state.come]):
            if change.count > 0 and state.left[number] > 0:
                found |= 1 << int(self.plan.station_stop[change.station])
        return found

    def closed(self, state: State, stop: int) -> int:
        """The stretches that do not admit a carrier that stands at a stop (bits)."""
        found = 0
        for number, stretch in enumerate(self.plan.general.admission):
            if not self.reservations.stretches[stop] >> number & 1:
                here = sum(state.posts[one] >= 0 for one in stretch.stops)
                found |= (here >= stretch.most) << number
        return found

    def _may_turn(self, state: State, stop: int, target: int, occupied: int) -> bool:
        direction = AGAINST if target < stop else ALONG
        return direction == state.direction or not any(
            other != stop and number >= 0 and self.holds_direction(state, other, occupied)
            for other, number in enumerate(state.posts)
        )

    def holds_direction(self, state: State, stop: int, occupied: int) -> bool:
        """Whether a carrier holds the direction of a two-way lane."""
        if self.is_in_work(stop, state.posts[stop]):
            return True
        asking = self.asking(state, stop, occupied)
        first = NO_STOP
        if self.reservations.heads(stop, asking.step, asking.onto):
            first = self.reservations.first(stop, asking.onto, asking.head)
        return first == NO_STOP or (AGAINST if first < stop else ALONG) == state.direction

    def moved(self, state: State, stop: int, target: int) -> tuple[Happening, State]:
        """A carrier reserves a stop and stands there."""
        number = state.posts[stop]
        post = self._posts[number]
        if post.onto != NO_STOP or post.worked:
            number = self.number(Post(post.errand))
        posts = list(state.posts)
        posts[stop], posts[target] = -1, number
        direction = state.direction
        if self.reservations.track.two_way:
            direction = AGAINST if target < stop else ALONG
        away, left = state.away, int(self.plan.stop_transfer[stop])
        if left in self._wide and all(posts[one] < 0 for one in self.reservations.platforms[left].aboard):
            away &= ~(1 << left)
        after = state._replace(posts=tuple(posts), direction=direction, away=away)
        return Happening("moves", stop, target, number), after

    def must_load(self, stop: int, number: int) -> bool:
        """With run-out: whether a carrier is still to pass its gate and take the next load, before its first work."""
        return bool(self.errands.sequence) and self._posts[number].errand.is_empty and self.is_in_work(stop, number)

    def is_held_at_gate(self, state: State, stop: int) -> bool:
        """Whether a carrier waits at the gate of run-out."""
        if not self.must_load(stop, state.posts[stop]):
            return False
        variant = self.errands.sequence[state.place]
        return any(self._carries_other(number, variant) for number in state.posts)

    def _carries_other(self, number: int, variant: int) -> bool:
        """Whether who stands so has parts of another variant aboard."""
        return number >= 0 and not self._posts[number].errand.is_empty and self._posts[number].errand.variant != variant

    def loads(self, state: State, stop: int) -> Iterator[tuple[Happening, State]]:
        """With run-out a carrier passes the gate and takes the next load, if it may."""
        if self.is_held_at_gate(state, stop):
            return
        sequence = self.errands.sequence
        errand = self._posts[state.posts[stop]].errand._replace(variant=sequence[state.place], good=True)
        number = self.number(Post(errand))
        posts = (*state.posts[:stop], number, *state.posts[stop + 1 :])
        after = state._replace(posts=posts, place=(state.place + 1) % len(sequence))
        yield Happening("loads", stop, stop, number), after

    def ends_of_work(self, state: State, stop: int) -> Iterator[tuple[Happening, State]]:
        """What may become of a carrier in work that has its load."""
        if self.must_load(stop, state.posts[stop]):
            return
        errand = self._posts[state.posts[stop]].errand
        for after in self.errands.after_work(self._station[stop], errand):
            number = self.number(Post(after, worked=after.step == self._step_at[stop]))
            posts = (*state.posts[:stop], number, *state.posts[stop + 1 :])
            yield Happening("work ends", stop, stop, number), state._replace(posts=posts)

    def unlocked(self, state: State, stop: int) -> tuple[Happening, State]:
        """A platform that gives to several lanes unlocks: the lane is chosen."""
        post = self._posts[state.posts[stop]]
        asking = self.asking(state, stop, _mask(state.posts))
        lane = self.reservations.first(stop, NO_STOP, asking.head)
        number = self.number(Post(post.errand, lane))
        posts = (*state.posts[:stop], number, *state.posts[stop + 1 :])
        return Happening("unlocks", stop, stop, number), state._replace(posts=posts)

    def of_platforms(self, state: State) -> Iterator[tuple[Happening, State]]:
        """Platforms of several places that may unlock with those aboard."""
        for transfer in self._wide:
            aboard = self.reservations.platforms[transfer].aboard
            if not state.away >> transfer & 1 and any(state.posts[one] >= 0 for one in aboard):
                here = next(one for one in aboard if state.posts[one] >= 0)
                after = state._replace(away=state.away | 1 << transfer)
                yield Happening("unlocks", here, here, state.posts[here]), after

    def changes(self, state: State, occupied: int) -> Iterator[tuple[Happening, State]]:
        """Changes of carriers that come, and carriers that are taken out or put in."""
        planned = self.plan.general.carrier_changes
        if state.come < len(planned):
            yield Happening("change comes", -1, -1, -1), state._replace(come=state.come + 1)
        for number in range(state.come):
            if state.left[number] == 0:
                continue
            stop = int(self.plan.station_stop[planned[number].station])
            left = (*state.left[:number], state.left[number] - 1, *state.left[number + 1 :])
            post = state.posts[stop]
            if planned[number].count < 0:
                if post >= 0 and self.is_in_work(stop, post) and self._posts[post].errand.is_empty:
                    posts = (*state.posts[:stop], -1, *state.posts[stop + 1 :])
                    yield Happening("taken out", stop, -1, -1), state._replace(posts=posts, left=left)
            elif not occupied >> stop & 1:
                new = self.number(Post(self.errands.empty(0)))
                posts = (*state.posts[:stop], new, *state.posts[stop + 1 :])
                yield Happening("put in", -1, stop, new), state._replace(posts=posts, left=left)

    # ---- who can never move again ------------------------------------------------------------------------------------

    def stuck(self, state: State) -> frozenset[int]:
        """Stops whose carriers can never move again: they could not even if all others were gone.

        What is in the set is stuck for certain. Where nobody at all can do anything, everybody is.
        """
        stops = {stop for stop, number in enumerate(state.posts) if number >= 0}
        if next(self.happenings(state), None) is None:
            return frozenset(stops)
        state = state._replace(left=(0,) * len(state.left))  # who is to be put in comes in sooner or later
        while stops:
            posts = tuple(number if stop in stops else -1 for stop, number in enumerate(state.posts))
            alone = state._replace(posts=posts, away=self._away_with(state, stops))
            occupied = _mask(posts)
            free = [stop for stop in stops if self._can_do(alone, stop, occupied)]
            if not free:
                break
            stops.difference_update(free)
        return frozenset(stops)

    def is_held(self, state: State, stop: int) -> bool:
        """Whether a carrier can do nothing while the others stay."""
        return not self._can_do(state, stop, _mask(state.posts))

    def _away_with(self, state: State, stops: Iterable[int]) -> int:
        """The platforms that are away, of those that somebody of some stops is aboard (bits)."""
        return state.away & sum(1 << t for t in self._wide if set(stops) & set(self.reservations.platforms[t].aboard))

    def _can_do(self, state: State, stop: int, occupied: int) -> bool:
        """Whether a carrier can do anything, wherever it heads, with those of the state alone."""
        number = state.posts[stop]
        errand, onto, _ = self._posts[number]
        if self.is_in_work(stop, number):
            return not self.is_held_at_gate(state, stop)
        if self.must_unlock(state, stop) or not self.may_leave(state, stop):
            return True
        usual = self.asking(state, stop, occupied)
        for head in dict.fromkeys(self.reservations.heads(stop, errand.step, onto)):
            for option in self.reservations.options(usual._replace(head=head)):
                if option.need & occupied:
                    break
                if self._gates_still_lanes and self._is_still(state, stop, option.target):
                    continue
                if not self.reservations.track.two_way or self._may_turn(state, stop, option.target, occupied):
                    return True
        return False

    def held(self, state: State, stop: int, among: Iterable[int]) -> tuple[int, str, int]:
        """By whom of some a carrier is held: the stop of that one (-1 for none), the reason, and the stop that it wants
        (-1 at the gate of run-out)."""
        others = set(among) - {stop}
        posts = tuple(number if one in others or one == stop else -1 for one, number in enumerate(state.posts))
        alone = state._replace(posts=posts, away=self._away_with(state, others))
        occupied = _mask(posts)
        onto = self._posts[state.posts[stop]].onto
        if self.is_in_work(stop, state.posts[stop]):
            variant = self.errands.sequence[state.place]
            part = next((one for one in sorted(others) if self._carries_other(posts[one], variant)), -1)
            return part, "run-out", -1
        if not self._usual(stop, state.posts[stop])[1]:
            return -1, "way", -1
        asking = self.asking(alone, stop, occupied)
        first = self.reservations.first_option(asking._replace(closed=0, away=False, barred=0))
        for one in self.reservations.walk(stop, onto, asking.head):
            if first is not None and not first.need >> one & 1:
                break
            if one in others:
                return one, "way", first.target if first is not None else -1
        wants = first.target if first is not None else -1
        for number, stretch in enumerate(self.plan.general.admission):
            if asking.closed >> number & 1:
                inside = [one for one in stretch.stops if one in others]
                if inside and self.reservations.first_option(asking._replace(closed=1 << number, away=False)) != first:
                    return inside[-1], "stretch", wants
        if asking.away:
            transfer = self.reservations.next_transfer(stop, onto, asking.head)
            aboard = [one for one in self.reservations.platforms[transfer].aboard if one in others]
            if aboard:
                return aboard[0], "platform", wants
        if self._gates_still_lanes and first is not None:
            moves_on = self.lanes_of_move(stop, first.target)
            gates = [one for one in self.gated(alone) if one != stop and self.reservations.lane(one) in moves_on]
            if gates:
                return gates[0], "together", wants
        holder = next((one for one in sorted(others) if self.holds_direction(alone, one, occupied)), -1)
        return holder, "direction", wants


def _mask(posts: tuple[int, ...]) -> int:
    found = 0
    for stop, number in enumerate(posts):
        if number >= 0:
            found |= 1 << stop
    return found
