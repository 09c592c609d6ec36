"""The chapter on upkeep: what is to be done when, what wears, what lies on the shelf, what fails."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from linewright.handover.document.blocks import Block, Facts, Heading, Part, Words
from linewright.handover.dossier.chapter import NO_LIMITS, chapter, columns, share, shown
from linewright.handover.dossier.place_facts import basis_in_words
from linewright.handover.papers.calendar import repeat_of
from linewright.handover.papers.upkeep import MEASURES
from linewright.quantities import KEEP, number

if TYPE_CHECKING:
    from linewright.flow.yearly_use import YearlyUse
    from linewright.handover.papers.material import Material

_LOCK_OUT = (
    "Switch off, lock out and wait until the feeders hold no charge before any of this. Power's return never starts "
    "motion: a person starts it."
)


def upkeep_part(material: Material) -> tuple[Part, ...]:
    """Upkeep: the calendar, wear parts and spares, failures of the stations, what a year brings, and its findings.

    Parameters
    ----------
    material : of the line
    """
    limits = material.evaluation.limits
    if limits is None:
        return chapter("Upkeep", "upkeep", (Words(NO_LIMITS),), material)
    found = limits.upkeep
    blocks: list[Block] = [Words(_LOCK_OUT, strong=True), Facts(_year(found.use, material))]
    if len(found.calendar):
        rows = found.calendar.rows()
        blocks += [
            Heading("Calendar", 2),
            columns(
                material,
                (
                    ("what", False, [str(row["what"]) for row in rows]),
                    ("=of each", False, [str(row["per"]) for row in rows]),
                    (">every", False, [_interval(row["interval_weeks"], row["reason"]) for row in rows]),
                    (">a year, of one", False, [number(row["per_year"]) for row in rows]),
                    ("=by", False, [str(row["reason"]) for row in rows]),
                ),
            ),
        ]
    blocks += _wear(material, found.wear.rows(), {row["part"]: row for row in found.spares.rows()})
    blocks += _failures(material, found.failures.rows())
    return chapter("Upkeep", "upkeep", blocks, material)


def _year(use: YearlyUse | None, material: Material) -> tuple[tuple[str, str], ...]:
    if use is None:
        return (("a year", "not known: the row yearly-use says why"),)
    names = [one.name for one in material.evaluation.layout.transfers]
    cycles = ", ".join(f"{name} {number(count)}" for name, count in zip(names, use.transfer_cycles, strict=True))
    most, mean = shown(use.travel_m, "m", material), shown(use.mean_travel_m, "m", material)
    travel = f"{most} for the one that travels most, {mean} on average"
    return (
        ("a year", basis_in_words(use, material)),
        ("a carrier travels", travel),
        ("transfers take", cycles or "no transfer"),
    )


def _interval(weeks: float, reason: str) -> str:
    """Whole weeks, days or months, never later than due, as the calendar has it; hours under a day."""
    if 7.0 * weeks < 1.0:
        return f"{number(24.0 * 7.0 * weeks)}{KEEP}h"
    return repeat_of(weeks, reason).words.removeprefix("every ")


def _wear(material: Material, wear: list[dict[str, Any]], spares: dict[str, dict[str, Any]]) -> list[Block]:
    """Wear parts, and beside each what is to lie on the shelf for it."""
    if not wear:
        return []
    held = [spares.get(row["part"]) for row in wear]
    grid = columns(
        material,
        (
            ("part", False, [str(row["part"]) for row in wear]),
            ("=of each", False, [str(row["per"]) for row in wear]),
            (">in the line", False, [number(row["units"]) for row in wear]),
            (">lasts (years)", False, [number(row["life_years"]) for row in wear]),
            ("=by", False, [str(row["reason"]) for row in wear]),
            (">a year", False, [number(row["per_year"]) for row in wear]),
            (">on the shelf", False, ["-" if one is None else number(one["stock"]) for one in held]),
            (">for (months)", False, ["-" if one is None else number(one["lead_time_months"]) for one in held]),
            (">enough in", False, ["-" if one is None else share(one["service_level"]) for one in held]),
        ),
    )
    return [Heading("Wear parts and spares", 2), grid]


def _failures(material: Material, rows: list[dict[str, Any]]) -> list[Block]:
    if not rows:
        return []
    grid = columns(
        material,
        (
            ("station", False, [str(row["station"]) for row in rows]),
            ("=counted by", False, [MEASURES[row["measure"]] for row in rows]),
            (">a year", False, [number(row["per_year"]) for row in rows]),
            (">one repair", False, [shown(row["repair_s"], "s", material) for row in rows]),
            (">repairs a year", False, [f"{number(row['repairs_s'] / 3600)}{KEEP}h" for row in rows]),
        ),
    )
    return [Heading("Failures of the stations, as stated, in a year", 2), grid]
