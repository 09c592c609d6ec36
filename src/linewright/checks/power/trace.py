"""Power of a feeder over the run: which sections it feeds, and what is drawn on them in bins of 10 ms."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.checks.power.energy import MoveEnergy
from linewright.layout import LaneLayout, Layout
from linewright.layout.lanes import SAME_PLACE_M
from linewright.line.electrics import Feeder
from linewright.motion.profile import Move

if TYPE_CHECKING:
    from linewright.flow.duty import Duty, DutyLeg

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BIN_S: Final = 0.01
"""Length of a bin. [s]"""

LONGEST_S: Final = 720.0
"""At most so much of the run is looked at, from the end of the warm-up on. [s]"""


@dataclass(frozen=True)
class FeederTrack:
    """The sections that a feeder feeds, whole ones: those whose middle lies on the stretch that it names.

    Parameters
    ----------
    name : of the feeder
    lane : number of the lane
    sections : numbers of the sections on the lane, from the feeder's head on
    low_m, high_m : travel at the ends of each of them, in the same order. [m]
    stated_m, fed_m : the stretch as it is named, and that of the whole sections. [m]
    places : carriers that can stand on them at once
    along : the head is at the end at which travel begins
    """

    name: str
    lane: int
    sections: tuple[int, ...]
    low_m: tuple[float, ...]
    high_m: tuple[float, ...]
    stated_m: tuple[float, float]
    fed_m: tuple[float, float]
    places: int
    along: bool

    @property
    def lengths_m(self) -> Floats:
        """Of the sections, from the head on; the last one as far as its lane goes. [m]"""
        lengths: Floats = np.array(self.high_m) - np.array(self.low_m)
        return lengths

    @property
    def is_snapped(self) -> bool:
        """Whether the stretch as named ends within a section, by more than a millimetre."""
        return any(abs(one - other) > 1e-3 for one, other in zip(self.stated_m, self.fed_m, strict=True))


@dataclass(frozen=True, eq=False)
class FeederBins:
    """Energy on one feeder in bins; the result of :func:`feeder_bins`.

    Parameters
    ----------
    net_J : float64[sections, bins]   Drawn less given back on each section, from the head on. [J]
    back_J : given back on all of them. [J]
    """

    net_J: Floats
    back_J: float

    @property
    def span_s(self) -> float:
        """How much of the run the bins hold. [s]"""
        return float(self.net_J.shape[1] * BIN_S)

    @property
    def section_peak_W(self) -> Floats:
        """The worst bin of each section, at least 0. float64[sections]. [W]"""
        peaks: Floats = np.maximum(self.net_J.max(axis=1), 0.0) / BIN_S
        return peaks


@dataclass(frozen=True, eq=False)
class SupplyBins:
    """What a supply delivers and what becomes of the rest; the result of :func:`supply_bins`.

    Parameters
    ----------
    supply_J : float64[bins]   From the supply. [J]
    resistor_J : into the braking resistor, in all. [J]
    held_J : the most that the capacitors ever held above the supply's voltage. [J]
    """

    supply_J: Floats
    resistor_J: float
    held_J: float


def feeder_track(feeder: Feeder, layout: Layout) -> FeederTrack:
    """The whole sections of a feeder, from its head on.

    Notes      A section is fed by the feeder on whose stretch its middle lies. The head is at the floor's west or east
               end of the stretch; of a ring west is the stretch's start in travel.
    """
    number = [lane.name for lane in layout.lanes].index(feeder.lane)
    lane = layout.lanes[number]
    ends = (0.0, lane.length_m)
    if feeder.from_m is not None and feeder.to_m is not None:
        one, other = lane.floor_to_travel(feeder.from_m), lane.floor_to_travel(feeder.to_m)
        ends = (min(one, other), max(one, other))
    borders = [0.0, *lane.joints_travel_m, lane.length_m]
    fed = [
        i for i in range(len(borders) - 1) if ends[0] - SAME_PLACE_M <= 0.5 * (borders[i] + borders[i + 1]) <= ends[1]
    ]
    fed_m = (borders[fed[0]], borders[fed[-1] + 1]) if fed else (ends[0], ends[0])
    places = math.floor((fed_m[1] - fed_m[0]) / layout.pitch_m + 1e-9)
    closed = lane.is_ring and len(fed) == len(borders) - 1
    along = (lane.is_ring or lane.from_ == "west") == (feeder.enters == "west")
    order = fed if along else fed[::-1]
    return FeederTrack(
        feeder.name,
        number,
        tuple(order),
        tuple(borders[i] for i in order),
        tuple(borders[i + 1] for i in order),
        ends,
        fed_m,
        places if closed else places + 1,
        along,
    )


def feeder_bins(duty: Duty, track: FeederTrack, lane: LaneLayout, energies: dict[int, MoveEnergy]) -> FeederBins:
    """What the carriers of a run draw from a feeder in bins of 10 ms.

    Parameters
    ----------
    duty : the moves of the run
    track, lane : the feeder's sections and the lane on which they lie
    energies : of each kind of move on that lane, by its number in the duty

    Returns
    -------
    FeederBins   Over the first 12 min at most, in whole bins, at least one.

    Notes      A move counts on the section under the middle of its carrier; where that is beyond the lane's ends, on a
               platform, it counts nowhere. Each bin gets the exact difference of the move's energy between its ends.
               Moves under way when the duty begins are not in it.
    """
    bins = max(1, math.floor(min(duty.span_s, LONGEST_S) / BIN_S + 1e-9))
    begin_us = round(duty.from_s * 1e6)
    within = int(np.searchsorted(duty.departure_us, begin_us + round(bins * BIN_S * 1e6)))
    order = np.argsort(duty.leg[:within], kind="stable")
    starts = np.searchsorted(duty.leg[:within][order], np.arange(len(duty.legs) + 1))
    since_s = (duty.departure_us[:within][order] - begin_us) / 1e6
    places: list[Ints] = []
    parts: list[Floats] = []
    back_J = 0.0
    for number, energy in energies.items():
        departs_s = since_s[starts[number] : starts[number + 1]]
        if not len(departs_s):
            continue
        for section, from_s, to_s in _windows(duty.legs[number], track, lane):
            place, part = _binned(energy, departs_s, from_s, to_s, bins)
            places.append(section * bins + place)
            parts.append(part)
            ends_J = energy.back_until_J(np.array([from_s, to_s]))
            back_J += float(ends_J[1] - ends_J[0]) * len(departs_s)
    size = len(track.sections) * bins
    net: Floats = np.zeros(size)
    if places:
        net = np.bincount(np.concatenate(places), weights=np.concatenate(parts), minlength=size).astype(np.float64)
    return FeederBins(net.reshape(len(track.sections), bins), back_J)


def supply_bins(net_J: Floats, most_held_J: float) -> SupplyBins:
    """What the supply delivers, bin by bin: what comes back feeds others, then the capacitors, then the resistor.

    Parameters
    ----------
    net_J : float64[bins]   Drawn less given back on the whole feeder. [J]
    most_held_J : what the capacitors hold before the resistor conducts; infinite without one. [J], >= 0

    Returns
    -------
    SupplyBins

    Raises
    ------
    ValueError   most_held_J is negative or not a number.

    Notes      Within a bin what comes back feeds other carriers first. What is left over raises the capacitors above
               the supply's voltage; the next draw empties them before the supply delivers again.
    Source     docs/limits/power.md, Current of the run; arithmetic.
    Examples
    --------
    >>> supply_bins(np.array([5.0, -3.0, 1.0, 4.0]), 2.0)  # doctest: +ELLIPSIS
    SupplyBins(supply_J=array([5., 0., 0., 3.]), resistor_J=1.0, held_J=2.0)
    """
    if not most_held_J >= 0.0:
        raise ValueError(f"most_held_J is {most_held_J}; it must not be negative")
    held = resistor = top = 0.0
    supply = []
    for net in np.asarray(net_J, np.float64).tolist():
        if net >= 0.0:
            taken = min(net, held)
            held -= taken
            supply.append(net - taken)
        else:
            held -= net
            if held > most_held_J:
                resistor += held - most_held_J
                held = most_held_J
            top = max(top, held)
            supply.append(0.0)
    return SupplyBins(np.array(supply), resistor, top)


def _windows(leg: DutyLeg, track: FeederTrack, lane: LaneLayout) -> list[tuple[int, float, float]]:
    """Rank of the section from the head on, and from when to when the carrier's middle is on it. [s]"""
    low_m, high_m = min(leg.start_m, leg.end_m), max(leg.start_m, leg.end_m)
    rounds = range(math.floor(low_m / lane.length_m), math.floor(high_m / lane.length_m) + 1) if lane.is_ring else (0,)
    found = []
    for turn in rounds:
        for rank, (from_m, to_m) in enumerate(zip(track.low_m, track.high_m, strict=True)):
            on_m = max(from_m + turn * lane.length_m, low_m)
            off_m = min(to_m + turn * lane.length_m, high_m)
            if off_m - on_m <= SAME_PLACE_M:
                continue
            ways = (on_m - low_m, off_m - low_m) if leg.end_m > leg.start_m else (high_m - off_m, high_m - on_m)
            found.append((rank, _time_s(leg.move, ways[0]), _time_s(leg.move, ways[1])))
    return found


def _time_s(move: Move, way_m: float) -> float:
    if way_m <= SAME_PLACE_M:
        return 0.0
    return move.duration_s if way_m >= move.distance_m - SAME_PLACE_M else move.time_to_cover_s(way_m)


def _binned(energy: MoveEnergy, departs_s: Floats, from_s: float, to_s: float, bins: int) -> tuple[Ints, Floats]:
    """Bins and energies of one stretch of a move for all its departures, those beyond the last bin left out."""
    first = np.floor((departs_s + from_s) / BIN_S).astype(np.int64)
    count = math.ceil((to_s - from_s) / BIN_S) + 1
    place = first[:, None] + np.arange(count + 1)
    since = np.clip(place * BIN_S - departs_s[:, None], from_s, to_s)
    since[:, 0], since[:, -1] = from_s, to_s  # rounding of the bin's number must lose nothing
    parts = np.diff(energy.net_until_J(since), axis=1)
    place = place[:, :-1]
    inside = place < bins
    return place[inside], parts[inside]
