"""What the rate is made of, on a page: the causes of the line cycle, what would help, the bounds, parallel stations."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.handover.shares import rounded_shares
from linewright.handover.wording import KEEP, WIDTH, fields, heading, number, paragraph, percent

if TYPE_CHECKING:
    from linewright.flow.line_bounds import RateBounds
    from linewright.flow.run import Run
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
}
_LEAST_SHARE: Final = 0.005
_MOST_ROWS: Final = 14
_BAR_WIDTH: Final = WIDTH - 2


def causes_lines(run: Run) -> list[str]:
    """What the line cycle is made of: a bar, its legend, and a table of the largest causes."""
    lines = heading("What the line cycle is made of")
    rows = run.cycle_causes.rows()
    if run.causes_cycle_s is None or not rows:
        return lines + paragraph("Not known: no run finishes two good parts after the warm-up.", "  ")
    lines += paragraph(
        f"Between good parts lie {run.causes_cycle_s:.3f}{KEEP}s on average. The way back from the last good part, "
        "from each event to the one that it waited for, tells what passed in them. Shares rank; what a change brings, "
        "the next table says.",
        "  ",
    )
    by_kind: dict[str, float] = {}
    for row in rows:
        by_kind[row["kind"]] = by_kind.get(row["kind"], 0.0) + float(row["share"])
    lines += ["", f"  {_bar(by_kind)}"]
    kinds = sorted(by_kind, key=lambda kind: -by_kind[kind])
    shares = rounded_shares([max(by_kind[kind], 0.0) for kind in kinds])
    words = (f"{SIGNS[kind]} {kind} {number(share, 1)}{KEEP}%" for kind, share in zip(kinds, shares, strict=True))
    lines += [*paragraph(", ".join(word for word in words if not word.endswith(f" 0.0{KEEP}%")), "  "), ""]
    shown = [row for row in rows if row["share"] >= _LEAST_SHARE][:_MOST_ROWS]
    lines.append(f"  {'cause':<18}{'where':<24}{'s per part':>12}{'share':>10}")
    lines += [_row(row["kind"], row["place"], row["time_s"], row["share"]) for row in shown]
    left = len(rows) - len(shown)
    if left:
        lines.append(_row(f"{left} more", "", *(sum(row[key] for row in rows if row not in shown) for key in _SUMS)))
    total = sum(row["time_s"] for row in rows)
    return [*lines, _row("together", "", total, 1.0)]


_SUMS: Final = ("time_s", "share")


def _row(kind: str, place: str, time_s: float, share: float) -> str:
    where = place if len(place) < 24 else f"{place[:20]}..."
    return f"  {kind:<18}{where:<24}{number(time_s, 3):>12}{percent(share):>10}"


def _bar(by_kind: dict[str, float]) -> str:
    """All kinds in one bar, the largest first, each by its sign."""
    kinds = sorted((kind for kind in by_kind if by_kind[kind] > 0.0), key=lambda kind: -by_kind[kind])
    total = sum(by_kind[kind] for kind in kinds)
    ends, reached = [], 0.0
    for kind in kinds:
        reached += by_kind[kind]
        ends.append(round(_BAR_WIDTH * reached / total))
    starts = [0, *ends[:-1]]
    return "".join(SIGNS[kind] * (end - start) for kind, start, end in zip(kinds, starts, ends, strict=True))


def gains_lines(gains: Gains | None) -> list[str]:
    """What would help: every change that was tried, with what it gained."""
    if gains is None:
        return []
    lines = heading("What would help")
    lines += paragraph(
        f"Each change alone, the line otherwise as it is, under the same luck: {gains.runs} runs of "
        f"{number(gains.hours)}{KEEP}h, the changes marked * {gains.full_runs} of {number(gains.full_hours)}{KEEP}h. "
        "Good parts per hour more or less, with the 95 % interval of each (of twenty intervals one misses).",
        "  ",
    )
    lines += ["", f"  {'':<2}{'change':<50}{'gain':>10}{'low':>10}{'high':>10}"]
    for gain in gains.gains:
        figures = "".join(f"{_signed(value):>10}" for value in (gain.per_h.mean, gain.per_h.low, gain.per_h.high))
        star = "* " if gain.confirmed else "  "
        words = gain.change.words
        if len(words) < 50:
            lines.append(f"  {star}{words:<50}{figures}  {gain.effect}")
        else:
            lines += [f"  {star}{words}", f"  {'':<52}{figures}  {gain.effect}"]
    for words, why in gains.not_tried:
        lines += paragraph(f"not tried: {words}: {why}", "    ", "      ")
    return lines


def _signed(value: float) -> str:
    return f"{'+' if value >= 0.05 else ''}{number(value, 1)}"


def bounds_lines(evaluation: Evaluation) -> list[str]:
    """Between what the rate must lie, whatever happens, and where it lies."""
    run, bounds = evaluation.run, evaluation.bounds
    if run is None or bounds is None or run.rate is None:
        return []
    lines = heading("Bounds")
    outside = next((f for f in evaluation.findings if f.code == "rate-bounds" and f.verdict == "fails"), None)
    if outside is not None:
        lines += paragraph(f"THE RATE LIES OUTSIDE ITS BOUNDS. {outside.remedy}", "  ")
    yardsticks = (
        f"{number(bounds.practical_worst_per_h, 1)} practical worst case; balanced jobs "
        f"{number(bounds.balanced_low_per_h, 1)} to {number(bounds.balanced_high_per_h, 1)}: for memoryless times, "
        "no bounds here"
    )
    rows = [
        ("at most", f"{number(bounds.upper_per_h, 1)} good parts per hour: {_what_binds(bounds)}"),
        ("simulated", f"{number(run.rate.mean, 1)}, {percent(run.rate.mean / bounds.upper_per_h)} of that"),
        ("yardsticks", yardsticks),
    ]
    lowest = f"{number(bounds.worst_per_h, 1)}: every carrier alone, one thing after the other"
    rows.append(("at least", lowest if bounds.worst_holds else f"{lowest}; only if the line never locks"))
    rows.append(("loop", f"{number(bounds.loop_s, 1)}{KEEP}s per good part for one carrier with nothing in its way"))
    return lines + fields(rows)


def _what_binds(bounds: RateBounds) -> str:
    return {
        "carriers": f"{bounds.carriers} carriers, none of which ever waits",
        "step": f"step {bounds.limiting_step} never starved, never blocked",
        "transfer": f"transfer {bounds.limiting_transfer} never without a carrier",
    }[bounds.limit]


def parallel_lines(evaluation: Evaluation) -> list[str]:
    """What stations of one step in line gain, and why not more."""
    if evaluation.plan is None or evaluation.run is None:
        return []
    from linewright.flow.parallel import parallel_steps

    found = parallel_steps(evaluation.plan)
    if not found:
        return []
    times = {row["step"]: float(row["time_per_good_part_s"]) for row in evaluation.run.steps.rows()}
    parts = {row["station"]: int(row["parts"]) for row in evaluation.run.stations.rows()}
    steps = {step.name: step.stations for step in evaluation.line.route}
    lines = heading("Parallel stations in line")
    for one in found:
        all_parts = max(sum(parts[name] for name in steps[one.step]), 1)
        split = ", ".join(f"{name} {percent(parts[name] / all_parts)}" for name in steps[one.step])
        lines += paragraph(
            f"{one.step}: one station would take {one.alone_s:.3f}{KEEP}s per part at least, {one.stations} in step "
            f"take {one.shared_s:.3f}{KEEP}s: {one.times:.2f} times as fast, not {one.stations}, because nobody passes "
            "and a group that goes in together waits for its slowest. A carrier that comes alone takes the far "
            "station and the next one works late: then the near one does more than its share, and limits. In the run "
            f"{times[one.step]:.3f}{KEEP}s per part, of which {split}.",
            "  ",
        )
    return lines
