"""The page that ``check`` prints: an overview, every row that asks for something, then every row that holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding, counts_sentence
from linewright.handover.pages.answer import hazards_of
from linewright.handover.pages.rate_page import assumption_lines, signature, title
from linewright.handover.subjects import MUST_BE_CHECKED, SubjectRows, by_subject, must_be_checked, wait_for_run
from linewright.handover.wording import (
    TAG_WIDTH,
    TAGS,
    WIDTH,
    figures,
    finding_lines,
    heading,
    margin_in_words,
    page,
    paragraph,
)
from linewright.quantities import joined

if TYPE_CHECKING:
    from linewright.tables import Table

_BLANK: Final = " " * TAG_WIDTH
_COLUMNS: Final = (("fail", 5), ("unchecked", 11), ("tight", 7), ("hold", 6))
_SUBJECT_WIDTH: Final = 12
_MARGIN_WIDTH: Final = 9
_HANG: Final = " " * (_MARGIN_WIDTH + 4)
# Two spaces and the number of a source.
_REFERENCE_WIDTH: Final = 6
_NO_ASSESSMENT: Final = (
    "Headings after ISO 12100, filled with what this line file and its sheet state. It is not complete and no risk "
    "assessment: a competent, licensed person makes that."
)


def check_page(evaluation: Evaluation) -> str:
    """All findings on a page of text, at most 100 columns wide.

    Parameters
    ----------
    evaluation : with or without a run

    Returns
    -------
    str   Ends with a newline; holds no control characters but newlines. First the answer and a line for each subject,
          then the rows that fail, are not checked or tight with what to do, then those that hold, each with value,
          limit, margin and source; in both parts the subject with the worst row comes first.
    """
    subjects = by_subject(evaluation.findings)
    lines = title(evaluation.line.name) + _answer(evaluation) + _overview(subjects)
    lines += _open_rows(subjects, evaluation.line.units) + _holding_rows(subjects, evaluation.line.units)
    lines += _hazards(hazards_of(evaluation))
    lines += assumption_lines(evaluation)
    return page([*lines, "", *paragraph(signature(evaluation))])


def _answer(evaluation: Evaluation) -> list[str]:
    findings = evaluation.findings
    unchecked = sum(1 for finding in findings if finding.verdict == "not checked")
    words = [_first_sentence(findings, unchecked)]
    binding, waiting = len(must_be_checked(findings)), wait_for_run(findings)
    if unchecked:
        words.append(f"{unchecked} NOT CHECKED: nobody has looked at {'it' if unchecked == 1 else 'them'}.")
    if binding:
        words.append(f"What is not checked of {joined(MUST_BE_CHECKED)} ({binding}) counts as failing.")
    if waiting:
        rows = "row" if waiting == 1 else "rows"
        words.append(f"For {waiting} unchecked {rows} a run suffices: linewright check LINE --run.")
    return paragraph(" ".join(words)) + paragraph(counts_sentence(findings))


def _first_sentence(findings: tuple[Finding, ...], unchecked: int) -> str:
    verdicts = [finding.verdict for finding in findings]
    fails, tight, total = verdicts.count("fails"), verdicts.count("tight"), len(verdicts)
    if fails:
        return f"NO: {fails} OF {total} CHECKS {'FAILS' if fails == 1 else 'FAIL'}."
    binding = must_be_checked(findings)
    if binding:
        names = joined([one for one in MUST_BE_CHECKED if any(row.subject == one for row in binding)])
        rows = "1 CHECK" if len(binding) == 1 else f"{len(binding)} CHECKS"
        return f"NOT YET: NOTHING FAILS, BUT {rows} OF {names.upper()} COULD NOT BE MADE."
    if unchecked:
        return f"NOTHING THAT WAS CHECKED FAILS ({total - unchecked} checks)."
    if tight:
        return f"NOTHING FAILS; {tight} OF {total} CHECKS {'IS' if tight == 1 else 'ARE'} TIGHT."
    return f"ALL {total} CHECKS HOLD."


def _overview(subjects: tuple[SubjectRows, ...]) -> list[str]:
    """A line for each subject: its worst verdict, the counts, and the worst row."""
    head = "".join(f"{word:>{width}}" for word, width in _COLUMNS)
    lines = [*heading("Overview"), f"{_BLANK}{'subject':<{_SUBJECT_WIDTH}}{head}  worst row"]
    for one in subjects:
        counts = [one.count(verdict) for verdict in WORST_FIRST]
        cells = "".join(f"{n or '-':>{width}}" for n, (_, width) in zip(counts, _COLUMNS, strict=True))
        row = f"{TAGS[one.worst.verdict]:<{TAG_WIDTH}}{one.subject:<{_SUBJECT_WIDTH}}{cells}  "
        lines.append(row + _cut(_in_words(one.worst), WIDTH - len(row)))
    return lines


def _in_words(finding: Finding) -> str:
    margin = "" if finding.margin is None else f" ({margin_in_words(finding.margin)})"
    return f"{finding.code}{margin}: {finding.where}"


def _cut(words: str, width: int) -> str:
    """Words that do not fit are cut off, and dots say so: the whole row stands below."""
    return words if len(words) <= width else f"{words[: width - 3].rpartition(' ')[0].rstrip(',;:')} ..."


def _open_rows(subjects: tuple[SubjectRows, ...], units: str) -> list[str]:
    """The rows that ask for something, whole."""
    lines: list[str] = []
    for one in subjects:
        rows = [finding for finding in one.findings if finding.verdict != "holds"]
        lines += _subheading(one, rows)
        for finding in rows:
            lines += finding_lines(finding, units, with_source=True)
    return heading("What fails, is not checked or tight") + lines if lines else []


def _holding_rows(subjects: tuple[SubjectRows, ...], units: str) -> list[str]:
    """The rows that hold, a line each where they fit, their margins below each other; then their sources by number."""
    lines: list[str] = []
    sources: dict[str, int] = {}
    for one in subjects:
        rows = [finding for finding in one.findings if finding.verdict == "holds"]
        lines += _subheading(one, rows)
        for row in _folded(rows, units):
            number_of = sources.setdefault(row.source, len(sources) + 1)
            margin = "-" if row.margin is None else margin_in_words(row.margin)
            lines += paragraph(f"{row.words}  [{number_of}]", f"{margin:>{_MARGIN_WIDTH}}  ", _HANG)
    if not lines:
        return []
    lines = [*heading("What holds"), f"{'margin':>{_MARGIN_WIDTH}}", *lines[1:], "", "SOURCES of what holds"]
    for source, number_of in sources.items():
        lines += paragraph(source, f"  {f'[{number_of}]':<5}", " " * 7)
    return lines


def _subheading(one: SubjectRows, rows: list[Finding]) -> list[str]:
    return ["", f"{one.subject.upper()} ({len(rows)})"] if rows else []


@dataclass(frozen=True)
class _Row:
    """One or several holding rows of the same code, figures and source."""

    source: str
    margin: float | None
    words: str


def _folded(rows: list[Finding], units: str) -> list[_Row]:
    """Holding rows of the same code, figures and source in one line, if they fit into one."""
    same: dict[tuple[str, str, float | None, str], list[str]] = {}
    for finding in rows:
        told = figures(finding, units, with_margin=False)
        same.setdefault((finding.code, told, finding.margin, finding.source), []).append(finding.where)
    folded = []
    for (code, told, margin, source), places in same.items():
        together = _words(code, "; ".join(places), told)
        fits = len(together) <= WIDTH - len(_HANG) - _REFERENCE_WIDTH
        words = [together] if fits else [_words(code, where, told) for where in places]
        folded += [_Row(source, margin, one) for one in words]
    return folded


def _words(code: str, where: str, told: str) -> str:
    return f"{code}: {where}" + (f": {told}" if told else "")


def _hazards(hazards: Table | None) -> list[str]:
    """A start for the risk assessment, by heading."""
    if hazards is None or not len(hazards):
        return []
    lines = heading("Hazards: a start for the risk assessment") + paragraph(_NO_ASSESSMENT)
    alike: dict[tuple[str, str, str, str], list[tuple[str, str]]] = {}
    for row in hazards.rows():
        kind = (str(row["heading"]), str(row["hazard"]), str(row["first_measure"]), str(row["left_to_decide"]))
        alike.setdefault(kind, []).append((str(row["where"]), str(row["known"])))
    last = ""
    for (group, hazard, measure, left), places in alike.items():
        lines += paragraph(group) if group != last else []
        last = group
        told = (*_at(hazard, places), _sentence("First", measure), _sentence("To decide", left))
        lines += paragraph(" ".join(one.rstrip(".") + "." for one in told if one), "  - ", "    ")
    return lines


def _at(hazard: str, places: list[tuple[str, str]]) -> tuple[str, str]:
    """Where a hazard is, and what is known of it; of each place where that differs."""
    known = {words for _, words in places}
    if len(known) == 1:
        return f"{hazard}: {'; '.join(where for where, _ in places)}", _sentence("Known", known.pop())
    told = "; ".join(f"{where} ({words})" if words else where for where, words in places)
    return f"{hazard}: {told}", ""


def _sentence(label: str, words: str) -> str:
    return f"{label}: {words}" if words.strip() else ""
