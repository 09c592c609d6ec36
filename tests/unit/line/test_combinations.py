"""What cannot be combined: every row of the list is refused with its message, every other pair is accepted.

The page, the code and the samples here name the same things by the same words.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from linewright.errors import LineFileError
from linewright.line.coherence.combinations import EXCLUDED, Excluded, is_excluded
from linewright.line.fields import FROM_FILE
from linewright.line.load import load_sheet, read_line
from linewright.line.model import Line

PAGE = (Path(__file__).parents[3] / "docs" / "line-file.md").read_text(encoding="utf-8")
SHEET = load_sheet("demo-light")
Tree = dict[str, Any]

LOOP = {
    "upper": {"length": "2944 mm", "from": "west", "to": "east"},
    "lower": {"length": "2944 mm", "from": "east", "to": "west", "across": "800 mm"},
}


def base() -> Tree:
    """A small sound line with rejects on the lane ``upper``, as a file's tree."""
    places = {"load": 300, "work": 700, "test": 1100, "scrap": 1500, "pack": 1900}
    stations: Tree = {name: {"lane": "upper", "at": f"{mm} mm", "time": "2 s"} for name, mm in places.items()}
    stations["test"]["rejects"] = "1 %"
    stations["scrap"]["reject_exit"] = True
    return {
        "linewright": 1,
        "name": "Pairs (invented)",
        "conveyor": "demo-light",
        "fixture": {"mass": "100 g"},
        "lanes": {name: dict(lane) for name, lane in LOOP.items()},
        "transfers": {
            "east": {"kind": "cross-transfer", "takes": "upper", "gives": "lower"},
            "west": {"kind": "cross-transfer", "takes": "lower", "gives": "upper"},
        },
        "carriers": 6,
        "stations": stations,
        "route": list(places),
    }


def _ring(tree: Tree) -> None:
    lane = {key: value for key, value in tree["lanes"]["upper"].items() if key not in ("length", "from", "to")}
    tree["lanes"]["upper"] = {**lane, "ring": {"long": "2208 mm"}}
    for station in tree["stations"].values():
        station["along"] = station.pop("at")


def _set(*path: str, value: Any) -> Callable[[Tree], None]:
    def change(tree: Tree) -> None:
        for key in path[:-1]:
            tree = tree.setdefault(key, {})
        tree[path[-1]] = value

    return change


def _branch(tree: Tree) -> None:
    tree["lanes"]["side"] = {"length": "2944 mm", "from": "west", "to": "east", "across": "400 mm"}
    tree["transfers"]["east"]["takes"] = ["upper", "side"]
    tree["transfers"]["west"]["gives"] = ["upper", "side"]


def _places(tree: Tree) -> None:
    for transfer in tree["transfers"].values():
        transfer["places"] = 2


def _variants(tree: Tree) -> None:
    by_sequence = "sequence" in tree
    tree["variants"] = {name: {} if by_sequence else {"share": "50 %"} for name in ("a", "b")}
    tree["variants"]["b"] |= {"times": {"work": {"mean": "3 s", "cv": "10 %"}}, "skips": ["pack"]}


def _fixture_sets(tree: Tree) -> None:
    sets = {"red": {"carriers": 4, "variants": ["a"]}, "blue": {"carriers": 2, "variants": ["a", "b"]}}
    tree["fixture_sets"] = sets


def _operators(tree: Tree) -> None:
    tree["stations"]["load"]["work"] = "manual"
    pool = tree.setdefault("operators", {"floor": {"operators": 1, "stations": [], "walk": "1 s"}})["floor"]
    pool["stations"].append("load")


def _release(tree: Tree) -> None:
    tree["stations"]["work"]["release"] = "1 s"
    pool = tree.setdefault("operators", {"floor": {"operators": 1, "stations": [], "walk": "1 s"}})["floor"]
    pool["stations"].append("work")


