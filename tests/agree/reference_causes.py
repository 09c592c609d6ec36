"""The causes of the line cycle from the reference model's own history, after `docs/semantics.md` alone.

The model writes down every move, work and lock with what was there when it came to be; what each event goes back to is
decided here. A chain is a list of pieces of time, each from an event back to the one on which it waited.

    result = run(from_plan(plan, luck, horizon_us))
    causes, window_us, parts = causes_of(result.history, cut_us, horizon_us)
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Final, Protocol

KINDS: Final = (
    "work",
    "repair",
    "clock failure",
    "prepare",
    "clear",
    "done handshake",
    "start handshake",
    "settling",
    "reaction",
    "exchange move",
    "travel",
    "transfer",
)
GENERAL_KINDS: Final = (*KINDS, "changeover", "operator", "outside", "break")
CLOCK: Final = "clock"


@dataclass(frozen=True)
class Piece:
    """A piece of the chain, from where the chain is back to `begin_us`."""

    kind: str
    place: str
    begin_us: int


class Event(Protocol):
    """An event of the chain: when it was, and over which pieces it goes back to which event; None is time zero."""

    @property
    def at_us(self) -> int:
        """When it was. [µs]"""

    def back(self) -> tuple[list[Piece], Event | None]:
        """The pieces, latest first, and the event at the beginning of the last of them."""


# ---- what the model writes down ----


@dataclass(frozen=True)
class Down:
    """A repair of a station, from the failure to its end; `of` is the sort of failure. [µs]"""

    begin_us: int
    end_us: int
    of: str


@dataclass(frozen=True, eq=False)
class Ready:
    """A carrier became ready: by its arrival, by the end of a work, or on the transfer that it is aboard of.

    `move` is the one by which it came, None at time zero. `waits` are those for a release that ended later than clear.
    """

    at_us: int
    move: Move | None
    work: Work | None = None
    transfer: str | None = None
    waits: tuple[Wait, ...] = ()


@dataclass(frozen=True)
class Wait:
    """A wait of one kind at a station, from when."""

    kind: str
    begin_us: int


@dataclass(frozen=True, eq=False)
class Lock:
    """A platform locked at its taking dock, after a ride that it began at `clear_us`.

    It began when the rear of the carrier that left it by `left` was clear; without `left` it was called, and what let
    that be is `called_by`.
    """

    at_us: int
    transfer: str
    clear_us: int
    left: Move | None
    called_by: Event | None = None


@dataclass(eq=False)
class Move:
    """A move, from its commitment to its arrival.

    place : name of the station or transfer that counts as its place
    ends_at_place : whether the stop that it first reserved is a station or aboard
    ready : how the carrier had become ready
    lock : the last lock of the platform of the next place aboard on its way; None if another carrier was between
    leader : the leader's last move then
    opened_by : where neither its own readiness, a lock nor its leader let it commit, the event that opened its way
    leader_committed : where the leader's last commitment is not that of its last move, but its re-aiming
    """

    committed_us: int
    departed_us: int
    arrival_us: int
    follow_us: int
    place: str
    ends_at_place: bool
    ready: Ready
    lock: Lock | None
    leader: Move | None
    opened_by: Event | None = None
    leader_committed: Event | None = None

    @property
    def waited(self) -> bool:
        """Whether its commitment does not go back to its carrier's own readiness."""
        return self.ready.at_us != self.committed_us

    @property
    def kind(self) -> str:
        """The kind of its piece."""
        return "exchange move" if self.waited and self.ends_at_place else "travel"


@dataclass(eq=False)
class Work:
    """A work at a station: the move that brought its carrier (None at time zero), and the work before it there. [µs]

    `waits` are those at the gates before it, the earliest first, where there are any gates; `put_in` tells that its
    carrier came neither by a move nor at time zero.
    """

    station: str
    stop: int
    arrival: Move | None
    arrived_us: int
    settling_us: int
    start_handshake_us: int
    prepare_us: int
    clear_us: int
    done_handshake_us: int
    before: Work | None
    start_us: int
    end_us: int | None = None
    downs: list[Down] = field(default_factory=list)
    waits: tuple[Wait, ...] = ()
    put_in: bool = False

    @property
    def settled_us(self) -> int:
        """When its carrier was settled and the start handshake done."""
        return self.arrived_us + self.settling_us + self.start_handshake_us

    @property
    def tool_ready_us(self) -> int:
        """When the tool was ready for it; 0 for the first."""
        if self.before is None:
            return 0
        return self.before.ended_us + self.clear_us + self.prepare_us

    @property
    def ended_us(self) -> int:
        """Its end, which has come."""
        assert self.end_us is not None
        return self.end_us


