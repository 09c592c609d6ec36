"""What the general event loop reads: any plan as arrays. Ragged lists stand in one array, `more`, at the places that
records name."""

from __future__ import annotations

import weakref
from collections.abc import Iterable
from itertools import chain
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.flow.kernel.general.luck import Streams, streams_of
from linewright.traffic.general import NO_WAY, Platform, Track
from linewright.traffic.plan import ABOARD, DOCK, OF_CLOCK, OF_RUNNING, TrafficPlan
from linewright.traffic.track import platforms_of, track_of

Ints = NDArray[np.int64]
Records = NDArray[np.void]

# Columns of `stops` beyond those of the rule core.
STOP_STATION: Final = 6
STOP_BEFORE: Final = 7
STOP_FORKS: Final = 8
STOP_COLUMNS: Final = 9

NONE: Final = -1


def words(*names: str) -> np.dtype[np.void]:
    """A record of so many int64."""
    return np.dtype([(name, np.int64) for name in names])


# A station and its tool: its stop, step, times; its kinds of failure; the machines outside (-1 for none); its pool, its
# place in the pool's list, whether an operator works there; the exit it flags for; its rework; its changeovers.
TOOL: Final = words(
    "stop", "step", "settling_us", "clear_us", "prepare_us", "first_failure", "last_failure", "has_clock", "feed",
    "take_away", "pool", "in_pool", "manual", "release_us", "exit", "rework", "changeover", "each_part", "misses",
    "rank",
)  # fmt: skip
# A step: its stations' stops are step_stop[first:last]; whether it is a reject exit, or for rework alone.
STEP: Final = words("first", "last", "exit", "alone")
# A transfer: its places more[aboard:aboard + places], lanes it takes from and gives to, rides from dock to dock.
PLATFORM: Final = words("aboard", "places", "takes", "taking", "gives", "giving", "ride", "docks", "at_once", "calls")
FAILURE: Final = words("of", "every", "repair")
POOL: Final = words("list", "stations", "walk", "first", "last")
BREAK: Final = words("list", "stations", "begin_us", "length_us", "shift_us")
OUTSIDE: Final = words("station", "kind", "capacity", "start", "first", "last")
CHANGE: Final = words("station", "at_us", "count")
STRETCH: Final = words("most")
REWORK: Final = words("step", "at_most")


class Tables(NamedTuple):
    """A plan. Shapes as in `TrafficPlan` and `Track`, but for the records above and:

    stops : int64[N, STOP_COLUMNS]   Kind, step, lane, stop straight on, transfer, stretches (bits), station, the stop
        before (-1 where several are), whether the way forks there
    station_by_rank : stations by ascending stop
    lanes : first stop of each lane, whether it moves together, its dock stop
    skips : of each variant the steps that it skips (bits)
    wide : who may go next is not the follower alone; then all that wait ask again
    """

    stop_count: int
    carriers: int
    put_in: int
    stations: int
    transfers: int
    steps: int
    nests: int
    pools: int
    follow_us: int
    arrive_us: int
    done_us: int
    wide: int
    two_way: int
    going_on: int
    together: int
    run_out: int
    pick: int
    stops: Ints
    way: Ints
    way_m: NDArray[np.float64]
    leg: Ints
    leg_us: Ints
    rear_us: Ints
    delay_us: NDArray[np.int32]
    differs_us: NDArray[np.int32]
    more: Ints
    step_stop: Ints
    lanes: Ints
    skips: Ints
    station_by_rank: Ints
    station: Records
    step: Records
    platform: Records
    failure: Records
    pool: Records
    breaks: Records
    outside: Records
    change: Records
    stretch: Records
    rework: Records
    law: Streams


class _More:
    """The ragged lists, one behind the other."""

    def __init__(self) -> None:
        self.values: list[int] = [0]

    def put(self, values: Iterable[int]) -> int:
        """Add a list; gives its place."""
        at = len(self.values)
        self.values.extend(int(value) for value in values)
        return at


_kept: weakref.WeakKeyDictionary[TrafficPlan, Tables] = weakref.WeakKeyDictionary()


def general_tables_of(plan: TrafficPlan) -> Tables:
    """The plan's tables; those of a plan that was asked for before are kept while the plan is."""
    found = _kept.get(plan)
    if found is None:
        found = _kept[plan] = _tables(plan)
    return found


