"""The pages: the answer first, 100 columns, plain text, shares that add up."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.findings import Finding, counts_sentence
from linewright.handover.pages.check_page import check_page
from linewright.handover.pages.rate_page import STATES as PLAIN_STATES
from linewright.handover.pages.rate_page import rate_page
from linewright.handover.wording import WIDTH, page
from linewright.line.model import Line
from linewright.shares import rounded_shares
from linewright.tables import Column, Table
from unit.handover.stand_in_run import SHARES, demo_line, stand_in_run, with_run

HEADINGS = [
    "DEMAND AND TAKT",
    "RATE",
    "LIMITING STATION",
    "WHAT THE LINE CYCLE IS MADE OF",
    "STEPS",
    "STATIONS",
    "FINDINGS, WORST FIRST",
    "WHAT THIS RESTS ON",
]


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def one_line(text: str) -> str:
    return " ".join(text.split())


def headings(text: str) -> list[str]:
    rows = text.splitlines()
    return [row for row, under in itertools.pairwise(rows) if under and set(under) == {"-"}]


@pytest.mark.parametrize(
    ("rates", "first", "place"),
    [
        ((798.0, 800.0, 801.0, 801.0), "YES: THE LINE MAKES ITS TAKT.", "wholly at or above the 760.2 per hour"),
        ((700.0, 700.5, 701.0), "NO: THE LINE DOES NOT MAKE ITS TAKT.", "wholly below the 760.2 per hour"),
        ((740.0, 780.0, 761.0), "UNDECIDED: THE LINE MAY OR MAY NOT MAKE ITS TAKT.", "on both sides of the 760.2"),
    ],
)
def test_verdict_and_confidence_come_first(line: Line, rates: tuple[float, ...], first: str, place: str) -> None:
    text = rate_page(with_run(line, stand_in_run(line, rates)))
    rows = text.splitlines()
    assert rows[0] == line.name
    assert rows[2] == first
    head = one_line(text.split("DEMAND AND TAKT")[0])
    assert "With 95 % confidence its average rate lies between" in head
    assert place in head
    assert "NOT CHECKED" in head  # the count of what nobody looked at


def test_parts_of_the_page_stand_in_order(line: Line) -> None:
    assert headings(rate_page(with_run(line))) == HEADINGS


def test_page_is_narrow_plain_and_ends_with_what_it_was_made_from(line: Line) -> None:
    text = rate_page(with_run(line))
    assert max(len(row) for row in text.splitlines()) <= WIDTH
    assert all(sign == "\n" or sign.isprintable() for sign in text)
    assert "\u00a0" not in text
    assert text.splitlines()[-1].endswith(f"seed 1, input {line.input_hash}")


def test_demand_shows_both_losses_and_the_gap_to_the_clock(line: Line) -> None:
    text = one_line(rate_page(with_run(line)))
    assert "takt 4.735 s" in text  # 2 * 7.5 h * 240 d * 0.95 / 2.6 million
    assert "62.5 % of the 5 760.0 clock hours of those days; 2 160.0 h are not planned" in text
    assert "5.0 % of planned time (losses_not_modelled)" in text
    assert "failures and repairs of press, unload; rejects of leak-1, leak-2; not taken off the takt again" in text


def test_limiting_station_and_by_how_much(line: Line) -> None:
    text = rate_page(with_run(line))
    assert "press: 4.500 s per good part, 0.500 s more than the next, unload." in text
    (marked,) = [row for row in text.splitlines() if row.endswith("<- limits")]
    assert marked.startswith("press ")


def test_bars_share_one_scale_with_the_takt(line: Line) -> None:
    rows = rate_page(with_run(line)).split("STEPS")[1].split("STATIONS")[0].splitlines()
    bars = {row.split()[0]: row for row in rows if "#" in row}
    assert len(bars) == len(line.route)
    assert len({row.index("|") for row in bars.values()}) == 1
    assert bars["press"].count("#") / bars["load"].count("#") == pytest.approx(4.5 / 3.0, abs=0.05)


def test_shares_of_every_station_add_up_to_100(line: Line) -> None:
    rows = rate_page(with_run(line)).split("STATIONS\n")[1].splitlines()
    names = [station.name for station in line.stations]
    table = {
        row.split()[0]: [float(cell) for cell in row.split()[1:]]
        for row in rows
        if row.split()[:1] and row.split()[0] in names
    }
    assert list(table) == names
    for cells in table.values():
        assert len(cells) == len(PLAIN_STATES) + 1
        assert cells[-1] == 100.0
        assert sum(cells[:-1]) == pytest.approx(100.0)
        assert cells[:-1] == pytest.approx([100 * share for share in SHARES[: len(PLAIN_STATES)]])


def test_waits_at_gates_stand_in_a_second_table_and_only_those_that_there_are(line: Line) -> None:
    run = stand_in_run(line)
    given = {"starved_share": 0.05, "operator_share": 0.06, "break_share": 0.04}
    columns = [
        Column(c.name, c.unit, np.full(len(line.stations), given[c.name])) if c.name in given else c
        for c in run.stations.columns
    ]
    text = rate_page(with_run(line, run, stations=Table(tuple(columns)))).split("STATIONS\n")[1].split("FINDINGS")[0]
    first, second = text.split("\n\n")[:2]
    assert "operator" not in first
    assert "break" not in first
    head, *rows = second.splitlines()
    assert head.split() == ["station", "operator", "break", "sum"]
    assert rows[0].split() == [line.stations[0].name, "6.0", "4.0", "100.0"]
    assert "changeover" not in text
    assert max(len(row) for row in text.splitlines()) <= WIDTH


def test_long_station_name_does_not_shift_the_columns(line: Line) -> None:
    run = stand_in_run(line)
    names = np.array(["a-station-with-a-very-long-name", *run.stations["station"][1:]])
    columns = [Column(c.name, c.unit, names) if c.name == "station" else c for c in run.stations.columns]
    rows = rate_page(with_run(line, run, stations=Table(tuple(columns)))).splitlines()
    after = rows[rows.index("a-station-with-a-very-long-name") + 1]
    press = next(row for row in rows if row.startswith("press  ") and row.rstrip().endswith("100.0"))
    assert after[15:] == press[15:]


def test_failing_check_is_told_at_the_top_even_if_the_rate_holds(line: Line) -> None:
    evaluation = with_run(line)
    bad = Finding("x-check", "layout", "fails", "somewhere", None, 1.0, 2.0, "m", -0.5, "s", "mend it")
    text = rate_page(replace(evaluation, findings=(*evaluation.findings, bad)))
    assert "BUT 1 OTHER CHECK FAILS" in text.split("DEMAND AND TAKT")[0]
    found = text.split("WORST FIRST")[1]
    assert found.index("FAILS        x-check: somewhere") < found.index("holds  ")
    assert "-> mend it" in found


def test_no_interval_says_why_at_the_top(line: Line) -> None:
    evaluation = with_run(line, rate=None, reason="there is one run", limiting=None, line_cycle_s=None)
    text = one_line(rate_page(evaluation))
    unchecked = sum(finding.verdict == "not checked" for finding in evaluation.findings)
    assert "NOT CHECKED: whether the line makes its takt is not known; no interval: there is one run." in text
    assert "None can be named" in text
    assert f"{unchecked} NOT CHECKED" in text.split("DEMAND AND TAKT")[0]


def test_line_without_demand_has_no_takt_to_make(line: Line) -> None:
    text = rate_page(with_run(line.model_copy(update={"demand": None})))
    assert text.splitlines()[2] == "NO TAKT TO JUDGE BY: the line file states no demand."
    assert "With 95 % confidence" in text
    assert "|" not in text.split("STEPS")[1].split("STATIONS")[0].split("shared")[1]


def test_page_without_a_run_still_gives_the_takt(line: Line) -> None:
    text = rate_page(evaluate_without_run(line))
    assert headings(text) == ["DEMAND AND TAKT", "FINDINGS, WORST FIRST", "WHAT THIS RESTS ON"]
    assert "NOT CHECKED" in text.splitlines()[2]


def test_rows_of_the_other_subjects_stand_in_short(line: Line) -> None:
    """The rate page does not grow by what the rate does not hang on, but it says what of it is wrong."""
    bare = with_run(line)
    about_rate = tuple(one for one in bare.findings if one.subject in ("rate", "layout", "motion"))
    evaluation = replace(bare, findings=about_rate)
    held = [Finding(f"h-{i}", "strength", "holds", "w", None, 1.0, 2.0, "N", 0.5, "s", "") for i in range(60)]
    wrong = Finding("press-force", "strength", "fails", "station press", None, 3.0, 2.0, "N", -0.5, "s", "less force")
    blind = Finding("implants", "safety", "not checked", "magnets", None, None, None, None, None, "s", "state it")
    before = rate_page(evaluation)
    after = rate_page(replace(evaluation, findings=(*evaluation.findings, *held, wrong, blind)))
    assert "BUT 1 OTHER CHECK FAILS" in after.split("DEMAND AND TAKT")[0]
    assert "Of strength, power and safety that is 1 row: linewright check LINE --run" in one_line(after)
    assert "Of strength" not in one_line(before)
    found = after.split("FINDINGS, WORST FIRST")[1].splitlines()
    assert "strength     1 FAIL, 60 hold" in found
    assert "  FAILS      press-force: station press: 3 N, at most 2 N, over by 50.0 %" in found
    assert "safety       1 NOT CHECKED" in found
    assert "h-1" not in after
    # What was there before is there still.
    assert set(before.split("FINDINGS, WORST FIRST")[1].split("WHAT THIS")[0].splitlines()) <= set(found)


def test_every_page_that_touches_safety_says_who_decides(line: Line) -> None:
    for text in (rate_page(with_run(line)), check_page(evaluate_without_run(line))):
        assert "a competent, licensed person decides" in one_line(text)
        assert "invented and matches no maker's conveyor" in one_line(text)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "Simulated: 4 runs of 8 h, seed 1; the first 10.0 min of each are warm-up and left out."),
        ({"warm_up_s": 0.0}, "no warm-up was found"),
        ({"rate": None, "reason": "one run"}, "no warm-up could be judged"),
    ],
)
def test_what_the_run_was_is_told(line: Line, changes: dict[str, Any], words: str) -> None:
    assert words in one_line(rate_page(with_run(line, **changes)))


def test_fixed_time_of_manual_work_is_told(line: Line) -> None:
    by_hand = line.model_copy(
        update={"stations": tuple(s.model_copy(update={"work": "manual"}) for s in line.stations)}
    )
    assert "Work by hand never is (press, mark, scrap, unload)" in one_line(rate_page(with_run(by_hand)))


def test_name_cannot_steer_the_terminal() -> None:
    assert page(["a\x1b[31mred\x07", "b\u202e"]) == "a?[31mred?\nb?\n"


@pytest.mark.parametrize(
    ("shares", "expected"),
    [
        ([0.333, 0.333, 0.334], [33.3, 33.3, 33.4]),
        ([0.12345, 0.87655], [12.3, 87.7]),
        ([1.0, 0.0, 0.0], [100.0, 0.0, 0.0]),
        ([0.00049] * 2 + [0.99902], [0.1, 0.0, 99.9]),
        ([0.3, 0.3], [30.0, 30.0]),  # not whole: not mended
    ],
)
def test_rounded_shares(shares: list[float], expected: list[float]) -> None:
    assert rounded_shares(shares) == expected


def test_rounded_shares_always_add_up() -> None:
    for shares in np.random.default_rng(5).dirichlet(np.ones(10), size=300):
        rounded = rounded_shares(list(shares))
        assert round(sum(rounded), 9) == 100.0
        assert max(abs(100 * s - r) for s, r in zip(shares, rounded, strict=True)) <= 0.1 + 1e-9


def test_counts(line: Line) -> None:
    evaluation: Evaluation = with_run(line)
    words = page([counts_sentence(evaluation.findings)])
    numbers = [int(n) for n in re.findall(r"\d+", words)]
    assert sum(numbers) == len(evaluation.findings)
    assert re.match(r"Findings: \d+ fail, \d+ NOT CHECKED, \d+ tight, \d+ hold\.", words)
