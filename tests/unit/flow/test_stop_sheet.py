"""The stops of the recovery sheet: each is where it says, and is what `restart` gives for the same instant."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from linewright.errors import SimulationError
from linewright.flow.restart import restart
from linewright.flow.stop_sheet import (
    FIRST_LOOK_S,
    LONGEST_RUN_S,
    PlaceStop,
    StopSheet,
    _from,
    _Instant,
    _middle,
    stop_sheet,
)
from linewright.flow.stopping import AGAIN, BY_HAND, KEPT, NONE, REJECTED
from linewright.line.load import load_line, read_line
from linewright.line.model import Line

EXAMPLES = Path(__file__).parents[3] / "examples"
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
carriers: 3
stations:
  load: {lane: upper, at: 700 mm, time: 4 s}
  test: {lane: upper, at: 1400 mm, time: 9 s, rejects: REJECTS, after_power_loss: LOSS}
  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}
  unload: {lane: lower, at: 700 mm, time: 2 s}
route: [load, test, scrap, unload]
"""


def line(loss: str = "reject", rejects: str = "10 %") -> Line:
    return read_line(TEXT.replace("LOSS", loss).replace("REJECTS", rejects), "stopped line")


@pytest.fixture(scope="module")
def small() -> StopSheet:
    return stop_sheet(line())


def same_as_restart(one: Line, sheet: StopSheet) -> None:
    """Every stop of a sheet, and there are some, is that of `restart` at its instant."""
    assert sheet.places
    for place in sheet.places:
        told = restart(one, place.at_s, sheet.speed_m_s, sheet.seed)
        assert place.carriers == told.carriers
        assert place.recovery_s == told.recovery_s
        assert place.rejected + place.by_hand == told.rejected
        assert place.first_good_s == told.first_good_s


def test_every_place_is_stopped_in_the_order_of_travel(small: StopSheet) -> None:
    assert [one.place for one in small.places] == ["load", "test", "east-lift", "scrap", "unload", "west-lift"]
    assert [one.kind for one in small.places].count("transfer") == 2
    assert small.not_stopped == ()
    assert small.run_s == FIRST_LOOK_S


def test_it_is_what_restart_gives_for_that_instant(small: StopSheet) -> None:
    same_as_restart(line(), small)


@pytest.mark.parametrize("name", ["charts/five", "ways/branch", "ways/to-and-fro"])
def test_examples_too_are_stopped_as_by_restart(name: str) -> None:
    one = load_line(EXAMPLES / f"{name}.yaml")
    sheet = stop_sheet(one, seed=2, workers=1)
    assert len(sheet.places) == len(one.stations) + len(one.transfers)
    # Some of them: every call compiles the plan anew.
    at = slice(1, None, 3)
    same_as_restart(one, StopSheet(sheet.places[at], (), sheet.settled_s, sheet.run_s, sheet.speed_m_s, sheet.seed))


@pytest.mark.long
@pytest.mark.parametrize(
    "name",
    [
        "demo/line", "charts/fourteen", "ways/operators", "ways/ring", "ways/variants", "ways/shifts",
        "ways/nests", "ways/rework", "ways/two-place-lift", "ways/when-called", "ways/spur-admission",
        "ways/together", "ways/changeover", "ways/going-on", "ways/presence", "ways/outside",
        "ways/fixture-sets", "ways/repair-loop", "ways/four-decks",
    ],
)  # fmt: skip
def test_all_examples_are_stopped_as_by_restart(name: str) -> None:
    one = load_line(EXAMPLES / f"{name}.yaml")
    same_as_restart(one, stop_sheet(one))


def test_a_work_is_interrupted_in_its_middle(small: StopSheet) -> None:
    for name, time_s in (("load", 4.0), ("test", 9.0), ("scrap", 1.0), ("unload", 2.0)):
        one = place_of(small, name)
        assert one.since_s == pytest.approx(time_s / 2, abs=0.5e-3)
        assert one.there.where == f"at station {name}, in work"
        assert one.there.parts == 1
        assert one.at_s - one.since_s >= small.settled_s


def test_the_instants_lie_apart_over_the_run_in_the_order_of_travel(small: StopSheet) -> None:
    window_s = small.run_s - small.settled_s
    seldom = ("scrap",)
    for k, one in enumerate(small.places):
        wanted_s = small.settled_s + k * window_s / len(small.places)
        # Everybody has come round by then: twice the way of three carriers, at 9 s each.
        assert one.place in seldom or wanted_s <= one.at_s <= wanted_s + 60.0


def test_an_instant_can_be_typed_in_again(small: StopSheet) -> None:
    assert [one.at_s for one in small.places] == [float(f"{one.at_s:.3f}") for one in small.places]


def test_where_nothing_fits_any_more_the_first_before_is_taken() -> None:
    instants = (_Instant(4, 5, True), _Instant(19, 20), _Instant(7, 8, True), _Instant(2, 3))
    assert [one.at_us for one in _from(instants, 6)] == [20, 3, 8, 5]
    assert [one.at_us for one in _from(instants, 21)] == [3, 20, 5, 8]


