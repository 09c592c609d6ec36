"""How far a guard must stand from the danger, after ISO 13855 in its form of 2010. No statement of conformity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

WALKING_M_S: Final = 1.6
"""Speed of a person who walks up, and of a hand beyond 500 mm. [m/s]"""
HAND_M_S: Final = 2.0
"""Speed of a hand up to 500 mm. [m/s]"""
NEAREST_M: Final = 0.1
"""No light curtain stands nearer than this. [m]"""
NEAR_M: Final = 0.5
"""Beyond this a light curtain may be reckoned with 1.6 m/s, and then stands no nearer than this. [m]"""
FINEST_M: Final = 0.014
COARSEST_M: Final = 0.040
"""Resolution up to which a hand is seen. [m]"""
HIGHEST_FIELD_M: Final = 1.0
LEAST_FIELD_INTRUSION_M: Final = 0.85
_SAME_M: Final = 1e-12


@dataclass(frozen=True, slots=True)
class SafetyDistance:
    """The least distance of a guard from the danger.

    Parameters
    ----------
    distance_m : S. [m]
    approach_m_s : K, the speed of approach that it was reckoned with. [m/s]
    intrusion_m : C, how far a person reaches before the guard trips. [m]
    """

    distance_m: float
    approach_m_s: float
    intrusion_m: float


def light_curtain_distance(stop_time_s: float, resolution_m: float) -> SafetyDistance:
    """Least distance of a light curtain that is met at right angles.

    Parameters
    ----------
    stop_time_s : float    T, from the curtain's interruption until nothing dangerous moves. [s], ≥ 0
    resolution_m : float   d, the least body that it sees. [m], > 0, ≤ 0.04

    Returns
    -------
    SafetyDistance

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Notes      C = 8 (d - 14 mm), not below 0. S = 2 m/s T + C, at least 100 mm; where that is more than 500 mm it is
               reckoned anew as 1.6 m/s T + C, at least 500 mm.
    Source     ISO 13855:2010, the rule as makers' manuals print it (read); C not below 0 from memory.

    Examples
    --------
    >>> round(light_curtain_distance(0.1, 0.03).distance_m, 9)
    0.328
    >>> light_curtain_distance(0.32, 0.014)
    SafetyDistance(distance_m=0.512, approach_m_s=1.6, intrusion_m=0.0)
    """
    _check_time(stop_time_s)
    if not 0.0 < resolution_m <= COARSEST_M + _SAME_M:
        raise ValueError(f"resolution_m is {resolution_m}; it must be positive and at most {COARSEST_M}")
    intrusion_m = max(8.0 * (resolution_m - FINEST_M), 0.0)
    near_m = max(HAND_M_S * stop_time_s + intrusion_m, NEAREST_M)
    if near_m <= NEAR_M + _SAME_M:
        return SafetyDistance(near_m, HAND_M_S, intrusion_m)
    return SafetyDistance(max(WALKING_M_S * stop_time_s + intrusion_m, NEAR_M), WALKING_M_S, intrusion_m)


def scanner_distance(stop_time_s: float, height_m: float) -> SafetyDistance:
    """Least depth of a scanner's field along the floor, from its edge to the danger.

    Parameters
    ----------
    stop_time_s : float   T, from the field's intrusion until nothing dangerous moves. [s], ≥ 0
    height_m : float      H, of the field over the floor. [m], ≥ 0, ≤ 1

    Returns
    -------
    SafetyDistance

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Notes      S = 1.6 m/s T + C with C = 1200 mm - 0.4 H, not below 850 mm. Holds where the scanner sees bodies of
               :func:`coarsest_scanner_m` at that height.
    Source     ISO 13855:2010, parallel approach, as makers' manuals print it (read).

    Examples
    --------
    >>> round(scanner_distance(0.2, 0.3).distance_m, 9), scanner_distance(0.35, 1.0).intrusion_m
    (1.4, 0.85)
    """
    _check_time(stop_time_s)
    _check_height(height_m)
    intrusion_m = max(1.2 - 0.4 * height_m, LEAST_FIELD_INTRUSION_M)
    return SafetyDistance(WALKING_M_S * stop_time_s + intrusion_m, WALKING_M_S, intrusion_m)


def coarsest_scanner_m(height_m: float) -> float:
    """The coarsest resolution with which a field at a height still sees a leg. [m]

    Notes      d = H/15 + 50 mm: the lowest allowed height 15 (d - 50 mm), turned round.
    Source     ISO 13855:2010, parallel approach, as makers' manuals print it (read).

    Examples
    --------
    >>> round(coarsest_scanner_m(0.3), 9)
    0.07
    """
    _check_height(height_m)
    return height_m / 15.0 + 0.05


def interlocked_distance(stop_time_s: float, reach_through_m: float = 0.0) -> SafetyDistance:
    """Least distance of a door that trips when it is opened and does not stay locked.

    Parameters
    ----------
    stop_time_s : float       T, from the door's opening until nothing dangerous moves. [s], ≥ 0
    reach_through_m : float   D_GT, how far one reaches through the gap before the door trips. [m], ≥ 0

    Returns
    -------
    SafetyDistance

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Notes      S = 1.6 m/s T + D_GT.
    Source     ISO 13855, interlocking guards without guard locking, as a consultant prints it (read).

    Examples
    --------
    >>> interlocked_distance(0.5).distance_m
    0.8
    """
    _check_time(stop_time_s)
    if not 0.0 <= reach_through_m < math.inf:
        raise ValueError(f"reach_through_m is {reach_through_m}; it must be finite and not negative")
    return SafetyDistance(WALKING_M_S * stop_time_s + reach_through_m, WALKING_M_S, reach_through_m)


def _check_time(stop_time_s: float) -> None:
    if not 0.0 <= stop_time_s < math.inf:
        raise ValueError(f"stop_time_s is {stop_time_s}; it must be finite and not negative")


def _check_height(height_m: float) -> None:
    if not 0.0 <= height_m <= HIGHEST_FIELD_M + _SAME_M:
        raise ValueError(f"height_m is {height_m}; it must be between 0 and {HIGHEST_FIELD_M}")
