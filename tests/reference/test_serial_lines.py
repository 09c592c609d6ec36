"""Exponential serial lines and closed loops, run through line files and the kernel, against data/serial_lines.json.

Every record of such lines, all but one closely and in `make test-long`; examples/published holds some of them as files,
which test_published.py runs in `make test` too.

A loop of stops stands for the open, saturated line of the books where three things hold, and each test looks at them
in its run: the first station is never starved, the last never blocked, and moves take next to no time. Between two
stations lie exactly as many waiting stops as the line has buffer places. A loop with ample waiting stops before each
station is the closed network of the books.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pytest

from linewright.flow.run import Run, run_plan
from linewright.layout import Layout, lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import NO_LEG, TrafficPlan

SHEETS: Final = Path(__file__).parents[1] / "data"
DATA: Final = Path(__file__).parent / "data" / "serial_lines.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}

MEAN_S: Final = 100.0
PITCH_MM: Final = 110
BODY_MM: Final = 100
FIRST_MM: Final = 610
"""Place of the first station; five waiting stops lie upstream of it on its lane."""
SEED: Final = 20_251
RUNS: Final = 20
WORKERS: Final = 2

EQUIVALENT: Final = 0.005
NARROW: Final = 0.003
EXCHANGE: Final = 1e-4
"""An exchange, and a share that an assumption of the comparison leaves over, may be this much of the work."""


def line_of(stations: Sequence[tuple[str, int, float]], length_mm: int, carriers: int) -> Line:
    """Two lanes of one length; stations are (lane, place in travel in mm, mean work in s), worked in this order."""
    rows = []
    for number, (lane, travel_mm, mean_s) in enumerate(stations, start=1):
        at_mm = travel_mm if lane == "out" else length_mm - travel_mm
        rows.append(f"  s{number}: {{lane: {lane}, at: {at_mm} mm, time: {{law: exponential, mean: {mean_s} s}}}}\n")
    text = (
        "linewright: 1\nname: Exponential line (invented)\nconveyor: ideal-sheet.yaml\n"
        f"lanes:\n  out: {{length: {length_mm} mm, from: west, to: east}}\n"
        f"  back: {{length: {length_mm} mm, from: east, to: west, level: -100 mm}}\n"
        "transfers:\n  east: {kind: lift, takes: out, gives: back}\n  west: {kind: lift, takes: back, gives: out}\n"
        f"carriers: {carriers}\nstations:\n{''.join(rows)}"
        f"route: [{', '.join(f's{number}' for number in range(1, len(stations) + 1))}]\n"
    )
    return read_line(text, "exponential line", SHEETS)


def serial_line(stations: int, buffers: int) -> Line:
    """A serial line on one lane; its carriers fill all stations and buffers, and three more wait for the first."""
    places = [("out", FIRST_MM + number * (buffers + 1) * PITCH_MM, MEAN_S) for number in range(stations)]
    carriers = stations + (stations - 1) * buffers + 3
    return line_of(places, 2000 if buffers < 8 else 3000, carriers)


def closed_loop(demands: Sequence[float], carriers: int) -> Line:
    """Four stations, two on each lane, before each of them room for all carriers."""
    assert len(demands) == 4
    first_mm = BODY_MM // 2 + carriers * PITCH_MM
    second_mm = first_mm + carriers * PITCH_MM
    length_mm = -(-(second_mm + PITCH_MM + BODY_MM // 2) // 100) * 100
    spots = [(lane, travel_mm) for lane in ("out", "back") for travel_mm in (first_mm, second_mm)]
    return line_of([(*spot, demand * MEAN_S) for spot, demand in zip(spots, demands, strict=True)], length_mm, carriers)


def waiting_before(layout: Layout, plan: TrafficPlan, station: str) -> int:
    """Waiting and dock stops between a station and the one before it in travel."""
    count, stop = 0, layout.stop_of(station).index
    while plan.stop_station[(stop := (stop - 1) % plan.stops)] < 0:
        count += layout.stops[stop].kind in ("waiting", "dock")
    return count


def check_exchange(plan: TrafficPlan, mean_s: float) -> None:
    """The longest leg, a ride up and down and all reactions together take under 1e-4 of the mean work."""
    legs_us = plan.move_us[plan.move_us != NO_LEG]
    reactions_us = plan.follow_us + plan.start_handshake_us + plan.done_handshake_us + int(plan.settling_us.max())
    rides_us = int(plan.aboard_us.max() + plan.home_us.max())
    assert 0 < int(legs_us.max()) + rides_us + reactions_us < EXCHANGE * mean_s * 1e6


def check_equivalence(run: Run, expected: float, equivalent: float = EQUIVALENT, narrow: float = NARROW) -> None:
    """The rate of the run, in parts per mean work, is the expected one within the two margins."""
    assert run.rate is not None, run.reason
    half = run.rate.half_width * MEAN_S / 3600.0 / expected
    difference = abs(run.rate.mean * MEAN_S / 3600.0 / expected - 1.0)
    assert half <= narrow
    assert difference + half <= equivalent


def check_saturated(run: Run, waiting: Sequence[int], buffers: int) -> None:
    """The loop stands for an open line: never starved at its start, never blocked at its end, its buffers as stated."""
    assert list(waiting) == [buffers] * len(waiting)
    assert run.stations["starved_share"][0] + run.stations["exchange_share"][0] <= EXCHANGE
    assert run.stations["blocked_share"][-1] <= EXCHANGE


def run_serial(stations: int, buffers: int, hours: float, seed: int) -> Run:
    """A serial line's run, with the assumptions of the comparison checked."""
    line = serial_line(stations, buffers)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    check_exchange(plan, MEAN_S)
    run = run_plan(line, plan, hours, RUNS, seed, WORKERS)
    check_saturated(run, [waiting_before(layout, plan, f"s{k}") for k in range(2, stations + 1)], buffers)
    return run


