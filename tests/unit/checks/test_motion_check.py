"""What governs the moves, what part and carrier stand, and what was not stated."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from linewright.checks.motion import check_motion, check_part_hold, check_payload
from linewright.findings import Finding, judge
from linewright.layout import lay_out
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from unit.handover.stand_in_run import written_line

PART = "part: {mass: 180 g, held: {pocket: 25 m/s²}, mass_height: 30 mm}"


def changed(folder: Path, part: str = PART, fixture: str | None = None, sheet: tuple[str, str] | None = None) -> Line:
    path = written_line(folder)
    rows = []
    for row in path.read_text("utf-8").splitlines():
        kept = part if row.startswith("part:") else row
        rows.append(fixture if fixture is not None and row.startswith("fixture:") else kept)
    path.write_text("\n".join(rows) + "\n", "utf-8")
    if sheet is not None:
        text = (folder / "sheet.yaml").read_text("utf-8")
        assert sheet[0] in text
        (folder / "sheet.yaml").write_text(text.replace(*sheet), "utf-8")
    return load_line(path)


def found(line: Line, code: str) -> list[Finding]:
    return [finding for finding in check_motion(line, lay_out(line)) if finding.code == code]


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