def _tables(plan: TrafficPlan) -> Tables:
    general, track, platforms = plan.general, track_of(plan), platforms_of(plan)
    more = _More()
    stops = _stops(plan, track)
    forked = bool(track.two_way or stops[:, STOP_FORKS].any() or (stops[:, STOP_BEFORE] == NONE).any())
    put_in = sum(change.count for change in general.carrier_changes if change.count > 0)
    wide = forked or track.two_way or general.together or general.admission or general.carrier_changes
    none = np.zeros((1, 1), np.int32)
    return Tables(
        stop_count=plan.stops,
        carriers=plan.carriers,
        put_in=put_in,
        stations=len(plan.station_names),
        transfers=len(platforms),
        steps=len(plan.step_names),
        nests=general.nests,
        pools=len(general.pools),
        follow_us=plan.follow_us,
        arrive_us=plan.start_handshake_us,
        done_us=plan.done_handshake_us,
        wide=int(bool(wide)),
        two_way=int(track.two_way),
        going_on=int(general.going_on),
        together=int(bool(general.together)),
        run_out=int(general.run_out),
        pick=int(forked),
        stops=stops,
        way=np.asarray(track.way, np.int64),
        way_m=np.asarray(track.way_m, np.float64),
        leg=np.asarray(track.leg, np.int64),
        leg_us=np.asarray(track.leg_us, np.int64),
        rear_us=np.asarray(track.rear_us, np.int64),
        delay_us=plan.delay_us,
        differs_us=none if general.differs_us is None else general.differs_us,
        step_stop=np.array([plan.station_stop[k] for stations in plan.step_stations for k in stations], np.int64),
        lanes=_lanes(plan, track),
        skips=np.array([sum(1 << p for p in variant.skips) for variant in general.variants] or [0], np.int64),
        station_by_rank=np.argsort(plan.station_stop, kind="stable").astype(np.int64),
        station=_stations(plan, more),
        step=_steps(plan),
        platform=_platforms(platforms, more),
        failure=_failures(plan),
        pool=_pools(plan, more),
        breaks=_breaks(plan, more),
        outside=_outside(plan),
        change=_change(plan),
        stretch=_records(STRETCH, len(general.admission), {"most": [one.most for one in general.admission]}),
        rework=_records(
            REWORK,
            len(general.rework),
            {"step": [one.step for one in general.rework], "at_most": [one.at_most for one in general.rework]},
        ),
        law=streams_of(plan),
        more=np.array(more.values, np.int64),
    )


def _records(dtype: np.dtype[np.void], count: int, fields: dict[str, Any]) -> Records:
    records = np.zeros(count, dtype)
    for name in dtype.names or ():
        records[name] = fields[name]
    return records


def _stops(plan: TrafficPlan, track: Track) -> Ints:
    """The table of stops."""
    count = plan.stops
    onto: list[set[int]] = [set(np.unique(track.way[i][track.way[i] != NO_WAY]).tolist()) for i in range(count)]
    for i in range(count):
        onto[i] |= {int(track.onward[i])} - {NO_WAY}
    before: list[list[int]] = [[] for _ in range(count)]
    for i in range(count):
        for j in onto[i]:
            before[j].append(i)
    table = np.zeros((count, STOP_COLUMNS), np.int64)
    stations = plan.stop_station
    steps = np.append(plan.station_step, NONE)
    columns = (plan.stop_kind, steps[stations], track.stop_lane, track.onward, plan.stop_transfer)
    for column, values in enumerate(columns):
        table[:, column] = values
    for bit, stretch in enumerate(plan.general.admission):
        table[list(stretch.stops), 5] |= 1 << bit
    table[:, STOP_STATION] = stations
    table[:, STOP_BEFORE] = [found[0] if len(found) == 1 else NONE for found in before]
    table[:, STOP_FORKS] = [len(found) > 1 for found in onto]
    return table


def _lanes(plan: TrafficPlan, track: Track) -> Ints:
    """Of each lane its first stop, whether it moves together, and its dock stop (-1 for none)."""
    first = np.full((track.lanes, 3), NONE, np.int64)
    first[:, 1] = np.isin(np.arange(track.lanes), plan.general.together)
    for stop in range(plan.stops - 1, -1, -1):
        if plan.stop_kind[stop] != ABOARD:
            first[track.stop_lane[stop], 0] = stop
        if plan.stop_kind[stop] == DOCK:
            first[track.stop_lane[stop], 2] = stop
    if plan.general.track is None:
        # A plain loop's first lane may begin before the last stop's rank: behind a place aboard.
        for stop in np.flatnonzero(plan.stop_kind == ABOARD).tolist():
            after = (stop + 1) % plan.stops
            if plan.stop_kind[after] != ABOARD:
                first[track.stop_lane[after], 0] = after
    return first


