"""What fits on the track and what does not: one finding for each thing that was checked.

Each check gives a finding for everything that is tight or fails, or one for the nearest case where all holds, so that a
reader sees what was looked at without reading every pair of stations.
"""

from __future__ import annotations

from typing import Final

from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout.lanes import SAME_PLACE_M, LaneLayout, Layout, Stop, TransferLayout
from linewright.layout.stops import (
    Crowding,
    beyond_dock,
    crowding_code,
    crowdings,
    is_crowded,
    length_text,
)
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
                       ``station-beyond-dock``, ``carrier-overhang``, ``keep-clear``, ``dock-reach``,
                       ``platform-length``, ``carrier-count``, ``section-count``; all of the subject ``layout``.

    Source     the conveyor sheet for its own figures; common practice for the rest, each finding says which.
    """
    findings: list[Finding] = []
    for lane in layout.lanes:
        findings.append(_lane_sections(line, layout, lane))
        findings.append(_lane_length(line, layout, lane))
    findings += _telling([_centres(line, layout, pair) for pair in crowdings(layout)])
    findings += [_beyond_dock(line, layout, stop) for stop in beyond_dock(layout)]
    stations = [stop for stop in layout.stops if stop.kind == "station"]
    findings += _telling([_overhang(line, layout, stop) for stop in stations])
    findings += _telling(_keep_clear(line, layout))
    for transfer in layout.transfers:
        findings.append(_dock_reach(line, layout, transfer))
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


def _sheet(line: Line) -> str:
    return f"the conveyor sheet ({line.conveyor.name})"


def _over(value: float, limit: float) -> float:
    """Margin of a value that must reach a limit; a hair short of it counts as reaching it."""
    return 0.0 if abs(value - limit) <= SAME_PLACE_M else value / limit - 1.0


def _lane_sections(line: Line, layout: Layout, lane: LaneLayout) -> Finding:
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


def _lane_length(line: Line, layout: Layout, lane: LaneLayout) -> Finding:
    return _finding(
        "lane-length",
        f"lane {lane.name}",
        line.place("lanes", lane.name, "length"),
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
        place = line.place("stations", str(stop.station), "at")
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
        line.place("stations", str(stop.station), "at"),
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
        line.place("stations", str(stop.station), "at"),
        to_end_m,
        half_m,
        _over(to_end_m, half_m),
        f"{_sheet(line)}: carrier length, or the fixture's envelope where it is longer",
        f"move {stop.label} at least {length_text(half_m, line.units)} from the end of lane {stop.lane}",
    )


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


def _dock_reach(line: Line, layout: Layout, transfer: TransferLayout) -> Finding:
    """Whether the two lanes of a transfer end at the same place on the floor."""
    takes, gives = layout.lane(transfer.takes), layout.lane(transfer.gives)
    from_m, to_m = takes.travel_to_floor(takes.length_m), gives.travel_to_floor(0.0)
    apart_m = round(abs(from_m - to_m), 12)
    ends = f"{length_text(from_m, line.units)} and {length_text(to_m, line.units)}"
    return _finding(
        "dock-reach",
        f"transfer {transfer.name}",
        line.place("transfers", transfer.name),
        apart_m,
        DOCK_REACH_M,
        1.0 - apart_m / DOCK_REACH_M,
        COMMON_PRACTICE,
        f"let lanes {takes.name} and {gives.name} meet at one place on the floor; they end at {ends}",
    )


def _platform(line: Line, layout: Layout, transfer: TransferLayout) -> Finding:
    return _finding(
        "platform-length",
        f"transfer {transfer.name}",
        line.place("transfers", transfer.name),
        transfer.platform_m,
        layout.body_m,
        _over(transfer.platform_m, layout.body_m),
        f"{_sheet(line)}: platform length against carrier length, or the fixture's envelope where it is longer",
        "choose a transfer whose platform takes the carrier with its fixture, or a shorter fixture",
    )


def _carrier_count(line: Line, layout: Layout) -> Finding:
    """Against what the maker allows, or the places for them at time zero, whichever is less."""
    most = line.conveyor.most
    places = 1 + sum(stop.kind in ("waiting", "dock") for stop in layout.stops)
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
