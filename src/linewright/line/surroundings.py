"""Where the line stands and how it is kept up: environment, temperature, base, spares."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from linewright.line import fields as f
from linewright.line.fields import FileModel, PathFault


class Environment(FileModel):
    """What the surroundings bring; what is not stated is not checked."""

    dry: f.YesNo | None = Field(default=None, description="Dry at all times: no wash-down, no condensation.")
    chips: f.YesNo | None = Field(default=None, description="Iron chips or dust that magnets gather.")
    spatter: f.YesNo | None = Field(default=None, description="Of welding, or adhesive.")
    wash_down: f.YesNo | None = None
    static: f.YesNo | None = Field(default=None, description="Parts that static electricity harms.")

    @model_validator(mode="after")
    def _dry_or_wet(self) -> Self:
        if self.dry and self.wash_down:
            raise f.faults([(("wash_down",), "washed down, and dry at all times", "write dry: false")])
        return self


class TemperatureRange(FileModel):
    """Of the hall, and at set-up."""

    least_degC: f.Temperature = Field(validation_alias="least")
    most_degC: f.Temperature = Field(validation_alias="most")
    set_up_degC: f.Temperature = Field(validation_alias="set_up", description="When the stations were set up.")

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        found: list[PathFault] = []
        if self.most_degC < self.least_degC:
            found.append((("most",), "colder than least", "write the greater here"))
        elif not self.least_degC <= self.set_up_degC <= self.most_degC:
            found.append((("set_up",), "not between least and most", "write one between them"))
        if found:
            raise f.faults(found)
        return self


class Base(FileModel):
    """What the stations stand on."""

    expansion_1_K: f.Expansion = Field(validation_alias="expansion", description="Of the base along the track.")
    fixed_at_m: f.Position = Field(
        validation_alias="fixed_at", description="Floor distance at which track and base are fixed to each other."
    )


class UpkeepPlan(FileModel):
    """How spares are kept."""

    service_level: f.Share = Field(description="Chance that no spare is missing before the next delivery.")
    lead_time_months: f.Months = Field(validation_alias="lead_time", description="From order to delivery.")
    first_day: f.Day | None = Field(default=None, description="Of production: the upkeep calendar is counted from it.")

    @model_validator(mode="after")
    def _below_one(self) -> Self:
        if not 0.0 < self.service_level < 1.0:
            raise f.faults(
                [(("service_level",), "never or always", "write a share between 0 % and 100 %, such as 98 %")]
            )
        return self


class MoveLimits(FileModel):
    """What the builder lets his carriers use at most, where that is less than the drive could."""

    speed_m_s: f.Speed | None = Field(default=None, validation_alias="speed")
    acceleration_m_s2: f.Acceleration | None = Field(default=None, validation_alias="acceleration")
    jerk_m_s3: f.Jerk | None = Field(default=None, validation_alias="jerk")

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.speed_m_s is None and self.acceleration_m_s2 is None and self.jerk_m_s3 is None:
            raise f.fault("nothing is stated", "write at least one of speed, acceleration and jerk")
        return self


class Liquid(FileModel):
    """Liquid in the part, in a box or a round cup."""

    length_m: f.Length | None = Field(default=None, validation_alias="length", description="Of a box, along the track.")
    diameter_m: f.Length | None = Field(default=None, validation_alias="diameter", description="Of a round cup.")
    depth_m: f.Length = Field(validation_alias="depth")
    freeboard_m: f.Length = Field(validation_alias="freeboard", description="From its surface to the rim.")

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if (self.length_m is None) == (self.diameter_m is None):
            found = "neither length nor diameter stands here" if self.length_m is None else "length stands by diameter"
            raise f.fault(found, "write length of a box, or diameter of a round cup")
        return self
