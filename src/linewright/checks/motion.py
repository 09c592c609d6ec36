"""What governs the moves of a carrier, whether the thrust suffices, and whether part and carrier stand it."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import Final

from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout import Layout, body_length_m, least_gap_m
from linewright.layout.curves import body_width_m, pitch_on_ring_m
from linewright.layout.placing import length_text
from linewright.line.model import Line, Transfer
from linewright.motion.curves import leg_limits, pull_m_s2
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
    tuple of Finding   Codes ``thrust``, ``move-limits``, ``part-hold``, ``payload``, of a ring ``curve-speed``,
                       ``side-pull`` and ``inside-gap``; all of the subject ``motion``.

    Source
    ------
    docs/theory.md, "Limits of a move", "Moves in a curve"; the conveyor sheet for its own figures.
    """
    findings = [*check_move_limits(line, layout, loaded=False), *check_move_limits(line, layout, loaded=True)]
    if not any(finding.code == "thrust" for finding in findings):
        findings += check_part_hold(line, layout)
        findings += check_curves(line, layout)
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
    """Whether fixture and part, one in each nest, are together within the carrier's payload.

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
    nests = 1 if line.fixture is None else line.fixture.nests
    mass_kg = fixture_kg + nests * line.part.mass_kg
    margin = 1.0 - mass_kg / limit
    verdict = judge(margin)
    remedy = "" if verdict == "holds" else "take a lighter fixture or a conveyor that carries more"
    place, figures = line.place("fixture", "mass"), (mass_kg, limit, "kg", margin)
    where = "fixture and part" if nests == 1 else f"fixture and {nests} parts"
    return Finding("payload", "motion", verdict, where, place, *figures, source, remedy)


def check_curves(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """How fast carriers go through the curves of a ring, whether the part stands it, and what gap stays inside.

    Parameters
    ----------
    line, layout : a line and its own layout, on which the thrust suffices

    Returns
    -------
    tuple of Finding   Empty without a ring. ``curve-speed`` for each load class: the greatest speed of any leg in a
                       curve against the sheet's [m/s]. ``side-pull``: acceleration and side pull together against what
                       the hold stands [m/s²]. ``inside-gap``: between the inner corners of two carriers at the ring's
                       least pitch against the sheet's clear gap [m].

    Notes      Legs in a curve are planned within the first two, so these never fail; where one sets the move the
               second is ``tight``.
    """
    curve = line.conveyor.curve
    if curve is None or not any(lane.is_ring for lane in layout.lanes):
        return ()
    rows = {
        loaded: [(distance_m, leg_limits(line, loaded, distance_m, True)) for distance_m in _ring_distances(layout)]
        for loaded in (False, True)
    }
    source = f"the conveyor sheet ({line.conveyor.name}): curve of {length_text(curve.radius_m, line.units)}"
    findings = []
    for loaded, of_class in rows.items():
        fastest = max(one.move.peak_speed_m_s for _, one in of_class)
        where = f"{'loaded' if loaded else 'empty'} carrier in the curves: {_governing(of_class, line.units)}"
        figures = (fastest, curve.speed_m_s, "m/s", 1.0 - fastest / curve.speed_m_s)
        place = line.place("conveyor")
        findings.append(Finding("curve-speed", "motion", "holds", where, place, *figures, source, ""))
    findings += _side_pull(line, [one for _, one in rows[True]], curve.radius_m)
    findings.append(_inside_gap(line, layout, curve.radius_m))
    return tuple(findings)


def _side_pull(line: Line, legs: list[CarrierLimits], radius_m: float) -> list[Finding]:
    """Acceleration and side pull together against each stated hold."""
    moves = [leg.move for leg in legs]
    used = max(pull_m_s2(move.peak_acceleration_m_s2, move.peak_speed_m_s, radius_m) for move in moves)
    rule = "v²/r and acceleration added as vectors, docs/theory.md, Moves in a curve"
    missing = _hold_missing(line)
    findings = []
    if missing is not None:
        where, place, remedy = missing
        findings.append(
            Finding("side-pull", "motion", "not checked", where, place, used, None, "m/s²", None, rule, remedy)
        )
    for hold in hold_limits(line.part):
        if hold.value is None:
            continue
        margin = 0.0 if abs(used / hold.value - 1.0) <= 1e-9 else 1.0 - used / hold.value
        verdict = judge(margin)
        remedy = (
            ""
            if verdict == "holds"
            else "the side pull slows the legs in the curves: a firmer hold lets them go faster"
        )
        place, figures = line.place("part", "held"), (used, hold.value, "m/s²", margin)
        where = f"{hold.name}, in the curves"
        findings.append(
            Finding("side-pull", "motion", verdict, where, place, *figures, f"{rule}; {hold.source}", remedy)
        )
    return findings


def _inside_gap(line: Line, layout: Layout, radius_m: float) -> Finding:
    """The gap between inner corners at the ring's least pitch."""
    limit = line.conveyor.clear_gap_m
    width_m, body_m = body_width_m(line), body_length_m(line)
    straights_m = {piece.to_m - piece.from_m for piece in layout.lanes[0].pieces if not piece.is_curved}
    gap_m = min(least_gap_m(radius_m, one, width_m, body_m, layout.pitch_m) for one in sorted(straights_m))
    fits = pitch_on_ring_m(line) is not None
    lengths = f"bodies of {length_text(body_m, line.units)} by {length_text(width_m, line.units)}"
    where = f"two carriers in a curve at the least pitch of {length_text(layout.pitch_m, line.units)}, {lengths}"
    margin = 0.0 if fits else -1.0
    if limit > 0.0 and abs(gap_m - limit) > 1e-8:
        margin = gap_m / limit - 1.0
    source = f"the conveyor sheet ({line.conveyor.name}): clear gap; two rectangles on the track, docs/theory.md"
    remedy = "" if fits else "take narrower or shorter fixtures, or a conveyor with a wider curve"
    place = line.place("conveyor") if line.fixture is None else line.place("fixture", "envelope")
    return Finding(
        "inside-gap", "motion", "holds" if fits else "fails", where, place, gap_m, limit, "m", margin, source, remedy
    )


def _distances(layout: Layout) -> list[float]:
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


def _ring_distances(layout: Layout) -> list[float]:
    """From one least pitch to once round the ring less that, evenly in ratio. [m]"""
    return _evenly(layout.pitch_m, layout.loop_m - layout.pitch_m)


def _evenly(short_m: float, long_m: float) -> list[float]:
    return [short_m * (long_m / short_m) ** (i / (_DISTANCES - 1)) for i in range(_DISTANCES)]


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
