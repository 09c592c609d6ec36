"""A line that is stopped again and again, and one that locks up because it was."""

from __future__ import annotations

import pytest

from linewright.flow.allowance import Allowance, look_us
from linewright.flow.recovery import Recovery, recover
from linewright.flow.restart import restart
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.general import Break

# The exit lies between loader and tester. As long as nothing is flagged no part ever passes the loader; a part that a
# stop has flagged comes round to it, where an empty carrier waits until no part of its variant is on the line.
TEXT = """\
linewright: 1
name: Scrap beyond the loader, invented
conveyor: demo-light
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -420 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 4
stations:
  load: {lane: upper, at: 700 mm, time: 4 s}
  scrap: {lane: upper, at: 1100 mm, time: 1 s, reject_exit: true}
  test: {lane: upper, at: 1500 mm, time: 9 s, rejects: 0.000001 %, after_power_loss: LOSS}
  unload: {lane: lower, at: 700 mm, time: 2 s}
route: [load, test, scrap, unload]
"""
RUN_OUT = "variants: {red: {}, blue: {}}\nsequence: [{red: 3}, {blue: 3}]\nrun_out: true\n"


def line(loss: str = "reject", more: str = "") -> Line:
    return read_line(TEXT.replace("LOSS", loss) + more, "stopped line")


@pytest.fixture(scope="module")
def locked() -> Recovery:
    return recover(line(more=RUN_OUT), 16)


def test_the_same_seed_gives_the_same_answer_whatever_the_workers() -> None:
    told: list[int] = []
    one = recover(line(), 10, seed=3, workers=1, progress=told.append)
    assert one == recover(line(), 10, seed=3, workers=2)
    assert one != recover(line(), 10, seed=4)
    assert told == list(range(1, 11))


def test_all_stops_are_there_at_least_so_far_apart() -> None:
    found = recover(line(), 10, seed=3)
    assert found.stops == len(found.outcomes) == 10
    # Eight chains: the first two have a second stop each.
    assert [(one.chain, one.number) for one in found.outcomes if one.number] == [(0, 1), (1, 1)]
    assert all(one.since_s >= found.least_next_s for one in found.outcomes)
    assert found.failed == 0
    assert found.failing == ()
    assert all(one.before_next for one in found.outcomes)
    assert found.worst_good_after_s is not None
    assert found.worst_good_after_s < found.least_next_s


def test_a_line_that_locks_up_after_a_stop_is_found(locked: Recovery) -> None:
    assert 0 < locked.failed == len(locked.failing) < locked.stops
    for one in locked.failing:
        assert not one.stood_before
        assert one.looked_s > one.next_s
        assert {"at station load"} <= {still.where for still in one.still}
        assert [still.next_step for still in one.still if still.parts] == ["scrap"]
        assert "rejected" in {carrier.fate for carrier in one.carriers}
    assert recover(line("repeat", RUN_OUT), 16).failed == 0


def test_after_a_stop_that_fails_a_chain_begins_anew(locked: Recovery) -> None:
    pairs = [(a, b) for a, b in zip(locked.outcomes, locked.outcomes[1:], strict=False) if a.chain == b.chain]
    assert any(not a.holds for a, _ in pairs)
    for a, b in pairs:
        assert b.from_empty != a.holds
        assert (a.seed == b.seed) == a.holds


def test_restart_shows_a_first_stop_again(locked: Recovery) -> None:
    first = [one for one in locked.outcomes if one.from_empty]
    for one in (first[0], next(stop for stop in first if not stop.holds)):
        again = restart(line(more=RUN_OUT), one.at_s, seed=one.seed)
        assert again.recovery_s == one.recovery_s
        assert again.first_good_s is not None
        assert one.good_after_s is not None
        assert again.first_good_s == pytest.approx(one.recovery_s + one.good_after_s, abs=1e-9)
        assert one.holds or again.good == one.good


def test_a_break_after_a_stop_is_no_failure() -> None:
    """Three hours of every four are a break: nearly every stop falls into one, or the next does."""
    found = recover(line(more="calendar: {shift: 4 h, breaks: {long: {at: 30 min, for: 3 h}}}\n"), 16)
    assert found.failed == 0
    late = [one for one in found.outcomes if not one.before_next]
    assert late
    assert all(one.looked_s > one.next_s and one.good_after_s is not None for one in late)


def test_carriers_may_be_taken_out_and_put_in() -> None:
    changes = "carrier_changes: [{time: 10 min, station: load, out: 2}, {time: 50 min, station: load, in: 1}]\n"
    found = recover(line(more=changes), 24)
    assert found.failed == 0
    assert all(one.parts.missing == 0 for one in found.outcomes)


def test_the_look_reaches_beyond_breaks_but_not_for_ever() -> None:
    allowed = Allowance(10.0, 20.0, 60.0)
    assert look_us(allowed, ()) == 60_000_000
    once = Break((0,), 50_000_000, 30_000_000, 10_000_000_000)
    assert look_us(allowed, (once,)) == 90_000_000
    most_of_it = Break((0,), 0, 99_000_000, 100_000_000)
    assert look_us(allowed, (most_of_it,)) == 1_060_000_000


@pytest.mark.parametrize(("stops", "seed", "workers"), [(0, 1, None), (1, -1, None), (1, 1, 0)])
def test_what_is_out_of_range_is_refused(stops: int, seed: int, workers: int | None) -> None:
    with pytest.raises(ValueError, match="at least 1, 0 and 1"):
        recover(line(), stops, seed, workers)
