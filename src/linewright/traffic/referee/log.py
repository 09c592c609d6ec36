"""The log of moves made ready for judging: one row a move, by carrier and departure, each with its way and profile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.traffic.plan import LOADED, TrafficPlan
from linewright.traffic.referee.frames import Frames, Run
from linewright.traffic.referee.keys import kinds_of
from linewright.traffic.referee.profiles import Profile, ProfileTable, integrate, table_of, up_to_us
from linewright.traffic.referee.report import Violation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FOREVER_US: Final = 1 << 47
KEY: Final = 1 << 48
"""A carrier, or a stop, and a time in one number: number * KEY + time."""


@dataclass(frozen=True, eq=False)
class Log:
    """The moves of a run, R of them, by carrier and departure.

    Parameters
    ----------
    carrier, departure_us, start, end, arrival_us, load : int64[R], the columns of the log
    lane : int64[R]          On which it runs
    start_m, end_m : float64[R]   In the lane's frame; on a ring going on round after round. [m]
    sign : int64[R]          1, or -1 against the lane's stated direction
    profile : int64[R]       Number of its profile in the table
    curved : bool[P], load_of : int64[P]   Of each profile
    first : bool[R]          It is the carrier's first
    came_us : int64[R]       When the carrier had come to the stop that it leaves; 0 where it began there. [us]
    runs : the way of each kind of move; run_of : int64[R] its number
    profiles, table : all profiles
    begins : for each carrier that began on the line the stop where it stood
    violations : what is wrong with the log itself
    """

    carrier: Ints
    departure_us: Ints
    start: Ints
    end: Ints
    arrival_us: Ints
    load: Ints
    lane: Ints
    start_m: Floats
    end_m: Floats
    sign: Ints
    profile: Ints
    curved: Bools
    load_of: Ints
    first: Bools
    came_us: Ints
    runs: tuple[Run, ...]
    run_of: Ints
    profiles: tuple[Profile, ...]
    table: ProfileTable
    begins: dict[int, int]
    violations: tuple[Violation, ...]

    def __len__(self) -> int:
        return len(self.carrier)


def read_log(line: Line, layout: Layout, plan: TrafficPlan, moves: Ints, frames: Frames) -> Log:
    """The log of one replication, from time zero on.

    Parameters
    ----------
    line, layout, plan : what was run
    moves : int64[rows, 6]   carrier, departure, stop left, stop reached, arrival, load class [us]
    frames : of the same layout

    Notes      A row whose move the track has no way for is a violation and left out; so is what does not begin where
               the carrier's last move ended, which is kept.
    """
    rows = np.asarray(moves, np.int64).reshape(-1, 6)
    rows = rows[np.lexsort((rows[:, 1], rows[:, 0]))]
    ones, kind_of = kinds_of((rows[:, 2], rows[:, 3], rows[:, 5]))
    kinds = rows[ones][:, [2, 3, 5]]
    stops = len(layout.stops)
    runs = [frames.run(int(a), int(b)) if 0 <= a < stops and 0 <= b < stops else None for a, b, _ in kinds]
    lost = np.array([run is None for run in runs], np.bool_)[kind_of]
    wrong = [_no_way(row) for row in rows[lost].tolist()]
    rows, kind_of = rows[~lost], kind_of[~lost]
    profiles, profile_of, curved, load_of = _profiles(line, frames, runs, kinds[:, 2].tolist())
    found = [run if run is not None else Run(0, 0.0, 0.0, (), ()) for run in runs]
    start_m = np.array([run.start_m for run in found])[kind_of] if len(rows) else np.zeros(0)
    end_m = np.array([run.end_m for run in found])[kind_of] if len(rows) else np.zeros(0)
    carrier = rows[:, 0]
    first = np.ones(len(rows), np.bool_)
    first[1:] = carrier[1:] != carrier[:-1]
    came = np.where(first, 0, np.roll(rows[:, 4], 1)) if len(rows) else np.zeros(0, np.int64)
    log = Log(
        carrier=carrier.copy(),
        departure_us=rows[:, 1].copy(),
        start=rows[:, 2].copy(),
        end=rows[:, 3].copy(),
        arrival_us=rows[:, 4].copy(),
        load=rows[:, 5].copy(),
        lane=np.array([run.lane for run in found], np.int64)[kind_of],
        start_m=start_m,
        end_m=end_m,
        sign=np.array([run.sign for run in found], np.int64)[kind_of],
        profile=profile_of[kind_of],
        curved=curved,
        load_of=load_of,
        first=first,
        came_us=came,
        runs=tuple(found),
        run_of=kind_of,
        profiles=profiles,
        table=table_of(list(profiles)),
        begins=dict(enumerate(plan.first_stops.tolist())),
        violations=(),
    )
    _go_round(layout, log)
    wrong += _broken(log, len(plan.first_stops), _may_come_in(plan))
    return Log(**{**log.__dict__, "violations": tuple(wrong)})


def _no_way(row: list[int]) -> Violation:
    carrier, departure, start, end = row[:4]
    what = f"carrier {carrier} moves from stop {start} to stop {end}, between which the track has no way"
    return Violation("log", departure, (carrier,), what, None, None, "")


def _profiles(
    line: Line, frames: Frames, runs: list[Run | None], loads: list[int]
) -> tuple[tuple[Profile, ...], Ints, Bools, Ints]:
    """A profile for each length, load class and curve; the number of each kind of move's."""
    numbers: dict[tuple[float, int, bool], int] = {}
    profiles: list[Profile] = []
    of_kind = np.zeros(len(runs), np.int64)
    for kind, (run, load) in enumerate(zip(runs, loads, strict=True)):
        if run is None:
            continue
        key = round(run.length_m, 12), load, frames.is_curved(run)
        if key not in numbers:
            numbers[key] = len(profiles)
            limits = leg_limits(line, key[1] == LOADED, key[0], key[2]).limits
            profiles.append(integrate(key[0], limits))
        of_kind[kind] = numbers[key]
    keys = list(numbers)
    curved = np.array([key[2] for key in keys], np.bool_)
    return tuple(profiles), of_kind, curved, np.array([key[1] for key in keys], np.int64)


