"""How long a good part may take to come after a line goes on: for choosing the instants of stops and judging them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.line.model import Line
from linewright.line.station import Station
from linewright.line.times import Failure
from linewright.traffic.general import Break
from linewright.traffic.plan import TrafficPlan

MEAN_S: Final = 1200.0
"""Mean time between two stops: short enough that hundreds are run in seconds, long enough for many cycles. [s]"""
PASSES: Final = 5.0
"""So many times the time of a pass is looked for a good part: parts may be flagged, reworked, of another variant."""
REPAIRS: Final = 20.0
"""So many of the longest mean repairs are waited for: an exponential one is longer once in exp(20) = 5e8."""
MOST_SHIFTS: Final = 10
"""Where breaks leave hardly any time to work, the look ends after so many shifts."""


@dataclass(frozen=True)
class Allowance:
    """Times from where a line goes on.

    Parameters
    ----------
    least_s : a good part can have come, breaks and failures left out. [s]
    mean_s : mean time to the next stop, more than that. [s]
    look_s : a good part comes by then if one comes at all, breaks left out. [s]
    """

    least_s: float
    mean_s: float
    look_s: float


def allowance_of(line: Line, plan: TrafficPlan) -> Allowance:
    """The allowance of a line.

    Parameters
    ----------
    line, plan : a line and its plan

    Notes
    -----
    The first good part may be loaded only by the last of the K carriers, all before it being empty or flagged. They
    follow one another through the slowest step, and it then goes through all the others:

        least = sum over the steps (t + x) + (K - 1) (largest t + x)

    with t the time of a step (its slowest station: mean work of its slowest variant, prepare, clear, settling, both
    handshakes, release, changeover; where it is longer, the time in which the machine outside makes a load) and x that
    of an exchange (longest leg, slowest transfer there and back). Where operators serve several stations, the sum of
    their times over the operators counts as one step, walks included. It is a rough measure, on the safe side.

    Source     reckoned from the line's own times; factors from memory.
    """
    steps = [max(_station_s(line, plan, k) for k in stations) for stations in plan.step_stations]
    pools = [
        sum(_station_s(line, plan, k) + max(walk) / 1e6 for k, walk in zip(pool.stations, pool.walk_us, strict=True))
        / pool.operators
        for pool in plan.general.pools
    ]
    exchange_s = _exchange_s(plan)
    slowest_s = max(*steps, *pools, 0.0) + exchange_s
    least_s = sum(steps) + len(steps) * exchange_s + (plan.carriers - 1) * slowest_s
    repairs = [failure.repair.mean_s for station in line.stations for failure in station.failures]
    repairs += [failure.repair.mean_s for one in line.stations for machine in _outside(one) for failure in machine]
    look_s = PASSES * least_s + REPAIRS * max(repairs, default=0.0)
    return Allowance(least_s, max(MEAN_S, 2.0 * least_s), look_s)


def look_us(allowed: Allowance, breaks: tuple[Break, ...]) -> int:
    """How long a good part is looked for: the allowance and all breaks that begin in it. [us]

    Parameters
    ----------
    allowed : of the line
    breaks : from where the line goes on

    Examples
    --------
    >>> look_us(Allowance(1.0, 2.0, 3.0), (Break((0,), 2_000_000, 5_000_000, 100_000_000),))
    8000000
    """
    look = work = round(allowed.look_s * 1e6)
    most = MOST_SHIFTS * max((one.shift_us for one in breaks if one.begin_us + one.length_us < one.shift_us), default=0)
    while True:
        begun = sum(
            one.length_us * (1 + (look - one.begin_us) // one.shift_us) for one in breaks if one.begin_us < look
        )
        if work + begun <= look or look >= work + most:
            return look
        look = min(work + begun, work + most)


def _station_s(line: Line, plan: TrafficPlan, number: int) -> float:
    """The slowest mean cycle of a station. [s]"""
    station, nests = line.station(plan.station_names[number]), plan.general.nests
    own = [time.mean_s for variant in line.variants for name, time in variant.times if name == station.name]
    work_s = max([station.time.mean_s, *own]) * (nests if station.each == "part" else 1)
    changes = [us / 1e6 for one in plan.general.changeovers if one.station == number for row in one.us for us in row]
    shakes_us = plan.start_handshake_us + plan.done_handshake_us + int(plan.settling_us[number])
    cycle_s = work_s + station.prepare_s + station.clear_s + (station.release_s or 0.0)
    cycle_s += shakes_us / 1e6 + max(changes, default=0.0)
    machines = (station.feed, station.take_away)
    return max([cycle_s, *(nests * machine.every.mean_s for machine in machines if machine is not None)])


def _outside(station: Station) -> list[tuple[Failure, ...]]:
    """The kinds of failure of a station's machines outside."""
    return [machine.failures for machine in (station.feed, station.take_away) if machine is not None]


def _exchange_s(plan: TrafficPlan) -> float:
    """The longest leg, and the slowest transfer there and back. [s]"""
    track = plan.general.track
    legs = plan.move_us if track is None else track.leg_us
    rides = [us for one in plan.general.platforms for row in one.ride_us for us in row]
    there_us = max([*rides, *plan.aboard_us.tolist()], default=0)
    return (int(legs.max(initial=0)) + 2 * there_us) / 1e6
