/* The event kernel in C, written after docs/semantics.md and linewright/flow/kernel: same events, same order, same sums.

   The bench compiles it and hands it the arrays of the Python side; the structures below hold their addresses, or their
   words, in the order of the Python records. It sets all marks and keeps no log; it knows neither clock failures nor
   jams. Compiled without contraction of products and sums, so that draws are equal to the last bit. */

#include "draws.h"

enum { WAITING, STATION, DOCK, ABOARD };
enum { DOWN, WORK, CLEAR, DONE_HANDSHAKE, BLOCKED, PARTNER, SETTLING, PREPARE, EXCHANGE, STARVED, STATES };
enum { WAITS = 1, ASKS = 2 };
enum { STARTS_BY_EVENT = 1, STARTS_AT_ONCE = 2 };
enum { SERIALS, EVENTS, FAULT, MARKS = 6, LAST_GOOD_US, LAST_GOOD_STOP, LAST_GOOD };
enum { FAULT_NO_LEG = 1, FAULT_NO_EXIT = 2 };
enum { LOCKED_TAKING = 4, WORK_STARTS = 9, ASK = 10, RANK_BITS = 10, SHIFT = 14, LAST_RANK = 1023 };

/* Marks: kinds, tags of a pointer, and where the parts of a word begin. */
enum { MOVE, WORK_PIECE, REPAIR, CLOCK_FAILURE, HOME };
enum { ARRIVED, DEPARTED, SETTLED, READY_ABOARD };
enum { CARRIER_READY = 1, TOOL_READY = 2 };
enum { BACK = 2, KIND = 26, IN_EXCHANGE = 29, PLACE = 30, ROW = 42 };

#define NO_BOUND (-(1LL << 31))
#define NEVER (-(1LL << 62))
#define IDLE INT64_MAX

typedef struct { i64 kind, station, transfer; } Stop;
typedef struct {
    i64 step, at_once, settling_us, clear_us, prepare_us, work, reject, first_failure, last_failure, fails_running_alone;
    i64 has_clock;
} Tool;
typedef struct { i64 first, last, next_good, next_flagged; } Step;
typedef struct { i64 aboard_us, home_us; } Platform;
typedef struct { i64 of, every, repair; } Failure;
typedef struct {
    i64 stops, carriers, stations, transfers, follow_us, arrive_us, done_us, top_delay_us;
    Stop *stop;
    Tool *tool;
    Step *step;
    Platform *platform;
    Failure *failure;
    i64 *next_aboard, *back, *step_stop, *move_us, *leg;
    int32_t *delay_us;
    i64 *rear_us, *leg_us, *way_place;
} Tables;

typedef struct {
    i64 stop, step, serial, flagged, committed, departed, leg_row, starting, waiting, since, held;
    i64 ready_us, ready, commitment, last_move, start;
} Carrier;
typedef struct { i64 tool_ready, tool, vacated, occupant, booked, up; } Station;
typedef struct { i64 waits, next_carrier, lock_us, lock; } Transfer;
typedef struct { i64 left, number; } Coming;
typedef struct { i64 *events; Carrier *carrier; Station *station; Transfer *transfer; Coming *failure; i64 *counters; } State;

typedef struct { i64 *state_us, *parts, *rejected, *failures, *good, *first_us, *moves; } Totals;
typedef struct { i64 begin, *moves, *works, *good, *marks; } Trace;
typedef struct { i64 reach, rows, marks, width, horizon, bin_us, failures; } Sizes;
typedef struct { Tables t; State s; Totals sum; Trace trace; Laws laws; Sizes n; } Line;

INLINE i64 least(i64 a, i64 b) { return a < b ? a : b; }
INLINE i64 most(i64 a, i64 b) { return a > b ? a : b; }
INLINE i64 event_key(i64 time_us, i64 kind, i64 rank) { return (time_us << SHIFT) | (kind << RANK_BITS) | rank; }
INLINE i64 ask_key(i64 time_us, i64 rank) { return event_key(time_us, ASK, LAST_RANK - rank); }

/* ---- the event set: a winner tree, one pending event a leaf ---- */

INLINE void push(Line *l, i64 leaf, i64 key) {
    i64 *events = l->s.events, i = l->n.width + leaf;
    events[i] = key;
    while (i > 1) {
        i64 winner = least(events[i], events[i ^ 1]);
        i >>= 1;
        events[i] = winner;
    }
}

INLINE i64 first_leaf(Line *l) {
    i64 *events = l->s.events, best = events[1], i = 1;
    while (i < l->n.width) i = 2 * i + (events[2 * i] != best);
    return i - l->n.width;
}

/* ---- marks ---- */

