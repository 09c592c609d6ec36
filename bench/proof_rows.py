"""The proof: the demo line decided, growth with stops and carriers, all states gone through, the referee, stops."""

from __future__ import annotations

import sys
import tracemalloc
from collections.abc import Callable
from statistics import median
from time import perf_counter, thread_time
from typing import Any, Final

from bench.growth_rows import OTHER, SIZES
from bench.kernel_rows import HOUR_US, kernel_run
from bench.lines import ROOT, Planned, sized
from bench.timing import Row, alternate, ratio, stopwatch
from linewright.flow.gridlock import gridlock
from linewright.flow.recovery import recover
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.traffic.explore import Exploration, explore
from linewright.traffic.gridlock.decide import Found, Prover
from linewright.traffic.gridlock.system import Happening, State
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee import judge_log

MOST_STATES: Final = 1_000_000
STOPS: Final = 100
SPUR: Final = ROOT / "examples" / "locks" / "spur.yaml"


def proof_rows(planned: Planned, repeats: int = 5) -> list[Row]:
    """How long the parts of a proof take."""
    return [*_decided(planned, repeats), *_states(repeats), _referee(planned, repeats), _recovery(planned)]


def both_questions(plan: TrafficPlan) -> tuple[Found, Found]:
    """The planned start and every placement, nothing known beforehand."""
    prover = Prover(plan)
    return prover.from_start(), prover.from_any_placement()


def _decided(planned: Planned, repeats: int) -> list[Row]:
    """The demo line, and one that can lock, with its replay and its cure."""
    gridlock(planned.line)
    start, anywhere = both_questions(planned.plan)
    jobs: list[Callable[[], object]] = [lambda: both_questions(planned.plan), lambda: gridlock(planned.line)]
    questions, whole = alternate(jobs, repeats)
    spur = load_line(SPUR)
    spur_s, locks = stopwatch(lambda: gridlock(spur), thread_time)
    told = f"from the planned start: jams {start.jams}, from every placement: jams {anywhere.jams}; plan compiled"
    return [
        Row("demo line decided", median(questions), "s", 1.0, note=told),
        Row("  with its plan compiled, and told", median(whole), "s", 1.0),
        Row(
            "  a line that can lock, led into it and cured",
            spur_s,
            "s",
            note=f"{SPUR.relative_to(ROOT)}: {locks.outcome}, {locks.cures_tried} cures tried",
        ),
    ]


def _states(repeats: int) -> list[Row]:
    """All states of a ring, by the explorer and by the tests' brute force."""
    sys.path.insert(0, str(ROOT / "tests"))
    from agree.brute_gridlock import brute_from_any_placement
    from agree.small_plans import Small, plan_of
    from agree.small_routes import RING, Shape

    def ring(count: int, carriers: int) -> TrafficPlan:
        return plan_of(Small("ring", Shape((count,), RING), ((1, 0), (count // 2, 1)), carriers))

    plan = ring(12, 6)
    found = _all_states(plan)
    by_explorer = median(alternate([lambda: _all_states(plan)], repeats)[0])
    tracemalloc.start()
    kept = _all_states(plan)
    bytes_a_state = tracemalloc.get_traced_memory()[0] / kept.states
    tracemalloc.stop()
    small = ring(8, 4)
    brute = brute_from_any_placement(small, MOST_STATES)
    assert brute.states == _all_states(small).states
    jobs: list[Callable[[], object]] = [
        lambda: _all_states(small),
        lambda: brute_from_any_placement(small, MOST_STATES),
    ]
    fast, slow = alternate(jobs, repeats)
    return [
        Row(
            "states gone through",
            found.states / by_explorer,
            "/s",
            note=f"6 carriers on a ring of 12 stops, {found.states:,} states, {found.edges:,} transitions",
        ),
        Row("  memory of one state", bytes_a_state, "B", note="with its transitions; stops and labels included"),
        Row(
            "  against the tests' brute force",
            ratio(slow, fast),
            "x",
            note=f"4 carriers on a ring of 8 stops, {brute.states:,} states in both",
        ),
    ]


def _all_states(plan: TrafficPlan) -> Exploration[State, Happening]:
    """Every state that comes of any placement of a plan's carriers."""
    prover = Prover(plan)
    return explore(prover._every_state(plan.carriers), prover.system.happenings, MOST_STATES)


def _referee(planned: Planned, repeats: int) -> Row:
    """Moves judged a second, of one hour of the demo line."""
    layout = lay_out(planned.line)
    moves = kernel_run(planned, HOUR_US, 0).moves

    def judge() -> Any:
        return judge_log(planned.line, layout, planned.plan, moves, HOUR_US)

    assert judge().holds
    took = median(alternate([judge], repeats)[0])
    return Row(
        "moves judged by the referee", len(moves) / took, "/s", note=f"one hour of the demo line, {len(moves):,}"
    )


def _recovery(planned: Planned) -> Row:
    """Stops a second, on all cores."""
    recover(planned.line, stops=10)
    took, _ = stopwatch(lambda: recover(planned.line, stops=STOPS), perf_counter)
    return Row("stops and recoveries", STOPS / took, "/s", note=f"{STOPS} stops of the demo line, all cores")


def print_proof_growth(repeats: int = 3) -> None:
    """Print how long the theorem of room takes for lines of growing size."""
    print("\nGrowth of the proof (the same lines; both questions, plan compiled)")
    print("  stations carriers  stops  least ring  decided s")
    for stations, carriers in [(n, OTHER) for n in SIZES] + [(OTHER, n) for n in SIZES]:
        plan = sized(stations, carriers).plan
        start, anywhere = both_questions(plan)
        took = median(alternate([lambda plan=plan: both_questions(plan)], repeats)[0])  # type: ignore[misc]
        least = "-" if anywhere.ring is None else f"{anywhere.ring.carriers}"
        told = {False: "never locks", True: "can lock", None: "undecided"}
        print(
            f"  {stations:8} {carriers:8} {plan.stops:6} {least:>11} {took:10.4f}  {told[start.jams]}, "
            f"from every placement {told[anywhere.jams]}",
            flush=True,
        )
