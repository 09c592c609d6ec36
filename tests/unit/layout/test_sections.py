"""Cutting lanes from stock: small cases with the answer worked out by hand."""

from __future__ import annotations

import pytest

from linewright.errors import LinewrightError
from linewright.layout import SectionCutError, cut_sections

HEAVY = (0.385, 0.770, 1.155)


def test_an_exact_length_has_no_surplus() -> None:
    cut = cut_sections(6.160, HEAVY)
    assert cut.sections_m == (1.155,) * 5 + (0.385,)
    assert cut.joints_m == (1.155, 2.31, 3.465, 4.62, 5.775)
    assert (cut.total_m, cut.surplus_m, cut.pieces, cut.kinds, cut.cost) == (6.16, 0.0, 6, 2, None)


def test_a_length_between_is_covered_by_the_shortest_row() -> None:
    cut = cut_sections(1.2, HEAVY)
    assert (cut.total_m, cut.surplus_m) == (1.54, 0.34)
    assert cut.sections_m == (0.77, 0.77), "two pieces of one kind come before 1155 + 385"


def test_the_shortest_cover_comes_before_fewer_pieces() -> None:
    assert cut_sections(1.0, (0.5, 1.2)).sections_m == (0.5, 0.5)


def test_fewest_kinds_come_before_least_cost() -> None:
    cut = cut_sections(1.2, (0.4, 0.6, 0.8), prices=(1.0, 100.0, 1.0))
    assert cut.sections_m == (0.6, 0.6)
    assert cut.cost == 200.0


def test_least_cost_decides_between_rows_of_equal_pieces_and_kinds() -> None:
    # 10 = 7 + 3 = 8 + 2, two pieces of two kinds each.
    stock = (0.2, 0.3, 0.7, 0.8)
    assert cut_sections(1.0, stock, prices=(9, 1, 1, 9)).sections_m == (0.7, 0.3)
    assert cut_sections(1.0, stock, prices=(1, 9, 9, 1)).sections_m == (0.8, 0.2)
    assert cut_sections(1.0, stock).sections_m == (0.8, 0.2), "without prices the longest section comes first"


def test_one_missing_price_leaves_the_cost_open() -> None:
    cut = cut_sections(1.0, (0.2, 0.3, 0.7, 0.8), prices=(9, None, 1, 9))
    assert cut.cost is None
    assert cut.sections_m == (0.8, 0.2)


def test_joints_keep_their_distance() -> None:
    free = cut_sections(1.54, HEAVY, prices=(1, 1, 1))
    assert free.joints_m == (0.77,)
    assert cut_sections(1.54, HEAVY, no_joint=((0.77, 0.1),)).sections_m == (1.155, 0.385)
    assert cut_sections(1.54, HEAVY, no_joint=((0.9, 0.3),)).sections_m == (0.385, 1.155)


def test_a_joint_exactly_at_the_distance_is_allowed() -> None:
    assert cut_sections(1.54, HEAVY, no_joint=((0.87, 0.1),)).joints_m == (0.77,)
    assert cut_sections(1.54, HEAVY, no_joint=((0.87, 0.1001),)).joints_m != (0.77,)


def test_the_ends_of_a_lane_are_no_joints() -> None:
    assert cut_sections(1.155, HEAVY, no_joint=((0.0, 0.5), (1.155, 0.5))).sections_m == (1.155,)


def test_joints_that_cannot_keep_away_are_an_error() -> None:
    with pytest.raises(SectionCutError, match="keeps its joints off") as caught:
        cut_sections(6.16, HEAVY, no_joint=((3.0, 0.6),))
    assert isinstance(caught.value, LinewrightError)


@pytest.mark.parametrize("length_m", [0.0, -1.0, float("nan"), float("inf")])
def test_a_length_must_be_positive(length_m: float) -> None:
    with pytest.raises(ValueError, match="length must be positive"):
        cut_sections(length_m, HEAVY)


def test_stock_and_prices_are_checked() -> None:
    with pytest.raises(ValueError, match="stock lengths must be positive"):
        cut_sections(1.0, ())
    with pytest.raises(ValueError, match="stock lengths must be positive"):
        cut_sections(1.0, (0.5, 0.0))
    with pytest.raises(ValueError, match="2 prices for 3 stock lengths"):
        cut_sections(1.0, HEAVY, prices=(1, 2))
    with pytest.raises(ValueError, match="price must be 0 or more"):
        cut_sections(1.0, HEAVY, prices=(1, 2, -3))
    with pytest.raises(ValueError, match="distance from a joint"):
        cut_sections(1.0, HEAVY, no_joint=((0.5, -0.1),))


def test_stock_finer_than_a_tenth_of_a_millimetre_is_refused() -> None:
    with pytest.raises(SectionCutError, match=r"276\.86 mm is not a whole number of tenths"):
        cut_sections(3.0, (0.27686,))


def test_a_lane_far_too_long_for_fine_stock_is_refused_at_once() -> None:
    with pytest.raises(SectionCutError, match="too long"):
        cut_sections(200.0, (0.2761, 0.3683))


def test_float_noise_is_not_a_surplus() -> None:
    assert cut_sections(0.385 * 3 * 1.0000000001, HEAVY).pieces == 1
    assert cut_sections(0.1 + 0.2, (0.3,)).surplus_m == 0.0
