"""What the recomputed rows of power and bus share: a row, carriers at once, the sections of a feeder, its figures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from linewright.layout import Layout
    from linewright.layout.lanes import LaneLayout
    from linewright.line.electrics import Feeder
    from linewright.line.model import Line


@dataclass(frozen=True)
class Row:
    """A row as the page gives it; `words` stand in the program's `where`."""

    code: str
    verdict: str
    value: float | None = None
    limit: float | None = None
    margin: float | None = None
    unit: str | None = None
    words: tuple[str, ...] = ()


def judged(code: str, value: float, limit: float, unit: str, *words: str) -> Row:
    """A row with its margin 1 - value / limit, and -1 where that says nothing."""
    if not math.isfinite(value):
        return Row(code, "fails", None, limit, -1.0, unit, words)
    margin = 1.0 - value / limit if limit > 0.0 else (-1.0 if value > limit else 0.0)
    verdict = "fails" if margin < 0.0 else "tight" if margin < 0.1 else "holds"
    return Row(code, verdict, value, limit, margin, unit, words)


def most_carriers(line: Line) -> int:
    """The greatest number on the line at one time, changes taken as they come in time."""
    now = most = line.carriers
    for change in sorted(line.carrier_changes, key=lambda one: one.time_s):
        now += (change.in_ or 0) - (change.out or 0)
        most = max(most, now)
    return most


# ---- sections ----


@dataclass(frozen=True)
class Fed:
    """The sections of a feeder from the head on: numbers, lengths as far as the lane goes, ends within a section."""

    feeder: Feeder
    lane: LaneLayout
    numbers: tuple[int, ...]
    lengths_m: tuple[float, ...]
    ends_within: bool

    @property
    def length_m(self) -> float:
        return math.fsum(self.lengths_m)

    @property
    def is_whole_ring(self) -> bool:
        return self.lane.is_ring and len(self.numbers) == len(self.lane.sections)


def bounds_m(lane: LaneLayout) -> list[float]:
    """Travel at which sections begin and end; the last ends where the lane does."""
    at = [0.0]
    for section_m in lane.sections:
        at.append(at[-1] + section_m)
    return [min(one, lane.length_m) for one in at]


def fed_by(feeder: Feeder, layout: Layout) -> Fed:
    """Whole sections, those whose middle lies on the stretch."""
    lane = layout.lane(feeder.lane)
    at = bounds_m(lane)
    low_m, high_m = 0.0, lane.length_m
    if feeder.from_m is not None and feeder.to_m is not None:
        low_m, high_m = sorted((lane.floor_to_travel(feeder.from_m), lane.floor_to_travel(feeder.to_m)))
    numbers = [i for i in range(len(lane.sections)) if low_m <= 0.5 * (at[i] + at[i + 1]) <= high_m]
    within = any(min(abs(end - one) for one in at) > 1e-3 for end in (low_m, high_m))
    upstream = lane.is_ring or lane.from_ == "west"
    if (feeder.enters == "west") != upstream:
        numbers.reverse()
    return Fed(feeder, lane, tuple(numbers), tuple(at[i + 1] - at[i] for i in numbers), within)


def carriers_on(line: Line, layout: Layout, fed: Fed) -> int:
    """K."""
    room = math.floor(fed.length_m / layout.pitch_m + 1e-9) + (0 if fed.is_whole_ring else 1)
    return min(most_carriers(line), room)


def restart_load_W(line: Line, layout: Layout, fed: Fed, one_W: float) -> np.ndarray:
    """The carriers as far from the head as they can stand."""
    load = np.zeros(len(fed.numbers))
    ends = np.cumsum(fed.lengths_m)
    for i in range(carriers_on(line, layout, fed)):
        at_m = fed.length_m - i * layout.pitch_m
        load[min(int(np.searchsorted(ends, at_m + 1e-9, side="right")), len(ends) - 1)] += one_W
    return load


# ---- figures ----


@dataclass(frozen=True)
class Figures:
    """What the sheet states, hot and cold."""

    low_V: float
    high_V: float
    trip_V: float
    capacitance_F: float
    k: float
    cold_ohm: float
    hot_ohm: float
    friction_N: float


def hot(ohm: float, temperature_degC: float) -> float:
    return ohm * (1.0 + 0.00393 * (temperature_degC - 20.0))


def figures_of(line: Line) -> Figures | None:
    """None where one of the figures without which no feeder is reckoned is missing."""
    supply, motor = line.conveyor.supply, line.conveyor.drive.motor
    if supply is None or supply.tolerance is None or motor is None or motor.hottest_degC is None:
        return None
    return Figures(
        supply.voltage_V * (1.0 - supply.tolerance),
        supply.voltage_V * (1.0 + supply.tolerance),
        supply.trip_V,
        supply.capacitance_F,
        motor.force_constant_N_A,
        motor.resistance_ohm,
        hot(motor.resistance_ohm, motor.hottest_degC),
        line.conveyor.drive.friction_N,
    )


def mass_kg(line: Line, loaded: bool) -> float:
    mass = line.conveyor.carrier.mass_kg + (line.fixture.mass_kg if line.fixture else 0.0)
    nests = line.fixture.nests if line.fixture else 1
    return mass + (line.part.mass_kg * nests if loaded and line.part else 0.0)
