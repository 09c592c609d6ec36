"""What the referee says as findings: what holds, what fails, and that nothing looked at is not checked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewright.checks.referee import FAULT, referee_findings
from linewright.traffic.referee import GreatestUse, LeastGap, Looked, RefereeReport, Violation
from linewright.traffic.referee.report import KINDS, ViolationKind, listed
from unit.layout.track_lines import branch_line, to_and_fro_line

SOUND = RefereeReport(
    least_gap=LeastGap(0.092, 0.0, 1_500_000.0, 1, 0, "back", 0.3),
    grid_spare_m=0.0,
    use=GreatestUse(1.85, 14.0, 260.0, 1.0, "drive speed"),
    least_reaction_s=0.015,
    most_aboard=(("west", 1), ("east", 1)),
    looked=Looked(100, 9, 12, 240, 30, 4000, 103, 40, 60, 50, 10),
    violations=(),
    violated=listed([])[1],
    until_us=60_000_000,
)
CODES = ["clear-gap", "log-limits", "stop-occupancy", "dock-crossings", "reaction"]


def test_a_sound_log_holds() -> None:
    findings = referee_findings(SOUND, branch_line())
    assert [one.code for one in findings] == CODES
    assert {one.verdict for one in findings} == {"holds"}
    assert {one.subject for one in findings} == {"traffic"}
    gap, limits, stops, _, reaction = findings
    assert (gap.value, gap.limit, gap.unit, gap.margin) == (0.092, 0.092, "m", 0.0)
    assert (limits.value, limits.limit) == (1.0, 1.0)
    assert stops.value == 0.0
    assert (reaction.value, reaction.limit, reaction.unit) == (0.015, 0.012, "s")
    assert reaction.margin == pytest.approx(0.25)
    assert all(one.remedy == "" and one.source for one in findings)


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("gap", "clear-gap"),
        ("witness", "clear-gap"),
        ("limits", "log-limits"),
        ("log", "log-limits"),
        ("stop", "stop-occupancy"),
        ("transfer", "dock-crossings"),
        ("reaction", "reaction"),
    ],
)
def test_each_kind_of_violation_fails_its_row_alone(kind: ViolationKind, code: str) -> None:
    wrong = [Violation(kind, time, (1, 0), f"carrier 1 does wrong at {time}", None, None, "") for time in (7, 3)]
    shown, counted = listed(wrong)
    findings = referee_findings(replace(SOUND, violations=shown, violated=counted), branch_line())
    assert [one.code for one in findings if one.verdict == "fails"] == [code]
    (failed,) = (one for one in findings if one.verdict == "fails")
    assert "2 violations, the first: carrier 1 does wrong at 3" in failed.where
    assert failed.remedy == FAULT


def test_every_kind_of_violation_has_its_row() -> None:
    for kind in KINDS:
        shown, counted = listed([Violation(kind, 0, (), "wrong", None, None, "")])
        report = replace(SOUND, violations=shown, violated=counted)
        assert not report.holds
        assert [one.verdict for one in referee_findings(report, branch_line())].count("fails") == 1


def test_nothing_looked_at_is_not_checked() -> None:
    nothing = replace(
        SOUND, least_gap=None, use=None, least_reaction_s=None, looked=Looked(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    )
    findings = referee_findings(nothing, branch_line())
    assert {one.verdict for one in findings} == {"not checked"}
    assert all(one.remedy for one in findings)


def test_without_a_transfer_there_is_no_crossing() -> None:
    assert [one.code for one in referee_findings(SOUND, to_and_fro_line(300, 1100))] == [
        code for code in CODES if code != "dock-crossings"
    ]
