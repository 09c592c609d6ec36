"""The textbook systems of examples/published, run through their line files, against data/published.json.

Each record is first held to a solution made apart from the program (exact_lines.py), then the line file's run to the
record. A run is equivalent if its whole interval lies within 0.5 % (long: 0.15 %) of the exact rate; where times
are fixed it must be right to the part.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from linewright import cli, load
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import run_once
from linewright.flow.kernel.state import tables_of
from linewright.flow.run import Run, run_plan
from linewright.flow.statistics import paired_comparison
from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan
from reference.exact_lines import (
    closed_loop_per_s,
    failing_pair_per_s,
    in_line_per_h,
    little_room_per_s,
    serial_line_per_s,
    transfer_line_per_cycle,
)
from reference.test_serial_lines import EXCHANGE, check_exchange, waiting_before

EXAMPLES: Final = Path(__file__).parents[2] / "examples"
PUBLISHED: Final = EXAMPLES / "published"
DATA: Final = Path(__file__).parent / "data" / "published.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}

SEED: Final = 20_264
RUNS: Final = 40
WORKERS: Final = 2
EQUIVALENT: Final = 0.005
NARROW: Final = 0.003
CLOSELY: Final = 0.0015
VERY_NARROW: Final = 0.00075

FIXED: Final = ("penny-fab-one", "penny-fab-two-in-series", "penny-fab-two-in-line")
STEPS_OF_TWO: Final = ((1, 2), (2, 5), (6, 10), (2, 3))
"""Penny Fab Two: machines and hours of each step."""

BUFFERS: Final[dict[str, list[int]]] = {
    "exponential-five": [0, 0, 0, 0],
    "exponential-two-buffers": [3],
    "exponential-three-buffers": [2, 2],
    "bowl": [0, 0],
    "two-machines-failing": [4],
    "two-machine-transfer-line": [2],
}
"""Lines that stand for open, saturated ones, and their buffer places."""

SHORT: Final[dict[tuple[str, int], float]] = {
    ("penny-fab-one-exponential", 2): 30_000.0,
    ("penny-fab-one-exponential", 10): 20_000.0,
    ("exponential-five", 8): 450.0,
    ("exponential-two-buffers", 8): 450.0,
    ("exponential-three-buffers", 10): 400.0,
    ("pallet-loop", 8): 450.0,
    ("central-server", 6): 650.0,
    ("four-demands", 5): 300.0,
    ("little-room", 10): 600.0,
    ("two-machines-failing", 9): 750.0,
    ("two-machine-transfer-line", 7): 1100.0,
}
"""Hours of a run, by line and carriers, chosen for a half-width of about a fifth of a per cent."""

LONG: Final = [
    *[("penny-fab-one-exponential", carriers) for carriers in (1, 2, 4, 5, 10, 27)],
    *[(name, RECORDS[name]["rates"][0][0]) for name in BUFFERS],
    *[("pallet-loop", carriers) for carriers in (1, 2, 4, 8)],
    ("central-server", 6),
    *[("four-demands", carriers) for carriers in (2, 5, 10, 20)],
    ("little-room", 10),
]


@cache
def example(name: str) -> tuple[Line, Layout, TrafficPlan]:
    """A line file, its track, and its plan for the most carriers of its record: compiled once, as that takes long."""
    line = load(PUBLISHED / f"{name}.yaml")
    most = max(carriers for carriers, _ in RECORDS[name]["rates"])
    layout = lay_out(line)
    return line, layout, compile_plan(line.model_copy(update={"carriers": most}), layout)


def plan_for(name: str, carriers: int) -> TrafficPlan:
    """The plan of a line file with so many carriers."""
    plan = example(name)[2]
    return replace(plan, first_stops=plan.first_stops[:carriers])


def rate_per_h(name: str, carriers: int) -> Fraction:
    """The record's exact rate."""
    record = RECORDS[name]
    return Fraction(str(dict(record["rates"])[carriers])) * 3600 / record["unit_s"]


def run_example(name: str, carriers: int, hours: float, runs: int, seed: int) -> Run:
    """A run of a line file."""
    plan = plan_for(name, carriers)
    run = run_plan(example(name)[0], plan, hours, runs, seed, WORKERS)
    look_at(name, plan, run)
    return run


def look_at(name: str, plan: TrafficPlan, run: Run) -> None:
    """What the comparison takes for granted: moves take no time, room is as stated, nobody waits who must not."""
    line, layout, _ = example(name)
    check_exchange(plan, min(station.time.mean_s for station in line.stations))
    waiting = [waiting_before(layout, plan, station) for station in plan.station_names]
    if name in BUFFERS:
        assert waiting[1:] == BUFFERS[name]
        assert run.stations["starved_share"][0] + run.stations["exchange_share"][0] <= EXCHANGE
        assert run.stations["blocked_share"][-1] <= EXCHANGE
    elif name == "little-room":
        aboard = [1, 0, 1]  # places aboard a transfer before each station
        assert [w + a + 1 for w, a in zip(waiting, aboard, strict=True)] == RECORDS[name]["room"]
    else:
        assert run.stations["blocked_share"].max() <= EXCHANGE


