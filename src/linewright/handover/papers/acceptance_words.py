"""Words that the pages of the acceptance form have in common: rows by their numbers, times, chances."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from linewright.quantities import KEEP, number

if TYPE_CHECKING:
    from linewright.planning.run_off import RunOff, RunOffTest


def rows_told(rows: Sequence[int]) -> str:
    """Rows of the form by their numbers: ``rows 1, 3 to 5``."""
    return f"row{'' if len(rows) == 1 else 's'} {ranges(rows)}"


def ranges(numbers: Sequence[int]) -> str:
    """Ascending numbers in words: ``1, 3 to 5``."""
    words: list[str] = []
    begin = last = numbers[0]
    for one in [*numbers[1:], None]:
        if one is not None and one == last + 1:
            last = one
            continue
        words.append(number(begin) if begin == last else f"{number(begin)} to {number(last)}")
        begin = last = 0 if one is None else one
    return ", ".join(words)


def sentences(words: Sequence[str]) -> str:
    """Clauses as sentences, each with its capital and its full stop."""
    return ". ".join(text[:1].upper() + text[1:] for text in words) + "."


def hours_told(hours: float) -> str:
    """A time that is reckoned: hours to the half, less than two in minutes."""
    if hours < 2.0:
        return f"{number(round(hours * 60.0))}{KEEP}min"
    return f"{number(round(hours * 2.0) / 2.0)}{KEEP}h"


def chance_told(plan: RunOff, test: RunOffTest) -> float | None:
    """What the form tells of the chance of a refusal as planned: the builder's risk, which tells nothing of what is
    planned; where the agreed length is too short to keep it, the chance itself.

    Parameters
    ----------
    plan : of the run-off
    test : one of its rows
    """
    chance = test.refused_if_planned
    return None if chance is None else max(chance, plan.builder_risk)
