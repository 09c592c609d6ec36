"""The track as the line file states it: lanes, rings, transfers, and stretches that admit so many carriers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from linewright.line import fields as f
from linewright.line.document import kind_of
from linewright.line.fields import FileModel, PathFault
from linewright.line.sheet import Curve, TransferKind
from linewright.line.validation import missing

Side = Annotated[Literal["west", "east"], f.one_of("west", "east")]


class Ring(FileModel):
    """A lane closed on itself: two long straights and two short ones, joined by the sheet's curves.

    It starts at the west end of the first long straight, runs east on it and turns to greater ``across``.
    """

    long_m: f.Length = Field(validation_alias="long", description="Each of the two long straights.")
    short_m: f.LengthOrZero = Field(
        default=0.0,
        validation_alias="short",
        description="Each of the two short straights; 0: half turns join the long ones.",
    )


@dataclass(frozen=True)
class RingPiece:
    """A straight or a turn of a ring: travel where it starts and ends, place and heading at its start.

    Parameters
    ----------
    from_m, to_m : travel from the ring's start. [m]
    x_m, y_m : floor distance from the ring's western edge, and across from its first long straight. [m]
    heading_rad : 0 to the east, pi / 2 to greater across
    is_curved : whether it is a turn, of the sheet's radius, to the left
    """

    from_m: float
    to_m: float
    x_m: float
    y_m: float
    heading_rad: float
    is_curved: bool


def ring_pieces(ring: Ring, curve: Curve) -> tuple[RingPiece, ...]:
    """The straights and turns of a ring in travel; a turn is one piece, of however many curved sections it is made.

    Examples
    --------
    >>> curve = Curve(radius_m=1.0, angle_deg=90.0, speed_m_s=1.0)
    >>> [round(one.to_m, 3) for one in ring_pieces(Ring(long_m=2.0), curve)]
    [2.0, 5.142, 7.142, 10.283]
    """
    straights = (ring.long_m, ring.short_m) if ring.short_m > 0.0 else (ring.long_m,)
    turn_rad = math.pi / len(straights)
    pieces: list[RingPiece] = []
    travel_m, x_m, y_m, heading_rad = 0.0, curve.radius_m, 0.0, 0.0
    for straight_m in straights * 2:
        pieces.append(RingPiece(travel_m, travel_m + straight_m, x_m, y_m, heading_rad, False))
        x_m += straight_m * math.cos(heading_rad)
        y_m += straight_m * math.sin(heading_rad)
        travel_m += straight_m
        turn_m = turn_rad * curve.radius_m
        pieces.append(RingPiece(travel_m, travel_m + turn_m, x_m, y_m, heading_rad, True))
        x_m, y_m = _turned(x_m, y_m, heading_rad, turn_rad, curve.radius_m)
        travel_m += turn_m
        heading_rad += turn_rad
    return tuple(pieces)


def ring_length_m(ring: Ring, curve: Curve) -> float:
    """Length of a ring's centre line: its straights and one full circle of the curve's radius. [m]

    Examples
    --------
    >>> round(ring_length_m(Ring(long_m=2.0, short_m=0.5), Curve(radius_m=1.0, angle_deg=90.0, speed_m_s=1.0)), 3)
    11.283
    """
    return 2.0 * (ring.long_m + ring.short_m) + 2.0 * math.pi * curve.radius_m


def ring_point_m(ring: Ring, curve: Curve, along_m: float) -> tuple[float, float]:
    """Place of a point of a ring: floor distance from its western edge, across from its first long straight. [m]

    Parameters
    ----------
    ring, curve : the ring and the curve of its sheet
    along_m : travel from the ring's start, 0 to under its length. [m]

    Examples
    --------
    >>> ring_point_m(Ring(long_m=2.0), Curve(radius_m=1.0, angle_deg=180.0, speed_m_s=1.0), 0.5)
    (1.5, 0.0)
    """
    piece = next(one for one in reversed(ring_pieces(ring, curve)) if one.from_m <= along_m)
    on_m = along_m - piece.from_m
    if piece.is_curved:
        return _turned(piece.x_m, piece.y_m, piece.heading_rad, on_m / curve.radius_m, curve.radius_m)
    return piece.x_m + on_m * math.cos(piece.heading_rad), piece.y_m + on_m * math.sin(piece.heading_rad)


def _turned(x_m: float, y_m: float, heading_rad: float, turn_rad: float, radius_m: float) -> tuple[float, float]:
    """Where a left turn leads."""
    after_rad = heading_rad + turn_rad
    return (
        x_m + radius_m * (math.sin(after_rad) - math.sin(heading_rad)),
        y_m + radius_m * (math.cos(heading_rad) - math.cos(after_rad)),
    )


class Lane(FileModel):
    """A piece of track on which carriers do not pass each other. Travel starts at its upstream end.

    A straight lane states length, from and to; a ring states ``ring`` in their place. The length of a ring needs the
    sheet's curve: it is known once the lane belongs to a line.
    """

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    length_m: f.Length = Field(default_factory=f.not_stated, validation_alias="length")
    from_: Side | None = Field(default=None, validation_alias="from")
    to: Side | None = None
    ring: Ring | None = Field(default=None, description="In place of length, from and to: a lane closed on itself.")
    level_m: f.Position = Field(
        default=0.0, validation_alias="level", description="Height over the first deck, negative below."
    )
    across_m: f.Position = Field(default=0.0, validation_alias="across", description="Place to the side.")
    west_end_m: f.Position = Field(
        default=0.0, validation_alias="west_end", description="Floor distance of the lane's west end."
    )
    two_way: f.YesNo = Field(default=False, description="Carriers go both ways, not at once.")
    moves: Annotated[Literal["alone", "together"], f.one_of("alone", "together")] = Field(
        default="alone", description="together: all carriers of the lane move in one instant, as a walking beam does."
    )

    @model_validator(mode="after")
    def _straight_or_ring(self, info: ValidationInfo) -> Self:
        stated = {"from": self.from_ is not None, "to": self.to is not None}
        # In Python a ring that has belonged to a line knows its length.
        stated["length"] = f.is_from_file(info) and "length_m" in self.model_fields_set
        if self.ring is not None and any(stated.values()):
            beside: list[PathFault] = [
                ((key,), f"{key} stands beside ring", "leave it out: a ring has long and short, and no ends")
                for key, there in stated.items()
                if there
            ]
            raise f.faults(beside)
        return self


def _lanes_of(value: Any) -> Any:
    """One lane, or a list of lanes."""
    if not isinstance(value, list | tuple):
        return (value,)
    if not value:
        raise f.fault("an empty list stands here", "write a lane, or a list of lanes")
    return value


LaneNames = Annotated[tuple[f.Name, ...], BeforeValidator(_lanes_of)]


class Transfer(FileModel):
    """A lift or a cross transfer: takes carriers from the ends of lanes, gives them to the starts of others."""

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    kind: TransferKind
    takes_all: LaneNames = Field(validation_alias="takes", description="A lane, or several by priority.")
    gives_all: LaneNames = Field(validation_alias="gives", description="A lane, or several.")
    places: f.PlacesAboard = Field(default=1, description="Carriers aboard at once.")
    returns: Annotated[Literal["at-once", "when-called"], f.one_of("at-once", "when-called")] = Field(
        default="at-once", description="When the empty platform goes back to where it takes."
    )

    @property
    def takes(self) -> str:
        """The lane that it takes from, the first named of several."""
        return self.takes_all[0]

    @property
    def gives(self) -> str:
        """The lane that it gives to, the first named of several."""
        return self.gives_all[0]

    @property
    def lanes(self) -> tuple[str, ...]:
        """Its docks: the lanes it takes from, then those it gives to."""
        return (*self.takes_all, *self.gives_all)


LONGEST_NAME: Final = 40
"""Of a name, as in `fields`: what is longer is not shown as one. [signs]"""


def _whole(value: Any, info: ValidationInfo) -> Any:
    """A list of names; a file that lists none leaves the key out."""
    if not isinstance(value, list | tuple):
        bare = isinstance(value, str) and value.isprintable() and len(value) <= LONGEST_NAME
        allowed = f"write it as a list: [{value}]" if bare else "write a list of names"
        raise f.fault(f"{kind_of(value)} stands here", allowed)
    if not value and f.is_from_file(info):
        raise f.fault("an empty list stands here", "name one at least, or leave the key out")
    return value


WholeNames = Annotated[tuple[f.Name, ...], BeforeValidator(_whole)]

_ONE_LANE: Final = ("lane", "from", "to")
_WHOLE: Final = ("lanes", "transfers")


class Stretch(FileModel):
    """What admits at most so many carriers: a stretch of one lane, or whole lanes and transfers taken together.

    A stretch of one lane states lane, from and to; whole lanes and transfers are listed in their place.
    """

    name: f.Name = Field(validation_alias=f.NAME_KEY)
    lane: f.Name | None = Field(default=None, description="The one lane on which it lies.")
    from_m: f.Position | None = Field(
        default=None, validation_alias="from", description="Floor distance; of a ring travel from its start."
    )
    to_m: f.Position | None = Field(
        default=None, validation_alias="to", description="Floor distance; of a ring travel from its start."
    )
    lanes: WholeNames = Field(default=(), description="In place of lane, from and to: whole lanes.")
    transfers: WholeNames = Field(default=(), description="Transfers with the places aboard, alone or with lanes.")
    most: f.Count = Field(description="Carriers on it at a time.")

    @model_validator(mode="after")
    def _one_form(self, info: ValidationInfo) -> Self:
        found = [] if f.is_from_file(info) else list(stretch_form_faults(self))  # of a file told with all its others
        if found:
            raise f.faults(found)
        return self


def stretch_form_faults(stretch: Stretch) -> Iterator[PathFault]:
    """A stretch is of one lane, from and to, or of whole lanes and transfers; paths are of its own keys."""
    values = (stretch.lane, stretch.from_m, stretch.to_m)
    of_one = [key for key, value in zip(_ONE_LANE, values, strict=True) if value is not None]
    whole = [key for key in _WHOLE if getattr(stretch, key)]
    if whole and of_one:
        beside = " and ".join(of_one) if len(of_one) < 3 else "lane, from and to"
        for key in whole:
            yield (key,), f"{key} stands beside {beside}", "leave it out, or leave out lane, from and to"
    elif not whole and not of_one:
        allowed = "add lane, from and to for a stretch of one lane, or else lanes, transfers or both"
        yield (), "nothing says where it counts", allowed
    elif not whole:
        for key in _ONE_LANE:
            if key not in of_one:
                yield (), missing(key), "add it; a stretch of one lane has lane, from and to"


class CarrierChange(FileModel):
    """Carriers taken out or put in at a station of the first step, from a time on."""

    time_s: f.DurationOrZero = Field(validation_alias="time", description="From the start.")
    station: f.Name
    out: f.Count | None = Field(default=None, description="How many are taken out.")
    in_: f.Count | None = Field(default=None, validation_alias="in", description="How many are put in.")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.out is None) == (self.in_ is None):
            found = "neither out nor in stands here" if self.out is None else "out and in stand at one change"
            raise f.fault(found, "write exactly one of the two, such as out: 2")
        return self
