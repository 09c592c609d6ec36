"""The recovery sheet as it is printed: every part accounted for, every carrier in its order, nothing that misleads."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TypeVar, cast

import pytest

from linewright.evaluation import evaluate_without_run
from linewright.flow.stop_sheet import NotStopped, StopSheet, stop_sheet
from linewright.flow.stopping import Stopped
from linewright.handover.document.blocks import Block, Document, Grid, Heading, Points, Words, opened
from linewright.handover.papers.material import Material, NothingToWrite
from linewright.handover.papers.recovery import _parts_told, files_of, recovery_document
from linewright.line.load import load_line, read_line
from linewright.planning.parts_list import PartsList
from linewright.quantities import KEEP, number

EXAMPLES = Path(__file__).parents[3] / "examples"
# A line with lifts and a station whose work may be done again.
REPEATS = """\
linewright: 1
name: Two lanes, invented
conveyor: demo-light
lanes:
  upper: {length: 2208 mm, from: west, to: east}
  lower: {length: 2208 mm, from: east, to: west, level: -420 mm}
transfers:
  east-lift: {kind: lift, takes: upper, gives: lower}
  west-lift: {kind: lift, takes: lower, gives: upper}
carriers: 6
stations:
  load: {lane: upper, at: 700 mm, time: 1 s, work: manual}
  test: {lane: upper, at: 1400 mm, time: 2 s, rejects: 10 %, after_power_loss: repeat}
  scrap: {lane: lower, at: 1500 mm, time: 1 s, reject_exit: true}
  unload: {lane: lower, at: 700 mm, time: 1 s}
