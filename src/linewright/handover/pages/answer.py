"""The answer for another program: an Evaluation as plain data for JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Final

from linewright.evaluation import Evaluation
from linewright.findings import Finding, Verdict, worst_first
from linewright.handover.assumptions import CAUTION, assumptions
from linewright.handover.subjects import by_subject
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.flow.statistics import Interval
    from linewright.line.model import Line
    from linewright.planning.gains import Gains
    from linewright.tables import Table

FORMAT_VERSION: Final = 1


def answer(evaluation: Evaluation, gains: Gains | None = None) -> dict[str, Any]:
    """The whole answer, its keys in a fixed order; what is not known is None.

    Parameters
    ----------
    evaluation : of a line, with or without a run
    gains : what would help, where it was tried

    Returns
    -------
    dict   Units stand in the keys: ``takt_s``, ``line_cycle_s``, ``rate_per_h`` (``mean``, ``low``, ``high``,
           ``confidence``), ``causes`` (rows ``kind``, ``place``, ``time_s``, ``share``), ``gains`` (rows ``change``,
           ``gain_per_h``, ``low``, ``high`` ...), ``bounds``, ``stations`` (rows keyed by column name), ``steps``,
           ``limiting``, ``findings`` ...
    """
    run, takt = evaluation.run, evaluation.takt
    result = head(evaluation.line)
    result |= {
        "seed": None if run is None else run.seed,
        "hours": None if run is None else run.hours,
        "runs": None if run is None else run.runs,
        "warm_up_s": None if run is None else run.warm_up_s,
        "takt_s": None if takt is None else takt.takt_s,
        "required_rate_per_h": None if takt is None else takt.required_rate_per_h,
        "line_cycle_s": None if run is None else run.line_cycle_s,
        "rate_per_h": _rate(evaluation),
        "short_halts": None if run is None or run.short_halts is None else asdict(run.short_halts),
        "rate_reason": None if run is None else run.reason,
        "verdict": rate_verdict(evaluation),
        "limiting": _limiting(evaluation),
        "causes_cycle_s": None if run is None else run.causes_cycle_s,
        "causes": [] if run is None else run.cycle_causes.rows(),
        "gains_tried": gains is not None,
        "gains": [] if gains is None else gains.table().rows(),
        "gains_not_tried": [] if gains is None else [{"change": c, "reason": why} for c, why in gains.not_tried],
        "bounds": None if evaluation.bounds is None else asdict(evaluation.bounds),
        "stations": [] if run is None else run.stations.rows(),
        "steps": [] if run is None else run.steps.rows(),
        "runs_rate_per_h": [] if run is None else [float(rate) for rate in run.rates_per_h],
    }
    return result | _tail(evaluation, tried=gains is not None)


def check_answer(evaluation: Evaluation) -> dict[str, Any]:
    """The findings alone, as the command ``check`` gives them, with the hazards that the safety checks list."""
    run, hazards = evaluation.run, hazards_of(evaluation)
    of_run = {} if run is None else {"seed": run.seed, "hours": run.hours, "runs": run.runs}
    listed = {"hazards": [] if hazards is None else hazards.rows()}
    return head(evaluation.line) | of_run | listed | _tail(evaluation, tried=False)


def hazards_of(evaluation: Evaluation) -> Table | None:
    """The start for the risk assessment; None where the safety of the line was not checked."""
    limits = evaluation.limits
    hazards: Table | None = None if limits is None else limits.safety.hazards
    return hazards


def rate_verdict(evaluation: Evaluation) -> Verdict:
    """Whether the line makes its takt: the verdict of the finding ``rate``; ``not checked`` where the rate contradicts
    its bounds and so tells nothing."""
    if outside_bounds(evaluation) is not None:
        return "not checked"
    return next(finding.verdict for finding in evaluation.findings if finding.code == "rate")


def outside_bounds(evaluation: Evaluation) -> Finding | None:
    """The finding that the rate contradicts a bound that always holds; None where there is none."""
    return next((f for f in evaluation.findings if f.code == "rate-bounds" and f.verdict == "fails"), None)


def head(line: Line) -> dict[str, Any]:
    """What every answer begins with: versions, and which line it is of."""
    return {
        "format_version": FORMAT_VERSION,
        "program_version": __version__,
        "line": line.name,
        "file": None if line.document is None else line.document.file,
        "input_hash": line.input_hash,
    }


def _tail(evaluation: Evaluation, tried: bool) -> dict[str, Any]:
    return {
        "subjects": [one.as_dict() for one in by_subject(evaluation.findings)],
        "findings": [finding.as_dict() for finding in worst_first(evaluation.findings)],
        "assumptions": list(assumptions(evaluation, tried)),
        "caution": CAUTION,
    }


def _rate(evaluation: Evaluation) -> dict[str, float] | None:
    return None if evaluation.run is None else interval_data(evaluation.run.rate)


def interval_data(interval: Interval | None) -> dict[str, float] | None:
    """An interval as plain data; None where there is none."""
    return None if interval is None else asdict(interval)


def _limiting(evaluation: Evaluation) -> dict[str, Any] | None:
    if evaluation.run is None or evaluation.run.limiting is None:
        return None
    limiting = evaluation.run.limiting
    return {
        "step": limiting.step,
        "time_s": limiting.time_s,
        "next_step": limiting.next_step,
        "by_s": limiting.by_s,
        "slower_transfers": [
            finding.where.removeprefix("transfer ")
            for finding in evaluation.findings
            if finding.code == "transfer-cycle" and (finding.value or 0.0) > limiting.time_s
        ],
    }
