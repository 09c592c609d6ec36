"""What a traffic plan holds beyond the plain loop: the track in general, operators, breaks, outside machines, nests,
variants, rework, and the rules of traffic that a line may add.

Stops, stations, steps, lanes, transfers and variants are numbers; times are whole microseconds; see docs/semantics.md,
"Beyond the plain loop". Everything here has a default that means "there is none".
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from linewright.traffic.plan import Law

Ints = NDArray[np.int64]

FEED: Final = 0
TAKE_AWAY: Final = 1

NO_WAY: Final = -1


@dataclass(frozen=True, eq=False)
class Track:
    """How stops follow one another where a loop's ranks do not say it, and the legs from stop to stop. N stops, L legs.

    Parameters
    ----------
    lanes : number of lanes
    stop_lane : int64[N]     The lane of each stop; of a place aboard the first that its transfer takes from
    onward : int64[N]        The stop that follows straight on (at a transfer in the first lane it gives to); NO_WAY at
        the track's end
    way : int64[N, N]        The next stop on the way from stop i to stop j; way[i, i] leads once round, NO_WAY if
        nothing does
    way_m : float64[N, N]    Length of that way; infinite where there is none. [m]
    leg : int64[N, N]        Number of the leg from stop i to stop j, NO_LEG where carriers make none
    leg_us : int64[2 L]      How long it takes, at 2 leg + load class; NO_LEG where that class makes none. [us]
    rear_us : int64[2 L]     From departure from a place aboard until the rear has left the platform, else 0. [us]
    two_way : whether carriers go both ways; only where there is one lane and no transfer
    against : bool[N, N]     Whether the leg from i to j runs against the lane's stated direction
    """

    lanes: int
    stop_lane: Ints
    onward: Ints
    way: Ints
    way_m: NDArray[np.float64]
    leg: Ints
    leg_us: Ints
    rear_us: Ints
    two_way: bool = False
    against: NDArray[np.bool_] | None = None


@dataclass(frozen=True)
class Platform:
    """A transfer in general. Its docks are the lanes it takes from, by priority, then those it gives to.

    Parameters
    ----------
    aboard : its places, ascending in travel
    takes, gives : numbers of lanes
    ride_us : ride_us[a][b] from dock a to dock b, unlocking to locked; 0 between docks at the same place. [us]
    at_once : returns at once; False: stays until it is called
    """

    aboard: tuple[int, ...]
    takes: tuple[int, ...]
    gives: tuple[int, ...]
    ride_us: tuple[tuple[int, ...], ...]
    at_once: bool = True


@dataclass(frozen=True)
class Pool:
    """Operators who share stations.

    Parameters
    ----------
    name : of the pool
    operators : how many
    stations : by priority; the operators stand at the first at time zero
    walk_us : walk_us[i][j] from stations[i] to stations[j]. [us]
    """

    name: str
    operators: int
    stations: tuple[int, ...]
    walk_us: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Break:
    """A stretch of time, repeated each shift, in which stations start no work.

    Parameters
    ----------
    stations : their numbers
    begin_us, length_us : from the shift's begin; how long. [us]
    shift_us : after which it comes again. [us]
    """

    stations: tuple[int, ...]
    begin_us: int
    length_us: int
    shift_us: int


@dataclass(frozen=True)
class Outside:
    """A machine outside the line, with its buffer: it feeds a station or takes away from it.

    Parameters
    ----------
    station : its number
    kind : FEED or TAKE_AWAY
    time : of one part
    capacity, start : parts that the buffer holds at most, and at time zero
    failures : (every, repair) of each kind, all of running
    """

    station: int
    kind: int
    time: Law
    capacity: int
    start: int
    failures: tuple[tuple[Law, Law], ...] = ()


@dataclass(frozen=True)
class Variant:
    """A variant of the product.

    Parameters
    ----------
    name : of the variant
    share : of all loads (by shares) or 0
    skips : steps that it skips
    work : (station, law) where its time is not the station's
    """

    name: str
    share: float
    skips: tuple[int, ...] = ()
    work: tuple[tuple[int, Law], ...] = ()


@dataclass(frozen=True)
class Changeover:
    """Time that a station takes to change over: us[i][j] from variant i to variant j, 0 on the diagonal. [us]"""

    station: int
    us: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class FixtureSet:
    """Carriers whose fixture takes certain variants: how many carriers, which variants."""

    name: str
    carriers: int
    variants: tuple[int, ...]


@dataclass(frozen=True)
class Rework:
    """Parts that a station sends back: the chance, the step they go to, how often at most."""

    station: int
    share: float
    step: int
    at_most: int


@dataclass(frozen=True)
class Stretch:
    """Stops on which at most so many carriers are at a time."""

    name: str
    stops: tuple[int, ...]
    most: int


@dataclass(frozen=True)
class CarrierChange:
    """Carriers taken out (count < 0) or put in (count > 0) at a station of the first step from a time on. [us]"""

    station: int
    at_us: int
    count: int


@dataclass(frozen=True)
class Placement:
    """Where carriers and parts are when a run does not begin with an empty line. One entry a carrier.

    Parameters
    ----------
    stops : the stop each rests on, all different
    steps : its next step; of a carrier that stands at a station of that step the work there is not yet done
    loads : the number of its load, -1 for none
    present, flagged : bit i for nest i: a part is aboard; it is flagged
    exits : the step of the exit for which its flagged parts are meant, -1 for none
    visits : reworks so far
    next_load : the number that the next load gets
    """

    stops: tuple[int, ...]
    steps: tuple[int, ...]
    loads: tuple[int, ...]
    present: tuple[int, ...]
    flagged: tuple[int, ...]
    exits: tuple[int, ...]
    visits: tuple[int, ...]
    next_load: int


@dataclass(frozen=True)
class General:
    """All that a plan has beyond the plain loop.

    Parameters
    ----------
    track, platforms : only where the track is no plain loop of lanes and transfers; else None and ()
    pools : of operators; manual : bool a station, an operator works there; release_us : of each station, -1 for none
    breaks : in the order in which they are written, run-down last
    outside : feeds and take-aways, by station, feed first
    nests : of a carrier; each_part : bool a station, its draws are one a part
    misses : share a station (of the first step)
    exits : of each station the step to which it sends flagged parts, -1 for the next exit in the route
    variants, sequence, run_out, changeovers, fixture_sets : see docs/semantics.md; sequence names variants
    rework : the stations that send back; rework_alone : the steps for rework alone
    together : lanes that index as one; admission : stretches; going_on : see docs/semantics.md
    differs_us : int32[2 L, 2 L] with going_on: from departure until the longer profile (column) first differs from the
        one under way (row), NO_BOUND where the two do not begin at one stop. [us]
    carrier_changes : in the order of their times
    start : None for time zero as in docs/semantics.md
    """

    track: Track | None = None
    platforms: tuple[Platform, ...] = ()
    pools: tuple[Pool, ...] = ()
    manual: tuple[bool, ...] = ()
    release_us: tuple[int, ...] = ()
    breaks: tuple[Break, ...] = ()
    outside: tuple[Outside, ...] = ()
    nests: int = 1
    each_part: tuple[bool, ...] = ()
    misses: tuple[float, ...] = ()
    exits: tuple[int, ...] = ()
    variants: tuple[Variant, ...] = ()
    sequence: tuple[int, ...] = ()
    run_out: bool = False
    changeovers: tuple[Changeover, ...] = ()
    fixture_sets: tuple[FixtureSet, ...] = ()
    rework: tuple[Rework, ...] = ()
    rework_alone: tuple[int, ...] = ()
    together: tuple[int, ...] = ()
    admission: tuple[Stretch, ...] = ()
    going_on: bool = False
    differs_us: NDArray[np.int32] | None = field(default=None, compare=False)
    carrier_changes: tuple[CarrierChange, ...] = ()
    start: Placement | None = None

    @property
    def is_plain(self) -> bool:
        """Whether there is nothing beyond the plain loop, so that the fast event loop may run the plan."""
        used = (
            self.platforms, self.pools, self.breaks, self.outside, self.variants, self.rework, self.together,
            self.admission, self.carrier_changes,
        )  # fmt: skip
        flags = (self.track is not None, self.nests > 1, self.going_on, self.start is not None, any(self.misses))
        return not any(used) and not any(flags) and all(step < 0 for step in self.exits)


@functools.cache
def deal(carriers: tuple[int, ...]) -> tuple[int, ...]:
    """The fixture set of each carrier, dealt in turn by largest remainder.

    Examples
    --------
    >>> deal((3, 1)), deal(())
    ((0, 0, 1, 0), ())
    """
    total, dealt = sum(carriers), [0] * len(carriers)
    order = []
    for c in range(total):
        chosen = max(range(len(carriers)), key=lambda s: (carriers[s] * (c + 1) - dealt[s] * total, -s))
        dealt[chosen] += 1
        order.append(chosen)
    return tuple(order)
