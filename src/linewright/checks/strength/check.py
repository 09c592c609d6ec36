"""Strength of a line: may the tools press there, do the blocks stand the moves, how long do the guides live."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from linewright.checks.strength.missing import find_known
from linewright.checks.strength.moving import life_rows, moving_rows
from linewright.checks.strength.riding import LifeRecord, RidingCase, life_of, riding_cases
from linewright.checks.strength.stations import StationCase, grouped, station_case, station_rows
from linewright.checks.strength.tools import tools_of
from linewright.findings import Finding
from linewright.flow.yearly_use import yearly_use
from linewright.layout import Layout
from linewright.line.demand import TaktResult, find_takt
from linewright.line.model import Line
from linewright.tables import Column, Table

if TYPE_CHECKING:
    from linewright.flow.duty import Duty


@dataclass(frozen=True, eq=False)
class StrengthResult:
    """What strength says of a line; the result of :func:`check_strength`.

    Parameters
    ----------
    findings : all of the subject ``strength``
    stations : one row for each station with a force; not a number where a figure is missing
    moving : one row for each state of motion, empty and loaded; empty where a figure is missing
    life : of the guides; None where a figure is missing
    """

    findings: tuple[Finding, ...]
    stations: Table
    moving: Table
    life: LifeRecord | None


def check_strength(
    line: Line, layout: Layout, takt: TaktResult | None = None, duty: Duty | None = None
) -> StrengthResult:
    """Check what tools and moves do to carrier, guides and thrust.

    Parameters
    ----------
    line, layout : a line and its own layout
    takt : from its demand; None: found here where the line file states one, else life is told in travel alone
    duty : of a run; without it the load of the guides is bounded from above, and travel follows from the demand where
        the track is one loop

    Returns
    -------
    StrengthResult   Codes ``force-down``, ``force-across``, ``force-along``, ``support``, ``static-safety``,
                     ``block-uplift``, ``carrier-lift``, ``holding-lasting``, ``holding-short``, ``deflection``,
                     ``force-off-carrier``, ``static-safety-moving``, ``guide-life``, ``guide-load``,
                     ``guide-years``; where a figure is missing also ``tool-force``, ``greatest-force``,
                     ``tool-point``, ``allowed-force``, ``guide-blocks``, ``magnet-attraction``,
                     ``carried-mass``, ``heights``, ``emergency-stop``.

    Source
    ------
    docs/limits/strength.md; the conveyor sheet for its own figures.
    """
    found = [tools_of(station) for station in line.stations]
    tools = tuple(one for one in found if one is not None)
    known = find_known(line, tools)
    cases = [station_case(line, one, known) for one in tools]
    rows = [row for case in cases for row in station_rows(line, case, known)]
    findings = list(known.findings) + grouped(rows)
    guides = line.conveyor.guides
    riding: tuple[RidingCase, ...] = ()
    life = None
    if guides is not None:
        if known.moving:
            riding = riding_cases(line, layout, guides)
            findings += moving_rows(line, layout, guides, riding)
        if takt is None and line.demand is not None:
            takt = find_takt(line.demand)
        use = yearly_use(line, layout, takt, duty)
        life = life_of(line, layout, guides, riding or None, use, duty)
        if life is not None:
            findings += life_rows(line, guides, life, use)
    return StrengthResult(tuple(findings), _station_table(line, cases), _moving_table(riding), life)


def _station_table(line: Line, cases: list[StationCase]) -> Table:
    """Everything of the stations that pictures and papers draw."""
    allowed, guides = line.conveyor.allowed_force, line.conveyor.guides

    def numbers(of: Callable[[StationCase], float | None]) -> np.ndarray:
        values = [of(case) for case in cases]
        return np.array([math.nan if value is None else value for value in values], dtype=np.float64)

    def words(of: Callable[[StationCase], str]) -> np.ndarray:
        return np.array([of(case) for case in cases], dtype=np.str_)

    def share(value_N: float, limit_N: float | None) -> float | None:
        return None if limit_N is None else value_N / limit_N

    def load(case: StationCase) -> float | None:
        return None if case.blocks is None else float(case.blocks.greatest_N.max())

    def safety(case: StationCase) -> float | None:
        load_N = load(case)
        return guides.static_rating_N / load_N if guides is not None and load_N else None

    def used(case: StationCase, code: str) -> float | None:
        scales = [1.0 / bound.scale for bound in case.bounds if bound.code == code and bound.scale > 0.0]
        return max(scales, default=None)

    down, across, along = (None,) * 3 if allowed is None else (allowed.down_N, allowed.across_N, allowed.along_N)
    return Table(
        (
            Column("station", None, words(lambda c: c.tools.station)),
            Column("at_greatest", None, np.array([c.tools.at_greatest for c in cases], dtype=np.bool_),
                   "at the tools' greatest forces; else at the stated ones"),
            Column("down_N", "N", numbers(lambda c: c.tools.down_N), "down, net of a support"),
            Column("lift_N", "N", numbers(lambda c: c.tools.lift_N), "up, net of a support"),
            Column("across_N", "N", numbers(lambda c: c.tools.across_or_along_N("across")), "across, net"),
            Column("along_N", "N", numbers(lambda c: c.tools.across_or_along_N("along")), "along, net"),
            Column("down_share", None, numbers(lambda c: share(c.tools.down_N, down)), "of the allowed force"),
            Column("across_share", None, numbers(lambda c: share(c.tools.across_or_along_N("across"), across))),
            Column("along_share", None, numbers(lambda c: share(c.tools.across_or_along_N("along"), along))),
            Column("support_share", None, numbers(lambda c: used(c, "support")), "of what the support takes"),
            Column("holding_share", None, numbers(lambda c: used(c, "holding-lasting")), "of the lasting hold"),
            Column("worst_block", None, words(lambda c: "" if c.blocks is None else c.blocks.worst)),
            Column("block_load_N", "N", numbers(load), "of the worst block"),
            Column("static_safety", None, numbers(safety), "static rating over that load"),
            Column("least_block_N", "N", numbers(lambda c: None if c.blocks is None else float(c.blocks.least_N.min())),
                   "least normal load; negative where the block is lifted"),
            Column("deflection_x_m", "m", numbers(lambda c: None if c.deflection is None else c.deflection.x_m)),
            Column("deflection_y_m", "m", numbers(lambda c: None if c.deflection is None else c.deflection.y_m)),
            Column("deflection_z_m", "m", numbers(lambda c: None if c.deflection is None else c.deflection.z_m)),
            Column("force_N", "N", numbers(lambda c: float(c.tools.size_N.max())), "of the largest tool"),
            Column("allowed_N", "N", numbers(lambda c: c.allowed_N), "that all rows allow it, all tools in step"),
            Column("allowed_by", None, words(lambda c: "" if c.tightest is None else c.tightest.code)),
        )
    )  # fmt: skip


def _moving_table(cases: tuple[RidingCase, ...]) -> Table:
    """The states of motion."""

    def numbers(values: list[float]) -> np.ndarray:
        return np.array(values, dtype=np.float64)

    return Table(
        (
            Column("state", None, np.array([case.name for case in cases], dtype=np.str_)),
            Column("loaded", None, np.array([case.loaded for case in cases], dtype=np.bool_)),
            Column("worst_block", None, np.array([case.loads.worst for case in cases], dtype=np.str_)),
            Column("block_load_N", "N", numbers([case.load_N for case in cases]), "of the worst block"),
            Column("least_block_N", "N", numbers([float(case.loads.normal_N.min()) for case in cases])),
        )
    )
