"""How long guides live: the load over a duty, travel of a year, what a run is needed for."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from linewright.checks.strength import check_strength, guide_life
from linewright.checks.upkeep import check_upkeep
from linewright.flow.duty import Duty, DutyLeg
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.model import CarrierChange, Line
from linewright.line.station import Rework
from linewright.line.surroundings import MoveLimits
from linewright.motion import Limits, plan_move
from linewright.motion.limits import STANDARD_GRAVITY_M_S2
from unit.checks.strength_lines import (
    DYNAMIC_N,
    GAUGE_M,
    MAGNETS_N,
    NONE,
    PLATE_M,
    SPACING_M,
    THRUST_M,
    checked,
    line_of,
    one,
)
from unit.layout.track_lines import branch_line, ring_line

MASS = {True: {0.38: PLATE_M - 0.014, 0.3: PLATE_M + 0.015, 0.1: PLATE_M + 0.045}}
MASS[False] = {mass: height for mass, height in MASS[True].items() if mass != 0.1}
REST_N = {loaded: (MAGNETS_N + sum(of) * STANDARD_GRAVITY_M_S2) / 4 for loaded, of in MASS.items()}
TURN_N_S2_M = {loaded: sum(m * (h - THRUST_M) for m, h in of.items()) / (2 * SPACING_M) for loaded, of in MASS.items()}
DRAG_N = 1.1 * THRUST_M / (2 * SPACING_M)
# Without a limit of jerk: 0.05 m up to 1 m/s at 10 m/s², 0.1 m down at 5 m/s².
LIMITS = Limits(1.0, 10.0, math.inf, 5.0)
UP_M, DOWN_M = 0.05, 0.1


def duty_of(line: Line, *moves: tuple[float, bool, int, int], span_s: float = 3600.0) -> Duty:
    """(distance, loaded, lane, how often) of each kind of move; carriers take turns. Below 0: the way back."""
    legs, numbers = [], []
    for i, (distance_m, loaded, lane, count) in enumerate(moves):
        move = plan_move(abs(distance_m), LIMITS)
        legs.append(DutyLeg(0, 1, loaded, lane, 0.0, distance_m, False, sum(MASS[loaded]), move))
        numbers += [i] * count
    leg = np.array(numbers, dtype=np.int64)
    carrier = np.arange(len(leg), dtype=np.int64) % line.carriers
    none = np.zeros(0, np.int64)
    departure_us = np.arange(len(leg), dtype=np.int64)
    return Duty(0.0, span_s, line.carriers, tuple(legs), carrier, departure_us, leg, none, none, none)


def by_hand_N(*moves: tuple[float, bool, int, int]) -> float:
    """(distance, loaded, heading on the floor, how often): the mean of cubes of the worse pair of blocks."""
    front, rear, way = 0.0, 0.0, 0.0
    for distance, loaded, heading, count in moves:
        for travel, acceleration in ((UP_M, 10.0), (distance - UP_M - DOWN_M, 0.0), (DOWN_M, -5.0)):
            tip = heading * (acceleration * TURN_N_S2_M[loaded] - DRAG_N)
            front += count * travel * (REST_N[loaded] - tip) ** 3
            rear += count * travel * (REST_N[loaded] + tip) ** 3
            way += count * travel
    return float((max(front, rear) / way) ** (1 / 3))


def test_the_load_over_a_duty_by_hand() -> None:
    line = line_of(NONE)
    # The lower lane runs west: there the carrier's front blocks lead no more.
    duty = duty_of(line, (0.5, True, 0, 8), (0.9, False, 1, 4))
    expected_N = by_hand_N((0.5, True, 1, 8), (0.9, False, -1, 4))
    assert abs(by_hand_N((0.5, True, 1, 8), (0.9, False, 1, 4)) / expected_N - 1.0) > 1e-4
    life = checked(line, duty).life
    assert life is not None
    assert life.from_duty
    assert life.equivalent_N == pytest.approx(expected_N, rel=1e-9)
    assert life.travel_m == pytest.approx(guide_life(DYNAMIC_N, 1.2 * expected_N).travel_m)
    # Carriers 0 to 3 take turns: each makes 2 loaded and 1 empty move in the hour, for 2800 planned hours.
    assert life.travel_per_year_m == pytest.approx((2 * 0.5 + 0.9) * 2800.0)
    assert life.years == pytest.approx(life.travel_m / (1.9 * 2800.0))
    row, years = one(line, "guide-life", duty), one(line, "guide-years", duty)
    assert (row.value, row.unit, row.verdict) == (pytest.approx(life.travel_m / 1000.0), "km", "holds")
    assert (years.value, years.unit, years.limit) == (pytest.approx(life.years), "years", None)


def test_on_the_way_back_the_blocks_change_places() -> None:
    line = line_of(NONE)
    back = checked(line, duty_of(line, (0.5, True, 0, 3), (-0.5, True, 0, 2))).life
    assert back is not None
    assert back.equivalent_N == pytest.approx(by_hand_N((0.5, True, 1, 3), (0.5, True, -1, 2)), rel=1e-9)


def test_the_carrier_that_travels_most_sets_the_years() -> None:
    line = line_of(NONE)
    life = checked(line, duty_of(line, (0.5, True, 0, 9))).life
    assert life is not None
    assert life.travel_per_year_m == pytest.approx(3 * 0.5 * 2800.0)


def test_a_move_in_a_curve_has_its_side_pull_all_the_way() -> None:
    more = "part: {mass: 100 g, mass_height: 20 mm}\nfixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}"
    line = ring_line(300.0, 900.0, more=more, keys=", force: none")
    duty = duty_of(line, (0.5, True, 0, 4))
    curved = replace(duty, legs=tuple(replace(leg, curved=True) for leg in duty.legs))
    straight, round_ = checked(line, duty).life, checked(line, curved).life
    assert straight is not None
    assert round_ is not None
    assert straight.equivalent_N == pytest.approx(by_hand_N((0.5, True, 1, 4)), rel=1e-9)
    pull = 1.0**2 / 0.24
    side_N = pull * (sum(m * h for m, h in MASS[True].items()) / (2 * GAUGE_M) + sum(MASS[True]) / 4)
    cubes, way = np.zeros(2), 0.0
    for travel, acceleration in ((UP_M, 10.0), (0.5 - UP_M - DOWN_M, 0.0), (DOWN_M, -5.0)):
        tip = acceleration * TURN_N_S2_M[True] - DRAG_N
        cubes += travel * (REST_N[True] + side_N + np.array([-tip, tip])) ** 3
        way += travel
    assert round_.equivalent_N == pytest.approx((cubes.max() / way) ** (1 / 3), rel=1e-9)


def test_where_travel_does_not_follow_from_the_demand() -> None:
    line = line_of(NONE)
    known = checked(line).life
    assert known is not None
    assert known.years is not None
    first = line.stations[0].model_copy(update={"rework": Rework(share=0.1, to="a", at_most=1)})
    change = CarrierChange(time_s=3600.0, station="a", out=1)
    for update in ({"stations": (first, *line.stations[1:])}, {"carrier_changes": (change,)}):
        life = checked(line.model_copy(update=update)).life
        assert life is not None
        assert life.years is None


def test_without_a_run_the_load_is_bounded_and_travel_follows_from_the_demand() -> None:
    line = line_of(NONE)
    bounded, run = checked(line).life, checked(line, duty_of(line, (0.5, True, 0, 8))).life
    assert bounded is not None
    assert run is not None
    assert not bounded.from_duty
    assert bounded.equivalent_N is not None
    assert run.equivalent_N is not None
    assert bounded.equivalent_N > run.equivalent_N
    assert bounded.travel_per_year_m == pytest.approx(1e6 * lay_out(line).loop_m / 4)
    two_nests = line.model_copy(update={"fixture": line.fixture.model_copy(update={"nests": 2})})  # type: ignore[union-attr]
    halved = checked(two_nests).life
    assert halved is not None
    assert halved.travel_per_year_m == pytest.approx(bounded.travel_per_year_m / 2)


def test_the_year_is_that_of_upkeep_with_and_without_a_run() -> None:
    line = line_of("force: none, rejects: 20 %, misses: 10 %", "force: none, reject_exit: true")
    demand = line.demand.model_copy(update={"losses_not_modelled": 0.2})  # type: ignore[union-attr]
    line = line.model_copy(update={"demand": demand})
    for duty in (None, duty_of(line, (0.5, True, 0, 8), (0.9, False, 1, 4))):
        found, use = checked(line, duty).life, check_upkeep(line, lay_out(line), find_takt(demand), duty).use
        assert found is not None
        assert use is not None
        assert found.travel_per_year_m == pytest.approx(use.travel_m, rel=1e-12)
        assert check_strength(line, lay_out(line), None, duty).life == found  # the demand is in the line file
    hours = 2 * 7 * 200 * 0.8
    assert use.travel_m == pytest.approx((2 * 0.5 + 0.9) * hours)


def test_a_ring_has_its_years_from_the_demand() -> None:
    more = "part: {mass: 100 g, mass_height: 20 mm}\nfixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}\n"
    demand = "demand: {good_parts_per_year: 1000, shifts_per_day: 1, paid_time_per_shift: 7 h, days_per_year: 200}\n"
    line = ring_line(300.0, 900.0, more=more + demand, keys=", force: none")
    life = checked(line).life
    assert life is not None
    assert life.travel_per_year_m == pytest.approx(1000 * lay_out(line).loop_m / line.carriers)


def test_misses_count_as_rejects_do() -> None:
    plain, missing = checked(line_of(NONE)).life, checked(line_of("force: none, misses: 20 %")).life
    assert plain is not None
    assert missing is not None
    assert plain.travel_per_year_m is not None
    assert missing.travel_per_year_m == pytest.approx(plain.travel_per_year_m / 0.8)


def test_rejects_make_carriers_go_round_more_often() -> None:
    plain, rejecting = (
        checked(line_of(NONE)).life,
        checked(line_of("force: none, rejects: 20 %", "force: none, reject_exit: true")).life,
    )
    assert plain is not None
    assert rejecting is not None
    assert plain.travel_per_year_m is not None
    assert rejecting.travel_per_year_m == pytest.approx(plain.travel_per_year_m / 0.8)


def test_where_the_demand_does_not_tell_the_travel_a_run_is_asked_for() -> None:
    fixture = (
        "part: {mass: 100 g, mass_height: 20 mm}\nfixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}\n"
    )
    demand = "demand: {good_parts_per_year: 1000, shifts_per_day: 1, paid_time_per_shift: 7 h, days_per_year: 200}"
    row = one(branch_line(more=f"{fixture}\n{demand}"), "guide-years")
    assert (row.verdict, row.value) == ("not checked", None)
    assert row.remedy.startswith("linewright check --run")
    no_demand = one(branch_line(more=fixture), "guide-years")
    assert no_demand.remedy.startswith("state the key demand")
    still = one(line_of(NONE), "guide-years", duty_of(line_of(NONE)))
    assert "nothing moved" in still.where


def test_a_load_beyond_half_the_rating_is_outside_the_formula() -> None:
    row = one(line_of(NONE, guides={"dynamic_rating_N": 75.0}), "guide-load")
    assert (row.verdict, row.limit) == ("fails", 37.5)
    rating = re.search(r"dynamic rating of ([0-9.]+) N", row.remedy)
    assert rating is not None
    tight = one(line_of(NONE, guides={"dynamic_rating_N": float(rating[1])}), "guide-load")
    assert tight.verdict == "tight"
    more = re.search(r"dynamic rating of ([0-9.]+) N", tight.remedy)
    assert more is not None
    assert one(line_of(NONE, guides={"dynamic_rating_N": float(more[1])}), "guide-load").verdict == "holds"


def test_guides_without_balls_live_by_what_the_sheet_states() -> None:
    other = line_of(NONE, guides={"kind": "other", "travel_life_m": 5e6, "load_factor": None})
    assert one(other, "guide-life").value == 5000.0
    life = checked(other).life
    assert life is not None
    assert life.equivalent_N is None
    row = one(line_of(NONE, guides={"kind": "other"}), "guide-life")
    assert (row.verdict, row.remedy) == ("not checked", "state the key travel_life under guides in the conveyor sheet")


@pytest.mark.parametrize(
    "speed_m_s, factor, words",
    [
        (2.0, 1.2, "; common values up to 2 m/s: 1.5 to 2, from memory"),
        (2.0, 1.5, None),
        (2.001, 1.9, "; common values beyond 2 m/s: 2 to 3.5, from memory"),
        (0.9, 1.1, "; common values up to 1 m/s: 1.2 to 1.5, from memory"),
        (0.25, 1.0, None),
        (0.2, None, "; common values up to 0.25 m/s: 1 to 1.2, from memory"),
    ],
)
def test_a_load_factor_under_what_is_common_at_the_speed_is_told(
    speed_m_s: float, factor: float | None, words: str | None
) -> None:
    row = one(line_of(NONE, guides={"load_factor": factor}, drive={"speed_m_s": speed_m_s}), "guide-life")
    assert ("common values" in row.where) == (words is not None)
    assert words is None or words in row.where
    slow = line_of(NONE, guides={"load_factor": 1.0}).model_copy(update={"move_limits": MoveLimits(speed_m_s=0.2)})
    assert "common values" not in one(slow, "guide-life").where


def test_moves_that_the_line_keeps_gentle_load_the_blocks_less() -> None:
    def states(line: Line) -> dict[str, float]:
        return {row["state"]: row["block_load_N"] for row in checked(line).moving.rows() if row["loaded"]}

    line = line_of(NONE)
    gentle = line.model_copy(update={"move_limits": MoveLimits(acceleration_m_s2=3.0)})
    rest_N, turn = REST_N[True], TURN_N_S2_M[True]
    assert states(gentle)["speeding up at 3 m/s²"] == pytest.approx(rest_N + 3.0 * turn - DRAG_N)
    assert states(gentle)["emergency stop at 14 m/s²"] == states(line)["emergency stop at 14 m/s²"]
    bounded, life = checked(line).life, checked(gentle).life
    assert bounded is not None
    assert life is not None
    assert life.equivalent_N == pytest.approx(rest_N + 3.0 * turn - DRAG_N)
    assert life.travel_m > bounded.travel_m
    keen = line.model_copy(update={"move_limits": MoveLimits(acceleration_m_s2=30.0, speed_m_s=3.0)})
    assert states(keen) == states(line)


def test_a_line_that_keeps_its_speed_down_pulls_less_in_a_curve() -> None:
    more = "part: {mass: 100 g, mass_height: 20 mm}\nfixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}"
    line = ring_line(300.0, 900.0, more=more, keys=", force: none")
    slow = line.model_copy(update={"move_limits": MoveLimits(speed_m_s=0.6)})
    side = sum(m * h for m, h in MASS[True].items()) / (2 * GAUGE_M) + sum(MASS[True]) / 4
    found = [next(row["block_load_N"] for row in checked(one).moving.rows() if row["loaded"]) for one in (line, slow)]
    assert found[0] - found[1] == pytest.approx((1.2**2 - 0.6**2) / 0.24 * side)
