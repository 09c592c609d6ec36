"""The page that ``check`` prints: every finding, worst first."""

from __future__ import annotations

from linewright.evaluation import Evaluation
from linewright.findings import worst_first
from linewright.handover.rate_page import assumption_lines, signature, title
from linewright.handover.wording import counts_sentence, finding_lines, heading, page, paragraph


def check_page(evaluation: Evaluation) -> str:
    """All findings on a page of text, at most 100 columns wide.

    Parameters
    ----------
    evaluation : with or without a run

    Returns
    -------
    str   Ends with a newline; holds no control characters but newlines.
    """
    findings = worst_first(evaluation.findings)
    lines = title(evaluation.line.name) + paragraph(_first_sentence(evaluation)) + paragraph(counts_sentence(findings))
    lines += heading("Findings, worst first")
    for finding in findings:
        lines += finding_lines(finding, evaluation.line.units)
    lines += assumption_lines(evaluation)
    return page([*lines, "", *paragraph(signature(evaluation))])


def _first_sentence(evaluation: Evaluation) -> str:
    verdicts = [finding.verdict for finding in evaluation.findings]
    fails, unchecked = verdicts.count("fails"), verdicts.count("not checked")
    if fails:
        first = f"NO: {fails} OF {len(verdicts)} CHECKS {'FAILS' if fails == 1 else 'FAIL'}."
    else:
        first = f"NOTHING THAT WAS CHECKED FAILS ({len(verdicts) - unchecked} checks)."
    if unchecked:
        first += f" {unchecked} NOT CHECKED: nobody has looked at them."
    return first
