"""What a replay says, told carrier by carrier."""

from __future__ import annotations

from typing import Literal

from linewright.flow.gridlock.replay import Replay
from linewright.traffic.gridlock.errands import Errand
from linewright.traffic.gridlock.result import Jam, Standing, WayStep
from linewright.traffic.gridlock.system import State, System

Reasons = Literal["", "way", "stretch", "platform", "direction", "run-out"]


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


def way_of(system: System, replay: Replay) -> tuple[WayStep, ...]:
    """The steps of a replay in the order of their times."""
    errand = {carrier: system.errands.empty(s) for carrier, s in enumerate(system.sets_of_carriers)}
    events: list[tuple[int, int, int, object]] = [(one.time_us, 0, i, one) for i, one in enumerate(replay.ended)]
    events += [(int(row[1]), 1, i, row) for i, row in enumerate(replay.moves)]
    steps = []
    for time_us, kind, number, _ in sorted(events, key=lambda event: event[:3]):
        if kind == 0:
            one = replay.ended[number]
            if one.errand is None:
                continue
            errand[one.carrier] = one.errand
            steps.append(_step("work ends", time_us, one.carrier, one.stop, one.stop, system, one.errand))
        else:
            row = replay.moves[number].tolist()
            steps.append(_step("moves", time_us, row[0], row[2], row[3], system, errand[row[0]]))
    return tuple(steps)


def _step(
    kind: Literal["moves", "work ends"], time_us: int, carrier: int, start: int, stop: int, system: System, now: Errand
) -> WayStep:
    return WayStep(kind, time_us, carrier, start, stop, now.step, carries(system, now))


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
