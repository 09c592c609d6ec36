"""The page that ``rate`` prints: plain text, the answer first, nothing on it that needs colour."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.findings import WORST_FIRST, Finding, counts_sentence, worst_first
from linewright.flow.causes import MAIN_SHARE, UNEXPLAINED_SHARE, MainCause, main_cause
from linewright.handover.assumptions import CAUTION, assumptions, losses_simulated
from linewright.handover.pages.answer import outside_bounds, rate_verdict
from linewright.handover.pages.causes_page import bounds_lines, causes_lines, gains_lines, parallel_lines
from linewright.handover.subjects import MUST_BE_CHECKED, SubjectRows, by_subject, must_be_checked
from linewright.handover.wording import TAG_WIDTH, TAGS, WIDTH, fields, figures, finding_lines, heading, page, paragraph
from linewright.line.demand import TaktResult
from linewright.line.model import Demand, Line
from linewright.quantities import KEEP, counted, joined, number, percent
from linewright.shares import rounded_shares
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.flow.run import Run
    from linewright.flow.statistics import Interval
    from linewright.planning.gains import Gains

# Column of the station table -> heading on the page, in the order in which a state takes precedence.
STATES: Final = {
    "down_share": "down",
    "work_share": "work",
    "clear_share": "clear",
    "done_handshake_share": "handshake",
    "blocked_share": "blocked",
    "partner_share": "partner",
    "settling_share": "settling",
    "prepare_share": "prepare",
    "exchange_share": "exchange",
    "starved_share": "starved",
}
# States that only lines with such features have, shown where any station has them.
MORE_STATES: Final = {
    "changeover_share": ("changeover", "changeover: to another variant, or waiting for the last to run out."),
    "operator_share": ("operator", "operator: a carrier waits for one, or for being released."),
    "outside_share": ("outside", "outside: waits for a part from the feed or for room in the take-away."),
    "break_share": ("break", "break: a carrier waits for its end."),
}
OPERATORS_REST: Final = "The rest is walking, waiting for a call, and breaks. Releasing counts as work."
STATES_LEGEND: Final = (
    "handshake: tool clear, release not yet given. blocked: a carrier is ready, its way on is taken; partner: taken by "
    "one at a station of the same step. settling: start handshake included. prepare: a carrier waits for the tool. "
    "exchange: empty, the next carrier has set out. starved: empty, none has."
)
_NAME_WIDTH: Final = 15
_BAR_WIDTH: Final = 50
# Rows of these subjects stand here with their counts and what is wrong alone: the rate does not hang on them.
_IN_SHORT: Final = ("strength", "accuracy", "power", "bus", "safety", "upkeep")


def rate_page(evaluation: Evaluation, gains: Gains | None = None) -> str:
    """The whole answer on one page of text, at most 100 columns wide.

    Parameters
    ----------
    evaluation : with or without a run
    gains : what would help, where it was tried

    Returns
    -------
    str   Ends with a newline; holds no control characters but newlines.
    """
    lines = title(evaluation.line.name) + _verdict(evaluation) + _demand(evaluation)
    if evaluation.run is not None:
        lines += _rate(evaluation, evaluation.run) + _limiting(evaluation, evaluation.run)
        lines += causes_lines(evaluation.run) + gains_lines(gains) + bounds_lines(evaluation)
        lines += _steps(evaluation, evaluation.run) + parallel_lines(evaluation) + _stations(evaluation.run)
        lines += _operators(evaluation.line, evaluation.run)
    lines += _findings(evaluation) + assumption_lines(evaluation, gains is not None) + _ending(evaluation)
    return page(lines)


def title(name: str) -> list[str]:
    """The line's name, underlined across the page."""
    return [*paragraph(name), "=" * WIDTH]


def assumption_lines(evaluation: Evaluation, tried: bool = False) -> list[str]:
    """What the result rests on, one dash a row, and the caution."""
    lines = heading("What this rests on")
    for row in assumptions(evaluation, tried):
        lines += paragraph(row, "- ", "  ")
    return lines + ["", *paragraph(f"CAUTION. {CAUTION}")]


