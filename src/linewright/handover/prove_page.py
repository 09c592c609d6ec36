"""The page that ``prove`` prints: may the line be run as it is, and if not, what happens and what helps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.checks.referee import referee_findings
from linewright.findings import Finding
from linewright.handover.assumptions import CAUTION, sheet_sentence
from linewright.handover.prove_gridlock import gridlock_lines
from linewright.handover.prove_story import Names, columns
from linewright.handover.rate_page import title
from linewright.handover.wording import KEEP, TAGS, fields, heading, number, page, paragraph, percent, quantity
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, UNDECIDED
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery, StopOutcome
    from linewright.line.model import Line
    from linewright.proof import Proof
    from linewright.traffic.dead_section import Contact
    from linewright.traffic.referee.report import RefereeReport

# So many of what was found are told on the page; all are counted.
MOST_TOLD: Final = 5
# A run whose last move ends before this share of it is said to have stood still from then on.
SOON: Final = 0.75

_CHECK_WIDTHS: Final = (11, 50, 10, 10)
_STILL_WIDTHS: Final = (7, 44, 5)


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
    lines += gridlock_lines(proof.gridlock, proof.line, Names(proof.layout, proof.plan))
    lines += _referee(proof) + _dead_section(proof) + _recovery(proof)
    lines += heading("What this rests on")
    for row in proof_assumptions(proof):
        lines += paragraph(row, "- ", "  ")
    lines += ["", *paragraph(f"CAUTION. {CAUTION} Power's return never starts motion: a person starts it."), ""]
    lines += paragraph(f"Linewright {__version__}, seed {proof.seed}, input {proof.line.input_hash}")
    return page(lines)


def first_sentence(proof: Proof) -> str:
    """Whether the line may be run as it is, in capitals."""
    locks = proof.gridlock
    if locks.from_start.outcome == CAN_LOCK:
        return "NO: DO NOT RUN THIS LINE AS IT IS. IT CAN LOCK UP."
    if not proof.referee.holds:
        return "NO: DO NOT RUN THIS LINE AS IT IS. ITS CARRIERS BREAK THE RULES OF TRAFFIC."
    if locks.from_any_placement.outcome == CAN_LOCK:
        planned = "NEVER LOCKS UP" if locks.from_start.outcome == NEVER_LOCKS else "IS UNDECIDED"
        return f"NOT AFTER A STOP: BEGUN AS PLANNED IT {planned}, BUT STARTED AGAIN AFTER A STOP IT CAN."
    if proof.recovery is not None and not proof.recovers:
        return "NOT AFTER A STOP: GOOD PARTS DO NOT ALWAYS COME AGAIN."
    if UNDECIDED in (locks.from_start.outcome, locks.from_any_placement.outcome):
        return "NOT PROVEN: WHETHER IT CAN LOCK UP IS UNDECIDED. NOTHING ELSE WAS FOUND AGAINST RUNNING IT."
    if proof.recovery is None:
        return "NOT PROVEN: IT NEVER LOCKS UP, BUT ITS STARTING AGAIN COULD NOT BE TRIED."
    return "YES, AS FAR AS ITS TRAFFIC GOES: THIS LINE MAY RUN AS IT IS. IT NEVER LOCKS UP."


def second_sentence(proof: Proof) -> str:
    """The four results in a row."""
    locks, moves = proof.gridlock, number(proof.referee.looked.moves, 0)
    judged = f"carriers keep clear in all {moves} moves of a run"
    if not proof.referee.holds:
        judged = f"{number(sum(count for _, count in proof.referee.violated), 0)} faults in {moves} moves of a run"
    again = f"it could not be stopped and started here ({proof.no_recovery})"
    if proof.recovery is not None:
        back = proof.recovery.stops - proof.recovery.failed
        again = f"good parts come again after {back} of {proof.recovery.stops} stops"
    return (
        f"From the planned start: {locks.from_start.outcome}. From any placement, as after a stop: "
        f"{locks.from_any_placement.outcome}. Referee: {judged}. Recovery: {again}."
    )


def proof_assumptions(proof: Proof) -> tuple[str, ...]:
    """What the proof rests on, one sentence or two each, the weightiest first."""
    timeless = (
        "Lock-up is judged with time left out: any work may take any time, any carrier may go first, so that no change "
        "of times, speeds or failures makes a line lock that never locks here. The control must keep the rules of "
        "traffic that docs/semantics.md states: a control that reserves in another way is not proven by this."
    )
    anywhere = (
        "A stop may leave the carriers anywhere, in any order, also where hands have put them. Not proven is a line "
        "with another number of carriers, another route, or a station taken out."
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
        f"Judged from the log of moves alone, each move integrated anew: {number(looked.moves, 0)} moves in "
        f"{number(proof.shift_s / 3600)}{KEEP}h, one carrier next behind another {number(looked.pairs, 0)} times, "
        f"{number(looked.crossings, 0)} crossings to or from a platform, {number(looked.reactions, 0)} departures "
        "behind another."
    )
    if report.grid_spare_m is not None:
        spare = quantity(round(report.grid_spare_m, 9) + 0.0, "m", proof.line.units)
        words += (
            " On a grid of 1 ms, the second witness, over the moves that come nearest and some others, two are never "
            f"nearer than {spare} above the least pitch."
        )
    lines = heading("The referee") + paragraph(words)
    if report.until_us < SOON * proof.shift_s * 1e6:
        lines += paragraph(f"The last move ends after {number(report.until_us / 60e6, 1)}{KEEP}min: then it stood.")
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
        value = "-" if one.value is None else quantity(one.value, one.unit, line.units)
        limit = "-" if one.limit is None else quantity(one.limit, one.unit, line.units)
        margin = "-" if one.margin is None else percent(one.margin)
        cells = (TAGS[one.verdict], f"{one.code}: {one.where}", value, limit, margin)
        lines += columns(cells, _CHECK_WIDTHS)
    return lines


def _violations(report: RefereeReport) -> list[str]:
    if report.holds:
        return []
    counted = ", ".join(f"{kind} {number(count, 0)}" for kind, count in report.violated if count)
    lines = ["", *paragraph(f"FAULTS FOUND: {counted}. The first:")]
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
        f"behind brakes {number(1e3 * found.reaction_s)}{KEEP}ms later. {number(found.pairs, 0)} pairs of moves, at "
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


# ---- the recovery ----------------------------------------------------------------------------------------------------


def _recovery(proof: Proof) -> list[str]:
    lines = heading("Stopped and started again")
    found = proof.recovery
    if found is None:
        return lines + paragraph(f"NOT TRIED: {proof.no_recovery}.")
    return lines + fields(_recovery_rows(found)) + _failing(found)


def _recovery_rows(found: Recovery) -> list[tuple[str, str]]:
    good = "none came"
    if found.worst_good_after_s is not None and found.median_good_after_s is not None:
        good = (
            f"{number(found.median_good_after_s, 1)}{KEEP}s after the line goes on in the middle of all stops, "
            f"{number(found.worst_good_after_s, 1)}{KEEP}s at the worst"
        )
    apart = (
        f"at least {number(found.least_next_s / 60, 1)}{KEEP}min, on average "
        f"{number(found.mean_next_s / 60, 1)}{KEEP}min; {found.chains} lines, each stopped again and again without a "
        f"fresh start; seed {found.seed}"
    )
    recovery = (
        f"{number(found.mean_recovery_s, 1)}{KEEP}s on average, {number(found.worst_recovery_s, 1)}{KEEP}s at the "
        f"worst, carriers one at a time at {number(found.speed_m_s)}{KEEP}m/s"
    )
    rejected = (
        f"{number(found.rejected_per_stop, 1)} parts at a reject exit, {number(found.by_hand_per_stop, 1)} by hand, on "
        "average"
    )
    return [
        ("stops", f"{found.stops} at random instants; good parts came again after {found.stops - found.failed}"),
        ("apart", apart),
        ("recovery", recovery),
        ("first good part", good),
        ("rejected a stop", rejected),
    ]


def _failing(found: Recovery) -> list[str]:
    """The stops after which no good part came; of the first who stands where, since the others mostly stand as it.

    Stops of a line that stood already say nothing new: where there are others, those are told.
    """
    told = [one for one in found.failing if not one.stood_before][:MOST_TOLD] or list(found.failing[:1])
    lines: list[str] = []
    for count, one in enumerate(told):
        stood = " The line had stood before it already." if one.stood_before else ""
        if count:
            lines += paragraph(f"{_failing_sentence(one)}.", "- ", "  ")
            continue
        lines += ["", *paragraph(f"{_failing_sentence(one)}.{stood} Then these stand still:"), ""]
        lines += columns(("carrier", "stands", "parts", "next"), _STILL_WIDTHS, right=(0, 2))
        for still in one.still:
            cells = (str(still.carrier), still.where, str(still.parts), still.next_step)
            lines += columns(cells, _STILL_WIDTHS, right=(0, 2))
        lines += [""]
    left = found.failed - len(told)
    before = sum(one.stood_before for one in found.failing) - sum(one.stood_before for one in told)
    if left > 0:
        already = f", of which {before} stopped a line that stood already" if before else ""
        lines += paragraph(f"{left} more fail{already}; the JSON has them all.")
    return lines


def _failing_sentence(one: StopOutcome) -> str:
    what = "NO GOOD PART within" if one.good_after_s is None else f"NO MORE GOOD PARTS, after {one.good}, within"
    again = f"; linewright restart --at '{one.at_s:.6f} s' --seed {one.seed} shows the same" if one.from_empty else ""
    return (
        f"{what} {number(one.looked_s / 60, 1)}{KEEP}min after stop {one.number} of line {one.chain}, "
        f"{number(one.at_s / 60, 1)}{KEEP}min after it began empty{again}"
    )
