"""The acceptance form: what is run and measured at the customer's, the pass lines, and fields for what comes out."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from linewright.findings import Finding, worst_first
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Cell,
    Document,
    Facts,
    Grid,
    GridColumn,
    Heading,
    Part,
    Points,
    SignHere,
    Tag,
    Words,
    grid,
)
from linewright.handover.files import rows_csv_bytes
from linewright.handover.papers.material import NOT_ASKED, Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of
from linewright.handover.wording import figures
from linewright.quantities import KEEP, number, percent

if TYPE_CHECKING:
    from linewright.handover.files import Content
    from linewright.planning.run_off import Phase, RunOff, RunOffTest

TITLE: Final = "Acceptance: run-off plan and form"
ROW_MM: Final = 13.0
"""Height of a row of the form: three lines of print. [mm]"""
AGREED_MM: Final = 17.0
"""Height of a field for what is agreed. [mm]"""
_NEVER_LEFT_OUT: Final = ("strength", "power", "safety", "traffic")
"""Subjects of which page one tells too what was not checked: people and machine depend on them."""

_PHASES: Final[dict[Phase, str]] = {
    "mounted": "The mounted track",
    "standing": "Stops and forces",
    "running": "The continuous run",
    "stopping": "Emergency stops",
    "later": "Counted in production",
    "not to be shown": "Not to be shown",
}
_HEADER: Final = (
    "row", "code", "phase", "where", "what", "method", "how_long", "pass_line", "hours_h", "count", "allowed",
    "planned", "limit", "pass_value", "unit", "refused_if_planned", "passed_at_limit", "measured", "by", "date",
    "file_sha256",
)  # fmt: skip
# Columns that only the builder reads.
_INTERNAL: Final = ("planned", "refused_if_planned")


def files_of(material: Material) -> dict[str, Content]:
    """The form as PDF and HTML, and its rows as CSV.

    Parameters
    ----------
    material : of the line

    Raises
    ------
    NothingToWrite   No run-off could be planned; the text says why.
    """
    plan = material.run_off
    if isinstance(plan, str):
        raise NothingToWrite(plan)
    files: dict[str, Content] = dict(pages_of("acceptance", lambda: acceptance_document(material, plan)))
    return files | {"acceptance.csv": lambda: _csv(material, plan)}


def acceptance_document(material: Material, plan: RunOff) -> Document:
    """The form.

    Parameters
    ----------
    material : of the line; its customer's form is the builder's without the last page, which tells what is planned
    plan : of its run-off
    """
    rows = _numbered(plan)
    form = [test for test in plan.tests if test.planned_for]
    front = (*_failing(material), *_front(plan, rows), *_open_rows(plan))
    parts = [Part(front), Part((*_agreements(material, plan, rows), _sign("the plan")))]
    if form:
        parts.append(Part(tuple(_form(plan, rows)), "wide"))
        parts.append(Part((Heading("How each row is measured, and why so"), _methods(form, rows)), "wide"))
    if not material.for_customer and form:
        parts.append(Part((Heading("For the builder alone: what is planned"), *_planned(plan, form, rows))))
    return document_of(TITLE, material, parts)


def _numbered(plan: RunOff) -> dict[RunOffTest, int]:
    return {test: i for i, test in enumerate(plan.tests, start=1)}


def _not_held(material: Material) -> list[Finding]:
    """What fails in the plan, and what of strength, power, safety and traffic was not checked."""
    proof = material.proof
    traffic = () if isinstance(proof, str) else proof.findings
    return [
        one
        for one in worst_first((*material.evaluation.findings, *traffic))
        if one.verdict == "fails" or (one.verdict == "not checked" and one.subject in _NEVER_LEFT_OUT)
    ]


def _failing(material: Material) -> list[Block]:
    """What the plan itself does not hold: no run of the line makes up for it."""
    found, units = _not_held(material), material.evaluation.line.units
    rows: list[tuple[Cell, ...]] = [
        (Tag(one.verdict), f"{one.code}: {_place(one)}", figures(one, units, with_margin=False)) for one in found
    ]
    if isinstance(material.proof, str):
        rows.append((Tag("not checked"), f"traffic: {_unproven(material.proof)}", ""))
    fails = any(one.verdict == "fails" for one in found)
    told = "These checks fail in the plan; the run-off does not replace them."
    if not fails:
        told = "No check fails in the plan."
        told += " These were not made; the run-off does not replace them." if rows else ""
    blocks: list[Block] = [Heading("What fails in the plan" if fails else "What was not checked in the plan")]
    blocks.append(Words(told, strong=True))
    if found:
        blocks.append(Words("What to do about each is told by the dossier, and by linewright check."))
    if rows:
        columns = (GridColumn("", share=0.0), GridColumn("check, and where", share=3.0), GridColumn("value and limit"))
        blocks.append(Grid(columns, tuple(rows)))
    return blocks


def _place(finding: Finding) -> str:
    """What fails is told by place and figures; what was not checked, in full: there the words are all there is."""
    return finding.where if finding.verdict != "fails" else re.split("[:;] ", finding.where, maxsplit=1)[0]


def _unproven(why: str) -> str:
    if why == NOT_ASKED:
        return (
            "that the line never locks up, that no carriers touch and that it starts again after a stop was not proven "
            "with this form; linewright prove does it"
        )
    return f"not proven: {why}"


def _front(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """What the form is, what chance each side takes, and how long it all lasts."""
    bad, good = percent(plan.confidence, 0), percent(plan.builder_risk, 0)
    agreed = "as agreed in the line file" if plan.stated else "common practice; the line file has no key acceptance"
    customer = percent(1.0 - plan.confidence, 0)
    printed = (
        "Each pass line is printed here before anything is measured. Who signs the next page agrees to the pass "
        f"lines, to how they are measured, and to the two chances below ({agreed})."
    )
    refused = (
        "What the customer must not get is refused: a line that lies exactly at what a row says is to be refused fails "
        f"that row with a chance of {bad} or more, and a worse one still more surely. The rest, {customer} at most, is "
        "the customer's risk, row by row."
    )
    accepted = (
        "What the builder has promised is accepted: a line that is as planned fails a row by bad luck with a chance of "
        f"{good} at most. That is the builder's risk, row by row{_riskier(plan, rows)}."
    )
    length = (
        "Both chances are small because a row runs long enough, not because its pass line is easy. A shorter count "
        "with the same pass line protects nobody."
    )
    return [
        *_rate_words(plan, rows),
        Heading("What this form shows, and how surely", 2),
        Points((printed, refused, accepted, _together(plan, rows), length)),
        Heading("How long it takes", 2),
        Facts(tuple((_PHASES[phase.phase], f"{_hours(phase.hours)}: {phase.told}") for phase in plan.phases)),
        Words(f"All in all about {_hours(plan.total_hours)} of work on the line, one after another.", strong=True),
        *_later_words(plan, rows),
    ]


def _riskier(plan: RunOff, rows: dict[RunOffTest, int]) -> str:
    """The rows of which the agreed length does not keep the builder's risk."""
    above = [rows[test] for test in plan.tests if test.planned_for and (_bound(plan, test) or 0.0) > plan.builder_risk]
    if not above:
        return ""
    return f"; {_rows_told(above)} {'bears' if len(above) == 1 else 'bear'} more, as the form says"


