"""What may stand at the numbers of a picture's sentences: figures of the Evaluation, by the names in the sentence.

Each function is named by a rule of the sentences; nothing here calls the pictures themselves.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any, Final

from linewright.layout import resting_order
from unit.pictures.numbers_of import Facts, Fields

Rows = Iterator[tuple[float, ...]]


def rows(table: Any, **same: Any) -> list[dict[str, Any]]:
    """Rows of a table with these values."""
    return [row for row in table.rows() if all(row[key] == value for key, value in same.items())]


BUSY: Final = {
    "work": ("work_share",),
    "tool prepares or clears": ("prepare_share", "clear_share"),
    "carriers change: move in, settle, shake hands": ("settling_share", "exchange_share", "done_handshake_share"),
    "down: repair": ("down_share",),
    "held by a carrier at a station of the same step": ("partner_share",),
    "waits for people, parts outside, changeover, a break": (
        *("changeover_share", "operator_share", "outside_share", "break_share"),
    ),
}
"""What a picture says a station does -> the columns that this is the sum of; together a step's time."""
SPENT: Final = {
    **BUSY,
    "blocked: the carrier cannot leave": ("blocked_share", "partner_share"),
    "starved: no carrier comes": ("starved_share",),
}
MARKS: Final = {
    "in the line file": lambda f, c: f.e.line.carriers,
    "the fewest that meet the takt": lambda f, c: c.smallest_meeting_takt,
    "the fewest that meet the takt with one out": lambda f, c: c.smallest_meeting_takt_one_out,
    "the fewest surely within 0.5 % of the most": lambda f, c: c.smallest_near and c.smallest_near.carriers,
    "most rate": lambda f, c: c.plateau and c.plateau.carriers,
    "blocking begins here or before": lambda f, c: c.onset_of_blocking,
    "blocking begins": lambda f, c: c.onset_of_blocking,
    "most that fit": lambda f, c: f.sizing.most_fit,
    "most that the sheet allows": lambda f, c: f.sizing.most_on_sheet,
}
"""What a number of carriers is called -> that number."""


ABOUT: Final = {
    "supply": "feeders",
    "ends": "feeder-ends",
    "peak of the run": "feeder-peak",
    "restart": "all-restart",
    "braking": "braking-voltage",
    "extra-low voltage": "extra-low-voltage",
    "braking resistor's start": "resistor-on",
    "braking resistor": "resistor-resistance",
    "braking resistor's power": "resistor-power",
    "voltage lost": "far-end-voltage",
    "effective current": "design-current",
    "fuse against cable": "fuse-cable",
    "protection of the links": "link-area",
    "size of cable or link": "cable-size",
}
"""What the row of the feeders calls a finding on power -> its code."""
UNITS: Final = {
    "mm": ("mm", "kg", {"position": "mm", "speed": "m/s", "acceleration": "m/s²", "jerk": "m/s³"}),
    "inch": ("in", "kg", {"position": "in", "speed": "in/s", "acceleration": "in/s²", "jerk": "in/s³"}),
}
"""Units of lengths, of masses and of what a move is made of, as the file says."""


