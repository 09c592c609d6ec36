"""The rows of the bus against those reckoned anew from its page."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from agree.limits_bus import bus_rows
from agree.limits_cases import EXAMPLES, differences, drawn_trees
from agree.limits_files import line_of, set_key, trees_of
from linewright.checks.bus import check_bus
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import Line

FILES = ["demo/line.yaml", *sorted(f"limits/{path.name}" for path in (EXAMPLES / "limits").glob("*.yaml"))]
WAYS = [
    "ways/ring.yaml",
    "ways/to-and-fro.yaml",
    "ways/two-place-lift.yaml",
    "ways/branch.yaml",
    "ways/four-decks.yaml",
]


def apart(line: Line) -> list[str]:
    layout = lay_out(line)
    return differences(bus_rows(line, layout), check_bus(line, layout).findings, "bus")


@pytest.mark.parametrize("name", FILES)
def test_files(name: str) -> None:
    assert apart(load_line(EXAMPLES / name)) == []


@pytest.mark.parametrize("seed", range(4))
def test_drawn(seed: int, tmp_path: Path) -> None:
    names = ["demo/line.yaml", *WAYS]
    assert apart(line_of(*drawn_trees(random.Random(seed), EXAMPLES / names[seed % len(names)]), tmp_path)) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4, 120))
def test_drawn_long(seed: int, tmp_path: Path) -> None:
    test_drawn(seed, tmp_path)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("image.cycle", "1 µs"),
        ("image.bit_rate", "100 Gbit/s"),
        ("image.bytes_per_carrier", 100000),
        ("image.bytes_of_line", 1486 - 16 - 24 * 18),
        ("image.bytes_of_line", 1487 - 16 - 24 * 18),
        ("image.most_bytes", 480),
        ("image.most_bytes", 479),
        ("image.identity_at_power_up", False),
        ("reaction.follow", "0 s"),
        ("reaction.start_handshake", "8.5 ms"),
        ("reaction.start_handshake", "8.499 ms"),
    ],
)
def test_edges(key: str, value: object, tmp_path: Path) -> None:
    """A frame just full and one byte more, an image just full, an answer in the last instant."""
    tree, sheet = trees_of(EXAMPLES / "demo" / "line.yaml")
    set_key(sheet, key, value)
    assert apart(line_of(tree, sheet, tmp_path)) == []


def test_changes_count_in_time(tmp_path: Path) -> None:
    """Put in before others are taken out, though written after: 24 + 4."""
    tree, sheet = trees_of(EXAMPLES / "demo" / "line.yaml")
    changes = [{"time": "2 h", "station": "load", "out": 4}, {"time": "1 h", "station": "load", "in": 4}]
    line = line_of({**tree, "carrier_changes": changes}, sheet, tmp_path)
    assert apart(line) == []
    found = next(one for one in check_bus(line, lay_out(line)).findings if one.code == "image-bytes")
    assert found.value == 28 * 18 + 2 * 8 + 32
