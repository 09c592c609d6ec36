"""Copper conductors: their resistance by size, temperature and class, voltage drop, and protection against overload."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from linewright.figures import not_negative, positive
from linewright.motion.electric import hot_resistance_ohm

ConductorClass = Literal["stranded", "flexible"]
Device = Literal["breaker", "fuse"]

IEC_60228: Final[tuple[tuple[float, float, float], ...]] = (
    (0.5, 36.0, 39.0),
    (0.75, 24.5, 26.0),
    (1.0, 18.1, 19.5),
    (1.5, 12.1, 13.3),
    (2.5, 7.41, 7.98),
    (4.0, 4.61, 4.95),
    (6.0, 3.08, 3.30),
    (10.0, 1.83, 1.91),
    (16.0, 1.15, 1.21),
    (25.0, 0.727, 0.780),
    (35.0, 0.524, 0.554),
    (50.0, 0.387, 0.386),
)
"""Greatest resistance at 20 °C of plain copper by IEC 60228: area [mm²], class 2 and class 5 [ohm/km].

The table is read from three secondary prints that agree. At 50 mm² class 5 lies below class 2: so the standard has it.
"""

SIZES_MM2: Final = tuple(row[0] for row in IEC_60228)

COPPER_OHM_M: Final = 1.7241e-8
"""Resistivity of annealed copper at 20 °C that goes with the sizes by gauge number. [ohm m]"""

TRIPPING: Final = 1.45
"""Conventional tripping current over rated current of a circuit-breaker by IEC 60898-1; also I2 over Iz at most."""

FUSE_TRIPPING: Final[tuple[tuple[float, float], ...]] = ((16.0, 1.6), (4.0, 1.9), (0.0, 2.1))
"""Conventional fusing current over rated current of a fuse of class gG: from 16 A on, above 4 A, up to 4 A. [A], [1]

