"""Contact of a carrier with the one ahead that has lost its drive: braking, and where and how fast the two meet."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.traffic.referee.profiles import ProfileTable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NARROWINGS: Final = 34
HALVINGS: Final = 44
GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0
STEPS: Final = 48
"""Times tried between the loss of drive and the follower's stand, for a leader that coasts."""
FEW_STEPS: Final = 6
"""Of these, tried before to tell whether the two come near each other at all."""

__all__ = ["Braking", "Chases", "brake", "coasting_contact", "standing_contact"]


@dataclass(frozen=True, eq=False)
class Chases:
    """Different pairs of moves of which one follows the other, C of them, on the leader's clock.

    Parameters
    ----------
    table : the profiles
    follower, leader : int64[C]          Numbers of their profiles
    offset_s, from_s, to_s : float64[C]  When the follower departs; from when to when both move. [s]
    ahead_m : float64[C]                 From the follower's front to the leader's rear, each at its start. [m]
    follower_kg, leader_kg : float64[C]  Moving masses. [kg]
    braking_m_s2, jerk_m_s3 : float64[C] With which the follower brakes. [m/s²], [m/s³]
    stretch : int64[C]                   The first of the log's stretches of this kind
    reverse : bool[C]                    Both go against the lane's stated direction
    """

    table: ProfileTable
    follower: Ints
    leader: Ints
    offset_s: Floats
    from_s: Floats
    to_s: Floats
    ahead_m: Floats
    follower_kg: Floats
    leader_kg: Floats
    braking_m_s2: Floats
    jerk_m_s3: Floats
    stretch: Ints
    reverse: NDArray[np.bool_]

    def part(self, chosen: Ints) -> Chases:
        """Some of them."""
        names = [name for name in self.__dataclass_fields__ if name != "table"]
        return Chases(self.table, *(getattr(self, name)[chosen] for name in names))


@dataclass(frozen=True, eq=False)
class Braking:
    """Braking to a stand from a state of motion: jerk down, hold, jerk up. Arrays of one shape.

    Parameters
    ----------
    position_m, speed_m_s, acceleration_m_s2 : where it begins
    lengths_s : of the three stretches
    jerks_m_s3 : in them
    """

    position_m: Floats
    speed_m_s: Floats
    acceleration_m_s2: Floats
    lengths_s: tuple[Floats, Floats, Floats]
    jerks_m_s3: tuple[Floats, Floats, Floats]

    def stretches(self) -> list[tuple[Floats, Floats, Floats, Floats, Floats]]:
        """Position, speed and acceleration at the start of each stretch, its jerk and its length."""
        x, v, a = self.position_m, self.speed_m_s, self.acceleration_m_s2
        found = []
        for t, j in zip(self.lengths_s, self.jerks_m_s3, strict=True):
            found.append((x, v, a, j, t))
            x, v, a = x + t * (v + t * (a / 2.0 + t * j / 6.0)), v + t * (a + t * j / 2.0), a + t * j
        return found

    @property
    def end_m(self) -> Floats:
        """Where it stands. [m]"""
        x, v, a, j, t = self.stretches()[-1]
        return np.asarray(x + t * (v + t * (a / 2.0 + t * j / 6.0)))

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Position and speed a time after it begins; at rest after its end."""
        begun = np.zeros_like(time_s)
        place, speed = self.position_m + np.zeros_like(time_s), self.speed_m_s + np.zeros_like(time_s)
        for x, v, a, j, length in self.stretches():
            t = np.clip(time_s - begun, 0.0, length)
            inside = time_s >= begun
            place = np.where(inside, x + t * (v + t * (a / 2.0 + t * j / 6.0)), place)
            speed = np.where(inside, v + t * (a + t * j / 2.0), speed)
            begun = begun + length
        return place, np.where(time_s >= begun, 0.0, np.maximum(speed, 0.0))


def brake(
    position_m: Floats,
    speed_m_s: Floats,
    acceleration_m_s2: Floats,
    braking_m_s2: Floats,
    jerk_m_s3: Floats,
) -> Braking:
    """The quickest way to a stand from a state of motion, within a deceleration and a jerk.

    Notes      From the acceleration a down to -A, held, and up to 0 at a stand. The changes take (v + a²/(2 j)) - A²/j
               off the speed less than all of it; without a hold A² = j v + a²/2, else A is the deceleration and the
               hold lasts (v + a²/(2 j) - A²/j)/A. On a move from rest to rest v ≥ a²/(2 j) while it slows, so that A
               is never less than what it brakes with already.
    Source     derived; held to an integration of the equations of motion in the tests.
    """
    v, a, j = np.maximum(speed_m_s, 0.0), acceleration_m_s2, jerk_m_s3
    most = np.maximum(np.sqrt(j * v + 0.5 * a * a), -a)
    top = np.minimum(most, braking_m_s2)
    top = np.maximum(top, -a)
    rest = v + a * a / (2.0 * j) - top * top / j
    hold = np.where(top > 0.0, np.maximum(rest, 0.0) / np.where(top > 0.0, top, 1.0), 0.0)
    none = np.zeros_like(v)
    return Braking(position_m, v, a, ((a + top) / j, hold, top / j), (-j, none, j))


def _braking_of(chases: Chases, number: Ints, time_s: Floats, reaction_s: float) -> tuple[Floats, Floats, Braking]:
    """On the follower's clock the loss of drive and the start of its braking, and the braking."""
    lost = time_s - chases.offset_s[number]
    noticed = lost + reaction_s
    state = chases.table.state(chases.follower[number], noticed)
    return lost, noticed, brake(*state, chases.braking_m_s2[number], chases.jerk_m_s3[number])


