"""Random small lines as text of line files, for holding the kernel against the reference model.

A line depends on its number alone. Which features it has is written down as it is drawn, so that a set of lines can
report its coverage.
"""

from __future__ import annotations

import functools
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from linewright.layout import lay_out
from linewright.line.load import load_sheet, read_line
from linewright.line.model import Line
from linewright.line.sheet import Sheet

DATA: Final = Path(__file__).parents[1] / "data"
SHEETS: Final = ("demo-light", "demo-heavy", "ideal-sheet.yaml")
LAWS: Final = ("fixed", "triangular", "lognormal", "exponential")
LATER_LAWS: Final = ("gamma", "empirical")
MOST_CARRIERS: Final = 29
MOST_STATIONS: Final = 14

FEATURES: Final = (
    "two-deck",
    "two-lane",
    *SHEETS,
    *LAWS,
    *LATER_LAWS,
    "prepare",
    "clear",
    "keep clear",
    "own settling",
    "one kind of failure",
    "two kinds of failure",
    "running failure with a law",
    "clock failure",
    "clock failure with a law",
    "two kinds of clock failure",
    "jam",
    "jam at every work",
    "repair with a law",
    "failures of two sorts at one station",
    "rejects",
    "parallel of two",
    "parallel of three",
    "parallel first",
    "route against the loop",
    "one carrier",
    "crowded",
    "twelve stations or more",
    "no part",
    "part held",
)


@dataclass(frozen=True)
class RandomLine:
    """A line file's text and the features it was drawn with."""

    number: int
    text: str
    features: frozenset[str]

    def read(self) -> Line:
        """The line itself."""
        return _read(self.number, self.text)


@dataclass(frozen=True)
class Track:
    """Two lanes of one length and the floor places of the stations on them. [mm]"""

    length: float
    places: tuple[tuple[int, float], ...]


@dataclass
class _Drawing:
    """What has been drawn so far of one line: its luck, its sheet, its features.

    What is drawn from `more` came to these lines later and leaves what `luck` draws for a number as it was.
    """

    luck: random.Random
    more: random.Random
    sheet: str
    features: set[str] = field(default_factory=set)

    def takes(self, chance: float, feature: str) -> bool:
        """Draw whether something is there; if so, it is one of the line's features."""
        taken = self.luck.random() < chance
        if taken:
            self.features.add(feature)
        return taken

    def one_of(self, options: Sequence[str]) -> str:
        """Draw one of several features."""
        chosen = self.luck.choice(options)
        self.features.add(chosen)
        return chosen


@functools.lru_cache(maxsize=128)  # many tests read the same few lines
def _read(number: int, text: str) -> Line:
    return read_line(text, f"random line {number}", DATA)


@functools.cache
def _sheet(name: str) -> Sheet:
    return load_sheet(name, DATA)


@functools.cache
def random_line(number: int) -> RandomLine:
    """The random line of a number."""
    luck = random.Random(f"random line {number}")
    drawing = _Drawing(luck, random.Random(f"more of random line {number}"), luck.choice(SHEETS))
    drawing.features.add(drawing.sheet)
    groups = _groups(drawing)
    track = _track(drawing, groups)
    route, exits, rejecting = _route(drawing, groups)
    head = _head(drawing, track)
    stations = _stations(drawing, groups, track, exits, rejecting)
    steps = ", ".join(names[0] if len(names) == 1 else f"[{', '.join(names)}]" for names in route)

    def text(carriers: int) -> str:
        return f"{head}carriers: {carriers}\nstations:\n{stations}route: [{steps}]\n"

    carriers = _carriers(drawing, read_line(text(1), f"random line {number}", DATA))
    return RandomLine(number, text(carriers), frozenset(drawing.features))


def coverage(lines: Sequence[RandomLine]) -> dict[str, float]:
    """The share of the lines that have each feature."""
    return {feature: sum(feature in line.features for line in lines) / len(lines) for feature in FEATURES}


