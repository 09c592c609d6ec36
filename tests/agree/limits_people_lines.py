"""Random small lines about people and upkeep: files of the tree with figures drawn at random and keys left out."""

from __future__ import annotations

import random
import tempfile
from functools import cache
from pathlib import Path
from typing import Any, Final

from agree.limits_rows import ROOT, Tree, sheet_tree, some, tree_of, valid_line, with_keys
from linewright.line.model import Line

BASES: Final = (
    "limits/safety.yaml", "limits/upkeep.yaml", "demo/line.yaml", "ways/ring.yaml", "ways/to-and-fro.yaml",
    "ways/nests.yaml", "ways/branch.yaml", "ways/four-decks.yaml", "two-lane/line.yaml", "ways/exits.yaml",
    "ways/rework.yaml", "ways/presence.yaml", "ways/variants.yaml", "ways/two-place-lift.yaml",
)  # fmt: skip
PROTECTIONS: Final = (
    "IP54, not for wash-down", "IP65", "IP66 / IP67", "IP67", "IP69K", "IP6X", "splash-proof", "IPX5",
    "IP69", "IP65 with covers, no wash-down", "IP68", "IP20",
)  # fmt: skip
PARTS: Final[dict[str, Tree]] = {
    "scraper": {"per": "carrier", "count": 4, "travel": "9000 km"},
    "belt": {"per": "transfer", "cycles": "3000000 cycles"},
    "board": {"per": "section", "count": 2, "every": "60000 h"},
    "cover": {"per": "section", "after": "30 months"},
    "fan": {"per": "line", "count": 2, "after": "60 months"},
    "magnet": {"per": "carrier", "every": "90000 h"},
    "rope": {"per": "transfer", "after": "24 months"},
    "relay": {"per": "line", "count": 5, "every": "20000 h"},
    "seal": {"per": "carrier", "after": "36 months"},
}


def base_of(name: str) -> tuple[Tree, Tree]:
    """A file and its conveyor sheet, as trees."""
    tree = tree_of(ROOT / "examples" / name)
    sheet = str(tree["conveyor"])
    return tree, sheet_tree(sheet if "/" not in sheet else f"{Path(name).parent}/{sheet}")


@cache
def drawn(number: int) -> tuple[Tree, Tree, Line]:
    """File, sheet and line of that number, drawn once."""
    with tempfile.TemporaryDirectory() as folder:
        return random_trees(number, Path(folder))


def random_trees(number: int, folder: Path) -> tuple[Tree, Tree, Line]:
    """File, sheet and line of that number: the first draw that is a valid file."""
    dice = random.Random(f"people and upkeep {number}")
    for _ in range(200):
        tree, sheet = _drawn(dice)
        line = valid_line(tree, sheet, folder)
        if line is not None:
            return tree, sheet, line
    raise AssertionError(f"no valid line of number {number}")


def _drawn(dice: random.Random) -> tuple[Tree, Tree]:
    tree, sheet = base_of(dice.choice(BASES))
    if dice.random() < 0.4:
        return _calm(dice, tree, sheet)
    sheet = _sheet(dice, sheet)
    body_mm = _body_mm(sheet, tree)
    zones: Tree = {}
    stations = {}
    for name, station in tree["stations"].items():
        stations[name] = _station(dice, name, dict(station), body_mm, zones)
    tree = {**tree, "stations": stations}
    tree.pop("motor_zones", None)
    if zones:
        tree["motor_zones"] = zones
    return _whole(dice, tree), sheet


