"""Changes of a line that may shorten its line cycle: from its causes, and from how it is built.

A change is a whole line again, so that it goes the way of every line: laid out, planned, run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from linewright.flow.causes import main_cause
from linewright.layout import Layout
from linewright.layout.stops import INCH_M, length_text
from linewright.line.model import Failure, Held, Line, Station, Step, TimeLaw
from linewright.line.sheet import Sheet
from linewright.motion.limits import carrier_limits
from linewright.motion.settling import quickest_jerk
from linewright.traffic.compile import vibration_at_stations
from linewright.traffic.plan import LOADED

if TYPE_CHECKING:
    from linewright.flow.run import Run

# A cause under this share of the line cycle proposes no change of its own.
LEAST_SHARE: Final = 0.005
LEAST_SHARE_OF_ALL: Final = 0.002
"""The same for a figure of the sheet, which all places share."""
SHORTER_S: Final = 0.1
MORE: Final = 1.1
"""A tenth more acceleration, jerk, hold or speed."""
JUST_BESIDE_M: Final = 1e-6
BESIDE_PITCHES: Final = 1.5
"""Least pitches between stations of one step: too near for a waiting stop between them."""


@dataclass(frozen=True, eq=False)
class Change:
    """One change of a line.

    Parameters
    ----------
    words : what is changed, for a person
    place : the one station, step or transfer where it is changed; None for several, and for the whole line
    line : the line with the change
    same_track : track, moves and carriers are those of the line without it
    together : the transfers, where several are changed in one; else empty
    """

    words: str
    place: str | None
    line: Line
    same_track: bool
    together: tuple[str, ...] = ()

    @property
    def places(self) -> tuple[str, ...]:
        """Everywhere where something is changed; empty for the whole line."""
        return self.together if self.place is None else (self.place,)


def find_changes(line: Line, layout: Layout, run: Run) -> tuple[Change, ...]:
    """The changes worth a trial: of each cause that takes half a per cent of the line cycle or more, and of structure.

    Parameters
    ----------
    line, layout : a line and its track
    run : its run, with causes

    Returns
    -------
    tuple of Change   In the order of the causes; those of the structure last.
    """
    shares = _shares(run)
    found = [
        *_works(line, shares),
        *_tools(line, shares),
        *_repairs(line, shares),
        *_gates(line, shares),
        *_controls(line, shares),
        *_settling(line, layout, shares),
        *_transfers(line, layout, shares),
        *_motion(line, layout, shares),
        *_structure(line, layout, run),
    ]
    return tuple(found)


def _shares(run: Run) -> dict[tuple[str, str], float]:
    rows = run.cycle_causes.rows()
    return {(str(row["kind"]), str(row["place"])): float(row["share"]) for row in rows}


def _at(shares: dict[tuple[str, str], float], kinds: Iterable[str], places: Iterable[str]) -> float:
    return sum(shares.get((kind, place), 0.0) for kind in kinds for place in places)


def _works(line: Line, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """A tenth of a second less work at each step that is a cause; a tenth of the work where that is less."""
    for step in line.route:
        if _at(shares, ("work",), step.stations) < LEAST_SHARE:
            continue
        mean_s = line.station(step.stations[0]).time.mean_s
        less_s = min(SHORTER_S, 0.1 * mean_s)
        changed = _quicker_work(line, step.stations, 1.0 - less_s / mean_s)
        yield Change(f"work at {step.name} {less_s:.3g} s shorter", step.name, changed, True)


def _tools(line: Line, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """The tool ready whenever a carrier is, and clear in half the time."""
    for station in line.stations:
        if station.prepare_s > 0.0 and _at(shares, ("prepare",), (station.name,)) >= LEAST_SHARE:
            changed = with_stations(line, (station.name,), lambda s: {"prepare_s": 0.0})
            yield Change(f"prepare at {station.name} wholly overlapped", station.name, changed, True)
        if station.clear_s > 0.0 and _at(shares, ("clear",), (station.name,)) >= LEAST_SHARE:
            changed = with_stations(line, (station.name,), lambda s: {"clear_s": 0.5 * s.clear_s})
            yield Change(f"clear at {station.name} halved", station.name, changed, True)


def _repairs(line: Line, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    def halved(failures: tuple[Failure, ...]) -> tuple[Failure, ...]:
        return tuple(one.model_copy(update={"repair": scaled_law(one.repair, 0.5)}) for one in failures)

    for station in line.stations:
        if _at(shares, ("repair", "clock failure"), (station.name,)) >= LEAST_SHARE:
            changed = with_stations(line, (station.name,), lambda s: {"failures": halved(s.failures)})
            yield Change(f"repairs at {station.name} halved", station.name, changed, True)


def _gates(line: Line, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """What a station waits for with a carrier before it: an operator more, a quicker changeover, a quicker machine
    outside or a larger buffer of it."""
    for pool in line.operators:
        if _at(shares, ("operator",), pool.stations) >= LEAST_SHARE:
            more = pool.model_copy(update={"operators": pool.operators + 1})
            pools = tuple(more if one.name == pool.name else one for one in line.operators)
            changed = line.model_copy(update={"operators": pools})
            yield Change(f"an operator more for {pool.name}", None, changed, True)
    for station in line.stations:
        name = station.name
        if station.changeover is not None and _at(shares, ("changeover",), (name,)) >= LEAST_SHARE:
            changed = with_stations(line, (name,), lambda s: {"changeover": s.changeover and s.changeover.scaled(0.5)})
            yield Change(f"changeover at {name} halved", name, changed, True)
        if _at(shares, ("outside",), (name,)) < LEAST_SHARE:
            continue
        for key, words in (("feed", "feed"), ("take_away", "take-away")):
            machine = getattr(station, key)
            if machine is None:
                continue
            quick = machine.model_copy(update={"every": scaled_law(machine.every, 1.0 / MORE)})
            large = machine.model_copy(update={"buffer": 2 * machine.buffer})
            yield Change(f"a tenth faster {words} at {name}", name, _updated(line, name, {key: quick}), True)
            yield Change(f"a {words} buffer twice as large at {name}", name, _updated(line, name, {key: large}), True)


def _updated(line: Line, name: str, update: dict[str, object]) -> Line:
    return with_stations(line, (name,), lambda station: update)


def _quicker_work(line: Line, names: tuple[str, ...], factor: float) -> Line:
    """Less work at these stations, for every variant."""
    return with_work(line, names, lambda law: scaled_law(law, factor))


def _controls(line: Line, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """Reaction, handshakes and settling halved: figures of the sheet, for every station at once."""
    sheet = line.conveyor
    by_kind: dict[str, float] = {}
    for (kind, _), share in shares.items():
        by_kind[kind] = by_kind.get(kind, 0.0) + share
    reaction = sheet.reaction
    if by_kind.get("reaction", 0.0) >= LEAST_SHARE_OF_ALL:
        quick = reaction.model_copy(update={"follow_s": 0.5 * reaction.follow_s})
        yield Change("reaction of followers halved", None, with_sheet(line, {"reaction": quick}), True)
    if by_kind.get("start handshake", 0.0) + by_kind.get("done handshake", 0.0) >= LEAST_SHARE_OF_ALL:
        times = {
            "start_handshake_s": 0.5 * reaction.start_handshake_s,
            "done_handshake_s": 0.5 * reaction.done_handshake_s,
        }
        quick = reaction.model_copy(update=times)
        yield Change("both handshakes halved", None, with_sheet(line, {"reaction": quick}), True)
    unstated = any(s.settling_s is None and s.window_m is None for s in line.stations)
    if by_kind.get("settling", 0.0) >= LEAST_SHARE_OF_ALL and sheet.settling_s > 0.0 and unstated:
        changed = with_sheet(line, {"settling_s": 0.5 * sheet.settling_s})
        yield Change("settling of the sheet halved", None, changed, True)


def _settling(line: Line, layout: Layout, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """Half a stated settling; where a window sets it, a stiffer fixture and the jerk that costs the worst one least."""
    causes = [station for station in line.stations if _at(shares, ("settling",), (station.name,)) >= LEAST_SHARE]
    for station in causes:
        if station.settling_s is not None and station.settling_s > 0.0:
            changed = with_stations(line, (station.name,), _settled_after(0.5 * station.settling_s))
            yield Change(f"settling at {station.name} halved", station.name, changed, True)
    windows = [station.name for station in causes if station.window_m is not None]
    fixture = line.fixture
    if not windows or fixture is None or fixture.natural_frequency_hz is None or fixture.damping is None:
        return
    stiffer = fixture.model_copy(update={"natural_frequency_hz": MORE * fixture.natural_frequency_hz})
    changed = line.model_copy(update={"fixture": stiffer})
    yield Change("fixture with a tenth more natural frequency", None, changed, True)
    worst = max(
        (one for one in vibration_at_stations(line, layout) if one.station in windows),
        key=lambda one: _at(shares, ("settling",), (one.station,)),
    )
    moves = sorted({(arrival.load, arrival.move.distance_m) for arrival in worst.arrivals})
    legs = tuple((distance_m, carrier_limits(line, load == LOADED, distance_m).limits) for load, distance_m in moves)
    sheet = line.conveyor
    choice = quickest_jerk(
        legs, fixture.natural_frequency_hz, fixture.damping, worst.window_m, least_settling_s=sheet.settling_s
    )
    if choice.saved_s > 0.0:
        changed = with_sheet(line, {"drive": sheet.drive.model_copy(update={"jerk_m_s3": choice.jerk_m_s3})})
        jerk = choice.jerk_m_s3
        jerk_text = f"{jerk / INCH_M:.4g} in/s³" if line.units == "inch" else f"{jerk:.4g} m/s³"
        yield Change(f"drive with a jerk of {jerk_text}", None, changed, False)


def _settled_after(time_s: float) -> Callable[[Station], dict[str, object]]:
    return lambda station: {"settling_s": time_s}


def _transfers(line: Line, layout: Layout, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """A tenth more speed, acceleration and jerk of the platforms, and interlocks in half the time."""
    for kind in sorted({transfer.kind for transfer in layout.transfers}):
        names = [transfer.name for transfer in layout.transfers if transfer.kind == kind]
        if _at(shares, ("transfer",), names) < LEAST_SHARE:
            continue
        one = line.conveyor.transfers[kind]
        quick = {
            "speed_m_s": MORE * one.speed_m_s,
            "acceleration_m_s2": MORE * one.acceleration_m_s2,
            "jerk_m_s3": MORE * one.jerk_m_s3,
        }
        short = {"unlock_s": 0.5 * one.unlock_s, "align_s": 0.5 * one.align_s, "lock_s": 0.5 * one.lock_s}
        for words, update in (("speed, acceleration and jerk a tenth higher", quick), ("interlocks halved", short)):
            sheets = {**line.conveyor.transfers, kind: one.model_copy(update=update)}
            changed = with_sheet(line, {"transfers": sheets})
            place, together = (names[0], ()) if len(names) == 1 else (None, tuple(names))
            yield Change(f"{' and '.join(names)}: {words}", place, changed, False, together)


def _motion(line: Line, layout: Layout, shares: dict[tuple[str, str], float]) -> Iterator[Change]:
    """More of what governs the moves over a least pitch: the hold of the part, the drive's jerk or its acceleration."""
    moving = sum(share for (kind, _), share in shares.items() if kind in ("exchange move", "travel"))
    if moving < LEAST_SHARE:
        return
    governs = {carrier_limits(line, loaded, layout.pitch_m).governs for loaded in (False, True)}
    drive = line.conveyor.drive
    held = None if line.part is None else line.part.held
    if any(name.startswith("part hold") for name in governs) and line.part is not None and held is not None:
        part = line.part.model_copy(update={"held": _held_better(held)})
        changed = line.model_copy(update={"part": part})
        yield Change("part held for a tenth more acceleration", None, changed, False)
    if "drive acceleration" in governs or "drive speed" in governs:
        faster = {"acceleration_m_s2": MORE * drive.acceleration_m_s2, "speed_m_s": MORE * drive.speed_m_s}
        changed = with_sheet(line, {"drive": drive.model_copy(update=faster)})
        yield Change("drive with a tenth more speed and acceleration", None, changed, False)
    if "jerk" in governs:
        changed = with_sheet(line, {"drive": drive.model_copy(update={"jerk_m_s3": MORE * drive.jerk_m_s3})})
        yield Change("drive with a tenth more jerk", None, changed, False)
    if "thrust" in governs and line.fixture is not None and line.fixture.mass_kg > 0.0:
        lighter = line.fixture.model_copy(update={"mass_kg": line.fixture.mass_kg / MORE})
        changed = line.model_copy(update={"fixture": lighter})
        yield Change("fixture a tenth lighter", None, changed, False)


