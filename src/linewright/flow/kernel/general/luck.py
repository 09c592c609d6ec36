"""Luck of a plan in general: the draws of `linewright.flow.kernel.draws`, and those that only a general plan needs.

Streams: work, rejects, rework and misses by the step's name; failures by "station#kind"; the machines outside by
"station#feed" and "station#take-away", their failures by "station#feed#kind" and so on; variants by "variants".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from linewright.flow.kernel.draws import (
    NO_FAILURE,
    PURPOSE_REJECT,
    PURPOSE_REPAIR,
    PURPOSE_RUNNING,
    PURPOSE_WORK,
    Laws,
    chance_law,
    draw,
    draw_once,
    duration,
    failure_names,
    law_arrays,
    looked_up,
    stream_key,
    uniform,
)
from linewright.traffic.general import FEED, General, deal
from linewright.traffic.plan import FIXED, GIVEN, Law, TrafficPlan

PURPOSE_REWORK: Final = 5
PURPOSE_MISS: Final = 6
PURPOSE_VARIANT: Final = 7
PURPOSE_OUTSIDE: Final = 8


_Stream = tuple[Law, str, int]
"""A law, the name and the purpose that its draws are keyed by."""


class Streams(NamedTuple):
    """Which law is where: the first of each sort in the laws of a `GeneralLuck`.

    Work of station s and variant v is at [s variants + v]; rejects and misses at [s]; the rest as in the plan; kind k
    of failure of the machine outside o is at [outside_first[o] + k]."""

    variants: int
    work: int
    reject: int
    running: int
    repair: int
    rework: int
    miss: int
    outside: int
    outside_running: int
    outside_repair: int
    variant: int


@njit(_nrt=False)  # type: ignore[call-overload]
def draw_at(laws, i, number, visit):
    """The duration with this number and visit of law i. [us]"""
    kind, first, length, p, given, table = laws.kind[i], laws.first[i], laws.length[i], laws.p, laws.given, laws.table
    if kind == FIXED:
        return np.int64(p[i, 0])
    if kind == GIVEN:  # one after the other; p[i, 0] of them a visit, where visits have times of their own
        return given[first + (number + visit * np.int64(p[i, 0])) % length]
    u = uniform(laws.key[i], number, visit)
    if kind > GIVEN:  # the laws numbered after it
        return looked_up(kind, p[i, 0], p[i, 1], given, table, first, length, u)
    return duration(kind, p[i, 0], p[i, 1], p[i, 2], u)


@njit(_nrt=False)  # type: ignore[call-overload]
def happens(laws, i, number, visit):
    """Whether what has the chance i happens to the part with this serial."""
    if laws.kind[i] == GIVEN:
        place = number + visit * np.int64(laws.p[i, 0])
        return place < laws.length[i] and laws.given[laws.first[i] + place] == 1
    share = laws.p[i, 0]
    return share > 0.0 and uniform(laws.key[i], number, visit) < share


@njit(_nrt=False)  # type: ignore[call-overload]
def variant_of(laws, i, sequence, running, sets, load, carrier):
    """The variant of a load: by its place in the sequence, else by its uniform among the running totals of the shares
    of the carrier's fixture set, or of all."""
    if sequence.size > 0:
        return sequence[load % sequence.size]
    row = sets[carrier] if sets.size > 0 else 0
    u = uniform(laws.key[i], load, 0)
    last = 0
    before = 0.0
    for variant in range(running.shape[1]):
        if running[row, variant] > u:
            return variant
        if running[row, variant] > before:
            last = variant
            before = running[row, variant]
    return last


@dataclass(frozen=True, eq=False)
class GeneralLuck:
    """All luck of one replication of a plan in general.

    Parameters
    ----------
    laws : every law that is drawn from; streams : which is where
    outside_first : number of the first kind of failure of each machine outside
    sequence : variants by load, empty for shares
    running : float64[sets or 1, variants]   Running totals of the shares
    sets : the fixture set of each carrier, empty where there are none
    """

    laws: Laws
    streams: Streams
    outside_first: NDArray[np.int64]
    sequence: NDArray[np.int64]
    running: NDArray[np.float64]
    sets: NDArray[np.int64]

    def work_us(self, station: int, variant: int, serial: int, visit: int) -> int:
        """Work time of a part of a variant at a station, repairs not counted. [us]"""
        at = self.streams.work + station * self.streams.variants + variant
        return int(draw_at(self.laws, at, serial, visit))

    def flagged(self, station: int, serial: int, visit: int) -> bool:
        """Whether a part is flagged when its work at a station ends."""
        return bool(happens(self.laws, self.streams.reject + station, serial, visit))

    def reworked(self, rework: int, serial: int, visit: int) -> bool:
        """Whether a part is sent back; rework is the number in the plan."""
        return bool(happens(self.laws, self.streams.rework + rework, serial, visit))

    def missed(self, station: int, serial: int) -> bool:
        """Whether a part turns out not to be there."""
        return bool(happens(self.laws, self.streams.miss + station, serial, 0))

    def variant(self, load: int, carrier: int) -> int:
        """The variant of a load; 0 where there are none."""
        return int(variant_of(self.laws, self.streams.variant, self.sequence, self.running, self.sets, load, carrier))

    def running_us(self, failure: int, number: int) -> int | None:
        """What `every` counts before the failure with this number: time [us] or works; None if there is none."""
        time = int(draw_once(self.laws, self.streams.running + failure, number))
        return None if time == NO_FAILURE else time

    def repair_us(self, failure: int, number: int) -> int:
        """Repair time of the failure with this number. [us]"""
        return int(draw(self.laws, self.streams.repair + failure, number))

    def outside_us(self, outside: int, number: int) -> int:
        """Time of one making or taking of a machine outside. [us]"""
        return int(draw(self.laws, self.streams.outside + outside, number))

    def outside_running_us(self, outside: int, kind: int, number: int) -> int | None:
        """Running time of a machine outside before a failure of one kind; None if there is none. [us]"""
        at = self.streams.outside_running + int(self.outside_first[outside]) + kind
        time = int(draw_once(self.laws, at, number))
        return None if time == NO_FAILURE else time

    def outside_repair_us(self, outside: int, kind: int, number: int) -> int:
        """Repair time of a machine outside. [us]"""
        return int(draw(self.laws, self.streams.outside_repair + int(self.outside_first[outside]) + kind, number))


