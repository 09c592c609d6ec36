"""Every number of the smaller papers is one of the records that they are written from, rounded, at its own place.

Read as the dossier is. The run-off plan, the table of hazards and the stops are records that hold words too: a row of
a paper that is written from one of these is held against that very record, its words and its numbers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any, Final

import pytest

from linewright.flow.stop_sheet import stop_sheet
from linewright.handover.document.blocks import Document
from unit.handover.known_chapters import KNOWN
from unit.handover.known_findings import figure_fits, finding_wrong, moved_wrong, place_of, share_fits
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
from unit.handover.short_material import evaluated, evaluated_otherwise, material_of
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
    from linewright.planning.run_off import with_proof

    material = material_of(path)
    facts = PaperFacts(replace(material, run_off=with_proof(material.run_off, material.proof)))
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


# ---- the changes -----------------------------------------------------------------------------------------------------

EDITS: Final = (
    ("part: {mass: 2.1 lb", "part: {mass: 16.5 lb"),
    ("    time: 1.7 s", "    time: 2.9 s"),
    ("good_parts_per_year: 2600000", "good_parts_per_year: 3260000"),
    ("fuse: 50 A}\n  back", "fuse: 25 A}\n  back"),
    ("keep_clear: 7 in ", "keep_clear: 8 in "),
)
CHANGED: Final = {
    "part.mass": ("2.1 lb", "16.5 lb"),
    "stations.press.time": ("1.7 s", "2.9 s"),
    "demand.good_parts_per_year": ("2600000", "3260000"),
    "feeders.front.fuse": ("50 A", "25 A"),
    "stations.press.keep_clear": ("7 in", "8 in"),
}


def changes_read(for_customer: bool, back: bool = False) -> tuple[PaperFacts, list[Said]]:
    """The records of a line that was changed, and the texts of its change report; or of the way back."""
    from linewright.handover.papers import changes
    from linewright.planning.promises import compare_promises

    two = (evaluated("charts/five.yaml"), evaluated_otherwise("charts/five.yaml", EDITS))
    before, after = two[::-1] if back else two
    material = replace(
        material_of("charts/five.yaml"), evaluation=after, proving="none", before=before, for_customer=for_customer
    )
    document = changes._document(material, before, compare_promises(before, after))
    return PaperFacts(material), said_in(document, {}, lambda label, text: [text])


def is_same(old: Any, new: Any) -> bool:
    """Whether two findings show the same in four digits."""
    pairs = ((old.value, new.value), (old.limit, new.limit))
    alike = [a == b or (None not in (a, b) and f"{a:.4g}" == f"{b:.4g}") for a, b in pairs]
    return old.verdict == new.verdict and all(alike)


@cache
def _pairs(facts: PaperFacts) -> list[tuple[Any, Any]]:
    """Findings as they were and as they are, of one code and place; of one code alone where there is one of each."""
    sides = [list(facts.m.before.findings), list(facts.e.findings)]
    pairs: list[tuple[Any, Any]] = []
    keys = (
        lambda one: (one.subject, one.code, one.where),
        lambda one: place_of(one, facts),
        lambda one: (one.subject, one.code),
    )
    for key in keys:
        for new in tuple(sides[1]):
            olds = [one for one in sides[0] if key(one) == key(new)]
            if len(olds) == sum(key(one) == key(new) for one in sides[1]) == 1:
                pairs.append((olds[0], new))
                sides[0].remove(olds[0])
                sides[1].remove(new)
    return [*pairs, *((old, None) for old in sides[0]), *((None, new) for new in sides[1])]


def changes_faults(facts: PaperFacts, saids: list[Said]) -> list[str]:
    """Rows of the change report that are no finding's as it was and as it is, and findings that moved without a row."""
    left = [pair for pair in _pairs(facts) if None in pair or not is_same(*pair)]
    stayed, found = len(_pairs(facts)) - len(left), []
    for said in saids:
        if said.cells and "what and where" in said.names["view"]:
            (code,) = re.findall(r"^([\w-]+): ", "\n".join(said.cells), re.MULTILINE)[:1] or [""]
            same = [pair for pair in left if (pair[1] or pair[0]).code == code]
            wrong = [moved_wrong(said, *pair, facts) for pair in same]
            if [] in wrong:
                left.remove(same[wrong.index([])])
            else:
                found.append(f"{said.text!r}: {min(wrong, key=len, default='nothing of this code moved')}")
    kept = [one for one in left if not (facts.m.for_customer and None not in one and _held(*one))]
    found += [f"{(one[1] or one[0]).where!r} has no row" for one in kept]
    for said in saids:
        now = re.search(r"; (?:\d+ fail as before|.*)\. (\d+) rows? (?:is|are) NOT CHECKED now\.$", said.text)
        if now and int(now[1]) != sum(one.verdict == "not checked" for one in facts.e.findings):
            found.append(f"{said.text!r}: another number of rows is not checked")
        told = re.search(r"(\d+) stayed as they were|^(\d+) rows? that held", said.text)
        if told and int(told[1] or told[2]) != (stayed if told[1] else len(left)):
            found.append(f"{said.text!r}: {stayed} stayed, {len(left)} are not listed")
    return found


