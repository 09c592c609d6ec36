"""This line against a chain or belt line with stop gates and lift-and-locate units, at the same good parts an hour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from linewright.errors import SimulationError
from linewright.layout.curves import body_width_m
from linewright.layout.footprint import footprint
from linewright.line.demand import HOUR_S
from linewright.line.handing_over import Baseline, BaselinePrices
from linewright.planning.money.costs import KWH_J, Cost, Money, air_energy_J, money_table
from linewright.planning.money.steps import StepNeed, baseline_exchange_s, find_step_needs, steps_table
from linewright.planning.money.taken import find_assumed

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.layout import Layout
    from linewright.line.model import Line
    from linewright.planning.money.parts_list import PartsList
    from linewright.tables import Table
    from linewright.traffic.plan import TrafficPlan

__all__ = ["Comparison", "Cost", "Money", "Side", "air_energy_J", "compare_with_baseline"]


@dataclass(frozen=True)
class Side:
    """What one of the two lines has and takes.

    Parameters
    ----------
    exchange_s : from the tool being clear until the next work may start, mean over the stays of a good part. [s]
    stations, manual_stations : how many stations, and at how many of these people work
    track_m : length of the lanes, or of the belt. [m]
    carriers : carriers, or pallets
    floor_m2 : rectangle around the track and what stands on it, without tools, access and guards. [m2]
    air_m3_per_part : free air for each good part. [m3]
    power_J_per_part : electrical energy for each good part without the compressor's; None where unknown. [J]
    """

    exchange_s: float
    stations: int
    manual_stations: int
    track_m: float
    carriers: int
    floor_m2: float
    air_m3_per_part: float
    power_J_per_part: float | None

    @property
    def energy_J_per_part(self) -> float | None:
        """Electrical energy for each good part, the compressor's included; None where unknown. [J]"""
        if self.power_J_per_part is None:
            return None
        return self.power_J_per_part + air_energy_J(self.air_m3_per_part)


@dataclass(frozen=True, eq=False)
class Comparison:
    """This line and the baseline at equal output.

    Parameters
    ----------
    output_per_h, output_is : good parts an hour that both make, and whose figure that is, in words. [1/h]
    parts_per_year, planned_h_per_year : None without a demand, or [h]
    needs : what each step needs; `steps` is the same as a table
    here, baseline : the two lines
    costs : prices, what is saved a year, payback; `money` is its table
    assumed : defaults taken and what is left out, a sentence each
    """

    output_per_h: float
    output_is: str
    parts_per_year: float | None
    planned_h_per_year: float | None
    needs: tuple[StepNeed, ...]
    here: Side
    baseline: Side
    costs: Money
    assumed: tuple[str, ...]

    @property
    def exchange_factor(self) -> float:
        """How many times as long an exchange takes at the baseline."""
        return self.baseline.exchange_s / self.here.exchange_s

    @property
    def extra_stations(self) -> int:
        """How many more stations the baseline needs."""
        return self.baseline.stations - self.here.stations

    @property
    def extra_operators(self) -> int:
        """How many more operators on every shift the baseline needs: one for each station more with work by hand."""
        return self.baseline.manual_stations - self.here.manual_stations

    @property
    def floor_saved_m2(self) -> float:
        """Floor that this line saves; below zero where it takes more. [m2]"""
        return self.baseline.floor_m2 - self.here.floor_m2

    @property
    def air_m3_per_year(self) -> float | None:
        """Free air that this line saves in a year, all that the baseline takes; None without a demand. [m3]"""
        return None if self.parts_per_year is None else self.parts_per_year * self.baseline.air_m3_per_part

    @property
    def price_here(self) -> float | None:
        """Of this line, as far as a sheet has room for it; None where a price is missing."""
        return self.costs.price_here

    @property
    def price_baseline(self) -> float | None:
        """Of the baseline; None where a price is missing."""
        return self.costs.price_baseline

    @property
    def saved_per_year(self) -> float | None:
        """Air, energy and operators; None where a price is missing."""
        return self.costs.saved_per_year

    @property
    def payback_years(self) -> float | None:
        """Extra price over what is saved a year; 0.0 at once, infinite never, None where it cannot be said."""
        return self.costs.payback_years

    @property
    def why(self) -> str:
        """Of the payback, in words."""
        return self.costs.why

    @property
    def steps(self) -> Table:
        """A row a step of the route."""
        return steps_table(self.needs)

    @property
    def money(self) -> Table:
        """A row an amount of money: item, amount, unit, price_each, price, side, key."""
        return money_table(self.costs)


