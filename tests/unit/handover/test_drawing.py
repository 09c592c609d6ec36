"""The drawing, read back: layers, blocks, centre lines, dimensions and words against the layout; bytes that repeat."""

from __future__ import annotations

import io
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from ezdxf.document import Drawing as Document
from ezdxf.entities import Dimension, Text
from ezdxf.entitydb import EntityDB

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.handover.drawing.drawing import drawing_of
from linewright.handover.drawing.dxf import dxf_of, plain
from linewright.handover.drawing.failing import part_note
from linewright.handover.drawing.numbering import section_spans, sections_told
from linewright.handover.drawing.scene import Scene, blocks_of, section_block
from linewright.handover.drawing.shapes import LAYERS, Drawing, Measure, Words, said_mm, upright
from linewright.handover.drawing.svg import svg_of
from linewright.layout.placing import length_text
from linewright.line.load import load_line
from linewright.pictures.floor.ground import docks, overall_ends, width_m
from linewright.planning.money.parts_list import parts_list

EXAMPLES = Path(__file__).parents[3] / "examples"
LINES = ("demo/line", "charts/five", "ways/ring", "ways/branch")
each = pytest.mark.parametrize("name", LINES)
each_and_more = pytest.mark.parametrize(
    "name", (*LINES, "charts/fourteen", "charts/forty", "ways/four-decks", "ways/to-and-fro", "limits/safety")
)
NEAR_MM = 1e-3


@lru_cache
def evaluated(name: str) -> Evaluation:
    return evaluate_without_run(load_line(EXAMPLES / f"{name}.yaml"))


@lru_cache
def drawn(name: str) -> Drawing:
    evaluation = evaluated(name)
    return drawing_of(evaluation, parts_list(evaluation.line, evaluation.layout))


@lru_cache
def written(name: str) -> bytes:
    return dxf_of(drawn(name))


@lru_cache
def read(name: str) -> Document:
    return ezdxf.read(io.StringIO(written(name).decode("utf-8")))


def dimensions(name: str) -> Iterator[Dimension]:
    for entity in read(name).modelspace().query("DIMENSION"):
        assert isinstance(entity, Dimension)
        yield entity


def texts(name: str) -> list[Text]:
    return [one for one in read(name).modelspace().query("TEXT") if isinstance(one, Text)]


def said_by(dimension: Dimension) -> str:
    """What its own block prints."""
    return next(one.plain_text() for one in dimension.virtual_entities() if one.dxftype() == "MTEXT")


@each
def test_a_reader_finds_no_fault_and_millimetres(name: str) -> None:
    document = read(name)
    audit = document.audit()
    assert not audit.has_errors
    assert not audit.has_fixes
    assert document.header["$INSUNITS"] == 4
    assert set(LAYERS) <= {layer.dxf.name for layer in document.layers}
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used <= set(LAYERS)
    assert {"OUTLINE-SECTION", "STATION-CENTRE", "DIMENSION", "FOOTPRINT", "TEXT", "TITLE"} <= used


@each
def test_every_section_is_inserted_once(name: str) -> None:
    scene = Scene(evaluated(name), 10)
    due = Counter(
        section_block(scene, lane, number) for lane in scene.layout.lanes for number in range(len(lane.sections))
    )
    inserts = read(name).modelspace().query('INSERT[layer=="OUTLINE-SECTION"]')
    assert Counter(one.dxf.name for one in inserts) == due
    assert due.total() == sum(len(lane.sections) for lane in scene.layout.lanes)


@each
def test_sections_of_a_lane_touch_end_to_end(name: str) -> None:
    """Where one ends the next starts: the joints of the layout, at the top deck's own place."""
    layout = evaluated(name).layout
    found = read(name).modelspace().query('INSERT[layer=="OUTLINE-SECTION"]')
    starts = [(one.dxf.insert.x, one.dxf.insert.y) for one in found]
    highest = max(lane.level_m for lane in layout.lanes)
    for lane in (one for one in layout.lanes if one.level_m == highest):
        travels = [0.0, *lane.joints_travel_m]
        if not lane.is_ring and lane.from_ == "east":
            travels = [start_m + long_m for start_m, long_m in zip(travels, lane.sections, strict=True)]
        for travel_m in travels:
            x_m, y_m = lane.floor_point(travel_m)
            assert any(abs(x - 1e3 * x_m) + abs(y - 1e3 * y_m) < NEAR_MM for x, y in starts)


