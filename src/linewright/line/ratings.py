"""What a conveyor sheet states beyond the moves: strength, accuracy, power, bus, coasting, upkeep, prices."""

from __future__ import annotations

from typing import Annotated, Final, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from linewright.line import fields as f
from linewright.line import units
from linewright.line.fields import NOTHING_YET, FileModel, PathFault

_COLD_degC: Final = 20.0


class MotorSheet(FileModel):
    """Constants of one motor coil group."""

    force_constant_N_A: f.ForceConstant = Field(validation_alias="force_constant", description="Thrust per current.")
    resistance_ohm: f.Resistance = Field(
        validation_alias="resistance", description="Of a coil group, cold: its heat is current squared times this."
    )
    inductance_H: f.Inductance = Field(validation_alias="inductance", json_schema_extra=NOTHING_YET)
    continuous_loss_W: f.Power = Field(
        validation_alias="continuous_loss", description="Heat a coil group may give off for ever."
    )
    thermal_time_s: f.Duration = Field(validation_alias="thermal_time", description="Time constant of the winding.")
    group_length_m: f.Length | None = Field(
        default=None, validation_alias="group_length", description="Of a coil group along the track."
    )
    hottest_degC: f.Temperature | None = Field(
        default=None, validation_alias="hottest", description="Temperature of the winding at the continuous loss."
    )

    @model_validator(mode="after")
    def _warms_up(self) -> Self:
        if self.hottest_degC is not None and self.hottest_degC <= _COLD_degC:
            found = f"not above {_COLD_degC:g} °C, at which the resistance is stated"
            raise f.faults([(("hottest",), found, "write the temperature that the winding has at the continuous loss")])
        return self


class GuideSheet(FileModel):
    """Guide blocks and rail."""

    along_m: f.Length = Field(validation_alias="along", description="Distance of the blocks along the track.")
    across_m: f.Length = Field(validation_alias="across", description="Distance of the rails.")
    static_rating_N: f.Force = Field(validation_alias="static_rating", description="C0 of one block.")
    dynamic_rating_N: f.Force = Field(validation_alias="dynamic_rating", description="C of one block.")
    rating_travel_m: f.Travel = Field(validation_alias="rating_travel", description="Travel that belongs to C.")
    play_m: f.LengthOrZero = Field(validation_alias="play", description="Plus and minus, across and up.")
    kind: Annotated[Literal["ball", "other"], f.one_of("ball", "other")] = Field(
        default="ball", description="Ball guides live by the cube of the load; others by the travel that is stated."
    )
    travel_life_m: f.Travel | None = Field(
        default=None, validation_alias="travel_life", description="Of guides that are not ball guides."
    )
    plate_height_m: f.Position | None = Field(
        default=None, validation_alias="plate_height", description="Top of the carrier over the middle of the blocks."
    )
    thrust_height_m: f.Position | None = Field(
        default=None,
        validation_alias="thrust_height",
        description="Where the thrust acts over the middle of the blocks, negative below.",
    )
    stiffness_N_m: f.Stiffness | None = Field(
        default=None, validation_alias="stiffness", description="Of one block, pressed on the rail or off it."
    )
    side_stiffness_N_m: f.Stiffness | None = Field(
        default=None, validation_alias="side_stiffness", description="Of one block, across."
    )
    least_static_safety: f.FactorFromOne | None = Field(
        default=None, description="C0 over the greatest load of a block."
    )
    load_factor: f.FactorFromOne | None = Field(
        default=None, description="For shock and vibration, on the load of the life."
    )

    @model_validator(mode="after")
    def _ratings(self) -> Self:
        if self.static_rating_N < self.dynamic_rating_N / 10.0:
            least = f.in_unit(self.dynamic_rating_N / 10.0, units.FORCE)
            raise f.faults([(("static_rating",), "less than a tenth of dynamic_rating", f"write at least {least}")])
        if self.kind == "ball" and self.travel_life_m is not None:
            raise f.faults([(("travel_life",), "stated of ball guides", "leave it out, or write kind: other")])
        return self


