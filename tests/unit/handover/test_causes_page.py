"""What the rate is made of, on the page: causes, gains, bounds, parallel stations."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from linewright.checks.bounds import check_bounds
from linewright.evaluation import Evaluation
from linewright.findings import Finding
from linewright.flow.causes import KINDS
from linewright.flow.line_bounds import RateBounds, rate_bounds
from linewright.flow.statistics import Interval
from linewright.handover.pages.answer import answer, rate_verdict
from linewright.handover.pages.causes_page import SIGNS, bounds_lines, causes_lines, gains_lines, parallel_lines
from linewright.handover.pages.rate_page import rate_page
from linewright.handover.wording import WIDTH, page
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.planning.changes import Change
from linewright.planning.gains import Effect, Gain, Gains
from linewright.tables import Column, Table
from linewright.traffic.compile import compile_plan
from unit.handover.stand_in_run import CAUSES, CYCLE_S, causes_table, demo_line, stand_in_run, with_run

BOUNDS = RateBounds(
    upper_per_h=1000.0, carriers_per_h=1200.0, step_per_h=1000.0, limiting_step="press", transfer_per_h=1100.0,
    limiting_transfer="east-lift", operators_per_h=None, limiting_pool="", limit="step", worst_per_h=50.0,
    worst_holds=True, practical_worst_per_h=700.0, balanced_low_per_h=750.0,
    balanced_high_per_h=1300.0, loop_s=42.0, carriers=14,
)  # fmt: skip


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def one_line(text: str) -> str:
    return " ".join(text.split())


# ---- causes ----------------------------------------------------------------------------------------------------------


def causes_page(line: Line, causes: tuple[tuple[str, str, float], ...], **changes: Any) -> str:
    run = with_run(line, cycle_causes=causes_table(causes), **changes).run
    assert run is not None
    text = page(causes_lines(run))
    assert max(len(row) for row in text.splitlines()) <= WIDTH
    return text


def bar(text: str) -> str:
    (found,) = [row for row in text.splitlines() if re.fullmatch(r"  [A-Za-z]+", row)]
    return found[2:]


def table(text: str) -> list[tuple[str, float, float]]:
    """What stands before the figures, seconds and per cent of each row under the table's head."""
    rows = text.splitlines()
    begin = next(i for i, row in enumerate(rows) if row.startswith("  cause "))
    found = [re.fullmatch(r" *(.*?) +(-?[\d.]+) +(-?[\d.]+) %", row) for row in rows[begin + 1 :]]
    return [(one[1], float(one[2]), float(one[3])) for one in found if one is not None]


def test_every_kind_has_a_sign_of_its_own() -> None:
    assert set(SIGNS) == set(KINDS)
    assert len(set(SIGNS.values())) == len(SIGNS)
    assert all(re.fullmatch("[A-Za-z]", sign) for sign in SIGNS.values())


def test_the_bar_is_as_wide_as_the_page_and_divided_by_the_shares(line: Line) -> None:
    signs = bar(causes_page(line, CAUSES))
    assert len(signs) == WIDTH - 2
    assert re.fullmatch("W+X+R+[CT]+", signs)
    for kind, share in (("W", 0.6), ("X", 0.2), ("R", 0.1), ("C", 0.05), ("T", 0.05)):
        assert abs(signs.count(kind) - share * (WIDTH - 2)) <= 1.0


def test_the_bar_is_exactly_as_wide_whatever_the_shares(line: Line) -> None:
    luck = np.random.default_rng(11)
    for _ in range(20):
        shares = np.sort(luck.dirichlet(np.full(len(KINDS), 0.4)))[::-1]
        causes = tuple((kind, "press", float(share)) for kind, share in zip(KINDS, shares, strict=True))
        assert len(bar(causes_page(line, causes))) == WIDTH - 2


def test_all_kinds_stand_in_the_legend_and_make_a_hundred(line: Line) -> None:
    causes = tuple((kind, "press", 1 / len(KINDS)) for kind in KINDS)
    text = one_line(causes_page(line, causes).split("cause ")[0])
    shares = [re.search(rf"\b{SIGNS[kind]} {kind} ([\d.]+) %", text) for kind in KINDS]
    assert sum(float(found[1]) for found in shares if found is not None) == pytest.approx(100.0)
    assert None not in shares


