"""The chapter on the rate: from demand to takt, the simulated rate between its bounds, and where the time goes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from linewright.evaluation import Evaluation
from linewright.handover.document.blocks import (
    Block,
    Drawn,
    Facts,
    Grid,
    GridColumn,
    Heading,
    Part,
    Points,
    Words,
    grid,
)
from linewright.handover.dossier.chapter import finding_blocks
from linewright.handover.pages.answer import outside_bounds
from linewright.handover.pages.causes_page import bounds_rows, largest_causes, parallel_sentences
from linewright.handover.pages.rate_page import (
    MORE_STATES,
    OPERATORS_REST,
    STATES,
    STATES_LEGEND,
    against_takt,
    demand_rows,
    interval_words,
    operator_rows,
    step_marks,
)
from linewright.handover.papers.material import Material
from linewright.handover.subjects import by_subject
from linewright.pictures import Text, cycle_causes
from linewright.quantities import KEEP, counted, number, percent, signed
from linewright.shares import rounded_shares

if TYPE_CHECKING:
    from linewright.flow.run import Run
    from linewright.line.model import Demand
    from linewright.planning.gains import Gains

_CAUSES_TEXT: Final = 1.3
"""Letters so much larger, for the picture is drawn for a page twice as wide."""
_CAUSES_SHARE: Final = 0.32
_NARROW: Final = 0.7
"""Width of a table of few short words: across a whole page the eye loses the row."""
# Of the findings these stand here; each other subject has a chapter of its own.
_SUBJECTS: Final = ("rate", "layout")


def rate_part(material: Material) -> tuple[Part, ...]:
    """The rate: takt, bounds, steps, stations, causes, and what would help.

    Parameters
    ----------
    material : of the line; its customer is not told what would help
    """
    evaluation = material.evaluation
    blocks: list[Block] = [Heading("Rate"), *_takt(evaluation), *_made(material)]
    if evaluation.run is not None:
        blocks += [*_steps(material, evaluation.run), *_stations(evaluation.run), *_people(evaluation, evaluation.run)]
        blocks += [] if material.for_customer else _help(material.gains)
        blocks += _causes(material, evaluation.run)
    return (Part((*blocks, *_findings(material))),)


def _takt(evaluation: Evaluation) -> list[Block]:
    """From the volume to the takt, a number a line."""
    demand, takt = evaluation.line.demand, evaluation.takt
    heading = Heading("From demand to takt", 2)
    if demand is None or takt is None:
        return [heading, Words("No demand is stated, so there is no takt: add the key demand to the line file.")]
    told = dict(demand_rows(evaluation, demand, takt))
    planned_h, usable_h = takt.planned_time_s / 3600.0, takt.usable_time_s / 3600.0
    rows = [
        ("good parts a year", "as demanded", number(demand.good_parts_per_year)),
        ("planned time a year", _shifts(demand), f"{number(planned_h, 1)}{KEEP}h"),
        ("losses that the run does not show", "of planned time", percent(demand.losses_not_modelled)),
        ("usable time a year", "planned time × (1 − losses)", f"{number(usable_h, 1)}{KEEP}h"),
        ("takt", "usable time ÷ good parts", f"{takt.takt_s:.3f}{KEEP}s"),
        ("required rate", "good parts ÷ usable time", f"{number(takt.required_rate_per_h, 1)} per hour"),
    ]
    labels = ("against the clock", "losses in the run")
    table = grid(["=", "how", ">"], rows, width=_NARROW)
    return [heading, table, Facts(tuple((label, told[label]) for label in labels))]


def _shifts(demand: Demand) -> str:
    paid_h = number(demand.paid_time_per_shift_s / 3600.0)
    shifts, days = counted(demand.shifts_per_day, "shift"), counted(demand.days_per_year, "day")
    return f"{shifts} a day × {paid_h}{KEEP}h paid × {days}"


def _made(material: Material) -> list[Block]:
    """The simulated rate, and between what it must lie."""
    evaluation = material.evaluation
    run, bounds = evaluation.run, evaluation.bounds
    heading = Heading("What the line makes, between its bounds", 2)
    if run is None:
        why = next(row.remedy for row in evaluation.findings if row.code == "rate")
        return [heading, Words(f"Not simulated: {why}.")]
    if run.rate is None:
        return [heading, Words(f"No interval: {run.reason}.")]
    outside = outside_bounds(evaluation)
    warning = "" if outside is None else "DO NOT USE: "
    rows = [("rate", f"{warning}{interval_words(run, run.rate)}")]
    if run.line_cycle_s is not None:
        against = "" if material.for_customer else against_takt(evaluation, run.line_cycle_s)
        rows.append(("line cycle", f"{run.line_cycle_s:.3f}{KEEP}s per good part{against}"))
    if run.short_halts is not None:
        halts = run.short_halts
        lost = f"{number(halts.lost_s, 3)}{KEEP}s"
        rows.append(("short halts", f"{number(halts.per_part, 2)} per good part, which cost the carriers {lost}"))
    rows += [] if bounds is None else bounds_rows(run, run.rate, bounds)
    first = [] if outside is None else [Words("THE RATE LIES OUTSIDE ITS BOUNDS: do not use it.", strong=True)]
    return [heading, *first, Facts(tuple(rows))]


def _steps(material: Material, run: Run) -> list[Block]:
    """Seconds per good part of every step, and which limits."""
    takt, marks = material.evaluation.takt, step_marks(material.evaluation, run)
    with_share = takt is not None and not material.for_customer
    rows = []
    for row in run.steps.rows():
        time_s = float(row["time_per_good_part_s"])
        cells = [str(row["step"]), marks.get(str(row["step"]), ""), number(time_s, 3)]
        if with_share and takt is not None:
            cells.append(percent(time_s / takt.takt_s) if math.isfinite(time_s) else "-")
        rows.append([*cells, str(row["stations"])])
    heads = ["=step", "=", ">s per good part", *([">of the takt"] if with_share else []), "worked at"]
    words = "Seconds per good part, waiting for neighbours left out, parallel stations shared."
    blocks: list[Block] = [Heading("Steps", 2), Words(words), grid(heads, rows)]
    sentences = parallel_sentences(material.evaluation)
    return [*blocks, Points(tuple(sentences))] if sentences else blocks


def _stations(run: Run) -> list[Block]:
    """What each station does all the time, in per cent; a row adds up to 100."""
    more = {column: word for column, (word, _) in MORE_STATES.items() if run.stations[column].any()}
    states = {**STATES, **more}
    used = [column for column in states if run.stations[column].any()]
    rows = []
    for row in run.stations.rows():
        shares = rounded_shares([float(row[column]) for column in used])
        rows.append([str(row["station"]), *(number(share, 1) for share in shares)])
    never = [word for column, word in states.items() if column not in used]
    words = "Share of time after the warm-up, in %; each row adds up to 100."
    words += f" Never: {', '.join(never)}." if never else ""
    legend = " ".join([STATES_LEGEND, *(MORE_STATES[column][1] for column in more)])
    columns = (GridColumn("station"), *(GridColumn(states[column], "right", 0.0) for column in used))
    table = Grid(columns, tuple(tuple(row) for row in rows))
    return [Heading("What the stations do", 2), Words(words), table, Words(legend)]


def _people(evaluation: Evaluation, run: Run) -> list[Block]:
    if not evaluation.line.operators:
        return []
    return [Heading("Operators", 2), Facts(tuple(operator_rows(evaluation.line, run))), Words(OPERATORS_REST)]


def _causes(material: Material, run: Run) -> list[Block]:
    """What the line cycle is made of, in figures; for the builder drawn too, with what is left to the takt."""
    heading = Heading("What the line cycle is made of", 2)
    rows: list[dict[str, Any]] = run.cycle_causes.rows()
    if run.causes_cycle_s is None or not rows:
        return [heading, Words("Not known: no run finishes two good parts after the warm-up.")]
    shown = largest_causes(rows)
    cells = [
        (kind, place, number(round(time_s, 3) + 0.0, 3), f"{number(round(share, 1) + 0.0, 1)}{KEEP}%")
        for kind, place, time_s, share in shown
    ]
    together_s = sum(float(row["time_s"]) for row in rows)
    whole = number(sum(share for *_, share in shown), 1)
    cells.append(("together", "", number(together_s, 3), f"{whole}{KEEP}%"))
    table = grid(["=cause", "where", ">s per part", ">share"], cells, width=_NARROW)
    words = Words(
        "From one good part to the next. Followed back from the last good part, each event to the one that it waited "
        "for. Shares rank the causes; what a change brings only a trial tells."
    )
    if material.for_customer:
        return [heading, words, table]
    told = "The causes of the line cycle as one bar on a scale of seconds, the largest first; below it by kind alone."
    svg = cycle_causes(material.evaluation, Text(_CAUSES_TEXT)).svg()
    return [heading, Drawn(svg, told, _CAUSES_SHARE)]


def _help(gains: Gains | None) -> list[Block]:
    """What would help, as it was tried."""
    heading = Heading("What would help", 2)
    if gains is None:
        return [heading, Words("Nothing could be tried: there is no rate to compare with.")]
    full = f"{gains.full_runs} runs of {gains.full_hours:.3g}{KEEP}h"
    look = f"{gains.runs} runs of {gains.hours:.3g}{KEEP}h"
    by = {True: full, False: look}
    rows = [
        (
            gain.change.words,
            *(signed(value) for value in (gain.per_h.mean, gain.per_h.low, gain.per_h.high)),
            gain.effect,
            by[gain.confirmed],
        )
        for gain in gains.gains
        if gain.effect in ("gains", "loses")
    ]
    words = (
        "Each change alone, all else as it is, under the same luck: good parts per hour more (+) or fewer (-), with "
        f"the 95{KEEP}% interval. Of twenty such intervals one misses. Gains of several changes do not add up."
    )
    told = [f"{word}: {'; '.join(names)}." for word, names in _idle(gains).items() if names]
    table = grid(["change", ">gain per hour", ">low", ">high", "=", "=tried by"], rows)
    untried = tuple(f"Not tried: {what}: {why}" for what, why in gains.not_tried)
    return [heading, Words(words), table, *([Points((*told, *untried))] if told or untried else [])]


def _idle(gains: Gains) -> dict[str, list[str]]:
    """The changes that do nothing, and those of which nothing can be told, in words of their own."""
    heads = {
        "does nothing": "Do nothing, which is less than a thousandth of the rate either way",
        "cannot be told": "Cannot be told from no effect",
    }
    return {
        head: [gain.change.words for gain in gains.gains if gain.effect == effect] for effect, head in heads.items()
    }


def _findings(material: Material) -> list[Block]:
    """All rows of the rate and the track."""
    return [
        block
        for one in by_subject(material.evaluation.findings)
        if one.subject in _SUBJECTS
        for block in finding_blocks(one.findings, material, subject=f"Findings of {one.subject}")
    ]
