"""Systems with known answers beyond the plain loop, run as lines: shared operators, classes of carriers, changeover,
rework, feeds, breaks.

The answers are closed forms of `linewright.flow.bounds`, each held to printed values or chains beside this file. All
lines are invented and stand on a sheet that takes next to no time for anything but work. A run is equivalent if its
whole interval lies within 0.5 % (long: 0.15 %) of the exact rate; where times are fixed it must be right to the part.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from linewright.flow import bounds
from linewright.flow.line_bounds import rate_bounds
from linewright.flow.run import Run, run_plan
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

SHEETS: Final = Path(__file__).parents[1] / "data"

SEED: Final = 20_265
WORKERS: Final = 2
EQUIVALENT: Final = 0.005
NARROW: Final = 0.003
CLOSELY: Final = 0.0015
VERY_NARROW: Final = 0.00075

EXCHANGE_S: Final = 0.02
"""More than any exchange of this sheet, a round of the loop with all its rides included."""


@cache
def compiled(text: str) -> tuple[Line, TrafficPlan]:
    line = read_line(
        f"linewright: 1\nname: Known answer (invented)\nconveyor: ideal-sheet.yaml\n{text}", "known", SHEETS
    )
    return line, compile_plan(line, lay_out(line))


def run_of(text: str, hours: float, runs: int, seed: int = SEED) -> Run:
    line, plan = compiled(text)
    assert not plan.general.is_plain
    run = run_plan(line, plan, hours, runs, seed, WORKERS)
    assert float(np.mean(run.rates_per_h)) <= rate_bounds(plan).upper_per_h * 1.01
    return run


def check_equivalent(run: Run, expected_per_h: float, equivalent: float, narrow: float) -> None:
    assert run.rate is not None, run.reason
    half = run.rate.half_width / expected_per_h
    assert half <= narrow, f"the half-width {half:.4%} says too little"
    off = run.rate.mean / expected_per_h - 1.0
    assert abs(off) + half <= equivalent, f"off by {off:+.4%} ± {half:.4%}"


def check_fixed(text: str, cycle_s: float, attains: bool = False) -> None:
    """Without luck each good part takes a cycle and an exchange at the most; and attains the bound, where it does."""
    rates = run_of(text, hours=40.0, runs=2).rates_per_h
    assert rates[0] == rates[1]
    # A run is cut somewhere within a cycle.
    assert 3600.0 / (cycle_s + EXCHANGE_S) - 0.15 <= rates[0] <= 3600.0 / cycle_s + 0.15
    if attains:
        assert rates[0] == pytest.approx(rate_bounds(compiled(text)[1]).upper_per_h, rel=2e-3)


# ---- the lines -------------------------------------------------------------------------------------------------------


def side_by_side(keys: Sequence[str], pool: str) -> str:
    """As many lanes as carriers, with a station on each: there is always one free for who looks for one."""
    lanes = [f"m{k}" for k in range(1, len(keys) + 1)]
    rows = "".join(
        f"  {lane}: {{length: 2000 mm, from: west, to: east, across: {100 * k} mm}}\n" for k, lane in enumerate(lanes)
    )
    stations = [f"machine-{k}" for k in range(1, len(keys) + 1)]
    works = "".join(
        f"  {name}: {{lane: {lane}, at: 1000 mm, {key}}}\n"
        for name, lane, key in zip(stations, lanes, keys, strict=True)
    )
    return (
        f"lanes:\n{rows}  back: {{length: 2000 mm, from: east, to: west, across: {100 * len(keys)} mm}}\n"
        f"transfers:\n"
        f"  east: {{kind: cross-transfer, takes: [{', '.join(lanes)}], gives: back, returns: when-called}}\n"
        f"  west: {{kind: cross-transfer, takes: back, gives: [{', '.join(lanes)}]}}\n"
        f"carriers: {len(keys)}\noperators: {{floor: {{{pool}, stations: [{', '.join(stations)}]}}}}\n"
        f"stations:\n{works}route: [[{', '.join(stations)}]]\n"
    )


def loop(stations: str, route: str, more: str = "", carriers: int = 8) -> str:
    return (
        "lanes:\n  out: {length: 2000 mm, from: west, to: east}\n"
        "  back: {length: 2000 mm, from: east, to: west, level: -100 mm}\n"
        "transfers:\n  east: {kind: lift, takes: out, gives: back}\n  west: {kind: lift, takes: back, gives: out}\n"
        f"carriers: {carriers}\n{more}stations:\n{stations}route: [{route}]\n"
    )


def attended(machines: int, operators: int) -> str:
    """Machines that run 100 s by themselves (their prepare) between exponential services of 50 s."""
    key = "work: manual, prepare: 100 s, time: {law: exponential, mean: 50 s}"
    return side_by_side([key] * machines, f"operators: {operators}, walk: 0 s")


def tended(machines: int) -> str:
    """Machines that run for exponential times of 100 s and then need one operator for 40 s."""
    return side_by_side(["time: {law: exponential, mean: 100 s}, release: 40 s"] * machines, "operators: 1, walk: 0 s")


TWO_CLASSES: Final = """lanes:
  main: {length: 2000 mm, from: west, to: east}
  side: {length: 2000 mm, from: west, to: east, across: 200 mm}
  back: {length: 2000 mm, from: east, to: west, across: 400 mm}
