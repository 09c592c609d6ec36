"""The page and the data of the proof, on results that are written down by hand."""

from __future__ import annotations

import json
import re
import shlex
from dataclasses import replace

import pytest

from linewright.handover.files import json_text
from linewright.handover.pages.prove_answer import prove_answer
from linewright.handover.pages.prove_page import proof_assumptions, prove_page
from linewright.handover.pages.prove_verdict import asks_for_the_start, first_sentence
from linewright.handover.wording import WIDTH
from linewright.proof import Proof
from linewright.traffic.gridlock.result import GridlockResult
from unit.handover.stand_in_proof import (
    DEAD,
    after_a_stop,
    can_lock,
    clean_report,
    faulty_report,
    never,
    proof,
    recovered,
    undecided,
)

BAD = {
    "can lock": proof(can_lock()),
    "after a stop": proof(after_a_stop()),
    "undecided": proof(undecided()),
    "faulty": proof(report=faulty_report()),
    "does not recover": proof(recovery=recovered(7)),
    "not tried": proof(no_recovery="carriers are taken out"),
}
FIRST = {
    "can lock": "NO: DO NOT RUN THIS LINE AS IT IS. BEGUN AS PLANNED IT CAN LOCK UP. A RULE THAT CURES IT STANDS",
    "after a stop": "RUN IT, BUT AFTER A STOP IN WHICH CARRIERS WERE MOVED BY HAND, FIRST TAKE ALL PARTS OFF AND",
    "undecided": "NOT DECIDED: BEGUN AS PLANNED THIS LINE MAY LOCK UP OR NOT. DO NOT COUNT ON IT.",
    "faulty": "NO: DO NOT RUN THIS LINE AS IT IS. ITS CARRIERS BREAK THE RULES OF TRAFFIC.",
    "does not recover": "RUN IT, BUT AFTER EVERY STOP, FIRST TAKE ALL PARTS OFF AND PUT THE CARRIERS AS AT THE PLANNED",
    "not tried": "NOT DECIDED: IT NEVER LOCKS UP, BUT ITS STARTING AGAIN COULD NOT BE TRIED.",
}


def words_of(of: Proof) -> str:
    return " ".join(prove_page(of).split())


def test_the_first_line_says_that_the_line_may_run() -> None:
    assert proof().holds
    rows = prove_page(proof()).splitlines()
    assert rows[2] == "YES, AS FAR AS ITS TRAFFIC GOES: THIS LINE MAY RUN AS IT IS. IT NEVER LOCKS UP."


@pytest.mark.parametrize("name", BAD)
def test_the_first_line_says_what_stands_against_it(name: str) -> None:
    assert not BAD[name].holds
    assert first_sentence(BAD[name]).startswith(FIRST[name])
    assert words_of(BAD[name]).split("= ")[1].startswith(FIRST[name])


def test_a_start_that_is_undecided_is_not_hidden_by_a_jam_after_a_stop() -> None:
    half = proof(GridlockResult(12, undecided().from_start, after_a_stop().from_any_placement, 9, 9, 43))
    assert first_sentence(half).startswith(
        "NOT DECIDED: BEGUN AS PLANNED THIS LINE MAY LOCK UP OR NOT; ONCE HANDS MOVED"
    )
    assert not asks_for_the_start(half)  # which is not proven
    other = proof(GridlockResult(12, never().from_start, undecided().from_any_placement, 9, 12, 43))
    assert first_sentence(other).startswith(
        "NOT DECIDED: IT NEVER LOCKS UP BEGUN AS PLANNED; WHETHER IT CAN ONCE HANDS"
    )
    assert asks_for_the_start(other)


def test_what_to_do_after_a_stop_stands_above_all_else() -> None:
    words = words_of(BAD["after a stop"])
    assert words.index("AFTER A STOP, BEFORE IT GOES ON") < words.index("CAN IT LOCK UP?")
    assert "take all parts off and put the carriers as at the planned start" in words
    assert "If nobody moved a carrier: let it go on: good parts came again after all 200 such stops" in words
    assert "As at the planned start: 12 carriers, all empty, in the order of their numbers at station load, " in words
    both = words_of(proof(after_a_stop(), recovery=recovered(7)))
    assert "do the same, since good parts did not come again after 7 of 200 such stops" in both
    assert "RUN IT, BUT AFTER EVERY STOP" in both
    untried = words_of(proof(after_a_stop(), no_recovery="carriers are taken out"))
    assert "RUN IT, BUT AFTER EVERY STOP" in untried
    assert "do the same, since its going on could not be tried" in untried
    for name in ("can lock", "undecided"):
        assert "BEFORE IT GOES ON" not in words_of(BAD[name])
    assert "BEFORE IT GOES ON" not in words_of(proof())