INLINE i64 mark(Line *l, i64 time_us, i64 kind, i64 exchange, i64 place, i64 row, i64 before) {
    i64 number = l->s.counters[MARKS]++, back = before >= 0 ? least(number - (before >> 2), l->n.marks) : 0;
    i64 *at = l->trace.marks + 2 * (number & (l->n.marks - 1));
    at[0] = time_us;
    at[1] = (before & 3) | back << BACK | kind << KIND | exchange << IN_EXCHANGE | place << PLACE | row << ROW;
    return number;
}

/* ---- a carrier at a station ---- */

INLINE void spend(Line *l, i64 station, i64 state, i64 begin, i64 end) {
    if (begin < l->n.horizon && end > begin) l->sum.state_us[STATES * station + state] += least(end, l->n.horizon) - begin;
}

INLINE void hold(Line *l, Carrier *me, i64 station, i64 until) {
    spend(l, station, me->held == 1 ? PARTNER : BLOCKED, me->since, until);
    me->since = until;
}

INLINE i64 work_start(Line *l, Carrier *me, i64 station, i64 reserved, i64 arrival, i64 settled_by) {
    Station *here = l->s.station + station;
    i64 vacated = here->vacated;
    spend(l, station, STARVED, vacated, reserved);
    spend(l, station, EXCHANGE, most(vacated, reserved), arrival);
    i64 settled = arrival + l->t.tool[station].settling_us + l->t.arrive_us, start = most(settled, here->tool_ready);
    me->start = settled >= here->tool_ready ? settled_by : here->tool;
    spend(l, station, SETTLING, arrival, settled);
    spend(l, station, PREPARE, settled, start);
    return start;
}

INLINE i64 work_end(Line *l, Carrier *me, i64 station, i64 start, i64 left) {
    Coming *coming = l->s.failure;
    i64 now = start, first = l->t.tool[station].first_failure, last = l->t.tool[station].last_failure;
    for (;;) {
        i64 due = -1, run = left;
        for (i64 f = first; f < last; f++)
            if (coming[f].left < run) { run = coming[f].left; due = f; }
        spend(l, station, WORK, now, now + run);
        now += run;
        left -= run;
        for (i64 f = first; f < last; f++)
            if (coming[f].left != NO_FAILURE) coming[f].left -= run;
        if (due < 0) return now;
        if (run > 0) me->start = mark(l, now, WORK_PIECE, 0, station, 0, me->start) << 2;
        i64 repaired = now + draw(&l->laws, l->t.failure[due].repair, coming[due].number);
        spend(l, station, DOWN, now, repaired);
        if (now < l->n.horizon) l->sum.failures[due]++;
        me->start = mark(l, repaired, REPAIR, 0, station, 0, me->start) << 2;
        now = repaired;
        coming[due].number++;
        coming[due].left = draw_once(&l->laws, l->t.failure[due].every, coming[due].number);
    }
}

INLINE void count_good(Line *l, Carrier *me, i64 ended, i64 end) {
    i64 bin = end / l->n.bin_us, *counters = l->s.counters;
    l->sum.good[bin]++;
    l->sum.first_us[bin] = least(l->sum.first_us[bin], end);
    if (end > counters[LAST_GOOD_US] || (end == counters[LAST_GOOD_US] && me->stop > counters[LAST_GOOD_STOP])) {
        counters[LAST_GOOD_US] = end;
        counters[LAST_GOOD_STOP] = me->stop;
        counters[LAST_GOOD] = ended << 2;
    }
}

INLINE void next_step(Line *l, Carrier *me, i64 station, i64 ended, i64 end) {
    Tool *tool = l->t.tool + station;
    Step *step = l->t.step + tool->step;
    int counted = end < l->n.horizon;
    if (counted) l->sum.parts[station]++;
    if (is_flagged(&l->laws, tool->reject, me->serial)) {
        me->flagged = 1;
        if (counted) l->sum.rejected[station]++;
    }
    int flagged = me->flagged == 1;
    i64 following = flagged ? step->next_flagged : step->next_good;
    if (following == -2) l->s.counters[FAULT] = FAULT_NO_EXIT;
    if (following < 0) {
        if (counted && !flagged) count_good(l, me, ended, end);
        me->serial = -1;
        me->flagged = 0;
        following = 0;
    }
    me->step = following;
}

INLINE i64 do_work(Line *l, Carrier *me, i64 station, i64 start) {
    Tool *tool = l->t.tool + station;
    Station *here = l->s.station + station;
    if (me->serial < 0) me->serial = l->s.counters[SERIALS]++;
    i64 end = work_end(l, me, station, start, draw(&l->laws, tool->work, me->serial));
    i64 ended = mark(l, end, WORK_PIECE, 0, station, 0, me->start);
    i64 cleared = end + tool->clear_us, ready = cleared + l->t.done_us;
    spend(l, station, CLEAR, end, cleared);
    spend(l, station, DONE_HANDSHAKE, cleared, ready);
    here->tool_ready = cleared + tool->prepare_us;
    here->tool = ended << 2 | TOOL_READY;
    me->ready = ended << 2 | CARRIER_READY;
    me->ready_us = ready;
    next_step(l, me, station, ended, end);
    return ready;
}

