"""What a station does to the carrier and asks of it: forces, what carries them, tolerance, the tool's own errors."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationInfo, model_validator

from linewright.line import fields as f
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault

_NO_FORCE = "none"

Point = Annotated[
    tuple[f.Position, f.Position, f.Position],
    BeforeValidator(f.item_list("three lengths", "[12 mm, 0 mm, 65 mm]", least=3, most=3)),
]


class ToolForce(FileModel):
    """A force that a tool puts on the carrier while it works.

    Along is positive in the direction of travel, across to the left of it, down towards the track.
    """

    down_N: f.SignedForce = Field(default=0.0, validation_alias="down")
    across_N: f.SignedForce = Field(default=0.0, validation_alias="across")
    along_N: f.SignedForce = Field(default=0.0, validation_alias="along")
    greatest_N: f.Force | None = Field(
        default=None,
        validation_alias="greatest",
        description="The most that the tool can push in this direction, whatever it is set to.",
    )
    at_m: Point | None = Field(
        default=None, validation_alias="at", description="Along, across and up from the middle of the carrier's top."
    )

    @property
    def size_N(self) -> float:
        """Size of the stated force. [N]"""
        return float((self.down_N**2 + self.across_N**2 + self.along_N**2) ** 0.5)

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.size_N == 0.0:
            raise f.fault("no force is stated", "write down, across or along other than 0 N, or force: none")
        if self.greatest_N is not None and self.greatest_N < self.size_N * (1.0 - 1e-9):
            allowed = f"write at least {self.size_N:.4g} N"
            raise f.faults([(("greatest",), "less than the force that is stated", allowed)])
        return self


_FORCES: TypeAdapter[tuple[ToolForce, ...]] = TypeAdapter(tuple[ToolForce, ...])
_FORCE: TypeAdapter[ToolForce] = TypeAdapter(ToolForce)


def _forces_of(value: Any, info: ValidationInfo) -> tuple[ToolForce, ...] | None:
    """``none``, one force or a list of forces."""
    if value is None and not f.is_from_file(info):
        return None
    if value == _NO_FORCE:
        return ()
    context, from_file = info.context, f.is_from_file(info)
    if isinstance(value, list | tuple):
        if not value and f.is_from_file(info):
            raise f.fault("an empty list stands here", "write force: none, a force or a list of forces")
        return _FORCES.validate_python(value, context=context, by_alias=True, by_name=not from_file)
    if isinstance(value, dict | ToolForce):
        return (_FORCE.validate_python(value, context=context, by_alias=True, by_name=not from_file),)
    raise f.fault(f"{kind_of(value)} stands here", "write force: none, or a force such as {down: 620 N}")


Forces = Annotated[
    tuple[ToolForce, ...] | None,
    f.Reader(_forces_of, {"description": "none, a force or a list of forces."}),
]


class Support(FileModel):
    """What carries a tool's force in place of guides and thrust: a support, side stop or clamp, and what it takes."""

    down_N: f.Force | None = Field(default=None, validation_alias="down")
    across_N: f.Force | None = Field(default=None, validation_alias="across")
    along_N: f.Force | None = Field(default=None, validation_alias="along")

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.down_N is None and self.across_N is None and self.along_N is None:
            raise f.fault("nothing is stated", "write at least one of down, across and along")
        return self


class Tolerance(FileModel):
    """How near the part must be where the tool expects it, plus and minus, per axis, and how surely."""

    x_m: f.PlusMinus | None = Field(default=None, validation_alias="x", description="Along.")
    y_m: f.PlusMinus | None = Field(default=None, validation_alias="y", description="Across.")
    z_m: f.PlusMinus | None = Field(default=None, validation_alias="z", description="Up.")
    cpk: f.Factor = Field(default=1.33, description="Process capability index asked for; 1.33 is common practice.")

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.x_m is None and self.y_m is None and self.z_m is None:
            raise f.fault("no axis is stated", "write at least one of x, y and z, such as x: ±0.08 mm")
        return self


