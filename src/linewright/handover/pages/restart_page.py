"""What ``restart`` gives: who stands where after a stop, what is rejected, when parts come again."""

from __future__ import annotations

import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.assumptions import CAUTION
from linewright.handover.pages.answer import head
from linewright.handover.pages.rate_page import title
from linewright.handover.wording import fields, heading, page, paragraph
from linewright.line.model import Line
from linewright.quantities import KEEP, number

if TYPE_CHECKING:
    from linewright.flow.restart import Restart, Stopped

_WHERE: Final = 40


def restart_page(line: Line, found: Restart) -> str:
    """What follows a stop, on a page of text at most 100 columns wide.

    Parameters
    ----------
    line : the line
    found : see `linewright.flow.restart.restart`
    """
    lines = title(line.name) + paragraph(_first_sentence(found))
    lines += heading("After the stop") + fields(_rows(found))
    lines += heading("Carriers, downstream first") + _table(found.carriers)
    lines += heading("What this rests on")
    for row in _assumptions(found):
        lines += paragraph(row, "- ", "  ")
    return page([*lines, "", *paragraph(f"CAUTION. {CAUTION}")])


def restart_answer(line: Line, found: Restart) -> dict[str, Any]:
    """The same as plain data."""
    return head(line) | {"restart": asdict(found)} | {"assumptions": list(_assumptions(found)), "caution": CAUTION}


def _first_sentence(found: Restart) -> str:
    if found.first_good_s is None:
        hours = number(found.looked_s / 3600)
        return f"NO GOOD PART COMES WITHIN {hours}{KEEP}H AFTER THE LINE GOES ON: look who waits for whom."
    return f"THE FIRST GOOD PART COMES {number(found.first_good_s, 1)} s AFTER THE RECOVERY BEGINS."


def _rows(found: Restart) -> list[tuple[str, str]]:
    under_way = sum(one.recovery_end_s is not None for one in found.carriers)
    slow = f"{under_way} carriers go to their stops, one at a time" if under_way else "nobody was between two stops"
    looked = f"{number(found.looked_s / 60)}{KEEP}min"
    usual = number(found.usual_good, 0)
    if found.at_s < found.looked_s:
        usual = f"at a rate of {usual}"
    rejected = sum(one.parts for one in found.carriers if one.fate == "rejected")
    return [
        ("stop", f"{number(found.at_s / 60, 1)}{KEEP}min after the run began; seed {found.seed}"),
        ("recovery", f"{number(found.recovery_s, 1)}{KEEP}s: {slow}"),
        ("rejected", f"{found.rejected} parts: {rejected} at a reject exit, {found.rejected - rejected} by hand"),
        ("good parts", f"{number(found.good)} in the {looked} after; before the stop it made {usual} in as long"),
    ]


def _table(carriers: tuple[Stopped, ...]) -> list[str]:
    lines = [f"{'carrier':>7}  {'where':<{_WHERE}}{'to go':>9}{'goes at':>10}{'is there':>10}  parts"]
    for one in carriers:
        to_go = f"{number(1e3 * one.to_go_m, 0)} mm" if one.to_go_m else "-"
        begin, end = (
            "-" if time is None else f"{number(time, 1)} s" for time in (one.recovery_begin_s, one.recovery_end_s)
        )
        parts = f"{one.parts} {one.fate}" if one.parts else one.fate
        first, *others = textwrap.wrap(one.where, _WHERE - 1)
        lines.append(f"{one.carrier:>7}  {first:<{_WHERE}}{to_go:>9}{begin:>10}{end:>10}  {parts}")
        lines += [f"{'':>9}{other}" for other in others]
        lines += [f"{'':>9}{one.why}"] if one.why else []
    return lines


def _assumptions(found: Restart) -> tuple[str, ...]:
    never = (
        "Power's return never starts motion: the recovery begins when a person starts it. The time until then, for "
        "finding the cause and clearing people away, is not counted."
    )
    slow = (
        "Carriers under way go on to the stop kept for them, downstream first, one at a time, at "
        f"{number(found.speed_m_s)} m/s; each counts with its whole leg, since nobody knows where it came to rest."
    )
    parts = (
        "Parts in interrupted work and parts at manual stations count as unverified. Where else a person may reach in "
        "nobody has stated here."
    )
    then = (
        "The line then goes on with tools ready, platforms locked, no running time used up, the buffers outside the "
        "line as at first, variants in their order; of a break that is on, the rest is kept."
    )
    return never, slow, parts, then, "One stop at one instant of one run. Other instants give other figures."
