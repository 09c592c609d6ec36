"""Open liquid in the part: moves, emergency stop, remedies, and where small waves tell nothing."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from linewright.checks.motion import braking_segments, find_legs, slosh_frequency_hz
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.surroundings import Liquid, MoveLimits
from linewright.motion.limits import STANDARD_GRAVITY_M_S2
from unit.checks.motion_lines import HEAD, LOOP, loop, rows, with_sheet


def liquid(freeboard_mm: float) -> str:
    held = "held: {pocket: 20 m/s²}, mass_height: 18 mm"
    return f"part: {{mass: 85 g, {held}, liquid: {{length: 12 mm, depth: 20 mm, freeboard: {freeboard_mm} mm}}}}\n"


def test_liquid_that_spills_fails_and_the_freeboard_of_the_remedy_holds() -> None:
    (row,) = rows(loop(liquid(3.0)), "slosh")
    assert (row.verdict, row.limit) == ("fails", 0.003)
    assert row.value is not None
    # no more than four times what the acceleration holds for ever: two steps, each doubled
    plane = 14.0 * 0.012 / (2.0 * STANDARD_GRAVITY_M_S2)
    assert 0.8 * plane < row.value < 4.0 * plane
    needed = float(row.remedy.split("freeboard of ")[1].split(" mm")[0])
    assert rows(loop(liquid(needed)), "slosh")[0].verdict == "tight"
    assert rows(loop(liquid(needed - 0.2)), "slosh")[0].verdict == "fails"
    assert rows(loop(liquid(60.0)), "slosh")[0].verdict == "holds"


def test_the_ceiling_of_the_remedy_keeps_the_liquid_in() -> None:
    line = loop(liquid(3.0))
    (row,) = rows(line, "slosh")
    told = re.search(r"move_limits: \{(acceleration|jerk): ([\d.]+) m/s", row.remedy)
    assert told is not None
    for factor in (1.0, 0.9, 0.6, 0.3):
        own = MoveLimits(**{told[1]: f"{factor * float(told[2])} m/s{'²' if told[1] == 'acceleration' else '³'}"})
        assert rows(line.model_copy(update={"move_limits": own}), "slosh")[0].verdict != "fails", factor


def test_the_emergency_stop_shakes_the_liquid_too() -> None:
    line = loop(liquid(60.0).replace("depth: 20", "depth: 50"))
    (stop,) = rows(line, "slosh-emergency")
    (moves,) = rows(line, "slosh")
    speed = max(leg.limits.move.peak_speed_m_s for leg in find_legs(line, lay_out(line), None) if leg.loaded)
    assert f"from {speed:.4g} m/s" in stop.where
    # reckoned a second time: the driven oscillator, step by step
    part = line.part
    assert part is not None
    assert part.liquid is not None
    omega = 2.0 * math.pi * slosh_frequency_hz(part.liquid)
    gain = 8.0 / math.pi**2 * 0.012 / (2.0 * STANDARD_GRAVITY_M_S2)
    ramp = min(14.0 / 260.0, math.sqrt(speed / 260.0))
    ends = np.cumsum([0.0, ramp, speed / (260.0 * ramp) - ramp, ramp])
    found = solve_ivp(
        lambda t, w: (w[1], omega**2 * (gain * np.interp(t, ends, (0.0, -260.0 * ramp, -260.0 * ramp, 0.0)) - w[0])),
        (0.0, ends[-1] + 2.0 * math.pi / omega),
        (0.0, 0.0),
        max_step=2e-4,
        rtol=1e-9,
        atol=1e-12,
    )
    plane = 260.0 * ramp * 0.012 / (2.0 * STANDARD_GRAVITY_M_S2)
    assert stop.value == pytest.approx(max(np.abs(found.y[0]).max(), plane), rel=1e-4)
    assert moves.value is not None
    assert [one.code for one in rows(with_sheet(line, stopping=None), "slosh-emergency")] == []
    (spills,) = rows(loop(liquid(3.0)), "slosh-emergency")
    assert spills.verdict == "fails"
    assert "it spills" in spills.where
    assert "move_limits" not in spills.remedy  # the stop of the sheet is never changed
    with pytest.raises(ValueError, match="jerk_m_s3"):
        braking_segments(1.0, 10.0, 0.0)
    assert sum(one.duration_s for one in braking_segments(1.0, 10.0, math.inf)) == pytest.approx(0.1)


def test_a_wave_higher_than_the_liquid_is_deep_has_no_number() -> None:
    shallow = liquid(3.0).replace("depth: 20", "depth: 2")
    (row,) = rows(loop(shallow), "slosh")
    assert (row.verdict, row.value, row.limit, row.margin) == ("fails", None, 0.003, None)
    assert row.where.endswith("it spills")
    assert "freeboard" not in row.remedy
    (row,) = rows(loop(shallow.replace("freeboard: 3.0", "freeboard: 90")), "slosh")
    assert (row.verdict, row.value, row.margin) == ("not checked", None, None)
    assert "small waves do not tell" in row.where
    assert row.remedy


def test_on_a_track_without_traffic_nothing_is_told_of_the_liquid_and_no_run_is_asked_for() -> None:
    crowded = read_line(HEAD + LOOP.replace("FORCE", "none").replace("800 mm", "340 mm") + liquid(3.0))
    (row,) = rows(crowded, "slosh")
    assert (row.verdict, row.value) == ("not checked", None)
    assert row.remedy == "mend first what the rows on layout say"
    (heat,) = rows(crowded, "coil-heat")
    assert "--run" not in heat.remedy


def test_no_liquid_no_row_and_no_such_mode() -> None:
    assert rows(loop(), "slosh") == rows(loop(), "slosh-emergency") == []
    with pytest.raises(ValueError, match="mode"):
        slosh_frequency_hz(Liquid(diameter_m=0.1, depth_m=0.1, freeboard_m=0.01), 4)
    with pytest.raises(ValueError, match="mode"):
        slosh_frequency_hz(Liquid(length_m=0.1, depth_m=0.1, freeboard_m=0.01), 0)
    with pytest.raises(ValueError, match="gravity_m_s2"):
        slosh_frequency_hz(Liquid(length_m=0.1, depth_m=0.1, freeboard_m=0.01), 1, -9.81)
