"""What a carrier still has to do: every errand and what follows a work, derived by hand from docs/semantics.md."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import pytest

from agree.small_plans import Small, plan_of
from agree.small_routes import RING, Shape
from linewright.traffic.general import FixtureSet, General, Rework, Variant
from linewright.traffic.gridlock.errands import NO_VARIANT, Errand, Errands
from linewright.traffic.plan import Chance, TrafficPlan

EMPTY = Errand(0, NO_VARIANT, False, 0, 0)


def route(steps: int, exits: Sequence[int] = (), flags: Sequence[int] = (), general: General | None = None) -> Errands:
    """A ring with one station a step; the steps that are exits, and the stations that flag some parts."""
    plan = plan_of(Small("ring", Shape((steps,), RING), tuple((n, n) for n in range(steps)), 1, general=general))
    return Errands(
        dataclasses.replace(
            plan,
            step_exit=tuple(step in exits for step in range(steps)),
            reject=tuple(Chance(0.5 if station in flags else 0.0) for station in range(steps)),
        )
    )


def flags_by(errands: Errands, station: int, chance: Chance) -> Errands:
    """The same with another chance of flagging at a station."""
    plan: TrafficPlan = errands.plan
    return Errands(dataclasses.replace(plan, reject=(*plan.reject[:station], chance, *plan.reject[station + 1 :])))


def good(step: int, variant: int = NO_VARIANT) -> Errand:
    return Errand(step, variant, True, 0, 0)


def flagged(step: int, exit_at: int, variant: int = NO_VARIANT) -> Errand:
    """Nothing aboard but parts flagged for an exit."""
    return Errand(step, variant, False, 1 << exit_at, 0)


def after(errands: Errands, station: int, errand: Errand) -> set[Errand]:
    found = errands.after_work(station, errand)
    assert len(set(found)) == len(found)
    return set(found)


# ---- routes ----------------------------------------------------------------------------------------------------------


def test_a_route_without_luck_is_one_chain() -> None:
    errands = route(3)
    assert after(errands, 0, EMPTY) == {good(1)}
    assert after(errands, 1, good(1)) == {good(2)}
    assert after(errands, 2, good(2)) == {EMPTY}
    assert set(errands.all) == {EMPTY, good(1), good(2)}


def test_with_one_step_a_carrier_is_always_empty() -> None:
    errands = route(1)
    assert after(errands, 0, EMPTY) == {EMPTY}
    assert errands.all == (EMPTY,)


# ---- flagged parts ---------------------------------------------------------------------------------------------------


def test_a_flagged_part_passes_the_works_up_to_its_exit() -> None:
    # 0 flags, 1 works, 2 is the exit, 3 works. Good parts pass the exit by.
    errands = route(4, exits=[2], flags=[0])
    assert after(errands, 0, EMPTY) == {good(1), flagged(2, 2)}
    assert after(errands, 1, good(1)) == {good(3)}
    assert after(errands, 2, flagged(2, 2)) == {EMPTY}
    assert after(errands, 3, good(3)) == {EMPTY}
    assert set(errands.all) == {EMPTY, good(1), good(3), flagged(2, 2)}


def test_the_exit_is_the_next_in_the_route_unless_one_is_named() -> None:
    errands = route(5, exits=[2, 4], flags=[1, 3])
    assert flagged(2, 2) in after(errands, 1, good(1))
    assert flagged(4, 4) in after(errands, 3, good(3))
    named = route(5, exits=[2, 4], flags=[1, 3], general=General(exits=(-1, 4, -1, -1, -1)))
    # Past exit 2, and not worked on at 3.
    assert after(named, 1, good(1)) == {good(3), flagged(4, 4)}
    assert set(named.all) == {EMPTY, good(1), good(3), flagged(4, 4)}


def test_a_part_that_the_last_work_flags_goes_to_the_exit_behind_it() -> None:
    # A good part is finished there, so the carrier of a good part is empty.
    assert after(route(3, exits=[2], flags=[1]), 1, good(1)) == {EMPTY, flagged(2, 2)}


@pytest.mark.parametrize(
    ("chance", "left"),
    [
        (Chance(0.0), {good(1)}),
        (Chance(0.001), {good(1), flagged(2, 2)}),
        (Chance(1.0), {flagged(2, 2)}),
        (Chance(given=()), {good(1)}),
        (Chance(given=(7,)), {good(1), flagged(2, 2)}),
    ],
)
def test_what_never_or_always_happens(chance: Chance, left: set[Errand]) -> None:
    assert after(flags_by(route(4, exits=[2]), 0, chance), 0, EMPTY) == left


# ---- rework ----------------------------------------------------------------------------------------------------------


def test_rework_goes_back_goes_on_or_ends_at_the_exit() -> None:
    errands = route(3, exits=[2], general=General(rework=(Rework(1, 0.3, 0, 2),)))
    assert after(errands, 1, good(1)) == {EMPTY, good(0), flagged(2, 2)}
    # Sent back to the first step it still has its part: no new one is loaded.
    assert after(errands, 0, good(0)) == {good(1)}
    assert set(errands.all) == {EMPTY, good(1), good(0), flagged(2, 2)}


def test_rework_for_certain_lets_no_part_go_on() -> None:
    always = route(3, exits=[2], general=General(rework=(Rework(1, 1.0, 0, 1),)))
    assert after(always, 1, good(1)) == {good(0), flagged(2, 2)}
    never = route(3, exits=[2], general=General(rework=(Rework(1, 0.0, 0, 1),)))
    assert after(never, 1, good(1)) == {EMPTY}


def test_without_an_exit_rework_flags_nothing() -> None:
    errands = route(3, general=General(rework=(Rework(1, 0.3, 1, 1),)))
    assert after(errands, 1, good(1)) == {good(2), good(1)}


def test_a_step_for_rework_alone_is_passed_by_the_others() -> None:
    errands = route(4, general=General(rework=(Rework(2, 0.3, 1, 1),), rework_alone=(1,)))
    assert after(errands, 0, EMPTY) == {good(2)}
    assert after(errands, 2, good(2)) == {good(3), good(1)}
    assert after(errands, 1, good(1)) == {good(2)}


# ---- variants --------------------------------------------------------------------------------------------------------


def two(share: float = 0.5, red: tuple[int, ...] = (), blue: tuple[int, ...] = ()) -> tuple[Variant, ...]:
    return Variant("red", 1.0 - share, red), Variant("blue", share, blue)


def test_variants_that_skip_other_steps_have_errands_of_their_own() -> None:
    errands = route(3, general=General(variants=two(red=(1,))))
    assert errands.variant_of == (0, 1)
    assert after(errands, 0, EMPTY) == {good(2, 0), good(1, 1)}
    assert after(errands, 2, good(2, 0)) == {EMPTY}
    assert set(errands.all) == {EMPTY, good(2, 0), good(1, 1), good(2, 1)}


def test_variants_that_skip_the_same_steps_are_one() -> None:
    both = route(3, general=General(variants=two(red=(1,), blue=(1,))))
    assert both.variant_of == (NO_VARIANT, NO_VARIANT)
    assert after(both, 0, EMPTY) == {good(2)}
    three = (*two(red=(1,)), Variant("green", 0.0, (1,)))
    assert route(3, general=General(variants=three)).variant_of == (0, 1, 0)


def test_a_variant_without_a_share_does_not_come_unless_the_sequence_names_it() -> None:
    variants = two(share=0.0, blue=(1,))
    assert after(route(3, general=General(variants=variants)), 0, EMPTY) == {good(1, 0)}
    sequence = route(3, general=General(variants=variants, sequence=(0, 1)))
    assert after(sequence, 0, EMPTY) == {good(1, 0), good(2, 1)}


def test_a_variant_may_be_finished_before_the_last_step() -> None:
    errands = route(3, general=General(variants=two(red=(1, 2))))
    assert after(errands, 0, EMPTY) == {EMPTY, good(1, 1)}


def test_with_run_out_each_variant_counts_and_the_load_is_told() -> None:
    errands = route(2, general=General(variants=two(), run_out=True))
    assert errands.variant_of == (0, 1)
    assert errands.sequence == (0, 1)
    assert set(errands.after_work(0, EMPTY, load=1)) == {good(1, 1)}
    loaded = Errand(0, 0, True, 0, 0)
    assert after(errands, 0, loaded) == {good(1, 0)}


def test_a_fixture_set_takes_its_variants_alone() -> None:
    sets = (FixtureSet("small", 1, (0,)), FixtureSet("large", 1, (0, 1)))
    errands = route(3, general=General(variants=two(red=(1,)), fixture_sets=sets))
    assert errands.sets == (0, 1)
    assert after(errands, 0, errands.empty(0)) == {Errand(2, 0, True, 0, 0)}
    assert after(errands, 0, errands.empty(1)) == {Errand(2, 0, True, 0, 1), Errand(1, 1, True, 0, 1)}
    # Its set stays with the carrier.
    assert after(errands, 2, Errand(2, 1, True, 0, 1)) == {errands.empty(1)}


def test_fixture_sets_that_make_no_difference_are_one() -> None:
    sets = (FixtureSet("small", 1, (0,)), FixtureSet("large", 1, (1,)))
    errands = route(3, general=General(variants=two(), fixture_sets=sets))
    assert errands.sets == (0,)
    assert errands.all[0] == EMPTY


# ---- nests and misses ------------------------------------------------------------------------------------------------


def test_of_two_parts_one_may_be_flagged() -> None:
    errands = route(4, exits=[2], flags=[0], general=General(nests=2))
    both = Errand(1, NO_VARIANT, True, 1 << 2, 0)
    assert after(errands, 0, EMPTY) == {good(1), flagged(2, 2), both}
    # The good one is worked on, then the carrier stops at the exit, then the good one goes on.
    assert after(errands, 1, both) == {both._replace(step=2)}
    assert after(errands, 2, both._replace(step=2)) == {good(3)}


def test_parts_of_one_carrier_may_be_meant_for_two_exits() -> None:
    errands = route(5, exits=[3, 4], flags=[0, 1], general=General(nests=3, exits=(3, 4, -1, -1, -1)))
    assert Errand(1, NO_VARIANT, True, 1 << 3, 0) in after(errands, 0, EMPTY)
    one_each = Errand(2, NO_VARIANT, True, 1 << 3 | 1 << 4, 0)
    assert one_each in after(errands, 1, Errand(1, NO_VARIANT, True, 1 << 3, 0))
    left = one_each._replace(step=3, good=False)
    assert after(errands, 3, left) == {flagged(4, 4)}


def test_a_missing_part_leaves_the_carrier_empty_before_the_first_step() -> None:
    some = route(3, general=General(misses=(0.2, 0.0, 0.0)))
    assert after(some, 0, EMPTY) == {good(1), EMPTY}
    none = route(3, general=General(misses=(1.0, 0.0, 0.0)))
    assert after(none, 0, EMPTY) == {EMPTY}
    assert none.all == (EMPTY,)


def test_what_the_parts_became_is_told_beside_the_errand() -> None:
    errands = route(3, exits=[2], flags=[0], general=General(rework=(Rework(1, 0.3, 0, 1),)))
    told = {(one.good, one.flagged, one.sent_back): left for one, left in errands.outcomes(1, good(1))}
    assert told == {
        (True, False, False): EMPTY,
        (True, False, True): good(0),
        (False, True, False): flagged(2, 2),
    }
