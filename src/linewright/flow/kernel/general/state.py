"""What the general event loop changes: one moment of a line, its totals and its logs."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.flow.kernel.draws import Laws
from linewright.flow.kernel.events import new_events
from linewright.flow.kernel.general.luck import GeneralLuck
from linewright.flow.kernel.general.tables import Tables, words
from linewright.flow.kernel.state import COMING, NEVER_FINISHED, STARVED, STATES
from linewright.traffic.general import TAKE_AWAY
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.rules import NEVER, NOBODY

Ints = NDArray[np.int64]
Records = NDArray[np.void]

# States of a station beyond those of the plain loop.
CHANGEOVER: Final = STATES
OPERATOR: Final = STATES + 1
OUTSIDE: Final = STATES + 2
BREAK: Final = STATES + 3
ALL_STATES: Final = STATES + 4

# Gates, in order; what comes after them.
G_NONE: Final = 0
G_UP: Final = 1
G_RUN_OUT: Final = 2
G_OUTSIDE: Final = 3
G_BREAK: Final = 4
G_OPERATOR: Final = 5
G_CHANGEOVER: Final = 6
G_UP_AGAIN: Final = 7
G_WORK: Final = 8
G_RELEASE: Final = 9

# A station's call of an operator.
NO_CALL: Final = 0
CALLS: Final = 1
ASSIGNED: Final = 2
SERVED: Final = 3

# A platform: at rest and empty, or reserved; rides empty; rides with carriers; at the giving dock until they have left.
AT_REST: Final = 0
RIDES_EMPTY: Final = 1
RIDES: Final = 2
GIVES: Final = 3

# Kinds of event, in the order in which those of one microsecond go.
K_REPAIRED: Final = 1
K_BREAK: Final = 2
K_OUTSIDE: Final = 3
K_WORK_ENDS: Final = 4
K_RELEASED: Final = 5
K_CHANGED_OVER: Final = 6
K_OPERATOR: Final = 7
K_LOCKED_TAKING: Final = 8
K_LOCKED_GIVING: Final = 9
K_REAR_LEFT: Final = 10
K_ARRIVAL: Final = 11
K_READY: Final = 12
K_GATE: Final = 13
K_CHANGE: Final = 14

# A carrier: stop rested on or reserved, the one before, and that with which the way from there began; next step; load,
# its parts aboard (bits), the flagged of them, reworks, variant; last commitment, departure, arrival, row and time of
# the last leg; waits or asks; whether on its way; stretches it is on (bits); row of its last move in the log; the stop
# that the locked platform gives to. As nodes (see `causes`): readiness, commitment, departure; label of the link over
# its move.
CARRIER: Final = words(
    "stop", "origin", "via", "step", "load", "present", "flagged", "visit", "variant", "committed", "departed",
    "arrives", "row", "move_us", "waiting", "under_way", "gone", "on", "logged", "onto", "ready_us", "ready",
    "commitment", "departure", "label", "in_work",
)  # fmt: skip
# A station: its tool's readiness and node; who stands or is to stand there; up to when its time is booked, in which
# state; up again from; the gate, since when, its node; call and operator; variant of its last work; breaks it is in;
# room kept in the take-away; parts worked on (bits); end of work; end of a changeover.
STATION: Final = words(
    "tool_ready", "tool", "occupant", "booked", "up", "state", "gate", "gate_us", "gate_node", "fresh", "call",
    "operator", "last_variant", "in_break", "kept", "dirty", "worked", "end_us", "ended", "changed_us",
)  # fmt: skip
PLATFORM: Final = words("state", "dock", "reserved", "arrived", "rear_us", "rear", "left", "lock_us", "lock")
OUTSIDE_MACHINE: Final = words("buffer", "kept", "busy", "number", "dirty")
OPERATOR_RECORD: Final = words("place", "free")
CHANGE: Final = words("left", "active", "carrier")
BREAK_RECORD: Final = words("number", "holds")
POOL: Final = words("dirty")


class State(NamedTuple):
    """One moment, totals and logs. Arrays of records, but for: events (see `kernel.events`), occupant of each stop,
    boardable (lane from which each transfer may be boarded, -1 for none), passed (see `rules.look_ahead`), exits[c, i]
    (step of the exit for which part i of carrier c is flagged), indexed (whether each lane has an index instant),
    lane_ready (instant, rank and node of the last readiness on each), barred (stops that nobody may reserve),
    on_stretch (carriers on each stretch), stretch_left (instant, rank and node of the last arrival beyond each), aboard
    (parts of each variant), heap (those that ask), counters."""

    events: Ints
    carrier: Records
    station: Records
    platform: Records
    operator: Records
    outside: Records
    change: Records
    breaks: Records
    pool: Records
    coming: Records
    occupant: Ints
    barred: Ints
    boardable: Ints
    passed: Ints
    exits: Ints
    indexed: Ints
    lane_ready: Ints
    on_stretch: Ints
    stretch_left: Ints
    aboard: Ints
    heap: Ints
    counters: Ints
    marks: Ints
    laws: Laws
    sequence: Ints
    running: NDArray[np.float64]
    sets: Ints
    state_us: Ints
    parts: Ints
    rejected: Ints
    failed: Ints
    good: Ints
    first_us: Ints
    moved: Ints
    moves: Ints
    works: Ints
    good_log: Ints


LOADS: Final = 0
EVENTS: Final = 1
FAULT: Final = 2
MOVES: Final = 3
WORKS: Final = 4
GOOD: Final = 5
NODES: Final = 6
LAST_GOOD_US: Final = 7
LAST_GOOD_STOP: Final = 8
LAST_GOOD: Final = 9
HORIZON: Final = 10
BIN: Final = 11
TRACE_FROM: Final = 12
ASKING: Final = 13
OPENER: Final = 14
OPENER_US: Final = 15
OPENER_RANK: Final = 28
LAST_COMMITMENT: Final = 16
LAST_COMMITMENT_US: Final = 17
DIRECTION: Final = 18
GATES: Final = 19
WAKE: Final = 20
CARRIERS: Final = 21
HALTS: Final = 22
HALT_LOST: Final = 23
PARTS_ABOARD: Final = 24
OUTSIDES: Final = 25
POOLS: Final = 26
PUTS: Final = 27
WALKS: Final = 29
COUNTERS: Final = 30


def leaves(t: Tables) -> tuple[int, int, int, int, int, int, int]:
    """The first leaf of the carriers, of each station two (its gate and its operator), of the platforms, of the
    machines outside, of the breaks, of the carrier changes."""
    counts = (t.carriers + t.put_in, t.stations, t.stations, t.transfers, len(t.outside), len(t.breaks))
    first = [0, *np.cumsum(counts).tolist()]
    return (first[0], first[1], first[2], first[3], first[4], first[5], first[6])


def new_state(
    plan: TrafficPlan,
    t: Tables,
    luck: GeneralLuck,
    horizon_us: int,
    bin_us: int,
    trace_from_us: int,
    capacity: int,
    marks: Ints,
) -> State:
    """Time zero, nothing begun."""
    count, stations, bins = t.carriers + t.put_in, t.stations, -(-horizon_us // bin_us)
    counters = np.zeros(COUNTERS, np.int64)
    counters[[LAST_GOOD_US, LAST_GOOD_STOP, LAST_GOOD, OPENER_US, LAST_COMMITMENT_US]] = -1
    counters[[HORIZON, BIN, TRACE_FROM, CARRIERS]] = horizon_us, bin_us, trace_from_us, t.carriers
    start = plan.general.start
    counters[LOADS] = 0 if start is None else start.next_load
    last = leaves(t)
    return State(
        events=new_events(last[-1] + len(t.change)),
        carrier=_carriers(plan, count),
        station=_stations(stations),
        platform=_platforms(t.transfers),
        operator=_operators(max((int(pool["last"]) for pool in t.pool), default=0)),
        outside=_outside(t),
        change=np.zeros(len(t.change), CHANGE),
        breaks=np.zeros(len(t.breaks), BREAK_RECORD),
        pool=np.ones(len(t.pool), POOL),
        coming=np.zeros(len(t.failure), COMING),
        occupant=np.full(t.stop_count, NOBODY, np.int64),
        barred=np.zeros(t.stop_count, np.int64),
        boardable=np.full(max(t.transfers, 1), -1, np.int64),
        passed=np.zeros(t.stop_count, np.int64),
        exits=_exits(plan, count),
        indexed=np.ones(len(t.lanes), np.int64),
        lane_ready=np.full((len(t.lanes), 3), -1, np.int64),
        on_stretch=np.zeros(max(len(t.stretch), 1), np.int64),
        stretch_left=np.full((max(len(t.stretch), 1), 3), -1, np.int64),
        aboard=np.zeros(t.law.variants, np.int64),
        heap=np.zeros(count + 1, np.int64),
        counters=counters,
        marks=marks,
        laws=luck.laws,
        sequence=luck.sequence,
        running=luck.running,
        sets=luck.sets,
        state_us=np.zeros((stations, ALL_STATES), np.int64),
        parts=np.zeros(stations, np.int64),
        rejected=np.zeros(stations, np.int64),
        failed=np.zeros(len(t.failure), np.int64),
        good=np.zeros(bins, np.int64),
        first_us=np.full(bins, NEVER_FINISHED, np.int64),
        moved=np.zeros(count, np.int64),
        moves=np.zeros((capacity, 6), np.int64),
        works=np.zeros((capacity, 6), np.int64),
        good_log=np.zeros((capacity, 2), np.int64),
    )


def _carriers(plan: TrafficPlan, count: int) -> Records:
    carrier, start = np.zeros(count, CARRIER), plan.general.start
    carrier["gone"] = 1
    carrier["committed"] = carrier["departed"] = NEVER
    for name in ("load", "row", "logged", "onto", "ready", "commitment", "departure"):
        carrier[name] = -1
    placed = carrier[: plan.carriers]
    placed["gone"] = 0
    placed["stop"] = plan.first_stops
    if start is not None:
        columns = {
            "stop": start.stops, "step": start.steps, "load": start.loads, "present": start.present,
            "flagged": start.flagged, "visit": start.visits,
        }  # fmt: skip
        for name, values in columns.items():
            placed[name] = values
    carrier["origin"] = carrier["stop"]
    return carrier


def _exits(plan: TrafficPlan, count: int) -> Ints:
    exits = np.full((count, plan.general.nests), -1, np.int64)
    if plan.general.start is not None:
        exits[: plan.carriers] = np.array(plan.general.start.exits)[:, None]
    return exits


def _stations(count: int) -> Records:
    station = np.zeros(count, STATION)
    station["state"] = STARVED
    for name in ("tool", "occupant", "gate_node", "last_variant", "operator", "ended"):
        station[name] = -1
    return station


def _operators(count: int) -> Records:
    operator = np.zeros(count, OPERATOR_RECORD)
    operator["free"] = 1
    return operator


def _platforms(count: int) -> Records:
    platform = np.zeros(count, PLATFORM)
    for name in ("rear_us", "rear", "lock_us", "lock"):
        platform[name] = -1
    return platform


def _outside(t: Tables) -> Records:
    machines = np.zeros(len(t.outside), OUTSIDE_MACHINE)
    machines["dirty"] = 1
    machines["buffer"] = np.where(t.outside["kind"] == TAKE_AWAY, 0, t.outside["start"])
    return machines
