"""Ten takts, else ten cycles of the slowest step."""

from __future__ import annotations

from pathlib import Path

import pytest

from linewright.flow.bins import bin_length_s
from linewright.line.demand import takt_s
from unit.handover.stand_in_run import demo_line


def test_ten_takts_where_there_is_a_demand(tmp_path: Path) -> None:
    line = demo_line(tmp_path)
    assert line.demand is not None
    assert bin_length_s(line) == 10 * takt_s(line.demand)


def test_ten_slowest_cycles_without(tmp_path: Path) -> None:
    line = demo_line(tmp_path).model_copy(update={"demand": None})
    reaction, settling_s = line.conveyor.reaction, line.conveyor.settling_s
    exchange_s = reaction.done_handshake_s + settling_s + reaction.start_handshake_s
    load, leak = line.station("load").time.mean_s, line.station("leak-1").time.mean_s
    assert leak > load > leak / 2  # the two leak tests share a step, so hand loading is the slowest
    assert bin_length_s(line) == pytest.approx(10 * (load + exchange_s))
