"""The examples of the ways in which a line works: each runs, makes good parts and shows what it is an example of; the
page about them quotes them as they are."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.evaluation import Evaluation, evaluate
from linewright.flow.restart import restart
from linewright.flow.run import Run, simulate
from linewright.line.document import parse
from linewright.line.load import load_line, read_line
from linewright.tables import Table

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "examples" / "ways"
PAGE = (ROOT / "docs" / "ways.md").read_text("utf-8")
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))
SECTIONS = dict(re.findall(r"^\*`([\w-]+)\.yaml`\*:(.*?)(?=^## )", PAGE, re.DOTALL | re.MULTILINE))


@cache
def evaluation(name: str) -> Evaluation:
    """An example, run for a short time."""
    return evaluate(load_line(FOLDER / f"{name}.yaml"), hours=0.3, runs=2)


def run_of(name: str) -> Run:
    run = evaluation(name).run
    assert run is not None
    return run


def run_with(name: str, old: str, new: str) -> Run:
    """The same example with something else in its file."""
    text = (FOLDER / f"{name}.yaml").read_text("utf-8")
    assert old in text
    return simulate(read_line(text.replace(old, new), folder=FOLDER), hours=0.3, runs=2)


def good(run: Run) -> int:
    return int(run.good_per_run.sum())


def share(name: str, state: str) -> dict[str, float]:
    return share_of(run_of(name), state)


def share_of(run: Run, state: str) -> dict[str, float]:
    """Of each station, the share of time in a state."""
    stations = run.stations
    return dict(zip(stations["station"].tolist(), stations[f"{state}_share"].tolist(), strict=True))


def parts(name: str) -> dict[str, int]:
    """Parts worked at each station."""
    stations = run_of(name).stations
    return dict(zip(stations["station"].tolist(), stations["parts"].tolist(), strict=True))


def cause_s(name: str, kind: str) -> float:
    return cause_of(run_of(name), kind)


def cause_of(run: Run, kind: str, place: str = "") -> float:
    """What a kind of cause, at one place or all, makes of the line cycle. [s]"""
    causes = run.cycle_causes
    here = (causes["kind"] == kind) & ((causes["place"] == place) | (not place))
    return float(causes["time_s"][here].sum())


def work_s(works: Table, station: str) -> list[float]:
    """How long the works at a station took, in the traced minutes, without repairs; to the millisecond."""
    there = works["station"] == station
    lasted = works["end_s"] - works["start_s"] - works["repair_s"]
    return np.round(lasted[there], 3).tolist()  # type: ignore[no-any-return]


def test_there_is_an_example_for_every_section_and_none_besides() -> None:
    assert len(NAMES) == 23
    assert sorted(SECTIONS) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_an_example_is_invented_small_and_holds(name: str) -> None:
    text = (FOLDER / f"{name}.yaml").read_text("utf-8")
    assert "an invented scenario" in text.splitlines()[0]
    assert 20 <= len(text.splitlines()) <= 45
    found = evaluation(name)
    assert [finding for finding in found.findings if finding.verdict == "fails"] == []
    assert found.run is not None
    assert found.run.good_per_run.min() > 40


# ---- each shows what it is an example of ---------------------------------------------------------------------------


def test_operators_are_waited_for() -> None:
    waits = share("operators", "operator")
    assert min(waits[name] for name in ("load", "print", "pack")) > 0.02
    assert waits["crimp"] == waits["cool"] == 0.0
    assert cause_s("operators", "operator") > 0.1
    assert good(run_with("operators", "operators: 1", "operators: 2")) > 1.1 * good(run_of("operators"))


def test_nests_are_worked_one_by_one_or_at_once() -> None:
    works = run_of("nests").works
    assert set(work_s(works, "press")) == {1.8}
    assert set(work_s(works, "oven")) == {2.4}
    assert set(works["serial"] % 2) == {0}
    ended = parts("nests")
    assert 0.97 < good(run_of("nests")) / ended["oven"] < 1.0  # both count parts, not carriers


def test_variants_have_their_own_times_and_ways() -> None:
    works = run_of("variants").works
    at_press = np.array(work_s(works, "press"))
    assert (at_press == 1.5).any()
    assert (at_press > 2.0).any()
    ended = parts("variants")
    assert 0.4 < ended["print"] / ended["press"] < 0.6
    assert 0.08 < ended["test"] / ended["press"] < 0.22


def test_batches_change_over() -> None:
    waits = share("changeover", "changeover")
    assert min(waits[name] for name in ("load", "press", "weld")) > 0.01
    assert waits["unload"] == 0.0
    assert cause_s("changeover", "changeover") > 0.1


def test_a_set_of_fixtures_takes_its_own_variants() -> None:
    works = run_of("fixture-sets").works
    at_turn = works["station"] == "turn"
    carriers, lasted = works["carrier"][at_turn], np.array(work_s(works, "turn"))
    wide = set(carriers[lasted == 2.6].tolist())
    assert len(wide) == 6
    assert wide.isdisjoint(carriers[lasted != 2.6].tolist())
    assert share("fixture-sets", "changeover")["turn"] > 0.1


@pytest.mark.parametrize("name", ["rework", "repair-loop"])
def test_rework_is_repaired_and_tested_again(name: str) -> None:
    ended = parts(name)
    assert 0.05 < ended["repair"] / ended["screw"] < 0.13
    assert ended["test"] > 1.03 * ended["screw"]


def test_a_repair_loop_gives_more_than_repair_in_the_loop() -> None:
    assert good(run_of("repair-loop")) > good(run_of("rework"))


def test_missing_parts_are_worked_at_nowhere() -> None:
    ended = parts("presence")
    assert 0.92 < ended["punch"] / ended["load"] < 0.99
    assert ended["scrap"] > 0


def test_each_exit_has_its_parts() -> None:
    ended = parts("exits")
    assert min(ended["bin"], ended["take-apart"]) > 0
    assert 0.5 < ended["unload-short"] / (ended["unload-short"] + ended["unload-long"]) < 0.8
    assert good(run_of("exits")) <= ended["unload-short"] + ended["unload-long"] + 2


def test_breaks_are_waited_for_and_the_line_runs_empty() -> None:
    waits = share("shifts", "break")
    assert min(waits.values()) > 40 / 480
    assert waits["load"] > 55 / 480
    run = run_of("shifts")
    assert (run.hours, run.warm_up_s) == (8.0, 0.0)


def test_machines_outside_are_waited_for() -> None:
    waits = share("outside", "outside")
    assert min(waits["load"], waits["unload"]) > 0.02
    assert cause_s("outside", "outside") > 0.02


def test_four_decks_are_one_loop() -> None:
    found = evaluation("four-decks")
    assert len(found.layout.lanes) == len(found.layout.transfers) == 4
    assert found.plan is not None
    assert found.plan.general.is_plain


def test_a_branch_lets_others_pass() -> None:
    ended = parts("branch")
    assert 0.2 < ended["engrave"] / (ended["engrave"] + ended["print"]) < 0.4
    in_line = run_with("branch", "lane: side-lane, at: 1200 mm", "lane: print-lane, at: 1800 mm")
    assert good(run_of("branch")) > 1.08 * good(in_line)
    works = run_of("branch").works
    ends = works["serial"][works["station"] == "unload"]
    assert (np.diff(ends) < 0).any()  # a printed plate, loaded later, is unloaded before an engraved one


def test_lifts_of_two_places_carry_more() -> None:
    assert good(run_of("two-place-lift")) > 1.1 * good(run_with("two-place-lift", "places: 2", "places: 1"))


def test_lifts_on_call_are_waited_for() -> None:
    at_once = run_with("when-called", ", returns: when-called", "")
    assert good(run_of("when-called")) <= good(at_once)
    assert run_of("when-called").events != at_once.events


def test_a_ring_has_no_transfer() -> None:
    found = evaluation("ring")
    assert found.layout.transfers == ()
    assert cause_s("ring", "transfer") == 0.0
    moves = run_of("ring").moves
    assert (moves["to_stop"] < moves["from_stop"]).any()  # round and round


def test_together_waits_for_the_slowest() -> None:
    assert good(run_of("together")) < 0.95 * good(run_with("together", ", moves: together", ""))


def short_halts(run: Run) -> int:
    """Arrivals in the traced minutes from which the carrier departs again within the reaction, at no station."""
    moves = run.moves
    order = np.lexsort((moves["departure_s"], moves["carrier"]))
    same = np.diff(moves["carrier"][order]) == 0
    rests = (moves["departure_s"][order][1:] - moves["arrival_s"][order][:-1])[same]
    return int((rests < 0.02).sum())


def test_going_on_saves_short_halts() -> None:
    halting = run_with("going-on", "going_on: true", "going_on: false")
    assert short_halts(run_of("going-on")) < 0.8 * short_halts(halting)
    assert halting.short_halts is None, "the loop of plain lines does not count them"
    told = run_of("going-on").short_halts
    assert told is not None
    assert told.per_part > 0.0
    assert 0.0 < told.lost_s < told.per_part


def test_a_stretch_admits_one() -> None:
    found = evaluation("admission")
    inside = [stop.index for stop in found.layout.stops if stop.lane == "upper" and 1.8 <= stop.floor_m <= 2.2]
    assert most_at_once(run_of("admission").moves, inside) == 1
    freer = run_with("admission", "most: 1", "most: 2")
    assert most_at_once(freer.moves, inside) == 2
    assert good(freer) > 1.3 * good(run_of("admission"))


def test_a_spur_and_its_gate_admit_seven() -> None:
    layout, moves = evaluation("spur-admission").layout, run_of("spur-admission").moves
    lanes, transfers = ("spur-in", "spur-out"), ("gate", "turn")
    on_lanes = [stop.index for stop in layout.stops if stop.kind != "aboard" and stop.lane in lanes]
    spur = [*on_lanes, *(stop.index for stop in layout.stops if stop.kind == "aboard" and stop.transfer in transfers)]
    places = {name: sum(layout.stops[rank].lane == name for rank in on_lanes) for name in lanes}
    assert (places, len(spur)) == ({"spur-in": 4, "spur-out": 3}, 9)  # as the page says
    assert most_at_once(moves, spur) == 7


def test_a_spur_that_admits_as_many_as_it_has_places_locks_up() -> None:
    text = (FOLDER / "spur-admission.yaml").read_text("utf-8")
    assert "most: 7" in text
    fuller = simulate(read_line(text.replace("most: 7", "most: 9")), hours=6, runs=2, seed=1)
    assert fuller.rate is None
    assert "the line stands" in fuller.reason


def most_at_once(moves: Table, stops: list[int]) -> int:
    """The most carriers at a time that are on these stops or on their way to or from them."""
    into = np.isin(moves["to_stop"], stops) & ~np.isin(moves["from_stop"], stops)
    out_of = np.isin(moves["from_stop"], stops) & ~np.isin(moves["to_stop"], stops)
    events = [(time, 1) for time in moves["departure_s"][into]] + [(time, -1) for time in moves["arrival_s"][out_of]]
    first = {int(moves["carrier"][i]): bool(out_of[i]) for i in np.flatnonzero(into | out_of)[::-1]}
    return int(np.cumsum([sum(first.values()), *(step for _, step in sorted(events))]).max())


def test_carriers_come_and_go() -> None:
    text = (FOLDER / "carrier-changes.yaml").read_text("utf-8")
    line = read_line(text.replace("time: 6 min", "time: 1 min").replace("time: 12 min", "time: 3 min"))
    moves = simulate(line, hours=0.1, runs=1).moves
    seen = [set(moves["carrier"][(moves["departure_s"] > a) & (moves["departure_s"] < b)]) for a, b in AROUND]
    assert seen[0] == set(range(10))
    assert len(seen[1]) == 4
    assert len(seen[2]) == 10
    assert max(seen[2]) == 15


AROUND = ((0.0, 60.0), (120.0, 180.0), (240.0, 360.0))


def test_after_a_stop_parts_are_rejected_and_good_ones_follow() -> None:
    line = load_line(FOLDER / "after-a-stop.yaml")
    found = restart(line, at_s=1200.0, speed_m_s=0.1)
    assert found.first_good_s is not None
    assert found.first_good_s > found.recovery_s > 0.0
    again = sum(one.fate == "work done again" for one in found.carriers)
    told = re.findall(r"(\d+\.\d) s|(\d) (?:parts|works) are", " ".join(SECTIONS["after-a-stop"].split()))
    figures_told = [number or count for number, count in told]
    assert figures_told == [f"{found.recovery_s:.1f}", f"{found.rejected}", f"{again}", f"{found.first_good_s:.1f}"]


def test_to_and_fro_goes_both_ways() -> None:
    moves = run_of("to-and-fro").moves
    assert (moves["to_stop"] < moves["from_stop"]).any()
    assert (moves["to_stop"] > moves["from_stop"]).any()
    works = run_of("to-and-fro").works
    for side in (1, 2):  # the carrier in front works at the far stations, the other at the near ones
        assert len(set(works["carrier"][np.char.endswith(works["station"], f"-{side}")])) == 1


# ---- the page ------------------------------------------------------------------------------------------------------


def stands_in(part: Any, whole: Any) -> bool:
    """Whether an excerpt stands in a file: the keys of a group may be left out, all else is there as it is."""
    if isinstance(part, dict):
        return isinstance(whole, dict) and all(key in whole and stands_in(part[key], whole[key]) for key in part)
    return bool(part == whole)


def test_an_excerpt_is_told_from_what_does_not_stand_there() -> None:
    whole = {"a": {"b": "1 s", "c": [1, 2]}}
    assert stands_in({"a": {"c": [1, 2]}}, whole)
    assert not stands_in({"a": {"c": [1]}}, whole)
    assert not stands_in({"a": {"d": "1 s"}}, whole)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_quotes_the_example(name: str) -> None:
    excerpts = re.findall(r"^```yaml\n(.*?)^```", SECTIONS[name], re.DOTALL | re.MULTILINE)
    assert excerpts
    whole = parse((FOLDER / f"{name}.yaml").read_text("utf-8"), name, "").tree
    for text in excerpts:
        assert stands_in(parse(text, "ways.md", "").tree, whole)


def figures() -> list[tuple[str, ...]]:
    """Rows of the page's last table: example, its rate, what shows it, a change, the rate with it."""
    rows = [tuple(cell.strip() for cell in row.split("|")) for row in re.findall(r"^\|(.*)\|$", PAGE, re.MULTILINE)]
    return [row for row in rows if len(row) == 5 and row[0].endswith(".yaml`")]


