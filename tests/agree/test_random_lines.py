"""The random lines reach every feature, and what the features are for really happens in the reference model's runs."""

from __future__ import annotations

import dataclasses
from collections import Counter
from pathlib import Path
from typing import Final

import pytest

from agree.agreed_cases import plan_of
from agree.given_luck import GivenLuck, write_down
from agree.random_lines import coverage as coverage_of
from agree.random_lines import random_line
from agree.reference_case import Leg, ReferenceCase
from agree.reference_model import ReferenceRun, from_plan, run
from agree.reference_states import STATES
from agree.test_kernel import plan_of_random_line
from agree.test_reference_cases import AGREED, BY_HAND, read_case
from linewright.layout import lay_out

LEAST_SHARE: Final = 0.1
LINES: Final = tuple(range(1, 61))
WATCHED: Final = LINES[:30]
HORIZON_US: Final = 120_000_000


def watched_run(case: ReferenceCase) -> tuple[ReferenceRun, Counter[str]]:
    """The run of a case, and how often a delay above zero, at zero and under zero was asked for, and no bound."""
    delays: Counter[str] = Counter()

    def delay_us(leader: Leg, follower: Leg) -> int | None:
        delay = case.delay_us(leader, follower)
        delays["no bound" if delay is None else "above" if delay > 0 else "under" if delay < 0 else "zero"] += 1
        return delay

    return run(dataclasses.replace(case, delay_us=delay_us)), delays


def reference_case(number: int) -> ReferenceCase:
    """The case of a random line with written-down luck."""
    assert lay_out(random_line(number).read()).blocking == (), number
    plan = write_down(plan_of_random_line(number), seed=number)
    return from_plan(plan, GivenLuck(plan), HORIZON_US)


def test_no_feature_in_under_a_tenth_of_the_lines() -> None:
    coverage = coverage_of([random_line(number) for number in LINES])
    rare = {feature: share for feature, share in coverage.items() if share < LEAST_SHARE}
    assert rare == {}


def test_a_line_depends_on_its_number_alone() -> None:
    again = random_line.__wrapped__
    assert [again(number) for number in WATCHED[:5]] == [random_line(number) for number in WATCHED[:5]]
    assert len({random_line(number).text for number in LINES}) == len(LINES)


@pytest.mark.long
def test_what_the_features_are_for_happens() -> None:
    seen: Counter[str] = Counter()
    for number in WATCHED:
        result, delays = watched_run(reference_case(number))
        seen.update(f"delay {sign}" for sign in delays)
        seen.update({state for times in result.states.values() for state in STATES if times[state] > 0})
        seen["good parts"] += bool(result.good)
        for station, times in result.states.items():
            assert sum(times.values()) == HORIZON_US, (number, station)
    wanted = {*STATES, "delay above", "delay under", "delay no bound", "good parts"}
    rare = {happening: seen[happening] for happening in wanted if seen[happening] < LEAST_SHARE * len(WATCHED)}
    assert rare == {}


@pytest.mark.parametrize("path", AGREED[::4] + BY_HAND, ids=lambda path: path.name.split(".")[0])
def test_a_plan_gives_what_its_case_gives(path: Path) -> None:
    record = read_case(path)
    plan = plan_of(record["case"])
    result = run(from_plan(plan, GivenLuck(plan), record["case"]["horizon_us"]))
    assert [move[:2] + move[4:] for move in result.moves] == [m[:2] + m[4:] for m in record["expected"]["moves"]]
    assert result.works == record["expected"]["works"]
    assert result.good == record["expected"]["good"]


def test_a_plan_with_other_stops_of_time_zero_is_refused() -> None:
    plan = plan_of(read_case(BY_HAND[0])["case"])
    other = dataclasses.replace(plan, first_stops=plan.first_stops[::-1])
    with pytest.raises(ValueError, match="stops of time zero"):
        from_plan(other, GivenLuck(other), HORIZON_US)
