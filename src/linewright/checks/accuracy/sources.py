"""The contributors of one station, out of line file, conveyor sheet and layout; and the figures that are not stated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from linewright.checks.accuracy.budget import Axis, Contributor, Law, Owner, bias_of, spread_of
from linewright.checks.accuracy.geometry import abbe_error_m, plate_deflection, play_at_m, thermal_growth_m
from linewright.layout import LaneLayout, Layout
from linewright.line.model import Line, Station
from linewright.line.sheet import Sheet
from linewright.line.tooling import Point, Support, ToolForce

At = Literal["sheet", "line", "station"]
CARRIERS_SPREAD: Final = "carriers' spread"
LEAST: Final = {"m": 1e-6, "rad": 1e-6, "K": 0.1}
"""Of a figure in a remedy: one micrometre, one microradian, a tenth of a kelvin; common practice."""
_INDEX: Final[dict[Axis, int]] = {"x": 0, "y": 1, "z": 2}


@dataclass(frozen=True)
class Figure:
    """A stated figure to which a contributor is proportional.

    Parameters
    ----------
    words : what to call it, such as ``nest under fixture``
    value : as stated, plus and minus
    unit : ``m``, ``rad`` or ``K``
    least : less is not proposed: what nobody measures, or what the file refuses
    """

    words: str
    value: float
    unit: str
    least: float


@dataclass(frozen=True)
class Counted:
    """A contributor, and the one figure that it follows; None where it follows several."""

    contributor: Contributor
    figure: Figure | None = None


@dataclass(frozen=True)
class Missing:
    """A figure that is not stated.

    Parameters
    ----------
    at : in which file part it belongs: conveyor sheet, line, or the station
    key : the key to write
    under : the mapping it stands under; empty at the root, of a station relative to it
    """

    at: At
    key: str
    under: str = ""


@dataclass(frozen=True)
class Gathered:
    """What counts at one station on one axis, and what is missing for it."""

    counted: tuple[Counted, ...] = ()
    missing: tuple[Missing, ...] = ()

    def __add__(self, other: Gathered) -> Gathered:
        return Gathered(self.counted + other.counted, self.missing + other.missing)

    @property
    def contributors(self) -> tuple[Contributor, ...]:
        """The contributors alone."""
        return tuple(one.contributor for one in self.counted)


def gather(line: Line, layout: Layout, station: Station, axis: Axis) -> Gathered:
    """All contributors of one station on one axis, in the order of docs/limits/accuracy.md, and what is missing.

    Where the station states a pin, its play stands for what carriers, track and drive do, and none of their figures is
    asked for.
    """
    pinned, force_N = station.pin_m is not None, acting_N(station)
    point_m = tool_point_m(station)
    found = Gathered() if pinned else _stop(line, axis)
    found += _window(station, axis)
    if not pinned:
        found += _track(line, layout, station, axis) + _levers_missing(line.conveyor, point_m)
        if point_m is not None:
            found += _guides(line.conveyor, axis, point_m) + _joint(line, layout, station, axis, point_m)
    if force_N is None:
        found += Gathered(missing=(Missing("station", "force"),))
    elif force_N:
        if not pinned:
            found += _servo(line.conveyor, axis, force_N)
        found += _levers_missing(line.conveyor, point_m) + _deflection(line.conveyor, axis, point_m, force_N)
    if station.pin_m is not None:
        found += _one(axis, "pin", station.pin_m, "uniform", "fixture", Missing("station", "pin"), name=station.name)
    return found + _fixture(line, axis) + _tool(station, axis)


def tool_point_m(station: Station) -> Point | None:
    """Where the tool meets the part: the tool's `at`, else that of its first force that has one; None if neither is."""
    if station.tool is not None and station.tool.at_m is not None:
        return station.tool.at_m
    return next((force.at_m for force in station.force or () if force.at_m is not None), None)


def joints_between_blocks_m(lane: LaneLayout, travel_m: float, spacing_m: float) -> tuple[float, ...]:
    """Travels of the joints that lie between, or under, the blocks of a carrier at rest. [m]"""
    rounds = (-lane.length_m, 0.0, lane.length_m) if lane.is_ring else (0.0,)
    closing = (0.0,) if lane.is_ring else ()  # a ring's first section meets its last one there
    near = [joint + turn for joint in (*closing, *lane.joints_travel_m) for turn in rounds]
    return tuple(sorted(joint for joint in near if abs(joint - travel_m) <= 0.5 * spacing_m + 1e-9))


