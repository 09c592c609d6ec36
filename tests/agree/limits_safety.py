"""The rows of safety once more, from docs/limits/safety.md alone; of stops by search, not by its formulas."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from agree.limits_rows import Row, verdict_of
from linewright.layout import Layout
from linewright.line.model import Line, Station


@dataclass(frozen=True)
class Ends:
    """The end stops of a station: whether a body at full speed is held, whether they fall in, whether they count."""

    place_margin: float
    speed_margin: float

    @property
    def count(self) -> bool:
        return self.place_margin >= 0.0 and self.speed_margin >= 0.0


def body_m(line: Line) -> float:
    envelope = None if line.fixture is None else line.fixture.envelope_m
    return max(line.conveyor.carrier.length_m, 0.0 if envelope is None else envelope[0])


def masses_kg(line: Line) -> tuple[float, float]:
    """Empty and loaded."""
    fixture = 0.0 if line.fixture is None else line.fixture.mass_kg
    nests = 1 if line.fixture is None else line.fixture.nests
    empty = line.conveyor.carrier.mass_kg + fixture
    return empty, empty + (0.0 if line.part is None else nests * line.part.mass_kg)


def borne_kg(line: Line) -> float:
    return masses_kg(line)[1] - line.conveyor.carrier.mass_kg


def centre_m(station: Station) -> float:
    return station.at_m if station.along_m is None else station.along_m


def operators_places(line: Line) -> list[Station]:
    return [s for s in line.stations if s.work == "manual" or s.release_s is not None or s.guard is not None]


def rests_m(line: Line, layout: Layout, station: Station) -> list[float]:
    """Distances of all places on its lane where carriers may rest, its own included."""
    lane = layout.lane(station.lane)
    found = []
    for stop in layout.stops:
        if stop.lane != station.lane or stop.kind == "aboard":
            continue
        away = abs(stop.floor_m - centre_m(station))
        found.append(min(away, lane.length_m - away) if lane.is_ring else away)
    return found


def powered_time_s(speed: float, reaction: float, deceleration: float, jerk: float) -> float:
    """The reaction, then a braking whose deceleration comes and goes with the jerk; its peak searched for."""

    def lost(peak: float) -> float:  # by a trapezoid of deceleration of this peak without a plateau
        return peak * peak / jerk - speed

    if lost(deceleration) >= 0.0:
        peak = brentq(lost, 0.0, deceleration, xtol=1e-15, rtol=1e-14) if speed > 0.0 else 0.0
        return reaction + 2.0 * peak / jerk
    ramp = deceleration / jerk
    return reaction + 2.0 * ramp + (speed - deceleration * ramp) / deceleration


def coast_time_s(mass: float, speed: float, drag: float, way: float) -> float:
    """From a speed until it stands or has gone the way, whichever is first."""
    slowing = drag / mass
    if speed * speed / (2.0 * slowing) <= way:
        return speed / slowing
    # the smaller root of speed t - slowing t²/2 = way, by numpy
    roots = np.roots([-slowing / 2.0, speed, -way])
    return float(min(root.real for root in roots))


def longest_coast_s(mass: float, speed: float, drag: float, way: float) -> float:
    """Over all speeds up to the given one, by looking everywhere and then more closely."""
    if drag == 0.0:
        return math.inf
    if math.isinf(way):
        return speed * mass / drag
    knee = math.sqrt(2.0 * drag * way / mass)
    looked = np.unique(np.append(np.linspace(1e-6, 1.0, 41) * speed, min(knee, speed)))
    times = [coast_time_s(mass, float(one), drag, way) for one in looked]
    best = int(np.argmax(times))
    low, high = looked[max(0, best - 1)], looked[min(len(looked) - 1, best + 1)]
    closer = minimize_scalar(
        lambda one: -coast_time_s(mass, float(one), drag, way), bounds=(low, high), method="bounded"
    )
    return max(times[best], -float(closer.fun))


def track_m(layout: Layout, station: Station) -> float:
    """From the station's centre to the nearer end of its lane; on a ring half way round."""
    lane = layout.lane(station.lane)
    if lane.is_ring:
        return lane.length_m / 2.0
    west = centre_m(station) - lane.west_end_m
    return min(west, lane.length_m - west)


