"""The parts on a carrier: what a station works on, what becomes of them when it has, and where they go next."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.general.luck import happens, variant_of
from linewright.flow.kernel.general.state import (
    BIN,
    FAULT,
    GATES,
    GOOD,
    LAST_GOOD,
    LAST_GOOD_STOP,
    LAST_GOOD_US,
    LOADS,
    OUTSIDES,
    PARTS_ABOARD,
    TRACE_FROM,
)
from linewright.flow.kernel.state import FAULT_NO_EXIT, FAULT_TRACE_FULL


@njit(inline="always")
def part_with(mask, i):
    """Whether bit i is set."""
    return (mask >> i) & 1 == 1


@njit(inline="always")
def count_parts(mask, nests):
    """How many bits are set."""
    count = np.int64(0)
    for i in range(nests):
        count += (mask >> i) & 1
    return count


@njit(_nrt=False)  # type: ignore[call-overload]
def to_work_on(t, s, carrier, step):
    """The parts that a station of a step works on (bits): those not flagged, at an exit those flagged for it."""
    me = s.carrier[carrier]
    if t.step[step]["exit"] == 0:
        return me["present"] & ~me["flagged"]
    found = np.int64(0)
    for i in range(t.nests):
        if part_with(me["present"] & me["flagged"], i) and s.exits[carrier, i] == step:
            found |= np.int64(1) << i
    return found


@njit(_nrt=False)  # type: ignore[call-overload]
def next_variant(t, s, carrier):
    """The variant of the next load, if this carrier takes it."""
    return variant_of(s.laws, t.law.variant, s.sequence, s.running, s.sets, s.counters[LOADS], carrier)


@njit(_nrt=False)  # type: ignore[call-overload]
def take_load(t, s, carrier):
    """An empty carrier takes the next load."""
    me = s.carrier[carrier]
    me["variant"] = next_variant(t, s, carrier)
    me["load"] = s.counters[LOADS]
    me["present"] = (np.int64(1) << t.nests) - 1
    me["flagged"] = 0
    me["visit"] = 0
    s.counters[LOADS] += 1
    s.aboard[me["variant"]] += t.nests
    s.counters[PARTS_ABOARD] += t.nests


@njit(inline="always")
def _has_step(t, variant, step):
    """Whether a variant's route has a step that is no exit: it does not skip it, and it is not for rework alone."""
    return t.step[step]["alone"] == 0 and not part_with(t.skips[variant], step)


@njit(_nrt=False)  # type: ignore[call-overload]
def _follows(t, step, variant):
    """The first step after one that works on a variant's good parts; -1 if there is none."""
    for q in range(step + 1, t.steps):
        if t.step[q]["exit"] == 0 and _has_step(t, variant, q):
            return q
    return -1


@njit(_nrt=False)  # type: ignore[call-overload]
def _flag(t, s, carrier, station, i):
    me = s.carrier[carrier]
    me["flagged"] |= np.int64(1) << i
    s.exits[carrier, i] = t.station[station]["exit"]
    s.rejected[station] += 1
    if s.exits[carrier, i] < 0:
        s.counters[FAULT] = FAULT_NO_EXIT


@njit(_nrt=False)  # type: ignore[call-overload]
def _judge(t, s, carrier, station, worked):
    """Misses and flags of the parts that were worked on; gives the step of a rework, or -1."""
    me, tool = s.carrier[carrier], t.station[station]
    serial = me["load"] * t.nests
    for i in range(t.nests):
        if not part_with(worked, i):
            continue
        if tool["misses"] == 1 and happens(s.laws, t.law.miss + station, serial + i, 0):
            me["present"] &= ~(np.int64(1) << i)
        elif happens(s.laws, t.law.reject + station, serial + i, me["visit"]):
            _flag(t, s, carrier, station, i)
    rework = tool["rework"]
    if rework >= 0 and (me["present"] & ~me["flagged"] & worked) != 0:
        if not happens(s.laws, t.law.rework + rework, serial, me["visit"]):
            return np.int64(-1)
        if me["visit"] < t.rework[rework]["at_most"]:
            me["visit"] += 1
            return t.rework[rework]["step"]
        for i in range(t.nests):
            if part_with(worked, i):
                _flag(t, s, carrier, station, i)
    return np.int64(-1)


