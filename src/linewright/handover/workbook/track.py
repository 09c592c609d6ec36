"""The sheets Stations, Stops and Moves."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Final

from linewright.handover.pages.rate_page import MORE_STATES, STATES
from linewright.handover.papers.material import Material
from linewright.handover.workbook.cells import NO_TRACK, Labelled, Named, Sheet
from linewright.handover.workbook.units import column_of, lines_of
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation

# What would help is for the builder alone; which limits were looked at besides is a long text that the CSV holds.
_HELP: Final = ("governs", "eased_s", "lifted_s", "next", "quantity", "candidates")
_LONG: Final = ("quantity", "candidates")
_RARE: Final = ("changeover_share", "operator_share", "outside_share", "break_share", "partner_share")
_NAMES: Final = {
    "floor_m": "floor",
    "along_m": "along the lane",
    "work_s": "work, mean",
    "oee_index": "OEE index",
    "start": "from",
    "end": "to",
    "made": "made in the run",
    "next": "would bind next",
    "eased_s": "saved, limit 10 % higher",
    "lifted_s": "saved, limit lifted",
    **STATES,
    **{column: word for column, (word, _) in MORE_STATES.items()},
}


def stations_sheet(material: Material) -> Sheet:
    """A row a station: where it is, its times and, of a run, its states."""
    table = _stations(material.evaluation)
    about = "A row a station: where it is, and its times as stated."
    return Sheet(
        "Stations", about, (lines_of(table, material.evaluation.line.units, headings=_NAMES),), (("stations", table),)
    )


def _stations(evaluation: Evaluation) -> Table:
    line, run = evaluation.line, evaluation.run
    travel_m = {stop.station: stop.travel_m for stop in evaluation.layout.stops if stop.station is not None}
    stations = line.stations
    steps = {name: step.name for step in line.route for name in step.stations}
    columns = [
        column_of("station", None, [one.name for one in stations]),
        column_of("step", None, [steps.get(one.name, "") for one in stations], "of the route"),
        column_of("lane", None, [one.lane for one in stations]),
        column_of("floor_m", "m", [one.at_m for one in stations], "centre, from the west end of the floor"),
        column_of("along_m", "m", [travel_m.get(one.name) for one in stations], "centre, from the start of its lane"),
        column_of("by", None, [one.work for one in stations], "machine or hand"),
        column_of("law", None, [one.time.kind for one in stations], "how the time of work spreads"),
        column_of("work_s", "s", [one.time.mean_s for one in stations], "as stated"),
        column_of("prepare_s", "s", [one.prepare_s for one in stations], "tool made ready"),
        column_of("clear_s", "s", [one.clear_s for one in stations], "tool out of the way"),
        column_of("settling_s", "s", _settling_s(evaluation), "after a move"),
    ]
    if run is not None:
        per_part = {row["step"]: row["time_per_good_part_s"] for row in run.steps.rows()}
        columns.append(
            column_of(
                "time_per_good_part_s",
                "s",
                [per_part.get(steps.get(one.name, "")) for one in stations],
                "of its step: neither blocked nor starved",
            )
        )
    return Table(tuple(columns))


def states_sheet(material: Material) -> Sheet:
    """A row a station: what it did in the run, and its figures after ISO 22400-2."""
    run = material.evaluation.run
    about = "A row a station: its states as shares of the time of the run, what it made, and figures after ISO 22400-2."
    if run is None:
        why = "not known: not simulated; see the sheet Findings, row rate"
        return Sheet("States", about, (Labelled((Named("states", why),)),))
    table = run.stations
    # States that no station of this line ever has would only make the list wider.
    unused = [one.name for one in table.columns if one.name in _RARE and not one.values.any()]
    lines = lines_of(table, material.evaluation.line.units, without=unused, headings=_NAMES)
    return Sheet("States", about, (lines,), (("states", table),))


def _settling_s(evaluation: Evaluation) -> list[float]:
    line, plan = evaluation.line, evaluation.plan
    if plan is not None:
        return [float(one) * 1e-6 for one in plan.settling_us]
    return [line.conveyor.settling_s if one.settling_s is None else one.settling_s for one in line.stations]


def stops_sheet(material: Material) -> Sheet:
    """All places where a carrier may rest."""
    evaluation = material.evaluation
    stops = evaluation.layout.stops
    to_next: list[float | None] = [
        after.travel_m - before.travel_m if before.lane == after.lane else None for before, after in pairwise(stops)
    ]
    table = Table(
        (
            column_of("stop", None, [one.index for one in stops], "rank, by lanes and travel"),
            column_of("what", None, [one.label for one in stops]),
            column_of("kind", None, [one.kind for one in stops]),
            column_of("lane", None, [one.lane for one in stops], "of a place aboard: the lane it takes from"),
            column_of("station", None, [one.station or "" for one in stops]),
            column_of("transfer", None, [one.transfer or "" for one in stops]),
            column_of(
                "floor_m", "m", [one.floor_m for one in stops], "from the west end of the floor; of a ring along it"
            ),
            column_of("travel_m", "m", [one.travel_m for one in stops], "from the start of its lane"),
            column_of("to_next_m", "m", [*to_next, None][: len(stops)], "to the next on the same lane, in travel"),
        )
    )
    about = "Every place where a carrier may rest, in the order of lanes and of travel."
    return Sheet("Stops", about, (lines_of(table, evaluation.line.units, headings=_NAMES),), (("stops", table),))


def moves_sheet(material: Material) -> Sheet:
    """Every move from stop to stop, empty and loaded."""
    evaluation = material.evaluation
    about = "Every move that a carrier can make, empty and loaded: how long it takes, and which figure governs it."
    if evaluation.limits is None:
        return Sheet("Moves", about, (Labelled((Named("moves", NO_TRACK),)),))
    legs = evaluation.limits.motion.legs
    helps = _HELP if material.for_customer else ()
    shown = lines_of(legs, evaluation.line.units, without=(*_LONG, *helps), headings=_NAMES)
    kept = Table(tuple(one for one in legs.columns if one.name not in helps))
    return Sheet("Moves", about, (shown,), (("moves", kept),))
