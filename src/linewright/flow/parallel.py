"""What parallel stations in line gain, and what keeps them from gaining more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.flow.line_bounds import least_gap_us
from linewright.traffic.plan import (
    EMPIRICAL,
    EMPTY,
    EXPONENTIAL,
    GAMMA,
    LOADED,
    LOGNORMAL,
    TRIANGULAR,
    Law,
    TrafficPlan,
)

Floats = NDArray[np.float64]

POINTS: Final = 20_000


@dataclass(frozen=True)
class ParallelStep:
    """A step that several stations on one lane share.

    Parameters
    ----------
    step : its name
    stations : how many
    alone_s : least time per part with one station. [s]
    shared_s : least time per part when the carriers come in groups, one to each station, as near as a carrier behind
        another can work: the group waits for its slowest. [s]
    """

    step: str
    stations: int
    alone_s: float
    shared_s: float

    @property
    def times(self) -> float:
        """How many times as fast as one station."""
        return self.alone_s / self.shared_s


def parallel_steps(plan: TrafficPlan) -> tuple[ParallelStep, ...]:
    """The steps of a plan that several stations share.

    Notes
    -----
    Nobody passes on a lane, so a group of m carriers goes in together and comes out together: per group the largest of
    m works, and once all that else belongs to an exchange. With the quantile Q of the work the mean of the largest is
    the integral over u of m u^(m - 1) Q(u); failures are left out.

    Source     docs/semantics.md, "Work"; mean of the largest of m draws: order statistics, from memory.
    """
    found = []
    u = (np.arange(POINTS) + 0.5) / POINTS
    for step, stations in enumerate(plan.step_stations):
        count = len(stations)
        if count < 2:
            continue
        first = stations[0]
        works = quantiles_us(plan.work[first], u)
        besides_us = least_gap_us(plan, first, EMPTY if step == 0 else LOADED, plan.carriers)
        alone_us = besides_us + float(works.mean())
        shared_us = (besides_us + float(np.mean(count * u ** (count - 1) * works))) / count
        found.append(ParallelStep(plan.step_names[step], count, alone_us / 1e6, shared_us / 1e6))
    return tuple(found)


def quantiles_us(law: Law, probabilities: Floats) -> Floats:
    """The quantiles of a law of a time, not rounded up. [us]

    Parameters
    ----------
    law : of a work
    probabilities : shape (n,), above 0 and below 1
    """
    from scipy.special import gammaincinv, ndtri

    u = probabilities
    if law.kind == EXPONENTIAL:
        return np.asarray(-law.a * np.log1p(-u))
    if law.kind == LOGNORMAL:
        return np.asarray(np.exp(law.a + law.b * ndtri(u)))
    if law.kind == GAMMA:
        return np.asarray(law.b * gammaincinv(law.a, u))
    if law.kind == TRIANGULAR:
        rise, fall, width = law.b - law.a, law.c - law.b, law.c - law.a
        return np.where(u < rise / width, law.a + np.sqrt(u * width * rise), law.c - np.sqrt((1.0 - u) * width * fall))
    if law.kind == EMPIRICAL:
        return np.asarray(np.array(law.given_us, np.float64)[(u * len(law.given_us)).astype(np.int64)])
    return np.full(len(u), float(law.a) if not law.given_us else float(np.mean(law.given_us)))