def test_the_table_adds_up_and_puts_small_causes_into_one_row(line: Line) -> None:
    small = tuple((kind, f"station-{i}", 0.004) for i in range(10) for kind in ("prepare", "clear"))
    text = causes_page(line, (("work", "press", 0.6), ("travel", "press", 0.2), ("repair", "press", 0.12), *small))
    rows = table(text)
    assert [words.split()[0] for words, _, _ in rows[:3]] == ["work", "travel", "repair"]
    assert rows[-2][0] == f"{len(small) + 3 - (len(rows) - 2)} more"
    assert rows[-1] == ("together", CYCLE_S, 100.0)
    assert sum(share for *_, share in rows[:-1]) == pytest.approx(100.0)
    assert sum(time_s for _, time_s, _ in rows[:-1]) == pytest.approx(CYCLE_S, abs=0.0005 * len(rows))


def test_shares_that_round_badly_still_add_up(line: Line) -> None:
    rows = table(causes_page(line, tuple((kind, "press", 1 / 7) for kind in list(KINDS)[:7])))
    assert sorted({share for *_, share in rows[:-1]}) == [14.2, 14.3]
    assert sum(share for *_, share in rows[:-1]) == pytest.approx(100.0)


def test_of_very_many_causes_only_the_largest_have_rows(line: Line) -> None:
    rows = table(causes_page(line, tuple(("work", f"station-{i}", 0.025) for i in range(40))))
    assert len(rows) == 14 + 2
    assert rows[-2] == ("26 more", pytest.approx(0.65 * CYCLE_S, abs=0.001), 65.0)


def test_a_cause_below_zero_is_shown_and_explained_and_has_no_place_in_the_bar(line: Line) -> None:
    text = causes_page(line, (("work", "press", 0.9), ("exchange move", "load", 0.13), ("travel", "press", -0.03)))
    assert bar(text) == "W" * round(98 * 0.9 / 1.03) + "X" * (98 - round(98 * 0.9 / 1.03))
    assert "t travel -3.0 %" in text
    assert "Below zero: followers that depart before the carrier ahead" in text
    assert table(text) == [
        ("work              press", pytest.approx(0.9 * CYCLE_S), 90.0),
        ("exchange move     load", pytest.approx(0.13 * CYCLE_S), 13.0),
        ("travel            press", pytest.approx(-0.03 * CYCLE_S), -3.0),
        ("together", CYCLE_S, 100.0),
    ]
    assert "Below zero" not in causes_page(line, CAUSES)


def test_a_tiny_cause_takes_no_row_and_no_minus_zero(line: Line) -> None:
    text = causes_page(line, (("work", "press", 1.0), ("travel", "press", 2e-6), ("reaction", "press", -2e-6)))
    assert bar(text) == "W" * 98
    assert "t travel" not in text
    assert "-0.0" not in text
    assert table(text) == [
        ("work              press", CYCLE_S, 100.0), ("2 more", 0.0, 0.0), ("together", CYCLE_S, 100.0)
    ]  # fmt: skip


@pytest.mark.parametrize("length", [23, 24, 57, 58, 75, 200])
def test_long_places_neither_widen_the_page_nor_are_cut(line: Line, length: int) -> None:
    name = ("station-" * 40)[:length]
    text = causes_page(line, (("start handshake", name, 0.75), ("work", "press", 0.25)))
    assert name in "".join(text.split())
    rows = text.splitlines()
    ends = {len(row) for row in rows[next(i for i, row in enumerate(rows) if "s per part" in row) :] if "%" in row}
    assert len(ends) == 1  # one column of shares


def test_without_causes_the_page_says_so(line: Line) -> None:
    for changes in ({"causes_cycle_s": None}, {}):
        causes = CAUSES if changes else ()
        text = causes_page(line, causes, **changes)
        assert text.rstrip().endswith("Not known: no run finishes two good parts after the warm-up.")


def test_the_line_cycle_above_is_named_only_where_there_is_one(line: Line) -> None:
    assert "4.500 s from one good part to the next (the line cycle above" in one_line(causes_page(line, CAUSES))
    assert "the line cycle above" not in one_line(causes_page(line, CAUSES, rate=None, reason="", line_cycle_s=None))


