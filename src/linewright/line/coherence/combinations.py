"""What cannot be combined: the complete list, one row a rule, as it stands in docs/line-file.md."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.line.coherence.known import NotKnown, as_far_as_known
from linewright.line.fields import PathFault

if TYPE_CHECKING:
    from linewright.line.model import Line

Path = tuple[str | int, ...]
Find = Callable[["Line"], Iterator[Path]]


@dataclass(frozen=True)
class Excluded:
    """One row: this does not go with that.

    Parameters
    ----------
    this, that : the two, as the page names them
    why : the reason
    instead : what to do
    places : the paths at which a line breaks the rule
    """

    this: str
    that: str
    why: str
    instead: str
    places: Find


def _flag(name: str) -> Find:
    def find(line: Line) -> Iterator[Path]:
        if getattr(line, name):
            yield (name,)

    return find


def _lanes(key: str, is_it: Callable[[object], bool]) -> Find:
    def find(line: Line) -> Iterator[Path]:
        for lane in line.lanes:
            if is_it(getattr(lane, key)):
                yield "lanes", lane.name, key

    return find


def _transfers(line: Line) -> Iterator[Path]:
    for transfer in line.transfers:
        yield "transfers", transfer.name


def _second_lane(line: Line) -> Iterator[Path]:
    for lane in line.lanes[1:]:
        yield "lanes", lane.name


def _several_docks(line: Line) -> Iterator[Path]:
    for transfer in line.transfers:
        for key, names in (("takes", transfer.takes_all), ("gives", transfer.gives_all)):
            if len(names) > 1:
                yield "transfers", transfer.name, key


def _several_places(line: Line) -> Iterator[Path]:
    for transfer in line.transfers:
        if transfer.places > 1:
            yield "transfers", transfer.name, "places"


def _nests(line: Line) -> Iterator[Path]:
    if line.fixture is not None and line.fixture.nests > 1:
        yield "fixture", "nests"


def _rework(line: Line) -> Iterator[Path]:
    for station in line.stations:
        if station.rework is not None:
            yield "stations", station.name, "rework"


def _places_and_gives(line: Line) -> Iterator[Path]:
    for transfer in line.transfers:
        if transfer.places > 1 and len(transfer.gives_all) > 1:
            yield "transfers", transfer.name, "places"


def _run_out_alone(line: Line) -> Iterator[Path]:
    if line.run_out and not line.sequence:
        yield ("run_out",)


def _release_alone(line: Line) -> Iterator[Path]:
    pooled = {name for pool in line.operators for name in pool.stations}
    for station in line.stations:
        if station.release_s is not None and station.name not in pooled:
            yield "stations", station.name, "release"


def _change_elsewhere(line: Line) -> Iterator[Path]:
    known = [station.name for station in line.stations]
    for i, change in enumerate(line.carrier_changes):
        if change.station not in line.route[0].stations or change.station not in known:
            yield "carrier_changes", i, "station"


def _small_buffer(line: Line) -> Iterator[Path]:
    nests = 1 if line.fixture is None else line.fixture.nests
    for station in line.stations:
        for key, machine in (("feed", station.feed), ("take_away", station.take_away)):
            if machine is not None and machine.buffer < nests:
                yield "stations", station.name, key, "buffer"


def _both(one: Find, other: Find) -> Find:
    """The places of the one where the line has the other too."""

    def find(line: Line) -> Iterator[Path]:
        if next(other(line), None) is not None:
            yield from one(line)

    return find


GOING_ON: Final = "`going_on`"
TWO_WAY: Final = "a `two_way` lane"
TOGETHER: Final = "a lane that moves `together`"
RING: Final = "a ring"
_FINDS: Final[dict[str, Find]] = {
    GOING_ON: _flag("going_on"),
    TWO_WAY: _lanes("two_way", bool),
    TOGETHER: _lanes("moves", lambda moves: moves == "together"),
    RING: _lanes("ring", lambda ring: ring is not None),
    "transfers": _transfers,
    "a second lane": _second_lane,
    "a transfer of several docks": _several_docks,
    "a transfer of several places": _several_places,
    "several `nests`": _nests,
    "`rework`": _rework,
    "`fixture_sets`": _flag("fixture_sets"),
    "`sequence`": _flag("sequence"),
    "`carrier_changes`": _flag("carrier_changes"),
    "`admission`": _flag("admission"),
}
_LEAVE: Final = "leave one of the two out"


def _pair(this: str, that: str, why: str, instead: str = _LEAVE) -> Excluded:
    return Excluded(this, that, why, instead, _both(_FINDS[this], _FINDS[that]))


def _support_alone(line: Line) -> Iterator[Path]:
    # Told at both keys: either may be a copy, and of a copy the fault is told where it was written.
    for station in line.stations:
        if station.support is not None and not station.force:
            yield "stations", station.name, "support"
            if station.force is not None:
                yield "stations", station.name, "force"


EXCLUDED: Final = (
    _pair(GOING_ON, TWO_WAY, "the direction may turn before the carrier arrives"),
    _pair(GOING_ON, TOGETHER, "carriers of such a lane stop together"),
    _pair(GOING_ON, "a transfer of several docks", "the dock is chosen when a carrier stands still"),
    _pair(GOING_ON, "a transfer of several places", "the place aboard is chosen when a carrier stands still"),
    _pair(TWO_WAY, "transfers", "carriers go back on the lane itself"),
    _pair(TWO_WAY, "a second lane", "nothing joins the two"),
    _pair(TWO_WAY, RING, "on a ring the way round leads back"),
    _pair(TWO_WAY, TOGETHER, "carriers that move together have one direction"),
    _pair(TWO_WAY, "`admission`", "the lane admits one direction at a time already"),
    _pair(TWO_WAY, "`carrier_changes`", "a carrier that is put in could meet one that comes against it"),
    _pair(RING, "transfers", "a ring has no ends"),
    _pair(RING, "a second lane", "nothing joins the two"),
    Excluded(
        "a transfer of several places",
        "several lanes that it `gives` to",
        "carriers aboard cannot pass each other on the way to their docks",
        "write places: 1, or one lane to give to",
        _places_and_gives,
    ),
    _pair("several `nests`", "`rework`", "parts of one carrier would go different ways"),
    _pair("`fixture_sets`", "`sequence`", "the carrier that comes decides the variant", "write shares"),
    _pair("`fixture_sets`", "`carrier_changes`", "the number of carriers of each set is stated"),
    Excluded(
        "`run_out`",
        "no `sequence`",
        "variants drawn one by one would change at every load",
        "add a sequence, or leave it out",
        _run_out_alone,
    ),
    Excluded(
        "`release`",
        "no pool that names the station",
        "nobody would come to release the carrier",
        "name the station in a pool of operators",
        _release_alone,
    ),
    Excluded(
        "`carrier_changes`",
        "a station that is not of the first step",
        "carriers are without a part at the first step alone",
        "name a station of the first step",
        _change_elsewhere,
    ),
    Excluded(
        "the `buffer` of a feed or take-away",
        "more `nests`",
        "a carrier's parts come and go all at once",
        "write at least the nests",
        _small_buffer,
    ),
    Excluded(
        "`support`",
        "no `force`",
        "it would carry nothing",
        "state the force, or leave support out",
        _support_alone,
    ),
)


def combination_faults(line: Line) -> Iterator[PathFault]:
    """Every place at which a line combines what cannot be combined."""
    for row in EXCLUDED:
        yield from as_far_as_known(_of_row(line, row))


def _of_row(line: Line, row: Excluded) -> Iterator[PathFault]:
    found = f"{row.this} with {row.that}: {row.why}".replace("`", "")
    for path in row.places(line):
        yield path, found, row.instead


def is_excluded(line: Line, row: Excluded) -> bool:
    """Whether a line breaks the rule of a row."""
    try:
        return next(row.places(line), None) is not None
    except NotKnown:
        return False
