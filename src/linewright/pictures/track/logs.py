"""The logs of a run as plain arrays: moves by carrier, and works, from the end of the warm-up for up to a whole shift.

A run keeps some minutes of its first replication; what its duty keeps begins with the end of the warm-up and goes on
for 8 h. Where both know a move it is the same move, so that a log that reaches far takes all that departs before the
duty's begin from the run, and the rest from the duty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, resting_order
from linewright.line.model import Line
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.flow.duty import Duty

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOVE_COLUMNS: Final = ("carrier", "departure_s", "from_stop", "to_stop", "arrival_s", "loaded")
WORK_COLUMNS: Final = ("carrier", "serial", "start_s", "end_s", "repair_s")


class Logged(Protocol):
    """What a picture needs of a run: the logs of one replication over a stretch of time."""

    @property
    def moves(self) -> Table:
        """Columns carrier, departure_s, from_stop, to_stop, arrival_s, loaded."""

    @property
    def works(self) -> Table:
        """Columns station, carrier, serial, start_s, end_s, repair_s."""

    @property
    def warm_up_s(self) -> float:
        """From then on the line runs as it does for long. [s]"""

    @property
    def trace_from_s(self) -> float:
        """From when on the logs are complete. [s]"""

    @property
    def trace_to_s(self) -> float:
        """Until when. [s]"""


@dataclass(frozen=True, eq=False)
class Logs:
    """Moves and works of one replication.

    Parameters
    ----------
    from_s, to_s : between these nothing is missing. [s]
    carrier, from_stop, to_stop : int64[R]   Of each move, by carrier and then by departure
    departure_s, arrival_s : float64[R]      [s]
    loaded : bool[R]                         A part is aboard
    work_stop, work_carrier, work_serial : int64[W]   Of each work: rank of its station's stop, carrier, part
    work_start_s, work_end_s, work_repair_s : float64[W]   Repairs lie within the work. [s]
    stands : int64[carriers]                 Where each carrier stands before its first move; -1 where not known
    """

    from_s: float
    to_s: float
    carrier: Ints
    departure_s: Floats
    from_stop: Ints
    to_stop: Ints
    arrival_s: Floats
    loaded: NDArray[np.bool_]
    work_stop: Ints
    work_carrier: Ints
    work_serial: Ints
    work_start_s: Floats
    work_end_s: Floats
    work_repair_s: Floats
    stands: Ints


def reach_of(evaluation: Evaluation) -> tuple[float, float]:
    """From when to when the moves of an evaluation with a run are known. [s]"""
    run = evaluation.run
    if run is None:
        raise ValueError("the evaluation has no run")
    to_s = run.trace_to_s
    if evaluation.duty is not None and evaluation.duty.log is not None:
        to_s = max(to_s, evaluation.duty.to_s)
    return run.trace_from_s, to_s


def run_logs(line: Line, layout: Layout, run: Logged) -> Logs:
    """What a run itself keeps."""
    return _ordered(line, layout, run.trace_from_s, run.trace_to_s, *_of_run(layout, run))


def long_logs(line: Line, layout: Layout, run: Logged, duty: Duty) -> Logs:
    """What a run and its duty keep together.

    Raises
    ------
    ValueError   The duty has no log.
    """
    moves, works = _of_run(layout, run)
    before = np.array(moves["departure_s"]) < duty.from_s
    over = np.array(works["end_s"]) < duty.from_s
    more_moves, more_works = _of_duty(line, layout, duty)
    moves = {name: np.concatenate([moves[name][before], more_moves[name]]) for name in moves}
    works = {name: np.concatenate([works[name][over], more_works[name]]) for name in works}
    return _ordered(line, layout, run.trace_from_s, max(run.trace_to_s, duty.to_s), moves, works)


def _of_run(layout: Layout, run: Logged) -> tuple[dict[str, Any], dict[str, Any]]:
    ranks = {stop.station: stop.index for stop in layout.stops if stop.station is not None}
    moves = {name: run.moves[name] for name in MOVE_COLUMNS}
    works: dict[str, Any] = {name: run.works[name] for name in WORK_COLUMNS}
    works["stop"] = np.array([ranks[name] for name in run.works["station"].tolist()], np.int64)
    return moves, works


def _of_duty(line: Line, layout: Layout, duty: Duty) -> tuple[dict[str, Any], dict[str, Any]]:
    log = duty.log
    if log is None:
        raise ValueError("the duty has no log")
    legs = np.array([(leg.start, leg.end, leg.loaded) for leg in duty.legs], np.int64).reshape(-1, 3)[duty.leg]
    ranks = np.array([layout.stop_of(station.name).index for station in line.stations], np.int64)
    moves = {
        "carrier": duty.carrier,
        "departure_s": duty.departure_us / 1e6,
        "from_stop": legs[:, 0],
        "to_stop": legs[:, 1],
        "arrival_s": log.arrival_us / 1e6,
        "loaded": legs[:, 2] == 1,
    }
    works = {
        "carrier": log.work_carrier,
        "serial": log.work_serial,
        "start_s": duty.work_start_us / 1e6,
        "end_s": duty.work_end_us / 1e6,
        "repair_s": log.work_repair_us / 1e6,
        "stop": ranks[duty.work_station],
    }
    return moves, works


def _ordered(
    line: Line, layout: Layout, from_s: float, to_s: float, moves: dict[str, Any], works: dict[str, Any]
) -> Logs:
    """The arrays in order, and where each carrier stands at first."""
    order = np.lexsort((moves["departure_s"], moves["carrier"]))
    carrier = np.asarray(moves["carrier"], np.int64)[order]
    from_stop = np.asarray(moves["from_stop"], np.int64)[order]
    by_start = np.lexsort((works["carrier"], works["start_s"]))
    work_carrier = np.asarray(works["carrier"], np.int64)[by_start]
    work_stop = np.asarray(works["stop"], np.int64)[by_start]
    known = 1 + max(line.carriers - 1, int(carrier.max(initial=-1)), int(work_carrier.max(initial=-1)))
    stands = np.full(known, -1, np.int64)
    stands[work_carrier[::-1]] = work_stop[::-1]  # of several assignments the last one stays: the earliest work
    if from_s == 0.0:
        at = list(resting_order(line, layout))
        stands[: len(at)] = at
    stands[carrier[::-1]] = from_stop[::-1]
    return Logs(
        from_s=from_s,
        to_s=to_s,
        carrier=carrier,
        departure_s=np.asarray(moves["departure_s"], np.float64)[order],
        from_stop=from_stop,
        to_stop=np.asarray(moves["to_stop"], np.int64)[order],
        arrival_s=np.asarray(moves["arrival_s"], np.float64)[order],
        loaded=np.asarray(moves["loaded"], np.bool_)[order],
        work_stop=work_stop,
        work_carrier=work_carrier,
        work_serial=np.asarray(works["serial"], np.int64)[by_start],
        work_start_s=np.asarray(works["start_s"], np.float64)[by_start],
        work_end_s=np.asarray(works["end_s"], np.float64)[by_start],
        work_repair_s=np.asarray(works["repair_s"], np.float64)[by_start],
        stands=stands,
    )
