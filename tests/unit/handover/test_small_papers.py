"""Change report, upkeep with its calendar, hazard list: what they hold, and what another program reads out of them."""

from __future__ import annotations

import csv
import functools
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any, Final, cast

import icalendar
import pypdf
import pytest

from linewright.checks.safety.hazards import CAUTION, HEADINGS
from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.handover.document.blocks import Facts, Grid, Kept, Words
from linewright.handover.papers import changes, hazards, upkeep
from linewright.handover.papers.calendar import YEARS, Repeat, due_after, repeat_of, tasks_of, times_within
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.line.load import load_line, read_line
from linewright.planning.money.parts_list import PartsList
from linewright.planning.promises import compare_promises
from linewright.quantities import KEEP, number

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
FIVE: Final = (EXAMPLES / "charts" / "five.yaml").read_text(encoding="utf-8")
FIRST_DAY: Final = date(2027, 1, 31)
UPKEEP: Final = f"\nupkeep: {{service_level: 98 %, lead_time: 2 months, first_day: {FIRST_DAY}}}\n"

Files = Mapping[str, Any]


def material_of(evaluation: Evaluation, before: Evaluation | None = None, for_customer: bool = False) -> Material:
    parts = PartsList((), None, 0.0, ())
    return Material(evaluation, None, (), "none", "none", parts, "none", "none", before, for_customer)


@functools.cache
def five(*edits: tuple[str, str]) -> Evaluation:
    text = FIVE
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return evaluate(read_line(text + UPKEEP, "five.yaml"), hours=0.6, runs=2, workers=1)


HEAVY: Final = (
    ("part: {mass: 2.1 lb", "part: {mass: 16.5 lb"),
    ("good_parts_per_year: 2600000", "good_parts_per_year: 3260000"),
    ("fuse: 50 A}\n  back", "fuse: 25 A}\n  back"),
)


SLOWER: Final = ("    time: 1.7 s", "    time: 2.4 s")
"""The press: the rate falls."""


def bytes_of(files: Files, name: str) -> bytes:
    content = files[name]
    return content() if callable(content) else cast("bytes", content)


def rows_of(files: Files, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(bytes_of(files, name).decode("utf-8"), newline="")))


def text_of(data: bytes, page: int | None = None) -> str:
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    some = pages if page is None else [pages[page]]
    return re.sub(r"\s+", " ", " ".join(one.extract_text() for one in some))


def words_of(files: Files, name: str) -> str:
    page = re.sub(r"<style>.*?</style>", "", bytes_of(files, name).decode("utf-8"), flags=re.DOTALL)
    plain = re.sub(r"<[^>]*>", " ", page)
    return re.sub(r"\s+", " ", plain.replace("&nbsp;", " ").replace("\u00a0", " ").replace("&#x27;", "'"))


# The calendar ---------------------------------------------------------------------------------------------------------


def calendar() -> bytes:
    return bytes_of(upkeep.files_of(material_of(five())), "upkeep.ics")


def test_lines_of_the_calendar_are_folded_and_ended_as_the_standard_asks() -> None:
    data = calendar()
    lines = data.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in b"".join(lines)
    assert all(len(line) <= 75 for line in lines)
    assert any(line.startswith(b" ") for line in lines)
    assert (lines[0], lines[-2]) == (b"BEGIN:VCALENDAR", b"END:VCALENDAR")
    assert b"VERSION:2.0" in lines
    assert sum(line.startswith(b"PRODID:") for line in lines) == 1


