"""The page and the data of the proof, on results that are written down by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from linewright.handover.files import json_text
from linewright.handover.prove_answer import prove_answer
from linewright.handover.prove_page import first_sentence, proof_assumptions, prove_page
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
    "can lock": "NO: DO NOT RUN THIS LINE AS IT IS. IT CAN LOCK UP.",
    "after a stop": "NOT AFTER A STOP: BEGUN AS PLANNED IT NEVER LOCKS UP, BUT STARTED AGAIN AFTER A STOP IT CAN.",
    "undecided": "NOT PROVEN: WHETHER IT CAN LOCK UP IS UNDECIDED.",
    "faulty": "NO: DO NOT RUN THIS LINE AS IT IS. ITS CARRIERS BREAK THE RULES OF TRAFFIC.",
    "does not recover": "NOT AFTER A STOP: GOOD PARTS DO NOT ALWAYS COME AGAIN.",
    "not tried": "NOT PROVEN: IT NEVER LOCKS UP, BUT ITS STARTING AGAIN COULD NOT BE TRIED.",
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


def test_a_stop_that_is_undecided_does_not_hide_that_the_start_is() -> None:
    half = GridlockResult(12, undecided().from_start, after_a_stop().from_any_placement, 9, 9, 43)
    assert "BEGUN AS PLANNED IT IS UNDECIDED" in first_sentence(proof(half))


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
    assert "holds stop-occupancy: 226258 stays at stops" in words
    assert "two are never nearer than 0.51 mm above the least pitch." in words
    assert "then it stood" not in words


def test_faults_that_the_referee_found_are_told() -> None:
    words = words_of(BAD["faulty"])
    assert "FAILS clear-gap" in words
    assert "FAULTS FOUND: gap 7. The first:" in words
    assert "2.000 s, gap: two carriers come nearer than the least pitch (carrier 4, 3)" in words


def test_a_run_that_stood_still_is_said_to_have() -> None:
    early = replace(clean_report(), until_us=96_000_000)
    assert "The last move ends after 1.6 min: then it stood." in words_of(proof(report=early))


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
    assert "linewright restart --at '1234.500000 s' --seed 1001 shows the same." in words
    assert words.count("3 at station print 1 etch") == 1  # of the first alone
    assert "2 more fail" in words
    stood = tuple(replace(one, stood_before=True) for one in recovered(7).failing)
    only_stood = words_of(proof(recovery=replace(recovered(7), failing=stood)))
    assert only_stood.count("The line had stood before it already.") == 1
    assert "6 more fail, of which 6 stopped a line that stood already" in only_stood
    ended = replace(recovered(1).failing[0], good_after_s=3.0, good=4)
    few = words_of(proof(recovery=replace(recovered(1), failing=(ended,))))
    assert "NO MORE GOOD PARTS, after 4, within 20.0 min after stop 3 of line 1" in few
    assert "NOT TRIED: carriers are taken out." in words_of(BAD["not tried"])


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
