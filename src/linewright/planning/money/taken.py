"""What the comparison with the baseline rests on: the figures that nobody stated, and what is left out."""

from __future__ import annotations

from typing import Final

from linewright.layout.placing import length_text
from linewright.line.handing_over import Baseline
from linewright.line.model import Line
from linewright.planning.money.costs import AIR_KWH_PER_M3
from linewright.planning.money.parts_list import PartsList
from linewright.planning.money.steps import baseline_exchange_s, find_step_needs
from linewright.quantities import joined
from linewright.traffic.plan import TrafficPlan

USUAL: Final = {"belt_speed_m_s": (0.15, 0.30), "lift_s": (0.6, 1.0)}
"""What belt lines usually have (common practice, from memory)."""
COMMON: Final = " (common practice, from memory)"
LEFT_OUT: Final = (
    "at the baseline no station starves or blocks another, and a pallet always waits: that favours the baseline",
    "at the baseline a pallet is lifted at every station, also where people work",
    "its ring is as narrow as it can be; tools, access and guards count on neither line",
    "this line takes no compressed air: no file states any; drives of its transfers are not in its energy",
    "work by hand: one operator for each station",
)


def find_assumed(
    line: Line, plan: TrafficPlan, belt: Baseline, parts: PartsList, pitch_m: float, output_per_h: float
) -> tuple[str, ...]:
    """Sentences on what the comparison takes for granted.

    Parameters
    ----------
    line, plan : a line and its own traffic plan
    belt : the baseline, with its defaults
    parts : the line's parts list
    pitch_m : of its pallets. [m]
    output_per_h : good parts an hour at which both are compared. [1/h]
    """
    return (*_stated_nowhere(line, plan, belt, pitch_m, output_per_h), *LEFT_OUT, *_without_price(parts))


def _stated_nowhere(line: Line, plan: TrafficPlan, belt: Baseline, pitch_m: float, output_per_h: float) -> list[str]:
    """The figures of the baseline that nobody stated; of those that decide its exchange also what they do."""
    units, stated = line.units, belt.model_fields_set if line.baseline is not None else set()
    gap_m = line.conveyor.clear_gap_m
    told = {
        "belt_speed_m_s": ("belt_speed", f"{length_text(belt.belt_speed_m_s, units)}/s{COMMON}"),
        "gate_release_s": ("gate_release", f"{belt.gate_release_s:.3g} s{COMMON}"),
        "lift_s": ("lift_and_locate", f"{belt.lift_s:.3g} s each way{COMMON}"),
        "pallet_m": ("pallet", f"{length_text(pitch_m - gap_m, units)}, as a carrier with its fixture"),
        "pallets_per_station": ("pallets_per_station", f"{belt.pallets_per_station:.3g}{COMMON}"),
        "air_m3": ("air", f"{belt.air_m3 * 1e3:.3g} l of free air for one exchange{COMMON}"),
        "drive_power_W": ("drive_power", f"{belt.drive_power_W:.4g} W as long as it runs{COMMON}"),
    }
    found = []
    for field, (key, value) in told.items():
        if field not in stated:
            effect = _effect(line, plan, belt, pitch_m, output_per_h, field) if field in USUAL else ""
            found.append(f"key {key} of baseline is not stated: {value}{effect}")
    found.append(f"gap between two pallets: {length_text(gap_m, units)}, this line's clear gap")
    found.append(f"a cubic metre of free air takes {AIR_KWH_PER_M3:.3g} kWh of electricity (at full load)")
    return found


def _effect(line: Line, plan: TrafficPlan, belt: Baseline, pitch_m: float, output_per_h: float, field: str) -> str:
    """What the usual range of a figure does to the exchange and to the stations of the baseline."""
    shown, exchanges, stations = [], [], []
    for value in USUAL[field]:
        one = belt.model_copy(update={field: value})
        exchange_s = baseline_exchange_s(one.lift_s, one.gate_release_s, pitch_m, one.belt_speed_m_s)
        needs = find_step_needs(line, plan, exchange_s, output_per_h)
        assert needs is not None  # the plan has good parts
        is_speed = field == "belt_speed_m_s"
        shown.append(f"{length_text(value, line.units)}/s" if is_speed else f"{value:.3g} s")
        exchanges.append(f"{exchange_s:.3g} s")
        stations.append(str(sum(need.baseline_stations for need in needs)))
    return f"; {joined(shown)} give an exchange of {joined(exchanges)}, {joined(stations)} stations"


def _without_price(parts: PartsList) -> list[str]:
    """What the prices do not hold."""
    items = dict.fromkeys(item.split(", feeder ")[0] for item in parts.without_key)
    if not items:
        return []
    return [f"prices are compared without {', '.join(items)}: no file has room for their prices"]
