"""The chapters of the dossier: every finding in its own chapter, every figure the evaluation's, every place its own."""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, cast

import pypdf
import pytest

import linewright as lw
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.findings import Finding
from linewright.handover.document.blocks import (
    Block,
    Caution,
    Drawn,
    Facts,
    Grid,
    Heading,
    Part,
    Points,
    SignHere,
    Tag,
    Words,
)
from linewright.handover.document.html import html_of
from linewright.handover.document.pdf import pdf_of
from linewright.handover.dossier.chapter import findings_of, in_short
from linewright.handover.dossier.electrical import alike_feeders, bus_part, feeder_verdicts, power_part, what_to_ask
from linewright.handover.dossier.limits import accuracy_part, motion_part, strength_part
from linewright.handover.dossier.mentions import stations_named, transfers_named
from linewright.handover.dossier.places import passes_here, places_part, transfers_part
from linewright.handover.dossier.safety import safety_part
from linewright.handover.dossier.traffic import proof_part
from linewright.handover.dossier.upkeep import upkeep_part
from linewright.handover.papers.material import Material
from linewright.handover.papers.rows import document_of, told_to
from linewright.handover.wording import margin_in_words
from linewright.line.model import Line
from linewright.quantities import KEEP, number, quantity
from linewright.tables import Table
from unit.handover import stand_in_proof

EXAMPLES = Path(__file__).parents[3] / "examples"
CHAPTERS: dict[str, Callable[[Material], tuple[Part, ...]]] = {
    "motion": motion_part,
    "strength": strength_part,
    "accuracy": accuracy_part,
    "power": power_part,
    "bus": bus_part,
    "safety": safety_part,
    "upkeep": upkeep_part,
}


@cache
def five() -> Evaluation:
    return lw.evaluate(lw.load(EXAMPLES / "charts" / "five.yaml"), hours=1, runs=2)


@cache
def demo() -> Evaluation:
    return evaluate_without_run(lw.load(EXAMPLES / "demo" / "line.yaml"))


def material(evaluation: Evaluation, for_customer: bool = False, proof: Any = "not asked for") -> Material:
    parts = cast(Any, None)  # no chapter reads the list of parts
    return Material(evaluation, None, (), proof, "none", parts, "none", "none", for_customer=for_customer)


@cache
def chapter_of(subject: str, for_customer: bool = False) -> tuple[Part, ...]:
    return CHAPTERS[subject](material(five(), for_customer))


def told(blocks: tuple[Block, ...]) -> str:
    """All words of some blocks, plain spaces between them."""
    words: list[str] = []
    for block in blocks:
        match block:
            case Heading() | Words() | Caution():
                words.append(block.text)
            case Points(rows):
                words += rows
            case Facts(facts):
                words += [text for row in facts for text in row]
            case Grid(columns, cells):
                words += [column.heading for column in columns]
                words += [cell.verdict if isinstance(cell, Tag) else cell for row in cells for cell in row]
            case Drawn():
                words.append(block.told)
            case SignHere(people):
                words += people
    return " ".join(words).replace("\u00a0", " ")


def grids(parts: tuple[Part, ...]) -> list[Grid]:
    return [block for part in parts for block in part.blocks if isinstance(block, Grid)]


def column(parts: tuple[Part, ...], heading: str, beside: str) -> list[str]:
    """The cells under a heading, in the grid that has another heading too."""
    found = [one for one in grids(parts) if {heading, beside} <= {column.heading for column in one.columns}]
    assert len(found) == 1, heading
    at = [one.heading for one in found[0].columns].index(heading)
    return [str(row[at]).replace("\u00a0", " ") for row in found[0].rows]


def shown(value: float, unit: str) -> str:
    return quantity(value, unit, "inch").replace("\u00a0", " ")


def page_of(station: str, of: Material) -> str:
    return next(told(one.blocks) for one in places_part(of) if one.blocks[0] == Heading(f"Station {station}"))


def finding(where: str, subject: str = "strength", code: str = "some-code") -> Finding:
    return Finding(code, subject, "holds", where, None, 1.0, 2.0, "N", 0.5, "source", "")


