"""A stop and the restart after it, on lines small enough to follow by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewright.errors import SimulationError
from linewright.flow.restart import restart
from linewright.flow.stopping import moved_break
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.traffic.general import Break

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
  load: {lane: upper, at: 700 mm, WORK time: 4 s}
  test: {lane: upper, at: 1400 mm, time: 9 s, rejects: 0.001 %, LOSS}
  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}
  unload: {lane: lower, at: 700 mm, time: 2 s}
route: [load, test, scrap, unload]
"""


def line(loss: str = "reject", work: str = "") -> Line:
    return read_line(TEXT.replace("LOSS", f"after_power_loss: {loss}").replace("WORK", work), "stopped line")


def test_work_that_may_be_repeated_is_done_again_and_other_work_is_rejected() -> None:
    at_s = 60.0  # the tester, the slowest by far, is always at work
    rejected, again = restart(line(), at_s), restart(line("repeat"), at_s)
    for found, fate in ((rejected, "rejected"), (again, "work done again")):
        (tested,) = (one for one in found.carriers if "station test, in work" in one.where)
        assert (tested.parts, tested.fate) == (1, fate)
        assert tested.why.startswith("work interrupted")
    assert rejected.rejected == again.rejected + 1
    # The part that is worked on again comes sooner than the next one.
    assert again.first_good_s is not None
    assert rejected.first_good_s is not None
    assert again.first_good_s < rejected.first_good_s


def test_parts_at_a_manual_station_are_unverified() -> None:
    manual = line(work="work: manual,")
    stops = [restart(manual, at_s) for at_s in (60.0, 63.0, 66.0, 69.0)]
    by_hand = [
        one for found in stops for one in found.carriers if one.where.startswith("at station load") and one.parts
    ]
    assert by_hand
    assert {one.why for one in by_hand} <= {"within reach of a person", "work interrupted"}
    assert {one.fate for one in by_hand} == {"rejected"}


def test_carriers_under_way_go_one_at_a_time_downstream_first_at_the_restart_speed() -> None:
    for at_s in (30.0, 41.0, 52.3, 77.7):
        slow, fast = restart(line(), at_s, 0.05), restart(line(), at_s, 0.1)
        assert [one.stop for one in slow.carriers] == sorted((one.stop for one in slow.carriers), reverse=True)
        before_s = 0.0
        for one in slow.carriers:
            if one.recovery_begin_s is None or one.recovery_end_s is None:
                assert one.to_go_m == 0.0
                continue
            assert one.recovery_begin_s >= before_s
            assert one.recovery_end_s - one.recovery_begin_s == pytest.approx(one.to_go_m / 0.05)
            before_s = one.recovery_end_s
        assert fast.recovery_s <= slow.recovery_s
        assert slow.recovery_s >= before_s


def test_the_line_makes_parts_again_as_before() -> None:
    found = restart(line(), 1800.0)
    assert found.good == pytest.approx(found.usual_good, abs=6)


def test_the_same_seed_gives_the_same_answer() -> None:
    assert restart(line(), 45.0, seed=3) == restart(line(), 45.0, seed=3)


@pytest.mark.parametrize(("at_s", "speed_m_s"), [(0.0, 0.1), (-1.0, 0.1), (10.0, 0.0), (float("nan"), 0.1)])
def test_what_is_out_of_range_is_refused(at_s: float, speed_m_s: float) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        restart(line(), at_s, speed_m_s)


def test_a_line_whose_carriers_change_is_refused() -> None:
    text = TEXT.replace("LOSS", "after_power_loss: reject").replace("WORK", "")
    changing = read_line(text + "carrier_changes: [{time: 5 min, station: load, out: 1}]\n", "changing")
    with pytest.raises(SimulationError, match="taken out or put in"):
        restart(changing, 60.0)


def test_breaks_come_at_the_same_time_of_the_shift() -> None:
    one = Break((0,), 100, 20, 1000)
    assert moved_break(one, 30) == (replace(one, begin_us=70),)
    assert moved_break(one, 1030) == (replace(one, begin_us=70),)
    assert moved_break(one, 100) == (replace(one, begin_us=0),)
    # Half of it is over.
    rest, again = moved_break(one, 110)
    assert (rest.begin_us, rest.length_us, again.begin_us, again.length_us) == (0, 10, 990, 20)
    assert rest.shift_us > 3_600_000_000
    assert moved_break(one, 120) == (replace(one, begin_us=980),)


def test_a_speed_above_the_drives_is_refused() -> None:
    with pytest.raises(SimulationError, match="drives reach"):
        restart(line(), 60.0, 100.0)
