"""What one station, one step, one transfer and one pool of operators can make at most; the least time between works."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.flow.part_routes import Journey, Stay
from linewright.flow.part_ways import leg_times_us
from linewright.traffic.general import FEED, TAKE_AWAY, Outside, Pool
from linewright.traffic.plan import (
    EMPIRICAL,
    EMPTY,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GEOMETRIC,
    GIVEN,
    LOADED,
    LOGNORMAL,
    NO_LEG,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    TRIANGULAR,
    FailureKind,
    Law,
    TrafficPlan,
)

BOTH: Final = (EMPTY, LOADED)


def mean_us(law: Law) -> float:
    """The mean of a law of a plan. [us], of a geometric one in cycles

    Parameters
    ----------
    law : of any kind; the mean of a GIVEN one is that of its times

    Raises
    ------
    ValueError   The kind is unknown, or no times are given.

    Notes
    -----
    Lognormal exp(a + b²/2), triangular (a + b + c)/3, gamma a b. That a draw is rounded up to a whole microsecond is
    left out: it only lowers a rate.

    Source     Moments of the laws; tests/reference/data/time_laws.json holds some.
    Examples   >>> mean_us(Law(TRIANGULAR, 1e6, 2e6, 6e6)), mean_us(Law(GAMMA, 4.0, 5e5))
               (3000000.0, 2000000.0)
    """
    if law.kind in (FIXED, EXPONENTIAL, GEOMETRIC):
        return law.a
    if law.kind == TRIANGULAR:
        return (law.a + law.b + law.c) / 3.0
    if law.kind == LOGNORMAL:
        return math.exp(law.a + 0.5 * law.b**2)
    if law.kind == GAMMA:
        return law.a * law.b
    if law.kind in (GIVEN, EMPIRICAL) and law.given_us:
        return sum(law.given_us) / len(law.given_us)
    raise ValueError(f"a law of kind {law.kind} with {len(law.given_us)} times has no mean")


# ---- works -----------------------------------------------------------------------------------------------------------


def work_us(plan: TrafficPlan, station: int, stay: Stay) -> float:
    """Mean work of a stay at a station with the expected repairs of failures of running and of jams. [us]"""
    work = _pure_work_us(plan, station, stay)
    more = 0.0
    for kind in failures_of(plan, station, OF_RUNNING):
        more += work * mean_us(kind.repair) / (mean_us(kind.every) + 1.0)
    for kind in failures_of(plan, station, OF_CYCLES):
        more += mean_us(kind.repair) / mean_us(kind.every)
    return work + more


def clock_in_work_us(plan: TrafficPlan, station: int, stay: Stay) -> float:
    """Mean repair of clock failures that come during one work: of exponential ones the hazard is the same at any time;
    of others nothing is certain. [us]"""
    work = _pure_work_us(plan, station, stay)
    kinds = [kind for kind in failures_of(plan, station, OF_CLOCK) if kind.every.kind == EXPONENTIAL]
    return sum(work * mean_us(kind.repair) / (mean_us(kind.every) + 1.0) for kind in kinds)


def dwell_us(plan: TrafficPlan, station: int, stay: Stay) -> float:
    """Least mean time from arrival at a station until the carrier is ready. [us]"""
    settled = int(plan.settling_us[station]) + plan.start_handshake_us
    after = _until_done_us(plan, station)
    return float(settled + after) + work_us(plan, station, stay) + clock_in_work_us(plan, station, stay)


def failures_of(plan: TrafficPlan, station: int, of: int) -> list[FailureKind]:
    """A station's kinds of failure of a sort. Those with given times end some day and count nothing."""
    return [kind for kind in plan.failures if kind.station == station and kind.of == of and kind.every.kind != GIVEN]


def _until_done_us(plan: TrafficPlan, station: int) -> int:
    """From the end of work until the carrier is ready at the earliest. [us]"""
    return max(int(plan.clear_us[station]), _release_us(plan, station)) + plan.done_handshake_us


def _release_us(plan: TrafficPlan, station: int) -> int:
    return max(plan.general.release_us[station], 0) if plan.general.release_us else 0


def _law(plan: TrafficPlan, station: int, stay: Stay) -> Law:
    if plan.general.variants:
        return dict(plan.general.variants[stay.variant].work).get(station, plan.work[station])
    return plan.work[station]


