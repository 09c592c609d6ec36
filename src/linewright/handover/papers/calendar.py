"""The upkeep calendar: what is due when, and the same as a file for calendar programs (iCalendar, RFC 5545)."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Final, Literal

from linewright.checks.safety.line_rows import FOR_NO_VOLTAGE, trips_below
from linewright.checks.upkeep.formulas import DAYS_PER_YEAR, MONTHS_PER_YEAR, WEEKS_PER_YEAR
from linewright.evaluation import Evaluation
from linewright.quantities import KEEP, number, quantity

if TYPE_CHECKING:
    import icalendar

Frequency = Literal["DAILY", "WEEKLY", "MONTHLY"]

YEARS: Final = 10
"""So far ahead the calendar goes: a reminder without an end outlives its line."""
LAST_COMMON_DAY: Final = 28
"""Every month has it: a date after it would be left out of the shorter months."""
_DAYS: Final[dict[Frequency, float]] = {
    "DAILY": 1.0,
    "WEEKLY": 7.0,
    "MONTHLY": DAYS_PER_YEAR / MONTHS_PER_YEAR,
}
_WORDS: Final[dict[Frequency, tuple[str, str]]] = {
    "DAILY": ("day", "days"),
    "WEEKLY": ("week", "weeks"),
    "MONTHLY": ("month", "months"),
}


@dataclass(frozen=True)
class Repeat:
    """How often a task comes back: every so many days, weeks or months."""

    frequency: Frequency
    interval: int

    @property
    def words(self) -> str:
        """``every 28 weeks``."""
        return f"every {_WORDS[self.frequency][0]}" if self.interval == 1 else f"every {self.span}"

    @property
    def span(self) -> str:
        """``28 weeks``."""
        one, many = _WORDS[self.frequency]
        return f"{self.interval}{KEEP}{one if self.interval == 1 else many}"


@dataclass(frozen=True)
class Task:
    """One row of the upkeep calendar.

    Parameters
    ----------
    what : ``relubrication``, or a wear part by its name in the sheet
    per : what it is on: carrier, transfer, section or line
    weeks : from one time to the next, exactly. [weeks]
    reason : travel, cycles or calendar
    after : the figure of the sheet that it follows from, in words
    repeat : the same in whole days, weeks or months, never later than due
    first : first day on which it is due; None without a first day of production
    times : how often it is due within the years of the calendar
    units : of the wear part in the line; None of what is greased
    stock : spares on the shelf; None where none are planned
    """

    what: str
    per: str
    weeks: float
    reason: str
    after: str
    repeat: Repeat
    first: date | None
    times: int
    units: int | None
    stock: int | None

    @property
    def title(self) -> str:
        """What is to be done."""
        return "grease the guides of the carriers" if self.what == "relubrication" else f"change {self.what}"


def tasks_of(evaluation: Evaluation) -> tuple[Task, ...]:
    """The tasks of a line, the most frequent first; none where nothing is known of its upkeep."""
    if evaluation.limits is None:
        return ()
    line, result = evaluation.line, evaluation.limits.upkeep
    day = None if line.upkeep is None else line.upkeep.first_day
    units = {row["part"]: row["units"] for row in result.wear.rows()}
    stocks = {row["part"]: row["stock"] for row in result.spares.rows()}
    found = []
    for row in result.calendar.rows():
        what, weeks = row["what"], row["interval_weeks"]
        repeat = repeat_of(weeks, row["reason"])
        first = None if day is None else due_after(day, repeat, 1)
        after = _after(evaluation, what, row["reason"])
        times = times_within(repeat)
        found.append(
            Task(what, row["per"], weeks, row["reason"], after, repeat, first, times, units.get(what), stocks.get(what))
        )
    return tuple(found)


def _after(evaluation: Evaluation, what: str, reason: str) -> str:
    """The sheet's figure from which an interval follows, in words."""
    units, sheet = evaluation.line.units, evaluation.line.conveyor.upkeep
    assert sheet is not None  # without it there is no row
    if what == "relubrication":
        if reason == "travel":
            return quantity(sheet.relubrication_travel_m, "m", units)
        return f"{number(sheet.relubrication_months)}{KEEP}months"
    part = next(one for one in sheet.wear_parts if one.name == what)
    if part.travel_m is not None:
        return quantity(part.travel_m, "m", units)
    if part.cycles is not None:
        return f"{number(part.cycles)}{KEEP}cycles"
    assert part.months is not None  # what fails at random has no row
    return f"{number(part.months)}{KEEP}months"


