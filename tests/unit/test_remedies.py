"""Solved remedies: they hold, they are the nearest that do, and nothing is told where no single answer is."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.findings import judge
from linewright.remedies import rounded_away, rounded_place, spare_for, value_that_holds


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


def test_a_tight_row_aims_at_what_holds_needs_and_a_failing_one_at_its_limit() -> None:
    assert spare_for("fails") == spare_for("holds") == 0.0
    for limit in (0.2, 0.25, 3.0):
        value = limit * (1.0 + spare_for("tight"))
        assert judge(value / limit - 1.0) == "holds"
        assert judge(1.0 - (1.0 - spare_for("tight")) * limit / limit) == "holds"


@given(st.floats(0.01, 3.0), st.floats(2e-6, 0.01), st.booleans(), st.sampled_from(["mm", "inch"]))
@settings(max_examples=80, deadline=None)
def test_a_place_is_told_with_few_digits_and_is_free(border_m: float, room_m: float, above: bool, units: str) -> None:
    def is_free(one_m: float) -> bool:
        way_m = one_m - border_m if above else border_m - one_m
        return -1e-9 <= way_m <= room_m

    found = rounded_place(border_m, units, is_free)
    assert found is not None
    place_m, told = found
    number, unit = told.split()
    assert unit == ("in" if units == "inch" else "mm")
    assert is_free(float(number) * (0.0254 if units == "inch" else 1e-3))
    assert place_m == pytest.approx(float(number) * (0.0254 if units == "inch" else 1e-3), abs=1e-12)
    if room_m >= (0.00254 if units == "inch" else 1e-3):
        assert len(number.partition(".")[2]) <= (1 if units == "inch" else 0)


def test_where_nothing_near_is_free_no_place_is_told() -> None:
    assert rounded_place(0.1234567891, "mm", lambda one_m: abs(one_m - 0.1234567891) < 1e-12) is None