class MagnetSheet(FileModel):
    """The magnets under a carrier."""

    attraction_N: f.ForceOrZero = Field(
        validation_alias="attraction", description="Carrier to track, at the nominal gap; 0 N where there is none."
    )
    implant_distance_m: f.Length = Field(validation_alias="implant_distance", description="The maker's statement.")


class ForceSheet(FileModel):
    """Forces a resting carrier may take at its plate."""

    down_N: f.Force = Field(validation_alias="down")
    across_N: f.Force = Field(validation_alias="across")
    along_N: f.Force = Field(validation_alias="along")


class AccuracySheet(FileModel):
    """Geometry of track and carriers; lengths and small angles are plus and minus."""

    carrier_spread_m: f.LengthOrZero | None = Field(
        default=None, validation_alias="carrier_spread", description="Along, between carriers as they come."
    )
    compensated_spread_m: f.LengthOrZero | None = Field(
        default=None, validation_alias="compensated_spread", description="Along, once each carrier is measured."
    )
    straightness_m: f.LengthOrZero | None = Field(
        default=None, validation_alias="straightness", description="Across, of the mounted track."
    )
    flatness_m: f.LengthOrZero | None = Field(
        default=None, validation_alias="flatness", description="Up, of the mounted track."
    )
    joint_step_m: f.LengthOrZero | None = Field(
        default=None, validation_alias="joint_step", description="Across and up, where two sections meet."
    )
    yaw_rad: f.Tilt | None = Field(default=None, validation_alias="yaw", description="Turn of a carrier about up.")
    pitch_rad: f.Tilt | None = Field(
        default=None, validation_alias="pitch", description="Turn of a carrier about across."
    )
    roll_rad: f.Tilt | None = Field(default=None, validation_alias="roll", description="Turn of a carrier about along.")
    expansion_1_K: f.Expansion | None = Field(
        default=None, validation_alias="expansion", description="Of the position scale along the track."
    )

    @model_validator(mode="after")
    def _measured_is_nearer(self) -> Self:
        raw_m, compensated_m = self.carrier_spread_m, self.compensated_spread_m
        if raw_m is not None and compensated_m is not None and compensated_m > raw_m:
            allowed = f"write at most {f.in_unit(raw_m, units.LENGTH, 'µm')}"
            raise f.faults([(("compensated_spread",), "more than carrier_spread", allowed)])
        return self


class SupplySheet(FileModel):
    """One power supply and its limits."""

    voltage_V: f.Voltage = Field(validation_alias="voltage")
    current_A: f.Current = Field(validation_alias="current")
    trip_V: f.Voltage = Field(validation_alias="trip", description="It switches off above.")
    capacitance_F: f.Capacitance = Field(
        validation_alias="capacitance", description="Of a feeder, for what braking gives back."
    )
    separate_logic_supply: f.YesNo
    tolerance: f.Share | None = Field(default=None, description="Of the voltage, plus and minus.")
    efficiency: f.Efficiency | None = None
    width_m: f.Length | None = Field(default=None, validation_alias="width", description="In the cabinet.")
    discharge_s: f.DurationOrZero | None = Field(
        default=None, validation_alias="discharge", description="From switching off until the feeder holds no charge."
    )
    part_number: f.Text | None = None
    price: f.Price | None = None

    @model_validator(mode="after")
    def _trips_above(self) -> Self:
        if self.trip_V <= self.voltage_V:
            raise f.faults([(("trip",), "not above the voltage of the supply", "write a greater voltage")])
        highest_V = self.voltage_V * (1.0 + (self.tolerance or 0.0))
        if self.trip_V <= highest_V:
            found = "not above the voltage of the supply with its tolerance"
            raise f.faults([(("trip",), found, f"write more than {f.in_unit(highest_V, units.VOLTAGE)}")])
        return self


class LogicSheet(FileModel):
    """The supply of the sections' logic, where it is separate."""

    voltage_V: f.Voltage = Field(validation_alias="voltage")
    section_current_A: f.Current = Field(validation_alias="section_current", description="Of each section.")


