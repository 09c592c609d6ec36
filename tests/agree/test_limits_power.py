"""The rows of power against those reckoned anew from its page; remedies carried out."""

from __future__ import annotations

import copy
import random
import re
from pathlib import Path
from typing import Any

import pytest

from agree.limits_cases import EXAMPLES, differences, drawn_trees
from agree.limits_files import Tree, line_of, set_key, trees_of
from agree.limits_power import power_rows
from agree.limits_remedies import change_of
from linewright.checks.bus import check_bus
from linewright.checks.power import check_power
from linewright.errors import LineFileError
from linewright.findings import Finding
from linewright.flow.duty import Duty, find_duty
from linewright.flow.run import run_plan
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan

DEMO = EXAMPLES / "demo" / "line.yaml"
LIMITS = sorted((EXAMPLES / "limits").glob("*.yaml"))
WAYS = [
    EXAMPLES / "ways" / f"{name}.yaml"
    for name in ("ring", "to-and-fro", "two-place-lift", "branch", "four-decks", "nests")
]
BASES = [DEMO, *WAYS, EXAMPLES / "limits" / "power.yaml"]


def duty_of(line: Line, hours: float, seed: int = 1) -> Duty:
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    return find_duty(line, layout, plan, run_plan(line, plan, hours, 1, seed))


def apart(line: Line, duty: Duty | None = None) -> list[str]:
    layout = lay_out(line)
    return differences(power_rows(line, layout, duty), check_power(line, layout, duty).findings, "power")


def demo_with(folder: Path, keys: dict[str, Any]) -> Line:
    """The demo line with keys changed; those of the sheet begin with `sheet:`."""
    tree, sheet = trees_of(DEMO)
    for key, value in keys.items():
        set_key(sheet if key.startswith("sheet:") else tree, key.removeprefix("sheet:"), value)
    return line_of(tree, sheet, folder)


def rows_of(line: Line, code: str, duty: Duty | None = None) -> list[Finding]:
    return [one for one in check_power(line, lay_out(line), duty).findings if one.code == code]


@pytest.mark.parametrize("path", [DEMO, *LIMITS], ids=lambda path: path.stem)
def test_files(path: Path) -> None:
    assert apart(load_line(path)) == []


@pytest.mark.parametrize("seed", range(4))
def test_drawn(seed: int, tmp_path: Path) -> None:
    """Keys are missing here and there: so are the rows that they would give."""
    assert apart(line_of(*drawn_trees(random.Random(seed), BASES[seed % len(BASES)]), tmp_path)) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4, 120))
def test_drawn_long(seed: int, tmp_path: Path) -> None:
    test_drawn(seed, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("path", [DEMO, *LIMITS], ids=lambda path: path.stem)
def test_files_with_a_run(path: Path) -> None:
    line = load_line(path)
    assert apart(line, duty_of(line, 0.5)) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(40))
def test_drawn_with_a_run(seed: int, tmp_path: Path) -> None:
    """Light and heavy carriers, small capacitors, resistors, several feeders a lane, runs that end within a bin."""
    lacks = 0.0 if seed % 2 else 0.1
    line = line_of(*drawn_trees(random.Random(seed), BASES[seed % len(BASES)], lacks), tmp_path)
    assert apart(line, duty_of(line, (0.25, 0.05, 0.1234567)[seed % 3], seed)) == []


@pytest.mark.parametrize(
    "keys",
    [
        {"sheet:drive.friction": "0 N", "sheet:coasting.least_drag": "0 N"},
        pytest.param({"sheet:stopping": None, "sheet:coasting": None}, marks=pytest.mark.long),
        {"sheet:drive.jerk": "1e15 m/s³"},
        pytest.param({"sheet:drive.lowest_voltage": "42 V"}, marks=pytest.mark.long),
        {"sheet:supply.trip": "50.1 V", "feeders.upper.braking_resistor": None},
        {"feeders.upper.cable.length": "200 m", "feeders.upper.cable.area": "0.5 mm²"},
        pytest.param({"carriers": 1}, marks=pytest.mark.long),
        pytest.param({"part": {"mass": "200 g"}, "fixture.nests": 3}, marks=pytest.mark.long),
        {"feeders.upper.from": "0 mm", "feeders.upper.to": "1840 mm", "feeders.upper.enters": "east"},
        {"cabinet.heat": "300 W"},
    ],
    ids=" ".join,
)
def test_edges(keys: dict[str, Any], tmp_path: Path) -> None:
    assert apart(demo_with(tmp_path, keys)) == []


