"""Random small traffic plans with every feature beyond the plain loop, for holding the general event loop against the
reference model.

A plan depends on its number alone. Which features it has is written down as it is drawn, so that a set of plans can
report its coverage. What cannot be combined never is.
"""

from __future__ import annotations

import dataclasses
import functools
import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from agree.random_sketches import KINDS, random_base
from agree.random_tracks import Base
from linewright.traffic.general import (
    FEED,
    TAKE_AWAY,
    Break,
    CarrierChange,
    Changeover,
    FixtureSet,
    Outside,
    Placement,
    Pool,
    Rework,
    Stretch,
    Variant,
)
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    EMPIRICAL,
    EXPONENTIAL,
    FIXED,
    GEOMETRIC,
    LOGNORMAL,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    WAITING,
    Chance,
    FailureKind,
    Law,
    TrafficPlan,
)

S: Final = 1_000_000

FEATURES: Final = (
    *dict.fromkeys(KINDS),
    "returns when called",
    "docks at one place",
    "one carrier",
    "parallel stations",
    "parallel first",
    "failures of running",
    "failures of clock",
    "jams",
    "operators",
    "several operators",
    "two pools",
    "walking",
    "release",
    "manual",
    "break",
    "overlapping breaks",
    "run-down",
    "feed",
    "take-away",
    "failing outside",
    "two nests",
    "three nests",
    "each part",
    "misses",
    "rejects",
    "several exits",
    "named exit",
    "variants by share",
    "variants by sequence",
    "fixture sets",
    "own times",
    "skips",
    "changeover",
    "run-out",
    "rework",
    "rework alone",
    "together",
    "admission",
    "admission over lanes",
    "going on",
    "carriers out",
    "carriers in",
    "start placed",
)


@dataclass(frozen=True)
class RandomPlan:
    """A plan and the features it was drawn with."""

    number: int
    plan: TrafficPlan
    features: frozenset[str]


@dataclass
class _Drawing:
    """What has been drawn so far of one plan."""

    luck: random.Random
    kind: str
    base: Base
    features: set[str] = field(default_factory=set)

    def takes(self, chance: float, feature: str) -> bool:
        """Draw whether something is there; if so, it is one of the plan's features."""
        taken = self.luck.random() < chance
        if taken:
            self.features.add(feature)
        return taken

    @property
    def plan(self) -> TrafficPlan:
        """The plan with its track and route alone."""
        return self.base.plan

    @property
    def stations(self) -> int:
        """How many stations there are."""
        return len(self.plan.station_names)

    @property
    def steps(self) -> int:
        """How many steps there are."""
        return len(self.plan.step_stations)

    def some(self, chance: float, of: Sequence[int] | None = None) -> list[int]:
        """Some of the stations, at least one."""
        numbers = list(range(self.stations)) if of is None else list(of)
        return [k for k in numbers if self.luck.random() < chance] or [self.luck.choice(numbers)]


@functools.lru_cache(maxsize=64)
def random_plan(number: int) -> RandomPlan:
    """The random plan of a number."""
    luck = random.Random(f"random general plan {number}")
    kind = KINDS[number % len(KINDS)]
    drawing = _Drawing(luck, kind, random_base(kind, luck), {kind})
    rework = luck.random() < 0.36 and drawing.steps > 2
    alone = _rework_alone(drawing) if rework else -1
    exits = _exit_steps(drawing, alone, rework)
    nests = 1 if rework else _nests(drawing)
    general: dict[str, Any] = {"nests": nests}
    general |= _flagging(drawing, exits, alone, rework)
    general |= _variants(drawing, exits, alone)
    general |= _operators(drawing)
    general |= _breaks(drawing)
    general |= {"outside": _outside(drawing, exits, nests)}
    if nests > 1:
        general["each_part"] = tuple(drawing.takes(0.5, "each part") for _ in range(drawing.stations))
    if drawing.kind != "to and fro" and drawing.takes(0.25, "misses"):
        first = drawing.plan.step_stations[0]
        general["misses"] = tuple(0.12 if k in first else 0.0 for k in range(drawing.stations))
    general |= _traffic(drawing, "fixture_sets" in general)
    reject = general.pop("reject")
    plan = dataclasses.replace(
        drawing.plan,
        step_exit=tuple(p in exits for p in range(drawing.steps)),
        reject=tuple(Chance(share) for share in reject),
        general=dataclasses.replace(drawing.plan.general, **general),
        **_works(drawing),
    )
    if kind == "to and fro" and 1 < plan.carriers <= len(plan.step_stations[0]):
        plan = dataclasses.replace(plan, general=dataclasses.replace(plan.general, start=_apart(plan)))
    elif drawing.takes(0.2, "start placed"):
        plan = dataclasses.replace(plan, general=dataclasses.replace(plan.general, start=_start(drawing, plan)))
    plan = _with_whole_lanes(drawing, number, plan)
    _note_plan(drawing, plan)
    return RandomPlan(number, plan, frozenset(drawing.features))


