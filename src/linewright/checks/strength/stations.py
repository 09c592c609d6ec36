"""The rows of the stations: what their tools push, against everything that has to stand it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from linewright.checks.strength.deflection import Deflection, tool_deflection
from linewright.checks.strength.missing import Known, has_fixture_mass, has_heights
from linewright.checks.strength.points import off_rows
from linewright.checks.strength.riding import bodies_of, carrier_loads
from linewright.checks.strength.statics import BlockLoads
from linewright.checks.strength.tools import AXES, BlockRange, Bound, Tools, block_bounds, extreme_loads, tool_loads
from linewright.errors import Place
from linewright.findings import Finding, Verdict, judge, margin_above, margin_below
from linewright.line.model import Line
from linewright.line.spoken import in_words, plain, to_write
from linewright.motion.limits import STANDARD_GRAVITY_M_S2
from linewright.motion.thrust import THRUST_SHARE
from linewright.remedies import rounded_away, spare_for

HOLDING_SHARE: Final = 0.7
"""Share of the continuous thrust that may hold a force for as long as it stands; common practice."""
LEAST_SAFETY: Final = 2.0
"""Static safety that is asked for where the sheet states none; common practice."""
PAGE: Final = "docs/limits/strength.md"
_BOTH: Final = {
    "down": "a support under the carrier and a hold-down clamp, each",
    "across": "side stops on both sides, each",
    "along": "stops before and behind the carrier, or a clamp, each",
}
_CARRIERS: Final = {
    "down": "a support under the carrier",
    "lift": "a hold-down clamp",
    "across": "a side stop",
    "along": "a stop or clamp along the track",
}


@dataclass(frozen=True, eq=False)
class StationCase:
    """One station with its tools and what they do; None where a figure is missing for it.

    Parameters
    ----------
    tools : at their greatest
    bounds : every limit that its forces must keep to
    blocks : extremes of the blocks, over empty and loaded carriers
    deflection : greatest along each axis at the tool point under the stated forces. [m]
    """

    tools: Tools
    bounds: tuple[Bound, ...]
    blocks: BlockRange | None
    deflection: Deflection | None

    @property
    def tightest(self) -> Bound | None:
        """The limit that allows the least; None where none limits."""
        found = min(self.bounds, key=lambda bound: bound.scale, default=None)
        return None if found is None or math.isinf(found.scale) else found

    @property
    def allowed_N(self) -> float | None:
        """Greatest force of the tool that all limits allow; of several that of the largest, all in step. [N]"""
        tightest = self.tightest
        return None if tightest is None else tightest.scale * float(self.tools.size_N.max())

    def scale(self, code: str, share: float = 1.0) -> float:
        """How many times the greatest forces the rows of a code allow, with so much of their limit."""
        return min((bound.scale_of(share) for bound in self.bounds if bound.code == code), default=math.inf)


def least_safety(line: Line) -> float:
    """Static safety that is asked for: the sheet's, else :data:`LEAST_SAFETY`."""
    guides = line.conveyor.guides
    return LEAST_SAFETY if guides is None or guides.least_static_safety is None else guides.least_static_safety


def safety_source(line: Line) -> str:
    """Where that comes from."""
    guides = line.conveyor.guides
    if guides is None or guides.least_static_safety is None:
        return f"{PAGE}, Static safety; {LEAST_SAFETY:g} (common practice), as the sheet states no least_static_safety"
    return f"{PAGE}, Static safety; the conveyor sheet ({line.conveyor.name}): least_static_safety"


