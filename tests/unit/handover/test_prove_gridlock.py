"""What the page of the proof says of lock-up, on results that are written down by hand."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from linewright.handover.pages.prove_gridlock import cure_text, gridlock_lines
from linewright.handover.pages.prove_story import Names, columns, drawing_lines, jam_lines, places_at_the_jam, way_lines
from linewright.handover.wording import WIDTH, page
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.traffic.gridlock.result import Cure, GridlockResult, Standing, WayStep
from unit.handover.stand_in_proof import LOCKS, after_a_stop, can_lock, jam, locked, names, never, spur, undecided


def text_of(result: GridlockResult) -> str:
    return page(gridlock_lines(result, spur(), names()))


def words_of(result: GridlockResult) -> str:
    return " ".join(text_of(result).split())


@pytest.mark.parametrize("result", [never(), can_lock(), after_a_stop(), undecided()])
def test_the_page_fits_the_paper(result: GridlockResult) -> None:
    assert max(len(row) for row in text_of(result).splitlines()) <= WIDTH


def test_a_line_that_never_locks_says_what_that_rests_on_and_no_more() -> None:
    words = words_of(never())
    assert "from the planned start NEVER LOCKS. A jam needs a ring of at least 10 carriers; the line has 9." in words
    assert "safe from anywhere up to 9 carriers never lock, however they stand" in words
    assert "where nobody moved a carrier, see Stopped and started again." in words
    assert "THE JAM" not in words
    assert "CURES" not in words


def test_each_question_has_its_own_safe_number() -> None:
    assert "any number that has room never locks" in words_of(replace(never(), largest_count=None))
    assert "no number is: a single carrier can get stuck" in words_of(replace(never(), largest_count=0))
    words = words_of(can_lock())
    assert "safe as planned up to 11 carriers never lock; of more it was not proven" in words
    assert "safe from anywhere up to 9 carriers never lock, however they stand" in words
    assert "with at most 11 it never locks from the planned start; with at most 9 it never locks, however" in words
    one = words_of(replace(can_lock(), largest_count=1, largest_from_start=1))
    assert "carriers: with 1 carrier it never locks, wherever it stands." in one
    assert "there is no room for more" in words_of(replace(never(), room=9))


def test_undecided_is_said_to_be_no_proof() -> None:
    words = words_of(undecided())
    assert "UNDECIDED. The search ended at its bound of memory. 1 000 000 states were looked at." in words
    assert "UNDECIDED IS NO PROOF (from the planned start and from any placement)" in words
    assert "with a rule of admission that you write (none is looked for here)" in words
    assert "one is looked for only where a jam from the planned start was shown" in words
    assert "NO PROOF" not in words_of(can_lock())


def test_what_a_jam_rests_on_is_counted() -> None:
    words = words_of(can_lock())
    assert "The simulation was led into it: 1 finished work, 2 moves. There is no shorter way: none with" in words
    longer = replace(can_lock(), from_start=replace(locked(), shortest=False))
    assert words.count("no shorter way") == words_of(longer).count("no shorter way") + 1
    assert "until it jammed: 3 steps. Carriers are" in words


def test_the_loads_of_the_way_are_told() -> None:
    told = words_of(replace(can_lock(), from_start=replace(locked(), loads=("red", "red", "blue"))))
    assert "It takes these loads, in this order: 2 of red, then 1 of blue. It begins where they stand in the" in told
    assert "takes these loads" not in words_of(can_lock())


def test_the_other_jam_is_told_in_short() -> None:
    placed = replace(after_a_stop().from_any_placement)
    same = words_of(replace(can_lock(), from_any_placement=placed))
    assert "Put back with the same places taken as in this jam, it stands locked at once." in same
    assert placed.jam is not None
    ring = tuple(replace(one, stop=one.stop - 1) for one in placed.jam.ring)
    other = replace(placed, jam=replace(placed.jam, ring=ring))
    told = words_of(replace(can_lock(), from_any_placement=other))
    after = told[told.index("ANOTHER ONE, ONCE HANDS MOVED CARRIERS") :]
    assert "the line stands locked at once" in after
    assert "carrier 1 at waiting stop 42" in after
    assert "AT THE JAM" not in after
    long = replace(placed, jam=replace(placed.jam, ring=tuple(replace(ring[0], stop=stop) for stop in range(20, 38))))
    many = words_of(replace(can_lock(), from_any_placement=long))
    assert "18 carriers hold each other, each held by the next: at waiting stops 20, 21, 22," in many


def test_the_way_is_told_step_by_step_with_names() -> None:
    rows = page(way_lines(locked().way, names())).splitlines()
    assert len(rows) == 4
    cells = [re.split(r"\s{2,}", row.strip()) for row in rows[1:]]
    assert cells[0] == ["1", "1.6", "0", "work ends at station load", "a part of etched", "print"]
    assert cells[1] == ["2", "1.7", "0", "station load -> station print", "a part of etched", "print"]
    assert cells[2] == ["3", "3.7", "4", "waiting stop 2 -> waiting stop 5", "nothing", "load"]


def test_carriers_that_come_and_go_are_told() -> None:
    way = (WayStep("taken out", 0, 1, 6, 6, 0, "nothing"), WayStep("put in", 5_000_000, 5, 6, 6, 0, "nothing"))
    text = page(way_lines(way, names()))
    assert "is taken out at station load" in text
    assert "is put in at station load" in text
    at = places_at_the_jam(replace(locked(), way=way, jam=None))
    assert at == {0: 6, 2: 4, 3: 3, 4: 2, 5: 6}


def test_all_are_listed_at_the_beginning_or_those_that_matter() -> None:
    few = text_of(can_lock())
    assert re.search(r"^ +4  at waiting stop 2 +nothing +load$", few, re.MULTILINE)
    assert re.search(r"^ +0  at station load +nothing +load \(here, not yet done\)$", few, re.MULTILINE)
    more = tuple(Standing(carrier, 20 + carrier, 0, False, "nothing") for carrier in range(5, 14))
    answer = replace(locked(), start=locked().start + more)
    many = text_of(replace(can_lock(), from_start=answer))
    assert "The other 9 play no part in it." in many
    assert "at waiting stop 26" not in many


def test_the_ring_is_told_all_round_with_the_reason_of_each() -> None:
    words = " ".join(page(jam_lines(jam(), names())).split())
    first = (
        "carrier 2 aboard middle-lift (a part of etched, next etch) wants waiting stop 40, but carrier 1 stands in the "
        "way at dock of far-lift."
    )
    second = (
        "carrier 1 at dock of far-lift (a part of etched, next etch) wants aboard far-lift, but no more are admitted "
        "there: carrier 0 is one of those within."
    )
    third = (
        "carrier 0 at dock of middle-lift on spur-back (a part of etched, next unload) wants aboard middle-lift, but "
        "the platform is away with carrier 2 aboard."
    )
    assert words.index(first) < words.index(second) < words.index(third)
    assert "With carrier 2 the ring closes: none of these 3 can ever move again." in words
    behind = (
        "Held for ever too, by these: - carrier 3 at dock of middle-lift on out (a part of plain, next etch) wants "
        "aboard middle-lift, but the platform is away with carrier 2 aboard."
    )
    assert behind in words
    assert "Still able to move: carrier 4." in words
    assert "Stations that never work again: etch." in words


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (
            Standing(1, 6, 0, False, "nothing", 3, None, "run-out"),
            "waits to load a part of another variant, and may not while a part of plain is on the line: carrier 3",
        ),
        (Standing(1, 6, 1, True, "a part", 3, 13, "direction"), "wants station print, against the direction that"),
        (Standing(1, 6, 1, True, "a part", 3, 18, "way"), "wants dock of middle-lift on out, taken by carrier 3."),
        (Standing(1, 6, 1, True, "a part"), "has no way to where it is to go."),
    ],
)
def test_every_reason_has_its_words(one: Standing, told: str) -> None:
    words = " ".join(page(jam_lines(replace(jam(), ring=(one,)), names())).split())
    assert told in words
    assert "Carrier 1 can never move again." in words


def test_the_variant_that_waits_at_the_gate_is_named() -> None:
    gate = Standing(1, 6, 0, False, "nothing", 0, None, "run-out")
    held = Standing(0, 48, 3, True, "a part of etched", 1, 19, "way")
    of = Names(names().layout, names().plan, (("etched", 5), ("plain", 20)))
    words = " ".join(page(jam_lines(replace(jam(), ring=(gate, held), others=()), of)).split())
    assert "waits to load a part of plain, and may not while a part of etched is on the line: carrier 0 has it" in words


def test_the_drawing_has_every_stop_once_and_the_carriers_where_the_jam_has_them() -> None:
    rows = drawing_lines(locked(), names().layout)
    ranks = [int(number) for row in rows if row.startswith("  rank") for number in row.split()[1:]]
    ranks += [int(number) for row in rows for number in re.findall(r"aboard, rank (\d+):", row)]
    assert sorted(ranks) == list(range(49))
    for number, row in enumerate(rows):
        if row.startswith("  carrier"):
            for mark in re.finditer(r"\S+", row[9:]):
                end = 9 + mark.end() - (0 if mark.group().endswith((")", "]")) else -1)
                rank = int(rows[number - 2][:end].split()[-1])
                carrier = int(mark.group().strip("[]()"))
                assert places_at_the_jam(locked())[carrier] == rank
    text = "\n".join(rows)
    assert "(3)" in text
    assert "rank 19: [2]" in text
    # A lane that travels west is drawn with its west end on the left, as it lies on the floor.
    assert re.search(r"home, west end on the left, travels east to west <<<\n  rank +38 ", text)


def test_a_line_that_locks_only_after_a_stop_tells_that_story() -> None:
    text = text_of(after_a_stop())
    assert "HOW IT LOCKS UP ONCE HANDS MOVED CARRIERS" in text
    assert "Put back like this, the line stands locked at once" in text
    assert "5 rules of admission were tried; none cures it." in text
    assert "with at most 9 it never locks, however they stand" in text


def test_why_no_rule_was_tried_is_said() -> None:
    untried = replace(can_lock(), cure=None, cures_tried=0)
    assert "the carriers hold each other all along it" in words_of(untried)
    assert "since begun as planned the line never locks" in words_of(replace(after_a_stop(), cures_tried=0))
    assert "1 rule of admission was tried" in words_of(replace(untried, cures_tried=1))
    to_and_fro = load_line(LOCKS / "to-and-fro.yaml")
    words = " ".join(page(gridlock_lines(untried, to_and_fro, names())).split())
    assert "a two-way lane can have none" in words
    two_way = " ".join(page(gridlock_lines(undecided(), to_and_fro, names())).split())
    assert "with fewer carriers it may be" in two_way


# ---- the cure ------------------------------------------------------------------------------------------------------


def test_the_cure_is_text_for_the_line_file() -> None:
    result = can_lock()
    assert result.cure is not None
    text = cure_text(result.cure, spur())
    assert text == "admission:\n  keep-free: {lanes: [spur-out, spur-back], transfers: [far-lift], most: 4}\n"
    assert text in text_of(result)
    assert "neither from the planned start nor from any placement" in words_of(result)
    partly = replace(result, cure=replace(result.cure, from_any_placement=False))
    assert "once hands moved carriers it still can" in words_of(partly)


def test_a_cure_of_a_stretch_can_be_read_back() -> None:
    text = (LOCKS / "spur.yaml").read_text("utf-8")
    line = read_line(text + cure_text(Cure(("out",), (), 0.7505, 1.25, 3, True), spur()))
    stretch = line.admission[0]
    assert (stretch.lane, stretch.from_m, stretch.to_m, stretch.most) == ("out", 0.7505, 1.25, 3)


def test_a_cure_takes_a_name_that_is_free() -> None:
    line = with_admission("keep-free")
    assert "  keep-free-2: {" in cure_text(Cure(("out",), (), 0.5, 1.25, 3, True), line)
    assert "already" in cure_text(Cure(("out",), (), 0.5, 1.25, 3, True), line)


def test_a_long_cure_stands_in_several_rows() -> None:
    lanes = tuple(f"a-lane-with-quite-a-long-name-{number}" for number in range(2))
    rows = cure_text(Cure(lanes, ("some-lift-with-a-name",), None, None, 3, True), spur()).splitlines()
    assert rows[1:3] == ["  keep-free:", f"    lanes: [{', '.join(lanes)}]"]


def with_admission(name: str) -> Line:
    text = (LOCKS / "spur.yaml").read_text("utf-8")
    return read_line(f"{text}admission:\n  {name}: {{lane: out, from: 700 mm, to: 900 mm, most: 2}}\n")


def test_long_cells_go_on_below_themselves() -> None:
    rows = columns(("1", "a b c d", "end"), (3, 3), right=(0,))
    assert rows == ["  1  a b  end", "     c d"]
    assert columns(("press-1/press-2", ""), (12,)) == ["press-1/", "press-2"]  # no name is cut in two
    assert columns(("cure-1/cure-2", ""), (13,)) == ["cure-1/cure-2"]


def test_names_say_what_is_not_yet_done() -> None:
    assert isinstance(names(), Names)
    assert names().next_of(Standing(0, 6, 0, False, "nothing")) == "load (here, not yet done)"
    assert names().next_of(Standing(0, 5, 0, False, "nothing")) == "load"
    assert names().at(19) == "aboard middle-lift"
