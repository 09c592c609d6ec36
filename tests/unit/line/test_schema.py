"""The JSON Schemas: the shipped files are the models', sound files pass, wrong forms do not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import linewright.line.schema as schema_module
from linewright.line.document import parse
from linewright.line.patterns import PATTERNS
from linewright.line.schema import line_schema, sheet_schema

ROOM = Path(schema_module.__file__).parent
ROOT = Path(__file__).parents[3]
LINE_FILES = sorted(
    [
        *ROOT.glob("examples/*/line.yaml"),
        *ROOT.glob("examples/ways/*.yaml"),
        *ROOT.glob("examples/limits/*.yaml"),
        ROOT / "tests/e2e/faulty/limits.yaml",
        *ROOM.glob("starts/*.yaml"),
    ]
)
SHEET_FILES = sorted(
    [*ROOM.glob("sheets/*.yaml"), *ROOT.glob("tests/data/*sheet*.yaml"), *ROOT.glob("examples/*/sheets/*.yaml")]
)

LINE, SHEET = (jsonschema.Draft202012Validator(make()) for make in (line_schema, sheet_schema))
TWO_DECK = (ROOT / "tests" / "data" / "plain-two-deck.yaml").read_text(encoding="utf-8")


def faults(checker: jsonschema.Draft202012Validator, text: str) -> list[str]:
    return [error.message for error in checker.iter_errors(parse(text, "x.yaml", "").tree)]


@pytest.mark.parametrize("name, make", [("line", line_schema), ("sheet", sheet_schema)])
def test_shipped_schema_is_the_models(name: str, make: Any) -> None:
    shipped = json.loads((ROOM / "schemas" / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert shipped == make(), "write it anew: linewright schema"
    jsonschema.Draft202012Validator.check_schema(shipped)
    assert shipped["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("path", LINE_FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_line_file_passes(path: Path) -> None:
    assert faults(LINE, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", SHEET_FILES, ids=lambda path: path.name)
def test_every_sheet_passes(path: Path) -> None:
    assert faults(SHEET, path.read_text(encoding="utf-8")) == []


def test_there_were_files_to_test() -> None:
    assert len(LINE_FILES) >= len(PATTERNS)
    assert len(SHEET_FILES) >= 3


@pytest.mark.parametrize(
    "old, new",
    [
        ("prepare: 0.6 s", "prepare: 0.6"),
        ("prepare: 0.6 s", "prepare: 0.6 kg"),
        ("prepare: 0.6 s", "prepare: fast"),
        ("prepare: 0.6 s", "prepare: '0,6 s'"),
        ("prepare: 0.6 s", "prepair: 0.6 s"),
        ("mass: 180 g", "mass: 180 N"),
        ("rejects: 1 %", "rejects: 0.01"),
        ("cv: 4 %", "cv: 0.04"),
        ("{mean: 2.4 s, cv: 15 %}", "{mean: 2.4 s}"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: triangular, mean: 2.4 s}"),
        ("{pocket: 25 m/s²}", "{pocket: 25 m/s², clamp: 25 m/s²}"),
        ("{pocket: 25 m/s²}", "{}"),
        ("carriers: 14", "carriers: 0"),
        ("carriers: 14", "carriers: 2.5"),
        ("from: east, to: west", "from: north, to: west"),
        ("kind: lift", "kind: crane"),
        ("linewright: 1 ", "linewright: 2 "),
        ("leak-1: {lane", "leak/1: {lane"),
        ("like: leak-1", "work: manual"),
        ("[load, press", "[load, 3, press"),
        ("envelope: [190 mm, 140 mm, 95 mm]", "envelope: [190 mm, 140 mm]"),
        ("envelope: [190 mm, 140 mm, 95 mm]", "natural_frequency: 38 Hz"),
        ("envelope: [190 mm, 140 mm, 95 mm]", "natural_frequency: 38, damping: 3 %"),
        ("prepare: 0.6 s", "settling: 0.1 s\n    window: 0.1 mm"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: gamma, mean: 2.4 s}"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: empirical, times: [2.4 s]}"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: empirical, times: [2.4, 2.5]}"),
        ("prepare: 0.6 s", "failures: [{repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{every: 1 h, one_in: 800 cycles, repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{every: 1 h, one_in: 800 cycles, of: clock, repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{one_in: 800 cycles, of: clock, repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{one_in: 800, repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{every: 1 h, of: calendar, repair: 1 s}]"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {lane: upper, from: 0 mm, to: 9 mm, lanes: [lower], most: 2}}"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {lane: upper, to: 9 mm, most: 2}}"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {lanes: [], most: 2}}"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {most: 2}}"),
        ("prepare: 0.6 s", "force: 620 N"),
        ("prepare: 0.6 s", "force: {down: 620}"),
        ("prepare: 0.6 s", "force: {greatest: 620 N}"),
        ("prepare: 0.6 s", "force: []"),
        ("prepare: 0.6 s", "force: [{down: 620 N}, none]"),
        ("prepare: 0.6 s", "force: {down: 620 N, at: [1 mm, 2 mm]}"),
        ("prepare: 0.6 s", "support: {}"),
        ("prepare: 0.6 s", "tolerance: {cpk: 1.67}"),
        ("prepare: 0.6 s", "tolerance: {x: ±±0.1 mm}"),
        ("prepare: 0.6 s", "tool: {errors: [{x: 1 mm}]}"),
        ("prepare: 0.6 s", "tool: {errors: {reach: {law: uniform}}}"),
        ("prepare: 0.6 s", "tool: {errors: {reach: {x: 1 mm, kind: bias, law: uniform}}}"),
        ("prepare: 0.6 s", "guard: {kind: light-curtain, distance: 1 m, device: 9 ms, logic: 9 ms}"),
        ("prepare: 0.6 s", "guard: {kind: scanner, resolution: 14 mm, distance: 1 m, device: 9 ms, logic: 9 ms}"),
        ("prepare: 0.6 s", "guard: {kind: interlocked, height: 1 m, distance: 1 m, device: 9 ms, logic: 9 ms}"),
        ("mass: 180 g", "mass: 180 g, liquid: {depth: 4 mm, freeboard: 4 mm}"),
        ("mass: 180 g", "mass: 180 g, liquid: {length: 9 mm, diameter: 9 mm, depth: 4 mm, freeboard: 4 mm}"),
        ("carriers: 14", "carriers: 14\nfeeders: {a: {from: 0 mm, to: 9 mm}}"),
        ("carriers: 14", "carriers: 14\nfeeders: {a: {lane: upper, from: 0 mm}}"),
        ("carriers: 14", "carriers: 14\nfeeders: [{lane: upper}]"),
        ("carriers: 14", "carriers: 14\nmotor_zones: {a: {lane: upper, to: 9 mm}}"),
        ("carriers: 14", "carriers: 14\ntemperature: {least: 18 K, most: 27 °C, set_up: 22 °C}"),
    ],
)
def test_a_wrong_form_does_not_pass(old: str, new: str) -> None:
    text = TWO_DECK
    assert old in text
    assert faults(LINE, text.replace(old, new, 1))


@pytest.mark.parametrize(
    "old, new",
    [
        ("envelope: [190 mm, 140 mm, 95 mm]", "natural_frequency: 38 Hz, damping: 3 %"),
        ("prepare: 0.6 s", "window: 0.1 mm"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: gamma, mean: 2.4 s, cv: 30 %}"),
        ("{mean: 2.4 s, cv: 15 %}", "{law: empirical, times: [2.4 s, 2.5 s]}"),
        ("prepare: 0.6 s", "failures: [{every: {law: gamma, mean: 1 h, cv: 50 %}, of: clock, repair: 1 s}]"),
        ("prepare: 0.6 s", "failures: [{one_in: 800 cycles, repair: {mean: 1 s, cv: 20 %}}]"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {lane: upper, from: 0 mm, to: 9 mm, most: 2}}"),
        ("carriers: 14", "carriers: 14\nadmission: {a: {lanes: [upper], most: 2}, b: {transfers: [turn], most: 1}}"),
        ("prepare: 0.6 s", "force: none"),
        ("prepare: 0.6 s", "force: {down: -620 N, greatest: 900 N, at: [12 mm, 0 mm, -65 mm]}"),
        ("prepare: 0.6 s", "force: [{down: 620 N}, {along: 2 N}]"),
        ("prepare: 0.6 s", "tolerance: {x: ±0.1 mm, y: ± 0.1 mm, z: 0.2 mm, cpk: 1.67}"),
        ("prepare: 0.6 s", "tool: {errors: {reach: {x: ±1 mm, kind: bias}, rock: {z: 1 mm, law: uniform}}}"),
        ("prepare: 0.6 s", "guard: {kind: scanner, height: 0.3 m, distance: 1 m, device: 9 ms, logic: 0 s}"),
        ("prepare: 0.6 s", "guard: {kind: interlocked, distance: 1 m, device: 9 ms, logic: 9 ms}"),
        ("mass: 180 g", "mass: 180 g, liquid: {diameter: 9 mm, depth: 4 mm, freeboard: 4 mm}"),
        (
            "carriers: 14",
            "carriers: 14\nfeeders: {a: {lane: upper}, b: {lane: lower, from: 0 mm, to: 9 mm, fuse: 25 A}}",
        ),
        ("carriers: 14", "carriers: 14\ntemperature: {least: 60 °F, most: 27 °C, set_up: 22 degC}"),
    ],
)
def test_a_right_form_passes(old: str, new: str) -> None:
    text = TWO_DECK
    assert old in text
    assert faults(LINE, text.replace(old, new, 1)) == []


def test_a_sheet_of_wrong_form_does_not_pass() -> None:
    text = (ROOM / "sheets" / "demo-heavy.yaml").read_text(encoding="utf-8")
    for old, new in [
        ("speed: 2.35 m/s", "speed: 2.35"),
        ("[1.7 m/s, 165 N]", "[165 N, 1.7 m/s]"),
        ("places: 1", "places: 2"),
        ("friction: 5.5 N", "friction: 5.5 lb"),
        ("carrier: {length", "carriage: {length"),
        ("per: carrier, count: 4, travel: 14000 km", "per: carrier, count: 4"),
        ("per: carrier, count: 4, travel: 14000 km", "per: carrier, travel: 14000 km, after: 2 months"),
        ("per: carrier, count: 4, travel: 14000 km", "per: transfer, travel: 14000 km"),
        ("per: transfer, cycles", "per: carrier, cycles"),
        ("play: 0.01 mm", "play: 0.01 mm, travel_life: 9000 km"),
        ("play: 0.01 mm", "play: 0.01 mm, kind: ball, travel_life: 9000 km"),
        ("stiffness: 240 N/µm", "stiffness: 240 N"),
        ("hottest: 110 °C", "hottest: 110"),
    ]:
        assert old in text
        assert faults(SHEET, text.replace(old, new, 1))


def test_data_that_nothing_reads_is_marked() -> None:
    marked = {key for key, item in sheet_schema()["properties"].items() if item.get("x-read-by") == "nothing yet"}
    assert marked == set()
    below = {
        (part, key)
        for part, of in sheet_schema()["$defs"].items()
        for key, item in of["properties"].items()
        if "x-read-by" in item
    }
    assert below == {("MotorSheet", "inductance")}
    assert "x-read-by" not in json.dumps(line_schema())
