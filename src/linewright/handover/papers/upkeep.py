"""The upkeep paper: what is greased and changed, when, what lies on the shelf; and the calendar as a file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from linewright.checks.upkeep.formulas import WEEKS_PER_YEAR
from linewright.evaluation import Evaluation, Limits
from linewright.handover.document.blocks import Block, Caution, Cell, Document, Facts, Heading, Part, Words, grid
from linewright.handover.files import Content, rows_csv_bytes
from linewright.handover.papers.calendar import YEARS, Task, about, calendar_bytes, lock_out, tasks_of
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import AN_AID, document_of, finding_grid, pages_of
from linewright.quantities import KEEP, number, percent, quantity

HEADER: Final = (
    "what", "per", "interval_weeks", "reason", "after", "calendar_rule", "first_due", "in_line", "expected_per_year",
    "spares_on_shelf", "service_level", "lead_time_months",
)  # fmt: skip
_PLURAL: Final = {"carrier": "each carrier", "transfer": "each transfer", "section": "each section", "line": "the line"}
MEASURES: Final = {"running": "time in work", "clock": "clock", "cycles": "cycles"}
"""By what failures are counted -> its words."""


def files_of(material: Material) -> dict[str, Content]:
    """``upkeep.pdf``, ``.html``, ``.csv`` and, where the line states its first day, ``upkeep.ics``.

    Raises
    ------
    NothingToWrite   No carrier can move at all, so that nothing is worn.
    """
    evaluation = material.evaluation
    limits = evaluation.limits
    if limits is None:
        raise NothingToWrite("no carrier of this line can be accelerated: see the findings of linewright check")
    files: dict[str, Content] = {**pages_of("upkeep", lambda: _document(material, limits))}
    if _first_day(evaluation) is not None and tasks_of(evaluation):
        files["upkeep.ics"] = lambda: calendar_bytes(evaluation)
    files["upkeep.csv"] = lambda: _csv(evaluation, limits)
    return files


def _first_day(evaluation: Evaluation) -> str | None:
    plan = evaluation.line.upkeep
    return None if plan is None or plan.first_day is None else plan.first_day.isoformat()


def _document(material: Material, limits: Limits) -> Document:
    evaluation = material.evaluation
    tasks = tasks_of(evaluation)
    first: list[Block] = [
        Heading("Upkeep"),
        *_opening(evaluation, tasks),
        Caution(f"{lock_out(evaluation)} {AN_AID}"),
        Heading("What is due", 2),
        *_calendar(evaluation, tasks),
        Heading("What is worn, and spares on the shelf", 2),
        *_wear(evaluation, limits),
    ]
    rows = [row for row in limits.upkeep.findings if row.verdict != "holds"]
    second: list[Block] = [*_failures(limits), *_findings("What does not hold, or was not checked", rows, material)]
    if not material.for_customer:
        held = [row for row in limits.upkeep.findings if row.verdict == "holds"]
        second += _findings("What holds, with its sources", held, material)
    return document_of("Upkeep", material, [Part((*first, *second))])


def _opening(evaluation: Evaluation, tasks: tuple[Task, ...]) -> list[Block]:
    use = None if evaluation.limits is None else evaluation.limits.upkeep.use
    units, day = evaluation.line.units, _first_day(evaluation)
    facts = [("first day of production", day or "not stated")]
    if use is not None:
        how = "counted in a run" if use.basis == "run" else "reckoned from the demand"
        facts += [
            ("travel of a carrier", f"{quantity(use.travel_m, 'm', units)} a year, of the one used most, {how}"),
        ]
    found: list[Block] = [Facts(tuple(facts))]
    if not tasks:
        why = "Nothing can be put in a calendar: the rows at the end of this paper say what has to be stated first."
        found.append(Words(why, strong=True))
    elif day is None:
        found.append(
            Words(
                "No date can be told, and no calendar file (upkeep.ics) is written: the line file does not say when "
                "production begins. State it there as upkeep: {first_day: 2027-02-01}, with your own date.",
                strong=True,
            )
        )
    else:
        found.append(
            Words(
                f"upkeep.ics holds the same rows for a calendar program, {YEARS} years ahead from the first day of "
                "production; import it again after every change of the line, and delete the former one."
            )
        )
    return found


def _calendar(evaluation: Evaluation, tasks: tuple[Task, ...]) -> list[Block]:
    if not tasks:
        return [Words("No row.")]
    rows = [
        (
            task.title,
            _PLURAL[task.per],
            f"{_interval(task)}",
            f"{task.after} ({task.reason})",
            number(WEEKS_PER_YEAR / task.weeks),
            "" if task.first is None else _due(task),
        )
        for task in tasks
    ]
    headings = ["what", "of", "every", "follows from", ">a year", ">first due"]
    beyond = [task.title for task in tasks if task.times == 0]
    found: list[Block] = [
        grid(headings, rows),
        Words(
            "Intervals hold for the one that is used most, so that none is late; they are told in whole days, weeks or "
            "months, rounded down, as the calendar has them. What fails at random has no date; it is kept on the shelf."
        ),
    ]
    if beyond:
        found.append(Words(f"First due later than {YEARS} years, and so not in upkeep.ics: {', '.join(beyond)}."))
    return found


def _interval(task: Task) -> str:
    words = about(task.weeks, task.repeat)
    return f"{words}: MORE OFTEN THAN DAILY; in a calendar daily" if task.weeks * 7.0 < 1.0 else words


def _due(task: Task) -> str:
    assert task.first is not None
    return task.first.isoformat()


def _wear(evaluation: Evaluation, limits: Limits) -> list[Block]:
    result, plan = limits.upkeep, evaluation.line.upkeep
    if not len(result.wear):
        return [Words("No wear part whose use is known.")]
    stocks = {row["part"]: row for row in result.spares.rows()}
    rows: list[tuple[Cell, ...]] = []
    for row in result.wear.rows():
        spare = stocks.get(row["part"])
        rows.append(
            (
                row["part"],
                _PLURAL[row["per"]],
                number(row["units"]),
                _life(row["life_years"], row["reason"]),
                number(row["per_year"]),
                "not planned" if spare is None else number(spare["stock"]),
                "" if spare is None else percent(spare["service_level"], 2),
            )
        )
    headings = ["part", "on", ">in the line", "lasts", ">changed a year", ">on the shelf", ">none missing"]
    if plan is None:
        told = (
            "Spares are not planned: state upkeep: {service_level: 98 %, lead_time: 2 months} in the line file, with "
            "your own figures."
        )
    else:
        told = (
            f"On the shelf for {number(plan.lead_time_months)}{KEEP}months from order to delivery; wanted chance that "
            f"none is missing: {percent(plan.service_level)} for each part by itself."
        )
    campaign = (
        "Parts that all began new on one day are worn together: plan that change as a campaign, and order for it ahead."
    )
    return [grid(headings, rows), Words(f"{told} {campaign}")]


def _life(years: float, reason: str) -> str:
    if math.isinf(years):
        return "never worn"
    return f"{number(years)}{KEEP}years, {'one fails at random' if reason == 'random' else f'by {reason}'}"


def _failures(limits: Limits) -> list[Block]:
    rows = limits.upkeep.failures.rows()
    if not rows:
        return []
    cells = [
        (
            row["station"],
            MEASURES[row["measure"]],
            number(row["per_year"]),
            quantity(row["repair_s"], "s"),
            f"{number(row['repairs_s'] / 3600.0)}{KEEP}h",
        )
        for row in rows
    ]
    headings = ["station", "counted by", ">expected a year", ">one repair", ">all repairs a year"]
    return [Heading("Failures of stations, as the line file states them", 2), grid(headings, cells)]


def _findings(title: str, rows: Iterable[object], material: Material) -> list[Block]:
    found = [row for row in material.evaluation.findings if row in set(rows)]
    return [Heading(title, 2), finding_grid(found, material)] if found else []


def _csv(evaluation: Evaluation, limits: Limits) -> bytes:
    """Tasks and spares in one table: what has no date has spares, what needs no spares has dates."""
    tasks = {task.what: task for task in tasks_of(evaluation)}
    wear = {row["part"]: row for row in limits.upkeep.wear.rows()}
    spares = {row["part"]: row for row in limits.upkeep.spares.rows()}
    rows = []
    for name in [*tasks, *(part for part in wear if part not in tasks)]:
        task, worn, spare = tasks.get(name), wear.get(name), spares.get(name)
        rows.append(
            (
                name,
                task.per if task is not None else wear[name]["per"],
                None if task is None else task.weeks,
                task.reason if task is not None else wear[name]["reason"],
                None if task is None else task.after.replace(KEEP, " "),
                None if task is None else f"FREQ={task.repeat.frequency};INTERVAL={task.repeat.interval}",
                None if task is None or task.first is None else task.first.isoformat(),
                None if worn is None else worn["units"],
                None if worn is None else worn["per_year"],
                None if spare is None else spare["stock"],
                None if spare is None else spare["service_level"],
                None if spare is None else spare["lead_time_months"],
            )
        )
    return rows_csv_bytes(HEADER, rows)
