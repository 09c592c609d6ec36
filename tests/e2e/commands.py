"""A command of the program, run in this process as if from a shell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str


Call = Callable[..., Done]
