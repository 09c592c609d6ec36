"""The rows of each feeder on its fuse or circuit-breaker: load, cable, supply, and the restart of all carriers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from linewright.checks.power.conductors import AT_ONCE, TRIPPING, Device, largest_fuse_A, tripping_current_A
from linewright.checks.power.feeders import FeederPower
from linewright.checks.power.rows import PAGE, at_most, down, told, up
from linewright.findings import Finding
from linewright.line.electrics import Feeder
from linewright.line.model import Line
from linewright.line.spoken import plain, rounded

_SOURCE = f"{PAGE}, Protection; IEC 60364-4-43, from memory"


@dataclass(frozen=True)
class Protector:
    """The fuse or circuit-breaker of a feeder: rated current, and that at which it ends an overload for sure. [A]"""

    feeder: str
    device: Device
    rated_A: float
    ends_A: float
    rating_A: float | None

    @property
    def needs_A(self) -> float:
        """The least rating of a cable that it protects, the greater of In and I2/1.45."""
        return max(self.rated_A, self.ends_A / TRIPPING)

    @property
    def place(self) -> tuple[str, str, str]:
        """Where it stands in the line file."""
        return ("feeders", self.feeder, self.device)


def protector_of(feeder: Feeder) -> Protector | None:
    """What protects a feeder; None where neither fuse nor breaker is stated."""
    device: Device = "fuse" if feeder.breaker_A is None else "breaker"
    rated_A = feeder.fuse_A if feeder.breaker_A is None else feeder.breaker_A
    if rated_A is None:
        return None
    rating_A = None if feeder.cable is None else feeder.cable.rating_A
    return Protector(feeder.name, device, rated_A, tripping_current_A(rated_A, device), rating_A)


def protection_rows(line: Line, feeder: Feeder, supplies_A: float | None, power: FeederPower | None) -> list[Finding]:
    """The fuse lets the load run and protects the cable; which of fuse and supply ends an overload; restarts.

    What needs the current of the supplies, or what the feeder comes to, is left out where those are not known.
    """
    one = protector_of(feeder)
    if one is None:
        return []
    rows = []
    if power is not None and power.run is not None:
        rms_A = power.run.rms_A
        rows.append(
            at_most(
                "design-current",
                f"feeder {feeder.name}: effective current of the run against the {one.device}",
                one.place,
                line,
                rms_A,
                one.rated_A,
                "A",
                _SOURCE,
                lambda share: _larger(one, rms_A / share, share),
            )
        )
    if one.rating_A is not None:
        rows.append(_cable_row(line, one, one.rating_A))
    if supplies_A is not None:
        rows.append(_supply_row(line, one, supplies_A))
    if power is not None and math.isfinite(power.restart_A):
        rows.append(_restart_row(line, one, power.restart_A))
    return rows


def _cable_row(line: Line, one: Protector, rating_A: float) -> Finding:
    def smaller(share: float) -> str:
        largest_A = largest_fuse_A(share * rating_A, one.device)
        if largest_A > one.rated_A:  # one just under 16 A needs more than one of 16 A: name no larger one
            largest_A = share * rating_A * one.rated_A / one.needs_A
        most_A = down(largest_A)
        less = "or less" if one.device == "breaker" else "or the next smaller one that is made"
        return f"write {one.device}: {plain(most_A)} A, {less}; or a cable of greater rating"

    kind = "fuse of class gG" if one.device == "fuse" else "breaker"
    where = (
        f"feeder {one.feeder}: rating that a {kind} of {rounded(one.rated_A, 4)} A takes against the cable's; it ends "
        f"an overload for sure at {rounded(one.ends_A, 4)} A of {rounded(TRIPPING * rating_A, 4)} A allowed"
    )
    return at_most("fuse-cable", where, one.place, line, one.needs_A, rating_A, "A", _SOURCE, smaller)


def _supply_row(line: Line, one: Protector, supplies_A: float) -> Finding:
    ends = f"the {one.device}" if supplies_A >= one.ends_A else f"the supply's own limit, not the {one.device},"
    where = (
        f"feeder {one.feeder}: supplies together; {ends} ends an overload "
        f"(the {one.device} does for sure at {rounded(one.ends_A, 4)} A)"
    )
    return replace(told("fuse-supply", where, one.place, line, supplies_A, "A"), source=f"{PAGE}, Protection")


def _restart_row(line: Line, one: Protector, restart_A: float) -> Finding:
    """For information: how many times its rated current a fuse or breaker carries while all carriers restart."""
    times = restart_A / one.rated_A
    curve = "only its maker's curve tells whether it stands that for as long as the restart takes"
    if times <= 1.0:
        tells = "no overload of it"
    elif one.device == "fuse":
        tells = curve
    elif times < AT_ONCE[0][1]:
        tells = f"no circuit-breaker trips at once below {AT_ONCE[0][1]:g} times; {curve}"
    else:
        curves = ", ".join(name for name, from_times, _ in AT_ONCE if times >= from_times)
        tells = f"one of curve {curves} may trip at once, from 3, 5 and 10 times for B, C and D; {curve}"
    carries = f"its {one.device} carries {rounded(times, 3)} times its rated current while all carriers restart"
    where = f"feeder {one.feeder}: {carries}: {tells}"
    row = told("restart-protection", where, one.place, line, restart_A, "A")
    return replace(row, source=f"{PAGE}, Protection; IEC 60898-1, read in secondary prints")


def _larger(one: Protector, least_A: float, share: float) -> str:
    """One that lets the load run; empty where none does, or one with a tenth to spare is beyond the cable."""
    if math.isinf(least_A):
        return ""
    rated_A = up(least_A)
    if share < 1.0 and one.rating_A is not None:
        needs_A = max(rated_A, tripping_current_A(rated_A, one.device) / TRIPPING)
        if needs_A > one.rating_A:
            return ""
    return f"write {one.device}: {plain(rated_A)} A or more, as far as the row fuse-cable holds"
