"""Where the coil groups of a track lie, and how much of each move's thrust falls on each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.layout import Layout
from linewright.layout.lanes import SAME_PLACE_M
from linewright.motion.electric import FloatArray
from linewright.motion.profile import Move

if TYPE_CHECKING:
    from linewright.flow.duty import DutyLeg

STEP_S: Final = 1e-3
"""Longest interval over whose middle a move is looked at. [s]"""


@dataclass(frozen=True)
class CoilStretch:
    """A lane or a platform, cut into coil groups.

    Parameters
    ----------
    name : of the lane or the transfer
    first : number of its first group on the whole track
    edges_m : ends of its groups, one more than groups: of a lane travel, of a platform from its west end. [m]
    floor_m : the same places as floor distances; of a ring travel. [m]
    """

    name: str
    first: int
    edges_m: tuple[float, ...]
    floor_m: tuple[float, ...]

    @property
    def groups(self) -> int:
        """How many groups it has."""
        return len(self.edges_m) - 1


@dataclass(frozen=True)
class CoilView:
    """A stretch as it lies in a lane's frame: distance in the lane's stated direction from its start.

    Parameters
    ----------
    first : number of the group of the first pair of edges on the whole track
    step : 1, or -1 where the groups are met in falling order
    edges_m : ascending, in the frame. [m]
    """

    first: int
    step: int
    edges_m: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class CoilTrack:
    """All coil groups of a track.

    Parameters
    ----------
    stretches : lanes in the order of the layout, then the platforms in the order of its transfers
    views : of each lane, what lies in its frame: itself, of a ring several rounds, and the platforms at its ends
    groups : how many there are in all
    """

    stretches: tuple[CoilStretch, ...]
    views: tuple[tuple[CoilView, ...], ...]
    groups: int


@dataclass(frozen=True, eq=False)
class CoilSums:
    """Integrals over one move for each group: of share², of share² a and of share² a², shape (groups,).

    `time_s` [s], `speed_m_s` [m/s], `squares_m2_s3` [m²/s³]: the heat of a group in a move is R/k² times
    m² squares + 2 m friction speed + friction² time.
    """

    time_s: FloatArray
    speed_m_s: FloatArray
    squares_m2_s3: FloatArray


def group_edges_m(length_m: float, group_length_m: float) -> tuple[float, ...]:
    """Ends of the coil groups of a stretch, from its start; the last may be shorter.

    Parameters
    ----------
    length_m, group_length_m : of the stretch and of one group. [m], > 0

    Raises
    ------
    ValueError   A length is not positive.

    Examples
    --------
    >>> group_edges_m(0.25, 0.1)
    (0.0, 0.1, 0.2, 0.25)
    """
    for name, value in (("length_m", length_m), ("group_length_m", group_length_m)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and positive")
    count = max(1, math.ceil(length_m / group_length_m - SAME_PLACE_M))
    return (*(number * group_length_m for number in range(count)), length_m)


def coil_track(layout: Layout, group_length_m: float) -> CoilTrack:
    """Cut every lane from its start, and every platform from its west end, into coil groups.

    Parameters
    ----------
    layout : the track
    group_length_m : of a coil group along it. [m], > 0
    """
    stretches: list[CoilStretch] = []
    views: list[list[CoilView]] = []
    number, count = {lane.name: n for n, lane in enumerate(layout.lanes)}, 0
    for lane in layout.lanes:
        edges = group_edges_m(lane.length_m, group_length_m)
        stretches.append(CoilStretch(lane.name, count, edges, tuple(lane.travel_to_floor(x) for x in edges)))
        rounds = (-1, 0, 1, 2) if lane.is_ring else (0,)
        views.append([CoilView(count, 1, tuple(x + n * lane.length_m for x in edges)) for n in rounds])
        count += len(edges) - 1
    for transfer in layout.transfers:
        edges, size, gap = group_edges_m(transfer.platform_m, group_length_m), transfer.platform_m, transfer.gap_m
        first_lane = layout.lane(transfer.takes[0])
        ends = (
            first_lane.travel_to_floor(first_lane.length_m + gap),
            first_lane.travel_to_floor(first_lane.length_m + gap + size),
        )
        stretches.append(CoilStretch(transfer.name, count, edges, tuple(min(ends) + x for x in edges)))
        docks = [(name, layout.lane(name).length_m + gap) for name in transfer.takes]
        docks += [(name, -gap - size) for name in transfer.gives]
        for name, low_m in docks:
            views[number[name]].append(_platform_view(edges, count, low_m, layout.lane(name).from_ == "west"))
        count += len(edges) - 1
    return CoilTrack(tuple(stretches), tuple(tuple(one) for one in views), count)


def _platform_view(edges: tuple[float, ...], first: int, low_m: float, eastwards: bool) -> CoilView:
    """A platform whose near end lies at `low_m` of a lane's frame."""
    if eastwards:
        return CoilView(first, 1, tuple(low_m + x for x in edges))
    high_m = low_m + edges[-1]
    return CoilView(first + len(edges) - 2, -1, tuple(high_m - x for x in reversed(edges)))


