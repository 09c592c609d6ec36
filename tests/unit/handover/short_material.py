"""What the papers of an example are written from, out of short runs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest

import linewright as lw
from linewright.handover.papers.material import Material

EXAMPLES: Final = Path(__file__).resolve().parents[3] / "examples"


@cache
def evaluated(path: str, hours: float = 0.6, runs: int = 2) -> lw.Evaluation:
    """A line of the examples, in short runs."""
    return lw.evaluate(lw.load(EXAMPLES / path), hours=hours, runs=runs)


@cache
def evaluated_otherwise(path: str, edits: tuple[tuple[str, str], ...]) -> lw.Evaluation:
    """The same line with words of its file replaced by others, as long and under the same luck."""
    from linewright.line.load import read_line

    text = (EXAMPLES / path).read_text("utf-8")
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return lw.evaluate(read_line(text, Path(path).name), hours=0.6, runs=2)


@cache
def material_of(path: str, for_customer: bool = False) -> Material:
    """What its papers are written from; the proof judges half an hour and stops the line only five times."""
    from linewright import proof as proving
    from linewright.errors import SimulationError
    from linewright.planning.assumed import find_effects
    from linewright.planning.gains import find_gains
    from linewright.planning.money.comparison import compare_with_baseline
    from linewright.planning.money.parts_list import parts_list
    from linewright.planning.run_off import plan_run_off

    if for_customer:
        return replace(material_of(path), for_customer=True)
    e = evaluated(path)
    parts = parts_list(e.line, e.layout)
    gains = find_gains(e.line, e.layout, e.plan, e.run, 1)
    try:
        comparison: Any = compare_with_baseline(e, parts)
    except SimulationError as why:
        comparison = str(why)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(proving, "SHIFT_S", 1800.0)
        proof = proving.prove(e.line, seed=1, stops=5)
    return Material(
        e, gains, find_effects(e, 1), proof, "not asked for", parts, comparison, plan_run_off(e), None, False
    )