def test_a_work_shorter_than_a_millisecond_keeps_its_middle() -> None:
    assert [_middle(begin_us, 600).at_us for begin_us in (1_000_100, 1_000_900)] == [1_000_400, 1_001_000]


def test_the_run_is_at_least_twice_as_long_as_the_filling() -> None:
    # Six good parts fill it after more than half of the first run, and every place is at work in the rest of that.
    text = TEXT.replace("LOSS", "reject").replace(", rejects: REJECTS", "").replace(", scrap, unload]", ", unload]")
    text = text.replace("  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}\n", "")
    sheet = stop_sheet(read_line(text.replace("9 s", "90 s"), "slow line"))
    assert FIRST_LOOK_S / 2 < sheet.settled_s < FIRST_LOOK_S - 200.0
    assert sheet.run_s == 2 * FIRST_LOOK_S


def test_a_ride_is_interrupted_with_a_loaded_carrier_where_there_is_one(small: StopSheet) -> None:
    for name, parts in (("east-lift", 1), ("west-lift", 0)):
        one = place_of(small, name)
        assert one.there.where == f"aboard {name}"
        assert one.there.parts == parts
        assert one.there.fate == (KEPT if parts else NONE)
        assert name in one.riding
        assert one.recovery_s > 0.0  # it finishes its ride


def test_where_empty_carriers_ride_too_a_loaded_one_is_looked_for() -> None:
    # Half of the parts leave before the lift.
    text = (
        TEXT.replace("LOSS", "reject")
        .replace("REJECTS", "50 %")
        .replace("{lane: lower, at: 1500", "{lane: upper, at: 1700")
    )
    for seed in range(1, 4):
        assert place_of(stop_sheet(read_line(text, "exit before the lift"), seed), "east-lift").there.parts == 1


def test_the_restart_order_is_downstream_first_one_at_a_time() -> None:
    sheet = stop_sheet(load_line(EXAMPLES / "charts" / "five.yaml"))
    assert max(len(one.order) for one in sheet.places) >= 5
    for one in sheet.places:
        assert set(one.order) <= set(one.carriers)
        assert all((other in one.order) == (other.to_go_m > 0.0) for other in one.carriers)
        for before, after in pairwise(one.order):
            assert before.stop > after.stop
            assert before.recovery_end_s is not None
            assert after.recovery_begin_s is not None
            assert after.recovery_begin_s > before.recovery_end_s


def test_parts_behind_the_exit_are_taken_out_by_hand_and_others_rejected(small: StopSheet) -> None:
    fates = {name: place_of(small, name).there.fate for name in ("load", "test", "scrap", "unload")}
    assert fates == {"load": REJECTED, "test": REJECTED, "scrap": REJECTED, "unload": BY_HAND}
    for one in small.places:
        assert one.rejected == sum(other.parts for other in one.carriers if other.fate == REJECTED)
        assert one.by_hand == sum(other.parts for other in one.carriers if other.fate == BY_HAND)
    assert place_of(stop_sheet(line("repeat")), "test").there.fate == AGAIN


def test_a_place_that_is_hardly_ever_at_work_is_told_and_the_run_is_longer_for_it() -> None:
    sheet = stop_sheet(line(rejects="0.00001 %"))
    (missing,) = sheet.not_stopped
    assert (missing.place, missing.kind) == ("scrap", "station")
    assert missing.why == "no work there in 8 h of simulation"
    assert sheet.run_s == LONGEST_RUN_S
    assert "scrap" not in [one.place for one in sheet.places]


def test_the_result_does_not_depend_on_threads_but_on_the_seed(small: StopSheet) -> None:
    assert stop_sheet(line(), workers=1) == small
    assert stop_sheet(line(), seed=3) != small


def test_a_line_that_makes_hardly_a_part_is_refused() -> None:
    slow = read_line(TEXT.replace("LOSS", "reject").replace("REJECTS", "1 %").replace("9 s", "4 h"), "slow line")
    with pytest.raises(SimulationError, match=r"1 good parts in 8 h are too few .*; 6 are due"):
        stop_sheet(slow)


def test_a_line_whose_carriers_change_is_refused() -> None:
    changing = load_line(EXAMPLES / "ways" / "carrier-changes.yaml")
    with pytest.raises(SimulationError, match="taken out or put in"):
        stop_sheet(changing)


@pytest.mark.parametrize(("seed", "workers"), [(-1, None), (1, 0)])
def test_what_is_out_of_range_is_refused(seed: int, workers: int | None) -> None:
    with pytest.raises(ValueError, match="are due"):
        stop_sheet(line(), seed, workers)


def place_of(sheet: StopSheet, name: str) -> PlaceStop:
    return next(one for one in sheet.places if one.place == name)
