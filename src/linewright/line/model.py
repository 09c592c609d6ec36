"""The line: what the line file says, validated, frozen and in SI. Attributes carry units; the file's keys do not."""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from linewright.line import fields as f
from linewright.line.coherence import coherence_faults
from linewright.line.document import kind_of
from linewright.line.electrics import Cabinet, Controls, Feeder, MotorZone
from linewright.line.fields import FileModel, PathFault
from linewright.line.handing_over import Acceptance, Baseline
from linewright.line.people import Calendar, OperatorPool, ShiftBreak
from linewright.line.product import Demand, Fixture, FixtureSet, FrictionHold, Held, Part, Sequence, Variant
from linewright.line.sheet import FileRoot, Sheet, as_data
from linewright.line.station import Changeover, Outside, Rework, Station
from linewright.line.surroundings import Base, Environment, MoveLimits, TemperatureRange, UpkeepPlan
from linewright.line.times import Failure, LawKind, Time, TimeLaw
from linewright.line.track import CarrierChange, Lane, Ring, Stretch, Transfer, ring_length_m, ring_point_m

__all__ = [
    "Acceptance",
    "Baseline",
    "Calendar",
    "CarrierChange",
    "Changeover",
    "Demand",
    "Failure",
    "Fixture",
    "FixtureSet",
    "FrictionHold",
    "Held",
    "Lane",
    "LawKind",
    "Line",
    "OperatorPool",
    "Outside",
    "Part",
    "Rework",
    "Ring",
    "ShiftBreak",
    "Station",
    "Step",
    "Stretch",
    "Time",
    "TimeLaw",
    "Transfer",
    "Variant",
]


class Step(FileModel):
    """One step of the route: a station, or several that share the work."""

    stations: tuple[f.Name, ...]
    reject_exit: bool = False
    rework_only: bool = False

    @property
    def name(self) -> str:
        """The stations' names joined with ``/``."""
        return "/".join(self.stations)