route: [load, test, scrap, unload]
"""
_Kind = TypeVar("_Kind", bound=Block)


@cache
def material(name: str = "charts/five") -> Material:
    own = {"repeats": REPEATS, "unmanned": REPEATS.replace(", work: manual", "")}
    line = read_line(own[name], name) if name in own else load_line(EXAMPLES / f"{name}.yaml")
    no = "not asked for"
    return Material(evaluate_without_run(line), None, (), no, stop_sheet(line), cast(PartsList, None), no, no)


def sheet(name: str = "charts/five") -> StopSheet:
    return cast(StopSheet, material(name).stops)


def document(name: str = "charts/five", instead: StopSheet | None = None) -> Document:
    return recovery_document(material(name), instead or sheet(name))


def of_kind(blocks: tuple[Block, ...], kind: type[_Kind]) -> list[_Kind]:
    return [one for one in opened(blocks) if isinstance(one, kind)]


def words_of(paper: Document) -> str:
    texts = [one.text for part in paper.parts for one in opened(part.blocks) if isinstance(one, Heading | Words)]
    texts += [row for part in paper.parts for one in of_kind(part.blocks, Points) for row in one.rows]
    return "\n".join(texts).replace(KEEP, " ")


def test_the_table_has_a_row_a_place_with_the_figures_of_the_record() -> None:
    (table,) = of_kind(document().parts[0].blocks, Grid)
    assert len(table.rows) == len(sheet().places) == 7
    for row, one in zip(table.rows, sheet().places, strict=True):
        assert one.place in str(row[0])
        assert one.first_good_s is not None
        assert row[2:] == (
            number(one.recovery_s, 1),
            str(one.rejected),
            str(one.by_hand),
            number(one.first_good_s, 1),
            number(one.first_good_s / 60, 1),
        )
    fates = {str(row[0]): row[1] for row in table.rows}
    assert fates["work at press"] == "reject exit"
    assert fates["work at unload"] == "by hand"
    assert fates["a ride of east-cross, loaded"] == "kept"
    assert fates["a ride of west-cross, empty"] == "none aboard"


@pytest.mark.parametrize("name", ["charts/five", "repeats", "ways/to-and-fro"])
def test_every_part_and_every_carrier_is_accounted_for(name: str) -> None:
    for one in sheet(name).places:
        told = " ".join(_parts_told(one.carriers)).replace(KEEP, " ")
        parts = sum(int(many) for many in re.findall(r"(\d+) parts?\b", told))
        empty = sum(int(many) for many in re.findall(r"(\d+) carriers?\b", told))
        assert parts == sum(other.parts for other in one.carriers)
        assert empty == sum(other.parts == 0 for other in one.carriers)


def test_parts_that_are_no_good_are_named_by_their_station_and_the_first_told() -> None:
    common = Stopped(0, 9, "", 0.0, 1, "kept", "", None, None)
    carriers = (
        replace(common, where="at station unload, in work", fate="taken out by hand", why="work interrupted"),
        replace(common, where="at station test, in work", fate="work done again", why="work interrupted; stated"),
        replace(common, where="at station press, in work", fate="rejected", why="reach"),
        replace(common, where="at station load, about to leave for waiting stop 3", fate="rejected", why="reach"),
        replace(common, where="at waiting stop 2", parts=0, fate="none aboard"),
        replace(common, where="on the way to waiting stop 1", recovery_begin_s=0.1, recovery_end_s=2.0),
    )
    assert [row.replace(KEEP, " ") for row in _parts_told(carriers)] == [
        "Take out by hand (work interrupted), 1 part: unload.",
        "Go to the reject exit (reach), 2 parts: load and press.",
        "Worked on again (work interrupted; stated), 1 part: test.",
        "Kept as they are, 1 part still to go.",
        "Empty, 1 carrier standing at stops.",
    ]


def test_the_restart_order_has_every_carrier_that_is_moved_once_and_in_order() -> None:
    paper = document()
    grids = of_kind(paper.parts[1].blocks, Grid)
    moved = [one for one in sheet().places if one.order]
    assert len(grids) >= 4
    orders = []
    for one in grids:
        halves = [row[:4] for row in one.rows] + [row[5:] for row in one.rows if row[5:] and row[5]]
        assert [row[0] for row in halves] == [str(i) for i in range(1, len(halves) + 1)]
        orders.append([row[3] for row in halves])
    for place in moved:
        assert [number(other.recovery_end_s or 0.0, 1) for other in place.order] in orders
    # Lengths as the line file wants them: this one in inches.
    assert all(str(row[2]).endswith(f"{KEEP}in") for one in grids for row in one.rows)


def test_stops_that_leave_the_same_behind_share_an_entry() -> None:
    one, *others = sheet().places
    assert one.kind == "station"
    also = replace(one, place="other", at_s=one.at_s + 0.1)
    paper = document(instead=replace(sheet(), places=(one, also, *others)))
    headings = [block.text for block in of_kind(paper.parts[1].blocks, Heading)]
    assert headings[1] == "Stop in the middle of work at load and other"
    assert len(headings) == len(of_kind(document().parts[1].blocks, Heading))
    apart = document(instead=replace(sheet(), places=(one, replace(also, first_good_s=99.0), *others)))
    assert len(of_kind(apart.parts[1].blocks, Heading)) == len(headings) + 1


def test_page_one_says_who_starts_it_and_what_is_to_be_done() -> None:
    words = words_of(document())
    assert words.index("Power's return never starts motion") < words.index("1. Leave it stopped")
    assert [f"{i}. " in words for i in range(1, 9)] == [True] * 7 + [False]
    assert "one at a time, the farthest downstream first, at 3.937 in/s" in words
    assert "leave at scrap: count them" in words
    assert "lift" not in words  # its transfers are none
    assert "under the platform of a lift" in words_of(document("repeats"))
    assert "from its start, at test, as the line file states" in words_of(document("repeats"))
    assert "A part at load that was not in work is unverified too: reject it." in words_of(document("repeats"))
    assert "was not in work" not in words_of(document("unmanned"))
    assert "leave at" not in words_of(document("ways/to-and-fro"))  # it has no reject exit


def test_how_long_feeders_hold_charge_is_stated_or_the_key_is_named() -> None:
    line = material().evaluation.line
    supply = line.conveyor.supply
    assert supply is not None
    assert supply.discharge_s is not None
    assert f"holds charge for {supply.discharge_s:g} s" in words_of(document())
    conveyor = line.conveyor.model_copy(update={"supply": supply.model_copy(update={"discharge_s": None})})
    unstated = replace(material().evaluation, line=line.model_copy(update={"conveyor": conveyor}))
    paper = recovery_document(replace(material(), evaluation=unstated), sheet())
    assert "not stated (key discharge under supply in the conveyor sheet): measure" in words_of(paper)


def test_a_stop_after_which_nothing_comes_is_told_first_and_loudly() -> None:
    one, *others = sheet().places
    dead = replace(one, first_good_s=None, looked_s=3600.0)
    paper = document(instead=replace(sheet(), places=(dead, *others)))
    strong = [block.text.replace(KEEP, " ") for block in of_kind(paper.parts[0].blocks, Words) if block.strong]
    assert strong[1].startswith("After the stop in the middle of work at load no good part came within 60.0 min")
    (table,) = of_kind(paper.parts[0].blocks, Grid)
    assert table.rows[0][5:] == ("none", "none in 60.0")
    assert "Recovery 6.3 s; no good part came within 60.0 min." in words_of(paper)


def test_places_that_were_idle_are_named() -> None:
    idle = (NotStopped("scrap", "station", "no work there"), NotStopped("spare", "station", "no work there"))
    assert "scrap and spare: not in the table; no work there." in words_of(
        document(instead=replace(sheet(), not_stopped=idle))
    )


def test_a_line_that_cannot_be_stopped_gets_no_sheet_but_the_reason() -> None:
    with pytest.raises(NothingToWrite, match="taken out or put in"):
        files_of(replace(material(), stops="carriers are taken out or put in"))
    nowhere = replace(sheet(), places=())
    with pytest.raises(NothingToWrite, match="no work and no ride could be interrupted in 15 min"):
        files_of(replace(material(), stops=nowhere))


def test_the_files_say_the_same_twice_and_to_everybody() -> None:
    twice = [{name: write() for name, write in files_of(material()).items() if callable(write)} for _ in range(2)]
    assert list(twice[0]) == ["recovery.pdf", "recovery.html"]
    assert twice[0] == twice[1]
    assert twice[0]["recovery.pdf"][:5] == b"%PDF-"
    page = twice[0]["recovery.html"].decode("utf-8") if isinstance(twice[0]["recovery.html"], bytes) else ""
    assert all(f">{name}" in page or f" {name}" in page for name in ("load", "press", "leak", "scrap", "unload"))
    assert "CAUTION" in page
    customer = {
        name: write() for name, write in files_of(replace(material(), for_customer=True)).items() if callable(write)
    }
    assert customer == twice[0]  # nothing in it is to be kept back
