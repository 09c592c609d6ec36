/* The event kernel in C, written after docs/semantics.md and linewright/flow/kernel: same events, same order, same sums.

   The bench compiles it and hands it the arrays of the Python side; the structures below hold their addresses in the order
   of the Python records. It keeps no log. Compiled without contraction of products and sums, so that draws are equal
   to the last bit. */

#include "draws.h"

enum { WAITING, STATION, DOCK, ABOARD };
enum { DOWN, WORK, CLEAR, DONE_HANDSHAKE, BLOCKED, PARTNER, SETTLING, PREPARE, EXCHANGE, STARVED, STATES };
enum { WAITS = 1, ASKS = 2 };
enum { STARTS_BY_EVENT = 1, STARTS_AT_ONCE = 2 };
enum { SERIALS, EVENTS, FAULT };
enum { FAULT_NO_LEG = 1, FAULT_NO_EXIT = 2 };
enum { LOCKED_TAKING = 4, WORK_STARTS = 9, ASK = 10, RANK_BITS = 10, SHIFT = 14, LAST_RANK = 1023 };

#define NO_BOUND (-(1LL << 31))
#define NEVER (-(1LL << 62))
#define IDLE INT64_MAX

typedef struct {
    i64 stops, carriers, transfers, follow_us, arrive_us, done_us, top_delay_us;
    i64 *stop_kind, *stop_station, *stop_transfer, *next_aboard, *back, *station_step, *at_once;
    i64 *settling_us, *clear_us, *prepare_us, *step_first, *step_stop, *next_good, *next_flagged, *move_us, *leg;
    int32_t *delay_us;
    i64 *aboard_us, *rear_us, *home_us, *failure_first, *first_stops;
} Tables;

typedef struct {
    i64 *events, *stop, *step, *serial, *flagged, *committed, *departed, *leg_row, *starting, *waiting, *since, *held;
    i64 *tool_ready, *vacated, *occupant, *platform_waits, *next_aboard_carrier, *to_failure, *failure_number, *counters;
} State;

typedef struct { i64 *state_us, *parts, *rejected, *failures, *good, *moves; } Totals;
typedef struct { Laws work, reject, running, repair; } Luck;
typedef struct { i64 reach, rows, stations, failures, width, horizon, bin_us; } Sizes;
typedef struct { Tables t; State s; Totals sum; Luck luck; Sizes n; } Line;

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

/* ---- a carrier at a station ---- */

INLINE void spend(Line *l, i64 station, i64 state, i64 begin, i64 end) {
    if (begin < l->n.horizon && end > begin) l->sum.state_us[STATES * station + state] += least(end, l->n.horizon) - begin;
}

INLINE void hold(Line *l, i64 carrier, i64 station, i64 until) {
    spend(l, station, l->s.held[carrier] == 1 ? PARTNER : BLOCKED, l->s.since[carrier], until);
    l->s.since[carrier] = until;
}

INLINE i64 work_start(Line *l, i64 station, i64 reserved, i64 arrival) {
    i64 vacated = l->s.vacated[station];
    spend(l, station, STARVED, vacated, reserved);
    spend(l, station, EXCHANGE, most(vacated, reserved), arrival);
    i64 settled = arrival + l->t.settling_us[station] + l->t.arrive_us, start = most(settled, l->s.tool_ready[station]);
    spend(l, station, SETTLING, arrival, settled);
    spend(l, station, PREPARE, settled, start);
    return start;
}

INLINE i64 work_end(Line *l, i64 station, i64 start, i64 left) {
    State *s = &l->s;
    i64 now = start, first = l->t.failure_first[station], last = l->t.failure_first[station + 1];
    for (;;) {
        i64 due = -1, run = left;
        for (i64 f = first; f < last; f++)
            if (s->to_failure[f] < run) { run = s->to_failure[f]; due = f; }
        spend(l, station, WORK, now, now + run);
        now += run;
        left -= run;
        for (i64 f = first; f < last; f++)
            if (s->to_failure[f] != NO_FAILURE) s->to_failure[f] -= run;
        if (due < 0) return now;
        i64 repaired = now + draw(&l->luck.repair, due, s->failure_number[due]);
        spend(l, station, DOWN, now, repaired);
        if (now < l->n.horizon) l->sum.failures[due]++;
        now = repaired;
        s->failure_number[due]++;
        s->to_failure[due] = draw_once(&l->luck.running, due, s->failure_number[due]);
    }
}

