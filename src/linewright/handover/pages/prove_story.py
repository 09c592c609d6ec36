"""The story of a jam for a person on paper: who stands where, each step of the way in, who holds whom, a drawing."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Final

from linewright.handover.wording import WIDTH, paragraph
from linewright.quantities import KEEP, number

if TYPE_CHECKING:
    from linewright.layout import LaneLayout, Layout, Stop
    from linewright.traffic.gridlock.result import Answer, Jam, Standing, WayStep
    from linewright.traffic.plan import TrafficPlan

# Up to so many carriers all are listed where the way begins; of more only those that the story needs.
FEW: Final = 12
KINDS: Final = {"waiting": ".", "station": "S", "dock": "D"}
DRAWING_KEY: Final = (
    "The rank is the number of a stop, as in waiting stop 12. S: a station, D: a dock, a dot: a waiting stop. "
    "[3]: carrier 3 is in the ring; (4): carrier 4 is held by them; 5 alone: carrier 5 can still move."
)

# The most that a column takes; where the cells need less, the last one has it.
_START_WIDTHS: Final = (7, 34, 24)
_WAY_WIDTHS: Final = (4, 9, 7, 41, 18)
_LABEL_WIDTH: Final = 10


@dataclass(frozen=True, eq=False)
class Names:
    """What stops, steps and stations are called on the page: of a layout and its plan.

    Parameters
    ----------
    layout, plan : of a line
    sequence : of its loads: a variant and how many of it in turn; empty where there is none
    """

    layout: Layout
    plan: TrafficPlan
    sequence: tuple[tuple[str, int], ...] = ()

    def stop(self, rank: int) -> str:
        """Such as ``waiting stop 12``."""
        return self.layout.stops[rank].label

    def at(self, rank: int) -> str:
        """Such as ``at waiting stop 12`` or ``aboard east-lift``."""
        label = self.stop(rank)
        return label if self.layout.stops[rank].kind == "aboard" else f"at {label}"

    def step(self, step: int) -> str:
        """Name of a step of the route."""
        return self.plan.step_names[step]

    def next_of(self, one: Standing) -> str:
        """What a carrier at rest does next."""
        at_work = self.layout.stops[one.stop].kind == "station" and not one.worked
        return f"{self.step(one.step)} (here, not yet done)" if at_work else self.step(one.step)


def grouped(words: str) -> str:
    """Whole numbers that stand alone in a sentence, in groups of three.

    Examples
    --------
    >>> grouped("all 413158 states; 1234.5 s; lane-20000").replace(KEEP, " ")
    'all 413 158 states; 1234.5 s; lane-20000'
    """
    return re.sub(r"(?<![\w.,-])\d{4,}(?![\w,-]|\.\d)", lambda found: number(int(found.group()), 0), words)


def start_lines(answer: Answer, names: Names) -> list[str]:
    """Where everybody stands before the first step, or of many carriers those that the story needs."""
    shown = list(answer.start)
    if len(shown) > FEW:
        needed = _needed(answer)
        shown = [one for one in shown if one.carrier in needed]
    rows = [("carrier", "stands", "carries", "next")]
    shown.sort(key=lambda one: one.carrier)
    rows += [(str(one.carrier), names.at(one.stop), one.carries, names.next_of(one)) for one in shown]
    lines = _table(rows, _START_WIDTHS, right=(0,))
    left = len(answer.start) - len(shown)
    return lines + ([f"The other {left} play{'s' if left == 1 else ''} no part in it."] if left else [])


def places_in_words(ranks: Sequence[int], names: Names) -> str:
    """Stops in a row, the numbers of waiting stops that follow one another without their name repeated."""
    words: list[str] = []
    for is_waiting, some in groupby(ranks, key=lambda rank: names.layout.stops[rank].kind == "waiting"):
        here = list(some)
        if is_waiting and len(here) > 1:
            words.append(f"waiting stops {', '.join(map(str, here))}")
        else:
            words += [names.stop(rank) for rank in here]
    return ", ".join(words)


def way_lines(way: Sequence[WayStep], names: Names) -> list[str]:
    """Each step of the way, one row a step: when, who, from where to where, what it then carries and does next."""
    rows = [("step", "at [s]", "carrier", "does this", "then carries", "next")]
    for count, step in enumerate(way, start=1):
        time = number(step.time_us / 1e6, 1)
        does = _deed(step, names)
        rows.append((str(count), time, str(step.carrier), does, step.carries, names.step(step.step)))
    return _table(rows, _WAY_WIDTHS, right=(0, 1, 2))


def _table(rows: Sequence[Sequence[str]], most: Sequence[int], right: tuple[int, ...]) -> list[str]:
    """Rows one under another, each column as wide as its cells need, up to the most that it may take."""
    needed = [max(len(row[column]) for row in rows) for column in range(len(most))]
    widths = [min(need, limit) for need, limit in zip(needed, most, strict=True)]
    return [line for row in rows for line in columns(row, widths, right)]


def jam_lines(jam: Jam, names: Names) -> list[str]:
    """Who holds whom, all round the ring; then who else is held, who can still move, and which stations are lost."""
    at = {one.carrier: one for one in (*jam.ring, *jam.others)}
    lines = []
    for one in jam.ring:
        lines += paragraph(_held(one, at, names), "- ", "  ")
    if len(jam.ring) > 1:
        first = jam.ring[0].carrier
        lines += paragraph(f"With carrier {first} the ring closes: none of these {len(jam.ring)} can ever move again.")
    elif jam.ring:
        lines += paragraph(f"Carrier {jam.ring[0].carrier} can never move again.")
    if jam.others:
        lines += paragraph("Held for ever too, by these:")
        for one in jam.others:
            lines += paragraph(_held(one, at, names), "- ", "  ")
    free = ", ".join(str(carrier) for carrier in jam.free)
    lines += paragraph(f"Still able to move: carrier {free}." if free else "No carrier is able to move.")
    lost = ", ".join(names.plan.station_names[station] for station in jam.stations)
    return lines + paragraph(f"Stations that never work again: {lost}." if lost else "Every station may work again.")


def drawing_lines(answer: Answer, layout: Layout) -> list[str]:
    """The track lane by lane with the carriers on their stops at the jam; empty where there is none."""
    if answer.jam is None:
        return []
    at = places_at_the_jam(answer)
    ring = {one.carrier for one in answer.jam.ring}
    others = {one.carrier for one in answer.jam.others}
    marks = {
        stop: f"[{carrier}]" if carrier in ring else f"({carrier})" if carrier in others else f" {carrier} "
        for carrier, stop in at.items()
    }
    lines: list[str] = []
    for lane in layout.lanes:
        stops = [stop for stop in layout.stops if stop.lane == lane.name and stop.kind != "aboard"]
        eastward = lane.is_ring or lane.from_ == "west"
        lines += ["", *_rows(_lane_title(lane), stops if eastward else stops[::-1], marks)]
        lines += _stations(stops)
    if layout.transfers:
        lines += ["", "transfers"]
    for transfer in layout.transfers:
        aboard = ", ".join(f"rank {rank}: {marks.get(rank, '').strip() or 'nobody'}" for rank in transfer.aboards)
        words = f"{transfer.name}, from {', '.join(transfer.takes)} to {', '.join(transfer.gives)}; aboard, {aboard}"
        lines += paragraph(words, "  ", "      ")
    return [*lines[1:], "", *paragraph(DRAWING_KEY)]


def places_at_the_jam(answer: Answer) -> dict[int, int]:
    """The stop of each carrier when the way has been gone: carrier number -> rank."""
    at = {one.carrier: one.stop for one in answer.start}
    for step in answer.way:
        if step.kind == "taken out":
            at.pop(step.carrier, None)
        else:
            at[step.carrier] = step.stop
    jam = answer.jam
    return at | ({} if jam is None else {one.carrier: one.stop for one in (*jam.ring, *jam.others)})


def columns(cells: Sequence[str], widths: Sequence[int], right: tuple[int, ...] = ()) -> list[str]:
    """Cells side by side, two spaces between them, long ones on several lines; the last has what the others leave."""
    last = WIDTH - sum(widths) - 2 * len(widths)
    all_widths = (*widths, last)
    wrapped = [_wrapped(cell, width) for cell, width in zip(cells, all_widths, strict=True)]
    lines = []
    for row in range(max(len(cell) for cell in wrapped)):
        texts = [cell[row] if row < len(cell) else "" for cell in wrapped]
        placed = [
            f"{text:>{width}}" if column in right else f"{text:<{width}}"
            for column, (text, width) in enumerate(zip(texts, all_widths, strict=True))
        ]
        lines.append("  ".join(placed).rstrip())
    return lines


def _wrapped(cell: str, width: int) -> list[str]:
    """A cell on lines of its width, broken at spaces and behind strokes: the names of stations that share a step."""
    lines = [""]
    for piece in re.findall(r"[^\s/]*/|[^\s/]+|\s+", cell):
        if len(lines[-1]) + len(piece.rstrip()) <= width:
            lines[-1] += piece
        elif piece.strip():
            lines += textwrap.wrap(piece, width, break_on_hyphens=False)
    return [line.strip() for line in lines if line.strip()] or [""]


def _needed(answer: Answer) -> set[int]:
    """The carriers without which the story cannot be followed."""
    needed = {step.carrier for step in answer.way}
    if answer.jam is not None:
        needed |= {one.carrier for one in (*answer.jam.ring, *answer.jam.others)}
    return needed


def _deed(step: WayStep, names: Names) -> str:
    if step.kind == "moves":
        return f"{names.stop(step.start)} -> {names.stop(step.stop)}"
    what = {"work ends": "work ends at", "taken out": "is taken out at", "put in": "is put in at"}[step.kind]
    return f"{what} {names.stop(step.stop)}"


def loads_sentence(loads: Sequence[str]) -> str:
    """Which loads a way takes, in their order, with a space behind; empty without any.

    Examples
    --------
    >>> loads_sentence(("white", "white", "black")).partition(". ")[0]
    'It takes these loads, in this order: 2 of white, then 1 of black'
    """
    if not loads:
        return ""
    order = ", then ".join(f"{len(list(same))} of {variant}" for variant, same in groupby(loads))
    return (
        f"It takes these loads, in this order: {order}. It begins where they stand in the sequence, to which every run "
        "comes round. "
    )


def _waits_to_load(aboard_words: str, names: Names) -> str:
    """The variant that may come after the one aboard the carrier that holds the gate."""
    aboard = aboard_words.removeprefix("a flagged part of ").removeprefix("a part of ")
    sequence = names.sequence
    after = {sequence[(i + 1) % len(sequence)][0] for i, (variant, _) in enumerate(sequence) if variant == aboard}
    after -= {aboard}
    return f" a part of {' or '.join(sorted(after))}" if after else " a part of another variant"


def _held(one: Standing, at: dict[int, Standing], names: Names) -> str:
    """One carrier of the ring: where it is, what it wants, who keeps it from that and how."""
    who = f"carrier{KEEP}{one.carrier} {names.at(one.stop)} ({one.carries}, next {names.step(one.step)})"
    if one.held_by is None:
        return f"{who} has no way to where it is to go."
    holder = f"carrier{KEEP}{one.held_by}"
    wants = "cannot go on" if one.wants is None else f"wants {names.stop(one.wants)}"
    there = at.get(one.held_by)
    hows = {
        "run-out": _at_the_gate(there, holder, names),
        "stretch": f"{wants}, but no more are admitted there: {holder} is one of those within",
        "platform": f"{wants}, but the platform is away with {holder} aboard",
        "direction": f"{wants}, against the direction that {holder} holds",
    }
    if one.reason in hows:
        return f"{who} {hows[one.reason]}."
    if there is None or there.stop == one.wants:
        return f"{who} {wants}, taken by {holder}."
    return f"{who} {wants}, but {holder} stands in the way {names.at(there.stop)}."


def _at_the_gate(there: Standing | None, holder: str, names: Names) -> str:
    waits = _waits_to_load("" if there is None else there.carries, names)
    aboard = "a part of another variant" if there is None else there.carries
    return f"waits to load{waits}, and may not while {aboard} is on the line: {holder} has it"


def _lane_title(lane: LaneLayout) -> str:
    if lane.is_ring:
        return f"{lane.name}, a ring, in travel from its start"
    ends = "travels both ways" if lane.two_way else f"travels {lane.from_} to {lane.to}"
    arrow = "<->" if lane.two_way else ">>>" if lane.to == "east" else "<<<"
    return f"{lane.name}, west end on the left, {ends} {arrow}"


def _rows(title: str, stops: Sequence[Stop], marks: dict[int, str]) -> list[str]:
    """One lane's stops, as many side by side as the page is wide."""
    cell = max(len(str(stop.index)) for stop in stops) + 3 if stops else 4
    cell = max([cell, *(len(marks.get(stop.index, "")) + 1 for stop in stops)])
    rows = math.ceil(len(stops) * cell / (WIDTH - _LABEL_WIDTH - cell))
    across = math.ceil(len(stops) / max(rows, 1))
    lines = paragraph(title)
    for begin in range(0, len(stops), max(across, 1)):
        part = stops[begin : begin + across]
        lines.append(_row("rank", (f"{stop.index} " for stop in part), cell))
        lines.append(_row("", (f"{KINDS[stop.kind]} " for stop in part), cell))
        lines.append(_row("carrier", (marks.get(stop.index, "") for stop in part), cell))
    return lines


def _row(label: str, cells: Iterable[str], cell: int) -> str:
    return (f"  {label:<{_LABEL_WIDTH - 2}}" + "".join(f"{text:>{cell}}" for text in cells)).rstrip()


def _stations(stops: Sequence[Stop]) -> list[str]:
    """Which station has which rank, and which dock."""
    words = [f"{stop.index} {stop.station}" for stop in stops if stop.kind == "station"]
    words += [f"{stop.index} {stop.label}" for stop in stops if stop.kind == "dock"]
    return paragraph(f"at {', '.join(words)}", "  ", "  ") if words else []
