"""The fourth part of an instant: carriers ask, and commit themselves where their way is open."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.events import event_key, push
from linewright.flow.kernel.general.causes import node, time_of
from linewright.flow.kernel.general.changes import closed_to, enter_stretches, opened_by
from linewright.flow.kernel.general.platforms import set_boardable
from linewright.flow.kernel.general.state import (
    ASKING,
    CARRIERS,
    DIRECTION,
    FAULT,
    GIVES,
    HALT_LOST,
    HALTS,
    HORIZON,
    K_ARRIVAL,
    K_REAR_LEFT,
    LAST_COMMITMENT,
    LAST_COMMITMENT_US,
    MOVES,
    TRACE_FROM,
    WAKE,
    WALKS,
)
from linewright.flow.kernel.general.station import book, enter
from linewright.flow.kernel.general.tables import STOP_FORKS, STOP_STATION
from linewright.flow.kernel.general.ways import (
    CARRIER_BITS,
    head_of,
    next_on_leg,
    take_highest,
    waits,
    wake_all,
    wake_before,
)
from linewright.flow.kernel.marks import C_EXCHANGE, C_REACTION, C_TRAVEL
from linewright.flow.kernel.state import (
    BLOCKED,
    EXCHANGE,
    FAULT_NO_LEG,
    FAULT_TRACE_FULL,
    PARTNER,
    STARVED,
    WAITS,
)
from linewright.traffic import rules
from linewright.traffic.plan import ABOARD, DOCK, NO_BOUND, NO_LEG, STATION, WAITING
from linewright.traffic.rules import (
    NO_STOP,
    NOBODY,
    STOP_KIND,
    STOP_LANE,
    STOP_ONWARD,
    STOP_STEP,
    STOP_STRETCHES,
    STOP_TRANSFER,
)

look_ahead = njit(_nrt=False)(rules.look_ahead)  # type: ignore[call-overload]
departure = njit(inline="always")(rules.departure)


@njit(inline="always")
def _first_stop(t, stop, onto, head):
    """The stop that comes next on a carrier's way; NO_STOP where no way leads to any station of its step."""
    if onto != NO_STOP:
        return onto
    if head != NO_STOP:
        return t.way[stop, head]
    return np.int64(NO_STOP) if t.pick == 1 else t.stops[stop, STOP_ONWARD]


@njit(inline="always")
def _is_stuck(t, s, stop, carrier):
    """Whether a carrier plainly has to stay: its way does not fork here and the next stop is taken."""
    if t.stops[stop, STOP_FORKS] == 1:
        return False
    onward = t.stops[stop, STOP_ONWARD]
    return onward >= 0 and s.occupant[onward] != NOBODY and s.occupant[onward] != carrier


@njit(_nrt=False)  # type: ignore[call-overload]
def _ask(t, s, carrier, now):
    """A carrier at rest and ready asks for its way."""
    me = s.carrier[carrier]
    stop = me["stop"]
    station = t.stops[stop, STOP_STATION]
    me["waiting"] = WAITS
    if station < 0 and _is_stuck(t, s, stop, carrier):
        return
    head = head_of(t, s, carrier) if t.pick == 1 else np.int64(NO_STOP)
    first = _first_stop(t, stop, me["onto"], head)
    s.counters[WALKS] += 1
    target, leader, aboard = look_ahead(
        stop, first, carrier, head, me["step"], t.two_way == 1, closed_to(t, s, me), t.stops, t.way, s.occupant,
        s.barred, s.boardable, s.passed, s.counters[WALKS],
    )  # fmt: skip
    if target != NO_STOP and t.together == 1 and not _is_indexed(t, s, stop, target):
        target = np.int64(NO_STOP)
    if target != NO_STOP and t.two_way == 1 and not _may_turn(t, s, carrier, stop, target):
        target = np.int64(NO_STOP)
    if target == NO_STOP:
        if station >= 0:
            _note_partner(t, s, station, carrier, leader, now)
        return
    me["waiting"] = 0
    _commit(t, s, carrier, leader, aboard, first, head, target, now)


