"""The rows of accuracy against a plain recomputation from docs/limits/accuracy.md; what remedies say is tried."""

from __future__ import annotations

import copy
import math
import re
from pathlib import Path
from typing import Final

import pytest

from agree.limits_accuracy import Ask, Error, Summed, accuracy_rows, axes_of, missing_figures, summed
from agree.limits_rows import ROOT, Tree, differences, tree_of, valid_line
from agree.limits_tool_lines import base_trees, random_files, random_lines
from linewright.checks.accuracy import check_accuracy
from linewright.findings import Finding
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import Line

LIMITS: Final = sorted((ROOT / "examples" / "limits").glob("*.yaml"))
OTHERS: Final = sorted(p for name in ("ways", "locks", "two-lane") for p in (ROOT / "examples" / name).glob("*.yaml"))


def compared(line: Line) -> list[str]:
    """What the program and the page do not have in common."""
    layout = lay_out(line)
    findings = check_accuracy(line, layout).findings
    figures = [one for one in findings if one.code == "accuracy-figures"]
    others = [one for one in findings if one.code != "accuracy-figures"]
    told = differences(accuracy_rows(line, layout), others, [one.name for one in line.stations])
    mine, theirs = missing_figures(line, layout), figures_told(figures)
    if mine != theirs:
        told.append(f"missing figures: {mine} against {theirs}")
    return told + [f"verdict of {one.code}" for one in figures if one.verdict != "not checked"]


def figures_told(figures: list[Finding]) -> dict[str, tuple[set[str], set[str]]]:
    """By owner: the stations and the figures that a row names."""
    found = {}
    for one in figures:
        parts = re.match(r"stations? (.*): not stated (?:in|at) the (.*), so not counted: (.*)$", one.where)
        assert parts is not None, one.where
        names = {re.sub(r" under [\w.]+", "", word) for word in parts[3].split(", ")}
        assert len(parts[1].split(", ")) == len(set(parts[1].split(", ")))
        found[parts[2]] = (set(parts[1].split(", ")), names)
    return found


@pytest.mark.parametrize("path", [ROOT / "examples" / "demo" / "line.yaml", *LIMITS], ids=lambda p: p.stem)
def test_examples(path: Path) -> None:
    assert compared(load_line(path)) == []


@pytest.mark.long
@pytest.mark.parametrize("path", OTHERS, ids=lambda p: p.stem)
def test_other_examples(path: Path) -> None:
    assert compared(load_line(path)) == []


