"""Key performance indicators of a station, named and computed after ISO 22400-2.

PBT planned busy time, APT actual production time, PRI planned run time per item, PQ produced quantity, GQ good
quantity. All take a number or an array and give an array; where a ratio has no meaning (nothing was planned, nothing
was made) it is not a number rather than a guess.

Source: ISO 22400-2:2014 as cited by OPC 40501-1 v1.01, Annex C.2.4; held to tests/reference/data/kpi.json.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def availability(production_s: ArrayLike, planned_busy_s: ArrayLike) -> Floats:
    """Availability = APT / PBT.

    Parameters
    ----------
    production_s : actual production time, APT, >= 0. [s]
    planned_busy_s : planned busy time, PBT, >= 0. [s]

    Returns
    -------
    array   A share; not a number where PBT is 0.

    Raises
    ------
    ValueError   A time is negative.

    Examples
    --------
    >>> float(availability(783.0, 910.0).round(3))
    0.86
    """
    return _ratio(production_s, planned_busy_s)


def effectiveness(planned_run_time_s: ArrayLike, produced: ArrayLike, production_s: ArrayLike) -> Floats:
    """Effectiveness = PRI · PQ / APT.

    Parameters
    ----------
    planned_run_time_s : planned run time per item, PRI, >= 0. [s]
    produced : produced quantity, PQ, good and bad, >= 0
    production_s : actual production time, APT, >= 0. [s]

    Returns
    -------
    array   A ratio (above 1 where an item took less than planned); not a number where APT is 0.

    Raises
    ------
    ValueError   A time or a quantity is negative.
    """
    return _ratio(_not_negative(planned_run_time_s) * _not_negative(produced), production_s)


def quality_ratio(good: ArrayLike, produced: ArrayLike) -> Floats:
    """Quality ratio = GQ / PQ.

    Parameters
    ----------
    good : good quantity, GQ, >= 0
    produced : produced quantity, PQ, >= GQ

    Returns
    -------
    array   A share; not a number where nothing was produced.

    Raises
    ------
    ValueError   A quantity is negative, or more parts are good than were produced.
    """
    if np.any(np.asarray(good) > np.asarray(produced)):
        raise ValueError("more parts are good than were produced")
    return _ratio(good, produced)


def oee_index(available: ArrayLike, effective: ArrayLike, quality: ArrayLike) -> Floats:
    """Overall equipment effectiveness index = availability · effectiveness · quality ratio = PRI · GQ / PBT.

    Parameters
    ----------
    available, effective, quality : the three ratios, >= 0 or not a number

    Returns
    -------
    array   Their product; not a number where one of them is.

    Raises
    ------
    ValueError   A ratio is negative.
    """
    return _not_negative(available) * _not_negative(effective) * _not_negative(quality)


def _not_negative(values: ArrayLike) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    if np.any(array < 0.0):
        raise ValueError(f"a time, a quantity or a ratio is negative: {array[array < 0.0][0]}")
    return array


def _ratio(above: ArrayLike, below: ArrayLike) -> Floats:
    top, bottom = np.broadcast_arrays(_not_negative(above), _not_negative(below))
    ratio = np.full(bottom.shape, np.nan)
    np.divide(top, bottom, out=ratio, where=bottom > 0.0)
    return ratio