def _verdict(evaluation: Evaluation) -> list[str]:
    lines = paragraph(first_sentence(evaluation))
    sentence = confidence_sentence(evaluation)
    lines += paragraph(sentence) if sentence else []
    others = other_checks_sentence(evaluation)
    lines += paragraph(f"{others}: see the findings.") if others else []
    counts = counts_sentence(evaluation.findings)
    if any(finding.verdict == "not checked" for finding in evaluation.findings):
        counts += " What is not checked nobody has looked at."
    binding = must_be_checked(evaluation.findings)
    if binding:
        of = joined(MUST_BE_CHECKED)
        counts += (
            f" Of {of} that is {counted(len(binding), 'row')}: linewright check LINE --run "
            "names what is missing, and exits with 1 until it is there; rate does not."
        )
    return lines + paragraph(counts)


def other_checks_sentence(evaluation: Evaluation) -> str:
    """How many checks fail beside that of the rate, without a full stop; empty where none does."""
    fails = sum(1 for f in evaluation.findings if f.verdict == "fails" and f.code not in ("rate", "rate-bounds"))
    if not fails:
        return ""
    but = "BUT " if rate_verdict(evaluation) == "holds" else ""
    return f"{but}{fails} OTHER {'CHECK FAILS' if fails == 1 else 'CHECKS FAIL'}"


def first_sentence(evaluation: Evaluation) -> str:
    """Whether the line makes its takt, as every paper says it."""
    run = evaluation.run
    if outside_bounds(evaluation) is not None:
        return "DO NOT USE THIS RATE: IT LIES OUTSIDE BOUNDS THAT ALWAYS HOLD."
    if run is not None and run.stalled_runs:
        return f"NO: THE LINE STANDS STILL IN {run.stalled_runs} OF {run.runs} RUNS. Its rate means nothing."
    if evaluation.takt is None:
        return "NO TAKT TO JUDGE BY: the line file states no demand."
    if run is None or run.rate is None:
        reason = next(f.remedy for f in evaluation.findings if f.code == "rate")
        return f"NOT CHECKED: whether the line makes its takt is not known; {reason}."
    return {
        "holds": "YES: THE LINE MAKES ITS TAKT.",
        "fails": "NO: THE LINE DOES NOT MAKE ITS TAKT.",
        "tight": "UNDECIDED: THE LINE MAY OR MAY NOT MAKE ITS TAKT.",
        "not checked": "NOT CHECKED: whether the line makes its takt is not known.",
    }[rate_verdict(evaluation)]


def confidence_sentence(evaluation: Evaluation) -> str:
    """Between what the rate lies, and where that is beside what is required; empty without a rate."""
    run, takt, outside = evaluation.run, evaluation.takt, outside_bounds(evaluation)
    if run is None or run.rate is None:
        return ""
    if outside is not None:
        return f"{outside.remedy[0].upper()}{outside.remedy[1:]}."
    rate = run.rate
    made = (
        f"With {percent(rate.confidence, 0)} confidence its average rate lies between {number(rate.low, 1)} and "
        f"{number(rate.high, 1)} good parts per hour"
    )
    if takt is None:
        return f"{made}."
    place = {"holds": "wholly at or above", "fails": "wholly below", "tight": "on both sides of"}[
        rate_verdict(evaluation)
    ]
    return f"{made}: {place} the {number(takt.required_rate_per_h, 1)} per hour that the demand requires."


def _demand(evaluation: Evaluation) -> list[str]:
    demand, takt = evaluation.line.demand, evaluation.takt
    if demand is None or takt is None:
        return heading("Demand and takt") + paragraph("None stated: add the key demand to the line file.", "  ")
    return heading("Demand and takt") + fields(demand_rows(evaluation, demand, takt))


