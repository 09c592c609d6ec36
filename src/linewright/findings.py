"""A finding: one thing that was checked, with its number, its limit, its margin and its source."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import Any, Final, Literal

from linewright.errors import Place

Verdict = Literal["holds", "tight", "fails", "not checked"]

WORST_FIRST: Final[tuple[Verdict, ...]] = ("fails", "not checked", "tight", "holds")
TIGHT_MARGIN: Final = 0.10
# Figures that differ by less than this share are the same figure.
SAME_FIGURE: Final = 1e-9


@dataclass(frozen=True)
class Finding:
    """One row of the answer.

    Parameters
    ----------
    code : stable code in words, for example ``station-centres``
    subject : the group it belongs to: ``rate``, ``layout``, ``motion`` ...
    verdict : ``holds``, ``tight`` (margin under 10 %), ``fails`` or ``not checked``
    where : what it is about, in words: ``station press``
    place : where that stands in the user's file; None for a line made in Python
    value, limit : in ``unit``; None where there is no number
    margin : share of the limit that is left, negative where it fails; None where there is no limit
    source : where the limit or the formula comes from
    remedy : what to do about it; empty where nothing needs doing
    """

    code: str
    subject: str
    verdict: Verdict
    where: str
    place: Place | None
    value: float | None
    limit: float | None
    unit: str | None
    margin: float | None
    source: str
    remedy: str

    def as_dict(self) -> dict[str, Any]:
        """The finding as it stands in JSON."""
        return {
            "code": self.code,
            "subject": self.subject,
            "verdict": self.verdict,
            "where": self.where,
            "place": None if self.place is None else self.place.as_dict(),
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "margin": self.margin,
            "source": self.source,
            "remedy": self.remedy,
        }


def counts_sentence(findings: tuple[Finding, ...]) -> str:
    """How many findings stand under each verdict, those that were not checked in capitals.

    Examples
    --------
    >>> counts_sentence(()).replace(chr(160), " ")
    'Findings: 0 fail, 0 NOT CHECKED, 0 tight, 0 hold.'
    """
    counts = Counter(finding.verdict for finding in findings)
    words = {"fails": "fail", "not checked": "NOT CHECKED", "tight": "tight", "holds": "hold"}
    return "Findings: " + ", ".join(f"{counts[verdict]}\u00a0{words[verdict]}" for verdict in WORST_FIRST) + "."


def margin_below(value: float, limit: float) -> float:
    """Share of a limit that a value leaves, negative where it is beyond it.

    Parameters
    ----------
    value : >= 0
    limit : in the same unit; where it is 0 or less nothing is allowed

    Returns
    -------
    float   1 - value/limit; 0 where the two are the same to a billionth, so that a figure told in a remedy holds.

    Examples
    --------
    >>> margin_below(7.7, 0.7 * 11.0), margin_below(9.0, 10.0) > 0.0, margin_below(1.0, 0.0)
    (0.0, True, -inf)
    """
    if limit <= 0.0:
        return -math.inf
    margin = 1.0 - value / limit
    return 0.0 if abs(margin) <= SAME_FIGURE else margin


def margin_above(value: float, limit: float) -> float:
    """By what share of the limit, which is above 0, a value lies over it: value/limit - 1, 0 where they are the same.

    Examples
    --------
    >>> margin_above(3.0, 2.0), margin_above(2.0, 2.0 + 1e-12)
    (0.5, 0.0)
    """
    margin = value / limit - 1.0
    return 0.0 if abs(margin) <= SAME_FIGURE else margin


def judge(margin: float) -> Verdict:
    """The verdict that belongs to a margin: ``fails`` below 0, ``tight`` below 10 %, else ``holds``.

    Examples
    --------
    >>> judge(-0.01), judge(0.0), judge(0.5)
    ('fails', 'tight', 'holds')
    """
    if margin < 0.0:
        return "fails"
    return "tight" if margin < TIGHT_MARGIN else "holds"


def worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The same findings, failing ones first, then by subject and code."""
    return tuple(sorted(findings, key=lambda f: (WORST_FIRST.index(f.verdict), f.subject, f.code, f.where)))