def test_the_page_has_figures_of_every_example() -> None:
    assert [row[0] for row in figures()] == [f"`{name}.yaml`" for name in NAMES]
    assert all(re.fullmatch(r"\d+\.\d", row[1]) for row in figures())


@pytest.mark.long
@pytest.mark.parametrize("row", figures(), ids=lambda row: row[0].strip("`"))
def test_the_figures_are_those_of_a_run(row: tuple[str, ...]) -> None:
    file, rate, shown_by, change, changed = row
    text = (FOLDER / file.strip("`")).read_text("utf-8")
    run = long_run(text)
    assert mean_rate(run) == rate
    if shown_by:
        kind, name, _, place, *_ = shown_by.split()
        figure = f"{cause_of(run, name, place):.3f} s"
        if kind == "state":
            figure = f"{100.0 * share_of(run, name)[place]:.1f} %"
        assert shown_by == f"{kind} {name} at {place} {figure}"
    assert bool(change) == bool(changed)
    if change:
        old, new = re.findall(r"`(.*?)`", change)
        assert old in text
        assert mean_rate(long_run(text.replace(old, new))) == changed


def long_run(text: str) -> Run:
    """A run of the length that the page states."""
    return simulate(read_line(text, folder=FOLDER), hours=8, runs=20, seed=1)


def mean_rate(run: Run) -> str:
    """Good parts an hour, as the page prints it."""
    assert run.rate is not None
    return f"{run.rate.mean:.1f}"
