"""Who stands at which stop from when to when, and whether platforms are where carriers cross."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.log import FOREVER_US, Log
from linewright.traffic.referee.profiles import up_to_us
from linewright.traffic.referee.report import Violation

Ints = NDArray[np.int64]


def judge_stops(
    plan: TrafficPlan, layout: Layout, log: Log, out: dict[int, int], until_us: int
) -> tuple[int, list[Violation]]:
    """That nobody arrives where another stands, and nobody sets out for a stop for which another is bound.

    Returns
    -------
    stays, violations   How many stays were looked at.

    Notes      A stay begins with the departure for the stop and ends with that from it. The stop is free from the
               commitment to leave it, which the log does not tell; it is no earlier than the arrival there. So the
               next may depart for it no earlier than the one before has arrived, and arrive no earlier than that one
               departs. A carrier that was re-aimed at the stop (`going_on`) may have departed for another before;
               there the second rule alone holds. Arrivals after the log's end are not judged, as the departure that
               makes room may not be in it. Whether a station is one of the carrier's own the log does not tell.
    Source     docs/semantics.md, Places and moves.
    """
    leaves = np.full(len(log), FOREVER_US, np.int64)
    if len(log):
        follows = ~log.first[1:]
        leaves[:-1][follows] = log.departure_us[1:][follows]
        for row in np.flatnonzero(leaves == FOREVER_US).tolist():
            leaves[row] = out.get(int(log.carrier[row]), FOREVER_US)
    begun = _begun(log, out)
    stop = np.concatenate((log.end, begun[:, 1]))
    carrier = np.concatenate((log.carrier, begun[:, 0]))
    sets_out = np.concatenate((log.departure_us, begun[:, 2]))
    comes = np.concatenate((log.arrival_us, begun[:, 2]))
    goes = np.concatenate((leaves, begun[:, 3]))
    order = np.lexsort((goes, comes, stop))
    stop, carrier, sets_out, comes, goes = (one[order] for one in (stop, carrier, sets_out, comes, goes))
    same = stop[1:] == stop[:-1]
    early = same & (comes[1:] < goes[:-1]) & (comes[1:] <= until_us)  # later departures may not be in the log
    bound = same & (sets_out[1:] < comes[:-1]) & ~early
    if plan.general.going_on:
        bound[:] = False
    found = []
    for kind, chosen in (("stands", early), ("is bound for it", bound)):
        for k in np.flatnonzero(chosen).tolist():
            one, other = int(carrier[k + 1]), int(carrier[k])
            when = int(comes[k + 1] if kind == "stands" else sets_out[k + 1])
            verb = "arrives" if kind == "stands" else "sets out for where"
            there = "where" if kind == "stands" else ""
            label = layout.stops[int(stop[k])].label
            what = " ".join(f"carrier {one} {verb} {there} carrier {other} {kind}: {label}".split())
            found.append(Violation("stop", when, (one, other), what, None, None, ""))
    return len(stop), found


def _begun(log: Log, out: dict[int, int]) -> Ints:
    """The stays that no row of the log begins: carrier, stop, from when, to when. [us]"""
    rows = []
    moved = {int(log.carrier[row]): row for row in np.flatnonzero(log.first)}
    for carrier, stop in log.begins.items():
        if carrier in moved:
            row = moved[carrier]
            rows.append((carrier, int(log.start[row]), 0, int(log.departure_us[row])))
        else:
            rows.append((carrier, stop, 0, out.get(carrier, FOREVER_US)))
    for carrier, row in moved.items():
        if carrier not in log.begins:  # put in: there at the latest when it departs
            at = int(log.departure_us[row])
            rows.append((carrier, int(log.start[row]), at, at))
    return np.array(rows, np.int64).reshape(len(rows), 4)


@dataclass
class _Platform:
    """A platform as the log tells of it: where it is, and who is aboard or bound for it."""

    lane: int
    free_us: int
    came: dict[int, tuple[int, int]]
    leaving: bool = False
    rear_us: int = 0
    given: int = -1


@dataclass(frozen=True)
class _Crossing:
    time_us: int
    leaves: bool
    row: int
    on_us: int


def judge_transfers(
    plan: TrafficPlan, layout: Layout, frames: Frames, log: Log
) -> tuple[int, tuple[tuple[str, int], ...], list[Violation]]:
    """That nobody comes to or leaves a platform that is not at that dock.

    Returns
    -------
    crossings, most aboard of each transfer, violations

    Notes      The platform is put together from the log alone. It unlocks when all that are bound for it have arrived,
               and can have locked at the dock by which they leave no earlier than a ride later. When the rear of the
               last has left by its profile, it can have locked at the dock at which the next comes no earlier than a
               ride from there later. A carrier departs for a place aboard no earlier than that; one that was re-aimed
               (`going_on`) passes the dock no earlier.
    Source     docs/semantics.md, Transfers; Transfers with several docks.
    """
    found: list[Violation] = []
    most, crossings = [], 0
    for number, transfer in enumerate(layout.transfers):
        rows = _crossings(plan, frames, log, transfer.aboards)
        crossings += len(rows)
        greatest = _follow(plan, layout, frames, log, number, rows, found)
        most.append((transfer.name, greatest))
        if greatest > transfer.places:
            what = f"{greatest} carriers are aboard {transfer.name} or bound for it"
            found.append(Violation("transfer", 0, (), what, greatest, transfer.places, ""))
    return crossings, tuple(most), found


def _crossings(plan: TrafficPlan, frames: Frames, log: Log, aboards: tuple[int, ...]) -> list[_Crossing]:
    rows = []
    coming = np.flatnonzero(np.isin(log.end, aboards))
    passed_us = log.departure_us[coming]
    if plan.general.going_on and len(coming):
        docks = np.array([frames.dock_m(lane) for lane in log.lane[coming].tolist()])
        way = docks - log.start_m[coming]
        passed_us = passed_us + np.ceil(log.table.time_to_cover(log.profile[coming], way) * 1e6).astype(np.int64)
    for row, on in zip(coming.tolist(), passed_us.tolist(), strict=True):
        rows.append(_Crossing(int(on), False, row, int(log.arrival_us[row])))
    leaving = np.flatnonzero(np.isin(log.start, aboards)).tolist()
    rows += [_Crossing(int(log.departure_us[row]), True, row, 0) for row in leaving]
    return sorted(rows, key=lambda one: (one.time_us, not one.leaves, one.row))


def _follow(
    plan: TrafficPlan,
    layout: Layout,
    frames: Frames,
    log: Log,
    number: int,
    rows: list[_Crossing],
    found: list[Violation],
) -> int:
    """Follow one platform through its crossings; the most carriers aboard."""
    transfer = layout.transfers[number]
    begins = {c: (s, -FOREVER_US) for c, s in log.begins.items() if s in transfer.aboards}
    lane = frames.lane_of[transfer.takes[0]]
    here = _Platform(lane, 0, {carrier: (-1, time) for carrier, (_, time) in begins.items()})
    slack = max(plan.follow_us, int(plan.delay_us.max(initial=0)))
    rears: dict[tuple[int, int], int] = {}
    most = len(here.came)

    def wrong(row: int, time: int, what: str, due: int) -> None:
        carrier = int(log.carrier[row])
        text = f"carrier {carrier} {what} {transfer.name}"
        found.append(Violation("transfer", time, (carrier,), text, time / 1e6, due / 1e6, "s"))

    for one in rows:
        row, time = one.row, one.time_us
        carrier, by = int(log.carrier[row]), int(log.lane[row])
        if one.leaves:
            if carrier not in here.came:
                wrong(row, time, "leaves without having come aboard", time)
            locked = max(
                (t + (frames.ride_us(number, a, by) if a >= 0 else 0) for a, t in here.came.values()), default=0
            )
            if time < locked:
                wrong(row, time, "leaves before the platform is locked at that dock:", locked)
            if here.leaving and by != here.given:
                wrong(row, time, "leaves by another dock than those with it on", here.rear_us)
            key = int(log.start[row]), int(log.profile[row])
            if key not in rears:
                way = np.array([transfer.rear_from_m(key[0])])
                rears[key] = up_to_us(float(log.table.time_to_cover(np.array([key[1]]), way)[0]))
            here.came.pop(carrier, None)
            here.rear_us = max(here.rear_us, time + rears[key]) if here.leaving else time + rears[key]
            here.leaving, here.given = True, by
            if not here.came:
                here.lane, here.free_us, here.leaving = by, here.rear_us, False
            continue
        if here.leaving:
            wrong(row, time, "comes aboard while others leave", here.rear_us)
        elif here.came:
            last = max(t for _, t in here.came.values())
            if any(a >= 0 and a != by for a, _ in here.came.values()):
                wrong(row, time, "comes aboard at another dock than those on", last)
            elif time > last + slack:
                wrong(row, time, "comes aboard after it has unlocked with others:", last)
        else:
            locked = here.free_us + frames.ride_us(number, here.lane, by)
            if time < locked:
                wrong(row, time, "comes aboard before the platform is locked at that dock:", locked)
        here.came[carrier] = by, one.on_us
        most = max(most, len(here.came))
    return most
