"""The referee: it passes what the program runs, and finds what is made wrong in plan, kernel or log."""

from __future__ import annotations

import ast
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agree.random_lines import random_line
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.profile import Limits, plan_move
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import NO_BOUND, TrafficPlan
from linewright.traffic.referee import RefereeReport, judge_log
from linewright.traffic.referee.gaps import Duets, least_apart, least_on_grid
from linewright.traffic.referee.profiles import integrate, table_of
from linewright.traffic.referee.report import KINDS, MOST_LISTED
from unit.layout.track_lines import LINK_M, branch_line, line_of, ring_line, straight_on_line, to_and_fro_line

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
ALL: Final = sorted(
    path for path in EXAMPLES.rglob("*.yaml") if path.parent.name in ("demo", "two-lane", "ways", "briefs")
)
SHORT: Final = ("demo/line", "ways/branch", "ways/carrier-changes", "ways/going-on", "ways/ring", "ways/two-place-lift")
MINUTE_US: Final = 60_000_000
Moves = np.ndarray[tuple[int, int], np.dtype[np.int64]]


def run(plan: TrafficPlan, minutes: float, seed: int = 1) -> Moves:
    """The moves of one replication, from time zero."""
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of

    horizon_us = int(minutes * MINUTE_US)
    return run_once(plan, tables_of(plan), luck_of(plan, seed, 0), horizon_us, horizon_us, trace_from_us=0).moves.copy()


@cache
def small() -> tuple[Line, Layout, TrafficPlan]:
    """Two short lanes, two lifts, two stations; loaded carriers are slower, so that those behind must wait for them."""
    line = line_of(
        "part: {mass: 50 g, held: {pocket: 1.5 m/s²}}",
        "lanes:",
        "  upper: {length: 736 mm, from: west, to: east}",
        "  lower: {length: 736 mm, from: east, to: west, level: -400 mm}",
        "transfers:",
        "  east: {kind: lift, takes: upper, gives: lower}",
        "  west: {kind: lift, takes: lower, gives: upper}",
        "stations:",
        "  load: {lane: upper, at: 300 mm, time: 0.4 s}",
        "  test: {lane: lower, at: 400 mm, time: 0.9 s}",
        "route: [load, test]",
        carriers=5,
    )
    layout = lay_out(line)
    return line, layout, compile_plan(line, layout)


def judged(line: Line, minutes: float) -> RefereeReport:
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    return judge_log(line, layout, plan, run(plan, minutes))


def kinds(report: RefereeReport) -> set[str]:
    return {kind for kind, number in report.violated if number}


# ---- what runs ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_small_run_is_clean(kind: str) -> None:
    line, layout, plan = small()
    report = judge_log(line, layout, plan, run(plan, 0.5))
    found = [one for one in report.violations if one.kind == kind]
    assert found == []
    looked = report.looked
    assert min(looked.moves, looked.exact, looked.grid, looked.stops, looked.crossings, looked.reactions_exact) > 10


def clean(path: Path, minutes: float) -> None:
    line = load_line(path)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    report = judge_log(line, layout, plan, run(plan, minutes))
    assert report.violations == ()
    assert report.least_gap is not None
    assert report.least_gap.spare_m >= -1e-9
    assert report.looked.moves > 5
    assert report.looked.reactions_exact > 0
    assert (report.looked.crossings > 0) == bool(layout.transfers)
    assert all(
        most <= transfer.places for (_, most), transfer in zip(report.most_aboard, layout.transfers, strict=True)
    )


@pytest.mark.parametrize("name", SHORT)
def test_the_referee_passes_examples(name: str) -> None:
    clean(EXAMPLES / f"{name}.yaml", 1.5)


