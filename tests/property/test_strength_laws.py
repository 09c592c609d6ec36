"""Laws of the statics: equilibrium, superposition, the whole stiffness matrix, all combinations of tools."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.checks.strength import block_loads, extreme_loads, guide_life, mean_load, tool_deflection

FORCE = st.tuples(*[st.floats(-2000.0, 2000.0)] * 3)
POINT = st.tuples(*[st.floats(-0.4, 0.4)] * 3)
LOADED = st.lists(st.tuples(FORCE, POINT), min_size=1, max_size=5)
WAY = st.floats(0.04, 0.5)
HEIGHT = st.floats(-0.1, 0.1)
STIFFNESS = st.floats(1e6, 1e9)
SIGNS = ((1, 1), (1, -1), (-1, 1), (-1, -1))


def parted(loaded: list[tuple[tuple[float, ...], tuple[float, ...]]]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([force for force, _ in loaded]), np.array([point for _, point in loaded])


def whole_stiffness(
    spacing: float, gauge: float, up: float, side: float, servo: float, height: float
) -> tuple[np.ndarray, list[np.ndarray]]:
    """6 x 6 stiffness about the middle between the blocks, and the rows that give each spring's own displacement."""
    rows, total = [], np.zeros((6, 6))
    springs = [(np.array([sx * spacing / 2, sy * gauge / 2, 0.0]), axis) for sx, sy in SIGNS for axis in (2, 1)]
    springs.append((np.array([0.0, 0.0, height]), 0))
    for point, axis in springs:
        # A point moves by u + θ × p.
        turned = np.array([np.cross(turn, point)[axis] for turn in np.eye(3)])
        row = np.concatenate((np.eye(3)[axis], turned))
        stiffness = {0: servo, 1: side, 2: up}[axis]
        total += stiffness * np.outer(row, row)
        rows.append(row)
    return total, rows


@given(LOADED, WAY, WAY, HEIGHT, STIFFNESS, STIFFNESS, STIFFNESS, POINT)
def test_loads_and_deflection_are_those_of_the_whole_stiffness(
    loaded: list, spacing: float, gauge: float, height: float, up: float, side: float, servo: float, point: tuple
) -> None:
    forces, points = parted(loaded)
    wrench = np.concatenate((forces.sum(axis=0), np.cross(points, forces).sum(axis=0)))
    matrix, rows = whole_stiffness(spacing, gauge, up, side, servo, height)
    scales = np.sqrt(np.diag(matrix))
    moved = np.linalg.solve(matrix / np.outer(scales, scales), wrench / scales) / scales
    size = max(1.0, float(np.abs(wrench).max()) / min(spacing, gauge))
    found = block_loads(forces, points, spacing, gauge, height)
    # A block that is pushed down presses on its rail; one that is pushed to the left pushes its rail to the left.
    assert found.normal_N == pytest.approx([-up * rows[2 * i] @ moved for i in range(4)], abs=1e-8 * size)
    assert found.lateral_N == pytest.approx([side * rows[2 * i + 1] @ moved for i in range(4)], abs=1e-8 * size)
    assert found.along_N == pytest.approx(servo * rows[8] @ moved, abs=1e-8 * size)
    at_point = moved[:3] + np.cross(moved[3:], point)
    way = tool_deflection(forces, points, point, spacing, gauge, up, side, servo, height)
    reach = float(np.abs(moved[:3]).max() + np.abs(moved[3:]).max())
    assert (way.x_m, way.y_m, way.z_m) == pytest.approx(tuple(at_point), abs=1e-8 * reach + 1e-15)


@given(LOADED, WAY, WAY, HEIGHT)
def test_the_rails_hold_the_carrier_in_balance(loaded: list, spacing: float, gauge: float, height: float) -> None:
    forces, points = parted(loaded)
    found = block_loads(forces, points, spacing, gauge, height)
    blocks = np.array([(sx * spacing / 2, sy * gauge / 2, 0.0) for sx, sy in SIGNS])
    from_rails = np.stack((np.zeros(4), -found.lateral_N, found.normal_N), axis=1)
    all_forces = np.concatenate((forces, from_rails, [(-found.along_N, 0.0, 0.0)]))
    all_points = np.concatenate((points, blocks, [(0.0, 0.0, height)]))
    size = 1.0 + float(np.abs(all_forces).max())
    assert all_forces.sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-9 * size)
    assert np.cross(all_points, all_forces).sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-9 * size)


