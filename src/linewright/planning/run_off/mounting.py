"""Rows of the bare track: how it is mounted, and how near a carrier comes to the same place again."""

from __future__ import annotations

import math
from typing import Final

from linewright.planning.run_off.basis import Basis, Found
from linewright.planning.run_off.records import NotPlanned, RunOffTest
from linewright.planning.run_off.spreads import spread_plan
from linewright.quantities import counted, number, quantity

MOST_PLACES: Final = 10
LEAST_RUNS: Final = 5
"""Approaches of each place from each side, as ISO 230-2 has it, from memory."""
SPREAD_RATIO: Final = 1.5
"""Standard deviation that is to be refused, over that of the sheet; common practice."""

_MOUNTED: Final = {
    "straightness": "straightness of the mounted track",
    "flatness": "flatness of the mounted track",
    "joint_step": "step at the joints of the mounted track",
}


def mounting_rows(basis: Basis) -> Found:
    """How straight, flat and free of steps the mounted track is, lane by lane."""
    limits = basis.evaluation.limits
    rows = () if limits is None else limits.accuracy.mounting.rows()
    tests = []
    for row in rows:
        what, limit_m, places = str(row["what"]), float(row["limit_m"]), int(row["places"])
        where = "each joint" if what == "joint_step" else "the whole lane"
        test = RunOffTest(
            what.replace("_", "-"), f"lane {row['lane']}", "mounted", _MOUNTED[what],
            f"Measure {where} before the stations are set up: {row['method']}.",
            counted(places, "joint") if what == "joint_step" else "once",
            f"within ±{quantity(limit_m, 'm', basis.units)}",
            ("limit of the conveyor sheet; every place is measured, luck plays no part",),
            count=places, limit=limit_m, pass_value=limit_m, unit="m",
        )  # fmt: skip
        tests.append(test)
    if tests:
        return Found(tuple(tests))
    why = "the conveyor sheet states none: write straightness, flatness and joint_step under accuracy"
    return Found(not_planned=(NotPlanned("straightness, flatness and joint steps of the mounted track", why),))


def repeatability_row(basis: Basis) -> Found:
    """How near a carrier comes to the same place again, against the conveyor sheet."""
    line, agreed = basis.line, basis.agreed
    stated_m = line.conveyor.repeatability_m
    if stated_m is None:
        why = "the conveyor sheet states none: write the key repeatability"
        return Found(not_planned=(NotPlanned("repeatability of the stops", why),))
    names = _places([station.name for station in line.stations])
    least = spread_plan(1.0 / SPREAD_RATIO, agreed.builder_risk, agreed.confidence)
    assert least is not None  # a ratio of one and a half needs few readings
    runs = max(LEAST_RUNS, 1 + math.ceil(least.freedom / len(names)))
    plan = spread_plan(1.0 / SPREAD_RATIO, agreed.builder_risk, agreed.confidence, len(names) * (runs - 1))
    assert plan is not None
    # Rounded down to a tenth of a micrometre, so that what is printed is the pass line.
    most_m = math.floor(stated_m * SPREAD_RATIO * plan.most_of_limit * 1e7) / 1e7
    stated = quantity(stated_m, "m", basis.units)
    ways = " and as often from the other side on lanes with traffic both ways" if _two_way(basis) else ""
    why = (
        f"the sheet states ±{stated}, read as three standard deviations; to be refused: {number(SPREAD_RATIO)} times "
        "as much (common practice)"
    )
    test = RunOffTest(
        "stop-repeatability", "whole track", "standing", "repeatability of the stops along the track",
        f"With one carrier, laden, approach each of the stations {', '.join(names)} {counted(runs, 'time')} from the "
        f"side from which carriers come{ways}, each time from a carrier's length away or more, and read where it "
        "stops. At each place and side take the standard deviation (divisor: readings less one); pool them: root of "
        "the mean of their squares. The gauge errs by a fifth of the pass line at most.",
        f"{counted(len(names), 'place')}, {counted(runs, 'run')} each",
        f"3 × pooled standard deviation at most {quantity(most_m, 'm', basis.units)}",
        (why, "a measuring plan after the manner of ISO 230-2: targets along the track, five runs or more to each"),
        count=len(names) * runs, planned=stated_m, limit=SPREAD_RATIO * stated_m, pass_value=most_m, unit="m",
        refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip
    return Found((test,))


def _two_way(basis: Basis) -> bool:
    return any(lane.two_way for lane in basis.line.lanes)


def _places(names: list[str]) -> list[str]:
    """So many of them as are measured, spread evenly from first to last."""
    count = min(len(names), MOST_PLACES)
    return [names[round(i * (len(names) - 1) / max(count - 1, 1))] for i in range(count)]
