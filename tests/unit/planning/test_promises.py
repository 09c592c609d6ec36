"""What moved between two lines is listed, what is listed did move, and rows are held against the right ones."""

from __future__ import annotations

import functools
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Final

import pytest

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.findings import Finding
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.planning.file_changes import NOT_STATED, FileChange, file_changes
from linewright.planning.promises import (
    BECAME,
    MovedFinding,
    Promises,
    compare_promises,
    has_moved,
    unpaired_comparison,
)
from linewright.planning.same_rows import match_findings

EXAMPLES: Final = Path(__file__).parents[3] / "examples"
FIVE: Final = (EXAMPLES / "charts" / "five.yaml").read_text(encoding="utf-8")
LB_KG: Final = 0.45359237

PACK: Final = "  pack: {lane: front, at: 130 in, time: 1.2 s, tolerance: {x: ±0.004 in}}\n"

Edit = tuple[str, str]
EDITS: Final[dict[str, tuple[Edit, ...]]] = {
    "none": (),
    "heavier": (("part: {mass: 2.1 lb", "part: {mass: 16.5 lb"),),
    "more": (("good_parts_per_year: 2600000", "good_parts_per_year: 2860000"),),
    "station": (
        ("  unload: {lane", f"{PACK}  unload: {{lane"),
        ("route: [load, press,", "route: [load, press, pack,"),
    ),
    "units": (("units: inch", "units: mm"),),
    "fuse": (
        ("fuse: 50 A}\n  back", "fuse: 25 A}\n  back"),
        ("good_parts_per_year: 2600000", "good_parts_per_year: 3260000"),
    ),
    "slower": (("    time: 1.7 s", "    time: 6 s"),),
}  # fmt: skip


def edited(*edits: Edit, text: str = FIVE) -> Line:
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_line(text, "five.yaml")


@functools.cache
def evaluated(name: str) -> Evaluation:
    return evaluate(edited(*EDITS[name]), hours=0.6, runs=2, workers=1)


@functools.cache
def compared(before: str, after: str) -> Promises:
    return compare_promises(evaluated(before), evaluated(after))


def rows_of(promises: Promises, code: str) -> list[MovedFinding]:
    return [one for one in promises.findings if one.row.code == code]


def figure(promises: Promises, what: str) -> tuple[object, object]:
    row = next(one for one in promises.answer if one.what == what)
    return row.before, row.after


def finding(code: str, where: str, verdict: str = "holds", value: float | None = 1.0) -> Finding:
    return Finding(code, "power", verdict, where, None, value, 2.0, "A", 0.5, "source", "")  # type: ignore[arg-type]


# Lines that were changed ----------------------------------------------------------------------------------------------


def test_nothing_moves_between_the_same_lines() -> None:
    again = evaluate(edited(), hours=0.6, runs=2, workers=1)
    found = compare_promises(evaluated("none"), again)
    assert (found.changed, found.answer, found.findings) == ((), (), ())
    assert found.stayed == len(again.findings) > 90
    assert found.rate.difference is not None
    assert not found.rate.is_told_from_zero


def test_other_units_change_the_file_and_no_promise() -> None:
    found = compared("none", "units")
    assert found.changed == (FileChange("units", "inch", "mm"),)
    assert (found.answer, found.findings) == ((), ())


def test_a_heavier_part_moves_loads_and_leaves_the_takt() -> None:
    found = compared("none", "heavier")
    assert found.changed == (FileChange("part.mass", "2.1 lb", "16.5 lb"),)
    (payload,) = rows_of(found, "payload")
    assert payload.before is not None
    assert payload.after is not None
    assert payload.after.value == pytest.approx(payload.before.value + 14.4 * LB_KG)
    assert {"emergency-thrust", "energy", "coast-in", "safety-distance"} <= {one.row.code for one in found.findings}
    assert not {one.what for one in found.answer} & {"takt", "required rate", "carriers", "stations"}
    assert not rows_of(found, "step-time")