def demand_rows(evaluation: Evaluation, demand: Demand, takt: TaktResult) -> list[tuple[str, str]]:
    """Labels and words of what the demand asks for, and of the losses in the takt and in the run.

    Parameters
    ----------
    evaluation : of a line
    demand, takt : of the same line
    """
    planned_h = takt.planned_time_s / 3600.0
    clock_h = 24.0 * demand.days_per_year
    shifts = f"{counted(demand.shifts_per_day, 'shift')} a day of {number(demand.paid_time_per_shift_s / 3600)}{KEEP}h"
    clock = f"{percent(takt.clock_share)} of the {number(clock_h, 1)} clock hours of those days"
    losses = f"{percent(demand.losses_not_modelled)} of planned time (losses_not_modelled)"
    usable_h = takt.usable_time_s / 3600.0
    required = number(takt.required_rate_per_h, 1)
    return [
        ("takt", f"{takt.takt_s:.3f}{KEEP}s, that is {required} good parts per usable hour"),
        ("demand", f"{number(demand.good_parts_per_year)} good parts a year"),
        ("planned time", f"{shifts} on {counted(demand.days_per_year, 'day')}: {number(planned_h, 1)}{KEEP}h a year"),
        ("against the clock", f"{clock}; {number(clock_h - planned_h, 1)}{KEEP}h are not planned"),
        ("losses in the takt", f"{losses}, which leaves {number(usable_h, 1)} usable hours a year"),
        ("losses in the run", f"{losses_simulated(evaluation.line)}; not taken off the takt again"),
    ]


def _rate(evaluation: Evaluation, run: Run) -> list[str]:
    warning = "" if outside_bounds(evaluation) is None else "DO NOT USE: "
    rows = [("rate", f"no interval: {run.reason}" if run.rate is None else f"{warning}{interval_words(run, run.rate)}")]
    if run.line_cycle_s is not None:
        against = against_takt(evaluation, run.line_cycle_s)
        rows.append(("line cycle", f"{run.line_cycle_s:.3f}{KEEP}s per good part{against}"))
    if run.short_halts is not None:
        halts = run.short_halts
        words = f"{number(halts.per_part, 2)} per good part, which cost the carriers {number(halts.lost_s, 3)}{KEEP}s"
        rows.append(("short halts", words))
    return heading("Rate") + fields(rows)


def interval_words(run: Run, rate: Interval) -> str:
    """The rate of a run with its interval."""
    return (
        f"{number(rate.mean, 1)} good parts per hour, {percent(rate.confidence, 0)} interval {number(rate.low, 1)} to "
        f"{number(rate.high, 1)}, from {run.runs} runs"
    )


def against_takt(evaluation: Evaluation, time_s: float) -> str:
    """How far a time per good part lies from the takt, to stand behind it; empty without a demand."""
    if evaluation.takt is None:
        return ""
    takt_s = evaluation.takt.takt_s
    word = "more" if time_s > takt_s else "less"
    return f", {abs(time_s - takt_s):.3f}{KEEP}s {word} than the takt of {takt_s:.3f}{KEEP}s"


def _limiting(evaluation: Evaluation, run: Run) -> list[str]:
    lines = heading("Limiting station")
    for sentence in limiting_sentences(evaluation, run):
        lines += paragraph(sentence, "  ")
    return lines


def limiting_sentences(evaluation: Evaluation, run: Run) -> list[str]:
    """What limits the line and by how much; where that is not what the line cycle waits for, what to look at.

    Parameters
    ----------
    evaluation, run : of a line, and its run
    """
    if run.limiting is None:
        return ["None can be named: without an interval the start would count too, or the route has one step."]
    limiting = run.limiting
    words = (
        f"{limiting.step}: {limiting.time_s:.3f}{KEEP}s per good part, {limiting.by_s:.3f}{KEEP}s more than the next, "
        f"{limiting.next_step}."
    )
    slow = _slow_transfers(evaluation, limiting.time_s)
    nothing = "No station and no transfer" if slow else "No station"
    waits = _unexplained(run, max([limiting.time_s, *slow.values()]), nothing)
    told = [
        f"{name.upper()} takes {time_s:.3f}{KEEP}s per good part at best, more than any step."
        for name, time_s in slow.items()
    ]
    words = " ".join([*told, f"Of the steps the longest is {words}"]) if slow else words
    main = _elsewhere(run, limiting.step)
    if main is None:
        return [words, *waits]
    but = (
        f"BUT {percent(main.share)} of the line cycle passes at {main.name}: look at the causes below before you speed "
        f"up {limiting.step}."
    )
    return [words, *waits, but]


def _elsewhere(run: Run, limiting: str) -> MainCause | None:
    """The step or transfer where most of the line cycle passes, if that is much and not at the limiting step."""
    main = main_cause(run.cycle_causes, run.stations)
    return main if main is not None and main.share >= MAIN_SHARE and main.name != limiting else None


