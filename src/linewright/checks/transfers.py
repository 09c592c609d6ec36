"""Is each transfer quick enough by itself."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.findings import TIGHT_MARGIN, Finding, judge
from linewright.flow.line_bounds import laps_per_part, transfer_cycle_us

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
