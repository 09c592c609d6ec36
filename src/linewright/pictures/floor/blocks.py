"""What is written beside one row of track in a plan: distances between centres, names, lane length, motor zones.

Outwards of the track stand the chain of distances and beyond it the names; inwards the zones and the lane's length,
so that no line to a name passes through them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from linewright.layout import LaneLayout
from linewright.line.electrics import MotorZone
from linewright.pictures.floor.dimensions import Dimension, DimensionRow, chain_row, level_row
from linewright.pictures.floor.ground import Ground, Part, TrackRow, docks, parts_of
from linewright.pictures.labels import LabelRow, place_labels, spread, text_width_px

LEADER_PX: Final = 20.0  # between the chain and the names
PIN_PX: Final = 9.0
ZONE_PX: Final = 8.0


@dataclass(frozen=True)
class Named:
    """A place with a name.

    Parameters
    ----------
    kind : ``station`` or ``transfer``
    x_px : where a line leads up or down from it. [px]
    track_px : where the middle of the track is there. [px]
    off_px : from the row's middle to where that line starts, towards greater across. [px]
    name : what a pointer tells
    """

    kind: str
    label: str
    x_px: float
    track_px: float
    off_px: float
    name: str


@dataclass(frozen=True)
class Zones:
    """Motor zones of a row of track, and where their words stand. [px]"""

    zones: tuple[tuple[float, float, str, str], ...]
    centres_px: tuple[float, ...]
    height_px: float


@dataclass(frozen=True)
class Block:
    """All that is written beside one row of track.

    Parameters
    ----------
    chain : distances between centres; None where no station stands on it
    lanes : each lane's length and what leads to its west end
    zones : None where there are none
    name_px : size of the names' letters
    """

    row: TrackRow
    named: tuple[Named, ...]
    labels: LabelRow
    chain: DimensionRow | None
    lanes: DimensionRow
    zones: Zones | None
    name_px: float

    @property
    def names_px(self) -> float:
        """Height of the names with the lines that lead to them. [px]"""
        return LEADER_PX + self.labels.height_px + 4.0 if self.named else 0.0

    @property
    def outward_px(self) -> float:
        """Height of what stands outwards. [px]"""
        chain = 0.0 if self.chain is None else self.chain.height_px + 3.0
        return PIN_PX + chain + self.names_px

    @property
    def inward_px(self) -> float:
        """Height of what stands inwards, where there is room. [px]"""
        return 8.0 + (0.0 if self.zones is None else self.zones.height_px + 3.0) + self.lanes.height_px

    @property
    def right_px(self) -> float:
        """Right end of all words beside the track. [px]"""
        names = [
            centre + (text_width_px(one.label, self.name_px) / 2 if self.labels.direction == "level" else self.name_px)
            for one, centre in zip(self.named, self.labels.centres_px, strict=True)
        ]
        rows = [self.lanes, *([] if self.chain is None else [self.chain])]
        return max([*names, *(row.right_px for row in rows)])


def block_of(ground: Ground, row: TrackRow, named: Sequence[Named]) -> Block:
    """Lay out what is written beside a row of track."""
    text, high = ground.text, ground.width_px
    labels = place_labels([one.label for one in named], [one.x_px for one in named], high, text.px)
    dimensions = [dimension for part in row.parts if part.stations for dimension in _between(ground, part)]
    chain = chain_row(dimensions, ground.left_px, ground.high_px, text.small_px) if dimensions else None
    lengths = [dimension for part in row.parts for dimension in _lengths(ground, part)]
    lengths.sort(key=lambda one: one.middle_px)
    whole = level_row(lengths, 0.0, ground.high_px, text.small_px)
    return Block(row, tuple(named), labels, chain, whole, _zones(ground, row), text.px)


def _between(ground: Ground, part: Part) -> list[Dimension]:
    """From end to end of a part over the centres of its stations."""
    west_m, east_m = part.ends_m
    lane, kind = part.lane, "straight" if part.lane.is_ring else "lane"
    whats = [f"west end of {kind} {lane.name}", *(f"{stop.station}" for stop in part.stations), "its east end"]
    places = [west_m, *(lane.floor_point(stop.travel_m)[0] for stop in part.stations), east_m]
    return [
        Dimension(
            ground.x(before_m),
            ground.x(after_m),
            (ground.number(after_m - before_m),),
            f"{lane.name}: {one} to {other} {ground.lengths.text(after_m - before_m)}",
        )
        for (before_m, after_m), (one, other) in zip(pairwise(places), pairwise(whats), strict=True)
    ]


def _lengths(ground: Ground, part: Part) -> list[Dimension]:
    """The length of a part, and how far its west end lies from the westernmost of all lanes."""
    lane, lengths = part.lane, ground.lengths
    west_m, east_m = part.ends_m
    ends = ground.x(west_m), ground.x(east_m)
    if lane.is_ring:
        straight = f"straight {lengths.text(part.to_m - part.from_m)}"
        name = f"straight of ring {lane.name}, {lengths.text(part.to_m - part.from_m)}"
        if not part.is_first:
            return [Dimension(*ends, (straight,), name)]
        assert lane.radius_m is not None
        short = f"ring {lane.name}, {lengths.text(lane.length_m)}"
        said = f"{short} once round, radius {lengths.text(lane.radius_m)}"
        return [Dimension(*ends, (f"{said}; {straight}", said, short), f"{said}; {name}", bold=True)]
    whole = lengths.text(part.to_m - part.from_m)
    way = f"{lane.from_} {'↔' if lane.two_way else '→'} {lane.to}"
    sign = "↔" if lane.two_way else "→" if lane.to == "east" else "←"
    long = f"lane {lane.name}, {whole}, {way}"
    found = [Dimension(*ends, (long, f"{lane.name}, {whole}, {way}", f"{lane.name}, {whole} {sign}"), long, bold=True)]
    first_m = min(one.west_end_m for one in ground.layout.lanes if not one.is_ring)
    if lane.west_end_m - first_m > 1e-6 and not _is_led_to(ground, lane):
        said = lengths.text(lane.west_end_m - first_m)
        name = f"west end of lane {lane.name}: {said} east of the westernmost lane end"
        found.insert(0, Dimension(ground.x(first_m), ends[0], (said,), name))
    return found


def _is_led_to(ground: Ground, lane: LaneLayout) -> bool:
    """Whether another lane lies west of it in the same line: the dimension would run over that one's."""
    return any(
        one is not lane
        and abs(one.level_m - lane.level_m) < 1e-6
        and abs(one.across_m - lane.across_m) < 1e-6
        and one.west_end_m < lane.west_end_m
        for one in ground.layout.lanes
    )


