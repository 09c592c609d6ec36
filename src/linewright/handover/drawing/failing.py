"""What of a line is not sound as planned: the findings that fail, and which marks and parts they are about."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.findings import Finding
from linewright.line.model import Station

if TYPE_CHECKING:
    from linewright.planning.money.parts_list import PartRow

SUBJECTS: Final = ("layout", "power", "safety", "strength")
SUPPLY: Final = "motor supply"
# Of a feeder, what a failing check is about, by how the item begins in the list of parts; else its supply.
ITEMS: Final = {
    "fuse-cable": ("fuse", "circuit-breaker", "cable"),
    "design-current": ("fuse", "circuit-breaker"),
    "far-end-voltage": ("cable", "link"),
    "braking-voltage": (SUPPLY, "braking resistor"),
    "resistor-on": ("braking resistor",),
    "resistor-resistance": ("braking resistor",),
    "resistor-power": ("braking resistor",),
}
ZONE_CODES: Final = ("zone", "coast-in")  # rows of a station that are about its motor zone too


def failing(evaluation: Evaluation) -> tuple[Finding, ...]:
    """The findings that fail, of what is built, wired and guarded, subject by subject."""
    found = [one for one in evaluation.findings if one.verdict == "fails" and one.subject in SUBJECTS]
    return tuple(sorted(found, key=lambda one: SUBJECTS.index(one.subject)))


def unchecked(evaluation: Evaluation) -> int:
    """How many findings of the same subjects are not checked."""
    return sum(one.verdict == "not checked" and one.subject in SUBJECTS for one in evaluation.findings)


def untouched(evaluation: Evaluation) -> tuple[str, ...]:
    """Those of the subjects of which there is no finding at all, as where no carrier can move."""
    return tuple(name for name in SUBJECTS if all(one.subject != name for one in evaluation.findings))


def guard_fails(evaluation: Evaluation, station: Station) -> bool:
    """Whether a check of safety fails at a station."""
    return any(one.subject == "safety" and _is_about(one, "station", station.name) for one in failing(evaluation))


def zone_fails(evaluation: Evaluation, name: str) -> bool:
    """Whether a check of a motor zone fails, or one of a station whose guard switches it off."""
    found = failing(evaluation)
    stations = [one.name for one in evaluation.line.stations if one.motor_zone == name]
    here = [one for one in found if one.code in ZONE_CODES]
    at_stations = any(_is_about(one, "station", station) for one in here for station in stations)
    return at_stations or any(_is_about(one, "motor zone", name) for one in found)


def feeder_fails(evaluation: Evaluation, name: str) -> bool:
    """Whether a check of a feeder fails, or one of all feeders."""
    return any(_is_of_feeder(one, name) for one in failing(evaluation))


def part_note(evaluation: Evaluation, row: PartRow) -> str:
    """What fails of a part of the electrical side: ``fails: fuse-cable``; empty where nothing does.

    Parameters
    ----------
    evaluation : of the line
    row : of its list of parts; one row stands for the supplies of all feeders
    """
    found = failing(evaluation)
    codes = []
    for feeder in evaluation.line.feeders:
        if row.item == SUPPLY or row.item.endswith(f", feeder {feeder.name}"):
            here = [one.code for one in found if _is_of_feeder(one, feeder.name)]
            codes += [code for code in here if row.item.startswith(ITEMS.get(code, (SUPPLY,)))]
    return f"fails: {', '.join(dict.fromkeys(codes))}" if codes else ""


def _is_of_feeder(finding: Finding, name: str) -> bool:
    return _is_about(finding, "feeder", name) or finding.where.startswith("each feeder:")


def _is_about(finding: Finding, kind: str, name: str) -> bool:
    """Whether a finding names a thing first; names hold neither commas nor colons."""
    return finding.where.startswith((f"{kind} {name}:", f"{kind} {name},"))
