"""LibreOffice as an independent reader of the workbook: what it works out anew is what the file says beforehand."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook

from linewright.evaluation import evaluate
from linewright.handover.papers.material import Material
from linewright.handover.workbook.workbook import files_of
from linewright.line.demand import find_takt
from linewright.line.load import load_line
from linewright.planning.money.comparison import compare_with_baseline
from linewright.planning.money.parts_list import parts_list

OFFICE = shutil.which("soffice")
pytestmark = pytest.mark.skipif(OFFICE is None, reason="LibreOffice (soffice) is not installed")

FILES = (
    "examples/demo/line.yaml",
    "examples/charts/five.yaml",
    "examples/charts/forty.yaml",
    "examples/ways/ring.yaml",
)
DEMO = FILES[0]
_WRITE = """
import hashlib, sys
sys.path.insert(0, "tests")
from long.test_workbook_reader import DEMO, workbook_of
print(hashlib.sha256(workbook_of(DEMO)).hexdigest())
"""


def material_of(file: str, for_customer: bool = False) -> Material:
    evaluation = evaluate(load_line(file), hours=1, runs=3)
    parts = parts_list(evaluation.line, evaluation.layout)
    comparison = compare_with_baseline(evaluation, parts)
    return Material(evaluation, None, (), "not asked", "not asked", parts, comparison, "not asked", None, for_customer)


def workbook_of(file: str, for_customer: bool = False) -> bytes:
    content = files_of(material_of(file, for_customer))["tables.xlsx"]
    return content() if callable(content) else content


def worked_out(book: Workbook, folder: Path) -> Workbook:
    """A workbook as LibreOffice works it out; what the file said beforehand is not in it any more."""
    folder.mkdir(exist_ok=True)
    source, out = folder / "in.xlsx", folder / "out"
    book.save(source)  # openpyxl writes formulas without what they come to
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = [str(OFFICE), profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML"]
    subprocess.run([*command, "--outdir", str(out), str(source)], check=True, capture_output=True, timeout=300)
    return openpyxl.load_workbook(out / "in.xlsx", data_only=True)


def cell_of(book: Workbook, sheet: str, label: str, column: str = "B") -> Any:
    page = book[sheet]
    row = next(row for row in range(1, page.max_row + 1) if page.cell(row, 1).value == label)
    return page[f"{column}{row}"]


@pytest.mark.parametrize("for_customer", [False, True])
@pytest.mark.parametrize("file", FILES)
def test_every_formula_comes_to_the_same(file: str, for_customer: bool, tmp_path: Path) -> None:
    data = workbook_of(file, for_customer)
    formulas = openpyxl.load_workbook(io.BytesIO(data))
    told = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    found = worked_out(openpyxl.load_workbook(io.BytesIO(data)), tmp_path)
    counted = 0
    for page in formulas:
        for row in page.iter_rows():
            for cell in row:
                one, other = told[page.title][cell.coordinate].value, found[page.title][cell.coordinate].value
                assert not str(other).startswith("#"), (page.title, cell.coordinate, cell.value, other)
                if cell.data_type != "f":
                    continue
                counted += 1
                if isinstance(one, int | float):
                    assert other == pytest.approx(one, rel=1e-9, abs=1e-9), (page.title, cell.coordinate, cell.value)
                else:
                    assert (one or "") == (other or ""), (page.title, cell.coordinate, cell.value)
    assert counted > 5


def test_what_a_reader_types_in_moves_takt_total_and_payback(tmp_path: Path) -> None:
    material = material_of(DEMO)
    content = files_of(material)["tables.xlsx"]
    book = openpyxl.load_workbook(io.BytesIO(content() if callable(content) else content))
    demand, parts, comparison = material.evaluation.line.demand, material.parts, material.comparison
    assert demand is not None
    assert not isinstance(comparison, str)
    assert comparison.price_here is not None
    assert comparison.price_baseline is not None
    assert comparison.saved_per_year is not None
    cell_of(book, "Demand", "good parts").value = 5_000_000
    cell_of(book, "Demand", "losses").value = 0.1
    first = parts.rows[0]
    cell_of(book, "Parts", first.item, "E").value = 70000.0
    for row in parts.rows:
        if row.price_each is None:
            cell_of(book, "Parts", row.item, "E").value = 2.0
    found = worked_out(book, tmp_path)
    changed = demand.model_copy(update={"good_parts_per_year": 5_000_000, "losses_not_modelled": 0.1})
    assert cell_of(found, "Demand", "takt").value == pytest.approx(find_takt(changed).takt_s)
    assert cell_of(found, "Demand", "required rate").value == pytest.approx(find_takt(changed).required_rate_per_h)
    assert first.price_each is not None
    dearer = first.count * (70000.0 - first.price_each)
    typed = sum(2.0 * row.count for row in parts.rows if row.price_each is None)
    assert cell_of(found, "Parts", "total of what has a price").value == pytest.approx(parts.total + dearer + typed)
    assert cell_of(found, "Parts", "complete").value == "complete"
    extra = comparison.price_here + dearer - comparison.price_baseline
    years = cell_of(found, "Payback", "payback [years]").value
    assert years == pytest.approx(extra / comparison.saved_per_year)


def test_the_bytes_are_the_same_in_every_process() -> None:
    runs = [
        subprocess.run([sys.executable, "-c", _WRITE], check=True, capture_output=True, text=True, timeout=120).stdout
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
