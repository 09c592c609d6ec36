"""Small plans by hand, written luck and what is read of a run, for the tests of the reference model in general."""

from __future__ import annotations

from typing import Any, Final

from agree.reference_causes import causes_of
from agree.reference_general import GeneralRun, run_general
from agree.reference_plans import MS, Transfer, WrittenLuck, plan_on
from linewright.traffic.general import (
    General,
)
from linewright.traffic.plan import FIXED, Law, TrafficPlan

LOAD, TEST, SCRAP = 0, 1, 2
ROUND: Final = 5360
BOTH_330: Final = ((0, 330), (330, 0))
ANY: Final = Law(FIXED, 0.0)


def loop(carriers: int = 1, **general: Any) -> TrafficPlan:
    """The loop of this file, with what it has beyond a plain one."""
    transfers = [Transfer((0,), (1,), BOTH_330), Transfer((1,), (0,), BOTH_330)]
    return plan_on(
        ["wait load dock", "wait test wait scrap dock"],
        transfers,
        ["load", "test", "scrap"],
        [1, 0, 8][:carriers],
        exits=["scrap"],
        general=General(**general),
    )


def luck(**written: Any) -> WrittenLuck:
    """Works of 500 at load, 2000 at test, 100 at scrap, and what else is written down."""
    return WrittenLuck([500 * MS, 2000 * MS, 100 * MS], **written)


def run_ms(plan: TrafficPlan, given: WrittenLuck, horizon_ms: int) -> GeneralRun:
    """The run; all states of each station fill the time, and no event of its causes is without its reason."""
    result = run_general(plan, given, horizon_ms * MS)
    for station, times in result.states.items():
        assert sum(times.values()) == horizon_ms * MS, station
    assert result.unexplained == []
    causes_of(result.history, 0, horizon_ms * MS)
    return result


def works(result: GeneralRun, station: str) -> list[tuple[int, int, int]]:
    """(serial, start, end) of the works at a station. [ms]"""
    return [(serial, start // MS, end // MS) for name, _, serial, start, end, _ in result.works if name == station]


def moves(result: GeneralRun) -> list[list[int]]:
    """[carrier, departure, from, to, arrival]. [ms]"""
    return [[c, departed // MS, start, goal, arrived // MS] for c, departed, start, goal, arrived in result.moves]


def good(result: GeneralRun) -> list[tuple[int, int]]:
    return [(serial, time // MS) for serial, time in result.good]


def state(result: GeneralRun, station: str, name: str) -> int:
    return result.states[station][name] // MS


def causes(result: GeneralRun, horizon_ms: int) -> dict[tuple[str, str], int]:
    """The causes of the whole run, which fill their window. [ms]"""
    found, window_us, _ = causes_of(result.history, 0, horizon_ms * MS)
    assert sum(found.values()) == window_us
    return {key: time_us // MS for key, time_us in found.items()}
