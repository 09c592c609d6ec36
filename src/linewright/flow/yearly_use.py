"""What a line does in a year: travel of its carriers, cycles of its transfers, works of its stations.

Upkeep and the life of the guides are reckoned from the same year.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from linewright.layout import Layout
from linewright.line.demand import TaktResult
from linewright.line.model import Line
from linewright.line.station import Station

if TYPE_CHECKING:
    from linewright.flow.duty import Duty

ASK_FOR_RUN: Final = "linewright check --run simulates the line and counts what its carriers do"
ASK_FOR_DEMAND: Final = "state the key demand in the line file: a year's hours follow from it"


@dataclass(frozen=True)
class YearlyUse:
    """What a line does in a year.

    Parameters
    ----------
    basis : ``run`` (counted in a run and scaled to a year) or ``demand`` (reckoned from the demand alone)
    travel_m : of the carrier that travels most. [m/year]
    mean_travel_m : of a carrier. [m/year]
    transfer_cycles : of each transfer of the layout, carriers that it takes. [1/year]
    works : of each station of the line. [1/year]
    work_s : of each station, time in work. [s/year]
    """

    basis: Literal["run", "demand"]
    travel_m: float
    mean_travel_m: float
    transfer_cycles: tuple[float, ...]
    works: tuple[float, ...]
    work_s: tuple[float, ...]


@dataclass(frozen=True)
class Unknown:
    """Why the use of a year is not known.

    Parameters
    ----------
    why, remedy : in words
    """

    why: str
    remedy: str


def yearly_use(line: Line, layout: Layout, takt: TaktResult | None, duty: Duty | None) -> YearlyUse | Unknown:
    """What a line does in a year: from a run where there is one, else from the demand where that tells it.

    Parameters
    ----------
    line, layout : a line and its own layout
    takt : from its demand; None where the line file states none
    duty : what its carriers did in a run; None without one

    Notes
    -----
    From a run: counts / its time × usable time a year, the paid time less the losses that are not simulated.

    From the demand, on a loop on which all parts go the same way (no variants, no rework, no changes of carriers):
    loads started a year n = good parts / (nests · Π (1 − reject share of each step) · (1 − share of misses)); travel
    of each carrier n · laps · loop / carriers; cycles of each transfer n · laps; works of a station n / stations of
    its step; of a reject exit n (1 − Π (1 − reject share) ^ nests) / stations of its step.

    Source     docs/limits/upkeep.md.
    """
    if takt is None:
        return Unknown("the line file states no demand", ASK_FOR_DEMAND)
    if duty is not None:
        if duty.span_s <= 0.0 or len(duty.leg) == 0:
            return Unknown("in the run nothing moved", "linewright rate shows why no carrier moves")
        return _of_run(line, layout, takt, duty)
    if layout.blocking:
        return Unknown("no traffic is possible on this layout", "mend first what the rows on layout say")
    if not layout.is_closed:
        return Unknown("the track is not one loop, so the ways of carriers follow from a run alone", ASK_FOR_RUN)
    accepted = math.prod(1.0 - line.station(step.stations[0]).rejects for step in line.route)
    present = 1.0 - max((station.misses for station in line.stations), default=0.0)
    if accepted * present <= 0.0:
        return Unknown("no part becomes good", "write rejects and misses under 100 %")
    if line.variants or any(station.rework is not None for station in line.stations):
        return Unknown("variants and rework go ways of their own, which follow from a run alone", ASK_FOR_RUN)
    if line.carrier_changes:
        return Unknown(
            "carriers are taken out or put in, and how many share the way follows from a run alone", ASK_FOR_RUN
        )
    return _of_demand(line, layout, accepted, present)


def _of_run(line: Line, layout: Layout, takt: TaktResult, duty: Duty) -> YearlyUse:
    years = takt.usable_time_s / duty.span_s  # so many times the run in a year
    travel_m = duty.travel_m()
    per_leg = np.bincount(duty.leg, minlength=len(duty.legs))
    ends = np.array([leg.end for leg in duty.legs])
    cycles = [float(per_leg[np.isin(ends, transfer.aboards)].sum()) * years for transfer in layout.transfers]
    works = np.bincount(duty.work_station, minlength=len(line.stations))
    lasted_s = (duty.work_end_us - duty.work_start_us) / 1e6
    work_s = np.bincount(duty.work_station, weights=lasted_s, minlength=len(line.stations))
    return YearlyUse(
        basis="run",
        travel_m=float(travel_m.max()) * years,
        mean_travel_m=float(travel_m.sum()) / line.carriers * years,
        transfer_cycles=tuple(cycles),
        works=tuple(float(count) * years for count in works),
        work_s=tuple(
            _work_s(line, station, float(count), float(lasted)) * years
            for station, count, lasted in zip(line.stations, works, work_s, strict=True)
        ),
    )


def _work_s(line: Line, station: Station, works: float, lasted_s: float) -> float:
    """Time in work. From the mean of its law, since in the run repairs that interrupt a work count to it; where
    variants have times of their own, as it was in the run. [s]"""
    if any(name == station.name for variant in line.variants for name, _ in variant.times):
        return lasted_s
    return works * mean_work_s(line, station)


def mean_work_s(line: Line, station: Station) -> float:
    """Mean time of the work on one carrier. [s]"""
    nests = line.fixture.nests if line.fixture is not None and station.each == "part" else 1
    return station.time.mean_s * nests


def _of_demand(line: Line, layout: Layout, accepted: float, present: float) -> YearlyUse:
    assert line.demand is not None
    nests = 1 if line.fixture is None else line.fixture.nests
    loads = line.demand.good_parts_per_year / (nests * accepted * present)
    laps = _laps(line, layout)
    travel_m = loads * laps * layout.loop_m / line.carriers
    shares = {
        name: (1.0 - accepted**nests if step.reject_exit else 1.0) / len(step.stations)
        for step in line.route
        for name in step.stations
    }
    works = tuple(loads * shares.get(station.name, 0.0) for station in line.stations)
    return YearlyUse(
        basis="demand",
        travel_m=travel_m,
        mean_travel_m=travel_m,
        transfer_cycles=tuple(loads * laps for _ in layout.transfers),
        works=works,
        work_s=tuple(count * mean_work_s(line, station) for count, station in zip(works, line.stations, strict=True)),
    )


def _laps(line: Line, layout: Layout) -> int:
    """How often a load goes round the loop from one first step to the next."""
    places = [
        layout.stop_of(step.stations[0]).axis_m for step in line.route if not (step.reject_exit or step.rework_only)
    ]
    if len(places) < 2:
        return 1
    way_m = sum((after - before) % layout.loop_m for before, after in pairwise([*places, places[0]]))
    return max(1, round(way_m / layout.loop_m))
