"""What a fixture does after its carrier has stopped: residual vibration, the time until it is still, what shortens it.

The fixture is a mass on a spring and a damper, one degree of freedom along the track. It feels the carrier's
acceleration; x is its displacement **relative to the carrier**, positive in the direction of the move, and obeys
x'' + 2 ζ ω x' + ω² x = -a(t), ω = 2 π f. A carrier's jerk is constant piece by piece, so its acceleration is linear
piece by piece and every answer here is a closed form: nothing is integrated in steps.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from linewright.motion.profile import Limits, Move, plan_move

__all__ = [
    "JerkChoice",
    "NullingJerk",
    "Residual",
    "Shaper",
    "nulling_jerk",
    "quickest_jerk",
    "residual_vibration",
    "settling_time",
    "shaper_residual",
    "zero_vibration_derivative_shaper",
    "zero_vibration_shaper",
]

# Steps of the search over the jerk: 4 % apart a dip of the residual cannot hide between two of them.
_JERK_RATIO: Final = 0.96
_MOST_JERKS: Final = 200
_REFINED: Final = 3
_GOLDEN: Final = 0.5 * (math.sqrt(5.0) - 1.0)


@dataclass(frozen=True, slots=True)
class Residual:
    """The vibration that a move leaves; the result of :func:`residual_vibration`.

    From the end of the move on, t = 0 there, x(t) = A exp(-ζ ω t) cos(ω_d t + φ) with ω_d = ω √(1 - ζ²).

    Attributes
    ----------
    amplitude_m       A: the envelope at the end of the move; no displacement after it is greater. [m]
    phase_rad         φ [rad]
    natural_frequency_hz, damping   f [Hz] and ζ
    """

    amplitude_m: float
    phase_rad: float
    natural_frequency_hz: float
    damping: float

    def envelope_m(self, time_s: float) -> float:
        """The amplitude that is left a time after the end of the move. [m]"""
        return self.amplitude_m * math.exp(-self.damping * 2.0 * math.pi * self.natural_frequency_hz * time_s)

    def displacement_m(self, time_s: float) -> float:
        """The displacement relative to the carrier a time after the end of the move. [m]"""
        pole = _pole(self.natural_frequency_hz, self.damping)
        return self.envelope_m(time_s) * math.cos(pole.imag * time_s + self.phase_rad)

    def settling_s(self, window_m: float) -> float:
        """The time from the end of the move until the envelope is within ± the window; see :func:`settling_time`."""
        return settling_time(self.amplitude_m, window_m, self.natural_frequency_hz, self.damping)


@dataclass(frozen=True, slots=True)
class NullingJerk:
    """The jerk whose ramps leave no vibration; the result of :func:`nulling_jerk`.

    Attributes
    ----------
    jerk_m_s3     The jerk. [m/s³]
    periods       Vibration periods that fit into one jerk phase, a whole number.
    longer_s      By how much a move that reaches full acceleration and speed takes longer than with the jerk limit. [s]
    """

    jerk_m_s3: float
    periods: int
    longer_s: float


@dataclass(frozen=True, slots=True)
class JerkChoice:
    """A jerk for the moves to one station; the result of :func:`quickest_jerk`.

    Attributes
    ----------
    jerk_m_s3     The jerk. [m/s³]
    settling_s    Settling with it: the longest over the moves, and at least the least settling. [s]
    longer_s      By how much the shortest of the moves takes longer than with the greatest jerk. [s]
    saved_s       By how much that move and the settling together take less; 0 where the greatest jerk is best. [s]
    """

    jerk_m_s3: float
    settling_s: float
    longer_s: float
    saved_s: float


@dataclass(frozen=True, slots=True)
class Shaper:
    """Impulses with which the commanded motion is convolved so that it excites no vibration.

    Attributes
    ----------
    amplitudes    Shares of the motion, which add up to one.
    times_s       When each begins, from 0 on. [s]
    """

    amplitudes: tuple[float, ...]
    times_s: tuple[float, ...]

    @property
    def added_s(self) -> float:
        """By how much it lengthens every move. [s]"""
        return self.times_s[-1]


def residual_vibration(move: Move, natural_frequency_hz: float, damping: float) -> Residual:
    """The vibration of a fixture after its carrier's move, exactly.

    The fixture is at rest when the move begins.

    Parameters
    ----------
    move : Move                      The carrier's move, from rest to rest.
    natural_frequency_hz : float     Undamped natural frequency f of the fixture on the carrier. [Hz], > 0
    damping : float                  Damping ratio ζ, 0 ≤ ζ < 1.

    Returns
    -------
    Residual   .amplitude_m, .envelope_m(t), .displacement_m(t), .settling_s(window)

    Raises
    ------
    ValueError   Frequency or damping is out of its range.

    Notes
    -----
    With s = -ζ ω + i ω_d and T the end of the move, x(T + t) = Re(C exp(s t)) where

        C = (i/ω_d) ∫₀ᵀ a(τ) exp(s (T - τ)) dτ

    (convolution with the impulse response). On a stretch of constant jerk j, duration h, whose acceleration ends at a,
    the integral is exp(s r) h (a φ(s h) - j h χ(s h)), r the time from its end to T, φ(z) = (exp z - 1)/z and
    χ(z) = (1 + (z - 1) exp z)/z²; the stretches are added. Infinite jerk needs no case of its own.

    Without damping, both limits reached, equal ramps: A = (v/ω) |sinc(ω a/2j)| |sinc(ω v/2a)| 2 |sin(ω d/2v)|,
    sinc x = sin x / x.

    Source     derived (Duhamel's integral); checked in tests/reference/data/stability.json and against a numerical
               integration of the equation of motion.
    Examples
    --------
    >>> move = plan_move(0.3, Limits(0.5, 5.0, 60.0))
    >>> round(residual_vibration(move, 6.0, 0.0).amplitude_m, 9)
    0.008103274
    """
    pole = _pole(natural_frequency_hz, damping)
    total = 0j
    for segment in move.segments:
        h, jerk = segment.duration_s, segment.jerk_m_s3
        last_m_s2 = segment.acceleration_m_s2 + jerk * h
        to_end_s = move.duration_s - segment.start_s - h
        flat, slope = _means(pole * h)
        total += cmath.exp(pole * max(to_end_s, 0.0)) * h * (last_m_s2 * flat - jerk * h * slope)
    constant = 1j * total / pole.imag
    return Residual(abs(constant), cmath.phase(constant), natural_frequency_hz, damping)


def settling_time(amplitude_m: float, window_m: float, natural_frequency_hz: float, damping: float) -> float:
    """The time until a decaying vibration stays within a window, by its envelope.

    Parameters
    ----------
    amplitude_m : float              Envelope at time zero. [m], ≥ 0
    window_m : float                 Half-width of the window: within ± this. [m], > 0
    natural_frequency_hz, damping    f [Hz], > 0, and ζ, 0 ≤ ζ < 1

    Returns
    -------
    float   ln(A/w)/(ζ ω); 0 where the amplitude is within the window from the first; infinite without damping. [s]

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      The displacement itself leaves the window for the last time at this time or up to half a damped
               period, 1/(2 f √(1 - ζ²)), before it; how long before hangs on the phase, which shifts with a small error
               of the stated frequency. The envelope is on the safe side whatever the phase.
    Source     envelope of a second-order system, textbook material; checked in tests/reference/data/stability.json.
    Examples
    --------
    >>> round(settling_time(1e-4, 1e-5, 10.0, 0.05), 9)
    0.732935599
    """
    if not 0.0 <= amplitude_m < math.inf or not 0.0 < window_m < math.inf:
        raise ValueError(f"no settling of {amplitude_m} m into ± {window_m} m; both are finite, the window positive")
    pole = _pole(natural_frequency_hz, damping)
    if amplitude_m <= window_m:
        return 0.0
    return math.log(amplitude_m / window_m) / -pole.real if damping > 0.0 else math.inf


def nulling_jerk(acceleration_m_s2: float, jerk_m_s3: float, natural_frequency_hz: float) -> NullingJerk:
    """The greatest jerk within the limit whose jerk phases last whole vibration periods.

    Parameters
    ----------
    acceleration_m_s2 : float        Acceleration that the move reaches. [m/s²], > 0, finite
    jerk_m_s3 : float                Jerk limit. [m/s³], > 0, may be infinite
    natural_frequency_hz : float     f. [Hz], > 0

    Returns
    -------
    NullingJerk   .jerk_m_s3 = a f/n with the least whole n ≥ a f/j, .periods n, .longer_s

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      Exact without damping where speeding up and slowing down both reach that acceleration: then
               sinc(ω a/2j) = sin(n π)/(n π) = 0. Damping leaves a little; :func:`quickest_jerk` computes that.
    Source     derived, from the closed form in :func:`residual_vibration`.
    Examples
    --------
    >>> nulling_jerk(10.0, 300.0, 20.0).jerk_m_s3
    200.0
    """
    if not 0.0 < acceleration_m_s2 < math.inf or not jerk_m_s3 > 0.0:
        raise ValueError(f"no jerk phase to {acceleration_m_s2} m/s² with {jerk_m_s3} m/s³")
    _pole(natural_frequency_hz, 0.0)
    least = acceleration_m_s2 * natural_frequency_hz / jerk_m_s3
    periods = max(1, math.ceil(least * (1.0 - 1e-12)))  # a limit that is itself a null stays one after rounding
    longer_s = periods / natural_frequency_hz - acceleration_m_s2 / jerk_m_s3
    return NullingJerk(acceleration_m_s2 * natural_frequency_hz / periods, periods, max(longer_s, 0.0))


def quickest_jerk(
    legs: tuple[tuple[float, Limits], ...],
    natural_frequency_hz: float,
    damping: float,
    window_m: float,
    least_settling_s: float = 0.0,
) -> JerkChoice:
    """The jerk with which the moves to one station and the settling there together take least.

    A lower jerk makes the move longer and, near the jerks that null the vibration, the settling much shorter.

    Parameters
    ----------
    legs : tuple of (distance, limits)   The moves that end at the station; all finite jerk, no one's is exceeded. [m]
    natural_frequency_hz, damping        f [Hz], > 0, and ζ, 0 ≤ ζ < 1
    window_m : float                     Half-width of the window. [m], > 0
    least_settling_s : float             Settling that remains whatever the vibration, the drive's. [s], ≥ 0

    Returns
    -------
    JerkChoice   for the least of: duration of the shortest move + max(least settling, longest settling of all moves)

    Raises
    ------
    ValueError   No leg; infinite jerk; a figure out of its range.

    Notes      The shortest move counts because it is the one of the exchange. The jerk falls from the limit in steps
               of 4 %, at most 200, until the move alone takes as long as the best sum found; the lowest dips are
               then searched by the golden section. Speed and acceleration limits stay; a lower jerk never raises what a
               move needs.
    Source     computed; the sum is this program's own measure.
    Examples
    --------
    >>> choice = quickest_jerk(((0.3, Limits(1.85, 14.0, 260.0)),), 14.0, 0.02, 1e-4)
    >>> round(choice.jerk_m_s3, 1), round(choice.saved_s, 2)
    (197.3, 1.42)
    """
    if not legs or any(limits.jerk_m_s3 == math.inf for _, limits in legs):
        raise ValueError("legs is empty or one of them has infinite jerk; there is no jerk to choose")
    if not 0.0 <= least_settling_s < math.inf:
        raise ValueError(f"least_settling_s is {least_settling_s}; it must be finite and not negative")

    def figures(jerk: float) -> tuple[float, float]:
        moves = [plan_move(d, replace(limits, jerk_m_s3=min(jerk, limits.jerk_m_s3))) for d, limits in legs]
        left = max(residual_vibration(move, natural_frequency_hz, damping).amplitude_m for move in moves)
        settling = settling_time(left, window_m, natural_frequency_hz, damping)
        return min(move.duration_s for move in moves), max(settling, least_settling_s)

    greatest = max(limits.jerk_m_s3 for _, limits in legs)
    move_s, settling_s = figures(greatest)
    best = _least_sum(greatest, figures)
    best_move_s, best_settling_s = figures(best)
    before_s, after_s = move_s + settling_s, best_move_s + best_settling_s
    if not after_s < before_s:
        return JerkChoice(greatest, settling_s, 0.0, 0.0)
    return JerkChoice(best, best_settling_s, best_move_s - move_s, before_s - after_s)


def _least_sum(greatest: float, figures: Callable[[float], tuple[float, float]]) -> float:
    """The jerk with the least sum of the two figures, of which the first rises as the jerk falls."""

    def cost(jerk: float) -> float:
        return sum(figures(jerk))

    jerks, costs, least = [greatest], [cost(greatest)], math.inf
    while len(jerks) < _MOST_JERKS:
        least = min(least, costs[-1])
        jerk = jerks[-1] * _JERK_RATIO
        move_s, settling_s = figures(jerk)
        jerks.append(jerk)
        costs.append(move_s + settling_s)
        if move_s >= least:
            break
    last = len(jerks) - 1
    dips = [k for k in range(last + 1) if costs[k] <= costs[max(k - 1, 0)] and costs[k] <= costs[min(k + 1, last)]]
    found = [(costs[0], -greatest)]
    for k in sorted(dips, key=lambda k: costs[k])[:_REFINED]:
        jerk = _golden(cost, jerks[min(k + 1, last)], jerks[max(k - 1, 0)])
        found += [(cost(jerk), -jerk), (costs[k], -jerks[k])]
    return -min(found)[1]


def _golden(cost: Callable[[float], float], low: float, high: float) -> float:
    """Golden-section search for the least cost between two jerks, to a part in 10⁵."""
    a, b = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    cost_a, cost_b = cost(a), cost(b)
    while high - low > 1e-5 * high:
        if cost_a < cost_b:
            high, b, cost_b = b, a, cost_a
            a = high - _GOLDEN * (high - low)
            cost_a = cost(a)
        else:
            low, a, cost_a = a, b, cost_b
            b = low + _GOLDEN * (high - low)
            cost_b = cost(b)
    return 0.5 * (low + high)


def zero_vibration_shaper(natural_frequency_hz: float, damping: float) -> Shaper:
    """The two impulses that cancel each other's vibration: the shortest positive shaper for one frequency.

    Parameters
    ----------
    natural_frequency_hz, damping   f [Hz], > 0, and ζ, 0 ≤ ζ < 1

    Returns
    -------
    Shaper   amplitudes (1, K)/(1 + K) at 0 and half a damped period; K = exp(-π ζ/√(1 - ζ²))

    Raises
    ------
    ValueError   Frequency or damping is out of its range.

    Source     Singer and Seering, "Preshaping command inputs to reduce system vibration", 1990 (formulas read in an
               open-source implementation); checked in tests/reference/data/stability.json.
    Examples
    --------
    >>> zero_vibration_shaper(1.0, 0.0)
    Shaper(amplitudes=(0.5, 0.5), times_s=(0.0, 0.5))
    """
    k, half_s = _decay(natural_frequency_hz, damping)
    return Shaper((1.0 / (1.0 + k), k / (1.0 + k)), (0.0, half_s))


def zero_vibration_derivative_shaper(natural_frequency_hz: float, damping: float) -> Shaper:
    """The three impulses that leave no vibration and whose residual is flat in the frequency: robust, twice as long.

    Parameters
    ----------
    natural_frequency_hz : undamped natural frequency. [Hz], > 0
    damping : damping ratio ζ, 0 <= ζ < 1

    Returns
    -------
    Shaper   amplitudes (1, 2 K, K²)/(1 + K)², K as for `zero_vibration_shaper`, at 0, half and one damped period. [s]

    Raises
    ------
    ValueError   The frequency is not above zero, or the damping is below 0 or not below 1.

    Source     as for `zero_vibration_shaper`; held to tests/reference/data/stability.json.

    Examples
    --------
    >>> zero_vibration_derivative_shaper(1.0, 0.0).amplitudes
    (0.25, 0.5, 0.25)
    """
    k, half_s = _decay(natural_frequency_hz, damping)
    whole = (1.0 + k) ** 2
    return Shaper((1.0 / whole, 2.0 * k / whole, k * k / whole), (0.0, half_s, 2.0 * half_s))


def shaper_residual(shaper: Shaper, natural_frequency_hz: float, damping: float) -> float:
    """The share of the vibration that a shaper leaves in a fixture of some other frequency or damping.

    Parameters
    ----------
    shaper : Shaper
    natural_frequency_hz, damping   What the fixture really has: f [Hz], > 0, and ζ, 0 ≤ ζ < 1

    Returns
    -------
    float   V = |Σ Aᵢ exp(s (tₙ - tᵢ))|, s = -ζ ω + i ω_d: after the last impulse, against one unit impulse then

    Raises
    ------
    ValueError   Frequency or damping is out of its range.

    Source     percentage vibration of an impulse sequence as in the literature on input shaping; checked in
               tests/reference/data/stability.json.
    Examples
    --------
    >>> round(shaper_residual(zero_vibration_shaper(10.0, 0.0), 11.0, 0.0), 6)
    0.156434
    """
    pole = _pole(natural_frequency_hz, damping)
    steps = zip(shaper.amplitudes, shaper.times_s, strict=True)
    return abs(sum((share * cmath.exp(pole * (shaper.added_s - time_s)) for share, time_s in steps), 0j))


def _pole(natural_frequency_hz: float, damping: float) -> complex:
    """s = -ζ ω + i ω_d. [1/s]"""
    if not 0.0 < natural_frequency_hz < math.inf:
        raise ValueError(f"natural_frequency_hz is {natural_frequency_hz}; it must be positive and finite")
    if not 0.0 <= damping < 1.0:
        raise ValueError(f"damping is {damping}; the damping ratio lies from 0 to under 1")
    omega = 2.0 * math.pi * natural_frequency_hz
    return complex(-damping * omega, omega * math.sqrt((1.0 - damping) * (1.0 + damping)))


def _decay(natural_frequency_hz: float, damping: float) -> tuple[float, float]:
    """What is left of an amplitude after half a damped period, and that half period. [1, s]"""
    pole = _pole(natural_frequency_hz, damping)
    half_s = math.pi / pole.imag
    return math.exp(pole.real * half_s), half_s


def _means(z: complex) -> tuple[complex, complex]:
    """∫₀¹ exp(z u) du and ∫₀¹ u exp(z u) du; by their series where the closed forms lose digits."""
    if abs(z) < 0.5:
        term, flat, slope = 1.0 + 0j, 1.0 + 0j, 0.5 + 0j
        for n in range(1, 16):
            term *= z / n
            flat += term / (n + 1)
            slope += term / (n + 2)
        return flat, slope
    grown = cmath.exp(z)
    return (grown - 1.0) / z, (1.0 + (z - 1.0) * grown) / (z * z)
