"""What nobody stated, and what it does to the answer: the same line with another figure, by formula or by runs.

A line file leaves figures out, and a conveyor sheet gives others that nobody has measured. Each is put otherwise here,
one at a time and by as much as a builder would not be surprised at, and the answer is found again: in closed form where
there is one, else by runs under the same luck as `linewright.planning.gains` makes them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from linewright.evaluation import Evaluation
from linewright.flow.bins import bin_length_s, run_length
from linewright.flow.statistics import Interval
from linewright.line.demand import find_takt
from linewright.line.model import Demand, Failure, Line, TimeLaw
from linewright.planning.changes import Change, scaled_law, with_sheet, with_stations, with_work
from linewright.planning.counts import difference, run_plans
from linewright.planning.gains import LEAST_BINS, MOST_HOURS, MOST_RUNS, NOTHING, plan_change
from linewright.quantities import KEEP, number, percent, signed

MORE_LOSSES: Final = 0.01
"""One percentage point of planned time."""
SPREAD_CV: Final = 0.10
MORE_SETTLING_S: Final = 0.010
MORE_REACTION_S: Final = 0.005
FAILURE_EVERY_S: Final = 8.0 * 3600.0
FAILURE_REPAIR_S: Final = 120.0
REJECTS: Final = 0.01
ALLOWANCE: Final = 1.10
"""A tenth more time for work by hand: personal needs, tiredness and reaching for things. Common practice."""
MOST_NAMES: Final = 3
MAY_FALL: Final = "may fall below"


@dataclass(frozen=True)
class Effect:
    """What one figure that nobody stated does to the answer.

    Parameters
    ----------
    assumed : what is taken for granted
    instead : what was put in its place
    quantity : what it changes: ``takt``, ``rate margin`` or ``rate``
    before : as the evaluation has it, in `unit`
    after : with the other figure
    unit : SI: ``s``, ``1/h``, ``1``
    low, high : ends of the 95 % interval of after less before; None in closed form, and where it could not be tried
    told : all of it in one sentence
    """

    assumed: str
    instead: str
    quantity: str
    before: float
    after: float
    unit: str
    low: float | None
    high: float | None
    told: str


@dataclass(frozen=True)
class _Guess:
    """Something that nobody stated, and the line in which it is otherwise."""

    assumed: str
    instead: str
    line: Line


def find_effects(evaluation: Evaluation, workers: int | None = None) -> tuple[Effect, ...]:
    """What each figure that nobody stated does to the answer.

    Parameters
    ----------
    evaluation : of a line; without a run only what needs none is told
    workers : threads; None for one a core. The result does not depend on it.

    Returns
    -------
    tuple of Effect   Only what is assumed of this line. First the takt and the rate's margin, then the rate itself, the
                      greatest loss first.

    Notes
    -----
    Simulated ones run as often and as long as the line itself, at most 8 times and 2 h (or 100 bins of ten takts)
    beyond its warm-up, with the luck of its first runs; `after` is the evaluation's own rate plus the mean paired
    difference. Effects of several figures do not add up.

    Where a figure would change the answer, the sentence says so: the rate is then below the required one if it is with
    the high ends of the rate's interval and of the effect's, and may fall below if it is with the low ends of both.
    The two ends together bound the rate without any assumption on how its luck and the effect's hang together.

    Source     paired comparison under common random numbers, common practice.
    """
    closed = [*_losses(evaluation), *_rejects(evaluation)]
    simulated = _simulated(evaluation, workers)
    simulated.sort(key=lambda effect: effect.after - effect.before)
    return (*closed, *simulated)


def takt_with_losses(demand: Demand, more: float) -> float:
    """The takt where so much more of the planned time is lost. [s]

    Parameters
    ----------
    demand : of a line file
    more : share of planned time beyond the demand's `losses_not_modelled`; the two together 0 to under 1

    Raises
    ------
    ValueError   The losses are then below 0, or take all planned time.

    Notes      T = A (1 - v - more) / D, with A the planned time [s], v the losses and D the good parts of a year.
    Source     takt as available time over demand, common practice.

    Examples
    --------
    >>> demand = Demand(good_parts_per_year=3600, shifts_per_day=1, paid_time_per_shift_s=7200, days_per_year=100)
    >>> takt_with_losses(demand, 0.01)
    198.0
    """
    losses = demand.losses_not_modelled + more
    if not 0.0 <= losses < 1.0:
        raise ValueError(f"losses of {losses} of planned time; they must lie from 0 to under 1")
    return find_takt(demand).planned_time_s * (1.0 - losses) / demand.good_parts_per_year


def _losses(evaluation: Evaluation) -> Iterator[Effect]:
    """A percentage point more of planned time lost: the takt, and how far the rate lies over what is required."""
    demand, takt, run = evaluation.line.demand, evaluation.takt, evaluation.run
    if demand is None or takt is None or demand.losses_not_modelled + MORE_LOSSES >= 1.0:
        return
    share = percent(demand.losses_not_modelled)
    stated = "losses_not_modelled" in demand.model_fields_set
    assumed = f"losses that the run does not show: {share} of planned time, {'as' if stated else 'for none is'} stated"
    instead = "one percentage point more"
    after_s = takt_with_losses(demand, MORE_LOSSES)
    told = f"{_begun(assumed)}: {instead} shortens the takt from {_seconds(takt.takt_s)} to {_seconds(after_s)}"
    if run is not None and run.rate is not None:
        told += _against(evaluation, run.rate.low, run.rate.high, 3600.0 / after_s)
    told += "."
    yield Effect(assumed, instead, "takt", takt.takt_s, after_s, "s", None, None, told)
    if run is None or run.rate is None:
        return
    before = run.rate.mean / takt.required_rate_per_h - 1.0
    after = run.rate.mean * after_s / 3600.0 - 1.0
    told = (
        f"The same takes the margin of the average rate over the required one from {_percent(before)} to "
        f"{_percent(after)}."
    )
    yield Effect(assumed, instead, "rate margin", before, after, "1", None, None, told)


def _rejects(evaluation: Evaluation) -> Iterator[Effect]:
    """One finished part in a hundred more that turns out bad, where no station is stated to reject any."""
    line, run = evaluation.line, evaluation.run
    if run is None or run.rate is None or any(one.rejects > 0.0 or one.rework is not None for one in line.stations):
        return
    before, after = run.rate.mean, run.rate.mean * (1.0 - REJECTS)
    assumed, instead = "no station rejects a part, for no rejects are stated", "one finished part in a hundred bad"
    told = (
        f"{_begun(assumed)}: with {instead} the rate of good parts falls from {_rate(before)} to {_rate(after)} per "
        f"hour{_against(evaluation, run.rate.low * (1.0 - REJECTS), run.rate.high * (1.0 - REJECTS))}."
    )
    yield Effect(assumed, instead, "rate", before, after, "1/h", None, None, told)


def _simulated(evaluation: Evaluation, workers: int | None) -> list[Effect]:
    """Of every guess that needs runs, what it does to the rate."""
    line, plan, run = evaluation.line, evaluation.plan, evaluation.run
    guesses = list(_guesses(line))
    if plan is None or run is None or run.rate is None or run.runs < 2 or not guesses:
        return []
    hours = min(run.hours, max(MOST_HOURS, LEAST_BINS * bin_length_s(line) / 3600.0) + run.warm_up_s / 3600.0)
    if line.calendar is not None:
        hours = min(hours, run.hours - run.warm_up_s / 3600.0)  # a shift to be left out comes on top again
    length = run_length(line, hours, min(run.runs, MOST_RUNS), run.seed)
    tried = [plan_change(Change(one.instead, None, one.line, same_track=True), plan) for one in guesses]
    plans = [one for one in tried if not isinstance(one, str)]
    cut_bins = round(run.warm_up_s * 1e6 / length.bin_us)
    base, *others = run_plans([plan, *plans], length, workers, cut_bins=cut_bins)
    found, after = [], iter(others)
    for guess, planned in zip(guesses, tried, strict=True):
        if isinstance(planned, str):
            found.append(_untried(guess, run.rate.mean, planned))
        else:
            per_h = difference(base, next(after))
            against = _against(evaluation, run.rate.low + per_h.low, run.rate.high + per_h.high)
            found.append(_effect(guess, run.rate.mean, per_h, against))
    return found


def _guesses(line: Line) -> Iterator[_Guess]:
    """What this line file leaves open, each with the line in which it is otherwise."""
    yield from _exact_works(line)
    yield from _by_hand(line)
    yield from _no_failures(line)
    yield from _settling(line)
    reaction, more = line.conveyor.reaction, MORE_REACTION_S
    times = {
        "start_handshake_s": reaction.start_handshake_s + more,
        "done_handshake_s": reaction.done_handshake_s + more,
        "follow_s": reaction.follow_s + more,
    }
    slower = with_sheet(line, {"reaction": reaction.model_copy(update=times)})
    yield _Guess("reaction times as the sheet has them", f"5{KEEP}ms more for each of the three", slower)


def _exact_works(line: Line) -> Iterator[_Guess]:
    """Work that is stated without a spread, of stations and of variants there."""

    def spread(law: TimeLaw) -> TimeLaw:
        return TimeLaw.lognormal(law.mean_s, SPREAD_CV) if law.kind == "fixed" else law

    names = [one.name for one in line.stations if one.time.kind == "fixed"]
    by_variant = {name for one in line.variants for name, law in one.times if law.kind == "fixed"}
    names += [one.name for one in line.stations if one.name in by_variant and one.name not in names]
    if not names:
        return
    changed = with_work(line, tuple(names), spread)
    spread_words = f"a spread (cv) of {100 * SPREAD_CV:.0f}{KEEP}%"
    yield _Guess(f"work takes exactly as long for every part at {_names(names)}", spread_words, changed)


def _by_hand(line: Line) -> Iterator[_Guess]:
    """Work by hand that no pool of operators serves: someone is taken to stand there, never away and never tired."""
    pooled = {name for pool in line.operators for name in pool.stations}
    names = [one.name for one in line.stations if one.work == "manual" and one.name not in pooled]
    if not names:
        return
    changed = with_work(line, tuple(names), lambda law: scaled_law(law, ALLOWANCE))
    words = f"an operator of its own stands at {_names(names)}, never away and never tired"
    yield _Guess(words, "a tenth more time for work by hand", changed)


def _no_failures(line: Line) -> Iterator[_Guess]:
    """Stations of which no failure is stated."""
    names = [one.name for one in line.stations if not one.failures]
    if not names:
        return
    failure = Failure(every=TimeLaw.exponential(FAILURE_EVERY_S), repair=TimeLaw.fixed(FAILURE_REPAIR_S))
    changed = with_stations(line, tuple(names), lambda station: {"failures": (failure,)})
    where = "any station" if len(names) == len(line.stations) else _names(names)
    instead = f"one failure of 2{KEEP}min in 8{KEEP}h of work at each"
    yield _Guess(f"no failure ever at {where}, for none is stated", instead, changed)


def _settling(line: Line) -> Iterator[_Guess]:
    """Stations that take the sheet's settling. One with a window waits for the longer of the two."""
    names = [one.name for one in line.stations if one.settling_s is None]
    if not names:
        return
    sheet_s = line.conveyor.settling_s
    changed = with_sheet(line, {"settling_s": sheet_s + MORE_SETTLING_S})
    where = "every station" if len(names) == len(line.stations) else _names(names)
    assumed = f"settling of the sheet, {1000 * sheet_s:.4g}{KEEP}ms, at {where}"
    yield _Guess(assumed, f"10{KEEP}ms more", changed)


