"""Laws of one move, and of the delay between two."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from ruckig import InputParameter, Ruckig, Trajectory

from linewright.motion import (
    Candidate,
    DriveFigures,
    Limits,
    Move,
    curve_limits,
    move_times,
    plan_move,
    profile_table,
    pull_m_s2,
    start_delay_us,
    start_delays_us,
)
from linewright.motion.gaps import NO_BOUND

Times = npt.NDArray[np.float64]

PITCH = 0.265
TOLERANCE = 1e-9  # of docs/semantics.md, stated here again on purpose


def powers(low: float, high: float) -> st.SearchStrategy[float]:
    """Figures spread evenly over the orders of magnitude."""
    return st.floats(math.log10(low), math.log10(high)).map(lambda x: float(10.0**x))


FINITE = powers(2.0, 5000.0)
ANY_JERK = st.one_of(FINITE, st.just(math.inf))
ANY_LIMITS = st.builds(Limits, powers(0.05, 5.0), powers(0.2, 50.0), ANY_JERK, st.one_of(st.none(), powers(0.2, 50.0)))
DISTANCES = st.one_of(powers(1e-6, 30.0), st.just(0.0))
FACTORS = st.floats(1.0, 4.0)


# ---- one move --------------------------------------------------------------------------------------------------------


@given(DISTANCES, ANY_LIMITS)
def test_a_move_goes_on_and_ends_where_it_should(distance: float, given_limits: Limits) -> None:
    move = plan_move(distance, given_limits)
    positions = move.position_m(np.linspace(0.0, move.duration_s, 501))
    assert (np.diff(positions) >= -1e-14 * distance).all()
    assert positions[0] == 0.0
    assert positions[-1] == distance
    almost = move.position_m(move.duration_s * (1.0 - 1e-15))
    assert almost == pytest.approx(distance, rel=1e-13)


@given(DISTANCES, ANY_LIMITS)
def test_peaks_are_reached_and_stay_within_the_limits(distance: float, given_limits: Limits) -> None:
    move, hair = plan_move(distance, given_limits), 1.0 + 1e-12
    assert move.peak_speed_m_s <= given_limits.speed_m_s * hair
    assert move.peak_acceleration_m_s2 <= given_limits.acceleration_m_s2 * hair
    assert move.peak_deceleration_m_s2 <= given_limits.braking_m_s2 * hair
    times = np.linspace(0.0, move.duration_s, 501)
    speeds, accelerations = move.speed_m_s(times), move.acceleration_m_s2(times)
    assert speeds.max() <= move.peak_speed_m_s * hair
    assert accelerations.max() <= move.peak_acceleration_m_s2 * hair
    assert -accelerations.min() <= move.peak_deceleration_m_s2 * hair
    if distance > 0.0:
        assert move.speed_m_s(move.speeding_up.duration_s) == pytest.approx(move.peak_speed_m_s, rel=1e-9)


@given(DISTANCES, ANY_LIMITS)
def test_speed_is_the_slope_of_position_and_acceleration_that_of_speed(distance: float, given_limits: Limits) -> None:
    """Simpson's rule is exact for the parabolas of speed, and so for the straight lines of acceleration."""
    move = plan_move(distance, given_limits)
    for segment in move.segments:
        start = segment.start_s + 1e-9 * segment.duration_s
        times = np.array([start, start + 0.499 * segment.duration_s, start + 0.998 * segment.duration_s])
        way, speed, acceleration = move.position_m(times), move.speed_m_s(times), move.acceleration_m_s2(times)
        span, weights = times[2] - times[0], np.array([1.0, 4.0, 1.0]) / 6.0
        assert way[2] - way[0] == pytest.approx(span * weights @ speed, rel=1e-6, abs=1e-12 * distance)
        change = span * weights @ acceleration
        assert speed[2] - speed[0] == pytest.approx(change, rel=1e-6, abs=1e-9 * move.peak_speed_m_s)


