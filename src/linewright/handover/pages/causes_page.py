"""What the rate is made of, on a page: the causes of the line cycle, what would help, the bounds, parallel stations."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any, Final

from linewright.evaluation import Evaluation
from linewright.handover.pages.answer import outside_bounds
from linewright.handover.wording import WIDTH, fields, heading, paragraph
from linewright.quantities import KEEP, number, percent, signed
from linewright.shares import rounded_shares

if TYPE_CHECKING:
    from linewright.flow.line_bounds import RateBounds
    from linewright.flow.parallel import ParallelStep
    from linewright.flow.run import Run
    from linewright.flow.statistics import Interval
    from linewright.planning.gains import Gains

# The sign of each kind of cause in the bar.
SIGNS: Final = {
    "work": "W",
    "repair": "R",
    "clock failure": "C",
    "prepare": "P",
    "clear": "c",
    "done handshake": "d",
    "start handshake": "s",
    "settling": "S",
    "reaction": "r",
    "exchange move": "X",
    "travel": "t",
    "transfer": "T",
    "changeover": "V",
    "operator": "O",
    "outside": "F",
    "break": "B",
}
# Rows of the table: so many that show at all; beyond them only what reaches the share; so many at most.
_LEAST_ROWS: Final = 5
_SHOWS: Final = 0.0005
_LEAST_SHARE: Final = 0.005
_MOST_ROWS: Final = 14
_BAR_WIDTH: Final = WIDTH - 2
_KIND_WIDTH: Final = 18
_PLACE_WIDTHS: Final = (24, 58)
_CHANGE_WIDTH: Final = 50
# What the bounds are called on the page, where they are left out.
_FIELDS: Final = {
    "carriers_per_h": "what so many carriers can make",
    "transfer_per_h": "what a transfer can make",
    "worst_per_h": "the least rate",
    "practical_worst_per_h": "yardsticks",
    "balanced_low_per_h": "yardsticks",
    "balanced_high_per_h": "yardsticks",
    "loop_s": "time round the loop",
}
# Parallel stations: a loss of speed that shows at two decimals, and a share of the parts that shows in the pace.
_NO_LOSS: Final = 0.005
_MUCH_MORE: Final = 1.05


def causes_lines(run: Run) -> list[str]:
    """What the line cycle is made of: a bar, its legend, and a table of the largest causes."""
    lines = heading("What the line cycle is made of")
    rows = run.cycle_causes.rows()
    if run.causes_cycle_s is None or not rows:
        return lines + paragraph("Not known: no run finishes two good parts after the warm-up.", "  ")
    whole = "" if run.line_cycle_s is None else " (the line cycle above counts the whole time)"
    lines += paragraph(
        f"{number(run.causes_cycle_s, 3)}{KEEP}s from one good part to the next{whole}. Followed back from the last "
        "good part, each event to the one that it waited for: there those seconds went. Shares rank the causes; what a "
        "change brings only a trial tells.",
        "  ",
    )
    by_kind: dict[str, float] = {}
    for row in rows:
        by_kind[row["kind"]] = by_kind.get(row["kind"], 0.0) + float(row["share"])
    return [*lines, "", f"  {_bar(by_kind)}", *_legend(by_kind), "", *_table(rows)]


def _bar(by_kind: dict[str, float]) -> str:
    """All kinds in one bar, the largest first, each by its sign; what is below zero has no place in it."""
    kinds = sorted((kind for kind in by_kind if by_kind[kind] > 0.0), key=lambda kind: -by_kind[kind])
    total = sum(by_kind[kind] for kind in kinds)
    ends, reached = [], 0.0
    for kind in kinds:
        reached += by_kind[kind]
        ends.append(round(_BAR_WIDTH * reached / total))
    starts = [0, *ends[:-1]]
    return "".join(SIGNS[kind] * (end - start) for kind, start, end in zip(kinds, starts, ends, strict=True))


def _legend(by_kind: dict[str, float]) -> list[str]:
    """Sign, kind and share of every kind that shows at one decimal; together they make 100."""
    kinds = sorted(by_kind, key=lambda kind: -by_kind[kind])
    shares = dict(zip(kinds, rounded_shares([by_kind[kind] for kind in kinds]), strict=True))
    words = [f"{SIGNS[kind]} {kind} {number(shares[kind], 1)} %".replace(" ", KEEP) for kind in kinds if shares[kind]]
    lines = paragraph(", ".join(words), "  ")
    if any(share < 0.0 for share in shares.values()):
        lines += paragraph("Below zero: followers that depart before the carrier ahead of them does.", "  ")
    return lines


def _table(rows: list[dict[str, Any]]) -> list[str]:
    """The largest causes, what is left, and the sum; the shares as printed add up to 100."""
    shown = largest_causes(rows)
    least, most = _PLACE_WIDTHS
    width = min(max(least, *(len(place) + 2 for _, place, _, _ in shown)), most)
    lines = [f"  {'cause':<{_KIND_WIDTH}}{'where':<{width}}{'s per part':>12}{'share':>10}"]
    for kind, place, time_s, share in shown:
        lines += _row(kind, place, time_s, share, width)
    together = sum(share for *_, share in shown)
    return lines + _row("together", "", sum(float(row["time_s"]) for row in rows), together, width)


def largest_causes(rows: list[dict[str, Any]]) -> list[tuple[str, str, float, float]]:
    """Kind, place, time per good part [s] and share [%] of the largest causes, and of all others in one row.

    Parameters
    ----------
    rows : of a run's `cycle_causes`, the largest first

    Returns
    -------
    list of tuple   The shares are rounded to a tenth so that they add up to 100.
    """
    least_shares = [_SHOWS if i < _LEAST_ROWS else _LEAST_SHARE for i in range(len(rows))]
    large = [i for i, row in enumerate(rows) if abs(row["share"]) >= least_shares[i]][:_MOST_ROWS]
    shown = [(row["kind"], row["place"], float(row["time_s"]), float(row["share"])) for row in (rows[i] for i in large)]
    rest = [row for i, row in enumerate(rows) if i not in large]
    if rest:
        words = f"{len(rest)} more"
        shown.append((words, "", sum(float(row["time_s"]) for row in rest), sum(float(row["share"]) for row in rest)))
    shares = rounded_shares([share for *_, share in shown])
    return [(kind, place, time_s, share) for (kind, place, time_s, _), share in zip(shown, shares, strict=True)]


def _row(kind: str, place: str, time_s: float, per_cent: float, width: int) -> list[str]:
    figures = f"{_decimals(time_s, 3):>12}{_decimals(per_cent, 1) + KEEP + '%':>10}"
    if len(place) < width:
        return [f"  {kind:<{_KIND_WIDTH}}{place:<{width}}{figures}"]
    blank = " " * (_KIND_WIDTH + 2)
    return [*paragraph(place, f"  {kind:<{_KIND_WIDTH}}", blank), f"{blank}{'':<{width}}{figures}"]


def _decimals(value: float, decimals: int) -> str:
    """A number that is never minus zero."""
    return number(round(value, decimals) + 0.0, decimals)


def gains_lines(gains: Gains | None) -> list[str]:
    """What would help: every change that was tried, with what it gained."""
    if gains is None:
        return []
    lines = heading("What would help")
    confirmed = [gain.confirmed for gain in gains.gains]
    marked = any(confirmed) and not all(confirmed)
    full = f"{gains.full_runs} runs of {gains.full_hours:.3g}{KEEP}h, as the rate itself"
    look = f"{gains.runs} runs of {gains.hours:.3g}{KEEP}h"
    if marked:
        look = f"Marked *: {full}; the others are a first look by {look}"
    elif any(confirmed):
        look = full
    lines += paragraph(
        "Each change alone, all else as it is, under the same luck: good parts per hour more (+) or fewer (-), with "
        f"the 95{KEEP}% interval. {look}. Of twenty such intervals one misses. Does nothing: less than a "
        "thousandth of the rate either way.",
        "  ",
    )
    if gains.gains:
        lines += ["", f"    {'change':<{_CHANGE_WIDTH}}{'gain':>10}{'low':>10}{'high':>10}"]
    for gain in gains.gains:
        figures = "".join(f"{signed(value):>10}" for value in (gain.per_h.mean, gain.per_h.low, gain.per_h.high))
        first, *others = textwrap.wrap(gain.change.words, _CHANGE_WIDTH - 1, break_on_hyphens=False)
        lines.append(f"  {'*' if marked and gain.confirmed else ' '} {first:<{_CHANGE_WIDTH}}{figures}  {gain.effect}")
        lines += [f"    {other}" for other in others]
    if not any(gain.effect == "gains" for gain in gains.gains):
        lines += paragraph("Nothing that was tried is sure to gain.", "    ")
    for words, why in gains.not_tried:
        lines += paragraph(f"not tried: {words}: {why}", "    ", "      ")
    return lines


def bounds_lines(evaluation: Evaluation) -> list[str]:
    """Between what the rate must lie, whatever happens, and where it lies."""
    run, bounds = evaluation.run, evaluation.bounds
    if run is None or bounds is None or run.rate is None:
        return []
    lines = heading("Bounds")
    if outside_bounds(evaluation) is not None:
        lines += paragraph("THE RATE LIES OUTSIDE ITS BOUNDS: see the top of the page.", "  ")
    return lines + fields(bounds_rows(run, run.rate, bounds))


def bounds_rows(run: Run, rate: Interval, bounds: RateBounds) -> list[tuple[str, str]]:
    """Labels and words of the bounds, with the rate between them.

    Parameters
    ----------
    run : of the line
    rate : of the run
    bounds : of the same line
    """
    rows = [
        ("at most", f"{number(bounds.upper_per_h, 1)} good parts per hour: {_what_binds(bounds)}"),
        (
            "simulated",
            f"{number(rate.mean, 1)}, {percent(rate.mean / bounds.upper_per_h)} of that{_edge(run, bounds)}",
        ),
    ]
    if bounds.practical_worst_per_h is not None and bounds.balanced_low_per_h is not None:
        yardsticks = (
            f"practical worst case {number(bounds.practical_worst_per_h, 1)}; balanced jobs "
            f"{number(bounds.balanced_low_per_h, 1)} to {number(bounds.balanced_high_per_h or 0.0, 1)}: of exponential "
            "times with room to wait everywhere; no bounds here"
        )
        rows.append(("yardsticks", yardsticks))
    if bounds.worst_per_h is not None:
        lowest = f"{number(bounds.worst_per_h, 1)}: every carrier alone, one thing after the other"
        rows.append(("at least", lowest if bounds.worst_holds else f"{lowest}; only if the line never locks"))
    if bounds.loop_s is not None:
        time_s = f"{number(bounds.loop_s, 1)}{KEEP}s"
        rows.append(("loop", f"{time_s} per good part for one carrier with nothing in its way"))
    for reason in sorted({why for _, why in bounds.left_out}):
        fields_out = [_FIELDS.get(name, "") for name, why in bounds.left_out if why == reason]
        words = ", ".join(dict.fromkeys(name for name in fields_out if name))
        if words:
            rows.append(("left out", f"{words}: {reason}"))
    return rows


def _edge(run: Run, bounds: RateBounds) -> str:
    """Why a rate may stand a hair above the bound."""
    if run.rate is None or run.rate.mean <= bounds.upper_per_h:
        return ""
    return ": where a run is cut, each carrier may count a part more, and failures may come seldom"


def _what_binds(bounds: RateBounds) -> str:
    return {
        "carriers": f"{bounds.carriers} carriers, none of which ever waits",
        "step": f"step {bounds.limiting_step} never starved, never blocked",
        "transfer": f"transfer {bounds.limiting_transfer} never without a carrier",
        "operators": f"the operators of {bounds.limiting_pool} always at work, their walks not counted",
    }[bounds.limit]


def parallel_lines(evaluation: Evaluation) -> list[str]:
    """What stations of one step in line gain, and why not more."""
    sentences = parallel_sentences(evaluation)
    lines = heading("Parallel stations in line") if sentences else []
    for words in sentences:
        lines += paragraph(words, "  ")
    return lines


def parallel_sentences(evaluation: Evaluation) -> list[str]:
    """Of each step with several stations in line what they gain, and why not more; empty where there is none."""
    if evaluation.plan is None or evaluation.run is None:
        return []
    from linewright.flow.parallel import parallel_steps

    times = {row["step"]: float(row["time_per_good_part_s"]) for row in evaluation.run.steps.rows()}
    parts = {row["station"]: int(row["parts"]) for row in evaluation.run.stations.rows()}
    steps = {step.name: step.stations for step in evaluation.line.route}
    found = parallel_steps(evaluation.plan)
    return [f"{one.step}: {_parallel_best(one)} {_parallel_in_run(one, times, parts, steps)}" for one in found]


def _parallel_best(one: ParallelStep) -> str:
    words = (
        f"one station takes {number(one.alone_s, 3)}{KEEP}s per part at least, {one.stations} in line take "
        f"{number(one.shared_s, 3)}{KEEP}s, {one.times:.2f} times as fast"
    )
    if one.times < one.stations - _NO_LOSS:
        return f"{words} and not {one.stations}: nobody passes, so carriers go in together and wait for the slowest."
    return f"{words}, if carriers always come {one.stations} together."


def _parallel_in_run(
    one: ParallelStep, times: dict[str, float], parts: dict[str, int], steps: dict[str, tuple[str, ...]]
) -> str:
    """What became of it in the run, and which station had more than its share."""
    names = steps[one.step]
    all_parts = sum(parts[name] for name in names)
    if not (all_parts and math.isfinite(times[one.step])):
        return "The run is too short to tell what became of it."
    shares = {name: parts[name] / all_parts for name in names}
    split = ", ".join(f"{name} {percent(share)}" for name, share in shares.items())
    words = f"In the run {number(times[one.step], 3)}{KEEP}s per good part; of the parts work {split}."
    busiest = max(names, key=lambda name: shares[name])
    if shares[busiest] * len(names) > _MUCH_MORE:
        words += f" {busiest} does more than its share, and sets the pace: carriers do not always come together."
    return words
