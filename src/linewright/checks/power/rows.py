"""The rows of each feeder on currents, restart and braking, and how a row is made."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.power.feeders import Electrics, FeederPower
from linewright.checks.power.storage import DRY_LIMIT_V, OTHER_LIMIT_V, capacitance_that_holds_F
from linewright.findings import Finding, judge
from linewright.line.model import Line
from linewright.remedies import rounded_away

SUBJECT: Final = "power"
PAGE: Final = "docs/limits/power.md"
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
    remedy: str,
) -> Finding:
    """A row whose value may reach its limit; the remedy is told where it fails. An endless value has no number."""
    endless = math.isinf(value)
    margin = -1.0 if endless else (1.0 - value / limit if limit > 0.0 else (0.0 if value <= limit else -1.0))
    return Finding(
        code,
        SUBJECT,
        judge(margin),
        where,
        line.place(*place),
        None if endless else value,
        limit,
        unit,
        margin,
        source,
        remedy if margin < 0.0 else "",
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
                f"feeder {name}: worst 10 ms of the first {power.run.span_s:.4g} s of the run",
                place,
                line,
                peak_A,
                power.limit_A,
                "A",
                f"{PAGE}, Current of the run; the conveyor sheet's supply current",
                _more_supplies(peak_A, electrics),
            )
        )
    rows.append(
        at_most(
            "all-restart",
            f"feeder {name}: {power.carriers} carriers on {len(track.sections)} sections start at once, "
            f"{electrics.restart_W:.3g} W each",
            place,
            line,
            power.restart_A,
            power.limit_A,
            "A",
            f"{PAGE}, Restart; the conveyor sheet's supply current",
            _more_supplies(power.restart_A, electrics),
        )
    )
    return rows


def _more_supplies(needed_A: float, electrics: Electrics) -> str:
    if math.isinf(needed_A):
        return "thicker or shorter cable and links, or shorter feeders: they cannot carry that power at all"
    return f"write supplies: {math.ceil(needed_A / electrics.supply_A - 1e-9)}"


def braking_rows(line: Line, electrics: Electrics, power: FeederPower) -> list[Finding]:
    """All carriers of a feeder brake at once: its voltage, its resistor."""
    feeder, resistor = power.feeder, power.feeder.braking_resistor
    rows = [
        at_most(
            "braking-voltage",
            f"feeder {feeder.name}: {power.carriers} carriers brake at once from full speed and give back up to "
            f"{power.back_J:.3g} J, {power.back_peak_W:.3g} W",
            ("feeders", feeder.name, "braking_resistor"),
            line,
            power.braking_V,
            electrics.trip_V,
            "V",
            f"{PAGE}, Braking; the conveyor sheet's trip of the supply",
            _braking_remedy(electrics, power),
        )
    ]
    if resistor is None:
        return rows
    rows.append(
        at_most(
            "resistor-on",
            f"feeder {feeder.name}: highest voltage of the supply against that at which its braking resistor conducts",
            ("feeders", feeder.name, "braking_resistor", "on"),
            line,
            electrics.high_V,
            resistor.on_V,
            "V",
            f"{PAGE}, Braking; the conveyor sheet's tolerance of the supply",
            f"write on: {up(electrics.high_V):g} V or more, below the trip",
        )
    )
    if power.back_peak_W > 0.0:
        largest_ohm = resistor.on_V**2 / power.back_peak_W
        rows.append(
            at_most(
                "resistor-resistance",
                f"feeder {feeder.name}: braking resistor takes {power.back_peak_W:.3g} W at {resistor.on_V:.4g} V",
                ("feeders", feeder.name, "braking_resistor", "resistance"),
                line,
                resistor.resistance_ohm,
                largest_ohm,
                "ohm",
                f"{PAGE}, Braking",
                f"write resistance: {rounded_away(largest_ohm, resistor.resistance_ohm):g} ohm or less",
            )
        )
    if power.run is not None:
        rows.append(
            at_most(
                "resistor-power",
                f"feeder {feeder.name}: mean power of the braking resistor in the run; all at once it takes "
                f"{power.resistor_J:.3g} J",
                ("feeders", feeder.name, "braking_resistor", "power"),
                line,
                power.run.resistor_W,
                resistor.power_W,
                "W",
                f"{PAGE}, Braking; the line file's power of the resistor",
                f"write power: {rounded_away(power.run.resistor_W, resistor.power_W):g} W or more",
            )
        )
    return rows


def _braking_remedy(electrics: Electrics, power: FeederPower) -> str:
    if power.feeder.braking_resistor is not None:
        largest_ohm = electrics.trip_V**2 / power.back_peak_W
        return f"write resistance: {rounded_away(largest_ohm, math.inf):g} ohm or less under braking_resistor"
    if electrics.high_V >= electrics.trip_V:
        return "a supply of closer tolerance: it may trip by itself"
    least_F = capacitance_that_holds_F(electrics.high_V, electrics.trip_V, power.back_J)
    return f"write capacitance: {up(least_F * 1e3):g} mF under supply in the conveyor sheet, or add a braking_resistor"


def up(value: float) -> float:
    """A value that must be at least so great, three digits."""
    return rounded_away(value, 0.0)


def extra_low_row(line: Line, electrics: Electrics, powers: tuple[FeederPower, ...]) -> Finding:
    """The highest voltage of any feeder against the limit of extra-low voltage where the line stands."""
    source = f"{PAGE}, Braking; EN 60204-1, 6.4.1, read in a quotation"
    dry = None if line.environment is None else line.environment.dry
    if dry is None:
        remedy = "state the key dry under environment in the line file"
        where = "extra-low voltage: whether the line stands dry is not stated"
        return not_checked("extra-low-voltage", where, ("environment", "dry"), line, source, remedy)
    worst = max(powers, key=lambda power: power.braking_V)
    place = "dry" if dry else "not always dry"
    return at_most(
        "extra-low-voltage",
        f"feeder {worst.feeder.name}, the highest of all while its carriers brake; the line stands {place}",
        ("feeders", worst.feeder.name),
        line,
        worst.braking_V,
        DRY_LIMIT_V if dry else OTHER_LIMIT_V,
        "V",
        source,
        "other protection against electric shock, or a conveyor of lower voltage: a competent person decides"
        if electrics.high_V > (DRY_LIMIT_V if dry else OTHER_LIMIT_V)
        else "a braking_resistor that conducts below the limit, and of small enough resistance",
    )