INLINE void next_step(Line *l, i64 carrier, i64 station, i64 end) {
    State *s = &l->s;
    i64 serial = s->serial[carrier], step = l->t.station_step[station];
    int counted = end < l->n.horizon;
    if (counted) l->sum.parts[station]++;
    if (is_flagged(&l->luck.reject, station, serial)) {
        s->flagged[carrier] = 1;
        if (counted) l->sum.rejected[station]++;
    }
    int flagged = s->flagged[carrier] == 1;
    i64 following = flagged ? l->t.next_flagged[step] : l->t.next_good[step];
    if (following == -2) s->counters[FAULT] = FAULT_NO_EXIT;
    if (following < 0) {
        if (counted && !flagged) l->sum.good[end / l->n.bin_us]++;
        s->serial[carrier] = -1;
        s->flagged[carrier] = 0;
        following = 0;
    }
    s->step[carrier] = following;
}

INLINE i64 do_work(Line *l, i64 carrier, i64 station, i64 start) {
    State *s = &l->s;
    if (s->serial[carrier] < 0) s->serial[carrier] = s->counters[SERIALS]++;
    i64 end = work_end(l, station, start, draw(&l->luck.work, station, s->serial[carrier]));
    i64 cleared = end + l->t.clear_us[station], ready = cleared + l->t.done_us;
    spend(l, station, CLEAR, end, cleared);
    spend(l, station, DONE_HANDSHAKE, cleared, ready);
    s->tool_ready[station] = cleared + l->t.prepare_us[station];
    next_step(l, carrier, station, end);
    return ready;
}

/* ---- asking and committing ---- */

INLINE i64 departure(i64 now, i64 committed, i64 departed, i64 follow_us, i64 delay_us) {
    if (committed == NEVER) return now;
    i64 time = most(now, committed + follow_us);
    return delay_us == NO_BOUND ? time : most(time, departed + delay_us);
}

INLINE void commit(Line *l, i64 carrier, i64 leader, i64 reach, i64 now) {
    Tables *t = &l->t;
    State *s = &l->s;
    i64 stop = s->stop[carrier], load = s->serial[carrier] >= 0, at = stop * l->n.reach + reach - 1;
    i64 leg = reach <= l->n.reach ? t->leg[at] : -1, move = leg < 0 ? -1 : t->move_us[load * t->stops * l->n.reach + at];
    if (move < 0) { s->counters[FAULT] = FAULT_NO_LEG; return; }
    i64 row = 2 * leg + load, delay = NO_BOUND;
    if (s->leg_row[leader] >= 0 && s->departed[leader] + t->top_delay_us > now)
        delay = t->delay_us[s->leg_row[leader] * l->n.rows + row];
    i64 departs = departure(now, s->committed[leader], s->departed[leader], t->follow_us, delay);
    i64 to = stop + reach, arrives = departs + move, next = carrier + 1 < t->carriers ? carrier + 1 : 0;
    if (to >= t->stops) to -= t->stops;
    i64 left = t->stop_station[stop], platform = t->stop_transfer[stop];
    if (left >= 0) {
        s->held[carrier] = 0;
        s->since[carrier] = now;
        hold(l, carrier, left, departs);
        s->vacated[left] = departs;
        s->occupant[left] = -1;
    }
    if (platform >= 0) {
        i64 rear = departs + t->rear_us[(load * t->transfers + platform) * l->n.reach + reach - 1];
        push(l, t->carriers + platform, event_key(rear + t->home_us[platform], LOCKED_TAKING, stop));
    }
    s->stop[carrier] = to;
    s->committed[carrier] = now;
    s->departed[carrier] = departs;
    s->leg_row[carrier] = row;
    if (departs < l->n.horizon) l->sum.moves[carrier]++;
    if (t->stop_kind[to] == STATION) {
        i64 station = t->stop_station[to];
        s->occupant[station] = carrier;
        i64 start = work_start(l, station, now, arrives);
        s->starting[carrier] = t->at_once[station] == 1 ? STARTS_AT_ONCE : STARTS_BY_EVENT;
        if (t->at_once[station] == 1) s->since[carrier] = start;
        else push(l, carrier, event_key(start, WORK_STARTS, to));
    } else if (t->stop_kind[to] == ABOARD) {
        i64 transfer = t->stop_transfer[to];
        s->platform_waits[transfer] = 0;
        s->next_aboard_carrier[transfer] = next;
        push(l, carrier, ask_key(arrives + t->aboard_us[transfer], to));
    } else {
        push(l, carrier, ask_key(arrives, to));
    }
}

