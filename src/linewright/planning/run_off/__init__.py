"""The run-off: what to run at the customer's, how long, and the pass lines, with the chance that each side takes.

Examples
--------
>>> from linewright.planning.run_off import sampling_plan, success_run
>>> success_run(0.90, 0.90), sampling_plan(0.01, 0.05, 0.02, 0.85).trials
(22, 144)
"""

from linewright.planning.run_off.counts import (
    FailurePlan,
    SamplingPlan,
    failure_plan,
    failure_test_time,
    sampling_plan,
    success_run,
)
from linewright.planning.run_off.plan import plan_run_off
from linewright.planning.run_off.rates import (
    AvailabilityPlan,
    RatePlan,
    availability_plan,
    rate_hours,
    rate_plan,
    rate_shown,
)
from linewright.planning.run_off.records import PHASES, NotPlanned, Phase, RunOff, RunOffPhase, RunOffTest
from linewright.planning.run_off.spreads import (
    IndexPlan,
    SpreadPlan,
    index_pass_line,
    index_plan,
    spread_plan,
    tolerance_factor,
)
from linewright.planning.run_off.warm import with_proof

__all__ = [
    "PHASES",
    "AvailabilityPlan",
    "FailurePlan",
    "IndexPlan",
    "NotPlanned",
    "Phase",
    "RatePlan",
    "RunOff",
    "RunOffPhase",
    "RunOffTest",
    "SamplingPlan",
    "SpreadPlan",
    "availability_plan",
    "failure_plan",
    "failure_test_time",
    "index_pass_line",
    "index_plan",
    "plan_run_off",
    "rate_hours",
    "rate_plan",
    "rate_shown",
    "sampling_plan",
    "spread_plan",
    "success_run",
    "tolerance_factor",
    "with_proof",
]