def station_case(line: Line, tools: Tools, known: Known) -> StationCase:
    """Everything that the tools of one station do, and every limit that they must keep to."""
    sheet = line.conveyor
    guides, drive = sheet.guides, sheet.drive
    bounds = [Bound("support", 0.0, tools.gross_N(axis), takes) for axis, takes in tools.support_N.items()]
    across_N, along_N = tools.across_or_along_N("across"), tools.across_or_along_N("along")
    if sheet.allowed_force is not None:
        bounds += [
            Bound("force-down", 0.0, tools.down_N, sheet.allowed_force.down_N),
            Bound("force-across", 0.0, across_N, sheet.allowed_force.across_N),
            Bound("force-along", 0.0, along_N, sheet.allowed_force.along_N),
        ]
    bounds.append(Bound("holding-lasting", 0.0, along_N, HOLDING_SHARE * drive.continuous_thrust_N))
    bounds.append(Bound("holding-short", 0.0, along_N, THRUST_SHARE * drive.thrust[0][1]))
    if sheet.magnets is not None and has_fixture_mass(line):
        bounds.append(Bound("carrier-lift", 0.0, tools.lift_N, _holds_down_N(line)))
    blocks, moved = None, None
    if guides is not None and known.at_rest and tools.has_points and has_heights(line, tools):
        bodies, each = _resting(line), tool_loads(tools, guides)
        limit_N = guides.static_rating_N / least_safety(line)
        bounds += block_bounds("static-safety", bodies, each, limit_N)
        ranges = [extreme_loads(body, each) for body in bodies]
        blocks = max(ranges, key=lambda one: float(one.greatest_N.max()))
        lightest = min(ranges, key=lambda one: float(one.least_N.min()))
        blocks = BlockRange(blocks.greatest_N, lightest.least_N)
    if known.stiffness and tools.has_points:
        moved = _deflection(line, tools)
    return StationCase(tools, tuple(bounds), blocks, moved)


def station_rows(line: Line, case: StationCase, known: Known) -> list[Finding]:
    """Every row of one station; those of a tool whose greatest force is not stated only where they fail already."""
    rows = _allowed_rows(line, case) + _support_rows(line, case) + _block_rows(line, case, known)
    rows += _lift_rows(line, case) + _holding_rows(line, case)
    if not case.tools.at_greatest:
        rows = [row for row in rows if row.verdict == "fails"]
    return off_rows(line, case.tools) + rows + _deflection_rows(line, case)


def _allowed_rows(line: Line, case: StationCase) -> list[Finding]:
    """The forces that the sheet allows, per direction."""
    allowed, tools = line.conveyor.allowed_force, case.tools
    if allowed is None:
        return []
    used = {"down": tools.down_N, "across": tools.across_or_along_N("across")}
    used["along"] = tools.across_or_along_N("along")
    limits = {"down": allowed.down_N, "across": allowed.across_N, "along": allowed.along_N}
    source = f"the conveyor sheet ({line.conveyor.name}): allowed_force"
    return [
        _force_row(line, case, f"force-{axis}", axis, axis, (used[axis], limits[axis]), source)
        for axis in AXES
        if used[axis] > 0.0
    ]


def _support_rows(line: Line, case: StationCase) -> list[Finding]:
    """What a support takes in place of the carrier, against what it can."""
    rows = []
    for axis, takes_N in case.tools.support_N.items():
        value_N = case.tools.gross_N(axis)
        if value_N <= 0.0:
            continue
        margin = margin_below(value_N, takes_N)
        verdict = judge(margin)
        place = line.place("stations", case.tools.station, "support")
        where = f"{_station(case)}, {axis}: what the support has to take"
        remedy = ""
        if verdict != "holds":
            share = 1.0 - spare_for(verdict)
            needs = to_write(value_N / share, "N", line.units, since=0.0)
            remedy = (
                f"a support that takes {needs} or more {axis}{_of_stated(case.tools)}; "
                f"{_ease(line, case, share * takes_N / value_N, verdict)}"
            )
        source = "the line file: support"
        rows.append(
            Finding("support", "strength", verdict, where, place, value_N, takes_N, "N", margin, source, remedy)
        )
    return rows


