"""Closed forms and exact small models of queues, loops and serial lines, to hold a simulated rate against.

Single formulas: floats in, named results out. What they say of a whole line stands in `linewright.flow.line_bounds`.
"""

from __future__ import annotations

from linewright.flow.bounds.classes import ClassNetwork, class_network
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
from linewright.flow.bounds.operators import (
    FixedInterference,
    MachineGroup,
    OperatorRound,
    fixed_interference,
    machine_interference,
    machines_per_operator,
    operator_round,
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
from linewright.flow.bounds.rework import ReworkTime, ReworkVisits, rework_time, rework_visits
from linewright.flow.bounds.serial import (
    SerialLine,
    TwoMachineLine,
    UnreliableLimits,
    exponential_line,
    two_machine_line,
    two_station_rate,
    unreliable_limits,
)
from linewright.flow.bounds.setups import (
    SetupTime,
    batch_rate,
    least_batch,
    random_changeover,
    sequence_changeover,
    setup_time,
)

__all__ = [
    "BlockingNetwork",
    "ClassNetwork",
    "ClosedNetwork",
    "FixedInterference",
    "InterruptedTime",
    "LineCharacter",
    "LineState",
    "MachineGroup",
    "OpenStations",
    "OperatorRound",
    "Queue",
    "RateRange",
    "ReworkTime",
    "ReworkVisits",
    "SerialLine",
    "SetupTime",
    "TwoMachineLine",
    "UnreliableLimits",
    "asymptotic_bounds",
    "balanced_job_bounds",
    "batch_rate",
    "best_case",
    "blocking_mva",
    "class_network",
    "erlang_b",
    "erlang_c",
    "exponential_line",
    "fixed_interference",
    "interrupted_time",
    "least_batch",
    "limited_queue",
    "line_character",
    "machine_interference",
    "machines_per_operator",
    "many_server_queue",
    "mean_value_analysis",
    "open_network",
    "operator_round",
    "practical_worst_case",
    "random_changeover",
    "rework_time",
    "rework_visits",
    "sequence_changeover",
    "setup_time",
    "single_server_queue",
    "two_machine_line",
    "two_station_rate",
    "unit_stop_ring",
    "unreliable_limits",
    "vut_wait",
    "worst_case",
]