def _held_better(held: Held) -> Held:
    if held.friction is not None:
        better = held.friction.model_copy(
            update={
                "coefficient": MORE * held.friction.coefficient,
                "half_base_m": None if held.friction.half_base_m is None else MORE * held.friction.half_base_m,
            }
        )
        return held.model_copy(update={"friction": better})
    name = "pocket_m_s2" if held.kind == "pocket" else "clamp_m_s2"
    return held.model_copy(update={name: MORE * (held.acceleration_m_s2 or 0.0)})


def _structure(line: Line, layout: Layout, run: Run) -> Iterator[Change]:
    """One carrier more or fewer; where most of the line cycle passes, a station or a waiting stop more or one fewer.

    Tracks other than a loop of straight lanes are not stretched, and the sets of fixtures say how many carriers are.
    """
    if line.fixture_sets:
        return
    yield Change("one carrier more", None, line.model_copy(update={"carriers": line.carriers + 1}), False)
    if line.carriers > 1:
        yield Change("one carrier fewer", None, line.model_copy(update={"carriers": line.carriers - 1}), False)
    step = _main_step(line, run)
    if step is None or not line.is_plain_loop:
        return
    yield _parallel(line, layout, step)
    yield from _closer(line, layout, step)
    before = line.station(_first_in_travel(line, step.stations))
    changed = _stretched(line, before, layout.pitch_m, upstream=True)
    yield Change(f"a waiting stop more before {before.name}", before.name, changed, False)
    after = line.station(_first_in_travel(line, step.stations, last=True))
    changed = _stretched(line, after, layout.pitch_m, upstream=False)
    yield Change(f"a waiting stop more after {after.name}", after.name, changed, False)