# ---- gains -----------------------------------------------------------------------------------------------------------


def gain(line: Line, words: str, mean: float, confirmed: bool = False, effect: Effect = "gains") -> Gain:
    return Gain(
        Change(words, "press", line, same_track=True), Interval(mean, mean - 1.0, mean + 1.0, 0.95), confirmed, effect
    )


def gains_of(*gains: Gain, not_tried: tuple[tuple[str, str], ...] = ()) -> Gains:
    return Gains(gains, not_tried, Interval(800.0, 799.0, 801.0, 0.95), 8, 2.0321, 20, 8.0)


def test_a_star_stands_only_at_what_the_full_runs_confirm(line: Line) -> None:
    text = page(gains_lines(gains_of(gain(line, "first", 12.0, confirmed=True), gain(line, "second", 5.0))))
    rows = {row[4:].split()[0]: row for row in text.splitlines() if "gains" in row.split()[-1:]}
    assert rows["first"].startswith("  * first")
    assert rows["second"].startswith("    second")
    assert "Marked *: 20 runs of 8 h, as the rate itself; the others are a first look by 8 runs of 2.03 h." in (
        one_line(text)
    )


def test_where_all_are_confirmed_no_star_sets_any_apart(line: Line) -> None:
    text = page(gains_lines(gains_of(*(gain(line, words, 12.0, confirmed=True) for words in ("one", "two")))))
    assert "*" not in text
    assert "20 runs of 8 h, as the rate itself. Of twenty" in one_line(text)


def test_without_a_confirmed_gain_no_star_is_explained(line: Line) -> None:
    text = page(gains_lines(gains_of(gain(line, "first", 12.0))))
    assert "*" not in text
    assert "8 runs of 2.03 h" in one_line(text)
    assert "20 runs" not in text


def test_gains_have_signs_and_zero_has_none(line: Line) -> None:
    made = gains_of(gain(line, "up", 1234.56), gain(line, "nil", 0.96), gain(line, "down", -12.0, effect="loses"))
    rows = {row.split()[0]: row.split() for row in page(gains_lines(made)).splitlines() if row.split()}
    assert rows["up"] == ["up", "+1", "234.6", "+1", "233.6", "+1", "235.6", "gains"]
    assert rows["nil"] == ["nil", "+1.0", "0.0", "+2.0", "gains"]
    assert rows["down"] == ["down", "-12.0", "-13.0", "-11.0", "loses"]


@pytest.mark.parametrize("effect", ["gains", "does nothing", "cannot be told", "loses"])
def test_long_words_wrap_under_the_figures(line: Line, effect: Effect) -> None:
    words = f"{'a-long-name/' * 3}x: speed and acceleration a tenth higher, {'y' * 120}"
    made = gains_of(gain(line, words, -12345.6, effect=effect), not_tried=((words, "no traffic; " * 20),))
    text = page(gains_lines(made))
    assert max(len(row) for row in text.splitlines()) <= WIDTH
    assert "".join(words.split()) in "".join(row[:54].strip() for row in text.splitlines()).replace(" ", "")
    figures = next(row for row in text.splitlines() if "345.6" in row)
    assert figures.endswith(effect)
    assert figures.startswith("    a-long-name/")


def test_what_could_not_be_tried_is_told_with_its_reason(line: Line) -> None:
    text = one_line(page(gains_lines(gains_of(not_tried=(("one carrier more", "25 carriers; at most 24"),)))))
    assert "not tried: one carrier more: 25 carriers; at most 24" in text
    assert "Nothing that was tried is sure to gain." in text
    assert "change gain low high" not in text


def test_where_nothing_gains_the_page_says_so(line: Line) -> None:
    poor = gains_of(gain(line, "this", 0.1, effect="does nothing"), gain(line, "that", -3.0, effect="loses"))
    assert "Nothing that was tried is sure to gain." in page(gains_lines(poor))
    assert "Nothing that was tried" not in page(gains_lines(gains_of(gain(line, "this", 5.0))))


def test_without_trials_there_is_no_such_part(line: Line) -> None:
    assert gains_lines(None) == []
    assert "WHAT WOULD HELP" not in rate_page(with_run(line))
    text = rate_page(with_run(line), gains_of(gain(line, "less work", 12.0)))
    assert text.index("MADE OF") < text.index("WHAT WOULD HELP") < text.index("\nSTEPS\n")
    assert "What would help was tried in simulated runs" in one_line(text)
    assert "What would help was tried" not in one_line(rate_page(with_run(line)))