@each
def test_station_centre_lines_stand_where_the_layout_has_them(name: str) -> None:
    layout = evaluated(name).layout
    lines = read(name).modelspace().query('LINE[layer=="STATION-CENTRE"]')
    middles = Counter(round((one.dxf.start.x + one.dxf.end.x) / 2, 3) for one in lines)
    for stop in layout.stops:
        if stop.kind == "station":
            x = round(1e3 * layout.lane(stop.lane).floor_point(stop.travel_m)[0], 3)
            assert middles[x] >= 2, stop.station  # in plan and from the side


@each
def test_every_station_and_transfer_is_named_on_the_drawing(name: str) -> None:
    evaluation = evaluated(name)
    said = [one.dxf.text for one in texts(name) if one.dxf.layer == "TEXT"]
    named = [station.name for station in evaluation.line.stations]
    named += [transfer.name for transfer in evaluation.layout.transfers]
    assert [one for one in named if not any(text.split(",")[0] == one for text in said)] == []


@each
def test_dimensions_measure_what_the_layout_says(name: str) -> None:
    """Every station and west end from the floor's west end, every joint from its neighbour, the footprint."""
    evaluation = evaluated(name)
    measured = [float(one.get_measurement()) for one in dimensions(name) if one.dimtype == 0]
    due = [1e3 * (overall_ends(evaluation)[1] - overall_ends(evaluation)[0]), 1e3 * width_m(evaluation)]
    for lane in evaluation.layout.lanes:
        if lane.is_ring:
            continue
        due += [1e3 * one.floor_m for one in evaluation.layout.stops if one.station and one.lane == lane.name]
        due += [1e3 * (b - a) for a, b in pairwise((0.0, *lane.joints_travel_m, lane.length_m))]
        due.append(1e3 * lane.length_m)
    due += [abs(1e3 * dock.middle_m) for dock in docks(evaluation.layout)]
    for length in due:
        assert any(abs(one - length) < NEAR_MM for one in measured), length


@each
def test_dimensions_print_what_they_measure_in_the_unit_of_the_line_file(name: str) -> None:
    units = evaluated(name).line.units
    found = list(dimensions(name))
    assert len(found) > 5
    for one in found:
        text = length_text(float(one.get_measurement()) / 1e3, units).split()[0]
        assert said_by(one) == (f"R{text}" if one.dimtype == 4 else text)
        assert one.dxf.text in (("R<>",) if one.dimtype == 4 else ("", "<>"))  # measured, never written


@each_and_more
def test_numbers_of_dimensions_do_not_lie_over_each_other_or_over_words(name: str) -> None:
    drawing = drawn(name)
    boxes = [one.words(drawing.units).box for one in drawing.shapes if isinstance(one, Measure)]
    boxes += [one.box for one in drawing.shapes if isinstance(one, Words)]
    slack = 0.15 * 2.5 * drawing.scale  # boxes are rather too large
    boxes.sort()  # from west to east, so that only near ones are compared
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            if other[0] + slack >= one[2] - slack:
                break
            assert max(one[1], other[1]) + slack >= min(one[3], other[3]) - slack, (one, other)


@each_and_more
def test_everything_lies_on_the_paper(name: str) -> None:
    drawing = drawn(name)
    west, foot, east, top = drawing.frame
    for shape in drawing.shapes:
        box = shape.box
        assert west < box[0] and foot < box[1] and box[2] < east and box[3] < top, shape  # noqa: PT018


def guards(name: str) -> dict[str, float]:
    """Station -> distance of its guard. [mm]"""
    stations = evaluated(name).line.stations
    return {one.name: 1e3 * one.guard.distance_m for one in stations if one.guard is not None}