@pytest.mark.parametrize("of", [proof(), *BAD.values()])
def test_the_page_fits_the_paper_and_ends_with_the_cautions(of: Proof) -> None:
    text = prove_page(of)
    assert max(len(row) for row in text.splitlines()) <= WIDTH
    assert "CAUTION. This is an aid" in text
    assert "Power's return never starts motion" in words_of(of)
    assert of.line.input_hash in text


def test_the_referee_tells_how_much_it_judged_and_each_check() -> None:
    words = words_of(proof())
    assert "226 246 moves in 8 h" in words
    assert "holds clear-gap: carrier 4 behind carrier 3 on lane out" in words
    assert "92.5 mm 92 mm 0.5 %" in words
    assert "holds stop-occupancy: 226 258 stays at stops" in words
    assert "two are never nearer than 0.51 mm above the least pitch." in words
    assert "then the line stood still" not in words
    assert "log-limits: 226 246 moves" in words
    assert "100.0 % 100.0 % 0.0 %" in words
    assert "a margin of 0 % is as planned and no lack, less is a fault" in words


def test_faults_that_the_referee_found_are_told() -> None:
    words = words_of(BAD["faulty"])
    assert "FAILS clear-gap" in words
    assert "FAULTS FOUND: gap 7. The first:" in words
    assert "2.000 s, gap: two carriers come nearer than the least pitch (carrier 4, 3)" in words


def test_a_run_that_stood_still_is_said_to_have() -> None:
    early = replace(clean_report(), until_us=96_000_000)
    words = words_of(proof(report=early))
    assert "The last move ends after 1.6 min: then the line stood still" in words
    assert "in all 226 246 moves of a run until it stood still after 1.6 min" in words
    none = replace(early, looked=replace(early.looked, moves=0))
    words = words_of(proof(report=none))
    assert "no carrier moves in the run, so nothing could be judged" in words
    assert "NO CARRIER MOVED IN THIS RUN" in words


def test_one_is_not_told_as_many() -> None:
    report = clean_report()
    looked = replace(report.looked, pairs=1, stretches=1, crossings=1, reactions=1, reactions_exact=1, moves=1)
    words = words_of(proof(report=replace(report, looked=looked)))
    assert (
        "1 move in 8 h, one carrier next behind another 1 time, 1 crossing to or from a platform, 1 departure" in words
    )
    assert "least of 1 stretch of 1 pair" in words
    assert not re.search(r"(?<!\d )\b1 (pairs|moves|times|stretches|departures|lines|runs)\b", words)


def test_a_spare_within_the_same_place_is_none() -> None:
    report = replace(clean_report(), grid_spare_m=-1e-13)
    assert "two are never nearer than 0 mm above the least pitch." in words_of(proof(report=report))


def test_the_worst_contact_is_told() -> None:
    words = words_of(proof())
    assert "contact at 0.42 m/s, 0.057 J of 0.65 kg: carrier 4 into carrier 3, lane out, section 2, 800 mm" in words
    assert "with a drag of 1.5 N, the least of the sheet: no contact" in words
    silent = replace(proof(), dead_section=replace(DEAD, standing=None, least_drag_N=None, left_m=0.012))
    assert "the sheet does not state the drag" in words_of(silent)
    assert "at the least 12 mm between the two" in words_of(silent)
    assert "no two carriers ever move one behind the other" in words_of(replace(proof(), dead_section=None))


def test_the_recovery_is_told_with_who_stands_still() -> None:
    assert "200 at random instants; good parts came again after 200" in words_of(proof())
    words = words_of(BAD["does not recover"])
    assert "good parts come again after 193 of 200 stops" in words
    assert words.count("3 at station print 1 etch") == 1  # of the first alone
    assert "2 more fail; the JSON has them all." in words
    stood = tuple(replace(one, stood_before=True) for one in recovered(7).failing)
    only_stood = words_of(proof(recovery=replace(recovered(7), failing=stood)))
    assert only_stood.count("The line had stood before it already.") == 1
    assert "6 more fail, all of them stops of a line that stood already" in only_stood
    ended = replace(recovered(1).failing[0], good_after_s=3.0, good=4)
    few = words_of(proof(recovery=replace(recovered(1), failing=(ended,))))
    assert "NO MORE GOOD PARTS, after 4, within 20.0 min after stop 3 of run 1" in few
    assert "NOT TRIED: carriers are taken out." in words_of(BAD["not tried"])