class ImageSheet(FileModel):
    """The process image of the drive."""

    bytes_per_carrier: f.Bytes
    cycle_s: f.Duration = Field(validation_alias="cycle")
    identity_at_power_up: f.YesNo = Field(description="Whether the drive knows each carrier by itself after power-up.")
    bytes_per_transfer: f.Bytes | None = None
    bytes_of_line: f.BytesOrZero | None = Field(default=None, description="Besides those of carriers and transfers.")
    most_bytes: f.Bytes | None = Field(default=None, description="That one controller can exchange in a cycle.")
    bit_rate_bit_s: f.BitRate | None = Field(default=None, validation_alias="bit_rate", description="Of the bus.")


class StoppingSheet(FileModel):
    """What the maker states of a stop under power."""

    reaction_s: f.DurationOrZero = Field(validation_alias="reaction", description="Stop demanded to braking begun.")
    deceleration_m_s2: f.Acceleration = Field(
        validation_alias="deceleration", description="In an emergency stop, with the greatest payload."
    )


class CoastingSheet(FileModel):
    """What a carrier does when power goes: it has no brake."""

    least_drag_N: f.ForceOrZero = Field(validation_alias="least_drag")
    end_stop_speed_m_s: f.Speed = Field(
        validation_alias="end_stop_speed", description="Speed at which an end stop still holds."
    )


class WearPart(FileModel):
    """A part that wears or fails: after so much travel or so many cycles, after a time, or at random."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    per: Annotated[
        Literal["carrier", "transfer", "section", "line"], f.one_of("carrier", "transfer", "section", "line")
    ]
    count: f.Count = Field(default=1, description="On each of them.")
    travel_m: f.Travel | None = Field(default=None, validation_alias="travel", description="Of a carrier until worn.")
    cycles: f.Cycles | None = Field(default=None, description="Of a transfer until worn.")
    months: f.Months | None = Field(default=None, validation_alias="after", description="Calendar time until worn.")
    every_s: f.LongTime | None = Field(
        default=None, validation_alias="every", description="Mean time in operation between failures at random."
    )

    @model_validator(mode="after")
    def _one(self) -> Self:
        stated = {"travel": self.travel_m, "cycles": self.cycles, "after": self.months, "every": self.every_s}
        there = [key for key, value in stated.items() if value is not None]
        if len(there) != 1:
            found = f"{' and '.join(there)} are stated" if there else "nothing says when it wears"
            raise f.fault(found, "write exactly one of travel, cycles, after and every")
        if self.travel_m is not None and self.per != "carrier":
            raise f.faults([(("travel",), f"a part per {self.per} has no travel", "write cycles, after or every")])
        if self.cycles is not None and self.per != "transfer":
            raise f.faults([(("cycles",), f"a part per {self.per} has no cycles", "write travel, after or every")])
        return self


class UpkeepSheet(FileModel):
    """Upkeep that the maker asks for; whichever comes first."""

    relubrication_travel_m: f.Travel = Field(validation_alias="relubrication_travel")
    relubrication_months: f.Months = Field(validation_alias="relubrication_after")
    section_swap_s: f.Duration = Field(validation_alias="section_swap", description="Time to change one section.")
    wear_parts: Annotated[tuple[WearPart, ...], BeforeValidator(f.named_some)] = ()


class PriceSheet(FileModel):
    """Prices beside those of sections and transfers."""

    currency: f.Text
    carrier: f.Price | None = None
    base_per_metre: f.Price | None = None
    controller: f.Price | None = None


def rating_faults(nominal_V: float, supply: SupplySheet | None) -> list[PathFault]:
    """What of the drive's voltage and the supply's does not fit together."""
    if supply is None or abs(supply.voltage_V - nominal_V) <= 1e-9:
        return []
    allowed = f"write {f.in_unit(nominal_V, units.VOLTAGE)}, the nominal voltage of the drive"
    return [(("supply", "voltage"), "another voltage than the drive's", allowed)]
