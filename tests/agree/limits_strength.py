"""The rows of strength, recomputed from docs/limits/strength.md alone: springs by a linear solve, worst by trial."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.flow.duty import Duty
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.line.ratings import GuideSheet
from linewright.line.tooling import ToolForce

Floats = NDArray[np.float64]
Missing = dict[str, set[str]]

GRAVITY_m_s2: Final = 9.80665
AXES: Final = ("down", "across", "along")
SHIFTS: Final = ("along", "across", "up")


@dataclass(frozen=True)
class Row:
    """A row as the page has it; `words` must stand in its `where`, `of` is how many stations it stands for."""

    code: str
    verdict: str
    value: float | None = None
    limit: float | None = None
    unit: str | None = None
    margin: float | None = None
    words: tuple[str, ...] = ()
    of: int = 1


@dataclass(frozen=True)
class Load:
    """A force and its point from the middle between the blocks. [N], [m]"""

    force: tuple[float, float, float]
    at: tuple[float, float, float]


@dataclass(frozen=True)
class Given:
    """What plate and springs do under a load: shift, turn, and of each block normal and lateral load."""

    shift_m: Floats
    turn_rad: Floats
    normal_N: Floats
    lateral_N: Floats

    @property
    def load_N(self) -> Floats:
        return np.asarray(np.abs(self.normal_N) + np.abs(self.lateral_N))


def verdict_of(margin: float) -> str:
    """What is below 0 by rounding alone does not fail: 0.7 of 11 N holds 7.7 N."""
    return "fails" if margin < -1e-12 else "tight" if margin < 0.1 else "holds"


# ---- the plate on its springs ----------------------------------------------------------------------------------------


def settle(
    guides: GuideSheet, thrust_height_m: float, loads: list[Load], k: float = 3.0, side: float = 2.0, servo: float = 5.0
) -> Given:
    """Four blocks front-left, front-right, rear-left, rear-right and the servo as nine springs under a rigid plate.

    The sharing of loads does not depend on the stiffnesses, so that any will do where only loads are wanted.
    """
    points = [np.array([s * guides.along_m / 2, t * guides.across_m / 2, 0.0]) for s in (1, -1) for t in (1, -1)]
    up, left, ahead = np.array([0.0, 0, 1]), np.array([0.0, 1, 0]), np.array([1.0, 0, 0])
    springs = [(k, up, point) for point in points] + [(side, left, point) for point in points]
    springs.append((servo, ahead, np.array([0.0, 0.0, thrust_height_m])))
    stiff = np.zeros((6, 6))
    ways = [np.concatenate((way, np.cross(point, way))) for _, way, point in springs]
    for (one, _, _), way in zip(springs, ways, strict=True):
        stiff += one * np.outer(way, way)
    pushed = np.zeros(6)
    for load in loads:
        pushed[:3] += load.force
        pushed[3:] += np.cross(load.at, load.force)
    found = np.linalg.solve(stiff, pushed)
    given = np.array([one * way @ found for (one, _, _), way in zip(springs, ways, strict=True)])
    return Given(np.float64(1.0) * found[:3], np.float64(1.0) * found[3:], -given[:4], given[4:8])


# ---- what is known ---------------------------------------------------------------------------------------------------


def weighs_fixture(line: Line) -> bool:
    """Whether the mass of the fixture is stated; one of 0 kg is."""
    return line.fixture is not None and "mass_kg" in line.fixture.model_fields_set


@dataclass(frozen=True)
class Facts:
    """The line with what the page asks of it; `heights` are those that are missing."""

    line: Line
    guides: GuideSheet | None
    heights: tuple[str, ...]

    @property
    def plate_m(self) -> float | None:
        return None if self.guides is None else self.guides.plate_height_m

    @property
    def thrust_m(self) -> float | None:
        return None if self.guides is None else self.guides.thrust_height_m

    @property
    def can_bear(self) -> bool:
        """Whether the blocks' loads at rest can be told, but for heights."""
        line = self.line
        return None not in (self.guides, line.conveyor.magnets, line.part) and weighs_fixture(line)

    @property
    def can_move(self) -> bool:
        return self.can_bear and not self.heights

    @property
    def least_safety(self) -> float:
        assert self.guides is not None
        return 2.0 if self.guides.least_static_safety is None else self.guides.least_static_safety

    def own(self, loaded: bool, acceleration: tuple[float, float, float] = (0, 0, 0), drag: float = 0.0) -> list[Load]:
        """Weight, magnets, inertia and drag; a height that is not stated counts 0, where it does no harm."""
        line, plate = self.line, self.plate_m or 0.0
        assert line.fixture is not None
        assert line.part is not None
        assert line.conveyor.magnets is not None
        masses = [
            (line.conveyor.carrier.mass_kg, line.conveyor.carrier.mass_height_m or 0.0),
            (line.fixture.mass_kg, line.fixture.mass_height_m or 0.0),
        ]
        if loaded:
            height = (line.fixture.seat_height_m or 0.0) + (line.part.mass_height_m or 0.0)
            masses += [(line.part.mass_kg, height)] * line.fixture.nests
        x, y, z = acceleration
        loads = [Load((-m * x, -m * y, -m * (z + GRAVITY_m_s2)), (0, 0, plate + height)) for m, height in masses]
        loads.append(Load((0, 0, -line.conveyor.magnets.attraction_N), (0, 0, self.thrust_m or 0.0)))
        loads.append(Load((drag, 0, 0), (0, 0, 0)))
        return loads

    def blocks(self, loads: list[Load]) -> Given:
        assert self.guides is not None
        return settle(self.guides, self.thrust_m or 0.0, loads)


