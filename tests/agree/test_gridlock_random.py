"""Random lines of up to forty stops and twenty carriers: what the kernel meets was called, what was called was shown.

Three of four are random lines of `agree.random_lines`, the others plans with every feature of `agree.random_general`.
Each jam that the kernel meets with its own luck was called `can lock`; each `can lock` was led into its jam by the
prover itself (else it is `undecided`); how many are undecided is held down.
"""

from __future__ import annotations

import dataclasses
from collections import Counter

import numpy as np
import pytest

from agree.random_general import random_plan
from agree.random_lines import random_line
from linewright.flow.gridlock import gridlock_of_plan
from linewright.flow.gridlock.replay import state_of
from linewright.flow.kernel.general.luck import general_luck_of
from linewright.flow.kernel.run import run_beyond
from linewright.layout import lay_out
from linewright.traffic.compile import compile_plan
from linewright.traffic.gridlock.decide import Effort, Prover
from linewright.traffic.plan import TrafficPlan

MOST_STOPS, MOST_CARRIERS = 40, 20
EFFORT = Effort(states=20_000, settled=2_000, tries=20, steps=200, placements=100)
QUICK = Effort(states=1_000, settled=300, tries=3, steps=60, placements=20)
HOUR_US = 3_600_000_000
LAST_US = 900_000_000
PARTS, EACH = 25, 400
UNDECIDED = 0.05


def plan_of_number(number: int) -> TrafficPlan:
    """The random plan of a number, from its planned start."""
    if number % 4:
        line = random_line(number).read()
        return compile_plan(line, lay_out(line))
    drawn = random_plan(number // 4)
    plan = drawn.plan
    start = plan.general.start
    if start is None:
        return plan
    first = np.array(start.stops) if "to and fro" in drawn.features else plan.first_stops
    return dataclasses.replace(plan, first_stops=first, general=dataclasses.replace(plan.general, start=None))


def stands_in_a_jam(plan: TrafficPlan, seed: int) -> bool:
    """Whether the kernel, with its own luck, has carriers in a jam after an hour, which have not moved for long."""
    luck = general_luck_of(plan, seed, 0)
    found = run_beyond(plan, luck, HOUR_US, HOUR_US, trace_from_us=HOUR_US - LAST_US)
    assert found.beyond is not None
    seen = found.beyond.snapshot
    prover = Prover(plan)
    variants: tuple[int, ...] = ()
    if plan.general.variants:
        carrier = {int(load): k for k, load in enumerate(seen.load.tolist())}
        variants = tuple(luck.variant(load, carrier.get(load, 0)) for load in range(seen.next_load + 1))
    stuck = prover.system.stuck(state_of(prover.system, seen, variants, seen.next_load))
    still = set(np.flatnonzero(seen.on_line).tolist()) - set(found.moves[:, 0].tolist())
    return any(int(seen.stop[carrier]) in stuck for carrier in still)


def judged(numbers: range, effort: Effort = EFFORT) -> Counter[str]:
    """How many plans have which outcome; every jam of the kernel is held to it."""
    counts: Counter[str] = Counter()
    for number in numbers:
        plan = plan_of_number(number)
        if plan.stops > MOST_STOPS or plan.carriers > MOST_CARRIERS:
            continue
        answer = gridlock_of_plan(plan, effort).from_start
        counts[answer.outcome] += 1
        assert (answer.jam is not None) is (answer.outcome == "can lock"), number
        if stands_in_a_jam(plan, seed=1):
            counts["the kernel jams"] += 1
            assert answer.outcome == "can lock", number
    return counts


def test_random_lines_that_lock_were_called() -> None:
    counts = judged(range(0, 80, 4), QUICK)
    assert counts["can lock"] > 2
    assert counts["the kernel jams"] > 1


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_ten_thousand_random_lines(part: int) -> None:
    counts = judged(range(part * EACH, (part + 1) * EACH))
    decided = counts["never locks"] + counts["can lock"]
    assert counts["can lock"] > 0.04 * decided
    assert counts["undecided"] < UNDECIDED * (decided + counts["undecided"]), counts