/* ---- asking and committing ---- */

INLINE i64 departure(i64 now, i64 committed, i64 departed, i64 follow_us, i64 delay_us) {
    if (committed == NEVER) return now;
    i64 time = most(now, committed + follow_us);
    return delay_us == NO_BOUND ? time : most(time, departed + delay_us);
}

INLINE i64 mark_move(Line *l, i64 carrier, Carrier *me, Carrier *ahead, i64 next, i64 to, i64 row, i64 now, i64 departs,
                     i64 arrives) {
    Transfer *platform = l->s.transfer + next;
    i64 waited = me->ready_us != now, kind = l->t.stop[to].kind, commitment, before;
    if (!waited) commitment = me->ready;
    else if (platform->lock_us == now && platform->next_carrier == carrier) commitment = platform->lock;
    else commitment = ahead->commitment;
    if (departs == now) before = commitment;
    else if (departs == ahead->committed + l->t.follow_us) before = ahead->commitment;
    else before = ahead->last_move << 2 | DEPARTED;
    me->commitment = commitment;
    i64 exchange = waited && (kind == STATION || kind == ABOARD), place = l->t.way_place[me->step * l->t.stops + to];
    return me->last_move = mark(l, arrives, MOVE, exchange, place, row, before);
}

INLINE void leave(Line *l, Carrier *me, i64 stop, i64 load, i64 reach, i64 number, i64 now, i64 departs) {
    Tables *t = &l->t;
    i64 station = t->stop[stop].station, transfer = t->stop[stop].transfer;
    if (station >= 0) {
        me->held = 0;
        me->since = now;
        hold(l, me, station, departs);
        l->s.station[station].vacated = departs;
        l->s.station[station].occupant = -1;
    }
    if (transfer >= 0) {
        i64 rear = departs + t->rear_us[(load * t->transfers + transfer) * l->n.reach + reach - 1];
        i64 home = rear + t->platform[transfer].home_us;
        push(l, t->carriers + transfer, event_key(home, LOCKED_TAKING, stop));
        l->s.transfer[transfer].lock_us = home;
        l->s.transfer[transfer].lock = mark(l, home, HOME, 0, t->stations + transfer, 0, number << 2 | DEPARTED) << 2;
    }
}

INLINE void head_for(Line *l, i64 carrier, Carrier *me, i64 to, i64 number, i64 now, i64 arrives) {
    Tables *t = &l->t;
    Stop *goal = t->stop + to;
    if (goal->kind == STATION) {
        l->s.station[goal->station].occupant = carrier;
        i64 start = work_start(l, me, goal->station, now, arrives, number << 2 | SETTLED);
        int at_once = t->tool[goal->station].at_once == 1;
        me->starting = at_once ? STARTS_AT_ONCE : STARTS_BY_EVENT;
        if (at_once) me->since = start;
        else push(l, carrier, event_key(start, WORK_STARTS, to));
        return;
    }
    me->ready_us = arrives;
    me->ready = number << 2 | ARRIVED;
    if (goal->kind == ABOARD) {
        l->s.transfer[goal->transfer].waits = 0;
        l->s.transfer[goal->transfer].next_carrier = carrier + 1 < t->carriers ? carrier + 1 : 0;
        me->ready_us += t->platform[goal->transfer].aboard_us;
        me->ready = number << 2 | READY_ABOARD;
    }
    push(l, carrier, ask_key(me->ready_us, to));
}

INLINE void commit(Line *l, i64 carrier, Carrier *me, Carrier *ahead, i64 transfer, i64 reach, i64 now) {
    Tables *t = &l->t;
    i64 stop = me->stop, load = me->serial >= 0, at = stop * l->n.reach + reach - 1;
    i64 leg = reach <= l->n.reach ? t->leg[at] : -1, move = leg < 0 ? -1 : t->move_us[load * t->stops * l->n.reach + at];
    if (move < 0) { l->s.counters[FAULT] = FAULT_NO_LEG; return; }
    i64 row = 2 * leg + load, delay = NO_BOUND;
    if (ahead->leg_row >= 0 && ahead->departed + t->top_delay_us > now)
        delay = t->delay_us[ahead->leg_row * l->n.rows + row];
    i64 departs = departure(now, ahead->committed, ahead->departed, t->follow_us, delay);
    i64 to = stop + reach, arrives = departs + move;
    if (to >= t->stops) to -= t->stops;
    i64 number = mark_move(l, carrier, me, ahead, transfer, to, row, now, departs, arrives);
    leave(l, me, stop, load, reach, number, now, departs);
    me->stop = to;
    me->committed = now;
    me->departed = departs;
    me->leg_row = row;
    if (departs < l->n.horizon) l->sum.moves[carrier]++;
    head_for(l, carrier, me, to, number, now, arrives);
}

