"""The JSON Schemas (draft 2020-12) of the line file and the conveyor sheet, made from the models, for editors.

A schema checks form: keys, words, numbers, quantities with a unit of the right kind. What must fit together (a route
that can be gone, a station on its lane) is told by ``linewright check`` alone.
"""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel

from linewright.line import units
from linewright.line.document import PathKey
from linewright.line.fields import LONGEST_NAME, NAME_KEY, NAME_PATTERN
from linewright.line.model import Line
from linewright.line.sheet import DOCUMENT_KEY, Sheet
from linewright.line.tooling import ToolForce

_DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
_NOT_IN_A_FILE: Final = ("LineDocument", "Fault", "Place")  # parts of the model that no file states
_OF_A_SHEET: Final = ("Curve", "SectionStock", "WearPart")  # parts of a sheet that a line names but does not state
_NAME: Final = {"type": "string", "pattern": NAME_PATTERN, "maxLength": LONGEST_NAME}


def line_schema() -> dict[str, Any]:
    """The schema of the line file."""
    schema = _of_model(Line, "Linewright line file", "linewright")
    properties, parts = schema["properties"], schema["$defs"]
    for unused in [name for name in parts if name.endswith("Sheet") or name in _OF_A_SHEET]:
        del parts[unused]
    for part in ("Step", "Changeover"):
        del parts[part]
    for key, part in (("lanes", "Lane"), ("transfers", "Transfer"), ("stations", "Station")):
        properties[key] = _names_to(part, f"Name: what the {part.lower()} is.")
    for key, part, what in (
        ("operators", "OperatorPool", "operators who share stations"),
        ("variants", "Variant", "a variant of the product"),
        ("fixture_sets", "FixtureSet", "carriers whose fixture takes certain variants"),
        ("admission", "Stretch", "a stretch of a lane, or whole lanes and transfers, that admits so many carriers"),
        ("feeders", "Feeder", "the motor supply of a lane, or of a stretch of one"),
        ("motor_zones", "MotorZone", "a stretch of track whose motor supply is switched off by itself"),
    ):
        properties[key] = _names_to(part, f"Name: {what}.")
    parts["Tool"]["properties"]["errors"] = _names_to("ErrorSource", "Name: an error at the tool point.")
    _add_force(parts)
    parts["MoveLimits"]["minProperties"] = 1
    parts["Calendar"]["properties"]["breaks"] = _names_to("ShiftBreak", "Name: a break.")
    properties["conveyor"] = {
        "type": "string",
        "description": "A built-in sheet (demo-light, demo-heavy; invented) or a path from the line file's folder.",
        "examples": ["demo-heavy"],
    }
    properties["route"] = {
        "type": "array",
        "minItems": 1,
        "description": "The steps in order: a station, or a list of stations that share the step.",
        "items": {"anyOf": [_NAME, {"type": "array", "minItems": 1, "uniqueItems": True, "items": _NAME}]},
    }
    properties["sequence"] = {
        "type": "array",
        "minItems": 1,
        "description": properties["sequence"]["description"],
        "items": {
            "type": "object",
            "propertyNames": _NAME,
            "minProperties": 1,
            "maxProperties": 1,
            "additionalProperties": {"type": "integer", "minimum": 1},
        },
        "examples": [[{"a": 50}, {"b": 20}]],
    }
    parts["TimeLaw"] = _time_schema()
    _exclude_keys(parts)
    return schema


def _names_to(part: str, description: str) -> dict[str, Any]:
    """A mapping of names to items of one kind."""
    return {
        "type": "object",
        "description": description,
        "minProperties": 1,
        "propertyNames": _NAME,
        "additionalProperties": {"$ref": f"#/$defs/{part}"},
    }


