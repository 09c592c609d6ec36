"""What may stand at the numbers of a paper's texts: figures of the records, in SI, by the names in the text.

Each function is named by a rule of the texts; nothing here calls what writes the papers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from linewright.evaluation import Evaluation
from linewright.version import __version__
from unit.pictures import numbers_known
from unit.pictures.numbers_known import rows
from unit.pictures.numbers_of import Fields, plain

Rows = Iterator[tuple[float, ...]]
VERDICTS: Final = ("fails", "not checked", "tight", "holds")
DOES: Final = {
    "handshake": "done_handshake_share",
    "waits for operator": "operator_share",
    "operator": "operator_share",
    "outside": "outside_share",
    "break": "break_share",
    "changeover": "changeover_share",
    **{
        one: f"{one}_share"
        for one in ("down", "work", "clear", "blocked", "settling", "exchange", "starved", "prepare")
    },
    "partner": "partner_share",
}
"""What a station does -> its share of the time."""


@dataclass(frozen=True, eq=False)
class PaperFacts:
    """What the numbers of a paper are held against: the records of a Material."""

    m: Any

    @property
    def e(self) -> Evaluation:
        """Of the line."""
        return self.m.evaluation

    @property
    def gains(self) -> Any:
        """What would help."""
        return self.m.gains

    @property
    def sizing(self) -> None:
        """No paper is written from it."""
        return

    def shown(self, length_m: float) -> float:
        """A length; the reader of a paper knows its units."""
        return length_m

    @property
    def takt_s(self) -> float:
        """What the demand asks for. [s]"""
        return math.nan if self.e.takt is None else self.e.takt.takt_s

    @property
    def required_per_h(self) -> float:
        """The same as a rate. [1/h]"""
        return math.nan if self.e.takt is None else self.e.takt.required_rate_per_h

    @cached_property
    def findings(self) -> tuple[Any, ...]:
        """All, those of the proof too."""
        return (*self.e.findings, *(() if isinstance(self.m.proof, str) else self.m.proof.findings))

    @property
    def stations(self) -> int:
        """How many there are."""
        return len(self.e.line.stations)

    @property
    def s(self) -> Any:
        """The conveyor sheet."""
        return self.e.line.conveyor

    @property
    def margin_pct(self) -> float:
        """Of the rate over the required one. [%]"""
        return 100.0 * (self.e.run.rate.mean / self.required_per_h - 1.0)


def paper_names(f: PaperFacts) -> dict[str, Sequence[str]]:
    """Every name that may stand in a text, by kind."""
    e, line = f.e, f.e.line
    run = e.run
    made = "not simulated" if run is None else f"{run.runs} runs of {run.hours:g} h, seed {run.seed}"
    hashed = line.input_hash
    legs = [] if e.limits is None else list(e.limits.motion.legs.rows())
    found = {
        **numbers_known.names(f),
        "made": [
            f"Linewright {__version__}; {made}; input {hashed}",
            f"Linewright {__version__}, {made}, input {hashed[:16]}.",
        ],
        "sheet": [line.conveyor.name],
        "title": [line.name],
        "note": [line.conveyor.maker_note],
        "does": list(DOES),
        "assumed": [two for one in f.m.effects for two in (plain(one.assumed), _capital(one.assumed))],
        "instead": [plain(one.instead) for one in f.m.effects],
        "against": ["may fall below", "BELOW"],
        "joint": ["; the rate", ", the rate", ","],
        "no": ["the answer would be NO"],
        "loaded": ["empty", "with a part"],
        "load": ["loaded"],
        "loud": [one.name.upper() for one in e.layout.transfers],
        "titled": _titles(f),
        "chapter": [f"Station {one.name}" for one in line.stations],
        "subject": sorted({one.subject for one in f.findings}),
        "governs": sorted({str(row["governs"]) for row in legs}),
        "wear": [] if e.limits is None else [str(row["part"]) for row in e.limits.upkeep.wear.rows()],
        "care": [] if e.limits is None else [str(row["what"]) for row in e.limits.upkeep.calendar.rows()],
        "law": ["normal", "lognormal", "triangular", "exponential", "gamma", "uniform"],
        "state": [] if e.limits is None else [str(row["state"]) for row in e.limits.strength.moving.rows()],
        "block": [f"{a}-{b}" for a in ("front", "rear") for b in ("left", "right")],
        "part_number": _part_numbers(f),
        "on": [*(one.name for one in e.layout.lanes), *(one.name for one in e.layout.transfers)],
        "legal": ["ISO 12100"],
        "image": ["carriers", "transfers", "line"],
        "outcome": ["never locks", "can lock up"],
        "changes": [plain(one.change.words) for one in f.gains.gains] if f.gains is not None else [],
        "mounted": [] if e.limits is None else [_spaced(row["what"]) for row in e.limits.accuracy.mounting.rows()],
        "why": _whys(f),
        "due": ["weeks", "months"],
        "case_": ["powered", "coast"],
        "cause_": ["plan", "fault"],
        "which": [", ".join(some) for some in _WHICH],
        "from": _ends_of_cable(f, "from"),
        "to": _ends_of_cable(f, "to"),
        "word": ["greatest", "stated"],
        "heading": [] if e.limits is None else sorted({str(row["heading"]) for row in e.limits.safety.hazards.rows()}),
    }
    own = [one for kind in ("station", "transfer", "lane", "step", "zone", "feeder") for one in found[kind]]
    found["words"] = sorted({one for one in own if re.search(r"\d", one)})
    return found


_WHICH: Final = (
    *(("shortest",), ("longest",), ("made most",), ("shortest", "made most"), ("made most", "longest")),
    *(("shortest", "longest"), ("shortest", "made most", "longest")),
)


def _ends_of_cable(f: PaperFacts, key: str) -> list[str]:
    return [] if f.e.limits is None else sorted({str(row[key]) for row in f.e.limits.power.schedule.rows()})


def _titles(f: PaperFacts) -> list[str]:
    return [f"{kind} {one.name}" for one in f.e.layout.transfers for kind in TITLES]


TITLES: Final = ("Cross transfer", "Lift", "Turntable", "Transfer", "Cross-transfer")
"""What a part of the chapter of the transfers begins with, before a transfer's name."""


