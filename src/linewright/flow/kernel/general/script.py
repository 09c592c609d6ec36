"""Luck that is written down: every work's time and outcome, so that a run goes one way and no other."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from linewright.flow.kernel.draws import law_arrays
from linewright.flow.kernel.general.luck import GeneralLuck, streams_of
from linewright.traffic.plan import FIXED, GIVEN, Law, TrafficPlan

VISITS: Final = 8
"""Reworks of one part that a script tells apart; later ones go as the last."""


@dataclass(frozen=True)
class Script:
    """What luck a run has. A part is (serial, reworks before).

    Parameters
    ----------
    usual_us : time of a work of which nothing is said. [us]
    work_us : time of the work on a part at a station. [us]
    flagged, sent_back, missed : (station, serial, reworks before) of parts to which this happens
    variants : variant of each load; the last one goes on
    """

    usual_us: int
    work_us: dict[tuple[int, int, int], int] = field(default_factory=dict)
    flagged: set[tuple[int, int, int]] = field(default_factory=set)
    sent_back: set[tuple[int, int, int]] = field(default_factory=set)
    missed: set[tuple[int, int, int]] = field(default_factory=set)
    variants: tuple[int, ...] = ()


def scripted_luck(plan: TrafficPlan, script: Script, serials: int) -> GeneralLuck:
    """The luck of a run by script.

    Parameters
    ----------
    plan : without failures and machines outside, whose luck a script does not tell
    script : what happens
    serials : so many parts have luck of their own; later ones have that of the first again

    Raises
    ------
    ValueError   The plan has failures or machines outside.
    """
    general = plan.general
    if plan.failures or general.outside:
        raise ValueError("a run by script has neither failures nor machines outside")
    stations, variants = len(plan.station_names), max(len(general.variants), 1)
    works = [_law(script.work_us, k, serials, script.usual_us) for k in range(stations)]
    rework_at = [one.station for one in general.rework]
    flags = [_law(dict.fromkeys(script.flagged, 1), k, serials, 0) for k in range(stations)]
    back = [_law(dict.fromkeys(script.sent_back, 1), k, serials, 0) for k in rework_at]
    missed = [_law(dict.fromkeys(script.missed, 1), k, serials, 0) for k in range(stations)]
    laws = [law for law in works for _ in range(variants)] + flags + back + missed + [Law(FIXED)]
    return GeneralLuck(
        laws=law_arrays(laws, [0] * len(laws)),
        streams=streams_of(plan),
        outside_first=np.zeros(0, np.int64),
        sequence=np.array(script.variants, np.int64),
        running=np.ones((1, variants)),
        sets=np.zeros(0, np.int64),
    )


def _law(told: dict[tuple[int, int, int], int], station: int, serials: int, usual: int) -> Law:
    """A table by reworks and serial; where nothing is told one entry for all."""
    of_station = {(serial, visit): value for (k, serial, visit), value in told.items() if k == station}
    if not of_station:
        return Law(GIVEN, given_us=(usual,))
    table = np.full((VISITS, serials), usual, np.int64)
    for (serial, visit), value in of_station.items():
        table[min(visit, VISITS - 1), serial] = value
    return Law(GIVEN, a=float(serials), given_us=tuple(table.ravel().tolist()))
