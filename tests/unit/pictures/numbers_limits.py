"""What may stand at the numbers of a picture's sentences on limits, moves and jams: figures of the Evaluation.

Each function is named by a rule of the sentences; nothing here calls the pictures themselves.
"""

from __future__ import annotations

import itertools
import math
import re

import numpy as np

from linewright.findings import judge, margin_below
from unit.pictures.numbers_known import ABOUT, UNITS, Rows, rows
from unit.pictures.numbers_of import INCH_M, Facts, Fields


def safety(f: Facts, n: Fields) -> Rows:
    least = f.finding("static-safety-moving").limit
    for row in rows(f.e.limits.strength.stations, station=n["station"]):
        yield 100.0 * least / row["static_safety"], row["static_safety"], least


def bent(f: Facts, n: Fields) -> Rows:
    tolerance = f.e.line.station(n["station"]).tolerance
    for row in rows(f.e.limits.strength.stations, station=n["station"]):
        for axis in "xyz" if tolerance is not None else "":
            allowed_m, way_m = getattr(tolerance, f"{axis}_m"), row[f"deflection_{axis}_m"]
            if allowed_m:
                yield 100.0 * way_m / allowed_m, f.shown(way_m), f.shown(allowed_m)


def used(f: Facts, n: Fields) -> Rows:
    """The greatest share of its limits that a station uses, and what force that is of what. [%, N, N]"""
    for row in rows(f.e.limits.strength.stations, station=n.get("station")):
        shares = [100.0 * row[f"{one}_share"] for one in ("down", "across", "along", "support", "holding")]
        shares += [one[0] for figures in (safety, bent) for one in figures(f, n)]
        yield (max(share for share in shares if not math.isnan(share)),)


def most_used(f: Facts, n: Fields) -> Rows:
    mine = next(used(f, n))
    if mine >= max(next(used(f, {"station": row["station"]})) for row in f.e.limits.strength.stations.rows()):
        yield mine


def guides(f: Facts, n: Fields) -> Rows:
    moving, km = f.finding("static-safety-moving"), f.e.limits.strength.life.travel_m / 1e3
    yield moving.value, moving.limit, km / (1e6 if km >= 1e6 else 1.0), f.e.limits.strength.life.years


def force(f: Facts, n: Fields) -> Rows:
    for row in rows(f.e.limits.strength.stations, station=n["station"]):
        share, value_N = row[f"{n['way']}_share"], row[f"{n['way']}_N"]
        yield 100.0 * share, value_N, value_N / share if share else math.nan


def worst_axis(f: Facts, n: Fields) -> Rows:
    """Over a station the worst of its axes; at the head of the row the worst of all."""
    some = f.e.limits.accuracy.summary.rows()
    some = some if "head" in n else [row for row in some if row["station"] == n.get("station")]
    one = min(some, key=lambda row: row["cpk"] / row["asked_cpk"])
    if n["station"] == one["station"] and n.get("axis", one["axis"])[0] == one["axis"]:
        yield one["cpk"], one["asked_cpk"]


def budget(f: Facts, n: Fields) -> Rows:
    """Index, asked, Cp, tolerance, worst case, bias, three sigma, all together; the index with one part halved."""
    for row in rows(f.e.limits.accuracy.summary, station=n["station"], axis=n["axis"][0]):
        lengths = [f.shown(row[one]) for one in ("tolerance_m", "worst_case_m", "bias_m", "sigma_m", "rss_m")]
        lengths[3] *= 3.0
        parts = rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"][0])
        gains = {str(part["contributor"]): np.nan_to_num(part["gain_cpk"]) for part in parts}
        if "best" not in n or gains[n["part"]] == max(gains.values()):
            halved = row["cpk"] + gains.get(n.get("part", ""), 0.0)
            yield row["cpk"], row["asked_cpk"], row["cp"], *lengths, halved


def under(f: Facts, n: Fields) -> Rows:
    """Of a part with less than a tenth of a per cent; the index where it stays under what is asked."""
    yield from (() for row in halved(f, n) if row[0] < 0.1)


def under_shown(f: Facts, n: Fields) -> Rows:
    yield from (row[1:2] for row in halved(f, n) if row[0] < 0.1)


def under_asked(f: Facts, n: Fields) -> Rows:
    yield from ((row[2], row[2]) for row in halved(f, n) if row[1] < row[2])


