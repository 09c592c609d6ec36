"""The changes that a line's causes and structure suggest: each is a valid line that can be laid out and planned."""

from __future__ import annotations

import dataclasses
import functools
from typing import Any, Final

import numpy as np
import pytest

from agree.random_lines import random_line
from linewright.flow.run import Run, run_plan
from linewright.layout import Layout, lay_out
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.sheet import as_data
from linewright.planning.changes import LEAST_SHARE, Change, find_changes
from linewright.traffic.compile import compile_plan, legs_of
from linewright.traffic.plan import TrafficPlan

LINES: Final = (6, 12, 23, 31, 34, 36)

IN_LINE: Final = """linewright: 1
name: Two testers in line
conveyor: demo-light
lanes:
  upper: {length: 1840 mm, from: west, to: east}
  lower: {length: 1840 mm, from: east, to: west, level: -320 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 8
stations:
  load: {lane: upper, at: 460 mm, time: 1 s}
  test-1: {lane: upper, at: 1200 mm, time: {law: triangular, least: 2.5 s, likely: 3 s, most: 3.6 s}}
  test-2: {lane: upper, at: 1430 mm, like: test-1, keep_clear: 50 mm}
  unload: {lane: lower, at: 980 mm, clear: 0.3 s, time: {law: empirical, times: [0.4 s, 1.2 s]},
           failures: [{every: 3 min, repair: {law: gamma, mean: 20 s, cv: 40 %}}]}
route: [load, [test-1, test-2], unload]
"""


@dataclasses.dataclass(frozen=True, eq=False)
class Subject:
    """A line, its track, plan, run and changes."""

    line: Line
    layout: Layout
    plan: TrafficPlan
    run: Run
    changes: tuple[Change, ...]

    def change(self, begin: str) -> Change:
        """The one change whose words begin so."""
        (found,) = (change for change in self.changes if change.words.startswith(begin))
        return found


@functools.cache
def subject(number: int) -> Subject:
    """The random line of a number; 0 is the one above."""
    line = read_line(IN_LINE) if number == 0 else random_line(number).read()
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours=0.5, runs=2, seed=1, workers=1)
    return Subject(line, layout, plan, run, find_changes(line, layout, run))


def as_read(line: Line) -> dict[str, Any]:
    """A line as plain data, its route as a file writes it."""
    data: dict[str, Any] = as_data(line)
    data["route"] = [step["stations"] for step in data["route"]]
    return data


@pytest.mark.parametrize("number", [0, *LINES])
def test_every_change_is_a_valid_line(number: int) -> None:
    """Changes are copies that nobody has validated: as plain data each goes through the model again, as if read."""
    here = subject(number)
    assert len(here.changes) >= 8
    assert len({change.words for change in here.changes}) == len(here.changes)
    for change in here.changes:
        assert Line.model_validate(as_read(change.line), by_name=True) == change.line, change.words
        assert change.line != here.line, change.words


@pytest.mark.parametrize("number", [0, *LINES])
def test_a_change_that_keeps_the_track_has_the_plan_that_is_compiled_anew(number: int) -> None:
    here = subject(number)
    kept = [change for change in here.changes if change.same_track]
    assert len(kept) >= 3
    for change in kept:
        layout = lay_out(change.line)
        handed, anew = compile_plan(change.line, layout, legs_of(here.plan)), compile_plan(change.line, layout)
        for field in dataclasses.fields(TrafficPlan):
            first, second = getattr(handed, field.name), getattr(anew, field.name)
            assert np.array_equal(first, second) if isinstance(first, np.ndarray) else first == second, field.name


@pytest.mark.parametrize("number", [0, *LINES])
def test_all_stations_of_a_changed_track_stand_clear_of_each_other(number: int) -> None:
    here = subject(number)
    for change in here.changes:
        if change.same_track or change.line.carriers != here.line.carriers:
            continue
        layout = lay_out(change.line)
        assert not layout.blocking, change.words
        for lane in change.line.lanes:
            places = sorted(stop.floor_m for stop in layout.stops if stop.lane == lane.name)
            assert min(np.diff(places)) > layout.pitch_m - 1e-9, change.words
            for station in change.line.stations:
                others = [at_m for at_m in places if abs(at_m - station.at_m) > 1e-9]
                reach_m = station.keep_clear_m + 0.5 * layout.body_m if station.lane == lane.name else 0.0
                assert all(abs(at_m - station.at_m) > reach_m - 1e-9 for at_m in others), change.words


