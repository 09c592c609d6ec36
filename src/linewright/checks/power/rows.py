"""How a row on power is made, and the rows of each feeder on currents and restart."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from linewright.checks.power.feeders import SAME, Electrics, FeederPower
from linewright.findings import TIGHT_MARGIN, Finding, judge
from linewright.line.electrics import Feeder
from linewright.line.model import Line
from linewright.line.spoken import rounded
from linewright.remedies import rounded_away, spare_for

SUBJECT: Final = "power"
PAGE: Final = "docs/limits/power.md"
Remedy = str | Callable[[float], str]
RUN_REMEDY: Final = "linewright check --run: the currents come from a run"


def at_most(
    code: str,
    where: str,
    place: tuple[str | int, ...],
    line: Line,
    value: float,
    limit: float,
    unit: str,
    source: str,
    remedy: Remedy,
) -> Finding:
    """A row whose value may reach its limit. An endless value has no number.

    The remedy is asked for with the share of the limit that may be used: all of it where the row fails; where it is
    tight what leaves the tenth that `holds` needs. A text alone stands for a row that fails.
    """
    endless = math.isinf(value)
    margin = -1.0 if endless else (1.0 - value / limit if limit > 0.0 else (0.0 if value <= limit else -1.0))
    for exact in (0.0, TIGHT_MARGIN):  # float noise decides no verdict
        margin = exact if abs(margin - exact) <= SAME else margin
    verdict = judge(margin)
    if isinstance(remedy, str):
        told_remedy = remedy if verdict == "fails" else ""
    else:
        told_remedy = "" if verdict == "holds" else remedy(1.0 - spare_for(verdict))
    return Finding(
        code,
        SUBJECT,
        verdict,
        where,
        line.place(*place),
        None if endless else value,
        limit,
        unit,
        margin,
        source,
        told_remedy,
    )


def not_checked(code: str, where: str, place: tuple[str | int, ...], line: Line, source: str, remedy: str) -> Finding:
    """A row for which a figure of the line file is missing."""
    return Finding(code, SUBJECT, "not checked", where, line.place(*place), None, None, None, None, source, remedy)


def told(code: str, where: str, place: tuple[str | int, ...], line: Line, value: float, unit: str) -> Finding:
    """A row for information: a value without a limit."""
    return Finding(code, SUBJECT, "holds", where, line.place(*place), value, None, unit, None, PAGE, "")


def current_rows(line: Line, electrics: Electrics, power: FeederPower) -> list[Finding]:
    """Peak of the run, and the restart of all carriers, against what the supplies give."""
    name, track = power.feeder.name, power.track
    place = ("feeders", name, "supplies")
    rows = []
    if power.run is not None:
        peak_A = power.run.peak_A
        rows.append(
            at_most(
                "feeder-peak",
                f"feeder {name}: worst 10 ms of the first {rounded(power.run.span_s, 4)} s after the warm-up",
                place,
                line,
                peak_A,
                power.limit_A,
                "A",
                f"{PAGE}, Current of the run; the conveyor sheet's supply current",
                lambda share: _more_supplies(peak_A / share, electrics),
            )
        )
    rows.append(
        at_most(
            "all-restart",
            f"feeder {name}: {start_words(power.carriers)} on {counted(len(track.sections), 'section')}, "
            f"{rounded(electrics.restart_W, 3)} W each",
            place,
            line,
            power.restart_A,
            power.limit_A,
            "A",
            f"{PAGE}, Restart; the conveyor sheet's supply current",
            lambda share: _more_supplies(power.restart_A / share, electrics),
        )
    )
    return rows


def _more_supplies(needed_A: float, electrics: Electrics) -> str:
    if math.isinf(needed_A):
        return "thicker or shorter cable and links, or shorter feeders: they cannot carry that power at all"
    return f"write supplies: {math.ceil(needed_A / electrics.supply_A - 1e-9)}"


def down(value: float) -> float:
    """A value that may be at most so great, three digits."""
    return rounded_away(value, math.inf)


def up(value: float) -> float:
    """A value that must be at least so great, three digits."""
    return rounded_away(value, 0.0)


def counted(count: int, noun: str) -> str:
    """A number and what is counted: 1 carrier, 2 carriers."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def named(feeders: Sequence[Feeder]) -> str:
    """Feeders by their names."""
    return f"feeder{'' if len(feeders) == 1 else 's'} {', '.join(one.name for one in feeders)}"


def start_words(carriers: int) -> str:
    """Who starts in a restart."""
    return "1 carrier starts" if carriers == 1 else f"{carriers} carriers start at once"
