"""What an exchange costs on this line and on the baseline, and how many stations each step then needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from linewright.flow.line_bounds import least_gap_us
from linewright.flow.line_bounds_station import step_per_us
from linewright.flow.part_routes import Journey, journeys
from linewright.flow.part_ways import leg_times_us
from linewright.line.model import Line
from linewright.tables import Column, Table
from linewright.traffic.plan import EMPTY, LOADED, NO_LEG, TrafficPlan

US: Final = 1e6
HOUR_US: Final = 3600e6
_LONG_US: Final = 10**12
"""Longer than any clear and prepare: with it the exchange decides every gap. [us]"""


def baseline_exchange_s(lift_s: float, gate_release_s: float, pitch_m: float, belt_speed_m_s: float) -> float:
    """How long a belt line with stop gates and lift-and-locate units takes from one pallet to the next. [s]

    Parameters
    ----------
    lift_s : lift-and-locate unit, each way. [s], >= 0
    gate_release_s : until the pallet is let go. [s], >= 0
    pitch_m : length of a pallet and the gap to the next. [m], > 0
    belt_speed_m_s : [m/s], > 0

    Raises
    ------
    ValueError   A figure is out of range.

    Notes      t = lift down + gate + pitch / belt speed + lift up. The one pallet goes out while the next comes in,
               both with the belt, so that the pitch is travelled once; run-up of the pallets, gate closing,
               handshakes and settling are left out: all that would make it longer.
    Source     common practice, from memory; docs/handover/money.md.
    Examples   >>> round(baseline_exchange_s(0.8, 0.3, 0.09, 0.2), 3)
               2.35
    """
    if lift_s < 0.0 or gate_release_s < 0.0 or not pitch_m > 0.0 or not belt_speed_m_s > 0.0:
        raise ValueError("times must not be negative, pitch and belt speed must be positive")
    return 2.0 * lift_s + gate_release_s + pitch_m / belt_speed_m_s


def own_exchange_s(plan: TrafficPlan, station: int) -> float:
    """How long this line takes from the tool being clear until the next work may start, a carrier waiting. [s]

    Parameters
    ----------
    plan : a traffic plan
    station : its number

    Notes      t = done handshake + reaction + move from the nearest stop upstream + settling + start handshake; the
               carrier comes loaded, at the first step empty.
    Source     docs/semantics.md, Station; docs/theory.md.
    """
    load = LOADED if int(plan.station_step[station]) > 0 else EMPTY
    stop, track = int(plan.station_stop[station]), plan.general.track
    if track is None:
        backs = range(1, plan.move_us.shape[2] + 1)
        legs = [int(plan.move_us[load, (stop - back) % plan.stops, back - 1]) for back in backs]
        move_us = float(min((leg for leg in legs if leg != NO_LEG), default=0))
    else:
        least = float(leg_times_us(track, load)[:, stop].min())
        move_us = least if math.isfinite(least) else 0.0
    shakes_us = plan.done_handshake_us + plan.follow_us + plan.start_handshake_us
    return (shakes_us + move_us + int(plan.settling_us[station])) / US


def stations_needed(own_stations: int, step_per_h: float, output_per_h: float) -> int:
    """How many stations a step needs for an output, never fewer than there are.

    Parameters
    ----------
    own_stations : there are, >= 1
    step_per_h : good parts an hour that they allow together. [1/h], > 0
    output_per_h : good parts an hour that are asked for. [1/h], > 0

    Raises
    ------
    ValueError   A figure is out of range.

    Notes      n = max(own_stations, ceil(own_stations output / step rate)): the time per good part at one station,
               own_stations / step_per_h, over the takt; more stations are like the mean of those there are.
    Source     common practice: takt >= time of a step over its stations.
    Examples   >>> stations_needed(1, 1200.0, 1500.0), stations_needed(2, 3000.0, 1500.0)
               (2, 2)
    """
    if own_stations < 1 or not step_per_h > 0.0 or not output_per_h > 0.0:
        raise ValueError("stations and rates must be positive")
    return max(own_stations, math.ceil(own_stations * output_per_h / step_per_h - 1e-9))


@dataclass(frozen=True)
class StepNeed:
    """What a step needs on this line and on the baseline.

    Parameters
    ----------
    step : its name
    stations : on this line
    is_manual : whether people work at it
    visits : mean stays of a carrier for each good part
    exchange_s, baseline_exchange_s : from clear tool to next work, mean over its stations. [s]
    time_s, baseline_time_s : per good part with the stations of this line: work, repairs, exchange, breaks, all that
        the step would take were it never starved or blocked. [s]
    baseline_stations : needed by the baseline for the output
    """

    step: str
    stations: int
    is_manual: bool
    visits: float
    exchange_s: float
    baseline_exchange_s: float
    time_s: float
    baseline_time_s: float
    baseline_stations: int

    @property
    def extra_stations(self) -> int:
        """How many more stations the baseline needs."""
        return self.baseline_stations - self.stations


def find_step_needs(
    line: Line, plan: TrafficPlan, exchange_s: float, output_per_h: float
) -> tuple[StepNeed, ...] | None:
    """Every step of a line and of the baseline that has the same tools.

    Parameters
    ----------
    line, plan : a line and its own traffic plan
    exchange_s : of the baseline. [s]
    output_per_h : good parts an hour that the baseline has to make. [1/h]

    Returns
    -------
    tuple of StepNeed, or None where no part can become good.

    Notes      Rate of a step: :func:`linewright.flow.line_bounds_station.step_per_us`, once with the plan's own
               exchange and once with the baseline's in its place: work, prepare, failures, repairs, rejects and breaks
               are the same on both.
    """
    found = tuple(one for one in journeys(plan, plan.carriers) if one.good > 0.0)
    if not found:
        return None
    other = with_exchange(plan, exchange_s)
    needs = []
    for p, numbers in enumerate(plan.step_stations):
        own = step_per_us(plan, found, p, plan.carriers) * HOUR_US
        belt = step_per_us(other, found, p, plan.carriers) * HOUR_US
        count = len(numbers)
        needs.append(
            StepNeed(
                step=plan.step_names[p],
                stations=count,
                is_manual=any(line.station(plan.station_names[s]).work == "manual" for s in numbers),
                visits=_visits(found, p),
                exchange_s=math.fsum(own_exchange_s(plan, s) for s in numbers) / count,
                baseline_exchange_s=exchange_s,
                time_s=3600.0 / own if own > 0.0 else math.inf,
                baseline_time_s=3600.0 / belt if belt > 0.0 else math.inf,
                baseline_stations=stations_needed(count, belt, output_per_h) if belt > 0.0 else count,
            )
        )
    return tuple(needs)


def with_exchange(plan: TrafficPlan, exchange_s: float) -> TrafficPlan:
    """The same plan for reckoning bounds of its steps, with another exchange at every station.

    Parameters
    ----------
    plan : a traffic plan
    exchange_s : from the tool being clear until the next work may start. [s]

    Notes      The settling time takes up the difference, below zero where the exchange is shorter: for
               :func:`least_gap_us` alone, no run can be made of it.
    """
    probe = replace(plan, settling_us=np.full_like(plan.settling_us, _LONG_US))
    settling = np.zeros_like(plan.settling_us)
    releases = plan.general.release_us
    for s in range(len(plan.station_names)):
        load = LOADED if int(plan.station_step[s]) > 0 else EMPTY
        rest_us = least_gap_us(probe, s, load, plan.carriers) - _LONG_US
        after_us = max(int(plan.clear_us[s]), releases[s] if releases else 0)
        settling[s] = after_us + round(exchange_s * US) - round(rest_us)
    return replace(plan, settling_us=settling)


def _visits(found: Sequence[Journey], step: int) -> float:
    """Mean stays at a step for each good part; of several kinds of carriers by their number."""
    weights = [one.carriers for one in found]
    stays = math.fsum(one.visits(step) * w for one, w in zip(found, weights, strict=True))
    return stays / math.fsum(one.good * w for one, w in zip(found, weights, strict=True))


def steps_table(needs: Sequence[StepNeed]) -> Table:
    """The steps as a table, a row a step."""

    def floats(name: str, unit: str | None, values: list[float], meaning: str) -> Column:
        return Column(name, unit, np.array(values, np.float64), meaning)

    def counts(name: str, values: list[int], meaning: str) -> Column:
        return Column(name, None, np.array(values, np.int64), meaning)

    return Table(
        (
            Column("step", None, np.array([one.step for one in needs], np.str_), "step of the route"),
            Column("manual", None, np.array([one.is_manual for one in needs], np.bool_), "people work at it"),
            counts("stations", [one.stations for one in needs], "on this line"),
            floats("exchange_s", "s", [one.exchange_s for one in needs], "clear tool to next work, this line"),
            floats("baseline_exchange_s", "s", [one.baseline_exchange_s for one in needs], "the same, baseline"),
            floats("time_s", "s", [one.time_s for one in needs], "per good part at this step, this line"),
            floats(
                "baseline_time_s",
                "s",
                [one.baseline_time_s for one in needs],
                "the same with the baseline's exchange and as many stations",
            ),
            counts("baseline_stations", [one.baseline_stations for one in needs], "needed by the baseline"),
            counts("extra_stations", [one.extra_stations for one in needs], "of these more than on this line"),
        )
    )
