"""The sheet Electrical: the feeders, their sums, and what the motors use in a year."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.handover.papers.material import Material
from linewright.handover.workbook.cells import NO_TRACK, Cell, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import figure, form_of, lines_of, scale_of
from linewright.line.demand import HOUR_S
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation, Limits

_SUMMED: Final = {"sections": "#,##0", "mean_W": "0.0", "given_back_W": "0.0", "resistor_W": "0.0"}
_NOTES: Final = (
    "Sections are numbered in travel, from the start of their lane.",
    "What is stated is no approval: which feeder fails, and at what, is on the sheet Findings.",
    "Follow local codes; a competent, licensed person decides.",
)
_NAMES: Final = {
    "supplies_A": "supplies together",
    "peak_A": "peak current",
    "rms_A": "effective current",
    "mean_A": "mean current",
    "mean_W": "mean power",
    "given_back_W": "given back",
    "resistor_W": "braking resistor",
    "restart_A": "all restart",
    "braking_J": "all brake: energy",
    "braking_V": "all brake: voltage",
    "resistor_J": "all brake: into the resistor",
    "unaided_V": "the same without resistor",
    "restart_V": "far end, all restart",
    "coinciding_V": "far end, worst bins at once",
}


def electrical_sheet(material: Material) -> Sheet:
    """The feeders, their sums, and what the motors use in a year."""
    evaluation = material.evaluation
    about = (
        "The electrical supply runs: currents, power, voltages. A blank figure is not known: see the sheet Findings."
    )
    limits = evaluation.limits
    if limits is None:
        return Sheet("Electrical", about, (Labelled((Named("feeders", NO_TRACK),)),))
    table = limits.power.feeders
    if not len(table):
        why = "not known: the line file states no feeders (key feeders)"
        return Sheet("Electrical", about, (Labelled((Named("feeders", why),)),))
    # Who wires the line for its customer needs the currents and voltages, too.
    shown = lines_of(table, evaluation.line.units, headings=_NAMES)
    columns = tuple(_with_sum(column, table) for column in shown.columns)
    blocks: list[Labelled | Lines] = [Lines(columns), Labelled(_use(material, limits, table), "Use in a year")]
    zones = limits.power.zones
    tables = [("feeders", table)]
    if len(zones):
        blocks.append(_keyed(lines_of(zones, evaluation.line.units, "Motor zones"), "zone"))
        tables.append(("motor-zones", zones))
    sections = limits.power.sections
    if len(sections):
        blocks.append(_keyed(lines_of(sections, evaluation.line.units, "Voltage at every section"), "section"))
        tables.append(("section-voltages", sections))
    return Sheet("Electrical", about, tuple(blocks), tuple(tables), _NOTES)


def _keyed(lines: Lines, prefix: str) -> Lines:
    """The same with keys that no other list of the sheet has."""
    columns = (Listed(f"{prefix}_{one.key}", one.heading, one.entries, one.meaning, one.total) for one in lines.columns)
    return Lines(tuple(columns), lines.heading)


def _with_sum(column: Listed, table: Table) -> Listed:
    if column.key == "feeder":
        return Listed(column.key, column.heading, column.entries, column.meaning, "sum")
    if column.key not in _SUMMED:
        return column
    kept = [entry.value for entry in column.entries if isinstance(entry, Cell)]
    total = math.fsum(float(one) for one in kept if isinstance(one, float | int))
    missing = len(kept) < len(table)
    form = _SUMMED[column.key] if column.key == "sections" else form_of([total])
    # A sum over what is partly not known would read as the whole.
    cell = "not known" if missing else Cell(total, form, f"=SUM({{{column.key}:}})")
    return Listed(column.key, column.heading, column.entries, column.meaning, cell)


def _use(material: Material, limits: Limits, table: Table) -> tuple[Named, ...]:
    """Hours and price of a kilowatt hour as inputs, energy and cost as formulas."""
    evaluation = material.evaluation
    rows: list[Named] = []
    total_W = math.fsum(table["mean_W"].tolist())
    takt = evaluation.takt
    if math.isfinite(total_W):
        hours = None if takt is None else takt.planned_time_s / HOUR_S
        note = "planned time; at standstill the motors use less"
        # The list above may show watts or kilowatts.
        scale = scale_of(table["mean_W"].tolist(), "W", evaluation.line.units)
        factor = f"{1e-3 / scale.factor:.15g}"
        energy = "" if hours is None else total_W * hours / 1000.0
        form = form_of([energy]) if isinstance(energy, float) else "0"
        formula = f'=IF({{hours}}="","",SUM({{mean_W:}})*{factor}*{{hours}})'
        rows += [
            Named("hours", figure(hours, "#,##0.0", True), "h a year", note, "hours"),
            Named(
                "energy of the motors",
                Cell(energy, form, formula),
                "kWh a year",
                "after the motor supplies; their losses come on top",
                "energy",
            ),
        ]
        if not material.for_customer:
            price = _energy_price(evaluation)
            cost: float | str = "price missing" if price is None or isinstance(energy, str) else price * energy
            told = '=IF(OR({kwh}="",{energy}=""),"price missing",{kwh}*{energy})'
            rows += [
                Named("price", figure(price, "0.0000", True), "a kWh", "key baseline.prices.energy_per_kWh", "kwh"),
                Named("cost of it", Cell(cost, "#,##0.00", told), "a year"),
            ]
    else:
        rows.append(Named("energy of the motors", "not known: linewright check --run tells it"))
    rows += _told(evaluation, "energy-per-part", "energy per part", "J")
    rows += _told(evaluation, "logic-current", "current of the logic", "A")
    return tuple(rows)


def _energy_price(evaluation: Evaluation) -> float | None:
    baseline = evaluation.line.baseline
    return None if baseline is None or baseline.prices is None else baseline.prices.energy_per_kWh


def _told(evaluation: Evaluation, code: str, label: str, unit: str) -> list[Named]:
    return [
        Named(label, figure(row.value), unit, row.where)
        for row in evaluation.findings
        if row.code == code and row.value is not None
    ]
