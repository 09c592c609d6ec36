"""An invented run with round figures, so that pages and files can be tested without simulating."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any, cast

import numpy as np

from linewright.checks.rate import check_rate, check_run_length
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.flow.run import ShortHalts
from linewright.flow.statistics import Interval, mean_interval
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.tables import Column, Table

STATES = (
    "down", "work", "clear", "done_handshake", "blocked", "partner", "settling", "prepare", "exchange", "starved",
    "changeover", "operator", "outside", "break",
)  # fmt: skip
SHARES = (0.05, 0.4, 0.04, 0.01, 0.1, 0.05, 0.05, 0.05, 0.1, 0.15, 0.0, 0.0, 0.0, 0.0)
CYCLE_S = 4.5
CAUSES = (
    ("work", "press", 0.6),
    ("exchange move", "press", 0.2),
    ("repair", "unload", 0.1),
    ("clock failure", "press", 0.05),
    ("transfer", "east-lift", 0.05),
)


@dataclass(frozen=True)
class StandInLimiting:
    """The limiting station as a run gives it."""

    step: str
    time_s: float
    next_step: str
    by_s: float


@dataclass(frozen=True, eq=False)
class StandInRun:
    """What pages, files and checks read of a run."""

    rate: Interval | None
    reason: str | None
    line_cycle_s: float | None
    warm_up_s: float
    warm_up_past_half: bool
    rates_per_h: np.ndarray
    short_halts: ShortHalts | None
    stalled_runs: int
    stations: Table
    steps: Table
    limiting: StandInLimiting | None
    moves: Table
    works: Table
    failures: Table
    cycle_causes: Table
    cycle_causes_by_station: Table
    causes_cycle_s: float | None = 4.5
    seed: int = 1
    hours: float = 8.0
    runs: int = 4


def written_line(folder: Path) -> Path:
    """The two-deck pattern as a file, on the sheet demo-heavy with a platform that is long enough for any dock."""
    built_in = resources.files("linewright.line") / "sheets" / "demo-heavy.yaml"
    sheet = re.sub(r"platform: \d+ mm", "platform: 300 mm", built_in.read_text("utf-8"))
    (folder / "sheet.yaml").write_text(sheet, "utf-8")
    line = pattern_text("two-deck").replace("conveyor: demo-heavy", "conveyor: sheet.yaml")
    path = folder / "line.yaml"
    path.write_text(line, "utf-8")
    return path


def causes_table(causes: Sequence[tuple[str, str, float]]) -> Table:
    """Causes of a line cycle of 4.5 s: kind, place and share of each, in the order in which a run gives them."""
    shares = np.array([share for *_, share in causes])
    return Table(
        (
            Column("kind", None, np.array([kind for kind, _, _ in causes], dtype=np.str_)),
            Column("place", None, np.array([place for _, place, _ in causes], dtype=np.str_)),
            Column("time_s", "s", CYCLE_S * shares),
            Column("share", None, shares),
        )
    )


def stand_in_run(line: Line, rates: tuple[float, ...] = (798.0, 800.0, 801.0, 801.0)) -> StandInRun:
    """A run of that line with these rates, every station with the same shares, the second step limiting."""
    names = np.array([station.name for station in line.stations])
    steps = np.array([step.name for step in line.route])
    times = np.linspace(3.0, 4.0, len(steps))
    times[1] = 4.5
    kinds = [(s.name, i + 1) for s in line.stations for i in range(len(s.failures))]
    step_of = {name: step.name for step in line.route for name in step.stations}
    shares = [Column(f"{state}_share", None, np.full(len(names), s)) for state, s in zip(STATES, SHARES, strict=True)]
    return StandInRun(
        rate=mean_interval(rates),
        reason=None,
        line_cycle_s=4.5,
        warm_up_s=600.0,
        warm_up_past_half=False,
        rates_per_h=np.array(rates),
        short_halts=None,
        stalled_runs=0,
        stations=Table(
            (
                Column("station", None, names),
                Column("step", None, np.array([step_of[name] for name in names])),
                *shares,
                Column("parts", None, np.full(len(names), 25600)),
                Column("oee_index", None, np.array([np.nan] + [0.5] * (len(names) - 1))),
            )
        ),
        steps=Table(
            (
                Column("step", None, steps),
                Column("stations", None, np.array([len(step.stations) for step in line.route])),
                Column("time_per_good_part_s", "s", times),
            )
        ),
        limiting=StandInLimiting(str(steps[1]), 4.5, str(steps[-1]), 0.5),
        moves=Table((Column("carrier", None, np.array([0, 1])), Column("departure_s", "s", np.array([0.0, 1.5])))),
        works=Table((Column("station", None, names[:2]), Column("start_s", "s", np.array([0.25, 1.75])))),
        failures=Table(
            (
                Column("station", None, np.array([name for name, _ in kinds])),
                Column("failure", None, np.array([number for _, number in kinds])),
                Column("seen", None, np.full(len(kinds), 12)),
            )
        ),
        cycle_causes=causes_table(CAUSES),
        cycle_causes_by_station=Table(
            (Column("place", None, names), Column("work_s", "s", np.where(names == "press", 0.6 * CYCLE_S, 0.0)))
        ),
    )


def with_run(line: Line, run: StandInRun | None = None, **changes: Any) -> Evaluation:
    """The evaluation that a line would have with this run; changes replace fields of the run."""
    bare = evaluate_without_run(line)
    made = cast(Any, replace(stand_in_run(line) if run is None else run, **changes))
    judged = (check_rate(line, made, bare.takt), *check_run_length(line, made))
    findings = judged + tuple(finding for finding in bare.findings if finding.code != "rate")
    return replace(bare, run=made, findings=findings)


def demo_line(folder: Path) -> Line:
    """That line, read."""
    return load_line(written_line(folder))
