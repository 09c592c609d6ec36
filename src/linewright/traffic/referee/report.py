"""What the referee says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

ViolationKind = Literal["log", "limits", "gap", "witness", "stop", "transfer", "reaction"]

KINDS: Final[tuple[ViolationKind, ...]] = ("log", "limits", "gap", "witness", "stop", "transfer", "reaction")
MOST_LISTED: Final = 50
"""Violations of one kind that are listed; all are counted."""


@dataclass(frozen=True)
class Violation:
    """One thing in the log that the rules do not allow.

    Parameters
    ----------
    kind : ``log`` (moves do not follow on one another, or take another time than their profile), ``limits``, ``gap``,
        ``witness`` (the grid contradicts the exact least distance), ``stop`` (two at one), ``transfer``, ``reaction``
    time_us : when. [us]
    carriers : which, the one behind first
    what : in words
    value, limit, unit : in SI; None where there is no number
    """

    kind: ViolationKind
    time_us: int
    carriers: tuple[int, ...]
    what: str
    value: float | None
    limit: float | None
    unit: str


@dataclass(frozen=True)
class LeastGap:
    """Where two carriers that follow each other come nearest.

    Parameters
    ----------
    distance_m : between their centres. [m]
    spare_m : that less the least pitch. [m]
    time_us : when. [us]
    follower, leader : carriers
    lane : its name
    travel_m : of the follower, on the lane from its start. [m]
    """

    distance_m: float
    spare_m: float
    time_us: float
    follower: int
    leader: int
    lane: str
    travel_m: float


@dataclass(frozen=True)
class GreatestUse:
    """How far the moves use what they may.

    Parameters
    ----------
    speed_m_s, acceleration_m_s2, jerk_m_s3 : the greatest of all moves
    share : of a limit, the greatest of all moves and limits; 1 where a move uses all of it
    limit : that limit in words
    """

    speed_m_s: float
    acceleration_m_s2: float
    jerk_m_s3: float
    share: float
    limit: str


@dataclass(frozen=True)
class Looked:
    """How much was looked at: nothing of it may be nothing without being said.

    Parameters
    ----------
    moves, legs : rows of the log, and different moves among them
    pairs : stretches of time in which one carrier was the next behind another
    stretches, exact : stretches between two changes of either's state; distinct ones with both moving, of which the
        least distance was found anew
    grid, witnessed : samples of the 1 ms grid; of the exact ones those that it was laid over: the nearest, and some
        at random
    stops : stays at stops
    crossings : moves to and from a platform
    reactions : departures of which the log bounds the earliest instant; of these `reactions_exact` by a leader whose
        commitment the log tells exactly
    unjudged : departures behind another of which it does not
    straight_on : moves aboard behind one that had left straight on, over a platform that need not ride
    """

    moves: int
    legs: int
    pairs: int
    stretches: int
    exact: int
    grid: int
    stops: int
    crossings: int
    reactions: int
    reactions_exact: int
    unjudged: int
    straight_on: int = 0
    witnessed: int = 0


@dataclass(frozen=True)
class RefereeReport:
    """The judgement of one log.

    Parameters
    ----------
    least_gap : None where no carrier ever follows another
    grid_spare_m : the least of the 1 ms grid, less the least pitch; None as above. [m]
    use : None without a move
    least_reaction_s : least time from the commitment of a leader, known exactly, to the departure of the one that
        needed its stop; None where there is none. [s]
    most_aboard : for each transfer the most carriers aboard at once, bound for it or there
    looked : how much was looked at
    violations : of each kind the first so many
    violated : for each kind how many in all
    until_us : up to when it was judged. [us]
    """

    least_gap: LeastGap | None
    grid_spare_m: float | None
    use: GreatestUse | None
    least_reaction_s: float | None
    most_aboard: tuple[tuple[str, int], ...]
    looked: Looked
    violations: tuple[Violation, ...]
    violated: tuple[tuple[ViolationKind, int], ...]
    until_us: int

    @property
    def holds(self) -> bool:
        """Whether nothing was found."""
        return not self.violations

    def count(self, *kinds: ViolationKind) -> int:
        """How many violations of these kinds."""
        return sum(number for kind, number in self.violated if kind in kinds)


def listed(
    found: list[Violation],
) -> tuple[tuple[Violation, ...], tuple[tuple[ViolationKind, int], ...]]:
    """The first of each kind by time, and how many of each there are."""
    of_kind: dict[ViolationKind, list[Violation]] = {kind: [] for kind in KINDS}
    for one in sorted(found, key=lambda v: (v.time_us, v.carriers, v.what)):
        of_kind[one.kind].append(one)
    shown = tuple(one for kind in KINDS for one in of_kind[kind][:MOST_LISTED])
    return shown, tuple((kind, len(of_kind[kind])) for kind in KINDS)
