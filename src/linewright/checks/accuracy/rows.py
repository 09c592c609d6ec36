"""The accuracy check's findings in words, and the changes that would make a failing one hold."""

from __future__ import annotations

import math
from functools import partial
from typing import Final

from linewright.checks.accuracy.budget import Contributor, index_and_bias
from linewright.checks.accuracy.result import AxisBudget, largest
from linewright.checks.accuracy.sources import CARRIERS_SPREAD, At, Figure, Missing, joints_between_blocks_m
from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.remedies import rounded_away, value_that_holds

PAGE: Final = "docs/limits/accuracy.md"
INCH_M: Final = 0.0254
_MOST_WAYS: Final = 2  # single figures named in a remedy, the best first
_LARGEST: Final = 3


def axis_rows(line: Line, layout: Layout, one: AxisBudget, draws: int, seed: int) -> tuple[Finding, Finding]:
    """The two rows of one station and axis: capability, worst case."""
    return _capability(line, layout, one, draws, seed), _worst_case(line, one)


def no_tolerance_row(line: Line) -> Finding:
    """No station says how near the part must be."""
    remedy = (
        "state the key tolerance at each station whose tool must find the part, such as tolerance: {x: ±0.1 mm, "
        "y: ±0.1 mm}"
    )
    where = "whole line: no station states a tolerance"
    return _unchecked("accuracy-tolerance", where, line.place("stations"), remedy)


def missing_rows(line: Line, axes: tuple[AxisBudget, ...]) -> tuple[Finding, ...]:
    """At most three rows: what the conveyor sheet, the line file and the stations do not state."""
    rows = []
    for at in ("sheet", "line", "station"):
        seen: dict[Missing, dict[str, None]] = {}
        for one in axes:
            for missing in one.missing:
                if missing.at == at:
                    seen.setdefault(missing, {})[one.station] = None
        if seen:
            rows.append(_missing_row(line, at, seen))
    return tuple(rows)


def _missing_row(line: Line, at: At, seen: dict[Missing, dict[str, None]]) -> Finding:
    stations = dict.fromkeys(name for names in seen.values() for name in names)
    named = ", ".join(_key(missing) for missing in seen)
    first = next(iter(seen))
    path = tuple(first.under.split(".")) if first.under else ()
    if at == "sheet":
        where, place = "in the conveyor sheet", line.conveyor.place(*path, first.key)
    elif at == "line":
        where, place = "in the line file", line.place(*path, first.key)
    else:
        where, place = "at the station", line.place("stations", next(iter(stations)), *path, first.key)
    told = f"{_stations(stations)}: not stated {where}, so not counted: {named}"
    keys = "; ".join(
        f"{_key(missing)}{'' if at != 'station' else ' at ' + ', '.join(names)}" for missing, names in seen.items()
    )
    return _unchecked("accuracy-figures", told, place, f"state {where} what is missing: {keys}")


def _unchecked(code: str, where: str, place: Place | None, remedy: str) -> Finding:
    source = f"{PAGE}, Contributors"
    return Finding(code, "accuracy", "not checked", where, place, None, None, None, None, source, remedy)


def _key(missing: Missing) -> str:
    return f"{missing.key} under {missing.under}" if missing.under else missing.key


def _stations(names: dict[str, None]) -> str:
    return f"station{'s' if len(names) > 1 else ''} {', '.join(names)}"


# ---- capability ------------------------------------------------------------------------------------------------------


