"""The rows of strength: forces off the carrier, figures that are known in part or not at all."""

from __future__ import annotations

import pytest

from linewright.findings import Finding
from linewright.line.model import Line
from unit.checks.strength_lines import NONE, checked, line_of, one, rows
from unit.layout.track_lines import branch_line

# ---- where a force acts ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "at, off",
    [
        ("[42 mm, 0 mm, 40 mm]", None),  # the carrier of demo-light is 84 mm by 112 mm: just on its edge
        ("[42.1 mm, 0 mm, 40 mm]", ("along", 0.0421, 0.042)),
        ("[-80 mm, 50 mm, 40 mm]", ("along", 0.08, 0.042)),
        ("[0 mm, -56.5 mm, 40 mm]", ("across", 0.0565, 0.056)),
        ("[60 mm, -70 mm, 40 mm]", ("along", 0.06, 0.042)),
    ],
)
def test_a_force_acts_where_there_is_a_body(at: str, off: tuple[str, float, float] | None) -> None:
    found = rows(line_of(f"force: {{down: 5 N, greatest: 6 N, at: {at}}}"), "force-off-carrier")
    if off is None:
        assert found == []
        return
    axis, value, limit = off
    (row,) = found
    assert (row.verdict, row.unit, row.value, row.limit) == (
        "fails", "m", pytest.approx(value), pytest.approx(limit)
    )  # fmt: skip
    assert row.margin == pytest.approx(1.0 - value / limit)
    assert "carrier of 84 mm by 112 mm, which alone is looked at" in row.where
    assert f"; {axis} it is " in row.where
    assert "along from -42 mm to 42 mm and across from -56 mm to 56 mm" in row.remedy
    assert "envelope" in row.remedy


def test_a_fixture_that_reaches_farther_bears_forces_too() -> None:
    at = "force: [{{down: 5 N, greatest: 6 N, at: [0 mm, 0 mm, 40 mm]}}, {{down: 5 N, greatest: 6 N, at: {}}}]"

    def found(point: str, envelope_m: tuple[float, float, float]) -> list[Finding]:
        line = line_of(at.format(point))
        fixture = line.fixture.model_copy(update={"envelope_m": envelope_m})  # type: ignore[union-attr]
        return rows(line.model_copy(update={"fixture": fixture}), "force-off-carrier")

    wide, slim = (0.06, 0.2, 0.05), (0.06, 0.05, 0.05)
    assert found("[20 mm, 99 mm, 40 mm]", wide) == found("[40 mm, 54 mm, 40 mm]", wide) == []
    # Neither body is where both together reach: the corner between the two.
    (corner,) = found("[35 mm, 80 mm, 40 mm]", wide)
    assert "force 2" in corner.where
    assert (corner.value, corner.limit) == (pytest.approx(0.035), pytest.approx(0.03))
    assert found("[35 mm, 20 mm, 40 mm]", slim) == []
    (row,) = found("[0 mm, 60 mm, 40 mm]", slim)
    assert (row.value, row.limit) == (pytest.approx(0.06), pytest.approx(0.056))
    assert "envelope" not in row.remedy


def test_a_force_off_the_carrier_fails_without_guides_and_greatest_too() -> None:
    line = line_of("force: {down: 5 N, at: [600 mm, 500 mm, 40 mm]}", guides=None).model_copy(update={"units": "inch"})
    row = one(line, "force-off-carrier")
    assert row.verdict == "fails"
    assert "along from -1.65 in to 1.65 in and across from -2.2 in to 2.2 in" in row.remedy


# ---- texts of what is known in part ----------------------------------------------------------------------------------


def test_a_fixture_that_states_no_mass_is_not_taken_to_weigh_nothing() -> None:
    line = line_of("force: {down: -20 N, greatest: 30 N, at: [0 mm, 0 mm, 4 mm]}")
    assert line.fixture is not None
    stated = line.fixture.model_dump(exclude={"mass_kg"})
    bare = line.model_copy(update={"fixture": type(line.fixture).model_validate(stated, by_name=True)})
    row = missing(bare)["carried-mass"]
    assert "mass of fixture" in row.where
    assert {one.code for one in checked(bare).findings}.isdisjoint(
        {"static-safety", "static-safety-moving", "guide-life", "carrier-lift"}
    )
    nothing = line.fixture.model_copy(update={"mass_kg": 0.0})
    assert missing(line.model_copy(update={"fixture": nothing})) == {}


def test_a_support_sized_by_a_stated_force_says_so() -> None:
    at = "at: [0 mm, 0 mm, 40 mm]"
    for text, code in (
        (f"force: {{down: 200 N, {at}}}", "force-down"),
        (f"force: {{down: 200 N, {at}}}, support: {{down: 150 N}}", "support"),
        (f"force: {{down: 20 N, along: 9 N, {at}}}, tolerance: {{x: ±1 µm}}", "deflection"),
    ):
        unknown, known = one(line_of(text), code), one(line_of(text.replace("at:", "greatest: 300 N, at:")), code)
        assert "at the stated force, as the greatest is not stated" in unknown.remedy, code
        assert "as the greatest is not stated" not in known.remedy
    beside = one(
        line_of(f"force: {{down: 20 N, across: 9 N, greatest: 90 N, {at}}}, tolerance: {{y: ±0.01 µm}}"), "deflection"
    )
    assert "of the largest tool" not in beside.remedy


