"""Starting patterns: commented line files to begin from."""

from __future__ import annotations

from pathlib import Path
from typing import Final

PATTERNS: Final = ("two-deck", "two-lane", "ring", "to-and-fro", "branch")
_STARTS: Final = Path(__file__).parent / "starts"


def pattern_text(name: str) -> str:
    """The commented line file of a pattern.

    Parameters
    ----------
    name : one of ``PATTERNS``

    Raises
    ------
    ValueError   There is no such pattern.

    Examples
    --------
    >>> "carriers:" in pattern_text("two-deck")
    True
    """
    if name not in PATTERNS:
        raise ValueError(f"no pattern {name!r}; there are {', '.join(PATTERNS)}")
    return (_STARTS / f"{name}.yaml").read_text(encoding="utf-8")
