"""A carrier that has lost its drive: how far and how long it coasts under a constant drag, and what a rated end stop
makes of that.

A passive carrier has no brake. Nothing slows it but the drag, and of the drag only its least value is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Coast", "CoastOver", "LongestCoast", "coast", "coast_over", "longest_coast"]


@dataclass(frozen=True, slots=True)
class Coast:
    """A coast to a stand; the result of :func:`coast`. Both are infinite where nothing slows the carrier."""

    distance_m: float
    time_s: float


@dataclass(frozen=True, slots=True)
class CoastOver:
    """A coast over a given way; the result of :func:`coast_over`.

    Parameters
    ----------
    time_s : until the way's end or, where it comes to a stand before, until that. [s]
    speed_m_s : at the way's end; 0 where it comes to a stand before. [m/s]
    distance_m : covered, at most the way. [m]
    """

    time_s: float
    speed_m_s: float
    distance_m: float


@dataclass(frozen=True, slots=True)
class LongestCoast:
    """The coast that lasts longest of all with a speed up to a given one; the result of :func:`longest_coast`.

    Parameters
    ----------
    time_s : how long it lasts. [s]
    speed_m_s : with which it begins. [m/s]
    distance_m : what it covers. [m]
    """

    time_s: float
    speed_m_s: float
    distance_m: float


def coast(mass_kg: float, speed_m_s: float, drag_N: float) -> Coast:
    """How far and how long a carrier coasts until it stands.

    Parameters
    ----------
    mass_kg : float     All that moves. [kg], > 0
    speed_m_s : float   At which it loses its drive. [m/s], ≥ 0
    drag_N : float      Least force that slows it. [N], ≥ 0; with 0 it never stands

    Returns
    -------
    Coast   .distance_m = m v²/(2 F), .time_s = m v/F

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Notes      Newton's second law with a constant force F against the motion: a = F/m. A drag that grows with the speed
               only shortens both. On level track.
    Source     general physics texts; held to an integration of the equation of motion in the tests.

    Examples
    --------
    >>> coast(0.6, 2.0, 0.5)
    Coast(distance_m=2.4, time_s=2.4)
    """
    _check(mass_kg, speed_m_s, drag_N)
    if speed_m_s == 0.0:
        return Coast(0.0, 0.0)
    if drag_N == 0.0:
        return Coast(math.inf, math.inf)
    time_s = mass_kg * speed_m_s / drag_N
    return Coast(0.5 * speed_m_s * time_s, time_s)


def coast_over(mass_kg: float, speed_m_s: float, drag_N: float, way_m: float) -> CoastOver:
    """A coast over a way, at whose end something stands.

    Parameters
    ----------
    mass_kg, speed_m_s, drag_N : as for :func:`coast`
    way_m : float   How far the carrier may go. [m], ≥ 0

    Returns
    -------
    CoastOver   Where m v²/(2 F) is more than the way w: the speed there √(v² - 2 w F/m) and the time
                2 w/(v + √(v² - 2 w F/m)); else it stands before, as in :func:`coast`.

    Raises
    ------
    ValueError   A figure is out of its range, infinite or not a number.

    Source     energy F w = m (v² - u²)/2; the time is the way over the mean speed, which is exact where the
               acceleration is constant.

    Examples
    --------
    >>> coast_over(0.5, 2.5, 1.0, 1.0)
    CoastOver(time_s=0.5, speed_m_s=1.5, distance_m=1.0)
    >>> coast_over(0.5, 1.0, 1.0, 1.0)
    CoastOver(time_s=0.5, speed_m_s=0.0, distance_m=0.25)
    """
    _check(mass_kg, speed_m_s, drag_N)
    _check_way(way_m)
    whole = coast(mass_kg, speed_m_s, drag_N)
    if whole.distance_m <= way_m:
        return CoastOver(whole.time_s, 0.0, whole.distance_m)
    left = math.sqrt(max(speed_m_s * speed_m_s - 2.0 * way_m * drag_N / mass_kg, 0.0))
    return CoastOver(2.0 * way_m / (speed_m_s + left), left, way_m)


def longest_coast(mass_kg: float, speed_m_s: float, drag_N: float, way_m: float) -> LongestCoast:
    """The longest time that a carrier can take to stand or to come to the end of a way, whatever its speed is.

    Parameters
    ----------
    mass_kg, drag_N : as for :func:`coast`
    speed_m_s : float   The greatest speed that it may have; every slower one is possible too. [m/s], ≥ 0
    way_m : float       How far it may go. [m], ≥ 0; `math.inf` where nothing stands at an end

    Returns
    -------
    LongestCoast

    Raises
    ------
    ValueError   A figure is out of its range, infinite (only the way may be) or not a number.

    Notes
    -----
    With a = F/m and w the way, a carrier of speed u stands by itself where u ≤ u* = √(2 a w), after u/a, which rises
    with u. A faster one comes to the end after 2 w/(u + √(u² - 2 a w)), which falls as u rises, from 2 w/u* = u*/a on.
    So over all u ≤ v the longest time is v/a where v ≤ u*, and u*/a = √(2 w m/F) else: **the carrier that just reaches
    the end stop takes longest, not the fastest one**. The time rises with the way, with the mass and with v, and falls
    with the drag. Without drag a carrier may creep, and the time is infinite wherever there is a way.

    Source     derived, above; held to a search over all speeds in the tests.

    Examples
    --------
    >>> longest_coast(0.5, 3.0, 1.0, 1.0)
    LongestCoast(time_s=1.0, speed_m_s=2.0, distance_m=1.0)
    >>> longest_coast(0.5, 1.0, 1.0, 1.0)
    LongestCoast(time_s=0.5, speed_m_s=1.0, distance_m=0.25)
    """
    _check(mass_kg, speed_m_s, drag_N)
    if way_m != math.inf:
        _check_way(way_m)
    if speed_m_s == 0.0 or way_m == 0.0:
        return LongestCoast(0.0, 0.0, 0.0)
    if drag_N == 0.0:
        return LongestCoast(math.inf, 0.0, way_m)
    own = coast(mass_kg, speed_m_s, drag_N)
    if own.distance_m <= way_m:
        return LongestCoast(own.time_s, speed_m_s, own.distance_m)
    time_s = math.sqrt(2.0 * way_m * mass_kg / drag_N)
    return LongestCoast(time_s, 2.0 * way_m / time_s, way_m)


def _check(mass_kg: float, speed_m_s: float, drag_N: float) -> None:
    if not 0.0 < mass_kg < math.inf:
        raise ValueError(f"mass_kg is {mass_kg}; it must be positive and finite")
    for name, value in (("speed_m_s", speed_m_s), ("drag_N", drag_N)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and not negative")


def _check_way(way_m: float) -> None:
    if not 0.0 <= way_m < math.inf:
        raise ValueError(f"way_m is {way_m}; it must be finite and not negative")