@given(LOADED, WAY, WAY, HEIGHT)
def test_loads_add_up(loaded: list, spacing: float, gauge: float, height: float) -> None:
    forces, points = parted(loaded)
    whole = block_loads(forces, points, spacing, gauge, height)
    each = [block_loads(force, point, spacing, gauge, height) for force, point in zip(forces, points, strict=True)]
    size = 1.0 + float(np.abs(forces).sum()) / min(spacing, gauge)
    assert whole.normal_N == pytest.approx(sum(one.normal_N for one in each), abs=1e-9 * size)
    assert whole.lateral_N == pytest.approx(sum(one.lateral_N for one in each), abs=1e-9 * size)


@given(LOADED, FORCE)
def test_the_extremes_are_those_of_all_combinations_of_tools(loaded: list, weight: tuple) -> None:
    body = block_loads(weight, (0.0, 0.0, 0.05), 0.1, 0.08)
    tools = [block_loads(force, point, 0.1, 0.08) for force, point in loaded]
    found = extreme_loads(body, tuple(tools))
    normals, laterals, cases = [], [], list(product((0.0, 1.0), repeat=len(tools)))
    for on in cases:
        normals.append(body.normal_N + sum(s * one.normal_N for s, one in zip(on, tools, strict=True)))
        laterals.append(body.lateral_N + sum(s * one.lateral_N for s, one in zip(on, tools, strict=True)))
    assert found.greatest_N == pytest.approx(np.max(np.abs(normals) + np.abs(laterals), axis=0), rel=1e-9, abs=1e-7)
    assert found.least_N == pytest.approx(np.min(normals, axis=0), rel=1e-9, abs=1e-7)


@given(LOADED, st.lists(st.floats(0.0, 1.0), min_size=5, max_size=5))
def test_a_tool_that_pushes_less_gives_nothing_worse(loaded: list, shares: list[float]) -> None:
    body = block_loads((0.0, 0.0, -50.0), (0.0, 0.0, 0.0), 0.1, 0.08)
    tools = tuple(block_loads(force, point, 0.1, 0.08) for force, point in loaded)
    found = extreme_loads(body, tools)
    normal = body.normal_N + sum(s * one.normal_N for s, one in zip(shares, tools, strict=False))
    lateral = body.lateral_N + sum(s * one.lateral_N for s, one in zip(shares, tools, strict=False))
    slack = 1e-9 * (1.0 + float(found.greatest_N.max()))
    assert (np.abs(normal) + np.abs(lateral) <= found.greatest_N + slack).all()
    assert (normal >= found.least_N - slack).all()


@given(st.lists(st.tuples(st.floats(0.0, 1e4), st.floats(0.01, 1e3)), min_size=1, max_size=6), st.floats(1.01, 5.0))
def test_the_mean_load_lies_between_and_wears_as_the_sequence_does(sequence: list, more: float) -> None:
    loads, ways = zip(*sequence, strict=True)
    mean_N = mean_load(loads, ways)
    assert min(loads) * (1.0 - 1e-12) <= mean_N <= max(loads) * (1.0 + 1e-12)
    assert mean_load([more * load for load in loads], ways) == pytest.approx(more * mean_N)
    if mean_N > 1.0:
        life_m = guide_life(1e4, mean_N).travel_m
        # Miner's rule: the shares of life that each load uses up add up to one over the life of all.
        used = sum(way / guide_life(1e4, load).travel_m for load, way in sequence if load > 1e-3)
        assert used == pytest.approx(sum(ways) / life_m, rel=1e-6)
        assert guide_life(1e4, more * mean_N).travel_m == pytest.approx(life_m / more**3)
