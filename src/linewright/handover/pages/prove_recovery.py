"""What ``prove`` says of a line that is stopped again and again: how often it goes on, and where it does not, why."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING, Final

from linewright.handover.pages.prove_story import columns
from linewright.handover.wording import WIDTH, fields, heading, paragraph
from linewright.quantities import KEEP, counted, number
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery, StopOutcome
    from linewright.line.model import Line
    from linewright.proof import Proof

# So many of what was found are told on the page; all are counted.
MOST_TOLD: Final = 5

_STILL_WIDTHS: Final = (7, 44, 5)


def recovery_lines(proof: Proof) -> list[str]:
    """The part of the page about stops in which nobody moved a carrier.

    Parameters
    ----------
    proof : of a line
    """
    lines = heading("Stopped and started again")
    found = proof.recovery
    if found is None:
        return lines + paragraph(f"NOT TRIED: {proof.no_recovery}.")
    lines += paragraph("After each of these stops every carrier goes on from where the stop left it: nobody moves one.")
    return lines + fields(_rows(found)) + _failing(found, proof.line) + _what_helps(proof, found)


def _rows(found: Recovery) -> list[tuple[str, str]]:
    apart = (
        f"at least {number(found.least_next_s / 60, 1)}{KEEP}min, on average "
        f"{number(found.mean_next_s / 60, 1)}{KEEP}min; {counted(found.chains, 'run')}, each begun empty and stopped "
        f"again and again, begun anew only after a stop that fails; seed {found.seed}"
    )
    recovery = (
        f"{number(found.mean_recovery_s, 1)}{KEEP}s on average, {number(found.worst_recovery_s, 1)}{KEEP}s at the "
        f"worst, carriers one at a time at {number(found.speed_m_s)}{KEEP}m/s"
    )
    unverified = (
        f"on average {number(found.rejected_per_stop, 1)} a stop flagged for a reject exit, "
        f"{number(found.by_hand_per_stop, 1)} taken out by hand"
    )
    return [
        ("stops", f"{found.stops} at random instants; good parts came again after {found.stops - found.failed}"),
        ("apart", apart),
        ("recovery", recovery),
        ("first good part", _first_good(found)),
        ("unverified parts", unverified),
    ]


def _first_good(found: Recovery) -> str:
    if found.worst_good_after_s is None or found.median_good_after_s is None:
        return "came after no stop" if not any(one.good for one in found.failing) else "some came, then none any more"
    after = "all stops" if not found.failed else f"the {counted(found.stops - found.failed, 'stop')} that hold"
    return (
        f"of {after}: half have it within {number(found.median_good_after_s, 1)}{KEEP}s after the line goes on, all "
        f"within {number(found.worst_good_after_s, 1)}{KEEP}s"
    )


def _failing(found: Recovery, line: Line) -> list[str]:
    """The stops after which no good part came; of the first who stands where, since the others mostly stand as it.

    Stops of a line that stood already say nothing new: where there are others, those are told; first those that
    `restart` can show.
    """
    fresh = sorted((one for one in found.failing if not one.stood_before), key=lambda one: not one.from_empty)
    told = fresh[:MOST_TOLD] or list(found.failing[:1])
    lines: list[str] = []
    for count, one in enumerate(told):
        if count:
            lines += [*paragraph(f"{_sentence(one)}.", "- ", "  "), *_command(one, line)]
            continue
        stood = " The line had stood before it already." if one.stood_before else ""
        lines += ["", *paragraph(f"{_sentence(one)}.{stood}"), *_command(one, line)]
        lines += ["", *paragraph("Then these stand still:"), ""]
        lines += columns(("carrier", "stands", "parts", "next"), _STILL_WIDTHS, right=(0, 2))
        for still in one.still:
            cells = (str(still.carrier), still.where, str(still.parts), still.next_step)
            lines += columns(cells, _STILL_WIDTHS, right=(0, 2))
        lines += [""]
    left = found.failed - len(told)
    before = sum(one.stood_before for one in found.failing) - sum(one.stood_before for one in told)
    if left > 0:
        which = "all" if before == left else f"{before}"
        already = f", {which} of them stops of a line that stood already" if before else ""
        lines += paragraph(f"{left} more fail{'s' if left == 1 else ''}{already}; the JSON has them all.")
    return lines


def _sentence(one: StopOutcome) -> str:
    what = "NO GOOD PART within" if one.good_after_s is None else f"NO MORE GOOD PARTS, after {one.good}, within"
    seen = "" if one.from_empty else "; linewright restart cannot show it, since stops came before it"
    return (
        f"{what} {number(one.looked_s / 60, 1)}{KEEP}min after stop {one.number} of run {one.chain}, "
        f"{number(one.at_s / 60, 1)}{KEEP}min after that began empty{seen}"
    )


def _command(one: StopOutcome, line: Line) -> list[str]:
    """The command that shows the same stop, on lines of its own that a shell takes as they are."""
    if not one.from_empty:
        return []
    file = "LINE" if line.document is None else shlex.quote(line.document.file)
    options = f"--at '{one.at_s:.6f} s' --seed {one.seed}"
    whole, head = f"    linewright restart {file} {options}", f"    linewright restart {file} \\"
    if len(whole) <= WIDTH:
        return [whole]
    return [head if len(head) <= WIDTH else "    linewright restart LINE \\", f"        {options}"]


def _what_helps(proof: Proof, found: Recovery) -> list[str]:
    """What may be done about stops that fail."""
    if not found.failed:
        return []
    if proof.gridlock.from_start.outcome == CAN_LOCK:
        words = "The line can lock up without any stop: cure that first, then look at these again."
        return ["", *paragraph(words)]
    lines = ["", *paragraph("What helps; none of it was tried, so write it into the line file and prove again:")]
    lost = sum(one.rejected + one.by_hand > 0 for one in found.failing)
    if lost:
        words = (
            f"At {lost} of the {counted(found.failed, 'stop')} that fail{'s' if found.failed == 1 else ''}, unverified "
            "parts were flagged or taken out, so that their carriers go another way than planned. Where a work may be "
            "done again, say so at the station: after_power_loss: repeat. Then the part stays where it is in the order."
        )
        lines += paragraph(words, "- ", "  ")
    largest = proof.gridlock.largest_count
    if largest is not None and 0 < largest < proof.gridlock.carriers:
        words = f"Fewer carriers: {largest} never lock{'s' if largest == 1 else ''}, however they stand."
        lines += paragraph(words, "- ", "  ")
    planned = ", or put all of them as at the planned start" if proof.gridlock.from_start.outcome == NEVER_LOCKS else ""
    return lines + paragraph(f"By hand, after the stop: lead who stands in the way off the line{planned}.", "- ", "  ")
