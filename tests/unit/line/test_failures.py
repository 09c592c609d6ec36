"""Time laws and failures as a file states them, the fixture's vibration and the station's window."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from linewright.errors import LineFileError
from linewright.line.load import read_line
from linewright.line.model import Failure, Fixture, Line, Station, TimeLaw
from linewright.traffic.compile import law_of
from linewright.traffic.plan import EMPIRICAL, EXPONENTIAL, FIXED, GAMMA

TEXT = """\
linewright: 1
name: Failing (invented)
conveyor: demo-light
fixture: {natural_frequency: 38 Hz, damping: 3 %}
lanes:
  upper: {length: 3 m, from: west, to: east}
  lower: {length: 3 m, from: east, to: west, level: -0.5 m}
transfers:
  east: {kind: lift, takes: upper, gives: lower}
  west: {kind: lift, takes: lower, gives: upper}
carriers: 5
stations:
  load: {lane: upper, at: 700 mm, time: {law: gamma, mean: 2 s, cv: 30 %}}
  test-1: {lane: upper, at: 1.5 m, time: {law: empirical, times: [1.9 s, 1.2 s, 1400 ms]}, window: 0.1 mm,
           failures: [FAILURES]}
  test-2: {lane: upper, at: 2.5 m, like: test-1}
  pack: {lane: lower, at: 1 m, time: 1500 ms}
