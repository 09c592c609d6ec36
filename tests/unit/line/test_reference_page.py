"""The reference page of the line file and the sheet: its tables hold exactly the keys of the schemas."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from linewright.line.document import parse
from linewright.line.load import read_line
from linewright.line.schema import line_schema, sheet_schema

PAGE = (Path(__file__).parents[3] / "docs" / "line-file.md").read_text(encoding="utf-8")
LINE, SHEET = line_schema(), sheet_schema()
EXAMPLES = re.findall(r"^```yaml\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
LINE_PARTS = {
    "Acceptance": "`acceptance`",
    "Base": "`base`",
    "Baseline": "`baseline`",
    "BaselinePrices": "`prices` of the baseline",
    "BrakingResistor": "`braking_resistor`",
    "Cabinet": "`cabinet`",
    "Cable": "`cable`",
    "Calendar": "`calendar`",
    "CarrierChange": "`carrier_changes`",
    "Controls": "`controls`",
    "Demand": "`demand`",
    "Environment": "`environment`",
    "ErrorSource": "`errors`",
    "Failure": "`failures`",
    "Feeder": "`feeders`",
    "Fixture": "`fixture`",
    "FixtureSet": "`fixture_sets`",
    "FrictionHold": "`friction`",
    "Guard": "`guard`",
    "Held": "`held`",
    "Lane": "`lanes`",
    "Link": "`link`",
    "Liquid": "`liquid`",
    "MotorZone": "`motor_zones`",
    "MoveLimits": "`move_limits`",
    "OperatorPool": "`operators`",
    "Outside": "`feed` and `take_away`",
    "Part": "`part`",
    "Rework": "`rework`",
    "Ring": "`ring`",
    "ShiftBreak": "`breaks`",
    "Station": "`stations`",
    "Stretch": "`admission`",
    "Support": "`support`",
    "TemperatureRange": "`temperature`",
    "TimeLaw": "Time laws",
    "Tolerance": "`tolerance`",
    "Tool": "`tool`",
    "ToolForce": "`force`",
    "Transfer": "`transfers`",
    "UpkeepPlan": "`upkeep`",
    "Variant": "`variants`",
}
SHEET_PARTS = {
    "AccuracySheet": "`accuracy`",
    "CarrierSheet": "`carrier`",
    "CoastingSheet": "`coasting`",
    "Curve": "`curve`",
    "DriveSheet": "`drive`",
    "ForceSheet": "`allowed_force`",
    "GuideSheet": "`guides`",
    "ImageSheet": "`image`",
    "LogicSheet": "`logic`",
    "MagnetSheet": "`magnets`",
    "MostSheet": "`most`",
    "MotorSheet": "`motor`",
    "PriceSheet": "`prices`",
    "ReactionSheet": "`reaction`",
    "SectionStock": "`sections`",
    "StoppingSheet": "`stopping`",
    "SupplySheet": "`supply`",
    "TransferSheet": "`transfers` of the sheet",
    "UpkeepSheet": "`upkeep` of the sheet",
    "WearPart": "`wear_parts`",
}
CASES = [
    ("The whole line file", LINE),
    ("The whole conveyor sheet", SHEET),
    *((heading, LINE["$defs"][part]) for part, heading in LINE_PARTS.items()),
    *((heading, SHEET["$defs"][part]) for part, heading in SHEET_PARTS.items()),
]


def rows(heading: str) -> dict[str, str]:
    """Key -> its row, of the tables under one heading."""
    (section,) = re.findall(rf"^### {re.escape(heading)}\n(.*?)(?=^##|\Z)", PAGE, re.DOTALL | re.MULTILINE)
    found = re.findall(r"^(\| `(\w+)` \|.*)$", section, re.MULTILINE)
    assert len({key for _, key in found}) == len(found), "a key stands twice"
    return {key: row for row, key in found}


def keys_of(part: dict[str, Any]) -> dict[str, Any]:
    if "properties" in part:
        return dict(part["properties"])
    return {key: item for branch in part["anyOf"] for key, item in branch.get("properties", {}).items()}


def test_every_part_of_the_schemas_has_its_heading() -> None:
    assert set(LINE["$defs"]) == set(LINE_PARTS)
    assert set(SHEET["$defs"]) == set(SHEET_PARTS)


@pytest.mark.parametrize("heading, part", CASES, ids=[heading for heading, _ in CASES])
def test_the_table_holds_the_keys_of_the_schema(heading: str, part: dict[str, Any]) -> None:
    table, keys = rows(heading), keys_of(part)
    assert set(table) == set(keys)
    assert {key for key in table if "(nothing yet)" in table[key]} == {key for key in keys if "x-read-by" in keys[key]}
    if heading not in ("`stations`", "Time laws"):  # there it depends on another key
        required = {key for key, row in table.items() if row.split(" | ")[2] == "required"}
        assert required == set(part.get("required", ()))


def test_the_small_file_can_be_read() -> None:
    text, _ = EXAMPLES
    assert parse(text, "page.yaml", "").tree["carriers"] == read_line(text, "page.yaml").carriers == 6
