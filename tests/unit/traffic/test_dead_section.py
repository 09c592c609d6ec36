"""A section dies under a moving carrier: braking, contact with a leader that stands or coasts, the worst of a run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from linewright.checks.referee import AID, dead_section_findings
from linewright.layout import lay_out
from linewright.motion.limits import moving_mass_kg
from linewright.motion.profile import Limits
from linewright.traffic.compile import compile_plan
from linewright.traffic.contact import Chases, Floats, Ints, brake, coasting_contact, standing_contact
from linewright.traffic.dead_section import DeadSection, worst_contact
from linewright.traffic.referee.profiles import Profile, integrate, table_of
from unit.layout.track_lines import to_and_fro_line

SPEED, BRAKING, JERK, REACTION = 1.85, 14.0, 260.0, 0.012
CRUISE = integrate(4.0, Limits(SPEED, BRAKING, JERK))
STOP_M = SPEED**2 / (2 * BRAKING) + SPEED * BRAKING / (2 * JERK)
"""A ramp takes v/b + b/j and covers half of v times that."""


def chase(
    way_m: float, offset_s: float = 0.0, leader: Profile = CRUISE, follower: Profile = CRUISE, kg: float = 0.7
) -> Chases:
    """Two moves, the bodies `way_m` apart where they start."""
    one = np.ones(1)
    zero = np.zeros(1, np.int64)
    return Chases(
        table=table_of([follower, leader]),
        follower=zero,
        leader=zero + 1,
        offset_s=offset_s * one,
        from_s=0.0 * one,
        to_s=leader.duration_s * one,
        ahead_m=way_m * one,
        follower_kg=kg * one,
        leader_kg=kg * one,
        braking_m_s2=follower.limits.braking_m_s2 * one,
        jerk_m_s3=follower.limits.jerk_m_s3 * one,
        stretch=zero,
        reverse=np.zeros(1, np.bool_),
    )


def stands(chases: Chases, time_s: float, reaction_s: float = REACTION) -> tuple[float, float]:
    speed, left = standing_contact(chases, np.zeros(1, np.int64), np.array([time_s]), reaction_s)
    return float(speed[0]), float(left[0])


# ---- by hand --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gap_m", [0.001, 0.02, 0.05, 0.1, 0.15, 0.17, 0.19, 0.3])
def test_both_at_one_speed_and_the_leader_stands_at_once(gap_m: float) -> None:
    """Speed v, gap g: the way v t is gone before it brakes. While the deceleration b is held the energy that is left is
    that of braking over the way that is left; over the last b³/(6 j²) the jerk j alone takes the speed off."""
    speed, left = stands(chase(gap_m), 1.0)
    assert left == pytest.approx(gap_m - SPEED * REACTION - STOP_M, abs=1e-12)
    rest_m = STOP_M - (gap_m - SPEED * REACTION)
    end_m, end_speed = BRAKING**3 / (6 * JERK**2), BRAKING**2 / (2 * JERK)
    if rest_m <= 0.0:
        assert speed == 0.0
    elif gap_m <= SPEED * REACTION:
        assert speed == pytest.approx(SPEED, abs=1e-12)
    elif rest_m <= end_m:
        assert speed == pytest.approx(0.5 * JERK * (6 * rest_m / JERK) ** (2 / 3), rel=1e-9)
    elif rest_m <= STOP_M - (SPEED * BRAKING / JERK - end_m):
        assert speed == pytest.approx((end_speed**2 + 2 * BRAKING * (rest_m - end_m)) ** 0.5, rel=1e-9)
    else:
        # The first change of deceleration: v t - j t³/6 is the way gone, v - j t²/2 the speed.
        gone = [t.real for t in np.roots([-JERK / 6, 0.0, SPEED, SPEED * REACTION - gap_m]) if abs(t.imag) < 1e-12]
        first = min(t for t in gone if t >= 0.0)
        assert first <= BRAKING / JERK
        assert speed == pytest.approx(SPEED - 0.5 * JERK * first**2, rel=1e-9)


def test_a_leader_that_stands_bounds_one_that_coasts() -> None:
    number, instant = np.zeros(1, np.int64), np.array([1.0])
    for gap_m in (0.001, 0.05, 0.15):
        worst = stands(chase(gap_m), 1.0)[0]
        for drag_N in (0.0, 0.6, 5.0, 500.0):
            coasts = coasting_contact(chase(gap_m), number, instant, REACTION, drag_N)[0]
            assert 0.0 <= coasts < worst
    # At one speed only a drag that slows harder than the drive brakes brings the two together.
    assert coasting_contact(chase(0.05), number, instant, REACTION, 0.6)[0] == 0.0
    assert coasting_contact(chase(0.05), number, instant, REACTION, 500.0)[0] > 0.5


# ---- against an integration of the equations of motion --------------------------------------------------------------


@given(st.floats(0.0, 2.3), st.floats(-1.0, 1.0), st.floats(2.0, 15.0), st.floats(50.0, 400.0))
def test_braking_ends_at_rest_and_keeps_its_limits(speed: float, share: float, most: float, jerk: float) -> None:
    """From any state on a move: while it slows, v is at least a²/(2 j)."""
    start = share * most
    speed = max(speed, start * start / (2 * jerk))
    braking = brake(*(np.array([one]) for one in (0.0, speed, start, most, jerk)))
    x, v, a, j, length = (float(one[0]) if isinstance(one, np.ndarray) else one for one in braking.stretches()[-1])
    assert v + length * (a + length * j / 2) == pytest.approx(0.0, abs=1e-9)
    assert a + length * j == pytest.approx(0.0, abs=1e-9)
    assert all(float(part[0]) >= 0.0 for part in braking.lengths_s)
    assert all(float(np.min(part[2])) >= -most - 1e-9 for part in braking.stretches())
    assert float(braking.end_m[0]) >= x - 1e-12


def equations(chases: Chases, time_s: float, drag_N: float | None) -> float:
    """The contact speed by integrating both carriers' motion; a leader that stands at once where no drag is given."""
    number = np.zeros(1, np.int64)
    at, pace, _ = (float(one[0]) for one in chases.table.state(chases.leader, np.array([time_s])))
    slowing = 0.0 if drag_N is None else drag_N / float(chases.leader_kg[0])
    lost = time_s - float(chases.offset_s[0])
    starts = chases.table.starts_s[0]

    def jerk_at(t: float) -> float:
        k = int(np.clip(np.searchsorted(starts, t, "right") - 1, 0, 6))
        return float(chases.table.jerk_m_s3[0, k]) if starts[0] <= t < starts[-1] else 0.0

    state = [float(one[0]) for one in chases.table.state(number, np.array([lost]))]
    stages = sorted({0.0, REACTION, *(float(t) - lost for t in starts if 0.0 < t - lost < REACTION)})
    wall, head = float(chases.ahead_m[0]) + at, 0.0 if drag_N is None else pace
    y = np.array([*state, wall, head])

    def apart(_: float, y: Floats) -> float:
        return float(y[3] - y[0])

    apart.terminal = True  # type: ignore[attr-defined]
    apart.direction = -1  # type: ignore[attr-defined]
    begin = 0.0
    for end in [*stages[1:], None]:
        if end is None:
            brakes = brake(
                *(np.array([one]) for one in (*y[:3], float(chases.braking_m_s2[0]), float(chases.jerk_m_s3[0])))
            )
            pieces = list(zip([float(one[0]) for one in brakes.lengths_s], [-JERK, 0.0, JERK], strict=True))
        else:
            pieces = [(end - begin, jerk_at(lost + 0.5 * (begin + end)))]
            begin = end
        for length, jerk in pieces:

            def motion(_: float, y: Floats, jerk: float = jerk) -> list[float]:
                return [y[1], y[2], jerk, max(y[4], 0.0), -slowing if y[4] > 0.0 else 0.0]

            if length <= 0.0:
                continue
            done = solve_ivp(motion, (0.0, length), y, events=apart, rtol=1e-11, atol=1e-12, max_step=length / 20)
            y = done.y[:, -1]
            if len(done.t_events[0]):
                return float(y[1] - max(y[4], 0.0))
    return 0.0


