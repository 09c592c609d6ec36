"""One carrier's move: its limits, its profile, how close behind another it may run, how its fixture comes to rest."""

from linewright.motion.curves import curve_limits, leg_limits, pull_m_s2, side_pull_m_s2
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
from linewright.motion.settling import (
    JerkChoice,
    NullingJerk,
    Residual,
    Shaper,
    nulling_jerk,
    quickest_jerk,
    residual_vibration,
    settling_time,
    shaper_residual,
    zero_vibration_derivative_shaper,
    zero_vibration_shaper,
)
from linewright.motion.thrust import DriveFigures, ThrustCurveError

__all__ = [
    "Candidate",
    "CarrierLimits",
    "DriveFigures",
    "JerkChoice",
    "Limits",
    "Move",
    "NoAccelerationError",
    "NullingJerk",
    "Ramp",
    "Residual",
    "Segment",
    "Shaper",
    "ThrustCurveError",
    "carrier_limits",
    "curve_limits",
    "governing_limits",
    "hold_limits",
    "leg_limits",
    "move_times",
    "nulling_jerk",
    "plan_move",
    "plan_ramp",
    "platform_limits",
    "profile_table",
    "pull_m_s2",
    "quickest_jerk",
    "residual_vibration",
    "ride_move",
    "settling_time",
    "shaper_residual",
    "side_pull_m_s2",
    "start_delay_us",
    "start_delays_us",
    "times_to_microseconds",
    "to_microseconds",
    "zero_vibration_derivative_shaper",
    "zero_vibration_shaper",
]
