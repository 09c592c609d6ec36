"""What ``prove`` says of lock-up: the two questions, how many carriers are safe, the way into the jam, the cure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.checks.gridlock import cured_place
from linewright.handover.prove_story import Names, drawing_lines, jam_lines, start_lines, way_lines
from linewright.handover.wording import WIDTH, fields, heading, number, paragraph
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, UNDECIDED, Answer, Cure, GridlockResult

if TYPE_CHECKING:
    from linewright.line.model import Line

FROM_START: Final = "from the planned start"
AFTER_STOP: Final = "after a stop"

_RULE_NAME: Final = "keep-free"


def gridlock_lines(result: GridlockResult, line: Line, names: Names) -> list[str]:
    """The part of the page that tells whether the line can lock up.

    Parameters
    ----------
    result : of the proof
    line : the line
    names : of its stops and steps
    """
    lines = heading("Can it lock up?") + _questions(result) + _searched(result)
    if result.from_start.jam is not None:
        if result.from_any_placement.outcome == CAN_LOCK:
            words = "What follows is the way from the planned start; a stop may leave the line anywhere on it."
            lines += ["", *paragraph(words)]
        lines += _story("The way into the jam", result.from_start, names)
    elif result.from_any_placement.jam is not None:
        lines += _story("How it locks up after a stop", result.from_any_placement, names)
    return lines + _cure(result, line)


def _questions(result: GridlockResult) -> list[str]:
    rows = [(question, f"{answer.outcome.upper()}. {_rests_on(answer)}") for question, answer in _both(result)]
    rows.append(("carriers", _carriers(result)))
    return fields(rows)


def _both(result: GridlockResult) -> tuple[tuple[str, Answer], tuple[str, Answer]]:
    return (FROM_START, result.from_start), (AFTER_STOP, result.from_any_placement)


def _rests_on(answer: Answer) -> str:
    """The answer's own sentence, with a capital and a full stop, and what was gone through for it."""
    why = answer.why.strip().rstrip(".")
    words = [f"{why[:1].upper()}{why[1:]}."] if why else []
    if answer.states and number(answer.states, 0) not in why and str(answer.states) not in why:
        words.append(f"{number(answer.states, 0)} states were looked at.")
    return " ".join(words)


def _carriers(result: GridlockResult) -> str:
    words = [f"this line has {result.carriers}; at time zero there is room for {result.room}."]
    if result.largest_count is None:
        words.append("Any number that has room never locks, however the carriers stand.")
    elif result.largest_count == 0:
        words.append("No number is safe after a stop: a single carrier can get stuck.")
    else:
        words.append(_safe(result.largest_count))
    more = result.largest_from_start
    if more is not None and result.largest_count is not None and more > result.largest_count:
        words.append(f"From the planned start up to {more} never lock; of more it was not proven.")
    return " ".join(words)


def _safe(count: int) -> str:
    carriers = (
        "1 carrier never locks, wherever it stands"
        if count == 1
        else f"Up to {count} carriers never lock, however they stand"
    )
    return f"{carriers}."


def _searched(result: GridlockResult) -> list[str]:
    """What an answer that is none is worth."""
    open_ones = [question for question, answer in _both(result) if answer.outcome == UNDECIDED]
    if not open_ones:
        return []
    words = (
        f"UNDECIDED IS NO PROOF ({' and '.join(open_ones)}): no jam was shown, and none was ruled out. Treat the line "
        "as one that can lock up until it is decided: with fewer carriers, or with a rule of admission, it may be."
    )
    return ["", *paragraph(words)]


def _story(title: str, answer: Answer, names: Names) -> list[str]:
    jam = answer.jam
    assert jam is not None
    lines = heading(title)
    if answer.way:
        words = (
            f"The simulation was led along this way, with chosen work times and chosen luck, until it jammed: "
            f"{len(answer.way)} {'step' if len(answer.way) == 1 else 'steps'}. Carriers are numbered from 0."
        )
        lines += [*paragraph(words), "", *paragraph("At the beginning they stand so:"), ""]
        lines += start_lines(answer, names)
        lines += ["", *paragraph("Then, one line a step:"), "", *way_lines(answer.way, names)]
    else:
        words = (
            "The line needs not move at all for it: put back like this, it is locked. The simulation was started so, "
            "and none of the ring moved. Carriers are numbered from 0."
        )
        lines += [*paragraph(words), "", *start_lines(answer, names)]
    lines += heading("The jam") + paragraph(_ring_words(len(jam.ring)))
    lines += jam_lines(jam, names)
    return lines + heading("The track at the jam") + drawing_lines(answer, names.layout)


def _ring_words(count: int) -> str:
    if count < 2:
        return "One carrier has no way on, whatever the others do:"
    return f"{count} carriers hold each other in a ring. All work, repair and feed have ended, and yet:"


def _cure(result: GridlockResult, line: Line) -> list[str]:
    answers = (result.from_start.outcome, result.from_any_placement.outcome)
    cure = result.cure
    if cure is None and all(outcome == NEVER_LOCKS for outcome in answers):
        return []
    lines = heading("What cures it")
    if cure is not None:
        proven = (
            "never locks, neither from the planned start nor from any placement"
            if cure.from_any_placement
            else "never locks from the planned start; after a stop it still can"
        )
        words = (
            f"Tried and proven for all {result.carriers} carriers: with at most {cure.most} admitted to "
            f"{cured_place(cure)}, the line {proven}. Put this into the line file:"
        )
        lines += [*paragraph(words), "", *cure_text(cure, line).splitlines(), ""]
        lines += paragraph("What the rule costs, linewright rate tells with the rule in the file.")
    elif result.cures_tried:
        lines += paragraph(f"{result.cures_tried} rules of admission were tried; none was proven to cure it.")
    elif result.from_start.outcome == NEVER_LOCKS:
        words = (
            "No rule of admission was looked for, since begun as planned the line never locks. After a stop, put the "
            "carriers into the order in which they would have come, before the line goes on."
        )
        lines += paragraph(words)
    else:
        lines += paragraph("No rule of admission was tried.")
    if result.largest_count:
        lines += paragraph(f"Fewer carriers do{' too' if cure is not None else ''}. {_safe(result.largest_count)}")
    return lines


def cure_text(cure: Cure, line: Line) -> str:
    """The cure as it is pasted into the line file; in a file that has an admission, a row more under that key.

    Parameters
    ----------
    cure : the rule
    line : the line, for the names that its admission has already
    """
    taken = {stretch.name for stretch in line.admission}
    name = next(n for n in (_RULE_NAME, *(f"{_RULE_NAME}-{i}" for i in range(2, len(taken) + 3))) if n not in taken)
    if cure.from_m is not None and cure.to_m is not None:
        values = [("lane", cure.lanes[0])]
        values += [("from", f"{1e3 * cure.from_m:.10g} mm"), ("to", f"{1e3 * cure.to_m:.10g} mm")]
    else:
        lists = (("lanes", cure.lanes), ("transfers", cure.transfers))
        values = [(key, f"[{', '.join(names)}]") for key, names in lists if names]
    values.append(("most", str(cure.most)))
    head = (
        "admission:      # this key stands in your file already: add what follows below it" if taken else "admission:"
    )
    row = f"  {name}: {{{', '.join(f'{key}: {value}' for key, value in values)}}}"
    if len(row) > WIDTH:
        row = "\n".join([f"  {name}:", *(f"    {key}: {value}" for key, value in values)])
    return f"{head}\n{row}\n"
