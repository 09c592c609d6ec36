"""Laws of the causes of the line cycle: where they are derivatives, that they add up, and what they do not depend on.

A line whose times are all fixed becomes periodic: from some good part on, finish n + q comes exactly T after finish n,
and its line cycle is T/q, a fraction and no estimate. The chain of causes becomes periodic too: its links go round one
**circuit**. What stands in the circuit m times per good part must therefore lengthen the line cycle by m µs for each
µs by which it is lengthened, as long as the order of reservations stays and no second circuit is as long. That is
tested here in whole numbers, without tolerance.
"""

from __future__ import annotations

import functools
import itertools
import math
import random
from collections import Counter
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray

from agree.random_lines import random_line
from linewright.flow.causes import KINDS, CycleCauses, find_causes
from linewright.flow.kernel import run as kernel_run
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import Replication, run_once
from linewright.flow.kernel.state import tables_of
from linewright.flow.replications import replicate
from linewright.flow.run import run_plan
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import FIXED, GEOMETRIC, NO_LEG, OF_CYCLES, Chance, FailureKind, Law, TrafficPlan

Ints = NDArray[np.int64]
Label = tuple[str, int | None]

NAMES: Final = tuple(KINDS)
# What no plain line waits for.
BEYOND: Final = {"changeover", "operator", "outside", "break"}
HORIZON_US: Final = 3_000_000_000
CUT_US: Final = 1_000_000_000
STEP_US: Final = 20
MOST_PARTS_A_PERIOD: Final = 60

# Thirty lines; 5, 15 and 16 have held parts and take a second each to plan.
SOME: Final = tuple(number for number in range(1, 34) if number not in (5, 15, 16))


# ---- deterministic lines ---------------------------------------------------------------------------------------------


@functools.cache
def planned(number: int) -> tuple[Line, TrafficPlan]:
    """A random line and its plan."""
    line = random_line(number).read()
    return line, compile_plan(line, lay_out(line))


def deterministic(number: int) -> TrafficPlan:
    """The track and route of a random line with fixed times, and odd microseconds on all of them so that nothing ties.

    A third of the stations jams at every work, so that `repair` has a fixed time too.
    """
    plan = planned(number)[1]
    luck = random.Random(f"fixed times of random line {number}")
    stations = range(len(plan.station_names))

    def odd(times_us: Ints) -> Ints:
        return times_us + np.array([luck.randrange(1, 1000) for _ in range(times_us.size)], np.int64)

    move_us = plan.move_us.copy()
    there = move_us != NO_LEG
    move_us[there] += np.array(luck.sample(range(1, 20_000), int(there.sum())), np.int64)
    step_us = [luck.randrange(300_000, 2_500_000) for _ in plan.step_names]
    return replace(
        plan,
        work=tuple(Law(FIXED, float(step_us[plan.station_step[k]] + luck.randrange(1, 1000))) for k in stations),
        reject=tuple(Chance() for _ in stations),
        failures=tuple(
            FailureKind(k, Law(GEOMETRIC, 1.0), Law(FIXED, float(luck.randrange(100_000, 900_000))), OF_CYCLES)
            for k in stations
            if luck.random() < 0.33
        ),
        settling_us=odd(plan.settling_us),
        clear_us=odd(np.array([luck.choice((0, 0, 40_000)) for _ in stations], np.int64)),
        prepare_us=odd(np.array([luck.choice((0, 0, 800_000)) for _ in stations], np.int64)),
        move_us=move_us,
        aboard_us=odd(plan.aboard_us),
        home_us=odd(plan.home_us),
        start_handshake_us=plan.start_handshake_us + luck.randrange(1, 1000),
        done_handshake_us=plan.done_handshake_us + luck.randrange(1, 1000),
        follow_us=plan.follow_us + luck.randrange(1, 1000),
    )


def run_fixed(plan: TrafficPlan, horizon_us: int = HORIZON_US, chain: bool = False) -> Replication:
    """One run with its moves and good parts logged."""
    luck = luck_of(plan, 1, 0)
    return run_once(plan, tables_of(plan), luck, horizon_us, CUT_US, trace_from_us=0, with_chain=chain)