route: [load, [test-1, test-2], pack]
"""


def read(failures: str = "{every: 2 h, repair: 5 min}", old: str = "", new: str = "") -> Line:
    text = TEXT.replace("FAILURES", failures)
    assert old in text
    return read_line(text.replace(old, new, 1))


def messages(old: str, new: str) -> list[str]:
    with pytest.raises(LineFileError) as caught:
        read(old=old, new=new)
    return [str(fault) for fault in caught.value.faults]


def test_laws_of_the_file() -> None:
    line = read()
    assert line.station("load").time == TimeLaw.gamma(2.0, 0.3)
    assert line.station("test-1").time == TimeLaw.empirical((1.2, 1.4, 1.9))
    assert line.station("test-2").time == line.station("test-1").time
    assert line.station("test-1").time.mean_s == pytest.approx(1.5)


def test_the_order_of_measured_times_means_nothing() -> None:
    assert TimeLaw.empirical((3.0, 1.0, 2.0, 1.0)) == TimeLaw.empirical((1.0, 1.0, 2.0, 3.0))
    assert TimeLaw.empirical((3.0, 1.0, 2.0, 1.0)) != TimeLaw.empirical((1.0, 2.0, 3.0))
    other = read(old="like: test-1}", new="like: test-1, time: {law: empirical, times: [1.4 s, 1.2 s, 1.9 s]}}")
    assert other.input_hash == read().input_hash


@pytest.mark.parametrize(
    "text, expected, mean_every_s",
    [
        (
            "{every: 2 h, repair: 5 min}",
            Failure(every=TimeLaw.exponential(7200.0), repair=TimeLaw.fixed(300.0)),
            7200.0,
        ),
        (
            "{every: {law: exponential, mean: 2 h}, of: running, repair: 5 min}",
            Failure(every=TimeLaw.exponential(7200.0), repair=TimeLaw.fixed(300.0)),
            7200.0,
        ),
        (
            "{every: 8 h, of: clock, repair: {mean: 10 min, cv: 50 %}}",
            Failure(every=TimeLaw.exponential(28800.0), of="clock", repair=TimeLaw.lognormal(600.0, 0.5)),
            28800.0,
        ),
        (
            "{every: {law: gamma, mean: 8 h, cv: 50 %}, repair: {law: exponential, mean: 1 min}}",
            Failure(every=TimeLaw.gamma(28800.0, 0.5), repair=TimeLaw.exponential(60.0)),
            28800.0,
        ),
        (
            "{every: {mean: 1 h, cv: 20 %}, repair: {law: gamma, mean: 1 min, cv: 10 %}}",
            Failure(every=TimeLaw.lognormal(3600.0, 0.2), repair=TimeLaw.gamma(60.0, 0.1)),
            3600.0,
        ),
        (
            "{every: {law: fixed, mean: 1 h}, repair: {law: empirical, times: [1 min, 3 min]}}",
            Failure(every=TimeLaw.fixed(3600.0), repair=TimeLaw.empirical((60.0, 180.0))),
            3600.0,
        ),
        ("{one_in: 800 cycles, repair: 20 s}", Failure(one_in=800, repair=TimeLaw.fixed(20.0)), None),
        ("{one_in: 1 cycle, repair: 20 s}", Failure(one_in=1, repair=TimeLaw.fixed(20.0)), None),
    ],
)
def test_failures_of_the_file(text: str, expected: Failure, mean_every_s: float | None) -> None:
    (failure,) = read(text).station("test-1").failures
    assert failure == expected
    assert failure.mean_every_s == mean_every_s
    assert isinstance(failure.one_in, int | None)
    assert read(text).station("test-2").failures == (failure,)


def test_failures_made_in_python() -> None:
    assert Failure(every=7200.0, repair=60.0) == Failure(  # type: ignore[arg-type]
        every=TimeLaw.exponential(7200.0), repair=TimeLaw.fixed(60.0)
    )
    jam = Failure(one_in=800, repair=TimeLaw.fixed(20.0))
    assert Failure(**jam.model_dump()) == jam
    with pytest.raises(ValidationError, match="of has no meaning beside one_in"):
        Failure(one_in=800, of="clock", repair=TimeLaw.fixed(20.0))
    with pytest.raises(ValidationError, match="neither every nor one_in"):
        Failure(repair=TimeLaw.fixed(20.0))
    with pytest.raises(ValidationError, match="every and one_in stand"):
        Failure(every=TimeLaw.fixed(20.0), one_in=3, repair=TimeLaw.fixed(20.0))
    with pytest.raises(ValidationError, match=r"1\.5 is not a whole number|'1\.5' is not a whole number"):
        Failure(one_in=1.5, repair=TimeLaw.fixed(20.0))  # type: ignore[arg-type]


def test_laws_made_in_python_are_held_to_the_same_rules() -> None:
    for times_s in ((), (1.0,), (1.0, 0.0), (1.0, -2.0), (1.0, float("nan"))):
        with pytest.raises(ValidationError, match=r"a list of|out of range"):
            TimeLaw.empirical(times_s)
    with pytest.raises(ValidationError, match="out of range"):
        TimeLaw.gamma(1.0, 0.0)


def test_vibration_of_the_fixture() -> None:
    line = read()
    assert line.fixture is not None
    assert (line.fixture.natural_frequency_hz, line.fixture.damping, line.fixture.mass_kg) == (38.0, 0.03, 0.0)
    assert [line.station(name).window_m for name in ("load", "test-1", "test-2")] == [None, 1e-4, 1e-4]
    with pytest.raises(ValidationError, match="damping without natural_frequency"):
        Fixture(damping=0.03)
    for damping in (0.0, 1.0, -0.1):
        with pytest.raises(ValidationError, match="out of range"):
            Fixture(natural_frequency_hz=38.0, damping=damping)


def test_settling_and_window_exclude_each_other() -> None:
    both = Station.model_validate
    with pytest.raises(ValidationError, match="settling stands beside window"):
        both({"name": "a", "lane": "b", "at_m": 1.0, "time": 1.0, "settling_s": 0.1, "window_m": 1e-4})
    assert messages("window: 0.1 mm", "window: 0.1 mm, settling: 0.1 s") == [
        "line.yaml:14:92: window stands beside settling; write one of the two",
        "line.yaml:14:108: settling stands beside window; write one of the two",
    ]


def test_settling_beside_a_copied_window_is_told_where_it_was_written() -> None:
    assert messages("like: test-1}", "like: test-1, settling: 0.1 s}") == [
        "line.yaml:16:50: settling stands beside window; write one of the two"
    ]


def test_a_window_needs_the_fixtures_vibration() -> None:
    rest = "the fixture states neither natural_frequency nor damping; add both to fixture, or leave window out"
    told = f"window: {rest}"
    for without in ("", "fixture: {mass: 1 kg}\n"):
        found = messages("fixture: {natural_frequency: 38 Hz, damping: 3 %}\n", without)
        assert len(found) == 1
        assert found[0].endswith(f"nothing obeys {told}")
    # One of the two keys is missing: that is told, not that both are.
    found = messages("natural_frequency: 38 Hz, ", "")
    assert [text.split(": ", 1)[1].split(";")[0] for text in found] == ["damping without natural_frequency"]
    # A fixture that cannot be read is its own fault.
    found = messages("{natural_frequency: 38 Hz, damping: 3 %}", "heavy")
    assert ["window" in text for text in found] == [False]


def test_laws_of_the_plan() -> None:
    gamma = law_of(TimeLaw.gamma(2.0, 0.5))
    assert (gamma.kind, gamma.a, gamma.b) == (GAMMA, 4.0, 500_000.0)
    empirical = law_of(TimeLaw.empirical((1.9, 1.2, 1.4000000001)))
    assert (empirical.kind, empirical.given_us) == (EMPIRICAL, (1_200_000, 1_400_000, 1_900_000))
    assert law_of(TimeLaw.exponential(3.0)).kind == EXPONENTIAL
    assert law_of(TimeLaw.model_construct(kind="gamma", stated_mean_s=2.0, cv=0.0)).kind == FIXED
