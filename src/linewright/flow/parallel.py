"""What parallel stations in line gain, and what keeps them from gaining more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.flow.line_bounds import least_gap_us
from linewright.traffic.plan import EMPTY, LOADED, TrafficPlan

DRAWS: Final = 2000
SEED: Final = 1


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
    m works, and once all that else belongs to an exchange. The mean of the largest is that of 2,000 groups drawn by the
    plan's laws; failures are left out.

    Source     docs/semantics.md, "Work"; the largest of m draws instead of the mean: common practice.
    """
    from linewright.flow.kernel.draws import luck_of

    found = []
    luck = luck_of(plan, SEED, 0)
    for step, stations in enumerate(plan.step_stations):
        count = len(stations)
        if count < 2:
            continue
        first = stations[0]
        draws = [luck.work_us(first, serial) for serial in range(DRAWS * count)]
        works = np.array(draws, np.float64).reshape(DRAWS, count)
        besides_us = least_gap_us(plan, first, EMPTY if step == 0 else LOADED, plan.carriers)
        alone_us = besides_us + float(works.mean())
        shared_us = (besides_us + float(works.max(axis=1).mean())) / count
        found.append(ParallelStep(plan.step_names[step], count, alone_us / 1e6, shared_us / 1e6))
    return tuple(found)