def _calm(dice: random.Random, tree: Tree, sheet: Tree) -> tuple[Tree, Tree]:
    """A line on which most rows hold or nearly do: all figures stated, guards far, zones wide, few end stops."""
    heavy = float(str(sheet["carrier"]["mass"]).split()[0]) > 1.0
    keys: dict[str, Any] = {"drive__speed": some(dice, 0.3, 1.6, "m/s")}
    keys["stopping"] = {"reaction": some(dice, 1, 20, "ms"), "deceleration": some(dice, 5, 20, "m/s²")}
    keys["coasting"] = {
        "least_drag": some(dice, 2, 12 if heavy else 4, "N"),
        "end_stop_speed": some(dice, 1.4, 3, "m/s"),
    }
    keys["magnets"] = {"attraction": "118 N", "implant_distance": some(dice, 50, 400, "mm")}
    keys["supply"] = {
        "voltage": sheet["drive"]["nominal_voltage"], "current": "24 A", "trip": "59 V", "capacitance": "9 mF",
        "separate_logic_supply": True, "discharge": "4 s",
    }  # fmt: skip
    body_mm = _body_mm(sheet, tree)
    zones: Tree = {}
    stations = {}
    for name, station in tree["stations"].items():
        stations[name] = station = {key: value for key, value in station.items() if key != "motor_zone"}
        for key in ("guard", "end_stops", "keep_clear"):
            station.pop(key, None)
        if "like" in station or dice.random() < 0.5:
            station["work"] = "automatic"
            station.pop("release", None)
            continue
        station["guard"] = {**_guard(dice), "distance": some(dice, 700, 3000, "mm")}
        centre = float(str(station.get("at", station.get("along"))).split()[0])
        low, high = dice.uniform(body_mm, body_mm * 9), dice.uniform(body_mm, body_mm * 9)
        zones[name] = {"lane": station["lane"], "from": f"{centre - low:.2f} mm", "to": f"{centre + high:.2f} mm"}
        station["motor_zone"] = name
        if dice.random() < 0.6:
            ends_mm = dice.uniform(body_mm * 0.5, body_mm * 1.05)
            station["end_stops"] = f"{ends_mm:.3f} mm"
            station["keep_clear"] = f"{ends_mm + dice.uniform(-2, 6):.3f} mm"
    tree = with_keys(tree, stations=stations, motor_zones=zones or None, operators=None)
    return _whole(dice, tree), with_keys(sheet, **keys)


def _body_mm(sheet: Tree, tree: Tree) -> float:
    envelope = tree.get("fixture", {}).get("envelope", ["0 mm"])
    return max(float(str(text).split()[0]) for text in (sheet["carrier"]["length"], envelope[0]))


def _sheet(dice: random.Random, sheet: Tree) -> Tree:
    keys: dict[str, Any] = {}
    heavy = float(str(sheet["carrier"]["mass"]).split()[0]) > 1.0
    if dice.random() < 0.5:
        keys["drive__speed"] = some(dice, 0.2, 3.0, "m/s")
    if dice.random() < 0.3:
        keys["drive__jerk"] = some(dice, 3.0, 4000.0, "m/s³")
    keys["stopping"] = dice.choice([None, *[_stopping(dice)] * 6])
    keys["coasting"] = dice.choice([None, *[_coasting(dice, heavy)] * 6])
    keys["magnets"] = dice.choice([None, *[{"attraction": "118 N", "implant_distance": some(dice, 50, 900, "mm")}] * 5])
    volts = sheet["drive"]["nominal_voltage"]
    supply: Tree = {
        "voltage": volts, "current": "24 A", "trip": some(dice, float(volts.split()[0]) * 1.06, 75, "V"),
        "capacitance": some(dice, 1, 50, "mF"), "separate_logic_supply": dice.random() < 0.8,
    }  # fmt: skip
    if dice.random() < 0.7:
        supply["discharge"] = some(dice, 0.1, 9, "s")
    keys["supply"] = dice.choice([None, *[supply] * 5])
    keys["protection"] = dice.choice([None, *PROTECTIONS])
    upkeep: Tree = {
        "relubrication_travel": some(dice, 50, 5000, "km"), "relubrication_after": some(dice, 1, 30, "months"),
        "section_swap": some(dice, 5, 90, "min"),
    }  # fmt: skip
    chosen = dice.sample(sorted(PARTS), dice.randint(0, 5))
    if chosen:
        upkeep["wear_parts"] = {name: PARTS[name] for name in chosen}
    keys["upkeep"] = dice.choice([None, *[upkeep] * 6])
    if dice.random() < 0.15:
        keys["carrier__payload"] = some(dice, 0.2, 1.0, "kg")
    return with_keys(sheet, **keys)


def _stopping(dice: random.Random) -> Tree:
    return {"reaction": some(dice, 0, 40, "ms"), "deceleration": some(dice, 1, 30, "m/s²")}