def _spaced(text: Any) -> str:
    return str(text).replace("_", " ")


def _capital(text: str) -> str:
    text = plain(text)
    return text[:1].upper() + text[1:]


def _whys(f: PaperFacts) -> list[str]:
    some = [] if f.e.run is None else [f.e.run.reason]
    if isinstance(f.m.proof, str):
        return [*some, f.m.proof]
    locks = (f.m.proof.gridlock.from_start, f.m.proof.gridlock.from_any_placement)
    return [one for one in (*some, *(lock.why for lock in locks)) if one]


def _part_numbers(f: PaperFacts) -> list[str]:
    some = [*f.s.transfers.values(), *f.s.sections, f.s.carrier, f.s.supply]
    return [one.part_number for one in some if one is not None and getattr(one, "part_number", None)]


# ---- the answer ------------------------------------------------------------------------------------------------------


def counts(f: PaperFacts, n: Fields) -> Rows:
    """How many findings fail, are not checked, tight, hold; that many do not hold; of how many; of the safety group."""
    found = [sum(one.verdict == verdict for one in f.e.findings) for verdict in VERDICTS]
    grave = [
        one for one in f.e.findings if one.verdict == "not checked" and one.subject in ("strength", "power", "safety")
    ]
    other = found[0] - any(one.code == "rate" and one.verdict == "fails" for one in f.e.findings)
    yield (*found, sum(found[:3]), sum(found), len(grave), other)


def counts_of_proof(f: PaperFacts, n: Fields) -> Rows:
    """How many rows of the proof fail, are not checked, tight, hold."""
    yield tuple(sum(one.verdict == verdict for one in f.m.proof.findings) for verdict in VERDICTS)


