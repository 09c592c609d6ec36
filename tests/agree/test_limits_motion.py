"""The newer rows of motion against a plain recomputation from docs/limits/motion.md; what remedies say is tried."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest

from agree.limits_coils import coil_rows
from agree.limits_motion import ROWS, motion_rows
from agree.limits_rows import ROOT, Row, Tree, differences, line_of, sheet_tree, tree_of, valid_line, with_keys
from agree.limits_tool_lines import base_trees, random_files, random_lines
from linewright.checks.motion import check_motion
from linewright.findings import Finding
from linewright.flow.duty import Duty, find_duty
from linewright.flow.run import run_plan
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.line.surroundings import MoveLimits
from linewright.motion.curves import leg_limits
from linewright.motion.profile import plan_move
from linewright.traffic.compile import compile_plan

DEMO: Final = ROOT / "examples" / "demo" / "line.yaml"
LIMITS: Final = sorted((ROOT / "examples" / "limits").glob("*.yaml"))
OTHERS: Final = sorted(p for name in ("ways", "locks", "two-lane") for p in (ROOT / "examples" / name).glob("*.yaml"))


def compared(line: Line, duty: Duty | None = None) -> list[str]:
    """What the program and the page do not have in common."""
    layout = lay_out(line)
    found = [one for one in check_motion(line, layout, duty).findings if one.code in ROWS]
    mine = [*motion_rows(line, layout, duty), *coil_rows(line, layout, duty)]
    return differences(mine, found, [one.name for one in line.stations])


def run_of(line: Line, hours: float = 0.5) -> Duty:
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    return find_duty(line, layout, plan, run_plan(line, plan, hours, 2, 1))


def row_of(line: Line, code: str, duty: Duty | None = None) -> Finding:
    (row,) = [one for one in check_motion(line, lay_out(line), duty).findings if one.code == code]
    return row


@pytest.mark.parametrize("path", [DEMO, ROOT / "examples" / "limits" / "motion.yaml"], ids=lambda p: p.stem)
def test_examples(path: Path) -> None:
    assert compared(load_line(path)) == []


@pytest.mark.long
@pytest.mark.parametrize("path", [*LIMITS, *OTHERS], ids=lambda p: p.stem)
def test_other_examples(path: Path) -> None:
    assert compared(load_line(path)) == []


@pytest.mark.long
@pytest.mark.parametrize("path", [DEMO, *LIMITS, *OTHERS], ids=lambda p: p.stem)
def test_examples_with_a_run(path: Path) -> None:
    line = load_line(path)
    assert compared(line, run_of(line)) == []


def test_random_lines(tmp_path: Path) -> None:
    told = {i: compared(line) for i, line in enumerate(random_lines(20261126, 2, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


@pytest.mark.long
def test_many_random_lines(tmp_path: Path) -> None:
    told = {i: compared(line) for i, line in enumerate(random_lines(812, 60, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


@pytest.mark.long
def test_random_lines_with_a_run(tmp_path: Path) -> None:
    told = {i: compared(line, run_of(line, 0.3)) for i, line in enumerate(random_lines(813, 30, tmp_path))}
    assert {i: one for i, one in told.items() if one} == {}


@pytest.mark.long
def test_a_duty_of_over_an_hour_has_a_worst_hour_of_its_own(tmp_path: Path) -> None:
    """Less than the whole duty, and with a last minute that is cut short."""
    line = load_line(ROOT / "examples" / "limits" / "motion.yaml")
    duty = run_of(line, 2.517)
    assert duty.span_s > 3700.0
    assert compared(line, duty) == []


# ---- remedies ------------------------------------------------------------------------------------------------------


def holds(row: Finding) -> bool:
    return row.verdict in ("holds", "tight")


def tried(line: Line, tree: Tree, sheet: Tree, folder: Path) -> list[tuple[str, bool, bool]]:
    """Of each remedy that was read: its text, whether the row holds with it, and with a clearly smaller change."""
    found = []
    for row in check_motion(line, lay_out(line)).findings:
        if row.verdict not in ("fails", "tight") or row.code not in ROWS:
            continue
        margin = 0.0 if row.verdict == "fails" else 0.1
        change = change_of(row, line)
        if change is None:
            continue
        value, now, make = change
        less = value + 0.03 * (now - value) + math.copysign(0.006 * abs(value), now - value)
        answers = []
        for figure in (value, less):
            changed = valid_line(*make(figure, tree, sheet), folder)
            if changed is None:  # what is told cannot be written
                answers.append(False)
                continue
            rows = [one for one in check_motion(changed, lay_out(changed)).findings if one.code == row.code]
            tail = row.where.rsplit(": ", 1)[-1]  # slip and tip are two rows
            same = rows if len(rows) == 1 else [one for one in rows if one.where.endswith(tail)]
            answers.append(bool(same) and all(one.margin is not None and one.margin >= margin for one in same))
        found.append((row.remedy, answers[0], answers[1]))
    return found


Make = Callable[[float, Tree, Tree], tuple[Tree, Tree]]


def change_of(row: Finding, line: Line) -> tuple[float, float, Make] | None:
    """The figure that a remedy names, the present one, and how a line is made with another."""
    part = line.part
    if found := re.search(r"a (pocket|clamp) that stands ([\d.]+) (m/s²|in/s²)", row.remedy):
        kind, unit = found[1], found[3]
        assert row.limit is not None
        return (
            float(found[2]),
            row.limit / (0.0254 if unit == "in/s²" else 1.0),
            lambda v, t, s: (with_keys(t, **{f"part__held__{kind}": f"{v:.9g} {unit}"}), s),
        )
    if found := re.search(r"with a coefficient of friction of ([\d.]+) instead of ([\d.]+)", row.remedy):
        key = "part__held__friction__coefficient"
        return float(found[1]), float(found[2]), lambda v, t, s: (with_keys(t, **{key: v}), s)
    if found := re.search(r"with half a base of ([\d.]+) (mm|in) instead of ([\d.]+) (?:mm|in)", row.remedy):
        key, length = "part__held__friction__half_base", found[2]
        return float(found[1]), float(found[3]), lambda v, t, s: (with_keys(t, **{key: f"{v:.9g} {length}"}), s)
    if found := re.match(r"with a freeboard of ([\d.]+) mm", row.remedy):
        assert part is not None
        assert part.liquid is not None
        now = part.liquid.freeboard_m * 1e3
        return float(found[1]), now, lambda v, t, s: (with_keys(t, part__liquid__freeboard=f"{v:.9g} mm"), s)
    return None


def ceilings_tried(line: Line, tree: Tree, sheet: Tree, folder: Path) -> list[tuple[str, bool]]:
    """Of each ceiling of moves that a row of the liquid names: whether the row holds with it, and at a half of it."""
    found = []
    for row in check_motion(line, lay_out(line)).findings:
        told = re.search(r"move_limits: \{(acceleration|jerk): ([\d.]+) (\S+)\}", row.remedy)
        if row.code != "slosh" or told is None:
            continue
        least = 0.0 if row.verdict != "tight" else 0.1
        for share in (1.0, 0.5):
            limits = {**tree.get("move_limits", {}), told[1]: f"{share * float(told[2]):.9g} {told[3]}"}
            changed = line_of({**tree, "move_limits": limits}, sheet, folder)
            margin = row_of(changed, "slosh").margin
            found.append((row.remedy, margin is not None and margin >= least))
    return found


@pytest.mark.long
def test_the_ceiling_of_the_example_keeps_the_liquid_in(tmp_path: Path) -> None:
    path = ROOT / "examples" / "limits" / "motion.yaml"
    tree, sheet = tree_of(path), tree_of(ROOT / "examples" / "limits" / "sheets" / "thin-coils.yaml")
    found = ceilings_tried(load_line(path), tree, sheet, tmp_path)
    assert [one for _, one in found] == [True, True]


@pytest.mark.long
def test_remedies_and_ceilings_of_random_lines_in_inches(tmp_path: Path) -> None:
    answers, ceilings = [], []
    for number, (line, tree, sheet) in enumerate(random_files(20274, 30, tmp_path)):
        folder, inches = tmp_path / str(number), with_keys(tree, units="inch")
        folder.mkdir()
        line = line.model_copy(update={"units": "inch"})
        answers += [one for one in tried(line, inches, sheet, folder) if "freeboard" not in one[0]]
        ceilings += ceilings_tried(line, inches, sheet, folder)
    assert [one for one in answers if not one[1] or one[2]] == []
    assert [one for one in ceilings if not one[1]] == []
    assert any("in/s²" in one[0] for one in answers)
    assert any("in/s²" in one[0] for one in ceilings)


@pytest.mark.long
def test_ceilings_of_random_lines_keep_the_liquid_in(tmp_path: Path) -> None:
    found = []
    for number, (line, tree, sheet) in enumerate(random_files(20273, 40, tmp_path)):
        folder = tmp_path / str(number)
        folder.mkdir()
        found += ceilings_tried(line, tree, sheet, folder)
    assert [one for one in found if not one[1]] == []
    assert len(found) > 10


@pytest.mark.long
def test_the_ceiling_cools_the_coils_and_eases_the_drive_as_it_is_told() -> None:
    line = load_line(ROOT / "examples" / "limits" / "motion.yaml")
    duty = run_of(line)
    for code in ("coil-heat", "coil-warming", "rms-thrust"):
        row = row_of(line, code, duty=duty)
        found = re.search(r"move_limits: \{acceleration: ([\d.]+) m/s²\}, departures as in the run", row.remedy)
        assert found is not None, row.remedy
        least = 0.0 if row.verdict == "fails" else 0.1
        for factor, expected in ((1.0, True), (1.02, False)):
            own = MoveLimits(acceleration_m_s2=factor * float(found[1]))
            slower = line.model_copy(update={"move_limits": own})
            legs = tuple(
                dataclasses.replace(
                    leg,
                    move=plan_move(
                        leg.move.distance_m, leg_limits(slower, leg.loaded, leg.move.distance_m, leg.curved).limits
                    ),
                )
                for leg in duty.legs
            )
            done = dataclasses.replace(duty, legs=legs)
            rows = [*coil_rows(slower, lay_out(slower), done), *motion_rows(slower, lay_out(slower), done)]
            (again,) = [one for one in rows if one.code == code]
            assert again.margin is not None
            assert (again.margin >= least) == expected, (code, factor, again)


@pytest.mark.long
def test_remedies_of_the_example(tmp_path: Path) -> None:
    path = ROOT / "examples" / "limits" / "motion.yaml"
    tree, sheet = tree_of(path), tree_of(ROOT / "examples" / "limits" / "sheets" / "thin-coils.yaml")
    answers = tried(load_line(path), tree, sheet, tmp_path)
    assert [(one, less) for _, one, less in answers] == [(True, False)] * 3, answers


@pytest.mark.long
def test_remedies_of_random_lines(tmp_path: Path) -> None:
    """A hold that stands more also lets carriers move harder: the row has to hold with the moves that it then has."""
    answers = []
    for number, (line, tree, sheet) in enumerate(random_files(20271, 40, tmp_path)):
        folder = tmp_path / str(number)
        folder.mkdir()
        answers += tried(line, tree, sheet, folder)
    assert [one for one in answers if not one[1] or one[2]] == []
    assert len(answers) > 30


def lighter(line: Line, duty: Duty, by_kg: float) -> tuple[Line, Duty]:
    """A fixture that is lighter by so much, all moves as they are."""
    assert line.fixture is not None
    fixture = line.fixture.model_copy(update={"mass_kg": line.fixture.mass_kg - by_kg})
    legs = tuple(dataclasses.replace(leg, mass_kg=leg.mass_kg - by_kg) for leg in duty.legs)
    return line.model_copy(update={"fixture": fixture}), dataclasses.replace(duty, legs=legs)


@pytest.mark.long
def test_a_lighter_fixture_cools_the_coils_as_it_is_told() -> None:
    line = load_line(ROOT / "examples" / "limits" / "motion.yaml")
    duty, read = run_of(line), 0
    for code in ("coil-heat", "coil-warming"):
        row = row_of(line, code, duty=duty)
        found = re.match(
            r"with a fixture of ([\d.]+) kg instead of ([\d.]+) kg, moves as they are, it holds", row.remedy
        )
        assert found is not None, row.remedy
        now, told = float(found[2]), float(found[1])
        for mass_kg, expected in ((told, True), (told + 0.03 * (now - told) + 0.001, False)):
            changed, done = lighter(line, duty, now - mass_kg)
            rows = {one.code: one for one in coil_rows(changed, lay_out(changed), done)}
            assert (rows[code].verdict != "fails") == expected, (code, mass_kg, rows[code])
            read += 1
    assert read == 4


@pytest.mark.long
def test_less_mass_lets_the_sheets_stop_be_made(tmp_path: Path) -> None:
    """The mass that the remedy names, taken off the fixture; moves are planned anew with it, as a user would see."""
    wrong, read = [], 0
    for number, (line, tree, sheet) in enumerate(random_files(20272, 80, tmp_path)):
        for row in check_motion(line, lay_out(line)).findings:
            found = re.match(
                r"with ([\d.]+) kg of carrier, fixture and part instead of ([\d.]+) kg it holds", row.remedy
            )
            if row.code != "emergency-thrust" or found is None or line.fixture is None:
                continue
            left_kg = line.fixture.mass_kg - (float(found[2]) - float(found[1])) - 0.0005
            if left_kg < 0.0:
                continue
            folder = tmp_path / str(number)
            folder.mkdir(exist_ok=True)
            changed = line_of(with_keys(tree, fixture__mass=f"{left_kg:.9g} kg"), sheet, folder)
            again = row_of(changed, "emergency-thrust")
            read += 1
            if not holds(again):
                wrong.append(f"{number}: {row.remedy}: {again.value} of {again.limit}: {again.where}")
    assert wrong == []
    assert read > 3


# ---- what the page says that one might not expect ------------------------------------------------------------------


def test_a_platform_that_falls_with_g_holds_nothing(tmp_path: Path) -> None:
    """At a = g the part comes loose: that is no row that holds."""
    tree = tree_of(ROOT / "examples" / "ways" / "nests.yaml")
    held = {"friction": {"coefficient": 0.5, "half_base": "20 mm"}}
    sheet = with_keys(sheet_tree("demo-light"), transfers__lift__acceleration="9.80665 m/s²")
    sheet = with_keys(sheet, transfers__lift__jerk="900 m/s³")
    line = line_of(with_keys(tree, part__held=held, part__mass_height="12 mm"), sheet, tmp_path)
    rows = [one for one in check_motion(line, lay_out(line)).findings if "falling with the lift" in one.where]
    assert {one.verdict for one in rows} == {"fails"}


def test_what_is_told_of_friction_can_be_had(tmp_path: Path) -> None:
    """A coefficient above 1 is no way out; then a pocket or a clamp is."""
    tree, sheet = base_trees("ring")
    held = {"friction": {"coefficient": 0.3, "half_base": "40 mm"}}
    line = line_of(with_keys(tree, part__held=held), with_keys(sheet, stopping__deceleration="14 m/s²"), tmp_path)
    rows = [one for one in check_motion(line, lay_out(line)).findings if one.code == "emergency-hold"]
    told = [re.search(r"coefficient of friction of ([\d.]+)", one.remedy) for one in rows if one.verdict == "fails"]
    assert all(one is None or float(one[1]) <= 0.5 for one in told)


def test_no_duty_asks_more_than_what_is_told_without_a_run(tmp_path: Path) -> None:
    """A tool that pushes along the track for long can ask more than any move: then nothing holds without a run."""
    line = line_of(*pushed("9 N"), tmp_path)
    assert row_of(line, "rms-thrust").verdict != "holds"


@pytest.mark.long
def test_a_long_push_asks_more_than_any_move(tmp_path: Path) -> None:
    """The run behind the test above: what it asks stands over what is told without it."""
    line = line_of(*pushed("9 N"), tmp_path)
    duty = run_of(line, 0.2)
    assert compared(line, duty) == []
    assert row_of(line, "rms-thrust", duty=duty).verdict == "fails"


def pushed(continuous: str) -> tuple[Tree, Tree]:
    """One carrier on a ring, which a tool pushes along the track for most of the time."""
    tree, sheet = base_trees("ring")
    stations = {name: {**one, "force": "none", "time": "0.1 s"} for name, one in tree["stations"].items()}
    stations["grind"] = {**stations["grind"], "force": {"along": "25 N", "greatest": "25 N"}, "time": "20 s"}
    return {**tree, "carriers": 1, "stations": stations}, with_keys(sheet, drive__continuous_thrust=continuous)


def test_rows_are_rows() -> None:
    assert differences([Row("slosh", "holds")], []) == ["missing: " + repr(Row("slosh", "holds"))]
