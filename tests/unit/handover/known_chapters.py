"""What may stand at the numbers of a paper's chapters: figures of the records, in SI, by the names in the text."""

from __future__ import annotations

import math
import re
from typing import Final

from unit.handover import known_numbers
from unit.handover.known_numbers import DOES, VERDICTS, PaperFacts, Rows
from unit.pictures import numbers_known
from unit.pictures.numbers_known import rows
from unit.pictures.numbers_of import Explain, Fields, plain

_MODULES: Final = ("known_chapters", "known_numbers", "numbers_known")


# ---- transfers -------------------------------------------------------------------------------------------------------


def transfer(f: PaperFacts, n: Fields) -> Rows:
    """Stated of a transfer: interlocks, speed, acceleration, jerk, platform, gap, docks' distance, ride, places."""
    one = next(some for some in f.e.layout.transfers if some.name == n["transfer"])
    sheet = f.s.transfers[one.kind]
    aboard = one.on_m + one.off_m
    exact = (sheet.unlock_s, sheet.align_s, sheet.lock_s, sheet.speed_m_s, sheet.acceleration_m_s2, sheet.jerk_m_s3)
    for stop in f.e.layout.stops:
        if stop.kind == "dock" and stop.transfer == one.name and n.get("lane", stop.lane) == stop.lane:
            for reach in (one.on_m, one.off_m, one.rear_m, aboard):
                yield (*exact, one.platform_m, one.gap_m, stop.floor_m, reach, one.ride_m, one.places)


def transfer_year(f: PaperFacts, n: Fields) -> Rows:
    number = [one.name for one in f.e.layout.transfers].index(n["transfer"])
    yield f.e.limits.upkeep.use.transfer_cycles[number], f.e.run.runs


def lane_begins(f: PaperFacts, n: Fields) -> Rows:
    """Where a lane begins, in travel."""
    one = f.e.layout.lane(n["lane"])
    yield (one.travel_to_floor(0.0),)


def platform_centre(f: PaperFacts, n: Fields) -> Rows:
    """Where the platform's centre stands on the floor, beyond the end of the lane that it takes from."""
    one = next(some for some in f.e.layout.transfers if some.name == n["transfer"])
    yield (f.e.layout.lane(one.takes[0]).travel_to_floor(f.e.layout.lane(one.takes[0]).length_m + one.off_m),)


def platform_west(f: PaperFacts, n: Fields) -> Rows:
    """How far west of the floor's west end it stands."""
    for (floor_m,) in platform_centre(f, n):
        yield (-floor_m,)


# ---- rate ------------------------------------------------------------------------------------------------------------


def demand(f: PaperFacts, n: Fields) -> Rows:
    """Good parts, shifts, hours paid, days, planned hours, losses in per cent, usable hours, clock, unplanned hours."""
    d, takt = f.e.line.demand, f.e.takt
    planned = takt.planned_time_s / 3600.0
    clock = d.days_per_year * 24.0
    some = (d.good_parts_per_year, d.shifts_per_day, d.paid_time_per_shift_s / 3600.0, d.days_per_year, planned)
    yield (
        *some,
        100.0 * d.losses_not_modelled,
        takt.usable_time_s / 3600.0,
        100.0 * planned / clock,
        clock,
        clock - planned,
    )


def share_of_bound(f: PaperFacts, n: Fields) -> Rows:
    yield f.e.run.rate.mean, 100.0 * f.e.run.rate.mean / f.e.bounds.upper_per_h


def step_row(f: PaperFacts, n: Fields) -> Rows:
    """Time per good part of a step, as a share of the takt in per cent."""
    time_s = rows(f.e.run.steps, step=n["step"])[0]["time_per_good_part_s"]
    shared = [row["station"] for row in rows(f.e.run.stations, step=n["step"])]
    told = [n[key] for key in ("station", "station2", "station3", "station4", "station5", "station6") if key in n]
    if not told or told == shared:
        yield time_s, 100.0 * time_s / f.takt_s if f.e.takt else math.nan


def station_does(f: PaperFacts, n: Fields) -> Rows:
    """The row of a station, in the order of the headings over it. [%]"""
    row = rows(f.e.run.stations, station=n["station"])[0]
    headings = [one for one in n["view"].split(" | ") if one != "station"]
    yield tuple(100.0 * row[DOES[one]] for one in headings)


def gain_row(f: PaperFacts, n: Fields) -> Rows:
    for one in f.gains.gains:
        if plain(one.change.words) == n["changes"]:
            runs, hours = (f.gains.full_runs, f.gains.full_hours) if one.confirmed else (f.gains.runs, f.gains.hours)
            yield one.per_h.mean, one.per_h.low, one.per_h.high, runs, hours


def cause_row(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.run.cycle_causes, kind=n["cause"], place=n.get("place", "")):
        yield row["time_s"], 100.0 * row["share"]


