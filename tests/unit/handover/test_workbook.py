"""The workbook: every figure is that of the Evaluation, and every formula comes to what the file says beforehand."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache, cached_property
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import openpyxl
import pytest
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.findings import worst_first
from linewright.handover.pages.rate_page import first_sentence
from linewright.handover.papers.material import Material
from linewright.handover.wording import TAGS
from linewright.handover.workbook.buying import parts_sheet
from linewright.handover.workbook.cells import Cell, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.places import place, place_all, resolve
from linewright.handover.workbook.units import form_of, scale_of, words_of
from linewright.handover.workbook.workbook import files_of, sheets_of
from linewright.line.demand import find_takt
from linewright.line.load import load_line
from linewright.planning.money.comparison import compare_with_baseline
from linewright.planning.money.parts_list import parts_list
from unit.handover.sheet_formulas import Sheets

DEMO, FIVE = "examples/demo/line.yaml", "examples/charts/five.yaml"
POWER = "examples/limits/power.yaml"
NAMES = [
    *("Read me", "Answer", "Findings", "Parts", "Demand", "Payback", "Stations", "States", "Stops", "Moves", "Causes"),
    *("Causes by place", "Electrical", "Cables", "Bus", "Upkeep"),
]


class Written:
    """The material of a line, its files, and its workbook read back with formulas and with what they come to."""

    def __init__(self, material: Material) -> None:
        self.material = material
        self.evaluation = material.evaluation
        self.files = {name: one() if callable(one) else one for name, one in files_of(material).items()}

    @cached_property
    def formulas(self) -> Workbook:
        return openpyxl.load_workbook(io.BytesIO(self.files["tables.xlsx"]))

    @cached_property
    def values(self) -> Workbook:
        return openpyxl.load_workbook(io.BytesIO(self.files["tables.xlsx"]), data_only=True)


def material_of(evaluation: Evaluation, for_customer: bool = False) -> Material:
    parts = parts_list(evaluation.line, evaluation.layout)
    comparison = "no run" if evaluation.run is None else compare_with_baseline(evaluation, parts)
    return Material(evaluation, None, (), "not asked", "not asked", parts, comparison, "not asked", None, for_customer)


@cache
def written_of(file: str) -> Written:
    return Written(material_of(evaluate(load_line(file), hours=1, runs=2)))


@pytest.fixture(params=[DEMO, FIVE])
def written(request: pytest.FixtureRequest) -> Written:
    return written_of(request.param)


@pytest.fixture
def demo() -> Written:
    return written_of(DEMO)


@pytest.fixture
def sheets(demo: Written) -> Iterator[Sheets]:
    """The demo line's workbook, to type in."""
    anew = Sheets(demo.formulas)
    yield anew
    anew.as_it_was()


def row_of(page: Worksheet, label: str) -> int:
    return next(row for row in range(1, page.max_row + 1) if page.cell(row, 1).value == label)


def labelled(page: Worksheet, label: str) -> Any:
    return page.cell(row_of(page, label), 2).value


def columns(page: Worksheet, first: str, under: str = "") -> dict[str, list[Any]]:
    """The columns of a list by their headings, down to its end, which an empty row or a sum makes."""
    start = row_of(page, under) if under else 1
    head = next(
        row for row in range(start, page.max_row + 1) if page.cell(row, 1).value == first and page.cell(row, 1).font.b
    )
    found: dict[str, list[Any]] = {}
    for column in range(1, page.max_column + 1):
        heading = page.cell(head, column).value
        if heading is None:
            break
        values = []
        for row in range(head + 1, page.max_row + 1):
            if page.cell(row, 1).value is None or page.cell(row, 1).value == "sum":
                break
            values.append(page.cell(row, column).value)
        found[str(heading)] = values
    return found


def formulas_of(book: Workbook) -> Iterator[tuple[str, str, str]]:
    for page in book:
        for row in page.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    yield page.title, cell.coordinate, cell.value


# ---- the file --------------------------------------------------------------------------------------------------------


