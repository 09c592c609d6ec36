"""A plain recomputation of the rows of accuracy, from docs/limits/accuracy.md alone.

Deflections come from a linear solve of the six equations of equilibrium, play from trying the corners of what a carrier
on four blocks may do, floor places and directions from the layout.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from agree.limits_rows import Row, verdict_of
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.line.tooling import ToolForce

AXES: Final = "xyz"
DEVIDES: Final = {"normal": 3.0, "uniform": math.sqrt(3.0), "triangular": math.sqrt(6.0)}
SHEET: Final = "conveyor sheet"
FILE: Final = "line file"
STATION: Final = "station"


@dataclass(frozen=True)
class Error:
    """One contributor on one axis: a spread with its standard deviation, or a bias between two ends."""

    name: str
    half_m: float = 0.0
    sigma_m: float = 0.0
    low_m: float = 0.0
    high_m: float = 0.0
    pinned: bool = False


@dataclass(frozen=True)
class Summed:
    """What errors add up to."""

    worst_m: float
    bias_m: float
    sigma_m: float

    def cpk(self, tolerance_m: float) -> float | None:
        return None if self.sigma_m == 0.0 else (tolerance_m - abs(self.bias_m)) / (3.0 * self.sigma_m)

    def outside_ppm(self, tolerance_m: float) -> float:
        ends = (tolerance_m - self.bias_m, tolerance_m + self.bias_m)
        return 1e6 * sum(0.5 * math.erfc(end / self.sigma_m / math.sqrt(2.0)) for end in ends)


def summed(errors: list[Error]) -> Summed:
    high, low = sum(e.high_m for e in errors), sum(e.low_m for e in errors)
    wide = sum(e.half_m for e in errors)
    bias = high if abs(high) >= abs(low) else low
    sigma = math.sqrt(math.fsum(e.sigma_m**2 for e in errors))
    return Summed(max(high + wide, -(low - wide)), bias, sigma)


def spread(name: str, half_m: float, law: str, pinned: bool = False) -> Error:
    return Error(name, half_m=half_m, sigma_m=half_m / DEVIDES[law], pinned=pinned)


def bias(name: str, low_m: float, high_m: float, pinned: bool = False) -> Error:
    return Error(name, low_m=low_m, high_m=high_m, pinned=pinned)


@dataclass
class Ask:
    """The errors of one station, axis by axis, and the figures that are missing for them."""

    line: Line
    layout: Layout
    station: Station
    missing: set[tuple[str, str]]

    def __post_init__(self) -> None:
        self.sheet = self.line.conveyor
        self.stop = self.layout.stop_of(self.station.name)
        self.lane = self.layout.lane(self.station.lane)

    def figure(self, owner: str, name: str, value: float | None) -> float | None:
        if value is None:
            self.missing.add((owner, name))
        return value

    def tool_point(self) -> tuple[float, float, float] | None:
        """Counted from the middle between the blocks."""
        tool, forces = self.station.tool, self.station.force or ()
        at = None if tool is None else tool.at_m
        at = at or next((one.at_m for one in forces if one.at_m is not None), None)
        guides = self.sheet.guides
        height = None if guides is None else guides.plate_height_m
        if at is None:
            self.missing.add((STATION, "at"))
        if guides is None:
            self.missing.add((SHEET, "guides"))
        elif height is None:
            self.missing.add((SHEET, "plate_height"))
        return None if at is None or height is None else (at[0], at[1], at[2] + height)

    def errors(self, axis: str) -> list[Error]:
        found = [*self._force(axis), *self._fixture(axis)]
        if self.station.pin_m is None:
            found += [*self._carrier(axis), *self._plate(axis)]
        else:  # what carriers, track and drive do is neither counted nor asked for
            found.append(spread("pin", self.station.pin_m, "uniform"))
        if axis == "x" and self.station.window_m is not None:
            found.append(spread("vibration left", self.station.window_m, "uniform"))
        return [one for one in found if one is not None]

    # ---- what a pin takes out --------------------------------------------------------------------------------------

    def _carrier(self, axis: str) -> list[Error | None]:
        accuracy, found = self.sheet.accuracy, []

        def of_accuracy(name: str) -> float | None:
            return self.figure(SHEET, name, None if accuracy is None else getattr(accuracy, f"{name}_m"))

        if axis == "x":
            if (value := self.figure(SHEET, "repeatability", self.sheet.repeatability_m)) is not None:
                found.append(spread("stop repeatability", value, "normal", True))
            if (value := of_accuracy("compensated_spread" if self.line.compensated else "carrier_spread")) is not None:
                found.append(spread("carriers' spread", value, "uniform", True))
            found.append(self._growth())
        else:
            if (value := of_accuracy("straightness" if axis == "y" else "flatness")) is not None:
                found.append(bias("lie", -value, value, True))
        return found

    def _growth(self) -> Error | None:
        accuracy, base, hall = self.sheet.accuracy, self.line.base, self.line.temperature
        scale = self.figure(SHEET, "expansion", None if accuracy is None else accuracy.expansion_1_K)
        if base is None:
            self.missing.add((FILE, "base"))
        if hall is None:
            self.missing.add((FILE, "temperature"))
        if scale is None or base is None or hall is None:
            return None
        here, _ = self.lane.floor_point(self.stop.travel_m)
        beside, _ = self.lane.floor_point(self.stop.travel_m + 1e-7)
        before, _ = self.lane.floor_point(self.stop.travel_m - 1e-7)
        ahead = (beside - before) / 2e-7 if self.lane.is_ring else (1.0 if self.lane.from_ == "west" else -1.0)
        per_K = ahead * (scale - base.expansion_1_K) * (here - base.fixed_at_m)
        ends = [per_K * (end - hall.set_up_degC) for end in (hall.least_degC, hall.most_degC)]
        return bias("thermal growth", min(ends), max(ends), True)

    # ---- the plate on its blocks -----------------------------------------------------------------------------------

    def _plate(self, axis: str) -> list[Error | None]:
        point, guides, accuracy = self.tool_point(), self.sheet.guides, self.sheet.accuracy
        if point is None or guides is None:
            return []
        found: list[Error | None] = []
        reach = _play(guides.play_m, point, guides.along_m, guides.across_m)[AXES.index(axis)]
        found.append(spread("guide play", reach, "uniform", True))
        x, y, z = (abs(one) for one in point)
        levers = {"yaw": {"x": y, "y": x}, "pitch": {"x": z, "z": x}, "roll": {"y": z, "z": y}}
        for name, lever in levers.items():
            if lever.get(axis, 0.0) == 0.0:
                continue
            turn = self.figure(SHEET, name, None if accuracy is None else getattr(accuracy, f"{name}_rad"))
            if turn is not None:
                found.append(spread(name, levers[name][axis] * math.sin(turn), "uniform", True))
        if self.joint_between(guides.along_m):
            joint = self.figure(SHEET, "joint_step", None if accuracy is None else accuracy.joint_step_m)
            if joint is None:
                return found
            by_axis = {"x": (y + z) / guides.along_m, "y": 0.5 + x / guides.along_m, "z": 0.5 + x / guides.along_m}
            found.append(bias("joint step", -joint * by_axis[axis], joint * by_axis[axis], True))
        return found

    def joint_between(self, along_m: float) -> bool:
        joints = [*self.lane.joints_travel_m]
        if self.lane.is_ring:
            joints += [0.0]
            joints = [one + n * self.lane.length_m for one in joints for n in (-1, 0, 1)]
        return any(abs(one - self.stop.travel_m) <= along_m / 2.0 for one in joints)

    def _force(self, axis: str) -> list[Error | None]:
        forces, support = self.station.force, self.station.support
        if forces is None:
            self.missing.add((STATION, "force"))
            return []
        taken = (False, False, False)
        if support is not None:
            taken = (support.along_N is not None, support.across_N is not None, support.down_N is not None)
        pushes = [np.where(taken, 0.0, (one.along_N, one.across_N, -one.down_N)) for one in forces]
        found: list[Error | None] = []
        if axis == "x" and self.station.pin_m is None and any(push[0] != 0.0 for push in pushes):
            stiffness = self.figure(SHEET, "servo_stiffness", self.sheet.drive.servo_stiffness_N_m)
            if stiffness is not None:
                given = [float(push[0]) / stiffness for push in pushes]
                found.append(bias("servo", sum(min(0.0, g) for g in given), sum(max(0.0, g) for g in given), True))
        if any(push.any() for push in pushes):
            found.append(self._deflection(axis, forces, pushes))
        return found

    def _deflection(self, axis: str, forces: tuple[ToolForce, ...], pushes: list[np.ndarray]) -> Error | None:
        guides, point = self.sheet.guides, self.tool_point()
        names = ("stiffness", "side_stiffness", "thrust_height")
        values = () if guides is None else (guides.stiffness_N_m, guides.side_stiffness_N_m, guides.thrust_height_m)
        if guides is None:
            return None
        up, side, thrust_m = (self.figure(SHEET, name, value) for name, value in zip(names, values, strict=True))
        placed = all(one.at_m is not None for one, push in zip(forces, pushes, strict=True) if push.any())
        if not placed:
            self.missing.add((STATION, "at"))
        if point is None or up is None or side is None or thrust_m is None or not placed:
            return None
        moved = []
        for force, push in zip(forces, pushes, strict=True):
            if force.at_m is None:  # nothing of it is left by the support
                continue
            assert guides.plate_height_m is not None
            acts = np.array([*force.at_m[:2], force.at_m[2] + guides.plate_height_m])
            shift = _solved(push, acts, guides.along_m, guides.across_m, up, side, thrust_m, np.array(point))
            moved.append(float(shift[AXES.index(axis)]))
        return bias("deflection", sum(min(0.0, m) for m in moved), sum(max(0.0, m) for m in moved))

    # ---- what stays ------------------------------------------------------------------------------------------------

    def _fixture(self, axis: str) -> list[Error | None]:
        fixture, part, tool = self.line.fixture, self.line.part, self.station.tool
        found: list[Error | None] = []
        rest: tuple[tuple[str, str, float | None, Callable[[float], Error]], ...] = (
            (FILE, "nest", None if fixture is None else fixture.nest_m, lambda v: spread("nest", v, "uniform")),
            (FILE, "tolerance", None if part is None else part.tolerance_m, lambda v: spread("part", v, "normal")),
            (STATION, "repeatability", tool and tool.repeatability_m, lambda v: spread("repeatability", v, "normal")),
            (STATION, "drift", tool and tool.drift_m, lambda v: bias("drift", -v, v)),
            (STATION, "grip", tool and tool.grip_m, lambda v: spread("grip", v, "normal")),
        )
        for owner, name, value, make in rest:
            if self.figure(owner, name, value) is not None:
                assert value is not None
                found.append(make(value))
        for one in () if tool is None else tool.errors:
            half_m = getattr(one, f"{axis}_m")
            if half_m:
                found.append(
                    bias(one.name, -half_m, half_m) if one.kind == "bias" else spread(one.name, half_m, one.law)
                )
        return found


def _play(play_m: float, point: tuple[float, float, float], along_m: float, across_m: float) -> tuple[float, ...]:
    """The farthest that the tool point gets: a linear form over a double cone is greatest at one of its corners."""
    x, y, z = point
    yaw_m, roll_m, pitch_m = 2.0 * play_m / along_m, 2.0 * play_m / across_m, 2.0 * play_m / along_m
    flat = [(play_m, 0.0), (-play_m, 0.0), (0.0, yaw_m), (0.0, -yaw_m)]
    tall = [(s * play_m, 0.0, 0.0) for s in (1, -1)]
    tall += [(0.0, s * roll_m, 0.0) for s in (1, -1)] + [(0.0, 0.0, s * pitch_m) for s in (1, -1)]
    placings = [
        (-yaw * y + pitch * z, v + yaw * x - roll * z, c + roll * y - pitch * x)
        for (v, yaw), (c, roll, pitch) in itertools.product(flat, tall)
    ]
    return tuple(max(abs(one[i]) for one in placings) for i in range(3))


def _solved(
    push: np.ndarray,
    acts: np.ndarray,
    along_m: float,
    across_m: float,
    up_N_m: float,
    side_N_m: float,
    thrust_m: float,
    point: np.ndarray,
) -> np.ndarray:
    """Displacement of a point of a rigid plate on four springs; the thrust keeps one height from moving along."""

    def rows_at(at: np.ndarray) -> np.ndarray:
        x, y, z = at  # shift + turn x at
        return np.array([[1, 0, 0, 0, z, -y], [0, 1, 0, -z, 0, x], [0, 0, 1, y, -x, 0]], float)

    stiff, held = np.zeros((6, 6)), rows_at(np.array([0.0, 0.0, thrust_m]))[0]
    for x, y in itertools.product((along_m / 2, -along_m / 2), (across_m / 2, -across_m / 2)):
        here = rows_at(np.array([x, y, 0.0]))
        stiff += side_N_m * np.outer(here[1], here[1]) + up_N_m * np.outer(here[2], here[2])
    # Six equilibria and one constraint, the thrust its multiplier; scaled, so that rad and m are of one size.
    whole = np.zeros((7, 7))
    whole[:6, :6], whole[:6, 6], whole[6, :6] = stiff / up_N_m, held, held
    given = np.append(rows_at(acts).T @ push / up_N_m, 0.0)
    return rows_at(point) @ np.linalg.solve(whole, given)[:6]


# ---- rows ----------------------------------------------------------------------------------------------------------


def accuracy_rows(line: Line, layout: Layout) -> list[Row]:
    """All rows of accuracy save those of missing figures."""
    asked = [station for station in line.stations if station.tolerance is not None]
    rows = [Row("mounting", "holds")] if is_mounted(line, layout) else []
    if not asked:
        return [Row("accuracy-tolerance", "not checked"), *rows]
    for station in asked:
        for axis, tolerance_m in axes_of(station):
            if tolerance_m == 0.0:  # nothing meets it, so nothing is reckoned
                assert station.tolerance is not None
                rows.append(Row("capability", "fails", None, station.tolerance.cpk, None, (station.name,)))
                continue
            ask = Ask(line, layout, station, set())
            errors = ask.errors(axis)
            if tolerance_m == 0.0:
                rows.append(Row("capability", "fails", None, asked_of(station), None, (station.name,)))
            elif errors:
                rows += rows_of(station, summed(errors), tolerance_m, bool(ask.missing))
    return rows


def is_mounted(line: Line, layout: Layout) -> bool:
    """Whether the sheet states what the track must be mounted to."""
    accuracy = line.conveyor.accuracy
    if accuracy is None:
        return False
    has_joints = any(lane.is_ring or lane.joints_travel_m for lane in layout.lanes)
    joint = accuracy.joint_step_m is not None and has_joints
    return joint or accuracy.straightness_m is not None or accuracy.flatness_m is not None


def missing_figures(line: Line, layout: Layout) -> dict[str, tuple[set[str], set[str]]]:
    """By owner: the stations whose budget goes without a figure, and the figures."""
    found: dict[str, tuple[set[str], set[str]]] = {}
    for station in line.stations:
        if station.tolerance is None:
            continue
        missing: set[tuple[str, str]] = set()
        for axis in [axis for axis, tolerance_m in axes_of(station) if tolerance_m > 0.0]:
            Ask(line, layout, station, missing).errors(axis)
        for owner, name in missing:
            stations, names = found.setdefault(owner, (set(), set()))
            stations.add(station.name)
            names.add(name)
    return found


def axes_of(station: Station) -> list[tuple[str, float]]:
    assert station.tolerance is not None
    pairs = [(axis, getattr(station.tolerance, f"{axis}_m")) for axis in AXES]
    return [(axis, value) for axis, value in pairs if value is not None]


def asked_of(station: Station) -> float:
    assert station.tolerance is not None
    return station.tolerance.cpk


def rows_of(station: Station, total: Summed, tolerance_m: float, lacks: bool) -> list[Row]:
    """Where a figure is missing what is stated can fail already, but never hold."""
    asked, here = asked_of(station), (station.name,)
    worst = Row("worst-case", "holds", total.worst_m, stations=here)
    cpk = total.cpk(tolerance_m)
    if cpk is None:
        verdict = "fails" if abs(total.bias_m) > tolerance_m else "not checked"
        return [Row("capability", verdict, None, asked, None, here), worst]
    margin = cpk / asked - 1.0
    if lacks and margin >= 0.0:
        return [Row("capability", "not checked", cpk, asked, None, here), worst]
    return [Row("capability", verdict_of(margin), cpk, asked, margin, here), worst]