def _go_round(layout: Layout, log: Log) -> None:
    """On a ring each move begins where the one before ended, round after round."""
    ring = np.array([lane.is_ring for lane in layout.lanes], np.bool_)
    if not len(log) or not ring.any():
        return
    length = np.array([lane.length_m for lane in layout.lanes])[log.lane]
    way = log.end_m - log.start_m
    for one in np.flatnonzero(log.first):
        until = one + 1
        while until < len(log) and not log.first[until]:
            until += 1
        # The start of each round from the stops, the number of rounds from the ways: no error grows.
        gone = np.concatenate(([0.0], np.cumsum(way[one : until - 1]))) + log.start_m[one]
        rounds = np.round((gone - log.start_m[one:until]) / length[one:until])
        shift = np.where(ring[log.lane[one:until]], rounds * length[one:until], 0.0)
        log.start_m[one:until] += shift
        log.end_m[one:until] += shift


def _may_come_in(plan: TrafficPlan) -> set[int]:
    """Stops at which carriers are put in."""
    return {int(plan.station_stop[c.station]) for c in plan.general.carrier_changes if c.count > 0}


def _broken(log: Log, carriers: int, put_in: set[int]) -> list[Violation]:
    """Moves that do not follow on one another, and durations that do not fit the profile."""
    wrong: list[Violation] = []

    def add(row: int, what: str, value: float | None = None, limit: float | None = None) -> None:
        carrier, unit = int(log.carrier[row]), "s" if value is not None else ""
        wrong.append(
            Violation("log", int(log.departure_us[row]), (carrier,), f"carrier {carrier} {what}", value, limit, unit)
        )

    before_end = np.roll(log.end, 1)
    for row in np.flatnonzero(~log.first & (log.start != before_end)).tolist():
        add(row, f"leaves stop {log.start[row]}, but its last move ended at stop {before_end[row]}")
    for row in np.flatnonzero(~log.first & (log.departure_us < log.came_us)).tolist():
        add(row, f"leaves stop {log.start[row]} before it has come there")
    for row in np.flatnonzero(log.first).tolist():
        carrier, start = int(log.carrier[row]), int(log.start[row])
        if carrier < carriers and log.begins[carrier] != start:
            add(row, f"begins at stop {start}, but stands at stop {log.begins[carrier]} at time zero")
        if carrier >= carriers and start not in put_in:
            add(row, f"begins at stop {start}, where none is put in")
    due = np.array([up_to_us(one.duration_s) for one in log.profiles], np.int64)
    taken = log.arrival_us - log.departure_us
    off = np.abs(taken - due[log.profile]) > 1 if len(log) else np.zeros(0, np.bool_)
    for row in np.flatnonzero(off).tolist():
        text = f"takes another time from stop {log.start[row]} to stop {log.end[row]} than its profile"
        add(row, text, taken[row] / 1e6, due[log.profile[row]] / 1e6)
    return wrong
