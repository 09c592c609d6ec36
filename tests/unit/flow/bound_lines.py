"""Invented lines of three stations on two lanes, whose bounds can be followed by hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from linewright.flow.run import Run, run_plan
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

SHEETS: Final = Path(__file__).parents[2] / "data"
LENGTHS_MM: Final = {"demo-light": 2944, "demo-heavy": 3080, "ideal-sheet.yaml": 3000}


def bound_line(sheet: str, keys: Sequence[str], carriers: int, route: str = "a, b, c") -> Line:
    """Stations a and b on the lane out, c on the lane back, with these keys."""
    places = (("a", "out", 1000), ("b", "out", 2000), ("c", "back", 1500), ("d", "back", 700))
    rows = "".join(
        f"  {name}: {{lane: {lane}, at: {at_mm} mm, {key}}}\n"
        for (name, lane, at_mm), key in zip(places, keys, strict=False)
    )
    length = f"length: {LENGTHS_MM[sheet]} mm"
    text = (
        f"linewright: 1\nname: Line with known bounds (invented)\nconveyor: {sheet}\n"
        f"lanes:\n  out: {{{length}, from: west, to: east}}\n"
        f"  back: {{{length}, from: east, to: west, level: -520 mm}}\n"
        "transfers:\n  east: {kind: lift, takes: out, gives: back}\n  west: {kind: lift, takes: back, gives: out}\n"
        f"carriers: {carriers}\nstations:\n{rows}route: [{route}]\n"
    )
    return read_line(text, "line with known bounds", SHEETS)


def plan_of(line: Line) -> TrafficPlan:
    return compile_plan(line, lay_out(line))


def run_of(line: Line, hours: float, runs: int = 2) -> Run:
    return run_plan(line, plan_of(line), hours, runs, seed=1, workers=1)