# ---- bounds ----------------------------------------------------------------------------------------------------------


def bounded(line: Line, bounds: RateBounds = BOUNDS, rates: tuple[float, ...] = (798.0, 800.0, 802.0)) -> Evaluation:
    """A line with an invented run, and the verdict of the real check on these bounds."""
    evaluation = with_run(line, stand_in_run(line, rates))
    return replace(evaluation, bounds=bounds)


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ("carriers", "14 carriers, none of which ever waits"),
        ("step", "step press never starved, never blocked"),
        ("transfer", "transfer east-lift never without a carrier"),
    ],
)
def test_the_page_says_what_binds(line: Line, limit: Any, words: str) -> None:
    text = one_line(page(bounds_lines(bounded(line, replace(BOUNDS, limit=limit)))))
    assert f"at most 1 000.0 good parts per hour: {words}" in text
    assert "simulated 800.0, 80.0 % of that" in text
    assert "practical worst case 700.0; balanced jobs 750.0 to 1 300.0: of exponential times" in text
    assert "loop 42.0 s per good part" in text
    assert "OUTSIDE" not in text


def test_the_lower_bound_holds_only_if_the_line_never_locks(line: Line) -> None:
    words = "at least 50.0: every carrier alone, one thing after the other"
    assert f"{words} loop" in one_line(page(bounds_lines(bounded(line))))
    unsure = bounded(line, replace(BOUNDS, worst_holds=False))
    assert f"{words}; only if the line never locks loop" in one_line(page(bounds_lines(unsure)))


def test_without_a_rate_or_bounds_there_is_no_such_part(line: Line) -> None:
    assert bounds_lines(with_run(line)) == []
    none = with_run(line, rate=None, reason="one run", line_cycle_s=None, limiting=None)
    assert bounds_lines(replace(none, bounds=BOUNDS)) == []


def test_a_rate_outside_its_bounds_is_refused_in_the_first_line(line: Line) -> None:
    plan = compile_plan(line, lay_out(line))
    evaluation = with_run(line, stand_in_run(line, (4998.0, 5000.0, 5002.0)))
    found = check_bounds(line, plan, cast(Any, evaluation.run))
    assert [finding.verdict for finding in found] == ["fails"]
    wrong = replace(evaluation, bounds=rate_bounds(plan), findings=(*evaluation.findings, *found))
    rows = rate_page(wrong).splitlines()
    assert rows[2] == "DO NOT USE THIS RATE: IT LIES OUTSIDE BOUNDS THAT ALWAYS HOLD."
    head = one_line(rate_page(wrong).split("DEMAND AND TAKT")[0])
    assert "YES" not in head
    assert "The simulation contradicts a bound that always holds: it makes more than" in head
    assert "report the line file" in head
    assert "OTHER CHECK" not in head
    assert "THE RATE LIES OUTSIDE ITS BOUNDS" in rate_page(wrong)
    assert "DO NOT USE: 5 000.0 good parts per hour" in one_line(rate_page(wrong))
    assert rate_verdict(evaluation) == "holds"
    assert rate_verdict(wrong) == answer(wrong)["verdict"] == "not checked"


# ---- parallel stations -----------------------------------------------------------------------------------------------


def parallel_page(line: Line, parts: dict[str, int], **changes: Any) -> str:
    run = stand_in_run(line)
    done = [parts.get(str(name), 100) for name in run.stations["station"]]
    columns = [Column(c.name, c.unit, np.array(done)) if c.name == "parts" else c for c in run.stations.columns]
    evaluation = with_run(line, run, stations=Table(tuple(columns)), **changes)
    return one_line(page(parallel_lines(replace(evaluation, plan=compile_plan(line, lay_out(line))))))