IEC 60269-1, from memory.
"""

NOT_TRIPPING: Final = 1.13
"""Conventional non-tripping current over rated current of a circuit-breaker by IEC 60898-1."""

AT_ONCE: Final[tuple[tuple[str, float, float], ...]] = (("B", 3.0, 5.0), ("C", 5.0, 10.0), ("D", 10.0, 20.0))
"""Curve of a circuit-breaker, and between which multiples of its rated current it trips at once, by IEC 60898-1."""


@dataclass(frozen=True)
class GaugeSize:
    """A wire size by its American gauge number; the result of :func:`gauge_size`. [m], [mm²], [ohm/m]"""

    diameter_m: float
    area_mm2: float
    ohm_per_m: float


@dataclass(frozen=True)
class Protection:
    """The two conditions of protection against overload; the result of :func:`protection`.

    Parameters
    ----------
    tripping_A, tripping_limit_A : I2 and 1.45 Iz. [A]
    current_holds, rating_holds, tripping_holds : Ib <= In, In <= Iz, I2 <= 1.45 Iz
    """

    tripping_A: float
    tripping_limit_A: float
    current_holds: bool
    rating_holds: bool
    tripping_holds: bool

    @property
    def holds(self) -> bool:
        """Whether all three hold."""
        return self.current_holds and self.rating_holds and self.tripping_holds


def conductor_ohm_per_m(area_mm2: float, conductor: ConductorClass = "flexible", conductor_degC: float = 20.0) -> float:
    """Greatest resistance of one metre of one conductor of plain copper.

    Parameters
    ----------
    area_mm2 : a size of IEC 60228 between 0.5 and 50. [mm²]
    conductor : ``stranded`` (class 2) or ``flexible`` (class 5)
    conductor_degC : temperature at work. [°C]

    Returns
    -------
    float   [ohm/m]

    Raises
    ------
    ValueError   The area is no size of the table, the class is another, or the temperature is out of bounds.

    Notes      r = r20 (1 + 0.00393 (θ − 20 °C)).
    Source     r20: IEC 60228, read in secondary prints; the coefficient from memory.
    Examples
    --------
    >>> round(conductor_ohm_per_m(2.5, "flexible", 60.0) * 1000, 6)
    9.234456
    """
    if conductor not in ("stranded", "flexible"):
        raise ValueError(f"conductor is {conductor!r}; it must be stranded or flexible")
    for size_mm2, stranded, flexible in IEC_60228:
        if abs(area_mm2 - size_mm2) <= 1e-9 * size_mm2:
            per_km = stranded if conductor == "stranded" else flexible
            return hot_resistance_ohm(per_km, conductor_degC) / 1000.0
    raise ValueError(f"area_mm2 is {area_mm2}; it must be one of {', '.join(f'{size:g}' for size in SIZES_MM2)}")


def measured_at_20_ohm(resistance_ohm: float, conductor_degC: float) -> float:
    """Resistance at 20 °C of a copper conductor that was measured at another temperature.

    Parameters
    ----------
    resistance_ohm : as measured. [ohm], > 0
    conductor_degC : while it was measured. [°C], 5 to 90

    Returns
    -------
    float   [ohm]

    Raises
    ------
    ValueError   The resistance is not positive, or the temperature lies outside the table.

    Notes      R20 = R k_t, k_t = 1/(1 + 0.004 (θ − 20 °C)): the standard's own table of factors to 0.001, and the
               standard's own coefficient, a little above the one for a conductor at work.
    Source     IEC 60228, table of k_t, read in a secondary print and recomputed.
    Examples
    --------
    >>> round(measured_at_20_ohm(1.0, 50.0), 3)
    0.893
    """
    positive("resistance_ohm", resistance_ohm)
    if not 5.0 <= conductor_degC <= 90.0:
        raise ValueError(f"conductor_degC is {conductor_degC}; the table of factors runs from 5 to 90 °C")
    return resistance_ohm / (1.0 + 0.004 * (conductor_degC - 20.0))


def gauge_size(gauge: int) -> GaugeSize:
    """Size of a solid round wire by its American gauge number.

    Parameters
    ----------
    gauge : 0 to 40

    Returns
    -------
    GaugeSize   .diameter_m, .area_mm2, .ohm_per_m at 20 °C

    Raises
    ------
    ValueError   The gauge is out of bounds.

    Notes      d = 0.127 mm · 92^((36 − n)/39); resistance of annealed copper at 20 °C, 1.7241e-8 ohm m.
    Source     ASTM B258, read in a secondary print; compared with published columns.
    Examples
    --------
    >>> round(gauge_size(10).diameter_m * 1000, 5), round(gauge_size(10).ohm_per_m * 1000, 3)
    (2.58819, 3.277)
    """
    if not 0 <= gauge <= 40:
        raise ValueError(f"gauge is {gauge}; it must be 0 to 40")
    diameter_m = 0.127e-3 * 92.0 ** ((36 - gauge) / 39)
    area_m2 = math.pi / 4.0 * diameter_m**2
    return GaugeSize(diameter_m, area_m2 * 1e6, COPPER_OHM_M / area_m2)


def voltage_drop_V(current_A: float, length_m: float, ohm_per_m: float) -> float:
    """Voltage lost in a run of two conductors, go and return, with the load at its end.

    Parameters
    ----------
    current_A : [A], >= 0
    length_m : one way. [m], >= 0
    ohm_per_m : of one conductor; :func:`conductor_ohm_per_m`. [ohm/m], > 0

    Returns
    -------
    float   2 L r I. [V]

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Source     Ohm; checked in tests/reference/data/electrical.json.
    Examples
    --------
    >>> round(voltage_drop_V(10.0, 20.0, conductor_ohm_per_m(2.5)), 6)
    3.192
    """
    not_negative("current_A", current_A)
    not_negative("length_m", length_m)
    positive("ohm_per_m", ohm_per_m)
    return 2.0 * length_m * ohm_per_m * current_A


def tripping_current_A(fuse_A: float, device: Device) -> float:
    """I2, the current at which a fuse of class gG or a circuit-breaker ends an overload for sure, within an hour or so.

    Parameters
    ----------
    fuse_A : In, rated current. [A], > 0
    device : ``fuse`` (class gG) or ``breaker``

    Returns
    -------
    float   [A]

    Raises
    ------
    ValueError   The rated current is not positive, or the device is another.

    Notes      Breaker 1.45 In. Fuse 1.6 In from 16 A on, 1.9 In above 4 A, 2.1 In up to 4 A.
    Source     breaker: IEC 60898-1, read in a secondary print; fuse: IEC 60269-1, from memory.
    Examples
    --------
    >>> tripping_current_A(16.0, "breaker"), tripping_current_A(16.0, "fuse"), tripping_current_A(10.0, "fuse")
    (23.2, 25.6, 19.0)
    """
    positive("fuse_A", fuse_A)
    if device == "breaker":
        return TRIPPING * fuse_A
    if device != "fuse":
        raise ValueError(f"device is {device!r}; it must be fuse or breaker")
    factor = next(factor for from_A, factor in FUSE_TRIPPING if fuse_A >= from_A and (fuse_A > 4.0 or from_A == 0.0))
    return factor * fuse_A


def largest_fuse_A(rating_A: float, device: Device) -> float:
    """The largest rated current that protects a cable against overload, the next smaller one that is made doing too.

    Parameters
    ----------
    rating_A : Iz, what the cable carries as laid. [A], > 0
    device : ``fuse`` (class gG) or ``breaker``

    Returns
    -------
    float   [A]; In <= Iz and I2 <= 1.45 Iz at this value.

    Raises
    ------
    ValueError   The rating is not positive, or the device is another.

    Notes      A breaker: Iz. A fuse: 1.45 Iz/1.6 where that is 16 A at least; else 1.45 Iz/1.9 where a fuse of 4 A does
               as well, Iz >= 2.1 · 4 A/1.45; else 1.45 Iz/2.1.
    Source     as of :func:`protection`; derived.
    Examples
    --------
    >>> largest_fuse_A(32.0, "breaker"), round(largest_fuse_A(32.0, "fuse"), 3), round(largest_fuse_A(15.0, "fuse"), 3)
    (32.0, 29.0, 11.447)
    """
    positive("rating_A", rating_A)
    if device == "breaker":
        return rating_A
    if device != "fuse":
        raise ValueError(f"device is {device!r}; it must be fuse or breaker")
    limit_A = TRIPPING * rating_A * (1.0 + 1e-12)  # the rating that a fuse of 16 A needs is not missed by float noise
    if limit_A >= tripping_current_A(16.0, device):
        return limit_A / 1.6
    return limit_A / (1.9 if limit_A >= tripping_current_A(4.0, device) else 2.1)


def protection(design_A: float, fuse_A: float, rating_A: float, device: Device) -> Protection:
    """Whether a fuse or circuit-breaker protects a cable against overload and lets its load run.

    Parameters
    ----------
    design_A : Ib, the current that the load draws in the long run. [A], >= 0
    fuse_A : In, rated current of fuse or circuit-breaker. [A], > 0
    rating_A : Iz, what the cable carries as laid. [A], > 0
    device : ``fuse`` (class gG) or ``breaker``

    Returns
    -------
    Protection

    Raises
    ------
    ValueError   A figure is out of its bounds, or the device is another.

    Notes      Ib <= In <= Iz and I2 <= 1.45 Iz. Of a circuit-breaker the second follows from the first; of a fuse it is
               the narrower of the two.
    Source     IEC 60364-4-43, from memory; I2: :func:`tripping_current_A`.
    Examples
    --------
    >>> protection(13.0, 16.0, 17.0, "breaker").holds, protection(13.0, 16.0, 17.0, "fuse").holds
    (True, False)
    """
    not_negative("design_A", design_A)
    positive("fuse_A", fuse_A)
    positive("rating_A", rating_A)
    tripping_A, limit_A = tripping_current_A(fuse_A, device), TRIPPING * rating_A
    return Protection(tripping_A, limit_A, design_A <= fuse_A, fuse_A <= rating_A, tripping_A <= limit_A)