def all_counts(f: PaperFacts, n: Fields) -> Rows:
    """The same of all rows; that many do not hold; of how many."""
    found = [sum(one.verdict == verdict for one in f.findings) for verdict in VERDICTS]
    yield (*found, sum(found[:3]), sum(found))


def none_fails(f: PaperFacts, n: Fields) -> Rows:
    """The same where none fails."""
    yield from (row for row in all_counts(f, n) if row[0] == 0)


def loud_ride(f: PaperFacts, n: Fields) -> Rows:
    """Least time per good part of a transfer whose name stands in capitals. [s]"""
    for one in f.e.layout.transfers:
        if one.name.upper() == n["loud"]:
            yield from (row[:1] for row in numbers_known.ridden(f, {"transfer": one.name}))


def rate_told(f: PaperFacts, n: Fields) -> Rows:
    """Rate, confidence in per cent, least, most, runs; the required rate."""
    rate = f.e.run.rate
    yield rate.mean, 100.0 * rate.confidence, rate.low, rate.high, f.e.run.runs


def required_between(f: PaperFacts, n: Fields) -> Rows:
    rate = f.e.run.rate
    yield 100.0 * rate.confidence, rate.low, rate.high, f.required_per_h


def why(f: PaperFacts, n: Fields) -> Rows:
    """The proof's own words."""
    yield ()


def strength_short(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.strength.stations, station=n["station"]):
        if n["word"] == ("greatest" if row["at_greatest"] else "stated"):
            yield row["force_N"], row["allowed_N"]


def together_row(f: PaperFacts, n: Fields) -> Rows:
    """All causes: their time and share."""
    yield sum(row["time_s"] for row in f.e.run.cycle_causes.rows()), 100.0


def a_year(f: PaperFacts, n: Fields) -> Rows:
    """Good parts of a year in the mean, at least, at most; the demand."""
    hours = f.e.takt.usable_time_s / 3600.0
    rate = f.e.run.rate
    yield (*(hours * one for one in (rate.mean, rate.low, rate.high)), f.e.line.demand.good_parts_per_year)


def cycle(f: PaperFacts, n: Fields) -> Rows:
    """Line cycle, its distance from the takt, the takt."""
    cycle_s = f.e.run.line_cycle_s
    if "words" not in n or n["words"] == ("less" if cycle_s < f.takt_s else "more") or math.isnan(f.takt_s):
        yield cycle_s, abs(cycle_s - f.takt_s), f.takt_s


def made_of(f: PaperFacts, n: Fields) -> Rows:
    """Share of a cause at a place. [%]"""
    for row in rows(f.e.run.cycle_causes, kind=n["cause"], place=n["place"]):
        yield (100.0 * row["share"],)


def all_else(f: PaperFacts, n: Fields) -> Rows:
    """Share of all but the five greatest. [%]"""
    shares = sorted((row["share"] for row in f.e.run.cycle_causes.rows()), reverse=True)
    yield (100.0 * sum(shares[5:]),)


def effect(f: PaperFacts, n: Fields) -> Rows:
    """Of a figure that nobody stated: before, after, low, high, what it moves, the rate that is then required."""
    for one in f.m.effects:
        if plain(one.assumed)[1:] == n["assumed"][1:] and plain(one.instead) == n["instead"]:
            low, high = (math.nan if two is None else two for two in (one.low, one.high))
            required = 3600.0 / one.after if one.quantity == "takt" else f.required_per_h
            if (n.get("against", ""), "no" in n) == _against(f, one, required):
                yield one.before, one.after, low, high, one.after - one.before, required


def _against(f: PaperFacts, one: Any, required_per_h: float) -> tuple[str, bool]:
    """What an effect's sentence says of the required rate, and whether it says that the answer would be NO."""
    rate = f.e.run and f.e.run.rate
    if not rate or one.quantity == "rate margin" or f.e.takt is None:
        return "", False
    times = one.after / one.before if one.quantity == "rate" and one.low is None else 1.0
    low, high = times * rate.low + (one.low or 0.0), times * rate.high + (one.high or 0.0)
    if high < required_per_h and rate.high >= f.required_per_h:
        return "BELOW", True
    return ("may fall below" if low < required_per_h and rate.low >= f.required_per_h else ""), False


