"""What a replay says, told carrier by carrier."""

from __future__ import annotations

from typing import Final

from linewright.flow.gridlock.replay import Replay
from linewright.traffic.gridlock.errands import Errand
from linewright.traffic.gridlock.result import Jam, Standing, WayStep
from linewright.traffic.gridlock.system import State, System

EMPTY: Final = (0, "nothing")
"""Next step of a carrier without a part, and what it carries."""


def carries(system: System, errand: Errand) -> str:
    """What is aboard, in words."""
    if errand.is_empty:
        return "nothing"
    if errand.good and errand.exits:
        return "parts, some flagged"
    of = ""
    if errand.variant >= 0:
        of = f" of {system.plan.general.variants[errand.variant].name}"
    return f"a flagged part{of}" if errand.exits else f"a part{of}"


def standings(system: System, state: State, carrier_at: tuple[int, ...]) -> tuple[Standing, ...]:
    """Everybody of a state, by stop."""
    return tuple(
        _standing(system, state, stop, carrier_at)
        for stop, number in enumerate(state.posts)
        if number >= 0 and carrier_at[stop] >= 0
    )


def _standing(
    system: System, state: State, stop: int, carrier_at: tuple[int, ...], held: tuple[int, str, int] | None = None
) -> Standing:
    number = state.posts[stop]
    errand = system.post(number).errand
    holder, reason, wants = held if held is not None else (-1, "", -1)
    return Standing(
        carrier=carrier_at[stop],
        stop=stop,
        step=errand.step,
        worked=not system.is_in_work(stop, number),
        carries=carries(system, errand),
        held_by=carrier_at[holder] if holder >= 0 else None,
        wants=wants if wants >= 0 else None,
        reason=reason if held is not None else "",  # type: ignore[arg-type]
    )


def start_of(system: System) -> tuple[tuple[Standing, ...], tuple[int, ...]]:
    """The planned start, and the carrier on each stop."""
    at = [-1] * system.plan.stops
    for carrier, stop in enumerate(system.plan.first_stops.tolist()):
        at[stop] = carrier
    return standings(system, system.start(), tuple(at)), tuple(at)


def way_of(system: System, replay: Replay, start: tuple[Standing, ...]) -> tuple[WayStep, ...]:
    """The steps of a replay from a start, in the order of their times."""
    now = {one.carrier: (one.step, one.carries) for one in start}
    events = [(one.time_us, 0, i) for i, one in enumerate(replay.ended)]
    events += [(int(row[1]), 1, i) for i, row in enumerate(replay.moves)]
    steps: list[WayStep] = []
    for time_us, kind, number in sorted(events):
        if kind == 0:
            one = replay.ended[number]
            if one.errand is not None:
                now[one.carrier] = one.errand.step, carries(system, one.errand)
                steps.append(WayStep("work ends", time_us, one.carrier, one.stop, one.stop, *now[one.carrier]))
        else:
            row = replay.moves[number].tolist()
            steps.append(WayStep("moves", time_us, row[0], row[2], row[3], *now.get(row[0], EMPTY)))
    return _with_changes(replay, start, steps)


def _with_changes(replay: Replay, start: tuple[Standing, ...], steps: list[WayStep]) -> tuple[WayStep, ...]:
    """The same with the carriers that come before their first step and go after their last: a log of moves and works
    does not tell of them."""
    at_start = {one.carrier: one.stop for one in start}
    at_end = {carrier: stop for stop, carrier in enumerate(replay.carrier_at) if carrier >= 0}
    for carrier in sorted({one.carrier for one in steps} | set(at_start) | set(at_end)):
        own = [i for i, one in enumerate(steps) if one.carrier == carrier]
        if carrier not in at_start:
            place, stop, time_us = len(steps), at_end.get(carrier, -1), replay.jam_us
            if own:
                place, stop, time_us = own[0], steps[own[0]].start, steps[own[0]].time_us
            steps.insert(place, WayStep("put in", time_us, carrier, stop, stop, *EMPTY))
            own = [place, *(i + 1 for i in own)]
        if carrier not in at_end:
            place, stop, time_us = 0, at_start.get(carrier, -1), 0
            if own:
                place, stop, time_us = own[-1] + 1, steps[own[-1]].stop, steps[own[-1]].time_us
            steps.insert(place, WayStep("taken out", time_us, carrier, stop, stop, *EMPTY))
    return tuple(steps)


def jam_of(system: System, replay: Replay) -> Jam:
    """Who holds whom."""
    state, at = replay.state, replay.carrier_at
    held = {stop: system.held(state, stop, replay.stuck) for stop in sorted(replay.stuck)}
    ring = _ring({stop: holder for stop, (holder, _, _) in held.items()})
    others = [stop for stop in sorted(replay.stuck) if stop not in ring]
    free = [at[s] for s, number in enumerate(state.posts) if number >= 0 and s not in replay.stuck]
    stations = [k for k in range(len(system.plan.station_names)) if k not in replay.worked]
    return Jam(
        ring=tuple(_standing(system, state, stop, at, held[stop]) for stop in ring),
        others=tuple(_standing(system, state, stop, at, held[stop]) for stop in others),
        free=tuple(sorted(free)),
        stations=tuple(stations),
    )


def _ring(holder: dict[int, int]) -> tuple[int, ...]:
    """The carriers that come round when each is followed by the one that holds it; one alone holds itself."""
    best: tuple[int, ...] = ()
    for start in holder:
        passed: list[int] = []
        here = start
        while here in holder and here not in passed:
            passed.append(here)
            here = holder[here]
        if here in passed:
            ring = tuple(passed[passed.index(here) :])
            if not best or len(ring) < len(best):
                best = ring
    return best or tuple(holder)[:1]
