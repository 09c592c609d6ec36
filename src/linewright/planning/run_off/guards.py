"""Rows of the guards: how long it takes from the trip of each until the carriers stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from linewright.checks.safety.stops import operator_stations
from linewright.findings import Finding
from linewright.line.station import Station
from linewright.planning.run_off.basis import Basis, Found
from linewright.planning.run_off.records import NotPlanned, RunOffTest
from linewright.planning.run_off.warm import RESTART_H
from linewright.quantities import KEEP, counted, number
from linewright.tables import Table

TRIPS: Final = 10
"""Of one guard, of which the greatest time counts: ISO 13855, from memory."""


def guard_rows(basis: Basis) -> Found:
    """From the trip of each guard until the carriers stand, against the time that the guard was reckoned with."""
    stations, limits = operator_stations(basis.line), basis.evaluation.limits
    if limits is None:
        why = "the safety of the line was not evaluated"
        return Found(not_planned=(NotPlanned("stopping times of the guards", why),))
    guarded = [station for station in stations if station.guard is not None]
    bare = [station.name for station in stations if station.guard is None]
    tests, missing = [], []
    if bare:
        what = f"stopping time at {_stations(bare)}"
        missing.append(NotPlanned(what, "no guard is stated: write the key guard at each operator station"))
    untimed = []
    for station in guarded:
        total_s = _total_s(limits.safety.stops, station)
        if total_s is None:
            untimed.append(station.name)
        elif math.isfinite(total_s):
            tests.append(_guard_row(limits.safety.findings, station, total_s))
        else:
            why = "by the plan nothing stops a carrier there: see the rows stop-time, which fail"
            missing.append(NotPlanned(f"stopping time at station {station.name}", why))
    if untimed:
        why = (
            "how a carrier stops is not known: write stopping and coasting in the conveyor sheet, and keep parts and "
            "fixture within its payload"
        )
        missing.append(NotPlanned(f"stopping time at {_stations(untimed)}", why))
    return Found(tuple(tests), tuple(missing))


def _stations(names: list[str]) -> str:
    return f"station{'' if len(names) == 1 else 's'} {', '.join(names)}"


def _total_s(stops: Table, station: Station) -> float | None:
    """The time that the guard was reckoned with: device, logic, longest stop; None where no stop is known. [s]"""
    guard = station.guard
    times_s = [float(row["time_s"]) for row in stops.rows() if str(row["station"]) == station.name]
    return guard.device_s + guard.logic_s + max(times_s) if guard is not None and times_s else None


def _guard_row(findings: Sequence[Finding], station: Station, total_s: float) -> RunOffTest:
    # As the row of the guard prints it: to the millisecond.
    most_s = round(total_s, 3)
    locked = station.guard is not None and station.guard.kind == "locked"
    judged = "time until it unlocks" if locked else "distance"
    source = (
        f"the time that the {judged} of this guard was reckoned with; the greatest of {number(TRIPS)} counts "
        "(ISO 13855, from memory), luck is not reckoned"
    )
    shown = (
        "reckoned is the longest stop, of a carrier at full speed by a fault too; a trip in ordinary traffic does not "
        "bring that about: a pass shows no more than that these stops were not longer"
    )
    why = [source, shown]
    found = _judged(findings, station, "unlock-time" if locked else "safety-distance")
    if found is not None and found.verdict == "fails":
        why.append(f"the {judged} itself fails in the plan with this time: a pass here does not mend it")
    return RunOffTest(
        "stopping-time", f"station {station.name}", "stopping", "time from the guard's trip until the carriers stand",
        "At full traffic trip the guard as a person would, without choosing the instant, and time from the trip until "
        f"all carriers that it stops stand; {number(TRIPS)} times. The greatest of these times counts. How long the "
        "tool moves on is written beside it: the pass line leaves the tool out.",
        counted(TRIPS, "trip"), f"the greatest at most {most_s:.3f}{KEEP}s", tuple(why),
        hours=TRIPS * RESTART_H, count=TRIPS, limit=most_s, pass_value=most_s, unit="s",
    )  # fmt: skip


def _judged(findings: Sequence[Finding], station: Station, code: str) -> Finding | None:
    names = (f"station {station.name},", f"station {station.name}:")
    return next((one for one in findings if one.code == code and one.where.startswith(names)), None)
