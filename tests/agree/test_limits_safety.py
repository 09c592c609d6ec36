"""Safety once more: every row from docs/limits/safety.md alone, against what `check_safety` says."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import linewright
from agree.limits_people_lines import base_of, drawn
from agree.limits_rows import ROOT, Tree, altered, differences, line_of, named, row_of, valid_line, with_keys
from agree.limits_safety import (
    body_m,
    centre_m,
    ends_of,
    masses_kg,
    operators_places,
    safety_rows,
)
from agree.limits_safety_remedies import changes
from linewright.checks.safety import check_safety
from linewright.errors import LineFileError
from linewright.findings import Finding
from linewright.layout import Layout, lay_out
from linewright.line.model import Line, Station
from linewright.motion.curves import leg_limits
from linewright.motion.profile import plan_move
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import NO_LEG

EXAMPLES = ROOT / "examples"
NOW = ("demo/line.yaml", *sorted(f"limits/{path.name}" for path in (EXAMPLES / "limits").glob("*.yaml")))
OTHERS = sorted(
    f"{path.parent.name}/{path.name}"
    for path in EXAMPLES.glob("*/*.yaml")
    if path.parent.name not in ("limits", "demo", "briefs") and "sheet" not in path.name
)
SHORT, LONG = range(5), range(5, 160)


def _differences(line: Line) -> list[str]:
    layout = lay_out(line)
    names = [station.name for station in line.stations]
    return differences(safety_rows(line, layout), check_safety(line, layout).findings, names)


@pytest.mark.parametrize("name", NOW)
def test_rows_of_an_example(name: str) -> None:
    assert _differences(linewright.load(EXAMPLES / name)) == []


@pytest.mark.parametrize("number", SHORT)
def test_rows_of_a_drawn_line(number: int) -> None:
    assert _differences(drawn(number)[2]) == []


@pytest.mark.long
@pytest.mark.parametrize("number", LONG)
def test_rows_of_many_drawn_lines(number: int) -> None:
    assert _differences(drawn(number)[2]) == []


@pytest.mark.long
@pytest.mark.parametrize("name", OTHERS)
def test_rows_of_every_other_example(name: str) -> None:
    assert _differences(linewright.load(EXAMPLES / name)) == []


@pytest.mark.long
def test_the_drawn_lines_have_every_row_in_every_verdict() -> None:
    seen: Counter[tuple[str, str]] = Counter(
        (one.code, one.verdict)
        for k in (*SHORT, *LONG)
        for one in check_safety(drawn(k)[2], lay_out(drawn(k)[2])).findings
    )
    wanted = {
        "safety-distance": ("fails", "tight", "holds", "not checked"),
        "unlock-time": ("fails", "tight", "holds"),
        "standing-behind": ("fails", "holds", "not checked"),
        "other-lane": ("fails", "holds", "not checked"),
        "stop-time": ("fails", "holds", "not checked"),
        "zone": ("fails", "holds", "not checked"),
        "coast-in": ("fails", "tight", "holds"),
        "end-stop-place": ("fails", "tight", "holds"),
        "end-stop-speed": ("fails", "tight", "holds"),
        "crush-gap": ("fails", "holds"),
        "magnets": ("fails", "tight", "holds", "not checked"),
        "stored-charge": ("fails", "tight", "holds", "not checked"),
        "extra-low-voltage": ("fails", "tight", "holds", "not checked"),
        "guard": ("not checked",),
        "supply": ("not checked",),
        "operator-stations": ("holds",),
        "energy": ("holds",),
        "falling-platform": ("holds",),
    }
    assert set(wanted) == {code for code, _ in seen}
    assert [
        (code, verdict) for code, verdicts in wanted.items() for verdict in verdicts if not seen[code, verdict]
    ] == []


def test_the_comparison_tells_a_wrong_figure_verdict_station_and_row() -> None:
    line = linewright.load(EXAMPLES / "demo" / "line.yaml")
    layout = lay_out(line)
    found = check_safety(line, layout).findings
    mine = safety_rows(line, layout)
    assert differences(mine, found, ["load"]) == []
    for k, row in enumerate(mine):
        wrong = [replace(row, verdict="wrong"), replace(row, code="wrong"), replace(row, stations=("press",))]
        wrong += [replace(row, value=row.value * (1 + 1e-5))] if row.value is not None else []
        wrong += [replace(row, margin=row.margin * (1 + 1e-5))] if row.margin is not None else []
        for one in wrong:
            assert differences([*mine[:k], one, *mine[k + 1 :]], found, ["load"]) != []
        assert differences([*mine[:k], *mine[k + 1 :]], found, ["load"]) != []


# ---- figures that are missing, one at a time ------------------------------------------------------------------------

WITHOUT: dict[str, tuple[str, str, Any]] = {
    "guard": ("guard", "stations.load.guard", None),
    "zone": ("zone", "stations.load.motor_zone", None),
    "dry": ("extra-low-voltage", "environment", None),
    "stopping": ("stop-time", "conveyor.stopping", None),
    "coasting": ("stop-time", "conveyor.coasting", None),
    "payload": ("stop-time", "conveyor.carrier.payload_kg", 0.2),
    "magnets": ("magnets", "conveyor.magnets", None),
    "supply": ("supply", "conveyor.supply", None),
    "discharge": ("stored-charge", "conveyor.supply.discharge_s", None),
    "seen": ("standing-behind", "stations.load.guard.seen_behind", None),
    "others": ("other-lane", "stations.load.guard.others_out_of_reach", None),
    "coarse": ("safety-distance", "stations.load.guard.resolution_m", 0.041),
}


@pytest.fixture(scope="module")
def demo() -> Line:
    return linewright.load(EXAMPLES / "demo" / "line.yaml")


@pytest.mark.parametrize("what", WITHOUT)
def test_a_missing_figure(what: str, demo: Line) -> None:
    code, path, value = WITHOUT[what]
    line = altered(demo, path, value)
    assert _differences(line) == []
    unknown = [one for one in check_safety(line, lay_out(line)).findings if one.verdict == "not checked"]
    assert [one.code for one in unknown] == [code]
    assert unknown[0].remedy


@pytest.mark.parametrize("feeder_V", [20.0, 57.0, 61.0, 175.0])
def test_the_voltage_of_braking(feeder_V: float, demo: Line) -> None:
    layout = lay_out(demo)
    assert (
        differences(safety_rows(demo, layout, feeder_V), check_safety(demo, layout, feeder_V).findings, ["load"]) == []
    )


# ---- the table of stops ----------------------------------------------------------------------------------------------


def _powered_way_m(speed: float, reaction: float, deceleration: float, jerk: float) -> float:
    """Way of a stop with power, by integrating the jerk: up to the peak, on it, back to nothing."""
    peak = min(deceleration, math.sqrt(speed * jerk))
    ramp, flat = peak / jerk, speed / peak - peak / jerk
    edges = np.cumsum([ramp, max(0.0, flat), ramp])

    def slope(time: float, state: list[float]) -> list[float]:
        if time < edges[0]:
            braking = jerk * time
        elif time < edges[1]:
            braking = peak
        else:
            braking = max(0.0, jerk * (edges[2] - time))
        return [state[1], -braking]

    way, now = 0.0, [0.0, speed]
    for start, end in zip([0.0, *edges[:-1]], edges, strict=True):
        if end > start:
            now = (
                solve_ivp(slope, (start, end), now, rtol=1e-10, atol=1e-13, max_step=(end - start) / 4)
                .y[:, -1]
                .tolist()
            )
    way = now[0]
    assert abs(now[1]) < 1e-6 * speed
    return speed * reaction + way


def _check_stops(line: Line) -> int:
    """Each row of the table of stops that the page gives a formula for; how many."""
    layout = lay_out(line)
    sheet, rows = line.conveyor, check_safety(line, layout).stops.rows()
    assert sheet.stopping is not None
    assert sheet.coasting is not None
    for row in rows:
        station = line.station(row["station"])
        assert row["mass_kg"] == pytest.approx(masses_kg(line)[row["loaded"]], rel=1e-12)
        speed, reaction = row["speed_m_s"], sheet.stopping.reaction_s
        assert speed <= sheet.drive.speed_m_s * (1 + 1e-12)
        if row["cause"] == "fault":
            assert speed == pytest.approx(sheet.drive.speed_m_s, rel=1e-12)
        if row["case"] == "powered":
            way = _powered_way_m(speed, reaction, sheet.stopping.deceleration_m_s2, sheet.drive.jerk_m_s3)
            assert row["distance_m"] == pytest.approx(way, rel=1e-6)
            continue
        free = speed * reaction + row["mass_kg"] * speed**2 / 2.0 / sheet.coasting.least_drag_N
        ends = ends_of(line, layout, station)
        way = math.inf if ends is None or not ends.count else 2.0 * (station.end_stops_m or 0.0)
        assert row["distance_m"] == pytest.approx(min(free, way), rel=1e-9)
    return len(rows)


@pytest.mark.parametrize("name", ["demo/line.yaml", "limits/safety.yaml"])
def test_stops_of_an_example(name: str) -> None:
    assert _check_stops(linewright.load(EXAMPLES / name)) >= 8


def _over_the_zone(line: Line, layout: Layout, station: Station) -> tuple[float, float]:
    """On the axis: the station's zone, or the body that stands there."""
    lane, half = layout.lane(station.lane), body_m(line) / 2.0
    ends = (centre_m(station) - half, centre_m(station) + half)
    for zone in line.motor_zones:
        if zone.name == station.motor_zone:
            ends = (zone.from_m, zone.to_m)
    axis = [lane.travel_to_axis(lane.floor_to_travel(end)) for end in ends]
    return min(axis), max(axis)