def names(f: Facts) -> dict[str, Sequence[str]]:
    """Every name that may stand in a sentence, by kind."""
    e, line, limits = f.e, f.e.line, f.e.limits
    gains = () if f.gains is None else f.gains.gains
    causes, steps = ([], []) if e.run is None else (e.run.cycle_causes.rows(), e.run.steps.rows())
    found = [] if limits is None else [one for some in limits.motion.limits for one in some.candidates]
    return {
        "station": [one.name for one in line.stations],
        "stop": [one.label for one in e.layout.stops],
        "end": [one.label.removeprefix("station ") for one in e.layout.stops],
        "lane": [one.name for one in e.layout.lanes],
        "transfer": [one.name for one in e.layout.transfers],
        "kind": ["lift", "cross-transfer", "turntable"],
        "feeder": [one.name for one in line.feeders],
        "zone": [one.name for one in line.motor_zones],
        "step": [str(row["step"]) for row in steps],
        "cause": [str(row["kind"]) for row in causes],
        "place": [*(str(row["place"]) for row in causes), *(str(row["step"]) for row in steps)],
        "change": [one.change.words for one in gains],
        "untried": [] if f.gains is None else [words for words, _ in f.gains.not_tried],
        "does": list(SPENT),
        "mark": list(MARKS),
        "way": ["down", "across", "along"],
        "at": ["entry", "far end"],
        "axis": ["x (along)", "y (across)", "z (up)", "x", "y", "z"],
        "part": [] if limits is None else [str(row["contributor"]) for row in limits.accuracy.budgets.rows()],
        "under": [] if limits is None else sorted({str(row["under"]) for row in limits.motion.coil_heat.rows()}),
        "case": [] if limits is None else sorted({str(row["case"]) for row in limits.power.sections.rows()}),
        "limit": [one.name for one in found],
        "quantity": ["position", "speed", "acceleration", "jerk"],
        "u": [UNITS[line.units][0]],
        "mass": [UNITS[line.units][1]],
        "unit": list(UNITS[line.units][2].values()),
        "verdict": ["holds", "tight", "fails", "not checked", "trips", "FAILS", "NOT CHECKED", "UNDECIDED"],
        "effect": ["gains", "does nothing", "cannot be told", "loses", "the line stops"],
        "about": list(ABOUT),
        "jammed": [
            *(f"at {one.name} and behind it" for one in line.stations),
            *(f"before {one.name}" for one in (*line.stations, *e.layout.transfers)),
            *(f"{where} lane {one.name}" for one in e.layout.lanes for where in ("on", "at the end of")),
        ],
        "of": sorted({one.unit for one in e.findings if one.unit}),
        "carries": ["nothing", "a part", "a flagged part"],
        "code": sorted({one.code for one in e.findings}),
        "subject": sorted({one.subject for one in e.findings}),
        "sheet": [line.conveyor.name],
        "title": [line.name],
        "setter": [] if f.sizing is None else [row.bound for row in f.sizing.counts],
    }


# ---- lengths and places ----------------------------------------------------------------------------------------------


def section(f: Facts, n: Fields) -> Rows:
    sections = f.e.layout.lane(n["lane"]).sections
    if 1 <= int(n["n"]) <= len(sections):
        yield (f.shown(sections[int(n["n"]) - 1]),)


def zone(f: Facts, n: Fields) -> Rows:
    for one in f.e.line.motor_zones:
        if one.name == n["zone"] and n.get("lane", one.lane) == one.lane:
            yield (f.shown(abs(one.to_m - one.from_m)),)


def lane_long(f: Facts, n: Fields) -> Rows:
    yield (f.shown(f.e.layout.lane(n["lane"]).length_m),)


def kept_clear(f: Facts, n: Fields) -> Rows:
    yield (f.shown(f.e.line.station(n["station"]).keep_clear_m),)


def station_at(f: Facts, n: Fields) -> Rows:
    stop = f.e.layout.stop_of(n["station"])
    if stop.lane == n["lane"]:
        yield (f.shown(stop.floor_m),)


def a_carrier(f: Facts, n: Fields) -> Rows:
    if int(n["n"]) < f.e.line.carriers:
        yield (f.start_s,)


def stands(f: Facts, n: Fields) -> Rows:
    order = resting_order(f.e.line, f.e.layout)
    if f.e.layout.stops[order[int(n["n"])]].label == n["stop"]:
        yield ()


def chain(f: Facts, lane: str) -> list[tuple[float, str]]:
    """The west end of a lane, its stations from there on, its east end. [m]"""
    one = f.e.layout.lane(lane)
    stops = [stop for stop in f.e.layout.stops if stop.kind == "station" and stop.lane == lane]
    ends = (one.west_end_m, one.west_end_m + one.length_m)
    return [(ends[0], "west"), *sorted((stop.floor_m, str(stop.station)) for stop in stops), (ends[1], "east")]


def distance(f: Facts, n: Fields) -> Rows:
    for lane in f.e.layout.lanes:
        for (from_m, start), (to_m, end) in itertools.pairwise(chain(f, lane.name)):
            at = (lane.name, start, end)
            if "lane" not in n or (n["lane"], n.get("station", "west"), n.get("station2", "east")) == at:
                yield (f.shown(to_m - from_m),)


def apart(f: Facts, n: Fields) -> Rows:
    for one, other in itertools.permutations(f.e.layout.lanes, 2):
        if (n.get("lane", one.name), n.get("lane2", other.name)) == (one.name, other.name):
            yield (f.shown(abs(one.across_m - other.across_m)),)
            yield (f.shown(abs(one.level_m - other.level_m)),)


