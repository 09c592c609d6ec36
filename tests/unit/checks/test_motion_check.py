"""What governs the moves, what part and carrier stand, and what was not stated."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from linewright.checks.motion import check_motion, check_part_hold, check_payload
from linewright.checks.transfers import check_transfers
from linewright.findings import Finding, judge
from linewright.layout import lay_out
from linewright.line.demand import find_takt
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.traffic.compile import compile_plan
from unit.handover.stand_in_run import written_line
from unit.layout.track_lines import branch_line, ring_line, to_and_fro_line

PART = "part: {mass: 180 g, held: {pocket: 25 m/s²}, mass_height: 30 mm}"


def changed(folder: Path, part: str = PART, fixture: str | None = None, sheet: tuple[str, str] | None = None) -> Line:
    path = written_line(folder)
    text = path.read_text("utf-8")
    # An entry ends where the next one begins: a row that starts at the left edge.
    text = re.sub(r"^part:.*\n(?:[ \t].*\n)*", f"{part}\n", text, flags=re.MULTILINE)
    if fixture is not None:
        text = re.sub(r"^fixture:.*\n(?:[ \t].*\n)*", f"{fixture}\n", text, flags=re.MULTILINE)
    path.write_text(text, "utf-8")
    if sheet is not None:
        text = (folder / "sheet.yaml").read_text("utf-8")
        assert sheet[0] in text
        (folder / "sheet.yaml").write_text(text.replace(*sheet), "utf-8")
    return load_line(path)


def found(line: Line, code: str) -> list[Finding]:
    return [finding for finding in check_motion(line, lay_out(line)).findings if finding.code == code]


def test_both_load_classes_say_what_governs(tmp_path: Path) -> None:
    empty, loaded = found(changed(tmp_path), "move-limits")
    assert empty.where.startswith("empty carrier of 4.6 kg: ")
    assert loaded.where.startswith("loaded carrier of 4.78 kg: ")
    for finding in (empty, loaded):
        assert "jerk governs moves up to about" in finding.where
        assert "one more m/s² saves 0.0" in finding.where
        assert finding.verdict == "holds"
        assert finding.value == pytest.approx(9.0)


def test_weak_hold_governs_the_loaded_carrier_alone(tmp_path: Path) -> None:
    line = changed(tmp_path, "part: {mass: 180 g, held: {clamp: 2 m/s²}}")
    empty, loaded = found(line, "move-limits")
    assert empty.value == pytest.approx(9.0)
    assert loaded.value == pytest.approx(2.0)
    assert "part hold (clamp)" in loaded.where
    hold = found(line, "part-hold")[0]
    assert hold.verdict == "tight"
    assert hold.margin == pytest.approx(0.0, abs=1e-9)
    assert hold.remedy


def test_stated_pocket_holds(tmp_path: Path) -> None:
    line = changed(tmp_path)
    hold, *riding = found(line, "part-hold")
    assert [row.verdict for row in riding] == ["holds", "holds"]
    assert (hold.verdict, hold.value, hold.limit) == ("holds", pytest.approx(9.0), 25.0)
    assert hold.margin is not None
    assert judge(hold.margin) == hold.verdict
    assert hold.place == line.place("part", "held")


@pytest.mark.parametrize(
    ("part", "words", "key"),
    [
        ("", "the part is not stated", "key part"),
        ("part: {mass: 180 g}", "how the part is held is not stated", "key held under part"),
        (
            "part: {mass: 180 g, held: {friction: {coefficient: 0.3, half_base: 20 mm}}}",
            "mass centre is not stated",
            "key mass_height under part",
        ),
    ],
)
def test_unstated_hold_is_not_checked_and_names_the_key(tmp_path: Path, part: str, words: str, key: str) -> None:
    unchecked = [finding for finding in found(changed(tmp_path, part), "part-hold") if finding.verdict == "not checked"]
    assert len(unchecked) == 1
    assert words in unchecked[0].where
    assert key in unchecked[0].remedy


def test_friction_is_checked_against_slip_and_tip(tmp_path: Path) -> None:
    part = "part: {mass: 180 g, held: {friction: {coefficient: 0.3, half_base: 40 mm}}, mass_height: 20 mm}"
    holds = found(changed(tmp_path, part), "part-hold")
    # 0.3 g / 1.5; g 40 / 20 / 1.5; on the two lifts the part comes loose at g
    assert [round(hold.limit or 0.0, 3) for hold in holds] == [1.961, 13.076, 9.807, 9.807]
    assert [hold.verdict for hold in holds] == ["tight", "holds", "holds", "holds"]


def test_thrust_that_leaves_nothing_fails_and_stops_the_other_checks(tmp_path: Path) -> None:
    line = changed(tmp_path, sheet=("friction: ", "friction: 900 N  # "))
    thrust = found(line, "thrust")
    assert [finding.verdict for finding in thrust] == ["fails", "fails"]
    assert "nothing is left to accelerate" in thrust[0].remedy
    assert found(line, "part-hold") == []


def test_payload(tmp_path: Path) -> None:
    line = changed(tmp_path)
    finding = check_payload(line)
    assert (finding.value, finding.limit) == (pytest.approx(1.38), 11.0)
    assert finding.verdict == "holds"
    heavy = check_payload(changed(tmp_path, fixture="fixture: {mass: 10.95 kg, envelope: [190 mm, 140 mm, 95 mm]}"))
    assert heavy.verdict == "fails"
    assert heavy.margin == pytest.approx(1.0 - 11.13 / 11.0)
    assert heavy.place == line.place("fixture", "mass")


@pytest.mark.parametrize(
    ("part", "fixture", "words"), [("", None, "part"), (PART, "", "fixture"), ("", "", "part and fixture")]
)
def test_unstated_mass_is_not_checked(tmp_path: Path, part: str, fixture: str | None, words: str) -> None:
    finding = check_payload(changed(tmp_path, part, fixture))
    assert finding.verdict == "not checked"
    assert finding.where == f"mass of {words} is not stated"


def test_a_part_that_a_platform_shakes_loose_fails() -> None:
    text = pattern_text("two-lane")
    held = re.search(r"held: (\{[^}]*\}+)", text)
    assert held is not None
    verdicts = {}
    for limit in ("1 m/s²", "40 m/s²"):
        line = read_line(text.replace(held.group(1), f"{{pocket: {limit}}}", 1))
        rows = [row for row in check_part_hold(line, lay_out(line)) if "riding on" in row.where]
        assert len(rows) == 2
        verdicts[limit] = {row.verdict for row in rows}
    assert verdicts == {"1 m/s²": {"fails"}, "40 m/s²": {"holds"}}


# ---- curves ----------------------------------------------------------------------------------------------------------


def ring_with(part: str = "", fixture: str = "") -> Line:
    return ring_line(300, 900, more="\n".join(row for row in (part, fixture) if row))


def test_a_ring_says_what_its_curves_do() -> None:
    line = ring_with("part: {mass: 80 g, held: {pocket: 8 m/s²}}")
    layout = lay_out(line)
    empty, loaded = found(line, "curve-speed")
    assert empty.where.startswith("empty carrier in the curves: ")
    assert empty.where.endswith("curve speed longer ones")
    assert loaded.where.startswith("loaded carrier in the curves: ")
    for finding in (empty, loaded):
        assert (finding.verdict, finding.limit, finding.unit) == ("holds", 1.2, "m/s")
        assert finding.value is not None
        assert finding.value <= 1.2
    (pull,) = found(line, "side-pull")
    assert (pull.verdict, pull.limit) == ("tight", 8.0)
    assert pull.value == pytest.approx(8.0)
    assert pull.margin == 0.0
    assert "v²/r" in pull.source
    (gap,) = found(line, "inside-gap")
    assert gap.value == pytest.approx(0.006)
    assert (gap.verdict, gap.limit, gap.margin) == ("holds", 0.006, 0.0)
    assert f"{layout.pitch_m * 1000:.1f} mm" in gap.where
    assert "bodies of 84 mm by 112 mm" in gap.where


def test_a_firm_hold_in_the_curves_holds() -> None:
    (pull,) = found(ring_with("part: {mass: 80 g, held: {pocket: 40 m/s²}}"), "side-pull")
    assert pull.verdict == "holds"
    assert pull.remedy == ""
    assert pull.value == pytest.approx(math.hypot(14.0, 1.2**2 / 0.24), rel=1e-6)


def test_friction_is_checked_in_the_curves_against_slip_and_tip() -> None:
    slip, tip = found(
        ring_with("part: {mass: 80 g, mass_height: 20 mm, held: {friction: {coefficient: 0.8, half_base: 40 mm}}}"),
        "side-pull",
    )
    assert "slip" in slip.where
    assert "tip" in tip.where
    assert slip.verdict == "tight"
    assert tip.verdict == "holds"


def test_an_unstated_hold_is_not_checked_in_the_curves() -> None:
    (pull,) = found(ring_with("part: {mass: 80 g}"), "side-pull")
    assert pull.verdict == "not checked"
    assert pull.remedy


def test_a_fixture_too_wide_for_the_curve_fails() -> None:
    (gap,) = found(ring_with(fixture="fixture: {mass: 100 g, envelope: [84 mm, 490 mm, 50 mm]}"), "inside-gap")
    assert gap.verdict == "fails"
    assert gap.margin is not None
    assert gap.margin < 0.0
    assert gap.remedy


def test_other_tracks_have_no_curves() -> None:
    for line in (branch_line(), to_and_fro_line(400, 700)):
        assert not any(found(line, code) for code in ("curve-speed", "side-pull", "inside-gap"))
        longest = found(line, "move-limits")[0]
        assert longest.verdict == "holds"


def test_every_nest_counts_in_the_payload() -> None:
    one, four = (
        check_payload(ring_with("part: {mass: 80 g}", f"fixture: {{mass: 100 g, nests: {nests}}}")) for nests in (1, 4)
    )
    assert (one.value, four.value) == (pytest.approx(0.18), pytest.approx(0.42))
    assert (one.where, four.where) == ("fixture and part", "fixture and 4 parts")


# ---- transfers with docks of their own -------------------------------------------------------------------------------


def test_a_transfer_with_several_docks_is_held_against_the_takt() -> None:
    line = branch_line(
        more="demand: {good_parts_per_year: 4000000, shifts_per_day: 2, paid_time_per_shift: 7 h, days_per_year: 240}"
    )
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    takt = find_takt(line.demand)
    west, east = check_transfers(line, plan, takt)
    track, platform = plan.general.track, plan.general.platforms[0]
    assert track is not None
    aboard = platform.aboard[0]
    on = [int(track.leg_us[2 * leg + load]) for leg in track.leg[:, aboard] if leg >= 0 for load in (0, 1)]
    off = [int(track.rear_us[2 * leg + load]) for leg in track.leg[aboard] if leg >= 0 for load in (0, 1)]
    on_us, off_us = (min(time for time in times if time > 0) for times in (on, off))
    least_s = (on_us + off_us + 2 * min(platform.ride_us[0][1:])) * 1e-6
    assert west.value == pytest.approx(least_s)
    assert (west.code, west.where, west.limit) == ("transfer-cycle", "transfer west", takt.takt_s)
    assert east.where == "transfer east"
    faster = check_transfers(line, replace(plan, general=replace(plan.general, nests=2)), takt)
    assert faster[0].value == pytest.approx(least_s / 2)


def test_where_parts_go_different_ways_a_transfer_is_not_checked() -> None:
    demand = "demand: {good_parts_per_year: 4000000, shifts_per_day: 2, paid_time_per_shift: 7 h, days_per_year: 240}"
    line = branch_line(more=f"variants: {{p: {{share: 50 %}}, q: {{share: 50 %}}}}\n{demand}")
    rows = check_transfers(line, compile_plan(line, lay_out(line)), find_takt(line.demand))
    assert [row.verdict for row in rows] == ["not checked", "not checked"]
    assert all(row.remedy for row in rows)


def test_a_ring_and_a_lane_to_and_fro_have_no_transfer() -> None:
    demand = "demand: {good_parts_per_year: 4000000, shifts_per_day: 2, paid_time_per_shift: 7 h, days_per_year: 240}"
    ring = ring_line(300, 900, 600, more=demand)
    (laps,) = check_transfers(ring, compile_plan(ring, lay_out(ring)), find_takt(ring.demand))
    assert (laps.code, laps.value) == ("route-laps", 2)
    bed = to_and_fro_line(400, 700)
    assert check_transfers(bed, compile_plan(bed, lay_out(bed)), find_takt(ring.demand)) == ()
