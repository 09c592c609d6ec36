"""What guide blocks stand: static safety, mean load, life; and the shares of simpler guides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from linewright.figures import finite, positive

__all__ = [
    "GuideLife",
    "RailShares",
    "guide_life",
    "mean_load",
    "rating_at_reference",
    "single_carriage_load",
    "static_safety",
    "two_rail_shares",
]


@dataclass(frozen=True)
class GuideLife:
    """Nominal life of a ball guide, which nine of ten reach; the result of :func:`guide_life`.

    Parameters
    ----------
    travel_m : [m]
    """

    travel_m: float

    def hours(self, mean_speed_m_s: float) -> float:
        """The same in hours of running at a mean speed > 0. [h]"""
        positive("mean_speed_m_s", mean_speed_m_s)
        return self.travel_m / mean_speed_m_s / 3600.0


@dataclass(frozen=True)
class RailShares:
    """What each of two rails takes of one pair of blocks; the result of :func:`two_rail_shares`. [N]"""

    near_N: float
    far_N: float


def static_safety(static_rating_N: float, load_N: float, shock_factor: float = 1.0) -> float:
    """How many times the greatest load of a block goes into its static rating.

    Parameters
    ----------
    static_rating_N : C0 of one block. [N], > 0
    load_N : greatest load of the block. [N], > 0
    shock_factor : on the load, >= 1

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      S0 = C0/(f P0). C0 is the load at which the permanent dent reaches 0.0001 of the ball (ISO 14728-2).
    Source     a worked example of a maker's sizing page, read; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> round(static_safety(28600.0, 8000.0, 1.5), 2)
    2.38
    """
    positive("static_rating_N", static_rating_N)
    positive("load_N", load_N)
    if not 1.0 <= shock_factor < math.inf:
        raise ValueError(f"shock_factor is {shock_factor}; it must be 1 or more")
    return static_rating_N / (shock_factor * load_N)


def mean_load(loads_N: Sequence[float], travels_m: Sequence[float]) -> float:
    """The one load that wears a ball guide as a sequence of loads does.

    Parameters
    ----------
    loads_N : [N], >= 0
    travels_m : how far under each; any unit, as only shares count. >= 0, together > 0

    Returns
    -------
    float   [N]

    Raises
    ------
    ValueError   Different lengths, a negative figure, no travel at all, or a figure that is not a number.

    Notes      P = (Σ P³ s / Σ s)^(1/3); the exponent 3 belongs to balls.
    Source     general linear-guide handbooks, read; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> round(mean_load([2000.0, 500.0, 2500.0], [0.3, 0.5, 0.2]), 1)
    1774.5
    """
    if len(loads_N) != len(travels_m):
        raise ValueError(f"loads_N has {len(loads_N)} values and travels_m {len(travels_m)}")
    for name, values in (("loads_N", loads_N), ("travels_m", travels_m)):
        for value in values:
            if not 0.0 <= value < math.inf:
                raise ValueError(f"{name} holds {value}; values must be finite and not negative")
    total = math.fsum(travels_m)
    if not total > 0.0:
        raise ValueError("travels_m adds up to nothing")
    top_N = max(loads_N)
    if top_N == 0.0:
        return 0.0
    # Cubes of shares of the greatest load: those of the loads themselves may be out of the range of floats.
    cubes = math.fsum((load / top_N) ** 3 * way for load, way in zip(loads_N, travels_m, strict=True))
    return top_N * math.cbrt(cubes / total)


def guide_life(
    dynamic_rating_N: float, load_N: float, rating_travel_m: float = 100e3, load_factor: float = 1.0
) -> GuideLife:
    """Nominal life of a ball guide.

    Parameters
    ----------
    dynamic_rating_N : C of one block. [N], > 0
    load_N : equivalent load of the block, :func:`mean_load`. [N], > 0
    rating_travel_m : travel that belongs to C: 100 km or 50 km. [m], > 0
    load_factor : for shock and vibration, on the load; seldom below 1. > 0

    Returns
    -------
    GuideLife   .travel_m, .hours(mean_speed_m_s)

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      L10 = (C/(f P))³ × reference travel, reached by 90 % (ISO 14728-1). Ball guides alone: rollers have
               another exponent. A load over about half of C is beyond the formula.
    Source     a maker's manual, read; the factor in it from memory; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> guide_life(20000.0, 2000.0).travel_m, round(guide_life(20000.0, 2000.0).hours(0.5), 1)
    (100000000.0, 55555.6)
    """
    positive("dynamic_rating_N", dynamic_rating_N)
    positive("load_N", load_N)
    positive("rating_travel_m", rating_travel_m)
    positive("load_factor", load_factor)
    return GuideLife((dynamic_rating_N / (load_factor * load_N)) ** 3 * rating_travel_m)


def rating_at_reference(dynamic_rating_N: float, rating_travel_m: float, other_travel_m: float) -> float:
    """The same dynamic rating for another reference travel.

    Parameters
    ----------
    dynamic_rating_N : C. [N], > 0
    rating_travel_m : travel that belongs to it. [m], > 0
    other_travel_m : travel for which it is wanted. [m], > 0

    Raises
    ------
    ValueError   A figure is not positive.

    Notes      C' = C (s/s')^(1/3): the same life by either.
    Source     follows from L10; 1.26 for 100 km to 50 km is read in general texts.
    Examples
    --------
    >>> round(rating_at_reference(1000.0, 100e3, 50e3))
    1260
    """
    positive("dynamic_rating_N", dynamic_rating_N)
    positive("rating_travel_m", rating_travel_m)
    positive("other_travel_m", other_travel_m)
    return dynamic_rating_N * math.cbrt(rating_travel_m / other_travel_m)


def single_carriage_load(force_N: float, moment_Nm: float, static_rating_N: float, static_moment_Nm: float) -> float:
    """Static load of one block that takes a moment all by itself.

    Parameters
    ----------
    force_N : either sense. [N]
    moment_Nm : about the axis of the rating. [N m]
    static_rating_N : C0. [N], > 0
    static_moment_Nm : greatest static moment M0 about that axis. [N m], > 0

    Raises
    ------
    ValueError   A rating is not positive, or a figure is not a number.

    Notes      P0 = \\|F\\| + K \\|M\\| with K = C0/M0. The checks of a line do not use it: their four blocks take
               moments together.
    Source     a general guide book, read; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> single_carriage_load(500.0, 30.0, 15000.0, 180.0)
    3000.0
    """
    finite("force_N", force_N)
    finite("moment_Nm", moment_Nm)
    positive("static_rating_N", static_rating_N)
    positive("static_moment_Nm", static_moment_Nm)
    return abs(force_N) + abs(moment_Nm) * static_rating_N / static_moment_Nm


def two_rail_shares(
    load_N: float, pairs: int, offset_m: float, gauge_m: float, shock_factor: float = 1.0
) -> RailShares:
    """How two rails share a load that stands off the middle.

    Parameters
    ----------
    load_N : all of it. [N]
    pairs : of blocks, one behind the other, which share it evenly; >= 1
    offset_m : of the load from the near rail. [m]
    gauge_m : distance of the rails. [m], > 0
    shock_factor : on the load, >= 1

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      near = (load/pairs) (gauge - offset)/gauge f; far is the rest. The checks of a line use
               :func:`~linewright.checks.strength.block_loads`, of which it is a case.
    Source     a general catalogue of linear motion, read; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> two_rail_shares(100.0, 2, 4.0, 10.0)
    RailShares(near_N=30.0, far_N=20.0)
    """
    finite("load_N", load_N)
    finite("offset_m", offset_m)
    positive("gauge_m", gauge_m)
    if pairs < 1:
        raise ValueError(f"pairs is {pairs}; it must be 1 or more")
    if not 1.0 <= shock_factor < math.inf:
        raise ValueError(f"shock_factor is {shock_factor}; it must be 1 or more")
    of_pair_N = load_N / pairs
    near_N = of_pair_N * (gauge_m - offset_m) / gauge_m * shock_factor
    return RailShares(near_N, of_pair_N * shock_factor - near_N)