transfers:
  east: {kind: cross-transfer, takes: [main, side], gives: back, returns: when-called}
  west: {kind: cross-transfer, takes: back, gives: [main, side]}
carriers: 5
variants: {x: {share: 50 %, skips: [quick]}, y: {share: 50 %, skips: [slow]}}
fixture_sets: {red: {carriers: 3, variants: [x]}, blue: {carriers: 2, variants: [y]}}
stations:
  load: {lane: back, at: 200 mm, time: {law: exponential, mean: 100 s}}
  slow: {lane: side, at: 1500 mm, time: {law: exponential, mean: 150 s}}
  quick: {lane: main, at: 1500 mm, time: {law: exponential, mean: 60 s}}
  pack: {lane: back, at: 1100 mm, time: {law: exponential, mean: 80 s}}
route: [load, slow, quick, pack]
"""


def two_classes_per_h() -> float:
    visits = [[1, 1, 0, 1], [1, 0, 1, 1]]
    return 3600.0 * float(bounds.class_network([[100, 150, 60, 80]] * 2, [3, 2], visits).rate_per_s.sum())


def reworked(at_most: int) -> str:
    """A test of 20 s sends a quarter of the parts back to the press."""
    return loop(
        "  load: {lane: out, at: 700 mm, time: 4 s}\n  press: {lane: out, at: 1600 mm, time: 6 s}\n"
        f"  test: {{lane: back, at: 1200 mm, time: 20 s, rework: {{share: 25 %, to: press, at_most: {at_most}}}}}\n"
        "  scrap: {lane: back, at: 400 mm, time: 1 s, reject_exit: true}\n",
        "load, press, test, scrap",
    )


def changed_over(variants: str) -> str:
    return loop(
        "  load: {lane: out, at: 700 mm, time: 4 s}\n"
        "  press: {lane: out, at: 1600 mm, time: 20 s, changeover: {x: {y: 30 s}, y: {x: 12 s}}}\n"
        "  pack: {lane: back, at: 1200 mm, time: 5 s}\n",
        "load, press, pack",
        variants,
    )


CHANGES_S: Final = [[0.0, 30.0], [12.0, 0.0]]


# ---- without luck ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("run_s", "attend_s", "walk_s"), [(60, (40, 50), 8), (20, (40, 50), 8), (200, (40, 30), 4), (50, (50, 50), 0)]
)
def test_two_machines_and_one_operator(run_s: int, attend_s: tuple[int, int], walk_s: int) -> None:
    """The man-machine chart. He sets out when he is called, so that his walk is part of what the machine waits for."""
    keys = [f"time: {run_s} s, release: {attend} s" for attend in attend_s]
    chart = bounds.operator_round([attend + walk_s for attend in attend_s], [run_s, run_s], [0.0, 0.0])
    check_fixed(side_by_side(keys, f"operators: 1, walk: {walk_s} s"), chart.cycle_s / 2.0)


def test_a_sequence_with_changeover() -> None:
    cycle_s = 20.0 + bounds.sequence_changeover([0, 0, 0, 1, 1], CHANGES_S)
    check_fixed(changed_over("variants: {x: {}, y: {}}\nsequence: [{x: 3}, {y: 2}]\n"), cycle_s)


def test_nests_part_by_part() -> None:
    stations = "".join(
        f"  {name}: {{lane: {lane}, at: {at} mm, time: {time} s, each: {each}}}\n"
        for name, lane, at, time, each in (
            ("load", "out", 700, 4, "part"), ("press", "out", 1600, 9, "part"), ("oven", "back", 1200, 20, "carrier")
        )
    )  # fmt: skip
    check_fixed(
        loop(stations, "load, press, oven", "part: {mass: 10 g}\nfixture: {mass: 50 g, nests: 3}\n"), 9.0, attains=True
    )


def test_a_feed_limits_the_line() -> None:
    stations = (
        "  load: {lane: out, at: 700 mm, time: 4 s, feed: {every: 25 s, buffer: 3}}\n"
        "  press: {lane: out, at: 1600 mm, time: 20 s}\n"
    )
    check_fixed(loop(stations, "load, press"), 25.0, attains=True)


def test_a_break_costs_its_length_less_the_work_in_hand() -> None:
    """A quarter of an hour in each shift of two: the press ends its work and the next carrier comes in meanwhile."""
    stations = "  load: {lane: out, at: 700 mm, time: 4 s}\n  press: {lane: out, at: 1600 mm, time: 20 s}\n"
    calendar = "calendar: {shift: 2 h, breaks: {coffee: {at: 50 min, for: 15 min}}}\n"
    run = run_of(loop(stations, "load, press", calendar), hours=40.0, runs=2)
    upper = 180.0 * (1.75 + 20.0 / 3600.0) / 2.0
    assert rate_bounds(compiled(loop(stations, "load, press", calendar))[1]).upper_per_h == pytest.approx(
        upper, rel=1e-3
    )
    # Windows of the warm-up cut are no whole shifts: a break more or less in some forty hours.
    assert run.rates_per_h[0] == pytest.approx(upper, rel=0.01)
    assert run.rates_per_h[0] < 0.9 * 180.0


# ---- by chance -------------------------------------------------------------------------------------------------------

SYSTEMS: Final[dict[str, tuple[str, float, float]]] = {
    "three machines, one operator": (
        attended(3, 1),
        3600.0 * bounds.machine_interference(3, 1, 100, 50).rate_per_s,
        900,
    ),
    "three machines, two operators": (
        attended(3, 2),
        3600.0 * bounds.machine_interference(3, 2, 100, 50).rate_per_s,
        500,
    ),
    "three machines, services of one length": (
        tended(3),
        3600.0 * bounds.fixed_interference(3, 100, 40).rate_per_s,
        600,
    ),
    "four machines, services of one length": (
        tended(4),
        3600.0 * bounds.fixed_interference(4, 100, 40).rate_per_s,
        400,
    ),
    "two classes": (TWO_CLASSES, two_classes_per_h(), 1500),
    "random changeover": (
        changed_over("variants: {x: {share: 70 %}, y: {share: 30 %}}\n"),
        3600.0 / (20.0 + bounds.random_changeover([0.7, 0.3], CHANGES_S)),
        60,
    ),
    "one rework": (reworked(1), 3600.0 * bounds.rework_time(20, 0, 0.25, 1).good_per_s, 40),
    "three reworks": (reworked(3), 3600.0 * bounds.rework_time(20, 0, 0.25, 3).good_per_s, 40),
}
"""The line, the exact rate, and the hours of a run that give a half-width of about a fifth of a per cent in 40 runs."""


@pytest.mark.parametrize("name", ["three machines, services of one length", "three reworks"])
def test_equivalent(name: str) -> None:
    """A ninth of the time, and so three times the width."""
    text, expected, hours = SYSTEMS[name]
    check_equivalent(run_of(text, hours / 9.0, runs=40), expected, 3.0 * EQUIVALENT, 3.0 * NARROW)


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(SYSTEMS))
def test_equivalent_closely(name: str) -> None:
    text, expected, hours = SYSTEMS[name]
    check_equivalent(run_of(text, 16.0 * hours, runs=40, seed=SEED + 1), expected, CLOSELY, VERY_NARROW)


def test_visits_of_a_reworked_part() -> None:
    """Works at the test and at the exit per started part."""
    at_most = 2
    run = run_of(reworked(at_most), hours=200.0, runs=2)
    counted = bounds.rework_visits(0.25, at_most)
    works = dict(zip(run.stations["station"].tolist(), run.stations["parts"].tolist(), strict=True))
    assert works["test"] / works["load"] == pytest.approx(counted.visits, rel=0.01)
    assert works["scrap"] / works["load"] == pytest.approx(counted.scrapped_share, rel=0.1)
    assert works["press"] == pytest.approx(works["test"], rel=1e-3)
