"""What is made: the demand, the part and its fixture, the variants and the fixtures that take them."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError, ValidationInfo, model_validator

from linewright.line import fields as f
from linewright.line import units
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault
from linewright.line.surroundings import Liquid
from linewright.line.times import Time, TimeLaw


class Demand(FileModel):
    """What the customer asks for."""

    good_parts_per_year: f.PartsPerYear
    shifts_per_day: f.Shifts
    paid_time_per_shift_s: f.Duration = Field(validation_alias="paid_time_per_shift")
    days_per_year: f.Days
    losses_not_modelled: f.Share = Field(
        default=0.0,
        description="Losses that the simulation does not show; failures, repairs and rejects are simulated.",
    )

    @model_validator(mode="after")
    def _fits_a_day(self) -> Self:
        found: list[PathFault] = []
        if self.shifts_per_day * self.paid_time_per_shift_s > 86400.0 * (1 + 1e-12):
            hours = f.in_unit(self.shifts_per_day * self.paid_time_per_shift_s, units.TIME, "h")
            found.append((("paid_time_per_shift",), f"the shifts of a day add up to {hours}", "stay within 24 h"))
        if self.losses_not_modelled >= 1.0:
            found.append((("losses_not_modelled",), "nothing is left to produce in", "write less than 100 %"))
        if found:
            raise f.faults(found)
        return self


class FrictionHold(FileModel):
    """A part that only friction holds."""

    coefficient: f.Coefficient = Field(description="Of static friction, part on its seat.")
    half_base_m: f.Length = Field(
        validation_alias="half_base", description="From below the mass centre to the tipping edge."
    )


class Held(FileModel):
    """How the part is held: exactly one of a pocket, a clamp (their stated limits) and friction."""

    pocket_m_s2: f.Acceleration | None = Field(default=None, validation_alias="pocket")
    clamp_m_s2: f.Acceleration | None = Field(default=None, validation_alias="clamp")
    friction: FrictionHold | None = None

    @model_validator(mode="after")
    def _one(self) -> Self:
        stated = [key for key, value in self._stated.items() if value is not None]
        if len(stated) != 1:
            raise f.fault(
                f"{' and '.join(stated) or 'nothing'} {'are' if stated else 'is'} stated",
                "write exactly one of pocket, clamp and friction",
            )
        return self

    @property
    def _stated(self) -> dict[str, object]:
        return {"pocket": self.pocket_m_s2, "clamp": self.clamp_m_s2, "friction": self.friction}

    @property
    def kind(self) -> Literal["pocket", "clamp", "friction"]:
        """What holds the part."""
        if self.friction is not None:
            return "friction"
        return "pocket" if self.pocket_m_s2 is not None else "clamp"

    @property
    def acceleration_m_s2(self) -> float | None:
        """The stated limit of a pocket or a clamp; None for friction."""
        return self.pocket_m_s2 if self.pocket_m_s2 is not None else self.clamp_m_s2

    @property
    def coefficient(self) -> float | None:
        """The coefficient of friction; None for a pocket or a clamp."""
        return None if self.friction is None else self.friction.coefficient

    @property
    def half_base_m(self) -> float | None:
        """Half the base that resists tipping; None for a pocket or a clamp."""
        return None if self.friction is None else self.friction.half_base_m


class Part(FileModel):
    """The part that is made."""

    mass_kg: f.Mass = Field(validation_alias="mass")
    held: Held | None = None
    mass_height_m: f.Length | None = Field(
        default=None, validation_alias="mass_height", description="Mass centre above its seat."
    )
    tolerance_m: f.PlusMinus | None = Field(
        default=None,
        validation_alias="tolerance",
        description="Of the part: what the tool works on, against what lies in the nest.",
    )
    liquid: Liquid | None = Field(default=None, description="Open liquid in the part.")


class Fixture(FileModel):
    """What stands on every carrier."""

    mass_kg: f.MassOrZero = Field(default=0.0, validation_alias="mass")
    envelope_m: (
        Annotated[
            tuple[f.Length, f.Length, f.Length],
            BeforeValidator(f.item_list("three lengths", "[190 mm, 140 mm, 90 mm]", least=3, most=3)),
        ]
        | None
    ) = Field(default=None, validation_alias="envelope", description="Along the track, across it, up.")
    natural_frequency_hz: f.Frequency | None = Field(
        default=None,
        validation_alias="natural_frequency",
        description="Along the track, part in it, carrier at rest.",
    )
    damping: f.DampingRatio | None = Field(default=None, description="Damping ratio: damping over critical damping.")
    nests: f.Nests = Field(default=1, description="Parts that a carrier holds.")
    mass_height_m: f.Position | None = Field(
        default=None, validation_alias="mass_height", description="Mass centre over the carrier's top."
    )
    seat_height_m: f.Position | None = Field(
        default=None, validation_alias="seat_height", description="The part's seat over the carrier's top."
    )
    nest_m: f.PlusMinus | None = Field(
        default=None, validation_alias="nest", description="Place of a part in its nest, against the carrier."
    )

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        stated = {"natural_frequency": self.natural_frequency_hz, "damping": self.damping}
        there = [key for key, value in stated.items() if value is not None]
        if len(there) == 1:
            (other,) = set(stated) - set(there)
            allowed = f"write both, such as natural_frequency: {units.FREQUENCY.example}, damping: 3 %, or neither"
            raise f.faults([((there[0],), f"{there[0]} without {other}", allowed)])
        return self


_TIMES: TypeAdapter[dict[str, TimeLaw]] = TypeAdapter(dict[f.Name, Time])


def _times_of(value: Any, info: ValidationInfo) -> tuple[tuple[str, TimeLaw], ...]:
    """Times by station as pairs; from a file a mapping, in Python pairs as well."""
    if not isinstance(value, dict) and f.is_from_file(info):
        raise f.fault(f"{kind_of(value)} stands here", "write times by station, such as {press: 1.9 s}")
    context, from_file = info.context, f.is_from_file(info)
    return tuple(_TIMES.validate_python(dict(value), context=context, by_alias=True, by_name=not from_file).items())


StationTimes = Annotated[tuple[tuple[str, TimeLaw], ...], f.Reader(_times_of, {"type": "object"})]


class Variant(FileModel):
    """A variant of the product."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    share: f.Share | None = Field(default=None, description="Of all loads; left out where there is a sequence.")
    times: StationTimes = Field(default=(), description="Its time at stations where it is not the station's own.")
    skips: Annotated[tuple[f.Name, ...], BeforeValidator(f.item_list("a list of stations", "[leak-1, leak-2]"))] = (
        Field(default=(), description="Stations at which it is not worked on.")
    )


