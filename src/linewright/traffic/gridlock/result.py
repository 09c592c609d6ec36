"""What the proof of a line's traffic says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Outcome = Literal["never locks", "can lock", "undecided"]

NEVER_LOCKS: Final = "never locks"
CAN_LOCK: Final = "can lock"
UNDECIDED: Final = "undecided"

Basis = Literal["room", "states", "jam", "searched"]


@dataclass(frozen=True)
class Standing:
    """One carrier at rest, in a jam or where a way into one begins.

    Parameters
    ----------
    carrier : its number
    stop : rank of the stop on which it stands
    step : number of its next step
    worked : False: it stands at a station of that step and is not yet worked on
    carries : ``nothing``, ``a part``, ``a flagged part``, ``parts, some flagged``; with variants ``a part of red``
    held_by : number of the carrier that holds it; None where nobody does
    wants : rank of the next stop that it could take if nobody held it; None at the gate of run-out
    reason : why it is held: ``way`` (somebody stands between), ``stretch`` (it is full), ``platform`` (it is away),
        ``direction`` (of a two-way lane), ``together`` (its lane moves together and somebody waits there at the gate of
        run-out), ``run-out`` (waits for parts of another variant); empty where it is not
    """

    carrier: int
    stop: int
    step: int
    worked: bool
    carries: str
    held_by: int | None = None
    wants: int | None = None
    reason: Literal["", "way", "stretch", "platform", "direction", "together", "run-out"] = ""


@dataclass(frozen=True)
class WayStep:
    """One step of the way into a jam, as the kernel made it.

    Parameters
    ----------
    kind : ``moves``, ``work ends``, ``taken out`` or ``put in``
    time_us : when the move departs or the work ends, in the replay; of a carrier taken out or put in that of its last
        or first step. [us]
    carrier : its number
    start, stop : ranks of the stop left and the stop reached; the same where it does not move
    step : number of its next step afterwards
    carries : see `Standing`, afterwards
    """

    kind: Literal["moves", "work ends", "taken out", "put in"]
    time_us: int
    carrier: int
    start: int
    stop: int
    step: int
    carries: str


@dataclass(frozen=True)
class Jam:
    """Carriers that can never move again.

    Parameters
    ----------
    ring : those who hold each other: each is held by the next, the last by the first
    others : who are held by these, directly or not
    free : numbers of the carriers that can still move
    stations : numbers of the stations that never work again
    """

    ring: tuple[Standing, ...]
    others: tuple[Standing, ...]
    free: tuple[int, ...]
    stations: tuple[int, ...]


@dataclass(frozen=True)
class Answer:
    """The answer to one question: from the planned start, or from every placement.

    Parameters
    ----------
    outcome : ``never locks``, ``can lock`` or ``undecided``
    basis : ``room`` (too few carriers for a ring), ``states`` (all states gone through), ``jam`` (it was shown) or
        ``searched`` (not to the end)
    least_ring : the fewest carriers that a ring of carriers holding each other can have, a lower bound; None where no
        number of carriers makes one, or the track is two-way
    states : states that were looked at
    why : one sentence that says what the outcome rests on, or what was searched
    start : where everybody stands before the first step of the way; empty without a jam
    way : the steps into the jam; empty where it stands at once
    loads : with run-out the variants of the loads that are taken on the way, in their order: a stretch of the sequence
    shortest : no way with fewer ends of work exists, all work ends being apart
    jam : None unless the outcome is ``can lock``
    """

    outcome: Outcome
    basis: Basis
    least_ring: int | None
    states: int
    why: str
    start: tuple[Standing, ...] = ()
    way: tuple[WayStep, ...] = ()
    loads: tuple[str, ...] = ()
    shortest: bool = False
    jam: Jam | None = None


@dataclass(frozen=True)
class Cure:
    """A rule that keeps the line from locking, tried and proven.

    Parameters
    ----------
    lanes, transfers : whole lanes and transfers that it counts, by name; of a stretch of one lane that lane
    from_m, to_m : the stretch, floor distance (of a ring along it); None where whole lanes are meant. [m]
    most : carriers that it admits
    from_any_placement : it cures that question too
    """

    lanes: tuple[str, ...]
    transfers: tuple[str, ...]
    from_m: float | None
    to_m: float | None
    most: int
    from_any_placement: bool


@dataclass(frozen=True)
class GridlockResult:
    """Whether a line can lock up.

    Parameters
    ----------
    carriers : K; with carriers put in, the most at a time
    from_start : from the planned start
    from_any_placement : from every placement and order of the carriers, as after a stop
    largest_count : the largest number of carriers that never locks from any placement, None where any number that has
        room never does; 0 where a single carrier can
    largest_from_start : the same from the planned start, as far as it was proven
    room : carriers that have room on the line at time zero
    cure : the smallest admission that cures it; None where none is needed or none was found
    cures_tried : how many admissions were tried
    """

    carriers: int
    from_start: Answer
    from_any_placement: Answer
    largest_count: int | None
    largest_from_start: int | None
    room: int
    cure: Cure | None = None
    cures_tried: int = 0

    @property
    def outcome(self) -> Outcome:
        """The outcome from the planned start."""
        return self.from_start.outcome