def _against(evaluation: Evaluation, low_per_h: float, high_per_h: float, required_per_h: float | None = None) -> str:
    """What a rate between two bounds does to the answer; nothing where the answer stays, or is NO as it stands."""
    takt, run = evaluation.takt, evaluation.run
    if takt is None or run is None or run.rate is None or run.stalled_runs:
        return ""
    now = takt.required_rate_per_h
    required = now if required_per_h is None else required_per_h
    whose = "" if required_per_h is None else "the rate "  # of a takt it must be said
    if high_per_h < required and run.rate.high >= now:
        return f", {whose}BELOW the required {_rate(required)}: the answer would be NO"
    if low_per_h < required and run.rate.low >= now:
        return f"; the rate {MAY_FALL} the required {_rate(required)}"
    return ""


def _effect(guess: _Guess, rate_per_h: float, per_h: Interval, against: str = "") -> Effect:
    """A simulated difference in a record, and in a sentence that claims no more than its interval."""
    after = rate_per_h + per_h.mean
    interval = f"{signed(per_h.low)} to {signed(per_h.high)}"
    if max(abs(per_h.low), abs(per_h.high)) < NOTHING * rate_per_h:
        does = f"the rate changes by less than a thousandth ({interval} per hour)"
    elif per_h.low <= 0.0 <= per_h.high:
        does = (
            f"what the rate does cannot be told from nothing: {signed(per_h.mean)} per hour, 95{KEEP}% interval "
            f"{interval}"
        )
    else:
        does = (
            f"the rate goes from {_rate(rate_per_h)} to {_rate(after)} per hour, {signed(per_h.mean)} "
            f"(95{KEEP}% interval {interval})"
        )
    told = f"{_begun(guess.assumed)}: with {guess.instead} {does}{against}."
    return Effect(guess.assumed, guess.instead, "rate", rate_per_h, after, "1/h", per_h.low, per_h.high, told)


def _untried(guess: _Guess, rate_per_h: float, why: str) -> Effect:
    told = f"{_begun(guess.assumed)}: {guess.instead} could not be tried: {why}."
    return Effect(guess.assumed, guess.instead, "rate", rate_per_h, float("nan"), "1/h", None, None, told)


def _names(names: list[str]) -> str:
    """Names in a row, of many the first few."""
    if len(names) <= MOST_NAMES + 1:
        return ", ".join(names)
    return f"{', '.join(names[:MOST_NAMES])} and {len(names) - MOST_NAMES} more"


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]


def _rate(per_h: float) -> str:
    return number(per_h, 1)


def _seconds(time_s: float) -> str:
    return f"{number(time_s, 3)}{KEEP}s"


def _percent(share: float) -> str:
    return f"{signed(100.0 * share)}{KEEP}%"
