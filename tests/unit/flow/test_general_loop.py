"""The general loop on one plain line with one thing added at a time."""

from __future__ import annotations

import dataclasses

from agree.test_kernel import plan_of_random_line
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.general.state import BREAK, CHANGEOVER, OPERATOR, OUTSIDE
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import (
    FEED,
    Break,
    CarrierChange,
    Changeover,
    General,
    Outside,
    Pool,
    Variant,
)
from linewright.traffic.plan import FIXED, Law

HOUR_US = 3_600_000_000
FIRST = plan_of_random_line(1).step_stations[0][0]
STATIONS = len(plan_of_random_line(1).station_names)


def run_with(general: General, horizon_us: int = HOUR_US) -> Replication:
    plan = dataclasses.replace(plan_of_random_line(1), general=general)
    return run_once(plan, tables_of(plan), luck_of(plan, 1, 0), horizon_us, HOUR_US // 60, trace_from_us=0)


def test_no_work_starts_in_a_break() -> None:
    every = plan_of_random_line(1).step_stations[0]
    one = run_with(General(breaks=(Break(every, 0, HOUR_US // 2, HOUR_US),)))
    assert min(start for station, _, _, start, _, _ in one.works if station in every) == HOUR_US // 2
    assert one.totals.state_us[FIRST, BREAK] > HOUR_US // 2 - 10_000_000


def test_a_feed_gives_no_more_parts_than_it_makes() -> None:
    feed = Outside(FIRST, FEED, Law(FIXED, 60e6), capacity=5, start=2)
    one = run_with(General(outside=(feed,)))
    assert (one.works[:, 0] == FIRST).sum() == 2 + 59
    assert one.totals.state_us[FIRST, OUTSIDE] > HOUR_US // 2


def test_an_operator_walks_to_the_station_before_work() -> None:
    other = (FIRST + 1) % STATIONS
    walk = ((0, 5_000_000), (5_000_000, 0))
    manual = tuple(station == FIRST for station in range(STATIONS))
    general = General(pools=(Pool("floor", 1, (other, FIRST), walk),), manual=manual, release_us=(-1,) * STATIONS)
    without = General(breaks=(Break((), 0, 1, HOUR_US),))
    plain, one = (run_with(some, HOUR_US // 60) for some in (without, general))
    assert one.works[one.works[:, 0] == FIRST][0, 3] == plain.works[plain.works[:, 0] == FIRST][0, 3] + 5_000_000
    assert one.totals.state_us[FIRST, OPERATOR] == 5_000_000


def test_a_changeover_takes_its_time_between_two_variants() -> None:
    variants, times = (Variant("a", 0.0), Variant("b", 0.0)), ((0, 3_000_000), (2_000_000, 0))
    one = run_with(General(variants=variants, sequence=(0, 1), changeovers=(Changeover(FIRST, times),)))
    works = int((one.works[:, 0] == FIRST).sum())
    fewest, most = (works - 2) // 2 * 5_000_000, works // 2 * 5_000_000
    assert fewest <= one.totals.state_us[FIRST, CHANGEOVER] <= most


def test_a_carrier_taken_out_never_moves_again() -> None:
    one = run_with(General(carrier_changes=(CarrierChange(FIRST, HOUR_US // 2, -1),)))
    assert one.beyond is not None
    assert (~one.beyond.snapshot.on_line).sum() == 1
    gone = int((~one.beyond.snapshot.on_line).argmax())
    assert one.beyond.snapshot.at_rest[gone]
    assert max(move[1] for move in one.moves if move[0] == gone) < HOUR_US - 600_000_000


REWORKED = """\
linewright: 1
name: Everything comes back, invented
conveyor: demo-light
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -420 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 2
stations:
  load: {lane: upper, at: 500 mm, time: 1 s}
  press: {lane: upper, at: 1000 mm, time: 1 s}
  test: {lane: upper, at: 1500 mm, time: 1 s, rework: {share: 99.9999999 %, to: press, at_most: 2}}
  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}
  unload: {lane: lower, at: 700 mm, time: 1 s}
route: [load, press, test, scrap, unload]
"""


def test_a_part_is_reworked_so_often_at_most() -> None:
    line = read_line(REWORKED, "reworked")
    plan = compile_plan(line, lay_out(line))
    one = run_once(plan, tables_of(plan), luck_of(plan, 1, 0), HOUR_US // 30, HOUR_US // 30, trace_from_us=0)
    names = [plan.station_names[station] for station, *_ in one.works.tolist()]
    scrapped = names.count("scrap")
    assert scrapped > 2
    assert 0 <= names.count("press") - 3 * scrapped <= 6
    assert 0 <= names.count("test") - 3 * scrapped <= 6
    assert names.count("unload") == 0
