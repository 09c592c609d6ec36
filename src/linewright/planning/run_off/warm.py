"""Rows of the warm line and of its stops: coil and cabinet temperature, restart after an emergency stop."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from linewright.layout.stops import INCH_M
from linewright.planning.run_off.basis import Basis, Found
from linewright.planning.run_off.counts import success_run
from linewright.planning.run_off.records import NotPlanned, RunOff, RunOffTest
from linewright.planning.run_off.words import about, share_told
from linewright.quantities import KEEP, counted, number

if TYPE_CHECKING:
    from linewright.proof import Proof

THERMAL_TIMES: Final = 4.0
"""After so many time constants a body has 98 % of its rise; from the exponential law."""
RESTARTS: Final = 0.90
"""Share of restarts that go through at which a line is to be refused; common practice."""
RESTART_H: Final = 1 / 6
"""Reckoned for a stop, its restart and the way back to full traffic; common practice. [h]"""
CABINET_H: Final = 4.0
"""Until a closed cabinet is warm; common practice. [h]"""


def warm_up_hours(basis: Basis) -> float:
    """How long the line runs before anything is counted: coils warm, traffic settled. [h]"""
    motor = basis.line.conveyor.drive.motor
    thermal_s = 0.0 if motor is None else THERMAL_TIMES * motor.thermal_time_s
    return max(thermal_s, basis.run.warm_up_s) / 3600.0


def coil_row(basis: Basis) -> Found:
    """Temperature of the coils in thermal equilibrium."""
    motor, limits = basis.line.conveyor.drive.motor, basis.evaluation.limits
    if motor is None or motor.hottest_degC is None:
        key = "motor under drive" if motor is None else "hottest under motor"
        why = f"the conveyor sheet states none: write the key {key}"
        return Found(not_planned=(NotPlanned("temperature of the coils", why),))
    heat = None if limits is None else limits.motion.coil_heat
    where = "hottest coil group"
    internal: tuple[str, ...] = ()
    if heat is not None and len(heat["filtered_W"]):
        row = max(heat.rows(), key=lambda one: float(one["filtered_W"]) / float(one["limit_W"]))
        where = f"hottest coil group: {_place(basis, row['lane'], row['from_m'], row['to_m'])}"
        share = float(row["filtered_W"]) / float(row["limit_W"])
        internal = (f"planned: {share_told(share)} of the heat that the coils may give off",)
    hall = basis.line.temperature
    add = "" if hall is None else f" Add what the hall was cooler than {number(hall.most_degC)}{KEEP}°C."
    hours = THERMAL_TIMES * motor.thermal_time_s / 3600.0
    why = (
        f"{number(THERMAL_TIMES)} thermal times of {about(motor.thermal_time_s / 3600.0)} bring 98{KEEP}% of the rise; "
        "limit of the conveyor sheet, luck plays no part"
    )
    test = RunOffTest(
        "coil-temperature", where, "running", "temperature of the warm coils",
        "At the end of the counts stop the line and at once read the temperature of these coils, by the drive's own "
        f"reading or from their resistance.{add}",
        f"after {about(hours)} at full rate or more", f"at most {number(motor.hottest_degC)}{KEEP}°C", (why,), internal,
        hours=hours, limit=motor.hottest_degC, pass_value=motor.hottest_degC, unit="degC",
    )  # fmt: skip
    return Found((test,))


def _place(basis: Basis, lane: object, from_m: float, to_m: float) -> str:
    """Where on the floor, in the units of the line file."""
    if basis.units == "inch":
        return f"{lane}, {number(from_m / INCH_M)} to {number(to_m / INCH_M)}{KEEP}in"
    return f"{lane}, {number(from_m * 1e3)} to {number(to_m * 1e3)}{KEEP}mm"


def cabinet_row(basis: Basis) -> Found:
    """Temperature in the cabinet; what it may be is stated nowhere."""
    if basis.line.cabinet is None:
        why = "the line file states no cabinet: write the key cabinet"
        return Found(not_planned=(NotPlanned("temperature in the cabinet", why),))
    why = (
        "the greatest inner temperature is that of the device inside that stands least; neither line file nor conveyor "
        "sheet states it: take it from the makers' data and write it in before the run-off begins"
    )
    test = RunOffTest(
        "cabinet-temperature", "cabinet", "running", "temperature in the cabinet",
        "With closed doors, at full rate, until the reading rises by less than 1 K in half an hour; read it above the "
        "supplies.",
        f"after about {about(CABINET_H)} at full rate", "at most ________ (written in beforehand)", (why,),
        hours=CABINET_H, unit="degC",
    )  # fmt: skip
    return Found((test,))


def restart_rows(basis: Basis) -> Found:
    """Emergency stops at any instant, and the restart after each."""
    agreed = basis.agreed
    stops = success_run(RESTARTS, agreed.confidence)
    # The share of failed restarts at which all of them go through with the builder's risk of one that does not.
    rarely = 1.0 - (1.0 - agreed.builder_risk) ** (1.0 / stops)
    limit = f"to be refused: {share_told(1.0 - RESTARTS)} of the restarts fail (common practice)"
    unknown = (
        f"a line that fails at one restart in {number(math.floor(1.0 / rarely))} is refused with "
        f"{share_told(agreed.builder_risk)}; how many fail as planned is not known"
    )
    test = RunOffTest(
        "restart", "whole line", "stopping", "restart after an emergency stop",
        "At full traffic press an emergency stop without choosing the instant, another of them each time. Recover and "
        "restart by the recovery sheet alone. A restart goes through without contact of carriers, without a part taken "
        "as good whose work was not verified, and with nothing done that the recovery sheet does not tell.",
        f"{counted(stops, 'stop')}, about {about(stops * RESTART_H)}",
        f"all {counted(stops, 'restart')} go through",
        (limit, unknown), hours=stops * RESTART_H, count=stops, allowed=0, limit=1.0 - RESTARTS, pass_value=0.0,
        unit="1", passed_at_limit=RESTARTS**stops,
    )  # fmt: skip
    return Found((test, _restart_time(stops)))


def _restart_time(stops: int) -> RunOffTest:
    """How long the same restarts take; only recorded as long as no proof says how long they may."""
    return RunOffTest(
        "restart-time", "whole line", "stopping", "time of the recovery after an emergency stop",
        "At each of these restarts time from the begin of the recovery until the line goes on. What people do before "
        "it, from walking in to the acknowledgement, is written beside it and does not count.",
        f"the same {counted(stops, 'stop')}", "only recorded, the longest: ________",
        ("how long it may take is stated nowhere, and nothing was proven: nobody can be held to it",),
        count=stops, unit="s",
    )  # fmt: skip


def with_proof(plan: RunOff, proof: Proof) -> RunOff:
    """The same run-off, held to the longest recovery that a proof of the line's traffic met.

    Parameters
    ----------
    plan : of a line
    proof : of the same line; where not all of its stops recover, nothing changes

    Notes
    -----
    That m stops show a longer one than the longest of n stops, all drawn alike, has the chance m/(n + m): each of the
    n + m is as likely to be the longest. That is the chance of a refusal as planned; it is told in the row.

    Source
    ------
    Exchangeable draws; the definition.
    """
    found = proof.recovery
    if found is None or found.failed or not math.isfinite(found.worst_recovery_s):
        return plan
    # To a tenth, as the proof prints it.
    most_s, told = round(found.worst_recovery_s, 1), number(found.worst_recovery_s, 1)
    tests = []
    for test in plan.tests:
        if test.code != "restart-time":
            tests.append(test)
            continue
        stops = test.count or 0
        chance = stops / (stops + found.stops)
        why = (
            f"the longest of {counted(found.stops, 'stop')} of the proof, in which nobody moved a carrier by hand; a "
            f"stop at a worse instant may take longer: {number(stops)} more show one with {share_told(chance)}"
        )
        internal = (f"refused, though as planned: {share_told(chance)}",)
        row = replace(
            test, pass_line=f"each at most {told}{KEEP}s", why=(why,), internal=internal, limit=most_s,
            pass_value=most_s, refused_if_planned=chance,
        )  # fmt: skip
        tests.append(row)
    return replace(plan, tests=tuple(tests))