def test_causes_under_half_a_per_cent_propose_nothing() -> None:
    """Of a line that waits for its testers and for repairs at unload, nothing of load is proposed."""
    here = subject(0)
    shares = {(row["kind"], row["place"]): row["share"] for row in here.run.cycle_causes.rows()}
    assert shares.get(("work", "load"), 0.0) < LEAST_SHARE < shares["work", "test-1"]
    words = [change.words for change in here.changes]
    assert "work at test-1/test-2 0.1 s shorter" in words
    assert not [one for one in words if one.startswith("work at load")]
    assert [change.place for change in here.changes if change.words.startswith("one carrier")] == [None, None]


def test_transfers_that_are_changed_together_are_all_named() -> None:
    """Two of one sheet, in the random lines too; any other change has one place, or none for the whole line."""
    several = 0
    for number in (0, *LINES):
        here = subject(number)
        of = {
            kind: [one.name for one in here.layout.transfers if one.kind == kind]
            for kind in here.line.conveyor.transfers
        }
        for change in here.changes:
            if change.words.endswith(": interlocks halved"):
                assert list(change.places) in of.values()
                assert " and ".join(change.places) == change.words.removesuffix(": interlocks halved")
                several += len(change.places) > 1
            else:
                assert change.places == (change.together if change.place is None else (change.place,))
    assert several >= 2


def test_laws_are_shortened_as_a_whole() -> None:
    here = subject(0)
    shorter = here.change("work at test-1/test-2").line
    for name in ("test-1", "test-2"):
        before, after = here.line.station(name).time, shorter.station(name).time
        factor = 1.0 - 0.1 / before.mean_s
        assert after.mean_s == pytest.approx(before.mean_s - 0.1, rel=1e-12)
        assert (after.least_s, after.most_s) == (before.least_s * factor, before.most_s * factor)  # type: ignore[operator]
    assert shorter.station("load") == here.line.station("load")
    halved = here.change("repairs at unload halved").line.station("unload")
    (before,), (after,) = here.line.station("unload").failures, halved.failures
    assert (after.repair.mean_s, after.repair.cv) == (0.5 * before.repair.mean_s, before.repair.cv)
    assert after.every == before.every
    assert halved.time == here.line.station("unload").time


def test_a_parallel_station_stands_upstream_of_the_first_and_shares_its_step() -> None:
    here = subject(0)
    change = here.change("a station more for test-1/test-2")
    (step,) = (step for step in change.line.route if "test-1" in step.stations)
    assert step.stations == ("test-1-2", "test-1", "test-2")
    new, old = change.line.station("test-1-2"), change.line.station("test-1")
    assert new.at_m == pytest.approx(here.line.station("test-1").at_m, abs=1e-12)
    assert new.model_copy(update={"name": old.name, "at_m": old.at_m}) == old
    added_m = old.at_m - new.at_m
    assert f"{1000 * added_m:.0f} mm more track" in change.words
    for before, after in zip(here.line.lanes, change.line.lanes, strict=True):
        assert after.length_m == pytest.approx(before.length_m + added_m, abs=1e-12)
    assert change.line.station("test-2").at_m == pytest.approx(here.line.station("test-2").at_m + added_m, abs=1e-12)
    assert change.line.station("load").at_m == here.line.station("load").at_m


def between(line: Line, first: str, second: str) -> int:
    """Stops between two stations of one lane."""
    layout = lay_out(line)
    return layout.stop_of(second).index - layout.stop_of(first).index - 1


