"""Forces whose point lies where there is no body: neither carrier nor fixture."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.strength.tools import Tools
from linewright.findings import Finding, margin_below
from linewright.line import fields, units
from linewright.line.model import Line
from linewright.remedies import rounded_place

_AXES: Final = ("along", "across")
_HAIR: Final = 1e-9
"""Share by which the sum of a rounding may pass an edge."""

Sides = tuple[float, float]
"""Length along the track and width across it. [m]"""


def off_rows(line: Line, tools: Tools) -> list[Finding]:
    """One row for each force of a station that acts off the carrier and off its fixture too.

    Both are rectangles round the middle of the carrier. Told is the one that the point is nearest to by the share of
    its half side, and there the axis that is farther off.
    """
    bodies = _bodies(line)
    rows = []
    for name, (x_m, y_m, _) in zip(tools.names, tools.at_m.tolist(), strict=True):
        if math.isnan(x_m):  # not stated: there is a row for that
            continue
        near = min(bodies, key=lambda body: max(_shares(body, x_m, y_m)))
        shares = _shares(near, x_m, y_m)
        if max(shares) > 1.0 + _HAIR:
            rows.append(_row(line, tools, name, (x_m, y_m), near, shares.index(max(shares))))
    return rows


def _bodies(line: Line) -> list[Sides]:
    carrier, fixture = line.conveyor.carrier, line.fixture
    bodies = [(carrier.length_m, carrier.width_m)]
    if fixture is not None and fixture.envelope_m is not None:
        bodies.append(fixture.envelope_m[:2])
    return bodies


def _shares(body: Sides, x_m: float, y_m: float) -> tuple[float, float]:
    """How far out a point lies along and across, as a share of half the side; up to 1 on the body."""
    return 2.0 * abs(x_m) / body[0], 2.0 * abs(y_m) / body[1]


def _row(line: Line, tools: Tools, name: str, at_m: Sides, near: Sides, axis: int) -> Finding:
    bodies = _bodies(line)
    told = [f"carrier of {_text(line, bodies[0][0])} by {_text(line, bodies[0][1])}"]
    told += [f"fixture of {_text(line, length)} by {_text(line, width)}" for length, width in bodies[1:]]
    alone = "" if bodies[1:] else ", which alone is looked at: no envelope of a fixture is stated"
    where = (
        f"station {tools.station}, {name}: it acts where no body is, off the {' and off the '.join(told)}{alone}; "
        f"{_AXES[axis]} it is {_text(line, abs(at_m[axis]))} from the middle"
    )
    halves = [_half(line, side) for side in near]
    spans = " and ".join(f"{way} from -{half} to {half}" for way, half in zip(_AXES, halves, strict=True))
    remedy = f"write at as counted from the middle of the carrier's top: {spans}"
    if not bodies[1:]:
        remedy += "; or state the envelope of the fixture where that reaches farther"
    value_m, limit_m = abs(at_m[axis]), near[axis] / 2.0
    figures = (value_m, limit_m, "m", margin_below(value_m, limit_m))
    place = line.place("stations", tools.station, "force")
    source = "docs/limits/strength.md, The tools' forces"
    return Finding("force-off-carrier", "strength", "fails", where, place, *figures, source, remedy)


def _text(line: Line, length_m: float) -> str:
    value = float(f"{length_m:.9g}") if line.units == "mm" else round(length_m / 0.0254, 3) * 0.0254
    return fields.in_unit(value, units.LENGTH, "in" if line.units == "inch" else "mm")


def _half(line: Line, side_m: float) -> str:
    """Half a side, rounded to the side that lies on the body."""
    half_m = side_m / 2.0
    found = rounded_place(half_m, line.units, lambda one_m: half_m * 0.99 <= one_m <= half_m * (1.0 + _HAIR))
    return _text(line, half_m) if found is None else found[1]
