"""The line: what the line file says, validated, frozen and in SI. Attributes carry units; the file's keys do not."""

from __future__ import annotations

import hashlib
import json
import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from linewright.line import fields as f
from linewright.line import units
from linewright.line.coherence import coherence_faults
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault
from linewright.line.sheet import FileRoot, Sheet, TransferKind, as_data
from linewright.line.sketch import sketch_line

LawKind = Literal["fixed", "triangular", "lognormal", "gamma", "exponential", "empirical"]
_LAW_KEYS: dict[str, tuple[str, ...]] = {
    "fixed": ("mean",),
    "triangular": ("least", "likely", "most"),
    "lognormal": ("mean", "cv"),
    "gamma": ("mean", "cv"),
    "exponential": ("mean",),
    "empirical": ("times",),
}
_LAW_EXAMPLES = (
    "write a time such as 1.4 s, {mean: 2.6 s, cv: 15 %}, {law: gamma, mean: 2 s, cv: 30 %}, "
    "{law: exponential, mean: 2 s}, {law: triangular, least: 1 s, likely: 1.2 s, most: 2 s} "
    "or {law: empirical, times: [1.2 s, 1.4 s, 1.9 s]}"
)
_FAILURE_EXAMPLES = "write every: 40 h (time in work), every: 8 h with of: clock, or one_in: 800 cycles"


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

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        stated = {"natural_frequency": self.natural_frequency_hz, "damping": self.damping}
        there = [key for key, value in stated.items() if value is not None]
        if len(there) == 1:
            (other,) = set(stated) - set(there)
            allowed = f"write both, such as natural_frequency: {units.FREQUENCY.example}, damping: 3 %, or neither"
            raise f.faults([((there[0],), f"{there[0]} without {other}", allowed)])
        return self


class Lane(FileModel):
    """A straight one-way piece of track. Travel starts at its upstream end; floor distance at the west."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    length_m: f.Length = Field(validation_alias="length")
    from_: Annotated[Literal["west", "east"], f.one_of("west", "east")] = Field(validation_alias="from")
    to: Annotated[Literal["west", "east"], f.one_of("west", "east")]
    level_m: f.Position = Field(
        default=0.0, validation_alias="level", description="Height over the first deck, negative below."
    )
    across_m: f.Position = Field(default=0.0, validation_alias="across", description="Place to the side.")
    west_end_m: f.Position = Field(
        default=0.0, validation_alias="west_end", description="Floor distance of the lane's west end."
    )


class Transfer(FileModel):
    """A lift or a cross transfer: takes carriers from the end of one lane, gives them to the start of another."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    kind: TransferKind
    takes: f.Name
    gives: f.Name


def _ascending(times_s: tuple[float, ...]) -> tuple[float, ...]:
    """The order in which times are written means nothing: laws of the same times are equal."""
    return tuple(sorted(times_s))