# ---- findings --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("subject", CHAPTERS)
@pytest.mark.parametrize("for_customer", [False, True])
def test_every_finding_of_the_subject_stands_in_its_chapter_once(subject: str, for_customer: bool) -> None:
    of = material(five(), for_customer)
    mine = findings_of(of, subject)
    assert Counter(mine) == Counter(one for one in five().findings if one.subject == subject)
    # The list of feeders has a verdict in front, too, and is no list of findings.
    listed = [one for one in grids(chapter_of(subject, for_customer)) if one.columns[1].heading != "feeder"]
    rows = [row for one in listed for row in one.rows if isinstance(row[0], Tag)]
    expected = [(one.verdict, f"{one.code}: {one.where}") for one in told_to(alike_feeders(mine), of)]
    found = []
    for tag, what, *_ in rows:
        head = max((words for _, words in expected if str(what).startswith(words)), key=len, default="")
        found.append((cast(Tag, tag).verdict, head))
    assert Counter(found) == Counter(expected)


@pytest.mark.parametrize("subject", CHAPTERS)
def test_what_does_not_hold_is_told_with_figures_to_the_customer_too_and_what_is_no_more_than_tight_without_remedy(
    subject: str,
) -> None:
    words = told(tuple(block for part in chapter_of(subject, True) for block in part.blocks))
    for one in five().findings:
        if one.subject == subject and one.verdict != "holds":
            assert one.verdict == "tight" or one.remedy.replace("`", "").replace("\u00a0", " ") in words
            if one.value is not None:
                assert quantity(one.value, one.unit, "inch", one.limit).replace("\u00a0", " ") in words


def test_feeders_whose_rows_are_alike_share_one_and_the_others_do_not() -> None:
    rows = (finding("feeder front: lost"), finding("feeder back: lost"), finding("feeder back: gone"), finding("all"))
    rows = (*rows, replace(rows[0], where="feeder far: lost", value=1.5))
    words = [one.where for one in alike_feeders(rows)]
    assert words == ["feeders front, back: lost", "feeder back: gone", "all", "feeder far: lost"]


def test_names_of_stations_count_as_a_whole_and_behind_their_noun_alone() -> None:
    line = five().line
    assert stations_named(finding("station press, down; the worst of 3 stations"), line) == {"press"}
    assert stations_named(finding("station leak to station scrap"), line) == {"leak", "scrap"}
    assert stations_named(finding("not stated: force at stations load, press"), line) == {"load", "press"}
    assert stations_named(finding("step load, work alone"), line) == {"load"}
    for where in (
        "motor zone load",
        "station press-2, down",
        "feeder load: all",
        "station press.b",
        "substation press",
    ):
        assert stations_named(finding(where), line) == frozenset(), where
    assert transfers_named(finding("dock of east-cross by station press"), line) == {"east-cross"}
    assert transfers_named(finding("east-cross, west-cross: a platform falls"), line) == {"east-cross", "west-cross"}
    for where in ("station east-cross", "lane west-cross", "east-cross-2"):
        assert transfers_named(finding(where), line) == frozenset(), where


def test_a_step_of_several_stations_is_on_the_page_of_each() -> None:
    line = demo().line
    assert stations_named(finding("step test-1/test-2, work alone"), line) == {"test-1", "test-2"}


def test_every_finding_of_a_place_is_on_its_page() -> None:
    pages = {part.blocks[0]: told(part.blocks) for part in places_part(material(five()))}
    for station in five().line.stations:
        mine = [one for one in five().findings if station.name in stations_named(one, five().line)]
        assert mine or station.name not in ("load", "press")
        page = pages[Heading(f"Station {station.name}")]
        for one in mine:
            assert f"{one.verdict} {one.code}: " in page
            if one.value is not None:
                assert quantity(one.value, one.unit, "inch", one.limit).replace("\u00a0", " ") in page
            assert one.verdict == "holds" or one.remedy in page


def test_what_is_cut_off_is_marked() -> None:
    assert in_short("short enough") == "short enough"
    long = "the first clause is told in so many words, the second is left out since it is far too long for a line"
    assert in_short(long) == "the first clause is told in so many words ..."


# ---- figures ---------------------------------------------------------------------------------------------------------


def test_figures_of_feeders_are_those_of_the_evaluation() -> None:
    limits, parts = five().limits, chapter_of("power")
    assert limits is not None
    for heading, key, unit in (("all start", "restart_A", "A"), ("all brake, to", "braking_V", "V")):
        assert column(parts, heading, "no resistor") == [shown(one, unit) for one in limits.power.feeders[key]]
    drops = limits.power.schedule["drop_V"].tolist()
    runs = [int(one) for one in column(parts, "runs", "voltage lost")]
    assert sum(runs) == len(drops)
    ends = [sum(runs[: i + 1]) for i in range(len(runs))]
    sums = [sum(drops[end - count : end]) for end, count in zip(ends, runs, strict=True)]
    assert column(parts, "voltage lost", "runs") == [shown(one, "V") for one in sums]
    words = told(parts[0].blocks)
    for row in limits.power.sections.rows():
        assert f"{row['number']}: {shown(row['voltage_V'], 'V')}" in words


