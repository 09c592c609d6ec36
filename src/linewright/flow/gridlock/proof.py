"""Whether a line can lock up, from its planned start and from every placement of its carriers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from linewright.errors import LinewrightError, SimulationError
from linewright.flow.gridlock.by_luck import find_by_luck
from linewright.flow.gridlock.replay import PAUSE_US, Replay, find_in_kernel, placement_of, replay_placement, replay_way
from linewright.flow.gridlock.story import jam_of, standings, start_of, way_of
from linewright.layout import Layout, lay_out
from linewright.layout.resting import resting_places
from linewright.traffic.compile import compile_plan
from linewright.traffic.general import Placement
from linewright.traffic.gridlock.cure import PlanCure, find_cure
from linewright.traffic.gridlock.decide import USUAL, Effort, Found, Prover
from linewright.traffic.gridlock.result import (
    CAN_LOCK,
    NEVER_LOCKS,
    UNDECIDED,
    Answer,
    Cure,
    GridlockResult,
    Outcome,
)
from linewright.traffic.gridlock.system import State
from linewright.traffic.plan import DOCK, WAITING, TrafficPlan

if TYPE_CHECKING:
    from linewright.line.model import Line

Recompile = Callable[[Placement], TrafficPlan]


def gridlock(line: Line) -> GridlockResult:
    """Prove that a line never locks, or show how it can.

    Parameters
    ----------
    line : a valid line

    Returns
    -------
    GridlockResult   .outcome is ``never locks``, ``can lock`` or ``undecided``.

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track.

    Source     docs/semantics.md, "Gridlock".
    """
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    plan = compile_plan(line, layout)

    def recompile(start: Placement) -> TrafficPlan:
        return compile_plan(line.model_copy(update={"carriers": len(start.stops)}), layout, start=start)

    found, cure = _prove(plan, USUAL, len(resting_places(line, layout)), recompile, with_cure=True)
    return found if cure is None else replace(found, cure=_named(cure, layout))


def gridlock_of_plan(plan: TrafficPlan, effort: Effort = USUAL, with_cure: bool = False) -> GridlockResult:
    """The same for a traffic plan; a cure is counted among those tried but not named.

    Parameters
    ----------
    plan : any traffic plan, with the legs from every stop that is to be replayed from
    effort : how much is searched
    with_cure : look for an admission that cures it
    """
    room = 1 + int(np.isin(plan.stop_kind, (WAITING, DOCK)).sum())
    return _prove(plan, effort, room, None, with_cure)[0]


def _prove(
    plan: TrafficPlan, effort: Effort, room: int, recompile: Recompile | None, with_cure: bool
) -> tuple[GridlockResult, PlanCure | None]:
    prover = Prover(plan, effort)
    start = _start_answer(prover, prover.from_start())
    anywhere = _placement_answer(prover, prover.from_any_placement(), recompile)
    cure, tried = None, 0
    if with_cure and start.outcome == CAN_LOCK:
        cure, tried = find_cure(prover)
    largest, from_start = _largest(prover, start, anywhere, room)
    result = GridlockResult(
        carriers=prover.most_carriers,
        from_start=start,
        from_any_placement=anywhere,
        largest_count=largest,
        largest_from_start=from_start,
        room=room,
        cures_tried=tried,
    )
    return result, cure


def _start_answer(prover: Prover, found: Found) -> Answer:
    """The answer from the planned start; a jam counts once the kernel was led into it."""
    if found.jams is False:
        return _answer(NEVER_LOCKS, found, _why(prover, found, from_start=True))
    replay, shortest = _led(prover, found)
    if replay is not None:
        start, _ = start_of(prover.system)
        words = _way_words(replay, shortest)
        return _answer(CAN_LOCK, found, words, start=start, replay=replay, prover=prover, shortest=shortest)
    if found.jams is None:
        return _answer(UNDECIDED, found, _why(prover, found, from_start=True))
    why = (
        "the rules allow a jam if times do not count, but the simulation could not be led into one on the "
        f"{len(found.ways)} ways that were tried, nor came into one by itself"
    )
    return _answer(UNDECIDED, found, why)


def _led(prover: Prover, found: Found) -> tuple[Replay | None, bool]:
    """The kernel led into a jam, and whether by a shortest way."""
    for way in found.ways:
        for pause_us in (PAUSE_US, SHORT_PAUSE_US):
            replay = replay_way(prover.system, way, pause_us)
            if replay is not None:
                return replay, way.shortest and pause_us == PAUSE_US
    effort = prover.effort
    replay = find_by_luck(prover.system, LUCK)
    if replay is None:
        replay = find_in_kernel(prover.system, effort.tries // 2, min(effort.steps, 100), seed=1)
    return replay, False


LUCK = 3
"""Runs with luck of their own in which a jam is looked for."""
SHORT_PAUSE_US = 200_000
"""Between ends of work where a jam needs carriers that are still on their way. [us]"""


def _way_words(replay: Replay, shortest: bool) -> str:
    ends = len(replay.ended)
    words = (
        f"the simulation was led into it: {ends} {'end' if ends == 1 else 'ends'} of work, {len(replay.moves)} moves"
    )
    return f"{words}; no shorter way: none with fewer finished works" if shortest else words


def _placement_answer(prover: Prover, found: Found, recompile: Recompile | None) -> Answer:
    """The answer from every placement; a jam counts where the kernel, started there, moves none of it."""
    for jam in found.placed:
        replay = _from_placement(prover, jam, recompile)
        if replay is None:
            continue
        placed, _ = prover.before_work(jam)
        at, number = [-1] * prover.plan.stops, 0
        for stop, post in enumerate(placed.posts):
            if post >= 0:
                at[stop], number = number, number + 1
        start = standings(prover.system, placed, tuple(at))
        why = "the simulation was started there, and nobody of the jam moved while all other work went on"
        return _answer(CAN_LOCK, found, why, start=start, replay=replay, prover=prover)
    if found.jams:
        return _answer(UNDECIDED, found, "the rules allow a jam from a placement, but the simulation did not show it")
    outcome: Outcome = NEVER_LOCKS if found.jams is False else UNDECIDED
    return _answer(outcome, found, _why(prover, found, from_start=False))


def _from_placement(prover: Prover, jam: State, recompile: Recompile | None) -> Replay | None:
    placement, _ = placement_of(prover.system, prover.before_work(jam)[0])
    try:
        plan = prover.plan if recompile is None else recompile(placement)
        return replay_placement(prover, jam, plan)
    except (RuntimeError, LinewrightError):  # a leg that no carrier makes when all goes by the rules
        return None


def _why(prover: Prover, found: Found, from_start: bool) -> str:
    carriers, ring = prover.most_carriers, found.ring
    if found.basis == "room":
        if ring is None:
            return "no number of carriers can hold each other on this track"
        where = "" if not from_start else " as they may stand when all goes by the rules"
        return (
            f"a jam needs a ring of at least {ring.carriers} carriers that hold each other{where}; there are {carriers}"
        )
    if found.basis == "states":
        return f"all {found.states} states that can come were gone through, and everybody can move again in each"
    return (
        f"{found.states} states and {prover.effort.tries} long ways were gone through, no jam was met; this is no proof"
    )


def _answer(
    outcome: Outcome,
    found: Found,
    why: str,
    start: tuple = (),  # type: ignore[type-arg]
    replay: Replay | None = None,
    prover: Prover | None = None,
    shortest: bool = False,
) -> Answer:
    way, jam = (), None
    if replay is not None and prover is not None:
        way, jam = way_of(prover.system, replay, start), jam_of(prover.system, replay)  # type: ignore[assignment]
    basis = "jam" if jam is not None else "searched" if outcome == UNDECIDED else found.basis
    least = None if found.ring is None else found.ring.carriers
    loads: tuple[str, ...] = ()
    if replay is not None and prover is not None:
        loads = tuple(prover.plan.general.variants[variant].name for variant in replay.loads)
    return Answer(outcome, basis, least, found.states, why, start, way, loads, shortest, jam)  # type: ignore[arg-type]


def _largest(prover: Prover, start: Answer, anywhere: Answer, room: int) -> tuple[int | None, int | None]:
    """The largest numbers of carriers that never lock: from any placement, from the planned start."""
    if not prover.has_rings:
        return _by_trying(prover, start, anywhere)
    ring = prover.ring_of_placements
    largest = None if ring is None else ring.carriers - 1
    if largest is None or largest >= room:
        return (None if largest is None or largest >= prover.plan.stops else largest), room
    lone = prover.ring_of_start
    proven = room if lone is None else min(room, lone.carriers - 1)
    if start.outcome == NEVER_LOCKS:
        proven = max(proven, min(prover.most_carriers, room))
    return largest, proven


def _by_trying(prover: Prover, start: Answer, anywhere: Answer) -> tuple[int | None, int | None]:
    """The same on a two-way lane, where every number is gone through from one carrier on."""
    found: list[int] = []
    for answer, ask in ((anywhere, Prover.from_any_placement), (start, Prover.from_start)):
        number = 0
        most = prover.plan.carriers if answer.outcome == NEVER_LOCKS else prover.plan.carriers - 1
        while number < most:
            fewer = replace(prover.plan, first_stops=prover.plan.first_stops[: number + 1])
            if number + 1 < prover.plan.carriers and ask(Prover(fewer, prover.effort)).jams is not False:
                break
            number += 1
        found.append(number)
    return found[0], found[1]


def _named(cure: PlanCure, layout: Layout) -> Cure:
    return Cure(
        lanes=tuple(layout.lanes[lane].name for lane in cure.region.lanes),
        transfers=tuple(layout.transfers[one].name for one in cure.region.transfers),
        from_m=None,
        to_m=None,
        most=cure.most,
        from_any_placement=cure.from_any_placement,
    )
