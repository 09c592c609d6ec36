"""Which station waits for its fixture, after which move, and whether following the advice saves what it says."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from linewright.checks.settling import check_settling
from linewright.evaluation import evaluate_without_run
from linewright.findings import Finding
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.motion import carrier_limits, plan_move, residual_vibration
from linewright.traffic.compile import compile_plan, vibration_at_stations
from linewright.traffic.plan import NO_LEG, TrafficPlan
from unit.handover.stand_in_run import written_line

SHEET_S = 0.055
VIBRATION = "natural_frequency: 9 Hz, damping: 4 %"


def written(folder: Path, press: str = "", load: str = "", jerk: str | None = None) -> Line:
    """The two-deck pattern with its fixture's vibration stated, and a key more in two of its stations."""
    path = written_line(folder)
    text, sheet = path.read_text("utf-8"), (folder / "sheet.yaml").read_text("utf-8")
    text, count = re.subn(r"^fixture: \{", f"fixture: {{{VIBRATION}, ", text, flags=re.MULTILINE)
    assert count == 1
    for station, key in (("press", press), ("load", load)):
        if key:
            text, count = re.subn(rf"^  {station}:$", f"  {station}:\n    {key}", text, flags=re.MULTILINE)
            assert count == 1
    path.write_text(text, "utf-8")
    sheet, count = re.subn(r"^settling: [\d.]+ ms", f"settling: {SHEET_S * 1e3:g} ms", sheet, flags=re.MULTILINE)
    assert count == 1
    if jerk is not None:
        sheet, count = re.subn(r"^  jerk: \d+ m/s³", f"  jerk: {jerk}", sheet, flags=re.MULTILINE)
        assert count == 1
    (folder / "sheet.yaml").write_text(sheet, "utf-8")
    return load_line(path)


def planned(line: Line) -> tuple[Layout, TrafficPlan]:
    layout = lay_out(line)
    return layout, compile_plan(line, layout)


def only(line: Line) -> Finding:
    (finding,) = check_settling(line, lay_out(line))
    return finding


def settling_of(plan: TrafficPlan, station: str) -> int:
    return int(plan.settling_us[plan.station_names.index(station)])


def worst_over_the_plan(line: Line, layout: Layout, plan: TrafficPlan, station: str, window_m: float) -> float:
    """The same from the plan's own table of moves, leg by leg."""
    here = int(plan.station_stop[plan.station_names.index(station)])
    worst = 0.0
    for load, start, reach in np.argwhere(plan.move_us != NO_LEG).tolist():
        if (start + reach + 1) % plan.stops != here:
            continue
        distance = (layout.stops[here].axis_m - layout.stops[start].axis_m) % layout.loop_m
        limits = carrier_limits(line, bool(load), distance).limits
        worst = max(worst, residual_vibration(plan_move(distance, limits), 9.0, 0.04).settling_s(window_m))
    return worst


def test_without_a_window_nothing_is_claimed(tmp_path: Path) -> None:
    line = written(tmp_path)
    layout, plan = planned(line)
    assert check_settling(line, layout) == ()
    assert set(plan.settling_us.tolist()) == {55_000}


def test_a_wide_window_is_covered_by_the_sheet(tmp_path: Path) -> None:
    line = written(tmp_path, press="window: 30 mm")
    finding = only(line)
    assert (finding.code, finding.subject, finding.verdict) == ("settling", "motion", "holds")
    assert (finding.value, finding.limit, finding.margin, finding.remedy) == (0.0, None, None, "")
    assert "within ±30 mm from the first; the sheet's settling is 0.055 s" in finding.where
    assert settling_of(planned(line)[1], "press") == 55_000


def test_a_narrow_window_makes_the_station_wait(tmp_path: Path) -> None:
    line = written(tmp_path, press="window: 0.2 mm")
    layout, plan = planned(line)
    finding = only(line)
    assert finding.verdict == "tight"
    assert finding.value == pytest.approx(worst_over_the_plan(line, layout, plan, "press", 2e-4), rel=1e-9)
    assert finding.value is not None
    assert finding.value > SHEET_S
    assert settling_of(plan, "press") == int(np.ceil(finding.value * 1e6 - 1e-3))
    assert settling_of(plan, "load") == 55_000
    assert finding.place == line.place("stations", "press", "window")
    assert re.match(
        r"station press: the fixture, 9 Hz, swings ±[\d.]+ mm after its worst move \(loaded, ", finding.where
    )
    assert f"the station waits {finding.value - SHEET_S:.3f} s longer than the drive needs" in finding.remedy