def _capability(line: Line, layout: Layout, one: AxisBudget, draws: int, seed: int) -> Finding:
    budget, station = one.budget, line.station(one.station)
    assert station.tolerance is not None
    place = line.place("stations", one.station, "tolerance", one.axis)
    stated = "cpk" in station.tolerance.model_fields_set
    source = f"{PAGE}, Capability; {'Cpk as the line file asks' if stated else 'Cpk of 1.33: common practice'}"
    asked = one.asked_cpk
    if budget.sigma_m == 0.0:
        where = f"{_where(one)}: no spread is stated, so there is no index; bias {_bias(line, one)}"
        if abs(budget.bias_m) > budget.tolerance_m:
            remedy = f"the bias alone is more than ±{_length(line, budget.tolerance_m)}: {_reduce(line, one)}"
            return Finding("capability", "accuracy", "fails", where, place, None, asked, None, None, source, remedy)
        remedy = "state the figures that accuracy-figures names; ±0 mm where there is none"
        return Finding("capability", "accuracy", "not checked", where, place, None, asked, None, None, source, remedy)
    margin = budget.cpk / asked - 1.0
    verdict = judge(margin)
    where = (
        f"{_where(one)}: Cpk with bias {_bias(line, one)} and 3 σ of {_length(line, 3.0 * budget.sigma_m)} "
        f"(together ±{_length(line, budget.rss_m)} of ±{_length(line, budget.tolerance_m)}), Cp {budget.cp:.3g}; "
        f"outside {_ppm(budget.parts_per_million)} parts per million by the normal law, {one.drawn_outside} of {draws} "
        f"drawn (seed {seed}); {_shares(one)}; pinning {one.pinning}{_without(one)}"
    )
    remedy = ""
    if verdict == "fails":
        remedy = _remedy(line, layout, one)
    elif verdict == "tight":
        remedy = f"little is left: {_best(one)}"
    return Finding("capability", "accuracy", verdict, where, place, budget.cpk, asked, None, margin, source, remedy)


def _where(one: AxisBudget) -> str:
    return f"station {one.station}, {one.axis} ({ {'x': 'along', 'y': 'across', 'z': 'up'}[one.axis] })"


def _without(one: AxisBudget) -> str:
    if not one.missing:
        return ""
    count = len(one.missing)
    return f"; without {count} {'figure that is' if count == 1 else 'figures that are'} not stated"


def _shares(one: AxisBudget) -> str:
    index = {counted.contributor.name: i for i, counted in enumerate(one.counted)}
    told = [
        f"{name} {one.budget.shares[index[name]]:.0%} (halved: Cpk {one.budget.halved_cpk[index[name]]:.3g})"
        for name in largest(one, _LARGEST)
    ]
    return f"largest: {', '.join(told)}"


def _best(one: AxisBudget) -> str:
    i = max(range(len(one.counted)), key=lambda i: (one.budget.halved_cpk[i], -i))
    return f"halving {one.counted[i].contributor.name} brings Cpk to {one.budget.halved_cpk[i]:.3g}"


def _remedy(line: Line, layout: Layout, one: AxisBudget) -> str:
    """Each way changes one thing: a pin, one figure, the station's place, or the tolerance."""
    budget, ways = one.budget, []
    if one.pinning == "needed":
        way = "lift the fixture onto stops" if one.axis == "z" else "pin the fixture at the station"
        index = "beyond any" if math.isinf(one.pinned.cpk) else f"{one.pinned.cpk:.3g}"
        play = f", as long as it locates within ±{_length(line, _down(one.pin_play_m))}" if one.pin_play_m > 0 else ""
        ways.append(f"{way} (Cpk {index} without play of its own{play})")
    reduce = _reduce(line, one)
    ways += [reduce] if reduce else []
    ways += _compensated(line, one) + _moved(line, layout, one)
    wide_m = abs(budget.bias_m) + 3.0 * one.asked_cpk * budget.sigma_m
    ways.append(f"a tolerance of ±{_length(line, rounded_away(wide_m, budget.tolerance_m))}")
    not_enough = "a pin is not enough; " if one.pinning == "not enough" else ""
    return not_enough + "one of: " + "; ".join(ways)


def _reduce(line: Line, one: AxisBudget) -> str:
    """The single figures that make it hold when they alone are made smaller, the largest gain first."""
    budget, told = one.budget, []
    ranked = sorted(range(len(one.counted)), key=lambda i: (-budget.halved_cpk[i], i))
    contributors = [counted.contributor for counted in one.counted]
    for i in ranked:
        figure = one.counted[i].figure
        if figure is None or figure.value == 0.0 or _margin(one, contributors, i, 0.0) < 0.0:
            continue
        share = value_that_holds(partial(_margin, one, contributors, i), 1.0, 0.0)
        value = None if share is None else share * figure.value
        if value is not None and value < figure.value:
            rounded = rounded_away(value, figure.value)
            told.append(
                f"{figure.words} ±{_figure(line, figure, rounded)} instead of ±{_figure(line, figure, figure.value)}"
            )
        if len(told) == _MOST_WAYS:
            break
    return "; ".join(told)