def test_guards_motor_zones_and_feeders_stand_at_their_places() -> None:
    evaluation, space = evaluated("demo/line"), read("demo/line").modelspace()
    found = guards("demo/line")
    assert found == {"load": pytest.approx(900.0)}
    assert 900.0 in [round(float(one.get_measurement()), 6) for one in dimensions("demo/line")]
    (guard,) = space.query('LINE[layer=="GUARD"]')
    zone = evaluation.line.motor_zones[0]
    ends = pytest.approx((1e3 * zone.from_m, 1e3 * zone.to_m))
    assert (guard.dxf.start.x, guard.dxf.end.x) == ends
    (outline,) = space.query('LWPOLYLINE[layer=="MOTOR-ZONE"]')
    xs = [point[0] for point in outline.get_points()]
    assert (min(xs), max(xs)) == ends
    feeders = space.query('LWPOLYLINE[layer=="FEEDER"]')
    assert [one.get_points()[0][0] for one in feeders] == [0.0, 0.0]  # both enter at the west end


def test_guards_of_decks_over_one_another_do_not_lie_over_one_another() -> None:
    name = "limits/safety"
    found = guards(name)
    assert len(found) == 2
    lines = [one for one in drawn(name).shapes if one.layer == "GUARD"]
    (_, foot, _, top), (_, other_foot, _, other_top) = (one.box for one in lines)
    assert (foot, other_foot) == (top, other_top)
    west, low, east, high = next(one.box for one in drawn(name).shapes if one.layer == "FOOTPRINT")
    assert west < east
    reached = sorted((foot - high, low - other_foot))
    assert reached == pytest.approx(sorted(found.values()), abs=1.0)


@each
def test_title_block_tells_line_units_input_and_that_the_sheet_is_invented(name: str) -> None:
    evaluation = evaluated(name)
    said = " ".join(one.dxf.text for one in texts(name) if one.dxf.layer == "TITLE")
    unit = {"mm": "dimensions in mm", "inch": "dimensions in inches"}[evaluation.line.units]
    for words in (evaluation.line.name, unit, evaluation.line.input_hash[:16], f"1:{drawn(name).scale}", "is invented"):
        assert words in said
    assert "competent" in said
    assert " 20" not in said.split("date")[1].split("approved")[0]  # no clock: left for who signs


@each
def test_svg_tells_the_same_words_and_numbers(name: str) -> None:
    drawing = drawn(name)
    root = ElementTree.fromstring(svg_of(drawing))
    shown = Counter("".join(one.itertext()) for one in root.iter("{http://www.w3.org/2000/svg}text"))
    due = Counter(one.text for one in drawing.shapes if isinstance(one, Words))
    due += Counter(said_mm(one.length, drawing.units) for one in drawing.shapes if isinstance(one, Measure))
    assert not due - shown
    groups = {one.get("id") for one in root.iter("{http://www.w3.org/2000/svg}g")}
    assert groups == {shape.layer for shape in drawing.shapes}


@each
def test_the_same_line_gives_the_same_bytes(name: str) -> None:
    assert dxf_of(drawn(name)) == written(name)
    assert svg_of(drawn(name)) == svg_of(drawn(name))
    assert str(EXAMPLES).encode() not in written(name)


def test_another_process_gives_the_same_bytes() -> None:
    program = (
        "import sys; from linewright.line.load import load_line\n"
        "from linewright.evaluation import evaluate_without_run\n"
        "from linewright.planning.money.parts_list import parts_list\n"
        "from linewright.handover.drawing.drawing import drawing_of\n"
        "from linewright.handover.drawing.dxf import dxf_of\n"
        "e = evaluate_without_run(load_line(sys.argv[1]))\n"
        "sys.stdout.buffer.write(dxf_of(drawing_of(e, parts_list(e.line, e.layout))))\n"
    )
    path = str(EXAMPLES / f"{LINES[0]}.yaml")
    run = subprocess.run([sys.executable, "-c", program, path], capture_output=True, check=True)
    assert run.stdout == written(LINES[0])


