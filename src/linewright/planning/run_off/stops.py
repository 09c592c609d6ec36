"""Rows of the stations at a standstill: where the tool meets the part, and how hard it presses."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.accuracy.result import AxisBudget
from linewright.planning.run_off.basis import Basis, Found
from linewright.planning.run_off.records import NotPlanned, RunOffTest
from linewright.planning.run_off.spreads import IndexPlan, index_plan, tolerance_factor
from linewright.planning.run_off.words import share_told
from linewright.quantities import counted, number, quantity

LEAST_STOPS: Final = 50
MOST_STOPS: Final = 500
"""Of carriers at one station; fifty are customary for the capability of a machine, common practice."""
STROKES: Final = 10
COVERED: Final = 0.99
"""Share of the strokes that stay under the allowed force; common practice."""
STEP_INDEX: Final = 0.01

_AXES: Final = {"x": "along the track", "y": "across the track", "z": "up"}


def accuracy_rows(basis: Basis) -> Found:
    """Where the tool meets the part, at each station and axis with a tolerance."""
    limits = basis.evaluation.limits
    axes = () if limits is None else limits.accuracy.axes
    if not axes:
        why = "no station states a tolerance: write tolerance at the stations where a place matters"
        return Found(not_planned=(NotPlanned("accuracy of the stops at the tools", why),))
    # One reading at a stop tells all axes, so all axes of a station take as many.
    readings: dict[str, int] = {}
    for one in axes:
        plan = _index_plan(basis, one, _of_all_carriers(basis, LEAST_STOPS))
        if plan is not None and _of_all_carriers(basis, plan.readings) <= _most(basis):
            count = _of_all_carriers(basis, plan.readings)
            readings[one.station] = max(readings.get(one.station, 0), count)
    return Found(tuple(_accuracy_row(basis, one, readings.get(one.station, 0)) for one in axes))


def _of_all_carriers(basis: Basis, count: int) -> int:
    """So many stops or more, of each carrier as many."""
    return basis.line.carriers * math.ceil(count / basis.line.carriers)


def _most(basis: Basis) -> int:
    return max(MOST_STOPS, _of_all_carriers(basis, LEAST_STOPS))


def _index_plan(basis: Basis, one: AxisBudget, least: int) -> IndexPlan | None:
    if not one.budget.cpk > one.asked_cpk:
        return None
    agreed = basis.agreed
    return index_plan(one.budget.cpk, one.asked_cpk, agreed.builder_risk, agreed.confidence, least, STEP_INDEX)


def _accuracy_row(basis: Basis, one: AxisBudget, readings: int) -> RunOffTest:
    planned, asked = one.budget.cpk, one.asked_cpk
    plan = _index_plan(basis, one, max(readings, _of_all_carriers(basis, LEAST_STOPS)))
    if plan is None or plan.readings > readings:
        return _accuracy_not_shown(basis, one, plan)
    tolerance = f"±{quantity(one.budget.tolerance_m, 'm', basis.units)}"
    axis, times = _AXES[one.axis], readings // basis.line.carriers
    why = (
        f"asked for: an index of {number(asked)}; so many stops may look better than they are by luck alone, hence the "
        "higher pass line"
    )
    return RunOffTest(
        "stop-accuracy", f"station {one.station}, {axis}", "standing", f"place of the part at the tool, {axis}",
        f"Let every carrier come here {'once' if times == 1 else counted(times, 'time')} in the ordinary traffic. At "
        "each stop read how far the point where the tool meets the part lies from where the tool expects it. Of all "
        "readings take mean and standard deviation (divisor: readings less one). "
        "Index = (tolerance - amount of the mean) / (3 × standard deviation).",
        counted(readings, "stop"), f"index at least {number(plan.least_index)} with a tolerance of {tolerance}",
        (why, "exact for readings that scatter normally"), _internal(one),
        count=readings, planned=planned if math.isfinite(planned) else None, limit=asked, pass_value=plan.least_index,
        unit="1", refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip


def _accuracy_not_shown(basis: Basis, one: AxisBudget, plan: IndexPlan | None) -> RunOffTest:
    planned, asked, axis = one.budget.cpk, one.asked_cpk, _AXES[one.axis]
    why = f"asked for: an index of {number(asked)}; what is planned, {number(planned)}, does not lie clear of it"
    if planned <= asked:
        why = f"asked for: an index of {number(asked)}; what is planned, {number(planned)}, is not above it"
    tolerance = f"tolerance ±{quantity(one.budget.tolerance_m, 'm', basis.units)}"
    long = "no number is enough" if plan is None else f"it would take {counted(plan.readings, 'stop')}"
    return RunOffTest(
        "stop-accuracy", f"station {one.station}, {axis}", "not to be shown", f"place of the part at the tool, {axis}",
        "Measured stops show an index only where the planned one lies clear of what is asked for.", long, "",
        (why, tolerance), _internal(one), count=None if plan is None else plan.readings, planned=planned, limit=asked,
        unit="1", falls_short=planned <= asked,
    )  # fmt: skip


def _internal(one: AxisBudget) -> tuple[str, ...]:
    planned = number(one.budget.cpk) if math.isfinite(one.budget.cpk) else "without bound, nothing scatters"
    told = [f"planned index: {planned}"]
    if one.missing:
        told.append(f"{counted(len(one.missing), 'figure')} of its budget not stated: the planned index is a best case")
    return tuple(told)


def force_rows(basis: Basis) -> Found:
    """How hard each tool presses, against what the carrier may take there."""
    limits = basis.evaluation.limits
    rows = () if limits is None else limits.strength.stations.rows()
    if not rows:
        why = "no station states a force that presses on the carrier: write force at the stations"
        return Found(not_planned=(NotPlanned("forces of the tools", why),))
    by_hand = {station.name for station in basis.line.stations if station.work == "manual"}
    tests, missing = [], []
    for row in rows:
        name, allowed_N, force_N = str(row["station"]), float(row["allowed_N"]), float(row["force_N"])
        if math.isfinite(allowed_N) and math.isfinite(force_N):
            tests.append(_force_row(basis, name, force_N, allowed_N, bool(row["at_greatest"]), name in by_hand))
        else:
            missing.append(
                NotPlanned(
                    f"force at station {name}",
                    "force or what the carrier may take is not known: see the rows on strength that are not checked",
                )
            )
    return Found(tuple(tests), tuple(missing))


def _force_row(
    basis: Basis, name: str, force_N: float, allowed_N: float, at_greatest: bool, by_hand: bool
) -> RunOffTest:
    # Rounded up, so that the printed factor is the one that is meant.
    factor = math.ceil(tolerance_factor(COVERED, basis.agreed.confidence, STROKES) * 100.0) / 100.0
    allowed, force = quantity(allowed_N, "N", basis.units), quantity(force_N, "N", basis.units)
    where, what = f"station {name}", f"force of the {'hand' if by_hand else 'tool'} on the carrier"
    if force_N > allowed_N * (1.0 + 1e-9):
        why = f"the {'hand' if by_hand else 'tool'} may push {force}, more than the {allowed} that are allowed here"
        return RunOffTest(
            "force", where, "not to be shown", what, "No measurement helps: what is planned does not hold.",
            "no number is enough", "", (why,), planned=force_N, limit=allowed_N, unit="N",
            falls_short=True,
        )  # fmt: skip
    above = (
        f"allowed here: {allowed}, by conveyor sheet and statics at the place of the tool; what goes above it at "
        "more than one stroke in a hundred is to be refused"
    )
    own = "the row holds nobody to the stated force: that stands beside the pass line for comparison alone"
    stated = f"stated: {force}{' at most' if at_greatest else ''}"
    unknown = "how much the force scatters is not stated, so the chance of a refusal as planned is not known"
    return RunOffTest(
        "force", where, "standing", what,
        f"{_pressing(by_hand, at_greatest)}; read the greatest force of each stroke. Take mean and standard deviation "
        "(divisor: readings less one); the "
        f"factor of the pass line covers {share_told(COVERED)} of all strokes with a confidence of "
        f"{share_told(basis.agreed.confidence)}.",
        counted(STROKES, "stroke"),
        f"mean + {number(factor)} × standard deviation at most {allowed} ({stated})",
        (above, own, unknown), count=STROKES, planned=force_N, limit=allowed_N, pass_value=allowed_N, unit="N",
        passed_at_limit=1.0 - basis.agreed.confidence,
    )  # fmt: skip


def _pressing(by_hand: bool, at_greatest: bool) -> str:
    """How the force is brought about that the load cell reads."""
    if by_hand:
        return f"Press by hand as in work onto a load cell in the carrier's place, {number(STROKES)} times"
    setting = "set to the most that it can push" if at_greatest else "set as for production"
    return f"Put a load cell between tool and carrier and let the tool, {setting}, press in its own direction"