def standing_contact(
    chases: Chases, number: Ints, time_s: Floats, reaction_s: float, above_m_s: Floats | None = None
) -> tuple[Floats, Floats]:
    """Where the leader stands at once: the speed of contact, 0 without one, and the way left, negative with one.

    Parameters
    ----------
    chases, number, time_s : pairs of moves; of which, and when on the leader's clock it loses its drive. [s]
    reaction_s : until the follower brakes. [s]
    above_m_s : a speed that is surely no more than this may be told as 0; None: all are told. [m/s]

    Returns
    -------
    speed_m_s, left_m : of each
    """
    wall = chases.ahead_m[number] + chases.table.position(chases.leader[number], time_s)
    _, _, braking = _braking_of(chases, number, time_s, reaction_s)
    left = wall - braking.end_m
    speed = np.zeros_like(time_s)
    touches = left < 0.0
    if above_m_s is not None:
        touches &= _fastest(chases, number, braking, reaction_s) > above_m_s
    early = np.flatnonzero(touches & (wall <= braking.position_m))
    if early.size:
        profile = chases.follower[number[early]]
        speed[early] = chases.table.state(profile, chases.table.time_to_cover(profile, wall[early]))[1]
    late = np.flatnonzero(touches & (wall > braking.position_m))
    if late.size:
        speed[late] = _speed_at_place(braking, late, wall[late])
    return speed, left


def _speed_at_place(braking: Braking, chosen: Ints, place_m: Floats) -> Floats:
    """Speed with which a braking carrier passes a place, which it does. [m/s]"""
    speed, done = np.zeros_like(place_m), np.zeros(len(place_m), np.bool_)
    for x, v, a, j, length in braking.stretches():
        x, v, a, length = x[chosen], v[chosen], a[chosen], length[chosen]
        j = np.broadcast_to(j, braking.position_m.shape)[chosen]
        end = x + length * (v + length * (a / 2.0 + length * j / 6.0))
        here = ~done & (end >= place_m)
        low, high = np.zeros_like(x), length.copy()
        for _ in range(HALVINGS):
            t = 0.5 * (low + high)
            short = x + t * (v + t * (a / 2.0 + t * j / 6.0)) < place_m
            low, high = np.where(short, t, low), np.where(short, high, t)
        speed = np.where(here, v + high * (a + high * j / 2.0), speed)
        done |= here
    return np.maximum(speed, 0.0)


