"""Coasting against an integration of the equation of motion, and what is refused."""

from __future__ import annotations

import math
import random

import pytest
from scipy.integrate import solve_ivp

from linewright.motion.coasting import Coast, coast, coast_over, longest_coast


def integrated(mass_kg: float, speed_m_s: float, drag_N: float, way_m: float) -> tuple[float, float, float]:
    """Time, speed and way when it stands or comes to the end of the way, by Runge and Kutta with events."""

    def stands(_t: float, y: list[float]) -> float:
        return y[1]

    def arrives(_t: float, y: list[float]) -> float:
        return y[0] - way_m

    stands.terminal, arrives.terminal = True, True  # type: ignore[attr-defined]
    stands.direction, arrives.direction = -1, 1  # type: ignore[attr-defined]
    end_s = 2.0 * mass_kg * speed_m_s / drag_N + 1.0
    found = solve_ivp(
        lambda _t, y: [y[1], -drag_N / mass_kg],
        (0.0, end_s),
        [0.0, speed_m_s],
        events=[stands, arrives],
        rtol=1e-10,
        atol=1e-13,
    )
    assert found.status == 1
    return float(found.t[-1]), float(found.y[1][-1]), float(found.y[0][-1])


def cases(count: int) -> list[tuple[float, float, float, float]]:
    draw = random.Random(61)
    return [
        (draw.uniform(0.2, 20.0), draw.uniform(0.1, 3.0), draw.uniform(0.2, 8.0), draw.uniform(0.01, 1.0))
        for _ in range(count)
    ]


@pytest.mark.parametrize("case", cases(12), ids=str)
def test_against_integration(case: tuple[float, float, float, float]) -> None:
    mass_kg, speed_m_s, drag_N, way_m = case
    time_s, left_m_s, covered_m = integrated(mass_kg, speed_m_s, drag_N, way_m)
    found = coast_over(mass_kg, speed_m_s, drag_N, way_m)
    assert found.time_s == pytest.approx(time_s, rel=1e-7)
    assert found.speed_m_s == pytest.approx(left_m_s, rel=1e-7, abs=1e-7)
    assert found.distance_m == pytest.approx(covered_m, rel=1e-7)


def test_to_a_stand_against_integration() -> None:
    for mass_kg, speed_m_s, drag_N, _ in cases(6):
        time_s, _, covered_m = integrated(mass_kg, speed_m_s, drag_N, 1e6)
        found = coast(mass_kg, speed_m_s, drag_N)
        assert (found.time_s, found.distance_m) == pytest.approx((time_s, covered_m), rel=1e-7)


def test_longest_is_the_greatest_over_all_speeds() -> None:
    kinds = set()
    for mass_kg, speed_m_s, drag_N, way_m in cases(24):
        found = longest_coast(mass_kg, speed_m_s, drag_N, way_m)
        tried = [coast_over(mass_kg, speed_m_s * k / 2000, drag_N, way_m).time_s for k in range(1, 2001)]
        assert found.time_s >= max(tried) * (1.0 - 1e-12)
        # from below the time rises straight to its top, so that the grid misses it by no more than a step of the speed
        assert found.time_s <= max(tried) * (1.0 + 0.01)
        its_own = coast_over(mass_kg, found.speed_m_s, drag_N, way_m)
        assert its_own.time_s == pytest.approx(found.time_s, rel=1e-6)
        kinds.add(found.speed_m_s < speed_m_s)
    assert kinds == {True, False}


def test_without_drag_nothing_stops_it() -> None:
    assert coast(1.0, 0.5, 0.0) == Coast(math.inf, math.inf)
    assert longest_coast(1.0, 0.5, 0.0, 0.1).time_s == math.inf
    assert coast_over(1.0, 0.5, 0.0, 0.1).time_s == pytest.approx(0.2)
    assert coast_over(1.0, 0.5, 0.0, 0.1).speed_m_s == 0.5


def test_at_rest_and_without_a_way() -> None:
    assert coast(1.0, 0.0, 0.0) == Coast(0.0, 0.0)
    assert longest_coast(1.0, 0.5, 0.2, 0.0).time_s == 0.0
    assert longest_coast(1.0, 0.0, 0.0, 0.3).time_s == 0.0
    assert longest_coast(1.0, 0.5, 0.2, math.inf).time_s == coast(1.0, 0.5, 0.2).time_s


@pytest.mark.parametrize(
    ("figures", "name"),
    [
        ((0.0, 1.0, 1.0), "mass_kg"),
        ((-1.0, 1.0, 1.0), "mass_kg"),
        ((math.nan, 1.0, 1.0), "mass_kg"),
        ((math.inf, 1.0, 1.0), "mass_kg"),
        ((1.0, -0.1, 1.0), "speed_m_s"),
        ((1.0, math.inf, 1.0), "speed_m_s"),
        ((1.0, 1.0, -0.1), "drag_N"),
        ((1.0, 1.0, math.nan), "drag_N"),
    ],
)
def test_impossible_figures(figures: tuple[float, float, float], name: str) -> None:
    for call in (
        lambda: coast(*figures),
        lambda: coast_over(*figures, 0.5),
        lambda: longest_coast(*figures, 0.5),
    ):
        with pytest.raises(ValueError, match=name):
            call()


def test_impossible_ways() -> None:
    for way_m in (-0.1, math.nan):
        with pytest.raises(ValueError, match="way_m"):
            longest_coast(1.0, 1.0, 1.0, way_m)
        with pytest.raises(ValueError, match="way_m"):
            coast_over(1.0, 1.0, 1.0, way_m)
    with pytest.raises(ValueError, match="way_m"):
        coast_over(1.0, 1.0, 1.0, math.inf)