def test_a_tolerance_of_nothing_asks_for_a_tolerance() -> None:
    force = "force: {down: 90 N, along: 5 N, greatest: 101 N, at: [-9 mm, 0 mm, 78 mm]}"
    row = one(line_of(f"{force}, tolerance: {{x: ±0 mm, y: ±1 mm}}"), "deflection")
    assert (row.verdict, row.margin, row.limit) == ("fails", -1.0, 0.0)
    assert "write a tolerance above ±0 mm" in row.remedy
    assert "work with" not in row.remedy
    assert "support" not in row.remedy
    still = one(line_of(f"{force}, tolerance: {{y: ±0 mm}}"), "deflection")
    assert (still.verdict, still.value, still.margin) == ("tight", 0.0, 0.0)
    assert "write a tolerance above ±0 mm" in still.remedy


# ---- what is missing -------------------------------------------------------------------------------------------------


def missing(line: Line) -> dict[str, Finding]:
    return {row.code: row for row in checked(line).findings if row.verdict == "not checked"}


def test_a_line_that_states_nothing_has_few_rows() -> None:
    line = branch_line()
    bare = line.conveyor.model_copy(update=dict.fromkeys(("guides", "magnets", "allowed_force", "stopping")))
    found = checked(line.model_copy(update={"conveyor": bare}))
    assert [(row.code, row.verdict) for row in found.findings] == [
        ("tool-force", "not checked"), ("allowed-force", "not checked"), ("guide-blocks", "not checked")
    ]  # fmt: skip
    assert "stations load, x, y, unload" in found.findings[0].where
    assert len(found.stations) == len(found.moving) == 0
    assert found.life is None


def test_a_line_without_forces_and_with_all_else_lacks_nothing() -> None:
    line = line_of(NONE, allowed_force=None)
    assert missing(line) == {}
    assert missing(line_of(NONE, "", allowed_force=None)).keys() == {"tool-force", "allowed-force"}


def test_an_unknown_greatest_force_is_not_checked_but_what_fails_already_is_told() -> None:
    found = checked(line_of("force: {down: 20 N, at: [0 mm, 0 mm, 4 mm]}"))
    assert {row.code for row in found.findings if row.verdict == "not checked"} == {"greatest-force"}
    assert not [row for row in found.findings if row.code in ("force-down", "static-safety")]
    row = one(line_of("force: {down: 200 N, at: [0 mm, 0 mm, 4 mm]}"), "force-down")
    assert row.verdict == "fails"
    assert "stated force already" in row.where


def test_each_missing_figure_has_one_row_that_names_its_key() -> None:
    force = "force: {down: 20 N, across: 5 N, greatest: 30 N, at: [0 mm, 0 mm, 40 mm]}"
    assert "attraction under magnets" in missing(line_of(force, magnets=None))["magnet-attraction"].remedy
    heights = missing(line_of(force, guides={"plate_height_m": None}, carrier={"mass_height_m": None}))
    assert heights.keys() == {"heights", "deflection"}
    assert "plate_height under guides and state the key mass_height under carrier" in heights["heights"].remedy
    assert not rows(line_of(force, guides={"plate_height_m": None}), "static-safety")
    level = "force: {down: 20 N, greatest: 30 N, at: [0 mm, 0 mm, 40 mm]}"
    assert rows(line_of(level, guides={"plate_height_m": None}), "static-safety")
    soft = missing(line_of(force, guides={"side_stiffness_N_m": None}, drive={"servo_stiffness_N_m": None}))
    assert "side_stiffness under guides and the key servo_stiffness under drive" in soft["deflection"].remedy
    assert missing(line_of(force, stopping=None)).keys() == {"emergency-stop"}
    factor = missing(line_of(force, guides={"load_factor": None}))["guide-life"]
    assert factor.value is not None
    assert "state the key load_factor under guides in the conveyor sheet" in factor.remedy
    pointless = missing(line_of("force: {down: 20 N, greatest: 30 N}", force))
    assert pointless["tool-point"].where.endswith("station a: loads of the blocks cannot be told")
    assert pointless.keys() == {"tool-point"}


def test_a_height_is_asked_for_only_where_something_depends_on_it() -> None:
    along = "force: {along: 2 N, greatest: 3 N, at: [0 mm, 0 mm, 40 mm]}"
    assert not rows(line_of(along, guides={"thrust_height_m": None}), "static-safety")
    across = "force: {across: 2 N, greatest: 3 N, at: [0 mm, 0 mm, 40 mm]}"
    assert rows(line_of(across, guides={"thrust_height_m": None}), "static-safety")
    line = line_of(NONE)
    assert line.fixture is not None
    weightless = line.fixture.model_copy(update={"mass_kg": 0.0, "mass_height_m": None})
    assert missing(line.model_copy(update={"fixture": weightless})) == {}


def test_part_and_fixture_must_be_known_for_any_load() -> None:
    line = line_of("force: {down: 200 N, greatest: 300 N, at: [0 mm, 0 mm, 4 mm]}").model_copy(update={"part": None})
    assert missing(line).keys() == {"carried-mass"}
    assert one(line, "force-down").verdict == "fails"
    assert not rows(line, "static-safety")
    assert checked(line).life is None
