"""What nobody stated: the closed forms by hand, the simulated ones by evaluating the changed line anew, and words that
claim no more than their interval."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray

import linewright as lw
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.flow.bins import run_length
from linewright.flow.replications import replicate
from linewright.flow.statistics import Interval, paired_comparison
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.sheet import as_data
from linewright.planning import assumed
from linewright.planning.assumed import Effect, find_effects, takt_with_losses
from linewright.quantities import number
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

HOURS: Final = 0.4
RUNS: Final = 3
SEED: Final = 7

# Nothing is stated but what must be.
BARE: Final = """linewright: 1
name: Bare
conveyor: demo-light
demand: {good_parts_per_year: 5000000, shifts_per_day: 2, paid_time_per_shift: 7.5 h, days_per_year: 240}
lanes:
  upper: {length: 1840 mm, from: west, to: east}
  lower: {length: 1840 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 8
stations:
  load: {lane: upper, at: 460 mm, work: manual, time: {mean: 1.5 s, cv: 20 %}}
  press: {lane: upper, at: 1200 mm, time: 1.6 s}
  unload: {lane: lower, at: 980 mm, time: 1.1 s}
route: [load, press, unload]
"""
# The same with everything stated that a line file can state.
STATED: Final = BARE.replace("days_per_year: 240", "days_per_year: 240, losses_not_modelled: 5 %").replace(
    BARE[BARE.index("  load:") :],
    """  load: {lane: upper, at: 460 mm, settling: 30 ms, time: {mean: 1.5 s, cv: 20 %},
         failures: [{every: 1 h, repair: 10 s}]}
  press: {lane: upper, at: 1200 mm, settling: 30 ms, time: {mean: 1.6 s, cv: 5 %}, rejects: 1 %,
          failures: [{every: 1 h, repair: 10 s}]}
  scrap: {lane: lower, at: 1500 mm, settling: 30 ms, reject_exit: true, time: {mean: 0.8 s, cv: 5 %},
          failures: [{every: 1 h, repair: 10 s}]}
  unload: {lane: lower, at: 980 mm, settling: 30 ms, time: {mean: 1.1 s, cv: 5 %},
           failures: [{every: 1 h, repair: 10 s}]}
route: [load, press, scrap, unload]
""",
)


def evaluated(text: str) -> Evaluation:
    return lw.evaluate(read_line(text), hours=HOURS, runs=RUNS, seed=SEED, workers=1)


@functools.cache
def bare() -> tuple[Evaluation, tuple[Effect, ...]]:
    evaluation = evaluated(BARE)
    return evaluation, find_effects(evaluation, workers=1)


def rates_after(line: Line, cut_s: float) -> NDArray[np.float64]:
    """Good parts an hour of each run of a line after a given warm-up, from its plan compiled anew."""
    length = run_length(line, HOURS, RUNS, SEED)
    runs = replicate(compile_plan(line, lay_out(line)), SEED, RUNS, length.horizon_us, length.bin_us, workers=1)
    cut_us = round(cut_s * 1e6)
    good = np.array([run.totals.good[cut_us // length.bin_us :].sum() for run in runs])
    return np.asarray(good / ((length.horizon_us - cut_us) / 3600e6))


def rounded(data: Any) -> Any:
    """Plain data with its numbers to nine digits."""
    if isinstance(data, dict):
        return {key: rounded(value) for key, value in data.items()}
    if isinstance(data, list):
        return [rounded(value) for value in data]
    return float(f"{data:.9g}") if isinstance(data, float) else data


def effect_of(begin: str) -> Effect:
    """The one effect on the rate of what is assumed in words that begin so."""
    (found,) = (one for one in bare()[1] if one.quantity == "rate" and one.assumed.startswith(begin))
    return found


def test_more_losses_shorten_the_takt_and_the_margin_by_the_closed_form() -> None:
    evaluation, effects = bare()
    takt, margin = effects[0], effects[1]
    planned_s = 2 * 7.5 * 3600.0 * 240
    assert takt.quantity == "takt"
    assert takt.before == pytest.approx(planned_s / 5e6, rel=1e-12)
    assert takt.after == pytest.approx(planned_s * 0.99 / 5e6, rel=1e-12)
    assert "2.592 s to 2.566 s" in takt.told.replace("\u00a0", " ")
    assert "for none is stated" in takt.assumed
    assert evaluation.run is not None
    assert evaluation.run.rate is not None
    assert margin.quantity == "rate margin"
    rate = evaluation.run.rate.mean
    assert margin.before == pytest.approx(rate / (5e6 / (planned_s / 3600.0)) - 1.0, rel=1e-9)
    assert margin.after == pytest.approx(rate / (5e6 / (planned_s * 0.99 / 3600.0)) - 1.0, rel=1e-9)


def test_losses_that_are_stated_are_called_so_and_cannot_pass_the_whole() -> None:
    line = read_line(STATED)
    assert line.demand is not None
    effects = find_effects(evaluate_without_run(line))
    assert [one.quantity for one in effects] == ["takt"]
    assert "5.0 % of planned time, as stated" in effects[0].told.replace("\u00a0", " ")
    with pytest.raises(ValueError, match="must lie from 0 to under 1"):
        takt_with_losses(line.demand, 0.95)


@pytest.mark.parametrize(
    ("begin", "found", "instead"),
    [
        ("work takes exactly", ("time: 1.6 s", "time: 1.1 s"), "time: {{mean: {}, cv: 10 %}}"),
        ("an operator of its own", ("mean: 1.5 s",), "mean: 1.65 s"),
        (
            "no failure ever",
            ("work: manual", "time: 1.6 s", "time: 1.1 s"),
            "{}, failures: [{{every: 8 h, repair: 2 min}}]",
        ),
    ],
)  # fmt: skip
def test_the_rate_changes_as_that_of_the_changed_file(begin: str, found: tuple[str, ...], instead: str) -> None:
    before, effect = bare()[0], effect_of(begin)
    text = BARE
    for one in found:
        assert one in text
        text = text.replace(one, instead.format(one.removeprefix("time: ") if "mean: {}" in instead else one))
    changed = evaluated(text)
    (guess,) = (one for one in assumed._guesses(before.line) if one.assumed.startswith(begin))
    assert rounded(as_data(guess.line)) == rounded(as_data(changed.line))
    assert before.run is not None
    assert before.run.rate is not None
    assert changed.run is not None
    assert changed.run.warm_up_s == before.run.warm_up_s
    expected = paired_comparison(before.run.rates_per_h, changed.run.rates_per_h)
    assert effect.before == before.run.rate.mean
    assert effect.after - effect.before == pytest.approx(expected.mean, rel=1e-9)
    assert (effect.low, effect.high) == pytest.approx((expected.low, expected.high), rel=1e-9)


def test_figures_of_the_sheet_are_put_otherwise_there() -> None:
    before = bare()[0]
    sheet = before.line.conveyor
    reaction = sheet.reaction.model_copy(
        update={
            "start_handshake_s": sheet.reaction.start_handshake_s + 0.005,
            "done_handshake_s": sheet.reaction.done_handshake_s + 0.005,
            "follow_s": sheet.reaction.follow_s + 0.005,
        }
    )
    for begin, update in (
        ("settling of the sheet", {"settling_s": sheet.settling_s + 0.010}),
        ("reaction times", {"reaction": reaction}),
    ):
        line: Line = before.line.model_copy(update={"conveyor": sheet.model_copy(update=update)})
        assert before.run is not None
        expected = paired_comparison(before.run.rates_per_h, rates_after(line, before.run.warm_up_s))
        effect = effect_of(begin)
        assert effect.after - effect.before == pytest.approx(expected.mean, rel=1e-9)
        assert effect.after < effect.before


def test_a_hundredth_of_rejects_costs_a_hundredth() -> None:
    effect = effect_of("no station rejects")
    assert effect.after == pytest.approx(0.99 * effect.before, rel=1e-12)
    assert (effect.low, effect.high) == (None, None)


def test_only_what_nobody_stated_is_told() -> None:
    evaluation = evaluated(STATED)
    assumed_words = [one.assumed.split(" ")[0] for one in find_effects(evaluation, workers=1)]
    assert assumed_words == ["losses", "losses", "reaction"]


def test_the_greatest_loss_comes_first_whatever_the_workers() -> None:
    evaluation, effects = bare()
    assert find_effects(evaluation, workers=2) == effects
    simulated = [one.after - one.before for one in effects if one.low is not None]
    assert len(simulated) == 5
    assert simulated == sorted(simulated)


@pytest.mark.parametrize(
    ("per_h", "words"),
    [
        (Interval(-5.0, -8.0, -2.0, 0.95), "from 1 000.0 to 995.0 per hour, -5.0 (95 % interval -8.0 to -2.0)"),
        (Interval(3.0, -1.0, 7.0, 0.95), "cannot be told from nothing: +3.0 per hour, 95 % interval -1.0 to +7.0"),
        (Interval(-0.3, -0.6, -0.02, 0.95), "changes by less than a thousandth (-0.6 to 0.0 per hour)"),
        (Interval(0.0, -1.0, 1.0, 0.95), "cannot be told from nothing"),
    ],
)  # fmt: skip
def test_the_words_claim_no_more_than_the_interval(per_h: Interval, words: str) -> None:
    guess = assumed._Guess("nothing", "something", bare()[0].line)
    effect = assumed._effect(guess, 1000.0, per_h)
    assert words in effect.told.replace("\u00a0", " ")
    assert (effect.after, effect.low, effect.high) == (1000.0 + per_h.mean, per_h.low, per_h.high)


@pytest.mark.parametrize(
    ("rate", "changed", "words"),
    [
        ((1000.0, 1020.0), (880.0, 989.9), ", BELOW the required 990.0: the answer would be NO"),
        ((1000.0, 1020.0), (880.0, 990.0), "; the rate may fall below the required 990.0"),
        ((1000.0, 1020.0), (990.0, 1005.0), ""),
        ((980.0, 1020.0), (900.0, 995.0), ""),  # undecided as it stands
        ((980.0, 1020.0), (880.0, 980.0), ", BELOW the required 990.0: the answer would be NO"),
        ((900.0, 980.0), (880.0, 970.0), ""),  # NO as it stands
    ],
)
def test_a_figure_that_changes_the_answer_says_so(
    rate: tuple[float, float], changed: tuple[float, float], words: str
) -> None:
    evaluation = bare()[0]
    assert evaluation.run is not None
    assert evaluation.takt is not None
    takt = replace(evaluation.takt, required_rate_per_h=990.0)
    run = replace(evaluation.run, rate=Interval(sum(rate) / 2.0, *rate, 0.95))
    assert assumed._against(replace(evaluation, takt=takt, run=run), *changed) == words
    assert assumed._against(replace(evaluation, takt=None, run=run), *changed) == ""


def test_the_effects_are_held_against_the_required_rate() -> None:
    """A demand just under what the line makes: a tenth more work takes it below, and a point more of losses may."""
    evaluation = bare()[0]
    assert evaluation.run is not None
    assert evaluation.run.rate is not None
    assert evaluation.takt is not None
    required = evaluation.run.rate.low * 0.999
    takt = replace(evaluation.takt, required_rate_per_h=required, takt_s=3600.0 / required)
    effects = find_effects(replace(evaluation, takt=takt), workers=1)
    told = {one.assumed.split(" ")[0]: one.told for one in effects if one.quantity != "rate margin"}
    below = f", BELOW the required {number(required, 1)}: the answer would be NO."
    assert told["an"].endswith(below)
    rejects = [one for one in effects if one.instead == "one finished part in a hundred bad"]
    may = f"; the rate may fall below the required {number(required, 1)}."
    assert rejects[0].told.endswith(may if evaluation.run.rate.high * 0.99 >= required else below)


def test_what_cannot_be_tried_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(change: object, plan: TrafficPlan) -> str:
        return "the track gives way"

    monkeypatch.setattr(assumed, "plan_change", refused)
    untried = [one for one in find_effects(bare()[0], workers=1) if "could not be tried" in one.told]
    assert len(untried) == 5
    assert all("the track gives way" in one.told and one.low is None for one in untried)
