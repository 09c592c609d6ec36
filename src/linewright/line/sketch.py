"""A line as far as it is known: what can be read of a faulty file, so that its faults can all be told at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.line.fields import LONGEST_TRACK_M
from linewright.line.units import LENGTH, SHARE, Dimension, QuantityFault, parse_quantity

if TYPE_CHECKING:
    from linewright.line.model import Line

VIBRATION_KEYS: Final = ("natural_frequency", "damping")


@dataclass(frozen=True)
class LaneSketch:
    """A lane as far as it is known. [m]"""

    name: str
    length_m: float | None
    from_: str | None
    to: str | None
    level_m: float | None
    across_m: float | None
    west_end_m: float | None

    def end_m(self, side: str | None) -> float | None:
        """The floor distance of the lane's west or east end."""
        if self.west_end_m is None or self.length_m is None or self.length_m <= 0.0 or side not in ("west", "east"):
            return None
        return self.west_end_m + (self.length_m if side == "east" else 0.0)


@dataclass(frozen=True)
class TransferSketch:
    """A transfer as far as it is known."""

    name: str
    kind: str | None
    takes: str | None
    gives: str | None


@dataclass(frozen=True)
class StationSketch:
    """A station as far as it is known; ``time`` is anything that can be compared."""

    name: str
    lane: str | None
    at_m: float | None
    time: Any
    rejects: float | None
    reject_exit: bool | None
    window: bool


@dataclass(frozen=True)
class LineSketch:
    """The line as far as it is known. ``None`` in place of a part: it cannot be read at all.

    ``vibration`` holds those of the keys ``natural_frequency`` and ``damping`` that the fixture states.
    """

    lanes: tuple[LaneSketch, ...] | None
    transfers: tuple[TransferSketch, ...] | None
    stations: tuple[StationSketch, ...] | None
    route: tuple[tuple[str, ...], ...] | None
    transfer_kinds: frozenset[str] | None
    vibration: tuple[str, ...] | None

    def lane(self, name: str | None) -> LaneSketch | None:
        """The lane of that name, if there is one."""
        return next((lane for lane in self.lanes or () if lane.name == name), None)

    def station(self, name: str) -> StationSketch | None:
        """The station of that name, if there is one."""
        return next((station for station in self.stations or () if station.name == name), None)


def sketch_line(line: Line) -> LineSketch:
    """The sketch of a validated line: everything is known."""
    return LineSketch(
        lanes=tuple(
            LaneSketch(x.name, x.length_m, x.from_, x.to, x.level_m, x.across_m, x.west_end_m) for x in line.lanes
        ),
        transfers=tuple(TransferSketch(x.name, x.kind, x.takes, x.gives) for x in line.transfers),
        stations=tuple(
            StationSketch(x.name, x.lane, x.at_m, x.time, x.rejects, x.reject_exit, x.window_m is not None)
            for x in line.stations
        ),
        route=tuple(step.stations for step in line.route),
        transfer_kinds=frozenset(line.conveyor.transfers),
        vibration=() if line.fixture is None or line.fixture.damping is None else VIBRATION_KEYS,
    )


def sketch_tree(
    tree: Mapping[str, Any], transfer_kinds: frozenset[str] | None, read_time: Callable[[Any], Any]
) -> LineSketch:
    """The sketch of a file's tree: what can be read is known, the rest is not.

    Parameters
    ----------
    tree : the values of the file, every ``like`` carried out
    transfer_kinds : the kinds of transfer that the conveyor sheet has; None: it cannot be read
    read_time : the law of a ``time:``, None where it cannot be read
    """
    lanes, transfers, stations = (_items(tree.get(key)) for key in ("lanes", "transfers", "stations"))
    route = tree.get("route")
    return LineSketch(
        lanes=None if lanes is None else tuple(
            LaneSketch(
                name,
                _length(item, "length"),
                _text(item, "from"),
                _text(item, "to"),
                *(_length(item, key, 0.0) for key in ("level", "across", "west_end")),
            )
            for name, item in lanes
        ),
        transfers=None if transfers is None else tuple(
            TransferSketch(name, *(_text(item, key) for key in ("kind", "takes", "gives"))) for name, item in transfers
        ),
        stations=None if stations is None else tuple(
            StationSketch(
                name,
                _text(item, "lane"),
                _length(item, "at"),
                read_time(item.get("time")),
                _quantity(item, "rejects", SHARE, 0.0),
                item.get("reject_exit", False) if isinstance(item.get("reject_exit", False), bool) else None,
                "window" in item,
            )
            for name, item in stations
        ),
        route=_route(route),
        transfer_kinds=transfer_kinds,
        vibration=_vibration(tree.get("fixture", {})),
    )  # fmt: skip


def _items(value: Any) -> list[tuple[str, dict[str, Any]]] | None:
    if not isinstance(value, dict):
        return None
    return [(name, item if isinstance(item, dict) else {}) for name, item in value.items()]


def _route(value: Any) -> tuple[tuple[str, ...], ...] | None:
    if not isinstance(value, list) or not value:
        return None
    steps = [tuple(step) if isinstance(step, list) else (step,) for step in value]
    if not all(steps) or not all(isinstance(name, str) for step in steps for name in step):
        return None
    return tuple(steps)


def _vibration(fixture: Any) -> tuple[str, ...] | None:
    return tuple(key for key in VIBRATION_KEYS if key in fixture) if isinstance(fixture, dict) else None


def _text(item: Mapping[str, Any], key: str) -> str | None:
    value = item.get(key)
    return value if isinstance(value, str) else None


def _length(item: Mapping[str, Any], key: str, default: float | None = None) -> float | None:
    value = _quantity(item, key, LENGTH, default)
    return value if value is not None and abs(value) <= LONGEST_TRACK_M else None


def _quantity(item: Mapping[str, Any], key: str, dimension: Dimension, default: float | None) -> float | None:
    """The value of a key, the default where it is absent, None where it cannot be read."""
    if key not in item:
        return default
    try:
        return parse_quantity(item[key], dimension) if isinstance(item[key], str) else None
    except QuantityFault:
        return None