def coverage(plans: Sequence[RandomPlan]) -> dict[str, float]:
    """The share of the plans that have each feature."""
    return {feature: sum(feature in plan.features for plan in plans) / len(plans) for feature in FEATURES}


def _note_plan(drawing: _Drawing, plan: TrafficPlan) -> None:
    """Features that the plan's arrays show."""
    general = plan.general
    zero = (
        platform.ride_us[i][len(platform.takes) + j] == 0
        for platform in general.platforms
        for i in range(len(platform.takes))
        for j in range(len(platform.gives))
    )
    sorts = {failure.of for failure in plan.failures}
    shown = {
        "returns when called": any(not platform.at_once for platform in general.platforms),
        "docks at one place": any(zero),
        "one carrier": plan.carriers == 1,
        "parallel stations": any(len(step) > 1 for step in plan.step_stations),
        "parallel first": len(plan.step_stations[0]) > 1,
        "failures of running": OF_RUNNING in sorts,
        "failures of clock": OF_CLOCK in sorts,
        "jams": OF_CYCLES in sorts,
    }
    drawing.features.update(feature for feature, there in shown.items() if there)


def _law(luck: random.Random, mean_s: float) -> Law:
    """A law of a time, fixed ones to a tenth of a second, so that events fall together."""
    mean = mean_s * S
    return luck.choice(
        (
            Law(FIXED, float(round(mean_s, 1) * S or 100_000)),
            Law(FIXED, float(round(mean_s, 1) * S or 100_000)),
            Law(EMPIRICAL, given_us=tuple(sorted(round(mean * luck.uniform(0.5, 1.6)) for _ in range(4)))),
            Law(LOGNORMAL, float(np.log(mean)), luck.uniform(0.1, 0.5)),
            Law(EXPONENTIAL, mean),
        )
    )


def _works(drawing: _Drawing) -> dict[str, Any]:
    """Works of about a second, and failures; a random line keeps its own in a third of the plans."""
    luck, plan = drawing.luck, drawing.plan
    if plan.failures and luck.random() < 0.4:
        return {}
    failures: list[FailureKind] = []
    most = luck.choice((0, 0, 1, 2))
    for station in range(drawing.stations):
        for _ in range(luck.randint(0, most)):
            of = luck.choice((OF_RUNNING, OF_CLOCK, OF_CYCLES))
            every = (
                Law(GEOMETRIC, luck.choice((1.0, 4.0, 15.0))) if of == OF_CYCLES else _law(luck, luck.uniform(8, 60))
            )
            failures.append(FailureKind(station, every, _law(luck, luck.uniform(0.5, 6)), of))
    work = [_law(luck, luck.uniform(0.2, 2.0)) for _ in range(drawing.stations)]
    for step in plan.step_stations:
        for station in step[1:]:
            work[station] = work[step[0]]
    return {"work": tuple(work), "failures": tuple(failures)}


def _nests(drawing: _Drawing) -> int:
    nests = drawing.luck.choice((1, 1, 2, 3))
    if nests > 1:
        drawing.features.add("two nests" if nests == 2 else "three nests")
    return nests


def _rework_alone(drawing: _Drawing) -> int:
    """The step for rework alone, -1 for none."""
    if drawing.steps > 3 and drawing.takes(0.7, "rework alone"):
        return drawing.luck.randrange(1, drawing.steps)
    return -1


