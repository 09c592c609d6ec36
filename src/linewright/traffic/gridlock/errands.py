"""What a carrier still has to do, as far as it decides where it goes: its errand, and what may become of it by a work.

docs/semantics.md, "Gridlock" and "Next step". Time and luck are forgotten: whatever may happen is in the list.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Final, NamedTuple

from linewright.traffic.plan import Chance, TrafficPlan

NO_VARIANT: Final = -1


class Errand(NamedTuple):
    """The errand of a carrier.

    Parameters
    ----------
    step : its next step
    variant : of its load, where variants go different ways; NO_VARIANT of an empty carrier or where they do not
    good : an unflagged part is aboard
    exits : the exits for which parts aboard are flagged (bit p for step p)
    of_set : its fixture set, 0 where there are none
    """

    step: int
    variant: int
    good: bool
    exits: int
    of_set: int

    @property
    def is_empty(self) -> bool:
        """No part is aboard."""
        return not self.good and self.exits == 0


class Outcome(NamedTuple):
    """What becomes of the parts that a work was done on.

    Parameters
    ----------
    good : some are as they should be
    flagged : some are flagged
    sent_back : they go to the step of the rework
    variant : theirs
    """

    good: bool
    flagged: bool
    sent_back: bool
    variant: int


@dataclass(frozen=True, eq=False)
class Errands:
    """The errands of a plan and what leads from one to another.

    Parameters
    ----------
    plan : the plan
    """

    plan: TrafficPlan

    @cached_property
    def variant_of(self) -> tuple[int, ...]:
        """For each variant the one that stands for all that go the same way; with run-out each for itself."""
        variants = self.plan.general.variants
        if self.sequence:
            return tuple(range(len(variants)))
        first: dict[tuple[int, ...], int] = {}
        for number, variant in enumerate(variants):
            first.setdefault(tuple(sorted(variant.skips)), number)
        if len(first) == 1:
            return (NO_VARIANT,) * len(variants)
        return tuple(first[tuple(sorted(variant.skips))] for variant in variants)

    def empty(self, of_set: int) -> Errand:
        """The errand of a carrier without a part."""
        return Errand(0, NO_VARIANT, False, 0, of_set)

    @cached_property
    def sets(self) -> tuple[int, ...]:
        """The numbers of the fixture sets that make a difference; (0,) where none do."""
        of_sets = {self._loads_of(number) for number in range(len(self.plan.general.fixture_sets))}
        return tuple(range(len(self.plan.general.fixture_sets))) if len(of_sets) > 1 else (0,)

    def _loads_of(self, of_set: int) -> tuple[int, ...]:
        general = self.plan.general
        if not general.variants:
            return (NO_VARIANT,)
        if general.sequence:
            numbers = set(general.sequence)
        else:
            numbers = {number for number, one in enumerate(general.variants) if one.share > 0.0}
        if general.fixture_sets:
            numbers &= set(general.fixture_sets[of_set].variants)
        return tuple(sorted({self.variant_of[number] for number in numbers}))

    @cached_property
    def loads(self) -> tuple[tuple[int, ...], ...]:
        """The variants that a first work may load, by fixture set."""
        return tuple(self._loads_of(number) for number in range(max(len(self.plan.general.fixture_sets), 1)))

    @cached_property
    def sequence(self) -> tuple[int, ...]:
        """With run-out the variants of the loads, one after the other, over and over; () where there is none, or
        nothing to run out since all are the same."""
        general = self.plan.general
        order = (general.sequence or tuple(range(len(general.variants)))) if general.run_out else ()
        return order if len(set(order)) > 1 else ()

    def after_work(self, station: int, errand: Errand, load: int | None = None) -> tuple[Errand, ...]:
        """What a carrier's errand may be after its work at a station of its next step; parameters as of `outcomes`."""
        return tuple(dict.fromkeys(after for _, after in self.outcomes(station, errand, load)))

    def outcomes(self, station: int, errand: Errand, load: int | None = None) -> list[tuple[Outcome, Errand]]:
        """Everything that may become of a carrier's parts by a work, and its errand afterwards.

        Parameters
        ----------
        station : its number
        errand : before
        load : of an empty carrier the variant that it takes; None for any that it may
        """
        if not errand.is_empty:
            return self._after(station, errand)
        loads = self.loads[errand.of_set if self.plan.general.fixture_sets else 0] if load is None else (load,)
        return [
            found for variant in loads for found in self._after(station, errand._replace(variant=variant, good=True))
        ]

    def _after(self, station: int, errand: Errand) -> list[tuple[Outcome, Errand]]:
        step = int(self.plan.station_step[station])
        if self.plan.step_exit[step]:
            left = self._next(errand._replace(exits=errand.exits & ~(1 << step)), step)
            return [(Outcome(errand.good, False, False, errand.variant), left)]
        found = []
        for good, flagged, sent_back in self._fates(station):
            exits = errand.exits | (1 << self._exit_of(station) if flagged else 0)
            after = errand._replace(good=good, exits=exits)
            if sent_back:
                after = after._replace(step=self._rework_step(station))
            else:
                follows = self._follows(step, errand.variant)
                after = self._next(after if follows else after._replace(good=False), step)
            found.append((Outcome(good, flagged, sent_back, errand.variant), after))
        return found

    def _fates(self, station: int) -> tuple[tuple[bool, bool, bool], ...]:
        """What may become of the good parts: some stay good, some are flagged, all are sent back."""
        general = self.plan.general
        share = general.misses[station] if general.misses else 0.0
        stays, flags = _may(self.plan.reject[station])
        kinds = ["good"] * (stays and share < 1.0) + ["flagged"] * (flags and share < 1.0) + ["missed"] * (share > 0.0)
        found: dict[tuple[bool, bool, bool], None] = {}
        for of_parts in product(kinds, repeat=min(general.nests, 3)):
            found["good" in of_parts, "flagged" in of_parts, False] = None
        rework = next((one for one in general.rework if one.station == station), None)
        if rework is not None and rework.share > 0.0 and any(good for good, _, _ in found):
            found[True, False, True] = None
            if self._exit_of(station) >= 0:
                found[False, True, False] = None
            if rework.share >= 1.0:
                found.pop((True, False, False), None)
        return tuple(found)

    def _rework_step(self, station: int) -> int:
        return next(one.step for one in self.plan.general.rework if one.station == station)

    def _exit_of(self, station: int) -> int:
        plan = self.plan
        stated = plan.general.exits[station] if plan.general.exits else -1
        step = int(plan.station_step[station])
        after = (p for p in range(step + 1, len(plan.step_exit)) if plan.step_exit[p])
        return stated if stated >= 0 else next(after, -1)

    def _has_step(self, variant: int, step: int) -> bool:
        general = self.plan.general
        if step in general.rework_alone:
            return False
        if variant == NO_VARIANT:
            return not general.variants or step not in general.variants[0].skips
        return step not in general.variants[variant].skips

    def _follows(self, step: int, variant: int) -> bool:
        """Whether a good part of a variant has work to do after a step."""
        rest = range(step + 1, len(self.plan.step_exit))
        return any(not self.plan.step_exit[p] and self._has_step(variant, p) for p in rest)

    def _next(self, errand: Errand, step: int) -> Errand:
        """The errand with the next step at which there is something to do."""
        if errand.is_empty:
            return self.empty(errand.of_set)
        for p in range(step + 1, len(self.plan.step_exit)):
            if self.plan.step_exit[p]:
                if errand.exits >> p & 1:
                    return errand._replace(step=p)
            elif errand.good and self._has_step(errand.variant, p):
                return errand._replace(step=p)
        return errand._replace(step=0)

    @cached_property
    def all(self) -> tuple[Errand, ...]:
        """Every errand that some carrier can come to have."""
        ahead = [self.empty(number) for number in self.sets]
        found = dict.fromkeys(ahead)
        while ahead:
            errand = ahead.pop()
            for station in self.plan.step_stations[errand.step]:
                for after in self.after_work(station, errand):
                    if after not in found:
                        found[after] = None
                        ahead.append(after)
        return tuple(found)


def _may(chance: Chance) -> tuple[bool, bool]:
    """Whether a part may stay good, and whether it may be flagged."""
    if chance.given is not None:
        return True, bool(chance.given)
    return chance.share < 1.0, chance.share > 0.0