def _main_step(line: Line, run: Run) -> Step | None:
    """The step where most of the line cycle passes; the limiting one where that is a transfer."""
    main = main_cause(run.cycle_causes, run.stations)
    names = [main.name if main is not None else "", run.limiting.step if run.limiting is not None else ""]
    return next((step for name in names for step in line.route if step.name == name), None)


def _parallel(line: Line, layout: Layout, step: Step) -> Change:
    """A station like the first of a step, upstream of it, no waiting stop between: the track grows by as much."""
    like = line.station(_first_in_travel(line, step.stations))
    room_m = _beside_m(layout, like, like)
    names = {station.name for station in line.stations}
    name = next(f"{like.name}-{n}" for n in range(2, 99) if f"{like.name}-{n}" not in names)
    wider = _stretched(line, like, room_m, upstream=True)
    moved = wider.station(like.name)
    new = moved.model_copy(update={"name": name, "at_m": moved.at_m - _direction(line, like) * room_m})
    place = wider.stations.index(moved)
    route = tuple(
        one.model_copy(update={"stations": (name, *one.stations)}) if one.stations == step.stations else one
        for one in wider.route
    )
    stations = (*wider.stations[:place], new, *wider.stations[place:])
    changed = wider.model_copy(update={"stations": stations, "route": route})
    words = f"a station more for {step.name}, and {length_text(room_m, line.units)} more track"
    return Change(words, step.name, changed, False)