def test_neither_a_day_nor_a_run_is_in_the_file() -> None:
    lines = written(LINES[0]).decode("utf-8").split("\n")
    after = {line: lines[number + 2] for number, line in enumerate(lines) if line.startswith("$")}
    assert after["$TDCREATE"] == after["$TDUPDATE"] == after["$TDUCREATE"] == after["$TDUUPDATE"] == "2451545.0"
    mark = evaluated(LINES[0]).line.input_hash[:32].upper()
    assert after["$VERSIONGUID"].strip("{}").replace("-", "") == mark
    assert not any(" @ 20" in line for line in lines)


def test_words_that_would_steer_a_reader_are_only_words() -> None:
    assert [plain(one) for one in ("a%%dc", "%%%%u", "x^Jy", "two\nlines")] == [
        "a% %dc",
        "% % % %u",
        "x^ Jy",
        "two lines",
    ]


def test_a_number_longer_than_what_it_measures_stands_beside_its_line() -> None:
    short = upright("DIMENSION", (0.0, 0.0), (0.0, 40.0), 10.0, 25.0, "mm")
    long = upright("DIMENSION", (0.0, 0.0), (0.0, 400.0), 10.0, 25.0, "mm")
    assert short.middle[0] > 10.0 + 25.0 / 2
    assert long.middle[0] < 10.0 - 25.0 / 2


def test_a_line_longer_than_any_sheet_is_drawn_on_a_roll(monkeypatch: pytest.MonkeyPatch) -> None:
    """The paper is as large as the drawing, and nothing is left out."""
    evaluation = evaluated("charts/forty")
    monkeypatch.setattr("linewright.handover.drawing.drawing.CHOICES", ((0, 5),))
    drawing = drawing_of(evaluation, parts_list(evaluation.line, evaluation.layout))
    assert drawing.sheet == "a roll"
    west, foot, east, top = drawing.frame
    boxes = [one.box for one in drawing.shapes]
    assert all(west < box[0] and foot < box[1] and box[2] < east and box[3] < top for box in boxes)
    stations = sum(one.layer == "STATION-CENTRE" for one in drawing.shapes)
    assert stations == sum(one.layer == "STATION-CENTRE" for one in drawn("charts/forty").shapes)


