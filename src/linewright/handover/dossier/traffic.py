"""The chapter on traffic: what `prove` says of the line, with how much was looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewright.handover.document.blocks import Block, Caution, Facts, Heading, Part, Points, Words
from linewright.handover.dossier.chapter import finding_blocks, shown
from linewright.handover.pages.prove_gridlock import cure_text
from linewright.handover.pages.prove_page import SENT_NEAR, proof_assumptions
from linewright.handover.pages.prove_story import Names
from linewright.handover.pages.prove_verdict import after_stop_sentences, first_sentence, second_sentence
from linewright.handover.subjects import by_subject
from linewright.quantities import KEEP, counted, number

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery
    from linewright.handover.papers.material import Material
    from linewright.proof import Proof
    from linewright.traffic.dead_section import Contact, DeadSection

_BY_HAND = (
    "Power's return never starts motion: a person starts it, who sees the line. Carriers coast when the power goes. "
    "Follow local codes; a competent, licensed person decides."
)


def proof_part(material: Material) -> tuple[Part, ...]:
    """Whether the line can lock up, whether carriers keep clear, and whether it starts again.

    Parameters
    ----------
    material : with a proof, or with why there is none
    """
    proof = material.proof
    title = Heading("Traffic")
    if isinstance(proof, str):
        words = Words(f"NOT CHECKED: {proof}.", strong=True)
        return (Part((title, words, Words("linewright prove LINE looks at it."))),)
    names = Names(proof.layout, proof.plan, proof.line.sequence)
    first: list[Block] = [title, Words(first_sentence(proof), strong=True), Words(second_sentence(proof))]
    after = after_stop_sentences(proof, names)
    if after:
        first += [Heading("After a stop, before it goes on", 2), Points(after)]
    first += [Facts(tuple(_rows(proof, material))), Caution(_BY_HAND)]
    findings = tuple(one for subject in by_subject(proof.findings) for one in subject.findings)
    near = () if material.for_customer or not findings else (Words(SENT_NEAR),)
    rests = (Heading("What this rests on", 2), Points(proof_assumptions(proof)[1:]))
    return (Part((*first, *finding_blocks(findings, material), *near, *rests)),)


def _rows(proof: Proof, material: Material) -> list[tuple[str, str]]:
    locks, looked = proof.gridlock, proof.referee.looked
    rows = [
        ("from the planned start", f"{locks.from_start.outcome}: {locks.from_start.why}"),
        ("from any placement", f"{locks.from_any_placement.outcome}: {locks.from_any_placement.why}"),
    ]
    if locks.cure is not None:
        _, name, *values = (row.strip() for row in cure_text(locks.cure, proof.line).splitlines())
        told = f"{name} {{{', '.join(values)}}}" if values else name
        rows.append(("a rule that cures it", f"tried and proven; under the key admission of the line file: {told}"))
    judged = (
        f"{counted(looked.moves, 'move')} of {number(proof.shift_s / 3600)}{KEEP}h, each integrated anew from the log: "
        f"one carrier next behind another {counted(looked.pairs, 'time')}, {counted(looked.crossings, 'crossing')} to "
        f"or from a platform, {counted(looked.reactions, 'departure')} behind another; {_faults(proof)}"
    )
    rows.append(("referee", judged))
    gap = proof.referee.least_gap
    if gap is not None and not material.for_customer:
        rows.append(("nearest", f"{shown(gap.distance_m, 'm', material)} between two centres, on lane {gap.lane}"))
    rows += _dead_section(proof.dead_section, material)
    return rows + _recovery(proof.recovery, proof.no_recovery)


def _faults(proof: Proof) -> str:
    if proof.referee.holds:
        return "no fault" if proof.referee.looked.moves else "NO CARRIER MOVED, so nothing could be judged"
    kinds = ", ".join(f"{kind} {number(count, 0)}" for kind, count in proof.referee.violated if count)
    return f"FAULTS FOUND: {kinds}; first {proof.referee.violations[0].what}"


def _dead_section(found: DeadSection | None, material: Material) -> list[tuple[str, str]]:
    if found is None:
        return [("section dies", "in this run no two carriers ever move one behind the other")]
    late = (
        f"at every instant of {counted(found.pairs, 'pair')} of moves; the carrier behind brakes "
        f"{shown(found.reaction_s, 's', material)} later"
    )
    rows = [("section dies, stands", f"{late}: {_contact(found.standing, material)}")]
    if found.least_drag_N is None:
        return [*rows, ("section dies, coasts", "not looked at: the sheet states no least_drag under coasting")]
    drag = f"with a drag of {shown(found.least_drag_N, 'N', material)}, the least of the sheet"
    return [*rows, ("section dies, coasts", f"{drag}: {_contact(found.coasting, material)}")]


def _contact(contact: Contact | None, material: Material) -> str:
    if contact is None:
        return "no contact"
    return (
        f"contact at {shown(contact.speed_m_s, 'm/s', material)}, {shown(contact.energy_J, 'J', material)} of "
        f"{shown(contact.moving_mass_kg, 'kg', material)}, lane {contact.lane}, "
        f"{shown(contact.travel_m, 'm', material)} from its start"
    )


def _recovery(found: Recovery | None, why: str) -> list[tuple[str, str]]:
    if found is None:
        return [("stopped and started", f"NOT TRIED: {why}")]
    back = found.stops - found.failed
    told = f"good parts come again after {back} of {found.stops} stops at random instants, nobody moving a carrier"
    after = "" if found.worst_good_after_s is None else (
        f"; the first good part at most {number(found.worst_good_after_s, 1)}{KEEP}s after the line goes on"
    )  # fmt: skip
    took = (
        f"{number(found.mean_recovery_s, 1)}{KEEP}s on average, {number(found.worst_recovery_s, 1)}{KEEP}s at the "
        f"worst, carriers one at a time"
    )
    lost = (
        f"on average {number(found.rejected_per_stop, 1)} a stop flagged for a reject exit, "
        f"{number(found.by_hand_per_stop, 1)} taken out by hand"
    )
    return [("stopped and started", f"{told}{after}"), ("recovery takes", took), ("unverified parts", lost)]