def _block_rows(line: Line, case: StationCase, known: Known) -> list[Finding]:
    """Static safety of the worst block, and the block that presses least."""
    guides, blocks = line.conveyor.guides, case.blocks
    if guides is None or blocks is None:
        return []
    least, load_N = least_safety(line), float(blocks.greatest_N.max())
    safety = guides.static_rating_N / load_N if load_N > 0.0 else math.inf
    margin = margin_above(safety, least)
    verdict = judge(margin)
    place = _place(line, case)
    where = (
        f"{_station(case)}: block {blocks.worst} carries {in_words(load_N, 'N', line.units)}{_all_allow(line, case)}"
    )
    remedy = "" if verdict == "holds" else _relief(line, case, known, verdict)
    figures = (safety, least, None, margin)
    rows = [Finding("static-safety", "strength", verdict, where, place, *figures, safety_source(line), remedy)]
    lowest_N = float(blocks.least_N.min())
    lifts = "is pulled off its rail and held by its grip alone" if lowest_N < 0.0 else "stays pressed on its rail"
    where = f"{_station(case)}: block {blocks.lightest}, which presses least, {lifts}"
    source = f"{PAGE}, Loads of the blocks"
    rows.append(Finding("block-uplift", "strength", "holds", where, place, lowest_N, None, "N", None, source, ""))
    return rows


def _lift_rows(line: Line, case: StationCase) -> list[Finding]:
    """A tool that lifts, against weight and magnets."""
    value_N = case.tools.lift_N
    if value_N <= 0.0 or all(bound.code != "carrier-lift" for bound in case.bounds):
        return []
    source = f"{PAGE}, Lifting; the conveyor sheet ({line.conveyor.name}): magnets"
    return [_force_row(line, case, "carrier-lift", "down", "lift", (value_N, _holds_down_N(line)), source)]


def _holding_rows(line: Line, case: StationCase) -> list[Finding]:
    """What pushes along, against the thrust that holds the carrier where it is."""
    drive, value_N = line.conveyor.drive, case.tools.across_or_along_N("along")
    if value_N <= 0.0:
        return []
    limits = {
        "holding-lasting": (HOLDING_SHARE * drive.continuous_thrust_N, f"{HOLDING_SHARE:g} of the continuous thrust"),
        "holding-short": (THRUST_SHARE * drive.thrust[0][1], f"{THRUST_SHARE:g} of the peak thrust at rest"),
    }
    return [
        _force_row(line, case, code, "along", "along", (value_N, limit_N), f"{PAGE}, Holding; {why} (common practice)")
        for code, (limit_N, why) in limits.items()
    ]


def _force_row(
    line: Line, case: StationCase, code: str, axis: str, way: str, figures: tuple[float, float], source: str
) -> Finding:
    """One force against one limit, both in newton."""
    value_N, limit_N = figures
    margin = margin_below(value_N, limit_N)
    verdict = judge(margin)
    sense = "up" if way == "lift" else way
    where = f"{_station(case)}, {sense}{_all_allow(line, case)}"
    remedy = ""
    if verdict != "holds":
        ease = _ease(line, case, case.scale(code, 1.0 - spare_for(verdict)), verdict)
        remedy = f"{ease}; or {_carried(line, case.tools, axis, way)}"
    return Finding(code, "strength", verdict, where, _place(line, case), value_N, limit_N, "N", margin, source, remedy)


def _deflection_rows(line: Line, case: StationCase) -> list[Finding]:
    """How far the tool point gives way under the stated forces, against the tolerance where there is one."""
    moved = case.deflection
    if moved is None:
        return []
    name = case.tools.station
    tolerance = line.station(name).tolerance
    ways = {"along": moved.x_m, "across": moved.y_m, "up or down": moved.z_m}
    limits = (
        dict.fromkeys(ways)
        if tolerance is None
        else dict(zip(ways, (tolerance.x_m, tolerance.y_m, tolerance.z_m), strict=True))
    )
    judged = {axis: limit for axis, limit in limits.items() if limit is not None}
    source = f"{PAGE}, Deflection; stiffness: the conveyor sheet ({line.conveyor.name})"
    if not judged:
        axis = max(ways, key=lambda one: ways[one])
        where, place = f"station {name}, {axis}, at the stated force", _place(line, case)
        figures = (ways[axis], None, "m", None)
        return [Finding("deflection", "strength", "holds", where, place, *figures, source, "")]
    axis = min(judged, key=lambda one: judged[one] - ways[one] if judged[one] == 0.0 else 1.0 - ways[one] / judged[one])
    value_m, limit_m = ways[axis], judged[axis]
    margin = margin_below(value_m, limit_m) if limit_m > 0.0 else (0.0 if value_m == 0.0 else -1.0)
    verdict = judge(margin)
    where = f"station {name}, {axis}, at the stated force against the tolerance"
    remedy = ""
    if limit_m == 0.0:
        remedy = f"write a tolerance above ±0 {'in' if line.units == 'inch' else 'mm'}: nothing is as stiff as that"
    elif verdict != "holds":
        largest_N = float((case.tools.size_N * case.tools.stated).max())
        share = (1.0 - spare_for(verdict)) * limit_m / value_m
        work = to_write(share * largest_N, "N", line.units, since=math.inf)
        several = " of the largest tool, all in step," if len(case.tools.names) > 1 else ""
        remedy = f"work with {work}{several} at most, or {_stiffer(line, case, axis, verdict)}"
    place = line.place("stations", name, "tolerance")
    return [Finding("deflection", "strength", verdict, where, place, value_m, limit_m, "m", margin, source, remedy)]


