"""The bus: bytes of the process image, time on the wire, reaction of the controller.

>>> from linewright.checks import bus
>>> bus.cyclic_budget(24 * 18 + 2 * 8 + 32, 0.0015, 100e6).wire_bytes
532
>>> bus.reaction_budget(bus_s=0.0015, scan_s=0.002, output_s=0.0015).worst_s
0.0085
"""

from linewright.checks.bus.frames import (
    CyclicBudget,
    DatagramFrame,
    FrameTime,
    cyclic_budget,
    ethernet_frame,
    most_data_bytes,
    type_12_frame,
)
from linewright.checks.bus.rows import BusResult, check_bus
from linewright.checks.bus.timing import (
    ModbusRequest,
    ReactionBudget,
    Sampling,
    SubscriptionTimes,
    modbus_read,
    modbus_requests,
    modbus_write,
    reaction_budget,
    sampling_of,
    subscription_times,
)

__all__ = [
    "BusResult",
    "CyclicBudget",
    "DatagramFrame",
    "FrameTime",
    "ModbusRequest",
    "ReactionBudget",
    "Sampling",
    "SubscriptionTimes",
    "check_bus",
    "cyclic_budget",
    "ethernet_frame",
    "modbus_read",
    "modbus_requests",
    "modbus_write",
    "most_data_bytes",
    "reaction_budget",
    "sampling_of",
    "subscription_times",
    "type_12_frame",
]
