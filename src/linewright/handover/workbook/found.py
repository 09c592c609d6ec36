"""The sheets Findings, Causes and Upkeep."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING, Final

from linewright.findings import counts_sentence, worst_first
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import all_findings, proof_counted, told_to
from linewright.handover.wording import TAGS, bound_of
from linewright.handover.workbook.cells import NO_TRACK, SHARE, Cell, Entry, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import column_of, figure, form_of, lines_of, scale_of
from linewright.quantities import KEEP
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.findings import Finding

_BUILDER_ALONE: Final = ("margin", "place")
_NO_CAUSES: Final = "not known: no run has made good parts"


def findings_sheet(material: Material) -> Sheet:
    """Every finding, those of the proof too, the worst first; of the customer's what holds tells its limit, but neither
    value nor margin, and none tells where it stands in a file that he does not have."""
    rows = told_to(worst_first(all_findings(material)), material)
    units, hide = material.evaluation.line.units, material.for_customer
    figures = [_figures(row, units, hide and row.verdict == "holds") for row in rows]
    columns = [
        Listed("verdict", "verdict", tuple(TAGS[row.verdict] for row in rows)),
        Listed("code", "code", tuple(row.code for row in rows)),
        Listed("subject", "subject", tuple(row.subject for row in rows)),
        Listed("where", "where", tuple(row.where for row in rows)),
        Listed("value", "value", tuple(one[0] for one in figures), "in the unit of its row"),
        Listed("bound", "bound", tuple("" if row.limit is None else bound_of(row) for row in rows)),
        Listed("limit", "limit", tuple(one[1] for one in figures), "in the unit of its row"),
        Listed("unit", "unit", tuple(one[2] for one in figures)),
        Listed(
            "margin",
            "margin",
            tuple(one[3] for one in figures),
            "share of the limit that is left; negative where it fails",
        ),
        Listed("source", "source", tuple(row.source for row in rows), "of limit or formula"),
        Listed("remedy", "what to do", tuple(row.remedy for row in rows)),
        Listed(
            "place",
            "in the file",
            tuple(_place(row) for row in rows),
            "file:line:column",
        ),
    ]
    if hide:
        columns = [one for one in columns if one.key not in _BUILDER_ALONE]
    about = (
        "Everything that was checked, what fails first. What is NOT CHECKED nobody has looked at. "
        f"{counts_sentence(material.evaluation.findings)} {proof_counted(material)}"
    ).replace(KEEP, " ")
    return Sheet("Findings", about, (Lines(tuple(columns)),), (("findings", _table(rows, hide)),), widest=46.0)


def _figures(row: Finding, units: str, hidden: bool) -> tuple[Entry, Entry, str, Entry]:
    """Value and limit in one unit, as the pages show them, that unit, and the margin."""
    scale = scale_of([row.value, row.limit], row.unit, units)
    value, limit = (None if one is None else one * scale.factor for one in (row.value, row.limit))
    form = form_of([value, limit])
    unit = "" if value is None and limit is None else scale.unit
    return (
        None if hidden else figure(value, form),
        figure(limit, form),
        unit,
        None if hidden else figure(row.margin, SHARE),
    )


def _place(row: Finding) -> str:
    """Where it stands in the user's file; folders are left out: the same input gives the same bytes anywhere."""
    place = row.place
    return "" if place is None else f"{PurePath(place.file).name}:{place.line}:{place.column}"


def _table(rows: tuple[Finding, ...], hide: bool) -> Table:
    shown = [not (hide and row.verdict == "holds") for row in rows]
    columns = [
        column_of("verdict", None, [row.verdict for row in rows]),
        column_of("code", None, [row.code for row in rows]),
        column_of("subject", None, [row.subject for row in rows]),
        column_of("where", None, [row.where for row in rows]),
        column_of("value", None, [row.value if seen else None for row, seen in zip(rows, shown, strict=True)]),
        column_of("limit", None, [row.limit for row in rows]),
        column_of("unit", None, [row.unit or "" for row in rows]),
        column_of("margin", None, [row.margin for row in rows]),
        column_of("source", None, [row.source for row in rows]),
        column_of("remedy", None, [row.remedy for row in rows]),
        column_of("place", None, [_place(row) for row in rows]),
    ]
    return Table(tuple(one for one in columns if not (hide and one.name in _BUILDER_ALONE)))


def causes_sheet(material: Material) -> Sheet:
    """What the line cycle is made of, by kind and place."""
    run = material.evaluation.run
    about = "What the line cycle is made of: time per good part by cause and place, the largest first."
    if run is None or not len(run.cycle_causes):
        return Sheet("Causes", about, (Labelled((Named("causes", _NO_CAUSES),)),))
    units = material.evaluation.line.units
    table = run.cycle_causes
    shown = lines_of(table, units)
    sums = {"time_s": float(table["time_s"].sum()), "share": float(table["share"].sum())}
    columns = tuple(Listed(one.key, one.heading, one.entries, one.meaning, _sum(one, sums)) for one in shown.columns)
    return Sheet("Causes", about, (Lines(columns),), (("causes", table),))


def causes_by_place_sheet(material: Material) -> Sheet:
    """The same, a row a station or transfer."""
    run = material.evaluation.run
    about = "What of the line cycle passes at each station and transfer: time per good part, by cause."
    if run is None or not len(run.cycle_causes):
        return Sheet("Causes by place", about, (Labelled((Named("causes", _NO_CAUSES),)),))
    table = run.cycle_causes_by_station
    unused = [one.name for one in table.columns if one.values.dtype.kind == "f" and not one.values.any()]
    shown = lines_of(table, material.evaluation.line.units, without=unused)
    return Sheet("Causes by place", about, (shown,), (("causes-by-place", table),))


def _sum(column: Listed, sums: dict[str, float]) -> Entry:
    if column.key == "kind":
        return "sum"
    if column.key not in sums:
        return None
    form = next((one.form for one in column.entries if isinstance(one, Cell)), "0.000")
    return Cell(sums[column.key], form, f"=SUM({{{column.key}:}})")


def upkeep_sheet(material: Material) -> Sheet:
    """Tasks, wear, spares and failures."""
    evaluation = material.evaluation
    about = "What is to be done how often, what wears, what to keep in stock, and how often stations fail."
    if evaluation.limits is None:
        return Sheet("Upkeep", about, (Labelled((Named("upkeep", NO_TRACK),)),))
    upkeep = evaluation.limits.upkeep
    units = evaluation.line.units
    named = (
        ("tasks", "Tasks", upkeep.calendar),
        ("wear", "Wear", upkeep.wear),
        ("spares", "Spares", upkeep.spares),
        ("failures", "Failures of stations", upkeep.failures),
    )
    blocks = []
    for prefix, heading, table in named:
        shown = lines_of(table, units, heading)
        keyed = (Listed(f"{prefix}_{one.key}", one.heading, one.entries, one.meaning) for one in shown.columns)
        blocks.append(Lines(tuple(keyed), heading))
    tables = tuple((f"upkeep-{prefix}", table) for prefix, _, table in named)
    return Sheet("Upkeep", about, tuple(blocks), tables)