def causes_rest(f: PaperFacts, n: Fields) -> Rows:
    """All causes after so many: their number, time and share; the whole."""
    some = sorted(f.e.run.cycle_causes.rows(), key=lambda row: -row["time_s"])
    whole = sum(row["time_s"] for row in some)
    for first in range(1, len(some)):
        rest = some[first:]
        for left in (rest, [row for row in rest if row["time_s"] > 0.0]):
            time_s = sum(row["time_s"] for row in left)
            yield len(left), time_s, 100.0 * time_s / whole, whole


def shared_step(f: PaperFacts, n: Fields) -> Rows:
    """Of a step that several stations share: alone, how many, together, how many times as fast; in the run; shares."""
    from linewright.flow.parallel import parallel_steps

    for one in parallel_steps(f.e.plan):
        if one.step == n["step"]:
            run_s = rows(f.e.run.steps, step=n["step"])[0]["time_per_good_part_s"]
            alone, shared = one.alone_s, one.shared_s
            yield alone, one.stations, shared, alone / shared, one.stations, run_s


def shares_of_step(f: PaperFacts, n: Fields) -> Rows:
    row = rows(f.e.run.stations, station=n["station"])[0]
    whole = sum(one["parts"] for one in rows(f.e.run.stations, step=row["step"]))
    yield (100.0 * row["parts"] / whole,)


# ---- motion, strength, accuracy --------------------------------------------------------------------------------------


def may_do(f: PaperFacts, n: Fields) -> Rows:
    """Of the shortest, the longest or the most made leg, empty or loaded: distance, time, speed, acceleration, jerk."""
    loaded = n["loaded"] == "with a part"
    legs = [(row, one) for row, one in zip(f.e.limits.motion.legs.rows(), f.e.limits.motion.limits, strict=True)]
    some = [(row, one) for row, one in legs if row["loaded"] == loaded]
    wanted = {
        "shortest": min(row["distance_m"] for row, _ in some),
        "longest": max(row["distance_m"] for row, _ in some),
    }
    most = max(row["made"] for row, _ in some)
    for row, one in some:
        fits = all(
            math.isclose(row["distance_m"], wanted[word], rel_tol=1e-9) if word in wanted else row["made"] == most
            for word in n["which"].split(", ")
        )
        if fits and n.get("governs", row["governs"]) == row["governs"]:
            limits = one.limits
            yield row["distance_m"], row["time_s"], limits.speed_m_s, limits.acceleration_m_s2, limits.jerk_m_s3


def coil(f: PaperFacts, n: Fields) -> Rows:
    heat = sorted(f.e.limits.motion.coil_heat.rows(), key=lambda row: -row["filtered_W"])
    for row in heat[: max(4, int(n.get("n", "4")))]:
        if row["lane"] == n["on"] and n["words"] in (row["under"], "the platform"):
            yield row["from_m"], row["to_m"], row["worst_hour_W"], row["filtered_W"], row["limit_W"]
            yield row["from_m"], row["to_m"], row["mean_W"], row["filtered_W"], row["limit_W"]


def moving(f: PaperFacts, n: Fields) -> Rows:
    for row in f.e.limits.strength.moving.rows():
        same = row["state"] == n["state"] and row["worst_block"] == n["block"]
        if same and row["loaded"] == (n.get("load2") == "loaded"):
            yield row["block_load_N"], row["least_block_N"]


def life(f: PaperFacts, n: Fields) -> Rows:
    one = f.e.limits.strength.life
    yield one.travel_m, one.load_factor, one.years, one.travel_per_year_m