def test_each_station_counts_the_moves_that_end_there_with_their_loads(tmp_path: Path) -> None:
    """The first station is reached by empty carriers alone, the press by loaded ones."""
    written(tmp_path, press="window: 0.2 mm", load="window: 0.1 mm")
    path = tmp_path / "line.yaml"
    gentle = path.read_text("utf-8").replace("{pocket: 25 m/s²}", "{pocket: 5 m/s²}")
    path.write_text(gentle, "utf-8")
    line = load_line(path)
    layout, plan = planned(line)
    assert carrier_limits(line, True, 1.0).limits != carrier_limits(line, False, 1.0).limits
    findings = {finding.where.split(":")[0]: finding for finding in check_settling(line, layout)}
    assert list(findings) == ["station load", "station press"]
    load = findings["station load"]
    assert load.value == pytest.approx(worst_over_the_plan(line, layout, plan, "load", 1e-4), rel=1e-9)
    press = findings["station press"]
    assert press.value == pytest.approx(worst_over_the_plan(line, layout, plan, "press", 2e-4), rel=1e-9)
    loads = {one.station: {arrival.load for arrival in one.arrivals} for one in vibration_at_stations(line, layout)}
    assert loads == {"press": {1}, "load": {0}}


def test_a_written_settling_holds_whatever_the_vibration(tmp_path: Path) -> None:
    line = written(tmp_path, press="settling: 80 ms", load="window: 0.1 mm")
    plan = planned(line)[1]
    assert settling_of(plan, "press") == 80_000
    assert settling_of(plan, "load") > 55_000
    assert only(line).where.startswith("station load")


def test_the_advised_jerk_saves_what_it_says(tmp_path: Path) -> None:
    def shortest_and_settling(line: Line) -> float:
        (one,) = vibration_at_stations(line, lay_out(line))
        return one.shortest.move.duration_s + max(one.worst.settling_s, SHEET_S)

    line = written(tmp_path, press="window: 0.2 mm")
    before, finding = shortest_and_settling(line), only(line)
    said = re.search(r"a jerk of ([\d.]+) m/s³ instead of 120 m/s³ in the moves to it saves ([\d.]+) s", finding.remedy)
    assert said is not None, finding.remedy
    after = shortest_and_settling(written(tmp_path, press="window: 0.2 mm", jerk=f"{said[1]} m/s³"))
    assert before - after == pytest.approx(float(said[2]), abs=2e-3)
    assert float(said[2]) > 0.05


def test_a_shaper_is_named_where_it_pays(tmp_path: Path) -> None:
    finding = only(written(tmp_path, press="window: 0.2 mm"))
    said = re.search(r"a zero-vibration shaper in the drive saves ([\d.]+) s: each move takes 0.056 s", finding.remedy)
    assert said is not None, finding.remedy  # half of 1/(9 Hz √(1 - 0.04²))
    assert finding.value is not None
    assert float(said[1]) == pytest.approx(finding.value - SHEET_S - 0.0556, abs=1e-3)


def test_a_gain_of_nothing_is_not_proposed(tmp_path: Path) -> None:
    """A wait shorter than the shaper's own time and than any slower move: only what needs no figures is named."""
    wide = only(written(tmp_path, press="window: 0.2 mm"))
    amplitude_mm = float(re.findall(r"swings ±([\d.]+) mm", wide.where)[0])
    window_mm = amplitude_mm * 0.84  # exp(-ζ ω 0.077 s): a wait of some 20 ms after the sheet's 55 ms
    finding = only(written(tmp_path, press=f"window: {window_mm:.6f} mm"))
    assert finding.verdict == "tight"
    assert "shaper" not in finding.remedy
    assert "a stiffer or better damped fixture, or a wider window, shortens it too" in finding.remedy


def test_the_finding_stands_in_an_evaluation_and_not_where_no_traffic_is(tmp_path: Path) -> None:
    line = written(tmp_path, press="window: 0.2 mm")
    assert [f.code for f in evaluate_without_run(line).findings].count("settling") == 1
    sheet = (tmp_path / "sheet.yaml").read_text("utf-8")
    (tmp_path / "sheet.yaml").write_text(sheet.replace("friction: ", "friction: 900 N  # "), "utf-8")
    stuck = load_line(tmp_path / "line.yaml")
    assert check_settling(stuck, lay_out(stuck)) == ()
    assert [f.code for f in evaluate_without_run(stuck).findings].count("settling") == 0
    (tmp_path / "sheet.yaml").write_text(sheet, "utf-8")
    text = (tmp_path / "line.yaml").read_text("utf-8")
    (tmp_path / "line.yaml").write_text(text.replace("at: 1600 mm", "at: 900 mm"), "utf-8")
    blocked = load_line(tmp_path / "line.yaml")
    assert lay_out(blocked).blocking
    assert check_settling(blocked, lay_out(blocked)) == ()
    with pytest.raises(ValueError, match="no traffic can be planned"):
        vibration_at_stations(blocked, lay_out(blocked))


def test_inches_are_printed_as_inches(tmp_path: Path) -> None:
    written(tmp_path, press="window: 0.01 in")
    path = tmp_path / "line.yaml"
    path.write_text(re.sub(r"^units: mm", "units: inch", path.read_text("utf-8"), flags=re.MULTILINE), "utf-8")
    line = load_line(path)
    assert line.units == "inch"
    assert re.search(r"swings ±[\d.]+ in after .* in from .*within ±0.01 in ", only(line).where)