def test_ten_per_cent_more_volume_shortens_the_takt_by_a_tenth() -> None:
    found = compared("none", "more")
    before, after = figure(found, "takt")
    assert isinstance(before, float)
    assert after == pytest.approx(before / 1.1)
    before, after = figure(found, "required rate")
    assert isinstance(before, float)
    assert after == pytest.approx(before * 1.1)
    (step,) = rows_of(found, "step-time")
    assert step.before is not None
    assert step.after is not None
    assert step.became == "moved"
    assert (step.before.value, step.after.limit) == (step.after.value, pytest.approx(step.before.limit / 1.1))


def test_a_station_more_is_a_row_and_the_worst_place_becomes_another() -> None:
    found = compared("none", "station")
    assert [one.key for one in found.changed] == ["stations.pack", "route"]
    assert found.changed[0].before == NOT_STATED
    assert found.changed[1].after == "[load, press, pack, leak, scrap, unload]"
    assert figure(found, "stations") == (5.0, 6.0)
    assert figure(found, "stations added") == (None, "pack")
    (centres,) = rows_of(found, "station-centres")
    assert centres.became == "moved"
    assert centres.before is not None
    assert "pack" not in centres.before.where
    assert "pack" in centres.row.where
    new = {one.row.code: one.row.where for one in found.of("new")}
    assert "station pack" in new["capability"]
    assert rows_of(found, "capability") == [one for one in found.of("new") if one.row.code == "capability"]


def test_removing_it_again_is_the_same_seen_from_behind() -> None:
    there, back = compared("none", "station"), compared("station", "none")
    assert figure(back, "stations removed") == ("pack", None)
    turned = {(one.row.code, id(one.before), id(one.after)) for one in there.findings}
    assert {(one.row.code, id(one.after), id(one.before)) for one in back.findings} == turned
    assert {(one.key, one.after, one.before) for one in back.changed} == {
        (one.key, one.before, one.after) for one in there.changed
    }


def test_a_mended_row_holds_now_and_a_slower_station_fails_now() -> None:
    mended = compared("none", "fuse")
    assert [one.row.code for one in mended.of("now holds")] == ["fuse-cable"]
    assert "feeder front" in mended.of("now holds")[0].row.where
    assert {one.row.where for one in mended.of("now tight") if one.row.code == "transfer-cycle"} == {
        "transfer east-cross", "transfer west-cross",
    }  # fmt: skip
    slow = compared("none", "slower")
    assert {"rate", "step-time"} <= {one.row.code for one in slow.of("now fails")}
    assert slow.rate.is_told_from_zero
    assert slow.rate.difference is not None
    assert slow.rate.difference.high < 0.0
    order = [BECAME.index(one.became) for one in slow.findings]
    assert order == sorted(order)


PAIRS: Final = (
    ("none", "fuse"),
    ("none", "heavier"),
    ("none", "station"),
    ("station", "slower"),
    ("fuse", "heavier"),
    ("slower", "more"),
)


@pytest.mark.parametrize(("before", "after"), PAIRS)
def test_all_that_is_listed_moved_and_no_verdict_is_left_out(before: str, after: str) -> None:
    found, old, new = compared(before, after), evaluated(before).findings, evaluated(after).findings
    for one in found.findings:
        was, becomes = one.before, one.after
        if was is not None and becomes is not None and was.verdict == becomes.verdict:
            shown = [[f"{x:.3e}" if x is not None else "" for x in (row.value, row.limit)] for row in (was, becomes)]
            assert one.became == "moved"
            assert shown[0] != shown[1], one
        else:
            assert one.became != "moved"
    # Verdicts of each code balance: those of before, less what is listed of them, plus what is listed as they are now.
    balance = Counter((row.code, row.verdict) for row in old)
    balance.subtract((one.before.code, one.before.verdict) for one in found.findings if one.before is not None)
    balance.update((one.after.code, one.after.verdict) for one in found.findings if one.after is not None)
    assert +balance == Counter((row.code, row.verdict) for row in new)
    sides = sum((one.before is not None) + (one.after is not None) for one in found.findings)
    assert 2 * found.stayed + sides == len(old) + len(new)
    listed = {id(row) for one in found.findings for row in (one.before, one.after)}
    same = {row.where + row.code: row for row in old}
    for row in new:
        twin = same.get(row.where + row.code)
        if twin is not None and twin.verdict != row.verdict:
            assert id(row) in listed, row


