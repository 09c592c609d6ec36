"""What a run-off is made of: its tests, what of it runs at once, and what cannot be tested."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

Phase = Literal["mounted", "standing", "running", "stopping", "later", "not to be shown"]

PHASES: Final[tuple[Phase, ...]] = ("mounted", "standing", "running", "stopping", "later", "not to be shown")
"""In the order of the run-off; ``later`` is counted in production, what is ``not to be shown`` has no plan."""


@dataclass(frozen=True)
class RunOffTest:
    """One row of the acceptance form.

    Parameters
    ----------
    code : stable code in words, for example ``failures``
    where : what it is about: ``whole line``, ``station press``
    phase : when it is done
    what : what is tested, in words
    method : how
    how_long : how long or how many, in words
    pass_line : what the form has to show, in words; empty where there is no plan
    why : where limit and plan come from; all that a customer may read
    internal : what only the builder reads: what is planned
    hours : of the line at work; None where it needs none. [h]
    count : parts, stops, strokes, failures or readings that it takes; None where only time counts
    allowed : how many of these may be bad; None where it is no count of bad ones
    planned : if all is as planned, in `unit`; None where nobody stated it
    limit : what is to be refused, or what may not be passed, in `unit`
    pass_value : the pass line as a number, in `unit`
    unit : SI; ``1`` for a share or an index, ``1/h`` for a rate
    refused_if_planned : chance that it is refused though all is as planned; None where luck or knowledge does not tell
    passed_at_limit : chance that it passes at the limit; None where luck plays no part
    falls_short : what is planned is no better than the limit, so no test can show that it is
    """

    code: str
    where: str
    phase: Phase
    what: str
    method: str
    how_long: str
    pass_line: str
    why: tuple[str, ...] = ()
    internal: tuple[str, ...] = ()
    hours: float | None = None
    count: int | None = None
    allowed: int | None = None
    planned: float | None = None
    limit: float | None = None
    pass_value: float | None = None
    unit: str | None = None
    refused_if_planned: float | None = None
    passed_at_limit: float | None = None
    falls_short: bool = False

    @property
    def possible(self) -> bool:
        """Whether there is a plan that the run-off can carry out."""
        return self.phase not in ("later", "not to be shown")

    @property
    def planned_for(self) -> bool:
        """Whether there is a plan, for the run-off or for production: such a test is a row of the form."""
        return self.phase != "not to be shown"


@dataclass(frozen=True)
class RunOffPhase:
    """What is done at one time.

    Parameters
    ----------
    phase : which
    hours : how long it takes. [h]
    told : what is done in it, and what of it runs at once
    """

    phase: Phase
    hours: float
    told: str


@dataclass(frozen=True)
class NotPlanned:
    """A test without a row.

    Parameters
    ----------
    what : what is not tested
    why : and which key of line file or sheet would give the figure
    """

    what: str
    why: str


@dataclass(frozen=True)
class RunOff:
    """What to run at the customer's, how long, and the pass lines.

    Parameters
    ----------
    tests : in the order of the run-off
    phases : in the order of the run-off, without what is later or not to be shown
    not_planned : what is not tested, and why
    confidence : least chance that something at a limit is refused
    builder_risk : greatest chance that one test refuses a line that is as planned
    most_hours : longer than this no test of the run-off runs. [h]
    stated : whether the line file has the key ``acceptance``
    """

    tests: tuple[RunOffTest, ...]
    phases: tuple[RunOffPhase, ...]
    not_planned: tuple[NotPlanned, ...]
    confidence: float
    builder_risk: float
    most_hours: float
    stated: bool

    @property
    def total_hours(self) -> float:
        """Of all phases, one after another. [h]"""
        return math.fsum(phase.hours for phase in self.phases)

    @property
    def refused_somewhere(self) -> float:
        """Greatest chance that a line as planned is refused in at least one test, of the run-off or counted later.

        The sum of the chances of all tests of which it is known, at most 1.
        """
        chances = [test.refused_if_planned for test in self.tests if test.planned_for]
        return min(1.0, math.fsum(chance for chance in chances if chance is not None))

    def of(self, code: str) -> tuple[RunOffTest, ...]:
        """The tests of a code, in their order."""
        return tuple(test for test in self.tests if test.code == code)
