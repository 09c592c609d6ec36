"""Every number of the smaller papers is one of the records that they are written from, rounded, at its own place.

Read as the dossier is. The run-off plan, the table of hazards and the stops are records that hold words too: a row of
a paper that is written from one of these is held against that very record, its words and its numbers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

import pytest

from linewright.flow.stop_sheet import stop_sheet
from linewright.handover.document.blocks import Document
from unit.handover.known_chapters import KNOWN
from unit.handover.known_findings import finding_wrong
from unit.handover.known_numbers import PaperFacts, paper_names
from unit.handover.numbers_of_papers import (
    PaperReader,
    Said,
    changed,
    is_four,
    paper_compiled,
    paper_rules,
    said_in,
    units_of,
)
from unit.handover.short_material import material_of
from unit.pictures.numbers_of import Fields, plain

LONG = pytest.mark.long
Rows = Iterator[tuple[float, ...]]

UPKEEP: Final = """
travel of a carrier :: [m/year], of the one used most, counted in a run => travels 0
{words}State it there as upkeep: {first_day: 2027-02-01}, with your own date.
Switch off and lock out first; wait [s] at least until the charge of the motor supply is gone, and measure. {words}.
+ => supply 5
Spares are not planned: state upkeep: {service_level: 98 %, lead_time: 2 months} in the line file, {words}.
@@ what | of | every | follows from | a year | first due
grease the guides of the carriers | {words} | about = weeks | [m] (travel) | = | => greased 1 2 3
change {wear} | {words} | = months | = months (calendar) | = | => changed_by_months
change {wear} | {words} | about = weeks | [m] (travel) | = | => changed_by_travel 1 2 3
change {wear} | {words} | about = weeks | = cycles (cycles) | = | => changed_by_cycles 1 2 3
@@ part | on | in the line | lasts | changed a year | on the shelf | none missing
{wear} | {words} | = | = years, {words2} | = | not planned | => wear 0 1 2
@@ station | counted by | expected a year | one repair | all repairs a year
{station} | {words} | = | [s] | [s] => failures_year
"""


def greased(f: PaperFacts, n: Fields) -> Rows:
    """Weeks, whole weeks, travel, times a year."""
    for row in f.e.limits.upkeep.calendar.rows():
        if row["what"] == "relubrication":
            weeks = row["interval_weeks"]
            yield weeks, math.floor(weeks), f.s.upkeep.relubrication_travel_m, row["per_year"]


def _changed(f: PaperFacts, n: Fields, key: str) -> Rows:
    part = next(one for one in f.s.upkeep.wear_parts if one.name == n["wear"])
    for row in f.e.limits.upkeep.calendar.rows():
        if row["what"] == part.name and getattr(part, key) is not None:
            yield row["interval_weeks"], math.floor(row["interval_weeks"]), getattr(part, key), row["per_year"]


def changed_by_travel(f: PaperFacts, n: Fields) -> Rows:
    """Weeks, whole weeks, travel, times a year."""
    return _changed(f, n, "travel_m")


def changed_by_cycles(f: PaperFacts, n: Fields) -> Rows:
    """Weeks, whole weeks, cycles, times a year."""
    return _changed(f, n, "cycles")


def changed_by_months(f: PaperFacts, n: Fields) -> Rows:
    """Months twice, times a year."""
    for _, _, months, per_year in _changed(f, n, "months"):
        yield months, months, per_year


OWN: Final = {
    **KNOWN,
    **{one.__name__: one for one in (greased, changed_by_travel, changed_by_cycles, changed_by_months)},
}


def upkeep_document(facts: PaperFacts) -> Document:
    """The paper of upkeep."""
    from linewright.handover.papers import upkeep

    return upkeep._document(facts.m, facts.e.limits)


def finding_faults(said: Said, facts: PaperFacts) -> list[str]:
    """Why a row of findings with its source in a column of its own is none of the findings."""
    verdict = said.cells[0].strip("<>")
    code, _, what = said.cells[1].partition(": ")
    source = said.cells[-1]
    same = [one for one in facts.findings if (one.code, one.verdict, plain(one.source)) == (code, verdict, source)]
    if any(not finding_wrong(one, said, what, facts, {}) for one in same):
        return []
    return [f"{' | '.join(said.cells)!r} is no finding"]


def faults_of(saids: list[Said], reader: PaperReader) -> list[str]:
    """Every text whose numbers nothing explains."""
    found: list[str] = []
    for said in saids:
        found += finding_faults(said, reader.facts) if said.is_finding else reader.faults(said.text, said.names)
    return found


def upkeep_read(path: str) -> tuple[list[Said], PaperReader]:
    """The texts of the paper of upkeep, and who reads them."""
    facts = PaperFacts(material_of(path))
    names = paper_names(facts)
    rules = [paper_compiled(rule, names, facts.e.line.units) for rule in paper_rules(UPKEEP, OWN)]
    reader = PaperReader(facts, rules, lambda _, text: [], units=facts.e.line.units)
    return said_in(upkeep_document(facts), {}, lambda label, text: [text]), reader


def test_every_number_of_the_upkeep_is_a_record() -> None:
    saids, reader = upkeep_read("charts/five.yaml")
    assert faults_of(saids, reader) == []
    for said in saids:
        if not said.is_finding:
            for text in changed(said.text):
                assert faults_of([Said(text, said.names, said.cells)], reader), text


# ---- the run-off -----------------------------------------------------------------------------------------------------


def run_off_faults(facts: PaperFacts, saids: list[Said]) -> list[str]:
    """Rows of the acceptance form that are not the test of their number, chances and all."""
    tests = [one for one in facts.m.run_off.tests if one.planned_for]
    found, seen = [], 0
    for said in saids:
        if said.names.get("view", "").startswith("row | what | where | how long") and said.cells[0].isdigit():
            seen += 1
            one = tests[int(said.cells[0]) - 1]
            words = [plain(some) for some in (one.what, one.where, one.how_long, one.pass_line)]
            if list(said.cells[1:5]) != words:
                found.append(f"{said.text!r} is not {words}")
            for shown, chance in zip(said.cells[5:7], (one.refused_if_planned, one.passed_at_limit), strict=True):
                if not _is_chance(shown, chance, facts.m.run_off.builder_risk):
                    found.append(f"{said.text!r}: {shown} stands for {chance}")
            if not _holds_figure(one, facts.e.line.units):
                found.append(f"{one.pass_line!r} does not tell {one.pass_value} {one.unit} or {one.allowed}")
        elif said.names.get("view", "").startswith("row | what | where | planned"):
            one = tests[int(said.cells[0]) - 1]
            planned = " ".join(f"{plain(some)[:1].upper()}{plain(some)[1:]}." for some in one.internal)
            if said.cells[1:] != (plain(one.what), plain(one.where), planned):
                found.append(f"{said.text!r} is not {one.internal}")
        elif said.names.get("view", "").startswith("rows | what | method"):
            for one in [tests[number - 1] for number in _numbers(said.cells[0])]:
                why = " ".join(f"{plain(some)[:1].upper()}{plain(some)[1:]}." for some in one.why)
                if said.cells[1:] != (plain(one.what), plain(one.method), why):
                    found.append(f"{said.text!r} is not {one.method!r}, {why!r}")
    return [*found, *([] if seen == len(tests) else [f"{seen} rows of {len(tests)}"])]


def _numbers(text: str) -> list[int]:
    """The numbers in ``12, 14 to 16``."""
    found: list[int] = []
    for some in re.split(", | and ", text):
        first, _, last = some.partition(" to ")
        found += range(int(first), int(last or first) + 1)
    return found


def _is_chance(shown: str, chance: float | None, agreed: float) -> bool:
    """Whether it is a chance to a tenth of a per cent, or the agreed one that it does not pass."""
    if chance is None:
        return shown in ("not known", "no luck in it")
    if shown == f"at most {100.0 * agreed:.1f} %":
        return chance <= agreed
    if shown == "under 0.1 %":
        return chance < 0.001
    return bool(re.fullmatch(r"\d+\.\d %", shown)) and abs(float(shown[:-2]) - 100.0 * chance) <= 0.0500001


def _holds_figure(one: Any, units: str) -> bool:
    """Whether a pass line holds its own number, in some unit of its kind, or the number that is allowed."""
    if one.pass_value is None and one.allowed is None:  # written in by hand
        return "____" in one.pass_line
    numbers = re.findall(r"\d+(?:\.\d+)?", plain(one.pass_line))
    if one.allowed is not None:
        return str(one.allowed) in numbers or one.allowed == 0
    kinds = {"%": 100.0} if one.unit == "1" else {}
    factors = [*units_of(one.unit, units).values(), *kinds.values(), 1.0]
    return any(is_four(number, one.pass_value * factor) for number in numbers for factor in factors)


def acceptance_read(path: str) -> tuple[PaperFacts, list[Said]]:
    """The records and the texts of the acceptance form."""
    from linewright.handover.papers.acceptance import acceptance_document

    facts = PaperFacts(material_of(path))
    return facts, said_in(acceptance_document(facts.m, facts.m.run_off), {}, lambda label, text: [text])


def test_every_row_of_the_acceptance_form_is_its_test_of_the_run_off() -> None:
    facts, saids = acceptance_read("charts/five.yaml")
    assert run_off_faults(facts, saids) == []
    rows = [said for said in saids if said.cells and said.cells[0].isdigit()]
    for said, other in pairwise(rows):
        if said.names == other.names and said.cells[1:] != other.cells[1:]:
            cells = (said.cells[0], *other.cells[1:])
            assert run_off_faults(facts, [Said(" | ".join(cells), said.names, cells)])[:-1], cells


# ---- the hazards -----------------------------------------------------------------------------------------------------


def hazards_read(path: str) -> tuple[PaperFacts, list[Said]]:
    """The records and the texts of the hazard list."""
    from linewright.handover.papers import hazards

    facts = PaperFacts(material_of(path))
    return facts, said_in(hazards._document(facts.m, facts.e.limits), {}, lambda label, text: [text])


def test_every_row_of_the_hazard_list_is_its_hazard() -> None:
    facts, saids = hazards_read("charts/five.yaml")
    listed = [said.cells for said in saids if said.names.get("view", "").startswith("no. | kind") and said.cells[1]]
    keys = ("heading", "hazard", "where", "known", "first_measure", "left_to_decide")
    table = [tuple(plain(str(row[key])) for key in keys) for row in facts.e.limits.safety.hazards.rows()]
    assert [cells[1:7] for cells in listed] == table
    assert [cells[0] for cells in listed] == [str(number + 1) for number in range(len(table))]
    assert [fault for said in saids if said.is_finding for fault in finding_faults(said, facts)] == []


# ---- the recovery ----------------------------------------------------------------------------------------------------


@LONG
@pytest.mark.parametrize("path", ["charts/five.yaml", "charts/fourteen.yaml", "demo/line.yaml"])
def test_every_number_of_the_smaller_papers_is_a_record(path: str) -> None:
    """Upkeep and run-off of other lines; the longest times of the recovery sheet."""
    facts, saids = acceptance_read(path)
    assert run_off_faults(facts, saids) == []
    from linewright.handover.papers.recovery import recovery_document

    sheet = stop_sheet(facts.e.line, seed=1, workers=1)
    told = said_in(recovery_document(facts.m, sheet), {}, lambda label, text: [text])
    assert recovery_faults(sheet, told) == []
    if not path.endswith("five.yaml"):
        return
    # Two rows with each other's figures are noticed.
    rows = [said for said in told if said.names.get("view", "").startswith("stopped in the middle of")]
    cells = (rows[0].cells[0], *rows[1].cells[1:])
    assert len(recovery_faults(sheet, [Said(" | ".join(cells), rows[0].names, cells)])) == 2


def recovery_faults(sheet: Any, saids: list[Said]) -> list[str]:
    """Rows of the table of stops whose times and parts are not those of the stop at that place."""
    stops = {one.place: one for one in sheet.places}
    found, seen = [], 0
    for said in saids:
        if said.names.get("view", "").startswith("stopped in the middle of"):
            place = re.fullmatch(r"(?:work at|a ride of) ([\w-]+)(?:, [a-z ]+)?", said.cells[0])
            one = stops[place[1]] if place else None
            good_s = math.nan if one is None or one.first_good_s is None else one.first_good_s
            figures = () if one is None else (one.at_s, one.recovery_s, one.rejected, one.by_hand, good_s)
            decimals = (3, 1, 0, 0, 1)
            shown = [text.removesuffix(" s") for text in (said.cells[1], *said.cells[3:])]
            fits = [
                len(text.partition(".")[2]) == some and abs(float(text) - figure) <= 0.5000001 * 10.0**-some
                for text, figure, some in zip(shown, figures, decimals, strict=True)
            ]
            seen += 1
            if not fits or not all(fits):
                found.append(f"{said.text!r} stands for {figures}")
    return [*found, *([] if seen == len(stops) else [f"{seen} rows of {len(stops)} stops"])]
