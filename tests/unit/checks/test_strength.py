"""The single formulas of strength: a case in other units, signs, and what they refuse."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pint
import pytest

from linewright.checks.strength import (
    BLOCKS,
    Body,
    ball_contact,
    block_loads,
    body_loads,
    cantilever_deflection,
    contact_modulus_Pa,
    guide_life,
    mean_load,
    rating_at_reference,
    single_carriage_load,
    static_safety,
    tool_deflection,
    two_rail_shares,
)

FRONT_LEFT, FRONT_RIGHT, REAR_LEFT, REAR_RIGHT = range(4)


def test_the_same_case_in_pounds_and_inches() -> None:
    unit = pint.UnitRegistry()
    press = (unit.Quantity(-240.0, "lbf"), unit.Quantity(31.0, "lbf"))  # up, along
    at = [unit.Quantity(value, "inch") for value in (0.75, -0.5, 3.25)]
    spacing, gauge, thrust = (unit.Quantity(value, "inch") for value in (4.0, 3.0, -0.4))
    # By hand in inches: the pitching moment is z Fx - x Fz - h Fx, the rolling one y Fz.
    pitch = at[2] * press[1] - at[0] * press[0] - thrust * press[1]
    roll, yaw = at[1] * press[0], -at[1] * press[1]
    front_left = -press[0] / 4 + pitch / (2 * spacing) - roll / (2 * gauge)
    found = block_loads(
        (press[1].to("N").magnitude, 0.0, press[0].to("N").magnitude),
        [value.to("m").magnitude for value in at],
        spacing.to("m").magnitude,
        gauge.to("m").magnitude,
        thrust.to("m").magnitude,
    )
    assert front_left.to("lbf").magnitude == pytest.approx(240 / 4 + (100.75 + 180 + 12.4) / 8 - 120 / 6)
    assert found.normal_N[FRONT_LEFT] == pytest.approx(front_left.to("N").magnitude, rel=1e-12)
    assert found.lateral_N[FRONT_LEFT] == pytest.approx((yaw / (2 * spacing)).to("N").magnitude, rel=1e-12)
    assert found.along_N == pytest.approx(31 * 4.4482216152605)


def test_the_signs_of_the_frame() -> None:
    ahead = block_loads((0, 0, -100), (0.02, 0, 0), 0.1, 0.08).normal_N
    assert ahead[FRONT_LEFT] > ahead[REAR_LEFT]
    left = block_loads((0, 0, -100), (0, 0.02, 0), 0.1, 0.08).normal_N
    assert left[FRONT_LEFT] > left[FRONT_RIGHT]
    pushed_left_above = block_loads((0, 40, 0), (0, 0, 0.1), 0.1, 0.08)
    assert pushed_left_above.normal_N[FRONT_LEFT] == pytest.approx(25.0)
    assert pushed_left_above.normal_N[FRONT_RIGHT] == pytest.approx(-25.0)
    assert pushed_left_above.lateral_N.tolist() == pytest.approx([10.0] * 4)
    turned = block_loads((0, 40, 0), (0.05, 0, 0), 0.1, 0.08).lateral_N
    assert turned.tolist() == pytest.approx([20.0, 20.0, 0.0, 0.0])
    speeding_up = body_loads((Body(10.0, 0.1),), 0.0, 0.0, (5.0, 0.0, 0.0))
    loads = block_loads(speeding_up.force_N, speeding_up.at_m, 0.2, 0.1)
    assert loads.normal_N[REAR_LEFT] - loads.normal_N[FRONT_LEFT] == pytest.approx(10.0 * 5.0 * 0.1 / 0.2)
    assert loads.along_N == pytest.approx(-50.0)


def test_a_thrust_at_the_height_of_the_mass_turns_nothing() -> None:
    own = body_loads((Body(10.0, 0.04),), 0.0, 0.04, (9.0, 0.0, 0.0))
    loads = block_loads(own.force_N, own.at_m, 0.2, 0.1, 0.04)
    assert loads.normal_N.tolist() == pytest.approx([10.0 * 9.80665 / 4] * 4)
    assert not loads.uplift


def test_drag_turns_the_carrier_by_the_height_of_the_thrust() -> None:
    own = body_loads((), 0.0, -0.01, friction_N=-20.0)
    loads = block_loads(own.force_N, own.at_m, 0.1, 0.08, -0.01)
    # The thrust of 20 N forward, 10 mm below the blocks, tips the carrier backwards: it presses on the front.
    assert loads.normal_N.tolist() == pytest.approx([-1.0, -1.0, 1.0, 1.0])


def test_uplift_worst_and_no_force_at_all() -> None:
    loads = block_loads((0, 0, -100), (0, 0.1, 0), 0.1, 0.08)
    assert loads.uplift
    assert loads.worst == "front-left" == BLOCKS[0]
    assert loads.equivalent_N.tolist() == pytest.approx([87.5, 37.5, 87.5, 37.5])
    nothing = block_loads([], [], 0.1, 0.08)
    assert not nothing.uplift
    assert nothing.normal_N.tolist() == [0.0] * 4


def test_deflection_in_each_direction_by_hand() -> None:
    stiff = (0.1, 0.08, 5e7, 4e7, 2e6)
    assert tool_deflection((30.0, 0, 0), (0, 0, 0), (0, 0, 0), *stiff).x_m == pytest.approx(30 / 2e6)
    assert tool_deflection((0, 30.0, 0), (0, 0, 0), (0, 0, 0), *stiff).y_m == pytest.approx(30 / 1.6e8)
    off = tool_deflection((0, 0, -100.0), (0.02, 0, 0), (0.02, 0, 0), *stiff)
    assert off.z_m == pytest.approx(-100 / 2e8 - 0.02 * (100 * 0.02) / (5e7 * 0.01))
    rolled = tool_deflection((0, 30.0, 0), (0, 0, 0.1), (0, 0, 0.1), *stiff)
    assert rolled.y_m == pytest.approx(30 / 1.6e8 + 0.1 * (30 * 0.1) / (5e7 * 0.0064))


NAN = math.nan
REFUSED: list[tuple[str, Callable[[], object]]] = [
    ("spacing_m", lambda: block_loads((0, 0, 1), (0, 0, 0), 0.0, 0.1)),
    ("gauge_m", lambda: block_loads((0, 0, 1), (0, 0, 0), 0.1, NAN)),
    ("thrust_height_m", lambda: block_loads((0, 0, 1), (0, 0, 0), 0.1, 0.1, math.inf)),
    ("force_N", lambda: block_loads((0, 0, NAN), (0, 0, 0), 0.1, 0.1)),
    ("at_m", lambda: block_loads((0, 0, 1), (0, NAN, 0), 0.1, 0.1)),
    ("shape", lambda: block_loads([(0, 0, 1), (0, 0, 1)], (0, 0, 0), 0.1, 0.1)),
    ("mass_kg", lambda: body_loads((Body(-1.0, 0.1),), 0.0, 0.0)),
    ("height_m", lambda: body_loads((Body(1.0, NAN),), 0.0, 0.0)),
    ("attraction_N", lambda: body_loads((), -1.0, 0.0)),
    ("acceleration_m_s2", lambda: body_loads((), 0.0, 0.0, (NAN, 0.0, 0.0))),
    ("friction_N", lambda: body_loads((), 0.0, 0.0, friction_N=NAN)),
    ("stiffness_N_m", lambda: tool_deflection((0, 0, 1), (0, 0, 0), (0, 0, 0), 0.1, 0.1, 0.0, 1e7, 1e6)),
    ("point_m", lambda: tool_deflection((0, 0, 1), (0, 0, 0), (NAN, 0, 0), 0.1, 0.1, 1e7, 1e7, 1e6)),
    ("static_rating_N", lambda: static_safety(0.0, 1.0)),
    ("load_N", lambda: static_safety(1.0, -1.0)),
    ("shock_factor", lambda: static_safety(1.0, 1.0, 0.9)),
    ("loads_N", lambda: mean_load([-1.0], [1.0])),
    ("travels_m", lambda: mean_load([1.0], [0.0])),
    ("values and travels_m", lambda: mean_load([1.0], [])),
    ("dynamic_rating_N", lambda: guide_life(NAN, 1.0)),
    ("load_N", lambda: guide_life(1.0, 0.0)),
    ("rating_travel_m", lambda: guide_life(1.0, 1.0, -1.0)),
    ("load_factor", lambda: guide_life(1.0, 1.0, 1.0, 0.0)),
    ("mean_speed_m_s", lambda: guide_life(1.0, 1.0).hours(0.0)),
    ("other_travel_m", lambda: rating_at_reference(1.0, 1.0, 0.0)),
    ("moment_Nm", lambda: single_carriage_load(1.0, NAN, 1.0, 1.0)),
    ("static_moment_Nm", lambda: single_carriage_load(1.0, 1.0, 1.0, 0.0)),
    ("pairs", lambda: two_rail_shares(1.0, 0, 0.1, 1.0)),
    ("gauge_m", lambda: two_rail_shares(1.0, 1, 0.1, 0.0)),
    ("thickness_m", lambda: cantilever_deflection(1.0, 1.0, 1.0, 1.0, -1.0)),
    ("force_N", lambda: cantilever_deflection(NAN, 1.0, 1.0, 1.0, 1.0)),
    ("poisson", lambda: contact_modulus_Pa(1.0, 0.6)),
    ("elasticity_Pa", lambda: contact_modulus_Pa(0.0, 0.3)),
    ("radius_m", lambda: ball_contact(1.0, 0.0, 1.0)),
    ("modulus_Pa", lambda: ball_contact(1.0, 1.0, NAN)),
]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case[0])
def test_impossible_figures_are_refused_by_name(case: tuple[str, Callable[[], object]]) -> None:
    name, call = case
    with pytest.raises(ValueError, match=name):
        call()


def test_results_do_not_change_what_was_given() -> None:
    force, at = np.array([[0.0, 0.0, -10.0]]), np.array([[0.01, 0.0, 0.0]])
    block_loads(force, at, 0.1, 0.1)
    assert force.tolist() == [[0.0, 0.0, -10.0]]
    assert at.tolist() == [[0.01, 0.0, 0.0]]


@pytest.mark.parametrize("load_N", [1e-166, 1e-3, 1e150])
def test_the_mean_of_equal_loads_is_that_load_however_small_or_great(load_N: float) -> None:
    assert mean_load([load_N, load_N], [0.3, 2.0]) == pytest.approx(load_N, rel=1e-12, abs=0.0)
    assert mean_load([0.0], [1.0]) == 0.0
