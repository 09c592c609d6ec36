"""How times grow with carriers and stations."""

from __future__ import annotations

from statistics import median

from bench.kernel_rows import SHIFT_US, kernel_run
from bench.lines import Planned, prepare, sized
from bench.timing import alternate

SIZES = (5, 10, 20, 40)
OTHER = 12


def print_growth(repeats: int = 3) -> None:
    """Print plan time, nanoseconds an event and seconds a shift for lines of growing size."""
    print("\nGrowth (invented two-lane lines; one run of 8 h)")
    print("  stations carriers  stops    legs  layout s  plan s  ns/event  events/shift  s/shift  good parts")
    pairs = [(OTHER, n) for n in SIZES] + [(n, OTHER) for n in SIZES] + [(n, n) for n in SIZES]
    for stations, carriers in pairs:
        planned = sized(stations, carriers)
        again = [prepare(planned.line) for _ in range(repeats)]
        _print_size(planned, stations, carriers, again)


def _print_size(planned: Planned, stations: int, carriers: int, again: list[Planned]) -> None:
    run = kernel_run(planned, SHIFT_US)
    shift_s = min(alternate([lambda: kernel_run(planned, SHIFT_US)], 5)[0])
    legs = planned.plan.delay_us.shape[0] // 2
    print(
        f"  {stations:8} {carriers:8} {planned.plan.stops:6} {legs:7} {median(p.layout_s for p in again):9.4f} "
        f"{median(p.plan_s for p in again):7.3f} {1e9 * shift_s / run.events:9.1f} {run.events:13,} {shift_s:8.3f} "
        f"{int(run.totals.good.sum()):11,}",
        flush=True,
    )