@given(DISTANCES, ANY_LIMITS, st.tuples(FACTORS, FACTORS, FACTORS, FACTORS))
def test_smaller_limits_are_never_quicker(
    distance: float, given_limits: Limits, factors: tuple[float, float, float, float]
) -> None:
    smaller = Limits(
        given_limits.speed_m_s / factors[0],
        given_limits.acceleration_m_s2 / factors[1],
        given_limits.jerk_m_s3 / factors[2],
        given_limits.braking_m_s2 / factors[3],
    )
    quick, slow = plan_move(distance, given_limits).duration_s, plan_move(distance, smaller).duration_s
    assert slow >= quick * (1.0 - 1e-12)
    if distance > 0.0 and min(factors) > 1.01:
        assert slow > quick


@given(st.lists(DISTANCES, max_size=20), ANY_LIMITS)
def test_many_moves_take_what_each_takes(distances: list[float], given_limits: Limits) -> None:
    each = [plan_move(distance, given_limits).duration_s for distance in distances]
    assert move_times(distances, given_limits) == pytest.approx(np.array(each), rel=1e-13, abs=0.0)


@given(DISTANCES, ANY_LIMITS)
def test_the_case_without_a_jerk_limit_is_the_limit(distance: float, given_limits: Limits) -> None:
    figures = given_limits.speed_m_s, given_limits.acceleration_m_s2
    braking, jerk = given_limits.braking_m_s2, 1e12
    without = plan_move(distance, Limits(*figures, math.inf, braking)).duration_s
    hard = plan_move(distance, Limits(*figures, jerk, braking)).duration_s
    assert -1e-14 <= hard - without <= 2.0 * (figures[1] + braking) / jerk + 1e-14


@given(DISTANCES, ANY_LIMITS, powers(0.1, 10.0), powers(0.1, 10.0))
def test_time_and_length_scale(distance: float, given_limits: Limits, quicker: float, longer: float) -> None:
    """k times as quick and c times as long: speeds times c k, accelerations c k², jerks c k³, and T/k."""
    scaled = Limits(
        given_limits.speed_m_s * longer * quicker,
        given_limits.acceleration_m_s2 * longer * quicker**2,
        given_limits.jerk_m_s3 * longer * quicker**3,
        given_limits.braking_m_s2 * longer * quicker**2,
    )
    duration = plan_move(distance, given_limits).duration_s
    assert plan_move(distance * longer, scaled).duration_s == pytest.approx(duration / quicker, rel=1e-12)


@given(DISTANCES, ANY_LIMITS)
def test_braking_and_speeding_up_may_change_places(distance: float, given_limits: Limits) -> None:
    turned = Limits(
        given_limits.speed_m_s, given_limits.braking_m_s2, given_limits.jerk_m_s3, given_limits.acceleration_m_s2
    )
    move, mirrored = plan_move(distance, given_limits), plan_move(distance, turned)
    assert mirrored.duration_s == pytest.approx(move.duration_s, rel=1e-13)
    times = np.linspace(0.0, move.duration_s, 41)
    assert mirrored.position_m(times) == pytest.approx(distance - move.position_m(times[::-1]), abs=1e-12 * distance)


@given(powers(1e-6, 30.0), ANY_LIMITS, st.floats(0.0, 1.0))
def test_the_time_to_cover_is_the_inverse_of_the_position(distance: float, given_limits: Limits, share: float) -> None:
    move, way = plan_move(distance, given_limits), share * distance
    time = move.time_to_cover_s(way)
    assert 0.0 <= time <= move.duration_s
    assert move.position_m(time) == pytest.approx(way, abs=1e-14 * distance)
    near = 1e-12
    if move.speed_m_s(time) > 1e-3 * move.peak_speed_m_s and near < time < move.duration_s - near:
        assert move.position_m(time - near) <= way + 1e-15 * distance
        assert move.position_m(time + near) >= way - 1e-15 * distance


# ---- two moves -------------------------------------------------------------------------------------------------------


class Pair(NamedTuple):
    """Leader, follower and the lead, and the limits with which they were planned."""

    leader: Move
    follower: Move
    lead: float
    limits: tuple[Limits, Limits]

    def delay(self, more: float = 0.0, pitch: float = PITCH) -> int | None:
        return start_delay_us(self.leader, self.follower, self.lead + more, pitch)


