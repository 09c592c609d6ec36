"""The rule core: who may go where, and when.

Written once, in plain Python on plain numbers, after docs/semantics.md. The event kernel compiles these functions,
the prover and the live line call them as they stand; so none of them calls another. They know nothing of time laws,
of work or of luck.
"""

from __future__ import annotations

from math import inf
from typing import Final

from linewright.traffic.plan import DOCK, NO_BOUND, WAITING, Floats, Ints

NEVER: Final = -(2**62)

# Columns of the table of stops that the rules of the track in general read.
STOP_KIND: Final = 0
STOP_STEP: Final = 1
STOP_LANE: Final = 2
STOP_ONWARD: Final = 3
STOP_TRANSFER: Final = 4
STOP_STRETCHES: Final = 5

NOBODY: Final = -1
SAME_LENGTH_M: Final = 1e-9
NO_STOP: Final = -1


def free_way(stop: int, leader_reserved: int, stops: int) -> int:
    """How many stops ahead are short of the stop that the leader has reserved.

    Examples
    --------
    >>> free_way(2, 6, 10), free_way(5, 6, 10), free_way(4, 4, 10)
    (3, 0, 9)
    """
    ahead = leader_reserved - stop
    return ahead - 1 if ahead > 0 else ahead - 1 + stops


def destination(stop: int, free: int, first: int, last: int, step_stop: Ints, stops: int) -> int:
    """How far ahead its destination is: of the stations of its next step the farthest on its free way; 0 if none is.

    Parameters
    ----------
    stop : where it stands
    free : stops of free way
    first, last : the step's stations are step_stop[first:last]
    step_stop : the stop of each station, step by step
    stops : number of stops of the loop
    """
    best = 0
    for i in range(first, last):
        ahead = step_stop[i] - stop
        if ahead <= 0:
            ahead += stops
        if best < ahead <= free:
            best = ahead
    return best


def farthest(stop: int, free: int, goal: int, platform_waits: bool, next_aboard: Ints, back: Ints, stops: int) -> int:
    """How many stops a carrier may go: to the farthest stop on its way at which it may rest; 0 if it has to stay.

    Parameters
    ----------
    stop : where it rests
    free : stops of free way, see `free_way`
    goal : stops to its destination, see `destination`; 0 if that is not on its free way
    platform_waits : the next transfer on its way stands at the dock, locked, empty and not spoken for
    next_aboard : stops from each stop to the next place aboard
    back : stops from each stop back to the nearest waiting or dock stop, 0 if it is one
    stops : number of stops of the loop
    """
    reach = goal if goal > 0 else free
    aboard = next_aboard[stop]
    if reach >= aboard:
        if platform_waits:
            return int(aboard)
        reach = aboard - 1
    elif goal > 0:
        return goal
    end = stop + reach
    if end >= stops:
        end -= stops
    return max(reach - int(back[end]), 0)


def departure(commitment: int, leader_commitment: int, leader_departure: int, follow_us: int, delay_us: int) -> int:
    """When a carrier that commits itself departs. [us]

    Parameters
    ----------
    commitment : its own
    leader_commitment, leader_departure : the leader's last ones; NEVER if it has not committed since time zero
    follow_us : reaction from a leader's commitment to its follower's departure
    delay_us : least time between the two departures that keeps the clear gap, NO_BOUND for none

    Examples
    --------
    >>> departure(100, 95, 95, 12, NO_BOUND), departure(100, 95, 120, 12, 30)
    (107, 150)
    >>> departure(100, NEVER, NEVER, 12, NO_BOUND)
    100
    """
    if leader_commitment == NEVER:
        return commitment
    time = max(commitment, leader_commitment + follow_us)
    if delay_us != NO_BOUND:
        time = max(time, leader_departure + delay_us)
    return time


def heading(
    stop: int, first: int, own: int, begin: int, end: int, step_stop: Ints, way_m: Floats, occupant: Ints
) -> int:
    """The stop where a carrier heads: of the stations of its next step the nearest on its way that is free, else the
    nearest, of those equally far that of the lowest rank; NO_STOP if its way leads to none.

    Parameters
    ----------
    stop : where it stands
    first : the stop that comes next if that is settled, as it is aboard a locked platform, else NO_STOP
    own : the carrier
    begin, end : the step's stations are step_stop[begin:end]
    step_stop : the stop of each station, step by step
    way_m : float64[N, N]   Length of the way from stop to stop, infinite where there is none. [m]
    occupant : who rests on each stop or has reserved it, NOBODY for none
    """
    best, nearest = NO_STOP, NO_STOP
    best_m, nearest_m = inf, inf
    for i in range(begin, end):
        goal = step_stop[i]
        length_m = way_m[stop, goal]
        if first != NO_STOP:
            length_m = 0.0 if goal == first else way_m[first, goal]
        if length_m < nearest_m - SAME_LENGTH_M or (length_m <= nearest_m + SAME_LENGTH_M and goal < nearest):
            nearest, nearest_m = goal, length_m
        if goal == stop or not (occupant[goal] == NOBODY or occupant[goal] == own):
            continue
        if length_m < best_m - SAME_LENGTH_M or (length_m <= best_m + SAME_LENGTH_M and goal < best):
            best, best_m = goal, length_m
    return best if best != NO_STOP else nearest