def ends_of(line: Line, layout: Layout, station: Station) -> Ends | None:
    """None without end stops."""
    if station.end_stops_m is None or line.conveyor.coasting is None:
        return None
    nearest = min(abs(rest - station.end_stops_m) for rest in rests_m(line, layout, station))
    on_track = station.end_stops_m <= track_m(layout, station) + 1e-9
    return Ends(
        nearest / (body_m(line) / 2.0) - 1.0 if on_track else -1.0,
        1.0 - line.conveyor.drive.speed_m_s / line.conveyor.coasting.end_stop_speed_m_s,
    )


def stop_time_s(line: Line, layout: Layout, station: Station) -> float:
    """The longest of with power and without, empty and loaded; by a fault, which is never slower than the plan."""
    sheet = line.conveyor
    assert sheet.stopping is not None
    assert sheet.coasting is not None
    ends = ends_of(line, layout, station)
    way = math.inf
    if ends is not None and ends.count:
        assert station.end_stops_m is not None
        way = 2.0 * station.end_stops_m
    reaction, speed = sheet.stopping.reaction_s, sheet.drive.speed_m_s
    times = [powered_time_s(speed, reaction, sheet.stopping.deceleration_m_s2, sheet.drive.jerk_m_s3)]
    times += [reaction + longest_coast_s(mass, speed, sheet.coasting.least_drag_N, way) for mass in masses_kg(line)]
    return max(times)


def needed_m(station: Station, stop_s: float) -> float | None:
    """The safety distance; None where no form is given for this guard."""
    guard = station.guard
    assert guard is not None
    whole_s = guard.device_s + guard.logic_s + stop_s
    if guard.kind == "light-curtain":
        assert guard.resolution_m is not None
        resolution_mm = guard.resolution_m * 1e3
        if resolution_mm > 40.0 + 1e-9:
            return None
        beyond = max(0.0, 8.0 * (resolution_mm - 14.0))
        fast = max(100.0, 2000.0 * whole_s + beyond)
        return (fast if fast <= 500.0 else max(500.0, 1600.0 * whole_s + beyond)) / 1e3
    if guard.kind == "scanner":
        assert guard.height_m is not None
        height_mm = guard.height_m * 1e3
        return None if height_mm > 1000.0 + 1e-9 else (1600.0 * whole_s + max(850.0, 1200.0 - 0.4 * height_mm)) / 1e3
    return 1.6 * whole_s


def safety_rows(line: Line, layout: Layout, feeder_V: float | None = None) -> list[Row]:
    """Every row of safety."""
    places = operators_places(line)
    if not places:
        return [Row("operator-stations", "holds"), *line_rows(line, places, feeder_V)]
    everywhere = tuple(station.name for station in places)
    unguarded = tuple(station.name for station in places if station.guard is None)
    rows = [Row("guard", "not checked", stations=unguarded)] if unguarded else []
    if not stop_is_known(line):
        rows.append(Row("stop-time", "not checked", stations=everywhere))
    unzoned = []
    for station in places:
        rows += station_rows(line, layout, station)
        if station.guard is None:
            continue
        if station.motor_zone is None:
            unzoned.append(station.name)
    if unzoned:
        rows.append(Row("zone", "not checked", stations=tuple(unzoned)))
    unseen = tuple(one.name for one in places if room_m(one) is not None and seen(one) is None)
    if unseen:
        rows.append(Row("standing-behind", "not checked", stations=unseen))
    reached = tuple(
        one.name for one in places if one.guard is not None and apart(one) is None and lanes_near_m(line, layout, one)
    )
    if reached:
        rows.append(Row("other-lane", "not checked", stations=reached))
    return rows + line_rows(line, places, feeder_V)


def seen(station: Station) -> bool | None:
    return None if station.guard is None else station.guard.seen_behind


def room_m(station: Station) -> float | None:
    """Where somebody may be behind a guard: its distance, of a scanner its height; None where nobody may be."""
    guard = station.guard
    if guard is None:
        return None
    gap_m = guard.distance_m
    if guard.kind == "scanner":
        assert guard.height_m is not None
        gap_m = guard.height_m
    return gap_m if guard.kind == "locked" or gap_m * 1e3 > 300.0 + 1e-6 or guard.seen_behind is False else None