def test_the_order_of_findings_means_nothing() -> None:
    before, after = evaluated("none"), evaluated("station")
    mixed = list(after.findings)
    random.Random(3).shuffle(mixed)
    found = compare_promises(before, replace(after, findings=tuple(mixed)))
    wanted = {(id(one.before), id(one.after)) for one in compared("none", "station").findings}
    assert {(id(one.before), id(one.after)) for one in found.findings} == wanted


# Which row is which ---------------------------------------------------------------------------------------------------


def pairs_of(before: list[Finding], after: list[Finding]) -> list[tuple[str | None, str | None]]:
    lines = (evaluated("none").line, evaluated("station").line)
    found = match_findings(before, after, lines)
    return [(old and old.where, new and new.where) for old, new in found]


def test_figures_in_the_words_do_not_part_a_row_from_itself() -> None:
    old = [finding("braking-voltage", f"feeder {name}: 11 carriers give back 164 J") for name in ("front", "back")]
    new = [finding("braking-voltage", f"feeder {name}: 9 carriers give back 1.2e+03 J") for name in ("back", "front")]
    assert pairs_of(old, new) == [(old[1].where, new[0].where), (old[0].where, new[1].where)]


def test_a_row_of_one_place_is_not_held_against_another_place() -> None:
    old, new = (
        finding("capability", "station press, x (along): 1.4"),
        finding("capability", "station leak, x (along): 1.4"),
    )
    assert pairs_of([old], [new]) == [(None, new.where), (old.where, None)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("station press, x (along): 1.4", "station press, y (across): 1.4"),
        ("station press, failure 1, seen 2 times", "station press, failure 2, seen 2 times"),
        ("empty carrier of 5 kg: drive", "loaded carrier of 5 kg: drive"),
    ],
)
def test_what_sets_rows_apart_keeps_them_apart(old: str, new: str) -> None:
    assert pairs_of([finding("capability", old)], [finding("capability", new)]) == [(None, new), (old, None)]


def test_rows_of_other_codes_or_subjects_are_never_one() -> None:
    old, new = finding("a", "whole line"), finding("b", "whole line")
    assert pairs_of([old], [new]) == [(None, "whole line"), ("whole line", None)]
    assert pairs_of([old], [replace(old, subject="bus")]) == [(None, "whole line"), ("whole line", None)]


def test_wear_parts_are_known_by_their_names() -> None:
    old = [finding("wear-part", f"{name}, 4 on each: worn after 5 years") for name in ("scraper", "belt")]
    new = [finding("wear-part", f"{name}, 4 on each: worn after 3 years") for name in ("belt", "fan")]
    assert pairs_of(old, new) == [
        (old[1].where, new[0].where), (None, new[1].where), (old[0].where, None),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "moved"),
    [
        (1.0, 1.0, False),
        (1234.4, 1234.3, False),
        (1.0, 1.002, True),
        (1.00049999, 1.00050001, False),
        (None, None, False),
        (None, 0.0, True),
        (0.0, 1e-9, True),
        (1.0, -1.0, True),
        (float("inf"), float("inf"), False),
        (float("inf"), 1.0, True),
        (float("nan"), float("nan"), False),
    ],
)
def test_a_figure_moved_where_its_four_digits_did(before: float | None, after: float | None, moved: bool) -> None:
    assert has_moved(before, after) is has_moved(after, before) is moved


# The rate -------------------------------------------------------------------------------------------------------------


SETS: Final = ([1009.0, 1013.5, 998.2, 1004.0], [1021.0, 1019.5, 1030.2, 1008.0, 1011.1, 1016.0])


