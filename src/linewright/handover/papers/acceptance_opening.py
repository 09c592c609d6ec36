"""The opening of the acceptance form: what fails in the plan, what the form shows and how surely, how long it takes."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from linewright.findings import Finding, worst_first
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Cell,
    Facts,
    Grid,
    GridColumn,
    Heading,
    Points,
    Tag,
    Words,
    grid,
)
from linewright.handover.papers.acceptance_words import chance_told, hours_told, ranges, rows_told, sentences
from linewright.handover.papers.material import NOT_ASKED, Material
from linewright.handover.wording import figures
from linewright.quantities import counted, number, percent

if TYPE_CHECKING:
    from linewright.planning.run_off import Phase, RunOff, RunOffTest

_NEVER_LEFT_OUT: Final = ("strength", "power", "safety", "traffic")
"""Subjects of which page one tells too what was not checked: people and machine depend on them."""
PHASES_TOLD: Final[dict[Phase, str]] = {
    "mounted": "The mounted track",
    "standing": "Stops and forces",
    "running": "The continuous run",
    "stopping": "Emergency stops",
    "later": "Counted in production",
    "not to be shown": "Not to be shown",
}


def failing_blocks(material: Material) -> list[Block]:
    """What the plan itself does not hold: no run of the line makes up for it.

    Parameters
    ----------
    material : of the line, with its proof
    """
    found, units = not_held(material), material.evaluation.line.units
    rows: list[tuple[Cell, ...]] = [
        (Tag(one.verdict), f"{one.code}: {_place(one)}", _figures(one, units)) for one in found
    ]
    if isinstance(material.proof, str):
        rows.append((Tag("not checked"), f"traffic: {_unproven(material.proof)}", ""))
    fails = any(one.verdict == "fails" for one in found)
    told = "These checks fail in the plan; the run-off does not replace them."
    if not fails:
        told = "No check fails in the plan."
        told += " Of these it is not known; the run-off does not replace them." if rows else ""
    blocks: list[Block] = [Heading("What fails in the plan" if fails else "What was not checked in the plan")]
    blocks.append(Words(told, strong=True))
    if found:
        blocks.append(Words("What to do about each is told by the dossier, and by linewright check."))
    if rows:
        columns = (GridColumn("", share=0.0), GridColumn("check, and where", share=3.0), GridColumn("value and limit"))
        blocks.append(Grid(columns, tuple(rows)))
    return [*blocks, *_unchecked_words(material)]


def _unchecked_words(material: Material) -> list[Block]:
    """Why rows are not checked, and the codes of those that are not told in full above."""
    left = [one for one in _findings(material) if one.verdict == "not checked"]
    others = [one for one in left if one.subject not in _NEVER_LEFT_OUT]
    if not left and not isinstance(material.proof, str):
        return []
    told = "What is not checked, nobody could check: a figure or a limit is missing"
    if any(one.code == "run-longer" for one in left):
        told += ", or the run was too short (run-longer)"
    if isinstance(material.proof, str):
        told += "; of the traffic, the row says why"
    told += ". Who states what is missing is written on the next page."
    if others:
        told += f" Not checked besides: {_codes(others)}."
    return [Words(told)]


def _codes(found: Sequence[Finding]) -> str:
    """Codes in a row, each once, with how many rows it has: ``spares, run-longer (3)``."""
    count = Counter(one.code for one in found)
    return ", ".join(code if times == 1 else f"{code} ({number(times)})" for code, times in count.items())


def _figures(finding: Finding, units: str) -> str:
    """Value and limit; that a value has none, where that is why it was not judged."""
    words = figures(finding, units, with_margin=False)
    if finding.verdict == "not checked" and finding.value is not None and finding.limit is None:
        return f"{words}; what is allowed is missing"
    return words


def unchecked_codes(material: Material) -> list[str]:
    """What was not checked, each code once, with its place where it has one row alone; the proof among them.

    Parameters
    ----------
    material : of the line, with its proof
    """
    found: dict[str, list[Finding]] = {}
    for one in _findings(material):
        if one.verdict == "not checked":
            found.setdefault(one.code, []).append(one)
    told = [f"{code}: {rows[0].where if len(rows) == 1 else counted(len(rows), 'row')}" for code, rows in found.items()]
    return [*told, *(["proof of the traffic"] if isinstance(material.proof, str) else [])]


def not_held(material: Material) -> list[Finding]:
    """What fails in the plan, and what of strength, power, safety and traffic was not checked.

    Parameters
    ----------
    material : of the line, with its proof
    """
    return [
        one
        for one in _findings(material)
        if one.verdict == "fails" or (one.verdict == "not checked" and one.subject in _NEVER_LEFT_OUT)
    ]


def _findings(material: Material) -> tuple[Finding, ...]:
    """Of the evaluation and of the proof, the worst first."""
    proof = material.proof
    return worst_first((*material.evaluation.findings, *(() if isinstance(proof, str) else proof.findings)))


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


def front_blocks(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """What the form is, what chance each side takes, and how long it all lasts.

    Parameters
    ----------
    plan : of the run-off
    rows : number of each row in the form
    """
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
        Facts(tuple((PHASES_TOLD[phase.phase], f"{hours_told(phase.hours)}: {phase.told}") for phase in plan.phases)),
        Words(f"All in all about {hours_told(plan.total_hours)} of work on the line, one after another.", strong=True),
        *_later_words(plan, rows),
    ]


def _riskier(plan: RunOff, rows: dict[RunOffTest, int]) -> str:
    """The rows of which the agreed length does not keep the builder's risk."""
    above = [
        rows[test] for test in plan.tests if test.planned_for and (chance_told(plan, test) or 0.0) > plan.builder_risk
    ]
    if not above:
        return ""
    return f"; {rows_told(above)} {'bears' if len(above) == 1 else 'bear'} more, as the form says"


