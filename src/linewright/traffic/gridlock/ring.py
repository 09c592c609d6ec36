"""The fewest carriers that can hold each other: when a line has fewer it never locks.

docs/semantics.md, "When it never locks". A carrier that is stuck is held by one that is stuck; follow them and they
come round. Here the stops are the nodes of a graph, with an edge from each to every stop where somebody who holds a
carrier there may stand; the least ring is its shortest cycle.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from linewright.traffic.gridlock.errands import Errand, Errands
from linewright.traffic.gridlock.reservations import Asking, Option, Reservations
from linewright.traffic.plan import STATION, TrafficPlan
from linewright.traffic.rules import NO_STOP

Reason = Literal["way", "stretch", "platform", "together", "run-out"]


class Post(NamedTuple):
    """One way to stand at a stop.

    Parameters
    ----------
    errand : what is still to be done
    onto : aboard a transfer that gives to several lanes the first stop of the one chosen; else NO_STOP
    worked : at a station of its next step, it has been worked on there and comes again: it is ready; else False
    """

    errand: Errand
    onto: int = NO_STOP
    worked: bool = False


Posts = Mapping[int, tuple[Post, ...]]
"""How carriers may stand at each stop."""


class Node(NamedTuple):
    """A carrier at a stop, known as far as it decides by whom it can be held.

    Parameters
    ----------
    stop : its rank
    variant : with run-out the variant of the parts aboard, NO_VARIANT for none; else NO_VARIANT
    gate : it waits at the gate of run-out
    """

    stop: int
    variant: int
    gate: bool


@dataclass(frozen=True)
class Edge:
    """A carrier at a stop may be held by one at another.

    Parameters
    ----------
    to : the node of that one
    carriers : how many this brings into the ring: 1, or as many as fill a stretch
    reason : see `Standing`
    stretch : number of the full stretch, -1 for none
    post : how the held carrier stands
    """

    to: Node
    carriers: int
    reason: Reason
    stretch: int
    post: Post


@dataclass(frozen=True)
class Ring:
    """Carriers that hold each other.

    Parameters
    ----------
    carriers : how many; where stretches are full, at least so many
    nodes : one after the other
    edges : edges[i] leads from nodes[i] to nodes[i + 1], the last to nodes[0]
    """

    carriers: int
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


def every_post(errands: Errands, reservations: Reservations) -> dict[int, tuple[Post, ...]]:
    """Every way to stand at each stop, after a stop of the line: any errand at a waiting or dock stop or aboard, at a
    station the errands before and after its work."""
    plan = errands.plan
    found = {}
    for stop in range(plan.stops):
        station = int(plan.stop_station[stop])
        if plan.stop_kind[stop] == STATION:
            step = int(plan.station_step[station])
            before = [one for one in errands.all if one.step == step]
            after = dict.fromkeys(left for one in before for left in errands.after_work(station, one))
            found[stop] = (*(Post(one) for one in before), *(Post(one, worked=one.step == step) for one in after))
            continue
        found[stop] = tuple(Post(one, onto) for one in errands.all for onto in lanes_from(reservations, stop, one.step))
    return found


def lanes_from(reservations: Reservations, stop: int, step: int) -> tuple[int, ...]:
    """Aboard a transfer that gives to several lanes the first stops of those that lead to a station of a step; else
    (NO_STOP,)."""
    transfer = int(reservations.plan.stop_transfer[stop])
    if transfer < 0 or len(reservations.platforms[transfer].gives) < 2:
        return (NO_STOP,)
    heads = reservations.heads(stop, step, NO_STOP)
    return tuple(dict.fromkeys(reservations.first(stop, NO_STOP, head) for head in heads))


def lone_posts(errands: Errands, reservations: Reservations, starts: Iterable[int]) -> dict[int, tuple[Post, ...]]:
    """The ways to stand that a carrier comes to by the rules, alone on the line, from stops where it begins empty."""
    plan = errands.plan
    ahead = [(stop, Post(errands.empty(one))) for stop in starts for one in errands.sets]
    seen = dict.fromkeys(ahead)
    while ahead:
        stop, post = ahead.pop()
        for found in _lone_steps(plan, errands, reservations, stop, post):
            if found not in seen:
                seen[found] = None
                ahead.append(found)
    posts: dict[int, list[Post]] = {}
    for stop, post in seen:
        posts.setdefault(stop, []).append(post)
    return {stop: tuple(here) for stop, here in posts.items()}


def _lone_steps(
    plan: TrafficPlan, errands: Errands, reservations: Reservations, stop: int, post: Post
) -> list[tuple[int, Post]]:
    errand, onto, worked = post
    step = reservations.step_at(stop)
    if step >= 0 and step == errand.step and not worked:
        left = errands.after_work(int(plan.stop_station[stop]), errand)
        return [(stop, Post(after, worked=after.step == step)) for after in left]
    lanes = lanes_from(reservations, stop, errand.step)
    if lanes != (NO_STOP,) and onto == NO_STOP:
        return [(stop, Post(errand, lane)) for lane in lanes]
    found = []
    for head in dict.fromkeys(reservations.heads(stop, errand.step, onto)):
        asking = Asking(stop, errand.step, onto, head)
        options = (*reservations.options(asking), *reservations.options(asking._replace(away=True)))
        found += [(option.target, Post(errand)) for option in dict.fromkeys(options)]
    return found


class Graph:
    """Who may be held by whom."""

    def __init__(self, errands: Errands, reservations: Reservations, posts: Posts) -> None:
        self.plan = errands.plan
        self.reservations = reservations
        self.posts = posts
        self.run_out = bool(errands.sequence)
        self.nodes: dict[Node, list[Edge]] = {}
        self._most = [self._least_inside(number) for number in range(len(self.plan.general.admission))]
        self._traps = self._find_traps(errands)
        self._of_stop: dict[int, list[Node]] = {}
        for stop, here in posts.items():
            for post in here:
                node = self._node(stop, post)
                if node is not None and node not in self.nodes:
                    self.nodes[node] = []
                    self._of_stop.setdefault(stop, []).append(node)
        for stop, here in posts.items():
            for post in here:
                node = self._node(stop, post)
                if node is not None:
                    self._add_edges(node, post)

    def _least_inside(self, number: int) -> int:
        """How many carriers a full stretch brings into a ring: as many as it admits; where it shares stops with
        another, those may be counted there already, and only one is sure."""
        stretches = self.plan.general.admission
        stops = set(stretches[number].stops)
        shared = any(stops & set(other.stops) for i, other in enumerate(stretches) if i != number)
        return 1 if shared else stretches[number].most

    def _find_traps(self, errands: Errands) -> frozenset[int]:
        """The stretches in which carriers can go round for ever: whoever waits before one may wait in vain, although
        nobody in it is stuck."""
        stretches = self.plan.general.admission
        if not stretches:
            return frozenset()
        before: dict[tuple[int, Post], list[tuple[int, Post]]] = {}
        everywhere = dict.fromkeys((stop, post) for stop, here in self.posts.items() for post in here)
        ahead = list(everywhere)
        while ahead:
            one = ahead.pop()
            for after in _lone_steps(self.plan, errands, self.reservations, *one):
                before.setdefault(after, []).append(one)
                if after not in everywhere:
                    everywhere[after] = None
                    ahead.append(after)
        found = set()
        for number, stretch in enumerate(stretches):
            inside = set(stretch.stops)
            leads_out = {one for one in everywhere if one[0] not in inside}
            ahead = list(leads_out)
            while ahead:
                for one in before.get(ahead.pop(), ()):
                    if one not in leads_out:
                        leads_out.add(one)
                        ahead.append(one)
            if len(leads_out) < len(everywhere):
                found.add(number)
        return frozenset(found)

    def _node(self, stop: int, post: Post) -> Node | None:
        """The node of a carrier; None of one whose work is still to end, or whose lane is still to be chosen."""
        errand = post.errand
        variant = errand.variant if self.run_out and not errand.is_empty else -1
        if not post.worked and self.reservations.step_at(stop) == errand.step:
            return Node(stop, variant, True) if self.run_out and errand.is_empty and errand.step == 0 else None
        transfer = int(self.plan.stop_transfer[stop])
        if transfer >= 0 and post.onto == NO_STOP and len(self.reservations.platforms[transfer].gives) > 1:
            return None
        return Node(stop, variant, False)

    def _add_edges(self, node: Node, post: Post) -> None:
        known = {(edge.to, edge.stretch) for edge in self.nodes[node]}

        def add(to: Node, carriers: int, reason: Reason, stretch: int = -1) -> None:
            if (to, stretch) not in known:
                known.add((to, stretch))
                self.nodes[node].append(Edge(to, carriers, reason, stretch, post))

        if node.gate:
            for other in self.nodes:
                if other.variant >= 0:
                    add(other, 1, "run-out")
            return
        heads = dict.fromkeys(self.reservations.heads(node.stop, post.errand.step, post.onto))
        if not heads:
            add(node, 1, "way")
        for head in heads:
            self._add_of_way(node, Asking(node.stop, post.errand.step, post.onto, head), add)

    def _add_of_way(self, node: Node, asking: Asking, add: Callable[..., None]) -> None:
        reservations = self.reservations
        first = reservations.first_option(asking)
        way = reservations.walk(asking.stop, asking.onto, asking.head)
        for stop in way:
            if first is not None and not first.need >> stop & 1:
                break
            for other in self._of_stop.get(stop, ()):
                add(other, 1, "way")
        if first is None:  # no way leads anywhere
            add(node, 1, "way")
        transfer = reservations.next_transfer(asking.stop, asking.onto, asking.head)
        if transfer >= 0 and len(reservations.platforms[transfer].aboard) > 1:
            away = reservations.first_option(asking._replace(away=True))
            if away != first:
                for stop in reservations.platforms[transfer].aboard:
                    for other in self._of_stop.get(stop, ()):
                        add(other, 1, "platform")
        if self.run_out and self.plan.general.together and first is not None:
            self._add_gates(asking.stop, first.target, add)
        self._add_stretches(node, asking, first, add)

    def _add_stretches(self, node: Node, asking: Asking, first: Option | None, add: Callable[..., None]) -> None:
        """Full stretches that may hold a carrier."""
        own = self.reservations.stretches[asking.stop]
        for number, stretch in enumerate(self.plan.general.admission):
            closed = asking._replace(closed=1 << number)
            if own >> number & 1 or self.reservations.first_option(closed) == first:
                continue
            if number in self._traps:
                add(node, stretch.most + 1, "stretch", number)
            if stretch.most <= len(stretch.stops):  # else it is never full
                for stop in stretch.stops:
                    for other in self._of_stop.get(stop, ()):
                        add(other, self._most[number], "stretch", number)

    def _add_gates(self, stop: int, target: int, add: Callable[..., None]) -> None:
        """On a lane that moves together nobody moves while somebody waits at the gate of run-out."""
        lanes = {self.reservations.lane(one) for one in (stop, target)} & set(self.plan.general.together)
        for other in self.nodes:
            if other.gate and self.reservations.lane(other.stop) in lanes:
                add(other, 1, "together")

    def least_ring(self, full: Mapping[int, int]) -> Ring | None:
        """The ring with the fewest carriers; None where there is none.

        Parameters
        ----------
        full : of each stretch that never holds more than it admits that number; a ring of more carriers that lies
            wholly in it cannot be
        """
        best: Ring | None = None
        for start in self.nodes:
            ring = self._through(start, full, None if best is None else best.carriers)
            if ring is not None and (best is None or ring.carriers < best.carriers):
                best = ring
        return best

    def _through(self, start: Node, full: Mapping[int, int], below: int | None) -> Ring | None:
        """The least ring through a node, of fewer carriers than `below`."""
        begin = (start, tuple(z for z in full if self.reservations.stretches[start.stop] >> z & 1))
        cost = {begin: 0}
        came: dict[tuple[Node, tuple[int, ...]], tuple[tuple[Node, tuple[int, ...]], Edge]] = {}
        queue: list[tuple[int, int, tuple[Node, tuple[int, ...]]]] = [(0, 0, begin)]
        count = 0
        best: tuple[int, tuple[Node, tuple[int, ...]], Edge] | None = None
        while queue:
            so_far, _, at = heapq.heappop(queue)
            if so_far > cost[at] or (best is not None and so_far >= best[0]) or (below is not None and so_far >= below):
                continue
            node, within = at
            for edge in self.nodes[node]:
                total = so_far + edge.carriers
                # Whoever waits before a full stretch stands outside it, and those on it may stand outside others.
                inside = within if edge.stretch < 0 else ()
                still = tuple(z for z in inside if self.reservations.stretches[edge.to.stop] >> z & 1)
                if edge.to == start and all(total <= full[z] for z in still) and (best is None or total < best[0]):
                    best = (total, at, edge)
                onto = (edge.to, still)
                if total < cost.get(onto, total + 1):
                    cost[onto] = total
                    came[onto] = (at, edge)
                    count += 1
                    heapq.heappush(queue, (total, count, onto))
        if best is None:
            return None
        total, at, last = best
        nodes, edges = [at[0]], [last]
        while at != begin:
            at, edge = came[at]
            nodes.append(at[0])
            edges.append(edge)
        return Ring(total, tuple(reversed(nodes)), tuple(reversed(edges)))
