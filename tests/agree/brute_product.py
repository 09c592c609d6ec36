"""What carriers may bear and need next, for going through all states of a plan; see `agree.brute_gridlock`.

Written from docs/semantics.md ("Work", "Next step", "Nests", "Variants", "Rework"); luck and the number of reworks are
forgotten.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

from linewright.traffic.plan import TrafficPlan


class Errand(NamedTuple):
    """What a carrier bears and needs next.

    step : its next step
    variant : of its parts, where variants matter to the traffic; -1 otherwise and without a part
    unflagged : a part that is not flagged is aboard
    exits : the exits for which parts aboard are flagged, ascending
    fixtures : its fixture set, 0 without
    worked : it stands on a station of its next step and has been worked on there
    """

    step: int = 0
    variant: int = -1
    unflagged: bool = False
    exits: tuple[int, ...] = ()
    fixtures: int = 0
    worked: bool = False

    @property
    def is_empty(self) -> bool:
        """No part is aboard."""
        return not self.unflagged and not self.exits


class Product:
    """The rules of the product of a plan."""

    def __init__(self, plan: TrafficPlan) -> None:
        general = plan.general
        self.plan, self.general = plan, general
        self.run_out = general.run_out
        self.matters = general.run_out or len({one.skips for one in general.variants}) > 1
        if general.fixture_sets and (general.sequence or general.run_out):
            raise ValueError("fixture sets with a sequence or with run-out")
        if general.rework and general.nests > 1:
            raise ValueError("rework with several nests")
        self._known: dict[tuple[Errand, int, int], list[Errand]] = {}

    # ---- variants ----

    def may_come(self, fixtures: int) -> set[int]:
        """The variants that a load may have."""
        general = self.general
        if general.sequence:
            return set(general.sequence)
        numbers = general.fixture_sets[fixtures].variants if general.fixture_sets else range(len(general.variants))
        return {number for number in numbers if general.variants[number].share > 0.0}

    @property
    def places(self) -> int:
        """With run-out: places of the sequence."""
        return len(self.general.sequence or self.general.variants)

    def loaded_at(self, place: int) -> int:
        """With run-out: the variant of the load at a place of the sequence."""
        return self.general.sequence[place] if self.general.sequence else place

    def variants_of_load(self, load: int) -> set[int]:
        """The variants that the load of a number may have, -1 where they do not matter."""
        if not self.matters:
            return {-1}
        sequence = self.general.sequence
        return {sequence[load % len(sequence)]} if sequence else self.may_come(0)

    # ---- work ----

    def all_errands(self, fixtures: set[int]) -> list[Errand]:
        """Every errand that some carrier can come to have, between its works."""
        found = {Errand(fixtures=one) for one in fixtures}
        to_do = list(found)
        while to_do:
            errand = to_do.pop()
            for station in self.plan.step_stations[errand.step]:
                after = {one._replace(worked=False) for one in self.after_any_work(errand, station)} - found
                found |= after
                to_do += after
        return sorted(found)

    def after_any_work(self, errand: Errand, station: int) -> list[Errand]:
        """The errands that may follow a work whatever variant is loaded."""
        loads = self.may_come(errand.fixtures) if self.matters and errand.is_empty else {-1}
        return [after for variant in sorted(loads) for after in self._after(errand, station, variant)]

    def _after(self, errand: Errand, station: int, loaded: int) -> list[Errand]:
        key = (errand, station, loaded)
        if key not in self._known:
            if errand.is_empty:
                if errand.step != 0:
                    raise ValueError(f"an empty carrier at step {errand.step}")
                found = self._worked(errand._replace(variant=loaded, unflagged=True), station, self.general.nests, ())
            else:
                # How many parts that are not flagged are aboard is not remembered.
                most = self.general.nests if errand.unflagged else 0
                parts = range(min(1, most), most + 1)
                found = (one for many in parts for one in self._worked(errand, station, many, errand.exits))
            at_own = (one._replace(worked=station in self.plan.step_stations[one.step]) for one in found)
            self._known[key] = sorted(set(at_own))
        return self._known[key]

    def _worked(self, errand: Errand, station: int, unflagged: int, exits: tuple[int, ...]) -> Iterator[Errand]:
        """Every end of a work on a carrier with so many parts."""
        plan, step = self.plan, errand.step
        if plan.step_exit[step]:
            yield self._goes_on(errand, unflagged, tuple(one for one in exits if one != step))
            return
        fates = self._fates(station)
        for drawn in itertools.combinations_with_replacement(fates, unflagged):
            stay = sum(one in ("stays", "back") for one in drawn)
            meant = (*exits, *(self._exit_of(station) for one in drawn if one == "flagged"))
            if "back" in drawn:
                for one in self.general.rework:
                    if one.station == station and one.share > 0.0 and one.at_most > 0:
                        yield self._errand(errand, one.step, stay, meant)
            else:
                yield self._goes_on(errand, stay, meant)

    def _fates(self, station: int) -> list[str]:
        """What may become of a part that is not flagged, at the end of a work that is none of an exit."""
        plan, general = self.plan, self.general
        chance = plan.reject[station]
        missed = general.misses[station] if general.misses and plan.station_step[station] == 0 else 0.0
        reworks = [one for one in general.rework if one.station == station and one.share > 0.0]
        is_always_flagged = chance.given is None and chance.share >= 1.0
        may_be_flagged = bool(chance.given) if chance.given is not None else chance.share > 0.0
        fates = []
        if missed > 0.0:
            fates.append("missing")
        if missed >= 1.0:
            return fates
        if may_be_flagged or (reworks and not is_always_flagged):  # after all its reworks it is flagged
            fates.append("flagged")
        if not is_always_flagged:
            fates += ["back"] if any(one.at_most > 0 for one in reworks) else []
            fates += ["stays"] if all(one.share < 1.0 for one in reworks) else []
        return fates

    def _exit_of(self, station: int) -> int:
        """The exit for which a station flags: the one it names, else the next in the route."""
        exits, step = self.general.exits, int(self.plan.station_step[station])
        if exits and exits[station] >= 0:
            return exits[station]
        later = [one for one in range(step + 1, len(self.plan.step_exit)) if self.plan.step_exit[one]]
        if not later:
            raise ValueError(f"station {station} may flag a part and no exit follows")
        return later[0]

    def _goes_on(self, errand: Errand, unflagged: int, exits: tuple[int, ...]) -> Errand:
        """After the work at its step: good parts leave where nothing but exits follows; the next step with something
        to do, else the first."""
        exit_at, later = self.plan.step_exit, range(errand.step + 1, len(self.plan.step_exit))
        if not any(self._passes(errand, step) for step in later if not exit_at[step]):
            unflagged = 0
        for step in later:
            if step in exits if exit_at[step] else unflagged > 0 and self._passes(errand, step):
                return self._errand(errand, step, unflagged, exits)
        if exits:
            raise ValueError("a flagged part and no exit follows")
        return self._errand(errand, 0, unflagged, exits)

    def _passes(self, errand: Errand, step: int) -> bool:
        """Whether a part of its variant that is not flagged is worked on at a step that is no exit."""
        variants = self.general.variants
        skips = variants[max(errand.variant, 0)].skips if variants else ()
        return step not in skips and step not in self.general.rework_alone

    def _errand(self, errand: Errand, step: int, unflagged: int, exits: tuple[int, ...]) -> Errand:
        is_empty = not unflagged and not exits
        variant = -1 if is_empty else errand.variant
        return Errand(step, variant, unflagged > 0, tuple(sorted(set(exits))), errand.fixtures)


def fixture_sets_of(plan: TrafficPlan, carriers: int) -> list[int]:
    """The fixture set of each carrier, by largest remainder; all 0 without sets."""
    sets = plan.general.fixture_sets
    if not sets:
        return [0] * carriers
    total = sum(one.carriers for one in sets)
    dealt: list[int] = []
    for carrier in range(carriers):
        lacks = [one.carriers * (carrier + 1) - dealt.count(number) * total for number, one in enumerate(sets)]
        dealt.append(lacks.index(max(lacks)))
    return dealt
