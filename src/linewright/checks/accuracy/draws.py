"""An error budget drawn part by part: what the sums of squares cannot tell of laws that are not normal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.checks.accuracy.budget import Contributor

_AT_ONCE: Final = 65536  # drawn together: what fits the processor's cache is summed several times as fast


@dataclass(frozen=True, eq=False)
class SimulatedBudget:
    """Errors of so many parts; the result of :func:`simulate_budget`.

    Attributes
    ----------
    errors_m : shape (draws,), the bias included. [m]
    bias_m : biases added at the end that lies farther off, as in `sum_budget`. [m]
    seed : of the luck
    """

    errors_m: NDArray[np.float64]
    bias_m: float
    seed: int | tuple[int, ...]

    @property
    def mean_m(self) -> float:
        """Mean of the errors. [m]"""
        return float(self.errors_m.mean())

    @property
    def sigma_m(self) -> float:
        """Standard deviation of the errors. [m]"""
        return float(self.errors_m.std(ddof=1)) if len(self.errors_m) > 1 else 0.0

    def outside(self, tolerance_m: float) -> int:
        """How many of the drawn parts lie farther off than the tolerance."""
        return int(np.count_nonzero(np.abs(self.errors_m) > tolerance_m))

    def parts_per_million(self, tolerance_m: float) -> float:
        """The same as a share: one part in all of them counts 10⁶ / draws."""
        return 1e6 * self.outside(tolerance_m) / len(self.errors_m)

    def interval_m(self, share: float = 0.9973) -> tuple[float, float]:
        """The two ends between which so large a share of the errors lies, as much cut off below as above. [m]"""
        if not 0.0 < share < 1.0:
            raise ValueError(f"share is {share}; it lies between 0 and 1")
        low, high = np.quantile(self.errors_m, (0.5 - share / 2.0, 0.5 + share / 2.0))
        return float(low), float(high)


def simulate_budget(
    contributors: Sequence[Contributor], draws: int = 1_000_000, seed: int | tuple[int, ...] = 1
) -> SimulatedBudget:
    """Draw the error of so many parts from the laws of their contributors.

    Parameters
    ----------
    contributors : of one axis, their spreads independent of one another
    draws : parts, >= 1
    seed : of all luck; the same seed gives the same draws

    Returns
    -------
    SimulatedBudget

    Raises
    ------
    ValueError   No draw is asked for, or the contributors are of several axes.

    Notes
    -----
    A normal law has a third of its half width as standard deviation and is not cut off, so that one draw in 370 lies
    beyond its half width; a triangular one is the sum of two uniform ones. Biases do not differ from part to part:
    they are added at the end of their range that lies farther off. The generator is PCG64 with ziggurat normals, from
    numpy; contributors of no width take nothing from it.

    Source
    ------
    JCGM 101:2008, propagation of distributions; its clause 9.2 is checked in tests/reference/test_accuracy.py.

    Examples
    --------
    >>> from linewright.checks.accuracy import spread_of
    >>> drawn = simulate_budget([spread_of("a", "x", 3e-5), spread_of("b", "x", 4e-5, "uniform")], 50_000, seed=7)
    >>> abs(drawn.sigma_m / (1e-10 + 16e-10 / 3) ** 0.5 - 1) < 0.01
    True
    """
    if draws < 1:
        raise ValueError(f"draws is {draws}; at least one is needed")
    if len({one.axis for one in contributors}) > 1:
        raise ValueError(f"contributors are of several axes: {sorted({one.axis for one in contributors})}")
    biases = [one for one in contributors if one.kind == "bias"]
    low_m, high_m = sum(one.low_m for one in biases), sum(one.high_m for one in biases)
    bias_m = high_m if high_m >= -low_m else low_m
    spreads = [one for one in contributors if one.kind == "spread" and one.half_width_m > 0.0]
    generator = np.random.default_rng(seed)
    errors_m = np.empty(draws)
    buffer = np.empty(min(draws, _AT_ONCE))
    for start in range(0, draws, _AT_ONCE):
        part = errors_m[start : start + _AT_ONCE]
        part[:] = bias_m
        for one in spreads:
            _add(part, one, generator, buffer[: len(part)])
    errors_m.setflags(write=False)
    return SimulatedBudget(errors_m, float(bias_m), seed)


def _add(
    errors_m: NDArray[np.float64], one: Contributor, generator: np.random.Generator, buffer: NDArray[np.float64]
) -> None:
    """Adds the draws of one spread."""
    if one.law == "normal":
        generator.standard_normal(out=buffer)
        buffer *= one.sigma_m
        errors_m += buffer
        return
    times, scale_m = (2, one.half_width_m) if one.law == "triangular" else (1, 2.0 * one.half_width_m)
    for _ in range(times):
        generator.random(out=buffer)
        buffer -= 0.5
        buffer *= scale_m
        errors_m += buffer