def test_every_sheet_is_there_and_read_me_lists_the_others(written: Written) -> None:
    assert written.values.sheetnames == NAMES
    listed = columns(written.values["Read me"], "sheet")
    assert listed["sheet"] == NAMES[1:]
    told = {name for names in listed["the same as CSV"] for name in names.split(", ") if name != "none"}
    assert told == set(written.files) - {"tables.xlsx"}
    front = columns(written.values["Read me"], "what")
    says = dict(zip(front["what"], front["is"], strict=True))
    assert says["hash of the input"] == written.evaluation.line.input_hash
    assert says["simulated"] == "2 runs of 1 h, seed 1"


def test_every_formula_comes_to_what_the_file_says(written: Written) -> None:
    anew = Sheets(written.formulas)
    seen = set()
    for sheet, cell, formula in formulas_of(written.formulas):
        told, found = written.values[sheet][cell].value, anew.value(sheet, cell)
        if isinstance(found, int | float):
            assert told == pytest.approx(found, rel=1e-9, abs=1e-9), (sheet, cell, formula)
        else:
            assert (told or "") == found, (sheet, cell, formula)
        seen.add(sheet)
    assert seen >= {"Parts", "Demand", "Payback", "Causes", "Electrical", "Cables", "Bus"}


def test_numbers_are_numbers(written: Written) -> None:
    for page in written.values:
        for row in page.iter_rows(min_row=3):
            for cell in row:
                if isinstance(cell.value, str) and re.fullmatch(r"-?[\d\s,.]+ ?%?", cell.value):
                    # Counted sentences, the seed among words, and names of stations are texts.
                    assert page.title in ("Payback", "Read me"), (page.title, cell.coordinate, cell.value)


def test_the_same_material_gives_the_same_bytes() -> None:
    five = written_of(FIVE)
    assert Written(five.material).files == five.files


def test_pages_are_set_up_for_print(written: Written) -> None:
    for page in written.values:
        assert page.page_setup.orientation == "landscape"
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert page.page_setup.fitToWidth in (None, 1)
        assert page.page_setup.paperSize == (1 if written.evaluation.line.units == "inch" else 9)
        assert "Follow local codes" in page.oddFooter.left.text
    moves = written.values["Moves"]
    head = next(row for row in range(1, 12) if moves.cell(row, 1).value == "from")
    assert moves.freeze_panes == f"B{head + 1}"
    assert moves.print_title_rows == f"${head}:${head}"
    assert moves.auto_filter.ref is not None
    assert moves.auto_filter.ref.startswith(f"A{head}:")


def test_inputs_look_and_are_called_so(written: Written) -> None:
    named = 0
    for sheet in sheets_of(written.material):
        page = written.values[sheet.name]
        for block in sheet.blocks:
            rows = block.rows if isinstance(block, Labelled) else ()
            for one in rows:
                if isinstance(one.entry, Cell) and one.entry.is_input:
                    cell = page.cell(row_of(page, one.label), 2)
                    assert cell.fill.fgColor.rgb == "FFF3EEDD"
                    assert str(page.cell(cell.row, 4).value).startswith("input")
                    named += 1
            for column in block.columns if isinstance(block, Lines) else ():
                is_input = any(isinstance(entry, Cell) and entry.is_input for entry in column.entries)
                assert is_input == ("input" in column.heading)
                named += is_input
    assert named > 12


# ---- the figures -----------------------------------------------------------------------------------------------------


def test_the_answer_is_that_of_the_evaluation(written: Written) -> None:
    page, evaluation = written.values["Answer"], written.evaluation
    run, takt = evaluation.run, evaluation.takt
    assert run is not None
    assert run.rate is not None
    assert takt is not None
    assert run.limiting is not None
    figures = {
        "rate, mean of all runs": run.rate.mean,
        "rate, low end": run.rate.low,
        "rate, high end": run.rate.high,
        "line cycle": run.line_cycle_s,
        "required rate": takt.required_rate_per_h,
        "takt": takt.takt_s,
        "margin of the rate": run.rate.mean / takt.required_rate_per_h - 1.0,
        "its time per good part": run.limiting.time_s,
        "more than the next": run.limiting.by_s,
        "carriers": evaluation.line.carriers,
    }
    for label, value in figures.items():
        assert labelled(page, label) == pytest.approx(value, rel=1e-12), label
    verdicts = [one.verdict for one in evaluation.findings]
    counts = {
        "rows that fail": "fails",
        "rows NOT CHECKED": "not checked",
        "tight rows": "tight",
        "rows that hold": "holds",
    }
    assert {label: labelled(page, label) for label in counts} == {
        label: verdicts.count(verdict)
        for label, verdict in counts.items()  # type: ignore[arg-type]
    }
    assert columns(page, "step")["time per good part [s]"] == pytest.approx(run.steps["time_per_good_part_s"].tolist())


