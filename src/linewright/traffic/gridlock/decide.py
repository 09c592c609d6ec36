"""The two questions put to a plan: can it lock from its planned start, and from every placement of its carriers?"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import chain, combinations, product
from typing import Final

from linewright.traffic.explore import Exploration, explore, never_moves
from linewright.traffic.gridlock.errands import Errands
from linewright.traffic.gridlock.reservations import Reservations
from linewright.traffic.gridlock.ring import Graph, Post, Ring, every_post, lone_posts
from linewright.traffic.gridlock.settled import WayIn, any_way_in, guided_way_in, shortest_way_in
from linewright.traffic.gridlock.system import AGAINST, ALONG, Happening, State, System
from linewright.traffic.plan import ABOARD, DOCK, STATION, WAITING, TrafficPlan
from linewright.traffic.rules import NO_STOP


@dataclass(frozen=True)
class Effort:
    """How much is searched before the answer is `undecided`.

    Parameters
    ----------
    states : states that are held when all are gone through
    settled : states that are held when the shortest way by ends of work is looked for
    tries, steps : random ways that are tried, and how many ends of work each has at most
    placements : random placements that are tried
    """

    states: int = 30_000
    settled: int = 4_000
    tries: int = 25
    steps: int = 300
    placements: int = 300


USUAL: Final = Effort()
FEW_STATES: Final = 3_000
"""States that are gone through before ways are tried at random."""
MOST_PLACED: Final = 20
NEAR: Final = 3
"""Stops from one to the other of two carriers that are tried face to face."""


@dataclass(frozen=True)
class Found:
    """What a question comes to in the abstraction, before the kernel is asked.

    Parameters
    ----------
    jams : True: a jam can be reached; False: none can; None: not known
    basis : as in `Answer`
    ring : the least ring of carriers that can hold each other; None where there is none or the track is two-way
    states : states that were looked at
    ways : ways into a jam, the best first, each to be tried in the kernel
    placed : placements that are jams, each to be tried in the kernel
    """

    jams: bool | None
    basis: str
    ring: Ring | None
    states: int
    ways: tuple[WayIn, ...] = ()
    placed: tuple[State, ...] = ()


class Prover:
    """The proof of one plan's traffic.

    Parameters
    ----------
    plan : any traffic plan
    effort : how much to search
    known : reservations of a plan that differs in its admission alone; None where there is none
    """

    def __init__(self, plan: TrafficPlan, effort: Effort = USUAL, known: Reservations | None = None) -> None:
        self.plan = plan
        self.effort = effort
        self.errands = Errands(plan)
        self.reservations = Reservations(plan) if known is None else known.with_rules_of(plan)
        self.system = System(self.errands, self.reservations)

    @property
    def most_carriers(self) -> int:
        """The most carriers that are on the line at a time."""
        return self.plan.carriers + sum(max(one.count, 0) for one in self.plan.general.carrier_changes)

    @cached_property
    def posts(self) -> dict[int, tuple[Post, ...]]:
        """Every way to stand at each stop after a stop of the line."""
        return every_post(self.errands, self.reservations)

    def _never_overfull(self, stops: Iterable[int]) -> dict[int, int]:
        """What the stretches never hold more than, if carriers begin on these stops; of those into which carriers are
        put it is not known."""
        put_in = {
            int(self.plan.station_stop[one.station]) for one in self.plan.general.carrier_changes if one.count > 0
        }
        begin = tuple(stops)
        return {
            number: one.most
            for number, one in enumerate(self.plan.general.admission)
            if not put_in & set(one.stops) and sum(stop in one.stops for stop in begin) <= one.most
        }

    @cached_property
    def ring_of_placements(self) -> Ring | None:
        """The least ring from every placement."""
        graph = Graph(self.errands, self.reservations, self.posts)
        return graph.least_ring(self._never_overfull(()))

    @cached_property
    def ring_of_start(self) -> Ring | None:
        """The least ring from the planned start."""
        starts = self.plan.first_stops.tolist()
        starts += [int(self.plan.station_stop[one.station]) for one in self.plan.general.carrier_changes]
        posts = lone_posts(self.errands, self.reservations, starts)
        held = self._never_overfull(self.plan.first_stops.tolist())
        return Graph(self.errands, self.reservations, posts).least_ring(held)

    @property
    def has_rings(self) -> bool:
        """Whether the theorem of the ring holds: where lanes are one-way and each end of a lane has one transfer."""
        platforms = self.reservations.platforms
        takes, gives = (
            [lane for one in platforms for lane in one.takes],
            [lane for one in platforms for lane in one.gives],
        )
        joined = len(set(takes)) == len(takes) and len(set(gives)) == len(gives)
        return joined and not self.reservations.track.two_way

    @property
    def never_by_room(self) -> bool:
        """Whether there are too few carriers for a ring from the planned start."""
        return self.has_rings and any(
            ring is None or ring.carriers > self.most_carriers for ring in (self.ring_of_placements, self.ring_of_start)
        )

    # ---- the planned start -------------------------------------------------------------------------------------------

    def from_start(self) -> Found:
        """The planned start."""
        if self.never_by_room:
            least = self.ring_of_placements
            lone = least if least is None or least.carriers > self.most_carriers else self.ring_of_start
            return Found(False, "room", lone, 0)
        ring = self.ring_of_start if self.has_rings else None
        system, effort = self.system, self.effort
        starts = system.starts()
        way, _ = shortest_way_in(system, starts, max(effort.settled // 6, 1))
        if way is not None:
            return Found(True, "jam", ring, 0, (way,))
        found = explore(starts, system.happenings, min(FEW_STATES, effort.states))
        if not found.complete:
            tried = any_way_in(system, starts, effort.tries, effort.steps, seed=1)
            if tried is not None:
                guided = None if ring is None else guided_way_in(system, starts, ring, effort.settled)
                both = sorted((one for one in (guided, tried) if one is not None), key=lambda one: len(one.steps))
                return Found(True, "jam", ring, 0, tuple(both))
            if effort.states > FEW_STATES:
                found = explore(starts, system.happenings, effort.states)
        if not found.complete:
            longer, _ = shortest_way_in(system, starts, effort.settled)
            ways = () if longer is None else (longer,)
            return Found(True if ways else None, "jam" if ways else "searched", ring, found.states, ways)
        stuck = never_moves(found, _leaving, _standing)
        if not stuck:
            return Found(False, "states", ring, found.states)
        longer, _ = shortest_way_in(system, starts, effort.settled)
        ways = () if longer is None else (longer,)
        return Found(
            True, "jam", ring, found.states, (*ways, *(self._by_ends(found.way_to(one)) for one in list(stuck)[:20]))
        )

    def _by_ends(self, way: object) -> WayIn:
        """A way of single transitions as the ends of work in it."""
        states = (way.start, *(state for _, state in way.steps))  # type: ignore[attr-defined]
        steps = tuple(
            (states[i], label, state)
            for i, (label, state) in enumerate(way.steps)  # type: ignore[attr-defined]
            if label.kind in ("work ends", "change comes")
        )
        return WayIn(steps, states[-1], shortest=False)

    # ---- every placement ---------------------------------------------------------------------------------------------

    def from_any_placement(self) -> Found:
        """Every placement and order of the carriers."""
        ring = None
        if self.has_rings:
            ring = self.ring_of_placements
            if ring is None or ring.carriers > self.most_carriers:
                return Found(False, "room", ring, 0)
        count = self.plan.carriers
        if ring is not None and ring.carriers > count:
            count = self.most_carriers
        placed = self._facing(count) if ring is None else self._around(ring, count)
        if placed is not None:
            return Found(True, "jam", ring, 0, placed=(placed,))
        found = self._through(count, FEW_STATES)
        if found is not None and not found.complete:
            placed = self._tried(count)
            if placed is not None:
                return Found(True, "jam", ring, 0, placed=(placed,))
            if self.effort.states > FEW_STATES:
                found = self._through(count, self.effort.states)
        if found is None:  # admission leaves no room for so many
            return Found(False, "states", ring, 0)
        if not found.complete:
            return Found(None, "searched", ring, found.states)
        stuck = sorted(never_moves(found, _leaving, _standing), key=lambda state: state.direction)
        if not stuck:
            return Found(False, "states", ring, found.states)
        return Found(True, "jam", ring, found.states, placed=tuple(stuck[:MOST_PLACED]))

    def _through(self, count: int, most_states: int) -> Exploration[State, Happening] | None:
        """Every state that comes after any placement of so many carriers; None where there is none."""
        every = self._every_state(count)
        first = next(every, None)
        if first is None:
            return None
        return explore(chain((first,), every), self.system.happenings, min(most_states, self.effort.states))

    def before_work(self, state: State) -> tuple[State, tuple[tuple[State, Happening, State], ...]]:
        """The placement from which a state comes where somebody was worked on and stands before the same step again,
        and the ends of work that lead to it."""
        steps: list[tuple[State, Happening, State]] = []
        for stop, number in enumerate(state.posts):
            if number < 0 or not self.system.post(number).worked:
                continue
            after = self.system.post(number).errand
            station = int(self.plan.stop_station[stop])
            before = next(
                post.errand for post in self.posts[stop]
                if self.system.is_in_work(stop, self.system.number(post))
                and after in self.errands.after_work(station, post.errand)
            )  # fmt: skip
            earlier = self.system.number(Post(before))
            old = state._replace(posts=(*state.posts[:stop], earlier, *state.posts[stop + 1 :]))
            steps.insert(0, (old, Happening("work ends", stop, stop, number), state))
            state = old
        return state, tuple(steps)

    def _around(self, ring: Ring, count: int) -> State | None:
        """A placement with a ring of carriers that hold each other, the others anywhere."""
        posts = [-1] * self.plan.stops
        number = self.system.number
        for node, edge in zip(ring.nodes, ring.edges, strict=True):
            posts[node.stop] = number(edge.post)
        for edge in ring.edges:
            if edge.stretch >= 0:
                stretch = self.plan.general.admission[edge.stretch]
                wanted = stretch.most - sum(posts[stop] >= 0 for stop in stretch.stops)
                before = [stop for stop in stretch.stops if posts[stop] < 0 and stop < edge.to.stop]
                rest = [stop for stop in stretch.stops if posts[stop] < 0 and stop > edge.to.stop]
                for stop in (*reversed(before), *rest):
                    if wanted > 0 and self._fill(posts, stop, held=True):
                        wanted -= 1
        filled = self._filled(posts, count)
        return None if filled is None else self._as_jam(filled, ring)

    def _as_jam(self, posts: list[int], ring: Ring | None) -> State | None:
        """The state with these posts that is a jam, whatever the rest of the state has to be for it."""
        system = self.system
        if not self._sets_fit(posts):
            return None
        places = range(len(self.errands.sequence)) if self.errands.sequence else (-1,)
        directions = (ALONG, AGAINST) if self.reservations.track.two_way else (ALONG,)
        away = 0
        for transfer, one in enumerate(self.reservations.platforms):
            if len(one.aboard) > 1 and any(posts[stop] >= 0 for stop in one.aboard):
                away |= 1 << transfer
        for place, direction in product(places, directions):
            state = State(tuple(posts), direction, place, away)
            stuck = system.stuck(state)
            if stuck and (ring is None or any(node.stop in stuck for node in ring.nodes)):
                return state
        return None

    def _sets_fit(self, posts: Iterable[int]) -> bool:
        """Whether the fixture sets on the line are those of the first carriers, each as often."""
        if len(self.errands.sets) < 2:
            return True
        found = sorted(self.system.post(number).errand.of_set for number in posts if number >= 0)
        return found == sorted(self.system.sets_of_carriers[: len(found)])

    def _fill(self, posts: list[int], stop: int, held: bool = False) -> bool:
        """Put a carrier on a stop, one that waits rather than one that works; `held`: only one that cannot go on."""
        here = self.posts.get(stop, ())
        waits = [post for post in here if self.plan.stop_kind[stop] != STATION or self._waits(stop, post)]
        for post in waits or here:
            posts[stop] = self.system.number(post)
            if not held or self.system.is_held(State(tuple(posts)), stop):
                return True
        posts[stop] = -1
        return False

    def _waits(self, stop: int, post: Post) -> bool:
        return post.worked or self.reservations.step_at(stop) != post.errand.step

    def _filled(self, posts: list[int], count: int) -> list[int] | None:
        """The same with as many carriers more as are missing, stretches not overfull."""
        missing = count - sum(number >= 0 for number in posts)
        if missing < 0:
            return None
        kinds = self.plan.stop_kind.tolist()
        order = sorted(range(len(posts)), key=lambda stop: (kinds[stop] not in (WAITING, DOCK), kinds[stop] == ABOARD))
        for stop in order:
            if missing == 0:
                break
            if posts[stop] < 0 and self._has_room(posts, stop) and self._fill(posts, stop):
                missing -= 1
        return posts if missing == 0 else None

    def _has_room(self, posts: list[int], stop: int) -> bool:
        return all(
            sum(posts[one] >= 0 for one in stretch.stops) < stretch.most
            for stretch in self.plan.general.admission
            if stop in stretch.stops
        )

    def _facing(self, count: int) -> State | None:
        """On a two-way lane: a placement with two carriers near each other of which neither gets past the other."""
        stops = [stop for stop in range(self.plan.stops) if self.posts.get(stop)]
        for first, second in combinations(stops, 2):
            if second - first > NEAR or count < 2:
                continue
            for one, other in product(self.posts[first], self.posts[second]):
                posts = [-1] * self.plan.stops
                posts[first], posts[second] = self.system.number(one), self.system.number(other)
                filled = self._filled(posts, count)
                state = None if filled is None else self._as_jam(filled, None)
                if state is not None:
                    return state
        return None

    def _tried(self, count: int) -> State | None:
        """A placement that is a jam, looked for at random."""
        luck = random.Random(1)
        free = [stop for stop in range(self.plan.stops) if self.posts.get(stop)]
        for _ in range(self.effort.placements):
            posts = [-1] * self.plan.stops
            for stop in luck.sample(free, min(count, len(free))):
                if self._has_room(posts, stop):
                    posts[stop] = self.system.number(luck.choice(self.posts[stop]))
            if sum(number >= 0 for number in posts) == count:
                state = self._as_jam(posts, None)
                if state is not None:
                    return state
        return None

    def _every_state(self, count: int) -> Iterator[State]:
        """Every placement of so many carriers."""
        system, general = self.system, self.plan.general
        places = range(len(self.errands.sequence)) if self.errands.sequence else (-1,)
        directions = (ALONG, AGAINST) if self.reservations.track.two_way else (ALONG,)
        free = [stop for stop in range(self.plan.stops) if self.posts.get(stop)]
        wide = [t for t, one in enumerate(self.reservations.platforms) if len(one.aboard) > 1]
        left, come = tuple(0 for _ in general.carrier_changes), len(general.carrier_changes)
        for stops in combinations(free, count):
            if any(sum(stop in one.stops for stop in stops) > one.most for one in general.admission):
                continue
            used = [t for t in wide if any(stop in self.reservations.platforms[t].aboard for stop in stops)]
            for chosen in product(*(self._posts_at(stop) for stop in stops)):
                posts = [-1] * self.plan.stops
                for stop, post in zip(stops, chosen, strict=True):
                    posts[stop] = system.number(post)
                if not self._sets_fit(posts):
                    continue
                for place, direction, gone in product(places, directions, product((0, 1), repeat=len(used))):
                    away = sum(bit << t for t, bit in zip(used, gone, strict=True))
                    yield State(tuple(posts), direction, place, away, come, left)

    def _posts_at(self, stop: int) -> list[Post]:
        """The ways to stand at a stop; aboard with the lane still to be chosen, too."""
        here = list(self.posts[stop])
        return list(dict.fromkeys([*here, *(one._replace(onto=NO_STOP) for one in here)]))


def _leaving(label: Happening) -> tuple[int, ...]:
    return (label.start,) if label.kind in ("moves", "taken out") else ()


def _standing(state: State) -> tuple[int, ...]:
    return tuple(stop for stop, number in enumerate(state.posts) if number >= 0)
