"""What must fit together in a line: lanes and transfers into one loop, stations on lanes, a route that can be gone.

The checks run over a sketch of the line in which any value may be missing, so that a file with other faults still
gets all of its faults told at once. A check that needs a missing value says nothing.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from linewright.line.fields import LONGEST_TRACK_M, PathFault, in_unit
from linewright.line.units import LENGTH, SHARE, Dimension, QuantityFault, parse_quantity, shown

if TYPE_CHECKING:
    from linewright.line.model import Line

_SAME_PLACE_M = 1e-6


@dataclass(frozen=True)
class LaneSketch:
    """A lane as far as it is known. [m]"""

    name: str
    length_m: float | None
    from_: str | None
    to: str | None
    level_m: float | None
    across_m: float | None
    west_end_m: float | None

    def end_m(self, side: str | None) -> float | None:
        """The floor distance of the lane's west or east end."""
        if self.west_end_m is None or self.length_m is None or self.length_m <= 0.0 or side not in ("west", "east"):
            return None
        return self.west_end_m + (self.length_m if side == "east" else 0.0)


@dataclass(frozen=True)
class TransferSketch:
    """A transfer as far as it is known."""

    name: str
    kind: str | None
    takes: str | None
    gives: str | None


@dataclass(frozen=True)
class StationSketch:
    """A station as far as it is known; ``time`` is anything that can be compared."""

    name: str
    lane: str | None
    at_m: float | None
    time: Any
    rejects: float | None
    reject_exit: bool | None


@dataclass(frozen=True)
class LineSketch:
    """The line as far as it is known. ``None`` in place of a part: it cannot be read at all."""

    lanes: tuple[LaneSketch, ...] | None
    transfers: tuple[TransferSketch, ...] | None
    stations: tuple[StationSketch, ...] | None
    route: tuple[tuple[str, ...], ...] | None
    transfer_kinds: frozenset[str] | None

    def lane(self, name: str | None) -> LaneSketch | None:
        """The lane of that name, if there is one."""
        return next((lane for lane in self.lanes or () if lane.name == name), None)

    def station(self, name: str) -> StationSketch | None:
        """The station of that name, if there is one."""
        return next((station for station in self.stations or () if station.name == name), None)


def sketch_line(line: Line) -> LineSketch:
    """The sketch of a validated line: everything is known."""
    return LineSketch(
        lanes=tuple(
            LaneSketch(x.name, x.length_m, x.from_, x.to, x.level_m, x.across_m, x.west_end_m) for x in line.lanes
        ),
        transfers=tuple(TransferSketch(x.name, x.kind, x.takes, x.gives) for x in line.transfers),
        stations=tuple(StationSketch(x.name, x.lane, x.at_m, x.time, x.rejects, x.reject_exit) for x in line.stations),
        route=tuple(step.stations for step in line.route),
        transfer_kinds=frozenset(line.conveyor.transfers),
    )


def sketch_tree(
    tree: Mapping[str, Any], transfer_kinds: frozenset[str] | None, read_time: Callable[[Any], Any]
) -> LineSketch:
    """The sketch of a file's tree: what can be read is known, the rest is not.

    Parameters
    ----------
    tree : the values of the file, every ``like`` carried out
    transfer_kinds : the kinds of transfer that the conveyor sheet has; None: it cannot be read
    read_time : the law of a ``time:``, None where it cannot be read
    """
    lanes, transfers, stations = (_items(tree.get(key)) for key in ("lanes", "transfers", "stations"))
    route = tree.get("route")
    return LineSketch(
        lanes=None if lanes is None else tuple(
            LaneSketch(
                name,
                _length(item, "length"),
                _text(item, "from"),
                _text(item, "to"),
                *(_length(item, key, 0.0) for key in ("level", "across", "west_end")),
            )
            for name, item in lanes
        ),
        transfers=None if transfers is None else tuple(
            TransferSketch(name, *(_text(item, key) for key in ("kind", "takes", "gives"))) for name, item in transfers
        ),
        stations=None if stations is None else tuple(
            StationSketch(
                name,
                _text(item, "lane"),
                _length(item, "at"),
                read_time(item.get("time")),
                _quantity(item, "rejects", SHARE, 0.0),
                item.get("reject_exit", False) if isinstance(item.get("reject_exit", False), bool) else None,
            )
            for name, item in stations
        ),
        route=_route(route),
        transfer_kinds=transfer_kinds,
    )  # fmt: skip


