"""Variants: their shares or their sequence, where they are worked, changeovers, the fixtures that take them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from linewright.line.coherence.known import as_far_as_known, named
from linewright.line.coherence.people import named_stations
from linewright.line.coherence.route import Steps, step_numbers, steps_of
from linewright.line.fields import PathFault, in_unit
from linewright.line.units import SHARE, shown
from linewright.line.words import choice

if TYPE_CHECKING:
    from linewright.line.model import FixtureSet, Line, Station, Variant

MOST_LOADS: Final = 100_000  # of a whole sequence


def product_faults(line: Line) -> Iterator[PathFault]:
    """All that concerns variants."""
    yield from as_far_as_known(_without_variants(line))
    yield from as_far_as_known(_shares(line))
    yield from as_far_as_known(_sequence(line))
    steps = steps_of(line)
    for variant in line.variants:
        yield from as_far_as_known(_skips(line, steps, variant))
        yield from as_far_as_known(_times(line, steps, variant))
    for station in line.stations:
        yield from as_far_as_known(_changeover(line, station))
    yield from as_far_as_known(_fixture_sets(line))
    yield from as_far_as_known(_carriers_left(line))


def _names(line: Line) -> list[str]:
    return [variant.name for variant in line.variants]


def _without_variants(line: Line) -> Iterator[PathFault]:
    if line.variants:
        return
    for key, is_there in (("sequence", bool(line.sequence)), ("fixture_sets", bool(line.fixture_sets))):
        if is_there:
            yield (key,), f"{key} without variants", "write variants, or leave it out"
    for station in line.stations:
        if station.changeover is not None:
            at = ("stations", station.name, "changeover")
            yield at, "changeover without variants", "write variants, or leave it out"


def _shares(line: Line) -> Iterator[PathFault]:
    for variant in line.variants:
        at = ("variants", variant.name)
        if line.sequence and variant.share is not None:
            yield (*at, "share"), "a share beside a sequence", "leave it out: the sequence says how many"
        if not line.sequence and variant.share is None:
            yield at, "the key 'share' is missing", "add it, or write a sequence"
    shares = [variant.share for variant in line.variants if variant.share is not None]
    if (
        not line.sequence
        and shares
        and len(shares) == len(line.variants)
        and not math.isclose(sum(shares), 1.0, rel_tol=1e-9)
    ):
        yield ("variants",), f"the shares add up to {in_unit(sum(shares), SHARE)}", "make them add up to 100 %"


def _sequence(line: Line) -> Iterator[PathFault]:
    for i, (name, _) in enumerate(line.sequence):
        if line.variants and name not in _names(line):
            yield ("sequence", i, name), f"there is no variant {shown(name)}", choice(name, _names(line), "variants")
    loads = sum(count for _, count in line.sequence)
    if loads > MOST_LOADS:
        yield ("sequence",), f"a sequence of {loads} loads", f"write at most {MOST_LOADS} in all"


def _skips(line: Line, steps: Steps, variant: Variant) -> Iterator[PathFault]:
    at = ("variants", variant.name, "skips")
    yield from named_stations(line, variant.skips, at)
    number = step_numbers(line)
    for i, name in enumerate(variant.skips):
        station, step = named(line.stations, name), number.get(name)
        if station is None or step is None:
            continue
        left = [x.name for x in steps[step] if x.name not in variant.skips]
        if step == 0:
            yield (*at, i), f"{shown(name)} is of the first step", "skip a later step: every part is loaded"
        elif station.reject_exit:
            yield (*at, i), f"{shown(name)} is a reject exit", "leave it out: good parts skip it, flagged ones do not"
        elif station.rework_only:
            yield (*at, i), f"{shown(name)} is for rework alone", "leave it out: only parts that are sent there come"
        elif left:
            found = f"{shown(name)} without {', '.join(left)}, which share its step"
            yield (*at, i), found, "name all stations of the step, or none"
    worked = [x for stations in steps[1:] for x in stations if not x.reject_exit and not x.rework_only]
    if variant.skips and all(x.name in variant.skips for x in worked):
        yield at, f"{shown(variant.name)} skips every step but the first", "leave it one step more"


def _times(line: Line, steps: Steps, variant: Variant) -> Iterator[PathFault]:
    at = ("variants", variant.name, "times")
    times = dict(variant.times)
    known = [station.name for station in line.stations]
    for name in times:
        if name not in known:
            yield (*at, name), f"there is no station {shown(name)}", choice(name, known, "stations")
        elif name in variant.skips:
            yield (*at, name), f"{shown(variant.name)} skips {shown(name)}", "leave one of the two out"
    for stations in steps:
        stated = [x.name for x in stations if x.name in times]
        for x in stations:
            if stated and times.get(x.name) != times[stated[0]]:
                found = f"{shown(stated[0])} and {shown(x.name)} share a step but have different times"
                yield (*at, x.name), found, "write the same time for both"


def _changeover(line: Line, station: Station) -> Iterator[PathFault]:
    """Times by pair are there for every two variants that the station works on."""
    changeover = station.changeover
    if changeover is None or changeover.any_s is not None or not line.variants:
        return
    at = ("stations", station.name, "changeover")
    names = _names(line)
    for before, after, _ in changeover.pairs_s:
        for name, path in ((before, (*at, before)), (after, (*at, before, after))):
            if name not in names:
                yield path, f"there is no variant {shown(name)}", choice(name, names, "variants")
        if before == after:
            yield (*at, before, after), f"a changeover from {shown(before)} to itself", "leave it out: it takes no time"
    here = [variant.name for variant in line.variants if station.name not in variant.skips]
    stated = {(before, after) for before, after, _ in changeover.pairs_s}
    lacking = [f"{one} to {two}" for one in here for two in here if one != two and (one, two) not in stated]
    if lacking:
        yield at, f"no time from {', from '.join(lacking)}", "write a time for each pair, or one time for all"


def _fixture_sets(line: Line) -> Iterator[PathFault]:
    if not line.fixture_sets or not line.variants:
        return
    for one in line.fixture_sets:
        yield from as_far_as_known(_set_variants(line, one))
    in_all = sum(one.carriers for one in line.fixture_sets)
    if in_all != line.carriers:
        found = f"the fixture sets have {in_all} carriers, the line has {line.carriers}"
        yield ("fixture_sets",), found, f"make their carriers add up to {line.carriers}, or write carriers: {in_all}"
    taken = {name for one in line.fixture_sets for name in one.variants}
    for name in _names(line):
        if name not in taken:
            yield ("variants", name), f"no fixture set takes {shown(name)}", "name it in a set, or leave it out"


def _set_variants(line: Line, one: FixtureSet) -> Iterator[PathFault]:
    at = ("fixture_sets", one.name, "variants")
    names: Sequence[str] = _names(line)
    for i, name in enumerate(one.variants):
        if name not in names:
            yield (*at, i), f"there is no variant {shown(name)}", choice(name, names, "variants")
        elif name in one.variants[:i]:
            yield (*at, i), f"{shown(name)} stands here twice", "name each variant once"
    shares = [variant.share for variant in line.variants if variant.name in one.variants]
    if shares and not any(shares) and None not in shares:
        yield at, "the variants of this set have no share", "give one of them a share above 0 %"


def _carriers_left(line: Line) -> Iterator[PathFault]:
    """Somebody is left whenever carriers are taken out."""
    left = line.carriers
    for i, change in sorted(enumerate(line.carrier_changes), key=lambda pair: pair[1].time_s):
        left += (change.in_ or 0) - (change.out or 0)
        if left < 1:
            found = f"the changes up to here leave {left} of {line.carriers} carriers"
            yield ("carrier_changes", i, "out"), found, "leave one at least"
            return
