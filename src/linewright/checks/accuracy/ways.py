"""What would make a failing budget hold: a pin, one figure, several together, another place, a wider tolerance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from linewright.checks.accuracy.budget import index_and_bias
from linewright.checks.accuracy.result import AxisBudget
from linewright.checks.accuracy.sources import CARRIERS_SPREAD, Figure, joints_between_blocks_m
from linewright.checks.accuracy.words import INCH_M, down, figure, figure_text, length
from linewright.errors import LineFileError
from linewright.layout import Layout, Stop
from linewright.layout.placing import checked_cuts
from linewright.line.model import Line
from linewright.line.units import number_text
from linewright.remedies import rounded_away, value_that_holds

_MOST_WAYS: Final = 2  # single figures named in a remedy, the best first
_MOST_TOGETHER: Final = 4


def best_halving(one: AxisBudget) -> str:
    """Which contributor to halve."""
    i = max(range(len(one.counted)), key=lambda i: (one.budget.halved_cpk[i], -i))
    name = one.counted[i].contributor.name
    return f"halving {name} brings Cpk to {figure_text(one.budget.halved_cpk[i])}"


def ways_out(line: Line, layout: Layout, one: AxisBudget, beside: Sequence[AxisBudget]) -> str:
    """The ways in which a failing index would be met; `beside` are the axes of its station, itself too."""
    budget, ways = one.budget, _pin(line, one, beside)
    failing = [other for other in beside if other is one or other.budget.cpk < other.asked_cpk]
    reduce = single_figures(line, one)
    ways += _alike(line, failing) if len(failing) > 1 else []
    ways += reduce or (_alike(line, failing) if len(failing) == 1 else [])
    ways += _compensated(line, one) + _off_joints(line, layout, one)
    wide_m = abs(budget.bias_m) + 3.0 * one.asked_cpk * budget.sigma_m
    ways.append(f"a tolerance of ±{length(line, rounded_away(wide_m, budget.tolerance_m))}")
    not_enough = "a pin is not enough; " if one.pinning == "not enough" else ""
    return not_enough + ("one of: " if len(ways) > 1 else "") + "; ".join(ways)


def single_figures(line: Line, one: AxisBudget, spare: float = 0.0) -> list[str]:
    """The single figures that make it hold, with so much to spare, when they alone are made smaller, the largest gain
    first."""
    told: list[str] = []
    ranked = sorted(range(len(one.counted)), key=lambda i: (-one.budget.halved_cpk[i], i))
    for i in ranked:
        stated = one.counted[i].figure
        if stated is None or stated.value == 0.0:
            continue
        share = _share_that_holds((one,), (stated.words,), spare)
        told += [] if share is None or share >= 1.0 else [_instead(line, stated, share)]
        if len(told) == _MOST_WAYS:
            break
    return told


def _pin(line: Line, one: AxisBudget, beside: Sequence[AxisBudget]) -> list[str]:
    """The key `pin`, with the play that it may have so that all axes hold which a pin without play lets hold."""
    if one.pinning != "needed":
        return []
    way = "lift the fixture onto stops" if one.axis == "z" else "pin the fixture"
    index = f"Cpk {figure_text(one.pinned.cpk)} without play"
    play_m = min(other.pin_play_m for other in beside if other.pinned.cpk >= other.asked_cpk)
    return [f"{way} at the station, pin: ±{length(line, down(play_m))} or less ({index})"]


def _alike(line: Line, failing: Sequence[AxisBudget]) -> list[str]:
    """The one figure with which all failing axes of a station hold, the one that changes least; else the greatest
    ones, made smaller by the same factor, as few as will do."""
    figures: dict[str, Figure] = {}
    felt: dict[str, float] = {}
    for one in failing:
        for counted, share in zip(one.counted, one.budget.shares, strict=True):
            if counted.figure is not None and counted.figure.value > 0.0:
                figures.setdefault(counted.figure.words, counted.figure)
                felt[counted.figure.words] = max(felt.get(counted.figure.words, 0.0), share)
    axes = " and ".join(one.axis for one in failing)
    if len(failing) > 1:
        found = [(_share_that_holds(failing, (words,)), words) for words in figures]
        alone = [(share, words) for share, words in found if share is not None and share < 1.0]
        if alone:
            share, words = max(alone)
            return [f"for {axes} at once {_instead(line, figures[words], share)}"]
    ranked = sorted(figures, key=lambda words: -felt[words])
    for count in range(2, min(_MOST_TOGETHER, len(ranked)) + 1):
        together = _share_that_holds(failing, ranked[:count])
        if together is not None and together < 1.0:
            changes = " and ".join(_instead(line, figures[words], together) for words in ranked[:count])
            return [f"together, for {axes}, {changes}"]
    return []


def _instead(line: Line, stated: Figure, share: float) -> str:
    rounded = rounded_away(share * stated.value, stated.value)
    return f"{stated.words} ±{figure(line, stated, rounded)} instead of ±{figure(line, stated, stated.value)}"


def _share_that_holds(axes: Sequence[AxisBudget], words: Sequence[str], spare: float = 0.0) -> float | None:
    """The share of figures with which all these axes hold with so much to spare, none of them below its least."""
    stated = [c.figure for one in axes for c in one.counted if c.figure is not None and c.figure.words in words]
    least = max((one.least / one.value for one in stated if one.value > 0.0), default=1.0)
    if least >= 1.0:
        return None

    def margin(share: float) -> float:
        return min(_margin(one, _scaled(one, words, share)) for one in axes) - spare

    return None if margin(least) < 0.0 else value_that_holds(margin, 1.0, least)


def _scaled(one: AxisBudget, words: Sequence[str], share: float) -> dict[int, float]:
    return {i: share for i, c in enumerate(one.counted) if c.figure is not None and c.figure.words in words}


def _margin(one: AxisBudget, factors: Mapping[int, float]) -> float:
    """The margin with some contributors so many times as large."""
    changed = [counted.contributor.scaled(factors.get(i, 1.0)) for i, counted in enumerate(one.counted)]
    cpk, bias_m = index_and_bias(changed, one.budget.tolerance_m)
    if math.isinf(cpk):
        return 1.0 - abs(bias_m) / one.budget.tolerance_m
    return cpk / one.asked_cpk - 1.0


def _compensated(line: Line, one: AxisBudget) -> list[str]:
    """Where carriers differ and are not measured one by one, and the sheet says what that would leave."""
    accuracy, contributors = line.conveyor.accuracy, [counted.contributor for counted in one.counted]
    left_m = None if accuracy is None else accuracy.compensated_spread_m
    at = next((i for i, c in enumerate(contributors) if c.name == CARRIERS_SPREAD), None)
    if left_m is None or at is None or contributors[at].half_width_m <= left_m:
        return []
    if _margin(one, {at: left_m / contributors[at].half_width_m}) < 0.0:
        return []
    return [f"compensated: true in the line file (each carrier measured, which leaves ±{length(line, left_m)})"]


def _off_joints(line: Line, layout: Layout, one: AxisBudget) -> list[str]:
    """Where the step of a joint decides: sections cut otherwise, or another place for the station."""
    names = [counted.contributor.name for counted in one.counted]
    if "joint step" not in names or line.conveyor.guides is None:
        return []
    if _margin(one, {names.index("joint step"): 0.0}) < 0.0:
        return []
    along_m = line.conveyor.guides.along_m
    return _cut_otherwise(line, layout, one.station, along_m) + _moved(line, layout, one, 0.5 * along_m)


def _cut_otherwise(line: Line, layout: Layout, name: str, along_m: float) -> list[str]:
    """The least whole `no_joint` at the station that frees its blocks; none where the lane cannot be cut so, is a ring,
    or a joint would then lie between the blocks at another station that states a tolerance and has none now."""
    lane = layout.lane(layout.stop_of(name).lane)
    if lane.is_ring:
        return []
    step_m = 0.1 * INCH_M if line.units == "inch" else 1e-3
    # A joint exactly at half the blocks' distance still lies under a block.
    off_m = (math.floor(0.5 * along_m / step_m + 1e-6) + 1) * step_m
    others = tuple(
        station.model_copy(update={"no_joint_m": off_m}) if station.name == name else station
        for station in line.stations
    )
    try:
        cut = checked_cuts(line.model_copy(update={"stations": others}))[lane.name][0]
    except LineFileError:
        return []
    recut = replace(lane, sections=cut.sections_m, joints_travel_m=cut.joints_m)
    for station in line.stations:
        at_m = layout.stop_of(station.name).travel_m
        if station.lane != lane.name or (station.tolerance is None and station.name != name):
            continue
        had = station.name != name and joints_between_blocks_m(lane, at_m, along_m)
        if joints_between_blocks_m(recut, at_m, along_m) and not had:
            return []
    return [f"no_joint: {_place(line, off_m)} at the station, so that the sections are cut with no joint there"]


def _moved(line: Line, layout: Layout, one: AxisBudget, half_m: float) -> list[str]:
    """Where the station must stand so that no joint lies between the blocks."""
    stop = layout.stop_of(one.station)
    lane = layout.lane(stop.lane)
    joints = joints_between_blocks_m(lane, stop.travel_m, 2.0 * half_m)
    steps = {round(joint + side * half_m - stop.travel_m, 4) + side * 1e-3 for joint in joints for side in (-1.0, 1.0)}
    free = [
        step
        for step in steps
        if not joints_between_blocks_m(lane, stop.travel_m + step, 2.0 * half_m) and _has_room(layout, stop, step)
    ]
    if not free:
        return []
    step_m = min(free, key=lambda step: (abs(step), step))
    station = line.station(one.station)
    if station.along_m is not None:
        key, now_m, there_m = "along", station.along_m, station.along_m + step_m
    else:
        key, now_m = "at", station.at_m
        there_m = now_m + (step_m if line.lane(station.lane).from_ == "west" else -step_m)
    return [
        f"{key}: {_place(line, there_m)} instead of {_place(line, now_m)}, so that no joint lies between the blocks"
    ]


def _place(line: Line, place_m: float) -> str:
    """As a line file has it: a ten-thousandth of a millimetre or of an inch is no matter there."""
    value, unit = (place_m / INCH_M, "in") if line.units == "inch" else (place_m * 1e3, "mm")
    return f"{number_text(round(value, 4))} {unit}"


def _has_room(layout: Layout, stop: Stop, step_m: float) -> bool:
    """Whether a station may stand so far from where it is: on its lane, and a pitch from the other stations there."""
    lane, at_m, half_m = layout.lane(stop.lane), stop.travel_m + step_m, layout.body_m / 2
    if not lane.is_ring and not half_m <= at_m <= lane.length_m - half_m:
        return False
    others = [one for one in layout.stops if one.kind == "station" and one.lane == stop.lane and one is not stop]
    return all(abs(one.travel_m - at_m) >= layout.pitch_m for one in others)