def levels(f: Facts, n: Fields) -> Rows:
    """A level alone; the height from one up to another; both."""
    some = sorted({lane.level_m for lane in f.e.layout.lanes if lane.name in n.get("lane", lane.name)})
    for low_m, high_m in itertools.product(some, some):
        yield f.shown(high_m), f.shown(high_m - low_m), f.shown(low_m)


def whole(f: Facts, n: Fields) -> Rows:
    """Length and width of the track with its platforms, its carriers and their fixtures."""
    ends: list[float] = []
    for lane in f.e.layout.lanes:
        over_m = {"west": 0.0, "east": 0.0}
        for one in f.e.layout.transfers:
            at = {name: lane.to for name in one.takes if name == lane.name} | {
                name: lane.from_ for name in one.gives if name == lane.name
            }
            for side in at.values():
                over_m[side] = max(over_m[side], one.gap_m + one.platform_m)
        ends += [lane.west_end_m - over_m["west"], lane.west_end_m + lane.length_m + over_m["east"]]
    across = [lane.across_m for lane in f.e.layout.lanes]
    fixture = f.e.line.fixture
    body_m = max(f.e.line.conveyor.carrier.width_m, 0.0 if fixture is None else fixture.envelope_m[1])
    yield f.shown(max(ends) - min(ends)), f.shown(max(across) - min(across) + body_m), f.shown(fixture.envelope_m[2])


def scale_bar(f: Facts, n: Fields) -> Rows:
    """A round length, a good part of the whole."""
    long = next(whole(f, n))[0]
    for length in (digit * 10.0**power for digit in (1, 2, 5) for power in range(5)):
        if long / 20.0 <= length <= long / 3.0:
            yield (length,)


# ---- times and rates -------------------------------------------------------------------------------------------------


def ridden(f: Facts, n: Fields) -> Rows:
    """The least time per good part of a transfer, and the takt."""
    for one in f.e.findings:
        if one.code == "transfer-cycle" and one.where == f"transfer {n.get('transfer')}":
            yield one.value, f.takt_s


def of_cycle(f: Facts, station: str, columns: Sequence[str]) -> float:
    """Share of a station's time, as time per good part. [s]"""
    return f.e.run.line_cycle_s * sum(float(rows(f.e.run.stations, station=station)[0][one]) for one in columns)


def spent(f: Facts, n: Fields) -> Rows:
    """Time per good part that a station spends so, all that it is busy, and the first as a share of all time."""
    time_s = of_cycle(f, n["station"], SPENT[n["does"]])
    busy_s = of_cycle(f, n["station"], [column for columns in BUSY.values() for column in columns])
    yield time_s, busy_s, 100.0 * time_s / f.e.run.line_cycle_s


def station_s(f: Facts, n: Fields) -> Rows:
    """A station's time, its step's, how many stations share that, the takt."""
    if "station" in n:
        step = rows(f.e.run.stations, station=n["station"])[0]["step"]
        if n.get("step", step) == step:
            shared = len(rows(f.e.run.stations, step=step))
            step_s = rows(f.e.run.steps, step=step)[0]["time_per_good_part_s"]
            busy_s = of_cycle(f, n["station"], [column for columns in BUSY.values() for column in columns])
            yield busy_s, step_s, shared, f.takt_s


def limiting(f: Facts, n: Fields) -> Rows:
    """Time of the step that takes longest, how much more than the next."""
    times = {row["step"]: row["time_per_good_part_s"] for row in f.e.run.steps.rows()}
    first, second = sorted(times, key=lambda one: -times[one])[:2]
    if (n["step"], n["step2"]) == (first, second):
        yield times[first], times[first] - times[second]


def passes(f: Facts, n: Fields) -> Rows:
    """Share of the line cycle that passes at a place, a step with all its stations. [%]"""
    at = {n["place"], *(row["station"] for row in rows(f.e.run.stations, step=n["place"]))}
    yield (100.0 * sum(row["share"] for row in f.e.run.cycle_causes.rows() if row["place"] in at),)


