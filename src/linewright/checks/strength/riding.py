"""What the carrier carries of itself, at rest and while it moves, and how long its guides live under that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewright.checks.strength.ratings import guide_life
from linewright.checks.strength.statics import BlockLoads, Body, block_loads, body_loads
from linewright.flow.yearly_use import Unknown, YearlyUse
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.ratings import GuideSheet
from linewright.line.spoken import in_words
from linewright.motion.curves import side_pull_m_s2
from linewright.motion.limits import drive_figures

if TYPE_CHECKING:
    from linewright.flow.duty import Duty


@dataclass(frozen=True, eq=False)
class RidingCase:
    """The carrier in one state of motion.

    Parameters
    ----------
    name : in words
    loaded : parts aboard
    in_service : it wears the guides; an emergency stop or a ride on a platform does not
    loads : of the blocks
    """

    name: str
    loaded: bool
    in_service: bool
    loads: BlockLoads

    @property
    def load_N(self) -> float:
        """Of the block that carries most. [N]"""
        return float(self.loads.equivalent_N.max())


@dataclass(frozen=True)
class LifeRecord:
    """How long the guides live.

    Parameters
    ----------
    equivalent_N : load of the worst block over the duty, without the load factor; None of other than ball guides. [N]
    load_factor : for shock and vibration; 1 where none is stated
    travel_m : nominal life, or the maker's stated travel. [m]
    travel_per_year_m : of the carrier that travels most; None where it is not known. [m]
    years : None where the travel of a year is not known
    from_duty : load and travel are those of a run; else an upper bound of the load, and the travel of the demand
    """

    equivalent_N: float | None
    load_factor: float
    travel_m: float
    travel_per_year_m: float | None
    years: float | None
    from_duty: bool


def bodies_of(line: Line, loaded: bool) -> tuple[Body, ...]:
    """The masses aboard with their heights over the blocks' plane, 0 where a height is not stated.

    At rest no height counts; while it moves the caller asks for all of them first.
    """
    sheet, fixture, part = line.conveyor, line.fixture, line.part
    plate_m = 0.0 if sheet.guides is None else sheet.guides.plate_height_m or 0.0
    bodies = [Body(sheet.carrier.mass_kg, plate_m + (sheet.carrier.mass_height_m or 0.0))]
    if fixture is not None:
        bodies.append(Body(fixture.mass_kg, plate_m + (fixture.mass_height_m or 0.0)))
    if loaded and part is not None:
        seat_m = 0.0 if fixture is None else fixture.seat_height_m or 0.0
        nests = 1 if fixture is None else fixture.nests
        bodies.append(Body(nests * part.mass_kg, plate_m + seat_m + (part.mass_height_m or 0.0)))
    return tuple(bodies)


def carrier_loads(
    line: Line, guides: GuideSheet, loaded: bool, acceleration_m_s2: tuple[float, float, float], friction_N: float
) -> BlockLoads:
    """What weight, inertia, magnets and drag do to the blocks; the sheet states the magnets."""
    magnets = line.conveyor.magnets
    assert magnets is not None
    thrust_m = guides.thrust_height_m or 0.0
    own = body_loads(bodies_of(line, loaded), magnets.attraction_N, thrust_m, acceleration_m_s2, friction_N)
    return block_loads(own.force_N, own.at_m, guides.along_m, guides.across_m, thrust_m)


def riding_cases(line: Line, layout: Layout, guides: GuideSheet) -> tuple[RidingCase, ...]:
    """Every state of motion that a carrier can come into, empty and loaded, at the most that its moves may use."""
    sheet, used = line.conveyor, drive_figures(line)
    drag_N, hardest = sheet.drive.friction_N, used.acceleration_m_s2
    side, curve = 0.0, ""

    def at(acceleration_m_s2: float) -> str:
        return in_words(acceleration_m_s2, "m/s²", line.units)

    if sheet.curve is not None and any(lane.is_ring for lane in layout.lanes):
        side, curve = side_pull_m_s2(min(sheet.curve.speed_m_s, used.speed_m_s), sheet.curve.radius_m), " in a curve"
    states = [
        (f"speeding up at {at(hardest)}{curve}", True, (hardest, side, 0.0), -drag_N),
        (f"braking at {at(hardest)}{curve}", True, (-hardest, side, 0.0), -drag_N),
    ]
    if sheet.stopping is not None:
        stop = sheet.stopping.deceleration_m_s2
        states.append((f"emergency stop at {at(stop)}{curve}", False, (-stop, side, 0.0), -drag_N))
    for kind in sorted({transfer.kind for transfer in line.transfers}):
        ride = sheet.transfers[kind].acceleration_m_s2
        if kind == "lift":
            states.append((f"on a lift, {at(ride)} up", False, (0.0, 0.0, ride), 0.0))
            states.append((f"on a lift, {at(ride)} down", False, (0.0, 0.0, -ride), 0.0))
        else:
            states.append((f"on a {kind}, {at(ride)} across", False, (0.0, ride, 0.0), 0.0))
    return tuple(
        RidingCase(name, loaded, wears, carrier_loads(line, guides, loaded, vector, drag))
        for loaded in (False, True)
        for name, wears, vector, drag in states
    )


def duty_load_N(line: Line, layout: Layout, guides: GuideSheet, duty: Duty) -> float | None:
    """Equivalent load of the worst block over all moves of a run; None where nothing moved. [N]

    Each move counts its two ramps at their greatest acceleration and its cruise without, each by its travel; in a
    curve the side pull of the peak speed over the whole move. A carrier keeps its bearing on the floor, so that on a
    lane from east to west its blocks change places; on a ring it turns with the track.
    """
    counts = np.bincount(duty.leg, minlength=len(duty.legs))
    curve, drag_N = line.conveyor.curve, line.conveyor.drive.friction_N
    cubes, travel_m = np.zeros(4), 0.0
    for leg, count in zip(duty.legs, counts.tolist(), strict=True):
        lane, move = layout.lanes[leg.lane], leg.move
        forward = 1.0 if lane.is_ring or lane.from_ == "west" else -1.0
        forward *= 1.0 if leg.end_m >= leg.start_m else -1.0
        side = side_pull_m_s2(move.peak_speed_m_s, curve.radius_m) if leg.curved and curve is not None else 0.0
        phases = (
            (move.speeding_up.travel_m, move.peak_acceleration_m_s2),
            (move.cruise_s * move.peak_speed_m_s, 0.0),
            (move.slowing_down.travel_m, -move.peak_deceleration_m_s2),
        )
        for way_m, along in phases:
            if way_m * count <= 0.0:
                continue
            vector = (forward * along, side, 0.0)
            loads = carrier_loads(line, guides, leg.loaded, vector, -forward * drag_N)
            cubes += count * way_m * loads.equivalent_N**3
            travel_m += count * way_m
    return None if travel_m == 0.0 else math.cbrt(float(cubes.max()) / travel_m)


def life_of(
    line: Line,
    layout: Layout,
    guides: GuideSheet,
    cases: tuple[RidingCase, ...] | None,
    use: YearlyUse | Unknown,
    duty: Duty | None,
) -> LifeRecord | None:
    """Life of the guides; None where a figure is missing: `cases` of ball guides, the stated travel of others."""
    yearly_m = use.travel_m if isinstance(use, YearlyUse) else None
    factor, load_N, from_duty = guides.load_factor or 1.0, None, False
    if guides.kind != "ball":
        travel_m = guides.travel_life_m
        from_duty = duty is not None
    elif cases is None:
        travel_m = None
    else:
        if duty is not None:
            load_N = duty_load_N(line, layout, guides, duty)
        from_duty = load_N is not None
        if load_N is None:
            load_N = max(case.load_N for case in cases if case.in_service)
        travel_m = guide_life(guides.dynamic_rating_N, load_N, guides.rating_travel_m, factor).travel_m
    if travel_m is None:
        return None
    years = travel_m / yearly_m if yearly_m else None
    return LifeRecord(load_N, factor, travel_m, yearly_m, years, from_duty)
