"""How fast a carrier can at most run into the one ahead that has lost its drive, told without trying every instant."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.traffic.contact import Chases, closing_speed

Floats = NDArray[np.float64]

ROWS: Final = 1 << 13
SLACK: Final = 1e-9
"""By which a bound may be missed to rounding. [m], [m/s]"""


def most_standing(chases: Chases, reaction_s: float) -> Floats:
    """What the speed of contact never exceeds where the leader stands at once. Shape (C,). [m/s]

    Parameters
    ----------
    chases : pairs of moves
    reaction_s : until the follower brakes. [s]
    """
    return _by_parts(chases, reaction_s, None)


def most_coasting(chases: Chases, reaction_s: float, drag_N: float) -> Floats:
    """What the speed of contact never exceeds where the leader coasts; 0 where there is none. Shape (C,). [m/s]

    Parameters
    ----------
    chases, reaction_s : as for :func:`most_standing`
    drag_N : on the leader. [N], >= 0
    """
    return _by_parts(chases, reaction_s, drag_N)


def _by_parts(chases: Chases, reaction_s: float, drag_N: float | None) -> Floats:
    count = len(chases.follower)
    most = np.zeros(count)
    for begin in range(0, count, ROWS):
        part = np.arange(begin, min(begin + ROWS, count))
        most[part] = _most(chases.part(part), reaction_s, drag_N)
    return most


def _most(chases: Chases, reaction_s: float, drag_N: float | None) -> Floats:
    """The bound over all instants.

    Notes
    -----
    Time is cut where the leader's jerk changes, and that of the follower as it notices. On a move from rest to rest the
    speed only rises until its cruise and only falls after it, so that in each piece both speeds, and the follower's
    acceleration, lie between those at its ends; places only grow. From the loss of drive on the follower's speed v is
    at most that at which it brakes, plus what its greatest deceleration takes off in the reaction if it has begun to
    slow, plus a²/(2 j) until its acceleration a is taken off. It stands no later than a/j and the time of a full stop
    from v + a²/(2 j) after that. Two whose way apart is more than they can close meanwhile do not touch.
    """
    table, wide = chases.table, chases.follower[:, None]
    notices = table.starts_s[chases.follower] + chases.offset_s[:, None] - reaction_s
    low, high = chases.from_s[:, None], chases.to_s[:, None]
    ends = np.concatenate((low, table.starts_s[chases.leader], notices, high), axis=1)
    ends = np.sort(np.clip(ends, low, high), axis=1)
    lost = ends - chases.offset_s[:, None]
    of = np.broadcast_to(wide, ends.shape)
    _, speed, acceleration = table.state(of, lost + reaction_s)
    jerk, braking = chases.jerk_m_s3[:, None], chases.braking_m_s2[:, None]
    gains = _greater(np.maximum(acceleration, 0.0)) ** 2 / (2.0 * jerk)
    drives = np.abs(table.acceleration_m_s2).max(axis=1)[wide]
    peak = table.speed_m_s.max(axis=1)[wide]
    slows = np.minimum(acceleration[:, :-1], acceleration[:, 1:]) <= 0.0
    fastest = np.minimum(_greater(speed) + np.where(slows, drives * reaction_s, 0.0), peak) + gains
    if drag_N is None:
        return np.asarray(fastest.max(axis=1) + SLACK)
    at, pace, _ = table.state(np.broadcast_to(chases.leader[:, None], ends.shape), ends)
    slowing = (drag_N / chases.leader_kg)[:, None]
    slower = np.minimum(pace[:, :-1], pace[:, 1:])
    closing = closing_speed(fastest - slower, _greater(acceleration), slowing, jerk, reaction_s)
    rest = _greater(speed) + _greater(np.abs(acceleration)) ** 2 / (2.0 * jerk)
    stop = np.where(rest * jerk >= braking**2, rest / braking + braking / jerk, 2.0 * np.sqrt(rest / jerk))
    until = reaction_s + _greater(np.maximum(acceleration, 0.0)) / jerk + stop
    apart = chases.ahead_m[:, None] + at[:, :-1] - table.position(of[:, 1:], lost[:, 1:])
    touches = closing * until + SLACK >= apart
    return np.asarray(np.where(touches, closing + SLACK, 0.0).max(axis=1))


def _greater(value: Floats) -> Floats:
    """Of each piece the greater of its two ends."""
    return np.asarray(np.maximum(value[:, :-1], value[:, 1:]))
