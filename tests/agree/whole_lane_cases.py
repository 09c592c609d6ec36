"""Small tracks with an admission over whole lanes and transfers, and the moves that they make, derived by hand.

Times in ms, moves as in `reference_plans`: 200 a stop and 20, settling 30, start handshake 10, done handshake 20,
reaction 5, the rear has left a platform after 110, δ is 0.
"""

from __future__ import annotations

import dataclasses
from typing import Final

from agree.general_cases import BOTH_330
from agree.reference_plans import MS, Transfer, plan_on
from linewright.traffic.general import General, Stretch
from linewright.traffic.plan import FIXED, Law, TrafficPlan


def spur(most: int) -> TrafficPlan:
    """A spur of three stops and the transfer that leads to it; load 500, press 2000.

    rank  0, 1 waiting  2 load  3 dock  4 aboard  5 waiting  6 press  7 dock  8 aboard
    """
    transfers = [Transfer((0,), (1,), BOTH_330), Transfer((1,), (0,), BOTH_330)]
    admission = (Stretch("spur", (4, 5, 6, 7), most),)
    lanes = ["wait wait load dock", "wait press dock"]
    plan = plan_on(lanes, transfers, ["load", "press"], [2, 1, 0], general=General(admission=admission))
    return _lasting(plan, 500, 2000)


SPUR_UNTIL_2740: Final = [
    [0, 560, 2, 4, 980],
    [1, 565, 1, 2, 785],
    [2, 565, 0, 1, 785],
    [0, 1310, 4, 6, 1730],  # 980 and the ride; its rear is clear at 1420, the platform back at 1750
    [1, 1345, 2, 3, 1565],
    [2, 1350, 1, 2, 1570],
    [1, 1750, 3, 4, 1970],  # the second on the spur
    [2, 2130, 2, 3, 2350],
    [1, 2300, 4, 5, 2520],  # rear clear at 2410, back at 2740
]
SPUR_OF_TWO: Final = [
    *SPUR_UNTIL_2740,
    [0, 3790, 6, 8, 4210],  # press is done at 3770
    [1, 3795, 5, 6, 4015],
    [2, 4210, 3, 4, 4430],  # waited at the dock until the first arrived at 8
]
SPUR_OF_THREE: Final = [*SPUR_UNTIL_2740, [2, 2740, 3, 4, 2960]]


def merge(returns_at_once: bool) -> TrafficPlan:
    """A gate that takes from two lanes, the first with priority; gate and second lane admit one. load 500, press 1000,
    pack 100.

    rank  0 load  1 dock  2 aboard the gate  3 press  4 dock  5 waiting  6 pack  7 dock  8 aboard
    """
    gate = Transfer((0, 1), (2,), ((0, 300, 300), (300, 0, 400), (300, 400, 0)), at_once=returns_at_once)
    out = Transfer((2,), (0, 1), ((0, 300, 300), (300, 0, 300), (300, 300, 0)))
    admission = (Stretch("spur", (2, 3, 4), 1),)
    lanes = ["load dock", "press dock", "wait pack dock"]
    plan = plan_on(lanes, [gate, out], ["load press", "pack"], [3, 0], general=General(admission=admission))
    return _lasting(plan, 500, 1000, 100)


MERGE_UNTIL_2400: Final = [
    [1, 560, 0, 1, 780],  # may not board, so it does not call the gate that stands at its dock
    [0, 1060, 3, 4, 1280],  # calls it
    [0, 1360, 4, 2, 1580],
    [0, 1980, 2, 6, 2400],  # rear clear at 2090
]
MERGE_AT_ONCE: Final = [*MERGE_UNTIL_2400, [1, 2400, 1, 2, 2620]]  # the gate has been home since 2390
MERGE_WHEN_CALLED: Final = [
    *MERGE_UNTIL_2400,
    [0, 2560, 6, 8, 2980],  # pack is done at 2540
    [1, 2700, 1, 2, 2920],  # called at 2400
]


def _lasting(plan: TrafficPlan, *works_ms: int) -> TrafficPlan:
    return dataclasses.replace(plan, work=tuple(Law(FIXED, float(time * MS)) for time in works_ms))