def test_a_feeder_that_fails_is_marked_in_the_list_of_feeders_with_what_fails() -> None:
    for for_customer in (False, True):
        parts = chapter_of("power", for_customer)
        (listed,) = [one for one in grids(parts) if "enters" in [column.heading for column in one.columns]]
        assert [(cast(Tag, row[0]).verdict, row[1], row[-1]) for row in listed.rows] == [
            ("fails", "front", "FAILS: braking-voltage, fuse-cable"),
            ("fails", "back", "FAILS: braking-voltage, fuse-cable"),
        ]
        words = told(parts[0].blocks)
        assert "Feeders, as the line file states them" in words
        assert "This is no approval" in words


def test_a_feeder_answers_for_its_own_rows_alone() -> None:
    rows = (
        replace(finding("feeder up: lost", code="far"), verdict="fails"),
        replace(finding("feeders up.b, down: rating is not stated", code="rating"), verdict="not checked"),
        replace(finding("feeder down, the highest of all", code="high"), verdict="tight"),
        finding("feeder up: well"),
        replace(finding("cabinet", code="warm"), verdict="fails"),
    )
    assert feeder_verdicts(rows, "up") == {"fails": ("far",)}
    assert feeder_verdicts(rows, "down") == {"not checked": ("rating",), "tight": ("high",)}
    assert list(feeder_verdicts(rows, "down")) == ["not checked", "tight"]
    assert feeder_verdicts(rows, "up.b") == {"not checked": ("rating",)}
    assert feeder_verdicts(rows, "b") == {}


def test_the_electrician_is_told_what_no_key_states() -> None:
    line = five().line
    words = " ".join(what_to_ask(line))
    for told_so in ("Logic supply", "SELV or PELV", "Terminals", "short-circuit", "the transfers and the controller"):
        assert told_so in words
    assert "what switches off a motor zone" in words
    assert "Braking resistors" not in words
    assert "Braking resistors" in " ".join(what_to_ask(demo().line))
    bare = " ".join(what_to_ask(demo().line.model_copy(update={"motor_zones": (), "transfers": (), "feeders": ()})))
    assert not re.search("motor zone|transfers|resistor", bare)
    assert "come with the controller program" in told(chapter_of("bus")[0].blocks)


def test_the_life_of_the_guides_is_told_alike_in_words_and_rows() -> None:
    life = five().limits.strength.life  # type: ignore[union-attr]
    assert life is not None
    words = told(chapter_of("strength")[0].blocks)
    assert f"{shown(life.travel_m, 'm')} that nine of ten" in words


def test_figures_of_strength_are_those_of_the_evaluation() -> None:
    limits, parts = five().limits, chapter_of("strength")
    assert limits is not None
    table = limits.strength.stations
    assert column(parts, "station", "worst block")[: len(table)] == table["station"].tolist()
    assert column(parts, "size", "allowed by") == [shown(one, "N") for one in table["force_N"]]
    assert column(parts, "allowed", "allowed by") == [shown(one, "N") for one in table["allowed_N"]]
    assert column(parts, "carries", "the least block") == [
        shown(one, "N") for one in limits.strength.moving["block_load_N"]
    ]


def test_figures_of_accuracy_stops_and_wear_are_those_of_the_evaluation() -> None:
    limits = five().limits
    assert limits is not None
    summary = limits.accuracy.summary
    assert column(chapter_of("accuracy"), "Cpk", "Cp") == [number(one) for one in summary["cpk"]]
    assert column(chapter_of("accuracy"), "tolerance", "Cp") == [
        f"±{shown(one, 'm')}" for one in summary["tolerance_m"]
    ]
    stops = limits.safety.stops
    assert column(chapter_of("safety"), "stands after", "goes on for") == [shown(one, "s") for one in stops["time_s"]]
    assert column(chapter_of("safety"), "goes on for", "from") == [shown(one, "m") for one in stops["distance_m"]]
    weeks = limits.upkeep.calendar["interval_weeks"].tolist()
    told_every = column(chapter_of("upkeep"), "every", "a year, of one")
    assert len(told_every) == len(weeks) > 2
    for one, every in zip(weeks, told_every, strict=True):
        assert every == f"{math.floor(one)} weeks" or (every == "60 months" and one == pytest.approx(260.9, abs=0.1))


