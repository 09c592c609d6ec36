"""What is agreed before the run-off: fields of the acceptance form for what no reckoning decides."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_uppercase
from typing import TYPE_CHECKING, Final

from linewright.handover.document.blocks import Block, Grid, GridColumn, Heading, Words
from linewright.handover.papers.acceptance_opening import not_held, unchecked_codes
from linewright.handover.papers.acceptance_words import hours_told, rows_told
from linewright.handover.papers.material import Material
from linewright.quantities import number, percent

if TYPE_CHECKING:
    from linewright.planning.run_off import RunOff, RunOffTest

AGREED_MM: Final = 15.0
"""Height of a field for what is agreed. [mm]"""
MISSING_MM: Final = 7.0
"""Height of a field for who states a missing figure: two lines of print. [mm]"""


def agreement_blocks(material: Material, plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """What no reckoning decides: fields for what a refused row leads to, and who bears it.

    Parameters
    ----------
    material : of the line
    plan : of the run-off
    rows : number of each row in the form
    """
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
    if any(one.verdict == "fails" for one in not_held(material)):
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
        *_missing_blocks(material, plan),
    ]


def _missing_blocks(material: Material, plan: RunOff) -> list[Block]:
    """Fields for what is not checked and not tested: who states what is missing, and until when."""
    cells = [("not checked", what, "", "") for what in unchecked_codes(material)]
    cells += [("not tested", one.what, "", "") for one in plan.not_planned]
    if not cells:
        return []
    columns = (
        GridColumn("", share=0.0),
        GridColumn("what is open", share=4.0),
        GridColumn("who states what is missing", share=2.0),
        GridColumn("until when", share=1.2),
    )
    told = (
        "A figure that comes is written into the line file or the conveyor sheet; then the checks are made again and "
        "this form is printed anew, before the run-off begins. A row that stays empty is left unchecked or untested, "
        "and both sign that."
    )
    return [Heading("What is missing, and who states it", 2), Words(told), Grid(columns, tuple(cells), MISSING_MM)]


def _agreed_later(plan: RunOff, rows: dict[RunOffTest, int]) -> list[tuple[str, str]]:
    """What is to be agreed of rows that are counted in production, and of a rate that no row shows."""
    asked = []
    for test in plan.of("rate"):
        required = f"the required rate, {number(test.limit or 0.0)} an hour"
        if test.phase == "later":
            told = (
                f"Both read the same counter for {hours_told(test.hours or 0.0)} of line time. What is refused is "
                "mended and counted again until a day that is named; part of the price is held back until then."
            )
            asked.append((f"What follows if row {number(rows[test])}, {required}, is refused in production", told))
        elif not test.planned_for:
            told = "The line is changed until its plan lies clear above it, or another required rate is agreed."
            asked.append((f"How {required}, is shown, since no row shows it", told))
    others = [rows[test] for test in plan.tests if test.phase == "later" and test.code != "rate"]
    if others:
        what = f"What follows if {rows_told(others)}, counted in production, {_is(others)} refused"
        asked.append((what, "What is refused is mended and counted again until a day that is named."))
    return asked


def _is(rows: Sequence[int]) -> str:
    return "is" if len(rows) == 1 else "are"
