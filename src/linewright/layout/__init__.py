"""The track unrolled: lanes cut from stock sections, transfers between them, and the stops where carriers may rest.

>>> from linewright import layout
>>> layout.cut_sections(2.31, (0.385, 0.77, 1.155)).sections_m
(1.155, 1.155)
"""

from linewright.layout.clearances import check_layout
from linewright.layout.lanes import (
    LaneLayout,
    Layout,
    Stop,
    TransferLayout,
    body_length_m,
    least_pitch_m,
    travel_order,
)
from linewright.layout.sections import SectionCut, SectionCutError, cut_sections
from linewright.layout.stops import lay_out, resting_order

__all__ = [
    "LaneLayout",
    "Layout",
    "SectionCut",
    "SectionCutError",
    "Stop",
    "TransferLayout",
    "body_length_m",
    "check_layout",
    "cut_sections",
    "lay_out",
    "least_pitch_m",
    "resting_order",
    "travel_order",
]