def test_parallel_stations_say_what_they_gain_and_lose(line: Line) -> None:
    text = parallel_page(line, {"leak-1": 300, "leak-2": 300})
    found = re.search(
        r"one station takes ([\d.]+) s .* 2 in line take ([\d.]+) s, ([\d.]+) times as fast and not 2:", text
    )
    assert found is not None
    alone_s, shared_s, times = (float(figure) for figure in found.groups())
    assert 4.2 < alone_s < 5.5
    assert times == pytest.approx(alone_s / shared_s, abs=0.005)
    assert 1.9 < times < 2.0
    assert "of the parts work leak-1 50.0 %, leak-2 50.0 %." in text
    assert "more than its share" not in text


def test_the_station_that_does_more_than_its_share_is_named(line: Line) -> None:
    text = parallel_page(line, {"leak-1": 600, "leak-2": 400})
    assert "of the parts work leak-1 60.0 %, leak-2 40.0 %. leak-1 does more than its share, and sets the pace" in text


def test_fixed_times_lose_nothing_where_carriers_come_together() -> None:
    line = read_line(pattern_text("two-deck").replace("time: {mean: 4.2 s, cv: 4 %}", "time: 4.2 s"))
    text = parallel_page(line, {})
    assert "2.00 times as fast, if carriers always come 2 together." in text
    assert "and not 2" not in text


def test_a_run_too_short_to_tell_says_so(line: Line) -> None:
    text = parallel_page(line, {"leak-1": 0, "leak-2": 0})
    assert text.endswith("The run is too short to tell what became of it.")


def test_a_line_without_parallel_stations_has_no_such_part() -> None:
    text = pattern_text("two-deck").replace("[leak-1, leak-2]", "leak-1")
    line = read_line("\n".join(row for row in text.splitlines() if "leak-2:" not in row))
    evaluation = replace(with_run(line), plan=compile_plan(line, lay_out(line)))
    assert parallel_lines(evaluation) == []
    assert parallel_lines(with_run(line)) == []


# ---- where most of the line cycle passes -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "place", "step"), [(0.6, "leak-1", "leak-1/leak-2"), (0.6, "east-lift", "east-lift"), (0.49, "", "")]
)
def test_the_longest_step_is_not_blamed_where_the_line_cycle_passes_elsewhere(
    line: Line, share: float, place: str, step: str
) -> None:
    spread = tuple(("work", name, (1.0 - share) / 5) for name in ("press", "load", "mark", "unload", "scrap"))
    causes = (("work", place or "leak-1", share), *spread)
    text = rate_page(with_run(line, cycle_causes=causes_table(causes)))
    warned = f"BUT 60.0 % of the line cycle passes at {step}: look at the causes below before you speed up press."
    assert (warned in one_line(text)) == bool(place)
    marks = {row.split()[0]: row.split("<- ")[1] for row in text.splitlines() if "<- " in row}
    expected = {"press": "longest" if place else "limits"} | ({step: "main cause"} if place == "leak-1" else {})
    assert marks == expected
    assert max(len(row) for row in text.splitlines()) <= WIDTH


def test_where_no_station_limits_none_is_marked_as_if_it_did(line: Line) -> None:
    spread = tuple(("work", name, 0.25) for name in ("press", "load", "mark", "unload"))
    text = rate_page(with_run(line, line_cycle_s=9.0, cycle_causes=causes_table(spread)))
    assert "No station limits the line: the longest explains 4.500 s of a line cycle of 9.000 s." in one_line(text)
    assert "BUT" not in text
    assert [row.split("<- ")[1] for row in text.splitlines() if "<- " in row] == ["longest"]


@pytest.mark.parametrize(("line_cycle_s", "told"), [(5.1, False), (9.0, True)])
def test_a_transfer_slower_than_any_step_limits_unless_it_explains_as_little(
    line: Line, line_cycle_s: float, told: bool
) -> None:
    slow = Finding("transfer-cycle", "rate", "holds", "transfer east-lift", None, 5.0, 6.0, "s", 0.2, "s", "")
    evaluation = with_run(line, line_cycle_s=line_cycle_s)
    text = rate_page(replace(evaluation, findings=(*evaluation.findings, slow)))
    assert "TRANSFER EAST-LIFT takes 5.000 s per good part at best, more than any step. Of the steps" in one_line(text)
    words = "No station and no transfer limits the line: the longest explains 5.000 s of a line cycle of 9.000 s."
    assert (words in one_line(text)) == told
    assert [row.split("<- ")[1] for row in text.splitlines() if "<- " in row] == ["longest"]