def repeat_of(weeks: float, reason: str) -> Repeat:
    """An interval in whole days, weeks or months, the longest that is not later than due.

    Parameters
    ----------
    weeks : from one time to the next. [weeks], > 0
    reason : ``calendar`` where the interval was stated in months

    Notes      Under one day it is every day: `Task.weeks` tells that it is due more often.

    Examples
    --------
    >>> [repeat_of(weeks, "travel").words.replace(KEEP, " ") for weeks in (28.1, 0.9)]
    ['every 28 weeks', 'every 6 days']
    >>> repeat_of(60 * WEEKS_PER_YEAR / 12, "calendar")
    Repeat(frequency='MONTHLY', interval=60)
    """
    months = weeks / WEEKS_PER_YEAR * MONTHS_PER_YEAR
    if reason == "calendar" and round(months) >= 1 and abs(months - round(months)) < 1e-6 * months:
        return Repeat("MONTHLY", round(months))
    # A hair under a whole number is that number: 28 weeks may come out of the sums as 27.999999999.
    if weeks * (1.0 + 1e-9) >= 1.0:
        return Repeat("WEEKLY", math.floor(weeks * (1.0 + 1e-9)))
    return Repeat("DAILY", max(1, math.floor(7.0 * weeks * (1.0 + 1e-9))))


def about(weeks: float, repeat: Repeat) -> str:
    """An interval as one tells it: in the whole days, weeks or months of the calendar, which never say more than is so.

    Parameters
    ----------
    weeks : from one time to the next, exactly. [weeks], > 0
    repeat : of `repeat_of`

    Examples
    --------
    >>> [about(weeks, repeat_of(weeks, "travel")).replace(KEEP, " ") for weeks in (29.18, 28.0, 0.9)]
    ['about 29 weeks', '28 weeks', 'about 6 days']
    """
    days = 7.0 * weeks
    if days < 1.0:
        return f"{number(24.0 * days)}{KEEP}h"
    whole = repeat.frequency == "MONTHLY" or abs(days - _DAYS[repeat.frequency] * repeat.interval) <= 1e-6 * days
    return repeat.span if whole else f"about {repeat.span}"


