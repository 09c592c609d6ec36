"""What governs the moves of a carrier, whether the thrust suffices, and whether part, coils and carrier stand it.

Examples
--------
>>> from linewright.layout import lay_out
>>> from linewright.line.load import read_line
>>> from linewright.line.patterns import pattern_text
>>> line = read_line(pattern_text("two-deck"))
>>> result = check_motion(line, lay_out(line))
>>> sorted({row.code for row in result.findings if row.verdict == "fails"})
[]
>>> result.legs.names[:5]
('start', 'end', 'lane', 'loaded', 'distance_m')
"""

from linewright.checks.motion.coil_heat import CoilHeat, check_coil_heat, coil_table, find_coil_heat
from linewright.checks.motion.coils import (
    CoilStretch,
    CoilSums,
    CoilTrack,
    CoilView,
    coil_sums,
    coil_track,
    group_edges_m,
    thrust_shares,
)
from linewright.checks.motion.curves import check_curves
from linewright.checks.motion.emergency import braking_thrust_N, check_emergency
from linewright.checks.motion.held import net_along_N
from linewright.checks.motion.hold import check_part_hold, check_payload, falling_hold_m_s2
from linewright.checks.motion.legs import (
    GoverningCost,
    LegOfLine,
    LegThrust,
    curve_thrust_N,
    find_legs,
    governing_cost,
    leg_thrust,
    legs_table,
    thrust_table,
)
from linewright.checks.motion.moves import THRUST_SOURCE, check_move_limits
from linewright.checks.motion.result import MotionResult, check_motion
from linewright.checks.motion.slosh import (
    Sloshing,
    braking_segments,
    check_slosh,
    mode_share,
    plane_rise_m,
    slosh_frequency_hz,
    sloshing,
)
from linewright.checks.motion.thrust import check_thrust, duty_rms_N

__all__ = [
    "THRUST_SOURCE",
    "CoilHeat",
    "CoilStretch",
    "CoilSums",
    "CoilTrack",
    "CoilView",
    "GoverningCost",
    "LegOfLine",
    "LegThrust",
    "MotionResult",
    "Sloshing",
    "braking_segments",
    "braking_thrust_N",
    "check_coil_heat",
    "check_curves",
    "check_emergency",
    "check_motion",
    "check_move_limits",
    "check_part_hold",
    "check_payload",
    "check_slosh",
    "check_thrust",
    "coil_sums",
    "coil_table",
    "coil_track",
    "curve_thrust_N",
    "duty_rms_N",
    "falling_hold_m_s2",
    "find_coil_heat",
    "find_legs",
    "governing_cost",
    "group_edges_m",
    "leg_thrust",
    "legs_table",
    "mode_share",
    "net_along_N",
    "plane_rise_m",
    "slosh_frequency_hz",
    "sloshing",
    "thrust_shares",
    "thrust_table",
]
