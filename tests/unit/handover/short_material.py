"""What the papers of an example are written from, out of short runs."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import linewright as lw
from linewright.handover.papers.material import Material

EXAMPLES: Final = Path(__file__).resolve().parents[3] / "examples"


@cache
def evaluated(path: str, hours: float = 0.6, runs: int = 2) -> lw.Evaluation:
    """A line of the examples, in short runs."""
    return lw.evaluate(lw.load(EXAMPLES / path), hours=hours, runs=runs)


@cache
def material_of(path: str, for_customer: bool = False) -> Material:
    """What its papers are written from; the proof stops the line only five times."""
    from linewright.errors import SimulationError
    from linewright.planning.assumed import find_effects
    from linewright.planning.baseline import compare_with_baseline
    from linewright.planning.gains import find_gains
    from linewright.planning.parts_list import parts_list
    from linewright.planning.run_off import plan_run_off
    from linewright.proof import prove

    if for_customer:
        return replace(material_of(path), for_customer=True)
    e = evaluated(path)
    parts = parts_list(e.line, e.layout)
    gains = find_gains(e.line, e.layout, e.plan, e.run, 1)
    try:
        comparison: Any = compare_with_baseline(e, parts)
    except SimulationError as why:
        comparison = str(why)
    proof = prove(e.line, seed=1, stops=5)
    return Material(
        e, gains, find_effects(e, 1), proof, "not asked for", parts, comparison, plan_run_off(e), None, False
    )
