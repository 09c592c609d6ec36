"""What planted faults showed that nobody asked of the papers, or asked only of a simulated line; here without a run."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import openpyxl
import pytest

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.findings import Finding, Verdict
from linewright.flow.stop_sheet import PlaceStop, StopSheet
from linewright.flow.stopping import KEPT, Stopped
from linewright.handover.document.blocks import Block, Facts, Grid, Part, Tag, opened
from linewright.handover.dossier.answer import answer_part
from linewright.handover.dossier.places import places_part
from linewright.handover.drawing.drawing import drawing_of
from linewright.handover.drawing.shapes import Measure
from linewright.handover.files import CONTENTS, write_folder
from linewright.handover.papers import upkeep
from linewright.handover.papers.calendar import tasks_of
from linewright.handover.papers.material import Material
from linewright.handover.papers.recovery import recovery_document
from linewright.handover.papers.rows import finding_grid
from linewright.handover.wording import margin_in_words
from linewright.handover.workbook.workbook import files_of
from linewright.line.load import load_line
from linewright.planning.money.parts_list import parts_list
from linewright.planning.promises import compare_promises
from linewright.quantities import KEEP, number, quantity
from unit.handover.sheet_formulas import Sheets

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
VERDICTS: Final[tuple[Verdict, ...]] = ("fails", "not checked", "tight", "holds")
NO: Final = "not asked for"


@cache
def five() -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / "charts" / "five.yaml"))


@cache
def demo() -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / "demo" / "line.yaml"))


def material(evaluation: Evaluation, for_customer: bool = False, stops: Any = NO) -> Material:
    parts = parts_list(evaluation.line, evaluation.layout)
    return Material(evaluation, None, (), NO, stops, parts, NO, NO, None, for_customer)


def grids(parts: tuple[Part, ...]) -> list[Grid]:
    blocks: list[Block] = [block for part in parts for block in opened(part.blocks)]
    return [block for block in blocks if isinstance(block, Grid)]


# ---- what a reader is told -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("for_customer", [False, True])
def test_page_one_has_every_row_that_does_not_hold_also_without_a_run(for_customer: bool) -> None:
    rows = [row for one in grids(answer_part(material(five(), for_customer))) for row in one.rows]
    found = Counter((tag.verdict, str(what).split(":")[0]) for tag, what, *_ in rows if isinstance(tag, Tag))
    due = Counter((one.verdict, one.code) for one in five().findings if one.verdict != "holds")
    assert {verdict for verdict, _ in due} >= {"fails", "not checked"}
    assert found == due


def test_the_customers_grid_of_findings_has_no_margin_anywhere() -> None:
    rows = [one for one in five().findings if one.margin is not None]
    builder, customer = (finding_grid(rows, material(five(), of)) for of in (False, True))
    assert "margin" in {column.heading for column in builder.columns}
    assert "margin" not in {column.heading for column in customer.columns}
    for one, own, theirs in zip(rows, builder.rows, customer.rows, strict=True):
        assert one.margin is not None
        assert margin_in_words(one.margin) in own
        assert margin_in_words(one.margin) not in theirs
        assert theirs[-1] == one.source
        assert (theirs[2] == "") == (one.verdict == "holds" or one.value is None)


def test_each_station_has_its_own_force_on_its_page() -> None:
    pages = places_part(material(five()))
    assert len(pages) == len(five().line.stations)
    for station, page in zip(five().line.stations, pages, strict=True):
        facts = dict(row for block in page.blocks if isinstance(block, Facts) for row in block.rows)
        told = facts["force"]
        if not station.force:
            assert told == "none"
            continue
        (tool,) = station.force
        assert told.startswith(f"{quantity(tool.down_N, 'N', 'inch')} down")
        assert tool.greatest_N is not None
        assert f"greatest {quantity(tool.greatest_N, 'N', 'inch')}" in told


def test_the_upkeep_paper_tells_the_days_of_its_calendar() -> None:
    tasks = [one for one in tasks_of(demo()) if one.first is not None]
    assert len(tasks) > 2
    (table,) = [one for one in _upkeep_grids() if one.columns[-1].heading == "first due"]
    found = {str(row[0]): row[-1] for row in table.rows}
    assert found == {one.title: one.first.isoformat() for one in tasks if one.first is not None}


def _upkeep_grids() -> list[Grid]:
    limits = demo().limits
    assert limits is not None
    return grids(upkeep._document(material(demo()), limits).parts)


def test_carriers_are_moved_in_the_order_of_the_record() -> None:
    """The farthest downstream is the first to be moved, and the first that is told."""
    stops = [one for one in five().layout.stops if one.kind == "station"][:3]
    order = tuple(
        Stopped(i, stop.index, f"on the way to {stop.label}", 0.1 * i + 0.1, 1, KEPT, "", float(i), i + 0.5)
        for i, stop in enumerate(reversed(stops))
    )
    place = PlaceStop("press", "station", 100.0, 1.0, order[0], (), order, 3.0, 0, 0, 9.0, 900.0)
    sheet = StopSheet((place,), (), 50.0, 900.0, 0.1, 1)
    table = grids(recovery_document(material(five(), stops=sheet), sheet).parts)[-1]
    rows = [row[:4] for row in table.rows] + [row[5:] for row in table.rows if row[5]]
    assert [row[0] for row in rows] == ["1", "2", "3"]
    assert [str(row[1]).split(",")[0] for row in rows] == [f"to {one.label}" for one in reversed(stops)]
    assert [row[3] for row in rows] == [number(i + 0.5, 1) for i in range(3)]


def test_stations_are_measured_from_the_floors_west_end_where_their_lane_starts_elsewhere() -> None:
    evaluation = evaluate_without_run(load_line(EXAMPLES / "ways" / "four-decks.yaml"))
    layout = evaluation.layout
    measures = [
        one
        for one in drawing_of(evaluation, parts_list(evaluation.line, layout)).shapes
        if isinstance(one, Measure) and not one.upright and abs(one.start[0]) < 1e-3
    ]
    off = [lane.name for lane in layout.lanes if min(lane.floor_point(at)[0] for at in (0.0, lane.length_m)) > 0.1]
    there = [stop for stop in layout.stops if stop.kind == "station" and stop.lane in off]
    assert there
    for stop in there:
        assert any(abs(one.length - 1e3 * stop.floor_m) < 1e-3 for one in measures), stop.station


# ---- what moved ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("becomes", VERDICTS)
def test_a_verdict_that_changed_is_listed_though_no_figure_moved(becomes: Verdict) -> None:
    for was in VERDICTS:
        row = Finding("fuse", "power", was, "feeder front", None, 30.0, 40.0, "A", 0.25, "source", "")
        before = replace(five(), findings=(row,))
        after = replace(five(), findings=(replace(row, verdict=becomes),))
        found = compare_promises(before, after)
        assert [one.row.verdict for one in found.findings] == ([] if was == becomes else [becomes]), was
        assert found.stayed == (was == becomes)


# ---- files -----------------------------------------------------------------------------------------------------------


def test_each_hash_of_the_list_is_that_of_its_own_file(tmp_path: Path) -> None:
    out = write_folder(tmp_path / "papers", {"a.txt": b"one", "b.txt": lambda: b"two", "c.txt": b""})
    listed = json.loads((out / CONTENTS).read_text("utf-8"))["sha256"]
    assert listed == {
        name: hashlib.sha256((out / name).read_bytes()).hexdigest() for name in ("a.txt", "b.txt", "c.txt")
    }


@cache
def workbook() -> bytes:
    content = files_of(material(demo()))["tables.xlsx"]
    return content() if callable(content) else content


def test_every_formula_comes_to_what_the_file_says_also_without_a_run() -> None:
    written = openpyxl.load_workbook(io.BytesIO(workbook()), data_only=True)
    formulas = openpyxl.load_workbook(io.BytesIO(workbook()))
    anew = Sheets(formulas)
    seen: Counter[str] = Counter()
    for page in formulas:
        for cell in (one for row in page.iter_rows() for one in row if one.data_type == "f"):
            told, found = written[page.title][cell.coordinate].value, anew.value(page.title, cell.coordinate)
            same = pytest.approx(found, rel=1e-9, abs=1e-9) if isinstance(found, int | float) else found
            assert (told if told is not None else "") == same, (page.title, cell.coordinate, cell.value)
            seen[page.title] += 1
    assert seen["Parts"] > 10
    assert seen["Demand"] >= 5


def test_no_clock_is_in_the_workbook() -> None:
    """Two of one second are alike with a clock too: the day itself must be the fixed one."""
    with zipfile.ZipFile(io.BytesIO(workbook())) as book:
        assert {one.date_time for one in book.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = book.read("docProps/core.xml").decode()
    assert core.count("2000-01-01T00:00:00Z") == 2
    assert f"{KEEP}" not in core
