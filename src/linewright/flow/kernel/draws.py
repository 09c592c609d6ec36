"""Luck: durations and flags as pure functions of what they are drawn for.

u = f(seed, replication, hash of a name, purpose, number, visit) with f the splitmix64 finaliser over a counter, keyed
by the other arguments (Steele, Lea, Flood: Fast splittable pseudorandom number generators, OOPSLA 2014; constants
from memory). Work and flags are keyed by the step's name and the part's serial, failures by the station's name, the
kind of failure and its number. Every draw is one uniform through the inverse of its law.
"""

from __future__ import annotations

import functools
import hashlib
from functools import lru_cache
from itertools import pairwise
from math import ceil, exp, floor, log, log1p, sqrt
from typing import Final, NamedTuple

import numpy as np
from numba import njit, uint64
from numpy.typing import NDArray

from linewright.traffic.plan import (
    EMPIRICAL,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GIVEN,
    LOGNORMAL,
    Chance,
    FailureKind,
    Law,
    TrafficPlan,
)

GOLDEN: Final = np.uint64(0x9E3779B97F4A7C15)
OTHER: Final = np.uint64(0xD1342543DE82EF95)
MASK: Final = (1 << 64) - 1
NO_FAILURE: Final = np.int64(1 << 61)

PURPOSE_WORK: Final = 1
PURPOSE_REJECT: Final = 2
PURPOSE_RUNNING: Final = 3
PURPOSE_REPAIR: Final = 4

# Knots of the table of a gamma law: so many to one of the normal quantile, up to which no uniform leads (8.21).
GAMMA_KNOTS_PER_ONE: Final = 32
GAMMA_REACH: Final = 8.25
GAMMA_NEARLY_NORMAL: Final = 1e5


class Laws(NamedTuple):
    """Laws as arrays: law i is kind[i] with parameters p[i], or given[first[i]:first[i] + length[i]], of a gamma law
    table[first[i]:first[i] + length[i]]; key[i] seeds its draws."""

    kind: NDArray[np.int64]
    p: NDArray[np.float64]
    first: NDArray[np.int64]
    length: NDArray[np.int64]
    given: NDArray[np.int64]
    table: NDArray[np.float64]
    key: NDArray[np.uint64]


def _mix(z: int) -> int:
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
    return z ^ (z >> 31)


def stream_key(seed: int, replication: int, name: str, purpose: int) -> int:
    """The key of one stream of draws, 64 bits."""
    word = int.from_bytes(hashlib.blake2b(name.encode(), digest_size=8).digest(), "little")
    z = seed & MASK
    for part in (replication, word, purpose):
        z = _mix((z + int(GOLDEN)) & MASK) ^ part
    return _mix(z & MASK)


@njit
def uniform(key, number, visit):
    """The uniform with this number in a stream, in (0, 1), 52 bits."""
    z = key + uint64(number + 1) * GOLDEN + uint64(visit) * OTHER
    z = (z ^ (z >> uint64(30))) * uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> uint64(27))) * uint64(0x94D049BB133111EB)
    z = z ^ (z >> uint64(31))
    return (float(np.int64(z >> uint64(12))) + 0.5) * 2.220446049250313e-16


# Coefficients of AS 241, highest power first: |p - 1/2| <= 0.425, then by r = sqrt(-ln(tail)) up to 5 and beyond.
MIDDLE_TOP: Final = (
    2509.0809287301226727, 33430.575583588128105, 67265.770927008700853, 45921.953931549871457,
    13731.693765509461125, 1971.5909503065514427, 133.14166789178437745, 3.387132872796366608,
)  # fmt: skip
MIDDLE_LOW: Final = (
    5226.495278852545925, 28729.085735721942674, 39307.89580009271061, 21213.794301586595867,
    5394.1960214247511077, 687.1870074920579083, 42.313330701600911252, 1.0,
)  # fmt: skip
NEAR_TOP: Final = (
    7.7454501427834140764e-4, 0.0227238449892691845833, 0.24178072517745061177, 1.27045825245236838258,
    3.64784832476320460504, 5.7694972214606914055, 4.6303378461565452959, 1.42343711074968357734,
)  # fmt: skip
NEAR_LOW: Final = (
    1.05075007164441684324e-9, 5.475938084995344946e-4, 0.0151986665636164571966, 0.14810397642748007459,
    0.68976733498510000455, 1.6763848301838038494, 2.05319162663775882187, 1.0,
)  # fmt: skip
FAR_TOP: Final = (
    2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.0012426609473880784386, 0.026532189526576123093,
    0.29656057182850489123, 1.7848265399172913358, 5.4637849111641143699, 6.6579046435011037772,
)  # fmt: skip
FAR_LOW: Final = (
    2.04426310338993978564e-15, 1.4215117583164458887e-7, 1.8463183175100546818e-5, 7.868691311456132591e-4,
    0.0148753612908506148525, 0.13692988092273580531, 0.59983220655588793769, 1.0,
)  # fmt: skip