def _held(old: Any, new: Any) -> bool:
    return old.verdict == new.verdict == "holds" and old.limit == new.limit


def answer_faults(facts: PaperFacts, saids: list[Said]) -> list[str]:
    """Rows of the whole line and of the file that are not what was changed or is known of both."""
    sides = (facts.m.before, facts.e)
    rates = [one.run.rate for one in sides]
    takts = [one.takt.takt_s for one in sides]
    usable = [one.takt.usable_time_s for one in sides]
    cycles = [one.run.line_cycle_s for one in sides]
    known: dict[str, tuple[list[float], str]] = {
        "takt": (takts, "s"),
        "required rate": ([3600.0 / one for one in takts], "1/h"),
        "line cycle": (cycles, "s"),
        "good parts at the simulated rate": ([a / b for a, b in zip(usable, cycles, strict=True)], "1/year"),
    }
    found, units, seen = [], facts.e.line.units, set()
    for said in saids:
        if said.names.get("view") == "what | before | after | moved" and said.cells[0] in known:
            figures, unit = known[said.cells[0]]
            moved, share = re.fullmatch(r"([+-].*?)(?: \((.*)\))?", said.cells[3]).groups()
            difference = figures[1] - figures[0]
            fits = [figure_fits(*one, unit, units) for one in zip(said.cells[1:3], figures, strict=True)]
            fits.append(figure_fits(moved[1:], abs(difference), unit, units) and (moved[0] == "+") == (difference > 0))
            fits.append(share is None or share_fits(share, difference / figures[0]))
            found += [] if all(fits) else [f"{said.text!r} stands for {figures}, {fits}"]
        elif said.cells and said.cells[0] == "simulated rate, good parts":
            told = [f"{one.mean:.1f} per hour ({one.low:.1f} to {one.high:.1f})" for one in rates]
            told.append(f"{rates[1].mean - rates[0].mean:+.1f}")
            same = list(said.cells[1:3]) == told[:2] and said.cells[3].split(",")[0] == told[2]
            found += [] if same else [f"{said.text!r} stands for {told}"]
        elif said.cells and said.cells[0] == "limiting step":
            told = [one.run.limiting.step for one in sides]
            found += [] if list(said.cells[1:3]) == told else [f"{said.text!r} stands for {told}"]
        elif said.names.get("view") == "key | before | after" and said.cells:
            found += [] if said.cells[1:] == CHANGED.get(said.cells[0]) else [f"{said.text!r} is no change"]
        elif said.cells and said.names.get("view") == "what | before | after | moved":
            found.append(f"{said.text!r}: no rule reads it")
        seen.add(said.cells[0] if said.cells else "")
    return [*found, *(f"{key} has no row" for key in (*known, "simulated rate, good parts") if key not in seen)]


def test_before_and_after_of_a_change_are_the_figures_of_both_evaluations() -> None:
    for for_customer in (False, True):
        facts, saids = changes_read(for_customer)
        assert changes_faults(facts, saids) == []
        assert answer_faults(facts, saids) == []
        rows = [said for said in saids if said.cells and "what and where" in said.names["view"]]
        assert len({said.names["view"] for said in rows}) == 2
        # A row with another digit, with before and now exchanged, or left out is noticed.
        for said in rows:
            for text in changed(said.text)[:: 7 if for_customer else 5]:
                cells = tuple(one.strip() for one in text.split("|"))
                cells += ("",) * (len(said.cells) - len(cells))
                other = [one if one is not said else replace(said, text=text, cells=cells) for one in saids]
                assert changes_faults(facts, other), text
            assert changes_faults(facts, [one for one in saids if one is not said])
    facts, _ = changes_read(False)
    assert changes_faults(facts, changes_read(False, back=True)[1])
    assert len(answer_faults(facts, changes_read(False, back=True)[1])) > len(CHANGED)