def shares_of_axis(f: PaperFacts, n: Fields) -> Rows:
    """The greatest shares of an axis in per cent, each with its half width."""
    some = list(rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"]))
    found = []
    for key in ("part", "part2", "part3"):
        found += [(100.0 * row["share"], row["half_width_m"]) for row in some if row["contributor"] == n.get(key)]
    found += [(math.nan, math.nan)] * (3 - len(found))
    yield tuple(one for pair in found[:3] for one in pair)


def settling_of_sheet(f: PaperFacts, n: Fields) -> Rows:
    """The sheet's settling; at how many more stations than the three that are named."""
    yield f.s.settling_s, sum(one.settling_s is None for one in f.e.line.stations) - 3


def mounting(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.accuracy.mounting, what=n["mounted"].replace(" ", "_"), lane=n["lane"]):
        yield row["limit_m"], row["places"]


# ---- power, bus ------------------------------------------------------------------------------------------------------


def supply(f: PaperFacts, n: Fields) -> Rows:
    """Of the motor supply: voltage, tolerance, current, trip, capacitance, discharge; logic; cabinet."""
    one, logic, cabinet = f.s.supply, f.s.logic, f.e.line.cabinet
    some = (one.voltage_V, None if one.tolerance is None else 100.0 * one.tolerance, one.current_A, one.trip_V)
    more = (
        one.capacitance_F,
        one.discharge_s,
        *((logic.voltage_V, logic.section_current_A) if logic else (None, None)),
    )
    room = (None, None) if cabinet is None else (cabinet.width_m, cabinet.heat_W)
    yield tuple(math.nan if value is None else value for value in (*some, *more, *room))


def feeder(f: PaperFacts, n: Fields) -> Rows:
    """As it is wired: supplies, fuse, temperature of the cable, its rating, resistor's ohm, W, V; with its checks."""
    own = [some for some in f.findings if re.search(rf"\bfeeder {re.escape(n['feeder'])}(?![\w-])", some.where)]
    bad = {verdict: {some.code for some in own if some.verdict == verdict} for verdict in VERDICTS[:3]}
    told = {
        verdict.lower(): set(codes.split(", "))
        for verdict, codes in (group.split(": ") for group in n["words5"].split("; ") if ": " in group)
    }
    worst = next((verdict for verdict in VERDICTS[:3] if bad[verdict]), "holds")
    if told != {verdict: codes for verdict, codes in bad.items() if codes} or n["verdict"] != worst:
        return
    one = next(some for some in f.e.line.feeders if some.name == n["feeder"])
    cable, resistor = one.cable, one.braking_resistor
    some = (
        one.supplies,
        one.fuse_A or one.breaker_A,
        *((cable.temperature_degC, cable.rating_A) if cable else (None, None)),
    )
    last = (None, None, None) if resistor is None else (resistor.resistance_ohm, resistor.power_W, resistor.on_V)
    yield tuple(math.nan if value is None else value for value in (*some, *last))


def feeder_row(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.power.feeders, feeder=n["feeder"]):
        found = (
            "supplies_A",
            "restart_A",
            "restart_V",
            "peak_A",
            "rms_A",
            "mean_W",
            "braking_J",
            "braking_V",
            "unaided_V",
        )
        yield (row["sections"], row["carriers"], *(row[one] for one in found))


def runs_of_cable(f: PaperFacts, n: Fields) -> Rows:
    """Runs of one length and area after one another: how many, each, area, greatest current, drop, loss, would do."""
    some = list(rows(f.e.limits.power.schedule, feeder=n["feeder"]))
    first, last = n["from"], n["to"]
    starts = [number for number, row in enumerate(some) if row["from"] == first]
    for start in starts:
        for end in range(start, len(some)):
            if some[end]["to"] == last:
                run = some[start : end + 1]
                whole = [sum(row[one] for row in run) for one in ("drop_V", "loss_W")]
                most = max(row["current_A"] for row in run)
                would = max(row["proposed_mm2"] for row in run)
                if len({(row["length_m"], row["area_mm2"]) for row in run}) == 1:
                    yield len(run), run[0]["length_m"], run[0]["area_mm2"], most, *whole, would


def section_volts(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.power.sections, feeder=n["feeder"], number=int(n["n"])):
        yield (row["voltage_V"],)


def zone_row(f: PaperFacts, n: Fields) -> Rows:
    for one in f.e.line.motor_zones:
        if one.name == n["zone"] and one.lane == n["lane"]:
            yield one.from_m, one.to_m


def image(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.bus.image, part=n["image"]):
        yield row["count"], row["bytes_each"], row["bytes"]


def bus(f: PaperFacts, n: Fields) -> Rows:
    """Cycle, bits, wire time, bytes, frames, share; scan, bus cycle; reactions; the image."""
    one, controls, result = f.s.image, f.e.line.controls, f.e.limits.bus
    budget, reaction = result.budget, result.reaction
    some = (
        one.cycle_s,
        one.bit_rate_bit_s,
        budget.wire_time_s,
        budget.wire_bytes,
        budget.frames,
        100 * budget.utilisation,
    )
    scan = (math.nan, math.nan) if controls is None else (controls.scan_s, controls.bus_cycle_s)
    react = (math.nan, math.nan) if reaction is None else (reaction.nominal_s, reaction.worst_s)
    yield (*some, *scan, *react, result.assumed_s, result.image_bytes)


# ---- traffic ---------------------------------------------------------------------------------------------------------


def proven(f: PaperFacts, n: Fields) -> Rows:
    """Moves, pairs, crossings, departures, exact pairs; stops with good parts, of how many; carriers, ring; hours."""
    p = f.m.proof
    looked, recovery, locks = p.referee.looked, p.recovery, p.gridlock
    ring = locks.from_start.least_ring or math.nan
    good = recovery.stops - recovery.failed
    some = (looked.moves, looked.pairs, looked.crossings, looked.reactions, looked.exact, good, recovery.stops)
    yield (*some, locks.carriers, ring, p.shift_s / 3600.0, p.seed)


def recovery(f: PaperFacts, n: Fields) -> Rows:
    one = f.m.proof.recovery
    some = (one.stops - one.failed, one.stops, one.worst_good_after_s, one.mean_recovery_s, one.worst_recovery_s)
    yield (*some, one.rejected_per_stop, one.by_hand_per_stop)


def nearest(f: PaperFacts, n: Fields) -> Rows:
    one = f.m.proof.referee.least_gap
    if one.lane == n["lane"]:
        yield (one.distance_m,)


def dead(f: PaperFacts, n: Fields) -> Rows:
    """A dead section: pairs, reaction, drag; contact speed, energy, mass, where; standing or coasting as is told."""
    d = f.m.proof.dead_section
    one = d.coasting if n.get("label", "") == "coasts" else d.standing
    if one is not None and n.get("lane", one.lane) == one.lane:
        yield d.pairs, d.reaction_s, d.least_drag_N, one.speed_m_s, one.energy_J, one.moving_mass_kg, one.travel_m


def dead_coasts(f: PaperFacts, n: Fields) -> Rows:
    yield from dead(f, {**n, "label": "coasts"})


# ---- upkeep, safety, what it rests on --------------------------------------------------------------------------------


def travels(f: PaperFacts, n: Fields) -> Rows:
    use = f.e.limits.upkeep.use
    yield use.travel_m, use.mean_travel_m


def care(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.upkeep.calendar, what=n["care"]):
        weeks = row["interval_weeks"]
        months = [one.months for one in f.s.upkeep.wear_parts if one.name == n["care"] and one.months is not None]
        if n["care"] == "relubrication" and f.s.upkeep.relubrication_months is not None:
            months.append(f.s.upkeep.relubrication_months)
        yield (months[0] if n.get("due") == "months" and months else math.floor(weeks)), row["per_year"]


def wear(f: PaperFacts, n: Fields) -> Rows:
    """In the line, years, a year; on the shelf, months, share in per cent."""
    shelf = [tuple(row.values()) for row in rows(f.e.limits.upkeep.spares, part=n["wear"])]
    plan = f.e.line.upkeep
    for row in rows(f.e.limits.upkeep.wear, part=n["wear"]):
        some = [row["units"], row["life_years"], row["per_year"]]
        if not shelf:
            yield (*some, math.nan, math.nan, math.nan)
        for one in shelf:
            numbers = [float(value) for value in one if isinstance(value, int | float)]
            for kept in numbers:
                for share in numbers:
                    yield (*some, kept, plan.lead_time_months, 100.0 * share)


def failures_year(f: PaperFacts, n: Fields) -> Rows:
    for row in rows(f.e.limits.upkeep.failures, station=n["station"]):
        yield row["per_year"], row["repair_s"], row["repairs_s"]


def stop_way(f: PaperFacts, n: Fields) -> Rows:
    case, cause = n["case_"], n["cause_"]
    for row in rows(f.e.limits.safety.stops, station=n["station"], case=case, cause=cause):
        if row["loaded"] == (n["loaded"] == "with a part"):
            yield row["mass_kg"], row["speed_m_s"], row["distance_m"], row["time_s"]


def stop_ways(f: PaperFacts, n: Fields) -> Rows:
    """Of several stations that have the same."""
    stations = [n[key] for key in ("station", "station2", "station3") if key in n]
    for some in stop_way(f, {**n, "station": stations[0]}):
        if all(some in list(stop_way(f, {**n, "station": one})) for one in stations):
            yield some


def drained(f: PaperFacts, n: Fields) -> Rows:
    """How long before its end a shift begins no new part, in minutes."""
    yield (f.e.line.calendar.run_down_s / 60.0,)


def hazards(f: PaperFacts, n: Fields) -> Rows:
    yield (len(f.e.limits.safety.hazards),)


def of_heading(f: PaperFacts, n: Fields) -> Rows:
    yield (len(list(rows(f.e.limits.safety.hazards, heading=n["heading"]))),)


def hazards_first(f: PaperFacts, n: Fields) -> Rows:
    for row in of_heading(f, n):
        yield (len(f.e.limits.safety.hazards), *row)


def rejects(f: PaperFacts, n: Fields) -> Rows:
    yield (100.0 * f.e.line.station(n["station"]).rejects,)


def left_out(f: PaperFacts, n: Fields) -> Rows:
    """Runs, hours, seed, warm-up in minutes."""
    run = f.e.run
    yield run.runs, run.hours, run.seed, run.warm_up_s / 60.0


KNOWN: Final[dict[str, Explain]] = {
    name: value
    for name, value in {**vars(numbers_known), **vars(known_numbers), **globals()}.items()
    if callable(value) and getattr(value, "__module__", "").split(".")[-1] in _MODULES
}
"""Name of a function that a rule may name -> the function."""
