"""When a section of track dies under a moving carrier: whether its follower runs into it, and how hard.

A dead section holds nothing: its carrier coasts, or something brings it to a stand. The carrier behind, on the section
before, has its drive still: its controls notice after the sheet's reaction and brake it. Of a run every instant is
tried in which two carriers that follow each other both move.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.line.model import Line
from linewright.motion.limits import moving_mass_kg
from linewright.traffic.closing import most_coasting, most_standing
from linewright.traffic.contact import Chases, coasting_contact, narrow, standing_contact
from linewright.traffic.plan import LOADED, TrafficPlan
from linewright.traffic.referee.following import Stretches
from linewright.traffic.referee.judge import Followed, follow_log
from linewright.traffic.referee.keys import kinds_of
from linewright.traffic.referee.log import Log

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Value = Callable[[Ints, Floats, Floats], Floats]
"""Of pairs of moves at instants; less may be told where it is not above the last argument."""

SAMPLES: Final = 4
"""Instants tried between two changes of either's jerk before the search narrows."""
FIRST_ROWS: Final = 1 << 8
ROWS: Final = 1 << 11
"""Pairs of moves that are looked at together: at first few, so that soon much is known to be outdone."""
SAME_S: Final = 1e-9
SAME_SCORE: Final = 2e-9
"""Scores are rounded to 1e-9."""
TRIED: Final = 32
"""Pairs of moves, those with the most energy, for which the instant is narrowed down."""


@dataclass(frozen=True)
class Contact:
    """The hardest contact that was found.

    Parameters
    ----------
    speed_m_s : of the follower against the leader. [m/s]
    energy_J : that of the follower's moving mass at this speed. [J]
    moving_mass_kg : carrier and fixture, and parts where it is loaded. [kg]
    follower, leader : carriers
    time_us : when the leader loses its drive. [us]
    lane : its name; section : of the lane, counted from 1 at its start, 0 on a platform or between the two
    travel_m : where the leader is then, from the lane's start. [m]
    """

    speed_m_s: float
    energy_J: float
    moving_mass_kg: float
    follower: int
    leader: int
    time_us: float
    lane: str
    section: int
    travel_m: float


@dataclass(frozen=True)
class DeadSection:
    """What happens when a section dies under a moving carrier.

    Parameters
    ----------
    standing : the hardest contact where the leader stands at once, which bounds every other; None if there is none
    coasting : where it coasts with the least drag of the sheet; None if there is none or the sheet states no drag
    least_drag_N : of the sheet; None where it states none, and coasting is not looked at. [N]
    left_m : least way left between the two bodies once the follower stands, the leader standing at once; 0 where they
        touch. [m]
    reaction_s : from the loss of drive until the follower brakes. [s]
    pairs : different pairs of moves that were looked at
    """

    standing: Contact | None
    coasting: Contact | None
    least_drag_N: float | None
    left_m: float
    reaction_s: float
    pairs: int


def worst_contact(
    line: Line, layout: Layout, plan: TrafficPlan, moves: Ints, until_us: int | None = None
) -> DeadSection | None:
    """The hardest contact of two carriers of a run, if a section died under the one ahead at the worst instant.

    Parameters
    ----------
    line, layout : a line and its own layout
    plan : its traffic plan, of which the reaction counts
    moves : int64[rows, 6]   The log of one replication, as for the referee.
    until_us : up to when it is complete; None: to the last departure. [us]

    Returns
    -------
    DeadSection   None where no two carriers that follow each other ever move at once.

    Notes
    -----
    The leader loses its drive at an instant. The follower keeps to its profile for the sheet's reaction to the leader,
    then brakes with the deceleration and jerk of its leg. Where the leader stands at once the two touch if the follower
    comes as far as the leader's rear; its speed there follows from the cubic on which it happens. Where the leader
    coasts with the drag F over its mass, they touch at the first instant at which both are at one place, and the speed
    is the difference of theirs. The energy is that of the follower's moving mass at this speed: a bound of what the
    contact must take up. The instant is sought on a grid between the changes of jerk and narrowed by golden sections.

    A follower that stands over the same section loses its drive too and coasts as the leader does; that is not looked
    at, nor is a platform's loss of drive.

    Source     elementary mechanics; no published limit of such a contact is used: an aid only, the allowed contact
               energy is the maker's to state.
    """
    return contact_of(line, layout, plan, follow_log(line, layout, plan, moves, until_us))


