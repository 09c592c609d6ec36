"""The rows of strength against a recomputation from docs/limits/strength.md alone, apart from the program."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from agree.limits_files import line_of, set_key, trees_of
from agree.limits_strength import allowed_force, facts_of, states, strength_rows
from agree.limits_strength_lines import EXAMPLES, differences, random_line
from agree.limits_strength_remedies import untrue_remedies
from linewright.checks.strength import StrengthResult, check_strength
from linewright.errors import LineFileError
from linewright.flow.duty import Duty, find_duty
from linewright.flow.run import run_plan
from linewright.layout import Layout, lay_out
from linewright.line.demand import find_takt
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan

SHORT = range(5)
LONG = range(5, 52)
REMEDIES = range(100, 140)
FILES = sorted((EXAMPLES / "limits").glob("*.yaml"))
WAYS = ("ring", "to-and-fro", "two-place-lift", "nests", "four-decks", "branch", "rework", "when-called")
HEIGHTS = {"part.mass_height": "18 mm", "fixture.mass_height": "-7 mm", "fixture.seat_height": "22 mm"}
PUSH = {"down": "40 N", "across": "-6 N", "along": "3 N", "greatest": "90 N", "at": ["6 mm", "-9 mm", "44 mm"]}


def strength_of(line: Line, layout: Layout, duty: Duty | None = None) -> StrengthResult:
    return check_strength(line, layout, None if line.demand is None else find_takt(line.demand), duty)


def disagreement(line: Line, duty: Duty | None = None) -> list[str]:
    layout = lay_out(line)
    return differences(strength_rows(line, layout, duty), strength_of(line, layout, duty).findings)


def changed(name: str, folder: Path, line: dict[str, object], sheet: dict[str, object]) -> Line:
    """A file of the examples with keys changed in it and in its sheet."""
    trees = trees_of(EXAMPLES / name)
    for tree, keys in zip(trees, (line, sheet), strict=True):
        for path, value in keys.items():
            set_key(tree, path, value)
    return line_of(*trees, folder)


def stated_way(name: str, folder: Path) -> Line:
    """One of examples/ways with heights, a demand and forces."""
    tree, sheet = trees_of(EXAMPLES / "ways" / f"{name}.yaml")
    demo = trees_of(EXAMPLES / "demo" / "line.yaml")
    sheet = {**{key: demo[1][key] for key in ("guides", "magnets", "allowed_force", "stopping")}, **sheet}
    set_key(sheet, "drive.servo_stiffness", "2 N/µm")
    set_key(sheet, "carrier.mass_height", "-14 mm")
    for path, value in HEIGHTS.items():
        set_key(tree, path, value)
    tree.setdefault("demand", demo[0]["demand"])
    for number, station in enumerate(tree["stations"].values()):
        station["force"] = PUSH if number % 2 else "none"
    return line_of(tree, sheet, folder)


@pytest.mark.parametrize("path", [EXAMPLES / "demo" / "line.yaml", *FILES], ids=lambda path: path.stem)
def test_files(path: Path) -> None:
    assert not disagreement(load_line(path))


@pytest.mark.parametrize("name", WAYS)
def test_ways_with_keys_of_strength(name: str, tmp_path: Path) -> None:
    assert not disagreement(stated_way(name, tmp_path))


def _random(number: int, folder: Path) -> None:
    line = random_line(number, folder)
    assert not disagreement(line), line.name


@pytest.mark.parametrize("number", SHORT)
def test_random_lines(number: int, tmp_path: Path) -> None:
    _random(number, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("number", LONG)
def test_more_random_lines(number: int, tmp_path: Path) -> None:
    _random(number, tmp_path)


def test_the_worst_of_counts_stations(tmp_path: Path) -> None:
    # Three axes of one support are one station, not three.
    keys: dict[str, object] = {
        "stations.rivet.force": {**PUSH, "greatest": "60 N"},
        "stations.rivet.support": {"down": "900 N", "across": "900 N", "along": "900 N"},
    }
    line = changed("limits/strength.yaml", tmp_path, keys, {})
    (found,) = [one for one in strength_of(line, lay_out(line)).findings if one.code == "support"]
    assert "worst of" not in found.where


@pytest.mark.parametrize(
    ("line", "sheet", "code"),
    [
        ({}, {"guides": None, "magnets": None}, "magnet-attraction"),
        ({"fixture": None}, {"guides": None}, "carried-mass"),
    ],
)
def test_lifting_is_never_passed_over(
    line: dict[str, object], sheet: dict[str, object], code: str, tmp_path: Path
) -> None:
    # The pull station lifts with 900 N: either a row holds that against a limit, or one says that nobody can.
    found = strength_of(changed_line := changed("limits/strength.yaml", tmp_path, line, sheet), lay_out(changed_line))
    assert {"carrier-lift", code} & {one.code for one in found.findings}


# ---- the tables ------------------------------------------------------------------------------------------------------


def _tables(line: Line) -> None:
    """Greatest tool force of each station and the worst block of each state of motion."""
    facts, layout = facts_of(line), lay_out(line)
    result = strength_of(line, layout)
    for row in result.stations.rows():
        station = line.station(row["station"])
        if any(one.greatest_N is None for one in station.force or ()):
            continue
        force_N, rows = allowed_force(facts, station)
        if math.isinf(force_N):  # no row limits it
            assert math.isnan(row["allowed_N"]), station.name
            continue
        if not rows:  # nothing that is stated limits this tool
            assert math.isnan(row["allowed_N"]), station.name
            continue
        assert math.isclose(row["allowed_N"], force_N, rel_tol=1e-6, abs_tol=1e-6), station.name
        assert row["allowed_by"] in rows, station.name
    moving = result.moving.rows()
    mine = list(states(facts)) if facts.can_move else []
    loads = sorted(float(facts.blocks(one.loads).load_N.max()) for one in mine)
    theirs = sorted(row["block_load_N"] for row in moving)
    assert {round(one, 6) for one in theirs} == {round(one, 6) for one in loads}


def test_tables() -> None:
    _tables(load_line(EXAMPLES / "limits" / "strength.yaml"))


@pytest.mark.long
def test_tables_of_the_demo() -> None:
    _tables(load_line(EXAMPLES / "demo" / "line.yaml"))


@pytest.mark.long
@pytest.mark.parametrize("number", range(200, 240))
def test_tables_of_random_lines(number: int, tmp_path: Path) -> None:
    _tables(random_line(number, tmp_path))


# ---- with a run ------------------------------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize("name", ["demo/line.yaml", "limits/strength.yaml", *WAYS])
def test_life_of_a_run(name: str, tmp_path: Path) -> None:
    line = load_line(EXAMPLES / name) if "/" in name else stated_way(name, tmp_path)
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    duty = find_duty(line, layout, plan, run_plan(line, plan, 0.5, 2, 1))
    assert not differences(strength_rows(line, layout, duty), strength_of(line, layout, duty).findings)


# ---- remedies --------------------------------------------------------------------------------------------------------


def test_remedies_of_the_example() -> None:
    line = load_line(EXAMPLES / "limits" / "strength.yaml")
    layout = lay_out(line)
    tried, untrue = untrue_remedies(line, layout, strength_of(line, layout).findings)
    assert tried >= 8
    assert not untrue


@pytest.mark.long
@pytest.mark.parametrize("number", REMEDIES)
def test_remedies_of_random_lines(number: int, tmp_path: Path) -> None:
    line = random_line(number, tmp_path)
    layout = lay_out(line)
    _, untrue = untrue_remedies(line, layout, strength_of(line, layout).findings)
    assert not untrue


def _in_inches(line: Line) -> int:
    """Of a line whose file is in inches: how many figures were tried, which all do what they say."""
    line = line.model_copy(update={"units": "inch"})
    layout = lay_out(line)
    tried, untrue = untrue_remedies(line, layout, strength_of(line, layout).findings)
    assert not untrue
    return tried


def test_remedies_of_the_example_in_inches() -> None:
    assert _in_inches(load_line(EXAMPLES / "limits" / "strength.yaml")) >= 8


@pytest.mark.long
@pytest.mark.parametrize("number", REMEDIES)
def test_remedies_of_random_lines_in_inches(number: int, tmp_path: Path) -> None:
    _in_inches(random_line(number, tmp_path))


def test_a_proposed_support_is_enough_for_deflection(tmp_path: Path) -> None:
    # Down and along both turn the plate: a support under the carrier alone leaves what along does.
    keys: dict[str, object] = {
        "stations.press.force": {
            "down": "90 N",
            "along": "45 N",
            "greatest": "101 N",
            "at": ["-9 mm", "0 mm", "78 mm"],
        },
        "stations.press.tolerance": {"x": "±1 µm"},
    }
    line = changed("limits/strength.yaml", tmp_path, keys, {})
    layout = lay_out(line)
    rows = [one for one in strength_of(line, layout).findings if one.code == "deflection" and one.verdict == "fails"]
    assert [one.where.split(",")[0] for one in rows] == ["station press"]
    assert not untrue_remedies(line, layout, tuple(rows))[1]


def test_no_remedy_names_an_endless_force(tmp_path: Path) -> None:
    # What is wholly supported has no greatest force of the blocks; weight and magnets alone make the row tight.
    sheet: dict[str, object] = {"guides.static_rating": "500 N", "guides.dynamic_rating": "400 N"}
    line = changed("limits/strength.yaml", tmp_path, {}, sheet)
    assert not [one.where for one in strength_of(line, lay_out(line)).findings if "inf" in one.remedy]


def test_what_holds_the_carrier_down_is_named_where_tools_push_both_ways(tmp_path: Path) -> None:
    # A support under the carrier takes the press and not the pull; yet once it is written lifting is told no more.
    forces = [{**PUSH, "greatest": "1600 N"}, {"down": "-600 N", "greatest": "700 N", "at": ["0 mm", "0 mm", "70 mm"]}]
    line = changed("limits/strength.yaml", tmp_path, {"stations.press.force": forces}, {})
    rows = [one for one in strength_of(line, lay_out(line)).findings if one.where.startswith("station press,")]
    assert {one.code: "clamp" in one.remedy for one in rows if one.code == "force-down"} == {"force-down": True}


def test_another_tool_is_no_remedy_for_weight_and_magnets(tmp_path: Path) -> None:
    # With force: none the row is told no more, and the blocks are as overloaded as before.
    sheet: dict[str, object] = {"guides.static_rating": "100 N", "guides.dynamic_rating": "40 N"}
    line = changed("limits/strength.yaml", tmp_path, {}, sheet)
    rows = [one for one in strength_of(line, lay_out(line)).findings if one.code == "static-safety"]
    assert rows
    assert not [one.where for one in rows if "force: none" in one.remedy]


def test_a_tight_row_names_nothing_weaker_than_what_is_there(tmp_path: Path) -> None:
    line = changed("limits/strength.yaml", tmp_path, {"stations.rivet.support": {"down": "4200 N"}}, {})
    (found,) = [one for one in strength_of(line, lay_out(line)).findings if one.code == "support"]
    assert found.verdict == "tight"
    assert "a support that takes 4000 N" not in found.remedy


# ---- extremes --------------------------------------------------------------------------------------------------------

EXTREMES: list[tuple[dict[str, object], dict[str, object]]] = [
    ({"stations.press.force": {"down": "1e8 N", "greatest": "1e8 N", "at": ["0 mm", "0 mm", "0 mm"]}}, {}),
    ({"stations.press.force": {"down": "1e-9 N", "greatest": "0.001 N", "at": ["0 mm", "0 mm", "0 mm"]}}, {}),
    ({"stations.rivet.tolerance": {"x": "±0 mm", "z": "±0 mm"}}, {}),
    ({"stations.press.tolerance": {"x": "±0 mm", "y": "±0 mm", "z": "±0 mm"}}, {}),
    ({"stations.pull.force": [PUSH] * 9}, {}),
    ({"carriers": 1}, {"magnets.attraction": "0 N", "drive.friction": "0 N"}),
    ({"fixture.mass": "0 kg"}, {"guides.static_rating": "1 N", "guides.dynamic_rating": "1 N"}),
    ({"demand.good_parts_per_year": 1}, {}),
    ({}, {"guides.along": "0.001 mm", "guides.across": "0.001 mm"}),
    ({}, {"guides.across": "90 m", "guides.plate_height": "-9 m", "guides.thrust_height": "9 m"}),
    ({}, {"guides.static_rating": "1e8 N", "guides.dynamic_rating": "1e8 N", "guides.rating_travel": "1e6 km"}),
    ({}, {"guides.kind": "other", "guides.travel_life": "0.001 km"}),
    ({}, {"stopping.deceleration": "9000 m/s²", "transfers.lift.acceleration": "9000 m/s²"}),
    ({"stations.load.misses": "99.9 %", "stations.load.rejects": "0 %"}, {}),
]  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("number", range(len(EXTREMES)))
def test_extremes(number: int, tmp_path: Path) -> None:
    try:
        line = changed("limits/strength.yaml", tmp_path, *EXTREMES[number])
    except LineFileError as refused:
        pytest.skip(str(refused))
    assert not disagreement(line)


# ---- the recomputation itself ----------------------------------------------------------------------------------------


def test_a_wrong_figure_is_seen() -> None:
    line = load_line(EXAMPLES / "limits" / "strength.yaml")
    layout = lay_out(line)
    rows = strength_rows(line, layout)
    (life,) = [row for row in rows if row.code == "guide-life"]
    assert life.value is not None
    off = [replace(row, value=life.value * (1 + 1e-5)) if row is life else row for row in rows]
    assert len(differences(off, strength_of(line, layout).findings)) == 2
    assert len(differences(rows[1:], strength_of(line, layout).findings)) == 1
