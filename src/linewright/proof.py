"""The path of the proof: a line in, out whether it can lock, whether carriers touch, and whether it starts again.

It stands beside `linewright.evaluation`: it gathers what other rooms say and chooses nothing, so it is no planning; and
pages read it as they read an Evaluation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.checks.gridlock import gridlock_findings
from linewright.checks.recovery import recovery_findings
from linewright.checks.referee import dead_section_findings, referee_findings
from linewright.errors import SimulationError
from linewright.findings import Finding
from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.traffic.gridlock.result import NEVER_LOCKS, GridlockResult

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery
    from linewright.traffic.dead_section import DeadSection
    from linewright.traffic.plan import TrafficPlan
    from linewright.traffic.referee import RefereeReport

SHIFT_S: Final = 8 * 3600.0
"""A shift where the line file states none. [s]"""

Told = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and of how much."""


@dataclass(frozen=True, eq=False)
class Proof:
    """All that is known of a line's traffic: a plain record, of which a reader takes what it needs.

    Parameters
    ----------
    line, layout, plan : the line, its track unrolled, its traffic plan
    gridlock : whether it can lock up
    referee : the judgement of a shift's moves
    dead_section : what happens when a section dies under a carrier; None where no two ever move behind one another
    recovery : the line stopped again and again; None where that could not be tried
    no_recovery : why not, in words; empty where it was
    findings : of all of these
    shift_s : how long the run was of which the referee judged the moves. [s]
    seed : of that run and of the stops
    """

    line: Line
    layout: Layout
    plan: TrafficPlan
    gridlock: GridlockResult
    referee: RefereeReport
    dead_section: DeadSection | None
    recovery: Recovery | None
    no_recovery: str
    findings: tuple[Finding, ...]
    shift_s: float
    seed: int

    @property
    def recovers(self) -> bool:
        """Whether good parts came again after every stop."""
        return self.recovery is not None and self.recovery.failed == 0

    @property
    def never_locks(self) -> bool:
        """Whether it never locks, from the planned start and from any placement."""
        answers = (self.gridlock.from_start, self.gridlock.from_any_placement)
        return all(answer.outcome == NEVER_LOCKS for answer in answers)

    @property
    def holds(self) -> bool:
        """Whether both proofs, the referee and the recovery hold."""
        return self.never_locks and self.referee.holds and self.recovers


def prove(
    line: Line, seed: int = 1, stops: int = 200, workers: int | None = None, progress: Told | None = None
) -> Proof:
    """Prove a line's traffic, as far as it can be proven, and judge a shift of it.

    Parameters
    ----------
    line : a valid line
    seed : of the shift and of the stops, >= 0
    stops : random stops after which it must make good parts again, >= 1
    workers : threads; None for one a core. The result does not depend on it.
    progress : called as the work goes on, from any thread

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track.
    ValueError        An argument is out of range.

    Source     docs/semantics.md, "Gridlock".
    """
    from linewright.flow.gridlock import gridlock
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of
    from linewright.traffic.compile import compile_plan
    from linewright.traffic.dead_section import contact_of
    from linewright.traffic.referee import follow_log, judge_followed

    def tell(what: str, done: int = 0, of: int = 1) -> None:
        if progress is not None:
            progress(what, done, of)

    if seed < 0 or stops < 1:
        raise ValueError(f"seed {seed}, stops {stops}: at least 0 and 1 are due")
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    tell("Looking for a way to lock up")
    locks = gridlock(line)
    tell("Simulating a shift")
    plan = compile_plan(line, layout)
    shift_s = SHIFT_S if line.calendar is None else line.calendar.shift_s
    shift_us = round(shift_s * 1e6)
    ran = run_once(plan, tables_of(plan), luck_of(plan, seed, 0), shift_us, shift_us, trace_from_us=0)
    tell("Judging every move of it")
    followed = follow_log(line, layout, plan, ran.moves)
    report = judge_followed(line, layout, plan, followed)
    tell("Looking for the worst contact in it")
    dead = contact_of(line, layout, plan, followed)
    recovery, why = _recovery(line, seed, stops, workers, tell)
    findings = gridlock_findings(locks, line) + referee_findings(report, line)
    findings += dead_section_findings(dead, line) + recovery_findings(recovery, line, why)
    return Proof(line, layout, plan, locks, report, dead, recovery, why, findings, shift_s, seed)


def _recovery(line: Line, seed: int, stops: int, workers: int | None, tell: Told) -> tuple[Recovery | None, str]:
    """The line stopped again and again, or why that cannot be tried."""
    from linewright.flow.recovery import recover

    words = f"Stopping the line {stops} times"
    tell(words, 0, stops)
    try:
        return recover(line, stops, seed, workers, lambda done: tell(words, done, stops)), ""
    except SimulationError as problem:
        return None, str(problem)
