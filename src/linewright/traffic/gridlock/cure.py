"""Rules that keep a line from locking: how many carriers may be on a part of the track at a time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from linewright.traffic.general import Stretch
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.reservations import Reservations
from linewright.traffic.plan import STATION, TrafficPlan

MOST_TRIED = 60


@dataclass(frozen=True)
class Region:
    """Lanes and transfers of the track, by number, and their stops."""

    lanes: tuple[int, ...]
    transfers: tuple[int, ...]
    stops: tuple[int, ...]


@dataclass(frozen=True)
class PlanCure:
    """An admission that cures a plan, proven; see `Cure`."""

    region: Region
    most: int
    from_any_placement: bool


def find_cure(prover: Prover) -> tuple[PlanCure | None, int]:
    """The admission over the fewest lanes and transfers, of those the one that admits most, that keeps a plan from
    locking from its planned start, better still from every placement; and how many were tried.

    Parameters
    ----------
    prover : of a plan that can lock
    """
    plan, tried = prover.plan, 0
    best: PlanCure | None = None
    for region in regions(plan):
        room = sum(int(plan.stop_kind[stop]) != STATION for stop in region.stops)
        at_start = sum(stop in region.stops for stop in plan.first_stops.tolist())
        for most in range(min(room - 1, plan.carriers - 1), max(at_start, 1) - 1, -1):
            if tried == MOST_TRIED:
                return best, tried
            tried += 1
            cured = Prover(with_admission(plan, region, most), known=prover.reservations)
            if not cured.never_by_room:
                continue
            anywhere = cured.from_any_placement().jams is False
            if best is None or anywhere:
                best = PlanCure(region, most, anywhere)
            if anywhere:
                return best, tried
            break
    return best, tried


def with_admission(plan: TrafficPlan, region: Region, most: int) -> TrafficPlan:
    """The plan with one stretch more."""
    stretch = Stretch("cure", region.stops, most)
    return replace(plan, general=replace(plan.general, admission=(*plan.general.admission, stretch)))


def regions(plan: TrafficPlan) -> Iterator[Region]:
    """Parts of the track that carriers can go round in, and single lanes, the smallest first; never the whole."""
    reservations = Reservations(plan)
    track, platforms = reservations.track, reservations.platforms
    if track.two_way:
        return
    found: set[tuple[tuple[int, ...], tuple[int, ...]]] = {((lane,), ()) for lane in range(track.lanes)}
    found |= {((lane,), (t,)) for lane, t in _ends(plan)} | set(_rounds(plan))
    whole = plan.stops
    sized = []
    for lanes, transfers in found:
        stops = [s for s in range(whole) if plan.stop_transfer[s] < 0 and int(track.stop_lane[s]) in lanes]
        stops += [stop for t in transfers for stop in platforms[t].aboard]
        if 0 < len(stops) < whole:
            sized.append(Region(tuple(sorted(lanes)), tuple(sorted(transfers)), tuple(sorted(stops))))
    yield from sorted(sized, key=lambda one: (len(one.lanes) + len(one.transfers), len(one.stops), one.stops))


def _ends(plan: TrafficPlan) -> list[tuple[int, int]]:
    """Each lane with each transfer at one of its ends."""
    platforms = Reservations(plan).platforms
    return [(lane, t) for t, one in enumerate(platforms) for lane in sorted({*one.takes, *one.gives})]


def _rounds(plan: TrafficPlan) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """The lanes and transfers of every way round that passes no lane twice."""
    platforms = Reservations(plan).platforms
    after: dict[int, list[tuple[int, int]]] = {}
    for t, one in enumerate(platforms):
        for lane in one.takes:
            after.setdefault(lane, []).extend((t, onto) for onto in one.gives)
    found = []

    def go(lanes: tuple[int, ...], transfers: tuple[int, ...]) -> None:
        for t, onto in after.get(lanes[-1], ()):
            if onto == lanes[0]:
                found.append((tuple(sorted(lanes)), tuple(sorted({*transfers, t}))))
            elif onto not in lanes and onto > lanes[0]:
                go((*lanes, onto), (*transfers, t))

    for lane in range(int(np.max([lane for one in platforms for lane in one.takes], initial=-1)) + 1):
        go((lane,), ())
    return list(dict.fromkeys(found))