@njit(inline="always")
def _note_partner(t, s, station, carrier, leader, now):
    """It stays at a station: blocked, or held by a partner at a station of the same step."""
    state = BLOCKED
    others = leader not in (NOBODY, carrier)
    if others and t.stops[s.carrier[leader]["stop"], STOP_STEP] == t.station[station]["step"]:
        state = PARTNER
    if s.station[station]["state"] != state:
        enter(t, s, station, now, state)


@njit(_nrt=False)  # type: ignore[call-overload]
def _is_indexed(t, s, stop, target):
    """Whether lanes that move together have an index instant, where a carrier leaves one or comes to it."""
    for end in (stop, target):
        lane = t.stops[end, STOP_LANE]
        if t.stops[end, STOP_KIND] != ABOARD and t.lanes[lane, 1] == 1 and s.indexed[lane] == 0:
            return False
    return True


@njit(_nrt=False)  # type: ignore[call-overload]
def _may_turn(t, s, carrier, stop, target):
    """Whether a reservation goes the lane's way, or nobody else holds its direction; then the direction turns."""
    direction = np.int64(1) if target < stop else np.int64(0)
    if direction == s.counters[DIRECTION]:
        return True
    for other in range(s.counters[CARRIERS]):
        if other != carrier and s.carrier[other]["gone"] == 0 and _holds(t, s, other):
            return False
    s.counters[DIRECTION] = direction
    return True


@njit(_nrt=False)  # type: ignore[call-overload]
def _holds(t, s, carrier):
    """Whether a carrier holds the direction of the lane: unless it waits and its way leads the other way."""
    if not waits(s, carrier):
        return True
    stop, head = s.carrier[carrier]["stop"], head_of(t, s, carrier)
    first = t.way[stop, head] if head != NO_STOP else np.int64(NO_STOP)
    if first == NO_STOP:
        return True
    return (1 if first < stop else 0) == s.counters[DIRECTION]


@njit(inline="always")
def _bound_by(t, s, me, leader, row, to):
    """The delay after its leader's departure that a carrier's leg asks for, NO_BOUND for none."""
    ahead = s.carrier[leader]
    if ahead["row"] < 0:
        return np.int64(NO_BOUND)
    if t.two_way == 1 and (ahead["stop"] < ahead["origin"]) != (to < me["stop"]):
        return np.int64(NO_BOUND)
    return np.int64(t.delay_us[ahead["row"], row])


@njit(_nrt=False)  # type: ignore[call-overload]
def _commit(t, s, carrier, leader, aboard, first, head, to, now):
    """Reserve a stop and depart as soon as the leader allows it."""
    me = s.carrier[carrier]
    stop = me["stop"]
    load = 1 if me["present"] != 0 else 0
    leg = t.leg[stop, to]
    if leg == NO_LEG or t.leg_us[2 * leg + load] == NO_LEG:
        s.counters[FAULT] = FAULT_NO_LEG
        return
    row = 2 * leg + load
    move = t.leg_us[row]
    departs = now
    if leader != NOBODY:
        delay = _bound_by(t, s, me, leader, row, to)
        departs = departure(now, s.carrier[leader]["committed"], s.carrier[leader]["departed"], t.follow_us, delay)
    _mark(t, s, carrier, leader, aboard, first, head, to, now, departs)
    _count_halt(t, s, me, stop, to, load, move, now)
    me["origin"] = stop
    me["via"] = first
    me["stop"] = to
    me["committed"] = now
    me["departed"] = departs
    me["arrives"] = departs + move
    me["row"] = row
    me["move_us"] = move
    me["under_way"] = 1
    me["onto"] = -1
    me["logged"] = -1
    if departs < s.counters[HORIZON]:
        s.moved[carrier] += 1
    _log_move(s, carrier, load)
    _leave(t, s, carrier, stop, departs, row, now)
    _reserve(t, s, carrier, to, now)
    wake_before(t, s, stop)


