"""Bytes and time on the wire: Ethernet frames, and the datagrams of IEC 61158 type 12 (EtherCAT) in them.

Time on the wire alone: what a node or a switch takes to hand a frame on, and the cable, come on top.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from linewright.figures import positive

HEADER_BYTES: Final = 14
"""Of a frame: two addresses and the type."""
CHECK_BYTES: Final = 4
"""Frame check sequence."""
TAG_BYTES: Final = 4
"""Of a tagged frame, more."""
LEAST_FRAME_BYTES: Final = 64
"""Shorter frames are padded; tagged ones to 68."""
MOST_FRAME_BYTES: Final = 1518
"""Untagged, header and check included."""
MOST_PAYLOAD_BYTES: Final = 1500
BETWEEN_FRAMES_BYTES: Final = 8 + 12
"""Preamble with start delimiter, and the least gap between two frames."""

TYPE_12_HEADER_BYTES: Final = 2
"""One a frame."""
DATAGRAM_BYTES: Final = 10 + 2
"""Header and working counter of each datagram."""
MOST_DATAGRAM_BYTES: Final = 1486
"""Data of the largest datagram: 1518 - 14 - 2 - 10 - 2 - 4."""


@dataclass(frozen=True)
class FrameTime:
    """One frame.

    Parameters
    ----------
    frame_bytes : header, payload or padding, and check
    wire_bytes : with preamble and gap
    time_s : on the wire. [s]
    frames_per_s : back to back. [1/s]
    """

    frame_bytes: int
    wire_bytes: int
    time_s: float
    frames_per_s: float


@dataclass(frozen=True)
class DatagramFrame:
    """One frame of IEC 61158 type 12.

    Parameters
    ----------
    frame_bytes, wire_bytes : without and with preamble and gap
    time_s : on the wire. [s]
    data_share : data of its datagrams over its bytes on the wire
    """

    frame_bytes: int
    wire_bytes: int
    time_s: float
    data_share: float


@dataclass(frozen=True)
class CyclicBudget:
    """The frames of one cycle of the bus.

    Parameters
    ----------
    data_bytes : that are exchanged
    frames : that carry them
    wire_bytes : of all frames, preamble and gap included
    wire_time_s : together. [s]
    utilisation : time on the wire over the cycle
    fits : utilisation is at most 1
    """

    data_bytes: int
    frames: int
    wire_bytes: int
    wire_time_s: float
    utilisation: float
    fits: bool


def ethernet_frame(payload_bytes: int, bit_rate_bit_s: float, tagged: bool = False) -> FrameTime:
    """Bytes and time on the wire of one Ethernet frame.

    Parameters
    ----------
    payload_bytes : 0 to 1500
    bit_rate_bit_s : [bit/s], > 0
    tagged : it carries a tag of a virtual network, 4 bytes more

    Raises
    ------
    ValueError   The payload is not a whole number from 0 to 1500, or the bit rate is not positive.

    Notes      frame = max(64, 14 + p + 4), of a tagged one max(68, 18 + p + 4); wire = frame + 8 + 12;
               time = 8 wire / bit rate.
    Source     IEEE 802.3, its figures read in open source; checked in tests/reference/test_networks.py.
    Examples
    --------
    >>> ethernet_frame(46, 100e6).time_s, ethernet_frame(1500, 100e6).wire_bytes
    (6.72e-06, 1538)
    """
    _whole("payload_bytes", payload_bytes, 0, MOST_PAYLOAD_BYTES)
    positive("bit_rate_bit_s", bit_rate_bit_s)
    tag = TAG_BYTES if tagged else 0
    frame = max(LEAST_FRAME_BYTES + tag, HEADER_BYTES + tag + payload_bytes + CHECK_BYTES)
    wire = frame + BETWEEN_FRAMES_BYTES
    time_s = 8.0 * wire / bit_rate_bit_s
    return FrameTime(frame, wire, time_s, 1.0 / time_s)


def type_12_frame(datagrams_bytes: Sequence[int], bit_rate_bit_s: float) -> DatagramFrame:
    """One frame of the open industrial Ethernet of IEC 61158 type 12 (EtherCAT).

    Parameters
    ----------
    datagrams_bytes : shape (n,), n >= 1   Data of each datagram, 1 to 1486
    bit_rate_bit_s : [bit/s], > 0

    Raises
    ------
    ValueError   There is no datagram, one is out of its range, all of them do not fit in one frame, or the bit rate is
                 not positive.

    Notes      frame = max(64, 14 + 2 + Σ (10 + n + 2) + 4); wire = frame + 20.
    Source     IEC 61158 type 12, its figures read in open source and in a maker's manual; checked in
               tests/reference/test_networks.py.
    Examples
    --------
    >>> type_12_frame([64], 100e6)
    DatagramFrame(frame_bytes=96, wire_bytes=116, time_s=9.28e-06, data_share=0.5517241379310345)
    """
    if len(datagrams_bytes) == 0:
        raise ValueError("datagrams_bytes is empty; a frame carries one datagram at least")
    for data in datagrams_bytes:
        _whole("datagrams_bytes", data, 1, MOST_DATAGRAM_BYTES)
    positive("bit_rate_bit_s", bit_rate_bit_s)
    inside = TYPE_12_HEADER_BYTES + sum(DATAGRAM_BYTES + data for data in datagrams_bytes)
    if inside > MOST_PAYLOAD_BYTES:
        raise ValueError(f"datagrams_bytes make {inside} bytes; a frame holds {MOST_PAYLOAD_BYTES}")
    frame = max(LEAST_FRAME_BYTES, HEADER_BYTES + inside + CHECK_BYTES)
    wire = frame + BETWEEN_FRAMES_BYTES
    return DatagramFrame(frame, wire, 8.0 * wire / bit_rate_bit_s, sum(datagrams_bytes) / wire)


def cyclic_budget(data_bytes: int, cycle_s: float, bit_rate_bit_s: float) -> CyclicBudget:
    """Frames and time on the wire of a process image, one datagram a frame, each as full as it can be.

    Parameters
    ----------
    data_bytes : of the whole image, commands and status together, >= 1
    cycle_s : in which they are exchanged. [s], > 0
    bit_rate_bit_s : [bit/s], > 0

    Raises
    ------
    ValueError   A figure is not as stated above.

    Notes      frames = ⌈bytes / 1486⌉; all but the last hold 1486 bytes. Commands and status are counted one beside the
               other: a datagram that carries both in the same bytes needs less.
    Source     as of :func:`type_12_frame`.
    Examples
    --------
    >>> found = cyclic_budget(200 * 40, 0.002, 100e6)
    >>> found.frames, round(found.wire_time_s * 1e6, 2), found.fits
    (6, 664.96, True)
    """
    _whole("data_bytes", data_bytes, 1, None)
    positive("cycle_s", cycle_s)
    full, rest = divmod(data_bytes, MOST_DATAGRAM_BYTES)
    wire = full * type_12_frame((MOST_DATAGRAM_BYTES,), bit_rate_bit_s).wire_bytes
    wire += type_12_frame((rest,), bit_rate_bit_s).wire_bytes if rest else 0
    time_s = 8.0 * wire / bit_rate_bit_s
    return CyclicBudget(data_bytes, full + (rest > 0), wire, time_s, time_s / cycle_s, time_s <= cycle_s)


def most_data_bytes(cycle_s: float, bit_rate_bit_s: float) -> int:
    """The largest process image whose frames fit in a cycle; 0 where not even one byte does.

    Parameters
    ----------
    cycle_s : [s], > 0
    bit_rate_bit_s : [bit/s], > 0

    Raises
    ------
    ValueError   A figure is not positive.

    Notes      The time on the wire never falls as bytes are added, so the answer is found by halving.
    Source     as of :func:`type_12_frame`.
    Examples
    --------
    >>> most_data_bytes(0.001, 100e6), cyclic_budget(12033, 0.001, 100e6).fits
    (12032, False)
    """
    fits, too_many = 0, 1
    while cyclic_budget(too_many, cycle_s, bit_rate_bit_s).fits:
        fits, too_many = too_many, 2 * too_many
    while too_many - fits > 1:
        middle = (fits + too_many) // 2
        if cyclic_budget(middle, cycle_s, bit_rate_bit_s).fits:
            fits = middle
        else:
            too_many = middle
    return fits


def _whole(name: str, value: int, least: int, most: int | None) -> None:
    if not math.isfinite(value) or value != int(value) or value < least or (most is not None and value > most):
        span = f"from {least}" + ("" if most is None else f" to {most}")
        raise ValueError(f"{name} is {value}; it must be a whole number {span}")
