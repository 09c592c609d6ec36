"""The baseline by hand: its exchange, its stations at equal output, air, energy, floor, prices and payback."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from linewright.errors import SimulationError
from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.flow.line_bounds import rate_bounds
from linewright.layout import lay_out
from linewright.layout.footprint import footprint
from linewright.line.handing_over import Baseline, BaselinePrices
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.pictures.floor.ground import overall_ends, width_m
from linewright.planning.money.comparison import Comparison, air_energy_J, compare_with_baseline
from linewright.planning.money.costs import Cost, payback_years
from linewright.planning.money.parts_list import parts_list
from linewright.planning.money.steps import baseline_exchange_s, own_exchange_s, stations_needed, with_exchange
from linewright.traffic.compile import compile_plan

EXAMPLES = Path(__file__).parents[3] / "examples"

# The line of docs/causes.md, with one station by hand and a demand.
LINE = """
linewright: 1
name: Lid and seal
conveyor: demo-light
demand:
  {good_parts_per_year: 3600000, shifts_per_day: 2, paid_time_per_shift: 7.5 h, days_per_year: 200,
   losses_not_modelled: 4 %}
lanes:
  upper: {length: 1840 mm, from: west, to: east}
  lower: {length: 1840 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 8
stations:
  load: {lane: upper, at: 460 mm, work: manual, time: 1 s}
  seal: {lane: upper, at: 920 mm, prepare: 0.15 s, time: 2 s, clear: 0.2 s, failures: [{every: 10 min, repair: 30 s}]}
  unload: {lane: lower, at: 920 mm, time: 0.8 s}
route: [load, seal, unload]
"""
PRICES = BaselinePrices(
    per_metre=500.0,
    station=1000.0,
    pallet=100.0,
    controls=5000.0,
    work_station=20000.0,
    operator_per_year=40000.0,
    energy_per_kWh=0.2,
    air_per_m3=0.03,
)


@pytest.fixture(scope="module")
def line() -> Line:
    return read_line(LINE)


@pytest.fixture(scope="module")
def demo() -> Evaluation:
    return evaluate(load_line(EXAMPLES / "demo" / "line.yaml"), hours=0.4, runs=2)


def compared(evaluation: Evaluation) -> Comparison:
    return compare_with_baseline(evaluation, parts_list(evaluation.line, evaluation.layout))


def with_line(evaluation: Evaluation, **changes: Any) -> Evaluation:
    return replace(evaluation, line=evaluation.line.model_copy(update=changes))


# ---- exchange --------------------------------------------------------------------------------------------------------


def test_exchange_of_the_baseline_by_hand() -> None:
    assert baseline_exchange_s(0.8, 0.3, 0.2, 0.25) == pytest.approx(0.8 + 0.3 + 0.2 / 0.25 + 0.8)


@pytest.mark.parametrize("arguments", [(-1, 0, 1, 1), (0, -1, 1, 1), (0, 0, 0, 1), (0, 0, 1, 0)])
def test_exchanges_of_nonsense_are_refused(arguments: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="positive"):
        baseline_exchange_s(*arguments)


def test_own_exchange_is_the_chain_of_the_documentation(line: Line) -> None:
    plan = compile_plan(line, lay_out(line))
    # docs/causes.md: done handshake, reaction, exchange move, settling, start handshake.
    assert own_exchange_s(plan, 1) == pytest.approx(0.010 + 0.012 + 0.225 + 0.035 + 0.012, abs=5e-4)


@pytest.mark.parametrize("name", ["demo/line.yaml", "ways/branch.yaml", "ways/ring.yaml", "ways/operators.yaml"])
def test_a_baseline_with_this_lines_exchange_is_this_line(name: str) -> None:
    line = load_line(EXAMPLES / name)
    plan = compile_plan(line, lay_out(line))
    # Beyond the plain loop the bound leaves the reaction out.
    reaction_s = 0.0 if plan.general.track is None else plan.follow_us / 1e6
    for s in range(len(plan.station_names)):
        same = with_exchange(plan, own_exchange_s(plan, s) - reaction_s)
        assert same.settling_us[s] == plan.settling_us[s]
    assert rate_bounds(with_exchange(plan, 5.0)).step_per_h < rate_bounds(plan).step_per_h


# ---- stations --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stations", "step_per_h", "output_per_h", "needed"),
    [
        (1, 1000.0, 1000.0, 1),
        (1, 1000.0, 1001.0, 2),
        (2, 3000.0, 1500.0, 2),
        (2, 1000.0, 1500.0, 3),
        (1, math.inf, 9e9, 1),
    ],
)
def test_stations_for_an_output(stations: int, step_per_h: float, output_per_h: float, needed: int) -> None:
    assert stations_needed(stations, step_per_h, output_per_h) == needed


def test_stations_without_a_rate_are_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        stations_needed(1, 0.0, 1.0)


def test_steps_by_hand(line: Line) -> None:
    found = compared(evaluate_without_run(line))
    takt_s = 2 * 7.5 * 3600 * 200 * 0.96 / 3.6e6
    assert found.output_per_h == pytest.approx(3600.0 / takt_s)
    exchange_s = 0.8 + 0.3 + (0.084 + 0.006) / 0.2 + 0.8
    # Work, its repairs, and the exchange that begins once the tool is clear.
    times = {"load": 1.0, "seal": 2.0 * (1.0 + 30.0 / 600.0) + 0.2, "unload": 0.8}
    rows = {row["step"]: row for row in found.steps}
    for step, time_s in times.items():
        assert rows[step]["baseline_time_s"] == pytest.approx(time_s + exchange_s, abs=1e-5)
        assert rows[step]["baseline_stations"] == math.ceil((time_s + exchange_s) / takt_s)
        assert rows[step]["extra_stations"] == rows[step]["baseline_stations"] - 1
        assert rows[step]["manual"] is (step == "load")
    assert takt_s == pytest.approx(2.88)
    assert [rows[step]["baseline_stations"] for step in times] == [2, 2, 2]
    assert (found.extra_stations, found.extra_operators) == (3, 1)


def test_more_output_needs_more_stations(line: Line) -> None:
    assert line.demand is not None
    slow = line.demand.model_copy(update={"good_parts_per_year": 1.8e6})
    found = compared(evaluate_without_run(line.model_copy(update={"demand": slow})))
    assert found.extra_stations == 0


# ---- output ----------------------------------------------------------------------------------------------------------


def test_the_output_is_the_demand_where_the_line_makes_it(demo: Evaluation) -> None:
    found = compared(demo)
    assert demo.takt is not None
    assert found.output_is == "the demand"
    assert found.output_per_h == demo.takt.required_rate_per_h
    assert found.parts_per_year == pytest.approx(7820000)
    assert found.planned_h_per_year == pytest.approx(3 * 7.25 * 236)


def test_the_output_is_the_simulated_rate_where_the_line_misses_the_demand(demo: Evaluation) -> None:
    assert demo.run is not None
    assert demo.run.rate is not None
    assert demo.takt is not None
    short = replace(demo, takt=replace(demo.takt, required_rate_per_h=demo.run.rate.high + 1.0))
    found = compared(short)
    assert found.output_per_h == demo.run.rate.mean
    assert "does not make the demand" in found.output_is
    assert found.parts_per_year == pytest.approx(demo.run.rate.mean * demo.takt.usable_time_s / 3600.0)


def test_an_undecided_rate_is_compared_at_the_demand(demo: Evaluation) -> None:
    assert demo.run is not None
    assert demo.run.rate is not None
    assert demo.takt is not None
    assert demo.run.rate.low < demo.run.rate.mean < demo.run.rate.high
    found = compared(replace(demo, takt=replace(demo.takt, required_rate_per_h=demo.run.rate.mean)))
    assert found.output_is == "the demand"


def test_without_a_demand_the_run_counts_and_there_is_no_year(demo: Evaluation) -> None:
    free = replace(with_line(demo, demand=None), takt=None)
    found = compared(free)
    assert demo.run is not None
    assert demo.run.rate is not None
    assert found.output_per_h == demo.run.rate.mean
    assert (found.parts_per_year, found.planned_h_per_year, found.air_m3_per_year) == (None, None, None)
    assert found.payback_years is None
    assert "demand" in found.costs.missing


def test_without_demand_and_run_nothing_can_be_compared(line: Line) -> None:
    with pytest.raises(SimulationError, match="state the key demand"):
        compared(evaluate_without_run(line.model_copy(update={"demand": None})))


def test_a_line_without_traffic_cannot_be_compared(demo: Evaluation) -> None:
    stuck = replace(demo, plan=None, layout=replace(demo.layout, blocking=("centres: press and screw",)))
    with pytest.raises(SimulationError, match="centres: press and screw"):
        compared(stuck)


# ---- air, energy, floor ----------------------------------------------------------------------------------------------


def test_air_and_energy_by_hand(line: Line) -> None:
    found = compared(evaluate_without_run(line))
    assert found.here.air_m3_per_part == 0.0
    assert found.baseline.air_m3_per_part == pytest.approx(3 * 0.0015)  # three stays of a good part
    assert found.air_m3_per_year == pytest.approx(3.6e6 * 3 * 0.0015)
    on_s = 2 * 7.5 * 3600 * 200 / 3.6e6  # all the planned time, losses included
    assert found.baseline.power_J_per_part == pytest.approx(500.0 * on_s)
    assert found.baseline.energy_J_per_part == pytest.approx(500.0 * on_s + air_energy_J(3 * 0.0015))
    # No feeders and no run: this line's energy is not known, and what would give it is said.
    assert found.here.energy_J_per_part is None
    assert {"what the row feeders asks for", "a run"} <= set(found.costs.missing)


def test_energy_of_this_line_is_its_row_and_its_logic(demo: Evaluation) -> None:
    found = compared(demo)
    (row,) = [one for one in demo.findings if one.code == "energy-per-part"]
    assert row.value is not None
    logic_W = 10 * 0.12 * 24.0  # ten sections
    assert found.here.power_J_per_part == pytest.approx(row.value + logic_W * 5133.0 * 3600.0 / 7.82e6)


def test_air_of_nothing_is_nothing_and_less_is_refused() -> None:
    assert air_energy_J(0.0) == 0.0
    with pytest.raises(ValueError, match="negative"):
        air_energy_J(-1.0)


def test_floor_and_belt_by_hand(line: Line) -> None:
    found = compared(evaluate_without_run(line))
    # Lanes of 1.84 m and a platform of 118 mm behind a gap of 3 mm at each end; carriers 112 mm wide; decks count once.
    assert found.here.floor_m2 == pytest.approx((1.84 + 2 * 0.121) * 0.112)
    # Six stations, three a side, each as far from the next as load from seal: 0.46 m.
    side_m, pitch_m, across_m = 3 * 0.46, 0.09, 0.112 + 0.006
    assert found.baseline.track_m == pytest.approx(2 * (side_m + pitch_m + across_m))
    assert found.baseline.floor_m2 == pytest.approx((side_m + 2 * pitch_m) * (across_m + 0.112))
    assert found.baseline.carriers == 12
    assert found.floor_saved_m2 == found.baseline.floor_m2 - found.here.floor_m2


def test_long_pallets_set_the_distance_of_the_stations(line: Line) -> None:
    wide = line.model_copy(update={"baseline": Baseline(pallet_m=0.4, pallets_per_station=1.5)})
    found = compared(evaluate_without_run(wide))
    side_m = math.ceil(found.baseline.stations / 2) * 2 * 0.406
    assert found.baseline.track_m == pytest.approx(2 * (side_m + 0.406 + 0.118))
    assert found.baseline.carriers == math.ceil(1.5 * found.baseline.stations)


@pytest.mark.parametrize(
    "name", ["demo/line.yaml", "ways/ring.yaml", "two-lane/line.yaml", "ways/branch.yaml", "ways/to-and-fro.yaml"]
)
def test_the_footprint_is_that_of_the_floor_plan(name: str) -> None:
    evaluation = evaluate_without_run(load_line(EXAMPLES / name))
    floor = footprint(evaluation.line, evaluation.layout)
    assert (floor.west_m, floor.east_m) == pytest.approx(overall_ends(evaluation))
    assert floor.width_m == pytest.approx(width_m(evaluation))
    assert floor.area_m2 == floor.length_m * floor.width_m


# ---- money -----------------------------------------------------------------------------------------------------------


def test_prices_savings_and_payback_by_hand(demo: Evaluation) -> None:
    priced = with_line(demo, baseline=Baseline(prices=PRICES))
    found = compared(priced)
    belt = found.baseline
    assert found.price_here == pytest.approx(41811.2)
    there = 500 * belt.track_m + 1000 * belt.stations + 100 * belt.carriers + 5000 + 20000 * found.extra_stations
    assert found.price_baseline == pytest.approx(there)
    assert found.air_m3_per_year is not None
    assert belt.power_J_per_part is not None
    assert found.here.power_J_per_part is not None
    energy_kWh = (belt.power_J_per_part - found.here.power_J_per_part) * 7.82e6 / 3.6e6
    saved = 0.03 * found.air_m3_per_year + 0.2 * energy_kWh + 40000 * found.extra_operators
    assert found.saved_per_year == pytest.approx(saved)
    assert found.payback_years == 0.0
    assert found.why.startswith("at once")


def test_payback_of_a_cheap_baseline(demo: Evaluation) -> None:
    cheap = PRICES.model_copy(update={"per_metre": 10.0, "station": 100.0, "work_station": 0.0, "pallet": 10.0})
    found = compared(with_line(demo, baseline=Baseline(prices=cheap)))
    assert found.costs.extra is not None
    assert found.saved_per_year is not None
    assert found.payback_years == pytest.approx(found.costs.extra / found.saved_per_year)
    assert 0.5 < found.payback_years < 2.0
    dear = cheap.model_copy(update={"operator_per_year": 0.0, "energy_per_kWh": 0.0, "air_per_m3": 0.0})
    never = compared(with_line(demo, baseline=Baseline(prices=dear)))
    assert never.payback_years == math.inf
    assert never.why.startswith("never")


@pytest.mark.parametrize("key", list(BaselinePrices.model_fields))
def test_each_missing_price_is_named(demo: Evaluation, key: str) -> None:
    found = compared(with_line(demo, baseline=Baseline(prices=PRICES.model_copy(update={key: None}))))
    assert found.payback_years is None
    assert found.costs.missing == (f"baseline.prices.{key}",)
    assert found.why == f"not known; to be stated: baseline.prices.{key}"


def test_a_price_of_nothing_is_not_asked_for(line: Line) -> None:
    assert line.demand is not None
    slow = line.demand.model_copy(update={"good_parts_per_year": 1.8e6})
    found = compared(evaluate_without_run(line.model_copy(update={"demand": slow})))
    assert "baseline.prices.work_station" not in found.costs.missing
    assert "baseline.prices.operator_per_year" not in found.costs.missing


def test_what_the_sheet_does_not_price_is_asked_for(demo: Evaluation) -> None:
    prices = demo.line.conveyor.prices
    assert prices is not None
    bare = demo.line.conveyor.model_copy(update={"prices": prices.model_copy(update={"carrier": None})})
    found = compared(with_line(demo, conveyor=bare, baseline=Baseline(prices=PRICES)))
    assert (found.price_here, found.payback_years) == (None, None)
    assert found.costs.missing == ("prices.carrier",)


@pytest.mark.parametrize(
    ("extra", "saved", "years"), [(10.0, 4.0, 2.5), (0.0, -1.0, 0.0), (-5.0, 1.0, 0.0), (5.0, 0.0, math.inf)]
)
def test_payback(extra: float, saved: float, years: float) -> None:
    assert payback_years(extra, saved) == years


def test_payback_of_nonsense_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        payback_years(math.inf, 1.0)


def test_a_cost_says_what_it_lacks() -> None:
    assert Cost("x", 2.0, "m", 3.0, "k").price == 6.0
    assert Cost("x", 0.0, "m", None, "k").price == 0.0
    assert Cost("x", 2.0, "m", None, "k").missing == ("k",)
    assert Cost("x", None, "m", None, "k", ("demand",)).missing == ("demand", "k")


def test_the_money_table_holds_every_amount(demo: Evaluation) -> None:
    found = compared(with_line(demo, baseline=Baseline(prices=PRICES)))
    rows = found.money.rows()
    for of, total in (
        ("this line", found.price_here),
        ("baseline", found.price_baseline),
        ("saved a year", found.saved_per_year),
    ):
        assert math.fsum(row["price"] for row in rows if row["of"] == of) == pytest.approx(total)


# ---- what it rests on ------------------------------------------------------------------------------------------------


def test_defaults_are_told_and_stated_figures_are_not(line: Line) -> None:
    by_default = compared(evaluate_without_run(line)).assumed
    keys = [one.split()[1] for one in by_default if one.startswith("key ")]
    assert keys == [
        "belt_speed",
        "gate_release",
        "lift_and_locate",
        "pallet",
        "pallets_per_station",
        "air",
        "drive_power",
    ]
    own = line.model_copy(update={"baseline": Baseline(belt_speed_m_s=0.25, lift_s=0.7, air_m3=0.002)})
    told = compared(evaluate_without_run(own)).assumed
    assert [one.split()[1] for one in told if one.startswith("key ")] == [
        "gate_release",
        "pallet",
        "pallets_per_station",
        "drive_power",
    ]


def test_defaults_that_decide_the_exchange_tell_what_they_do(line: Line) -> None:
    (speed,) = [one for one in compared(evaluate_without_run(line)).assumed if one.startswith("key belt_speed")]
    assert speed == (
        "key belt_speed of baseline is not stated: 200 mm/s (common practice, from memory); 150 mm/s and 300 mm/s give "
        "an exchange of 2.5 s and 2.2 s, 6 and 6 stations"
    )


def test_lengths_follow_the_units_of_the_line() -> None:
    assumed = compared(evaluate_without_run(load_line(EXAMPLES / "charts" / "five.yaml"))).assumed
    assert not [one for one in assumed if " mm" in one.replace(" mm²", "")]


@pytest.mark.parametrize("path", sorted((EXAMPLES / "ways").glob("*.yaml")), ids=lambda path: path.stem)
@pytest.mark.long
def test_every_way_can_be_compared(path: Path) -> None:
    evaluation = evaluate(load_line(path), hours=0.5, runs=2)
    if evaluation.run is None or evaluation.run.rate is None or not evaluation.run.rate.mean > 0.0:
        pytest.skip("makes no good part")
    found = compared(evaluation)
    assert found.exchange_factor > 3.0
    assert found.extra_stations >= 0