@st.composite
def pairs(draw: st.DrawFn, alike: bool = False, jerk: st.SearchStrategy[float] = FINITE) -> Pair:
    """Two moves whose ends, and often whose starts, are a pitch or more apart."""
    usual = st.builds(Limits, powers(0.3, 3.0), powers(2.0, 20.0), jerk)
    first = draw(usual)
    second = first if alike else draw(usual)
    leader = plan_move(draw(powers(0.05, 4.0)), first)
    lead = draw(st.sampled_from([PITCH, 2 * PITCH, 3 * PITCH, draw(st.floats(PITCH, 2.0))]))
    if not alike:
        lead = draw(st.sampled_from([lead, lead, 0.0, draw(st.floats(-0.5, PITCH))]))
    most = lead + leader.distance_m - PITCH
    assume(most > 1e-3)
    way = most * draw(st.sampled_from([1.0, draw(st.floats(0.05, 1.0))]))
    if lead > PITCH and draw(st.integers(0, 2)) == 0:
        way = draw(st.floats(0.0, lead - PITCH))  # it never comes near the leader's start
    follower = plan_move(min(way, most), second)  # a product may round up
    return Pair(leader, follower, lead, (first, second))


def outside_positions(move: Move, given_limits: Limits) -> Callable[[Times], Times]:
    """The same move planned by another library and integrated here from its jerks alone."""
    asked = InputParameter(1)
    asked.current_position, asked.target_position = [0.0], [move.distance_m]
    asked.max_velocity, asked.max_acceleration = [given_limits.speed_m_s], [given_limits.acceleration_m_s2]
    asked.max_jerk = [given_limits.jerk_m_s3]
    trajectory = Trajectory(1)
    Ruckig(1).calculate(asked, trajectory)
    profile = trajectory.profiles[0][0]
    starts, states, time, x, v, a = [], [], 0.0, 0.0, 0.0, 0.0
    for t, j in zip(profile.t, profile.j, strict=True):
        starts.append(time)
        states.append((x, v, a, j))
        time, x, v, a = time + t, x + t * (v + t * (a / 2 + t * j / 6)), v + t * (a + t * j / 2), a + t * j
    table, end = np.array(states).T, move.distance_m

    def at(times: Times) -> Times:
        row = np.searchsorted(starts, np.clip(times, 0.0, time), side="right") - 1
        t = np.clip(times, 0.0, time) - np.array(starts)[row]
        x0, v0, a0, j0 = table[:, row]
        return np.where(times >= time, end, x0 + t * (v0 + t * (a0 / 2 + t * j0 / 6)))

    return at


def least_gap(ahead: Callable[[Times], Times], behind: Callable[[Times], Times], pair: Pair, delay_s: float) -> float:
    """By a grid, dense where either carrier starts or stops, refined round each of its valleys down to rounding."""
    end = pair.follower.duration_s
    near = np.concatenate([-np.logspace(-6, -1, 300), np.logspace(-6, -1, 300)])
    corners = [0.0, end, -delay_s, pair.leader.duration_s - delay_s]
    grid = np.unique(np.clip(np.concatenate([np.linspace(0.0, end, 4001), *(at + near for at in corners)]), 0.0, end))
    least = math.inf
    gaps = np.round(pair.lead + ahead(grid + delay_s) - behind(grid), 13)  # of a level stretch the ends only
    left, right = np.append(math.inf, gaps[:-1]), np.append(gaps[1:], math.inf)
    for valley in np.flatnonzero((gaps <= left) & (gaps <= right) & ((gaps < left) | (gaps < right))):
        low, high = grid[max(valley - 1, 0)], grid[min(valley + 1, len(grid) - 1)]
        for _ in range(3):
            fine = np.linspace(low, high, 401)
            values = pair.lead + ahead(fine + delay_s) - behind(fine)
            at = int(values.argmin())
            least = min(least, float(values[at]))
            low, high = fine[max(at - 1, 0)], fine[min(at + 1, 400)]
    return least


