"""The findings of the proof: its two questions."""

from __future__ import annotations

from dataclasses import replace

from linewright.checks.gridlock import cured_place, gridlock_findings
from linewright.traffic.gridlock.result import Cure
from unit.handover.stand_in_proof import after_a_stop, can_lock, never, spur, undecided


def test_a_line_that_never_locks_holds_with_what_is_left() -> None:
    start, stop = gridlock_findings(replace(never(), carriers=6), spur())
    assert (start.code, stop.code) == ("gridlock", "gridlock-after-a-stop")
    assert (start.verdict, stop.verdict) == ("holds", "holds")
    assert (start.value, start.limit, start.unit) == (6.0, 9.0, "carriers")
    assert start.margin is not None
    assert abs(start.margin - 1 / 3) < 1e-12
    assert start.remedy == ""
    assert start.place is not None


def test_one_carrier_below_the_limit_is_no_worse_a_proof() -> None:
    start, _ = gridlock_findings(never(), spur())
    assert (start.value, start.limit, start.margin, start.verdict) == (9.0, 9.0, 0.0, "holds")


def test_a_line_that_can_lock_fails_and_says_what_cures_it() -> None:
    start, stop = gridlock_findings(can_lock(), spur())
    assert (start.verdict, stop.verdict) == ("fails", "fails")
    assert start.margin is not None
    assert start.margin < 0.0
    assert "admit at most 4 carriers to lanes spur-out, spur-back and transfer far-lift" in stop.remedy
    assert "at most 11 carriers never lock from the planned start" in start.remedy
    assert "at most 9 carriers never lock however they stand" in stop.remedy
    one = gridlock_findings(replace(can_lock(), largest_count=1), spur())[1]
    assert "1 carrier never locks wherever it stands" in one.remedy
    result = can_lock()
    assert result.cure is not None
    partly = replace(result, cure=replace(result.cure, from_any_placement=False))
    start, stop = gridlock_findings(partly, spur())
    assert "admit" in start.remedy
    assert "admit" not in stop.remedy


def test_the_two_questions_have_verdicts_of_their_own() -> None:
    start, stop = gridlock_findings(after_a_stop(), spur())
    assert (start.verdict, stop.verdict) == ("holds", "fails")
    assert "put all of them, empty, as at the planned start; or: at most 9 carriers" in stop.remedy
    assert "as at the planned start" not in gridlock_findings(can_lock(), spur())[1].remedy  # it would lock from there


def test_undecided_is_not_checked() -> None:
    for finding in gridlock_findings(undecided(), spur()):
        assert finding.verdict == "not checked"
        assert "nothing is proven" in finding.remedy
        assert finding.margin is None


def test_a_line_that_any_number_suits_has_no_limit() -> None:
    _, stop = gridlock_findings(replace(never(), largest_count=None), spur())
    assert (stop.limit, stop.margin, stop.verdict) == (None, None, "holds")


def test_where_a_cure_counts_is_told_in_words() -> None:
    assert cured_place(Cure((), ("lift",), None, None, 2, True)) == "transfer lift"
    assert cured_place(Cure(("a",), (), 0.0, 1.5, 2, True)) == "lane a from 0 mm to 1500 mm"
