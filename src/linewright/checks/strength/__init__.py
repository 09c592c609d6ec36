"""Strength: loads of the guide blocks, allowed forces, holding, deflection, life of the guides.

Examples
--------
>>> from linewright.checks.strength import block_loads, guide_life, static_safety
>>> press = block_loads((0, 0, -1000), (0.05, 0, 0), 0.2, 0.15)
>>> press.normal_N.round(9).tolist(), press.worst
([375.0, 375.0, 125.0, 125.0], 'front-left')
>>> static_safety(1900.0, 375.0) > 2.5, round(guide_life(1150.0, 375.0).travel_m / 1000.0)
(True, 2884)
"""

from linewright.checks.strength.check import StrengthResult, check_strength
from linewright.checks.strength.deflection import (
    Cantilever,
    Contact,
    Deflection,
    ball_contact,
    cantilever_deflection,
    contact_modulus_Pa,
    tool_deflection,
)
from linewright.checks.strength.ratings import (
    GuideLife,
    RailShares,
    guide_life,
    mean_load,
    rating_at_reference,
    single_carriage_load,
    static_safety,
    two_rail_shares,
)
from linewright.checks.strength.riding import LifeRecord
from linewright.checks.strength.statics import BLOCKS, BlockLoads, Body, Forces, block_loads, body_loads
from linewright.checks.strength.tools import BlockRange, extreme_loads

__all__ = [
    "BLOCKS",
    "BlockLoads",
    "BlockRange",
    "Body",
    "Cantilever",
    "Contact",
    "Deflection",
    "Forces",
    "GuideLife",
    "LifeRecord",
    "RailShares",
    "StrengthResult",
    "ball_contact",
    "block_loads",
    "body_loads",
    "cantilever_deflection",
    "check_strength",
    "contact_modulus_Pa",
    "extreme_loads",
    "guide_life",
    "mean_load",
    "rating_at_reference",
    "single_carriage_load",
    "static_safety",
    "tool_deflection",
    "two_rail_shares",
]
