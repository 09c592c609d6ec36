"""The smallest admission that cures a line: proven, and cured it stays when it is written into the line file."""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import pytest

import linewright as lw
from agree.small_plans import Small, plan_of
from agree.small_routes import ONE, RING, SPUR, Shape
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.traffic.compile import compile_plan
from linewright.traffic.gridlock.cure import MOST_TRIED, PlanCure, find_cure, regions, with_admission
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.plan import TrafficPlan

SPUR_FILE = Path(__file__).parents[3] / "examples" / "locks" / "spur.yaml"


@functools.cache
def spur() -> Prover:
    line = lw.load(SPUR_FILE)
    return Prover(compile_plan(line, lay_out(line)))


@functools.cache
def spur_cure() -> tuple[PlanCure, int]:
    cure, tried = find_cure(spur())
    assert cure is not None
    return cure, tried


def small(carriers: int) -> TrafficPlan:
    """Two rounds with one place aboard in common, see `test_gridlock_ring`; a station on each."""
    return plan_of(Small("track", Shape((3, 3), SPUR), ((0, 0), (4, 1)), carriers))


# ---- where rules are looked for --------------------------------------------------------------------------------------


def test_regions_of_two_rounds() -> None:
    found = [(one.lanes, one.transfers, set(one.stops)) for one in regions(small(1))]
    assert found == [
        ((0,), (), {0, 1, 2}),
        ((1,), (), {4, 5, 6}),
        ((0,), (0,), {0, 1, 2, 3}),
        ((1,), (0,), {3, 4, 5, 6}),
    ]


def test_regions_never_take_the_whole_line() -> None:
    # Of one lane that closes on itself there is no part to be named; with a transfer the lane without it.
    assert list(regions(plan_of(Small("ring", Shape((4,), RING), ((1, 0), (3, 1)), 2)))) == []
    lane = plan_of(Small("loop", Shape((4,), ONE), ((1, 0), (2, 1)), 2))
    assert [(one.lanes, one.transfers) for one in regions(lane)] == [((0,), ())]
    two_way = plan_of(Small("two-way", Shape((4,), RING, True), ((0, 0), (3, 1)), 1))
    assert list(regions(two_way)) == []


def test_the_rule_is_one_stretch_more() -> None:
    plan = small(2)
    region = next(iter(regions(plan)))
    changed = with_admission(plan, region, 2)
    assert [(one.stops, one.most) for one in changed.general.admission] == [((0, 1, 2), 2)]
    assert with_admission(changed, region, 1).general.admission[0] == changed.general.admission[0]
    assert plan.general.admission == ()


# ---- the spur --------------------------------------------------------------------------------------------------------


def test_the_cure_of_the_spur_is_proven_and_the_most_that_is() -> None:
    cure, tried = spur_cure()
    assert 1 <= tried <= MOST_TRIED
    assert cure.from_any_placement
    cured = Prover(with_admission(spur().plan, cure.region, cure.most))
    assert cured.from_start().jams is False
    assert cured.from_any_placement().jams is False
    # One more locks again after a stop: as many as the ring of the spur needs.
    more = Prover(with_admission(spur().plan, cure.region, cure.most + 1), known=spur().reservations)
    assert more.from_any_placement().jams
    assert more.ring_of_placements is not None
    assert {node.stop for node in more.ring_of_placements.nodes} <= set(cure.region.stops)


@pytest.mark.long
def test_the_number_tried_is_that_of_all_rules_up_to_the_cure() -> None:
    plan = spur().plan
    cure, tried = spur_cure()
    at_zero = set(plan.first_stops.tolist())
    count = 0
    for region in regions(plan):
        # From a carrier less than the region or the line has room for, down to those that stand there at time zero.
        room = sum(plan.stop_station[stop] < 0 for stop in region.stops)
        highest, lowest = min(room, plan.carriers) - 1, max(len(at_zero & set(region.stops)), 1)
        if region == cure.region:
            assert tried == count + highest - cure.most + 1
            return
        tried_here = max(highest - lowest + 1, 0)
        proven = (
            n + 1
            for n in range(tried_here)
            if Prover(with_admission(plan, region, highest - n), known=spur().reservations).never_by_room
        )
        count += next(proven, tried_here)
    raise AssertionError("the cure's region is not among those looked at")


def test_written_into_the_line_file_it_never_locks() -> None:
    cure, _ = spur_cure()
    layout = lay_out(lw.load(SPUR_FILE))
    lanes = ", ".join(layout.lanes[lane].name for lane in cure.region.lanes)
    transfers = ", ".join(layout.transfers[one].name for one in cure.region.transfers)
    rule = f"admission:\n  spur: {{lanes: [{lanes}], transfers: [{transfers}], most: {cure.most}}}\n"
    line = read_line(f"{SPUR_FILE.read_text('utf-8')}\n{rule}", "cured spur")
    plan = compile_plan(line, lay_out(line))
    assert set(plan.general.admission[0].stops) == set(cure.region.stops)
    proof = Prover(plan)
    assert (proof.from_start().jams, proof.from_any_placement().jams) == (False, False)
    assert np.array_equal(plan.first_stops, spur().plan.first_stops)


@pytest.mark.long
def test_the_proof_names_the_cure_of_the_spur() -> None:
    cure, tried = spur_cure()
    found = lw.gridlock(lw.load(SPUR_FILE))
    assert found.outcome == "can lock"
    assert found.cures_tried == tried
    assert found.cure is not None
    assert (found.cure.most, found.cure.from_any_placement) == (cure.most, cure.from_any_placement)
    assert set(found.cure.lanes) == {"spur-out", "spur-back"}


# ---- none ------------------------------------------------------------------------------------------------------------


def test_a_ring_has_no_cure_and_none_is_tried() -> None:
    full = Prover(plan_of(Small("ring", Shape((4,), RING), ((1, 0), (3, 1)), 3)))
    assert full.from_start().jams
    assert find_cure(full) == (None, 0)
