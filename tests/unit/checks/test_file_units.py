"""Sentences of rows and hazards in the units of the file: no metric force, mass or speed in inches, no exponent."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

import linewright as lw
from linewright.evaluation import Evaluation
from linewright.line.spoken import in_words, plain, rounded, temperature_in_words, to_write, travel_in_words, unit_of
from linewright.line.units import ACCELERATION, FORCE, JERK, LENGTH, MASS, SPEED, Dimension, parse_quantity
from linewright.quantities import KEEP

EXAMPLES = Path(__file__).parents[3] / "examples"
METRIC = re.compile(r"(?<!\w)[\d.]+[ \u00a0](?:N|kN|kg|g|m/s|mm/s|m/s²|m/s³|km|mm|m|N·m)(?![\w²³/·])")
EXPONENT = re.compile(r"\d[eE][+-]?\d")
KINDS: tuple[tuple[str, Dimension], ...] = (
    ("m", LENGTH), ("N", FORCE), ("kg", MASS), ("m/s", SPEED), ("m/s²", ACCELERATION), ("m/s³", JERK),
)  # fmt: skip


@cache
def evaluated(units: str) -> Evaluation:
    line = lw.load(EXAMPLES / "charts" / "five.yaml").model_copy(update={"units": units})
    return lw.evaluate(line, hours=0.3, runs=1)


def sentences(evaluation: Evaluation) -> list[str]:
    """What rows and hazards say; a row's source names its standard as that has it."""
    told = [text for one in evaluation.findings for text in (one.where, one.remedy)]
    hazards = evaluation.limits.safety.hazards.rows()
    return told + [text for one in hazards for text in one.values()]


def test_a_file_in_inches_is_told_no_metric_force_mass_or_speed() -> None:
    told = sentences(evaluated("inch"))
    assert [text for text in told if METRIC.search(text)] == []
    for unit in ("lbf", "lb", "in/s", "in/s²", "miles a year"):
        assert any(f" {unit}" in text for text in told), unit


def test_the_same_file_in_millimetres_is_told_them() -> None:
    told = [match for text in sentences(evaluated("mm")) for match in METRIC.findall(text)]
    assert {one.replace(KEEP, " ").split(" ")[1] for one in told} >= {"N", "kg", "m/s", "m/s²", "mm"}
    assert not any("lbf" in text or "in/s" in text for text in sentences(evaluated("mm")))


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_sentence_has_an_exponent(units: str) -> None:
    """Two carriers' worth of capacitance, kilowatts of braking: the example prints figures of four digits."""
    told = sentences(evaluated(units))
    assert [text for text in told if EXPONENT.search(text)] == []
    assert any(f"1{KEEP}290 W" in text for text in told)
    assert any("write capacitance: 1.31 F under supply" in text for text in told)


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize(("unit", "dimension"), KINDS)
def test_what_is_to_be_written_is_read_and_lies_on_the_safe_side(unit: str, dimension: Dimension, units: str) -> None:
    for value in (0.000123456, 0.0987654, 1.0, 3.14159, 250.0, 1234.5678, 98765.4):
        least = parse_quantity(to_write(value, unit, units, since=0.0), dimension)
        most = parse_quantity(to_write(value, unit, units, since=float("inf")), dimension)
        assert most <= value * (1 + 1e-9)
        assert least >= value * (1 - 1e-9)
        assert least - most <= 0.0101 * value
        assert " " in to_write(value, unit, units, since=0.0)


def test_figures_of_sentences_have_as_many_digits_as_are_asked() -> None:
    assert rounded(123456.0, 3) == f"123{KEEP}000"
    assert rounded(0.00001234, 3) == "0.0000123"
    assert (rounded(float("inf"), 3), plain(float("inf"))) == ("inf", "inf")
    assert in_words(0.05, "kg", "mm") == "0.05 kg"
    assert in_words(12900.0, "W", "inch", 3) == f"12{KEEP}900 W"
    assert travel_in_words(1.4e6, "m", "mm") == f"1{KEEP}400 km"
    assert temperature_in_words(48.89) == "48.9 °C"
    assert unit_of("kg", "inch") == ("lb", 0.45359237)
