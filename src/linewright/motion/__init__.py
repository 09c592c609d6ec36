"""One carrier's move: its limits, its profile, and how close behind another it may run."""

from linewright.motion.gaps import profile_table, start_delay_us, start_delays_us
from linewright.motion.limits import (
    Candidate,
    CarrierLimits,
    NoAccelerationError,
    carrier_limits,
    governing_limits,
    hold_limits,
    platform_limits,
    ride_move,
)
from linewright.motion.profile import (
    Limits,
    Move,
    Segment,
    move_times,
    plan_move,
    times_to_microseconds,
    to_microseconds,
)
from linewright.motion.ramp import Ramp, plan_ramp
from linewright.motion.thrust import DriveFigures, ThrustCurveError

__all__ = [
    "Candidate",
    "CarrierLimits",
    "DriveFigures",
    "Limits",
    "Move",
    "NoAccelerationError",
    "Ramp",
    "Segment",
    "ThrustCurveError",
    "carrier_limits",
    "governing_limits",
    "hold_limits",
    "move_times",
    "plan_move",
    "plan_ramp",
    "platform_limits",
    "profile_table",
    "ride_move",
    "start_delay_us",
    "start_delays_us",
    "times_to_microseconds",
    "to_microseconds",
]
