"""Words that several pictures say alike."""

from __future__ import annotations

from typing import Final

from linewright.findings import Verdict
from linewright.line.model import Line

VERDICT_WORDS: Final[dict[Verdict, str]] = {
    "fails": "FAILS",
    "not checked": "NOT CHECKED",
    "tight": "tight",
    "holds": "holds",
}
"""Verdicts as they stand in a sentence; what must not be missed in capitals."""

RATE_WORDS: Final[dict[Verdict, str]] = {**VERDICT_WORDS, "tight": "UNDECIDED"}
"""The same of the rate, whose tight means that its interval holds the required rate."""


def invented(line: Line) -> list[str]:
    """What stands over every picture of a line on an invented conveyor sheet; nothing on that of a maker."""
    if not line.conveyor.invented:
        return []
    return [f"The conveyor sheet {line.conveyor.name} is invented: do not buy or build from this picture."]