def _one(
    axis: Axis,
    words: str,
    value: float | None,
    law: Law | None,
    owner: Owner,
    missing: Missing,
    scale: float = 1.0,
    name: str = "",
    least: float = LEAST["m"],
) -> Gathered:
    """One stated figure that counts by itself, times a lever; a bias of unknown sign where there is no law. `name` is
    that of the station, `least` the least that a remedy may ask for."""
    if value is None:
        return Gathered(missing=(missing,))
    source = _source(missing)
    half_m = value * abs(scale)
    made = (
        bias_of(words, axis, -half_m, half_m, owner, source)
        if law is None
        else spread_of(words, axis, half_m, law, owner, source)
    )
    return Gathered((Counted(made, Figure(_full(missing, name), value, "m", least)),))


def _full(missing: Missing, station: str = "") -> str:
    """``repeatability under tool at station press``: where a figure stands, so that no other is taken for it."""
    key = f"{missing.key} under {missing.under}" if missing.under else missing.key
    where = {"sheet": " in the conveyor sheet", "line": " in the line file", "station": f" at station {station}"}
    return key + where[missing.at]


def _source(missing: Missing) -> str:
    where = {"sheet": "conveyor sheet", "line": "line file", "station": "line file, station"}[missing.at]
    return f"{where}: {missing.under + '.' if missing.under else ''}{missing.key}"


def _stop(line: Line, axis: Axis) -> Gathered:
    """Along: where the drive puts the carrier, and how carriers differ."""
    if axis != "x":
        return Gathered()
    sheet = line.conveyor
    key, named = (
        ("compensated_spread", "carriers' spread, compensated")
        if line.compensated
        else ("carrier_spread", CARRIERS_SPREAD)
    )
    spread_m = None
    if sheet.accuracy is not None:
        accuracy = sheet.accuracy
        spread_m = accuracy.compensated_spread_m if line.compensated else accuracy.carrier_spread_m
    found = _one(
        axis, "stop repeatability", sheet.repeatability_m, "normal", "carrier", Missing("sheet", "repeatability")
    )
    left_m = 0.0 if sheet.accuracy is None else sheet.accuracy.compensated_spread_m or 0.0
    least_m = LEAST["m"] if line.compensated else max(LEAST["m"], left_m)
    return found + _one(axis, named, spread_m, "uniform", "carrier", Missing("sheet", key, "accuracy"), least=least_m)


def _window(station: Station, axis: Axis) -> Gathered:
    """Along: what the fixture still swings."""
    if axis != "x" or station.window_m is None:
        return Gathered()
    at = Missing("station", "window")
    return _one(axis, "vibration left", station.window_m, "uniform", "fixture", at, name=station.name)


def _levers_missing(sheet: Sheet, point_m: Point | None) -> Gathered:
    """What is not stated of the two ends of every lever: the tool point, and the blocks with their height."""
    missing: tuple[Missing, ...] = () if point_m is not None else (Missing("station", "at", "tool"),)
    if sheet.guides is None:
        missing += (Missing("sheet", "guides"),)
    elif sheet.guides.plate_height_m is None:
        missing += (Missing("sheet", "plate_height", "guides"),)
    return Gathered(missing=missing)


def _track(line: Line, layout: Layout, station: Station, axis: Axis) -> Gathered:
    """Of the track as mounted; along its growth against that of the base."""
    if axis == "x":
        return _growth(line, layout, station)
    accuracy = line.conveyor.accuracy
    if axis == "y":
        value = None if accuracy is None else accuracy.straightness_m
        return _one(axis, "straightness", value, None, "carrier", Missing("sheet", "straightness", "accuracy"))
    value = None if accuracy is None else accuracy.flatness_m
    return _one(axis, "flatness", value, None, "carrier", Missing("sheet", "flatness", "accuracy"))