def _fastest(chases: Chases, number: Ints, braking: Braking, reaction_s: float) -> Floats:
    """What the follower's speed never exceeds from the leader's loss of drive on. [m/s]

    Notes      A move from rest to rest is never slower than before while it still gains speed; else it was faster than
               at the instant at which it brakes by no more than its greatest deceleration takes off in the reaction.
               Afterwards it gains a²/(2 j) until an acceleration a is taken off.
    """
    drives = np.abs(chases.table.acceleration_m_s2).max(axis=1)[chases.follower[number]]
    gains = 0.5 * np.maximum(braking.acceleration_m_s2, 0.0) ** 2 / chases.jerk_m_s3[number]
    most = chases.table.speed_m_s.max(axis=1)[chases.follower[number]]
    lost = np.where(braking.acceleration_m_s2 > 0.0, 0.0, drives * reaction_s)
    return np.asarray(np.minimum(braking.speed_m_s + lost, most) + gains)


def closing_speed(
    first_m_s: Floats, acceleration_m_s2: Floats, slowing_m_s2: Floats, jerk_m_s3: Floats, reaction_s: float
) -> Floats:
    """What the follower's speed against a leader that coasts never exceeds. [m/s], >= 0

    Parameters
    ----------
    first_m_s : its greatest speed, less that of the leader as it loses its drive
    acceleration_m_s2 : as it begins to brake
    slowing_m_s2, jerk_m_s3 : of the leader by the drag; with which the follower brakes
    reaction_s : until it brakes. [s]

    Notes      The difference d of both speeds grows only while the follower slows less than the leader: in the reaction
               and the time (a + s)/j after it, in which the leader loses s a second. Once it slows more, it slows less
               again only in its last change of deceleration, where its speed is at most s²/(2 j); if it never slows by
               s, its speed was below s²/j from the first.
    Source     derived; held to dense samples in the tests.
    """
    longest = reaction_s + np.maximum(acceleration_m_s2 + slowing_m_s2, 0.0) / jerk_m_s3
    return np.asarray(np.maximum(np.maximum(first_m_s, 0.0) + slowing_m_s2 * longest, slowing_m_s2**2 / jerk_m_s3))


