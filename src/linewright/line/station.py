"""A station: where it stands, what it does, what happens before and after its work."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationInfo, model_validator

from linewright.line import fields as f
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault
from linewright.line.times import FailureList, Time
from linewright.line.tooling import Forces, Guard, Support, Tolerance, Tool

_CHANGEOVER_EXAMPLES = "write a time such as 30 s, or times by pair: {a: {b: 30 s}, b: {a: 20 s}}"


class Rework(FileModel):
    """Parts that are sent back to be worked on again."""

    share: f.Share = Field(description="Of the parts worked on.")
    to: f.Name = Field(description="A station of an earlier step, or of a step for rework alone.")
    at_most: f.Reworks = Field(description="How often a part is reworked; after that it is flagged.")


class Outside(FileModel):
    """A machine outside the line with its buffer, which brings parts to a station or takes them away from it."""

    every: Time = Field(description="From one part to the next.")
    buffer: f.BufferParts = Field(description="Parts that its buffer holds at most.")
    start: f.BufferPartsOrZero | None = Field(
        default=None, description="Parts in the buffer of a feed at the start; by default it is full."
    )
    failures: FailureList = ()


class Changeover(FileModel):
    """How long a station takes from one variant to another: one time for any two, or a time for each pair.

    Examples
    --------
    >>> Changeover(any_s=30.0).time_s("a", "b"), Changeover(any_s=30.0).time_s("a", "a")
    (30.0, 0.0)
    >>> Changeover(pairs_s=(("a", "b", 30.0), ("b", "a", 20.0))).scaled(0.5).time_s("b", "a")
    10.0
    """

    any_s: f.Duration | None = None
    pairs_s: tuple[tuple[f.Name, f.Name, f.DurationOrZero], ...] = ()

    def time_s(self, before: str, after: str) -> float:
        """From one variant to another, 0 from a variant to itself; KeyError if the pair is not stated. [s]"""
        if before == after:
            return 0.0
        if self.any_s is not None:
            return self.any_s
        return {(one, two): time_s for one, two, time_s in self.pairs_s}[before, after]

    def scaled(self, factor: float) -> Changeover:
        """The same with every time multiplied."""
        return Changeover(
            any_s=None if self.any_s is None else self.any_s * factor,
            pairs_s=tuple((one, two, time_s * factor) for one, two, time_s in self.pairs_s),
        )


_TIME: TypeAdapter[float] = TypeAdapter(f.Duration)
_PAIRS: TypeAdapter[dict[str, dict[str, float]]] = TypeAdapter(dict[f.Name, dict[f.Name, f.DurationOrZero]])


def _changeover_of(value: Any, info: ValidationInfo) -> Any:
    """A changeover out of a time, or out of times by pair."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return (
            {"any_s": value}
            if not f.is_from_file(info)
            else Changeover(any_s=_TIME.validate_python(value, context=f.FROM_FILE))
        )
    if not f.is_from_file(info):
        return value
    if not isinstance(value, dict) or not value:
        raise f.fault(f"{kind_of(value) if value else 'an empty value'} stands here", _CHANGEOVER_EXAMPLES)
    times = _PAIRS.validate_python(value, context=f.FROM_FILE)
    return Changeover(pairs_s=tuple((one, two, time_s) for one, row in times.items() for two, time_s in row.items()))


class Station(FileModel):
    """A place where work is done. On a ring it says ``along``, elsewhere ``at``."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    lane: f.Name
    at_m: f.Position = Field(
        default_factory=f.not_stated, validation_alias="at", description="Floor distance from the west end."
    )
    along_m: f.Position | None = Field(
        default=None, validation_alias="along", description="On a ring: travel from its start."
    )
    work: Annotated[Literal["automatic", "manual"], f.one_of("automatic", "manual")] = "automatic"
    time: Time
    each: Annotated[Literal["part", "carrier"], f.one_of("part", "carrier")] = Field(
        default="part", description="What the time is for, where a carrier has several nests."
    )
    prepare_s: f.DurationOrZero = Field(
        default=0.0, validation_alias="prepare", description="The tool, before each work."
    )
    clear_s: f.DurationOrZero = Field(
        default=0.0, validation_alias="clear", description="End of work until the tool is clear."
    )
    release_s: f.Duration | None = Field(
        default=None, validation_alias="release", description="An operator releases the carrier after the work."
    )
    settling_s: f.DurationOrZero | None = Field(
        default=None, validation_alias="settling", description="By default the sheet's."
    )
    window_m: f.Length | None = Field(
        default=None,
        validation_alias="window",
        description="Half width, ±, that the fixture's residual vibration keeps within before work starts.",
    )
    keep_clear_m: f.LengthOrZero = Field(
        default=0.0,
        validation_alias="keep_clear",
        description="To each side of the centre: no waiting carrier's body there.",
    )
    no_joint_m: f.LengthOrZero = Field(
        default=0.0, validation_alias="no_joint", description="To each side of the centre: no joint of two sections."
    )
    failures: FailureList = ()
    misses: f.Share = Field(default=0.0, description="At the first step: parts that turn out not to be there.")
    rejects: f.Share = Field(default=0.0, description="Parts flagged at the end of the work.")
    exit: f.Name | None = Field(default=None, description="The reject exit of parts flagged here; by default the next.")
    reject_exit: f.YesNo = Field(default=False, description="Flagged parts are taken out here; good parts skip it.")
    rework: Rework | None = Field(default=None, description="Parts that are sent back at the end of the work.")
    rework_only: f.YesNo = Field(default=False, description="Only parts that are sent here come here.")
    changeover: Annotated[Changeover | None, BeforeValidator(_changeover_of)] = Field(
        default=None, description="From one variant to another: a time, or times by pair."
    )
    feed: Outside | None = Field(default=None, description="A machine outside the line that brings the parts.")
    take_away: Outside | None = Field(default=None, description="A machine outside the line that takes the parts.")
    force: Forces = Field(default=None, description="On the carrier, while it works; none, one or several.")
    support: Support | None = Field(default=None, description="What carries the force instead, and how much it takes.")
    tolerance: Tolerance | None = Field(default=None, description="At the tool point.")
    tool: Tool | None = Field(default=None, description="Its own errors.")
    pin_m: f.PlusMinus | None = Field(
        default=None, validation_alias="pin", description="Play of the pin that locates the fixture here."
    )
    guard: Guard | None = Field(default=None, description="Of a station with work by hand.")
    end_stops_m: f.Length | None = Field(
        default=None,
        validation_alias="end_stops",
        description="To each side of the centre: stops that fall in, where no body lies, once the guard trips.",
    )
    motor_zone: f.Name | None = Field(default=None, description="Which zone its guard switches off.")
    after_power_loss: Annotated[Literal["reject", "repeat"], f.one_of("reject", "repeat")] = Field(
        default="reject", description="What becomes of a part whose work a stop of the line interrupts."
    )

    @model_validator(mode="after")
    def _one_of_two(self, info: ValidationInfo) -> Self:
        # Told at both keys: either may be a copy, and of a copy the fault is told where it was written.
        found: list[PathFault] = []
        if self.settling_s is not None and self.window_m is not None:
            found += [
                (("settling",), "settling stands beside window", "write one of the two"),
                (("window",), "window stands beside settling", "write one of the two"),
            ]
        # In Python a station on a ring that has belonged to a line knows its floor distance.
        if self.along_m is not None and f.is_from_file(info) and "at_m" in self.model_fields_set:
            found.append((("along",), "along stands beside at", "write along on a ring, at elsewhere"))
        if found:
            raise f.faults(found)
        return self
