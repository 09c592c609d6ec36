"""The page and the data of ``size``, on a sizing whose figures are written down here."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from linewright.flow.statistics import Interval
from linewright.handover.files import json_text
from linewright.handover.pages.size_answer import COUNT_COLUMNS, size_answer, size_files
from linewright.handover.pages.size_page import advised_count, counts_text, size_page
from linewright.handover.wording import WIDTH
from linewright.layout import lay_out
from linewright.planning.choices import Choices, Lower, OneOut, Plateau, SmallestNear
from linewright.planning.size import CountRow, Sizing
from linewright.planning.waiting_stops import WaitingStops
from unit.handover.stand_in_run import demo_line


def around(mean: float, half: float = 5.0, confidence: float = 0.95) -> Interval:
    return Interval(mean, mean - half, mean + half, confidence)


def row(carriers: int, mean: float, **changes: Any) -> CountRow:
    made = CountRow(
        carriers=carriers,
        rate=around(mean),
        reason=None,
        upper_bound_per_h=900.0,
        bound="press",
        of_bound=mean / 900.0,
        above_bounds=False,
        blocked_share=0.002 * carriers,
        limiting_step="press",
        limiting_blocked_share=0.01,
        round_s=60.0,
        loop_s=50.0,
        stalled_runs=0,
    )
    return replace(made, **changes)


CHOICES = Choices(
    reason=None,
    plateau=Plateau(16, around(800.0), (13, 15, 16), at_end=False),
    smallest_near=SmallestNear(13, around(-1.0, 0.5), 12),
    smallest_meeting_takt=12,
    smallest_meeting_takt_one_out=13,
    all_fail=False,
    one_out=OneOut(13, around(799.0), around(3.0, 1.0), True),
    onset_of_blocking=13,
    lower=(Lower(17, 16, around(-20.0, 2.0, 0.99)), Lower(18, 16, around(-2.0, 1.0, 0.99))),
)
STOPS = (
    WaitingStops(
        "station press", "upper", (5, 4), (0.5, 0.125), (9.0, 3.0), 2, around(4.0, 1.0), "earns its place", ""
    ),
    WaitingStops("dock of east-lift", "upper", (9,), (0.0,), (0.0,), 0, around(0.0, 0.0), "does nothing", ""),
    WaitingStops("station mark", "upper", (12,), (0.1,), (2.0,), 1, around(-9.0, 1.0), "lowers the rate", ""),
    WaitingStops("station load", "lower", (20,), (0.1,), (2.0,), 1, None, "not tried", "the 14 carriers need it"),
)


@pytest.fixture
def sizing(tmp_path: Path) -> Sizing:
    line = demo_line(tmp_path)
    rows = [
        row(n, mean)
        for n, mean in ((11, 700.0), (12, 770.0), (13, 799.0), (14, 796.0), (15, 800.0), (16, 800.0), (17, 780.0))
    ]
    return Sizing(line, lay_out(line), tuple(rows), 24, 44, 760.2, CHOICES, STOPS, 2.0, 300.0, 8.0, 10, 1)


def changed(sizing: Sizing, **changes: Any) -> Sizing:
    return replace(sizing, choices=replace(sizing.choices, **changes))


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_the_page_answers_first_and_keeps_to_its_width(sizing: Sizing) -> None:
    page = size_page(sizing)
    assert page.splitlines()[2] == "BUY 13 CARRIERS: 12 ARE THE FEWEST THAT MEET THE TAKT, AND ONE MAY BE OUT."
    assert max(len(line) for line in page.splitlines()) <= WIDTH
    assert page.endswith("\n")
    for words in (
        "With 12 the average rate lies between 765.0 and 775.0 good parts per hour with 95 % confidence; the demand",
        "More than 13 carriers give no more: with them the rate is within 0.5 % of the most.",
        "The line file has 14: 1 more than that.",
        "plateau 800.0 (795.0 to 805.0) per hour with 16 carriers; as good: 13, 15, 16",
        "13 carriers: -1.0 (-1.5 to -0.5) per hour against the plateau; 12 by the mean alone",
        "13 of the file's 14: 799.0 (794.0 to 804.0) per hour, +3.0 (+2.0 to +4.0) against all; still meets the takt",
        "13 carriers: from there on more than 1 % of all stations' time is blocked",
        "with 17 carriers the rate is LOWER than with fewer; with 18 it is lower than with fewer, by less than 0.5 %;",
        "-20.0 (-22.0 to -18.0) per hour against 16",
        "24: the first station, the waiting stops and the dock stops, where they stand at time zero",
        "the sheet allows 44",
        "The conveyor sheet demo-heavy is invented",
        "CAUTION.",
    ):
        assert words in flat(page), words


def test_the_table_marks_the_advised_count_and_the_file_s(sizing: Sizing) -> None:
    lines = size_page(sizing).splitlines()
    (advised,) = [line for line in lines if line.startswith(">")]
    (mine,) = [line for line in lines if line.startswith(" *")]
    assert advised.split()[:7] == [">", "13", "799.0", "794.0", "804.0", "900.0", "press"]
    assert mine.split()[1] == "14"
    assert advised.endswith("  " + "#" * 18 + "|")  # 760.2 of 800 on a bar of 19
    assert lines[lines.index(advised) - 2].endswith("  " + "#" * 17 + " |")


def test_the_waiting_stops_are_judged_one_by_one(sizing: Sizing) -> None:
    page = size_page(sizing)
    assert re.search(r"station press +2 +2 +50\.0 % +12\.5 % +\+4\.0 \(\+3\.0 to \+5\.0\) +earns its place", page)
    assert re.search(r"station load +1 +1 +10\.0 % +10\.0 % +- +not tried\n +\(the 14 carriers need it\)", page)
    for words in (
        "1 of 5 waiting stops are never halted at.",
        "The farthest one does nothing before: dock of east-lift.",
        "The farthest one LOWERS the rate before: station mark.",
    ):
        assert words in flat(page), words
    assert "--stops says which of them" in flat(size_page(replace(sizing, waiting_stops=None)))
    assert "The track has none." in size_page(replace(sizing, waiting_stops=()))


@pytest.mark.parametrize(
    ("changes", "first"),
    [
        (
            {"smallest_meeting_takt_one_out": None},
            "BUY 12 CARRIERS: 12 ARE THE FEWEST THAT MEET THE TAKT.",
        ),
        (
            {"smallest_meeting_takt": None, "smallest_meeting_takt_one_out": None, "all_fail": True},
            "NO NUMBER OF CARRIERS FROM 11 TO 17 MEETS THE TAKT.",
        ),
        (
            {"smallest_meeting_takt": None, "smallest_meeting_takt_one_out": None},
            "UNDECIDED: NO NUMBER OF CARRIERS FROM 11 TO 17 IS SHOWN TO MEET THE TAKT.",
        ),
        (
            {"plateau": None, "smallest_near": None, "smallest_meeting_takt": None, "reason": "one run is no interval"},
            "NOT CHECKED: how many carriers are enough is not known; one run is no interval.",
        ),
    ],
)  # fmt: skip
def test_the_first_sentence(sizing: Sizing, changes: dict[str, Any], first: str) -> None:
    assert size_page(changed(sizing, **changes)).splitlines()[2] == first


def test_without_a_demand_the_plateau_is_the_answer(sizing: Sizing) -> None:
    bare = replace(changed(sizing, smallest_meeting_takt=None), required_rate_per_h=None)
    page = flat(size_page(bare))
    assert "13 CARRIERS GIVE ALL THE RATE THERE IS TO HAVE." in page
    assert "No takt to judge by: the line file states no demand." in page
    assert advised_count(bare) == 13


def test_where_no_count_is_enough_it_says_what_lacks(sizing: Sizing) -> None:
    none = changed(sizing, smallest_meeting_takt=None, smallest_meeting_takt_one_out=None, all_fail=True)
    assert "Carriers are not what is lacking: press takes the most time per good part." in flat(size_page(none))
    rising = replace(
        changed(none, plateau=Plateau(17, around(700.0), (17,), True), smallest_near=SmallestNear(17, around(0.0), 17)),
        counts=(row(16, 600.0), row(17, 700.0)),
    )
    page = flat(size_page(rising))
    assert "The rate still rises at the last count looked at: look further with --to (at most 24)." in page
    assert "Carriers are not what is lacking" not in page


def test_what_is_wrong_or_stands_still_is_said_loudly(sizing: Sizing) -> None:
    rows = (row(12, 770.0, stalled_runs=1), row(13, 0.0, rate=None, of_bound=None, round_s=None, stalled_runs=3))
    page = flat(size_page(replace(sizing, counts=rows)))
    assert "STANDS STILL with 12, 13 carriers: with 13, 3 of 10 runs finish no good part in their last quarter." in page
    wrong = replace(sizing, counts=(row(12, 770.0, above_bounds=True),))
    assert size_page(wrong).splitlines()[2].startswith("SOMETHING IS WRONG: with 12 carriers")


def test_more_than_the_sheet_allows_is_said(sizing: Sizing) -> None:
    page = flat(size_page(replace(sizing, most_on_sheet=12)))
    assert "The line file has 14: 1 more than that. BUT THE SHEET ALLOWS NO MORE THAN 12." in page
    assert "THE SHEET ALLOWS" not in size_page(replace(sizing, most_on_sheet=None))


def test_what_it_rests_on_says_what_was_simulated(sizing: Sizing) -> None:
    assert "10 runs of 8 h for each count, seed 1" in flat(size_page(sizing))
    assert "The first 5.0 min of each are warm-up" in flat(size_page(sizing))
    blind = replace(changed(sizing, plateau=None, smallest_near=None, reason="at least 2 runs are needed"), runs=1)
    assert "1 run of 8 h for each count" in flat(size_page(blind))
    assert "No warm-up could be judged, so nothing is left out." in flat(size_page(blind))


def test_numbers_in_a_row_are_drawn_together() -> None:
    assert counts_text(()) == ""
    assert counts_text((7,)) == "7"
    assert counts_text((1, 2, 4, 5, 6)) == "1, 2, 4 to 6"


def test_the_data_hold_every_result(sizing: Sizing) -> None:
    data = json.loads(json_text(size_answer(sizing)))
    assert [one["carriers"] for one in data["counts"]] == [11, 12, 13, 14, 15, 16, 17]
    assert data["counts"][1]["rate_per_h"] == {"mean": 770.0, "low": 765.0, "high": 775.0, "confidence": 0.95}
    assert data["plateau"]["counts"] == [13, 15, 16]
    assert data["smallest_within_half_percent"]["carriers"] == 13
    assert (data["smallest_meeting_takt"], data["smallest_meeting_takt_one_out"]) == (12, 13)
    assert data["one_out"]["carriers"] == 13
    assert data["onset_of_blocking"] == 13
    assert [one["carriers"] for one in data["lower_than_fewer"]] == [17, 18]
    assert [one["worth"] for one in data["waiting_stops"]] == [stop.worth for stop in STOPS]
    assert data["waiting_stops"][3]["farthest_gain_per_h"] is None
    assert data["input_hash"] == sizing.line.input_hash
    none = changed(sizing, plateau=None, smallest_near=None, one_out=None)
    bare = size_answer(replace(none, waiting_stops=None))
    assert (bare["plateau"], bare["smallest_within_half_percent"], bare["one_out"]) == (None, None, None)
    assert bare["waiting_stops"] is None


def test_the_files_hold_page_data_and_rows(sizing: Sizing) -> None:
    files = size_files(replace(sizing, counts=(row(12, 770.0), row(13, 0.0, rate=None, reason="stuck"))))
    assert list(files) == ["page.txt", "answer.json", "counts.csv", "carriers.svg", "carriers.png"]
    assert files["page.txt"]().startswith(b"Valve body, two decks\n")
    assert json.loads(files["answer.json"]())["runs"] == 10
    head, first, second = files["counts.csv"]().decode("utf-8-sig").splitlines()
    assert head.split(",") == list(COUNT_COLUMNS)
    assert first.startswith("12,770.0,765.0,775.0,0.95,900.0,press,")
    assert second.startswith("13,,,,,900.0,press,")
    assert second.endswith(",stuck")


def test_the_first_count_looked_at_is_not_called_the_fewest_of_all(sizing: Sizing) -> None:
    page = size_page(replace(sizing, counts=sizing.counts[1:]))
    assert "12 ARE THE FEWEST THAT MEET THE TAKT OF THOSE LOOKED AT, AND ONE MAY BE OUT." in page