@njit
def _polynomial(coefficients, x):
    """A polynomial by Horner's rule, highest power first."""
    y = 0.0
    for coefficient in coefficients:
        y = y * x + coefficient
    return y


@njit
def normal_quantile(p):
    """Inverse of the standard normal law: Wichura, algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477."""
    q = p - 0.5
    if abs(q) <= 0.425:
        r = 0.180625 - q * q
        return q * _polynomial(MIDDLE_TOP, r) / _polynomial(MIDDLE_LOW, r)
    r = sqrt(-log(p if q < 0 else 1.0 - p))
    if r <= 5.0:
        x = _polynomial(NEAR_TOP, r - 1.6) / _polynomial(NEAR_LOW, r - 1.6)
    else:
        x = _polynomial(FAR_TOP, r - 5.0) / _polynomial(FAR_LOW, r - 5.0)
    return -x if q < 0 else x


@njit
def duration(kind, a, b, c, u):
    """A duration from one uniform, rounded up to whole microseconds."""
    if kind == EXPONENTIAL:
        x = -log(u) * a
    elif kind == LOGNORMAL:
        x = exp(a + b * normal_quantile(u))
    else:
        share = (b - a) / (c - a)
        x = a + sqrt(u * (c - a) * (b - a)) if u < share else c - sqrt((1.0 - u) * (c - a) * (c - b))
    return np.int64(ceil(x))


@njit
def gamma_place(u):
    """Where a uniform stands among the knots of a gamma law's table: the knot before it and the share of the way on."""
    return (normal_quantile(u) + GAMMA_REACH) * GAMMA_KNOTS_PER_ONE


@njit
def between_knots(s, y, slope, next_y, next_slope):
    """Hermite's cubic a share s of the way from one knot to the next; slopes are times the spacing."""
    rise = next_y - y
    return y + s * (slope + s * ((3.0 * rise - 2.0 * slope - next_slope) + s * (slope + next_slope - 2.0 * rise)))


@njit
def above_zero(time):
    """A time above zero, rounded up to whole microseconds: one also where the time is too small for a float."""
    return max(np.int64(1), np.int64(ceil(time)))


@njit
def cycles(mean, u):
    """Works from one jam to the next, from one uniform: the geometric law 1, 2, ... of this mean.

    Notes    N = ceil(ln u / ln(1 - 1/n)): P(N > k) = P(u < (1 - 1/n)^k) = (1 - 1/n)^k.
    """
    if mean <= 1.0:
        return np.int64(1)
    return max(np.int64(1), np.int64(ceil(log(u) / log1p(-1.0 / mean))))


@njit(inline="always")
def looked_up(kind, a, b, given, table, first, length, u):
    """A draw of a gamma or an empirical law [us] or of a geometric one [cycles] from its uniform."""
    if kind == GAMMA:
        place = gamma_place(u)
        at = first + 2 * np.int64(place)
        logarithm = between_knots(place - floor(place), table[at], table[at + 1], table[at + 2], table[at + 3])
        return above_zero(b * exp(logarithm))
    if kind == EMPIRICAL:
        # u is at most 1 - 2^-53, so its product with a number, rounded, is below that number.
        return given[first + np.int64(u * length)]
    return cycles(a, u)


@njit(inline="always")
def draw(laws, i, number):
    """The duration with this number of law i [us], of a geometric law the number of cycles."""
    # All arrays are named before the first branch: within branches each would be counted anew at every draw.
    kind, first, length, p, given, table = laws.kind[i], laws.first[i], laws.length[i], laws.p, laws.given, laws.table
    if kind == FIXED:
        return np.int64(p[i, 0])
    if kind == GIVEN:
        return given[first + number % length]
    u = uniform(laws.key[i], number, 0)
    if kind > GIVEN:  # the laws numbered after it
        return looked_up(kind, p[i, 0], p[i, 1], given, table, first, length, u)
    return duration(kind, p[i, 0], p[i, 1], p[i, 2], u)


