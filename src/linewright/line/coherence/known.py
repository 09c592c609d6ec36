"""What a check does where a value of a faulty file cannot be read: it says nothing, and the others go on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, Protocol, TypeVar

from linewright.line.fields import PathFault

SAME_PLACE_M: Final = 1e-6


class NotKnown(Exception):
    """Raised by a part of a faulty line that is asked for what cannot be read."""


def as_far_as_known(found: Iterable[PathFault]) -> Iterator[PathFault]:
    """The faults that a check finds before it needs what is not known."""
    try:
        yield from found
    except NotKnown:
        return


class Named(Protocol):
    """Anything with a name."""

    @property
    def name(self) -> str:
        """Its name."""
        ...


_Item = TypeVar("_Item", bound=Named)


def named(items: Iterable[_Item], name: str) -> _Item | None:
    """The item of that name, if there is one."""
    return next((item for item in items if item.name == name), None)
