"""The acceptance form: what is run and measured at the customer's, the pass lines, and fields for what comes out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from linewright.handover.document.blocks import (
    Block,
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
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of
from linewright.quantities import KEEP, number, percent

if TYPE_CHECKING:
    from linewright.handover.files import Content
    from linewright.planning.run_off import Phase, RunOff, RunOffTest

TITLE: Final = "Acceptance: run-off plan and form"
ROW_MM: Final = 13.0
"""Height of a row of the form: three lines of print. [mm]"""

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
    material : of the line; for its customer without what is planned
    plan : of its run-off
    """
    rows = _numbered(plan)
    form = [test for test in plan.tests if test.phase != "not to be shown"]
    parts = [
        Part((*_front(material, plan), *_open_rows(plan), SignHere(("builder, to the plan", "customer, to the plan"))))
    ]
    if form:
        parts.append(Part(tuple(_form(material, plan, rows)), "wide"))
        parts.append(Part((Heading("How each row is measured, and why so"), _methods(form, rows)), "wide"))
    if not material.for_customer and form:
        parts.append(Part((Heading("For the builder alone: what is planned"), _planned(form, rows))))
    return document_of(TITLE, material, parts)


def _numbered(plan: RunOff) -> dict[RunOffTest, int]:
    return {test: i for i, test in enumerate(plan.tests, start=1)}


def _front(material: Material, plan: RunOff) -> list[Block]:
    """What the form is, what chance each side takes, and how long it all lasts."""
    bad, good = percent(plan.confidence, 0), percent(plan.builder_risk, 0)
    agreed = "as agreed in the line file" if plan.stated else "common practice; the line file has no key acceptance"
    by_luck = [test for test in plan.tests if test.possible and test.passed_at_limit is not None]
    customer = percent(1.0 - plan.confidence, 0)
    printed = (
        "Each pass line is printed here before anything is measured. Who signs this page agrees to the pass lines, to "
        f"how they are measured, and to the two chances below ({agreed})."
    )
    refused = (
        "What the customer must not get is refused: a line that lies exactly at what a row says is to be refused fails "
        f"that row with a chance of {bad} or more, and a worse one still more surely. The rest, {customer} at most, is "
        "the customer's risk, row by row."
    )
    accepted = (
        "What the builder has promised is accepted: a line that is as planned fails a row by bad luck with a chance of "
        f"{good} at most. That is the builder's risk, row by row."
    )
    length = (
        "Both chances are small because a row runs long enough, not because its pass line is easy. A shorter count "
        "with the same pass line protects nobody."
    )
    agree = (
        "Agree before the run-off begins what a refused row leads to: as a rule the cause is mended, and that row is "
        "run once more with those that the mending touches."
    )
    chances = (printed, refused, accepted, _together(material, plan, len(by_luck)), length, agree)
    return [
        Heading("What this form shows, and how surely"),
        Points(chances),
        Heading("How long it takes", 2),
        Facts(tuple((_PHASES[phase.phase], f"{_hours(phase.hours)}: {phase.told}") for phase in plan.phases)),
        Words(f"All in all about {_hours(plan.total_hours)} of work on the line, one after another.", strong=True),
        *_later_words(plan),
    ]


def _together(material: Material, plan: RunOff, rows: int) -> str:
    known = sum(1 for test in plan.tests if test.possible and test.refused_if_planned is not None)
    most = min(1.0, known * plan.builder_risk) if material.for_customer else plan.refused_somewhere
    words = "row is" if rows == 1 else "rows are"
    return (
        f"{number(rows)} {words} decided by luck as well. Of {number(known)} of them it is known how a line as planned "
        f"fares: it fails at least one of these with a chance of {percent(most, 0)} at most."
    )


def _later_words(plan: RunOff) -> list[Block]:
    later = sum(1 for test in plan.tests if test.phase == "later")
    if not later:
        return []
    rows = "1 row takes" if later == 1 else f"{number(later)} rows take"
    return [
        Words(
            f"{rows} longer than {_hours(plan.most_hours)}, which no run-off lasts: counted in production from "
            "the day of handing over, with the pass line that is printed in the form."
        )
    ]


def _open_rows(plan: RunOff) -> list[Block]:
    """What the run-off cannot show, and what has no row."""
    blocks: list[Block] = []
    open_tests = [test for test in plan.tests if test.phase == "not to be shown"]
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


def _form(material: Material, plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
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
        tests = [test for test in plan.tests if test.phase == phase and phase != "not to be shown"]
        if tests:
            cells = tuple(_form_row(material, plan, test, rows[test]) for test in tests)
            blocks += [Heading(heading, 2), Grid(columns, cells, ROW_MM)]
    return [*blocks, SignHere(("builder, to the results", "customer, to the results"))]


def _form_row(material: Material, plan: RunOff, test: RunOffTest, row: int) -> tuple[str, ...]:
    return (
        number(row), test.what, test.where, test.how_long, test.pass_line, _refused(material, plan, test),
        "no luck in it" if test.passed_at_limit is None else percent(test.passed_at_limit), "", "", "", "", "",
    )  # fmt: skip


def _refused(material: Material, plan: RunOff, test: RunOffTest) -> str:
    """The chance of a refusal as planned; a customer is told its bound, which tells nothing of what is planned."""
    chance = test.refused_if_planned
    if chance is None:
        return "no luck in it" if test.passed_at_limit is None else "not known"
    if material.for_customer and chance <= plan.builder_risk:
        return f"at most {percent(plan.builder_risk)}"
    return percent(chance) if chance >= 0.0005 else f"under 0.1{KEEP}%"


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


def _planned(tests: Sequence[RunOffTest], rows: dict[RunOffTest, int]) -> Grid:
    columns = (
        GridColumn("row", "right", 0.0),
        GridColumn("what", share=2.0),
        GridColumn("where", share=2.0),
        GridColumn("planned", share=3.0),
    )
    told = [(number(rows[test]), test.what, test.where, _sentences(test.internal)) for test in tests if test.internal]
    return Grid(columns, tuple(told))


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
