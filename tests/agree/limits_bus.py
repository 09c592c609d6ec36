"""The rows of the bus reckoned anew from docs/limits/bus.md alone: frames counted one by one, times as fractions."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from agree.limits_power_base import Row, most_carriers

if TYPE_CHECKING:
    from linewright.layout import Layout
    from linewright.line.model import Line
    from linewright.line.ratings import ImageSheet

MOST_DATA: Final = 1486


def verdict_of(margin: float) -> str:
    return "fails" if margin < 0.0 else "tight" if margin < 0.1 else "holds"


def exact(value: float) -> Fraction:
    """The figure as it was written, not the float nearest to it."""
    return Fraction(repr(value))


def frames(data: int) -> Iterator[int]:
    """Bytes on the wire of each frame: header, datagram, check sequence, padded; preamble and gap."""
    while data > 0:
        here = min(data, MOST_DATA)
        yield max(64, 14 + 2 + 10 + here + 2 + 4) + 8 + 12
        data -= here


def wire_s(data: int, bit_rate_bit_s: float) -> Fraction:
    """Time of all frames; full ones at once, so that many bytes cost nothing."""
    full = max(0, data // MOST_DATA - 1)
    wire = full * next(frames(MOST_DATA)) + sum(frames(data - full * MOST_DATA))
    return Fraction(8 * wire) / exact(bit_rate_bit_s)


def most_data(cycle_s: float, bit_rate_bit_s: float) -> int:
    """The most bytes whose frames fit, from what the cycle carries: whole full frames, then what a last one holds."""
    room = math.floor(exact(cycle_s) * exact(bit_rate_bit_s) / 8)
    full, left = divmod(room, 1538)
    last = left - 20 - 32 if left >= 84 else 0
    return full * MOST_DATA + max(0, last)


def bus_rows(line: Line, layout: Layout) -> list[Row]:
    """All rows of the bus."""
    image = line.conveyor.image
    rows = [Row("process-image", "not checked")] if image is None else image_rows(line, image)
    rows += reaction_rows(line)
    return rows


def image_rows(line: Line, image: ImageSheet) -> list[Row]:
    rows: list[Row] = []
    carriers, transfers = most_carriers(line), len(line.transfers)
    each, besides = image.bytes_per_transfer, image.bytes_of_line
    lacks = [key for key, value in (("bytes_per_transfer", each), ("bytes_of_line", besides)) if value is None]
    if not transfers:
        each, lacks = 0, [key for key in lacks if key != "bytes_per_transfer"]
    if image.most_bytes is None:
        lacks.append("most_bytes")
    if lacks:
        rows.append(Row("image-bytes", "not checked", words=tuple(lacks)))
    if each is not None and besides is not None:
        own = each * transfers + besides
        data = image.bytes_per_carrier * carriers + own
        if image.most_bytes is not None:
            margin = 1.0 - data / image.most_bytes
            room = max(0, (image.most_bytes - own) // image.bytes_per_carrier)
            words = (f"room for {room} carrier{'' if room == 1 else 's'}",)
            rows.append(Row("image-bytes", verdict_of(margin), data, image.most_bytes, margin, "bytes", words))
        rows += wire_rows(image, data, own)
    elif image.bit_rate_bit_s is None:
        rows.append(Row("wire-time", "not checked", words=("bit_rate",)))
    rows.append(Row("carrier-identity", "holds" if image.identity_at_power_up else "tight"))
    return rows


def wire_rows(image: ImageSheet, data: int, own: int) -> list[Row]:
    if image.bit_rate_bit_s is None:
        return [Row("wire-time", "not checked", words=("bit_rate",))]
    time_s = wire_s(data, image.bit_rate_bit_s)
    margin = float(1 - time_s / exact(image.cycle_s))
    room = max(0, (most_data(image.cycle_s, image.bit_rate_bit_s) - own) // image.bytes_per_carrier)
    words = (f"room for {room} carrier{'' if room == 1 else 's'}",)
    return [Row("wire-time", verdict_of(margin), float(time_s), image.cycle_s, margin, "s", words)]


def reaction_rows(line: Line) -> list[Row]:
    controls = line.controls
    if controls is None:
        return [Row("reaction-time", "not checked", words=("controls",))]
    reaction = line.conveyor.reaction
    times = (reaction.start_handshake_s, reaction.done_handshake_s, reaction.follow_s)
    worst = 3 * exact(controls.bus_cycle_s) + 2 * exact(controls.scan_s)
    limit = min(times)
    margin = float(1 - worst / exact(limit)) if limit > 0.0 else None
    verdict = "fails" if margin is None else verdict_of(margin)
    rows = [Row("reaction-time", verdict, float(worst), limit, margin, "s")]
    image = line.conveyor.image
    if image is not None and controls.bus_cycle_s < image.cycle_s:
        margin = controls.bus_cycle_s / image.cycle_s - 1.0
        rows.append(Row("bus-cycle", "fails", controls.bus_cycle_s, image.cycle_s, margin, "s"))
    return rows
