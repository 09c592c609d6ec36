"""Times and failures: a time with its law, a kind of failure with its repair."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from linewright.line import fields as f
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault

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


FailureList = Annotated[
    tuple[Failure, ...], BeforeValidator(f.item_list("a list of failures", "[{every: 40 h, repair: 35 min}]"))
]
