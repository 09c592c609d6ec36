"""Who works, and when: operators who share stations, and the shift with its breaks."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from linewright.line import fields as f
from linewright.line.fields import FileModel


class OperatorPool(FileModel):
    """Operators who share stations."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    operators: f.Count = Field(description="How many.")
    stations: f.StationNames = Field(description="By priority; all stand at the first when the run begins.")
    walking_speed_m_s: f.Speed | None = Field(
        default=None, validation_alias="walking_speed", description="Between stations, along floor and across."
    )
    walk_s: f.DurationOrZero | None = Field(
        default=None, validation_alias="walk", description="From any station to any other, in place of walking_speed."
    )

    @model_validator(mode="after")
    def _one_walk(self) -> Self:
        if self.walking_speed_m_s is not None and self.walk_s is not None:
            raise f.faults([(("walk",), "walk stands beside walking_speed", "write one of the two")])
        if self.walking_speed_m_s is None and self.walk_s is None and len(self.stations) > 1:
            raise f.fault(
                "neither walking_speed nor walk stands here", "write walking_speed: 1.2 m/s or, of any walk, walk: 4 s"
            )
        return self


class ShiftBreak(FileModel):
    """A stretch of each shift in which stations begin no work."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    at_s: f.DurationOrZero = Field(validation_alias="at", description="From the begin of the shift.")
    for_s: f.Duration = Field(validation_alias="for", description="How long.")
    stations: f.StationNames | None = Field(default=None, description="By default all.")


class Calendar(FileModel):
    """A shift, repeated without end."""

    shift_s: f.Duration = Field(validation_alias="shift", description="Length of a shift, breaks included.")
    breaks: Annotated[tuple[ShiftBreak, ...], BeforeValidator(f.named_some)] = ()
    run_down_s: f.Duration | None = Field(
        default=None,
        validation_alias="run_down",
        description="Before the end of the shift, in which the first step begins no work.",
    )
