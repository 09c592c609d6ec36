"""The track unrolled: lanes cut from stock sections, transfers between them, and the stops where carriers may rest.

>>> from linewright import layout
>>> layout.cut_sections(2.31, (0.385, 0.77, 1.155)).sections_m
(1.155, 1.155)
"""

from linewright.layout.clearances import check_layout
from linewright.layout.curves import body_length_m, curve_pitch_m, least_gap_m, ring_pitch_m
from linewright.layout.graph import Hop, Ways, ways_of
from linewright.layout.lanes import (
    LaneLayout,
    Layout,
    Stop,
    TransferLayout,
    least_pitch_m,
)
from linewright.layout.placing import travel_order
from linewright.layout.resting import resting_order, resting_places
from linewright.layout.sections import SectionCut, SectionCutError, cut_sections
from linewright.layout.stops import lay_out

__all__ = [
    "Hop",
    "LaneLayout",
    "Layout",
    "SectionCut",
    "SectionCutError",
    "Stop",
    "TransferLayout",
    "Ways",
    "body_length_m",
    "check_layout",
    "curve_pitch_m",
    "cut_sections",
    "lay_out",
    "least_gap_m",
    "least_pitch_m",
    "resting_order",
    "resting_places",
    "ring_pitch_m",
    "travel_order",
    "ways_of",
]
