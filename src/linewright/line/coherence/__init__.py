"""What must fit together in a line: its track, the stations on it, the route, the variants, the people, the supply.

The checks are written for a line. They run as well over the sketch of a faulty file, in which any value may be missing;
a check that needs a missing value says nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewright.line.coherence.combinations import combination_faults
from linewright.line.coherence.known import as_far_as_known
from linewright.line.coherence.limits import end_stop_faults, feeder_faults, zone_faults
from linewright.line.coherence.outside import outside_faults
from linewright.line.coherence.people import people_faults
from linewright.line.coherence.product import product_faults
from linewright.line.coherence.route import rework_faults, route_exits, route_names, route_parallel
from linewright.line.coherence.track import lane_faults, loop_faults, station_faults, stretch_faults, transfer_faults
from linewright.line.fields import PathFault

if TYPE_CHECKING:
    from linewright.line.model import Line


def coherence_faults(line: Line) -> list[PathFault]:
    """Everything that does not fit together, each with the path of the key it belongs to.

    Parameters
    ----------
    line : a line whose single values are valid, or the sketch of a faulty file
    """

    def told(*checks: object) -> list[PathFault]:
        return [fault for check in checks for fault in as_far_as_known(check(line))]  # type: ignore[operator]

    found = told(lane_faults, transfer_faults, station_faults, route_names, stretch_faults, people_faults)
    found += told(feeder_faults, zone_faults, end_stop_faults, combination_faults)
    if not any(path[:1] in (("transfers",), ("lanes",)) for path, _, _ in found):
        found += told(loop_faults)
    if not any(path[:1] == ("route",) for path, _, _ in found):
        found += told(route_parallel, route_exits, rework_faults, outside_faults, product_faults)
    return found
