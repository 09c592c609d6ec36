"""Small plans with what a line may have beyond a track and a route: admission, variants, nests, platforms of two
places, carriers taken out and put in, going on. See `agree.small_plans`.
"""

from __future__ import annotations

import dataclasses
import functools
import random
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final

from agree.small_routes import (
    Docks,
    Shape,
    Small,
    first_stops_of,
    kinds_of,
    loops,
    rings,
    room_for,
    routes_of,
    stations_of,
    tracks,
    two_way_lanes,
)
from linewright.traffic.general import CarrierChange, FixtureSet, General, Stretch, Variant

ONE_OF_TWO: Final[Docks] = (((0,), (0,), 2),)
TWO_OF_TWO: Final[Docks] = (((0,), (1,), 2), ((1,), (0,), 1))
BOTH_OF_TWO: Final[Docks] = (((0,), (1,), 2), ((1,), (0,), 2))

S: Final = 1_000_000


def features(numbers: Iterable[int]) -> Iterator[Small]:
    """The plans of these numbers, from 0 on; the kind of feature goes by the number, all else is drawn."""
    for number in numbers:
        luck = random.Random(f"feature of a small plan {number}")
        yield KINDS[number % len(KINDS)](luck)


def _admission(luck: random.Random) -> Small:
    """One or two stretches on any track: some stops one after the other, places aboard among them."""
    base = _drawn(luck, lambda one: one.carriers > 1 and one.shape.two_way is False)
    return _with(base, admission=_stretches(luck, base))


def _run_out(luck: random.Random) -> Small:
    """Two variants that never mix, by a sequence; one of them may skip a step."""
    base = _drawn(luck, lambda one: one.carriers > 1 and one.steps > 1 and one.exit is None)
    variants = _two_variants(luck, base, 0.0)
    sequence = luck.choice(((0, 1), (0, 0, 1), (1, 0), (0, 1, 1)))
    return _with(base, variants=variants, sequence=sequence, run_out=True)


def _skips(luck: random.Random) -> Small:
    """Two variants by shares, with an exit in many of the plans."""
    base = _drawn(luck, lambda one: one.steps > 1 and one.rework is None)
    return _with(base, variants=_two_variants(luck, base, 0.5))


def _fixture_sets(luck: random.Random) -> Small:
    """Two fixture sets, one for each variant or one for both."""
    base = _drawn(luck, lambda one: one.carriers > 1 and one.steps > 1 and one.rework is None)
    second = luck.choice(((1,), (0, 1)))
    sets = (FixtureSet("f0", 1, (0,)), FixtureSet("f1", base.carriers - 1, second))
    return _with(base, variants=_two_variants(luck, base, 0.5), fixture_sets=sets)


def _carrier_changes(luck: random.Random) -> Small:
    """One or two changes of one carrier at stations of the first step; never all out, never more in than have room."""
    base = _drawn(luck, lambda one: one.shape.two_way is False and one.rework is None and len(one.stations) > 1)
    room, carriers, changes = room_for(base.shape, base.stations), base.carriers, []
    first = [number for number, (_, step) in enumerate(base.stations) if step == 0]
    for time_s in range(10, 10 * luck.choice((2, 2, 3)), 10):
        puts_in = carriers == 1 or (carriers < room and luck.random() < 0.6)
        if puts_in and carriers >= room:
            break
        carriers += 1 if puts_in else -1
        changes.append(CarrierChange(luck.choice(first), time_s * S, 1 if puts_in else -1))
    return _with(base, carrier_changes=tuple(changes))


def _going_on(luck: random.Random) -> Small:
    """A ring or a loop on which carriers are re-aimed at farther stops."""
    return _with(_drawn(luck, lambda one: one.carriers > 1 and one.family in ("ring", "loop")), going_on=True)


def _two_places(luck: random.Random) -> Small:
    """A loop with one or two transfers, one of them with two places."""
    return _drawn(luck, lambda one: one.carriers > 1, _of_two_places())


