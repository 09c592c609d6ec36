"""The quick ways of referee and worst contact against the plain ones: the same answers, whatever is left out."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.motion.profile import Limits
from linewright.traffic import dead_section as search
from linewright.traffic.closing import most_coasting, most_standing
from linewright.traffic.compile import compile_plan
from linewright.traffic.contact import Chases, Floats, Ints, brake, coasting_contact, standing_contact
from linewright.traffic.plan import NO_BOUND, TrafficPlan
from linewright.traffic.referee import Followed, follow_log, gaps, judge_followed, judge_log
from linewright.traffic.referee.keys import keys_of, kinds_of
from linewright.traffic.referee.order import row_of_pairs, sorted_pairs
from linewright.traffic.referee.profiles import integrate, table_of
from unit.layout.track_lines import branch_line, ring_line
from unit.traffic.test_referee import Moves, run, small

SLOW = "part: {mass: 50 g, held: {pocket: 1.5 m/s²}}"
TRACKS = ("small", "ring", pytest.param("branch", marks=pytest.mark.long))
REACTION, DRAG_N = 0.012, 0.6


@cache
def ran(track: str, cut_us: int = 0) -> tuple[Line, Layout, TrafficPlan, Moves, Followed]:
    """A run, with delays so much shorter than they have to be."""
    line, layout, plan = small()
    if track != "small":
        line = ring_line(300, 900, 2600, carriers=9, more=SLOW) if track == "ring" else branch_line(carriers=7)
        layout = lay_out(line)
        plan = compile_plan(line, layout)
    delays = np.where(plan.delay_us > NO_BOUND, plan.delay_us - cut_us, NO_BOUND).astype(np.int32)
    moves = run(replace(plan, delay_us=delays), 1.0)
    return line, layout, plan, moves, follow_log(line, layout, plan, moves)


# ---- who follows whom -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cut_us", [0, 300_000])
@pytest.mark.parametrize("track", [track for track in TRACKS if track != "ring"])
def test_carriers_in_a_row_are_paired_as_one_after_the_other(track: str, cut_us: int) -> None:
    _, layout, _, _, followed = ran(track, cut_us)
    visits, quick = followed.pairs.visits, 0
    for number, lane in enumerate(layout.lanes):
        here = np.flatnonzero((visits.lane == number) & (visits.begin_us < visits.end_us))
        here = here[visits.begin_us[here] <= followed.until_us]
        plain = sorted_pairs(lane, followed.log, visits, here, followed.until_us)
        row = row_of_pairs(followed.log, visits, here, followed.until_us)
        if row is not None:
            assert sorted(zip(*row, strict=True)) == sorted(zip(*plain, strict=True))
            quick += len(row[0])
    assert quick > 30 or cut_us


@pytest.mark.parametrize("change", ["comes in ahead", "leaves before"])
def test_carriers_not_in_a_row_are_told(change: str) -> None:
    _, _, _, _, followed = ran("small")
    visits = followed.pairs.visits
    here = np.flatnonzero(visits.lane == visits.lane[followed.pairs.follower[-1]])
    here = here[np.argsort(visits.begin_us[here], kind="stable")]
    assert row_of_pairs(followed.log, visits, here, followed.until_us) is not None
    k = int(np.flatnonzero(visits.begin_us[here[1:]] < visits.end_us[here[:-1]])[-1])
    if change == "leaves before":
        end = visits.end_us.copy()
        end[here[k + 1]] = end[here[k]] - 1
        other = replace(visits, end_us=end)
    else:
        place = visits.place_m.copy()
        place[here[k + 1]] += 100.0
        other = replace(visits, place_m=place)
    assert row_of_pairs(followed.log, other, here, followed.until_us) is None


@given(st.lists(st.tuples(*[st.integers(-(2**40), 2**40)] * 3), min_size=1, max_size=30), st.integers(1, 3))
@settings(max_examples=60)
def test_keys_tell_rows_apart_and_sort_as_they_do(rows: list[tuple[int, int, int]], used: int) -> None:
    rows = rows + rows[:2]
    columns = tuple(np.array([row[k] for row in rows], np.int64) for k in range(used))
    kinds = sorted({row[:used] for row in rows})
    assert [kinds.index(row[:used]) for row in rows] == kinds_of(columns)[1].tolist()
    assert [rows[k][:used] for k in np.argsort(keys_of(columns), kind="stable")] == sorted(row[:used] for row in rows)


# ---- the least gap and its second witness ---------------------------------------------------------------------------


@pytest.mark.parametrize("cut_us", [0, 300_000])
@pytest.mark.parametrize("track", TRACKS)
def test_a_grid_over_some_says_what_a_grid_over_all_says(
    track: str, cut_us: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    line, layout, plan, _, followed = ran(track, cut_us)
    every = judge_followed(line, layout, plan, followed)
    assert every.looked.witnessed == every.looked.exact > 10
    assert (every.count("gap") > 0) == (cut_us > 0 and track != "branch")
    monkeypatch.setattr(gaps, "NEAREST", 6)
    monkeypatch.setattr(gaps, "AT_RANDOM", 2)
    some = judge_followed(line, layout, plan, followed)
    assert some.looked.witnessed == 8
    assert some.looked.grid < every.looked.grid
    looked = replace(some.looked, grid=every.looked.grid, witnessed=every.looked.witnessed)
    assert replace(some, looked=looked) == every


@pytest.mark.parametrize("cut_us", [0, 300_000])
@pytest.mark.parametrize("track", TRACKS)
def test_the_least_gap_is_that_of_every_stretch_by_itself(track: str, cut_us: int) -> None:
    """No two stretches taken for the same, nothing left out: each on a grid of its own, finer where it is short."""
    line, layout, plan, _, followed = ran(track, cut_us)
    log, stretches = followed.log, followed.stretches
    least = np.inf
    for k in range(len(stretches.pair)):
        times = np.linspace(stretches.begin_us[k], stretches.end_us[k], 60)
        places = []
        for row, place in (
            (int(stretches.leader_row[k]), stretches.leader_m[k]),
            (int(stretches.follower_row[k]), stretches.follower_m[k]),
        ):
            gone = 0.0
            if row >= 0:
                number = np.full(60, log.profile[row])
                gone = log.sign[row] * log.table.position(number, (times - log.departure_us[row]) * 1e-6)
            places.append(place + gone)
        least = min(least, float(np.min(places[0] - places[1])))
    report = judge_followed(line, layout, plan, followed)
    assert report.least_gap is not None
    assert -1e-9 <= least - report.least_gap.distance_m <= 1e-4


def test_a_witness_that_disagrees_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    line, layout, plan, _, followed = ran("small")
    exactly = gaps.least_apart
    monkeypatch.setattr(gaps, "least_apart", lambda table, duets: (exactly(table, duets)[0] - 1e-3, duets.to_s))
    assert judge_followed(line, layout, plan, followed).count("witness") > 10


def test_a_log_read_once_is_judged_as_by_itself() -> None:
    line, layout, plan, moves, followed = ran("small")
    assert judge_followed(line, layout, plan, followed) == judge_log(line, layout, plan, moves)
    assert search.contact_of(line, layout, plan, followed) == search.worst_contact(line, layout, plan, moves)


# ---- the worst contact ----------------------------------------------------------------------------------------------


def chases_of(track: str) -> Chases:
    line, layout, _, _, followed = ran(track)
    return search._chases_of(line, layout, followed.log, followed.stretches)


def everywhere(chases: Chases, drag_N: float | None) -> Floats:
    """The greatest speed of contact of each pair of moves over all instants, none left out."""
    instants = search._instants(chases, REACTION)
    row, column = np.nonzero(np.isfinite(instants))
    speed = np.zeros(instants.shape)
    at = instants[row, column]
    if drag_N is None:
        speed[row, column] = standing_contact(chases, row, at, REACTION)[0]
    else:
        speed[row, column] = coasting_contact(chases, row, at, REACTION, drag_N)
    return np.asarray(speed.max(axis=1))


@pytest.mark.parametrize("drag_N", [None, DRAG_N])
@pytest.mark.parametrize("track", TRACKS)
def test_what_is_passed_over_is_no_worse(track: str, drag_N: float | None, monkeypatch: pytest.MonkeyPatch) -> None:
    chases = chases_of(track)
    plain = everywhere(chases, drag_N)
    most = most_standing(chases, REACTION) if drag_N is None else most_coasting(chases, REACTION, drag_N)
    assert (most >= plain).all()
    looked: set[int] = set()

    def speeds(number: Ints, time_s: Floats, above: Floats) -> Floats:
        looked.update(number.tolist())
        if drag_N is None:
            return standing_contact(chases, number, time_s, REACTION, above)[0]
        return coasting_contact(chases, number, time_s, REACTION, drag_N, above)

    monkeypatch.setattr(search, "FIRST_ROWS", 2)
    monkeypatch.setattr(search, "ROWS", 4)
    monkeypatch.setattr(search, "TRIED", 2)
    weight = np.sqrt(chases.follower_kg)
    quick = search._greatest(chases, speeds, REACTION, weight, most)
    passed_over = len(chases.follower) - len(looked)
    slow = search._greatest(chases, speeds, REACTION, weight, np.full(len(most), np.inf))
    assert len(looked) == len(chases.follower)
    assert quick == slow
    assert quick[0] >= (weight * plain).max() - 1e-9
    assert quick[0] == pytest.approx((weight * plain).max(), abs=2e-3)
    assert passed_over > 0


def step_by_step(chases: Chases, time_s: float, drag_N: float) -> tuple[float, float]:
    """The least way between the two from the loss of drive on, and their greatest difference of speed before they
    touch, in 4000 steps."""
    zero = np.zeros(4001, np.int64)
    at, pace, _ = (float(one[0]) for one in chases.table.state(chases.leader, np.array([time_s])))
    slowing = drag_N / float(chases.leader_kg[0])
    lost = time_s - float(chases.offset_s[0])
    state = chases.table.state(zero[:1], np.array([lost + REACTION]))
    braking = brake(*state, chases.braking_m_s2, chases.jerk_m_s3)
    until = REACTION + sum(float(one[0]) for one in braking.lengths_s)
    t = np.linspace(0.0, until, 4001)
    rolled = np.minimum(t, pace / slowing)
    leader = float(chases.ahead_m[0]) + at + rolled * (pace - 0.5 * slowing * rolled)
    driven = chases.table.state(zero, lost + np.minimum(t, REACTION))
    place, speed = braking.at(np.maximum(t - REACTION, 0.0))
    place, speed = np.where(t < REACTION, driven[0], place), np.where(t < REACTION, driven[1], speed)
    apart, faster = leader - place, speed - np.maximum(pace - slowing * rolled, 0.0)
    first = int(np.argmax(apart < 0.0)) if (apart < 0.0).any() else 4000
    return float(apart.min()), float(faster[: first + 1].max()) if apart.min() < 0.0 else 0.0


@given(
    st.tuples(st.floats(0.05, 1.5), st.floats(0.05, 1.5)),
    st.tuples(st.floats(0.3, 2.0), st.floats(0.3, 2.0)),
    st.tuples(st.floats(-0.5, 0.5), st.floats(0.0, 1.0), st.floats(0.002, 0.4)),
    st.sampled_from([0.3, 3.0, 30.0]),
)
@settings(max_examples=80)
def test_the_bounds_hold_for_any_two_moves(
    ways_m: tuple[float, float], speeds: tuple[float, float], rest: tuple[float, float, float], drag_N: float
) -> None:
    behind, ahead = (integrate(way, Limits(v, 9.0, 180.0)) for way, v in zip(ways_m, speeds, strict=True))
    offset, share, way = rest
    low, high = max(0.0, offset), min(ahead.duration_s, behind.duration_s + offset)
    if high <= low:
        return
    one, zero, time_s = np.ones(1), np.zeros(1, np.int64), low + share * (high - low)
    parts = offset * one, low * one, high * one, way * one, 0.7 * one, 0.5 * one, 9.0 * one, 180.0 * one
    chases = Chases(table_of([behind, ahead]), zero, zero + 1, *parts, zero, np.zeros(1, np.bool_))
    instant = np.array([time_s])
    stands = float(standing_contact(chases, zero, instant, REACTION)[0][0])
    coasts = float(coasting_contact(chases, zero, instant, REACTION, drag_N)[0])
    assert stands <= most_standing(chases, REACTION)[0]
    apart = way + chases.table.position(zero + 1, instant) - chases.table.position(zero, instant - offset)
    if apart[0] <= 0.0:
        return
    least, fastest = step_by_step(chases, time_s, drag_N)
    assert fastest <= most_coasting(chases, REACTION, drag_N)[0]
    if least < -1e-6:  # they touch, at a difference of speed that was reached before
        assert 0.0 <= coasts <= fastest + 0.02
        assert coasts > 0.0 or fastest < 0.02
    else:
        assert coasts <= fastest + 0.02