def _draws(plan: TrafficPlan, station: int, stay: Stay) -> int:
    """Draws of which a work is the sum."""
    return stay.parts if not plan.general.each_part or plan.general.each_part[station] else 1


def _pure_work_us(plan: TrafficPlan, station: int, stay: Stay) -> float:
    return mean_us(_law(plan, station, stay)) * _draws(plan, station, stay)


# ---- between works ---------------------------------------------------------------------------------------------------


def least_gap_us(plan: TrafficPlan, station: int, load: int, carriers: int) -> float:
    """Least time from the end of one work at a station to the start of the next. [us]

    Parameters
    ----------
    plan : a traffic plan
    station : its number
    load : class of the carrier that comes next
    carriers : how many there are; one alone follows nobody
    """
    track = plan.general.track
    stop = int(plan.station_stop[station])
    if track is None:
        reach = plan.move_us.shape[2]
        legs = [int(plan.move_us[load, (stop - back) % plan.stops, back - 1]) for back in range(1, reach + 1)]
        move = float(min((leg for leg in legs if leg != NO_LEG), default=0))
        # The same carrier may be the next only after a round, which has a ride in it; on a ring its leader has gone on.
        follow = min(plan.follow_us, int(plan.aboard_us.min(initial=plan.follow_us))) if carriers > 1 else 0
    else:
        move = float(leg_times_us(track, load)[:, stop].min())
        move = move if math.isfinite(move) else 0.0
        # Who comes next may have another leader than the one who left.
        follow = 0
    if plan.general.going_on:
        # Who is under way already may be re-aimed at the station, a reaction before it arrives at the latest.
        move = 0.0
    settled = int(plan.settling_us[station]) + plan.start_handshake_us
    exchange = _until_done_us(plan, station) + follow + move + settled
    return float(max(int(plan.clear_us[station]) + int(plan.prepare_us[station]), exchange))


def _gap_us(plan: TrafficPlan, station: int, carriers: int) -> float:
    """The least gap at a station, of the classes that may come next. [us]"""
    if int(plan.station_step[station]) > 0:
        return least_gap_us(plan, station, LOADED, carriers)
    sent_back = any(rework.step == 0 for rework in plan.general.rework)
    return min(least_gap_us(plan, station, load, carriers) for load in (BOTH if sent_back else (EMPTY,)))


# ---- steps -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Room:
    """What a station has for a step's stays.

    Parameters
    ----------
    share : of the time, for them
    times_us : of each stay, its gap counted. [us]
    mean_us : of these
    """

    share: float
    times_us: tuple[float, ...]
    mean_us: float

    @property
    def per_us(self) -> float:
        """Most stays per time. [1/us]"""
        return self.share / self.mean_us if self.mean_us > 0.0 else math.inf


def step_per_us(plan: TrafficPlan, found: Sequence[Journey], step: int, carriers: int) -> float:
    """Most good parts per time that one step allows; infinite where some carriers never come to it. [1/us]

    Notes
    -----
    Station s has the share a of the time for stays of kind v that take t_sv each, gaps counted, and m_v of them belong
    to a good part. For any prices y_s the good parts per time are at most Σ a_s y_s / Σ m_v min_s (t_sv y_s) (weak
    duality); y_s = 1 / mean t_s makes that exact where the kinds' times are in proportion.
    """
    kinds = [(k, stay) for k, journey in enumerate(found) for stay in journey.stays if stay.step == step]
    each = [stay.reached / found[k].good for k, stay in kinds]
    stays = [stay for _, stay in kinds]
    rooms = [_room(plan, station, stays, each, carriers) for station in plan.step_stations[step]]
    most = sum(room.per_us for room in rooms)
    if not stays or not math.isfinite(most):
        return math.inf
    needs = [0.0] * len(found)
    for i, (k, _) in enumerate(kinds):
        needs[k] += each[i] * min(room.times_us[i] / room.mean_us for room in rooms)
    work = most / min(needs) if min(needs) > 0.0 else math.inf
    return min(work, _outside_per_us(plan, found, step))