@pytest.mark.parametrize(
    ("time_s", "offset_s", "way_m", "drag_N"),
    [
        (1.0, 0.0, 0.05, None),
        (0.06, 0.0, 0.02, None),
        (2.2, -0.02, 0.1, None),
        (0.9, 0.0, 0.05, 40.0),
        (0.12, -0.4, 0.75, 0.6),
        (0.2, -0.3, 0.5, 0.6),
        (1.3, -0.05, 0.11, 9.0),
    ],
)
def test_contact_is_that_of_the_equations_of_motion(
    time_s: float, offset_s: float, way_m: float, drag_N: float | None
) -> None:
    chases, number, instant = chase(way_m, offset_s), np.zeros(1, np.int64), np.array([time_s])
    if drag_N is None:
        speed = stands(chases, time_s)[0]
    else:
        speed = float(coasting_contact(chases, number, instant, REACTION, drag_N)[0])
    assert speed == pytest.approx(equations(chases, time_s, drag_N), abs=1e-6)


# ---- of a run -------------------------------------------------------------------------------------------------------


def one_behind_the_other(lag_us: int) -> tuple[DeadSection | None, float]:
    """Two carriers on a lane; the one ahead goes 600 mm on, the other follows over as much."""
    line = to_and_fro_line(300, 1100, carriers=2)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    stops = {round(stop.travel_m, 6): stop.index for stop in layout.stops}
    places = sorted(stops)
    behind, ahead = places[0], places[2]
    ends = min(places, key=lambda x: abs(x - behind - 0.55)), min(places, key=lambda x: abs(x - ahead - 0.65))
    plan = replace(plan, first_stops=np.array([stops[ahead], stops[behind]]))
    moves = np.array(
        [
            [0, 0, stops[ahead], stops[ends[1]], 900_000, 0],
            [1, lag_us, stops[behind], stops[ends[0]], 900_000 + lag_us, 0],
        ]
    )
    return worst_contact(line, layout, plan, moves, until_us=5_000_000), moving_mass_kg(line, False)


