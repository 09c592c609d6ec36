"""Units against data/units.csv: a general unit library, and the program's own table where it has the unit."""

from __future__ import annotations

import csv
from pathlib import Path

import pint
import pytest

from linewright.line import units
from linewright.line.units import Dimension, parse_quantity

DATA = Path(__file__).parent / "data" / "units.csv"
with DATA.open(encoding="utf-8", newline="") as stream:
    ROWS = [(row["value"], row["from"], row["to"], row["result"]) for row in csv.DictReader(stream)]
DIGITS = 1e-12

# Units that the program's table has: (from, to) -> kind of quantity, and how a file spells the two.
OURS: dict[tuple[str, str], tuple[Dimension, str, str]] = {
    ("lbf", "N"): (units.FORCE, "lbf", "N"),
    ("inch", "mm"): (units.LENGTH, "inch", "mm"),
    ("foot", "m"): (units.LENGTH, "ft", "m"),
    ("lb", "kg"): (units.MASS, "lb", "kg"),
    ("in/s", "mm/s"): (units.SPEED, "in/s", "mm/s"),
    ("degC", "degF"): (units.TEMPERATURE, "degC", "degF"),
}
# Units that no line file or sheet may write, so that the table has none of them.
NOT_OURS = {
    "kgf": "forces are written in N, kN or lbf",
    "psi": "no key is a pressure",
    "arcsecond": "small angles are written in µrad or mrad",
    "kWh": "no key is an energy",
    "ft/min": "speeds are written a second",
    "thou": "lengths are written in µm, mm, cm, m, km, inch or ft",
    "inch*lbf": "no key is a torque",
    "standard_gravity": "accelerations are written in m/s², mm/s², inch/s² or ft/s²",
    "gauss": "no key is a flux density",
}


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def printed(text: str) -> float:
    """Half of the last digit that is printed, as a share."""
    digits = len(text.split("e")[0].replace(".", "").replace("-", "").lstrip("0"))
    return max(DIGITS, 0.5 * 10.0 ** (1 - digits)) if "." in text else DIGITS


def test_every_row_is_ours_or_listed() -> None:
    names = [one for _, one, _, _ in ROWS]
    assert len(ROWS) == 15
    assert {one for one, _ in OURS} | set(NOT_OURS) == set(names)


@pytest.mark.parametrize("value, one, other, result", ROWS, ids=[row[1] for row in ROWS])
def test_the_unit_library(value: str, one: str, other: str, result: str, registry: pint.UnitRegistry) -> None:
    context = ("Gaussian",) if one == "gauss" else ()
    theirs = registry.Quantity(float(value), one).to(other, *context).magnitude
    assert theirs == pytest.approx(float(result), rel=printed(result))


@pytest.mark.parametrize("value, one, other, result", [row for row in ROWS if row[1:3] in OURS], ids=lambda text: text)
def test_our_table(value: str, one: str, other: str, result: str) -> None:
    dimension, spelled, wanted = OURS[one, other]
    ours = parse_quantity(f"{value} {spelled}", dimension)
    assert ours == pytest.approx(parse_quantity(f"{result} {wanted}", dimension), rel=printed(result))


def test_the_units_that_are_not_ours_are_refused() -> None:
    spellings = {unit for dimension in units.DIMENSIONS for unit in dimension.units}
    assert spellings.isdisjoint(NOT_OURS)