def effect_margin(f: PaperFacts, n: Fields) -> Rows:
    """Of the losses: the margin of the rate over the required one, before and after. [%]"""
    rate = f.e.run.rate.mean
    for one in f.m.effects:
        if one.quantity == "takt":
            yield 100.0 * (rate * one.before / 3600.0 - 1.0), 100.0 * (rate * one.after / 3600.0 - 1.0)


# ---- a place ---------------------------------------------------------------------------------------------------------


def _stop(f: PaperFacts, n: Fields) -> Any:
    return f.e.layout.stop_of(n["station"])


def at_lane(f: PaperFacts, n: Fields) -> Rows:
    lane = f.e.layout.lane(n["lane"])
    if _stop(f, n).lane == n["lane"]:
        yield lane.level_m, lane.across_m


def centre(f: PaperFacts, n: Fields) -> Rows:
    """From the west end, along the lane."""
    yield _stop(f, n).floor_m, _stop(f, n).travel_m


def in_section(f: PaperFacts, n: Fields) -> Rows:
    """Number of the section in travel, of how many, its length; of its feeder's voltage there."""
    stop, lane = _stop(f, n), f.e.layout.lane(_stop(f, n).lane)
    number = sum(joint <= stop.travel_m for joint in lane.joints_travel_m) + 1
    volts = [
        row["voltage_V"]
        for row in (() if f.e.limits is None else f.e.limits.power.sections.rows())
        if row["lane"] == lane.name and row["number"] == number and n.get("feeder", row["feeder"]) == row["feeder"]
    ]
    yield number, len(lane.sections), lane.sections[number - 1], volts[0] if volts else math.nan


def joint(f: PaperFacts, n: Fields) -> Rows:
    """From the centre to the nearest joint."""
    stop = _stop(f, n)
    joints = f.e.layout.lane(stop.lane).joints_travel_m
    near = min(joints, key=lambda one: abs(one - stop.travel_m))
    if (near < stop.travel_m) == (n["words"] == "before"):
        yield (abs(near - stop.travel_m),)


def next_stop(f: PaperFacts, n: Fields) -> Rows:
    """To the stop before or after on the lane, and the air between two bodies there; in or against travel."""
    stop = _stop(f, n)
    for one in f.e.layout.stops:
        if one.label == n["stop"] and one.lane == stop.lane:
            way = one.travel_m - stop.travel_m
            lane = f.e.layout.lane(stop.lane)
            ways = (way, way + lane.length_m, way - lane.length_m)
            for some in ways if getattr(lane, "radius_m", None) or lane.from_ is None else ways[:1]:
                yield abs(some), abs(some) - f.e.layout.body_m


def next_station(f: PaperFacts, n: Fields) -> Rows:
    here, there = _stop(f, n), f.e.layout.stop_of(n["station2"])
    way = abs(there.travel_m - here.travel_m)
    if here.lane == there.lane:
        yield (way,)
        yield (f.e.layout.lane(here.lane).length_m - way,)


def stated(f: PaperFacts, n: Fields) -> Rows:
    """What the line file and the sheet say of a station."""
    one = f.e.line.station(n["station"])
    settling = f.s.settling_s if one.settling_s is None else one.settling_s
    exact = [one.prepare_s, one.clear_s, settling, f.s.reaction.start_handshake_s, f.s.reaction.done_handshake_s]
    yield (*exact, one.keep_clear_m, 100.0 * one.rejects, one.end_stops_m or math.nan)


def law(f: PaperFacts, n: Fields) -> Rows:
    """Of the work: mean, spread in per cent, least, most, likely. [s]"""
    yield _law(f.e.line.station(n["station"]).time)


def _law(time: Any) -> tuple[float, ...]:
    some = (time.stated_mean_s, None if time.cv is None else 100.0 * time.cv, time.least_s, time.most_s, time.likely_s)
    return tuple(math.nan if one is None else one for one in some)


