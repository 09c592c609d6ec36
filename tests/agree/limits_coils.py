"""A plain recomputation of the heat of the coil groups, from docs/limits/motion.md alone."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from agree.limits_motion import COPPER_1_K, UNCHECKED, limited, net_along_N
from agree.limits_rows import Row
from linewright.flow.duty import Duty
from linewright.layout import Layout, TransferLayout
from linewright.line.model import Line

Floats = NDArray[np.float64]
MINUTE_S: Final = 60.0
STEP_S: Final = 1e-3


@dataclass(frozen=True)
class Stretch:
    """A coil group as one lane's frame shows it; the groups of a platform are seen from several lanes."""

    key: tuple[str, str, int]
    from_m: float
    to_m: float


def cut(kind: str, name: str, length_m: float, group_m: float) -> list[Stretch]:
    """A length from 0 on in groups; the last may be shorter."""
    count = max(1, math.ceil(length_m / group_m - 1e-9))
    return [Stretch((kind, name, i), i * group_m, min((i + 1) * group_m, length_m)) for i in range(count)]


def frame_of(layout: Layout, lane_number: int, group_m: float) -> list[Stretch]:
    """All groups that a carrier on a lane may stand over, in that lane's stated direction."""
    lane = layout.lanes[lane_number]
    found = cut("lane", lane.name, lane.length_m, group_m)
    if lane.is_ring:
        own = found
        return [
            Stretch(g.key, g.from_m + n * lane.length_m, g.to_m + n * lane.length_m) for n in range(-1, 3) for g in own
        ]
    for transfer in layout.transfers:
        if lane.name in transfer.takes:
            found += platform(transfer, lane.length_m + transfer.gap_m, lane.from_ == "west", group_m)
        if lane.name in transfer.gives:
            found += platform(transfer, -transfer.gap_m - transfer.platform_m, lane.from_ == "west", group_m)
    return found


def platform(transfer: TransferLayout, from_m: float, eastwards: bool, group_m: float) -> list[Stretch]:
    """The groups of a platform, cut from its west end, in the frame of a lane that leads east or west."""
    groups = cut("platform", transfer.name, transfer.platform_m, group_m)
    if eastwards:
        return [Stretch(g.key, from_m + g.from_m, from_m + g.to_m) for g in groups]
    end_m = from_m + transfer.platform_m
    return [Stretch(g.key, end_m - g.to_m, end_m - g.from_m) for g in groups]


def shares(groups: list[Stretch], centre_m: Floats, length_m: float) -> dict[tuple[str, str, int], Floats]:
    """Of each group the share of the thrust, at each place of the carrier's centre."""
    covered: dict[tuple[str, str, int], Floats] = defaultdict(lambda: np.zeros(len(centre_m)))
    for group in groups:
        low = np.maximum(centre_m - length_m / 2.0, group.from_m)
        high = np.minimum(centre_m + length_m / 2.0, group.to_m)
        if (high > low).any():
            covered[group.key] = covered[group.key] + np.maximum(high - low, 0.0)
    total = sum(covered.values(), np.zeros(len(centre_m)))
    return {key: np.divide(one, total, out=np.zeros_like(one), where=total > 0.0) for key, one in covered.items()}


def heat_J(line: Line, layout: Layout, duty: Duty) -> dict[tuple[str, str, int], Floats]:
    """Heat of each group in each minute."""
    drive, length_m = line.conveyor.drive, line.conveyor.carrier.length_m
    motor = drive.motor
    assert motor is not None
    assert motor.group_length_m is not None
    assert motor.hottest_degC is not None
    warm_ohm = motor.resistance_ohm * (1.0 + COPPER_1_K * (motor.hottest_degC - 20.0))
    frames = [frame_of(layout, n, motor.group_length_m) for n in range(len(layout.lanes))]
    bins = max(1, math.ceil(duty.span_s / MINUTE_S - 1e-9))
    heat: dict[tuple[str, str, int], Floats] = defaultdict(lambda: np.zeros(bins))
    minute = np.minimum(((duty.departure_us / 1e6 - duty.from_s) // MINUTE_S).astype(int), bins - 1)
    for number, leg in enumerate(duty.legs):
        made = np.bincount(minute[duty.leg == number], minlength=bins)
        steps = max(1, math.ceil(leg.move.duration_s / STEP_S))
        each_s = leg.move.duration_s / steps
        at = (np.arange(steps) + 0.5) * each_s
        force = leg.mass_kg * np.asarray(leg.move.acceleration_m_s2(at)) + drive.friction_N
        way = math.copysign(1.0, leg.end_m - leg.start_m)
        centre = leg.start_m + way * np.asarray(leg.move.position_m(at))
        for key, share in shares(frames[leg.lane], centre, length_m).items():
            once = warm_ohm * float(((share * force / motor.force_constant_N_A) ** 2).sum()) * each_s
            heat[key] = heat[key] + made * once
    edges = duty.from_s + np.minimum(np.arange(bins + 1) * MINUTE_S, duty.span_s)
    for number, station in enumerate(line.stations):
        push = net_along_N(station)
        mine = duty.work_station == number
        if push == 0.0 or not mine.any():
            continue
        start, end = duty.work_start_us[mine] / 1e6, duty.work_end_us[mine] / 1e6
        worked = np.array([np.maximum(np.minimum(end, b) - np.maximum(start, a), 0).sum() for a, b in pairwise(edges)])
        stop = layout.stop_of(station.name)
        lane = [one.name for one in layout.lanes].index(stop.lane)
        for key, share in shares(frames[lane], np.array([stop.travel_m]), length_m).items():
            heat[key] = heat[key] + worked * warm_ohm * (float(share[0]) * push / motor.force_constant_N_A) ** 2
    return heat


def coil_rows(line: Line, layout: Layout, duty: Duty | None) -> list[Row]:
    """The worst hour of the hottest group, and the warmest as its winding follows."""
    motor = line.conveyor.drive.motor
    if motor is None or motor.group_length_m is None or motor.hottest_degC is None:
        return [Row("coil-heat", UNCHECKED, None, None if motor is None else motor.continuous_loss_W)]
    if duty is None:
        return [Row("coil-heat", UNCHECKED, None, motor.continuous_loss_W)]
    worst = warmest = 0.0
    bins = max(1, math.ceil(duty.span_s / MINUTE_S - 1e-9))
    lengths = np.diff(np.minimum(np.arange(bins + 1) * MINUTE_S, duty.span_s))
    for joules in heat_J(line, layout, duty).values():
        for first in range(max(1, bins - 59)):
            worst = max(worst, float(joules[first : first + 60].sum() / lengths[first : first + 60].sum()))
        level = float(joules.sum() / lengths.sum())
        warmest = max(warmest, level)
        for power, span in zip(joules / lengths, lengths, strict=True):
            level = float(power + (level - power) * math.exp(-span / motor.thermal_time_s))
            warmest = max(warmest, level)
    most = motor.continuous_loss_W
    return [limited("coil-heat", worst, most), limited("coil-warming", warmest, most)]