def _stations(plan: TrafficPlan, more: _More) -> Records:
    general, count = plan.general, len(plan.station_names)
    owners = [failure.station for failure in plan.failures]
    first = np.searchsorted(owners, np.arange(count + 1))
    clocks = {failure.station for failure in plan.failures if failure.of == OF_CLOCK}
    fields: dict[str, Any] = {name: np.full(count, NONE) for name in TOOL.names or ()}
    for number, outside in enumerate(general.outside):
        fields["feed" if outside.kind == 0 else "take_away"][outside.station] = number
    for number, pool in enumerate(general.pools):
        for place, station in enumerate(pool.stations):
            fields["pool"][station], fields["in_pool"][station] = number, place
    for number, rework in enumerate(general.rework):
        fields["rework"][rework.station] = number
    for changeover in general.changeovers:
        fields["changeover"][changeover.station] = more.put(chain.from_iterable(changeover.us))
    exits = general.exits or (NONE,) * count
    for station, step in enumerate(plan.station_step.tolist()):
        after = (q for q in range(step + 1, len(plan.step_exit)) if plan.step_exit[q])
        fields["exit"][station] = exits[station] if exits[station] >= 0 else next(after, NONE)
    fields |= {
        "stop": plan.station_stop,
        "step": plan.station_step,
        "settling_us": plan.settling_us,
        "clear_us": plan.clear_us,
        "prepare_us": plan.prepare_us,
        "first_failure": first[:-1],
        "last_failure": first[1:],
        "has_clock": [k in clocks for k in range(count)],
        "manual": general.manual or 0,
        "release_us": general.release_us or NONE,
        "each_part": general.each_part or 0,
        "misses": [share > 0 for share in general.misses] or 0,
        "rank": plan.station_stop,
    }
    return _records(TOOL, count, fields)


def _steps(plan: TrafficPlan) -> Records:
    ends = np.cumsum([len(stations) for stations in plan.step_stations])
    alone = np.isin(np.arange(len(ends)), plan.general.rework_alone)
    return _records(STEP, len(ends), {"first": [0, *ends[:-1]], "last": ends, "exit": plan.step_exit, "alone": alone})


def _platforms(platforms: tuple[Platform, ...], more: _More) -> Records:
    records = np.zeros(len(platforms), PLATFORM)
    for record, one in zip(records, platforms, strict=True):
        record["aboard"], record["places"] = more.put(one.aboard), len(one.aboard)
        record["takes"], record["taking"] = more.put(one.takes), len(one.takes)
        record["gives"], record["giving"] = more.put(one.gives), len(one.gives)
        record["ride"], record["docks"] = more.put(chain.from_iterable(one.ride_us)), len(one.takes) + len(one.gives)
        record["at_once"] = one.at_once
        record["calls"] = len(one.takes) > 1 or not one.at_once
    return records


def _failures(plan: TrafficPlan) -> Records:
    """Kinds of failure: those of the stations, then those of the machines outside."""
    inside = np.arange(len(plan.failures))
    outside = np.arange(sum(len(one.failures) for one in plan.general.outside))
    streams = streams_of(plan)
    return _records(
        FAILURE,
        len(inside) + len(outside),
        {
            "of": [failure.of for failure in plan.failures] + [OF_RUNNING] * len(outside),
            "every": np.concatenate([streams.running + inside, streams.outside_running + outside]),
            "repair": np.concatenate([streams.repair + inside, streams.outside_repair + outside]),
        },
    )


def _pools(plan: TrafficPlan, more: _More) -> Records:
    records, first = np.zeros(len(plan.general.pools), POOL), 0
    for record, pool in zip(records, plan.general.pools, strict=True):
        record["list"], record["stations"] = more.put(pool.stations), len(pool.stations)
        record["walk"] = more.put(chain.from_iterable(pool.walk_us))
        record["first"], record["last"] = first, first + pool.operators
        first += pool.operators
    return records


def _breaks(plan: TrafficPlan, more: _More) -> Records:
    records = np.zeros(len(plan.general.breaks), BREAK)
    for record, one in zip(records, plan.general.breaks, strict=True):
        record["list"], record["stations"] = more.put(one.stations), len(one.stations)
        record["begin_us"], record["length_us"], record["shift_us"] = one.begin_us, one.length_us, one.shift_us
    return records


def _outside(plan: TrafficPlan) -> Records:
    machines, first = plan.general.outside, len(plan.failures)
    records = np.zeros(len(machines), OUTSIDE)
    for record, one in zip(records, machines, strict=True):
        record["station"], record["kind"] = one.station, one.kind
        record["capacity"], record["start"] = one.capacity, one.start
        record["first"], record["last"] = first, first + len(one.failures)
        first += len(one.failures)
    return records


def _change(plan: TrafficPlan) -> Records:
    changes = plan.general.carrier_changes
    return _records(
        CHANGE,
        len(changes),
        {
            "station": [one.station for one in changes],
            "at_us": [one.at_us for one in changes],
            "count": [one.count for one in changes],
        },
    )