def _exit_steps(drawing: _Drawing, alone: int, needed: bool) -> tuple[int, ...]:
    """Steps that are reject exits: none, one or two; never the first, never all that follow it (on a lane to and fro
    nothing leads from the first step to the first step)."""
    luck = drawing.luck
    free = [p for p in range(1, drawing.steps) if p != alone]
    most = min(2, len(free) - (1 if drawing.steps > 2 or drawing.kind == "to and fro" else 0))
    if most < 1 or (not needed and luck.random() < 0.35):
        return ()
    count = luck.choice((1, most, most))
    if count > 1:
        drawing.features.add("several exits")
    return tuple(sorted(luck.sample(free, count)))


def _flagging(drawing: _Drawing, exits: Sequence[int], alone: int, rework: bool) -> dict[str, Any]:
    """Rejects, the exits they are meant for, and rework."""
    luck, plan = drawing.luck, drawing.plan
    reject = [0.0] * drawing.stations
    named = [-1] * drawing.stations
    found: list[Rework] = []
    last = max(exits, default=-1)
    before = [k for p, step in enumerate(plan.step_stations) if p < last and p not in exits for k in step]
    if not before:
        return {"reject": reject}
    for station in drawing.some(0.5, before) if luck.random() < 0.9 else []:
        reject[station] = luck.uniform(0.03, 0.3)
        drawing.features.add("rejects")
    if rework:
        targets = [alone] if alone > 0 else [p for p in range(1, drawing.steps) if p not in exits]
        for station in drawing.some(0.4, before) if targets else []:
            step = int(plan.station_step[station])
            target = luck.choice([p for p in targets if p <= step] or targets)
            found.append(Rework(station, luck.uniform(0.1, 0.5), target, luck.randint(1, 3)))
            drawing.features.add("rework")
    for station in before:
        later = [p for p in exits if p > plan.station_step[station]]
        flags = reject[station] > 0.0 or any(one.station == station for one in found)
        if flags and len(exits) > 1 and luck.random() < 0.6:
            named[station] = luck.choice(later)
            drawing.features.add("named exit")
    used = any(step >= 0 for step in named)
    return {
        "reject": reject,
        "exits": tuple(named) if used else (),
        "rework": tuple(sorted(found, key=lambda one: one.station)),
        "rework_alone": (alone,) if alone > 0 and found else (),
    }


def _variants(drawing: _Drawing, exits: Sequence[int], alone: int) -> dict[str, Any]:
    """Variants with their times, skips and changeovers."""
    luck = drawing.luck
    if luck.random() < 0.4:
        return {}
    count = luck.randint(2, 4)
    by_sequence = luck.random() < 0.5
    shares = [luck.randint(1, 5) for _ in range(count)]
    skippable = [p for p in range(1, drawing.steps) if p not in exits and p != alone]
    if drawing.kind == "to and fro":
        skippable.remove(luck.choice(skippable))  # nothing leads from the first step to the first step
    variants = []
    for number in range(count):
        skips = tuple(p for p in skippable if luck.random() < 0.3)[:2] if luck.random() < 0.5 else ()
        work = tuple((k, _law(luck, luck.uniform(0.2, 2.5))) for k in range(drawing.stations) if luck.random() < 0.25)
        drawing.features.update(["skips"] * bool(skips) + ["own times"] * bool(work))
        variants.append(Variant(f"v{number}", 0.0 if by_sequence else shares[number] / sum(shares), skips, work))
    found: dict[str, Any] = {"variants": tuple(variants)}
    if by_sequence:
        drawing.features.add("variants by sequence")
        rows = [[luck.randrange(count)] * luck.randint(1, 8) for _ in range(luck.randint(2, 4))]
        found["sequence"] = tuple(number for row in rows for number in row)
        found["run_out"] = drawing.takes(0.8 if drawing.plan.carriers < 4 else 0.3, "run-out")
    else:
        drawing.features.add("variants by share")
        if drawing.plan.carriers > 1 and drawing.takes(0.7, "fixture sets"):
            found["fixture_sets"] = _fixture_sets(drawing, count)
    if drawing.takes(0.6, "changeover"):
        found["changeovers"] = tuple(_changeover(luck, station, count) for station in drawing.some(0.4))
    return found