def lanes_near_m(line: Line, layout: Layout, station: Station) -> list[float]:
    """How far off the carriers of each other lane within reach are, from points of the track under the body."""
    envelope = (0.0, 0.0, 0.0) if line.fixture is None else line.fixture.envelope_m or (0.0, 0.0, 0.0)
    aside, body = max(line.conveyor.carrier.width_m, envelope[1]) / 2.0, body_m(line)
    mine = line.lane(station.lane)
    found = []
    for lane in line.lanes:
        if lane.name == station.lane:
            continue
        under = np.linspace(centre_m(station) - body / 2.0, centre_m(station) + body / 2.0, 3)
        over = np.clip(under, lane.west_end_m, lane.west_end_m + line.lane_length_m(lane.name))
        along = float(np.min(np.abs(under - over)))
        across = max(0.0, abs(lane.across_m - mine.across_m) - aside)
        height = max(0.0, abs(lane.level_m - mine.level_m) - envelope[2])
        away = math.hypot(along, across, height)
        if away <= 0.85 + 1e-9:
            found.append(away)
    return sorted(found)


def apart(station: Station) -> bool | None:
    return None if station.guard is None else station.guard.others_out_of_reach


def stop_is_known(line: Line) -> bool:
    sheet = line.conveyor
    return (
        sheet.stopping is not None
        and sheet.coasting is not None
        and borne_kg(line) <= sheet.carrier.payload_kg * (1 + 1e-12)
    )


def station_rows(line: Line, layout: Layout, station: Station) -> list[Row]:
    """The rows of one station."""
    sheet, name, guard = line.conveyor, (station.name,), station.guard
    rows: list[Row] = []
    complete = guard is not None and station.motor_zone is not None and sheet.supply is not None
    if stop_is_known(line):
        stop_s = stop_time_s(line, layout, station)
        if math.isinf(stop_s):
            rows.append(Row("stop-time", "fails", stations=name))
        else:
            rows.append(Row("stop-time", "holds", stop_s, stations=name))
        if guard is not None and guard.kind == "locked":
            rows.append(unlocking(station, stop_s))
        elif guard is not None:
            if math.isinf(stop_s):
                rows.append(Row("safety-distance", "fails", None, guard.distance_m, None, name))
            else:
                needed = needed_m(station, stop_s)
                if needed is None:
                    complete = False
                    rows.append(Row("safety-distance", "not checked", None, guard.distance_m, stations=name))
                else:
                    margin = 1.0 - needed / guard.distance_m
                    rows.append(Row("safety-distance", verdict_of(margin), needed, guard.distance_m, margin, name))
        else:
            complete = False
    else:
        complete = False
    gap_m = room_m(station)
    if gap_m is not None:
        if seen(station) is None:
            complete = False
        else:
            rows.append(Row("standing-behind", "holds" if seen(station) else "fails", gap_m, stations=name))
    near = lanes_near_m(line, layout, station)
    if guard is not None and near:
        if apart(station) is None:
            complete = False
        else:
            rows.append(Row("other-lane", "holds" if apart(station) else "fails", near[0], stations=name))
    rows += end_rows(line, layout, station)
    if guard is not None and station.motor_zone is not None:
        if sheet.supply is not None:
            alive = sheet.supply.separate_logic_supply
            rows.append(Row("zone", "holds" if alive else "fails", stations=name))
        if sheet.coasting is not None:  # it hangs on nothing else of the stop
            rows.append(coast_in(line, layout, station))
    if complete:
        rows.append(crush(line, layout, station, any(row.verdict == "fails" for row in rows)))
    return rows


def unlocking(station: Station, stop_s: float) -> Row:
    """Of a locked door: the time until all stands against that until it opens."""
    assert station.guard is not None
    limit = station.guard.unlocks_after_s
    assert limit is not None
    if math.isinf(stop_s):
        return Row("unlock-time", "fails", None, limit, None, (station.name,))
    whole = station.guard.device_s + station.guard.logic_s + stop_s
    return Row("unlock-time", verdict_of(1.0 - whole / limit), whole, limit, 1.0 - whole / limit, (station.name,))


def end_rows(line: Line, layout: Layout, station: Station) -> list[Row]:
    if station.end_stops_m is None:
        return []
    nearest = min(abs(rest - station.end_stops_m) for rest in rests_m(line, layout, station))
    half, track = body_m(line) / 2.0, track_m(layout, station)
    if station.end_stops_m > track + 1e-9:  # off its lane nothing holds it: the way to the lane's end against its own
        nearest, half = track, station.end_stops_m
    rows = [
        Row("end-stop-place", verdict_of(nearest / half - 1.0), nearest, half, nearest / half - 1.0, (station.name,))
    ]
    if line.conveyor.coasting is not None:
        speed, most = line.conveyor.drive.speed_m_s, line.conveyor.coasting.end_stop_speed_m_s
        margin = 1.0 - speed / most
        rows.append(Row("end-stop-speed", verdict_of(margin), speed, most, margin, (station.name,)))
    return rows