def test_the_worst_instant_of_a_run_is_found() -> None:
    dead, mass_kg = one_behind_the_other(0)
    assert dead is not None
    assert dead.pairs == 1
    assert dead.reaction_s == REACTION
    assert dead.least_drag_N == 0.6
    worst = dead.standing
    assert worst is not None
    assert (worst.follower, worst.leader, worst.lane) == (1, 0, "bed")
    assert worst.section >= 1
    assert worst.energy_J == pytest.approx(0.5 * mass_kg * worst.speed_m_s**2)
    assert dead.left_m == 0.0
    if dead.coasting is not None:
        assert dead.coasting.speed_m_s < worst.speed_m_s


def test_no_instant_is_worse_than_the_one_found() -> None:
    chases = chase(0.05, -0.03)
    from linewright.traffic.dead_section import _greatest  # the search itself

    def speeds(number: Ints, time_s: Floats, above: Floats) -> Floats:
        return standing_contact(chases, number, time_s, REACTION, above)[0]

    found, pair, when = _greatest(chases, speeds, REACTION, np.ones(1), np.full(1, np.inf))
    instants = np.linspace(0.0, CRUISE.duration_s, 40_001)
    dense = standing_contact(chases, np.zeros(40_001, np.int64), instants, REACTION)[0]
    assert pair == 0
    assert 0.0 < when < CRUISE.duration_s
    assert found == pytest.approx(dense.max(), abs=1e-5)
    assert found >= dense.max() - 1e-9


def test_far_enough_behind_nothing_touches() -> None:
    dead, _ = one_behind_the_other(360_000)
    if dead is not None and dead.standing is None:
        assert dead.left_m > 0.0
    number = np.zeros(1, np.int64)
    assert stands(chase(STOP_M + SPEED * REACTION + 0.001), 1.0) == (0.0, pytest.approx(0.001, abs=1e-12))
    assert coasting_contact(chase(0.3), number, np.array([1.0]), REACTION, 0.6)[0] == 0.0


def test_carriers_that_never_move_at_once_give_nothing() -> None:
    dead, _ = one_behind_the_other(2_000_000)
    assert dead is None
    line = to_and_fro_line(300, 1100, carriers=2)
    assert dead_section_findings(dead, line) == ()


def test_the_finding_is_information_and_never_holds() -> None:
    dead, _ = one_behind_the_other(0)
    findings = dead_section_findings(dead, to_and_fro_line(300, 1100, carriers=2))
    assert [one.code for one in findings] == ["dead-section", "dead-section"]
    assert {one.verdict for one in findings} == {"not checked"}
    assert {one.remedy for one in findings} == {AID}
    assert all(one.limit is None and one.value is not None and one.unit == "J" for one in findings)