def test_moves_are_told_with_the_limits_that_they_keep() -> None:
    limits, parts = five().limits, chapter_of("motion")
    assert limits is not None
    legs = limits.motion.legs.rows()
    longest = max(row["distance_m"] for row in legs if row["loaded"])
    at = column(parts, "carrier", "governs").index("with a part: longest")
    assert column(parts, "distance", "governs")[at] == shown(longest, "m")
    i = next(i for i, row in enumerate(legs) if row["loaded"] and row["distance_m"] == longest)
    asked = limits.motion.limits[i].limits
    assert column(parts, "speed at most (by)", "governs")[at].startswith(shown(asked.speed_m_s, "m/s"))
    assert column(parts, "acceleration at most (by)", "governs")[at].startswith(shown(asked.acceleration_m_s2, "m/s²"))


def test_the_process_image_adds_up() -> None:
    limits = five().limits
    assert limits is not None
    cells = column(chapter_of("bus"), "bytes", "bytes each")
    assert sum(int(one) for one in cells[:-1]) == int(cells[-1]) == limits.bus.image_bytes


# ---- places ----------------------------------------------------------------------------------------------------------


def test_a_page_a_station_in_the_order_of_the_file_and_the_transfers_together() -> None:
    heads = [part.blocks[0] for part in places_part(material(five()))]
    assert heads == [Heading(f"Station {one.name}") for one in five().line.stations]
    (transfers,) = transfers_part(material(five()))
    names = [one.text for one in transfers.blocks if isinstance(one, Heading) and one.level == 2]
    assert [name for name in names if "transfer" in name] == ["Cross transfer east-cross", "Cross transfer west-cross"]


def test_each_page_tells_its_own_station() -> None:
    """The figures of every station stand on its page, and on no other page stand all of another's."""
    of, line, run = material(five()), five().line, five().run
    assert run is not None
    own: dict[str, tuple[str, ...]] = {}
    for station in line.stations:
        stop = five().layout.stop_of(station.name)
        steps = {row["step"]: row["time_per_good_part_s"] for row in run.steps.rows()}
        parts = next(row["parts"] for row in run.stations.rows() if row["station"] == station.name)
        causes = passes_here(run.cycle_causes_by_station, station.name)
        figures = [f"{shown(stop.floor_m, 'm')} from the west end", f"{number(steps[station.name], 3)} s, waiting"]
        figures += [f"{number(parts)} work", causes]
        own[station.name] = tuple(one.replace("\u00a0", " ") for one in figures)
    for station in line.stations:
        page = page_of(station.name, of)
        for name, figures in own.items():
            assert all(one in page for one in figures) == (name == station.name)


@pytest.mark.long
@pytest.mark.parametrize("line", ["charts/five", "charts/fourteen", "charts/forty", "demo/line"])
@pytest.mark.parametrize("for_customer", [False, True])
def test_every_place_fits_its_page(line: str, for_customer: bool) -> None:
    of = material(lw.evaluate(lw.load(EXAMPLES / f"{line}.yaml"), hours=1, runs=3), for_customer)
    parts = places_part(of)
    written = pypdf.PdfReader(io.BytesIO(pdf_of(document_of("Dossier", of, parts))))
    assert len(written.pages) == len(parts)
    for part, page in zip(parts, written.pages, strict=True):
        head = part.blocks[0]
        assert isinstance(head, Heading)
        assert head.text in page.extract_text()


def test_stations_with_their_names_exchanged_have_each_others_figures() -> None:
    """The page follows the name: with the rows of two stations exchanged, so are the pages' figures."""
    run = five().run
    assert run is not None
    steps = {row["step"]: f"{number(row['time_per_good_part_s'], 3)} s" for row in run.steps.rows()}
    parts = {row["station"]: f"{number(row['parts']).replace(KEEP, ' ')} works" for row in run.stations.rows()}
    steps_of = replace(run, steps=_swapped(run.steps, "stations"), stations=_swapped(run.stations, "station"))
    page = page_of("press", material(replace(five(), run=steps_of)))
    assert f"{steps['leak']} of step leak" in page
    assert steps["press"] not in page
    assert parts["leak"] in page
    assert parts["press"] not in page