def facts_of(line: Line) -> Facts:
    guides, part, fixture, sheet = line.conveyor.guides, line.part, line.fixture, line.conveyor
    heights = {
        "plate_height": guides is not None and guides.plate_height_m is None,
        "thrust_height": guides is not None and guides.thrust_height_m is None,
        "mass_height of carrier": sheet.carrier.mass_height_m is None,
        "mass_height of fixture": fixture is not None and fixture.mass_kg > 0.0 and fixture.mass_height_m is None,
        "seat_height": fixture is not None and fixture.seat_height_m is None,
        "mass_height of part": part is not None and part.mass_height_m is None,
    }
    return Facts(line, guides, tuple(name for name, is_missing in heights.items() if is_missing))


# ---- one station -----------------------------------------------------------------------------------------------------


def vector(force: ToolForce, scale: float = 1.0) -> tuple[float, float, float]:
    """Along, across, up."""
    return scale * force.along_N, scale * force.across_N, -scale * force.down_N


@dataclass(frozen=True)
class Pushed:
    """A station's forces at their greatest, whole and net of supports, and the greatest over which of them push."""

    station: Station
    whole: list[tuple[float, float, float]]
    net: list[tuple[float, float, float]]
    points: list[tuple[float, float, float] | None]

    def subsets(self) -> Iterator[tuple[int, ...]]:
        numbers = range(len(self.whole))
        return itertools.chain.from_iterable(itertools.combinations(numbers, n) for n in range(len(self.whole) + 1))

    def most(self, net: bool, axis: int, sign: int) -> float:
        of = self.net if net else self.whole
        return max(sum(sign * of[n][axis] for n in some) for some in self.subsets())


def supported(station: Station, force: tuple[float, float, float]) -> tuple[float, float, float]:
    support = station.support
    if support is None:
        return force
    held = (support.along_N, support.across_N, support.down_N)
    return tuple(0.0 if takes is not None else part for takes, part in zip(held, force, strict=True))  # type: ignore[return-value]


def pushed_at(station: Station, scale: float = 1.0) -> Pushed:
    assert station.force is not None
    whole = [
        vector(one, scale * (1.0 if one.greatest_N is None else one.greatest_N / one.size_N)) for one in station.force
    ]
    return Pushed(station, whole, [supported(station, one) for one in whole], [one.at_m for one in station.force])


def knows_blocks(facts: Facts, pushed: Pushed) -> bool:
    """Whether the page lets the blocks' loads under these forces be told."""
    if not facts.can_bear:
        return False
    if None in pushed.points:
        return False
    for force in pushed.net:
        if facts.plate_m is None and (force[0] or force[1]):
            return False
        if facts.thrust_m is None and force[0]:
            return False
    return True