def test_the_order_of_a_set_is_not_in_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library asks a set which kinds of entity there are; here it is told them both ways round."""
    types_in_use = EntityDB.dxf_types_in_use
    found = []
    for is_reversed in (False, True):

        def told(self: EntityDB, is_reversed: bool = is_reversed) -> list[str]:
            return sorted(types_in_use(self), reverse=is_reversed)

        monkeypatch.setattr(EntityDB, "dxf_types_in_use", told)
        found.append(dxf_of(drawn(LINES[1])))
    assert found[0] == found[1]


def test_two_parts_with_one_number_are_two_blocks() -> None:
    """Or sections of two lengths would be drawn alike; names of blocks know no capitals."""
    evaluation = evaluated("ways/ring")
    sheet = evaluation.line.conveyor
    numbers = iter(("same", "SAME", "other"))
    sections = tuple(one.model_copy(update={"part_number": next(numbers)}) for one in sheet.sections)
    line = evaluation.line.model_copy(update={"conveyor": sheet.model_copy(update={"sections": sections})})
    scene = Scene(replace(evaluation, line=line), 10)
    lane = scene.layout.lanes[0]
    names = {round(long_m, 4): section_block(scene, lane, k) for k, long_m in enumerate(lane.sections)}
    assert names[0.368] == "SECTION-368_mm"
    assert names[0.736] == "other"
    assert set(names.values()) <= set(blocks_of(scene))


@each_and_more
def test_every_section_bears_its_number_in_travel_clear_of_lines_across(name: str) -> None:
    layout, shapes = evaluated(name).layout, drawn(name).shapes
    words = [one for one in shapes if isinstance(one, Words) and one.layer == "SECTION-NUMBER"]
    across = [one.box for one in shapes if one.layer in ("STATION-CENTRE", "JOINT", "END-STOP")]
    for one in words:
        west, foot, east, top = one.box
        crossed = [box for box in across if box[0] < east and box[2] > west and box[1] < top and box[3] > foot]
        assert crossed == [], one.text
    highest = max(lane.level_m for lane in layout.lanes)
    for lane in (one for one in layout.lanes if one.level_m == highest and not one.is_ring):
        for number, (start_m, end_m) in enumerate(section_spans(lane), start=1):
            ends = sorted(1e3 * lane.floor_point(travel_m)[0] for travel_m in (start_m, end_m))
            y = 1e3 * lane.across_m
            here = {one.text for one in words if ends[0] < one.at[0] < ends[1] and abs(one.at[1] - y) < NEAR_MM}
            assert here == {str(number)}


def said_in_lists(name: str) -> list[str]:
    return [one.text.replace("\u00a0", " ") for one in drawn(name).shapes if isinstance(one, Words)]


def test_lists_place_transfers_zones_and_feeders_and_tell_the_mounting() -> None:
    evaluation, said = evaluated("demo/line"), said_in_lists("demo/line")
    whole = " ".join(said)
    start = said.index("Transfers")
    rows = said[start : said.index("Mounting")]
    assert rows[rows.index("to lower") : rows.index("to lower") + 4] == ["to lower", "3742 mm", "0 mm", "-320 mm"]
    assert rows[rows.index("from lower") : rows.index("from lower") + 4] == ["from lower", "-62 mm", "0 mm", "-320 mm"]
    assert "from 310 mm to 610 mm from the west end, in section 1" in whole
    assert "feeder lower comes in 0 mm from the west end: at the west end of lane lower, to section 5" in whole
    assert evaluation.limits is not None
    for row in evaluation.limits.accuracy.mounting.rows():
        place = next(
            k for k, text in enumerate(said) if text == row["what"].replace("_", " ") and said[k + 1] == row["lane"]
        )
        assert said[place + 2] == f"±{round(1e6 * row['limit_m'])} µm"
        assert row["method"] in said[place : place + 5]
    assert "its height over the floor is stated by no key: plan it" in whole
    assert "states a tolerance for the places of stations, for the gap at a joint" in whole


def test_the_section_to_which_a_cable_leads_is_that_of_the_cable_schedule() -> None:
    for name in ("demo/line", "charts/five", "charts/forty"):
        limits, whole = evaluated(name).limits, " ".join(said_in_lists(name))
        assert limits is not None
        supplied = [row for row in limits.power.schedule.rows() if row["from"] == "supply"]
        assert supplied
        for row in supplied:
            assert (
                f"lane {row['feeder']}, to {row['to']}, each on to the next up to section" in whole
            )  # feeders bear their lanes' names


def test_an_inch_file_has_no_millimetres_but_those_of_the_model_and_of_cables() -> None:
    kept = ("drawn in mm", "25.4", "mm of the drawing", "mm²")
    assert [one for one in said_in_lists("charts/five") if "mm" in one and not any(word in one for word in kept)] == []


def test_a_stretch_that_ends_at_a_joint_lies_in_one_section() -> None:
    lane = evaluated("demo/line").layout.lanes[0]
    joint_m = lane.joints_travel_m[0]
    assert sections_told(lane, 0.1, joint_m) == "section 1"
    assert sections_told(lane, 0.1, joint_m + 0.01) == "sections 1 to 2"


def roll_of(name: str, heading: str) -> list[str]:
    """The words of a list, heading and columns first."""
    said = said_in_lists(name)
    ends = ("Not sound as planned", "Stations", "Transfers", "Mounting", "Marks", "Parts", "Notes")
    start = said.index(heading)
    return said[start : next(k for k in range(start + 1, len(said)) if said[k] in ends)]


@pytest.mark.parametrize("name", ["charts/five", "charts/forty", "limits/safety", "limits/power", "demo/line"])
def test_every_finding_that_fails_stands_in_a_list(name: str) -> None:
    """Code, where, value and limit of each; how many rows are not checked."""
    said = roll_of(name, "Not sound as planned")
    whole = " ".join(said)
    subjects = ("layout", "power", "safety", "strength")
    due = [one for one in evaluated(name).findings if one.subject in subjects]
    fails = [one for one in due if one.verdict == "fails"]
    assert Counter(one for one in said if one in {row.code for row in fails}) == Counter(row.code for row in fails)
    for row in fails:
        assert row.where.replace("\u00a0", " ") in whole
    assert ("nothing fails" in whole) == (not fails)
    count = sum(one.verdict == "not checked" for one in due)
    assert f"{count} {'row is' if count == 1 else 'rows are'} NOT CHECKED; see the dossier" in whole


def test_subjects_without_any_finding_are_told_as_not_checked() -> None:
    """As of a line whose carriers cannot move: that nothing fails must not read as if all were sound."""
    evaluation = evaluated("demo/line")
    bare = replace(evaluation, findings=tuple(one for one in evaluation.findings if one.subject == "layout"))
    drawing = drawing_of(bare, parts_list(bare.line, bare.layout))
    whole = " ".join(one.text.replace("\u00a0", " ") for one in drawing.shapes if isinstance(one, Words))
    assert "0 rows are NOT CHECKED, and nothing at all of power, safety, strength is checked; see the dossier" in whole


def test_a_row_that_fails_tells_value_and_limit() -> None:
    said = roll_of("charts/five", "Not sound as planned")
    place = said.index("fuse-cable")
    assert said[place + 3 : place + 5] == ["55.17 A", "at most 50 A"]
    place = said.index("crush-gap")
    assert "at least 19.69 in" in said[place : said.index("stored-charge")]


def test_marks_whose_checks_fail_say_so() -> None:
    five = roll_of("charts/five", "Marks")
    assert {"G1 (fails)", "Z1 (fails)", "F1 (fails)", "F2 (fails)"} <= set(five)
    assert not any("(fails)" in one for one in roll_of("demo/line", "Marks"))
    safety = roll_of("limits/safety", "Marks")
    assert {"G1 (fails)", "G2 (fails)", "Z1", "Z2 (fails)"} <= set(safety)  # nothing of zone Z1 itself fails


def test_parts_whose_checks_fail_say_so() -> None:
    evaluation = evaluated("limits/power")
    parts = parts_list(evaluation.line, evaluation.layout).rows
    notes = {row.item: part_note(evaluation, row) for row in parts if part_note(evaluation, row)}
    said = roll_of("limits/power", "Parts")
    assert Counter(one for one in said if one.startswith("fails: ")) == Counter(notes.values())
    assert notes["fuse gG 25 A, feeder upper"] == "fails: fuse-cable"
    assert notes["motor supply"] == "fails: braking-voltage, extra-low-voltage"
    assert [one for one in notes if one.endswith("feeder lower")] == []  # of it the supply alone fails
    assert "check" not in roll_of("demo/line", "Parts")


def test_a_place_west_of_the_west_end_says_so_beside_its_number() -> None:
    drawing = drawn("charts/five")
    numbers = [one.words("inch") for one in drawing.shapes if isinstance(one, Measure)]
    west = [one for one in drawing.shapes if isinstance(one, Words) and one.text == "west"]
    assert west
    for word in west:
        beside = [one for one in numbers if one.at[1] == word.at[1] and 0.0 < word.box[0] - one.box[2] < word.height]
        assert [one.text for one in beside] == ["6.85"]


def test_limits_of_mounting_in_inches_have_three_digits() -> None:
    said = roll_of("charts/five", "Mounting")
    assert {one for one in said if one.startswith("±")} == {"±0.00118 in", "±0.00157 in", "±0.000787 in"}


def test_a_zone_over_a_joint_tells_both_sections() -> None:
    safety = " ".join(roll_of("limits/safety", "Marks"))
    assert "from 540 mm to 860 mm from the west end, over a joint at 736 mm: sections 1 and 2 both" in safety
    assert "from 650 mm to 750 mm from the west end, over a joint at 736 mm: sections 2 and 3 both" in safety
    assert "over a joint" not in " ".join(roll_of("demo/line", "Marks"))
