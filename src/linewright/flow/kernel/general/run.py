"""One replication of any plan by the general event loop."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import SimulationError
from linewright.flow.kernel.events import LONGEST_US, MOST_STOPS
from linewright.flow.kernel.general.box import boxed_state, boxed_tables
from linewright.flow.kernel.general.causes import MOST_LABELS, walk_back
from linewright.flow.kernel.general.instant import run_instants
from linewright.flow.kernel.general.luck import GeneralLuck, general_luck_of
from linewright.flow.kernel.general.state import (
    AT_REST,
    DIRECTION,
    EVENTS,
    FAULT,
    GIVES,
    GOOD,
    HALT_LOST,
    HALTS,
    LAST_GOOD,
    LOADS,
    MOVES,
    NODES,
    WORKS,
    State,
    new_state,
)
from linewright.flow.kernel.general.tables import Tables, general_tables_of
from linewright.flow.kernel.marks import CAUSES
from linewright.flow.kernel.state import FAULT_NO_EXIT, FAULT_NO_LEG, FAULT_TRACE_FULL, Totals
from linewright.traffic.plan import TrafficPlan

__all__ = ["GeneralResult", "Snapshot", "general_luck_of", "general_tables_of", "run_general"]

Ints = NDArray[np.int64]

FIRST_CAPACITY: Final = 1 << 15
FIRST_LINKS: Final = 1 << 17
FEW_NODES: Final = 1 << 6
KEPT_NODES: Final = 1 << 21
MOST_CARRIERS: Final = 10_000
MOST_NESTS: Final = 60
MOST_BITS: Final = 62
"""Steps and stretches, which stand as bits of one word."""


@dataclass(frozen=True, eq=False)
class Snapshot:
    """Where everything is at the horizon. One entry a carrier, or a transfer.

    Parameters
    ----------
    stop, origin : the stop that it rests on or has reserved; the one it left
    departed_us, arrives_us : of its last move. [us]
    at_rest : it has arrived, or has not yet departed
    in_work : its part is being worked on
    step, load, visit, present, flagged, exit : as in `Placement`
    on_line : it is on the line: not taken out, or put in
    platform_dock : the dock where each transfer stands or to which it rides: those that it takes from, then the others
    platform_locked : it is locked there
    next_load : number of the next load
    against : a two-way lane's direction is against the stated one
    """

    stop: Ints
    origin: Ints
    departed_us: Ints
    arrives_us: Ints
    at_rest: NDArray[np.bool_]
    in_work: NDArray[np.bool_]
    step: Ints
    load: Ints
    visit: Ints
    present: Ints
    flagged: Ints
    exit: Ints
    on_line: NDArray[np.bool_]
    platform_dock: Ints
    platform_locked: NDArray[np.bool_]
    next_load: int
    against: bool


@dataclass(frozen=True, eq=False)
class GeneralResult:
    """What one replication gives, see `linewright.flow.kernel.run.Replication`.

    Parameters
    ----------
    totals : its states have all the columns, those beyond the plain loop last
    moves, works, good : logs
    chain_times_us, chain_labels : the chain of causes; None where there is none
    snapshot : at the horizon
    short_halts, short_halts_lost_us : how many short halts, and what they cost together. [us]
    events : events handled
    """

    totals: Totals
    moves: Ints
    works: Ints
    good: Ints
    chain: tuple[Ints, Ints] | None
    snapshot: Snapshot
    short_halts: int
    short_halts_lost_us: int
    events: int


class _Scratch(threading.local):
    """The arrays of one thread that every run of it fills anew."""

    def __init__(self) -> None:
        self.marks = np.empty((KEPT_NODES, 2), np.int64)
        self.few_marks = np.empty((FEW_NODES, 2), np.int64)
        self.times_us = np.empty(FIRST_LINKS, np.int64)
        self.labels = np.empty(FIRST_LINKS, np.int64)


_scratch = _Scratch()


def run_general(
    plan: TrafficPlan,
    tables: Tables,
    luck: GeneralLuck,
    horizon_us: int,
    bin_us: int,
    trace_from_us: int | None = None,
    with_chain: bool = False,
) -> GeneralResult:
    """One replication of any plan with the given luck; parameters and errors as of `linewright.flow.kernel.run`."""
    _check_size(plan, tables, horizon_us)
    capacity = 0 if trace_from_us is None else FIRST_CAPACITY
    begin_us = LONGEST_US if trace_from_us is None else trace_from_us
    while True:
        marks = _scratch.marks if with_chain else _scratch.few_marks
        state = new_state(plan, tables, luck, horizon_us, bin_us, begin_us, capacity, marks)
        run_instants(boxed_tables(tables), boxed_state(state))
        fault = int(state.counters[FAULT])
        if fault != FAULT_TRACE_FULL:
            break
        capacity *= 4
    if fault == FAULT_NO_LEG:
        raise RuntimeError("the traffic plan lacks a leg that a carrier needs")
    if fault == FAULT_NO_EXIT:
        raise RuntimeError("the traffic plan flags a part that no reject exit follows")
    counters = state.counters
    return GeneralResult(
        totals=_totals(plan, state),
        moves=state.moves[: counters[MOVES]],
        works=state.works[: counters[WORKS]],
        good=state.good_log[: counters[GOOD]],
        chain=_chain(state) if with_chain else None,
        snapshot=_snapshot(state, horizon_us),
        short_halts=int(counters[HALTS]),
        short_halts_lost_us=int(counters[HALT_LOST]),
        events=int(counters[EVENTS]),
    )


def _check_size(plan: TrafficPlan, tables: Tables, horizon_us: int) -> None:
    carriers, places = tables.carriers + tables.put_in, tables.stations + tables.transfers
    limits = (
        ("stops", plan.stops, MOST_STOPS),
        ("carriers", carriers, MOST_CARRIERS),
        ("nests", tables.nests, MOST_NESTS),
        ("steps", tables.steps, MOST_BITS),
        ("stretches with admission", len(tables.stretch), MOST_BITS),
        ("stations and transfers", places, MOST_LABELS // len(CAUSES)),
    )
    for name, count, most in limits:
        if count > most:
            raise SimulationError(f"the line has {count} {name}; the simulation takes at most {most}")
    if not 0 < horizon_us < LONGEST_US // 2:
        raise SimulationError(
            f"a run of {horizon_us} us; it may be longer than 0 and shorter than {LONGEST_US // 2} us"
        )


def _totals(plan: TrafficPlan, state: State) -> Totals:
    return Totals(
        state_us=state.state_us,
        parts=state.parts,
        rejected=state.rejected,
        failures=state.failed[: len(plan.failures)],
        good=state.good,
        first_us=state.first_us,
        moves=state.moved,
    )


def _snapshot(state: State, horizon_us: int) -> Snapshot:
    carrier, platform = state.carrier, state.platform
    flagged = carrier["flagged"][:, None] >> np.arange(state.exits.shape[1]) & 1
    return Snapshot(
        stop=carrier["stop"].copy(),
        origin=carrier["origin"].copy(),
        departed_us=carrier["departed"].copy(),
        arrives_us=carrier["arrives"].copy(),
        at_rest=(carrier["under_way"] == 0) | (carrier["departed"] >= horizon_us),
        in_work=carrier["in_work"] == 1,
        step=carrier["step"].copy(),
        load=carrier["load"].copy(),
        visit=carrier["visit"].copy(),
        present=carrier["present"].copy(),
        flagged=carrier["flagged"].copy(),
        exit=np.where(flagged == 1, state.exits, -1).max(axis=1),
        on_line=carrier["gone"] == 0,
        platform_dock=platform["dock"].copy(),
        platform_locked=(platform["state"] == AT_REST) | (platform["state"] == GIVES),
        next_load=int(state.counters[LOADS]),
        against=bool(state.counters[DIRECTION] == 1),
    )


def _chain(state: State) -> tuple[Ints, Ints] | None:
    last, nodes = state.counters[LAST_GOOD], state.counters[NODES]
    if last < 0 or last < nodes - KEPT_NODES:
        return None
    while True:
        links = walk_back(state.marks, nodes, last, _scratch.times_us, _scratch.labels)
        if links >= 0:
            break
        _scratch.times_us = np.empty(4 * _scratch.times_us.size, np.int64)
        _scratch.labels = np.empty(4 * _scratch.labels.size, np.int64)
    return _scratch.times_us[: links + 1].copy(), _scratch.labels[:links].copy()