def contact_of(line: Line, layout: Layout, plan: TrafficPlan, followed: Followed) -> DeadSection | None:
    """The same of a log that the referee has read already.

    Parameters
    ----------
    line, layout, plan : as for :func:`worst_contact`
    followed : of :func:`linewright.traffic.referee.follow_log`, of the same three
    """
    chases = _chases_of(line, layout, followed.log, followed.stretches)
    if not len(chases.follower):
        return None
    reaction_s = plan.follow_us / 1e6
    drag_N = None if line.conveyor.coasting is None else line.conveyor.coasting.least_drag_N

    def stands(number: Ints, time_s: Floats, above: Floats) -> Floats:
        return standing_contact(chases, number, time_s, reaction_s, above)[0]

    def coasts(number: Ints, time_s: Floats, above: Floats) -> Floats:
        return coasting_contact(chases, number, time_s, reaction_s, drag_N or 0.0, above)

    def gone(number: Ints, time_s: Floats, _: Floats) -> Floats:
        return -standing_contact(chases, number, time_s, reaction_s, np.full_like(time_s, np.inf))[1]

    none = np.ones(len(chases.follower))
    standing = _hardest(layout, followed, chases, stands, most_standing(chases, reaction_s), reaction_s)
    left = 0.0 if standing is not None else -_greatest(chases, gone, reaction_s, none, np.inf * none)[0]
    coasting = None
    if drag_N is not None:
        most = most_coasting(chases, reaction_s, drag_N)
        coasting = _hardest(layout, followed, chases, coasts, most, reaction_s)
    return DeadSection(
        standing=standing,
        coasting=coasting,
        least_drag_N=drag_N,
        left_m=max(left, 0.0),
        reaction_s=reaction_s,
        pairs=len(chases.follower),
    )


def _chases_of(line: Line, layout: Layout, log: Log, stretches: Stretches) -> Chases:
    """The different pairs of moves in one direction, of the stretches in which both carriers move."""
    both = np.flatnonzero(stretches.both_move)
    behind, ahead = stretches.follower_row[both], stretches.leader_row[both]
    chosen = log.sign[behind] == log.sign[ahead]
    both, behind, ahead = both[chosen], behind[chosen], ahead[chosen]
    reverse = log.sign[behind] < 0
    follower, leader = np.where(reverse, ahead, behind), np.where(reverse, behind, ahead)
    apart = stretches.leader_m[both] - stretches.follower_m[both] - layout.body_m
    departs = log.departure_us[leader]
    columns = (
        log.profile[follower],
        log.profile[leader],
        log.departure_us[follower] - departs,
        stretches.begin_us[both] - departs,
        stretches.end_us[both] - departs,
        np.round(apart * 1e9).astype(np.int64),
    )
    order = np.argsort(stretches.begin_us[both], kind="stable")
    kept = order[np.sort(kinds_of(tuple(column[order] for column in columns))[0])]
    follower, leader, departs = follower[kept], leader[kept], departs[kept]
    masses = np.array([moving_mass_kg(line, loaded) for loaded in (False, True)])
    braking = np.array([one.limits.braking_m_s2 for one in log.profiles])
    jerk = np.array([one.limits.jerk_m_s3 for one in log.profiles])
    of = log.profile[follower]
    return Chases(
        table=log.table,
        follower=of,
        leader=log.profile[leader],
        offset_s=(log.departure_us[follower] - departs) * 1e-6,
        from_s=(stretches.begin_us[both[kept]] - departs) * 1e-6,
        to_s=(stretches.end_us[both[kept]] - departs) * 1e-6,
        ahead_m=apart[kept],
        follower_kg=masses[(log.load[follower] == LOADED).astype(np.int64)],
        leader_kg=masses[(log.load[leader] == LOADED).astype(np.int64)],
        braking_m_s2=braking[of] if len(of) else np.zeros(0),
        jerk_m_s3=jerk[of] if len(of) else np.zeros(0),
        stretch=both[kept],
        reverse=reverse[kept],
    )


def _instants(chases: Chases, reaction_s: float) -> Floats:
    """Instants to try, by pair, ascending: between all changes of jerk that matter; infinite where there are fewer.
    Shape (C, instants). [s]"""
    table = chases.table
    follows = table.starts_s[chases.follower] + chases.offset_s[:, None]
    ends = np.concatenate((table.starts_s[chases.leader], follows, follows - reaction_s), axis=1)
    low, high = chases.from_s[:, None], chases.to_s[:, None]
    ends = np.sort(np.clip(np.concatenate((low, ends, high), axis=1), low, high), axis=1)
    tried = ends[:, :-1, None] + np.diff(ends, axis=1)[:, :, None] * (np.arange(SAMPLES) / SAMPLES)
    tried = np.concatenate((tried.reshape(len(ends), -1), high), axis=1)
    again = np.diff(tried, axis=1) < SAME_S
    tried[:, 1:][again] = np.inf
    tried.sort(axis=1)
    return tried[:, : int(np.isfinite(tried).sum(axis=1).max(initial=1))]


