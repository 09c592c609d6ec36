"""The jam told in words: the steps before, what happens in one, who holds whom, what cures it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from linewright.checks.gridlock import cured_place
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.pictures.style import Lengths
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.wording import invented
from linewright.traffic.gridlock.result import CAN_LOCK, NEVER_LOCKS, Answer, GridlockResult, Jam, Standing, WayStep

MOST_DRAWN: Final = 14
"""A way of more steps is summed up but for its end."""
LAST_DRAWN: Final = 12
"""So many steps are drawn of such a way."""


@dataclass(frozen=True)
class At:
    """Where a carrier stands, by the rank of the stop, and what it carries, as `Standing.carries`."""

    carrier: int
    stop: int
    carries: str


def steps_before(layout: Layout, way: Sequence[WayStep], start: Sequence[At]) -> str:
    """Steps in short, carrier by carrier: from where to where, in how many moves, and how many works ended on it."""
    at = {one.carrier: one.stop for one in start}
    told_of = []
    for carrier in sorted({step.carrier for step in way}):
        own = [step for step in way if step.carrier == carrier]
        moves, works = (sum(step.kind == kind for step in own) for kind in ("moves", "work ends"))
        begin, there = (layout.stops[rank].label for rank in (at.get(carrier, own[0].start), own[-1].stop))
        goes = f"from {begin} to {there} in {_count(moves, 'move')}" if moves else f"at {there}"
        ended = f", {_count(works, 'work')} ended" if works else ""
        changed = "".join(f", {step.kind}" for step in own if step.kind in ("put in", "taken out"))
        told_of.append(f"carrier {carrier} {goes}{ended}{changed}")
    return f"{len(way)} steps, not drawn: {'; '.join(told_of)}."


def _count(number: int, one: str) -> str:
    return f"{number} {one}{'' if number == 1 else 's'}"


def deed(sheet: Sheet, step: WayStep) -> str:
    """What happens in a step, in words."""
    stops, who = sheet.layout.stops, f"carrier {step.carrier}"
    there = stops[step.stop].label
    if step.kind == "moves":
        aboard = "" if stops[step.stop].kind == "aboard" else "to "
        return f"{who} moves from {stops[step.start].label} {aboard}{there}"
    if step.kind == "work ends":
        next_step = sheet.line.route[step.step].name
        return f"work ends at {there}: {who} now carries {step.carries}, next {next_step}"
    return f"{who} is {step.kind} at {there}"


def jam_words(line: Line, layout: Layout, jam: Jam) -> list[str]:
    """Who holds whom all round the ring, who else is held, who can still move, and which stations are lost."""
    at, count = {one.carrier: one for one in (*jam.ring, *jam.others)}, len(jam.ring)
    words = ["One carrier has no way on, whatever the others do:"]
    if count > 1:
        words = [f"{count} carriers hold each other in a ring. All work, repair and feed have ended, and yet:"]
    words += _chains(layout, jam.ring, at)
    if count > 1:
        words.append(f"With carrier {jam.ring[0].carrier} the ring closes: none of these {count} can ever move again.")
    if jam.others:
        words += ["Held for ever too, by these:", *_chains(layout, jam.others, at)]
    free, many = ", ".join(str(carrier) for carrier in jam.free), "s" if len(jam.free) > 1 else ""
    lost = ", ".join(line.stations[station].name for station in jam.stations)
    words.append(f"Still able to move: carrier{many} {free}." if free else "No carrier is able to move.")
    return [*words, f"Stations that never work again: {lost}." if lost else "Every station may work again."]


def _chains(layout: Layout, held: Sequence[Standing], at: dict[int, Standing]) -> list[str]:
    """One line a carrier; those one behind another, of whom each wants the place of the next, together in one."""

    def wants_place(one: Standing) -> bool:
        there = None if one.held_by is None else at.get(one.held_by)
        return one.reason == "way" and there is not None and there.stop == one.wants

    runs: list[list[Standing]] = []
    for one in held:
        joins = runs and runs[-1][-1].held_by == one.carrier and wants_place(runs[-1][-1]) and wants_place(one)
        runs[-1].append(one) if joins else runs.append([one])
    lines = []
    for run in runs:
        who, places = ", ".join(str(one.carrier) for one in run), _places(layout, [one.stop for one in run])
        last = f"carrier {run[-1].carrier} that of carrier {run[-1].held_by}"
        joined = f"– carriers {who} (in this order: {places}): each wants the place of the next, {last}."
        lines += [joined] if len(run) > 2 else [f"– {held_words(layout, one, at)}" for one in run]
    return lines


def _places(layout: Layout, ranks: Sequence[int]) -> str:
    """Stops in a row, the numbers of waiting stops that follow one another without their name repeated."""
    words: list[str] = []
    for is_waiting, some in groupby(ranks, key=lambda rank: layout.stops[rank].kind == "waiting"):
        here = list(some)
        each = [layout.stops[rank].label for rank in here]
        words += [f"waiting stops {', '.join(map(str, here))}"] if is_waiting and len(here) > 1 else each
    return ", ".join(words)


def held_words(layout: Layout, one: Standing, at: dict[int, Standing]) -> str:
    """One carrier that is held: where it is, what it wants, who keeps it from that and how."""
    who = f"carrier {one.carrier} {place_words(layout, one.stop)} ({one.carries})"
    if one.held_by is None:
        return f"{who} has no way to where it is to go."
    holder, there = f"carrier {one.held_by}", at.get(one.held_by)
    wants = "cannot go on" if one.wants is None else f"wants {layout.stops[one.wants].label}"
    wants = wants.replace("wants aboard", "wants the place aboard")
    aboard = "a part of another variant" if there is None else there.carries
    hows = {
        "run-out": f"may not load a part of another variant while {aboard} is on the line: {holder} has it",
        "stretch": f"{wants}, but no more are admitted there: {holder} is one of those within",
        "platform": f"{wants}, but the platform is away with {holder} aboard",
        "direction": f"{wants}, against the direction that {holder} holds",
        "together": f"{wants}: its lane moves together, and {holder} waits there to load",
    }
    if one.reason in hows:
        return f"{who} {hows[one.reason]}."
    if there is None or there.stop == one.wants:
        return f"{who} {wants}, taken by {holder}."
    return f"{who} {wants}, but {holder} stands in the way {place_words(layout, there.stop)}."


def place_words(layout: Layout, rank: int) -> str:
    """Such as ``at station press`` or ``aboard east-lift``."""
    label = layout.stops[rank].label
    return label if layout.stops[rank].kind == "aboard" else f"at {label}"


def cure_words(line: Line, found: GridlockResult) -> list[str]:
    """What cures it: the rule that was proven, or why there is none; and how many carriers are safe."""
    cure, tried = found.cure, found.cures_tried
    if cure is not None:
        proven = (
            "never locks, neither from the planned start nor from any placement"
            if cure.from_any_placement
            else "never locks from the planned start; once hands moved carriers it still can"
        )
        lengths, where = Lengths(line.units), cured_place(cure)
        if cure.from_m is not None and cure.to_m is not None:
            where = f"lane {cure.lanes[0]} from {lengths.text(cure.from_m)} to {lengths.text(cure.to_m)}"
        rule = f"with at most {cure.most} admitted to {where}, the line {proven}"
        words = f"tried and proven for all {found.carriers} carriers: {rule}"
    elif tried:
        words = f"{tried} {'rule of admission was' if tried == 1 else 'rules of admission were'} tried; none does"
    elif found.from_start.outcome == NEVER_LOCKS:
        words = "after a stop in which hands moved carriers, put all of them, empty, as at the planned start"
    elif any(lane.two_way for lane in line.lanes):
        words = "no rule of admission was tried: a two-way lane can have none, it admits one direction at a time"
    elif found.from_start.outcome == CAN_LOCK:
        words = "no rule of admission was tried: the carriers hold each other all along the track"
    else:
        words = "no rule of admission was tried: one is looked for only where a jam from the planned start was shown"
    return [f"What cures it: {words}.", *_fewer(found)]


def _fewer(found: GridlockResult) -> list[str]:
    """How many carriers are safe, where that is fewer than there are."""
    rows = []
    start, anywhere = found.largest_from_start, found.largest_count
    if start and start != anywhere and found.from_start.outcome != NEVER_LOCKS and start < found.carriers:
        rows.append(f"with at most {start} it never locks from the planned start")
    if anywhere and found.from_any_placement.outcome != NEVER_LOCKS and anywhere < found.carriers:
        many = "1 carrier it never locks, wherever it stands" if anywhere == 1 else ""
        rows.append(f"with {many or f'at most {anywhere} it never locks, however they stand'}")
    return [f"{'Or fewer' if found.cure is not None else 'Fewer'} carriers: {'; '.join(rows)}."] if rows else []


def said_of(line: Line, found: GridlockResult, answer: Answer) -> list[str]:
    """What a reader must know before looking."""
    begun = "Begun as planned, this line can lock up"
    if answer is not found.from_start:
        never = found.from_start.outcome == NEVER_LOCKS
        begun = "Begun as planned, this line never locks" if never else "Begun as planned: undecided"
        begun += "; once hands moved carriers, it can lock up"
    said = [f"{begun}, with its {found.carriers} carriers."]
    count = len(answer.way)
    if not answer.way:
        said.append(
            "Put back like this, the line stands locked at once: so it was simulated, and none of the jam moved."
        )
    else:
        order = ", then ".join(f"{len(list(same))} of {one}" for one, same in groupby(answer.loads))
        loads = f" It takes these loads, in this order: {order}." if order else ""
        shortest = " No way has fewer finished works." if answer.shortest else ""
        said.append(
            "The simulation was led along this way, with chosen work times and chosen luck, until it jammed: "
            f"{_count(count, 'step')}.{shortest}{loads}"
        )
        said.append("Each strip shows where everybody stands after its step.")
        if count > MOST_DRAWN:
            said[-1] += f" The first {count - LAST_DRAWN} steps are summed up, the last {LAST_DRAWN} are drawn."
    said[-1] += " Carriers are numbered from 0."
    said += invented(line)
    return said