@njit(inline="always")
def draw_once(laws, i, number):
    """As `draw`, but given times are used once each: NO_FAILURE after the last."""
    if laws.kind[i] == GIVEN and number >= laws.length[i]:
        return NO_FAILURE
    return draw(laws, i, number)


@njit(inline="always")
def is_flagged(chances, i, serial):
    """Whether the part with this serial is flagged by chance i: parameters are the share, or given 0 and 1 by
    serial."""
    if chances.kind[i] == GIVEN:
        return serial < chances.length[i] and chances.given[chances.first[i] + serial] == 1
    share = chances.p[i, 0]
    return share > 0.0 and uniform(chances.key[i], serial, 0) < share


@lru_cache(maxsize=256)
def gamma_table(shape: float) -> NDArray[np.float64]:
    """The quantile of a gamma law of scale 1, ready to be looked up.

    Parameters
    ----------
    shape : k > 0

    Returns
    -------
    float64[2 n]   At n equally spaced z with -8.25 <= z <= 8.25, one after the other: ln x(z) and its slope times the
        spacing; x(z) is the quantile at the probability Phi(z).

    Notes
    -----
    ln x is nearly straight in z for large shapes, nearly a parabola below the mean for small ones, and smooth between:
    cubics between 32 knots to one are good to 1e-7 of x for shapes from 0.01 (a coefficient of variation of 1000 %).
    Slope: d ln x/dz = phi(z)/(x f(x)) with x f(x) = x^k exp(-x)/Gamma(k). Far below the mean x = (u Gamma(k + 1))^(1/k)
    to first order, which does not run out of floats. From a shape of 1e5, where scipy's inverse loses digits, the
    expansion about the normal law: x = k + z sqrt(k) + (z^2 - 1)/3 + (z^3 - 7 z)/(36 sqrt(k))
    - (3 z^4 + 7 z^2 - 16)/(810 k).

    Source     series of the incomplete gamma function and expansion of Cornish and Fisher (1937), both from memory;
    held to scipy.stats.gamma in tests/unit/flow/test_draws.py.
    """
    from scipy import special

    z = np.arange(-GAMMA_REACH, GAMMA_REACH + 0.5 / GAMMA_KNOTS_PER_ONE, 1.0 / GAMMA_KNOTS_PER_ONE)
    if shape >= GAMMA_NEARLY_NORMAL:
        root = sqrt(shape)
        x = shape + z * root + (z**2 - 1) / 3 + (z**3 - 7 * z) / (36 * root) - (3 * z**4 + 7 * z**2 - 16) / 810 / shape
        x_slope = root + 2 * z / 3 + (3 * z**2 - 7) / (36 * root) - (12 * z**3 + 14 * z) / 810 / shape
        log_x, slope = np.log(x), x_slope / x
    else:
        far_below = (special.log_ndtr(z) + special.gammaln(shape + 1.0)) / shape
        near = far_below > -40.0
        # The smaller of the two tails is handed over, since a probability near one has lost its digits.
        lower, upper = near & (z < 0.0), near & (z >= 0.0)
        log_x = far_below
        log_x[lower] = np.log(special.gammaincinv(shape, special.ndtr(z[lower])))
        log_x[upper] = np.log(special.gammainccinv(shape, special.ndtr(-z[upper])))
        log_density = shape * log_x - np.exp(log_x) - special.gammaln(shape)
        slope = np.exp(-(z**2) / 2 - 0.5 * np.log(2 * np.pi) - log_density)
    table: NDArray[np.float64] = np.column_stack([log_x, slope / GAMMA_KNOTS_PER_ONE]).ravel()
    table.flags.writeable = False
    return table


