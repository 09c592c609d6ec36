"""Where carriers head, and who asks again when something changes."""

from __future__ import annotations

from numba import njit

from linewright.flow.kernel.general.state import ASKING, CARRIERS, WAKE
from linewright.flow.kernel.general.tables import STOP_BEFORE
from linewright.flow.kernel.state import ASKS, WAITS
from linewright.traffic import rules
from linewright.traffic.plan import DOCK, WAITING
from linewright.traffic.rules import NOBODY, STOP_KIND

heading = njit(_nrt=False)(rules.heading)  # type: ignore[call-overload]

CARRIER_BITS = 20


@njit(inline="always")
def waits(s, carrier):
    """Whether a carrier waits to go on."""
    return s.carrier[carrier]["waiting"] > 0 and s.carrier[carrier]["under_way"] == 0


@njit(_nrt=False)  # type: ignore[call-overload]
def head_of(t, s, carrier):
    """The stop where a carrier heads, from where it rests or is to rest."""
    me = s.carrier[carrier]
    step = t.step[me["step"]]
    return heading(me["stop"], me["onto"], carrier, step["first"], step["last"], t.step_stop, t.way_m, s.occupant)


@njit(inline="always")
def next_on_leg(t, here, start, via, to):
    """The stop after one on a leg: a platform locked at a dock may lead another way than the shortest."""
    return via if here == start else t.way[here, to]


@njit(_nrt=False)  # type: ignore[call-overload]
def _put(heap, count, key):
    """Add a key to a heap whose greatest is at 1 and whose length before is `count`."""
    i = count + 1
    while i > 1 and heap[i >> 1] < key:
        heap[i] = heap[i >> 1]
        i >>= 1
    heap[i] = key


@njit(_nrt=False)  # type: ignore[call-overload]
def take_highest(heap, count):
    """Take the greatest key from a heap of `count`."""
    key = heap[1]
    last = heap[count]
    size = count - 1
    i = 1
    while 2 * i <= size:
        child = 2 * i
        if child < size and heap[child + 1] > heap[child]:
            child += 1
        if heap[child] <= last:
            break
        heap[i] = heap[child]
        i = child
    heap[i] = last
    return key


@njit(inline="always")
def ask_soon(t, s, carrier):
    """A carrier asks in this instant; those on higher stops ask first."""
    me = s.carrier[carrier]
    if me["waiting"] != ASKS:
        me["waiting"] = ASKS
        _put(s.heap, s.counters[ASKING], (me["stop"] << CARRIER_BITS) | carrier)
        s.counters[ASKING] += 1


@njit(inline="always")
def _may_go_on(t, s, carrier):
    """Whether a carrier under way may be aimed farther."""
    me = s.carrier[carrier]
    kind = t.stops[me["stop"], STOP_KIND]
    return t.going_on == 1 and me["under_way"] == 1 and kind in (WAITING, DOCK)


@njit(_nrt=False)  # type: ignore[call-overload]
def wake_before(t, s, stop):
    """A stop is free, or a place aboard may be reserved: the first carrier before it asks again, where it alone can
    gain; else all do."""
    if t.wide == 1:
        s.counters[WAKE] = 1
        return
    here = t.stops[stop, STOP_BEFORE]
    while here not in (stop, -1):
        carrier = s.occupant[here]
        if carrier != NOBODY:
            if s.carrier[carrier]["waiting"] == WAITS or _may_go_on(t, s, carrier):
                ask_soon(t, s, carrier)
            return
        here = t.stops[here, STOP_BEFORE]


@njit(_nrt=False)  # type: ignore[call-overload]
def wake_all(t, s):
    """All that wait ask again, and where going on is allowed those under way."""
    for carrier in range(s.counters[CARRIERS]):
        may = s.carrier[carrier]["waiting"] == WAITS or _may_go_on(t, s, carrier)
        if may and s.carrier[carrier]["gone"] == 0:
            ask_soon(t, s, carrier)
