"""Closed forms and exact small models of queues, loops and serial lines, to hold a simulated rate against.

Single formulas: floats in, named results out. What they say of a whole line stands in `linewright.flow.line_bounds`.
"""

from __future__ import annotations

from linewright.flow.bounds.closed import (
    BlockingNetwork,
    ClosedNetwork,
    RateRange,
    asymptotic_bounds,
    balanced_job_bounds,
    blocking_mva,
    mean_value_analysis,
    unit_stop_ring,
)
from linewright.flow.bounds.factory import (
    InterruptedTime,
    LineCharacter,
    LineState,
    best_case,
    interrupted_time,
    line_character,
    practical_worst_case,
    worst_case,
)
from linewright.flow.bounds.queues import (
    OpenStations,
    Queue,
    erlang_b,
    erlang_c,
    limited_queue,
    many_server_queue,
    open_network,
    single_server_queue,
    vut_wait,
)
from linewright.flow.bounds.serial import (
    SerialLine,
    TwoMachineLine,
    UnreliableLimits,
    exponential_line,
    two_machine_line,
    two_station_rate,
    unreliable_limits,
)

__all__ = [
    "BlockingNetwork",
    "ClosedNetwork",
    "InterruptedTime",
    "LineCharacter",
    "LineState",
    "OpenStations",
    "Queue",
    "RateRange",
    "SerialLine",
    "TwoMachineLine",
    "UnreliableLimits",
    "asymptotic_bounds",
    "balanced_job_bounds",
    "best_case",
    "blocking_mva",
    "erlang_b",
    "erlang_c",
    "exponential_line",
    "interrupted_time",
    "limited_queue",
    "line_character",
    "many_server_queue",
    "mean_value_analysis",
    "open_network",
    "practical_worst_case",
    "single_server_queue",
    "two_machine_line",
    "two_station_rate",
    "unit_stop_ring",
    "unreliable_limits",
    "vut_wait",
    "worst_case",
]
