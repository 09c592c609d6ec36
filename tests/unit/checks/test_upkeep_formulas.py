"""Spares against a drawn demand, intervals by hand, and what the formulas refuse."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.checks import upkeep

DRAWS = 200_000
# Standard error of a share of 2 % in so many draws: 0.0003; six of them.
CLOSE = 0.002


@pytest.mark.parametrize(
    "mean, level", [(0.05, 0.9), (0.4, 0.98), (2.0, 0.95), (4.5, 0.98), (30.0, 0.999), (900.0, 0.9)]
)
def test_spares_against_a_drawn_demand(mean: float, level: float) -> None:
    """Not by the law of counts: failures come one after another, with exponential gaps, until the lead time is over."""
    found = upkeep.spares_for(mean, level)
    draws = DRAWS if mean < 100.0 else 4000
    random = np.random.default_rng(20240611)
    # The n-th failure comes within the lead time if n exponential gaps of mean 1 add up to at most its mean demand.
    in_time = random.gamma(found.stock + 1, size=draws) <= mean
    served = 1.0 - in_time.mean()
    close = CLOSE if draws == DRAWS else 6.0 * math.sqrt(0.25 / draws)
    assert served == pytest.approx(found.service_level, abs=close)
    assert found.service_level >= level
    if found.stock:
        fewer = 1.0 - (random.gamma(found.stock, size=draws) <= mean).mean()
        assert fewer < level + close


@given(st.floats(0.0, 50.0), st.floats(0.01, 0.999), st.floats(0.0, 5.0))
def test_more_demand_never_needs_fewer_spares(mean: float, level: float, more: float) -> None:
    few = upkeep.spares_for(mean, level)
    assert few.stock <= upkeep.spares_for(mean + more, level).stock
    exact = [math.exp(-mean) * mean**k / math.factorial(k) for k in range(few.stock + 1)]
    assert math.fsum(exact) >= level - 1e-9
    assert math.fsum(exact[:-1]) < level + 1e-9
    assert few.service_level == pytest.approx(math.fsum(exact), abs=1e-9)


def test_a_demand_of_thousands_has_spares_too() -> None:
    """Far beyond 745, where e^-m is nought: about m + 2.054 sqrt(m) for 98 %."""
    stock = upkeep.spares_for(1e6, 0.98).stock
    assert stock == pytest.approx(1e6 + 2.0537 * 1e3, abs=5.0)


def test_a_level_next_to_one_comes_to_an_end() -> None:
    assert upkeep.spares_for(2.0, math.nextafter(1.0, 0.0)).stock < 40


def test_whichever_comes_first_by_hand() -> None:
    by_travel = upkeep.relubrication_interval(2.8e6, 1.4e6, 14.0)
    assert (by_travel.reason, by_travel.per_year) == ("travel", 2.0)
    assert by_travel.weeks == pytest.approx(365.25 / 7 / 2)
    by_calendar = upkeep.relubrication_interval(1.0e6, 1.4e6, 12.0)
    assert (by_calendar.reason, by_calendar.per_year) == ("calendar", 1.0)
    assert upkeep.relubrication_interval(0.0, 1.4e6, 6.0).per_year == 2.0
    assert upkeep.relubrication_interval(1.4e6, 1.4e6, 12.0).reason == "calendar"  # both at once


def test_what_is_not_used_never_wears() -> None:
    assert upkeep.wear_life_years(1e6, 0.0) == math.inf


@pytest.mark.parametrize(
    "text, numeral, jets",
    [
        ("IP54, not for wash-down", 4, False),
        ("IP 65", 5, True),
        ("IPX6", 6, True),
        ("IP67", 7, False),
        ("IP65 and IP67", 5, True),
        ("IP69K", 9, True),
        ("IP6X", None, False),
        ("dust-tight", None, False),
    ],
)
def test_the_second_numeral_of_a_code(text: str, numeral: int | None, jets: bool) -> None:
    assert upkeep.jets_numeral(text) == numeral
    assert (numeral is not None and upkeep.is_for_jets(numeral)) == jets


@pytest.mark.parametrize(
    "call, named",
    [
        (lambda: upkeep.spares_for(-0.1, 0.9), "mean_demand"),
        (lambda: upkeep.spares_for(math.nan, 0.9), "mean_demand"),
        (lambda: upkeep.spares_for(1.0, 1.0), "service_level"),
        (lambda: upkeep.spares_for(1.0, 0.0), "service_level"),
        (lambda: upkeep.spares_for(1.0, math.nan), "service_level"),
        (lambda: upkeep.relubrication_interval(-1.0, 1e6, 6.0), "travel_per_year_m"),
        (lambda: upkeep.relubrication_interval(1.0, 0.0, 6.0), "interval_m"),
        (lambda: upkeep.relubrication_interval(1.0, 1e6, math.nan), "interval_months"),
        (lambda: upkeep.travel_per_day_m(-0.1, 1.0, 1.0), "stroke_m"),
        (lambda: upkeep.travel_per_day_m(0.1, math.nan, 1.0), "cycles_per_min"),
        (lambda: upkeep.travel_per_day_m(0.1, 1.0, 25.0), "hours_per_day"),
        (lambda: upkeep.operations_per_year(367.0, 1.0, 1.0), "days_per_year"),
        (lambda: upkeep.operations_per_year(1.0, -1.0, 1.0), "hours_per_day"),
        (lambda: upkeep.operations_per_year(1.0, 1.0, 0.0), "cycle_s"),
        (lambda: upkeep.wear_life_years(0.0, 1.0), "until_worn"),
        (lambda: upkeep.wear_life_years(1.0, math.inf), "used_per_year"),
        (lambda: upkeep.failures_per_year(0.0, 1.0), "every_s"),
        (lambda: upkeep.failures_per_year(1.0, -1.0), "in_operation_s"),
    ],
)
def test_what_is_out_of_range_is_named(call: Callable[[], object], named: str) -> None:
    with pytest.raises(ValueError, match=f"^{named} "):
        call()
