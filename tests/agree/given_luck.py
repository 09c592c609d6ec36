"""Luck that is written down beforehand, so that kernel and reference model need not share a random function.

`write_down` draws the luck of a plan, by Python's own generator, into a plan all of whose laws are lists of given
times. The kernel looks them up; for the reference model `GivenLuck` does. `coarsen` makes their events fall together.
"""

from __future__ import annotations

import dataclasses
import math
import random

import numpy as np

from linewright.traffic.plan import (
    EMPIRICAL,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GEOMETRIC,
    GIVEN,
    LOGNORMAL,
    NO_BOUND,
    NO_LEG,
    OF_CYCLES,
    TRIANGULAR,
    Chance,
    FailureKind,
    Ints,
    Law,
    TrafficPlan,
)


@dataclasses.dataclass(frozen=True)
class GivenLuck:
    """The luck that a plan with GIVEN laws states."""

    plan: TrafficPlan

    def work_us(self, station: int, serial: int) -> int:
        """The work time of a part; the look-up wraps round. [µs]"""
        times = self.plan.work[station].given_us
        return times[serial % len(times)]

    def flagged(self, station: int, serial: int) -> bool:
        """Whether a part is one of those flagged."""
        return serial in (self.plan.reject[station].given or ())

    def failure(self, index: int, n: int) -> tuple[int, int] | None:
        """Time [µs] or number of works to the n-th failure, and its repair; none after the last."""
        kind = self.plan.failures[index]
        running, repair = kind.every.given_us, kind.repair.given_us
        return (running[n], repair[n]) if n < min(len(running), len(repair)) else None


def write_down(plan: TrafficPlan, seed: int, parts: int = 2000, failures: int = 400) -> TrafficPlan:
    """The same plan with its luck written down: stations of one step share theirs.

    `parts` serials are flagged or not and have their own times, `failures` of each kind come.
    """
    rejects = [_serials(plan, station, seed, parts) for station in range(len(plan.work))]
    return dataclasses.replace(
        plan,
        work=tuple(
            _given(law, f"{seed} work {plan.station_step[station]}", parts) for station, law in enumerate(plan.work)
        ),
        reject=tuple(Chance(given=serials) for serials in rejects),
        failures=tuple(
            FailureKind(
                kind.station,
                _given(kind.every, f"{seed} running {index}", failures),
                _given(kind.repair, f"{seed} repair {index}", failures),
                kind.of,
            )
            for index, kind in enumerate(plan.failures)
        ),
    )


def _serials(plan: TrafficPlan, station: int, seed: int, parts: int) -> tuple[int, ...]:
    luck = random.Random(f"{seed} reject {plan.station_step[station]}")
    return tuple(serial for serial in range(parts) if luck.random() < plan.reject[station].share)


def _given(law: Law, seed: str, count: int) -> Law:
    luck = random.Random(seed)
    return Law(GIVEN, given_us=tuple(math.ceil(_draw(law, luck)) for _ in range(count)))


def _draw(law: Law, luck: random.Random) -> float:
    if law.kind == FIXED:
        return law.a
    if law.kind == TRIANGULAR:
        return luck.triangular(law.a, law.c, law.b)
    if law.kind == LOGNORMAL:
        return luck.lognormvariate(law.a, law.b)
    if law.kind == EXPONENTIAL:
        return luck.expovariate(1.0 / law.a)
    if law.kind == GAMMA:
        return luck.gammavariate(law.a, law.b)
    if law.kind == EMPIRICAL:
        return luck.choice(law.given_us)
    if law.kind == GEOMETRIC:
        return 1 if law.a == 1.0 else max(1, math.ceil(math.log(1.0 - luck.random()) / math.log(1.0 - 1.0 / law.a)))
    raise ValueError(f"no such law: {law.kind}")


def coarsen(plan: TrafficPlan, grain_us: int) -> TrafficPlan:
    """A plan with written-down luck, all of its times rounded up to a grain, so that events fall together all the time.

    δ is rounded up too, and stays no bound where it is none; numbers of works stay.
    """

    def up(times: Ints) -> Ints:
        return np.where(times > NO_LEG, -(-times // grain_us) * grain_us, times)

    def law(given: Law) -> Law:
        return dataclasses.replace(given, given_us=tuple(-(-time // grain_us) * grain_us for time in given.given_us))

    delay_us = -(-plan.delay_us.astype(np.int64) // grain_us) * grain_us
    return dataclasses.replace(
        plan,
        follow_us=-(-plan.follow_us // grain_us) * grain_us,
        start_handshake_us=-(-plan.start_handshake_us // grain_us) * grain_us,
        done_handshake_us=-(-plan.done_handshake_us // grain_us) * grain_us,
        settling_us=up(plan.settling_us),
        clear_us=up(plan.clear_us),
        prepare_us=up(plan.prepare_us),
        move_us=up(plan.move_us),
        delay_us=np.where(plan.delay_us == NO_BOUND, NO_BOUND, delay_us).astype(np.int32),
        aboard_us=up(plan.aboard_us),
        rear_us=up(plan.rear_us),
        home_us=up(plan.home_us),
        work=tuple(law(given) for given in plan.work),
        failures=tuple(
            dataclasses.replace(
                kind, every=kind.every if kind.of == OF_CYCLES else law(kind.every), repair=law(kind.repair)
            )
            for kind in plan.failures
        ),
    )
