"""Remedies of power and bus carried out: the one figure that a row names is written into the file, and a weaker one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from agree.limits_power import SIZES

if TYPE_CHECKING:
    from linewright.findings import Finding
    from linewright.line.model import Line

NUMBER: Final = r"(-?\d[\d.]*(?:e[-+]?\d+)?)"
REACTIONS: Final = ("start_handshake", "done_handshake", "follow")
_PER_UNIT: Final = {"mm": 1e-3, "in": 0.0254, "mF": 1e-3, "F": 1.0, "ms": 1e-3}
"""What one of a unit is in SI; 1 for those that are not here."""
SMALL: Final = 0.03
"""A change smaller than this share of the figure may be the rounding to three digits alone."""


@dataclass(frozen=True)
class Change:
    """Keys to write: (in the sheet, path, text); `weaker` is clearly less of it, None where the rounding hides that."""

    keys: tuple[tuple[bool, str, object], ...]
    weaker: tuple[tuple[bool, str, object], ...] | None


def change_of(found: Finding, line: Line) -> Change | None:
    """What a remedy says to write; None where it names no figure."""
    if found.verdict != "fails":
        return None
    text = found.remedy
    if found.code == "far-end-voltage":
        return _areas(found, line)
    if found.code == "reaction-time":
        return _reaction(text, line)
    ends = re.findall(rf"(from|to): {NUMBER} (\S+?)(?: |$|;|,)", text) if found.code == "zone-reach" else []
    if len(ends) == 2:
        zone = re.search(r"motor zone ([^\s:]+):", found.where)
        assert zone is not None
        keys = tuple((False, f"motor_zones.{zone.group(1)}.{end}", f"{number} {unit}") for end, number, unit in ends)
        return Change(keys, keys[:1])
    if "a braking_resistor: {" in text:
        return _resistor(found)
    match = re.search(rf"write (\w+): {NUMBER}(?: (\S+?))?(?: |$|;|,)", text)
    if match is None:
        return None
    key, number, unit = match.group(1), float(match.group(2)), match.group(3)
    name = re.search(r"(?:feeder|motor zone) ([^\s:]+):", found.where)
    return _one(key, number, unit, "" if name is None else name.group(1), line)


def _one(key: str, number: float, unit: str | None, name: str, line: Line) -> Change:
    feeder = next((one for one in line.feeders if one.name == name), None)
    zone = next((one for one in line.motor_zones if one.name == name), None)
    resistor = None if feeder is None else feeder.braking_resistor
    if key in ("supplies", "carriers"):
        path = f"feeders.{name}.supplies" if key == "supplies" else "carriers"
        whole = int(number)
        return Change(((False, path, whole),), ((False, path, whole + (-1 if key == "supplies" else 1)),))
    supply, cabinet, controls = line.conveyor.supply, line.cabinet, line.controls
    places: dict[str, tuple[bool, str, float | None]] = {
        "capacitance": (True, "supply.capacitance", supply and supply.capacitance_F),
        "resistance": (False, f"feeders.{name}.braking_resistor.resistance", resistor and resistor.resistance_ohm),
        "power": (False, f"feeders.{name}.braking_resistor.power", resistor and resistor.power_W),
        "on": (False, f"feeders.{name}.braking_resistor.on", resistor and resistor.on_V),
        "fuse": (False, f"feeders.{name}.fuse", feeder and feeder.fuse_A),
        "breaker": (False, f"feeders.{name}.breaker", feeder and feeder.breaker_A),
        "width": (False, "cabinet.width", cabinet and cabinet.width_m),
        "heat": (False, "cabinet.heat", cabinet and cabinet.heat_W),
        "from": (False, f"motor_zones.{name}.from", zone and zone.from_m),
        "to": (False, f"motor_zones.{name}.to", zone and zone.to_m),
        "bus_cycle": (False, "controls.bus_cycle", controls and controls.bus_cycle_s),
    }
    in_sheet, path, now = places[key]
    assert now is not None
    now /= _PER_UNIT.get(unit or "", 1.0)
    half = 0.5 * (now + number)
    weaker = None if abs(number - now) < SMALL * abs(number) else ((in_sheet, path, f"{half!r} {unit}"),)
    return Change(((in_sheet, path, f"{number!r} {unit}"),), weaker)


def _resistor(found: Finding) -> Change | None:
    """The whole group, at the feeder that the row names; what is weaker depends on more than one figure of it."""
    name = re.search(r"feeder ([^\s:,]+)", found.where)
    group = re.search(rf"resistance: {NUMBER} ohm, power: {NUMBER} W, on: {NUMBER} V", found.remedy)
    if name is None or group is None:
        return None
    ohm, watts, volts = group.groups()
    resistor = {"resistance": f"{ohm} ohm", "power": f"{watts} W", "on": f"{volts} V"}
    return Change(((False, f"feeders.{name.group(1)}.braking_resistor", resistor),), None)


def _areas(found: Finding, line: Line) -> Change | None:
    name = re.search(r"feeder ([^\s:]+):", found.where)
    sizes = dict(re.findall(rf"{NUMBER} mm² under (cable|link)", found.remedy))
    if name is None or not sizes:
        return None
    key = {one: f"feeders.{name.group(1)}.{value}.area" for one, value in (("cable", "cable"), ("link", "link"))}
    keys = tuple((False, key[where], f"{area} mm²") for where, area in ((k, v) for v, k in sizes_of(found.remedy)))
    less = []
    for where, area in ((k, v) for v, k in sizes_of(found.remedy)):
        smaller = [size for size in SIZES if size < float(area)]
        less.append((False, key[where], f"{smaller[-1] if smaller else area} mm²"))
    return Change(keys, tuple(less))


def sizes_of(text: str) -> list[tuple[str, str]]:
    """(area, cable or link) of each size that a remedy names."""
    return [(area, where) for area, where in re.findall(rf"{NUMBER} mm² under (cable|link)", text)]


def _reaction(text: str, line: Line) -> Change | None:
    scan = re.search(rf"write scan: {NUMBER} (\S+) under", text)
    if scan is not None:
        path, unit = "controls.scan", scan.group(2)
        return Change(
            ((False, path, f"{scan.group(1)} {unit}"),), ((False, path, f"{float(scan.group(1)) * 1.02!r} {unit}"),)
        )
    least = re.search(rf"state {NUMBER} (\S+) at least", text)
    if least is None:
        return None
    keys = tuple((True, f"reaction.{key}", f"{least.group(1)} {least.group(2)}") for key in REACTIONS)
    less = tuple((True, f"reaction.{key}", f"{float(least.group(1)) * 0.98!r} {least.group(2)}") for key in REACTIONS)
    return Change(keys, less)
