"""Causes of small lines that can be followed by hand: the worked example of docs/causes.md, faster is slower, none."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from linewright.flow.causes import KINDS, CycleCauses, find_causes
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.marks import CAUSES
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.flow.run import Run, run_plan
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import FIXED, LOADED, Law, TrafficPlan

ROOT: Final = Path(__file__).parents[3]
PAGE: Final = (ROOT / "docs" / "causes.md").read_text("utf-8")
FASTER_IS_SLOWER: Final = (ROOT / "examples" / "faster-is-slower" / "line.yaml").read_text("utf-8")
LONG_US: Final = 1_500_000_000


def planned(text: str) -> tuple[Line, TrafficPlan]:
    line = read_line(text)
    return line, compile_plan(line, lay_out(line))


def changed(text: str, *changes: tuple[str, str]) -> str:
    """A line file with each first text, which stands there once, replaced by the second."""
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def with_work(plan: TrafficPlan, **times_s: float) -> TrafficPlan:
    """A plan with fixed works of some of its stations, whose names are written with _ for -."""
    work = list(plan.work)
    for name, time_s in times_s.items():
        work[plan.station_names.index(name.replace("_", "-"))] = Law(FIXED, round(time_s * 1e6))
    return replace(plan, work=tuple(work))


def logged(plan: TrafficPlan) -> Replication:
    luck = luck_of(plan, 1, 0)
    return run_once(plan, tables_of(plan), luck, LONG_US, LONG_US // 3, trace_from_us=0, with_chain=True)


def exact_cycle_us(run: Replication) -> Fraction:
    """The line cycle of a run that has become periodic: the shortest period that its second half keeps."""
    between = np.diff(np.sort(run.good[:, 1]))
    tail = between[len(between) // 2 :]
    parts = next(q for q in range(1, len(tail) // 3) if np.array_equal(tail[q:], tail[:-q]))
    return Fraction(int(tail[:parts].sum()), parts)


def cycle_us(plan: TrafficPlan) -> Fraction:
    return exact_cycle_us(logged(plan))


# ---- the worked example of the page ----------------------------------------------------------------------------------


def example() -> str:
    block = re.search(r"```yaml\n(linewright: 1\nname: Lid and seal.*?)```", PAGE, re.DOTALL)
    assert block is not None
    return block[1]


def table_after(heading: str) -> list[list[str]]:
    """The cells of the first table after a text of the page, its head left out."""
    _, found, rest = PAGE.partition(heading)
    assert found, heading
    rows = re.search(r"(?:^\|.*\n)+", rest, re.MULTILINE)
    assert rows is not None
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows[0].splitlines()[2:]]


@pytest.fixture(scope="module")
def sealed() -> Run:
    line, plan = planned(example())
    return run_plan(line, plan, hours=4.0, runs=2, seed=1, workers=1)


def test_the_page_names_every_kind() -> None:
    assert tuple(KINDS) == CAUSES
    assert [row[0] for row in table_after("## What a cause is")] == list(KINDS)


def test_the_chain_of_the_page_follows_from_the_plan() -> None:
    """No run: the figures are the file's, the sheet's and one move over a least pitch."""
    line, plan = planned(example())
    seal = plan.station_names.index("seal")
    stop = int(plan.station_stop[seal])
    links_us = {
        "work": round(line.station("seal").time.mean_s * 1e6),
        "exchange move": plan.move_time_us(LOADED, stop - 1, stop),
        "clear": int(plan.clear_us[seal]),
        "settling": int(plan.settling_us[seal]),
        "start handshake": plan.start_handshake_us,
        "reaction": plan.follow_us,
        "done handshake": plan.done_handshake_us,
    }
    whole_us = sum(links_us.values())
    assert cycle_us(plan) == whole_us
    printed = [[kind, "seal", f"{us / 1e6:.3f}", f"{100 * us / whole_us:.1f} %"] for kind, us in links_us.items()]
    assert table_after("The links of one round") == printed
    assert f"Together {whole_us / 1e6:.3f} s, {3600e6 / whole_us:.1f} good parts an hour" in PAGE


def test_a_run_shows_the_figures_of_the_page(sealed: Run) -> None:
    rows = sealed.cycle_causes.rows()[:7]
    shown = [[row["kind"], row["place"], f"{row['time_s']:.3f}"] for row in rows]
    assert sorted(shown) == sorted(row[:3] for row in table_after("The links of one round"))
    assert sealed.causes_cycle_s == pytest.approx(2.493683, abs=1e-6)
    assert not {row["place"] for row in rows} & {"load", "unload", "east-lift", "west-lift"}
    assert not (sealed.cycle_causes["kind"] == "prepare").any()


def test_a_slow_tool_takes_the_moves_out_of_the_causes() -> None:
    plan = planned(changed(example(), ("prepare: 0.15 s", "prepare: 0.55 s")))[1]
    assert cycle_us(plan) == 2_750_000
    assert "0.55 s of prepare, 0.2 s of clear: 2.750 s" in PAGE
    causes = find_causes(plan, [logged(plan)], 1, LONG_US // 3)
    large = {(row["kind"], row["place"]) for row in causes.table().rows() if row["share"] > 0.01}
    assert large == {("work", "seal"), ("prepare", "seal"), ("clear", "seal")}
    assert cycle_us(planned(changed(example(), ("prepare: 0.15 s", "prepare: 0.30 s")))[1]) == 2_500_000
    # 0.29 s of prepare and 0.2 s of clear end before the carrier has settled: it gains nothing to be shorter.
    assert cycle_us(planned(changed(example(), ("prepare: 0.15 s", "prepare: 0.29 s")))[1]) == 2_493_683


# ---- faster is slower ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def capping() -> TrafficPlan:
    """The plan of the example with eight carriers and form at 1.5 s."""
    return planned(FASTER_IS_SLOWER)[1]


def until_ready_us(plan: TrafficPlan, start: int, end: int, work_us: int) -> int:
    """From the leader's commitment until a loaded follower that waits at a stop has moved, settled, been worked on and
    released."""
    station = int(plan.stop_station[end])
    moved = plan.follow_us + plan.move_time_us(LOADED, start, end)
    settled = moved + int(plan.settling_us[station]) + plan.start_handshake_us
    return settled + work_us + int(plan.clear_us[station]) + plan.done_handshake_us


def test_a_faster_form_starts_the_near_tester_first_and_loses_every_fourth_test(capping: TrafficPlan) -> None:
    """Form at 1.5 s limits: work, release, reaction, move over a pitch, settling, start handshake.

    At 1.4 s carriers queue on the stops 10, 9, 8 before test-1 (11); 12 is the stop between the testers, 13 test-2.
    When both testers are free, the one on 10 goes to 13 and the one on 9 to 11 in one microsecond; the second has the
    shorter way, is ready first and goes on to 12; the one now on 10 takes 11 alone, as 13 is still taken. Only when it
    is ready again do two go in: three parts a round.
    """
    assert [int(plan_stop) for plan_stop in capping.stop_station[7:14]] == [1, -1, -1, -1, 2, -1, 3]
    form_us = until_ready_us(capping, 6, 7, 1_500_000)
    assert cycle_us(capping) == form_us == 1_793_683
    faster = with_work(capping, form=1.4)
    near_us, far_us = (until_ready_us(capping, *way, 3_000_000) for way in ((9, 11), (10, 13)))
    assert far_us - near_us == 72_535
    round_us = near_us + until_ready_us(capping, 10, 11, 3_000_000)
    assert cycle_us(faster) == Fraction(round_us, 3)
    assert round_us == 6_652_052


def test_the_log_shows_the_far_tester_empty_during_a_whole_test(capping: TrafficPlan) -> None:
    for form_s, halts, shares in ((1.5, 0, (1, 1)), (1.4, 1, (2, 1))):
        run = logged(with_work(capping, form=form_s))
        late = run.moves[run.moves[:, 1] > LONG_US // 2]
        left_near = late[late[:, 2] == 11]
        assert (left_near[:, 3] == 12).sum() == pytest.approx(halts * len(left_near) / 2, abs=1)
        works = run.works[run.works[:, 3] > LONG_US // 2]
        near, far = ((works[:, 0] == station).sum() for station in (2, 3))
        assert near / shares[0] == pytest.approx(far / shares[1], abs=2)


def test_causes_rank_form_and_a_paired_run_takes_it_back(capping: TrafficPlan) -> None:
    line = read_line(FASTER_IS_SLOWER)
    run = run_plan(line, capping, hours=0.5, runs=2, seed=1, workers=1)
    first = run.cycle_causes.rows()[0]
    assert (first["kind"], first["place"]) == ("work", "form")
    assert first["share"] > 0.83
    faster = run_plan(line, with_work(capping, form=1.4), hours=0.5, runs=2, seed=1, workers=1)
    assert run.rate is not None
    assert faster.rate is not None
    assert faster.rate.mean - run.rate.mean == pytest.approx(-383.4, abs=2.0)


def test_one_carrier_more_loses(capping: TrafficPlan) -> None:
    plans = {k: replace(with_work(capping, form=1.4), first_stops=capping.first_stops[:k]) for k in (6, 7, 8)}
    cycles = {k: cycle_us(plan) for k, plan in plans.items()}
    assert cycles[6] < cycles[7] == cycles[8]
    for form_s, k, cycle in (
        (1.5, 8, cycle_us(capping)),
        (1.4, 8, cycles[8]),
        (1.4, 6, cycles[6]),
        (1.4, 7, cycles[7]),
    ):
        row = [f"{form_s} s", f"{k}", f"{float(cycle) / 1e6:.3f} s", f"{float(3600e6 / cycle):.1f}"]
        assert row in table_after("shows how. Two leak testers")


def test_without_a_stop_between_the_testers_faster_is_faster() -> None:
    near = planned(changed(FASTER_IS_SLOWER, ("at: 1430 mm", "at: 1338 mm")))[1]
    assert len({int(stop) for stop in near.station_stop[2:4]} - {11, 12}) == 0  # rank by rank: nothing between
    assert cycle_us(near) == 1_793_683
    assert cycle_us(with_work(near, form=1.4)) == 1_693_683


NEARER_STOP: Final = """linewright: 1
name: Two stations and two carriers
conveyor: demo-light
lanes:
  upper: {length: 686 mm, from: west, to: east}
  lower: {length: 686 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 2
stations:
  first: {lane: upper, at: 460 mm, time: 0.81 s}
  second: {lane: upper, at: 552 mm, time: 0.35 s}
route: [first, second]
"""


def test_a_carrier_that_comes_earlier_reserves_a_nearer_stop() -> None:
    """Stops: 4 first, 5 second, 7 aboard east, 14 dock, 15 aboard west. Neither carrier ever waits for the other.

    With the quicker work a carrier is ready aboard east (7) while the west platform, which the other has left, is on
    its way home: the place aboard (15) cannot be reserved, the dock before it (14) can. It halts there and then boards.
    With 0.05 s more work the platform stands locked already, and it goes from 7 to 15 in one move.
    """
    plan = planned(NEARER_STOP)[1]
    empty = 0
    direct_us = plan.move_time_us(empty, 7, 15)
    halting_us = plan.move_time_us(empty, 7, 14) + plan.move_time_us(empty, 14, 15)
    assert halting_us - direct_us == 178_223
    at_stations_us = 2 * (int(plan.settling_us[0]) + plan.start_handshake_us + plan.done_handshake_us) + 810_000
    rides_us = int(plan.aboard_us.sum())
    others_us = plan.move_time_us(LOADED, 4, 5) + plan.move_time_us(empty, 5, 7) + plan.move_time_us(empty, 15, 4)
    cycles = []
    for work_us, way_us, ways in ((350_000, halting_us, {(7, 14), (14, 15)}), (400_000, direct_us, {(7, 15)})):
        run = logged(with_work(plan, second=work_us / 1e6))
        late = run.moves[run.moves[:, 1] > LONG_US // 2]
        assert {(int(a), int(b)) for a, b in late[:, 2:4] if 7 <= a < 15} == ways
        cycles.append(exact_cycle_us(run))
        assert cycles[-1] == Fraction(at_stations_us + work_us + others_us + rides_us + way_us, 2)
    assert cycles == [2_154_897, Fraction(4_181_571, 2)]


# ---- nothing to explain ----------------------------------------------------------------------------------------------


def test_a_run_without_two_good_parts_has_no_causes() -> None:
    line, plan = planned(example())
    run = run_plan(line, plan, hours=0.001, runs=2, seed=1, workers=1)
    assert run.good_per_run.max() < 2
    assert run.causes_cycle_s is None
    assert len(run.cycle_causes) == 0
    assert sum(row["all_s"] for row in run.cycle_causes_by_station.rows()) == 0.0
    assert [row["place"] for row in run.cycle_causes_by_station.rows()] == [
        *plan.station_names,
        *plan.transfer_names,
    ]


def test_rows_of_the_table_are_ordered_and_have_no_zeros() -> None:
    times_us = np.zeros((len(KINDS), 2), np.int64)
    times_us[0] = 3_000_000, 5_000_000
    times_us[10, 1] = -1_000_000
    times_us[3, 0] = 3_000_000
    causes = CycleCauses(times_us, ("a", "b"), parts=4, window_us=10_000_000)
    assert causes.cycle_s == 2.5
    assert causes.table().rows() == [
        {"kind": "work", "place": "b", "time_s": 1.25, "share": 0.5},
        {"kind": "work", "place": "a", "time_s": 0.75, "share": 0.3},
        {"kind": "prepare", "place": "a", "time_s": 0.75, "share": 0.3},
        {"kind": "travel", "place": "b", "time_s": -0.25, "share": -0.1},
    ]
    assert [row["all_s"] for row in causes.by_place().rows()] == [1.5, 1.0]
