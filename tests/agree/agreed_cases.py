"""Turns an agreed case (tests/agree/data/README.md) into a traffic plan with given times, and runs the kernel on it."""

from __future__ import annotations

import gzip
import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    FIXED,
    GIVEN,
    NO_LEG,
    STATION,
    WAITING,
    Chance,
    FailureKind,
    Law,
    TrafficPlan,
)

DATA = Path(__file__).parent / "data"
KINDS = {"wait": WAITING, "station": STATION, "dock": DOCK, "aboard": ABOARD}


def load_case(path: Path) -> dict[str, Any]:
    """A case file, packed or not: {"case": ..., "expected": ...}."""
    raw = path.read_bytes()
    loaded: dict[str, Any] = json.loads(gzip.decompress(raw) if path.suffix == ".gz" else raw)
    return loaded


def _durations(distance: float, v: float, a: float, j: float) -> tuple[float, float, float]:
    """Jerk, constant-acceleration and constant-speed times of a move; the case format fixes this formula and its
    rounding."""
    jerk_time, constant = (a / j, v / a - a / j) if v * j >= a * a else (math.sqrt(v / j), 0.0)
    peak = j * jerk_time * (jerk_time + constant)
    least = peak * (2 * jerk_time + constant)
    if distance >= least:
        return jerk_time, constant, (distance - least) / peak
    jerk_time = a / j
    if distance >= 2 * a * jerk_time * jerk_time:
        return jerk_time, max((-3 * jerk_time + math.sqrt(jerk_time**2 + 4 * distance / a)) / 2, 0.0), 0.0
    return (distance / (2 * j)) ** (1 / 3), 0.0, 0.0


def _position(distance: float, t: float, v: float, a: float, j: float) -> float:
    jerk_time, constant, cruise = _durations(distance, v, a, j)
    x = speed = acceleration = 0.0
    for length, jerk in (
        (jerk_time, j), (constant, 0.0), (jerk_time, -j), (cruise, 0.0),
        (jerk_time, -j), (constant, 0.0), (jerk_time, j),
    ):  # fmt: skip
        s = min(length, t)
        x += speed * s + acceleration * s * s / 2 + jerk * s**3 / 6
        speed += acceleration * s + jerk * s * s / 2
        acceleration += jerk * s
        t -= s
        if t <= 0:
            break
    return x


def _move_us(distance: float, limits: dict[str, float]) -> int:
    jerk_time, constant, cruise = _durations(distance, limits["v"], limits["a"], limits["j"])
    return math.ceil(round((4 * jerk_time + 2 * constant + cruise) * 1e6, 6))


def _covered_us(distance: float, part: float, limits: dict[str, float]) -> int:
    low, high = 0, _move_us(distance, limits)
    while low < high:
        middle = (low + high) // 2
        if _position(distance, middle * 1e-6, limits["v"], limits["a"], limits["j"]) >= part - 1e-12:
            high = middle
        else:
            low = middle + 1
    return low


def _stops(case: dict[str, Any]) -> tuple[list[dict[str, Any]], float]:
    """All stops in loop order with their metre mark `m`, and the length of the loop."""
    stops: list[dict[str, Any]] = []
    start = 0.0
    for number, (lane, transfer) in enumerate(zip(case["lanes"], case["transfers"], strict=True)):
        stops += [{**stop, "m": start + stop["x"], "transfer": -1} for stop in lane["stops"]]
        aboard = stops[-1]["m"] + transfer["on_m"]
        stops.append({"id": transfer["aboard"], "kind": "aboard", "m": aboard, "transfer": number})
        start = aboard + transfer["off_m"]
    return stops, start


def _legs(case: dict[str, Any], kind: np.ndarray, marks: np.ndarray, loop: float) -> tuple[np.ndarray, ...]:
    """Every leg from each stop up to the next place aboard, the same for both load classes; delta is 0 for all
    pairs."""
    n = len(kind)
    reach = [next(r for r in range(1, n + 1) if kind[(i + r) % n] == ABOARD) for i in range(n)]
    move = np.full((2, n, max(reach)), NO_LEG, np.int64)
    rear = np.zeros((2, len(case["transfers"]), max(reach)), np.int64)
    leg = np.full((n, max(reach)), NO_LEG, np.int64)
    count = 0
    for i in range(n):
        for r in range(1, reach[i] + 1):
            distance = round((marks[(i + r) % n] - marks[i]) % loop, 9)
            move[:, i, r - 1] = _move_us(distance, case["limits"])
            leg[i, r - 1] = count
            count += 1
            if kind[i] == ABOARD:
                transfer = int(np.count_nonzero(kind[:i] == ABOARD))
                rear[:, transfer, r - 1] = _covered_us(distance, case["transfers"][transfer]["rear_m"], case["limits"])
    return move, rear, leg, np.zeros((2 * count, 2 * count), np.int32)


