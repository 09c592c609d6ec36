"""The conveyor sheet: what a maker's data sheet states about one family of conveyor, frozen and in SI."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, InstanceOf, model_validator

from linewright.errors import Place
from linewright.line import fields as f
from linewright.line import units
from linewright.line.document import LineDocument
from linewright.line.fields import FileModel, PathFault
from linewright.line.ratings import (
    AccuracySheet,
    CoastingSheet,
    ForceSheet,
    GuideSheet,
    ImageSheet,
    LogicSheet,
    MagnetSheet,
    MotorSheet,
    PriceSheet,
    StoppingSheet,
    SupplySheet,
    UpkeepSheet,
    rating_faults,
)

DOCUMENT_KEY = "\x00document"  # stands in no file


class FileRoot(FileModel):
    """A whole file. The document it was read from stays beside it: equality, repr and dumps know nothing of it."""

    document: InstanceOf[LineDocument] | None = Field(
        default=None, validation_alias=DOCUMENT_KEY, exclude=True, repr=False
    )

    def place(self, *path: str | int) -> Place | None:
        """Where a value stands, by the file's own keys: ``line.place("stations", "press", "at")``."""
        return None if self.document is None else self.document.place(path)

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        assert isinstance(other, FileRoot)
        return self.model_dump() == other.model_dump()

    def __hash__(self) -> int:
        return hash(self.model_dump_json())


class SectionStock(FileModel):
    """A stock section of motor track."""

    length_m: f.Length = Field(validation_alias="length")
    part_number: f.Text | None = None
    price: f.Price | None = None


class CarrierSheet(FileModel):
    """The bare carrier."""

    length_m: f.Length = Field(validation_alias="length", description="Along the track.")
    width_m: f.Length = Field(validation_alias="width", description="Across the track.")
    mass_kg: f.Mass = Field(validation_alias="mass")
    payload_kg: f.Mass = Field(validation_alias="payload", description="Fixture and part together.")
    mass_height_m: f.Position | None = Field(
        default=None, validation_alias="mass_height", description="Mass centre over its top, negative below."
    )
    part_number: f.Text | None = None


ThrustPoint = Annotated[
    tuple[f.SpeedOrZero, f.ForceOrZero],
    BeforeValidator(f.item_list("a speed and a force", "[0 m/s, 165 N]", least=2, most=2)),
]


class DriveSheet(FileModel):
    """How hard the track moves one carrier."""

    speed_m_s: f.Speed = Field(validation_alias="speed")
    acceleration_m_s2: f.Acceleration = Field(validation_alias="acceleration")
    jerk_m_s3: f.Jerk = Field(validation_alias="jerk")
    thrust: Annotated[
        tuple[ThrustPoint, ...],
        BeforeValidator(f.item_list("two points or more", "[[0 m/s, 165 N], [1.7 m/s, 80 N]]", least=2)),
    ] = Field(
        description="Peak thrust over speed at nominal voltage, linear between the points; speeds scale with voltage.",
    )
    continuous_thrust_N: f.Force = Field(validation_alias="continuous_thrust")
    friction_N: f.ForceOrZero = Field(validation_alias="friction", description="Drag of one carrier at any speed.")
    cogging_N: f.ForceOrZero = Field(validation_alias="cogging", description="Greatest cogging force.")
    nominal_voltage_V: f.Voltage = Field(validation_alias="nominal_voltage")
    lowest_voltage_V: f.Voltage = Field(
        validation_alias="lowest_voltage", description="At the far end of the feeder, worst case."
    )
    motor: MotorSheet | None = None
    servo_stiffness_N_m: f.Stiffness | None = Field(
        default=None, validation_alias="servo_stiffness", description="Of a carrier held at rest, along."
    )

    @model_validator(mode="after")
    def _curve(self) -> Self:
        found: list[PathFault] = []
        speeds = [speed for speed, _ in self.thrust]
        if speeds[0] != 0.0:
            found.append((("thrust", 0), "the thrust curve starts above standstill", "start at 0 m/s"))
        for i, (slow, fast) in enumerate(pairwise(speeds), start=1):
            if fast <= slow:
                found.append(
                    (("thrust", i), "the speeds of the thrust curve do not rise", "write each faster than the last")
                )
        forces = [force for _, force in self.thrust]
        for i, (slow, fast) in enumerate(pairwise(forces), start=1):
            if fast > slow > 0.0:  # none at standstill is told by itself
                allowed = "write no more than at the point before"
                found.append((("thrust", i), "the thrust rises with the speed", allowed))
        if self.thrust[0][1] == 0.0:
            found.append((("thrust", 0), "no thrust at standstill", "write a force above zero"))
        peak_N = max(force for _, force in self.thrust)
        if self.continuous_thrust_N > peak_N:
            most = f.in_unit(peak_N, units.FORCE)
            found.append((("continuous_thrust",), "more than the peak thrust", f"write at most {most}"))
        if self.lowest_voltage_V > self.nominal_voltage_V:
            found.append((("lowest_voltage",), "above the nominal voltage", "write at most the nominal voltage"))
        if found:
            raise f.faults(found)
        return self


class ReactionSheet(FileModel):
    """The three reaction times of controls and drive."""

    start_handshake_s: f.DurationOrZero = Field(
        validation_alias="start_handshake", description="Carrier settled to work begun."
    )
    done_handshake_s: f.DurationOrZero = Field(
        validation_alias="done_handshake", description="Tool clear to carrier ready."
    )
    follow_s: f.DurationOrZero = Field(
        validation_alias="follow", description="Leader's commitment to follower's departure."
    )