# ---- the recovery ----------------------------------------------------------------------------------------------------


@LONG
@pytest.mark.parametrize("path", ["charts/five.yaml", "charts/fourteen.yaml", "demo/line.yaml"])
def test_every_number_of_the_smaller_papers_is_a_record(path: str) -> None:
    """Upkeep and run-off of other lines; the longest times of the recovery sheet."""
    facts, saids = acceptance_read(path)
    assert run_off_faults(facts, saids) == []
    from linewright.handover.papers.recovery import recovery_document

    sheet = stop_sheet(facts.e.line, seed=1, workers=1)
    document = recovery_document(facts.m, sheet)
    told = said_in(document, {}, lambda label, text: [text])
    assert recovery_faults(sheet, told) == []
    pages = by_place(document)
    assert [fault for heading, saids in pages.items() for fault in place_faults(heading, saids, sheet, facts)] == []
    named = [one.place for heading in pages for one in stops_under(heading.removeprefix(_PLACE), sheet)]
    assert sorted(named) == sorted(one.place for one in sheet.places)
    # A wrong digit is noticed, and the page of another stop.
    for heading, saids in pages.items():
        for said in saids:
            for text in changed(said.text):
                cells = tuple(one.strip() for one in text.split("|")) if said.cells else ()
                cells += ("",) * (len(said.cells) - len(cells))
                other = [one if one is not said else replace(said, text=text, cells=cells) for one in saids]
                assert place_faults(heading, other, sheet, facts), text
    for heading, there in pairwise(pages):
        same = [said.text for said in pages[heading]] == [said.text for said in pages[there]]
        assert same or place_faults(heading, pages[there], sheet, facts), heading
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


_FATES: Final = {
    "Take out by hand": "taken out by hand",
    "Go to the reject exit": "rejected",
    "Worked on again": "work done again",
}
_PLACE: Final = "Stop in the middle of "


def by_place(document: Document) -> dict[str, list[Said]]:
    """The texts of the recovery sheet that stand under each heading of a stop."""
    whole = said_in(document, {}, lambda label, text: [text])
    headings = {said.text: {"stop": said.text} for said in whole if said.text.startswith(_PLACE)}
    found: dict[str, list[Said]] = {heading: [] for heading in headings}
    for said in said_in(document, headings, lambda label, text: [text]):
        if "stop" in said.names and said.text != said.names["stop"]:
            found[said.names["stop"]].append(said)
    return found


def stops_under(heading: str, sheet: Any) -> list[Any]:
    """The stops that a heading names."""
    told = re.fullmatch(r"(?:work at|a ride of) ([\w-]+(?:(?:, | and )[\w-]+)*?)(?:, (?:loaded|empty))?", heading)
    names = re.split(", | and ", told[1])
    return [one for name in names for one in sheet.places if one.place == name]


def place_faults(heading: str, saids: list[Said], sheet: Any, facts: PaperFacts) -> list[str]:
    """Texts under a heading that are not the record of every stop that it names."""
    found: list[str] = []
    for one in stops_under(heading.removeprefix(_PLACE), sheet):
        rows = []
        for said in saids:
            if said.cells:
                rows += [cells for cells in (said.cells[:4], said.cells[5:]) if cells and cells[0]]
            elif not _is_of_stop(said.text, one):
                found.append(f"{said.text!r} is not what a stop in the middle of {one.place} leaves")
        rows.sort(key=lambda cells: int(cells[0]))
        if [int(cells[0]) for cells in rows] != [*range(1, len(one.order) + 1)]:
            found.append(f"{heading}: {len(rows)} rows of {len(one.order)} carriers that are moved")
            continue
        for cells, carrier in zip(rows, one.order, strict=True):
            if not _is_of_carrier(cells, carrier, facts):
                found.append(f"{' | '.join(cells)!r} is not {carrier}")
        parts = sum(int(number) for said in saids for number in re.findall(r"(\d+) parts?\b", _counted(said)))
        empty = sum(int(number) for said in saids for number in re.findall(r"(\d+) carriers?\b", _counted(said)))
        if (parts, empty) != (sum(c.parts for c in one.carriers), sum(not c.parts for c in one.carriers)):
            found.append(f"{heading}: {parts} parts and {empty} carriers without one are told of {one.carriers}")
    return found if stops_under(heading.removeprefix(_PLACE), sheet) else [f"{heading!r} names no stop"]