def test_a_stop_that_fails_can_be_seen_by_a_command_of_its_own_line() -> None:
    first = recovered(1).failing[0]
    later = replace(first, from_empty=False, number=4)
    of = proof(recovery=replace(recovered(2), failing=(later, first)))
    rows = prove_page(of).splitlines()
    assert of.line.document is not None
    start = rows.index(next(row for row in rows if row.startswith("    linewright restart ")))
    command = " ".join(rows[start : start + (2 if rows[start].endswith("\\") else 1)]).replace("\\", "")
    words = shlex.split(command)
    assert words[:2] == ["linewright", "restart"]
    assert words[2] in (of.line.document.file, "LINE")
    assert words[3:] == ["--at", "1234.500000 s", "--seed", "1001"]
    text = words_of(of)
    assert text.index("linewright restart") < text.index("linewright restart cannot show it")  # who can be seen first


def test_what_helps_where_stops_fail() -> None:
    words = words_of(BAD["does not recover"])
    assert "At 7 of the 7 stops that fail, unverified parts were flagged or taken out" in words
    assert "after_power_loss: repeat" in words
    clean = tuple(replace(one, rejected=0, by_hand=0) for one in recovered(7).failing)
    kept = words_of(proof(after_a_stop(), recovery=replace(recovered(7), failing=clean)))
    assert "after_power_loss" not in kept
    assert "Fewer carriers: 9 never lock, however they stand." in kept
    assert "cure that first" in words_of(proof(can_lock(), recovery=recovered(7)))
    assert "What helps" not in words_of(proof())


def test_what_it_rests_on_begins_with_the_conveyor_sheet() -> None:
    assert proof_assumptions(proof())[0].startswith("The conveyor sheet demo-light is invented")
    assert not any("gridlock" in row for row in proof_assumptions(proof()))


# ---- the data ------------------------------------------------------------------------------------------------------


def test_the_outcomes_are_plain_strings() -> None:
    for result, start, anywhere in (
        (never(), "never locks", "never locks"),
        (can_lock(), "can lock", "can lock"),
        (after_a_stop(), "never locks", "can lock"),
        (undecided(), "undecided", "undecided"),
    ):
        data = json.loads(json_text(prove_answer(proof(result))))
        assert data["gridlock"]["outcome"] == start
        assert data["gridlock"]["from_any_placement"] == anywhere
        assert data["holds"] is (start == anywhere == "never locks")


def test_the_data_tells_the_whole_story() -> None:
    data = json.loads(json_text(prove_answer(proof(can_lock()))))["gridlock"]
    answer = data["from_start_answer"]
    assert answer["way"][1]["from"] == "station load"
    assert answer["way"][1]["to"] == "station print"
    assert answer["way"][1]["time_s"] == 1.7
    assert [one["carrier"] for one in answer["jam"]["ring"]] == [2, 1, 0]
    assert answer["loads"] == []
    assert answer["jam"]["ring"][0]["wants_where"] == "waiting stop 40"
    assert answer["jam"]["stations"] == ["etch"]
    assert {"carrier": 4, "stop": 5, "where": "waiting stop 5"} in answer["jam"]["places"]
    assert data["cure"]["text"].startswith("admission:\n")
    assert data["largest_count"] == 9


def test_the_data_has_the_head_and_every_part() -> None:
    data = json.loads(json_text(prove_answer(BAD["does not recover"])))
    assert data["format_version"] == 1
    assert (data["seed"], data["hours"]) == (1, 8.0)
    assert data["referee"]["holds"] is True
    assert data["referee"]["violated"]["gap"] == 0
    assert data["dead_section"]["standing"]["speed_m_s"] == 0.42
    assert (data["recovery"]["holds"], data["recovery"]["failed"], data["recovery"]["not_tried"]) == (False, 7, None)
    assert len(data["recovery"]["outcomes"]) == 200
    codes = [finding["code"] for finding in data["findings"]]
    assert codes[0] == "recovery"  # the one that fails
    assert {"gridlock", "gridlock-after-a-stop", "clear-gap", "reaction", "dead-section"} < set(codes)
    untried = json.loads(json_text(prove_answer(BAD["not tried"])))
    assert untried["recovery"] == {"holds": False, "not_tried": "carriers are taken out"}
