"""Lanes, transfers and the loop that they make; stations and stretches on their lanes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING

from linewright.line.coherence.known import SAME_PLACE_M, NotKnown, as_far_as_known, named
from linewright.line.fields import PathFault, in_unit
from linewright.line.track import ring_length_m, ring_pieces, stretch_form_faults
from linewright.line.units import LENGTH, shown
from linewright.line.validation import missing
from linewright.line.words import choice

if TYPE_CHECKING:
    from linewright.line.model import Lane, Line, Station, Stretch, Transfer

TURN_RULE = "a station on a ring stands on a straight, half a carrier from its ends at least"


def lane_faults(line: Line) -> Iterator[PathFault]:
    """Each lane has its ends, or is a ring of the sheet's curve; one alone is a ring or goes both ways."""
    if len(line.lanes) < 2:
        yield from as_far_as_known(_alone(line))
    for lane in line.lanes:
        yield from as_far_as_known(_ends(lane))
        yield from as_far_as_known(_ring(line, lane))


def _alone(line: Line) -> Iterator[PathFault]:
    if not line.lanes:
        yield ("lanes",), "no lane", "write two lanes or more, joined into a loop by transfers"
    elif line.lanes[0].ring is None and not line.lanes[0].two_way:
        allowed = "write two lanes or more, joined into a loop by transfers; or make it a ring, or two_way: true"
        yield ("lanes",), "only one lane", allowed


def _ends(lane: Lane) -> Iterator[PathFault]:
    at = ("lanes", lane.name)
    if lane.ring is not None:
        return
    for key, name in (("length", "length_m"), ("from", "from_"), ("to", "to")):
        yield from as_far_as_known(_stated(lane, key, name))
    if lane.from_ is not None and lane.from_ == lane.to:
        other = "east" if lane.from_ == "west" else "west"
        yield (*at, "to"), f"the lane runs from {lane.from_} to {lane.to}", f"write to: {other}"


def _stated(lane: Lane, key: str, name: str) -> Iterator[PathFault]:
    value = getattr(lane, name)
    if value is None or (isinstance(value, float) and math.isnan(value)):
        yield ("lanes", lane.name), missing(key), "add it; a lane has length, from and to, or is a ring"


def _ring(line: Line, lane: Lane) -> Iterator[PathFault]:
    if lane.ring is None:
        return
    curve = line.conveyor.curve
    at = ("lanes", lane.name, "ring")
    if curve is None:
        yield at, "the conveyor sheet has no curve", "name a sheet with a curve, or add one to the sheet"
    elif lane.ring.short_m > 0.0 and curve.angle_deg > 90.0:
        found = f"the sheet's curve turns by {curve.angle_deg:g} deg, so there are no short straights"
        yield (*at, "short"), found, "leave short out, or name a sheet whose curve turns by 90 deg"


def end_m(lane: Lane, side: str) -> float:
    """The floor distance of a straight lane's west or east end; not known where it states no length. [m]"""
    if math.isnan(lane.length_m):
        raise NotKnown(lane.name)
    return lane.west_end_m + (lane.length_m if side == "east" else 0.0)


def transfer_faults(line: Line) -> Iterator[PathFault]:
    """A transfer joins lanes that there are, of which the docks lie one over or beside the other.

    How exactly the ends of lanes meet is a finding of the layout (`dock-reach`), not a fault of the file.
    """
    for transfer in line.transfers:
        for key in ("takes", "gives"):
            yield from as_far_as_known(_lane_names(line, transfer, key))
        yield from as_far_as_known(_kind(line, transfer))
        yield from as_far_as_known(_to_itself(transfer))
        yield from as_far_as_known(_docks(line, transfer))


def _lane_names(line: Line, transfer: Transfer, key: str) -> Iterator[PathFault]:
    names = transfer.takes_all if key == "takes" else transfer.gives_all
    for j, name in enumerate(names):
        at = ("transfers", transfer.name, key, j)
        if named(line.lanes, name) is None:
            yield at, f"there is no lane {shown(name)}", choice(name, (x.name for x in line.lanes), "lanes")
        elif name in names[:j]:
            yield at, f"the lane {shown(name)} stands here twice", "name each lane once"


def _kind(line: Line, transfer: Transfer) -> Iterator[PathFault]:
    stated = line.conveyor.transfers
    if transfer.kind not in stated:
        found = f"the conveyor sheet has no {transfer.kind}"
        yield ("transfers", transfer.name, "kind"), found, f"it has: {', '.join(sorted(stated))}"


