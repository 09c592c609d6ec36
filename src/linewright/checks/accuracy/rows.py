"""The accuracy check's findings in words."""

from __future__ import annotations

from typing import Final

from linewright.checks.accuracy import words
from linewright.checks.accuracy.budget import Axis
from linewright.checks.accuracy.result import AxisBudget, largest
from linewright.checks.accuracy.sources import At, Missing
from linewright.checks.accuracy.ways import best_halving, single_figures, ways_out
from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout import Layout
from linewright.line.model import Line, Station
from linewright.remedies import spare_for

PAGE: Final = "docs/limits/accuracy.md"
_LARGEST: Final = 3


def axis_rows(
    line: Line, layout: Layout, one: AxisBudget, axes: tuple[AxisBudget, ...], draws: int, seed: int
) -> tuple[Finding, Finding]:
    """The two rows of one station and axis: capability, worst case; `axes` are those of all stations."""
    return _capability(line, layout, one, axes, draws, seed), _worst_case(line, one)


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
    lacking = {name for names in seen.values() for name in names}
    stations = [station.name for station in line.stations if station.name in lacking]
    named = ", ".join(_key(missing) for missing in seen)
    first = next(iter(seen))
    path = tuple(first.under.split(".")) if first.under else ()
    if at == "sheet":
        where, place = "in the conveyor sheet", line.conveyor.place(*path, first.key)
    elif at == "line":
        where, place = "in the line file", line.place(*path, first.key)
    else:
        where, place = "at the station", line.place("stations", next(iter(seen[first])), *path, first.key)
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


def _stations(names: list[str]) -> str:
    return f"station{'s' if len(names) > 1 else ''} {', '.join(names)}"


# ---- capability ------------------------------------------------------------------------------------------------------


def _capability(
    line: Line, layout: Layout, one: AxisBudget, axes: tuple[AxisBudget, ...], draws: int, seed: int
) -> Finding:
    budget, station = one.budget, line.station(one.station)
    assert station.tolerance is not None
    place = line.place("stations", one.station, "tolerance", one.axis)
    beside = tuple(other for other in axes if other.station == one.station)
    stated = "cpk" in station.tolerance.model_fields_set
    source = f"{PAGE}, Capability; {'Cpk as the line file asks' if stated else 'Cpk of 1.33: common practice'}"
    asked, state = one.asked_cpk, "state the figures that accuracy-figures names; ±0 mm where there is none"
    if budget.sigma_m == 0.0:
        where = f"{words.where(*_at(one))}: no spread is stated, so there is no index; bias {words.bias(line, one)}"
        if abs(budget.bias_m) > budget.tolerance_m:
            alone = f"the bias alone is more than ±{words.length(line, budget.tolerance_m)}"
            remedy = f"{alone}: {ways_out(line, layout, one, beside)}"
            return Finding("capability", "accuracy", "fails", where, place, None, asked, None, None, source, remedy)
        return Finding("capability", "accuracy", "not checked", where, place, None, asked, None, None, source, state)
    margin = budget.cpk / asked - 1.0
    verdict = judge(margin)
    where = (
        f"{words.where(*_at(one))}: Cpk with bias {words.bias(line, one)} and 3 σ of "
        f"{words.length(line, 3.0 * budget.sigma_m)} (together ±{words.length(line, budget.rss_m)} of "
        f"±{words.length(line, budget.tolerance_m)}), Cp {words.figure_text(budget.cp)}; "
    )
    if one.missing and verdict != "fails":
        where += f"{_shares(one)}; pinning {_pinning(line, one)}{_without(one)}, so that no index can be promised"
        return Finding(
            "capability", "accuracy", "not checked", where, place, budget.cpk, asked, None, None, source, state
        )
    where += (
        f"outside {words.ppm(budget.parts_per_million)} parts per million by the normal law, {one.drawn_outside} of "
        f"{draws} drawn (seed {seed}); {_shares(one)}; pinning {_pinning(line, one)}{_without(one)}"
    )
    remedy = ""
    if verdict == "fails":
        remedy = ways_out(line, layout, one, beside)
    elif verdict == "tight":
        spared = single_figures(line, one, spare_for(verdict))
        one_of = "one of: " if len(spared) > 1 else ""
        remedy = f"little is left: {best_halving(one)}"
        if spared:
            remedy = f"little is left; a tenth more with {one_of}{'; '.join(spared)}"
    return Finding("capability", "accuracy", verdict, where, place, budget.cpk, asked, None, margin, source, remedy)


def nought_row(line: Line, station: Station, axis: Axis) -> Finding:
    """A tolerance of ±0: no tool finds a part so."""
    assert station.tolerance is not None
    place = line.place("stations", station.name, "tolerance", axis)
    where = f"{words.where(station.name, axis)}: a tolerance of ±0, which nothing meets"
    remedy = "state the tolerance that the work needs, above 0"
    source, asked = f"{PAGE}, Capability", station.tolerance.cpk
    return Finding("capability", "accuracy", "fails", where, place, None, asked, None, None, source, remedy)


def _at(one: AxisBudget) -> tuple[str, str]:
    return one.station, one.axis


def _pinning(line: Line, one: AxisBudget) -> str:
    """``needed``; of a station with a pin its play, and up what that takes."""
    pin_m = line.station(one.station).pin_m
    if pin_m is None:
        return one.pinning
    lifted = ", lifted onto stops" if one.axis == "z" else ""
    return f"stated, ±{words.length(line, pin_m)}{lifted}"


def _without(one: AxisBudget) -> str:
    if not one.missing:
        return ""
    count = len(one.missing)
    return f"; without {count} {'figure that is' if count == 1 else 'figures that are'} not stated"


def _shares(one: AxisBudget) -> str:
    index = {counted.contributor.name: i for i, counted in enumerate(one.counted)}
    told = [
        f"{name} {one.budget.shares[index[name]]:.0%} "
        f"(halved: Cpk {words.figure_text(one.budget.halved_cpk[index[name]])})"
        for name in largest(one, _LARGEST)
    ]
    return f"largest: {', '.join(told)}"


# ---- worst case ------------------------------------------------------------------------------------------------------


def _worst_case(line: Line, one: AxisBudget) -> Finding:
    budget = one.budget
    place = line.place("stations", one.station, "tolerance", one.axis)
    over = budget.worst_case_m / budget.tolerance_m - 1.0
    where = (
        f"{words.where(*_at(one))}: from {words.signed(line, budget.low_m)} to {words.signed(line, budget.high_m)} "
        f"with every contributor at its end at once; 99.73 % of drawn parts from {words.signed(line, one.drawn_low_m)} "
        f"to {words.signed(line, one.drawn_high_m)}{_without(one)}"
    )
    if over > 0.0:
        i = max(range(len(one.counted)), key=lambda i: (-budget.halved_worst_case_m[i], -i))
        where += (
            f". This is {100.0 * over:.0f} % more than the tolerance, and the capability says how rare; halving "
            f"{one.counted[i].contributor.name} brings it to ±{words.length(line, budget.halved_worst_case_m[i])}, a "
            f"pin without play to ±{words.length(line, one.pinned.worst_case_m)}"
        )
    source = f"{PAGE}, Worst case"
    return Finding("worst-case", "accuracy", "holds", where, place, budget.worst_case_m, None, "m", None, source, "")
