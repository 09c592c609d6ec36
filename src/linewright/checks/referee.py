"""What the referee says of a run's moves, and what a dead section would do, as findings."""

from __future__ import annotations

from typing import Final

from linewright.errors import Place
from linewright.findings import Finding, Verdict
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words
from linewright.traffic.dead_section import Contact, DeadSection
from linewright.traffic.referee.report import RefereeReport, Violation, ViolationKind

SOURCE: Final = "docs/semantics.md, The referee; moves integrated anew"
FAULT: Final = "the moves break the program's own rules: rely on none of its answers for this line, and report it"
AID: Final = "ask the maker with what energy two carriers may meet; no key holds it yet"


def referee_findings(report: RefereeReport, line: Line) -> tuple[Finding, ...]:
    """The judgement of one log of moves.

    Parameters
    ----------
    report : of :func:`linewright.traffic.referee.judge_log`
    line : whose run it was

    Returns
    -------
    tuple of Finding   All of the subject ``traffic``: ``clear-gap`` with the least distance of two centres against the
                       least pitch [m], ``log-limits`` with the greatest share of a limit that a move uses,
                       ``stop-occupancy`` and, with transfers, ``dock-crossings`` with the number of violations,
                       ``reaction`` with the least time between a commitment and the departure that needed it [s].
                       What was not looked at is ``not checked``.
    """
    findings = [_clear_gap(report, line), _limits(report, line), _stops(report, line)]
    if line.transfers:
        findings.append(_crossings(report, line))
    findings.append(_reaction(report, line))
    return tuple(findings)


def dead_section_findings(dead: DeadSection | None, line: Line) -> tuple[Finding, ...]:
    """What a section that dies under a moving carrier would do.

    Parameters
    ----------
    dead : of :func:`linewright.traffic.dead_section.worst_contact`
    line : whose run it was

    Returns
    -------
    tuple of Finding   Code ``dead-section``, subject ``traffic``: value the greatest energy of a contact [J], once for
                       a leader that stands at once and once for one that coasts, where the sheet states its drag. There
                       is no published limit, so it is information, never checked. Empty if no two carriers that follow
                       each other ever move at once.
    """
    if dead is None:
        return ()
    findings = [_dead(dead.standing, "stands at once, which bounds every case", line)]
    if dead.least_drag_N is not None:
        findings.append(
            _dead(dead.coasting, f"coasts with {in_words(dead.least_drag_N, 'N', line.units)} of drag", line)
        )
    return tuple(findings)


def _row(
    report: RefereeReport,
    code: str,
    kinds: tuple[ViolationKind, ...],
    looked: int,
    where: str,
    place: Place | None,
    figures: tuple[float | None, float | None, str | None, float | None],
    source: str = SOURCE,
) -> Finding:
    """One row: it fails where there are violations, and is not checked where nothing was looked at."""
    wrong = report.count(*kinds)
    verdict: Verdict = "fails" if wrong else "holds" if looked else "not checked"
    remedy = "" if verdict == "holds" else FAULT if wrong else "nothing of this kind happened: run longer"
    if wrong:
        where = f"{where}; {wrong} violations, the first: {_first(report, kinds)}"
    value, limit, unit, margin = figures
    return Finding(code, "traffic", verdict, where, place, value, limit, unit, margin, source, remedy)


def _first(report: RefereeReport, kinds: tuple[ViolationKind, ...]) -> str:
    first: Violation = min((one for one in report.violations if one.kind in kinds), key=lambda one: one.time_us)
    return f"{first.what}, at {first.time_us / 1e6:.6f} s"


