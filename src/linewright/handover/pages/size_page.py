"""The page that ``size`` prints: how many carriers to buy and why, then the rate over their number."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Final

from linewright.evaluation import evaluate_without_run
from linewright.flow.statistics import Interval
from linewright.handover.assumptions import CAUTION, assumptions
from linewright.handover.pages.rate_page import title
from linewright.handover.wording import fields, heading, page, paragraph
from linewright.planning.choices import NEAR
from linewright.planning.size import CountRow, Sizing
from linewright.planning.waiting_stops import WaitingStops
from linewright.quantities import number, percent, signed
from linewright.version import __version__

_BAR_WIDTH: Final = 19
_SETTER_WIDTH: Final = 12
_BEFORE_WIDTH: Final = 24
# A warm-up of more than this share of a run is worth a word.
MUCH_WARM_UP: Final = 0.2


def size_page(sizing: Sizing) -> str:
    """The whole answer on one page of text, at most 100 columns wide.

    Parameters
    ----------
    sizing : of a line

    Returns
    -------
    str   Ends with a newline; holds no control characters but newlines.
    """
    lines = title(sizing.line.name) + _answer(sizing) + _results(sizing) + _table(sizing) + _stops(sizing)
    lines += heading("What this rests on")
    for row in size_assumptions(sizing):
        lines += paragraph(row, "- ", "  ")
    lines += ["", *paragraph(f"CAUTION. {CAUTION}"), ""]
    lines += paragraph(f"Linewright {__version__}, seed {sizing.seed}, input {sizing.line.input_hash}")
    return page(lines)


def size_assumptions(sizing: Sizing) -> tuple[str, ...]:
    """What the result rests on, one sentence or two each, the weightiest first."""
    bare = evaluate_without_run(sizing.line)
    length = (
        f"Simulated: {sizing.runs} {'run' if sizing.runs == 1 else 'runs'} of {number(sizing.hours)} h for each count, "
        f"seed {sizing.seed}, all under the same luck: run 1 of every count meets the same work times, failures and "
        "rejects, and so on, so that counts are compared run by run. "
    )
    if sizing.choices.reason is not None:
        length += "No warm-up could be judged, so nothing is left out."
    elif sizing.line.calendar is not None:
        left = (
            f"{number(sizing.warm_up_s / 3600)} h, the first shift of each, are" if sizing.warm_up_s else "nothing is"
        )
        length += f"Whole shifts, of which {left} left out."
    else:
        length += (
            f"The first {number(sizing.warm_up_s / 60, 1)} min of each are warm-up and left out, one warm-up for all "
            "counts, so that they are compared over the same time; rate judges that for its one count."
        )
        if sizing.warm_up_s > MUCH_WARM_UP * sizing.hours * 3600.0:
            length += (
                " That is more than a fifth of every run: a long repair looks like a start to it. More runs (--runs) "
                "judge it better."
            )
    picked = (
        "An interval holds for its own row. The largest of many means was picked because it is large, so the plateau "
        "may be a little lower than it looks."
    )
    start = "Each run starts with all its carriers empty and queued up to the first station, every tool ready."
    judged = (
        "Only the rate is judged here: linewright check and rate, with the count written into the line file, say "
        "whether all else holds."
    )
    return (*assumptions(bare), judged, length, picked, start)


def advised_count(sizing: Sizing) -> int | None:
    """The number of carriers that the page advises: the fewest that meet the takt, with one out where that is known;
    without such a count the fewest within 0.5 % of the plateau; None where no rate is known."""
    choices = sizing.choices
    if choices.smallest_meeting_takt is not None:
        return choices.smallest_meeting_takt_one_out or choices.smallest_meeting_takt
    return None if choices.smallest_near is None else choices.smallest_near.carriers


def counts_text(counts: Iterable[int]) -> str:
    """Numbers with their runs drawn together.

    Examples
    --------
    >>> counts_text((3, 4, 5, 7, 9, 10))
    '3 to 5, 7, 9, 10'
    """
    ordered = list(counts)
    breaks = [0, *(i + 1 for i, (a, b) in enumerate(pairwise(ordered)) if b != a + 1), len(ordered)]
    words = []
    for start, end in pairwise(breaks):
        part = ordered[start:end]
        words += [f"{part[0]} to {part[-1]}"] if len(part) > 2 else [str(count) for count in part]
    return ", ".join(words)


# ---- the answer ------------------------------------------------------------------------------------------------------


def _answer(sizing: Sizing) -> list[str]:
    lines: list[str] = []
    wrong = [row.carriers for row in sizing.counts if row.above_bounds]
    if wrong:
        lines += paragraph(
            f"SOMETHING IS WRONG: with {counts_text(wrong)} carriers the simulated rate lies above what the line could "
            "make if nothing ever failed, which cannot be. Do not use this page; report it with the line file."
        )
    choices = sizing.choices
    if choices.plateau is None:
        return lines + paragraph(f"NOT CHECKED: how many carriers are enough is not known; {choices.reason}.")
    if sizing.required_rate_per_h is None:
        lines += _answer_without_takt(sizing)
    elif choices.smallest_meeting_takt is not None:
        lines += _answer_met(sizing, choices.smallest_meeting_takt)
    else:
        lines += _answer_not_met(sizing)
    return lines + paragraph(_file_sentence(sizing))


def _answer_without_takt(sizing: Sizing) -> list[str]:
    near = sizing.choices.smallest_near
    assert near is not None
    lines = paragraph(f"{near.carriers} CARRIERS GIVE ALL THE RATE THERE IS TO HAVE{_among(sizing)}.")
    return lines + paragraph(_enough_sentence(sizing) + " No takt to judge by: the line file states no demand.")


def _answer_met(sizing: Sizing, fewest: int) -> list[str]:
    row = sizing.row(fewest)
    assert row is not None
    assert row.rate is not None
    assert sizing.required_rate_per_h is not None
    spare = sizing.choices.smallest_meeting_takt_one_out
    lines = paragraph(
        f"BUY {spare or fewest} CARRIERS: {fewest} {_are(fewest)} THE FEWEST THAT MEET THE TAKT{_among(sizing)}"
        f"{', AND ONE MAY BE OUT.' if spare else '.'}"
    )
    words = (
        f"With {fewest} the average rate lies between {number(row.rate.low, 1)} and {number(row.rate.high, 1)} good "
        f"parts per hour with {percent(row.rate.confidence, 0)} confidence; the demand requires "
        f"{number(sizing.required_rate_per_h, 1)}."
    )
    if spare is None:
        words += " With one carrier out no count looked at is shown to meet it."
    elif spare > fewest + 1:
        words += f" With {spare} it still meets the takt while one carrier is out."
    return lines + paragraph(f"{words} {_enough_sentence(sizing)}")


def _answer_not_met(sizing: Sizing) -> list[str]:
    plateau = sizing.choices.plateau
    assert plateau is not None
    assert sizing.required_rate_per_h is not None
    first, last = sizing.counts[0].carriers, sizing.counts[-1].carriers
    span = f"FROM {first} TO {last}" if last > first else f"({first})"
    if sizing.choices.all_fail:
        lines = paragraph(f"NO NUMBER OF CARRIERS {span} MEETS THE TAKT.")
    else:
        lines = paragraph(f"UNDECIDED: NO NUMBER OF CARRIERS {span} IS SHOWN TO MEET THE TAKT.")
    words = (
        f"The most is {_rate(plateau.rate)} good parts per hour, with {plateau.carriers}; the demand requires "
        f"{number(sizing.required_rate_per_h, 1)}."
    )
    row = sizing.row(plateau.carriers)
    if row is not None and not plateau.at_end:
        words += f" Carriers are not what is lacking: {row.limiting_step} takes the most time per good part."
    if not sizing.choices.all_fail:
        words += " Longer or more runs may decide it."
    return lines + paragraph(f"{words} {_enough_sentence(sizing)}")


def _enough_sentence(sizing: Sizing) -> str:
    plateau, near = sizing.choices.plateau, sizing.choices.smallest_near
    assert plateau is not None
    assert near is not None
    limit = min(sizing.most_fit, sizing.most_on_sheet or sizing.most_fit)
    if near.carriers == sizing.counts[-1].carriers < limit:
        return f"The rate still rises at the last count looked at: look further with --to (at most {limit})."
    if near.carriers == plateau.carriers:
        return f"Of the counts looked at {plateau.carriers} give the most."
    return f"More than {near.carriers} carriers give no more: with them the rate is within 0.5 % of the most."


def _file_sentence(sizing: Sizing) -> str:
    mine, advised, sheet = sizing.line.carriers, advised_count(sizing), sizing.most_on_sheet
    words = f"The line file has {mine}"
    if advised is not None and mine != advised:
        words += f": {abs(mine - advised)} {'more' if mine > advised else 'fewer'} than that"
    if advised is not None and sheet is not None and advised > sheet:
        words += f". BUT THE SHEET ALLOWS NO MORE THAN {sheet}"
    return f"{words}."


def _among(sizing: Sizing) -> str:
    """Said where the answer is the first count that was looked at, so that fewer might do."""
    first = sizing.counts[0].carriers
    return " OF THOSE LOOKED AT" if _fewest(sizing) == first and first > 1 else ""


def _fewest(sizing: Sizing) -> int | None:
    """The fewest carriers on which the advice rests, before one is added for repair."""
    choices = sizing.choices
    if choices.smallest_meeting_takt is not None:
        return choices.smallest_meeting_takt
    return None if choices.smallest_near is None else choices.smallest_near.carriers


def _are(count: int) -> str:
    return "IS" if count == 1 else "ARE"


# ---- the named results -----------------------------------------------------------------------------------------------


def _results(sizing: Sizing) -> list[str]:
    choices = sizing.choices
    rows: list[tuple[str, str]] = []
    if choices.plateau is not None and choices.smallest_near is not None:
        plateau, near = choices.plateau, choices.smallest_near
        as_good = counts_text(plateau.counts)
        rows.append(("plateau", f"{_rate(plateau.rate)} per hour with {plateau.carriers} carriers; as good: {as_good}"))
        words = f"{near.carriers} carriers: {_change(near.difference)} per hour against the plateau"
        if near.by_mean != near.carriers:
            words += f"; {near.by_mean} by the mean alone, which more runs may confirm"
        rows.append(("within 0.5 % of it", words))
    rows += [
        ("meets the takt", _takt_words(sizing)),
        ("one carrier out", _one_out_words(sizing)),
        ("blocking begins", _onset_words(sizing)),
        ("fewer give more", _lower_words(sizing)),
        ("most that fit", _fit_words(sizing)),
    ]
    stalled = [row for row in sizing.counts if row.stalled_runs]
    if stalled:
        worst = max(stalled, key=lambda row: row.stalled_runs)
        words = (
            f"with {counts_text(row.carriers for row in stalled)} carriers: with {worst.carriers}, "
            f"{worst.stalled_runs} of {sizing.runs} runs finish no good part in their last quarter. The line may have "
            "locked up (no carrier can move any more), or a repair is long."
        )
        rows.append(("STANDS STILL", words))
    return heading("Results") + fields(rows)


def _takt_words(sizing: Sizing) -> str:
    choices = sizing.choices
    if sizing.required_rate_per_h is None:
        return "no takt: the line file states no demand"
    if choices.reason is not None:
        return "not known"
    if choices.smallest_meeting_takt is None:
        return "no count: none has its whole 95 % interval at or above the required rate"
    spare = choices.smallest_meeting_takt_one_out
    words = f"{choices.smallest_meeting_takt} carriers, the fewest with their whole 95 % interval at or above it"
    return words + (f"; {spare} if one may be out" if spare is not None else "; with one out no count is shown to")


def _one_out_words(sizing: Sizing) -> str:
    one, mine = sizing.choices.one_out, sizing.line.carriers
    if one is None:
        return "not known" if mine > 1 else "the line file has one carrier: none is left"
    takt = {None: "", True: "; still meets the takt", False: "; then not shown to meet the takt"}[one.meets_takt]
    words = f"{one.carriers} of the file's {mine}: {_rate(one.rate)} per hour, {_change(one.difference)} against all"
    return words + takt


def _onset_words(sizing: Sizing) -> str:
    onset, first = sizing.choices.onset_of_blocking, sizing.counts[0].carriers
    if onset is None:
        return "at no count looked at: at most 1 % of all stations' time"
    already = " or fewer" if onset == first and first > 1 else ""
    return f"{onset} carriers{already}: from there on more than 1 % of all stations' time is blocked"


def _lower_words(sizing: Sizing) -> str:
    lower = sizing.choices.lower
    if sizing.choices.reason is not None:
        return "not known"
    if not lower:
        return "no count is shown to give less than a smaller one"
    worst = min(lower, key=lambda one: one.difference.mean)
    much = [one.carriers for one in lower if one.difference.mean < -NEAR * _mean_rate(sizing, one.than)]
    little = [one.carriers for one in lower if one.carriers not in much]
    words = [f"with {counts_text(much)} carriers the rate is LOWER than with fewer"] if much else []
    if little:
        words.append(f"with {counts_text(little)} it is lower than with fewer, by less than 0.5 %")
    return f"{'; '.join(words)}; most with {worst.carriers}: {_change(worst.difference)} per hour against {worst.than}"


def _mean_rate(sizing: Sizing, carriers: int) -> float:
    row = sizing.row(carriers)
    return 0.0 if row is None or row.rate is None else row.rate.mean


def _fit_words(sizing: Sizing) -> str:
    words = f"{sizing.most_fit}: the first station, the waiting stops and the dock stops, where they stand at time zero"
    if sizing.most_on_sheet is not None:
        words += f"; the sheet allows {sizing.most_on_sheet}"
    return words


# ---- the tables ------------------------------------------------------------------------------------------------------


def _table(sizing: Sizing) -> list[str]:
    required = sizing.required_rate_per_h
    mark = "" if required is None else "; | stands at the required rate"
    lines = heading("Rate over carriers")
    lines += paragraph(
        "Good parts per hour, mean and 95 % interval; the bound is what no order of moves can exceed in the long term "
        "(runs in which few failures come may), and what sets it: the carriers on their way round, or the slowest step "
        "or transfer. blocked: share of all stations' time from the start on. "
        f"The bar is the rate{mark}. > is advised, * is in the line file.",
        "  ",
    )
    head = f"  {'carriers':>8}{'rate':>9}{'low':>9}{'high':>9}{'bound':>9}  {'set by':<{_SETTER_WIDTH}}"
    lines.append(f"{head}{'of bound':>9}{'blocked':>9}")
    rates = [row.rate.mean for row in sizing.counts if row.rate is not None]
    top = max([*rates, required or 0.0], default=0.0)
    return lines + [_row(row, sizing, top) for row in sizing.counts]


def _row(row: CountRow, sizing: Sizing, top: float) -> str:
    sign = (">" if row.carriers == advised_count(sizing) else " ") + (
        "*" if row.carriers == sizing.line.carriers else " "
    )
    figures = ("-",) * 3
    if row.rate is not None:
        figures = (number(row.rate.mean, 1), number(row.rate.low, 1), number(row.rate.high, 1))
    cells = "".join(f"{figure:>9}" for figure in (*figures, number(row.upper_bound_per_h, 1)))
    setter = row.bound if len(row.bound) <= _SETTER_WIDTH else f"{row.bound[: _SETTER_WIDTH - 2]}.."
    share = "-" if row.of_bound is None else percent(row.of_bound)
    bar = "" if row.rate is None else _bar(row.rate.mean, sizing.required_rate_per_h, top)
    return f"{sign}{row.carriers:>8}{cells}  {setter:<{_SETTER_WIDTH}}{share:>9}{percent(row.blocked_share):>9}  {bar}"


def _bar(rate: float, required: float | None, top: float) -> str:
    if top <= 0.0:
        return ""
    filled = round(_BAR_WIDTH * rate / top)
    signs = ["#"] * filled + [" "] * (_BAR_WIDTH + 1 - filled)
    if required is not None:
        signs[round(_BAR_WIDTH * required / top)] = "|"
    return "".join(signs)


def _stops(sizing: Sizing) -> list[str]:
    lines = heading("Waiting stops")
    if sizing.waiting_stops is None:
        return lines + paragraph("Not looked at: --stops says which of them earn their place.", "  ")
    if not sizing.waiting_stops:
        return lines + paragraph("The track has none.", "  ")
    lines += paragraph(
        f"With the file's {sizing.line.carriers} carriers, {sizing.runs} runs of {number(sizing.stops_hours or 0.0)} "
        "h. used: how many a carrier ever halts at; nearest, farthest: share of time in which one rests there. The "
        "gain is that of the farthest stop: the rate with it less the rate without, run by run, the intervals 95 % "
        "for all rows together.",
        "  ",
    )
    head = f"{'before':<{_BEFORE_WIDTH}}{'laid':>5}{'used':>5}{'nearest':>9}{'farthest':>10}"
    lines.append(f"{head}  {'gain per hour':<26}  worth")
    for row in sizing.waiting_stops:
        lines += _stop_row(row)
    return lines + _stop_words(sizing.waiting_stops)


def _stop_row(row: WaitingStops) -> list[str]:
    gain = "-" if row.gain_per_h is None else _change(row.gain_per_h)
    shares = f"{percent(row.occupied_share[0]):>9}{percent(row.occupied_share[-1]):>10}"
    rest = f"{len(row.stops):>5}{row.used:>5}{shares}  {gain:<26}  {row.worth}"
    name = [row.before] if len(row.before) < _BEFORE_WIDTH else [*paragraph(row.before), ""]
    why = paragraph(f"({row.why})", " " * _BEFORE_WIDTH) if row.why else []
    return [*name[:-1], f"{name[-1]:<{_BEFORE_WIDTH}}{rest}", *why]


def _stop_words(rows: tuple[WaitingStops, ...]) -> list[str]:
    laid, used = sum(len(row.stops) for row in rows), sum(row.used for row in rows)
    words = f"{laid - used} of {laid} waiting stops are never halted at."
    idle = [row.before for row in rows if row.worth == "does nothing"]
    if idle:
        words += (
            f" The farthest one does nothing before: {', '.join(idle)}. A stop costs nothing to keep; the track it "
            "lies on does."
        )
    harmful = [row.before for row in rows if row.worth == "lowers the rate"]
    if harmful:
        words += (
            f" The farthest one LOWERS the rate before: {', '.join(harmful)}. Stations less than two least pitches "
            "apart, or a keep_clear that leaves no place between them, have no such stop."
        )
    return ["", *paragraph(words, "  ")]


def _rate(rate: Interval) -> str:
    return f"{number(rate.mean, 1)} ({number(rate.low, 1)} to {number(rate.high, 1)})"


def _change(change: Interval) -> str:
    return f"{signed(change.mean)} ({signed(change.low)} to {signed(change.high)})"