TransferKind = Annotated[str, f.one_of("lift", "cross-transfer")]


class TransferSheet(FileModel):
    """One kind of transfer, with its own motion and interlock times."""

    platform_m: f.Length = Field(validation_alias="platform", description="Length of the platform along the track.")
    gap_m: f.LengthOrZero = Field(validation_alias="gap", description="Between platform and lane end.")
    speed_m_s: f.Speed = Field(validation_alias="speed")
    acceleration_m_s2: f.Acceleration = Field(validation_alias="acceleration")
    jerk_m_s3: f.Jerk = Field(validation_alias="jerk")
    unlock_s: f.DurationOrZero = Field(validation_alias="unlock")
    align_s: f.DurationOrZero = Field(validation_alias="align")
    lock_s: f.DurationOrZero = Field(validation_alias="lock", description="Reaction to the lock included.")
    places: f.Places = Field(default=1, description="Carriers aboard; a line states more at its transfer.")
    part_number: f.Text | None = None
    price: f.Price | None = None


class Curve(FileModel):
    """A curved section of motor track, of which rings are made."""

    radius_m: f.Length = Field(validation_alias="radius", description="Of the centre line.")
    angle_deg: f.CurveAngle = Field(validation_alias="angle", description="90 deg or 180 deg.")
    speed_m_s: f.Speed = Field(validation_alias="speed", description="Greatest speed of a carrier on it.")
    part_number: f.Text | None = None
    price: f.Price | None = None


class MostSheet(FileModel):
    """Greatest numbers on one controller."""

    carriers: f.Count
    sections: f.Count


class Sheet(FileRoot):
    """A conveyor sheet: one family of conveyor."""

    version: f.Version = Field(default=1, validation_alias="conveyor_sheet", description="Version of the format.")
    name: f.Name
    invented: f.YesNo = Field(description="True where no maker stands behind the figures.")
    maker_note: f.Text = Field(default="", description="Where the figures come from.", validate_default=False)
    sections: Annotated[
        tuple[SectionStock, ...], BeforeValidator(f.item_list("one section or more", "[{length: 385 mm}]", least=1))
    ] = Field(description="Stock lengths of track.")
    carrier: CarrierSheet
    least_pitch_m: f.Length = Field(
        validation_alias="least_pitch", description="Least distance of two carriers' centres."
    )
    clear_gap_m: f.LengthOrZero = Field(validation_alias="clear_gap", description="Air kept between two bodies.")
    drive: DriveSheet
    settling_s: f.DurationOrZero = Field(
        validation_alias="settling", description="Arrival to standing still within the window."
    )
    reaction: ReactionSheet
    transfers: dict[TransferKind, TransferSheet]
    curve: Curve | None = Field(default=None, description="A curved section of track; without it no ring.")
    guides: GuideSheet | None = None
    magnets: MagnetSheet | None = None
    allowed_force: ForceSheet | None = None
    repeatability_m: f.Length | None = Field(
        default=None, validation_alias="repeatability", description="Plus and minus, of a stop, along."
    )
    accuracy: AccuracySheet | None = None
    supply: SupplySheet | None = None
    logic: LogicSheet | None = None
    image: ImageSheet | None = None
    most: MostSheet | None = None
    upkeep: UpkeepSheet | None = None
    prices: PriceSheet | None = None
    stopping: StoppingSheet | None = None
    coasting: CoastingSheet | None = None
    protection: f.Text | None = Field(default=None, description="Degree of protection.")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        found: list[PathFault] = []
        lengths: list[float] = []
        if not self.transfers:
            found.append((("transfers",), "no transfer stands here", "write a lift, a cross-transfer or both"))
        for i, stock in enumerate(self.sections):
            if stock.length_m in lengths:
                found.append((("sections", i, "length"), "this length stands twice", "write each length once"))
            lengths.append(stock.length_m)
        body = self.carrier.length_m + self.clear_gap_m
        if self.least_pitch_m < body - 1e-9:
            least = f.in_unit(body, units.LENGTH)
            found.append((("least_pitch",), "shorter than a carrier and the clear gap", f"write at least {least}"))
        for kind, transfer in self.transfers.items():
            if transfer.platform_m < self.carrier.length_m - 1e-9:
                least = f.in_unit(self.carrier.length_m, units.LENGTH)
                found.append((("transfers", kind, "platform"), "shorter than a carrier", f"write at least {least}"))
        if self.guides is not None and self.guides.along_m > self.carrier.length_m + 1e-9:
            most = f.in_unit(self.carrier.length_m, units.LENGTH)
            found.append((("guides", "along"), "longer than the carrier", f"write at most {most}"))
        group_m = None if self.drive.motor is None else self.drive.motor.group_length_m
        if group_m is not None and lengths and group_m > min(lengths) + 1e-9:
            most = f.in_unit(min(lengths), units.LENGTH)
            at = ("drive", "motor", "group_length")
            found.append((at, "longer than the shortest section", f"write at most {most}"))
        if self.coasting is not None and self.coasting.least_drag_N > self.drive.friction_N:
            most = f.in_unit(self.drive.friction_N, units.FORCE)
            allowed = f"write at most {most}: friction is the drag of a carrier at any speed"
            found.append((("coasting", "least_drag"), "more than the friction of the drive", allowed))
        found += rating_faults(self.drive.nominal_voltage_V, self.supply)
        if found:
            raise f.faults(found)
        return self


def as_data(model: FileModel) -> Any:
    """A model as plain data for hashing and JSON: attributes with their unit suffix, SI values."""
    return model.model_dump(mode="json")
