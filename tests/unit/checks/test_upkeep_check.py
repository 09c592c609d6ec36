"""The year of a line by hand, from its demand and from a run; what its surroundings ask for; what is missing."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.checks.upkeep import UpkeepResult, check_upkeep
from linewright.findings import Finding
from linewright.flow.duty import Duty, DutyLeg
from linewright.layout import Layout, lay_out
from linewright.line.demand import TaktResult, find_takt
from linewright.line.load import load_line
from linewright.line.model import CarrierChange, Failure, Line, TimeLaw
from linewright.line.ratings import WearPart
from linewright.line.surroundings import Environment, UpkeepPlan
from linewright.motion import Limits, plan_move

EXAMPLES = Path(__file__).parents[3] / "examples"
LIMITS = Limits(1.85, 14.0, 260.0, 14.0)


def read(name: str) -> tuple[Line, Layout, TaktResult]:
    line = load_line(EXAMPLES / name)
    assert line.demand is not None
    return line, lay_out(line), find_takt(line.demand)


@pytest.fixture(scope="module")
def example() -> tuple[Line, Layout, TaktResult]:
    return read("limits/upkeep.yaml")


def changed(line: Line, upkeep: dict[str, Any] | None = None, sheet: dict[str, Any] | None = None, **own: Any) -> Line:
    """The line with other values of its own, of its sheet, of the sheet's upkeep; not validated anew."""
    conveyor = line.conveyor
    if upkeep is not None:
        assert conveyor.upkeep is not None
        conveyor = conveyor.model_copy(update={"upkeep": conveyor.upkeep.model_copy(update=upkeep)})
    if sheet is not None:
        conveyor = conveyor.model_copy(update=sheet)
    return line.model_copy(update={"conveyor": conveyor, **own})


def rows(result: UpkeepResult, code: str) -> list[Finding]:
    found = [one for one in result.findings if one.code == code]
    assert all(one.subject == "upkeep" for one in found)
    return found


def row(result: UpkeepResult, code: str) -> Finding:
    (found,) = rows(result, code)
    return found


def test_the_example_fails_and_is_tight_as_it_says(example: tuple[Line, Layout, TaktResult]) -> None:
    result = check_upkeep(*example)
    bad = {one.code: one.verdict for one in result.findings if one.verdict != "holds"}
    assert bad == {"iron-chips": "tight", "spatter": "tight", "wash-down": "fails", "static-electricity": "tight"}
    assert all(one.place is not None and one.source for one in result.findings)
    assert all(one.remedy for one in result.findings if one.verdict != "holds")
    assert "IP54, not for wash-down" in row(result, "wash-down").where


def test_the_year_of_a_loop_by_hand(example: tuple[Line, Layout, TaktResult]) -> None:
    """4 800 000 loads of one part, none rejected, go once round a loop of 4.664 m on 12 carriers."""
    line, layout, takt = example
    result = check_upkeep(line, layout, takt)
    assert layout.loop_m == pytest.approx(2 * (2.208 + 0.124))  # two lanes, two platforms of 118 mm with gaps of 3 mm
    assert result.use is not None
    assert result.use.basis == "demand"
    assert result.use.travel_m == pytest.approx(4_800_000 * 4.664 / 12, rel=1e-12)
    assert result.use.transfer_cycles == (4_800_000.0, 4_800_000.0)
    assert row(result, "yearly-use").value == result.use.travel_m
    greased = row(result, "relubrication")  # every 1400 km, before 14 months
    assert (greased.unit, greased.limit, greased.margin) == ("months", None, None)
    assert greased.value == pytest.approx(12 * 1400e3 / (4_800_000 * 4.664 / 12), rel=1e-12)
    wear = {one["part"]: one for one in result.wear.rows()}
    assert wear["scraper"]["units"] == 48
    assert wear["scraper"]["per_year"] == pytest.approx(48 * result.use.travel_m / 9000e3, rel=1e-12)
    assert wear["platform-belt"]["per_year"] == pytest.approx(2 * 4.8 / 12, rel=1e-12)
    sections = sum(len(lane.sections) for lane in layout.lanes)
    planned_h = 2 * 7.25 * 236
    assert wear["section-board"]["per_year"] == pytest.approx(sections * planned_h / 180_000, rel=1e-12)
    assert wear["cabinet-fan"]["per_year"] == pytest.approx(2 * 12 / 60, rel=1e-12)
    swap = row(result, "section-swap")
    assert swap.value == pytest.approx(sections * planned_h / 180_000 * 25 * 60, rel=1e-12)


