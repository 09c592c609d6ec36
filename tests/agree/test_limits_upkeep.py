"""Upkeep once more: every row from docs/limits/upkeep.md alone, against what `check_upkeep` says."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import linewright
from agree.limits_people_lines import PARTS, base_of, drawn
from agree.limits_rows import ROOT, Tree, altered, differences, line_of, row_of, with_keys
from agree.limits_upkeep import upkeep_rows, wash_down
from linewright.checks.upkeep import check_upkeep, spares_for
from linewright.flow.duty import find_duty
from linewright.flow.run import run_plan
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan

EXAMPLES = ROOT / "examples"
NOW = ("demo/line.yaml", *sorted(f"limits/{path.name}" for path in (EXAMPLES / "limits").glob("*.yaml")))
OTHERS = sorted(
    f"{path.parent.name}/{path.name}"
    for path in EXAMPLES.glob("*/*.yaml")
    if path.parent.name not in ("limits", "demo", "briefs") and "sheet" not in path.name
)
RUNS = [name for name in (*NOW, *OTHERS) if not name.startswith("published/")]
SHORT, LONG = range(5), range(5, 160)
DEMAND = {
    "good_parts_per_year": 2000000, "shifts_per_day": 2, "paid_time_per_shift": "8 h", "days_per_year": 230,
    "losses_not_modelled": "5 %",
}  # fmt: skip


def _findings(line: Line, **given: Any) -> Any:
    takt = None if line.demand is None else find_takt(line.demand)
    return check_upkeep(line, lay_out(line), takt, **given).findings


def _differences(line: Line) -> list[str]:
    return differences(upkeep_rows(line, lay_out(line), None), _findings(line))


@pytest.mark.parametrize("name", NOW)
def test_rows_of_an_example(name: str) -> None:
    assert _differences(linewright.load(EXAMPLES / name)) == []


@pytest.mark.parametrize("number", SHORT)
def test_rows_of_a_drawn_line(number: int) -> None:
    assert _differences(drawn(number)[2]) == []


@pytest.mark.long
@pytest.mark.parametrize("number", LONG)
def test_rows_of_many_drawn_lines(number: int) -> None:
    assert _differences(drawn(number)[2]) == []


@pytest.mark.long
@pytest.mark.parametrize("name", OTHERS)
def test_rows_of_every_other_example(name: str) -> None:
    assert _differences(linewright.load(EXAMPLES / name)) == []


@pytest.mark.long
def test_the_drawn_lines_have_every_row_in_every_verdict() -> None:
    seen: Counter[tuple[str, str]] = Counter(
        (one.code, one.verdict) for k in (*SHORT, *LONG) for one in _findings(drawn(k)[2])
    )
    wanted = {
        "yearly-use": ("holds", "not checked"),
        "relubrication": ("holds", "not checked"),
        "wear-part": ("holds",),
        "wear-parts": ("not checked",),
        "spares": ("holds", "not checked"),
        "section-swap": ("holds",),
        "station-failures": ("holds",),
        "environment": ("holds", "not checked"),
        "iron-chips": ("tight",),
        "spatter": ("tight",),
        "static-electricity": ("tight",),
        "wash-down": ("tight", "fails", "not checked"),
    }
    assert set(wanted) == {code for code, _ in seen}
    assert [
        (code, verdict) for code, verdicts in wanted.items() for verdict in verdicts if not seen[code, verdict]
    ] == []


@pytest.mark.long
@pytest.mark.parametrize("path", ["carrier_changes", "places"])
def test_what_the_demand_does_not_tell(path: str, tmp_path: Path) -> None:
    """Carriers that come and go, and a track that carries no traffic."""
    tree, sheet = _with_everything("ways/carrier-changes.yaml" if path == "carrier_changes" else "limits/upkeep.yaml")
    line = line_of(tree, sheet, tmp_path)
    if path == "places":
        line = altered(line, "transfers.east-lift.places", 2)
        assert lay_out(line).blocking
    one = row_of(_findings(line), "yearly-use", None)
    assert one is not None
    assert one.verdict == "not checked"
    assert _differences(line) == []
    assert path != "places" or "not one loop" not in one.where


def _with_everything(name: str) -> tuple[Tree, Tree]:
    """An example with all kinds of wear parts and failures, and a demand."""
    tree, sheet = base_of(name)
    upkeep = {
        "relubrication_travel": "300 km", "relubrication_after": "14 months", "section_swap": "20 min",
        "wear_parts": PARTS,
    }  # fmt: skip
    stations = {}
    for k, (key, station) in enumerate(tree["stations"].items()):
        stations[key] = dict(station)
        if "like" not in station and "failures" not in station and k % 2 == 0:
            stations[key]["failures"] = [
                {"one_in": "300 cycles", "repair": "20 s"},
                {"every": "2 h", "repair": "1 min"},
                {"every": "4 h", "of": "clock", "repair": "2 min"},
            ]
    plan = {"service_level": "95 %", "lead_time": "3 months"}
    return with_keys(tree, demand=DEMAND, upkeep=plan, stations=stations), with_keys(sheet, upkeep=upkeep)


@pytest.mark.parametrize("name", ["demo/line.yaml", "ways/nests.yaml", "ways/ring.yaml"])
def test_all_kinds_of_parts_and_failures_by_the_demand(name: str, tmp_path: Path) -> None:
    line = line_of(*_with_everything(name), tmp_path)
    assert _differences(line) == []
    codes = {one.code for one in _findings(line)}
    assert {"yearly-use", "relubrication", "wear-part", "spares", "section-swap", "station-failures"} <= codes


@pytest.mark.long
@pytest.mark.parametrize("name", RUNS)
def test_all_kinds_of_parts_and_failures_by_a_run(name: str, tmp_path: Path) -> None:
    line = line_of(*_with_everything(name), tmp_path)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    duty = find_duty(line, layout, plan, run_plan(line, plan, *_run_of(line)))
    assert differences(upkeep_rows(line, layout, duty), _findings(line, duty=duty)) == []


def _run_of(line: Line) -> tuple[float, int, int]:
    hours = 0.5 if line.calendar is None else line.calendar.shift_s / 3600.0
    return hours, 2, 1


# ---- single figures --------------------------------------------------------------------------------------------------


def _least_stock(expected: Fraction, level: Fraction) -> int:
    """The fewest spares, the sum taken in exact fractions; only e to the expected is a long decimal."""
    exp = sum((expected**k / math.factorial(k) for k in range(120)), Fraction(0))
    told, term, stock = Fraction(0), Fraction(1), 0
    while True:
        told += term
        if told >= level * exp:
            return stock
        stock += 1
        term *= expected / stock


@pytest.mark.parametrize("expected", ["0", "1/1000", "1/3", "1", "1.658", "7", "19.5"])
@pytest.mark.parametrize("level", ["0.5", "0.9", "0.98", "0.999", "0.9999999"])
def test_spares_by_exact_fractions(expected: str, level: str) -> None:
    wanted = _least_stock(Fraction(expected), Fraction(level))
    assert spares_for(float(Fraction(expected)), service_level=float(level)).stock == wanted


PROTECTIONS = (
    "IP54, not for wash-down", "IP65", "IP66 / IP67", "IP67", "IP69K", "IP6X", "splash-proof", "IPX5", "IP55W",
    "IP65;no wash-down", "No wash-down, IP65", "IP65 (not for washdown)", "IP68/IP65", "IP67/IP69", "IP20", "IPX9K",
    "IP 65", "IP", "type 65", "IP4X",
)  # fmt: skip


@pytest.fixture(scope="module")
def washed() -> Line:
    return linewright.load(EXAMPLES / "limits" / "upkeep.yaml")


@pytest.mark.parametrize("protection", [None, *PROTECTIONS])
def test_protection_against_jets(protection: str | None, washed: Line) -> None:
    one = row_of(_findings(altered(washed, "conveyor.protection", protection)), "wash-down", None)
    mine = wash_down(protection)
    assert one is not None
    assert (one.verdict, one.value) == (mine.verdict, mine.value)


def test_wear_beyond_any_stock_is_told_and_not_raised(tmp_path: Path) -> None:
    """A slip of the pen in a sheet must not end the program."""
    tree, sheet = base_of("demo/line.yaml")
    worn = {"a": {"per": "carrier", "count": 10000, "travel": "1 m"}}
    line = line_of(tree, with_keys(sheet, upkeep__wear_parts=worn), tmp_path)
    assert row_of(_findings(line), "wear-part", None) is not None


def test_without_a_takt_it_does_not_deny_a_demand_that_is_stated() -> None:
    line = linewright.load(EXAMPLES / "demo" / "line.yaml")
    one = row_of(check_upkeep(line, lay_out(line)).findings, "yearly-use", None)
    assert one is not None
    assert "states no demand" not in one.where
