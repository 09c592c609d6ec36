"""Planning: choosing what to build. Names load when they are first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linewright.planning.assumed import Effect, find_effects, takt_with_losses
    from linewright.planning.changes import Change, find_changes
    from linewright.planning.choices import Choices, Lower, OneOut, Plateau, SmallestNear
    from linewright.planning.file_changes import FileChange
    from linewright.planning.gains import Gain, Gains, find_gains
    from linewright.planning.money.comparison import Comparison, compare_with_baseline
    from linewright.planning.money.costs import air_energy_J, payback_years
    from linewright.planning.money.parts_list import PartRow, PartsList, controllers_needed
    from linewright.planning.money.steps import baseline_exchange_s, stations_needed
    from linewright.planning.promises import (
        AnswerRow,
        MovedFinding,
        Promises,
        RateChange,
        compare_promises,
        unpaired_comparison,
    )
    from linewright.planning.run_off import (
        AvailabilityPlan,
        FailurePlan,
        IndexPlan,
        NotPlanned,
        RatePlan,
        RunOff,
        RunOffPhase,
        RunOffTest,
        SamplingPlan,
        SpreadPlan,
        availability_plan,
        failure_plan,
        failure_test_time,
        index_pass_line,
        index_plan,
        plan_run_off,
        rate_hours,
        rate_plan,
        rate_shown,
        sampling_plan,
        spread_plan,
        success_run,
        tolerance_factor,
    )
    from linewright.planning.same_rows import match_findings
    from linewright.planning.size import CountRow, Sizing, most_that_fit, size_line
    from linewright.planning.waiting_stops import WaitingStops

__all__ = [
    "AnswerRow",
    "AvailabilityPlan",
    "Change",
    "Choices",
    "Comparison",
    "CountRow",
    "Effect",
    "FailurePlan",
    "FileChange",
    "Gain",
    "Gains",
    "IndexPlan",
    "Lower",
    "MovedFinding",
    "NotPlanned",
    "OneOut",
    "PartRow",
    "PartsList",
    "Plateau",
    "Promises",
    "RateChange",
    "RatePlan",
    "RunOff",
    "RunOffPhase",
    "RunOffTest",
    "SamplingPlan",
    "Sizing",
    "SmallestNear",
    "SpreadPlan",
    "WaitingStops",
    "air_energy_J",
    "availability_plan",
    "baseline_exchange_s",
    "compare_promises",
    "compare_with_baseline",
    "controllers_needed",
    "failure_plan",
    "failure_test_time",
    "find_changes",
    "find_effects",
    "find_gains",
    "index_pass_line",
    "index_plan",
    "match_findings",
    "most_that_fit",
    "payback_years",
    "plan_run_off",
    "rate_hours",
    "rate_plan",
    "rate_shown",
    "sampling_plan",
    "size_line",
    "spread_plan",
    "stations_needed",
    "success_run",
    "takt_with_losses",
    "tolerance_factor",
    "unpaired_comparison",
]

_LATE = {
    "AnswerRow": "promises",
    "AvailabilityPlan": "run_off",
    "Change": "changes",
    "Choices": "choices",
    "Comparison": "money.comparison",
    "CountRow": "size",
    "Effect": "assumed",
    "FailurePlan": "run_off",
    "FileChange": "file_changes",
    "Gain": "gains",
    "Gains": "gains",
    "IndexPlan": "run_off",
    "Lower": "choices",
    "MovedFinding": "promises",
    "NotPlanned": "run_off",
    "OneOut": "choices",
    "PartRow": "money.parts_list",
    "PartsList": "money.parts_list",
    "Plateau": "choices",
    "Promises": "promises",
    "RateChange": "promises",
    "RatePlan": "run_off",
    "RunOff": "run_off",
    "RunOffPhase": "run_off",
    "RunOffTest": "run_off",
    "SamplingPlan": "run_off",
    "Sizing": "size",
    "SmallestNear": "choices",
    "SpreadPlan": "run_off",
    "WaitingStops": "waiting_stops",
    "air_energy_J": "money.costs",
    "availability_plan": "run_off",
    "baseline_exchange_s": "money.steps",
    "compare_promises": "promises",
    "compare_with_baseline": "money.comparison",
    "controllers_needed": "money.parts_list",
    "failure_plan": "run_off",
    "failure_test_time": "run_off",
    "find_changes": "changes",
    "find_effects": "assumed",
    "find_gains": "gains",
    "index_pass_line": "run_off",
    "index_plan": "run_off",
    "match_findings": "same_rows",
    "most_that_fit": "size",
    "payback_years": "money.costs",
    "plan_run_off": "run_off",
    "rate_hours": "run_off",
    "rate_plan": "run_off",
    "rate_shown": "run_off",
    "sampling_plan": "run_off",
    "size_line": "size",
    "spread_plan": "run_off",
    "stations_needed": "money.steps",
    "success_run": "run_off",
    "takt_with_losses": "assumed",
    "tolerance_factor": "run_off",
    "unpaired_comparison": "promises",
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module 'linewright.planning' has no attribute {name!r}")
    value = getattr(import_module(f"linewright.planning.{_LATE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
