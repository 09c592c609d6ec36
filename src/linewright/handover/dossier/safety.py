"""The chapter on safety: how carriers stop at operator stations, the hazards in short, and the findings."""

from __future__ import annotations

import math
from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from linewright.checks.safety import CAUTION
from linewright.handover.document.blocks import Block, Caution, Heading, Part, Words
from linewright.handover.dossier.chapter import NO_LIMITS, chapter, columns, shown

if TYPE_CHECKING:
    from linewright.handover.papers.material import Material

# What a carrier still does once it ought to stop; both are infinite where nothing stops it.
_STILL: Final = (("distance_m", "m"), ("time_s", "s"))


def safety_part(material: Material) -> tuple[Part, ...]:
    """Safety: the caution, stops at operator stations, hazards counted by their heading, and the findings.

    Parameters
    ----------
    material : of the line; stops are told to the customer too, since whoever assesses the risk needs them
    """
    blocks: list[Block] = [Caution(CAUTION)]
    limits = material.evaluation.limits
    if limits is None:
        return chapter("Safety", "safety", (*blocks, Words(NO_LIMITS)), material)
    stops = limits.safety.stops.rows()
    if stops:
        blocks += _stops(stops, material)
    else:
        words = "No stop is reckoned: the line file names no operator station, or the sheet states no stop."
        blocks.append(Words(words))
    counts = Counter(str(row["heading"]) for row in limits.safety.hazards.rows())
    told = ", ".join(f"{heading} {count}" for heading, count in counts.items())
    words = f"{sum(counts.values())} hazards are listed, a start for the risk assessment and no more: {told}."
    blocks.append(Words(f"{words} The list, to be filled in, is the paper hazards."))
    return chapter("Safety", "safety", blocks, material)


def _stops(rows: list[dict[str, Any]], material: Material) -> list[Block]:
    """A row a kind of stop; stations at which all of it is the same stand in one."""
    alike: dict[tuple[tuple[str, ...], ...], list[str]] = {}
    for station in dict.fromkeys(str(row["station"]) for row in rows):
        mine = tuple(_cells(row, material) for row in rows if row["station"] == station)
        alike.setdefault(mine, []).append(station)
    told = [(", ".join(names), *cells) for lines, names in alike.items() for cells in lines]
    headings = ("station", "=stop", "=reckoned by", "=carrier", ">mass", ">from", ">goes on for", ">stands after")
    grid = columns(material, [(head, False, [row[i] for row in told]) for i, head in enumerate(headings)])
    words = (
        "How far a carrier still goes, and how long, from the instant at which it ought to stop. Powered: braked by "
        "its drive; coast: without power, it has no brake. Plan: at the speed that the plan allows; fault: at the "
        "drive's full speed."
    )
    return [Heading("Stops at operator stations", 2), Words(words), grid]


def _cells(row: dict[str, Any], material: Material) -> tuple[str, ...]:
    return (
        str(row["case"]),
        str(row["cause"]),
        "with a part" if row["loaded"] else "empty",
        shown(row["mass_kg"], "kg", material),
        shown(row["speed_m_s"], "m/s", material),
        *("without end" if math.isinf(row[key]) else shown(row[key], unit, material) for key, unit in _STILL),
    )
