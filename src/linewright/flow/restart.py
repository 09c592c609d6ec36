"""After a stop: who stands where, which parts are rejected, how the carriers go on, and when the first good part comes.

One scenario of one instant; docs/semantics.md, "After a stop".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.errors import SimulationError
from linewright.flow.stopping import BY_HAND, REJECTED, Aftermath, Stopped, aftermath, plan_from, stopping_plan
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.traffic.plan import TrafficPlan

__all__ = ["AFTER_S", "SPEED_M_S", "GoneOn", "Restart", "Stopped", "go_on", "refuse_to_stop", "restart"]

AFTER_S: Final = 3600.0
"""How long the line is looked at after it goes on. [s]"""
SPEED_M_S: Final = 0.1
"""At which carriers under way go on during the recovery, where nothing is stated: common practice in setting-up mode.
[m/s]"""


@dataclass(frozen=True)
class Restart:
    """A stop and what follows it.

    Parameters
    ----------
    at_s : when the stop comes, from the begin of the run. [s]
    speed_m_s : at which carriers go on during the recovery. [m/s]
    carriers : by the stop they stand on or go to, downstream first
    recovery_s : from the begin of the recovery until the line goes on. [s]
    rejected : parts that are rejected because they are unverified
    first_good_s : from the begin of the recovery to the first good part; None if none comes within `looked_s`. [s]
    good, usual_good : good parts in `looked_s` after the line goes on, and in as long a time before the stop (scaled
        up where the stop comes earlier)
    looked_s : [s]
    seed : of the run
    """

    at_s: float
    speed_m_s: float
    carriers: tuple[Stopped, ...]
    recovery_s: float
    rejected: int
    first_good_s: float | None
    good: int
    usual_good: float
    looked_s: float
    seed: int


@dataclass(frozen=True)
class GoneOn:
    """A line that has gone on after a stop: its good parts, and when the first came, None if none did. [s]"""

    good: int
    first_s: float | None


def restart(line: Line, at_s: float, speed_m_s: float = SPEED_M_S, seed: int = 1) -> Restart:
    """Stop a line at an instant and let it go on.

    Parameters
    ----------
    line : a valid line
    at_s : when the power goes, from time zero, > 0. [s]
    speed_m_s : at which carriers under way go to the stops kept for them, > 0. [m/s]
    seed : of the run up to the stop, >= 0

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track; the line has carriers taken out or put in; or the speed is
                      above the drive's.
    ValueError        A time or speed is not above 0.

    Notes
    -----
    What a stop leaves behind is found by :func:`linewright.flow.stopping.aftermath`. The line then goes on as from time
    zero: tools ready, platforms locked, no running time used up, buffers outside the line as at first.

    Source     docs/semantics.md, "After a stop".
    """
    if not (math.isfinite(at_s) and at_s > 0.0 and math.isfinite(speed_m_s) and speed_m_s > 0.0):
        raise ValueError(f"a stop at {at_s} s and a speed of {speed_m_s} m/s; both must be above 0")
    refuse_to_stop(line, speed_m_s)
    layout = lay_out(line)
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_beyond

    plan = stopping_plan(line, layout)
    at_us, looked_us = round(at_s * 1e6), round(AFTER_S * 1e6)
    looked_before_us = min(at_us, looked_us)
    before = run_beyond(plan, luck_of(plan, seed, 0), at_us, at_us, trace_from_us=at_us - looked_before_us)
    assert before.beyond is not None  # of the general loop
    left = aftermath(line, layout, plan, before.beyond.snapshot, at_us, speed_m_s)
    going = go_on(plan, left, at_us, seed, AFTER_S)
    usual = int((before.good[:, 1] >= at_us - looked_before_us).sum()) if len(before.good) else 0
    return Restart(
        at_s=at_s,
        speed_m_s=speed_m_s,
        carriers=left.carriers,
        recovery_s=left.recovery_s,
        rejected=sum(one.parts for one in left.carriers if one.fate in (REJECTED, BY_HAND)),
        first_good_s=None if going.first_s is None else left.recovery_s + going.first_s,
        good=going.good,
        usual_good=usual * looked_us / looked_before_us,
        looked_s=AFTER_S,
        seed=seed,
    )


def refuse_to_stop(line: Line, speed_m_s: float) -> None:
    """Refuse a line or a restart speed with which no stop can be followed.

    Parameters
    ----------
    line : a valid line
    speed_m_s : see `restart`

    Raises
    ------
    SimulationError   The line has carriers taken out or put in, or the speed is above the drive's.
    """
    if line.carrier_changes:
        raise SimulationError("a line whose carriers are taken out or put in cannot be stopped and started here")
    if speed_m_s > line.conveyor.drive.speed_m_s:
        most = line.conveyor.drive.speed_m_s
        raise SimulationError(f"a restart speed of {speed_m_s:g} m/s; the conveyor's drives reach {most:g} m/s")


def go_on(plan: TrafficPlan, left: Aftermath, at_us: int, seed: int, looked_s: float) -> GoneOn:
    """Let a line go on from what a stop has left behind.

    Parameters
    ----------
    plan, left : from `stopping_plan` and `aftermath`
    at_us : when the stop came, from time zero. [us]
    seed : of the run that was stopped
    looked_s : how long the line is looked at. [s]
    """
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_beyond
    from linewright.flow.kernel.state import NEVER_FINISHED

    on_us, looked_us = at_us + round(left.recovery_s * 1e6), round(looked_s * 1e6)
    going = plan_from(plan, left, on_us, on_us)
    # The same luck: a load keeps its variant. One bin over the whole look has all good parts, and the first of them.
    after = run_beyond(going, luck_of(going, seed, 0), looked_us, looked_us)
    first_us = int(after.totals.first_us[0])
    return GoneOn(int(after.totals.good[0]), None if first_us == NEVER_FINISHED else first_us / 1e6)
