"""What a line file says beyond the plain loop, as it stands in the plan: each key once, times in whole microseconds."""

from __future__ import annotations

import dataclasses

import pytest

from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.compile_general import general_of
from linewright.traffic.general import FEED, TAKE_AWAY, Break, CarrierChange, FixtureSet, General, Outside, Rework
from linewright.traffic.plan import EXPONENTIAL, FIXED, LOGNORMAL, Law

FLOOR = ((0.5, 0.0), (1.1, 0.0), (1.1, 0.8), (2.0, 0.8), (2.6, 0.8))
STATIONS = ("load", "press", "check", "scrap", "pack")


def invented(further: str = "", route: str = "[load, press, check, scrap, pack]", **keys: str) -> Line:
    """An invented line of five stations; `keys` go to the stations of those names."""
    rows = [
        "linewright: 1",
        "name: Test line (invented)",
        "conveyor: demo-heavy",
        "lanes:",
        "  upper: {length: 3850 mm, from: west, to: east}",
        "  lower: {length: 3850 mm, from: east, to: west, level: -520 mm}",
        "transfers:",
        "  east-lift: {kind: lift, takes: upper, gives: lower}",
        "  west-lift: {kind: lift, takes: lower, gives: upper}",
        "carriers: 4",
        "stations:",
    ]
    usual = {"check": ", rejects: 2 %", "scrap": ", reject_exit: true"}
    for number, name in enumerate(STATIONS):
        extra = keys.get(name, usual.get(name, ""))
        rows.append(f"  {name}: {{lane: upper, at: {500 + 600 * number} mm, time: 1 s{extra}}}")
    return read_line("\n".join([*rows, f"route: {route}", further]) + "\n", "test line")


def compiled(line: Line) -> General:
    return general_of(line, tuple(step.name for step in line.route), FLOOR)


def fields_of(general: General) -> dict[str, object]:
    return {field.name: getattr(general, field.name) for field in dataclasses.fields(general)}


def test_a_plain_line_has_nothing_beyond_the_plain_loop() -> None:
    general = compiled(invented())
    assert fields_of(general) == fields_of(General())
    assert general.is_plain


def test_steps_and_places_must_be_those_of_the_line() -> None:
    with pytest.raises(ValueError, match="must be those of the line"):
        general_of(invented(), STATIONS, FLOOR[:-1])
    with pytest.raises(ValueError, match="must be those of the line"):
        general_of(invented(), STATIONS[:-1], FLOOR)


def test_a_pool_walks_the_floor_distance_at_its_speed() -> None:
    line = invented(
        "operators: {floor: {operators: 2, stations: [pack, load, press], walking_speed: 1.2 m/s}}\n",
        load=", work: manual",
        pack=", work: manual",
        press=", release: 800 ms",
        check=", rejects: 2 %, work: manual",
    )
    general = compiled(line)
    (pool,) = general.pools
    assert (pool.name, pool.operators, pool.stations) == ("floor", 2, (4, 0, 1))
    # load (0.5, 0) to pack (2.6, 0.8): sqrt(2.1² + 0.8²) / 1.2 s = 1.872683...; load to press 0.6 m / 1.2 m/s.
    assert pool.walk_us == ((0, 1_872_684, 1_416_667), (1_872_684, 0, 500_000), (1_416_667, 500_000, 0))
    # A manual station in no pool stays a label.
    assert general.manual == (True, False, False, False, True)
    assert general.release_us == (-1, 800_000, -1, -1, -1)
    assert not general.is_plain


def test_a_walk_that_is_stated_is_the_same_between_any_two_stations() -> None:
    line = invented(
        "operators: {floor: {operators: 1, stations: [load, pack], walk: 4 s}}\n",
        load=", work: manual",
        pack=", work: manual",
    )
    assert compiled(line).pools[0].walk_us == ((0, 4_000_000), (4_000_000, 0))


def test_breaks_stand_as_written_and_run_down_ends_with_the_shift() -> None:
    line = invented(
        "calendar: {shift: 8 h, breaks: {coffee: {at: 2 h, for: 15 min, stations: [press, load]}, "
        "lunch: {at: 4 h, for: 30 min}}, run_down: 12 min}\n",
        route="[[load, press], check, scrap, pack]",
    )
    minute = 60_000_000
    assert compiled(line).breaks == (
        Break((1, 0), 120 * minute, 15 * minute, 480 * minute),
        Break((0, 1, 2, 3, 4), 240 * minute, 30 * minute, 480 * minute),
        Break((0, 1), 468 * minute, 12 * minute, 480 * minute),
    )