def _groups(drawing: _Drawing) -> list[tuple[str, ...]]:
    """The steps' stations in loop order."""
    luck = drawing.luck
    count = luck.randint(2, MOST_STATIONS)
    if count >= 12:
        drawing.features.add("twelve stations or more")
    sizes: list[int] = []
    while (left := count - sum(sizes)) > 0:
        sizes.append(min(left, luck.choices((1, 2, 3), (8, 1, 1))[0]))
    if len(sizes) == 1:
        sizes = [1] * count
    for size, feature in ((2, "parallel of two"), (3, "parallel of three")):
        if size in sizes:
            drawing.features.add(feature)
    names = iter(f"s{n}" for n in range(1, count + 1))
    return [tuple(next(names) for _ in range(size)) for size in sizes]


def _track(drawing: _Drawing, groups: Sequence[tuple[str, ...]]) -> Track:
    """Lay the stations on two lanes, at least a pitch apart; the shorter lane's rest lies before or behind its own."""
    luck, sheet = drawing.luck, _sheet(drawing.sheet)
    pitch, half = sheet.least_pitch_m * 1000, sheet.carrier.length_m * 500
    first_lane = luck.randint(len(groups) // 3, len(groups) - len(groups) // 3)
    docks: list[float] = []
    travels: list[list[float]] = []
    for lane in (groups[:first_lane], groups[first_lane:]):
        at, here = half + luck.choice((0.0, 0.0, 1.3, 2.5)) * pitch, []
        for names in lane:
            for _ in names:
                here.append(round(at, 1))
                at += pitch * luck.choice((1.0, 1.0, 1.4, 2.0, 2.3))
            at += pitch * luck.choice((0.0, 0.0, 1.0, 1.7))
        travels.append(here)
        docks.append(at + luck.choice((0.0, 1.0)) * pitch)
    length = round(max(docks) + half, 1)
    places: list[tuple[int, float]] = []
    for lane_number, here in enumerate(travels):
        spare = length - half - docks[lane_number]
        shift = round(luck.choice((0.0, 0.5, 1.0)) * spare, 1)
        for travel in here:
            from_start = travel + shift
            places.append((lane_number, round(from_start if lane_number == 0 else length - from_start, 1)))
    return Track(length, tuple(places))


def _route(
    drawing: _Drawing, groups: Sequence[tuple[str, ...]]
) -> tuple[list[tuple[str, ...]], tuple[str, ...], frozenset[str]]:
    """The route, the stations that are reject exits and those that reject."""
    luck = drawing.luck
    start = luck.randrange(len(groups))
    parallel = [n for n, names in enumerate(groups) if len(names) > 1]
    if parallel and luck.random() < 0.4:
        start = luck.choice(parallel)
    route = [*groups[start:], *groups[:start]]
    if len(groups) > 2 and luck.random() < 0.35:
        later = route[1:]
        luck.shuffle(later)
        if later != route[1:]:
            drawing.features.add("route against the loop")
        route = [route[0], *later]
    if len(route[0]) > 1:
        drawing.features.add("parallel first")
    if len(route) < 3 or not drawing.takes(0.6, "rejects"):
        return route, (), frozenset()
    exit_step = luck.randrange(1, len(route))
    flagging = [names for names in route[:exit_step] if luck.random() < 0.4] or [route[exit_step - 1]]
    return route, route[exit_step], frozenset(name for names in flagging for name in names)


def _head(drawing: _Drawing, track: Track) -> str:
    """Everything before the carriers; which lane stands first, and so has the lowest ranks, is drawn too."""
    pattern = drawing.one_of(("two-deck", "two-lane"))
    kind, beside = ("lift", "level: -520 mm") if pattern == "two-deck" else ("cross-transfer", "across: 600 mm")
    lanes = [
        f"  out: {{length: {track.length} mm, from: west, to: east}}\n",
        f"  back: {{length: {track.length} mm, from: east, to: west, {beside}}}\n",
    ]
    drawing.luck.shuffle(lanes)
    return (
        f"linewright: 1\nname: Random line\nconveyor: {drawing.sheet}\n{_load(drawing)}"
        f"lanes:\n{''.join(lanes)}"
        f"transfers:\n  east: {{kind: {kind}, takes: out, gives: back}}\n"
        f"  west: {{kind: {kind}, takes: back, gives: out}}\n"
    )


def _load(drawing: _Drawing) -> str:
    """Part and fixture: a held part makes a loaded carrier slower than an empty one."""
    luck = drawing.luck
    payload = _sheet(drawing.sheet).carrier.payload_kg * 1000
    fixture = f"fixture: {{mass: {round(payload * luck.uniform(0.05, 0.4))} g}}\n" if luck.random() < 0.6 else ""
    if drawing.takes(0.25, "no part"):
        return fixture
    part = f"mass: {round(payload * luck.uniform(0.05, 0.5))} g"
    if drawing.takes(0.7, "part held"):
        holds = (
            f"{{pocket: {luck.uniform(2, 9):.1f} m/s²}}",
            f"{{clamp: {luck.uniform(6, 20):.1f} m/s²}}",
            f"{{friction: {{coefficient: {luck.uniform(0.2, 0.6):.2f}, half_base: {luck.randint(8, 40)} mm}}}}",
        )
        part += f", held: {luck.choice(holds)}, mass_height: {luck.randint(10, 40)} mm"
    return f"{fixture}part: {{{part}}}\n"


def _stations(
    drawing: _Drawing,
    groups: Sequence[tuple[str, ...]],
    track: Track,
    exits: Sequence[str],
    rejecting: frozenset[str],
) -> str:
    """One line a station; the stations of a step share its work and its rejects, each has its own tool."""
    luck = drawing.luck
    failing = drawing.luck.choice((0, 0, 1, 2))
    clocks, jams = drawing.more.choice((0, 0, 1, 2)), drawing.more.choice((0, 0, 1))
    places = iter(track.places)
    rows: list[str] = []
    for names in groups:
        work = f"time: {_time(drawing, 0.3, 3.0, luck)}"
        if names[0] in exits:
            work += ", reject_exit: true"
        if names[0] in rejecting:
            work += f", rejects: {luck.randint(2, 25)} %"
        for name in names:
            lane, at = next(places)
            row = f"lane: {'out' if lane == 0 else 'back'}, at: {at} mm, {work}{_tool(drawing)}"
            row += _fails(drawing, failing, clocks, jams)
            rows.append(f"  {name}: {{{row}}}\n")
    return "".join(rows)


def _tool(drawing: _Drawing) -> str:
    luck, keys = drawing.luck, ""
    if drawing.takes(0.2, "prepare"):
        keys += f", prepare: {luck.randint(1, 20) * 100} ms"
    if drawing.takes(0.2, "clear"):
        keys += f", clear: {luck.randint(1, 50) * 10} ms"
    if drawing.takes(0.08, "own settling"):
        keys += f", settling: {luck.choice((0, 20, 150))} ms"
    if drawing.takes(0.08, "keep clear"):
        keys += f", keep_clear: {luck.randint(60, 300)} mm"
    return keys


def _fails(drawing: _Drawing, running: int, clocks: int, jams: int) -> str:
    """Failures of a station: none, or of as many kinds of each sort as the line's stations have at most."""
    luck, more = drawing.luck, drawing.more
    here = luck.randint(0, running)
    if here:
        drawing.features.add(("one kind of failure", "two kinds of failure")[here - 1])
    rows = [_failure(drawing, _running(drawing), 2.0, 20.0, luck) for _ in range(here)]
    sorts = [here > 0]
    for sort, most in ((_clock, clocks), (_jam, jams)):
        more_here = more.randint(0, most)
        sorts.append(more_here > 0)
        if sort is _clock and more_here == 2:
            drawing.features.add("two kinds of clock failure")
        rows += [_failure(drawing, sort(drawing), 1.0, 12.0, more) for _ in range(more_here)]
    if sum(sorts) > 1:
        drawing.features.add("failures of two sorts at one station")
    more.shuffle(rows)
    return f", failures: [{', '.join(rows)}]" if rows else ""


def _failure(drawing: _Drawing, measure: str, shortest_s: float, longest_s: float, luck: random.Random) -> str:
    repair = _time(drawing, shortest_s, longest_s, luck)
    if repair.startswith("{"):
        drawing.features.add("repair with a law")
    return f"{{{measure}, repair: {repair}}}"


def _running(drawing: _Drawing) -> str:
    every_s, more = drawing.luck.randint(5, 120), drawing.more
    if more.random() < 0.5:
        return f"every: {every_s} s"
    drawing.features.add("running failure with a law")
    return f"every: {_spread(drawing, every_s)}"


def _clock(drawing: _Drawing) -> str:
    drawing.features.add("clock failure")
    every_s, more = drawing.more.randint(20, 200), drawing.more
    if more.random() < 0.5:
        return f"every: {every_s} s, of: clock"
    drawing.features.add("clock failure with a law")
    return f"every: {_spread(drawing, every_s)}, of: clock"


def _spread(drawing: _Drawing, mean_s: float) -> str:
    """A time with a law of its own; the same few whole seconds time and again let failures fall together."""
    more = drawing.more
    options = (
        f"{{mean: {mean_s} s, cv: {more.randint(5, 80)} %}}",
        f"{{law: gamma, mean: {mean_s} s, cv: {more.randint(20, 150)} %}}",
        f"{{law: empirical, times: [{mean_s} s, {more.randint(5, 10) * 10} s, {mean_s} s]}}",
    )
    return more.choice(options)


def _jam(drawing: _Drawing) -> str:
    drawing.features.add("jam")
    one_in = drawing.more.choice((1, 2, 5, 12, 40))
    if one_in == 1:
        drawing.features.add("jam at every work")
    return f"one_in: {one_in} cycles"


def _time(drawing: _Drawing, shortest_s: float, longest_s: float, luck: random.Random) -> str:
    """A time of any law, to the millisecond; fixed ones to a tenth of a second, so that events fall together."""
    law, mean_s = luck.choice(LAWS), luck.uniform(shortest_s, longest_s)
    least_s, most_s = 0.0, 0.0
    if law == "triangular":
        least_s, most_s = mean_s * luck.uniform(0.3, 0.9), mean_s * luck.uniform(1.1, 2.0)
    cv = luck.randint(5, 60) if law == "lognormal" else 0
    if drawing.more.random() < 0.2:
        law = drawing.more.choice(LATER_LAWS)
    drawing.features.add(law)
    if law == "fixed":
        return f"{mean_s:.1f} s"
    if law == "exponential":
        return f"{{law: exponential, mean: {mean_s:.3f} s}}"
    if law == "lognormal":
        return f"{{mean: {mean_s:.3f} s, cv: {cv} %}}"
    if law == "gamma":
        return f"{{law: gamma, mean: {mean_s:.3f} s, cv: {drawing.more.randint(10, 120)} %}}"
    if law == "empirical":
        times = [f"{mean_s * drawing.more.uniform(0.5, 1.8):.1f} s" for _ in range(drawing.more.randint(2, 6))]
        return f"{{law: empirical, times: [{', '.join(times)}]}}"
    return f"{{law: triangular, least: {least_s:.3f} s, likely: {mean_s:.3f} s, most: {most_s:.3f} s}}"


def _carriers(drawing: _Drawing, line: Line) -> int:
    """How many carriers: one, any number, or as many as can stand on the line at time zero."""
    places = 1 + sum(stop.kind in ("waiting", "dock") for stop in lay_out(line).stops)
    most = min(MOST_CARRIERS, places)
    if most == 1 or drawing.takes(0.16, "one carrier"):
        drawing.features.add("one carrier")
        return 1
    if drawing.takes(0.35, "crowded"):
        return most
    return drawing.luck.randint(2, most)
