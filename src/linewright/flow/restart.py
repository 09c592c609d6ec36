"""After a stop: who stands where, which parts are rejected, how the carriers go on, and when the first good part comes.

One scenario of one instant; docs/semantics.md, "After a stop".
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from linewright.errors import SimulationError
from linewright.layout import Layout, Stop, lay_out
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import Break, Placement
from linewright.traffic.plan import STATION, TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.general.run import Snapshot

ONCE_US: Final = 10**13
"""A shift so long that its second does not begin. [us]"""
AFTER_S: Final = 3600.0
"""How long the line is looked at after it goes on. [s]"""


@dataclass(frozen=True)
class Stopped:
    """A carrier at the instant of the stop.

    Parameters
    ----------
    carrier : its number
    stop : rank of the stop on which it stands, or which is kept for it
    where : in words
    to_go_m : the most it may have left to go to that stop; 0 if it stands there. [m]
    parts : parts aboard
    fate : what becomes of them: ``none aboard``, ``kept``, ``work done again``, ``rejected`` or ``taken out by hand``
    why : why they are unverified, in words; empty where they are not
    recovery_begin_s, recovery_end_s : its slow move, from the begin of the recovery; None if it has none. [s]
    """

    carrier: int
    stop: int
    where: str
    to_go_m: float
    parts: int
    fate: str
    why: str
    recovery_begin_s: float | None
    recovery_end_s: float | None


@dataclass(frozen=True)
class Restart:
    """A stop and what follows it.

    Parameters
    ----------
    at_s : when the stop comes, from the begin of the run. [s]
    speed_m_s : at which carriers go on during the recovery. [m/s]
    carriers : by the stop they stand on or go to, downstream first
    recovery_s : from the begin of the recovery until the line goes on. [s]
    rejected : parts that are rejected because they are unverified
    first_good_s : from the begin of the recovery to the first good part; None if none comes within `looked_s`. [s]
    good, usual_good : good parts in `looked_s` after the line goes on, and in as long a time before the stop (scaled
        up where the stop comes earlier)
    looked_s : [s]
    seed : of the run
    """

    at_s: float
    speed_m_s: float
    carriers: tuple[Stopped, ...]
    recovery_s: float
    rejected: int
    first_good_s: float | None
    good: int
    usual_good: float
    looked_s: float
    seed: int


def restart(line: Line, at_s: float, speed_m_s: float = 0.1, seed: int = 1) -> Restart:
    """Stop a line at an instant and let it go on.

    Parameters
    ----------
    line : a valid line
    at_s : when the power goes, from time zero, > 0. [s]
    speed_m_s : at which carriers under way go to the stops kept for them, > 0. [m/s]
    seed : of the run up to the stop, >= 0

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track; the line has carriers taken out or put in; or the speed is
                      above the drive's.
    ValueError        A time or speed is not above 0.

    Notes
    -----
    Carriers go one at a time, downstream first, each after the reaction of the sheet; what one has left to go counts as
    its whole leg, since nobody knows where it came to rest. Where a carrier ends aboard, the slowest ride is added. The
    line then goes on as from time zero: tools ready, platforms locked, no running time used up, buffers outside the
    line as at first.

    Source     docs/semantics.md, "After a stop".
    """
    if not (math.isfinite(at_s) and at_s > 0.0 and math.isfinite(speed_m_s) and speed_m_s > 0.0):
        raise ValueError(f"a stop at {at_s} s and a speed of {speed_m_s} m/s; both must be above 0")
    if line.carrier_changes:
        raise SimulationError("a line whose carriers are taken out or put in cannot be stopped and started here")
    if speed_m_s > line.conveyor.drive.speed_m_s:
        most = line.conveyor.drive.speed_m_s
        raise SimulationError(f"a restart speed of {speed_m_s:g} m/s; the conveyor's drives reach {most:g} m/s")
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_beyond, run_once
    from linewright.flow.kernel.state import tables_of

    plan = compile_plan(line, layout)
    at_us = round(at_s * 1e6)
    before = run_beyond(plan, luck_of(plan, seed, 0), at_us, at_us, trace_from_us=0)
    assert before.beyond is not None  # of the general loop
    then = _carriers_of(before.beyond.snapshot)
    carriers = _recovery(line, layout, plan, then, speed_m_s)
    recovery_s = max((one.recovery_end_s for one in carriers if one.recovery_end_s is not None), default=0.0)
    if any(plan.stop_transfer[one.stop] >= 0 for one in carriers):
        recovery_s += _slowest_ride_s(plan)
    start = _placement(line, plan, then, before.beyond.snapshot.next_load)
    going = _going_on(compile_plan(line, layout, start=start), at_us + round(recovery_s * 1e6))
    looked_us = round(AFTER_S * 1e6)
    # The same luck: a load keeps its variant.
    after = run_once(going, tables_of(going), luck_of(going, seed, 0), looked_us, looked_us, trace_from_us=0)
    first_us = int(after.good[:, 1].min()) if len(after.good) else None
    looked_before_us = min(at_us, looked_us)
    usual = int((before.good[:, 1] >= at_us - looked_before_us).sum()) if len(before.good) else 0
    return Restart(
        at_s=at_s,
        speed_m_s=speed_m_s,
        carriers=carriers,
        recovery_s=recovery_s,
        rejected=sum(one.parts for one in carriers if one.fate in (REJECTED, BY_HAND)),
        first_good_s=None if first_us is None else recovery_s + first_us / 1e6,
        good=int(after.totals.good.sum()),
        usual_good=usual * looked_us / looked_before_us,
        looked_s=AFTER_S,
        seed=seed,
    )


NONE: Final = "none aboard"
KEPT: Final = "kept"
AGAIN: Final = "work done again"
REJECTED: Final = "rejected"
BY_HAND: Final = "taken out by hand"


@dataclass(frozen=True)
class CarrierThen:
    """One carrier in the snapshot of the stop."""

    carrier: int
    stop: int
    left: int
    at_rest: bool
    in_work: bool
    step: int
    load: int
    visit: int
    present: int
    flagged: int
    exit: int


def _carriers_of(snapshot: Snapshot) -> tuple[CarrierThen, ...]:
    return tuple(
        CarrierThen(
            carrier=k,
            stop=int(snapshot.stop[k]),
            left=int(snapshot.origin[k]),
            at_rest=bool(snapshot.at_rest[k]),
            in_work=bool(snapshot.in_work[k]),
            step=int(snapshot.step[k]),
            load=int(snapshot.load[k]),
            visit=int(snapshot.visit[k]),
            present=int(snapshot.present[k]),
            flagged=int(snapshot.flagged[k]),
            exit=int(snapshot.exit[k]),
        )
        for k in range(len(snapshot.stop))
    )


def _recovery(
    line: Line, layout: Layout, plan: TrafficPlan, then: tuple[CarrierThen, ...], speed_m_s: float
) -> tuple[Stopped, ...]:
    """Every carrier, downstream first, with its slow move."""
    time_s = 0.0
    found = []
    for one in sorted(then, key=lambda carrier: -carrier.stop):
        begin_s = end_s = None
        to_go_m = 0.0 if one.at_rest else _leg_m(layout, plan, one)
        if not one.at_rest:
            begin_s = time_s + line.conveyor.reaction.follow_s
            end_s = time_s = begin_s + to_go_m / speed_m_s
        fate, why = _fate(line, plan, one)
        where = _where(layout.stops[one.stop], one)
        parts = one.present.bit_count()
        found.append(Stopped(one.carrier, one.stop, where, to_go_m, parts, fate, why, begin_s, end_s))
    return tuple(found)


def _where(stop: Stop, one: CarrierThen) -> str:
    """Where a carrier stands or is on its way to, in words."""
    if stop.kind == "aboard":
        return stop.label if one.at_rest else f"on the way {stop.label}"
    if not one.at_rest:
        return f"on the way to {stop.label}"
    return f"at {stop.label}{', in work' if one.in_work else ''}"


def _leg_m(layout: Layout, plan: TrafficPlan, one: CarrierThen) -> float:
    """Length of the leg that a carrier is on. [m]"""
    track = plan.general.track
    if track is not None:
        return float(track.way_m[one.left, one.stop])
    away_m = layout.stops[one.stop].axis_m - layout.stops[one.left].axis_m
    return away_m % layout.loop_m or layout.loop_m


def _fate(line: Line, plan: TrafficPlan, one: CarrierThen) -> tuple[str, str]:
    """What becomes of the parts on a carrier, and why they are unverified."""
    if not one.present:
        return NONE, ""
    if plan.stop_kind[one.stop] != STATION or not one.at_rest:
        return KEPT, ""
    station = line.station(plan.station_names[plan.stop_station[one.stop]])
    if one.in_work:
        if station.after_power_loss == "repeat":
            return AGAIN, "work interrupted; the station states that repeating is safe"
        why = "work interrupted"
    elif station.work == "manual":
        why = "within reach of a person"
    else:
        return KEPT, ""
    return (REJECTED if _exit_after(plan, one.step) >= 0 else BY_HAND), why


def _exit_after(plan: TrafficPlan, step: int) -> int:
    """The next reject exit in the route at or after a step, -1 where none is."""
    return next((p for p in range(step, len(plan.step_exit)) if plan.step_exit[p]), -1)


def _placement(line: Line, plan: TrafficPlan, then: tuple[CarrierThen, ...], next_load: int) -> Placement:
    """Where everybody stands when the line goes on."""
    ordered = sorted(then, key=lambda one: one.carrier)
    steps, loads, present, flagged, exits = [], [], [], [], []
    for one in ordered:
        fate, _ = _fate(line, plan, one)
        here = one.present
        if fate == REJECTED:
            exit_step = _exit_after(plan, one.step)
            steps.append(exit_step)
            flagged.append(here)
            exits.append(exit_step)
        else:
            gone = fate == BY_HAND
            here = 0 if gone else here
            steps.append(0 if gone else one.step)
            flagged.append(0 if gone else one.flagged)
            exits.append(-1 if gone else one.exit)
        present.append(here)
        loads.append(one.load if here else -1)
    return Placement(
        stops=tuple(one.stop for one in ordered),
        steps=tuple(steps),
        loads=tuple(loads),
        present=tuple(present),
        flagged=tuple(flagged),
        exits=tuple(exits),
        visits=tuple(one.visit if one.present else 0 for one in ordered),
        next_load=next_load,
    )


def _going_on(plan: TrafficPlan, offset_us: int) -> TrafficPlan:
    """The plan with its breaks at the same time of the shift as ever, when the line goes on so late."""
    breaks = tuple(moved for one in plan.general.breaks for moved in _moved(one, offset_us))
    return replace(plan, general=replace(plan.general, breaks=breaks))


def _moved(one: Break, offset_us: int) -> tuple[Break, ...]:
    """A break that is on when the line goes on has its rest first, once, and then comes as ever."""
    begin_us = (one.begin_us - offset_us) % one.shift_us
    over_us = begin_us + one.length_us - one.shift_us
    if over_us <= 0:
        return (replace(one, begin_us=begin_us),)
    once = replace(one, begin_us=0, length_us=over_us, shift_us=ONCE_US)
    return once, replace(one, begin_us=begin_us)


def _slowest_ride_s(plan: TrafficPlan) -> float:
    """The slowest ride of any platform. [s]"""
    rides = [time for one in plan.general.platforms for row in one.ride_us for time in row]
    return max([*rides, *plan.aboard_us.tolist()], default=0) / 1e6
