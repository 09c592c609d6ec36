"""The rows that draw a run: station time against the takt, what stations do, what would help; traced to the numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from linewright.evaluation import Evaluation, evaluate, evaluate_without_run
from linewright.flow.run import LimitingStation
from linewright.flow.statistics import Interval
from linewright.line.load import load_line
from linewright.pictures.grammar import stacked
from linewright.pictures.picture import picture_of
from linewright.pictures.style import GREY, HUE, INK, LIGHT, MIDDLE, PAPER, Text
from linewright.pictures.track.help_row import help_row
from linewright.pictures.track.sheet import Row, sheet_of
from linewright.pictures.track.states_row import PLOT_PX as STATES_PX
from linewright.pictures.track.states_row import states_row
from linewright.pictures.track.strip import strip_row
from linewright.pictures.track.time_row import time_row
from linewright.planning.changes import Change
from linewright.planning.gains import Effect, Gain, Gains
from linewright.tables import Column, Table

EXAMPLES = Path(__file__).parents[3] / "examples"
SVG = "{http://www.w3.org/2000/svg}"
# What each state looks like, written down once more: two fills that change places must fail.
PAINTS = {
    "work_share": HUE,
    "clear_share": LIGHT,
    "prepare_share": LIGHT,
    "done_handshake_share": MIDDLE,
    "settling_share": MIDDLE,
    "exchange_share": MIDDLE,
    "changeover_share": "url(#lw-waits)",
    "operator_share": "url(#lw-waits)",
    "outside_share": "url(#lw-waits)",
    "break_share": "url(#lw-waits)",
    "down_share": "url(#lw-down)",
    "partner_share": "url(#lw-blocked)",
    "blocked_share": "url(#lw-blocked)",
    "starved_share": PAPER,
}
ORDER = (HUE, LIGHT, MIDDLE, "url(#lw-waits)", "url(#lw-down)", "url(#lw-blocked)", PAPER)


@dataclass(frozen=True)
class Box:
    """A rectangle of a drawing."""

    said: str
    left: float
    top: float
    wide: float
    high: float
    fill: str

    @property
    def middle(self) -> float:
        return self.left + self.wide / 2


def shifted(node: ElementTree.Element) -> tuple[float, float]:
    """Where a mark stands in its row."""
    found = re.fullmatch(r"translate\((-?[\d.e-]+),(-?[\d.e-]+)\).*", node.get("transform", ""))
    assert found is not None
    return float(found[1]), float(found[2])


@dataclass(frozen=True, eq=False)
class Drawn:
    """One row, drawn alone."""

    root: ElementTree.Element

    def boxes(self, pattern: str) -> list[Box]:
        """The rectangles whose description matches, in the order of drawing."""
        found = []
        for node in self.root.iter(f"{SVG}path"):
            said = node.get("aria-label", "")
            rectangle = re.fullmatch(
                r"M(-?[\d.e-]+),(-?[\d.e-]+)h(-?[\d.e-]+)v(-?[\d.e-]+)h-?[\d.e-]+Z", node.get("d", "")
            )
            if rectangle and re.fullmatch(pattern, said):
                found.append(Box(said, *(float(one) for one in rectangle.groups()), node.get("fill", "")))
        return found

    def levels(self, stroke: str, width: str) -> list[float]:
        """Heights of the lines across the whole plot that are drawn so."""
        lines = [node for node in self.root.iter(f"{SVG}line") if float(node.get("x2", "0")) > 1000.0]
        lines = [node for node in lines if (node.get("stroke"), node.get("stroke-width")) == (stroke, width)]
        return [shifted(node)[1] for node in lines]

    def texts(self) -> list[str]:
        return ["".join(node.itertext()).replace("\u00a0", " ") for node in self.root.iter(f"{SVG}text")]

    def words(self) -> str:
        return " ".join(self.texts())


@cache
def five() -> Evaluation:
    return evaluate(load_line(EXAMPLES / "charts" / "five.yaml"), hours=0.6, runs=2)


@cache
def demo() -> Evaluation:
    return evaluate(load_line(EXAMPLES / "demo" / "line.yaml"), hours=0.5, runs=2)


def drawn(row: Any, evaluation: Evaluation, gains: Gains | None = None, size: float = 1.0) -> Drawn:
    sheet = sheet_of(evaluation, gains, Text(size))
    made: Row = row(sheet)
    parts = [stacked([made.chart], 0.0, share_x=True)]
    picture = picture_of("row", "a row", [], parts, [], sheet.data, sheet.text, sheet.width_px, (), sheet.ends)
    return Drawn(ElementTree.fromstring(picture.svg()))


@cache
def time_of(evaluation: Evaluation) -> Drawn:
    return drawn(time_row, evaluation)


@cache
def states_of(evaluation: Evaluation) -> Drawn:
    return drawn(states_row, evaluation)


def run_of(evaluation: Evaluation) -> Any:
    assert evaluation.run is not None
    assert evaluation.run.line_cycle_s is not None
    return evaluation.run


def px_a_second(drawing: Drawn, cycle_s: float) -> float:
    """The scale, from the foot and the line cycle."""
    (cycle,), (foot,) = drawing.levels(INK, "0.8"), drawing.levels(GREY, "0.6")
    return (foot - cycle) / cycle_s


@pytest.mark.parametrize("of", [five, demo])
def test_bars_are_as_high_as_the_steps_times(of: Any) -> None:
    evaluation = of()
    run, drawing = run_of(evaluation), time_of(evaluation)
    scale = px_a_second(drawing, run.line_cycle_s)
    (foot,) = drawing.levels(GREY, "0.6")
    for step in run.steps.rows():
        heights = []
        for station in step["stations"].split(", "):
            pieces = drawing.boxes(rf"{station}: .* s of .* s per good part, .*")
            assert max(box.top + box.high for box in pieces) == pytest.approx(foot)
            heights.append(sum(box.high for box in pieces))
            assert foot - min(box.top for box in pieces) == pytest.approx(heights[-1])
        assert sum(heights) / len(heights) == pytest.approx(scale * step["time_per_good_part_s"], rel=1e-6)


@pytest.mark.parametrize(("row", "states"), [(time_of, False), (states_of, True)])
@pytest.mark.parametrize("of", [five, demo])
def test_every_fill_is_as_high_as_its_states_and_stands_once(of: Any, row: Any, states: bool) -> None:
    evaluation = of()
    run, drawing = run_of(evaluation), row(evaluation)
    whole = STATES_PX if states else px_a_second(drawing, run.line_cycle_s) * run.line_cycle_s
    left_out = () if states else ("blocked_share", "starved_share")
    for station in run.stations.rows():
        pieces = drawing.boxes(rf"{station['station']}: .* (% of the time|s of .* s per good part,) .*")
        sums = dict.fromkeys(ORDER, 0.0)
        for column, paint in PAINTS.items():
            sums[paint] += 0.0 if column in left_out else float(station[column])
        due = {paint: whole * share for paint, share in sums.items() if share > 0.0}
        assert [box.fill for box in pieces] == list(due)
        assert [box.high for box in pieces] == pytest.approx(list(due.values()), rel=1e-6, abs=1e-6)
        assert len({box.middle for box in pieces}) == 1
        assert [box.top for box in pieces] == sorted((box.top for box in pieces), reverse=True)


@pytest.mark.parametrize("of", [five, demo])
def test_every_station_has_one_number_and_it_is_its_time(of: Any) -> None:
    evaluation = of()
    run, drawing = run_of(evaluation), time_of(evaluation)
    nodes = [node for node in drawing.root.iter(f"{SVG}text") if "neither blocked" in node.get("aria-label", "")]
    told = {node.get("aria-label", "").split(":")[0]: node for node in nodes}
    assert len(nodes) == len(told)
    assert sorted(told) == sorted(str(name) for name in run.stations["station"])
    for row in run.stations.rows():
        time_s = run.line_cycle_s * (1.0 - row["blocked_share"] - row["starved_share"])
        node = told[row["station"]]
        assert f": {time_s:.3f} s per good part" in node.get("aria-label", "")
        assert "".join(node.itertext()) == f"{time_s:.2f} s"


def test_shares_of_a_bar_make_a_hundred_and_the_whole_plot() -> None:
    drawing = states_of(demo())
    top, foot = drawing.levels(GREY, "0.6")
    for name in run_of(demo()).stations["station"]:
        pieces = drawing.boxes(rf"{name}: [\d.]+ % of the time .*")
        assert sum(round(10 * float(box.said.split()[1])) for box in pieces) == 1000
        assert sum(box.high for box in pieces) == pytest.approx(foot - top)


def test_the_takt_lies_at_its_height() -> None:
    run, drawing = run_of(five()), time_of(five())
    takt = five().takt
    assert takt is not None
    (level,), (foot,) = drawing.levels(INK, "1.6"), drawing.levels(GREY, "0.6")
    assert foot - level == pytest.approx(px_a_second(drawing, run.line_cycle_s) * takt.takt_s)
    assert f"takt {takt.takt_s:.3f} s" in drawing.texts()
    assert f"line cycle {run.line_cycle_s:.3f} s" in drawing.texts()


def with_takt(takt_s: float) -> Evaluation:
    takt = five().takt
    assert takt is not None
    return replace(five(), takt=replace(takt, takt_s=takt_s))


def test_a_takt_far_above_is_an_arrow_and_its_number() -> None:
    drawing = drawn(time_row, with_takt(60.0))
    assert drawing.levels(INK, "1.6") == []
    assert "takt 60.000 s ↑" in drawing.texts()
    tallest = max(box.high for box in drawing.boxes(r"load: .* s per good part, work"))
    assert tallest == pytest.approx(max(box.high for box in drawn(time_row, without_demand()).boxes("load: .*, work")))


def without_demand() -> Evaluation:
    kept = tuple(finding for finding in five().findings if finding.code == "transfer-cycle")
    return replace(five(), takt=None, findings=kept)


def test_without_a_demand_no_takt_is_drawn_and_the_heading_says_so() -> None:
    drawing = drawn(time_row, without_demand())
    assert drawing.levels(INK, "1.6") == []
    assert "no takt, the line file states no demand" in drawing.words()
    assert not any(one.startswith("takt") for one in drawing.texts())


def test_what_is_over_the_takt_stands_white_on_dark() -> None:
    times = {str(row["step"]): float(row["time_per_good_part_s"]) for row in run_of(five()).steps.rows()}
    second, first = sorted(times.values())[-2:]
    drawing = drawn(time_row, with_takt(0.5 * (first + second)))
    over = {name for name, time_s in times.items() if time_s == first}
    dark = [node.get("aria-label", "") for node in drawing.root.iter(f"{SVG}path") if node.get("fill") == INK]
    over_takt = [said for said in dark if re.fullmatch(".*neither blocked nor starved.*over the takt.*", said)]
    assert {said.split(":")[0] for said in over_takt} == over
    assert f"over {first:.2f} s" in drawing.texts()
    assert f"over {second:.2f} s" not in drawing.texts()


def test_transfers_stand_beside_the_stations_at_their_least_time() -> None:
    run, drawing = run_of(five()), time_of(five())
    due = {one.where: one.value for one in five().findings if one.code == "transfer-cycle"}
    boxes = drawing.boxes(r"cross-transfer .*: .* s per good part at best")
    assert len(boxes) == len(due) == 2
    for box in boxes:
        time_s = due[f"transfer {box.said.split(':')[0].split()[1]}"]
        assert box.high == pytest.approx(px_a_second(drawing, run.line_cycle_s) * time_s)


def causes(place: str, share: float) -> Table:
    names: list[tuple[str, Any]] = [("kind", "work"), ("place", place), ("time_s", share), ("share", share)]
    return Table(tuple(Column(name, None, np.array([value])) for name, value in names))


@pytest.mark.parametrize(
    ("place", "share", "part", "words"),
    [
        ("load", 0.9, 0.95, "load limits: {time:.3f} s, 0.100 s more than leak."),
        ("leak", 0.4, 0.95, "load limits: "),
        ("leak", 0.6, 0.95, "load takes longest of the steps: {time:.3f} s, 0.100 s more than leak; but 60.0 % of"),
        ("load", 0.9, 0.5, "No station limits: load takes longest of the steps: "),
    ],
)
def test_the_heading_names_what_limits(place: str, share: float, part: float, words: str) -> None:
    run = run_of(five())
    time_s = part * run.line_cycle_s
    limiting = LimitingStation("load", time_s, "leak", 0.1)
    changed = replace(run, limiting=limiting, cycle_causes=causes(place, share))
    kept = tuple(finding for finding in five().findings if finding.code == "rate")
    said = drawn(time_row, replace(five(), run=changed, findings=kept, bounds=None)).words()
    assert words.format(time=time_s) in said
    assert f"against a takt of {five().takt.takt_s:.3f} s: {kept[0].verdict}." in said  # type: ignore[union-attr]


def crossing() -> dict[str, float]:
    """Least time of each transfer by its finding. [s]"""
    found = {one.where.removeprefix("transfer "): one.value for one in five().findings if one.code == "transfer-cycle"}
    return {name: time_s for name, time_s in found.items() if time_s is not None}


def test_transfers_that_take_longer_than_any_step_are_named_first_and_the_main_cause_after() -> None:
    (first, slowest_s), (second, less_s) = sorted(crossing().items(), key=lambda one: -one[1])
    words = time_of(five()).words()
    assert f"{first} takes {slowest_s:.3f} s, {second} takes {less_s:.3f} s at best, more than any step; load" in words
    rows = run_of(five()).cycle_causes.rows()
    share = sum(row["share"] for row in rows if row["place"] == first)
    assert share > 0.5
    assert f"; but {100.0 * share:.1f} % of the line cycle passes at {first}. Line cycle" in words


def test_transfers_that_are_equally_slow_are_named_together() -> None:
    alike = tuple(replace(one, value=3.5) if one.code == "transfer-cycle" else one for one in five().findings)
    words = drawn(time_row, replace(five(), findings=alike)).words()
    assert "east-cross and west-cross take 3.500 s at best, more than any step; load takes" in words


def test_where_neither_step_nor_transfer_explains_the_line_cycle_none_limits() -> None:
    run = run_of(five())
    slow = replace(run, line_cycle_s=2.0 * max(crossing().values()), cycle_causes=causes("load", 0.4))
    words = drawn(time_row, replace(five(), run=slow)).words()
    assert "No station and no transfer limits: east-cross takes" in words
    assert "the rest is waiting" in words
    short = replace(run, limiting=LimitingStation("load", 0.1, "leak", 0.05))
    words = drawn(time_row, replace(five(), run=short)).words()
    assert "east-cross takes" in words
    assert "limits:" not in words


def test_without_a_demand_the_slowest_transfer_is_known_from_the_bounds() -> None:
    evaluation = replace(five(), takt=None, findings=())
    bounds, run = evaluation.bounds, run_of(five())
    assert bounds is not None
    assert bounds.transfer_per_h is not None
    drawing = drawn(time_row, evaluation)
    (box,) = drawing.boxes(r"cross-transfer .*: .* s per good part at best")
    assert bounds.limiting_transfer in box.said
    assert box.high == pytest.approx(px_a_second(drawing, run.line_cycle_s) * 3600.0 / bounds.transfer_per_h)
    assert f"only the slowest, {bounds.limiting_transfer}, is drawn: without a demand" in drawing.words()
    unknown = replace(bounds, transfer_per_h=None, left_out=(("transfer_per_h", "it is called"),))
    words = drawn(time_row, replace(evaluation, bounds=unknown)).words()
    assert "Transfers have no bar: it is called." in words
    assert "have no bar" not in time_of(five()).words()


def test_a_stations_step_is_marked_across_each_of_its_stations() -> None:
    run, drawing = run_of(demo()), time_of(demo())
    step = next(row for row in run.steps.rows() if row["step"] == "test-1/test-2")
    marks = drawing.boxes(r"step test-1/test-2 at .*, the mean of its stations")
    (foot,) = drawing.levels(GREY, "0.6")
    due = foot - px_a_second(drawing, run.line_cycle_s) * step["time_per_good_part_s"]
    assert [box.top + box.high / 2 for box in marks] == pytest.approx([due, due])
    assert f"the white mark across them: test-1/test-2 {step['time_per_good_part_s']:.3f} s." in drawing.words()


@pytest.mark.parametrize("row", [time_row, states_row, help_row])
def test_without_a_run_each_row_says_so(row: Any) -> None:
    words = drawn(row, evaluate_without_run(five().line)).words()
    assert "not known, no run was simulated" in words


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("the line stands", "not known the line stands"),
        ("a run has 12 bins: run longer", "12 bins: run longer: --hours"),
        ("at least 2 runs are needed, there is 1", "there is 1: --runs"),
    ],
)
def test_without_an_interval_the_time_row_says_why_and_which_option_helps(reason: str, said: str) -> None:
    run = replace(run_of(five()), rate=None, line_cycle_s=None, limiting=None, reason=reason)
    evaluation = replace(five(), run=run)
    words = drawn(time_row, evaluation).words()
    assert said in words
    assert ("--" in words) == ("--" in said)
    helps = drawn(help_row, evaluation).words()
    assert f"the runs give no rate to compare: {reason}" in helps
    assert said.removeprefix("not known ") in helps


def test_a_line_that_stands_still_is_told() -> None:
    run = replace(run_of(five()), stalled_runs=1)
    assert "The line stands still in 1 of 2 runs" in drawn(time_row, replace(five(), run=run)).words()
    assert "stands still" not in time_of(five()).words()


def gain(
    words: str, place: str | None, effect: Effect, mean: float, half: float, together: tuple[str, ...] = ()
) -> Gain:
    interval = Interval(mean, mean - half, mean + half, 0.95)
    return Gain(Change(words, place, five().line, False, together), interval, False, effect)


def gains_of(*gains: Gain) -> Gains:
    return Gains(
        tuple(gains), (("a change", "it cannot be laid out"),), Interval(1000.0, 990.0, 1010.0, 0.95), 2, 0.5, 4, 1.0
    )


def tried() -> Gains:
    return gains_of(
        gain("both handshakes halved", None, "gains", 80.0, 4.0),
        gain("a second load", "load", "gains", 60.0, 10.0),
        gain("work at load shorter", "load", "gains", 40.0, 8.0),
        gain("interlocks halved", "east-cross", "gains", 20.0, 5.0),
        gain("repairs halved", "press", "cannot be told", 5.0, 25.0),
        gain("one carrier more", None, "does nothing", 0.0, 0.1),
        gain("a waiting stop more", "unload", "loses", -30.0, 6.0),
        gain("one carrier fewer", None, "loses", -50.0, 2.0),
    )  # fmt: skip


@cache
def helped() -> Drawn:
    return drawn(help_row, five(), tried())


def gain_boxes(drawing: Drawn) -> dict[str, Box]:
    boxes = drawing.boxes(r"[\w/-]+: .* interval .*, by 2 runs of 0.5 h.*")
    named = {box.said.split(":")[0]: box for box in boxes}
    assert len(named) == len(boxes)
    return named


@pytest.mark.parametrize("size", [1.0, pytest.param(2.0, marks=pytest.mark.long)])
def test_gains_stand_under_the_pins_of_their_places(size: float) -> None:
    boxes = gain_boxes(helped() if size == 1.0 else drawn(help_row, five(), tried(), size))
    strip = drawn(lambda sheet: strip_row(sheet, None), five(), size=size)
    pins = {}
    for node in strip.root.iter(f"{SVG}path"):
        if found := re.fullmatch(r"station ([\w-]+) at .*", node.get("aria-label", "")):
            pins[found[1]] = shifted(node)[0]
    assert sorted(boxes) == ["east-cross", "load", "press", "unload"]
    for name in ("load", "press", "unload"):
        assert boxes[name].middle == pytest.approx(pins[name], abs=0.1)
    (platform,) = strip.boxes("cross-transfer east-cross")
    assert boxes["east-cross"].middle == pytest.approx(platform.middle, abs=0.1)


def test_gains_go_up_losses_down_and_what_is_not_sure_is_hollow() -> None:
    drawing = helped()
    boxes, (zero,) = gain_boxes(drawing), drawing.levels(INK, "1")
    scale = boxes["load"].high / 60.0
    assert "60.0" in boxes["load"].said
    assert "a second load" in boxes["load"].said
    for name, mean in (("load", 60.0), ("east-cross", 20.0), ("press", 5.0), ("unload", -30.0)):
        edge = boxes[name].top if mean > 0.0 else boxes[name].top + boxes[name].high
        assert zero - edge == pytest.approx(scale * mean)
    assert {name: box.fill for name, box in boxes.items()} == {
        "load": GREY,
        "east-cross": GREY,
        "unload": GREY,
        "press": PAPER,
    }


def test_whiskers_are_the_intervals() -> None:
    drawing = helped()
    boxes, (zero,) = gain_boxes(drawing), drawing.levels(INK, "1")
    scale = boxes["load"].high / 60.0
    ends = set()
    for node in drawing.root.iter(f"{SVG}line"):
        if node.get("stroke-width") == "1.4" and float(node.get("x2", "1")) == 0.0:
            start = shifted(node)[1]
            ends.add((round((zero - start) / scale, 3), round((zero - start - float(node.get("y2", "0"))) / scale, 3)))
    assert ends == {(70.0, 50.0), (25.0, 15.0), (30.0, -20.0), (-24.0, -36.0)}


def test_the_greatest_gains_and_the_whole_line_stand_in_words() -> None:
    drawing = helped()
    words = drawing.words()
    first = "+80.0 /h: both handshakes halved; +60.0 /h: a second load; +40.0 /h: work at load shorter."
    assert f"The greatest gain is of the whole line, which has no bar. Most helps: {first}" in words
    assert "Of the whole line: −50.0 /h: one carrier fewer." in words
    assert "Does nothing: one carrier more." in words
    assert "Could not be tried: a change." in words
    assert {"1: +60.0 /h", "2: cannot be told", "3: +20.0 /h", "4: −30.0 /h"} <= set(drawing.texts())
    listed = "1: a second load; 2: repairs halved; 3: interlocks halved; 4: a waiting stop more"
    assert drawing.texts().count(listed) == 1


def test_a_change_of_transfers_together_has_a_bar_of_one_number_at_each() -> None:
    both = gain("both: interlocks halved", None, "gains", 90.0, 5.0, ("east-cross", "west-cross"))
    drawing = drawn(help_row, five(), gains_of(both, gain("a second load", "load", "gains", 30.0, 5.0)))
    boxes = drawing.boxes(r"[\w/-]+: both: interlocks halved: .*; together with .*")
    assert [box.said.split(":")[0] + box.said.rpartition(";")[2] for box in boxes] == [
        "east-cross together with west-cross",
        "west-cross together with east-cross",
    ]
    (alone,) = drawing.boxes("load: .*")
    assert [box.high for box in boxes] == pytest.approx([3.0 * alone.high] * 2)
    platforms = {one.name: one.platform_axis_m for one in five().layout.transfers}
    sheet = sheet_of(five(), None, Text())
    for box in boxes:
        assert box.middle == pytest.approx(sheet.to_px(platforms[box.said.split(":")[0]]), abs=0.1)
    assert drawing.texts().count("2: +90.0 /h") == 2
    assert "1: a second load; 2: both: interlocks halved" in drawing.texts()
    assert "of the whole line" not in drawing.words()


def test_a_change_that_stops_the_line_is_told_in_words_and_at_its_bar() -> None:
    rate_per_h = float(run_of(five()).rates_per_h.mean())
    drawing = drawn(
        help_row,
        five(),
        replace(
            gains_of(
                gain("one carrier more", None, "loses", -rate_per_h, 0.1),
                gain("crowded", "load", "loses", -rate_per_h, 0.1),
                gain("slower", "leak", "loses", -0.99 * rate_per_h, 0.1),
            ),
            base=Interval(rate_per_h, rate_per_h, rate_per_h, 0.95),
        ),
    )
    words = drawing.words()
    assert f"−{rate_per_h:.0f} /h: one carrier more, the line stops" in words
    assert f"1: −{rate_per_h:.0f} /h, the line stops" in drawing.texts()
    assert words.count("the line stops") == 2


@pytest.mark.parametrize(("mean", "half"), [(49.0, 0.5), (0.0, 49.0), (-49.0, 0.5)])
def test_beside_zero_a_level_is_named_at_twice_the_size(mean: float, half: float) -> None:
    texts = drawn(help_row, five(), gains_of(gain("a", "load", "gains", mean, half)), 2.0).texts()
    levels = [one for one in texts if re.fullmatch(r"[+−]\d+ /h", one)]
    assert levels
    assert "0 /h" in texts


def test_a_step_of_two_stations_is_helped_over_both_and_a_station_over_itself() -> None:
    shared = gain_boxes(drawn(help_row, demo(), gains_of(gain("shorter", "test-1/test-2", "gains", 9.0, 1.0))))
    sheet = sheet_of(demo(), None, Text())
    ends = [sheet.to_px(sheet.station_m(name)) for name in ("test-1", "test-2")]
    box = shared["test-1/test-2"]
    assert (box.left, box.left + box.wide) == pytest.approx(
        (ends[0] - sheet.bar_px / 2, ends[1] + sheet.bar_px / 2), abs=0.1
    )
    alone = gains_of(gain("repairs halved", "test-2", "gains", 9.0, 1.0), gain("a", "test-1/test-2", "gains", 2.0, 1.0))
    box = gain_boxes(drawn(help_row, demo(), alone))["test-1/test-2"]
    assert (box.middle, box.wide) == pytest.approx((ends[1], sheet.bar_px), abs=0.1)


def test_nothing_tried_and_nothing_that_helps_are_told() -> None:
    assert "not known, nothing was tried: linewright rate and draw try it" in drawn(help_row, five()).words()
    words = drawn(help_row, five(), gains_of(gain("one carrier more", None, "does nothing", 0.0, 0.1))).words()
    assert "Of nothing that was tried the interval lies wholly above zero. Does nothing: one carrier more." in words