def _clear_gap(report: RefereeReport, line: Line) -> Finding:
    least, looked = report.least_gap, report.looked
    if least is None:
        where, figures = "no carrier follows another", (None, None, "m", None)
        return _row(report, "clear-gap", ("gap", "witness"), 0, where, line.place("conveyor"), figures)
    where = (
        f"carrier {least.follower} behind carrier {least.leader} on lane {least.lane} at "
        f"{length_text(round(least.travel_m, 6), line.units)}, {least.time_us / 1e6:.3f} s; least of "
        f"{looked.stretches} stretches of {looked.pairs} pairs"
    )
    pitch_m = least.distance_m - least.spare_m
    margin = 0.0 if abs(least.spare_m) <= 1e-9 else least.spare_m / pitch_m
    figures_of = (least.distance_m, pitch_m, "m", margin)
    return _row(report, "clear-gap", ("gap", "witness"), looked.stretches, where, line.place("conveyor"), figures_of)


def _limits(report: RefereeReport, line: Line) -> Finding:
    use, looked = report.use, report.looked
    where = f"{looked.moves} moves over {looked.legs} different legs"
    figures: tuple[float | None, float | None, str | None, float | None] = (None, 1.0, None, None)
    if use is not None:
        most = ((use.speed_m_s, "m/s"), (use.acceleration_m_s2, "m/s²"), (use.jerk_m_s3, "m/s³"))
        where += f", at most {', '.join(in_words(value, unit, line.units) for value, unit in most)}"
        figures = (use.share, 1.0, None, 0.0 if abs(use.share - 1.0) <= 1e-9 else 1.0 - use.share)
    return _row(report, "log-limits", ("limits", "log"), looked.moves, where, line.place("conveyor"), figures)


def _stops(report: RefereeReport, line: Line) -> Finding:
    wrong, looked = report.count("stop"), report.looked
    figures = (float(wrong), 0.0, None, None)
    where = f"{looked.stops} stays at stops, never two carriers at one" if not wrong else f"{looked.stops} stays"
    return _row(report, "stop-occupancy", ("stop",), looked.stops, where, line.place(), figures)


def _crossings(report: RefereeReport, line: Line) -> Finding:
    wrong, looked = report.count("transfer"), report.looked
    where = f"{looked.crossings} moves to and from a platform"
    figures = (float(wrong), 0.0, None, None)
    return _row(report, "dock-crossings", ("transfer",), looked.crossings, where, line.place("transfers"), figures)


def _reaction(report: RefereeReport, line: Line) -> Finding:
    looked, limit = report.looked, line.conveyor.reaction.follow_s
    value = report.least_reaction_s
    margin = None if value is None or limit <= 0.0 else value / limit - 1.0
    where = (
        f"{looked.reactions_exact} departures behind a commitment that the log tells exactly; of {looked.unjudged} "
        "others it bounds the commitment alone"
    )
    source = f"{SOURCE}; the conveyor sheet ({line.conveyor.name}): follow reaction"
    figures = (value, limit, "s", margin)
    return _row(
        report, "reaction", ("reaction",), looked.reactions_exact, where, line.place("conveyor"), figures, source
    )


def _dead(contact: Contact | None, leader: str, line: Line) -> Finding:
    place = line.place("conveyor")
    source = "own integration of the moves; ½ m v² of the follower; docs/semantics.md, Places and moves (reaction)"
    if contact is None:
        where = f"leader that {leader}: no contact at any instant of the run"
        return Finding("dead-section", "traffic", "not checked", where, place, 0.0, None, "J", None, source, AID)
    section = f"section {contact.section} of lane {contact.lane}"
    if contact.section == 0:
        section = f"the end of lane {contact.lane}"
    mass, speed = in_words(contact.moving_mass_kg, "kg", line.units), in_words(contact.speed_m_s, "m/s", line.units)
    where = (
        f"leader that {leader}: carrier {contact.follower} of {mass} runs into carrier {contact.leader} with {speed} "
        f"as {section} dies at {contact.time_us / 1e6:.3f} s"
    )
    return Finding(
        "dead-section", "traffic", "not checked", where, place, contact.energy_J, None, "J", None, source, AID
    )
