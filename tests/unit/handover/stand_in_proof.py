"""Invented results of a proof with round figures, on a line of three lanes that share one lift."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from linewright.checks.gridlock import gridlock_findings
from linewright.checks.recovery import recovery_findings
from linewright.checks.referee import dead_section_findings, referee_findings
from linewright.flow.recovery import PartCount, Recovery, Still, StopOutcome
from linewright.handover.pages.prove_story import Names
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.proof import Proof
from linewright.traffic.compile import compile_plan
from linewright.traffic.dead_section import Contact, DeadSection
from linewright.traffic.gridlock.result import Answer, Cure, GridlockResult, Jam, Standing, WayStep
from linewright.traffic.referee.report import KINDS, GreatestUse, LeastGap, Looked, RefereeReport, Violation

LOCKS = Path(__file__).parents[3] / "examples" / "locks"

SAFE = Answer("never locks", "room", 10, 0, "a jam needs a ring of at least 10 carriers; the line has 9")
SEARCHED = Answer("undecided", "searched", 10, 1_000_000, "the search ended at its bound of memory")


@cache
def names() -> Names:
    """Of the spur: ``load`` is stop 6, ``etch`` stop 47; aboard the lifts are 19, 39 and 44."""
    layout = lay_out(spur())
    return Names(layout, compile_plan(spur(), layout))


@cache
def spur() -> Line:
    return load_line(LOCKS / "spur.yaml")


def jam() -> Jam:
    """Three that hold each other, one behind them, one free, ``etch`` lost."""
    ring = (
        Standing(2, 19, 2, False, "a part of etched", 1, 40, "way"),
        Standing(1, 43, 2, False, "a part of etched", 0, 44, "stretch"),
        Standing(0, 48, 3, True, "a part of etched", 2, 19, "platform"),
    )
    others = (Standing(3, 18, 2, False, "a part of plain", 2, 19, "platform"),)
    return Jam(ring, others, (4,), (2,))


def locked() -> Answer:
    start = tuple(Standing(carrier, 6 - carrier, 0, False, "nothing") for carrier in range(5))
    way = (
        WayStep("work ends", 1_600_000, 0, 6, 6, 1, "a part of etched"),
        WayStep("moves", 1_700_000, 0, 6, 13, 1, "a part of etched"),
        WayStep("moves", 3_700_000, 4, 2, 5, 0, "nothing"),
    )
    return Answer("can lock", "jam", 3, 4321, "three hold each other", start, way, shortest=True, jam=jam())


def never() -> GridlockResult:
    return GridlockResult(9, SAFE, SAFE, 9, 9, 43)


def can_lock() -> GridlockResult:
    cure = Cure(("spur-out", "spur-back"), ("far-lift",), None, None, 4, True)
    return GridlockResult(12, locked(), locked(), 9, 11, 43, cure, 3)


def after_a_stop() -> GridlockResult:
    """Not from the planned start, but it stands locked when put back so."""
    at_once = replace(locked(), way=(), start=(*jam().ring, *jam().others, Standing(4, 6, 0, False, "nothing")))
    return GridlockResult(12, SAFE, at_once, 9, 12, 43, None, 5)


def undecided() -> GridlockResult:
    return GridlockResult(12, SEARCHED, SEARCHED, 9, 9, 43)


# ---- the rest of a proof ---------------------------------------------------------------------------------------------


def clean_report() -> RefereeReport:
    looked = Looked(
        moves=226_246,
        legs=43,
        pairs=29_776,
        stretches=503_750,
        exact=27_784,
        grid=5_662_315,
        stops=226_258,
        crossings=69_150,
        straight_on=12,
        reactions=190_660,
        reactions_exact=81_672,
        unjudged=108_988,
    )
    return RefereeReport(
        least_gap=LeastGap(0.0925, 0.0005, 1_234_500, 4, 3, "out", 0.75),
        grid_spare_m=0.00051,
        use=GreatestUse(1.85, 13.5, 260.0, 1.0, "jerk of an empty carrier"),
        least_reaction_s=0.0015,
        most_aboard=(("middle-lift", 1),),
        looked=looked,
        violations=(),
        violated=tuple((kind, 0) for kind in KINDS),
        until_us=28_800_000_000,
    )


def faulty_report() -> RefereeReport:
    near = Violation("gap", 2_000_000, (4, 3), "two carriers come nearer than the least pitch", 0.09, 0.092, "m")
    counted = tuple((kind, 7 if kind == "gap" else 0) for kind in KINDS)
    return replace(clean_report(), violations=(near,) * 7, violated=counted)


DEAD = DeadSection(
    standing=Contact(0.42, 0.057, 0.65, 4, 3, 1_234_000.0, "out", 2, 0.8),
    coasting=None,
    least_drag_N=1.5,
    left_m=0.0,
    reaction_s=0.0015,
    pairs=321,
)


def stop_outcome(holds: bool) -> StopOutcome:
    return StopOutcome(
        chain=1,
        number=3,
        seed=1001,
        at_s=1234.5,
        since_s=400.0,
        from_empty=not holds,
        good_before=5,
        stood_before=False,
        under_way=4,
        rejected=1,
        by_hand=0,
        recovery_s=20.0,
        good_after_s=12.0 if holds else None,
        before_next=holds,
        next_s=600.0,
        looked_s=1200.0,
        good=15 if holds else 0,
        holds=holds,
        parts=PartCount(10, 6, 1, 0, 3),
        carriers=(),
        still=() if holds else (Still(3, 13, "at station print", False, 1, "etch"),),
    )


def recovered(failed: int = 0) -> Recovery:
    failing = tuple(stop_outcome(False) for _ in range(failed))
    good = tuple(stop_outcome(True) for _ in range(200 - failed))
    return Recovery(200, failed, 33.0, 20.0, 16.7, 8.0, 0.5, 0.1, 90.0, 600.0, 0.1, 1, 8, failing, failing + good)


def proof(
    gridlock: GridlockResult | None = None,
    report: RefereeReport | None = None,
    recovery: Recovery | None = None,
    no_recovery: str = "",
) -> Proof:
    """Of the spur: all holds unless told otherwise."""
    locks, judged = gridlock or never(), report or clean_report()
    found = None if no_recovery else recovery or recovered()
    findings = gridlock_findings(locks, spur()) + referee_findings(judged, spur())
    findings += dead_section_findings(DEAD, spur()) + recovery_findings(found, spur(), no_recovery)
    return Proof(
        line=spur(),
        layout=names().layout,
        plan=names().plan,
        gridlock=locks,
        referee=judged,
        dead_section=DEAD,
        recovery=found,
        no_recovery=no_recovery,
        findings=findings,
        shift_s=28_800.0,
        seed=1,
    )
