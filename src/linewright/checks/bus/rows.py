"""The bus of a line: does its process image fit, and does the controller answer in the time that the rate assumes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.checks.bus.frames import CyclicBudget, cyclic_budget, most_data_bytes
from linewright.checks.bus.timing import ReactionBudget, reaction_budget
from linewright.errors import Place
from linewright.findings import TIGHT_MARGIN, Finding, Verdict, judge
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.ratings import ImageSheet
from linewright.line.spoken import plain
from linewright.remedies import rounded_away, spare_for, value_that_holds
from linewright.tables import Column, Table

SUBJECT: Final = "bus"
PAGE: Final = "docs/limits/bus.md"
LEAST_SCAN_S: Final = 1e-6
"""A scan time is never sought below that. [s]"""


@dataclass(frozen=True, eq=False)
class BusResult:
    """What is known of the bus of a line.

    Parameters
    ----------
    findings : the rows
    image : part, count, bytes_each, bytes; None where a figure of it is missing
    image_bytes : of the whole process image; None as above
    most_carriers : the greatest number of carriers with which the process image and its frames fit, as far as their
        limits are stated; None where neither is
    budget : frames and time on the wire; None without bytes or bit rate
    reaction : of bus, program and bus; None where no controls are stated
    assumed_s : the least reaction time that the rate assumes. [s]
    """

    findings: tuple[Finding, ...]
    image: Table | None
    image_bytes: int | None
    most_carriers: int | None
    budget: CyclicBudget | None
    reaction: ReactionBudget | None
    assumed_s: float


def check_bus(line: Line, layout: Layout) -> BusResult:
    """Whether the process image fits on the bus, and whether the controller answers in time.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    BusResult   Findings ``image-bytes``, ``wire-time``, ``bus-cycle`` (only where it fails), ``reaction-time``,
                ``carrier-identity``; ``process-image`` where the sheet states no process image.

    Notes      Formulas, codes and remedies stand in docs/limits/bus.md.
    Source     docs/limits/bus.md.
    """
    sheet = line.conveyor.image
    transfers = len(layout.transfers)
    reaction, assumed_s, of_reaction = _reaction(line, sheet)
    if sheet is None:
        remedy = "state the key image in the conveyor sheet, with bytes_per_carrier, cycle and its other keys"
        row = _unchecked("process-image", "the sheet states no process image", line.conveyor.place("image"), remedy)
        return BusResult((row, *of_reaction), None, None, None, None, reaction, assumed_s)
    carriers = most_at_once(line)
    image = _image(carriers, sheet, transfers)
    image_bytes = None if image is None else int(image["bytes"].sum())
    budget = None
    if image_bytes is not None and sheet.bit_rate_bit_s is not None:
        budget = cyclic_budget(image_bytes, sheet.cycle_s, sheet.bit_rate_bit_s)
    room = _room_for_carriers(sheet, carriers, image_bytes)
    known = [count for count in room if count is not None]
    findings = (
        _bytes_row(line, sheet, carriers, transfers, image_bytes, room[0]),
        *_wire_row(line, sheet, carriers, image_bytes, budget, room[1]),
        *of_reaction,
        _identity_row(line, sheet),
    )
    return BusResult(findings, image, image_bytes, min(known) if known else None, budget, reaction, assumed_s)


def most_at_once(line: Line) -> int:
    """The greatest number of carriers on the line at one time: those of the start, and what is put in and taken out."""
    count = most = line.carriers
    for change in sorted(line.carrier_changes, key=lambda one: one.time_s):
        count += (change.in_ or 0) - (change.out or 0)
        most = max(most, count)
    return most


def _missing_bytes(sheet: ImageSheet, transfers: int) -> list[str]:
    """Keys without which the bytes of the image are not known."""
    missing = []
    if transfers and sheet.bytes_per_transfer is None:
        missing.append("bytes_per_transfer")
    if sheet.bytes_of_line is None:
        missing.append("bytes_of_line")
    return missing


def _image(carriers: int, sheet: ImageSheet, transfers: int) -> Table | None:
    if _missing_bytes(sheet, transfers):
        return None
    counts = np.array([carriers, transfers, 1])
    each = np.array([sheet.bytes_per_carrier, sheet.bytes_per_transfer or 0, sheet.bytes_of_line or 0])
    return Table(
        (
            Column("part", None, np.array(["carriers", "transfers", "line"]), "what the bytes belong to"),
            Column("count", None, counts, "how many of them"),
            Column("bytes_each", None, each, "commands and status of one"),
            Column("bytes", None, counts * each, "of all"),
        )
    )


def _room_for_carriers(
    sheet: ImageSheet, carriers: int, image_bytes: int | None, share: float = 1.0
) -> tuple[int | None, int | None]:
    """How many carriers fit by the bytes of the image, and by the time on the wire, into so much of either; None where
    that is not known."""
    if image_bytes is None:
        return None, None
    others = image_bytes - carriers * sheet.bytes_per_carrier
    limits = [None if sheet.most_bytes is None else math.floor(share * sheet.most_bytes), None]
    if sheet.bit_rate_bit_s is not None:
        limits[1] = most_data_bytes(share * sheet.cycle_s, sheet.bit_rate_bit_s)
    first, second = (None if one is None else max(0, (one - others) // sheet.bytes_per_carrier) for one in limits)
    return first, second


def _bytes_row(
    line: Line, sheet: ImageSheet, carriers: int, transfers: int, image_bytes: int | None, most: int | None
) -> Finding:
    missing = _missing_bytes(sheet, transfers) + (["most_bytes"] if sheet.most_bytes is None else [])
    if image_bytes is None or sheet.most_bytes is None:
        keys = _listed(missing)
        where = f"process image: {keys} {'is' if len(missing) == 1 else 'are'} not stated"
        remedy = f"state the key{'' if len(missing) == 1 else 's'} {keys} under image in the conveyor sheet"
        return _unchecked("image-bytes", where, line.conveyor.place("image"), remedy)
    margin = _left(image_bytes, sheet.most_bytes)
    where = (
        f"process image of {_counted(carriers, 'carrier')}, {_counted(transfers, 'transfer')} and the line: "
        f"it has room for {_counted(most or 0, 'carrier')}"
    )
    figures = (float(image_bytes), float(sheet.most_bytes), "bytes", margin)
    source = f"sheet {line.conveyor.name}, image.most_bytes"
    spared, _ = _room_for_carriers(sheet, carriers, image_bytes, 1.0 - spare_for(judge(margin)))
    remedy = _fewer(line, margin, spared)
    return Finding("image-bytes", SUBJECT, judge(margin), where, line.place("carriers"), *figures, source, remedy)


def _wire_row(
    line: Line,
    sheet: ImageSheet,
    carriers: int,
    image_bytes: int | None,
    budget: CyclicBudget | None,
    most: int | None,
) -> tuple[Finding, ...]:
    if sheet.bit_rate_bit_s is None:
        remedy = "state the key bit_rate under image in the conveyor sheet"
        place = line.conveyor.place("image", "bit_rate")
        return (_unchecked("wire-time", "process image: bit_rate is not stated", place, remedy),)
    if image_bytes is None or budget is None:
        return ()  # the row image-bytes names what is missing
    margin = _left(budget.wire_time_s, sheet.cycle_s)
    frames = _counted(budget.frames, "frame")
    where = (
        f"{image_bytes} bytes in {frames}, {budget.wire_bytes} bytes on the wire: "
        f"the cycle has room for {_counted(most or 0, 'carrier')}"
    )
    figures = (budget.wire_time_s, sheet.cycle_s, "s", margin)
    source = f"sheet {line.conveyor.name}, image.cycle; {PAGE}, Time on the wire"
    _, spared = _room_for_carriers(sheet, carriers, image_bytes, 1.0 - spare_for(judge(margin)))
    remedy = _fewer(line, margin, spared)
    return (Finding("wire-time", SUBJECT, judge(margin), where, line.place("carriers"), *figures, source, remedy),)


def _fewer(line: Line, margin: float, most: int | None) -> str:
    if margin >= TIGHT_MARGIN or most is None:
        return ""
    if margin >= 0.0:
        spared = f"with a tenth to spare it fits at most {_counted(most, 'carrier')}; or " if most > 0 else ""
        return f"{spared}divide the line between two controllers"
    if most == 0:
        return "no number of carriers fits: transfers and line fill it alone"
    fits = f"at most {_counted(most, 'carrier')}"
    how = f"those put in later included, {fits}" if line.carrier_changes else f"{fits}: write carriers: {most}"
    return f"{how}; or divide the line between two controllers"


def _reaction(line: Line, sheet: ImageSheet | None) -> tuple[ReactionBudget | None, float, tuple[Finding, ...]]:
    times = line.conveyor.reaction
    named = {
        "start_handshake": times.start_handshake_s,
        "done_handshake": times.done_handshake_s,
        "follow": times.follow_s,
    }
    key = min(named, key=lambda one: named[one])
    assumed_s = named[key]
    if line.controls is None:
        remedy = "state the key controls in the line file: scan and bus_cycle, such as {scan: 2 ms, bus_cycle: 2 ms}"
        where = "the line file states no controls: scan and bus_cycle"
        return None, assumed_s, (_unchecked("reaction-time", where, line.place("controls"), remedy),)
    bus_s, scan_s = line.controls.bus_cycle_s, line.controls.scan_s
    budget = reaction_budget(bus_s, scan_s, output_s=bus_s)
    findings = [_reaction_row(line, budget, key, assumed_s)]
    if sheet is not None and bus_s < sheet.cycle_s:
        where = "bus_cycle is shorter than the cycle in which the drive exchanges its process image"
        figures = (bus_s, sheet.cycle_s, "s", bus_s / sheet.cycle_s - 1.0)
        source = f"sheet {line.conveyor.name}, image.cycle"
        remedy = f"write bus_cycle: {_ms(sheet.cycle_s)} at least"
        place = line.place("controls", "bus_cycle")
        findings.insert(0, Finding("bus-cycle", SUBJECT, "fails", where, place, *figures, source, remedy))
    return budget, assumed_s, tuple(findings)


def _reaction_row(line: Line, budget: ReactionBudget, key: str, assumed_s: float) -> Finding:
    assert line.controls is not None
    bus_s, scan_s = line.controls.bus_cycle_s, line.controls.scan_s
    where = f"bus, scan and bus, {_ms(budget.nominal_s)}, with a cycle of each missed, against reaction.{key}"
    source = f"sheet {line.conveyor.name}, reaction.{key}; {PAGE}, Reaction"
    margin = _reaction_margin(bus_s, scan_s, assumed_s)
    verdict: Verdict = "fails" if margin is None else judge(margin)
    remedy = ""
    if verdict != "holds":
        remedy = _reaction_remedy(line, bus_s, scan_s, assumed_s, budget.worst_s, verdict)
    place = line.place("controls", "scan")
    figures = (budget.worst_s, assumed_s, "s", margin)
    return Finding("reaction-time", SUBJECT, verdict, where, place, *figures, source, remedy)


def _reaction_margin(bus_s: float, scan_s: float, assumed_s: float) -> float | None:
    """Share of the assumed time that is left; None where the rate assumes no reaction time at all."""
    if assumed_s <= 0.0:
        return None
    return _left(reaction_budget(bus_s, scan_s, output_s=bus_s).worst_s, assumed_s)


def _left(value: float, limit: float) -> float:
    """The margin; float noise decides no verdict: at the limit there is none left, at nine tenths of it a tenth."""
    margin = 1.0 - value / limit
    return next((exact for exact in (0.0, TIGHT_MARGIN) if abs(margin - exact) < 1e-12), margin)


def _reaction_remedy(
    line: Line, bus_s: float, scan_s: float, assumed_s: float, worst_s: float, verdict: Verdict
) -> str:
    """A shorter scan, or longer times in the sheet; where the row is tight, with a tenth to spare."""
    spare = spare_for(verdict)

    def margin(one_s: float) -> float:
        left = _reaction_margin(bus_s, one_s, assumed_s)
        return -1.0 if left is None else left - spare

    least_s = rounded_away(worst_s / (1.0 - spare), assumed_s)
    stated = f"state {_ms(least_s)} at least for each time under reaction in the sheet: the rate then pays for it"
    left = ", with a tenth to spare" if verdict == "tight" else ""
    longest_s = value_that_holds(margin, scan_s, LEAST_SCAN_S)
    if longest_s is None:
        return f"no scan time is short enough at this bus cycle{left}; a shorter bus_cycle, or {stated}"
    scan = _ms(rounded_away(longest_s, scan_s))
    return f"a scan of at most {scan}{left}: write scan: {scan} under controls; or {stated}"


def _identity_row(line: Line, sheet: ImageSheet) -> Finding:
    place = line.conveyor.place("image", "identity_at_power_up")
    source = f"sheet {line.conveyor.name}, image.identity_at_power_up"
    if sheet.identity_at_power_up:
        where = (
            "the drive knows each carrier by itself after power-up; the table of parts, indexed by carrier, is the "
            "controller's and has to outlive a restart"
        )
        return Finding("carrier-identity", SUBJECT, "holds", where, place, None, None, None, None, source, "")
    where = "after power-up the drive does not know which carrier is which"
    remedy = (
        "let the controller keep the table of carriers and their parts where it outlives a loss of power, and let an "
        "operator confirm it, or a reader at one station read it anew, before the line goes on"
    )
    return Finding("carrier-identity", SUBJECT, "tight", where, place, None, None, None, None, source, remedy)


def _unchecked(code: str, where: str, place: Place | None, remedy: str) -> Finding:
    return Finding(code, SUBJECT, "not checked", where, place, None, None, None, None, PAGE, remedy)


def _listed(keys: list[str]) -> str:
    return keys[0] if len(keys) == 1 else f"{', '.join(keys[:-1])} and {keys[-1]}"


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _ms(time_s: float) -> str:
    return f"{plain(float(f'{time_s * 1e3:.6g}'))} ms"
