"""Lines for the limits of power and bus: files of the repository with keys changed, and small ones drawn at random."""

from __future__ import annotations

import itertools
import math
import random
import re
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from agree.limits_files import Tree, set_key, trees_of
from linewright.findings import Finding
from linewright.line.load import load_line
from linewright.line.model import Line

if TYPE_CHECKING:
    from agree.limits_power_base import Row

ROOT: Final = Path(__file__).resolve().parents[2]
EXAMPLES: Final = ROOT / "examples"


def is_near(ours: float | None, theirs: float | None, rel: float = 1e-6) -> bool:
    if ours is None or theirs is None:
        return ours is None and theirs is None
    return math.isclose(ours, theirs, rel_tol=rel, abs_tol=1e-9)


def differences(ours: Iterable[Row], theirs: Iterable[Finding], subject: str) -> list[str]:
    """What only one of the two says; empty where they agree."""
    left, told = list(theirs), []
    for row in ours:
        for found in left:
            at_ten = row.margin is not None and abs(row.margin - 0.1) < 1e-9  # where floats decide holds or tight
            verdict = found.verdict == row.verdict or (at_ten and found.verdict in ("holds", "tight"))
            same = found.code == row.code and verdict and found.unit == row.unit
            figures = ((row.value, found.value), (row.limit, found.limit), (row.margin, found.margin))
            words = all(re.search(rf"(?<![\\w-]){re.escape(word)}(?![\\w-])", found.where) for word in row.words)
            if same and words and all(is_near(*pair) for pair in figures):
                left.remove(found)
                break
        else:
            told.append(f"only here: {row}")
    told += [
        f"only there: {f.code} {f.verdict} | {f.where} | {f.value} {f.limit} {f.unit} {f.margin} | {f.remedy}"
        for f in left
    ]
    return told + [f"subject {f.subject}" for f in theirs if f.subject != subject]


# ---- drawn at random ----


def _maybe(rng: random.Random, share: float, value: Any) -> Any:
    """A value, or None for a key that is left out."""
    return None if rng.random() < share else value


def drawn_sheet(rng: random.Random, sheet: Tree, lacks: float) -> None:
    """Figures of the sheet at random; some keys and groups are left out."""
    volts = float(str(sheet["drive"]["nominal_voltage"]).split()[0])
    tolerance = rng.choice([0, 1, 2.5, 5])
    trip = volts * (1 + tolerance / 100) * rng.uniform(1.03, 1.5)
    supply = {
        "voltage": f"{volts} V",
        "current": f"{rng.uniform(2, 30):.2f} A",
        "trip": f"{trip:.3f} V",
        "capacitance": f"{rng.uniform(0.2, 60):.3f} mF",
        "separate_logic_supply": rng.random() < 0.7,
        "tolerance": _maybe(rng, lacks, f"{tolerance} %"),
        "efficiency": _maybe(rng, lacks, f"{rng.uniform(60, 99):.1f} %"),
        "width": _maybe(rng, lacks, f"{rng.uniform(40, 300):.0f} mm"),
    }
    drive = sheet["drive"]
    drive["lowest_voltage"] = f"{volts * rng.choice([0.85, 0.95, 0.99, 1.0]):.4f} V"
    friction_N = rng.choice([0.0, 0.4, 1.1, 2.5])
    drive["friction"] = f"{friction_N} N"
    motor = drive["motor"]
    motor["force_constant"] = f"{rng.uniform(3, 40):.3f} N/A"
    motor["resistance"] = f"{rng.uniform(0.2, 8):.3f} ohm"
    set_key(sheet, "drive.motor.hottest", _maybe(rng, lacks, f"{rng.uniform(40, 150):.0f} °C"))
    set_key(sheet, "supply", _maybe(rng, lacks / 2, {k: v for k, v in supply.items() if v is not None}))
    if rng.random() < lacks / 2:
        set_key(sheet, "drive.motor", None)
    set_key(sheet, "logic", _maybe(rng, lacks, sheet["logic"]))
    stop = {"reaction": "9 ms", "deceleration": f"{rng.uniform(1, 40):.2f} m/s²"}
    set_key(sheet, "stopping", _maybe(rng, lacks, stop))
    coast = {"least_drag": f"{rng.choice([0.0, 0.5, 1.0]) * friction_N} N", "end_stop_speed": "2 m/s"}
    set_key(sheet, "coasting", _maybe(rng, lacks, coast))
    image = {
        "bytes_per_carrier": rng.randint(4, 200),
        "cycle": f"{rng.uniform(0.05, 4):.4f} ms",
        "identity_at_power_up": rng.random() < 0.5,
        "bytes_per_transfer": _maybe(rng, lacks, rng.randint(1, 40)),
        "bytes_of_line": _maybe(rng, lacks, rng.randint(0, 80)),
        "most_bytes": _maybe(rng, lacks, rng.randint(50, 4000)),
        "bit_rate": _maybe(rng, lacks, rng.choice(["10 Mbit/s", "100 Mbit/s", "1 Gbit/s"])),
    }
    set_key(sheet, "image", _maybe(rng, lacks / 2, {k: v for k, v in image.items() if v is not None}))
    for key in ("start_handshake", "done_handshake", "follow"):
        sheet["reaction"][key] = rng.choice(["0 s", "5 ms", "12 ms", "20 ms"]) if lacks else "12 ms"