def test_every_task_is_one_event_with_its_rule_and_its_words() -> None:
    tasks = {task.title: task for task in tasks_of(five()) if task.times}
    events = icalendar.Calendar.from_ical(calendar()).walk("VEVENT")
    assert len(events) == len(tasks) > 2
    for event in events:
        task = tasks[str(event["SUMMARY"]).removeprefix("Garden-hose coupling, five stations: ")]
        assert event["DTSTART"].dt == task.first
        assert event["DTEND"].dt == task.first + timedelta(days=1)
        assert event["DTSTAMP"].dt == datetime(2027, 1, 31, tzinfo=UTC)
        rule = event["RRULE"]
        assert rule["FREQ"] == [task.repeat.frequency]
        assert (rule["INTERVAL"], rule["COUNT"]) == ([task.repeat.interval], [task.times])
        words = str(event["DESCRIPTION"])
        assert "Switch off and lock out first" in words
        assert "wait 6 s at least" in words  # discharge of the sheet's supply
        assert (
            "stated for no voltage; above the trip measure before you touch" in words
        )  # braking lifts this line above
        assert task.after.replace("\u00a0", " ") in words
        if task.units is not None:
            assert f"The line has {task.units} of it" in words
            assert f"planned with {task.stock}" in words


def test_a_second_program_reads_the_same_dates_and_rules() -> None:
    vobject, rrule = import_module("vobject"), import_module("dateutil.rrule")
    data = calendar()
    first = {str(one["UID"]): one for one in icalendar.Calendar.from_ical(data).walk("VEVENT")}
    second = vobject.readOne(data.decode("utf-8")).vevent_list
    tasks = {task.first: task for task in tasks_of(five())}
    assert len(second) == len(first)
    for event in second:
        twin = first[event.uid.value]
        assert event.summary.value == str(twin["SUMMARY"])
        assert event.description.value == str(twin["DESCRIPTION"])
        assert event.dtstart.value == twin["DTSTART"].dt
        rule = event.rrule.value
        assert dict(part.split("=") for part in rule.split(";")) == {
            key: str(value[0]) for key, value in twin["RRULE"].items()
        }
        task = tasks[event.dtstart.value]
        start = datetime.combine(event.dtstart.value, datetime.min.time())
        days = [day.date() for day in rrule.rrulestr(rule, dtstart=start)]
        assert days == [due_after(FIRST_DAY, task.repeat, n) for n in range(1, task.times + 1)]
        assert days[-1] <= FIRST_DAY.replace(year=FIRST_DAY.year + YEARS)
        for n, day in enumerate(days, 1):  # never later than due, by a day of rounding of months at most
            assert day <= FIRST_DAY + timedelta(days=7.0 * task.weeks * n + 1.0)


def test_the_calendar_knows_no_clock_and_no_luck() -> None:
    assert calendar() == calendar()
    names = [str(one["UID"]) for one in icalendar.Calendar.from_ical(calendar()).walk("VEVENT")]
    assert len(set(names)) == len(names)
    other = upkeep.files_of(material_of(evaluate_without_run(read_line(FIVE.replace("2.1 lb", "3 lb") + UPKEEP))))
    events = icalendar.Calendar.from_ical(bytes_of(other, "upkeep.ics")).walk("VEVENT")
    assert len(events) > 2
    assert not set(names) & {str(one["UID"]) for one in events}


@pytest.mark.parametrize(
    ("weeks", "reason", "wanted"),
    [
        (28.14, "travel", Repeat("WEEKLY", 28)),
        (28.999999999999, "travel", Repeat("WEEKLY", 29)),
        (60 * 365.25 / 7 / 12, "calendar", Repeat("MONTHLY", 60)),
        (60 * 365.25 / 7 / 12, "travel", Repeat("WEEKLY", 260)),
        (1.4 * 365.25 / 7 / 12, "calendar", Repeat("WEEKLY", 6)),
        (0.5, "cycles", Repeat("DAILY", 3)),
        (0.05, "cycles", Repeat("DAILY", 1)),
    ],
)
def test_intervals_are_cut_to_whole_ones_that_are_not_late(weeks: float, reason: str, wanted: Repeat) -> None:
    assert repeat_of(weeks, reason) == wanted


@pytest.mark.parametrize(("repeat", "times"), [
    (Repeat("MONTHLY", 14), 8), (Repeat("MONTHLY", 120), 1), (Repeat("MONTHLY", 121), 0),
    (Repeat("WEEKLY", 521), 1), (Repeat("WEEKLY", 522), 0), (Repeat("DAILY", 1), 3652),
])  # fmt: skip
def test_the_calendar_ends_after_ten_years(repeat: Repeat, times: int) -> None:
    assert times_within(repeat) == times
    end = FIRST_DAY.replace(year=FIRST_DAY.year + YEARS)
    assert times == 0 or due_after(FIRST_DAY, repeat, times) <= end
    assert due_after(FIRST_DAY, repeat, times + 1) >= end - timedelta(days=2)