def test_independent_runs_are_compared_as_another_program_did() -> None:
    found = unpaired_comparison(*SETS)  # ttest_ind of scipy.stats, equal_var=False, gave these figures
    assert (found.mean, found.low, found.high) == pytest.approx(
        (11.4583333333, 0.694586291381, 22.2220803753), rel=1e-9
    )
    assert unpaired_comparison([1.0, 1.0], [3.0, 3.0]).half_width == 0.0


@pytest.mark.long
def test_independent_runs_are_compared_as_another_program_does() -> None:
    from scipy.stats import ttest_ind

    first, second = SETS
    for confidence in (0.9, 0.95):
        found = unpaired_comparison(first, second, confidence)
        wanted = ttest_ind(second, first, equal_var=False).confidence_interval(confidence)
        assert (found.low, found.high) == (pytest.approx(wanted.low), pytest.approx(wanted.high))


@pytest.mark.parametrize(
    ("first", "second", "confidence"),
    [([1.0], [1.0, 2.0], 0.9), ([1.0, 2.0], [1.0, float("nan")], 0.9), ([1.0, 2.0], [1.0, 2.0], 1.0)],
)
def test_independent_runs_that_tell_nothing_are_refused(
    first: list[float], second: list[float], confidence: float
) -> None:
    with pytest.raises(ValueError, match=r"values|finite|confidence"):
        unpaired_comparison(first, second, confidence)


def test_the_same_luck_is_compared_run_by_run_and_other_luck_is_not() -> None:
    one, two = evaluated("none"), evaluated("slower")
    assert one.run is not None
    assert two.run is not None
    paired = compared("none", "slower").rate
    assert paired.paired
    assert paired.difference is not None
    mean = float((two.run.rates_per_h - one.run.rates_per_h).mean())
    assert paired.difference.mean == pytest.approx(mean)
    other = compare_promises(one, replace(two, run=replace(two.run, seed=2))).rate
    assert not other.paired
    assert other.difference == unpaired_comparison(one.run.rates_per_h, two.run.rates_per_h)


def test_without_a_run_the_reason_stands_there() -> None:
    alone = evaluate_without_run(edited())
    found = compare_promises(evaluated("none"), alone)
    assert found.rate.difference is None
    assert found.rate.why == "the line as it is was not simulated"
    assert [one.row.code for one in found.of("no longer checked")][:1] == ["rate"]
    assert compare_promises(alone, alone).rate.why == "neither line was simulated"
    run = evaluated("none").run
    assert run is not None
    short = replace(evaluated("none"), run=replace(run, rate=None, reason="run longer"))
    assert compare_promises(short, evaluated("none")).rate.why == "the line as it was has none: run longer"


# The files ------------------------------------------------------------------------------------------------------------


def changes_of(*edits: Edit, text: str = FIVE) -> list[tuple[str, str, str]]:
    found = file_changes(read_line(text, "five.yaml"), edited(*edits, text=text))
    return [(one.key, one.before, one.after) for one in found]


def test_a_key_is_named_as_the_file_has_it_with_what_is_written_there() -> None:
    assert changes_of(("    time: 1.7 s", "    time: {mean: 2 s, cv: 10 %}")) == [
        ("stations.press.time", "1.7 s", "{mean: 2 s, cv: 10 %}")
    ]
    assert changes_of(("every: 45 min", "every: 20 min")) == [("stations.press.failures.1.every", "45 min", "20 min")]
    assert changes_of(("time: {mean: 2.5 s, cv: 5 %}", "time: {mean: 2.5 s, cv: 8 %}")) == [
        ("stations.leak.time.cv", "5 %", "8 %")
    ]
    assert changes_of(("down: 180 lbf", "down: 150 lbf")) == [("stations.press.force.down", "180 lbf", "150 lbf")]
    assert changes_of(("    prepare: 0.6 s\n", "")) == [("stations.press.prepare", "0.6 s", NOT_STATED)]
    assert changes_of(("fixed_at: 0 in}\n", "fixed_at: 0 in}\nenvironment: {dry: true}\n")) == [
        ("environment", NOT_STATED, "{dry: true}")
    ]