def law_arrays(laws: list[Law], keys: list[int]) -> Laws:
    """Laws as arrays for the kernel."""
    tables = [gamma_table(law.a) if law.kind == GAMMA else np.zeros(0) for law in laws]
    in_table = np.array([len(table) for table in tables], np.int64)
    in_given = np.array([len(law.given_us) for law in laws], np.int64)
    length = in_table + in_given  # of each law one of the two is nought
    first = np.where(in_table > 0, np.cumsum(in_table) - in_table, np.cumsum(in_given) - in_given)
    given = [time for law in laws for time in law.given_us]
    return Laws(
        kind=np.array([law.kind for law in laws], np.int64),
        p=np.array([(law.a, law.b, law.c) for law in laws], np.float64).reshape(len(laws), 3),
        first=first,
        length=length,
        given=np.array(given or [0], np.int64),
        table=np.concatenate([*tables, np.zeros(1)]),
        key=np.array(keys, np.uint64),
    )


def chance_law(chance: Chance) -> Law:
    if chance.given is None:
        return Law(FIXED, chance.share)
    flags = [0] * (max(chance.given, default=-1) + 1)
    for serial in chance.given:
        flags[serial] = 1
    return Law(GIVEN, given_us=tuple(flags))


class Luck(NamedTuple):
    """All luck of one replication of a plan. The reference model of the tests shares it: luck is no rule of the
    traffic.

    The kernel is handed `laws` alone, which are those of work, reject, running and repair one after the other: each
    array that is handed on costs time to compile. The general loop draws its own luck from seed and replication."""

    laws: Laws
    work: Laws
    reject: Laws
    running: Laws
    repair: Laws
    seed: int = 0
    replication: int = 0

    def work_us(self, station: int, serial: int) -> int:
        """Work time of a part at a station, repairs not counted. [us]"""
        return int(draw(self.work, station, serial))

    def flagged(self, station: int, serial: int) -> bool:
        """Whether a part is flagged when its work at a station ends."""
        return bool(is_flagged(self.reject, station, serial))

    def running_us(self, failure: int, number: int) -> int | None:
        """What `every` counts before the failure with this number: time [us] or works; None if there is none."""
        time = int(draw_once(self.running, failure, number))
        return None if time == NO_FAILURE else time

    def repair_us(self, failure: int, number: int) -> int:
        """Repair time of the failure with this number. [us]"""
        return int(draw(self.repair, failure, number))


def failure_names(plan: TrafficPlan) -> list[str]:
    seen: dict[int, int] = {}
    names = []
    for failure in plan.failures:
        kind = seen.get(failure.station, 0)
        seen[failure.station] = kind + 1
        names.append(f"{plan.station_names[failure.station]}#{kind}")
    return names


def luck_of(plan: TrafficPlan, seed: int, replication: int) -> Luck:
    """The luck of one replication of a plan."""
    steps = tuple(plan.step_names[step] for step in plan.station_step)
    names = tuple(failure_names(plan))
    return _luck(plan.work, plan.reject, plan.failures, steps, names, seed, replication)


@functools.lru_cache(maxsize=256)  # plans that differ in their carriers or their track alone have the same luck
def _luck(
    work: tuple[Law, ...],
    reject: tuple[Chance, ...],
    failures: tuple[FailureKind, ...],
    steps: tuple[str, ...],
    names: tuple[str, ...],
    seed: int,
    replication: int,
) -> Luck:
    def keys(names: tuple[str, ...], purpose: int) -> list[int]:
        return [stream_key(seed, replication, name, purpose) for name in names]

    kinds = (
        (list(work), keys(steps, PURPOSE_WORK)),
        ([chance_law(chance) for chance in reject], keys(steps, PURPOSE_REJECT)),
        ([failure.every for failure in failures], keys(names, PURPOSE_RUNNING)),
        ([failure.repair for failure in failures], keys(names, PURPOSE_REPAIR)),
    )
    together = law_arrays([law for laws, _ in kinds for law in laws], [key for _, some in kinds for key in some])
    ends = np.cumsum([0, *(len(laws) for laws, _ in kinds)]).tolist()
    work_laws, reject_laws, running, repair = (_some_laws(together, first, last) for first, last in pairwise(ends))
    return Luck(together, work_laws, reject_laws, running, repair, seed, replication)


def _some_laws(laws: Laws, first: int, last: int) -> Laws:
    """The laws from one to before another, over the same times and tables."""
    some = slice(first, last)
    return laws._replace(
        kind=laws.kind[some], p=laws.p[some], first=laws.first[some], length=laws.length[some], key=laws.key[some]
    )
