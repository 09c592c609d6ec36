"""Colours and fills: contrast, one hue, and what is left of them in grey print and for eyes that see fewer colours.

Formulas and limits: tests/reference/data/colour.json.
"""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.flow.causes import KINDS
from linewright.flow.run import STATE_COLUMNS
from linewright.pictures import style
from linewright.pictures.style import CAUSE_FILLS, FILL_WORDS, FILLS, STATE_FILLS, Lengths, Text, hatch_defs, round_step

COLOUR: dict[str, Any] = json.loads(
    (Path(__file__).parents[2] / "reference" / "data" / "colour.json").read_text("utf-8")
)
COLOURS = {name: value for name, value in vars(style).items() if isinstance(value, str) and value.startswith("#")}
SAME = {"as it is": np.eye(3)} | {name: np.array(rows) for name, rows in COLOUR["vision"].items()}
APART_L = 15.0
"""Lightness by which two plain fills must differ (of 100): common practice."""


def linear(colour: str) -> np.ndarray:
    """Linear red, green and blue of a colour, IEC 61966-2-1."""
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


WHOLE = np.eye(3)


def luminance(colour: str, seen: np.ndarray = WHOLE) -> float:
    return float(np.clip(seen @ linear(colour), 0.0, 1.0) @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lightness(luminance_: float) -> float:
    """L* of CIE 15."""
    return 116.0 * luminance_ ** (1 / 3) - 16.0 if luminance_ > 216 / 24389 else luminance_ * 24389 / 27


def lab(colour: str) -> tuple[float, float, float]:
    """L*, a*, b* under D65."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    x, y, z = (to_xyz @ linear(colour)) / [0.9505, 1.0, 1.089]
    fx, fy, fz = ((lightness(part) + 16.0) / 116.0 for part in (x, y, z))
    return 116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)


@pytest.mark.parametrize("check", COLOUR["checks"], ids=lambda check: check["pair"][0])
def test_the_contrast_is_that_of_the_published_pairs(check: dict[str, Any]) -> None:
    assert contrast(*check["pair"]) == pytest.approx(check["ratio"], abs=0.005)


@pytest.mark.parametrize("ground", ["PAPER", "BAND", "LIGHT", "PALE"])
def test_words_stand_out_from_what_they_stand_on(ground: str) -> None:
    assert contrast(style.INK, COLOURS[ground]) >= COLOUR["text_contrast_least"]
    assert contrast(style.HUE, COLOURS[ground]) >= COLOUR["text_contrast_least"]


@pytest.mark.parametrize("ground", ["INK", "HUE"])
def test_white_words_stand_out_from_the_dark(ground: str) -> None:
    assert contrast(style.PAPER, COLOURS[ground]) >= COLOUR["text_contrast_least"]


@pytest.mark.parametrize("line", ["INK", "HUE", "QUIET"])
def test_lines_and_hatches_stand_out_from_paper(line: str) -> None:
    assert contrast(COLOURS[line], style.PAPER) >= COLOUR["graphic_contrast_least"]
    assert contrast(COLOURS[line], style.BAND) >= COLOUR["graphic_contrast_least"]


@pytest.mark.parametrize("vision", SAME)
def test_plain_fills_differ_in_lightness_for_every_eye_and_in_grey(vision: str) -> None:
    plain = {name: lightness(luminance(fill.ground, SAME[vision])) for name, fill in FILLS.items() if not fill.lines}
    assert len(plain) >= 4
    for (one, light), (other, dark) in itertools.combinations(plain.items(), 2):
        assert abs(light - dark) >= APART_L, f"{one} and {other} look alike"


def test_hatches_are_all_different() -> None:
    hatched = [fill for fill in FILLS.values() if fill.lines]
    assert len({fill.lines for fill in hatched}) == len(hatched)
    assert len({fill.name for fill in hatched}) == len(hatched)
    assert all(fill.ground == style.PAPER for fill in hatched)


def test_there_is_one_hue() -> None:
    """Each colour is nearly grey, or of the angle of HUE."""
    _, a, b = lab(style.HUE)
    angle = math.atan2(b, a)
    for name, colour in COLOURS.items():
        _, a, b = lab(colour)
        apart = abs((math.atan2(b, a) - angle + math.pi) % (2 * math.pi) - math.pi)
        assert math.hypot(a, b) < 12.0 or apart < math.radians(25.0), f"{name} is another hue"


def test_every_state_and_every_cause_has_its_fill() -> None:
    assert set(STATE_FILLS) == {column for column, _ in STATE_COLUMNS}
    assert set(CAUSE_FILLS) == set(KINDS)
    assert set(STATE_FILLS.values()) | set(CAUSE_FILLS.values()) == set(FILLS) == set(FILL_WORDS)


def test_a_drawing_gets_the_hatches_that_it_names_and_no_others() -> None:
    defs = hatch_defs(f'<path fill="{FILLS["down"].paint}"/>')
    assert defs.count("<pattern") == 1
    assert 'id="lw-down"' in defs
    assert hatch_defs("<path fill='#fff'/>") == ""


def test_lengths_are_told_in_the_unit_of_the_file() -> None:
    assert Lengths("mm").text(1.23456) == "1234.6 mm"
    assert Lengths("inch").text(0.0254) == "1 in"
    assert Lengths("inch").to_SI(Lengths("inch").value(1.27)) == pytest.approx(1.27, abs=1e-5)
    assert Lengths("mm").round_step(0.013) == 20.0


@pytest.mark.parametrize(("least", "step"), [(1, 1), (1.1, 2), (2.5, 5), (7, 10), (0.03, 0.05), (0.001, 0.001)])
def test_a_round_step_is_one_two_or_five(least: float, step: float) -> None:
    assert round_step(least) == pytest.approx(step)


def test_sizes_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match=r"size is 2\.5"):
        Text(2.5)
    with pytest.raises(ValueError, match="least is 0"):
        round_step(0.0)
