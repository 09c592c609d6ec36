"""Small traffic plans in great number, written directly as data: to go through all of their states.

Families: ``ring``, ``loop``, ``track`` and ``two-way`` as in `agree.small_routes`, where a `Small` tells a plan and
`plan_of` makes it, and ``feature`` as in `agree.small_features`. Every list has a fixed order, so that every k-th of it
is a fixed set.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from agree.small_features import features
from agree.small_routes import Small, loops, plan_of, rings, tracks, two_way_lanes

__all__ = ["FAMILIES", "Small", "family", "long_plans", "plan_of", "short_plans"]

FAMILIES: Final[dict[str, Callable[[int], Iterator[Small]]]] = {
    "ring": rings,
    "loop": loops,
    "track": tracks,
    "two-way": two_way_lanes,
    "feature": lambda count: features(range(count)),
}
SHORT: Final = (
    ("ring", 5, 1), ("loop", 5, 1), ("loop", 6, 7), ("track", 5, 1), ("track", 6, 7), ("two-way", 4, 1),
    ("two-way", 5, 11), ("feature", 260, 1),
)  # fmt: skip
LONG: Final = (
    ("ring", 6, 1), ("loop", 6, 1), ("track", 7, 1), ("two-way", 5, 1), ("two-way", 6, 29), ("feature", 4810, 1),
)  # fmt: skip
"""Family, size, and one of how many is taken."""


def family(name: str, size: int) -> list[Small]:
    """All plans of a family with at most so many stops; of ``feature`` so many plans."""
    return list(FAMILIES[name](size))


def short_plans(every: int = 1) -> list[Small]:
    """All plans with at most five stops (two-way: four), some with one stop more and some with features; of each row
    of `SHORT` one in `every`, which should be no multiple of 13: so many kinds of features take turns."""
    return _taken(SHORT, every)


def long_plans(every: int = 1) -> list[Small]:
    """All plans with at most six stops (two-way: five; tracks with two lanes to take from or to give to: seven), some
    with one stop more and many with features; as `short_plans`."""
    return _taken(LONG, every)


def _taken(rows: Sequence[tuple[str, int, int]], every: int) -> list[Small]:
    """One in so many of each row; what stands in two rows once."""
    return list(dict.fromkeys(one for name, size, of in rows for one in family(name, size)[::of][::every]))
