"""What stands at the head of the proof's page: may the line be run, what is to be done first, the four results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.handover.pages.prove_story import places_in_words
from linewright.quantities import KEEP, counted, number
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, UNDECIDED

if TYPE_CHECKING:
    from linewright.handover.pages.prove_story import Names
    from linewright.proof import Proof

# A run whose last move ends before this share of it is said to have stood still from then on.
SOON: Final = 0.75

_FIRST: Final = "FIRST TAKE ALL PARTS OFF AND PUT THE CARRIERS AS AT THE PLANNED START"


def first_sentence(proof: Proof) -> str:
    """Whether the line may be run as it is, in capitals.

    It begins with YES, NO, RUN IT, BUT or NOT DECIDED.
    """
    locks = proof.gridlock
    start, anywhere = locks.from_start.outcome, locks.from_any_placement.outcome
    if start == CAN_LOCK:
        cure = "" if locks.cure is None else " A RULE THAT CURES IT STANDS BELOW."
        return f"NO: DO NOT RUN THIS LINE AS IT IS. BEGUN AS PLANNED IT CAN LOCK UP.{cure}"
    if not proof.referee.holds:
        return "NO: DO NOT RUN THIS LINE AS IT IS. ITS CARRIERS BREAK THE RULES OF TRAFFIC."
    if start == UNDECIDED:
        moved = "; ONCE HANDS MOVED CARRIERS IT CAN" if anywhere == CAN_LOCK else ""
        return f"NOT DECIDED: BEGUN AS PLANNED THIS LINE MAY LOCK UP OR NOT{moved}. DO NOT COUNT ON IT."
    if after_every_stop(proof):
        return f"RUN IT, BUT AFTER EVERY STOP, {_FIRST}."
    if anywhere == CAN_LOCK:
        return f"RUN IT, BUT AFTER A STOP IN WHICH CARRIERS WERE MOVED BY HAND, {_FIRST}."
    if anywhere == UNDECIDED:
        return "NOT DECIDED: IT NEVER LOCKS UP BEGUN AS PLANNED; WHETHER IT CAN ONCE HANDS MOVED CARRIERS IS OPEN."
    if proof.recovery is None:
        return "NOT DECIDED: IT NEVER LOCKS UP, BUT ITS STARTING AGAIN COULD NOT BE TRIED."
    return "YES, AS FAR AS ITS TRAFFIC GOES: THIS LINE MAY RUN AS IT IS. IT NEVER LOCKS UP."


def after_every_stop(proof: Proof) -> bool:
    """Whether the line, which never locks begun as planned, may not go on from a stop even where nobody moved one."""
    if proof.gridlock.from_start.outcome != NEVER_LOCKS:
        return False
    if proof.recovery is None:
        return proof.gridlock.from_any_placement.outcome == CAN_LOCK
    return not proof.recovers


def asks_for_the_start(proof: Proof) -> bool:
    """Whether carriers are to be put as at the planned start after some stops."""
    planned = proof.gridlock.from_start.outcome == NEVER_LOCKS
    return planned and (after_every_stop(proof) or proof.gridlock.from_any_placement.outcome != NEVER_LOCKS)


def second_sentence(proof: Proof) -> str:
    """The four results in a row."""
    locks = proof.gridlock
    again = f"it could not be stopped and started here ({proof.no_recovery})"
    if proof.recovery is not None:
        back = proof.recovery.stops - proof.recovery.failed
        again = f"good parts come again after {back} of {proof.recovery.stops} stops in which nobody moved a carrier"
    return (
        f"From the planned start: {locks.from_start.outcome}. From any placement, as hands may leave it: "
        f"{locks.from_any_placement.outcome}. Referee: {_judged(proof)}. Recovery: {again}."
    )


def _judged(proof: Proof) -> str:
    moves = counted(proof.referee.looked.moves, "move")
    if not proof.referee.holds:
        return f"{counted(sum(count for _, count in proof.referee.violated), 'fault')} in {moves} of a run"
    if not proof.referee.looked.moves:
        return "no carrier moves in the run, so nothing could be judged"
    stood = stood_from_min(proof)
    until = "" if stood is None else f" until it stood still after {stood}{KEEP}min"
    return f"carriers keep clear in all {moves} of a run{until}"


def stood_from_min(proof: Proof) -> str | None:
    """When the line of the referee's run stood still for the rest of it, in minutes; None where it did not."""
    if proof.referee.until_us >= SOON * proof.shift_s * 1e6:
        return None
    return number(proof.referee.until_us / 60e6, 1)


def after_stop_sentences(proof: Proof, names: Names) -> tuple[str, ...]:
    """What is to be done after a stop before the line goes on, and why that is enough."""
    if not asks_for_the_start(proof):
        return ()
    found, places = proof.recovery, names.plan.first_stops.tolist()
    if found is not None and found.failed:
        alone = f"do the same, since good parts did not come again after {found.failed} of {found.stops} such stops"
    elif found is not None:
        alone = f"let it go on: good parts came again after all {found.stops} such stops, a sample and no proof"
    elif after_every_stop(proof):
        alone = "do the same, since its going on could not be tried"
    else:
        alone = "its going on could not be tried"
    moved = (
        "If hands moved carriers or took some off the line: before it goes on, take all parts off and put the carriers "
        "as at the planned start. From there it is proven never to lock up."
    )
    planned = (
        f"As at the planned start: {counted(len(places), 'carrier')}, all empty, in the order of their numbers at "
        f"{places_in_words(places, names)}."
    )
    return moved, f"If nobody moved a carrier: {alone}.", planned