# ---- remedies ----


def same_row(one: Finding, other: Finding) -> bool:
    names = [tuple(re.findall(r"(?:feeder|motor zone|station) ([^\s:,]+)", found.where)) for found in (one, other)]
    return one.code == other.code and names[0] == names[1]


def verdicts_with(
    keys: tuple[tuple[bool, str, object], ...],
    trees: tuple[Tree, Tree],
    found: Finding,
    folder: Path,
    duty: Duty | None = None,
) -> list[str]:
    tree, sheet = copy.deepcopy(trees)
    for in_sheet, path, value in keys:
        set_key(sheet if in_sheet else tree, path, value)
    line = line_of(tree, sheet, folder)
    return [one.verdict for one in findings_of(line, duty) if same_row(one, found)]


def findings_of(line: Line, duty: Duty | None = None) -> tuple[Finding, ...]:
    layout = lay_out(line)
    return (*check_power(line, layout, duty).findings, *check_bus(line, layout).findings)


def faults_of_remedies(trees: tuple[Tree, Tree], folder: Path, duty: Duty | None = None) -> list[str]:
    line, told = line_of(*trees, folder), []
    for found in findings_of(line, duty):
        change = change_of(found, line)
        if change is None:
            continue
        try:
            if "fails" in verdicts_with(change.keys, trees, found, folder, duty):
                told.append(f"still fails: {found.code} {found.where}: {found.remedy}")
        except LineFileError as error:
            told.append(f"refused: {found.code} {found.where}: {found.remedy}: {error}")
        if change.weaker is not None and "fails" not in verdicts_with(change.weaker, trees, found, folder, duty):
            told.append(f"less does: {found.code} {found.where}: {found.remedy}")
    return told


@pytest.mark.parametrize("name", ["power", pytest.param("bus", marks=pytest.mark.long)])
def test_remedies_of_the_examples(name: str, tmp_path: Path) -> None:
    trees = trees_of(EXAMPLES / "limits" / f"{name}.yaml")
    assert faults_of_remedies(trees, tmp_path) == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(60))
def test_remedies(seed: int, tmp_path: Path) -> None:
    trees = drawn_trees(random.Random(seed), BASES[seed % len(BASES)])
    assert faults_of_remedies(trees, tmp_path) == []


@pytest.mark.long
def test_remedies_after_a_run(tmp_path: Path) -> None:
    """The run itself does not depend on supplies, fuses, resistors and cabinet: its duty stays."""
    trees = trees_of(DEMO)
    keys: dict[str, Any] = {
        "feeders.lower.fuse": "0.2 A",
        "feeders.upper.braking_resistor.power": "0.001 W",
        "feeders.upper.braking_resistor.on": "42.9 V",
        "cabinet.heat": "1 W",
    }
    for key, value in keys.items():
        set_key(trees[0], key, value)
    set_key(trees[1], "supply.current", "3 A")
    set_key(trees[1], "supply.capacitance", "0.1 mF")
    line = line_of(*trees, tmp_path)
    duty = duty_of(line, 0.1)
    codes = {found.code for found in findings_of(line, duty) if change_of(found, line) is not None}
    assert codes >= {"feeder-peak", "all-restart", "design-current", "resistor-power", "cabinet-heat"}
    assert faults_of_remedies(trees, tmp_path, duty) == []


def test_a_zone_moved_as_told_reaches(tmp_path: Path) -> None:
    """Half a body exactly: the remedy's own figure holds, whatever the floats say."""
    for at_mm in (460, 474, 488):
        keys = {"stations.load.at": f"{at_mm} mm"}
        line = demo_with(tmp_path, {**keys, "motor_zones.load.to": f"{at_mm + 20} mm"})
        remedy = re.search(r"to: ([\d.]+ mm)", rows_of(line, "zone-reach")[0].remedy)
        assert remedy is not None
        line = demo_with(tmp_path, {**keys, "motor_zones.load.to": remedy.group(1)})
        assert rows_of(line, "zone-reach")[0].verdict != "fails", at_mm