def zone_reach_m(line: Line, station: Station) -> float:
    zone = next(zone for zone in line.motor_zones if zone.name == station.motor_zone)
    return min(centre_m(station) - zone.from_m, zone.to_m - centre_m(station))


def coast_in(line: Line, layout: Layout, station: Station) -> Row:
    sheet, body, reach, ends = line.conveyor, body_m(line), zone_reach_m(line, station), ends_of(line, layout, station)
    if ends is not None and ends.count:
        assert station.end_stops_m is not None
        wanted = station.end_stops_m + body
        margin = reach / wanted - 1.0
        return Row("coast-in", verdict_of(margin), reach, wanted, margin, (station.name,))
    assert sheet.coasting is not None
    drag, limit = sheet.coasting.least_drag_N, max(0.0, reach - body / 2.0)
    if drag == 0.0:
        return Row("coast-in", "fails", None, limit, None, (station.name,))
    value = body + 0.5 * max(masses_kg(line)) * sheet.drive.speed_m_s**2 / drag
    margin = 1.0 - value / limit if limit > 0.0 else -1.0
    return Row("coast-in", verdict_of(margin), value, limit, margin, (station.name,))


def crush(line: Line, layout: Layout, station: Station, some_row_fails: bool) -> Row:
    if some_row_fails:
        return Row("crush-gap", "fails", 0.0, 0.5, -1.0, (station.name,))
    body = body_m(line)
    gaps = [rest - body for rest in rests_m(line, layout, station) if rest > 1e-9]
    if station.end_stops_m is not None:
        gaps.append(station.end_stops_m - body / 2.0)
    return Row("crush-gap", "holds", min(gaps) if gaps else None, stations=(station.name,))


def line_rows(line: Line, places: list[Station], feeder_V: float | None = None) -> list[Row]:
    """What is of the line as a whole."""
    sheet = line.conveyor
    rows = [
        Row(
            "energy",
            "holds",
            0.5 * max(masses_kg(line)) * sheet.drive.speed_m_s**2,
            stations=tuple(s.name for s in places),
        )
    ]
    drops = []
    for transfer in line.transfers:
        levels = [line.lane(lane).level_m for lane in transfer.lanes]
        if transfer.kind == "lift":
            drops.append(max(levels) - min(levels))
    if drops:
        # what a fall of that height gives, by stepping energy: v²/2 = g h
        rows.append(Row("falling-platform", "holds", math.sqrt(2.0 * 9.80665 * max(drops))))
    if sheet.supply is None:
        rows.append(Row("supply", "not checked"))
    else:
        trip, gone = max(sheet.supply.trip_V, feeder_V or 0.0), sheet.supply.discharge_s
        if gone is None:
            rows.append(Row("stored-charge", "not checked"))
        elif trip <= 60.0:
            rows.append(Row("stored-charge", "holds", gone))
        else:
            rows.append(Row("stored-charge", verdict_of(1.0 - gone / 5.0), gone, 5.0, 1.0 - gone / 5.0))
        dry = None if line.environment is None else line.environment.dry
        if dry:
            rows.append(Row("extra-low-voltage", verdict_of(1.0 - trip / 60.0), trip, 60.0, 1.0 - trip / 60.0))
        else:
            rows.append(Row("extra-low-voltage", "not checked", trip))
    guarded = [station for station in places if station.guard is not None]
    if sheet.magnets is None:
        rows.append(Row("magnets", "not checked", stations=tuple(one.name for one in guarded)))
    elif not guarded:
        rows.append(Row("magnets", "holds", sheet.magnets.implant_distance_m))
    else:
        nearest = min(guarded, key=lambda one: one.guard.distance_m if one.guard else math.inf)
        assert nearest.guard is not None
        limit = sheet.magnets.implant_distance_m
        margin = nearest.guard.distance_m / limit - 1.0
        rows.append(Row("magnets", verdict_of(margin), nearest.guard.distance_m, limit, margin, (nearest.name,)))
    return rows