@given(pairs())
def test_the_delay_holds_the_gap_and_one_microsecond_less_does_not(pair: Pair) -> None:
    delay, held = pair.delay(), PITCH - TOLERANCE
    if delay is None:
        assert pair.follower.distance_m <= pair.lead - held
        return
    assert pair.follower.distance_m > pair.lead - held
    ahead = outside_positions(pair.leader, pair.limits[0])
    behind = outside_positions(pair.follower, pair.limits[1])
    gaps = [least_gap(ahead, behind, pair, (delay - less) * 1e-6) for less in (0, 1, 2)]
    rounding = 1e-12
    assert gaps[0] >= held - rounding
    assert gaps[1] < held + rounding
    # Two less is short by a whole microsecond of the leader's way, and no rounding hides that.
    assert gaps[2] < held


@given(pairs(alike=True, jerk=ANY_JERK))
def test_with_equal_limits_the_follower_never_waits(pair: Pair) -> None:
    delay = pair.delay()
    assert delay is None or delay <= 0


@given(pairs(jerk=ANY_JERK), st.floats(0.0, 0.2))
def test_more_room_never_asks_for_a_longer_delay(pair: Pair, more: float) -> None:
    near, roomy = pair.delay(), pair.delay(more)
    assert near is not None or roomy is None
    if near is not None and roomy is not None:
        assert roomy <= near
    if near is not None:
        assert pair.delay(more, PITCH + more) == pytest.approx(near, abs=1)


@given(st.lists(pairs(jerk=ANY_JERK), min_size=1, max_size=8))
def test_many_pairs_have_the_delays_of_each(found: list[Pair]) -> None:
    table = profile_table([move for pair in found for move in (pair.leader, pair.follower)])
    numbers = np.arange(len(found))
    together = start_delays_us(table, 2 * numbers, 2 * numbers + 1, [pair.lead for pair in found], PITCH)
    each = [pair.delay() for pair in found]
    assert together.tolist() == [NO_BOUND if delay is None else delay for delay in each]


def test_the_pairs_are_of_every_kind() -> None:
    """None of: no bound, follower first, follower later, is under a tenth of the pairs that the laws are tried on."""
    kinds: list[str] = []

    @settings(max_examples=400)
    @given(pairs())
    def collect(pair: Pair) -> None:
        delay = pair.delay()
        kinds.append("none" if delay is None else "first" if delay < 0 else "later")

    collect()
    shares = {kind: kinds.count(kind) / len(kinds) for kind in ("none", "first", "later")}
    assert min(shares.values()) >= 0.1, shares


# ---- curves ----------------------------------------------------------------------------------------------------------

DRIVES = st.builds(
    lambda speed, acceleration, jerk, force, share: DriveFigures(
        speed, acceleration, jerk, ((0.0, force), (share * speed, force), (1.2 * speed, 0.4 * force)), 1.0, 0.5
    ),
    powers(0.4, 4.0),
    powers(2.0, 30.0),
    powers(20.0, 900.0),
    powers(10.0, 200.0),
    st.floats(0.3, 1.0),
)


@settings(max_examples=40)
@given(powers(0.05, 8.0), DRIVES, powers(0.5, 30.0), powers(0.3, 3.0), powers(0.1, 1.5), FACTORS)
def test_the_hold_takes_acceleration_and_side_pull_at_every_instant(
    way: float, drive: DriveFigures, stands: float, curve_speed: float, radius: float, factor: float
) -> None:
    """And a firmer hold, a wider curve or a faster one never makes the move slower."""

    def move(stands: float, speed: float, radius: float) -> Move:
        hold = (Candidate("part hold (pocket)", "acceleration", stands, "test"),)
        return curve_limits(way, drive, 3.0, hold, speed, radius).move

    found = move(stands, curve_speed, radius)
    times = np.linspace(0.0, found.duration_s, 201)
    speeds, accelerations = found.speed_m_s(times), found.acceleration_m_s2(times)
    assert speeds.max() <= curve_speed * (1 + 1e-12)
    assert np.hypot(accelerations, speeds**2 / radius).max() <= stands * (1 + 1e-9)
    assert pull_m_s2(found.peak_acceleration_m_s2, found.peak_speed_m_s, radius) <= stands * (1 + 1e-9)
    for other in (
        move(stands * factor, curve_speed, radius),
        move(stands, curve_speed * factor, radius),
        move(stands, curve_speed, radius * factor),
    ):
        assert other.duration_s <= found.duration_s * (1 + 1e-9)
