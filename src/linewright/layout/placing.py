"""Lanes and transfers put on the axis: lanes cut from stock sections, rings with their curves, platforms."""

from __future__ import annotations

import math
from typing import Final

from linewright.errors import Fault, LineFileError, Place
from linewright.layout.lanes import LaneLayout, TransferLayout
from linewright.layout.sections import SectionCut, SectionCutError, cut_sections
from linewright.line.model import Lane, Line, Transfer
from linewright.line.track import ring_pieces

MM_PER_M: Final = 1000.0
INCH_M: Final = 0.0254


def travel_order(line: Line) -> tuple[Lane, ...]:
    """The lanes in the order of the axis: from the first one of the file on, at each transfer the lane named first
    before the others, each lane once.

    Raises
    ------
    ValueError   Some lane cannot be reached from the first (a read line file never has one).
    """
    gives = {name: transfer.gives_all for transfer in line.transfers for name in transfer.takes_all}
    order: list[str] = []
    ahead = [line.lanes[0].name]
    while ahead:
        name = ahead.pop()
        if name not in order:
            order.append(name)
            ahead += reversed(gives.get(name, ()))
    missed = [lane.name for lane in line.lanes if lane.name not in order]
    if missed:
        raise ValueError(f"the transfers do not lead from lane {order[0]} to {', '.join(missed)}")
    return tuple(line.lane(name) for name in order)


def checked_cuts(line: Line) -> dict[str, tuple[SectionCut, ...]]:
    """The sections of every lane by name, of a ring those of its long and its short straight; raises with every lane
    that cannot be cut."""
    faults = []
    cuts: dict[str, tuple[SectionCut, ...]] = {}
    stock = line.conveyor.sections
    lengths = tuple(one.length_m for one in stock)
    prices = tuple(one.price for one in stock)
    for lane in line.lanes:
        barred = () if lane.ring is not None else _barred(line, lane)
        if lane.ring is None:
            straights: list[tuple[float, str, tuple[str, ...]]] = [(lane.length_m, f"lane {lane.name}", ("length",))]
        else:
            straights = [(lane.ring.long_m, f"long straight of ring {lane.name}", ("ring", "long"))]
            if lane.ring.short_m:
                straights.append((lane.ring.short_m, f"short straight of ring {lane.name}", ("ring", "short")))
        found = []
        for length_m, name, key in straights:
            try:
                found.append(cut_sections(length_m, lengths, no_joint=barred, prices=prices))
            except SectionCutError as error:
                if barred and _cuts(length_m, lengths):
                    faults.append(_joint_fault(line, lane, lengths))
                    continue
                told = f"{name} of {length_text(length_m, line.units)}: {error}"
                allowed = "a lane that the sheet's sections can make"
                faults.append(Fault(place_of(line, "lanes", lane.name, *key), told, allowed))
        cuts[lane.name] = tuple(found)
    if faults:
        raise LineFileError(faults)
    return cuts


def _barred(line: Line, lane: Lane) -> tuple[tuple[float, float], ...]:
    """Travel and distance of each station of a straight lane that states `no_joint`."""
    along = [
        (one.at_m - lane.west_end_m if lane.from_ == "west" else lane.west_end_m + lane.length_m - one.at_m, one)
        for one in line.stations
        if one.lane == lane.name and one.no_joint_m > 0.0
    ]
    return tuple((travel_m, one.no_joint_m) for travel_m, one in along)


def _cuts(length_m: float, lengths_m: tuple[float, ...], no_joint: tuple[tuple[float, float], ...] = ()) -> bool:
    try:
        cut_sections(length_m, lengths_m, no_joint=no_joint)
    except SectionCutError:
        return False
    return True


def _joint_fault(line: Line, lane: Lane, lengths_m: tuple[float, ...]) -> Fault:
    """No row of the stock keeps its joints off all stations: told at the first that cannot be satisfied with those
    before it."""
    barred = _barred(line, lane)
    asking = [one for one in line.stations if one.lane == lane.name and one.no_joint_m > 0.0]
    number = next(k for k in range(len(barred)) if not _cuts(lane.length_m, lengths_m, barred[: k + 1]))
    station = asking[number]
    found = f"no row of the sheet's sections keeps its joints {length_text(station.no_joint_m, line.units)} off"
    allowed = "write less, or move the station"
    return Fault(place_of(line, "stations", station.name, "no_joint"), found, allowed)