def _planned_speed(line: Line, layout: Layout, station: Station, load: int) -> float | None:
    """Peak of the fastest leg of the plan that comes over the zone, by trying every leg of a plain loop."""
    plan, half, stops = compile_plan(line, layout), body_m(line) / 2.0, layout.stops
    low, high = _over_the_zone(line, layout, station)
    peaks = []
    for i, r in np.argwhere(plan.move_us[load] != NO_LEG).tolist():
        start = stops[i].axis_m
        way = (stops[(i + r + 1) % len(stops)].axis_m - start) % layout.loop_m or layout.loop_m
        turns = (-layout.loop_m, 0.0, layout.loop_m)
        if any(start - half + turn < high - 1e-9 and start + way + half + turn > low + 1e-9 for turn in turns):
            lane = layout.lanes[0]
            curved = lane.is_ring and lane.touches_curve(start - half, start + way + half)
            limits = leg_limits(line, load == 1, round(way, 12), curved).limits
            peaks.append(plan_move(round(way, 12), limits).peak_speed_m_s)
    return max(peaks, default=None)


@pytest.mark.long
@pytest.mark.parametrize(
    "name", ["demo/line.yaml", "limits/safety.yaml", "two-lane/line.yaml", "ways/ring.yaml", "ways/nests.yaml"]
)
def test_the_planned_speed_is_the_fastest_leg_over_the_zone(name: str) -> None:
    line = linewright.load(EXAMPLES / name)
    layout = lay_out(line)
    found = {
        (row["station"], bool(row["loaded"])): row["speed_m_s"]
        for row in check_safety(line, layout).stops.rows()
        if row["cause"] == "plan" and row["case"] == "powered"
    }
    for station in operators_places(line):
        for load in (0, 1):
            planned = _planned_speed(line, layout, station, load)
            assert found.get((station.name, load == 1)) == (
                None if planned is None else pytest.approx(planned, abs=1e-9)
            )