_LOADS: TypeAdapter[dict[str, int]] = TypeAdapter(dict[f.Name, f.Loads])
_SEQUENCE_EXAMPLE = "write a list such as [{a: 50}, {b: 20}]"


def _sequence_of(value: Any, info: ValidationInfo) -> tuple[tuple[str, int], ...]:
    """(variant, loads) of each place of a sequence."""
    if not isinstance(value, list | tuple) or (not value and f.is_from_file(info)):
        raise f.fault(f"{kind_of(value) if value != [] else 'an empty list'} stands here", _SEQUENCE_EXAMPLE)
    sequence: list[tuple[str, int]] = []
    found: list[f.PathFault] = []
    for i, item in enumerate(value):
        is_pair = isinstance(item, tuple | list) and len(item) == 2 and not f.is_from_file(info)
        one = {item[0]: item[1]} if is_pair else item
        if not isinstance(one, dict) or len(one) != 1:
            many = "a mapping of several" if isinstance(one, dict) and one else kind_of(one)
            found.append(((i,), f"{many} stands here", "write one variant and how many loads, such as {a: 50}"))
            continue
        try:
            sequence += _LOADS.validate_python(one, context=info.context).items()
        except ValidationError as error:
            (name,) = one
            for fault in error.errors(include_url=False):
                context = fault["ctx"]
                found.append(((i, str(name)), context["found"], context["allowed"]))
    if found:
        raise f.faults(found)
    return tuple(sequence)


Sequence = Annotated[tuple[tuple[str, int], ...], f.Reader(_sequence_of, {"type": "array"})]


class FixtureSet(FileModel):
    """Carriers whose fixture takes certain variants alone."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    carriers: f.Count
    variants: f.VariantNames
