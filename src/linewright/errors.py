"""The errors a user sees. Everything here carries a place, so that a message can be followed to a line and a column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, order=True)
class Place:
    """Where something stands: a file, and in it a line and a column, both counted from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    def as_dict(self) -> dict[str, Any]:
        """The place as it stands in JSON: file, line, column."""
        return {"file": self.file, "line": self.line, "column": self.column}


@dataclass(frozen=True)
class Fault:
    """One fault of a user's file: where it is, what stood there and what may stand there."""

    place: Place
    found: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.place}: {self.found}; {self.allowed}"

    def as_dict(self) -> dict[str, Any]:
        """The fault as it stands in JSON: file, line, column, found, allowed."""
        return {**self.place.as_dict(), "found": self.found, "allowed": self.allowed}


class LinewrightError(Exception):
    """Something the user can mend. Its text is meant for a person; the command line prints it and exits with 2."""


class LineFileError(LinewrightError):
    """All faults of a line file or a conveyor sheet at once, in the order in which they stand there."""

    def __init__(self, faults: tuple[Fault, ...] | list[Fault]) -> None:
        if not faults:
            raise ValueError("a LineFileError needs at least one fault")
        self.faults = tuple(sorted(faults, key=lambda fault: fault.place))
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.faults,)


class SimulationError(LinewrightError):
    """A run that cannot be made as asked (too long, too many carriers for the event keys)."""
