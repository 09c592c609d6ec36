"""Solved remedies: they hold, they are the nearest that do, and nothing is told where no single answer is."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.remedies import rounded_away, value_that_holds


@given(st.floats(0.5, 50.0), st.floats(0.1, 0.9), st.floats(1.0, 3.0))
@settings(max_examples=60, deadline=None)
def test_the_answer_holds_and_a_hair_less_does_not(limit: float, share: float, power: float) -> None:
    def margin(value: float) -> float:
        return value**power - limit

    root = limit ** (1.0 / power)
    found = value_that_holds(margin, share * root, 2.0 * root)
    assert found is not None
    assert margin(found) >= 0.0
    assert found == pytest.approx(root, rel=1e-12)
    downwards = value_that_holds(lambda value: -margin(value), 2.0 * root, share * root)
    assert downwards is not None
    assert margin(downwards) <= 0.0
    assert downwards == pytest.approx(root, rel=1e-12)


def test_what_holds_already_is_left_alone() -> None:
    assert value_that_holds(lambda value: value, 3.0, 9.0) == 3.0


@pytest.mark.parametrize("margin", [lambda value: -1.0, lambda value: math.sin(value) - 0.5, lambda value: math.nan])
def test_no_answer_where_nothing_holds_or_more_does_not_always_help(margin: object) -> None:
    assert value_that_holds(margin, 0.0, 5.0) is None  # type: ignore[arg-type]


@pytest.mark.parametrize("now, farthest", [(math.nan, 1.0), (0.0, math.inf)])
def test_ends_that_are_no_numbers_are_refused(now: float, farthest: float) -> None:
    with pytest.raises(ValueError, match="must be finite"):
        value_that_holds(lambda value: value, now, farthest)


@given(st.floats(1e-6, 1e6), st.booleans())
def test_rounding_never_goes_back_towards_where_it_fails(value: float, upwards: bool) -> None:
    since = 0.5 * value if upwards else 2.0 * value
    shown = rounded_away(value, since)
    assert shown == pytest.approx(value, rel=0.0101)
    assert shown >= value * (1.0 - 1e-8) if upwards else shown <= value * (1.0 + 1e-8)
