"""Where a small traffic plan begins: as planned, or at every placement of its carriers; see `agree.brute_gridlock`."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from agree.brute_model import Model, State, at_place
from agree.brute_product import Errand, fixture_sets_of
from linewright.traffic.general import Placement


def planned_starts(model: Model) -> Iterator[State]:
    """Time zero, or the start that the plan has; with run-out every place of the sequence."""
    plan, general = model.plan, model.plan.general
    stops: list[Errand | None] = [None] * plan.stops
    sets = fixture_sets_of(plan, plan.carriers)
    for carrier, stop in enumerate(plan.first_stops if general.start is None else general.start.stops):
        errand = Errand(fixtures=sets[carrier])
        stops[int(stop)] = errand if general.start is None else _placed(model, general.start, carrier, errand)
    state = State(
        tuple(stops), (-1,) * len(model.platforms), (False,) * len(model.platforms), False, -1, 0,
        tuple(abs(one.count) for one in general.carrier_changes),
    )  # fmt: skip
    for transfer, platform in enumerate(model.platforms):
        # A start that puts a carrier aboard finds the platform locked at the dock on its way.
        aboard = [place for place in platform.aboard if stops[place] is not None]
        if aboard and len(platform.aboard) > 1:
            state = state._replace(unlocked=at_place(state.unlocked, transfer, True))
        if aboard and len(platform.gives) > 1:
            following = [stop for stop in model.path(state, aboard[0]) if model.track.transfer[stop] is None]
            state = state._replace(lanes=at_place(state.lanes, transfer, following[0]))
    places = range(model.product.places) if model.product.run_out else (-1,)
    for place in places:
        yield state._replace(place=place)


def _placed(model: Model, start: Placement, carrier: int, errand: Errand) -> Errand:
    """The errand of a carrier of a start that the plan has."""
    present, flagged = start.present[carrier], start.flagged[carrier]
    if not present:
        return errand._replace(step=start.steps[carrier])
    variants = model.product.variants_of_load(start.loads[carrier])
    if len(variants) > 1:
        raise ValueError("the variant of a load under way at the start is a matter of luck")
    return errand._replace(
        step=start.steps[carrier],
        variant=next(iter(variants)),
        unflagged=bool(present & ~flagged),
        exits=(start.exits[carrier],) if present & flagged else (),
    )


def placements(model: Model) -> Iterator[State]:
    """Every placement of the carriers, with the changes of carriers as far as they may have come."""
    changes = model.plan.general.carrier_changes
    for come in range(len(changes) + 1):
        reached = [range(abs(one.count) + 1) if n < come else [abs(one.count)] for n, one in enumerate(changes)]
        for left in itertools.product(*reached):
            yield from _placements_of(model, come, left)


def _placements_of(model: Model, come: int, left: tuple[int, ...]) -> Iterator[State]:
    changes = model.plan.general.carrier_changes
    done = [abs(one.count) - rest for one, rest in zip(changes, left, strict=True)]
    put_in = sum(many for many, one in zip(done, changes, strict=True) if one.count > 0)
    out = sum(done) - put_in
    dealt = fixture_sets_of(model.plan, model.plan.carriers + put_in)
    closure = model.product.all_errands(set(dealt))
    errands = [_errands_at(model, stop, closure) for stop in range(model.plan.stops)]
    directions = (False, True) if model.track.two_way else (False,)
    places = range(model.product.places) if model.product.run_out else (-1,)
    for stops in itertools.combinations(range(model.plan.stops), len(dealt) - out):
        if any(
            len(stretch.intersection(stops)) > one.most
            for stretch, one in zip(model.stretches, model.plan.general.admission, strict=True)
        ):
            continue
        for chosen in itertools.product(*(errands[stop] for stop in stops)):
            if not _may_be_left(dealt, [one.fixtures for one in chosen]):
                continue
            here = dict(zip(stops, chosen, strict=True))
            where = tuple(here.get(stop) for stop in range(model.plan.stops))
            for lanes, unlocked in itertools.product(_lanes(model, where), _unlocking(model, where)):
                for against, place in itertools.product(directions, places):
                    yield State(where, lanes, unlocked, against, place, come, left)


def _errands_at(model: Model, stop: int, closure: list[Errand]) -> list[Errand]:
    """The errands with which a carrier may be placed on a stop."""
    station = model.track.station[stop]
    if station is None:
        return closure
    before = [one for one in closure if stop in model.step_stops[one.step]]
    after = {one for errand in before for one in model.product.after_any_work(errand, station)}
    return sorted(after.union(before))


def _lanes(model: Model, where: tuple[Errand | None, ...]) -> Iterator[tuple[int, ...]]:
    """The lanes by which those aboard may leave: none chosen yet, or that of the way to any station of the next step,
    since which of them was free when the platform unlocked is not known."""
    choices: list[list[int]] = []
    for platform in model.platforms:
        aboard = platform.aboard[0]
        errand = where[aboard]
        firsts: set[int] = set()
        if len(platform.gives) > 1 and errand is not None:
            ways = (model.track.way_from(aboard, goal, None) for goal in model.step_stops[errand.step])
            firsts = {way[0] for way in ways if way}
        choices.append([-1, *sorted(firsts)])
    return itertools.product(*choices)


def _unlocking(model: Model, where: tuple[Errand | None, ...]) -> Iterator[tuple[bool, ...]]:
    return itertools.product(
        *(
            (False, True) if len(one.aboard) > 1 and any(where[place] is not None for place in one.aboard) else (False,)
            for one in model.platforms
        )
    )


def _may_be_left(dealt: list[int], sets: list[int]) -> bool:
    """Whether carriers of these fixture sets may be those on the line: all dealt, less some taken out."""
    return all(sets.count(one) <= dealt.count(one) for one in set(sets))
