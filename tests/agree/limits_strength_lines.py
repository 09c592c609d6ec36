"""Lines for the limits of strength: files of the repository with figures drawn at random and keys left out."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from agree.limits_files import Tree, line_of, set_key, trees_of
from agree.limits_strength import Row
from linewright.errors import LineFileError
from linewright.findings import Finding
from linewright.line.model import Line

ROOT: Final = Path(__file__).resolve().parents[2]
EXAMPLES: Final = ROOT / "examples"


def is_near(ours: float | None, theirs: float | None) -> bool:
    if ours is None or theirs is None:
        return ours is None and theirs is None
    return math.isclose(ours, theirs, rel_tol=1e-6, abs_tol=1e-12)


def differences(ours: Iterable[Row], theirs: Sequence[Finding]) -> list[str]:
    """What only one of the two says; empty where they agree."""
    left, told = list(theirs), []
    for row in ours:
        match = next((found for found in left if _is_same(row, found)), None)
        if match is None:
            told.append(f"only here: {row}")
        else:
            left.remove(match)
    told += [
        f"only there: {f.code} {f.verdict} | {f.where} | {f.value} {f.limit} {f.unit} {f.margin} | {f.remedy}"
        for f in left
    ]
    return told + [f"subject {f.subject}" for f in theirs if f.subject != "strength"]


def _is_same(row: Row, found: Finding) -> bool:
    if (found.code, found.verdict) != (row.code, row.verdict) or (row.value is not None and found.unit != row.unit):
        return False
    counted = re.search(r"the worst of (\d+) stations", found.where)
    # How many stations a row of support stands for has a test of its own.
    if row.code != "support" and row.of != (1 if counted is None else int(counted.group(1))):
        return False
    figures = ((row.value, found.value), (row.limit, found.limit), (row.margin, found.margin))
    words = all(re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", found.where) for word in row.words)
    return words and all(is_near(*pair) for pair in figures)


# ---- drawn at random -------------------------------------------------------------------------------------------------

BASES: Final = (
    "demo/line.yaml", "limits/strength.yaml", "limits/accuracy.yaml", "ways/nests.yaml", "ways/rework.yaml",
    "ways/ring.yaml", "ways/to-and-fro.yaml", "ways/branch.yaml", "ways/variants.yaml", "ways/four-decks.yaml",
    "ways/exits.yaml", "ways/two-place-lift.yaml", "ways/carrier-changes.yaml", "ways/presence.yaml",
)  # fmt: skip


class Dice(random.Random):
    """Figures with units."""

    def figure(self, low: float, high: float, unit: str) -> str:
        return f"{self.uniform(low, high):.6g} {unit}"

    def wide(self, low: float, high: float, unit: str) -> str:
        """Evenly by orders of magnitude."""
        return f"{math.exp(self.uniform(math.log(low), math.log(high))):.6g} {unit}"

    def signed(self, most: float, unit: str) -> str:
        return f"{self.uniform(-most, most):.6g} {unit}"

    def may(self, chance: float) -> bool:
        return self.random() < chance


def drawn_trees(number: int) -> tuple[Tree, Tree]:
    """The file and the sheet of that number, whether they are valid or not."""
    dice = Dice(f"strength {number}")
    tree, sheet = trees_of(EXAMPLES / dice.choice(BASES))
    whole = dice.may(0.45)  # nothing is left out
    _draw_sheet(dice, sheet, whole)
    strong = dice.choice((20.0, 60.0, 200.0, 900.0))
    for station in tree["stations"].values():
        _draw_station(dice, station, strong, whole)
    fixture = tree.setdefault("fixture", {"mass": "0.2 kg"})
    if dice.may(0.5):
        fixture["nests"] = dice.randint(1, 3) if "nests" in fixture else 1
    if dice.may(0.1):
        fixture.pop("mass", None)
    for key in ("mass_height", "seat_height"):
        set_key(fixture, key, dice.signed(60.0, "mm") if whole or dice.may(0.9) else None)
    if "part" in tree:
        set_key(tree["part"], "mass_height", dice.figure(1.0, 60.0, "mm") if whole or dice.may(0.95) else None)
    tree["demand"] = {
        "good_parts_per_year": dice.randint(1000, 9_000_000), "shifts_per_day": dice.randint(1, 3),
        "paid_time_per_shift": dice.figure(5.0, 7.5, "h"), "days_per_year": dice.randint(100, 300),
    }  # fmt: skip
    if dice.may(0.2):
        tree["move_limits"] = {"speed": dice.wide(0.05, 3.0, "m/s"), "acceleration": dice.wide(0.5, 20.0, "m/s²")}
    if not whole:
        for key in ("demand", "part", "fixture"):
            if dice.may(0.08):
                tree.pop(key, None)
    return tree, sheet


def _draw_sheet(dice: Dice, sheet: Tree, whole: bool) -> None:
    rating = math.exp(dice.uniform(math.log(40.0), math.log(20000.0)))
    guides: Tree = {
        "along": dice.figure(20.0, 80.0, "mm"), "across": dice.figure(20.0, 150.0, "mm"),
        "static_rating": f"{rating:.6g} N", "dynamic_rating": dice.wide(rating / 5.0, rating * 5.0, "N"),
        "rating_travel": dice.choice(("50 km", "100 km")), "play": "0.01 mm",
        "plate_height": dice.signed(80.0, "mm"), "thrust_height": dice.signed(40.0, "mm"),
        "stiffness": dice.wide(1.0, 500.0, "N/µm"), "side_stiffness": dice.wide(1.0, 500.0, "N/µm"),
        "load_factor": f"{dice.uniform(1.0, 3.0):.6g}",
    }  # fmt: skip
    if dice.may(0.7):
        guides["least_static_safety"] = f"{dice.uniform(1.0, 8.0):.6g}"
    if dice.may(0.15):
        guides |= {"kind": "other", "travel_life": dice.wide(100.0, 90000.0, "km")}
    if not whole:
        for key in ("plate_height", "thrust_height", "stiffness", "side_stiffness", "load_factor", "travel_life"):
            if dice.may(0.06):
                guides.pop(key, None)
    guides["load_factor"] = float(guides["load_factor"]) if "load_factor" in guides else None
    guides = {key: value for key, value in guides.items() if value is not None}
    if "least_static_safety" in guides:
        guides["least_static_safety"] = float(guides["least_static_safety"])
    sheet["guides"] = guides
    sheet["magnets"] = {"attraction": dice.choice(("0 N", dice.wide(10.0, 2000.0, "N"))), "implant_distance": "300 mm"}
    sheet["allowed_force"] = {axis: dice.wide(5.0, 3000.0, "N") for axis in ("down", "across", "along")}
    sheet["stopping"] = {"reaction": "9 ms", "deceleration": dice.wide(1.0, 90.0, "m/s²")}
    sheet["carrier"]["mass_height"] = dice.signed(40.0, "mm")
    drive = sheet["drive"]
    drive["servo_stiffness"] = dice.wide(0.1, 20.0, "N/µm")
    if dice.may(0.3):
        drive["friction"] = dice.choice(("0 N", dice.figure(0.0, 5.0, "N")))
    if not whole:
        for path in ("guides", "magnets", "allowed_force", "stopping", "carrier.mass_height", "drive.servo_stiffness"):
            if dice.may(0.08):
                set_key(sheet, path, None)


def _draw_station(dice: Dice, station: Tree, strong: float, whole: bool) -> None:
    for key in ("force", "support", "tolerance", "tool"):
        station.pop(key, None)
    if not whole and dice.may(0.05):
        return
    number = dice.choice((0, 0, 1, 1, 1, 2, 3))
    forces = [_draw_force(dice, strong, whole) for _ in range(number)]
    station["force"] = "none" if not forces else forces if len(forces) > 1 or dice.may(0.3) else forces[0]
    if forces and dice.may(0.35):
        axes = dice.sample(("down", "across", "along"), dice.randint(1, 3))
        station["support"] = {axis: dice.wide(strong / 5.0, strong * 5.0, "N") for axis in axes}
    if forces and dice.may(0.3):
        axes = dice.sample(("x", "y", "z"), dice.randint(1, 3))
        station["tolerance"] = {axis: f"±{dice.wide(0.0005, 0.2, 'mm')}" for axis in axes}
    if dice.may(0.3):
        station["tool"] = {"repeatability": "±10 µm", "at": _draw_point(dice)}


def _draw_force(dice: Dice, strong: float, whole: bool) -> Tree:
    parts = [0.0, 0.0, 0.0]
    for axis in dice.sample((0, 1, 2), dice.choice((1, 1, 2, 3))):
        parts[axis] = float(f"{dice.uniform(-strong, strong):.6g}") or 1.0
    force: Tree = {
        axis: f"{part} N" for axis, part in zip(("down", "across", "along"), parts, strict=True) if part != 0.0
    }
    if whole or dice.may(0.9):
        size = math.hypot(*parts)
        force["greatest"] = f"{size * dice.choice((1.000001, dice.uniform(1.01, 3.0))):.9g} N"
    if whole or dice.may(0.93):
        force["at"] = _draw_point(dice)
    return force


def _draw_point(dice: Dice) -> list[str]:
    return [dice.signed(41.0, "mm"), dice.signed(55.0, "mm"), dice.signed(120.0, "mm")]


def random_line(number: int, folder: Path) -> Line:
    """The line of that number; of files that are refused the next draw."""
    for again in range(100):
        try:
            return line_of(*drawn_trees(number + 100_000 * again), folder)
        except LineFileError:
            continue
    raise AssertionError(f"no valid line of number {number}")
