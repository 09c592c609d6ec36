"""Carriers that a station's tool pushes along the track: only thrust holds them, for as long as the tool works."""

from __future__ import annotations

from typing import Final

from linewright.checks.motion.margins import margin_below
from linewright.findings import Finding, judge
from linewright.line.model import Line, Station
from linewright.remedies import rounded_away

HELD_SHARE: Final = 0.7
"""Share of the continuous thrust that a carrier may hold at rest, where one phase bears it: common practice."""
RULE: Final = "docs/limits/motion.md, Held carriers: 0.7 of the conveyor sheet's continuous thrust (common practice)"


def net_along_N(station: Station, greatest: bool = False) -> float:
    """Force along the track that the thrust has to hold at a station, either way.

    Parameters
    ----------
    station : its forces and what carries them
    greatest : with the most that each tool can push, where that is stated; else with the stated force

    Returns
    -------
    float   [N]; 0 where no force is stated or none acts along the track

    Notes      As stated: the size of the sum of the forces along. Greatest: each force in proportion to its greatest;
               the larger of the sum of those forward and of those backward, since a tool may push alone. Less what
               the support takes along, but not below 0.
    """
    along = []
    for force in station.force or ():
        share = 1.0 if not greatest or force.greatest_N is None else force.greatest_N / force.size_N
        along.append(force.along_N * share)
    if greatest:
        most = max(sum(one for one in along if one > 0.0), -sum(one for one in along if one < 0.0))
    else:
        most = abs(sum(along))
    carried = 0.0 if station.support is None or station.support.along_N is None else station.support.along_N
    return max(0.0, most - carried)


def stations_with_unstated_force(line: Line) -> list[str]:
    """Stations of which it is not stated whether they push on the carrier."""
    return [station.name for station in line.stations if station.force is None]


def check_held(line: Line) -> tuple[Finding, ...]:
    """Whether the thrust holds a carrier against the tools that push along the track.

    Parameters
    ----------
    line : the line

    Returns
    -------
    tuple of Finding   ``held-thrust``, one for each station whose tools push along the track. value: greatest force
                       along that no support takes, limit: 0.7 of the continuous thrust [N]. One more, ``not checked``,
                       for the stations whose force is not stated.
    """
    limit = HELD_SHARE * line.conveyor.drive.continuous_thrust_N
    findings = []
    for station in line.stations:
        value = net_along_N(station, greatest=True)
        if not any(force.along_N != 0.0 for force in station.force or ()):
            continue
        margin = margin_below(value, limit)
        verdict = judge(margin)
        carried = 0.0 if station.support is None or station.support.along_N is None else station.support.along_N
        remedy = "" if verdict == "holds" else "little is left: a stop that the carrier leans on would take the force"
        if verdict == "fails":
            needed = rounded_away(carried + value - limit, carried)
            remedy = (
                f"a stop or clamp that takes {needed:.4g} N along makes it hold (support: {{along: {needed:.4g} N}})"
            )
        where = f"station {station.name}: force along the track that thrust holds while the tool works"
        place = line.place("stations", station.name, "force")
        findings.append(
            Finding("held-thrust", "motion", verdict, where, place, value, limit, "N", margin, RULE, remedy)
        )
    unstated = stations_with_unstated_force(line)
    if unstated:
        where = f"force of station{'s' if len(unstated) > 1 else ''} {', '.join(unstated)} is not stated"
        remedy = "state the key force under the station: none, or a force such as {down: 620 N}"
        place = line.place("stations", unstated[0])
        findings.append(
            Finding("held-thrust", "motion", "not checked", where, place, None, limit, "N", None, RULE, remedy)
        )
    return tuple(findings)
