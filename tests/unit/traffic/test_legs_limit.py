"""A track with more moves than can be planned is refused in words, and before the memory for them is asked for."""

from __future__ import annotations

import pytest

from linewright.errors import SimulationError
from linewright.layout import lay_out
from linewright.traffic import legs
from linewright.traffic.compile import compile_plan
from unit.layout.layout_lines import LineText


def test_too_many_moves_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    line = LineText((("load", "upper", 800.0, ""), ("unload", "lower", 900.0, "")), length_mm=4620.0, carriers=2).line()
    plan = compile_plan(line, lay_out(line))
    rows = plan.delay_us.shape[0]
    monkeypatch.setattr(legs, "MOST_LEGS", rows)
    compile_plan(line, lay_out(line))
    monkeypatch.setattr(legs, "MOST_LEGS", rows - 1)
    with pytest.raises(SimulationError, match=rf"stops and {rows:,} moves between them: .* at most {rows - 1:,};"):
        compile_plan(line, lay_out(line))