def _deflection(line: Line, tools: Tools) -> Deflection:
    """Greatest deflection along each axis at the tool's points and where the forces act, under the stated forces."""
    guides, drive = line.conveyor.guides, line.conveyor.drive
    assert guides is not None
    assert guides.stiffness_N_m is not None
    assert guides.side_stiffness_N_m is not None
    assert guides.plate_height_m is not None
    assert guides.thrust_height_m is not None
    assert drive.servo_stiffness_N_m is not None
    forces = tools.net_N * tools.stated[:, None]
    tool = line.station(tools.station).tool
    points = tools.at_m.tolist() + ([] if tool is None or tool.at_m is None else [tool.at_m])
    height_m = guides.plate_height_m
    at = tools.at_m + [0.0, 0.0, height_m]
    found = [
        tool_deflection(
            forces, at, (x, y, z + height_m), guides.along_m, guides.across_m, guides.stiffness_N_m,
            guides.side_stiffness_N_m, drive.servo_stiffness_N_m, guides.thrust_height_m,
        )
        for x, y, z in points
    ]  # fmt: skip
    return Deflection(
        max(abs(one.x_m) for one in found), max(abs(one.y_m) for one in found), max(abs(one.z_m) for one in found)
    )


def _resting(line: Line) -> tuple[BlockLoads, ...]:
    """Loads of the blocks at rest, empty and loaded."""
    guides = line.conveyor.guides
    assert guides is not None
    return tuple(carrier_loads(line, guides, loaded, (0.0, 0.0, 0.0), 0.0) for loaded in (False, True))


def _holds_down_N(line: Line) -> float:
    """Weight of the empty carrier with its fixture, and the magnets. [N]"""
    magnets = line.conveyor.magnets
    assert magnets is not None
    return magnets.attraction_N + STANDARD_GRAVITY_M_S2 * sum(body.mass_kg for body in bodies_of(line, False))


def _relief(line: Line, case: StationCase, known: Known, verdict: Verdict) -> str:
    """What makes the static safety hold: less force, or a support along the first axis that is enough."""
    share = 1.0 / (1.0 + spare_for(verdict))
    scale, guides = case.scale("static-safety", share), line.conveyor.guides
    if not 0.0 < scale < math.inf:  # weight and magnets alone are too much, or almost
        assert guides is not None
        bare = station_case(line, case.tools.without_all(), known)
        assert bare.blocks is not None
        assert case.blocks is not None
        due, alone = (
            to_write(least_safety(line) / share * float(one.greatest_N.max()), "N", line.units, since=0.0)
            for one in (case.blocks, bare.blocks)
        )
        return (
            f"blocks with a static rating of {due} or more{_of_stated(case.tools)}; "
            f"weight and magnets alone ask for {alone}"
        )
    ease = _ease(line, case, scale, verdict)
    for axis in AXES:
        if axis in case.tools.support_N or case.tools.gross_N(axis) == 0.0:
            continue
        carried = station_case(line, case.tools.without(axis), known)
        if carried.scale("static-safety", share) >= 1.0:
            way = "lift" if axis == "down" and case.tools.down_N == 0.0 else axis
            return f"{ease}; or {_carried(line, case.tools, axis, way)}"
    return f"{ease}; or take a press that closes its own force loop (force: none)"


