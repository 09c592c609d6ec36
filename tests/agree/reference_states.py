"""In which state each station was, and for how long: from the reference model's own history of visits and repairs.

One carrier at a time stands at a station or is on its way to it, and it meets the states in one order. So a station's
time is the chain of its visits: starved until the stop is reserved, exchange until the carrier arrives, and so on
until it departs. While a repair lasts, the station is down, whatever else it would be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from agree.reference_case import ReferenceCase
from agree.reference_causes import Down

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


@dataclass
class Visit:
    """One carrier at one station, from its reservation to its departure; None for what has not come yet. [µs]"""

    station: int
    carrier: int
    reserved_us: int
    arrived_us: int | None = None
    started_us: int | None = None
    ended_us: int | None = None
    ready_us: int | None = None
    departed_us: int | None = None


@dataclass
class _Chain:
    """Adds up the times of one station's states, one after the other, up to the horizon."""

    horizon_us: int
    downs: list[Down]
    now_us: int = 0
    times: StationTimesOf = field(default_factory=lambda: dict.fromkeys(STATES, 0))

    def __post_init__(self) -> None:
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