def _counted(said: Said) -> str:
    """A text that counts parts or carriers; what rides at a transfer is among those counted elsewhere."""
    return "" if said.cells or said.text.startswith("Aboard") else said.text


def _is_of_stop(text: str, one: Any) -> bool:
    """Whether the numbers of a text are those of a stop."""
    last_s = max((c.recovery_end_s for c in one.order), default=0.0)
    added = re.search(r", the last (\S+) s for the slowest ride of a platform(?=; )", text)
    if added:
        if not _is_tenth(added[1], one.recovery_s - last_s):
            return False
        text = text.replace(added[0], "", 1)
    text = text.replace(", nothing added for a platform that no carrier stands on or goes to; ", "; ", 1)
    time = re.fullmatch(r"Recovery (\S+) s; (?:the first good part comes after (\S+) (s|min)|no good part .*)\.", text)
    if time:
        good = one.first_good_s is None and time[2] is None
        if one.first_good_s is not None and time[2] is not None:
            good = _is_tenth(time[2], one.first_good_s / (60.0 if time[3] == "min" else 1.0))
        return _is_tenth(time[1], one.recovery_s) and good
    done = re.fullmatch(r"([A-Z][a-z ]+) \((.+)\), (\d+) parts?: (.+)\.", text)
    if done:
        some = [c for c in one.carriers if (c.fate, c.why) == (_FATES.get(done[1], done[1]), done[2])]
        stations = {re.sub("^(?:at )?(?:station )?", "", c.where.split(",")[0]) for c in some}
        return int(done[3]) == sum(c.parts for c in some) and set(re.split(", | and ", done[4])) == stations
    kept = re.fullmatch(r"(Kept as they are|Empty), (.+)\.", text)
    if kept:
        some = [c for c in one.carriers if c.fate == ("kept" if kept[1].startswith("Kept") else "none aboard")]
        told = dict.fromkeys(("standing at stops", "riding on a platform", "still to go"), 0)
        for c in some:
            rides = c.where in [f"aboard {name}" for name in one.riding]
            where = "riding on a platform" if rides else "standing at stops"
            told["still to go" if c.recovery_begin_s is not None else where] += c.parts or 1
        shown = [re.fullmatch(r"(\d+) \w+ (.+)", text) for text in kept[2].split(", ")]
        return {text[2]: int(text[1]) for text in shown if text} == {key: n for key, n in told.items() if n}
    aboard = re.fullmatch(r"Aboard ([\w-]+): (?:(\d+) parts? kept|no part); its carrier .*", text)
    if aboard:
        return aboard[1] == one.place and int(aboard[2] or 0) == one.there.parts
    named = set(re.findall(r"platforms? of ([\w-]+)(?:(?:, | and )([\w-]+))*", text))
    riding = {name for names in named for name in names if name}
    return not re.search(r"\d", re.sub(r"[\w-]*[a-z-]\d[\w-]*", "", text)) and riding <= set(one.riding)


def _is_tenth(shown: str, figure: float) -> bool:
    return len(shown.partition(".")[2]) <= 1 and abs(float(shown) - figure) <= 0.0500001


def _is_of_carrier(cells: tuple[str, ...], carrier: Any, facts: PaperFacts) -> bool:
    """Whether a row of the order in which carriers are moved is that of a carrier: where it goes, how far, when."""
    stop, units = facts.e.layout.stops[carrier.stop], facts.e.line.units
    where, _, at = cells[1].partition(f", {stop.lane} at ")
    if where != carrier.where.removeprefix("on the way ") or (stop.kind == "aboard") != (at == ""):
        return False
    good = at == "" or figure_fits(at, stop.floor_m, "m", units)
    return good and figure_fits(cells[2], carrier.to_go_m, "m", units) and _is_tenth(cells[3], carrier.recovery_end_s)