def _slow_transfers(evaluation: Evaluation, station_s: float) -> dict[str, float]:
    """A transfer is no station, but it limits the line as one does where it takes longer per good part than any."""
    return {
        finding.where: finding.value
        for finding in evaluation.findings
        if finding.code == "transfer-cycle" and finding.value is not None and finding.value > station_s
    }


def _unexplained(run: Run, longest_s: float, nothing: str) -> list[str]:
    """Where even the longest step or transfer is far under the line cycle, none of them limits the line."""
    if run.line_cycle_s is None or longest_s >= UNEXPLAINED_SHARE * run.line_cycle_s:
        return []
    words = (
        f"{nothing} limits the line: the longest explains {longest_s:.3f}{KEEP}s of a line cycle of "
        f"{run.line_cycle_s:.3f}{KEEP}s. The rest is waiting: too few carriers, uneven times with little room to wait, "
        "failures elsewhere, or the way between stations. The causes below tell more."
    )
    return [words]


def _steps(evaluation: Evaluation, run: Run) -> list[str]:
    """Seconds per good part of every step as bars of one scale, with a mark at the takt."""
    times = [float(time_s) for time_s in run.steps["time_per_good_part_s"]]
    takt_s = None if evaluation.takt is None else evaluation.takt.takt_s
    top = max([time_s for time_s in times if time_s == time_s] + ([takt_s] if takt_s else []), default=0.0)
    mark = "" if takt_s is None else "; | stands at the takt"
    lines = heading("Steps")
    lines += paragraph(f"Seconds per good part, waiting for neighbours left out, parallel stations shared{mark}.", "  ")
    marks = step_marks(evaluation, run)
    for row, time_s in zip(run.steps.rows(), times, strict=True):
        mark_at = marks.get(str(row["step"]), "")
        tail = f"  <- {mark_at}" if mark_at else ""
        lines += _named(str(row["step"]), f"{number(time_s, 3):>9}  {_bar(time_s, takt_s, top)}{tail}", 22)
    return lines


def step_marks(evaluation: Evaluation, run: Run) -> dict[str, str]:
    """Which step limits; where none does, or most of the line cycle passes elsewhere, which is only the longest."""
    limiting = run.limiting
    if limiting is None:
        return {}
    main = _elsewhere(run, limiting.step)
    if main is not None:
        return {limiting.step: "longest", main.name: "main cause"}
    limits = not _slow_transfers(evaluation, limiting.time_s) and not _unexplained(run, limiting.time_s, "")
    return {limiting.step: "limits" if limits else "longest"}


def _bar(time_s: float, takt_s: float | None, top: float) -> str:
    if time_s != time_s or top <= 0.0:
        return ""
    filled = round(_BAR_WIDTH * time_s / top)
    signs = ["#"] * filled + [" "] * (_BAR_WIDTH + 1 - filled)
    if takt_s is not None:
        signs[round(_BAR_WIDTH * takt_s / top)] = "|"
    return "".join(signs)


def _stations(run: Run) -> list[str]:
    """Shares of time in per cent: in a row every state stands once, and the row adds up to 100."""
    more = {column: words for column, words in MORE_STATES.items() if run.stations[column].any()}
    blocks = [STATES, {column: word for column, (word, _) in more.items()}] if more else [STATES]
    lines = heading("Stations")
    together = " the two tables together" if more else ""
    lines += paragraph(
        f"Share of time after the warm-up, in %; each row adds up to 100{together}. --json has the indicators.", "  "
    )
    for number_of, block in enumerate(blocks):
        last = number_of == len(blocks) - 1
        lines += [""] if number_of else []
        lines += _shares(run, [column for one in blocks for column in one], block, last)
    return lines + paragraph(" ".join([STATES_LEGEND, *(words for _, words in more.values())]), "  ")


def _operators(line: Line, run: Run) -> list[str]:
    """How much of their time each pool's operators work; the rest is walking and waiting for a call."""
    if not line.operators:
        return []
    return heading("Operators") + fields(operator_rows(line, run)) + paragraph(OPERATORS_REST, "  ")