def _exclude_keys(parts: dict[str, Any]) -> None:
    """Which keys of one group stand together, or in place of each other."""
    parts["Held"] |= {"minProperties": 1, "maxProperties": 1}
    lane, transfer, station = parts["Lane"], parts["Transfer"], parts["Station"]
    lane["oneOf"] = [
        {"required": ["length", "from", "to"], "not": {"required": ["ring"]}},
        {
            "required": ["ring"],
            "not": {"anyOf": [{"required": ["length"]}, {"required": ["from"]}, {"required": ["to"]}]},
        },
    ]
    for key in ("takes", "gives"):
        lanes = {"type": "array", "minItems": 1, "uniqueItems": True, "items": _NAME}
        transfer["properties"][key] = {
            "description": transfer["properties"][key]["description"],
            "anyOf": [_NAME, lanes],
        }
    _allow_like(station)
    station["not"] = {"anyOf": [{"required": ["settling", "window"]}, {"required": ["at", "along"]}]}
    station["properties"]["changeover"] = _changeover_schema(station["properties"]["changeover"]["description"])
    parts["Variant"]["properties"]["times"] = {
        "type": "object",
        "description": parts["Variant"]["properties"]["times"]["description"],
        "propertyNames": _NAME,
        "additionalProperties": {"$ref": "#/$defs/TimeLaw"},
    }
    parts["Fixture"]["dependentRequired"] = {"natural_frequency": ["damping"], "damping": ["natural_frequency"]}
    parts["OperatorPool"]["not"] = {"required": ["walking_speed", "walk"]}
    _exclude_forms(parts["Stretch"])
    _exclude_of_limits(parts)
    parts["CarrierChange"]["oneOf"] = [{"required": ["out"]}, {"required": ["in"]}]
    parts["Failure"]["oneOf"] = [
        {"required": ["every"], "not": {"required": ["one_in"]}},
        {"required": ["one_in"], "not": {"anyOf": [{"required": ["every"]}, {"required": ["of"]}]}},
    ]


def _add_force(parts: dict[str, Any]) -> None:
    """A station's force: ``none``, one force, or a list of forces."""
    parts["ToolForce"] = _tidy(ToolForce.model_json_schema(by_alias=True, mode="validation"), ())
    parts["ToolForce"]["anyOf"] = [{"required": [key]} for key in ("down", "across", "along")]
    force = {"$ref": "#/$defs/ToolForce"}
    parts["Station"]["properties"]["force"] = {
        "description": parts["Station"]["properties"]["force"]["description"],
        "anyOf": [{"const": "none"}, force, {"type": "array", "minItems": 1, "items": force}],
        "examples": ["none", {"down": "620 N", "greatest": "900 N", "at": ["12 mm", "0 mm", "65 mm"]}],
    }


def _exclude_of_limits(parts: dict[str, Any]) -> None:
    """Alternatives among the keys by which the limits are checked."""
    parts["Liquid"]["oneOf"] = [{"required": ["length"]}, {"required": ["diameter"]}]
    parts["Support"]["minProperties"] = 1
    parts["Tolerance"]["anyOf"] = [{"required": [key]} for key in "xyz"]
    parts["ErrorSource"]["anyOf"] = [{"required": [key]} for key in "xyz"]
    parts["ErrorSource"]["not"] = {"properties": {"kind": {"const": "bias"}}, "required": ["kind", "law"]}
    parts["Feeder"] |= {"dependentRequired": {"from": ["to"], "to": ["from"]}, "not": {"required": ["fuse", "breaker"]}}
    own = {"light-curtain": "resolution", "scanner": "height", "locked": "unlocks_after"}
    parts["Guard"]["oneOf"] = [
        {
            "properties": {"kind": {"const": kind}, **{key: False for one, key in own.items() if one != kind}},
            "required": [own[kind]] if kind in own else [],
        }
        for kind in parts["Guard"]["properties"]["kind"]["enum"]
    ]


def _exclude_forms(stretch: dict[str, Any]) -> None:
    """A stretch of one lane, or whole lanes and transfers."""
    one_lane = [{"required": [key]} for key in ("lane", "from", "to")]
    whole = [{"required": [key]} for key in ("lanes", "transfers")]
    stretch["oneOf"] = [
        {"required": ["lane", "from", "to"], "not": {"anyOf": whole}},
        {"anyOf": whole, "not": {"anyOf": one_lane}},
    ]
    for key in ("lanes", "transfers"):
        described = stretch["properties"][key]["description"]
        stretch["properties"][key] = {
            "description": described,
            "type": "array",
            "minItems": 1,
            "uniqueItems": True,
            "items": _NAME,
        }


def _changeover_schema(description: str) -> dict[str, Any]:
    time = {"type": "string", "pattern": units.quantity_pattern(units.TIME), "examples": ["30 s"]}
    row = {"type": "object", "propertyNames": _NAME, "minProperties": 1, "additionalProperties": time}
    pairs = {"type": "object", "propertyNames": _NAME, "minProperties": 1, "additionalProperties": row}
    return {"description": description, "anyOf": [time, pairs]}