@pytest.mark.long
@pytest.mark.parametrize("path", ALL, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_referee_passes_every_example(path: Path) -> None:
    clean(path, 30.0)


@pytest.mark.parametrize("number", [3, 177, *(pytest.param(n, marks=pytest.mark.long) for n in range(101, 177))])
def test_the_referee_passes_random_lines(number: int) -> None:
    report = judged(random_line(number).read(), 1.0)
    assert report.violations == ()
    assert report.looked.moves > 0


@pytest.mark.parametrize(
    "line",
    [ring_line(300, 900, 2600, carriers=5), branch_line(), straight_on_line(), to_and_fro_line(300, 1100, carriers=1)],
    ids=["ring", "branch", "straight-on", "to-and-fro"],
)
def test_the_referee_passes_other_tracks(line: Line) -> None:
    report = judged(line, 2.0)
    assert report.violations == ()
    assert report.looked.moves > 20


def test_the_referee_passes_a_way_straight_on_over_a_platform_that_need_not_ride() -> None:
    """The transfer in the middle takes the first lane straight on to the second, and a spur beside it."""
    second_mm = 1104.0 + 1000.0 * LINK_M
    line = line_of(
        "lanes:",
        "  first: {length: 1104 mm, from: west, to: east}",
        "  spur: {length: 1104 mm, from: west, to: east, across: 300 mm}",
        f"  second: {{length: 1104 mm, from: west, to: east, west_end: {second_mm:.10g} mm}}",
        f"  back: {{length: {second_mm + 1104:.10g} mm, from: east, to: west, across: 600 mm}}",
        "transfers:",
        "  middle: {kind: cross-transfer, takes: [first, spur], gives: second}",
        "  east: {kind: cross-transfer, takes: second, gives: back}",
        "  west: {kind: cross-transfer, takes: back, gives: [first, spur]}",
        "stations:",
        "  a: {lane: first, at: 500 mm, time: 0.3 s}",
        "  b: {lane: spur, at: 500 mm, time: 0.3 s}",
        "  c: {lane: second, at: 1800 mm, time: 0.2 s}",
        "route: [[a, b], c]",
        carriers=6,
    )
    report = judged(line, 2.0)
    assert report.violations == ()
    assert report.looked.straight_on > 10


# ---- a third witness: everybody's place every 2 ms ------------------------------------------------------------------


def least_by_places(moves: Moves, seconds: float) -> float:
    """The least distance round the loop's axis of two carriers that follow each other, from their places every 2 ms."""
    line, layout, plan = small()
    times = np.arange(0, int(seconds * 1e6), 2_000)
    places = []
    for carrier, first in enumerate(plan.first_stops.tolist()):
        place = np.full(len(times), layout.stops[first].axis_m)
        gone, last = 0.0, layout.stops[first].axis_m
        own = moves[moves[:, 0] == carrier]
        for _, departure, start, end, _, load in own[np.argsort(own[:, 1])].tolist():
            way = (layout.stops[end].axis_m - layout.stops[start].axis_m) % layout.loop_m
            move = plan_move(way, leg_limits(line, bool(load), way, False).limits)
            after = times >= departure
            place[after] = last + gone + move.position_m((times[after] - departure) * 1e-6)
            gone += way
        places.append(place)
    order = np.argsort(-plan.first_stops)
    ahead = [(places[order[k - 1]] - places[order[k]]) % layout.loop_m for k in range(len(order))]
    return float(min(one.min() for one in ahead))


@pytest.mark.parametrize("cut_us", [0, 300_000])
def test_no_pair_is_overlooked(cut_us: int) -> None:
    """The axis goes on over the two platforms between the lanes; there carriers are farther apart than a pitch."""
    line, layout, plan = small()
    bounds = plan.delay_us > NO_BOUND
    moves = run(replace(plan, delay_us=np.where(bounds, plan.delay_us - cut_us, NO_BOUND).astype(np.int32)), 0.4)
    report = judge_log(line, layout, plan, moves, until_us=24_000_000)
    assert report.least_gap is not None
    witness = least_by_places(moves, 24.0)
    assert witness == pytest.approx(report.least_gap.distance_m, abs=1e-4)
    assert witness >= report.least_gap.distance_m - 1e-9


# ---- what is made wrong in what runs --------------------------------------------------------------------------------


def test_a_reaction_cut_by_60_ms_is_found() -> None:
    line, layout, plan = small()
    report = judge_log(line, layout, plan, run(replace(plan, follow_us=plan.follow_us - 60_000), 1.0))
    assert "reaction" in kinds(report)
    assert report.least_reaction_s == 0.0  # nobody departs before its own commitment


def test_a_reaction_cut_by_1_us_is_found() -> None:
    line, layout, plan = small()
    report = judge_log(line, layout, plan, run(replace(plan, follow_us=plan.follow_us - 1), 1.0))
    assert kinds(report) == {"reaction"}


def test_delays_cut_break_the_gap() -> None:
    line, layout, plan = small()
    bounds = plan.delay_us > NO_BOUND
    cut = replace(plan, delay_us=np.where(bounds, plan.delay_us - 300_000, NO_BOUND).astype(np.int32))
    report = judge_log(line, layout, plan, run(cut, 1.0))
    assert report.count("gap") > 0
    assert report.least_gap is not None
    assert report.least_gap.spare_m < -1e-3
    assert report.grid_spare_m == pytest.approx(report.least_gap.spare_m, abs=2e-5)


@pytest.mark.parametrize("track", ["ring", "branch"])
def test_delays_cut_break_the_gap_on_other_tracks(track: str) -> None:
    slow = "part: {mass: 50 g, held: {pocket: 1.5 m/s²}}"
    line = ring_line(300, 900, 2600, carriers=9, more=slow) if track == "ring" else branch_line(carriers=7, more=slow)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    assert judge_log(line, layout, plan, run(plan, 1.0)).violations == ()
    bounds = plan.delay_us > NO_BOUND
    cut = replace(plan, delay_us=np.where(bounds, plan.delay_us - 300_000, NO_BOUND).astype(np.int32))
    report = judge_log(line, layout, plan, run(cut, 1.0))
    assert kinds(report) == {"gap"}
    assert report.least_gap is not None
    assert report.least_gap.distance_m < 0.5 * layout.pitch_m


@pytest.mark.parametrize("name", ["home_us", "aboard_us", "rear_us"])
def test_a_crossing_onto_or_off_a_moving_platform_is_found(name: str) -> None:
    line, layout, plan = small()
    cut = replace(plan, **{name: np.maximum(getattr(plan, name) - 2_000, 0)})
    report = judge_log(line, layout, plan, run(cut, 1.0))
    assert kinds(report) == {"transfer"}
    for one in report.violations:
        assert one.value is not None
        assert one.limit is not None
        assert one.limit - one.value == pytest.approx(0.002)


def test_two_carriers_that_begin_at_one_stop_are_found() -> None:
    line, layout, plan = small()
    first = plan.first_stops.copy()
    first[2] = first[1]
    doubled = replace(plan, first_stops=first)
    report = judge_log(line, layout, doubled, run(doubled, 0.2))
    assert {"stop", "gap"} <= kinds(report)


def test_a_move_quicker_than_its_limits_is_found() -> None:
    line, layout, plan = small()
    quick = replace(plan, move_us=np.where(plan.move_us > 0, plan.move_us - 2, plan.move_us))
    assert kinds(judge_log(line, layout, plan, run(quick, 0.5))) == {"log"}


# ---- what is made wrong in the log ----------------------------------------------------------------------------------


def changed(row: int, column: int, by: int) -> RefereeReport:
    line, layout, plan = small()
    moves = run(plan, 0.5)
    moves = moves[np.argsort(moves[:, 1], kind="stable")]
    moves[row, column] += by
    return judge_log(line, layout, plan, moves)


def test_a_log_whose_moves_do_not_follow_on_one_another_is_no_log() -> None:
    line, layout, plan = small()
    moves = run(plan, 0.5)
    assert "log" in kinds(judge_log(line, layout, plan, np.delete(moves, 12, axis=0)))
    assert "log" in kinds(changed(0, 2, -1))
    assert kinds(changed(-1, 4, 2)) == {"log"}


def test_two_carriers_at_one_stop_are_found_in_the_log() -> None:
    line, layout, plan = small()
    moves = run(plan, 0.5)
    moves = moves[np.lexsort((moves[:, 1], moves[:, 0]))]
    # Let a carrier stay where it waits for a second longer than it did: the next comes to it.
    own = np.flatnonzero((moves[1:, 0] == moves[:-1, 0]) & (plan.stop_kind[moves[1:, 2]] == 1)) + 1
    row = int(own[0])
    late = moves.copy()
    late[row:, [1, 4]] += np.where(moves[row:, 0] == moves[row, 0], 1_000_000, 0)[:, None]
    assert "stop" in kinds(judge_log(line, layout, plan, late))


def test_a_stop_that_is_not_there_is_no_move() -> None:
    line, layout, plan = small()
    row = np.array([[0, 0, int(plan.first_stops[0]), plan.stops + 3, 200_000, 0]])
    report = judge_log(line, layout, plan, row)
    assert kinds(report) == {"log"}
    assert report.looked.moves == 0


def test_nothing_looked_at_is_said() -> None:
    line, layout, plan = small()
    report = judge_log(line, layout, plan, np.zeros((0, 6), np.int64))
    assert report.looked.moves == report.looked.crossings == report.looked.reactions == 0
    assert report.use is None
    assert report.least_reaction_s is None


def test_what_comes_after_the_log_is_not_judged() -> None:
    """The next departs for a stop, and the log ends before the departure that makes room there."""
    line, layout, plan = small()
    moves = run(plan, 0.5)
    moves = moves[np.argsort(moves[:, 1], kind="stable")]
    for end in range(20, len(moves), 7):
        until_us = int(moves[end - 1, 1])
        kept = moves[moves[:, 1] <= until_us]
        assert judge_log(line, layout, plan, kept).violations == ()
        assert judge_log(line, layout, plan, kept, until_us).until_us == until_us


def test_violations_are_all_counted_and_few_are_listed() -> None:
    line, layout, plan = small()
    report = judge_log(line, layout, plan, run(replace(plan, follow_us=0), 2.0))
    assert report.count("reaction") > MOST_LISTED
    assert len([one for one in report.violations if one.kind == "reaction"]) == MOST_LISTED


def test_the_referee_knows_nothing_of_what_it_judges() -> None:
    """Neither rules nor kernel, nor the delays that the plan was made with."""
    folder = Path(judge_log.__code__.co_filename).parent
    names = {
        node.module or ""
        for path in sorted(folder.glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom)
    }
    assert "linewright.traffic.plan" in names
    kept_out = ("linewright.flow", "linewright.traffic.rules", "linewright.traffic.legs", "linewright.motion.gaps")
    assert [name for name in sorted(names) if name.startswith(kept_out)] == []


# ---- the referee's own integration and minimum ----------------------------------------------------------------------

Figures = tuple[float, float, float, float]
Signs = tuple[int, int]
FIGURES = st.tuples(st.floats(0.05, 4.0), st.floats(0.5, 2.5), st.floats(2.0, 15.0), st.floats(50.0, 400.0))


@given(FIGURES)
def test_a_profile_is_the_quickest_move(figures: Figures) -> None:
    distance, limits = figures[0], Limits(*figures[1:])
    profile, move = integrate(distance, limits), plan_move(distance, limits)
    times = np.linspace(-0.1, profile.duration_s + 0.1, 301)
    place, speed, _ = table_of([profile]).state(np.zeros(301, np.int64), times)
    assert profile.duration_s == pytest.approx(move.duration_s, abs=1e-9)
    assert np.abs(place - move.position_m(times)).max() < 1e-9
    assert np.abs(speed - move.speed_m_s(times)).max() < 1e-7
    assert all(used <= allowed * (1 + 1e-9) for used, allowed in zip(profile.peaks, figures[1:], strict=True))


@given(FIGURES, FIGURES, st.floats(-1.0, 1.0), st.sampled_from([(1, 1), (1, -1), (-1, -1)]))
def test_the_exact_minimum_is_that_of_dense_samples(one: Figures, other: Figures, offset: float, signs: Signs) -> None:
    profiles = [integrate(figures[0], Limits(*figures[1:])) for figures in (one, other)]
    table = table_of(profiles)
    low = max(0.0, offset)
    high = max(min(profiles[1].duration_s, profiles[0].duration_s + offset), low)
    number, (lead, follow) = np.zeros(1, np.int64), (np.array([sign]) for sign in signs[::-1])
    begins, ends = np.array([low]), np.array([high])
    duets = Duets(number, number + 1, follow, lead, np.array([offset]), begins, ends)
    least, when = least_apart(table, duets)
    times = np.linspace(low, high, 20_001)
    dense = duets.apart(table, times, np.zeros(20_001, np.int64)).min()
    step = (high - low) / 20_000
    assert low - 1e-12 <= when[0] <= high + 1e-12
    assert duets.apart(table, when, number)[0] == pytest.approx(least[0], abs=1e-10)
    assert -1e-10 <= dense - least[0] <= 0.5 * (one[2] + other[2]) * step**2 + 1e-10
    grid, samples = least_on_grid(table, duets)
    assert samples == int((high - low) / 1e-3) + 2
    assert -1e-10 <= grid[0] - least[0] <= 0.5 * (one[2] + other[2]) * 1e-6 + 1e-10
