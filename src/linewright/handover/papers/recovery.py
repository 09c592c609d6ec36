"""The recovery sheet: what to do after an emergency stop, and what a stop at each place leaves behind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from linewright.flow.stop_sheet import NotStopped, PlaceStop, StopSheet
from linewright.flow.stopping import AGAIN, BY_HAND, KEPT, NONE, REJECTED, Stopped
from linewright.handover.assumptions import CAUTION
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Document,
    Grid,
    GridColumn,
    Heading,
    Kept,
    Part,
    Points,
    Words,
    grid,
)
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of
from linewright.line.model import Line
from linewright.quantities import KEEP, number, quantity

if TYPE_CHECKING:
    from linewright.handover.files import Content
    from linewright.layout import Layout

TITLE: Final = "Recovery sheet"
# It hangs at a machine.
LETTERS: Final = 1.1
# What becomes of a part, beginning a sentence and in a narrow column; the order is that of what to do about it.
_DONE_WITH: Final = {
    BY_HAND: "Take out by hand",
    REJECTED: "Go to the reject exit",
    AGAIN: "Worked on again",
}
_FATES: Final = {BY_HAND: "by hand", REJECTED: "reject exit", AGAIN: "worked again", KEPT: "kept", NONE: "none aboard"}


def files_of(material: Material) -> dict[str, Content]:
    """The recovery sheet as PDF and HTML.

    Parameters
    ----------
    material : of the line

    Raises
    ------
    NothingToWrite   The line could not be stopped; the text says why.
    """
    sheet = material.stops
    if isinstance(sheet, str):
        raise NothingToWrite(sheet)
    if not sheet.places:
        raise NothingToWrite(
            f"no work and no ride could be interrupted in {number(sheet.run_s / 60.0)} min of simulation"
        )
    return dict(pages_of("recovery", lambda: recovery_document(material, sheet)))


def recovery_document(material: Material, sheet: StopSheet) -> Document:
    """The recovery sheet: what to do, a table of all places, and a part for each place.

    Parameters
    ----------
    material : of the line
    sheet : a stop at each of its places
    """
    line, layout = material.evaluation.line, material.evaluation.layout
    first: tuple[Block, ...] = (
        Heading("After an emergency stop"),
        Words("Power's return never starts motion. A person starts it, once everybody is clear of the line.", True),
        *_warnings(sheet),
        *_what_to_do(line, sheet),
        Caution(CAUTION),
        Heading("A stop at each place", 2),
        Words(_how_to_read(sheet)),
        _table(sheet),
        *_left_out(sheet.not_stopped),
        Heading("What this rests on", 2),
        Points(_rests_on(line, sheet)),
    )
    places = [_place_block(alike, layout, line) for alike in _alike(sheet.places)]
    return document_of(
        TITLE,
        material,
        (
            Part(first, letters=LETTERS),
            Part((Heading("Place by place"), Words(_EXAMPLES, True), Words(_LEGEND), *places), letters=LETTERS),
        ),
    )


_EXAMPLES: Final = (
    "Each is an example of a stop there, at one instant. After a real stop go by what stands on the line and by the "
    "table on the first pages."
)
_LEGEND: Final = (
    "Carriers are named by where they stand or go to. Most to go: nobody knows where on its way a carrier came to "
    "rest, so the whole way counts. There at: from the begin of the recovery. Positions are those of the key "
    "at in the line file."
)


def _warnings(sheet: StopSheet) -> list[Block]:
    """The places after which no good part came, in strong words."""
    dead = [one for one in sheet.places if one.first_good_s is None]
    return [
        Words(
            f"After the stop in the middle of {_name(one)} no good part came within {_minutes(one.looked_s)}{KEEP}min: "
            "do not start again by this sheet before it is known who waits for whom.",
            True,
        )
        for one in dead
    ]


def _what_to_do(line: Line, sheet: StopSheet) -> list[Block]:
    """The steps, in large letters: they are read from the machine."""
    speed = quantity(sheet.speed_m_s, "m/s", line.units)
    exits = [name for step in line.route if step.reject_exit for name in step.stations]
    leave = f"The rejected parts leave at {_names(exits)}: count them. " if exits else ""
    lifts = any(transfer.kind == "lift" for transfer in line.transfers)
    under = " Nobody stands under the platform of a lift." if lifts else ""
    manual = [station.name for station in line.stations if station.work == "manual"]
    reach = f" A part at {_names(manual)} that was not in work is unverified too: reject it." if manual else ""
    look = "Look at every station: no tool in a part or fixture, no part askew, nothing on the track between carriers."
    then = (
        "Platforms under way finish their rides. Then carriers go on one at a time, the farthest downstream first, at "
    )
    steps = (
        "Leave it stopped. Find what stopped it and mend that.",
        f"Before a hand goes to track or feeder, switch the supply off and lock it. {_charge(line)}",
        f"{look}{under} Push no carrier and take none off.",
        f"Do with each part that was in work as the table says.{reach} Keep what is taken out apart from good parts.",
        "Everybody out, guards shut. Someone who sees the whole line acknowledges, and starts the recovery.",
        f"{then}{speed}, each to the stop that is kept for it.",
        f"When all of them stand the line goes on. {leave}Watch until the first good part has come.",
    )
    return [Words(f"{i}. {text}", True) for i, text in enumerate(steps, 1)]


def _charge(line: Line) -> str:
    supply = line.conveyor.supply
    if supply is None or supply.discharge_s is None:
        return "How long it holds charge is not stated (key discharge under supply in the conveyor sheet): measure."
    held = quantity(supply.discharge_s, "s", line.units)
    return f"It holds charge for {held} after that, as the conveyor sheet states: wait, and measure."


def _how_to_read(sheet: StopSheet) -> str:
    times = [one.recovery_s for one in sheet.places]
    goods = [one.first_good_s for one in sheet.places if one.first_good_s is not None]
    good = f", the first good part {_span(goods)}" if goods else ""
    return (
        "Each row is one stop at one instant. Its times count from when a person starts the recovery; finding the "
        f"cause and clearing the line come on top. Over all rows the recovery takes {_span(times)}{good}. How long it "
        "takes depends on who is under way at that instant, which is chance: plan with the longest."
    )


def _table(sheet: StopSheet) -> Grid:
    columns = (
        "stopped in the middle of", "=the part there", ">recovery (s)", ">to reject exit", ">by hand",
        ">first good (s)", ">first good (min)",
    )  # fmt: skip
    rows = []
    for one in sheet.places:
        good = one.first_good_s
        none = f"none in {_minutes(one.looked_s)}"
        times = ("none", none) if good is None else (number(good, 1), _minutes(good))
        counts = (number(one.rejected), number(one.by_hand))
        rows.append((_name(one), _FATES[one.there.fate], number(one.recovery_s, 1), *counts, *times))
    return grid(columns, rows)


def _left_out(rows: Sequence[NotStopped]) -> list[Block]:
    """Why some places are not in the table, those of one reason together."""
    reasons = dict.fromkeys(one.why for one in rows)
    told = [f"{_names([one.place for one in rows if one.why == why])}: not in the table; {why}." for why in reasons]
    return [Points(tuple(told))] if told else []


def _rests_on(line: Line, sheet: StopSheet) -> tuple[str, ...]:
    repeats = [station.name for station in line.stations if station.after_power_loss == "repeat"]
    manual = [station.name for station in line.stations if station.work == "manual"]
    again = f" Work is done again, from its start, at {_names(repeats)}, as the line file states." if repeats else ""
    reach = f" Within reach of a person are the parts at {_names(manual)}." if manual else ""
    instants = (
        f"One stop a place, at one instant of one run (seed {sheet.seed}, {_length(sheet)} long, from "
        f"{number(sheet.settled_s, 1)}{KEEP}s on, when the line is filled). Other instants give other figures."
    )
    unverified = (
        "Unverified are parts in interrupted work and parts within reach of a person. They go to the next reject exit "
        f"after the station; where none follows they are taken out by hand.{again}{reach} Where else a person may "
        "reach in nobody has stated."
    )
    begin = (
        "The line goes on with tools ready, platforms locked, no running time used up and the buffers outside the line "
        "as at first; of a break that is on, the rest is kept."
    )
    moved = (
        "All this holds for carriers that stay where they stopped. Where one was moved or taken off, linewright prove "
        "tells from which placements the line may go on."
    )
    return instants, unverified, begin, moved


def _alike(places: Sequence[PlaceStop]) -> list[list[PlaceStop]]:
    """The stops, those at stations together that leave the same behind: works overlap, and instants are near."""
    found: dict[tuple[object, ...], list[PlaceStop]] = {}
    for one in places:
        apart = "" if one.kind == "station" else one.place
        found.setdefault((apart, one.carriers, one.riding, one.recovery_s, one.first_good_s), []).append(one)
    return list(found.values())


def _place_block(alike: Sequence[PlaceStop], layout: Layout, line: Line) -> Kept:
    """What follows a stop, which is the same for all of these places."""
    place, good = alike[0], alike[0].first_good_s
    where = f"work at {_names([one.place for one in alike])}" if place.kind == "station" else _name(place)
    first = (
        f"no good part came within {_minutes(place.looked_s)}{KEEP}min"
        if good is None
        else f"the first good part comes after {number(good, 1)}{KEEP}s ({_minutes(good)}{KEEP}min)"
    )
    blocks = (
        Heading(f"Stop in the middle of {where}", 2),
        Words(f"Recovery {number(place.recovery_s, 1)}{KEEP}s; {first}.", True),
        Points((*_aboard(place), *_parts_told(place.carriers))),
        Words(_order_told(place)),
    )
    return Kept((*blocks, _order(place.order, layout, line)) if place.order else blocks)


def _name(place: PlaceStop) -> str:
    if place.kind == "station":
        return f"work at {place.place}"
    return f"a ride of {place.place}, {'loaded' if place.there.parts else 'empty'}"


def _aboard(place: PlaceStop) -> list[str]:
    """What becomes of whoever rides at a transfer."""
    if place.kind == "station":
        return []
    what = f"{_count(place.there.parts, 'part')} kept" if place.there.parts else "no part"
    return [f"Aboard {place.place}: {what}; its carrier is among those counted below."]


def _parts_told(carriers: Sequence[Stopped]) -> tuple[str, ...]:
    """What is done with every part, what must be looked at first; carriers without one last."""
    told = []
    for fate, words in _DONE_WITH.items():
        for why in dict.fromkeys(one.why for one in carriers if one.fate == fate):
            group = [one for one in carriers if (one.fate, one.why) == (fate, why)]
            # In the order of travel, as a person goes along the line.
            at = _names([_station(one) for one in reversed(group)])
            told.append(f"{words} ({why}), {_count(sum(one.parts for one in group), 'part')}: {at}.")
    kept = [one for one in carriers if one.fate == KEPT]
    if kept:
        told.append(f"Kept as they are, {_apart(kept, lambda some: _count(sum(one.parts for one in some), 'part'))}.")
    empty = [one for one in carriers if one.fate == NONE]
    if empty:
        told.append(f"Empty, {_apart(empty, lambda some: _count(len(some), 'carrier'))}.")
    return tuple(told)


def _apart(carriers: Sequence[Stopped], count: Callable[[Sequence[Stopped]], str]) -> str:
    """How much stands and how much is under way."""
    stand = [one for one in carriers if one.recovery_begin_s is None]
    go = [one for one in carriers if one.recovery_begin_s is not None]
    told = [f"{count(some)} {where}" for some, where in ((stand, "standing at stops"), (go, "still to go")) if some]
    return ", ".join(told)


def _station(one: Stopped) -> str:
    """The station where a carrier with unverified parts stands."""
    return one.where.split(",")[0].removeprefix("at ").removeprefix("station ")


def _order_told(place: PlaceStop) -> str:
    riding = f"the platforms of {_names(place.riding)} finish their rides" if len(place.riding) > 1 else ""
    if len(place.riding) == 1:
        riding = f"the platform of {place.riding[0]} finishes its ride"
    if place.order:
        before = f"first {riding}; then these carriers" if riding else "these carriers"
        return f"Restart order: {before}, one at a time, each when the one before it stands."
    return f"Restart order: {riding or 'nobody is between two stops'}; no carrier is moved before the line goes on."


def _order(order: Sequence[Stopped], layout: Layout, line: Line) -> Grid:
    """The carriers that are moved, in two halves read one after the other."""
    rows = [(str(i), *_order_cells(one, layout, line)) for i, one in enumerate(order, 1)]
    half = -(-len(rows) // 2)
    right = [*rows[half:], *[("",) * 4] * (2 * half - len(rows))]
    headings = (">", "carrier on its way", ">most to go", ">there at (s)")
    if len(rows) == 1:
        return grid(headings, rows)
    between = GridColumn("", share=0.05)
    return grid([*headings, between, *headings], [(*a, "", *b) for a, b in zip(rows[:half], right, strict=True)])


def _order_cells(one: Stopped, layout: Layout, line: Line) -> tuple[str, str, str]:
    stop = layout.stops[one.stop]
    where = one.where.removeprefix("on the way ")
    if stop.kind != "aboard":
        where += f", {stop.lane} at {quantity(stop.floor_m, 'm', line.units)}"
    assert one.recovery_end_s is not None  # of those that are moved
    return where, quantity(one.to_go_m, "m", line.units), number(one.recovery_end_s, 1)


def _span(times_s: Sequence[float]) -> str:
    least, most = number(min(times_s), 1), number(max(times_s), 1)
    return f"{most}{KEEP}s" if least == most else f"{least} to {most}{KEEP}s"


def _minutes(time_s: float) -> str:
    return number(time_s / 60.0, 1)


def _length(sheet: StopSheet) -> str:
    return f"{number(sheet.run_s / 60.0)}{KEEP}min"


def _count(many: int, what: str) -> str:
    return f"{number(many)} {what}{'' if many == 1 else 's'}"


def _names(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