def slow(f: Facts, n: Fields) -> Rows:
    """Times of transfers that take longer than any step, the slowest first; two of one time stand together. [s]"""
    most_s = max(row["time_per_good_part_s"] for row in f.e.run.steps.rows())
    times = {one.where.removeprefix("transfer "): one.value for one in f.e.findings if one.code == "transfer-cycle"}
    told = [[times[n[key]] for key in keys if key in n] for keys in SLOW]
    alike = all(max(some) - min(some) < 0.001 for some in told if some)
    every = sorted((name for name, time_s in times.items() if time_s > most_s), key=lambda one: -times[one])
    if alike and sorted(every) == sorted(n[key] for keys in SLOW for key in keys if key in n):
        firsts = [some[0] if some else math.nan for some in told]
        if [one for one in firsts if one == one] == sorted((one for one in firsts if one == one), reverse=True):
            yield tuple(firsts)


SLOW: Final = (("transfer", "transfer2"), ("transfer3", "transfer4"), ("transfer5", "transfer6"))
"""Where the transfers of the first, second, third time stand in a sentence."""


def step_means(f: Facts, n: Fields) -> Rows:
    """Of all the steps with several stations, in the order of the sentence. [s]"""
    shared = Counter(row["step"] for row in f.e.run.stations.rows())
    told = [n[key] for key in ("step", "step2", "step3", "step4", "step5") if key in n]
    if sorted(told) == sorted(step for step, number in shared.items() if number > 1):
        times = {row["step"]: row["time_per_good_part_s"] for row in f.e.run.steps.rows()}
        yield tuple([times[step] for step in told] + [math.nan] * (5 - len(told)))


def effect_of(f: Facts, one: Any) -> str:
    """What may be said of a change; the line stops where all of its rate is lost, or all but a thousandth."""
    least = min(f.gains.base.mean, float(f.e.run.rates_per_h.mean()))
    return "the line stops" if one.effect == "loses" and one.per_h.mean <= -0.999 * least else str(one.effect)


def gain(f: Facts, n: Fields) -> Rows:
    """Of one change, at its own place where the sentence names one."""
    stations = set(n.get("step", n.get("station", "")).split("/")) - {""}
    steps = {row["step"] for row in f.e.run.stations.rows() if row["station"] in stations}
    here = stations | steps | ({n["transfer"]} if "transfer" in n else set())
    for one in f.gains.gains:
        placed = not here or here & set(one.change.places)
        if one.change.words == n["change"] and placed and n.get("effect", effect_of(f, one)) == effect_of(f, one):
            full = (f.gains.full_runs, f.gains.full_hours)
            runs, hours = full if one.confirmed else (f.gains.runs, f.gains.hours)
            yield one.per_h.mean, 100.0 * one.per_h.confidence, one.per_h.low, one.per_h.high, runs, hours


def together(f: Facts, n: Fields) -> Rows:
    """A change of several transfers names them all."""
    told = {one for key, one in n.items() if key in ("transfer2", "transfer3", "transfer4", "transfer5")}
    if any(
        one.change.words == n["change"] and told == set(one.change.together) - {n["transfer"]} for one in f.gains.gains
    ):
        yield ()


def best_along(f: Facts) -> list[Any]:
    """The best change of every step and transfer, along the axis from its start, each once."""
    step_of = {name: row["step"] for row in f.e.run.stations.rows() for name in (row["station"], row["step"])}
    at_m = {one.name: one.platform_axis_m for one in f.e.layout.transfers}
    best: dict[str, Any] = {}
    for one in f.gains.gains:
        for place in (step_of.get(place, place) for place in one.change.places):
            if place not in best or one.per_h.mean > best[place].per_h.mean:
                best[place] = one

    def start_m(place: str) -> float:
        stations = [row["station"] for row in rows(f.e.run.stations, step=place)]
        some = [best[place].change.place] if best[place].change.place in stations else stations
        return at_m[place] if place in at_m else min(f.e.layout.stop_of(name).axis_m for name in some)

    return list(dict.fromkeys(best[place] for place in sorted(best, key=start_m)))


def numbered_change(f: Facts, n: Fields, effects: Sequence[str] = ()) -> Rows:
    """A change by its number; its gain where it has one of these effects. [1/h]"""
    one = best_along(f)[int(n["n"]) - 1]
    effect = effect_of(f, one)
    if one.change.words == n["change"] and n.get("effect", effect) == effect and effect in (effects or [effect]):
        yield (one.per_h.mean,) if effects else ()


def numbered_gain(f: Facts, n: Fields) -> Rows:
    yield from numbered_change(f, n, ("gains", "loses"))


def numbered_stop(f: Facts, n: Fields) -> Rows:
    yield from numbered_change(f, n, ("the line stops",))


