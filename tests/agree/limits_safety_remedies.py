"""What the remedies of safety name, put into the line file: each holds there, and clearly less of it does not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from agree.limits_rows import Tree, with_keys
from agree.limits_safety import centre_m
from linewright.findings import Finding
from linewright.line.model import Line, Station

_METRE: Final = {"mm": 1e-3, "in": 0.0254, "inch": 0.0254, "m/s": 1.0, "in/s": 0.0254, "inch/s": 0.0254, "s": 1.0}
_FIGURE: Final = r"([0-9.]+) (m/s|in/s|inch/s|mm|inch|in)\b"
_WAYS: Final = {
    "guard": rf"a guard at least {_FIGURE}",
    "zone": rf"let the zone reach at least {_FIGURE}",
    "speed": rf"ever faster than {_FIGURE}",
    "end_stops": rf"end stops at {_FIGURE}",
    "keep_clear": rf"keep_clear of at least {_FIGURE}",
    "unlocks": r"stay locked for longer \(unlocks_after: ([0-9.]+) (s)\b",
}


@dataclass(frozen=True)
class Change:
    """One change of one quantity: what, to what, how files look then; less than it must not do, where that is told."""

    what: str
    value: float
    tree: Tree
    sheet: Tree
    less: tuple[Tree, Tree] | None
    on_track: bool = True


def changes(finding: Finding, station: str, line: Line, tree: Tree, sheet: Tree) -> Iterator[Change]:
    """Every change with a figure that a row's remedy names."""
    for what, pattern in _WAYS.items():
        found = re.search(pattern, finding.remedy)
        if found is None:
            continue
        value = float(found.group(1)) * _METRE[found.group(2)]
        step = 1e-3 if found.group(2) == "mm" else 0.00254
        now = _changed(what, value, station, line, tree, sheet)
        less = None
        if what == "unlocks":
            less = _changed(what, value * 0.98, station, line, tree, sheet)
        if what in ("guard", "zone"):
            less = _changed(what, value - 1.5 * step, station, line, tree, sheet)
        if what == "speed":
            less = _changed(what, value * 1.02, station, line, tree, sheet)
        yield Change(what, value, *now, less, what != "zone" or _on_track(value, line.station(station), line))


def _changed(what: str, value: float, station: str, line: Line, tree: Tree, sheet: Tree) -> tuple[Tree, Tree]:
    if what == "speed":
        return tree, with_keys(sheet, drive__speed=f"{value:.9g} m/s")
    if what == "guard":
        return with_keys(tree, **{f"stations__{station}__guard": _guard(line, station, value)}), sheet
    if what == "unlocks":
        own_guard = line.station(station).guard
        assert own_guard is not None
        guard = {**_guard(line, station, own_guard.distance_m), "unlocks_after": f"{value:.9g} s"}
        return with_keys(tree, **{f"stations__{station}__guard": guard}), sheet
    if what in ("end_stops", "keep_clear"):
        return with_keys(tree, **{f"stations__{station}__{what}": f"{value * 1e3:.9g} mm"}), sheet
    own = line.station(station)
    zone = next(zone for zone in line.motor_zones if zone.name == own.motor_zone)
    low, high = min(zone.from_m, centre_m(own) - value), max(zone.to_m, centre_m(own) + value)
    both = {"lane": zone.lane, "from": f"{low * 1e3:.9g} mm", "to": f"{high * 1e3:.9g} mm"}
    return with_keys(tree, **{f"motor_zones__{zone.name}": both}), sheet


def _on_track(reach_m: float, station: Station, line: Line) -> bool:
    """Whether a zone of that reach to both sides lies on its lane; on a ring it may not pass the start either."""
    start = 0.0 if station.along_m is not None else line.lane(station.lane).west_end_m
    end = start + line.lane_length_m(station.lane)
    return start - 1e-9 <= centre_m(station) - reach_m and centre_m(station) + reach_m <= end + 1e-9


def _guard(line: Line, station: str, distance_m: float) -> Tree:
    guard = line.station(station).guard
    assert guard is not None
    own = {"resolution": guard.resolution_m, "height": guard.height_m}
    return {
        "kind": guard.kind,
        "distance": f"{distance_m * 1e3:.9g} mm",
        "device": f"{guard.device_s * 1e3:.12g} ms",
        "logic": f"{guard.logic_s * 1e3:.12g} ms",
        **{key: f"{value * 1e3:.12g} mm" for key, value in own.items() if value is not None},
        **({} if guard.seen_behind is None else {"seen_behind": guard.seen_behind}),
        **({} if guard.others_out_of_reach is None else {"others_out_of_reach": guard.others_out_of_reach}),
        **({} if guard.unlocks_after_s is None else {"unlocks_after": f"{guard.unlocks_after_s:.12g} s"}),
    }
