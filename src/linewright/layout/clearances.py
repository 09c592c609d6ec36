"""What fits on the track and what does not: one finding for each thing that was checked.

Each check gives a finding for everything that is tight or fails, or one for the nearest case where all holds, so that a
reader sees what was looked at without reading every pair of stations.
"""

from __future__ import annotations

import math
from typing import Final

from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout.lanes import SAME_PLACE_M, LaneLayout, Layout, Stop, TransferLayout
from linewright.layout.placing import length_text
from linewright.layout.resting import resting_places
from linewright.layout.sections import cut_sections
from linewright.layout.stops import Crowding, beyond_dock, crowding_code, crowdings, is_crowded
from linewright.line.model import Line

COMMON_PRACTICE: Final = "common practice"
# Two lanes whose ends differ by more than this on the floor cannot be served by one straight ride (common practice).
DOCK_REACH_M: Final = 0.001


def check_layout(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """Check the track of a line.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    tuple of Finding   Codes ``lane-sections``, ``lane-length``, ``station-centres``, ``dock-pitch``,
                       ``station-beyond-dock``, ``carrier-overhang``, ``keep-clear``, ``joint-distance``,
                       ``dock-reach``, ``platform-order``, ``platform-length``, ``carrier-count``, ``section-count``;
                       all of the subject ``layout``.

    Source     the conveyor sheet for its own figures; common practice for the rest, each finding says which.
    """
    findings: list[Finding] = []
    for lane in layout.lanes:
        findings.append(_lane_sections(line, layout, lane))
        findings.append(_lane_length(line, layout, lane))
    findings += _telling([_centres(line, layout, pair) for pair in crowdings(layout)])
    findings += [_beyond_dock(line, layout, stop) for stop in beyond_dock(layout)]
    rings = {lane.name for lane in layout.lanes if lane.is_ring}
    stations = [stop for stop in layout.stops if stop.kind == "station" and stop.lane not in rings]
    findings += _telling([_overhang(line, layout, stop) for stop in stations])
    findings += _telling(_keep_clear(line, layout))
    findings += _telling(_joints(line, layout))
    for transfer in layout.transfers:
        findings += _telling(_dock_reach(line, layout, transfer))
        findings += _platform_order(line, layout, transfer)
        findings.append(_platform(line, layout, transfer))
    findings.append(_carrier_count(line, layout))
    findings.append(_section_count(line, layout))
    return tuple(findings)


def _telling(findings: list[Finding]) -> list[Finding]:
    """Of the findings of one code all that do not hold; if all hold, the one with the least margin."""
    told = []
    for code in dict.fromkeys(finding.code for finding in findings):
        of_code = [finding for finding in findings if finding.code == code]
        bad = [finding for finding in of_code if finding.verdict != "holds"]
        told += bad or sorted(of_code, key=lambda finding: finding.margin or 0.0)[:1]
    return told


def _finding(
    code: str, where: str, place: Place | None, value: float, limit: float, margin: float, source: str, remedy: str
) -> Finding:
    """A finding on lengths; the remedy stands only where something needs doing."""
    verdict = judge(margin)
    said = "" if verdict == "holds" else remedy
    return Finding(code, "layout", verdict, where, place, value, limit, "m", margin, source, said)


def _station_place(line: Line, stop: Stop) -> Place | None:
    """Where the line file says where the station is."""
    name = str(stop.station)
    return line.place("stations", name, "at" if line.station(name).along_m is None else "along")


def _sheet(line: Line) -> str:
    return f"the conveyor sheet ({line.conveyor.name})"


def _over(value: float, limit: float) -> float:
    """Margin of a value that must reach a limit; a hair short of it counts as reaching it."""
    return 0.0 if abs(value - limit) <= SAME_PLACE_M else value / limit - 1.0


def _lane_sections(line: Line, layout: Layout, lane: LaneLayout) -> Finding:
    if lane.is_ring:
        return _ring_sections(line, lane)
    place = line.place("lanes", lane.name, "length")
    where, source = f"lane {lane.name}", _sheet(line) + ", section lengths"
    surplus_m = lane.surplus_m
    if surplus_m == 0.0:
        return Finding("lane-sections", "layout", "holds", where, place, 0.0, 0.0, "m", None, source, "")
    shorter_m = lane.length_m + surplus_m - min(lane.sections)
    remedy = f"make the lane {length_text(lane.length_m + surplus_m, line.units)} long"
    if shorter_m >= layout.body_m:
        remedy += f" or {length_text(shorter_m, line.units)}, with one section less"
    margin = -surplus_m / lane.length_m
    return Finding("lane-sections", "layout", "fails", where, place, surplus_m, 0.0, "m", margin, source, remedy)


def _ring_sections(line: Line, lane: LaneLayout) -> Finding:
    """The straights of a ring against what stock sections make; its curves are stock as they are."""
    place = line.place("lanes", lane.name, "ring")
    where, source = f"ring {lane.name}", _sheet(line) + ", section lengths"
    surplus_m = lane.surplus_m
    if surplus_m == 0.0:
        return Finding("lane-sections", "layout", "holds", where, place, 0.0, 0.0, "m", None, source, "")
    ring = line.lane(lane.name).ring
    assert ring is not None  # it is one
    stock = tuple(one.length_m for one in line.conveyor.sections)
    named = (("long", ring.long_m), ("short", ring.short_m))
    cuts = [(name, length_m, cut_sections(length_m, stock)) for name, length_m in named if length_m > 0.0]
    told = [f"{name} {length_text(cut.total_m, line.units)}" for name, _, cut in cuts if cut.surplus_m > 0.0]
    remedy = f"make the straights as long as their sections: {', '.join(told)}"
    margin = -surplus_m / lane.length_m
    return Finding("lane-sections", "layout", "fails", where, place, surplus_m, 0.0, "m", margin, source, remedy)


def _lane_length(line: Line, layout: Layout, lane: LaneLayout) -> Finding:
    return _finding(
        "lane-length",
        f"lane {lane.name}",
        line.place("lanes", lane.name, "ring" if lane.is_ring else "length"),
        lane.length_m,
        layout.body_m,
        _over(lane.length_m, layout.body_m),
        f"{_sheet(line)}: carrier length, or the fixture's envelope where it is longer",
        f"make the lane longer than one carrier with its fixture ({length_text(layout.body_m, line.units)})",
    )


def _centres(line: Line, layout: Layout, pair: Crowding) -> Finding:
    """The distance of two neighbours against the least pitch."""
    margin = _over(pair.distance_m, layout.pitch_m)
    code = crowding_code(pair)
    if code == "dock-pitch":
        transfer = pair.after.transfer or pair.before.transfer or ""
        place = line.place("transfers", transfer)
        remedy = "choose a transfer with a longer platform or a wider gap in the conveyor sheet"
    else:
        stop = pair.after if pair.after.kind == "station" else pair.before
        place = _station_place(line, stop)
        other = pair.before if stop is pair.after else pair.after
        need = length_text(layout.pitch_m, line.units)
        remedy = f"move {stop.label} at least {need} from {other.label}, centre to centre"
    if is_crowded(pair, layout.pitch_m):
        remedy += "; until then no traffic can be planned"
    return _finding(
        code,
        f"{pair.before.label} to {pair.after.label}",
        place,
        pair.distance_m,
        layout.pitch_m,
        margin,
        f"{_sheet(line)}: least pitch, or carrier or fixture plus clear gap where that is more",
        remedy,
    )


def _beyond_dock(line: Line, layout: Layout, stop: Stop) -> Finding:
    dock_m = layout.lane(stop.lane).length_m - layout.body_m / 2
    transfer = layout.transfer_after(stop.lane)
    return _finding(
        "station-beyond-dock",
        stop.label,
        _station_place(line, stop),
        stop.travel_m,
        dock_m,
        1.0 - stop.travel_m / dock_m if dock_m > 0 else -1.0,
        f"{_sheet(line)}: a carrier docks at {transfer.name} half its length before the lane's end",
        f"move {stop.label} at least {length_text(layout.pitch_m, line.units)} upstream of the dock stop, which is at "
        f"{length_text(layout.lane(stop.lane).travel_to_floor(dock_m), line.units)} on the floor, or lengthen the "
        "lane; until then no traffic can be planned",
    )


def _overhang(line: Line, layout: Layout, stop: Stop) -> Finding:
    """Distance of a station from the nearer end of its lane against half a body."""
    to_end_m = min(stop.travel_m, layout.lane(stop.lane).length_m - stop.travel_m)
    half_m = layout.body_m / 2
    return _finding(
        "carrier-overhang",
        stop.label,
        _station_place(line, stop),
        to_end_m,
        half_m,
        _over(to_end_m, half_m),
        f"{_sheet(line)}: carrier length, or the fixture's envelope where it is longer",
        f"move {stop.label} at least {length_text(half_m, line.units)} from the end of lane {stop.lane}",
    )


def _joints(line: Line, layout: Layout) -> list[Finding]:
    """How far the next joint of two sections is from each station that states `no_joint`; the cut keeps to it."""
    found = []
    for station in line.stations:
        if station.no_joint_m == 0.0:
            continue
        stop = layout.stop_of(station.name)
        joints = layout.lane(stop.lane).joints_travel_m
        place = line.place("stations", station.name, "no_joint")
        nearest = min((abs(joint_m - stop.travel_m) for joint_m in joints), default=math.inf)
        where = f"station {station.name}: " + ("the nearest joint" if joints else "its lane has no joint")
        margin = _over(nearest, station.no_joint_m) if joints else None
        value, limit = (nearest if joints else None), station.no_joint_m
        verdict = "holds" if margin is None else judge(margin)
        source = "the line file's no_joint, to which lanes are cut"
        found.append(Finding("joint-distance", "layout", verdict, where, place, value, limit, "m", margin, source, ""))
    return found


def _keep_clear(line: Line, layout: Layout) -> list[Finding]:
    """Other stops that no waiting rule keeps off a keep-clear stretch: the nearest station or dock on each lane."""
    findings = []
    for station in line.stations:
        if station.keep_clear_m <= 0:
            continue
        here = layout.stop_of(station.name)
        need_m = station.keep_clear_m + layout.body_m / 2
        others = [
            stop
            for stop in layout.stops
            if stop.lane == here.lane and stop.kind in ("station", "dock") and stop is not here
        ]
        for stop in others:
            distance_m = abs(stop.travel_m - here.travel_m)
            if layout.lane(here.lane).is_ring:
                distance_m = min(distance_m, layout.loop_m - distance_m)
            findings.append(
                _finding(
                    "keep-clear",
                    f"{stop.label} by {here.label}",
                    line.place("stations", station.name, "keep_clear"),
                    distance_m,
                    need_m,
                    _over(distance_m, need_m),
                    "the line file: keep_clear, to each side of the station, plus half a body; " + COMMON_PRACTICE,
                    f"move {stop.label if stop.kind == 'station' else here.label} so that "
                    f"{length_text(need_m, line.units)} lie between them, or shorten keep_clear",
                )
            )
    return findings


def _dock_reach(line: Line, layout: Layout, transfer: TransferLayout) -> list[Finding]:
    """Whether the lanes of a transfer meet at its platform, each pair of one it takes from and one it gives to.

    A lane that leads back starts where the other ends; one that goes straight on starts a platform and two gaps beyond.
    """
    findings = []
    for name in transfer.takes:
        takes = layout.lane(name)
        end_m = takes.travel_to_floor(takes.length_m)
        for other in transfer.gives:
            gives = layout.lane(other)
            start_m = gives.travel_to_floor(0.0)
            beyond_m = 0.0
            if is_straight_on(takes, gives):
                beyond_m = transfer.platform_m + 2 * transfer.gap_m
            due_m = end_m + (beyond_m if takes.to == "east" else -beyond_m)
            apart_m = round(abs(start_m - due_m), 12)
            ends = f"{length_text(end_m, line.units)} and {length_text(start_m, line.units)}"
            remedy = f"let lanes {takes.name} and {gives.name} meet at one place on the floor; they end at {ends}"
            if beyond_m:
                remedy = (
                    f"let lane {gives.name} start {length_text(beyond_m, line.units)} beyond the end of {takes.name}, "
                    f"for platform and gaps, at {length_text(due_m, line.units)}; they end at {ends}"
                )
            where = f"transfer {transfer.name}"
            if len(transfer.takes) + len(transfer.gives) > 2:
                where += f", {takes.name} to {gives.name}"
            place, margin = line.place("transfers", transfer.name), 1.0 - apart_m / DOCK_REACH_M
            findings.append(
                _finding("dock-reach", where, place, apart_m, DOCK_REACH_M, margin, COMMON_PRACTICE, remedy)
            )
    return findings


def is_straight_on(takes: LaneLayout, gives: LaneLayout) -> bool:
    """Whether a lane goes on in the direction of the one before it; else it leads back."""
    return takes.to == gives.to


def _platform_order(line: Line, layout: Layout, transfer: TransferLayout) -> list[Finding]:
    """Several carriers aboard leave in the order in which they came only towards a lane that goes straight on."""
    if transfer.places == 1:
        return []
    back = [
        (name, other)
        for name in transfer.takes
        for other in transfer.gives
        if not is_straight_on(layout.lane(name), layout.lane(other))
    ]
    source = "geometry; docs/semantics.md, Transfers with several docks"
    where, place = f"transfer {transfer.name}", line.place("transfers", transfer.name, "places")
    figures = (float(transfer.places), 1.0 if back else None, None, None)
    if not back:
        return [Finding("platform-order", "layout", "holds", where, place, *figures, source, "")]
    remedy = (
        f"lane {back[0][1]} leads back from where lane {back[0][0]} ends: the last carrier on is the first off, which "
        "the simulation does not show; write places: 1, or give to a lane that goes straight on"
    )
    return [Finding("platform-order", "layout", "fails", where, place, *figures, source, remedy)]


def _platform(line: Line, layout: Layout, transfer: TransferLayout) -> Finding:
    row_m = layout.body_m + (transfer.places - 1) * layout.pitch_m
    source = f"{_sheet(line)}: platform length against carrier length, or the fixture's envelope where it is longer"
    remedy = "choose a transfer whose platform takes the carrier with its fixture, or a shorter fixture"
    if transfer.places > 1:
        source += f", for {transfer.places} carriers a least pitch apart"
        remedy = f"choose a transfer whose platform is {length_text(row_m, line.units)} long, or fewer places"
    return _finding(
        "platform-length",
        f"transfer {transfer.name}",
        line.place("transfers", transfer.name),
        transfer.platform_m,
        row_m,
        _over(transfer.platform_m, row_m),
        source,
        remedy,
    )


def _carrier_count(line: Line, layout: Layout) -> Finding:
    """Against what the maker allows, or the places for them at time zero, whichever is less."""
    most = line.conveyor.most
    places = len(resting_places(line, layout))
    few_places = most is not None and places < most.carriers
    return _count(
        "carrier-count",
        "carriers",
        line.place("carriers"),
        line.carriers,
        None if most is None else min(most.carriers, places),
        f"{_sheet(line)}: most carriers of one line; or the places where they stand at time zero, if fewer",
        "take fewer carriers: "
        + (
            "no more stand on the stops before the first station at time zero"
            if few_places
            else "the sheet allows no more"
        )
        + "; or split the line",
    )


def _section_count(line: Line, layout: Layout) -> Finding:
    most = line.conveyor.most
    return _count(
        "section-count",
        "all lanes",
        line.place("lanes"),
        sum(len(lane.sections) for lane in layout.lanes),
        None if most is None else most.sections,
        f"{_sheet(line)}: most sections of one line",
        "shorten the lanes, use longer sections or split the line",
    )


def _count(
    code: str, where: str, place: Place | None, value: int, limit: int | None, source: str, remedy: str
) -> Finding:
    if limit is None:
        said = "state the count in the conveyor sheet"
        return Finding(code, "layout", "not checked", where, place, float(value), None, None, None, source, said)
    margin = 1.0 - value / limit
    said = "" if judge(margin) == "holds" else remedy
    return Finding(code, "layout", judge(margin), where, place, float(value), float(limit), None, margin, source, said)
