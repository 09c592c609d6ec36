"""How fast carriers go through the curves of a ring, whether the part stands it, and what gap stays inside."""

from __future__ import annotations

from linewright.checks.motion.hold import hold_missing
from linewright.checks.motion.moves import governing_text, ring_distances
from linewright.findings import Finding, judge
from linewright.layout import Layout, body_length_m, least_gap_m
from linewright.layout.curves import body_width_m, pitch_on_ring_m
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.motion.curves import leg_limits, pull_m_s2
from linewright.motion.limits import CarrierLimits, hold_limits


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
    Source     docs/theory.md, Moves in a curve; the conveyor sheet.
    """
    curve = line.conveyor.curve
    if curve is None or not any(lane.is_ring for lane in layout.lanes):
        return ()
    rows = {
        loaded: [(distance_m, leg_limits(line, loaded, distance_m, True)) for distance_m in ring_distances(layout)]
        for loaded in (False, True)
    }
    source = f"the conveyor sheet ({line.conveyor.name}): curve of {length_text(curve.radius_m, line.units)}"
    findings = []
    for loaded, of_class in rows.items():
        fastest = max(one.move.peak_speed_m_s for _, one in of_class)
        where = f"{'loaded' if loaded else 'empty'} carrier in the curves: {governing_text(of_class, line.units)}"
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
    missing = hold_missing(line)
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
