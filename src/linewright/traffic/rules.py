"""The rule core: who may go where, and when.

Written once, in plain Python on plain numbers, after docs/semantics.md. The event kernel compiles these functions,
the prover and the live line call them as they stand; so none of them calls another. They know nothing of time laws,
of work or of luck.
"""

from __future__ import annotations

from typing import Final

from linewright.traffic.plan import NO_BOUND, Ints

NEVER: Final = -(2**62)


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