def test_other_failing_rows_are_told_beside_the_rate() -> None:
    five = written_of(FIVE)
    page = five.values["Answer"]
    fails = sum(one.verdict == "fails" and one.code != "rate" for one in five.evaluation.findings)
    assert fails > 1
    assert [page.cell(row, 1).value for row in (3, 4)] == [
        first_sentence(five.evaluation),
        f"BUT {fails} OTHER ROWS FAIL: see the sheet Findings.",
    ]


def test_findings_are_those_of_the_evaluation(written: Written) -> None:
    rows = worst_first(written.evaluation.findings)
    found = columns(written.values["Findings"], "verdict")
    assert found["verdict"] == [TAGS[one.verdict] for one in rows]
    assert found["code"] == [one.code for one in rows]
    assert found["where"] == [one.where for one in rows]
    assert [one or "" for one in found["what to do"]] == [one.remedy for one in rows]
    units = written.evaluation.line.units
    for i, row in enumerate(rows):
        scale = scale_of([row.value, row.limit], row.unit, units)
        for told, value in ((found["value"][i], row.value), (found["limit"][i], row.limit)):
            assert (told is None) == (value is None)
            if value is not None and math.isfinite(value):
                assert told == pytest.approx(value * scale.factor)
        if row.margin is not None and math.isfinite(row.margin):
            assert found["margin"][i] == pytest.approx(row.margin)


def test_rows_of_the_proof_stand_among_the_findings_and_are_counted() -> None:
    one = written_of(FIVE).evaluation.findings[0]
    dead = replace(one, code="dead-section", subject="traffic", verdict="not checked", where="it coasts")
    proof = cast(Any, SimpleNamespace(findings=(dead,)))
    book = Written(replace(written_of(FIVE).material, proving=proof)).values
    codes = columns(book["Findings"], "verdict")["code"]
    assert len(codes) == len(written_of(FIVE).evaluation.findings) + 1
    assert codes.count("dead-section") == 1
    counted = labelled(book["Read me"], "rows checked")
    assert "of the proof of the traffic: 0 fail, 1 NOT CHECKED, 0 tight, 0 hold" in counted


def test_stations_stops_and_moves_are_in_the_units_of_the_line(written: Written) -> None:
    evaluation, book = written.evaluation, written.values
    line = evaluation.line
    unit, per_m = ("in", 1 / 0.0254) if line.units == "inch" else ("mm", 1000.0)
    stations = columns(book["Stations"], "station")
    assert stations["station"] == [one.name for one in line.stations]
    assert stations[f"floor [{unit}]"] == pytest.approx([one.at_m * per_m for one in line.stations])
    assert stations["work, mean [s]"] == pytest.approx([one.time.mean_s for one in line.stations])
    assert evaluation.plan is not None
    assert stations["settling [s]"] == pytest.approx((evaluation.plan.settling_us * 1e-6).tolist())
    stops = columns(book["Stops"], "stop")
    assert stops["what"] == [one.label for one in evaluation.layout.stops]
    assert stops[f"travel [{unit}]"] == pytest.approx([one.travel_m * per_m for one in evaluation.layout.stops])
    assert evaluation.limits is not None
    legs = evaluation.limits.motion.legs
    moves = columns(book["Moves"], "from")
    assert moves["time [s]"] == pytest.approx(legs["time_s"].tolist())
    assert moves[f"distance [{unit}]"] == pytest.approx((legs["distance_m"] * per_m).tolist())
    assert moves["loaded"] == ["yes" if one else "no" for one in legs["loaded"]]
    states = columns(book["States"], "station")
    assert evaluation.run is not None
    assert states["work"] == pytest.approx(evaluation.run.stations["work_share"].tolist())


