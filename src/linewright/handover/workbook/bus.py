"""The sheet Bus: the process image and its time on the wire."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.checks.bus.frames import (
    BETWEEN_FRAMES_BYTES,
    CHECK_BYTES,
    DATAGRAM_BYTES,
    HEADER_BYTES,
    LEAST_FRAME_BYTES,
    MOST_DATAGRAM_BYTES,
    TYPE_12_HEADER_BYTES,
)
from linewright.handover.papers.material import Material
from linewright.handover.workbook.cells import NO_TRACK, SHARE, Cell, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import figure

if TYPE_CHECKING:
    from linewright.checks.bus import BusResult
    from linewright.checks.bus.frames import CyclicBudget
    from linewright.line.ratings import ImageSheet

_ADDRESSES: Final = "Addresses on the bus, and what each byte means, come with the controller program."
_FRAME_BYTES: Final = HEADER_BYTES + TYPE_12_HEADER_BYTES + DATAGRAM_BYTES + CHECK_BYTES


def bus_sheet(material: Material) -> Sheet:
    """The process image and its time on the wire; counts and bytes can be changed."""
    evaluation = material.evaluation
    about = "The process image of one cycle: change a count or the bytes of one, and total and time on the wire follow."
    limits, sheet = evaluation.limits, evaluation.line.conveyor.image
    if limits is None:
        return Sheet("Bus", about, (Labelled((Named("process image", NO_TRACK),)),))
    bus = limits.bus
    if bus.image is None or sheet is None or bus.image_bytes is None:
        keys = "image with bytes_per_carrier, bytes_per_transfer, bytes_of_line and cycle"
        why = f"not known: the conveyor sheet does not state all of it (key {keys})"
        return Sheet("Bus", about, (Labelled((Named("process image", why),)),))
    image = bus.image
    columns = (
        Listed("part", "part", tuple(image["part"].tolist()), "what the bytes belong to"),
        Listed("count", "count, input", tuple(figure(int(one), "#,##0", True) for one in image["count"])),
        Listed(
            "each",
            "bytes of one, input",
            tuple(figure(int(one), "#,##0", True) for one in image["bytes_each"]),
            "commands and status",
        ),
        Listed(
            "bytes",
            "bytes",
            tuple(Cell(int(one), "#,##0", "={count}*{each}") for one in image["bytes"]),
            "count times bytes of one",
            Cell(bus.image_bytes, "#,##0", "=SUM({bytes:})"),
        ),
    )
    blocks: list[Labelled | Lines] = [Lines(columns)]
    if not material.for_customer:
        blocks.append(Labelled(_room(sheet, bus.image_bytes, bus.most_carriers), "Room"))
        blocks.append(Labelled(_wire(sheet, bus.budget) + _answers(bus), "Time"))
    return Sheet("Bus", about, tuple(blocks), (("process-image", image),), (_ADDRESSES,))


def _answers(bus: BusResult) -> tuple[Named, ...]:
    if bus.reaction is None:
        return (Named("controller answers within", "not known: key controls of the line file, scan and bus_cycle"),)
    worst = figure(1000.0 * bus.reaction.worst_s)
    return (
        Named("controller answers within", worst, "ms", "a cycle of bus and program missed each"),
        Named("the rate assumes at least", figure(1000.0 * bus.assumed_s), "ms"),
    )


def _room(sheet: ImageSheet, total: int, most_carriers: int | None) -> tuple[Named, ...]:
    rows = [Named("bytes together", Cell(total, "#,##0", "=SUM({bytes:})"), "bytes", key="total")]
    if sheet.most_bytes is None:
        rows.append(
            Named("most that one controller exchanges", "not known: key image.most_bytes of the conveyor sheet")
        )
    else:
        words = "fits" if total <= sheet.most_bytes else "DOES NOT FIT"
        fits = Cell(words, formula='=IF({total}<={most},"fits","DOES NOT FIT")')
        rows += [
            Named("most that one controller exchanges", figure(sheet.most_bytes, "#,##0", True), "bytes", key="most"),
            Named("bytes", fits),
        ]
        rows.append(Named("margin", Cell(1.0 - total / sheet.most_bytes, SHARE, "=1-{total}/{most}")))
    if most_carriers is not None:
        rows.append(
            Named("room for carriers", figure(most_carriers, "#,##0"), "", "with counts as planned; does not follow")
        )
    return tuple(rows)


def _wire(sheet: ImageSheet, budget: CyclicBudget | None) -> tuple[Named, ...]:
    if budget is None or sheet.bit_rate_bit_s is None:
        return (Named("time on the wire", "not known: key image.bit_rate of the conveyor sheet"),)
    full = MOST_DATAGRAM_BYTES + _FRAME_BYTES + BETWEEN_FRAMES_BYTES
    rest = f"MOD({{total}},{MOST_DATAGRAM_BYTES})"
    last = f"IF({rest}=0,0,MAX({LEAST_FRAME_BYTES},{rest}+{_FRAME_BYTES})+{BETWEEN_FRAMES_BYTES})"
    wire = f"=INT({{total}}/{MOST_DATAGRAM_BYTES})*{full}+{last}"
    cycle_ms = sheet.cycle_s * 1000.0
    rows = [
        Named(
            "frames",
            Cell(budget.frames, "0", f"=ROUNDUP({{total}}/{MOST_DATAGRAM_BYTES},0)"),
            "",
            "one datagram a frame, as full as can be",
        ),
        Named(
            "bytes on the wire", Cell(budget.wire_bytes, "#,##0", wire), "bytes", "preamble and gap included", "wire"
        ),
        Named("bit rate", figure(sheet.bit_rate_bit_s * 1e-6, "0.###", True), "Mbit/s", key="rate"),
        Named("cycle of the bus", figure(cycle_ms, "0.###", True), "ms", key="cycle"),
        Named(
            "time on the wire", Cell(budget.wire_time_s * 1000.0, "0.0000", "=8*{wire}/{rate}/1000"), "ms", key="time"
        ),
        Named(
            "fits in the cycle",
            Cell("fits" if budget.fits else "DOES NOT FIT", formula='=IF({time}<={cycle},"fits","DOES NOT FIT")'),
        ),
    ]
    rows.append(Named("share of the cycle", Cell(budget.utilisation, SHARE, "={time}/{cycle}")))
    return tuple(rows)