@pytest.mark.parametrize("keep_clear_mm", [(0, 0), (50, 0), (0, 60), (80, 80), (0, 130)])
def test_stations_of_a_step_beside_each_other_have_no_stop_between(keep_clear_mm: tuple[int, int]) -> None:
    """Whether moved together or added: a keep-clear stretch is no room for a waiting carrier but may be wide."""
    text = IN_LINE.replace("keep_clear: 50 mm", f"keep_clear: {keep_clear_mm[1]} mm")
    text = text.replace("at: 1200 mm", f"at: 1000 mm, keep_clear: {keep_clear_mm[0]} mm")
    line = read_line(text)
    layout = lay_out(line)
    run = run_plan(line, compile_plan(line, layout), hours=0.5, runs=2, seed=1, workers=1)
    found = {change.words.split(",")[0]: change.line for change in find_changes(line, layout, run)}
    (closer,) = (one for words, one in found.items() if words.startswith("test-2 "))
    assert between(line, "test-1", "test-2") >= 1
    assert between(closer, "test-1", "test-2") == 0
    assert closer.station("test-1") == line.station("test-1")
    apart_m = closer.station("test-2").at_m - closer.station("test-1").at_m
    assert apart_m >= sum(keep_clear_mm) / 1000 - 1e-12
    assert between(found["a station more for test-1/test-2"], "test-1-2", "test-1") == 0


@pytest.mark.parametrize(("begin", "where"), [("a waiting stop more before", 0), ("a waiting stop more after", 1)])
def test_a_waiting_stop_more_is_one_more_before_or_after(begin: str, where: int) -> None:
    """Of the same lane; the other lane, which grows too, may have one more anywhere."""
    here = subject(0)
    change = here.change(begin)

    def stops(line: Line) -> tuple[int, int]:
        layout = lay_out(line)
        near, far = layout.stop_of("test-1").index, layout.stop_of("test-2").index
        load = layout.stop_of("load").index
        dock = next(stop.index for stop in layout.stops if stop.kind == "dock" and stop.index > far)
        return near - load, dock - far

    before, after = stops(here.line), stops(change.line)
    assert after[where] == before[where] + 1
    assert after[1 - where] == before[1 - where]


def test_lengths_stand_in_the_units_of_the_line() -> None:
    here = subject(0)
    inch = here.line.model_copy(update={"units": "inch"})
    words = [change.words for change in find_changes(inch, here.layout, here.run)]
    assert not [one for one in words if " mm" in one]
    assert [one for one in words if one.startswith("a station more") and one.endswith(" in more track")]


def changed_settling(old: str, new: str, fixture: str = "") -> tuple[Line, TrafficPlan, dict[str, Change]]:
    """The two testers with other settling: the line, its plan and its changes by their words."""
    line = read_line(IN_LINE.replace(old, new).replace("carriers: 8", f"carriers: 8{fixture}"))
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours=0.5, runs=2, seed=1, workers=1)
    changes = {change.words: change for change in find_changes(line, layout, run)}
    for change in changes.values():
        assert Line.model_validate(as_read(change.line), by_name=True) == change.line, change.words
    return line, plan, changes


def test_a_stated_settling_is_halved() -> None:
    _, _, changes = changed_settling("unload: {lane: lower,", "unload: {settling: 4 s, lane: lower,")
    halved = changes["settling at unload halved"]
    assert halved.line.station("unload").settling_s == 2.0
    assert (halved.place, halved.same_track) == ("unload", True)
    assert not [words for words in changes if "natural frequency" in words or "a jerk of" in words]


def test_a_window_proposes_a_stiffer_fixture_and_a_jerk() -> None:
    old, new = "test-1: {lane: upper,", "test-1: {window: 0.05 mm, lane: upper,"
    line, plan, changes = changed_settling(old, new, "\nfixture: {natural_frequency: 9 Hz, damping: 2 %}")
    tested = plan.station_names.index("test-1")
    stiffer = changes["fixture with a tenth more natural frequency"]
    assert stiffer.same_track
    settling_us = compile_plan(stiffer.line, lay_out(line), legs_of(plan)).settling_us[tested]
    assert settling_us < plan.settling_us[tested]
    (jerk,) = (change for words, change in changes.items() if words.startswith("drive with a jerk of"))
    assert jerk.line.conveyor.drive.jerk_m_s3 < line.conveyor.drive.jerk_m_s3
    assert compile_plan(jerk.line, lay_out(jerk.line)).settling_us[tested] < plan.settling_us[tested] // 2