def _closer(line: Line, layout: Layout, step: Step) -> Iterator[Change]:
    """The stations of a step so near to each other that no carrier waits between them."""
    lane = line.station(_first_in_travel(line, step.stations)).lane
    here = [line.station(name) for name in step.stations if line.station(name).lane == lane]
    here.sort(key=lambda station: _direction(line, station) * station.at_m)
    for near, far in pairwise(here):
        between_m = _beside_m(layout, near, far)
        behind, before = layout.stop_of(near.name).index, layout.stop_of(far.name).index
        if before - behind < 2 or abs(far.at_m - near.at_m) <= between_m:
            continue
        at_m = near.at_m + _direction(line, near) * between_m
        changed = with_stations(line, (far.name,), _moved_to(at_m))
        words = f"{far.name} {length_text(between_m, line.units)} after {near.name}: no waiting stop between"
        yield Change(words, step.name, changed, False)


def _beside_m(layout: Layout, near: Station, far: Station) -> float:
    """How far apart two stations of a step may stand so that no carrier waits between them.

    A waiting stop needs a pitch, or the keep-clear stretch and half a body, to either station: what a stretch takes
    beyond a pitch may be added, and the two stretches do not overlap.
    """
    half_m = 0.5 * layout.body_m
    beyond_m = sum(max(0.0, one.keep_clear_m + half_m - layout.pitch_m) for one in (near, far))
    return max(BESIDE_PITCHES * layout.pitch_m + beyond_m, near.keep_clear_m + far.keep_clear_m)


