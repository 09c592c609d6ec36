"""Petri nets as plain transition systems, and those that are published with their numbers of states.

A marking is one integer: each place has a field of `BITS` bits, the top one spare. Taking too many tokens from a place
borrows from that bit, so one subtraction tells whether a transition is enabled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

BITS: Final = 8
MOST_TOKENS: Final = 2 ** (BITS - 1) - 1


@dataclass(frozen=True)
class Net:
    """A net: its places, and each transition with its label, what it needs, the guard of that, and what it changes."""

    places: tuple[str, ...]
    rules: tuple[tuple[str, int, int], ...]
    guard: int

    def marking(self, tokens: Mapping[str, int]) -> int:
        """The marking with so many tokens in each place."""
        assert set(tokens) <= set(self.places)
        assert all(0 <= count <= MOST_TOKENS for count in tokens.values())
        return sum(tokens.get(place, 0) << BITS * at for at, place in enumerate(self.places))

    def tokens(self, marking: int) -> dict[str, int]:
        """The places that hold tokens, with their number."""
        counts = {place: marking >> BITS * at & MOST_TOKENS for at, place in enumerate(self.places)}
        return {place: count for place, count in counts.items() if count}

    def successors(self, marking: int) -> Iterator[tuple[str, int]]:
        """Label of each enabled transition and the marking to which it leads."""
        guard = self.guard
        full = marking | guard
        for label, needs, change in self.rules:
            if (full - needs) & guard == guard:
                after = marking + change
                assert not after & guard, f"{label}: more than {MOST_TOKENS} tokens in a place"
                yield label, after


def net(arcs: Mapping[str, str]) -> Net:
    """A net from its transitions: label -> ``a + b -> c``, a place repeated for a weight."""
    sides = {label: tuple(Counter(side.split(" + ")) for side in text.split(" -> ")) for label, text in arcs.items()}
    places = tuple(sorted({place for both in sides.values() for side in both for place in side}))
    empty = Net(places, (), sum(1 << BITS * at + BITS - 1 for at in range(len(places))))
    rules = []
    for label, (needs, gives) in sides.items():
        needed = empty.marking(needs)
        rules.append((label, needed, empty.marking(gives) - needed))
    return Net(places, tuple(rules), empty.guard)


# ---- published nets --------------------------------------------------------------------------------------------------


def kanban(cards: int) -> tuple[Net, int]:
    """Four cells, N cards each; cell 1 feeds 2 and 3 at once, 4 assembles what they make. After Ciardo and Tilgner."""
    arcs = {}
    for cell in "1234":
        arcs[f"r{cell}"] = f"m{cell} -> b{cell}"
        arcs[f"t{cell}"] = f"b{cell} -> m{cell}"
        arcs[f"g{cell}"] = f"m{cell} -> o{cell}"
    arcs["in1"] = "k1 -> m1"
    arcs["s1_23"] = "o1 + k2 + k3 -> k1 + m2 + m3"
    arcs["s23_4"] = "o2 + o3 + k4 -> k2 + k3 + m4"
    arcs["out4"] = "o4 -> k4"
    made = net(arcs)
    return made, made.marking({f"k{cell}": cards for cell in "1234"})


def philosophers(number: int) -> tuple[Net, int]:
    """Each waits for both forks at once and takes them in either order."""
    arcs = {}
    for i in range(number):
        right = (i + 1) % number
        arcs[f"hungry {i}"] = f"idle{i} -> wl{i} + wr{i}"
        arcs[f"left {i}"] = f"wl{i} + f{i} -> hl{i}"
        arcs[f"right {i}"] = f"wr{i} + f{right} -> hr{i}"
        arcs[f"release {i}"] = f"hl{i} + hr{i} -> idle{i} + f{i} + f{right}"
    made = net(arcs)
    return made, made.marking({f"{place}{i}": 1 for place in ("idle", "f") for i in range(number)})


def robot_and_machine(parts: int, remedy: bool = False) -> tuple[Net, int]:
    """One robot loads and unloads one machine. With the remedy it picks no raw part while the machine is occupied."""
    machine = " + machine" if remedy else ""
    made = net(
        {
            "pick": f"parts + robot{machine} -> loading{machine}",
            "load": "loading + machine -> machining + robot",
            "unload": "machining + robot -> unloading + machine",
            "put down": "unloading -> parts + robot",
        }
    )
    return made, made.marking({"parts": parts, "machine": 1, "robot": 1})


def slotted_ring(nodes: int) -> tuple[Net, int]:
    """N nodes pass slots round; the net of slot.sm, its transitions written out."""
    arcs = {}
    for i in range(nodes):
        # A slot, free or used, goes on to node i from the one before it, which has it in C, A, B of its own.
        p = (i - 1) % nodes
        arcs[f"free {i}"] = f"C{p} + E{i} -> B{p} + F{i}"
        arcs[f"used {i}"] = f"C{p} + G{i} -> A{p} + F{i}"
        arcs[f"other {i}"] = f"A{i} -> D{i}"
        arcs[f"owner {i}"] = f"A{i} -> B{i}"
        arcs[f"write {i}"] = f"B{i} -> D{i}"
        arcs[f"go {i}"] = f"B{i} -> H{i}"
        arcs[f"give {i}"] = f"F{i} + H{i} -> C{i} + E{i}"
        arcs[f"put {i}"] = f"D{i} + F{i} -> C{i} + G{i}"
    made = net(arcs)
    return made, made.marking({f"{place}{i}": 1 for place in "CE" for i in range(nodes)})
