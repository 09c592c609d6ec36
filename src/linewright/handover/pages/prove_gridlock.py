"""What ``prove`` says of lock-up: the two questions, how many carriers are safe, the way into the jam, the cure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.checks.gridlock import cured_place
from linewright.handover.pages.prove_story import (
    Names,
    drawing_lines,
    grouped,
    jam_lines,
    loads_sentence,
    places_in_words,
    start_lines,
    way_lines,
)
from linewright.handover.wording import WIDTH, fields, heading, paragraph
from linewright.quantities import counted, number
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, UNDECIDED, Answer, Cure, GridlockResult

if TYPE_CHECKING:
    from linewright.line.model import Line

FROM_START: Final = "from the planned start"
FROM_ANYWHERE: Final = "from any placement"

_RULE_NAME: Final = "keep-free"
# A ring of more than so many is not told twice.
_SHORT: Final = 12


def gridlock_lines(result: GridlockResult, line: Line, names: Names) -> list[str]:
    """The part of the page that tells whether the line can lock up.

    Parameters
    ----------
    result : of the proof
    line : the line
    names : of its stops and steps
    """
    lines = heading("Can it lock up?") + fields(_questions(result)) + ["", *paragraph(_MOVED), *_searched(result, line)]
    lines += _cure(result, line)
    if result.from_start.jam is not None:
        lines += _story("The way into the jam", result.from_start, names)
        if result.from_any_placement.jam is not None:
            lines += _second_story(result.from_start, result.from_any_placement, names)
    elif result.from_any_placement.jam is not None:
        lines += _story("How it locks up once hands moved carriers", result.from_any_placement, names)
    return lines


_MOVED: Final = (
    "From any placement means: after a stop, if carriers were moved or taken off by hand, they may stand anywhere, in "
    "any order. That the power goes does not by itself put them out of their order: where nobody moved a carrier, see "
    "Stopped and started again."
)


def _questions(result: GridlockResult) -> list[tuple[str, str]]:
    rows = [(question, f"{answer.outcome.upper()}. {_rests_on(answer)}") for question, answer in _both(result)]
    rows.append(("carriers", f"this line has {result.carriers}; at time zero there is room for {result.room}"))
    if result.largest_count is None:
        return [*rows, ("safe from anywhere", "any number that has room never locks, however the carriers stand")]
    if result.largest_from_start is not None:
        more = (
            "; there is no room for more" if result.largest_from_start >= result.room else "; of more it was not proven"
        )
        rows.append(("safe as planned", f"{_up_to(result.largest_from_start)}{more}"))
    anywhere = "no number is: a single carrier can get stuck"
    if result.largest_count:
        anywhere = f"{_up_to(result.largest_count)}, {_however(result.largest_count)}"
    return [*rows, ("safe from anywhere", anywhere)]


def _up_to(count: int) -> str:
    return "1 carrier never locks" if count == 1 else f"up to {count} carriers never lock"


def _both(result: GridlockResult) -> tuple[tuple[str, Answer], tuple[str, Answer]]:
    return (FROM_START, result.from_start), (FROM_ANYWHERE, result.from_any_placement)


def _rests_on(answer: Answer) -> str:
    """What an answer rests on: of a jam how it was shown, else the answer's own sentence."""
    if answer.outcome == CAN_LOCK and answer.way:
        ends, moves = (sum(step.kind == kind for step in answer.way) for kind in ("work ends", "moves"))
        shown = f"The simulation was led into it: {counted(ends, 'finished work')}, {counted(moves, 'move')}."
        return f"{shown} There is no shorter way: none with fewer finished works." if answer.shortest else shown
    if answer.outcome == CAN_LOCK:
        return "The simulation was started so, and nobody of the jam moved while all other work went on."
    why = answer.why.strip().rstrip(".")
    words = [f"{why[:1].upper()}{why[1:]}."] if why else []
    if answer.states and str(answer.states) not in why and number(answer.states, 0) not in why:
        words.append(f"{counted(answer.states, 'state')} were looked at.")
    return grouped(" ".join(words))


def _searched(result: GridlockResult, line: Line) -> list[str]:
    """What an answer that is none is worth."""
    open_ones = [question for question, answer in _both(result) if answer.outcome == UNDECIDED]
    if not open_ones:
        return []
    rule = "" if _has_no_rule(line) else ", or with a rule of admission that you write (none is looked for here)"
    words = (
        f"UNDECIDED IS NO PROOF ({' and '.join(open_ones)}): no jam was shown, and none was ruled out. Treat the line "
        f"as one that can lock up until it is decided: with fewer carriers{rule} it may be."
    )
    return ["", *paragraph(words)]


def _has_no_rule(line: Line) -> bool:
    """Whether no admission can be stated: a line with a two-way lane has none."""
    return any(lane.two_way for lane in line.lanes)