def check_equivalent(run: Run, expected: float, equivalent: float, narrow: float) -> None:
    assert run.rate is not None, run.reason
    half, difference = run.rate.half_width / expected, abs(run.rate.mean / expected - 1.0)
    assert half <= narrow, f"the half-width {half:.4%} says too little"
    assert difference + half <= equivalent, f"off by {run.rate.mean / expected - 1.0:+.4%} ± {half:.4%}"


# ---- the files -------------------------------------------------------------------------------------------------------


def line_files() -> list[Path]:
    return [path for path in sorted(EXAMPLES.rglob("*.yaml")) if "linewright: 1" in path.read_text("utf-8")]


def test_every_published_line_has_a_record_and_a_test() -> None:
    names = {path.stem for path in line_files() if path.parent == PUBLISHED}
    assert names == set(RECORDS)
    tested = {name for name, _ in LONG} | set(FIXED)
    assert names == tested
    assert names == {name for name, _ in SHORT} | {*FIXED, "bowl"}


def call(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """The exit code of the command line in this process."""
    monkeypatch.setattr(sys, "argv", ["linewright", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    return int(left.value.code or 0)


@pytest.mark.parametrize("path", line_files(), ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_example_can_be_checked(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call(monkeypatch, "check", str(path)) in (0, 1)
    assert load(path).name in capsys.readouterr().out


@pytest.mark.long
@pytest.mark.parametrize("path", line_files(), ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_example_can_be_rated(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call(monkeypatch, "rate", str(path), "--hours", "8", "--runs", "2") in (0, 1)
    assert load(path).name in capsys.readouterr().out


@pytest.mark.parametrize("name", RECORDS)
def test_every_published_line_names_its_source_and_its_figure(name: str) -> None:
    text = (PUBLISHED / f"{name}.yaml").read_text("utf-8")
    head = text[: text.index("linewright: 1")]
    assert re.findall(r"^# (Source|Figure) ", head, flags=re.MULTILINE) == ["Source", "Figure"]
    assert f"examples/published/{name}.yaml --hours" in head
    assert RECORDS[name]["source"]
    assert RECORDS[name]["access"]


# ---- the records -----------------------------------------------------------------------------------------------------


def exact_per_unit(name: str, carriers: int) -> float | Fraction:
    """The record's rate anew, from the textbook system alone."""
    record = RECORDS[name]
    solved: dict[str, Callable[[], float | Fraction]] = {
        "penny-fab-one": lambda: min(Fraction(carriers, 8), Fraction(1, 2)),
        "penny-fab-one-exponential": lambda: Fraction(carriers, carriers + 3) / 2,
        "penny-fab-two-in-series": lambda: min(Fraction(carriers, 20), Fraction(2, 5)),
        "penny-fab-two-in-line": lambda: in_line_per_h(STEPS_OF_TWO, carriers),
        "exponential-five": lambda: serial_line_per_s([1.0] * 5),
        "exponential-two-buffers": lambda: (3 + 2) / (3 + 3),
        "exponential-three-buffers": lambda: serial_line_per_s([1.0] * 3, 2),
        "bowl": lambda: 100.0 * serial_line_per_s([station.time.mean_s for station in example("bowl")[0].stations]),
        "pallet-loop": lambda: 100.0 * closed_loop_per_s(record["demands_s"], carriers),
        "central-server": lambda: 2000.0 * closed_loop_per_s(record["demands_s"], carriers),
        "four-demands": lambda: 1000.0 * closed_loop_per_s(record["demands_s"], carriers),
        "little-room": lambda: 100.0 * little_room_per_s(record["mean_s"], record["room"], carriers),
        "two-machines-failing": lambda: (
            100.0
            * failing_pair_per_s(record["mean_s"], record["every_s"], record["repair_s"], record["places_between"])
        ),
    }
    return solved[name]()


@pytest.mark.parametrize("name", [name for name in RECORDS if name != "two-machine-transfer-line"])
def test_records_are_solved_anew(name: str) -> None:
    record = RECORDS[name]
    for carriers, rate in record["rates"]:
        exact = exact_per_unit(name, carriers)
        assert float(exact) == pytest.approx(float(Fraction(rate)), rel=1e-9)
        if "printed" in record:
            assert round(float(exact), record["places"]) == record["printed"]
    for carriers, low, high in record.get("bounds", []):
        last_digit = 0.5 * 10 ** -record["places"]
        assert low - last_digit <= exact_per_unit(name, carriers) <= high + last_digit


def test_practical_worst_case_is_a_closed_exponential_loop() -> None:
    for carriers, rate in RECORDS["penny-fab-one-exponential"]["rates"]:
        assert 3600.0 * closed_loop_per_s([7200.0] * 4, carriers) == pytest.approx(rate, rel=1e-9)


def test_the_transfer_line_with_fifty_repairs_is_gershwins() -> None:
    """Its repairs are geometric, the file's are fifty equally likely times: next to the same rate, solved exactly."""
    record = RECORDS["two-machine-transfer-line"]
    line = example("two-machine-transfer-line")[0]
    repairs, one_in = [], []
    for station in line.stations:
        (failure,) = station.failures
        assert failure.one_in is not None
        repairs.append([round(time_s / station.time.mean_s) for time_s in failure.repair.times_s])
        one_in.append(failure.one_in)
    assert one_in == [1.0 / record["p"]] * 2
    assert [np.mean(cycles) for cycles in repairs] == [1.0 / record["r"]] * 2
    exact = transfer_line_per_cycle(record["storage"], one_in, repairs)
    assert exact == pytest.approx(record["with_fifty_repairs"], abs=1e-9)
    assert exact == pytest.approx(record["rates"][0][1], abs=2e-6)


# ---- fixed times: right to the part ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FIXED)
def test_fixed_times_give_the_exact_count(name: str) -> None:
    """Of a rate of p parts in q hours, 480 q hours hold 480 p parts, and not one more or less."""
    for carriers, _ in RECORDS[name]["rates"]:
        plan, rate = plan_for(name, carriers), rate_per_h(name, carriers)
        # Works take whole minutes and moves microseconds: a part ends just after a full minute, and a bin that begins
        # half a minute earlier cannot tear it from its hour.
        first_h, stretch_h = 1000, 480 * rate.denominator
        half_minute_us, hour_us = 30_000_000, 3_600_000_000
        horizon_us = (first_h + stretch_h) * hour_us
        luck, tables = luck_of(plan, SEED, 0), tables_of(plan)
        good = run_once(plan, tables, luck, horizon_us - half_minute_us, half_minute_us).totals.good
        minutes = np.cumsum(good)
        assert minutes[-1] - minutes[first_h * 120 - 2] == rate * stretch_h, carriers


@pytest.mark.parametrize("name", ["penny-fab-two-in-series", "penny-fab-two-in-line"])
def test_machines_are_as_busy_as_the_book_says(name: str) -> None:
    """At the bottleneck's rate: the first machine 80 %, the six of the third step two thirds, so four jobs in work."""
    run = run_example(name, 12, 4000.0, 2, SEED)
    work = dict(zip(run.stations["station"].tolist(), run.stations["work_share"].tolist(), strict=True))
    assert work["punch"] == pytest.approx(0.8, abs=2e-3)
    rims = [share for station, share in work.items() if station.startswith("rim")]
    assert sum(rims) == pytest.approx(4.0, abs=1e-2)
    assert len(rims) == 6


# ---- times that spread -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "carriers"), SHORT)
def test_spreading_times(name: str, carriers: int) -> None:
    number = list(SHORT).index((name, carriers))
    run = run_example(name, carriers, SHORT[name, carriers], RUNS, SEED + number)
    check_equivalent(run, float(rate_per_h(name, carriers)), EQUIVALENT, NARROW)


def bowl_pair(hours: float, seed: int) -> tuple[Run, Run]:
    """The level line and the bowl under the same luck."""
    line, layout, plan = example("bowl")
    mean = line.stations[0].time.model_copy(update={"stated_mean_s": 100.0})
    level = line.model_copy(update={"stations": tuple(s.model_copy(update={"time": mean}) for s in line.stations)})
    first = run_plan(level, compile_plan(level, layout), hours, RUNS, seed, WORKERS)
    look_at("bowl", plan, first)
    return first, run_example("bowl", 6, hours, RUNS, seed)


def check_bowl(runs: tuple[Run, Run], equivalent: float, narrow: float) -> None:
    record = RECORDS["bowl"]
    check_equivalent(runs[0], 36.0 * record["balanced"], equivalent, narrow)
    check_equivalent(runs[1], float(rate_per_h("bowl", 6)), equivalent, narrow)
    gain = paired_comparison(runs[0].rates_per_h, runs[1].rates_per_h)
    assert gain.low > 0.0
    # A right interval misses the truth once in twenty times; twice its half-width is next to never passed.
    assert abs(gain.mean - 36.0 * record["balanced"] * record["gain"]) <= 2.0 * gain.half_width
    assert gain.half_width <= 0.6 * min(run.rate.half_width for run in runs if run.rate is not None)


def test_the_bowl_beats_the_level_line() -> None:
    check_bowl(bowl_pair(450.0, SEED + 50), EQUIVALENT, NARROW)


@pytest.mark.long
@pytest.mark.parametrize(("name", "carriers"), LONG)
def test_spreading_times_closely(name: str, carriers: int) -> None:
    hours, runs = {"two-machines-failing": 16_000.0, "two-machine-transfer-line": 32_000.0}.get(name, 10_000.0), RUNS
    if name == "penny-fab-one-exponential":
        hours, runs = 70_000.0, 400 if carriers <= 2 else 200
    number = LONG.index((name, carriers))
    run = run_example(name, carriers, hours, runs, SEED + 100 + number)
    check_equivalent(run, float(rate_per_h(name, carriers)), CLOSELY, VERY_NARROW)


@pytest.mark.long
def test_the_bowl_beats_the_level_line_closely() -> None:
    check_bowl(bowl_pair(10_000.0, SEED + 200), CLOSELY, VERY_NARROW)
