"""The head of the track chart: the answer before any row, and which places something fails at."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding, Verdict
from linewright.pictures.grammar import Spec, end, field, layer, layered, pixels
from linewright.pictures.labels import text_width_px, wrapped
from linewright.pictures.style import INK, PAPER
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.wording import RATE_WORDS, VERDICT_WORDS
from linewright.quantities import KEEP

STRONG: Final = ("FAILS", "NOT CHECKED", "UNDECIDED")


def head_view(sheet: Sheet) -> Spec:
    """The rate with its verdict, then what fails, is not checked or tight; white on dark what must not be missed."""
    size, line_px = sheet.text.px, sheet.text.line_px
    tag_px = max(text_width_px(words, size) for words in RATE_WORDS.values()) + 1.5 * size
    tags: list[dict[str, Any]] = []
    boxes: list[dict[str, Any]] = []
    lines: list[dict[str, Any]] = []
    y = 0.0
    for tag, words in head_lines(sheet.evaluation):
        middle, strong = y + 0.5 * line_px, tag in STRONG
        tags.append({"x": 0.4 * size, "y": middle, "words": tag, "strong": strong})
        if strong:
            wide_px = text_width_px(tag, size) + 0.8 * size
            boxes.append({"x": 0.0, "x2": wide_px, "y": middle - 0.68 * size, "y2": middle + 0.68 * size})
        for one in wrapped(words, sheet.width_px - tag_px, size):
            lines.append({"x": tag_px, "y": y + 0.5 * line_px, "words": one})
            y += line_px
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    look = {"align": "left", "baseline": "middle", "fontSize": size, "color": INK}
    data = sheet.data.named
    layers = [layer(data(lines, "head"), "text", look, place)]
    if boxes:
        ends = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
        layers.append(layer(data(boxes), "rect", {"color": INK}, ends))
    for strong, colour in ((True, PAPER), (False, INK)):
        some = [row for row in tags if row["strong"] == strong]
        bold = {**look, "color": colour, "fontWeight": "bold"}
        layers += [layer(data(some), "text", bold, place)] if some else []
    return layered(layers, sheet.width_px, y, "head")


def head_lines(evaluation: Evaluation) -> list[tuple[str, str]]:
    """A tag and words for each line of the head; `check` tells the numbers, limits and sources of each."""
    lines = []
    for verdict in WORST_FIRST[:-1]:
        found = [finding for finding in evaluation.findings if finding.verdict == verdict]
        if found:
            lines.append(
                (VERDICT_WORDS[verdict], f"{len(found)}{KEEP}of {len(evaluation.findings)}: {_by_subject(found)}")
            )
    if evaluation.run is not None:
        lines.insert(1 if lines and lines[0][0] == VERDICT_WORDS["fails"] else 0, _rate(evaluation))
    holds = sum(finding.verdict == "holds" for finding in evaluation.findings)
    command = "linewright check" if evaluation.run is None else "linewright check --run"
    lines.append(
        (VERDICT_WORDS["holds"], f"{holds}{KEEP}of {len(evaluation.findings)}. {command} tells each with its limit.")
    )
    return lines


def _by_subject(findings: Sequence[Finding]) -> str:
    """Subjects in their order, each with its codes and how often where that is more than once."""
    words = []
    for subject in dict.fromkeys(finding.subject for finding in findings):
        codes = Counter(finding.code for finding in findings if finding.subject == subject)
        told = [code if number == 1 else f"{number}{KEEP}×{KEEP}{code}" for code, number in codes.items()]
        words.append(f"{subject}: {', '.join(told)}")
    return "; ".join(words) + "."


def _rate(evaluation: Evaluation) -> tuple[str, str]:
    """Whether the line makes its takt, with what confidence."""
    run, takt = evaluation.run, evaluation.takt
    assert run is not None
    verdict: Verdict = next((row.verdict for row in evaluation.findings if row.code == "rate"), "not checked")
    if run.rate is None:
        return RATE_WORDS[verdict], f"No rate: {run.reason or 'the runs give none'}."
    low, high = _per_h(run.rate.low), _per_h(run.rate.high)
    interval = f"{100.0 * run.rate.confidence:g}{KEEP}% interval {low} to {high}"
    required = "no demand is stated" if takt is None else f"{_per_h(takt.required_rate_per_h)} required"
    told = f"Rate: {_per_h(run.rate.mean)} good parts an hour, {interval}; {required}"
    may = ": the line may or may not make its takt, longer runs tell" if verdict == "tight" else ""
    return RATE_WORDS[verdict], f"{told}{may}."


def _per_h(rate_per_h: float) -> str:
    return f"{rate_per_h:,.1f}".replace(",", KEEP)


def failing_at(evaluation: Evaluation, kind: str, name: str) -> tuple[Finding, ...]:
    """The findings that fail and name a place.

    Parameters
    ----------
    kind : ``station`` or ``transfer``
    name : of the station or transfer
    """
    whole = rf"(?<![\w-]){re.escape(name)}(?![\w-])"
    listed = rf"\bstations? (?:[\w-]+(?:, | and (?:station )?))*{re.escape(name)}(?![\w-])"
    pattern = re.compile(listed if kind == "station" else whole)
    return tuple(row for row in evaluation.findings if row.verdict == "fails" and pattern.search(row.where))
