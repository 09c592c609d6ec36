"""The sheets Answer and Demand: the rate, and the way from the volume to the takt as formulas."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.findings import WORST_FIRST
from linewright.handover.pages.answer import rate_verdict
from linewright.handover.pages.rate_page import first_sentence
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import all_findings, proof_counted, proof_findings
from linewright.handover.workbook.cells import SHARE, Cell, Entry, Labelled, Lines, Named, Sheet
from linewright.handover.workbook.units import column_of, figure, lines_of
from linewright.line.demand import HOUR_S
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.findings import Finding
    from linewright.line.demand import TaktResult
    from linewright.line.model import Demand

TIME: Final = "0.000"
RATE: Final = "#,##0.0"
COUNT: Final = "#,##0"
NO_DEMAND: Final = "not known: the line file states no demand (key demand)"
FOLLOWS_NOT: Final = "simulated: it follows no cell; change the line file and run again"
_COUNTED: Final = {
    "fails": "rows that fail",
    "not checked": "rows NOT CHECKED",
    "tight": "tight rows",
    "holds": "rows that hold",
}


def answer_sheet(material: Material) -> Sheet:
    """What the line makes, what that rests on, and the steps."""
    evaluation = material.evaluation
    proved = proof_findings(material)
    of_proof = _counts(proved) if proved else (Named("proof", proof_counted(material)),)
    blocks: list[Labelled | Lines] = [
        Labelled(_rate_rows(material)),
        Labelled(_counts(evaluation.findings), "Findings"),
        Labelled(of_proof, "Findings of the proof of the traffic"),
    ]
    tables = []
    run = evaluation.run
    if run is not None:
        blocks.append(lines_of(run.steps, evaluation.line.units, "Steps"))
        tables.append(("steps", run.steps))
    about = "What the line makes against what is asked of it."
    notes = tuple(one for one in (first_sentence(evaluation), _but(all_findings(material))) if one)
    return Sheet("Answer", about, tuple(blocks), tuple(tables), notes)


def _rate_rows(material: Material) -> tuple[Named, ...]:
    evaluation = material.evaluation
    run, takt, line = evaluation.run, evaluation.takt, evaluation.line
    rows: list[Named] = []
    if run is not None and run.rate is not None:
        rate = run.rate
        confidence = f"{100 * rate.confidence:.0f} % confidence"
        rows += [
            Named("rate, mean of all runs", figure(rate.mean, RATE), "good parts per hour", FOLLOWS_NOT),
            Named("rate, low end", figure(rate.low, RATE), "good parts per hour", confidence),
            Named("rate, high end", figure(rate.high, RATE), "good parts per hour", confidence),
        ]
    if run is not None and run.line_cycle_s is not None:
        rows.append(Named("line cycle", figure(run.line_cycle_s, TIME), "s", "attained, per good part"))
    if takt is not None:
        rows += [
            Named("required rate", figure(takt.required_rate_per_h, RATE), "good parts per hour", "from the demand"),
            Named("takt", figure(takt.takt_s, TIME), "s", "asked for, per good part"),
        ]
    if not material.for_customer and takt is not None and run is not None and run.rate is not None:
        margin = run.rate.mean / takt.required_rate_per_h - 1.0
        rows.append(Named("margin of the rate", figure(margin, SHARE), "", "mean over required rate, less one"))
    if run is not None and run.limiting is not None:
        limit = run.limiting
        rows += [
            Named("limiting step", limit.step),
            Named("its time per good part", figure(limit.time_s, TIME), "s", "neither blocked nor starved"),
            Named("more than the next", figure(limit.by_s, TIME), "s", f"next: {limit.next_step}"),
        ]
    rows.append(Named("carriers", figure(line.carriers, COUNT)))
    if run is not None:
        rows += [
            Named("simulated runs", figure(run.runs, COUNT)),
            Named("length of a run", figure(run.hours, "0.##"), "h"),
            Named("left out as warm-up", figure(run.warm_up_s / 60.0, "0.0"), "min of each run"),
            Named("seed", figure(run.seed, "0")),
        ]
    return tuple(rows)


def _but(findings: tuple[Finding, ...]) -> str:
    """What a reader of the first line alone would miss."""
    others = sum(one.verdict == "fails" and one.code not in ("rate", "rate-bounds") for one in findings)
    return (
        f"BUT {others} OTHER {'ROW FAILS' if others == 1 else 'ROWS FAIL'}: see the sheet Findings." if others else ""
    )


def _verdict(evaluation: Evaluation) -> str:
    run = evaluation.run
    return "not checked" if run is not None and run.stalled_runs else rate_verdict(evaluation)


def _why_unknown(evaluation: Evaluation) -> str:
    row = next(one for one in evaluation.findings if one.code == "rate")
    return row.remedy if row.verdict == "not checked" else ""


def _counts(findings: tuple[Finding, ...]) -> tuple[Named, ...]:
    verdicts = [finding.verdict for finding in findings]
    notes = {"not checked": "what is not checked nobody has looked at", "tight": "hold with a margin under 10 %"}
    return tuple(
        Named(_COUNTED[one], figure(verdicts.count(one), COUNT), note=notes.get(one, "")) for one in WORST_FIRST
    )


def demand_sheet(material: Material) -> Sheet:
    """From the volume to the takt: what the demand states as inputs, the rest as formulas."""
    evaluation = material.evaluation
    demand, takt = evaluation.line.demand, evaluation.takt
    about = "From the volume to the takt: change an input, and takt and required rate follow."
    if demand is None or takt is None:
        return Sheet("Demand", about, (Labelled((Named("takt", NO_DEMAND),)),))
    blocks = (
        Labelled(_inputs(demand), "Demand"),
        Labelled(_takt_rows(takt), "Takt"),
        Labelled(_against(material, demand, takt), "The simulated rate against it"),
    )
    table = Table(
        (
            column_of("good_parts_per_year", "1/year", [float(demand.good_parts_per_year)]),
            column_of("shifts_per_day", None, [float(demand.shifts_per_day)]),
            column_of("paid_time_per_shift_s", "s", [demand.paid_time_per_shift_s]),
            column_of("days_per_year", None, [float(demand.days_per_year)]),
            column_of("losses_not_modelled", None, [demand.losses_not_modelled]),
            column_of("planned_time_s", "s", [takt.planned_time_s]),
            column_of("usable_time_s", "s", [takt.usable_time_s]),
            column_of("required_rate_per_h", "1/h", [takt.required_rate_per_h]),
            column_of("takt_s", "s", [takt.takt_s]),
        )
    )
    return Sheet("Demand", about, blocks, (("demand", table),))


def _inputs(demand: Demand) -> tuple[Named, ...]:
    hours = demand.paid_time_per_shift_s / HOUR_S
    losses = "that the simulation does not show; failures, repairs and rejects are simulated"
    return (
        Named("good parts", figure(demand.good_parts_per_year, COUNT, True), "a year", key="volume"),
        Named("shifts", figure(demand.shifts_per_day, "0.##", True), "a day", key="shifts"),
        Named("paid time", figure(hours, "0.00", True), "h a shift", key="paid"),
        Named("working days", figure(demand.days_per_year, "0.#", True), "a year", key="days"),
        Named("losses", figure(demand.losses_not_modelled, SHARE, True), "of the planned time", losses, "losses"),
    )


def _takt_rows(takt: TaktResult) -> tuple[Named, ...]:
    planned, usable = takt.planned_time_s / HOUR_S, takt.usable_time_s / HOUR_S
    return (
        Named("planned time", _formula(planned, RATE, "={shifts}*{paid}*{days}"), "h a year", key="planned"),
        Named(
            "share of the clock", _formula(takt.clock_share, SHARE, "={planned}/({days}*24)"), "", "of the days worked"
        ),
        Named("usable time", _formula(usable, RATE, "={planned}*(1-{losses})"), "h a year", key="usable"),
        Named(
            "required rate",
            _formula(takt.required_rate_per_h, RATE, "={volume}/{usable}"),
            "good parts per hour",
            key="required",
        ),
        Named("takt", _formula(takt.takt_s, TIME, "={usable}*3600/{volume}"), "s", "per good part", "takt"),
    )


def _against(material: Material, demand: Demand, takt: TaktResult) -> tuple[Named, ...]:
    run = material.evaluation.run
    if run is None or run.rate is None:
        why = _why_unknown(material.evaluation) or (run.reason if run is not None else None) or "no run"
        return (Named("simulated rate", f"not known: {why}"),)
    rate, required = run.rate, takt.required_rate_per_h
    usable = takt.usable_time_s / HOUR_S
    rows = [
        Named("rate, mean", figure(rate.mean, RATE), "good parts per hour", FOLLOWS_NOT, "rate"),
        Named("rate, low end", figure(rate.low, RATE), "good parts per hour", key="low"),
        Named("rate, high end", figure(rate.high, RATE), "good parts per hour", key="high"),
        Named("verdict", _verdict_cell(material.evaluation, rate.low, rate.high, required)),
    ]
    if not material.for_customer:
        rows += [
            Named(
                "margin",
                _formula(rate.mean / required - 1.0, SHARE, "={rate}/{required}-1"),
                "",
                "mean over required, less one",
            ),
            Named("good parts at that rate", _formula(rate.mean * usable, COUNT, "={rate}*{usable}"), "a year"),
            Named(
                "more than asked for",
                _formula(rate.mean * usable - demand.good_parts_per_year, COUNT, "={rate}*{usable}-{volume}"),
                "a year",
            ),
        ]
    return tuple(rows)


def _verdict_cell(evaluation: Evaluation, low: float, high: float, required: float) -> Entry:
    """Words that follow the inputs; where the rate itself means nothing no formula may say otherwise."""
    if _verdict(evaluation) == "not checked":
        return "not checked: see the sheet Answer"
    words = ("fails: wholly below what is required", "holds: wholly at or above it", "undecided: on both sides of it")
    value = words[0] if high < required else words[1] if low >= required else words[2]
    assert math.isfinite(required)
    return _formula(
        value, "General", f'=IF({{high}}<{{required}},"{words[0]}",IF({{low}}>={{required}},"{words[1]}","{words[2]}"))'
    )


def _formula(value: float | str, form: str, formula: str) -> Cell:
    return Cell(value, form, formula)
