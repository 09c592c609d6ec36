"""Small lines for the limits of motion and accuracy: files of the repository, figures at random or left out."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from agree.limits_rows import ROOT, Tree, sheet_tree, some, tree_of, valid_line, with_keys
from linewright.line.model import Line

WAYS: Final = (
    "ring",
    "nests",
    "repair-loop",
    "to-and-fro",
    "together",
    "branch",
    "four-decks",
    "when-called",
    "variants",
)


def base_trees(name: str) -> tuple[Tree, Tree]:
    """A line of examples/ways with its sheet, as plain dictionaries."""
    tree = tree_of(ROOT / "examples" / "ways" / f"{name}.yaml")
    return tree, sheet_tree(str(tree["conveyor"]))


def random_lines(seed: int, count: int, folder: Path) -> Iterator[Line]:
    """So many lines whose file and sheet are sound."""
    for line, _, _ in random_files(seed, count, folder):
        yield line


def random_files(seed: int, count: int, folder: Path) -> Iterator[tuple[Line, Tree, Tree]]:
    """So many lines whose file and sheet are sound."""
    dice, made = random.Random(seed), 0
    while made < count:
        tree, sheet = base_trees(dice.choice(WAYS))
        tree, sheet = drawn(dice, tree, sheet)
        line = valid_line(tree, sheet, folder)
        if line is not None:
            made += 1
            yield line, tree, sheet


def drawn(dice: random.Random, tree: Tree, sheet: Tree) -> tuple[Tree, Tree]:
    """A line and a sheet with figures at random; some are missing."""
    tree, sheet = copy.deepcopy(tree), copy.deepcopy(sheet)
    part = {"mass": some(dice, 0.03, 0.3, "kg"), "mass_height": some(dice, 4, 60, "mm"), "held": _held(dice)}
    if dice.random() < 0.7:
        part["tolerance"] = some(dice, 0, 60, "µm")
    if dice.random() < 0.6:
        shape = dice.choice(("length", "diameter"))
        part["liquid"] = {
            shape: some(dice, 6, 60, "mm"),
            "depth": some(dice, 3, 60, "mm"),
            "freeboard": some(dice, 3, 30, "mm"),
        }
    fixture = {**tree.get("fixture", {}), "mass": some(dice, 0.05, 0.5, "kg"), "nest": some(dice, 0, 60, "µm")}
    tree = with_keys(
        tree, part=_some_missing(dice, part, ("mass",), 0.1), fixture=_some_missing(dice, fixture, (), 0.1)
    )
    tree["compensated"] = dice.random() < 0.5
    if dice.random() < 0.8:
        tree["temperature"] = {"least": "15 °C", "most": some(dice, 24, 40, "°C"), "set_up": some(dice, 15, 24, "°C")}
    if dice.random() < 0.8:
        tree["base"] = {"expansion": some(dice, 5, 25, "µm/m/K"), "fixed_at": some(dice, 0, 3000, "mm")}
    for station in tree["stations"].values():
        if "like" not in station:
            station.update(_tooling(dice))
    return tree, _sheet(dice, sheet)


def _held(dice: random.Random) -> Tree:
    kind = dice.choice(("pocket", "clamp", "friction"))
    if kind != "friction":
        return {kind: some(dice, 6, 25, "m/s²")}
    return {"friction": {"coefficient": round(dice.uniform(0.2, 0.9), 3), "half_base": some(dice, 8, 60, "mm")}}


def _point(dice: random.Random) -> list[str]:
    return [some(dice, -40, 40, "mm"), some(dice, -40, 40, "mm"), some(dice, 0, 120, "mm")]


def _force(dice: random.Random) -> Tree:
    force: Tree = {"down": some(dice, -40, 150, "N")}
    for key, most in (("across", 20), ("along", 9)):
        if dice.random() < 0.6:
            force[key] = some(dice, -most, most, "N")
    if dice.random() < 0.5:
        force["greatest"] = some(dice, 160, 300, "N")
    if dice.random() < 0.85:
        force["at"] = _point(dice)
    return force


def _tooling(dice: random.Random) -> Tree:
    found: Tree = {}
    kind = dice.random()
    if kind < 0.25:
        found["force"] = "none"
    elif kind < 0.9:
        found["force"] = _force(dice) if dice.random() < 0.6 else [_force(dice) for _ in range(dice.randint(2, 3))]
        if dice.random() < 0.35:
            keys = dice.sample(("down", "across", "along"), dice.randint(1, 3))
            found["support"] = {key: some(dice, 0.5, 30, "N") for key in keys}
    if dice.random() < 0.6:
        axes = dice.sample("xyz", dice.randint(1, 3))
        found["tolerance"] = {axis: some(dice, 30, 400, "µm") for axis in axes}
        if dice.random() < 0.2:
            found["pin"] = some(dice, 0, 40, "µm")
        if dice.random() < 0.5:
            found["tolerance"]["cpk"] = round(dice.uniform(0.7, 2.2), 2)
        tool: Tree = {key: some(dice, 0, 40, "µm") for key in ("repeatability", "drift", "grip")}
        tool["at"] = _point(dice)
        tool["errors"] = {
            "frame": {"x": some(dice, 0, 20, "µm"), "z": some(dice, 1, 20, "µm"), "kind": "bias"},
            "ram": {"y": some(dice, 1, 30, "µm"), "law": dice.choice(("normal", "uniform", "triangular"))},
        }
        found["tool"] = _some_missing(dice, tool, (), 0.2)
    return {key: value for key, value in found.items() if value != {}}


def _sheet(dice: random.Random, sheet: Tree) -> Tree:
    drive = sheet["drive"]
    drive["continuous_thrust"] = some(dice, 2.5, 12, "N")
    drive["cogging"] = some(dice, 0, 2, "N")
    drive["friction"] = some(dice, 0, 2, "N")
    if "stopping" in sheet:
        sheet["stopping"]["deceleration"] = some(dice, 3, 30, "m/s²")
    if "motor" in drive:
        drive["motor"]["continuous_loss"] = some(dice, 0.2, 6, "W")
        drive["motor"]["group_length"] = some(dice, 30, 270, "mm")
        drive["motor"] = _some_missing(
            dice, drive["motor"], tuple(set(drive["motor"]) - {"group_length", "hottest"}), 0.15
        )
    if "accuracy" in sheet:
        accuracy = sheet["accuracy"]
        for key in ("straightness", "flatness", "joint_step"):
            accuracy[key] = some(dice, 0, 60, "µm")
        for key in ("yaw", "pitch", "roll"):
            accuracy[key] = some(dice, 0, 900, "µrad")
        sheet["accuracy"] = _some_missing(dice, accuracy, (), 0.08)
    if "guides" in sheet:
        keys = {"plate_height", "thrust_height", "stiffness", "side_stiffness", "least_static_safety", "load_factor"}
        sheet["guides"]["along"] = some(dice, 20, 84, "mm")
        sheet["guides"] = _some_missing(dice, sheet["guides"], tuple(set(sheet["guides"]) - keys), 0.06)
    for key in ("stopping", "accuracy", "guides", "repeatability"):
        if dice.random() < 0.07:
            sheet.pop(key, None)
    for key in ("motor", "servo_stiffness"):
        if dice.random() < 0.07:
            drive.pop(key, None)
    return sheet


def _some_missing(dice: random.Random, tree: Tree, kept: tuple[Any, ...], share: float) -> Tree:
    return {key: value for key, value in tree.items() if key in kept or dice.random() >= share}