def _greatest(
    chases: Chases, value: Value, reaction_s: float, weight: Floats, most: Floats
) -> tuple[float, int, float]:
    """The greatest value times weight over all pairs and instants: the value, the pair, the instant.

    Parameters
    ----------
    chases, value, reaction_s : of which, of what, and until the follower brakes. [s]
    weight : float64[C]
    most : float64[C]   What the value of each pair never exceeds.

    Notes      Pairs are looked at by what they can have at most, until the next cannot come among the TRIED greatest.
               A value is told only where, weighted, it may be among these.
    """
    kept: list[tuple[float, int, float, float, float]] = []
    least, begin, rows = -np.inf, 0, FIRST_ROWS
    order = np.argsort(-most * weight, kind="stable")
    while begin < len(order):
        part = order[begin : begin + rows]
        part = part[(most * weight)[part] >= least - SAME_SCORE]
        if not part.size:
            break
        begin, rows = begin + rows, ROWS
        instants = _instants(chases.part(part), reaction_s)
        row, column = np.nonzero(np.isfinite(instants))
        values = np.full(instants.shape, -np.inf)
        number = part[row]
        # A little below the least, so that what equals it is told too.
        values[row, column] = value(number, instants[row, column], (least - SAME_SCORE) / weight[number])
        best = values.argmax(axis=1)
        scores = np.round(weight[part] * values[np.arange(len(part)), best], 9)
        last = np.isfinite(instants).sum(axis=1) - 1
        for k in np.flatnonzero(scores >= least).tolist():
            before, after = max(best[k] - 1, 0), min(best[k] + 1, last[k])
            at = (float(instants[k, n]) for n in (before, best[k], after))
            kept.append((float(scores[k]), int(part[k]), *at))  # type: ignore[arg-type]
        kept.sort(key=lambda one: (-one[0], one[1]))  # of equals the first of the run
        del kept[TRIED:]
        if len(kept) == TRIED:
            least = kept[-1][0]
    tried = np.array([one[1] for one in kept], np.int64)
    below, at_best, above = (np.array([one[k] for one in kept]) for k in (2, 3, 4))
    none = np.full(len(tried), -np.inf)
    middle = narrow(lambda t: value(tried, t, none), below, above)
    narrowed, sampled = (weight[tried] * value(tried, t, none) for t in (middle, at_best))
    top = np.maximum(narrowed, sampled)
    k = int(np.argmax(np.round(top, 9)))
    return float(top[k]), int(tried[k]), float(np.where(narrowed > sampled, middle, at_best)[k])


def _hardest(
    layout: Layout, followed: Followed, chases: Chases, speed: Value, most: Floats, reaction_s: float
) -> Contact | None:
    """The contact of the most energy, and where it happens."""
    log, pairs, stretches = followed.log, followed.pairs, followed.stretches
    root, number, time_s = _greatest(chases, speed, reaction_s, np.sqrt(chases.follower_kg), most)
    if root <= 0.0:
        return None
    mass = float(chases.follower_kg[number])
    contact_m_s = root / math.sqrt(mass)
    k = int(chases.stretch[number])
    pair = stretches.pair[k]
    behind, ahead = pairs.carriers(int(pair))
    row, place = int(stretches.leader_row[k]), float(stretches.leader_m[k] - pairs.wrap_m[pair])
    if chases.reverse[number]:
        behind, ahead = ahead, behind
        row, place = int(stretches.follower_row[k]), float(stretches.follower_m[k])
    place += float(log.sign[row] * log.table.position(log.profile[row : row + 1], np.array([time_s]))[0])
    lane = layout.lanes[int(pairs.visits.lane[pairs.leader[pair]])]
    place = place % lane.length_m if lane.is_ring else place
    section = 1 + int(np.searchsorted(np.array(lane.joints_travel_m), place, "right"))
    if not 0.0 <= place <= lane.length_m:
        section = 0
    return Contact(
        speed_m_s=contact_m_s,
        energy_J=0.5 * mass * contact_m_s**2,
        moving_mass_kg=mass,
        follower=behind,
        leader=ahead,
        time_us=float(log.departure_us[row] + time_s * 1e6),
        lane=lane.name,
        section=section,
        travel_m=place,
    )
