"""What the base must be machined and the track be mounted to: a note, and the rows by which it is accepted."""

from __future__ import annotations

from typing import Final

import numpy as np

from linewright.findings import Finding
from linewright.layout import LaneLayout, Layout
from linewright.line.model import Line
from linewright.line.spoken import rounded
from linewright.tables import Column, Table

INCH_M: Final = 0.0254
_METHODS: Final = {
    "straightness": "indicator or laser along the mounted lane, across",
    "flatness": "level, indicator or laser along the mounted lane, up",
    "joint_step": "indicator drawn over each joint, across and up",
}


def mounting_table(line: Line, layout: Layout) -> Table:
    """What is to be measured of the mounted track, lane by lane, and the limits that the conveyor sheet states.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    Table   what, lane, limit_m (plus and minus) [m], places, method: a row for each of straightness, flatness and
            joint_step that the sheet states and each lane; of joint_step only lanes with joints.

    Source     limits: the conveyor sheet; methods: common practice.
    """
    rows = [
        (what, lane.name, limit_m, joints_of(lane) if what == "joint_step" else 1, _METHODS[what])
        for what, limit_m in _stated_m(line).items()
        for lane in layout.lanes
        if what != "joint_step" or joints_of(lane)
    ]
    return Table(
        (
            Column("what", None, np.array([row[0] for row in rows], dtype=np.str_), "key of the sheet's accuracy"),
            Column("lane", None, np.array([row[1] for row in rows], dtype=np.str_), "on which it is measured"),
            Column("limit_m", "m", np.array([row[2] for row in rows], dtype=np.float64), "pass line, plus and minus"),
            Column("places", None, np.array([row[3] for row in rows], dtype=np.int64), "joints, or the lane once"),
            Column("method", None, np.array([row[4] for row in rows], dtype=np.str_), "common practice"),
        )
    )


def mounting_rows(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """One row that says how straight, flat and free of steps the track must be mounted; none where none is stated."""
    stated, joints = _stated_m(line), sum(joints_of(lane) for lane in layout.lanes)
    if not stated or (set(stated) == {"joint_step"} and not joints):
        return ()
    words = {"straightness": "straight across within", "flatness": "flat within"}
    told = [f"{words[what]} ±{_length(line, stated[what])}" for what in words if what in stated]
    if "joint_step" in stated and joints:
        count = "its joint" if joints == 1 else f"each of its {joints} joints"
        told.append(f"without a step of more than ±{_length(line, stated['joint_step'])} at {count}")
    lacking = [what for what in _METHODS if what not in stated]
    rest = f"; not stated in the sheet: {', '.join(lacking)}" if lacking else ""
    where = (
        f"whole track: {', '.join(told)}; the budgets count on it, so machine the base for it and measure the "
        f"mounted track before stations are set up{rest}"
    )
    source, place = f"the conveyor sheet ({line.conveyor.name}): accuracy", line.conveyor.place("accuracy")
    return (Finding("mounting", "accuracy", "holds", where, place, None, None, None, None, source, ""),)


def joints_of(lane: LaneLayout) -> int:
    """How many joints a lane has; a ring's first section meets its last one in one more."""
    return len(lane.joints_travel_m) + (1 if lane.is_ring else 0)


def _stated_m(line: Line) -> dict[str, float]:
    accuracy = line.conveyor.accuracy
    if accuracy is None:
        return {}
    figures = {
        "straightness": accuracy.straightness_m,
        "flatness": accuracy.flatness_m,
        "joint_step": accuracy.joint_step_m,
    }
    return {what: value for what, value in figures.items() if value is not None}


def _length(line: Line, length_m: float) -> str:
    unit_m, unit = (INCH_M, "in") if line.units == "inch" else (1e-3, "mm")
    return f"{rounded(length_m / unit_m, 3)} {unit}"