def sheet_schema() -> dict[str, Any]:
    """The schema of the conveyor sheet; ``x-read-by`` marks data that nothing reads yet."""
    schema = _of_model(Sheet, "Linewright conveyor sheet", "conveyor_sheet")
    parts = schema["$defs"]
    parts["UpkeepSheet"]["properties"]["wear_parts"] = _names_to("WearPart", "Name: a part that wears or fails.")
    parts["WearPart"]["oneOf"] = [
        {"required": ["travel"], "properties": {"per": {"const": "carrier"}}},
        {"required": ["cycles"], "properties": {"per": {"const": "transfer"}}},
        {"required": ["after"]},
        {"required": ["every"]},
    ]
    parts["GuideSheet"]["dependentSchemas"] = {
        "travel_life": {"properties": {"kind": {"const": "other"}}, "required": ["kind"]}
    }
    return schema


def _of_model(model: type[BaseModel], title: str, version_key: str) -> dict[str, Any]:
    schema: dict[str, Any] = _tidy(model.model_json_schema(by_alias=True, mode="validation"), ())
    for part in _NOT_IN_A_FILE:
        schema["$defs"].pop(part, None)
    schema["required"] = [version_key, *schema["required"]]
    return {"$schema": _DRAFT, "title": title, **{key: schema[key] for key in schema if key != "title"}}


def _tidy(value: Any, path: PathKey) -> Any:
    """The schema without what stands in no file: hidden keys, made-up titles, null, defaults that mean absence."""
    if isinstance(value, list):
        return [_tidy(item, path) for item in value]
    if not isinstance(value, dict):
        return value
    if path and path[-1] in ("properties", "$defs"):
        return {key: _tidy(item, (*path, "")) for key, item in value.items() if key not in (NAME_KEY, DOCUMENT_KEY)}
    branches = [branch for branch in value.get("anyOf", ()) if branch != {"type": "null"}]
    if len(branches) == 1:
        value = {**branches[0], **{key: item for key, item in value.items() if key != "anyOf"}}
    tidy = {key: _tidy(item, (*path, key)) for key, item in value.items() if key != "title"}
    if tidy.get("default", "") is None:
        del tidy["default"]
    if "default" in tidy and tidy.get("type") == "string" and not isinstance(tidy["default"], str):
        del tidy["default"]  # a quantity's default inside is no text as a file has it
    if isinstance(tidy.get("required"), list):
        tidy["required"] = [key for key in tidy["required"] if key not in (NAME_KEY, DOCUMENT_KEY)]
    return tidy


def _time_schema() -> dict[str, Any]:
    time = {"type": "string", "pattern": units.quantity_pattern(units.TIME), "examples": [units.TIME.example]}
    share = {"type": "string", "pattern": units.quantity_pattern(units.SHARE), "examples": [units.SHARE.example]}

    def law(name: str, keys: dict[str, Any], required: bool = True) -> dict[str, Any]:
        return {
            "type": "object",
            "properties": {"law": {"const": name}, **keys},
            "required": [*(["law"] if required else []), *keys],
            "additionalProperties": False,
        }

    return {
        "description": "A fixed time, or a law: {mean, cv} is lognormal.",
        "anyOf": [
            time,
            law("lognormal", {"mean": time, "cv": share}, required=False),
            law("gamma", {"mean": time, "cv": share}),
            law("exponential", {"mean": time}),
            law("triangular", {"least": time, "likely": time, "most": time}),
            law("fixed", {"mean": time}),
            law("empirical", {"times": {"type": "array", "minItems": 2, "items": time}}),
        ],
    }


def _allow_like(station: dict[str, Any]) -> None:
    """``like`` copies the keys of another station, so that only the place must be given besides."""
    station["properties"]["like"] = {**_NAME, "description": "Another station, whose keys but its place are copied."}
    station["required"] = [key for key in station["required"] if key != "time"]
    station["allOf"] = [
        {"anyOf": [{"required": ["time"]}, {"required": ["like"]}]},
        {"anyOf": [{"required": ["at"]}, {"required": ["along"]}]},
    ]