def compare_with_baseline(evaluation: Evaluation, listed: PartsList) -> Comparison:
    """Compare a line with a belt line that makes the same good parts an hour with the same tools.

    Parameters
    ----------
    evaluation : of this line
    listed : its parts list

    Returns
    -------
    Comparison   Money is None where a price is missing; ``why`` names its key.

    Raises
    ------
    SimulationError   Neither a demand nor a run says how many good parts there are, no traffic is possible on the
                      track, or no part can become good.

    Notes      Output = the demand's rate; the simulated rate where there is no demand or its whole interval lies below
               the demand. Stations of the baseline: :func:`stations_needed` for each step. Belt: a flat ring, both long
               sides set with stations, each taking the mean distance of this line's neighbouring stations but at least
               its pallets; the sides lie beside each other without a gap, the least such a ring can take.
    Source     common practice, from memory; docs/handover/money.md.
    """
    line, layout = evaluation.line, evaluation.layout
    belt = line.baseline if line.baseline is not None else Baseline()
    plan = _plan_of(evaluation)
    output_per_h, output_is = _output(evaluation)
    pallet_m = belt.pallet_m if belt.pallet_m is not None else layout.body_m
    pitch_m = pallet_m + line.conveyor.clear_gap_m
    exchange_s = baseline_exchange_s(belt.lift_s, belt.gate_release_s, pitch_m, belt.belt_speed_m_s)
    needs = find_step_needs(line, plan, exchange_s, output_per_h)
    if needs is None:
        raise SimulationError("no part of this line can become good: there is no output to compare at")
    demand, takt = line.demand, evaluation.takt
    planned_h = None if takt is None else takt.planned_time_s / HOUR_S
    parts_per_year = None if takt is None else output_per_h * takt.usable_time_s / HOUR_S
    # Belts and logic are on in all the planned time, also where parts are lost that the simulation does not show.
    on_s_per_part = HOUR_S / output_per_h / (1.0 if demand is None else 1.0 - demand.losses_not_modelled)
    here = _own_side(evaluation, needs, on_s_per_part)
    other = _belt_side(line, layout, belt, needs, pitch_m, on_s_per_part)
    prices = belt.prices if belt.prices is not None else BaselinePrices()
    money = Money(
        currency=listed.currency,
        parts=listed,
        purchases=_purchases(prices, other, here),
        savings=_savings(prices, here, other, parts_per_year, _energy_missing(evaluation)),
    )
    assumed = find_assumed(line, plan, belt, listed, pitch_m, output_per_h)
    return Comparison(output_per_h, output_is, parts_per_year, planned_h, needs, here, other, money, assumed)


def _plan_of(evaluation: Evaluation) -> TrafficPlan:
    if evaluation.plan is not None:
        return evaluation.plan
    if evaluation.layout.blocking or evaluation.limits is None:
        why = "; ".join(evaluation.layout.blocking) or "the thrust leaves nothing to move a carrier with"
        raise SimulationError(f"no traffic can be planned on this track: {why}")
    from linewright.traffic.compile import compile_plan

    return compile_plan(evaluation.line, evaluation.layout)


def _output(evaluation: Evaluation) -> tuple[float, str]:
    """Good parts an hour at which both are compared, and whose figure that is."""
    takt, run = evaluation.takt, evaluation.run
    rate = None if run is None else run.rate
    if takt is not None and rate is not None and rate.high < takt.required_rate_per_h and rate.mean > 0.0:
        return rate.mean, "the simulated rate of this line, which does not make the demand"
    if takt is not None:
        made = "the demand" if rate is not None else "the demand; no run says whether this line makes it"
        return takt.required_rate_per_h, made
    if rate is None or not rate.mean > 0.0:
        raise SimulationError("neither a demand nor a run says how many good parts to compare at: state the key demand")
    return rate.mean, "the simulated rate of this line; no demand is stated"


# ---- the two lines ---------------------------------------------------------------------------------------------------


def _mean_exchange_s(needs: Sequence[StepNeed]) -> float:
    stays = math.fsum(one.visits for one in needs)
    return math.fsum(one.visits * one.exchange_s for one in needs) / stays


def _own_side(evaluation: Evaluation, needs: Sequence[StepNeed], on_s_per_part: float) -> Side:
    line, layout = evaluation.line, evaluation.layout
    return Side(
        exchange_s=_mean_exchange_s(needs),
        stations=sum(one.stations for one in needs),
        manual_stations=sum(one.stations for one in needs if one.is_manual),
        track_m=math.fsum(lane.length_m for lane in layout.lanes),
        carriers=line.carriers,
        floor_m2=footprint(line, layout).area_m2,
        air_m3_per_part=0.0,
        power_J_per_part=_own_power_J(evaluation, on_s_per_part),
    )


