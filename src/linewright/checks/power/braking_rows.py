"""The rows of each feeder on braking: the voltage that it comes to, its resistor, and extra-low voltage."""

from __future__ import annotations

from linewright.checks.power.feeders import Electrics, FeederPower
from linewright.checks.power.resistor import proposed_resistor
from linewright.checks.power.rows import PAGE, at_most, counted, down, not_checked, up
from linewright.checks.power.storage import DRY_LIMIT_V, OTHER_LIMIT_V, capacitance_that_holds_F, capacitor_voltage_V
from linewright.findings import Finding
from linewright.line.electrics import BrakingResistor
from linewright.line.model import Line
from linewright.line.spoken import plain, rounded


def braking_rows(line: Line, electrics: Electrics, power: FeederPower) -> list[Finding]:
    """All carriers of a feeder brake at once: its voltage, its resistor."""
    feeder, resistor = power.feeder, power.feeder.braking_resistor
    brake = "brakes" if power.carriers == 1 else "brake at once"
    give = "gives" if power.carriers == 1 else "give"
    drag = "; without drag: coasting is not stated" if line.conveyor.coasting is None else ""
    row = at_most(
        "braking-voltage",
        f"feeder {feeder.name}: {counted(power.carriers, 'carrier')} {brake} from full speed and {give} back up to "
        f"{rounded(power.back_J, 3)} J, {rounded(power.back_peak_W, 3)} W{drag}",
        ("feeders", feeder.name, "braking_resistor"),
        line,
        power.braking_V,
        electrics.trip_V,
        "V",
        f"{PAGE}, Braking; the conveyor sheet's trip of the supply",
        lambda share: _braking_remedy(electrics, power, share),
    )
    return [row] if resistor is None else [row, *_resistor_rows(line, electrics, power, resistor)]


def _resistor_rows(line: Line, electrics: Electrics, power: FeederPower, resistor: BrakingResistor) -> list[Finding]:
    name = power.feeder.name
    rows = [
        at_most(
            "resistor-on",
            f"feeder {name}: highest voltage of the supply against that at which its braking resistor conducts",
            ("feeders", name, "braking_resistor", "on"),
            line,
            electrics.high_V,
            resistor.on_V,
            "V",
            f"{PAGE}, Braking; the conveyor sheet's tolerance of the supply",
            lambda share: _later_on(electrics, share),
        )
    ]
    if power.back_peak_W > 0.0:
        largest_ohm = resistor.on_V**2 / power.back_peak_W
        rows.append(
            at_most(
                "resistor-resistance",
                f"feeder {name}: braking resistor takes {rounded(power.back_peak_W, 3)} W at "
                f"{rounded(resistor.on_V, 4)} V",
                ("feeders", name, "braking_resistor", "resistance"),
                line,
                resistor.resistance_ohm,
                largest_ohm,
                "ohm",
                f"{PAGE}, Braking",
                lambda share: f"write resistance: {plain(down(share * largest_ohm))} ohm or less",
            )
        )
    if power.run is not None or power.standing_W > 0.0:
        rows.append(_resistor_power_row(line, electrics, power, resistor))
    return rows


def _resistor_power_row(line: Line, electrics: Electrics, power: FeederPower, resistor: BrakingResistor) -> Finding:
    """Mean power in the run, and what the resistor takes from the supply where that alone makes it conduct."""
    mean_W = power.standing_W if power.run is None else power.run.resistor_W
    when = "" if power.run is None else " in the run"
    standing = ""
    if power.standing_W > 0.0:
        standing = f"; {rounded(power.standing_W, 3)} W of it for ever, from the supply at its highest voltage"

    def remedy(share: float) -> str:
        if power.standing_W > 0.0:
            return "see the row resistor-on first: the supply alone must not make it conduct"
        return f"write power: {plain(up(mean_W / share))} W or more"

    return at_most(
        "resistor-power",
        f"feeder {power.feeder.name}: mean power of the braking resistor{when}{standing}; all braking at once gives it "
        f"{rounded(power.resistor_J, 3)} J",
        ("feeders", power.feeder.name, "braking_resistor", "power"),
        line,
        mean_W,
        resistor.power_W,
        "W",
        f"{PAGE}, Braking; the line file's power of the resistor",
        remedy,
    )


