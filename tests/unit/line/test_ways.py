"""What a line file states beyond the plain loop, as the line has it: attributes, units, defaults, rings."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from pathlib import Path

import pytest

from linewright.errors import LineFileError
from linewright.line.load import load_sheet, read_line
from linewright.line.model import (
    CarrierChange,
    Changeover,
    Failure,
    FixtureSet,
    Line,
    OperatorPool,
    Rework,
    Stretch,
    TimeLaw,
    Transfer,
)
from linewright.line.patterns import pattern_text
from linewright.line.sheet import Curve
from linewright.line.track import Ring, ring_length_m, ring_pieces, ring_point_m

FAULTY = Path(__file__).parents[2] / "e2e" / "faulty"


def sound(name: str) -> Line:
    return read_line((FAULTY / f"{name}.yaml").read_text(encoding="utf-8"), folder=FAULTY)


def line_with(name: str, more: str) -> Line:
    return read_line((FAULTY / f"{name}.yaml").read_text(encoding="utf-8") + more + "\n", folder=FAULTY)


def test_people_and_shifts() -> None:
    line = sound("wide")
    floor, bench = line.operators
    assert floor == OperatorPool(name="floor", operators=2, stations=("load", "print"), walking_speed_m_s=1.2)
    assert (bench.walking_speed_m_s, bench.walk_s, bench.stations) == (None, None, ("repair",))
    assert line.calendar is not None
    (coffee,) = line.calendar.breaks
    assert (line.calendar.shift_s, line.calendar.run_down_s) == (28800.0, 720.0)
    assert (coffee.name, coffee.at_s, coffee.for_s, coffee.stations) == ("coffee", 7200.0, 900.0, ("load",))
    assert (line.station("print").release_s, line.station("load").release_s) == (0.8, None)


def test_variants_and_their_fixtures() -> None:
    line = sound("wide")
    a, b = line.variants
    assert (a.name, a.share, a.skips) == ("a", 0.6, ("print",))
    assert a.times == (("press-1", TimeLaw.fixed(2.8)), ("press-2", TimeLaw.fixed(2.8)))
    assert (b.share, b.times, b.skips) == (0.4, (), ())
    assert line.fixture_sets[1] == FixtureSet(name="blue", carriers=4, variants=("a", "b"))
    changeover = line.station("press-2").changeover
    assert changeover == Changeover(pairs_s=(("a", "b", 30.0), ("b", "a", 20.0)))
    assert changeover.time_s("b", "a") == 20.0
    with pytest.raises(KeyError):
        changeover.time_s("a", "c")
    assert (line.sequence, line.run_out, line.fixture_sets[0].carriers) == ((), False, 6)
    branch = sound("branch")
    assert (branch.sequence, branch.run_out, branch.variants[0].share) == ((("plain", 50), ("named", 20)), True, None)


def test_rework_exits_and_machines_outside() -> None:
    line = sound("wide")
    test, load, pack = (line.station(name) for name in ("test", "load", "pack"))
    assert test.rework == Rework(share=0.05, to="repair", at_most=2)
    assert (test.exit, test.after_power_loss, test.each, load.misses) == ("scrap-2", "reject", "part", 0.01)
    assert [step.name for step in line.route if step.rework_only] == ["repair"]
    assert load.feed is not None
    assert (load.feed.every, load.feed.buffer, load.feed.start) == (TimeLaw.fixed(1.8), 20, 10)
    assert pack.take_away is not None
    assert (pack.take_away.start, load.take_away) == (None, None)
    assert pack.take_away.failures == (Failure(every=TimeLaw.exponential(7200.0), repair=TimeLaw.fixed(300.0)),)


def test_track_and_traffic() -> None:
    wide, branch = sound("wide"), sound("branch")
    assert wide.admission == (Stretch(name="hood", lane="upper", from_m=1.4, to_m=2.6, most=3),)
    (both, turn) = line_with(
        "branch", "admission: {spur: {lanes: [side], transfers: [east], most: 3}, turn: {transfers: [west], most: 1}}"
    ).admission
    assert both == Stretch(name="spur", lanes=("side",), transfers=("east",), most=3)
    assert (both.lane, both.from_m, turn.lanes, turn.transfers) == (None, None, (), ("west",))
    assert [transfer.returns for transfer in wide.transfers] == ["at-once", "when-called"]
    assert (wide.is_plain_loop, branch.is_plain_loop, sound("ring").is_plain_loop) == (True, False, False)
    east, west = branch.transfers
    assert (east.takes, east.takes_all, east.gives_all, east.places) == ("side", ("side", "main"), ("back",), 1)
    assert (west.gives, west.lanes) == ("main", ("back", "main", "side"))
    assert east == Transfer.model_validate(
        {"name": "east", "kind": "cross-transfer", "takes": ["side", "main"], "gives": "back"}
    )
    assert branch.carrier_changes == (
        CarrierChange(time_s=7200.0, station="load", out=2),
        CarrierChange(time_s=14400.0, station="load", in_=2),
    )
    assert not any(lane.two_way or lane.moves == "together" for lane in branch.lanes)


@pytest.mark.parametrize("name", ["wide", "branch", "ring"])
def test_data_of_a_line_makes_the_same_line_again(name: str) -> None:
    line = sound(name)
    route = [step.stations for step in line.route]
    again = Line(**{**line.model_dump(), "conveyor": line.conveyor, "route": route})
    assert again == line
    assert again.input_hash == line.input_hash


def test_a_ring_knows_its_length_and_its_stations_their_floor_distance() -> None:
    line = sound("ring")
    length_m = 2 * 1.472 + 2 * 0.368 + 2 * math.pi * 0.24
    assert line.lanes[0].length_m == line.lane_length_m("round") == pytest.approx(length_m, abs=1e-12)
    assert (line.lanes[0].from_, line.lanes[0].to) == (None, None)
    load, press, pack = line.stations
    assert (load.along_m, load.at_m, press.at_m) == (0.4, pytest.approx(0.64), pytest.approx(1.24))
    # The third straight runs back west, from radius + long at the travel of long, short and two quarter turns.
    back_m = 2.8 - (1.472 + 0.368 + math.pi * 0.24)
    assert pack.at_m == pytest.approx(0.24 + 1.472 - back_m)
    assert sound("wide").lane_length_m("upper") == 6.16


@pytest.mark.parametrize("short_m, angle_deg", [(0.0, 90.0), (0.0, 180.0), (0.5, 90.0)])
def test_a_ring_closes_on_itself(short_m: float, angle_deg: float) -> None:
    ring, curve = Ring(long_m=2.0, short_m=short_m), Curve(radius_m=0.3, angle_deg=angle_deg, speed_m_s=1.0)
    pieces = ring_pieces(ring, curve)
    length_m = ring_length_m(ring, curve)
    assert pieces[-1].to_m == pytest.approx(length_m, abs=1e-12)
    assert [piece.is_curved for piece in pieces] == [False, True] * (len(pieces) // 2)
    assert len(pieces) == (4 if short_m == 0.0 else 8)
    assert ring_point_m(ring, curve, 0.0) == pytest.approx(ring_point_m(ring, curve, length_m - 1e-12), abs=1e-9)
    # Neighbouring points are as far apart as their travel is, or a chord less: no piece is out of place.
    steps_m = [length_m * i / 2000 for i in range(2000)]
    points = [ring_point_m(ring, curve, at_m) for at_m in steps_m]
    apart_m = [math.dist(one, two) for one, two in pairwise(points)]
    assert max(apart_m) <= steps_m[1] * (1 + 1e-9)
    assert min(apart_m) >= steps_m[1] * (1 - 1e-4)
    width_m = max(y for _, y in points) - min(y for _, y in points)
    assert width_m == pytest.approx(2 * 0.3 + short_m, abs=1e-5)
    assert min(x for x, _ in points) == pytest.approx(0.0, abs=1e-4)


def test_curves_of_the_built_in_sheets() -> None:
    light, heavy = (load_sheet(name).curve for name in ("demo-light", "demo-heavy"))
    assert light == Curve(radius_m=0.24, angle_deg=90.0, speed_m_s=1.2, part_number="DL-CURVE", price=980)
    assert heavy == Curve(radius_m=0.42, angle_deg=180.0, speed_m_s=1.5, part_number="DH-CURVE", price=4300)


def test_whole_lanes_are_refused_on_a_lane_to_and_fro() -> None:
    text = pattern_text("to-and-fro")
    lane = re.findall(r"^lanes:\n  ([\w-]+):", text, re.MULTILINE)[0]
    with pytest.raises(LineFileError, match="one direction at a time already"):
        read_line(text + f"admission: {{all: {{lanes: [{lane}], most: 1}}}}\n")
