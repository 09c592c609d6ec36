"""The acceptance form: what is run and measured at the customer's, the pass lines, and fields for what comes out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from linewright.handover.document.blocks import (
    Block,
    Document,
    Grid,
    GridColumn,
    Heading,
    Part,
    SignHere,
    Words,
)
from linewright.handover.files import rows_csv_bytes
from linewright.handover.papers.acceptance_agreed import agreement_blocks
from linewright.handover.papers.acceptance_opening import PHASES_TOLD, failing_blocks, front_blocks, open_blocks
from linewright.handover.papers.acceptance_words import chance_told, ranges, sentences
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of
from linewright.quantities import KEEP, number, percent

if TYPE_CHECKING:
    from linewright.handover.files import Content
    from linewright.planning.run_off import RunOff, RunOffTest

TITLE: Final = "Acceptance: run-off plan and form"
ROW_MM: Final = 13.0
"""Height of a row of the form: three lines of print. [mm]"""
_HEADER: Final = (
    "row", "code", "phase", "where", "what", "method", "how_long", "pass_line", "hours_h", "count", "allowed",
    "planned", "limit", "pass_value", "unit", "refused_if_planned", "passed_at_limit", "measured", "by", "date",
    "file_sha256",
)  # fmt: skip
_SIGNED: Final = "Signed here: the pass lines of this form, how they are measured, and what is agreed and named above."
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
    plan = _proven(material, plan)
    rows = _numbered(plan)
    form = [test for test in plan.tests if test.planned_for]
    front = (*failing_blocks(material), *front_blocks(plan, rows), *open_blocks(plan))
    parts = [Part(front), Part((*agreement_blocks(material, plan, rows), Words(_SIGNED), _sign("the plan")))]
    if form:
        parts.append(Part(tuple(_form(plan, rows)), "wide"))
        parts.append(Part((Heading("How each row is measured, and why so"), _methods(form, rows)), "wide"))
    if not material.for_customer and form:
        parts.append(Part((Heading("For the builder alone: what is planned"), *_planned(plan, form, rows))))
    return document_of(TITLE, material, parts)


def _proven(material: Material, plan: RunOff) -> RunOff:
    """The run-off with what the proof says of the recovery, where there is a proof."""
    from linewright.planning.run_off import with_proof

    return plan if isinstance(material.proof, str) else with_proof(plan, material.proof)


def _numbered(plan: RunOff) -> dict[RunOffTest, int]:
    return {test: i for i, test in enumerate(plan.tests, start=1)}


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
    for phase, heading in PHASES_TOLD.items():
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
        _passed(test), "", "", "", "", "",
    )  # fmt: skip


def _passed(test: RunOffTest) -> str:
    if test.passed_at_limit is None:
        return "no luck in it" if test.refused_if_planned is None else "not known"
    return percent(test.passed_at_limit)


def _refused(plan: RunOff, test: RunOffTest) -> str:
    bound = chance_told(plan, test)
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
        (ranges([rows[test] for test in group]), what, method, sentences(why))
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
    told = [(number(rows[test]), test.what, test.where, sentences(test.internal)) for test in tests if test.internal]
    together = (
        "The pages before this one are the customer's too, word by word. They tell the chance of a refusal as planned "
        "by its bound alone; here stands the chance itself. By the sum of these chances a line as planned fails at "
        f"least one row with {percent(plan.refused_somewhere)} at most."
    )
    return (Words(together), Grid(columns, tuple(told)))


def _csv(material: Material, plan: RunOff) -> bytes:
    names = tuple(name for name in _HEADER if not (material.for_customer and name in _INTERNAL))
    lines = []
    for row, test in enumerate(_proven(material, plan).tests, start=1):
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
