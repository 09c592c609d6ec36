"""The page on why the proof holds: its example runs as printed, and the prover says the same of it."""

from __future__ import annotations

import doctest
from pathlib import Path

from agree.small_plans import Small, plan_of
from agree.small_routes import RING, Shape
from linewright.traffic.gridlock.decide import Prover

PAGE = Path(__file__).parents[3] / "docs" / "proof-theory.md"


def test_the_example_runs_as_printed() -> None:
    found = doctest.testfile(str(PAGE), module_relative=False)
    assert found.attempted >= 12
    assert found.failed == 0


def prover(carriers: int) -> Prover:
    return Prover(plan_of(Small("ring", Shape((4,), RING), ((1, 0), (3, 1)), carriers)))


def test_the_prover_says_the_same() -> None:
    two, three = prover(2), prover(3)
    assert two.plan.first_stops.tolist() == [1, 0]
    assert three.plan.first_stops.tolist() == [1, 0, 2]
    lone, least = two.ring_of_start, two.ring_of_placements
    assert lone is not None
    assert least is not None
    assert (lone.carriers, least.carriers) == (4, 2)
    assert two.from_start().jams is False
    placed = two.from_any_placement()
    assert placed.jams
    assert two.system.stuck(placed.placed[0]) == frozenset({0, 2})
    begun = three.from_start()
    assert begun.jams
    assert len(begun.ways[0].steps) == 1
    assert begun.ways[0].shortest
