"""In which state each station was, and for how long: from the reference model's own history of visits and repairs.

One carrier at a time stands at a station or is on its way to it, and it meets the states in one order. So a station's
time is the chain of its visits: starved until the stop is reserved, exchange until the carrier arrives, and so on
until it departs. While a repair lasts, the station is down, whatever else it would be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, Protocol

from agree.reference_case import ReferenceCase, StationTimes
from agree.reference_causes import Down, Wait

StationTimesOf = dict[str, int]

STATES: Final = (
    "work",
    "down",
    "clear",
    "done handshake",
    "blocked",
    "partner",
    "settling and start handshake",
    "prepare",
    "exchange",
    "starved",
)
GENERAL_STATES: Final = (*STATES, "changeover", "operator", "outside", "break")
STATE_OF_WAIT: Final = {"clock failure": "down"}


@dataclass
class Visit:
    """One carrier at one station, from its reservation to its departure; None for what has not come yet. [µs]

    In the general model also: whether its work was done at time zero, when it was `settled_us`, its waits at the gates
    (a call stands for those that it turned out to be), the call for its release and its end, its commitment to leave,
    and whether it waited for a partner, from when on.
    """

    station: int
    carrier: int
    reserved_us: int
    arrived_us: int | None = None
    started_us: int | None = None
    ended_us: int | None = None
    ready_us: int | None = None
    departed_us: int | None = None
    is_work_done: bool = False
    settled_us: int | None = None
    waits: list[Wait | WaitsLater] = field(default_factory=list)
    release_call: WaitsLater | None = None
    released_us: int | None = None
    committed_us: int | None = None
    partner: list[tuple[int, bool]] = field(default_factory=list)


class WaitsLater(Protocol):
    """Waits that are known afterwards."""

    def waits(self, until_us: int) -> list[Wait]:
        """The waits up to a time."""


@dataclass
class _Chain:
    """Adds up the times of one station's states, one after the other, up to the horizon."""

    horizon_us: int
    downs: list[Down]
    now_us: int = 0
    states: tuple[str, ...] = STATES

    def __post_init__(self) -> None:
        self.times = dict.fromkeys(self.states, 0)
        self.downs = sorted(self.downs, key=lambda down: -down.begin_us)

    def stay(self, state: str, until_us: int | None) -> None:
        """Be in a state until a time, but down while a repair lasts; None: it lasted beyond the history."""
        until_us = self.horizon_us if until_us is None else min(until_us, self.horizon_us)
        while self.downs and self.downs[-1].begin_us < until_us:
            self._be(state, self.downs[-1].begin_us)
            self._be("down", min(self.downs[-1].end_us, until_us))
            if self.now_us < self.downs[-1].end_us:
                return
            self.downs.pop()
        self._be(state, until_us)

    def _be(self, state: str, until_us: int) -> None:
        if until_us > self.now_us:
            self.times[state] += until_us - self.now_us
            self.now_us = until_us


def station_times(
    case: ReferenceCase,
    visits: Sequence[Visit],
    downs: Sequence[Sequence[Down]],
    reservations: Sequence[Sequence[tuple[int, int]]],
) -> dict[str, StationTimesOf]:
    """Time in each state, station by station; it sums to the horizon. [µs]

    Parameters
    ----------
    visits : in the order of their reservations
    downs : the repairs of each station
    reservations : of each carrier, (when, rank of the stop), the stop of time zero first
    """
    chains = [_Chain(case.horizon_us, list(of_station)) for of_station in downs]
    for visit in visits:
        _add_visit(chains[visit.station], visit, case, reservations)
    for chain in chains:
        chain.stay("starved", None)
    return {station.name: chain.times for station, chain in zip(case.stations, chains, strict=True)}


def _add_visit(
    chain: _Chain, visit: Visit, case: ReferenceCase, reservations: Sequence[Sequence[tuple[int, int]]]
) -> None:
    station = case.stations[visit.station]
    chain.stay("starved", visit.reserved_us)
    chain.stay("exchange", visit.arrived_us)
    if visit.arrived_us is None:
        return
    chain.stay("settling and start handshake", visit.arrived_us + station.settling_us + case.start_handshake_us)
    chain.stay("prepare", visit.started_us)
    chain.stay("work", visit.ended_us)
    if visit.ended_us is None:
        return
    chain.stay("clear", visit.ended_us + station.clear_us)
    chain.stay("done handshake", visit.ready_us)
    _stay_blocked(chain, visit, case, reservations)