def _nests(luck: random.Random) -> Small:
    """Two nests, parts that are missing at the first step or flagged at a later one."""
    base = _drawn(luck, lambda one: one.exit is not None and one.rework is None)
    misses = tuple(0.2 if step == 0 else 0.0 for _, step in base.stations) if luck.random() < 0.6 else ()
    return _with(base, nests=2, misses=misses)


def _mixed(luck: random.Random) -> Small:
    """A platform of two places with admission, and run-out or a change of carriers."""
    base = _drawn(luck, lambda one: one.carriers > 1 and one.exit is None and one.steps > 1, _of_two_places())
    small = _with(base, admission=_stretches(luck, base))
    if luck.random() < 0.5:
        return _with(small, variants=_two_variants(luck, base, 0.0), sequence=(0, 1), run_out=True)
    first = [number for number, (_, step) in enumerate(base.stations) if step == 0]
    return _with(small, carrier_changes=(CarrierChange(luck.choice(first), 10 * S, -1),))


KINDS: Final = (
    _admission, _run_out, _two_places, _carrier_changes, _skips, _admission, _run_out, _fixture_sets, _two_places,
    _carrier_changes, _nests, _mixed, _going_on,
)  # fmt: skip


# ---- what is drawn ----


@functools.cache
def _all() -> tuple[Small, ...]:
    """The small plans to which features are added, about as many of each family: few stops, so that all states of
    every placement are gone through quickly."""
    found: list[Small] = []
    for family in (rings(5), loops(6), tracks(6), two_way_lanes(4)):
        of_family = list(family)
        found += of_family[:: max(1, len(of_family) // 400)]
    return tuple(found)


@functools.cache
def _of_two_places() -> tuple[Small, ...]:
    """Loops with platforms of two places, with every route."""
    shapes = [Shape((count,), ONE_OF_TWO) for count in (2, 3, 4)]
    shapes += [Shape(lanes, TWO_OF_TWO) for lanes in ((1, 2), (2, 1), (2, 2), (1, 3), (3, 1))]
    shapes += [Shape(lanes, BOTH_OF_TWO) for lanes in ((1, 2), (2, 1), (2, 2))]
    return tuple(
        Small("loop", shape, stations_of(marks), carriers)
        for shape in shapes
        for marks in routes_of(shape)
        for carriers in range(1, room_for(shape, stations_of(marks)) + 1)
    )


def _drawn(luck: random.Random, fits: Callable[[Small], bool], of: tuple[Small, ...] | None = None) -> Small:
    """One of the plans that fit."""
    while True:
        one = luck.choice(of or _all())
        if fits(one):
            return one


def _with(base: Small, **fields: Any) -> Small:
    """A small plan with something more beyond the plain loop."""
    general = dataclasses.replace(base.general or General(), **fields)
    return dataclasses.replace(base, family="feature", general=general)


def _stretches(luck: random.Random, base: Small) -> tuple[Stretch, ...]:
    """Some stops one after the other by rank, at most one or two carriers on them, not overfull at time zero."""
    kinds = kinds_of(base.shape)
    standing = set(_standing(base))
    found = []
    for number in range(luck.choice((1, 1, 2))):
        first = luck.randrange(len(kinds))
        last = luck.randint(first + 1, min(len(kinds), first + 4))
        stops = tuple(range(first, last))
        there = len(standing.intersection(stops))
        found.append(Stretch(f"zone {number}", stops, max(there, luck.choice((1, 1, 2)))))
    return tuple(found)


def _standing(base: Small) -> tuple[int, ...]:
    """Where the carriers stand at time zero."""
    return first_stops_of(base.shape, base.stations)[: base.carriers]


def _two_variants(luck: random.Random, base: Small, share: float) -> tuple[Variant, ...]:
    """Two variants; of the steps but the first and an exit each may skip one, not all that follow the first."""
    free = [step for step in range(1, base.steps) if base.exit is None or step != base.exit[1]]
    if base.rework is not None:
        free = []
    skips: list[tuple[int, ...]] = [(), ()]
    for number in luck.sample((0, 1), luck.choice((1, 1, 2))):
        if free and (share > 0.0 or luck.random() < 0.6):
            skips[number] = (luck.choice(free),)
    return tuple(Variant(f"v{number}", share, skip) for number, skip in enumerate(skips))