@njit(_nrt=False)  # type: ignore[call-overload]
def see_to_parts(t, s, carrier, station, worked, now, ended):
    """The work on a carrier's parts has ended: some are flagged, sent back or not there, some leave, good or not; the
    carrier gets its next step."""
    me, tool = s.carrier[carrier], t.station[station]
    step = tool["step"]
    leaving = worked
    following = np.int64(-1)
    before = me["present"]
    s.parts[station] += count_parts(worked, t.nests)
    if t.step[step]["exit"] == 0:
        following = _judge(t, s, carrier, station, worked)
        leaving = np.int64(0)
        if following < 0 and _follows(t, step, me["variant"]) < 0:
            leaving = me["present"] & ~me["flagged"]
            good = count_parts(leaving, t.nests)
            if good > 0:
                _count_good(t, s, me, leaving, good, now, ended)
    me["present"] &= ~leaving
    me["flagged"] &= me["present"]
    _give_away(t, s, station, count_parts(leaving, t.nests))
    gone = count_parts(before & ~me["present"], t.nests)
    s.aboard[me["variant"]] -= gone
    s.counters[PARTS_ABOARD] -= gone
    if gone > 0 and t.run_out == 1:
        recheck_first_step(t, s)
    if following < 0:
        following = _next_step(t, s, carrier, step)
    me["step"] = following


@njit(_nrt=False)  # type: ignore[call-overload]
def recheck_first_step(t, s):
    """The gates of the first step's stations may be open now."""
    for i in range(t.step[0]["first"], t.step[0]["last"]):
        s.station[t.stops[t.step_stop[i], 6]]["dirty"] = 1
    s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def _next_step(t, s, carrier, step):
    """The next step at which there is something to do for a carrier's parts; the first where there is none."""
    me = s.carrier[carrier]
    if me["present"] == 0:
        me["load"] = -1
        me["visit"] = 0
        return np.int64(0)
    for q in range(step + 1, t.steps):
        if t.step[q]["exit"] == 1:
            if to_work_on(t, s, carrier, q) != 0:
                return np.int64(q)
        elif (me["present"] & ~me["flagged"]) != 0 and _has_step(t, me["variant"], q):
            return np.int64(q)
    return np.int64(0)


@njit(_nrt=False)  # type: ignore[call-overload]
def _give_away(t, s, station, count):
    """Parts that leave their carrier go into the buffer of the take-away; room kept for more is given back."""
    machine = t.station[station]["take_away"]
    if machine >= 0:
        s.outside[machine]["buffer"] += count
        s.outside[machine]["kept"] -= t.nests
        s.outside[machine]["dirty"] = 1
        s.counters[OUTSIDES] = 1
        s.station[station]["dirty"] = 1
        s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def _count_good(t, s, me, leaving, good, now, ended):
    """Count good parts in their bin, and keep the last of all that are finished."""
    row = now // s.counters[BIN]
    s.good[row] += good
    s.first_us[row] = min(s.first_us[row], now)
    counters = s.counters
    if now > counters[LAST_GOOD_US] or me["stop"] > counters[LAST_GOOD_STOP]:
        counters[LAST_GOOD_US] = now
        counters[LAST_GOOD_STOP] = me["stop"]
        counters[LAST_GOOD] = ended
    if now < counters[TRACE_FROM]:
        return
    for i in range(t.nests):
        if part_with(leaving, i):
            row = counters[GOOD]
            if row >= s.good_log.shape[0]:
                counters[FAULT] = FAULT_TRACE_FULL
                return
            s.good_log[row, 0] = me["load"] * t.nests + i
            s.good_log[row, 1] = now
            counters[GOOD] = row + 1
