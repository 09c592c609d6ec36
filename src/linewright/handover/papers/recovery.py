"""The recovery sheet: what to do after an emergency stop, and what a stop at each place leaves behind."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from linewright.checks.safety.line_rows import FOR_NO_VOLTAGE
from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding
from linewright.flow.restart import SPEED_M_S
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
    Tag,
    Words,
    grid,
)
from linewright.handover.papers.calendar import above_trip
from linewright.handover.papers.material import NOT_ASKED, Material, NothingToWrite
from linewright.handover.papers.rows import document_of, pages_of
from linewright.handover.wording import figures
from linewright.line.model import Line
from linewright.quantities import KEEP, counted, joined, number, quantity

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery
    from linewright.handover.files import Content
    from linewright.layout import Layout, Stop

TITLE: Final = "Recovery sheet"
# It hangs at a machine.
LETTERS: Final = 1.1
MINUTES_FROM_S: Final = 120.0
"""From how long on a time is told in minutes. [s]"""
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
        *_unsafe(material),
        *_warnings(sheet, _recovery_of(material)),
        *_what_to_do(material, sheet),
        *_BLANKS,
        Caution(CAUTION),
        Heading("How long it takes", 2),
        *_plan_with(sheet, material),
    )
    second: tuple[Block, ...] = (
        Heading("A stop at each place"),
        Words(_how_to_read(sheet)),
        _table(sheet),
        *_left_out(sheet.not_stopped),
        Heading("What this rests on", 2),
        Points(_rests_on(line, sheet)),
        Heading("Place by place"),
        Words(_EXAMPLES, True),
        Words(_LEGEND),
    )
    places = [_place_block(alike, layout, line) for alike in _alike(sheet.places)]
    return document_of(TITLE, material, (Part(first, letters=LETTERS), Part((*second, *places))))


_EXAMPLES: Final = (
    "Each is an example of a stop there, at one instant. After a real stop go by what stands on the line and by the "
    "table: what becomes of the part there holds at every instant."
)
_LEGEND: Final = (
    "Carriers are named by where they stand or go to. Most to go: nobody knows where on its way a carrier came to "
    "rest, so the whole way counts. There at: from the begin of the recovery; these times wait for no platform. The "
    "recovery ends with the last of them; where a carrier stands on a platform or goes to one, the slowest ride of any "
    "platform is added after that. Positions are those of the key at in the line file."
)


# Filled in by hand at the machine: no key of the line file says any of it.
_BLANKS: Final = (
    Kept(
        (
            Heading("To be filled in at the machine", 2),
            Grid(
                tuple(GridColumn(words, share=share) for words, share in (("what", 1.0), ("here", 2.0)) * 2),
                (
                    ("cabinet", "", "whom to call", ""),
                    ("isolator", "", "who may start the recovery", ""),
                    ("reset place", "", "a stuck press or tool: builder's instruction", ""),
                ),
                row_mm=9.0,
            ),
        )
    ),
)


# Of rows that do not hold: what they do, and what has to be done with them.
_BAD: Final = (("fails", "fail", "mended"), ("not checked", "are not checked", "checked"))


def _unsafe(material: Material) -> list[Block]:
    """The rows of safety that do not hold: who reads this sheet is about to go there."""
    found = [one for one in material.evaluation.findings if one.subject == "safety"]
    bad = [one for verdict in WORST_FIRST[:2] for one in found if one.verdict == verdict]
    if not bad:
        return []
    units = material.evaluation.line.units
    verdicts = {one.verdict for one in bad}
    words = [said for verdict, *said in _BAD if verdict in verdicts]
    fail, mended = (" or ".join(some) for some in zip(*words, strict=True))
    warned = f"As planned these rows of safety {fail}: do not send anybody there before they are {mended}."
    rows = [(Tag(one.verdict), one.code, _place_of(one), figures(one, units, with_margin=False)) for one in bad]
    columns = ("=", "=row", GridColumn("where", share=2.0), GridColumn("value and limit", share=1.0))
    return [Kept((Words(warned, True), grid(columns, rows)))]


def _place_of(finding: Finding) -> str:
    """Of a finding what comes before its figures."""
    return re.split("[:;] ", finding.where, maxsplit=1)[0]


def _recovery_of(material: Material) -> Recovery | None:
    """The line stopped again and again, where its proof is at hand."""
    return None if isinstance(material.proof, str) else material.proof.recovery


def _warnings(sheet: StopSheet, proven: Recovery | None) -> list[Block]:
    """The places after which no good part came, and such stops of the proof, in strong words."""
    after = [
        f"After the stop in the middle of {_name(one)} no good part came within {_minutes(one.looked_s)}{KEEP}min"
        for one in sheet.places
        if one.first_good_s is None
    ]
    if proven is not None and proven.failed:
        after.append(f"After {proven.failed} of {counted(proven.stops, 'random stop')} of the proof no good part came")
    know = "do not start again by this sheet before it is known who waits for whom"
    return [Words(f"{one}: {know}.", True) for one in after]


def _what_to_do(material: Material, sheet: StopSheet) -> list[Block]:
    """The steps, in large letters: they are read from the machine."""
    line = material.evaluation.line
    speed = quantity(sheet.speed_m_s, "m/s", line.units)
    exits = [name for step in line.route if step.reject_exit for name in step.stations]
    leave = f"The rejected parts leave at {joined(exits)}: count them. " if exits else ""
    lifts = any(transfer.kind == "lift" for transfer in line.transfers)
    under = " Nobody stands under the platform of a lift." if lifts else ""
    manual = [station.name for station in line.stations if station.work == "manual"]
    reach = f" A part at {joined(manual)} that was not in work is unverified too: reject it." if manual else ""
    look = "Look at every station: no tool in a part or fixture, no part askew, nothing on the track between carriers."
    stuck = "A press or tool stuck in a part is freed as the machine builder's instruction says (below), not otherwise."
    then = (
        "Nobody pushes: the control moves the carriers, once that person has acknowledged. Platforms under way finish "
        "their rides. Carriers go on one at a time, the farthest downstream first, at "
    )
    steps = (
        "Leave it stopped. Find what stopped it and mend that.",
        f"Before a hand goes to track or feeder, switch the supply off and lock it. {_charge(material.evaluation)}",
        f"{look}{under} {stuck} Push no carrier and take none off.",
        f"Do with each part that was in work as the table overleaf says.{reach} Keep apart what is taken out.",
        "Everybody out, guards shut. Someone who sees the whole line acknowledges, and starts the recovery.",
        f"{then}{speed}, each to the stop that is kept for it.",
        f"When all of them stand the line goes on. {leave}Watch until the first good part has come.",
    )
    return [Words(f"{i}. {text}", True) for i, text in enumerate(steps, 1)]


def _charge(evaluation: Evaluation) -> str:
    line, supply = evaluation.line, evaluation.line.conveyor.supply
    if supply is None or supply.discharge_s is None:
        return "How long it holds charge is not stated (key discharge under supply in the conveyor sheet): measure."
    held = quantity(supply.discharge_s, "s", line.units)
    beyond = f" {FOR_NO_VOLTAGE}." if above_trip(evaluation) else ""
    return f"It holds charge for {held} after that, as the conveyor sheet states: wait, and measure.{beyond}"


def _how_to_read(sheet: StopSheet) -> str:
    # At which `restart` goes unless told otherwise.
    usual = sheet.speed_m_s == SPEED_M_S
    speed = "" if usual else f' --speed "{sheet.speed_m_s!r} m/s"'
    again = f'linewright restart LINE --at "{_instant(sheet.places[0])} s"{speed} --seed {sheet.seed}'
    return (
        "Each row is one stop at one instant; the instants lie apart, over one run, since who is under way at an "
        "instant is chance. Times count from the start of the recovery, when a person has acknowledged; finding the "
        f"cause and clearing the line come on top. The first row again: {again} (LINE is the line file)."
    )


def _plan_with(sheet: StopSheet, material: Material) -> list[Block]:
    """How long the recovery takes over the rows, at worst over the stops of the proof, and what to plan with."""
    times = [one.recovery_s for one in sheet.places]
    goods = [one.first_good_s for one in sheet.places if one.first_good_s is not None]
    good = f", the first good part {_span(goods)}" if goods else ""
    rows = f"Over all stops of the table the recovery takes {_span(times)}{good}."
    proven = _recovery_of(material)
    if proven is None:
        longest = f"the worst stop may take longer than the longest row, {_time(max(times))}"
        ask = (
            f"The worst of 200 random stops: linewright prove LINE --seed {sheet.seed}. Plan with the longest of both."
        )
        return [Words(f"{rows} {_why_unproven(material)}: {longest}."), Words(ask, True)]
    # Both from the start of the recovery, as in the table.
    after = [one.recovery_s + one.good_after_s for one in proven.outcomes if one.holds and one.good_after_s is not None]
    worst = max(proven.worst_recovery_s, *times)
    told = (
        f"{rows} Over {counted(proven.stops, 'random stop')} of the proof (seed {proven.seed}) the recovery takes "
        f"{_time(proven.mean_recovery_s)} on average, at most {_time(proven.worst_recovery_s)}"
    )
    plan = f"Plan with {_time(worst)} for the recovery"
    if after and proven.worst_good_after_s is not None:
        told += (
            f"; the first good part at most {_time(max(after))} from the start of the recovery, and at most "
            f"{_time(proven.worst_good_after_s)} after the line goes on"
        )
        plan += f" and {_time(max([*after, *goods]))} until the first good part, both from the start of the recovery"
    return [Words(f"{told}."), Words(f"{plan}.", True)]


def _why_unproven(material: Material) -> str:
    """Why no worst stop is known, beginning a sentence."""
    proof = material.proof
    if proof == NOT_ASKED:
        return "The proof was not run with this sheet"
    return f"The proof tells no worst stop ({proof if isinstance(proof, str) else proof.no_recovery})"


def _table(sheet: StopSheet) -> Grid:
    columns = (
        "stopped in the middle of", ">stopped at (s)", "=the part there", ">recovery (s)", ">to reject exit",
        ">by hand", ">first good",
    )  # fmt: skip
    rows = []
    for one in sheet.places:
        good = one.first_good_s
        first = f"none in {_minutes(one.looked_s)}{KEEP}min" if good is None else _time(good)
        counts = (number(one.rejected), number(one.by_hand))
        there = _FATES[one.there.fate]
        rows.append((_name(one), _instant(one), there, number(one.recovery_s, 1), *counts, first))
    return grid(columns, rows)


def _instant(place: PlaceStop) -> str:
    """When the stop comes, as it is typed in again: plain digits without groups. [s]"""
    text = f"{place.at_s:.6f}".rstrip("0")
    return text + "0" * (3 - len(text.partition(".")[2]))


def _left_out(rows: Sequence[NotStopped]) -> list[Block]:
    """Why some places are not in the table, those of one reason together."""
    reasons = dict.fromkeys(one.why for one in rows)
    told = [f"{joined([one.place for one in rows if one.why == why])}: not in the table; {why}." for why in reasons]
    return [Points(tuple(told))] if told else []


def _rests_on(line: Line, sheet: StopSheet) -> tuple[str, ...]:
    repeats = [station.name for station in line.stations if station.after_power_loss == "repeat"]
    manual = [station.name for station in line.stations if station.work == "manual"]
    again = f" Work is done again, from its start, at {joined(repeats)}, as the line file states." if repeats else ""
    reach = f" Within reach of a person are the parts at {joined(manual)}." if manual else ""
    instants = (
        f"One stop a place, at one instant of one run (seed {sheet.seed}, {_length(sheet)} long, from "
        f"{number(sheet.settled_s, 1)}{KEEP}s on, when the line is filled). Other instants give other figures. "
        "Stopped at: from the begin of that run."
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
    where = f"work at {joined([one.place for one in alike])}" if place.kind == "station" else _name(place)
    first = (
        f"no good part came within {_minutes(place.looked_s)}{KEEP}min"
        if good is None
        else f"the first good part comes after {_time(good)}"
    )
    blocks = (
        Heading(f"Stop in the middle of {where}", 2),
        Words(f"Recovery {number(place.recovery_s, 1)}{KEEP}s{_ending(place)}; {first}.", True),
        Points((*_aboard(place), *_parts_told(place.carriers, _riding(place, layout)))),
        Words(_order_told(place)),
    )
    return Kept((*blocks, _order(place.order, layout, line)) if place.order else blocks)


def _ending(place: PlaceStop) -> str:
    """What comes after the last slow move, so that the recovery ends later than its last row."""
    if place.ride_s > 0.0:
        return f", the last {_time(place.ride_s)} for the slowest ride of a platform"
    return ", nothing added for a platform that no carrier stands on or goes to" if place.riding else ""


def _name(place: PlaceStop) -> str:
    if place.kind == "station":
        return f"work at {place.place}"
    return f"a ride of {place.place}, {'loaded' if place.there.parts else 'empty'}"


def _aboard(place: PlaceStop) -> list[str]:
    """What becomes of whoever rides at a transfer."""
    if place.kind == "station":
        return []
    what = f"{counted(place.there.parts, 'part')} kept" if place.there.parts else "no part"
    return [f"Aboard {place.place}: {what}; its carrier is among those counted below."]


def _riding(place: PlaceStop, layout: Layout) -> frozenset[int]:
    """The carriers that stand on a platform under way."""
    found = [one for one in place.carriers if one.recovery_begin_s is None]
    return frozenset(one.carrier for one in found if _platform(layout.stops[one.stop]) in place.riding)


def _platform(stop: Stop) -> str | None:
    return stop.transfer if stop.kind == "aboard" else None


def _parts_told(carriers: Sequence[Stopped], riding: frozenset[int]) -> tuple[str, ...]:
    """What is done with every part, what must be looked at first; carriers without one last."""

    def parts(some: Sequence[Stopped]) -> str:
        return counted(sum(one.parts for one in some), "part")

    told = []
    for fate, words in _DONE_WITH.items():
        for why in dict.fromkeys(one.why for one in carriers if one.fate == fate):
            group = [one for one in carriers if (one.fate, one.why) == (fate, why)]
            # In the order of travel, as a person goes along the line.
            at = joined([_station(one) for one in reversed(group)])
            told.append(f"{words} ({why}), {parts(group)}: {at}.")
    kept = [one for one in carriers if one.fate == KEPT]
    if kept:
        told.append(f"Kept as they are, {_apart(kept, riding, parts)}.")
    empty = [one for one in carriers if one.fate == NONE]
    if empty:
        told.append(f"Empty, {_apart(empty, riding, lambda some: counted(len(some), 'carrier'))}.")
    return tuple(told)


def _apart(carriers: Sequence[Stopped], riding: frozenset[int], count: Callable[[Sequence[Stopped]], str]) -> str:
    """How much stands, how much is on a platform under way and how much is still to be moved."""
    go = [one for one in carriers if one.recovery_begin_s is not None]
    rest = [one for one in carriers if one.recovery_begin_s is None]
    ride = [one for one in rest if one.carrier in riding]
    stand = [one for one in rest if one.carrier not in riding]
    groups = ((stand, "standing at stops"), (ride, "riding on a platform"), (go, "still to go"))
    return ", ".join(f"{count(some)} {where}" for some, where in groups if some)


def _station(one: Stopped) -> str:
    """The station where a carrier with unverified parts stands."""
    return one.where.split(",")[0].removeprefix("at ").removeprefix("station ")


def _order_told(place: PlaceStop) -> str:
    riding = f"the platforms of {joined(place.riding)} finish their rides" if len(place.riding) > 1 else ""
    if len(place.riding) == 1:
        riding = f"the platform of {place.riding[0]} finishes its ride"
    if place.order:
        beside = f"; {riding}" if riding else ""
        return f"Restart order: these carriers, each when the one before it stands{beside}."
    still = riding or "nobody is between two stops"
    return f"Restart order: {still}; no carrier is moved before the line goes on."


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
    least, most = _time(min(times_s)), _time(max(times_s))
    if least == most:
        return most
    figure, unit = least.rsplit(KEEP, 1)
    return f"{figure if unit == most.rsplit(KEEP, 1)[1] else least} to {most}"


def _time(time_s: float) -> str:
    """In minutes from two minutes on."""
    return f"{number(time_s, 1)}{KEEP}s" if time_s <= MINUTES_FROM_S else f"{_minutes(time_s)}{KEEP}min"


def _minutes(time_s: float) -> str:
    return number(time_s / 60.0, 1)


def _length(sheet: StopSheet) -> str:
    return f"{number(sheet.run_s / 60.0)}{KEEP}min"