def _coasting(dice: random.Random, heavy: bool) -> Tree:
    drag = "0 N" if dice.random() < 0.15 else some(dice, 0.2, 12.0 if heavy else 4.0, "N")
    return {"least_drag": drag, "end_stop_speed": some(dice, 1.0, 4.0, "m/s")}


def _station(dice: random.Random, name: str, station: Tree, body_mm: float, zones: Tree) -> Tree:
    station.pop("motor_zone", None)
    if "like" in station:
        return station
    for key in ("guard", "end_stops"):
        station.pop(key, None)
    if dice.random() < 0.35:
        station["guard"] = _guard(dice)
    if dice.random() < 0.4:
        station["end_stops"] = some(dice, body_mm * 0.5, body_mm * 1.2, "mm")
    if dice.random() < 0.4:
        station["keep_clear"] = some(dice, 0, body_mm, "mm")
    if dice.random() < 0.5 and "guard" in station:
        centre = float(str(station.get("at", station.get("along"))).split()[0])
        low, high = dice.uniform(body_mm * 0.2, body_mm * 4), dice.uniform(body_mm * 0.2, body_mm * 4)
        zones[name] = {"lane": station["lane"], "from": f"{centre - low:.2f} mm", "to": f"{centre + high:.2f} mm"}
        station["motor_zone"] = name
    if dice.random() < 0.3:
        station["failures"] = [_failure(dice) for _ in range(dice.randint(1, 3))]
    return station


def _guard(dice: random.Random) -> Tree:
    guard: Tree = {
        "distance": some(dice, 100, 4000, "mm"), "device": some(dice, 0, 60, "ms"), "logic": some(dice, 0, 60, "ms"),
    }  # fmt: skip
    kind = dice.choice(["light-curtain", "light-curtain", "scanner", "interlocked", "locked"])
    seen = dice.choice([True, True, True, False, None])
    if seen is not None:
        guard["seen_behind"] = seen
    others = random.Random(str(guard["distance"])).choice(
        [True, True, True, False, None]
    )  # draws nothing from the dice
    if others is not None:
        guard["others_out_of_reach"] = others
    own = {
        "light-curtain": {"resolution": dice.choice(["14 mm", "40 mm", some(dice, 5, 60, "mm")])},
        "scanner": {"height": dice.choice(["1000 mm", some(dice, 10, 1300, "mm")])},
        "locked": {"unlocks_after": some(dice, 0.2, 4, "s")},
    }
    return {"kind": kind, **guard, **own.get(kind, {})}


def _failure(dice: random.Random) -> Tree:
    repair = dice.choice(["40 s", {"mean": "2 min", "cv": "50 %"}])
    return dice.choice(
        [
            {"every": some(dice, 0.2, 9, "h"), "repair": repair},
            {"every": some(dice, 0.2, 9, "h"), "of": "clock", "repair": repair},
            {"every": {"law": "gamma", "mean": "3 h", "cv": "40 %"}, "repair": repair},
            {"one_in": f"{dice.randint(1, 900)} cycles", "repair": repair},
        ]
    )


def _whole(dice: random.Random, tree: Tree) -> Tree:
    demand: Tree = {
        "good_parts_per_year": dice.randint(10_000, 6_000_000), "shifts_per_day": dice.choice([1, 1.5, 2, 3]),
        "paid_time_per_shift": "7.25 h", "days_per_year": dice.randint(100, 300),
        "losses_not_modelled": some(dice, 0, 20, "%"),
    }  # fmt: skip
    words = ("dry", "chips", "spatter", "wash_down", "static")
    environment = {word: dice.random() < 0.4 for word in words if dice.random() < 0.75}
    if environment.get("wash_down") and environment.get("dry"):
        environment["dry"] = False
    if dice.random() < 0.2:
        environment = {**dict.fromkeys(words, False), "dry": True}
    plan = {"service_level": some(dice, 50, 99.9, "%"), "lead_time": some(dice, 0.2, 12, "months")}
    return with_keys(
        tree,
        demand=dice.choice([None, *[demand] * 4]),
        environment=environment or None,
        upkeep=dice.choice([None, *[plan] * 4]),
        fixture__mass=dice.choice(["0 kg", some(dice, 50, 500, "g")]),
        part=dice.choice([{"mass": some(dice, 10, 300, "g")}] * 5 + [tree.get("part")]),
    )
