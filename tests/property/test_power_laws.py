"""Laws of power: nothing is lost, more copper never hurts, more carriers never help."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.checks import power
from linewright.motion import Limits, plan_move

QUICK = settings(max_examples=40, deadline=None)
watts = st.lists(st.floats(0.0, 200.0), min_size=1, max_size=8)


@QUICK
@given(
    net=st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=60),
    most=st.one_of(st.floats(0.0, 40.0), st.just(math.inf)),
)
def test_what_comes_back_is_used_held_or_burnt(net: list[float], most: float) -> None:
    found = power.supply_bins(np.array(net), most)
    left_J = found.supply_J.sum() - found.resistor_J - sum(net)
    assert (found.supply_J >= 0.0).all()
    assert found.resistor_J >= 0.0
    assert 0.0 <= found.held_J <= most
    assert -1e-9 <= left_J <= found.held_J + 1e-9  # what is left in the capacitors at the end


@QUICK
@given(
    net=st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=60),
    most=st.floats(0.0, 40.0),
    more=st.floats(0.0, 40.0),
)
def test_larger_capacitors_never_draw_more(net: list[float], most: float, more: float) -> None:
    small, large = power.supply_bins(np.array(net), most), power.supply_bins(np.array(net), most + more)
    assert large.supply_J.sum() <= small.supply_J.sum() + 1e-9
    assert large.resistor_J <= small.resistor_J + 1e-9


@QUICK
@given(loads=watts, factor=st.floats(0.1, 1.0), ohm=st.floats(0.0, 0.05))
def test_thicker_conductors_and_less_load_never_lower_the_far_end(
    loads: list[float], factor: float, ohm: float
) -> None:
    runs, draws = np.full(len(loads), ohm), np.array(loads)
    chain = power.chain_voltages(48.0, runs, draws)
    for better in (power.chain_voltages(48.0, runs * factor, draws), power.chain_voltages(48.0, runs, draws * factor)):
        assert better.far_end_V >= chain.far_end_V - 1e-9
    if chain.delivered:
        assert (np.diff(chain.node_V) <= 1e-12).all()
        np.testing.assert_allclose(48.0 * chain.head_A, draws.sum() + chain.loss_W.sum(), rtol=1e-9, atol=1e-9)
        assert chain.head_A <= power.feeder_current_A(48.0, np.array([draws.sum()]), runs.sum())[0] + 1e-9


@QUICK
@given(
    lengths=st.lists(st.floats(0.05, 2.0), min_size=1, max_size=8),
    pitch=st.floats(0.05, 0.6),
    carriers=st.integers(0, 60),
)
def test_carriers_stand_where_they_can_and_as_far_as_they_can(
    lengths: list[float], pitch: float, carriers: int
) -> None:
    stand = power.farthest_loads(np.array(lengths), pitch, carriers)
    most = math.floor(sum(lengths) / pitch + 1e-9) + 1
    assert stand.sum() == min(carriers, most)
    assert (stand >= 0).all()
    assert (stand <= np.floor(np.array(lengths) / pitch) + 1).all()


@QUICK
@given(
    way=st.floats(0.01, 3.0),
    jerk=st.one_of(st.floats(20.0, 500.0), st.just(math.inf)),
    mass=st.floats(0.2, 20.0),
    friction=st.floats(0.0, 5.0),
    share=st.floats(0.0, 1.0),
)
def test_energy_of_a_move_is_friction_work_and_copper(
    way: float, jerk: float, mass: float, friction: float, share: float
) -> None:
    """Kinetic energy comes back: the net of a whole move is friction times way and copper loss, in closed form."""
    move = plan_move(way, Limits(1.6, 9.0, jerk, 7.0))
    energy = power.move_energy(move, mass, friction, 8.0, 2.0)
    copper = 0.0
    for piece in move.segments:
        a, b = mass * piece.acceleration_m_s2 + friction, mass * piece.jerk_m_s3
        t = piece.duration_s
        copper += (a * a * t + a * b * t * t + b * b * t**3 / 3.0) * 2.0 / 64.0
    net_J = friction * way + copper
    assert math.isclose(energy.net_J[-1], net_J, rel_tol=1e-9, abs_tol=1e-12)
    assert energy.drawn_J >= energy.net_J[-1] >= 0.0
    at = np.array([share * move.duration_s])
    assert -1e-12 <= energy.back_until_J(at)[0] <= energy.back_J[-1] + 1e-12


@QUICK
@given(
    mass=st.floats(0.1, 30.0),
    speed=st.floats(0.1, 4.0),
    most=st.floats(0.5, 30.0),
    friction=st.floats(0.0, 10.0),
    share=st.floats(0.01, 1.0),
)
def test_no_stop_gives_back_more_than_the_worst(
    mass: float, speed: float, most: float, friction: float, share: float
) -> None:
    worst = power.worst_braking_return(mass, speed, most, friction, 9.0, 2.0)
    one = power.braking_return(mass, speed, share * most, friction, 9.0, 2.0)
    assert one.energy_J <= worst.energy_J * (1.0 + 1e-9) + 1e-12
    assert one.peak_W <= worst.peak_W * (1.0 + 1e-9) + 1e-12
    assert worst.energy_J <= 0.5 * mass * speed**2 * (1.0 + 1e-12)


@QUICK
@given(
    start=st.floats(10.0, 60.0), energy=st.floats(0.0, 80.0), peak=st.floats(0.0, 2000.0), farad=st.floats(1e-3, 0.1)
)
def test_a_resistor_never_raises_the_voltage_and_a_smaller_one_helps(
    start: float, energy: float, peak: float, farad: float
) -> None:
    alone = power.braking_voltage_V(start, energy, peak, farad)
    some = [power.braking_voltage_V(start, energy, peak, farad, start * 1.1, ohm) for ohm in (1.0, 5.0, 25.0)]
    assert start <= some[0] <= some[1] <= some[2] <= alone
    assert power.held_J(start, alone, farad) <= energy * (1.0 + 1e-9) + 1e-9
