"""The recovery sheet as it is printed: every part accounted for, every carrier in its order, nothing that misleads."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import TypeVar, cast

import pytest

from linewright.evaluation import evaluate_without_run
from linewright.flow.recovery import StopOutcome
from linewright.flow.stop_sheet import NotStopped, StopSheet, stop_sheet
from linewright.flow.stopping import Stopped
from linewright.handover.document.blocks import Block, Document, Grid, Heading, Points, Tag, Words, opened
from linewright.handover.papers.material import NOT_ASKED, Material, NothingToWrite
from linewright.handover.papers.recovery import _parts_told, files_of, recovery_document
from linewright.line.load import load_line, read_line
from linewright.planning.money.parts_list import PartsList
from linewright.proof import Proof
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
    parts = cast(PartsList, None)
    no = NOT_ASKED
    return Material(evaluate_without_run(line), None, (), no, stop_sheet(line), parts, no, no)


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


def table_of(paper: Document) -> Grid:
    return of_kind(paper.parts[1].blocks, Grid)[0]


def entries_of(paper: Document) -> list[str]:
    return [one.text for one in of_kind(paper.parts[1].blocks, Heading) if one.text.startswith("Stop in the middle")]


def strong_of(paper: Document) -> list[str]:
    return [one.text.replace(KEEP, " ") for one in of_kind(paper.parts[0].blocks, Words) if one.strong]


def outcome(recovery_s: float, good_after_s: float | None) -> StopOutcome:
    return cast(
        StopOutcome,
        SimpleNamespace(recovery_s=recovery_s, good_after_s=good_after_s, holds=good_after_s is not None),
    )


def proven(outcomes: tuple[StopOutcome, ...], failed: int = 0, name: str = "charts/five") -> Document:
    """The sheet with a proof at hand whose stops these are."""
    good = [one.good_after_s for one in outcomes if one.good_after_s is not None]
    recovery = SimpleNamespace(
        stops=200, failed=failed, seed=4, outcomes=outcomes, mean_recovery_s=16.1, worst_good_after_s=max(good),
        worst_recovery_s=max(one.recovery_s for one in outcomes),
    )  # fmt: skip
    proof = cast(Proof, SimpleNamespace(recovery=recovery, no_recovery=""))
    return recovery_document(replace(material(name), proving=proof), sheet(name))


def test_the_worst_stop_of_the_proof_is_planned_with_where_it_is_longer() -> None:
    # The slowest recovery has the first good part soon: the two worst do not belong to one stop.
    paper = proven((outcome(43.48, 1.25), outcome(30.0, 16.71)))
    assert (
        "Over 200 random stops of the proof (seed 4) the recovery takes 16.1 s on average, at most 43.5 s; the first "
        "good part at most 46.7 s from the start of the recovery, and at most 16.7 s after the line goes on."
    ) in words_of(paper)
    both = "both from the start of the recovery."
    assert strong_of(paper)[-1] == f"Plan with 43.5 s for the recovery and 46.7 s until the first good part, {both}"
    rows, goods = [one.recovery_s for one in sheet().places], [one.first_good_s or 0.0 for one in sheet().places]
    shorter = strong_of(proven((outcome(1.0, 2.0),)))[-1]
    assert (
        shorter
        == f"Plan with {max(rows):.1f} s for the recovery and {max(goods):.1f} s until the first good part, {both}"
    )
    assert "longest row" not in words_of(paper)


def test_a_stop_of_the_proof_after_which_nothing_came_is_told_before_the_steps() -> None:
    strong = strong_of(proven((outcome(5.0, None), outcome(4.0, 3.0)), failed=1))
    at = next(i for i, text in enumerate(strong) if text.startswith("After 1 of 200 random stops of the proof no good"))
    assert at < next(i for i, text in enumerate(strong) if text.startswith("1. "))


def test_without_a_proof_the_command_is_named_and_why_there_is_none() -> None:
    longest = max(one.recovery_s for one in sheet().places)
    words = words_of(document())
    assert (
        f"was not run with this sheet: the worst stop may take longer than the longest row, {longest:.1f} s." in words
    )
    assert "linewright prove LINE --seed 1. Plan with the longest of both." in words
    untried = cast(Proof, SimpleNamespace(recovery=None, no_recovery="two lanes cross"))
    for proof in (untried, "two lanes cross"):
        paper = recovery_document(replace(material(), proving=proof), sheet())
        assert "The proof tells no worst stop (two lanes cross): the worst stop may" in words_of(paper)


def test_a_row_can_be_had_again_by_restart() -> None:
    one = sheet().places[0]
    assert f'linewright restart LINE --at "{one.at_s:.3f} s" --seed 1 (LINE is the line file)' in words_of(document())
    slow = words_of(document(instead=replace(sheet(), speed_m_s=0.05)))
    assert f'--at "{one.at_s:.3f} s" --speed "0.05 m/s" --seed 1 (' in slow
    late = replace(one, at_s=12345.6)
    assert table_of(document(instead=replace(sheet(), places=(late,)))).rows[0][1] == "12345.600"


def test_from_two_minutes_on_times_are_told_in_minutes() -> None:
    one = sheet().places[0]
    for first_s, told in ((120.0, "120.0 s"), (150.0, "2.5 min")):
        paper = document(instead=replace(sheet(), places=(replace(one, first_good_s=first_s),)))
        assert str(table_of(paper).rows[0][6]).replace(KEEP, " ") == told
        assert f"the first good part comes after {told}." in words_of(paper)


def test_rows_of_safety_that_do_not_hold_stand_before_the_steps() -> None:
    rows = [one for one in material().evaluation.findings if one.subject == "safety"]
    bad = [one for one in rows if one.verdict in ("fails", "not checked")]
    first = document().parts[0].blocks
    told = of_kind(first, Grid)[0]
    assert {(cast(Tag, row[0]).verdict, row[1]) for row in told.rows} == {(one.verdict, one.code) for one in bad}
    assert [cast(Tag, row[0]).verdict for row in told.rows] == ["fails"] * 4 + ["not checked"]
    assert told.rows[0][1:3] == ("safety-distance", "station load, light-curtain")
    assert str(told.rows[0][3]).replace(KEEP, " ") == "394.3 in, at most 62 in"
    strong = strong_of(document())
    assert strong[1] == (
        "As planned these rows of safety fail or are not checked: do not send anybody there before they are mended or "
        "checked."
    )
    only = tuple(one for one in material().evaluation.findings if one.verdict != "not checked")
    paper = recovery_document(replace(material(), evaluation=replace(material().evaluation, findings=only)), sheet())
    assert strong_of(paper)[1].endswith("safety fail: do not send anybody there before they are mended.")
    safe = replace(material().evaluation, findings=tuple(one for one in rows if one not in bad))
    paper = recovery_document(replace(material(), evaluation=safe), sheet())
    assert "As planned" not in words_of(paper)


def test_what_no_key_says_is_filled_in_by_hand() -> None:
    form = of_kind(document().parts[0].blocks, Grid)[-1]
    assert form.row_mm == 9.0
    asked = [cell for row in form.rows for cell in (row[0], row[2])]
    assert [asked[i] for i in (0, 1, 2, 4)] == ["cabinet", "whom to call", "isolator", "reset place"]
    assert "a stuck press or tool: builder's instruction" in asked
    assert all(row[1] == row[3] == "" for row in form.rows)


def test_the_table_has_a_row_a_place_with_the_figures_of_the_record() -> None:
    table = table_of(document())
    assert len(table.rows) == len(sheet().places) == 7
    for row, one in zip(table.rows, sheet().places, strict=True):
        assert one.place in str(row[0])
        assert one.first_good_s is not None
        assert float(str(row[1])) == one.at_s
        assert row[3:] == (
            number(one.recovery_s, 1),
            str(one.rejected),
            str(one.by_hand),
            f"{number(one.first_good_s, 1)}{KEEP}s",
        )
    fates = {str(row[0]): row[2] for row in table.rows}
    assert fates["work at press"] == "reject exit"
    assert fates["work at unload"] == "by hand"
    assert fates["a ride of east-cross, loaded"] == "kept"
    assert fates["a ride of west-cross, empty"] == "none aboard"


@pytest.mark.parametrize("name", ["charts/five", "repeats", "ways/to-and-fro"])
def test_every_part_and_every_carrier_is_accounted_for(name: str) -> None:
    for one in sheet(name).places:
        told = " ".join(_parts_told(one.carriers, frozenset({0, 3}))).replace(KEEP, " ")
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
        replace(common, carrier=7, where="aboard east-cross"),
    )
    assert [row.replace(KEEP, " ") for row in _parts_told(carriers, frozenset({7}))] == [
        "Take out by hand (work interrupted), 1 part: unload.",
        "Go to the reject exit (reach), 2 parts: load and press.",
        "Worked on again (work interrupted; stated), 1 part: test.",
        "Kept as they are, 1 part riding on a platform, 1 part still to go.",
        "Empty, 1 carrier standing at stops.",
    ]


def test_the_restart_order_has_every_carrier_that_is_moved_once_and_in_order() -> None:
    paper = document()
    grids = of_kind(paper.parts[1].blocks, Grid)[1:]
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


@pytest.mark.parametrize("name", ["charts/five", "repeats"])
def test_what_ends_the_recovery_is_told_and_no_carrier_waits_for_a_platform(name: str) -> None:
    paper = document(name)
    told = [text for text in words_of(paper).split("\n") if text.startswith("Recovery ")]
    assert told
    assert "first the platform" not in words_of(paper)
    assert "Platforms under way finish their rides. Carriers go on one at a time" in words_of(paper)
    assert "these times wait for no platform" in words_of(paper)
    slowest = {one.ride_s for one in sheet(name).places if one.ride_s > 1e-9}
    assert max(slowest) == pytest.approx(min(slowest))  # one ride, the slowest of any platform
    added = f" s, the last {number(max(slowest), 1)} s for the slowest ride of a platform; "
    aboard = [one for one in sheet(name).places if one.kind == "transfer"]
    assert all(one.ride_s > 0.0 for one in aboard)
    for one in sheet(name).places:
        last_s = max((other.recovery_end_s or 0.0 for other in one.carriers), default=0.0)
        assert one.recovery_s == pytest.approx(last_s + one.ride_s)
        assert (
            one.order == ()
            or one.order[0].recovery_begin_s == material(name).evaluation.line.conveyor.reaction.follow_s
        )
    assert any(added in text for text in told)
    still = replace(aboard[0], carriers=(), recovery_s=0.0)
    nothing = words_of(document(name, replace(sheet(name), places=(still,))))
    assert "Recovery 0.0 s, nothing added for a platform that no carrier stands on or goes to; the first" in nothing


def test_who_rides_on_a_platform_is_not_counted_as_standing() -> None:
    one = next(one for one in sheet().places if one.kind == "transfer" and one.there.parts)
    told = words_of(document(instead=replace(sheet(), places=(one,))))
    assert "riding on a platform" in told
    standing = sum(other.parts for other in one.carriers if other.fate == "kept" and not other.recovery_begin_s)
    riding = int(re.findall(r"(\d+) parts? riding on a platform", told)[0])
    at_stops = sum(int(many) for many in re.findall(r"(\d+) parts? standing at stops", told))
    assert riding >= 1
    assert at_stops + riding == standing
    locked = words_of(document(instead=replace(sheet(), places=(replace(one, riding=()),))))
    assert "riding on a platform" not in locked


def test_stops_that_leave_the_same_behind_share_an_entry() -> None:
    one, *others = sheet().places
    assert one.kind == "station"
    also = replace(one, place="other", at_s=one.at_s + 0.1)
    paper = document(instead=replace(sheet(), places=(one, also, *others)))
    headings = entries_of(paper)
    assert headings[0] == "Stop in the middle of work at load and other"
    assert len(headings) == len(entries_of(document()))
    apart = document(instead=replace(sheet(), places=(one, replace(also, first_good_s=99.0), *others)))
    assert len(entries_of(apart)) == len(headings) + 1


def test_page_one_says_who_starts_it_and_what_is_to_be_done() -> None:
    words = words_of(document())
    assert words.index("Power's return never starts motion") < words.index("1. Leave it stopped")
    assert [f"{i}. " in words for i in range(1, 9)] == [True] * 7 + [False]
    assert "one at a time, the farthest downstream first, at 3.937 in/s" in words
    assert "6. Nobody pushes: the control moves the carriers, once that person has acknowledged." in words
    assert "A press or tool stuck in a part is freed as the machine builder's instruction says" in words
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
    # Braking lifts this line's feeder above the trip; the other's is not reckoned, or stays below.
    above = "wait, and measure. The time is stated for no voltage; above the trip measure before you touch."
    assert above in words_of(document())
    assert "as the conveyor sheet states: wait, and measure." in words_of(document("repeats"))
    assert "for no voltage" not in words_of(document("repeats"))
    conveyor = line.conveyor.model_copy(update={"supply": supply.model_copy(update={"discharge_s": None})})
    unstated = replace(material().evaluation, line=line.model_copy(update={"conveyor": conveyor}))
    paper = recovery_document(replace(material(), evaluation=unstated), sheet())
    assert "not stated (key discharge under supply in the conveyor sheet): measure" in words_of(paper)


def test_a_stop_after_which_nothing_comes_is_told_first_and_loudly() -> None:
    one, *others = sheet().places
    dead = replace(one, first_good_s=None, looked_s=3600.0)
    paper = document(instead=replace(sheet(), places=(dead, *others)))
    strong = strong_of(paper)
    know = "do not start again by this sheet before it is known who waits for whom."
    dead_told = f"After the stop in the middle of work at load no good part came within 60.0 min: {know}"
    assert strong.index(dead_told) < next(i for i, text in enumerate(strong) if text.startswith("1. "))
    assert table_of(paper).rows[0][6] == f"none in 60.0{KEEP}min"
    told = "Recovery 6.3 s, the last 1.3 s for the slowest ride of a platform; no good part came within 60.0 min."
    assert told in words_of(paper)


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