def warm(f: Facts, n: Fields) -> Rows:
    """The coil groups of a lane or transfer, else the hottest of all: load, share and limit, warmest, hourly mean.

    The last but two: how often the limit holds the load, of the hottest only. [W, %, W, 1, W, W]
    """
    table = f.e.limits.motion.coil_heat.rows()
    most_W = max(max(row["filtered_W"], row["worst_hour_W"]) for row in table)
    for row in table:
        load_W = max(row["filtered_W"], row["worst_hour_W"])
        named = {"lane", "transfer"} & set(n)
        at = row["lane"] in (n.get("lane"), n.get("transfer")) and n.get("under", row["under"]) == row["under"]
        if at if named else load_W == most_W:
            ends, share = (f.shown(row["from_m"]), f.shown(row["to_m"])), load_W / row["limit_W"]
            times = 1.0 / share if load_W == most_W and share else math.nan
            yield *ends, load_W, 100.0 * share, row["limit_W"], times, row["filtered_W"], row["worst_hour_W"]


def hottest(f: Facts, n: Fields) -> Rows:
    """The same of the hottest group of all alone."""
    most_W = next(warm(f, {}))[2]
    yield from (figures for figures in warm(f, n) if figures[2] == most_W)


def of_groups(f: Facts, n: Fields) -> Rows:
    """How many coil groups have a verdict, of how many."""
    verdicts = [judge(margin_below(figures[2], figures[4])) for figures in warm_all(f)]
    yield verdicts.count(n["words"].lower()), len(verdicts)


def warm_all(f: Facts) -> list[tuple[float, ...]]:
    """Every coil group."""
    lanes = sorted({row["lane"] for row in f.e.limits.motion.coil_heat.rows()})
    return [figures for lane in lanes for figures in warm(f, {"lane": lane})]


def limit_of(f: Facts, n: Fields) -> Rows:
    """Value and limit of a finding on a feeder, in its unit."""
    for one in f.e.findings:
        named = n["feeder"] in re.split(r", | and ", one.where.partition(":")[0].partition(" ")[2])
        right = (one.subject, one.code, one.verdict) == ("power", ABOUT[n["about"]], n["verdict"])
        if right and named and {n.get("of", one.unit), n.get("of2", one.unit)} == {one.unit}:
            figures = (one.value, one.limit)
            yield tuple(math.nan if figure is None else figure for figure in figures)


def limit_told(f: Facts, n: Fields) -> Rows:
    yield from (() for _ in limit_of(f, n))


def supplied(f: Facts, n: Fields) -> Rows:
    """What the supplies of a feeder give, or of any."""
    for row in f.e.limits.power.feeders.rows():
        if n.get("feeder", row["feeder"]) == row["feeder"]:
            yield (row["supplies_A"],)


def fed(f: Facts, n: Fields) -> Rows:
    """A section's voltage, the lowest, its current; the first or last of its feeder where the sentence says so."""
    if n.get("feeder2", n["feeder"]) != n["feeder"]:
        return
    some, lowest_V = rows(f.e.limits.power.sections, feeder=n["feeder"]), f.e.limits.power.electrics.lowest_V
    some = {"entry": some[:1], "far end": some[-1:]}.get(n.get("at", ""), some)
    for row in some:
        placed = (n.get("lane", row["lane"]), int(n.get("n", row["number"]))) == (row["lane"], row["number"])
        if placed and ("verdict2" not in n or (row["voltage_V"] < lowest_V) == (n["verdict2"] == "fails")):
            yield row["voltage_V"], lowest_V, row["current_A"]


def currents(f: Facts, n: Fields) -> Rows:
    yield (max(row["current_A"] for row in f.e.limits.power.sections.rows()),)
    yield (0.0,)


def lost(f: Facts, n: Fields) -> Rows:
    found = f.finding("far-end-voltage", f"feeder {n['feeder']}:")
    for row in rows(f.e.limits.power.sections, feeder=n["feeder"])[-1:]:
        yield row["voltage_V"], f.e.limits.power.electrics.lowest_V, found.value, found.limit


