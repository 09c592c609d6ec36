"""Sentences and figures of the change report: what moved on the whole, and what it does to the rate."""

from __future__ import annotations

from typing import Final

from linewright.evaluation import Evaluation
from linewright.flow.statistics import Interval
from linewright.handover.papers.material import Material
from linewright.planning.promises import MovedFinding, Promises, RateChange
from linewright.quantities import KEEP, counted, number, percent, quantity, signed

_TENTH: Final = 0.05
NO_PROOF: Final = "The proof of the traffic is not compared here: see the dossier's chapter Traffic."
_SMALL: Final = 0.001
"""Shares under it are told as such, not as nought."""


def opening(
    material: Material, before: Evaluation, promises: Promises, worse: list[MovedFinding], better: list[MovedFinding]
) -> list[tuple[str, bool]]:
    """The sentences that the report begins with, each with whether it stands in bold letters.

    Parameters
    ----------
    material : of the line as it is
    before : the line as it was
    promises : of both
    worse, better : the findings that became worse, and better
    """
    now = material.evaluation
    fails = [one for one in worse if one.row.verdict == "fails"]
    still = sum(one.verdict == "fails" for one in now.findings) - len(fails)
    told = [(f"{_headline(promises, fails, still)}{_unchecked(now)}", True), (NO_PROOF, False)]
    counts = (
        f"{_rows_words(len(worse))} worse than before, {len(better)} better; of all others "
        f"{_moved_words(len(promises.findings) - len(worse) - len(better))} and {promises.stayed} stayed as they were. "
        "What did not move is not listed."
    )
    told.append((counts, False))
    told.append((rate_sentence(promises.rate), False))
    told.append((f"Line as it was: {before.line.name}, input {before.line.input_hash[:16]}{_how_run(before)}.", False))
    if _how_run(before) != _how_run(now):
        told.append((f"The line as it is was looked at otherwise{_how_run(now)}: runs cannot be paired.", False))
    return told


def _headline(promises: Promises, fails: list[MovedFinding], still: int) -> str:
    if not promises.changed and not promises.findings:
        return "Nothing was changed, and no promise moved."
    if fails:
        start = f"{counted(len(fails), 'row')} {'fails' if len(fails) == 1 else 'fail'} that did not fail before"
    else:
        start = "No row fails that did not fail before"
    ends = "none failed before" if not still and fails else "none fails now" if not still else f"{still} fail as before"
    return f"{start}; {ends}."


def _unchecked(now: Evaluation) -> str:
    """How many rows nobody has looked at, beside how many fail: none of them is known to hold."""
    number_of = sum(one.verdict == "not checked" for one in now.findings)
    return f" {_rows_words(number_of)} NOT CHECKED now." if number_of else ""


def _rows_words(number_of: int) -> str:
    return f"{counted(number_of, 'row')} {'is' if number_of == 1 else 'are'}"


def _moved_words(number_of: int) -> str:
    return "none moved" if number_of == 0 else f"{number_of} moved under the same verdict"


def _how_run(evaluation: Evaluation) -> str:
    run = evaluation.run
    return ", not simulated" if run is None else f", {run.runs} runs of {run.hours:g}{KEEP}h, seed {run.seed}"


def rate_sentence(rate: RateChange) -> str:
    """What the change does to the rate, and whether that can be told from the luck of the runs.

    Parameters
    ----------
    rate : of both lines
    """
    found = rate.difference
    if found is None:
        return f"What it does to the simulated rate cannot be told: {rate.why}."
    how = "run by run under the same luck" if rate.paired else "between independent runs"
    unit = "good parts an hour"
    if found.low == found.high == 0.0:
        return f"The simulated rate is the same in every run, {how}: good parts {rate_with_interval(rate.after)}."
    certain = f"{percent(found.confidence, 0)} confidence"
    if not rate.is_told_from_zero:
        range_ = f"{signed_per_h(found.low)} to {signed_per_h(found.high)} {unit}, {certain}"
        return f"The difference of the simulated rate cannot be told from zero ({range_}), {how}."
    return (
        f"The simulated rate {'rises' if found.mean > 0 else 'falls'} by {per_h_in_words(abs(found.mean))} {unit} "
        f"({signed_per_h(found.low)} to {signed_per_h(found.high)}, {certain}, {how})."
    )


def rate_with_interval(found: Interval | None) -> str:
    """A rate in words; ``not known`` where there is none. [1/h]"""
    if found is None:
        return "not known"
    return f"{per_h_in_words(found.mean)} per hour ({per_h_in_words(found.low)} to {per_h_in_words(found.high)})"


def signed_per_h(value: float) -> str:
    """A difference of rates. [1/h]"""
    return signed(value, _decimals(value))


def per_h_in_words(value: float) -> str:
    """A rate to a tenth, as every paper tells it beside its interval; less than that to four digits. [1/h]"""
    return number(value, _decimals(value))


def _decimals(value: float) -> int | None:
    return 1 if value == 0.0 or abs(value) >= _TENTH else None


def figure_in_words(value: float, unit: str | None, units: str, beside: float | None = None) -> str:
    """A figure with its unit, a rate as `per_h_in_words` has it: the same figure is told alike all over the paper.

    Parameters
    ----------
    value : in `unit`
    unit, units, beside : see `linewright.quantities.quantity`
    """
    return f"{per_h_in_words(value)} per hour" if unit == "1/h" else quantity(value, unit, units, beside)


def signed_share(sign: str, share: float) -> str:
    """By what share a figure moved; small ones only as such.

    Parameters
    ----------
    sign : of the move
    share : its size
    """
    return f"{sign}{percent(share)}" if share >= _SMALL else f"under 0.1{KEEP}%"
