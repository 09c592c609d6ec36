"""The track of one line, unrolled: its lanes, its transfers and its stops on one axis.

Three ways to say where something is, all in metres:

- **travel**: along one lane in its direction of travel, 0 at the lane's start; on a lane to and fro in the direction
  that the file states;
- **axis**: along the whole track in travel order (lane, platform, lane, platform ...), 0 at the start of the first
  lane; a ride keeps its place on the axis, so it is vertical in a string line. Where a track branches, the lanes follow
  one another from the first on, at each transfer the lane named first before the others, each lane once; the platform
  stands after the first lane from which it takes, and after any other lane that ends there is a gap;
- **floor**: from the west end of the floor towards the east, whichever way the lane runs; on a ring along it, from the
  start of its first long straight.

A carrier's **body** is what must not touch its neighbour or reach beyond a lane's end: the longer, along the track, of
the carrier and the fixture it bears. It is centred on the carrier.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from linewright.layout.curves import body_length_m, pitch_on_ring_m
from linewright.line.model import Line
from linewright.line.track import RingPiece

StopKind = Literal["waiting", "station", "dock", "aboard"]

# Places that differ by less are the same place: the bound that semantics.md sets for the clear gap.
SAME_PLACE_M: Final = 1e-9


@dataclass(frozen=True)
class Stop:
    """A place where a carrier may rest.

    Parameters
    ----------
    index : rank in the order of lanes and of travel on each, counted from 0
    kind : ``waiting``, ``station``, ``dock`` or ``aboard``
    lane : the lane it lies on; for a place aboard the lane that the transfer takes from
    station : name of the station there, else None
    transfer : name of the transfer at a dock stop or a place aboard, else None
    travel_m : along its lane; a place aboard lies beyond the lane's length. [m]
    axis_m : on the unrolled axis. [m]
    floor_m : from the west end of the floor, on a ring along it; of a place aboard at the dock it takes from. [m]
    of_several : a dock of a transfer that takes from several lanes, so that its name alone would not tell which
    """

    index: int
    kind: StopKind
    lane: str
    station: str | None
    transfer: str | None
    travel_m: float
    axis_m: float
    floor_m: float
    of_several: bool = False

    @property
    def label(self) -> str:
        """What a person calls it, such as ``station press``, ``waiting stop 12`` or ``dock of east-lift``.

        Of a transfer that takes from several lanes each dock has a name of its own: ``dock of gate on healed``.
        """
        if self.kind == "station":
            return f"station {self.station}"
        if self.kind == "dock":
            return f"dock of {self.transfer} on {self.lane}" if self.of_several else f"dock of {self.transfer}"
        return f"aboard {self.transfer}" if self.kind == "aboard" else f"waiting stop {self.index}"


@dataclass(frozen=True)
class LaneLayout:
    """One lane on the axis, and the stock sections it is cut from.

    Parameters
    ----------
    start_axis_m : where it starts on the unrolled axis. [m]
    from_, to : ``west`` or ``east``, the ends in travel
    level_m, across_m, west_end_m : where it lies: height, side, floor place of its west end. [m]
    sections : lengths of the sections from the lane's start on; together at least length_m. [m]
    joints_travel_m : where two sections meet, from the lane's start. [m]
    pieces : of a ring its straights and turns in travel; empty for a straight lane
    radius_m : of the turns of a ring. [m]
    two_way : carriers go to and fro on it
    """

    name: str
    length_m: float
    start_axis_m: float
    from_: str
    to: str
    level_m: float
    across_m: float
    west_end_m: float
    sections: tuple[float, ...]
    joints_travel_m: tuple[float, ...]
    pieces: tuple[RingPiece, ...] = ()
    radius_m: float | None = None
    two_way: bool = False

    @property
    def is_ring(self) -> bool:
        """Whether it is closed on itself."""
        return bool(self.pieces)

    @property
    def end_axis_m(self) -> float:
        """Where the lane ends on the unrolled axis. [m]"""
        return self.start_axis_m + self.length_m

    @property
    def surplus_m(self) -> float:
        """By how much the sections are longer than the lane. [m]"""
        surplus = sum(self.sections) - self.length_m
        return surplus if surplus > SAME_PLACE_M else 0.0

    def travel_to_axis(self, travel_m: float) -> float:
        """Axis place of a travel on this lane. [m]"""
        return self.start_axis_m + travel_m

    def axis_to_travel(self, axis_m: float) -> float:
        """Travel on this lane of an axis place. [m]"""
        return axis_m - self.start_axis_m

    def travel_to_floor(self, travel_m: float) -> float:
        """Floor place of a travel on this lane; also beyond its ends. [m]"""
        if self.is_ring:
            return travel_m
        along = travel_m if self.from_ == "west" else self.length_m - travel_m
        return self.west_end_m + along

    def floor_to_travel(self, floor_m: float) -> float:
        """Travel on this lane of a floor place; outside 0 .. length_m where the lane does not reach it. [m]"""
        if self.is_ring:
            return floor_m
        along = floor_m - self.west_end_m
        return along if self.from_ == "west" else self.length_m - along

    def floor_point(self, travel_m: float) -> tuple[float, float]:
        """Floor distance and across of a travel on this lane. [m]"""
        if self.radius_m is None:
            return self.travel_to_floor(travel_m), self.across_m
        along_m = travel_m % self.length_m
        piece = next(one for one in reversed(self.pieces) if one.from_m <= along_m)
        on_m, heading, radius_m = along_m - piece.from_m, piece.heading_rad, self.radius_m
        if piece.is_curved:
            after = heading + on_m / radius_m
            x_m = piece.x_m + radius_m * (math.sin(after) - math.sin(heading))
            y_m = piece.y_m + radius_m * (math.cos(heading) - math.cos(after))
        else:
            x_m, y_m = piece.x_m + on_m * math.cos(heading), piece.y_m + on_m * math.sin(heading)
        return self.west_end_m + x_m, self.across_m + y_m

    def touches_curve(self, from_m: float, to_m: float) -> bool:
        """Whether the stretch between two travels, which may lie beyond a ring's start, reaches into a curve."""
        low_m, high_m = min(from_m, to_m) + SAME_PLACE_M, max(from_m, to_m) - SAME_PLACE_M
        rounds = range(int(low_m // self.length_m), int(high_m // self.length_m) + 1) if self.pieces else ()
        return any(
            low_m < piece.to_m + n * self.length_m and piece.from_m + n * self.length_m < high_m
            for piece in self.pieces
            if piece.is_curved
            for n in rounds
        )


@dataclass(frozen=True)
class TransferLayout:
    """One transfer between the ends of lanes and the starts of others, on the axis.

    Parameters
    ----------
    kind : ``lift`` or ``cross-transfer``
    takes, gives : the lanes, in the order in which the file names them
    aboard : rank of its first place aboard
    platform_m : length of the platform along the track. [m]
    gap_m : between the platform and a lane's end. [m]
    start_axis_m : where it starts on the axis: the end of the first lane it takes from. [m]
    on_m : from the dock stop to the first place aboard. [m]
    off_m : from the last place aboard to the start of the lane it gives to. [m]
    rear_m : what a carrier at the last place must have travelled for its rear to have left. [m]
    ride_m : how far the platform rides from the first lane it takes from to the first it gives to: the lanes'
        difference in level or across. [m]
    places : carriers aboard at once, a least pitch apart, the row centred on the platform
    pitch_m : between two places. [m]
    at_once : the empty platform returns at once; else when it is called

    Notes      With one place on_m = half a body + gap + half a platform, off_m = half a platform + gap, rear_m = half a
               platform + half a body; of more the row's half length is taken off each.
    """

    name: str
    kind: str
    takes: tuple[str, ...]
    gives: tuple[str, ...]
    aboard: int
    platform_m: float
    gap_m: float
    start_axis_m: float
    on_m: float
    off_m: float
    rear_m: float
    ride_m: float
    places: int = 1
    pitch_m: float = 0.0
    at_once: bool = True

    @property
    def aboards(self) -> tuple[int, ...]:
        """Ranks of its places aboard, ascending in travel."""
        return tuple(range(self.aboard, self.aboard + self.places))

    @property
    def platform_axis_m(self) -> float:
        """Axis place of the platform's centre. [m]"""
        return self.start_axis_m + self.gap_m + self.platform_m / 2

    @property
    def aboard_axis_m(self) -> float:
        """Axis place of a carrier at the first place aboard; with one place the platform's centre. [m]"""
        return self.platform_axis_m - (self.places - 1) * self.pitch_m / 2

    @property
    def end_axis_m(self) -> float:
        """Where the lane that it gives to may start on the axis. [m]"""
        return self.aboard_axis_m + (self.places - 1) * self.pitch_m + self.off_m

    def off_from_m(self, aboard: int) -> float:
        """From a place aboard to the start of the lane it gives to. [m]"""
        return self.off_m + (self.aboard + self.places - 1 - aboard) * self.pitch_m

    def rear_from_m(self, aboard: int) -> float:
        """What a carrier must have travelled from a place aboard for its rear to have left. [m]"""
        return self.rear_m + (self.aboard + self.places - 1 - aboard) * self.pitch_m


@dataclass(frozen=True)
class Layout:
    """The whole track.

    Parameters
    ----------
    lanes : in the order of the axis, the first lane of the file first
    transfers : in the order of their platforms on the axis; of a loop transfer i follows lane i
    stops : in rank order
    pitch_m : least distance of two carriers' centres. [m]
    body_m : length of a carrier with its fixture along the track. [m]
    loop_m : length of the axis; of a loop or a ring once round. [m]
    blocking : why no traffic can be planned on this track: ``code: place`` of each finding that no rule of traffic can
        get around; empty where there is none
    """

    lanes: tuple[LaneLayout, ...]
    transfers: tuple[TransferLayout, ...]
    stops: tuple[Stop, ...]
    pitch_m: float
    body_m: float
    loop_m: float
    blocking: tuple[str, ...] = ()

    @property
    def is_closed(self) -> bool:
        """Whether the axis is one loop or ring: its end is its start, and no carrier has a choice on it."""
        if len(self.lanes) == 1:
            return self.lanes[0].is_ring
        one_each = all(len(t.takes) == len(t.gives) == 1 for t in self.transfers)
        return one_each and len(self.transfers) == len(self.lanes)

    @property
    def is_plain(self) -> bool:
        """Whether it is a loop or a ring on which every transfer takes one carrier and returns at once."""
        return self.is_closed and all(t.places == 1 and t.at_once for t in self.transfers)

    def stop_of(self, station: str) -> Stop:
        """The stop of a station. Raises KeyError if there is none of that name."""
        for stop in self.stops:
            if stop.station == station:
                return stop
        raise KeyError(f"no station {station!r} on this track")

    def lane(self, name: str) -> LaneLayout:
        """A lane by its name. Raises KeyError if there is none of that name."""
        for lane in self.lanes:
            if lane.name == name:
                return lane
        raise KeyError(f"no lane {name!r} on this track")

    def transfer_of(self, stop: Stop) -> TransferLayout:
        """The transfer of a dock stop or a place aboard. Raises KeyError for any other stop."""
        for transfer in self.transfers:
            if stop.transfer == transfer.name:
                return transfer
        raise KeyError(f"{stop.label} belongs to no transfer")

    def transfer_after(self, lane: str) -> TransferLayout:
        """The transfer that takes from a lane. Raises KeyError if there is none."""
        for transfer in self.transfers:
            if lane in transfer.takes:
                return transfer
        raise KeyError(f"no transfer takes from lane {lane!r}")


def least_pitch_m(line: Line) -> float:
    """Least distance between the centres of two carriers on one lane. [m]

    Notes      pitch = max(max(carrier, fixture envelope along the track) + clear gap, the sheet's least pitch); on a
               ring no less than in its curves, everywhere (:func:`linewright.layout.curves.ring_pitch_m`).
    Source     semantics.md, Places and moves; the sheet's least pitch is its maker's statement.
    """
    sheet = line.conveyor
    straight_m = max(body_length_m(line) + sheet.clear_gap_m, sheet.least_pitch_m)
    if all(lane.ring is None for lane in line.lanes):
        return straight_m
    ring_m = pitch_on_ring_m(line)
    return straight_m if ring_m is None else max(straight_m, ring_m)