def test_what_is_due_more_often_than_daily_says_so() -> None:
    evaluation = five()
    assert evaluation.limits is not None
    task = replace(tasks_of(evaluation)[0], weeks=0.05, repeat=repeat_of(0.05, "travel"))
    from linewright.handover.papers.calendar import description_of

    assert "IT IS DUE MORE OFTEN THAN DAILY: every 8.4 h." in description_of(evaluation, task)
    assert not any("MORE OFTEN" in words for words in description_of(evaluation, tasks_of(evaluation)[0]))


# Upkeep ---------------------------------------------------------------------------------------------------------------


def test_without_a_first_day_the_paper_says_which_key_to_add() -> None:
    files = upkeep.files_of(material_of(evaluate_without_run(read_line(FIVE))))
    assert "upkeep.ics" not in files
    told = text_of(bytes_of(files, "upkeep.pdf"))
    assert "upkeep: {first_day: 2027-02-01}" in told
    assert "Spares are not planned: state upkeep: {service_level: 98 %, lead_time: 2 months}" in told
    assert all(not row["first_due"] for row in rows_of(files, "upkeep.csv"))


def test_the_upkeep_paper_holds_every_row_of_its_tables() -> None:
    evaluation = five()
    assert evaluation.limits is not None
    result, files = evaluation.limits.upkeep, upkeep.files_of(material_of(evaluation))
    told = words_of(files, "upkeep.html")
    for task in tasks_of(evaluation):
        assert task.first is not None
        assert f"{task.title} " in told
        assert task.first.isoformat() in told
    rows = {row["what"]: row for row in rows_of(files, "upkeep.csv")}
    assert set(rows) == {*result.calendar["what"].tolist(), *result.wear["part"].tolist()}
    for spare in result.spares.rows():
        assert rows[spare["part"]]["spares_on_shelf"] == str(spare["stock"])
        assert float(rows[spare["part"]]["service_level"]) == spare["service_level"]
    for task_row in result.calendar.rows():
        assert float(rows[task_row["what"]]["interval_weeks"]) == task_row["interval_weeks"]
    assert rows["section-board"]["reason"] == "random"
    assert rows["section-board"]["first_due"] == ""
    for row in result.failures.rows():
        assert row["station"] in told
    for task in tasks_of(evaluation):
        if task.repeat.frequency == "WEEKLY" and task.weeks != task.repeat.interval:
            assert f"about {task.repeat.interval} weeks" in told
    assert not re.search(r"\d\.\d+ weeks", told.split("What holds")[0])
    assert "1 429 miles" in told  # 2300 km, in the line's units
    assert " km " not in told.split("What holds")[0].split("What does not hold")[0]


def test_where_nothing_is_known_of_upkeep_the_paper_says_what_to_state() -> None:
    ring = evaluate_without_run(load_line(EXAMPLES / "ways" / "ring.yaml"))
    files = upkeep.files_of(material_of(ring))
    told = words_of(files, "upkeep.html")
    assert "NOT CHECKED" in told
    assert "the line file states no demand" in told
    with pytest.raises(NothingToWrite, match="accelerated"):
        upkeep.files_of(material_of(replace(ring, limits=None)))
    with pytest.raises(NothingToWrite, match="accelerated"):
        hazards.files_of(material_of(replace(ring, limits=None)))


def test_the_customer_is_told_no_figures_of_upkeep_rows_that_hold() -> None:
    told = words_of(upkeep.files_of(material_of(five(), for_customer=True)), "upkeep.html")
    assert "What holds, with its sources" not in told
    assert "What is due" in told


# Hazards --------------------------------------------------------------------------------------------------------------