def _first_stops(case: dict[str, Any], kind: np.ndarray, home: int) -> list[int]:
    upstream = [(home - i) % len(kind) for i in range(len(kind))]
    rest = [i for i in upstream if i == home or kind[i] in (WAITING, DOCK)]
    return rest[: case["carriers"]]


def plan_of(case: dict[str, Any]) -> TrafficPlan:
    """The traffic plan of a case."""
    stops, loop = _stops(case)
    kind = np.array([KINDS[stop["kind"]] for stop in stops], np.int64)
    marks = np.array([stop["m"] for stop in stops])
    names = list(case["stations"])
    at = {stop["station"]: i for i, stop in enumerate(stops) if stop.get("station")}
    step_of = {name: p for p, step in enumerate(case["route"]) for name in step["stations"]}
    move, rear, leg, delay = _legs(case, kind, marks, loop)
    sheets = [case["stations"][name] for name in names]
    steps = [case["route"][step_of[name]]["step"] for name in names]
    homes = [at[name] for name in case["route"][0]["stations"]]
    transfers = case["transfers"]

    def ints(values: list[int]) -> np.ndarray:
        return np.array(values, np.int64)

    return TrafficPlan(
        stop_kind=kind,
        stop_station=ints([names.index(stop["station"]) if stop.get("station") else -1 for stop in stops]),
        stop_transfer=ints([stop["transfer"] for stop in stops]),
        stop_axis_m=marks,
        loop_m=loop,
        pitch_m=0.0,
        station_names=tuple(names),
        station_stop=ints([at[name] for name in names]),
        station_step=ints([step_of[name] for name in names]),
        step_names=tuple(step["step"] for step in case["route"]),
        step_stations=tuple(tuple(names.index(name) for name in step["stations"]) for step in case["route"]),
        step_exit=tuple(step["reject_exit"] for step in case["route"]),
        transfer_names=tuple(transfer["name"] for transfer in transfers),
        first_stops=ints(_first_stops(case, kind, max(homes))),
        follow_us=case["reaction_us"],
        start_handshake_us=case["start_handshake_us"],
        done_handshake_us=case["done_handshake_us"],
        settling_us=ints([case["settling_us"]] * len(names)),
        clear_us=ints([sheet["clear_us"] for sheet in sheets]),
        prepare_us=ints([sheet["prepare_us"] for sheet in sheets]),
        move_us=move,
        leg=leg,
        delay_us=delay,
        aboard_us=ints([t["unlock_us"] + t["ride_us"] + t["lock_us"] for t in transfers]),
        rear_us=rear,
        home_us=ints([t["unlock_us"] + t["back_us"] + t["lock_us"] for t in transfers]),
        work=tuple(Law(GIVEN, given_us=tuple(case["work_us"][step])) for step in steps),
        reject=tuple(Chance(given=tuple(case["rejects"].get(step, ()))) for step in steps),
        failures=tuple(
            FailureKind(
                station,
                Law(GIVEN, given_us=tuple(running for running, _ in sheet["failures"])),
                Law(GIVEN, given_us=tuple(repair for _, repair in sheet["failures"])),
            )
            for station, sheet in enumerate(sheets)
            if sheet["failures"]
        ),
    )


def as_logs(replication: Replication, stop_ids: list[int], station_names: tuple[str, ...]) -> dict[str, list[Any]]:
    """A kernel's trace in the form of the expected logs."""
    moves = sorted(
        ([c, d, stop_ids[a], stop_ids[b], e] for c, d, a, b, e, _ in replication.moves.tolist()),
        key=lambda m: (m[1], m[0]),
    )
    works = sorted(
        ([station_names[k], c, serial, start, end] for k, c, serial, start, end, _ in replication.works.tolist()),
        key=lambda w: (w[3], w[0]),
    )
    good = sorted(replication.good.tolist(), key=lambda g: (g[1], g[0]))
    return {"moves": moves, "works": works, "good": good}


def run(case: dict[str, Any]) -> dict[str, list[Any]]:
    """The kernel on a case: {"moves": ..., "works": ..., "good": ...}."""
    plan = plan_of(case)
    horizon = case["horizon_us"]
    replication = run_once(plan, tables_of(plan), luck_of(plan, 0, 0), horizon, horizon, trace_from_us=0)
    stops, _ = _stops(case)
    return as_logs(replication, [stop["id"] for stop in stops], plan.station_names)


__all__ = ["DATA", "FIXED", "as_logs", "load_case", "plan_of", "run"]