def _ease(line: Line, case: StationCase, scale: float, verdict: Verdict) -> str:
    """The greatest forces at which a row holds; one that is tight, with what is then left."""
    left = ", with a tenth to spare" if verdict == "tight" else ""
    if scale <= 0.0:
        return f"it does not hold{left} without the tool either"
    if len(case.tools.names) > 1:
        share, which = rounded_away(scale * 100.0, since=math.inf), "greatest" if case.tools.at_greatest else "stated"
        return f"it holds with up to {plain(share)} % of the tools' {which} forces{left}"
    force = to_write(scale * float(case.tools.size_N[0]), "N", line.units, since=math.inf)
    return f"it holds with a tool that pushes {force} at most{left}"


def _carried(line: Line, tools: Tools, axis: str, way: str) -> str:
    """What would carry the force along one axis, and how much it must take."""
    takes = to_write(tools.gross_N(axis), "N", line.units, since=0.0)
    by = _BOTH[axis] if tools.pushes_both_ways(axis) else _CARRIERS[way]
    text = f"let {by} that takes {takes} carry it (support: {{{axis}: {takes}}}{_of_stated(tools)})"
    return f"{text}, or take a press that closes its own force loop (force: none)" if way == "down" else text


def _of_stated(tools: Tools) -> str:
    """What a support is sized by where a greatest force is not stated."""
    return "" if tools.at_greatest else ", at the stated force, as the greatest is not stated"


def _stiffer(line: Line, case: StationCase, axis: str, verdict: Verdict) -> str:
    """The first support of down, across, along that alone keeps the tool point within its tolerance."""
    tolerance = line.station(case.tools.station).tolerance
    assert tolerance is not None
    share = 1.0 - spare_for(verdict)
    limits = (tolerance.x_m, tolerance.y_m, tolerance.z_m)
    for one in AXES:
        if one in case.tools.support_N or case.tools.gross_N(one) == 0.0:
            continue
        moved = _deflection(line, case.tools.without(one))
        if all(
            limit is None or way <= share * limit
            for way, limit in zip((moved.x_m, moved.y_m, moved.z_m), limits, strict=True)
        ):
            return _carried(line, case.tools, one, "lift" if one == "down" and case.tools.down_N == 0.0 else one)
    return "take a press that closes its own force loop (force: none)"


def _all_allow(line: Line, case: StationCase) -> str:
    """``; all rows allow 132 N (static-safety)``."""
    allowed_N, tightest = case.allowed_N, case.tightest
    if allowed_N is None or tightest is None:
        return ""
    largest = "" if len(case.tools.names) == 1 else " for the largest force, all in step"
    return f"; all rows together allow {in_words(allowed_N, 'N', line.units)}{largest} ({tightest.code})"


def _station(case: StationCase) -> str:
    at = (
        "at the tool's greatest force"
        if case.tools.at_greatest
        else "at the stated force already, its greatest unknown"
    )
    return f"station {case.tools.station}, {at}"


def _place(line: Line, case: StationCase) -> Place | None:
    return line.place("stations", case.tools.station, "force")


def grouped(rows: list[Finding]) -> list[Finding]:
    """Of each code every row that fails or is tight, and of those that hold the one with the least margin alone.

    Rows without a limit are told by their least value where that is a load, by their greatest where it is a way.
    """
    kept: list[Finding] = []
    for code in dict.fromkeys(row.code for row in rows):
        mine = [row for row in rows if row.code == code]
        kept += [row for row in mine if row.verdict != "holds"]
        held = [row for row in mine if row.verdict == "holds"]
        for some in ([row for row in held if row.limit is not None], [row for row in held if row.limit is None]):
            if some:
                worst = min(some, key=_badness)
                count = len({row.where.split(",")[0] for row in some})
                more = "" if count == 1 else f"; the worst of {count} stations"
                kept.append(replace(worst, where=worst.where + more))
    return kept


def _badness(row: Finding) -> float:
    assert row.value is not None
    if row.margin is not None:
        return row.margin
    return row.value if row.unit == "N" else -row.value
