"""What governs the moves of a carrier, whether the thrust suffices, and whether part and carrier stand it."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import Final

from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout import Layout
from linewright.layout.stops import length_text
from linewright.line.model import Line, Transfer
from linewright.motion.limits import (
    STANDARD_GRAVITY_M_S2,
    Candidate,
    CarrierLimits,
    NoAccelerationError,
    carrier_limits,
    hold_limits,
)

# Distances at which the governing limit is asked for, evenly in ratio: enough to tell where one takes over.
_DISTANCES: Final = 12
THRUST_SOURCE: Final = "the conveyor sheet's thrust-speed curve at lowest voltage, 20 % reserve (common practice)"


def check_motion(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """Check the moves of a line's carriers.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    tuple of Finding   Codes ``thrust``, ``move-limits``, ``part-hold``, ``payload``; all of the subject ``motion``.

    Source
    ------
    docs/theory.md, "Limits of a move"; the conveyor sheet for its own figures.
    """
    findings = [*check_move_limits(line, layout, loaded=False), *check_move_limits(line, layout, loaded=True)]
    if not any(finding.code == "thrust" for finding in findings):
        findings += check_part_hold(line, layout)
    findings.append(check_payload(line))
    return tuple(findings)


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
    """
    name = "loaded carrier" if loaded else "empty carrier"
    place = line.place("part" if loaded and line.part is not None else "conveyor")
    try:
        rows = [(distance_m, carrier_limits(line, loaded, distance_m)) for distance_m in _distances(layout)]
    except NoAccelerationError as problem:
        where, remedy = f"{name}: no acceleration is left", str(problem)
        return (Finding("thrust", "motion", "fails", where, place, None, None, None, None, THRUST_SOURCE, remedy),)
    longest_m, longest = rows[-1]
    where = (
        f"{name} of {longest.moving_mass_kg:.4g} kg: {_governing(rows, line.units)}; one more m/s² saves "
        f"{longest.saved_per_m_s2_s:.3f} s of {longest.move.duration_s:.3f} s over {length_text(longest_m, line.units)}"
    )
    value = longest.limits.acceleration_m_s2
    return (Finding("move-limits", "motion", "holds", where, place, value, None, "m/s²", None, THRUST_SOURCE, ""),)


