"""Jams that the simulation comes into by itself, with the luck of a seed: told like those that it is led into."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.flow.gridlock.replay import Ended, Replay, carriers_at, state_of
from linewright.traffic.gridlock.errands import Errand
from linewright.traffic.gridlock.system import System

if TYPE_CHECKING:
    from linewright.flow.kernel.general.luck import GeneralLuck
    from linewright.flow.kernel.general.run import GeneralResult

HORIZONS_US: Final = (300_000_000, 1_200_000_000, 3_600_000_000)
STILL: Final = 4
"""A carrier that has not moved in the last of so many parts of a run has stopped for good, if it is held."""


def find_by_luck(system: System, seeds: int) -> Replay | None:
    """Let the plan run as it is, with the luck of some seeds, and see whether carriers come to hold each other.

    Parameters
    ----------
    system : of the plan
    seeds : how many runs, the shorter ones first
    """
    from linewright.flow.kernel.general.luck import general_luck_of

    for horizon_us in HORIZONS_US:
        for seed in range(1, seeds + 1):
            found = _jam_of(system, general_luck_of(system.plan, seed, 0), horizon_us)
            if found is not None:
                return found
    return None


def _jam_of(system: System, luck: GeneralLuck, horizon_us: int) -> Replay | None:
    from linewright.flow.kernel.general.run import general_tables_of, run_general

    plan = system.plan
    found = run_general(plan, general_tables_of(plan), luck, horizon_us, horizon_us, trace_from_us=0)
    snapshot = found.snapshot
    variants = _variants(system, luck, found)
    state = state_of(system, snapshot, variants, snapshot.next_load)
    last_us = np.zeros(len(snapshot.stop), np.int64)
    np.maximum.at(last_us, found.moves[:, 0], found.moves[:, 4])
    at_rest = last_us < horizon_us - horizon_us // STILL
    at = carriers_at(plan, snapshot)
    stuck = frozenset(stop for stop in system.stuck(state) if at_rest[at[stop]])
    if not stuck or not stuck & system.stuck(state):
        return None
    jam_us = int(max(last_us[at[stop]] for stop in stuck))
    begun = found.works[found.works[:, 3] >= horizon_us - horizon_us // STILL][:, 0].tolist()
    return Replay(
        jam_us=jam_us,
        moves=found.moves[found.moves[:, 1] < jam_us],
        ended=tuple(one for one in _ended(system, luck, found) if one.time_us < jam_us),
        stuck=stuck,
        state=state,
        carrier_at=at,
        worked=frozenset(begun),
        loads=variants[: snapshot.next_load] if system.errands.sequence else (),
    )


def _variants(system: System, luck: GeneralLuck, found: GeneralResult) -> tuple[int, ...]:
    """The variant of each load."""
    if not system.plan.general.variants:
        return ()
    nests = system.plan.general.nests
    carrier = {int(row[2]) // nests: int(row[1]) for row in found.works}
    return tuple(luck.variant(load, carrier.get(load, 0)) for load in range(found.snapshot.next_load + 1))


@dataclass
class _Aboard:
    """The parts on a carrier: its load, reworks so far, and which parts are there and flagged (bits)."""

    errand: Errand
    load: int = -1
    visit: int = 0
    present: int = 0
    flagged: int = 0


def _ended(system: System, luck: GeneralLuck, found: GeneralResult) -> list[Ended]:
    """The ends of work in the order of their times, and what has become of the carriers' errands."""
    sets = system.sets_of_carriers
    aboard = {carrier: _Aboard(system.errands.empty(one)) for carrier, one in enumerate(sets)}
    ended = []
    for station, carrier, serial, _, end_us, _ in sorted(found.works.tolist(), key=lambda row: row[4]):
        _work_ends(system, luck, aboard[carrier], station, carrier, serial // system.plan.general.nests)
        stop = int(system.plan.station_stop[station])
        ended.append(Ended(end_us, carrier, stop, aboard[carrier].errand))
    return ended


def _work_ends(system: System, luck: GeneralLuck, one: _Aboard, station: int, carrier: int, load: int) -> None:
    """What a work does to the parts on a carrier."""
    general, step = system.plan.general, int(system.plan.station_step[station])
    variant = None
    if one.errand.is_empty:
        one.load, one.visit, one.present, one.flagged = load, 0, (1 << general.nests) - 1, 0
        variant = system.errands.variant_of[luck.variant(load, carrier)] if general.variants else None
    before = one.errand
    if one.errand.is_empty and variant is not None and system.errands.sequence:
        before, variant = before._replace(variant=variant, good=True), None
    if system.plan.step_exit[step]:
        one.present &= ~one.flagged  # of several exits the errand tells which parts stay
        good, wrong, back = before.good, False, False
    else:
        good, wrong, back = _judged(system, luck, one, station, load * general.nests)
    fates = system.errands.outcomes(station, before, variant)
    one.errand = next(
        (after for fate, after in fates if (fate.good, fate.flagged, fate.sent_back) == (good, wrong, back)),
        fates[0][1],
    )
    if not one.errand.good:
        one.present &= one.flagged


def _judged(system: System, luck: GeneralLuck, one: _Aboard, station: int, serial: int) -> tuple[bool, bool, bool]:
    """Whether parts stay good, are flagged, are sent back."""
    general = system.plan.general
    worked, wrong = one.present & ~one.flagged, 0
    for nest in range(general.nests):
        if not worked >> nest & 1:
            continue
        if general.misses and general.misses[station] > 0.0 and luck.missed(station, serial + nest):
            one.present &= ~(1 << nest)
        elif luck.flagged(station, serial + nest, one.visit):
            wrong |= 1 << nest
    back = False
    for number, rework in enumerate(general.rework):
        left = worked & one.present & ~wrong
        if rework.station == station and left and luck.reworked(number, serial, one.visit):
            back = one.visit < rework.at_most
            wrong |= 0 if back else left
            one.visit += back
    one.flagged |= wrong
    return bool(one.present & ~one.flagged), bool(wrong), back
