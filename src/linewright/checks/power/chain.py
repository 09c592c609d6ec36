"""The feeder as a chain: from the supply through its cable to the first section, through links from there on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_ROUNDS = 5000


@dataclass(frozen=True, eq=False)
class ChainVoltages:
    """Voltages and currents along a feeder; the result of :func:`chain_voltages`.

    Parameters
    ----------
    delivered : the chain can carry that power; where it cannot, voltages are 0 and currents infinite
    node_V : float64[n]      At each section, from the head on. [V]
    link_A : float64[n]      In the run before each section; the first is the cable's. [A]
    drop_V, loss_W : float64[n]   Of each run, go and return. [V], [W]
    """

    delivered: bool
    node_V: Floats
    link_A: Floats
    drop_V: Floats
    loss_W: Floats

    @property
    def far_end_V(self) -> float:
        """At the last section, where no load gives back the lowest of all. [V]"""
        return float(self.node_V[-1])

    @property
    def head_A(self) -> float:
        """What the supply delivers. [A]"""
        return float(self.link_A[0])


def chain_voltages(head_V: float, run_ohm: Floats, power_W: Floats) -> ChainVoltages:
    """Voltages along a feeder whose sections draw power.

    Parameters
    ----------
    head_V : at the supply. [V], > 0
    run_ohm : float64[n]   Of the run before each section, go and return: cable, then links. [ohm], >= 0
    power_W : float64[n]   Drawn at each section, whatever its voltage. [W], >= 0

    Returns
    -------
    ChainVoltages

    Raises
    ------
    ValueError   A figure is out of its bounds, or the two arrays are not of one length of at least 1.

    Notes      I = P/U at each section; the run before section i carries the currents of all sections from i on; the
               voltage falls by run_ohm times that. Solved by repeating from U = head_V on: the voltages fall towards
               the solution; where there is none they fall below nought.
    Source     Kirchhoff; compared with a nodal analysis by linear solve in the tests.
    Examples
    --------
    >>> chain = chain_voltages(40.0, np.array([0.5, 0.5]), np.array([0.0, 76.0]))
    >>> chain.node_V.round(9).tolist(), round(chain.head_A, 9)
    ([39.0, 38.0], 2.0)
    """
    ohm, power = np.asarray(run_ohm, np.float64), np.asarray(power_W, np.float64)
    if not 0.0 < head_V < math.inf:
        raise ValueError(f"head_V is {head_V}; it must be finite and positive")
    if ohm.ndim != 1 or ohm.shape != power.shape or not len(ohm):
        raise ValueError(f"run_ohm and power_W must be of one length, not {ohm.shape} and {power.shape}")
    for name, values in (("run_ohm", ohm), ("power_W", power)):
        if not (np.isfinite(values) & (values >= 0.0)).all():
            raise ValueError(f"{name} holds a value that is negative or not finite")
    node_V = np.full(len(ohm), head_V)
    for _ in range(_ROUNDS):
        link_A = np.cumsum((power / node_V)[::-1])[::-1]
        found_V = head_V - np.cumsum(ohm * link_A)
        if not found_V[-1] > 0.0:
            break
        moved = float(np.abs(found_V - node_V).max())
        node_V = found_V
        if moved <= 1e-13 * head_V:
            link_A = np.cumsum((power / node_V)[::-1])[::-1]
            return ChainVoltages(True, node_V, link_A, ohm * link_A, ohm * link_A**2)
    nothing, endless = np.zeros(len(ohm)), np.full(len(ohm), math.inf)
    return ChainVoltages(False, nothing, endless, endless, endless)


def feeder_current_A(head_V: float, power_W: Floats, far_ohm: float) -> Floats:
    """The current that a supply delivers if all the power is drawn at the far end: no current can be greater.

    Parameters
    ----------
    head_V : at the supply. [V], > 0
    power_W : any shape. [W], >= 0
    far_ohm : of all runs to the far end, go and return. [ohm], >= 0

    Returns
    -------
    float64, the same shape   [A]; infinite where that power does not reach the far end at all, P > U²/(4 R)

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes      I (U − R I) = P: I = 2 P/(U + √(U² − 4 P R)).
    Source     Ohm; derived.
    Examples
    --------
    >>> feeder_current_A(40.0, np.array([76.0, 0.0, 401.0]), 1.0).tolist()
    [2.0, 0.0, inf]
    """
    power = np.asarray(power_W, np.float64)
    if not 0.0 < head_V < math.inf:
        raise ValueError(f"head_V is {head_V}; it must be finite and positive")
    if not 0.0 <= far_ohm < math.inf:
        raise ValueError(f"far_ohm is {far_ohm}; it must be finite and not negative")
    if not (np.isfinite(power) & (power >= 0.0)).all():
        raise ValueError("power_W holds a value that is negative or not finite")
    square = head_V * head_V - 4.0 * far_ohm * power
    reaches = square >= 0.0
    current: Floats = np.where(reaches, 2.0 * power / (head_V + np.sqrt(np.where(reaches, square, 0.0))), math.inf)
    return current


def farthest_loads(lengths_m: Floats, pitch_m: float, carriers: int) -> NDArray[np.int64]:
    """How many carriers stand on each section when all stand as far from the supply as they can.

    Parameters
    ----------
    lengths_m : float64[n]   Of the sections from the head on. [m], > 0
    pitch_m : least distance of two carriers. [m], > 0
    carriers : how many stand on the feeder, at least 0

    Returns
    -------
    int64[n]   In all no more than the carriers, nor than one more than the pitches that the sections hold.

    Source     docs/limits/power.md, Voltage along the feeder; arithmetic.

    Examples
    --------
    >>> farthest_loads(np.array([1.0, 1.0, 1.0]), 0.4, 6).tolist()
    [0, 3, 3]
    """
    if not 0.0 < pitch_m < math.inf:
        raise ValueError(f"pitch_m is {pitch_m}; it must be finite and positive")
    lengths = np.asarray(lengths_m, np.float64)
    if not (np.isfinite(lengths) & (lengths > 0.0)).all():
        raise ValueError("lengths_m holds a value that is not positive and finite")
    if carriers < 0:
        raise ValueError(f"carriers is {carriers}; it must not be negative")
    # The first stands at the far end itself, the others a pitch apart: so many within a distance of the far end.
    reach_m = np.concatenate(([0.0], np.cumsum(lengths[::-1])))
    within = np.minimum(np.floor(reach_m / pitch_m + 1e-9).astype(np.int64) + 1, carriers)
    within[0] = 0
    return np.diff(within)[::-1].astype(np.int64)
