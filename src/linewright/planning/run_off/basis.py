"""What the rows of a run-off are planned from, and the customs that they follow where nothing is agreed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from linewright.evaluation import Evaluation
from linewright.flow.run import Run
from linewright.line.handing_over import Acceptance
from linewright.line.model import Line, Station
from linewright.line.times import Failure
from linewright.planning.run_off.records import NotPlanned, Phase, RunOffTest
from linewright.planning.run_off.words import hours_told

MOST_HOURS: Final = 24.0
"""Longest count of a run-off: a day round the clock, common practice. [h]"""
MOST_LATER_HOURS: Final = 1000.0
"""Longest count in production: some two months in three shifts, common practice. [h]"""
TIMES_PLANNED: Final = 2.0
"""Rejects that are to be refused, over those planned, where nothing is agreed; common practice."""


@dataclass(frozen=True, eq=False)
class Basis:
    """An evaluation with its run, and what is agreed.

    Parameters
    ----------
    evaluation, run : of the line; the run is the evaluation's
    agreed : of the line file, or its defaults
    """

    evaluation: Evaluation
    run: Run
    agreed: Acceptance

    @property
    def line(self) -> Line:
        """The line."""
        return self.evaluation.line

    @property
    def units(self) -> Literal["mm", "inch"]:
        """For printing."""
        return self.line.units

    @property
    def run_h(self) -> float:
        """Length of one simulated run without its warm-up. [h]"""
        return self.run.hours - self.run.warm_up_s / 3600.0

    @property
    def most_hours(self) -> float:
        """Longest count of the run-off. [h]"""
        stated_s = self.agreed.time_s
        return MOST_HOURS if stated_s is None else max(MOST_HOURS, stated_s / 3600.0)

    def phase_of(self, hours: float) -> Phase:
        """When a count of that length is made: in the continuous run, in production, or never. [h]"""
        if hours <= self.most_hours:
            return "running"
        return "later" if hours <= MOST_LATER_HOURS else "not to be shown"

    def pass_line(self, phase: Phase, words: str) -> str:
        """What stands on the form; nothing where nobody counts it."""
        return "" if phase == "not to be shown" else words

    def phase_words(self, phase: Phase) -> tuple[str, ...]:
        """Why a count is not made in the run-off; nothing where it is."""
        if phase == "running":
            return ()
        if phase == "later":
            return (f"longer than {hours_told(self.most_hours)}: counted in production, from the day of handing over",)
        return (f"longer than {hours_told(MOST_LATER_HOURS)}, which nobody counts",)


@dataclass(frozen=True)
class Found:
    """Rows, and what has none."""

    tests: tuple[RunOffTest, ...] = ()
    not_planned: tuple[NotPlanned, ...] = ()

    def __add__(self, other: Found) -> Found:
        return Found(self.tests + other.tests, self.not_planned + other.not_planned)


@dataclass(frozen=True)
class Failing:
    """How often a station fails, and for how long, by the line file and the run.

    Parameters
    ----------
    station : its name
    per_h : failures in an hour of the line at work. [1/h]
    down_share : of that time in which it is being repaired
    regular : not every kind comes at random with a constant mean rate
    """

    station: str
    per_h: float
    down_share: float
    regular: bool


def failing_stations(basis: Basis) -> tuple[Failing, ...]:
    """The stations that state failures, in the line's order.

    Notes
    -----
    A failure that counts time in work comes as often as the station is at work in the run, one that counts the clock by
    the clock, a jam as often as the station ends its works. The rates of several kinds add up.
    """
    rows = {str(row["station"]): row for row in basis.run.stations.rows()}
    # The run counts parts; a work is done on all nests of a carrier at once.
    nests = 1 if basis.line.fixture is None else basis.line.fixture.nests
    found = []
    for station in basis.line.stations:
        if station.failures:
            row = rows[station.name]
            works_per_h = float(row["parts"]) / (nests * basis.run.runs * basis.run_h)
            per_h = [_per_h(failure, float(row["work_share"]), works_per_h) for failure in station.failures]
            down = sum(
                rate * failure.repair.mean_s / 3600.0 for rate, failure in zip(per_h, station.failures, strict=True)
            )
            found.append(Failing(station.name, sum(per_h), down, _regular(station)))
    return tuple(one for one in found if one.per_h > 0.0)


def _per_h(failure: Failure, work_share: float, works_per_h: float) -> float:
    every_s = failure.mean_every_s
    if every_s is None:
        assert failure.one_in is not None  # held by the line file
        return works_per_h / failure.one_in
    return (work_share if failure.of == "running" else 1.0) * 3600.0 / every_s


def _regular(station: Station) -> bool:
    return any(failure.every is not None and failure.every.kind != "exponential" for failure in station.failures)
