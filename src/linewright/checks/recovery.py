"""Do good parts come again after every one of many stops, as a finding."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from linewright.findings import Finding

if TYPE_CHECKING:
    from linewright.flow.recovery import Recovery, StopOutcome
    from linewright.line.model import Line

RULE: Final = "docs/semantics.md, The recovery"
MOST_NAMED: Final = 3
"""So many carriers that stand still are named."""


def recovery_findings(recovery: Recovery | None, line: Line, why_not: str = "") -> tuple[Finding, ...]:
    """The finding ``recovery``.

    Parameters
    ----------
    recovery : the line stopped again and again; None where that could not be tried
    line : the line
    why_not : why it could not, in words

    Returns
    -------
    tuple of Finding   One. value: stops after which good parts came and went on coming; limit: all stops.
        ``fails`` if they did not after one of them, ``not checked`` without a recovery.

    Source     docs/semantics.md, The recovery.
    """
    place = line.place("carriers")
    if recovery is None:
        return (
            Finding(
                "recovery", "traffic", "not checked", "no stop tried", place, None, None, None, None, RULE, why_not
            ),
        )
    held, failed = recovery.stops - recovery.failed, recovery.failed
    return (
        Finding(
            code="recovery",
            subject="traffic",
            verdict="fails" if failed else "holds",
            where=f"{recovery.stops} random stops, seed {recovery.seed}",
            place=place,
            value=float(held),
            limit=float(recovery.stops),
            unit="stops",
            margin=-failed / recovery.stops if failed else 0.0,
            source=RULE,
            remedy=_remedy(recovery) if failed else "",
        ),
    )


def _remedy(recovery: Recovery) -> str:
    """The first stop that fails, of those that `restart` can show if there is one: what happens and how to see it."""
    one = next((stop for stop in recovery.failing if stop.from_empty), recovery.failing[0])
    if one.stood_before:
        return f"{_when(one)}: the line stood before the stop already; linewright prove LINE shows how it locks up"
    come = "no good part comes" if not one.good else "good parts come for a while, then none"
    still = [f"carrier {stands.carrier} {stands.where}, next {stands.next_step}" for stands in one.still]
    left = len(still) - MOST_NAMED
    names = "; ".join(still[:MOST_NAMED]) + (f"; {left} more" if left > 0 else "")
    who = f". Who stands still: {names}" if names else ""
    lost = any(stop.rejected + stop.by_hand for stop in recovery.failing)
    again = ". Where a work may be done again, after_power_loss: repeat keeps its part in its order" if lost else ""
    return f"{_when(one)}: {come} within {one.looked_s / 60:.0f} min{who}{again}"


def _when(one: StopOutcome) -> str:
    if one.from_empty:
        return f"see `linewright restart LINE --at '{one.at_s:.6f} s' --seed {one.seed}`"
    return f"run {one.chain}, stop {one.number}, {one.at_s:.6f} s after that began empty with seed {one.seed}"