def test_the_calendar_is_in_order_and_says_what_comes_first(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    calendar = check_upkeep(line, layout, takt).calendar
    assert calendar.names == ("what", "per", "interval_weeks", "reason", "per_year")
    assert calendar["interval_weeks"].tolist() == sorted(calendar["interval_weeks"].tolist())
    assert [one["reason"] for one in calendar] == ["travel", "cycles", "travel", "calendar"]
    assert calendar["interval_weeks"] * calendar["per_year"] == pytest.approx(365.25 / 7)
    often = check_upkeep(changed(line, upkeep={"relubrication_months": 1.0}), layout, takt)
    assert often.calendar.rows()[0] == {
        "what": "relubrication", "per": "carrier", "interval_weeks": pytest.approx(365.25 / 7 / 12),
        "reason": "calendar", "per_year": 12.0,
    }  # fmt: skip


def test_spares_of_the_lead_time(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    result = check_upkeep(line, layout, takt)
    kept = {one["part"]: one for one in result.spares.rows()}
    mean = kept["scraper"]["expected_per_year"] * 2 / 12
    tail = [math.exp(-mean) * mean**k / math.factorial(k) for k in range(20)]
    assert kept["scraper"]["stock"] == next(n for n in range(20) if sum(tail[: n + 1]) >= 0.98)
    assert row(result, "spares").value == sum(one["stock"] for one in kept.values())
    plan = UpkeepPlan(service_level=0.98, lead_time_months=12.0)
    longer = check_upkeep(line.model_copy(update={"upkeep": plan}), layout, takt)
    assert longer.spares["stock"].sum() > result.spares["stock"].sum()


def test_failures_of_stations_by_their_three_measures(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    result = check_upkeep(line, layout, takt)
    drill, weld = result.failures.rows()
    assert (drill["station"], drill["measure"]) == ("drill", "cycles")
    assert drill["per_year"] == pytest.approx(4_800_000 / 900, rel=1e-12)
    assert weld["per_year"] == pytest.approx(4_800_000 * 1.2 / (3 * 3600), rel=1e-12)
    clock = Failure(every=TimeLaw.exponential(7200.0), of="clock", repair=TimeLaw.fixed(300.0))
    stations = tuple(
        station.model_copy(update={"failures": (clock,) if station.name == "weld" else ()}) for station in line.stations
    )
    result = check_upkeep(changed(line, stations=stations), layout, takt)
    (weld,) = result.failures.rows()
    assert weld["per_year"] == pytest.approx(2 * 7.25 * 236 * 3600 * 0.96 / 7500, rel=1e-12)
    found = row(result, "station-failures")
    assert found.value == weld["per_year"]
    assert "most at weld" in found.where


def test_rejects_parallel_stations_and_exits_by_hand() -> None:
    line, layout, takt = read("demo/line.yaml")
    use = check_upkeep(line, layout, takt).use
    assert use is not None
    loads = 7_820_000 / ((1 - 0.008) * (1 - 0.006))
    works = dict(zip([station.name for station in line.stations], use.works, strict=True))
    assert works["load"] == pytest.approx(loads, rel=1e-12)
    assert works["test-1"] == works["test-2"] == pytest.approx(loads / 2, rel=1e-12)
    assert works["scrap"] == pytest.approx(loads - 7_820_000, rel=1e-9)


def test_nests_and_misses_by_hand() -> None:
    line, layout, takt = read("demo/line.yaml")
    assert line.fixture is not None
    stations = tuple(
        station.model_copy(
            update={
                "misses": 0.05 if station.name == "load" else 0.0,
                "each": "carrier" if station.name == "mark" else "part",
            }
        )
        for station in line.stations
    )
    fixture = line.fixture.model_copy(update={"nests": 2})
    use = check_upkeep(changed(line, fixture=fixture, stations=stations), layout, takt).use
    assert use is not None
    kept = (1 - 0.008) * (1 - 0.006)
    loads = 7_820_000 / (2 * kept * 0.95)
    names = [station.name for station in line.stations]
    works, work_s = (dict(zip(names, values, strict=True)) for values in (use.works, use.work_s))
    assert works["load"] == pytest.approx(loads, rel=1e-12)
    assert works["scrap"] == pytest.approx(loads * (1 - kept**2), rel=1e-9)  # one flagged part of two is enough
    assert work_s["mark"] == pytest.approx(loads * 0.9, rel=1e-12)
    assert work_s["label"] == pytest.approx(loads * 2 * 1.25, rel=1e-12)


def test_a_part_that_goes_round_twice_travels_twice(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    order = (0, 2, 1, 3, 4)  # the third station, then back to the second
    twice = check_upkeep(changed(line, route=tuple(line.route[i] for i in order)), layout, takt).use
    once = check_upkeep(line, layout, takt).use
    assert once is not None
    assert twice is not None
    assert twice.travel_m == pytest.approx(2 * once.travel_m, rel=1e-12)


def made_up_duty(line: Line, layout: Layout) -> Duty:
    """100 s: two carriers; one goes 1 m five times, the other three times, twice of it onto the first platform."""
    aboard = layout.transfers[0].aboard
    move = plan_move(1.0, LIMITS)
    legs = (
        DutyLeg(0, 1, False, 0, 0.0, 1.0, False, 0.62, move),
        DutyLeg(1, aboard, True, 0, 0.0, 1.0, False, 0.7, move),
    )
    carrier = np.array([0, 0, 0, 0, 0, 1, 1, 1])
    leg = np.array([0, 0, 0, 0, 0, 0, 1, 1])
    starts = np.array([10, 20, 30, 40]) * 1_000_000
    return Duty(
        from_s=5.0, to_s=105.0, carriers=line.carriers, legs=legs, carrier=carrier,
        departure_us=np.arange(8) * 10_000_000 + 6_000_000, leg=leg,
        work_station=np.array([1, 1, 1, 2]), work_start_us=starts, work_end_us=starts + 2_000_000,
    )  # fmt: skip


def test_a_run_is_scaled_to_the_usable_hours_of_a_year(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    result = check_upkeep(line, layout, takt, made_up_duty(line, layout))
    times = 2 * 7.25 * 3600 * 236 * 0.96 / 100.0
    assert result.use is not None
    assert result.use.basis == "run"
    assert result.use.travel_m == pytest.approx(5.0 * times, rel=1e-9)  # of the one that travels most
    assert result.use.mean_travel_m == pytest.approx(8.0 / 12 * times, rel=1e-9)
    assert result.use.transfer_cycles == (pytest.approx(2.0 * times), 0.0)
    assert result.use.works == pytest.approx((0.0, 3 * times, times, 0.0, 0.0))
    assert result.use.work_s == pytest.approx((0.0, 3 * 1.7 * times, 1.2 * times, 0.0, 0.0))
    wear = {one["part"]: one for one in result.wear.rows()}
    assert wear["scraper"]["life_years"] == pytest.approx(9000e3 / (5.0 * times))  # worn first where used most
    assert wear["scraper"]["per_year"] == pytest.approx(48 * 8.0 / 12 * times / 9000e3)
    assert "counted in a run" in row(result, "yearly-use").where


def test_a_run_is_asked_for_where_ways_follow_from_it_alone() -> None:
    line, layout, takt = read("briefs/two-lane-three-operators.yaml")
    assert layout.is_closed
    assert check_upkeep(line, layout, takt).use is not None
    line, layout, takt = read("briefs/to-and-fro-cell.yaml")
    result = check_upkeep(line, layout, takt)
    found = row(result, "yearly-use")
    assert result.use is None
    assert found.verdict == "not checked"
    assert found.remedy.startswith("linewright check --run")
    assert "relubrication" in found.where
    assert not rows(result, "relubrication")


def test_failures_of_the_clock_need_hours_alone() -> None:
    line, layout, takt = read("briefs/to-and-fro-cell.yaml")
    clock = Failure(every=TimeLaw.exponential(7200.0), of="clock", repair=TimeLaw.fixed(300.0))
    stations = tuple(station.model_copy(update={"failures": (clock,)}) for station in line.stations)
    result = check_upkeep(changed(line, stations=stations), layout, takt)
    assert result.use is None
    assert len(result.failures) == len(line.stations)
    assert "failures" not in row(result, "yearly-use").where
    jam = Failure(one_in=500, repair=TimeLaw.fixed(20.0))
    stations = tuple(station.model_copy(update={"failures": (clock, jam)}) for station in line.stations)
    result = check_upkeep(changed(line, stations=stations), layout, takt)
    assert len(result.failures) == 0
    assert "failures of stations" in row(result, "yearly-use").where


def test_without_a_demand_what_needs_no_hours_is_still_known(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, _ = example
    result = check_upkeep(changed(line, demand=None), layout)
    found = row(result, "yearly-use")
    assert found.verdict == "not checked"
    assert "state the key demand" in found.remedy
    assert "relubrication, scraper, platform-belt, section-board, failures of stations" in found.where
    assert result.wear["part"].tolist() == ["cabinet-fan"]
    assert result.calendar["what"].tolist() == ["cabinet-fan"]
    assert len(result.failures) == 0


def test_a_line_that_states_nothing_of_it_gets_two_rows(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, _ = example
    stations = tuple(station.model_copy(update={"failures": ()}) for station in line.stations)
    bare = changed(line, sheet={"upkeep": None}, demand=None, environment=None, stations=stations)
    bare = bare.model_copy(update={"upkeep": None})
    findings = check_upkeep(bare, layout).findings
    assert [(one.code, one.verdict) for one in findings] == [
        ("relubrication", "not checked"),
        ("environment", "not checked"),
    ]
    assert "every 6 months" in findings[0].remedy
    assert "chips: true or false, spatter: true or false" in findings[1].remedy


def test_spares_and_wear_parts_that_are_not_stated_are_named(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    result = check_upkeep(line.model_copy(update={"upkeep": None}), layout, takt)
    assert row(result, "spares").verdict == "not checked"
    assert len(result.spares) == 0
    result = check_upkeep(changed(line, upkeep={"wear_parts": ()}), layout, takt)
    assert row(result, "wear-parts").verdict == "not checked"
    assert not rows(result, "spares")
    assert not rows(result, "section-swap")


def test_a_demand_of_spares_beyond_the_formula_is_named_and_not_checked(
    example: tuple[Line, Layout, TaktResult],
) -> None:
    line, layout, takt = example
    parts = (
        WearPart(name="thread", per="carrier", count=10_000, travel_m=1.0),
        WearPart(name="fan", per="line", months=60.0),
    )
    result = check_upkeep(changed(line, upkeep={"wear_parts": parts}), layout, takt)
    found = row(result, "spares")
    assert (found.verdict, found.value) == ("not checked", None)
    assert "thread" in found.where
    assert "fan" not in found.where
    assert found.remedy
    assert result.spares["part"].tolist() == ["fan"]
    assert result.wear["part"].tolist() == ["thread", "fan"]


def test_the_demand_of_the_file_is_found_where_no_takt_is_given(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    assert check_upkeep(line, layout).findings == check_upkeep(line, layout, takt).findings
    assert check_upkeep(line, layout).use is not None


def test_where_no_traffic_is_possible_no_run_is_asked_for(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    blocked = replace(layout, blocking=("dock-pitch",))
    found = row(check_upkeep(line, blocked, takt), "yearly-use")
    assert found.verdict == "not checked"
    assert "no traffic is possible" in found.where
    assert "--run" not in found.remedy


def test_changes_of_carriers_follow_from_a_run_alone(example: tuple[Line, Layout, TaktResult]) -> None:
    line, layout, takt = example
    change = CarrierChange(time_s=3600.0, station=line.stations[0].name, out=1)
    found = row(check_upkeep(changed(line, carrier_changes=(change,)), layout, takt), "yearly-use")
    assert found.verdict == "not checked"
    assert found.remedy.startswith("linewright check --run")


def test_parts_of_transfers_are_left_out_where_there_are_none() -> None:
    line = load_line(EXAMPLES / "ways" / "ring.yaml")
    belt = WearPart(name="belt", per="transfer", months=12.0)
    result = check_upkeep(changed(line, upkeep={"wear_parts": (belt,)}), lay_out(line))
    assert len(result.wear) == 0


@pytest.mark.parametrize(
    "protection, verdict",
    [("IP54", "fails"), ("IP67", "fails"), ("IP65", "tight"), ("IP69K", "tight"), ("tight", "not checked")]
    + [
        ("IP65, no wash-down", "fails"),
        ("not for wash-down", "fails"),
        ("IP65, Not for washdown", "fails"),
        ("IP65. Not suitable for wash-down.", "fails"),
        ("IP65, unsuitable for wash down", "fails"),
        ("No oil. IP65, under wash-down", "tight"),
        (None, "not checked"),
    ],
)
def test_wash_down_against_the_degree_of_protection(
    example: tuple[Line, Layout, TaktResult], protection: str | None, verdict: str
) -> None:
    line, layout, takt = example
    found = row(check_upkeep(changed(line, sheet={"protection": protection}), layout, takt), "wash-down")
    assert found.verdict == verdict
    assert found.margin is None
    assert found.remedy


def test_surroundings_that_are_absent_hold_and_partly_stated_ones_do_not(
    example: tuple[Line, Layout, TaktResult],
) -> None:
    line, layout, takt = example
    clean = Environment(chips=False, spatter=False, wash_down=False, static=False)
    found = row(check_upkeep(changed(line, environment=clean), layout, takt), "environment")
    assert (found.verdict, found.remedy) == ("holds", "")
    partly = Environment(chips=True, wash_down=False)
    result = check_upkeep(changed(line, environment=partly), layout, takt)
    found = row(result, "environment")
    assert found.verdict == "not checked"
    assert "static" in found.remedy
    assert "spatter" in found.remedy
    assert "chips" not in found.remedy
    assert row(result, "iron-chips").verdict == "tight"


@pytest.mark.long
def test_demand_and_run_agree_on_the_way_of_one_load() -> None:
    """Whatever the rate: a load takes every carrier once round the loop, each transfer once."""
    from linewright.flow.duty import find_duty
    from linewright.flow.run import run_plan
    from linewright.traffic.compile import compile_plan

    line, layout, takt = read("demo/line.yaml")
    plan = compile_plan(line, layout)
    duty = find_duty(line, layout, plan, run_plan(line, plan, 8.0, 1, 7))
    found = check_upkeep(line, layout, takt, duty).use
    assert found is not None
    loads = found.works[0]
    assert found.mean_travel_m * line.carriers / loads == pytest.approx(layout.loop_m, rel=2e-3)
    assert [cycles / loads for cycles in found.transfer_cycles] == pytest.approx([1.0, 1.0], rel=2e-3)
