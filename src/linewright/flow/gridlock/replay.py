"""The kernel led by a script: along a way into a jam, or from a placement that is one.

Works end one after the other at the times that the script says; everything else that takes time (failures, breaks,
operators, machines outside, changeovers) is left out, since all of it ends.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.traffic.general import Placement
from linewright.traffic.gridlock.decide import Prover
from linewright.traffic.gridlock.errands import Errand, Errands, Outcome
from linewright.traffic.gridlock.ring import Post
from linewright.traffic.gridlock.settled import WayIn, next_ends
from linewright.traffic.gridlock.system import AGAINST, ALONG, Happening, State, System
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.rules import NO_STOP

if TYPE_CHECKING:
    from linewright.flow.kernel.general.run import GeneralResult, Snapshot
    from linewright.flow.kernel.general.script import Script

Steps = Iterable[tuple[State, Happening, State]]

PAUSE_US: Final = 600_000_000
"""Between two ends of work: long enough for everybody to come to rest. [us]"""
SHORT_WORK_US: Final = 1_000_000
LOOK_US: Final = 1_800_000_000
"""How long nobody of a jam moves although all other work goes on. [us]"""
ENDLESS_US: Final = 1 << 47
FEW_LOADS: Final = 64
"""Loads whose variants are written down ahead."""


@dataclass(frozen=True)
class Ended:
    """An end of work in a replay: when, of whose, and the errand afterwards; a change of carriers has no carrier."""

    time_us: int
    carrier: int
    stop: int
    errand: Errand | None


@dataclass(frozen=True, eq=False)
class Replay:
    """A jam into which the kernel was led.

    Parameters
    ----------
    jam_us : from here on nobody of the jam moves. [us]
    moves : log of moves up to there, as of a replication
    ended : the ends of work
    stuck : stops whose carriers can never move again
    state : the state of the jam
    carrier_at : number of the carrier on each stop, -1 for none
    worked : stations that still work long after the jam
    loads : with run-out the variants of the loads taken, in their order
    """

    jam_us: int
    moves: np.ndarray[tuple[int, int], np.dtype[np.int64]]
    ended: tuple[Ended, ...]
    stuck: frozenset[int]
    state: State
    carrier_at: tuple[int, ...]
    worked: frozenset[int]
    loads: tuple[int, ...] = ()


def bare(plan: TrafficPlan) -> TrafficPlan:
    """The plan without what only takes time; changes of carriers never come."""
    general = plan.general
    changes = tuple(replace(one, at_us=ENDLESS_US) for one in general.carrier_changes)
    kept = replace(
        general, pools=(), manual=(), release_us=(), breaks=(), outside=(), changeovers=(), carrier_changes=changes
    )
    return replace(plan, failures=(), general=kept)


class _Tape:
    """A script that is being written while the kernel runs it.

    Parameters
    ----------
    system : what may happen
    plan : what is run, see `bare`
    variants : of the loads, one after the other
    placed : loads that are aboard at the start; with run-out the next one is at `place` of the sequence
    """

    def __init__(
        self, system: System, plan: TrafficPlan, variants: tuple[int, ...], placed: int = 0, place: int = 0
    ) -> None:
        from linewright.flow.kernel.general.script import Script

        self.placed, self.place = placed, place
        self.system = system
        self.errands: Errands = system.errands
        self.plan = plan
        self.script: Script = Script(ENDLESS_US, variants=variants)
        self.ended: list[Ended] = []
        self.time_us = 0

    def run(self, horizon_us: int, serials: int) -> GeneralResult:
        """Everything up to a time."""
        from linewright.flow.kernel.general.run import general_tables_of, run_general
        from linewright.flow.kernel.general.script import scripted_luck

        luck = scripted_luck(self.plan, self.script, serials)
        return run_general(self.plan, general_tables_of(self.plan), luck, horizon_us, horizon_us, trace_from_us=0)

    def seen(self, snapshot: Snapshot) -> State:
        """The state of a snapshot."""
        place = self.place + int(snapshot.next_load) - self.placed
        return state_of(self.system, snapshot, self.script.variants, place)

    def state(self) -> State:
        """Where everybody has come to rest."""
        found = self.run(self.time_us + PAUSE_US, self.serials)
        state = self.seen(found.snapshot)
        come = sum(one.at_us < ENDLESS_US for one in self.plan.general.carrier_changes)
        left = [abs(one.count) if i >= come else 0 for i, one in enumerate(self.plan.general.carrier_changes)]
        return state._replace(come=come, left=tuple(left))

    @property
    def serials(self) -> int:
        """Parts that a run up to now can have begun."""
        return (self.system.plan.carriers + len(self.ended) + 8) * self.plan.general.nests

    def change(self) -> None:
        """The next change of carriers comes."""
        self.time_us += PAUSE_US
        general = self.plan.general
        number = next(i for i, one in enumerate(general.carrier_changes) if one.at_us == ENDLESS_US)
        changes = list(general.carrier_changes)
        changes[number] = replace(changes[number], at_us=self.time_us)
        self.plan = replace(self.plan, general=replace(general, carrier_changes=tuple(changes)))
        self.ended.append(Ended(self.time_us, -1, -1, None))

    def end_work(self, before: State, happening: Happening, after: State, pause_us: int) -> bool:
        """The work at a stop ends as told; False if nobody is in work there."""
        stop = happening.start
        found = self.run(self.time_us + PAUSE_US, self.serials)
        snapshot = found.snapshot
        here = np.flatnonzero((snapshot.stop == stop) & snapshot.in_work & snapshot.on_line)
        if len(here) != 1:
            return False
        carrier = int(here[0])
        station = int(self.plan.stop_station[stop])
        errand = self.system.post(before.posts[stop]).errand
        wanted = self.system.post(happening.post).errand
        outcomes = [one for one, left in self.errands.outcomes(station, errand) if left == wanted]
        if not outcomes:
            return False
        serial = int(snapshot.load[carrier]) * self.plan.general.nests
        rows = found.works[(found.works[:, 0] == station) & (found.works[:, 2] == serial)]
        begun_us = int(rows[-1, 3])
        self.time_us = max(self.time_us + pause_us, begun_us + 2)
        self._tell(station, serial, int(snapshot.visit[carrier]), self.time_us - begun_us)
        self._judge(station, int(snapshot.load[carrier]), snapshot, carrier, errand, outcomes[0])
        self.ended.append(Ended(self.time_us, carrier, stop, wanted))
        return True

    def _tell(self, station: int, serial: int, visit: int, time_us: int) -> None:
        nests = self.plan.general.nests
        for nest in range(nests):
            self.script.work_us[station, serial + nest, visit] = time_us if nest == 0 else 0

    def _judge(
        self, station: int, load: int, snapshot: Snapshot, carrier: int, errand: Errand, outcome: Outcome
    ) -> None:
        """Write down what becomes of the parts."""
        general = self.plan.general
        visit = int(snapshot.visit[carrier])
        if errand.is_empty and general.variants and not general.run_out:
            variants = list(self.script.variants)
            variants += [variants[-1] if variants else 0] * (load + 1 - len(variants))
            variants[load] = next(v for v in range(len(general.variants)) if self._is_variant(v, outcome.variant))
            self.script = replace(self.script, variants=tuple(variants))
        worked = [n for n in range(general.nests) if snapshot.present[carrier] & ~snapshot.flagged[carrier] & 1 << n]
        if self.plan.step_exit[self.plan.station_step[station]]:
            return
        for place, nest in enumerate(worked):
            part = (station, load * general.nests + nest, visit)
            if outcome.good and place == 0:
                continue
            if outcome.flagged:
                self.script.flagged.add(part)
            elif not outcome.good:
                self.script.missed.add((station, part[1], 0))
        if outcome.sent_back:
            self.script.sent_back.add((station, load * general.nests, visit))

    def _is_variant(self, variant: int, wanted: int) -> bool:
        stands_for = self.errands.variant_of[variant]
        return stands_for == wanted or (stands_for < 0 and wanted < 0)


def replay_way(system: System, way: WayIn, pause_us: int = PAUSE_US) -> Replay | None:
    """Lead the kernel along a way into a jam; None where it does not come to one."""
    place = max((way.steps[0][0] if way.steps else way.last).place, 0)
    place = (place - _loaded(system, way)) % max(len(system.errands.sequence), 1)
    tape = _Tape(system, bare(system.plan), _variants(system, place), place=place)
    return _prove(tape) if _follows(tape, way.steps, pause_us) else None


def _loaded(system: System, way: WayIn) -> int:
    """With run-out: loads that are taken before the first end of work."""
    first = way.steps[0][0] if way.steps else way.last
    return sum(number >= 0 and not system.post(number).errand.is_empty for number in first.posts)


def _follows(tape: _Tape, steps: Steps, pause_us: int) -> bool:
    """Whether the kernel can be led along all steps."""
    for before, happening, after in steps:
        if happening.kind == "change comes":
            tape.change()
        elif not tape.end_work(before, happening, after, pause_us):
            return False
    return True


def _variants(system: System, place: int) -> tuple[int, ...]:
    """The variants of the loads: with run-out those of the sequence from a place on, else one that is loaded."""
    sequence = system.errands.sequence
    if sequence:
        return sequence[place:] + sequence[:place]
    variants = range(len(system.plan.general.variants))
    usual = next((v for v in variants if _loads(system, v)), 0)
    return (usual,) * FEW_LOADS if variants else ()


def _loads(system: System, variant: int) -> bool:
    return any(system.errands.variant_of[variant] in loads for loads in system.errands.loads)


def find_in_kernel(system: System, tries: int, most_steps: int, seed: int) -> Replay | None:
    """A jam looked for in the kernel itself: each time a work ends that is drawn among those in hand."""
    luck = random.Random(seed)
    best: Replay | None = None
    for _ in range(tries):
        place = luck.randrange(max(len(system.errands.sequence), 1))
        tape = _Tape(system, bare(system.plan), _variants(system, place), place=place)
        rank = [luck.random() ** 3 for _ in range(system.plan.stops)]
        taste: dict[int, float] = {}
        for _ in range(most_steps):
            state = tape.state()
            if system.stuck(state):
                found = _prove(tape)
                if found is not None:
                    best, most_steps = found, len(found.ended) - 1
                break
            choices = list(next_ends(system, state))
            if not choices:
                break
            weights = [
                (rank[one.start] if one.start >= 0 else 0.05) * taste.setdefault(one.post, luck.random()) + 1e-6
                for one, _ in choices
            ]
            happening, after = luck.choices(choices, weights)[0]
            # Some jams need carriers that are still on their way when the next work ends.
            pause_us = PAUSE_US if luck.random() < 0.5 else round(10.0 ** luck.uniform(5.0, 7.0))
            if not _follows(tape, [(state, happening, after)], pause_us):
                break
    return best


def _prove(tape: _Tape) -> Replay | None:
    """Whether the kernel stands in a jam where the script ends, and nobody of it moves while the rest goes on."""
    jam_us = tape.time_us + PAUSE_US
    then = tape.run(jam_us, tape.serials)
    state = tape.seen(then.snapshot)
    stuck = tape.system.stuck(state)
    if not stuck:
        return None
    in_work = np.flatnonzero(then.snapshot.in_work & then.snapshot.on_line)
    for carrier in in_work.tolist():
        station = int(tape.plan.stop_station[then.snapshot.stop[carrier]])
        serial, visit = int(then.snapshot.load[carrier]) * tape.plan.general.nests, int(then.snapshot.visit[carrier])
        rows = then.works[(then.works[:, 0] == station) & (then.works[:, 2] == serial)]
        tape._tell(station, serial, visit, jam_us + SHORT_WORK_US - int(rows[-1, 3]))
    tape.script = replace(tape.script, usual_us=SHORT_WORK_US)
    later = tape.run(jam_us + LOOK_US, tape.serials + 2 * LOOK_US // SHORT_WORK_US)
    who = {int(c) for c in np.flatnonzero(then.snapshot.on_line) if int(then.snapshot.stop[c]) in stuck}
    moved = later.moves[later.moves[:, 1] >= jam_us]
    if any(int(row[0]) in who for row in moved):
        return None
    end = tape.system.stuck(tape.seen(later.snapshot))
    on_line = int(later.snapshot.on_line.sum())
    begun = later.works[later.works[:, 3] >= jam_us + LOOK_US // 2][:, 0].tolist()
    return Replay(
        jam_us=jam_us,
        moves=then.moves[then.moves[:, 1] < jam_us],
        ended=tuple(tape.ended),
        stuck=stuck,
        state=state,
        carrier_at=carriers_at(tape.plan, then.snapshot),
        worked=frozenset(begun) if len(end) < on_line else frozenset(),
        loads=tuple(tape.script.variants[load % len(tape.script.variants)] for load in range(then.snapshot.next_load))
        if tape.system.errands.sequence
        else (),
    )


def carriers_at(plan: TrafficPlan, snapshot: Snapshot) -> tuple[int, ...]:
    """The carrier on each stop, or on its way there; -1 for none."""
    at = [-1] * plan.stops
    for carrier in np.flatnonzero(snapshot.on_line).tolist():
        at[int(snapshot.stop[carrier])] = carrier
    return tuple(at)


def state_of(system: System, snapshot: Snapshot, variants: tuple[int, ...], place: int = 0) -> State:
    """The state in which the kernel stands; a carrier under way counts where it goes.

    Parameters
    ----------
    system : of the plan
    snapshot : of the kernel
    variants : of the loads, over and over
    place : with run-out that of the next load in the sequence, rounds counted
    """
    plan, errands = system.plan, system.errands
    posts = [-1] * plan.stops
    sets, sequence = system.sets_of_carriers, errands.sequence
    for carrier in np.flatnonzero(snapshot.on_line).tolist():
        present, flagged = int(snapshot.present[carrier]), int(snapshot.flagged[carrier])
        variant = -1
        if present and plan.general.variants:
            load = int(snapshot.load[carrier])
            variant = errands.variant_of[variants[load % len(variants)] if variants else 0]
        exits = 1 << int(snapshot.exit[carrier]) if flagged and snapshot.exit[carrier] >= 0 else 0
        errand = Errand(int(snapshot.step[carrier]), variant, bool(present & ~flagged), exits, sets[carrier])
        stop = int(snapshot.stop[carrier])
        if snapshot.in_work[carrier] and not sequence and _is_first(system, snapshot, carrier):
            errand = errands.empty(sets[carrier])  # what it loads is told when the work ends
        at_gate = bool(sequence) and errand.is_empty
        ready = not snapshot.in_work[carrier] and not at_gate
        worked = bool(ready and system.reservations.step_at(stop) == errand.step)
        posts[stop] = system.number(Post(errand, _lane_of(system, snapshot, stop), worked))
    away = 0
    for transfer, one in enumerate(system.reservations.platforms):
        if len(one.aboard) > 1 and any(posts[stop] >= 0 for stop in one.aboard):
            away |= 1 << transfer
    changes = plan.general.carrier_changes
    return State(
        tuple(posts),
        AGAINST if snapshot.against else ALONG,
        place % len(sequence) if sequence else -1,
        away,
        len(changes),
        tuple(0 for _ in changes),
    )


def _is_first(system: System, snapshot: Snapshot, carrier: int) -> bool:
    """Whether a carrier in work has its first work."""
    return bool(snapshot.step[carrier] == 0 and snapshot.visit[carrier] == 0 and snapshot.flagged[carrier] == 0)


def _lane_of(system: System, snapshot: Snapshot, stop: int) -> int:
    """Aboard a transfer that gives to several lanes the first stop of the lane whose dock it is at."""
    transfer = int(system.plan.stop_transfer[stop])
    if transfer < 0:
        return NO_STOP
    platform = system.reservations.platforms[transfer]
    dock = int(snapshot.platform_dock[transfer]) - len(platform.takes)
    if len(platform.gives) < 2 or dock < 0:
        return NO_STOP
    lane, track = platform.gives[dock], system.reservations.track
    stops = np.flatnonzero((track.stop_lane == lane) & (system.plan.stop_transfer < 0))
    return int(stops[0])


def placement_of(system: System, state: State) -> tuple[Placement, tuple[int, ...]]:
    """A start with everybody as in a state, and the variant of each load."""
    nests = system.plan.general.nests
    stops = [stop for stop, number in enumerate(state.posts) if number >= 0]
    errands = [system.post(state.posts[stop]).errand for stop in stops]
    loads: list[int] = []
    present: list[int] = []
    flagged: list[int] = []
    exits: list[int] = []
    variants: list[int] = []
    for errand in errands:
        bits = (1 if errand.good else 0) | ((2 if errand.good and nests > 1 else 1) if errand.exits else 0)
        wrong = 0 if not errand.exits else (2 if errand.good and nests > 1 else 1)
        present.append(bits)
        flagged.append(wrong)
        exits.append(errand.exits.bit_length() - 1 if errand.exits else -1)
        loads.append(len(variants) if bits else -1)
        if bits:
            stands_for = system.errands.variant_of
            variants.append(next((v for v, one in enumerate(stands_for) if one == errand.variant), 0))
    sequence = system.errands.sequence
    after = (sequence[state.place :] + sequence[: state.place]) if sequence else tuple(variants[-1:]) or (0,)
    placement = Placement(
        stops=tuple(stops),
        steps=tuple(errand.step for errand in errands),
        loads=tuple(loads),
        present=tuple(present),
        flagged=tuple(flagged),
        exits=tuple(exits),
        visits=(0,) * len(stops),
        next_load=len(variants),
    )
    return placement, (*variants, *(after * (2 * LOOK_US // SHORT_WORK_US // len(after))))


def replay_placement(prover: Prover, state: State, plan: TrafficPlan) -> Replay | None:
    """Start the kernel in a placement and let everything go on; None where the carriers of the jam move.

    Parameters
    ----------
    prover : of the plan
    state : the jam
    plan : the plan with its legs from there
    """
    system = prover.system
    placed, steps = prover.before_work(state)
    placement, variants = placement_of(system, placed)
    kept = bare(plan)
    started = replace(
        kept,
        first_stops=np.array(placement.stops, np.int64),
        general=replace(kept.general, start=placement, carrier_changes=(), fixture_sets=()),
    )
    loads = variants if plan.general.variants else ()
    tape = _Tape(system, started, loads, placement.next_load, max(state.place, 0))
    replay = _prove(tape) if _follows(tape, steps, PAUSE_US) else None
    if replay is None or steps:
        return replay
    at = [-1] * plan.stops
    for number, stop in enumerate(placement.stops):
        at[stop] = number
    nobody = np.zeros((0, 6), np.int64)  # it is a jam before anybody moves
    return replace(
        replay, jam_us=0, moves=nobody, stuck=system.stuck(state), state=state, carrier_at=tuple(at), loads=()
    )
