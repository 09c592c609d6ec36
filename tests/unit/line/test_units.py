"""Quantities: the table of units against pint, and what a text may look like."""

from __future__ import annotations

from decimal import Decimal
from itertools import chain

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.line import units
from linewright.line.fields import in_unit
from linewright.line.units import DIMENSIONS, Dimension, QuantityFault, number_text, parse_quantity

PINT_SI = {
    units.LENGTH: "m", units.MASS: "kg", units.TIME: "s", units.SPEED: "m/s", units.ACCELERATION: "m/s**2",
    units.JERK: "m/s**3", units.FORCE: "N", units.FREQUENCY: "Hz", units.SHARE: "", units.VOLTAGE: "V",
    units.CURRENT: "A", units.POWER: "W", units.RESISTANCE: "ohm", units.INDUCTANCE: "H", units.CAPACITANCE: "F",
    units.FORCE_CONSTANT: "N/A", units.CALENDAR: "month", units.CYCLES: "cycle",
    units.ANGLE: "deg", units.STIFFNESS: "N/m", units.AREA: "mm**2", units.VOLUME: "m**3", units.TILT: "rad",
    units.EXPANSION: "1/K",
    units.BIT_RATE: "bit/s", units.TEMPERATURE: "degC",
}  # fmt: skip
EVERY_UNIT = [(dimension, unit) for dimension in DIMENSIONS for unit in dimension.units]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("dimension, unit", EVERY_UNIT, ids=lambda x: x if isinstance(x, str) else x.noun)
def test_factor_is_pints(dimension: Dimension, unit: str, registry: pint.UnitRegistry) -> None:
    spelled = unit.replace("mohm", "milliohm").replace("%", "percent")
    for square in ("²", "^2", "s2", "mm2"):
        spelled = spelled.replace(square, f"{square[:-1]}**2" if square[0] in "sm" else "**2")
    for cube in ("³", "^3", "s3", "m3"):
        spelled = spelled.replace(cube, f"{cube[:-1]}**3" if cube[0] in "sm" else "**3")
    zero, one = (registry.Quantity(number, spelled).to(PINT_SI[dimension]).magnitude for number in (0, 1))
    assert float(dimension.zero_of(unit)) == pytest.approx(zero, rel=1e-12)
    assert float(dimension.units[unit] + dimension.zero_of(unit)) == pytest.approx(one, rel=1e-12)


def test_no_unit_belongs_to_two_dimensions() -> None:
    spelled = list(chain.from_iterable(dimension.units for dimension in DIMENSIONS))
    assert len(set(spelled)) == len(spelled)


@pytest.mark.parametrize(
    "text, dimension, value",
    [
        ("430 mm", units.LENGTH, 0.43),
        ("430mm", units.LENGTH, 0.43),
        ("  1190 mm ", units.LENGTH, 1.19),
        ("-520 mm", units.LENGTH, -0.52),
        ("1e3 mm", units.LENGTH, 1.0),
        (".5 inch", units.LENGTH, 0.0127),
        ("5. ft", units.LENGTH, 1.524),
        ("430\u00a0mm", units.LENGTH, 0.43),
        ("7.6 h", units.TIME, 27360.0),
        ("25 m/s^2", units.ACCELERATION, 25.0),
        ("100 lbf", units.FORCE, 444.82216152605),
        ("4 %", units.SHARE, 0.04),
        ("1.2 %", units.SHARE, 0.012),
        ("18 µm", units.LENGTH, 18e-6),
        ("120 N/µm", units.STIFFNESS, 1.2e8),
        ("0.5 N/mm", units.STIFFNESS, 500.0),
        ("2.5 mm2", units.AREA, 2.5),
        ("60 µrad", units.TILT, 60e-6),
        ("11.5 µm/m/K", units.EXPANSION, 11.5e-6),
        ("11.5 ppm/K", units.EXPANSION, 11.5e-6),
        ("100 Mbit/s", units.BIT_RATE, 1e8),
        ("-12.5 °C", units.TEMPERATURE, -12.5),
        ("212 °F", units.TEMPERATURE, 100.0),
        ("32 degF", units.TEMPERATURE, 0.0),
    ],
)
def test_text_with_a_unit(text: str, dimension: Dimension, value: float) -> None:
    assert parse_quantity(text, dimension) == value


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda x: x.noun)
def test_every_example_is_what_it_says(dimension: Dimension) -> None:
    assert parse_quantity(dimension.example, dimension) > 0
    assert dimension.usual in dimension.units


