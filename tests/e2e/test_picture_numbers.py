"""Every number that a picture shows or tells is the Evaluation's, rounded, at its own place.

Each sentence is read by one of the rules below; a number that is told with the name of a station, a feeder, a coil
group ... has to be a figure of that station's records, not of any. What the rules allow besides are the round numbers
of the axes, which `axes` lists with the rows they stand in, and names that hold a number (a carrier's, a stop's ...).
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
import pytest

import linewright as lw
from linewright.pictures import Shown, track_chart
from linewright.pictures.gallery import PICTURES, Material, draw
from linewright.planning.gains import find_gains
from linewright.planning.size import size_line
from linewright.tables import Column, Table
from unit.pictures import numbers_known, numbers_limits
from unit.pictures.numbers_known import MARKS, names
from unit.pictures.numbers_limits import move, size_of
from unit.pictures.numbers_of import Facts, Reader, Ticks, compiled, faults_of, plain, rules_of, words_of

EXAMPLES: Final = Path(__file__).resolve().parents[2] / "examples"
LONG = pytest.mark.long


# ---- the sentences ---------------------------------------------------------------------------------------------------

EVERYWHERE: Final = """
The conveyor sheet {sheet} is invented: do not buy or build from this picture.
Simulated, not measured: = runs of = h<< for each count>>, seed =
+<<, all under the same luck>>. => .made.runs .made.hours .made.seed
section {n} of lane {lane}<<, @ {u}>> => section
kept clear about {station}: @ {u} on each side => kept_clear
motor zone {zone}<< on {lane}>>, @ {u} => zone
<<lane >><<ring >>{lane}, @ {u}<<, {words}>> => lane_long
station {station} at @ {u} on lane {lane} => station_at
{stop}
{station}
"""
TRACK: Final = """
carrier {n}<< at # s>> => a_carrier
carrier at # s, to scale => .start_s
-- station time
{kind} {transfer}: # s per good part at best<<; {words} the takt of # s>> => ridden ! 0<1
{station}: # s of # s per good part, {does} => spent 0 1
{station}: # s per good part, neither blocked nor starved<<; step {step}: # s, the mean of its = stations>>
+<<; {words} the takt of # s>> => station_s ! 0<3 1<3
step {step} at {station}: # s per good part, the mean of its stations => station_s 1
[time]
<<over >># s => station_s 0
<<over >># s => ridden 0
# s => 0
[]
line cycle # s => .e.run.line_cycle_s
takt # s<< ↑>> => .takt_s
<<No station and no transfer limits: >>{transfer}<< and {transfer2}>> take<<s>> # s<<, {transfer3}<< and {transfer4}>>
+ take<<s>> # s>><<, {transfer5}<< and {transfer6}>> take<<s>> # s>> at best, more than any step => slow
<<No station limits: >>{step} takes longest of the steps: # s, # s more than {step2}<<.>> => limiting
but # % of the line cycle passes at {place}<<.>> => passes
The line stands still in = of = runs: these times mean nothing. => .e.run.stalled_runs .e.run.runs
{step} limits: # s, # s more than {step2}. => limiting
Line cycle # s against a takt of # s: {verdict}. => .e.run.line_cycle_s .takt_s ! 0<1
the step's time is their mean, the white mark across them: {step} # s<<, {step2} # s>><<, {step3} # s>>
+<<, {step4} # s>><<, {step5} # s>>. => step_means
{step} # s<<, {step2} # s>><<, {step3} # s>><<, {step4} # s>><<, {step5} # s>>. => step_means
-- what stations do
{station}: := % of the time {does} => spent 2
In the time of all runs<< after their first ~ min>>. => warm_up
[states]
= % => 0 | 100
-- what would help
[]
<<best at >><<{station}>><<{step}>><<{transfer}>>: {change}: & /h, = % interval &<< /h>> to & /h, {effect},
+ by = runs of ~ h => gain
{change} & /h ({effect}) => gain 0
together with {transfer2}<< and {transfer3}>><< and {transfer4}>><< and {transfer5}>> => together
& /h: {change}<<, {effect}>> => gain 0
{change}
{untried}
= % interval of a gain: of twenty one misses => 95
[help]
{n}: & /h => numbered_gain
{n}: & /h, the line stops => numbered_stop
{n}: {effect} => numbered_change
{n}: {change} => numbered_change
= /h => gain_scale
-- strength
[]
{station}, at the {words}: {verdict}
allowed force {way} <<over >><<under >>^ % (~ N of ~ N) => force
static safety <<over >><<under >>^ % (~, at least ~) => safety ! 1<2
tolerance, by which the tool point gives way <<over >><<under >>^ % (~ {u} of ~ {u2}) => bent ! 1<2
all limits together allow ~ N => @e.limits.strength.stations station=station : allowed_N
Most: {station}, <<over >><<under >>^ % ({words}). => most_used
Carriers: static safety while a carrier moves ~, at least ~; guide life ~<< million>> km, ~ years. => guides ! 0<1
limit = % => 100
bar cut at = % of the limit: its number stands over it => 130
[strength]
<<{verdict} >><<over >><<under >>^ %<< {words}>> => used
= => 0
-- accuracy
[]
{station}, {axis}: {verdict}
Cpk # of ~ asked => budget 0 1 ! 0<1
Cp ~ => budget 2
tolerance ±~ {u} => budget 3
worst case ±~ {u} => budget 4
Worst: {station} {axis}, Cpk<< under>> # of ~<< ({verdict})>>. => worst_of_all ! 0<1
[accuracy]
<<{verdict} >><<{axis} >><<Cpk >># of ~ => worst_axis ! 0<1
= => 0
-- heat
[]
coil group of {lane}, under {under}, @ {u} to @ {u2}: {verdict}; ~ W at its warmest, greatest hourly mean ~ W;
+ it may give off ~ W for ever
+ => @e.limits.motion.coil_heat lane=lane under=under : from_m to_m filtered_W worst_hour_W limit_W ! 2<4
coil group of {transfer}, on the platform: {verdict}; ~ W at its warmest, greatest hourly mean ~ W;
+ it may give off ~ W for ever => @e.limits.motion.coil_heat lane=transfer : filtered_W worst_hour_W limit_W ! 0<2
Hottest: {lane}, under {under}, @ {u} to @ {u2}: ~ W at its warmest (coil-warming), <<over >><<under >>^ % of its
+ limit of ~ W; ~ W in its greatest hourly mean (coil-heat). => hottest 0 1 6 3 4 7
Hottest: {lane}, under {under}, @ {u} to @ {u2}: ~ W in its greatest hourly mean (coil-heat), <<over >><<under >>^ % of
+ its limit of ~ W; ~ W at its warmest (coil-warming). => hottest 0 1 7 3 4 6
Hottest: {transfer}, on the platform: ~ W at its warmest (coil-warming), <<over >><<under >>^ % of its limit of ~ W;
+ ~ W in its greatest hourly mean (coil-heat). => hottest 6 3 4 7
Hottest: {transfer}, on the platform: ~ W in its greatest hourly mean (coil-heat), <<over >><<under >>^ % of its limit
+ of ~ W; ~ W at its warmest (coil-warming). => hottest 7 3 4 6
{words}: = of = coil groups. => of_groups
scale broken: the limit is ~ times as high as the hottest bar => warm 5
limit ~ W => warm 4
[heat]
<<{verdict} >>warmest ~ W => warm 6
<<{verdict} >>hourly mean ~ W => warm 7
<<{verdict} >>~ W => warm 2
~ W => heat_scale
= => 0
-- feeders
[]
<<{at} of feeder {feeder2}: >><<{verdict}; >>section {n} of lane {lane}, feeder {feeder}: <<{verdict2}, >>` V,
+ lowest ~ V; ~ A in the {words} to it; {case} => fed ! 0<1
supply ~ V => .e.limits.power.electrics.low_V
lowest ~ V => .e.limits.power.electrics.lowest_V
Worst case: {case}, supplies at their least, ~ V. => .e.limits.power.electrics.low_V
The scale of the voltage does not begin at 0.
<<feeder >>{feeder}: {verdict} {about} ` {of} of ` {of2} => limit_of ! 0<1
<<feeder >>{feeder}: {verdict}<<:>> {about} => limit_told
feeder {feeder}: its supplies give ~ A => supplied
[feeder]
supply ~ A<< or more>><< ↑>> => supplied
<<→ >><<{feeder2}<< enters>>: >>` V<<, ~ A>><< ←>> => fed 0 2
<<{feeder2}: >><<{verdict} >>` V<< at the far end>> => fed 0
~ A => currents
-- the string line, and the head of all
[]
work at {station}: carrier =, part = => work
work at {station}: = parts one after the other, # s to # s => joined_works
failure at {station}: $ s repair, # s to # s => failure
failure at {station}: $ s repair within the work from # s to # s; the log does not keep when in it => failure
{station} down $ s => failure 0
<<the same, all empty and free to stand: >><<carriers stand behind one another, >>longer than ~ s, three line cycles
+ => standing
standing<< empty>>: = carriers {jammed}, up to $ s<< and longer>>, # s to # s => jam
a short one, drawn at least = px high => 3
= % interval => 95
Rate: # good parts an hour, = % interval # to #<<; # required>>
+<<: the line may or may not make its takt, longer runs tell>>. => answer ! 0<4
{n} of =. => of_verdict 0
{subject}: = × {code} => of_verdict 1
Simulated, not measured: = runs of = h, seed =; the string line shows run 1 from = s to = s.
+ => .made.runs .made.hours .made.seed .start_s .end_s
"""
CAUSES: Final = """
line cycle of the rate<<,>> # s => causes_cycle 4
By cause and place, the largest first, # s in all => causes_cycle 0
takt<<,>> # s => .takt_s
# s from one good part to the next, from the first good part to the last (the line cycle of the rate counts the whole
+ time: # s). => causes_cycle 0 4
Takt # s: the line cycle of the rate lies # s (# %) {words} it. => causes_cycle 1 2 3
{cause}<< at {place}>>, # s, # %<< of the line cycle>> => cause 0 1
= more, # s, # %<< of the line cycle: all others>> => cause 2 0 1
"""
CARRIERS: Final = """
=: {mark} => marked
{n} carriers: at most # an hour, set by {setter} => count 0
{n} carriers: # good parts an hour, = % interval # to #; stations blocked # % => count 1 2 3 4 5
Two rules: on the plateau is every count that may be as good as the = with most rate in the mean (its difference to
+ them is under 0.5 % in the mean, or its = % interval holds zero) => plateau
= are the fewest that are surely within 0.5 % of the most (the whole interval of the difference lies above -0.5 %).
+ => .sizing.choices.smallest_near.carriers
Blocking begins where more than 1 % of all stations' time is blocked.
required<< rate,>> #<< good parts an hour>> => .required_per_h
most simulated # => .most_per_h
upper bound #<< at the last count>> => .bound_per_h
{n} to {n2} carriers<<: the upper bound is set by {setter}>><<: as good as the most (plateau)>> => stretch
<<simulated, with its >>= % interval => 95
= carriers are the fewest of those looked at whose whole = % interval lies at or above the required # an hour. => fewest
FAILS: no number of carriers looked at makes the required # an hour. => .required_per_h
NOT DECIDED: no number of carriers looked at is shown to make the required # an hour; longer or more runs may decide it.
+ => .required_per_h
Close-up of the same: from # to # good parts an hour; THIS SCALE DOES NOT BEGIN AT ZERO => close_up
"""
MOVE: Final = """
{end} (@ {u3} along lane {lane}) to {end2}, @ {u}, {words2}, # s: {words3} governs; = % more of it would save # s
+<<; {words4}, # s>>. => move_from 7 0 1 2 3 4
{end} to {end2}, @ {u}, {words2}, # s: {words3} governs; = % more of it would save # s<<; {words4}, # s>>.
+ => move 0 1 2 3 4
<<way: >><<the whole way, >>@ {u} => move 0
{quantity}, limit: <<governs: >>{limit} $ {unit}<<, not reached>><<; beyond this scale>> => size_of
{quantity} ({unit}): reaches $ {unit2} => size_of
{quantity} over time, greatest size $ {unit} => size_of
<<governs: >>{limit} $ {unit}<<, not reached>> => size_of
limit that governs: = % more of it saves most time => 10
$ {mass} move. => move 5
Made = times in run 1. => move 6
"""
ACCURACY: Final = """
{station}, {axis}<<, {part}>>: {words}
{station}, {axis}: Cpk<< under>> # of ~, {verdict} => budget 0 1 ! 0<1
Cpk # of ~ asked => budget 0 1 ! 0<1
Cp ~ => budget 2
tolerance ±~ {u} => budget 3
worst case ±~ {u} => budget 4
bias ~ {u}, 3 σ ~ {u2}, together ±~ {u3} => budget 5 6 7
±~ {u} allowed => budget 3
{n} => a_part
<<{n} >>{part} ^ % (#) => halved 0 1
<<{n} >>{part} ^ % => halved 0
{part} (#) => halved_alone 1
^ %<< (#)>> => any_halved 0 1
= under 0.1 % => next_to_nothing
under 0.1 %: {part}<<, {part2}>><<, {part3}>><<, {part4}>><<, {part5}>> => all_next_to_nothing
In brackets the Cpk with one of 5 % or more halved.
^ % of the root sum of squares => halved 0
under 0.1 % of the root sum of squares => under
~ {u} to ~ {u2} => @e.limits.accuracy.budgets station=station axis=axis contributor=part : low_m high_m
halved: Cpk # of ~ => halved 1 2 ! 0<1
halved: Cpk under ~ of ~ => under_asked
worst case ~ {u} less => halved 3
Tool points and axes with a tolerance: <<= failing>><<, >><<= tight>><<, >><<= not checked>><<, >><<= holding>>.
+ => counted
"""
CURRENT: Final = """
Peaks and effective currents are those of ` s to ` s of run 1: of the first ` s after its warm-up of ` s, which check
+ calls the first ` s; what comes later is not looked at. => searched 0 1 2 0 2
time of run 1 (s)
Feeder {feeder}, lane {lane}
Simulated, not measured: run 1 of =, = h each, seed =; ~ s about the worst 10 ms of all feeders, in means over 10 ms.
+ => traced
Feeder {feeder}, lane {lane}: at most ~ A here; the peak of all that was searched, ~ A, comes at another
+ time => trace 0 2
Feeder {feeder}, lane {lane}: the peak of all that was searched, ~ A, is in this stretch => trace 2
<<feeder {feeder}: >><<↑ >>supply ~ A => trace 6
<<feeder {feeder}: >>effective ~ A => trace 7
<<feeder {feeder}: >><<↑ >>fuse ~ A => trace 8
<<feeder {feeder}: >>{words} ~ A at = s<<, of ~ A of its supplies>> => trace 0 1 6
feeder {feeder}: current from its supplies, = s to = s of run 1; at most ~ A at = s => trace 3 4 0 1
<<feeder {feeder}: >>worst 10 ms of the = s searched: ~ A of ~ A of its supply<<: {verdict}>>
+ => worst_bin 0 1 2 ! 1<2
<<feeder {feeder}: >>all = carriers restart at once: ~ A of ~ A of its supply<<: {verdict}>>
+ => @e.limits.power.feeders feeder=feeder : carriers restart_A supplies_A ! 1<2
<<feeder {feeder}: >>far end, {case}: ~ V, lowest ~ V; lost ~ V of ~ V<<: {verdict}>> => lost ! 0<1 2<3
<<feeder {feeder}: >>all = carriers brake at once and give back ~ J<<, ~ J of it into the braking resistor>>:
+ ~ V of ~ V trip<<: {verdict}>> => brakes 0 1 2 3 4 ! 3<4
<<feeder {feeder}: >>for information, the same were its braking resistor gone: ~ V of ~ V trip: {words}
+ => brakes 5 4 ! 0<1
"""
FLOOR: Final = """
{lane}: <<west end of lane {lane2}>><<{station}>> to <<{station2}>><<its east end>> @ {u} => distance
@ => distance
<<from {lane} to {lane2}: >>@ {u}<< across, centre to centre>> => apart
carrier {n} at {stop}<<, from the side>> => stands
fixture of carrier {n} at {stop} => stands
fixture of carrier {n}, @ {u} high => whole 2
<<centre line of >><<station >>{station}<< on lane {lane}>><<, from the side>>
<<{words}: >>level @ {u} => levels 0
@ {u} from level @ {u2} up to level @ {u3} => levels 1 2 0
overall<< length of the track with its platforms>> @ {u} => whole 0
scale bar of @ {u} => scale_bar
@ {u}, in all views along, across and upwards => scale_bar
Footprint of the track itself with its platforms and carriers: @ {u} by @ {u2}. => whole 0 1
"""
JAM: Final = """
<<step {n2}: >><<{words}: >>carrier {n} at {stop}, carries {carries} => after
<<step >>{n2}: carrier {n} moves from {stop} to {stop2} => deed
<<step >>{n2}: work ends at {stop}: carrier {n} now carries {carries}, next {station} => deed
<<– >><<carrier {n3} is held by carrier {n4}: >>carrier {n} at {stop} ({carries}) wants {stop2}, taken by carrier {n2}.
+ => held
<<The jam: >>= carriers hold each other in a ring<<.>> => ring
With carrier {n} the ring closes: none of these = can ever move again. => ring
Fewer carriers: with = carrier<<s>> it never locks, wherever it stands. => .locks.largest_count
Begun as planned, this line can lock up, with its = carriers. => .locks.carriers
The simulation was led along this way, with chosen work times and chosen luck, until it jammed: = steps. => .steps
Carriers are numbered from 0.
{n} => a_number
"""
TABLES: Final = {
    "track-chart": TRACK,
    "floor": FLOOR,
    "causes": CAUSES,
    "carriers": CARRIERS,
    "move": MOVE,
    "accuracy": ACCURACY,
    "current": CURRENT,
    "jam": JAM,
}


# ---- reading a picture -----------------------------------------------------------------------------------------------


def pieces(f: Facts, text: str) -> list[str]:
    """A text that says several things, in pieces; the first piece names what all are about."""
    if len(some := re.split(r"(?<=\.) (?=[A-Z–\d]|linewright )", text)) > 1:
        return some
    if (found := re.fullmatch(r"(\d+ of \d+): (.*)\.", text)) is not None:
        codes = [one.partition(": ") for one in found[2].split("; ")]
        return [f"{found[1]}.", *(f"{one[0]}: {words}" for one in codes for words in one[2].split(", "))]
    if re.match(r"\d+: ", text) and len(some := re.split(r"; (?=\d+: )", text)) > 1:
        return some
    if (found := re.fullmatch(r"(\d+: )(.*?)(?: carriers)?", text)) is not None and ", " in found[2] + ", ":
        marks = found[2].split(", ")
        if (all(one in MARKS for one in marks) and f"{found[1]}{found[2]}" != text) or len(marks) > 1:
            return [f"{found[1]}{one}" for one in marks]
    if (found := re.fullmatch(r"([A-Z][\w ]*): (.*)\.", text)) is not None and found[1] in HEADS:
        return found[2].split("; ")
    for mark in ("; also tried there: ", "; ", " · ", r", (?=worst case)", r"(?<=\)), "):
        if len(some := re.split(mark, text)) > 1:
            return some
    return []


HEADS: Final = (
    *("Most helps", "Of the whole line", "Does nothing", "Cannot be told", "Could not be tried"),
    "Not among the counts looked at",
)


def axes(f: Facts, picture: str) -> list[Ticks]:
    """Where round numbers of an axis may stand, up to how much."""
    if picture == "track-chart":
        longest = max(f.shown(lane.length_m) for lane in f.e.layout.lanes)
        return [
            Ticks("track", longest),
            Ticks("ruler", f.shown(1.05 * f.e.layout.loop_m)),
            Ticks("string_line", f.end_s),
        ]
    if picture == "causes":
        return [Ticks("causes", 1.1 * max(f.e.run.causes_cycle_s, f.takt_s), " s")]
    if picture == "carriers":
        return [
            Ticks(view, most)
            for view in ("carriers", "close_up")
            for most in (1.5 * f.bound_per_h, f.e.line.carriers + 1)
        ]
    if picture == "move":
        sizes = {one: next(size_of(f, {"quantity": one}))[0] for one in ("position", "speed", "acceleration", "jerk")}
        return [*(Ticks(view, 2.5 * most + 1.0) for view, most in sizes.items()), Ticks("jerk", next(move(f, {}))[1])]
    if picture == "current":
        some = f.e.limits.power.trace
        views = [f"trace_{1 + number}" for number in range(len(f.e.line.feeders))]
        most = [Ticks(view, 2.5 * some["current_A"].max() + 5.0, " A") for view in views]
        return [*most, *(Ticks(one.view, some["time_s"].max() + 1.0) for one in most)]
    return [Ticks("track", max(f.shown(lane.length_m) for lane in f.e.layout.lanes))] if picture == "jam" else []


@cache
def reader_of(line: str, picture: str) -> Reader:
    """What reads one picture of a line."""
    return reading(facts_of(line) if picture == "carriers" else replace(facts_of(line), sizing=None), picture)


def reading(f: Facts, picture: str) -> Reader:
    """The same for these facts."""
    table = rules_of(EVERYWHERE + TABLES[picture], {**vars(numbers_known), **vars(numbers_limits)})
    sign = "@@" if f.e.line.units == "inch" else "@"
    carried = {"accuracy": ("station", "axis"), "current": ("feeder",)}.get(picture, ())
    some = names(f)
    return Reader(f, [compiled(rule, some, sign) for rule in table], pieces, carried)


@cache
def facts_of(line: str) -> Facts:
    loaded = lw.load(EXAMPLES / f"{line}.yaml")
    e = lw.evaluate(loaded, hours=0.6, runs=2)
    if line.startswith("locks"):
        return Facts(e, locks=lw.gridlock(loaded))
    sizing = size_line(loaded, max(1, loaded.carriers - 3), loaded.carriers + 1, hours=0.6, runs=2)
    return Facts(e, find_gains(e.line, e.layout, e.plan, e.run), sizing)


@cache
def svg_of(line: str, picture: str) -> str:
    f = facts_of(line)
    material = Material(f.e, f.gains, f.sizing or "not sized", f.locks or "not asked", Shown())
    return draw(picture, material).svg()


def found_in(line: str, picture: str, svg: str | None = None) -> list[str]:
    """What of the numbers of a picture is not explained."""
    reader = reader_of(line, picture)
    return faults_of(svg or svg_of(line, picture), reader, axes(reader.facts, picture))


LINES = ["charts/five", *(pytest.param(one, marks=LONG) for one in ("charts/fourteen", "charts/forty", "demo/line"))]


@pytest.mark.parametrize("picture", [one for one in PICTURES if one != "jam"])
@pytest.mark.parametrize("line", LINES)
def test_every_number_is_the_evaluations(line: str, picture: str) -> None:
    assert found_in(line, picture) == []


def test_every_number_of_a_jam_is_the_proofs() -> None:
    assert found_in("locks/to-and-fro", "jam") == []


@LONG
@pytest.mark.parametrize(("line", "station"), [("charts/fourteen", "press"), ("demo/line", "press")])
def test_every_number_of_a_failure_and_of_what_stands_behind_it_is_the_logs(line: str, station: str) -> None:
    """No station fails in what the other drawings show."""
    e = lw.evaluate(lw.load(EXAMPLES / f"{line}.yaml"), hours=0.6, runs=2, seed=8)
    begin_s = next(row["start_s"] for row in numbers_known.rows(e.run.works, station=station) if row["repair_s"] > 0.0)
    f = Facts(e, from_s=math.floor(begin_s) - 10.0)
    svg = track_chart(e, shown=Shown(("string-line",), f.start_s, 120.0)).svg()
    assert f"{station} down" in svg
    assert "stand behind one another" in svg
    assert faults_of(svg, reading(f, "track-chart"), axes(f, "track-chart")) == []


@pytest.mark.parametrize("line", LINES)
def test_what_a_station_does_adds_up_to_all_of_its_time(line: str) -> None:
    shares: dict[str, float] = {}
    for one in words_of(svg_of(line, "track-chart")):
        told = re.fullmatch(r"(\S+): (\d+\.\d) % of the time .*", one.texts[0]) if one.kind == "label" else None
        if told is not None:
            shares[told[1]] = shares.get(told[1], 0.0) + float(told[2])
    assert list(shares) == [station.name for station in facts_of(line).e.line.stations]
    assert list(shares.values()) == pytest.approx([100.0] * len(shares), abs=1e-9)


@pytest.mark.parametrize("line", LINES)
def test_both_pictures_put_the_line_cycle_on_the_same_side_of_the_takt(line: str) -> None:
    """The causes add up to the time from the first to the last good part, which is not quite the line cycle."""
    run, takt_s = facts_of(line).e.run, facts_of(line).takt_s
    text = " ".join(text for one in words_of(svg_of(line, "causes")) for text in one.texts)
    side = re.search(r"Takt [\d.]+ s: .* (below|ABOVE) it\.", text)
    assert side is not None, "a line cycle that is just the takt is on no side"
    assert side[1].lower() == ("below" if run.line_cycle_s < takt_s else "above")


# ---- that these tests can fail ---------------------------------------------------------------------------------------


def swapped(table: Table, key: str, first: str, second: str) -> Table:
    """A table in which two rows have changed all but their names and steps."""
    at = [str(value) for value in table[key].tolist()]
    order = np.arange(len(at))
    one, other = at.index(first), at.index(second)
    order[[one, other]] = order[[other, one]]
    return Table(
        tuple(
            column
            if column.name in (key, "step")
            else Column(column.name, column.unit, column.values[order], column.meaning)
            for column in table.columns
        )
    )


def test_a_stations_numbers_told_at_another_are_found() -> None:
    true = facts_of("charts/five")
    run = true.e.run
    stations = swapped(run.stations, "station", "load", "leak")
    f = replace(true, e=replace(true.e, run=replace(run, stations=stations)), sizing=None)
    reader = replace(reader_of("charts/five", "track-chart"), facts=f)
    found = faults_of(svg_of("charts/five", "track-chart"), reader, axes(f, "track-chart"))
    assert {re.match(r"'(\w+): ", one)[1] for one in found if re.match(r"'\w+: ", one)} == {"load", "leak"}
    assert any(one.startswith("'3.29 s' at") and "'load'" in one for one in found)  # the number over the bar too


WRONG: Final = {
    "track-chart": {
        ">3.29 s<": ">3.13 s<",  # what stands over another bar
        "section 1 of lane front, 45.47 in": "section 1 of lane front, 45.47 mm",
        "section 4 of lane front, 15.16 in": "section 4 of lane front, 45.47 in",
        "54.5 V, lowest 50 V; 24.6 A in the cable": "54.1 V, lowest 50 V; 24.7 A in the cable",
        "press, x (along): holds; Cpk 1.68": "press, x (along): holds; Cpk 1.97",
        ">3: +75.8 /h<": ">3: +35.0 /h<",  # of another change there
        "2:\u00a0repairs at press halved": "3:\u00a0repairs at press halved",
        "0.18 W at its warmest (": "0.179 W at its warmest (",
        "feeder back: fails braking 135 V of 59 V": "feeder back: fails braking 135 V of 50 A",
        ">front: 54.4 V at the far end<": ">front: 54 V at the far end<",
    },
    "floor": {"load to press 57 in": "load to press 35 in", "press at 92 in": "press at 35 in"},
    "causes": {"transfer at east-cross, 2.607 s": "transfer at west-cross, 2.607 s"},
    "carriers": {"9 carriers: 999 good": "9 carriers: 998 good"},
    "move": {"thrust 82.6 in/s": "thrust 92.5 in/s", "reaches 354 in/s²": "reaches 354 in/s"},
    "accuracy": {"part 24 % (1.90)": "part 18 % (1.84)"},
    "current": {"feeder front: effective 0.908 A": "feeder front: effective 0.679 A"},
}
"""Picture of the five stations -> what stands there -> what does not belong there, though it does elsewhere."""


@pytest.mark.parametrize("picture", list(WRONG))
def test_a_wrong_number_is_found(picture: str) -> None:
    svg = svg_of("charts/five", picture)
    for stands, instead in WRONG[picture].items():
        assert stands in svg
        svg = svg.replace(stands, instead)
    found = found_in("charts/five", picture, svg)
    wrong = [plain(instead.strip("<>")).split("; ")[-1] for instead in WRONG[picture].values()]
    assert [one for one in wrong if not any(one in fault for fault in found)] == []


def test_a_number_that_hides_which_side_of_its_limit_it_is_on_is_found() -> None:
    true = facts_of("charts/five")
    strength = true.e.limits.strength
    columns = [
        replace(one, values=np.full_like(one.values, 2.4999)) if one.name == "static_safety" else one
        for one in strength.stations.columns
    ]
    limits = replace(true.e.limits, strength=replace(strength, stations=Table(tuple(columns))))
    f = replace(true, e=replace(true.e, limits=limits))
    reader = replace(reader_of("charts/five", "track-chart"), facts=f)
    assert reader.faults("static safety over 100 % (2.5, at least 2.5)", {"station": "press"}) == []
    hidden = reader.faults("static safety 100 % (2.5, at least 2.5)", {"station": "press"})
    assert "100 hides 100.004" in hidden[0]
    assert "2.5 of 2.5 hides 2.4999 of 2.5" in hidden[0]
