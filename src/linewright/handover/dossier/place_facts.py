"""What a station's page says of its place and its work, as the line file and the layout have it."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, Final

from linewright.flow.stopping import AGAIN, BY_HAND, REJECTED, fate_of_work
from linewright.handover.dossier.chapter import UNKNOWN, plus_minus, shown
from linewright.quantities import number, percent

if TYPE_CHECKING:
    from linewright.flow.yearly_use import YearlyUse
    from linewright.handover.papers.material import Material
    from linewright.layout import LaneLayout, Stop
    from linewright.line.model import Failure, Station, TimeLaw
    from linewright.line.station import Outside

Rows = list[tuple[str, str]]

_GUARDS: Final = {
    "light-curtain": "light curtain",
    "scanner": "scanner",
    "interlocked": "door that trips",
    "locked": "door that stays locked",
}
_FATES: Final = {
    AGAIN: "the part is worked on again",
    REJECTED: "the part is rejected: it leaves at the next reject exit",
    BY_HAND: "the part is rejected; no reject exit follows, so it is taken out by hand",
}


def basis_in_words(use: YearlyUse, material: Material) -> str:
    """Where the figures of a year come from, such as ``counted in run 1 of 20, scaled to a year``.

    Parameters
    ----------
    use : of the line
    material : of the line

    Notes      Carriers, transfers and works are followed through the first run alone: the others only count parts.
    """
    if use.basis == "demand":
        return "reckoned from the demand alone"
    run = material.evaluation.run
    return f"counted in run 1{'' if run is None else f' of {run.runs}'}, scaled to a year"


def law_in_words(law: TimeLaw, material: Material) -> str:
    """A time with its law, such as ``1.72 s on average, spread 15 % (lognormal)``.

    Parameters
    ----------
    law : of a work, a repair, a failure
    material : of the line
    """
    if law.kind == "fixed":
        return f"{shown(law.mean_s, 's', material)}, always the same"
    if law.kind == "triangular":
        least, likely, most = (shown(time_s, "s", material) for time_s in (law.least_s, law.likely_s, law.most_s))
        return f"{least} to {most}, mostly {likely} (triangular)"
    mean = f"{shown(law.mean_s, 's', material)} on average"
    if law.times_s is not None:
        return f"{mean}, drawn from {len(law.times_s)} measured times"
    spread = "" if law.cv is None else f", spread {percent(law.cv)}"
    return f"{mean}{spread} ({law.kind})"


def failure_in_words(failure: Failure, material: Material) -> str:
    """A kind of failure as it is stated: how often, and its repair.

    Parameters
    ----------
    failure : of a station
    material : of the line
    """
    if failure.every is None:
        often = f"one in {number(float(failure.one_in or 0))} works"
    else:
        of = "of clock" if failure.of == "clock" else "in work"
        often = f"after {law_in_words(failure.every, material)}, {of}"
    return f"{often}; repair {law_in_words(failure.repair, material)}"


def place_rows(station: Station, stop: Stop, lane: LaneLayout, material: Material) -> Rows:
    """Where a station is, what it stands over and what stands beside it.

    Parameters
    ----------
    station, stop, lane : the station, its stop and its lane
    material : of the line
    """
    travel, floor = shown(stop.travel_m, "m", material), shown(stop.floor_m, "m", material)
    level, across = shown(lane.level_m, "m", material), shown(lane.across_m, "m", material)
    rows = [("lane", f"{lane.name}: height {level}, to the side {across}")]
    if lane.is_ring:
        rows.append(("its centre", f"{travel} from the ring's start, in travel"))
    else:
        rows += [("its centre", f"{floor} from the west end"), ("along the lane", f"{travel} from its start")]
    rows += [("section", _section(stop, lane, material)), ("nearest joint", _joint(stop, lane, material))]
    rows += [("stop before", _beside(stop, lane, material, -1)), ("stop after", _beside(stop, lane, material, 1))]
    rows += [
        ("station before", _beside(stop, lane, material, -1, stations=True)),
        ("station after", _beside(stop, lane, material, 1, stations=True)),
    ]
    if station.keep_clear_m > 0.0:
        rows.append(("keep clear", f"{plus_minus(station.keep_clear_m, material)}: no waiting carrier's body"))
    if station.no_joint_m > 0.0:
        rows.append(("no joint", f"within {plus_minus(station.no_joint_m, material)}"))
    if station.pin_m is not None:
        rows.append(("located by a pin", f"play {plus_minus(station.pin_m, material)}"))
    return rows


def _section(stop: Stop, lane: LaneLayout, material: Material) -> str:
    at = bisect_right(lane.joints_travel_m, stop.travel_m)
    if at >= len(lane.sections):
        return f"{at + 1} in travel"
    return f"{at + 1} of {len(lane.sections)} in travel, {shown(lane.sections[at], 'm', material)} long"


def _joint(stop: Stop, lane: LaneLayout, material: Material) -> str:
    """How far the nearest joint is from the centre, and on which side of it."""
    if not lane.joints_travel_m:
        return "the lane has none"
    round_m = lane.length_m if lane.is_ring else 0.0
    joints = {joint + turn * round_m for joint in lane.joints_travel_m for turn in (-1, 0, 1)}
    off_m = min((joint - stop.travel_m for joint in sorted(joints)), key=abs)
    side = "after" if off_m >= 0.0 else "before"
    return f"{shown(abs(off_m), 'm', material)} {side} its centre, in travel"


def _beside(stop: Stop, lane: LaneLayout, material: Material, way: int, stations: bool = False) -> str:
    """The next stop, or station, up (-1) or down (1) the lane: centre distance and, between two bodies, the gap."""
    layout = material.evaluation.layout
    there = []
    for other in layout.stops:
        if other.lane == stop.lane and other.kind != "aboard" and other is not stop:
            off_m = way * (other.travel_m - stop.travel_m)
            if lane.is_ring:
                off_m %= lane.length_m
            if off_m > 0.0 and (other.kind == "station" or not stations):
                there.append((off_m, other.index, other))
    if not there:
        return "none on this lane"
    off_m, _, other = min(there)
    name = other.station if stations and other.station is not None else other.label
    gap = f", clear gap {shown(off_m - layout.body_m, 'm', material)}"
    return f"{name}, {shown(off_m, 'm', material)}{'' if stations else gap}"


def work_rows(station: Station, material: Material) -> Rows:
    """What a station does, and what comes before and after its work.

    Parameters
    ----------
    station : one of the line's
    material : of the line
    """
    line = material.evaluation.line
    reaction, nests = line.conveyor.reaction, 1 if line.fixture is None else line.fixture.nests
    each = f", each {station.each}; {nests} nests a carrier" if nests > 1 else ""
    rows = [("time", f"{law_in_words(station.time, material)}{each}")]
    rows += [("tool prepares", _or_nothing(station.prepare_s, material)), ("settling", _settling(station, material))]
    rows.append(("tool clears", _or_nothing(station.clear_s, material)))
    before, after = shown(reaction.start_handshake_s, "s", material), shown(reaction.done_handshake_s, "s", material)
    rows.append(("handshakes", f"{before} before, {after} after"))
    if station.release_s is not None:
        rows.append(("released by hand", shown(station.release_s, "s", material)))
    rows += _parts_rows(station, material)
    pools = [pool.name for pool in line.operators if station.name in pool.stations]
    if pools:
        rows.append(("operators of", ", ".join(pools)))
    rows.append(("stop in the work", _FATES[fate_of_work(line, station.name)]))
    return rows


def _parts_rows(station: Station, material: Material) -> Rows:
    """What becomes of the parts beside the work: rejects, rework, what is missing, changeover, machines outside."""
    exit_at = "" if station.exit is None else f", taken out at {station.exit}"
    rows = [("rejects", f"{percent(station.rejects)} of the parts{exit_at}" if station.rejects else "none stated")]
    if not station.failures:
        rows.append(("failures", "none stated: it never breaks down"))
    if station.reject_exit:
        rows.append(("reject exit", "flagged parts are taken out here; good ones go by"))
    if station.rework is not None:
        back = station.rework
        rows.append(("rework", f"{percent(back.share)} go back to {back.to}, at most {back.at_most} times"))
    if station.rework_only:
        rows.append(("rework", "only parts that are sent here come here"))
    if station.misses:
        rows.append(("missing parts", percent(station.misses)))
    if station.changeover is not None:
        change = station.changeover
        told = [f"{a} to {b} {shown(time_s, 's', material)}" for a, b, time_s in change.pairs_s]
        any_s = f"{shown(change.any_s, 's', material)} between any two variants"
        rows.append(("changeover", ", ".join(told) if change.any_s is None else any_s))
    for label, outside in (("fed by a machine", station.feed), ("taken away by", station.take_away)):
        if outside is not None:
            rows.append((label, _outside(outside, material)))
    return rows


def _outside(outside: Outside, material: Material) -> str:
    fails = "".join(f"; fails {failure_in_words(one, material)}" for one in outside.failures)
    return f"a part every {law_in_words(outside.every, material)}; buffer of {outside.buffer}{fails}"


def _or_nothing(time_s: float, material: Material) -> str:
    return shown(time_s, "s", material) if time_s > 0.0 else "no time stated"


def _settling(station: Station, material: Material) -> str:
    own = material.evaluation.line.conveyor.settling_s
    if station.settling_s is not None:
        return f"{shown(station.settling_s, 's', material)}, stated here"
    sheet = f"{shown(own, 's', material)}, the sheet's"
    if station.window_m is None:
        return sheet
    return f"{sheet}, or longer: until it swings within {plus_minus(station.window_m, material)}"


def guard_in_words(station: Station, material: Material) -> str:
    """The guard of a station, what it switches off, and its end stops; empty where no hand works and none is stated.

    Parameters
    ----------
    station : one of the line's
    material : of the line
    """
    guard = station.guard
    if guard is None and station.work != "manual" and station.end_stops_m is None and station.motor_zone is None:
        return ""
    words = ["no guard is stated (key guard)"] if guard is None else []
    if guard is not None:
        words.append(f"{_GUARDS[guard.kind]}, {shown(guard.distance_m, 'm', material)} from the nearest danger")
        own = {"resolution": guard.resolution_m, "field's height": guard.height_m}
        words += [f"{name} {shown(length_m, 'm', material)}" for name, length_m in own.items() if length_m is not None]
        if guard.unlocks_after_s is not None:
            words.append(f"opens {shown(guard.unlocks_after_s, 's', material)} after the demand to stop")
        device, logic = shown(guard.device_s, "s", material), shown(guard.logic_s, "s", material)
        words.append(f"device {device}, logic {logic}")
    zone = station.motor_zone
    words.append("switches off no motor zone" if zone is None else f"switches off motor zone {zone}")
    if station.end_stops_m is not None:
        words.append(f"end stops {shown(station.end_stops_m, 'm', material)} to each side of the centre")
    return "; ".join(words)


def supply_in_words(stop: Stop, material: Material) -> str:
    """What feeds the section under a stop, and the least voltage there.

    Parameters
    ----------
    stop : of a station
    material : of the line
    """
    evaluation = material.evaluation
    if not evaluation.line.feeders:
        return "no feeder is stated (key feeders)"
    if evaluation.limits is None:
        return UNKNOWN
    rows = [row for row in evaluation.limits.power.sections.rows() if row["lane"] == stop.lane]
    here = next((row for row in rows if row["from_m"] <= stop.travel_m <= row["to_m"]), None)
    if here is None:
        return "no feeder that is stated feeds this place"
    told = f"feeder {here['feeder']}, section {here['number']} in travel"
    volts = shown(here["voltage_V"], "V", material)
    if volts == UNKNOWN:
        return told
    return f"{told}; {volts} there when {here['case']}" if here["case"] else f"{told}; {volts} there"


def zones_in_words(station: Station, material: Material) -> str:
    """The motor zones in which a station lies; empty where there is none."""
    limits = material.evaluation.limits
    rows = [] if limits is None else limits.power.zones.rows()
    lies_in = [row for row in rows if station.name in str(row["stations"]).split(", ")]
    ends = (
        f"{row['zone']}, from {shown(row['from_m'], 'm', material)} to {shown(row['to_m'], 'm', material)}"
        for row in lies_in
    )
    return "; ".join(ends)
