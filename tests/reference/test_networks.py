"""Frames, datagrams, registers, reaction and sampling against data/networks.json, at the precision printed there."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from linewright.checks import bus
from linewright.checks.bus import frames, timing

DATA = Path(__file__).parent / "data" / "networks.json"
RECORDS: dict[str, dict[str, Any]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
TOLERANCE = 1e-9

ETHERNET = sorted(name for name in RECORDS if name.startswith("frame_time"))
TYPE_12 = sorted(name for name in RECORDS if name.startswith("ethercat_frame"))
CYCLES = sorted(name for name in RECORDS if name.startswith("cyclic_budget"))
BY_NAME = {
    "ethernet_constants", "ethercat_sizes", "modbus_limits", "modbus_read_1", "modbus_read_2", "modbus_write_1",
    "modbus_polls_1", "opcua_subscription", "sampling_given", "reaction_given",
}  # fmt: skip
# Figures of records that no formula here uses, and why.
UNUSED = {
    ("ethernet_constants", "min_payload"): "follows from the least frame: 64 - 14 - 4",
    ("ethercat_sizes", "ethertype"): "a name on the wire, not a size",
    ("ethercat_sizes", "length_bits"): "inside the two bytes of the header",
    ("ethercat_sizes", "type_nibble"): "inside the two bytes of the header",
}


def given(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return RECORDS[name]["inputs"], RECORDS[name]["expected"]


def test_every_record_is_held() -> None:
    assert {*ETHERNET, *TYPE_12, *CYCLES} | BY_NAME == set(RECORDS)
    assert (len(ETHERNET), len(TYPE_12), len(CYCLES)) == (6, 5, 2)
    assert all(record["source"] for record in RECORDS.values())


@pytest.mark.parametrize("name", ETHERNET)
def test_ethernet_frame(name: str) -> None:
    inputs, expected = given(name)
    found = bus.ethernet_frame(inputs["payload_B"], inputs["rate_bps"], inputs["vlan"])
    assert found.time_s * 1e6 == pytest.approx(expected["time_us"], rel=TOLERANCE)
    assert found.frames_per_s == pytest.approx(expected["frames_per_s"], rel=TOLERANCE)


@pytest.mark.parametrize("name", TYPE_12)
def test_frame_of_type_12(name: str) -> None:
    inputs, expected = given(name)
    found = bus.type_12_frame(inputs["datagram_data_B"], 100e6)
    assert (found.frame_bytes, found.wire_bytes) == (expected["frame_B"], expected["wire_B"])
    assert found.time_s * 1e6 == pytest.approx(expected["time_us_100M"], rel=TOLERANCE)
    assert found.data_share == pytest.approx(expected["payload_efficiency"], rel=TOLERANCE)


@pytest.mark.parametrize("name", CYCLES)
def test_cyclic_budget(name: str) -> None:
    inputs, expected = given(name)
    data = inputs["nodes"] * (inputs["in_B"] + inputs["out_B"])
    found = bus.cyclic_budget(data, inputs["cycle_s"], inputs["rate_bps"])
    assert (found.data_bytes, found.frames) == (expected["process_data_B"], expected["frames"])
    assert found.wire_time_s * 1e6 == pytest.approx(expected["wire_time_us"], rel=TOLERANCE)
    assert found.utilisation == pytest.approx(expected["utilisation"], rel=TOLERANCE)
    assert found.fits is expected["fits"]


def test_sizes_of_ethernet_and_type_12() -> None:
    _, ethernet = given("ethernet_constants")
    ours = {
        "header": frames.HEADER_BYTES,
        "fcs": frames.CHECK_BYTES,
        "min_frame": frames.LEAST_FRAME_BYTES,
        "max_frame": frames.MOST_FRAME_BYTES,
        "max_payload": frames.MOST_PAYLOAD_BYTES,
        "vlan_tag": frames.TAG_BYTES,
    }
    between = {"preamble_sfd", "ipg"}
    assert {key: ethernet[key] for key in ours} == ours
    assert sum(ethernet[key] for key in between) == frames.BETWEEN_FRAMES_BYTES
    assert set(ethernet) - set(ours) - between == {key for name, key in UNUSED if name == "ethernet_constants"}
    _, type_12 = given("ethercat_sizes")
    assert type_12["ethernet_header"] == frames.HEADER_BYTES
    assert type_12["ethercat_header"] == frames.TYPE_12_HEADER_BYTES
    assert type_12["datagram_header"] + type_12["working_counter"] == frames.DATAGRAM_BYTES
    assert type_12["max_datagram_data"] == frames.MOST_DATAGRAM_BYTES
    assert len(type_12) - 5 == len([key for name, key in UNUSED if name == "ethercat_sizes"])
    largest = bus.type_12_frame([frames.MOST_DATAGRAM_BYTES], 100e6)
    assert largest.frame_bytes == frames.MOST_FRAME_BYTES


def test_limits_of_modbus() -> None:
    _, expected = given("modbus_limits")
    assert expected == {
        "read_registers": timing.MOST_READ_REGISTERS,
        "write_registers": timing.MOST_WRITE_REGISTERS,
        "rw_write_registers": timing.MOST_READ_WRITE_REGISTERS,
        "read_bits": timing.MOST_READ_BITS,
        "write_bits": timing.MOST_WRITE_BITS,
        "mbap": timing.MODBUS_HEADER_BYTES,
        "pdu_max": timing.MOST_REQUEST_BYTES,
        "tcp_adu_max": timing.MODBUS_HEADER_BYTES + timing.MOST_REQUEST_BYTES,
        "port": timing.MODBUS_PORT,
    }
    most = bus.modbus_read(timing.MOST_READ_REGISTERS).answer_bytes
    assert most <= expected["tcp_adu_max"] < most + 2  # one register more would not fit


@pytest.mark.parametrize("name", ["modbus_read_1", "modbus_read_2", "modbus_write_1"])
def test_bytes_of_a_request(name: str) -> None:
    inputs, expected = given(name)
    request = bus.modbus_read if "read" in name else bus.modbus_write
    found = request(inputs["registers"])
    assert (found.request_bytes, found.answer_bytes) == (expected["request_adu"], expected["response_adu"])
    assert expected.get("valid", True)


def test_requests_for_many_registers() -> None:
    inputs, expected = given("modbus_polls_1")
    assert bus.modbus_requests(inputs["registers"]) == expected["requests"]


def test_subscription() -> None:
    inputs, expected = given("opcua_subscription")
    found = bus.subscription_times(inputs["publishing_ms"] / 1e3, inputs["keepalive_count"])
    assert found.keep_alive_s == expected["keepalive_s"]
    assert found.least_lifetime_count == expected["min_lifetime_count"]
    assert found.least_lifetime_s == expected["min_lifetime_s"]


def test_sampling() -> None:
    inputs, expected = given("sampling_given")
    found = bus.sampling_of(inputs["signal_Hz"], inputs["speed"], inputs["latency_s"], inputs["jitter_s"])
    assert found.least_rate_hz == pytest.approx(expected["nyquist_Hz"], rel=TOLERANCE)
    assert found.good_rate_hz == pytest.approx(expected["rule_10x_Hz"], rel=TOLERANCE)
    assert found.latency_travel_m * 1e3 == pytest.approx(expected["latency_travel_mm"], rel=TOLERANCE)
    assert found.jitter_travel_m * 1e6 == pytest.approx(expected["jitter_travel_um"], rel=TOLERANCE)
    assert found.phase_lag_deg == pytest.approx(expected["phase_lag_deg_at_signal"], rel=TOLERANCE)


def test_reaction() -> None:
    inputs, expected = given("reaction_given")
    found = bus.reaction_budget(
        bus_s=inputs["bus"],
        scan_s=inputs["plc_cycle"],
        sensor_s=inputs["sensor"],
        filter_s=inputs["input_filter"],
        output_s=inputs["output"],
    )
    assert found.nominal_s == pytest.approx(expected["nominal_s"], rel=TOLERANCE)
    assert found.worst_s == pytest.approx(expected["worst_s"], rel=TOLERANCE)
