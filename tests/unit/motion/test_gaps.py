"""Delays that can be worked out on paper, the errors, and the compiled form without its compiler."""

from __future__ import annotations

import math
import os
import subprocess
import sys

import numpy as np
import pytest

from linewright.motion import Limits, plan_move, profile_table, start_delay_us, start_delays_us
from linewright.motion.gaps import NO_BOUND

PITCH = 0.1
QUICK = Limits(2.0, 10.0, math.inf)
LIGHT = Limits(1.85, 14.0, 260.0)


def test_a_train_leaves_together() -> None:
    """Equal moves a pitch apart: any lead in time would close the gap at full speed."""
    for limits in (QUICK, LIGHT):
        move = plan_move(0.7, limits)
        assert start_delay_us(move, move, PITCH, PITCH) == 0


def test_two_pitches_apart_the_follower_may_leave_first() -> None:
    """Both cruise at v: the spare pitch is made up in (pitch + 1e-9)/v; the cruise is longer than that."""
    move = plan_move(2.0, QUICK)
    assert start_delay_us(move, move, 2 * PITCH, PITCH) == math.ceil(-(PITCH + 1e-9) / 2.0 * 1e6)


def test_behind_a_slow_leader_the_follower_waits() -> None:
    """With equal braking and no jerk limit they come nearest where the follower has slowed to the leader's speed.

    From there on both brake alike, a pitch apart: they arrive together, but for 1e-9 m at the leader's speed.
    """
    leader, follower = plan_move(1.0, Limits(0.5, 10.0, math.inf)), plan_move(1.0, QUICK)
    exact = leader.duration_s - follower.duration_s - 1e-9 / 0.5
    assert start_delay_us(leader, follower, PITCH, PITCH) == math.ceil(exact * 1e6)


def test_where_the_follower_ends_on_the_leaders_start() -> None:
    """Nose to tail: the follower arrives where the leader was as the leader's way has reached the pitch."""
    leader, follower = plan_move(1.0, QUICK), plan_move(0.5, Limits(0.2, 10.0, math.inf))
    delay = start_delay_us(leader, follower, 0.5, PITCH)
    assert delay is not None
    # Until the leader moves the follower may come up to the pitch; from there on the slow follower needs no more room.
    near = follower.time_to_cover_s(0.4 + 1e-9)
    assert -near * 1e6 <= delay <= (-near + 0.03) * 1e6


def test_no_bound_where_the_follower_stays_a_pitch_off() -> None:
    leader = plan_move(1.0, QUICK)
    assert start_delay_us(leader, plan_move(0.5, QUICK), 0.6, PITCH) is None
    assert start_delay_us(leader, plan_move(0.5 + 0.9e-9, QUICK), 0.6, PITCH) is None
    assert start_delay_us(leader, plan_move(0.5 + 2e-9, QUICK), 0.6, PITCH) is not None
    assert start_delay_us(plan_move(0.0, QUICK), plan_move(0.5, QUICK), 0.6, PITCH) is None


def test_from_the_leaders_own_start_the_follower_waits_for_a_pitch() -> None:
    """From one place: the leader must have gone a pitch before the follower leaves, and a slow one needs no more."""
    leader = plan_move(1.0, QUICK)
    resting = plan_move(0.0, QUICK)
    gone = leader.time_to_cover_s(PITCH - 1e-9)
    assert start_delay_us(leader, resting, 0.0, PITCH) == math.ceil(gone * 1e6)
    assert start_delay_us(leader, plan_move(0.9, Limits(0.5, 5.0, math.inf)), 0.0, PITCH) == math.ceil(gone * 1e6)
    further = leader.time_to_cover_s(PITCH + 0.3 - 1e-9)
    assert start_delay_us(leader, resting, -0.3, PITCH) == math.ceil(further * 1e6)


def test_ends_closer_than_the_pitch_are_refused() -> None:
    leader, follower = plan_move(1.0, QUICK), plan_move(1.0 + 1e-9, QUICK)
    with pytest.raises(ValueError, match="the moves end"):
        start_delay_us(leader, follower, PITCH, PITCH)
    table = profile_table([leader, follower])
    with pytest.raises(ValueError, match="the moves end"):
        start_delays_us(table, [0, 0], [0, 1], [PITCH, PITCH], PITCH)
    assert start_delay_us(leader, plan_move(1.0 + 1e-15, QUICK), PITCH, PITCH) == 0


