"""The electrical side of a line as its builder chooses it: feeders, motor zones, cabinet, controls."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from linewright.line import fields as f
from linewright.line import units
from linewright.line.fields import FileModel, PathFault
from linewright.line.track import Side


class Cable(FileModel):
    """The cable from the supply to the first section; go and return are reckoned from the length of the run."""

    length_m: f.Length = Field(validation_alias="length", description="One way.")
    area_mm2: f.Area = Field(validation_alias="area", description="Of one conductor, a size of IEC 60228.")
    temperature_degC: f.Temperature = Field(validation_alias="temperature", description="Of the conductor at work.")
    conductor: Annotated[Literal["stranded", "flexible"], f.one_of("stranded", "flexible")] = Field(
        default="flexible", description="Class 2 or class 5 of IEC 60228; both of plain copper."
    )
    rating_A: f.Current | None = Field(
        default=None, validation_alias="rating", description="What it carries as laid, by the local code."
    )


class Link(FileModel):
    """The link from one section to the next; the same conductor and temperature as the cable."""

    length_m: f.Length = Field(validation_alias="length", description="One way, section and gap together.")
    area_mm2: f.Area = Field(validation_alias="area", description="Of one conductor, a size of IEC 60228.")


class BrakingResistor(FileModel):
    """What turns into heat what braking gives back and the capacitors cannot hold."""

    resistance_ohm: f.Resistance = Field(validation_alias="resistance")
    power_W: f.Power = Field(validation_alias="power", description="For ever.")
    on_V: f.Voltage = Field(validation_alias="on", description="Voltage above which it conducts.")


class Feeder(FileModel):
    """The motor supply of a lane, or of a stretch of one: supplies, cable, links from section to section."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    lane: f.Name
    from_m: f.Position | None = Field(
        default=None, validation_alias="from", description="Floor distance; of a ring travel. By default all of it."
    )
    to_m: f.Position | None = Field(default=None, validation_alias="to", description="As from.")
    enters: Side = Field(default="west", description="The end at which the cable comes in; of a ring west is its from.")
    supplies: f.Count = Field(default=1, description="In parallel at its head.")
    cable: Cable | None = None
    link: Link | None = None
    fuse_A: f.Current | None = Field(default=None, validation_alias="fuse", description="Rated current of a gG fuse.")
    breaker_A: f.Current | None = Field(
        default=None, validation_alias="breaker", description="Rated current of a circuit-breaker in place of a fuse."
    )
    braking_resistor: BrakingResistor | None = None

    @model_validator(mode="after")
    def _both_ends(self) -> Self:
        ends = {"from": self.from_m, "to": self.to_m}
        there = [key for key, value in ends.items() if value is not None]
        if self.fuse_A is not None and self.breaker_A is not None:
            raise f.faults([(("breaker",), "breaker stands beside fuse", "write one of the two")])
        if len(there) == 1:
            raise f.faults([((there[0],), f"{there[0]} stands alone", "write from and to, or neither")])
        if self.from_m is not None and self.to_m is not None and not self.from_m < self.to_m:
            raise f.faults([(("to",), "not beyond from", "write the smaller first")])
        return self


class MotorZone(FileModel):
    """A stretch of track whose motor supply is switched off by itself, logic and positions staying alive."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    lane: f.Name
    from_m: f.Position = Field(validation_alias="from", description="Floor distance; of a ring travel.")
    to_m: f.Position = Field(validation_alias="to", description="As from.")

    @model_validator(mode="after")
    def _runs_forward(self) -> Self:
        if not self.from_m < self.to_m:
            raise f.faults([(("to",), "not beyond from", "write the smaller first")])
        return self


class Cabinet(FileModel):
    """The cabinet that holds supplies and controller."""

    width_m: f.Length = Field(validation_alias="width", description="Room on its rails in all.")
    heat_W: f.Power = Field(validation_alias="heat", description="What it gives off at its greatest inner temperature.")


class Controls(FileModel):
    """The controller and its bus."""

    scan_s: f.Duration = Field(validation_alias="scan", description="Greatest scan time of the program.")
    bus_cycle_s: f.Duration = Field(validation_alias="bus_cycle")


def resistor_faults(feeder: Feeder, supply_V: float, trip_V: float) -> list[PathFault]:
    """Where the voltage of a braking resistor does not lie between the supply's and its trip; paths of the feeder."""
    resistor = feeder.braking_resistor
    if resistor is None or supply_V < resistor.on_V < trip_V:
        return []
    low, high = f.in_unit(supply_V, units.VOLTAGE), f.in_unit(trip_V, units.VOLTAGE)
    allowed = f"write one between {low}, the supply's, and {high}, its trip"
    return [(("braking_resistor", "on"), "a voltage at which it never works or always", allowed)]