def test_what_means_the_same_is_no_change() -> None:
    assert changes_of(("length: 20 ft", "length: 240 in"), ("at: 35 in", "at: 889 mm"), ("# Five", "# Other")) == []


def test_another_sheet_is_one_change_and_a_figure_of_a_sheet_has_its_key(tmp_path: Path) -> None:
    sheet = (Path(str(load_line.__code__.co_filename)).parent / "sheets" / "demo-heavy.yaml").read_text("utf-8")
    (tmp_path / "mine.yaml").write_text(sheet, "utf-8")
    text = FIVE.replace("conveyor: demo-heavy", "conveyor: mine.yaml")
    before = read_line(text, "five.yaml", tmp_path)
    (tmp_path / "mine.yaml").write_text(sheet.replace("friction: 5.5 N", "friction: 7 N"), "utf-8")
    old = before.conveyor.drive.friction_N
    changed = file_changes(before, read_line(text, "five.yaml", tmp_path))
    assert old != 7.0
    assert [(one.key, one.after) for one in changed] == [("conveyor.drive.friction", "7 N")]
    renamed = sheet.replace("name: demo-heavy", "name: another").replace("friction: 5.5 N", "friction: 7 N")
    (tmp_path / "mine.yaml").write_text(renamed, "utf-8")
    changed = file_changes(before, read_line(text, "five.yaml", tmp_path))
    assert [(one.key, one.before, one.after) for one in changed] == [("conveyor.name", "demo-heavy", "another")]


def test_what_like_copies_is_listed_at_every_copy() -> None:
    twin = FIVE.replace("  scrap: {lane", "  leak-2: {lane: back, at: 95 in, like: leak}\n  scrap: {lane")
    twin = twin.replace("press, leak, scrap", "press, [leak, leak-2], scrap")
    assert changes_of(("rejects: 1.1 %", "rejects: 2 %"), text=twin) == [
        ("stations.leak.rejects", "1.1 %", "2 %"), ("stations.leak-2.rejects", "1.1 %", "2 %"),
    ]  # fmt: skip
    own = ("at: 95 in, like: leak}", "at: 95 in, like: leak, prepare: 0.2 s}")
    assert changes_of(own, text=twin) == [("stations.leak-2.prepare", NOT_STATED, "0.2 s")]


def test_a_line_changed_in_python_tells_its_figures_with_units() -> None:
    line = edited()
    press = line.station("press").model_copy(update={"at_m": 2.54, "keep_clear_m": 0.0254})
    stations = tuple(press if one.name == "press" else one for one in line.stations)
    found = file_changes(line, line.model_copy(update={"stations": stations, "carriers": 12}))
    assert [(one.key, one.before, one.after) for one in found] == [
        ("carriers", "11", "12"),
        ("stations.press.at", "92 in", "100 in"),
        ("stations.press.keep_clear", "7 in", "1 in"),
    ]


def test_the_order_of_lanes_counts_and_that_of_stations_does_not() -> None:
    lanes = "  front: {length: 3850 mm, from: west, to: east}\n", "  back: {length: 3850 mm, from: east, to: west, across: 36 in}\n"  # fmt: skip # noqa: E501
    assert changes_of(("".join(lanes), "".join(reversed(lanes)))) == [("lanes.order", "front, back", "back, front")]
    scrap = "  scrap: {lane: back, at: 80 in, time: 1.1 s, reject_exit: true, force: none}\n"
    assert changes_of((scrap, ""), ("stations:\n", f"stations:\n{scrap}")) == []


def test_a_wider_line_has_a_wider_footprint() -> None:
    wider = evaluate_without_run(edited(("across: 36 in", "across: 46 in")))
    found = compare_promises(evaluate_without_run(edited()), wider)
    before, after = figure(found, "footprint of the track, width")
    assert isinstance(before, float)
    assert after == pytest.approx(before + 0.254)
    assert "footprint of the track, length" not in {one.what for one in found.answer}
