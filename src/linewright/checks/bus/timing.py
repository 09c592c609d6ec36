"""When a controller answers, how often it must look, and what two open protocols of offices and halls carry."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.figures import not_negative

MOST_READ_REGISTERS: Final = 125
"""In one request of Modbus."""
MOST_WRITE_REGISTERS: Final = 123
MOST_READ_WRITE_REGISTERS: Final = 121
"""Written by a request that reads and writes."""
MOST_READ_BITS: Final = 2000
MOST_WRITE_BITS: Final = 1968
MODBUS_HEADER_BYTES: Final = 7
"""Before each request and answer over TCP."""
MOST_REQUEST_BYTES: Final = 253
"""Of a request or an answer without that header."""
MODBUS_PORT: Final = 502
LIFETIME_PER_KEEP_ALIVE: Final = 3
"""The lifetime count of an OPC UA subscription is at least so many keep-alive counts."""
LOOKS_PER_PERIOD: Final = 10
"""Common practice: so many samples in a period of the signal."""


@dataclass(frozen=True)
class ReactionBudget:
    """From something that happens to the answer of the controller.

    Parameters
    ----------
    nominal_s : each stage once. [s]
    worst_s : one cycle of the bus and one of the program missed besides. [s]
    """

    nominal_s: float
    worst_s: float


@dataclass(frozen=True)
class Sampling:
    """What latency and jitter mean for a signal and for something that moves.

    Parameters
    ----------
    least_rate_hz : the sampling rate must be above it: twice the signal's frequency. [Hz]
    good_rate_hz : ten times, common practice. [Hz]
    latency_travel_m : covered in the latency. [m]
    jitter_travel_m : covered in the jitter. [m]
    phase_lag_deg : of the signal, from the latency. [deg]
    """

    least_rate_hz: float
    good_rate_hz: float
    latency_travel_m: float
    jitter_travel_m: float
    phase_lag_deg: float


@dataclass(frozen=True)
class ModbusRequest:
    """A request over TCP and its answer.

    Parameters
    ----------
    request_bytes, answer_bytes : header included
    """

    request_bytes: int
    answer_bytes: int


@dataclass(frozen=True)
class SubscriptionTimes:
    """When an OPC UA subscription lets itself be heard, and when it is given up.

    Parameters
    ----------
    keep_alive_s : a message comes at least so often. [s]
    least_lifetime_count : publishing intervals without a request, at least
    least_lifetime_s : in time. [s]
    """

    keep_alive_s: float
    least_lifetime_count: int
    least_lifetime_s: float


def reaction_budget(
    bus_s: float, scan_s: float, sensor_s: float = 0.0, filter_s: float = 0.0, output_s: float = 0.0
) -> ReactionBudget:
    """From an event through bus and program to the output.

    Parameters
    ----------
    bus_s : cycle of the bus on which the event comes in. [s], > 0
    scan_s : scan time of the program. [s], > 0
    sensor_s, filter_s : of the sensor and of the input. [s], >= 0
    output_s : from the program to the effect; where the answer goes out on the same bus, its cycle. [s], >= 0

    Raises
    ------
    ValueError   A time is out of its range.

    Notes      nominal = sensor + filter + bus + scan + output; worst = nominal + bus + scan: what happens just after
               the bus or the program has looked waits for the next look of each. Bus and program out of step in both
               directions can miss one bus cycle more.
    Source     arithmetic; checked in tests/reference/test_networks.py.
    Examples
    --------
    >>> reaction_budget(0.002, 0.003, output_s=0.002)
    ReactionBudget(nominal_s=0.007, worst_s=0.012)
    """
    for name, value in {"bus_s": bus_s, "scan_s": scan_s}.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is {value}; it must be positive and finite")
    for name, value in {"sensor_s": sensor_s, "filter_s": filter_s, "output_s": output_s}.items():
        not_negative(name, value)
    nominal_s = math.fsum((sensor_s, filter_s, bus_s, scan_s, output_s))
    return ReactionBudget(nominal_s, math.fsum((sensor_s, filter_s, bus_s, scan_s, output_s, bus_s, scan_s)))


def sampling_of(signal_hz: float, speed_m_s: float, latency_s: float, jitter_s: float) -> Sampling:
    """How often a signal must be looked at, and how far a carrier gets in latency and jitter.

    Parameters
    ----------
    signal_hz : highest frequency in the signal. [Hz], >= 0
    speed_m_s : of what is looked at. [m/s], >= 0
    latency_s : from event to knowledge. [s], >= 0
    jitter_s : its scatter. [s], >= 0

    Raises
    ------
    ValueError   A figure is negative or not a number.

    Notes      f > 2 f_signal; x = v t; φ = 360° f t.
    Source     textbook; checked in tests/reference/test_networks.py.
    Examples
    --------
    >>> found = sampling_of(200.0, 1.5, 0.002, 50e-6)
    >>> found.least_rate_hz, found.latency_travel_m, found.phase_lag_deg
    (400.0, 0.003, 144.0)
    """
    figures = {"signal_hz": signal_hz, "speed_m_s": speed_m_s, "latency_s": latency_s, "jitter_s": jitter_s}
    for name, value in figures.items():
        not_negative(name, value)
    return Sampling(
        least_rate_hz=2.0 * signal_hz,
        good_rate_hz=LOOKS_PER_PERIOD * signal_hz,
        latency_travel_m=speed_m_s * latency_s,
        jitter_travel_m=speed_m_s * jitter_s,
        phase_lag_deg=360.0 * signal_hz * latency_s,
    )


def modbus_read(registers: int) -> ModbusRequest:
    """Bytes of a request that reads holding registers over TCP, and of its answer.

    Parameters
    ----------
    registers : 1 to 125

    Raises
    ------
    ValueError   The number is out of its range.

    Notes      request 7 + 5; answer 7 + 2 + 2 n.
    Source     layout from memory, limits of the Modbus Application Protocol V1.1b read in open source.
    Examples
    --------
    >>> modbus_read(125)
    ModbusRequest(request_bytes=12, answer_bytes=259)
    """
    _count("registers", registers, MOST_READ_REGISTERS)
    return ModbusRequest(MODBUS_HEADER_BYTES + 5, MODBUS_HEADER_BYTES + 2 + 2 * registers)


def modbus_write(registers: int) -> ModbusRequest:
    """Bytes of a request that writes holding registers over TCP, and of its answer.

    Parameters
    ----------
    registers : 1 to 123

    Raises
    ------
    ValueError   The number is out of its range.

    Notes      request 7 + 6 + 2 n; answer 7 + 5.
    Source     layout from memory, limits of the Modbus Application Protocol V1.1b read in open source.
    Examples
    --------
    >>> modbus_write(123)
    ModbusRequest(request_bytes=259, answer_bytes=12)
    """
    _count("registers", registers, MOST_WRITE_REGISTERS)
    return ModbusRequest(MODBUS_HEADER_BYTES + 6 + 2 * registers, MODBUS_HEADER_BYTES + 5)


def modbus_requests(registers: int) -> int:
    """How many requests read so many registers.

    Parameters
    ----------
    registers : >= 0

    Raises
    ------
    ValueError   The number is negative or not whole.

    Notes      ⌈n / 125⌉.
    Source     limit of the Modbus Application Protocol V1.1b read in open source.
    Examples
    --------
    >>> modbus_requests(1000)
    8
    """
    if not math.isfinite(registers) or registers != int(registers) or registers < 0:
        raise ValueError(f"registers is {registers}; it must be a whole number, 0 or more")
    return -(-registers // MOST_READ_REGISTERS)


def subscription_times(publishing_s: float, keep_alive_count: int) -> SubscriptionTimes:
    """Keep-alive and least lifetime of an OPC UA subscription.

    Parameters
    ----------
    publishing_s : publishing interval. [s], > 0
    keep_alive_count : intervals without news after which a keep-alive is sent, >= 1

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      keep-alive = interval × count; lifetime count >= 3 × keep-alive count.
    Source     OPC 10000-4 v1.04, 5.13.2.2, read.
    Examples
    --------
    >>> subscription_times(0.5, 10)
    SubscriptionTimes(keep_alive_s=5.0, least_lifetime_count=30, least_lifetime_s=15.0)
    """
    if not 0.0 < publishing_s < math.inf:
        raise ValueError(f"publishing_s is {publishing_s}; it must be positive and finite")
    _count("keep_alive_count", keep_alive_count, None)
    lifetime = LIFETIME_PER_KEEP_ALIVE * keep_alive_count
    return SubscriptionTimes(publishing_s * keep_alive_count, lifetime, publishing_s * lifetime)


def _count(name: str, value: int, most: int | None) -> None:
    if not math.isfinite(value) or value != int(value) or value < 1 or (most is not None and value > most):
        span = "" if most is None else f" to {most}"
        raise ValueError(f"{name} is {value}; it must be a whole number from 1{span}")
