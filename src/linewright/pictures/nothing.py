"""What a picture says that has nothing to show, or no run."""

from __future__ import annotations

from typing import Final

from linewright.errors import LinewrightError
from linewright.evaluation import WITHOUT_RUN, Evaluation

NO_RUN: Final = "no run was simulated; linewright rate, check --run and draw make one"


class NothingToDraw(LinewrightError):
    """There is nothing to draw; the text says why, and what would give something."""


def why_no_run(evaluation: Evaluation) -> str:
    """Why an evaluation has no run, in words: its track allows none, or none was asked for.

    Parameters
    ----------
    evaluation : without a run
    """
    told = next((row.remedy for row in evaluation.findings if row.code == "rate"), "")
    return NO_RUN if told in ("", WITHOUT_RUN) else told