def operator_rows(line: Line, run: Run) -> list[tuple[str, str]]:
    """Of each pool of operators its name and how much of their time they work.

    Parameters
    ----------
    line, run : a line and its run
    """
    window_s = run.hours * 3600.0 - run.warm_up_s
    rows = []
    for pool in line.operators:
        busy_s = 0.0
        for row in run.stations.rows():
            station = line.station(str(row["station"]))
            if station.name not in pool.stations:
                continue
            if station.work == "manual":
                busy_s += (row["work_share"] + row["down_share"]) * window_s
            nests = 1 if line.fixture is None else line.fixture.nests
            busy_s += (station.release_s or 0.0) * row["parts"] / nests / run.runs
        share = percent(busy_s / (pool.operators * window_s))
        rows.append((pool.name, f"{pool.operators} for {', '.join(pool.stations)}: {share} of their time at work"))
    return rows


def _shares(run: Run, states: list[str], block: dict[str, str], last: bool) -> list[str]:
    """A table of some of the states, the sum of all of them behind the last."""
    widths = {column: max(6, len(word) + 1) for column, word in block.items()}
    head = "".join(f"{word:>{widths[column]}}" for column, word in block.items())
    lines = [f"{'station':<{_NAME_WIDTH}}{head}{'sum' if last else '':>6}".rstrip()]
    for row in run.stations.rows():
        shares = dict(zip(states, rounded_shares([row[column] for column in states]), strict=True))
        cells = "".join(f"{number(shares[column], 1):>{width}}" for column, width in widths.items())
        total = f"{number(sum(shares.values()), 1):>6}" if last else ""
        lines += _named(str(row["station"]), f"{cells}{total}", _NAME_WIDTH)
    return lines


def _named(name: str, rest: str, width: int) -> list[str]:
    """A row under its name; a name that is too long has a line for itself."""
    if len(name) < width:
        return [f"{name:<{width}}{rest}"]
    return [*paragraph(name), " " * width + rest]


def _findings(evaluation: Evaluation) -> list[str]:
    """All findings of the rate, the track and the motion that ask for something, worst first, and those that hold by
    their names; of the other subjects the counts and what fails or is tight."""
    lines, units = heading("Findings, worst first"), evaluation.line.units
    whole = tuple(finding for finding in evaluation.findings if finding.subject not in _IN_SHORT)
    for finding in worst_first(whole):
        if finding.verdict != "holds":
            lines += finding_lines(finding, units)
    held = Counter(finding.code for finding in whole if finding.verdict == "holds")
    if held:
        words = ", ".join(code if count == 1 else f"{code} ({count})" for code, count in sorted(held.items()))
        lines += paragraph(words, f"{TAGS['holds']:<{TAG_WIDTH}}", " " * TAG_WIDTH)
    others = by_subject(tuple(finding for finding in evaluation.findings if finding.subject in _IN_SHORT))
    for one in others:
        lines += _in_short(one, units)
    return lines + (paragraph("linewright check LINE --run has these rows whole, and what to do.") if others else [])


def _in_short(one: SubjectRows, units: str) -> list[str]:
    """A subject on one line, and a line or two for each of its rows that fails or is tight."""
    words = {"fails": "FAIL", "not checked": "NOT CHECKED", "tight": "TIGHT", "holds": "hold"}
    counts = [f"{one.count(verdict)}{KEEP}{words[verdict]}" for verdict in WORST_FIRST if one.count(verdict)]
    lines = paragraph(", ".join(counts), f"{one.subject:<{TAG_WIDTH}}")
    for finding in one.findings:
        if finding.verdict in ("fails", "tight"):
            lines += paragraph(_row(finding, units), f"  {TAGS[finding.verdict]:<{TAG_WIDTH - 2}}", " " * TAG_WIDTH)
    return lines


def _row(finding: Finding, units: str) -> str:
    told = figures(finding, units)
    return f"{finding.code}: {finding.where}" + (f": {told}" if told else "")


def _ending(evaluation: Evaluation) -> list[str]:
    return ["", *paragraph(signature(evaluation))]


def signature(evaluation: Evaluation) -> str:
    """What a reader needs to make the same page again: program, seed and hash of the input."""
    seed = "" if evaluation.run is None else f", seed {evaluation.run.seed}"
    return f"Linewright {__version__}{seed}, input {evaluation.line.input_hash}"