def check_part_hold(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """Whether the part stands the accelerations of the moves; what is not stated is not checked.

    Parameters
    ----------
    line, layout : a line and its own layout, on which the thrust suffices

    Returns
    -------
    tuple of Finding   Code ``part-hold``, one for each way in which the part may come loose. value: the greatest
                       acceleration of any move, limit: what the hold stands. [m/s²]

    Notes
    -----
    A carrier's moves are planned within the stated hold, so they never fail it; where it is what sets the
    acceleration it is
    ``tight``. A transfer's platform moves as its sheet says, whatever the part stands: that can fail.
    """
    missing = _hold_missing(line)
    used = max(carrier_limits(line, True, distance_m).move.peak_acceleration_m_s2 for distance_m in _distances(layout))
    findings = [] if missing is None else [_hold_unchecked(*missing, used)]
    for hold in hold_limits(line.part):
        if hold.value is None:
            continue
        margin = 1.0 - used / hold.value
        verdict = judge(margin)
        remedy = "" if verdict == "holds" else "the hold sets the acceleration: a firmer one lets carriers move harder"
        place = line.place("part", "held")
        figures = (used, hold.value, "m/s²", margin)
        findings.append(Finding("part-hold", "motion", verdict, hold.name, place, *figures, hold.source, remedy))
    rides = [_hold_on_platform(line, transfer) for transfer in line.transfers]
    return tuple(findings + [finding for found in rides for finding in found])


def _hold_on_platform(line: Line, transfer: Transfer) -> list[Finding]:
    """The part on a riding platform: sideways against its hold; on a lift that falls, its weight is all that friction
    has.

    A pocket or clamp stands its stated acceleration in any direction. Under friction a part on a cross transfer slips
    or tips as along the track; on a lift it comes loose where the platform falls as fast as it would itself (g).
    """
    sheet = line.conveyor.transfers[transfer.kind]
    rises = transfer.kind == "lift"
    falls = Candidate(
        "falling with the lift", "acceleration", STANDARD_GRAVITY_M_S2, "weight alone holds the part down"
    )
    holds = [hold for hold in hold_limits(line.part) if hold.value is not None]
    if rises and holds and "friction" in holds[0].name:
        holds = [falls]
    findings = []
    for hold in holds:
        assert hold.value is not None
        margin = 1.0 - sheet.acceleration_m_s2 / hold.value
        verdict = judge(margin)
        remedy = "" if verdict == "holds" else "hold the part more firmly, or take a transfer that rides more gently"
        place = line.place("transfers", transfer.name)
        figures = (sheet.acceleration_m_s2, hold.value, "m/s²", margin)
        where = f"{hold.name}, riding on {transfer.name}"
        findings.append(Finding("part-hold", "motion", verdict, where, place, *figures, hold.source, remedy))
    return findings


def check_payload(line: Line) -> Finding:
    """Whether fixture and part together are within the carrier's payload.

    Parameters
    ----------
    line : the line

    Returns
    -------
    Finding   Code ``payload``. value: mass of fixture and part, limit: the sheet's payload. [kg]
    """
    source = f"the conveyor sheet ({line.conveyor.name}): payload"
    limit = line.conveyor.carrier.payload_kg
    fixture_kg = 0.0 if line.fixture is None else line.fixture.mass_kg
    unstated = [key for key, value in (("part", line.part), ("fixture", line.fixture)) if value is None]
    if unstated:
        remedy = f"state the mass under the key {' and the key '.join(unstated)} of the line file"
        where = f"mass of {' and '.join(unstated)} is not stated"
        return Finding("payload", "motion", "not checked", where, line.place(), None, limit, "kg", None, source, remedy)
    assert line.part is not None
    mass_kg = fixture_kg + line.part.mass_kg
    margin = 1.0 - mass_kg / limit
    verdict = judge(margin)
    remedy = "" if verdict == "holds" else "take a lighter fixture or a conveyor that carries more"
    place, figures = line.place("fixture", "mass"), (mass_kg, limit, "kg", margin)
    return Finding("payload", "motion", verdict, "fixture and part", place, *figures, source, remedy)


def _distances(layout: Layout) -> list[float]:
    """From one least pitch to the longest way between two places aboard, evenly in ratio. [m]"""
    aboard = [stop.axis_m for stop in layout.stops if stop.kind == "aboard"]
    ways = [after - before for before, after in pairwise([*aboard, aboard[0] + layout.loop_m])]
    short, long = layout.pitch_m, max(ways)
    return [short * (long / short) ** (i / (_DISTANCES - 1)) for i in range(_DISTANCES)]


def _governing(rows: list[tuple[float, CarrierLimits]], units: str) -> str:
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


def _hold_missing(line: Line) -> tuple[str, Place | None, str] | None:
    """What of the part's hold is not stated, where it would stand, and what to write; None if all is there."""
    part = line.part
    if part is None:
        return "the part is not stated", line.place(), "state the key part: {mass: ..., held: {pocket: ...}}"
    if part.held is None:
        keys = "pocket, clamp or friction"
        return "how the part is held is not stated", line.place("part"), f"state the key held under part: {keys}"
    if part.held.kind == "friction" and part.mass_height_m is None:
        where = "tipping: the height of the part's mass centre is not stated"
        return where, line.place("part"), "state the key mass_height under part"
    return None


def _hold_unchecked(where: str, place: Place | None, remedy: str, used_m_s2: float) -> Finding:
    source = "docs/theory.md, Limits of a move"
    return Finding("part-hold", "motion", "not checked", where, place, used_m_s2, None, "m/s²", None, source, remedy)