# ---- the story -------------------------------------------------------------------------------------------------------


def _story(title: str, answer: Answer, names: Names) -> list[str]:
    jam = answer.jam
    assert jam is not None
    lines = heading(title)
    if answer.way:
        words = (
            f"The simulation was led along this way, with chosen work times and chosen luck, until it jammed: "
            f"{counted(len(answer.way), 'step')}. {loads_sentence(answer.loads)}Carriers are numbered from 0."
        )
        lines += [*paragraph(words), "", *paragraph("At the beginning they stand so:"), ""]
        lines += start_lines(answer, names)
        lines += ["", *paragraph("Then, one line a step:"), "", *way_lines(answer.way, names)]
    else:
        lines += [*paragraph(f"{_AT_ONCE} Carriers are numbered from 0."), "", *start_lines(answer, names)]
    lines += heading("The jam") + paragraph(_ring_words(len(jam.ring)))
    lines += jam_lines(jam, names)
    return lines + heading("The track at the jam") + drawing_lines(answer, names.layout)


_AT_ONCE: Final = (
    "Put back like this, the line stands locked at once: nobody need move for it. The simulation was started so, and "
    "none of the jam moved."
)


def _second_story(first: Answer, answer: Answer, names: Names) -> list[str]:
    """The jam from a placement, after one from the planned start was told in full: who holds whom alone."""
    assert first.jam is not None
    assert answer.jam is not None
    lines, ring = heading("Another one, once hands moved carriers"), answer.jam.ring
    if answer.way:
        lines += paragraph(f"It takes {counted(len(answer.way), 'step')} from a placement; the JSON has them.")
    elif {one.stop for one in ring} == {one.stop for one in first.jam.ring}:
        return lines + paragraph("Put back with the same places taken as in this jam, it stands locked at once.")
    else:
        lines += paragraph(_AT_ONCE)
    if len(ring) <= _SHORT:
        return lines + paragraph(_ring_words(len(ring))) + jam_lines(answer.jam, names)
    places = places_in_words([one.stop for one in ring], names)
    return lines + paragraph(f"{len(ring)} carriers hold each other, each held by the next: at {places}.")


def _ring_words(count: int) -> str:
    if count < 2:
        return "One carrier has no way on, whatever the others do:"
    return f"{count} carriers hold each other in a ring. All work, repair and feed have ended, and yet:"


# ---- the cure --------------------------------------------------------------------------------------------------------


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
            else "never locks from the planned start; once hands moved carriers it still can"
        )
        words = (
            f"Tried and proven for all {result.carriers} carriers: with at most {cure.most} admitted to "
            f"{cured_place(cure)}, the line {proven}. Put this into the line file:"
        )
        lines += [*paragraph(words), "", *cure_text(cure, line).splitlines(), ""]
        lines += paragraph("What the rule costs, linewright rate tells with the rule in the file.")
    else:
        lines += paragraph(_no_rule(result, line))
    return lines + _fewer(result)


def _no_rule(result: GridlockResult, line: Line) -> str:
    """Why no rule of admission stands here."""
    if result.cures_tried:
        return f"{counted(result.cures_tried, 'rule')} of admission {_was(result.cures_tried)} tried; none cures it."
    if result.from_start.outcome == NEVER_LOCKS:
        return (
            "No rule of admission was looked for, since begun as planned the line never locks: what to do after a stop "
            "stands above."
        )
    if _has_no_rule(line):
        return "No rule of admission was tried: a two-way lane can have none, since it admits one direction at a time."
    if result.from_start.outcome == UNDECIDED:
        return "No rule of admission was tried: one is looked for only where a jam from the planned start was shown."
    return (
        "No rule of admission was tried: it would have to keep a part of the track free, and here the carriers hold "
        "each other all along it."
    )


def _was(count: int) -> str:
    return "was" if count == 1 else "were"


def _fewer(result: GridlockResult) -> list[str]:
    """Fewer carriers: how many for which question, where that is fewer than there are."""
    rows = []
    start, anywhere = result.largest_from_start, result.largest_count
    if start and start != anywhere and result.from_start.outcome != NEVER_LOCKS and start < result.carriers:
        rows.append(f"with {_up_to_words(start)} it never locks from the planned start")
    if anywhere and result.from_any_placement.outcome != NEVER_LOCKS and anywhere < result.carriers:
        rows.append(f"with {_up_to_words(anywhere)} it never locks, {_however(anywhere)}")
    if not rows:
        return []
    return paragraph(f"{'Or fewer' if result.cure is not None else 'Fewer'} carriers: {'; '.join(rows)}.")


def _however(count: int) -> str:
    return "wherever it stands" if count == 1 else "however they stand"


def _up_to_words(count: int) -> str:
    return "1 carrier" if count == 1 else f"at most {count}"


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