def test_the_hazard_list_holds_every_hazard_under_every_heading_with_blanks() -> None:
    evaluation = five()
    assert evaluation.limits is not None
    table, files = evaluation.limits.safety.hazards.rows(), hazards.files_of(material_of(evaluation))
    rows = rows_of(files, "hazards.csv")
    assert [{key: row[key] for key in table[0]} for row in rows] == table
    assert {row["heading"] for row in rows} == set(HEADINGS)
    assert all(row[blank] == "" for row in rows for blank in hazards.BLANKS)
    told = text_of(bytes_of(files, "hazards.pdf"))
    assert CAUTION in told
    for row in table:
        assert row["hazard"] in told, row
    for heading in ("risk estimated, by", "measure decided", "verified by", "date", "signature"):
        assert heading in told


def test_the_hazard_paper_tells_every_finding_of_safety_once() -> None:
    evaluation = five()
    told = words_of(hazards.files_of(material_of(evaluation)), "hazards.html")
    safety = [row for row in evaluation.findings if row.subject == "safety"]
    assert len(safety) > 5
    for row in safety:
        shown = re.sub(r"\s+", " ", f"{row.code}: {row.where}".replace("\u00a0", " "))
        assert told.count(shown) == 1, shown


# Changes --------------------------------------------------------------------------------------------------------------


def test_without_the_line_as_it_was_there_is_no_change_report() -> None:
    with pytest.raises(NothingToWrite, match="--against LINE"):
        changes.files_of(material_of(five()))


def test_page_one_says_what_was_changed_and_what_fails_of_it() -> None:
    before, after = five(), five(*HEAVY)
    told = text_of(bytes_of(changes.files_of(material_of(after, before)), "changes.pdf"), 0)
    for words in ("part.mass", "2.1 lb", "16.5 lb", "demand.good_parts_per_year", "feeders.front.fuse"):
        assert words in told
    was, now = (sum(row.verdict == "fails" for row in one.findings) for one in (before, after))
    assert f"No row fails that did not fail before; {now} fail as before." in told
    assert now == was - 1
    unchecked = sum(row.verdict == "not checked" for row in after.findings)
    assert unchecked > 0
    assert f" {unchecked} rows are NOT CHECKED now." in told
    assert "The proof of the traffic is not compared here: see the dossier's chapter Traffic." in told
    assert "fuse-cable" in told.split("Better than before")[1]
    assert "transfer-cycle" in told.split("Better than before")[0].split("Worse than before")[1]


def test_a_row_that_fails_now_stands_in_the_first_sentence() -> None:
    before, after = five(*HEAVY), five()
    told = words_of(changes.files_of(material_of(after, before)), "changes.html")
    fails = sum(row.verdict == "fails" for row in after.findings)
    assert f"1 row fails that did not fail before; {fails - 1} fail as before." in told


def test_the_lines_to_sign_on_stand_on_one_page_with_what_is_signed() -> None:
    before, after = five(), five(*HEAVY)
    files = changes.files_of(material_of(after, before))
    told = text_of(bytes_of(files, "changes.pdf"))
    signed = told[told.index("Promises of the whole line") : told.index("What else moved")]
    for one in (before, after):
        assert one.line.input_hash in signed
    fails = sum(row.verdict == "fails" for row in after.findings)
    assert f"know what fails ({fails})" in signed
    assert signed.index("Signed: both have read this report") < signed.index("signature")
    compared = compare_promises(before, after)
    document = changes._document(material_of(after, before), before, compared)
    kept = document.parts[0].blocks[-1]
    assert isinstance(kept, Kept)
    assert [type(one) for one in kept.blocks[-3:]] == [Facts, Words, Grid]


def test_the_same_line_has_a_report_that_says_nothing_moved() -> None:
    told = words_of(changes.files_of(material_of(five(), five())), "changes.html")
    assert "Nothing was changed, and no promise moved." in told
    run = five().run
    assert run is not None
    assert run.rate is not None
    same = "The simulated rate is the same in every run, run by run under the same luck: good parts "
    assert f"{same}{number(run.rate.mean, 1)} per hour (".replace(KEEP, " ") in told
    assert "Worse than before" not in told