class Line(FileRoot):
    """A whole line with its conveyor sheet. Coherent by construction: what does not fit together cannot be made."""

    version: f.Version = Field(default=1, validation_alias="linewright", description="Version of the format.")
    name: f.Text
    conveyor: Sheet = Field(description="A built-in sheet by name, or a path from the line file's folder.")
    units: Annotated[Literal["mm", "inch"], f.one_of("mm", "inch")] = Field(default="mm", description="For printing.")
    demand: Demand | None = None
    part: Part | None = None
    fixture: Fixture | None = None
    lanes: Annotated[tuple[Lane, ...], BeforeValidator(f.named_items)]
    transfers: Annotated[tuple[Transfer, ...], BeforeValidator(f.named_items)] = ()
    carriers: f.Count
    stations: Annotated[tuple[Station, ...], BeforeValidator(f.named_items)]
    route: tuple[Step, ...]
    going_on: f.YesNo = Field(default=False, description="Carriers under way go on without a halt where they can.")
    operators: Annotated[tuple[OperatorPool, ...], BeforeValidator(f.named_some)] = ()
    calendar: Calendar | None = None
    variants: Annotated[tuple[Variant, ...], BeforeValidator(f.named_some)] = ()
    sequence: Sequence = Field(default=(), description="Loads of each variant in turn, repeated; then without shares.")
    run_out: f.YesNo = Field(
        default=False, description="The next variant is loaded once no part of another is on the line."
    )
    fixture_sets: Annotated[tuple[FixtureSet, ...], BeforeValidator(f.named_some)] = ()
    admission: Annotated[tuple[Stretch, ...], BeforeValidator(f.named_some)] = ()
    carrier_changes: Annotated[
        tuple[CarrierChange, ...],
        BeforeValidator(f.item_list("a list of changes", "[{time: 2 h, station: load, out: 2}]")),
    ] = Field(default=(), description="Carriers taken out and put in.")
    move_limits: MoveLimits | None = Field(
        default=None, description="What carriers use at most, where that is less than the drive could."
    )
    compensated: f.YesNo = Field(default=False, description="Each carrier is measured and its own offset taken out.")
    temperature: TemperatureRange | None = Field(default=None, description="Of the hall.")
    base: Base | None = Field(default=None, description="What track and stations stand on.")
    environment: Environment | None = None
    feeders: Annotated[tuple[Feeder, ...], BeforeValidator(f.named_some)] = Field(
        default=(), description="Motor supplies of the lanes."
    )
    motor_zones: Annotated[tuple[MotorZone, ...], BeforeValidator(f.named_some)] = ()
    cabinet: Cabinet | None = None
    controls: Controls | None = None
    upkeep: UpkeepPlan | None = None
    acceptance: Acceptance | None = Field(default=None, description="What the run-off has to show, and how surely.")
    baseline: Baseline | None = Field(
        default=None, description="A chain or belt line with stop gates and lift-and-locate units, to compare with."
    )

    @field_validator("lanes", mode="after")
    @classmethod
    def _ring_lengths(cls, lanes: tuple[Lane, ...], info: ValidationInfo) -> tuple[Lane, ...]:
        """The length of a ring follows from the sheet's curve."""
        curve = info.data["conveyor"].curve if "conveyor" in info.data else None
        if curve is None:
            return lanes
        return tuple(
            lane if lane.ring is None else lane.model_copy(update={"length_m": ring_length_m(lane.ring, curve)})
            for lane in lanes
        )

    @field_validator("stations", mode="after")
    @classmethod
    def _floor_of_a_ring(cls, stations: tuple[Station, ...], info: ValidationInfo) -> tuple[Station, ...]:
        """The floor distance of a station on a ring follows from its place along it."""
        curve = info.data["conveyor"].curve if "conveyor" in info.data else None
        rings = {lane.name: lane for lane in info.data.get("lanes", ()) if lane.ring is not None}
        if curve is None:
            return stations
        placed = []
        for station in stations:
            lane = rings.get(station.lane)
            if lane is not None and station.along_m is not None and 0.0 <= station.along_m < lane.length_m:
                at_m = lane.west_end_m + ring_point_m(lane.ring, curve, station.along_m)[0]
                station = station.model_copy(update={"at_m": at_m})
            placed.append(station)
        return tuple(placed)

    @field_validator("route", mode="before")
    @classmethod
    def _steps(cls, value: Any, info: ValidationInfo) -> Any:
        """The steps out of names and lists of names; a step of reject exits is known by its stations."""
        rule = "write a list of stations; stations that share one step in a list of their own"
        if not isinstance(value, list | tuple) or not value:
            raise f.fault(f"{kind_of(value) if value != [] else 'an empty list'} stands here", rule)
        stations = info.data.get("stations", ())
        exits = {station.name for station in stations if station.reject_exit}
        alone = {station.name for station in stations if station.rework_only}
        steps: list[dict[str, Any]] = []
        found: list[PathFault] = []
        for i, entry in enumerate(value):
            names = entry.stations if isinstance(entry, Step) else entry
            parallel = isinstance(names, list | tuple)
            if parallel and not names:
                found.append(((i,), "an empty list", rule))
            for j, name in enumerate(names if parallel else (names,)):
                if not isinstance(name, str):
                    found.append(((i, j) if parallel else (i,), f"{kind_of(name)} stands here", rule))
            steps.append({"stations": tuple(names) if parallel else (names,)})
        if found:
            raise f.faults(found)
        for step in steps:
            step["reject_exit"] = exits.issuperset(step["stations"])
            step["rework_only"] = alone.issuperset(step["stations"])
        return steps

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        found = coherence_faults(self)
        if found:
            raise f.faults(found)
        return self

    def station(self, name: str) -> Station:
        """The station of that name; KeyError if there is none."""
        return {station.name: station for station in self.stations}[name]

    def lane(self, name: str) -> Lane:
        """The lane of that name; KeyError if there is none."""
        return {lane.name: lane for lane in self.lanes}[name]

    def lane_length_m(self, lane: str) -> float:
        """Length of the lane of that name, of a ring that of its centre line. [m]"""
        found = self.lane(lane)
        if found.ring is None:
            return found.length_m
        assert self.conveyor.curve is not None  # held by the validator
        return ring_length_m(found.ring, self.conveyor.curve)

    @property
    def is_plain_loop(self) -> bool:
        """Whether the track is one loop of straight one-way lanes, each transfer taking from one and giving to one."""
        straight = all(lane.ring is None and not lane.two_way for lane in self.lanes)
        return straight and all(len(transfer.lanes) == 2 for transfer in self.transfers)

    @property
    def input_hash(self) -> str:
        """SHA-256 over everything that the line and its sheet say, whatever the files looked like."""
        return hashlib.sha256(json.dumps(as_data(self), sort_keys=True).encode()).hexdigest()
