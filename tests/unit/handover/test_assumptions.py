"""What a result rests on: every sentence true of the line it is said of."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from linewright.handover.assumptions import CAUTION, MOST_NAMES, assumptions, losses_simulated
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.line.tooling import Guard
from unit.handover.stand_in_run import demo_line, with_run

ODD = (
    (
        "envelope: [190 mm, 140 mm, 95 mm]}",
        "envelope: [190 mm, 140 mm, 95 mm], natural_frequency: 14 Hz, damping: 2 %}",
    ),
    ("time: 1.1 s}", "time: {law: empirical, times: [1 s, 1.2 s]}, window: 0.1 mm}"),
    ("time: 1.0 s, reject_exit", "time: 1.0 s, settling: 0.2 s, reject_exit"),
)


def odd_line(failures: str) -> Line:
    text = pattern_text("two-deck")
    for old, new in (*ODD, ("[{every: 2 h, repair: 4 min}]", failures)):
        assert old in text
        text = text.replace(old, new)
    return read_line(text)


@pytest.mark.parametrize(
    ("failures", "words"),
    [
        ("[{every: 2 h, repair: 4 min}]", "at random (exponential law) after time in work."),
        (
            "[{every: {law: fixed, mean: 2 h}, repair: 4 min}]",
            "at random (exponential law) or at fixed intervals after time in work.",
        ),
        (
            "[{every: {law: gamma, mean: 2 h, cv: 50 %}, of: clock, repair: 4 min}]",
            "at random (exponential law) after time in work; at random (gamma law) by the clock, at work or not.",
        ),
        (
            "[{one_in: 800 cycles, repair: 20 s}]",
            "at random (exponential law) after time in work; at random (geometric law) after a number of works.",
        ),
        ("[{one_in: 1 cycle, repair: 1 s}]", "at random (exponential law) after time in work; at every work."),
    ],
)
def test_how_failures_come_is_told_in_words(failures: str, words: str) -> None:
    rows = assumptions(with_run(odd_line(failures)))
    assert f"Failures come {words} A part in work is finished after the repair." in rows


def test_settling_is_told_apart_by_where_it_comes_from() -> None:
    rows = assumptions(with_run(odd_line("[]")))
    (motion,) = [row for row in rows if "Settling" in row]
    assert "Settling is the sheet's 0.05 s at: load, press, leak-1, leak-2, unload. At mark it is that or" in motion
    assert "scrap" not in motion
    (unseen,) = [row for row in rows if row.startswith("Not looked at")]
    assert "vibration but the fixture's after a move" in unseen
    assert "(gridlock) is not looked at here either: linewright prove does that." in unseen
    assert any(row.startswith("Listed times are drawn one by one") and row.endswith(": mark.") for row in rows)


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def test_a_line_without_windows_claims_nothing_of_vibration(line: Line) -> None:
    rows = assumptions(with_run(line))
    assert any(row.startswith("Not looked at: vibration, ") for row in rows)
    assert not any("window" in row or "Listed" in row for row in rows)


def test_a_subject_that_has_rows_was_looked_at_and_one_that_has_none_was_not(line: Line) -> None:
    def unseen(*subjects: str) -> str:
        bare = with_run(line)
        rows = tuple(replace(bare.findings[0], subject=subject) for subject in subjects)
        (words,) = [one for one in assumptions(replace(bare, findings=rows)) if one.startswith("Not looked at")]
        return words

    assert "strength under tool forces, accuracy, power supply, bus load, stopping distances" in unseen("layout")
    whole = unseen("strength", "accuracy", "power", "bus", "safety", "upkeep")
    assert whole.startswith("Not looked at: vibration, how frame and floor give and shake, fatigue")
    assert "performance level" in whole
    assert unseen("strength", "power", "bus", "safety", "upkeep").startswith("Not looked at: accuracy, vibration")


def test_the_caution_claims_no_more_safety_than_was_reckoned() -> None:
    assert "no conformity and no risk assessment" in CAUTION
    assert CAUTION.endswith("Follow local codes; a competent, licensed person decides.")


def test_many_names_are_cut_short() -> None:
    text = pattern_text("two-deck")
    copies = [f"copy-{i}" for i in range(MOST_NAMES)]
    more = "".join(f"  {name}: {{lane: upper, at: {3901 + i} mm, like: mark}}\n" for i, name in enumerate(copies))
    text = text.replace("  scrap: {", f"{more}  scrap: {{").replace("mark, scrap", f"mark, {', '.join(copies)}, scrap")
    rows = assumptions(with_run(read_line(text)))
    assert any("for every part at: press, mark, copy-0 and 17 more." in row for row in rows)


def test_losses_of_many_stations_are_cut_short(line: Line) -> None:
    failing = next(station.failures for station in line.stations if station.failures)
    names = [f"s{i}" for i in range(MOST_NAMES + 1)]
    like = line.stations[0].model_copy(update={"failures": failing, "rejects": 0.0})
    many = line.model_copy(update={"stations": tuple(like.model_copy(update={"name": name}) for name in names)})
    assert losses_simulated(many) == f"failures and repairs of s0, s1, s2 and {MOST_NAMES - 2} more"
    assert losses_simulated(line) == "failures and repairs of press, unload; rejects of leak-1, leak-2"
    few = line.model_copy(update={"stations": (like.model_copy(update={"failures": ()}),)})
    assert losses_simulated(few) == "none: no station has failures or rejects"


def test_trials_are_an_assumption_only_where_they_were_made(line: Line) -> None:
    evaluation = with_run(line)
    tried = set(assumptions(evaluation, tried=True)) - set(assumptions(evaluation))
    assert len(tried) == 1
    assert "do not add up" in tried.pop()


def test_what_guards_and_pins_cost_is_not_simulated_and_said_so(line: Line) -> None:
    def rows(**keys: object) -> str:
        plain = {"guard": None, "pin_m": None}
        stations = tuple(one.model_copy(update=plain) for one in line.stations)
        changed = (stations[0].model_copy(update=keys), *stations[1:])
        return " ".join(assumptions(with_run(line.model_copy(update={"stations": changed}))))

    curtain = Guard(kind="interlocked", distance_m=1.0, device_s=0.01, logic_s=0.01)
    assert "guards" not in rows()
    assert "pins" not in rows()
    assert "what guards and doors cost, wear" in rows(guard=curtain)
    assert "the time of pins, wear" in rows(pin_m=0.0)
