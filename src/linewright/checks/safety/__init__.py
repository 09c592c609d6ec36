"""Where carriers stop before they meet a person: stops with power and without, guards, gaps, energies, hazards.

Nothing here states a performance level or conformity, or alters a stated friction, stop time or limit.

>>> from linewright.checks import safety
>>> stop = safety.powered_stop(speed_m_s=1.5, reaction_s=0.02, deceleration_m_s2=10.0)
>>> round(safety.light_curtain_distance(0.03 + stop.time_s, resolution_m=0.014).distance_m, 6)
0.4
"""

from linewright.checks.safety.check import SafetyResult, check_safety
from linewright.checks.safety.distances import (
    SafetyDistance,
    coarsest_scanner_m,
    interlocked_distance,
    light_curtain_distance,
    scanner_distance,
)
from linewright.checks.safety.energies import (
    CRUSH_GAPS_M,
    CrushGap,
    crush_gap,
    fall_speed_m_s,
    kinetic_energy_J,
    stored_energy_J,
)
from linewright.checks.safety.hazards import CAUTION, HEADINGS, Hazard, hazard_list
from linewright.checks.safety.stops import PoweredStop, StopCase, operator_stations, powered_stop

__all__ = [
    "CAUTION",
    "CRUSH_GAPS_M",
    "HEADINGS",
    "CrushGap",
    "Hazard",
    "PoweredStop",
    "SafetyDistance",
    "SafetyResult",
    "StopCase",
    "check_safety",
    "coarsest_scanner_m",
    "crush_gap",
    "fall_speed_m_s",
    "hazard_list",
    "interlocked_distance",
    "kinetic_energy_J",
    "light_curtain_distance",
    "operator_stations",
    "powered_stop",
    "scanner_distance",
    "stored_energy_J",
]