def zone_of(f: PaperFacts, n: Fields) -> Rows:
    for one in f.e.line.motor_zones:
        if one.name == n["zone"] == f.e.line.station(n["station"]).motor_zone:
            yield one.from_m, one.to_m


def station_year(f: PaperFacts, n: Fields) -> Rows:
    use = f.e.limits.upkeep.use
    number = [one.name for one in f.e.line.stations].index(n["station"])
    yield use.works[number], use.work_s[number], f.e.run.runs


def route_step(f: PaperFacts, n: Fields) -> Rows:
    route = f.e.line.route
    for number, step in enumerate(route):
        others = {n[key] for key in ("station2", "station3", "station4", "station5") if key in n}
        if n["station"] in step.stations and others == set(step.stations) - {n["station"]}:
            yield number + 1, len(route)


def good_part(f: PaperFacts, n: Fields) -> Rows:
    """Time per good part of a station's step, its distance from the takt, the takt."""
    for row in f.e.run.steps.rows():
        shared = [one["station"] for one in rows(f.e.run.stations, step=row["step"])]
        if n["station"] in shared and ("step" in n) == (len(shared) > 1) and n.get("step", row["step"]) == row["step"]:
            time_s = row["time_per_good_part_s"]
            if "words2" not in n or n["words2"] == ("less" if time_s < f.takt_s else "more") or math.isnan(f.takt_s):
                yield time_s, abs(time_s - f.takt_s), f.takt_s


def passes_here(f: PaperFacts, n: Fields) -> Rows:
    """Of the line cycle at a station or a transfer, of it by a cause. [s]"""
    place = n.get("transfer") or n["station"]
    some = [row for row in f.e.run.cycle_causes.rows() if row["place"] == place]
    whole = sum(row["time_s"] for row in some)
    yield from ((whole, row["time_s"]) for row in some if n.get("cause", row["kind"]) == row["kind"])


def does(f: PaperFacts, n: Fields) -> Rows:
    """Share of what a station does. [%]"""
    yield (100.0 * rows(f.e.run.stations, station=n["station"])[0][DOES[n["does"]]],)


def in_run(f: PaperFacts, n: Fields) -> Rows:
    row = rows(f.e.run.stations, station=n["station"])[0]
    yield row["parts"], row["rejected"], row["failures"], f.e.run.runs, f.e.run.hours


def failure(f: PaperFacts, n: Fields) -> Rows:
    """Of one kind of failure: every, repair with spread, a year, seen."""
    number = int(n["n"])
    one = f.e.line.station(n["station"]).failures[number - 1]
    seen = [row["seen"] for row in rows(f.e.run.failures, station=n["station"], failure=number)]
    some = [row["per_year"] for row in rows(f.e.limits.upkeep.failures, station=n["station"])]
    year = some[number - 1] if len(some) >= number else math.nan
    every, repair = _law(one.every), _law(one.repair)
    yield (
        every[0],
        every[1],
        repair[0],
        repair[1],
        year,
        seen[0] if seen else math.nan,
        repair[2],
        repair[3],
        repair[4],
        f.e.run.runs,
    )


def forces(f: PaperFacts, n: Fields) -> Rows:
    """A tool's force down or up, across, along, the greatest, where."""
    for one in f.e.line.station(n["station"]).force or ():
        greatest = math.nan if one.greatest_N is None else one.greatest_N
        yield (one.down_N, abs(one.across_N), abs(one.along_N), greatest, *one.at_m)


def at_greatest(f: PaperFacts, n: Fields) -> Rows:
    """The row of a station's greatest force, of its stated one where it has no greater."""
    some = sorted(rows(f.e.limits.strength.stations, station=n["station"]), key=lambda row: row["at_greatest"])
    for row in some[-1:]:
        if n.get("block", row["worst_block"]) == row["worst_block"]:
            yield _strength(row)


def strength(f: PaperFacts, n: Fields) -> Rows:
    """A row of the forces: size, allowed, shares, worst block's load, safety, deflections."""
    for row in rows(f.e.limits.strength.stations, station=n["station"]):
        if n["word"] == ("greatest" if row["at_greatest"] else "stated"):
            yield _strength(row)