INLINE i64 ask(Line *l, i64 carrier, i64 now) {
    Tables *t = &l->t;
    i64 leader = carrier > 0 ? carrier - 1 : t->carriers - 1, follower = carrier + 1 < t->carriers ? carrier + 1 : 0;
    Carrier *me = l->s.carrier + carrier, *ahead = l->s.carrier + leader;
    Step *step = t->step + me->step;
    i64 stop = me->stop, station = t->stop[stop].station, free = ahead->stop - stop, goal = 0;
    if (station >= 0 && me->waiting > 0) hold(l, me, station, now);
    free = free > 0 ? free - 1 : free - 1 + t->stops;
    for (i64 i = step->first; i < step->last; i++) {
        i64 way = t->step_stop[i] - stop;
        if (way <= 0) way += t->stops;
        if (goal < way && way <= free) goal = way;
    }
    i64 next = t->next_aboard[stop], aboard = stop + next, reach = goal > 0 ? goal : free;
    if (aboard >= t->stops) aboard -= t->stops;
    i64 transfer = t->stop[aboard].transfer;
    if (reach >= next && l->s.transfer[transfer].waits == 1) {
        reach = next;
    } else if (reach >= next || goal == 0) {
        if (reach >= next) reach = next - 1;
        i64 end = stop + reach;
        if (end >= t->stops) end -= t->stops;
        reach = most(reach - t->back[end], 0);
    }
    if (reach == 0) {
        me->waiting = WAITS;
        if (station >= 0) {
            i64 other = t->stop[ahead->stop].station;
            me->since = now;
            me->held = other >= 0 && t->tool[other].step == t->tool[station].step && leader != carrier;
        }
        return -1;
    }
    me->waiting = 0;
    commit(l, carrier, me, ahead, transfer, reach, now);
    return l->s.carrier[follower].waiting == WAITS ? follower : -1;
}

/* ---- the loop ---- */

INLINE void time_zero(Line *l) {
    for (i64 f = 0; f < l->n.failures; f++) l->s.failure[f].left = draw_once(&l->laws, l->t.failure[f].every, 0);
    for (i64 carrier = 0; carrier < l->t.carriers; carrier++) {
        Carrier *me = l->s.carrier + carrier;
        i64 station = l->t.stop[me->stop].station;
        if (station >= 0) {
            l->s.station[station].occupant = carrier;
            me->starting = STARTS_BY_EVENT;
            push(l, carrier, event_key(work_start(l, me, station, 0, 0, -1), WORK_STARTS, me->stop));
        } else {
            push(l, carrier, ask_key(0, me->stop));
        }
    }
}

void run_replication(const Line *given) {
    Line line = *given, *l = &line;
    State *s = &l->s;
    i64 now = 0, woken = -1, carrier, key, start;
    time_zero(l);
    while (s->counters[FAULT] == 0) {
        if (woken >= 0) {
            carrier = woken;
            woken = -1;
            key = ask_key(now, s->carrier[carrier].stop);
            if (s->events[1] < key) { s->carrier[carrier].waiting = ASKS; push(l, carrier, key); continue; }
        } else {
            key = s->events[1];
            now = key >> SHIFT;
            if (key == IDLE || now >= l->n.horizon) break;
            carrier = first_leaf(l);
            push(l, carrier, IDLE);
        }
        s->counters[EVENTS]++;
        if (carrier >= l->t.carriers) {
            Transfer *platform = s->transfer + (carrier - l->t.carriers);
            platform->waits = 1;
            carrier = platform->next_carrier;
            woken = s->carrier[carrier].waiting == WAITS ? carrier : -1;
            continue;
        }
        Carrier *me = s->carrier + carrier;
        start = now;
        if (me->starting != STARTS_BY_EVENT) { woken = ask(l, carrier, now); start = me->since; }
        if (me->starting > 0) {
            me->starting = 0;
            push(l, carrier, ask_key(do_work(l, me, l->t.stop[me->stop].station, start), me->stop));
        }
    }
    for (i64 station = 0; station < l->t.stations; station++) {
        i64 here = s->station[station].occupant;
        if (here < 0) spend(l, station, STARVED, s->station[station].vacated, l->n.horizon);
        else if (s->carrier[here].waiting > 0) hold(l, s->carrier + here, station, l->n.horizon);
    }
}