class TimeLaw(FileModel):
    """A time and how it spreads. :attr:`kind` says which of the parameters are there.

    Examples
    --------
    >>> TimeLaw.lognormal(2.6, 0.15).mean_s, TimeLaw.triangular(1.0, 1.2, 2.0).mean_s
    (2.6, 1.4000000000000001)
    >>> TimeLaw.gamma(2.0, 0.3).mean_s, TimeLaw.empirical((1.5, 1.25, 1.75)).mean_s
    (2.0, 1.5)
    """

    kind: Annotated[LawKind, f.one_of(*_LAW_KEYS)] = Field(validation_alias="law")
    stated_mean_s: f.Duration | None = Field(default=None, validation_alias="mean")
    cv: f.Spread | None = Field(default=None, description="Standard deviation over mean.")
    least_s: f.DurationOrZero | None = Field(default=None, validation_alias="least")
    likely_s: f.DurationOrZero | None = Field(default=None, validation_alias="likely")
    most_s: f.Duration | None = Field(default=None, validation_alias="most")
    times_s: (
        Annotated[
            tuple[f.Duration, ...],
            BeforeValidator(f.item_list("two times or more", "[1.2 s, 1.4 s, 1.9 s]", least=2)),
            AfterValidator(_ascending),
        ]
        | None
    ) = Field(default=None, validation_alias="times", description="Measured times; each is as likely as any other.")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        given = {
            "mean": self.stated_mean_s, "cv": self.cv, "least": self.least_s, "likely": self.likely_s,
            "most": self.most_s, "times": self.times_s,
        }  # fmt: skip
        wanted = _LAW_KEYS[self.kind]
        needs = f"a {self.kind} time has {', '.join(wanted)}"
        if self.kind in ("exponential", "empirical"):
            needs = f"it has {wanted[0]} alone"
        found: list[PathFault] = [
            ((key,), f"{key} has no meaning for the law {self.kind}", needs)
            for key, value in given.items()
            if value is not None and key not in wanted
        ]
        found += [((), f"{key} is missing", needs) for key in wanted if given[key] is None]
        times = [time_s for time_s in (self.least_s, self.likely_s, self.most_s) if time_s is not None]
        if len(times) == 3 and (times != sorted(times) or times[0] == times[2]):
            found.append((("likely",), "the times are not in order", "least ≤ likely ≤ most, least under most"))
        if found:
            raise f.faults(found)
        return self

    @property
    def mean_s(self) -> float:
        """The mean of the law. [s]"""
        if self.kind == "triangular":
            return sum(time_s for time_s in (self.least_s, self.likely_s, self.most_s) if time_s is not None) / 3.0
        if self.times_s is not None:
            return math.fsum(self.times_s) / len(self.times_s)
        assert self.stated_mean_s is not None  # held by the validator
        return self.stated_mean_s

    @classmethod
    def fixed(cls, time_s: float) -> TimeLaw:
        """Always the same time."""
        return cls(kind="fixed", stated_mean_s=time_s)

    @classmethod
    def lognormal(cls, mean_s: float, cv: float) -> TimeLaw:
        """Lognormal with mean and coefficient of variation."""
        return cls(kind="lognormal", stated_mean_s=mean_s, cv=cv)

    @classmethod
    def gamma(cls, mean_s: float, cv: float) -> TimeLaw:
        """Gamma with mean and coefficient of variation."""
        return cls(kind="gamma", stated_mean_s=mean_s, cv=cv)

    @classmethod
    def empirical(cls, times_s: tuple[float, ...]) -> TimeLaw:
        """One of the times, each as likely as any other; a time written twice is twice as likely."""
        return cls(kind="empirical", times_s=times_s)

    @classmethod
    def exponential(cls, mean_s: float) -> TimeLaw:
        """Exponential with its mean."""
        return cls(kind="exponential", stated_mean_s=mean_s)

    @classmethod
    def triangular(cls, least_s: float, likely_s: float, most_s: float) -> TimeLaw:
        """Triangular between least and most."""
        return cls(kind="triangular", least_s=least_s, likely_s=likely_s, most_s=most_s)


def _law_of(value: Any, info: ValidationInfo) -> Any:
    """A law out of ``1.4 s``, of ``{mean, cv}`` or of a mapping that names its law."""
    if isinstance(value, TimeLaw):
        return value
    if isinstance(value, dict):
        if "law" in value or "kind" in value:
            return value
        if "cv" in value:
            return {"law": "lognormal", **value}
        raise f.fault("a time without a law", _LAW_EXAMPLES)
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return {"law": "fixed", "mean": value}
    raise f.fault(f"{kind_of(value)} stands here", _LAW_EXAMPLES)


Time = Annotated[TimeLaw, BeforeValidator(_law_of)]