def _strength(row: Any) -> tuple[float, ...]:
    shares = tuple(100.0 * abs(row[f"{way}_share"]) for way in ("down", "across", "along"))
    bent = tuple(row[f"deflection_{axis}_m"] for axis in "xyz")
    return (row["force_N"], row["allowed_N"], *shares, row["block_load_N"], row["static_safety"], *bent)


def tolerance(f: PaperFacts, n: Fields) -> Rows:
    """Of an axis: tolerance, Cpk asked, Cpk, bias, sigma, Cp, both, worst case, ppm."""
    for row in rows(f.e.limits.accuracy.summary, station=n["station"], axis=n["axis"]):
        both = abs(row["bias_m"]) + 3.0 * row["sigma_m"]
        some = (row["tolerance_m"], row["asked_cpk"], row["cpk"], row["bias_m"], row["sigma_m"], row["cp"])
        yield (*some, both, row["worst_case_m"], row["ppm"])


def mostly(f: PaperFacts, n: Fields) -> Rows:
    """Of the leg into or out of a station that is made most: distance, time, greatest speed."""
    here = f"station {n['station']}"
    into = n["way_"] == "in"
    legs = [row for row in f.e.limits.motion.legs.rows() if row["end" if into else "start"] == here]
    most = max((row["made"] for row in legs), default=0)
    for row in legs:
        same = row["start" if into else "end"] == n["stop"] and row["loaded"] == (n["loaded"] == "with a part")
        if same and row["made"] == most and n.get("governs", row["governs"]) == row["governs"]:
            yield row["distance_m"], row["time_s"], row["peak_speed_m_s"]


def move_in(f: PaperFacts, n: Fields) -> Rows:
    yield from mostly(f, {**n, "way_": "in"})


def move_out(f: PaperFacts, n: Fields) -> Rows:
    yield from mostly(f, {**n, "way_": "out"})


def guard(f: PaperFacts, n: Fields) -> Rows:
    one = f.e.line.station(n["station"])
    if one.guard is not None:
        g = one.guard
        some = (g.distance_m, g.resolution_m, g.device_s, g.logic_s, one.end_stops_m, g.height_m, g.unlocks_after_s)
        yield tuple(math.nan if value is None else value for value in some)


def place_counts(f: PaperFacts, n: Fields) -> Rows:
    """How many findings of a chapter fail, are not checked, tight, hold."""
    for some in _about(f, n):
        yield tuple(sum(one.verdict == verdict for one in some) for verdict in VERDICTS)


def is_about(one: Any, n: Fields) -> bool:
    """Whether the words of a finding name the station or its step, or the transfer, whose page it is."""
    if "transfer" in n:
        return bool(re.search(rf"(?<![\w-]){re.escape(n['transfer'])}(?![\w-])", one.where))
    listed = r"(?:(?:station|step) (?:[\w-]+/)*|stations (?:[\w-]+(?:, | and ))*)"
    return bool(re.search(rf"\b{listed}{re.escape(n['station'])}(?![\w-])", one.where))


CHAPTERS: Final = {
    "Motion": "motion",
    "Strength": "strength",
    "Accuracy": "accuracy",
    "Power": "power",
    "Bus": "bus",
    "Traffic": "traffic",
    "Upkeep": "upkeep",
    "Safety": "safety",
}


def _about(f: PaperFacts, n: Fields) -> Iterator[list[Any]]:
    """Findings that a chapter or a place counts; rows that say the same of several feeders count once."""
    subject = n.get("subject") or CHAPTERS.get(n.get("chapter", ""))
    place = n.get("transfer") or n.get("station")
    if place is not None:
        yield [one for one in f.findings if is_about(one, n)]
    elif subject is not None:
        some = [one for one in f.findings if one.subject == subject]
        yield some
        alike = {(one.code, one.verdict, one.value, one.limit, one.where.partition(":")[2]) for one in some}
        yield [type("F", (), {"verdict": one[1]})() for one in alike]