@dataclass(frozen=True)
class Period:
    """So many good parts in so many microseconds, for ever."""

    parts: int
    time_us: int

    @property
    def cycle_us(self) -> Fraction:
        """The line cycle."""
        return Fraction(self.time_us, self.parts)


def period_of(run: Replication) -> Period | None:
    """The shortest period that the whole second half of the finishes keeps, if it fits in three times."""
    between = np.diff(np.sort(run.good[:, 1]))
    tail = between[len(between) // 2 :]
    for parts in range(1, min(MOST_PARTS_A_PERIOD, len(tail) // 3)):
        if np.array_equal(tail[parts:], tail[:-parts]):
            return Period(parts, int(tail[:parts].sum()))
    return None


@dataclass(frozen=True, eq=False)
class Circuit:
    """One round of the chain's circuit: label and length of each link, and for how many good parts it stands."""

    labels: Ints
    lengths_us: Ints
    places: int
    parts: Fraction

    def count(self, kind: str, place: int | None = None, length_us: int | None = None) -> int:
        """Links of a kind, at a place, of a length."""
        fits = self.labels // self.places == NAMES.index(kind)
        if place is not None:
            fits &= self.labels % self.places == place
        if length_us is not None:
            fits &= self.lengths_us == length_us
        return int(fits.sum())


def circuit_of(run: Replication, period: Period, places: int) -> Circuit:
    """The shortest sequence of links that repeats, looked for well away from both ends of the chain."""
    assert run.chain is not None
    times_us = run.chain.times_us
    whole_us = times_us[0]
    begin, end = (int(np.argmax(times_us < share * whole_us)) for share in (0.9, 0.6))
    labels, lengths_us = run.chain.labels[begin:end].astype(np.int64), -np.diff(times_us[begin : end + 1])
    for links in range(1, len(labels) // 2):
        if np.array_equal(labels[links:], labels[:-links]) and np.array_equal(lengths_us[links:], lengths_us[:-links]):
            length_us = int(lengths_us[:links].sum())
            return Circuit(labels[:links], lengths_us[:links], places, Fraction(length_us) / period.cycle_us)
    raise AssertionError("the chain does not repeat")


# ---- one time a little longer and a little shorter -------------------------------------------------------------------


@dataclass(frozen=True)
class Variation:
    """One time of a plan that can be varied alone: its name, how often it stands in a circuit, how to change it."""

    kind: str
    count: int
    longer: dict[str, Any]
    shorter: dict[str, Any]


def variations(plan: TrafficPlan, circuit: Circuit) -> list[Variation]:
    """Every time of a plan that is a cause by itself."""
    stations, found = len(plan.station_names), []

    def bumped(name: str, index: int, by_us: int) -> dict[str, Any]:
        array = getattr(plan, name).copy()
        array[index] += by_us
        return {name: array}

    def add(kind: str, count: int, changed: Any) -> None:
        found.append(Variation(kind, count, changed(STEP_US), changed(-STEP_US)))

    for k in range(stations):
        add("work", circuit.count("work", k), functools.partial(_longer_work, plan, k))
        for kind in ("prepare", "clear", "settling"):
            add(kind, circuit.count(kind, k), functools.partial(bumped, f"{kind}_us", k))
    for i, failure in enumerate(plan.failures):
        add("repair", circuit.count("repair", failure.station), functools.partial(_longer_repair, plan, i))
    for kind, name in (
        ("start handshake", "start_handshake_us"),
        ("done handshake", "done_handshake_us"),
        ("reaction", "follow_us"),
    ):
        add(kind, circuit.count(kind), functools.partial(_longer, plan, name))
    for t in range(len(plan.transfer_names)):
        for name in ("aboard_us", "home_us"):
            count = circuit.count("transfer", stations + t, int(getattr(plan, name)[t]))
            add("transfer", count, functools.partial(bumped, name, t))
    return found + [_move(plan, circuit, leg) for leg in _some_legs(plan, circuit)]


def _longer(plan: TrafficPlan, name: str, by_us: int) -> dict[str, Any]:
    return {name: getattr(plan, name) + by_us}


def _longer_work(plan: TrafficPlan, k: int, by_us: int) -> dict[str, Any]:
    work = list(plan.work)
    work[k] = replace(work[k], a=work[k].a + by_us)
    return {"work": tuple(work)}


def _longer_repair(plan: TrafficPlan, i: int, by_us: int) -> dict[str, Any]:
    failures = list(plan.failures)
    repair = failures[i].repair
    failures[i] = replace(failures[i], repair=replace(repair, a=repair.a + by_us))
    return {"failures": tuple(failures)}


def _some_legs(plan: TrafficPlan, circuit: Circuit) -> list[tuple[int, ...]]:
    """The legs of the circuit, and as many that are not in it; each lasts as long as no other."""
    in_circuit = set(circuit.lengths_us.tolist())
    times, counts = np.unique(plan.move_us, return_counts=True)
    lonely = set(times[(counts == 1) & (times > 0)].tolist()) - set(plan.rear_us.ravel().tolist())
    legs = [tuple(int(i) for i in leg) for leg in np.argwhere(np.isin(plan.move_us, list(lonely)))]
    inside = [leg for leg in legs if int(plan.move_us[leg]) in in_circuit]
    outside = [leg for leg in legs if int(plan.move_us[leg]) not in in_circuit]
    return inside + outside[: len(inside)]


def _move(plan: TrafficPlan, circuit: Circuit, leg: tuple[int, ...]) -> Variation:
    time_us = int(plan.move_us[leg])
    counts = [circuit.count(kind, length_us=time_us) for kind in ("exchange move", "travel")]

    def changed(by_us: int) -> dict[str, Any]:
        move_us = plan.move_us.copy()
        move_us[leg] += by_us
        return {"move_us": move_us}

    kind = "exchange move" if counts[0] else "travel"
    return Variation(kind, sum(counts), changed(STEP_US), changed(-STEP_US))


@dataclass
class Seen:
    """What a set of lines allowed to compare."""

    lines: int = 0
    not_periodic: int = 0
    equal: int = 0
    order_changed: int = 0
    two_circuits: int = 0
    kinds: Counter[str] = field(default_factory=Counter)


def orders(run: Replication) -> Ints:
    """Carrier, stop left and stop reserved of every move, in the order of the reservations."""
    return run.moves[:, [0, 2, 3]]


def same_order(one: Replication, other: Replication) -> bool:
    """Whether the reservations of two runs stay in order, as far as the shorter goes."""
    first, second = orders(one), orders(other)
    rows = min(len(first), len(second))
    return np.array_equal(first[:rows], second[:rows])


def compare(
    plan: TrafficPlan, run: Replication, period: Period, one: Variation, per_part: Fraction, seen: Seen
) -> None:
    """A time longer and shorter by a step: the difference of the line cycles is what the circuit says."""
    longer, shorter = run_fixed(replace(plan, **one.longer)), run_fixed(replace(plan, **one.shorter))
    if not (same_order(run, longer) and same_order(run, shorter)):
        seen.order_changed += 1
        return
    up, down = period_of(longer), period_of(shorter)
    assert up is not None
    assert down is not None
    slopes = (period.cycle_us - down.cycle_us) / STEP_US, (up.cycle_us - period.cycle_us) / STEP_US
    if slopes[0] != slopes[1]:
        # Within a step another circuit becomes the longest: the line cycle bends upward, and the chain's lies between.
        assert slopes[0] <= per_part <= slopes[1], one.kind
        seen.two_circuits += 1
        return
    assert slopes[0] == per_part, (one.kind, slopes, per_part)
    seen.equal += 1
    seen.kinds[one.kind] += one.count > 0


def differentiate(number: int, most: int, seen: Seen) -> None:
    """Compare up to `most` times that stand in a line's circuit, kinds seen least first, and half as many others."""
    plan = deterministic(number)
    run = run_fixed(plan, chain=True)
    period = period_of(run)
    if period is None:  # its period is longer than is looked for, or not reached in time
        seen.not_periodic += 1
        return
    circuit = circuit_of(run, period, len(plan.station_names) + len(plan.transfer_names))
    assert_table_says_the_same(plan, run, period, circuit)
    found = variations(plan, circuit)
    random.Random(number).shuffle(found)
    inside, outside = [one for one in found if one.count], [one for one in found if not one.count]
    inside.sort(key=lambda one: seen.kinds[one.kind])
    before = seen.equal
    for one in [*inside[:most], *outside[: most // 2]]:
        compare(plan, run, period, one, one.count / circuit.parts, seen)
    seen.lines += seen.equal > before


def assert_table_says_the_same(plan: TrafficPlan, run: Replication, period: Period, circuit: Circuit) -> None:
    """A window longer by whole circuits and periods has just the circuit's times more, to the microsecond."""
    parts = math.lcm(period.parts, circuit.parts.numerator)
    longer_us = parts // period.parts * period.time_us
    short = find_causes(plan, [run_fixed(plan, HORIZON_US - longer_us, chain=True)], 1, CUT_US)
    long = find_causes(plan, [run], 1, CUT_US)
    assert (long.parts - short.parts, long.window_us - short.window_us) == (parts, longer_us)
    expected = np.bincount(circuit.labels, weights=circuit.lengths_us, minlength=long.time_us.size) * float(
        parts / circuit.parts
    )
    assert np.array_equal((long.time_us - short.time_us).ravel(), expected)


def test_shares_are_derivatives_where_the_order_of_reservations_stays() -> None:
    seen = Seen()
    for number in SOME:
        differentiate(number, 3, seen)
    # The figures are those of this set; a loss of comparisons would make the test empty without making it fail.
    assert len(SOME) == 30
    assert seen.not_periodic == 0
    assert seen.lines >= 29
    assert seen.equal >= 100
    assert seen.order_changed <= 40
    assert seen.two_circuits <= 5
    assert set(seen.kinds) >= {
        *("work", "repair", "clear", "settling", "transfer", "prepare", "reaction"),
        *("done handshake", "start handshake", "exchange move", "travel"),
    }, seen.kinds


@pytest.mark.long
def test_shares_are_derivatives_on_many_lines() -> None:
    seen = Seen()
    for number in range(41, 141):
        differentiate(number, 1000, seen)
    assert seen.not_periodic <= 10
    assert seen.lines >= 90 - seen.not_periodic
    assert seen.equal >= 3000
    assert seen.order_changed <= seen.equal // 10
    assert set(seen.kinds) == set(NAMES) - BEYOND - {"clock failure"}


# ---- sums ------------------------------------------------------------------------------------------------------------

RANDOM_US: Final = 900_000_000
BIN_US: Final = 20_000_000
FEW: Final = (2, 3, 7, 10, 12, 18)


def replications(number: int, runs: int = 2) -> tuple[TrafficPlan, list[Replication]]:
    """Runs of a random line as it is drawn, with their chains and their good parts."""
    plan = planned(number)[1]
    tables = tables_of(plan)
    return plan, [
        run_once(plan, tables, luck_of(plan, number, r), RANDOM_US, BIN_US, trace_from_us=0, with_chain=True)
        for r in range(runs)
    ]


def finishes(run: Replication, cut_bins: int) -> Ints:
    """When each good part after the cut was finished, ascending."""
    ends = np.sort(run.good[:, 1])
    return ends[(ends >= cut_bins * BIN_US) & (ends < RANDOM_US)]


@pytest.mark.parametrize("number", FEW)
def test_causes_add_up_to_the_window(number: int) -> None:
    plan, runs = replications(number)
    for cut_bins in (0, 1, 13, 30):
        causes = find_causes(plan, runs, cut_bins, BIN_US)
        ends = [finishes(run, cut_bins) for run in runs]
        assert causes.parts == sum(len(one) - 1 for one in ends) > 20
        assert causes.window_us == sum(int(one[-1] - one[0]) for one in ends)
        assert int(causes.time_us.sum()) == causes.window_us


@pytest.mark.parametrize("number", FEW)
def test_tables_agree_with_each_other_and_with_the_line_cycle(number: int) -> None:
    plan, runs = replications(number)
    causes = find_causes(plan, runs, 3, BIN_US)
    rows, places = causes.table().rows(), causes.by_place().rows()
    assert causes.cycle_s == pytest.approx(causes.window_us / 1e6 / causes.parts, rel=1e-15)
    assert sum(row["time_s"] for row in rows) == pytest.approx(causes.cycle_s, rel=1e-12)
    assert sum(row["share"] for row in rows) == pytest.approx(1.0, rel=1e-12)
    assert sum(row["all_s"] for row in places) == pytest.approx(causes.cycle_s, rel=1e-12)
    assert [row["place"] for row in places] == [*plan.station_names, *plan.transfer_names]
    times = {(row["kind"], row["place"]): row["time_s"] for row in rows}
    assert len(times) == len(rows)
    assert 0.0 not in times.values()
    assert list(times.values()) == sorted(times.values(), reverse=True)
    for row in places:
        for kind in NAMES:
            assert row[f"{kind.replace(' ', '_')}_s"] == times.get((kind, row["place"]), 0.0)


@pytest.mark.parametrize("number", FEW)
def test_runs_add_up(number: int) -> None:
    plan, runs = replications(number)
    together, *alone = (find_causes(plan, some, 2, BIN_US) for some in (runs, runs[:1], runs[1:]))
    assert np.array_equal(together.time_us, alone[0].time_us + alone[1].time_us)
    assert together.parts == alone[0].parts + alone[1].parts


@pytest.mark.parametrize("number", FEW)
def test_a_later_cut_leaves_the_later_part_of_the_same_chain(number: int) -> None:
    """Both chains start at the same last part; only moves, whose links can be negative, may lose by a longer window."""
    plan, runs = replications(number, 1)
    windows = [find_causes(plan, runs, cut_bins, BIN_US) for cut_bins in (30, 13, 4)]
    moves = [NAMES.index(kind) for kind in ("exchange move", "travel")]
    for later, earlier in itertools.pairwise(windows):
        more = np.delete(earlier.time_us - later.time_us, moves, axis=0)
        assert (more >= 0).all()
        assert more.sum() > 0


# ---- what they do not depend on, and what is left of long runs -------------------------------------------------------


def equal(one: CycleCauses, other: CycleCauses) -> bool:
    return np.array_equal(one.time_us, other.time_us) and (one.parts, one.window_us) == (other.parts, other.window_us)


def test_causes_do_not_depend_on_workers() -> None:
    line, plan = planned(10)
    one, many = (run_plan(line, plan, hours=0.4, runs=4, seed=3, workers=workers) for workers in (1, 3))
    assert one.cycle_causes.rows() == many.cycle_causes.rows()
    assert one.cycle_causes_by_station.rows() == many.cycle_causes_by_station.rows()
    assert len(one.cycle_causes) > 10
    assert one.causes_cycle_s == many.causes_cycle_s


def small_ring(monkeypatch: pytest.MonkeyPatch, marks: int) -> None:
    """Keep so many marks of a run, a power of two."""
    monkeypatch.setattr(kernel_run, "KEPT_MARKS", marks)
    monkeypatch.setattr(kernel_run._scratch, "marks", np.empty((marks, 2), np.int64))


@pytest.mark.parametrize("marks", [1 << 9, 1 << 11])
@pytest.mark.parametrize("number", FEW)
def test_a_run_too_long_to_be_kept_gives_its_last_part(
    number: int, marks: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = planned(number)[1]
    (whole,) = replicate(plan, number, 1, RANDOM_US, BIN_US, workers=1, with_chain=True)
    small_ring(monkeypatch, marks)
    (part,) = replicate(plan, number, 1, RANDOM_US, BIN_US, workers=1, with_chain=True)
    assert whole.chain is not None
    assert part.chain is not None
    links = len(part.chain.labels)
    assert 0 == whole.chain.kept_us < part.chain.kept_us
    assert 0 < links < len(whole.chain.labels)
    assert np.array_equal(part.chain.labels, whole.chain.labels[:links])
    assert np.array_equal(part.chain.times_us, whole.chain.times_us[: links + 1])
    first_whole_bin = -(-part.chain.kept_us // BIN_US)
    kept = find_causes(plan, [part], 0, BIN_US)
    assert equal(kept, find_causes(plan, [whole], first_whole_bin, BIN_US))
    assert int(kept.time_us.sum()) == kept.window_us


def test_a_last_good_part_that_is_no_longer_kept_has_no_causes(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of one mark: the run sets others after the last good part."""
    plan = planned(7)[1]
    small_ring(monkeypatch, 1)
    (run,) = replicate(plan, 7, 1, RANDOM_US, BIN_US, workers=1, with_chain=True)
    assert run.totals.good.sum() > 50
    assert run.chain is None
    assert find_causes(plan, [run], 0, BIN_US).parts == 0
