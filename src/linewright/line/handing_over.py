"""What is agreed with the customer: how the line is accepted, and with what line of the usual kind it is compared."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from linewright.line import fields as f
from linewright.line.fields import FileModel, PathFault


class Acceptance(FileModel):
    """What the run-off at the customer's has to show, and how surely."""

    confidence: f.Share = Field(
        default=0.90, description="Chance that a line which is worse than a pass line allows is refused."
    )
    builder_risk: f.Share = Field(
        default=0.05, description="Chance that a line which is as planned is refused all the same."
    )
    time_s: f.Duration | None = Field(
        default=None, validation_alias="time", description="How long the rate is counted; by default found."
    )
    rejects: f.Share | None = Field(default=None, description="Greatest share of rejected parts.")
    availability: f.Share | None = Field(default=None, description="Least availability of the line.")

    @model_validator(mode="after")
    def _shares(self) -> Self:
        found: list[PathFault] = []
        if not 0.5 <= self.confidence < 1.0:
            found.append((("confidence",), "no better than a coin, or certain", "write 50 % to under 100 %"))
        if not 0.0 < self.builder_risk <= 0.5:
            found.append((("builder_risk",), "none, or more than a half", "write above 0 % to 50 %"))
        for key in ("rejects", "availability"):
            share = getattr(self, key)
            if share is not None and not 0.0 < share < 1.0:
                found.append(((key,), "never or always", "write a share between 0 % and 100 %"))
        if found:
            raise f.faults(found)
        return self


class BaselinePrices(FileModel):
    """Prices of the baseline line, in the currency of the sheet; what is left out is not known."""

    per_metre: f.Price | None = Field(default=None, description="Chain or belt with frame and drive.")
    station: f.Price | None = Field(default=None, description="Stop gate and lift-and-locate unit of one station.")
    pallet: f.Price | None = None
    controls: f.Price | None = None
    work_station: f.Price | None = Field(
        default=None, description="One more work station with its tool, where the baseline needs more of them."
    )
    operator_per_year: f.Price | None = Field(default=None, description="One more operator on all shifts.")
    energy_per_kWh: f.Price | None = None
    air_per_m3: f.Price | None = Field(default=None, description="Compressed air, a cubic metre of free air.")


class Baseline(FileModel):
    """A chain or belt line with stop gates and lift-and-locate units, with which this line is compared."""

    belt_speed_m_s: f.Speed = Field(default=0.2, validation_alias="belt_speed")
    gate_release_s: f.Duration = Field(default=0.3, validation_alias="gate_release")
    lift_s: f.Duration = Field(default=0.8, validation_alias="lift_and_locate", description="Each way.")
    pallet_m: f.Length | None = Field(
        default=None, validation_alias="pallet", description="Its length; by default that of this line's carrier."
    )
    pallets_per_station: f.Factor = Field(default=2.0, description="Pallets bought for each work station.")
    air_m3: f.VolumeOrZero = Field(
        default=0.0015, validation_alias="air", description="Free air for one exchange: gate and lift-and-locate."
    )
    drive_power_W: f.PowerOrZero = Field(
        default=500.0, validation_alias="drive_power", description="Of all its belts, as long as it runs."
    )
    prices: BaselinePrices | None = None