def _moved_to(at_m: float) -> Callable[[Station], dict[str, object]]:
    return lambda station: {"at_m": at_m}


def _stretched(line: Line, station: Station, by_m: float, upstream: bool) -> Line:
    """The line with so much more floor just up- or downstream of a station, on every lane that passes there."""
    eastward = _direction(line, station) > 0
    at_m = station.at_m - JUST_BESIDE_M if eastward == upstream else station.at_m + JUST_BESIDE_M

    def east_of(place_m: float) -> float:
        return place_m + by_m if place_m > at_m else place_m

    lanes = []
    for lane in line.lanes:
        spans = lane.west_end_m < at_m < lane.west_end_m + lane.length_m
        update = {"length_m": lane.length_m + by_m} if spans else {"west_end_m": east_of(lane.west_end_m)}
        lanes.append(lane.model_copy(update=update))
    stations = tuple(one.model_copy(update={"at_m": east_of(one.at_m)}) for one in line.stations)
    return line.model_copy(update={"lanes": tuple(lanes), "stations": stations})


def _direction(line: Line, station: Station) -> int:
    return 1 if line.lane(station.lane).to == "east" else -1


def _first_in_travel(line: Line, names: tuple[str, ...], last: bool = False) -> str:
    """Of the stations of one lane the first in travel, or the last; of several lanes on the lane listed first."""
    lanes = [lane.name for lane in line.lanes]

    def place(name: str) -> tuple[int, float]:
        station = line.station(name)
        return lanes.index(station.lane), _direction(line, station) * station.at_m

    return max(names, key=place) if last else min(names, key=place)


def scaled_law(law: TimeLaw, factor: float) -> TimeLaw:
    """The same law with all its times multiplied; its spread over its mean stays.

    Parameters
    ----------
    law : of a time
    factor : by which each of its times is multiplied, > 0
    """
    update: dict[str, object] = {
        name: getattr(law, name) * factor
        for name in ("stated_mean_s", "least_s", "likely_s", "most_s")
        if getattr(law, name) is not None
    }
    if law.times_s is not None:
        update["times_s"] = tuple(factor * time_s for time_s in law.times_s)
    return law.model_copy(update=update)


def with_stations(line: Line, names: tuple[str, ...], update: Callable[[Station], dict[str, object]]) -> Line:
    """The line with some of its stations changed.

    Parameters
    ----------
    line : any
    names : of the stations that are changed
    update : attributes of such a station and their new values
    """
    stations = tuple(s.model_copy(update=update(s)) if s.name in names else s for s in line.stations)
    return line.model_copy(update={"stations": stations})


def with_sheet(line: Line, update: dict[str, object]) -> Line:
    """The line with other figures in its conveyor sheet: attributes of the sheet and their new values."""
    sheet: Sheet = line.conveyor.model_copy(update=update)
    return line.model_copy(update={"conveyor": sheet})


def with_work(line: Line, names: tuple[str, ...], change: Callable[[TimeLaw], TimeLaw]) -> Line:
    """The line with other work times at some of its stations, for every variant.

    Parameters
    ----------
    line : any
    names : of the stations that are changed
    change : from a time law to the one in its place
    """
    variants = tuple(
        one.model_copy(update={"times": tuple((at, change(law) if at in names else law) for at, law in one.times)})
        for one in line.variants
    )
    changed = with_stations(line, names, lambda station: {"time": change(station.time)})
    return changed.model_copy(update={"variants": variants})