def _every_of(value: Any, info: ValidationInfo) -> Any:
    """As a time law, but a time alone is the mean of an exponential one."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return {"law": "exponential", "mean": value}
    return _law_of(value, info)


class Failure(FileModel):
    """A kind of failure and its repair: after a time of running or of clock, or one in so many cycles."""

    every: Annotated[TimeLaw, BeforeValidator(_every_of)] | None = Field(
        default=None, description="Time from repair to failure; a time alone is the mean of an exponential law."
    )
    of: Annotated[Literal["running", "clock"], f.one_of("running", "clock")] = Field(
        default="running", description="What every counts: time in work alone, or all time."
    )
    one_in: f.Cycles | None = Field(default=None, description="A jam: mean number of works from one to the next.")
    repair: Time

    @model_validator(mode="after")
    def _one_measure(self, info: ValidationInfo) -> Self:
        found: list[PathFault] = []
        if self.every is None and self.one_in is None:
            found.append(((), "neither every nor one_in stands here", _FAILURE_EXAMPLES))
        if self.every is not None and self.one_in is not None:
            found.append((("one_in",), "every and one_in stand at one failure", "write one of the two"))
        # From Python, the default may be written out; in a file the key is of no effect.
        if self.one_in is not None and (self.of == "clock" or (f.is_from_file(info) and "of" in self.model_fields_set)):
            found.append((("of",), "of has no meaning beside one_in", "leave it out; a jam counts cycles"))
        if found:
            raise f.faults(found)
        return self

    @property
    def mean_every_s(self) -> float | None:
        """Mean time, of running or of clock, from a repair to the next failure; None for a jam. [s]"""
        return None if self.every is None else self.every.mean_s


class Station(FileModel):
    """A place where work is done."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    lane: f.Name
    at_m: f.Position = Field(validation_alias="at", description="Floor distance from the west end.")
    work: Annotated[Literal["automatic", "manual"], f.one_of("automatic", "manual")] = "automatic"
    time: Time
    prepare_s: f.DurationOrZero = Field(
        default=0.0, validation_alias="prepare", description="The tool, before each work."
    )
    clear_s: f.DurationOrZero = Field(
        default=0.0, validation_alias="clear", description="End of work until the tool is clear."
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
    failures: Annotated[
        tuple[Failure, ...], BeforeValidator(f.item_list("a list of failures", "[{every: 40 h, repair: 35 min}]"))
    ] = ()
    rejects: f.Share = Field(default=0.0, description="Parts flagged at the end of the work.")
    reject_exit: f.YesNo = Field(default=False, description="Flagged parts are taken out here; good parts skip it.")

    @model_validator(mode="after")
    def _settling_or_window(self) -> Self:
        if self.settling_s is not None and self.window_m is not None:
            # Told at both keys: either may be a copy, and of a copy the fault is told where it was written.
            raise f.faults(
                [
                    (("settling",), "settling stands beside window", "write one of the two"),
                    (("window",), "window stands beside settling", "write one of the two"),
                ]
            )
        return self


class Step(FileModel):
    """One step of the route: a station, or several that share the work."""

    stations: tuple[f.Name, ...]
    reject_exit: bool = False

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
    transfers: Annotated[tuple[Transfer, ...], BeforeValidator(f.named_items)]
    carriers: f.Count
    stations: Annotated[tuple[Station, ...], BeforeValidator(f.named_items)]
    route: tuple[Step, ...]

    @field_validator("route", mode="before")
    @classmethod
    def _steps(cls, value: Any, info: ValidationInfo) -> Any:
        """The steps out of names and lists of names; a step of reject exits is known by its stations."""
        rule = "write a list of stations; stations that share one step in a list of their own"
        if not isinstance(value, list | tuple) or not value:
            raise f.fault(f"{kind_of(value) if value != [] else 'an empty list'} stands here", rule)
        exits = {station.name for station in info.data.get("stations", ()) if station.reject_exit}
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
        return [{**step, "reject_exit": all(name in exits for name in step["stations"])} for step in steps]

    @model_validator(mode="after")
    def _coherent(self) -> Self:
        found = coherence_faults(sketch_line(self))
        if found:
            raise f.faults(found)
        return self

    def station(self, name: str) -> Station:
        """The station of that name; KeyError if there is none."""
        return {station.name: station for station in self.stations}[name]

    def lane(self, name: str) -> Lane:
        """The lane of that name; KeyError if there is none."""
        return {lane.name: lane for lane in self.lanes}[name]

    @property
    def input_hash(self) -> str:
        """SHA-256 over everything that the line and its sheet say, whatever the files looked like."""
        return hashlib.sha256(json.dumps(as_data(self), sort_keys=True).encode()).hexdigest()