def thrust_shares(track: CoilTrack, lane: int, centres_m: FloatArray, carrier_m: float) -> FloatArray:
    """Share of the thrust that each coil group gives when a carrier's centre is there.

    Parameters
    ----------
    track : the coil groups
    lane : number of the lane in whose frame the centres are
    centres_m : shape (n,). [m]
    carrier_m : length of the bare carrier, under which the magnets lie. [m], > 0

    Returns
    -------
    float64, shape (n, groups)   Each row adds up to 1; to 0 where the carrier covers no group.

    Notes      A group's share is the length of it that the carrier covers, over the length covered of all groups.
    Source     the project's own model, docs/limits/motion.md, Heat of the coils.
    """
    covered = np.zeros((len(centres_m), track.groups))
    rear, front = centres_m - 0.5 * carrier_m, centres_m + 0.5 * carrier_m
    low_m, high_m = float(rear.min()), float(front.max())
    for view in track.views[lane]:
        edges = np.array(view.edges_m)
        begin = max(0, int(np.searchsorted(edges, low_m, side="right")) - 1)
        end = min(len(edges) - 1, int(np.searchsorted(edges, high_m, side="left")))
        if begin >= end:
            continue
        over = np.minimum(front[:, None], edges[None, begin + 1 : end + 1]) - np.maximum(
            rear[:, None], edges[None, begin:end]
        )
        numbers = view.first + view.step * np.arange(begin, end)
        covered[:, numbers] += np.maximum(over, 0.0)
    whole = covered.sum(axis=1, keepdims=True)
    return np.asarray(np.divide(covered, whole, out=covered, where=whole > 0.0), np.float64)


def coil_sums(track: CoilTrack, leg: DutyLeg, carrier_m: float) -> CoilSums:
    """What one move asks of each coil group, by the midpoint rule over equal intervals of at most 1 ms.

    Parameters
    ----------
    track : the coil groups
    leg : the move and where it runs
    carrier_m : length of the bare carrier. [m], > 0
    """
    times, step_s = _midpoints(leg.move)
    sign = 1.0 if leg.end_m >= leg.start_m else -1.0
    centres = leg.start_m + sign * leg.move.position_m(times)
    acceleration = leg.move.acceleration_m_s2(times)
    squares = thrust_shares(track, leg.lane, centres, carrier_m) ** 2
    powers = np.stack((np.ones_like(times), acceleration, acceleration**2)) * step_s
    sums = powers @ squares
    return CoilSums(sums[0], sums[1], sums[2])


def _midpoints(move: Move) -> tuple[FloatArray, float]:
    count = max(1, math.ceil(move.duration_s / STEP_S - 1e-9))
    step_s = move.duration_s / count
    return np.asarray((np.arange(count) + 0.5) * step_s, np.float64), step_s
