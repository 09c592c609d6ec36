"""Small invented lines whose track is no plain loop: a ring, a branch, a lane to and fro, a loop that goes straight on.

Figures of the built-in sheet demo-light used here: carrier 84 x 112 mm, least pitch 92 mm, clear gap 6 mm, platform
118 mm, gap 3 mm, curve of radius 240 mm and quarter turns at 1.2 m/s.
"""

from __future__ import annotations

from linewright.line.load import read_line
from linewright.line.model import Line

PITCH_M = 0.092
HALF_M = 0.042
LINK_M = 0.118 + 2 * 0.003


def line_of(*rows: str, carriers: int = 3) -> Line:
    """The line of these rows of its file, the head written here."""
    head = ["linewright: 1", "name: Test line (invented)", "conveyor: demo-light", f"carriers: {carriers}"]
    return read_line("\n".join([*head, *rows]) + "\n", file="test.yaml")


def ring_line(
    *alongs_mm: float, long_mm: float = 1472.0, short_mm: float = 0.0, carriers: int = 2, keys: str = "", more: str = ""
) -> Line:
    """A ring with stations a, b ... at these places along it."""
    names = "abcdefgh"[: len(alongs_mm)]
    short = f", short: {short_mm:.10g} mm" if short_mm else ""
    return line_of(
        "lanes:",
        f"  round: {{ring: {{long: {long_mm:.10g} mm{short}}}}}",
        "stations:",
        *(
            f"  {name}: {{lane: round, along: {at:.10g} mm, time: 1 s{keys}}}"
            for name, at in zip(names, alongs_mm, strict=True)
        ),
        f"route: [{', '.join(names)}]",
        *([more] if more else []),
        carriers=carriers,
    )


def branch_line(carriers: int = 3, returns: str = "", side_mm: float = 1104.0, more: str = "") -> Line:
    """A lane back from which a cross transfer gives to two lanes, which another merges again; y is on the side lane."""
    east = f"  east: {{kind: cross-transfer, takes: [side, main], gives: back{returns}}}"
    return line_of(
        "lanes:",
        "  main: {length: 1104 mm, from: west, to: east}",
        f"  side: {{length: {side_mm:.10g} mm, from: west, to: east, across: 300 mm}}",
        "  back: {length: 1104 mm, from: east, to: west, across: 600 mm}",
        "transfers:",
        "  west: {kind: cross-transfer, takes: back, gives: [main, side]}",
        east,
        "stations:",
        "  load: {lane: back, at: 700 mm, time: 1 s}",
        "  x: {lane: main, at: 500 mm, time: 1 s}",
        "  y: {lane: side, at: 500 mm, time: 1 s}",
        "  unload: {lane: back, at: 900 mm, time: 1 s}",
        "route: [load, [x, y], unload]",
        *([more] if more else []),
        carriers=carriers,
    )


def to_and_fro_line(*ats_mm: float, carriers: int = 1) -> Line:
    """One lane on which carriers go both ways, with stations a, b ... at these places."""
    names = "abcdefgh"[: len(ats_mm)]
    return line_of(
        "lanes:",
        "  bed: {length: 1472 mm, from: west, to: east, two_way: true}",
        "stations:",
        *(f"  {name}: {{lane: bed, at: {at:.10g} mm, time: 1 s}}" for name, at in zip(names, ats_mm, strict=True)),
        f"route: [{', '.join(names)}]",
        carriers=carriers,
    )


def straight_on_line(start_mm: float = 1104.0 + 1000.0 * LINK_M, places: int = 1, carriers: int = 3) -> Line:
    """Three lanes: a lane to the east, one that goes straight on from it over a cross transfer, and one back beside."""
    back_mm = start_mm + 736.0
    return line_of(
        "lanes:",
        "  first: {length: 1104 mm, from: west, to: east}",
        f"  second: {{length: 736 mm, from: west, to: east, west_end: {start_mm:.10g} mm, across: 200 mm}}",
        f"  back: {{length: {back_mm:.10g} mm, from: east, to: west, across: 600 mm}}",
        "transfers:",
        f"  middle: {{kind: cross-transfer, takes: first, gives: second, places: {places}}}",
        "  east: {kind: cross-transfer, takes: second, gives: back}",
        "  west: {kind: cross-transfer, takes: back, gives: first}",
        "stations:",
        "  a: {lane: first, at: 500 mm, time: 1 s}",
        "  b: {lane: back, at: 900 mm, time: 1 s}",
        "route: [a, b]",
        carriers=carriers,
    )
