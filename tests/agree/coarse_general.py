"""A traffic plan in general with all of its times rounded up to a grain, so that its events fall together."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from linewright.traffic.general import General, Track
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
    Ints,
    Law,
    TrafficPlan,
)


def coarsen_general(plan: TrafficPlan, grain_us: int) -> TrafficPlan:
    """The plan on a grain: drawn times are whole grains too, so a law with a density becomes one of five times.

    Delays and times until two profiles differ are rounded up and stay no bound where they are none.
    """

    def up(times: Ints) -> Ints:
        return np.where(times > NO_LEG, -(-times // grain_us) * grain_us, times)

    def bounds(times: np.ndarray) -> np.ndarray:
        rounded = -(-times.astype(np.int64) // grain_us) * grain_us
        return np.where(times == NO_BOUND, NO_BOUND, rounded).astype(np.int32)

    def one(time: int) -> int:
        return -(-time // grain_us) * grain_us

    def law(given: Law) -> Law:
        if given.kind == GEOMETRIC:
            return given
        if given.kind in (EMPIRICAL, GIVEN):
            return dataclasses.replace(given, given_us=tuple(one(time) for time in given.given_us))
        mean = _mean_us(given)
        if given.kind == FIXED:
            return Law(FIXED, float(one(math.ceil(mean))))
        return Law(EMPIRICAL, given_us=tuple(one(math.ceil(mean * share)) for share in (0.3, 0.6, 1.0, 1.3, 1.8)))

    return dataclasses.replace(
        plan,
        follow_us=one(plan.follow_us),
        start_handshake_us=one(plan.start_handshake_us),
        done_handshake_us=one(plan.done_handshake_us),
        settling_us=up(plan.settling_us),
        clear_us=up(plan.clear_us),
        prepare_us=up(plan.prepare_us),
        move_us=up(plan.move_us),
        delay_us=bounds(plan.delay_us),
        aboard_us=up(plan.aboard_us),
        rear_us=up(plan.rear_us),
        home_us=up(plan.home_us),
        work=tuple(law(given) for given in plan.work),
        failures=tuple(
            dataclasses.replace(kind, every=law(kind.every), repair=law(kind.repair)) for kind in plan.failures
        ),
        general=_coarse(plan.general, one, up, bounds, law),
    )


def _mean_us(law: Law) -> float:
    if law.kind == LOGNORMAL:
        return math.exp(law.a + law.b**2 / 2)
    if law.kind == GAMMA:
        return law.a * law.b
    if law.kind in (EXPONENTIAL, FIXED):
        return law.a
    return (law.a + law.b + law.c) / 3


def _coarse(general: General, one, up, bounds, law) -> General:  # type: ignore[no-untyped-def]
    """What a plan has beyond the plain loop, on the grain."""

    def rows(times: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
        return tuple(tuple(one(time) for time in row) for row in times)

    return dataclasses.replace(
        general,
        track=None if general.track is None else _coarse_track(general.track, up),
        platforms=tuple(
            dataclasses.replace(platform, ride_us=rows(platform.ride_us)) for platform in general.platforms
        ),
        pools=tuple(dataclasses.replace(pool, walk_us=rows(pool.walk_us)) for pool in general.pools),
        release_us=tuple(time if time < 0 else one(time) for time in general.release_us),
        breaks=tuple(
            dataclasses.replace(
                pause,
                begin_us=one(pause.begin_us),
                length_us=one(pause.length_us),
                shift_us=one(pause.shift_us),
            )
            for pause in general.breaks
        ),
        outside=tuple(
            dataclasses.replace(
                machine,
                time=law(machine.time),
                failures=tuple((law(every), law(repair)) for every, repair in machine.failures),
            )
            for machine in general.outside
        ),
        variants=tuple(
            dataclasses.replace(variant, work=tuple((station, law(given)) for station, given in variant.work))
            for variant in general.variants
        ),
        changeovers=tuple(dataclasses.replace(change, us=rows(change.us)) for change in general.changeovers),
        differs_us=None if general.differs_us is None else bounds(general.differs_us),
        carrier_changes=tuple(
            dataclasses.replace(change, at_us=one(change.at_us)) for change in general.carrier_changes
        ),
    )


def _coarse_track(track: Track, up) -> Track:  # type: ignore[no-untyped-def]
    return dataclasses.replace(track, leg_us=up(track.leg_us), rear_us=up(track.rear_us))
