"""The prover against the brute force, which goes through every state of small plans and was written apart from it.

Every plan of up to five stops in the short suite, of up to six in the long one; of two-way lanes, of which there are
many more, one in so many of the largest. See `agree.small_plans`.
"""

from __future__ import annotations

from collections import Counter

import pytest

from agree.brute_gridlock import brute_from_any_placement, brute_from_start
from agree.small_plans import LONG, SHORT, Small, family, plan_of, short_plans
from linewright.flow.gridlock import gridlock_of_plan
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.result import Answer

ALL_STATES = 100_000
PARTS = 12


def differing(plans: list[Small]) -> list[str]:
    """The plans of which prover and brute force do not say the same, to either question."""
    found = []
    for small in plans:
        plan = plan_of(small)
        prover = Prover(plan)
        start, anywhere = brute_from_start(plan, ALL_STATES), brute_from_any_placement(plan, ALL_STATES)
        assert start.complete
        assert anywhere.complete
        if (prover.from_start().jams, prover.from_any_placement().jams) != (start.jams, anywhere.jams):
            found.append(small.name)
    return found


def rows_of(rows: tuple[tuple[str, int, int], ...]) -> list[tuple[str, int, int]]:
    """The rows, largest first, so that two processes end together."""
    return sorted(rows, key=lambda row: -len(family(row[0], row[1])) / row[2])


@pytest.mark.parametrize("name, size, of", rows_of(SHORT))
def test_the_prover_says_what_all_states_say(name: str, size: int, of: int) -> None:
    plans = family(name, size)[::of]
    assert len(plans) > 50
    assert differing(plans) == []


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
@pytest.mark.parametrize("name, size, of", rows_of(LONG))
def test_the_prover_says_what_all_states_say_up_to_six_stops(name: str, size: int, of: int, part: int) -> None:
    plans = family(name, size)[::of][part::PARTS]
    assert len(plans) > 50
    assert differing(plans) == []


def stands_where_told(answer: Answer) -> bool:
    """Whether one who follows the way step by step comes to the jam as it is told."""
    at = {one.carrier: one.stop for one in answer.start}
    for step in answer.way:
        if step.kind == "put in":
            assert step.carrier not in at
            at[step.carrier] = step.start
        assert at[step.carrier] == step.start
        at[step.carrier] = step.stop
        if step.kind == "taken out":
            del at[step.carrier]
    jam = answer.jam
    assert jam is not None
    told = {one.carrier: one.stop for one in (*jam.ring, *jam.others)}
    return told == {carrier: stop for carrier, stop in at.items() if carrier not in jam.free}


def outcomes(plans: list[Small]) -> Counter[str]:
    """How the answers come out, each held to the brute force."""
    found: Counter[str] = Counter()
    for small in plans:
        plan = plan_of(small)
        result = gridlock_of_plan(plan)
        brute = brute_from_start(plan, ALL_STATES), brute_from_any_placement(plan, ALL_STATES)
        for answer, truth in zip((result.from_start, result.from_any_placement), brute, strict=True):
            found[answer.outcome] += 1
            assert (answer.outcome == "never locks") is (truth.jams is False), small.name
            assert (answer.jam is not None) is (answer.outcome == "can lock"), small.name
            if answer.jam is not None:
                assert answer.jam.ring, small.name
                assert stands_where_told(answer), small.name
                assert {one.stop for one in answer.jam.ring}.isdisjoint(one.stop for one in answer.jam.others), (
                    small.name
                )
    return found


@pytest.mark.long
def test_what_can_lock_was_shown_in_the_kernel() -> None:
    changing = [one for one in family("feature", 200) if one.general is not None and one.general.carrier_changes]
    found = outcomes([*short_plans(67), *changing])
    assert found["can lock"] > 10
    assert found["undecided"] <= 0.05 * found.total()


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_what_can_lock_was_shown_in_the_kernel_of_many_plans(part: int) -> None:
    found = outcomes(short_plans(2)[part::PARTS])
    assert found["can lock"] > 10
    assert found["undecided"] <= 0.05 * found.total()