def test_the_drop_of_every_cable_is_that_of_the_schedule(written: Written) -> None:
    assert written.evaluation.limits is not None
    schedule = written.evaluation.limits.power.schedule
    anew = Sheets(written.formulas)
    page = written.formulas["Cables"]
    head = next(row for row in range(1, 12) if page.cell(row, 1).value == "feeder" and page.cell(row, 1).font.b)
    at = next(column for column in range(1, 14) if str(page.cell(head, column).value).startswith("voltage drop"))
    found = [anew.value("Cables", page.cell(head + 1 + i, at).coordinate) for i in range(len(schedule))]
    assert found == pytest.approx(schedule["drop_V"].tolist())


def test_csv_files_hold_the_same_in_si_units(written: Written) -> None:
    assert written.evaluation.limits is not None
    text = written.files["tables-moves.csv"].decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    legs = written.evaluation.limits.motion.legs
    assert [float(one["time_s"]) for one in rows] == legs["time_s"].tolist()
    assert [float(one["distance_m"]) for one in rows] == legs["distance_m"].tolist()
    assert {name for name in written.files if not name.startswith("tables")} == set()


# ---- what a reader changes -------------------------------------------------------------------------------------------


def test_takt_and_margin_follow_the_demand(demo: Written, sheets: Sheets) -> None:
    page, demand = sheets.book["Demand"], demo.evaluation.line.demand
    assert demand is not None
    rows = {
        label: row_of(page, label) for label in ("good parts", "shifts", "takt", "required rate", "margin", "verdict")
    }
    sheets.type_in("Demand", f"B{rows['good parts']}", 2 * demand.good_parts_per_year)
    sheets.type_in("Demand", f"B{rows['shifts']}", 2)
    changed = demand.model_copy(update={"good_parts_per_year": 2 * demand.good_parts_per_year, "shifts_per_day": 2})
    expected = find_takt(changed)
    assert sheets.value("Demand", f"B{rows['takt']}") == pytest.approx(expected.takt_s)
    assert sheets.value("Demand", f"B{rows['required rate']}") == pytest.approx(expected.required_rate_per_h)
    run = demo.evaluation.run
    assert run is not None
    assert run.rate is not None
    margin = run.rate.mean / expected.required_rate_per_h - 1.0
    assert sheets.value("Demand", f"B{rows['margin']}") == pytest.approx(margin)
    assert str(sheets.value("Demand", f"B{rows['verdict']}")).startswith("fails")
    sheets.type_in("Demand", f"B{rows['good parts']}", 1000)
    assert str(sheets.value("Demand", f"B{rows['verdict']}")).startswith("holds")


def test_the_total_follows_prices_and_says_which_are_missing(demo: Written, sheets: Sheets) -> None:
    page, parts = sheets.book["Parts"], demo.material.parts
    total, complete = (f"B{row_of(page, label)}" for label in ("total of what has a price", "complete"))
    assert parts.missing
    told = str(sheets.value("Parts", complete))
    assert told.startswith(f"NOT COMPLETE: {len(parts.missing)} prices missing")
    assert told.split("; ")[1:] == list(parts.missing)
    assert sheets.value("Parts", total) == pytest.approx(parts.total)
    first = row_of(page, parts.rows[0].item)
    blank = [first + i for i, row in enumerate(parts.rows) if row.price_each is None]
    for row in blank[1:]:
        sheets.type_in("Parts", f"E{row}", 10.0)
    assert sheets.value("Parts", complete) == f"NOT COMPLETE: 1 price missing; {parts.missing[0]}"
    sheets.type_in("Parts", f"E{blank[0]}", 10.0)
    assert sheets.value("Parts", complete) == "complete"
    more = sum(10.0 * row.count for row in parts.rows if row.price_each is None)
    assert sheets.value("Parts", total) == pytest.approx(parts.total + more)


def test_a_part_whose_check_fails_says_so() -> None:
    for for_customer in (False, True):
        sheet = parts_sheet(material_of(evaluate_without_run(load_line(POWER)), for_customer))
        (block,) = (one for one in sheet.blocks if isinstance(one, Lines))
        columns = {one.heading: one.entries for one in block.columns}
        checks = dict(zip(columns["item"], columns["check"], strict=True))
        assert checks["fuse gG 25 A, feeder upper"] == "fails: fuse-cable"
        assert checks["carrier"] == ""