def worst_blocks(facts: Facts, pushed: Pushed) -> tuple[float, float]:
    """Greatest load and least normal load of any block, over which tools push and over both carriers."""
    greatest, least = 0.0, math.inf
    for loaded in (False, True):
        own = facts.own(loaded)
        for some in pushed.subsets():
            loads = list(own)
            for n in some:
                if any(pushed.net[n]):
                    point = pushed.points[n]
                    assert point is not None
                    loads.append(Load(pushed.net[n], (point[0], point[1], point[2] + (facts.plate_m or 0.0))))
            given = facts.blocks(loads)
            greatest, least = max(greatest, float(given.load_N.max())), min(least, float(given.normal_N.min()))
    return greatest, least


def _limited(code: str, station: str, value: float, limit: float, unit: str = "N", *words: str) -> Row:
    # A tolerance of nothing is broken by anything, and met by nothing with nothing to spare.
    margin = 1.0 - value / limit if limit > 0.0 else -1.0 if value > 0.0 else 0.0
    return Row(code, verdict_of(margin), value, limit, unit, margin, (f"station {station}", *words))


def station_rows(facts: Facts, pushed: Pushed) -> Iterator[Row]:
    """Every row of a station that pushes, but deflection."""
    line, name, sheet = facts.line, pushed.station.name, facts.line.conveyor
    down, lift = pushed.most(True, 2, -1), pushed.most(True, 2, 1)
    across, along = (max(pushed.most(True, axis, sign) for sign in (1, -1)) for axis in (1, 0))
    if sheet.allowed_force is not None:
        allowed = (sheet.allowed_force.down_N, sheet.allowed_force.across_N, sheet.allowed_force.along_N)
        for axis, value, limit in zip(AXES, (down, across, along), allowed, strict=True):
            if value > 0.0:
                yield _limited(f"force-{axis}", name, value, limit)
    support = pushed.station.support
    if support is not None:
        takes = (support.down_N, support.across_N, support.along_N)
        for axis, number, limit in zip(AXES, (2, 1, 0), takes, strict=True):
            value = max(pushed.most(False, number, sign) for sign in (1, -1))
            if limit is not None and value > 0.0:
                yield _limited("support", name, value, limit, "N", axis)
    if along > 0.0:
        yield _limited("holding-lasting", name, along, 0.7 * sheet.drive.continuous_thrust_N)
        yield _limited("holding-short", name, along, 0.8 * sheet.drive.thrust[0][1])
    if lift > 0.0 and sheet.magnets is not None and line.fixture is not None and weighs_fixture(line):
        weight = (sheet.carrier.mass_kg + line.fixture.mass_kg) * GRAVITY_m_s2
        yield _limited("carrier-lift", name, lift, sheet.magnets.attraction_N + weight)
    if knows_blocks(facts, pushed):
        assert facts.guides is not None
        greatest, least = worst_blocks(facts, pushed)
        safety = facts.guides.static_rating_N / greatest
        margin = safety / facts.least_safety - 1.0
        words = (f"station {name}",)
        yield Row("static-safety", verdict_of(margin), safety, facts.least_safety, None, margin, words)
        yield Row("block-uplift", "holds", least, None, "N", None, words)


def allowed_force(facts: Facts, station: Station) -> tuple[float, set[str]]:
    """Greatest force of the largest tool at which all rows hold, by halving, and the rows that set it."""

    def failing(scale: float) -> set[str]:
        return {row.code for row in station_rows(facts, pushed_at(station, scale)) if row.verdict == "fails"}

    low, high = 0.0, 1.0
    while not failing(high):
        low, high = high, 2.0 * high
        if high > 1e12:
            return math.inf, set()
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if failing(middle) else (middle, high)
    assert station.force
    return low * max(one.greatest_N or one.size_N for one in station.force), failing(high * (1.0 + 1e-9))


