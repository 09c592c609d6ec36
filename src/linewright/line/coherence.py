"""What must fit together in a line: lanes and transfers into one loop, stations on lanes, a route that can be gone.

The checks run over a sketch of the line in which any value may be missing. A check that needs a missing value says
nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from linewright.line.fields import PathFault, in_unit
from linewright.line.sketch import LaneSketch, LineSketch, StationSketch, TransferSketch
from linewright.line.units import LENGTH, shown
from linewright.line.words import choice

_SAME_PLACE_M: Final = 1e-6


def coherence_faults(line: LineSketch) -> list[PathFault]:
    """Everything that does not fit together, each with the path of the key it belongs to."""
    found = [*_lanes(line), *_transfers(line), *_stations(line), *_windows(line), *_route_names(line)]
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
    """Two lanes that a transfer joins meet at one end of the floor, one over or beside the other.

    How exactly they meet is a finding of the layout (`dock-reach`), not a fault of the file.
    """
    at = ("transfers", transfer.name)
    sides = {takes.to, gives.from_}
    if sides == {"west", "east"}:
        yield (
            (*at, "gives"),
            f"{shown(takes.name)} ends in the {takes.to}, {shown(gives.name)} starts in the {gives.from_}",
            f"name a lane that starts in the {takes.to}",
        )
        return
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


def _windows(line: LineSketch) -> Iterator[PathFault]:
    """A window needs a fixture whose vibration can be reckoned; a fixture that states half of it has its own fault."""
    if line.vibration is None or line.vibration:
        return
    for station in line.stations or ():
        if station.window:
            found = "nothing obeys window: the fixture states neither natural_frequency nor damping"
            yield ("stations", station.name, "window"), found, "add both to fixture, or leave window out"


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