def test_the_payback_is_that_of_the_comparison_and_follows(demo: Written, sheets: Sheets) -> None:
    found = demo.material.comparison
    assert not isinstance(found, str)
    page = sheets.book["Payback"]
    cells = {
        one: f"B{row_of(page, one)}" for one in ("this line", "the baseline", "this line saves", "payback [years]")
    }
    assert sheets.value("Payback", cells["this line"]) == pytest.approx(found.price_here)
    assert sheets.value("Payback", cells["the baseline"]) == pytest.approx(found.price_baseline)
    assert sheets.value("Payback", cells["this line saves"]) == pytest.approx(found.saved_per_year)
    assert found.payback_years == 0.0
    assert sheets.value("Payback", cells["payback [years]"]) == "at once"
    # A dearer section makes the line cost more than the baseline: then years follow.
    parts = demo.material.parts
    first = row_of(sheets.book["Parts"], parts.rows[0].item)
    sheets.type_in("Parts", f"E{first}", 60000.0)
    assert parts.rows[0].price_each is not None
    extra = found.price_here + parts.rows[0].count * (60000.0 - parts.rows[0].price_each) - found.price_baseline
    assert sheets.value("Payback", cells["payback [years]"]) == pytest.approx(extra / found.saved_per_year)
    sheets.type_in("Parts", f"E{first}", None)
    assert sheets.value("Payback", cells["payback [years]"]) == "not known: prices or amounts missing"


def test_bytes_and_time_on_the_wire_follow_the_counts(demo: Written, sheets: Sheets) -> None:
    from linewright.checks.bus.frames import cyclic_budget

    image = demo.evaluation.line.conveyor.image
    assert image is not None
    assert image.bit_rate_bit_s is not None
    page = sheets.book["Bus"]
    cells = {
        one: f"B{row_of(page, one)}" for one in ("bytes together", "frames", "bytes on the wire", "time on the wire")
    }
    carriers = row_of(page, "carriers")
    for count in (1, 24, 83, 84, 165, 400):
        sheets.type_in("Bus", f"B{carriers}", count)
        total = int(sheets.value("Bus", cells["bytes together"]))
        assert total == count * image.bytes_per_carrier + 2 * (image.bytes_per_transfer or 0) + (
            image.bytes_of_line or 0
        )
        budget = cyclic_budget(total, image.cycle_s, image.bit_rate_bit_s)
        assert sheets.value("Bus", cells["frames"]) == budget.frames
        assert sheets.value("Bus", cells["bytes on the wire"]) == budget.wire_bytes
        assert sheets.value("Bus", cells["time on the wire"]) == pytest.approx(1000.0 * budget.wire_time_s)


def csv_of(written: Written, name: str) -> bytes:
    """A table of the workbook as it stands in its file."""
    data = written.files[f"tables-{name}.csv"]
    return data.encode("utf-8") if isinstance(data, str) else data


# ---- editions and lines ----------------------------------------------------------------------------------------------


def test_the_customer_sees_no_prices_and_no_margins() -> None:
    builder = written_of(FIVE)
    customer = Written(replace(builder.material, for_customer=True))
    assert "Payback" not in customer.values.sheetnames
    for page in customer.values:
        for row in page.iter_rows():
            for cell in row:
                words = str(cell.value or "").lower()
                allowed = ("without prices and without margins", "hold with a margin under 10 %")
                if not any(one in words for one in allowed):
                    assert not re.search(r"\b(price|eur|margins?|cost|payback)\b", words), (page.title, cell.coordinate)
    found = columns(customer.values["Findings"], "verdict")
    for i, verdict in enumerate(found["verdict"]):
        assert not (verdict == "holds" and found["value"][i] is not None)
    rows = worst_first(builder.evaluation.findings)
    assert "in the file" not in found
    for i, row in enumerate(rows):
        assert (found["what to do"][i] or "") == (row.remedy if row.verdict in ("fails", "not checked") else "")
    shown = [one for one in rows if one.verdict != "holds"]
    assert [one is not None for one in found["value"][: len(shown)]] == [one.value is not None for one in shown]
    for name, data in customer.files.items():
        if name.endswith(".csv"):
            head = data.decode("utf-8").split("\r\n")[0]
            assert not re.search(r"price|margin|cpk|eased|proposed", head), name
    # Who wires the line needs its currents and voltages.
    for name in ("feeders", "section-voltages"):
        assert customer.files[f"tables-{name}.csv"] == builder.files[f"tables-{name}.csv"]
    assert b"current_A" in csv_of(customer, "cables")
    assert b"proposed_mm2" in csv_of(builder, "cables")
    head, *lines = customer.files["tables-findings.csv"].decode("utf-8").splitlines()
    assert "place" not in head.split(",")
    assert not any(".yaml" in one for one in lines)