@njit(inline="always")
def _count_halt(t, s, me, stop, to, load, move, now):
    """A halt from which it goes on in the same microsecond is short; count it and what it cost."""
    kind = t.stops[stop, STOP_KIND]
    if me["ready_us"] == now and me["row"] >= 0 and kind in (WAITING, DOCK):
        s.counters[HALTS] += 1
        leg = t.leg[me["origin"], to]
        if leg != NO_LEG and t.leg_us[2 * leg + load] != NO_LEG:
            s.counters[HALT_LOST] += me["move_us"] + move - t.leg_us[2 * leg + load]


@njit(_nrt=False)  # type: ignore[call-overload]
def _commitment(t, s, carrier, leader, aboard, first, to, now):
    """The node that a commitment goes back to, if not to its carrier's own readiness."""
    me = s.carrier[carrier]
    stop = me["origin"] if me["under_way"] == 1 else me["stop"]
    if aboard != NO_STOP:
        one, record = s.platform[t.stops[aboard, STOP_TRANSFER]], t.platform[t.stops[aboard, STOP_TRANSFER]]
        here = first if t.stops[stop, STOP_KIND] == ABOARD else stop
        while t.stops[here, STOP_TRANSFER] >= 0 and t.stops[here, STOP_TRANSFER] == t.stops[stop, STOP_TRANSFER]:
            here = t.stops[here, STOP_ONWARD]  # a place beside its own
        lane = t.stops[here, STOP_LANE]
        if one["lock_us"] == now and one["dock"] < record["taking"] and t.more[record["takes"] + one["dock"]] == lane:
            return one["lock"]
    if leader != NOBODY and leader != carrier and s.carrier[leader]["committed"] == now:
        return s.carrier[leader]["commitment"]
    return _opening(t, s, stop, first, to, now)


@njit(_nrt=False)  # type: ignore[call-overload]
def _opening(t, s, stop, first, to, now):
    """The node of the event in this microsecond that opened a way which a rule of the line had barred, of several that
    at the highest rank; else that of the last commitment in it."""
    crossed = np.int64(0)
    if t.stretch.size > 0:
        here = stop
        while here != to:
            here = next_on_leg(t, here, stop, first, to)
            crossed |= t.stops[here, STOP_STRETCHES]
    opener, rank = opened_by(t, s, crossed, now)
    if t.together == 1:
        for end in (stop, to):
            lane = t.stops[end, STOP_LANE]
            last = s.lane_ready[lane]
            on_lane = t.stops[end, STOP_KIND] != ABOARD and t.lanes[lane, 1] == 1
            if on_lane and last[0] == now and last[1] > rank:
                opener, rank = last[2], last[1]
    return opener


@njit(_nrt=False)  # type: ignore[call-overload]
def _mark(t, s, carrier, leader, aboard, first, head, to, now, departs):
    """Note what a move's departure and commitment went back to, and what its way is."""
    me = s.carrier[carrier]
    places = t.stations + t.transfers
    waited = me["ready_us"] != now
    commitment = me["ready"]
    if waited:
        commitment = _commitment(t, s, carrier, leader, aboard, first, to, now)
    kind = t.stops[to, STOP_KIND]
    way = C_EXCHANGE if waited and kind in (STATION, ABOARD) else C_TRAVEL
    place = _place_of(t, to, me["step"], head)
    if departs == now:
        begun = commitment
        if time_of(s.marks, commitment) != now:
            begun = node(s.counters, s.marks, now, C_REACTION * places + place, commitment)
    elif departs == s.carrier[leader]["committed"] + t.follow_us:
        begun = node(s.counters, s.marks, departs, C_REACTION * places + place, s.carrier[leader]["commitment"])
    else:
        begun = node(s.counters, s.marks, departs, way * places + place, s.carrier[leader]["departure"])
    me["commitment"] = commitment
    me["departure"] = begun
    me["label"] = way * places + place
    s.counters[LAST_COMMITMENT] = commitment
    s.counters[LAST_COMMITMENT_US] = now


@njit(_nrt=False)  # type: ignore[call-overload]
def _place_of(t, to, step, head):
    """The place to which a move belongs: the first place aboard or station of the next step at or after its end."""
    here = to
    for _ in range(t.stop_count):
        if t.stops[here, STOP_KIND] == ABOARD:
            return t.stations + t.stops[here, STOP_TRANSFER]
        if t.stops[here, STOP_STEP] == step:
            return t.stops[here, STOP_STATION]
        here = t.way[here, head] if head != NO_STOP else t.stops[here, STOP_ONWARD]
        if here == NO_STOP:
            break
    return t.stops[t.step_stop[t.step[step]["first"]], STOP_STATION]