def _stay_blocked(
    chain: _Chain, visit: Visit, case: ReferenceCase, reservations: Sequence[Sequence[tuple[int, int]]]
) -> None:
    """From ready to departure: `partner` while it has not committed and its leader's reserved stop is of the same
    step."""
    partners: set[int] = set()
    for step in case.route:
        if visit.station in step.stations:
            partners = {case.stations[station].stop for station in step.stations}
    leader = (visit.carrier - 1) % len(reservations)
    if leader == visit.carrier:
        partners = set()
    committed_us = next((at_us for at_us, _ in reservations[visit.carrier] if at_us >= (visit.ready_us or 0)), None)
    history = reservations[leader]
    for (_, reserved), (until_us, _) in pairwise(history):
        if committed_us is not None and until_us > committed_us:
            until_us = committed_us
        chain.stay("partner" if reserved in partners else "blocked", until_us)
    chain.stay("partner" if history[-1][1] in partners else "blocked", committed_us)
    chain.stay("blocked", visit.departed_us)


# ---- the general model ----


def general_station_times(
    stations: Sequence[StationTimes], visits: Sequence[Visit], downs: Sequence[Sequence[Down]], horizon_us: int
) -> dict[str, StationTimesOf]:
    """Time in each state, station by station, where there are gates; it sums to the horizon. [µs]"""
    chains = [_Chain(horizon_us, list(of_station), states=GENERAL_STATES) for of_station in downs]
    for visit in visits:
        _add_general_visit(chains[visit.station], visit, stations[visit.station])
    for chain in chains:
        chain.stay("starved", None)
    return {station.name: chain.times for station, chain in zip(stations, chains, strict=True)}


def flat_waits(waits: Sequence[Wait | WaitsLater], until_us: int) -> tuple[Wait, ...]:
    """All waits one after the other, those of a call too."""
    flat: list[Wait] = []
    for wait in waits:
        flat += [wait] if isinstance(wait, Wait) else wait.waits(until_us)
    return tuple(flat)


def _add_general_visit(chain: _Chain, visit: Visit, times: StationTimes) -> None:
    chain.stay("starved", visit.reserved_us)
    chain.stay("exchange", visit.arrived_us)
    if visit.arrived_us is None:
        return
    if not visit.is_work_done and not _add_gates_and_work(chain, visit, times):
        return
    for (_, partner), (until_us, _) in pairwise([*visit.partner, (visit.committed_us, False)]):
        chain.stay("partner" if partner else "blocked", until_us)
    chain.stay("blocked", visit.departed_us)


def _add_gates_and_work(chain: _Chain, visit: Visit, times: StationTimes) -> bool:
    """From the arrival to the end of the done handshake; False if it does not come to that."""
    chain.stay("settling and start handshake", visit.settled_us)
    if visit.settled_us is None:
        return False
    waits = flat_waits(visit.waits, chain.horizon_us)
    chain.stay("prepare", waits[0].begin_us if waits else None)
    _stay_waiting(chain, waits, visit.departed_us if visit.started_us is None else visit.started_us)
    if visit.started_us is None:
        return False
    chain.stay("work", visit.ended_us)
    if visit.ended_us is None:
        return False
    chain.stay("clear", visit.ended_us + times.clear_us)
    if visit.release_call is not None:
        _stay_waiting(chain, flat_waits([visit.release_call], chain.horizon_us), visit.released_us)
        if visit.released_us is None:
            return False
    chain.stay("done handshake", visit.ready_us)
    return visit.ready_us is not None


def _stay_waiting(chain: _Chain, waits: Sequence[Wait], until_us: int | None) -> None:
    ends = [*(wait.begin_us for wait in waits[1:]), until_us]
    for wait, end_us in zip(waits, ends, strict=False):
        chain.stay(STATE_OF_WAIT.get(wait.kind, wait.kind), end_us)