def _items(value: Any) -> list[tuple[str, dict[str, Any]]] | None:
    if not isinstance(value, dict):
        return None
    return [(name, item if isinstance(item, dict) else {}) for name, item in value.items()]


def _route(value: Any) -> tuple[tuple[str, ...], ...] | None:
    if not isinstance(value, list) or not value:
        return None
    steps = [tuple(step) if isinstance(step, list) else (step,) for step in value]
    if not all(steps) or not all(isinstance(name, str) for step in steps for name in step):
        return None
    return tuple(steps)


def _text(item: Mapping[str, Any], key: str) -> str | None:
    value = item.get(key)
    return value if isinstance(value, str) else None


def _length(item: Mapping[str, Any], key: str, default: float | None = None) -> float | None:
    value = _quantity(item, key, LENGTH, default)
    return value if value is not None and abs(value) <= LONGEST_TRACK_M else None


def _quantity(item: Mapping[str, Any], key: str, dimension: Dimension, default: float | None) -> float | None:
    """The value of a key, the default where it is absent, None where it cannot be read."""
    if key not in item:
        return default
    try:
        return parse_quantity(item[key], dimension) if isinstance(item[key], str) else None
    except QuantityFault:
        return None


def nearest(word: str, known: Iterable[str]) -> str:
    """``did you mean 'press'? `` where a known word is near, else nothing.

    Examples
    --------
    >>> nearest("pres", ["press", "load"]), nearest("xyz", ["press"])
    ("did you mean 'press'? ", '')
    """
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"did you mean {shown(close[0])}? " if close else ""


def choice(word: str, known: Iterable[str], what: str) -> str:
    """What may stand in place of an unknown word: the nearest known one and the list of all."""
    words = list(known)
    listed = ", ".join(words[:30]) + (" …" if len(words) > 30 else "")
    return f"{nearest(word, words)}{what}: {listed or 'none'}"


def coherence_faults(line: LineSketch) -> list[PathFault]:
    """Everything that does not fit together, each with the path of the key it belongs to."""
    found = [*_lanes(line), *_transfers(line), *_stations(line), *_route_names(line)]
    if not any(path[:1] == ("transfers",) or path[:1] == ("lanes",) for path, _, _ in found):
        found += _loop(line)
    if not any(path[:1] == ("route",) for path, _, _ in found):
        found += [*_parallel(line), *_exits(line)]
    return found


def _lanes(line: LineSketch) -> Iterator[PathFault]:
    if line.lanes is None:
        return
    if len(line.lanes) < 2:
        count = "only one lane" if line.lanes else "no lane"
        yield ("lanes",), count, "write two lanes or more, joined into a loop by transfers"
    for lane in line.lanes:
        if lane.from_ in ("west", "east") and lane.from_ == lane.to:
            other = "east" if lane.from_ == "west" else "west"
            yield ("lanes", lane.name, "to"), f"the lane runs from {lane.from_} to {lane.to}", f"write to: {other}"


def _transfers(line: LineSketch) -> Iterator[PathFault]:
    for transfer in line.transfers or ():
        at = ("transfers", transfer.name)
        for key, name in (("takes", transfer.takes), ("gives", transfer.gives)):
            if name is not None and line.lanes is not None and line.lane(name) is None:
                yield (*at, key), f"there is no lane {shown(name)}", choice(name, (x.name for x in line.lanes), "lanes")
        stated = line.transfer_kinds
        if stated is not None and transfer.kind in ("lift", "cross-transfer") and transfer.kind not in stated:
            yield (*at, "kind"), f"the conveyor sheet has no {transfer.kind}", f"it has: {', '.join(sorted(stated))}"
        if transfer.takes is not None and transfer.takes == transfer.gives:
            yield (*at, "gives"), "the transfer gives to the lane that it takes from", "write another lane"
            continue
        takes, gives = line.lane(transfer.takes), line.lane(transfer.gives)
        if takes is not None and gives is not None:
            yield from _ends(transfer, takes, gives)