@dataclass
class History:
    """The works at whose end a good part was finished."""

    finishes: list[Work] = field(default_factory=list)


# ---- what goes back to what ----


@dataclass(frozen=True)
class WorkEnds:
    """Back over the work, in pieces, and its repairs to its start."""

    work: Work

    @property
    def at_us(self) -> int:
        return self.work.ended_us

    def back(self) -> tuple[list[Piece], Event | None]:
        work, pieces = self.work, []
        for down in reversed(work.downs):
            pieces.append(Piece("work", work.station, down.end_us))
            kind = "clock failure" if down.of == CLOCK else "repair"
            pieces.append(Piece(kind, work.station, down.begin_us))
        pieces.append(Piece("work", work.station, work.start_us))
        return pieces, WorkStarts(work)


@dataclass(frozen=True)
class WorkStarts:
    """To the later of the carrier settled and the tool ready, the carrier if both were at once."""

    work: Work

    @property
    def at_us(self) -> int:
        return self.work.start_us

    def back(self) -> tuple[list[Piece], Event | None]:
        work, place = self.work, self.work.station
        due_us = max(work.settled_us, work.tool_ready_us)
        waits = work.waits or (Wait("clock failure", due_us),)
        pieces = [Piece(wait.kind, place, wait.begin_us) for wait in reversed(waits)]
        if work.settled_us == due_us:
            pieces.append(Piece("start handshake", place, due_us - work.start_handshake_us))
            pieces.append(Piece("settling", place, work.arrived_us))
            if work.put_in:
                return [*pieces, Piece("outside", place, 0)], None
            return pieces, None if work.arrival is None else Arrives(work.arrival)
        assert work.before is not None
        pieces.append(Piece("prepare", place, due_us - work.prepare_us))
        pieces.append(Piece("clear", place, work.before.ended_us))
        return pieces, WorkEnds(work.before)


@dataclass(frozen=True)
class Arrives:
    """A carrier arrives: over its move to its departure."""

    move: Move

    @property
    def at_us(self) -> int:
        return self.move.arrival_us

    def back(self) -> tuple[list[Piece], Event | None]:
        return [Piece(self.move.kind, self.move.place, self.move.departed_us)], Departs(self.move)


@dataclass(frozen=True)
class Departs:
    """To the own commitment, else the leader's last over the reaction, else the leader's last departure over δ."""

    move: Move

    @property
    def at_us(self) -> int:
        return self.move.departed_us

    def back(self) -> tuple[list[Piece], Event | None]:
        move, leader = self.move, self.move.leader
        if move.departed_us == move.committed_us:
            return [], Commits(move)
        assert leader is not None
        committed = move.leader_committed or Commits(leader)
        if move.departed_us == committed.at_us + move.follow_us:
            return [Piece("reaction", move.place, committed.at_us)], committed
        return [Piece(move.kind, move.place, leader.departed_us)], Departs(leader)


@dataclass(frozen=True)
class Commits:
    """To the own readiness, the platform's lock or the leader's commitment: the first that was in this microsecond."""

    move: Move

    @property
    def at_us(self) -> int:
        return self.move.committed_us

    def back(self) -> tuple[list[Piece], Event | None]:
        move = self.move
        if not move.waited:
            return _back_from_ready(move.ready)
        if move.lock is not None and move.lock.at_us == move.committed_us:
            return [], Locks(move.lock)
        if move.opened_by is not None:
            return [], move.opened_by
        assert move.leader is not None
        return [], move.leader_committed or Commits(move.leader)


