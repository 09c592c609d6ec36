"""An error budget of one axis: contributors, their worst case, their root sum of squares, what each of them costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from linewright.checks.accuracy.capability import tail_per_million

Axis = Literal["x", "y", "z"]
Kind = Literal["bias", "spread"]
Law = Literal["normal", "uniform", "triangular"]
Owner = Literal["carrier", "force", "fixture", "part", "tool"]

# Half width over standard deviation: a normal law is stated by three of them.
HALF_WIDTHS: Final[dict[Law, float]] = {"normal": 3.0, "uniform": math.sqrt(3.0), "triangular": math.sqrt(6.0)}
COVERAGE: Final = 3.0


@dataclass(frozen=True)
class Contributor:
    """One error at the tool point, on one axis.

    Parameters
    ----------
    name : what errs
    axis : ``x`` along, ``y`` across, ``z`` up
    kind : ``spread`` differs from part to part; ``bias`` is the same for all parts, somewhere between its two ends
    law : of a spread; None of a bias
    low_m, high_m : its two ends; of a spread minus and plus its half width. [m]
    owner : ``carrier`` for carriers, track and drive, which a pin takes out; ``force``, ``fixture``, ``part``, ``tool``
    source : where the figure stands

    Raises
    ------
    ValueError   An end is not finite, the two are not in order, or a spread is not symmetrical or has no law.

    Examples
    --------
    >>> spread_of("nest", "x", 30e-6).sigma_m
    1e-05
    """

    name: str
    axis: Axis
    kind: Kind
    law: Law | None
    low_m: float
    high_m: float
    owner: Owner = "tool"
    source: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low_m) and math.isfinite(self.high_m)):
            raise ValueError(f"low_m is {self.low_m}, high_m is {self.high_m} of {self.name}; both must be finite")
        if self.low_m > self.high_m:
            raise ValueError(f"low_m is {self.low_m}, above high_m, {self.high_m}, of {self.name}")
        if self.kind == "spread" and (self.law is None or self.low_m != -self.high_m):
            raise ValueError(
                f"law is {self.law} of {self.name}: a spread has a law and is plus and minus its half width"
            )

    @property
    def half_width_m(self) -> float:
        """Of a spread its half width, of a bias its greatest amount. [m]"""
        return max(-self.low_m, self.high_m) + 0.0  # no minus zero

    @property
    def sigma_m(self) -> float:
        """Of a spread its standard deviation: half width over 3 (normal), √3 (uniform), √6 (triangular); else 0. [m]"""
        return 0.0 if self.law is None or self.kind == "bias" else self.half_width_m / HALF_WIDTHS[self.law]

    def scaled(self, factor: float) -> Contributor:
        """The same, so many times as large; factor >= 0."""
        return replace(self, low_m=self.low_m * factor, high_m=self.high_m * factor)


@dataclass(frozen=True)
class Budget:
    """What the contributors of one axis amount to; the result of :func:`sum_budget`.

    Attributes
    ----------
    tolerance_m : plus and minus. [m]
    low_m, high_m : all half widths and biases added, each way. [m]
    worst_case_m : the larger amount of the two. [m]
    bias_m : biases added, with sign, at the end that lies farther off. [m]
    sigma_m : standard deviation of all spreads together. [m]
    rss_m : amount of the bias + coverage × sigma. [m]
    halfway_m : mean of worst_case_m and rss_m, a rule of thumb. [m]
    coverage : standard deviations that rss_m counts
    cp, cpk : of the tolerance, without and with the bias; infinite (or minus infinite) without spread
    parts_per_million : outside, if the sum of the spreads is normal
    shares : of rss_m, by contributor in the given order; together 1, or all 0 where nothing errs
    halved_cpk, halved_worst_case_m : the same with that contributor halved
    """

    tolerance_m: float
    low_m: float
    high_m: float
    worst_case_m: float
    bias_m: float
    sigma_m: float
    rss_m: float
    halfway_m: float
    coverage: float
    cp: float
    cpk: float
    parts_per_million: float
    shares: tuple[float, ...]
    halved_cpk: tuple[float, ...]
    halved_worst_case_m: tuple[float, ...]


def spread_of(
    name: str, axis: Axis, half_width_m: float, law: Law = "normal", owner: Owner = "tool", source: str = ""
) -> Contributor:
    """A spread, plus and minus a half width >= 0; of a normal law that is three standard deviations.

    Parameters
    ----------
    name, source : what to call it, and where its figure stands
    axis : ``x``, ``y`` or ``z``
    half_width_m : >= 0. [m]
    law : ``normal``, ``uniform`` or ``triangular``
    owner : a pin takes out what is the ``carrier``'s

    Raises
    ------
    ValueError   The half width is negative or not finite.

    Source     docs/limits/accuracy.md, Bias and spread; the laws: common practice.
    """
    if not half_width_m >= 0.0:
        raise ValueError(f"half_width_m is {half_width_m} of {name}; it is not negative")
    return Contributor(name, axis, "spread", law, -half_width_m, half_width_m, owner, source)


def bias_of(name: str, axis: Axis, low_m: float, high_m: float, owner: Owner = "tool", source: str = "") -> Contributor:
    """A bias that lies somewhere between two ends; of unknown sign it is plus and minus its amount.

    Parameters
    ----------
    name, source : what to call it, and where its figure stands
    axis : ``x``, ``y`` or ``z``
    low_m, high_m : its ends. [m]
    owner : a pin takes out what is the ``carrier``'s

    Raises
    ------
    ValueError   An end is not finite, or low_m is above high_m.

    Source     docs/limits/accuracy.md, Bias and spread.
    """
    return Contributor(name, axis, "bias", None, low_m, high_m, owner, source)


def sum_budget(contributors: Sequence[Contributor], tolerance_m: float, coverage: float = COVERAGE) -> Budget:
    """Worst case, root sum of squares, capability and shares of the contributors of one axis.

    Parameters
    ----------
    contributors : all of one axis, their spreads independent of one another
    tolerance_m : plus and minus, > 0. [m]
    coverage : standard deviations that the root sum of squares counts, > 0

    Returns
    -------
    Budget

    Raises
    ------
    ValueError   The tolerance or the coverage is not positive, or the contributors are of several axes.

    Notes
    -----
    With biases in [l, h] and spreads of half width w and standard deviation σ:
    worst case W = max(Σh + Σw, -(Σl + Σw)); bias b = Σh or Σl, whichever is the larger amount (Σh if they are equal);
    σ = √Σσ²; RSS = abs(b) + k σ; Cp = T/(3 σ); Cpk = (T - abs(b))/(3 σ). Share of a spread: k σ_i²/σ over RSS; of a
    bias: its end on the side of b, counted towards b, over RSS. Biases add linearly, for they are the same for all
    parts; squares may be added for independent spreads alone.

    Source
    ------
    Textbook rules of tolerance stacks; capability as in :func:`process_capability`. The shares and the halfway value
    are common practice.

    Examples
    --------
    >>> b = sum_budget([spread_of("a", "x", 30e-6), spread_of("b", "x", 40e-6), bias_of("c", "x", -1e-5, 1e-5)], 1e-4)
    >>> [round(value * 1e6, 3) for value in (b.worst_case_m, b.rss_m, b.bias_m)], round(b.cpk, 3)
    ([80.0, 60.0, 10.0], 1.8)
    >>> [round(share, 3) for share in b.shares]
    [0.3, 0.533, 0.167]
    """
    for name, value in (("tolerance_m", tolerance_m), ("coverage", coverage)):
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"{name} is {value}; it must be above zero")
    if len({one.axis for one in contributors}) > 1:
        raise ValueError(f"contributors are of several axes: {sorted({one.axis for one in contributors})}")
    now = _sums(contributors)
    halved = [_sums([*contributors[:i], one.scaled(0.5), *contributors[i + 1 :]]) for i, one in enumerate(contributors)]
    rss_m = abs(now.bias_m) + coverage * now.sigma_m
    outside = tail_per_million(tolerance_m - now.bias_m, now.sigma_m)
    outside += tail_per_million(tolerance_m + now.bias_m, now.sigma_m)
    return Budget(
        tolerance_m=tolerance_m,
        low_m=now.low_m,
        high_m=now.high_m,
        worst_case_m=now.worst_case_m,
        bias_m=now.bias_m,
        sigma_m=now.sigma_m,
        rss_m=rss_m,
        halfway_m=0.5 * (now.worst_case_m + rss_m),
        coverage=coverage,
        cp=_index(tolerance_m, now.sigma_m),
        cpk=_index(tolerance_m - abs(now.bias_m), now.sigma_m),
        parts_per_million=outside,
        shares=tuple(_share(one, now, coverage, rss_m) for one in contributors),
        halved_cpk=tuple(_index(tolerance_m - abs(one.bias_m), one.sigma_m) for one in halved),
        halved_worst_case_m=tuple(one.worst_case_m for one in halved),
    )


def index_and_bias(contributors: Sequence[Contributor], tolerance_m: float) -> tuple[float, float]:
    """Cpk and bias [m] alone, as `sum_budget` gives them: for who asks many times over."""
    now = _sums(contributors)
    return _index(tolerance_m - abs(now.bias_m), now.sigma_m), now.bias_m


@dataclass(frozen=True)
class _Sums:
    low_m: float
    high_m: float
    bias_m: float
    sigma_m: float

    @property
    def worst_case_m(self) -> float:
        return max(self.high_m, -self.low_m)


def _sums(contributors: Sequence[Contributor]) -> _Sums:
    biases = [one for one in contributors if one.kind == "bias"]
    low_m, high_m = math.fsum(one.low_m for one in biases), math.fsum(one.high_m for one in biases)
    widths_m = math.fsum(one.half_width_m for one in contributors if one.kind == "spread")
    sigma_m = math.sqrt(math.fsum(one.sigma_m**2 for one in contributors))
    return _Sums(low_m - widths_m, high_m + widths_m, high_m if high_m >= -low_m else low_m, sigma_m)


def _index(room_m: float, sigma_m: float) -> float:
    if sigma_m > 0.0:
        return room_m / (3.0 * sigma_m)
    return math.inf if room_m >= 0.0 else -math.inf


def _share(one: Contributor, now: _Sums, coverage: float, rss_m: float) -> float:
    if rss_m == 0.0:
        return 0.0
    if one.kind == "bias":
        return (one.high_m if now.bias_m >= 0.0 else -one.low_m) / rss_m
    return coverage * one.sigma_m**2 / now.sigma_m / rss_m if now.sigma_m > 0.0 else 0.0
