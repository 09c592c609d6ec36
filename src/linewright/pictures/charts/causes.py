"""The causes of the line cycle as one bar: stretches by cause and place, and below the same by kind alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.evaluation import Evaluation
from linewright.pictures.charts.comb import (
    LEAD_GAP_PX,
    Mark,
    Stretch,
    caution,
    comb,
    kept,
    named_bar,
    words_layer,
)
from linewright.pictures.grammar import Datasets, Spec, end, layer, layered, pixels, told
from linewright.pictures.key import KeyEntry, box, fill_entry, once, stroke
from linewright.pictures.labels import text_width_px
from linewright.pictures.nothing import NothingToDraw, why_no_run
from linewright.pictures.picture import Picture, picture_of
from linewright.pictures.style import CAUSE_FILLS, FILLS, HUE, INK, PAPER, Text, round_step
from linewright.pictures.wording import RATE_WORDS

if TYPE_CHECKING:
    from linewright.flow.run import Run


WIDTH_PX: Final = 1180.0
LEAST_SHARE: Final = 0.005
"""Of the line cycle: a cause of less is one of the rest."""
MOST_NAMED: Final = 10
BAR_PX: Final = 36.0
KIND_PX: Final = 26.0
MARK_SHARE: Final = 0.8  # how far a mark goes down a bar


@dataclass(frozen=True)
class Part:
    """Time of the line cycle: of one cause, one kind, or of all the small ones together (`kind` empty)."""

    kind: str
    words: str
    time_s: float
    share: float


def cycle_causes(evaluation: Evaluation, text: Text | None = None) -> Picture:
    """What the line cycle is made of, as one horizontal bar on a scale of seconds, with the takt on the same scale.

    Parameters
    ----------
    evaluation : with a run
    text : sizes of letters

    Returns
    -------
    Picture   Named ``causes``. Stretches by cause and place, the largest first; what is small is one last stretch.

    Raises
    ------
    NothingToDraw   There is no run, or none finishes two good parts after the warm-up.
    """
    text = Text() if text is None else text
    run = evaluation.run
    if run is None:
        raise NothingToDraw(f"causes of the line cycle: {why_no_run(evaluation)}")
    rows = run.cycle_causes.rows()
    if run.causes_cycle_s is None or not rows:
        raise NothingToDraw("causes of the line cycle: no run finishes two good parts after the warm-up; run longer")
    sum_s, cycle_s = run.causes_cycle_s, run.line_cycle_s
    by_place = _parts([(row["kind"], row["place"], row["time_s"], row["share"]) for row in rows])
    by_kind = _parts(_kinds(rows))
    takt_s = None if evaluation.takt is None else evaluation.takt.takt_s
    bars = [by_place, by_kind]
    longest_s = max(takt_s or 0.0, cycle_s or 0.0, *(sum(max(part.time_s, 0.0) for part in bar) for bar in bars))
    names = [text_width_px(part.words, text.px) for bar in bars for part in bar]
    width_px = max(WIDTH_PX, max(names) + LEAD_GAP_PX * (MOST_NAMED + 1))
    scale = _Scale(0.985 * width_px / longest_s, longest_s)
    data = Datasets()
    layers, height = _bars(bars, _marks(cycle_s, takt_s, scale), scale, width_px, data, text, sum_s)
    title = f"{evaluation.line.name}: what the line cycle is made of"
    said = [kept(words) for words in _said(evaluation, run, sum_s, takt_s, bars)]
    return picture_of(
        "causes", title, said, [layered(layers, width_px, height, "causes")], _key(bars), data, text, width_px
    )


@dataclass(frozen=True)
class _Scale:
    """Pixels for each second, and the longest time that is drawn."""

    px_per_s: float
    longest_s: float

    def px(self, time_s: float) -> float:
        return time_s * self.px_per_s


def _kinds(rows: Sequence[dict[str, Any]]) -> list[tuple[str, str, float, float]]:
    sums: dict[str, tuple[float, float]] = {}
    for row in rows:
        time_s, share = sums.get(row["kind"], (0.0, 0.0))
        sums[row["kind"]] = time_s + float(row["time_s"]), share + float(row["share"])
    return sorted(((kind, "", *both) for kind, both in sums.items()), key=lambda one: -one[2])


def _parts(rows: Sequence[tuple[str, str, float, float]]) -> list[Part]:
    """The causes that are named, the largest first, then the rest; what is below zero counts in the rest."""
    large = [row for row in rows if row[3] >= LEAST_SHARE][:MOST_NAMED]
    if len(rows) - len(large) == 1 and rows[-1][3] > 0.0:
        large = list(rows)
    parts = [
        Part(kind, f"{kind}{f' at {place}' if place else ''}, {_figures(time_s, share)}", float(time_s), float(share))
        for kind, place, time_s, share in large
    ]
    rest = [row for row in rows if row not in large]
    if rest:
        time_s, share = sum(float(row[2]) for row in rest), sum(float(row[3]) for row in rest)
        parts.append(Part("", f"{len(rest)} more, {_figures(time_s, share)}", time_s, share))
    return parts


def _figures(time_s: float, share: float) -> str:
    return f"{time_s:.3f} s, {100.0 * share:.1f} %"


def _said(
    evaluation: Evaluation, run: Run, sum_s: float, takt_s: float | None, bars: Sequence[Sequence[Part]]
) -> list[str]:
    """What a reader must know, as sentences over the picture."""
    cycle_s = run.line_cycle_s
    whole = "" if cycle_s is None else f" (the line cycle of the rate counts the whole time: {cycle_s:.3f} s)"
    first = (
        f"{sum_s:.3f} s from one good part to the next, from the first good part to the last{whole}. Followed back "
        "from the last good part, each event to the one that it waited for. Shares rank the causes; what a change "
        "brings only a trial tells."
    )
    said = [first]
    if takt_s is None:
        said.append("No takt to judge by: the line file states no demand.")
    elif cycle_s is None:
        said.append(f"Takt {takt_s:.3f} s: no rate is known to judge by it; run longer.")
    else:
        below = (takt_s - cycle_s) / takt_s
        side = "below" if below >= 0.0 else "ABOVE"
        verdict = next((row.verdict for row in evaluation.findings if row.code == "rate"), None)
        judged = "" if verdict is None else f" The check of the rate, with its interval: {RATE_WORDS[verdict]}."
        said.append(
            f"Takt {takt_s:.3f} s: the line cycle of the rate lies {abs(takt_s - cycle_s):.3f} s "
            f"({abs(100 * below):.1f} %) {side} it.{judged}"
        )
    if any(part.time_s < 0.0 for bar in bars for part in bar):
        said.append(
            "The rest is below zero, because followers depart before the carrier ahead of them does: it is not drawn, "
            "and the bar reaches as far beyond its sum."
        )
    return [*said, *caution(evaluation.line, f"{run.runs} runs of {run.hours:g} h, seed {run.seed}")]


def _marks(cycle_s: float | None, takt_s: float | None, scale: _Scale) -> list[Mark]:
    marks = []
    if cycle_s is not None:
        told_words = f"line cycle of the rate, {cycle_s:.3f} s"
        marks.append(Mark(scale.px(cycle_s), f"line cycle of the rate {cycle_s:.3f} s", told_words))
    if takt_s is not None:
        marks.append(Mark(scale.px(takt_s), f"takt {takt_s:.3f} s", f"takt, {takt_s:.3f} s"))
    return marks


def _bars(
    bars: Sequence[Sequence[Part]],
    marks: Sequence[Mark],
    scale: _Scale,
    width_px: float,
    data: Datasets,
    text: Text,
    sum_s: float,
) -> tuple[list[Spec], float]:
    """Both bars with headings, scale, takt and names, from the top down; and the height they take. [px]"""
    layers: list[Spec] = []
    top = 0.0
    heights = (BAR_PX * text.size, KIND_PX * text.size)
    for number, (parts, high) in enumerate(zip(bars, heights, strict=True)):
        words = (
            "By kind, all places together" if number else f"By cause and place, the largest first, {sum_s:.3f} s in all"
        )
        layers.append(words_layer([(0.0, top + 0.5 * text.line_px, words)], data, text.px, fontWeight="bold"))
        top += 1.2 * text.line_px
        lines_from = 1.4 * text.small_px
        if not number:
            named, taken = comb(marks, top, width_px, data, text, upwards=True)
            layers += named
            top, lines_from = top + taken, 0.0
        layers += _ticks(scale, [mark.at_px for mark in marks], top, data, text)
        lines_from += top
        top += 1.8 * text.small_px
        places = [mark.at_px for mark in marks]
        drawn, taken = named_bar(_stretches(parts, scale), top, high, width_px, data, text, places)
        # A mark ends within the bar, so that no leader line below it looks like its end.
        layers += [*drawn, *_mark_lines(marks, lines_from, top + MARK_SHARE * high, data)]
        top += taken + text.line_px
    return layers, top - text.line_px


def _stretches(parts: Sequence[Part], scale: _Scale) -> list[Stretch]:
    found, reached_s = [], 0.0
    for part in parts:
        if part.time_s <= 0.0:
            continue
        fill = CAUSE_FILLS[part.kind] if part.kind else ""
        ends = scale.px(reached_s), scale.px(reached_s + part.time_s)
        told_words = f"{part.words} of the line cycle" if part.kind else f"{part.words} of the line cycle: all others"
        found.append(Stretch(*ends, part.words, told_words, fill))
        reached_s += part.time_s
    return found


def _ticks(scale: _Scale, kept_free: Sequence[float], foot: float, data: Datasets, text: Text) -> list[Spec]:
    """Seconds over a bar; a tick whose number is too near to a mark, which has its own, is left out with it."""
    step = round_step(scale.longest_s / 12.0)
    labels, rules = [], []
    for number in range(int(scale.longest_s / step + 1e-9) + 1):
        at = scale.px(number * step)
        words = f"{number * step:.6g} s"
        half = text_width_px(words, text.small_px) / 2
        if all(abs(at - one) > half + 4.0 for one in kept_free):
            rules.append({"x": at, "y": foot + 1.4 * text.small_px, "y2": foot + 1.8 * text.small_px})
            labels.append((max(at - half, 0.0), foot + 0.7 * text.small_px, words))
    rule = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
    return [
        layer(data.named(rules), "rule", {"color": INK, "strokeWidth": 0.8}, rule),
        words_layer(labels, data, text.small_px),
    ]


def _mark_lines(marks: Sequence[Mark], top: float, foot: float, data: Datasets) -> list[Spec]:
    """An upright line at each mark, edged in white so that it shows on a dark stretch too. [px]"""
    rows = data.named([{"x": mark.at_px, "y": top, "y2": foot, "name": mark.told} for mark in marks])
    place = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
    return [
        layer(rows, "rule", {"color": PAPER, "strokeWidth": 5}, place),
        layer(rows, "rule", {"color": INK, "strokeWidth": 2}, {**place, **told()}),
    ]


def _key(bars: Sequence[Sequence[Part]]) -> tuple[KeyEntry, ...]:
    used = {CAUSE_FILLS[part.kind] for bar in bars for part in bar if part.kind}
    entries = [fill_entry(name) for name in FILLS if name in used]
    entries.append(box("several small ones together", fill=PAPER, stroke=HUE, strokeWidth=0.8, strokeDash=[3, 2]))
    entries.append(stroke("line cycle of the rate, takt", (14.0, 1.0), (14.0, 19.0), color=INK, strokeWidth=2))
    return once(entries)