def off_rows(line: Line, station: Station) -> Iterator[Row]:
    """Forces that act where there is neither carrier nor fixture."""
    carrier = line.conveyor.carrier
    bodies = [(carrier.length_m, carrier.width_m)]
    if line.fixture is not None and line.fixture.envelope_m is not None:
        bodies.append(line.fixture.envelope_m[:2])
    for force in station.force or ():
        if force.at_m is None:
            continue
        # Of each body by how much of its half side the point is beyond the middle, the farther axis; inside up to 1.
        out = [
            max((abs(at) / (side / 2), abs(at), side / 2) for at, side in zip(force.at_m[:2], body, strict=True))
            for body in bodies
        ]
        share, value, limit = min(out)
        if share > 1.0 + 1e-9:
            yield Row("force-off-carrier", "fails", value, limit, "m", 1.0 - share, (f"station {station.name}",))


# ---- deflection ------------------------------------------------------------------------------------------------------


def can_deflect(line: Line) -> bool:
    guides = line.conveyor.guides
    return guides is not None and None not in (
        guides.stiffness_N_m, guides.side_stiffness_N_m, guides.plate_height_m, guides.thrust_height_m,
        line.conveyor.drive.servo_stiffness_N_m,
    )  # fmt: skip


def deflections(facts: Facts, station: Station) -> tuple[float, float, float]:
    """How far the points give way along, across and up under the stated forces, the greatest of each."""
    assert facts.guides is not None
    assert station.force
    guides, plate = facts.guides, facts.guides.plate_height_m or 0.0
    points = [one.at_m for one in station.force]
    if station.tool is not None and station.tool.at_m is not None:
        points.append(station.tool.at_m)
    loads = [
        Load(supported(station, vector(one)), (one.at_m[0], one.at_m[1], one.at_m[2] + plate))
        for one in station.force
        if one.at_m is not None
    ]
    k, side, servo = guides.stiffness_N_m, guides.side_stiffness_N_m, facts.line.conveyor.drive.servo_stiffness_N_m
    assert k is not None
    assert side is not None
    assert servo is not None
    given = settle(guides, guides.thrust_height_m or 0.0, loads, k, side, servo)
    moved = [
        np.abs(given.shift_m + np.cross(given.turn_rad, np.array([x, y, z + plate])))
        for x, y, z in (point for point in points if point is not None)
    ]
    along, across, up = np.max(moved, axis=0).tolist()
    return along, across, up


def deflection_row(facts: Facts, station: Station) -> Row:
    given = deflections(facts, station)
    tolerance = station.tolerance
    if tolerance is None:
        value = max(given)
        return Row("deflection", "holds", value, None, "m", None, (f"station {station.name}",))
    limits = (tolerance.x_m, tolerance.y_m, tolerance.z_m)
    rows = [
        _limited("deflection", station.name, value, limit, "m", axis)
        for value, limit, axis in zip(given, limits, SHIFTS, strict=True)
        if limit is not None
    ]
    return min(rows, key=lambda row: (row.margin or 0.0, -(row.value or 0.0)))


# ---- moving and life -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class State:
    """A state of motion of the page's table."""

    name: str
    loads: list[Load]


def side_pull_m_s2(line: Line) -> float:
    curve = line.conveyor.curve
    has_ring = any(lane.ring is not None for lane in line.lanes)
    if not has_ring or curve is None:
        return 0.0
    own = None if line.move_limits is None else line.move_limits.speed_m_s
    return min(curve.speed_m_s, own or math.inf) ** 2 / curve.radius_m


def states(facts: Facts) -> Iterator[State]:
    line, drive = facts.line, facts.line.conveyor.drive
    pull, drag = side_pull_m_s2(line), -drive.friction_N
    own = None if line.move_limits is None else line.move_limits.acceleration_m_s2
    hardest = min(drive.acceleration_m_s2, own or math.inf)
    for loaded in (False, True):
        yield State("speeding up", facts.own(loaded, (hardest, pull, 0), drag))
        yield State("braking", facts.own(loaded, (-hardest, pull, 0), drag))
        if line.conveyor.stopping is not None:
            yield State("emergency", facts.own(loaded, (-line.conveyor.stopping.deceleration_m_s2, pull, 0), drag))
        for kind in {transfer.kind for transfer in line.transfers}:
            rise = line.conveyor.transfers[kind].acceleration_m_s2
            for sign in (1, -1):
                way = (0, 0, sign * rise) if kind == "lift" else (0, sign * rise, 0)
                yield State(kind, facts.own(loaded, way))


