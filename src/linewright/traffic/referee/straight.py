"""Platforms over which carriers go straight on: the one that comes aboard and the one that has just left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.gaps import TOLERANCE_M, Duets, least_apart
from linewright.traffic.referee.log import Log
from linewright.traffic.referee.report import Violation

Ints = NDArray[np.int64]


def judge_straight_on(layout: Layout, frames: Frames, log: Log) -> tuple[int, float | None, list[Violation]]:
    """The least pitch between a carrier that comes aboard and the last that left, where the platform need not ride.

    Returns
    -------
    pairs, spare_m, violations   How many were looked at; the least distance less the least pitch. [m]

    Notes      Between docks at the same place a platform stays where it is, so that the lane before it and the one
               behind it are one way. Elsewhere the two never stand on one way at once.
    Source     docs/semantics.md, Transfers with several docks; Places and moves (least pitch).
    """
    behind, ahead, apart = _followers(layout, frames, log)
    if not behind.size:
        return 0, None, []
    departs = log.departure_us[ahead]
    until = np.minimum(log.arrival_us[behind], log.arrival_us[ahead])
    duets = Duets(
        follower=log.profile[behind],
        leader=log.profile[ahead],
        follower_sign=np.ones_like(behind),
        leader_sign=np.ones_like(behind),
        offset_s=_seconds(log.departure_us[behind] - departs),
        from_s=_seconds(np.maximum(np.minimum(log.departure_us[behind], until) - departs, 0)),
        to_s=_seconds(until - departs),
    )
    # Where the leader has come to rest before, the follower is nearest when it has come too.
    least = apart + least_apart(log.table, duets)[0]
    length = np.array([profile.distance_m for profile in log.profiles])
    rests = apart + length[log.profile[ahead]] - length[log.profile[behind]]
    spare = np.minimum(least, np.where(log.arrival_us[behind] > log.arrival_us[ahead], rests, np.inf)) - layout.pitch_m
    found = []
    for k in np.flatnonzero(spare < -TOLERANCE_M).tolist():
        carriers = int(log.carrier[behind[k]]), int(log.carrier[ahead[k]])
        what = f"carrier {carriers[0]} comes aboard nearer than the least pitch to carrier {carriers[1]}, which left"
        value = float(spare[k] + layout.pitch_m)
        found.append(Violation("gap", int(log.departure_us[behind[k]]), carriers, what, value, layout.pitch_m, "m"))
    return len(spare), float(spare.min()), found


def _seconds(time_us: Ints) -> NDArray[np.float64]:
    return np.asarray(time_us * 1e-6, np.float64)


def _followers(layout: Layout, frames: Frames, log: Log) -> tuple[Ints, Ints, NDArray[np.float64]]:
    """Rows that come aboard; of each the row that left last by the way straight on, and how far ahead it began. [m]"""
    behind: list[int] = []
    ahead: list[int] = []
    apart: list[float] = []
    for number, transfer in enumerate(layout.transfers):
        takes, gives = ([frames.lane_of[name] for name in names] for names in (transfer.takes, transfer.gives))
        on = {(a, b) for a in takes for b in gives if frames.ride_us(number, a, b) == 0}
        if not on:
            continue
        leaving = np.flatnonzero(np.isin(log.start, transfer.aboards))
        leaving = leaving[np.argsort(log.departure_us[leaving], kind="stable")]
        for row in np.flatnonzero(np.isin(log.end, transfer.aboards)).tolist():
            last = int(np.searchsorted(log.departure_us[leaving], log.arrival_us[row], "left")) - 1
            if last < 0 or (int(log.lane[row]), int(log.lane[leaving[last]])) not in on:
                continue
            left = int(leaving[last])
            length = log.profiles[int(log.profile[row])].distance_m
            behind.append(row)
            ahead.append(left)
            apart.append(length + (int(log.start[left]) - int(log.end[row])) * transfer.pitch_m)
    return np.array(behind, np.int64), np.array(ahead, np.int64), np.array(apart, np.float64)
