"""Is each transfer quick enough by itself."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.findings import TIGHT_MARGIN, Finding, judge
from linewright.flow.line_bounds import laps_per_part, transfer_cycle_us
from linewright.traffic.general import NO_WAY

if TYPE_CHECKING:
    from linewright.line.demand import TaktResult
    from linewright.line.model import Line
    from linewright.traffic.general import Platform, Track
    from linewright.traffic.plan import Ints, TrafficPlan

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
    Time per good part = cycle · laps / (nests · Π (1 − reject share of each step) · (1 − share of misses)): every
    started part passes, once each lap.

    Source
    ------
    docs/semantics.md, "Transfers"; a transfer that is in use all the time limits the line as a station does.
    """
    good_share = math.prod(1.0 - line.station(step.stations[0]).rejects for step in line.route)
    parts = good_share * plan.general.nests * (1.0 - max((s.misses for s in line.stations), default=0.0))
    if takt is None or parts <= 0.0:
        return ()
    if plan.general.track is not None:
        return _on_track(line, plan, plan.general.track, takt, parts)
    if not plan.transfer_names:  # a ring
        return _laps(line, laps_per_part(plan))
    laps = laps_per_part(plan)
    findings = []
    for number, name in enumerate(plan.transfer_names):
        time_s = transfer_cycle_us(plan, number) * 1e-6 * laps / parts
        margin = 1.0 - time_s / takt.takt_s
        remedy = "" if margin >= TIGHT_MARGIN else "a quicker transfer, a shorter ride, or a second transfer beside it"
        place = line.place("transfers", name)
        figures = (time_s, takt.takt_s, "s", margin)
        findings.append(
            Finding("transfer-cycle", "rate", judge(margin), f"transfer {name}", place, *figures, RULE, remedy)
        )
    return (*findings, *_laps(line, laps))


def _laps(line: Line, laps: int) -> tuple[Finding, ...]:
    """A part that goes round a loop more than once."""
    if laps <= 1:
        return ()
    remedy = (
        "lay the stations in the order of the route: every part takes each transfer once more for each lap more"
        if line.transfers
        else "lay the stations in the order of the route: every part goes round once more for each lap more"
    )
    place = line.place("route")
    return (Finding("route-laps", "rate", "tight", "laps of a part", place, laps, 1.0, None, 0.0, RULE, remedy),)


def _on_track(line: Line, plan: TrafficPlan, track: Track, takt: TaktResult, parts: float) -> tuple[Finding, ...]:
    """Transfers of a track with ways of its own: the least cycle for each ride of a good part, over the places.

    The rides are those of the shortest way round the steps of the route, of several stations for one step by the first.
    With variants or rework they differ from part to part: then it is not checked.
    """
    findings = []
    stops = [int(plan.station_stop[stations[0]]) for stations in plan.step_stations]
    gone = [stop for stop, is_exit in zip(stops, plan.step_exit, strict=True) if not is_exit]
    for name, platform in zip(plan.transfer_names, plan.general.platforms, strict=True):
        where, place = f"transfer {name}", line.place("transfers", name)
        if plan.general.variants or plan.general.rework:
            remedy = "how often a part takes it depends on its variant or its rework: look at the simulated rate"
            findings.append(
                Finding(
                    "transfer-cycle", "rate", "not checked", where, place, None, takt.takt_s, "s", None, RULE, remedy
                )
            )
            continue
        rides = sum(_enters(track, here, there, platform.aboard[0]) for here, there in _pairs(gone))
        if rides == 0:
            continue
        time_s = _cycle_us(track, platform) * 1e-6 * rides / len(platform.aboard) / parts
        margin = 1.0 - time_s / takt.takt_s
        remedy = "" if margin >= TIGHT_MARGIN else "a quicker transfer, a shorter ride, or a second transfer beside it"
        figures = (time_s, takt.takt_s, "s", margin)
        findings.append(Finding("transfer-cycle", "rate", judge(margin), where, place, *figures, RULE, remedy))
    return tuple(findings)


def _pairs(stops: list[int]) -> list[tuple[int, int]]:
    return list(zip(stops, [*stops[1:], stops[0]], strict=True))


def _enters(track: Track, start: int, end: int, aboard: int) -> bool:
    """Whether the way from one stop to another leads over a platform, by its first place."""
    here = start
    while True:
        here = int(track.way[here, end])
        if here in (aboard, NO_WAY):
            return here == aboard
        if here == end:
            return False


def _cycle_us(track: Track, platform: Platform) -> int:
    """The least cycle of a platform: onto it from the nearest stop, the shortest ride, off it, the shortest ride back.
    [us]"""
    on = [int(time) for place in platform.aboard for time in _times(track.leg[:, place], track.leg_us)]
    off = [int(time) for place in platform.aboard for time in _times(track.leg[place, :], track.rear_us)]
    takes, docks = len(platform.takes), len(platform.takes) + len(platform.gives)
    there = min(platform.ride_us[a][b] for a in range(takes) for b in range(takes, docks))
    back = min(platform.ride_us[b][a] for a in range(takes) for b in range(takes, docks))
    return min(on, default=0) + there + min(off, default=0) + back


def _times(legs: Ints, times: Ints) -> list[int]:
    """The times of these legs, of both load classes, those that exist."""
    rows = [2 * int(leg) + load for leg in legs if leg >= 0 for load in (0, 1)]
    return [int(times[row]) for row in rows if times[row] > 0]
