"""The line as data: what a file becomes, what Python may make, what is equal."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
from pydantic import ValidationError

from linewright.errors import Place
from linewright.line.load import load_sheet, read_line
from linewright.line.model import Demand, Failure, Held, Lane, Line, Part, Station, TimeLaw, Transfer

TEXT = """\
linewright: 1
name: Two ways
conveyor: demo-light
part: {mass: 50 g, held: {friction: {coefficient: 0.2, half_base: 12 mm}}}
lanes:
  upper: {length: 3 m, from: west, to: east, west_end: 200 mm}
  lower: {length: 3 m, from: east, to: west, west_end: 200 mm, level: -0.5 m}
transfers:
  east: {kind: lift, takes: upper, gives: lower}
  west: {kind: lift, takes: lower, gives: upper}
carriers: 5
stations:
  load: {lane: upper, at: 700 mm, time: {law: triangular, least: 1 s, likely: 2 s, most: 6 s}}
  test-1: {lane: upper, at: 1.5 m, time: {law: exponential, mean: 2 s}, rejects: 3 %, settling: 0 s,
           failures: [{every: 2 h, repair: {mean: 5 min, cv: 50 %}}]}
  test-2: {lane: upper, at: 2.5 m, like: test-1, clear: 1 s}
  bin: {lane: lower, at: 2 m, time: 0.5 s, reject_exit: true}
  pack: {lane: lower, at: 1 m, time: 1500 ms}