def test_a_line_without_a_run_or_a_demand_says_so() -> None:
    line = written_of(FIVE).evaluation.line
    still = Written(material_of(evaluate_without_run(line)))
    assert still.values.sheetnames == NAMES
    assert labelled(still.values["States"], "states").startswith("not known: not simulated")
    assert labelled(still.values["Payback"], "payback") == "not known: no run"
    assert labelled(still.values["Demand"], "simulated rate").startswith("not known: ")
    without = line.model_copy(update={"demand": None, "name": "=1+1 & more"})
    nothing = Written(material_of(evaluate_without_run(without)))
    assert labelled(nothing.values["Demand"], "takt") == "not known: the line file states no demand (key demand)"
    anew = Sheets(nothing.formulas)
    for sheet, cell, _ in formulas_of(nothing.formulas):
        told, found = nothing.values[sheet][cell].value, anew.value(sheet, cell)
        assert (told or 0) == pytest.approx(found) if isinstance(found, float) else (told or "") == (found or ""), cell
    # A name that looks like a formula stays a name, and a sign that steers the head of a page is kept apart.
    page = nothing.formulas["Read me"]
    cell = page.cell(row_of(page, "line"), 2)
    assert (cell.value, cell.data_type) == ("=1+1 & more", "s")
    assert page.oddHeader.left.text == "=1+1 && more"


def test_a_track_on_which_nothing_moves_says_so() -> None:
    evaluation = replace(evaluate_without_run(written_of(FIVE).evaluation.line), limits=None)
    book = Written(material_of(evaluation)).values
    for sheet, label in (("Moves", "moves"), ("Electrical", "feeders"), ("Cables", "cables"), ("Bus", "process image")):
        assert labelled(book[sheet], label).startswith("not known: no carrier can be accelerated")


# ---- the parts it is made of -----------------------------------------------------------------------------------------


def test_names_of_cells_become_addresses() -> None:
    sheet = Sheet(
        "One",
        "about",
        (
            Labelled((Named("figure", Cell(1.0), key="figure"),)),
            Lines((Listed("a", "a", (Cell(1.0), Cell(2.0))), Listed("b", "b", (Cell(1.0), Cell(2.0))))),
        ),
    )
    placed = place_all((sheet,))
    first = placed["One"].named["a"].first_row
    assert resolve("={a}*{b}+{figure}", "One", first + 1, placed) == f"=A{first + 2}*B{first + 2}+$B$4"
    assert resolve("=SUM({b:})+{a+1}", "One", 0, placed) == f"=SUM($B${first + 1}:$B${first + 2})+$A${first + 2}"
    assert resolve("={One!figure}", "Two", 3, placed) == "='One'!$B$4"
    with pytest.raises(KeyError):
        resolve("={c}", "One", 0, placed)


def test_keys_and_lengths_that_do_not_fit_are_refused() -> None:
    twice = Labelled((Named("one", Cell(1.0), key="k"),))
    with pytest.raises(ValueError, match="stand twice"):
        place(Sheet("One", "about", (twice, twice)))
    with pytest.raises(ValueError, match="different lengths"):
        Lines((Listed("a", "a", ("x",)), Listed("b", "b", ())))


def test_units_and_formats() -> None:
    assert scale_of([np.nan, 0.0005], "m", "mm").unit == "mm"
    assert scale_of([4e5], "bytes", "mm").unit == "bytes"
    assert words_of("interval_weeks", "weeks") == "interval"
    assert form_of([math.inf, 12.5]) == "0.0"
