"""Every number of the papers is one of the records that they are written from, rounded, at its own place.

Each text is read by one of the rules below; a number on a station's page, or in a row that names a place, has to be a
figure of that place. Rows of findings are held against the very finding: its words, value, limit, margin and source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html import unescape
from itertools import pairwise
from typing import Final

import pytest

from linewright.handover.document.blocks import Document
from unit.handover.known_chapters import KNOWN
from unit.handover.known_findings import finding_wrong
from unit.handover.known_numbers import DOES, PaperFacts, paper_names
from unit.handover.numbers_of_papers import PaperReader, Said, changed, paper_compiled, paper_rules, said_in
from unit.handover.short_material import material_of

LONG = pytest.mark.long

# ---- the sentences ---------------------------------------------------------------------------------------------------

ANSWER: Final = """
-- the answer; shares of causes add up to 100.0 and are rounded up or down for it
<<BUT >>= <<OTHER >>CHECKS FAIL: they stand below. => counts 7
<<BUT >>= <<OTHER >>CHECK FAILS: it stands below. => counts 7
= OF THE OTHER CHECKS FAIL<<: they stand below>>. => counts 7
With = % confidence its average rate lies between #1 and #1 good parts per hour: {words}the #1 per hour that
+ the demand requires. => required_between
With = % confidence its average rate lies between #1 and #1 good parts per hour. => rate_told 1 2 3
Rate :: #1 good parts per hour, = % interval #1 to #1, from = runs => rate_told
Rate :: not known: {why} => why
A year :: § good parts (§ to §); the demand is = => a_year
Takt :: #3 s, that is #1 good parts per usable hour => .takt_s .required_per_h
Line cycle :: #3 s per good part<<, #3 s {words} than the takt of #3 s>> => cycle
line cycle :: #3 s per good part<<, #3 s {words} than the takt of #3 s>> => cycle
Limited by :: TRANSFER {loud} takes #3 s per good part at best, more than any step. => loud_ride
Limited by :: Of the steps the longest is {step}: #3 s per good part, #3 s more than the next, {step2}. => limiting
Limited by :: {step}: #3 s per good part, #3 s more than the next, {step2}. => limiting
Limited by :: BUT #1 % of the line cycle passes at {place}: look at the causes below before you speed up {step}.
+ => passes
Made of :: {cause} {place} := % => made_of
Made of :: all else := % => all_else
Carriers :: = for = stations => .e.line.carriers .stations
Findings :: = fail, = NOT CHECKED, = tight, = hold. => counts 0 1 2 3
Findings :: And of the proof of the traffic: = fail, = NOT CHECKED, = tight, = hold. => counts_of_proof
Signed: both have read this answer and know what fails (=), is not checked (=) or is tight (=). {words}.
+ => all_counts 0 1 2
Signed: both have read this answer and know what is not checked (=)<< or is tight (=)>>. {words}. => none_fails 1 2
Signed: both have read this answer and know what fails (=) or is not checked (=). {words}. => all_counts 0 1
Signed: both have read this answer and know what fails (=) or is tight (=). {words}. => all_counts 0 2
Findings :: What is not checked nobody has looked at.
Findings :: Of strength, power and safety = such rows count as failing. => counts 6
Findings :: Of strength, power and safety = such row counts as failing. => counts 6
What fails, is not checked or is tight: = of = rows => all_counts 4 5
{assumed}: <<with >>{instead} shortens the takt from #3 s to #3 s<<{joint} {against} the required #1>><<: {no}>>.
+ => effect 0 1 5
{assumed}: <<with >>{instead} the rate of good parts falls from #1 to #1 per hour<<{joint}
+ {against} the required #1>><<: {no}>>. => effect 0 1 5
{assumed}: <<with >>{instead} lengthens the takt from #3 s to #3 s. => effect 0 1
The same takes the margin of the average rate over the required one from #1 % to #1 %. => effect_margin
{assumed}: <<with >>{instead} the rate changes by less than a thousandth (#1 to #1 per hour)<<{joint}
+ {against} the required #1>><<: {no}>>. => effect 2 3 5
{assumed}: <<with >>{instead} what the rate does cannot be told from nothing: #1 per hour, 95 % interval #1 to
+ #1<<{joint} {against} the required #1>><<: {no}>>. => effect 4 2 3 5
{assumed}: <<with >>{instead} the rate goes from #1 to #1 per hour, #1 (95 % interval #1 to #1)<<{joint}
+ {against} the required #1>><<: {no}>>. => effect 0 1 4 2 3 5
Made from :: {made}
made from :: {made}
-- a page a station
{chapter}
Step = of = of the route<<, shared with {station2}>><<, {station3}>><< and {station4}>>; {words}. => route_step
lane :: {lane}: height [m], to the side [m] => at_lane
its centre :: [m] from the west end => centre 0
its centre :: [m] from the ring's start, in travel => centre 1
along the lane :: [m] from its start => centre 1
section :: = of = in travel, [m] long => in_section 0 1 2
nearest joint :: [m] {words} its centre, in travel => joint
stop before :: {stop}, [m], clear gap [m] => next_stop
stop after :: {stop}, [m], clear gap [m] => next_stop
station before :: {station2}, [m] => next_station
station after :: {station2}, [m] => next_station
keep clear :: [m]: no waiting carrier's body => stated 5
tool prepares :: [s] => stated 0
tool clears :: [s] => stated 1
settling :: [s]<<, the sheet's>> => stated 2
handshakes :: [s] before, [s] after => stated 3 4
rejects :: #1 % of the parts => stated 6
time :: [s] on average, spread #1 % ({law}) => law 0 1
time :: [s], always the same => law 0
time :: [s] to [s], mostly [s] ({law}) => law 2 3 4
motor zone :: {zone}, from [m] to [m] => zone_of
motor supply :: feeder {feeder}, section = in travel<<; [V] there when all carriers restart>> => in_section 0 3
in a year :: = works, [s] in work (counted in run 1 of =, scaled to a year) => station_year
time per good part :: #3 s<< of step {step}>>, waiting left out<<, #3 s {words2} than the takt of #3 s>> => good_part
passes here :: #3 s of the line cycle: {cause} #3 s => passes_here
passes here :: {cause} #3 s => passes_here 1
its time :: {does} := % => does
in the run :: = works, = parts flagged, in = runs of = h after their warm-up => in_run 0 1 3 4
in the run :: = works, = part flagged, in = runs of = h after their warm-up => in_run 0 1 3 4
failure {n} :: after [s] on average (exponential), in work; repair [s], always the same; = a year<<; = seen in =
+ whole runs, warm-up included>>
+ => failure 0 2 4 5 9
failure {n} :: after [s] on average (exponential), in work; repair [s] on average, spread #1 % ({law}); = a year
+<<; = seen in = whole runs, warm-up included>> => failure 0 2 3 4 5 9
force :: [N] down<<, [N] across>><<, [N] along>><<, greatest [N]>>, at [m], [m], [m] along, across,
+ over the carrier's top => forces
at the greatest force :: [N] of [N] allowed ({words2})<<; block {block} carries [N], static safety =>>
+ => at_greatest 0 1 5 6
at the greatest force :: [N] allowed ({words2}) => at_greatest 1
tolerance {axis} :: [m], Cpk = asked for<<: = reckoned; bias [m], σ [m]; most from {words2}>> => tolerance 0 1 2 3 4
move in, mostly :: from {stop}, [m] {loaded} in [s], up to [m/s]<<; {governs} governs>> => move_in
move out, mostly :: to {stop}, [m] {loaded} in [s], up to [m/s]<<; {governs} governs>> => move_out
guard :: light curtain, [m] from the nearest danger => guard 0
guard :: resolution [m] => guard 1
guard :: device [s], logic [s] => guard 2 3
guard :: end stops [m] to each side of the centre => guard 4
guard :: switches off motor zone {zone}
Findings: = fail, = NOT CHECKED, = tight, = hold => place_counts
Findings of {subject}: = fail, = NOT CHECKED, = tight, = hold => place_counts
findings :: = fail, = NOT CHECKED, = tight, = hold. => place_counts
"""
RATE: Final = """
against the clock :: #1 % of the #1 clock hours of those days; #1 h are not planned => demand 7 8 9
rate :: #1 good parts per hour, = % interval #1 to #1, from = runs => rate_told
No interval: {why}. => why
short halts :: #2 per good part, which cost the carriers #3 s => .e.run.short_halts.per_part .e.run.short_halts.lost_s
at most :: #1 good parts per hour: {words} => .e.bounds.upper_per_h
at most :: #1 good parts per hour: transfer {transfer} {words} => .e.bounds.upper_per_h
at most :: #1 good parts per hour: step {step} {words} => .e.bounds.upper_per_h
simulated :: #1, #1 % of that<<: {words}>> => share_of_bound
yardsticks :: practical worst case #1; balanced jobs #1 to #1: {words}
+ => .e.bounds.practical_worst_per_h .e.bounds.balanced_low_per_h .e.bounds.balanced_high_per_h
at least :: #1: every carrier alone, one thing after the other => .e.bounds.worst_per_h
loop :: #1 s per good part for one carrier with nothing in its way => .e.bounds.loop_s
Share of time after the warm-up, in %; each row adds up to 100. Never: {words}.
Each change alone, all else as it is, under the same luck: {words}, with the 95 % interval. {words2}.
Do nothing, which is less than a thousandth of the rate either way: {changes}
Cannot be told from no effect: {changes}
{changes}
{step}: one station takes #3 s per part at least, = in line take #3 s, ~ times as fast and not =: {words}.
+ => shared_step 0 1 2 3 4
{step}: In the run #3 s per good part => step_row 0
{step}: of the parts work {station} #1 % => shares_of_step
{step}: {station} #1 % => shares_of_step
{step}: {words}
@@ | how |
good parts a year | as demanded | = => demand 0
planned time a year | = shift a day × = h paid × = days | #1 h => demand 1 2 3 4
planned time a year | = shifts a day × = h paid × = days | #1 h => demand 1 2 3 4
losses that the run does not show | of planned time | #1 % => demand 5
usable time a year | planned time × (1 − losses) | #1 h => demand 6
usable time a year | planned time × (1 - losses) | #1 h => demand 6
takt | usable time ÷ good parts | #3 s => .takt_s
required rate | good parts ÷ usable time | #1 per hour => .required_per_h
@@ step |  | s per good part | of the takt | worked at
{step} | {words} | #3 | #1 % | {station}<<, {station2}>><<, {station3}>><<, {station4}>><<, {station5}>> => step_row
@@ step |  | s per good part | worked at
{step} | {words} | #3 | {station}<<, {station2}>><<, {station3}>><<, {station4}>><<, {station5}>> => step_row 0
@@ change | gain per hour | low | high |  | tried by
{changes} | #1 | #1 | #1 | {effect} | = runs of = h => gain_row
@@ cause | where | s per part | share
{cause} | {place} | #3 | := % => cause_row
= more |  | #3 | := % => causes_rest 0 1 2
together |  | #3 | #1 % => together_row
@@
-- transfers
{titled}
takes from :: lane {lane}: dock [m] from the west end of the floor => transfer 8
gives to :: lane {lane}: begins [m] from the west end of the floor => lane_begins
platform's centre :: [m] from the west end of the floor => platform_centre
platform's centre :: [m] west of the floor's west end => platform_west
platform :: [m] long, gap [m] => transfer 6 7
dock to platform :: [m] centre to centre => transfer 9
platform to dock :: [m] centre to centre => transfer 9
ride :: [m] => transfer 10
places aboard :: = => transfer 11
unlocks in :: [s] => transfer 0
rides with :: [m/s], [m/s²], [m/s³] => transfer 3 4 5
aligns in :: [s] => transfer 1
locks in :: [s] => transfer 2
part number :: {part_number}
in a year :: = carriers taken (counted in run 1 of =, scaled to a year) => transfer_year
"""
LIMITS: Final = """
the drive's limits :: [m/s], [m/s²], [m/s³] => .s.drive.speed_m_s .s.drive.acceleration_m_s2 .s.drive.jerk_m_s3
The hottest = coil groups => 4
station | tolerance | Cpk asked | Cpk | Cp | bias | σ | bias and 3 σ | worst case | out, ppm | pin
feeder | sections | carriers | supplies | all start | far end | worst 10 ms | effective | mean | give back
+ | all brake, to
+ | no resistor
feeder | sections | carriers | supplies | all start | far end | worst 10 ms | effective | mean | give back
+ | all brake, to
All figures in the feeder's worst case. {words}: section 1 is the first.
All start: all carriers at once; far end: the voltage that is left there. Worst 10 ms, effective and mean: in the run.
+ {words}.
@@ carrier | distance | time | speed at most (by) | acceleration at most (by) | jerk at most (by) | governs
{loaded}: {which} | [m] | [s] | [m/s] ({words}) | [m/s²] ({words2}) | [m/s³] ({words3}) | {governs} => may_do
@@ carrier | distance | time | speed at most (by) | acceleration at most (by) | jerk at most (by)
{loaded}: {which} | [m] | [s] | [m/s] ({words}) | [m/s²] ({words2}) | [m/s³] ({words3}) => may_do
@@ on | from | to | under | mean | warmest | for ever
{on} | [m] | [m] | {words} | [W] | [W] | [W] => coil
@@ station | force | size | allowed | allowed by | down | across | along | worst block | safety | deflection x, y, z
{station} | {word} | [N] | [N] | {words2} | #1 % | #1 % | #1 % | [N] | = | [m,], [m,], [m]
+ => strength 0 1 2 3 4 5 6 7 8 9
@@ station | force | size | allowed | allowed by
{station} | {word} | [N] | [N] | {words2} => strength_short
@@ a carrier | worst block | carries | the least block
<<{load2}>><<empty>>, {state} | {block} | [N] | [N] => moving
@@ station | tolerance | Cpk asked | Cpk | Cp | bias | σ | bias and 3 σ | worst case | out, ppm | pin
{station}, {axis} | [m] | = | = | = | [m] | [m] | [m] | [m] | = | {words} => tolerance 0 1 2 5 3 4 6 7 8
@@ station | tolerance | Cpk asked
{station}, {axis} | [m] | = => tolerance 0 1
@@ station | share of the root sum of squares (amount)
{station}, {axis} | {part} #1 % ([m])<<, {part2} #1 % ([m])>><<, {part3} #1 % ([m])>> => shares_of_axis
@@ what | lane | within | places | how
{mounted} | {lane} | [m] | = | {words} => mounting
@@
life of the guides :: [m] that nine of ten blocks outlive, over the moves of the run, load factor = => life 0 1
life of the guides :: = years at [m] a year => life 2 3
motor supply, each :: [V] ±#1 % direct current, [A] => supply 0 1 2
motor supply, each :: switches off above [V] => supply 3
motor supply, each :: part number {part_number}
capacitors :: [F] a feeder; no charge left [s] after switching off => supply 4 5
logic supply :: [V], [A] a section => supply 6 7
cabinet :: [m] of room on its rails; gives off [W] at its greatest inner temperature => supply 8 9
@@ | feeder | lane | enters | supplies | protection | cable and links | braking resistor | which checks
<{verdict}> | {feeder} | {words} | {words2} | = | {words3} [A] | {words4}, [degC] at work; rated [A] | none | {words5}
+ => feeder 0 1 2 3
<{verdict}> | {feeder} | {words} | {words2} | = | {words3} [A] | {words4}, [degC] at work; rated [A]
+ | [ohm], [W], on above [V] | {words5} => feeder
@@ feeder | sections | carriers | supplies | all start | far end | worst 10 ms | effective | mean | give back
+ | all brake, to | no resistor
{feeder} | = | = | [A] | [A] | [V] | [A] | [A] | [W] | [J] | [V] | <<->><<[V]>> => feeder_row
@@ feeder | from, to | runs | each, one way | area | conductor | most current | voltage lost | loss | least for voltage
{feeder} | {from} to {to} | = | [m] | = mm² | {words} | [A] | [V] | [W] | = mm² => runs_of_cable
@@ feeder | from, to | runs | each, one way | area | conductor | most current | voltage lost | loss
{feeder} | {from} to {to} | = | [m] | = mm² | {words} | [A] | [V] | [W] => runs_of_cable 0 1 2 3 4 5
@@ feeder | from, to | runs | each, one way | area | conductor
{feeder} | {from} to {to} | = | [m] | = mm² | {words} => runs_of_cable 0 1 2
@@ zone | lane | from | to | fed by | stations in it | logic stays alive
{zone} | {lane} | [m] | [m] | {feeder} | {words} | {words2} => zone_row
@@
feeder {feeder}, all carriers restart :: <<section >>{n}: [V] => section_volts
@@ process image of | how many | bytes each | bytes
{image} | = | = | = => image
all |  |  | = => bus 11
@@
the drive's cycle :: [s]; [bit/s] on the wire => bus 0 1
on the wire :: [s] for = bytes in = frame, #1 % of the cycle => bus 2 3 4 5
on the wire :: [s] for = bytes in = frames, #1 % of the cycle => bus 2 3 4 5
the controller :: scan [s] at most, bus cycle [s] => bus 6 7
it reacts in :: [s]; [s] where a cycle of bus and program is missed => bus 8 9
the rate counts on :: a reaction within [s] => bus 10
"""
REST: Final = """
-- traffic
From the planned start: {outcome}. From any placement, as hands may leave it: {outcome2}. Referee: carriers keep clear
+ in all = moves of a run. Recovery: {words} after = of = stops in which nobody moved a carrier. => proven 0 5 6
from the planned start :: {outcome}: {why} => why
from any placement :: {outcome}: {why} => why
referee :: = moves of = h, each integrated anew from the log: one carrier next behind another = times, = crossings to or
+ from a platform, = departures behind another; no fault => proven 0 9 1 2 3
nearest :: [m] between two centres, on lane {lane} => nearest
section dies, stands :: at every instant of = pairs of moves; the carrier behind brakes [s] later: contact at [m/s],
+ [J] of [kg], lane {lane}, [m] from its start => dead 0 1 3 4 5 6
section dies, coasts :: with a drag of [N], the least of the sheet: contact at [m/s], [J] of [kg], lane {lane}, [m] from
+ its start => dead_coasts 2 3 4 5 6
stopped and started :: good parts come again after = of = stops at random instants, nobody moving a carrier; the first
+ good part at most #1 s after the line goes on => recovery 0 1 2
recovery takes :: #1 s on average, #1 s at the worst, carriers one at a time => recovery 3 4
unverified parts :: on average #1 a stop flagged for a reject exit, #1 taken out by hand => recovery 5 6
The referee judged one run of = h, seed =; the recovery is a sample of stops, not a proof. => proven 9 10
-- upkeep
a year :: counted in run 1 of =, scaled to a year => .e.run.runs
The plan sends {words}: a margin of 0 % is as planned and no lack, less is a fault.
a carrier travels :: [m] for the one that travels most, [m] on average => travels
transfers take :: {transfer} = => transfer_year 0
@@ what | of each | every | a year, of one | by
{care} | {words} | = {due} | = | {words2} => care
@@ part | of each | in the line | lasts (years) | by | a year | on the shelf | for (months) | enough in
{wear} | {words} | = | = | {words2} | = | - | - | - => wear 0 1 2
{wear} | {words} | = | = | {words2} | = | = | = | #1 % => wear
@@ station | counted by | a year | one repair | repairs a year
{station} | {words} | = | [s] | [s] => failures_year
@@ station | stop | reckoned by | carrier | mass | from | goes on for | stands after
{station}, {station2}<<, {station3}>> | {case_} | {cause_} | {loaded} | [kg] | [m/s] | [m] | [s] => stop_ways
{station} | {case_} | {cause_} | {loaded} | [kg] | [m/s] | [m] | [s] => stop_way
@@
-- names alone
losses in the run :: {words}
Exactly the same work time for every part at: {words}.
-- hazards
= hazards are listed, a start for the risk assessment and no more: {heading} = => hazards_first
<<{heading}>> =<<. The list, to be filled in, is the paper hazards>> => of_heading
-- what it rests on
Simulated: = runs of = h, seed =; no warm-up was found that would have to be left out. => left_out 0 1 2
Simulated: = runs of = h, seed =; no warm-up could be judged, so nothing is left out. => left_out 0 1 2
Simulated: = runs of = h (whole shifts), seed =; every shift is to begin with an empty line, so nothing is left out.
+ => left_out 0 1 2
In a break the work {words}. In the last #0 min of each shift {words2}. => drained
Simulated: = runs of = h, seed =; the first #1 min of each are warm-up and left out. => left_out
Each run starts with all = carriers {words}. => .e.line.carriers
{words}Settling is the sheet's = s at: {words2}<< and = more>>. => settling_of_sheet
Parts are flagged at random, one by one: {station} #1 % => rejects
{station} #1 % => rejects
line file :: {title}, format = => .e.line.version
conveyor sheet :: {sheet}, format =: invented, matches no maker's conveyor<<; {note}>> => .s.version
"""


# ---- texts that say several things -----------------------------------------------------------------------------------

_APART: Final = {
    "Limited by": r"(?<=\.) (?=[A-Z])",
    "Made of": ", ",
    "Findings": r"(?<=\.) (?=[A-Z])",
    "passes here": ", ",
    "its time": ", ",
    "guard": "; ",
    "life of the guides": "; ",
    "motor supply, each": "; ",
    "transfers take": ", ",
}
_SHARED: Final = re.compile(r"(?<=\.) (?=In the run)|; (?=of the parts)|(?<=%), |(?<=%)\. ")


def split(label: str, text: str) -> list[str]:
    """What stands beside a label, or a paragraph, in pieces that say one thing each."""
    if label in _APART:
        return re.split(_APART[label], text)
    if label.endswith("all carriers restart"):
        return text.split(", ")
    step = re.match(r"(\S+): one station takes", text)
    if step:
        first, *rest = _SHARED.split(text)
        return [first, *(f"{step[1]}: {one.removesuffix('.')}" for one in rest)]
    if " hazards are listed" in text or text.startswith("Parts are flagged at random"):
        return [one.removesuffix(".") for one in re.split(r", (?=[A-Z]|\S+ \d)", text)]
    if re.match("Do nothing|Cannot be told from no", text):
        return text.removesuffix(".").split("; ")
    return [text]


# ---- rows of findings ------------------------------------------------------------------------------------------------

_SOURCE: Final = re.compile(r"\[(\d+)\] ")


def sources_in(document: Document) -> dict[str, str]:
    """Number -> source, out of the list in the last chapter."""
    found: dict[str, str] = {}
    for said in said_in(document, {}, split):
        head, colon, rest = said.text.partition(": [")
        if colon and said.names.get("chapter") == "What this rests on":
            numbered = _SOURCE.split(f"[{rest}")[1:]
            for number, words in zip(numbered[::2], numbered[1::2], strict=True):
                words = re.sub(r"[;.] ?$", "", words)
                found[number] = words if head == "Others" else f"{head}, {words}"
    return found


def finding_faults(said: Said, facts: PaperFacts, sources: dict[str, str]) -> list[str]:
    """Why a row of findings is not one of the findings; empty where it is."""
    verdict = said.cells[0].strip("<>")
    code, _, what = said.cells[1].partition(": ")
    found = ["no finding has this code and verdict"]
    for one in facts.findings:
        if one.code == code and one.verdict == verdict:
            wrong = finding_wrong(one, said, what, facts, sources)
            if not wrong:
                return []
            found = wrong if len(wrong) < len(found) or found[0].startswith("no finding has this code") else found
    return [f"{' | '.join(said.cells)!r}: {', '.join(found)}"]


# ---- reading a paper -------------------------------------------------------------------------------------------------


def reader_of(facts: PaperFacts, saids: list[Said]) -> PaperReader:
    """For some texts of one line."""
    names = paper_names(facts)
    table = ANSWER + RATE + LIMITS + REST
    for view in {one.names.get("view", "") for one in saids}:
        headings = view.split(" | ")
        if headings[0] == "station" and set(headings[1:]) <= set(DOES):
            table += f"@@ {view}\n{{station}}{' | :=' * len(headings[1:])} => station_does\n"
    rules = [paper_compiled(rule, names, facts.e.line.units) for rule in paper_rules(table, KNOWN)]
    return PaperReader(facts, rules, lambda _, text: [], units=facts.e.line.units)


def read(document: Document, facts: PaperFacts) -> list[Said]:
    """The texts of a paper, each with the place on whose page it stands."""
    line = facts.e.line
    places = {f"Station {one.name}": {"station": one.name} for one in line.stations}
    places |= {title: {"transfer": title.split()[-1]} for title in paper_names(facts)["titled"]}
    places |= {f"Findings of {one}": {} for one in ("rate", "layout")}
    return said_in(document, places, split)


_FREE: Final = re.compile(r"\d")


def faults_of(saids: list[Said], reader: PaperReader, sources: dict[str, str]) -> list[str]:
    """Every text whose numbers nothing explains, with the nearest figures."""
    found: list[str] = []
    for said in saids:
        if said.is_finding:
            found += finding_faults(said, reader.facts, sources)
        elif not _SOURCE.search(said.text):
            found += reader.faults(said.text, said.names)
    return found


_EMPTY: Final = '<svg xmlns="http://www.w3.org/2000/svg" width="600" height="200"></svg>'


@cache
def dossier_of(path: str, for_customer: bool = False, is_drawn: bool = False) -> tuple[Document, PaperFacts]:
    """The dossier of a line, and the records of it; its pictures, which are read elsewhere, empty if not asked for."""
    import vl_convert

    from linewright.handover.dossier.dossier import dossier_document

    material = material_of(path, for_customer)
    with pytest.MonkeyPatch.context() as patch:
        if not is_drawn:
            patch.setattr(vl_convert, "vegalite_to_svg", lambda spec, vl_version: _EMPTY)
        return dossier_document(material), PaperFacts(material)


def untraced(document: Document, facts: PaperFacts) -> list[str]:
    """What no record explains in a paper."""
    saids = read(document, facts)
    return faults_of(saids, reader_of(facts, saids), sources_in(document))


# ---- the dossier -----------------------------------------------------------------------------------------------------


def test_every_number_of_the_dossier_is_a_record_of_its_place() -> None:
    """Five stations, in inches, with rows that fail."""
    assert untraced(*dossier_of("charts/five.yaml")) == []


OTHERS: Final = (
    *(f"charts/{one}.yaml" for one in ("five", "fourteen", "forty")),
    *(f"ways/{one}.yaml" for one in ("ring", "branch", "variants", "shifts")),
    "demo/line.yaml",
)


@LONG
@pytest.mark.parametrize("for_customer", [False, True])
@pytest.mark.parametrize("path", OTHERS)
def test_every_number_of_other_dossiers_is_a_record_too(path: str, for_customer: bool) -> None:
    assert untraced(*dossier_of(path, for_customer)) == []


def unnoticed(document: Document, facts: PaperFacts, every: int) -> list[str]:
    """Texts in which one number is wrong and the reader finds nothing; of every so many texts one is tried."""
    saids = read(document, facts)
    reader, sources = reader_of(facts, saids), sources_in(document)
    missed = []
    for said in saids[::every]:
        if not _SOURCE.search(said.text) or said.is_finding:
            for text in changed(said.text):
                cells = tuple(text.split(" | ")) if said.is_finding else said.cells
                cells = cells + ("",) * (len(said.cells) - len(cells))
                if not faults_of([replace(said, text=text, cells=cells)], reader, sources):
                    missed.append(f"{said.text!r} as {text!r}")
    return missed


def test_a_wrong_digit_is_noticed() -> None:
    """In any number of any text."""
    assert unnoticed(*dossier_of("charts/five.yaml"), every=1) == []


def test_the_numbers_of_another_place_are_noticed() -> None:
    """Two stations whose pages change places but for the names."""
    document, facts = dossier_of("charts/five.yaml")
    saids = read(document, facts)
    reader, sources = reader_of(facts, saids), sources_in(document)
    assert faults_of(saids, reader, sources) == []
    names = [one.name for one in facts.e.line.stations]
    pages = {one: [said for said in saids if said.names.get("station") == one] for one in names}
    for here, there in pairwise(names):
        own = {said.text for said in pages[there]}
        moved = [
            replace(said, names={**said.names, "station": there})
            for said in pages[here]
            if said.text not in own and re.search(r"\d", said.text)
        ]
        alike = [said.text for said in moved if not faults_of([said], reader, sources)]
        assert [text for text in alike if not _ALIKE.match(text)] == []
        assert len(alike) <= len(moved) // 4
    for said, other in exchanged(saids):
        assert faults_of([said, other], reader, sources), f"{said.text!r} and {other.text!r} may change places"


# What two stations may have in common: a lane's stops, each at its own place, are told from another by no number alone.
_ALIKE: Final = re.compile(r"(lane|settling|handshakes) ::")


def exchanged(saids: list[Said]) -> list[tuple[Said, Said]]:
    """Rows of one grid with each other's numbers, where these differ."""
    found = []
    for one, other in pairwise(saids):
        same = one.names == other.names and one.names.get("view", "").split(" | ")[0] in _PLACES
        if same and one.cells and other.cells and one.cells[1:] != other.cells[1:] and not one.is_finding:
            two = [(one.cells[0], *other.cells[1:]), (other.cells[0], *one.cells[1:])]
            numbers = [re.findall(r"\d[\d.]*", " ".join(said.cells[1:])) for said in (one, other)]
            if one.cells[0] != other.cells[0] and numbers[0] != numbers[1]:
                found.append(
                    tuple(
                        replace(said, text=" | ".join(cells).strip(), cells=cells)
                        for said, cells in zip((one, other), two, strict=True)
                    )
                )
    return found


_PLACES: Final = ("station", "step", "feeder", "zone", "part", "what", "on")


# ---- the files -------------------------------------------------------------------------------------------------------


def bare(text: str) -> str:
    """Without spaces, hyphens of broken words and what fonts join."""
    joined = text.replace("\ufb01", "fi").replace("\ufb02", "fl").replace("\ufb00", "ff").replace("\ufb03", "ffi")
    return re.sub(r"[\s\u00ad\u200b-]", "", joined.replace("−", ""))


def texts_of(document: Document) -> list[str]:
    """Every text of a paper as a file has to hold it, in order; verdicts and drawings left out."""
    whole = said_in(document, {}, lambda label, text: [text])
    return [cell for said in whole for cell in re.split(r" ?\| ?| :: ", said.text) if cell and not cell.startswith("<")]


_FOOT: Final = 700
"""So many letters at most stand at the foot of a page and at the head of the next."""


def found_over_two_pages(text: str, one: str, at: int) -> int:
    """Where a long text begins that a page ends within; -1 where it does not stand there."""
    for first in range(len(one) - 1, 20, -1):
        begin = text.find(one[:first], at)
        end = begin + first
        if begin >= 0 and text.find(one[first:], end, end + _FOOT + len(one)) >= 0:
            return begin
    return -1


def missing(document: Document, text: str) -> list[str]:
    """What of a paper does not stand in a text after what comes before it."""
    text, at, lost = bare(text), 0, []
    for one in texts_of(document):
        found = text.find(bare(one), at)
        if found < 0:
            found = found_over_two_pages(text, bare(one), at)
        if found < 0:
            lost.append(one)
        else:
            at = found
    return lost


@LONG
def test_the_pdf_holds_every_text_of_the_dossier_in_order() -> None:
    from io import BytesIO

    from pypdf import PdfReader

    from linewright.handover.document.pdf import pdf_of

    document, _ = dossier_of("charts/five.yaml", is_drawn=True)
    pages = PdfReader(BytesIO(pdf_of(document))).pages
    assert missing(document, "\n".join(page.extract_text() for page in pages)) == []


def test_the_page_holds_every_text_of_the_dossier_in_order() -> None:
    from linewright.handover.document.html import html_of

    document, _ = dossier_of("charts/five.yaml")
    page = re.sub(r"<svg.*?</svg>", "", html_of(document), flags=re.DOTALL)
    assert missing(document, unescape(re.sub(r"<[^>]+>", " ", page))) == []
    assert missing(document, unescape(re.sub(r"<[^>]+>", " ", page.replace("4.538", "4.583")))) != []