def place_lane(line: Line, lane: Lane, cuts: tuple[SectionCut, ...], axis_m: float) -> LaneLayout:
    """A lane on the axis, cut from stock."""
    if lane.ring is not None:
        return _place_ring(line, lane, cuts, axis_m)
    assert lane.from_ is not None and lane.to is not None  # noqa: PT018  held by the model: from and to, or a ring
    return LaneLayout(
        name=lane.name,
        length_m=lane.length_m,
        start_axis_m=axis_m,
        from_=lane.from_,
        to=lane.to,
        level_m=lane.level_m,
        across_m=lane.across_m,
        west_end_m=lane.west_end_m,
        sections=cuts[0].sections_m,
        joints_travel_m=cuts[0].joints_m,
        two_way=lane.two_way,
    )


def _place_ring(line: Line, lane: Lane, cuts: tuple[SectionCut, ...], axis_m: float) -> LaneLayout:
    """A ring: each straight cut from stock, each turn made of the sheet's curved sections."""
    curve = line.conveyor.curve
    assert curve is not None and lane.ring is not None  # noqa: PT018  a line file with a ring and without it is refused
    pieces = ring_pieces(lane.ring, curve)
    sections: list[float] = []
    joints: list[float] = []
    straights = 0
    for piece in pieces:
        joints.append(piece.from_m)
        if piece.is_curved:
            number = max(1, round((piece.to_m - piece.from_m) / (curve.radius_m * math.radians(curve.angle_deg))))
            length_m = (piece.to_m - piece.from_m) / number
            sections += [length_m] * number
            joints += [piece.from_m + k * length_m for k in range(1, number)]
            continue
        cut = cuts[straights % len(cuts)]
        straights += 1
        sections += cut.sections_m
        joints += [piece.from_m + joint_m for joint_m in cut.joints_m]
    return LaneLayout(
        name=lane.name,
        length_m=pieces[-1].to_m,
        start_axis_m=axis_m,
        from_="west",
        to="east",
        level_m=lane.level_m,
        across_m=lane.across_m,
        west_end_m=lane.west_end_m,
        sections=tuple(sections),
        joints_travel_m=tuple(joints[1:]),
        pieces=pieces,
        radius_m=curve.radius_m,
    )


def place_transfer(
    line: Line, transfer: Transfer, takes: LaneLayout, aboard: int, body_m: float, pitch_m: float
) -> TransferLayout:
    sheet = line.conveyor.transfers[transfer.kind]
    gives = line.lane(transfer.gives)
    ride_m = abs(gives.level_m - takes.level_m) if transfer.kind == "lift" else abs(gives.across_m - takes.across_m)
    half_way_m = sheet.gap_m + sheet.platform_m / 2
    half_row_m = (transfer.places - 1) * pitch_m / 2
    return TransferLayout(
        name=transfer.name,
        kind=transfer.kind,
        takes=transfer.takes_all,
        gives=transfer.gives_all,
        aboard=aboard,
        platform_m=sheet.platform_m,
        gap_m=sheet.gap_m,
        start_axis_m=takes.end_axis_m,
        on_m=body_m / 2 + half_way_m - half_row_m,
        off_m=half_way_m - half_row_m,
        rear_m=sheet.platform_m / 2 + body_m / 2 - half_row_m,
        ride_m=ride_m,
        places=transfer.places,
        pitch_m=pitch_m if transfer.places > 1 else 0.0,
        at_once=transfer.returns == "at-once",
    )


def length_text(length_m: float, units: str) -> str:
    """A length as the line file prints it.

    Examples
    --------
    >>> length_text(0.2765, "mm"), length_text(0.254, "inch")
    ('276.5 mm', '10 in')
    """
    if units == "inch":
        return f"{round(length_m / INCH_M, 3) + 0.0:.10g} in"
    return f"{round(length_m * MM_PER_M, 1) + 0.0:.10g} mm"


def place_of(line: Line, *path: str | int) -> Place:
    """The place of a key in the line file; for a line made in Python a place that says so."""
    return line.place(*path) or Place("line made in Python", 1, 1)