@dataclass(frozen=True)
class GoesOn:
    """A carrier under way is re-aimed: to what let it be, as with a commitment."""

    at_us: int
    opened_by: Event

    def back(self) -> tuple[list[Piece], Event | None]:
        return [], self.opened_by


@dataclass(frozen=True)
class BecomesReady:
    """A carrier becomes ready, and so another one's way opens."""

    ready: Ready

    @property
    def at_us(self) -> int:
        return self.ready.at_us

    def back(self) -> tuple[list[Piece], Event | None]:
        return _back_from_ready(self.ready)


@dataclass(frozen=True)
class IsTakenOut:
    """A carrier is taken out at a station, and so another one's way opens: to time zero."""

    at_us: int
    station: str

    def back(self) -> tuple[list[Piece], Event | None]:
        return [Piece("outside", self.station, 0)], None


@dataclass(frozen=True)
class NothingBefore:
    """An event of which nothing is known that let it be."""

    at_us: int

    def back(self) -> tuple[list[Piece], Event | None]:
        return [], None


def _back_from_ready(ready: Ready) -> tuple[list[Piece], Event | None]:
    """A carrier is ready: at once with its arrival, after the end of its work, or after the ride."""
    if ready.work is not None:
        work = ready.work
        pieces = [Piece("done handshake", work.station, ready.at_us - work.done_handshake_us)]
        waits = ready.waits or (Wait("clear", work.ended_us),)
        pieces += [Piece(wait.kind, work.station, wait.begin_us) for wait in reversed(waits)]
        return pieces, WorkEnds(work)
    if ready.move is None:
        return [], None
    if ready.transfer is not None:
        return [Piece("transfer", ready.transfer, ready.move.arrival_us)], Arrives(ready.move)
    return [], Arrives(ready.move)


@dataclass(frozen=True)
class Locks:
    """A platform locks at its taking dock: over its ride, and the way of the rear of the carrier that left it."""

    lock: Lock

    @property
    def at_us(self) -> int:
        return self.lock.at_us

    def back(self) -> tuple[list[Piece], Event | None]:
        lock = self.lock
        pieces = [Piece("transfer", lock.transfer, lock.clear_us)]
        if lock.left is None:
            return pieces, lock.called_by
        pieces.append(Piece("exchange move", lock.transfer, lock.left.departed_us))
        return pieces, Departs(lock.left)


# ---- the chain ----


def causes_of(history: History, cut_us: int, horizon_us: int) -> tuple[dict[tuple[str, str], int], int, int]:
    """The causes of the line cycle between the first good part at or after a cut and the last before the horizon.

    Returns
    -------
    causes : (kind, place) -> time of the chain in it, over the whole window; none is 0 [µs]
    window_us : from the finish of the first to that of the last; the causes add up to it, unless the chain ends
        before, at an event of which nothing is known that let it be [µs]
    parts : good parts between, the first not counted; 0, and no causes, where there are under two

    Raises
    ------
    AssertionError   The chain has a hole: an event is not where the pieces that lead back to it end.
    """
    finished = [work for work in history.finishes if cut_us <= work.ended_us < horizon_us]
    if len(finished) < 2:
        return {}, 0, 0
    begin_us = min(work.ended_us for work in finished)
    last = max(finished, key=lambda work: (work.ended_us, work.stop))
    causes: Counter[tuple[str, str]] = Counter()
    now_us = last.ended_us
    event: Event | None = WorkEnds(last)
    while now_us > begin_us and not isinstance(event, NothingBefore):
        assert event is not None, now_us
        assert event.at_us == now_us, (event, now_us)
        pieces, event = event.back()
        for piece in pieces:
            # The chain ends where it first comes to the window's begin; a piece of negative length leads away from it.
            earlier_us = max(piece.begin_us, begin_us)
            causes[piece.kind, piece.place] += now_us - earlier_us
            now_us = earlier_us
            if now_us == begin_us:
                break
    window_us = last.ended_us - begin_us
    assert sum(causes.values()) == last.ended_us - now_us
    return {key: time_us for key, time_us in causes.items() if time_us != 0}, window_us, len(finished) - 1
