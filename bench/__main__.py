"""Measure everything of docs/performance.md and print it as one table; a missed budget is printed, never an error."""

from __future__ import annotations

import os
import platform
import subprocess
from datetime import UTC, datetime
from importlib.metadata import version

from bench.c_kernel import compiler
from bench.general_rows import general_rows
from bench.growth_rows import print_growth
from bench.kernel_rows import causes_rows, event_rows, simpy_rows, thread_rows
from bench.lines import DEMO, ROOT, demo
from bench.paper_rows import paper_rows
from bench.picture_rows import picture_rows
from bench.program_rows import evaluate_rows, size_rows, start_rows
from bench.proof_rows import print_proof_growth, proof_rows
from bench.timing import print_rows


def main() -> None:
    """Run the bench."""
    planned = demo()
    plan = planned.plan
    print(f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, {_machine()}")
    print(
        f"{DEMO.relative_to(ROOT)}: {len(plan.station_names)} stations, {plan.carriers} carriers, {plan.stops} stops, "
        f"{plan.delay_us.shape[0] // 2} legs"
    )
    print_rows("Kernel", event_rows(planned))
    print_rows("Causes", causes_rows(planned))
    print_rows("General loop", general_rows(planned))
    print_rows("Threads", thread_rows(planned))
    print_rows("evaluate", evaluate_rows())
    print_rows("size", size_rows())
    print_rows("Pictures", picture_rows())
    print_rows("Papers", paper_rows())
    print_rows("Cold starts", start_rows())
    print_growth()
    print_rows("Proof", proof_rows(planned))
    print_proof_growth()
    print_rows("SimPy", simpy_rows(planned))
    print(f"\nload average at the end: {os.getloadavg()[0]:.1f}")


def _machine() -> str:
    path = compiler()
    c = "no C compiler"
    if path is not None:
        c = subprocess.run([path, "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    libraries = ", ".join(f"{name} {version(name)}" for name in ("linewright", "numba", "numpy", "simpy"))
    return (
        f"{os.cpu_count()} cores, Python {platform.python_version()}, {libraries}, {c}, load {os.getloadavg()[0]:.1f}"
    )


if __name__ == "__main__":
    main()