def _later_on(electrics: Electrics, share: float) -> str:
    """A higher voltage at which the resistor conducts; empty where that is not below the trip."""
    on_V = up(electrics.high_V / share)
    if on_V < electrics.trip_V:
        return f"write on: {plain(on_V)} V or more, below the trip"
    return "a supply of closer tolerance: no such voltage is below its trip" if share == 1.0 else ""


def _braking_remedy(electrics: Electrics, power: FeederPower, share: float) -> str:
    """What keeps the voltage under so much of the trip; empty where a row that is tight cannot be eased so."""
    highest_V, resistor = share * electrics.trip_V, power.feeder.braking_resistor
    if electrics.high_V >= highest_V:
        return "a supply of closer tolerance: it may trip by itself" if share == 1.0 else ""
    if resistor is not None:
        if resistor.on_V > highest_V or power.back_peak_W == 0.0:
            return "a braking_resistor that conducts below the trip" if share == 1.0 else ""
        # The figure of the row resistor-resistance, which is never the greater: one key, one figure.
        largest_ohm = min(highest_V, resistor.on_V) ** 2 / power.back_peak_W
        return f"write resistance: {plain(down(largest_ohm))} ohm or less under braking_resistor"
    least_F = capacitance_that_holds_F(electrics.high_V, highest_V, power.back_J)
    size, unit = (least_F, "F") if least_F >= 1.0 else (least_F * 1e3, "mF")
    larger = f"capacitors: write capacitance: {plain(up(size))} {unit} under supply in the conveyor sheet"
    proposed = proposed_resistor(electrics, power, highest_V)
    if proposed is None:
        return f"more {larger}"
    return f"add a braking_resistor: {proposed.text} under the feeder, {proposed.pulse_text}; or add {larger}"


def without_resistor_V(electrics: Electrics, powers: tuple[FeederPower, ...]) -> float | None:
    """The highest voltage that a feeder with a braking resistor comes to once that is gone; None without one. [V]"""
    back_J = [power.back_J for power in powers if power.feeder.braking_resistor is not None]
    return capacitor_voltage_V(electrics.high_V, max(back_J), electrics.capacitance_F) if back_J else None


def extra_low_row(line: Line, electrics: Electrics, powers: tuple[FeederPower, ...]) -> Finding:
    """The highest voltage of any feeder against the limit of extra-low voltage where the line stands."""
    source = f"{PAGE}, Braking; EN 60204-1, 6.4.1, read in a quotation"
    dry = None if line.environment is None else line.environment.dry
    if dry is None:
        remedy = "state the key dry under environment in the line file"
        where = "extra-low voltage: whether the line stands dry is not stated"
        return not_checked("extra-low-voltage", where, ("environment", "dry"), line, source, remedy)
    worst = max(powers, key=lambda power: power.braking_V)
    limit_V = DRY_LIMIT_V if dry else OTHER_LIMIT_V
    bare_V, told = without_resistor_V(electrics, powers), ""
    if bare_V is not None and bare_V > worst.braking_V:
        told = f"; without its braking resistor, a single fault, a feeder comes to {rounded(bare_V, 4)} V"
    return at_most(
        "extra-low-voltage",
        f"feeder {worst.feeder.name}, the highest of all while its carriers brake; the line stands "
        f"{'dry' if dry else 'not always dry'}{told}",
        ("feeders", worst.feeder.name),
        line,
        worst.braking_V,
        limit_V,
        "V",
        source,
        lambda share: _extra_low_remedy(electrics, worst, limit_V, share),
    )


def _extra_low_remedy(electrics: Electrics, worst: FeederPower, limit_V: float, share: float) -> str:
    """A resistor that keeps the worst feeder below the limit; empty where a row that is tight cannot be eased so."""
    highest_V = min(share * limit_V, electrics.trip_V)
    proposed = proposed_resistor(electrics, worst, highest_V)
    if proposed is not None:
        return (
            f"a braking_resistor: {proposed.text} under feeder {worst.feeder.name}, {proposed.pulse_text}; likewise at "
            f"the other feeders"
        )
    if share < 1.0:
        return ""
    return "other protection against electric shock, or a conveyor of lower voltage: a competent person decides"