def _room(plan: TrafficPlan, station: int, stays: Sequence[Stay], each: Sequence[float], carriers: int) -> _Room:
    """Of three true statements on a station the narrowest: what clock failures take of its time, what they add to its
    works, what breaks take of its time."""
    gap = _gap_us(plan, station, carriers)
    works = [work_us(plan, station, stay) + gap for stay in stays]
    longer = [work + clock_in_work_us(plan, station, stay) for work, stay in zip(works, stays, strict=True)]
    statements = (
        (max(1.0 - _clock_lost(plan, station, gap), 0.0), works),
        (1.0, longer),
        (_share_for_work(plan, station, stays, gap), works),
    )
    total = math.fsum(each)
    found = [
        _Room(share, tuple(times), math.fsum(m * t for m, t in zip(each, times, strict=True)) / total if total else 0.0)
        for share, times in statements
    ]
    return min(found, key=lambda room: room.per_us)


def _clock_lost(plan: TrafficPlan, station: int, gap: float) -> float:
    """The least share of time that clock failures take from works and their gaps."""
    lost = 0.0
    for kind in failures_of(plan, station, OF_CLOCK):
        # A failure that comes due while the station is down waits, so that others' repairs thin it out.
        others = min(sum(_most_down(plan, other, gap) for other in plan.failures
                         if other.station == station and other is not kind), 1.0)  # fmt: skip
        repair = mean_us(kind.repair)
        lost += (1.0 - others) * max(repair - gap, 0.0) / (mean_us(kind.every) + 1.0 + repair)
    return lost


def _most_down(plan: TrafficPlan, kind: FailureKind, gap: float) -> float:
    """The largest share of time in which a kind of failure holds its station down."""
    if kind.every.kind == GIVEN:
        return 0.0
    every, repair = mean_us(kind.every), mean_us(kind.repair)
    if kind.of == OF_CYCLES:
        every *= _least_mean_us(plan, kind.station) + gap
    return repair / (every + repair) if repair > 0.0 else 0.0


def _least_mean_us(plan: TrafficPlan, station: int) -> float:
    """The least mean of a draw of work at a station, over the variants. [us]"""
    own = [dict(variant.work).get(station, plan.work[station]) for variant in plan.general.variants]
    return min(mean_us(law) for law in (own or [plan.work[station]]))


# ---- breaks ----------------------------------------------------------------------------------------------------------


def _share_for_work(plan: TrafficPlan, station: int, stays: Sequence[Stay], gap: float) -> float:
    """The largest share of time for works and their gaps: all but the breaks, in each of which the work in hand and
    one gap may go on."""
    shift, stretches = _breaks(plan, station)
    if not stretches:
        return 1.0
    hidden = max((_residual_us(plan, station, stay) for stay in stays), default=0.0) + gap
    return 1.0 - sum(max(end - begin - hidden, 0.0) for begin, end in stretches) / shift


def _breaks(plan: TrafficPlan, station: int) -> tuple[float, list[tuple[int, int]]]:
    """The shift and the stretches of it in which a station starts no work, none overlapping."""
    own = [one for one in plan.general.breaks if station in one.stations]
    if not own or len({one.shift_us for one in own}) > 1:
        # Shifts of different lengths (not from any line file) would need their common multiple: say nothing.
        return 1.0, []
    found: list[tuple[int, int]] = []
    for begin, end in sorted((one.begin_us, one.begin_us + one.length_us) for one in own):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    shift = own[0].shift_us
    # What runs on into the next shift, where a break may begin too, is left out.
    return float(shift), [(begin, min(end, shift)) for begin, end in found]


def _residual_us(plan: TrafficPlan, station: int, stay: Stay) -> float:
    """The largest mean of what is left of a work, its repairs counted, at a time that does not depend on its length.
    [us]"""
    law, running = _law(plan, station, stay), failures_of(plan, station, OF_RUNNING)
    left = _residual_of_draw_us(law) * _draws(plan, station, stay)
    if any(kind.every.kind != EXPONENTIAL for kind in running):
        return math.inf
    left *= 1.0 + sum(mean_us(kind.repair) / (mean_us(kind.every) + 1.0) for kind in running)
    return left + sum(_residual_of_draw_us(kind.repair) for kind in running + failures_of(plan, station, OF_CYCLES))


def _residual_of_draw_us(law: Law) -> float:
    """A bound of the mean of what is left of a draw at any age: its mean where the hazard never falls, else its largest
    value. [us]"""
    rising = law.kind in (FIXED, TRIANGULAR, EXPONENTIAL) or (law.kind == GAMMA and law.a >= 1.0)
    if rising:
        return mean_us(law)
    return float(max(law.given_us)) if law.kind in (EMPIRICAL, GIVEN) else math.inf