def _ends(transfer: TransferSketch, takes: LaneSketch, gives: LaneSketch) -> Iterator[PathFault]:
    """The ends of two lanes that a transfer joins lie at one place of the floor, one over or beside the other."""
    at = ("transfers", transfer.name)
    sides = {takes.to, gives.from_}
    if sides == {"west", "east"}:
        yield (
            (*at, "gives"),
            f"{shown(takes.name)} ends in the {takes.to}, {shown(gives.name)} starts in the {gives.from_}",
            f"name a lane that starts in the {takes.to}",
        )
        return
    end, start = takes.end_m(takes.to), gives.end_m(gives.from_)
    if end is not None and start is not None and abs(end - start) > _SAME_PLACE_M:
        ends = f"{shown(takes.name)} ends at {in_unit(end, LENGTH)}, {shown(gives.name)} starts at"
        yield (*at, "gives"), f"{ends} {in_unit(start, LENGTH)}", "give both ends one floor distance (length, west_end)"
    levels, sideways = (takes.level_m, gives.level_m), (takes.across_m, gives.across_m)
    if None in levels or None in sideways:
        return
    same_level, same_side = (abs(a - b) <= _SAME_PLACE_M for a, b in (levels, sideways))  # type: ignore[operator]
    if transfer.kind == "lift":
        if same_level:
            yield (
                (*at, "kind"),
                "a lift between lanes of one level",
                "give one of them another level, or write cross-transfer",
            )
        if not same_side:
            yield (*at, "kind"), "a lift between lanes that lie side by side", "give both lanes the same across"
    elif transfer.kind == "cross-transfer":
        if same_side:
            yield (*at, "kind"), "a cross transfer between lanes of one place across", "give one of them another across"
        if not same_level:
            yield (*at, "kind"), "a cross transfer between lanes of different levels", "give both lanes the same level"


def _loop(line: LineSketch) -> Iterator[PathFault]:
    """Every lane is taken from once and given to once, and following the transfers leads through all of them."""
    if line.lanes is None or line.transfers is None or None in {x.takes for x in line.transfers}:
        return
    if None in {x.gives for x in line.transfers}:
        return
    broken = False
    for key, verb in (("takes", "takes from"), ("gives", "gives to")):
        users: dict[str, list[str]] = {lane.name: [] for lane in line.lanes}
        for transfer in line.transfers:
            users[str(getattr(transfer, key))].append(transfer.name)
        for lane, names in users.items():
            if not names:
                broken = True
                yield (
                    ("lanes", lane),
                    f"no transfer {verb} the lane {shown(lane)}",
                    "join each end of a lane by one transfer",
                )
            for name in names[1:]:
                broken = True
                found = f"{shown(name)} {verb} {shown(lane)}, as {shown(names[0])} does"
                yield ("transfers", name, key), found, "join each end of a lane by one transfer"
    if broken or not line.lanes:
        return
    onward = {x.takes: x.gives for x in line.transfers}
    reached, lane_name = [], line.lanes[0].name
    while lane_name not in reached:
        reached.append(lane_name)
        lane_name = str(onward[lane_name])
    for lane_left in line.lanes:
        if lane_left.name not in reached:
            found = f"the lane {shown(lane_left.name)} is not in the loop of {', '.join(reached)}"
            yield ("lanes", lane_left.name), found, "join all lanes into one loop by transfers"