def gain_scale(f: Facts, n: Fields) -> Rows:
    """Zero, and a round number above and below it, within the intervals or a share of the rate."""
    most = max(abs(end) for one in f.gains.gains for end in (one.per_h.low, one.per_h.high))
    for step in () if "change" in n else (digit * 10.0**power for digit in (1, 2, 5) for power in range(-1, 4)):
        if step <= max(most, 0.1 * f.gains.base.mean):
            yield from ((step,), (-step,), (0.0,))


@cache
def seen_works(f: Facts, station: str) -> list[tuple[float, float, int, int]]:
    """Start, end, carrier and part of every work that is logged at a station and seen in the string line. [s]"""
    run, duty = f.e.run, f.e.duty
    found = {(row["start_s"], row["end_s"], row["carrier"], row["serial"]) for row in rows(run.works, station=station)}
    if duty is not None and duty.log is not None:
        at = duty.work_station == [one.name for one in f.e.line.stations].index(station)
        whose = (duty.log.work_carrier[at], duty.log.work_serial[at])
        columns = (duty.work_start_us[at] / 1e6, duty.work_end_us[at] / 1e6, *whose)
        found |= set(zip(*(column.tolist() for column in columns), strict=True))
    from_s, to_s = f.start_s, f.end_s
    return sorted(one for one in found if one[1] > from_s and one[0] < to_s)


def work(f: Facts, n: Fields) -> Rows:
    yield from (one[2:] for one in seen_works(f, n["station"]))


def joined_works(f: Facts, n: Fields) -> Rows:
    some = seen_works(f, n["station"])
    for first, last in itertools.combinations(range(len(some)), 2):
        yield 1 + last - first, some[first][0], some[last][1]


def failure(f: Facts, n: Fields) -> Rows:
    for row in rows(f.e.run.works, station=n["station"]):
        if row["repair_s"] > 0.0:
            yield row["repair_s"], row["start_s"], row["end_s"]


def standing(f: Facts, n: Fields) -> Rows:
    """A carrier stands from three line cycles on. [s]"""
    yield (3.0 * f.e.run.line_cycle_s,)


def stays(f: Facts) -> list[tuple[int, int, float, float, bool]]:
    """Carrier, stop, from when, until when, and whether the log knows that end, of what stands so long and is seen.

    At a station a carrier stands from when it may leave, on a platform from when that has arrived.
    """
    least_s = next(standing(f, {}))[0]
    run, line, stops, found = f.e.run, f.e.line, f.e.layout.stops, []
    works, moves = run.works.rows(), run.moves.rows()
    for carrier in range(line.carriers):
        mine = [one for one in moves if one["carrier"] == carrier]
        for before, after in itertools.zip_longest(mine, mine[1:]):
            stop, start_s = stops[int(before["to_stop"])], before["arrival_s"]
            end_s = run.trace_to_s if after is None else after["departure_s"]
            if stop.station is not None and end_s - start_s > least_s:
                after_s = line.station(stop.station).clear_s + line.conveyor.reaction.done_handshake_s
                worked = [one["end_s"] for one in works if (one["station"], one["carrier"]) == (stop.station, carrier)]
                start_s = max([start_s, *(one + after_s for one in worked if start_s < one <= end_s)])
            found.append((carrier, stop.index, start_s, end_s, after is not None))
    return [one for one in found if one[3] - one[2] > least_s and one[3] > f.start_s and one[2] < f.end_s]


@cache
def jams(f: Facts) -> list[list[tuple[int, int, float, float, bool]]]:
    """Stays of two carriers or more at neighbouring stops of a lane, each in time with one of the others."""
    stops, some = f.e.layout.stops, stays(f)
    order = {one.index: at for at, one in enumerate(sorted(stops, key=lambda one: (one.axis_m, one.index)))}

    def meet(one: tuple[int, int, float, float, bool], other: tuple[int, int, float, float, bool]) -> bool:
        apart_m = abs(stops[one[1]].axis_m - stops[other[1]].axis_m)
        near = abs(order[one[1]] - order[other[1]]) <= 1 or apart_m <= NEAR * f.e.layout.pitch_m
        return near and max(one[2], other[2], f.start_s) < min(one[3], other[3], f.end_s)

    groups: list[list[tuple[int, int, float, float, bool]]] = []
    for one in some:
        mine = [group for group in groups if any(meet(one, other) for other in group)]
        groups = [group for group in groups if group not in mine] + [[one, *(stay for group in mine for stay in group)]]
    return [group for group in groups if len({one[0] for one in group}) > 1]