def _rework_only(tree: Tree) -> None:
    tree["stations"]["test"]["rework"] = {"share": "5 %", "to": "work", "at_most": 2}
    tree["stations"]["repair"] = {"lane": "upper", "time": "5 s", "rework_only": True}
    tree["stations"]["repair"]["along" if "along" in tree["stations"]["load"] else "at"] = "2.1 m"
    tree["stations"]["test"]["rework"]["to"] = "repair"
    tree["route"].append("repair")


CHANGE = {"time": "1 h", "station": "load"}
MACHINE = {"every": "1 s", "buffer": 4}
REWORK = {"share": "5 %", "to": "work", "at_most": 2}
# What each way of working needs besides, and what of the list it brings along.
WAYS: dict[str, tuple[Callable[[Tree], None], tuple[str, ...], tuple[str, ...]]] = {
    "ring": (_ring, (), ("a ring",)),
    "two-way": (_set("lanes", "upper", "two_way", value=True), (), ("a `two_way` lane",)),
    "together": (_set("lanes", "upper", "moves", value="together"), (), ("a lane that moves `together`",)),
    "branch": (_branch, ("loop",), ("a transfer of several docks", "several lanes that it `gives` to")),
    "places": (_places, ("loop",), ("a transfer of several places",)),
    "when called": (_set("transfers", "west", "returns", value="when-called"), ("loop",), ()),
    "loop": (lambda tree: None, (), ("transfers", "a second lane")),
    "going on": (_set("going_on", value=True), (), ("`going_on`",)),
    "nests": (_set("fixture", "nests", value=2), (), ("several `nests`",)),
    "each": (_set("stations", "work", "each", value="carrier"), ("nests",), ()),
    "misses": (_set("stations", "load", "misses", value="2 %"), (), ()),
    "exit": (_set("stations", "test", "exit", value="scrap"), (), ()),
    "rework": (_set("stations", "test", "rework", value=REWORK), (), ("`rework`",)),
    "rework only": (_rework_only, (), ("`rework`",)),
    "sequence": (_set("sequence", value=[{"a": 5}, {"b": 3}]), ("variants",), ("`sequence`",)),
    "run-out": (_set("run_out", value=True), ("sequence",), ()),
    "variants": (_variants, (), ()),
    "changeover": (_set("stations", "work", "changeover", value={"a": {"b": "3 s"}, "b": {"a": "0 s"}}),
                   ("variants",), ()),
    "fixture sets": (_fixture_sets, ("variants",), ("`fixture_sets`",)),
    "operators": (_operators, (), ()),
    "release": (_release, (), ()),
    "breaks": (_set("calendar", value={"shift": "8 h", "breaks": {"noon": {"at": "4 h", "for": "30 min"}}}), (), ()),
    "run-down": (_set("calendar", value={"shift": "8 h", "run_down": "10 min"}), (), ()),
    "feed": (_set("stations", "load", "feed", value={**MACHINE, "start": 2}), (), ()),
    "take-away": (_set("stations", "scrap", "take_away", value=MACHINE), (), ()),
    "admission": (_set("admission", value={"hood": {"lane": "upper", "from": "500 mm", "to": "900 mm", "most": 2}}),
                  (), ("`admission`",)),
    "carriers out": (_set("carrier_changes", value=[{**CHANGE, "out": 2}]), (), ("`carrier_changes`",)),
    "carriers in": (_set("carrier_changes", value=[{**CHANGE, "in": 2}]), (), ("`carrier_changes`",)),
    "repeat": (_set("stations", "work", "after_power_loss", value="repeat"), (), ()),
    "failures": (_set("stations", "work", "failures", value=[{"one_in": "9 cycles", "repair": "9 s"}]), (), ()),
}  # fmt: skip


def with_ways(*ways: str) -> tuple[list[str], Tree]:
    """The ways with all that they need, and a tree that works so."""
    wanted: list[str] = []
    left = list(ways)
    while left:
        way = left.pop()
        if way not in wanted:
            wanted.append(way)
            left += WAYS[way][1]
    tree = base()
    if "loop" not in wanted and {"ring", "two-way"} & set(wanted):
        del tree["lanes"]["lower"], tree["transfers"]
    for way in WAYS:
        if way in wanted:
            WAYS[way][0](tree)
    return wanted, tree