def _to_itself(transfer: Transfer) -> Iterator[PathFault]:
    for j, name in enumerate(transfer.gives_all):
        if name in transfer.takes_all:
            at = ("transfers", transfer.name, "gives", j)
            yield at, "the transfer gives to the lane that it takes from", "write another lane"


def _docks(line: Line, transfer: Transfer) -> Iterator[PathFault]:
    """The docks of a lift differ in level alone, those of a cross transfer in across alone."""
    names = (*transfer.takes_all, *transfer.gives_all)
    lanes = [lane for lane in line.lanes if lane.name in names]
    if len(lanes) < len(names) or len(set(names)) < len(names) or any(lane.ring is not None for lane in lanes):
        return
    same_level, same_side = _all_same(x.level_m for x in lanes), _all_same(x.across_m for x in lanes)
    alone = len(names) == 2
    at = ("transfers", transfer.name, "kind")
    if transfer.kind == "lift":
        if same_level and alone:
            yield at, "a lift between lanes of one level", "give one of them another level, or write cross-transfer"
        if not same_side:
            allowed = "give both lanes the same across" if alone else "give all its lanes the same across"
            yield at, "a lift between lanes that lie side by side", allowed
    else:
        if same_side and alone:
            yield at, "a cross transfer between lanes of one place across", "give one of them another across"
        if not same_level:
            allowed = "give both lanes the same level" if alone else "give all its lanes the same level"
            yield at, "a cross transfer between lanes of different levels", allowed


def _all_same(places_m: Iterable[float]) -> bool:
    all_m = list(places_m)
    return max(all_m) - min(all_m) <= SAME_PLACE_M


def loop_faults(line: Line) -> Iterator[PathFault]:
    """Every lane is taken from by one transfer and given to by one, and leads to every other."""
    if any(lane.ring is not None or lane.two_way for lane in line.lanes):
        return
    broken = False
    for key, verb in (("takes", "takes from"), ("gives", "gives to")):
        users: dict[str, list[tuple[str, int]]] = {lane.name: [] for lane in line.lanes}
        for transfer in line.transfers:
            for j, name in enumerate(transfer.takes_all if key == "takes" else transfer.gives_all):
                users[name].append((transfer.name, j))
        for lane_name, found in users.items():
            broken = broken or len(found) != 1
            if not found:
                nobody = f"no transfer {verb} the lane {shown(lane_name)}"
                yield ("lanes", lane_name), nobody, "join each end of a lane by one transfer"
            for name, j in found[1:]:
                twice = f"{shown(name)} {verb} {shown(lane_name)}, as {shown(found[0][0])} does"
                yield ("transfers", name, key, j), twice, "join each end of a lane by one transfer"
    if not broken and line.lanes:
        yield from _reached(line)


def _reached(line: Line) -> Iterator[PathFault]:
    onward = {name: transfer.gives_all for transfer in line.transfers for name in transfer.takes_all}
    back = {name: transfer.takes_all for transfer in line.transfers for name in transfer.gives_all}
    first = line.lanes[0].name
    there, from_there = _closure(first, onward), _closure(first, back)
    loop = [lane.name for lane in line.lanes if lane.name in there and lane.name in from_there]
    for lane in line.lanes:
        if lane.name not in loop:
            found = f"the lane {shown(lane.name)} is not in the loop of {', '.join(loop)}"
            yield ("lanes", lane.name), found, "join all lanes into one loop by transfers"


def _closure(first: str, onward: dict[str, tuple[str, ...]]) -> set[str]:
    reached: set[str] = set()
    left = [first]
    while left:
        name = left.pop()
        if name not in reached:
            reached.add(name)
            left += onward[name]
    return reached


def station_faults(line: Line) -> Iterator[PathFault]:
    """Each station stands on a lane that there is, at a place of its own; a window needs a fixture that swings."""
    if not line.stations:
        yield ("stations",), "no station", "write one station or more"
    for station in line.stations:
        yield from as_far_as_known(_lane_of(line, station))
        yield from as_far_as_known(_placed(line, station))
        yield from as_far_as_known(_window(line, station))
        yield from as_far_as_known(_each(line, station))
        yield from as_far_as_known(_no_joint(line, station))
    for i, station in enumerate(line.stations):
        for other in line.stations[:i]:
            yield from as_far_as_known(_apart(station, other))