route: [load, [test-1, test-2], bin, pack]
"""


@pytest.fixture(scope="module")
def line() -> Line:
    return read_line(TEXT)


def in_python(**changes: Any) -> Line:
    """A line made without a file."""
    parts: dict[str, Any] = {
        "name": "Two ways",
        "conveyor": load_sheet("demo-light"),
        "lanes": (
            Lane(name="upper", length_m=3.0, from_="west", to="east"),
            Lane(name="lower", length_m=3.0, from_="east", to="west", level_m=-0.5),
        ),
        "transfers": (
            Transfer(name="east", kind="lift", takes="upper", gives="lower"),
            Transfer(name="west", kind="lift", takes="lower", gives="upper"),
        ),
        "carriers": 5,
        "stations": (
            Station(name="load", lane="upper", at_m=0.7, time=TimeLaw.lognormal(2.0, 0.1)),
            Station(name="pack", lane="lower", at_m=1.0, time=TimeLaw.fixed(1.5)),
        ),
        "route": ("load", "pack"),
    }
    return Line(**{**parts, **changes})


def test_values_are_in_si(line: Line) -> None:
    test = line.station("test-1")
    assert line.lane("upper").length_m == 3.0
    assert test.at_m == 1.5
    assert test.rejects == 0.03
    assert test.settling_s == 0.0
    assert line.station("load").settling_s is None
    assert test.failures == (Failure(every=TimeLaw.exponential(7200.0), repair=TimeLaw.lognormal(300.0, 0.5)),)
    assert line.station("pack").time == TimeLaw.fixed(1.5)


def test_like_copies_all_but_the_place(line: Line) -> None:
    first, second = line.station("test-1"), line.station("test-2")
    assert second.model_dump(exclude={"name", "at_m", "clear_s"}) == first.model_dump(
        exclude={"name", "at_m", "clear_s"}
    )
    assert (second.at_m, second.clear_s, first.clear_s) == (2.5, 1.0, 0.0)


def test_steps(line: Line) -> None:
    assert [(step.name, step.reject_exit) for step in line.route] == [
        ("load", False),
        ("test-1/test-2", False),
        ("bin", True),
        ("pack", False),
    ]
    assert line.route[1].stations == ("test-1", "test-2")


@pytest.mark.parametrize(
    "law, kind, mean_s",
    [
        (TimeLaw.fixed(1.5), "fixed", 1.5),
        (TimeLaw.lognormal(2.0, 0.3), "lognormal", 2.0),
        (TimeLaw.gamma(2.0, 0.3), "gamma", 2.0),
        (TimeLaw.exponential(2.0), "exponential", 2.0),
        (TimeLaw.empirical((3.0, 1.0, 3.5)), "empirical", 2.5),
        (TimeLaw.triangular(1.0, 2.0, 6.0), "triangular", 3.0),
    ],
)
def test_laws(law: TimeLaw, kind: str, mean_s: float) -> None:
    assert law.kind == kind
    assert law.mean_s == mean_s


def test_laws_of_the_file(line: Line) -> None:
    assert line.station("load").time == TimeLaw.triangular(1.0, 2.0, 6.0)
    assert line.station("test-1").time == TimeLaw.exponential(2.0)


def test_how_a_part_is_held(line: Line) -> None:
    assert line.part is not None
    held = line.part.held
    assert held is not None
    assert (held.kind, held.acceleration_m_s2, held.coefficient, held.half_base_m) == ("friction", None, 0.2, 0.012)
    clamp = Held(clamp_m_s2=30.0)
    assert (clamp.kind, clamp.acceleration_m_s2, clamp.coefficient, clamp.half_base_m) == ("clamp", 30.0, None, None)
    with pytest.raises(ValidationError, match="pocket and clamp are stated"):
        Held(pocket_m_s2=1.0, clamp_m_s2=2.0)


def test_places_stay_beside_the_model(line: Line) -> None:
    assert line.place("stations", "pack", "at") == Place("line.yaml", 18, 23)
    other = read_line("# moved\n" + TEXT, "other.yaml")
    assert other.place("stations", "pack", "at") == Place("other.yaml", 19, 23)
    assert other == line
    assert hash(other) == hash(line)
    assert other.input_hash == line.input_hash
    assert "document" not in repr(line)
    assert "document" not in line.model_dump()


def test_the_input_hash_follows_line_and_sheet(line: Line) -> None:
    assert read_line(TEXT.replace("1500 ms", "1.5 s")).input_hash == line.input_hash
    assert read_line(TEXT.replace("carriers: 5", "carriers: 6")).input_hash != line.input_hash
    assert read_line(TEXT.replace("demo-light", "demo-heavy")).input_hash != line.input_hash
    assert line != read_line(TEXT.replace("carriers: 5", "carriers: 6"))


def test_a_line_can_be_sent_to_another_process(line: Line) -> None:
    copy = pickle.loads(pickle.dumps(line))
    assert copy == line
    assert copy.place("carriers") == line.place("carriers")


def test_nothing_can_be_changed(line: Line) -> None:
    with pytest.raises(ValidationError, match="frozen"):
        line.carriers = 7  # type: ignore[misc]
    with pytest.raises(ValidationError, match="frozen"):
        line.stations[0].at_m = 1.0  # type: ignore[misc]


def test_a_line_made_in_python() -> None:
    line = in_python()
    assert line.place("carriers") is None
    assert [step.name for step in line.route] == ["load", "pack"]
    assert line.units == "mm"


def test_a_line_made_in_python_must_fit_together_too() -> None:
    with pytest.raises(ValidationError, match="there is no station 'label'"):
        in_python(route=("load", "label", "pack"))
    far = Station(name="pack", lane="lower", at_m=3.5, time=TimeLaw.fixed(1.5))
    with pytest.raises(ValidationError, match="3500 mm is off the lane 'lower'"):
        in_python(stations=(in_python().stations[0], far))


def test_python_may_write_units_and_is_held_to_the_same_ranges() -> None:
    assert Lane.model_validate({"name": "a", "length": "430 mm", "from": "west", "to": "east"}).length_m == 0.43
    assert Part(mass_kg=0.1).mass_kg == 0.1
    for bad in (0.0, -1.0, float("nan"), float("inf"), 1e9):
        with pytest.raises(ValidationError, match="out of range"):
            Part(mass_kg=bad)
    with pytest.raises(ValidationError, match="Extra inputs"):
        Part(mass_kg=0.1, weight=3)  # type: ignore[call-arg]
    with pytest.raises(ValidationError, match="add up to 30 h"):
        Demand(good_parts_per_year=1, shifts_per_day=4, paid_time_per_shift_s=27000.0, days_per_year=240)