def moving_rows(facts: Facts) -> Iterator[Row]:
    if not facts.can_move:
        return
    assert facts.guides is not None
    found = [facts.blocks(state.loads) for state in states(facts)]
    worst = max(float(one.load_N.max()) for one in found)
    safety, limit = facts.guides.static_rating_N / worst, facts.least_safety
    margin = safety / limit - 1.0
    yield Row("static-safety-moving", verdict_of(margin), safety, limit, None, margin, ("carrier",))
    yield Row("block-uplift", "holds", min(float(one.normal_N.min()) for one in found), None, "N", None, ("carrier",))


def mean_load_N(facts: Facts, layout: Layout, duty: Duty) -> float:
    """Cubic mean of the worst block's load over every stretch of every move."""
    assert facts.guides is not None
    drag = -facts.line.conveyor.drive.friction_N
    cubes, travel_m = np.zeros(4), 0.0
    times_made = np.bincount(duty.leg, minlength=len(duty.legs))
    for leg, made in zip(duty.legs, times_made.tolist(), strict=True):
        lane, move = layout.lanes[leg.lane], leg.move
        back = (not lane.is_ring) and ((lane.from_ == "east") != (leg.end_m < leg.start_m))
        sign = -1.0 if back else 1.0
        pull = 0.0
        if leg.curved:
            radius = lane.radius_m
            assert radius is not None
            pull = move.peak_speed_m_s**2 / radius
        up_m, down_m = move.speeding_up.travel_m, move.slowing_down.travel_m
        cruise_m = move.distance_m - up_m - down_m
        stretches = ((move.peak_acceleration_m_s2, up_m), (0.0, cruise_m), (-move.peak_deceleration_m_s2, down_m))
        for acceleration, stretch_m in stretches:
            loads = facts.own(leg.loaded, (sign * acceleration, pull, 0.0), sign * drag)
            cubes += facts.blocks(loads).load_N ** 3 * stretch_m * made
            travel_m += stretch_m * made
    return float(np.cbrt(cubes.max() / travel_m))


def travel_a_year_m(line: Line, layout: Layout, duty: Duty | None) -> float | None:
    demand = line.demand
    if demand is None:
        return None
    if duty is not None:
        usable_s = demand.shifts_per_day * demand.paid_time_per_shift_s * demand.days_per_year
        usable_s *= 1.0 - demand.losses_not_modelled
        gone: dict[int, float] = defaultdict(float)
        for carrier, leg in zip(duty.carrier.tolist(), duty.leg.tolist(), strict=True):
            gone[carrier] += duty.legs[leg].move.distance_m
        return max(gone.values()) / (duty.to_s - duty.from_s) * usable_s
    reworks = any(station.rework is not None for station in line.stations)
    if not layout.is_closed or line.variants or reworks or line.carrier_changes:
        return None
    firsts = [line.station(step.stations[0]) for step in line.route]
    loads = demand.good_parts_per_year / math.prod(1.0 - one.rejects for one in firsts) / (1.0 - firsts[0].misses)
    nests = 1 if line.fixture is None else line.fixture.nests
    return loads / nests * laps(line, layout) * layout.loop_m / line.carriers


def laps(line: Line, layout: Layout) -> int:
    """How often a load goes round between two starts: the ways from each step to the next, over the loop."""
    places = [layout.stop_of(step.stations[0]).axis_m for step in line.route]
    ways = [
        (after - before) % layout.loop_m or layout.loop_m
        for before, after in zip(places, places[1:] + places[:1], strict=True)
    ]
    return round(sum(ways) / layout.loop_m)


