"""What the papers take: all of the demo line's, gathered and written, in a warm process."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from time import perf_counter

from bench.lines import DEMO
from bench.timing import Row, alternate
from linewright.evaluation import evaluate
from linewright.handover.papers.catalogue import PAPERS, write_papers
from linewright.handover.papers.material import gather
from linewright.line.load import load_line


def paper_rows(repeats: int = 3) -> list[Row]:
    """The whole handover of the demo line, and the evaluation within it, alternating."""
    line = load_line(DEMO)
    names = tuple(name for name in PAPERS if name != "changes")

    def handed_over() -> int:
        papers = write_papers(gather(evaluate(line), names), names)
        return sum(map(len, papers.all_files().values()))

    jobs: list[Callable[[], object]] = [handed_over, lambda: evaluate(line)]
    for job in jobs:
        job()
    whole, alone = (statistics.median(times) for times in alternate(jobs, repeats, clock=perf_counter))
    note = f"{whole / alone:.0f} times `evaluate` of the same run; the proof goes in a process beside it"
    return [Row("all papers of the demo line, warm", whole, "s", 10, note=note)]