def _fixture_sets(drawing: _Drawing, variants: int) -> tuple[FixtureSet, ...]:
    luck, carriers = drawing.luck, drawing.plan.carriers
    sets = min(carriers, luck.randint(2, 3))
    cuts = sorted(luck.sample(range(1, carriers), sets - 1))
    counts = [last - first for first, last in zip([0, *cuts], [*cuts, carriers], strict=True)]
    dealt: list[set[int]] = [{luck.randrange(variants)} for _ in counts]
    for variant in range(variants):
        dealt[luck.randrange(sets)].add(variant)
    return tuple(
        FixtureSet(f"f{n}", count, tuple(sorted(takes)))
        for n, (count, takes) in enumerate(zip(counts, dealt, strict=True))
    )


def _changeover(luck: random.Random, station: int, variants: int) -> Changeover:
    one_for_all = luck.choice((0, luck.randint(1, 40) * 100_000))
    return Changeover(
        station,
        tuple(
            tuple(0 if i == j else one_for_all or luck.randint(0, 30) * 100_000 for j in range(variants))
            for i in range(variants)
        ),
    )


def _operators(drawing: _Drawing) -> dict[str, Any]:
    """One pool or two, each station in one at most; who is in a pool is worked by hand, released or both."""
    luck, count = drawing.luck, drawing.stations
    if not drawing.takes(0.55, "operators"):
        return {}
    members = drawing.some(0.7)
    luck.shuffle(members)
    cut = luck.randint(1, len(members) - 1) if len(members) > 2 and drawing.takes(0.5, "two pools") else len(members)
    groups = [members[:cut]] + ([members[cut:]] if cut < len(members) else [])
    manual, release_us = [False] * count, [-1] * count
    for station in members:
        manual[station] = drawing.takes(0.7, "manual")
        if not manual[station] or luck.random() < 0.35:
            release_us[station] = luck.randint(1, 15) * 100_000
            drawing.features.add("release")
    pools = []
    for number, group in enumerate(groups):
        operators = luck.randint(1, min(3, len(group)))
        if operators > 1:
            drawing.features.add("several operators")
        one_for_all = luck.choice((0, luck.randint(1, 30) * 100_000))
        places = [luck.randint(0, 40) for _ in group]
        walk_us = tuple(
            tuple(0 if i == j else one_for_all or abs(places[i] - places[j]) * 50_000 for j in range(len(group)))
            for i in range(len(group))
        )
        if any(time for row in walk_us for time in row):
            drawing.features.add("walking")
        pools.append(Pool(f"pool {number}", operators, tuple(group), walk_us))
    return {"pools": tuple(pools), "manual": tuple(manual), "release_us": tuple(release_us)}


def _breaks(drawing: _Drawing) -> dict[str, Any]:
    """Breaks of short shifts, and run-down last."""
    luck = drawing.luck
    if luck.random() < 0.4:
        return {}
    shift_s = luck.randint(50, 140)
    found: list[Break] = []
    for _ in range(luck.choice((0, 1, 2, 2))):
        length = luck.randint(2, 20)
        begin = luck.choice((0, luck.randint(1, shift_s - length), shift_s - length))
        stations = tuple(range(drawing.stations)) if luck.random() < 0.5 else tuple(drawing.some(0.5))
        found.append(Break(stations, begin * S, length * S, shift_s * S))
        drawing.features.add("break")
    if not found or drawing.takes(0.4, "run-down"):
        length = luck.randint(3, 25)
        drawing.features.add("run-down")
        found.append(Break(drawing.plan.step_stations[0], (shift_s - length) * S, length * S, shift_s * S))
    for i, one in enumerate(found):
        for other in found[:i]:
            apart = one.begin_us + one.length_us < other.begin_us or other.begin_us + other.length_us < one.begin_us
            if not apart and set(one.stations) & set(other.stations):
                drawing.features.add("overlapping breaks")
    return {"breaks": tuple(found)}


