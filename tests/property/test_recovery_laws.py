"""Laws that hold however often a line is stopped."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from linewright.flow.recovery import recover
from linewright.line.load import load_line

WAYS = Path(__file__).parents[2] / "examples" / "ways"
ALL_WAYS = sorted(path.stem for path in WAYS.glob("*.yaml"))
FEW_WAYS = ["nests", "shifts", "carrier-changes"]


def check(way: str, stops: int) -> None:
    """Every part that was loaded is good, flagged, taken out by hand or aboard; good parts come after every stop."""
    line = load_line(WAYS / f"{way}.yaml")
    found = recover(line, stops, seed=2)
    assert found.failed == 0
    misses = any(station.misses > 0.0 for station in line.stations)
    for one in found.outcomes:
        assert one.parts.missing == 0 or (misses and one.parts.missing > 0)
        assert one.parts.aboard <= line.carriers * (1 if line.fixture is None else line.fixture.nests)
    for before, after in pairwise(found.outcomes):
        if before.chain == after.chain:
            for name in ("loaded", "good", "flagged", "by_hand"):
                assert getattr(after.parts, name) >= getattr(before.parts, name)
            assert after.parts.good - before.parts.good == after.good_before
            assert after.at_s > before.at_s + before.recovery_s


@pytest.mark.parametrize("way", FEW_WAYS)
def test_parts_are_conserved_over_stops(way: str) -> None:
    check(way, 16)


@pytest.mark.long
@pytest.mark.parametrize("way", ALL_WAYS)
def test_parts_are_conserved_over_many_stops_on_every_way(way: str) -> None:
    check(way, 200)
