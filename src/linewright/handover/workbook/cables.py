"""The sheet Cables: every run of cable and link, with what is lost in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from linewright.handover.papers.material import Material
from linewright.handover.workbook.cells import NO_TRACK, Cell, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import figure, form_of, lines_of, scale_of
from linewright.tables import Table

_OF_CABLES: Final = (
    "Resistance is that of one conductor, warm, the greatest that its standard allows. Drop and loss are of both, go "
    "and return."
)
_CODES: Final = "Follow local codes; a competent, licensed person decides."
_LEAST_AREA: Final = (
    "Least area for the voltage: from the area stated upwards, the least with which the far end keeps its voltage. It "
    "is no approval: it looks neither at what a cable may carry nor at its protection."
)
_IN_TRAVEL: Final = "Sections are numbered in travel, from the start of their lane."
_STATED: Final = ("feeder", "from", "to", "conductor", "area_mm2")
_NAMES: Final = {"proposed_mm2": "least area for the voltage"}


def cables_sheet(material: Material) -> Sheet:
    """Runs of cable and link; length, current and resistance can be changed, the drop follows."""
    evaluation = material.evaluation
    about = "Every run of cable and link in its feeder's worst case: change length or resistance, and the drop follows."
    limits = evaluation.limits
    if limits is None:
        return Sheet("Cables", about, (Labelled((Named("cables", NO_TRACK),)),))
    table = limits.power.schedule
    if not len(table):
        why = "not known: state the keys feeders with cable and link, and motor and supply in the conveyor sheet"
        return Sheet("Cables", about, (Labelled((Named("cables", why),)),))
    units = evaluation.line.units
    shown = {one.key: one for one in lines_of(table, units, headings=_NAMES).columns}
    # Another area than the one stated is what would help, and that is the builder's.
    hidden = ("proposed_mm2",) if material.for_customer else ()
    columns = [shown[key] for key in (*_STATED, "proposed_mm2") if key not in hidden]
    blocks = (Lines((*columns, *_drops(table, units), shown["loss_W"])), _by_area(table, units))
    kept = Table(tuple(one for one in table.columns if one.name not in hidden))
    notes = (_OF_CABLES, _IN_TRAVEL, *(() if hidden else (_LEAST_AREA,)), _CODES)
    return Sheet("Cables", about, blocks, (("cables", kept),), notes)


def _drops(table: Table, units: str) -> tuple[Listed, ...]:
    lengths_m, currents, drops = (table[name].tolist() for name in ("length_m", "current_A", "drop_V"))
    length = scale_of(lengths_m, "m", units)
    reference_m, per = (0.3048, "ft") if units == "inch" else (1.0, "m")
    # What the schedule rests on is its drop; the resistance behind it is what a reader would look up in a table.
    milliohm = [
        1000.0 * reference_m * drop / (2.0 * amps * long) if amps * long > 0.0 else math.nan
        for drop, amps, long in zip(drops, currents, lengths_m, strict=True)
    ]
    factor = f"{2.0 / (length.factor * reference_m * 1000.0):.15g}"
    formula = f"={{current_A}}*{{length_m}}*{{resistance}}*{factor}"
    form = form_of(drops)
    return (
        _inputs("length_m", length.heading("length, input,"), [one * length.factor for one in lengths_m], "one way"),
        _inputs("current_A", "current, input, [A]", currents, "in the feeder's worst case"),
        _inputs("resistance", f"resistance, input, [mΩ/{per}]", milliohm, "of one conductor"),
        Listed("drop_V", "voltage drop [V]", tuple(Cell(one, form, formula) for one in drops), "go and return"),
    )


def _inputs(key: str, heading: str, values: Sequence[float], meaning: str) -> Listed:
    form = form_of(values)
    return Listed(key, heading, tuple(figure(one, form, True) for one in values), meaning)


def _by_area(table: Table, units: str) -> Lines:
    """How much of each area is to be bought: both conductors of all runs."""
    areas, lengths = table["area_mm2"].tolist(), table["length_m"].tolist()
    sizes = sorted(set(areas))
    length = scale_of(lengths, "m", units)
    sums = [
        math.fsum(2.0 * one * length.factor for one, area in zip(lengths, areas, strict=True) if area == size)
        for size in sizes
    ]
    formula = "=2*SUMIF({area_mm2:},{size},{length_m:})"
    return Lines(
        (
            Listed("size", "area [mm²]", tuple(figure(one, "0.##") for one in sizes), "of one conductor"),
            Listed(
                "conductors",
                length.heading("conductors"),
                tuple(Cell(one, form_of(sums), formula) for one in sums),
                "single, go and return",
            ),
        ),
        "Conductors by area",
    )
