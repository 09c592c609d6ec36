"""Luck drawn beforehand into plain lists, so that no SimPy model of the bench pays for drawing it."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.flow.kernel.draws import luck_of
from linewright.traffic.plan import TrafficPlan


@dataclass(frozen=True)
class GivenLuck:
    """The kernel's luck of replication 0, looked up.

    Parameters
    ----------
    work : work[station][serial], the work time. [us]
    flags : flags[station][serial], whether that work flags the part
    running, repair : running[failure][n] and repair[failure][n]. [us]
    """

    work: list[list[int]]
    flags: list[list[bool]]
    running: list[list[int]]
    repair: list[list[int]]

    def work_us(self, station: int, serial: int) -> int:
        """Work time of a part at a station. [us]"""
        return self.work[station][serial]

    def flagged(self, station: int, serial: int) -> bool:
        """Whether that work flags the part."""
        return self.flags[station][serial]

    def failure(self, index: int, n: int) -> tuple[int, int] | None:
        """Running and repair time of one failure. [us]"""
        return self.running[index][n], self.repair[index][n]


def draw_all(plan: TrafficPlan, seed: int, parts: int, failures: int = 1000) -> GivenLuck:
    """The luck of so many parts, and of so many failures of each kind."""
    luck = luck_of(plan, seed, 0)
    stations, kinds = range(len(plan.station_names)), range(len(plan.failures))
    return GivenLuck(
        work=[[luck.work_us(k, serial) for serial in range(parts)] for k in stations],
        flags=[[luck.flagged(k, serial) for serial in range(parts)] for k in stations],
        running=[[luck.running_us(f, n) or 0 for n in range(failures)] for f in kinds],
        repair=[[luck.repair_us(f, n) for n in range(failures)] for f in kinds],
    )