@pytest.mark.parametrize(
    "text, dimension, found, allowed",
    [
        ("430", units.LENGTH, "430 has no unit", "write 430 mm"),
        ("0.04", units.SHARE, "0.04 has no unit", "write 4 %, or 0.04 % if that is meant"),
        ("1,5 s", units.TIME, "'1,5 s' has a decimal comma", "write 1.5 s"),
        ("1,5", units.TIME, "'1,5' has a decimal comma", "write 1.5 s"),
        (",5 s", units.TIME, "',5 s' has a decimal comma", "write 0.5 s"),
        ("1,500 mm", units.LENGTH, "'1,500 mm' has a comma", "write 1500 mm or 1.500 mm"),
        ("1,500,000 mm", units.LENGTH, "'1,500,000 mm' has a comma", "write 1500000 mm"),
        ("620 lb", units.FORCE, "'620 lb' is a mass", "write a force, such as 620 N; pounds of force are lbf"),
        ("2 g", units.ACCELERATION, "'2 g' is a mass", "write an acceleration, such as 14 m/s²; one g is 9.81 m/s²"),
        ("5 Hz", units.SPEED, "'5 Hz' is a frequency", "write a speed, such as 1.85 m/s"),
        ("5 hours", units.TIME, "'5 hours' has the unknown unit 'hours'", "write 5 h"),
        ("20 C", units.TEMPERATURE, "'20 C' has the unknown unit 'C'", "write 20 °C"),
        ("20", units.TEMPERATURE, "20 has no unit", "write 20 °C"),
        ("20 °", units.TEMPERATURE, "'20 °' is an angle", "write a temperature, such as 22 °C"),
        ("6 mm", units.AREA, "'6 mm' is a length", "write an area, such as 2.5 mm²"),
        ("5 KG", units.MASS, "'5 KG' has the unknown unit 'KG'", "write 5 kg"),
        ("5 st", units.MASS, "'5 st' has the unknown unit 'st'", "write a mass, such as 1.1 kg; units: g, kg, lb"),
        ("1 000 mm", units.LENGTH, "'1 000 mm' has the unknown unit '000 mm'", None),
        ("quick", units.TIME, "'quick' is not a number with a unit", "write a time, such as 1.4 s"),
        ("", units.TIME, "'' is not a number with a unit", "write a time, such as 1.4 s"),
        ("inf s", units.TIME, "'inf s' is not a number with a unit", None),
        ("1_0 s", units.TIME, "'1_0 s' has the unknown unit '_0 s'", None),
        ("٣ s", units.TIME, "'٣ s' is not a number with a unit", None),
        ("1e9999 s", units.TIME, "'1e9999 s' has the unknown unit '9 s'", None),
        ("9" * 50 + " s", units.TIME, "'" + "9" * 39 + "…' is not a number with a unit", None),
    ],
)
def test_text_that_is_refused(text: str, dimension: Dimension, found: str, allowed: str | None) -> None:
    with pytest.raises(QuantityFault) as caught:
        parse_quantity(text, dimension)
    assert caught.value.found == found
    assert allowed is None or caught.value.allowed == allowed


@given(st.decimals(-(10**6), 10**6, places=4, allow_nan=False), st.sampled_from(EVERY_UNIT))
def test_the_value_is_the_exact_product_rounded_once(number: Decimal, where: tuple[Dimension, str]) -> None:
    dimension, unit = where
    exact = number * dimension.units[unit] + dimension.zero_of(unit)
    assert parse_quantity(f"{number:f} {unit}", dimension) == float(exact)


@pytest.mark.parametrize("dimension, unit", EVERY_UNIT, ids=lambda x: x if isinstance(x, str) else x.noun)
def test_a_value_is_told_in_any_unit_as_it_was_read(dimension: Dimension, unit: str) -> None:
    assert in_unit(parse_quantity(f"12.5 {unit}", dimension), dimension, unit) == f"12.5 {unit}"


@given(st.text(max_size=30))
def test_any_text_gives_a_number_or_a_fault(text: str) -> None:
    try:
        told = number_text(parse_quantity(text, units.LENGTH))
    except QuantityFault as fault:
        told = f"{fault.found} {fault.allowed}"
    assert told.isprintable()


@given(st.floats(-1e12, 1e12, allow_nan=False))
def test_number_text_reads_back(value: float) -> None:
    assert float(number_text(value)) == pytest.approx(value, rel=1e-11)
    assert "e" not in number_text(value)