def trace(f: Facts, n: Fields) -> Rows:
    """Greatest current of the stretch, when; the run's; ends and length of the stretch; levels. [A, s]"""
    some = rows(f.e.limits.power.trace, feeder=n["feeder"])
    most, times = max(some, key=lambda row: row["current_A"]), [row["time_s"] for row in some]
    one = rows(f.e.limits.power.feeders, feeder=n["feeder"])[0]
    fuse = next(stated.fuse_A for stated in f.e.line.feeders if stated.name == n["feeder"])
    ends = (min(times), max(times) + 0.01, max(times) + 0.01 - min(times))
    yield most["current_A"], most["time_s"], one["peak_A"], *ends, one["supplies_A"], one["rms_A"], fuse


def worst_bin(f: Facts, n: Fields) -> Rows:
    """How long the check looks at the run, the greatest current in it, the most that is supplied. [s], [A]"""
    for row in rows(f.e.limits.power.feeders, feeder=n["feeder"]):
        yield min(720.0, f.e.duty.span_s), row["peak_A"], row["supplies_A"]


def searched(f: Facts, n: Fields) -> Rows:
    from_s, long_s = f.e.duty.from_s, min(720.0, f.e.duty.span_s)
    yield from_s, from_s + long_s, long_s


def brakes(f: Facts, n: Fields) -> Rows:
    trip_V = f.e.limits.power.electrics.trip_V
    for row in rows(f.e.limits.power.feeders, feeder=n["feeder"]):
        yield row["carriers"], row["braking_J"], row["resistor_J"], row["braking_V"], trip_V, row["unaided_V"]


# ---- a move, and a jam -----------------------------------------------------------------------------------------------


def move(f: Facts, n: Fields) -> Rows:
    """The move into the limiting step that is made most often: way, time, gains, mass, times made."""
    pairs = zip(f.e.limits.motion.legs.rows(), f.e.limits.motion.limits, strict=True)
    ends = {f"station {row['station']}" for row in rows(f.e.run.stations, step=f.e.run.limiting.step)}
    row, found = max((one for one in pairs if one[0]["end"] in ends), key=lambda one: one[0]["made"])
    kg = found.moving_mass_kg
    figures = (f.shown(row["distance_m"]), row["time_s"], 10.0, row["eased_s"], row["lifted_s"])
    if {n.get("end", row["start"]), f"station {n.get('end')}"} & {row["start"]}:
        yield *figures, kg, row["made"]


def move_from(f: Facts, n: Fields) -> Rows:
    """The same from a waiting stop, and where that lies on its lane."""
    for stop in f.e.layout.stops:
        if (stop.label, stop.lane) == (n["end"], n["lane"]):
            yield from ((*figures, f.shown(stop.travel_m)) for figures in move(f, n))


def size_of(f: Facts, n: Fields) -> Rows:
    """Of that move: a limit of a quantity by its name, or else the greatest size of the quantity."""
    pairs = zip(f.e.limits.motion.legs.rows(), f.e.limits.motion.limits, strict=True)
    ends = {f"station {row['station']}" for row in rows(f.e.run.stations, step=f.e.run.limiting.step)}
    found = max((one for one in pairs if one[0]["end"] in ends), key=lambda one: one[0]["made"])[1]
    quantity, path, per = n.get("quantity", n.get("view", "")), found.move, INCH_M if f.e.line.units == "inch" else 1.0
    sizes = {"position": f.shown(path.distance_m) * per, "speed": path.peak_speed_m_s}
    sizes["acceleration"] = max(path.peak_acceleration_m_s2, path.peak_deceleration_m_s2)
    sizes["jerk"] = max(abs(one.jerk_m_s3) for one in path.segments)
    right = UNITS[f.e.line.units][2][quantity]
    if {n.get("unit", right), n.get("unit2", right)} != {right}:
        return
    if "limit" not in n:
        yield (sizes[quantity] / per,)
    for one in found.candidates:
        if (one.name, one.quantity) == (n.get("limit"), quantity) and one.value is not None:
            yield (one.value / per,)


def after(f: Facts, n: Fields) -> Rows:
    """A carrier after so many steps of the way into the jam."""
    answer = f.locks.from_start
    number = {"at the beginning": 0, "the jam": len(answer.way)}.get(n.get("words", ""), int(n.get("n2", 0)))
    at = {one.carrier: (f.e.layout.stops[one.stop].label, one.carries) for one in answer.start}
    at |= {one.carrier: (f.e.layout.stops[one.stop].label, one.carries) for one in answer.way[:number]}
    if at.get(int(n["n"])) == (n["stop"], n["carries"]):
        yield ()