def _own_power_J(evaluation: Evaluation, on_s_per_part: float) -> float | None:
    """Motors by the row energy-per-part, for each good part, and the logic as long as it is on; None unknown. [J]"""
    if _energy_missing(evaluation):
        return None
    sheet, run = evaluation.line.conveyor, evaluation.run
    motors = next(one for one in evaluation.findings if one.code == "energy-per-part")
    assert motors.value is not None and run is not None  # noqa: PT018  the row is only told with them
    logic_W = 0.0
    if sheet.supply is not None and sheet.supply.separate_logic_supply and sheet.logic is not None:
        sections = sum(len(lane.sections) for lane in evaluation.layout.lanes)
        logic_W = sections * sheet.logic.section_current_A * sheet.logic.voltage_V
    return motors.value + logic_W * on_s_per_part


def _energy_missing(evaluation: Evaluation) -> tuple[str, ...]:
    """What would give the energy of this line; empty where it is known."""
    sheet = evaluation.line.conveyor
    found = []
    if any(one.code == "feeders" and one.verdict == "not checked" for one in evaluation.findings):
        found.append("what the row feeders asks for")
    if evaluation.run is None:
        found.append("a run")
    elif not found and not any(one.code == "energy-per-part" for one in evaluation.findings):
        found.append("a longer run")
    if sheet.supply is not None and sheet.supply.separate_logic_supply and sheet.logic is None:
        found.append("logic in the conveyor sheet")
    return tuple(found)


def _belt_side(
    line: Line, layout: Layout, belt: Baseline, needs: Sequence[StepNeed], pitch_m: float, on_s_per_part: float
) -> Side:
    stations = sum(one.baseline_stations for one in needs)
    station_m = max(_station_distance_m(layout), math.ceil(belt.pallets_per_station - 1e-9) * pitch_m)
    side_m = math.ceil(stations / 2) * station_m
    width_m = body_width_m(line)
    across_m = width_m + line.conveyor.clear_gap_m  # from the middle of the one side to that of the other
    return Side(
        exchange_s=needs[0].baseline_exchange_s,
        stations=stations,
        manual_stations=sum(one.baseline_stations for one in needs if one.is_manual),
        track_m=2.0 * (side_m + pitch_m + across_m),
        carriers=math.ceil(belt.pallets_per_station * stations - 1e-9),
        floor_m2=(side_m + 2.0 * pitch_m) * (across_m + width_m),
        air_m3_per_part=belt.air_m3 * math.fsum(one.visits for one in needs),
        power_J_per_part=belt.drive_power_W * on_s_per_part,
    )


def _station_distance_m(layout: Layout) -> float:
    """Mean distance of neighbouring stations of one lane; with one on each lane the lanes' length over them. [m]"""
    stops = [stop for stop in layout.stops if stop.kind == "station"]
    gaps = [
        after - before
        for lane in layout.lanes
        for before, after in pairwise(sorted(stop.travel_m for stop in stops if stop.lane == lane.name))
    ]
    if gaps:
        return math.fsum(gaps) / len(gaps)
    return math.fsum(lane.length_m for lane in layout.lanes) / len(stops)


# ---- what is bought and saved ----------------------------------------------------------------------------------------


def _purchases(prices: BaselinePrices, belt: Side, here: Side) -> tuple[Cost, ...]:
    """What the baseline costs, at equal output."""
    found = [
        Cost("belt with frame and drive", belt.track_m, "m", prices.per_metre, "baseline.prices.per_metre"),
        Cost("stop gate and lift-and-locate", belt.stations, "piece", prices.station, "baseline.prices.station"),
        Cost("pallet", belt.carriers, "piece", prices.pallet, "baseline.prices.pallet"),
        Cost("controls", 1.0, "piece", prices.controls, "baseline.prices.controls"),
    ]
    extra = belt.stations - here.stations
    if extra:
        key = "baseline.prices.work_station"
        found.append(Cost("work station more than on this line", extra, "piece", prices.work_station, key))
    return tuple(found)


def _savings(
    prices: BaselinePrices, here: Side, belt: Side, parts_per_year: float | None, energy_missing: tuple[str, ...]
) -> tuple[Cost, ...]:
    """What this line saves in a year; the compressor's electricity is in the price of air."""
    energy_kWh = None
    if here.power_J_per_part is not None and belt.power_J_per_part is not None and parts_per_year is not None:
        energy_kWh = (belt.power_J_per_part - here.power_J_per_part) * parts_per_year / KWH_J
    air_m3 = None if parts_per_year is None else (belt.air_m3_per_part - here.air_m3_per_part) * parts_per_year
    asked = () if parts_per_year is not None else ("demand",)
    operators = float(belt.manual_stations - here.manual_stations)
    keys = "baseline.prices."
    return (
        Cost("compressed air, free", air_m3, "m3", prices.air_per_m3, f"{keys}air_per_m3", asked),
        Cost(
            "electricity without the compressor's",
            energy_kWh,
            "kWh",
            prices.energy_per_kWh,
            f"{keys}energy_per_kWh",
            (*asked, *energy_missing),
        ),
        Cost("operator on all shifts", operators, "person", prices.operator_per_year, f"{keys}operator_per_year"),
    )