def _rate_words(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """Which row shows the required rate, and what a row that passes below it does not show."""
    rates, days = plan.of("rate"), plan.of("rate-in-a-day")
    if not rates:
        return []
    rate = rates[0]
    assert rate.limit is not None  # every row of the rate has one
    required = f"The required rate, {number(rate.limit)} good parts an hour,"
    count = f"at least {number(rate.count or 0)} good parts in {_hours(rate.hours or 0.0)}"
    if rate.possible:
        return [Heading("The required rate", 2), Words(f"{required} is row {number(rows[rate])}: {count}.")]
    if rate.planned_for:
        told = (
            f"{required} is row {number(rows[rate])}. No run-off is long enough for it: it is counted in production "
            f"from the day of handing over, {count} of line time. What follows if it is refused is agreed on the next "
            "page, before anybody signs."
        )
    else:
        told = (
            f"{required} is shown by no row of this form. How it is shown is agreed on the next page, before anybody "
            "signs."
        )
    for day in days:
        told += (
            f" Row {number(rows[day])} is not the required rate: it passes with {number(day.pass_value or 0.0)} an "
            f"hour counted over {_hours(day.hours or 0.0)}, and that shows {number(day.limit or 0.0)} an hour, since "
            "luck alone may add the rest. A line that passes it may yet miss the required rate."
        )
    return [Heading("The required rate", 2), Caution(told)]


def _together(plan: RunOff, rows: dict[RunOffTest, int]) -> str:
    """How many rows luck decides, which these are, and about the sum of their chances."""
    by_luck = [test for test in plan.tests if test.planned_for and test.passed_at_limit is not None]
    if not by_luck:
        return "No row is decided by luck."
    known = [test for test in by_luck if test.refused_if_planned is not None]
    words = "row is" if len(by_luck) == 1 else "rows are"
    told = f"{number(len(by_luck))} {words} decided by luck as well ({_ranges([rows[test] for test in by_luck])})."
    if known:
        told += (
            f" Of {number(len(known))} of them ({_ranges([rows[test] for test in known])}) it is known how a line as "
            f"planned fares: it fails at least one of these with {percent(_somewhere(plan, known), 0)} at most, the "
            "sum of their chances rounded up."
        )
    others = len(by_luck) - len(known)
    return told + (f" Of {number(others)} it is not known." if others else "")


def _somewhere(plan: RunOff, known: Sequence[RunOffTest]) -> float:
    """The sum of the chances of a refusal as planned in whole tens of per cent, so that no single one can be found from
    it; at most the sum of the bounds that the form tells."""
    bounds = math.fsum(_bound(plan, test) or 0.0 for test in known)
    return min(1.0, bounds, math.ceil(plan.refused_somewhere * 10.0 - 1e-9) / 10.0)


def _later_words(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    later = [rows[test] for test in plan.tests if test.phase == "later"]
    if not later:
        return []
    told = _rows_told(later)
    return [
        Words(
            f"{told[:1].upper()}{told[1:]} {'takes' if len(later) == 1 else 'take'} longer than "
            f"{_hours(plan.most_hours)}, which no run-off lasts: counted in production from the day of handing over, "
            "with the pass line that is printed in the form."
        )
    ]


def _agreements(material: Material, plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """What no reckoning decides: fields for what a refused row leads to, and who bears it."""
    once, twice = percent(1.0 - plan.confidence, 0), percent(1.0 - plan.confidence**2, 0)
    mended = (
        "Its cause is found and mended; then the row is run again from its beginning, with those that the mending "
        "touches. Without a cause found and mended nothing is repeated: repeated often enough, any line passes."
    )
    again = f"Once. What is to be refused passes with {once} at most; with {twice} if it may try twice."
    asked = [
        ("What a refused row leads to", mended),
        ("How often a row may be repeated", again),
        ("Who pays for a repeat: hours, parts, people", "Who answers for the cause that was found."),
        (
            "Until when refused rows are mended and repeated, and what follows if they are not",
            "A day is named. To use the line before it is not to accept it.",
        ),
        *_agreed_later(plan, rows),
    ]
    if any(one.verdict == "fails" for one in _not_held(material)):
        told = "They are mended and checked again before the run-off; what stays is agreed one by one."
        asked.append(("What becomes of the checks that fail in the plan", told))
    if any(not test.planned_for and test.code != "rate" for test in plan.tests):
        asked.append(("What becomes of what no run-off can show", "Agreed one by one, before anybody signs."))
    # The letter is by itself: a field's height is set at its first cell, which must not be of two lines.
    columns = (
        GridColumn("", share=0.0),
        GridColumn("to be agreed", share=2.0),
        GridColumn("as a rule (common practice)", share=2.6),
        GridColumn("agreed", share=3.2),
    )
    cells = tuple((letter, what, rule, "") for letter, (what, rule) in zip(ascii_uppercase, asked, strict=False))
    return [
        Heading("Agreed before the run-off"),
        Words(
            "No reckoning decides these. Write in both forms what is agreed; a field that stays empty is not agreed."
        ),
        Grid(columns, cells, AGREED_MM),
    ]


def _agreed_later(plan: RunOff, rows: dict[RunOffTest, int]) -> list[tuple[str, str]]:
    """What is to be agreed of rows that are counted in production, and of a rate that no row shows."""
    asked = []
    for test in plan.of("rate"):
        required = f"the required rate, {number(test.limit or 0.0)} an hour"
        if test.phase == "later":
            told = (
                f"Both read the same counter for {_hours(test.hours or 0.0)} of line time. What is refused is mended "
                "and counted again until a day that is named; part of the price is held back until then."
            )
            asked.append((f"What follows if row {number(rows[test])}, {required}, is refused in production", told))
        elif not test.planned_for:
            told = "The line is changed until its plan lies clear above it, or another required rate is agreed."
            asked.append((f"How {required}, is shown, since no row shows it", told))
    others = [rows[test] for test in plan.tests if test.phase == "later" and test.code != "rate"]
    if others:
        what = f"What follows if {_rows_told(others)}, counted in production, {_is(others)} refused"
        asked.append((what, "What is refused is mended and counted again until a day that is named."))
    return asked


def _is(rows: Sequence[int]) -> str:
    return "is" if len(rows) == 1 else "are"


def _rows_told(rows: Sequence[int]) -> str:
    return f"row{'' if len(rows) == 1 else 's'} {_ranges(rows)}"


def _open_rows(plan: RunOff) -> list[Block]:
    """What the run-off cannot show, and what has no row."""
    blocks: list[Block] = []
    open_tests = [test for test in plan.tests if not test.planned_for]
    if open_tests:
        columns = (
            GridColumn("", share=0.0), GridColumn("what", share=2.0), GridColumn("where", share=1.5),
            GridColumn("why", share=3.5), GridColumn("what it would take", share=1.3),
        )  # fmt: skip
        cells = [
            (
                Tag("fails" if test.falls_short else "not checked"),
                test.what,
                test.where,
                _sentences(test.why),
                test.how_long,
            )
            for test in open_tests
        ]
        blocks += [
            Heading("Not to be shown by any run-off of reasonable length", 2),
            Words("These stand in no row of the form. Agree on them before anybody signs.", strong=True),
            Grid(columns, tuple(cells)),
        ]
    if plan.not_planned:
        rows = [(Tag("not checked"), one.what, one.why) for one in plan.not_planned]
        blocks += [Heading("Not tested", 2), grid(["=", "what", GridColumn("why", share=2.0)], rows)]
    return blocks


def _form(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """The rows with their blanks, phase by phase."""
    columns = (
        GridColumn("row", "right", 0.0),
        GridColumn("what", share=2.2),
        GridColumn("where", share=1.9),
        GridColumn("how long, how many", share=1.9),
        GridColumn("pass line", share=2.6),
        GridColumn("refused, though as planned", "right", 0.9),
        GridColumn("passes, though at what is to be refused", "right", 1.2),
        GridColumn("measured", share=1.6),
        GridColumn("passed: yes or no", share=0.7),
        GridColumn("by", share=0.8),
        GridColumn("date", share=0.8),
        GridColumn("file of readings and its hash", share=1.8),
    )
    blocks: list[Block] = [
        Words(
            "One row, one result. The file of readings is kept; write the first sixteen signs of its SHA-256 hash, so "
            "that no reading can be changed afterwards without its showing."
        )
    ]
    for phase, heading in _PHASES.items():
        tests = [test for test in plan.tests if test.phase == phase and test.planned_for]
        if tests:
            cells = tuple(_form_row(plan, test, rows[test]) for test in tests)
            if phase == "later":
                blocks.append(_sign("the results of the run-off"))
            blocks += [Heading(heading, 2), Grid(columns, cells, ROW_MM)]
    later = any(test.phase == "later" for test in plan.tests)
    return [*blocks, _sign("what was counted in production" if later else "the results of the run-off")]


def _sign(to_what: str) -> SignHere:
    return SignHere((f"builder, to {to_what}", f"customer, to {to_what}"))


def _form_row(plan: RunOff, test: RunOffTest, row: int) -> tuple[str, ...]:
    return (
        number(row), test.what, test.where, test.how_long, test.pass_line, _refused(plan, test),
        "no luck in it" if test.passed_at_limit is None else percent(test.passed_at_limit), "", "", "", "", "",
    )  # fmt: skip


def _bound(plan: RunOff, test: RunOffTest) -> float | None:
    """What the form tells of the chance of a refusal as planned: the builder's risk, which tells nothing of what is
    planned; where the agreed length is too short to keep it, the chance itself."""
    chance = test.refused_if_planned
    return None if chance is None else max(chance, plan.builder_risk)


def _refused(plan: RunOff, test: RunOffTest) -> str:
    bound = _bound(plan, test)
    if bound is None:
        return "no luck in it" if test.passed_at_limit is None else "not known"
    return f"at most {percent(bound)}" if bound == plan.builder_risk else percent(bound)


def _methods(tests: Sequence[RunOffTest], rows: dict[RunOffTest, int]) -> Grid:
    """One entry a method; rows that are measured alike stand together."""
    alike: dict[tuple[str, str, tuple[str, ...]], list[RunOffTest]] = {}
    for test in tests:
        alike.setdefault((test.what, test.method, test.why), []).append(test)
    columns = (
        GridColumn("rows", share=0.7),
        GridColumn("what", share=1.6),
        GridColumn("method", share=5.0),
        GridColumn("limit, and why so", share=4.0),
    )
    cells = [
        (_ranges([rows[test] for test in group]), what, method, _sentences(why))
        for (what, method, why), group in alike.items()
    ]
    return Grid(columns, tuple(cells))


def _planned(plan: RunOff, tests: Sequence[RunOffTest], rows: dict[RunOffTest, int]) -> tuple[Block, ...]:
    """What only the builder reads: all that his form has and the customer's has not."""
    columns = (
        GridColumn("row", "right", 0.0),
        GridColumn("what", share=2.0),
        GridColumn("where", share=2.0),
        GridColumn("planned", share=3.0),
    )
    told = [(number(rows[test]), test.what, test.where, _sentences(test.internal)) for test in tests if test.internal]
    together = (
        "The pages before this one are the customer's too, word by word. They tell the chance of a refusal as planned "
        "by its bound alone; here stands the chance itself. By the sum of these chances a line as planned fails at "
        f"least one row with {percent(plan.refused_somewhere)} at most."
    )
    return (Words(together), Grid(columns, tuple(told)))


def _ranges(numbers: Sequence[int]) -> str:
    """Ascending numbers in words: ``1, 3 to 5``."""
    words: list[str] = []
    begin = last = numbers[0]
    for one in [*numbers[1:], None]:
        if one is not None and one == last + 1:
            last = one
            continue
        words.append(number(begin) if begin == last else f"{number(begin)} to {number(last)}")
        begin = last = 0 if one is None else one
    return ", ".join(words)


def _sentences(words: Sequence[str]) -> str:
    return ". ".join(text[:1].upper() + text[1:] for text in words) + "."


def _hours(hours: float) -> str:
    """A time that is reckoned: hours to the half, less than two in minutes."""
    if hours < 2.0:
        return f"{number(round(hours * 60.0))}{KEEP}min"
    return f"{number(round(hours * 2.0) / 2.0)}{KEEP}h"


def _csv(material: Material, plan: RunOff) -> bytes:
    names = tuple(name for name in _HEADER if not (material.for_customer and name in _INTERNAL))
    lines = []
    for row, test in enumerate(plan.tests, start=1):
        values = dict(zip(_HEADER, (
            row, test.code, test.phase, test.where, test.what, test.method, test.how_long, test.pass_line, test.hours,
            test.count, test.allowed, test.planned, test.limit, test.pass_value, test.unit, test.refused_if_planned,
            test.passed_at_limit, None, None, None, None,
        ), strict=True))  # fmt: skip
        lines.append(tuple(_plain(values[name]) for name in names))
    return rows_csv_bytes(names, lines)


def _plain(value: object) -> object:
    """Words with ordinary spaces, for programs."""
    return value.replace(KEEP, " ") if isinstance(value, str) else value
