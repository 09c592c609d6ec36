"""Lanes cut from the stock sections of a conveyor sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil, gcd
from typing import Final

from linewright.errors import LinewrightError

# Sections are catalogue lengths; a tenth of a millimetre is finer than any of them is made.
TENTHS_PER_M: Final = 10_000
# A length this near (in tenths) to a whole number of tenths is that number: the rest is float noise.
WHOLE: Final = 1e-4
MOST_PLACES: Final = 1_000_000


class SectionCutError(LinewrightError):
    """No sections can be laid as asked; the text says why."""


@dataclass(frozen=True)
class SectionCut:
    """How one lane is made of stock sections.

    Parameters
    ----------
    sections_m : lengths in their order from the lane's start. [m]
    joints_m : where two sections meet, from the lane's start. [m]
    total_m : their sum. [m]
    surplus_m : total less what was asked for, 0 for an exact cut. [m]
    pieces, kinds : how many sections, of how many different lengths
    cost : sum of the prices; None without a price for each stock length
    """

    sections_m: tuple[float, ...]
    joints_m: tuple[float, ...]
    total_m: float
    surplus_m: float
    pieces: int
    kinds: int
    cost: float | None


@dataclass(frozen=True)
class _Stock:
    """Stock lengths in units of their common divisor, longest first, and the price of each (0 where none is stated)."""

    unit_tenths: int
    lengths: tuple[int, ...]
    prices: tuple[float, ...]
    priced: bool


def cut_sections(
    length_m: float,
    stock_m: Sequence[float],
    no_joint: Sequence[tuple[float, float]] = (),
    prices: Sequence[float | None] | None = None,
) -> SectionCut:
    """Cut one lane from stock sections: the exact length or, where stock cannot make it, the shortest that covers it.

    Of all such rows of sections the one with the fewest pieces, then the fewest kinds, then the least cost; of equal
    ones the one with the longest sections first, seen from the lane's start.

    Parameters
    ----------
    length_m : Length of the lane. [m], > 0
    stock_m : The lengths that can be bought, in whole tenths of a millimetre. [m], > 0
    no_joint : Pairs (at, distance): no joint may lie nearer than `distance` to `at`, counted from the lane's start; one
        exactly at the distance may. The lane's two ends are no joints. [m]
    prices : One price for each stock length; if one is missing or None, cost decides nothing and is None

    Returns
    -------
    SectionCut

    Raises
    ------
    ValueError        A length, a distance or a price is not as stated above, or prices and lengths differ in number.
    SectionCutError   No row of the stock keeps its joints off the given places, a stock length is not a whole number of
                      tenths of a millimetre, or the lane is too long for stock so fine (over a million places).

    Notes      Exact. Each joint lies at the sum of the sections before it, so a least-pieces search over those places
               with the barred ones left out tries every order at once. It is repeated for growing sets of kinds until
               one needs no more pieces than all kinds together.
    Source     dynamic programming over lengths, as for the change-making problem; the order of aims is common practice.
    Examples   >>> cut_sections(6.16, (0.385, 0.77, 1.155)).sections_m
               (1.155, 1.155, 1.155, 1.155, 1.155, 0.385)
               >>> cut_sections(2.0, (0.385, 0.77, 1.155)).surplus_m
               0.31
    """
    stock = _stock(length_m, stock_m, prices)
    # The lane in tenths, then in units; rounding up, because a cut that is a hair short is no cut.
    tenths = ceil(length_m * TENTHS_PER_M - WHOLE)
    asked = -(-tenths // stock.unit_tenths)
    if asked > MOST_PLACES:
        raise SectionCutError(f"a lane of {length_m:g} m is too long for stock sections with no common length")
    barred = _barred(no_joint, stock.unit_tenths, asked)
    everything = range(len(stock.lengths))
    cover = _shortest_cover(asked, stock, barred)
    for size in range(1, len(stock.lengths) + 1):
        found = [_cheapest_row(cover, stock, kinds) for kinds in combinations(everything, size)]
        rows = [row for row in found if row is not None]
        if rows:
            best = min(rows, key=lambda row: (row.cost, [-length for length in row.sections]))
            return _as_cut(best, length_m, stock)
    raise AssertionError("a row that was found with all kinds is found again")  # pragma: no cover


@dataclass(frozen=True)
class _Cover:
    """The total of the row that is looked for, and the fewest pieces to each joint place that such a row may have."""

    total: int
    pieces_to: dict[int, int]


@dataclass(frozen=True)
class _Row:
    """Sections in order, in units, and what they cost."""

    sections: tuple[int, ...]
    cost: float


def _stock(length_m: float, stock_m: Sequence[float], prices: Sequence[float | None] | None) -> _Stock:
    if not 0 < length_m < float("inf"):
        raise ValueError(f"a lane's length must be positive, not {length_m!r} m")
    if not stock_m or any(not 0 < one < float("inf") for one in stock_m):
        raise ValueError(f"stock lengths must be positive and at least one, not {tuple(stock_m)!r}")
    if prices is not None and len(prices) != len(stock_m):
        raise ValueError(f"{len(prices)} prices for {len(stock_m)} stock lengths")
    priced = prices is not None and all(price is not None for price in prices)
    cheapest: dict[int, float] = {}
    for number, one in enumerate(stock_m):
        tenths = round(one * TENTHS_PER_M)
        if tenths < 1 or abs(one * TENTHS_PER_M - tenths) > WHOLE:
            raise SectionCutError(f"a section of {one * 1000:g} mm is not a whole number of tenths of a millimetre")
        price = prices[number] if prices is not None and priced else 0.0
        if price is None or not 0 <= price < float("inf"):
            raise ValueError(f"a price must be 0 or more, not {price!r}")
        cheapest[tenths] = min(price, cheapest.get(tenths, price))
    unit = gcd(*cheapest)
    longest_first = sorted(cheapest, reverse=True)
    return _Stock(
        unit, tuple(one // unit for one in longest_first), tuple(cheapest[one] for one in longest_first), priced
    )


def _barred(no_joint: Sequence[tuple[float, float]], unit_tenths: int, asked: int) -> tuple[tuple[float, float], ...]:
    """The open stretches, in units, in which no joint may lie."""
    stretches = []
    for at_m, distance_m in no_joint:
        if not 0 <= distance_m < float("inf"):
            raise ValueError(f"a distance from a joint must be 0 or more, not {distance_m!r} m")
        per_m = TENTHS_PER_M / unit_tenths
        hair = WHOLE / unit_tenths
        low, high = (at_m - distance_m) * per_m + hair, (at_m + distance_m) * per_m - hair
        if high > 0 and low < asked:
            stretches.append((low, high))
    return tuple(stretches)


def _free(place: int, barred: tuple[tuple[float, float], ...]) -> bool:
    return not any(low < place < high for low, high in barred)


def _shortest_cover(asked: int, stock: _Stock, barred: tuple[tuple[float, float], ...]) -> _Cover:
    """The least total of a row that covers `asked`, with the fewest pieces of such a row."""
    pieces = {0: 0}
    ends: dict[int, int] = {}
    frontier = [0]
    while frontier:  # one piece more in every round, so the first time a place is reached is with the fewest pieces
        reached = []
        for place in frontier:
            for length in stock.lengths:
                end = place + length
                if end >= asked:
                    ends.setdefault(end, pieces[place] + 1)
                elif end not in pieces and _free(end, barred):
                    pieces[end] = pieces[place] + 1
                    reached.append(end)
        frontier = reached
    if not ends:
        raise SectionCutError("no row of the stock sections keeps its joints off the stated places")
    total = min(ends)
    most = ends[total]
    longest = stock.lengths[0]
    # A joint of a row with the fewest pieces is itself reached with the fewest, or the row could be bettered; and the
    # longest sections must still be able to cover the rest.
    useful = {place: n for place, n in pieces.items() if (most - n) * longest >= total - place}
    return _Cover(total, useful)


def _cheapest_row(cover: _Cover, stock: _Stock, kinds: tuple[int, ...]) -> _Row | None:
    """The row of these kinds that makes the cover with its fewest pieces at the least cost; None if there is none."""
    to_go = {cover.total: 0.0}
    choice: dict[int, int] = {}
    pieces = cover.pieces_to
    for place in sorted(pieces, reverse=True):
        for kind in kinds:  # longest first, and only a better one replaces it
            end = place + stock.lengths[kind]
            if end not in to_go or (end < cover.total and pieces[end] != pieces[place] + 1):
                continue
            cost = to_go[end] + stock.prices[kind]
            if place not in to_go or cost < to_go[place]:
                to_go[place], choice[place] = cost, kind
    if 0 not in to_go:
        return None
    row: list[int] = []
    while (place := sum(row)) < cover.total:
        row.append(stock.lengths[choice[place]])
    return _Row(tuple(row), to_go[0])


def _as_cut(best: _Row, length_m: float, stock: _Stock) -> SectionCut:
    row, to_m = best.sections, stock.unit_tenths / TENTHS_PER_M
    total_m = round(sum(row) * to_m, 4)
    surplus_m = round(total_m - length_m, 9)  # below nought only by the hair that counts as an exact cut
    return SectionCut(
        sections_m=tuple(round(length * to_m, 4) for length in row),
        joints_m=tuple(round(sum(row[:number]) * to_m, 4) for number in range(1, len(row))),
        total_m=total_m,
        surplus_m=max(surplus_m, 0.0),
        pieces=len(row),
        kinds=len(set(row)),
        cost=best.cost if stock.priced else None,
    )