@njit(inline="always")
def _leave(t, s, carrier, stop, departs, row, now):
    """What a commitment to leave frees: the stop at once, a station at the departure, a platform when the rear of the
    last has left."""
    s.occupant[stop] = NOBODY
    station, transfer = t.stops[stop, STOP_STATION], t.stops[stop, STOP_TRANSFER]
    if station >= 0:
        enter(t, s, station, now, BLOCKED)
        book(t, s, station, departs)
        s.station[station]["state"] = STARVED
        s.station[station]["occupant"] = -1
    if transfer >= 0:
        one = s.platform[transfer]
        one["left"] += 1
        left_us = departs + t.rear_us[row]
        if left_us > one["rear_us"]:
            one["rear_us"] = left_us
            one["rear"] = s.carrier[carrier]["departure"]
        if one["left"] == one["reserved"]:
            leaf = s.carrier.size + 2 * t.stations + transfer
            push(s.events, leaf, event_key(one["rear_us"], K_REAR_LEFT, stop))


@njit(_nrt=False)  # type: ignore[call-overload]
def _reserve(t, s, carrier, to, now):
    """What a reservation takes: the stop, a station that is entered, a place aboard, stretches; and when it arrives."""
    me = s.carrier[carrier]
    s.occupant[to] = carrier
    station, transfer = t.stops[to, STOP_STATION], t.stops[to, STOP_TRANSFER]
    if station >= 0:
        enter(t, s, station, now, EXCHANGE)
    if transfer >= 0:
        s.platform[transfer]["reserved"] += 1
        set_boardable(t, s, transfer)
    if t.stretch.size > 0:
        here = me["origin"]
        while here != to:
            here = next_on_leg(t, here, me["origin"], me["via"], to)
            enter_stretches(t, s, me, here)
    push(s.events, carrier, event_key(me["arrives"], K_ARRIVAL, to))


@njit(_nrt=False)  # type: ignore[call-overload]
def _log_move(s, carrier, load):
    """Log a move, or what has become of one that goes on farther."""
    me = s.carrier[carrier]
    if me["departed"] >= s.counters[HORIZON] or me["arrives"] < s.counters[TRACE_FROM]:
        return
    if me["logged"] < 0:
        if s.counters[MOVES] >= s.moves.shape[0]:
            s.counters[FAULT] = FAULT_TRACE_FULL
            return
        me["logged"] = s.counters[MOVES]
        s.counters[MOVES] += 1
    record = s.moves[me["logged"]]
    record[0] = carrier
    record[1] = me["departed"]
    record[2] = me["origin"]
    record[3] = me["stop"]
    record[4] = me["arrives"]
    record[5] = load


@njit(_nrt=False)  # type: ignore[call-overload]
def _may_aim(t, s, me, leader, row, now):
    """Whether a carrier under way may take a longer leg: the profiles are still one, and the leader is far enough."""
    if t.leg_us[row] == NO_LEG:
        return False
    differs = np.int64(t.differs_us[me["row"], row])
    if differs == NO_BOUND or now + t.follow_us > me["departed"] + differs:
        return False
    if leader == NOBODY or s.carrier[leader]["row"] < 0:
        return True
    delay = np.int64(t.delay_us[s.carrier[leader]["row"], row])
    return delay == NO_BOUND or me["departed"] >= s.carrier[leader]["departed"] + delay


