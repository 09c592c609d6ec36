"""Draws of the laws that are looked up: gamma against scipy, empirical and geometric against their closed forms."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from numpy.typing import NDArray
from scipy import special, stats

from linewright.flow.kernel.draws import (
    GAMMA_REACH,
    Laws,
    between_knots,
    cycles,
    draw,
    gamma_place,
    gamma_table,
    law_arrays,
    looked_up,
    normal_quantile,
    uniform,
)
from linewright.traffic.plan import EMPIRICAL, EXPONENTIAL, FIXED, GAMMA, GEOMETRIC, GIVEN, LOGNORMAL, TRIANGULAR, Law

SHAPES: Final = (0.25, 0.3, 0.5, 1.0, 2.0, 4.0, 11.1, 44.4, 400.0)
LEAST: Final = 2.0**-53
"""The least uniform of a stream; the greatest is 1 - LEAST."""

TAILS: Final = np.concatenate([np.logspace(-12, math.log10(0.5), 4000), [0.5 - 1e-9, 0.5]])


@njit
def log_quantiles(table: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
    values = np.empty(len(u))
    for i in range(len(u)):
        place = gamma_place(u[i])
        knot = 2 * int(place)
        values[i] = between_knots(
            place - math.floor(place), table[knot], table[knot + 1], table[knot + 2], table[knot + 3]
        )
    return values


@njit
def looked_up_at(laws: Laws, law: int, u: NDArray[np.float64]) -> NDArray[np.int64]:
    """What `draw` gives where the stream of the law has these uniforms."""
    values = np.empty(len(u), np.int64)
    kind, a, b, first, length = laws.kind[law], laws.p[law, 0], laws.p[law, 1], laws.first[law], laws.length[law]
    for i in range(len(u)):
        values[i] = looked_up(kind, a, b, laws.given, laws.table, first, length, u[i])
    return values


def drawn(laws: Laws, law: int, count: int) -> list[int]:
    return [int(draw(laws, law, number)) for number in range(count)]


def at(law: Law, u: NDArray[np.float64]) -> NDArray[np.int64]:
    values: NDArray[np.int64] = looked_up_at(law_arrays([law], [1]), 0, u)
    return values


def spread_evenly(count: int) -> NDArray[np.float64]:
    """The middles of equal shares of the interval from 0 to 1."""
    values: NDArray[np.float64] = (np.arange(count) + 0.5) / count
    return values


@pytest.mark.parametrize("shape", SHAPES)
def test_gamma_quantiles_are_scipys(shape: float) -> None:
    """To 1e-8 of the value; 1e-6 would serve, for a draw is rounded up to a microsecond."""
    table = np.array(gamma_table(shape))
    lower = np.exp(log_quantiles(table, TAILS))
    assert np.abs(lower / stats.gamma.ppf(TAILS, shape) - 1.0).max() < 1e-8
    upper = np.exp(log_quantiles(table, 1.0 - TAILS))
    # 1 - (1 - u) is the tail that the kernel sees: u rounded to the spacing of floats below one.
    assert np.abs(upper / stats.gamma.isf(1.0 - (1.0 - TAILS), shape) - 1.0).max() < 1e-8


def test_gamma_quantiles_of_the_widest_law_of_a_file() -> None:
    """A coefficient of variation of 1000 % is a shape of 0.01: most quantiles are far below any time."""
    table = np.array(gamma_table(0.01))
    u = np.linspace(0.01, 0.999, 4000)
    assert np.abs(np.exp(log_quantiles(table, u)) / special.gammaincinv(0.01, u) - 1.0).max() < 1e-7
    tiny = np.logspace(-15, -3, 100)
    # To first order P(x) = x^k/Gamma(k + 1); the next term is of order x.
    assert log_quantiles(table, tiny) == pytest.approx((np.log(tiny) + math.lgamma(1.01)) / 0.01, rel=1e-9)


@pytest.mark.parametrize("shape", [9.9e4, 1.01e5])
def test_gamma_quantiles_on_both_sides_of_the_change_to_the_expansion(shape: float) -> None:
    quantiles = np.exp(log_quantiles(np.array(gamma_table(shape)), TAILS))
    assert np.abs(quantiles / special.gammaincinv(shape, TAILS) - 1.0).max() < 1e-11


@pytest.mark.parametrize("cv", [1e-6, 1e-4])
def test_gamma_with_next_to_no_spread_is_the_normal_law(cv: float) -> None:
    """The limit of large shapes: x = k (1 + cv z) but for terms of order cv²."""
    shape = 1.0 / cv**2
    relative = np.exp(log_quantiles(np.array(gamma_table(shape)), TAILS) - math.log(shape)) - 1.0
    assert np.abs(relative / cv - special.ndtri(TAILS)).max() < 20.0 * cv + 1e-8


def test_no_uniform_leads_beyond_the_table_of_a_gamma_law() -> None:
    assert uniform(np.uint64(1), 0, 0) >= LEAST
    assert abs(normal_quantile(LEAST)) < GAMMA_REACH - 1.0 / 32
    assert abs(normal_quantile(1.0 - LEAST)) < GAMMA_REACH - 1.0 / 32
    for shape in (0.01, 0.3, 5.0, 1e5, 1e12):
        ends = log_quantiles(np.array(gamma_table(shape)), np.array([LEAST, 0.5, 1.0 - LEAST]))
        assert np.isfinite(ends).all()
        assert ends[0] < ends[1] < ends[2]


@pytest.mark.parametrize("cv", [0.05, 0.3, 1.0, 1.5])
def test_moments_of_gamma_draws(cv: float) -> None:
    """Mean k s, standard deviation s √k, skewness 2/√k = 2 cv of shape k and scale s, over even uniforms.

    Source   mean and spread: Glossary of Meteorology, "gamma distribution" (glossary.ametsoc.org); skewness: the page
    "Gamma Distribution" of scipy's tutorial on continuous laws.
    """
    mean_us = 2e6
    times = at(Law(GAMMA, 1.0 / cv**2, mean_us * cv**2), spread_evenly(200_000)).astype(np.float64)
    assert times.mean() == pytest.approx(mean_us, rel=1e-5)
    assert times.std() == pytest.approx(mean_us * cv, rel=1e-3)
    assert (((times - times.mean()) / times.std()) ** 3).mean() == pytest.approx(2.0 * cv, rel=0.02)


def test_a_gamma_law_of_shape_one_is_exponential() -> None:
    u = spread_evenly(1000)
    assert np.abs(at(Law(GAMMA, 1.0, 3e6), u) - -np.log1p(-u) * 3e6).max() <= 1.1


def test_gamma_draws_are_rounded_up_and_never_nought() -> None:
    u = spread_evenly(1000)
    exact = stats.gamma.ppf(u, 4.0, scale=1e5)
    rounding = at(Law(GAMMA, 4.0, 1e5), u) - exact
    assert rounding.min() > -1e-6 * exact.max()
    assert rounding.max() < 1.0 + 1e-6 * exact.max()
    wide = at(Law(GAMMA, 0.01, 1e8), np.array([LEAST, 1e-9, 1e-3, 0.1, 0.999]))
    assert wide[:4].tolist() == [1, 1, 1, 1]
    assert wide[4] > 1_000_000


def test_empirical_draws_are_the_times_in_order() -> None:
    times_us = (3, 5, 5, 9, 20, 21, 22)
    law = Law(EMPIRICAL, given_us=times_us)
    for i, time_us in enumerate(times_us):
        inside = np.array([i / 7 + 1e-12, (i + 0.5) / 7, (i + 1) / 7 - 1e-12])
        assert at(law, inside).tolist() == [time_us] * 3
    drawn_us, counts = np.unique(at(law, spread_evenly(7000)), return_counts=True)
    assert dict(zip(drawn_us.tolist(), counts.tolist(), strict=True)) == {
        3: 1000, 5: 2000, 9: 1000, 20: 1000, 21: 1000, 22: 1000,
    }  # fmt: skip


@given(st.integers(2, 3000))
@settings(max_examples=60, deadline=None)
def test_the_greatest_uniform_takes_the_last_of_any_number_of_times(count: int) -> None:
    law = Law(EMPIRICAL, given_us=tuple(range(1, count + 1)))
    assert at(law, np.array([LEAST, 1.0 - LEAST])).tolist() == [1, count]


@pytest.mark.parametrize("mean", [1.5, 2.0, 3.0, 40.0, 800.0])
def test_cycles_to_a_jam_follow_the_geometric_law(mean: float) -> None:
    """P(N > k) = (1 - 1/n)^k: N leaves k where u falls below that power."""
    for k in (1, 2, 3, 7, 20):
        bound = (1.0 - 1.0 / mean) ** k
        assert cycles(mean, bound * (1.0 + 1e-9)) == k
        assert cycles(mean, bound * (1.0 - 1e-9)) == k + 1
    assert cycles(mean, 1.0 - LEAST) == 1
    most = cycles(mean, LEAST)
    assert (1.0 - 1.0 / mean) ** most <= LEAST < (1.0 - 1.0 / mean) ** (most - 1)


@pytest.mark.parametrize("mean", [1.5, 3.0, 40.0, 800.0])
def test_moments_of_cycles(mean: float) -> None:
    """Mean 1/p, variance (1 - p)/p², skewness (2 - p)/√(1 - p) with p = 1/n, over even uniforms.

    Source   documentation of the R package distributional, `dist_geometric` (counted there from 0, so the mean is one
    less).
    """
    p = 1.0 / mean
    numbers = at(Law(GEOMETRIC, mean), spread_evenly(200_000)).astype(np.float64)
    assert numbers.mean() == pytest.approx(1.0 / p, rel=2e-5)
    assert numbers.var() == pytest.approx((1.0 - p) / p**2, rel=1e-3)
    skewness = (((numbers - numbers.mean()) / numbers.std()) ** 3).mean()
    assert skewness == pytest.approx((2.0 - p) / math.sqrt(1.0 - p), rel=0.01)


def test_one_in_one_cycle_is_every_cycle() -> None:
    assert set(at(Law(GEOMETRIC, 1.0), np.array([LEAST, 0.3, 1.0 - LEAST])).tolist()) == {1}


@given(
    st.one_of(
        st.builds(lambda cv: Law(GAMMA, 1.0 / cv**2, 1e6 * cv**2), st.floats(1e-6, 10.0)),
        st.builds(
            lambda times: Law(EMPIRICAL, given_us=tuple(sorted(times))), st.lists(st.integers(1, 10**9), min_size=2)
        ),
        st.builds(lambda mean: Law(GEOMETRIC, float(mean)), st.integers(1, 10**9)),
    ),
    st.lists(st.floats(LEAST, 1.0 - LEAST), min_size=2, max_size=30),
)
@settings(max_examples=80, deadline=None)
def test_draws_follow_their_uniform(law: Law, uniforms: list[float]) -> None:
    """By the inverse law more luck is never less time; a jam counts down, and nothing is drawn below one."""
    values = at(law, np.array(sorted(uniforms)))
    assert values.min() >= 1
    assert (np.diff(values) * (-1 if law.kind == GEOMETRIC else 1) >= 0).all()


def test_laws_side_by_side_keep_to_themselves() -> None:
    laws = [
        Law(GIVEN, given_us=(7, 8)),
        Law(GAMMA, 4.0, 1e5),
        Law(FIXED, 1e6),
        Law(EMPIRICAL, given_us=(3, 5, 9)),
        Law(GAMMA, 0.25, 1e6),
        Law(GEOMETRIC, 800.0),
        Law(EMPIRICAL, given_us=(1, 2)),
        Law(LOGNORMAL, 14.0, 0.3),
        Law(GAMMA, 4.0, 1e5),
        Law(EXPONENTIAL, 3e6),
        Law(TRIANGULAR, 1.0, 2e6, 3e6),
        Law(GIVEN, given_us=(1, 2, 3)),
    ]
    keys = list(range(1, len(laws) + 1))
    together = law_arrays(laws, keys)
    for i, law in enumerate(laws):
        alone = law_arrays([law], [keys[i]])
        assert drawn(together, i, 50) == drawn(alone, 0, 50)
    assert [drawn(together, i, 4) for i in (0, 11)] == [[7, 8, 7, 8], [1, 2, 3, 1]]


def test_no_laws_at_all() -> None:
    none = law_arrays([], [])
    assert (len(none.kind), none.p.shape, len(none.first), len(none.length)) == (0, (0, 3), 0, 0)


def test_the_table_of_a_shape_is_made_once_and_cannot_be_changed() -> None:
    assert gamma_table(7.5) is gamma_table(7.5)
    with pytest.raises(ValueError, match="read-only"):
        gamma_table(7.5)[0] = 0.0