def brought(ways: list[str]) -> set[str]:
    return {word for way in ways for word in WAYS[way][2]}


def faults(tree: Tree) -> list[str]:
    """What is wrong with a tree, without the detour over its text."""
    try:
        Line.model_validate({**tree, "conveyor": SHEET}, context=FROM_FILE, by_alias=True, by_name=False)
    except ValidationError as error:
        return str(error).splitlines()
    return []


PAIRS = list(combinations(WAYS, 2))


def test_every_pair_that_is_not_in_the_list_is_accepted_and_every_other_refused() -> None:
    wrong = []
    refused = 0
    for one, other in PAIRS:
        if {one, other} in ({"breaks", "run-down"}, {"carriers out", "carriers in"}, {"rework", "rework only"}):
            continue  # the same key twice
        ways, tree = with_ways(one, other)
        words = brought(ways)
        is_listed = any(row.this in words and row.that in words for row in EXCLUDED)
        refused += is_listed
        found = faults(tree)
        if bool(found) != is_listed:
            wrong.append((one, other, found))
    assert wrong == []
    assert 20 < refused < len(PAIRS) / 3


@pytest.mark.parametrize("way", WAYS)
def test_every_way_alone_can_be_written_as_a_file(way: str) -> None:
    _, tree = with_ways(way)
    line = read_line(json.dumps(tree, indent=1))
    assert not any(is_excluded(line, row) for row in EXCLUDED)
    assert json.dumps(line.model_dump(mode="json"), allow_nan=False)


def breaking(row: Excluded) -> Tree:
    """A tree that combines what a row excludes, made of the ways that bring the two."""
    change = {**CHANGE, "station": "pack"}
    special: dict[str, Callable[[Tree], None]] = {
        "no `sequence`": _set("run_out", value=True),
        "no pool that names the station": _set("stations", "work", "release", value="1 s"),
        "a station that is not of the first step": _set("carrier_changes", value=[{**change, "out": 1}]),
        "more `nests`": _set("stations", "load", "feed", value={**MACHINE, "buffer": 1}),
        "no `force`": _set("stations", "work", "support", value={"down": "90 N"}),
    }  # fmt: skip
    if row.that in special:
        _, tree = with_ways(*{"no `sequence`": ["variants"], "more `nests`": ["nests"]}.get(row.that, []))
        special[row.that](tree)
        return tree
    pair = [next(way for way in WAYS if word in WAYS[way][2]) for word in (row.this, row.that)]
    return with_ways(*pair)[1]


@pytest.mark.parametrize("row", EXCLUDED, ids=lambda row: f"{row.this} and {row.that}".replace("`", ""))
def test_every_row_of_the_list_is_refused_with_its_place_and_its_remedy(row: Excluded) -> None:
    text = json.dumps(breaking(row), indent=1)
    with pytest.raises(LineFileError) as caught:
        read_line(text, "pair.yaml")
    begin = f"{row.this} with {row.that}: ".replace("`", "")
    told = [fault for fault in caught.value.faults if fault.found.startswith(begin)]
    assert told
    assert {fault.allowed for fault in told} == {row.instead}
    assert all(fault.place.line > 1 and row.why in fault.found for fault in told)


def test_the_page_has_the_list_as_it_is() -> None:
    (section,) = re.findall(r"^## What cannot be combined\n(.*?)(?=^## )", PAGE, re.DOTALL | re.MULTILINE)
    table = [row for row in section.splitlines() if row.startswith("|")]
    rows = [tuple(cell.strip() for cell in row.strip("|").split(" | ")) for row in table]
    assert rows[2:] == [(row.this, row.that, row.why, row.instead) for row in EXCLUDED]


def test_several_places_go_with_several_lanes_to_take_from() -> None:
    _, tree = with_ways("branch")
    tree["transfers"]["east"]["places"] = 2
    assert faults(tree) == []
    tree["transfers"]["west"]["places"] = 2
    assert faults(tree) != []