def _margin(one: AxisBudget, contributors: list[Contributor], i: int, factor: float) -> float:
    changed = [*contributors[:i], contributors[i].scaled(factor), *contributors[i + 1 :]]
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
    if _margin(one, contributors, at, left_m / contributors[at].half_width_m) < 0.0:
        return []
    return [f"compensated: true in the line file (each carrier measured, which leaves ±{_length(line, left_m)})"]


def _moved(line: Line, layout: Layout, one: AxisBudget) -> list[str]:
    """Where the step of a joint decides, how far the station must go so that no joint lies between the blocks."""
    names = [counted.contributor.name for counted in one.counted]
    if "joint step" not in names or line.conveyor.guides is None:
        return []
    contributors = [counted.contributor for counted in one.counted]
    if _margin(one, contributors, names.index("joint step"), 0.0) < 0.0:
        return []
    stop, half_m = layout.stop_of(one.station), 0.5 * line.conveyor.guides.along_m
    lane = layout.lane(stop.lane)
    joints = joints_between_blocks_m(lane, stop.travel_m, 2.0 * half_m)
    steps = {round(joint + side * half_m - stop.travel_m, 4) + side * 1e-3 for joint in joints for side in (-1.0, 1.0)}
    free = [step for step in steps if not joints_between_blocks_m(lane, stop.travel_m + step, 2.0 * half_m)]
    if not free:
        return []
    step_m = min(free, key=lambda step: (abs(step), step))
    way = "farther on" if step_m > 0.0 else "back"
    return [f"the station {_length(line, abs(step_m))} {way} along its lane, so that no joint lies between the blocks"]


# ---- worst case ------------------------------------------------------------------------------------------------------


def _worst_case(line: Line, one: AxisBudget) -> Finding:
    budget = one.budget
    place = line.place("stations", one.station, "tolerance", one.axis)
    over = budget.worst_case_m / budget.tolerance_m - 1.0
    where = (
        f"{_where(one)}: from {_signed(line, budget.low_m)} to {_signed(line, budget.high_m)} with every contributor "
        f"at its end at once; 99.73 % of drawn parts from {_signed(line, one.drawn_low_m)} to "
        f"{_signed(line, one.drawn_high_m)}{_without(one)}"
    )
    if over > 0.0:
        i = max(range(len(one.counted)), key=lambda i: (-budget.halved_worst_case_m[i], -i))
        where += (
            f". This is {100.0 * over:.0f} % more than the tolerance, and the capability says how rare; halving "
            f"{one.counted[i].contributor.name} brings it to ±{_length(line, budget.halved_worst_case_m[i])}, a pin "
            f"without play to ±{_length(line, one.pinned.worst_case_m)}"
        )
    source = f"{PAGE}, Worst case"
    return Finding("worst-case", "accuracy", "holds", where, place, budget.worst_case_m, None, "m", None, source, "")


# ---- figures in words ------------------------------------------------------------------------------------------------


def _length(line: Line, length_m: float) -> str:
    """Three digits, since it may be a few micrometres."""
    return f"{length_m / INCH_M:.3g} in" if line.units == "inch" else f"{length_m * 1e3:.3g} mm"


def _signed(line: Line, length_m: float) -> str:
    return f"{'-' if length_m < 0.0 else '+'}{_length(line, abs(length_m))}"


def _bias(line: Line, one: AxisBudget) -> str:
    """With its sign where that is known."""
    budget = one.budget
    known = abs(budget.high_m + budget.low_m) > 1e-9 * budget.worst_case_m
    return _signed(line, budget.bias_m) if known else f"±{_length(line, abs(budget.bias_m))}"


def _figure(line: Line, figure: Figure, value: float) -> str:
    if figure.unit == "m":
        return _length(line, value)
    return f"{value * 1e6:.3g} µrad" if figure.unit == "rad" else f"{value:.3g} K"


def _down(value_m: float) -> float:
    """Three digits, rounded down, so that what is told still holds."""
    return rounded_away(value_m, 2.0 * value_m) if value_m > 0.0 else 0.0


def _ppm(value: float) -> str:
    if value < 1e-3:
        return "under 0.001"
    return f"{value:.3g}" if value < 1000.0 else f"{value:.0f}"