class ErrorSource(FileModel):
    """An error at the tool point that the user states himself, plus and minus, per axis."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    x_m: f.PlusMinus = Field(default=0.0, validation_alias="x", description="Along.")
    y_m: f.PlusMinus = Field(default=0.0, validation_alias="y", description="Across.")
    z_m: f.PlusMinus = Field(default=0.0, validation_alias="z", description="Up.")
    kind: Annotated[Literal["spread", "bias"], f.one_of("spread", "bias")] = Field(
        default="spread", description="spread: differs from part to part; bias: the same for all, sign unknown."
    )
    law: Annotated[Literal["normal", "uniform", "triangular"], f.one_of("normal", "uniform", "triangular")] = Field(
        default="normal", description="Of a spread; plus and minus are three standard deviations of a normal one."
    )

    @model_validator(mode="after")
    def _some(self) -> Self:
        found: list[PathFault] = []
        if self.x_m == self.y_m == self.z_m == 0.0:
            found.append(((), "no error is stated", "write at least one of x, y and z above 0 mm"))
        if self.kind == "bias" and "law" in self.model_fields_set:
            found.append((("law",), "nothing obeys law: a bias has none", "leave it out, or write kind: spread"))
        if found:
            raise f.faults(found)
        return self


class Tool(FileModel):
    """A tool or robot's own errors at the tool point, plus and minus, the same on every axis."""

    repeatability_m: f.PlusMinus | None = Field(
        default=None, validation_alias="repeatability", description="Pose repeatability, as ISO 9283 measures it."
    )
    drift_m: f.PlusMinus | None = Field(default=None, validation_alias="drift", description="Until set up anew.")
    grip_m: f.PlusMinus | None = Field(
        default=None, validation_alias="grip", description="Scatter of a part in the gripper."
    )
    at_m: Point | None = Field(
        default=None, validation_alias="at", description="Along, across and up from the middle of the carrier's top."
    )
    errors: Annotated[tuple[ErrorSource, ...], BeforeValidator(f.named_some)] = Field(
        default=(), description="Whatever else moves the tool point against the part."
    )


class Guard(FileModel):
    """What keeps people from a station while carriers move there, or stops the carriers in time."""

    kind: Annotated[
        Literal["light-curtain", "scanner", "interlocked", "locked"],
        f.one_of("light-curtain", "scanner", "interlocked", "locked"),
    ] = Field(
        description="light-curtain: met at right angles; scanner: a field along the floor; interlocked: a door that "
        "trips; locked: a door that stays locked."
    )
    distance_m: f.Length = Field(validation_alias="distance", description="From where it trips to the nearest danger.")
    device_s: f.DurationOrZero = Field(validation_alias="device", description="Its own response time.")
    logic_s: f.DurationOrZero = Field(
        validation_alias="logic", description="From the device's signal until the motors have no supply, all in series."
    )
    resolution_m: f.Length | None = Field(
        default=None, validation_alias="resolution", description="Of a light curtain: the least body that it sees."
    )
    height_m: f.Length | None = Field(
        default=None, validation_alias="height", description="Of a scanner's field over the floor."
    )

    unlocks_after_s: f.Duration | None = Field(
        default=None,
        validation_alias="unlocks_after",
        description="Of a locked door: from the demand to stop until it can be opened.",
    )
    seen_behind: f.YesNo | None = Field(
        default=None, description="Whoever stands between it and the danger is seen too, or there is no room to stand."
    )

    others_out_of_reach: f.YesNo | None = Field(
        default=None, description="Carriers of other lanes, which it does not stop, cannot be reached from here."
    )

    @model_validator(mode="after")
    def _own_figure(self) -> Self:
        found: list[PathFault] = []
        own = {
            "resolution": ("light-curtain", self.resolution_m),
            "height": ("scanner", self.height_m),
            "unlocks_after": ("locked", self.unlocks_after_s),
        }
        for key, (kind, value) in own.items():
            if value is not None and kind != self.kind:
                found.append(((key,), f"{key} belongs to kind: {kind}", "leave it out"))
            if value is None and kind == self.kind:
                found.append(((), f"the key '{key}' is missing", f"add it: a guard of kind {kind} states it"))
        if found:
            raise f.faults(found)
        return self
