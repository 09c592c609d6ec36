"""The finding about many stops."""

from __future__ import annotations

from dataclasses import replace

from linewright.checks.recovery import recovery_findings
from linewright.flow.recovery import Recovery
from linewright.flow.stop_chain import PartCount, Still, StopOutcome
from linewright.line.load import read_line
from unit.flow.test_stopping import TEXT

LINE = read_line(TEXT, "line")
STILL = Still(carrier=2, stop=7, where="at station load", moved=False, parts=0, next_step="load")


def outcome(holds: bool, from_empty: bool = True, stood_before: bool = False) -> StopOutcome:
    return StopOutcome(
        chain=4, number=2, seed=4001, at_s=1234.5, since_s=600.0, from_empty=from_empty, good_before=9,
        stood_before=stood_before, under_way=1, rejected=1, by_hand=0, recovery_s=5.0, good_after_s=3.0,
        before_next=True, next_s=700.0, looked_s=1200.0, good=1, holds=holds, parts=PartCount(9, 8, 1, 0, 0),
        carriers=(), still=() if holds else (STILL,),
    )  # fmt: skip


def found(*outcomes: StopOutcome) -> Recovery:
    failing = tuple(one for one in outcomes if not one.holds)
    return Recovery(
        len(outcomes), len(failing), 5.0, 5.0, 3.0, 3.0, 1.0, 0.0, 60.0, 1200.0, 0.1, 1, 8, failing, outcomes
    )


def test_all_hold() -> None:
    (finding,) = recovery_findings(found(outcome(True), outcome(True)), LINE)
    assert (finding.code, finding.subject, finding.verdict) == ("recovery", "traffic", "holds")
    assert (finding.value, finding.limit, finding.unit, finding.margin, finding.remedy) == (2.0, 2.0, "stops", 0.0, "")


def test_one_fails_and_can_be_seen() -> None:
    (finding,) = recovery_findings(found(outcome(True), outcome(False, from_empty=False), outcome(False)), LINE)
    assert (finding.verdict, finding.value, finding.limit) == ("fails", 1.0, 3.0)
    assert "linewright restart LINE --at '1234.500000 s' --seed 4001" in finding.remedy
    assert "carrier 2 at station load, next load" in finding.remedy
    assert "after_power_loss: repeat" in finding.remedy
    kept = tuple(replace(outcome(False), rejected=0) for _ in range(2))
    assert "after_power_loss" not in recovery_findings(found(*kept), LINE)[0].remedy


def test_one_that_cannot_be_shown_alone_is_told() -> None:
    (finding,) = recovery_findings(found(outcome(False, from_empty=False)), LINE)
    assert "run 4, stop 2, 1234.500000 s after that began empty with seed 4001" in finding.remedy
    (finding,) = recovery_findings(found(outcome(False, stood_before=True)), LINE)
    assert "stood before the stop already; linewright prove LINE shows how" in finding.remedy


def test_without_a_recovery_nothing_is_checked() -> None:
    (finding,) = recovery_findings(None, LINE, "no traffic can be planned")
    assert (finding.verdict, finding.remedy, finding.value) == ("not checked", "no traffic can be planned", None)