def _rate_words(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    """Which row shows the required rate, and what a row that passes below it does not show."""
    rates, days = plan.of("rate"), plan.of("rate-in-a-day")
    if not rates:
        return []
    rate = rates[0]
    assert rate.limit is not None  # every row of the rate has one
    required = f"The required rate, {number(rate.limit)} good parts an hour,"
    count = f"at least {number(rate.count or 0)} good parts in {hours_told(rate.hours or 0.0)}"
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
            f"hour counted over {hours_told(day.hours or 0.0)}, and that shows {number(day.limit or 0.0)} an hour, "
            "since luck alone may add the rest. A line that passes it may yet miss the required rate."
        )
    return [Heading("The required rate", 2), Caution(told)]


def _together(plan: RunOff, rows: dict[RunOffTest, int]) -> str:
    """How many rows luck decides, which these are, and about the sum of their chances."""
    by_luck = [
        test
        for test in plan.tests
        if test.planned_for and (test.passed_at_limit is not None or test.refused_if_planned is not None)
    ]
    if not by_luck:
        return "No row is decided by luck."
    known = [test for test in by_luck if test.refused_if_planned is not None]
    words = "row is" if len(by_luck) == 1 else "rows are"
    told = f"{number(len(by_luck))} {words} decided by luck as well ({ranges([rows[test] for test in by_luck])})."
    if known:
        told += (
            f" Of {number(len(known))} of them ({ranges([rows[test] for test in known])}) it is known how a line as "
            f"planned fares: it fails at least one of these with {percent(_somewhere(plan, known), 0)} at most, the "
            "sum of their chances rounded up."
        )
    others = len(by_luck) - len(known)
    return told + (f" Of {number(others)} it is not known." if others else "")


def _somewhere(plan: RunOff, known: Sequence[RunOffTest]) -> float:
    """The sum of the chances of a refusal as planned in whole tens of per cent, so that no single one can be found from
    it; at most the sum of the bounds that the form tells."""
    bounds = math.fsum(chance_told(plan, test) or 0.0 for test in known)
    return min(1.0, bounds, math.ceil(plan.refused_somewhere * 10.0 - 1e-9) / 10.0)


def _later_words(plan: RunOff, rows: dict[RunOffTest, int]) -> list[Block]:
    later = [rows[test] for test in plan.tests if test.phase == "later"]
    if not later:
        return []
    told = rows_told(later)
    return [
        Words(
            f"{told[:1].upper()}{told[1:]} {'takes' if len(later) == 1 else 'take'} longer than "
            f"{hours_told(plan.most_hours)}, which no run-off lasts: counted in production from the day of handing "
            "over, with the pass line that is printed in the form."
        )
    ]


def open_blocks(plan: RunOff) -> list[Block]:
    """What the run-off cannot show, and what has no row.

    Parameters
    ----------
    plan : of the run-off
    """
    blocks: list[Block] = []
    open_tests = [test for test in plan.tests if not test.planned_for]
    if open_tests:
        columns = (
            GridColumn("", share=0.0), GridColumn("what", share=2.0), GridColumn("where", share=1.5),
            GridColumn("why", share=3.5), GridColumn("what it would take", share=1.3),
        )  # fmt: skip
        cells = [
            (
                Tag("fails") if test.falls_short else "not testable",
                test.what,
                test.where,
                sentences(test.why),
                test.how_long,
            )
            for test in open_tests
        ]
        blocks += [
            Heading("Not to be shown by any run-off of reasonable length", 2),
            Words("These stand in no row of the form. Agree on them before anybody signs.", strong=True),
            Words("Not testable is said of the run-off alone: whether the plan holds them, its checks tell."),
            Grid(columns, tuple(cells)),
        ]
    if plan.not_planned:
        untested = [(one.what, one.why) for one in plan.not_planned]
        blocks += [Heading("Not tested", 2), grid(["what", GridColumn("why", share=2.0)], untested)]
    return blocks