def run_closed(demands: Sequence[float], carriers: int, hours: float, seed: int) -> Run:
    """A closed loop's run, with the assumptions of the comparison checked: nobody is ever blocked."""
    line = closed_loop(demands, carriers)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    check_exchange(plan, min(demands) * MEAN_S)
    assert min(waiting_before(layout, plan, f"s{k}") for k in range(1, 5)) >= carriers - 1
    run = run_plan(line, plan, hours, RUNS, seed, WORKERS)
    assert run.stations["blocked_share"].max() <= EXCHANGE
    return run


@pytest.mark.parametrize("stations", [3])
def test_balanced_lines_without_buffers(stations: int) -> None:
    record = RECORDS["exp_balanced_zero_buffer_K2to5"]
    expected = dict(zip(record["inputs"]["K"], record["expected"]["throughput"], strict=True))[stations]
    check_equivalence(run_serial(stations, 0, 1000.0, SEED + stations), expected)


@pytest.mark.long
@pytest.mark.parametrize("buffers", [0, 1, 2, 3, 4, 5, 10])
def test_two_stations_with_buffers(buffers: int) -> None:
    record = RECORDS["exp_two_station_buffer"]
    expected = dict(zip(record["inputs"]["B"], record["expected"]["throughput"], strict=True))[buffers]
    check_equivalence(run_serial(2, buffers, 50_000.0, SEED + 10 + buffers), expected, 0.0015, 0.0005)


@pytest.mark.long
@pytest.mark.parametrize("buffers", [0, 1, 2, 3])
def test_three_stations_with_buffers(buffers: int) -> None:
    record = RECORDS["exp_three_station_buffers"]
    expected = dict(zip(record["inputs"]["B"], record["expected"]["throughput"], strict=True))[buffers]
    check_equivalence(run_serial(3, buffers, 50_000.0, SEED + 20 + buffers), expected, 0.0015, 0.0005)


@pytest.mark.long
@pytest.mark.parametrize("stations", [2, 3, 4, 5])
def test_balanced_lines_without_buffers_closely(stations: int) -> None:
    record = RECORDS["exp_balanced_zero_buffer_K2to5"]
    expected = dict(zip(record["inputs"]["K"], record["expected"]["throughput"], strict=True))[stations]
    check_equivalence(run_serial(stations, 0, 50_000.0, SEED + 70 + stations), expected, 0.0015, 0.0005)


@pytest.mark.long
@pytest.mark.parametrize("carriers", [1, 2, 3, 4, 6, 8, 12])
def test_closed_balanced_loop_closely(carriers: int) -> None:
    record = RECORDS["pallet_loop_exponential"]
    expected = dict(zip(record["inputs"]["pallets"], record["expected"]["TH"], strict=True))[carriers]
    check_equivalence(run_closed((1.0,) * 4, carriers, 50_000.0, SEED + 80 + carriers), expected, 0.0015, 0.0005)


@pytest.mark.long
@pytest.mark.parametrize("carriers", [1, 2, 4, 8, 16])
def test_closed_unbalanced_loop_closely(carriers: int) -> None:
    unbalanced = RECORDS["pallet_loop_exponential"]["expected"]["unbalanced"]
    expected = dict(unbalanced["TH"])[carriers]
    check_equivalence(run_closed(unbalanced["D"], carriers, 50_000.0, SEED + 100 + carriers), expected, 0.0015, 0.0005)