def _zones(ground: Ground, row: TrackRow) -> Zones | None:
    zones = []
    for zone in ground.line.motor_zones:
        for part in row.parts:
            found = _zone_on(ground, zone, part)
            zones += [] if found is None else [found]
    if not zones:
        return None
    size = ground.text.small_px
    widths = [text_width_px(said, size) + size for _, _, said, _ in zones]
    centres = spread([(start + end) / 2 for start, end, _, _ in zones], widths, max(ground.width_px, sum(widths)))
    return Zones(tuple(zones), centres, ZONE_PX + 1.2 * size)


def zone_travels(lane: LaneLayout, zone: MotorZone) -> tuple[float, float]:
    """Where a motor zone starts and ends on its lane, in travel. [m]"""
    start_m, end_m = sorted(lane.floor_to_travel(at_m) for at_m in (zone.from_m, zone.to_m))
    return start_m, end_m


def _zone_on(ground: Ground, zone: MotorZone, part: Part) -> tuple[float, float, str, str] | None:
    """Ends, words and what is told of a zone on a part; None where it does not reach it, or an earlier part has it."""
    lane = part.lane
    if zone.lane != lane.name:
        return None
    travels = zone_travels(lane, zone)
    reached = [one for one in parts_of(ground.layout, lane) if max(travels[0], one.from_m) < min(travels[1], one.to_m)]
    if not reached or reached[0].from_m != part.from_m:
        return None
    start_m, end_m = max(travels[0], part.from_m), min(travels[1], part.to_m)
    ends = sorted(ground.x(lane.floor_point(travel_m)[0]) for travel_m in (start_m, end_m))
    name = f"motor zone {zone.name} on {lane.name}, {ground.lengths.text(travels[1] - travels[0])}"
    return ends[0], ends[1], f"zone {zone.name}", name


def names_of(ground: Ground, level_m: float, rows: Sequence[TrackRow]) -> list[list[Named]]:
    """For each row of track its stations and transfers; a transfer stands at the first row that it docks to, a station
    on a short straight of a ring at the nearest."""
    layout, half_px = ground.layout, ground.strip_px / 2
    named: list[list[Named]] = [[] for _ in rows]
    here = {part.lane.name for row in rows for part in row.parts}
    for stop in layout.stops:
        if stop.kind != "station" or stop.lane not in here:
            continue
        lane = layout.lane(stop.lane)
        x_m, across_m = lane.floor_point(stop.travel_m)
        number = min(range(len(rows)), key=lambda k: (abs(rows[k].across_m - across_m), k))
        off_px = (across_m - rows[number].across_m) * ground.px_m
        along = f"along {stop.lane}" if lane.is_ring else f"on lane {stop.lane}"
        name = f"station {stop.station} at {ground.lengths.text(stop.floor_m)} {along}"
        label, x_px = f"{stop.station}", ground.x(x_m)
        if abs(off_px) > 1.0:
            label += f", {ground.lengths.text(stop.travel_m)} along"
            x_px += (half_px + 6.0) * (1.0 if x_m > lane.floor_point(lane.length_m / 4)[0] else -1.0)
        named[number].append(Named("station", label, x_px, ground.x(x_m), off_px, name))
    told: set[str] = set()
    for number, row in enumerate(rows):
        for dock in docks(layout):
            in_row = any(part.lane is dock.lane for part in row.parts)
            if in_row and dock.transfer.name not in told:
                told.add(dock.transfer.name)
                between = f"from {' and '.join(dock.transfer.takes)} to {' and '.join(dock.transfer.gives)}"
                name = f"{dock.transfer.kind} {dock.transfer.name}, {between}"
                at_px = ground.x(dock.middle_m)
                named[number].append(Named("transfer", dock.transfer.name, at_px, at_px, 0.0, name))
    return named