@pytest.mark.parametrize("pitch", [0.0, -0.1, math.nan, math.inf])
def test_a_pitch_must_be_positive(pitch: float) -> None:
    move = plan_move(1.0, QUICK)
    with pytest.raises(ValueError, match="pitch_m"):
        start_delay_us(move, move, 0.5, pitch)
    with pytest.raises(ValueError, match="pitch_m"):
        start_delays_us(profile_table([move]), [0], [0], [0.5], pitch)


def test_the_table_of_a_move_is_its_segments_and_then_rest() -> None:
    moves = [plan_move(way, limits) for way, limits in ((1.0, LIGHT), (0.01, LIGHT), (1.0, QUICK), (0.0, LIGHT))]
    table = profile_table(moves)
    assert table.shape == (4, 8, 5)
    assert np.isfinite(table).all()
    for rows, move in zip(table, moves, strict=True):
        count = len(move.segments)
        assert rows[:count, 0].tolist() == [segment.start_s for segment in move.segments]
        assert (rows[count:] == [move.duration_s, move.distance_m, 0.0, 0.0, 0.0]).all()


def test_pairs_of_no_moves_and_wrong_numbers() -> None:
    table = profile_table([plan_move(1.0, LIGHT)])
    assert start_delays_us(table, [], [], [], PITCH).tolist() == []
    for leader, follower, lead in (
        ([1], [0], [0.1]),
        ([0], [-1], [0.1]),
        ([0, 0], [0], [0.1]),
        ([[0]], [[0]], [[0.1]]),
    ):
        with pytest.raises(ValueError, match="must be"):
            start_delays_us(table, leader, follower, lead, PITCH)
    with pytest.raises(ValueError, match="shape"):
        start_delays_us(table[:, :7], [0], [0], [0.1], PITCH)
    with pytest.raises(ValueError, match="nan"):
        start_delays_us(table, [0], [0], [math.nan], PITCH)


def test_many_random_pairs_have_the_delays_of_each() -> None:
    random = np.random.default_rng(7)
    jerks = [120.0, 260.0, math.inf]
    moves = [
        plan_move(float(random.choice([0.1, 0.2, 0.7, random.uniform(0.01, 4.0)])),
                  Limits(random.uniform(0.3, 3.0), random.uniform(1.0, 20.0), jerks[int(random.integers(3))]))
        for _ in range(60)
    ]  # fmt: skip
    leaders, followers = random.integers(60, size=(2, 1500))
    leads = random.choice([PITCH, 2 * PITCH, 0.0, 0.37, -0.2, 1.1], 1500)
    ends = np.array([move.distance_m for move in moves])
    fit = leads + ends[leaders] - ends[followers] >= PITCH
    leaders, followers, leads = leaders[fit], followers[fit], leads[fit]
    together = start_delays_us(profile_table(moves), leaders, followers, leads, PITCH)
    each = [
        start_delay_us(moves[leader], moves[follower], float(lead), PITCH)
        for leader, follower, lead in zip(leaders, followers, leads, strict=True)
    ]
    assert len(each) > 500
    assert together.tolist() == [NO_BOUND if delay is None else delay for delay in each]


ONE_BY_ONE = """
import sys
from linewright.motion import Limits, plan_move, profile_table, start_delays_us
assert "numba" not in sys.modules
table = profile_table([plan_move(way, Limits(1.85, 14.0, 260.0)) for way in (0.1, 0.4, 1.3)])
print(start_delays_us(table, [0, 1, 2, 2, 1], [0, 1, 1, 2, 0], [0.1, 0.2, 0.3, 0.1, 0.6], 0.1).tolist())
"""


def test_the_compiled_form_needs_no_compiler() -> None:
    """And numba is not loaded before it is needed."""
    answers = [
        subprocess.run([sys.executable, "-c", ONE_BY_ONE], env={**os.environ, "NUMBA_DISABLE_JIT": off}, check=True,
                       capture_output=True, text=True, timeout=120).stdout
        for off in ("0", "1")
    ]  # fmt: skip
    assert answers[0] == answers[1]
    assert answers[0].count(",") == 4
    assert str(NO_BOUND) in answers[0]