def coasting_contact(
    chases: Chases,
    number: Ints,
    time_s: Floats,
    reaction_s: float,
    drag_N: float,
    above_m_s: Floats | None = None,
) -> Floats:
    """Speed of the follower against a leader that coasts, where they first touch; 0 without contact. [m/s]

    Parameters
    ----------
    chases, number, time_s, reaction_s, above_m_s : as for :func:`standing_contact`
    drag_N : on the leader. [N], >= 0

    Notes      What is between the bodies is tried at STEPS + 1 times until the follower stands. Between two of them it
               is less than the lesser of both by at most A h²/8, A the greatest difference of their accelerations and h
               the step; where that could reach 0 the least is sought by golden sections. The first time at which it is
               0 is found by halving.
    """
    at, pace, _ = chases.table.state(chases.leader[number], time_s)
    slowing = drag_N / chases.leader_kg[number]
    lost, noticed, braking = _braking_of(chases, number, time_s, reaction_s)
    first, held, last = braking.lengths_s
    until = np.asarray(reaction_s + first + held + last, np.float64)
    coasts_s = np.where(slowing > 0.0, pace / np.where(slowing > 0.0, slowing, 1.0), np.inf)

    def between(t: Floats, k: Ints) -> tuple[Floats, Floats]:
        rolled = np.minimum(t, coasts_s[k])
        leader = chases.ahead_m[number[k]] + at[k] + rolled * (pace[k] - 0.5 * slowing[k] * rolled)
        slow, fast = chases.table.state(chases.follower[number[k]], np.minimum(lost[k] + t, noticed[k]))[:2]
        part = Braking(
            braking.position_m[k],
            braking.speed_m_s[k],
            braking.acceleration_m_s2[k],
            tuple(one[k] for one in braking.lengths_s),  # type: ignore[arg-type]
            tuple(np.broadcast_to(one, number.shape)[k] for one in braking.jerks_m_s3),  # type: ignore[arg-type]
        )
        braked, braked_speed = part.at(np.maximum(t - reaction_s, 0.0))
        brakes = t >= reaction_s
        place, speed = np.where(brakes, braked, slow), np.where(brakes, braked_speed, fast)
        return leader - place, speed - np.maximum(pace[k] - slowing[k] * rolled, 0.0)

    bend = np.abs(chases.table.acceleration_m_s2).max(axis=1)[chases.follower[number]] + slowing
    # Whoever cannot close the way even at its greatest speed over the whole time does not touch.
    fastest = closing_speed(
        _fastest(chases, number, braking, reaction_s) - pace,
        braking.acceleration_m_s2,
        slowing,
        chases.jerk_m_s3[number],
        reaction_s,
    )
    closes = fastest * until
    gap = chases.ahead_m[number] + at - chases.table.position(chases.follower[number], lost)
    speed = np.zeros_like(time_s)
    may = closes >= gap
    if above_m_s is not None:
        may &= fastest > above_m_s
    near = np.flatnonzero(may)
    for steps in (FEW_STEPS, STEPS):
        if not near.size:
            return speed
        each = np.repeat(near, steps + 1)
        times = until[each] * np.tile(np.linspace(0.0, 1.0, steps + 1), len(near))
        values = between(times, each)[0].reshape(-1, steps + 1)
        hidden = 2.0 * bend[near] * (until[near] / steps) ** 2 / 8.0  # twice, as in _first_below
        some = values.min(axis=1) - hidden < 0.0
        near, values = near[some], values[some]
    low_s, high_s, touches = _first_below(values, until[near], near, between, bend[near])
    near, low_s, high_s = near[touches], low_s[touches], high_s[touches]
    for _ in range(HALVINGS):
        middle = 0.5 * (low_s + high_s)
        apart = between(middle, near)[0] > 0.0
        low_s, high_s = np.where(apart, middle, low_s), np.where(apart, high_s, middle)
    speed[near] = np.maximum(between(high_s, near)[1], 0.0)
    return speed


def _first_below(
    values: Floats,
    until_s: Floats,
    chosen: Ints,
    between: Callable[[Floats, Ints], tuple[Floats, Floats]],
    bend_m_s2: Floats,
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """A time before and one after the first at which the way between is gone, and whether there is any."""
    step = until_s / STEPS
    below = values < 0.0
    first = np.where(below.any(axis=1), below.argmax(axis=1), STEPS + 1)
    least = values.argmin(axis=1)
    high = first * step
    # The bend of the difference, twice its greatest for the jump from driving to braking.
    doubtful = (first > STEPS) & (values.min(axis=1) <= 2.0 * bend_m_s2 * step**2 / 8.0)
    dips = np.zeros(len(chosen), np.bool_)
    some = np.flatnonzero(doubtful)
    if some.size:
        ends = np.maximum(least[some] - 1, 0) * step[some], np.minimum(least[some] + 1, STEPS) * step[some]
        lowest = narrow(lambda t: -between(t, chosen[some])[0], *ends)
        dips[some] = between(lowest, chosen[some])[0] < 0.0
        high[some] = np.where(dips[some], lowest, high[some])
    low = np.where(dips, 0.0, np.maximum(first - 1, 0) * step)
    return low, high, np.asarray((first <= STEPS) | dips, np.bool_)


def narrow(value: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Where a value is greatest between two ends in which it rises and then falls, by golden sections."""
    one, other = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_one, at_other = value(one), value(other)
    for _ in range(NARROWINGS):
        left = at_one >= at_other
        low, high = np.where(left, low, one), np.where(left, other, high)
        kept, at_kept = np.where(left, one, other), np.where(left, at_one, at_other)
        new = np.where(left, high - GOLDEN * (high - low), low + GOLDEN * (high - low))
        at_new = value(new)
        one, at_one = np.where(left, new, kept), np.where(left, at_new, at_kept)
        other, at_other = np.where(left, kept, new), np.where(left, at_kept, at_new)
    return 0.5 * (low + high)