def _swapped(table: Table, key: str) -> Table:
    """The table with the names press and leak exchanged in one column."""
    other = {"press": "leak", "leak": "press"}
    columns = []
    for one in table.columns:
        values = one.values.copy()
        if one.name == key:
            values = values.astype("<U20")
            values[:] = [other.get(name, name) for name in values.tolist()]
        columns.append(replace(one, values=values))
    return Table(tuple(columns))


def test_failures_are_counted_once_and_the_year_says_from_which_run() -> None:
    run = five().run
    assert run is not None
    columns = [replace(one, values=one.values * 0 + 77) if one.name == "seen" else one for one in run.failures.columns]
    counted = replace(run, failures=Table(tuple(columns)))
    page = page_of("press", material(replace(five(), run=counted)))
    assert "; 77 seen in 2 whole runs, warm-up included" in page
    assert not re.search(r"parts flagged, \d+ failure", page)
    assert "h in work (counted in run 1 of 2, scaled to a year)" in page
    words = told(chapter_of("upkeep")[0].blocks)
    assert "a year counted in run 1 of 2, scaled to a year" in words
    assert "press time in work" in words
    for one in transfers_part(material(five())):
        assert told(one.blocks).count("carriers taken (counted in run 1 of 2, scaled to a year)") == 2


def test_a_part_behind_the_last_reject_exit_is_taken_out_by_hand() -> None:
    found = {str(one.blocks[0]): told(one.blocks) for one in places_part(material(demo()))}
    by_hand = {name for name, page in found.items() if "no reject exit follows, so it is taken out by hand" in page}
    assert by_hand == {str(Heading(f"Station {name}")) for name in ("grease", "label", "unload")}
    at_exit = {name for name, page in found.items() if "rejected: it leaves at the next reject exit" in page}
    assert at_exit | by_hand == set(found)


def test_a_transfer_is_told_with_both_its_lanes_and_its_platform() -> None:
    (part,) = transfers_part(material(demo()))
    words = told(part.blocks)
    for told_so in (
        "takes from lane upper: dock 3 638 mm from the west end of the floor",
        "gives to lane lower: begins 3 680 mm from the west end of the floor",
        "platform's centre 3 742 mm from the west end of the floor",
        "takes from lane lower: dock 42 mm from the west end of the floor",
        "gives to lane upper: begins 0 mm from the west end of the floor",
        "platform's centre 62 mm west of the floor's west end",
    ):
        assert words.count(told_so) == 1, told_so


def test_neighbours_stand_with_distance_and_gap() -> None:
    layout = five().layout
    press, load = layout.stop_of("press"), layout.stop_of("load")
    before = next(one for one in reversed(layout.stops[: press.index]) if one.lane == press.lane)
    gap_m = press.travel_m - before.travel_m
    page = page_of("press", material(five()))
    assert f"{before.label}, {shown(gap_m, 'm')}, clear gap {shown(gap_m - layout.body_m, 'm')}" in page
    assert f"station before load, {shown(press.travel_m - load.travel_m, 'm')}" in page
    assert "station before none on this lane" in page_of("load", material(five()))


def test_a_ring_has_a_neighbour_across_its_start() -> None:
    ring = evaluate_without_run(lw.load(EXAMPLES / "ways" / "ring.yaml"))
    assert "none on this lane" not in told(tuple(b for p in places_part(material(ring)) for b in p.blocks))


def test_an_operator_station_bears_a_caution_and_the_others_none() -> None:
    for part in places_part(material(five())):
        warned = any(isinstance(block, Caution) for block in part.blocks)
        assert warned == (part.blocks[0] == Heading("Station load"))


# ---- the customer's edition ------------------------------------------------------------------------------------------


def test_the_customer_gets_no_margin_and_no_inner_figure() -> None:
    of = material(five(), for_customer=True)
    parts = [*places_part(of), *(part for subject in CHAPTERS for part in chapter_of(subject, True))]
    words = told(tuple(block for part in parts for block in part.blocks))
    assert not re.search(r"\bmargin\b", words)
    for hidden in (
        "time per good part",
        "passes here",
        "static safety",
        "governs",
        "least for voltage",
        "coil groups",
        "Cpk with",
    ):
        inner = [one for one in five().findings if one.verdict != "holds" and hidden in one.where]
        assert hidden not in words or inner, hidden
    for one in five().findings:
        inner_row = one.subject in ("motion", "strength", "accuracy", "power") and one.margin is not None
        if one.verdict == "holds" and inner_row and one.margin is not None and abs(one.margin) < 0.999:
            assert margin_in_words(one.margin).replace("\u00a0", " ") not in words
    assert not any(isinstance(block, Drawn) for part in parts for block in part.blocks)