def _stretches(rng: random.Random, low_m: float, high_m: float) -> list[tuple[float, float] | None]:
    """A whole lane, two or three stretches of it, or one that leaves something over."""
    kind = rng.choice(["whole", "whole", "two", "three", "some", "none"])
    if kind == "whole":
        return [None]
    if kind == "none":
        return []
    mm = math.ceil(1e3 * low_m - 1e-6), math.floor(1e3 * high_m + 1e-6)
    cuts = sorted(rng.sample(range(mm[0] + 1, mm[1]), {"two": 1, "three": 2, "some": 2}[kind]))
    ends = [mm[0], *cuts, mm[1]]
    pairs = list(itertools.pairwise(ends))
    return list(pairs[1:2] if kind == "some" else pairs)


def drawn_feeders(rng: random.Random, line: Line, volts: tuple[float, float], lacks: float) -> Tree:
    """Feeders of every lane, `volts` between which braking resistors may conduct."""
    feeders: Tree = {}
    for lane in line.lanes:
        low_m = 0.0 if lane.ring is not None else lane.west_end_m
        for stretch in _stretches(rng, low_m, low_m + line.lane_length_m(lane.name)):
            feeder: Tree = {"lane": lane.name, "enters": rng.choice(["west", "east"]), "supplies": rng.randint(1, 3)}
            if stretch is not None:
                feeder |= {"from": f"{stretch[0]} mm", "to": f"{stretch[1]} mm"}
            sizes = rng.choices([0.5, 0.75, 1.5, 2.5, 4, 6, 10, 16, 50], k=2)
            cable = {
                "length": f"{rng.uniform(0.5, 60):.2f} m",
                "area": f"{sizes[0]} mm²",
                "temperature": f"{rng.uniform(-20, 90):.0f} °C",
                "conductor": rng.choice(["stranded", "flexible"]),
                "rating": _maybe(rng, lacks, f"{rng.uniform(5, 60):.2f} A"),
            }
            feeder["cable"] = _maybe(rng, lacks, {k: v for k, v in cable.items() if v is not None})
            feeder["link"] = _maybe(rng, lacks, {"length": "0.8 m", "area": f"{sizes[1]} mm²"})
            device = rng.choice(["fuse", "fuse", "breaker"])
            feeder[device] = _maybe(rng, lacks, f"{rng.uniform(0.2, 60):.2f} A")
            resistor = {
                "resistance": f"{rng.uniform(0.5, 60):.2f} ohm",
                "power": f"{rng.uniform(0.05, 200):.3f} W",
                "on": f"{rng.uniform(*volts):.4f} V",
            }
            feeder["braking_resistor"] = _maybe(rng, 0.4, resistor)
            feeders[f"f{len(feeders)}"] = {k: v for k, v in feeder.items() if v is not None}
    return feeders


def drawn_zones(rng: random.Random, tree: Tree, line: Line) -> None:
    """A zone about some stations, and guards."""
    zones: Tree = {}
    taken: dict[str, float] = {}
    for station in sorted(line.stations, key=lambda one: (one.lane, one.along_m or one.at_m)):
        lane = line.lane(station.lane)
        at_m = station.along_m if station.along_m is not None else station.at_m
        low_m = 0.0 if lane.ring is not None else lane.west_end_m
        low_m, high_m = max(low_m, taken.get(lane.name, -math.inf)), low_m + line.lane_length_m(lane.name)
        if rng.random() < 0.2:
            tree["stations"][station.name]["guard"] = {
                "kind": "interlocked", "distance": "900 mm", "device": "10 ms", "logic": "10 ms",
            }  # fmt: skip
        if rng.random() > 0.4 or low_m > at_m:
            continue
        from_m, to_m = max(low_m, at_m - rng.uniform(0.01, 0.3)), min(high_m, at_m + rng.uniform(0.01, 0.3))
        name = f"z{len(zones)}"
        zones[name] = {"lane": lane.name, "from": f"{from_m * 1e3:.6f} mm", "to": f"{to_m * 1e3:.6f} mm"}
        taken[lane.name] = to_m + 1e-6
        tree["stations"][station.name]["motor_zone"] = name
    set_key(tree, "motor_zones", zones or None)


def drawn_trees(rng: random.Random, path: Path, lacks: float = 0.15) -> tuple[Tree, Tree]:
    """A file of the repository with figures of power and bus at random; keys are left out with the chance `lacks`."""
    line = load_line(path)
    tree, sheet = trees_of(path)
    full = trees_of(EXAMPLES / "demo" / "line.yaml")[1]
    for key in ("logic", "image", "supply"):
        sheet.setdefault(key, full[key])
    sheet["drive"].setdefault("motor", full["drive"]["motor"])
    for station in tree["stations"].values():
        for key in ("guard", "end_stops", "motor_zone"):
            station.pop(key, None)
    drawn_sheet(rng, sheet, lacks)
    supply = sheet.get("supply", {"trip": "90 V"})
    nominal = float(str(sheet["drive"]["nominal_voltage"]).split()[0])
    volts = (nominal + 1e-3, float(supply["trip"].split()[0]) - 1e-3)
    set_key(tree, "feeders", _maybe(rng, lacks / 2, drawn_feeders(rng, line, volts, lacks)) or None)
    drawn_zones(rng, tree, line)
    cabinet = {"width": f"{rng.uniform(50, 1000):.0f} mm", "heat": f"{rng.uniform(5, 900):.0f} W"}
    set_key(tree, "cabinet", _maybe(rng, lacks, cabinet))
    controls = {"scan": f"{rng.uniform(0.1, 6):.3f} ms", "bus_cycle": f"{rng.uniform(0.1, 4):.3f} ms"}
    set_key(tree, "controls", _maybe(rng, lacks, controls))
    set_key(tree, "environment", rng.choice([None, {"chips": False}, {"dry": True}, {"dry": False}]))
    if rng.random() < 0.5 and "part" in tree:
        tree["part"] = {**tree["part"], "mass": f"{rng.uniform(0.02, 0.3):.4f} kg"}
    return tree, sheet