def _growth(line: Line, layout: Layout, station: Station) -> Gathered:
    accuracy, base, hall = line.conveyor.accuracy, line.base, line.temperature
    expansion_1_K = None if accuracy is None else accuracy.expansion_1_K
    if expansion_1_K is None or base is None or hall is None:
        missing = [Missing("sheet", "expansion", "accuracy")] if expansion_1_K is None else []
        missing += [Missing("line", "base")] if base is None else []
        missing += [Missing("line", "temperature")] if hall is None else []
        return Gathered(missing=tuple(missing))
    stop = layout.stop_of(station.name)
    lane = layout.lane(stop.lane)
    floor_m, _ = lane.floor_point(stop.travel_m)
    ahead_m, _ = lane.floor_point(stop.travel_m + 1e-6)
    towards = round((ahead_m - floor_m) / 1e-6, 6)  # of the lane against the floor's axis: 1, -1; 0 across it
    changes_K = (hall.least_degC - hall.set_up_degC, hall.most_degC - hall.set_up_degC)
    apart_1_K = towards * (expansion_1_K - base.expansion_1_K)
    ends = sorted(thermal_growth_m(floor_m - base.fixed_at_m, apart_1_K, change_K) for change_K in changes_K)
    source = "conveyor sheet: accuracy.expansion; line file: base, temperature"
    made = bias_of("thermal growth", "x", ends[0] + 0.0, ends[1] + 0.0, "carrier", source)
    figure = Figure(
        "the hall's departure from set_up under temperature in the line file",
        max(-changes_K[0], changes_K[1]),
        "K",
        LEAST["K"],
    )
    return Gathered((Counted(made, figure),))


def _guides(sheet: Sheet, axis: Axis, point_m: Point) -> Gathered:
    """Play of the blocks and turns of the carrier, by their levers to the tool point."""
    guides, accuracy = sheet.guides, sheet.accuracy
    if guides is None or guides.plate_height_m is None:
        return Gathered()  # told with the levers
    x, y, z = point_m[0], point_m[1], point_m[2] + guides.plate_height_m
    reach_m = play_at_m(guides.play_m, (x, y, z), guides.along_m, guides.across_m)
    made = spread_of(
        "guide play", axis, float(reach_m[_INDEX[axis]]), "uniform", "carrier", "conveyor sheet: guides.play"
    )
    found = Gathered(
        (Counted(made, Figure(_full(Missing("sheet", "play", "guides")), guides.play_m, "m", LEAST["m"])),)
    )
    yaw, pitch, roll = (
        (None, None, None) if accuracy is None else (accuracy.yaw_rad, accuracy.pitch_rad, accuracy.roll_rad)
    )
    levers = {
        "x": (("yaw", yaw, y), ("pitch", pitch, z)),
        "y": (("yaw", yaw, x), ("roll", roll, z)),
        "z": (("pitch", pitch, x), ("roll", roll, y)),
    }
    for name, turn_rad, lever_m in levers[axis]:
        if lever_m == 0.0:
            continue
        if turn_rad is None:
            found += Gathered(missing=(Missing("sheet", name, "accuracy"),))
            continue
        half_m = abs(abbe_error_m(lever_m, turn_rad))
        made = spread_of(f"{name} by its lever", axis, half_m, "uniform", "carrier", f"conveyor sheet: accuracy.{name}")
        found += Gathered(
            (Counted(made, Figure(_full(Missing("sheet", name, "accuracy")), turn_rad, "rad", LEAST["rad"])),)
        )
    return found


def _joint(line: Line, layout: Layout, station: Station, axis: Axis, point_m: Point) -> Gathered:
    """The step of a joint between the blocks: one pair of blocks is offset against the other."""
    guides, accuracy = line.conveyor.guides, line.conveyor.accuracy
    if guides is None or guides.plate_height_m is None:
        return Gathered()  # told with the levers
    stop = layout.stop_of(station.name)
    if not joints_between_blocks_m(layout.lane(stop.lane), stop.travel_m, guides.along_m):
        return Gathered()
    height_m = point_m[2] + guides.plate_height_m
    factor = (abs(point_m[1]) + abs(height_m)) if axis == "x" else 0.5 * guides.along_m + abs(point_m[0])
    step_m = None if accuracy is None else accuracy.joint_step_m
    missing = Missing("sheet", "joint_step", "accuracy")
    return _one(axis, "joint step", step_m, None, "carrier", missing, factor / guides.along_m)


def acting_N(station: Station) -> list[tuple[ToolForce, tuple[float, float, float]]] | None:
    """The forces of a station of which a support leaves something, with what it leaves; None if no force is stated."""
    if station.force is None:
        return None
    acting = [(force, net_force_N(force, station.support)) for force in station.force]
    return [(force, net_N) for force, net_N in acting if any(net_N)]


