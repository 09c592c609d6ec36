"""What of a feeder fails, is not checked or is tight, in a few words: the row of the feeders hides none of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from linewright.findings import WORST_FIRST, Finding
from linewright.pictures.charts.current import amount

AT_THE_END: Final = "far-end-voltage"
"""This row stands at the far end of its feeder, with the voltage there."""
SHORT: Final = {
    "feeders": "supply",
    "feeder-ends": "ends",
    "feeder-peak": "peak of the run",
    "all-restart": "restart",
    "braking-voltage": "braking",
    "extra-low-voltage": "extra-low voltage",
    "resistor-on": "braking resistor's start",
    "resistor-resistance": "braking resistor",
    "resistor-power": "braking resistor's power",
    "far-end-voltage": "voltage lost",
    "design-current": "effective current",
    "fuse-cable": "fuse against cable",
    "link-area": "protection of the links",
    "cable-size": "size of cable or link",
}
"""Code of a row on power -> what it is about; a code that is not here stands as it is."""


def is_of(finding: Finding, feeder: str) -> bool:
    """Whether a row names this feeder, alone or among others.

    Parameters
    ----------
    finding : on power
    feeder : a feeder's name
    """
    named = re.match(r"feeders? ([^:]*)", finding.where)
    return named is not None and feeder in re.split(r", | and ", named[1])


def to_be_shown(findings: Sequence[Finding], feeder: str) -> list[Finding]:
    """The rows of a feeder that do not hold, the worst first, without that on its far end where it has a value."""
    mine = [one for one in findings if one.subject == "power" and one.verdict != "holds" and is_of(one, feeder)]
    mine = [one for one in mine if one.code != AT_THE_END]
    return sorted(mine, key=lambda one: WORST_FIRST.index(one.verdict))


def limit_words(finding: Finding) -> str:
    """A row in short, such as ``fails restart 40 A of 24 A``; no line breaks before a unit."""
    about = SHORT.get(finding.code, finding.code)
    verdict = f"{finding.verdict}:" if finding.verdict == "not checked" else finding.verdict
    if finding.value is None or finding.limit is None:
        return f"{verdict} {about}"
    # Two figures that read alike but are not would hide which is the greater.
    value, limit = (amount(one, finding.unit or "") for one in (finding.value, finding.limit))
    if value == limit and finding.value != finding.limit:
        value, limit = (f"{one:.5g} {finding.unit}" for one in (finding.value, finding.limit))
    return f"{verdict} {about} {value} of {limit}"
