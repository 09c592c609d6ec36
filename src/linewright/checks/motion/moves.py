"""Which figure governs a carrier's moves, short and long, and what that costs."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import Final

from linewright.checks.motion.legs import governing_cost
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words, unit_of
from linewright.motion.limits import CarrierLimits, NoAccelerationError, carrier_limits

# Distances at which the governing limit is asked for, evenly in ratio: enough to tell where one takes over.
_DISTANCES: Final = 12
THRUST_SOURCE: Final = "the conveyor sheet's thrust-speed curve at lowest voltage, 20 % reserve (common practice)"


def check_move_limits(line: Line, layout: Layout, loaded: bool) -> tuple[Finding, ...]:
    """Which limit governs a carrier's moves, short and long, or that the thrust leaves nothing to move it with.

    Parameters
    ----------
    line, layout : a line and its own layout
    loaded : with the part aboard

    Returns
    -------
    tuple of Finding   One: ``move-limits`` with the acceleration used in the longest move [m/s²], or ``thrust``, which
                       fails.

    Source     docs/theory.md, Limits of a move; the conveyor sheet.
    """
    name = "loaded carrier" if loaded else "empty carrier"
    place = line.place("part" if loaded and line.part is not None else "conveyor")
    try:
        rows = [(distance_m, carrier_limits(line, loaded, distance_m)) for distance_m in straight_distances(layout)]
    except NoAccelerationError as problem:
        where, remedy = f"{name}: no acceleration is left", str(problem)
        return (Finding("thrust", "motion", "fails", where, place, None, None, None, None, THRUST_SOURCE, remedy),)
    longest_m, longest = rows[-1]
    mass = in_words(longest.moving_mass_kg, "kg", line.units)
    where = (
        f"{name} of {mass}: {governing_text(rows, line.units)}; "
        f"{_saved_text(longest, line.units)} of {longest.move.duration_s:.3f} s over "
        f"{length_text(longest_m, line.units)}, {_cost_text(longest)}"
    )
    value = longest.limits.acceleration_m_s2
    return (Finding("move-limits", "motion", "holds", where, place, value, None, "m/s²", None, THRUST_SOURCE, ""),)


def straight_distances(layout: Layout) -> list[float]:
    """From one least pitch to the longest straight way that a carrier can go in one move, evenly in ratio. [m]

    On a loop the longest is that between two places aboard; on a ring its longest straight; on other tracks the longest
    lane with the ways from and to the platforms at its ends.
    """
    aboard = [stop.axis_m for stop in layout.stops if stop.kind == "aboard"]
    if layout.is_closed and aboard:
        ways = [after - before for before, after in pairwise([*aboard, aboard[0] + layout.loop_m])]
    elif layout.lanes[0].is_ring:
        ways = [piece.to_m - piece.from_m for piece in layout.lanes[0].pieces if not piece.is_curved]
    else:
        beside_m = max((transfer.off_m for transfer in layout.transfers), default=0.0)
        ways = [lane.length_m + 2 * beside_m for lane in layout.lanes]
    return _evenly(layout.pitch_m, max(ways))


def ring_distances(layout: Layout) -> list[float]:
    """From one least pitch to once round the ring less that, evenly in ratio. [m]"""
    return _evenly(layout.pitch_m, layout.loop_m - layout.pitch_m)


def _evenly(short_m: float, long_m: float) -> list[float]:
    return [short_m * (long_m / short_m) ** (i / (_DISTANCES - 1)) for i in range(_DISTANCES)]


def governing_text(rows: list[tuple[float, CarrierLimits]], units: str) -> str:
    """``jerk governs moves up to about 410 mm, drive speed longer ones``."""
    by_name = groupby(rows, lambda row: row[1].governs)
    runs = [(name, [distance_m for distance_m, _ in group]) for name, group in by_name]
    words = []
    for number, (name, distances) in enumerate(runs):
        verb = " governs moves" if number == 0 else ""
        if len(runs) == 1:
            words.append(f"{name} governs all moves")
        elif number < len(runs) - 1:
            words.append(f"{name}{verb} up to about {length_text(round(distances[-1], 2), units)}")
        else:
            words.append(f"{name} longer ones")
    return ", ".join(words)


def _saved_text(found: CarrierLimits, units: str) -> str:
    """What more acceleration saves; in inches of a hundred, as a single one is a fortieth of a metre."""
    if units != "inch":
        return f"one more m/s² saves {found.saved_per_m_s2_s:.3f} s"
    return f"a hundred more in/s² save {100.0 * unit_of('m/s²', units)[1] * found.saved_per_m_s2_s:.3f} s"


def _cost_text(found: CarrierLimits) -> str:
    """``10 % more drive speed 0.143 s, as much as thrust allows 0.201 s``."""
    cost = governing_cost(found)
    most = f"as much as {cost.next} allows" if cost.next else "without that limit"
    return f"10 % more {found.governs} {cost.eased_s:.3f} s, {most} {cost.lifted_s:.3f} s"