def test_the_customer_may_wire_the_line_and_sees_how_carriers_stop() -> None:
    limits = five().limits
    assert limits is not None
    words = told(chapter_of("power", True)[0].blocks)
    assert "fuse gG 50 A" in words
    assert "10 mm²" in words
    builder, customer = chapter_of("power"), chapter_of("power", True)
    for heading, beside in (
        ("all start", "no resistor"),
        ("worst 10 ms", "no resistor"),
        ("far end", "no resistor"),
        ("most current", "runs"),
        ("voltage lost", "runs"),
        ("loss", "runs"),
    ):
        assert column(customer, heading, beside) == column(builder, heading, beside) != []
    for row in limits.power.sections.rows():
        assert f"{row['number']}: {shown(row['voltage_V'], 'V')}" in words
    assert re.search(
        r"motor supply feeder front, section \d in travel; [\d.]+ V there", page_of("load", material(five(), True))
    )
    times = [shown(one, "s") for one in limits.safety.stops["time_s"]]
    assert column(chapter_of("safety", True), "stands after", "from") == times


# ---- lines of which little is known ----------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["ways/to-and-fro", "locks/spur", "ways/outside"])
def test_all_chapters_are_written_without_a_run(way: str) -> None:
    evaluation = evaluate_without_run(lw.load(EXAMPLES / f"{way}.yaml"))
    of = material(evaluation)
    parts = [*places_part(of), *(part for write in CHAPTERS.values() for part in write(of)), *proof_part(of)]
    assert "no run was simulated" in told(parts[0].blocks)
    assert "<html" in html_of(document_of("Dossier", of, parts))


def test_all_chapters_are_written_where_no_carrier_can_be_moved() -> None:
    still = replace(five(), limits=None, run=None, plan=None, bounds=None, duty=None)
    of = material(still)
    for write in CHAPTERS.values():
        assert "no carrier can be accelerated" in told(write(of)[0].blocks)
    assert "none is known" in page_of("press", of)


def test_the_proof_is_told_with_its_counts_findings_and_cure() -> None:
    safe, locked = stand_in_proof.proof(), stand_in_proof.proof(stand_in_proof.can_lock())
    words = told(proof_part(material(five(), proof=safe))[0].blocks)
    for told_so in ("YES, AS FAR AS ITS TRAFFIC GOES", "226 246 moves", "200 of 200 stops"):
        assert told_so in words
    assert "a margin of 0 % is as planned and no lack" in words
    assert "no lack" not in told(proof_part(material(five(), True, proof=safe))[0].blocks)
    for one in safe.findings:
        assert words.count(f"{one.verdict} {one.code}: {one.where} ") == 1
    words = told(proof_part(material(five(), proof=locked))[0].blocks)
    assert "NO: DO NOT RUN THIS LINE AS IT IS" in words
    assert "{lanes: [spur-out, spur-back], transfers: [far-lift], most: 4}" in words
    again = stand_in_proof.proof(no_recovery="carriers are changed")
    assert "NOT TRIED: carriers are changed" in told(proof_part(material(five(), proof=again))[0].blocks)
    faulty = stand_in_proof.proof(report=stand_in_proof.faulty_report())
    assert "FAULTS FOUND: gap 7" in told(proof_part(material(five(), proof=faulty))[0].blocks)


def test_without_a_proof_the_reason_stands_there() -> None:
    words = told(proof_part(material(five(), proof="no traffic can be planned"))[0].blocks)
    assert "NOT CHECKED: no traffic can be planned." in words


def test_missing_figures_name_their_keys() -> None:
    line = five().line
    bare = line.model_copy(update={"feeders": (), "motor_zones": (), "stations": _bare(line)})
    of = material(evaluate_without_run(bare))
    words = told(power_part(of)[0].blocks) + page_of("press", of) + told(bus_part(of)[0].blocks)
    for key in ("the key feeders", "key cabinet", "key force", "key controls"):
        assert key in words, key


def _bare(line: Line) -> tuple[Any, ...]:
    return tuple(one.model_copy(update={"force": None, "motor_zone": None, "guard": None}) for one in line.stations)