def _stations(line: LineSketch) -> Iterator[PathFault]:
    if line.stations is not None and not line.stations:
        yield ("stations",), "no station", "write one station or more"
    taken: dict[str, list[StationSketch]] = {}
    for station in line.stations or ():
        lane = line.lane(station.lane)
        if station.lane is not None and lane is None and line.lanes is not None:
            known = choice(station.lane, (x.name for x in line.lanes), "lanes")
            yield ("stations", station.name, "lane"), f"there is no lane {shown(station.lane)}", known
        if lane is None or station.at_m is None:
            continue
        yield from _on_lane(station, lane)
        for other in taken.setdefault(lane.name, []):
            if other.at_m is not None and abs(other.at_m - station.at_m) <= _SAME_PLACE_M:
                found = f"at the place of {shown(other.name)}"
                yield ("stations", station.name, "at"), found, "give each station a place of its own"
        taken[lane.name].append(station)


def _on_lane(station: StationSketch, lane: LaneSketch) -> Iterator[PathFault]:
    west, east = lane.end_m("west"), lane.end_m("east")
    if west is None or east is None or station.at_m is None:
        return
    if not west - _SAME_PLACE_M <= station.at_m <= east + _SAME_PLACE_M:
        found = f"{in_unit(station.at_m, LENGTH)} is off the lane {shown(lane.name)}"
        reach = f"it reaches from {in_unit(west, LENGTH)} to {in_unit(east, LENGTH)}"
        yield ("stations", station.name, "at"), found, reach


def _route_path(line: LineSketch, step: int, place: int) -> tuple[str | int, ...]:
    assert line.route is not None
    return ("route", step) if len(line.route[step]) == 1 else ("route", step, place)


def _route_names(line: LineSketch) -> Iterator[PathFault]:
    if line.route is None or line.stations is None:
        return
    known = [station.name for station in line.stations]
    counted: Counter[str] = Counter()
    for i, step in enumerate(line.route):
        for j, name in enumerate(step):
            counted[name] += 1
            if name not in known:
                yield _route_path(line, i, j), f"there is no station {shown(name)}", choice(name, known, "stations")
            elif counted[name] > 1:
                yield _route_path(line, i, j), f"{shown(name)} stands in the route twice", "name each station once"
    for name in known:
        if name not in counted:
            yield ("stations", name), f"{shown(name)} is not in the route", "name it in the route, or leave it out"


def _parallel(line: LineSketch) -> Iterator[PathFault]:
    """Stations that share a step do the same work: the luck of a part does not depend on where it is worked."""
    for i, step in enumerate(line.route or ()):
        first, *others = (line.station(name) for name in step)
        for j, other in enumerate(others, start=1):
            if first is None or other is None:
                continue
            compared = (
                ("have different times", first.time, other.time),
                ("have different rejects", first.rejects, other.rejects),
                ("only one is a reject exit", first.reject_exit, other.reject_exit),
            )
            for differs, one, two in compared:
                if one is not None and two is not None and one != two:
                    found = f"{shown(first.name)} and {shown(other.name)} share a step but {differs}"
                    yield _route_path(line, i, j), found, f"write the same for both, for example like: {first.name}"


def _exits(line: LineSketch) -> Iterator[PathFault]:
    """Who flags parts needs an exit later; an exit needs somebody before it who flags parts."""
    if line.route is None:
        return
    flagging: list[str] = []
    for i, step in enumerate(line.route):
        stations = [line.station(name) for name in step]
        known = [station for station in stations if station is not None]
        if any(x.reject_exit is None or x.rejects is None for x in known) or len(known) < len(step):
            return
        is_exit = all(x.reject_exit for x in known)
        if is_exit and i == 0:
            yield (
                _route_path(line, i, 0),
                "the route starts with a reject exit",
                "start with a station that works on every part",
            )
        elif is_exit and not flagging:
            found = f"the reject exit {shown(step[0])} has no station before it that rejects"
            yield (
                ("stations", step[0], "reject_exit"),
                found,
                "write rejects at a station before it, or leave the exit out",
            )
        if is_exit:
            flagging = []
            for x in known:
                if x.rejects:
                    yield (
                        ("stations", x.name, "rejects"),
                        "a reject exit that rejects",
                        "write rejects at the stations before it",
                    )
        else:
            flagging += [x.name for x in known if x.rejects]
    for name in flagging:
        found = f"{shown(name)} rejects parts, but no reject exit follows in the route"
        yield ("stations", name, "rejects"), found, "add a later station with reject_exit: true"