# ---- remedies --------------------------------------------------------------------------------------------------------


def _wrong_remedies(tree: Tree, sheet: Tree, line: Line, folder: Path, code: str = "") -> list[str]:
    """Remedies of rows that fail, of one code where it is named, that do not do what they say."""
    told: list[str] = []
    names = [station.name for station in line.stations]
    for one in check_safety(line, lay_out(line)).findings:
        stations = named(one, names)
        if one.verdict != "fails" or not stations or code not in ("", one.code):
            continue
        for change in changes(one, stations[0], line, tree, sheet):
            what = f"{one.code} at {stations[0]}: {change.what} {change.value}"
            after = _after(one, stations[0], change.tree, change.sheet, folder)
            if not change.on_track:
                told.append(f"{what} is off the lane")
            elif after is None:
                continue  # refused for another reason: it would lie over a neighbour's zone
            elif after.verdict not in ("holds", "tight"):
                told.append(f"{what} {after.verdict}: {after.value} against {after.limit}")
            if change.less is None:
                continue
            less = _after(one, stations[0], *change.less, folder)
            if less is not None and less.verdict != "fails" and less.unit == one.unit and less.limit == one.limit:
                told.append(f"{what}: less is enough")
    return told


def _after(one: Finding, station: str, tree: Tree, sheet: Tree, folder: Path) -> Finding | None:
    line = valid_line(tree, sheet, folder)
    return None if line is None else row_of(check_safety(line, lay_out(line)).findings, one.code, station)