def look_ahead(
    stop: int,
    first: int,
    own: int,
    head: int,
    step: int,
    two_way: bool,
    closed: int,
    stops: Ints,
    way: Ints,
    occupant: Ints,
    barred: Ints,
    boardable: Ints,
    passed: Ints,
    walk: int,
) -> tuple[int, int, int]:
    """A carrier walks its way stop by stop up to its leader: which stop it may reserve, and who leads it.

    The way leads to where it heads and beyond that straight on. The farthest free station of its step before the leader
    is its goal; it may reserve the goal, or a place aboard before it; else the farthest stop at which it may rest. From
    aboard it may reserve the next place aboard along the shortest way alone, since a leg is named by its ends.

    Parameters
    ----------
    stop : where it rests
    first : the stop that comes next, NO_STOP if its way ends there
    own : the carrier; what it has reserved itself is free for it
    head : where it heads, see `heading`; NO_STOP: straight on
    step : its next step
    two_way : carriers go both ways
    closed : bit i for a stretch i that does not admit it
    stops : int64[N, 6]   Kind, step of the station there (-1 for none), lane, stop straight on, transfer, stretches
    way : int64[N, N]     Next stop on the way from stop to stop
    occupant : who rests on each stop or has reserved it, NOBODY for none
    barred : 1 for a stop that nobody may reserve
    boardable : of each transfer the lane from which its places may be reserved now, -1 for none
    passed : int64[N], changed in place   The number of the walk that last came to each stop
    walk : the number of this walk; no walk before had it

    Returns
    -------
    target : the stop that it may reserve, NO_STOP if it has to stay
    leader : NOBODY if none is met before the track ends or comes to a stop passed already; at its own stop whoever has
        reserved that since it left, else itself
    aboard : the first place aboard ahead if nobody is between it and the carrier, else NO_STOP
    """
    goal, rest, place, aboard = NO_STOP, NO_STOP, NO_STOP, NO_STOP
    leader, riding, lane = NOBODY, stops[stop, STOP_TRANSFER], stops[stop, STOP_LANE]
    beyond, shut, past = False, False, head == NO_STOP
    met, short = False, NO_STOP  # a barred station of its step, and how far it may go short of it
    before, here = stop, first
    while here != NO_STOP and passed[here] != walk:
        passed[here] = walk
        other = occupant[here]
        transfer, kind = stops[here, STOP_TRANSFER], stops[here, STOP_KIND]
        shut = shut or (stops[here, STOP_STRETCHES] & closed) != 0
        if transfer >= 0 and transfer != riding and aboard == NO_STOP:
            aboard = here
        if here == stop or (other != NOBODY and other != own):
            leader = own if other == NOBODY else other
            break
        if not shut and transfer >= 0 and transfer != riding:
            straight = riding < 0 or way[stop, here] == first
            if straight and transfer == stops[aboard, STOP_TRANSFER] and boardable[transfer] == lane:
                place = here
        elif not shut and stops[here, STOP_STEP] == step and barred[here] == 1:
            if not met:
                short = place if place != NO_STOP else rest
            met = True
        elif not shut and stops[here, STOP_STEP] == step:
            goal = here
            beyond = aboard != NO_STOP
        elif not shut and aboard == NO_STOP and kind in (WAITING, DOCK):
            rest = here
        if transfer < 0 and aboard == NO_STOP:
            lane = stops[here, STOP_LANE]
        past = past or here == head
        onto = stops[here, STOP_ONWARD]
        if not past:
            onto = way[here, head]
        elif two_way and before > here:
            onto = here - 1
        before, here = here, onto
    if goal != NO_STOP and not beyond:
        return goal, leader, aboard
    if goal == NO_STOP and met:
        return short, leader, aboard
    return (place if place != NO_STOP else rest), leader, aboard