def deed(f: Facts, n: Fields) -> Rows:
    one, stops = f.locks.from_start.way[int(n["n2"]) - 1], f.e.layout.stops
    told = (int(n["n"]), n["stop"], n.get("stop2", n["stop"]), n.get("carries", one.carries))
    if told == (one.carrier, stops[one.start].label, stops[one.stop].label, one.carries):
        yield ()


def held(f: Facts, n: Fields) -> Rows:
    stops, told = f.e.layout.stops, (int(n["n"]), n["stop"], n["carries"], n["stop2"], int(n["n2"]))
    for one in f.locks.from_start.jam.ring:
        if told == (one.carrier, stops[one.stop].label, one.carries, stops[one.wants].label, one.held_by):
            yield from [()] if (n.get("n3", n["n"]), n.get("n4", n["n2"])) == (n["n"], n["n2"]) else []


def ring(f: Facts, n: Fields) -> Rows:
    carriers = [one.carrier for one in f.locks.from_start.jam.ring]
    if int(n.get("n", carriers[0])) in carriers:
        yield (len(carriers),)


def warm_up(f: Facts, n: Fields) -> Rows:
    yield (f.e.run.warm_up_s / 60.0,)


def worst_of_all(f: Facts, n: Fields) -> Rows:
    yield from worst_axis(f, {**n, "head": ""})


def answer(f: Facts, n: Fields) -> Rows:
    rate = f.e.run.rate
    yield rate.mean, 100.0 * rate.confidence, rate.low, rate.high, f.required_per_h


def best_half(f: Facts, n: Fields) -> Rows:
    yield from budget(f, {**n, "best": ""})


def halved(f: Facts, n: Fields) -> Rows:
    """Of one part: its share, the index with it halved, what is asked, what the worst case loses."""
    for row in rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"][0], contributor=n["part"]):
        figures = next(budget(f, n))
        if "n" not in n or numbered(f, n)[int(n["n"]) - 1] == n["part"]:
            yield 100.0 * row["share"], figures[8], figures[1], f.shown(row["gain_worst_case_m"])


def any_halved(f: Facts, n: Fields) -> Rows:
    """Share and index of any part: its name stands over the number, in a text of its own."""
    for one in numbered(f, n):
        yield from halved(f, {**n, "part": one})


def all_next_to_nothing(f: Facts, n: Fields) -> Rows:
    told = {one for key, one in n.items() if key.startswith("part")}
    some = rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"][0])
    if told == {str(row["contributor"]) for row in some if 100.0 * row["share"] < 0.1}:
        yield ()


def halved_alone(f: Facts, n: Fields) -> Rows:
    """Of a part that has no number, whatever the number of the one before."""
    yield from halved(f, {key: one for key, one in n.items() if key != "n"})


def next_to_nothing(f: Facts, n: Fields) -> Rows:
    some = rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"][0])
    yield (sum(100.0 * row["share"] < 0.1 for row in some),)


def numbered(f: Facts, n: Fields) -> list[str]:
    """The parts of an axis in the order in which they are numbered: spreads, then biases, the greatest share first."""
    some = rows(f.e.limits.accuracy.budgets, station=n["station"], axis=n["axis"][0])
    some = [row for row in some if row["share"] > 0.0]
    return [str(row["contributor"]) for row in sorted(some, key=lambda row: (row["kind"] == "bias", -row["share"]))]


def a_part(f: Facts, n: Fields) -> Rows:
    yield from [()] if 1 <= int(n["n"]) <= len(numbered(f, n)) else []


def traced(f: Facts, n: Fields) -> Rows:
    times = f.e.limits.power.trace["time_s"]
    yield f.e.run.runs, f.e.run.hours, f.e.run.seed, float(times.max() - times.min()) + 0.01


def heat_scale(f: Facts, n: Fields) -> Rows:
    """The end of a broken scale, a round number a little over the hottest."""
    most = next(one[2] for one in warm(f, {}))
    for digit, power in itertools.product((1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8), range(-6, 4)):
        if most <= digit * 10.0**power <= 1.5 * most:
            yield (digit * 10.0**power,)


def a_number(f: Facts, n: Fields) -> Rows:
    yield from [()] if int(n["n"]) < f.locks.carriers else []