def _outside(drawing: _Drawing, exits: Sequence[int], nests: int) -> tuple[Outside, ...]:
    """Feeds and take-aways with little room, by station, feed first."""
    luck, plan = drawing.luck, drawing.plan
    found: list[Outside] = []
    feeds, takes = drawing.luck.random() < 0.45, drawing.luck.random() < 0.45
    last = max(p for p in range(drawing.steps) if p not in exits)
    for station in range(drawing.stations):
        step = int(plan.station_step[station])
        likely = 0.6 if step in (0, last) or step in exits else 0.2
        for kind, there in (
            (FEED, feeds and step not in exits),
            (TAKE_AWAY, takes and (step == last or step in exits)),
        ):
            if not there or luck.random() > likely:
                continue
            capacity = luck.randint(nests, nests + 4)
            failures: list[tuple[Law, Law]] = []
            for _ in range(luck.choice((0, 0, 1, 2))):
                failures.append((_law(luck, luck.uniform(5, 40)), _law(luck, luck.uniform(0.5, 8))))
                drawing.features.add("failing outside")
            start = luck.randint(0, capacity) if kind == FEED else 0
            time = _law(luck, luck.uniform(0.2, 1.8))
            found.append(Outside(station, kind, time, capacity, start, tuple(failures)))
            drawing.features.add("feed" if kind == FEED else "take-away")
    return tuple(found)


def _traffic(drawing: _Drawing, has_fixture_sets: bool) -> dict[str, Any]:
    """Rules that the line adds to the traffic: together, admission, going on, carriers taken out and put in."""
    luck, plan, kind = drawing.luck, drawing.plan, drawing.kind
    if kind == "to and fro":
        return {}
    found: dict[str, Any] = {}
    lanes = _lanes_of(plan)
    if kind in ("plain loop", "loop as track", "ring") and drawing.takes(0.45, "going on"):
        found |= {"going_on": True, "differs_us": drawing.base.differs()}
    elif drawing.takes(0.36, "together"):
        found["together"] = tuple(sorted(luck.sample(range(len(lanes)), luck.choice((1, 1, len(lanes))))))
    if drawing.takes(0.25, "admission"):
        found["admission"] = tuple(
            _stretch(luck, number, luck.choice(lanes)) for number in range(luck.choice((1, 1, 2)))
        )
    if not has_fixture_sets:
        found |= _carrier_changes(drawing)
    return found


def _lanes_of(plan: TrafficPlan) -> list[list[int]]:
    """The stops of each lane in travel, without places aboard."""
    if plan.general.track is not None:
        lane = plan.general.track.stop_lane
    else:
        aboard = np.flatnonzero(plan.stop_kind == ABOARD)
        lane = np.searchsorted(aboard, np.arange(plan.stops))
    count = int(lane.max()) + 1
    return [[i for i in range(plan.stops) if lane[i] == one and plan.stop_kind[i] != ABOARD] for one in range(count)]


def _stretch(luck: random.Random, number: int, lane: list[int]) -> Stretch:
    first = luck.randrange(len(lane))
    last = luck.randint(first + 1, min(len(lane), first + 6))
    return Stretch(f"zone {number}", tuple(lane[first:last]), luck.randint(1, 3))


def _with_whole_lanes(drawing: _Drawing, number: int, plan: TrafficPlan) -> TrafficPlan:
    """Admission over whole lanes and transfers, never all; drawn by itself, so that all else is as it is without."""
    luck = random.Random(f"admission over lanes {number}")
    transfers = len(plan.transfer_names)
    if transfers == 0 or luck.random() > 0.35:
        return plan
    drawing.features.add("admission over lanes")
    lanes = _lanes_of(plan)
    some = luck.sample(lanes, luck.choice((1, 1, min(2, len(lanes) - 1))))
    taken = luck.sample(range(transfers), luck.choice((0, 1, 1, 1, transfers)))
    stops = {stop for lane in some for stop in lane} | set(np.flatnonzero(np.isin(plan.stop_transfer, taken)).tolist())
    most = luck.randint(1, max(2, plan.carriers - 1))
    whole = Stretch("whole lanes", tuple(sorted(stops)), most)
    general = dataclasses.replace(plan.general, admission=(*plan.general.admission, whole))
    return dataclasses.replace(plan, general=general)