INLINE i64 ask(Line *l, i64 carrier, i64 now) {
    Tables *t = &l->t;
    State *s = &l->s;
    i64 stop = s->stop[carrier], leader = carrier > 0 ? carrier - 1 : t->carriers - 1, station = t->stop_station[stop];
    if (station >= 0 && s->waiting[carrier] > 0) hold(l, carrier, station, now);
    i64 free = s->stop[leader] - stop, step = s->step[carrier], goal = 0;
    free = free > 0 ? free - 1 : free - 1 + t->stops;
    for (i64 i = t->step_first[step]; i < t->step_first[step + 1]; i++) {
        i64 ahead = t->step_stop[i] - stop;
        if (ahead <= 0) ahead += t->stops;
        if (goal < ahead && ahead <= free) goal = ahead;
    }
    i64 next = t->next_aboard[stop], aboard = stop + next, reach = goal > 0 ? goal : free;
    if (aboard >= t->stops) aboard -= t->stops;
    int waits = s->platform_waits[t->stop_transfer[aboard]] == 1;
    if (reach >= next && waits) {
        reach = next;
    } else if (reach >= next || goal == 0) {
        if (reach >= next) reach = next - 1;
        i64 end = stop + reach;
        if (end >= t->stops) end -= t->stops;
        reach = most(reach - t->back[end], 0);
    }
    if (reach == 0) {
        s->waiting[carrier] = WAITS;
        if (station >= 0) {
            i64 ahead = t->stop_station[s->stop[leader]];
            s->since[carrier] = now;
            s->held[carrier] = ahead >= 0 && t->station_step[ahead] == t->station_step[station] && leader != carrier;
        }
        return -1;
    }
    s->waiting[carrier] = 0;
    commit(l, carrier, leader, reach, now);
    i64 follower = carrier + 1 < t->carriers ? carrier + 1 : 0;
    return s->waiting[follower] == WAITS ? follower : -1;
}

/* ---- the loop ---- */

INLINE void time_zero(Line *l) {
    for (i64 f = 0; f < l->n.failures; f++) l->s.to_failure[f] = draw_once(&l->luck.running, f, 0);
    for (i64 carrier = 0; carrier < l->t.carriers; carrier++) {
        i64 stop = l->s.stop[carrier], station = l->t.stop_station[stop];
        if (station >= 0) {
            l->s.occupant[station] = carrier;
            l->s.starting[carrier] = STARTS_BY_EVENT;
            push(l, carrier, event_key(work_start(l, station, 0, 0), WORK_STARTS, stop));
        } else {
            push(l, carrier, ask_key(0, stop));
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
            key = ask_key(now, s->stop[carrier]);
            if (s->events[1] < key) { s->waiting[carrier] = ASKS; push(l, carrier, key); continue; }
        } else {
            key = s->events[1];
            now = key >> SHIFT;
            if (key == IDLE || now >= l->n.horizon) break;
            carrier = first_leaf(l);
            push(l, carrier, IDLE);
        }
        s->counters[EVENTS]++;
        if (carrier >= l->t.carriers) {
            s->platform_waits[carrier - l->t.carriers] = 1;
            carrier = s->next_aboard_carrier[carrier - l->t.carriers];
            woken = s->waiting[carrier] == WAITS ? carrier : -1;
            continue;
        }
        start = now;
        if (s->starting[carrier] != STARTS_BY_EVENT) { woken = ask(l, carrier, now); start = s->since[carrier]; }
        if (s->starting[carrier] > 0) {
            s->starting[carrier] = 0;
            i64 stop = s->stop[carrier];
            push(l, carrier, ask_key(do_work(l, carrier, l->t.stop_station[stop], start), stop));
        }
    }
    for (i64 station = 0; station < l->n.stations; station++) {
        i64 here = s->occupant[station];
        if (here < 0) spend(l, station, STARVED, s->vacated[station], l->n.horizon);
        else if (s->waiting[here] > 0) hold(l, here, station, l->n.horizon);
    }
}
