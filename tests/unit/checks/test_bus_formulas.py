"""Frames by hand, what the formulas refuse, and laws of the process image on the wire."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.checks import bus

RATE = 100e6


def test_a_short_frame_is_padded_by_hand() -> None:
    """64 bytes + 8 + 12 are 84, 672 bits, 6.72 µs at 100 Mbit/s."""
    for payload in (0, 1, 46):
        found = bus.ethernet_frame(payload, RATE)
        assert (found.frame_bytes, found.wire_bytes) == (64, 84)
        assert found.time_s == pytest.approx(672 / RATE, rel=1e-15)
    assert bus.ethernet_frame(47, RATE).wire_bytes == 85
    assert bus.ethernet_frame(46, RATE, tagged=True).wire_bytes == 88


def test_an_image_over_two_frames_by_hand() -> None:
    """1500 bytes: 1486 fill a frame of 1538 on the wire; 14 make 14 + 2 + 12 + 14 + 4 = 46, padded to 64, 84."""
    found = bus.cyclic_budget(1500, 0.001, RATE)
    assert (found.frames, found.wire_bytes) == (2, 1538 + 84)
    assert found.wire_time_s == pytest.approx(8 * 1622 / RATE, rel=1e-15)
    assert found.utilisation == pytest.approx(0.12976, rel=1e-12)


@given(st.integers(1, 20_000))
def test_a_byte_more_never_takes_less_time(data: int) -> None:
    assert bus.cyclic_budget(data, 0.001, RATE).wire_bytes <= bus.cyclic_budget(data + 1, 0.001, RATE).wire_bytes


@given(st.floats(1e-5, 0.01), st.sampled_from([10e6, 100e6, 1e9]))
def test_the_largest_image_fits_and_one_byte_more_does_not(cycle_s: float, rate: float) -> None:
    most = bus.most_data_bytes(cycle_s, rate)
    if most:
        assert bus.cyclic_budget(most, cycle_s, rate).fits
    assert not bus.cyclic_budget(most + 1, cycle_s, rate).fits


def test_nothing_fits_in_a_cycle_shorter_than_one_frame() -> None:
    assert bus.most_data_bytes(6.7e-6, RATE) == 0
    assert bus.most_data_bytes(6.73e-6, RATE) == 32  # what a padded frame holds: 64 - 14 - 2 - 12 - 4


def test_worst_reaction_is_what_waits_twice() -> None:
    """Just missed by the bus, then by the program: bus, bus, scan, scan, bus."""
    found = bus.reaction_budget(0.002, 0.003, output_s=0.002)
    assert found.nominal_s == pytest.approx(0.007)
    assert found.worst_s == pytest.approx(3 * 0.002 + 2 * 0.003)


def test_requests_round_up() -> None:
    assert [bus.modbus_requests(n) for n in (0, 1, 125, 126, 250, 251)] == [0, 1, 1, 2, 2, 3]


@pytest.mark.parametrize(
    "call, named",
    [
        (lambda: bus.ethernet_frame(1501, RATE), "payload_bytes"),
        (lambda: bus.ethernet_frame(-1, RATE), "payload_bytes"),
        (lambda: bus.ethernet_frame(46, 0.0), "bit_rate_bit_s"),
        (lambda: bus.ethernet_frame(46, math.nan), "bit_rate_bit_s"),
        (lambda: bus.type_12_frame([], RATE), "datagrams_bytes"),
        (lambda: bus.type_12_frame([1487], RATE), "datagrams_bytes"),
        (lambda: bus.type_12_frame([0], RATE), "datagrams_bytes"),
        (lambda: bus.type_12_frame([800, 700], RATE), "datagrams_bytes"),
        (lambda: bus.type_12_frame([64], -1.0), "bit_rate_bit_s"),
        (lambda: bus.cyclic_budget(0, 0.001, RATE), "data_bytes"),
        (lambda: bus.cyclic_budget(10, math.nan, RATE), "cycle_s"),
        (lambda: bus.most_data_bytes(math.inf, RATE), "cycle_s"),
        (lambda: bus.reaction_budget(0.0, 0.001), "bus_s"),
        (lambda: bus.reaction_budget(0.001, math.nan), "scan_s"),
        (lambda: bus.reaction_budget(0.001, 0.001, filter_s=-1.0), "filter_s"),
        (lambda: bus.sampling_of(-1.0, 1.0, 0.0, 0.0), "signal_hz"),
        (lambda: bus.sampling_of(1.0, 1.0, 0.0, math.nan), "jitter_s"),
        (lambda: bus.modbus_read(126), "registers"),
        (lambda: bus.modbus_write(124), "registers"),
        (lambda: bus.modbus_write(0), "registers"),
        (lambda: bus.modbus_requests(-1), "registers"),
        (lambda: bus.subscription_times(0.0, 10), "publishing_s"),
        (lambda: bus.subscription_times(0.5, 0), "keep_alive_count"),
    ],
)
def test_what_is_out_of_range_is_named(call: Callable[[], object], named: str) -> None:
    with pytest.raises(ValueError, match=f"^{named} "):
        call()