def test_the_table_of_changes_holds_every_finding_that_moved() -> None:
    before, after = five(), five(*HEAVY)
    rows = rows_of(changes.files_of(material_of(after, before)), "changes.csv")
    moved = compare_promises(before, after).findings
    found = [row for row in rows if row["part"] not in ("file", "line")]
    assert [(row["what"], row["became"]) for row in found] == [(one.row.code, one.became) for one in moved]
    for row, one in zip(found, moved, strict=True):
        assert one.before is not None
        assert one.after is not None
        assert row["value_before"] == ("" if one.before.value is None else str(one.before.value))
        assert row["limit_after"] == ("" if one.after.limit is None else str(one.after.limit))
        assert (row["verdict_before"], row["verdict_after"]) == (one.before.verdict, one.after.verdict)


def test_the_customer_reads_verdicts_and_limits_but_no_prices_values_or_margins() -> None:
    priced = "\nbaseline: {prices: {pallet: 77777}}\n"
    before, heavy = five(), five(*HEAVY)
    assert heavy.line.document is not None
    after = replace(heavy, line=read_line(heavy.line.document.text + priced, "five.yaml"))
    whole = words_of(changes.files_of(material_of(after, before)), "changes.html")
    files = changes.files_of(material_of(after, before, for_customer=True))
    told, table = words_of(files, "changes.html"), bytes_of(files, "changes.csv").decode()
    assert "77777" in whole
    assert "margin" in whole
    assert "payload" in whole
    for text in (told, table):
        assert "77777" not in text
        assert "baseline" not in text
        assert "payload" not in text  # it held and holds: its value alone moved
    assert "Changes of prices are left out." in told
    assert "margin" not in told
    assert "transfer-cycle" in told
    assert "27.59 A" in whole
    assert "27.59 A" not in told  # of the fuse that fails no more: what it leaves is the builder's
    for row in rows_of(files, "changes.csv"):
        for side in ("before", "after"):
            if row[f"verdict_{side}"] == "holds":
                assert row[f"value_{side}"] == row[f"margin_{side}"] == ""


def test_the_customer_reads_a_rate_that_holds_and_one_figure_is_told_alike_everywhere() -> None:
    before, slower = five(), five(SLOWER, ("good_parts_per_year: 2600000", "good_parts_per_year: 2700000"))
    findings = (replace(one, verdict="holds") if one.code == "rate" else one for one in slower.findings)
    after = replace(slower, findings=tuple(findings))
    files = changes.files_of(material_of(after, before, for_customer=True))
    told = words_of(files, "changes.html")
    assert after.run is not None
    assert after.run.rate is not None
    assert f"{number(after.run.rate.mean, 1)} per hour (".replace(KEEP, " ") in told
    assert after.takt is not None
    assert f"{number(after.takt.required_rate_per_h, 1)} per hour".replace(KEEP, " ") in told
    assert any(row["what"] == "simulated rate" and row["value_after"] for row in rows_of(files, "changes.csv"))
    whole = words_of(changes.files_of(material_of(after, before)), "changes.html")
    for text in (told, whole):
        assert not re.search(r"\d per hour", re.sub(r"\.\d per hour", "", text)), "each to a tenth"
        assert "`" not in text


def test_the_rate_is_told_with_its_interval_or_why_not() -> None:
    before, after = five(), five(("    time: 1.7 s", "    time: 6 s"))
    told = words_of(changes.files_of(material_of(after, before)), "changes.html")
    rate = compare_promises(before, after).rate
    assert rate.difference is not None
    assert f"The simulated rate falls by {-rate.difference.mean:.1f} good parts an hour" in told
    assert "run by run under the same luck" in told
    alone = evaluate_without_run(after.line)
    told = words_of(changes.files_of(material_of(alone, before)), "changes.html")
    assert "cannot be told: the line as it is was not simulated" in told


@pytest.mark.parametrize("paper", [changes.files_of, upkeep.files_of, hazards.files_of])
def test_papers_of_the_same_line_are_the_same_bytes(paper: Callable[[Material], Files]) -> None:
    material = material_of(five(*HEAVY), five())
    one, two = ({name: bytes_of(files, name) for name in files} for files in (paper(material), paper(material)))
    assert one == two
    assert len(one) >= 3
