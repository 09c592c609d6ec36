"""Whole processes from cold, and `evaluate` in a warm one."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, process_time

from bench.lines import DEMO, ROOT
from bench.timing import Row, alternate, stopwatch
from linewright.checks.motion import check_motion
from linewright.evaluation import evaluate, limits_of
from linewright.flow.duty import find_duty
from linewright.flow.replications import replicate
from linewright.flow.run import run_plan
from linewright.layout import check_layout, lay_out
from linewright.line.demand import find_takt
from linewright.line.load import load_line
from linewright.planning.size import size_line
from linewright.traffic.compile import compile_plan


def _start(*arguments: str, cache: str | None = None) -> tuple[float, float]:
    """Time and processor time of a whole Python process; exit codes 0 and 1 are verdicts, all others raise. [s]"""
    environment = os.environ | ({} if cache is None else {"NUMBA_CACHE_DIR": cache})
    job = [sys.executable, *arguments]
    before = _children_s()
    took, done = stopwatch(lambda: subprocess.run(job, cwd=ROOT, env=environment, capture_output=True, check=False))
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(job)} ended with {done.returncode}: {done.stderr.decode()[-400:]}")
    return took, _children_s() - before


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def start_rows(repeats: int = 5) -> list[Row]:
    """Whole processes: import, check, rate, and rate with nothing compiled."""
    program, line = ("-m", "linewright"), str(DEMO)
    _start(*program, "rate", line)
    check = (*program, "check", line)
    starts = [("-c", "pass"), ("-c", "import linewright"), check, (*program, "rate", line), (*check, "--run")]
    seen = [[_start(*arguments) for arguments in starts] for _ in range(repeats)]
    took = [statistics.median(one[n][0] for one in seen) for n in range(len(starts))]
    used = [f"{statistics.median(one[n][1] for one in seen):.2f} s of processor time" for n in range(len(starts))]
    with tempfile.TemporaryDirectory(prefix="linewright-bench-") as folder:
        cold, cold_used = _start(*program, "rate", line, cache=folder)
        size = sum(file.stat().st_size for file in Path(folder).rglob("*") if file.is_file())
    return [
        Row("import linewright", took[1] - took[0], "s", 0.3, note=f"less the bare interpreter's {took[0]:.3f} s"),
        Row("linewright check", took[2], "s", 2, note=used[2]),
        Row("linewright check --run", took[4], "s", 3, note=f"{used[4]}; 20 runs of 8 h, compiled code in the cache"),
        Row("linewright rate", took[3], "s", 3, note=f"{used[3]}; 20 runs of 8 h, compiled code in the cache"),
        Row(
            "linewright rate, nothing compiled",
            cold,
            "s",
            note=f"{cold_used:.1f} s of processor time; {size / 1e6:.1f} MB",
        ),
    ]


def evaluate_rows(repeats: int = 7) -> list[Row]:
    """`evaluate` of 20 runs of 8 h in a warm process, and its parts."""
    line = load_line(DEMO)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours=8, runs=20)
    duty, takt = find_duty(line, layout, plan, run), None if line.demand is None else find_takt(line.demand)
    jobs: list[Callable[[], object]] = [
        lambda: evaluate(line, hours=8, runs=20),
        lambda: lay_out(line),
        lambda: (check_layout(line, layout), check_motion(line, layout)),
        lambda: compile_plan(line, layout),
        lambda: run_plan(line, plan, hours=8, runs=20),
        lambda: load_line(DEMO),
        lambda: find_duty(line, layout, plan, run),
        lambda: limits_of(line, layout, takt, duty),
        lambda: limits_of(line, layout, takt, None),
    ]
    for job in jobs:
        job()
    whole, *parts = (statistics.median(times) for times in alternate(jobs, repeats, clock=perf_counter))
    names = ("lay out", "check layout and motion", "compile the plan (delays)", "runs, statistics, trace")
    used = statistics.median(alternate(jobs[:1], repeats, clock=process_time)[0])
    rows = [Row("evaluate, 20 runs of 8 h, warm", whole, "s", 1, note=f"{used:.2f} s of processor time, all threads")]
    rows += [Row(f"  {name}", part, "s") for name, part in zip(names, parts[:4], strict=True)]
    rows += [
        Row("  the duty of the first run", parts[5], "s"),
        Row("  the seven subjects, with it", parts[6], "s"),
        Row("  (the seven subjects without a run)", parts[7], "s"),
    ]
    return [*rows, *_run_parts(repeats), Row("  (before it: load the line file)", parts[4], "s")]


def _run_parts(repeats: int) -> list[Row]:
    """Where the runs' time goes: the same calls that `run_plan` makes, one after the other."""
    from linewright.flow import run as parts

    line = load_line(DEMO)
    plan = compile_plan(line, lay_out(line))
    horizon_us, cut_us = 8 * 3_600_000_000, round(run_plan(line, plan).warm_up_s * 1e6)
    jobs: list[Callable[[], object]] = [
        lambda: replicate(plan, 1, 20, horizon_us, 10_000_000, None),
        lambda: replicate(plan, 1, 20, cut_us, 10_000_000, None) if cut_us else None,
        lambda: parts._trace(plan, 1, horizon_us, cut_us),
    ]
    whole, early, trace = (statistics.median(times) for times in alternate(jobs, repeats, clock=perf_counter))
    return [
        Row("    the replications", whole, "s"),
        Row("    again up to the warm-up's end", early, "s", note=f"{cut_us / 6e7:.1f} min"),
        Row("    the trace", trace, "s"),
    ]


def size_rows(repeats: int = 3) -> list[Row]:
    """`size` over 5 to 40 carriers in a warm process, and its waiting stops."""
    line = load_line(DEMO)
    jobs: list[Callable[[], object]] = [
        lambda: size_line(line, 5, 40, hours=8, runs=10),
        lambda: size_line(line, 24, 24, hours=8, runs=10, judge_stops=True),
    ]
    jobs[1]()
    wall, stops = (statistics.median(times) for times in alternate(jobs, repeats, clock=perf_counter))
    used = statistics.median(alternate(jobs[:1], repeats, clock=process_time)[0])
    return [
        Row("size, 5 to 40 carriers, 10 runs of 8 h each", wall, "s", 5, note=f"{used:.1f} s of processor time"),
        Row("size --stops, 23 and 24 carriers", stops, "s", note="waiting stops of 15 places, 10 runs of 2 h each"),
    ]