@njit(_nrt=False)  # type: ignore[call-overload]
def _aim(t, s, me, leader, target, now):
    """The farthest stop up to a target, beyond the one that it has reserved, at which a carrier under way may be aimed;
    NO_STOP for none."""
    best = np.int64(NO_STOP)
    start, here, load = me["origin"], me["origin"], me["row"] & 1
    beyond, met = False, False
    to_station = target != NO_STOP and t.stops[target, STOP_STEP] == me["step"]
    while target not in (NO_STOP, me["stop"]) and here != target:
        here = t.way[here, target]
        if here in (NO_STOP, start):
            return np.int64(NO_STOP)
        of_step = t.stops[here, STOP_STEP] == me["step"]
        met = met or of_step
        rests = here == target or (of_step and s.barred[here] == 0)
        rests = rests or (t.stops[here, STOP_KIND] in (WAITING, DOCK) and not (met and to_station))
        leg = t.leg[start, here]
        if beyond and rests and leg != NO_LEG and _may_aim(t, s, me, leader, 2 * leg + load, now):
            best = here
        beyond = beyond or here == me["stop"]
    return best


@njit(_nrt=False)  # type: ignore[call-overload]
def _go_on(t, s, carrier, now):
    """A carrier under way to a waiting or dock stop is aimed at the farthest stop beyond that its profile can still
    lead to."""
    me = s.carrier[carrier]
    me["waiting"] = 0
    start, halt = me["origin"], me["stop"]
    load = me["row"] & 1
    head = head_of(t, s, carrier) if t.pick == 1 else np.int64(NO_STOP)
    first = _first_stop(t, start, np.int64(NO_STOP), head)
    s.counters[WALKS] += 1
    target, leader, aboard = look_ahead(
        start, first, carrier, head, me["step"], False, closed_to(t, s, me), t.stops, t.way, s.occupant,
        s.barred, s.boardable, s.passed, s.counters[WALKS],
    )  # fmt: skip
    best = _aim(t, s, me, leader, target, now)
    if best == NO_STOP:
        return
    commitment = _commitment(t, s, carrier, leader, aboard, first, best, now)
    row = 2 * t.leg[start, best] + load
    s.occupant[halt] = NOBODY
    me["stop"] = best
    me["committed"] = now
    me["row"] = row
    me["move_us"] = t.leg_us[row]
    me["arrives"] = me["departed"] + t.leg_us[row]
    me["commitment"] = commitment
    places = t.stations + t.transfers
    cause = me["label"] // places
    me["label"] = cause * places + _place_of(t, best, me["step"], head)
    _retime_rear(t, s, start, me["departed"], row, now)
    _log_move(s, carrier, load)
    _reserve(t, s, carrier, best, now)
    wake_before(t, s, halt)


@njit(inline="always")
def _retime_rear(t, s, start, departed, row, now):
    """A rear that has not yet left a platform leaves it by the longer profile."""
    transfer = t.stops[start, STOP_TRANSFER]
    if transfer >= 0 and s.platform[transfer]["state"] == GIVES and s.platform[transfer]["rear_us"] > now:
        one = s.platform[transfer]
        one["rear_us"] = max(departed + t.rear_us[row], now)
        leaf = s.carrier.size + 2 * t.stations + transfer
        push(s.events, leaf, event_key(one["rear_us"], K_REAR_LEFT, start))


@njit(_nrt=False)  # type: ignore[call-overload]
def _judge_index(t, s):
    """Which lanes have an index instant: nobody is under way to them, and all that rest on them wait to go on."""
    for lane in range(s.indexed.size):
        s.indexed[lane] = 1
    for carrier in range(s.counters[CARRIERS]):
        me = s.carrier[carrier]
        if me["gone"] == 0 and t.stops[me["stop"], STOP_KIND] != ABOARD and not waits(s, carrier):
            s.indexed[t.stops[me["stop"], STOP_LANE]] = 0


@njit(inline="always")
def asks(t, s, now):
    """All that wait ask, the highest stop first, until none can reserve."""
    if t.together == 1:
        _judge_index(t, s)
    while s.counters[ASKING] > 0 or s.counters[WAKE] == 1:
        if s.counters[WAKE] == 1:
            s.counters[WAKE] = 0
            wake_all(t, s)
            continue
        key = take_highest(s.heap, s.counters[ASKING])
        s.counters[ASKING] -= 1
        carrier = key & ((1 << CARRIER_BITS) - 1)
        if s.carrier[carrier]["under_way"] == 1:
            _go_on(t, s, carrier, now)
        else:
            _ask(t, s, carrier, now)
