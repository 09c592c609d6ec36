"""The lines that the bench runs: the demo line, and lines of any size written as text."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from time import thread_time
from typing import Final

from bench.timing import stopwatch
from linewright.flow.kernel.draws import Luck, luck_of
from linewright.flow.kernel.state import Tables, tables_of
from linewright.layout import lay_out
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

ROOT: Final = Path(__file__).resolve().parent.parent
DEMO: Final = ROOT / "examples" / "demo" / "line.yaml"
STATION_EVERY_MM: Final = 460
SECTION_MM: Final = 736


@dataclass(frozen=True, eq=False)
class Planned:
    """A line ready to run.

    Parameters
    ----------
    tables, luck : what the kernel reads; the luck of replication 0 of seed 1
    layout_s, plan_s : how long laying out and compiling the plan took, in processor time. [s]
    """

    line: Line
    plan: TrafficPlan
    tables: Tables
    luck: Luck
    layout_s: float
    plan_s: float


def prepare(line: Line) -> Planned:
    """Lay a line out and compile its plan, on the watch."""
    layout_s, layout = stopwatch(lambda: lay_out(line), thread_time)
    plan_s, plan = stopwatch(lambda: compile_plan(line, layout), thread_time)
    return Planned(line, plan, tables_of(plan), luck_of(plan, 1, 0), layout_s, plan_s)


def demo() -> Planned:
    """The demo line."""
    return prepare(load_line(DEMO))


def sized(stations: int, carriers: int) -> Planned:
    """An invented two-lane line of so many stations, half on each lane, and so many carriers."""
    return prepare(read_line(sized_text(stations, carriers), file=f"{stations} stations, {carriers} carriers"))


def sized_text(stations: int, carriers: int) -> str:
    """The line file of such a line: every station takes 1.5 s with a spread of 10 %, one in five fails now and then."""
    front = math.ceil(stations / 2)
    length = SECTION_MM * math.ceil(STATION_EVERY_MM * (front + 1) / SECTION_MM)
    rows = []
    for number in range(stations):
        lane, place = ("front", number) if number < front else ("back", number - front)
        travel = STATION_EVERY_MM * (place + 1)
        at = travel if lane == "front" else length - travel
        failures = ", failures: [{every: 1 h, repair: 60 s}]" if number % 5 == 2 else ""
        rows.append(f"  s{number}: {{lane: {lane}, at: {at} mm, time: {{mean: 1.5 s, cv: 10 %}}{failures}}}")
    route = ", ".join(f"s{number}" for number in range(stations))
    return "\n".join(
        [
            "linewright: 1",
            f"name: Growth line of {stations} stations and {carriers} carriers",
            "conveyor: demo-light",
            "units: mm",
            "part: {mass: 60 g, held: {clamp: 30 m/s²}, mass_height: 14 mm}",
            "fixture: {mass: 0.25 kg, envelope: [80 mm, 100 mm, 45 mm]}",
            "lanes:",
            f"  front: {{length: {length} mm, from: west, to: east}}",
            f"  back: {{length: {length} mm, from: east, to: west, across: 600 mm}}",
            "transfers:",
            "  east-cross: {kind: cross-transfer, takes: front, gives: back}",
            "  west-cross: {kind: cross-transfer, takes: back, gives: front}",
            f"carriers: {carriers}",
            "stations:",
            *rows,
            f"route: [{route}]",
            "",
        ]
    )