def life_rows(facts: Facts, layout: Layout, duty: Duty | None) -> Iterator[Row]:
    guides = facts.guides
    if guides is None:
        return
    life_m: float | None = None
    if guides.kind == "other":
        life_m = guides.travel_life_m
        if life_m is None:
            yield Row("guide-life", "not checked")
        else:
            yield Row("guide-life", "holds", life_m / 1e3, None, "km", None)
    elif facts.can_move:
        if duty is not None:
            load_N = mean_load_N(facts, layout, duty)
        else:
            found = [facts.blocks(one.loads) for one in states(facts) if one.name in ("speeding up", "braking")]
            load_N = max(float(one.load_N.max()) for one in found)
        factor = 1.0 if guides.load_factor is None else guides.load_factor
        life_m = (guides.dynamic_rating_N / (factor * load_N)) ** 3 * guides.rating_travel_m
        checked = guides.load_factor is not None
        yield Row("guide-life", "holds" if checked else "not checked", life_m / 1e3, None, "km", None)
        if checked or factor * load_N > guides.dynamic_rating_N / 2.0:
            yield _life_limit(factor * load_N, guides.dynamic_rating_N / 2.0)
    if life_m is not None:
        a_year_m = travel_a_year_m(facts.line, layout, duty)
        if a_year_m is None:
            yield Row("guide-years", "not checked")
        else:
            known = guides.kind == "other" or guides.load_factor is not None
            yield Row("guide-years", "holds" if known else "not checked", life_m / a_year_m, None, "years", None)


def _life_limit(value: float, limit: float) -> Row:
    margin = 1.0 - value / limit
    return Row("guide-load", verdict_of(margin), value, limit, "N", margin)


# ---- all rows --------------------------------------------------------------------------------------------------------


def strength_rows(line: Line, layout: Layout, duty: Duty | None = None) -> list[Row]:
    """What the page says of a line."""
    facts = facts_of(line)
    told: list[Row] = []
    missing: Missing = defaultdict(set)
    for station in line.stations:
        if station.force is None:
            missing["tool-force"].add(station.name)
        if not station.force:
            continue
        pushed = pushed_at(station)
        rows = list(station_rows(facts, pushed))
        if any(one.greatest_N is None for one in station.force):
            missing["greatest-force"].add(station.name)
            rows = [row for row in rows if row.verdict == "fails"]
        if facts.guides is not None and None in pushed.points:
            missing["tool-point"].add(station.name)
        elif can_deflect(line):  # at the stated force, so that its greatest does not matter
            rows.append(deflection_row(facts, station))
        told += rows + list(off_rows(line, station))
    told = list(grouped(told))
    told += [Row(code, "not checked", words=tuple(sorted(names))) for code, names in missing.items()]
    told += [Row(code, "not checked") for code in missing_codes(facts)]
    return told + list(moving_rows(facts)) + list(life_rows(facts, layout, duty))


def missing_codes(facts: Facts) -> Iterator[str]:
    line, sheet = facts.line, facts.line.conveyor
    pushes = any(station.force for station in line.stations)
    lifts = any(pushed_at(station).most(True, 2, 1) > 0.0 for station in line.stations if station.force)
    if sheet.allowed_force is None and any(station.force != () for station in line.stations):
        yield "allowed-force"
    if sheet.guides is None:
        # Of what hangs on the blocks' loads the missing blocks tell enough; lifting does not hang on them.
        yield "guide-blocks"
        if lifts and sheet.magnets is None:
            yield "magnet-attraction"
        if lifts and not weighs_fixture(line):
            yield "carried-mass"
        return
    if sheet.magnets is None:
        yield "magnet-attraction"
    if line.part is None or not weighs_fixture(line):
        yield "carried-mass"
    elif facts.heights:
        yield "heights"
    if sheet.stopping is None:
        yield "emergency-stop"
    if pushes and sheet.guides is not None and not can_deflect(line):
        yield "deflection"


def grouped(rows: list[Row]) -> Iterator[Row]:
    """Those that fail or are tight, and of those that hold the worst alone."""
    held: dict[tuple[str, bool], list[Row]] = defaultdict(list)
    for row in rows:
        if row.verdict in ("fails", "tight"):
            yield row
        else:
            held[row.code, row.margin is None].append(row)
    for (code, _), some in held.items():
        worst = min(some, key=lambda row: _worth(code, row))
        stations = {row.words[0] for row in some}
        yield Row(code, "holds", worst.value, worst.limit, worst.unit, worst.margin, worst.words, of=len(stations))


def _worth(code: str, row: Row) -> float:
    if row.margin is not None:
        return row.margin
    assert row.value is not None
    return -row.value if code == "deflection" else row.value
