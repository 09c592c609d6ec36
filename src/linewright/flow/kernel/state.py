"""What the kernel reads (tables of the plan), what it changes (state) and what it fills (totals, trace)."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    EMPTY,
    LOADED,
    NO_BOUND,
    NO_LEG,
    OF_CLOCK,
    OF_RUNNING,
    WAITING,
    TrafficPlan,
)
from linewright.traffic.rules import NEVER

Ints = NDArray[np.int64]
Records = NDArray[np.void]

DOWN: Final = 0
WORK: Final = 1
CLEAR: Final = 2
DONE_HANDSHAKE: Final = 3
BLOCKED: Final = 4
PARTNER: Final = 5
SETTLING: Final = 6
PREPARE: Final = 7
EXCHANGE: Final = 8
STARVED: Final = 9
STATES: Final = 10

# A carrier's `waiting`: it waits to be woken, or it has been and its ask is pending.
WAITS: Final = 1
ASKS: Final = 2

# Its `starting`: the event that its work starts is pending, or it is reckoned in the same step of the loop.
STARTS_BY_EVENT: Final = 1
STARTS_AT_ONCE: Final = 2

NEVER_FINISHED: Final = 1 << 62
"""When the first good part of a bin is finished that has none."""

FAULT_NONE: Final = 0
FAULT_NO_LEG: Final = 1
FAULT_NO_EXIT: Final = 2
FAULT_TRACE_FULL: Final = 3


def _words(*names: str) -> np.dtype[np.void]:
    """A record of so many int64. One array of records instead of many arrays: of each the kernel keeps an address at
    hand and checks an index, and the compiler handles it anew in every function it is given to."""
    return np.dtype([(name, np.int64) for name in names])


STOP: Final = _words("kind", "station", "transfer")
TOOL: Final = _words(
    "step", "at_once", "settling_us", "clear_us", "prepare_us", "work", "reject", "first_failure", "last_failure",
    "fails_running_alone", "has_clock",
)  # fmt: skip
STEP: Final = _words("first", "last", "next_good", "next_flagged")
PLATFORM: Final = _words("aboard_us", "home_us")
FAILURE: Final = _words("of", "every", "repair")


class Tables(NamedTuple):
    """The plan as the kernel reads it. Shapes as in `TrafficPlan`, but that these are records:

    a stop (its kind, station, transfer); a station, which is its tool, too (times, its step, its laws of work and
    reject, its kinds of failure from the first to before the last, whether work is reckoned at once); a step (its
    stops are step_stop[first:last]; which follows); a transfer (times); a kind of failure (what it is counted by, its
    two laws). leg_us[2 leg + load] is how long a leg takes; way_place[p, i] the place, a station or after these a
    transfer, to which a move to stop i belongs on the way to step p."""

    stops: int
    carriers: int
    stations: int
    transfers: int
    follow_us: int
    arrive_us: int
    done_us: int
    top_delay_us: int
    stop: Records
    station: Records
    step: Records
    transfer: Records
    failure: Records
    next_aboard: Ints
    back: Ints
    step_stop: Ints
    move_us: Ints
    leg: Ints
    delay_us: NDArray[np.int32]
    rear_us: Ints
    leg_us: Ints
    way_place: Ints


# A carrier: stop rested on or reserved, next step, serial (-1 empty), last commitment and departure, row of its last
# leg in the delays, work starting or not, waiting or not, since when and whether held by a partner. As pointers (see
# `marks`): its readiness and its time, what its last commitment went back to, its last move (a number), the start of
# its work.
CARRIER: Final = _words(
    "stop", "step", "serial", "flagged", "committed", "departed", "leg_row", "starting", "waiting", "since", "held",
    "ready_us", "ready", "commitment", "last_move", "start",
)  # fmt: skip
# A station: when its tool is ready and what that goes back to, when its last carrier departs, which carrier has it;
# with clock failures up to when its time is booked and from when on it is up again.
STATION: Final = _words("tool_ready", "tool", "vacated", "occupant", "booked", "up")
# A transfer: waits at its dock or not, which carrier boards next, its last lock at its taking dock and what that went
# back to.
TRANSFER: Final = _words("waits", "next_carrier", "lock_us", "lock")
# A kind of failure: running time or works left, of a clock failure when it is due; number of the next.
COMING: Final = _words("left", "number")


class State(NamedTuple):
    """One moment: the event set, a record a carrier, station, transfer and kind of failure, and the counters."""

    events: Ints
    carrier: Records
    station: Records
    transfer: Records
    failure: Records
    counters: Ints


SERIALS: Final = 0
EVENTS: Final = 1
FAULT: Final = 2
MOVES: Final = 3
WORKS: Final = 4
GOOD: Final = 5
MARKS: Final = 6
LAST_GOOD_US: Final = 7
LAST_GOOD_STOP: Final = 8
LAST_GOOD: Final = 9
COUNTERS: Final = 10


class Totals(NamedTuple):
    """What a run adds up, all clipped at the horizon: time in each state, works ended, parts flagged, failures begun,
    good parts a bin and when the first of them was finished."""

    state_us: Ints
    parts: Ints
    rejected: Ints
    failures: Ints
    good: Ints
    first_us: Ints
    moves: Ints


class Trace(NamedTuple):
    """A log of moves (carrier, departure, from, to, arrival, load class), of works (station, carrier, serial, start,
    end, repair) and of good parts (serial, end) that lie, even in part, between begin and the horizon; and the ring of
    the last marks (see `marks`), its length a power of two."""

    begin: int
    moves: Ints
    works: Ints
    good: Ints
    marks: Ints


def tables_of(plan: TrafficPlan, at_once: bool = True) -> Tables:
    """The plan's tables with what the kernel derives from them.

    Parameters
    ----------
    at_once : let the work at a station be reckoned when its carrier commits itself, where nothing can come between; a
        test
        shows that the result is the same without
    """
    stops = plan.stops
    kinds = plan.stop_kind
    next_aboard = np.zeros(stops, np.int64)
    back = np.zeros(stops, np.int64)
    for i in range(stops):
        # Without a place aboard, on a ring, as far as no carrier goes: nobody reserves its own stop.
        next_aboard[i] = next((r for r in range(1, stops + 1) if kinds[(i + r) % stops] == ABOARD), stops)
        back[i] = next((r for r in range(stops) if kinds[i - r] in (WAITING, DOCK)), stops)
    delays = plan.delay_us[plan.delay_us != NO_BOUND]
    return Tables(
        stops=stops,
        carriers=plan.carriers,
        stations=len(plan.station_names),
        transfers=len(plan.transfer_names),
        follow_us=plan.follow_us,
        arrive_us=plan.start_handshake_us,
        done_us=plan.done_handshake_us,
        top_delay_us=int(delays.max()) if delays.size else NEVER,
        stop=_records(STOP, stops, {"kind": kinds, "station": plan.stop_station, "transfer": plan.stop_transfer}),
        station=_tools(plan, at_once),
        step=_steps(plan),
        transfer=_records(PLATFORM, len(plan.transfer_names), {"aboard_us": plan.aboard_us, "home_us": plan.home_us}),
        failure=_failures(plan),
        next_aboard=next_aboard,
        back=back,
        step_stop=np.array([plan.station_stop[k] for stations in plan.step_stations for k in stations], np.int64),
        move_us=plan.move_us,
        leg=plan.leg,
        delay_us=plan.delay_us,
        rear_us=plan.rear_us,
        leg_us=_leg_times(plan),
        way_place=_way_places(plan) if plan.general.is_plain else np.zeros((0, 0), np.int64),
    )


def _records(dtype: np.dtype[np.void], count: int, fields: dict[str, Any]) -> Records:
    """Records of these fields, each an array or one value for all."""
    records = np.zeros(count, dtype)
    for name in dtype.names or ():
        records[name] = fields[name]
    return records


def _tools(plan: TrafficPlan, at_once: bool) -> Records:
    stations = len(plan.station_names)
    sole = len(plan.step_stations[0]) == 1
    owners = [failure.station for failure in plan.failures]
    first = np.searchsorted(owners, np.arange(stations + 1))
    counted_by = [{failure.of for failure in plan.failures if failure.station == k} for k in range(stations)]
    return _records(
        TOOL,
        stations,
        {
            "step": plan.station_step,
            "at_once": [at_once and (step > 0 or sole) for step in plan.station_step],
            "settling_us": plan.settling_us,
            "clear_us": plan.clear_us,
            "prepare_us": plan.prepare_us,
            "work": np.arange(stations),
            "reject": stations + np.arange(stations),
            "first_failure": first[:-1],
            "last_failure": first[1:],
            "fails_running_alone": [kinds <= {OF_RUNNING} for kinds in counted_by],
            "has_clock": [OF_CLOCK in kinds for kinds in counted_by],
        },
    )


def _steps(plan: TrafficPlan) -> Records:
    ends = np.cumsum([len(stations) for stations in plan.step_stations])
    return _records(
        STEP,
        len(ends),
        {
            "first": [0, *ends[:-1]],
            "last": ends,
            "next_good": _next_step(plan.step_exit, False),
            "next_flagged": _next_step(plan.step_exit, True),
        },
    )


def _failures(plan: TrafficPlan) -> Records:
    kinds, before = np.arange(len(plan.failures)), 2 * len(plan.station_names)
    return _records(
        FAILURE,
        len(kinds),
        {
            "of": [failure.of for failure in plan.failures],
            "every": before + kinds,
            "repair": before + len(kinds) + kinds,
        },
    )


def _leg_times(plan: TrafficPlan) -> Ints:
    """How long each leg takes for each load class, at [2 leg + load]; 0 where that class never goes it."""
    times = np.zeros(2 * (int(plan.leg.max(initial=NO_LEG)) + 1), np.int64)
    for load in (EMPTY, LOADED):
        gone = (plan.leg != NO_LEG) & (plan.move_us[load] != NO_LEG)
        times[2 * plan.leg[gone] + load] = plan.move_us[load][gone]
    return times


def _way_places(plan: TrafficPlan) -> Ints:
    """The place to which a move belongs, at [next step of its carrier, stop reached]: the first place aboard or station
    of that step at or after the stop, stations numbered first."""
    places = np.zeros((len(plan.step_stations), plan.stops), np.int64)
    for step, stations in enumerate(plan.step_stations):
        ends = {int(plan.station_stop[k]): k for k in stations}
        for aboard in np.flatnonzero(plan.stop_kind == ABOARD).tolist():
            ends[aboard] = len(plan.station_names) + int(plan.stop_transfer[aboard])
        for stop in range(plan.stops):
            places[step, stop] = ends[min(ends, key=lambda end: (end - stop) % plan.stops)]
    return places


def _next_step(exits: tuple[bool, ...], flagged: bool) -> Ints:
    """The step that follows each for a good or a flagged part; -1 where the part leaves its carrier, -2 where it may
    not come."""
    steps = range(len(exits))
    following = [next((q for q in steps if q > p and exits[q] == flagged), -1) for p in steps]
    if flagged:
        following = [-1 if exits[p] else (-2 if following[p] == -1 else following[p]) for p in steps]
    else:
        following = [-1 if exits[p] else following[p] for p in steps]
    return np.array(following, np.int64)


def new_state(plan: TrafficPlan, events: Ints) -> State:
    """Time zero: all carriers at rest on their first stops, nothing committed, platforms at their taking docks, tools
    ready."""
    carrier = np.zeros(plan.carriers, CARRIER)
    carrier["stop"] = plan.first_stops
    for name in ("committed", "departed"):
        carrier[name] = NEVER
    for name in ("serial", "leg_row", "ready", "commitment", "last_move", "start"):
        carrier[name] = -1
    station = np.zeros(len(plan.station_names), STATION)
    for name in ("tool", "occupant"):
        station[name] = -1
    # A ring has no transfer; the loop reads a row all the same, that of one that never waits at its dock.
    transfer = np.zeros(max(1, len(plan.transfer_names)), TRANSFER)
    transfer["waits"] = 1 if plan.transfer_names else 0
    transfer["next_carrier"] = _first_boarders(plan) if plan.transfer_names else -1
    for name in ("lock_us", "lock"):
        transfer[name] = -1
    return State(events, carrier, station, transfer, np.zeros(len(plan.failures), COMING), _first_counters())


def _first_counters() -> Ints:
    counters = np.zeros(COUNTERS, np.int64)
    counters[[LAST_GOOD_US, LAST_GOOD_STOP, LAST_GOOD]] = -1
    return counters


def _first_boarders(plan: TrafficPlan) -> Ints:
    """For each transfer the carrier that comes to it first: the nearest upstream of its place aboard."""
    aboard = np.flatnonzero(plan.stop_kind == ABOARD)
    upstream = (aboard[:, None] - plan.first_stops[None, :]) % plan.stops
    return np.asarray(upstream.argmin(axis=1), np.int64)


def new_totals(plan: TrafficPlan, horizon_us: int, bin_us: int) -> Totals:
    """Empty totals; good parts are counted in bins of bin_us from time zero, the last one perhaps cut short by the
    horizon."""
    stations = len(plan.station_names)
    return Totals(
        state_us=np.zeros((stations, STATES), np.int64),
        parts=np.zeros(stations, np.int64),
        rejected=np.zeros(stations, np.int64),
        failures=np.zeros(len(plan.failures), np.int64),
        good=np.zeros(-(-horizon_us // bin_us), np.int64),
        first_us=np.full(-(-horizon_us // bin_us), NEVER_FINISHED, np.int64),
        moves=np.zeros(plan.carriers, np.int64),
    )


def new_trace(begin_us: int, capacity: int, marks: Ints) -> Trace:
    """An empty trace with room for so many moves, works and good parts, over a ring of marks."""
    return Trace(
        begin=begin_us,
        moves=np.zeros((capacity, 6), np.int64),
        works=np.zeros((capacity, 6), np.int64),
        good=np.zeros((capacity, 2), np.int64),
        marks=marks,
    )