def test_random_lines(tmp_path: Path) -> None:
    told = {i: compared(line) for i, line in enumerate(random_lines(20261125, 4, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


@pytest.mark.long
def test_many_random_lines(tmp_path: Path) -> None:
    told = {i: compared(line) for i, line in enumerate(random_lines(811, 120, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


def test_a_tolerance_of_nought_fails(tmp_path: Path) -> None:
    tree, sheet = base_trees("ring")
    tree["stations"]["grind"]["tolerance"] = {"x": "±0 mm"}
    line = valid_line(tree, sheet, tmp_path)
    assert line is not None
    assert compared(line) == []
    assert [one.verdict for one in accuracy_rows(line, lay_out(line)) if one.code == "capability"] == ["fails"]


def test_a_force_is_asked_for_beside_the_tool_point(tmp_path: Path) -> None:
    """Both are missing, and the servo needs no tool point: a user is told of both at once."""
    tree, sheet = base_trees("ring")
    tree["stations"]["grind"]["tolerance"] = {"x": "±0.1 mm"}
    line = valid_line(tree, sheet, tmp_path)
    assert line is not None
    figures = [one for one in check_accuracy(line, lay_out(line)).findings if one.code == "accuracy-figures"]
    assert {"force", "at"} <= figures_told(figures)["station"][1]


def test_the_servo_gives_way_without_a_tool_point_too(tmp_path: Path) -> None:
    """Of a force along without a point the deflection cannot be reckoned, what the servo gives can."""
    tree, sheet = base_trees("ring")
    tree["stations"]["grind"] |= {"tolerance": {"x": "±0.1 mm"}, "force": {"along": "6 N", "greatest": "6 N"}}
    line = valid_line(tree, sheet, tmp_path)
    assert line is not None
    layout = lay_out(line)
    rows = [one for one in accuracy_rows(line, layout) if one.code == "worst-case"]
    found = [one for one in check_accuracy(line, layout).findings if one.code == "worst-case"]
    assert differences(rows, found, ["grind"]) == []


def words_wrong(line: Line) -> list[str]:
    """What the words of `capability` and `worst-case` say against the page: Cp, chance, pinning, halving."""
    layout, told = lay_out(line), []
    for row in check_accuracy(line, layout).findings:
        if row.code not in ("capability", "worst-case"):
            continue
        at = re.match(r"station (\S+), (\w)", row.where)
        assert at is not None
        station = line.station(at[1])
        tolerance_m, asked = dict(axes_of(station))[at[2]], asked_of(line, (at[1], at[2], 0.0))
        ask = Ask(line, layout, station, set())
        errors = ask.errors(at[2])
        total = summed(errors)
        stays = pinned_cpk(line, (at[1], at[2], 0.0))
        if row.code == "worst-case":
            halved = [summed([halved_of(e) if e is one else e for e in errors]).worst_m for one in errors]
            expected = {
                r"halving .* brings it to ±([\d.]+) mm": min(halved) * 1e3,
                r"without play to ±([\d.]+) mm": pinned(line, (at[1], at[2], 0.0)).worst_m * 1e3,
            }
            expected = expected if total.worst_m > tolerance_m else {}
        else:
            cpk = total.cpk(tolerance_m)
            assert cpk is not None
            pinning = pinning_of(line, (at[1], at[2], 0.0), cpk >= asked, stays >= asked, bool(ask.missing))
            if f"pinning {pinning}" not in row.where:
                told.append(f"{row.where}: {pinning}")
            expected = {
                r", Cp ([\d.]+)": tolerance_m / 3.0 / total.sigma_m,
                r"outside ([\d.]+) parts per million": total.outside_ppm(tolerance_m),
                r"3 σ of ([\d.]+) mm": 3e3 * total.sigma_m,
                r"bias [-+±]([\d.]+) mm": abs(total.bias_m) * 1e3,
            }
            if row.verdict == "not checked":  # nothing is promised of a budget that lacks figures
                assert "parts per million" not in row.where
                expected.pop(r"outside ([\d.]+) parts per million")
        for pattern, value in expected.items():
            if value < 1e-3 and "outside" in pattern:
                pattern, value = r"outside under ([\d.]+) parts per million", 1e-3
            found = re.search(pattern, row.where)
            if found is None or not math.isclose(float(found[1]), value, rel_tol=6e-3, abs_tol=1e-9):
                told.append(f"{row.where}: {pattern} {value}")
    return told


def pinning_of(line: Line, at: tuple[str, str, float], met: bool, met_pinned: bool, lacks: bool) -> str:
    """Needed, not needed or not enough; what missing figures could turn is not known."""
    station = line.station(at[0])
    if station.pin_m is not None:
        return "stated"
    if met:
        return "not known" if lacks else "not needed"
    if not met_pinned:
        return "not enough"
    ask = Ask(line, lay_out(line), station.model_copy(update={"pin_m": 0.0}), set())
    ask.errors(at[1])
    return "not known" if ask.missing else "needed"


def halved_of(one: Error) -> Error:
    return Error(one.name, one.half_m / 2, one.sigma_m / 2, one.low_m / 2, one.high_m / 2, one.pinned)


@pytest.mark.parametrize("name", ["demo/line", "limits/accuracy", "limits/strength"])
def test_words_of_the_rows(name: str) -> None:
    assert words_wrong(load_line(ROOT / "examples" / f"{name}.yaml")) == []


@pytest.mark.long
def test_words_of_random_rows(tmp_path: Path) -> None:
    told = {i: words_wrong(line) for i, line in enumerate(random_lines(814, 30, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


# ---- remedies ------------------------------------------------------------------------------------------------------

FIGURE: Final = re.compile(
    r"(?P<key>the hall's departure from set_up|\S+)(?: under (?P<group>\S+))? "
    r"(?P<place>in the conveyor sheet|in the line file|at station \S+) "
    r"±(?P<value>[\d.]+) (?P<unit>\S+) instead of ±(?P<now>[\d.]+) \S+"
)


def capability(line: Line, station: str, axis: str) -> Finding:
    names = {"x": "x (along)", "y": "y (across)", "z": "z (up)"}
    start = f"station {station}, {names[axis]}:"
    rows = [one for one in check_accuracy(line, lay_out(line)).findings if one.code == "capability"]
    (row,) = [one for one in rows if one.where.startswith(start)]
    return row


def remedies_tried(line: Line, tree: Tree, sheet: Tree, folder: Path) -> dict[str, list[str]]:
    """Every way out that a failing row names: which were tried, and what is wrong with each."""
    wrong: dict[str, list[str]] = {"tried": []}
    for row in check_accuracy(line, lay_out(line)).findings:
        if row.code != "capability" or row.verdict not in ("fails", "tight"):
            continue
        margin = 0.0 if row.verdict == "fails" else 0.1
        found = re.match(r"station (\S+), (\w)", row.where)
        assert found is not None
        ways = re.sub("little is left; a tenth more with |one of: ", "", row.remedy).split("; ")
        assert ("one of: " in row.remedy) == (len([way for way in ways if "not enough" not in way]) > 1), row.remedy
        for way in ways:
            told = one_tried(way, line, tree, sheet, (found[1], found[2], margin), folder)
            if told is None:
                wrong.setdefault("unread", []).append(way)
            else:
                wrong["tried"].append(way)
                wrong.setdefault("wrong", []).extend(f"{row.where[:40]}: {way}: {one}" for one in told)
    return wrong


def one_tried(
    way: str, line: Line, tree: Tree, sheet: Tree, at: tuple[str, str, float], folder: Path
) -> list[str] | None:
    if way.startswith("little is left: halving "):
        return []
    if way == "a pin is not enough":
        return [] if pinned_cpk(line, at) < asked_of(line, at) else ["it is enough"]
    pin = re.match(
        r"(?:pin|lift) the fixture .* pin: ±([\d.]+) mm or less \(Cpk ([\d.]+|beyond any) without play\)$", way
    )
    if pin:
        cpk = math.inf if pin[2] == "beyond any" else float(pin[2])
        told = [] if math.isclose(pinned_cpk(line, at), cpk, rel_tol=6e-3) else [f"{pinned_cpk(line, at)}"]
        can = [
            axis
            for axis, _ in axes_of(line.station(at[0]))
            if pinned_cpk(line, (at[0], axis, 0.0)) >= asked_of(line, at)
        ]
        found = []
        for play in (float(pin[1]), 1.02 * float(pin[1]) + 1e-6):
            changed = with_station(tree, at[0], ("pin",), f"±{play:.9g} mm")
            found.append([one for axis in can for one in held(changed, sheet, (at[0], axis, at[2]), folder, True)])
        return told + found[0] + ([] if found[1] else ["with more play too"])
    if found := re.match(r"a tolerance of ±([\d.]+) mm$", way):
        value = float(found[1])
        now = float(getattr(line.station(at[0]).tolerance, f"{at[1]}_m")) * 1e3
        told = held(with_station(tree, at[0], ("tolerance", at[1]), f"±{value:.9g} mm"), sheet, at, folder, True)
        less = less_of(value, now)
        return told + held(with_station(tree, at[0], ("tolerance", at[1]), f"±{less:.9g} mm"), sheet, at, folder, False)
    if found := FIGURE.search(way):
        return figures_tried(way, line, tree, sheet, at, folder)
    if way.startswith("compensated: true"):
        return held({**tree, "compensated": True}, sheet, at, folder, True)
    if found := re.match(r"no_joint: ([\d.]+) mm at the station, so that", way):
        less = max(float(found[1]) - 1.0, 0.0)
        told = held(with_station(tree, at[0], ("no_joint",), f"{found[1]} mm"), sheet, at, folder, True)
        half_mm = 0.0 if line.conveyor.guides is None else line.conveyor.guides.along_m * 500.0
        return told + ([] if less <= half_mm + 1e-6 else ["less is enough for the blocks"])
    if found := re.match(r"(at|along): ([\d.]+) mm instead of ([\d.]+) mm, so that no joint", way):
        station = line.station(at[0])
        now = (station.at_m if station.along_m is None else station.along_m) * 1e3
        told = [] if math.isclose(now, float(found[3]), abs_tol=1e-3) else ["not the present place"]
        return told + held(with_station(tree, at[0], (found[1],), f"{found[2]} mm"), sheet, at, folder, True)
    return None


def figures_tried(way: str, line: Line, tree: Tree, sheet: Tree, at: tuple[str, str, float], folder: Path) -> list[str]:
    """One figure or several together, for one axis or for all that are named: they hold, and some does not before."""
    axes = [at[1]]
    if named := re.match(r"(?:together, )?for (\w(?: and \w)*)(?: at once|,) ", way):
        axes = named[1].split(" and ")
    told, before = [], []
    for is_less in (False, True):
        other, changed = tree, copy.deepcopy(sheet)
        for one in FIGURE.finditer(way):
            value = float(one["value"])
            value = less_of(value, float(one["now"])) if is_less else value
            text = f"±{value:.9g} {one['unit']}"
            if one["place"] == "in the conveyor sheet":
                group = changed if one["group"] is None else changed[one["group"]]
                group[one["key"]] = text.removeprefix("±")
            elif one["group"] == "temperature":
                other = cooler(line, other, value)
            elif one["place"] == "in the line file":
                other = with_group(other, one["group"], one["key"], text)
            else:
                assert one["place"] == f"at station {at[0]}"
                path = [] if one["group"] is None else one["group"].split(".")
                path += one["key"].split(".")
                other = with_station(other, at[0], tuple(path), text)
        found = [held(other, changed, (at[0], axis, at[2]), folder, True) for axis in axes]
        told, before = (told, found) if is_less else ([one for some in found for one in some], before)
    return told if any(before) else [*told, "a smaller change does as well"]


def less_of(value: float, now: float) -> float:
    """A clearly smaller change, by 3 % of the way back and of the rounding."""
    return value + 0.03 * (now - value) + math.copysign(0.0101 * abs(value), now - value)


def held(tree: Tree, sheet: Tree, at: tuple[str, str, float], folder: Path, holds: bool) -> list[str]:
    line = valid_line(tree, sheet, folder)
    if line is None:
        return ["the file is refused"]
    row = capability(line, *at[:2])
    assert row.value is not None
    assert row.limit is not None
    margin = row.value / row.limit - 1.0  # of what is stated, where figures are missing
    return [] if (margin >= at[2]) == holds else [f"{row.verdict} with {row.value} of {row.limit}"]


def with_group(tree: Tree, group: str, key: str, value: str) -> Tree:
    return {**tree, group: {**tree[group], key: value}}


def with_station(tree: Tree, station: str, path: tuple[str, ...], value: str) -> Tree:
    changed = copy.deepcopy(tree)
    here = changed["stations"][station]
    if "like" in here:
        here = changed["stations"][station] = {**changed["stations"][here["like"]], **here}
        del here["like"]
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = value
    return changed


def cooler(line: Line, tree: Tree, departure_K: float) -> Tree:
    hall = line.temperature
    assert hall is not None
    most = max(hall.most_degC - hall.set_up_degC, hall.set_up_degC - hall.least_degC)
    ends = {"least": hall.least_degC, "most": hall.most_degC}
    at = {key: hall.set_up_degC + (end - hall.set_up_degC) * departure_K / most for key, end in ends.items()}
    return {**tree, "temperature": {**tree["temperature"], **{key: f"{value:.10g} °C" for key, value in at.items()}}}


def asked_of(line: Line, at: tuple[str, str, float]) -> float:
    tolerance = line.station(at[0]).tolerance
    assert tolerance is not None
    return tolerance.cpk


def pinned(line: Line, at: tuple[str, str, float]) -> Summed:
    """What a pin without play leaves."""
    station = line.station(at[0]).model_copy(update={"pin_m": 0.0})
    return summed(Ask(line, lay_out(line), station, set()).errors(at[1]))


def pinned_cpk(line: Line, at: tuple[str, str, float]) -> float:
    total, tolerance_m = pinned(line, at), dict(axes_of(line.station(at[0])))[at[1]]
    cpk = total.cpk(tolerance_m)
    return (math.inf if abs(total.bias_m) <= tolerance_m else -math.inf) if cpk is None else cpk


@pytest.mark.long
def test_remedies_of_the_example(tmp_path: Path) -> None:
    path = ROOT / "examples" / "limits" / "accuracy.yaml"
    line, sheet = load_line(path), base_trees("ring")[1]
    found = remedies_tried(line, tree_of(path), sheet, tmp_path)
    assert found.get("unread", []) == []
    assert found["wrong"] == []
    assert len(found["tried"]) == 12


@pytest.mark.long
def test_remedies_of_random_lines(tmp_path: Path) -> None:
    tried, wrong = 0, []
    for number, (line, tree, sheet) in enumerate(random_files(20270, 60, tmp_path)):
        folder = tmp_path / str(number)
        folder.mkdir()
        found = remedies_tried(line, tree, sheet, folder)
        tried += len(found["tried"])
        wrong += [f"{number}: {one}" for one in (*found.get("unread", []), *found.get("wrong", []))]
    assert wrong == []
    assert tried > 200
