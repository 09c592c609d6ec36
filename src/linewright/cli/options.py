"""What the commands read: their options, and how a word becomes a number, a quantity or a name."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Annotated, Final

import typer

from linewright.errors import LinewrightError

# A run is counted in 48 bits of microseconds.
MOST_HOURS: Final = 78_000
MOST_RUNS: Final = 100_000
# More than any line file may have is told where the line is known.
MOST_CARRIERS: Final = 1_000_000
MOST_SEED: Final = 2**63 - 1
MOST_WORKERS: Final = 1024


def whole(least: int, most: int) -> Callable[[object], int]:
    """Reads a whole number of an option, in the program's own words where it is none."""

    def read(value: object) -> int:
        text = str(value).strip()
        found = int(text) if text.removeprefix("-").isdecimal() else None
        if found is None or not least <= found <= most:
            what = f"{value} is no whole number" if found is None else f"{value} is out of range"
            raise typer.BadParameter(f"{what}; write one from {least} to {most}")
        return found

    return read


def hours_of(value: object) -> float:
    try:
        hours = float(str(value))
    except ValueError:
        raise typer.BadParameter(f"{value} is no number; write hours, such as 8") from None
    if not (math.isfinite(hours) and hours > 0.0):
        raise typer.BadParameter(f"{hours:g} is not a time above 0 h")
    if hours > MOST_HOURS:
        raise typer.BadParameter(f"{hours:g} h is too long; a run has at most {MOST_HOURS} h")
    return hours


runs_of = whole(1, MOST_RUNS)
count_of = whole(1, MOST_CARRIERS)

LineFile = Annotated[str, typer.Argument(metavar="LINE", help="The line file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for another program.")]
Hours = Annotated[float, typer.Option("--hours", metavar="H", parser=hours_of, help="Simulated hours of a run.")]
Runs = Annotated[int, typer.Option("--runs", metavar="N", parser=runs_of, help="Runs, each with its own luck.")]
Seed = Annotated[int, typer.Option("--seed", metavar="S", parser=whole(0, MOST_SEED), help="Seed of all luck.")]
Workers = Annotated[
    int | None,
    typer.Option("--workers", metavar="N", parser=whole(1, MOST_WORKERS), help="Threads; the result is the same."),
]


def quantity(value: str, what: str, option: str, least: float = 0.0, most: float = math.inf) -> float:
    """A quantity with its unit, as in a line file: a time or a speed above `least`, a share from `least` to `most`."""
    from linewright.line.units import SHARE, SPEED, TIME, QuantityFault, parse_quantity

    try:
        found = parse_quantity(value, {"time": TIME, "speed": SPEED, "share": SHARE}[what])
    except QuantityFault as problem:
        # A bare number is more often meant in minutes than in the unit that the fault would propose.
        example = {"time": "90 min", "speed": "0.1 m/s", "share": "150 %"}[what]
        raise LinewrightError(f"{option}: {problem.found}; write a {what} with its unit, such as {example}") from None
    if what == "share" and not least <= found <= most:
        raise LinewrightError(f"{option}: {value} stands here; write a share from {least:.0%} to {most:.0%}")
    if what != "share" and not (math.isfinite(found) and found > least):
        allowed = f"above {least:g}" if least >= 0.0 else "of 0 or more"
        raise LinewrightError(f"{option}: {value} stands here; write a {what} {allowed}")
    return found


def names_of(value: str | None, known: tuple[str, ...], option: str) -> tuple[str, ...]:
    """Names with commas between them, each one of those that are known; all of these where nothing is said."""
    if value is None:
        return known
    names = tuple(dict.fromkeys(name.strip() for name in value.split(",")))
    for name in names:
        if name not in known:
            raise LinewrightError(f"{option}: {name or 'nothing'} stands here; write one or more of {', '.join(known)}")
    return names
