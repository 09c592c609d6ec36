"""The track chart: its specification, SVG and page, of two minutes and of a shift."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from time import perf_counter

from bench.lines import DEMO, ROOT
from bench.timing import Row, alternate
from linewright.evaluation import evaluate
from linewright.line.load import load_line
from linewright.pictures import Shown, track_chart

FORTY = ROOT / "examples" / "charts" / "forty.yaml"
SHIFT_S = 7.9 * 3600.0


def picture_rows(repeats: int = 5) -> list[Row]:
    """The track chart of the demo line, of forty stations, and of a shift, in a warm process."""
    line = load_line(DEMO)
    demo, forty = evaluate(line), evaluate(load_line(FORTY))
    shift = Shown(span_s=SHIFT_S)
    jobs: list[Callable[[], object]] = [
        lambda: track_chart(demo).svg(),
        lambda: track_chart(demo),
        lambda: track_chart(forty).svg(),
        lambda: track_chart(demo, shown=shift).svg(),
        lambda: track_chart(demo).html(),
        lambda: evaluate(line),
    ]
    for job in jobs:
        job()
    svg, spec, large, long, page, whole = (
        statistics.median(times) for times in alternate(jobs, repeats, clock=perf_counter)
    )
    sizes = [len(track_chart(demo, shown=shown).html()) / 1e6 for shown in (None, shift)]
    return [
        Row("track chart as SVG, warm", svg, "s", 1, note=f"{svg / whole:.2f} times `evaluate` of the same run"),
        Row("  its specification alone", spec, "s"),
        Row("  of forty stations", large, "s", 1),
        Row("  of a shift", long, "s"),
        Row("track chart as a page", page, "s", note="the library once read"),
        Row("  its size", sizes[0], "MB", 3),
        Row("  of a shift", sizes[1], "MB", 3),
    ]