def _lane_of(line: Line, station: Station) -> Iterator[PathFault]:
    if named(line.lanes, station.lane) is None:
        known = choice(station.lane, (x.name for x in line.lanes), "lanes")
        yield ("stations", station.name, "lane"), f"there is no lane {shown(station.lane)}", known


def _placed(line: Line, station: Station) -> Iterator[PathFault]:
    at = ("stations", station.name)
    lane = named(line.lanes, station.lane)
    if lane is None:
        return
    if lane.ring is not None:
        if station.along_m is None:
            yield at, missing("along"), "add it: on a ring a station says how far along it stands"
        else:
            yield from _on_ring(line, station, lane)
        return
    if station.along_m is not None:
        yield (*at, "along"), f"the lane {shown(lane.name)} is no ring", "write at: the floor distance"
    elif math.isnan(station.at_m):
        yield at, missing("at"), "add it: the floor distance of the station's centre"
    elif not end_m(lane, "west") - SAME_PLACE_M <= station.at_m <= end_m(lane, "east") + SAME_PLACE_M:
        yield (*at, "at"), f"{in_unit(station.at_m, LENGTH)} is off the lane {shown(lane.name)}", _reach(lane)


def _no_joint(line: Line, station: Station) -> Iterator[PathFault]:
    """Straight lanes are cut so that joints keep off; a ring is made of fixed pieces."""
    lane = named(line.lanes, station.lane)
    if lane is not None and lane.ring is not None and station.no_joint_m > 0.0:
        at = ("stations", station.name, "no_joint")
        yield (
            at,
            f"the lane {shown(lane.name)} is a ring",
            "leave it out: only straight lanes are cut to keep joints off",
        )


def _reach(lane: Lane) -> str:
    west, east = (in_unit(end_m(lane, side), LENGTH) for side in ("west", "east"))
    return f"it reaches from {west} to {east}"


def _on_ring(line: Line, station: Station, lane: Lane) -> Iterator[PathFault]:
    """The carrier at a station stands on a straight with its whole body: common practice, nobody works on a turn."""
    curve = line.conveyor.curve
    if curve is None or lane.ring is None or station.along_m is None:
        return
    if lane.ring.short_m > 0.0 and curve.angle_deg > 90.0:
        return  # no such ring can be made: told at the ring
    at = ("stations", station.name, "along")
    length_m, along_m = ring_length_m(lane.ring, curve), station.along_m
    if not 0.0 <= along_m < length_m:
        found = f"{in_unit(along_m, LENGTH)} is off the ring {shown(lane.name)}"
        yield at, found, f"it is {in_unit(round(length_m, 4), LENGTH)} round"
        return
    envelope_m = None if line.fixture is None else line.fixture.envelope_m
    half_m = max(line.conveyor.carrier.length_m, 0.0 if envelope_m is None else envelope_m[0]) / 2
    straights = [one for one in ring_pieces(lane.ring, curve) if not one.is_curved]
    rooms = [(one.from_m + half_m, one.to_m - half_m) for one in straights if one.to_m - one.from_m > 2 * half_m]
    if not any(low_m - SAME_PLACE_M <= along_m <= high_m + SAME_PLACE_M for low_m, high_m in rooms):
        texts = [f"{_whole(low_m, math.ceil)} to {_whole(high_m, math.floor)}" for low_m, high_m in rooms]
        allowed = f"{TURN_RULE}: from {', '.join(texts)}" if texts else TURN_RULE
        yield at, f"at {in_unit(along_m, LENGTH)} a carrier stands on a turn of {shown(lane.name)}", allowed


def _whole(length_m: float, rounded: Callable[[float], int]) -> str:
    """A length in whole millimetres, rounded to the safe side."""
    return in_unit(rounded(round(length_m * 1e3, 6)) / 1e3, LENGTH)


def _apart(station: Station, other: Station) -> Iterator[PathFault]:
    if station.lane != other.lane:
        return
    for key, one_m, two_m in (("at", station.at_m, other.at_m), ("along", station.along_m, other.along_m)):
        if one_m is not None and two_m is not None and abs(one_m - two_m) <= SAME_PLACE_M:
            if key == "at" and station.along_m is not None:
                continue  # two places of a ring may have one floor distance
            found = f"at the place of {shown(other.name)}"
            yield ("stations", station.name, key), found, "give each station a place of its own"


