"""The run-off of a line: every test with its pass line, and what of it runs at once."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from linewright.errors import SimulationError
from linewright.evaluation import Evaluation
from linewright.line.handing_over import Acceptance
from linewright.planning.run_off.basis import Basis
from linewright.planning.run_off.guards import guard_rows
from linewright.planning.run_off.halts import availability_row, failure_rows
from linewright.planning.run_off.mounting import mounting_rows, repeatability_row
from linewright.planning.run_off.records import PHASES, RunOff, RunOffPhase, RunOffTest
from linewright.planning.run_off.running import rate_row, rejects_row
from linewright.planning.run_off.stops import accuracy_rows, force_rows
from linewright.planning.run_off.warm import cabinet_row, coil_row, restart_rows, warm_up_hours
from linewright.planning.run_off.words import about, share_told

READING_H: Final = 1 / 60
"""Reckoned for one reading at a standstill; common practice. [h]"""


def plan_run_off(evaluation: Evaluation) -> RunOff:
    """Plan what a line has to show at the customer's, how long it takes, and the pass lines.

    Parameters
    ----------
    evaluation : of the line, with a run

    Returns
    -------
    RunOff   Its limits are those of the line file's ``acceptance`` where it states them, else derived: the required
             rate, twice the planned rejects, two or three times the planned down time and failures, and what conveyor
             sheet and line file state of accuracy, force and heat.

    Raises
    ------
    SimulationError   The evaluation has no run.

    Notes
    -----
    Each test that luck can decide is as long as it must be so that what lies at the limit is refused with the agreed
    confidence, and a line as planned is refused with the builder's risk at most. What takes longer than a day goes on
    after the handing over; what no length can show is said to be so.

    Source
    ------
    docs/handover/acceptance.md.
    """
    if evaluation.run is None:
        raise SimulationError("a run-off is planned from a run: linewright check --run, rate and handover make one")
    stated = evaluation.line.acceptance
    basis = Basis(evaluation, evaluation.run, Acceptance() if stated is None else stated)
    found = mounting_rows(basis) + repeatability_row(basis) + accuracy_rows(basis) + force_rows(basis)
    found += rate_row(basis) + rejects_row(basis) + availability_row(basis) + failure_rows(basis)
    found += coil_row(basis) + cabinet_row(basis) + restart_rows(basis) + guard_rows(basis)
    tests = tuple(_with_chance(one) for one in sorted(found.tests, key=lambda test: PHASES.index(test.phase)))
    return RunOff(
        tests=tests,
        phases=_phases(basis, tests),
        not_planned=found.not_planned,
        confidence=basis.agreed.confidence,
        builder_risk=basis.agreed.builder_risk,
        most_hours=basis.most_hours,
        stated=stated is not None,
    )


def _with_chance(test: RunOffTest) -> RunOffTest:
    """The same test, its chance to be refused as planned among what only the builder reads."""
    if test.refused_if_planned is None or not test.planned_for:
        return test
    told = f"refused, though as planned: {share_told(test.refused_if_planned)}"
    return replace(test, internal=(*test.internal, told))


def _phases(basis: Basis, tests: tuple[RunOffTest, ...]) -> tuple[RunOffPhase, ...]:
    """What follows on what; tests of one phase that only count run at once."""
    phases = []
    mounted = [test for test in tests if test.phase == "mounted"]
    if mounted:
        hours = READING_H * math.fsum(test.count or 1 for test in mounted)
        told = "measure the mounted track, before the stations are set up; reckoned at a minute a reading"
        phases.append(RunOffPhase("mounted", hours, told))
    standing = [test for test in tests if test.phase == "standing"]
    if standing:
        # One reading at a station tells all axes.
        at_station: dict[str, int] = {}
        for test in standing:
            key = f"{test.code} {test.where.split(',')[0]}"
            at_station[key] = max(at_station.get(key, 0), test.count or 0)
        told = "stops and forces, station by station; reckoned at a minute a reading, all axes of a stop at once"
        phases.append(RunOffPhase("standing", READING_H * sum(at_station.values()), told))
    running = [test for test in tests if test.phase == "running"]
    # The coils are warm when the counts begin: their row adds no time.
    counts = [test.hours for test in running if test.hours is not None and test.code != "coil-temperature"]
    warm_h = warm_up_hours(basis)
    if running and not counts:
        told = "the line at full rate until it is warm; then the coils are read"
        phases.append(RunOffPhase("running", warm_h, told))
    if counts:
        told = (
            f"the line at full rate without a break: {about(warm_h)} to warm up, then all counts at once; the longest "
            f"of them, about {about(max(counts))}, sets the end; the coils are read after it"
        )
        phases.append(RunOffPhase("running", warm_h + max(counts), told))
    stopping = [test for test in tests if test.phase == "stopping"]
    if stopping:
        told = (
            "emergency stops, trips of guards, restarts; reckoned at ten minutes each, by themselves: they spoil counts"
        )
        phases.append(RunOffPhase("stopping", math.fsum(test.hours or 0.0 for test in stopping), told))
    return tuple(phases)