def due_after(day: date, repeat: Repeat, times: int) -> date:
    """The day on which a task is due for the n-th time after a day.

    Notes      Months count from day to day of the month, from the 28th where the day is later.

    Examples
    --------
    >>> due_after(date(2027, 1, 31), Repeat("MONTHLY", 13), 1), due_after(date(2027, 2, 1), Repeat("WEEKLY", 2), 3)
    (datetime.date(2028, 2, 28), datetime.date(2027, 3, 15))
    """
    if repeat.frequency == "MONTHLY":
        months = day.month - 1 + repeat.interval * times
        return date(day.year + months // 12, months % 12 + 1, min(day.day, LAST_COMMON_DAY))
    return day + timedelta(days=_DAYS[repeat.frequency] * repeat.interval * times)


def times_within(repeat: Repeat) -> int:
    """How often a task is due within the years of the calendar.

    Examples
    --------
    >>> times_within(Repeat("MONTHLY", 60)), times_within(Repeat("WEEKLY", 28)), times_within(Repeat("MONTHLY", 121))
    (2, 18, 0)
    """
    if repeat.frequency == "MONTHLY":
        return int(YEARS * MONTHS_PER_YEAR) // repeat.interval
    return math.floor(YEARS * DAYS_PER_YEAR / (_DAYS[repeat.frequency] * repeat.interval))


def calendar_bytes(evaluation: Evaluation) -> bytes:
    """The tasks as iCalendar: an all-day event each, repeated up to ten years after the first day of production.

    Parameters
    ----------
    evaluation : of a line with ``upkeep: {first_day: ...}``

    Raises
    ------
    ValueError   The line states no first day.

    Notes      Names and times follow from the line alone, so that the same line gives the same bytes. A task whose
               first time lies beyond the years of the calendar has no event.
    Source     RFC 5545.
    """
    import icalendar

    line = evaluation.line
    day = None if line.upkeep is None else line.upkeep.first_day
    if day is None:
        raise ValueError("the line states no first day of production")
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//Linewright//Upkeep calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", f"Upkeep: {line.name}")
    for task in tasks_of(evaluation):
        if task.first is not None and task.times > 0:
            calendar.add_component(_event(evaluation, task, task.first, day))
    return bytes(calendar.to_ical())


def _event(evaluation: Evaluation, task: Task, first: date, day: date) -> icalendar.Event:
    import icalendar

    line = evaluation.line
    event = icalendar.Event()
    name = hashlib.sha256(f"{line.input_hash} {task.what} {task.per}".encode()).hexdigest()[:32]
    event.add("uid", f"{name}@linewright.invalid")
    event.add("dtstamp", datetime.combine(day, time(), UTC))
    event.add("dtstart", first)
    event.add("dtend", first + timedelta(days=1))
    event.add("rrule", {"freq": task.repeat.frequency, "interval": task.repeat.interval, "count": task.times})
    event.add("summary", f"{line.name}: {task.title}".replace(KEEP, " "))
    event.add("description", "\n".join(description_of(evaluation, task)).replace(KEEP, " "))
    event.add("transp", "TRANSPARENT")
    event.add("categories", ["upkeep"])
    return event


def description_of(evaluation: Evaluation, task: Task) -> tuple[str, ...]:
    """What an event says of its task: a sentence a line."""
    due = f"Due every {task.after}, by the calendar"
    if task.reason != "calendar":
        span = about(task.weeks, task.repeat)
        due = f"Due after {task.after}, reckoned as {span} of the one that is used most (by {task.reason})"
    told = [f"{due}; here {task.repeat.words}, up to {YEARS} years after the first day of production."]
    if task.repeat.frequency == "DAILY" and 7.0 * task.weeks < 1.0:
        told.append(f"IT IS DUE MORE OFTEN THAN DAILY: every {number(24.0 * 7.0 * task.weeks)} h.")
    told.append(f"CAUTION: {lock_out(evaluation)}")
    if task.units is not None:
        told.append(spares_sentence(evaluation, task))
    told.append("An aid to planning: the maker's manual and local codes rule.")
    return tuple(told)


def above_trip(evaluation: Evaluation) -> bool:
    """Whether braking lifts the feeders above the trip voltage, as far as it is reckoned."""
    limits = evaluation.limits
    return limits is not None and trips_below(evaluation.line, limits.power.highest_V)


def lock_out(evaluation: Evaluation) -> str:
    """What is done before hands go in, with the figures that the sheet states."""
    sheet = evaluation.line.conveyor
    gone = None if sheet.supply is None else sheet.supply.discharge_s
    wait = (
        "wait until the charge of the motor supply is gone (the sheet states no time for it: measure)"
        if gone is None
        else f"wait {quantity(gone, 's')} at least until the charge of the motor supply is gone, and measure"
    )
    if gone is not None and above_trip(evaluation):
        wait += f". {FOR_NO_VOLTAGE}"
    return (
        f"Switch off and lock out first; {wait}. Carriers have no brake and coast; their magnets pinch, and "
        "people with implants keep away."
    )


def spares_sentence(evaluation: Evaluation, task: Task) -> str:
    """How many a change needs, and how many lie on the shelf."""
    needs = f"The line has {number(float(task.units or 0))} of it; those that began new together are worn together"
    plan = evaluation.line.upkeep
    if task.stock is None or plan is None:
        return f"{needs}. How many lie on the shelf is not planned: state upkeep: service_level and lead_time."
    return (
        f"{needs}: order {number(plan.lead_time_months)} months ahead what the shelf, planned with "
        f"{number(float(task.stock))}, does not hold."
    )