NEAR: Final = 1.5
"""So many pitches apart two stops are neighbours though another lies between."""


def jam(f: Facts, n: Fields) -> Rows:
    """How many carriers stand behind one another, how long at most, from when to when. [s]"""
    for group in jams(f):
        longest_s = max(one[3] - one[2] for one in group)
        yield len({one[0] for one in group}), longest_s, min(one[2] for one in group), max(one[3] for one in group)


def counted(f: Facts, n: Fields) -> Rows:
    """Tool points and axes by their verdict."""
    counts = Counter(one.verdict for one in f.e.findings if one.code == "capability")
    yield tuple(counts[key] for key in ("fails", "tight", "not checked", "holds"))


def of_verdict(f: Facts, n: Fields) -> Rows:
    """All findings; of one subject and code those of the verdict of which there are so many."""
    counts = Counter(one.verdict for one in f.e.findings)
    for verdict in (key for key, number in counts.items() if number == int(n["n"])):
        some = [one for one in f.e.findings if (one.subject, one.code) == (n.get("subject"), n.get("code"))]
        yield len(f.e.findings), sum(one.verdict == verdict for one in some)


def cause(f: Facts, n: Fields) -> Rows:
    """Time and share of a kind of cause, at a place or at all; of the rest, how many kinds those are."""
    for by in (("kind", "place"), ("kind",)):
        sums: dict[tuple[str, ...], tuple[float, float]] = {}
        for row in f.e.run.cycle_causes.rows():
            key = tuple(row[one] for one in by)
            before = sums.get(key, (0.0, 0.0))
            sums[key] = (before[0] + row["time_s"], before[1] + 100.0 * row["share"])
        if "cause" in n:
            asked = (n["cause"], *((n["place"],) if "place" in n else ()))
            yield from ((*figures, 1) for key, figures in sums.items() if key == asked)
        else:
            ranked = sorted(sums.values(), reverse=True)
            yield from ((*map(sum, zip(*ranked[k:], strict=True)), len(ranked) - k) for k in range(len(ranked)))


def causes_cycle(f: Facts, n: Fields) -> Rows:
    cycle_s = f.e.run.line_cycle_s
    yield f.e.run.causes_cycle_s, f.takt_s, abs(f.takt_s - cycle_s), 100.0 * abs(1.0 - cycle_s / f.takt_s), cycle_s


def marked(f: Facts, n: Fields) -> Rows:
    carriers = MARKS[n["mark"]](f, f.sizing.choices)
    if carriers is not None:
        yield (carriers,)


def count(f: Facts, n: Fields) -> Rows:
    row = f.sizing.row(int(n["n"]))
    if row is not None and n.get("setter", row.bound) == row.bound:
        rate = row.rate
        yield row.upper_bound_per_h, rate.mean, 100.0 * rate.confidence, rate.low, rate.high, 100.0 * row.blocked_share


def stretch(f: Facts, n: Fields) -> Rows:
    """Of neighbouring counts: all have this bound, or all intervals reach that of the best."""
    some = [f.sizing.row(number) for number in range(int(n["n"]), int(n["n2"]) + 1)]
    best = max((row.rate for row in f.sizing.counts), key=lambda rate: rate.mean)
    if all(row and (row.bound == n["setter"] if "setter" in n else row.rate.high >= best.low) for row in some):
        yield ()


def fewest(f: Facts, n: Fields) -> Rows:
    required = f.sizing.required_rate_per_h
    yield min(row.carriers for row in f.sizing.counts if row.rate.low >= required), 95.0, required


def plateau(f: Facts, n: Fields) -> Rows:
    yield f.sizing.choices.plateau.carriers, 95.0


def close_up(f: Facts, n: Fields) -> Rows:
    """The ends of an axis, no figures of the line: under all that is shown, and over it."""
    rates = [end for row in f.sizing.counts for end in (row.rate.low, row.rate.high)]
    least, most = min(*rates, f.sizing.required_rate_per_h), max(*rates, f.sizing.required_rate_per_h)
    yield from itertools.product(range(int(0.9 * least), int(least) + 1), range(int(most), int(1.2 * most)))