def _servo(sheet: Sheet, axis: Axis, acting: list[tuple[ToolForce, tuple[float, float, float]]]) -> Gathered:
    """Along: what the servo gives under the tool's forces; it takes no lever."""
    servo_N_m = sheet.drive.servo_stiffness_N_m
    if axis != "x" or not any(net_N[0] for _, net_N in acting):
        return Gathered()
    if servo_N_m is None:
        return Gathered(missing=(Missing("sheet", "servo_stiffness", "drive"),))
    source = "conveyor sheet: drive.servo_stiffness; line file, station: force"
    made = _from_none("servo under force", axis, [net_N[0] / servo_N_m for _, net_N in acting], "carrier", source)
    return Gathered((Counted(made),))


def _deflection(
    sheet: Sheet, axis: Axis, point_m: Point | None, acting: list[tuple[ToolForce, tuple[float, float, float]]]
) -> Gathered:
    """What the blocks give under the tool's forces."""
    guides = sheet.guides
    if guides is None:
        return Gathered()  # told with the levers
    missing = [Missing("station", "at", "force")] if any(force.at_m is None for force, _ in acting) else []
    stiff_N_m, side_N_m, thrust_m = guides.stiffness_N_m, guides.side_stiffness_N_m, guides.thrust_height_m
    stated = {"stiffness": stiff_N_m, "side_stiffness": side_N_m, "thrust_height": thrust_m}
    missing += [Missing("sheet", key, "guides") for key, value in stated.items() if value is None]
    up_m = guides.plate_height_m
    if missing or point_m is None or up_m is None or stiff_N_m is None or side_N_m is None or thrust_m is None:
        return Gathered(missing=tuple(missing))
    gives = []
    for force, net_N in acting:
        assert force.at_m is not None
        at_m = (force.at_m[0], force.at_m[1], force.at_m[2] + up_m)
        plate = plate_deflection(net_N, at_m, guides.along_m, guides.across_m, stiff_N_m, side_N_m, thrust_m)
        gives.append(float(plate.at((point_m[0], point_m[1], point_m[2] + up_m))[_INDEX[axis]]))
    source = "conveyor sheet: guides.stiffness, guides.side_stiffness; line file, station: force"
    return Gathered((Counted(_from_none("deflection under force", axis, gives, "force", source)),))


def net_force_N(force: ToolForce, support: Support | None) -> tuple[float, float, float]:
    """What a support leaves of a force: along, across, up; nothing on an axis for which it states what it takes. [N]"""
    carried = (None, None, None) if support is None else (support.along_N, support.across_N, support.down_N)
    whole = (force.along_N, force.across_N, -force.down_N)
    left = [f if c is None else 0.0 for f, c in zip(whole, carried, strict=True)]
    return left[0], left[1], left[2]


def _from_none(name: str, axis: Axis, each_m: list[float], owner: Owner, source: str) -> Contributor:
    """A bias between no force and all forces that push that way."""
    low_m, high_m = sum(min(0.0, one) for one in each_m), sum(max(0.0, one) for one in each_m)
    return bias_of(name, axis, low_m, high_m, owner, source)


def _fixture(line: Line, axis: Axis) -> Gathered:
    nest_m = None if line.fixture is None else line.fixture.nest_m
    part_m = None if line.part is None else line.part.tolerance_m
    found = _one(axis, "nest", nest_m, "uniform", "fixture", Missing("line", "nest", "fixture"))
    return found + _one(axis, "part", part_m, "normal", "part", Missing("line", "tolerance", "part"))


def _tool(station: Station, axis: Axis) -> Gathered:
    tool, name = station.tool, station.name
    repeat_m, drift_m, grip_m = (None,) * 3 if tool is None else (tool.repeatability_m, tool.drift_m, tool.grip_m)
    figures: tuple[tuple[str, str, float | None, Law | None], ...] = (
        ("tool repeatability", "repeatability", repeat_m, "normal"),
        ("tool drift", "drift", drift_m, None),
        ("grip", "grip", grip_m, "normal"),
    )
    found = Gathered()
    for words, key, value, law in figures:
        found += _one(axis, words, value, law, "tool", Missing("station", key, "tool"), name=name)
    for error in () if tool is None else tool.errors:
        value_m = {"x": error.x_m, "y": error.y_m, "z": error.z_m}[axis]
        its_law: Law | None = error.law if error.kind == "spread" else None
        at = Missing("station", f"{error.name}.{axis}", "tool.errors")
        found += _one(axis, error.name, value_m, its_law, "tool", at, name=name)
    return found
