"""What a stop leaves behind: who stands where, what becomes of the parts, and the plan from which the line goes on.

`restart` and `recovery` share it; docs/semantics.md, "After a stop".
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.errors import SimulationError
from linewright.layout import Layout, Stop, resting_order
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan, legs_of
from linewright.traffic.general import Break, CarrierChange, Placement
from linewright.traffic.plan import STATION, TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.general.run import Snapshot

ONCE_US: Final = 10**13
"""A shift so long that its second does not begin. [us]"""

NONE: Final = "none aboard"
KEPT: Final = "kept"
AGAIN: Final = "work done again"
REJECTED: Final = "rejected"
BY_HAND: Final = "taken out by hand"


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
class Aftermath:
    """What a stop leaves behind.

    Parameters
    ----------
    carriers : by the stop they stand on or go to, downstream first
    recovery_s : from the begin of the recovery until the line goes on. [s]
    start : where everybody on the line stands then, in the order of their numbers
    known : carriers that have been on the line in the run that was stopped, from its begin or put in
    changes : of carriers, still to come; their times from where the run that was stopped began
    newly_flagged, by_hand : parts, not flagged before, that are flagged for an exit, or taken out by hand
    """

    carriers: tuple[Stopped, ...]
    recovery_s: float
    start: Placement
    known: int
    changes: tuple[CarrierChange, ...]
    newly_flagged: int
    by_hand: int


@dataclass(frozen=True)
class CarrierThen:
    """One carrier in the snapshot of the stop.

    Parameters
    ----------
    carrier : its number
    stop : rank of the stop on which it rests, or which is kept for it
    here : rank of the stop on which it stands; None under way
    left : rank of the stop that it left last
    in_work : its parts are being worked on
    step, load, visit, present, flagged, exit : as in `Placement`
    """

    carrier: int
    stop: int
    here: int | None
    left: int
    in_work: bool
    step: int
    load: int
    visit: int
    present: int
    flagged: int
    exit: int


def stopping_plan(line: Line, layout: Layout) -> TrafficPlan:
    """The plan of a line with the legs that carriers can make after any stop, too.

    Parameters
    ----------
    line, layout : a line and its own layout

    Raises
    ------
    SimulationError   No traffic is possible on the track.

    Notes
    -----
    Beyond the usual legs: unverified parts leave for the next exit from where they stand, or are taken out by hand and
    the empty carrier leaves for the first step; both from every station and, since a carrier at a manual station may
    have a stop kept for it, from every stop at which a carrier may rest, if any station is manual. All other carriers
    are on a usual way. Times and settling are those of the usual plan.
    """
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    ways = [(stop, 0, 0) for stop in resting_order(line, layout)]
    is_exit = tuple(step.reject_exit for step in line.route)
    targets = [(step, 1) if step >= 0 else (0, 0) for step in (_exit_after(is_exit, p) for p in range(len(is_exit)))]
    for step, target in zip(line.route, targets, strict=True):
        ways += [(layout.stop_of(name).index, *target) for name in step.stations]
    if any(station.work == "manual" for station in line.stations):
        ways += [(stop.index, *target) for target in set(targets) for stop in layout.stops]
    found = tuple(zip(*sorted(set(ways)), strict=True))
    nobody = (-1,) * len(found[0])
    # Not where carriers are, but whence some may leave for where: this is how a plan is told of legs.
    whence = Placement(found[0], found[1], nobody, found[2], nobody, nobody, nobody, 0)
    return compile_plan(line, layout, legs=legs_of(compile_plan(line, layout, start=whence)))


def aftermath(
    line: Line, layout: Layout, plan: TrafficPlan, snapshot: Snapshot, at_us: int, speed_m_s: float
) -> Aftermath:
    """What a stop leaves behind, and where the line goes on from.

    Parameters
    ----------
    line, layout, plan : a line, its layout and its plan
    snapshot, at_us : the instant of the stop; when it was, in the run that gave it. [us]
    speed_m_s : at which carriers under way go to the stops kept for them. [m/s]

    Notes
    -----
    Carriers go one at a time, downstream first, each after the reaction of the sheet; what one has left to go counts as
    its whole leg, since nobody knows where it came to rest. One that has reserved a stop and not yet set out goes
    there, too: its own stop may be kept for the one behind it. Where a carrier ends aboard, the slowest ride is added.

    Source     docs/semantics.md, "After a stop".
    """
    then = _carriers_of(plan, snapshot, at_us)
    carriers = _recovery(line, layout, plan, then, speed_m_s)
    recovery_s = max((one.recovery_end_s for one in carriers if one.recovery_end_s is not None), default=0.0)
    if any(plan.stop_transfer[one.stop] >= 0 for one in carriers):
        recovery_s += _slowest_ride_s(plan)
    newly = {REJECTED: 0, BY_HAND: 0}
    for one in then:
        fate, _ = _fate(line, plan, one)
        if fate in newly:
            newly[fate] += (one.present & ~one.flagged).bit_count()
    start = _placement(line, plan, then, int(snapshot.next_load))
    known = _known(plan, snapshot)
    changes = _changes_left(plan, snapshot, known)
    return Aftermath(carriers, recovery_s, start, known, changes, newly[REJECTED], newly[BY_HAND])


def plan_from(plan: TrafficPlan, left: Aftermath, offset_us: int, run_us: int) -> TrafficPlan:
    """The plan of the line as it goes on, its breaks at the same time of the shift as ever, and its carrier changes.

    Parameters
    ----------
    plan : of the line, with the legs from `stopping_plan`
    left : what the stop has left behind
    offset_us : when the line goes on, from time zero. [us]
    run_us : the same from where the run that was stopped began. [us]
    """
    breaks = tuple(moved for one in plan.general.breaks for moved in moved_break(one, offset_us))
    changes = tuple(replace(one, at_us=max(one.at_us - run_us, 0)) for one in left.changes)
    return replace(
        plan,
        first_stops=np.array(left.start.stops, np.int64),
        general=replace(plan.general, breaks=breaks, carrier_changes=changes, start=left.start),
    )


def fate_of_work(line: Line, station: str) -> str:
    """What becomes of the part whose work at a station a stop interrupts: ``work done again``, ``rejected`` or ``taken
    out by hand``.

    Parameters
    ----------
    line : whose route says where flagged parts go
    station : in a step of it

    Source     docs/semantics.md, "After a stop".
    """
    if line.station(station).after_power_loss == "repeat":
        return AGAIN
    step = next(p for p, one in enumerate(line.route) if station in one.stations)
    return REJECTED if _exit_after(tuple(one.reject_exit for one in line.route), step) >= 0 else BY_HAND


def moved_break(one: Break, offset_us: int) -> tuple[Break, ...]:
    """A break as the line meets it that goes on so late; one that is on has its rest first, once, and then comes as
    ever.

    Examples
    --------
    >>> [(b.begin_us, b.length_us) for b in moved_break(Break((0,), 100, 20, 1000), 110)]
    [(0, 10), (990, 20)]
    """
    begin_us = (one.begin_us - offset_us) % one.shift_us
    over_us = begin_us + one.length_us - one.shift_us
    if over_us <= 0:
        return (replace(one, begin_us=begin_us),)
    once = replace(one, begin_us=0, length_us=over_us, shift_us=ONCE_US)
    return once, replace(one, begin_us=begin_us)


def place_words(stop: Stop, arrived: bool) -> str:
    """Where a carrier stands or is on its way to, in words."""
    if stop.kind == "aboard":
        return stop.label if arrived else f"on the way {stop.label}"
    return f"at {stop.label}" if arrived else f"on the way to {stop.label}"


def _carriers_of(plan: TrafficPlan, snapshot: Snapshot, at_us: int) -> tuple[CarrierThen, ...]:
    """The carriers of a snapshot. One that has reserved a stop and not yet departed stands on that which it will
    leave."""
    found = []
    for k in np.flatnonzero(snapshot.on_line).tolist():
        stop, left = int(snapshot.stop[k]), int(snapshot.origin[k])
        waits, rests = int(snapshot.departed_us[k]) >= at_us, bool(snapshot.at_rest[k])
        step = int(snapshot.step[k])
        found.append(
            CarrierThen(
                carrier=k,
                stop=stop,
                here=left if waits else stop if rests else None,
                left=left,
                in_work=bool(snapshot.in_work[k]),
                step=step,
                load=int(snapshot.load[k]),
                visit=int(snapshot.visit[k]),
                present=int(snapshot.present[k]),
                flagged=int(snapshot.flagged[k]),
                # The exit to which it is on its way; the snapshot has the last of all that its nests were meant for.
                exit=step if plan.step_exit[step] else int(snapshot.exit[k]),
            )
        )
    return tuple(found)


def _known(plan: TrafficPlan, snapshot: Snapshot) -> int:
    """Carriers of the plan and those put in, which are numbered on from them, up to the last that is on the line or has
    departed."""
    seen = np.flatnonzero(snapshot.on_line | (snapshot.departed_us >= 0))
    return max(int(seen.max(initial=-1)) + 1, plan.carriers)


def _changes_left(plan: TrafficPlan, snapshot: Snapshot, known: int) -> tuple[CarrierChange, ...]:
    """The carrier changes that are still to come, or to be ended.

    Notes      The snapshot has the carriers, not the changes: of those known, as many as are not on the line have been
               taken out. Of several changes of one sort that with the earlier time counts as done first.
    """
    changes = plan.general.carrier_changes
    done = {1: known - plan.carriers, -1: known - int(snapshot.on_line.sum())}
    left = []
    for one in changes:
        sign = 1 if one.count > 0 else -1
        now = min(done[sign], abs(one.count))
        done[sign] -= now
        if now < abs(one.count):
            left.append(replace(one, count=one.count - sign * now))
    return tuple(left)


def _recovery(
    line: Line, layout: Layout, plan: TrafficPlan, then: tuple[CarrierThen, ...], speed_m_s: float
) -> tuple[Stopped, ...]:
    """Every carrier, downstream first, with its slow move."""
    time_s = 0.0
    found = []
    for one in sorted(then, key=lambda carrier: -carrier.stop):
        begin_s = end_s = None
        goes = one.here is None or one.here != one.stop
        to_go_m = _leg_m(layout, plan, one) if goes else 0.0
        if goes:
            begin_s = time_s + line.conveyor.reaction.follow_s
            end_s = time_s = begin_s + to_go_m / speed_m_s
        fate, why = _fate(line, plan, one)
        where = _where(layout, one)
        parts = one.present.bit_count()
        found.append(Stopped(one.carrier, one.stop, where, to_go_m, parts, fate, why, begin_s, end_s))
    return tuple(found)


def _where(layout: Layout, one: CarrierThen) -> str:
    stop = layout.stops[one.stop]
    if one.here is None or one.here == one.stop:
        return place_words(stop, one.here is not None) + (", in work" if one.in_work else "")
    return f"{place_words(layout.stops[one.here], True)}, about to leave for {stop.label}"


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
    if one.here is None or plan.stop_kind[one.here] != STATION:
        return KEPT, ""
    station = line.station(plan.station_names[plan.stop_station[one.here]])
    if one.in_work:
        fate = fate_of_work(line, station.name)
        again = fate == AGAIN
        return fate, f"work interrupted{'; the station states that repeating is safe' if again else ''}"
    if station.work == "manual":
        return (REJECTED if _exit_of(plan, one) >= 0 else BY_HAND), "within reach of a person"
    return KEPT, ""


def _exit_of(plan: TrafficPlan, one: CarrierThen) -> int:
    """The step of the next reject exit after the station where a carrier stands, the station's own included; -1 for
    none.

    Notes      Not after the carrier's next step: a part worked already may have an exit before that, which good parts
               pass by.
    """
    assert one.here is not None
    return _exit_after(plan.step_exit, int(plan.station_step[plan.stop_station[one.here]]))


def _exit_after(is_exit: tuple[bool, ...], step: int) -> int:
    """The next reject exit in the route at or after a step, -1 where none is; is_exit tells of each step."""
    return next((p for p in range(step, len(is_exit)) if is_exit[p]), -1)


def _placement(line: Line, plan: TrafficPlan, then: tuple[CarrierThen, ...], next_load: int) -> Placement:
    """Where everybody stands when the line goes on."""
    steps, loads, present, flagged, exits = [], [], [], [], []
    for one in then:
        fate, _ = _fate(line, plan, one)
        here = one.present
        if fate == REJECTED:
            exit_step = _exit_of(plan, one)
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
        stops=tuple(one.stop for one in then),
        steps=tuple(steps),
        loads=tuple(loads),
        present=tuple(present),
        flagged=tuple(flagged),
        exits=tuple(exits),
        visits=tuple(one.visit if one.present else 0 for one in then),
        next_load=next_load,
    )


def _slowest_ride_s(plan: TrafficPlan) -> float:
    """The slowest ride of any platform. [s]"""
    rides = [time for one in plan.general.platforms for row in one.ride_us for time in row]
    return max([*rides, *plan.aboard_us.tolist()], default=0) / 1e6