def _window(line: Line, station: Station) -> Iterator[PathFault]:
    """A window needs a fixture whose vibration can be reckoned; a fixture that states half of it has its own fault."""
    if station.window_m is None:
        return
    if line.fixture is None or (line.fixture.natural_frequency_hz is None and line.fixture.damping is None):
        found = "nothing obeys window: the fixture states neither natural_frequency nor damping"
        yield ("stations", station.name, "window"), found, "add both to fixture, or leave window out"


def _each(line: Line, station: Station) -> Iterator[PathFault]:
    if station.each == "carrier" and (line.fixture is None or line.fixture.nests == 1):
        found = "nothing obeys each: a carrier has one nest"
        yield ("stations", station.name, "each"), found, "add nests to fixture, or leave each out"


def stretch_faults(line: Line) -> Iterator[PathFault]:
    """A stretch that admits so many carriers lies on one lane, or is of lanes and transfers that there are."""
    for stretch in line.admission:
        for key, there in (("lanes", line.lanes), ("transfers", line.transfers)):
            yield from as_far_as_known(_taken_together(stretch, key, [one.name for one in there]))
        yield from as_far_as_known(_form(stretch))
        yield from as_far_as_known(_stretch(line, stretch))
        yield from as_far_as_known(_not_all(line, stretch))


def _form(stretch: Stretch) -> Iterator[PathFault]:
    for path, found, allowed in stretch_form_faults(stretch):
        yield ("admission", stretch.name, *path), found, allowed


def _taken_together(stretch: Stretch, key: str, known: list[str]) -> Iterator[PathFault]:
    """The lanes or the transfers that are counted together."""
    names = getattr(stretch, key)
    for j, name in enumerate(names):
        at = ("admission", stretch.name, key, j)
        if name not in known:
            yield at, f"there is no {key[:-1]} {shown(name)}", choice(name, known, key)
        elif name in names[:j]:
            yield at, f"the {key[:-1]} {shown(name)} stands here twice", f"name each {key[:-1]} once"


def _not_all(line: Line, stretch: Stretch) -> Iterator[PathFault]:
    """Nobody comes to what is all of the track, so that nothing would obey the rule."""
    every = all(lane.name in stretch.lanes for lane in line.lanes)
    if stretch.lanes and every and all(transfer.name in stretch.transfers for transfer in line.transfers):
        found = "all lanes and transfers stand here, so that no carrier comes from outside"
        allowed = "leave a lane or a transfer out; how many carriers the whole line has, the key carriers says"
        yield ("admission", stretch.name), found, allowed


def _stretch(line: Line, stretch: Stretch) -> Iterator[PathFault]:
    at = ("admission", stretch.name)
    if stretch.lane is None:
        return
    lane = named(line.lanes, stretch.lane)
    if lane is None:
        known = choice(stretch.lane, (x.name for x in line.lanes), "lanes")
        yield (*at, "lane"), f"there is no lane {shown(stretch.lane)}", known
        return
    if stretch.from_m is None or stretch.to_m is None:
        return  # told where it is read
    if stretch.from_m >= stretch.to_m:
        yield (*at, "to"), "the stretch ends where it starts, or before", "write to greater than from"
    for key, place_m in (("from", stretch.from_m), ("to", stretch.to_m)):
        yield from on_lane_faults(line, lane, (*at, key), place_m)


def reach_of(line: Line, lane: Lane) -> tuple[float, float] | None:
    """Floor distance of a lane's two ends, of a ring 0 and its length; None for a ring on a sheet without curve. [m]"""
    if lane.ring is None:
        return end_m(lane, "west"), end_m(lane, "east")
    curve = line.conveyor.curve
    return None if curve is None else (0.0, ring_length_m(lane.ring, curve))


def on_lane_faults(line: Line, lane: Lane, at: tuple[str, ...], place_m: float) -> Iterator[PathFault]:
    """A place, by floor distance or on a ring by travel, lies on its lane."""
    reach_m = reach_of(line, lane)
    if reach_m is None:
        return
    if place_m < reach_m[0] - SAME_PLACE_M or place_m > reach_m[1] + SAME_PLACE_M:
        reach = _reach(lane) if lane.ring is None else f"it is {in_unit(round(reach_m[1], 4), LENGTH)} round"
        yield at, f"{in_unit(place_m, LENGTH)} is off the lane {shown(lane.name)}", reach
