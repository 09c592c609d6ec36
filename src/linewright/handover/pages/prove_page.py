"""The page that ``prove`` prints: may the line be run as it is, and if not, what happens and what helps."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from linewright.checks.referee import referee_findings
from linewright.findings import Finding
from linewright.handover.assumptions import CAUTION, sheet_sentence
from linewright.handover.pages.prove_gridlock import gridlock_lines
from linewright.handover.pages.prove_recovery import MOST_TOLD, recovery_lines
from linewright.handover.pages.prove_story import Names, columns, grouped
from linewright.handover.pages.prove_verdict import (
    after_stop_sentences,
    first_sentence,
    second_sentence,
    stood_from_min,
)
from linewright.handover.pages.rate_page import title
from linewright.handover.wording import TAGS, fields, heading, page, paragraph
from linewright.quantities import KEEP, counted, number, percent, quantity
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.line.model import Line
    from linewright.proof import Proof
    from linewright.traffic.dead_section import Contact
    from linewright.traffic.referee.report import RefereeReport

SENT_NEAR: Final = (
    f"The plan sends carriers as near to each other, as fast and as soon as the sheet allows: a margin of 0{KEEP}% is "
    "as planned and no lack, less is a fault."
)
_CHECK_WIDTHS: Final = (11, 50, 10, 10)
# A share of a limit; all others have a unit or are counts.
_SHARE: Final = "log-limits"


def prove_page(proof: Proof) -> str:
    """The whole proof on pages of text, at most 100 columns wide.

    Parameters
    ----------
    proof : of a line

    Returns
    -------
    str   Ends with a newline; holds no control characters but newlines.
    """
    lines = title(proof.line.name) + paragraph(first_sentence(proof)) + paragraph(second_sentence(proof))
    names = Names(proof.layout, proof.plan, proof.line.sequence)
    before = after_stop_sentences(proof, names)
    if before:
        lines += heading("After a stop, before it goes on")
    for row in before:
        lines += paragraph(row, "- ", "  ")
    lines += gridlock_lines(proof.gridlock, proof.line, names)
    lines += recovery_lines(proof) + _referee(proof) + _dead_section(proof)
    lines += heading("What this rests on")
    for row in proof_assumptions(proof):
        lines += paragraph(row, "- ", "  ")
    lines += ["", *paragraph(f"CAUTION. {CAUTION} Power's return never starts motion: a person starts it."), ""]
    lines += paragraph(f"Linewright {__version__}, seed {proof.seed}, input {proof.line.input_hash}")
    return page(lines)


def proof_assumptions(proof: Proof) -> tuple[str, ...]:
    """What the proof rests on, one sentence or two each, the weightiest first."""
    timeless = (
        "Lock-up is judged with time left out: any work may take any time, any carrier may go first, so that no change "
        "of times, speeds or failures makes a line lock that never locks here. The control must keep the rules of "
        "traffic that docs/semantics.md states: a control that reserves in another way is not proven by this."
    )
    anywhere = (
        "From any placement: hands may have put the carriers anywhere, in any order, with any parts that they can "
        "have. Not proven is a line with another number of carriers, another route, or a station taken out."
    )
    sampled = (
        f"The referee judged one run of {number(proof.shift_s / 3600)}{KEEP}h, seed {proof.seed}; the recovery is a "
        "sample of stops, not a proof."
    )
    left = (
        "Not looked at: strength, accuracy, heat, power supply, bus load, guarding, and whether the controls do as the "
        "line file says."
    )
    return sheet_sentence(proof.line), timeless, anywhere, sampled, left


# ---- the referee -----------------------------------------------------------------------------------------------------


def _referee(proof: Proof) -> list[str]:
    report, looked = proof.referee, proof.referee.looked
    words = (
        f"Judged from the log of moves alone, each move integrated anew: {counted(looked.moves, 'move')} in "
        f"{number(proof.shift_s / 3600)}{KEEP}h, one carrier next behind another {counted(looked.pairs, 'time')}, "
        f"{counted(looked.crossings, 'crossing')} to or from a platform, {counted(looked.reactions, 'departure')} "
        "behind another."
    )
    if report.grid_spare_m is not None:
        spare = quantity(round(report.grid_spare_m, 9) + 0.0, "m", proof.line.units)
        words += (
            f" On a grid of 1{KEEP}ms, the second witness, over the moves that come nearest and some others, two are "
            f"never nearer than {spare} above the least pitch."
        )
    lines = heading("The referee") + paragraph(words)
    if not looked.moves:
        lines += paragraph("NO CARRIER MOVED IN THIS RUN: nothing below could be judged by it.")
    elif stood_from_min(proof) is not None:
        words = (
            f"The last move ends after {stood_from_min(proof)}{KEEP}min: then the line stood still, and only what came "
            "before was judged."
        )
        lines += paragraph(words)
    limits = "log-limits: the greatest share that a move uses of a limit of speed, acceleration or jerk."
    lines += paragraph(f"{SENT_NEAR} {limits}") if looked.moves else []
    lines += ["", *check_lines(referee_findings(report, proof.line), proof.line)]
    return lines + _violations(report)


def check_lines(findings: tuple[Finding, ...], line: Line) -> list[str]:
    """A table of checks: verdict, which, value, limit, margin.

    Parameters
    ----------
    findings : one row each
    line : for the units of its file
    """
    lines = columns(("", "check", "value", "limit", "margin"), _CHECK_WIDTHS)
    for one in findings:
        value, limit = (
            "-" if x is None else percent(x) if one.code == _SHARE else quantity(x, one.unit, line.units)
            for x in (one.value, one.limit)
        )
        margin = "-" if one.margin is None else percent(one.margin)
        cells = (TAGS[one.verdict], f"{one.code}: {_whole_counts(one.where)}", value, limit, margin)
        lines += columns(cells, _CHECK_WIDTHS)
    return lines


def _whole_counts(where: str) -> str:
    """Counts in the words of a check as they are written elsewhere on the page."""
    worded = re.sub(r"\b1 (stretches|pairs|moves|departures|stays)\b", _one_of, where)
    return grouped(worded)


def _one_of(found: re.Match[str]) -> str:
    word = found.group(1)
    return f"1 {word.removesuffix('es') if word == 'stretches' else word.removesuffix('s')}"


def _violations(report: RefereeReport) -> list[str]:
    if report.holds:
        return []
    kinds = ", ".join(f"{kind} {number(count, 0)}" for kind, count in report.violated if count)
    lines = ["", *paragraph(f"FAULTS FOUND: {kinds}. The first:")]
    for one in report.violations[:MOST_TOLD]:
        who = f" (carrier {', '.join(map(str, one.carriers))})" if one.carriers else ""
        lines += paragraph(f"{number(one.time_us / 1e6, 3)}{KEEP}s, {one.kind}: {one.what}{who}", "- ", "  ")
    return lines


# ---- a section that dies ---------------------------------------------------------------------------------------------


def _dead_section(proof: Proof) -> list[str]:
    lines, found, units = heading("When a section dies under a carrier"), proof.dead_section, proof.line.units
    if found is None:
        return lines + paragraph("In this run no two carriers ever move one behind the other.")
    rows = [("it stands at once", _contact(found.standing, units))]
    if found.least_drag_N is None:
        rows.append(("it coasts", "not looked at: the sheet does not state the drag on a coasting carrier"))
    else:
        drag = f"with a drag of {number(found.least_drag_N)}{KEEP}N, the least of the sheet"
        rows.append(("it coasts", f"{drag}: {_contact(found.coasting, units)}"))
    if found.standing is None:
        rows.append(("way left", f"at the least {quantity(found.left_m, 'm', units)} between the two"))
    words = (
        f"The worst that can come of it between two carriers of this run: the one in front loses its drive, the one "
        f"behind brakes {number(1e3 * found.reaction_s)}{KEEP}ms later. {counted(found.pairs, 'pair')} of moves, at "
        "every instant."
    )
    tail = "The energy that a contact may have is the maker's to state; a person between the two is not looked at."
    return [*lines, *paragraph(words), *fields(rows), *paragraph(tail)]


def _contact(contact: Contact | None, units: str) -> str:
    if contact is None:
        return "no contact"
    section = f"section {contact.section}" if contact.section else "between a lane and a platform"
    return (
        f"contact at {quantity(contact.speed_m_s, 'm/s', units)}, {number(contact.energy_J)}{KEEP}J of "
        f"{number(contact.moving_mass_kg)}{KEEP}kg: carrier{KEEP}{contact.follower} into "
        f"carrier{KEEP}{contact.leader}, lane {contact.lane}, {section}, "
        f"{quantity(contact.travel_m, 'm', units)} from its start, after "
        f"{number(contact.time_us / 1e6, 3)}{KEEP}s"
    )
