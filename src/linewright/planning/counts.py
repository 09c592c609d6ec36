"""Plans simulated under the same luck, with one warm-up for all, so that any two can be compared run by run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.flow.bins import RunLength
from linewright.flow.replications import replicate_all
from linewright.flow.statistics import Interval, mean_interval, mser5, paired_comparison, warm_up
from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.run import Replication

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Progress = Callable[[int], None]

# Rows of a run's states, as in flow.run.STATE_COLUMNS.
BLOCKED: Final = 4
STARVED: Final = 9


@dataclass(frozen=True, eq=False)
class PlanRuns:
    """What all runs of one plan give. B bins a run, the last one perhaps cut short by the horizon; S stations.

    Parameters
    ----------
    carriers : of the plan
    good : int64[runs, B]   Good parts finished in each bin
    cut_bins : bins left out as warm-up, the same in every run of every plan
    rate : good parts an hour after them; None without an interval, then `reason` says why. [1/h]
    state_s : float64[S, states]   Time of each station in each state, all runs together, warm-up included: to take it
        off would need every run again up to its end. [s]
    length : how long and how often
    """

    carriers: int
    good: Ints
    cut_bins: int
    rate: Interval | None
    reason: str | None
    state_s: Floats
    length: RunLength

    @property
    def rates_per_h(self) -> Floats:
        """Good parts an hour of each run after the warm-up, shape (runs,). [1/h]"""
        return np.asarray(self.good[:, self.cut_bins :].sum(axis=1) / self.counted_h)

    @property
    def counted_h(self) -> float:
        """Length of one run after the warm-up. [h]"""
        return (self.length.horizon_us - self.cut_bins * self.length.bin_us) / 3600e6

    @property
    def blocked_share(self) -> float:
        """Share of all stations' time in which a ready carrier cannot leave, held by a partner not counted."""
        return float(self.state_s[:, BLOCKED].sum() / (self.time_s * len(self.state_s)))

    @property
    def time_s(self) -> float:
        """Length of all runs together. [s]"""
        return self.length.runs * self.length.horizon_us / 1e6

    @property
    def stalled_runs(self) -> int:
        """Runs that finish no good part in their last quarter."""
        bins = self.good.shape[1]
        return int((self.good[:, bins - max(1, bins // 4) :].sum(axis=1) == 0).sum())


def run_plans(
    plans: Sequence[TrafficPlan],
    length: RunLength,
    workers: int | None = None,
    progress: Progress | None = None,
    cut_bins: int | None = None,
) -> tuple[PlanRuns, ...]:
    """Run every plan as often as asked, all of them through one set of threads.

    Parameters
    ----------
    plans : of lines whose stations and steps bear the same names, so that they meet the same luck
    length : the same for all
    workers : threads; None for one a core. The result does not depend on it.
    progress : called with the number of finished runs, from any thread
    cut_bins : bins to leave out as warm-up; None to judge it, see `common_cut`

    Returns
    -------
    tuple of PlanRuns   In the order of the plans.

    Raises
    ------
    SimulationError   A run cannot be made as asked.
    ValueError        workers is under 1.
    """
    if workers is not None and workers < 1:
        raise ValueError(f"workers is {workers}; at least 1 is due")
    whole = replicate_all(plans, length.seed, length.runs, length.horizon_us, length.bin_us, workers, progress)
    good = [np.array([one.totals.good for one in runs]) for runs in whole]
    whole_bins = length.horizon_us // length.bin_us
    bins = [one[:, :whole_bins].astype(np.float64) for one in good]
    reasons = [warm_up(one).reason if whole_bins else _TOO_SHORT for one in bins]
    if cut_bins is None and length.cut_us is not None:
        cut_bins = length.cut_us // length.bin_us
    if cut_bins is None:
        cut_bins = common_cut([one for one, reason in zip(bins, reasons, strict=True) if reason is None])
    found = []
    for i, plan in enumerate(plans):
        bare = PlanRuns(plan.carriers, good[i], cut_bins, None, reasons[i], _state_s(whole[i]), length)
        found.append(bare if bare.reason is not None else replace(bare, rate=mean_interval(bare.rates_per_h)))
    return tuple(found)


def common_cut(bins: Sequence[Floats]) -> int:
    """One warm-up for several plans: bins to leave out of every run of every plan.

    Parameters
    ----------
    bins : for each plan shape (runs, bins), good parts finished in each bin; none of them zero throughout

    Returns
    -------
    int   0 without a plan.

    Notes
    -----
    Each plan's bins are divided by their own mean, so that a slow one counts as much as a fast one; MSER-5 is applied
    to the mean over all plans and runs. One cut for all, because runs under the same luck are compared over the same
    time: with a cut for each, two plans would differ by what happened to fall between their cuts.

    Source     docs/size.md; MSER-5 as in `linewright.flow.statistics.warm_up`.
    """
    if not bins:
        return 0
    return mser5(np.mean([one.mean(axis=0) / one.mean() for one in bins], axis=0)).cut


def difference(first: PlanRuns, second: PlanRuns, confidence: float = 0.95) -> Interval:
    """Rate of the second less rate of the first, run by run under the same luck.

    Parameters
    ----------
    first, second : out of one call of `run_plans`, or of two with the same length, number, seed and warm-up
    confidence : of the interval, between 0 and 1

    Raises
    ------
    ValueError   The two were not run in the same way, or there is one run.

    Source     paired comparison under common random numbers, common practice.
    """
    if first.length != second.length or first.cut_bins != second.cut_bins:
        raise ValueError("only runs of the same length, number, seed and warm-up can be compared")
    return paired_comparison(first.rates_per_h, second.rates_per_h, confidence)


_TOO_SHORT: Final = "a run is shorter than one bin of ten cycles: run longer"


def _state_s(replications: Iterable[Replication]) -> Floats:
    return np.sum([one.totals.state_us for one in replications], axis=0) / 1e6  # type: ignore[no-any-return]
