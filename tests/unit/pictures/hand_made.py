"""Evaluations for the tests of the pictures whose run is written by hand: every carrier goes on by one stop in turn."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from linewright.layout import lay_out, resting_order
from linewright.motion.limits import carrier_limits
from linewright.motion.profile import plan_move
from linewright.tables import Column, Table
from unit.layout.layout_lines import LineText

NAMES = ("load", "press", "screw", "leak-1", "leak-2", "mark", "camera", "glue", "torque", "ream", "rivet", "unload")


def line_text(stations: int, carriers: int = 4, units: str = "mm") -> LineText:
    """An invented two-deck line with that many stations, half of them on each deck, as near as one pitch in pairs."""
    a_deck = (stations + 1) // 2
    sections = 1 + (a_deck * 600 + 900) // 385
    length_mm = 385.0 * sections
    rows = []
    for number in range(stations):
        name = NAMES[number] if stations <= len(NAMES) else f"{NAMES[number % 12]}-{number // 12 + 1}"
        lane = "upper" if number < a_deck else "lower"
        along = number % a_deck
        travel_mm = 430.0 + 600.0 * along - (335.0 if along % 2 else 0.0)
        rows.append((name, lane, travel_mm if lane == "upper" else length_mm - travel_mm, ""))
    return LineText(tuple(rows), length_mm=length_mm, carriers=carriers, units=units)


def evaluation(stations: int = 5, carriers: int = 4, units: str = "mm", until_s: float = 130.0) -> Any:
    """An evaluation of such a line; carrier k moves at 2 k, 2 (k + carriers) ... seconds, each time by one stop."""
    line = line_text(stations, carriers, units).line()
    layout = lay_out(line)
    at = list(resting_order(line, layout))
    moves, works = [], []
    turn = 0
    while (departure_s := 2.0 * turn) < until_s:
        carrier = turn % carriers
        start = at[carrier]
        end = (start + 1) % len(layout.stops)
        distance_m = (layout.stops[end].axis_m - layout.stops[start].axis_m) % layout.loop_m
        move = plan_move(distance_m, carrier_limits(line, True, distance_m).limits)
        arrival_s = departure_s + move.duration_s
        moves.append((carrier, departure_s, start, end, arrival_s, True))
        if layout.stops[end].station is not None:
            repair_s = 0.5 if len(works) == 1 else 0.0
            works.append((layout.stops[end].station, carrier, len(works), arrival_s, arrival_s + 1.2, repair_s))
        at[carrier] = end
        turn += 1
    return SimpleNamespace(
        line=line,
        layout=layout,
        run=as_run(moves, works, until_s),
        findings=(),
        plan=None,
        takt=None,
        duty=None,
        limits=None,
    )


def as_run(moves: list[tuple[Any, ...]], works: list[tuple[Any, ...]], until_s: float, from_s: float = 0.0) -> Any:
    """Logs as a run."""
    return SimpleNamespace(
        moves=_table(moves, ("carrier", "departure_s", "from_stop", "to_stop", "arrival_s", "loaded")),
        works=_table(works, ("station", "carrier", "serial", "start_s", "end_s", "repair_s")),
        warm_up_s=0.0,
        trace_from_s=from_s,
        trace_to_s=until_s,
        seed=7,
        hours=0.5,
        runs=3,
        line_cycle_s=None,
        rate=None,
        reason="it is written by hand",
    )


def _table(rows: list[tuple[Any, ...]], names: tuple[str, ...]) -> Table:
    columns = zip(*rows, strict=True) if rows else [()] * len(names)
    return Table(tuple(Column(name, None, np.array(column)) for name, column in zip(names, columns, strict=True)))
