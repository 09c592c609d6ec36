"""Can the line lock up: the proof's answer to its two questions, as findings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.findings import Finding, Verdict
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, Answer, Cure, GridlockResult

if TYPE_CHECKING:
    from linewright.line.model import Line

SUBJECT: Final = "traffic"
RULE: Final = "docs/semantics.md, Gridlock"
FROM_START: Final = "from the planned start"

_VERDICTS: Final[dict[str, Verdict]] = {NEVER_LOCKS: "holds", CAN_LOCK: "fails"}


def gridlock_findings(result: GridlockResult, line: Line) -> tuple[Finding, ...]:
    """The findings ``gridlock`` (from the planned start) and ``gridlock-after-a-stop`` (from every placement).

    Parameters
    ----------
    result : of the proof
    line : the line, for the place of its ``carriers``

    Returns
    -------
    tuple of Finding   Two. value: the carriers; limit: the largest number that never locks, as far as it was proven.
        ``not checked`` where the proof is undecided. None is ``tight``: one carrier below the limit is as good a proof
        as ten.

    Notes      margin = 1 − value / limit; None where the limit is none or 0.
    Source     semantics.md, Gridlock.
    """
    cure = result.cure
    return (
        _finding(result, line, "gridlock", FROM_START, result.from_start, result.largest_from_start, cure),
        _finding(
            result,
            line,
            "gridlock-after-a-stop",
            "from every placement of the carriers, as hands may leave them",
            result.from_any_placement,
            result.largest_count,
            cure if cure is not None and cure.from_any_placement else None,
        ),
    )


def _finding(
    result: GridlockResult, line: Line, code: str, where: str, answer: Answer, limit: int | None, cure: Cure | None
) -> Finding:
    verdict = _VERDICTS.get(answer.outcome, "not checked")
    margin = 1.0 - result.carriers / limit if limit else None
    if margin is not None and verdict != ("fails" if margin < 0.0 else "holds"):
        margin = None  # the limit is the largest that was proven, which a count judged by itself may lie beyond
    return Finding(
        code=code,
        subject=SUBJECT,
        verdict=verdict,
        where=where,
        place=line.place("carriers"),
        value=float(result.carriers),
        limit=None if limit is None else float(limit),
        unit="carriers",
        margin=margin,
        source=RULE,
        remedy=_remedy(result, where, verdict, limit, cure),
    )


def _remedy(result: GridlockResult, where: str, verdict: Verdict, limit: int | None, cure: Cure | None) -> str:
    """What to do, in words; empty where nothing needs doing."""
    if verdict == "holds":
        return ""
    planned = where == FROM_START
    number = "" if not limit else "1 carrier never locks" if limit == 1 else f"at most {limit} carriers never lock"
    however = "wherever it stands" if limit == 1 else "however they stand"
    safe = number and f"{number} {'from the planned start' if planned else however}"
    if verdict == "not checked":
        return "the search did not come to an end, so nothing is proven" + (f"; {safe}" if safe else "")
    ruled = f"admit at most {cure.most} carriers to {cured_place(cure)}" if cure is not None else ""
    again = ""
    if not planned and result.from_start.outcome == NEVER_LOCKS:
        again = "after a stop in which hands moved carriers, put all of them, empty, as at the planned start"
    ways = "; or: ".join(way for way in (ruled, again, safe) if way)
    return ways or "linewright prove LINE shows the way into the jam: change what makes its ring"


def cured_place(cure: Cure) -> str:
    """Where a cure's rule counts, in words.

    Examples
    --------
    >>> cured_place(Cure(("spur",), ("lift",), None, None, 4, True))
    'lane spur and transfer lift'
    >>> cured_place(Cure(("upper",), (), 0.4, 1.25, 4, True))
    'lane upper from 400 mm to 1250 mm'
    """
    if cure.from_m is not None and cure.to_m is not None:
        return f"lane {cure.lanes[0]} from {1e3 * cure.from_m:.10g} mm to {1e3 * cure.to_m:.10g} mm"
    words = [_many("lane", cure.lanes), _many("transfer", cure.transfers)]
    return " and ".join(word for word in words if word)


def _many(what: str, names: tuple[str, ...]) -> str:
    if not names:
        return ""
    return f"{what}{'s' if len(names) > 1 else ''} {', '.join(names)}"