def streams_of(plan: TrafficPlan) -> Streams:
    """Which law is where in the luck of a plan."""
    return _streams(plan, _sorts(plan))


def _streams(plan: TrafficPlan, sorts: dict[str, list[_Stream]]) -> Streams:
    first = np.cumsum([0, *(len(sort) for sort in sorts.values())]).tolist()
    return Streams(max(len(plan.general.variants), 1), **dict(zip(sorts, first, strict=False)))


def general_luck_of(plan: TrafficPlan, seed: int, replication: int) -> GeneralLuck:
    """The luck of one replication of a plan."""
    sorts = _sorts(plan)
    laws = [law for sort in sorts.values() for law, _, _ in sort]
    keys = [stream_key(seed, replication, name, purpose) for sort in sorts.values() for _, name, purpose in sort]
    general = plan.general
    kinds = [len(one.failures) for one in general.outside]
    return GeneralLuck(
        laws=law_arrays(laws, keys),
        streams=_streams(plan, sorts),
        outside_first=np.cumsum([0, *kinds])[:-1].astype(np.int64),
        sequence=np.array(general.sequence, np.int64),
        running=_running_totals(general),
        sets=np.array(deal(tuple(one.carriers for one in general.fixture_sets)), np.int64),
    )


def _sorts(plan: TrafficPlan) -> dict[str, list[_Stream]]:
    """The streams of each sort, in the order of `Streams`: law, name, purpose."""
    general, nothing = plan.general, Law(FIXED)
    steps = [plan.step_names[step] for step in plan.station_step]
    failures = list(zip(plan.failures, failure_names(plan), strict=True))
    misses = general.misses or (0.0,) * len(steps)
    outside = [
        (one, f"{plan.station_names[one.station]}#{'feed' if one.kind == FEED else 'take-away'}")
        for one in general.outside
    ]
    broken = [(kind, f"{name}#{k}") for one, name in outside for k, kind in enumerate(one.failures)]
    return {
        "work": [(law, steps[s], PURPOSE_WORK) for s in range(len(steps)) for law in _works(plan, s)],
        "reject": [(chance_law(chance), name, PURPOSE_REJECT) for chance, name in zip(plan.reject, steps, strict=True)],
        "running": [(failure.every, name, PURPOSE_RUNNING) for failure, name in failures],
        "repair": [(failure.repair, name, PURPOSE_REPAIR) for failure, name in failures],
        "rework": [(Law(FIXED, one.share), steps[one.station], PURPOSE_REWORK) for one in general.rework],
        "miss": [(Law(FIXED, share), name, PURPOSE_MISS) for share, name in zip(misses, steps, strict=True)],
        "outside": [(one.time, name, PURPOSE_OUTSIDE) for one, name in outside],
        "outside_running": [(kind[0], name, PURPOSE_RUNNING) for kind, name in broken],
        "outside_repair": [(kind[1], name, PURPOSE_REPAIR) for kind, name in broken],
        "variant": [(nothing, "variants", PURPOSE_VARIANT)],
    }


def _works(plan: TrafficPlan, station: int) -> list[Law]:
    """The law of work at a station for each variant."""
    if not plan.general.variants:
        return [plan.work[station]]
    return [dict(variant.work).get(station, plan.work[station]) for variant in plan.general.variants]


def _running_totals(general: General) -> NDArray[np.float64]:
    """Running totals of the variants' shares, a row a fixture set, each scaled to one; without sets one row."""
    shares = np.array([variant.share for variant in general.variants] or [1.0])
    if not general.fixture_sets:
        return np.cumsum(shares)[None, :]
    rows = []
    for one in general.fixture_sets:
        of_set = np.where(np.isin(np.arange(len(shares)), one.variants), shares, 0.0)
        rows.append(np.cumsum(of_set / of_set.sum()))
    return np.array(rows)
