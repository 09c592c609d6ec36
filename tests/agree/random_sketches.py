"""Random small tracks of every kind with a route on them, for random traffic plans."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Final

from agree.random_tracks import (
    HALF,
    LIMITS,
    PITCH,
    Base,
    LaneSketch,
    Sketch,
    TransferSketch,
    as_track,
    lay_stops,
    loop_of_line,
    plan_of_track,
)
from linewright.traffic.plan import DOCK, WAITING

KINDS: Final = (
    "plain loop", "loop as track", "ring", "to and fro", "branch", "plain loop", "two by two", "repair loop",
    "several places",
)  # fmt: skip
ONE_LANE: Final = ("ring", "to and fro")
SMALL_LINES: Final = (
    6, 7, 9, 11, 12, 18, 19, 23, 30, 32, 34, 36, 39, 46, 47, 48, 53, 55, 56, 58, 59, 62, 66, 72, 77, 85, 86, 90, 91, 92,
    98, 102, 104, 106, 110, 113, 117, 119, 120, 121, 126, 127, 134, 139, 141, 143, 144, 148, 151, 154, 157, 161, 166,
    168, 170, 171, 178, 180, 182, 183, 194, 195, 196, 200, 209, 210, 211, 213, 215, 217, 218, 224, 226, 228, 230, 247,
    250, 255, 256,
)  # fmt: skip
"""Random lines of three to nine stations and up to fourteen carriers whose legs are quickly reckoned."""


def random_base(kind: str, luck: random.Random) -> Base:
    """A plan with a random track of a kind and a route on it."""
    if kind in ("plain loop", "loop as track"):
        base = loop_of_line(luck.choice(SMALL_LINES))
        return base if kind == "plain loop" else Base(as_track(base.plan), base.differs)
    if kind == "to and fro":
        return plan_of_track(_to_and_fro(luck), luck)
    lanes = {"ring": 1, "branch": 3, "two by two": 4, "repair loop": 3}.get(kind) or luck.choice((2, 2, 3))
    stations = luck.randint(3, 7 if kind == "ring" else 9)
    transfers = _transfers(kind, lanes, luck)
    sketched = _lanes(lanes, stations, luck, ring=kind == "ring")
    return plan_of_track(_with_carriers(sketched, transfers, _steps(stations, luck), luck), luck)


def _transfers(kind: str, lanes: int, luck: random.Random) -> tuple[TransferSketch, ...]:
    """What joins the lanes; the order of docks, which is their priority, is drawn."""
    docks: dict[str, tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]] = {
        "ring": (),
        "branch": (((0,), (1, 2)), ((1, 2), (0,))),
        "two by two": (((0, 1), (2, 3)), ((2, 3), (0, 1))),
        "repair loop": (((0, 2), (1, 2)), ((1,), (0,))),
        "several places": (((0,), (1,)), ((1,), (0,))) if lanes == 2 else (((0, 1), (2,)), ((2,), (0, 1))),
    }
    found = []
    for takes, gives in docks[kind]:
        places = luck.choice((2, 2, 3)) if kind == "several places" and len(gives) == 1 else 1
        found.append(
            TransferSketch(
                tuple(luck.sample(takes, len(takes))),
                tuple(luck.sample(gives, len(gives))),
                places,
                luck.random() < 0.5,
            )
        )
    return tuple(found)


def _lanes(lanes: int, stations: int, luck: random.Random, ring: bool) -> tuple[LaneSketch, ...]:
    """Stations dealt to the lanes and laid at least a pitch apart; lanes that lie beside one another have levels of
    their own."""
    numbers = list(range(stations))
    cuts = sorted(luck.choices(range(stations + 1), k=lanes - 1))
    found = []
    for number, (first, last) in enumerate(zip([0, *cuts], [*cuts, stations], strict=True)):
        at = HALF + luck.choice((0, 0, PITCH, 350))
        places = []
        for station in numbers[first:last]:
            places.append((at, station))
            at += luck.choice((PITCH, PITCH, 300, 400, 450, 650))
        spare = luck.choice((0, 150, 400, 900))
        end = places[-1][0] if places else luck.choice((0, 0, PITCH))
        length = end + PITCH + spare if ring else end + PITCH + HALF + spare
        found.append(LaneSketch(tuple(places), length, (0, 300, 600, 0)[number]))
    levels = luck.sample((0, 300, 600, 900), lanes)
    if luck.random() < 0.5 and lanes > 2:
        # The first lane lies where the last does, so that some docks are at one place.
        levels[0] = levels[-1]
    return tuple(LaneSketch(lane.stations, lane.length, level) for lane, level in zip(found, levels, strict=True))


def _steps(stations: int, luck: random.Random) -> tuple[tuple[int, ...], ...]:
    """The stations in groups of one or two, mostly in their order."""
    order = list(range(stations))
    if luck.random() < 0.6:
        luck.shuffle(order)
    steps: list[tuple[int, ...]] = []
    while order:
        size = 2 if len(order) > 1 and len(steps) + len(order) > 3 and luck.random() < 0.35 else 1
        steps.append(tuple(sorted(order[:size])))
        del order[:size]
    return tuple(steps)


def _with_carriers(
    lanes: tuple[LaneSketch, ...],
    transfers: tuple[TransferSketch, ...],
    steps: tuple[tuple[int, ...], ...],
    luck: random.Random,
) -> Sketch:
    sketch = Sketch(lanes, transfers, steps, 1, *_limits(luck))
    rests = sum(kind in (WAITING, DOCK) for kind in lay_stops(sketch).kind)
    most = max(1, min(14, rests * 2 // 3))
    carriers = luck.choice((1, most, *(min(most, luck.randint(2, max(2, most))) for _ in range(8))))
    return Sketch(lanes, transfers, steps, carriers, sketch.empty, sketch.loaded)


def _limits(luck: random.Random) -> Sequence:
    empty = luck.choice(LIMITS)
    return empty, luck.choice((empty, *LIMITS))


def _to_and_fro(luck: random.Random) -> Sketch:
    """One carrier, or two or three that each find a station for every step on a stretch of its own."""
    zones = luck.choice((1, 1, 2, 2, 3))
    count = luck.randint(3, 5) if zones == 1 else luck.randint(2, 3)
    steps: list[list[int]] = [[] for _ in range(count)]
    at = HALF + luck.choice((0, PITCH, 2 * PITCH))
    places: list[tuple[int, int]] = []
    for _ in range(zones):
        first = at
        for step in luck.sample(range(count), count):
            steps[step].append(len(places))
            places.append((at, len(places)))
            at += luck.choice((PITCH, 300, 400, 400, 600))
        at += at - first + PITCH  # the stations of its own stretch are the nearest
    lane = LaneSketch(tuple(places), places[-1][0] + luck.choice((HALF, 300)))
    carriers = zones if luck.random() < 0.85 else luck.randint(1, zones + 1)
    return Sketch((lane,), (), tuple(tuple(step) for step in steps), carriers, *_limits(luck), two_way=True)