def _carrier_changes(drawing: _Drawing) -> dict[str, Any]:
    """Some carriers taken out, some put in, never all out and never more than have room."""
    luck, plan = drawing.luck, drawing.plan
    rests = int(np.isin(plan.stop_kind, (WAITING, DOCK)).sum())
    changes = []
    out, put_in = plan.carriers - 1, max(0, min(3, rests - 1 - plan.carriers))
    for _ in range(luck.choice((0, 0, 1, 2))):
        station = luck.choice(plan.step_stations[0])
        at_us = luck.randint(0, 120) * S
        if out and luck.random() < 0.55:
            count = luck.randint(1, min(2, out))
            out -= count
            drawing.features.add("carriers out")
            changes.append(CarrierChange(station, at_us, -count))
        elif put_in:
            count = luck.randint(1, put_in)
            put_in -= count
            drawing.features.add("carriers in")
            changes.append(CarrierChange(station, at_us, count))
    return {"carrier_changes": tuple(sorted(changes, key=lambda change: change.at_us))}


@dataclass
class _Placed:
    """One carrier of a start: its stop, next step, load, nests, the exit it is flagged for and its reworks."""

    stop: int
    step: int
    load: int = -1
    present: int = 0
    flagged: int = 0
    exit: int = -1
    visits: int = 0


def _apart(plan: TrafficPlan) -> Placement:
    """Each carrier empty at a first station of its own."""
    count = plan.carriers
    none, nought = (-1,) * count, (0,) * count
    stops = tuple(int(plan.station_stop[k]) for k in plan.step_stations[0][:count])
    return Placement(stops, nought, none, nought, nought, none, nought, 0)


def _start(drawing: _Drawing, plan: TrafficPlan) -> Placement:
    """Carriers somewhere on the line, some with parts on their way from one step to the next."""
    luck = drawing.luck
    next_load = plan.carriers + luck.randint(0, 3)
    numbers = luck.sample(range(next_load), plan.carriers)
    free = [i for i in range(plan.stops) if plan.stop_kind[i] in (WAITING, DOCK)]
    platforms = [i for i in range(plan.stops) if plan.stop_kind[i] == ABOARD]
    if platforms and luck.random() < 0.5:
        free.append(luck.choice(platforms))
    placed: list[_Placed] = []
    for number in numbers:
        one = _loaded(luck, plan, number) if luck.random() < 0.6 else _Placed(-1, 0)
        taken = {other.stop for other in placed}
        works = [int(plan.station_stop[k]) for k in plan.step_stations[one.step]]
        here = [i for i in works if i not in taken] if luck.random() < 0.4 else []
        one.stop = luck.choice(
            here or [i for i in free if i not in taken] or [i for i in works if i not in taken] or [-1]
        )
        if one.stop < 0:
            one = _Placed(next(int(i) for i in plan.first_stops if i not in taken), 0)
        placed.append(one)
    return Placement(
        *(
            tuple(getattr(one, name) for one in placed)
            for name in ("stop", "step", "load", "present", "flagged", "exit")
        ),
        visits=tuple(one.visits for one in placed),
        next_load=next_load,
    )


def _loaded(luck: random.Random, plan: TrafficPlan, load: int) -> _Placed:
    """A carrier with parts that have had their work at a step, on its way to what every variant does next."""
    general, steps = plan.general, range(len(plan.step_stations))
    skipped = {p for variant in general.variants for p in variant.skips}
    usual = [p for p in steps if not plan.step_exit[p] and p not in general.rework_alone]
    pairs = [(p, q) for p, q in itertools.pairwise(usual) if p not in skipped and q not in skipped]
    if not pairs:
        return _Placed(-1, 0)
    done, following = luck.choice(pairs)
    present = luck.randint(1, 2**general.nests - 1)
    later = [p for p in steps if plan.step_exit[p] and p > done]
    flagged = present & luck.randrange(2**general.nests) if later and luck.random() < 0.4 else 0
    meant = luck.choice(later) if flagged else -1
    step = meant if flagged and (flagged == present or meant < following) else following
    visits = luck.randint(0, 2) if general.rework else 0
    return _Placed(-1, step, load, present, flagged, meant, visits)
