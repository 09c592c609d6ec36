"""What a stop leaves behind, from snapshots written by hand: who goes where, and what becomes of the parts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from linewright.flow.kernel.general.run import Snapshot
from linewright.flow.stopping import Aftermath, aftermath, plan_from, stopping_plan
from linewright.layout import Layout, lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.general import CarrierChange
from linewright.traffic.plan import TrafficPlan

TEXT = """\
linewright: 1
name: Two lanes, invented
conveyor: demo-light
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -420 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 4
stations:
  load: {lane: upper, at: 700 mm, time: 4 s, work: manual}
  test: {lane: upper, at: 1400 mm, time: 9 s, rejects: 0.001 %}
  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}
  unload: {lane: lower, at: 700 mm, time: 2 s}
route: [load, test, scrap, unload]
"""
AT_US = 50_000_000


@cache
def planned() -> tuple[Line, Layout, TrafficPlan]:
    line = read_line(TEXT, "stopped line")
    layout = lay_out(line)
    return line, layout, stopping_plan(line, layout)


def stopped(**given: list[int]) -> Snapshot:
    """Four empty carriers at rest on the first four stops, but for what is given."""
    zeros = np.zeros(4, np.int64)
    columns = {"step": zeros, "visit": zeros, "present": zeros, "flagged": zeros, "load": zeros - 1, "exit": zeros - 1}
    columns |= {"departed_us": zeros - 1, "arrives_us": zeros, "stop": np.arange(4), "origin": np.arange(4)}
    columns |= {name: np.array(values) for name, values in given.items()}
    flags = {"at_rest": np.ones(4, bool), "in_work": np.zeros(4, bool), "on_line": np.ones(4, bool)}
    flags |= {name: np.array(given[name], bool) for name in flags if name in given}
    none = np.zeros(0, np.int64)
    return Snapshot(
        stop=columns["stop"],
        origin=columns["origin"],
        departed_us=columns["departed_us"],
        arrives_us=columns["arrives_us"],
        at_rest=flags["at_rest"],
        in_work=flags["in_work"],
        step=columns["step"],
        load=columns["load"],
        visit=columns["visit"],
        present=columns["present"],
        flagged=columns["flagged"],
        exit=columns["exit"],
        on_line=flags["on_line"],
        platform_dock=none,
        platform_locked=none == 0,
        next_load=9,
        against=False,
    )


def left_by(snapshot: Snapshot) -> Aftermath:
    return aftermath(*planned(), snapshot, AT_US, 0.1)


def test_a_part_in_interrupted_work_is_flagged_for_the_next_exit() -> None:
    _, layout, plan = planned()
    test, unload = layout.stop_of("test").index, layout.stop_of("unload").index
    left = left_by(
        stopped(
            stop=[test, 2, 1, unload],
            step=[1, 0, 0, 3],
            load=[7, -1, -1, 6],
            present=[1, 0, 0, 1],
            in_work=[1, 0, 0, 1],
        )
    )
    start = left.start
    assert start.stops == (test, 2, 1, unload)
    assert (start.steps[0], start.flagged[0], start.exits[0], start.present[0], start.loads[0]) == (2, 1, 2, 1, 7)
    # No exit follows the unloader: its part is taken out by hand, and the carrier goes for the next.
    assert (start.steps[3], start.flagged[3], start.present[3], start.loads[3]) == (0, 0, 0, -1)
    assert (left.newly_flagged, left.by_hand, start.next_load) == (1, 1, 9)
    assert plan.general.start is None


def test_a_part_flagged_before_is_not_counted_again() -> None:
    _, layout, _ = planned()
    scrap = layout.stop_of("scrap").index
    parts = {"load": [7, -1, -1, -1], "present": [1, 0, 0, 0], "flagged": [1, 0, 0, 0], "exit": [2, -1, -1, -1]}
    left = left_by(stopped(stop=[scrap, 2, 1, 0], step=[2, 0, 0, 0], in_work=[1, 0, 0, 0], **parts))
    assert (left.start.flagged[0], left.start.exits[0]) == (1, 2)
    assert (left.newly_flagged, left.by_hand) == (0, 0)


def test_a_carrier_about_to_leave_goes_to_the_stop_that_it_has_reserved() -> None:
    """Carrier 0 has reserved stop 4 and not set out; carrier 1 has reserved the stop on which carrier 0 stands."""
    left = left_by(stopped(stop=[4, 3, 1, 0], origin=[3, 2, 1, 0], departed_us=[AT_US, AT_US + 5, -1, -1]))
    assert left.start.stops == (4, 3, 1, 0)
    ahead, behind, *others = left.carriers
    assert (ahead.carrier, behind.carrier) == (0, 1)
    assert "about to leave" in ahead.where
    assert ahead.to_go_m > 0.0
    assert ahead.recovery_end_s is not None
    assert behind.recovery_begin_s is not None
    assert ahead.recovery_end_s < behind.recovery_begin_s
    assert [one.to_go_m for one in others] == [0.0, 0.0]


def test_a_part_stands_where_its_carrier_is_and_not_where_that_will_go() -> None:
    """The carrier is about to leave a manual station: its part is within reach of a person."""
    _, layout, _ = planned()
    load = layout.stop_of("load").index
    parts = {"load": [3, -1, -1, -1], "present": [1, 0, 0, 0], "step": [1, 0, 0, 0]}
    goes = {"stop": [load + 1, 2, 1, 0], "origin": [load, 2, 1, 0], "departed_us": [AT_US, -1, -1, -1]}
    left = left_by(stopped(**goes, **parts))
    assert left.carriers[0].why == "within reach of a person"
    assert (left.start.flagged[0], left.start.steps[0], left.newly_flagged) == (1, 2, 1)


def test_a_worked_part_at_a_manual_station_goes_to_the_exit_after_that_station() -> None:
    """The tester is manual; its part is worked and good, so the next step lies beyond the exit, and unverified."""
    text = TEXT.replace("rejects: 0.001 %}", "rejects: 0.001 %, work: manual}")
    line = read_line(text, "stopped line")
    layout = lay_out(line)
    plan = stopping_plan(line, layout)
    test, lift = layout.stop_of("test").index, next(s.index for s in layout.stops if s.kind == "aboard")
    parts = {"load": [7, -1, -1, -1], "present": [1, 0, 0, 0], "step": [3, 0, 0, 0]}
    for stop in (test, lift):  # ready, and about to leave
        goes = {"stop": [stop, 2, 1, 0], "origin": [test, 2, 1, 0], "departed_us": [AT_US, -1, -1, -1]}
        left = aftermath(line, layout, plan, stopped(**goes, **parts), AT_US, 0.1)
        assert (left.carriers[0].fate, left.carriers[0].why) == ("rejected", "within reach of a person")
        assert (left.start.steps[0], left.start.flagged[0], left.start.exits[0], left.start.loads[0]) == (2, 1, 2, 7)
        assert (left.newly_flagged, left.by_hand) == (1, 0)


def test_the_plan_has_the_legs_of_whoever_goes_for_an_exit() -> None:
    _, layout, plan = planned()
    for name in ("load", "test"):
        here, lift = layout.stop_of(name).index, next(s.index for s in layout.stops if s.kind == "aboard")
        assert plan.move_time_us(1, here, lift) > 0
    unload = layout.stop_of("unload").index
    assert plan.move_time_us(0, unload, unload + 1) > 0


def test_carrier_changes_that_are_done_do_not_come_again() -> None:
    line, layout, plan = planned()
    out, put = CarrierChange(0, 10_000_000, -2), CarrierChange(0, 20_000_000, 3)
    changing = replace(plan, general=replace(plan.general, carrier_changes=(out, put)))
    nobody = {"stop": [0, 1, 2, 3], "on_line": [1, 1, 0, 1]}
    left = aftermath(line, layout, changing, stopped(**nobody), AT_US, 0.1)
    # One of two has been taken out, none put in.
    assert left.changes == (replace(out, count=-1), put)
    assert len(left.start.stops) == 3
    assert left.known == 4
    going = plan_from(changing, left, AT_US, 15_000_000)
    assert [(one.at_us, one.count) for one in going.general.carrier_changes] == [(0, -1), (5_000_000, 3)]
    assert going.carriers == 3
