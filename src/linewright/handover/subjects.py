"""The findings by their subjects: which is worst, and what of strength, power and safety nobody has looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from linewright.findings import WORST_FIRST, Finding, Verdict
from linewright.remedies import NEEDS_RUN

# A row of these subjects that nobody has looked at is as bad as one that fails.
MUST_BE_CHECKED: Final = ("strength", "power", "safety")


@dataclass(frozen=True)
class SubjectRows:
    """The findings of one subject.

    Parameters
    ----------
    subject : ``strength``, ``layout`` ...
    findings : worst first: by verdict, then by margin; at least one
    """

    subject: str
    findings: tuple[Finding, ...]

    @property
    def worst(self) -> Finding:
        """The row that asks most urgently for something."""
        return self.findings[0]

    def count(self, verdict: Verdict) -> int:
        """How many rows have that verdict."""
        return sum(1 for finding in self.findings if finding.verdict == verdict)

    def as_dict(self) -> dict[str, Any]:
        """The subject as it stands in JSON."""
        counts = {verdict.replace(" ", "_"): self.count(verdict) for verdict in WORST_FIRST}
        return {"subject": self.subject, "verdict": self.worst.verdict} | counts


def by_subject(findings: tuple[Finding, ...]) -> tuple[SubjectRows, ...]:
    """The findings grouped by subject, the subject with the worst row first, the worst row first within each.

    Parameters
    ----------
    findings : in any order

    Returns
    -------
    tuple of SubjectRows   Every finding stands in one of them. Of subjects whose worst row is not checked those that
                           must be checked come first.

    Examples
    --------
    >>> rows = [Finding("c", s, v, "w", None, 1.0, 2.0, "m", m, "s", "") for s, v, m in (
    ...     ("layout", "holds", 0.5), ("power", "fails", -0.1), ("layout", "tight", 0.05), ("bus", "fails", -0.2))]
    >>> [(one.subject, [row.margin for row in one.findings]) for one in by_subject(tuple(rows))]
    [('bus', [-0.2]), ('power', [-0.1]), ('layout', [0.05, 0.5])]
    """
    grouped: dict[str, list[Finding]] = {}
    for finding in findings:
        grouped.setdefault(finding.subject, []).append(finding)
    rows = [SubjectRows(subject, tuple(sorted(of, key=_urgency))) for subject, of in grouped.items()]
    return tuple(sorted(rows, key=lambda one: (*_urgency(one.worst)[:3], one.subject)))


def must_be_checked(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The rows of strength, power and safety that are not checked, in their order."""
    return tuple(one for one in findings if one.verdict == "not checked" and one.subject in MUST_BE_CHECKED)


def wait_for_run(findings: tuple[Finding, ...]) -> int:
    """How many rows are not checked for want of a run."""
    return sum(1 for one in findings if one.verdict == "not checked" and one.remedy.startswith(NEEDS_RUN))


def _urgency(finding: Finding) -> tuple[int, bool, float, str, str]:
    """A sort key. A row without a margin is the most urgent of its verdict, but where it holds the least."""
    binds = finding.verdict == "not checked" and finding.subject in MUST_BE_CHECKED
    least = math.inf if finding.verdict == "holds" else -math.inf
    margin = least if finding.margin is None else finding.margin
    return WORST_FIRST.index(finding.verdict), not binds, margin, finding.code, finding.where
