"""The cabinet: heat and width of its supplies, the current of the logic, and what a part takes of energy."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from linewright.checks.power.feeders import FeederPower
from linewright.checks.power.rows import PAGE, at_most, counted, not_checked, told, up
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.ratings import SupplySheet
from linewright.line.spoken import in_words, plain, rounded, to_write

if TYPE_CHECKING:
    from linewright.flow.duty import Duty


def supply_loss_W(output_W: float, efficiency: float) -> float:
    """Heat of a supply that delivers a power: P (1/η − 1).

    Parameters
    ----------
    output_W : delivered. [W], >= 0
    efficiency : over 0 to 1

    Returns
    -------
    float   [W]

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Source     definition of efficiency.
    Examples
    --------
    >>> supply_loss_W(900.0, 0.9)
    100.0
    """
    if not 0.0 <= output_W < math.inf:
        raise ValueError(f"output_W is {output_W}; it must be finite and not negative")
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"efficiency is {efficiency}; it must be over 0 and at most 1")
    return output_W / efficiency - output_W


def cabinet_rows(line: Line, supply: SupplySheet, powers: tuple[FeederPower, ...]) -> list[Finding]:
    """Heat and width of the motor supplies against the cabinet's."""
    source = f"{PAGE}, Cabinet"
    if line.cabinet is None:
        where = "heat and width of the cabinet are not stated"
        width = "24 in" if line.units == "inch" else "600 mm"
        remedy = f"state the key cabinet in the line file, such as {{width: {width}, heat: 350 W}}"
        return [not_checked("cabinet-heat", where, ("cabinet",), line, source, remedy)]
    supplies, rows = sum(feeder.supplies for feeder in line.feeders), []
    for code, key, value in (
        ("cabinet-heat", "efficiency", supply.efficiency),
        ("cabinet-width", "width", supply.width_m),
    ):
        if value is None:
            row = not_checked(
                code,
                f"{key} of the supply is not stated",
                ("cabinet",),
                line,
                source,
                f"state the key {key} under supply in the conveyor sheet",
            )
            rows.append(replace(row, place=line.conveyor.place("supply", key)))
    if supply.efficiency is not None:
        rows.append(_heat_row(line, supply, supply.efficiency, powers))
    if supply.width_m is not None:
        width_m = supplies * supply.width_m
        rows.append(
            at_most(
                "cabinet-width",
                "1 motor supply" if supplies == 1 else f"{supplies} motor supplies side by side",
                ("cabinet", "width"),
                line,
                width_m,
                line.cabinet.width_m,
                "m",
                source,
                lambda share: f"write width: {to_write(width_m / share, 'm', line.units, 0.0)} or more",
            )
        )
    return rows


def _heat_row(line: Line, supply: SupplySheet, efficiency: float, powers: tuple[FeederPower, ...]) -> Finding:
    """All supplies at full load and all resistors at full power; only where that is too much, the mean of the run."""
    assert line.cabinet is not None  # asked by the caller
    source, place = f"{PAGE}, Cabinet", ("cabinet", "heat")
    full_W = sum(feeder.supplies for feeder in line.feeders) * supply.current_A * supply.voltage_V
    heat_W = supply_loss_W(full_W, efficiency)
    heat_W += sum(f.braking_resistor.power_W for f in line.feeders if f.braking_resistor is not None)
    where = "losses of the motor supplies at full load and braking resistors at full power"
    if heat_W > line.cabinet.heat_W:
        runs = [power.run for power in powers if power.run is not None]
        if len(runs) < len(line.feeders):
            load = in_words(heat_W, "W", line.units)
            remedy = f"linewright check --run: at full load {load} would be too much, the run may show less"
            if runs:
                remedy = f"mend the feeders that feed no section (row feeder-ends): at full load {load} are too much"
            return not_checked("cabinet-heat", where, place, line, source, remedy)
        heat_W = sum(supply_loss_W(run.power_W, efficiency) + run.resistor_W for run in runs)
        where = "losses of the motor supplies and heat of the braking resistors, mean of the run"

    def more(share: float) -> str:
        return f"write heat: {plain(up(heat_W / share))} W or more: a larger or a cooled cabinet"

    return at_most("cabinet-heat", where, place, line, heat_W, line.cabinet.heat_W, "W", source, more)


def logic_rows(line: Line, layout: Layout, supply: SupplySheet) -> list[Finding]:
    """What the separate supply of the sections' logic must deliver."""
    if not supply.separate_logic_supply:
        return []
    source, logic = f"{PAGE}, Cabinet; the conveyor sheet's logic", line.conveyor.logic
    if logic is None:
        where, remedy = "current of the logic is not stated", "state the key logic in the conveyor sheet"
        row = not_checked("logic-current", where, (), line, source, remedy)
        return [replace(row, place=line.conveyor.place("logic"))]
    sections = sum(len(lane.sections) for lane in layout.lanes)
    voltage = f"{rounded(logic.voltage_V, 4)} V"
    where = f"logic of {counted(sections, 'section')}, from a supply of its own at {voltage}"
    row = told("logic-current", where, ("lanes",), line, sections * logic.section_current_A, "A")
    return [replace(row, source=source)]


def energy_row(line: Line, powers: tuple[FeederPower, ...], duty: Duty, efficiency: float | None) -> list[Finding]:
    """Electrical energy of the motors for each part that leaves the last step, mean of the run."""
    runs = [power.run for power in powers if power.run is not None]
    steps = [step for step in line.route if not step.reject_exit and not step.rework_only]
    if not runs or not steps:
        return []
    names = [station.name for station in line.stations]
    last = [names.index(name) for name in steps[-1].stations]
    until_us = round((duty.from_s + runs[0].span_s) * 1e6)
    nests = 1 if line.fixture is None else line.fixture.nests
    ended = [int(((duty.work_station == station) & (duty.work_end_us <= until_us)).sum()) for station in last]
    parts = sum(ended) * nests
    if parts == 0:
        return []
    drawn_J = sum(run.power_W * run.span_s for run in runs) / (1.0 if efficiency is None else efficiency)
    at = "after the motor supplies" if efficiency is None else "before the motor supplies"
    made = f"{counted(parts, 'part')} in {rounded(runs[0].span_s, 4)} s of the run"
    where = f"motors of {counted(len(runs), 'feeder')}, {at}, for each of {made}"
    row = told("energy-per-part", where, ("route",), line, drawn_J / parts, "J")
    return [replace(row, source=f"{PAGE}, Energy per part")]
