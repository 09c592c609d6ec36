"""Whether the part stands the moves, the rides on platforms and an emergency stop; whether its mass is carried."""

from __future__ import annotations

import math

from linewright.checks.motion.moves import straight_distances
from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout import Layout
from linewright.line.model import Line, Transfer
from linewright.line.spoken import in_words, rounded
from linewright.motion.limits import (
    STANDARD_GRAVITY_M_S2,
    Candidate,
    carrier_limits,
    hold_limits,
)


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
    missing = hold_missing(line)
    moves = (carrier_limits(line, True, distance_m).move for distance_m in straight_distances(layout))
    used = max(move.peak_acceleration_m_s2 for move in moves)
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
        loose = hold is falls and margin <= 0.0  # at g nothing of its weight is left
        verdict = "fails" if loose else judge(margin)
        remedy = "" if verdict == "holds" else "hold the part more firmly, or take a transfer that rides more gently"
        place = line.place("transfers", transfer.name)
        figures = (sheet.acceleration_m_s2, hold.value, "m/s²", margin)
        where = f"{hold.name}, riding on {transfer.name}"
        if hold is falls and margin > 0.0:
            left = ", ".join(
                f"{one.name} {_left(line, falling_hold_m_s2(one.value, sheet.acceleration_m_s2))} along or across"
                for one in hold_limits(line.part)
                if one.value is not None
            )
            where += f": {rounded(100.0 * margin, 3)} % of its weight stays, and then stands {left}"
        findings.append(Finding("part-hold", "motion", verdict, where, place, *figures, hold.source, remedy))
    return findings


def _left(line: Line, hold_m_s2: float) -> str:
    return in_words(hold_m_s2, "m/s²", line.units, 3)


def falling_hold_m_s2(hold_m_s2: float, fall_m_s2: float) -> float:
    """What friction still stands along or across while the platform under the part falls faster and faster.

    Parameters
    ----------
    hold_m_s2 : what it stands on a platform at rest, against slip or tip. [m/s²], >= 0
    fall_m_s2 : acceleration downward, or deceleration of a rising platform. [m/s²], >= 0

    Returns
    -------
    float   [m/s²]; 0 where the part falls as fast as the platform

    Raises
    ------
    ValueError   A figure is negative or not a number.

    Notes      hold (1 - a/g): weight and with it friction and the moment against tipping fall to (g - a)/g.
    Source     statics in the falling frame; checked in tests/unit/checks/test_motion_rows.py.
    Examples
    --------
    >>> falling_hold_m_s2(2.0, STANDARD_GRAVITY_M_S2 / 4)
    1.5
    """
    for name, value in (("hold_m_s2", hold_m_s2), ("fall_m_s2", fall_m_s2)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and not negative")
    return max(0.0, hold_m_s2 * (1.0 - fall_m_s2 / STANDARD_GRAVITY_M_S2))


def check_payload(line: Line) -> Finding:
    """Whether fixture and part, one in each nest, are together within the carrier's payload.

    Parameters
    ----------
    line : the line

    Returns
    -------
    Finding   Code ``payload``. value: mass of fixture and part, limit: the sheet's payload. [kg]

    Source     the conveyor sheet.
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


def hold_missing(line: Line) -> tuple[str, Place | None, str] | None:
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
