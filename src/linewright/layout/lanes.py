"""The track of one line, unrolled: its lanes, its transfers and its stops on one axis.

Three ways to say where something is, all in metres:

- **travel**: along one lane in its direction of travel, 0 at the lane's start;
- **axis**: along the whole loop in travel order (lane, platform, lane, platform ...), 0 at the start of the first lane;
  a ride keeps its place on the axis, so it is vertical in a string line;
- **floor**: from the west end of the floor towards the east, whichever way the lane runs.

A carrier's **body** is what must not touch its neighbour or reach beyond a lane's end: the longer, along the track, of
the carrier and the fixture it bears. It is centred on the carrier.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from linewright.line.model import Lane, Line

StopKind = Literal["waiting", "station", "dock", "aboard"]

# Places that differ by less are the same place: the bound that semantics.md sets for the clear gap.
SAME_PLACE_M: Final = 1e-9


@dataclass(frozen=True)
class Stop:
    """A place where a carrier may rest.

    Parameters
    ----------
    index : rank in loop order, counted from 0
    kind : ``waiting``, ``station``, ``dock`` or ``aboard``
    lane : the lane it lies on; for a place aboard the lane that the transfer takes from
    station : name of the station there, else None
    transfer : name of the transfer at a dock stop or a place aboard, else None
    travel_m : along its lane; a place aboard lies beyond the lane's length. [m]
    axis_m : on the unrolled axis. [m]
    floor_m : from the west end of the floor; of a place aboard at the dock it takes from. [m]
    """

    index: int
    kind: StopKind
    lane: str
    station: str | None
    transfer: str | None
    travel_m: float
    axis_m: float
    floor_m: float

    @property
    def label(self) -> str:
        """What a person calls it, such as ``station press``, ``waiting stop 12`` or ``dock of east-lift``."""
        if self.kind == "station":
            return f"station {self.station}"
        if self.kind == "dock":
            return f"dock of {self.transfer}"
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
        along = travel_m if self.from_ == "west" else self.length_m - travel_m
        return self.west_end_m + along

    def floor_to_travel(self, floor_m: float) -> float:
        """Travel on this lane of a floor place; outside 0 .. length_m where the lane does not reach it. [m]"""
        along = floor_m - self.west_end_m
        return along if self.from_ == "west" else self.length_m - along


@dataclass(frozen=True)
class TransferLayout:
    """One transfer between the end of a lane and the start of the next, on the axis.

    Parameters
    ----------
    kind : ``lift`` or ``cross-transfer``
    takes, gives : the lanes
    aboard : rank of its place aboard
    platform_m : length of the platform along the track. [m]
    gap_m : between the platform and a lane's end. [m]
    start_axis_m : where it starts on the axis: the end of the lane it takes from. [m]
    on_m : from the dock stop to the place aboard = half a body + gap + half a platform. [m]
    off_m : from the place aboard to the start of the lane it gives to = half a platform + gap. [m]
    rear_m : what a carrier must have travelled for its rear to have left = half a platform + half a body. [m]
    ride_m : how far the platform rides: the lanes' difference in level or across. [m]
    """

    name: str
    kind: str
    takes: str
    gives: str
    aboard: int
    platform_m: float
    gap_m: float
    start_axis_m: float
    on_m: float
    off_m: float
    rear_m: float
    ride_m: float

    @property
    def aboard_axis_m(self) -> float:
        """Axis place of a carrier aboard: the platform's centre. [m]"""
        return self.start_axis_m + self.gap_m + self.platform_m / 2


@dataclass(frozen=True)
class Layout:
    """The whole track.

    Parameters
    ----------
    lanes : in travel order, the first lane of the file first
    transfers : in the same order; transfer i follows lane i
    stops : in rank order
    pitch_m : least distance of two carriers' centres. [m]
    body_m : length of a carrier with its fixture along the track. [m]
    loop_m : length of the axis, once round. [m]
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

    def transfer_after(self, lane: str) -> TransferLayout:
        """The transfer that takes from a lane. Raises KeyError if there is none."""
        for transfer in self.transfers:
            if transfer.takes == lane:
                return transfer
        raise KeyError(f"no transfer takes from lane {lane!r}")


def body_length_m(line: Line) -> float:
    """Length of a carrier with its fixture along the track: the longer of the two. [m]

    Source     the definition of the least pitch in semantics.md: neighbours touch with whichever is longer.
    """
    carrier_m = line.conveyor.carrier.length_m
    if line.fixture is None or line.fixture.envelope_m is None:
        return carrier_m
    return max(carrier_m, line.fixture.envelope_m[0])


def least_pitch_m(line: Line) -> float:
    """Least distance between the centres of two carriers on one lane. [m]

    Notes      pitch = max(max(carrier, fixture envelope along the track) + clear gap, the sheet's least pitch)
    Source     semantics.md, Places and moves; the sheet's least pitch is its maker's statement.
    """
    return max(body_length_m(line) + line.conveyor.clear_gap_m, line.conveyor.least_pitch_m)


def travel_order(line: Line) -> tuple[Lane, ...]:
    """The lanes in travel order, the first one of the file first.

    Raises
    ------
    ValueError   The transfers do not form one closed loop through all lanes (a read line file always does).
    """
    next_lane = {transfer.takes: transfer.gives for transfer in line.transfers}
    order = [line.lanes[0]]
    while len(order) < len(line.lanes):
        name = next_lane.get(order[-1].name)
        if name is None or any(lane.name == name for lane in order):
            break
        order.append(line.lane(name))
    if len(order) < len(line.lanes) or next_lane.get(order[-1].name) != order[0].name:
        raise ValueError("the transfers do not form one closed loop through all lanes")
    return tuple(order)