def test_both_ends_of_a_zone_are_told(tmp_path: Path) -> None:
    line = demo_with(tmp_path, {"motor_zones.load.from": "430 mm", "motor_zones.load.to": "490 mm"})
    remedy = rows_of(line, "zone-reach")[0].remedy
    assert "418 mm" in remedy
    assert "502 mm" in remedy


def test_a_cabinet_as_wide_as_told_is_wide_enough(tmp_path: Path) -> None:
    keys = {"sheet:supply.width": "228 mm", "feeders.upper.supplies": 9, "cabinet.width": "489 mm"}
    assert "2280 mm" in rows_of(demo_with(tmp_path, keys), "cabinet-width")[0].remedy
    assert rows_of(demo_with(tmp_path, {**keys, "cabinet.width": "2280 mm"}), "cabinet-width")[0].verdict != "fails"


# ---- what must not happen ----


def test_a_gentle_line_is_checked(tmp_path: Path) -> None:
    """Drag alone stops a carrier: nothing comes back."""
    line = demo_with(tmp_path, {"sheet:drive.acceleration": "0.5 m/s²", "sheet:stopping.deceleration": "0.5 m/s²"})
    assert apart(line) == []


def test_a_supply_of_any_tolerance_is_checked_or_refused(tmp_path: Path) -> None:
    try:
        line = demo_with(tmp_path, {"sheet:supply.tolerance": "100 %", "sheet:supply.trip": "90 V"})
    except LineFileError:
        return
    check_power(line, lay_out(line))


def test_no_voltage_is_below_that_of_the_supply(tmp_path: Path) -> None:
    """A resistor that conducts below the supply's highest voltage does not make the supply lower."""
    keys: dict[str, Any] = {
        "sheet:supply.voltage": "58 V",
        "sheet:drive.nominal_voltage": "58 V",
        "sheet:supply.tolerance": "5 %",
        "sheet:supply.trip": "70 V",
        "feeders.upper.braking_resistor.on": "59 V",
        "feeders.lower.braking_resistor.on": "59 V",
    }
    line = demo_with(tmp_path, keys)
    for code in ("braking-voltage", "extra-low-voltage"):
        for row in rows_of(line, code):
            assert row.value is not None
            assert row.value >= 60.9 - 1e-9, row
    assert rows_of(line, "extra-low-voltage")[0].verdict == "fails"


@pytest.mark.long
def test_nobody_who_ran_is_told_to_run(tmp_path: Path) -> None:
    """One feeder feeds no section; the cabinet is too hot at full load."""
    keys = {"feeders.upper.from": "0 mm", "feeders.upper.to": "5 mm", "cabinet.heat": "100 W"}
    line = demo_with(tmp_path, keys)
    duty = duty_of(line, 0.01)
    assert [row.code for row in check_power(line, lay_out(line), duty).findings if "--run" in row.remedy] == []


def test_every_zone_that_is_named_is_asked_for_its_logic() -> None:
    line = load_line(EXAMPLES / "limits" / "power.yaml")
    assert [row.where.split()[2].rstrip(":") for row in rows_of(line, "zone-logic")] == ["set-in"]


def test_links_that_are_not_there_are_not_thin(tmp_path: Path) -> None:
    """A feeder of one section has no link."""
    keys = {"feeders.upper.from": "0 mm", "feeders.upper.to": "736 mm", "feeders.upper.link.area": "1.5 mm²"}
    line = demo_with(tmp_path, keys)
    assert rows_of(line, "link-area") == []


def test_a_rating_that_is_not_stated_is_not_named(tmp_path: Path) -> None:
    keys: dict[str, Any] = {"feeders.upper.cable.rating": None, "feeders.upper.link.area": "1.5 mm²"}
    for row in rows_of(demo_with(tmp_path, keys), "link-area"):
        assert "whose rating is stated" not in row.where
