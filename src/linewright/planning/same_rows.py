"""Which finding of a line as it is was which of the line as it was."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from linewright.findings import Finding
from linewright.line.model import Line

# Findings that speak of the worst place of a whole line: the place may become another, and the row stays the same row.
_OF_THE_WORST: Final = frozenset(
    {
        "station-centres", "dock-pitch", "carrier-overhang", "keep-clear", "peak-thrust", "rms-thrust", "coil-heat",
        "coil-warming", "force-down", "force-across", "force-along", "static-safety", "block-uplift", "deflection",
        "inside-gap", "extra-low-voltage", "falling-platform",
    }
)  # fmt: skip


@dataclass(frozen=True)
class _About:
    """What a finding speaks of, out of its words: named places, what sets it apart from its like, the rest."""

    names: tuple[str, ...]
    marks: tuple[str, ...]
    words: str


_KINDS: Final = r"(?:stations?|lane|ring|transfer|feeder|motor zones?|zone|dock of|aboard|riding on|carriers? of)"
_MARKS: Final = re.compile(r"\bfailure \d+|\b(?:empty|loaded) carrier|(?<=, )[xyz] \(|against the tolerance")


def match_findings(
    before: Sequence[Finding], after: Sequence[Finding], lines: tuple[Line, Line]
) -> list[tuple[Finding | None, Finding | None]]:
    """Findings of two lines side by side; None where there is no such row.

    Parameters
    ----------
    before, after : of the line as it was and as it is
    lines : both lines, for the names of their places

    Returns
    -------
    list of pairs   In the order of `after`; what is gone stands last.
    """
    finder = _finder(lines)
    abouts = [[_about(one, finder) for one in rows] for rows in (before, after)]
    scores = [
        (score, i, j)
        for i, old in enumerate(before)
        for j, new in enumerate(after)
        if (old.subject, old.code) == (new.subject, new.code)
        and (score := _likeness(old, new, abouts[0][i], abouts[1][j])) > 0
    ]
    partner: dict[int, int] = {}
    taken: set[int] = set()
    for _, i, j in sorted(scores, key=lambda one: (-one[0], one[1], one[2])):
        if i not in taken and j not in partner:
            partner[j] = i
            taken.add(i)
    pairs: list[tuple[Finding | None, Finding | None]] = [
        (before[partner[j]] if j in partner else None, new) for j, new in enumerate(after)
    ]
    return pairs + [(old, None) for i, old in enumerate(before) if i not in taken]


def _finder(lines: tuple[Line, Line]) -> re.Pattern[str]:
    named = {
        one.name
        for line in lines
        for group in (line.lanes, line.transfers, line.stations, line.feeders, line.motor_zones)
        for one in group
    }
    some = "|".join(re.escape(name) for name in sorted(named, key=lambda name: (-len(name), name)))
    return re.compile(rf"\b({_KINDS}) ({some})(?![\w-])")


def _about(finding: Finding, finder: re.Pattern[str]) -> _About:
    names = tuple(f"{kind.rstrip('s')} {name}" for kind, name in finder.findall(finding.where))
    if finding.code == "wear-part":
        names = (finding.where.split(",")[0],)
    words = re.sub(r"[0-9][0-9.eE+-]*", "0", finder.sub(r"\1", finding.where))
    return _About(names, tuple(_MARKS.findall(finding.where)), words)


def _likeness(old: Finding, new: Finding, was: _About, becomes: _About) -> int:
    """How surely two findings of one code are the same row; 0 where they are not."""
    if old.where == new.where:
        return 8
    if was.marks != becomes.marks:
        return 0
    same_words = int(was.words == becomes.words)
    if was.names == becomes.names:
        return 4 + same_words
    if was.names[:1] == becomes.names[:1]:
        return 2 + same_words
    # A row of the whole line names no place, or places in passing; of named places only the worst may change.
    if old.code in _OF_THE_WORST or not was.names or not becomes.names:
        return 1 + same_words if was.names or old.code in _OF_THE_WORST else 1
    return 0
