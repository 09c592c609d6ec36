"""The named results, on runs whose figures are written down here."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.flow.bins import RunLength
from linewright.flow.statistics import mean_interval
from linewright.planning.choices import Choices, choose
from linewright.planning.counts import PlanRuns

# One bin of an hour a run, so that good parts are the rate.
LENGTH = RunLength(horizon_us=3_600_000_000, bin_us=3_600_000_000, runs=4, seed=1)


def runs_of(carriers: int, rates: tuple[int, ...], blocked: float = 0.0, reason: str | None = None) -> PlanRuns:
    state_s = np.zeros((2, 10))
    state_s[:, 4] = blocked * 4 * 3600.0
    rate = None if reason else mean_interval(np.array(rates, np.float64))
    return PlanRuns(carriers, np.array(rates)[:, None], 0, rate, reason, state_s, LENGTH)


def chosen(*runs: PlanRuns, carriers: int = 1, required: float | None = None) -> Choices:
    return choose(runs, {one.carriers: one for one in runs}, carriers, required)


# The same ups and downs in every count, as under the same luck: differences are far surer than the rates.
LUCK = (-40, 10, 50, -20)


def with_luck(mean: int, *more: int) -> tuple[int, ...]:
    extra = more or (0, 0, 0, 0)
    return tuple(mean + luck + one for luck, one in zip(LUCK, extra, strict=True))


def test_the_plateau_is_the_largest_mean_and_all_that_are_as_good() -> None:
    result = chosen(
        runs_of(3, with_luck(800)),
        runs_of(4, with_luck(996)),  # within 0.5 %
        runs_of(5, with_luck(990, -40, 40, -40, 40)),  # 1 % lower, but that may be chance
        runs_of(6, with_luck(1000)),
        runs_of(7, with_luck(1000)),
        runs_of(8, with_luck(990)),  # 1 % lower, surely
    ).plateau
    assert result is not None
    assert (result.carriers, result.counts, result.at_end) == (6, (4, 5, 6, 7), False)


def test_a_count_is_near_only_if_its_whole_interval_is() -> None:
    result = chosen(
        runs_of(3, with_luck(996, -8, 8, -8, 8)),  # near by the mean alone
        runs_of(4, with_luck(996)),
        runs_of(5, with_luck(1000)),
    ).smallest_near
    assert result is not None
    assert (result.carriers, result.by_mean, result.difference.mean) == (4, 3, -4.0)


def test_the_takt_is_met_by_a_whole_interval_and_with_one_out_by_two() -> None:
    half = mean_interval(np.array(LUCK, np.float64)).half_width
    runs = [runs_of(n, with_luck(mean)) for n, mean in ((2, 800), (3, 900), (4, 850), (5, 900), (6, 900))]
    result = chosen(*runs, required=900 - half - 1)
    assert (result.smallest_meeting_takt, result.smallest_meeting_takt_one_out) == (3, 6)
    missed = chosen(*runs, required=900 - half + 1)
    assert (missed.smallest_meeting_takt, missed.all_fail) == (None, False)
    assert chosen(*runs, required=2000).all_fail
    assert not chosen(*runs).all_fail


def test_one_out_is_compared_with_the_file_s_own_count() -> None:
    runs = runs_of(3, with_luck(900)), runs_of(4, with_luck(950)), runs_of(5, with_luck(960))
    result = chosen(*runs, carriers=4, required=910).one_out
    assert result is not None
    assert (result.carriers, result.difference.mean, result.difference.half_width) == (3, -50.0, 0.0)
    assert result.meets_takt is False
    assert chosen(*runs, carriers=3).one_out is None  # 2 carriers are not known


def test_blocking_begins_above_one_per_cent() -> None:
    runs = [runs_of(n, with_luck(900), blocked=share) for n, share in ((2, 0.0), (3, 0.01), (4, 0.011), (5, 0.2))]
    assert chosen(*runs).onset_of_blocking == 4
    assert chosen(*runs[:2]).onset_of_blocking is None


def test_a_count_that_surely_gives_less_than_a_smaller_one_is_told() -> None:
    runs = (
        runs_of(2, with_luck(900)),
        runs_of(3, with_luck(1000)),
        runs_of(4, with_luck(990, -20, 20, -20, 20)),  # perhaps
        runs_of(5, with_luck(990, -1, 1, -1, 1)),  # surely
    )
    (lower,) = chosen(*runs).lower
    assert (lower.carriers, lower.than, lower.difference.mean) == (5, 3, -10.0)
    # 95 % for the three comparisons together.
    assert lower.difference.confidence == pytest.approx(1 - 0.05 / 3)


def test_without_an_interval_only_blocking_is_known() -> None:
    result = chosen(runs_of(2, (5, 0, 5, 5), 0.3, reason="run 2 of 4 finishes no good part"), required=1.0)
    assert result.reason == "run 2 of 4 finishes no good part"
    assert (result.plateau, result.smallest_near, result.one_out, result.lower) == (None, None, None, ())
    assert (result.onset_of_blocking, result.all_fail) == (2, False)


def test_a_count_without_an_interval_stands_aside() -> None:
    result = chosen(runs_of(2, with_luck(900)), runs_of(3, (9000, 9000, 9000, 0), reason="stuck"), required=800.0)
    assert result.plateau is not None
    assert (result.reason, result.plateau.carriers, result.smallest_meeting_takt) == (None, 2, 2)
