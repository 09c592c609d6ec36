"""Laws of the safety figures: slower, lighter, farther and more drag never make anything worse."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.checks.safety import (
    crush_gap,
    interlocked_distance,
    light_curtain_distance,
    powered_stop,
    scanner_distance,
)
from linewright.motion.coasting import coast, coast_over, longest_coast
from unit.checks.safety_lines import KEYS, on_sheet, row, safety_line

MASSES, SPEEDS, DRAGS = st.floats(0.1, 50.0), st.floats(0.05, 4.0), st.floats(0.05, 20.0)
WAYS, MORE = st.floats(0.01, 5.0), st.floats(1.0, 3.0)
TIMES = st.floats(0.0, 3.0)
A_HAIR = 1.0 + 1e-12


@given(MASSES, SPEEDS, DRAGS, WAYS, MORE)
def test_no_speed_up_to_the_greatest_takes_longer(m: float, v: float, drag: float, way: float, more: float) -> None:
    longest = longest_coast(m, v, drag, way)
    assert coast_over(m, v / more, drag, way).time_s <= longest.time_s * A_HAIR
    assert longest.time_s <= coast(m, v, drag).time_s * A_HAIR
    assert longest.distance_m <= way * A_HAIR


@given(MASSES, SPEEDS, DRAGS, WAYS, MORE)
def test_slower_lighter_nearer_stops_and_more_drag_never_take_longer(
    m: float, v: float, drag: float, way: float, more: float
) -> None:
    longest_s = longest_coast(m, v, drag, way).time_s * A_HAIR
    assert longest_coast(m, v / more, drag, way).time_s <= longest_s
    assert longest_coast(m / more, v, drag, way).time_s <= longest_s
    assert longest_coast(m, v, drag * more, way).time_s <= longest_s
    assert longest_coast(m, v, drag, way / more).time_s <= longest_s


@given(MASSES, SPEEDS, DRAGS)
def test_coasting_keeps_the_energy(m: float, v: float, drag: float) -> None:
    assert drag * coast(m, v, drag).distance_m == pytest.approx(0.5 * m * v * v)


@given(SPEEDS, st.floats(0.0, 0.1), st.floats(1.0, 20.0), st.floats(5.0, 1000.0), MORE)
def test_a_stop_never_gains_by_speed_or_jerk(v: float, reaction: float, a: float, j: float, more: float) -> None:
    stop, bare = powered_stop(v, reaction, a, j), powered_stop(v, reaction, a)
    assert stop.time_s * A_HAIR >= bare.time_s
    assert stop.distance_m * A_HAIR >= bare.distance_m
    slower = powered_stop(v / more, reaction, a, j)
    assert slower.time_s <= stop.time_s * A_HAIR
    assert slower.distance_m <= stop.distance_m * A_HAIR


@given(TIMES, st.floats(0.0, 1.0), st.floats(0.001, 0.04), st.floats(0.0, 1.0))
def test_a_longer_stop_never_brings_a_guard_nearer(t: float, longer: float, d: float, h: float) -> None:
    assert light_curtain_distance(t, d).distance_m <= light_curtain_distance(t + longer, d).distance_m + 1e-12
    assert scanner_distance(t, h).distance_m <= scanner_distance(t + longer, h).distance_m
    assert interlocked_distance(t).distance_m <= interlocked_distance(t + longer).distance_m
    curtain = light_curtain_distance(t, d)
    assert curtain.distance_m >= 1.6 * t + curtain.intrusion_m - 1e-12  # a person who walks is never missed
    assert curtain.distance_m >= 0.1


@given(st.floats(0.0, 0.6), st.floats(0.0, 0.6))
def test_a_wider_gap_spares_no_less(gap: float, wider: float) -> None:
    assert set(crush_gap(gap).spared) <= set(crush_gap(gap + wider).spared)


def test_farther_and_slower_never_worse_for_a_whole_line() -> None:
    """Margins of the rows of a line over its guard's distance, its full speed and the reach of its zone."""
    margins: list[float] = []
    for distance_mm in (300, 500, 520, 700, 900, 1400, 3000):
        found = row(safety_line(KEYS.replace("1000 mm", f"{distance_mm} mm")), "safety-distance")
        assert found.margin is not None
        margins.append(found.margin)
    assert margins == sorted(margins)
    margins = []
    for speed in (3.0, 2.3, 2.2, 1.85, 1.0, 0.4, 0.2, 0.05):
        found = row(on_sheet(safety_line(), drive={"speed_m_s": speed}), "safety-distance")
        assert found.margin is not None
        margins.append(found.margin)
    assert margins == sorted(margins)
    assert margins[0] < 0.0 < margins[-1]
    assert math.isfinite(margins[0])