def test_remedies_of_the_example_that_fails(tmp_path: Path) -> None:
    tree, sheet = base_of("limits/safety.yaml")
    line = line_of(tree, sheet, tmp_path)
    assert _wrong_remedies(tree, sheet, line, tmp_path) == []


@pytest.mark.long
@pytest.mark.parametrize("number", range(120))
def test_remedies_of_drawn_lines(number: int, tmp_path: Path) -> None:
    tree, sheet, line = drawn(number)
    assert _wrong_remedies(tree, sheet, line, tmp_path) == []


@pytest.mark.long
@pytest.mark.parametrize("number", range(30))
def test_remedies_in_inches(number: int, tmp_path: Path) -> None:
    tree, sheet, _ = drawn(number)
    tree = with_keys(tree, units="inch")
    assert _wrong_remedies(tree, sheet, line_of(tree, sheet, tmp_path), tmp_path) == []


@pytest.mark.parametrize(("units", "ends"), [("mm", "62 mm"), ("inch", "66 mm")])
def test_a_remedy_of_end_stops_holds_to_the_last_digit(units: str, ends: str, tmp_path: Path) -> None:
    """The place that it names, written as it is printed, is free: the nearest body begins at 58.17 mm."""
    tree, sheet = base_of("limits/safety.yaml")
    tree = with_keys(tree, units=units, stations__load__end_stops=ends, stations__load__keep_clear="58.17 mm")
    line = line_of(tree, sheet, tmp_path)
    one = row_of(check_safety(line, lay_out(line)).findings, "end-stop-place", "load")
    assert one is not None
    assert one.verdict == "fails"
    assert _wrong_remedies(tree, sheet, line, tmp_path, "end-stop-place") == []


def test_a_tight_row_never_names_less_than_stands_there(tmp_path: Path) -> None:
    """Who follows the remedy of a tight row must come off no worse."""
    tree, sheet = base_of("limits/safety.yaml")
    tree = with_keys(tree, stations__load__guard__distance="1000 mm")
    line = line_of(tree, sheet, tmp_path)
    one = row_of(check_safety(line, lay_out(line)).findings, "safety-distance", "load")
    assert one is not None
    assert one.verdict == "tight"
    told = {change.what: change.value for change in changes(one, "load", line, tree, sheet)}
    assert told.get("guard", math.inf) >= 1.0
    assert told.get("speed", 0.0) <= line.conveyor.drive.speed_m_s


@pytest.mark.long
def test_no_tight_row_of_the_drawn_lines_does() -> None:
    worse = []
    for number in (*SHORT, *LONG):
        tree, sheet, line = drawn(number)
        for one in check_safety(line, lay_out(line)).findings:
            stations = named(one, [station.name for station in line.stations])
            if one.verdict != "tight" or not stations:
                continue
            for change in changes(one, stations[0], line, tree, sheet):
                now = {"speed": -line.conveyor.drive.speed_m_s}
                if change.what == "guard":
                    guard = line.station(stations[0]).guard
                    now["guard"] = 0.0 if guard is None else guard.distance_m
                if change.what == "zone":
                    own = line.station(stations[0])
                    zone = next(zone for zone in line.motor_zones if zone.name == own.motor_zone)
                    now["zone"] = min(centre_m(own) - zone.from_m, zone.to_m - centre_m(own))
                value = -change.value if change.what == "speed" else change.value
                if value < now.get(change.what, -math.inf) - 1e-9:
                    worse.append((number, one.code, change.what, change.value))
    assert worse == []


def test_an_end_stop_beyond_the_lane_does_not_count(tmp_path: Path) -> None:
    """Beyond the lane's end there is no track to hold it, and on the platform a carrier may rest across it."""
    tree, sheet = base_of("limits/safety.yaml")
    tree = with_keys(
        tree,
        stations__unload__at="2163 mm",
        stations__unload__end_stops="60 mm",
        motor_zones__unload={"lane": "lower", "from": "1863 mm", "to": "2208 mm"},
    )
    try:
        line = line_of(tree, sheet, tmp_path)
    except LineFileError:
        return  # refused: as good
    one = row_of(check_safety(line, lay_out(line)).findings, "end-stop-place", "unload")
    assert one is not None
    assert one.verdict == "fails"
