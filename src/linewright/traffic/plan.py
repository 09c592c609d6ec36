"""The traffic plan: stops, legs, times, routes and luck of one line as plain arrays.

Everything that the kernel, the prover and the live line know of a line stands here. Stops are numbered in loop order
(their **rank**); a **leg** is one move from a stop over a number of stops; times are whole microseconds. Load class 0
is an empty carrier, 1 one with a part aboard.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.traffic.general import General

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

WAITING: Final = 0
STATION: Final = 1
DOCK: Final = 2
ABOARD: Final = 3

EMPTY: Final = 0
LOADED: Final = 1

NO_BOUND: Final = -(2**31)
NO_LEG: Final = -1

FIXED: Final = 0
TRIANGULAR: Final = 1
LOGNORMAL: Final = 2
EXPONENTIAL: Final = 3
GIVEN: Final = 4
GAMMA: Final = 5
EMPIRICAL: Final = 6
GEOMETRIC: Final = 7

OF_RUNNING: Final = 0
OF_CLOCK: Final = 1
OF_CYCLES: Final = 2


@dataclass(frozen=True)
class Law:
    """The law of one duration, in microseconds, or of a number of cycles.

    Parameters
    ----------
    kind : FIXED, TRIANGULAR, LOGNORMAL, EXPONENTIAL, GAMMA, EMPIRICAL, GEOMETRIC or GIVEN
    a, b, c : FIXED: the time. TRIANGULAR: least, likely, most. LOGNORMAL: mean and standard deviation of the logarithm.
        EXPONENTIAL: the mean. GAMMA: shape and scale. GEOMETRIC: the mean, in cycles. [us], logarithms of us
    given_us : for GIVEN, the times one after the other; for EMPIRICAL, the times that may be drawn, ascending
    """

    kind: int
    a: float = 0.0
    b: float = 0.0
    c: float = 0.0
    given_us: tuple[int, ...] = ()


@dataclass(frozen=True)
class Chance:
    """The chance that a part is flagged: a share of all parts, or the serials that are.

    Parameters
    ----------
    share : 0 to 1
    given : if not None, exactly these serials are flagged
    """

    share: float = 0.0
    given: tuple[int, ...] | None = None


@dataclass(frozen=True)
class FailureKind:
    """One way in which a station fails: after how much running time, clock time or how many cycles, and for how long.

    With GIVEN laws the k-th failure takes the k-th time of each; after the last there is none.

    Parameters
    ----------
    station : its number
    every : time, or with OF_CYCLES the number of works, from the end of a repair to the next failure
    repair : how long it takes
    of : what `every` counts: OF_RUNNING, OF_CLOCK or OF_CYCLES
    """

    station: int
    every: Law
    repair: Law
    of: int = OF_RUNNING


@dataclass(frozen=True, eq=False)
class TrafficPlan:
    """One line, ready to run. N stops, K carriers, S stations, P steps, T transfers, R stops in the longest leg.

    Parameters
    ----------
    stop_kind : int64[N]     WAITING, STATION, DOCK or ABOARD
    stop_station : int64[N]  The station there, -1 for none
    stop_transfer : int64[N] At a place aboard its transfer, else -1
    stop_axis_m : float64[N] Place on the unrolled axis; loop_m is its length. [m]
    station_stop, station_step : int64[S]
    step_stations : the stations of each step; step_exit tells which steps are reject exits
    first_stops : int64[K]   Where each carrier stands at time zero; the leader of carrier c is c - 1, of carrier 0
        the last
    follow_us, start_handshake_us, done_handshake_us : the three reaction times. [us]
    settling_us, clear_us, prepare_us : int64[S] [us]
    move_us : int64[2, N, R] Duration of the leg from stop i over r stops at [class, i, r - 1]; NO_LEG where it has
        none. [us]
    leg : int64[N, R]        Number of that leg, or NO_LEG
    delay_us : int32[2 L, 2 L]  Least time from the leader's departure to the follower's, at
        [2 leg + class of the leader, 2 leg + class of the follower]; NO_BOUND where there is none. [us]
    aboard_us : int64[T]     From arrival aboard to the lock at the giving dock. [us]
    rear_us : int64[2, T, R] From departure over r stops until the carrier's rear has left the platform. [us]
    home_us : int64[T]       From there to the lock at the taking dock. [us]
    work : one law a station; reject : one chance a station; failures : the kinds of failure, in station order
    general : all that the line has beyond the plain loop; where it has a track of its own, the arrays by reach
        (move_us, leg, rear_us) have R = 0
    """

    stop_kind: Ints
    stop_station: Ints
    stop_transfer: Ints
    stop_axis_m: Floats
    loop_m: float
    pitch_m: float
    station_names: tuple[str, ...]
    station_stop: Ints
    station_step: Ints
    step_names: tuple[str, ...]
    step_stations: tuple[tuple[int, ...], ...]
    step_exit: tuple[bool, ...]
    transfer_names: tuple[str, ...]
    first_stops: Ints
    follow_us: int
    start_handshake_us: int
    done_handshake_us: int
    settling_us: Ints
    clear_us: Ints
    prepare_us: Ints
    move_us: Ints
    leg: Ints
    delay_us: NDArray[np.int32]
    aboard_us: Ints
    rear_us: Ints
    home_us: Ints
    work: tuple[Law, ...]
    reject: tuple[Chance, ...]
    failures: tuple[FailureKind, ...]
    general: General = field(default_factory=General)

    @property
    def stops(self) -> int:
        """Number of stops, N."""
        return len(self.stop_kind)

    @property
    def carriers(self) -> int:
        """Number of carriers, K."""
        return len(self.first_stops)

    def ahead(self, start: int, end: int) -> int:
        """Stops from one to the other in travel; a whole round if they are the same."""
        return (end - start) % self.stops or self.stops

    def move_time_us(self, load: int, start: int, end: int) -> int:
        """Duration of a leg. [us] Raises KeyError where the plan has no such leg."""
        time = int(self.move_us[load, start, self._reach(start, end)])
        if time == NO_LEG:
            raise KeyError(f"the plan has no leg from stop {start} to stop {end} for load class {load}")
        return time

    def rear_time_us(self, load: int, start: int, end: int) -> int:
        """From departure from a place aboard until the carrier's rear has left the platform. [us]"""
        return int(self.rear_us[load, self.stop_transfer[start], self._reach(start, end)])

    def delay(self, leader: tuple[int, int, int], follower: tuple[int, int, int]) -> int | None:
        """Least time from the leader's departure to the follower's. [us]

        Parameters
        ----------
        leader, follower : stop left, stop reserved, load class

        Returns
        -------
        int or None   None where the leader's move gives no bound.
        """
        row = 2 * int(self.leg[leader[0], self._reach(leader[0], leader[1])]) + leader[2]
        column = 2 * int(self.leg[follower[0], self._reach(follower[0], follower[1])]) + follower[2]
        delay = int(self.delay_us[row, column])
        return None if delay == NO_BOUND else delay

    def _reach(self, start: int, end: int) -> int:
        reach = self.ahead(start, end) - 1
        if reach >= self.leg.shape[1] or self.leg[start, reach] == NO_LEG:
            raise KeyError(f"the plan has no leg from stop {start} to stop {end}")
        return reach