def test_outside_machines_stand_by_station_and_a_feed_is_full_at_first() -> None:
    failures = "failures: [{every: 40 h, repair: 35 min}]"
    line = invented(
        load=", feed: {every: {mean: 2 s, cv: 20 %}, buffer: 5}",
        pack=f", take_away: {{every: 1.5 s, buffer: 7, {failures}}}, feed: {{every: 2 s, buffer: 20, start: 10}}",
    )
    first, feed, take_away = compiled(line).outside
    assert (first.station, first.kind, first.capacity, first.start, first.time.kind) == (0, FEED, 5, 5, LOGNORMAL)
    assert feed == Outside(4, FEED, Law(FIXED, 2e6), 20, 10)
    hours_40 = Law(EXPONENTIAL, 144_000e6)
    assert take_away == Outside(4, TAKE_AWAY, Law(FIXED, 1.5e6), 7, 0, ((hours_40, Law(FIXED, 2100e6)),))


def test_nests_and_what_is_drawn_part_by_part() -> None:
    line = invented(
        "fixture: {mass: 900 g, nests: 3}\n",
        load=", each: part, misses: 1 %",
        press=", each: carrier",
        check=", rejects: 2 %, each: part",
        scrap=", reject_exit: true, each: part",
        pack=", each: carrier",
    )
    general = compiled(line)
    assert (general.nests, general.each_part) == (3, (True, False, True, True, False))
    assert general.misses == (0.01, 0.0, 0.0, 0.0, 0.0)


def test_an_exit_that_is_named_is_the_step_of_it() -> None:
    line = invented(
        route="[load, check, press, scrap, pack]",
        check=", rejects: 2 %, exit: pack",
        scrap=", reject_exit: true",
        press=", rejects: 1 %",
        pack=", reject_exit: true",
    )
    assert compiled(line).exits == (-1, -1, 4, -1, -1)


VARIANTS = (
    "variants: {a: {share: 60 %, times: {press: 1.9 s}}, b: {share: 25 %, skips: [press]}, "
    "c: {share: 15 %, times: {load: {law: exponential, mean: 3 s}}}}\n"
)


def test_variants_have_their_times_and_skip_whole_steps() -> None:
    first, second, third = compiled(invented(VARIANTS)).variants
    assert (first.name, first.share, first.skips, first.work) == ("a", 0.6, (), ((1, Law(FIXED, 1.9e6)),))
    assert (second.name, second.share, second.skips, second.work) == ("b", 0.25, (1,), ())
    assert third.work == ((0, Law(EXPONENTIAL, 3e6)),)


def test_a_sequence_is_written_out() -> None:
    line = invented(
        "variants: {a: {}, b: {skips: [press]}}\nsequence: [{b: 2}, {a: 3}, {b: 1}]\nrun_out: true\n",
    )
    general = compiled(line)
    assert (general.sequence, general.run_out) == ((1, 1, 0, 0, 0, 1), True)
    assert [variant.share for variant in general.variants] == [0.0, 0.0]


def test_a_changeover_is_one_time_for_all_pairs_or_a_time_by_pair() -> None:
    line = invented(
        VARIANTS,
        press=", changeover: 30 s",
        pack=", changeover: {a: {b: 30 s, c: 10 s}, b: {a: 20 s, c: 11 s}, c: {a: 12 s, b: 13 s}}",
    )
    press, pack = compiled(line).changeovers
    assert (press.station, press.us) == (1, ((0, 30_000_000, 30_000_000),) + ((30_000_000, 0, 30_000_000),) + (
        (30_000_000, 30_000_000, 0),
    ))  # fmt: skip
    assert pack.station == 4
    assert pack.us == ((0, 30_000_000, 10_000_000), (20_000_000, 0, 11_000_000), (12_000_000, 13_000_000, 0))


def test_fixture_sets_name_their_variants() -> None:
    line = invented(
        VARIANTS + "fixture_sets: {red: {carriers: 1, variants: [a, c]}, blue: {carriers: 3, variants: [b]}}\n"
    )
    assert compiled(line).fixture_sets == (FixtureSet("red", 1, (0, 2)), FixtureSet("blue", 3, (1,)))


def test_rework_goes_to_the_step_of_the_station_named() -> None:
    line = invented(
        route="[load, press, check, scrap, pack]",
        check=", rejects: 2 %, rework: {share: 5 %, to: press, at_most: 2}",
        press=", rework_only: true",
    )
    general = compiled(line)
    assert general.rework == (Rework(2, 0.05, 1, 2),)
    assert general.rework_alone == (1,)


def test_carrier_changes_stand_in_the_order_of_their_times() -> None:
    line = invented(
        "carrier_changes: [{time: 4 h, station: load, in: 2}, {time: 2 h, station: load, out: 1}]\n",
    )
    assert compiled(line).carrier_changes == (CarrierChange(0, 7200_000_000, -1), CarrierChange(0, 14400_000_000, 2))
