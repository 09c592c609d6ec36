"""Is each transfer quick enough by itself."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.findings import TIGHT_MARGIN, Finding, judge

if TYPE_CHECKING:
    from linewright.line.demand import TaktResult
    from linewright.line.model import Line
    from linewright.traffic.plan import TrafficPlan

RULE: Final = "docs/semantics.md, Transfers"


def check_transfers(line: Line, plan: TrafficPlan, takt: TaktResult | None) -> tuple[Finding, ...]:
    """Whether each transfer is quick enough by itself: its least time per good part against the takt.

    Parameters
    ----------
    line, plan : a line and its traffic plan
    takt : from its demand; None where the line file states none: then there is nothing to check

    Returns
    -------
    tuple of Finding   Code ``transfer-cycle``, one a transfer, and ``route-laps`` where a part goes round more than
    once.
        value: least time per good part, limit: takt. [s] Empty where no part can become good.

    Notes
    -----
    Cycle, with a carrier always waiting at the dock: move from the dock stop aboard + unlock, ride, align and lock +
    the
    move off until the rear has left + unlock, empty ride, align and lock; the slower load class counts where both pass.
    Time per good part = cycle · laps / Π (1 − reject share of each step): every started part passes, once each lap.

    Source
    ------
    docs/semantics.md, "Transfers"; a transfer that is in use all the time limits the line as a station does.
    """
    good_share = math.prod(1.0 - line.station(step.stations[0]).rejects for step in line.route)
    if takt is None or good_share <= 0.0:
        return ()
    laps = laps_per_part(plan)
    findings = []
    for number, name in enumerate(plan.transfer_names):
        time_s = transfer_cycle_us(plan, number) * 1e-6 * laps / good_share
        margin = 1.0 - time_s / takt.takt_s
        remedy = "" if margin >= TIGHT_MARGIN else "a quicker transfer, a shorter ride, or a second transfer beside it"
        place = line.place("transfers", name)
        figures = (time_s, takt.takt_s, "s", margin)
        findings.append(
            Finding("transfer-cycle", "rate", judge(margin), f"transfer {name}", place, *figures, RULE, remedy)
        )
    if laps > 1:
        remedy = (
            "lay the stations in the order of the route: every part takes each transfer once more for each lap more"
        )
        place = line.place("route")
        findings.append(
            Finding("route-laps", "rate", "tight", "laps of a part", place, laps, 1.0, None, 0.0, RULE, remedy)
        )
    return tuple(findings)


def laps_per_part(plan: TrafficPlan) -> int:
    """How often a good part goes round the loop from one first step to the next: 1 where the stations lie in route
    order."""
    good = [stations for stations, is_exit in zip(plan.step_stations, plan.step_exit, strict=True) if not is_exit]
    stops = [int(plan.station_stop[stations[0]]) for stations in good]
    return sum(plan.ahead(here, there) for here, there in zip(stops, stops[1:] + stops[:1], strict=True)) // plan.stops


def transfer_cycle_us(plan: TrafficPlan, transfer: int) -> int:
    """The least cycle of a transfer; a load class that never passes has no legs and does not count. [us]"""
    aboard = int(plan.stop_transfer.tolist().index(transfer))
    on = max(int(plan.move_us[load, aboard - 1, 0]) for load in (0, 1))
    offs = [
        min((int(time) for time, move in zip(plan.rear_us[load, transfer], moves, strict=True) if move >= 0), default=0)
        for load, moves in enumerate(plan.move_us[:, aboard])
    ]
    return on + int(plan.aboard_us[transfer]) + max(offs) + int(plan.home_us[transfer])