# ---- outside ---------------------------------------------------------------------------------------------------------


def _outside_per_us(plan: TrafficPlan, found: Sequence[Journey], step: int) -> float:
    """Most good parts per time that feeds, and take-aways, at all stations of a step allow. [1/us]"""
    least = math.inf
    for kind in (FEED, TAKE_AWAY):
        machines = {one.station: one for one in plan.general.outside if one.kind == kind}
        stations = plan.step_stations[step]
        if not all(station in machines for station in stations):
            continue
        parts = [
            math.fsum(
                stay.reached * (stay.leaving if kind == TAKE_AWAY else stay.parts)
                for stay in journey.stays
                if stay.step == step
            )
            / journey.good
            for journey in found
        ]
        if min(parts) > 0.0:
            least = min(least, sum(_outside_rate(machines[station]) for station in stations) / min(parts))
    return least


def _outside_rate(one: Outside) -> float:
    """Most parts per time of a machine outside. [1/us]"""
    time = mean_us(one.time)
    failing = [(every, repair) for every, repair in one.failures if every.kind != GIVEN]
    time += sum(time * mean_us(repair) / (mean_us(every) + 1.0) for every, repair in failing)
    return 1.0 / time if time > 0.0 else math.inf


# ---- operators and transfers -----------------------------------------------------------------------------------------


def pool_per_us(plan: TrafficPlan, found: Sequence[Journey], pool: Pool) -> float:
    """Most good parts per time that a pool's operators allow, walking apart. [1/us]"""

    def busy_us(station: int, stay: Stay) -> float:
        if station not in pool.stations:
            return 0.0
        works = plan.general.manual[station] if plan.general.manual else False
        return (work_us(plan, station, stay) if works else 0.0) + _release_us(plan, station)

    needs = [
        math.fsum(stay.reached * min(busy_us(s, stay) for s in plan.step_stations[stay.step]) for stay in journey.stays)
        / journey.good
        for journey in found
    ]
    return pool.operators / min(needs) if min(needs) > 0.0 else math.inf


def transfer_cycle_us(plan: TrafficPlan, transfer: int, quickest: bool = False) -> int:
    """The least cycle of a transfer of a plain loop with a carrier always at its dock. [us]

    Parameters
    ----------
    plan : a traffic plan without a track of its own
    transfer : its number
    quickest : of the load classes that pass, and the legs that begin there, count the quickest (what no run can be
        under); else the slower class

    Raises
    ------
    ValueError   The plan has a track of its own.

    Notes
    -----
    Move from the dock stop aboard + unlock, ride, align and lock + the move off until the rear has left + unlock, empty
    ride, align and lock. A load class that never passes has no legs and does not count.

    Source     docs/semantics.md, "Transfers".
    """
    if plan.general.track is not None:
        raise ValueError("the cycle of a transfer is known on a plain loop only")
    aboard = int(plan.stop_transfer.tolist().index(transfer))
    ons = [time for load in BOTH if (time := int(plan.move_us[load, aboard - 1, 0])) != NO_LEG]
    offs = [
        min(times)
        for load in BOTH
        if (times := plan.rear_us[load, transfer][plan.move_us[load, aboard] != NO_LEG].tolist())
    ]
    of = min if quickest else max
    return of(ons, default=0) + int(plan.aboard_us[transfer]) + of(offs, default=0) + int(plan.home_us[transfer])


def least_transfer_cycle_us(plan: TrafficPlan, transfer: int) -> float:
    """What no cycle of a transfer of a plain loop can be under. [us]"""
    cycle = float(transfer_cycle_us(plan, transfer, quickest=True))
    if not plan.general.going_on:
        return cycle
    # Who is under way to the dock may be re-aimed at the place aboard: its move counts nothing for certain.
    aboard = int(plan.stop_transfer.tolist().index(transfer))
    times = plan.move_us[:, aboard - 1, 0]
    return cycle - float(min(times[times != NO_LEG].tolist(), default=0))


def down_shares(plan: TrafficPlan) -> float:
    """The sum of the shares of time in which clock failures hold stations down; may be above 1."""
    kinds = [kind for s in range(len(plan.station_names)) for kind in failures_of(plan, s, OF_CLOCK)]
    return float(np.sum([mean_us(kind.repair) / (mean_us(kind.every) + mean_us(kind.repair)) for kind in kinds]))
