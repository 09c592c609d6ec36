"""Page one of the dossier: the answer, what does not hold, and what nobody stated, to be signed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from linewright.evaluation import Evaluation
from linewright.findings import Finding, Verdict, counts_sentence, worst_first
from linewright.handover.document.blocks import Block, Facts, Grid, GridColumn, Heading, Kept, Part, Points, Words
from linewright.handover.pages.answer import outside_bounds
from linewright.handover.pages.causes_page import largest_causes
from linewright.handover.pages.rate_page import (
    against_takt,
    confidence_sentence,
    first_sentence,
    interval_words,
    limiting_sentences,
    other_checks_sentence,
)
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import all_findings, finding_grid, proof_counted, proof_findings
from linewright.handover.subjects import MUST_BE_CHECKED, must_be_checked
from linewright.line.demand import HOUR_S, parts_per_year, planned_time_s
from linewright.line.model import Demand
from linewright.planning.assumed import MAY_FALL
from linewright.quantities import KEEP, counted, joined, number
from linewright.version import __version__

MOST_CAUSES: Final = 5
PEOPLE: Final = ("builder", "customer")
"""Who sign page one."""
SIGN_MM: Final = 8.5
"""Least height of a row to sign in. [mm]"""
_SIGNED_OF: Final[tuple[tuple[Verdict, str], ...]] = (
    ("fails", "fails"),
    ("not checked", "is not checked"),
    ("tight", "is tight"),
)
_UNMADE: Final = "rate margin"


def answer_part(material: Material) -> tuple[Part, ...]:
    """The answer: whether the line makes its rate, what limits it, every row that does not hold, every assumption.

    Parameters
    ----------
    material : of the line
    """
    evaluation = material.evaluation
    blocks: list[Block] = [Heading("The answer"), Words(first_sentence(evaluation), strong=True)]
    others = other_checks_sentence(evaluation)
    blocks += [Words(f"{others}: they stand below.", strong=True)] if others else []
    unproved = sum(one.verdict == "fails" for one in proof_findings(material))
    if unproved:
        words = (
            "ROW OF THE PROOF FAILS: it stands below" if unproved == 1 else "ROWS OF THE PROOF FAIL: they stand below"
        )
        blocks.append(Words(f"BUT {unproved} {words}.", strong=True))
    confidence = confidence_sentence(evaluation)
    blocks += [Words(confidence)] if confidence else []
    blocks += [Facts(tuple(_facts(material))), *_open_rows(material)]
    # The lines to sign on never stand on a page of their own.
    blocks.append(Kept((*_effects(material), *_signing(material))))
    return (Part(tuple(blocks)),)


def made_from(evaluation: Evaluation) -> str:
    """What makes the same paper again: program, runs, seed, and the whole hash of the input.

    Parameters
    ----------
    evaluation : of the line
    """
    run = evaluation.run
    runs = "no run" if run is None else f"{run.runs} runs of {run.hours:g}{KEEP}h, seed{KEEP}{run.seed}"
    return f"Linewright {__version__}; {runs}; input {evaluation.line.input_hash}"


def open_findings(material: Material) -> tuple[Finding, ...]:
    """Every finding that does not hold, those of the proof too, the worst first.

    Parameters
    ----------
    material : of the line
    """
    return tuple(one for one in worst_first(all_findings(material)) if one.verdict != "holds")


def _facts(material: Material) -> list[tuple[str, str]]:
    evaluation = material.evaluation
    line, takt = evaluation.line, evaluation.takt
    rows = _rate_rows(evaluation)
    if takt is not None:
        required = number(takt.required_rate_per_h, 1)
        rows.append(("Takt", f"{takt.takt_s:.3f}{KEEP}s, that is {required} good parts per usable hour"))
    rows += _cycle_rows(material)
    rows.append(("Carriers", f"{line.carriers} for {counted(len(line.stations), 'station')}"))
    rows.append(("Findings", _counted(material)))
    return rows


def _rate_rows(evaluation: Evaluation) -> list[tuple[str, str]]:
    """The rate with its interval, and what that is in a year."""
    run, demand = evaluation.run, evaluation.line.demand
    if run is None or run.rate is None:
        why = next(row.remedy for row in evaluation.findings if row.code == "rate") if run is None else run.reason
        return [("Rate", f"not known: {why}")]
    warning = "" if outside_bounds(evaluation) is None else "DO NOT USE: "
    rows = [("Rate", f"{warning}{interval_words(run, run.rate)}")]
    if demand is not None:
        low, mean, high = (_a_year(per_h, demand) for per_h in (run.rate.low, run.rate.mean, run.rate.high))
        asked = number(demand.good_parts_per_year)
        rows.append(("A year", f"{warning}{mean} good parts ({low} to {high}); the demand is {asked}"))
    return rows


def _a_year(per_h: float, demand: Demand) -> str:
    """Good parts a year at a rate, to four digits: the interval allows no more."""
    if per_h <= 0.0:
        return "0"
    parts = parts_per_year(HOUR_S / per_h, planned_time_s(demand), demand.losses_not_modelled)
    return number(float(f"{parts:.4g}"))


def _cycle_rows(material: Material) -> list[tuple[str, str]]:
    """The line cycle, what limits it and by how much more than the next, and where the time goes."""
    evaluation = material.evaluation
    run = evaluation.run
    if run is None:
        return []
    rows = []
    if run.line_cycle_s is not None:
        against = "" if material.for_customer else against_takt(evaluation, run.line_cycle_s)
        rows.append(("Line cycle", f"{run.line_cycle_s:.3f}{KEEP}s per good part{against}"))
    rows.append(("Limited by", " ".join(limiting_sentences(evaluation, run))))
    if run.causes_cycle_s is not None and len(run.cycle_causes):
        rows.append(("Made of", _causes(run.cycle_causes.rows())))
    return rows


def _causes(rows: list[dict[str, object]]) -> str:
    """The largest causes of the line cycle with their shares, and all others together."""
    shown = largest_causes(rows)
    first = shown[:MOST_CAUSES]
    words = [f"{kind} {place} {number(share, 1)}{KEEP}%".replace("  ", " ") for kind, place, _, share in first]
    rest = sum(share for *_, share in shown[MOST_CAUSES:])
    if len(shown) > MOST_CAUSES:
        words.append(f"all else {number(rest, 1)}{KEEP}%")
    return ", ".join(words)


def _counted(material: Material) -> str:
    """How many rows hold and how many do not, of the proof apart; what nobody has looked at is never only a number."""
    findings = material.evaluation.findings
    words = f"{counts_sentence(findings).removeprefix('Findings: ')} {proof_counted(material)}"
    if any(one.verdict == "not checked" for one in all_findings(material)):
        words += " What is not checked nobody has looked at."
    binding = must_be_checked(findings)
    if binding:
        of = joined(MUST_BE_CHECKED)
        count = "1 such row counts" if len(binding) == 1 else f"{len(binding)} such rows count"
        words += f" Of {of} {count} as failing."
    return words


def _open_rows(material: Material) -> list[Block]:
    """Every row that fails, is not checked or is tight, with what to do about it."""
    rows, total = open_findings(material), len(all_findings(material))
    heading = Heading(f"What fails, is not checked or is tight: {len(rows)} of {total} rows", 2)
    if not rows:
        return [heading, Words("Nothing: every row holds.")]
    whole = finding_grid(rows, material)
    # Page one has no room for the sources; each row stands with its own in its chapter.
    return [heading, Grid(whole.columns[:-1], tuple(row[:-1] for row in whole.rows))]


def _signing(material: Material) -> list[Facts | Words | Grid]:
    """What the paper was made from, what it is to sign it, and where."""
    know = known_when_signed(open_findings(material))
    meaning = f"Signed: both have read this answer{know}. It is no acceptance; that is the acceptance plan's."
    made = Facts((("Made from", made_from(material.evaluation)),))
    return [made, Words(meaning + not_for_real(material)), sign_lines()]


def known_when_signed(findings: Iterable[Finding]) -> str:
    """Of what does not hold whoever signs knows how many rows there are; nothing where all rows hold.

    Parameters
    ----------
    findings : all that are signed for
    """
    verdicts = [one.verdict for one in findings]
    counts = [(word, verdicts.count(verdict)) for verdict, word in _SIGNED_OF]
    *first, last = [f"{word} ({count})" for word, count in counts if count] or [""]
    told = f"{', '.join(first)} or {last}" if first else last
    return f" and know what {told}" if told else ""


def not_for_real(material: Material) -> str:
    """That a paper of an invented conveyor is not to be signed for a real line; else nothing."""
    sheet = material.evaluation.line.conveyor
    return f" Not to be signed for a real line: the conveyor sheet {sheet.name} is invented." * sheet.invented


def sign_lines() -> Grid:
    """Where both sign. A grid, for it can be kept on one page with what is signed."""
    columns = (
        GridColumn("", share=0.6),
        GridColumn("name", share=3.0),
        GridColumn("date"),
        GridColumn("signature", share=2.0),
    )
    return Grid(columns, tuple((who, "", "", "") for who in PEOPLE), SIGN_MM)


def _effects(material: Material) -> list[Heading | Words | Points]:
    """What nobody stated, and what each does to the answer."""
    effects = [one for one in material.effects if not (material.for_customer and one.quantity == _UNMADE)]
    heading = Heading("What nobody stated, and what it does to the answer", 2)
    if not effects:
        why = "no run was made" if material.evaluation.run is None else "nothing of the kind was found, or no rate"
        return [heading, Words(f"Not told: {why}. The last chapter has all that this rests on.")]
    may = any(MAY_FALL in one.told for one in effects)
    last = (
        f"One at a time, under the same luck{'; “may”: at the low ends of all intervals' * may}. "
        "All else that this rests on: the last chapter."
    )
    return [heading, Points(tuple(one.told for one in effects)), Words(last)]
